package visit

import (
	"math/big"
	"slices"
	"strings"

	"chinlift/core/patient"
	"chinlift/core/quantity"
)

// num reads a number of the source text, or one that package quantity wrote.
func num(s string) *big.Rat {
	r, ok := new(big.Rat).SetString(s)
	if !ok {
		panic("visit: not a number: " + s)
	}
	return r
}

func whole(n int64) *big.Rat { return big.NewRat(n, 1) }

// down and up round to a whole number.
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

func minutes(n int64) quantity.Amount {
	return quantity.Amount{Value: quantity.DecimalFromInt(n), Unit: quantity.Minute}
}

// years gives the age, 0 to 120 years as in package patient; nil where it is
// not known.
func years(age quantity.Amount) (*big.Rat, error) {
	if age.IsZero() {
		return nil, nil
	}
	return patient.Read("age", age, quantity.Year, "0", "120")
}

// add puts what is not there yet at the end of a list of codes.
func add[C ~string](to *[]C, list ...C) {
	for _, x := range list {
		if !slices.Contains(*to, x) {
			*to = append(*to, x)
		}
	}
}
