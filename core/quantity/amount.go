package quantity

import (
	"fmt"
	"strings"

	"github.com/cockroachdb/apd/v3"
)

// Amount is a number with its unit. The zero value is an absent amount.
// Amounts compare with == as entered; see Cmp for their values.
type Amount struct {
	Value Decimal
	Unit  Unit
}

// DimensionError says that two units do not measure the same thing.
type DimensionError struct{ Have, Want Unit }

func (e *DimensionError) Error() string {
	return fmt.Sprintf("%s (%s) and %s (%s) do not mix", e.Have, e.Have.Dimension(), e.Want, e.Want.Dimension())
}

// Parse reads the form that is stored: a decimal, one space, a UCUM code, as
// in "120 mm[Hg]".
func Parse(s string) (Amount, error) {
	n, code, ok := strings.Cut(s, " ")
	if !ok {
		return Amount{}, fmt.Errorf("amount %q is not a number, a space and a unit", s)
	}
	d, err := ParseDecimal(n)
	if err != nil {
		return Amount{}, err
	}
	u, err := UnitOf(code)
	if err != nil {
		return Amount{}, err
	}
	return Amount{d, u}, nil
}

// MustParse is Parse for amounts that stand in the program.
func MustParse(s string) Amount {
	a, err := Parse(s)
	if err != nil {
		panic("quantity: " + err.Error())
	}
	return a
}

// String gives the stored form; empty when absent.
func (a Amount) String() string {
	if a.IsZero() {
		return ""
	}
	return a.Value.text + " " + a.Unit.code
}

// IsZero reports that there is no amount. An amount of 0 is there.
func (a Amount) IsZero() bool { return a == Amount{} }

// MarshalText gives the stored form.
func (a Amount) MarshalText() ([]byte, error) { return []byte(a.String()), nil }

// UnmarshalText reads the stored form; an empty text is refused, since an
// absent amount is left out.
func (a *Amount) UnmarshalText(b []byte) error {
	v, err := Parse(string(b))
	if err == nil {
		*a = v
	}
	return err
}

// In gives the amount in another unit of its dimension. It is exact where the
// factor is a finite decimal, to 34 digits otherwise, and then holds more
// digits than Parse accepts: Round before storing.
func (a Amount) In(u Unit) (Amount, error) {
	if a.Unit == u {
		return a, nil
	}
	v, err := a.base(u)
	if err != nil {
		return Amount{}, err
	}
	to := table[u.code]
	// value = base x per / factor - offset
	var r apd.Decimal
	if _, err := context.Mul(&r, v, number(to.per, "1")); err != nil {
		return Amount{}, fmt.Errorf("%s in %s: %w", a, u, err)
	}
	if _, err := context.Quo(&r, &r, number(to.factor, "1")); err != nil {
		return Amount{}, fmt.Errorf("%s in %s: %w", a, u, err)
	}
	if _, err := context.Sub(&r, &r, number(to.offset, "0")); err != nil {
		return Amount{}, fmt.Errorf("%s in %s: %w", a, u, err)
	}
	return Amount{fromAPD(&r), u}, nil
}

// base gives the value in the base of the dimension that it shares with u.
func (a Amount) base(u Unit) (*apd.Decimal, error) {
	if a.Unit.Dimension() != u.Dimension() || a.Unit.code == "" {
		return nil, &DimensionError{a.Unit, u}
	}
	from := table[a.Unit.code]
	var r apd.Decimal
	if _, err := context.Add(&r, a.Value.apd(), number(from.offset, "0")); err != nil {
		return nil, err
	}
	if _, err := context.Mul(&r, &r, number(from.factor, "1")); err != nil {
		return nil, err
	}
	if _, err := context.Quo(&r, &r, number(from.per, "1")); err != nil {
		return nil, err
	}
	return &r, nil
}

// Cmp compares two amounts of one dimension: -1, 0 or 1. A *DimensionError
// names both units where they do not mix.
func (a Amount) Cmp(b Amount) (int, error) {
	if a.Unit == b.Unit && a.Unit.code != "" {
		return a.Value.Cmp(b.Value), nil
	}
	x, err := a.base(b.Unit)
	if err != nil {
		return 0, err
	}
	y, err := b.base(a.Unit)
	if err != nil {
		return 0, err
	}
	return x.Cmp(y), nil
}

// Between reports that low <= a <= high.
func (a Amount) Between(low, high Amount) (bool, error) {
	l, err := a.Cmp(low)
	if err != nil {
		return false, err
	}
	h, err := a.Cmp(high)
	return l >= 0 && h <= 0, err
}

// Add gives the sum in a's unit. Temperatures do not add.
func (a Amount) Add(b Amount) (Amount, error) {
	c, err := b.In(a.Unit)
	if err != nil {
		return Amount{}, err
	}
	if a.Unit.Dimension() == Temperature {
		return Amount{}, fmt.Errorf("temperatures do not add: %s and %s", a, b)
	}
	var r apd.Decimal
	if _, err := context.Add(&r, a.Value.apd(), c.Value.apd()); err != nil {
		return Amount{}, err
	}
	return Amount{fromAPD(&r), a.Unit}, nil
}

// Float64 gives the value in u, for drawing and models only.
func (a Amount) Float64(u Unit) (float64, error) {
	c, err := a.In(u)
	if err != nil {
		return 0, err
	}
	return c.Value.Float64(), nil
}

// Round gives the amount with at most so many decimals, half to even.
func (a Amount) Round(decimals int) Amount {
	a.Value = a.Value.Round(decimals)
	return a
}

// Print gives number and unit as they are safely written: 0.5, never .5;
// 5, never 5.0; micrograms spelled out; no thousands separator. The decimal
// mark is a comma where asked.
func (a Amount) Print(comma bool) (number, unit string) {
	return Print(a.Value, comma), a.Unit.Symbol()
}

// Print writes a number safely; see Amount.Print. Source: Institute for Safe
// Medication Practices, List of Error-Prone Abbreviations, Symbols, and Dose
// Designations (no trailing zero, always a leading zero).
func Print(d Decimal, comma bool) string {
	if d.IsZero() {
		return ""
	}
	s := fromAPD(d.apd()).text
	if comma {
		s = strings.Replace(s, ".", ",", 1)
	}
	return s
}
