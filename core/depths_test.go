package core_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"chinlift/core"
	"chinlift/core/agent"
	"chinlift/core/depth"
	"chinlift/core/term"
	"chinlift/core/timeline"
	"chinlift/core/uptake"
	"chinlift/core/word"
)

func TestWordsOfDepth(t *testing.T) {
	book := word.English()
	want := func(list, code string) {
		t.Helper()
		if key := "depth." + list + "." + code; !book.Has(key) {
			t.Errorf("the catalogue has no %s", key)
		}
	}
	wordsOf(want, "agreement", depth.AgreementCodes)
	wordsOf(want, "ask", depth.AskCodes)
	wordsOf(want, "caution", depth.CautionCodes)
	wordsOf(want, "condition", depth.ConditionCodes)
	wordsOf(want, "drift", depth.DriftCodes)
	wordsOf(want, "lead", depth.LeadKindCodes)
	wordsOf(want, "lean", depth.LeanCodes)
	wordsOf(want, "reason", depth.ReasonCodes)
	wordsOf(want, "sign", depth.SignCodes)
	wordsOf(want, "stage", depth.StageCodes)
	wordsOf(want, "step", depth.StepCodes)
	wordsOf(want, "watch", depth.WatchCodes)
	wordsOf(want, "why", depth.WhyCodes)
	// What comes from the packages below it, by supplies and by the body.
	wordsOf(want, "caution", []agent.Caution{agent.Estimate, agent.BoilsInRoom, uptake.NeverTried, uptake.FarFrom70Kg, uptake.CalibrateDrops, uptake.CoverUnknown,
		uptake.GauzeFrosts, uptake.AtMostSaturated, uptake.MeanOverTime, uptake.WaysDisagree, uptake.LowFlow, uptake.OutsideCompensation, uptake.TemperatureAssumed,
		uptake.CoolsInUse, uptake.HeightRaisesTension, uptake.HeightLowersTension, uptake.NearBoiling, uptake.NotPublished, uptake.VaporisersStray, uptake.NoBrake})
}

func wordsOf[C ~string](want func(list, code string), list string, codes []C) {
	for _, c := range codes {
		want(list, string(c))
	}
}

func depthOf(t *testing.T, c *core.Companion, id string) core.DepthView {
	t.Helper()
	cs, err := c.Case(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	v, err := c.DepthOf(t.Context(), cs)
	if err != nil {
		t.Fatal(err)
	}
	if len(v.Not) != 3 {
		t.Fatalf("does not say what it is not: %v", v.Not)
	}
	if m := c.Words().Missing(); len(m) > 0 {
		t.Fatalf("words that are missing: %v", m)
	}
	return v
}

// etherTold gives ether by drops for a while and looks.
func etherTold(t *testing.T, c *core.Companion, clock *fakeClock, id string) {
	t.Helper()
	submit(t, c, id, "agent", "agent", "ether", "drops", "300", "cover", "on")
	clock.pass(20 * time.Minute)
	submit(t, c, id, "vitals", "systolic", "110", "pulse", "90", "spo2", "98")
	submit(t, c, id, "signs", "breathing", "even-automatic", "eyes", "still-central", "pupils", "small", "jaw", "slack")
}

func TestDepthOfACase(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	id := openCase(t, c, "Invented")
	if v := depthOf(t, c, id); len(v.NotHere) != 1 || !strings.Contains(v.NotHere[0], "No inhaled agent") || v.Range != "" {
		t.Errorf("before any agent: %+v", v)
	}
	etherTold(t, c, clock, id)
	v := depthOf(t, c, id)
	if v.Range == "" || !strings.HasPrefix(v.Deep, "As deep as") || len(v.Withdrawn)+len(v.NotHere) > 0 || v.Version != depth.Version {
		t.Fatalf("ether, signs and vitals are there: %+v", v)
	}
	if len(v.Signs) != 4 || v.Signs[0].Agreement == "" || len(v.Leads) != 5 || len(v.Cautions) == 0 || len(v.Sources) == 0 {
		t.Errorf("signs, leads, cautions and sources are to be there: %+v", v)
	}
	for _, l := range v.Leads {
		if l.When == "" || l.If == "" || v.Conditions == "" {
			t.Errorf("a lead without its window or its conditions: %+v", l)
		}
	}

	// Looking again says the same.
	again := depthOf(t, c, id)
	if again.Range != v.Range || !slices.EqualFunc(again.Leads, v.Leads, func(a, b core.DepthLead) bool { return a.When == b.When }) {
		t.Errorf("looked at again: %q, want %q", again.Range, v.Range)
	}

	clock.pass(6 * time.Minute)
	if v = depthOf(t, c, id); v.Range != "" || len(v.Leads) > 0 || len(v.Withdrawn) != 2 {
		t.Errorf("signs and vitals are old: %+v", v)
	}
	submit(t, c, id, "vitals", "systolic", "110", "pulse", "90", "spo2", "85")
	submit(t, c, id, "signs", "breathing", "even-automatic")
	if v = depthOf(t, c, id); v.Range != "" || len(v.Withdrawn) != 1 || !strings.Contains(v.Withdrawn[0], "Saturation") {
		t.Errorf("saturation is low: %+v", v)
	}
}

// What comes late goes back to its time: the same as where it came in time.
func TestDepthOfALateEntry(t *testing.T) {
	ranges := map[bool]string{}
	for _, late := range []bool{false, true} {
		clock := newClock()
		c := openAt(t, t.TempDir(), clock)
		id := "018f0000-0000-7000-8000-000000000001"
		if _, err := c.Record(t.Context(), core.Tap{ID: core.NewID(), Scope: timeline.ScopeCase, About: id, Payload: &timeline.CaseOpened{Patient: core.NewID(), Urgency: term.UrgencyElective}}); err != nil {
			t.Fatal(err)
		}
		submit(t, c, id, "facts", "age", "34", "age_unit", "a", "weight", "52", "weight_how", "measured", "weight_by", "scale")
		submit(t, c, id, "agent", "agent", "ether", "drops", "300", "cover", "on")
		clock.pass(10 * time.Minute)
		off := clock.wall
		if !late {
			submit(t, c, id, "agent", "agent", "ether", "off", "yes")
		}
		clock.pass(10 * time.Minute)
		submit(t, c, id, "vitals", "systolic", "110", "pulse", "90", "spo2", "98")
		submit(t, c, id, "signs", "breathing", "even-automatic")
		if late {
			before := depthOf(t, c, id).Range
			if _, err := c.Record(t.Context(), core.Tap{ID: core.NewID(), Scope: timeline.ScopeCase, About: id, At: timeline.MomentOf(off, "Etc/GMT-3"), Payload: &timeline.AgentDelivery{Agent: term.AgentEther, Off: true}}); err != nil {
				t.Fatal(err)
			}
			if now := depthOf(t, c, id).Range; now == before {
				t.Errorf("ether that went off ten minutes ago changes nothing: %s", now)
			}
		}
		ranges[late] = depthOf(t, c, id).Range
	}
	if ranges[true] == "" || ranges[true] != ranges[false] {
		t.Errorf("late %q, in time %q", ranges[true], ranges[false])
	}
}

func TestDepthWhereItDoesNotHold(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	id := openCase(t, c, "Invented")
	submit(t, c, id, "drug", "drug", "ketamine", "dose", "100", "dose_unit", "mg", "route", "iv")
	clock.pass(3 * time.Minute)
	v := depthOf(t, c, id)
	if v.Range != "" || len(v.Clocks) != 1 || !strings.Contains(v.Clocks[0].Title, "Ketamine") || len(v.Clocks[0].Watch) == 0 || !strings.Contains(v.Clocks[0].Lines[1], "08:0") {
		t.Errorf("ketamine has a clock and no depth: %+v", v)
	}
	// A next dose waits for the interval of the dose rule, and what may be given
	// within two hours is told; that nobody stands for the rule as well.
	if l := v.Clocks[0].Lines; !strings.Contains(l[2], "not before 08:10") || !strings.Contains(l[2], "confirmed") || len(l) != 5 || !strings.Contains(l[4], "100 mg of at most 416 mg within 2 h") {
		t.Errorf("%q", l)
	}
	etherTold(t, c, clock, id)
	if v = depthOf(t, c, id); v.Range != "" || len(v.NotHere) == 0 || !strings.Contains(v.NotHere[0], "Ketamine") {
		t.Errorf("ether within half an hour of ketamine: %+v", v)
	}
	clock.pass(10 * time.Minute)
	submit(t, c, id, "vitals", "systolic", "110", "spo2", "98")
	submit(t, c, id, "signs", "breathing", "even-automatic", "eyes", "still-central")
	if v = depthOf(t, c, id); v.Range == "" {
		t.Errorf("ketamine is over: %+v", v)
	}
	submit(t, c, id, "drug", "drug", "vecuronium", "dose", "4", "dose_unit", "mg", "route", "iv")
	if v = depthOf(t, c, id); v.Range != "" || len(v.NotHere) != 1 || !strings.Contains(v.NotHere[0], "relaxant") {
		t.Errorf("a relaxant takes the signs: %+v", v)
	}

	c = openAt(t, t.TempDir(), clock)
	spinal := openCase(t, c, "Other")
	submit(t, c, spinal, "block", "block", "spinal", "attempts", "1")
	clock.pass(8 * time.Minute)
	submit(t, c, spinal, "block", "block", "spinal", "height", "t4")
	v = depthOf(t, c, spinal)
	if len(v.NotHere) > 0 || len(v.Clocks) != 1 || len(v.Clocks[0].Lines) != 4 || !strings.Contains(strings.Join(v.Clocks[0].Watch, " "), "pulse may slow") {
		t.Errorf("a spinal has a clock, and its height: %+v", v)
	}
}

// Drops of an agent that nobody counted give nothing rather than a guess.
func TestDepthOfWhatIsNotTold(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	id := openCase(t, c, "Invented")
	submit(t, c, id, "agent", "agent", "halothane", "drops", "60")
	clock.pass(5 * time.Minute)
	if v := depthOf(t, c, id); v.Range != "" || len(v.NotHere) != 1 {
		t.Errorf("halothane by drops that were not counted: %+v", v)
	}
	c = openAt(t, t.TempDir(), clock)
	id = openCase(t, c, "Other")
	submit(t, c, id, "agent", "agent", "halothane", "percent", "1.5")
	clock.pass(10 * time.Minute)
	submit(t, c, id, "vitals", "systolic", "110", "spo2", "98")
	submit(t, c, id, "signs", "breathing", "even-automatic", "eyes", "still-central")
	if v := depthOf(t, c, id); v.Range == "" {
		t.Errorf("halothane by a vaporiser: %+v", v)
	}
}

// The keys of the agent tray say what may be breathed in by them.
func TestDepthOfTheKeys(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	id := openCase(t, c, "Invented")
	cs, err := c.Case(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	for _, tt := range []struct{ agent, way, code, want string }{
		{"ether", "drops", "120", "%"}, {"ether", "wetness", "wet", "%"}, {"ether", "percent", "10", "%"},
		{"halothane", "drops", "60", ""}, {"halothane", "wetness", "wet", ""}, {"isoflurane", "percent", "1", "%"}, {"nitrous-oxide", "percent", "15", ""},
	} {
		tray, err := c.AgentTray(t.Context(), cs, tt.agent, tt.way)
		if err != nil {
			t.Fatal(err)
		}
		if got := tray.Inspired[tt.code]; (got == "") != (tt.want == "") || !strings.HasSuffix(got, tt.want) {
			t.Errorf("%s %s %s: %q", tt.agent, tt.way, tt.code, got)
		}
	}
}

// The steps that the plan expects stand beside the windows in which a patient
// may be ready for them, counted from the beginning; what was done stands no
// more.
func TestPlanFeedsLeadTimes(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	ctx := t.Context()
	id := openCase(t, c, "Invented")
	submit(t, c, id, "plan", "techniques", "open-drop", "agent", "ether", "start_in", "+60")
	for _, step := range [][2]string{{"knife", "25"}, {"closing-deep", "50"}, {"skin-prep", "5"}} {
		if _, err := c.PlanStep(ctx, core.NewID(), id, step[0], step[1]); err != nil {
			t.Fatal(err)
		}
	}
	submit(t, c, id, "phase", "phase", "anaesthesia-start") // at eight, an hour before the plan
	etherTold(t, c, clock, id)                              // until 08:20
	lead := func(of string) string {
		t.Helper()
		for _, l := range depthOf(t, c, id).Leads {
			if strings.Contains(l.What, c.Words().Say("depth.step."+of)) {
				return l.Planned
			}
		}
		t.Fatalf("no lead for %s", of)
		return ""
	}
	contains(t, "the knife", lead("skin"), "08:25", "5 min")
	contains(t, "the belly", lead("closing"), "08:50", "30 min")
	if l := lead("airway"); l != "" {
		t.Errorf("no surgeon plans an airway: %q", l)
	}
	submit(t, c, id, "phase", "phase", "knife-to-skin")
	if l := lead("skin"); l != "" {
		t.Errorf("the knife was there: %q", l)
	}
	if _, err := c.PlanStep(ctx, core.NewID(), id, "closing-deep", "20"); err != nil {
		t.Fatal(err)
	}
	clock.pass(time.Minute)
	submit(t, c, id, "vitals", "systolic", "110", "pulse", "90", "spo2", "98")
	submit(t, c, id, "signs", "breathing", "even-automatic", "eyes", "still-central", "pupils", "small", "jaw", "slack")
	contains(t, "gone by", lead("closing"), "it was at 08:20")
}

// Where the plan is sooner than the window, that is said, and no more.
func TestPlanSoonerThanTheWindow(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	id := openCase(t, c, "Invented")
	submit(t, c, id, "plan", "techniques", "open-drop", "agent", "ether", "start_in", "+0", "steps", "knife", "step_times", "knife 6 min")
	submit(t, c, id, "phase", "phase", "anaesthesia-start")
	submit(t, c, id, "agent", "agent", "ether", "drops", "100")
	clock.pass(5 * time.Minute)
	submit(t, c, id, "vitals", "systolic", "120", "pulse", "90", "spo2", "98")
	submit(t, c, id, "signs", "breathing", "uneven", "jaw", "tight")
	v := depthOf(t, c, id)
	i := slices.IndexFunc(v.Leads, func(l core.DepthLead) bool { return strings.Contains(l.What, c.Words().Say("depth.step.skin")) })
	if i < 0 {
		t.Fatalf("%+v", v)
	}
	contains(t, "a minute from now", v.Leads[i].Planned, "08:06", "1 min", "before this begins")
}
