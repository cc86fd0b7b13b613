package depth

import (
	"errors"
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"chinlift/core/agent"
	"chinlift/core/quantity"
	"chinlift/core/term"
)

func read(t *testing.T, s Subject, d Drugs, support term.Support, k Look, before, now Vitals) Reading {
	t.Helper()
	r, err := Read(s, d, support, k, before, now)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// The rows of the published table, each in the codes of a look. Source: A. E.
// Guedel, Inhalation Anesthesia, 1937 (teaching pages read); pupils and tone
// from memory.
func TestPublishedTable(t *testing.T) {
	for _, c := range []struct {
		stage Stage
		look  Look
	}{
		{StageI, Look{Breathing: term.BreathingQuiet, Eyes: term.EyesLooking, Pupils: term.PupilsMiddle, Lid: term.ReflexBrisk, Cornea: term.ReflexBrisk}},
		{StageII, Look{Breathing: term.BreathingUneven, Eyes: term.EyesApart, Pupils: term.PupilsWide, Jaw: term.JawTight, Movement: term.MovementRetching}},
		{StageIII1, Look{Breathing: term.BreathingEvenAutomatic, Eyes: term.EyesRoving, Pupils: term.PupilsSmall, Lid: term.ReflexGone, Cornea: term.ReflexBrisk}},
		{StageIII2, Look{Breathing: term.BreathingEvenAutomatic, Eyes: term.EyesStillCentral, Pupils: term.PupilsMiddle, Lid: term.ReflexGone, Cornea: term.ReflexGone, Jaw: term.JawSlack}},
		{StageIII3, Look{Breathing: term.BreathingRibsLate, Eyes: term.EyesStillCentral, Pupils: term.PupilsWide, Cornea: term.ReflexGone, Chest: term.ChestLate}},
		{StageIII4, Look{Breathing: term.BreathingBellyOnly, Eyes: term.EyesStillCentral, Pupils: term.PupilsWideFixed, Chest: term.ChestStill}},
	} {
		r := read(t, who70, Drugs{}, "", c.look, Vitals{}, Vitals{})
		l := ladderOf(must(agent.Of(term.AgentEther)))
		low, high, at := slices.Index(l.stages, r.Low), slices.Index(l.stages, r.High), slices.Index(l.stages, c.stage)
		if at < low || at > high || high-low > 1 {
			t.Errorf("%s reads as %s to %s", c.stage, r.Low, r.High)
		}
		for _, i := range r.Items {
			if i.Agreement != Agrees {
				t.Errorf("%s: %s %s", c.stage, i.Sign, i.Agreement)
			}
		}
		if len(r.Sources) == 0 || !slices.Contains(r.Cautions, EtherAlone) {
			t.Errorf("%s: no source or caution", c.stage)
		}
	}
}

// The bounds that have a tension: MAC-awake 0.67 of Stoelting and others 1970;
// 80, 110 and 165 mg/dL over 67.7 mg/dL at MAC.
func TestBounds(t *testing.T) {
	l := ladderOf(must(agent.Of(term.AgentEther)))
	for i, want := range []float64{0.67, 0.95, 1.18, 1.62, 2.0, 2.44} {
		if math.Abs(l.bounds[i]-want) > 0.01 {
			t.Errorf("bound %d is %.3f, not %v", i, l.bounds[i], want)
		}
	}
	var share [7]float64
	for d := 0.0; d < 4; d += 0.05 {
		l.belongs(d, share[:])
		sum := 0.0
		for _, x := range share {
			if x < 0 {
				t.Fatalf("%v at %v", x, d)
			}
			sum += x
		}
		if math.Abs(sum-1) > 1e-12 {
			t.Fatalf("%v at %v", sum, d)
		}
	}
}

func TestSignsInConflict(t *testing.T) {
	r := read(t, who70, Drugs{}, "", Look{
		Eyes: term.EyesStillCentral, Lid: term.ReflexGone, Jaw: term.JawSlack, Breathing: term.BreathingEvenAutomatic, Movement: term.MovementLimbs,
	}, Vitals{}, Vitals{})
	for _, i := range r.Items {
		want := Agrees
		if i.Sign == SignMovement {
			want = Conflicts
		}
		if i.Agreement != want {
			t.Errorf("%s %s", i.Sign, i.Agreement)
		}
	}
	if !slices.Contains(r.Cautions, SignsDisagree) {
		t.Error("nobody says that they disagree")
	}
	one := read(t, who70, Drugs{}, "", Look{Eyes: term.EyesStillCentral}, Vitals{}, Vitals{})
	if one.Items[0].Agreement != Alone || !slices.Contains(one.Cautions, OneSign) || !slices.Contains(one.Asks, AskOtherSign) {
		t.Errorf("one sign alone: %+v", one)
	}
	if one.Low != StageIII1 || one.High != StageIV {
		t.Errorf("still eyes leave %s to %s", one.Low, one.High)
	}
}

func TestPremedication(t *testing.T) {
	for _, c := range []struct {
		drugs  Drugs
		pupils term.Pupils
		why    Why
	}{
		{Drugs{Anticholinergic: true}, term.PupilsWide, WhyAnticholinergic},
		{Drugs{Anticholinergic: true}, term.PupilsWideFixed, WhyAnticholinergic},
		{Drugs{Anticholinergic: true}, term.PupilsSmall, ""},
		{Drugs{Opioid: true}, term.PupilsSmall, WhyOpioid},
		{Drugs{Opioid: true}, term.PupilsWide, ""},
		{Drugs{}, term.PupilsWide, ""},
		{Drugs{}, term.PupilsUneven, WhyOneEye},
	} {
		r := read(t, who70, c.drugs, "", Look{Pupils: c.pupils, Lid: term.ReflexGone}, Vitals{}, Vitals{})
		i := r.Items[0]
		if c.why == "" && i.Agreement == SaysNothing || c.why != "" && !slices.Equal(i.Why, []Why{c.why}) {
			t.Errorf("%+v %s: %+v", c.drugs, c.pupils, i)
		}
		// A danger stays one.
		if c.pupils == term.PupilsWideFixed && !slices.Contains(r.Dangers, DeepSign) {
			t.Error("wide and fixed is no danger any more")
		}
	}
	// A fast pulse after atropine is atropine's as well.
	r := read(t, who70, Drugs{Anticholinergic: true}, "", Look{}, Vitals{PulsePerMin: 80}, Vitals{PulsePerMin: 120})
	if !slices.Contains(r.Items[0].Why, WhyAnticholinergic) {
		t.Errorf("%+v", r.Items)
	}
}

// Ventilation, then bleeding, then drugs, and only then light: World Health
// Organization, Surgical Care at the District Hospital, 14.1E.
func TestWhatRisesAsksFirst(t *testing.T) {
	order := []Ask{AskVentilation, AskBleeding, AskDrugs, AskLight}
	for name, c := range map[string]struct {
		look        Look
		before, now Vitals
	}{
		"pulse":    {Look{}, Vitals{PulsePerMin: 80}, Vitals{PulsePerMin: 92}},
		"pressure": {Look{}, Vitals{SystolicMmHg: 120}, Vitals{SystolicMmHg: 138}},
		"sweat":    {Look{Sweat: term.SweatBeads}, Vitals{}, Vitals{}},
	} {
		r := read(t, who70, Drugs{}, "", c.look, c.before, c.now)
		if !slices.Equal(r.Asks, order) {
			t.Errorf("%s asks %v", name, r.Asks)
		}
		if r.Lean == LeanLight {
			t.Errorf("%s alone leans", name)
		}
	}
	calm := read(t, who70, Drugs{}, "", Look{}, Vitals{PulsePerMin: 80}, Vitals{PulsePerMin: 91})
	if len(calm.Asks) > 0 {
		t.Errorf("14 %% asks %v", calm.Asks)
	}
}

func TestSeeSawAsksForOneThing(t *testing.T) {
	for _, k := range []Look{{Breathing: term.BreathingSeeSaw}, {Chest: term.ChestOpposite}} {
		r := read(t, who70, Drugs{}, "", k, Vitals{}, Vitals{})
		if !slices.Equal(r.Dangers, []Reason{DeepOrClosed}) || !slices.Equal(r.Asks, []Ask{AskBreathAtMouth}) || r.Low != "" {
			t.Errorf("%+v: %+v", k, r)
		}
		k.AirAtMouth = Yes
		if r := read(t, who70, Drugs{}, "", k, Vitals{}, Vitals{}); !slices.Equal(r.Dangers, []Reason{DeepSign}) {
			t.Errorf("air moves: %v", r.Dangers)
		}
		k.AirAtMouth = No
		if r := read(t, who70, Drugs{}, "", k, Vitals{}, Vitals{}); !slices.Equal(r.Dangers, []Reason{ObstructedSign}) || !slices.Contains(r.Asks, AskAirway) {
			t.Errorf("no air moves: %v", r.Dangers)
		}
	}
}

func TestOtherAgentsHaveNoPlanes(t *testing.T) {
	who := who70
	who.Agents = []term.Agent{term.AgentHalothane}
	r := read(t, who, Drugs{}, "", Look{Eyes: term.EyesRoving, Movement: term.MovementLimbs, Tears: term.TearsRunning}, Vitals{}, Vitals{})
	if r.Lean != LeanLight || !slices.Equal(r.Items[0].Why, []Why{WhyNotThisAgent}) {
		t.Errorf("%+v", r)
	}
	r = read(t, who, Drugs{}, "", Look{Breathing: term.BreathingShallow}, Vitals{PulsePerMin: 90, SystolicMmHg: 120}, Vitals{PulsePerMin: 60, SystolicMmHg: 80})
	if r.Lean != LeanDeep {
		t.Errorf("%+v", r)
	}
	r = read(t, who, Drugs{}, "", Look{Breathing: term.BreathingShallow, Movement: term.MovementLimbs}, Vitals{}, Vitals{})
	if r.Lean != LeanBoth {
		t.Errorf("%+v", r)
	}
}

func TestWhereItDoesNotApply(t *testing.T) {
	with := func(f func(*Subject, *Drugs)) (Subject, Drugs) {
		s, d := who70, Drugs{}
		f(&s, &d)
		return s, d
	}
	for _, c := range []struct {
		want Reason
		make func(*Subject, *Drugs)
	}{
		{UnderOneYear, func(s *Subject, _ *Drugs) { s.Age = quantity.MustParse("11 mo") }},
		{AgeUnknown, func(s *Subject, _ *Drugs) { s.Age = quantity.Amount{} }},
		{Relaxant, func(_ *Subject, d *Drugs) { d.Relaxant = true }},
		{Ketamine, func(_ *Subject, d *Drugs) { d.Ketamine = true }},
		{Mixed, func(_ *Subject, d *Drugs) { d.Intravenous = true }},
		{Mixed, func(s *Subject, _ *Drugs) { s.Agents = []term.Agent{term.AgentEther, term.AgentHalothane} }},
		{NoAgent, func(s *Subject, _ *Drugs) { s.Agents = nil }},
		{NoModel, func(s *Subject, _ *Drugs) { s.Agents = []term.Agent{term.AgentChloroform} }},
		{GasAlone, func(s *Subject, _ *Drugs) { s.Agents = []term.Agent{term.AgentNitrousOxide} }},
	} {
		s, d := with(c.make)
		r := read(t, s, d, "", Look{Eyes: term.EyesStillCentral, Breathing: term.BreathingSeeSaw}, Vitals{}, Vitals{})
		if !slices.Contains(r.Reasons, c.want) || r.Low != "" || len(r.Items) > 0 {
			t.Errorf("%s: %+v", c.want, r)
		}
		// A danger is told all the same.
		if !slices.Contains(r.Dangers, DeepOrClosed) || !slices.Contains(r.Asks, AskBreathAtMouth) {
			t.Errorf("%s hides a danger", c.want)
		}
		run := newRun(t, s, Options{})
		if err := run.Update([]Event{{What: WhatDrugs, Drugs: d}}, 1); err != nil {
			t.Fatal(err)
		}
		if e := run.Estimate(); !slices.Contains(e.Withdrawn, c.want) || e.DepthMAC.High != 0 || e.Low != "" {
			t.Errorf("%s: an estimate all the same: %+v", c.want, e)
		}
		if _, ok, err := run.Ready(StepClosing, Off); ok || err != nil {
			t.Errorf("%s: a lead time all the same (%v)", c.want, err)
		}
		if _, ok := run.Waking(); ok {
			t.Errorf("%s: a waking all the same", c.want)
		}
	}
}

// anyLook draws a look out of all codes, each sign there or not.
func anyLook(t *rapid.T) Look {
	var k Look
	pick(t, "breathing", term.BreathingList, &k.Breathing)
	pick(t, "eyes", term.EyesList, &k.Eyes)
	pick(t, "pupils", term.PupilsList, &k.Pupils)
	pick(t, "lid", term.ReflexList, &k.Lid)
	pick(t, "cornea", term.ReflexList, &k.Cornea)
	pick(t, "jaw", term.JawList, &k.Jaw)
	pick(t, "chest", term.ChestList, &k.Chest)
	pick(t, "secretion", term.SecretionList, &k.Secretion)
	pick(t, "movement", term.MovementList, &k.Movement)
	pick(t, "sweat", term.SweatList, &k.Sweat)
	pick(t, "tears", term.TearsList, &k.Tears)
	pick(t, "colour", term.ColourList, &k.Colour)
	return k
}

func pick[C ~string](t *rapid.T, name string, l *term.List[C], to *C) {
	*to = rapid.SampledFrom(append(l.Codes(), "")).Draw(t, name)
}

// Whatever is seen, the reading is of known codes and in order.
func TestAnyLookReads(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		who := who70
		who.Agents = []term.Agent{rapid.SampledFrom([]term.Agent{term.AgentEther, term.AgentHalothane, term.AgentSevoflurane}).Draw(t, "agent")}
		d := Drugs{Anticholinergic: rapid.Bool().Draw(t, "a"), Opioid: rapid.Bool().Draw(t, "o")}
		k := anyLook(t)
		r, err := Read(who, d, rapid.SampledFrom(append(term.SupportList.Codes(), "")).Draw(t, "support"), k, Vitals{PulsePerMin: 80}, Vitals{PulsePerMin: 120})
		if err != nil {
			t.Fatal(err)
		}
		for _, i := range r.Items {
			if !slices.Contains(SignCodes, i.Sign) || !slices.Contains(AgreementCodes, i.Agreement) || i.Lean != "" && !slices.Contains(LeanCodes, i.Lean) {
				t.Fatalf("%+v", i)
			}
			if (len(i.Why) > 0) != (i.Agreement == SaysNothing) {
				t.Fatalf("%+v", i)
			}
			for _, w := range i.Why {
				if !slices.Contains(WhyCodes, w) {
					t.Fatal(w)
				}
			}
		}
		for _, a := range r.Asks {
			if !slices.Contains(AskCodes, a) {
				t.Fatal(a)
			}
		}
		for _, x := range r.Dangers {
			if !slices.Contains(ReasonCodes, x) {
				t.Fatal(x)
			}
		}
		if r.Low != "" && slices.Index(StageCodes, r.Low) > slices.Index(StageCodes, r.High) {
			t.Fatalf("%s to %s", r.Low, r.High)
		}
	})
}

func TestUnknownCodesAreNamed(t *testing.T) {
	for field, k := range map[string]Look{
		"breathing": {Breathing: "x"}, "eyes": {Eyes: "x"}, "pupils": {Pupils: "x"}, "lid": {Lid: "x"}, "cornea": {Cornea: "x"},
		"jaw": {Jaw: "x"}, "chest": {Chest: "x"}, "secretion": {Secretion: "x"}, "movement": {Movement: "x"}, "sweat": {Sweat: "x"},
		"tears": {Tears: "x"}, "colour": {Colour: "x"}, "air_at_mouth": {AirAtMouth: "x"},
	} {
		_, err := Read(who70, Drugs{}, "", k, Vitals{}, Vitals{})
		var e *agent.Error
		if !errors.As(err, &e) || e.Field != field || e.Code != agent.UnknownCode {
			t.Errorf("%s: %v", field, err)
		}
	}
}

// Every code of a sign that the table speaks of is in its row, or says nothing
// for a reason.
func TestRowsKnowTheirCodes(t *testing.T) {
	for _, info := range term.Lists() {
		for _, sign := range rowSigns {
			name := string(sign)
			if sign == SignLid || sign == SignCornea {
				name = "reflex"
			}
			if name != info.Name {
				continue
			}
			for _, code := range info.Codes {
				var k Look
				k.set(sign, code)
				if etherRows[sign].index(code) < 0 && len(silent(&ladder{rows: etherRows, ether: true}, sign, &k, Drugs{}, "")) == 0 {
					t.Errorf("%s %s is in no row and says something", sign, code)
				}
			}
		}
	}
	for sign, r := range etherRows {
		for i, u := range r.usual {
			if len(u) != 7 || !slices.Contains(u, isUsual) {
				t.Errorf("%s %s: %v", sign, r.codes[i], u)
			}
		}
	}
	for sign, r := range otherRows {
		for i, u := range r.usual {
			if len(u) != 4 || !slices.Contains(u, isUsual) {
				t.Errorf("%s %s: %v", sign, r.codes[i], u)
			}
		}
	}
}
