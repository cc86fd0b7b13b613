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
	"runtime/debug"
	"strings"
	"syscall"
	"testing"
	"time"
)

// peak is a writer that looks now and then how much memory is in use: of Go,
// and of the whole process, SQLite's included, but for what lies in files.

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
	n               int
	heap, anonymous uint64 // bytes
}

func (p *peak) Write(b []byte) (int, error) {
	if p.n += len(b); p.n > 1<<20 {
		p.n = 0
		var m runtime.MemStats
		runtime.ReadMemStats(&m)
		p.heap = max(p.heap, m.HeapInuse+m.StackInuse)
		p.anonymous = max(p.anonymous, anonymous())
	}
	return p.Writer.Write(b)
}

// anonymous is the memory of this process that is no file's, as Linux tells it.
func anonymous() uint64 {
	status, err := os.ReadFile("/proc/self/status")
	if err != nil {
		return 0
	}
	_, rest, _ := strings.Cut(string(status), "RssAnon:")
	var kib uint64
	if _, err := fmt.Sscan(rest, &kib); err != nil {
		return 0
	}
	return kib << 10
}

// BenchmarkEventsCSV writes events.csv of so many events, folded, and has the
// sqlite3 program write the same rows from the same database with the two
// columns that are a fold left empty, which makes it quicker. Each reads what
// the other has just read. ours-cpu-s and sqlite3-cpu-s tell what is left of a
// ratio when the machine has other things to do.
func BenchmarkEventsCSV(b *testing.B) {
	ctx := context.Background()
	for _, cases := range []int{1_000, 10_000} {
		b.Run(fmt.Sprint(cases*100), func(b *testing.B) {
			dir := b.TempDir()
			c := manyEvents(b, dir, cases)
			defer c.Close()
			query := []byte(sameRows("NULL", "NULL"))
			var ours, theirs, ourCPU, theirCPU time.Duration
			var heap, anonymous uint64
			for b.Loop() {
				debug.FreeOSMemory() // what making the events left
				from, cpu := b.Elapsed(), processorTime(b)
				f := must[*os.File](b)(os.Create(filepath.Join(dir, "events.csv")))
				from := b.Elapsed()
				f := must.Get[*os.File](b)(os.Create(filepath.Join(dir, "events.csv")))
				w := &peak{Writer: f}
				if err := errors.Join(Write(ctx, w, c, "events.csv", Options{Private: true}), f.Close()); err != nil {
					b.Fatal(err)
				}
				heap, anonymous = max(heap, w.heap), max(anonymous, w.anonymous)
				ours += b.Elapsed() - from
				ourCPU += processorTime(b) - cpu

				from = b.Elapsed()
				out := must[*os.File](b)(os.Create(filepath.Join(dir, "sqlite.csv")))
				cmd := exec.Command("sqlite3", "-readonly", "-batch", filepath.Join(dir, "chinlift.db"))
				cmd.Stdin, cmd.Stdout = bytes.NewReader(query), out
				out := must.Get[*os.File](b)(os.Create(filepath.Join(dir, "sqlite.csv")))
				cmd := exec.Command("sqlite3", "-readonly", "-csv", "-header", filepath.Join(dir, "chinlift.db"))
				cmd.Stdin, cmd.Stdout = bytes.NewReader([]byte(sameRows)), out
				var said bytes.Buffer
				cmd.Stderr = &said
				if err := errors.Join(cmd.Run(), out.Close()); err != nil || said.Len() > 0 {
					b.Fatal(err, said.String())
				}
				theirs += b.Elapsed() - from
				theirCPU += cmd.ProcessState.UserTime() + cmd.ProcessState.SystemTime()
			}
			b.ReportMetric(0, "ns/op")
			b.ReportMetric(ours.Seconds()/float64(b.N), "s")
			b.ReportMetric(theirs.Seconds()/float64(b.N), "sqlite3-s")
			b.ReportMetric(theirs.Seconds()/ours.Seconds(), "speed-ratio")
			b.ReportMetric(ourCPU.Seconds()/float64(b.N), "cpu-s")
			b.ReportMetric(theirCPU.Seconds()/float64(b.N), "sqlite3-cpu-s")
			b.ReportMetric(float64(heap)/(1<<20), "peak-heap-MiB")
			b.ReportMetric(float64(anonymous)/(1<<20), "peak-memory-MiB")
		})
	}
}

// processorTime is what this process has used.
func processorTime(tb testing.TB) time.Duration {
	tb.Helper()
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		tb.Fatal(err)
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}
