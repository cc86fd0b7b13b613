package core_test

import (
	"bytes"
	"context"
	"errors"
	"strings"
	"testing"
	"time"

	"chinlift/core"
	"chinlift/core/term"
	"chinlift/core/timeline"
	"chinlift/sync/plain"
)

// What was destroyed is gone from everything that the companion keeps folded.
func TestDestroyedWordsAreGoneAtOnce(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	ctx := t.Context()
	id := openCase(t, c, "Quentin Invented")
	note := submit(t, c, id, "note", "text", "secret words").Lines[0].Event.ID
	cs, err := c.Case(ctx, id)
	if err != nil {
		t.Fatal(err)
	}
	person := cs.Persons[cs.Patient].ID
	if _, err := c.Record(ctx, core.Tap{ID: core.NewID(), Scope: timeline.ScopeCase, About: id,
		Payload: &timeline.IdentityDestroyed{Events: []string{note, person}, Grounds: term.GroundsPatientAsked}}); err != nil {
		t.Fatal(err)
	}
	var shown bytes.Buffer
	if cs, err = c.Case(ctx, id); err != nil {
		t.Fatal(err)
	}
	shown.WriteString(cs.Name(cs.Patient))
	for _, l := range cs.Story.Lines() {
		shown.Write(l.P)
	}
	lines, err := c.Entries(ctx, id)
	if err != nil {
		t.Fatal(err)
	}
	for _, l := range lines {
		shown.WriteString(l.Text)
	}
	m := plain.Maker{Source: c, Now: func() time.Time { return clock.wall }}
	for _, name := range plain.Names() {
		data, _, err := m.File(ctx, id, name, true)
		if err != nil {
			t.Fatal(err)
		}
		shown.Write(data)
	}
	for _, word := range []string{"secret", "Quentin"} {
		if strings.Contains(shown.String(), word) {
			t.Errorf("%q is still shown", word)
		}
	}
}

func TestResumeBelievesNothingKept(t *testing.T) {
	clock := newClock()
	dir := t.TempDir()
	a := openAt(t, dir, clock)
	ctx := t.Context()
	if err := a.Suspend(ctx); err != nil {
		t.Fatal(err)
	}
	b := openAt(t, dir, clock)
	id := openCase(t, b, "Invented Person")
	if err := b.Suspend(ctx); err != nil {
		t.Fatal(err)
	}
	if err := a.Resume(ctx); err != nil {
		t.Fatal(err)
	}
	if a.Author() != b.Author() || a.Author() == "" {
		t.Errorf("author %q, the folder has %q", a.Author(), b.Author())
	}
	if open, err := a.OpenCases(ctx); err != nil || len(open) != 1 {
		t.Errorf("open: %v (%v)", open, err)
	}
	submit(t, a, id, "drug", "drug", "atropine", "dose", "0.5", "dose_unit", "mg", "route", "iv")
	if err := a.Suspend(ctx); err != nil {
		t.Fatal(err)
	}
	if err := b.Resume(ctx); err != nil {
		t.Fatal(err)
	}
	cs, err := b.Case(ctx, id)
	if err != nil {
		t.Fatal(err)
	}
	tray, err := b.DrugTray(t.Context(), cs)
	if err != nil {
		t.Fatal(err)
	}
	if given := tray.Given; len(given) != 1 {
		t.Errorf("the drug given meanwhile is not shown: %v", given)
	}
}

// endsAfter is a context that ends at the nth look at it.
type endsAfter struct {
	context.Context
	looks int
}

func (e *endsAfter) Err() error {
	if e.looks--; e.looks < 0 {
		return context.Canceled
	}
	return nil
}

// The first tap writes the person at the device too: it says that nothing was
// written only where nothing was, at whatever moment it is broken off.
func TestFirstTapSaysWhatIsSo(t *testing.T) {
	broken := 0
	for looks := range 12 {
		clock := newClock()
		dir := t.TempDir()
		c := openAt(t, dir, clock)
		_, _, err := c.OpenCase(&endsAfter{t.Context(), looks}, core.Form{ID: core.NewID(), Fields: map[string][]string{"name": {"Invented"}}})
		if err != nil {
			broken++
		}
		if (err != nil) != (c.Stored() == 0) {
			t.Errorf("broken off after %d looks: %v, and %d lines are stored", looks, err, c.Stored())
		}
		if err != nil {
			continue
		}
		was := c.Author()
		if err := c.Close(); err != nil {
			t.Fatal(err)
		}
		if again := openAt(t, dir, clock); again.Author() != was || was == "" {
			t.Errorf("broken off after %d looks: the author is %q, and %q after a restart", looks, was, again.Author())
		}
	}
	if broken == 0 || broken == 12 {
		t.Errorf("%d of 12 taps were broken off: the test shows nothing", broken)
	}
}

// A retry leaves the kept case as it was: not one line more.
func TestRetryLeavesTheKeptCase(t *testing.T) {
	c := openAt(t, t.TempDir(), newClock())
	id := openCase(t, c, "")
	f := form(id, "vitals", "pulse", "80")
	if _, err := c.Submit(t.Context(), f); err != nil {
		t.Fatal(err)
	}
	before, err := c.Case(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := c.Submit(t.Context(), f); err != nil {
		t.Fatal(err)
	}
	if after, err := c.Case(t.Context(), id); err != nil || after != before {
		t.Errorf("the case was folded anew (%v)", err)
	}
}

func TestSweepRetry(t *testing.T) {
	c := openAt(t, t.TempDir(), newClock())
	ctx := t.Context()
	sweep := core.NewID()
	one, err := c.SweepRest(ctx, sweep, "open-drop")
	if err != nil {
		t.Fatal(err)
	}
	two, err := c.SweepRest(ctx, sweep, "open-drop")
	if err != nil || two.Head != one.Head || len(two.Lines) != len(one.Lines) {
		t.Errorf("a retry answers %d lines at %d, the sweep was %d at %d (%v)", len(two.Lines), two.Head, len(one.Lines), one.Head, err)
	}
	if _, err := c.SweepRest(ctx, core.NewID(), "open-drop"); !errors.Is(err, core.ErrNothingLeft) {
		t.Errorf("another sweep: %v", err)
	}
}

func TestNamingKeepsWhatWasNotSent(t *testing.T) {
	c := openAt(t, t.TempDir(), newClock())
	ctx := t.Context()
	id, _, err := c.OpenCase(ctx, core.Form{ID: core.NewID(), Fields: map[string][]string{"name": {"Invented"}, "number": {"4711"}}})
	if err != nil {
		t.Fatal(err)
	}
	person := func() *timeline.Entry {
		cs, err := c.Case(ctx, id)
		if err != nil {
			t.Fatal(err)
		}
		return cs.Persons[cs.Patient]
	}
	seen := person().HeadIDs()
	for _, tt := range []struct{ name, number, want string }{
		{"Invented Spelled", "", "Invented Spelled 4711"},
		{"", "4712", "Invented Spelled 4712"},
	} {
		if _, err := c.NamePatient(ctx, core.NewID(), id, tt.name, tt.number, person().HeadIDs()...); err != nil {
			t.Fatal(err)
		}
		p := person().Now().Private()
		if got := p[timeline.PrivateName] + " " + p[timeline.PrivateNumber]; got != tt.want {
			t.Errorf("named %q %q: %s, want %s", tt.name, tt.number, got, tt.want)
		}
	}
	// On a form that was drawn before, by somebody who had seen neither: both
	// stand, and it shows.
	if _, err := c.NamePatient(ctx, core.NewID(), id, "Somebody Else", "", seen...); err != nil {
		t.Fatal(err)
	}
	e := person()
	if p := e.Now().Private(); !e.Conflict() || p[timeline.PrivateName] != "Somebody Else" || p[timeline.PrivateNumber] != "4711" {
		t.Errorf("from an old form: conflict %v, %v", e.Conflict(), p)
	}
}

// The list for an export is whole however many cases there are.
func TestCasesBeyondAPage(t *testing.T) {
	c := openAt(t, t.TempDir(), newClock())
	const n = 1003
	taps := make([]core.Tap, n)
	for i := range taps {
		taps[i] = core.Tap{ID: core.NewID(), Scope: timeline.ScopeCase, About: core.NewID(), Payload: &timeline.CaseOpened{Patient: core.NewID()}}
	}
	if _, err := c.Record(t.Context(), taps...); err != nil {
		t.Fatal(err)
	}
	seen := map[string]bool{}
	last := ""
	for id, err := range c.Cases(t.Context()) {
		if err != nil || id <= last {
			t.Fatalf("%s after %s (%v)", id, last, err)
		}
		if len(seen) == 0 {
			submit(t, c, id, "mark") // touched while the list is walked
		}
		seen[id], last = true, id
	}
	if len(seen) != n {
		t.Errorf("%d of %d cases", len(seen), n)
	}
}
