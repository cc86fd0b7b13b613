package kit

import (
	"math/big"
	"strconv"
	"strings"

	"chinlift/core/quantity"
)

// places is how closely an amount is read in the unit that is reckoned in. A
// conversion that does not come out even has 34 digits; the last of them must
// not decide about a rounding.
const places = 12

// read gives a in the unit u. Both limits, in u, are allowed; an empty high one
// is none.
func read(field string, a quantity.Amount, u quantity.Unit, low, high string) (*big.Rat, error) {
	if a.IsZero() {
		return nil, &Error{Field: field, Code: Missing}
	}
	in, err := a.In(u)
	if err != nil {
		return nil, &Error{Field: field, Code: WrongUnit, Given: a.String()}
	}
	r := num(in.Round(places).Value.String())
	fault := func(code string) error {
		e := &Error{Field: field, Code: code, Given: a.String(), Low: low + " " + u.String()}
		if high != "" {
			e.High = high + " " + u.String()
		}
		return e
	}
	if r.Cmp(num(low)) < 0 {
		return nil, fault(TooLow)
	}
	if high != "" && r.Cmp(num(high)) > 0 {
		return nil, fault(TooHigh)
	}
	return r, nil
}

// num reads a number of the source text, or one that package quantity wrote.
func num(s string) *big.Rat {
	r, ok := new(big.Rat).SetString(s)
	if !ok {
		panic("kit: not a number: " + s)
	}
	return r
}

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

func float(x *big.Rat) float64 {
	f, _ := x.Float64()
	return f
}

// down rounds to so many decimals towards nought or below, up away from it:
// what is there is rounded down, what is needed is rounded up.
func down(x *big.Rat, decimals int) *big.Rat {
	scale := new(big.Rat).SetInt(new(big.Int).Exp(big.NewInt(10), big.NewInt(int64(decimals)), nil))
	y := times(x, scale)
	q := new(big.Int)
	q.DivMod(y.Num(), y.Denom(), new(big.Int)) // Euclid: rounds down
	return over(new(big.Rat).SetInt(q), scale)
}

func up(x *big.Rat, decimals int) *big.Rat {
	return new(big.Rat).Neg(down(new(big.Rat).Neg(x), decimals))
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
	if s == "-0" {
		s = "0"
	}
	return quantity.MustParse(s + " " + u.String())
}
