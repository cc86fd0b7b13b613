package formulary

import (
	"slices"
	"strings"
	"testing"

	"chinlift/core/patient"
	"chinlift/core/quantity"
	"chinlift/core/term"
)

// TestReckon works out doses of the fixtures, whose numbers are chosen to be
// worked out in the head.
func TestReckon(t *testing.T) {
	f := clinic(t)
	ill := []term.Condition{term.ConditionGravelyIll}
	for _, c := range []struct {
		name                 string
		r                    Request
		low, high, suggested string
		volume               string // mL, "1 1" pieces, or a flow
		steps                string // that must be among the steps, in this order
	}{
		{"by weight", Request{Drug: "morphine", Use: "premedication-im", Patient: pt("40 a", "", "60 kg", "")},
			"9 mg", "10 mg", "9 mg", "0.9 mL", "rule weight per-kg capped:most volume"},
		{"the cap", Request{Drug: "morphine", Use: "premedication-im", Patient: pt("40 a", "", "70 kg", "")},
			"10 mg", "10 mg", "10 mg", "1 mL", "per-kg capped:most volume"},
		{"a child's band", Request{Drug: "morphine", Use: "premedication-im", Patient: pt("5 a", "", "20 kg", "")},
			"1 mg", "2 mg", "1 mg", "0.1 mL", "rule per-kg volume"},
		{"a band ends before its upper age", Request{Drug: "morphine", Use: "premedication-im", Patient: pt("144 mo", "", "40 kg", "")},
			"6 mg", "8 mg", "6 mg", "0.6 mL", ""},
		{"halved over 60", Request{Drug: "morphine", Use: "premedication-im", Patient: pt("65 a", "", "60 kg", "")},
			"4.5 mg", "6 mg", "4.5 mg", "0.45 mL", "per-kg reduced:over-60 reduced-to volume"},
		{"reductions multiply, not under 0.2", Request{Drug: "morphine", Use: "premedication-im", Patient: pt("80 a", "", "60 kg", ""), With: ill},
			"1.8 mg", "2.4 mg", "1.8 mg", "0.18 mL", "reduced:over-75 reduced:gravely-ill floor reduced-to"},
		{"reduced first, capped then", Request{Drug: "morphine", Use: "premedication-im", Patient: pt("65 a", "", "120 kg", "")},
			"9 mg", "10 mg", "9 mg", "0.9 mL", "reduced:over-60 reduced-to capped:most"},
		{"with a sedative within 4 h", Request{Drug: "morphine", Use: "premedication-im", Patient: pt("40 a", "", "60 kg", ""), Given: []Given{gave("midazolam", "", "2 mg", "239 min")}},
			"4.5 mg", "6 mg", "4.5 mg", "0.45 mL", "reduced:with-sedative"},
		{"a sedative 4 h ago", Request{Drug: "morphine", Use: "premedication-im", Patient: pt("40 a", "", "60 kg", ""), Given: []Given{gave("midazolam", "", "2 mg", "4 h")}},
			"9 mg", "10 mg", "9 mg", "0.9 mL", ""},
		{"a sedative, nobody knows when", Request{Drug: "morphine", Use: "premedication-im", Patient: pt("40 a", "", "60 kg", ""), Given: []Given{gave("midazolam", "", "2 mg", "")}},
			"4.5 mg", "6 mg", "4.5 mg", "0.45 mL", "reduced:with-sedative"},
		{"titrated from the low end", Request{Drug: "midazolam", Use: "sedation-iv", Patient: pt("40 a", "", "70 kg", "")},
			"1 mg", "2.5 mg", "1 mg", "1 mL", ""},
		{"a least dose", Request{Drug: "atropine", Use: "premedication-im", Patient: pt("3 mo", "", "5 kg", "")},
			"100 ug", "100 ug", "96 ug", "0.16 mL", "least"},

		// The weight that a dose goes by. Devine: 45.5 + 2.3 x (160/2.54 - 60) = 52.4 kg; a fifth more is 62.88.
		{"a fifth over the ideal weight", Request{Drug: "ketamine", Use: "induction-iv", Patient: pt("40 a", term.SexFemale, "100 kg", "160 cm")},
			"62.88 mg", "125.76 mg", "60 mg", "1.2 mL", "weight-cut per-kg rounded-down"},
		{"length not known", Request{Drug: "ketamine", Use: "induction-iv", Patient: pt("40 a", term.SexFemale, "100 kg", "")},
			"100 mg", "200 mg", "100 mg", "2 mL", "weight per-kg"},
		{"sex not known", Request{Drug: "ketamine", Use: "induction-iv", Patient: pt("40 a", "", "100 kg", "160 cm")},
			"100 mg", "200 mg", "100 mg", "2 mL", "weight per-kg"},
		{"a child has no ideal weight", Request{Drug: "ketamine", Use: "induction-iv", Patient: pt("10 a", term.SexFemale, "60 kg", "160 cm")},
			"60 mg", "120 mg", "60 mg", "1.2 mL", "weight per-kg"},
		{"under it the weight itself", Request{Drug: "ketamine", Use: "induction-iv", Patient: pt("40 a", term.SexFemale, "50 kg", "160 cm")},
			"50 mg", "100 mg", "50 mg", "1 mL", "weight per-kg"},
		{"the ideal weight", Request{Drug: "thiopental", Use: "induction-iv", Patient: pt("40 a", term.SexFemale, "100 kg", "160 cm")},
			"157.2 mg", "262 mg", "200 mg", "8 mL", "weight-ideal per-kg dissolve:500mg-powder volume rounded-down"},

		// Rounding and dilution.
		{"down to a mark", Request{Drug: "pethidine", Use: "analgesia-im", Patient: pt("40 a", "", "58 kg", "")},
			"29 mg", "58 mg", "55 mg", "1.1 mL", "volume rounded-down"},
		{"a tenth lost calls for a dilution", Request{Drug: "morphine", Use: "analgesia-iv", Patient: pt("6 mo", "", "5 kg", "")},
			"0.125 mg", "0.25 mg", "0.12 mg", "0.12 mL", "dilution:sodium-chloride volume rounded-down"},
		{"one in 10 where the file has no dilution", Request{Drug: "atropine", Use: "premedication-im", Patient: pt("30 a", "", "50 kg", ""), Syringes: []quantity.Amount{am("5 mL")}},
			"300 ug", "600 ug", "300 ug", "5 mL", "dilution diluent-open volume"},
		{"pieces", Request{Drug: "paracetamol", Use: "analgesia-oral", Patient: pt("40 a", "", "70 kg", "")},
			"500 mg", "1 g", "1 g", "2 1", "pieces:tablet"},
		{"half a piece", Request{Drug: "paracetamol", Use: "analgesia-oral", Patient: pt("6 a", "", "20 kg", "")},
			"200 mg", "300 mg", "250 mg", "0.5 1", "pieces:tablet"},
		{"not half a piece: the syrup", Request{Drug: "paracetamol", Use: "analgesia-oral", Patient: pt("5 mo", "", "6 kg", "")},
			"60 mg", "90 mg", "86.4 mg", "3.6 mL", "volume rounded-down"},
		{"an ampoule is not for the mouth, nor a syrup for the vein", Request{Drug: "paracetamol", Use: "analgesia-iv", Patient: pt("40 a", "", "40 kg", "")},
			"600 mg", "600 mg", "600 mg", "60 mL", "volume"},
		{"what is at hand", Request{Drug: "morphine", Use: "premedication-im", Patient: pt("40 a", "", "60 kg", ""), Strength: am("15 mg/mL")},
			"9 mg", "10 mg", "9 mg", "0.6 mL", ""},
		{"the other ampoule", Request{Drug: "atropine", Use: "premedication-im", Patient: pt("40 a", "", "60 kg", ""), Presentation: "1mg-1ml"},
			"300 ug", "600 ug", "300 ug", "0.3 mL", ""},
		{"a volume is the dose", Request{Drug: "lipid", Use: "poisoning", Patient: pt("40 a", "", "70 kg", "")},
			"105 mL", "105 mL", "105 mL", "105 mL", "volume"},
		{"international units", Request{Drug: "oxytocin", Use: "third-stage", Patient: pt("30 a", term.SexFemale, "60 kg", ""), Route: term.RouteIm},
			"3 [IU]", "5 [IU]", "3 [IU]", "0.3 mL", ""},
		{"a vapour", Request{Drug: "halothane", Use: "maintenance", Patient: pt("30 a", "", "", "")},
			"0.5 %", "2 %", "0.5 %", "", ""},
		// 30 ug/kg/min x 70 kg = 2.1 mg/min = 126 mL/h of 1 mg/mL.
		{"an infusion", Request{Drug: "ketamine", Use: "infusion", Patient: pt("30 a", "", "70 kg", "")},
			"2100 ug/min", "3150 ug/min", "2100 ug/min", "126 mL/h", "dilution:sodium-chloride flow"},
		// Association of Anaesthetists, severe local anaesthetic toxicity, 2010: 15 mL/kg/h is about 1000 mL/h for 70 kg.
		{"an infusion by volume", Request{Drug: "lipid", Use: "infusion", Patient: pt("30 a", "", "70 kg", "")},
			"1050 mL/h", "2100 mL/h", "1050 mL/h", "1050 mL/h", "flow"},

		// Rescue: nothing reduces it, and it is rounded to the nearest mark.
		{"never reduced", Request{Drug: "atropine", Use: "slow-pulse", Patient: pt("80 a", "", "60 kg", ""), With: ill},
			"0.5 mg", "1 mg", "0.498 mg", "0.83 mL", "volume rounded"},
		{"weak enough for a vein", Request{Drug: "adrenaline", Use: "arrest", Patient: pt("1 a", "", "10 kg", "")},
			"100 ug", "100 ug", "100 ug", "1 mL", "dilution:sodium-chloride volume"},
		{"a tenth off at most", Request{Drug: "adrenaline", Use: "anaphylaxis-im", Patient: pt("1 a", "", "22 kg", ""), Syringes: []quantity.Amount{am("5 mL")}},
			"220 ug", "220 ug", "200 ug", "0.2 mL", "rounded"},
		{"more than a tenth off", Request{Drug: "adrenaline", Use: "anaphylaxis-im", Patient: pt("1 a", "", "23 kg", ""), Syringes: []quantity.Amount{am("5 mL")}},
			"230 ug", "230 ug", "240 ug", "2.4 mL", "dilution:sodium-chloride volume rounded"},
		// Under 0.1 mL what the hub of the needle holds is as much as the dose: common practice, no source.
		{"too little to draw up", Request{Drug: "adrenaline", Use: "anaphylaxis-im", Patient: pt("2 d", "", "3.3 kg", "")},
			"33 ug", "33 ug", "33 ug", "0.33 mL", "dilution:sodium-chloride volume"},
		{"to the nearest, upwards", Request{Drug: "adrenaline", Use: "anaphylaxis-im", Patient: pt("1 a", "", "9.6 kg", "")},
			"96 ug", "96 ug", "100 ug", "0.1 mL", "rounded"},

		{"a stop: nothing is suggested", Request{Drug: "morphine", Use: "premedication-im", Patient: pt("40 a", "", "60 kg", ""), With: []term.Condition{term.ConditionShock}},
			"4.5 mg", "6 mg", "", "", "stopped:shock-by-vein-only"},
	} {
		a, err := f.Reckon(c.r)
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		got := a.Pieces
		if a.Draw != nil && !a.Draw.Volume.IsZero() {
			got = a.Draw.Volume
		}
		if !a.Flow.IsZero() {
			got = a.Flow
		}
		if !equal(a.Low, c.low) || !equal(a.High, c.high) || !equal(a.Suggested, c.suggested) || !equal(got, c.volume) {
			t.Errorf("%s: %s to %s, %s in %s; want %s to %s, %s in %s\n%s", c.name, a.Low, a.High, a.Suggested, got, c.low, c.high, c.suggested, c.volume, stepCodes(a))
		}
		rest := " " + stepCodes(a) + " "
		for _, want := range strings.Fields(c.steps) {
			_, after, ok := strings.Cut(rest, " "+want+" ")
			if !ok {
				t.Errorf("%s: no step %s, or not there: %s", c.name, want, stepCodes(a))
				break
			}
			rest = " " + after
		}
		if a.Hash != f.Find(c.r.Drug).Use(c.r.Use).Hash() || a.Hash == "" {
			t.Errorf("%s: hash %q", c.name, a.Hash)
		}
		if s := a.Steps[0]; s.Code != StepRule || s.Source.Title == "" || s.Source.Mark == "" {
			t.Errorf("%s: the rule without its source: %+v", c.name, s)
		}
		for _, s := range a.Steps {
			if !slices.Contains(StepCodes, s.Code) {
				t.Errorf("step %s is not in the list", s.Code)
			}
		}
	}
}

func TestRecipes(t *testing.T) {
	f := clinic(t)
	for _, c := range []struct {
		name string
		r    Request
		want Dilution
	}{
		{"the whole ampoule", Request{Drug: "morphine", Use: "analgesia-iv", Patient: pt("6 mo", "", "5 kg", "")},
			Dilution{Take: am("1 mL"), Add: am("9 mL"), Total: am("10 mL"), With: "sodium-chloride"}},
		{"what the syringe holds, where nobody knows the ampoule", Request{Drug: "adrenaline", Use: "arrest", Patient: pt("40 a", "", "60 kg", ""), Strength: am("2 mg/mL")},
			Dilution{Take: am("0.5 mL"), Add: am("9.5 mL"), Total: am("10 mL")}},
		{"a bag", Request{Drug: "ketamine", Use: "infusion", Patient: pt("40 a", "", "60 kg", "")},
			Dilution{Take: am("10 mL"), Add: am("490 mL"), Total: am("500 mL"), With: "sodium-chloride"}},
		// 0.025 mg/kg of 0.6 kg are 0.0003 mL of 50 mg/mL, and 0.03 mL of one in 100.
		{"one in 100", Request{Drug: "morphine", Use: "analgesia-iv", Patient: pt("1 d", "", "0.6 kg", ""), Strength: am("50 mg/mL")},
			Dilution{Take: am("0.5 mL"), Add: am("49.5 mL"), Total: am("50 mL")}},
		// 0.1 mL of an ampoule would do for a syringe, but is hardly to be measured: the whole of it, into a bag.
		{"the whole ampoule into a bag", Request{Drug: "adrenaline", Use: "low-pressure-iv", Patient: pt("40 a", "", "60 kg", "")},
			Dilution{Take: am("1 mL"), Add: am("99 mL"), Total: am("100 mL"), With: "sodium-chloride"}},
	} {
		a := reckon(t, f, c.r)
		if a.Draw == nil || a.Draw.Dilution == nil {
			t.Errorf("%s: no dilution: %s", c.name, stepCodes(a))
			continue
		}
		d := *a.Draw.Dilution
		if d.Take != c.want.Take || d.Add != c.want.Add || d.Total != c.want.Total || d.With != c.want.With {
			t.Errorf("%s: take %s, add %s of %q, %s in all; want %+v", c.name, d.Take, d.Add, d.With, d.Total, c.want)
		}
		// Take at From gives Total at Strength, and the dose is in it.
		if in(d.Take, quantity.ML).Times(in(d.From, quantity.MgPerML)).Cmp(in(d.Total, quantity.ML).Times(in(d.Strength, quantity.MgPerML))) != 0 {
			t.Errorf("%s: %s of %s is not %s of %s", c.name, d.Take, d.From, d.Total, d.Strength)
		}
		if (d.With == "") != hasStep(a, StepDiluentOpen, "") {
			t.Errorf("%s: with %q: %s", c.name, d.With, stepCodes(a))
		}
	}
	// What may not be diluted is not: 0.04 mg of a syrup of 24 mg/mL.
	g, err := f.With(map[string][]byte{"paracetamol": []byte(strings.NewReplacer("mass = [\"3 kg\"", "mass = [\"0.3 kg\"", "usual = \"15 mg/kg\"", "usual = \"0.02 mg/kg\"", "low = \"10 mg/kg\"", "low = \"0.02 mg/kg\"").Replace(fixture(t, "paracetamol")))})
	if err != nil {
		t.Fatal(err)
	}
	a := reckon(t, g, Request{Drug: "paracetamol", Use: "analgesia-oral", Patient: pt("1 d", "", "2 kg", "")})
	if !a.Suggested.IsZero() || a.Draw != nil || !hasStep(a, StepUnmeasurable, "") {
		t.Errorf("not to be measured: %s from %+v: %s", a.Suggested, a.Draw, stepCodes(a))
	}
}

// TestTinyVolumes: what may not be diluted is drawn up however little it is,
// and a limit is told as finely as it can be drawn.
func TestTinyVolumes(t *testing.T) {
	f := clinic(t)
	g, err := f.With(map[string][]byte{"paracetamol": []byte(strings.NewReplacer("mass = [\"3 kg\"", "mass = [\"0.3 kg\"", "usual = \"15 mg/kg\"", "usual = \"0.6 mg/kg\"", "low = \"10 mg/kg\"", "low = \"0.6 mg/kg\"").Replace(fixture(t, "paracetamol")))})
	if err != nil {
		t.Fatal(err)
	}
	a := reckon(t, g, Request{Drug: "paracetamol", Use: "analgesia-oral", Patient: pt("1 d", "", "2 kg", "")})
	if a.Draw == nil || a.Draw.Volume.String() != "0.05 mL" || a.Draw.Dilution != nil {
		t.Errorf("0.05 mL of a syrup: %+v", a.Draw)
	}
	// 3 mg/kg of 1.07 kg are 3.21 mg: 0.321 mL of 10 mg/mL.
	a = reckon(t, f, Request{Drug: "lidocaine", Use: "infiltration", Patient: pt("1 d", "", "1.07 kg", "")})
	if a.LimitVolume.String() != "0.32 mL" {
		t.Errorf("the most is %s", a.LimitVolume)
	}
}

// TestVials counts the vials of a powder of 500 mg, dissolved in 20 mL.
func TestVials(t *testing.T) {
	f := clinic(t)
	for _, c := range []struct {
		weight, strength string
		vials            int
	}{
		{"100 kg", "", 1}, {"125 kg", "", 1}, {"125 kg", "50 mg/mL", 0}, // 4 mg/kg
	} {
		a := reckon(t, f, Request{Drug: "thiopental", Use: "induction-iv", Patient: pt("40 a", "", c.weight, ""), Strength: am(c.strength)})
		if a.Draw == nil || a.Draw.Vials != c.vials {
			t.Errorf("%s: %+v, want %d", c.weight, a.Draw, c.vials)
		}
	}
	b := builtins(t)
	for _, c := range []struct {
		weight string
		vials  int
	}{
		// 2.5 mg/kg in vials of 20 mg: Rosenberg and others, Orphanet Journal of Rare Diseases 10:93, 2015, table 2.
		{"8 kg", 1}, {"8.5 kg", 2}, {"70 kg", 9}, {"72 kg", 9}, {"73 kg", 10}, {"100 kg", 13},
	} {
		a := reckon(t, b, Request{Drug: "dantrolene", Use: "first-iv", Patient: pt("30 a", "", c.weight, "")})
		if a.Draw == nil || a.Draw.Vials != c.vials {
			t.Errorf("dantrolene for %s: %+v, want %d vials", c.weight, a.Draw, c.vials)
		}
	}
	// A dilution of a dissolved powder takes one.
	a := reckon(t, b, Request{Drug: "vecuronium", Use: "top-up-iv", Patient: pt("40 d", "", "3 kg", ""), With: []term.Condition{term.ConditionVentilated}})
	if a.Draw == nil || a.Draw.Dilution == nil || a.Draw.Vials != 1 {
		t.Errorf("vecuronium, diluted: %+v", a.Draw)
	}
}

func TestSyringes(t *testing.T) {
	// The marks: 1 mL 0.01, 2 mL 0.1, 5 mL 0.2, 10 mL 0.5, 20 mL 1; common
	// practice, no source. Morphine, 10 mg/mL, so that mg are tenths of mL.
	f := clinic(t)
	for _, c := range []struct{ weight, volume, syringe, mark string }{
		{"4 kg", "0.13 mL", "1 mL", "0.01 mL"}, {"39 kg", "1.3 mL", "2 mL", "0.1 mL"}, {"99 kg", "3.2 mL", "5 mL", "0.2 mL"},
		{"200 kg", "6.5 mL", "10 mL", "0.5 mL"}, {"400 kg", "13 mL", "20 mL", "1 mL"},
	} {
		// Ketamine 1 mg/kg, 30 mg/mL at hand.
		a := reckon(t, f, Request{Drug: "ketamine", Use: "induction-iv", Patient: pt("40 a", "", c.weight, ""), Strength: am("30 mg/mL")})
		if d := a.Draw; d == nil || d.Volume.String() != c.volume || d.Syringe.String() != c.syringe || d.Mark.String() != c.mark {
			t.Errorf("%s: %+v, want %s in %s with marks of %s", c.weight, d, c.volume, c.syringe, c.mark)
		}
	}
	// Nobody draws over 50 mL into a syringe: none is named.
	for weight, named := range map[string]bool{"33 kg": true, "34 kg": false} { // 1.5 mL/kg
		a := reckon(t, f, Request{Drug: "lipid", Use: "poisoning", Patient: pt("40 a", "", weight, "")})
		if a.Draw == nil || a.Draw.Volume.IsZero() || a.Draw.Syringe.IsZero() == named || a.Draw.Mark.IsZero() == named {
			t.Errorf("%s: %+v", weight, a.Draw)
		}
	}
}

func TestSaysWhatItTakesForGranted(t *testing.T) {
	f := clinic(t)
	p := pt("", "", "70 kg", "")
	p.WeightBy = term.WeightByEye
	a := reckon(t, f, Request{Drug: "morphine", Use: "premedication-im", Patient: p})
	for _, want := range []patient.Assumption{patient.AdultAssumed, patient.WeightByEye} {
		if !slices.Contains(a.Assumptions, want) {
			t.Errorf("no assumption %s: %v", want, a.Assumptions)
		}
	}
	if !slices.Contains(a.Cautions, patient.WeighIfPossible) || !slices.Contains(a.Cautions, patient.Estimate) {
		t.Errorf("cautions %v", a.Cautions)
	}
	if a := reckon(t, f, Request{Drug: "morphine", Use: "premedication-im", Patient: pt("8 a", "", "70 kg", "")}); !slices.Contains(a.Cautions, patient.WeightFarFromAge) {
		t.Errorf("70 kg at 8 years: %v", a.Cautions)
	}
	// What the file says of alerts and of giving.
	a = reckon(t, f, Request{Drug: "midazolam", Use: "sedation-iv", Patient: pt("30 a", "", "70 kg", "")})
	if a.Over.Low.String() != "30 s" || a.Over.High.String() != "1 min" {
		t.Errorf("over %v", a.Over)
	}
	for _, c := range []struct {
		r    Request
		want string
	}{
		{Request{Drug: "morphine", Use: "premedication-im", With: []term.Condition{term.ConditionShock}}, "stop:shock-by-vein-only caution:watch-the-breathing"},
		{Request{Drug: "morphine", Use: "analgesia-iv", With: []term.Condition{term.ConditionShock}}, "caution:watch-the-breathing"},
		{Request{Drug: "neostigmine", Use: "reversal-iv"}, "stop:no-anticholinergic stop:not-recovering"},
		{Request{Drug: "neostigmine", Use: "reversal-iv", With: []term.Condition{term.ConditionRecovering}}, "stop:no-anticholinergic"},
		{Request{Drug: "neostigmine", Use: "reversal-iv", With: []term.Condition{term.ConditionRecovering}, Given: []Given{gave("atropine", "", "1 mg", "2 min")}}, ""},
		{Request{Drug: "neostigmine", Use: "reversal-iv", With: []term.Condition{term.ConditionRecovering}, Given: []Given{gave("atropine", "", "1 mg", "31 min")}}, "stop:no-anticholinergic"},
		{Request{Drug: "adrenaline", Use: "arrest", Agents: []term.Agent{term.AgentHalothane}}, "caution:halothane"},
		{Request{Drug: "adrenaline", Use: "arrest", Agents: []term.Agent{term.AgentEther}}, ""},
		{Request{Drug: "halothane", Use: "maintenance", Hazards: []term.Hazard{term.HazardFlame}}, "caution:flame"},
		{Request{Drug: "oxytocin", Use: "third-stage"}, "stop:women-only"},
		{Request{Drug: "oxytocin", Use: "third-stage", Pregnant: true}, ""},
	} {
		c.r.Patient = pt("30 a", "", "70 kg", "")
		if got := fired(reckon(t, f, c.r).Alerts); got != c.want {
			t.Errorf("%s %s: %s, want %s", c.r.Drug, c.r.Use, got, c.want)
		}
	}
}

func TestBadRequests(t *testing.T) {
	f := clinic(t)
	good := Request{Drug: "morphine", Use: "premedication-im", Patient: pt("40 a", "", "70 kg", "")}
	for _, c := range []struct {
		field, code string
		change      func(*Request)
	}{
		{"weight", patient.Missing, func(r *Request) { r.Patient.Weight = quantity.Amount{} }},
		{"weight", patient.TooLow, func(r *Request) { r.Patient.Weight = am("0 kg") }},
		{"weight", patient.TooHigh, func(r *Request) { r.Patient.Weight = am("700 kg") }},
		{"weight", patient.WrongUnit, func(r *Request) { r.Patient.Weight = am("70 cm") }},
		{"weight", patient.TooLow, func(r *Request) { r.Use = "analgesia-iv"; r.Patient.Weight = am("0 kg") }},
		{"weight_by", patient.UnknownCode, func(r *Request) { r.Patient.WeightBy = "guess" }},
		{"age", patient.TooLow, func(r *Request) { r.Patient.Age = am("-3 a") }},
		{"age", patient.TooHigh, func(r *Request) { r.Patient.Age = am("121 a") }},
		{"age", patient.WrongUnit, func(r *Request) { r.Patient.Age = am("3 kg") }},
		{"age", patient.Missing, func(r *Request) { r.Patient.Age = quantity.Amount{}; r.Patient.Weight = am("39.9 kg") }},
		{"age", patient.NoRule, func(r *Request) { r.Patient.Age = am("11 mo"); r.Patient.Weight = am("9 kg") }},
		{"length", patient.TooHigh, func(r *Request) { r.Patient.Length = am("900 cm") }},
		{"sex", patient.UnknownCode, func(r *Request) { r.Patient.Sex = "man" }},
		{"sex", patient.Missing, func(r *Request) { r.Drug, r.Use = "bupivacaine", "spinal" }},
		{"weight", patient.NoRule, func(r *Request) {
			r.Drug, r.Use = "paracetamol", "analgesia-oral"
			r.Patient.Weight = am("2.9 kg")
		}},
		{"weight", patient.Missing, func(r *Request) {
			r.Drug, r.Use = "paracetamol", "analgesia-oral"
			r.Patient.Weight = quantity.Amount{}
		}},
		{"drug", Unknown, func(r *Request) { r.Drug = "laudanum" }},
		{"drug", Unknown, func(r *Request) { r.Drug = "" }},
		{"use", Unknown, func(r *Request) { r.Use = "sleep" }},
		{"route", NotThisWay, func(r *Request) { r.Route = term.RouteIntrathecal }},
		{"presentation", Unknown, func(r *Request) { r.Presentation = "15mg-1ml" }},
		{"presentation", NotThisWay, func(r *Request) {
			r.Drug, r.Use, r.Presentation = "lidocaine", "infiltration", "1pc-adrenaline"
		}},
		{"strength", patient.WrongUnit, func(r *Request) { r.Strength = am("10 [IU]/mL") }},
		{"strength", patient.TooLow, func(r *Request) { r.Strength = am("0 mg/mL") }},
		{"syringes", patient.WrongUnit, func(r *Request) { r.Syringes = []quantity.Amount{am("10 mg")} }},
		{"syringes", Unknown, func(r *Request) { r.Syringes = []quantity.Amount{am("7 mL")} }},
		{"with", patient.UnknownCode, func(r *Request) { r.With = []term.Condition{"poorly"} }},
		{"agents", patient.UnknownCode, func(r *Request) { r.Agents = []term.Agent{"gas"} }},
		{"hazards", patient.UnknownCode, func(r *Request) { r.Hazards = []term.Hazard{"cat"} }},
		{"given.0.ago", patient.TooLow, func(r *Request) { r.Given = []Given{gave("morphine", "", "1 mg", "-1 min")} }},
		{"given.0.ago", patient.WrongUnit, func(r *Request) { r.Given = []Given{gave("morphine", "", "1 mg", "1 mg")} }},
		{"given.1.dose", patient.TooLow, func(r *Request) {
			r.Given = []Given{gave("morphine", "", "1 mg", ""), gave("morphine", "", "-1 mg", "")}
		}},
		{"wish", patient.WrongUnit, func(r *Request) { r.Wish = am("1 h") }},
		{"wish", patient.TooLow, func(r *Request) { r.Wish = am("0 mg") }},
	} {
		r := good
		c.change(&r)
		a, err := f.Reckon(r)
		refused(t, c.field+" "+c.code, err, c.field, c.code)
		if err != nil && (!a.Low.IsZero() || !a.Suggested.IsZero() || len(a.Steps) > 0) {
			t.Errorf("%s: a number beside the error: %s", c.field, a.Suggested)
		}
	}
	// No rule for the age, but the reason is said.
	_, err := f.Reckon(Request{Drug: "morphine", Use: "premedication-im", Patient: pt("11 mo", "", "9 kg", "")})
	var e *Error
	if !as(err, &e) || fired(e.Alerts) != "stop:under-1-year caution:watch-the-breathing" {
		t.Errorf("under a year: %v", err)
	}
	// A small patient without an age is one only where the drug asks it.
	if a := reckon(t, f, Request{Drug: "ketamine", Use: "induction-iv", Patient: pt("", "", "20 kg", "")}); !slices.Contains(a.Assumptions, patient.AdultAssumed) {
		t.Errorf("%v", a.Assumptions)
	}
}

// TestNumbersNobodyMeans: what is so large or small that it is a slip is an
// error that names its field, and never a number or a panic.
func TestNumbersNobodyMeans(t *testing.T) {
	f := clinic(t)
	adult := pt("40 a", "", "60 kg", "")
	const many, few = "999999999999999999999999999999 ", "0.0000000000000000000000000001 "
	r := func(change func(*Request)) error {
		r := Request{Drug: "morphine", Use: "premedication-im", Patient: adult}
		change(&r)
		_, err := f.Reckon(r)
		return err
	}
	judged := func(dose string) error {
		_, err := f.Judge(Request{Drug: "morphine", Use: "premedication-im", Patient: adult}, am(dose))
		return err
	}
	flow := func(rate, strength string) error {
		_, err := FlowOf(am(rate), quantity.Amount{}, am(strength))
		return err
	}
	when := func(start string) error {
		_, err := f.Find("morphine").WhenToGive("premedication-im", am(start))
		return err
	}
	for _, c := range []struct {
		field, code string
		err         error
	}{
		{"given.0.dose", patient.TooHigh, r(func(r *Request) { r.Given = []Given{gave("morphine", "", many+"kg", "")} })},
		{"given.0.ago", patient.TooHigh, r(func(r *Request) { r.Given = []Given{gave("morphine", "", "1 mg", many+"a")} })},
		{"given.0.strength", patient.TooLow, r(func(r *Request) { r.Given = []Given{{Drug: "morphine", Dose: am("1 mL"), Strength: am(few + "ng/mL")}} })},
		{"strength", patient.TooLow, r(func(r *Request) { r.Strength = am(few + "mg/mL") })},
		{"strength", patient.TooHigh, r(func(r *Request) { r.Strength = am(many + "mg/mL") })},
		{"wish", patient.TooHigh, r(func(r *Request) { r.Wish = am(many + "mg") })},
		{"weight", patient.TooHigh, r(func(r *Request) { r.Patient.Weight = am(many + "kg") })},
		{"dose", patient.TooHigh, judged(many + "mg")}, {"dose", patient.TooLow, judged(few + "ng")}, {"dose", patient.TooHigh, judged(many + "L")},
		{"rate", patient.TooHigh, flow(many+"g/h", "1 mg/mL")}, {"rate", patient.TooLow, flow(few+"ug/h", "1 mg/mL")}, {"strength", patient.TooLow, flow("1 mg/h", few+"mg/mL")},
		{"start", patient.TooHigh, when(many + "a")}, {"start", patient.TooHigh, when("-" + many[1:] + "a")},
	} {
		refused(t, c.field, c.err, c.field, c.code)
	}
	// At the limits it still reckons.
	a := reckon(t, f, Request{Drug: "morphine", Use: "premedication-im", Patient: adult, Given: []Given{gave("pethidine", "", "1000 kg", "1 h")}, Strength: am("0.000001 mg/mL")})
	if a.Suggested != (quantity.Amount{}) || !hasStep(a, StepNothingLeft, "") {
		t.Errorf("%s; %s", a.Suggested, stepCodes(a))
	}
	if _, add, err := Dilute(am("1000000000 mg/mL"), am("0.000001 mg/mL"), am("1000000 L")); err != nil || add.IsZero() {
		t.Errorf("%s, %v", add, err)
	}
}
