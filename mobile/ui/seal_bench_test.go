//go:build slow

package ui

import (
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"testing"
	"time"

	"chinlift/core"
	"chinlift/core/word"
)

// BenchmarkTapSealed measures the same tap on two companions in one run and in
// turns, so that whatever else the machine does meets both: one on which a PIN
// was set up, and one on which names lie open. A note has a private part, which
// the one seals; a look at pulse and pressure has none. Each is an entry that
// is synced to disk, on a case of 300 entries, with the parts of the table that
// it changed.
func BenchmarkTapSealed(b *testing.B) {
	dir, err := os.MkdirTemp(filepath.Join("..", "..", ".build"), "tap")
	if err != nil {
		b.Fatal(err)
	}
	defer func() { _ = os.RemoveAll(dir) }() // a leftover in .build is no harm
	type side struct {
		u    *UI
		path string
		page string
		took map[string][]time.Duration
	}
	clock := &fakeClock{wall: time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC), since: time.Hour}
	begin := func(name, pin string) *side {
		c, err := core.Open(b.Context(), core.Options{Dir: filepath.Join(dir, name), Installation: "here", Clock: clock, Words: word.English(), Safe: inPocket{}})
		if err != nil {
			b.Fatal(err)
		}
		b.Cleanup(func() { c.Close() })
		u, err := New(c)
		if err != nil {
			b.Fatal(err)
		}
		if pin != "" {
			tap(b, u, "/sealing/new/setup", "do", "choose", "pin", pin)
			tap(b, u, "/sealing/again/setup", "do", "choose", "pin", pin)
			tap(b, u, "/sealing", "do", "lock")
		}
		s := &side{u: u, path: "/case/" + newCase(b, u, "X") + "/table", took: map[string][]time.Duration{}}
		tap(b, u, s.path+"/step", "kind", "phase", "phase", "anaesthesia-start")
		for i := range 300 {
			tap(b, u, s.path+"/vitals", "kind", "vitals", "pulse", strconv.Itoa(60+i%60), "systolic", "110", "diastolic", "70")
		}
		s.page = sendFrom(b, u, s.path).Page
		return s
	}
	open, sealed := begin("open", ""), begin("sealed", testPIN)
	turn := []*side{open, sealed}
	for b.Loop() {
		slices.Reverse(turn)
		for _, fields := range [][]string{{"kind", "vitals", "pulse", "88", "systolic", "112", "diastolic", "70"}, {"kind", "note", "text", "twelve words of a note, as they are said in the theatre"}} {
			for _, s := range turn {
				x := sendOf(s.u, s.path, fields...)
				x.Page = s.page
				before := time.Now()
				a := s.u.Send(b.Context(), x)
				s.took[fields[1]] = append(s.took[fields[1]], time.Since(before))
				if a.Problem != nil {
					b.Fatal(a.Problem)
				}
			}
		}
		clock.pass(time.Second)
	}
	middle := func(all []time.Duration) float64 {
		slices.Sort(all)
		return float64(all[len(all)/2].Microseconds())
	}
	for _, kind := range []string{"vitals", "note"} {
		o, s := middle(open.took[kind]), middle(sealed.took[kind])
		b.ReportMetric(o, kind+"-open-µs")
		b.ReportMetric(s, kind+"-sealed-µs")
		b.ReportMetric(s/o, kind+"-ratio")
	}
}
