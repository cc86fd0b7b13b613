package store

import (
	"context"
	"database/sql"
	"errors"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/google/uuid"

	"chinlift/core/must"
	"chinlift/core/quantity"
	"chinlift/core/term"
	"chinlift/core/timeline"
)

func TestOpenWritesNothing(t *testing.T) {
	dir := t.TempDir()
	for range 2 {
		s := must.Get[*Store](t)(Open(t.Context(), options(dir)))
		if n := s.Head(); n != 0 {
			t.Fatalf("a folder that nobody wrote to holds %d lines", n)
		}
		clean(t, s)
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
	}
	info, err := os.Stat(filepath.Join(dir, "chinlift.db"))
	if err != nil || info.Size() == 0 {
		t.Fatalf("no database: %v", err)
	}
}

func TestOpenMakesTheFolderForItsOwnerOnly(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "a", "b")
	open(t, options(dir))
	info, err := os.Stat(dir)
	if err != nil || info.Mode().Perm() != 0o700 {
		t.Fatalf("folder is %v, %v", info.Mode(), err)
	}
}

func TestFirstAppendOpensTheLog(t *testing.T) {
	s := fresh(t)
	caseID := newID()
	got := appendAll(t, s, opened(caseID), note(caseID, "a"))
	if len(got) != 2 {
		t.Fatalf("%d lines for 2 drafts", len(got))
	}
	ls := all(t, s)
	if len(ls) != 3 || s.Head() != 3 {
		t.Fatalf("%d lines stored, head %d", len(ls), s.Head())
	}
	first := ls[0].Event
	p, ok := ls[0].Payload.(*timeline.LogOpened)
	if !ok || p.Cause != term.LogCauseNew || p.Cites != "" {
		t.Fatalf("first payload %+v", ls[0].Payload)
	}
	if first.Scope != timeline.ScopeDevice || first.About != first.Log || first.Author != uuid.Nil.String() || first.Entered.Boot != "boot" {
		t.Fatalf("first event %+v", first)
	}
	for i, l := range ls {
		prev := timeline.NoHash
		if i > 0 {
			prev = ls[i-1].H
		}
		if l.Event.Seq != int64(i+1) || l.Event.Tick != int64(i+1) || l.Event.Prev != prev || l.Event.Log != first.Log {
			t.Errorf("line %d: %+v", i, l.Event)
		}
		if err := l.Verify(); err != nil {
			t.Error(err)
		}
	}
	if r := clean(t, s); r.Lines != 3 || r.Logs != 1 || r.Continuity != ContinuityWhole {
		t.Errorf("report %+v", r)
	}
}

func TestLogGoesOnAfterReopening(t *testing.T) {
	dir := t.TempDir()
	caseID := newID()
	for i := range 3 {
		s := must.Get[*Store](t)(Open(t.Context(), options(dir)))
		l := appendAll(t, s, note(caseID, "a"))[0]
		if l.Event.Seq != int64(i+2) || l.Event.Tick != int64(i+2) {
			t.Fatalf("after %d openings: number %d, tick %d", i, l.Event.Seq, l.Event.Tick)
		}
		clean(t, s)
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
	}
}

func TestRetryAnswersWhatIsStored(t *testing.T) {
	s := fresh(t)
	caseID := newID()
	a, b, c := opened(caseID), note(caseID, "first"), note(caseID, "c")
	first := appendAll(t, s, a, b)
	before := dump(t, s)

	again := appendAll(t, s, a, b)
	if dump(t, s) != before || s.Head() != 3 {
		t.Fatal("a retry wrote something")
	}
	for i, l := range again {
		if l.H != first[i].H {
			t.Errorf("retry %d answers another line", i)
		}
	}
	// A retry among new drafts, and one draft twice in one call.
	mixed := appendAll(t, s, c, b, c)
	if mixed[0].H != mixed[2].H || mixed[1].H != first[1].H || s.Head() != 4 {
		t.Errorf("mixed: %d lines stored", s.Head())
	}
	clean(t, s)
}

// A draft under the id of a stored line is a retry when it says the same, and
// else something that would be lost.
func TestRetrySaysTheSame(t *testing.T) {
	s := fresh(t)
	caseID, elsewhere := newID(), newID()
	root := appendAll(t, s, note(caseID, "a"))[0]
	const minute = time.Minute
	first := amend(note(caseID, "first"), root, term.ReasonMistyped)
	first.At = first.Entered.Wall.Add(-10 * minute) // ten minutes ago
	stored := appendAll(t, s, first)[0]
	before := dump(t, s)

	for _, c := range []struct {
		name   string
		change func(d *timeline.Draft)
		retry  bool
	}{
		{"as it was", func(d *timeline.Draft) {}, true},
		{"entered later, at the time that was named", func(d *timeline.Draft) { d.Entered.Wall = d.Entered.Wall.Add(7 * minute) }, true},
		{"entered later, as long ago", func(d *timeline.Draft) {
			d.Entered.Wall, d.At = d.Entered.Wall.Add(7*minute+time.Second), d.At.Add(7*minute)
		}, true},
		{"after another start of the device", func(d *timeline.Draft) { d.Entered.Boot, d.Entered.SinceBootMS = "later", 9 }, true},
		{"by somebody else", func(d *timeline.Draft) { d.Author = newID() }, true},
		{"of a version that is looked up anew", func(d *timeline.Draft) { d.Replaces = []string{d.ID} }, true},

		{"another case", func(d *timeline.Draft) { d.About = elsewhere }, false},
		{"another kind", func(d *timeline.Draft) { d.Payload, d.Private = &timeline.Struck{}, nil }, false},
		{"other words", func(d *timeline.Draft) { d.Private = timeline.Private{timeline.PrivateText: "second"} }, false},
		{"no words", func(d *timeline.Draft) { d.Private = nil }, false},
		{"another root", func(d *timeline.Draft) { d.Amends = newID() }, false},
		{"no root", func(d *timeline.Draft) { d.Amends, d.Replaces, d.Reason = "", nil, "" }, false},
		{"another version", func(d *timeline.Draft) { d.Replaces = []string{newID()} }, false},
		{"another reason", func(d *timeline.Draft) { d.Reason = term.ReasonLearnedLater }, false},
		{"another time", func(d *timeline.Draft) { d.At = d.At.Add(5 * minute) }, false},
		{"just now", func(d *timeline.Draft) { d.Entered.Wall = d.Entered.Wall.Add(minute); d.At = d.Entered.Wall }, false},
	} {
		d := first
		c.change(&d)
		got, err := s.Append(t.Context(), opened(newID()), d)
		var field *timeline.FieldError
		switch {
		case c.retry && (err != nil || got[1].H != stored.H):
			t.Errorf("%s: %v", c.name, err)
		case !c.retry && (!errors.As(err, &field) || field.Field != "id" || field.Code != "contradiction"):
			t.Errorf("%s: answers %v, %v", c.name, got, err)
		case !c.retry && dump(t, s) != before:
			t.Errorf("%s: something was written", c.name)
		}
		before = dump(t, s)
	}

	// The scope, where the kind goes with any.
	struck := strike(caseID, root)
	appendAll(t, s, struck, struck)
	struck.Scope = timeline.ScopeClinic
	if got, err := s.Append(t.Context(), struck); err == nil {
		t.Errorf("in another scope: answers %s", got[0].E)
	}

	// The content itself, where it is not private.
	look := draft(timeline.ScopeCase, caseID, &timeline.Vitals{Measures: timeline.Measures{Systolic: mmHg(t, "120"), Diastolic: mmHg(t, "80")}})
	appendAll(t, s, look, look)
	look.Payload = &timeline.Vitals{Measures: timeline.Measures{Systolic: mmHg(t, "60"), Diastolic: mmHg(t, "40")}}
	if got, err := s.Append(t.Context(), look); err == nil {
		t.Errorf("60/40 is answered as recorded: %s", got[0].Event.Data)
	}
	clean(t, s)
}

func mmHg(t *testing.T, number string) quantity.Amount {
	t.Helper()
	return must.Get[quantity.Amount](t)(quantity.ParseEntry(number, quantity.MmHg))
}

func TestSettingsKeptWithLines(t *testing.T) {
	s := fresh(t)
	ctx := t.Context()
	local := map[string]string{"author": author}
	bad := opened(newID())
	bad.Author = "nobody"
	if _, err := s.AppendWith(ctx, local, opened(newID()), bad); err == nil {
		t.Fatal("a bad draft was written")
	}
	if got := must.Get[string](t)(s.Local(ctx, "author")); got != "" || s.Head() != 0 {
		t.Errorf("nothing was written, but %q was kept", got)
	}
	good := opened(newID())
	for range 2 { // the second time a retry
		if ls := must.Get[[]*timeline.Line](t)(s.AppendWith(ctx, local, good)); len(ls) != 1 || ls[0].Event.ID != good.ID {
			t.Fatalf("%d lines", len(ls))
		}
		if got := must.Get[string](t)(s.Local(ctx, "author")); got != author || s.Head() != 2 {
			t.Errorf("kept %q, %d lines", got, s.Head())
		}
	}
	local["author"] = "somebody else"
	must.Get[[]*timeline.Line](t)(s.AppendWith(ctx, local, good))
	if got := must.Get[string](t)(s.Local(ctx, "author")); got != "somebody else" {
		t.Errorf("with a retry %q is kept", got)
	}
}

// What is counted after a commit does not make it undone.
func TestCounterThatFails(t *testing.T) {
	s := fresh(t)
	s.db.w.frames = func(*sql.Conn) (int, error) { return 0, errors.New("no counter") }
	id := newID()
	if got := appendAll(t, s, opened(id)); len(all(t, s)) != 2 || got[0].Event.Seq != 2 || s.Head() != 2 {
		t.Errorf("%d lines", s.Head())
	}
	clean(t, s)
}

func TestRetryAloneOpensNoLog(t *testing.T) {
	s := fresh(t)
	c := newChain(t)
	d := opened(newID())
	merge(t, s, []*timeline.Line{c.add(d)})
	if l := appendAll(t, s, d)[0]; l.Event.Log != c.log || s.Head() != 1 {
		t.Fatalf("log %s, %d lines stored", l.Event.Log, s.Head())
	}
}

func TestBadDraftWritesNothing(t *testing.T) {
	s := fresh(t)
	caseID := newID()
	bad := opened(caseID)
	bad.Author = "nobody"
	_, err := s.Append(t.Context(), opened(caseID), bad)
	var field *timeline.FieldError
	if !errors.As(err, &field) || field.Field != "author" {
		t.Fatalf("error %v", err)
	}
	if s.Head() != 0 || len(all(t, s)) != 0 {
		t.Fatal("something was written")
	}
	appendAll(t, s, opened(caseID))
	clean(t, s)
}

func TestContextThatEndedWritesNothing(t *testing.T) {
	s := fresh(t)
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := s.Append(ctx, opened(newID())); !errors.Is(err, context.Canceled) {
		t.Fatalf("error %v", err)
	}
	if s.Head() != 0 {
		t.Fatal("something was written")
	}
	appendAll(t, s, opened(newID()))
}

func TestTickFollowsTheHighestSeen(t *testing.T) {
	s := fresh(t)
	c := newChain(t)
	c.tick = 40
	merge(t, s, []*timeline.Line{c.add(opened(newID()))})
	l := appendAll(t, s, opened(newID()))[0]
	if l.Event.Tick != 43 || l.Event.Seq != 2 { // 41 was seen, 42 opens the log
		t.Fatalf("tick %d, number %d", l.Event.Tick, l.Event.Seq)
	}
	merge(t, s, []*timeline.Line{c.add(opened(newID()))})
	if l := appendAll(t, s, opened(newID()))[0]; l.Event.Tick != 44 || l.Event.Seq != 3 {
		t.Fatalf("tick %d, number %d", l.Event.Tick, l.Event.Seq)
	}
}

// copyFolder copies the folder of a store that is closed.
func copyFolder(t *testing.T, from string) string {
	t.Helper()
	to := filepath.Join(t.TempDir(), "copy")
	if err := os.CopyFS(to, os.DirFS(from)); err != nil {
		t.Fatal(err)
	}
	return to
}

func TestCopyOpensANewLog(t *testing.T) {
	dir := t.TempDir()
	s := must.Get[*Store](t)(Open(t.Context(), options(dir)))
	head := appendAll(t, s, opened(newID()), opened(newID()))[1]
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	o := options(copyFolder(t, dir))
	o.Installation = "another"
	c := open(t, o)
	if c.Head() != 3 {
		t.Fatal("opening a copy wrote something")
	}
	l := appendAll(t, c, opened(newID()))[0]
	first := all(t, c)[3]
	p, ok := first.Payload.(*timeline.LogOpened)
	if !ok || p.Cause != term.LogCauseCopied || p.Cites != head.Event.Log || p.At != head.Event.Seq || p.Head != head.H {
		t.Fatalf("%+v, want it to cite %s %d", first.Payload, head.Event.Log, head.Event.Seq)
	}
	if l.Event.Log == head.Event.Log || l.Event.Seq != 2 {
		t.Fatalf("the copy goes on in log %s at %d", l.Event.Log, l.Event.Seq)
	}
	// The next one goes on in the copy's log.
	if l2 := appendAll(t, c, opened(newID()))[0]; l2.Event.Log != l.Event.Log || l2.Event.Seq != 3 {
		t.Fatalf("%+v", l2.Event)
	}
	clean(t, c)

	// The two do not fork, whichever way they meet.
	s = open(t, options(dir))
	appendAll(t, s, opened(newID()))
	if m := merge(t, s, all(t, c)); m.New != 3 || m.Forks != 0 {
		t.Fatalf("%+v", m)
	}
	clean(t, s)
}

// An older state of a folder under the same installation: put back from a
// copy of the device. The device meets lines of its own log that it does not
// know.
func TestOlderStateOfItselfOpensANewLog(t *testing.T) {
	dir := t.TempDir()
	s := must.Get[*Store](t)(Open(t.Context(), options(dir)))
	appendAll(t, s, opened(newID()))
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	old := options(copyFolder(t, dir))
	s = open(t, options(dir))
	head := appendAll(t, s, opened(newID()))[0]

	back := must.Get[*Store](t)(Open(t.Context(), old))
	if m := merge(t, back, all(t, s)); m.New != 1 || m.Forks != 0 {
		t.Fatalf("%+v", m)
	}
	// It is remembered when the folder is opened again.
	if err := back.Close(); err != nil {
		t.Fatal(err)
	}
	back = open(t, old)
	l := appendAll(t, back, opened(newID()))[0]
	if l.Event.Log == head.Event.Log {
		t.Fatal("it went on in the log that the newer state has written")
	}
	p, ok := all(t, back)[3].Payload.(*timeline.LogOpened)
	if !ok || p.Cause != term.LogCauseRestored || p.Head != head.H {
		t.Fatalf("%+v", p)
	}
	clean(t, back)
	if m := merge(t, s, all(t, back)); m.Forks != 0 {
		t.Fatalf("%+v", m)
	}
	clean(t, s)
}

func TestReplayOfAnExportIsTheSame(t *testing.T) {
	s := fresh(t)
	caseID := newID()
	ls := appendAll(t, s, opened(caseID), note(caseID, "a"), note(caseID, "b"))
	appendAll(t, s, strike(caseID, ls[1]))
	to := fresh(t)
	merge(t, to, parsed(t, all(t, s), true))
	if dump(t, to) != dump(t, s) {
		t.Fatal("the replayed folder exports something else")
	}
}

func TestLocalIsNoEvent(t *testing.T) {
	dir := t.TempDir()
	s := must.Get[*Store](t)(Open(t.Context(), options(dir)))
	if v := must.Get[string](t)(s.Local(t.Context(), "hand")); v != "" {
		t.Fatalf("never set, and %q", v)
	}
	for _, v := range []string{"left", "right", "right", ""} {
		if err := s.SetLocal(t.Context(), "hand", v); err != nil {
			t.Fatal(err)
		}
		if got := must.Get[string](t)(s.Local(t.Context(), "hand")); got != v {
			t.Fatalf("%q, want %q", got, v)
		}
	}
	if err := s.SetLocal(t.Context(), "theme", "dark"); err != nil {
		t.Fatal(err)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	s = open(t, options(dir))
	if got := must.Get[string](t)(s.Local(t.Context(), "theme")); got != "dark" || s.Head() != 0 {
		t.Fatalf("%q after reopening, %d lines", got, s.Head())
	}
}
