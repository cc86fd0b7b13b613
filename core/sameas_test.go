package core_test

import (
	"errors"
	"slices"
	"strings"
	"testing"
	"time"

	"chinlift/core"
	"chinlift/core/timeline"
)

// A patient who returns to the table: once somebody says that two cases are of
// one patient, the doses of both count in the totals of either, until it is
// struck.
func TestSamePatientCountsTogether(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	first := planned(t, c, "60", "30", "morphine")
	submit(t, c, first, "drug", "drug", "morphine", "dose", "9", "dose_unit", "mg", "route", "im", "use", "analgesia-im")
	clock.pass(time.Hour)
	second := planned(t, c, "60", "30", "morphine")
	board := func(id string) string { return strings.Join(doses(t, c, id, "morphine", "analgesia-im")[0].Board, " ") }
	counted := func(id string) string {
		cs, err := c.Case(t.Context(), id)
		if err != nil {
			t.Fatal(err)
		}
		return c.CountedIn(t.Context(), cs)
	}
	if b := board(second); b != "" || !strings.HasPrefix(counted(second), "Only doses of this case are counted.") {
		t.Fatalf("before: board %q, %q", b, counted(second))
	}
	done := submit(t, c, second, "facts", "same_as", first)
	if len(done.Lines) != 2 || done.Lines[1].Event.About != first {
		t.Fatalf("it is not said of the other: %d lines", len(done.Lines))
	}
	if b := board(second); !strings.Contains(b, "9 mg") {
		t.Errorf("what the other case holds is not on board: %q", b)
	}
	if d := doses(t, c, second, "morphine", "analgesia-im")[0]; !d.Waits {
		t.Errorf("the interval since the dose of the other case: %+v", d.Next)
	}
	// Over the total together, and not alone: a reason is owed.
	submit(t, c, second, "drug", "drug", "morphine", "dose", "10", "dose_unit", "mg", "route", "im", "use", "analgesia-im")
	clock.pass(time.Minute)
	submit(t, c, second, "drug", "drug", "morphine", "dose", "9", "dose_unit", "mg", "route", "im", "use", "analgesia-im")
	o := owing(t, c, second)
	if len(o) != 2 { // too soon, twice; and over the 24 mg of four hours
		t.Fatalf("owed: %+v", o)
	}
	cs, err := c.Case(t.Context(), second)
	if err != nil {
		t.Fatal(err)
	}
	why, err := c.Exceeded(t.Context(), cs, o[len(o)-1].Over)
	if err != nil || !slices.ContainsFunc(why, func(x core.Cited) bool { return strings.Contains(x.Text, "28 mg") && strings.Contains(x.Text, "24 mg") }) {
		t.Errorf("28 mg in both cases: %+v %v", why, err)
	}
	// And the other way round.
	if b := board(first); !strings.Contains(b, "28 mg") {
		t.Errorf("in the first case: %q", b)
	}
	for _, id := range []string{first, second} {
		if text := counted(id); !strings.Contains(text, "are counted too") || !strings.Contains(text, core.ShortCase(map[string]string{first: second, second: first}[id])) {
			t.Errorf("it says %q", text)
		}
	}
	// A third case of the same patient, said of one of them only.
	third := planned(t, c, "60", "30", "morphine")
	submit(t, c, third, "facts", "same_as", second)
	if b := board(third); !strings.Contains(b, "28 mg") {
		t.Errorf("in a third case: %q", b)
	}
	// Struck on one side it is no link any more.
	e := stands(t, c, second, done.Lines[0].Event.ID)
	if _, err := c.Strike(t.Context(), core.NewID(), second, e.ID, e.HeadIDs(), core.ReasonUndone); err != nil {
		t.Fatal(err)
	}
	if b := board(first); strings.Contains(b, "28 mg") {
		t.Errorf("after it was taken back: %q", b)
	}
}

// Older doses of the other case do not count, and no case is its own other, or
// one that is not here.
func TestSamePatientBounds(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	first := planned(t, c, "60", "30", "dexamethasone")
	submit(t, c, first, "drug", "drug", "dexamethasone", "dose", "8", "dose_unit", "mg", "route", "iv")
	clock.pass(25 * time.Hour)
	second := planned(t, c, "60", "30", "dexamethasone")
	submit(t, c, second, "facts", "same_as", first)
	for _, d := range doses(t, c, second, "dexamethasone", "") {
		if len(d.Board) > 0 {
			t.Errorf("25 hours later: %v", d.Board)
		}
	}
	var fe *timeline.FieldError
	if _, err := c.Submit(t.Context(), form(second, "facts", "same_as", second)); !errors.As(err, &fe) || fe.Field != "same_as" {
		t.Errorf("its own other: %v", err)
	}
	if _, err := c.Submit(t.Context(), form(second, "facts", "same_as", core.NewID())); !errors.Is(err, core.ErrNotHere) {
		t.Errorf("a case that is not here: %v", err)
	}
}
