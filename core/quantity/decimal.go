package quantity

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"

	"github.com/cockroachdb/apd/v3"
)

// MaxDecimalLen is the most characters that a number may have in wire form,
// sign and point included. It is far more than any instrument shows; its use
// is to keep a damaged or hostile file from costing memory.
const MaxDecimalLen = 30

// digits is the precision of results that do not come out even: the 34 digits
// of IEEE 754-2008 decimal128.
const digits = 34

var (
	// ErrNotDecimal says that a text is not a number in wire form.
	ErrNotDecimal = errors.New("not a decimal number")
	// ErrTooLong says that a number has more than MaxDecimalLen characters.
	ErrTooLong = errors.New("number too long")
)

// Decimal is an exact decimal number, kept as it was entered: "0.50" stays
// "0.50", because the second digit says how closely somebody looked. So == asks
// whether two were entered alike; Cmp asks whether they are the same number.
// The zero Decimal is absent: no number, which is not the number nought.
type Decimal struct {
	text string // wire form, or empty; only this package makes one
}

// ParseDecimal reads the wire form: -?digits[.digits], no exponent, no leading
// plus, no bare point (".5", "5."), no superfluous leading noughts ("05"), at
// most MaxDecimalLen characters. The error is ErrNotDecimal or ErrTooLong. For
// what a person types see ParseEntry.
func ParseDecimal(s string) (Decimal, error) {
	if len(s) > MaxDecimalLen {
		return Decimal{}, fmt.Errorf("%.40q: %w: at most %d characters", s, ErrTooLong, MaxDecimalLen)
	}
	whole, part, point := strings.Cut(strings.TrimPrefix(s, "-"), ".")
	switch {
	case !allDigits(whole),
		len(whole) > 1 && whole[0] == '0',
		point && !allDigits(part):
		return Decimal{}, fmt.Errorf("%q: %w", s, ErrNotDecimal)
	}
	return Decimal{s}, nil
}

// DecimalFromInt returns n as a Decimal.
func DecimalFromInt(n int64) Decimal { return Decimal{strconv.FormatInt(n, 10)} }

// String returns the number as it was entered, "" where it is absent.
func (d Decimal) String() string { return d.text }

// IsZero reports whether d is absent. The number nought is not absent.
func (d Decimal) IsZero() bool { return d.text == "" }

// Cmp compares the numbers: -1 where d < e, 0 where they are equal ("0.5" and
// "0.50" are), +1 where d > e. An absent one comes before every number.
func (d Decimal) Cmp(e Decimal) int {
	switch {
	case d.IsZero() && e.IsZero():
		return 0
	case d.IsZero():
		return -1
	case e.IsZero():
		return 1
	}
	return d.number().Cmp(e.number())
}

// Sign returns -1, 0 or +1. An absent number has sign 0.
func (d Decimal) Sign() int {
	if d.IsZero() {
		return 0
	}
	return d.number().Sign()
}

// Float64 returns the nearest float64, for drawing and for models only; no
// dose is worked out with it. An absent number is NaN, so that it cannot pass
// for a nought that somebody observed.
func (d Decimal) Float64() float64 {
	if d.IsZero() {
		return math.NaN()
	}
	f, err := strconv.ParseFloat(d.text, 64)
	if err != nil {
		panic(fmt.Sprintf("quantity: malformed decimal %q: %v", d.text, err))
	}
	return f
}

// MarshalText gives the wire form, "" for an absent number. It refuses a number
// that ParseDecimal would refuse to read back: one that a calculation left
// longer than MaxDecimalLen. Round before storing.
func (d Decimal) MarshalText() ([]byte, error) {
	if len(d.text) > MaxDecimalLen {
		return nil, fmt.Errorf("%s: %w: at most %d characters; round it before it is stored", d.text, ErrTooLong, MaxDecimalLen)
	}
	return []byte(d.text), nil
}

// UnmarshalText reads what MarshalText gives.
func (d *Decimal) UnmarshalText(b []byte) error {
	if len(b) == 0 {
		*d = Decimal{}
		return nil
	}
	e, err := ParseDecimal(string(b))
	if err != nil {
		return err
	}
	*d = e
	return nil
}

// number returns d, which must not be absent, for arithmetic.
func (d Decimal) number() *apd.Decimal { return mustNumber(d.text) }

// mustNumber reads a text that this package itself wrote.
func mustNumber(text string) *apd.Decimal {
	n, _, err := apd.NewFromString(text)
	if err != nil {
		panic(fmt.Sprintf("quantity: malformed decimal %q: %v", text, err))
	}
	return n
}

// decimalOf writes n in wire form. A negative nought, which only arithmetic
// makes, loses its sign.
func decimalOf(n *apd.Decimal) Decimal {
	if n.IsZero() {
		n.Negative = false
		if n.Exponent > 0 {
			n.Exponent = 0
		}
	}
	return Decimal{n.Text('f')}
}

// Exact sums and products. The operands are some tens of digits long and their
// exponents small, so that nothing can overflow; an error is a defect here.
func sum(x, y *apd.Decimal) *apd.Decimal        { return exact(apd.BaseContext.Add, x, y) }
func difference(x, y *apd.Decimal) *apd.Decimal { return exact(apd.BaseContext.Sub, x, y) }
func product(x, y *apd.Decimal) *apd.Decimal    { return exact(apd.BaseContext.Mul, x, y) }

func exact(op func(d, x, y *apd.Decimal) (apd.Condition, error), x, y *apd.Decimal) *apd.Decimal {
	d := new(apd.Decimal)
	if _, err := op(d, x, y); err != nil {
		panic(fmt.Sprintf("quantity: %v and %v: %v", x, y, err))
	}
	return d
}

// quotient divides with one rounding, half even, to 34 digits, and drops
// trailing noughts: x/y exactly wherever that has at most 34 digits.
func quotient(x, y *apd.Decimal) *apd.Decimal {
	ctx := apd.BaseContext
	ctx.Precision = digits
	ctx.Rounding = apd.RoundHalfEven
	d := exact(ctx.Quo, x, y)
	d.Reduce(d)
	return d
}

// whole divides with one rounding, to a whole number, however long. y is
// positive.
func whole(x, y *apd.Decimal, rounding apd.Rounder) *apd.Decimal {
	apart := int64(x.Exponent) - int64(y.Exponent)
	ctx := apd.BaseContext
	ctx.Precision = uint32(x.NumDigits() + y.NumDigits() + max(apart, -apart)) // room for any quotient
	n := exact(ctx.QuoInteger, x, y)                                           // towards nought
	rest := difference(x, product(n, y))
	if rest.IsZero() {
		return n
	}
	rest.Abs(rest)
	if rounding.ShouldAddOne(&n.Coeff, x.Negative, product(rest, apd.New(2, 0)).Cmp(y)) {
		one := apd.New(1, 0)
		one.Negative = x.Negative
		n = sum(n, one)
	}
	return n
}

// Round rounds half even to so many decimals; negative ones round to tens,
// hundreds and so on. A number with no more decimals than that is unchanged:
// rounding adds no digit that nobody saw.
func (d Decimal) Round(decimals int) Decimal {
	if d.IsZero() {
		return d
	}
	n := d.number()
	if decimals >= -int(n.Exponent) {
		return d
	}
	if n.NumDigits()+int64(n.Exponent) < -int64(decimals) {
		return Decimal{"0"} // less than a tenth of the last place kept
	}
	ctx := apd.BaseContext
	ctx.Precision = uint32(len(d.text) + 1)
	ctx.Rounding = apd.RoundHalfEven
	if _, err := ctx.Quantize(n, n, int32(-decimals)); err != nil {
		panic(fmt.Sprintf("quantity: round %s to %d decimals: %v", d.text, decimals, err))
	}
	return decimalOf(n)
}

func allDigits(s string) bool {
	for i := range len(s) {
		if s[i] < '0' || s[i] > '9' {
			return false
		}
	}
	return s != ""
}
