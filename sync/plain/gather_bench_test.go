//go:build slow

package plain

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"runtime/debug"
	"testing"
	"time"

	"chinlift/core"
	"chinlift/core/must"
	"chinlift/core/quantity"
	"chinlift/core/timeline"
	"chinlift/core/word"
)

const (
	casesOfADevice = 100
	eventsOfACase  = 20 // with the person
)

// carried writes what so many devices carried to a folder, one segment each:
// 100 invented cases of 20 events.
func carried(b *testing.B, dir string, devices int) {
	b.Helper()
	began := time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC)
	for d := range devices {
		log := fmt.Sprintf("019c0000-0000-7002-8000-%012x", d)
		folder := filepath.Join(dir, "segments", "log="+log)
		if err := os.MkdirAll(folder, 0o700); err != nil {
			b.Fatal(err)
		}
		f := must.Get[*os.File](b)(os.Create(filepath.Join(folder, "segment.jsonl")))
		w := bufio.NewWriterSize(f, 1<<16)
		prev, seq := timeline.NoHash, int64(0)
		id := func() string { return fmt.Sprintf("019c%04x-%04x-7001-8000-%012x", d, seq>>16, seq) }
		for range casesOfADevice {
			var about string
			for i := range eventsOfACase {
				seq++
				at := timeline.MomentOf(began.Add(time.Duration(seq)*time.Minute), "Etc/UTC")
				draft := timeline.Draft{ID: id(), Scope: timeline.ScopeCase, About: about, At: at,
					Entered: timeline.Entered{Wall: at, SinceBootMS: seq * 60_000, Boot: "boot"}, Author: "019c0000-0000-7004-8000-000000000001"}
				switch i {
				case 0:
					draft.Scope, draft.About, draft.Payload = timeline.ScopeClinic, draft.ID, &timeline.Person{}
					draft.Private = timeline.Private{timeline.PrivateName: "Invented Person"}
					about = draft.ID
				case 1:
					draft.Payload = &timeline.CaseOpened{Patient: about}
					draft.About = draft.ID
					about = draft.ID
				case eventsOfACase - 1:
					draft.Payload = &timeline.CaseClosed{}
				default:
					draft.Payload = &timeline.Vitals{Measures: timeline.Measures{Pulse: quantity.MustParse("84 /min"), SpO2: quantity.MustParse("97 %")}}
				}
				l := must.Get[timeline.Line](b)(draft.Seal(log, seq, seq, prev))
				prev = l.H
				if _, err := w.Write(append(l.Bytes(true), '\n')); err != nil {
					b.Fatal(err)
				}
			}
		}
		if err := errors.Join(w.Flush(), f.Close()); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkGather takes in what so many devices carried. The time of a line
// should not grow with how many there are.
func BenchmarkGather(b *testing.B) {
	ctx := context.Background()
	for _, devices := range []int{10, 100, 1000} {
		b.Run(fmt.Sprintf("%d-devices", devices), func(b *testing.B) {
			from := b.TempDir()
			carried(b, from, devices)
			var took, cpu time.Duration
			var heap, memory uint64
			for b.Loop() {
				debug.FreeOSMemory() // what making the lines left
				c := must.Get[*core.Companion](b)(core.Open(ctx, core.Options{Dir: b.TempDir(), Installation: "here",
					Clock: &fakeClock{time.Date(2026, 3, 9, 8, 0, 0, 0, time.UTC), time.Hour}, Words: word.English()}))
				began, used := b.Elapsed(), processorTime(b)
				found := must.Get[Found](b)(Find([]string{from}))
				lines := 0
				for _, path := range found.Lines {
					g := must.Get[Gathered](b)(GatherLines(ctx, path, Unseal{}, c))
					if g.Err != nil || g.Faults > 0 {
						b.Fatalf("%s: %+v", path, g)
					}
					lines += g.New
					var m runtime.MemStats
					runtime.ReadMemStats(&m)
					heap, memory = max(heap, m.HeapInuse+m.StackInuse), max(memory, anonymous())
				}
				took += b.Elapsed() - began
				cpu += processorTime(b) - used
				if want := devices * casesOfADevice * eventsOfACase; lines != want {
					b.Fatalf("%d lines of %d", lines, want)
				}
				if err := c.Close(); err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(0, "ns/op")
			b.ReportMetric(took.Seconds()/float64(b.N), "s")
			b.ReportMetric(float64(took.Microseconds())/float64(b.N*devices*casesOfADevice*eventsOfACase), "µs/line")
			b.ReportMetric(float64(cpu.Microseconds())/float64(b.N*devices*casesOfADevice*eventsOfACase), "cpu-µs/line")
			b.ReportMetric(float64(heap)/(1<<20), "peak-heap-MiB")
			b.ReportMetric(float64(memory)/(1<<20), "peak-memory-MiB")
		})
	}
}
