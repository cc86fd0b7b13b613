package formulary

import (
	"math/big"
	"strings"

	"chinlift/core/patient"
	"chinlift/core/quantity"
)

// places is how closely an amount is read in the unit that it is reckoned in.
// A conversion that does not come out even has 34 digits; the last of them must
// not decide about a band or a rounding.
const places = 12

// in gives a in the unit u. The caller has seen to it that the dimensions agree.
func in(a quantity.Amount, u quantity.Unit) *big.Rat {
	b, err := a.In(u)
	if err != nil {
		panic("formulary: " + err.Error())
	}
	return num(b.Round(places).Value.String())
}

// num reads a number of the source text, or one that package quantity wrote.
func num(s string) *big.Rat {
	r, ok := new(big.Rat).SetString(s)
	if !ok {
		panic("formulary: not a number: " + s)
	}
	return r
}

func whole(n int64) *big.Rat       { return big.NewRat(n, 1) }
func plus(x, y *big.Rat) *big.Rat  { return new(big.Rat).Add(x, y) }
func minus(x, y *big.Rat) *big.Rat { return new(big.Rat).Sub(x, y) }
func times(x, y *big.Rat) *big.Rat { return new(big.Rat).Mul(x, y) }
func over(x, y *big.Rat) *big.Rat  { return new(big.Rat).Quo(x, y) }

func lesser(x, y *big.Rat) *big.Rat {
	if x.Cmp(y) <= 0 {
		return x
	}
	return y
}

func greater(x, y *big.Rat) *big.Rat {
	if x.Cmp(y) >= 0 {
		return x
	}
	return y
}

// down rounds a number that is not negative down to a multiple of step.
func down(x, step *big.Rat) *big.Rat {
	q := over(x, step)
	return times(new(big.Rat).SetInt(new(big.Int).Quo(q.Num(), q.Denom())), step)
}

// nearest rounds a number that is not negative to the nearest multiple of
// step, a half up.
func nearest(x, step *big.Rat) *big.Rat { return down(plus(x, over(step, whole(2))), step) }

// What no amount here is under or over, in the unit that it is reckoned in.
// Not limits of medicine: they keep a slip of the hand or a damaged file from
// making numbers that nobody can write.
const least, greatest = "0.000001", "1000000000"

// sane tells whether an amount is within these limits; else it gives the code
// of what is wrong with it. Nought, and an absent amount, are not under them.
func sane(a quantity.Amount) (code string) {
	unit := quantity.Minute
	if m, ok := measureOf(a); ok {
		unit = measures[m]
	} else if what, ok := strengthOf(a); ok {
		unit = strengths[what]
	} else if a.Unit.Dimension() != quantity.Duration {
		return ""
	}
	r := in(a, unit)
	r.Abs(r)
	switch {
	case r.Cmp(num(greatest)) > 0:
		return patient.TooHigh
	case a.Value.Sign() != 0 && r.Cmp(num(least)) < 0:
		return patient.TooLow
	}
	return ""
}

// amountDown gives x its unit and cuts it after so many decimals, so that what
// is shown is never more than what was reckoned. A number too long to be
// written has fewer.
func amountDown(x *big.Rat, decimals int, u quantity.Unit) quantity.Amount {
	step := new(big.Rat).SetFrac(big.NewInt(1), new(big.Int).Exp(big.NewInt(10), big.NewInt(int64(decimals)), nil))
	s := down(x, step).FloatString(decimals)
	if len(s) > quantity.MaxDecimalLen {
		s = s[:quantity.MaxDecimalLen]
	}
	if strings.Contains(s, ".") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	return quantity.MustParse(s + " " + u.String())
}
