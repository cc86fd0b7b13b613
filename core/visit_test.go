package core_test

import (
	"errors"
	"slices"
	"strings"
	"testing"
	"time"

	"chinlift/core"
	"chinlift/core/term"
	"chinlift/core/timeline"
)

func fasting(t *testing.T, c *core.Companion, id string) core.FastingView {
	t.Helper()
	cs, err := c.Case(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	v, err := c.Fasting(t.Context(), cs)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

func startOf(t *testing.T, c *core.Companion, id string) core.StartView {
	t.Helper()
	v, err := c.StartOf(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

func owedFor(t *testing.T, c *core.Companion, id string) []string {
	t.Helper()
	cs, err := c.Case(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	var all []string
	for _, e := range cs.Owing() {
		all = append(all, string(e.Now().Payload.(*timeline.Owed).For))
	}
	return all
}

// The six hours for a light meal are those of the American Society of
// Anesthesiologists, Practice guidelines for preoperative fasting, 2017.
func TestFastingAtThePlannedStart(t *testing.T) {
	clock := newClock() // 08:00
	c := openAt(t, t.TempDir(), clock)
	id := openCase(t, c, "X")
	if v := fasting(t, c, id); v.Code != string(term.FastingNotAsked) || !v.StartAssumed {
		t.Errorf("nobody was asked: %+v", v)
	}
	submit(t, c, id, "plan", "start", "09:00")
	submit(t, c, id, "intake", "what", "light-meal", "at", "03:00")
	if v := fasting(t, c, id); v.Code != string(term.FastingLongEnough) || v.Start != "09:00" || v.DrinkUntil != "" && v.DrinkUntil > "07:00" {
		t.Errorf("six hours to the minute: %+v", v)
	}
	submit(t, c, id, "intake", "what", "light-meal", "at", "03:01")
	v := fasting(t, c, id)
	if v.Code != string(term.FastingWait) || v.Earliest != "09:01" || v.Decides != "light meal" {
		t.Errorf("a minute less: %+v", v)
	}
	// The list of the day changed: the start moves, and with it all that hangs
	// on it.
	if _, err := c.MoveStart(t.Context(), core.NewID(), id, 3*time.Hour); err != nil {
		t.Fatal(err)
	}
	v = fasting(t, c, id)
	if v.Code != string(term.FastingLongEnough) || v.Start != "12:00" || v.DrinkUntil != "10:00" {
		t.Errorf("at the later start: %+v", v)
	}
	if _, err := c.MoveStart(t.Context(), core.NewID(), id, -4*time.Hour); err != nil {
		t.Fatal(err)
	}
	if v = fasting(t, c, id); v.Code != string(term.FastingWait) || v.Start != "08:00" {
		t.Errorf("at the earlier start: %+v", v)
	}
}

// An unknown time never counts, until somebody remembers.
func TestFastingUnknownTime(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	id := openCase(t, c, "X")
	submit(t, c, id, "intake", "what", "light-meal", "back", "10h")
	clock.pass(time.Minute)
	submit(t, c, id, "intake", "what", "light-meal", "unknown_time", "yes")
	if v := fasting(t, c, id); v.Code != string(term.FastingNotFasted) || v.Earliest != "" {
		t.Errorf("nobody knows when: %+v", v)
	}
	clock.pass(time.Minute)
	submit(t, c, id, "intake", "what", "light-meal", "back", "9h")
	if v := fasting(t, c, id); v.Code != string(term.FastingLongEnough) {
		t.Errorf("it was remembered: %+v", v)
	}
	// Of two meals the later one counts, whichever was told last.
	submit(t, c, id, "intake", "what", "light-meal", "back", "3h")
	clock.pass(time.Minute)
	submit(t, c, id, "intake", "what", "light-meal", "back", "11h")
	if v := fasting(t, c, id); v.Code != string(term.FastingWait) {
		t.Errorf("three hours ago counts: %+v", v)
	}
}

func TestFastingStopsWithInjuryAndOpioid(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	id := openCase(t, c, "X")
	submit(t, c, id, "intake", "what", "full-meal", "back", "12h")
	submit(t, c, id, "stomach", "by", "injury", "back", "10h")
	v := fasting(t, c, id)
	if v.Code != string(term.FastingNotFasted) || len(v.Delays) != 1 || !strings.Contains(v.Intakes[0].Fasted, "2 h") {
		t.Errorf("two hours to the injury: %+v", v)
	}
	other := openCase(t, c, "Y")
	submit(t, c, other, "intake", "what", "full-meal", "back", "12h")
	submit(t, c, other, "drug", "drug", "morphine", "dose", "5", "dose_unit", "mg", "route", "im", "back", "60")
	if v = fasting(t, c, other); v.Code != string(term.FastingLongEnough) || !strings.Contains(v.Intakes[0].Fasted, "11 h") {
		t.Errorf("eleven hours to the opioid are enough: %+v", v)
	}
	early := openCase(t, c, "Z")
	submit(t, c, early, "intake", "what", "full-meal", "back", "12h")
	submit(t, c, early, "drug", "drug", "morphine", "dose", "5", "dose_unit", "mg", "route", "im", "back", "10h")
	if v = fasting(t, c, early); v.Code != string(term.FastingNotFasted) {
		t.Errorf("two hours to the opioid are not: %+v", v)
	}
}

// The set of common practice is shorter than every published one: it holds
// only while a named person stands for it, and says so before every start.
func TestCommonPracticeNeedsAName(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	ctx := t.Context()
	id := openCase(t, c, "X")
	submit(t, c, id, "intake", "what", "light-meal", "back", "4h")
	sets, err := c.FastingSets(ctx)
	if err != nil {
		t.Fatal(err)
	}
	i := slices.IndexFunc(sets, func(s core.FastingSet) bool { return s.Code == "common-practice" })
	if i < 0 || !sets[i].Needs || len(sets[i].Undercuts) == 0 || sets[i].Chosen {
		t.Fatalf("the set: %+v", sets)
	}
	version := sets[i].Version
	refused := func(err error, field, code string) {
		t.Helper()
		var fe *timeline.FieldError
		if !errors.As(err, &fe) || fe.Field != field || fe.Code != code {
			t.Errorf("got %v, want %s %s", err, field, code)
		}
	}
	before := c.Stored()
	_, err = c.ChooseFasting(ctx, core.NewID(), "common-practice")
	refused(err, "set", "not-confirmed")
	_, err = c.SetClinic(ctx, core.NewID(), "fasting-set", "common-practice")
	refused(err, "set", "not-confirmed")
	_, err = c.AgreeFasting(ctx, core.NewID(), "common-practice", version, false)
	refused(err, "name", "missing")
	if c.Stored() != before {
		t.Error("a refusal wrote something")
	}
	if _, err := c.NameAuthor(ctx, core.NewID(), "Invented Provider"); err != nil {
		t.Fatal(err)
	}
	_, err = c.AgreeFasting(ctx, core.NewID(), "common-practice", strings.Repeat("0", 64), false)
	refused(err, "set", "changed")
	if _, err := c.AgreeFasting(ctx, core.NewID(), "common-practice", version, false); err != nil {
		t.Fatal(err)
	}
	if v := fasting(t, c, id); v.Code != string(term.FastingWait) || v.Notice != "" {
		t.Errorf("confirmed is not yet chosen: %+v", v)
	}
	if _, err := c.ChooseFasting(ctx, core.NewID(), "common-practice"); err != nil {
		t.Fatal(err)
	}
	v := startOf(t, c, id)
	if f := fasting(t, c, id); f.Code != string(term.FastingLongEnough) || !strings.Contains(v.Notice, "Invented Provider") || !strings.Contains(v.Notice, "no source") {
		t.Errorf("by common practice: %+v, notice %q", f, v.Notice)
	}
	clock.pass(time.Minute)
	if _, err := c.AgreeFasting(ctx, core.NewID(), "common-practice", version, true); err != nil {
		t.Fatal(err)
	}
	if f := fasting(t, c, id); f.Code != string(term.FastingWait) || !strings.Contains(f.Notice, "nobody stands for it") {
		t.Errorf("nobody stands for it now: %+v", f)
	}
}

func answerAll(t *testing.T, c *core.Companion, id, pause, answer string) {
	t.Helper()
	v, err := c.Pause(t.Context(), id, pause)
	if err != nil {
		t.Fatal(err)
	}
	for _, it := range v.Items {
		if it.Stop {
			if _, err := c.AnswerPause(t.Context(), core.NewID(), id, pause, it.Code, core.PauseAnswer(answer)); err != nil {
				t.Fatal(err)
			}
		}
	}
}

// Starting is a fact: it goes in whatever is open, with one reason owed, and
// a retry of it is the same two entries.
func TestStartIsAFact(t *testing.T) {
	clock := newClock()
	for _, tt := range []struct {
		name string
		do   func(c *core.Companion, id string)
		want []string
	}{
		{"nothing was asked", func(*core.Companion, string) {}, []string{"started-without-check"}},
		{"a stop was answered no", func(c *core.Companion, id string) {
			answerAll(t, c, id, "before-induction", "yes")
			answerAll(t, c, id, "before-first-drop", "no")
		}, []string{"stop-passed"}},
		{"all stops are so", func(c *core.Companion, id string) {
			answerAll(t, c, id, "before-induction", "yes")
			answerAll(t, c, id, "before-first-drop", "not-applicable")
		}, nil},
		{"a fact that the clinic marked", func(c *core.Companion, id string) {
			answerAll(t, c, id, "before-induction", "yes")
			answerAll(t, c, id, "before-first-drop", "yes")
			if _, err := c.MarkStop(t.Context(), core.NewID(), "visit.consent", "yes"); err != nil {
				t.Fatal(err)
			}
		}, []string{"started-without-check"}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			c := openAt(t, t.TempDir(), clock)
			id := openCase(t, c, "X")
			tt.do(c, id)
			f := form(id, "phase", "phase", "anaesthesia-start")
			before := c.Stored()
			for range 2 {
				if _, err := c.Submit(t.Context(), f); err != nil {
					t.Fatal(err)
				}
			}
			if n := c.Stored() - before; n != int64(1+len(tt.want)) {
				t.Errorf("%d lines", n)
			}
			if got := owedFor(t, c, id); !slices.Equal(got, tt.want) {
				t.Errorf("owed %v, want %v", got, tt.want)
			}
			// It has begun: neither the first drop nor another start asks again.
			submit(t, c, id, "agent", "agent", "ether", "drops", "12")
			submit(t, c, id, "phase", "phase", "anaesthesia-start")
			if got := owedFor(t, c, id); !slices.Equal(got, tt.want) {
				t.Errorf("after the first drop owed %v, want %v", got, tt.want)
			}
		})
	}
}

// Whoever drips before anybody marks the start is asked as well; so is who
// cuts, or leaves, without the pause.
func TestLaterPausesAndUnmarkedStart(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	id := openCase(t, c, "X")
	submit(t, c, id, "agent", "agent", "ether", "off", "yes")
	submit(t, c, id, "agent", "oxygen", "1")
	if got := owedFor(t, c, id); len(got) != 0 {
		t.Errorf("nothing has begun: %v", got)
	}
	submit(t, c, id, "agent", "agent", "ether", "drops", "12")
	if got := owedFor(t, c, id); !slices.Equal(got, []string{"started-without-check"}) {
		t.Errorf("at the first drop: %v", got)
	}
	answerAll(t, c, id, "before-knife", "yes")
	submit(t, c, id, "phase", "phase", "knife-to-skin")
	if got := owedFor(t, c, id); len(got) != 1 {
		t.Errorf("the pause before the knife was held: %v", got)
	}
	submit(t, c, id, "phase", "phase", "anaesthesia-end")
	if got := owedFor(t, c, id); len(got) != 2 {
		t.Errorf("nobody counted: %v", got)
	}
}

func TestPauseSweepLeavesStops(t *testing.T) {
	c := openAt(t, t.TempDir(), newClock())
	ctx := t.Context()
	id := openCase(t, c, "X")
	v, err := c.Pause(ctx, id, "before-knife")
	if err != nil {
		t.Fatal(err)
	}
	stops, rest := v.Stops, v.Rest
	if stops == 0 || rest == 0 || stops+rest != len(v.Items) {
		t.Fatalf("%d stops and %d others of %d", stops, rest, len(v.Items))
	}
	sweep := core.NewID()
	before := c.Stored()
	for range 2 {
		if _, err := c.SweepPause(ctx, sweep, id, "before-knife"); err != nil {
			t.Fatal(err)
		}
	}
	if n := c.Stored() - before; n != int64(rest) {
		t.Errorf("a sweep and its retry wrote %d lines, want %d", n, rest)
	}
	if v, err = c.Pause(ctx, id, "before-knife"); err != nil || v.Stops != stops || v.Rest != 0 || v.Yes != rest {
		t.Errorf("after the sweep: %d stops, %d left, %d yes (%v)", v.Stops, v.Rest, v.Yes, err)
	}
	if _, err := c.SweepPause(ctx, core.NewID(), id, "before-knife"); !errors.Is(err, core.ErrNothingLeft) {
		t.Errorf("a second sweep: %v", err)
	}
	// What stops is the clinic's.
	if _, err := c.MarkStop(ctx, core.NewID(), "before-knife.sterility", "no"); err != nil {
		t.Fatal(err)
	}
	if v, err = c.Pause(ctx, id, "before-knife"); err != nil || v.Stops != stops-1 || v.Rest != 1 {
		t.Errorf("one stop less: %d, %d left (%v)", v.Stops, v.Rest, err)
	}
	var fe *timeline.FieldError
	if _, err := c.MarkStop(ctx, core.NewID(), "before-lunch.soup", "yes"); !errors.As(err, &fe) || fe.Code != "not-in-list" {
		t.Errorf("a mark of nothing: %v", err)
	}
	if _, err := c.AnswerPause(ctx, core.NewID(), id, "before-knife", "soup", "yes"); !errors.As(err, &fe) || fe.Field != "item" {
		t.Errorf("an answer to nothing: %v", err)
	}
	if _, err := c.Pause(ctx, id, "before-lunch"); !errors.Is(err, core.ErrNotHere) {
		t.Errorf("no such pause: %v", err)
	}
}

// The ranges for three years are those of Advanced Paediatric Life Support, in
// S. Fleming and others, Lancet 2011;377:1011, web appendix; low is under
// 70 + 2 x 3 mmHg by Pediatric Advanced Life Support.
func TestChild(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	ctx := t.Context()
	id, _, err := c.OpenCase(ctx, core.Form{ID: core.NewID(), Fields: map[string][]string{"age": {"3"}, "age_unit": {"a"}, "sex": {"male"}, "weight": {"14"}, "weight_how": {"measured"}, "weight_by": {"scale"}}})
	if err != nil {
		t.Fatal(err)
	}
	cs, err := c.Case(ctx, id)
	if err != nil {
		t.Fatal(err)
	}
	usual := map[string]string{}
	for _, r := range c.MeasureRows(cs) {
		usual[r.Name] = r.Usual
	}
	for name, want := range map[string]string{"pulse": "usual 95–140", "breaths": "usual 25–30", "systolic": "usual 80–100", "spo2": ""} {
		if usual[name] != want {
			t.Errorf("%s: %q, want %q", name, usual[name], want)
		}
	}
	if note := c.LimitsNote(cs); !strings.Contains(note, "3\u00a0y") && !strings.Contains(note, "3 y") || !strings.Contains(note, "76") {
		t.Errorf("the note: %q", note)
	}
	submit(t, c, id, "baseline", "pulse", "140", "systolic", "90")
	if v := startOf(t, c, id); slices.ContainsFunc(v.Changes, func(x core.Cited) bool { return strings.Contains(x.Text, "At rest") }) {
		t.Errorf("140 is within: %+v", v.Changes)
	}
	submit(t, c, id, "baseline", "pulse", "141", "systolic", "90")
	if v := startOf(t, c, id); !slices.ContainsFunc(v.Changes, func(x core.Cited) bool { return strings.Contains(x.Text, "At rest pulse") && x.Source != "" }) {
		t.Errorf("141 is above: %+v", v.Changes)
	}
	submit(t, c, id, "facts", "smoker", "no", "with", "recent-cold")
	g, err := c.VisitGroup(ctx, id, "history")
	if err != nil || len(g.Says) != 0 {
		t.Errorf("the risk of sickness is an adult's: %+v (%v)", g.Says, err)
	}
	if v := startOf(t, c, id); !slices.ContainsFunc(v.Changes, func(x core.Cited) bool { return strings.Contains(x.Text, "cold") }) {
		t.Errorf("a cold changes the plan of a child: %+v", v.Changes)
	}
	v, err := c.Visit(ctx, id)
	if err != nil || slices.ContainsFunc(v.Facts, func(f core.Field) bool { return f.Name == "pregnant" }) {
		t.Errorf("a boy is not asked for a pregnancy (%v)", err)
	}
	if len(v.First) > 9 || v.First[0].Name != "allergies" {
		t.Errorf("asked first: %+v", v.First)
	}
	// By the European rules a child drinks until one hour before.
	if _, err := c.ChooseFasting(ctx, core.NewID(), "esaic-children-2022"); err != nil {
		t.Fatal(err)
	}
	submit(t, c, id, "plan", "start_in", "+120")
	submit(t, c, id, "intake", "what", "clear-fluid", "back", "1")
	if f := fasting(t, c, id); f.Code != string(term.FastingLongEnough) || f.DrinkUntil != "09:00" {
		t.Errorf("an hour before ten: %+v", f)
	}
}

func TestEmergency(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	id, _, err := c.OpenCase(t.Context(), core.Form{ID: core.NewID(), Fields: map[string][]string{"urgency": {"emergency"}, "sex": {"female"}}})
	if err != nil {
		t.Fatal(err)
	}
	v := startOf(t, c, id)
	if len(v.Held) == 0 || !slices.ContainsFunc(v.Changes, func(x core.Cited) bool { return strings.Contains(x.Text, "precautions against aspiration") }) {
		t.Errorf("an emergency with nothing known: %+v", v)
	}
	submit(t, c, id, "phase", "phase", "anaesthesia-start")
	if v = startOf(t, c, id); v.Began != "08:00" {
		t.Errorf("it began at %q", v.Began)
	}
	cs, err := c.Case(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	e := cs.Owing()[0]
	why, err := c.Passed(t.Context(), cs, e.Now().Payload.(*timeline.Owed).Over)
	if err != nil || len(why) == 0 {
		t.Errorf("what was open is not said: %v %v", why, err)
	}
}

func TestPlanCarriesStepsAndLoss(t *testing.T) {
	c := openAt(t, t.TempDir(), newClock())
	ctx := t.Context()
	id := openCase(t, c, "X")
	submit(t, c, id, "facts", "haemoglobin", "12")
	cs, err := c.Case(ctx, id)
	if err != nil {
		t.Fatal(err)
	}
	// Blood of 65 mL/kg for a woman of 52 kg, (12 - 9) / 12 of it: 845 mL, by
	// the simple formula, computed by hand.
	losses, cautions, source := c.Losses(cs)
	if len(losses) != 4 || losses[1].ML != "845" || len(cautions) == 0 || source == "" {
		t.Errorf("allowable losses: %+v %v", losses, cautions)
	}
	submit(t, c, id, "plan", "techniques", "open-drop", "loss_allowed", "845", "text", "left side", "start_in", "+30")
	step := core.NewID()
	for range 2 {
		if _, err := c.PlanStep(ctx, step, id, "knife", "20"); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := c.PlanStep(ctx, core.NewID(), id, "closing-skin", "60"); err != nil {
		t.Fatal(err)
	}
	if _, err := c.PlanStep(ctx, core.NewID(), id, "knife", "30"); err != nil {
		t.Fatal(err)
	}
	if _, err := c.PlanStep(ctx, step, id, "knife", "20"); err != nil {
		t.Errorf("a retry after another tap: %v", err)
	}
	if cs, err = c.Case(ctx, id); err != nil {
		t.Fatal(err)
	}
	if got := cs.Plan.StepTimes; !slices.Equal(got, []string{"closing-skin 60 min", "knife 30 min"}) || cs.PlanText != "left side" || cs.Plan.LossAllowed.String() != "845 mL" || len(cs.Plan.Techniques) != 1 {
		t.Errorf("the plan: %+v %q", cs.Plan, cs.PlanText)
	}
	if _, err := c.PlanStep(ctx, core.NewID(), id, "knife", "none"); err != nil {
		t.Fatal(err)
	}
	if cs, err = c.Case(ctx, id); err != nil || !slices.Equal(cs.Plan.StepTimes, []string{"closing-skin 60 min"}) {
		t.Errorf("taken out: %+v (%v)", cs.Plan.StepTimes, err)
	}
}

// The look before the first drop grows old when the start is moved.
func TestLookAgainGrowsOld(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	id := openCase(t, c, "X")
	submit(t, c, id, "plan", "start_in", "+15")
	answerAll(t, c, id, "before-first-drop", "yes")
	clock.pass(30 * time.Minute)
	if v := startOf(t, c, id); v.Precheck != "" {
		t.Errorf("half an hour: %q", v.Precheck)
	}
	clock.pass(time.Minute)
	if v := startOf(t, c, id); v.Precheck != "31\u00a0min" && v.Precheck != "31 min" {
		t.Errorf("a minute more: %q", v.Precheck)
	}
}

// Each of the four factors and its risk: C. C. Apfel and others,
// Anesthesiology 1999;91:693.
func TestSicknessRisk(t *testing.T) {
	c := openAt(t, t.TempDir(), newClock())
	ctx := t.Context()
	id := openCase(t, c, "X") // a woman of 34
	risk := func() string {
		g, err := c.VisitGroup(ctx, id, "history")
		if err != nil {
			t.Fatal(err)
		}
		if len(g.Says) == 0 {
			return ""
		}
		return g.Says[0].Text
	}
	if r := risk(); r != "" {
		t.Errorf("nothing was asked: %q", r)
	}
	submit(t, c, id, "facts", "smoker", "yes")
	submit(t, c, id, "facts", "sick_before", "no")
	submit(t, c, id, "plan", "opioids_after", "no")
	if r := risk(); !strings.Contains(r, "21") {
		t.Errorf("one factor: %q", r)
	}
	submit(t, c, id, "facts", "smoker", "no")
	submit(t, c, id, "facts", "sick_before", "yes")
	submit(t, c, id, "plan", "opioids_after", "yes")
	if r := risk(); !strings.Contains(r, "79") {
		t.Errorf("four: %q", r)
	}
}

// The page of the plan sends all of the plan: what it offers to take out is
// what it shows, a drug that no rule here knows too, and the start.
func TestPlanFormLosesNothing(t *testing.T) {
	c := openAt(t, t.TempDir(), newClock())
	ctx := t.Context()
	id := openCase(t, c, "X")
	submit(t, c, id, "plan", "techniques", "open-drop", "drugs", "ketamine", "drugs", "not-known-here", "start_in", "+30")
	p, err := c.PlanForm(ctx, id)
	if err != nil {
		t.Fatal(err)
	}
	times := map[string]int{}
	for _, g := range p.Drugs {
		for _, d := range g.Drugs {
			times[d.Code]++
			if d.Words == "" {
				t.Errorf("%s has no words", d.Code)
			}
		}
	}
	if times["ketamine"] != 1 || times["not-known-here"] != 1 {
		t.Errorf("ketamine is offered %d times, the unknown drug %d times", times["ketamine"], times["not-known-here"])
	}
	start := func() bool {
		t.Helper()
		cs, err := c.Case(ctx, id)
		if err != nil {
			t.Fatal(err)
		}
		return !cs.Plan.Start.IsZero()
	}
	submit(t, c, id, "plan", "techniques", "open-drop", "start_was", p.StartFull)
	if !start() {
		t.Error("the start that stood is lost")
	}
	f := form(id, "plan", "techniques", "open-drop", "start_was", p.StartFull, "start_in", "none")
	for range 2 { // and a retry
		if _, err := c.Submit(ctx, f); err != nil {
			t.Fatal(err)
		}
		if start() {
			t.Error("the start is not taken out")
		}
	}
}
