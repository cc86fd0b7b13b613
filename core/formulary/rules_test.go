package formulary

import (
	"slices"
	"strings"
	"testing"

	"chinlift/core/exact"
	"chinlift/core/patient"
	"chinlift/core/quantity"
	"chinlift/core/term"
)

// TestRules asks the drugs that come with the companion. The numbers are those
// of the sources that each file names; what is worked out of them stands beside.
func TestRules(t *testing.T) {
	f := builtins(t)
	adult := pt("30 a", term.SexFemale, "60 kg", "")
	old := pt("80 a", term.SexFemale, "60 kg", "")
	child := pt("4 a", term.SexMale, "8 kg", "")
	given := func(gs ...Given) []Given { return gs }
	with := func(cs ...term.Condition) []term.Condition { return cs }
	halothane := []term.Agent{term.AgentHalothane}
	for _, c := range []struct {
		name      string
		r         Request
		suggested string // "": not asked; "-": nothing
		high      string
		volume    string
		strength  string // of what is drawn up
		fires     string // alerts that are among those that fire
		quiet     string // codes that are not
	}{
		{name: "a second spinal", r: Request{Drug: "bupivacaine-heavy", Use: "spinal", Patient: adult, Given: given(gave("lidocaine-heavy", "spinal", "50 mg", "119 min"))},
			suggested: "-", fires: "stop:spinal-already"},
		{name: "a second spinal of the same drug", r: Request{Drug: "lidocaine-heavy", Use: "spinal", Patient: adult, Given: given(gave("lidocaine-heavy", "spinal", "50 mg", "30 min"))},
			suggested: "-", fires: "stop:spinal-already"},
		{name: "a spinal two hours later", r: Request{Drug: "lidocaine-heavy", Use: "spinal", Patient: adult, Given: given(gave("bupivacaine-heavy", "spinal", "10 mg", "120 min"))},
			suggested: "50 mg", quiet: "spinal-already"},
		{name: "a spinal in pre-eclampsia", r: Request{Drug: "bupivacaine-heavy", Use: "spinal-caesarean", Patient: adult, Pregnant: true, With: with("pre-eclampsia")},
			suggested: "10 mg", fires: "caution:spinal-pre-eclampsia"},
		{name: "an epidural in pre-eclampsia", r: Request{Drug: "lidocaine", Use: "block", Route: "epidural", Patient: adult, With: with("pre-eclampsia")}, fires: "caution:spinal-pre-eclampsia"},
		{name: "a wound in pre-eclampsia", r: Request{Drug: "lidocaine", Use: "block", Route: "infiltration", Patient: adult, With: with("pre-eclampsia")}, quiet: "spinal-pre-eclampsia"},

		{name: "ketamine again", r: Request{Drug: "ketamine", Use: "induction-iv", Patient: adult, Given: given(gave("ketamine", "induction-iv", "60 mg", "29 min"))}, fires: "caution:ketamine-already"},
		{name: "ketamine half an hour ago", r: Request{Drug: "ketamine", Use: "induction-iv", Patient: adult, Given: given(gave("ketamine", "induction-iv", "60 mg", "30 min"))}, quiet: "ketamine-already"},
		// 13 mg/kg of 60 kg are 780 mg, of which 600 are in: 180 are left.
		{name: "into muscle, what is left of 13 mg/kg", r: Request{Drug: "ketamine", Use: "induction-im", Patient: adult, Given: given(gave("ketamine", "induction-im", "600 mg", "15 min"))}, suggested: "180 mg"},
		{name: "a child's ketamine into a vein", r: Request{Drug: "ketamine", Use: "induction-iv", Patient: child}, suggested: "16 mg", volume: "1.6 mL", strength: "10 mg/mL"},
		{name: "a grown-up's", r: Request{Drug: "ketamine", Use: "induction-iv", Patient: adult}, suggested: "120 mg", strength: "50 mg/mL"},

		{name: "adrenaline in the lidocaine, under halothane", r: Request{Drug: "lidocaine-adrenaline", Use: "block", Patient: adult, Agents: halothane}, suggested: "-", fires: "stop:adrenaline-halothane-use"},
		// 0.3 mL/kg of 60 kg are 18 mL of 1 %.
		{name: "its rule for halothane", r: Request{Drug: "lidocaine-adrenaline", Use: "block-halothane", Patient: adult, Agents: halothane}, high: "180 mg", fires: "caution:halothane-adrenaline caution:adrenaline-halothane-volume"},
		{name: "at most 20 mL", r: Request{Drug: "lidocaine-adrenaline", Use: "block-halothane", Patient: pt("30 a", "", "90 kg", "")}, high: "200 mg"},
		{name: "and adrenaline after it", r: Request{Drug: "adrenaline", Use: "infiltration-halothane", Patient: adult, Given: given(gave("lidocaine-adrenaline", "block-halothane", "100 mg", "9 min"))}, fires: "caution:adrenaline-counts-here"},

		{name: "an induction in labour", r: Request{Drug: "thiopental", Use: "induction-iv", Patient: adult, With: with("in-labour")}, fires: "caution:full-stomach-induction"},
		{name: "with an obstructed bowel", r: Request{Drug: "propofol", Use: "induction-iv", Patient: adult, With: with("bowel-obstruction")}, fires: "caution:full-stomach-induction"},
		{name: "in the third trimester", r: Request{Drug: "ketamine", Use: "induction-im", Patient: adult, With: with("third-trimester")}, fires: "caution:full-stomach-induction caution:ketamine-larynx"},
		{name: "by vapour", r: Request{Drug: "halothane", Use: "induction", Patient: adult, With: with("full-stomach")}, fires: "caution:full-stomach-vapour"},
		{name: "an opioid before birth", r: Request{Drug: "pethidine", Use: "analgesia-im", Patient: adult, With: with("third-trimester")}, fires: "caution:opioid-newborn"},
		{name: "after a sedative", r: Request{Drug: "propofol", Use: "induction-iv", Patient: adult, Given: given(gave("diazepam", "", "5 mg", "3 h"))}, fires: "caution:induction-after-sedative"},

		// 1 microgram/kg of 8 kg at 10 micrograms/mL.
		{name: "a child's adrenaline into a vein", r: Request{Drug: "adrenaline", Use: "anaphylaxis-iv", Patient: child}, suggested: "8 ug", volume: "0.8 mL", strength: "10 ug/mL"},
		{name: "a grown-up's", r: Request{Drug: "adrenaline", Use: "anaphylaxis-iv", Patient: adult}, suggested: "50 ug", volume: "5 mL", strength: "10 ug/mL"},
		{name: "in arrest from the ampoule made for it", r: Request{Drug: "adrenaline", Use: "arrest", Patient: adult}, suggested: "1 mg", volume: "10 mL", strength: "0.1 mg/mL"},

		// By the actual weight: Devine's ideal for 160 cm is 52.4 kg, a fifth more 62.9.
		{name: "suxamethonium for the heavy", r: Request{Drug: "suxamethonium", Use: "relaxation-iv", Patient: pt("30 a", term.SexFemale, "100 kg", "160 cm")}, suggested: "100 mg"},
		{name: "held at 150 mg", r: Request{Drug: "suxamethonium", Use: "relaxation-iv", Patient: pt("30 a", term.SexFemale, "160 kg", "160 cm")}, suggested: "150 mg"},
		{name: "a child's suxamethonium", r: Request{Drug: "suxamethonium", Use: "relaxation-iv", Patient: child}, suggested: "12 mg"},
		{name: "dantrolene for the heavy", r: Request{Drug: "dantrolene", Use: "first-iv", Patient: pt("30 a", term.SexFemale, "100 kg", "160 cm")}, high: "250 mg"},

		// The old: no more off for being frail as well.
		{name: "old and frail: thiopental 1.5 to 2.5 mg/kg", r: Request{Drug: "thiopental", Use: "induction-iv", Patient: old, With: with("frail")}, high: "150 mg"},
		{name: "frail and 64: half", r: Request{Drug: "thiopental", Use: "induction-iv", Patient: pt("64 a", "", "60 kg", ""), With: with("frail")}, high: "150 mg"},
		{name: "old and frail: a quarter of morphine", r: Request{Drug: "morphine", Use: "analgesia-im", Patient: old, With: with("frail")}, high: "2.25 mg"},
		{name: "old and frail: steps of midazolam", r: Request{Drug: "midazolam", Use: "sedation-step-iv", Patient: old, With: with("frail")}, suggested: "0.5 mg", high: "1 mg"},
		{name: "old: a step of morphine that does something", r: Request{Drug: "morphine", Use: "titrated-iv", Patient: old, With: with("shock")}, suggested: "0.5 mg"},
		{name: "old: of pethidine", r: Request{Drug: "pethidine", Use: "titrated-iv", Patient: old, With: with("shock")}, suggested: "5 mg"},
		{name: "a child's step is not raised", r: Request{Drug: "morphine", Use: "titrated-iv", Patient: child}, high: "0.4 mg"},
		{name: "old and frail: a local anaesthetic", r: Request{Drug: "bupivacaine", Use: "block", Patient: old, With: with("frail")}, high: "84 mg"},

		{name: "a relaxant, nobody asked", r: Request{Drug: "vecuronium", Use: "relaxation-iv", Patient: adult}, suggested: "4.8 mg", fires: "caution:relaxant-ventilate"},
		{name: "a relaxant, ventilated", r: Request{Drug: "vecuronium", Use: "relaxation-iv", Patient: adult, With: with("ventilated")}, quiet: "relaxant-ventilate"},
		{name: "neostigmine alone", r: Request{Drug: "neostigmine", Use: "reversal-iv", Patient: adult}, suggested: "-", fires: "stop:neostigmine-anticholinergic caution:neostigmine-too-early"},
		{name: "ten minutes after atropine", r: Request{Drug: "neostigmine", Use: "reversal-iv", Patient: adult, Given: given(gave("atropine", "", "1 mg", "10 min"))}, suggested: "2.5 mg", fires: "caution:neostigmine-anticholinergic"},
		{name: "with atropine", r: Request{Drug: "neostigmine", Use: "reversal-iv", Patient: adult, Given: given(gave("atropine", "", "1 mg", "0 min"))}, suggested: "2.5 mg", quiet: "neostigmine-anticholinergic"},
		{name: "after glycopyrronium", r: Request{Drug: "neostigmine", Use: "reversal-iv", Patient: adult, Given: given(gave("glycopyrronium", "", "0.4 mg", "4 min"))}, suggested: "2.5 mg", quiet: "neostigmine-anticholinergic"},

		{name: "ephedrine", r: Request{Drug: "ephedrine", Use: "low-pressure-iv", Patient: adult}, suggested: "6 mg", high: "6 mg"},
		{name: "with an MAO inhibitor", r: Request{Drug: "ephedrine", Use: "low-pressure-iv", Patient: adult, With: with("maoi")}, fires: "stop:vasopressor-maoi"},
		{name: "its rule for that", r: Request{Drug: "ephedrine", Use: "low-pressure-maoi-iv", Patient: adult, With: with("maoi")}, high: "1 mg", fires: "caution:vasopressor-maoi-steps caution:ephedrine-maoi", quiet: "vasopressor-maoi"},
		{name: "phenylephrine's", r: Request{Drug: "phenylephrine", Use: "low-pressure-maoi-iv", Patient: adult, With: with("maoi")}, suggested: "10 ug", volume: "1 mL", strength: "10 ug/mL", quiet: "vasopressor-maoi"},

		// 0.67 of 6 to 9 mg.
		{name: "morphine after promethazine", r: Request{Drug: "morphine", Use: "analgesia-im", Patient: adult, Given: given(gave("promethazine", "", "25 mg", "2 h"))}, high: "6.03 mg", fires: "caution:opioid-with-other-sedative"},
		{name: "promethazine after morphine", r: Request{Drug: "promethazine", Use: "premedication-im", Patient: adult, Given: given(gave("morphine", "", "5 mg", "2 h"))}, high: "33.5 mg", fires: "caution:sedative-two-thirds"},

		{name: "the first magnesium", r: Request{Drug: "magnesium-sulfate", Use: "eclampsia-im-first", Patient: adult, Pregnant: true}, fires: "caution:magnesium-two-sides", quiet: "magnesium-watch"},
		{name: "the next", r: Request{Drug: "magnesium-sulfate", Use: "eclampsia-im", Patient: adult, Pregnant: true}, fires: "caution:magnesium-watch", quiet: "magnesium-two-sides"},

		// 3 mg/kg of 8 kg.
		{name: "a child's thiopental", r: Request{Drug: "thiopental", Use: "induction-iv", Patient: child}, suggested: "24 mg", high: "56 mg"},

		{name: "a man", r: Request{Drug: "oxytocin", Use: "third-stage-im", Patient: pt("30 a", term.SexMale, "60 kg", "")}, fires: "stop:after-birth-only"},
		{name: "a woman of 55", r: Request{Drug: "ergometrine", Use: "bleeding-im", Patient: pt("55 a", term.SexFemale, "60 kg", "")}, fires: "stop:after-birth-only"},
		{name: "a woman of 55, with child", r: Request{Drug: "ergometrine", Use: "bleeding-im", Patient: pt("55 a", term.SexFemale, "60 kg", ""), Pregnant: true}, quiet: "after-birth-only"},
		{name: "a woman of 54", r: Request{Drug: "tranexamic-acid", Use: "after-birth-iv", Patient: pt("54 a", term.SexFemale, "60 kg", "")}, quiet: "after-birth-only"},
		{name: "magnesium for a man", r: Request{Drug: "magnesium-sulfate", Use: "eclampsia-iv", Patient: pt("30 a", term.SexMale, "60 kg", "")}, fires: "stop:eclampsia-only"},
	} {
		a, err := f.Reckon(c.r)
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		switch {
		case c.suggested == "-" && !a.Suggested.IsZero():
			t.Errorf("%s: %s suggested", c.name, a.Suggested)
		case c.suggested != "" && c.suggested != "-" && !equal(a.Suggested, c.suggested):
			t.Errorf("%s: %s, want %s: %s", c.name, a.Suggested, c.suggested, stepCodes(a))
		}
		if c.high != "" && !equal(a.High, c.high) {
			t.Errorf("%s: up to %s, want %s: %s", c.name, a.High, c.high, stepCodes(a))
		}
		if c.volume != "" && (a.Draw == nil || !equal(a.Draw.Volume, c.volume)) {
			t.Errorf("%s: %+v, want %s", c.name, a.Draw, c.volume)
		}
		if c.strength != "" && (a.Draw == nil || !equal(a.Draw.Strength, c.strength)) {
			t.Errorf("%s: %+v, want %s", c.name, a.Draw, c.strength)
		}
		all := strings.Fields(fired(a.Alerts))
		for _, want := range strings.Fields(c.fires) {
			if !slices.Contains(all, want) {
				t.Errorf("%s: no %s: %v", c.name, want, all)
			}
		}
		for _, not := range strings.Fields(c.quiet) {
			if slices.Contains(all, "stop:"+not) || slices.Contains(all, "caution:"+not) {
				t.Errorf("%s: %s: %v", c.name, not, all)
			}
		}
	}
	// A spinal for a caesarean can be told from the others by its purpose.
	d := f.Find("bupivacaine-heavy")
	if d.Use("spinal-caesarean").Purpose != term.PurposeObstetric || d.Uses[0].Code != "spinal" || d.Uses[1].Code != "spinal-caesarean" {
		t.Errorf("uses of heavy bupivacaine: %+v", d.Uses)
	}
	// No rule under a month, and the reason.
	_, err := f.Reckon(Request{Drug: "chlorphenamine", Use: "anaphylaxis", Patient: pt("20 d", "", "3 kg", "")})
	var e *Error
	if !as(err, &e) || e.Code != patient.NoRule || fired(e.Alerts) != "stop:chlorphenamine-newborn caution:chlorphenamine-after-adrenaline" {
		t.Errorf("chlorphenamine at 20 days: %v", err)
	}
}

// TestRulesRecipes: what a person makes is whole ampoules, or half a mL at
// least.
func TestRulesRecipes(t *testing.T) {
	f := builtins(t)
	for _, c := range []struct {
		name, presentation string
		r                  Request
		take, total        string
	}{
		// 40 IU in 500 mL: as the at of the rule, 0.08 IU/mL; 4 h at 10 IU/h.
		{"oxytocin that lasts", "", Request{Drug: "oxytocin", Use: "bleeding-infusion", Patient: pt("30 a", term.SexFemale, "60 kg", "")}, "4 mL", "500 mL"},
		{"from the smaller ampoule", "5iu-1ml", Request{Drug: "oxytocin", Use: "bleeding-infusion", Patient: pt("30 a", term.SexFemale, "60 kg", "")}, "8 mL", "500 mL"},
		// 500 micrograms are 100 mL of 1:200 000.
		{"adrenaline 1:200 000", "", Request{Drug: "adrenaline", Use: "infiltration", Patient: pt("30 a", "", "60 kg", "")}, "0.5 mL", "100 mL"},
		{"a child's adrenaline", "", Request{Drug: "adrenaline", Use: "anaphylaxis-iv", Patient: pt("2 a", "", "12 kg", "")}, "1 mL", "100 mL"},
		{"a child's ketamine", "", Request{Drug: "ketamine", Use: "top-up-iv", Patient: pt("2 a", "", "12 kg", "")}, "2 mL", "10 mL"},
		{"arrest without the weaker ampoule", "1mg-1ml", Request{Drug: "adrenaline", Use: "arrest", Patient: pt("2 a", "", "12 kg", "")}, "1 mL", "10 mL"},
	} {
		c.r.Presentation = c.presentation
		a := reckon(t, f, c.r)
		if a.Draw == nil || a.Draw.Dilution == nil || !equal(a.Draw.Dilution.Take, c.take) || !equal(a.Draw.Dilution.Total, c.total) {
			t.Errorf("%s: %+v, want %s up to %s", c.name, a.Draw, c.take, c.total)
		}
	}
}

// TestPlannedStop: what has to go in with a dose holds up whoever means to
// give it, and is not held against a dose that was given; another stop is.
func TestPlannedStop(t *testing.T) {
	f := builtins(t)
	r := Request{Drug: "neostigmine", Use: "reversal-iv", Patient: pt("30 a", "", "60 kg", ""), Wish: am("2.5 mg")}
	a := reckon(t, f, r)
	if a.Wish == nil || exceeds(*a.Wish) != "stop" || !a.Alerts[0].Planned {
		t.Errorf("meant: %+v, %s", a.Wish, fired(a.Alerts))
	}
	judged := func(with ...term.Condition) string {
		r.With = with
		v, err := f.Judge(r, am("2.5 mg"))
		if err != nil {
			t.Fatal(err)
		}
		return exceeds(v)
	}
	if got := judged(); got != "" {
		t.Errorf("given: %s", got)
	}
	if got := judged(term.ConditionBowelObstruction); got != "stop" {
		t.Errorf("given with an obstructed bowel: %s", got)
	}
}

// TestFractionOf: the rule for halothane is held down by its adrenaline, and
// counts among local anaesthetics as the drug does without: 180 of 420 mg, for
// two hours.
func TestFractionOf(t *testing.T) {
	f := builtins(t)
	p := pt("30 a", "", "60 kg", "")
	for _, c := range []struct {
		drug, use, ago, left string // a fraction of 1
	}{
		{"bupivacaine", "block", "20 min", "0.571428 1"},
		{"lidocaine-adrenaline", "block-halothane", "20 min", "0.571428 1"},
		{"lidocaine-adrenaline", "block-halothane", "120 min", "1 1"},
	} {
		a := reckon(t, f, Request{Drug: c.drug, Use: c.use, Patient: p, Given: []Given{gave("lidocaine-adrenaline", "block-halothane", "180 mg", c.ago)}})
		i := slices.IndexFunc(a.Board, func(b Board) bool { return b.Group == LocalAnaesthetics })
		if i < 0 || !equal(a.Board[i].Left, c.left) {
			t.Errorf("%s %s after %s: %+v, want %s", c.drug, c.use, c.ago, a.Board, c.left)
		}
	}
	a := reckon(t, f, Request{Drug: "lidocaine-adrenaline", Use: "block-halothane", Patient: p, Given: []Given{gave("lidocaine-adrenaline", "block-halothane", "180 mg", "9 min")}})
	if !a.Suggested.IsZero() || in(a.Next, quantity.Minute).Cmp(exact.Whole(1)) != 0 {
		t.Errorf("a minute before the ten are over: %s, next in %s", a.Suggested, a.Next)
	}
}
