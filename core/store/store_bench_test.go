//go:build slow

package store

import (
	"context"
	"database/sql"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"syscall"
	"testing"
	"time"

	"chinlift/core/must"
	"chinlift/core/timeline"
)

// benchDir gives a folder on a real disk: where CHINLIFT_BENCH_DIR points, or
// in the tree's own build folder. A temporary folder may lie in memory, where
// a sync costs nothing.
func benchDir(b *testing.B) string {
	b.Helper()
	parent := os.Getenv("CHINLIFT_BENCH_DIR")
	if parent == "" {
		parent = filepath.Join("..", "..", ".build")
	}
	if err := os.MkdirAll(parent, 0o700); err != nil {
		b.Fatal(err)
	}
	dir := must.Get[string](b)(os.MkdirTemp(parent, "bench-"))
	b.Cleanup(func() {
		if err := os.RemoveAll(dir); err != nil {
			b.Error(err)
		}
	})
	var fs syscall.Statfs_t
	if err := syscall.Statfs(dir, &fs); err != nil {
		b.Fatal(err)
	}
	// statfs(2) lists the numbers.
	names := map[int64]string{0xef53: "ext", 0x01021994: "tmpfs", 0x9123683e: "btrfs", 0x58465342: "xfs", 0xf2f52010: "f2fs", 0x794c7630: "overlay"}
	b.Logf("file system %s (%#x)", names[fs.Type], fs.Type)
	if fs.Type == 0x01021994 {
		b.Fatal("this lies in memory; set CHINLIFT_BENCH_DIR to a folder on a disk")
	}
	return dir
}

func percentile(ds []time.Duration, p int) time.Duration {
	slices.Sort(ds)
	return ds[min(len(ds)-1, len(ds)*p/100)]
}

// BenchmarkTapAgainstBare holds one tap, a committed event with a private
// part, against the least that a durable insert costs here: one row of the
// same size, committed by the same driver under the same settings to a
// database of its own beside it. The two take turns, and take turns at going
// first. Both checkpoint in the background or not at all while measured.
func BenchmarkTapAgainstBare(b *testing.B) {
	ctx := context.Background()
	dir := benchDir(b)
	o := options(filepath.Join(dir, "store"))
	st := open(b, o)
	bare := must.Get[*sql.DB](b)(openDB(ctx, filepath.Join(dir, "bare.db"), o, roleWriter, 1))
	defer bare.Close()
	if _, err := bare.Exec("CREATE TABLE bare (row INTEGER PRIMARY KEY, e BLOB NOT NULL) STRICT"); err != nil {
		b.Fatal(err)
	}
	insert := must.Get[*sql.Stmt](b)(bare.Prepare("INSERT INTO bare (e) VALUES (?)"))
	defer insert.Close()

	caseID := newID()
	row := appendAll(b, st, note(caseID, "twelve words of a note, as they are said in the theatre"))[0].Bytes(true)
	var taps, bares []time.Duration
	tap := func() {
		d := note(caseID, "twelve words of a note, as they are said in the theatre")
		from := b.Elapsed()
		if _, err := st.Append(ctx, d); err != nil {
			b.Fatal(err)
		}
		taps = append(taps, b.Elapsed()-from)
	}
	one := func() {
		from := b.Elapsed()
		if _, err := insert.Exec(row); err != nil {
			b.Fatal(err)
		}
		bares = append(bares, b.Elapsed()-from)
	}
	for n := 0; b.Loop(); n++ {
		if n%2 == 0 {
			tap()
			one()
		} else {
			one()
			tap()
		}
	}
	micro := func(d time.Duration) float64 { return float64(d) / float64(time.Microsecond) }
	b.ReportMetric(0, "ns/op") // a pair; says nothing
	b.ReportMetric(micro(percentile(taps, 50))/micro(percentile(bares, 50)), "p50-ratio")
	b.ReportMetric(micro(percentile(taps, 50)), "tap-p50-µs")
	b.ReportMetric(micro(percentile(taps, 99)), "tap-p99-µs")
	b.ReportMetric(micro(percentile(bares, 50)), "bare-p50-µs")
	b.ReportMetric(micro(percentile(bares, 99)), "bare-p99-µs")
}

// filled makes a folder of so many closed cases of 100 lines each, and names
// the last.
func filled(b *testing.B, dir string, cases int) (o Options, last string) {
	b.Helper()
	ctx := context.Background()
	o = options(dir)
	st := must.Get[*Store](b)(Open(ctx, o))
	c := newChain(b)
	var ls []*timeline.Line
	for n := range cases {
		last = newID()
		for i := range 100 {
			if i == 0 {
				ls = append(ls, c.add(opened(last)))
			} else {
				ls = append(ls, c.add(draft(timeline.ScopeCase, last, &timeline.Mark{})))
			}
		}
		if len(ls) >= 20_000 || n == cases-1 {
			merge(b, st, ls)
			ls = ls[:0]
		}
	}
	for _, id := range must.Get[[]string](b)(st.Unsettled(ctx)) {
		if id != last {
			// One transaction each; only the last case is open.
			if err := st.Settle(ctx, id); err != nil {
				b.Fatal(err)
			}
		}
	}
	if err := st.Close(); err != nil {
		b.Fatal(err)
	}
	return o, last
}

// BenchmarkOpenLastCase opens the folder, finds the case that is not settled
// and reads it: with 100 cases stored, and with 10,000. The ratio says whether
// the start grows with the years.
func BenchmarkOpenLastCase(b *testing.B) {
	ctx := context.Background()
	dir := benchDir(b)
	var took [2][]time.Duration
	type folder struct {
		o    Options
		last string
	}
	var folders [2]folder
	for i, cases := range []int{100, 10_000} {
		o, last := filled(b, filepath.Join(dir, fmt.Sprint(cases)), cases)
		folders[i] = folder{o, last}
	}
	for b.Loop() {
		for i, f := range folders {
			from := b.Elapsed()
			st, err := Open(ctx, f.o)
			if err != nil {
				b.Fatal(err)
			}
			open, err := st.Unsettled(ctx)
			if err != nil || len(open) != 1 || open[0] != f.last {
				b.Fatalf("%v, %v", open, err)
			}
			ls, err := st.Case(ctx, f.last)
			if err != nil || len(ls) != 100 {
				b.Fatalf("%d lines, %v", len(ls), err)
			}
			took[i] = append(took[i], b.Elapsed()-from)
			if err := st.Close(); err != nil {
				b.Fatal(err)
			}
		}
	}
	ms := func(d time.Duration) float64 { return float64(d) / float64(time.Millisecond) }
	small, large := percentile(took[0], 50), percentile(took[1], 50)
	b.ReportMetric(0, "ns/op")
	b.ReportMetric(ms(small), "10,000-lines-ms")
	b.ReportMetric(ms(large), "1,000,000-lines-ms")
	b.ReportMetric(float64(large)/float64(small), "ratio")
}

// BenchmarkTapSealed holds one tap with a private part that is sealed against
// the same tap where sealing is not set up. The two take turns, and take turns
// at going first.
func BenchmarkTapSealed(b *testing.B) {
	ctx := context.Background()
	dir := benchDir(b)
	var stores [2]*Store
	for i, name := range []string{"plain", "sealed"} {
		o := options(filepath.Join(dir, name))
		o.Safe = newPocket(b)
		stores[i] = open(b, o)
	}
	setUp(b, stores[1])
	caseID := newID()
	for _, s := range stores {
		appendAll(b, s, note(caseID, "the key of the case is there"))
	}
	var took [2][]time.Duration
	for n := 0; b.Loop(); n++ {
		for k := range stores {
			i := (k + n) % 2
			d := note(caseID, "twelve words of a note, as they are said in the theatre")
			from := b.Elapsed()
			if _, err := stores[i].Append(ctx, d); err != nil {
				b.Fatal(err)
			}
			took[i] = append(took[i], b.Elapsed()-from)
		}
	}
	plain, sealed := percentile(took[0], 50), percentile(took[1], 50)
	b.ReportMetric(float64(sealed)/float64(plain), "p50-ratio")
	b.ReportMetric(float64(plain.Microseconds()), "plain-p50-µs")
	b.ReportMetric(float64(sealed.Microseconds()), "sealed-p50-µs")
	b.ReportMetric(float64(percentile(took[1], 99))/float64(percentile(took[0], 99)), "p99-ratio")
}

// BenchmarkReadSealed reads a case of 300 notes, kept for this device.
func BenchmarkReadSealed(b *testing.B) {
	o := options(filepath.Join(benchDir(b), "store"))
	o.Safe = newPocket(b)
	s := open(b, o)
	setUp(b, s)
	caseID := newID()
	for range 300 {
		appendAll(b, s, note(caseID, "twelve words of a note, as they are said in the theatre"))
	}
	for b.Loop() {
		if lines, err := s.Case(b.Context(), caseID); err != nil || len(lines) != 300 || lines[0].Sealed {
			b.Fatal(len(lines), err)
		}
	}
}
