package patient

import (
	"math/big"
	"strconv"
	"strings"

	"chinlift/core/quantity"
)

// places is how closely an amount is read in the rule's unit. A conversion that
// does not come out even has 34 digits; the last of them must not decide about
// a birthday or a rounding.
const places = 12

// Read gives a in the unit u, for the packages that reckon with a patient's
// amounts. Both limits, numbers in u, are allowed. The error is an *Error that
// names the field: Missing, WrongUnit, TooLow or TooHigh.
func Read(field string, a quantity.Amount, u quantity.Unit, low, high string) (*big.Rat, error) {
	if a.IsZero() {
		return nil, &Error{Field: field, Code: Missing}
	}
	in, err := a.In(u)
	if err != nil {
		return nil, &Error{Field: field, Code: WrongUnit, Given: a.String()}
	}
	r := num(in.Round(places).Value.String())
	fault := func(code string) error {
		return &Error{field, code, a.String(), low + " " + u.String(), high + " " + u.String()}
	}
	if r.Cmp(num(low)) < 0 {
		return nil, fault(TooLow)
	}
	if r.Cmp(num(high)) > 0 {
		return nil, fault(TooHigh)
	}
	return r, nil
}

// num reads a number of the source text, or one that package quantity wrote.
func num(s string) *big.Rat {
	r, ok := new(big.Rat).SetString(s)
	if !ok {
		panic("patient: not a number: " + s)
	}
	return r
}

func whole(n int64) *big.Rat         { return big.NewRat(n, 1) }
func plus(x, y *big.Rat) *big.Rat    { return new(big.Rat).Add(x, y) }
func minus(x, y *big.Rat) *big.Rat   { return new(big.Rat).Sub(x, y) }
func times(x, y *big.Rat) *big.Rat   { return new(big.Rat).Mul(x, y) }
func over(x, y *big.Rat) *big.Rat    { return new(big.Rat).Quo(x, y) }
func lesser(x, y *big.Rat) *big.Rat  { return pick(x.Cmp(y) <= 0, x, y) }
func greater(x, y *big.Rat) *big.Rat { return pick(x.Cmp(y) >= 0, x, y) }

func pick(first bool, x, y *big.Rat) *big.Rat {
	if first {
		return x
	}
	return y
}

// floor gives the whole part of a number that is not negative.
func floor(x *big.Rat) *big.Rat {
	return new(big.Rat).SetInt(new(big.Int).Quo(x.Num(), x.Denom()))
}

// down rounds a number that is not negative down to a multiple of step.
func down(x, step *big.Rat) *big.Rat { return times(floor(over(x, step)), step) }

func float(x *big.Rat) float64 {
	f, _ := x.Float64()
	return f
}

// amount rounds x, half up, to so many decimals and gives it its unit.
func amount(x *big.Rat, decimals int, u quantity.Unit) quantity.Amount {
	return written(x.FloatString(decimals), u)
}

// model is amount for what came out of floating point.
func model(x float64, decimals int, u quantity.Unit) quantity.Amount {
	return written(strconv.FormatFloat(x, 'f', decimals, 64), u)
}

func written(s string, u quantity.Unit) quantity.Amount {
	if strings.Contains(s, ".") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	return quantity.MustParse(s + " " + u.String())
}
