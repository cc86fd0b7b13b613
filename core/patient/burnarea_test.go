package patient

import (
	"errors"
	"testing"

	"chinlift/core/quantity"
)

// TestWholeSurface: at every age the parts make up 100 %, as in the chart.
func TestWholeSurface(t *testing.T) {
	full := map[Part]quantity.Amount{}
	for _, part := range Parts {
		full[part] = quantity.MustParse("100 %")
	}
	for _, age := range []string{"0 d", "11 mo", "1 a", "5 a", "10 a", "15 a", "18 a", "70 a"} {
		a, err := BurnArea(who(age, "", "", ""), full)
		value(t, age, a, err, "100 %")
	}
}

func TestBurnArea(t *testing.T) {
	of := func(part Part, share string) map[Part]quantity.Amount {
		return map[Part]quantity.Amount{part: quantity.MustParse(share)}
	}
	// Lund and Browder, from memory: head 19 % in the first year, 7 % of an adult.
	a, err := BurnArea(who("6 mo", "", "", ""), of(Head, "100 %"))
	value(t, "infant's head", a, err, "19 %")
	a, err = BurnArea(who("30 a", "", "", ""), of(Head, "50 %"))
	value(t, "half an adult's head", a, err, "3.5 %")
	a, err = BurnArea(who("30 a", "", "", ""), nil)
	value(t, "nothing", a, err, "0 %")
	for _, c := range []struct {
		part         Part
		share, field string
		code         string
	}{{"wing", "10 %", "part", UnknownCode}, {Head, "101 %", "head", TooHigh}, {Head, "-1 %", "head", TooLow}, {Head, "1 kg", "head", WrongUnit}} {
		var e *Error
		if _, err := BurnArea(who("30 a", "", "", ""), of(c.part, c.share)); !errors.As(err, &e) || e.Field != c.field || e.Code != c.code {
			t.Errorf("%s %s: %v", c.part, c.share, err)
		}
	}
}
