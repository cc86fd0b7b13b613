package store

import (
	"context"
	"database/sql"
	"errors"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"

	"chinlift/core/must"
	"chinlift/core/term"
	"chinlift/core/timeline"
)

// noon is an invented moment from which the clock of a test counts.
var noon = timeline.MomentOf(time.Date(2026, 3, 2, 12, 0, 0, 0, time.UTC), "Etc/UTC")

// ticking is a clock that goes on by a second with each look.
func ticking() func() timeline.Entered {
	var n int64
	return func() timeline.Entered {
		n++
		return timeline.Entered{Wall: noon.Add(time.Duration(n) * time.Second), SinceBootMS: n * 1000, Boot: "boot"}
	}
}

func options(dir string) Options {
	return Options{Dir: dir, Installation: "installation", Entered: ticking(), ReserveBytes: 4096}
}

// tester is what a test, a benchmark and a rapid check have in common.
type tester interface {
	Helper()
	Fatal(args ...any)
	Fatalf(format string, args ...any)
}

func open(t testing.TB, o Options) *Store {
	t.Helper()
	s := must.Get[*Store](t)(Open(context.Background(), o))
	t.Cleanup(func() {
		if err := s.Close(); err != nil {
			t.Errorf("close: %v", err)
		}
	})
	return s
}

func fresh(t testing.TB) *Store {
	t.Helper()
	return open(t, options(t.TempDir()))
}

func newID() string { return uuid.Must(uuid.NewV7()).String() }

// author is an invented person.
const author = "01900000-0000-7000-8000-00000000000a"

func draft(scope timeline.Scope, about string, p timeline.Payload) timeline.Draft {
	return timeline.Draft{ID: newID(), Scope: scope, About: about, At: noon, Author: author, Payload: p,
		Entered: timeline.Entered{Wall: noon, SinceBootMS: 1, Boot: "boot"}}
}

// note is a draft with a private part.
func note(caseID, text string) timeline.Draft {
	d := draft(timeline.ScopeCase, caseID, &timeline.Note{})
	d.Private = timeline.Private{timeline.PrivateText: text}
	return d
}

// opened begins a case.
func opened(caseID string) timeline.Draft {
	return draft(timeline.ScopeCase, caseID, &timeline.CaseOpened{Patient: author})
}

// amend makes a draft a correction of the line.
func amend(d timeline.Draft, root *timeline.Line, reason term.Reason) timeline.Draft {
	d.Amends, d.Replaces, d.Reason = root.Event.ID, []string{root.Event.ID}, reason
	return d
}

func strike(caseID string, root *timeline.Line) timeline.Draft {
	return amend(draft(timeline.ScopeCase, caseID, &timeline.Struck{}), root, term.ReasonUndone)
}

func destroy(scope timeline.Scope, about string, ids ...string) timeline.Draft {
	return draft(scope, about, &timeline.IdentityDestroyed{Events: ids, Grounds: term.GroundsList.Codes()[0]})
}

func appendAll(t tester, s *Store, ds ...timeline.Draft) []*timeline.Line {
	t.Helper()
	return must.Get[[]*timeline.Line](t)(s.Append(context.Background(), ds...))
}

func all(t tester, s *Store) []*timeline.Line {
	t.Helper()
	var ls []*timeline.Line
	if err := s.All(context.Background(), func(l *timeline.Line) error { ls = append(ls, l); return nil }); err != nil {
		t.Fatal(err)
	}
	return ls
}

// dump is everything that a store holds, as it would stand in a file.
func dump(t tester, s *Store) string {
	t.Helper()
	var b strings.Builder
	for _, l := range all(t, s) {
		b.Write(l.Bytes(true))
		b.WriteByte('\n')
	}
	return b.String()
}

// parsed reads lines anew from their bytes, as from a file.
func parsed(t tester, ls []*timeline.Line, private bool) []*timeline.Line {
	t.Helper()
	var out []*timeline.Line
	for _, l := range ls {
		n, err := timeline.ParseLine(l.Bytes(private))
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, &n)
	}
	return out
}

func merge(t tester, s *Store, ls []*timeline.Line) Merged {
	t.Helper()
	return must.Get[Merged](t)(s.Merge(context.Background(), ls))
}

// clean fails unless Verify finds nothing.
func clean(t tester, s *Store) Report {
	t.Helper()
	r := must.Get[Report](t)(s.Verify(context.Background()))
	if len(r.Findings) > 0 {
		t.Fatalf("verify found %+v", r.Findings)
	}
	return r
}

// chain makes lines of a log of its own, as another device would.
type chain struct {
	t    tester
	log  string
	seq  int64
	tick int64
	head timeline.Hash
}

func newChain(t tester) *chain {
	return &chain{t: t, log: uuid.NewString(), head: timeline.NoHash}
}

func (c *chain) add(d timeline.Draft) *timeline.Line {
	c.t.Helper()
	l := must.Get[timeline.Line](c.t)(d.Seal(c.log, c.seq+1, c.tick+1, c.head))
	c.seq, c.tick, c.head = c.seq+1, c.tick+1, l.H
	return &l
}

// raw runs SQL on the database of a folder that nobody serves, without any of
// the guards.
func raw(t tester, dir string, statements ...string) {
	t.Helper()
	db, err := sql.Open("sqlite", "file:"+filepath.Join(dir, FileName)+"?_pragma=foreign_keys(0)")
	if err != nil {
		t.Fatal(err)
	}
	for _, q := range statements {
		if _, err := db.Exec(q); err != nil {
			t.Fatalf("%s: %v", q, err)
		}
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
}

// holding names the files under dir that hold the text. Another process looks:
// this one would drop SQLite's locks by closing the database's file.
func holding(t tester, dir, what string) string {
	t.Helper()
	out, err := exec.Command("grep", "-rlaF", "--", what, dir).Output()
	var exit *exec.ExitError
	if err != nil && (!errors.As(err, &exit) || exit.ExitCode() != 1) { // 1: found nowhere
		t.Fatalf("grep: %v", err)
	}
	return strings.TrimSpace(string(out))
}

func codeIs(err error, code string) bool {
	var e *Error
	return errors.As(err, &e) && e.Code == code
}

func codesOf(r Report) []string {
	var codes []string
	for _, f := range r.Findings {
		codes = append(codes, f.Code)
	}
	return codes
}
