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

	"chinlift/core/must"
)

// peak is a writer that looks now and then how much memory is in use: of Go,
// and of the whole process, SQLite's included, but for what lies in files.
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
				f := must.Get[*os.File](b)(os.Create(filepath.Join(dir, "events.csv")))
				w := &peak{Writer: f}
				if err := errors.Join(Write(ctx, w, c, "events.csv", Options{Private: true}), f.Close()); err != nil {
					b.Fatal(err)
				}
				heap, anonymous = max(heap, w.heap), max(anonymous, w.anonymous)
				ours += b.Elapsed() - from
				ourCPU += processorTime(b) - cpu

				from = b.Elapsed()
				out := must.Get[*os.File](b)(os.Create(filepath.Join(dir, "sqlite.csv")))
				cmd := exec.Command("sqlite3", "-readonly", "-batch", filepath.Join(dir, "chinlift.db"))
				cmd.Stdin, cmd.Stdout = bytes.NewReader(query), out
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
