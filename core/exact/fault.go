package exact

import (
	"fmt"

	"chinlift/core/quantity"
)

// The codes of a Fault that Read finds. The calculators have further ones.
const (
	Missing   = "missing"
	TooLow    = "too-low"
	TooHigh   = "too-high"
	WrongUnit = "wrong-unit" // of another dimension
)

// Fault says which field of an input is at fault. Where there are limits they
// are in Low and High. The calculators make errors of their own of it, by which
// it is told who refused.
type Fault struct {
	Field     string
	Code      string
	Given     string
	Low, High string
}

// String reads as an error: "weight: too-high (900 kg), want 0.4 kg to 500 kg".
func (f *Fault) String() string {
	s := f.Field + ": " + f.Code
	if f.Given != "" {
		s += fmt.Sprintf(" (%.60s)", f.Given)
	}
	switch {
	case f.High != "":
		s += fmt.Sprintf(", want %s to %s", f.Low, f.High)
	case f.Low != "":
		s += ", want at least " + f.Low
	}
	return s
}

// Read gives an amount in the unit u, as In does. Both limits, numbers in u,
// are allowed; an empty high one is none. The fault is Missing, WrongUnit,
// TooLow or TooHigh.
func Read(field string, a quantity.Amount, u quantity.Unit, low, high string) (*Number, *Fault) {
	if a.IsZero() {
		return nil, &Fault{Field: field, Code: Missing}
	}
	x, err := In(a, u)
	if err != nil {
		return nil, &Fault{Field: field, Code: WrongUnit, Given: a.String()}
	}
	fault := func(code string) *Fault {
		f := &Fault{Field: field, Code: code, Given: a.String(), Low: low + " " + u.String()}
		if high != "" {
			f.High = high + " " + u.String()
		}
		return f
	}
	if x.Cmp(Of(low)) < 0 {
		return nil, fault(TooLow)
	}
	if high != "" && x.Cmp(Of(high)) > 0 {
		return nil, fault(TooHigh)
	}
	return x, nil
}
