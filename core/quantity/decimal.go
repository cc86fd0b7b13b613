// Package quantity is amounts with units: exact decimals and UCUM codes.
//
// A number is kept as it was entered, digit for digit ("0.50" stays "0.50"),
// because a record shows what was written, not what a computer made of it.
// Arithmetic is decimal and exact where the factor is exact; floating point
// appears only on the way out, for drawing and for models. An amount never
// goes without its unit, and amounts of different dimensions do not mix: the
// error names both.
//
// Units are the codes of the Unified Code for Units of Measure (UCUM,
// Schadow and McDonald, Regenstrief Institute), from a fixed table in
// unit.go with the source of every factor beside it. The package holds no
// drug, no dose and no limit.
package quantity

import (
	"fmt"

	"github.com/cockroachdb/apd/v3"
)

// context is wide enough for every conversion in the table to be exact where
// its factor is a finite decimal: 34 digits, as in IEEE 754 decimal128.
var context = apd.Context{Precision: 34, MaxExponent: 6144, MinExponent: -6143, Rounding: apd.RoundHalfEven}

// maxDigits bounds what is accepted as a number.
const maxDigits = 30

// Decimal is an exact decimal number, kept as it was entered. The zero value
// is an absent number. Decimals compare with == as entered ("0.5" and "0.50"
// differ); see Cmp for their values.
type Decimal struct{ text string }

// ParseDecimal reads the form that is stored: digits, perhaps a minus before
// them, perhaps a point and digits after them. No exponent, no plus, no bare
// point, no leading zeros.
func ParseDecimal(s string) (Decimal, error) {
	bad := func(why string) (Decimal, error) {
		return Decimal{}, fmt.Errorf("number %q %s", s, why)
	}
	if len(s) > maxDigits {
		return Decimal{}, fmt.Errorf("number of %d characters is longer than %d", len(s), maxDigits)
	}
	i := 0
	if i < len(s) && s[i] == '-' {
		i++
	}
	start := i
	for i < len(s) && s[i] >= '0' && s[i] <= '9' {
		i++
	}
	switch {
	case i == start:
		return bad("has no digit before the point")
	case s[start] == '0' && i-start > 1:
		return bad("has a zero too many in front")
	}
	if i < len(s) && s[i] == '.' {
		point := i
		i++
		for i < len(s) && s[i] >= '0' && s[i] <= '9' {
			i++
		}
		if i == point+1 {
			return bad("has no digit after the point")
		}
	}
	if i != len(s) {
		return bad("has a character that is not part of a number")
	}
	return Decimal{s}, nil
}

// DecimalFromInt gives a whole number.
func DecimalFromInt(n int64) Decimal { return Decimal{fmt.Sprint(n)} }

// String gives the number as it was entered; empty when absent.
func (d Decimal) String() string { return d.text }

// IsZero reports that there is no number. The number 0 is there.
func (d Decimal) IsZero() bool { return d.text == "" }

// MarshalText gives the stored form.
func (d Decimal) MarshalText() ([]byte, error) { return []byte(d.text), nil }

// UnmarshalText reads the stored form.
func (d *Decimal) UnmarshalText(b []byte) error {
	v, err := ParseDecimal(string(b))
	if err == nil {
		*d = v
	}
	return err
}

// apd gives the number for arithmetic; an absent one counts as 0.
func (d Decimal) apd() *apd.Decimal {
	if d.text == "" {
		return apd.New(0, 0)
	}
	v, _, err := apd.NewFromString(d.text)
	if err != nil {
		panic("quantity: a Decimal holds what ParseDecimal refuses: " + d.text)
	}
	return v
}

// fromAPD writes a result plainly, without an exponent and without zeros at
// its end that arithmetic has put there.
func fromAPD(v *apd.Decimal) Decimal {
	var r apd.Decimal
	r.Reduce(v)
	if r.IsZero() {
		return Decimal{"0"}
	}
	return Decimal{r.Text('f')}
}

// Cmp compares values: -1, 0 or 1.
func (d Decimal) Cmp(e Decimal) int { return d.apd().Cmp(e.apd()) }

// Sign gives -1, 0 or 1; 0 for an absent number too.
func (d Decimal) Sign() int { return d.apd().Sign() }

// Float64 is for drawing and for models only; never print or store it.
func (d Decimal) Float64() float64 {
	f, err := d.apd().Float64()
	if err != nil {
		return 0 // not reachable for at most maxDigits digits
	}
	return f
}

// Round gives d with at most so many decimals, half to even.
func (d Decimal) Round(decimals int) Decimal {
	if d.IsZero() {
		return d
	}
	v := d.apd()
	if int(v.Exponent) >= -decimals {
		return d
	}
	var r apd.Decimal
	if _, err := context.Quantize(&r, v, int32(-decimals)); err != nil {
		return d
	}
	return fromAPD(&r)
}
