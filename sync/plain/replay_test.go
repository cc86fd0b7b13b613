package plain

import (
	"bytes"
	"os"
	"path/filepath"
	"testing"
	"time"

	"chinlift/core/must"
	"chinlift/core/quantity"
	"chinlift/core/term"
	"chinlift/core/timeline"
)

// However many lines of a file are bad, a bounded number is kept; all are
// counted.
func TestReplayNamesTheFirstFaults(t *testing.T) {
	good := must.Get[[]byte](t)(os.ReadFile(filepath.Join("testdata", "story.jsonl")))
	first, _, _ := bytes.Cut(good, []byte("\n"))
	damaged := append(bytes.Replace(first, []byte(`"tick":1`), []byte(`"tick":2`), 1), '\n')
	if bytes.Equal(bytes.TrimSpace(damaged), first) {
		t.Fatal("nothing was damaged: the test shows nothing")
	}
	const n = 3 * namedFaults
	file := bytes.Join([][]byte{bytes.Repeat(damaged, n), bytes.Repeat([]byte("{}\n"), n), good}, nil)
	c, _ := companion(t)
	r := must.Get[Replayed](t)(Replay(t.Context(), bytes.NewReader(file), c))
	if r.Faults != 2*n || len(r.Refused) != namedFaults || len(r.Unread) != namedFaults {
		t.Errorf("%d faults, %d refused, %d unread", r.Faults, len(r.Refused), len(r.Unread))
	}
	if r.New != bytes.Count(good, []byte("\n")) {
		t.Errorf("%d lines taken in", r.New)
	}
	for _, f := range r.Refused {
		if f.Line.Event.ID == "" || f.Line.E != nil {
			t.Fatalf("kept of a refused line: %+v", f.Line)
		}
	}
}

// A version is superseded by the line that names it; the root, where none
// names it, by the first correction.
func TestSupersededByTheLineThatNamesIt(t *testing.T) {
	at := timeline.MomentOf(time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC), "")
	const (
		person = "019c0000-0000-7004-8000-000000000001"
		about  = "019c0000-0000-7003-8000-000000000001"
		log    = "019c0000-0000-7002-8000-000000000001"
		root   = "019c0000-0000-7001-8000-000000000001"
		second = "019c0000-0000-7001-8000-000000000002"
		third  = "019c0000-0000-7001-8000-000000000003"
		absent = "019c0000-0000-7001-8000-00000000000f" // has not arrived
	)
	for name, tt := range map[string]struct {
		second, third string // what they replace
		by            [3]string
		states        [3]string
	}{
		"in a row":           {root, second, [3]string{second, third, ""}, [3]string{standingSuperseded, standingSuperseded, standingCurrent}},
		"side by side":       {root, root, [3]string{second, "", ""}, [3]string{standingSuperseded, standingDisputed, standingCurrent}},
		"the third names it": {absent, root, [3]string{third, "", ""}, [3]string{standingSuperseded, standingDisputed, standingCurrent}},
		"none names it":      {absent, second, [3]string{second, third, ""}, [3]string{standingSuperseded, standingSuperseded, standingCurrent}},
	} {
		t.Run(name, func(t *testing.T) {
			var lines []*timeline.Line
			prev := timeline.NoHash
			for i, id := range []string{root, second, third} {
				d := timeline.Draft{ID: id, Scope: timeline.ScopeCase, About: about, At: at, Author: person, Entered: timeline.Entered{Wall: at},
					Payload: &timeline.Vitals{Measures: timeline.Measures{Pulse: quantity.MustParse("80 /min")}}}
				if i > 0 {
					d.Amends, d.Replaces, d.Reason = root, []string{[]string{tt.second, tt.third}[i-1]}, term.ReasonMistyped
				}
				l := must.Get[timeline.Line](t)(d.Seal(log, int64(i+1), int64(i+1), prev))
				prev, lines = l.H, append(lines, &l)
			}
			e := timeline.Fold(lines).Find(root)
			for i := range e.Versions {
				if state, by := standing(e, i, about); state != tt.states[i] || by != tt.by[i] {
					t.Errorf("version %d: %s by %q, want %s by %q", i+1, state, by, tt.states[i], tt.by[i])
				}
			}
		})
	}
}
