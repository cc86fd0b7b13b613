package plain

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os/exec"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"chinlift/core"
	"chinlift/core/must"
	"chinlift/core/quantity"
	"chinlift/core/term"
	"chinlift/core/timeline"
	"chinlift/core/word"
)

// manyEvents makes a folder with cases of 100 events each, invented: a
// patient, vital signs, doses, and now and then a correction or a note.
func manyEvents(tb testing.TB, dir string, cases int) *core.Companion {
	tb.Helper()
	ctx := context.Background()
	began := time.Date(2026, 3, 2, 8, 0, 0, 0, time.FixedZone("", 3*3600))
	c := must.Get[*core.Companion](tb)(core.Open(ctx, core.Options{Dir: dir, Installation: "here", Clock: &fakeClock{began, time.Hour}, Words: word.English()}))
	const log, author = "019c0000-0000-7002-8000-000000000001", "019c0000-0000-7004-8000-000000000001"
	texts := []string{"an invented note, \"quoted\"", "plain", "two\r\nlines", "Élodie's", " ", "it's", "100%", "名", "a-b=c", "\u007f", "[1]", "tab\there", "{", "~"}
	prev, seq, number := timeline.NoHash, int64(0), 0
	id := func() string {
		number++
		return fmt.Sprintf("019c%04x-%04x-7001-8000-%012x", number>>16&0xffff, number&0xffff, number)
	}
	var lines []*timeline.Line
	put := func(d timeline.Draft) string {
		seq++
		at := timeline.MomentOf(began.Add(time.Duration(seq)*time.Minute), "Etc/GMT-3")
		d.ID, d.Author, d.At = id(), author, at
		d.Entered = timeline.Entered{Wall: at, SinceBootMS: seq * 60_000, Boot: "boot"}
		l := must.Get[timeline.Line](tb)(d.Seal(log, seq, seq, prev))
		prev, lines = l.H, append(lines, &l)
		return d.ID
	}
	for n := range cases {
		patient, about := id(), id()
		put(timeline.Draft{Scope: timeline.ScopeClinic, About: patient, Payload: &timeline.Person{Roles: []term.Role{term.RolePatient}},
			Private: timeline.Private{timeline.PrivateName: fmt.Sprintf("Invented Person %d", n)}})
		put(timeline.Draft{Scope: timeline.ScopeCase, About: about, Payload: &timeline.CaseOpened{Patient: patient}})
		vitals := ""
		for i := range 96 {
			d := timeline.Draft{Scope: timeline.ScopeCase, About: about}
			switch i % 8 {
			case 0:
				d.Payload = &timeline.Drug{Drug: "ketamine", Dose: quantity.MustParse("25 mg"), Route: term.RouteIv}
			case 1:
				d.Payload, d.Private = &timeline.Note{}, timeline.Private{timeline.PrivateText: texts[(n+i)%len(texts)]}
			case 2:
				d.Payload = &timeline.Vitals{Measures: timeline.Measures{Pulse: quantity.MustParse("84 /min")}}
				if vitals != "" {
					d.Amends, d.Replaces, d.Reason = vitals, []string{vitals}, term.ReasonMistyped
				}
			default:
				d.Payload = &timeline.Vitals{Measures: timeline.Measures{Systolic: quantity.MustParse("110 mm[Hg]"),
					Diastolic: quantity.MustParse("70 mm[Hg]"), Pulse: quantity.MustParse("88 /min"), SpO2: quantity.MustParse("97 %")}}
			}
			v := put(d)
			if i == 40 {
				put(timeline.Draft{Scope: timeline.ScopeCase, About: about, Payload: &timeline.Struck{}, Amends: v, Replaces: []string{v}, Reason: term.ReasonMistyped})
			}
			if i%8 == 7 {
				vitals = v
			}
		}
		put(timeline.Draft{Scope: timeline.ScopeCase, About: about, Payload: &timeline.CaseClosed{}})
		if len(lines) >= 20_000 || n == cases-1 {
			if m, err := c.Merge(ctx, lines); err != nil || len(m.Refused) > 0 {
				tb.Fatal(err, m.Refused)
			}
			lines = lines[:0]
		}
	}
	return c
}

// sameRows asks the sqlite3 program for the rows of events.csv, as somebody
// would who has the database and no Chinlift. How an entry stands is a fold,
// which SQL does not know; the two columns are those that are given.
func sameRows(standing, by string) string {
	return `.bail on
.mode csv
.headers on
SELECT l.id, l.log, l.seq, l.tick, lower(hex(l.h)) AS hash, l.scope, l.about, l.kind,
  substr(e->>'at', 1, instr((e->>'at') || '[', '[') - 1) AS at,
  substr(e->>'$.entered.wall', 1, instr((e->>'$.entered.wall') || '[', '[') - 1) AS entered,
  e->>'$.entered.since_boot_ms' AS since_boot_ms, e->>'$.entered.boot' AS boot, e->>'author' AS author,
  l.amends, (SELECT group_concat(value, ' ') FROM json_each(e, '$.replaces')) AS replaces, e->>'reason' AS reason,
  ` + standing + ` AS standing, ` + by + ` AS superseded_by, e->'data' AS data, p->>'name' AS name, p->>'number' AS number, p->>'text' AS text
FROM line l LEFT JOIN private ON private.row = l.row AND p >= x'01'
ORDER BY l.scope <> 'case', l.about, l.tick, l.log, l.seq;
`
}

// What replaced a line, where nothing was moved, nothing is in conflict and
// nothing is missing: the first correction that names it; of a root, the first
// at all.
const (
	sqlBy = `(SELECT n.id FROM line n WHERE n.amends = coalesce(l.amends, l.id) AND n.tick > l.tick
    AND (l.amends IS NULL OR l.id IN (SELECT value FROM json_each(n.e, '$.replaces'))) ORDER BY n.tick LIMIT 1)`
	sqlStanding = `CASE WHEN ` + sqlBy + ` IS NOT NULL THEN 'superseded' WHEN l.kind = 'struck/1' THEN 'struck' ELSE 'current' END`
)

// asSQLite has the sqlite3 program write the rows of a data folder.
func asSQLite(t testing.TB, dir, rows string) []byte {
	t.Helper()
	cmd := exec.Command("sqlite3", "-readonly", "-batch", filepath.Join(dir, "chinlift.db"))
	cmd.Stdin = bytes.NewReader([]byte(rows))
	var out, said bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &said
	if err := cmd.Run(); err != nil || said.Len() > 0 {
		t.Fatalf("sqlite3 (make quick and make deps bring it): %v: %s", err, said.String())
	}
	return out.Bytes()
}

// TestSameBytesAsSQLite: where SQL can tell the same rows, events.csv is what
// the sqlite3 program writes, byte for byte.
func TestSameBytesAsSQLite(t *testing.T) {
	dir := t.TempDir()
	c := manyEvents(t, dir, 30)
	var ours bytes.Buffer
	if err := Write(t.Context(), &ours, c, "events.csv", Options{Private: true}); err != nil {
		t.Fatal(err)
	}
	if err := c.Close(); err != nil {
		t.Fatal(err)
	}
	theirs := asSQLite(t, dir, sameRows(sqlStanding, sqlBy))
	for _, want := range []string{",superseded,", ",struck,", ",current,", "\r\n", `""quoted""`, "名"} {
		if !bytes.Contains(theirs, []byte(want)) {
			t.Errorf("no row has %q", want)
		}
	}
	if n := bytes.Count(theirs, []byte("Invented Person")); n != 30 {
		t.Errorf("%d names", n)
	}
	if bytes.Equal(ours.Bytes(), theirs) {
		return
	}
	mine, others := bytes.SplitAfter(ours.Bytes(), []byte("\r\n")), bytes.SplitAfter(theirs, []byte("\r\n"))
	for i := range min(len(mine), len(others)) {
		if !bytes.Equal(mine[i], others[i]) {
			t.Fatalf("row %d of %d and %d:\n%s\nand by sqlite3\n%s", i, len(mine), len(others), mine[i], others[i])
		}
	}
	t.Fatalf("%d rows, and %d by sqlite3", len(mine), len(others))
}

// TestEventsAreThoseOfTheStories: the walk that reads envelopes alone writes
// what the folded stories say, moves, conflicts and forks among them.
func TestEventsAreThoseOfTheStories(t *testing.T) {
	dir := t.TempDir()
	c := manyEvents(t, dir, 20)
	if r := must.Get[Replayed](t)(Replay(t.Context(), bytes.NewReader(story(t)), c)); len(r.Unread)+len(r.Refused) > 0 {
		t.Fatalf("replay: %+v", r)
	}
	defer c.Close()
	for _, private := range []bool{true, false} {
		want := appendRow(nil, eventHeader)
		standings := map[string]int{}
		for _, elsewhere := range []bool{false, true} {
			var ids []string
			for id, err := range c.Cases(t.Context()) {
				if err != nil {
					t.Fatal(err)
				}
				ids = append(ids, id)
			}
			if elsewhere {
				ids = must.Get[[]string](t)(c.Elsewhere(t.Context()))
			}
			if !slices.IsSorted(ids) || len(ids) < 20 {
				t.Fatalf("%d things, sorted: %t", len(ids), slices.IsSorted(ids))
			}
			for _, id := range ids {
				s, _, err := c.Story(t.Context(), id)
				if err != nil {
					t.Fatal(err)
				}
				for row := range linesOfStory(id, s, elsewhere, private) {
					standings[row[16]]++
					want = appendCells(want, row)
				}
			}
		}
		for _, st := range []string{standingCurrent, standingSuperseded, standingStruck, standingDisputed, standingWaiting, standingAside} {
			if standings[st] == 0 {
				t.Errorf("no line is %s", st)
			}
		}
		var got bytes.Buffer
		if err := Write(t.Context(), &got, c, "events.csv", Options{Private: private}); err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(got.Bytes(), want) {
			t.Errorf("with the private part %t: %d bytes, by the stories %d", private, got.Len(), len(want))
		}
	}
}

// TestEventsEndWithTheirWriter: an error of the writer, and a context that
// ends, stop the walk.
func TestEventsEndWithTheirWriter(t *testing.T) {
	c := manyEvents(t, t.TempDir(), 40)
	defer c.Close()
	full := errors.New("full")
	if err := Write(t.Context(), failing{full}, c, "events.csv", Options{}); !errors.Is(err, full) {
		t.Errorf("a full disk is answered by %v", err)
	}
	ctx, stop := context.WithCancel(t.Context())
	stop()
	if err := Write(ctx, io.Discard, c, "events.csv", Options{}); !errors.Is(err, context.Canceled) {
		t.Errorf("a stop is answered by %v", err)
	}
}

// failing is a writer on which nothing can be written.
type failing struct{ err error }

func (f failing) Write([]byte) (int, error) { return 0, f.err }
