package core_test

import (
	"context"
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"chinlift/core"
	"chinlift/core/depth"
	"chinlift/core/record"
	"chinlift/core/timeline"
)

// sheetShown opens the sheet as a screen does.
func sheetShown(t *testing.T, c *core.Companion, id string, by core.DepthIf) core.DepthView {
	t.Helper()
	cs, err := c.Case(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	v, err := c.ShowDepth(t.Context(), cs, by)
	if err != nil {
		t.Fatal(err)
	}
	if v.NotKept != "" {
		t.Fatal(v.NotKept)
	}
	return v
}

// keptOf gives the estimates that a case has kept, the oldest first.
func keptOf(t *testing.T, c *core.Companion, id string) (all []*timeline.Depth) {
	t.Helper()
	cs, err := c.Case(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range timeline.Each[*timeline.Depth](cs.Entries, cs.ID) {
		all = append(all, p)
	}
	return all
}

func TestDepthShownIsKept(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	id := openCase(t, c, "Invented")
	sheetShown(t, c, id, core.DepthIf{})
	if n := len(keptOf(t, c, id)); n != 0 {
		t.Fatalf("%d entries of an estimate that there never was", n)
	}
	etherTold(t, c, clock, id)
	v := sheetShown(t, c, id, core.DepthIf{})
	all := keptOf(t, c, id)
	if len(all) != 1 {
		t.Fatalf("%d kept", len(all))
	}
	k := all[0]
	last := k.Course[len(k.Course)-1]
	if k.Model != depth.Version || !k.Asked || len(k.Leads) != len(v.Leads) || k.Drops.String() != "300 {drop}/min" {
		t.Errorf("%+v", k)
	}
	// What is shown is rounded outwards, to a tenth.
	var low, high float64
	if _, err := fmt.Sscanf(v.Range, "%f to %f times", &low, &high); err != nil {
		t.Fatalf("%q: %v", v.Range, err)
	}
	if l, h := last.Low.Value.Float64(), last.High.Value.Float64(); math.Abs(l-low-0.05) > 0.0551 || math.Abs(high-h-0.05) > 0.0551 || last.Before.Value.Float64() != 0 {
		t.Errorf("kept %v, shown %q", last, v.Range)
	}
	// From the first drop on; before the first sign there was none.
	if first := k.Course[0]; first.Before.String() != "20 min" || strings.Join(first.Withdrawn, " ") != "no-signs no-vitals" {
		t.Errorf("%+v", first)
	}
	// A page that is loaded again shows the same, and is the same entry.
	sheetShown(t, c, id, core.DepthIf{})
	if n := len(keptOf(t, c, id)); n != 1 {
		t.Errorf("%d after a second look at the same", n)
	}
	// Another setting is another page, and records nothing but that it was shown.
	other := sheetShown(t, c, id, core.DepthIf{Way: "drops", Code: "120"})
	all = keptOf(t, c, id)
	if len(all) != 2 || all[1].Drops.String() != "120 {drop}/min" || other.Given == v.Given || other.Range != v.Range {
		t.Errorf("%d kept; given %q, and %q before; range %q, and %q", len(all), other.Given, v.Given, other.Range, v.Range)
	}
	cs, err := c.Case(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	if cs.Delivery.Drops.String() != "300 {drop}/min" {
		t.Errorf("looking changed what is given: %v", cs.Delivery.Drops)
	}
	if len(all[1].Course) != 1 {
		t.Errorf("the course begins where the last one ended: %+v", all[1].Course)
	}
}

// The undo of the pad strikes what was tapped, and never what was kept besides.
func TestDepthIsNotUndone(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	id := openCase(t, c, "Invented")
	etherTold(t, c, clock, id)
	sheetShown(t, c, id, core.DepthIf{})
	clock.pass(2 * time.Minute)
	submit(t, c, id, "signs", "eyes", "still-central")
	if n := len(keptOf(t, c, id)); n != 2 {
		t.Fatalf("%d kept", n)
	}
	v, err := c.Table(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	if v.Undo == nil || !strings.Contains(v.Undo.Text, "still") {
		t.Errorf("undo would strike %+v", v.Undo)
	}
}

// Once somebody opened the sheet the band goes along with the taps, and never
// floods the record.
func TestDepthGoesAlong(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	id := openCase(t, c, "Invented")
	etherTold(t, c, clock, id)
	submit(t, c, id, "signs", "jaw", "slack")
	if n := len(keptOf(t, c, id)); n != 0 {
		t.Fatalf("%d kept, and nobody asked for it", n)
	}
	sheetShown(t, c, id, core.DepthIf{})
	submit(t, c, id, "signs", "lid", "gone")
	submit(t, c, id, "signs", "cornea", "faint")
	if n := len(keptOf(t, c, id)); n != 1 {
		t.Errorf("%d kept within a minute", n)
	}
	clock.pass(90 * time.Second)
	submit(t, c, id, "signs", "eyes", "still-central")
	submit(t, c, id, "drug", "drug", "atropine", "dose", "0.6", "dose_unit", "mg", "route", "iv")
	all := keptOf(t, c, id)
	if len(all) != 2 || all[1].Asked || len(all[1].Leads) > 0 || !all[1].Drops.IsZero() {
		t.Fatalf("%d kept; %+v", len(all), all[len(all)-1])
	}
	// What takes the estimate back is kept at once, and once.
	clock.pass(20 * time.Second)
	submit(t, c, id, "signs", "colour", "blue")
	submit(t, c, id, "signs", "colour", "dusky")
	all = keptOf(t, c, id)
	if len(all) != 3 || strings.Join(all[2].Course[len(all[2].Course)-1].Withdrawn, " ") != "hypoxic-sign" {
		t.Fatalf("%d kept; %+v", len(all), all[len(all)-1])
	}
	// Two hours later nobody waits for the bodies; the next opening fills it in.
	clock.pass(2 * time.Hour)
	submit(t, c, id, "signs", "colour", "pink", "eyes", "still-central", "breathing", "even-automatic")
	if n := len(keptOf(t, c, id)); n != 3 {
		t.Errorf("%d kept: a tap waited for two hours of bodies", n)
	}
	submit(t, c, id, "vitals", "systolic", "110", "pulse", "90", "spo2", "98")
	sheetShown(t, c, id, core.DepthIf{})
	all = keptOf(t, c, id)
	if len(all) != 4 || len(all[3].Course) < 2 || all[3].Course[0].Before.String() == "0 min" {
		t.Errorf("%+v", all[len(all)-1])
	}
	// After the anaesthetic there is nothing to follow.
	submit(t, c, id, "phase", "phase", "anaesthesia-end")
	clock.pass(5 * time.Minute)
	submit(t, c, id, "signs", "eyes", "looking")
	if n := len(keptOf(t, c, id)); n != 4 {
		t.Errorf("%d kept after the end", n)
	}
}

// What changes long before the bodies is not made up for while a tap waits: the
// next opening of the sheet does it.
func TestDepthFollowsNoFar(t *testing.T) {
	for _, c := range []struct {
		name   string
		change func(t *testing.T, c *core.Companion, id string, first *timeline.Entry)
		want   int // kept in all, with the one of the change's own tap
	}{
		{"nothing", func(*testing.T, *core.Companion, string, *timeline.Entry) {}, 3},
		{"a sign of long ago struck out", func(t *testing.T, c *core.Companion, id string, first *timeline.Entry) {
			if _, err := c.Strike(t.Context(), core.NewID(), id, first.ID, []string{first.Now().Line.Event.ID}, core.ReasonUndone); err != nil {
				t.Fatal(err)
			}
		}, 2},
		{"a sign of long ago put in late", func(t *testing.T, c *core.Companion, id string, _ *timeline.Entry) {
			submit(t, c, id, "signs", "jaw", "tight", "back", "100")
		}, 2},
		{"another weight", func(t *testing.T, c *core.Companion, id string, _ *timeline.Entry) {
			submit(t, c, id, "facts", "weight", "61", "weight_how", "measured", "weight_by", "scale")
		}, 2},
	} {
		t.Run(c.name, func(t *testing.T) {
			clock := newClock()
			co := openAt(t, t.TempDir(), clock)
			id := openCase(t, co, "Invented")
			etherTold(t, co, clock, id)
			cs, err := co.Case(t.Context(), id)
			if err != nil {
				t.Fatal(err)
			}
			var first *timeline.Entry
			for e := range timeline.Each[*timeline.Signs](cs.Entries, id) {
				first = e
			}
			clock.pass(2 * time.Hour)
			submit(t, co, id, "vitals", "systolic", "112", "pulse", "88", "spo2", "98")
			submit(t, co, id, "signs", "eyes", "still-central", "breathing", "even-automatic")
			sheetShown(t, co, id, core.DepthIf{})
			clock.pass(2 * time.Minute)
			submit(t, co, id, "signs", "jaw", "slack")
			if n := len(keptOf(t, co, id)); n != 2 {
				t.Fatalf("%d kept", n)
			}
			c.change(t, co, id, first)
			clock.pass(2 * time.Minute)
			submit(t, co, id, "signs", "lid", "gone")
			if n := len(keptOf(t, co, id)); n != c.want {
				t.Errorf("%d kept, want %d", n, c.want)
			}
			clock.pass(2 * time.Minute)
			sheetShown(t, co, id, core.DepthIf{})
			if n := len(keptOf(t, co, id)); n != c.want+1 {
				t.Errorf("%d kept after another opening", n)
			}
			clock.pass(2 * time.Minute)
			submit(t, co, id, "signs", "cornea", "faint")
			if n := len(keptOf(t, co, id)); n != c.want+2 {
				t.Errorf("%d kept after it, by a tap", n)
			}
		})
	}
}

// A tap is one tap for the record, whatever is kept besides: its answer is of it,
// and a record that cannot keep the estimate keeps the tap.
func TestDepthNeverCostsATap(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	id := openCase(t, c, "Invented")
	etherTold(t, c, clock, id)
	sheetShown(t, c, id, core.DepthIf{})
	clock.pass(2 * time.Minute)
	f := core.Form{ID: core.NewID(), Case: id, Kind: "signs", Fields: map[string][]string{"jaw": {"slack"}}}
	done, err := c.Submit(t.Context(), f)
	if err != nil || len(done.Lines) != 1 || done.Lines[0].Event.ID != f.ID {
		t.Fatalf("%+v, %v", done, err)
	}
	n := len(keptOf(t, c, id))
	if again, err := c.Submit(t.Context(), f); err != nil || again.Lines[0].Event.ID != f.ID {
		t.Errorf("a retry: %+v, %v", again, err)
	}
	if len(keptOf(t, c, id)) != n {
		t.Error("a retry kept another")
	}
	// The sheet that cannot be kept is shown, and says so.
	cs, err := c.Case(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	clock.pass(2 * time.Minute)
	gone, cancel := context.WithCancel(t.Context())
	before := depthOf(t, c, id)
	cancel()
	if v, err := c.ShowDepth(gone, cs, core.DepthIf{}); err == nil && (v.NotKept == "" || v.Range != before.Range) {
		t.Errorf("%+v", v)
	}
}

// The band is made of what was kept alone: gaps with their reasons, looks with
// what they leave, and it stays as it was when a late entry would change it.
func TestBandOfDepth(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	id := openCase(t, c, "Invented")
	start := clock.wall
	etherTold(t, c, clock, id)
	sheet, err := c.Sheet(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	if sheet.Course != nil {
		t.Fatal("a band of what nobody was shown")
	}
	sheetShown(t, c, id, core.DepthIf{})
	clock.pass(8 * time.Minute)
	submit(t, c, id, "signs", "pupils", "wide-fixed")
	sheet, err = c.Sheet(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	b := sheet.Course
	if b == nil || b.Under != 1 || len(b.Signs) != 2 || len(sheet.Bands) < 1 {
		t.Fatalf("%+v", b)
	}
	var gaps []string
	ranges, seen := 0, 0
	for _, p := range b.Points {
		if p.Gap != "" {
			gaps = append(gaps, p.Gap)
			continue
		}
		ranges++
		if p.Shown {
			seen++
		}
		if !(p.Low < p.High) || p.Text == "" || p.ID == "" {
			t.Errorf("%+v", p)
		}
	}
	if strings.Join(gaps, ", ") != "no signs yet, signs old, deep sign" {
		t.Errorf("gaps: %v", gaps)
	}
	if ranges < 5 || seen != 1 {
		t.Errorf("%d ranges, %d of them shown", ranges, seen)
	}
	if s := b.Signs[0]; s.Danger || s.Low < 0.5 || s.High > 2.1 {
		t.Errorf("a sleeper's look leaves %v to %v", s.Low, s.High)
	}
	if !b.Signs[1].Danger {
		t.Error("wide and fixed pupils are a danger")
	}
	for _, wall := range []record.Theme{record.Light, record.Dark} {
		svg, err := c.DrawTile(t.Context(), id, core.TileAt(start), record.Drawing{Width: 344, Height: 116, Compact: true, Theme: wall})
		if err != nil {
			t.Fatal(err)
		}
		for _, want := range []string{"depth, MAC", "The last signs are over 5", "no estimate"} {
			if !strings.Contains(string(svg), want) {
				t.Errorf("the tile says nothing of %q", want)
			}
		}
		if len(svg) > 64<<10 {
			t.Errorf("a tile of %d bytes", len(svg))
		}
	}

	late := core.Tap{ID: core.NewID(), Scope: timeline.ScopeCase, About: id, At: timeline.MomentOf(start.Add(time.Minute), ""), Payload: &timeline.AgentDelivery{Agent: "ether", Off: true}}
	if _, err := c.Record(t.Context(), late); err != nil {
		t.Fatal(err)
	}
	after, err := c.Sheet(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	if len(after.Course.Points) != len(b.Points) || after.Course.Points[4].High != b.Points[4].High {
		t.Error("what was shown became something else")
	}

	// Without the names it is the same band; struck out it is gone.
	bare, err := c.SheetOf(t.Context(), id, false)
	if err != nil || bare.Course == nil || len(bare.Course.Points) != len(b.Points) {
		t.Errorf("%v, %v", bare.Course, err)
	}
}

// What the drops become, by what leaves the mask to the patient, is beside each
// flow of oxygen: a cover without any is a danger that is told.
func TestOxygenUnderTheMask(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	id := openCase(t, c, "Invented")
	etherTold(t, c, clock, id) // covered, and nobody spoke of oxygen
	v := depthOf(t, c, id)
	if all := strings.Join(v.Oxygen, "\n"); !strings.Contains(all, "Breathed in 15") || !strings.Contains(all, "A cover without oxygen") || !strings.Contains(all, "There may be too little oxygen") {
		t.Errorf("%s", all)
	}
	cs, err := c.Case(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	tray, err := c.AgentTray(t.Context(), cs, "ether", "drops")
	if err != nil {
		t.Fatal(err)
	}
	if tray.Fraction["0"] != "15–18 %" || tray.Fraction["2"] == "" || tray.Fraction["2"] == tray.Fraction["0"] || len(tray.Breathed) < 3 {
		t.Errorf("%v, %v", tray.Fraction, tray.Breathed)
	}
	submit(t, c, id, "agent", "oxygen", "2")
	if all := strings.Join(depthOf(t, c, id).Oxygen, "\n"); strings.Contains(all, "A cover without") {
		t.Errorf("with oxygen: %s", all)
	}
	// Where the estimate is taken back its warnings stay, and no number does.
	submit(t, c, id, "agent", "oxygen", "0")
	submit(t, c, id, "signs", "colour", "dusky")
	v = depthOf(t, c, id)
	if all := strings.Join(v.Oxygen, "\n"); len(v.Withdrawn) == 0 || strings.Contains(all, "Breathed in") || !strings.Contains(all, "A cover without oxygen") {
		t.Errorf("%v: %s", v.Withdrawn, all)
	}
}

// A vaporiser draws air over: without oxygen that is hypoxic too, at a height
// above all, and is told. What a machine mixes nobody records.
func TestOxygenThroughAVaporiser(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	id := openCase(t, c, "Invented")
	submit(t, c, id, "agent", "agent", "ether", "percent", "10")
	clock.pass(20 * time.Minute)
	submit(t, c, id, "vitals", "systolic", "110", "pulse", "90", "spo2", "98")
	submit(t, c, id, "signs", "breathing", "even-automatic", "eyes", "still-central")
	said := func() string { return strings.Join(depthOf(t, c, id).Oxygen, "\n") }
	if all := said(); !strings.Contains(all, "Breathed in") || !strings.Contains(all, "as if air were drawn over") || !strings.Contains(all, "Nobody recorded whether oxygen flows") ||
		!strings.Contains(all, "needs oxygen") || strings.Contains(all, "At this height") {
		t.Errorf("at sea level: %s", all)
	}
	cs, err := c.Case(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	tray, err := c.AgentTray(t.Context(), cs, "ether", "percent")
	if err != nil || tray.Fraction["0"] == "" || tray.Fraction["4"] == tray.Fraction["0"] || len(tray.Breathed) < 3 {
		t.Errorf("%v, %v, %v", tray.Fraction, tray.Breathed, err)
	}
	submit(t, c, id, "agent", "oxygen", "4")
	if all := said(); !strings.Contains(all, "Breathed in") || strings.Contains(all, "At this height") || strings.Contains(all, "needs oxygen") {
		t.Errorf("with oxygen: %s", all)
	}
	submit(t, c, id, "support", "support", "spontaneous", "system", "circle")
	if all := said(); all != "" {
		t.Errorf("through a machine: %s", all)
	}
}

func TestOxygenThroughAVaporiserAtAHeight(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	if _, err := c.SetPlace(t.Context(), core.NewID(), "altitude", "2400", "m"); err != nil {
		t.Fatal(err)
	}
	clock.pass(time.Minute)
	id := openCase(t, c, "Invented")
	submit(t, c, id, "agent", "agent", "halothane", "percent", "2")
	clock.pass(20 * time.Minute)
	submit(t, c, id, "vitals", "systolic", "110", "pulse", "90", "spo2", "98")
	submit(t, c, id, "signs", "breathing", "quiet", "movement", "none")
	all := depthOf(t, c, id).Oxygen
	if len(all) < 4 || !strings.Contains(all[0], "Breathed in") || !strings.HasPrefix(all[2], "There may be too little oxygen") || !strings.HasPrefix(all[3], "At this height air and agent without oxygen") {
		t.Errorf("%q", all)
	}
}

// A window that has passed is drawn anew once its band goes on, or is filled in
// from a later opening, and is the same tile from then on.
func TestTilesOfTheBand(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	id := openCase(t, c, "Invented")
	start := clock.wall
	etherTold(t, c, clock, id)
	sheetShown(t, c, id, core.DepthIf{})
	clock.pass(100 * time.Minute)
	first := marks(t, c, id)[0]
	draw := func() string {
		svg, err := c.DrawTile(t.Context(), id, core.TileAt(start), record.Drawing{Width: 344, Height: 380})
		if err != nil {
			t.Fatal(err)
		}
		return string(svg)
	}
	before := draw()
	if strings.Contains(before, "signs old") {
		t.Fatal("the band knows already of what was kept later")
	}
	submit(t, c, id, "vitals", "systolic", "112", "pulse", "88", "spo2", "98")
	submit(t, c, id, "signs", "eyes", "still-central", "breathing", "even-automatic")
	sheetShown(t, c, id, core.DepthIf{})
	filled := marks(t, c, id)[0]
	if filled.Mark == first.Mark || !strings.Contains(draw(), "signs old") {
		t.Errorf("the first hour stays without its band: marks %s and %s", first.Mark, filled.Mark)
	}
	clock.pass(2 * time.Minute)
	submit(t, c, id, "signs", "jaw", "slack")
	if n := len(keptOf(t, c, id)); n != 3 {
		t.Fatalf("%d kept", n)
	}
	if again := marks(t, c, id)[0]; again.Mark != filled.Mark {
		t.Error("the first hour changed by an estimate of the third")
	}
}
