package formulary

import (
	"chinlift/core/exact"
	"chinlift/core/patient"
	"chinlift/core/quantity"
)

// in gives a in the unit u. The caller has seen to it that the dimensions agree.
func in(a quantity.Amount, u quantity.Unit) *exact.Number {
	x, err := exact.In(a, u)
	if err != nil {
		panic("formulary: " + err.Error())
	}
	return x
}

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
	r := in(a, unit).Abs()
	switch {
	case r.Cmp(exact.Of(greatest)) > 0:
		return patient.TooHigh
	case a.Value.Sign() != 0 && r.Cmp(exact.Of(least)) < 0:
		return patient.TooLow
	}
	return ""
}

// amountDown gives x its unit and cuts it after so many decimals, so that what
// is shown is never more than what was reckoned. A number too long to be
// written has fewer.
func amountDown(x *exact.Number, decimals int, u quantity.Unit) quantity.Amount {
	s := x.DownTo(decimals).FloatString(decimals)
	return exact.Written(s[:min(len(s), quantity.MaxDecimalLen)], u)
}
