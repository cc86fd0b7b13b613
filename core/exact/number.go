// Package exact is the arithmetic of the calculators: numbers that lose nothing
// between an amount that was entered and the amount that is told, and the fault
// of an input that cannot be reckoned with.
//
// A [Number] is a fraction. It is rounded once, at the end, when it becomes an
// amount again ([Number.Amount]), so that the order of a formula's steps cannot
// decide about a dose. Where a rule is a model with roots and logarithms it
// leaves the exact ([Number.Float]) and comes back with [Model].
//
// Package quantity has the amounts themselves and what follows from their units
// (mg/kg times kg). Here a number has no unit: the calculator reads each amount
// in the unit of its rule ([Read], [In]) and names the unit of the result.
//
// There is no rule, no limit and no medicine in this package.
package exact

import (
	"math/big"
	"strconv"
	"strings"

	"chinlift/core/quantity"
)

// Places is how many decimals of an amount are read in the unit that it is
// reckoned in. A conversion that does not come out even has 34 digits; the last
// of them must not decide about a birthday, a band or a rounding.
const Places = 12

// Number is an exact number, a fraction. It does not change: each method gives
// a new one. The zero Number is nought. A nil *Number is none, for what is not
// known; it has no methods.
type Number struct{ rat big.Rat }

// Of reads a number that stands in the source text, or that package quantity
// wrote: "4", "0.5". It panics at any other text.
func Of(s string) *Number {
	n := new(Number)
	if _, ok := n.rat.SetString(s); !ok {
		panic("exact: not a number: " + s)
	}
	return n
}

// Whole gives a whole number.
func Whole(n int64) *Number {
	x := new(Number)
	x.rat.SetInt64(n)
	return x
}

// In gives an amount in a unit, read to [Places] decimals. The error is that of
// quantity.Amount.In: the amount is absent, or of another dimension.
func In(a quantity.Amount, u quantity.Unit) (*Number, error) {
	b, err := a.In(u)
	if err != nil {
		return nil, err
	}
	return Of(b.Round(Places).Value.String()), nil
}

// Plus gives x + y.
func (x *Number) Plus(y *Number) *Number { return done((*big.Rat).Add, x, y) }

// Minus gives x - y.
func (x *Number) Minus(y *Number) *Number { return done((*big.Rat).Sub, x, y) }

// Times gives x times y.
func (x *Number) Times(y *Number) *Number { return done((*big.Rat).Mul, x, y) }

// Over gives x / y. It panics where y is nought.
func (x *Number) Over(y *Number) *Number { return done((*big.Rat).Quo, x, y) }

func done(op func(z, x, y *big.Rat) *big.Rat, x, y *Number) *Number {
	z := new(Number)
	op(&z.rat, &x.rat, &y.rat)
	return z
}

// Neg gives -x.
func (x *Number) Neg() *Number {
	z := new(Number)
	z.rat.Neg(&x.rat)
	return z
}

// Abs gives x without its sign.
func (x *Number) Abs() *Number {
	z := new(Number)
	z.rat.Abs(&x.rat)
	return z
}

// Cmp gives -1 where x < y, 0 where they are equal, +1 where x > y.
func (x *Number) Cmp(y *Number) int { return x.rat.Cmp(&y.rat) }

// Sign gives -1, 0 or +1.
func (x *Number) Sign() int { return x.rat.Sign() }

// IsWhole reports whether x is a whole number.
func (x *Number) IsWhole() bool { return x.rat.IsInt() }

// Min gives the lesser of two numbers.
func Min(x, y *Number) *Number {
	if x.Cmp(y) <= 0 {
		return x
	}
	return y
}

// Max gives the greater of two numbers.
func Max(x, y *Number) *Number {
	if x.Cmp(y) >= 0 {
		return x
	}
	return y
}

// Floor gives the greatest whole number that is not over x.
func (x *Number) Floor() *Number {
	z := new(Number)
	// Euclid's division rounds down, as a denominator is positive.
	z.rat.SetInt(new(big.Int).Div(x.rat.Num(), x.rat.Denom()))
	return z
}

// Ceil gives the least whole number that is not under x.
func (x *Number) Ceil() *Number { return x.Neg().Floor().Neg() }

// Down gives the greatest multiple of step that is not over x. A step is more
// than nought.
func (x *Number) Down(step *Number) *Number { return x.Over(step).Floor().Times(step) }

// Nearest gives the multiple of step that is nearest to x, the higher one of
// two that are as near.
func (x *Number) Nearest(step *Number) *Number { return x.Plus(step.Over(Whole(2))).Down(step) }

// DownTo cuts x to so many decimals, downwards: for what is there.
func (x *Number) DownTo(decimals int) *Number { return x.Down(grain(decimals)) }

// UpTo is DownTo upwards: for what is needed.
func (x *Number) UpTo(decimals int) *Number { return x.Neg().DownTo(decimals).Neg() }

// grain is 1 in the last of so many decimals.
func grain(decimals int) *Number {
	z := new(Number)
	z.rat.SetFrac(big.NewInt(1), new(big.Int).Exp(big.NewInt(10), big.NewInt(int64(decimals)), nil))
	return z
}

// Int64 gives a whole number as an int64. What is behind the point falls away.
func (x *Number) Int64() int64 { return new(big.Int).Quo(x.rat.Num(), x.rat.Denom()).Int64() }

// Float gives the nearest float64, for a model.
func (x *Number) Float() float64 {
	f, _ := x.rat.Float64()
	return f
}

// FloatString writes x with so many decimals, a half away from nought.
func (x *Number) FloatString(decimals int) string { return x.rat.FloatString(decimals) }

// String writes x as it is: "4", or "1/3" where no decimals are enough for it;
// [Of] reads it back.
func (x *Number) String() string { return x.rat.RatString() }

// Amount rounds x to so many decimals, a half away from nought, and gives it
// its unit.
func (x *Number) Amount(decimals int, u quantity.Unit) quantity.Amount {
	return Written(x.FloatString(decimals), u)
}

// Model is Amount for what came out of floating point.
func Model(x float64, decimals int, u quantity.Unit) quantity.Amount {
	return Written(strconv.FormatFloat(x, 'f', decimals, 64), u)
}

// Written gives its unit to a number that is written with decimals, without the
// noughts at their end. It panics where it is no number or too long for one.
func Written(s string, u quantity.Unit) quantity.Amount {
	if strings.Contains(s, ".") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	if s == "-0" {
		s = "0"
	}
	return quantity.MustParse(s + " " + u.String())
}
