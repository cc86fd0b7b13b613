//go:build slow

package plain

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"testing"
	"time"

	"chinlift/core"
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
	c := must[*core.Companion](tb)(core.Open(ctx, core.Options{Dir: dir, Installation: "here", Clock: &fakeClock{began, time.Hour}, Words: word.English()}))
	const log, author = "019c0000-0000-7002-8000-000000000001", "019c0000-0000-7004-8000-000000000001"
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
		l := must[timeline.Line](tb)(d.Seal(log, seq, seq, prev))
		prev, lines = l.H, append(lines, &l)
		return d.ID
	}
	for n := range cases {
		patient, about := id(), id()
		put(timeline.Draft{Scope: timeline.ScopeClinic, About: patient, Payload: &timeline.Person{Roles: []term.Role{term.RolePatient}},
			Private: timeline.Private{timeline.PrivateName: fmt.Sprintf("Invented Person %d", n)}})
		put(timeline.Draft{Scope: timeline.ScopeCase, About: about, Payload: &timeline.CaseOpened{Patient: patient}})
		vitals := ""
		for i := range 97 {
			d := timeline.Draft{Scope: timeline.ScopeCase, About: about}
			switch i % 8 {
			case 0:
				d.Payload = &timeline.Drug{Drug: "ketamine", Dose: quantity.MustParse("25 mg"), Route: term.RouteIv}
			case 1:
				d.Payload, d.Private = &timeline.Note{}, timeline.Private{timeline.PrivateText: "an invented note, \"quoted\""}
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

// peak is a writer that looks now and then how much memory is in use.
type peak struct {
	io.Writer
	n    int
	most uint64
}

func (p *peak) Write(b []byte) (int, error) {
	if p.n++; p.n%500 == 0 { // buffers of 4 KiB
		var m runtime.MemStats
		runtime.ReadMemStats(&m)
		p.most = max(p.most, m.HeapInuse+m.StackInuse)
	}
	return p.Writer.Write(b)
}

// sameRows asks the sqlite3 program for the rows of events.csv, as far as it
// can tell them: how an entry stands is a fold, which SQL does not know.
const sameRows = `
SELECT e->>'id' AS id, log, seq, tick, lower(hex(h)) AS hash, scope, about, kind,
  substr(e->>'at', 1, instr((e->>'at') || '[', '[') - 1) AS at,
  substr(e->>'$.entered.wall', 1, instr((e->>'$.entered.wall') || '[', '[') - 1) AS entered,
  coalesce(e->>'$.entered.since_boot_ms', 0) AS since_boot_ms, e->>'$.entered.boot' AS boot, e->>'author' AS author,
  amends, (SELECT group_concat(value, ' ') FROM json_each(e, '$.replaces')) AS replaces, e->>'reason' AS reason,
  '' AS standing, '' AS superseded_by, e->'data' AS data, p->>'name' AS name, p->>'number' AS number, p->>'text' AS text
FROM line LEFT JOIN private USING (row)
ORDER BY about, line.tick;
`

// BenchmarkEventsCSV writes events.csv of so many events, folded, and has the
// sqlite3 program write the same rows, unfolded, from the same database.
func BenchmarkEventsCSV(b *testing.B) {
	ctx := context.Background()
	for _, cases := range []int{1_000, 10_000} {
		b.Run(fmt.Sprint(cases*100), func(b *testing.B) {
			dir := b.TempDir()
			c := manyEvents(b, dir, cases)
			defer c.Close()
			var ours, theirs time.Duration
			var most uint64
			for b.Loop() {
				from := b.Elapsed()
				f := must[*os.File](b)(os.Create(filepath.Join(dir, "events.csv")))
				w := &peak{Writer: f}
				if err := errors.Join(Write(ctx, w, c, "events.csv", Options{Private: true}), f.Close()); err != nil {
					b.Fatal(err)
				}
				most = max(most, w.most)
				ours += b.Elapsed() - from

				from = b.Elapsed()
				out := must[*os.File](b)(os.Create(filepath.Join(dir, "sqlite.csv")))
				cmd := exec.Command("sqlite3", "-readonly", "-csv", "-header", filepath.Join(dir, "chinlift.db"))
				cmd.Stdin, cmd.Stdout = bytes.NewReader([]byte(sameRows)), out
				var said bytes.Buffer
				cmd.Stderr = &said
				if err := errors.Join(cmd.Run(), out.Close()); err != nil || said.Len() > 0 {
					b.Fatal(err, said.String())
				}
				theirs += b.Elapsed() - from
			}
			b.ReportMetric(0, "ns/op")
			b.ReportMetric(ours.Seconds()/float64(b.N), "s")
			b.ReportMetric(theirs.Seconds()/float64(b.N), "sqlite3-s")
			b.ReportMetric(theirs.Seconds()/ours.Seconds(), "speed-ratio")
			b.ReportMetric(float64(most)/(1<<20), "peak-MiB")
		})
	}
}
