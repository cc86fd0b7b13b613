package core_test

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"chinlift/core"
	"chinlift/core/timeline"
)

func count(t testing.TB, c *core.Companion, fields ...string) {
	t.Helper()
	f := map[string][]string{}
	for i := 0; i < len(fields); i += 2 {
		f[fields[i]] = []string{fields[i+1]}
	}
	if _, err := c.Count(t.Context(), core.NewID(), f); err != nil {
		t.Fatalf("%v: %v", fields, err)
	}
}

func supply(t testing.TB, c *core.Companion, what, item string) core.SupplyItem {
	t.Helper()
	s, err := c.Supply(t.Context(), what, item)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func contains(t testing.TB, where, text string, parts ...string) {
	t.Helper()
	for _, p := range parts {
		if !strings.Contains(text, p) {
			t.Errorf("%s: %q lacks %q", where, text, p)
		}
	}
}

func TestCylindersOnTheShelf(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	// E of the United Kingdom, full at 137 bar with 680 L (the printed size),
	// 4.7 L of water: at 96 bar less 13.8 bar (200 psi) 408 L by the size, 386 L
	// by the water, as an ideal gas.
	count(t, c, "what", "cylinder", "act", "counted", "item", "uk-e", "batch", "7", "gauge", "96", "gauge_unit", "bar")
	s := supply(t, c, "cylinder", "oxygen")
	if len(s.Lots) != 1 || s.Again {
		t.Fatalf("%+v", s)
	}
	contains(t, "the cylinder", s.Lots[0].OnHand, "96 bar", "385 to 410 L")
	contains(t, "minutes", s.Lasts[0], "6 h 26 min to 6 h 48 min", "1 L/min", "reserve")
	contains(t, "crisis", s.Lasts[4], "25 min to 40 min", "15 to 10 L/min")
	// Two litres a minute for an hour leave 120 L less.
	id := openCase(t, c, "Invented Person")
	submit(t, c, id, "agent", "oxygen", "2")
	clock.pass(time.Hour)
	submit(t, c, id, "agent", "oxygen", "0")
	clock.pass(time.Hour)
	contains(t, "after an hour at 2 L/min", supply(t, c, "cylinder", "oxygen").OnHand, "265 to 290 L")
	// A gauge that is read stands over all that was reckoned.
	count(t, c, "what", "cylinder", "act", "counted", "item", "uk-e", "batch", "7", "gauge", "14", "gauge_unit", "bar")
	s = supply(t, c, "cylinder", "oxygen")
	contains(t, "read again", s.OnHand, "0 to 1 L")
	// More oxygen than a gauge can say.
	count(t, c, "what", "cylinder", "act", "counted", "item", "uk-e", "batch", "7", "gauge", "200", "gauge_unit", "bar")
	if s = supply(t, c, "cylinder", "oxygen"); !s.Lots[0].Again {
		t.Errorf("a gauge over what the size holds: %+v", s.Lots[0])
	}
	count(t, c, "what", "cylinder", "act", "gone", "item", "uk-e", "batch", "7")
	if s = supply(t, c, "cylinder", "oxygen"); len(s.Lots) != 0 {
		t.Errorf("a cylinder that is gone: %+v", s)
	}
}

func TestAgentOnTheShelf(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	ctx := t.Context()
	count(t, c, "what", "agent", "act", "counted", "item", "ether", "batch", "E1", "volume", "500", "opened", "2026-03-02", "expires", "0327")
	if _, err := c.CountDrops(ctx, core.NewID(), "300", "5"); err != nil { // 60 to the mL
		t.Fatal(err)
	}
	id := openCase(t, c, "Invented Person")
	submit(t, c, id, "agent", "agent", "ether", "drops", "60")
	clock.pass(time.Hour)
	submit(t, c, id, "agent", "agent", "ether", "off", "yes")
	clock.pass(time.Minute)
	// 60 drops a minute at 60 to the mL: 60 mL in an hour.
	s := supply(t, c, "agent", "ether")
	contains(t, "60 drops a minute for an hour", s.OnHand, "440 mL")
	contains(t, "its day", s.Lots[0].Expires, "2027-03")
	if len(s.Cautions) == 0 || len(s.Sources) == 0 {
		t.Errorf("no caution or source: %+v", s)
	}
	// By the look of the gauze it is a range: 60 to 120 mL/h when wet.
	submit(t, c, id, "phase", "phase", "handed-over")
	two := openCase(t, c, "Another Invented")
	submit(t, c, two, "agent", "agent", "ether", "wetness", "wet")
	clock.pass(time.Hour)
	submit(t, c, two, "agent", "agent", "ether", "off", "yes")
	contains(t, "wet gauze for an hour", supply(t, c, "agent", "ether").OnHand, "320 to 380 mL")
	// More than there was.
	count(t, c, "what", "agent", "act", "counted", "item", "ether", "batch", "E1", "volume", "20")
	submit(t, c, two, "phase", "phase", "handed-over")
	three := openCase(t, c, "Third Invented")
	submit(t, c, three, "agent", "agent", "ether", "drops", "60")
	clock.pass(time.Hour)
	if s := supply(t, c, "agent", "ether"); !s.Again || s.OnHand != "0 mL" {
		t.Errorf("60 mL out of 20: %+v", s)
	}
	// A case that nobody writes in takes no more after an hour.
	count(t, c, "what", "agent", "act", "counted", "item", "ether", "batch", "E1", "volume", "1000")
	clock.pass(100 * time.Hour)
	contains(t, "an open case that was forgotten", supply(t, c, "agent", "ether").OnHand, "1000 mL")
}

func TestDrugsOnTheShelf(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	ctx := t.Context()
	count(t, c, "what", "drug", "act", "counted", "item", "ketamine", "batch", "OLD", "count", "1", "each", "500", "each_unit", "mg", "expires", "2026-03-20")
	count(t, c, "what", "drug", "act", "received", "item", "ketamine", "batch", "NEW", "count", "10", "each", "500", "each_unit", "mg", "expires", "2028-01")
	count(t, c, "what", "disposable", "act", "counted", "item", "gauze", "count", "3")
	id := openCase(t, c, "Invented Person")
	// Three doses of a fifth: from three parts of one to three whole ones. What
	// runs out first goes first.
	for range 3 {
		clock.pass(time.Minute)
		submit(t, c, id, "drug", "drug", "ketamine", "dose", "100", "dose_unit", "mg", "route", "iv")
	}
	clock.pass(time.Minute)
	s := supply(t, c, "drug", "ketamine")
	contains(t, "three doses", s.OnHand, "8 to 11")
	if s.Lots[0].Batch != "OLD" || s.Again && s.Lots[0].OnHand == "1" {
		t.Errorf("what runs out first: %+v", s.Lots)
	}
	count(t, c, "what", "drug", "act", "gone", "item", "ketamine", "batch", "NEW", "count", "2")
	contains(t, "two broke", supply(t, c, "drug", "ketamine").OnHand, "6 to 9")
	all, err := c.Supplies(ctx)
	if err != nil {
		t.Fatal(err)
	}
	if len(all.Expiring) != 1 || !strings.Contains(all.Expiring[0].Words, "OLD") || len(all.Expired) != 0 {
		t.Errorf("within a month: %+v %+v", all.Expiring, all.Expired)
	}
	clock.pass(20 * 24 * time.Hour)
	if all, err = c.Supplies(ctx); err != nil || len(all.Expired) != 1 {
		t.Errorf("run out: %+v %v", all.Expired, err)
	}
	var field *timeline.FieldError
	for name, f := range map[string]map[string][]string{
		"batch": {"what": {"drug"}, "act": {"counted"}, "item": {"ketamine"}, "count": {"3"}, "batch": {"for Mr X"}},
		"count": {"what": {"drug"}, "act": {"counted"}, "item": {"ketamine"}}, "expires": {"what": {"drug"}, "act": {"counted"}, "item": {"ketamine"}, "count": {"3"}, "expires": {"soon"}},
		"gauge": {"what": {"cylinder"}, "act": {"counted"}, "item": {"uk-e"}, "gauge": {"90"}},
	} {
		if _, err := c.Count(ctx, core.NewID(), f); !errors.As(err, &field) || field.Field != name {
			t.Errorf("%v: %v", f, err)
		}
	}
}

// TestSameStockOnTwoDevices: two devices count and use the same shelf, and
// come to the same once each has the other's lines, in whatever order.
func TestSameStockOnTwoDevices(t *testing.T) {
	clock := newClock()
	a, b := openAt(t, t.TempDir(), clock), openAt(t, t.TempDir(), clock)
	ctx := t.Context()
	lines := func(c *core.Companion) (all []*timeline.Line) {
		t.Helper()
		if err := c.All(ctx, func(l *timeline.Line) error { all = append(all, l); return nil }); err != nil {
			t.Fatal(err)
		}
		return all
	}
	use := func(c *core.Companion, who string, doses int) {
		t.Helper()
		id := openCase(t, c, who)
		submit(t, c, id, "phase", "phase", "anaesthesia-start")
		for range doses {
			clock.pass(time.Minute)
			submit(t, c, id, "drug", "drug", "atropine", "dose", "0.6", "dose_unit", "mg", "route", "iv")
		}
		submit(t, c, id, "phase", "phase", "handed-over")
	}
	count(t, a, "what", "drug", "act", "counted", "item", "atropine", "batch", "A1", "count", "20", "each", "0.6", "each_unit", "mg")
	if _, err := b.Merge(ctx, lines(a)); err != nil {
		t.Fatal(err)
	}
	use(a, "On the first", 3)
	use(b, "On the second", 4)
	if x, y := supply(t, a, "drug", "atropine").OnHand, supply(t, b, "drug", "atropine").OnHand; x != "17" || y != "16" {
		t.Errorf("before they met: %s and %s", x, y)
	}
	fromA, fromB := lines(a), lines(b)
	if _, err := a.Merge(ctx, fromB); err != nil {
		t.Fatal(err)
	}
	slices.Reverse(fromA)
	if _, err := b.Merge(ctx, fromA); err != nil {
		t.Fatal(err)
	}
	for _, c := range []*core.Companion{a, b} {
		s := supply(t, c, "drug", "atropine")
		if s.OnHand != "13" || s.Again {
			t.Errorf("20 less 3 and 4: %+v", s)
		}
	}
	// Each counts; the later count stands on both, and more than was there
	// reads so on both.
	clock.pass(time.Minute)
	count(t, a, "what", "drug", "act", "counted", "item", "atropine", "batch", "A1", "count", "5")
	clock.pass(time.Minute)
	count(t, b, "what", "drug", "act", "counted", "item", "atropine", "batch", "A1", "count", "2")
	use(a, "Third", 3)
	fromA, fromB = lines(a), lines(b)
	if _, err := a.Merge(ctx, fromB); err != nil {
		t.Fatal(err)
	}
	if _, err := b.Merge(ctx, fromA); err != nil {
		t.Fatal(err)
	}
	x, y := supply(t, a, "drug", "atropine"), supply(t, b, "drug", "atropine")
	if fmt.Sprint(x.OnHand, x.Again, x.Lots[0].OnHand) != fmt.Sprint(y.OnHand, y.Again, y.Lots[0].OnHand) || !x.Again {
		t.Errorf("%+v\n%+v", x, y)
	}
}

func TestPlannedCases(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	ctx := t.Context()
	id := openCase(t, c, "Invented Person")
	submit(t, c, id, "plan", "techniques", "open-drop", "agent", "ether", "drugs", "atropine", "drugs", "ketamine")
	count(t, c, "what", "agent", "act", "counted", "item", "ether", "batch", "E1", "volume", "1000")
	count(t, c, "what", "drug", "act", "counted", "item", "atropine", "count", "0")
	all, err := c.Supplies(ctx)
	if err != nil {
		t.Fatal(err)
	}
	found := map[string]core.SupplyOrder{}
	for _, o := range all.Order {
		found[o.Words] = o
	}
	if all.Planned != 1 || len(found) != 4 {
		t.Fatalf("%d planned: %+v", all.Planned, all.Order)
	}
	if o := found["ether"]; !strings.HasPrefix(o.Enough, "enough") || o.Amount != "" || o.Until != "2026-03-02" {
		t.Errorf("ether: %+v", o)
	}
	// Two pieces at the most and a quarter over: three to order.
	if o := found["atropine"]; !strings.HasPrefix(o.Enough, "not enough") || o.Amount != "3" {
		t.Errorf("atropine: %+v", o)
	}
	if o := found["ketamine"]; !strings.Contains(o.Enough, "not counted") {
		t.Errorf("ketamine: %+v", o)
	}
	faults, err := c.Faults(ctx, false)
	if err != nil || !slices.ContainsFunc(faults, func(f core.Fault) bool { return f.What == "shortage" && f.Name == "atropine" && f.Amount == "3" }) {
		t.Errorf("%+v %v", faults, err)
	}
	today, err := c.Today(ctx)
	if err != nil || len(today.Kit) != 1 || today.Kit[0].List != "open-drop" {
		t.Errorf("lists that matter: %+v %v", today.Kit, err)
	}
	// Wet gauze, 60 to 120 mL/h, for half an hour to two: 30 to 240 mL.
	contains(t, "cases left", supply(t, c, "agent", "ether").Cases, "4 to 33 cases")
}

func TestPlace(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	ctx := t.Context()
	read := func() core.Place {
		t.Helper()
		p, err := c.Place(ctx)
		if err != nil {
			t.Fatal(err)
		}
		return p
	}
	all := func(p core.Place) string {
		var b strings.Builder
		for _, w := range p.Warnings {
			for _, l := range w.Lines {
				b.WriteString(l.Text + "\n")
			}
		}
		return b.String()
	}
	p := read()
	contains(t, "sea level", all(p), "at least 0.5 L/min", "Under a cover", "boils at about 35")
	if strings.Contains(all(p), "At this height") || p.Warnings[0].Grave {
		t.Errorf("at sea level: %+v", p)
	}
	if _, err := c.SetPlace(ctx, core.NewID(), "altitude", "2400", "m"); err != nil {
		t.Fatal(err)
	}
	// 2400 m: 567 mmHg in the standard atmosphere of ISO 2533.
	p = read()
	contains(t, "height", p.Words, "2400 m", "567 mmHg")
	contains(t, "height", all(p), "leave too little oxygen")
	if !p.Warnings[0].Grave {
		t.Error("2400 m is not for the first screen")
	}
	clock.pass(time.Minute)
	// The standard atmosphere of ISO 2533 has 701 hPa at 3000 m.
	if _, err := c.SetPlace(ctx, core.NewID(), "barometer", "701", "hPa"); err != nil {
		t.Fatal(err)
	}
	if h, err := read().Height.Float64(read().Height.Unit); err != nil || h < 2995 || h > 3010 {
		t.Errorf("701 hPa is at %v m: %v", h, err)
	}
	clock.pass(time.Minute)
	if _, err := c.SetPlace(ctx, core.NewID(), "altitude", "100", "m"); err != nil {
		t.Fatal(err)
	}
	contains(t, "the later holds", read().Words, "100 m")
	for _, bad := range [][2]string{{"9000", "m"}, {"x", "m"}, {"", "m"}} {
		if _, err := c.SetPlace(ctx, core.NewID(), "altitude", bad[0], bad[1]); err == nil {
			t.Errorf("%v was taken", bad)
		}
	}
}

// Whatever was counted and used, low never lies over high, nor under nought as
// it is shown, and a count stands.
func TestStockKeepsItsOrder(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	id := openCase(t, c, "Invented Person")
	rapid.Check(t, func(rt *rapid.T) {
		for range rapid.IntRange(1, 4).Draw(rt, "acts") {
			clock.pass(time.Minute)
			n := rapid.IntRange(0, 9).Draw(rt, "n")
			switch act := rapid.SampledFrom([]string{"counted", "received", "gone", "used"}).Draw(rt, "act"); act {
			case "used":
				submit(t, c, id, "drug", "drug", "atropine", "dose", fmt.Sprint(1+n), "dose_unit", "mg", "route", "iv")
			default:
				count(t, c, "what", "drug", "act", act, "item", "atropine", "count", fmt.Sprint(n), "each", "1", "each_unit", "mg")
				if s := supply(t, c, "drug", "atropine"); act == "counted" && (s.OnHand != fmt.Sprint(n) || s.Again) {
					rt.Fatalf("counted %d: %+v", n, s)
				}
			}
		}
		for _, l := range supply(t, c, "drug", "atropine").Lots {
			if strings.HasPrefix(l.OnHand, "-") {
				rt.Fatalf("%+v", l)
			}
		}
	})
}

// What runs in comes off the shelf too: the whole of a run, with its changes of
// rate, from the ampoules that were drawn up for it.
func TestInfusionsOnTheShelf(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	count(t, c, "what", "drug", "act", "counted", "item", "ketamine", "count", "10", "each", "500", "each_unit", "mg")
	count(t, c, "what", "drug", "act", "counted", "item", "oxytocin", "count", "10", "each", "10", "each_unit", "[IU]")
	id := openCase(t, c, "Invented Person")
	clock.pass(time.Minute)
	done := submit(t, c, id, "infusion", "act", "started", "drug", "ketamine", "rate", "60", "rate_unit", "mL/h", "strength", "10", "strength_unit", "mg/mL", "route", "iv")
	run := done.Lines[0].Event.ID
	clock.pass(30 * time.Minute)
	// 30 mL of 10 mg/mL are 300 mg of an ampoule of 500 mg: of ten, 9 to 10 are left.
	contains(t, "it runs", supply(t, c, "drug", "ketamine").OnHand, "9 to 10")
	// The strength is not said again, and holds: 60 mL more are 900 mg in all.
	submit(t, c, id, "infusion", "act", "changed", "run", run, "drug", "ketamine", "rate", "120", "rate_unit", "mL/h")
	clock.pass(30 * time.Minute)
	submit(t, c, id, "infusion", "act", "stopped", "run", run, "drug", "ketamine")
	clock.pass(6 * time.Hour)
	contains(t, "it was stopped", supply(t, c, "drug", "ketamine").OnHand, "8 to 9")
	// One that nobody stops takes nothing more an hour after the last entry:
	// 10 IU an hour, one ampoule.
	submit(t, c, id, "infusion", "act", "started", "drug", "oxytocin", "rate", "10", "rate_unit", "[IU]/h", "route", "iv")
	clock.pass(12 * time.Hour)
	if n := supply(t, c, "drug", "oxytocin").OnHand; n != "9" {
		t.Errorf("nobody stopped it: %s", n)
	}
	// A dose that was written as a volume of a strength is an amount: 20 mL of
	// 10 mg/mL are 200 mg.
	submit(t, c, id, "drug", "drug", "ketamine", "dose", "20", "dose_unit", "mL", "strength", "10", "strength_unit", "mg/mL", "route", "iv")
	clock.pass(time.Minute)
	contains(t, "by volume", supply(t, c, "drug", "ketamine").OnHand, "7 to 8")
}

// A bottle by its fields: when it was opened, who filled it, whether it was
// smelt. What somebody else filled is not known until it is; filled anew, it is
// to be smelt anew.
func TestBottleByItsFields(t *testing.T) {
	clock := newClock() // 2 March 2026
	c := openAt(t, t.TempDir(), clock)
	bottle := func(fields ...string) core.SupplyLot {
		t.Helper()
		clock.pass(time.Minute)
		count(t, c, append([]string{"what", "agent", "act", "counted", "item", "ether", "batch", "E1", "volume", "300"}, fields...)...)
		s := supply(t, c, "agent", "ether")
		if len(s.Lots) != 1 {
			t.Fatalf("%+v", s.Lots)
		}
		return s.Lots[0]
	}
	notes := func(l core.SupplyLot) string { return strings.Join(l.Notes, "; ") }
	l := bottle("opened", "2026-03-01", "filled_by", "another")
	contains(t, "filled by another", notes(l), "somebody else", "opened 1", "Opened over a day ago")
	contains(t, "not smelt yet", l.Unknown, "smell before use")
	l = bottle("smelt", "yes")
	contains(t, "smelt", notes(l), "somebody else", "smells as it should", "opened 1")
	if l.Unknown != "" {
		t.Errorf("known by its smell: %q", l.Unknown)
	}
	contains(t, "filled anew", bottle("filled_by", "another").Unknown, "smell before use")
	contains(t, "smells otherwise", bottle("smelt", "no").Unknown, "do not use")
	if l = bottle("filled_by", "self", "opened", "2025-08-31"); l.Unknown != "" {
		t.Errorf("filled by whoever counts: %q", l.Unknown)
	}
	// 183 days: over half a year (Tufts University, peroxide-forming compounds:
	// ethers, opened, 6 months).
	contains(t, "half a year", notes(l), "Opened over half a year ago: peroxides")
	l = bottle("opened", "2025-09-01")
	if strings.Contains(notes(l), "half a year") {
		t.Errorf("182 days: %q", notes(l))
	}
	f, err := c.CountForm(t.Context(), "agent", "ether", l.Entry)
	if err != nil || f.OpenedWas != "2025-09-01" || len(f.OpenedOn) != 7 || f.OpenedOn[1].Code != "2026-03-01" || !strings.Contains(f.Filled, "who counts it") {
		t.Errorf("%+v %v", f, err)
	}
}

// What is expected of the operation, and when, decides how long the planned
// cases take of the shelf; and the order of the list, for whom there is not
// enough.
func TestExpectedStepsFeedTheSupplies(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	ctx := t.Context()
	count(t, c, "what", "agent", "act", "counted", "item", "ether", "batch", "E1", "volume", "200")
	count(t, c, "what", "cylinder", "act", "counted", "item", "other", "batch", "1", "water", "10", "gauge", "114", "gauge_unit", "bar")
	one, two := waitsFor(t, c, "The First", "34", "60", "+60"), waitsFor(t, c, "The Second", "40", "60", "+180")
	order := func(words string) core.SupplyOrder {
		t.Helper()
		all, err := c.Supplies(ctx)
		if err != nil {
			t.Fatal(err)
		}
		for _, o := range all.Order {
			if o.Words == words {
				return o
			}
		}
		t.Fatalf("%s is not in the plan: %+v", words, all.Order)
		return core.SupplyOrder{}
	}
	// Nobody said how long: each half an hour to two of wet gauze, 60 to 120
	// mL/h; 30 to 240 mL each.
	o := order("ether")
	if o.Needs != "60 to 480 mL" || o.Has != "200 mL" || !strings.HasPrefix(o.Enough, "perhaps") {
		t.Errorf("untold: %+v", o)
	}
	contains(t, "for whom", o.First, "surely for 0 of 2", "at best for 2", "The First", "09:00")
	// The last stitch is expected after 40 minutes: 30 to 75 minutes of each,
	// so 30 to 150 mL each, and 187.5 with a quarter over.
	clock.pass(time.Minute)
	for _, id := range []string{one, two} {
		for _, step := range [][2]string{{"knife", "10"}, {"closing-skin", "40"}} {
			if _, err := c.PlanStep(ctx, core.NewID(), id, step[0], step[1]); err != nil {
				t.Fatal(err)
			}
		}
	}
	o = order("ether")
	if o.Needs != "60 to 300 mL" || !strings.HasPrefix(o.Enough, "perhaps") || o.Amount != "175 mL" {
		t.Errorf("told: %+v", o)
	}
	contains(t, "for whom", o.First, "surely for 1 of 2", "at best for 2", "The Second", "11:00")
	// Oxygen at 1 to 4 L/min: 30 to 300 L each; of the 10 L at 114 bar 1002 are
	// left over the reserve of 200 psi.
	if o = order("Oxygen in cylinders"); o.Needs != "60 to 600 L" || !strings.HasPrefix(o.Enough, "enough") || o.First != "" || o.Amount != "" {
		t.Errorf("oxygen: %+v", o)
	}
	// They change places: now the first is not sure of his ether.
	if _, err := c.SwapStarts(ctx, core.NewID(), one, two); err != nil {
		t.Fatal(err)
	}
	contains(t, "after the list changed", order("ether").First, "surely for 1 of 2", "The First", "11:00")
	// A longer operation: not even at best.
	clock.pass(time.Minute)
	for _, id := range []string{one, two} {
		if _, err := c.PlanStep(ctx, core.NewID(), id, "closing-skin", "240"); err != nil {
			t.Fatal(err)
		}
	}
	// 180 to 375 minutes: 180 to 750 mL each.
	if o = order("ether"); o.Needs != "350 to 1500 mL" || !strings.HasPrefix(o.Enough, "not enough") || o.Amount != "1700 mL" || o.Least != "160 mL" {
		t.Errorf("four hours: %+v", o)
	}
	// A step that is no end only lengthens.
	if _, err := c.PlanStep(ctx, core.NewID(), one, "closing-skin", "none"); err != nil {
		t.Fatal(err)
	}
	if _, err := c.PlanStep(ctx, core.NewID(), two, "closing-skin", "none"); err != nil {
		t.Fatal(err)
	}
	if o = order("ether"); o.Needs != "60 to 480 mL" {
		t.Errorf("a knife alone: %+v", o)
	}
}

// Every agent that comes as a liquid is told in cases left, from the liquid
// that a percentage takes: halothane at once to twice 0.75 % of 4 to 10 L/min.
func TestCasesLeftOfAnyAgent(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	for _, a := range []string{"halothane", "isoflurane", "sevoflurane", "ether", "trichloroethylene", "methoxyflurane"} {
		count(t, c, "what", "agent", "act", "counted", "item", a, "volume", "250")
		if s := supply(t, c, "agent", a); !strings.Contains(s.Cases, "cases") {
			t.Errorf("%s: %+v", a, s)
		}
	}
	// mL/h = % x L/min x 600 / 227.7: 0.75 % of 4 L/min are 7.9 mL/h, with
	// vaporisers 15 % off and real vapour 4 % more 6.5, to a tenth; 1.5 % of 10 L/min 39.5,
	// at the most 45.5. Half an hour to two hours: 3.25 to 91 mL a case.
	contains(t, "halothane", supply(t, c, "agent", "halothane").Cases, "2 to 76 cases")
}

// A per cent takes liquid by the minute volume: that which is given by hand or
// machine, where it was said, and by weight before and after.
func TestMinuteVolumeTakesLiquid(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	count(t, c, "what", "agent", "act", "counted", "item", "halothane", "volume", "250")
	id := openCase(t, c, "Invented Person") // 52 kg
	submit(t, c, id, "agent", "agent", "halothane", "percent", "1")
	submit(t, c, id, "support", "support", "controlled", "tidal", "500", "tidal_unit", "mL", "rate", "20", "rate_unit", "/min")
	clock.pass(time.Hour)
	submit(t, c, id, "agent", "agent", "halothane", "off", "yes")
	clock.pass(time.Minute)
	// 1 % of 10 L/min for an hour: 26.4 mL, by the published densities; 21.5 to
	// 30.3 with what vaporisers and real vapour stray. By the weight alone it
	// would be 8.4 to 19.7.
	contains(t, "10 L/min given", supply(t, c, "agent", "halothane").OnHand, "215 to 230 mL")
	// Breathing alone again: 3.9 to 6.5 L/min by the weight, so 8.4 to 19.7 mL
	// more in an hour.
	submit(t, c, id, "support", "support", "spontaneous")
	submit(t, c, id, "agent", "agent", "halothane", "percent", "1")
	clock.pass(time.Hour)
	submit(t, c, id, "agent", "agent", "halothane", "off", "yes")
	clock.pass(time.Minute)
	contains(t, "breathing alone", supply(t, c, "agent", "halothane").OnHand, "195 to 225 mL")
}

// What runs in by counted drops takes a range of pieces: by the set that it was
// hung with, a tenth to either side; by sets of 60 to 10 drops where nobody said.
func TestDropsOnTheShelf(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	id := openCase(t, c, "Invented Person")
	run := func() {
		clock.pass(time.Minute)
		count(t, c, "what", "drug", "act", "counted", "item", "ketamine", "count", "10", "each", "500", "each_unit", "mg")
		clock.pass(time.Minute)
		done := submit(t, c, id, "infusion", "act", "started", "drug", "ketamine", "rate", "40", "rate_unit", "{drop}/min", "strength", "10", "strength_unit", "mg/mL", "route", "iv")
		clock.pass(time.Hour)
		submit(t, c, id, "infusion", "act", "stopped", "run", done.Lines[0].Event.ID, "drug", "ketamine")
		clock.pass(time.Minute)
	}
	run()
	// 2400 drops: 40 mL of 60 to 240 mL of 10, with a tenth 36 to 264 mL of 10
	// mg/mL: 0.72 to 5.28 ampoules.
	contains(t, "no set is known", supply(t, c, "drug", "ketamine").OnHand, "4 to 10")
	if _, err := c.SetClinic(t.Context(), core.NewID(), "giving-set", "20"); err != nil {
		t.Fatal(err)
	}
	run()
	// 120 mL of 20, with a tenth 108 to 132 mL: 2.16 to 2.64 ampoules.
	contains(t, "a set of 20", supply(t, c, "drug", "ketamine").OnHand, "7 to 8")
}

// A bottle that smells of something else is no stock, and is promised to nobody,
// until it smells as it should; one that somebody else filled counts at best.
func TestBottleThatSmellsOtherwise(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	smell := func(fields ...string) core.SupplyItem {
		t.Helper()
		clock.pass(time.Minute)
		count(t, c, append([]string{"what", "agent", "act", "counted", "item", "ether", "batch", "E1", "volume", "1000"}, fields...)...)
		return supply(t, c, "agent", "ether")
	}
	id := openCase(t, c, "Invented Person")
	submit(t, c, id, "plan", "techniques", "open-drop", "agent", "ether")
	enough := func() string {
		t.Helper()
		all, err := c.Supplies(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		i := slices.IndexFunc(all.Order, func(o core.SupplyOrder) bool { return o.Words == "ether" })
		return all.Order[i].Enough
	}
	if s := smell("filled_by", "self"); s.OnHand != "1000 mL" || !strings.HasPrefix(enough(), "enough") {
		t.Errorf("filled by whoever counts: %s, %s", s.OnHand, enough())
	}
	if s := smell("smelt", "no"); s.OnHand != "0 mL" || !strings.HasPrefix(enough(), "not enough") || s.Lots[0].OnHand != "1000 mL" {
		t.Errorf("smells otherwise: %s, %s", s.OnHand, enough())
	}
	// A case takes nothing from it.
	submit(t, c, id, "agent", "agent", "ether", "wetness", "wet")
	clock.pass(30 * time.Minute)
	submit(t, c, id, "agent", "agent", "ether", "off", "yes")
	if l := supply(t, c, "agent", "ether").Lots[0]; l.OnHand != "1000 mL" {
		t.Errorf("a case took from it: %s", l.OnHand)
	}
	if s := smell("smelt", "yes"); s.OnHand != "1000 mL" {
		t.Errorf("smelt again: %s", s.OnHand)
	}
	if s := smell("filled_by", "another"); s.OnHand != "0 to 1000 mL" {
		t.Errorf("filled by somebody else, and not smelt: %s", s.OnHand)
	}
}

// A case on the table keeps what it is likely still to take before the next is
// promised anything.
func TestRunningCaseKeepsItsOwn(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	ctx := t.Context()
	count(t, c, "what", "agent", "act", "counted", "item", "ether", "batch", "E1", "volume", "400")
	count(t, c, "what", "drug", "act", "counted", "item", "ketamine", "count", "4")
	count(t, c, "what", "disposable", "act", "counted", "item", "gauze", "count", "3")
	now := waitsFor(t, c, "The First", "34", "60", "+0")
	next := waitsFor(t, c, "The Second", "40", "60", "+180")
	for _, id := range []string{now, next} {
		clock.pass(time.Second)
		submit(t, c, id, "plan", "techniques", "open-drop", "agent", "ether", "drugs", "ketamine", "start_in", "+60")
	}
	orders := func() map[string]core.SupplyOrder {
		t.Helper()
		all, err := c.Supplies(ctx)
		if err != nil {
			t.Fatal(err)
		}
		by := map[string]core.SupplyOrder{}
		for _, o := range all.Order {
			by[o.Words] = o
		}
		return by
	}
	o := orders()
	if o["ether"].Kept != "" || o["gauze"].Needs != "2 to 8" || !strings.HasPrefix(o["gauze"].Enough, "perhaps") {
		t.Errorf("both wait: %+v, %+v", o["ether"], o["gauze"])
	}
	// The first begins: half an hour to two of 60 to 120 mL/h, 30 to 240 mL, are
	// its own, and up to two pieces of what it was not given yet.
	submit(t, c, now, "phase", "phase", "anaesthesia-start")
	o = orders()
	if e := o["ether"]; !strings.HasPrefix(e.Kept, "30 to 240 mL kept back") || e.Needs != "30 to 240 mL" || e.Has != "160 to 370 mL" || !strings.HasPrefix(e.Enough, "perhaps") {
		t.Errorf("one runs: %+v", e)
	}
	if k := o["ketamine"]; k.Has != "2 to 4" || !strings.Contains(k.Kept, "0 to 2") {
		t.Errorf("one runs: %+v", k)
	}
	// An hour later less is left of it, and a drug that was given is not kept twice.
	clock.pass(55 * time.Minute)
	submit(t, c, now, "drug", "drug", "ketamine", "dose", "50", "dose_unit", "mg", "route", "iv")
	clock.pass(5 * time.Minute)
	o = orders()
	if e := o["ether"]; !strings.HasPrefix(e.Kept, "0 to 120 mL kept back") {
		t.Errorf("an hour later: %+v", e)
	}
	if k := o["ketamine"]; k.Kept != "" {
		t.Errorf("it was given: %+v", k)
	}
	submit(t, c, now, "phase", "phase", "handed-over")
	if e := orders()["ether"]; e.Kept != "" {
		t.Errorf("it is over: %+v", e)
	}
}
