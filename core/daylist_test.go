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

// waitsFor opens a case with a start in so many minutes from eight.
func waitsFor(t testing.TB, c *core.Companion, name, age, kg, start string) string {
	t.Helper()
	id, _, err := c.OpenCase(t.Context(), core.Form{ID: core.NewID(), Fields: map[string][]string{"name": {name}, "age": {age}, "age_unit": {"a"}, "sex": {"male"}, "urgency": {"elective"},
		"weight": {kg}, "weight_how": {"measured"}, "weight_by": {"scale"}}})
	if err != nil {
		t.Fatal(err)
	}
	submit(t, c, id, "plan", "techniques", "open-drop", "agent", "ether", "drugs", "atropine", "start_in", start, "text", "as the surgeon said")
	return id
}

// The order of the list changes: the child's fasting, the times of its
// premedication and the page before the start follow, and so do those of the
// adult whose place it takes.
func TestListChangesLate(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	ctx := t.Context()
	first := waitsFor(t, c, "The First", "34", "60", "+60")
	child := waitsFor(t, c, "Small One", "3", "14", "+180")
	unplanned := openCase(t, c, "Not Planned")
	submit(t, c, child, "intake", "what", "light-meal", "back", "4h") // at 4 o'clock: seven hours before 11, five before 9
	submit(t, c, first, "intake", "what", "light-meal", "back", "10h")

	names := func(v core.StartView) (all []string) {
		for _, d := range v.Day {
			name := d.At + " " + d.For
			if d.This {
				name += " this"
			}
			all = append(all, name)
		}
		return all
	}
	changes := func(v core.StartView) string {
		var b strings.Builder
		for _, x := range v.Changes {
			b.WriteString(x.Text + "\n")
		}
		return b.String()
	}
	v := startOf(t, c, child)
	if got, want := names(v), []string{"09:00 The First", "11:00 Small One this"}; !slices.Equal(got, want) {
		t.Errorf("the list: %q, want %q", got, want)
	}
	if f := fasting(t, c, child); f.Code != string(term.FastingLongEnough) || v.DrinkTill != "09:00" {
		t.Errorf("at eleven: %+v, drinks until %q", f, v.DrinkTill)
	}
	// Atropine into muscle 30 to 60 minutes before.
	contains(t, "at eleven", changes(v), "10:00", "10:30")

	clock.pass(time.Minute)
	id := core.NewID()
	for range 2 { // the second is a retry
		if _, err := c.SwapStarts(ctx, id, child, first); err != nil {
			t.Fatal(err)
		}
	}
	v = startOf(t, c, child)
	if got, want := names(v), []string{"09:00 Small One this", "11:00 The First"}; !slices.Equal(got, want) || v.Start != "09:00" {
		t.Errorf("the list: %q, want %q", got, want)
	}
	if f := fasting(t, c, child); f.Code == string(term.FastingLongEnough) || f.Earliest != "10:00" {
		t.Errorf("at nine the meal of four is five hours ago: %+v", f)
	}
	contains(t, "at nine", changes(v), "light meal", "10:00", "08:00", "08:30")
	if strings.Contains(changes(v), "10:30") {
		t.Errorf("the times of the premedication stayed: %q", changes(v))
	}
	if w := startOf(t, c, first); w.Start != "11:00" || w.DrinkTill != "09:00" {
		t.Errorf("the first is now at %q and drinks until %q", w.Start, w.DrinkTill)
	}
	// Each plan keeps what else stands in it, and there is one plan more of each.
	for _, id := range []string{first, child} {
		cs, err := c.Case(ctx, id)
		if err != nil || cs.PlanText != "as the surgeon said" || !slices.Equal(cs.Plan.Drugs, []string{"atropine"}) {
			t.Errorf("%+v %q %v", cs.Plan, cs.PlanText, err)
		}
		n := 0
		for range timeline.Each[*timeline.Plan](cs.Entries, id) {
			n++
		}
		if n != 2 {
			t.Errorf("%d plans", n)
		}
	}
	// On the first screen they stand by the list, whom nobody planned last.
	today, err := c.Today(ctx)
	if err != nil {
		t.Fatal(err)
	}
	var order []string
	for _, h := range today.Open {
		order = append(order, strings.TrimSpace(h.Planned+" "+h.For))
	}
	if want := []string{"09:00 Small One", "11:00 The First", "Not Planned"}; !slices.Equal(order, want) {
		t.Errorf("today: %q, want %q", order, want)
	}
	// A premedication that was right for eleven is too early or too late for
	// another hour.
	clock.wall = clock.wall.Add(14 * time.Minute) // 8:15
	submit(t, c, child, "drug", "drug", "atropine", "dose", "0.2", "dose_unit", "mg", "route", "im")
	if v = startOf(t, c, child); !slices.ContainsFunc(v.Settled, func(s string) bool { return strings.Contains(s, "08:15") && strings.Contains(s, "time right") }) {
		t.Errorf("45 minutes before: %q; %q", v.Settled, changes(v))
	}
	if _, err := c.SwapStarts(ctx, core.NewID(), child, first); err != nil {
		t.Fatal(err)
	}
	v = startOf(t, c, child)
	contains(t, "three hours before", changes(v), "08:15", "early")

	for name, with := range map[string]string{"itself": child, "nobody planned": unplanned, "no case": core.NewID()} {
		if _, err := c.SwapStarts(ctx, core.NewID(), child, with); !errors.Is(err, core.ErrNotHere) {
			t.Errorf("%s: %v", name, err)
		}
	}
	submit(t, c, first, "phase", "phase", "anaesthesia-start")
	if _, err := c.SwapStarts(ctx, core.NewID(), child, first); !errors.Is(err, core.ErrNotHere) {
		t.Errorf("who lies there keeps the place: %v", err)
	}
	if v = startOf(t, c, child); len(v.Day) != 1 {
		t.Errorf("who lies there waits no more: %+v", v.Day)
	}
}
