package formulary

import (
	"testing"

	"chinlift/core/quantity"
	"chinlift/core/term"
)

func TestBoard(t *testing.T) {
	f := clinic(t)
	adult := pt("40 a", "", "60 kg", "") // guard: 24 mg of morphine in 4 h
	morphine := func(dose, ago string) Given { return gave("morphine", "premedication-im", dose, ago) }
	for _, c := range []struct {
		name            string
		r               Request
		used, left      string // of the first row of the board
		suggested, next string
	}{
		{"nothing given", Request{Drug: "morphine", Use: "premedication-im", Patient: adult}, "0 mg", "24 mg", "9 mg", "0 min"},
		{"something left", Request{Drug: "morphine", Use: "premedication-im", Patient: adult, Given: []Given{morphine("10 mg", "200 min"), morphine("8 mg", "100 min")}},
			"18 mg", "6 mg", "6 mg", "140 min"},
		{"nothing left", Request{Drug: "morphine", Use: "premedication-im", Patient: adult, Given: []Given{morphine("15 mg", "200 min"), morphine("10 mg", "100 min")}},
			"25 mg", "0 mg", "", "140 min"},
		{"an old dose has left the window", Request{Drug: "morphine", Use: "premedication-im", Patient: adult, Given: []Given{morphine("20 mg", "4 h")}},
			"0 mg", "24 mg", "9 mg", "0 min"},
		{"one minute before", Request{Drug: "morphine", Use: "premedication-im", Patient: adult, Given: []Given{morphine("20 mg", "239 min")}},
			"20 mg", "4 mg", "4 mg", "1 min"},
		{"nobody knows when", Request{Drug: "morphine", Use: "premedication-im", Patient: adult, Given: []Given{morphine("20 mg", "")}},
			"20 mg", "4 mg", "4 mg", ""},
		{"all uses count", Request{Drug: "morphine", Use: "premedication-im", Patient: adult, Given: []Given{gave("morphine", "analgesia-iv", "3 mg", "10 min")}},
			"3 mg", "21 mg", "9 mg", "0 min"},
		{"a volume counts by its strength", Request{Drug: "morphine", Use: "premedication-im", Patient: adult, Given: []Given{
			{Drug: "morphine", Use: "premedication-im", Dose: am("1 mL"), Strength: am("15 mg/mL"), Ago: am("1 h")}}},
			"15 mg", "9 mg", "9 mg", "180 min"},
		{"grains count", Request{Drug: "morphine", Use: "premedication-im", Patient: adult, Given: []Given{morphine("0.25 [gr]", "1 h")}},
			"16.199727 mg", "7.800272 mg", "7.8 mg", "180 min"},
		{"the dosing weight: 62.88 of 100 kg", Request{Drug: "morphine", Use: "premedication-im", Patient: pt("40 a", term.SexFemale, "100 kg", "160 cm")},
			"0 mg", "25.152 mg", "9.4 mg", "0 min"},
		{"ventilated: counted, but it limits nothing", Request{Drug: "morphine", Use: "premedication-im", Patient: adult, With: []term.Condition{term.ConditionVentilated}, Given: []Given{morphine("30 mg", "3 h")}},
			"30 mg", "0 mg", "9 mg", "60 min"},
		{"the whole case, of one use alone", Request{Drug: "atropine", Use: "slow-pulse", Patient: adult, Given: []Given{
			gave("atropine", "premedication-im", "0.6 mg", "1 h"), gave("atropine", "slow-pulse", "1 mg", "9 h"), gave("atropine", "slow-pulse", "1.8 mg", "2 min")}},
			"2.8 mg", "0.2 mg", "0.198 mg", ""},
		{"of a use that nobody knows", Request{Drug: "atropine", Use: "slow-pulse", Patient: adult, Given: []Given{gave("atropine", "", "3 mg", "9 h")}},
			"3 mg", "0 mg", "", ""},
		{"of two windows the narrower", Request{Drug: "paracetamol", Use: "analgesia-oral", Patient: pt("8 a", "", "25 kg", ""), Given: []Given{
			gave("paracetamol", "analgesia-oral", "1000 mg", "5 h")}},
			"1000 mg", "3000 mg", "250 mg", "0 min"},
		{"12 mL/kg in all", Request{Drug: "lipid", Use: "poisoning", Patient: pt("40 a", "", "70 kg", ""), Given: []Given{
			gave("lipid", "infusion", "800 mL", "5 min")}},
			"800 mL", "40 mL", "40 mL", ""},
	} {
		a := reckon(t, f, c.r)
		if len(a.Board) == 0 {
			t.Errorf("%s: no board", c.name)
			continue
		}
		b := a.Board[0]
		if !equal(b.Used, c.used) || !equal(b.Left, c.left) || !equal(a.Suggested, c.suggested) || a.Next.String() != c.next {
			t.Errorf("%s: used %s, left %s, suggested %s, next %q; want %s, %s, %s, %q\n%s", c.name, b.Used, b.Left, a.Suggested, a.Next, c.used, c.left, c.suggested, c.next, stepCodes(a))
		}
		if a.Suggested.IsZero() != hasStep(a, StepNothingLeft, "") {
			t.Errorf("%s: suggested %s; %s", c.name, a.Suggested, stepCodes(a))
		}
		if b.Source.Title == "" {
			t.Errorf("%s: a total without source", c.name)
		}
	}
}

func TestCannotBeCounted(t *testing.T) {
	f := clinic(t)
	a := reckon(t, f, Request{Drug: "morphine", Use: "premedication-im", Patient: pt("40 a", "", "60 kg", ""), Given: []Given{
		{Drug: "morphine", Dose: am("1 mL"), Ago: am("1 h")}, // of what strength?
		{Drug: "morphine", Ago: am("1 h")},
		{Drug: "pethidine", Dose: am("2 mL"), Strength: am("3 [IU]/mL"), Ago: am("1 h")},
		gave("laudanum", "", "10 mg", "1 h"),
	}})
	if len(a.Uncounted) != 4 || !hasStep(a, StepNotCounted, "laudanum") || !hasStep(a, StepNotCounted, "morphine") || !hasStep(a, StepNotCounted, "pethidine") {
		t.Errorf("uncounted %v; %s", a.Uncounted, stepCodes(a))
	}
	if a := reckon(t, f, Request{Drug: "morphine", Use: "premedication-im", Patient: pt("40 a", "", "60 kg", ""), Given: []Given{gave("morphine", "", "1 mg", "")}}); !hasStep(a, StepTimeUnknown, "") {
		t.Errorf("%s", stepCodes(a))
	}
}

// TestInterval: the wait is from the last dose of the same use; 5 minutes for
// morphine by vein, 4 hours into muscle.
func TestInterval(t *testing.T) {
	f := clinic(t)
	for _, c := range []struct{ use, given, ago, want string }{
		{"analgesia-iv", "analgesia-iv", "2 min", "3 min"}, {"analgesia-iv", "analgesia-iv", "150 s", "3 min"}, {"analgesia-iv", "analgesia-iv", "5 min", "0 min"},
		{"analgesia-iv", "premedication-im", "2 min", "0 min"}, {"premedication-im", "premedication-im", "1 h", "180 min"}, {"analgesia-iv", "", "1 min", "4 min"},
		{"analgesia-iv", "analgesia-iv", "", "5 min"},
	} {
		a := reckon(t, f, Request{Drug: "morphine", Use: c.use, Patient: pt("40 a", "", "60 kg", ""), Given: []Given{gave("morphine", c.given, "1 mg", c.ago)}})
		if a.Next.String() != c.want || hasStep(a, StepWait, "") != (c.want != "0 min") {
			t.Errorf("%s after %s, %s ago: %s, want %s; %s", c.use, c.given, c.ago, a.Next, c.want, stepCodes(a))
		}
	}
}

// TestOpioids sums in morphine: 75 mg of pethidine are 10 mg (fixture; and by
// the equianalgesic tables, 75 to 100 mg). The guard is 0.4 mg/kg in 4 h.
func TestOpioids(t *testing.T) {
	f := clinic(t)
	adult := pt("40 a", "", "60 kg", "")
	group := func(a Answer) Board {
		for _, b := range a.Board {
			if b.Group == Opioids {
				return b
			}
		}
		t.Fatalf("no group: %+v", a.Board)
		return Board{}
	}
	a := reckon(t, f, Request{Drug: "morphine", Use: "premedication-im", Patient: adult, Given: []Given{gave("pethidine", "", "75 mg", "1 h"), gave("morphine", "", "6 mg", "2 h")}})
	if b := group(a); b.Most.String() != "24 mg" || b.Used.String() != "16 mg" || b.Left.String() != "8 mg" || b.LeftDose.String() != "8 mg" || a.Suggested.String() != "8 mg" {
		t.Errorf("%+v; suggested %s", b, a.Suggested)
	}
	// And the other way round: 4 mg of morphine are left, 30 mg of pethidine.
	a = reckon(t, f, Request{Drug: "pethidine", Use: "analgesia-im", Patient: adult, Given: []Given{gave("morphine", "", "20 mg", "1 h")}})
	if b := group(a); b.Used.String() != "20 mg" || b.Left.String() != "4 mg" || b.LeftDose.String() != "30 mg" || a.Suggested.String() != "30 mg" {
		t.Errorf("%+v; suggested %s", b, a.Suggested)
	}
	// In small steps by vein it is counted and shown, and lets go.
	a = reckon(t, f, Request{Drug: "morphine", Use: "analgesia-iv", Patient: adult, Given: []Given{gave("pethidine", "", "300 mg", "1 h")}})
	if b := group(a); !b.Lifted || b.Used.String() != "40 mg" || b.Left.String() != "0 mg" || a.Suggested.String() != "1 mg" || !hasStep(a, StepLifted, string(Opioids)) {
		t.Errorf("%+v; suggested %s", b, a.Suggested)
	}
	// Nobody knows the weight: the sum is shown, and that it has no maximum.
	a = reckon(t, f, Request{Drug: "morphine", Use: "analgesia-iv", Patient: pt("40 a", "", "", ""), Given: []Given{gave("pethidine", "", "75 mg", "1 h")}})
	if b := group(a); !b.Most.IsZero() || b.Used.String() != "10 mg" || !hasStep(a, StepNeedsWeight, string(Opioids)) {
		t.Errorf("%+v; %s", b, stepCodes(a))
	}
}

// TestLocalAnaesthetics: 70 kg; lidocaine 200 mg at most, with adrenaline 490,
// bupivacaine 140.
func TestLocalAnaesthetics(t *testing.T) {
	f := clinic(t)
	p := pt("40 a", term.SexFemale, "70 kg", "")
	for _, c := range []struct {
		name       string
		drug, use  string
		given      []Given
		used, left string // fractions
		limit, mL  string
	}{
		{"none given", "lidocaine", "infiltration", nil, "0 1", "1 1", "200 mg", "20 mL"},
		{"half of the other", "lidocaine", "infiltration", []Given{gave("bupivacaine", "block", "70 mg", "30 min")}, "0.5 1", "0.5 1", "100 mg", "10 mL"},
		{"its own counts as well", "lidocaine", "infiltration", []Given{gave("bupivacaine", "block", "70 mg", "30 min"), gave("lidocaine", "infiltration", "50 mg", "20 min")}, "0.75 1", "0.25 1", "50 mg", "5 mL"},
		{"with adrenaline by its own maximum", "bupivacaine", "block", []Given{gave("lidocaine", "infiltration-adrenaline", "245 mg", "1 h")}, "0.5 1", "0.5 1", "70 mg", "14 mL"},
		{"of an unknown use by the smallest maximum", "bupivacaine", "block", []Given{gave("lidocaine", "", "100 mg", "1 h")}, "0.5 1", "0.5 1", "70 mg", "14 mL"},
		{"all of it", "lidocaine", "infiltration", []Given{gave("bupivacaine", "block", "140 mg", "3 h")}, "1 1", "0 1", "0 mg", "0 mL"},
		{"the longer of the two intervals", "lidocaine", "infiltration", []Given{gave("bupivacaine", "block", "140 mg", "239 min")}, "1 1", "0 1", "0 mg", "0 mL"},
		{"after it", "lidocaine", "infiltration", []Given{gave("bupivacaine", "block", "140 mg", "240 min")}, "0 1", "1 1", "200 mg", "20 mL"},
		{"alone after its own interval", "lidocaine", "infiltration", []Given{gave("lidocaine", "infiltration", "200 mg", "2 h")}, "0 1", "1 1", "200 mg", "20 mL"},
		{"a spinal counts by the drug's other maximum", "lidocaine", "infiltration", []Given{gave("bupivacaine", "spinal", "14 mg", "1 h")}, "0.1 1", "0.9 1", "180 mg", "18 mL"},
	} {
		a := reckon(t, f, Request{Drug: c.drug, Use: c.use, Patient: p, Given: c.given})
		b := a.Board[len(a.Board)-1]
		if b.Group != LocalAnaesthetics || !equal(b.Used, c.used) || !equal(b.Left, c.left) || !equal(a.Limit, c.limit) || !equal(a.LimitVolume, c.mL) {
			t.Errorf("%s: used %s, left %s, limit %s in %s; want %s, %s, %s in %s", c.name, b.Used, b.Left, a.Limit, a.LimitVolume, c.used, c.left, c.limit, c.mL)
		}
	}
	// Who needs less has less of a maximum, too: half, over 60.
	g, err := f.With(map[string][]byte{"lidocaine": []byte(fixture(t, "lidocaine") + "\n[[reduce]]\ncode = \"over-60\"\nage = [\"60 a\", \"121 a\"]\nfactor = \"0.5\"\nsource = \"made-up\"\n")})
	if err != nil {
		t.Fatal(err)
	}
	old := p
	old.Age = am("70 a")
	if a := reckon(t, g, Request{Drug: "lidocaine", Use: "infiltration", Patient: old}); a.Limit.String() != "105 mg" || a.LimitVolume.String() != "10.5 mL" {
		t.Errorf("over 60: %s in %s", a.Limit, a.LimitVolume)
	}
	// A spinal itself is not held back by what was infiltrated.
	a := reckon(t, f, Request{Drug: "bupivacaine", Use: "spinal", Patient: p, Given: []Given{gave("lidocaine", "infiltration", "200 mg", "10 min")}})
	if a.Suggested.String() != "10 mg" || !a.Board[0].Lifted || a.Board[0].Used.String() != "1 1" {
		t.Errorf("%s; %+v", a.Suggested, a.Board)
	}
}

// TestLidocaine70kg is the worked example of a textbook, 3 mg/kg of 70 kg =
// 210 mg = 21 mL of 1 % (Oxford Medical Education, local anaesthetics), against
// a cap of 200 mg whatever the weight (British National Formulary, from
// memory; other labels have 300 mg). Both are shown, and which rules.
func TestLidocaine70kg(t *testing.T) {
	a := reckon(t, clinic(t), Request{Drug: "lidocaine", Use: "infiltration", Patient: pt("40 a", "", "70 kg", "")})
	if a.Full.High.String() != "210 mg" || a.High.String() != "200 mg" || a.CappedBy != LimitMost || a.Limit.String() != "200 mg" || a.LimitVolume.String() != "20 mL" {
		t.Errorf("full %s, high %s by %s, limit %s in %s", a.Full.High, a.High, a.CappedBy, a.Limit, a.LimitVolume)
	}
	for _, s := range a.Steps {
		if s.Code == StepCapped {
			if s.Of != string(LimitMost) || s.Values[0].Amount.String() != "210 mg" || s.Values[1].Amount.String() != "200 mg" || s.Source.Title != "A cap whatever the weight" {
				t.Errorf("%+v", s)
			}
		}
	}
	if !hasStep(a, StepCapped, string(LimitMost)) {
		t.Error("the working does not say what rules")
	}
	a = reckon(t, clinic(t), Request{Drug: "lidocaine", Use: "infiltration", Patient: pt("40 a", "", "50 kg", "")})
	if a.Full.High.String() != "150 mg" || a.Limit.String() != "150 mg" || a.CappedBy != "" || a.LimitVolume.String() != "15 mL" {
		t.Errorf("50 kg: full %s, limit %s by %q in %s", a.Full.High, a.Limit, a.CappedBy, a.LimitVolume)
	}
	l, err := LocalMaximum(am("3 mg/kg"), am("200 mg"), am("70 kg"), am("10 mg/mL"))
	if err != nil || l.ByWeight.String() != "210 mg" || l.Dose.String() != "200 mg" || l.Volume.String() != "20 mL" || l.CappedBy != LimitMost {
		t.Errorf("%+v, %v", l, err)
	}
	if l, err = LocalMaximum(am("3 mg/kg"), quantity.Amount{}, am("70 kg"), am("10 mg/mL")); err != nil || l.Volume.String() != "21 mL" || l.CappedBy != LimitMostPerKg {
		t.Errorf("%+v, %v", l, err)
	}
}
