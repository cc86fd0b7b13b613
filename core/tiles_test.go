package core_test

import (
	"bytes"
	"strconv"
	"strings"
	"testing"
	"time"

	"chinlift/core"
	"chinlift/core/record"
	"chinlift/core/term"
)

func marks(t *testing.T, c *core.Companion, id string) []core.Tile {
	t.Helper()
	cs, err := c.Case(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	tiles, err := c.Tiles(t.Context(), cs)
	if err != nil {
		t.Fatal(err)
	}
	return tiles
}

// A window that has passed is the same tile after more entries; a late entry
// into it makes it another, and so does a note that is destroyed or struck.
func TestTilesThatHavePassed(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	id := openCase(t, c, "Invented Person")
	for range 30 {
		submit(t, c, id, "vitals", "pulse", "88")
		clock.pass(5 * time.Minute)
	}
	before := marks(t, c, id)
	submit(t, c, id, "vitals", "pulse", "90")
	after := marks(t, c, id)
	if len(before) < 3 || len(after) != len(before) {
		t.Fatalf("%d and %d tiles over two and a half hours", len(before), len(after))
	}
	for i := range before[:len(before)-1] {
		if before[i].Mark != after[i].Mark {
			t.Errorf("tile %d changed by an entry of now", i)
		}
	}
	if last := len(before) - 1; before[last].Mark == after[last].Mark {
		t.Error("the tile of now did not change by an entry of now")
	}
	submit(t, c, id, "vitals", "pulse", "40", "back", "90")
	late := marks(t, c, id)
	if late[0].Mark != after[0].Mark || late[1].Mark == after[1].Mark {
		t.Errorf("a late entry into the second hour: marks %v, then %v", after, late)
	}
	svg, err := c.DrawTile(t.Context(), id, late[1].K, record.Drawing{Width: 344, Height: 380})
	if err != nil || !bytes.Contains(svg, []byte(">40<")) && !bytes.Contains(svg, []byte(" 40")) {
		t.Errorf("the late pulse is not drawn: %v", err)
	}
	again, err := c.DrawTile(t.Context(), id, late[1].K, record.Drawing{Width: 344, Height: 380})
	if err != nil || &again[0] != &svg[0] {
		t.Errorf("what was drawn was drawn again: %v", err)
	}
	if _, err := c.NamePatient(t.Context(), core.NewID(), id, "Another Invented", ""); err != nil {
		t.Fatal(err)
	}
	if named := marks(t, c, id); named[0].Mark == late[0].Mark {
		t.Error("the drawing says the name, and stayed the same tile")
	}
}

// Every entry lies in one panel: none twice, none in none.
func TestTilesCoverTheCase(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	id := openCase(t, c, "")
	clock.pass(time.Duration(60-clock.wall.Minute()) * time.Minute)
	for i := range 25 {
		submit(t, c, id, "step", "step", string(term.StepList.Codes()[i%5]))
		clock.pass(15 * time.Minute)
	}
	seen := map[string]int{}
	for _, tile := range marks(t, c, id) {
		svg, err := c.DrawTile(t.Context(), id, tile.K, record.Drawing{Width: 344, Height: 380})
		if err != nil {
			t.Fatal(err)
		}
		for _, part := range strings.Split(string(svg), `data-id="`)[1:] {
			seen[part[:36]]++
		}
	}
	entries, err := c.Entries(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	steps := 0
	for _, e := range entries {
		if e.Kind != "step" {
			continue
		}
		if steps++; seen[e.ID] != 1 {
			t.Errorf("the step of %s lies in %d panels", e.At, seen[e.ID])
		}
	}
	if steps != 25 {
		t.Errorf("%d steps", steps)
	}
}

// BenchmarkRedraw measures the drawing of a case of 1,000 events after one
// more: the tile of now, a tile that has passed, and the whole at once.
func BenchmarkRedraw(b *testing.B) {
	clock := newClock()
	c := openAt(b, b.TempDir(), clock)
	id := openCase(b, c, "X")
	for i := range 1000 {
		submit(b, c, id, "vitals", "pulse", strconv.Itoa(60+i%60), "systolic", "110", "diastolic", "70")
		clock.pass(30 * time.Second)
	}
	cs, err := c.Case(b.Context(), id)
	if err != nil {
		b.Fatal(err)
	}
	live := c.TileNow(cs)
	compact := record.Drawing{Width: 344, Height: 150, Compact: true}
	var now, passed, whole time.Duration
	n := 0
	for b.Loop() {
		submit(b, c, id, "vitals", "pulse", "77")
		watch := func(into *time.Duration, f func() error) {
			from := core.SystemClock().Now().SinceBoot
			if err := f(); err != nil {
				b.Fatal(err)
			}
			*into += core.SystemClock().Now().SinceBoot - from
		}
		watch(&now, func() error { _, err := c.DrawTile(b.Context(), id, live.K, compact); return err })
		watch(&passed, func() error { _, err := c.DrawTile(b.Context(), id, live.K-8, compact); return err })
		watch(&whole, func() error {
			s, err := c.Sheet(b.Context(), id)
			if err != nil {
				return err
			}
			return record.SVG(new(bytes.Buffer), s, record.Drawing{Width: 344, Height: 150, Compact: true})
		})
		n++
	}
	b.ReportMetric(float64(now.Microseconds())/float64(n), "tile-of-now-µs")
	b.ReportMetric(float64(passed.Microseconds())/float64(n), "tile-passed-µs")
	b.ReportMetric(float64(whole.Microseconds())/float64(n), "whole-µs")
}
