package core_test

import (
	"errors"
	"strings"
	"testing"
	"time"

	"chinlift/core"
	"chinlift/core/term"
	"chinlift/core/timeline"
)

// stands gives an entry of a case as it is now.
func stands(t *testing.T, c *core.Companion, caseID, entry string) *timeline.Entry {
	t.Helper()
	cs, err := c.Case(t.Context(), caseID)
	if err != nil {
		t.Fatal(err)
	}
	e := cs.Story.Find(entry)
	if e == nil {
		t.Fatalf("entry %s is not in case %s", entry, caseID)
	}
	return e
}

func TestCorrectionKeepsTheTime(t *testing.T) {
	clock := newClock()
	clock.wall = clock.wall.Add(12*time.Second + 345*time.Millisecond)
	c := openAt(t, t.TempDir(), clock)
	id := openCase(t, c, "")
	e := submit(t, c, id, "vitals", "systolic", "110").Lines[0].Event
	clock.pass(72 * time.Hour)
	clock.wall = clock.wall.In(time.FixedZone("", -5*3600)) // somebody who looks at it from elsewhere
	for _, tt := range []struct{ at, want string }{
		{"", e.At.String()},
		{"08:00", e.At.String()}, // the minute that it has
		{"07:45", "2026-03-02T07:45:00+03:00[Etc/GMT-3]"},
		{"2026-03-01T23:59:30+03:00[Etc/GMT-3]", "2026-03-01T23:59:30+03:00[Etc/GMT-3]"},
		{"00:10", "2026-03-02T00:10:00+03:00[Etc/GMT-3]"}, // across midnight
		{"23:55", "2026-03-01T23:55:00+03:00[Etc/GMT-3]"}, // and back
		{"12:00", "2026-03-01T12:00:00+03:00[Etc/GMT-3]"},
	} {
		now := stands(t, c, id, e.ID)
		submit(t, c, id, "vitals", "systolic", "120", "at", tt.at, "amends", e.ID, "heads", now.HeadIDs()[0], "reason", "mistyped")
		if got := stands(t, c, id, e.ID).Now().At.String(); got != tt.want {
			t.Errorf("corrected with the time %q it stands at %s, want %s", tt.at, got, tt.want)
		}
	}
}

func TestMovedEntryIsCorrectedWhereItIs(t *testing.T) {
	c := openAt(t, t.TempDir(), newClock())
	ctx := t.Context()
	a, b := openCase(t, c, "Invented A"), openCase(t, c, "Invented B")
	e := submit(t, c, a, "drug", "drug", "ketamine", "dose", "50", "dose_unit", "mg", "route", "iv").Lines[0].Event.ID
	move := core.NewID()
	if _, err := c.Move(ctx, move, a, b, e, []string{e}); err != nil {
		t.Fatal(err)
	}
	if _, err := c.Move(ctx, move, a, b, e, []string{e}); err != nil {
		t.Errorf("a retry of the move: %v", err)
	}
	heads := stands(t, c, a, e).HeadIDs()
	before := c.Stored()
	again := form(a, "drug", "drug", "ketamine", "dose", "60", "dose_unit", "mg", "route", "iv", "amends", e, "heads", heads[0], "reason", "mistyped")
	for what, do := range map[string]func() error{
		"corrected": func() error { _, err := c.Submit(ctx, again); return err },
		"struck":    func() error { _, err := c.Strike(ctx, core.NewID(), a, e, heads, term.ReasonMistyped); return err },
		"moved on":  func() error { _, err := c.Move(ctx, core.NewID(), a, b, e, heads); return err },
	} {
		err := do()
		if p := c.Explain(err); !errors.Is(err, core.ErrMovedAway) || p.Status != 409 || !strings.Contains(p.Words, "another case") {
			t.Errorf("%s in the case that it left: %v, %q", what, err, p.Words)
		}
	}
	if c.Stored() != before {
		t.Error("something was written")
	}
	v, err := c.EntryOf(ctx, a, e)
	if err != nil || v.CanCorrect || v.CanStrike || v.CanRestore || len(v.To) > 0 || v.Elsewhere == nil || v.Elsewhere.Case != b || v.Elsewhere.For != "Invented B" {
		t.Errorf("in the case that it left it offers %+v (%v)", v, err)
	}
	again.Case = b
	if _, err := c.Submit(ctx, again); err != nil {
		t.Fatal(err)
	}
	if now := stands(t, c, b, e).Now(); now.Case != b || now.Payload.(*timeline.Drug).Dose.String() != "60 mg" {
		t.Errorf("corrected where it is: in %s, %+v", now.Case, now.Payload)
	}
	if _, err := c.Move(ctx, core.NewID(), b, core.NewID(), e, stands(t, c, b, e).HeadIDs()); !errors.Is(err, core.ErrNotHere) {
		t.Errorf("moved to a case that nobody opened: %v", err)
	}
}

func TestOpeningStaysInItsCase(t *testing.T) {
	c := openAt(t, t.TempDir(), newClock())
	ctx := t.Context()
	a, b := openCase(t, c, "Invented A"), openCase(t, c, "Invented B")
	cs, err := c.Case(ctx, b)
	if err != nil {
		t.Fatal(err)
	}
	var opening *timeline.Entry
	for e := range timeline.Each[*timeline.CaseOpened](cs.Entries, b) {
		opening = e
	}
	v, err := c.EntryOf(ctx, b, opening.ID)
	if err != nil || len(v.To) > 0 || v.CanStrike || !v.CanCorrect {
		t.Errorf("offered for the opening of a case: %+v (%v)", v, err)
	}
	_, err = c.Move(ctx, core.NewID(), b, a, opening.ID, opening.HeadIDs())
	_, err2 := c.Strike(ctx, core.NewID(), b, opening.ID, opening.HeadIDs(), term.ReasonTappedByMistake)
	if !errors.Is(err, core.ErrOpening) || !errors.Is(err2, core.ErrOpening) {
		t.Errorf("moved: %v; struck: %v", err, err2)
	}
	_, err = c.Submit(ctx, form(b, "case-opened", "patient", core.NewID(), "amends", opening.ID, "heads", opening.ID, "reason", "mistyped"))
	var fe *timeline.FieldError
	if !errors.As(err, &fe) || fe.Field != "patient" {
		t.Errorf("the case was given another patient: %v", err)
	}
	if _, err := c.Submit(ctx, form(b, "case-opened", "patient", cs.Patient, "urgency", "emergency", "amends", opening.ID, "heads", opening.ID, "reason", "mistyped")); err != nil {
		t.Errorf("another urgency: %v", err)
	}
}

func TestReasonIsOwed(t *testing.T) {
	clock := newClock()
	dir := t.TempDir()
	c := openAt(t, dir, clock)
	ctx := t.Context()
	id := openCase(t, c, "")
	e := submit(t, c, id, "vitals", "pulse", "88").Lines[0].Event.ID
	f := form(id, "vitals", "pulse", "80", "amends", e, "heads", e)
	before := c.Stored()
	done, err := c.Submit(ctx, f)
	if err != nil || len(done.Lines) != 1 || done.Lines[0].Event.Amends != e || c.Stored() != before+2 {
		t.Fatalf("a correction without a reason: %+v, %d lines more (%v)", done, c.Stored()-before, err)
	}
	f2 := f
	f2.Fields = map[string][]string{"pulse": {"80"}, "amends": {e}, "heads": {e}}
	if _, err := c.Submit(ctx, f2); err != nil || c.Stored() != before+2 {
		t.Errorf("its retry: %d lines more (%v)", c.Stored()-before, err)
	}
	owing := func() []core.Line {
		h, _, err := c.HeadOf(ctx, id)
		if err != nil {
			t.Fatal(err)
		}
		return h.Owing
	}
	if o := owing(); len(o) != 1 || o[0].Owed != string(term.OwedCorrection) {
		t.Fatalf("owed: %+v", o)
	}
	submit(t, c, id, "owed", "act", "given", "for", string(term.OwedCorrection), "debt", owing()[0].ID, "text", "counted again")
	if o := owing(); len(o) != 0 {
		t.Errorf("given, and still owed: %+v", o)
	}
	submit(t, c, id, "vitals", "pulse", "82", "amends", e, "heads", stands(t, c, id, e).HeadIDs()[0], "reason", "mistyped")
	if o := owing(); len(o) != 0 {
		t.Errorf("with a reason, and owed: %+v", o)
	}
	if r, err := c.Verify(ctx); err != nil || len(r.Findings) > 0 {
		t.Errorf("%v %v", r.Findings, err)
	}
}

func TestStruckEntryIsRestoredFirst(t *testing.T) {
	c := openAt(t, t.TempDir(), newClock())
	ctx := t.Context()
	id := openCase(t, c, "")
	e := submit(t, c, id, "vitals", "pulse", "88").Lines[0].Event.ID
	if _, err := c.Strike(ctx, core.NewID(), id, e, []string{e}, term.ReasonMistyped); err != nil {
		t.Fatal(err)
	}
	correct := func() error {
		_, err := c.Submit(ctx, form(id, "vitals", "pulse", "80", "amends", e, "heads", stands(t, c, id, e).HeadIDs()[0], "reason", "mistyped"))
		return err
	}
	if err := correct(); !errors.Is(err, core.ErrStruckOut) || !strings.Contains(c.Explain(err).Words, "bring it back first") {
		t.Errorf("a struck entry corrected: %v", err)
	}
	if v, err := c.EntryOf(ctx, id, e); err != nil || v.CanCorrect || !v.CanRestore {
		t.Errorf("offered: %+v (%v)", v, err)
	}
	if _, err := c.Restore(ctx, core.NewID(), id, e, stands(t, c, id, e).HeadIDs()); err != nil {
		t.Fatal(err)
	}
	if err := correct(); err != nil {
		t.Error(err)
	}
}

func TestCorrectionStaysInItsScope(t *testing.T) {
	c := openAt(t, t.TempDir(), newClock())
	id := openCase(t, c, "Invented Person")
	cs, err := c.Case(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	p := cs.Persons[cs.Patient]
	if _, err := c.Strike(t.Context(), core.NewID(), cs.Patient, p.ID, p.HeadIDs(), term.ReasonMistyped); err == nil {
		t.Error("the patient was struck out as an entry of a case")
	}
}

func TestEntryNeedsItsCase(t *testing.T) {
	c := openAt(t, t.TempDir(), newClock())
	id := openCase(t, c, "Invented Person")
	cs, err := c.Case(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	before := c.Stored()
	for _, about := range []string{core.NewID(), cs.Patient, "x"} {
		if _, err := c.Submit(t.Context(), form(about, "vitals", "pulse", "80")); !errors.Is(err, core.ErrNotHere) {
			t.Errorf("an entry for %s: %v", about, err)
		}
	}
	if c.Stored() != before {
		t.Error("something was written")
	}
}
