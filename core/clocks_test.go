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

// A block's clock goes by what was injected: heavy lidocaine is over long before
// heavy bupivacaine.
func TestBlockClockGoesByWhatWasInjected(t *testing.T) {
	for _, tt := range []struct {
		name, block string
		drug        []string
		want        string
	}{
		{"nothing recorded", "spinal", nil, "between 09:35 and 11:10, as published|reckoned as heavy bupivacaine"},
		{"heavy bupivacaine", "spinal", []string{"bupivacaine-heavy", "12", "intrathecal"}, "between 09:35 and 11:10"},
		{"heavy lidocaine", "spinal", []string{"lidocaine-heavy", "60", "intrathecal"}, "between 08:48 and 09:35"},
		{"epidural", "epidural", []string{"lidocaine-adrenaline", "200", "epidural"}, "between 09:02 and 10:05"},
		{"epidural, nothing recorded", "epidural", nil, "How long it lasts is not known"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			clock := newClock()
			c := openAt(t, t.TempDir(), clock)
			id := openCase(t, c, "Invented")
			submit(t, c, id, "block", "block", tt.block, "attempts", "1")
			if tt.drug != nil {
				submit(t, c, id, "drug", "drug", tt.drug[0], "dose", tt.drug[1], "dose_unit", "mg", "route", tt.drug[2])
			}
			clock.pass(8 * time.Minute)
			all := strings.Join(depthOf(t, c, id).Clocks[0].Lines, "\n")
			for _, want := range strings.Split(tt.want, "|") {
				if !strings.Contains(all, want) {
					t.Errorf("%q lacks %q", all, want)
				}
			}
			if assumed := strings.Contains(all, "not recorded"); assumed != (tt.block == "spinal" && tt.drug == nil) {
				t.Errorf("assumed: %s", all)
			}
			if tt.drug == nil {
				return
			}
			// More of it later: nobody knows any more.
			clock.pass(50 * time.Minute)
			submit(t, c, id, "drug", "drug", tt.drug[0], "dose", tt.drug[1], "dose_unit", "mg", "route", tt.drug[2])
			if all := strings.Join(depthOf(t, c, id).Clocks[0].Lines, "\n"); !strings.Contains(all, "How long it lasts is not known") {
				t.Error(all)
			}
		})
	}
}
