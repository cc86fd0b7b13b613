package visit

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"chinlift/core/exact"
	"chinlift/core/patient"
	"chinlift/core/quantity"
	"chinlift/core/term"
)

func sets(t interface {
	Helper()
	Fatal(...any)
}) []*Set {
	t.Helper()
	all, err := Sets()
	if err != nil {
		t.Fatal(err)
	}
	return all
}

// am makes an amount of its wire form; "" is absent.
func am(s string) quantity.Amount {
	if s == "" {
		return quantity.Amount{}
	}
	return quantity.MustParse(s)
}

func ate(what term.Intake, before string) Intake { return Intake{what, am(before)} }

func aged(age string) patient.Patient { return patient.Patient{Age: am(age)} }

func fault(t *testing.T, name string, err error, field, code string) {
	t.Helper()
	var e *patient.Error
	if !errors.As(err, &e) || e.Field != field || e.Code != code {
		t.Errorf("%s: %v, want %s at %s", name, err, code, field)
	}
}

func has[C ~string](list []C, c C) bool { return slices.Contains(list, c) }

func TestSets(t *testing.T) {
	all := sets(t)
	var codes []string
	for _, s := range all {
		codes = append(codes, s.Code)
		if len(s.Version) != 64 {
			t.Errorf("%s: version %q", s.Code, s.Version)
		}
		for _, i := range s.Intervals {
			if i.Source.Title == "" || i.Source.Mark == "" {
				t.Errorf("%s: %s without title or mark", s.Code, i.Intake)
			}
		}
		if s.NeedsConfirmation != (s.Code == "common-practice") {
			t.Errorf("%s needs confirmation: %t", s.Code, s.NeedsConfirmation)
		}
	}
	want := []string{"asa-2023", "common-practice", "district-2021", "esaic-adult-2011", "esaic-children-2022", "who-2003"}
	if !slices.Equal(codes, want) {
		t.Errorf("sets %v, want %v", codes, want)
	}
}

// Every cell of the published tables, at the start exactly and a second before
// it is long enough. What a table leaves open falls back on the longest that is
// published.
func TestIntervals(t *testing.T) {
	all := sets(t)
	const adult, child = "30 a", "4 a"
	for _, c := range []struct {
		set, age string
		what     term.Intake
		hours    string
		caution  patient.Caution // that the cell must carry
	}{
		// American Society of Anesthesiologists 2017, table; update 2023.
		{"asa-2023", adult, term.IntakeClearFluid, "2", ""},
		{"asa-2023", child, term.IntakeClearFluid, "2", ""},
		{"asa-2023", child, term.IntakeBreastMilk, "4", ""},
		{"asa-2023", child, term.IntakeFormula, "6", ""},
		{"asa-2023", adult, term.IntakeOtherMilk, "6", ""},
		{"asa-2023", adult, term.IntakeLightMeal, "6", ""},
		{"asa-2023", adult, term.IntakeFullMeal, "8", ""},
		{"asa-2023", adult, term.IntakeUnknown, "8", KindNotKnown},
		// European Society of Anaesthesiology 2011.
		{"esaic-adult-2011", adult, term.IntakeClearFluid, "2", ""},
		{"esaic-adult-2011", child, term.IntakeBreastMilk, "4", ""},
		{"esaic-adult-2011", child, term.IntakeFormula, "6", ""},
		{"esaic-adult-2011", child, term.IntakeOtherMilk, "6", ""},
		{"esaic-adult-2011", adult, term.IntakeLightMeal, "6", ""},
		{"esaic-adult-2011", adult, term.IntakeFullMeal, "8", NotCovered},
		// The same society with Intensive Care, children, 2022.
		{"esaic-children-2022", child, term.IntakeClearFluid, "1", PublishedDiffer},
		{"esaic-children-2022", child, term.IntakeBreastMilk, "3", PublishedDiffer},
		{"esaic-children-2022", child, term.IntakeFormula, "4", PublishedDiffer},
		{"esaic-children-2022", child, term.IntakeOtherMilk, "6", patient.ConfirmLocally},
		{"esaic-children-2022", child, term.IntakeLightMeal, "6", patient.ConfirmLocally},
		{"esaic-children-2022", child, term.IntakeFullMeal, "8", NotCovered},
		{"esaic-children-2022", "15.9 a", term.IntakeClearFluid, "1", PublishedDiffer},
		{"esaic-children-2022", "16 a", term.IntakeClearFluid, "2", NotCovered},
		// World Health Organization 2003.
		{"who-2003", adult, term.IntakeClearFluid, "2", ""},
		{"who-2003", "6 mo", term.IntakeBreastMilk, "3", PublishedDiffer},
		{"who-2003", "12 mo", term.IntakeBreastMilk, "4", NotCovered},
		{"who-2003", "6 mo", term.IntakeFormula, "6", NotCovered},
		{"who-2003", adult, term.IntakeLightMeal, "6", ""},
		{"who-2003", adult, term.IntakeFullMeal, "8", NotCovered},
		// District hospitals 2021, table 3.
		{"district-2021", adult, term.IntakeClearFluid, "2", ""},
		{"district-2021", child, term.IntakeClearFluid, "1", PublishedDiffer},
		{"district-2021", child, term.IntakeBreastMilk, "4", ""},
		{"district-2021", child, term.IntakeFormula, "6", ""},
		{"district-2021", adult, term.IntakeOtherMilk, "6", ""},
		{"district-2021", adult, term.IntakeLightMeal, "6", ""},
		{"district-2021", child, term.IntakeLightMeal, "6", NotCovered},
		{"district-2021", adult, term.IntakeFullMeal, "8", ""},
		{"district-2021", child, term.IntakeFullMeal, "6", PublishedDiffer},
		// Common practice, before and after it was confirmed.
		{"common-practice", adult, term.IntakeLightMeal, "6", SetNotConfirmed},
		{"common-practice", adult, term.IntakeFullMeal, "8", SetNotConfirmed},
		{"common-practice", adult, term.IntakeClearFluid, "2", SetNotConfirmed},
		{"common-practice confirmed", adult, term.IntakeLightMeal, "4", UndercutsPublished},
		{"common-practice confirmed", adult, term.IntakeFullMeal, "4", UndercutsPublished},
		{"common-practice confirmed", adult, term.IntakeClearFluid, "2", patient.ConfirmLocally},
		{"common-practice confirmed", child, term.IntakeClearFluid, "2", patient.ConfirmLocally},
		{"common-practice confirmed", child, term.IntakeFormula, "6", NotCovered},
		// Without an age the longer.
		{"district-2021", "", term.IntakeClearFluid, "2", ""},
		{"esaic-children-2022", "", term.IntakeFormula, "6", ""},
	} {
		set, confirmed := strings.CutSuffix(c.set, " confirmed")
		name := fmt.Sprintf("%s, %s, %q", c.set, c.what, c.age)
		ask := func(before string) IntakeFast {
			f, err := Fasting(all, set, Stomach{Patient: aged(c.age), Intakes: []Intake{ate(c.what, before)}, Start: am("30 min"), Confirmed: confirmed})
			if err != nil {
				t.Fatalf("%s: %v", name, err)
			}
			return f.Intakes[0]
		}
		h := exact.Of(c.hours)
		seconds := h.Times(exact.Whole(3600)).Floor().Int64() - 30*60
		enough, short := ask(fmt.Sprintf("%d s", seconds)), ask(fmt.Sprintf("%d s", seconds-1))
		if got := enough.Needed.Value.String(); got != c.hours+" h" || !enough.Satisfied || short.Satisfied {
			t.Errorf("%s: needs %s, want %s h; at it %t, a second before %t", name, got, c.hours, enough.Satisfied, short.Satisfied)
		}
		if c.caution != "" && !has(enough.Needed.Cautions, c.caution) {
			t.Errorf("%s: cautions %v, want %s", name, enough.Needed.Cautions, c.caution)
		}
		if c.age == "" && !has(enough.Needed.Assumptions, AgeUnknownLonger) {
			t.Errorf("%s: assumptions %v", name, enough.Needed.Assumptions)
		}
		if len(enough.Needed.Sources) == 0 {
			t.Errorf("%s: no source", name)
		}
	}
}

func TestUndercuts(t *testing.T) {
	all := sets(t)
	got := func(code, age string) map[term.Intake]Undercut {
		us, err := Undercuts(all, code, am(age))
		if err != nil {
			t.Fatal(err)
		}
		m := map[term.Intake]Undercut{}
		for _, u := range us {
			m[u.Here.Intake] = u
		}
		return m
	}
	codes := func(u Undercut) (s []string) {
		for _, p := range u.Published {
			s = append(s, p.Set+" "+p.Needs.String())
		}
		return s
	}
	// Four hours for food are shorter than all: 6 h everywhere, 8 h for a fatty
	// meal where one is named. Two hours for drink are not.
	m := got("common-practice", "30 a")
	if u := m[term.IntakeLightMeal]; !u.All || !slices.Equal(codes(u), []string{"asa-2023 6 h", "district-2021 6 h", "esaic-adult-2011 6 h", "who-2003 6 h"}) {
		t.Errorf("light meal: %v, all %t", codes(u), u.All)
	}
	if u := m[term.IntakeFullMeal]; !u.All || !slices.Equal(codes(u), []string{"asa-2023 8 h", "district-2021 8 h"}) {
		t.Errorf("full meal: %v, all %t", codes(u), u.All)
	}
	if len(m) != 2 {
		t.Errorf("undercuts %v", m)
	}
	if m := got("asa-2023", ""); len(m) != 0 {
		t.Errorf("the longest set undercuts %v", m)
	}
	if u := got("esaic-children-2022", "")[term.IntakeClearFluid]; u.All || !slices.Equal(codes(u), []string{"asa-2023 2 h", "esaic-adult-2011 2 h", "who-2003 2 h"}) {
		t.Errorf("drink of children: %v, all %t", codes(u), u.All)
	}
	_, err := Undercuts(all, "none", quantity.Amount{})
	fault(t, "a set that is none", err, "set", UnknownSet)
	_, err = Undercuts(all, "asa-2023", am("121 a"))
	fault(t, "an age that is none", err, "age", patient.TooHigh)
}

func TestFasting(t *testing.T) {
	all := sets(t)
	meal := func(before string) Intake { return ate(term.IntakeLightMeal, before) }
	water := func(before string) Intake { return ate(term.IntakeClearFluid, before) }
	stop := func(before string) Stop { return Stop{true, am(before)} }
	for name, c := range map[string]struct {
		q        Stomach
		verdict  term.Fasting
		decides  int
		earliest string
		drink    string
	}{
		"nothing asked":           {Stomach{}, term.FastingNotAsked, -1, "", ""},
		"long enough":             {Stomach{Intakes: []Intake{meal("5 h"), water("1 h")}}, term.FastingLongEnough, 0, "60 min", ""},
		"drink is last":           {Stomach{Intakes: []Intake{meal("9 h"), water("0.5 h")}}, term.FastingWait, 1, "90 min", ""},
		"drink until":             {Stomach{Intakes: []Intake{meal("9 h")}, Start: am("200 min")}, term.FastingLongEnough, 0, "0 min", "80 min"},
		"drink just over":         {Stomach{Intakes: []Intake{meal("9 h")}, Start: am("119 min")}, term.FastingLongEnough, 0, "0 min", ""},
		"waits a minute":          {Stomach{Intakes: []Intake{meal("299 min")}}, term.FastingWait, 0, "61 min", ""},
		"a second makes a minute": {Stomach{Intakes: []Intake{meal("17999 s")}}, term.FastingWait, 0, "61 min", ""},
		"nobody knows when":       {Stomach{Intakes: []Intake{water("9 h"), meal("")}}, term.FastingNotFasted, 1, "", ""},
		"a full stomach":          {Stomach{Intakes: []Intake{meal("20 h")}, With: []term.Condition{term.ConditionAsthma, term.ConditionFullStomach}}, term.FastingNotFasted, 0, "0 min", ""},
		"reflux":                  {Stomach{Intakes: []Intake{meal("20 h")}, Reflux: true}, term.FastingNotFasted, 0, "0 min", ""},
		"injured after 6 h":       {Stomach{Intakes: []Intake{meal("9 h")}, Injury: stop("3 h")}, term.FastingNotFasted, 0, "0 min", ""},
		"injured after 5 h":       {Stomach{Intakes: []Intake{meal("9 h")}, Injury: stop("4 h")}, term.FastingNotFasted, 0, "", ""},
		"opioid after 6 h":        {Stomach{Intakes: []Intake{meal("9 h")}, Opioid: stop("3 h")}, term.FastingLongEnough, 0, "0 min", ""},
		"no drink after opioid":   {Stomach{Intakes: []Intake{meal("9 h")}, Opioid: stop("3 h"), Start: am("300 min")}, term.FastingLongEnough, 0, "0 min", ""},
		"opioid after 5 h":        {Stomach{Intakes: []Intake{meal("9 h")}, Opioid: stop("4 h")}, term.FastingNotFasted, 0, "", ""},
		"opioid, when":            {Stomach{Intakes: []Intake{meal("9 h")}, Opioid: Stop{There: true}}, term.FastingNotFasted, 0, "", ""},
		"drink after the opioid":  {Stomach{Intakes: []Intake{meal("12 h"), water("2 h")}, Opioid: stop("3 h")}, term.FastingNotFasted, 1, "", ""},
		"emergency":               {Stomach{Intakes: []Intake{meal("1 h")}, Emergency: true}, term.FastingPrecautions, 0, "300 min", ""},
		"emergency, not asked":    {Stomach{Emergency: true}, term.FastingPrecautions, -1, "", ""},
	} {
		t.Run(name, func(t *testing.T) {
			q := c.q
			q.Patient = aged("30 a")
			if q.Start.IsZero() {
				q.Start = am("60 min")
			}
			f, err := Fasting(all, "asa-2023", q)
			if err != nil {
				t.Fatal(err)
			}
			if f.Verdict != c.verdict || f.Decides != c.decides || f.Earliest.String() != c.earliest || f.DrinkUntil.String() != c.drink {
				t.Errorf("%s, decided by %d, earliest %q, drink until %q; want %s, %d, %q, %q", f.Verdict, f.Decides, f.Earliest, f.DrinkUntil, c.verdict, c.decides, c.earliest, c.drink)
			}
			if !has(f.Cautions, HealthyElective) || !has(f.Cautions, FastedIsNotEmpty) {
				t.Errorf("cautions %v", f.Cautions)
			}
		})
	}
}

// What was counted, and until when.
func TestFastedTime(t *testing.T) {
	all := sets(t)
	q := Stomach{Patient: aged("30 a"), Start: am("59.5 min"), Intakes: []Intake{ate(term.IntakeLightMeal, "9 h"), ate(term.IntakeClearFluid, "1 h"), ate(term.IntakeFormula, "")}}
	want := func(name string, minutes ...string) {
		t.Helper()
		f, err := Fasting(all, "asa-2023", q)
		if err != nil {
			t.Fatal(err)
		}
		for n, m := range minutes {
			if got := f.Intakes[n].Fasted.String(); got != m {
				t.Errorf("%s: intake %d counts %q, want %q", name, n, got, m)
			}
		}
	}
	want("no injury", "599 min", "119 min", "")
	q.Injury = Stop{true, am("3 h")}
	want("injury", "360 min", "0 min", "")
	q.Opioid = Stop{true, am("5 h")} // the earlier of the two
	want("injury and opioid", "240 min", "0 min", "")
	q.Injury = Stop{There: true}
	want("nobody knows when", "0 min", "0 min", "")
}

func TestDelays(t *testing.T) {
	all := sets(t)
	ask := func(q Stomach) Fast {
		t.Helper()
		q.Start, q.Intakes = am("0 min"), []Intake{ate(term.IntakeLightMeal, "20 h")}
		f, err := Fasting(all, "asa-2023", q)
		if err != nil {
			t.Fatal(err)
		}
		if (len(f.Delays) > 0) != (f.Verdict == term.FastingNotFasted) {
			t.Errorf("%v with %s", f.Delays, f.Verdict)
		}
		for _, d := range f.Delays {
			if d.Source.Title == "" || (d.Condition == "") == (d.Other == "") {
				t.Errorf("delay %+v", d)
			}
		}
		return f
	}
	for _, s := range slow {
		if f := ask(Stomach{With: []term.Condition{term.ConditionHypertension, s.condition}}); len(f.Delays) != 1 || f.Delays[0].Condition != s.condition {
			t.Errorf("%s: %v", s.condition, f.Delays)
		}
	}
	for _, c := range []term.Condition{term.ConditionFullStomach, term.ConditionBowelObstruction, term.ConditionInLabour, term.ConditionDiabetes, term.ConditionKidneyFailure, term.ConditionRaisedIcp} {
		if f := ask(Stomach{With: []term.Condition{c}}); len(f.Delays) != 1 {
			t.Errorf("%s delays nothing", c)
		}
	}
	if f := ask(Stomach{Injury: Stop{true, am("1 h")}, Opioid: Stop{true, am("1 h")}}); len(f.Delays) != 1 || f.Delays[0].Other != term.SlowStomachInjury {
		t.Errorf("injury and a late opioid: %v", f.Delays)
	}
	// Body mass index 30 at 200 cm: 120 kg; 119.7 kg are 29.925, to a tenth 29.9.
	for weight, n := range map[string]int{"120 kg": 1, "119.7 kg": 0} {
		p := patient.Patient{Age: am("40 a"), Weight: am(weight), Length: am("200 cm"), WeightBy: term.WeightByScale}
		if f := ask(Stomach{Patient: p}); len(f.Delays) != n || n == 1 && (f.Delays[0].Other != term.SlowStomachObesity || f.Delays[0].Against.Title == "") {
			t.Errorf("%s: %v", weight, f.Delays)
		}
	}
	if f := ask(Stomach{With: []term.Condition{term.ConditionAsthma}, Patient: patient.Patient{Weight: am("120 kg")}}); len(f.Delays) != 0 {
		t.Errorf("asthma delays: %v", f.Delays)
	}
}

func TestFastingRefuses(t *testing.T) {
	all := sets(t)
	ok := Stomach{Patient: aged("30 a"), Start: am("0 min"), Intakes: []Intake{ate(term.IntakeLightMeal, "1 h")}}
	for name, c := range map[string]struct {
		set         string
		change      func(*Stomach)
		field, code string
	}{
		"no set":            {"none", func(*Stomach) {}, "set", UnknownSet},
		"no start":          {"asa-2023", func(q *Stomach) { q.Start = am("") }, "start", patient.Missing},
		"start is over":     {"asa-2023", func(q *Stomach) { q.Start = am("-1 min") }, "start", patient.TooLow},
		"start next year":   {"asa-2023", func(q *Stomach) { q.Start = am("300 d") }, "start", patient.TooHigh},
		"start in kg":       {"asa-2023", func(q *Stomach) { q.Start = am("1 kg") }, "start", patient.WrongUnit},
		"age":               {"asa-2023", func(q *Stomach) { q.Patient.Age = am("130 a") }, "age", patient.TooHigh},
		"ate later":         {"asa-2023", func(q *Stomach) { q.Intakes[0].Before = am("-1 h") }, "before", patient.TooLow},
		"ate long ago":      {"asa-2023", func(q *Stomach) { q.Intakes[0].Before = am("31 d") }, "before", patient.TooHigh},
		"no such food":      {"asa-2023", func(q *Stomach) { q.Intakes[0].What = "stone" }, "what", patient.UnknownCode},
		"no food":           {"asa-2023", func(q *Stomach) { q.Intakes[0].What = "" }, "what", patient.UnknownCode},
		"no such condition": {"asa-2023", func(q *Stomach) { q.With = []term.Condition{"luck"} }, "with", patient.UnknownCode},
		"injury to come":    {"asa-2023", func(q *Stomach) { q.Injury = Stop{true, am("-1 h")} }, "injury", patient.TooLow},
		"no injury, when":   {"asa-2023", func(q *Stomach) { q.Injury = Stop{false, am("1 h")} }, "injury", Contradiction},
		"no opioid, when":   {"asa-2023", func(q *Stomach) { q.Opioid = Stop{false, am("1 h")} }, "opioid", Contradiction},
		"weight":            {"asa-2023", func(q *Stomach) { q.Patient.Weight, q.Patient.Length = am("4000 kg"), am("200 cm") }, "weight", patient.TooHigh},
	} {
		q := ok
		q.Intakes = slices.Clone(ok.Intakes)
		c.change(&q)
		_, err := Fasting(all, c.set, q)
		fault(t, name, err, c.field, c.code)
	}
	_, err := Fasting(all[1:2], "common-practice", ok)
	fault(t, "nothing published to fall back on", err, "what", NonePublished)
}

func anyStomach(t *rapid.T) Stomach {
	some := func(label string, most int) quantity.Amount {
		return quantity.MustParse(fmt.Sprintf("%d s", rapid.IntRange(0, most).Draw(t, label)))
	}
	stop := func(label string) Stop {
		switch rapid.IntRange(0, 2).Draw(t, label) {
		case 0:
			return Stop{}
		case 1:
			return Stop{There: true}
		}
		return Stop{true, some(label+" ago", 60000)}
	}
	q := Stomach{Start: some("start", 60000), Injury: stop("injury"), Opioid: stop("opioid"), Confirmed: rapid.Bool().Draw(t, "confirmed")}
	if rapid.Bool().Draw(t, "known age") {
		q.Patient.Age = quantity.MustParse(fmt.Sprintf("%d mo", rapid.IntRange(0, 480).Draw(t, "age")))
	}
	for range rapid.IntRange(0, 4).Draw(t, "intakes") {
		in := Intake{What: rapid.SampledFrom(term.IntakeList.Codes()).Draw(t, "what")}
		if rapid.IntRange(0, 4).Draw(t, "known") > 0 {
			in.Before = some("before", 90000)
		}
		q.Intakes = append(q.Intakes, in)
	}
	return q
}

// More hours never make an intake less satisfied, nor does a later start; the
// earliest start that is told is the first minute at which it is satisfied; and
// a verdict that lets nobody wait rests on every intake.
func TestFastingProperties(t *testing.T) {
	all := sets(t)
	var codes []string
	for _, s := range all {
		codes = append(codes, s.Code)
	}
	rapid.Check(t, func(t *rapid.T) {
		q, set := anyStomach(t), rapid.SampledFrom(codes).Draw(t, "set")
		ask := func(q Stomach) Fast {
			f, err := Fasting(all, set, q)
			if err != nil {
				t.Fatal(err)
			}
			return f
		}
		f := ask(q)
		later := q
		later.Start = quantity.MustParse(fmt.Sprintf("%d s", exact.Of(q.Start.Value.String()).Floor().Int64()+int64(rapid.IntRange(0, 50000).Draw(t, "later"))))
		for n, in := range ask(later).Intakes {
			if f.Intakes[n].Satisfied && !in.Satisfied {
				t.Fatalf("intake %d is less satisfied at a later start", n)
			}
		}
		for n, in := range q.Intakes {
			one := f.Intakes[n]
			if in.Before.IsZero() {
				if one.Satisfied || !one.Earliest.IsZero() {
					t.Fatalf("intake %d at an unknown time: %+v", n, one)
				}
				continue
			}
			more := q
			more.Intakes = slices.Clone(q.Intakes)
			more.Intakes[n].Before = quantity.MustParse(fmt.Sprintf("%d s", exact.Of(in.Before.Value.String()).Floor().Int64()+int64(rapid.IntRange(0, 50000).Draw(t, "more"))))
			if one.Satisfied && !ask(more).Intakes[n].Satisfied {
				t.Fatalf("intake %d is less satisfied after more hours", n)
			}
			if one.Earliest.IsZero() {
				continue
			}
			at := q
			at.Start = one.Earliest
			if !ask(at).Intakes[n].Satisfied {
				t.Fatalf("intake %d is not satisfied at its earliest start %s", n, one.Earliest)
			}
			if m := exact.Of(one.Earliest.Value.String()).Floor().Int64(); m > 0 {
				at.Start = exact.Whole(m-1).Amount(0, quantity.Minute)
				if ask(at).Intakes[n].Satisfied {
					t.Fatalf("intake %d is satisfied before its earliest start %s", n, one.Earliest)
				}
			}
		}
		if f.Verdict == term.FastingLongEnough {
			for n, in := range f.Intakes {
				if !in.Satisfied {
					t.Fatalf("long enough, but intake %d is not", n)
				}
			}
		}
		if !f.Earliest.IsZero() && len(f.Delays) == 0 {
			at := q
			at.Start = f.Earliest
			if g := ask(at); g.Verdict != term.FastingLongEnough {
				t.Fatalf("%s at the earliest start %s", g.Verdict, f.Earliest)
			}
		}
		if (f.Decides < 0) != (len(q.Intakes) == 0) {
			t.Fatalf("decided by %d of %d", f.Decides, len(q.Intakes))
		}
	})
}

const goodSet = `name.en = "A set"
[source.book]
title = "A book"
[[interval]]
intake = "clear-fluid"
needs = "2 h"
source = "book"
mark = "read"
`

func TestParseSetRefuses(t *testing.T) {
	for name, c := range map[string]struct{ from, to, want string }{
		"unknown key":         {`mark =`, "hint = 1\nmark =", "not known"},
		"no name":             {`name.en = "A set"`, "", "name"},
		"not TOML":            {`[[interval]]`, `[[interval`, "fasting set x"},
		"no interval":         {goodSet[strings.Index(goodSet, "[[interval]]"):], "", "no interval"},
		"no such intake":      {`"clear-fluid"`, `"stone"`, "stone"},
		"unknown intake":      {`"clear-fluid"`, `"unknown"`, "unknown"},
		"no source":           {`source = "book"`, ``, "no source"},
		"another source":      {`source = "book"`, `source = "film"`, "no source"},
		"source sans title":   {`title = "A book"`, `author = "N. N."`, "no source"},
		"no mark":             {`mark = "read"`, "", "mark"},
		"practice unsaid":     {`mark = "read"`, `mark = "practice"`, "needs_confirmation"},
		"no time":             {`needs = "2 h"`, "", "missing"},
		"minutes too few":     {`"2 h"`, `"29 min"`, "too-low"},
		"more than a day":     {`"2 h"`, `"25 h"`, "too-high"},
		"not a time":          {`"2 h"`, `"2 kg"`, "wrong-unit"},
		"ages crossed":        {`mark = "read"`, "mark = \"read\"\nfrom = \"16 a\"\nunder = \"1 a\"", "nobody"},
		"age of no one":       {`mark = "read"`, "mark = \"read\"\nfrom = \"160 a\"", "too-high"},
		"needs is not quoted": {`"2 h"`, `2`, "fasting set x"},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := ParseSet("x", []byte(strings.Replace(goodSet, c.from, c.to, 1)))
			if err == nil || !strings.Contains(err.Error(), c.want) {
				t.Errorf("got %v, want an error with %q", err, c.want)
			}
		})
	}
	again := goodSet[strings.Index(goodSet, "[[interval]]"):]
	if _, err := ParseSet("x", []byte(goodSet+again)); err == nil || !strings.Contains(err.Error(), "twice") {
		t.Errorf("two intervals for all ages: %v", err)
	}
	if _, err := ParseSet("x", []byte(goodSet+again+`from = "16 a"`)); err == nil || !strings.Contains(err.Error(), "twice") {
		t.Errorf("two intervals for adults: %v", err)
	}
	if _, err := ParseSet("x", []byte(goodSet+"under = \"16 a\"\n"+again+`from = "16 a"`)); err != nil {
		t.Errorf("one for each age: %v", err)
	}
	if _, err := ParseSet("X y", []byte(goodSet)); err == nil {
		t.Error("a code with a space")
	}
	s, err := ParseSet("x", []byte(goodSet))
	if err != nil {
		t.Fatal(err)
	}
	if got := s.Name.In("fr-CD"); got != "A set" {
		t.Errorf("a language without a text falls back to English: %q", got)
	}
	if got := (Text{"en": "a", "fr": "b"}).In("fr-CD"); got != "b" {
		t.Errorf("a language without its region: %q", got)
	}
}

func FuzzParseSet(f *testing.F) {
	f.Add([]byte(goodSet))
	f.Add([]byte("needs_confirmation = true\n" + strings.ReplaceAll(goodSet, `"read"`, `"practice"`)))
	all, err := Sets()
	if err != nil {
		f.Fatal(err)
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		s, err := ParseSet("fuzzed", data)
		if err != nil {
			return
		}
		if len(s.Intervals) == 0 || s.Name["en"] == "" {
			t.Fatal("accepted a set without intervals or name")
		}
		with := append([]*Set{s}, all...)
		for _, i := range term.IntakeList.Codes() {
			for _, age := range []string{"", "3 mo", "30 a"} {
				if _, err := Fasting(with, "fuzzed", Stomach{Patient: aged(age), Start: am("0 min"), Intakes: []Intake{ate(i, "3 h")}}); err != nil {
					t.Fatalf("%s at %q: %v", i, age, err)
				}
				if _, err := Undercuts(with, "fuzzed", am(age)); err != nil {
					t.Fatal(err)
				}
			}
		}
	})
}
