//go:build slow

package core_test

import (
	"strconv"
	"strings"
	"testing"
	"time"

	"chinlift/core"
	"chinlift/core/record"
)

// unjudgedCase makes a case of a thousand entries over eight hours, a tenth of
// them doses that no rule could judge without a weight.
func unjudgedCase(t testing.TB) (*core.Companion, string) {
	t.Helper()
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	id := openCaseOf(t, c, "30", "")
	submit(t, c, id, "phase", "phase", "anaesthesia-start")
	for i := range 1000 {
		clock.pass(28 * time.Second)
		if i%10 == 9 {
			submit(t, c, id, "drug", "drug", "morphine", "dose", "2", "dose_unit", "mg", "route", "im")
			continue
		}
		submit(t, c, id, "vitals", "pulse", strconv.Itoa(60+i%60), "systolic", "110", "diastolic", "70")
	}
	lines, err := c.Entries(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	n := 0
	for _, l := range lines {
		if strings.Contains(l.Stand, "no dose rule judged it") {
			n++
		}
	}
	if n != 100 {
		t.Fatalf("%d unjudged doses", n)
	}
	return c, id
}

// BenchmarkRecord is what the page of a record costs: its entries, its sheet,
// the marks of its tiles, and their drawings, with a tap before each look.
func BenchmarkRecord(b *testing.B) {
	c, id := unjudgedCase(b)
	for b.Loop() {
		submit(b, c, id, "vitals", "pulse", "88", "systolic", "110", "diastolic", "70")
		if _, err := c.Entries(b.Context(), id); err != nil {
			b.Fatal(err)
		}
		if _, err := c.Sheet(b.Context(), id); err != nil {
			b.Fatal(err)
		}
		cs, err := c.Case(b.Context(), id)
		if err != nil {
			b.Fatal(err)
		}
		tiles, err := c.Tiles(b.Context(), cs)
		if err != nil {
			b.Fatal(err)
		}
		for _, x := range tiles {
			if _, err := c.DrawTile(b.Context(), id, x.K, record.Drawing{Width: 344, Height: 380}); err != nil {
				b.Fatal(err)
			}
		}
	}
}
