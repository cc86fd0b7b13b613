//go:build slow

package ui

import (
	"database/sql"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"testing"
	"time"

	"golang.org/x/sys/unix"
	_ "modernc.org/sqlite" // the bare commit that a tap is measured against

	"chinlift/core"
	"chinlift/core/word"
)

// BenchmarkTap measures one tap, from the request to the durable answer with
// its patches, on a case of 300 entries, against one bare SQLite commit of a
// row of the same size with the same settings: interleaved pairs in one run,
// both on the working tree's file system.
func BenchmarkTap(b *testing.B) {
	dir, err := os.MkdirTemp(filepath.Join("..", "..", ".build"), "tap")
	if err != nil {
		b.Fatal(err)
	}
	defer func() { _ = os.RemoveAll(dir) }() // a leftover in .build is no harm
	var fs unix.Statfs_t
	if err := unix.Statfs(dir, &fs); err != nil {
		b.Fatal(err)
	}
	clock := &fakeClock{wall: time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC), since: time.Hour}
	c, err := core.Open(b.Context(), core.Options{Dir: filepath.Join(dir, "companion"), Installation: "here", Clock: clock, Words: word.English()})
	if err != nil {
		b.Fatal(err)
	}
	defer c.Close()
	u, err := New(c)
	if err != nil {
		b.Fatal(err)
	}
	// Each hundred taps a case of 300 entries takes the place of the one that
	// has grown.
	var p, id string
	var open Send
	fresh := func() {
		if p != "" {
			tap(b, u, "/case/"+id+"/record", "kind", "case-closed")
		}
		id = newCase(b, u, "X")
		p = "/case/" + id + "/table"
		tap(b, u, p+"/step", "kind", "phase", "phase", "anaesthesia-start")
		for i := range 300 {
			tap(b, u, p+"/vitals", "kind", "vitals", "pulse", strconv.Itoa(60+i%60), "systolic", "110", "diastolic", "70")
			clock.pass(20 * time.Second)
		}
		open = sendFrom(b, u, p)
	}
	bare, err := sql.Open("sqlite", "file:"+filepath.Join(dir, "bare.db")+"?_txlock=immediate&_pragma=journal_mode(WAL)&_pragma=synchronous(FULL)&_pragma=wal_autocheckpoint(0)&_pragma=secure_delete(1)")
	if err != nil {
		b.Fatal(err)
	}
	defer bare.Close()
	bare.SetMaxOpenConns(1)
	if _, err := bare.Exec(`CREATE TABLE line (row INTEGER PRIMARY KEY, e BLOB NOT NULL) STRICT`); err != nil {
		b.Fatal(err)
	}
	insert, err := bare.Prepare(`INSERT INTO line (e) VALUES (?)`)
	if err != nil {
		b.Fatal(err)
	}
	row := make([]byte, 700) // the size of a mark's event
	var taps, bares []time.Duration
	patched := 0
	for b.Loop() {
		if len(taps)%100 == 0 {
			fresh()
		}
		s := sendOf(u, p, "kind", "vitals", "pulse", "88", "systolic", "112", "diastolic", "70")
		s.Page = open.Page
		start := time.Now()
		a := u.Send(b.Context(), s)
		taps = append(taps, time.Since(start))
		if a.Problem != nil {
			b.Fatal(a.Problem)
		}
		for _, x := range a.Patches {
			patched += len(x.HTML)
		}
		start = time.Now()
		tx, err := bare.Begin()
		if err != nil {
			b.Fatal(err)
		}
		if _, err := tx.Stmt(insert).Exec(row); err != nil {
			b.Fatal(err)
		}
		if err := tx.Commit(); err != nil {
			b.Fatal(err)
		}
		bares = append(bares, time.Since(start))
		clock.pass(time.Second)
	}
	q := func(ds []time.Duration, f float64) float64 {
		slices.Sort(ds)
		return float64(ds[int(f*float64(len(ds)-1))].Microseconds())
	}
	b.ReportMetric(q(taps, .5)/q(bares, .5), "p50-ratio")
	b.ReportMetric(q(taps, .5), "tap-p50-µs")
	b.ReportMetric(q(taps, .99), "tap-p99-µs")
	b.ReportMetric(q(bares, .5), "bare-p50-µs")
	b.ReportMetric(q(bares, .99), "bare-p99-µs")
	b.ReportMetric(float64(patched)/float64(len(taps)), "patch-bytes")
	b.Logf("file system type %#x (0xef53 is ext4), %d pairs", fs.Type, len(taps))
}
