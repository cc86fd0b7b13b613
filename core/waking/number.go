package waking

import (
	"math/big"
	"slices"
	"strings"

	"chinlift/core/patient"
	"chinlift/core/quantity"
)

// places is how closely a vital sign is read before it is rounded for its row:
// the last of 34 digits must not decide about a threshold.
const places = 12

// count checks a number of points.
func count(field string, n *int, high int) error {
	fault := func(code string) error {
		return &patient.Error{Field: field, Code: code, Given: points(*n).String(), Low: "0 {score}", High: points(high).String()}
	}
	switch {
	case n == nil:
		return &patient.Error{Field: field, Code: patient.Missing}
	case *n < 0:
		return fault(patient.TooLow)
	case *n > high:
		return fault(patient.TooHigh)
	}
	return nil
}

// num reads a number of the source text, or one that package quantity wrote.
func num(s string) *big.Rat {
	r, ok := new(big.Rat).SetString(s)
	if !ok {
		panic("waking: not a number: " + s)
	}
	return r
}

func whole(n int64) *big.Rat { return big.NewRat(n, 1) }

// down rounds to a whole number.
func down(x *big.Rat) int64 {
	n := new(big.Int)
	n.Div(x.Num(), x.Denom()) // Euclidean: down, as the denominator is positive
	return n.Int64()
}

func up(x *big.Rat) int64 { return -down(new(big.Rat).Neg(x)) }

// written gives a number as FloatString writes it its unit, without trailing
// noughts.
func written(s string, u quantity.Unit) quantity.Amount {
	if strings.Contains(s, ".") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	return quantity.MustParse(s + " " + u.String())
}

func points(n int) quantity.Amount {
	return quantity.Amount{Value: quantity.DecimalFromInt(int64(n)), Unit: quantity.ScoreOne}
}

func minutes(n int64) quantity.Amount {
	return quantity.Amount{Value: quantity.DecimalFromInt(n), Unit: quantity.Minute}
}

// add puts what is not there yet at the end of a list of codes.
func add[C ~string](to *[]C, list ...C) {
	for _, x := range list {
		if !slices.Contains(*to, x) {
			*to = append(*to, x)
		}
	}
}
