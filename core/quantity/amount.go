package quantity

import (
	"errors"
	"fmt"
	"strings"

	"github.com/cockroachdb/apd/v3"
)

// Amount is a number with its unit, as it was entered: 36.60 Cel is not the
// same entry as 36.6 Cel, so == tells them apart and Cmp does not. The zero
// Amount is absent: nobody observed anything.
type Amount struct {
	Value Decimal
	Unit  Unit
}

var (
	// ErrNotAmount says that a text is not an amount in wire form.
	ErrNotAmount = errors.New("not an amount: want a number, one space and a unit, such as 120 mm[Hg]")
	// ErrAbsent says that an amount to reckon with has no number or no unit.
	// There is no nought to put in its place: nobody observed one.
	ErrAbsent = errors.New("the amount is absent")
	// ErrTemperatureSum says that temperatures were to be added, taken from each
	// other, multiplied or counted in steps. 36 and 1 degrees are 37 degrees
	// only where the one is a difference, and a temperature here never is.
	ErrTemperatureSum = errors.New("temperatures cannot be added or multiplied")
)

// DimensionError says that two amounts do not mix: mass with volume, drops with
// volume, a dose for each kilogram with a dose. Where they were to be
// multiplied or divided, it says that they do not make what was wanted.
type DimensionError struct {
	Have, Want Unit
	With       Unit // the other factor or the divisor; none where there was none
	Divided    bool // Have was to be divided by With
}

func (e *DimensionError) Error() string {
	if e.With.IsZero() {
		return fmt.Sprintf("%s and %s do not mix", e.Have.inFull(), e.Want.inFull())
	}
	by := "times"
	if e.Divided {
		by = "divided by"
	}
	return fmt.Sprintf("%s %s %s does not make %s", e.Have.inFull(), by, e.With.inFull(), e.Want.inFull())
}

// Parse reads the wire form: a number as in ParseDecimal, one space, a UCUM
// code as in UnitOf. What it accepts, String gives back byte for byte.
// The error is ErrNotAmount, or what ParseDecimal or UnitOf says.
func Parse(s string) (Amount, error) {
	number, code, ok := strings.Cut(s, " ")
	if !ok {
		return Amount{}, fmt.Errorf("%.40q: %w", s, ErrNotAmount)
	}
	value, err := ParseDecimal(number)
	if err != nil {
		return Amount{}, err
	}
	unit, err := UnitOf(code)
	if err != nil {
		return Amount{}, err
	}
	return Amount{value, unit}, nil
}

// MustParse is Parse for amounts in the source text; it panics on a bad one.
func MustParse(s string) Amount {
	a, err := Parse(s)
	if err != nil {
		panic("quantity: " + err.Error())
	}
	return a
}

// String returns the wire form, "" for an absent amount.
func (a Amount) String() string {
	if a.IsZero() {
		return ""
	}
	return a.Value.text + " " + a.Unit.code
}

// IsZero reports whether a is absent. 0 mg is not absent. The name is for the
// omitzero tag of encoding/json.
func (a Amount) IsZero() bool { return a == Amount{} }

// MarshalText gives the wire form, so that in JSON an amount is one string,
// "" for an absent one. It refuses what Parse would not read back: half an
// amount (ErrAbsent), or a number that a calculation left too long (ErrTooLong;
// Round before storing).
func (a Amount) MarshalText() ([]byte, error) {
	if a.IsZero() {
		return nil, nil
	}
	if a.half() {
		return nil, fmt.Errorf("%q: %w", a.String(), ErrAbsent)
	}
	if _, err := a.Value.MarshalText(); err != nil {
		return nil, err
	}
	return []byte(a.String()), nil
}

// UnmarshalText reads what MarshalText gives.
func (a *Amount) UnmarshalText(b []byte) error {
	if len(b) == 0 {
		*a = Amount{}
		return nil
	}
	read, err := Parse(string(b))
	if err != nil {
		return err
	}
	*a = read
	return nil
}

// half reports whether a lacks its number or its unit.
func (a Amount) half() bool { return a.Value.IsZero() || a.Unit.IsZero() }

// In returns the amount in the unit u, temperatures by their affine scales. It
// is exact wherever the result has at most 34 digits; otherwise it is rounded
// once, half even, to 34. In its own unit an amount comes back as entered.
// For a number to print or to store, Round the result. The error is ErrAbsent
// or a *DimensionError.
func (a Amount) In(u Unit) (Amount, error) {
	if err := mixes(a, u); err != nil {
		return Amount{}, err
	}
	if a.Unit == u {
		return a, nil
	}
	// u's number is (base * by / times) - offset; over one denominator,
	// so that there is one rounding, and a degree of Fahrenheit close to 32
	// loses nothing in the difference.
	to := u.definition()
	num, den := a.base()
	num, den = product(num, to.byN), product(den, to.timesN)
	num = difference(num, product(den, to.offsetN))
	return Amount{decimalOf(quotient(num, den)), u}, nil
}

// Cmp compares two amounts of one dimension: -1 where a < b, 0 where they are
// equal, +1 where a > b. It rounds nothing. The error is ErrAbsent or a
// *DimensionError.
func (a Amount) Cmp(b Amount) (int, error) {
	if b.half() {
		return 0, ErrAbsent
	}
	if err := mixes(a, b.Unit); err != nil {
		return 0, err
	}
	if a.Unit == b.Unit {
		return a.Value.Cmp(b.Value), nil // every scale rises
	}
	an, ad := a.base()
	bn, bd := b.base()
	return product(an, bd).Cmp(product(bn, ad)), nil // denominators are positive
}

// Between reports whether lo <= a <= hi. The errors are those of Cmp.
func (a Amount) Between(lo, hi Amount) (bool, error) {
	low, err := a.Cmp(lo)
	if err != nil {
		return false, err
	}
	high, err := a.Cmp(hi)
	if err != nil {
		return false, err
	}
	return low >= 0 && high <= 0, nil
}

// Add returns the sum in a's unit, with the exactness of In. The error is
// ErrAbsent, a *DimensionError or ErrTemperatureSum. A running total starts at
// nought in some unit, not at an absent amount.
func (a Amount) Add(b Amount) (Amount, error) {
	if b.half() {
		return Amount{}, ErrAbsent
	}
	if err := mixes(a, b.Unit); err != nil {
		return Amount{}, err
	}
	if a.Unit.Dimension() == Temperature {
		return Amount{}, fmt.Errorf("%s and %s: %w", a, b, ErrTemperatureSum)
	}
	an, bn := a.Value.number(), b.Value.number()
	if a.Unit == b.Unit {
		if s := sum(an, bn); s.NumDigits() <= digits {
			return Amount{decimalOf(s), a.Unit}, nil // keeps decimals: 0.50 + 0.50 = 1.00
		}
	}
	num, den := b.base()
	d := a.Unit.definition()
	num, den = product(num, d.byN), product(den, d.timesN)
	return Amount{decimalOf(quotient(sum(product(an, den), num), den)), a.Unit}, nil
}

// Float64 returns the number in the unit u, for drawing and for models only.
// The errors are those of In.
func (a Amount) Float64(u Unit) (float64, error) {
	b, err := a.In(u)
	if err != nil {
		return 0, err
	}
	return b.Value.Float64(), nil
}

// Round rounds half even to so many decimals, for printing and for storing a
// calculated amount; negative ones round to tens, hundreds and so on. An amount
// with no more decimals than that comes back as it is: rounding adds none.
func (a Amount) Round(decimals int) Amount {
	return Amount{a.Value.Round(decimals), a.Unit}
}

// mixes says why a cannot be given in u, if so.
func mixes(a Amount, u Unit) error {
	if a.half() {
		return ErrAbsent
	}
	if u.IsZero() || a.Unit.Dimension() != u.Dimension() {
		return &DimensionError{Have: a.Unit, Want: u}
	}
	return nil
}

// base returns the amount in the unit of its dimension as a fraction, so that
// it is exact. The denominator is positive.
func (a Amount) base() (num, den *apd.Decimal) {
	d := a.Unit.definition()
	return product(sum(a.Value.number(), d.offsetN), d.timesN), d.byN
}
