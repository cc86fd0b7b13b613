package patient

import (
	"errors"
	"slices"
	"testing"

	"chinlift/core/quantity"
	"chinlift/core/term"
)

func TestWeight(t *testing.T) {
	a, err := Weight(who("", "", "154.3 [lb_av]", ""))
	if err != nil || a.Value.Round(3).String() != "69.989 kg" || len(a.Assumptions) != 0 || !slices.Contains(a.Cautions, Estimate) {
		t.Errorf("%+v, %v", a, err)
	}
	p := who("8 a", "", "70 kg", "")
	p.WeightBy = term.WeightByEye
	if a, err = Weight(p); err != nil || !slices.Contains(a.Assumptions, WeightByEye) || !slices.Contains(a.Cautions, WeightFarFromAge) {
		t.Errorf("%+v, %v", a, err)
	}
	var e *Error
	if _, err = Weight(who("8 a", "", "", "")); !errors.As(err, &e) || e.Field != "weight" || e.Code != Missing {
		t.Errorf("no weight: %v", err)
	}
}

func TestCheck(t *testing.T) {
	for _, p := range []Patient{{}, who("", "", "70 kg", ""), who("0 d", term.SexFemale, "0.3 kg", "20 cm"), who("120 a", term.SexUnknown, "400 kg", "250 cm")} {
		if err := Check(p); err != nil {
			t.Errorf("%+v: %v", p, err)
		}
	}
	scaled := who("", "", "70 kg", "")
	scaled.WeightBy = "guess"
	for _, c := range []struct {
		p           Patient
		field, code string
	}{
		{who("", "", "0 kg", ""), "weight", TooLow}, {who("", "", "700 kg", ""), "weight", TooHigh}, {who("", "", "70 cm", ""), "weight", WrongUnit},
		{who("-3 a", "", "", ""), "age", TooLow}, {who("121 a", "", "", ""), "age", TooHigh}, {who("", "", "70 kg", "900 cm"), "length", TooHigh},
		{Patient{Sex: "man"}, "sex", UnknownCode}, {scaled, "weight_by", UnknownCode}, {Patient{Weight: quantity.MustParse("-1 kg")}, "weight", TooLow},
	} {
		var e *Error
		if err := Check(c.p); !errors.As(err, &e) || e.Field != c.field || e.Code != c.code {
			t.Errorf("%+v: %v; want %s: %s", c.p, err, c.field, c.code)
		}
	}
}
