package formulary

import (
	"slices"
	"testing"

	"chinlift/core/patient"
	"chinlift/core/quantity"
	"chinlift/core/term"
)

func TestJudge(t *testing.T) {
	f := clinic(t)
	adult := pt("40 a", "", "60 kg", "")
	for _, c := range []struct {
		name, dose string
		r          Request
		want       string
	}{
		{"within", "9 mg", Request{Drug: "morphine", Use: "premedication-im", Patient: adult}, ""},
		{"less than the rule exceeds nothing", "1 mg", Request{Drug: "morphine", Use: "premedication-im", Patient: adult}, ""},
		{"over the cap", "11 mg", Request{Drug: "morphine", Use: "premedication-im", Patient: adult}, "over-single"},
		{"over the range too", "13 mg", Request{Drug: "morphine", Use: "premedication-im", Patient: adult}, "over-single over-range"},
		{"over the range without a cap", "140 mg", Request{Drug: "ketamine", Use: "induction-iv", Patient: adult}, "over-range"},
		{"as a volume", "1.1 mL", Request{Drug: "morphine", Use: "premedication-im", Patient: adult}, "over-single"},
		{"as a volume of what was at hand", "0.7 mL", Request{Drug: "morphine", Use: "premedication-im", Patient: adult, Strength: am("15 mg/mL")}, "over-single"},
		{"over the reduced dose", "7 mg", Request{Drug: "morphine", Use: "premedication-im", Patient: pt("65 a", "", "60 kg", "")}, "over-reduced"},
		{"a stop", "4 mg", Request{Drug: "pethidine", Use: "analgesia-im", Patient: adult, With: []term.Condition{term.ConditionMaoi}}, "stop"},
		{"too soon", "1 mg", Request{Drug: "morphine", Use: "analgesia-iv", Patient: adult, Given: []Given{gave("morphine", "analgesia-iv", "1 mg", "4 min")}}, "too-soon"},
		{"over the totals", "9 mg", Request{Drug: "morphine", Use: "premedication-im", Patient: adult, Given: []Given{gave("morphine", "premedication-im", "16 mg", "3 h")}}, "over-total over-total too-soon"},
		{"up to the total", "8 mg", Request{Drug: "morphine", Use: "premedication-im", Patient: adult, Given: []Given{gave("morphine", "analgesia-iv", "16 mg", "3 h")}}, ""},
		{"over the group", "9 mg", Request{Drug: "morphine", Use: "premedication-im", Patient: adult, Given: []Given{gave("pethidine", "", "150 mg", "3 h")}}, "over-total"},
		{"over the sum of fractions", "100 mg", Request{Drug: "lidocaine", Use: "infiltration", Patient: adult, Given: []Given{gave("bupivacaine", "block", "60 mg", "1 h")}}, "over-fraction"},
		{"up to it", "90 mg", Request{Drug: "lidocaine", Use: "infiltration", Patient: adult, Given: []Given{gave("bupivacaine", "block", "60 mg", "1 h")}}, ""},
		{"an infusion", "50 ug/min", Request{Drug: "ketamine", Use: "infusion", Patient: adult}, ""},
		{"an infusion as a flow", "200 mL/h", Request{Drug: "ketamine", Use: "infusion", Patient: adult, Strength: am("1 mg/mL")}, "over-range"},
	} {
		v, err := f.Judge(c.r, am(c.dose))
		if err != nil || exceeds(v) != c.want {
			t.Errorf("%s: %s, %v; want %s", c.name, exceeds(v), err, c.want)
		}
		for _, e := range v.Exceeds {
			if e.Source.Title == "" || e.Dose.IsZero() || e.Limit.IsZero() != (e.Code == OverStop) || !slices.Contains(ExceedsCodes, e.Code) {
				t.Errorf("%s: %+v", c.name, e)
			}
		}
		// What somebody has in mind is judged alike.
		c.r.Wish = am(c.dose)
		if a := reckon(t, f, c.r); a.Wish == nil || exceeds(*a.Wish) != c.want {
			t.Errorf("%s: the wish %+v", c.name, a.Wish)
		}
	}
	v, err := f.Judge(Request{Drug: "morphine", Use: "premedication-im", Patient: adult, Given: []Given{gave("pethidine", "", "150 mg", "3 h")}}, am("9 mg"))
	if e := v.Exceeds[0]; err != nil || e.Dose.String() != "29 mg" || e.Limit.String() != "24 mg" || e.Of != string(Opioids) || v.Volume.String() != "0.9 mL" {
		t.Errorf("%+v, %v", v, err)
	}
	for _, c := range []struct{ field, code, dose string }{
		{"dose", patient.Missing, ""}, {"dose", patient.TooLow, "0 mg"}, {"dose", patient.TooLow, "-1 mg"}, {"dose", patient.WrongUnit, "1 mg/kg"}, {"dose", patient.WrongUnit, "1 h"},
	} {
		_, err := f.Judge(Request{Drug: "morphine", Use: "premedication-im", Patient: adult}, am(c.dose))
		refused(t, "judge "+c.dose, err, c.field, c.code)
	}
}

// TestVolumeOfWhat: a volume is judged only where there is no doubt of what it
// is a volume.
func TestVolumeOfWhat(t *testing.T) {
	f := clinic(t)
	p := pt("40 a", "", "60 kg", "")
	for _, c := range []struct {
		r          Request
		dose, want string // "" where the strength is asked for
	}{
		{Request{Drug: "atropine", Use: "slow-pulse"}, "1 mL", ""}, // 600 ug/mL or 1 mg/mL?
		{Request{Drug: "atropine", Use: "slow-pulse", Presentation: "1mg-1ml"}, "1 mL", "1 mg"},
		{Request{Drug: "atropine", Use: "slow-pulse", Strength: am("0.5 mg/mL")}, "1 mL", "0.5 mg"},
		{Request{Drug: "adrenaline", Use: "arrest"}, "10 mL", ""}, // 10 mg, or diluted?
		{Request{Drug: "adrenaline", Use: "arrest", Strength: am("0.1 mg/mL")}, "10 mL", "1 mg"},
		{Request{Drug: "adrenaline", Use: "anaphylaxis-im"}, "0.5 mL", "500 ug"},
		{Request{Drug: "ketamine", Use: "infusion", Strength: am("1 mg/mL")}, "126 mL/h", "2100 ug/min"},
		{Request{Drug: "lipid", Use: "poisoning"}, "90 mL", "90 mL"},
	} {
		c.r.Patient = p
		v, err := f.Judge(c.r, am(c.dose))
		if c.want == "" {
			refused(t, c.r.Drug, err, "strength", patient.Missing)
			continue
		}
		if err != nil || !equal(v.Dose, c.want) {
			t.Errorf("%s of %s: %s, %v; want %s", c.dose, c.r.Drug, v.Dose, err, c.want)
		}
	}
	// An amount needs no strength, and gets no volume where that is in doubt.
	if v, err := f.Judge(Request{Drug: "adrenaline", Use: "arrest", Patient: p}, am("1 mg")); err != nil || !v.Volume.IsZero() {
		t.Errorf("%+v, %v", v, err)
	}
}

// The premedication of a hundred years ago: morphine, 1/6 grain for a woman
// and 1/4 for a man, with atropine 1/100 grain, three quarters of an hour
// before. Common practice of its time, no source. Today's rules flag it.
func TestOldPremedication(t *testing.T) {
	f := clinic(t)
	grains := func(s string) quantity.Amount {
		a, err := quantity.ParseEntry(s, quantity.Grain)
		if err != nil {
			t.Fatal(err)
		}
		return a
	}
	for _, c := range []struct {
		drug, grains string
		sex          term.Sex
		weight       string
		mg           string
		much         Much
		time         Timing
		exceeds      string
	}{
		// 1 grain = 64.79891 mg (NIST Handbook 44, appendix C).
		{"morphine", "1/4 gr", term.SexMale, "70 kg", "16.199727 mg", More, Late, "over-single over-range"},
		{"morphine", "1/6 gr", term.SexFemale, "55 kg", "10.799818 mg", More, Late, "over-single"},
		{"morphine", "1/8 gr", term.SexFemale, "55 kg", "8.099863 mg", Less, Late, ""},
		{"atropine", "1/100 gr", term.SexMale, "70 kg", "647.9891 ug", More, InTime, "over-single over-range"},
		{"atropine", "1/150 gr", term.SexMale, "70 kg", "431.992733 ug", Right, InTime, ""},
	} {
		given := Given{Drug: c.drug, Use: "premedication-im", Dose: grains(c.grains), Ago: am("15 min")}
		p, err := f.WasGiven(Request{Drug: c.drug, Use: "premedication-im", Patient: pt("40 a", c.sex, c.weight, "")}, &given, am("30 min"))
		if err != nil || !equal(p.Dose, c.mg) || p.Much != c.much || p.Time != c.time || p.Before.String() != "45 min" || exceeds(Verdict{Exceeds: p.Exceeds}) != c.exceeds {
			t.Errorf("%s %s: %s, %s, %s, %s before, %v, %v; want %s, %s, %s, %s", c.drug, c.grains, p.Dose, p.Much, p.Time, p.Before, p.Exceeds, err, c.mg, c.much, c.time, c.exceeds)
		}
		if p.Source.Title == "" {
			t.Error("a range without its source")
		}
	}
	// To the milligram: 16.2 against 10, 0.65 against 0.6.
	v, err := f.Judge(Request{Drug: "morphine", Use: "premedication-im", Patient: pt("40 a", term.SexMale, "70 kg", "")}, grains("1/4 gr"))
	if err != nil || v.Exceeds[0].Dose.Round(1).String() != "16.2 mg" || v.Exceeds[0].Limit.String() != "10 mg" {
		t.Errorf("%+v, %v", v, err)
	}
	v, err = f.Judge(Request{Drug: "atropine", Use: "premedication-im", Patient: pt("40 a", term.SexMale, "70 kg", "")}, grains("1/100 gr"))
	if err != nil || v.Exceeds[0].Dose.Round(0).String() != "648 ug" || v.Exceeds[0].Limit.String() != "600 ug" {
		t.Errorf("%+v, %v", v, err)
	}
}

func TestWhenToGive(t *testing.T) {
	d := clinic(t).Find("morphine") // 60 to 90 minutes before; works after 15 to 30
	for _, c := range []struct {
		start, open, close string
		now                Timing
		low, high          string
	}{
		{"2 h", "30 min", "60 min", Early, "45 min", "60 min"},
		{"90 min", "0 min", "30 min", InTime, "15 min", "30 min"},
		{"75 min", "-15 min", "15 min", InTime, "15 min", "30 min"},
		{"60 min", "-30 min", "0 min", InTime, "15 min", "30 min"},
		{"45 min", "-45 min", "-15 min", Late, "15 min", "30 min"},
		{"-10 min", "-100 min", "-70 min", Late, "15 min", "30 min"},
	} {
		w, err := d.WhenToGive("premedication-im", am(c.start))
		if err != nil || w.Open.String() != c.open || w.Close.String() != c.close || w.Now != c.now || w.Works.Low.String() != c.low || w.Works.High.String() != c.high || w.Source.Title == "" {
			t.Errorf("start in %s: %+v, %v; want %+v", c.start, w, err, c)
		}
	}
	_, err := d.WhenToGive("analgesia-iv", am("1 h"))
	refused(t, "no window", err, "use", patient.NoRule)
	_, err = d.WhenToGive("sleep", am("1 h"))
	refused(t, "no use", err, "use", Unknown)
	_, err = d.WhenToGive("premedication-im", quantity.Amount{})
	refused(t, "no start", err, "start", patient.Missing)
	_, err = d.WhenToGive("premedication-im", am("1 kg"))
	refused(t, "a start in kg", err, "start", patient.WrongUnit)
}

func TestWasGiven(t *testing.T) {
	f := clinic(t)
	r := Request{Drug: "morphine", Use: "premedication-im", Patient: pt("40 a", "", "60 kg", "")} // 9 to 10 mg
	for _, c := range []struct {
		dose, strength, ago, start string
		much                       Much
		time                       Timing
	}{
		{"9 mg", "", "60 min", "15 min", Right, InTime},
		{"10 mg", "", "80 min", "10 min", Right, InTime},
		{"8 mg", "", "80 min", "11 min", Less, Early},
		{"1 mL", "15 mg/mL", "10 min", "20 min", More, Late},
		{"0.9 mL", "", "70 min", "-10 min", Right, InTime},
		{"9 mg", "", "", "15 min", Right, NoTime},
	} {
		g := Given{Drug: "morphine", Use: "premedication-im", Dose: am(c.dose), Strength: am(c.strength), Ago: am(c.ago)}
		p, err := f.WasGiven(r, &g, am(c.start))
		if err != nil || p.Much != c.much || p.Time != c.time || p.Window.Low.String() != "60 min" {
			t.Errorf("%s %s ago, start in %s: %s, %s, %v; want %s, %s", c.dose, c.ago, c.start, p.Much, p.Time, err, c.much, c.time)
		}
	}
	p, err := f.WasGiven(r, nil, am("15 min"))
	if err != nil || p.Much != Nothing || p.Time != NotGiven || p.Low.String() != "9 mg" || p.High.String() != "10 mg" {
		t.Errorf("%+v, %v", p, err)
	}
	g := gave("midazolam", "sedation-iv", "2 mg", "5 min")
	if p, err = f.WasGiven(Request{Drug: "midazolam", Use: "sedation-iv", Patient: pt("40 a", "", "60 kg", "")}, &g, am("0 min")); err != nil || p.Time != NoWindow || p.Much != Right {
		t.Errorf("%+v, %v", p, err)
	}
	g.Ago = am("-5 min")
	_, err = f.WasGiven(r, &Given{Dose: am("9 mg"), Ago: am("-5 min")}, am("15 min"))
	refused(t, "given in time to come", err, "ago", patient.TooLow)
	_, err = f.WasGiven(r, &Given{Dose: am("9 mg"), Ago: am("5 kg")}, am("15 min"))
	refused(t, "given 5 kg ago", err, "ago", patient.WrongUnit)
	_, err = f.WasGiven(r, &Given{Dose: am("1 mL"), Strength: am("1 [IU]/mL"), Ago: am("5 min")}, am("15 min"))
	refused(t, "units of another kind", err, "strength", patient.WrongUnit)
	_, err = f.WasGiven(r, nil, quantity.Amount{})
	refused(t, "no start", err, "start", patient.Missing)
}

func TestArithmetic(t *testing.T) {
	a := func(x quantity.Amount, err error) string {
		if err != nil {
			return err.Error()
		}
		return x.String()
	}
	for _, c := range []struct{ got, want string }{
		// 1 % is 10 mg/mL, 1:1000 is 1 mg/mL, 1:10 000 0.1, 1:200 000 5 ug/mL: a percentage is g in 100 mL.
		{a(StrengthOf("1 %")), "10 mg/mL"}, {a(StrengthOf("0.5%")), "5 mg/mL"}, {a(StrengthOf("1:1000")), "1 mg/mL"},
		{a(StrengthOf("1:10 000")), "0.1 mg/mL"}, {a(StrengthOf("1:200 000")), "0.005 mg/mL"},
		{a(VolumeOf(am("500 ug"), am("1 mg/mL"))), "0.5 mL"}, {a(VolumeOf(am("5 [IU]"), am("10 [IU]/mL"))), "0.5 mL"}, {a(VolumeOf(am("1 mg"), am("3 mg/mL"))), "0.333 mL"},
		{a(VolumeOf(am("10 mmol"), am("1 mmol/mL"))), "10 mL"},
		// 500 ug of adrenaline are 100 mL of 1:200 000.
		{a(VolumeOf(am("500 ug"), am("5 ug/mL"))), "100 mL"},
		// Drops a minute = rate x weight x drops per mL / strength: 70 kg, 30 ug/kg/min, 1 mg/mL, 20 drops: 42.
		{a(FlowOf(am("30 ug/kg/min"), am("70 kg"), am("1 mg/mL"))), "126 mL/h"}, {a(DropsOf(am("126 mL/h"), am("20 {drop}/mL"))), "42 {drop}/min"},
		{a(FlowOf(am("40 [IU]/h"), quantity.Amount{}, am("0.08 [IU]/mL"))), "500 mL/h"}, {a(FlowOf(am("15 mL/kg/h"), am("70 kg"), quantity.Amount{})), "1050 mL/h"},
		{a(FlowOf(am("1 g/h"), quantity.Amount{}, am("200 mg/mL"))), "5 mL/h"}, {a(DropsOf(am("1 L/h"), am("60 {drop}/mL"))), "1000 {drop}/min"},
		{a(DropsOf(am("10 mL/h"), am("15 {drop}/mL"))), "3 {drop}/min"},
	} {
		if c.got != c.want {
			t.Errorf("%s, want %s", c.got, c.want)
		}
	}
	if take, add, err := Dilute(am("30 mg/mL"), am("3 mg/mL"), am("10 mL")); err != nil || take.String() != "1 mL" || add.String() != "9 mL" {
		t.Errorf("take %s, add %s, %v", take, add, err)
	}
	if take, add, err := Dilute(am("10 mg/mL"), am("10 mg/mL"), am("5 mL")); err != nil || take.String() != "5 mL" || add.String() != "0 mL" {
		t.Errorf("take %s, add %s, %v", take, add, err)
	}
	// 20 kg, bupivacaine 0.5 %, 2 mg/kg: 40 mg, 8 mL.
	if l, err := LocalMaximum(am("2 mg/kg"), am("150 mg"), am("20 kg"), am("5 mg/mL")); err != nil || l.Dose.String() != "40 mg" || l.Volume.String() != "8 mL" {
		t.Errorf("%+v, %v", l, err)
	}
	second := func(_ quantity.Amount, err error) error { return err }
	third := func(_, _ quantity.Amount, err error) error { return err }
	local := func(_ LocalLimit, err error) error { return err }
	none := quantity.Amount{}
	for _, c := range []struct {
		err         error
		field, code string
	}{
		{second(StrengthOf("strong")), "label", Unknown}, {second(StrengthOf("1:0")), "label", Unknown}, {second(StrengthOf("")), "label", Unknown},
		{second(VolumeOf(none, am("1 mg/mL"))), "dose", patient.Missing}, {second(VolumeOf(am("1 mg"), none)), "strength", patient.Missing},
		{second(VolumeOf(am("1 mg"), am("0 mg/mL"))), "strength", patient.TooLow}, {second(VolumeOf(am("1 mg"), am("1 [IU]/mL"))), "strength", patient.WrongUnit},
		{second(VolumeOf(am("1 mg/kg"), am("1 mg/mL"))), "dose", patient.WrongUnit}, {second(VolumeOf(am("-1 mg"), am("1 mg/mL"))), "dose", patient.TooLow},
		{second(FlowOf(none, none, none)), "rate", patient.Missing}, {second(FlowOf(am("1 mg"), none, none)), "rate", patient.WrongUnit},
		{second(FlowOf(am("1 mg/kg/h"), none, am("1 mg/mL"))), "weight", patient.Missing}, {second(FlowOf(am("1 mg/kg/h"), am("700 kg"), am("1 mg/mL"))), "weight", patient.TooHigh},
		{second(FlowOf(am("1 mg/h"), none, none)), "strength", patient.Missing}, {second(FlowOf(am("0 mg/h"), none, am("1 mg/mL"))), "rate", patient.TooLow},
		{second(DropsOf(none, am("20 {drop}/mL"))), "flow", patient.Missing}, {second(DropsOf(am("1 mL/h"), none)), "set", patient.Missing}, {second(DropsOf(am("1 mL"), am("20 {drop}/mL"))), "flow", patient.WrongUnit},
		{third(Dilute(none, am("1 mg/mL"), am("10 mL"))), "from", patient.Missing}, {third(Dilute(am("1 mg/mL"), am("2 mg/mL"), am("10 mL"))), "to", patient.TooHigh},
		{third(Dilute(am("1 mg/mL"), am("1 [IU]/mL"), am("10 mL"))), "to", patient.WrongUnit}, {third(Dilute(am("2 mg/mL"), am("1 mg/mL"), am("0 mL"))), "total", patient.TooLow},
		{local(LocalMaximum(none, none, am("70 kg"), am("1 mg/mL"))), "per_kg", patient.Missing}, {local(LocalMaximum(am("3 mg/kg"), none, none, am("1 mg/mL"))), "weight", patient.Missing},
		{local(LocalMaximum(am("3 mg/kg"), none, am("0 kg"), am("1 mg/mL"))), "weight", patient.TooLow}, {local(LocalMaximum(am("3 mg/kg"), am("0 mg"), am("70 kg"), am("1 mg/mL"))), "most", patient.TooLow},
		{local(LocalMaximum(am("3 mg/kg"), none, am("70 kg"), none)), "strength", patient.Missing},
	} {
		refused(t, c.field, c.err, c.field, c.code)
	}
}
