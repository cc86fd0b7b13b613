package trouble

import (
	"strings"
	"testing"

	"chinlift/core/quantity"
	"chinlift/core/term"

	"pgregory.net/rapid"
)

func TestOffers(t *testing.T) {
	am := quantity.MustParse
	yes, no := true, false
	base := Seen{SystolicLow: am("90 mm[Hg]"), SystolicSevere: am("80 mm[Hg]"), SystolicHigh: am("219 mm[Hg]"), PulseLow: am("51 /min"), PulseHigh: am("100 /min")}
	for _, x := range []struct {
		name string
		is   func(*Seen)
		want string // card why severe
	}{
		{"nothing is known", func(*Seen) {}, ""},
		{"saturation at the limit", func(s *Seen) { s.SpO2 = am("94 %") }, ""},
		{"under it", func(s *Seen) { s.SpO2 = am("93 %") }, "hypoxia low-saturation"},
		{"far under it", func(s *Seen) { s.SpO2 = am("88 %") }, "hypoxia low-saturation!"},
		{"4 under rest", func(s *Seen) { s.SpO2, s.RestSpO2 = am("95 %"), am("99 %") }, "hypoxia fallen-saturation"},
		{"3 under rest", func(s *Seen) { s.SpO2, s.RestSpO2 = am("96 %"), am("99 %") }, ""},
		{"high up", func(s *Seen) { s.SpO2, s.Altitude = am("90 %"), am("2500 m") }, ""},
		{"high up and under", func(s *Seen) { s.SpO2, s.Altitude = am("89 %"), am("2500 m") }, "hypoxia low-saturation"},
		{"high up, 4 under rest", func(s *Seen) { s.SpO2, s.RestSpO2, s.Altitude = am("90 %"), am("94 %"), am("2500 m") }, "hypoxia fallen-saturation"},
		// 40 % under 120 is 72; Kruger 2017: a fall of 40 %.
		{"pressure 40 % under", func(s *Seen) { s.Systolic, s.RestSystolic = am("96 mm[Hg]"), am("160 mm[Hg]") }, "hypotension fallen-pressure!"},
		{"pressure 39 % under", func(s *Seen) { s.Systolic, s.RestSystolic = am("98 mm[Hg]"), am("160 mm[Hg]") }, ""},
		{"low for age", func(s *Seen) { s.Systolic = am("89 mm[Hg]") }, "hypotension low-for-age"},
		{"low for age and severe", func(s *Seen) { s.Systolic = am("79 mm[Hg]") }, "hypotension low-for-age!"},
		{"at the limit of age", func(s *Seen) { s.Systolic = am("90 mm[Hg]") }, ""},
		// Under 80 % of 120 is under 96.
		{"spinal in pregnancy", func(s *Seen) {
			s.Systolic, s.RestSystolic, s.Spinal, s.Pregnant = am("95 mm[Hg]"), am("120 mm[Hg]"), true, true
		}, "hypotension fallen-spinal"},
		{"spinal in pregnancy, at 80 %", func(s *Seen) {
			s.Systolic, s.RestSystolic, s.Spinal, s.Pregnant = am("96 mm[Hg]"), am("120 mm[Hg]"), true, true
		}, ""},
		{"spinal in a man", func(s *Seen) { s.Systolic, s.RestSystolic, s.Spinal = am("95 mm[Hg]"), am("120 mm[Hg]"), true }, ""},
		{"high", func(s *Seen) { s.Systolic = am("220 mm[Hg]") }, "hypertension high-for-age"},
		{"slow", func(s *Seen) { s.Pulse = am("50 /min") }, "bradycardia slow-for-age"},
		{"very slow", func(s *Seen) { s.Pulse = am("40 /min") }, "bradycardia slow-for-age!"},
		// Resuscitation Council UK 2021: a child's pulse under 60.
		{"slow in a child", func(s *Seen) { s.Pulse, s.PulseLow, s.Age = am("59 /min"), am("60 /min"), am("3 a") }, "bradycardia slow-for-age!"},
		{"slow in an infant", func(s *Seen) { s.Pulse, s.PulseLow, s.Age = am("80 /min"), am("100 /min"), am("3 a") }, "bradycardia slow-for-age"},
		{"at the limit in a child", func(s *Seen) { s.Pulse, s.PulseLow, s.Age = am("60 /min"), am("60 /min"), am("3 a") }, ""},
		{"at twelve years no child any more", func(s *Seen) { s.Pulse, s.PulseLow, s.Age = am("59 /min"), am("60 /min"), am("12 a") }, "bradycardia slow-for-age"},
		{"slow, and nobody knows the age", func(s *Seen) { s.Pulse, s.PulseLow = am("59 /min"), am("60 /min") }, "bradycardia slow-for-age"},
		{"fast", func(s *Seen) { s.Pulse = am("101 /min") }, "wrong-rhythm fast-for-age"},
		{"silent", func(s *Seen) { s.Breathing = term.BreathingSilent }, "airway-obstruction silent-chest! apnoea silent-chest!"},
		{"silent through a tube", func(s *Seen) { s.Breathing, s.AirwayClear = term.BreathingSilent, &yes }, "bronchospasm silent-chest! apnoea silent-chest!"},
		{"see-saw", func(s *Seen) { s.Breathing = term.BreathingSeeSaw }, "airway-obstruction see-saw-undecided!"},
		{"see-saw, blocked", func(s *Seen) { s.Chest, s.AirwayClear = term.ChestOpposite, &no }, "airway-obstruction see-saw-blocked!"},
		{"see-saw, clear", func(s *Seen) { s.Breathing, s.AirwayClear = term.BreathingSeeSaw, &yes }, "apnoea see-saw-clear!"},
		{"see-saw, clear, spinal", func(s *Seen) { s.Breathing, s.AirwayClear, s.Spinal = term.BreathingSeeSaw, &yes, true }, "high-spinal see-saw-clear!"},
		{"held", func(s *Seen) { s.Breathing = term.BreathingHeld }, "breath-holding breath-held"},
		{"severe first", func(s *Seen) { s.SpO2, s.Systolic = am("93 %"), am("70 mm[Hg]") }, "hypotension low-for-age! hypoxia low-saturation"},
	} {
		s := base
		x.is(&s)
		var got []string
		for _, o := range Offers(s, Defaults()) {
			w := o.Card + " " + string(o.Why)
			if o.Severe {
				w += "!"
			}
			if o.Source.Title == "" {
				t.Errorf("%s: %s has no source", x.name, w)
			}
			if Find(o.Card) == nil {
				t.Errorf("%s: there is no card %s", x.name, o.Card)
			}
			got = append(got, w)
		}
		if strings.Join(got, " ") != x.want {
			t.Errorf("%s: %q, want %q", x.name, strings.Join(got, " "), x.want)
		}
	}
}

// TestClinicsLimits: each threshold is the clinic's, and each side of it.
func TestClinicsLimits(t *testing.T) {
	am := quantity.MustParse
	base := Seen{SystolicLow: am("90 mm[Hg]"), SystolicSevere: am("80 mm[Hg]"), SystolicHigh: am("219 mm[Hg]"), PulseLow: am("51 /min"), PulseHigh: am("100 /min")}
	mmHg := func(n string) func(*Seen) { return func(s *Seen) { s.Systolic = am(n + " mm[Hg]") } }
	fell := func(n string) func(*Seen) {
		return func(s *Seen) { s.Systolic, s.RestSystolic = am(n+" mm[Hg]"), am("160 mm[Hg]") }
	}
	spinal := func(n string) func(*Seen) {
		return func(s *Seen) {
			s.Systolic, s.RestSystolic, s.Spinal, s.Pregnant = am(n+" mm[Hg]"), am("140 mm[Hg]"), true, true
		}
	}
	pulse := func(n string) func(*Seen) { return func(s *Seen) { s.Pulse = am(n + " /min") } }
	child := func(n string) func(*Seen) {
		return func(s *Seen) { s.Pulse, s.PulseLow, s.Age = am(n+" /min"), am("70 /min"), am("3 a") }
	}
	high := func(n string) func(*Seen) { return func(s *Seen) { s.SpO2, s.Altitude = am(n+" %"), am("3500 m") } }
	sat := func(n, rest string) func(*Seen) {
		return func(s *Seen) {
			s.SpO2 = am(n + " %")
			if rest != "" {
				s.RestSpO2 = am(rest + " %")
			}
		}
	}
	for _, x := range []struct {
		set   func(*Limits)
		is    func(*Seen)
		want  string
		other func(*Seen) // what the default would offer and this does not, or the other way
		also  string
	}{
		{func(l *Limits) { l.SpO2 = am("90 %") }, sat("89", ""), "hypoxia low-saturation", sat("90", ""), ""},
		{func(l *Limits) { l.SpO2Severe = am("3 %") }, sat("91", ""), "hypoxia low-saturation!", sat("92", ""), "hypoxia low-saturation"},
		{func(l *Limits) { l.SpO2Fall = am("3 %") }, sat("96", "99"), "hypoxia fallen-saturation", sat("97", "99"), ""},
		{func(l *Limits) { l.PressureFall = am("30 %") }, fell("112"), "hypotension fallen-pressure!", fell("113"), ""},
		{func(l *Limits) { l.SpinalLeft = am("90 %") }, spinal("125"), "hypotension fallen-spinal", spinal("126"), ""},
		{func(l *Limits) { l.SystolicLow = am("80 %") }, mmHg("71"), "hypotension low-for-age", mmHg("72"), ""},
		{func(l *Limits) { l.SystolicLow = am("80 %") }, mmHg("63"), "hypotension low-for-age!", mmHg("64"), "hypotension low-for-age"},
		{func(l *Limits) { l.SystolicHigh = am("80 %") }, mmHg("176"), "hypertension high-for-age", mmHg("175"), ""},
		{func(l *Limits) { l.PulseLow = am("90 %") }, pulse("45"), "bradycardia slow-for-age", pulse("46"), ""},
		{func(l *Limits) { l.PulseSevere = am("90 %") }, pulse("45"), "bradycardia slow-for-age!", pulse("46"), "bradycardia slow-for-age"},
		{func(l *Limits) { l.PulseHigh = am("120 %") }, pulse("121"), "wrong-rhythm fast-for-age", pulse("120"), ""},
		{func(l *Limits) { l.SystolicSevere = am("90 %") }, mmHg("71"), "hypotension low-for-age!", mmHg("72"), "hypotension low-for-age"},
		{func(l *Limits) { l.PulsePress = am("70 /min") }, child("69"), "bradycardia slow-for-age!", child("70"), ""},
		{func(l *Limits) { l.Child = am("3 a") }, pulse("50"), "bradycardia slow-for-age", child("59"), "bradycardia slow-for-age"},
		{func(l *Limits) { l.NoHeight = true }, high("93"), "hypoxia low-saturation", high("94"), ""},
		{func(l *Limits) { l.NoSigns = true }, sat("93", ""), "hypoxia low-saturation", func(s *Seen) { s.Breathing = term.BreathingSilent }, ""},
		// What a clinic left empty is the limit of the age.
		{func(l *Limits) { l.SystolicLow, l.PulseLow = quantity.Amount{}, quantity.Amount{} }, mmHg("89"), "hypotension low-for-age", mmHg("90"), ""},
	} {
		for is, want := range map[*func(*Seen)]string{&x.is: x.want, &x.other: x.also} {
			s, l := base, Defaults()
			(*is)(&s)
			x.set(&l)
			var got []string
			for _, o := range Offers(s, l) {
				w := o.Card + " " + string(o.Why)
				if o.Severe {
					w += "!"
				}
				got = append(got, w)
			}
			if strings.Join(got, " ") != want {
				t.Errorf("%+v of %+v: %q, want %q", s, l, strings.Join(got, " "), want)
			}
		}
	}
}

// The height never raises the limit, and no step of it is a jump.
func TestSpO2Limit(t *testing.T) {
	sea := Defaults().SpO2
	for _, x := range [][2]string{{"-100 m", "94 %"}, {"1500 m", "94 %"}, {"2000 m", "92 %"}, {"2500 m", "90 %"}, {"3500 m", "85 %"}, {"4500 m", "79 %"}, {"6000 m", "70 %"}} {
		if n, err := SpO2Limit(sea, quantity.MustParse(x[0])).Cmp(quantity.MustParse(x[1])); err != nil || n != 0 {
			t.Errorf("at %s it is %s, want %s", x[0], SpO2Limit(sea, quantity.MustParse(x[0])), x[1])
		}
	}
	rapid.Check(t, func(rt *rapid.T) {
		m := rapid.IntRange(-400, 5900).Draw(rt, "m")
		at := func(m int) float64 {
			f, err := SpO2Limit(sea, quantity.Amount{Value: quantity.DecimalFromInt(int64(m)), Unit: quantity.M}).Float64(quantity.Percent)
			if err != nil {
				rt.Fatal(err)
			}
			return f
		}
		if a, b := at(m), at(m+100); b > a || a-b > 1 {
			rt.Fatalf("%d m: %g, 100 m higher %g", m, a, b)
		}
	})
}
