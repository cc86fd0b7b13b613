package core_test

import (
	"context"
	"errors"
	"slices"
	"strings"
	"testing"
	"time"

	"chinlift/core"
	"chinlift/core/record"
	"chinlift/core/store"
	"chinlift/core/term"
	"chinlift/core/timeline"
	"chinlift/core/word"
)

// fakeClock is the one clock, driven by hand.
type fakeClock struct {
	wall  time.Time
	since time.Duration
	boot  string
}

func (f *fakeClock) Now() core.Reading {
	return core.Reading{Wall: f.wall, Zone: "Etc/GMT-3", SinceBoot: f.since, Boot: f.boot}
}

func (f *fakeClock) pass(d time.Duration) {
	f.wall, f.since = f.wall.Add(d), f.since+d
}

func newClock() *fakeClock {
	return &fakeClock{wall: time.Date(2026, 3, 2, 8, 0, 0, 0, time.FixedZone("", 3*3600)), since: time.Hour, boot: "boot-1"}
}

func openAt(t testing.TB, dir string, clock *fakeClock) *core.Companion {
	t.Helper()
	c, err := core.Open(t.Context(), core.Options{Dir: dir, Installation: "here", Clock: clock, Words: word.English()})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { c.Close() })
	return c
}

func openCase(t testing.TB, c *core.Companion, name string) string {
	t.Helper()
	id, _, err := c.OpenCase(t.Context(), core.Form{ID: core.NewID(), Fields: map[string][]string{
		"name": {name}, "age": {"34"}, "age_unit": {"a"}, "sex": {"female"}, "weight": {"52"}, "weight_how": {"measured"}, "weight_by": {"scale"}, "urgency": {"elective"}}})
	if err != nil {
		t.Fatal(err)
	}
	return id
}

func submit(t testing.TB, c *core.Companion, caseID, kind string, fields ...string) core.Done {
	t.Helper()
	d, err := c.Submit(t.Context(), form(caseID, kind, fields...))
	if err != nil {
		t.Fatalf("%s %v: %v", kind, fields, err)
	}
	return d
}

func form(caseID, kind string, fields ...string) core.Form {
	f := core.Form{ID: core.NewID(), Case: caseID, Kind: kind, Fields: map[string][]string{}}
	for i := 0; i < len(fields); i += 2 {
		f.Fields[fields[i]] = append(f.Fields[fields[i]], fields[i+1])
	}
	return f
}

func TestCaseThroughForms(t *testing.T) {
	clock := newClock()
	dir := t.TempDir()
	c := openAt(t, dir, clock)
	ctx := t.Context()
	id := openCase(t, c, "Invented Person")
	submit(t, c, id, "phase", "phase", "anaesthesia-start")
	clock.pass(6 * time.Minute)

	table, err := c.Table(ctx, id)
	if err != nil {
		t.Fatal(err)
	}
	if table.For != "Invented Person" || !strings.Contains(table.Detail, "52 kg") || table.Asleep != "6 min" {
		t.Errorf("head: %q %q %q", table.For, table.Detail, table.Asleep)
	}
	if len(table.Dues) != 1 || !table.Dues[0].Over || table.Dues[0].Key != "vitals" {
		t.Errorf("after 6 minutes without vitals: %+v", table.Dues)
	}
	submit(t, c, id, "vitals", "systolic", "110", "diastolic", "70", "pulse", "92", "temperature", "36,6")
	submit(t, c, id, "agent", "agent", "ether", "drops", "60")
	submit(t, c, id, "agent", "oxygen", "1", "cover", "on")
	submit(t, c, id, "drug", "drug", "atropine", "dose", "0.4", "dose_unit", "mg", "route", "iv", "back", "5")
	if table, err = c.Table(ctx, id); err != nil {
		t.Fatal(err)
	}
	keys := map[string]core.Key{}
	for _, k := range table.Keys {
		keys[k.Name] = k
	}
	if k := keys["vitals"]; !strings.Contains(k.Last, "110/70") || !strings.Contains(k.Last, "P\u00a092") || k.Due == nil || k.Due.At != clock.wall.Add(5*time.Minute).UnixMilli() {
		t.Errorf("vitals key: %+v", k)
	}
	if k := keys["agent"]; !strings.Contains(k.Last, "ether 60") || !strings.Contains(k.Last, "1 L/min") {
		t.Errorf("agent key: %+v", k)
	}
	if k := keys["drug"]; !strings.Contains(k.Last, "0.4 mg") || k.Ago != "5 min ago" {
		t.Errorf("drug key: %+v", k)
	}

	// The same from the disk, after a close.
	if err := c.Close(); err != nil {
		t.Fatal(err)
	}
	c = openAt(t, dir, clock)
	again, err := c.Table(ctx, id)
	if err != nil {
		t.Fatal(err)
	}
	if got, want := again.Keys[3].Last, table.Keys[3].Last; got != want {
		t.Errorf("after reopening the key says %q, before %q", got, want)
	}
}

func TestUndoAndRedo(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	ctx := t.Context()
	id := openCase(t, c, "")
	submit(t, c, id, "mark")
	submit(t, c, id, "support", "support", "assisted")
	table, _ := c.Table(ctx, id)
	if table.Undo == nil || table.Undo.Kind != "support" {
		t.Fatalf("undo would strike %+v", table.Undo)
	}
	if _, err := c.Strike(ctx, core.NewID(), id, table.Undo.ID, table.Undo.Heads, term.ReasonUndone); err != nil {
		t.Fatal(err)
	}
	table, _ = c.Table(ctx, id)
	if table.Redo == nil || table.Redo.Kind != "support" {
		t.Fatalf("redo would bring back %+v", table.Redo)
	}
	if table.Undo != nil {
		t.Errorf("a second tap on the same place would strike %+v", table.Undo)
	}
	if _, err := c.Restore(ctx, core.NewID(), id, table.Redo.ID, table.Redo.Heads); err != nil {
		t.Fatal(err)
	}
	table, _ = c.Table(ctx, id)
	if table.Redo != nil || table.Undo.Kind != "support" {
		t.Errorf("after redo: %+v %+v", table.Redo, table.Undo)
	}
}

func TestRetryIsOneEvent(t *testing.T) {
	c := openAt(t, t.TempDir(), newClock())
	id := openCase(t, c, "")
	f := form(id, "mark")
	one, err := c.Submit(t.Context(), f)
	if err != nil {
		t.Fatal(err)
	}
	two, err := c.Submit(t.Context(), f)
	if err != nil {
		t.Fatal(err)
	}
	if one.Head != two.Head || one.Lines[0].H != two.Lines[0].H {
		t.Error("a retry wrote a second event")
	}
	f.ID = core.NewID()
	three, err := c.Submit(t.Context(), f)
	if err != nil {
		t.Fatal(err)
	}
	if three.Head != one.Head+1 {
		t.Error("a second deliberate tap was not a second event")
	}
	// Opening a case writes several events from one control.
	open := core.Form{ID: core.NewID(), Fields: map[string][]string{"name": {"X"}, "age": {"3"}, "age_unit": {"mo"}}}
	a, d1, err := c.OpenCase(t.Context(), open)
	if err != nil {
		t.Fatal(err)
	}
	b, d2, err := c.OpenCase(t.Context(), open)
	if err != nil {
		t.Fatal(err)
	}
	if a != b || d1.Head != d2.Head {
		t.Error("a retry of opening a case opened a second one")
	}
}

func TestMoveKeepsTime(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	ctx := t.Context()
	one, two := openCase(t, c, "One"), openCase(t, c, "Two")
	d := submit(t, c, one, "vitals", "pulse", "88")
	entry := d.Lines[0].Event.ID
	at := d.Lines[0].Event.At
	clock.pass(10 * time.Minute)
	if _, err := c.Case(ctx, two); err != nil {
		t.Fatal(err)
	}
	if _, err := c.Move(ctx, core.NewID(), one, two, entry, []string{entry}); err != nil {
		t.Fatal(err)
	}
	cs, err := c.Case(ctx, two)
	if err != nil {
		t.Fatal(err)
	}
	e := cs.Story.Find(entry)
	if e == nil || !e.In(two) || !e.Now().At.Equal(at.Time) {
		t.Fatalf("in the other case: %+v", e)
	}
	cs, err = c.Case(ctx, one)
	if err != nil {
		t.Fatal(err)
	}
	if e := cs.Story.Find(entry); e == nil || e.In(one) || !slices.Contains(cs.Entries, e) {
		t.Error("the first case must still show the entry, and not count it")
	}
	sheet, err := c.Sheet(ctx, one)
	if err != nil {
		t.Fatal(err)
	}
	if len(sheet.Pulse) != 1 || sheet.Pulse[0].Standing != record.Moved {
		t.Errorf("drawn in the first case: %+v", sheet.Pulse)
	}
}

func TestCorrectionRefused(t *testing.T) {
	c := openAt(t, t.TempDir(), newClock())
	ctx := t.Context()
	id := openCase(t, c, "")
	entry := submit(t, c, id, "vitals", "pulse", "88").Lines[0].Event.ID
	mark := submit(t, c, id, "mark").Lines[0].Event.ID
	for name, f := range map[string]core.Form{
		"of another kind":       form(id, "note", "amends", entry, "heads", entry, "reason", "mistyped"),
		"of heads not there":    form(id, "vitals", "pulse", "80", "amends", entry, "heads", mark, "reason", "mistyped"),
		"of nothing known":      form(id, "vitals", "pulse", "80", "amends", core.NewID(), "heads", entry, "reason", "mistyped"),
		"without what was seen": form(id, "vitals", "pulse", "80", "amends", entry, "reason", "mistyped"),
	} {
		before := c.Stored()
		if _, err := c.Submit(ctx, f); err == nil {
			t.Errorf("a correction %s was accepted", name)
		}
		if c.Stored() != before {
			t.Errorf("a correction %s left something behind", name)
		}
	}
	// A mark may turn out to be something else, and keeps its time.
	if _, err := c.Submit(ctx, form(id, "drug", "drug", "ketamine", "dose", "50", "dose_unit", "mg", "route", "iv", "amends", mark, "heads", mark, "reason", "named-later")); err != nil {
		t.Error(err)
	}
}

func TestFieldErrors(t *testing.T) {
	c := openAt(t, t.TempDir(), newClock())
	id := openCase(t, c, "")
	for _, tt := range []struct {
		kind   string
		fields []string
		field  string
		code   string
	}{
		{"vitals", []string{"systolic", "1100"}, "systolic", "out-of-bounds"},
		{"vitals", []string{"pulse", "abc"}, "pulse", "not-a-number"},
		{"vitals", []string{"pulse", "1,000"}, "pulse", "ambiguous-separator"},
		{"vitals", []string{"temperature", "36.6 kg"}, "temperature", "unit-does-not-fit"},
		{"vitals", nil, "values", "missing"},
		{"vitals", []string{"systolic", "80", "diastolic", "90"}, "diastolic", "contradiction"},
		{"facts", []string{"weight", "52"}, "weight_how", "missing"},
		{"facts", []string{"weight", "700", "weight_how", "measured", "weight_by", "scale"}, "weight", "out-of-bounds"},
		{"drug", []string{"drug", "morphine", "route", "iv"}, "dose", "missing"},
		{"drug", []string{"drug", "fentanyl", "dose", "100", "route", "iv"}, "dose", "unit-missing"},
		{"drug", []string{"drug", "fentanyl", "dose", "100", "dose_unit", "ug", "strength", "50", "route", "iv"}, "strength", "unit-missing"},
		{"infusion", []string{"act", "started", "drug", "oxytocin", "rate", "120", "route", "iv"}, "rate", "unit-missing"},
		{"facts", []string{"age", "6"}, "age", "unit-missing"},
		{"phase", []string{"phase", "lunch"}, "phase", "not-in-list"},
		{"nothing", nil, "kind", "not-in-list"},
		{"mark", []string{"at", "25:00"}, "at", "not-a-time"},
		{"mark", []string{"back", "-3"}, "back", "not-a-number"},
	} {
		_, err := c.Submit(t.Context(), form(id, tt.kind, tt.fields...))
		var fe *timeline.FieldError
		if !errors.As(err, &fe) || fe.Field != tt.field || fe.Code != tt.code {
			t.Errorf("%s %v: %v, want %s: %s", tt.kind, tt.fields, err, tt.field, tt.code)
		}
	}
}

func TestNames(t *testing.T) {
	c := openAt(t, t.TempDir(), newClock())
	ctx := t.Context()
	if _, err := c.NameAuthor(ctx, core.NewID(), "Nurse Invented"); err != nil {
		t.Fatal(err)
	}
	if n, err := c.AuthorName(ctx); err != nil || n != "Nurse Invented" {
		t.Errorf("author %q %v", n, err)
	}
	id := openCase(t, c, "")
	if _, err := c.NamePatient(ctx, core.NewID(), id, "Later Named", "77"); err != nil {
		t.Fatal(err)
	}
	table, err := c.Table(ctx, id)
	if err != nil || table.For != "Later Named" {
		t.Errorf("for %q %v", table.For, err)
	}
	sheet, err := c.Sheet(ctx, id)
	if err != nil {
		t.Fatal(err)
	}
	if by := sheet.Entries[0].By; by != "Nurse Invented" {
		t.Errorf("by %q", by)
	}
}

func TestKitSweepLeavesStops(t *testing.T) {
	c := openAt(t, t.TempDir(), newClock())
	ctx := t.Context()
	k, err := c.Kit(ctx, "open-drop")
	if err != nil {
		t.Fatal(err)
	}
	stops := k.Stops
	if _, err := c.CheckItem(ctx, core.NewID(), "open-drop", "gauze", term.KitStateFault, term.KitAnswerReplaced); err != nil {
		t.Fatal(err)
	}
	sweep := core.NewID()
	done, err := c.SweepRest(ctx, sweep, "open-drop")
	if err != nil {
		t.Fatal(err)
	}
	if len(done.Lines) != len(k.Items)-stops-1 {
		t.Errorf("swept %d of %d items with %d stops and a fault", len(done.Lines), len(k.Items), stops)
	}
	if k, err = c.Kit(ctx, "open-drop"); err != nil || k.Stops != stops || k.Left != 0 || k.Faults != 1 {
		t.Errorf("after the sweep: %d stops open, %d left, %d faults (%v)", k.Stops, k.Left, k.Faults, err)
	}
	if _, err := c.SweepRest(ctx, core.NewID(), "open-drop"); !errors.Is(err, core.ErrNothingLeft) {
		t.Errorf("a second sweep: %v", err)
	}
	if _, err := c.CheckItem(ctx, core.NewID(), "open-drop", "no-such", term.KitStateGood, ""); err == nil {
		t.Error("an item that is not on the list was accepted")
	}
}

func TestClosedCasesSettle(t *testing.T) {
	clock := newClock()
	dir := t.TempDir()
	c := openAt(t, dir, clock)
	ctx := t.Context()
	id := openCase(t, c, "")
	closing := submit(t, c, id, "case-closed").Lines[0].Event.ID
	if cases, err := c.OpenCases(ctx); err != nil || len(cases) != 0 {
		t.Fatalf("open: %v %v", cases, err)
	}
	// A case that was closed by mistake is open again.
	if _, err := c.Strike(ctx, core.NewID(), id, closing, []string{closing}, term.ReasonTappedByMistake); err != nil {
		t.Fatal(err)
	}
	if cases, err := c.OpenCases(ctx); err != nil || len(cases) != 1 {
		t.Fatalf("open after the closing was struck: %v %v", cases, err)
	}
	if err := c.Close(); err != nil {
		t.Fatal(err)
	}
	c = openAt(t, dir, clock)
	if cases, err := c.OpenCases(ctx); err != nil || len(cases) != 1 {
		t.Fatalf("open after a restart: %v %v", cases, err)
	}
}

func TestReadOnlyRefusesToWrite(t *testing.T) {
	clock := newClock()
	dir := t.TempDir()
	c := openAt(t, dir, clock)
	id := openCase(t, c, "")
	ro, err := core.OpenReadOnly(context.Background(), core.Options{Dir: dir, Clock: clock, Words: word.English()})
	if err != nil {
		t.Fatal(err)
	}
	defer ro.Close()
	if _, err := ro.Submit(t.Context(), form(id, "mark")); !errors.Is(err, store.ErrReadOnly) {
		t.Errorf("writing to a companion that only reads: %v", err)
	}
}
