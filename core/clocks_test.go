package core_test

import (
	"strings"
	"testing"
	"time"
)

// A clock of ketamine goes by the dose rules: its interval, and the total within
// two hours, which for 52 kg is 416 mg by the rule of 8 mg/kg.
func TestKetamineClockGoesByTheRules(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	id := openCase(t, c, "Invented")
	give := func(mg string) {
		submit(t, c, id, "drug", "drug", "ketamine", "dose", mg, "dose_unit", "mg", "route", "iv")
	}
	watched := func() string {
		t.Helper()
		v := depthOf(t, c, id)
		if len(v.Clocks) != 1 {
			t.Fatalf("%d clocks", len(v.Clocks))
		}
		return strings.Join(append(v.Clocks[0].Watch, v.Clocks[0].Lines...), "\n")
	}
	give("150")
	clock.pass(10 * time.Minute)
	give("150")
	// 116 mg are left, and the same again would be more.
	if all := watched(); !strings.Contains(all, "300 mg of at most 416 mg within 2 h") || !strings.Contains(all, "may go over") || strings.Contains(all, "is reached") || !strings.Contains(all, "300 mg in all") {
		t.Error(all)
	}
	clock.pass(12 * time.Minute)
	give("150")
	if all := watched(); !strings.Contains(all, "is reached") || !strings.Contains(all, "not before 08:32") {
		t.Error(all)
	}
	// Two hours after the first it counts no more; what was given in all stays.
	clock.pass(100 * time.Minute)
	if all := watched(); !strings.Contains(all, "300 mg of at most") || !strings.Contains(all, "450 mg in all") {
		t.Error(all)
	}
}

// What an infusion gives is not in the clock, which says so.
func TestKetamineClockOfAnInfusion(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	id := openCase(t, c, "Invented")
	done := submit(t, c, id, "infusion", "act", "started", "drug", "ketamine", "rate", "60", "rate_unit", "mL/h", "strength", "1", "strength_unit", "mg/mL", "route", "iv")
	clock.pass(5 * time.Minute)
	v := depthOf(t, c, id)
	if len(v.Clocks) != 1 || v.Clocks[0].Title != "Ketamine, infusion" || !strings.Contains(strings.Join(v.Clocks[0].Lines, ""), "not counted") || len(v.Clocks[0].Watch) < 4 || v.Range != "" {
		t.Errorf("%+v", v)
	}
	submit(t, c, id, "drug", "drug", "ketamine", "dose", "25", "dose_unit", "mg", "route", "iv")
	if v = depthOf(t, c, id); len(v.Clocks) != 1 || !strings.HasPrefix(v.Clocks[0].Title, "Ketamine, last dose") || !strings.Contains(strings.Join(v.Clocks[0].Lines, ""), "not counted") {
		t.Errorf("%+v", v)
	}
	submit(t, c, id, "infusion", "act", "stopped", "drug", "ketamine", "run", done.Lines[0].Event.ID, "route", "iv")
	clock.pass(4 * time.Hour)
	if v = depthOf(t, c, id); len(v.Clocks) != 0 {
		t.Errorf("%+v", v.Clocks)
	}
}
