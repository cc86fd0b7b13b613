package store

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"chinlift/core/must"
	"chinlift/core/term"
	"chinlift/core/timeline"
)

// memory is a Witness that outlives the stores of a test.
type memory struct {
	head, durable Head
	durably       int // saves
	fails         bool
}

func (m *memory) Load() (Head, error) {
	if m.fails {
		return Head{}, errors.New("the witness cannot be read")
	}
	return m.head, nil
}

func (m *memory) Save(h Head, durable bool) error {
	if m.fails {
		return errors.New("the witness cannot be written")
	}
	m.head = h
	if durable {
		m.durable = h
		m.durably++
	}
	return nil
}

// snapshot is the database of a folder that nobody serves.
func snapshot(t tester, dir string) []byte {
	t.Helper()
	return must.Get[[]byte](t)(os.ReadFile(filepath.Join(dir, FileName)))
}

// putBack writes a database over another, as cp does: into the same file.
func putBack(t tester, dir string, db []byte) {
	t.Helper()
	if err := os.WriteFile(filepath.Join(dir, FileName), db, 0o600); err != nil {
		t.Fatal(err)
	}
}

func shut(t tester, s *Store) {
	t.Helper()
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
}

// headOf is a line as a witness knows it.
func headOf(l *timeline.Line) Head { return Head{l.Event.Log, l.Event.Seq, l.H} }

func TestWitnessIsToldOfEachCommit(t *testing.T) {
	m := &memory{}
	o := options(t.TempDir())
	o.Witness = m
	s := must.Get[*Store](t)(Open(t.Context(), o))
	if m.head != (Head{}) || s.Opens() != term.LogCauseNew {
		t.Errorf("nothing was written; head %+v, a log to be opened: %q", m.head, s.Opens())
	}
	var last Head
	for range 3 {
		last = headOf(appendAll(t, s, opened(newID()), opened(newID()))[1])
		if m.head != last || m.durably != 0 {
			t.Errorf("head %+v after %+v, %d times durably", m.head, last, m.durably)
		}
	}
	merge(t, s, []*timeline.Line{newChain(t).add(opened(newID()))})
	if m.head != last {
		t.Errorf("the line of another log became the head: %+v", m.head)
	}
	for _, c := range []struct {
		name  string
		leave func() error
	}{
		{"checkpoint", func() error { return s.Checkpoint(t.Context()) }},
		{"suspend", func() error { return s.Suspend(t.Context()) }},
		{"close", s.Close},
	} {
		if err := s.Resume(t.Context()); err != nil {
			t.Fatal(err)
		}
		last = headOf(appendAll(t, s, opened(newID()))[0])
		if err := c.leave(); err != nil || m.durable != last {
			t.Errorf("%s: %v, head %+v, want %+v", c.name, err, m.durable, last)
		}
	}
}

// A backup that was put back over the folder, under the same installation.
func TestRestoredBackupOpensANewLog(t *testing.T) {
	for _, way := range []string{"at once", "after a start without an entry", "after a merge and a start"} {
		t.Run(way, func(t *testing.T) {
			m, dir := &memory{}, t.TempDir()
			o := options(dir)
			o.Witness = m
			s := must.Get[*Store](t)(Open(t.Context(), o))
			head := appendAll(t, s, opened(newID()))[0]
			shut(t, s)
			backup := snapshot(t, dir)
			s = must.Get[*Store](t)(Open(t.Context(), o))
			lost := appendAll(t, s, opened(newID()))[0]
			newer := all(t, s)
			shut(t, s)

			putBack(t, dir, backup)
			s = must.Get[*Store](t)(Open(t.Context(), o))
			if s.Opens() != term.LogCauseRestored || s.Head() != 2 {
				t.Fatalf("a log to be opened: %q, %d lines", s.Opens(), s.Head())
			}
			if m.head != headOf(lost) {
				t.Errorf("the witness forgot what it saw: %+v", m.head)
			}
			switch way {
			case "after a start without an entry":
				shut(t, s)
				s = must.Get[*Store](t)(Open(t.Context(), o))
			case "after a merge and a start":
				// The very line that the witness saw is here now.
				merge(t, s, newer)
				shut(t, s)
				s = must.Get[*Store](t)(Open(t.Context(), o))
				head = lost
			}
			l := appendAll(t, s, opened(newID()))[0]
			i := slices.IndexFunc(all(t, s), func(a *timeline.Line) bool { return a.Event.Log == l.Event.Log })
			p, ok := all(t, s)[i].Payload.(*timeline.LogOpened)
			if !ok || p.Cause != term.LogCauseRestored || p.Head != head.H {
				t.Errorf("the new log begins with %+v, want it to cite %s", p, head.H)
			}
			if m.head != headOf(l) || s.Opens() != "" {
				t.Errorf("the witness holds %+v, want %+v; a log to be opened: %q", m.head, headOf(l), s.Opens())
			}
			if got := merge(t, s, newer); got.Forks != 0 {
				t.Errorf("the export that is newer than the backup: %+v", got)
			}
			clean(t, s)
			shut(t, s)
			// It goes on from there.
			s = open(t, o)
			if next := appendAll(t, s, opened(newID()))[0]; next.Event.Log != l.Event.Log {
				t.Error("yet another log was opened")
			}
			clean(t, s)
		})
	}
}

func TestWitnessThatKnowsLess(t *testing.T) {
	for name, c := range map[string]struct {
		spoil func(m *memory, first, last Head)
		opens term.LogCause
	}{
		"nothing":                      {func(m *memory, _, _ Head) { m.head = Head{} }, ""},
		"an older head":                {func(m *memory, first, _ Head) { m.head = first }, ""},
		"the head":                     {func(*memory, Head, Head) {}, ""},
		"a later number":               {func(m *memory, _, last Head) { m.head.Seq = last.Seq + 1 }, term.LogCauseRestored},
		"another line of that number":  {func(m *memory, first, _ Head) { m.head.Hash = first.Hash }, term.LogCauseRestored},
		"a line of a log not here":     {func(m *memory, _, _ Head) { m.head.Log = newID() }, term.LogCauseRestored},
		"a hash that is none":          {func(m *memory, _, _ Head) { m.head.Hash = "half a li" }, term.LogCauseRestored},
		"what cannot be read or saved": {func(m *memory, _, _ Head) { m.fails = true }, term.LogCauseRestored},
	} {
		m := &memory{}
		o := options(t.TempDir())
		o.Witness = m
		s := must.Get[*Store](t)(Open(t.Context(), o))
		ls := appendAll(t, s, opened(newID()), opened(newID()))
		shut(t, s)
		c.spoil(m, headOf(ls[0]), headOf(ls[1]))
		s = open(t, o)
		if s.Opens() != c.opens {
			t.Errorf("%s: a log to be opened: %q, want %q", name, s.Opens(), c.opens)
		}
		if l := appendAll(t, s, opened(newID()))[0]; (l.Event.Log != ls[0].Event.Log) != (c.opens != "") {
			t.Errorf("%s: log %s after %s", name, l.Event.Log, ls[0].Event.Log)
		}
		clean(t, s)
	}
}

// However backups are made and put back, a device with a witness never writes
// a number twice.
func TestBackupsNeverFork(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		m := &memory{}
		o := options(t.TempDir())
		o.Dir = filepath.Join(o.Dir, fmt.Sprint(newID()))
		o.Witness = m
		s := must.Get[*Store](rt)(Open(context.Background(), o))
		ever := map[timeline.Hash]*timeline.Line{}
		var backups [][]byte
		seen := func() []*timeline.Line {
			for _, l := range all(rt, s) {
				ever[l.H] = l
			}
			var ls []*timeline.Line
			for _, l := range ever {
				ls = append(ls, l)
			}
			return ls
		}
		reopen := func(between func()) {
			seen()
			shut(rt, s)
			between()
			s = must.Get[*Store](rt)(Open(context.Background(), o))
		}
		rt.Repeat(map[string]func(*rapid.T){
			"append": func(rt *rapid.T) { appendAll(rt, s, opened(newID())) },
			"start":  func(rt *rapid.T) { reopen(func() {}) },
			"backup": func(rt *rapid.T) { reopen(func() { backups = append(backups, snapshot(rt, o.Dir)) }) },
			"put back": func(rt *rapid.T) {
				if len(backups) > 0 {
					reopen(func() { putBack(rt, o.Dir, bytes.Clone(rapid.SampledFrom(backups).Draw(rt, "backup"))) })
				}
			},
			"merge": func(rt *rapid.T) {
				ls := seen()
				timeline.SortLines(ls)
				if len(ls) > 0 {
					ls = ls[:rapid.IntRange(1, len(ls)).Draw(rt, "lines")]
				}
				if got := merge(rt, s, ls); got.Forks != 0 {
					rt.Fatalf("%+v", got)
				}
			},
		})
		if r := VerifyLines(seen()); len(r.Findings) > 0 {
			rt.Fatalf("%+v", r.Findings)
		}
		shut(rt, s)
	})
}
