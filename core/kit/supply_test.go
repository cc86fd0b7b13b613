package kit

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"chinlift/core/quantity"
	"chinlift/core/term"
)

func am(s string) quantity.Amount {
	if s == "" {
		return quantity.Amount{}
	}
	return quantity.MustParse(s)
}

func size(t testing.TB, code string) Cylinder {
	t.Helper()
	c, err := CylinderOf(code)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// f64 reads an amount for a comparison.
func f64(t interface{ Fatal(...any) }, a quantity.Amount, u quantity.Unit) float64 {
	x, err := a.Float64(u)
	if err != nil {
		t.Fatal(err)
	}
	return x
}

func TestCylinderTables(t *testing.T) {
	const (
		uk    = "sizes of the United Kingdom, teaching page; G and J from memory"
		water = "water capacity x bar"
		us    = "tank factor x psi, teaching pages"
		full  = "StatPearls, Gas Cylinders, 2023, 2200 psig"
	)
	for _, c := range []struct{ size, gauge, value, low, high, source string }{
		{"uk-c", "137 bar", "170 L", "164 L", "170 L", uk},
		{"uk-d", "137 bar", "340 L", "315 L", "340 L", uk},
		{"uk-e", "137 bar", "680 L", "643 L", "680 L", uk},
		{"uk-f", "137 bar", "1360 L", "1287 L", "1360 L", uk},
		{"uk-g", "137 bar", "3400 L", "3233 L", "3400 L", uk},
		{"uk-j", "137 bar", "6800 L", "6466 L", "6800 L", uk},
		{"uk-e", "13700 kPa", "680 L", "643 L", "680 L", "137 bar in kPa"},
		{"uk-e", "68.5 bar", "340 L", "321 L", "340 L", "half the pressure, half the oxygen"},
		{"us-d", "2000 [psi]", "320 L", "320 L", "386 L", us},
		{"us-e", "1900 [psi]", "532 L", "532 L", "570 L", us},
		{"us-m", "2200 [psi]", "3432 L", "3432 L", "3450 L", us},
		{"us-h", "2200 [psi]", "6908 L", "", "", us + "; a cylinder sheet has 6900"},
		{"us-b", "2200 [psi]", "200 L", "", "", full},
		{"us-f", "2200 [psi]", "1360 L", "", "", full},
		{"us-m", "2000 [psi]", "3120 L", "3120 L", "3136 L", us + "; " + full},
		{"us-g", "2000 [psi]", "3090 L", "3090 L", "4820 L", full + ", lower than the tank factor"},
		{"us-h", "2000 [psi]", "6280 L", "", "", us},
		{"us-e", "2200 [psi]", "616 L", "616 L", "660 L", full + " is the high end"},
		{"us-d", "2200 [psi]", "352 L", "352 L", "425 L", full + " is the high end; a cylinder sheet has 350"},
		{"us-g", "2200 [psi]", "3400 L", "3400 L", "5302 L", full + "; the tank factor is the high end"},
	} {
		a, err := Oxygen(am("0 bar"), Reading{size(t, c.size), am(c.gauge)})
		if err != nil || a.Value != am(c.value) || a.Low != am(c.low) || a.High != am(c.high) {
			t.Errorf("%s at %s: %s, %s to %s (%v), want %s, %s to %s (%s)", c.size, c.gauge, a.Value, a.Low, a.High, err, c.value, c.low, c.high, c.source)
		}
	}
	// Water capacity x bar, as an ideal gas.
	for _, c := range []struct{ water, gauge, want string }{
		{"10 L", "150 bar", "1500 L"}, {"40 L", "150 bar", "6000 L"}, {"50 L", "200 bar", "10000 L"}, {"4.7 L", "100 bar", "470 L"},
	} {
		cyl, err := CylinderOfWater(am(c.water))
		if err != nil {
			t.Fatal(err)
		}
		if a, err := Oxygen(am("0 bar"), Reading{cyl, am(c.gauge)}); err != nil || a.Value != am(c.want) || !slices.Contains(a.Cautions, StampedWater) {
			t.Errorf("%s at %s: %s %v (%v), want %s", c.water, c.gauge, a.Value, a.Cautions, err, c.want)
		}
	}
}

func TestMinutesPublished(t *testing.T) {
	for _, c := range []struct{ size, gauge, reserve, flow, want, source string }{
		{"us-d", "2000 [psi]", "200 [psi]", "15 L/min", "19.2 min", "1800 x 0.16 / 15, teaching pages on tank duration"},
		{"us-d", "2000 [psi]", "200 [psi]", "0.5 L/min", "576 min", "1800 x 0.16 / 0.5, page on tank duration"},
		{"us-e", "1200 [psi]", "200 [psi]", "4 L/min", "70 min", "1000 x 0.28 / 4, teaching pages on tank duration"},
		{"us-e", "1900 [psi]", "0 [psi]", "5 L/min", "106.4 min", "1900 x 0.28 / 5"},
		{"us-e", "750 [psi]", "200 [psi]", "10 L/min", "15.4 min", "750 psi is the least for 15 min at 10 L/min: cylinder sheet of an ambulance service, after 12VAC5-31-860"},
		{"us-d", "1150 [psi]", "200 [psi]", "10 L/min", "15.2 min", "1150 psi is the least for 15 min at 10 L/min: the same"},
		{"us-h", "300 [psi]", "200 [psi]", "10 L/min", "31.4 min", "300 psi is the least for 30 min at 10 L/min: the same"},
		{"uk-e", "137 bar", "0 bar", "2 L/min", "340 min", "680 / 2"},
		{"uk-e", "68.5 bar", "0 bar", "2 L/min", "170 min", "340 / 2"},
		{"uk-f", "137 bar", "0 bar", "8 L/min", "170 min", "1360 / 8"},
	} {
		a, err := Minutes(am(c.flow), am(c.reserve), Reading{size(t, c.size), am(c.gauge)})
		if err != nil || a.Value != am(c.want) {
			t.Errorf("%s at %s, %s less %s: %s (%v), want %s (%s)", c.size, c.gauge, c.flow, c.reserve, a.Value, err, c.want, c.source)
		}
	}
	// 680 L last 45.3 min at 15 L/min; at the most 68 min at 10, at the least
	// 643.9 / 15.
	a, err := CrisisMinutes(am("0 bar"), Reading{size(t, "uk-e"), am("137 bar")})
	if err != nil || a.Value != am("45.3 min") || a.Low != am("42.9 min") || a.High != am("68 min") {
		t.Errorf("crisis: %s, %s to %s (%v)", a.Value, a.Low, a.High, err)
	}
	// Two cylinders one after the other.
	e := Reading{size(t, "uk-e"), am("137 bar")}
	if a, err := Minutes(am("2 L/min"), am("0 bar"), e, e); err != nil || a.Value != am("680 min") {
		t.Errorf("two: %s (%v)", a.Value, err)
	}
}

func TestCylinderCautions(t *testing.T) {
	for _, c := range []struct {
		size, gauge, reserve string
		has, not             []Caution
	}{
		{"uk-e", "137 bar", "0 bar", []Caution{Estimate, GaugeWarm, FromMemory}, []Caution{OverFull, UnderHalf, BelowReserve, SizesDiffer, StampedWater}},
		{"uk-e", "150 bar", "14 bar", []Caution{OverFull}, []Caution{UnderHalf}},
		{"uk-e", "68 bar", "14 bar", []Caution{UnderHalf}, []Caution{OverFull}},
		// A spare is at least half full, 1000 psi (Food and Drug Administration,
		// 1993, second-hand); half of 2200 psi, the pressure of the table, is more.
		{"us-e", "999 [psi]", "200 [psi]", []Caution{UnderHalf}, nil},
		{"us-e", "1100 [psi]", "200 [psi]", nil, []Caution{UnderHalf}},
		{"us-e", "150 [psi]", "200 [psi]", []Caution{BelowReserve, UnderHalf}, []Caution{OverFull}},
		{"us-g", "2000 [psi]", "200 [psi]", []Caution{SizesDiffer}, []Caution{UnderHalf}},
		{"us-d", "2000 [psi]", "200 [psi]", []Caution{SizesDiffer}, []Caution{UnderHalf}},
		{"us-e", "2000 [psi]", "200 [psi]", nil, []Caution{SizesDiffer}},
	} {
		a, err := Minutes(am("2 L/min"), am(c.reserve), Reading{size(t, c.size), am(c.gauge)})
		if err != nil {
			t.Fatal(err)
		}
		has(t, c.size+" at "+c.gauge, a, c.has, c.not)
	}
	if a, err := Minutes(am("2 L/min"), Reserve, Reading{size(t, "us-e"), am("150 [psi]")}); err != nil || a.Value != am("0 min") {
		t.Errorf("under the reserve: %s (%v), want 0 min", a.Value, err)
	}
}

// has holds an answer to its cautions, and to having sources.
func has(t *testing.T, what string, a Answer, want, not []Caution) {
	t.Helper()
	for _, c := range want {
		if !slices.Contains(a.Cautions, c) {
			t.Errorf("%s: no caution %s in %v", what, c, a.Cautions)
		}
	}
	for _, c := range not {
		if slices.Contains(a.Cautions, c) {
			t.Errorf("%s: caution %s", what, c)
		}
	}
	for _, s := range a.Sources {
		if s.Title == "" || !term.MarkList.Has(s.Mark) {
			t.Errorf("%s: source %+v", what, s)
		}
	}
}

func readings() *rapid.Generator[[]Reading] {
	return rapid.SliceOfN(rapid.Custom(func(t *rapid.T) Reading {
		c := rapid.SampledFrom(Cylinders).Draw(t, "cylinder")
		return Reading{c, am(fmt.Sprintf("%d kPa", rapid.IntRange(0, 14000).Draw(t, "gauge")))}
	}), 1, 3)
}

// More flow never lasts longer, more in the cylinder never shorter, the reserve
// stays in, and value and crisis lie within the range.
func TestCylinderProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		list := readings().Draw(t, "cylinders")
		flow := rapid.IntRange(1, 300).Draw(t, "flow")
		reserve := rapid.IntRange(0, 5000).Draw(t, "reserve")
		minutes := func(tenthsPerMin, reserveKPa int, list []Reading) (v, low, high float64) {
			a, err := Minutes(am(fmt.Sprintf("%d.%d L/min", tenthsPerMin/10, tenthsPerMin%10)), am(fmt.Sprintf("%d kPa", reserveKPa)), list...)
			if err != nil {
				t.Fatal(err)
			}
			v = f64(t, a.Value, quantity.Minute)
			if low, high = v, v; !a.Low.IsZero() {
				low, high = f64(t, a.Low, quantity.Minute), f64(t, a.High, quantity.Minute)
			}
			if low > v || v > high {
				t.Fatalf("%f is not within %f to %f", v, low, high)
			}
			return v, low, high
		}
		v, _, _ := minutes(flow, reserve, list)
		if w, _, _ := minutes(flow+rapid.IntRange(1, 100).Draw(t, "more flow"), reserve, list); w > v {
			t.Fatalf("more flow lasts longer: %f after %f", w, v)
		}
		if w, _, _ := minutes(flow, reserve+rapid.IntRange(1, 1000).Draw(t, "more reserve"), list); w > v {
			t.Fatalf("more reserve lasts longer: %f after %f", w, v)
		}
		more := slices.Clone(list)
		g := &more[rapid.IntRange(0, len(list)-1).Draw(t, "which")].Gauge
		var err error
		if *g, err = g.Add(am(fmt.Sprintf("%d kPa", rapid.IntRange(0, 1000).Draw(t, "more")))); err != nil {
			t.Fatal(err)
		}
		if w, _, _ := minutes(flow, reserve, more); w < v {
			t.Fatalf("a fuller cylinder lasts shorter: %f after %f", w, v)
		}
		// What the flow takes in that time is no more than what is over the
		// reserve; both were rounded down.
		o, err := Oxygen(am(fmt.Sprintf("%d kPa", reserve)), list...)
		if err != nil {
			t.Fatal(err)
		}
		if taken, there := v*float64(flow)/10, f64(t, o.Value, quantity.L); taken > there+1 {
			t.Fatalf("%f L taken of %f over the reserve", taken, there)
		}
		c, err := CrisisMinutes(am(fmt.Sprintf("%d kPa", reserve)), list...)
		if err != nil {
			t.Fatal(err)
		}
		if w, _, _ := minutes(150, reserve, list); f64(t, c.Value, quantity.Minute) != w {
			t.Fatalf("crisis %s, %f min at 15 L/min", c.Value, w)
		}
	})
}

func TestConcentrator(t *testing.T) {
	a, err := Concentrator{Rated: am("5 L/min")}.Percent(am("4 L/min"))
	if err != nil || a.Value != am("93 %") || a.Low != am("90 %") || a.High != am("96 %") {
		t.Errorf("%s, %s to %s (%v); want 93 plus or minus 3 %% (article in a journal of military health)", a.Value, a.Low, a.High, err)
	}
	has(t, "not measured", a, []Caution{NotMeasured, NeedsCurrent, Estimate}, []Caution{WeakOxygen})
	if a, err = (Concentrator{Rated: am("5 L/min"), Measured: am("95.4 %")}).Percent(am("5 L/min")); err != nil || a.Value != am("95.4 %") || !a.Low.IsZero() {
		t.Errorf("measured: %s, %s (%v)", a.Value, a.Low, err)
	}
	has(t, "measured", a, []Caution{NeedsCurrent}, []Caution{WeakOxygen, NotMeasured})
	if a, err = (Concentrator{Rated: am("5 L/min"), Measured: am("81.9 %")}).Percent(am("5 L/min")); err != nil {
		t.Error(err)
	}
	has(t, "weak", a, []Caution{WeakOxygen}, nil)
}

func TestLiquidUse(t *testing.T) {
	// % x L/min x 600 over the vapour of a mL, by the published densities and
	// molar masses of package agent; to the digit that the rule was worked to.
	for _, c := range []struct {
		agent           term.Agent
		percent, volume string
		want, within    float64 // mL/h
	}{
		{term.AgentEther, "10 %", "8 L/min", 207, 0.5}, {term.AgentEther, "6 %", "8 L/min", 124, 0.5}, {term.AgentEther, "3 %", "6 L/min", 47, 0.5},
		{term.AgentHalothane, "1 %", "6 L/min", 15.8, 0.05}, {term.AgentIsoflurane, "1.5 %", "6 L/min", 27.7, 0.05}, {term.AgentSevoflurane, "2.5 %", "6 L/min", 49.2, 0.05},
	} {
		a, err := LiquidUse(c.agent, am(c.percent), am(c.volume), am("0 m"))
		if err != nil {
			t.Fatal(err)
		}
		got := f64(t, a.Value, quantity.MLPerH)
		if math.Abs(got-c.want) > c.within+1e-9 {
			t.Errorf("%s %s of %s: %s, want %g mL/h", c.agent, c.percent, c.volume, a.Value, c.want)
		}
		// The rule of thumb 3 mL/h for each % and L/min (Dhulkhed and others,
		// Indian J Anaesth 2013;57:455) lies within the range, of ether within
		// a quarter.
		x, v := f64(t, am(c.percent), quantity.Percent), f64(t, am(c.volume), quantity.LPerMin)
		if rule := 3 * x * v; math.Abs(rule/got-1) > 0.25 {
			t.Errorf("%s: the rule gives %g, here %g", c.agent, rule, got)
		}
		has(t, string(c.agent), a, []Caution{Estimate, DialIsNotOutput, StandardDay}, []Caution{SeaLevelTaken})
		if low, high := f64(t, a.Low, quantity.MLPerH), f64(t, a.High, quantity.MLPerH); low >= got || high <= got {
			t.Errorf("%s: %s to %s around %s", c.agent, a.Low, a.High, a.Value)
		}
	}
	// A true per cent takes less liquid where the air is thin: 596.3 of 760 mmHg
	// at 2000 m (ISO 2533).
	sea, err := LiquidUse(term.AgentEther, am("10 %"), am("8 L/min"), quantity.Amount{})
	if err != nil {
		t.Fatal(err)
	}
	has(t, "no height", sea, []Caution{SeaLevelTaken}, []Caution{StandardDay})
	high, err := LiquidUse(term.AgentEther, am("10 %"), am("8 L/min"), am("2000 m"))
	if err != nil {
		t.Fatal(err)
	}
	if got, want := f64(t, high.Value, quantity.MLPerH)/f64(t, sea.Value, quantity.MLPerH), 596.3/760; math.Abs(got-want) > 0.001 {
		t.Errorf("at 2000 m %g of that at sea level, want %g", got, want)
	}
}

func TestDrops(t *testing.T) {
	a, err := DropsPerML(am("300 {drop}"), am("5 mL"))
	if err != nil || a.Value != am("60 {drop}/mL") || a.Low != am("58.6 {drop}/mL") || a.High != am("61.4 {drop}/mL") {
		t.Errorf("300 drops in 5 mL: %s, %s to %s (%v)", a.Value, a.Low, a.High, err)
	}
	has(t, "5 mL", a, []Caution{ThisBottle, Estimate}, []Caution{CountMore, CountDrops})
	use, err := DropUse(am("120 {drop}/min"), a)
	if err != nil || use.Value != am("120 mL/h") || use.Low != am("117.3 mL/h") || use.High != am("122.9 mL/h") {
		t.Errorf("120 drops/min of 60 in a mL: %s, %s to %s (%v)", use.Value, use.Low, use.High, err)
	}
	if a, err = DropsPerML(am("30 {drop}"), am("1 mL")); err != nil || a.Value != am("30 {drop}/mL") {
		t.Errorf("30 drops in 1 mL: %s (%v)", a.Value, err)
	}
	has(t, "1 mL", a, []Caution{CountMore}, nil)
	if use, err = DropUse(am("60 {drop}/min"), UncountedDrops()); err != nil || use.Value != am("90 mL/h") || use.Low != am("60 mL/h") || use.High != am("144 mL/h") {
		t.Errorf("not counted: %s, %s to %s (%v)", use.Value, use.Low, use.High, err)
	}
	has(t, "not counted", use, []Caution{CountDrops, FromMemory, Estimate}, nil)
	// A number alone is a count without a range, as it stands in a setting.
	if use, err = DropUse(am("45 {drop}/min"), Answer{Value: am("40 {drop}/mL")}); err != nil || use.Value != am("67.5 mL/h") || !use.Low.IsZero() {
		t.Errorf("a plain count: %s, %s (%v)", use.Value, use.Low, err)
	}
	before := UncountedDrops().Cautions
	for range 3 {
		if _, err := DropUse(am("60 {drop}/min"), UncountedDrops()); err != nil {
			t.Fatal(err)
		}
	}
	if !slices.Equal(before, UncountedDrops().Cautions) {
		t.Error("an answer's cautions went into another's")
	}
}

func TestWetUse(t *testing.T) {
	last := -1.0
	for _, w := range term.WetnessList.Codes() {
		a, err := WetUse(w)
		if err != nil {
			t.Fatal(err)
		}
		low, v, high := f64(t, a.Low, quantity.MLPerH), f64(t, a.Value, quantity.MLPerH), f64(t, a.High, quantity.MLPerH)
		if low >= v || v >= high || v <= last {
			t.Errorf("%s: %g in %g to %g after %g", w, v, low, high, last)
		}
		last = v
		has(t, string(w), a, []Caution{Guess, Estimate}, nil)
	}
}

func TestLastsAndOver(t *testing.T) {
	use := Answer{Value: am("120 mL/h"), Low: am("100 mL/h"), High: am("150 mL/h")}
	a, err := Lasts(am("500 mL"), use)
	if err != nil || a.Value != am("4.1 h") || a.Low != am("3.3 h") || a.High != am("5 h") {
		t.Errorf("lasts %s, %s to %s (%v)", a.Value, a.Low, a.High, err)
	}
	if a, err = Lasts(am("680 L"), Answer{Value: am("2 L/min")}); err != nil || a.Value != am("5.6 h") || !a.Low.IsZero() {
		t.Errorf("oxygen lasts %s, %s (%v)", a.Value, a.Low, err)
	}
	if a, err = Lasts(am("100 mL"), Answer{Value: am("15 mL/h"), Low: am("0 mL/h"), High: am("30 mL/h")}); err != nil || a.Low != am("3.3 h") || !a.High.IsZero() {
		t.Errorf("with no low end: %s to %s (%v)", a.Low, a.High, err)
	}
	if a, err = Over(use, am("1 h"), am("90 min")); err != nil || a.Value != am("180 mL") || a.Low != am("100 mL") || a.High != am("225 mL") {
		t.Errorf("over: %s, %s to %s (%v)", a.Value, a.Low, a.High, err)
	}
	if a, err = Over(Answer{Value: am("2 L/min")}, am("60 min"), am("2 h")); err != nil || a.Low != am("120 L") || a.High != am("240 L") {
		t.Errorf("oxygen over: %s to %s (%v)", a.Low, a.High, err)
	}
	// The longest that a volume lasts takes no more than the volume.
	rapid.Check(t, func(t *rapid.T) {
		v, rate := rapid.IntRange(0, 5000).Draw(t, "mL"), rapid.IntRange(1, 500).Draw(t, "mL/h")
		use := Answer{Value: am(fmt.Sprintf("%d mL/h", rate))}
		a, err := Lasts(am(fmt.Sprintf("%d mL", v)), use)
		if err != nil {
			t.Fatal(err)
		}
		if h := f64(t, a.Value, quantity.Hour); h*float64(rate) > float64(v)+1e-9 || (h+0.1)*float64(rate) < float64(v)-1e-9 {
			t.Fatalf("%d mL last %s at %d mL/h", v, a.Value, rate)
		}
	})
}

func TestBottle(t *testing.T) {
	ether := Bottle{Agent: term.AgentEther, Received: "2026-01-10"}
	opened := func(b Bottle, on string) Bottle {
		b.Opened = on
		return b
	}
	for _, c := range []struct {
		b        Bottle
		on, days string
		has, not []Caution
	}{
		{ether, "2026-11-25", "319 d", []Caution{PeroxidesExplode}, []Caution{ClosedOverAYear, OpenedOverADay, Expired}},
		{ether, "2027-01-10", "365 d", nil, []Caution{ClosedOverAYear}},
		{ether, "2027-01-11", "366 d", []Caution{ClosedOverAYear}, nil}, // Tufts: closed, one year
		{opened(ether, "2026-11-25"), "2026-11-25", "0 d", nil, []Caution{OpenedOverADay, OpenedHalfAYear}},
		{opened(ether, "2026-11-24"), "2026-11-25", "1 d", []Caution{OpenedOverADay}, []Caution{OpenedHalfAYear}}, // International Pharmacopoeia: 24 hours
		{opened(ether, "2026-05-27"), "2026-11-25", "182 d", []Caution{OpenedOverADay}, []Caution{OpenedHalfAYear}},
		{opened(ether, "2026-05-26"), "2026-11-25", "183 d", []Caution{OpenedHalfAYear}, nil}, // Tufts: opened, six months
		{Bottle{Agent: term.AgentEther, Received: "2026-11-01", Expires: "2026-10"}, "2026-11-01", "0 d", []Caution{Expired}, nil},
		{Bottle{Agent: term.AgentEther, Received: "2026-11-01", Expires: "2026-11"}, "2026-11-30", "29 d", nil, []Caution{Expired}},
		{Bottle{Agent: term.AgentHalothane, Opened: "2020-02-28"}, "2020-03-01", "2 d", nil, []Caution{OpenedOverADay, PeroxidesExplode}}, // a leap year
	} {
		a, err := c.b.Age(c.on)
		if err != nil || a.Value != am(c.days) {
			t.Errorf("%+v on %s: %s (%v), want %s", c.b, c.on, a.Value, err, c.days)
		}
		has(t, fmt.Sprintf("%+v on %s", c.b, c.on), a, c.has, c.not)
	}
}

func TestExpiring(t *testing.T) {
	lots := []Lot{
		{"adrenaline", "A1", "2026-12-24", am("10 1")}, {"adrenaline", "A2", "2026-11-24", am("3 1")}, {"adrenaline", "A3", "2026-11-25", am("3 1")},
		{"atropine", "B1", "2026-11", am("5 1")}, {"atropine", "B2", "2026-12-26", am("5 1")}, {"gauze", "", "", am("40 1")}, {"ether", "E1", "2026-10", am("0 mL")},
		{"ketamine", "K1", "2026-10", am("2 1")},
	}
	over, soon, err := Expiring(lots, "2026-11-25", 30)
	if err != nil {
		t.Fatal(err)
	}
	short := func(list []Due) string {
		s := ""
		for _, d := range list {
			s += fmt.Sprintf("%s %d ", d.Lot.Batch, d.Days)
		}
		return s
	}
	if got, want := short(over), "K1 -25 A2 -1 "; got != want {
		t.Errorf("over %s, want %s", got, want)
	}
	if got, want := short(soon), "A3 0 B1 5 A1 29 "; got != want {
		t.Errorf("soon %s, want %s", got, want)
	}
}

func TestOnHand(t *testing.T) {
	m := func(what What, amount string) Movement { return Movement{what, am(amount)} }
	for name, c := range map[string]struct {
		list []Movement
		want string
	}{
		"counted and used":     {[]Movement{m(Counted, "10 1"), m(Used, "3 1"), m(Received, "5 1"), m(Gone, "1 1")}, "11 1 again false counted true off  since 3"},
		"never counted":        {[]Movement{m(Received, "5 1"), m(Used, "2 1")}, "3 1 again false counted false off  since 2"},
		"more than there was":  {[]Movement{m(Counted, "2 1"), m(Used, "3 1")}, "-1 1 again true counted true off  since 1"},
		"made up for later":    {[]Movement{m(Counted, "2 1"), m(Used, "3 1"), m(Received, "10 1")}, "9 1 again true counted true off  since 2"},
		"counted again":        {[]Movement{m(Counted, "2 1"), m(Used, "3 1"), m(Counted, "4 1")}, "4 1 again false counted true off 5 1 since 0"},
		"less than reckoned":   {[]Movement{m(Counted, "10 1"), m(Used, "1 1"), m(Counted, "7 1"), m(Used, "1 1")}, "6 1 again false counted true off -2 1 since 1"},
		"as reckoned":          {[]Movement{m(Counted, "10 1"), m(Used, "1 1"), m(Counted, "9 1")}, "9 1 again false counted true off 0 1 since 0"},
		"liquid in two units":  {[]Movement{m(Counted, "1 L"), m(Used, "250 mL"), m(Used, "0.5 mL")}, "0.7495 L again false counted true off  since 2"},
		"used before anything": {[]Movement{m(Used, "1 1")}, "-1 1 again true counted false off  since 1"},
	} {
		s, err := OnHand(c.list)
		got := fmt.Sprintf("%s again %t counted %t off %s since %d", s.OnHand, s.CountAgain, s.Counted, s.Off, s.Since)
		if err != nil || got != c.want {
			t.Errorf("%s: %s (%v), want %s", name, got, err, c.want)
		}
	}
	// A count wipes out what was before it.
	rapid.Check(t, func(t *rapid.T) {
		some := rapid.SliceOfN(rapid.Custom(func(t *rapid.T) Movement {
			return m(rapid.SampledFrom([]What{Counted, Received, Used, Gone}).Draw(t, "what"), fmt.Sprintf("%d 1", rapid.IntRange(0, 20).Draw(t, "n")))
		}), 0, 6)
		before, after := some.Draw(t, "before"), some.Draw(t, "after")
		tail := append([]Movement{m(Counted, "7 1")}, after...)
		a, err := OnHand(tail)
		if err != nil {
			t.Fatal(err)
		}
		b, err := OnHand(append(slices.Clone(before), tail...))
		if err != nil {
			t.Fatal(err)
		}
		if a.OnHand != b.OnHand || a.CountAgain != b.CountAgain || a.Since != b.Since || !b.Counted {
			t.Fatalf("%+v, with more before it %+v", a, b)
		}
		if a.OnHand.Value.Sign() < 0 && !a.CountAgain {
			t.Fatalf("%+v", a)
		}
	})
}

func TestPlan(t *testing.T) {
	lots := []Lot{
		{"oxygen", "", "", am("680 L")}, {"ether", "E1", "", am("500 mL")}, {"ether", "E2", "", am("0.5 L")},
		{"ephedrine", "P1", "2026-11-26", am("2 1")}, {"ephedrine", "P2", "2026-12", am("3 1")}, {"ephedrine", "P0", "2026-10", am("9 1")},
		{"gauze", "", "", am("100 1")},
	}
	need := func(item, low, high string) Need { return Need{item, am(low), am(high)} }
	cases := []Case{
		{"2026-11-25", []Need{need("oxygen", "60 L", "240 L"), need("ether", "100 mL", "300 mL")}},
		{"2026-11-26", []Need{need("oxygen", "60 L", "240 L"), need("ephedrine", "0 1", "1 1")}},
		{"2026-11-28", []Need{need("oxygen", "60 L", "240 L"), need("ether", "200 mL", "400 mL"), need("ephedrine", "", "2 1")}},
		{"2026-12-02", []Need{need("ephedrine", "2 1", "2 1")}},
	}
	got, err := Plan(lots, cases, "2026-11-25", am("25 %"))
	if err != nil {
		t.Fatal(err)
	}
	want := []Supply{
		// 240 L with a quarter more are 300: two cases of 680 L, and 220 of 900
		// lacking; by the least, 180 in all, enough.
		{Item: "oxygen", OnHand: am("680 L"), Low: am("180 L"), High: am("720 L"), Enough: Unsure, Cases: 2, AtBest: 4, Until: "2026-11-26", Order: am("220 L"), Lost: am("0 L")},
		// 375 + 500 of 1000 mL.
		{Item: "ether", OnHand: am("1000 mL"), Low: am("300 mL"), High: am("700 mL"), Enough: Sure, Cases: 4, AtBest: 4, Until: "2026-12-02", Order: am("0 mL"), Lost: am("0 mL")},
		// 1.25 of the lot that runs out on the 26th, then 2.5 and 2.5 of 3; even
		// by the least 2 and 2 of 3.
		{Item: "ephedrine", OnHand: am("5 1"), Low: am("4 1"), High: am("5 1"), Enough: No, Cases: 3, AtBest: 3, Until: "2026-11-28", Order: am("2 1"), Lost: am("0.75 1")},
	}
	for i := range want {
		if i >= len(got) || got[i] != want[i] {
			t.Errorf("got  %+v\nwant %+v", got[i], want[i])
		}
	}
	if len(got) != len(want) {
		t.Errorf("%d supplies", len(got))
	}
	// Nothing at all is on the shelf.
	got, err = Plan(nil, cases[:1], "2026-11-25", am("0 %"))
	if err != nil || got[0].Enough != No || got[0].Until != "" || got[0].Order != am("240 L") || got[0].OnHand != am("0 L") {
		t.Errorf("with nothing: %+v (%v)", got, err)
	}
}

// More on the shelf never covers fewer cases, and never asks for more; more
// margin never covers more.
func TestPlanProperties(t *testing.T) {
	days := []string{"2026-11-25", "2026-11-26", "2026-11-28", "2026-12-01", "2026-12-05"}
	rapid.Check(t, func(t *rapid.T) {
		someLot := rapid.Custom(func(t *rapid.T) Lot {
			return Lot{"x", "", rapid.SampledFrom(append([]string{"", "2026-11-24"}, days...)).Draw(t, "expires"), am(fmt.Sprintf("%d mL", rapid.IntRange(0, 50).Draw(t, "mL")))}
		})
		lots := rapid.SliceOfN(someLot, 0, 4).Draw(t, "lots")
		var cases []Case
		n := rapid.IntRange(1, len(days)).Draw(t, "cases")
		for _, d := range days[:n] {
			low := rapid.IntRange(0, 30).Draw(t, "low")
			c := Case{Day: d}
			if rapid.Bool().Draw(t, "needs") || d == days[0] {
				c.Needs = []Need{{"x", am(fmt.Sprintf("%d mL", low)), am(fmt.Sprintf("%d mL", low+rapid.IntRange(0, 30).Draw(t, "more")))}}
			}
			cases = append(cases, c)
		}
		margin := rapid.IntRange(0, 100).Draw(t, "margin")
		plan := func(lots []Lot, margin int) Supply {
			s, err := Plan(lots, cases, days[0], am(fmt.Sprintf("%d %%", margin)))
			if err != nil || len(s) != 1 {
				t.Fatalf("%+v (%v)", s, err)
			}
			return s[0]
		}
		less := func(a, b quantity.Amount) bool {
			n, err := a.Cmp(b)
			if err != nil {
				t.Fatal(err)
			}
			return n < 0
		}
		s := plan(lots, margin)
		if s.Cases > s.AtBest || s.Enough == Sure && (s.Cases != n || s.Order.Value.Sign() != 0) || s.Enough != Sure && s.Order.Value.Sign() == 0 {
			t.Fatalf("%+v", s)
		}
		more := plan(append(slices.Clone(lots), someLot.Draw(t, "one more")), margin)
		if more.Cases < s.Cases || more.AtBest < s.AtBest || less(s.Order, more.Order) || less(more.OnHand, s.OnHand) {
			t.Fatalf("more on the shelf: %+v after %+v", more, s)
		}
		if wider := plan(lots, margin+50); wider.Cases > s.Cases || less(wider.Order, s.Order) {
			t.Fatalf("more margin: %+v after %+v", wider, s)
		}
		if s.Enough != Sure {
			// What was to be ordered is enough.
			order := Lot{"x", "", "", s.Order}
			if after := plan(append(slices.Clone(lots), order), margin); after.Enough != Sure {
				t.Fatalf("ordered %s, and then %+v", s.Order, after)
			}
		}
	})
}

func TestSetup(t *testing.T) {
	alone := Setup{Agent: term.AgentEther, Spontaneous: true}
	with := func(change func(*Setup)) Setup {
		s := alone
		change(&s)
		return s
	}
	for name, c := range map[string]struct {
		s        Setup
		pressure string // ISO 2533
		has, not []Caution
	}{
		// Who breathes air and vapour alone is given at least 0.5 L/min
		// (Anaesthesia 1991;46:52).
		"alone":           {alone, "760 mm[Hg]", []Caution{SpontaneousNoOxygen, SeaLevelTaken, Burns}, []Caution{CoverWithoutOxygen, CoverRebreathing, HypoxicAtHeight, StandardDay, BoilsHere, NearBoiling}},
		"alone, 0.4":      {with(func(s *Setup) { s.Oxygen = am("0.4 L/min") }), "760 mm[Hg]", []Caution{SpontaneousNoOxygen}, nil},
		"alone, 0.5":      {with(func(s *Setup) { s.Oxygen = am("500 mL/min") }), "760 mm[Hg]", nil, []Caution{SpontaneousNoOxygen}},
		"breathed for":    {with(func(s *Setup) { s.Spontaneous = false }), "760 mm[Hg]", nil, []Caution{SpontaneousNoOxygen}},
		"covered":         {with(func(s *Setup) { s.Cover = term.CoverOn }), "760 mm[Hg]", []Caution{CoverWithoutOxygen, CoverRebreathing, FromMemory}, nil},
		"covered, oxygen": {with(func(s *Setup) { s.Cover, s.Oxygen = term.CoverOn, am("1 L/min") }), "760 mm[Hg]", []Caution{CoverRebreathing}, []Caution{CoverWithoutOxygen, SpontaneousNoOxygen}},
		"cover off":       {with(func(s *Setup) { s.Cover = term.CoverOff }), "760 mm[Hg]", nil, []Caution{CoverRebreathing}},
		// Oxygen in the lungs with 10 % of ether: 67.0 mmHg at 1500 m, 59.8 at
		// 2000 m.
		"1500 m":         {with(func(s *Setup) { s.Height = am("1500 m") }), "634.2 mm[Hg]", []Caution{StandardDay}, []Caution{HypoxicAtHeight, SeaLevelTaken, HeightRaisesTension}},
		"2000 m":         {with(func(s *Setup) { s.Height = am("2000 m") }), "596.3 mm[Hg]", []Caution{HypoxicAtHeight}, nil},
		"2000 m, oxygen": {with(func(s *Setup) { s.Height, s.Oxygen = am("2000 m"), am("2 L/min") }), "596.3 mm[Hg]", nil, []Caution{HypoxicAtHeight}},
		"5000 m":         {with(func(s *Setup) { s.Height = am("5000 m") }), "405.2 mm[Hg]", []Caution{HypoxicAtHeight}, nil},
		// A dial at height: out of 6 % of ether 11.56 % come at 2000 m.
		"dial at sea level": {Setup{Agent: term.AgentHalothane, Vaporiser: true, Height: am("0 m")}, "760 mm[Hg]", nil, []Caution{HeightRaisesTension, DialUnsafe, Burns}},
		"dial, halothane":   {Setup{Agent: term.AgentHalothane, Vaporiser: true, Height: am("2000 m")}, "596.3 mm[Hg]", []Caution{HeightRaisesTension}, []Caution{DialUnsafe, HeightLowersTension}},
		"dial, ether":       {Setup{Agent: term.AgentEther, Vaporiser: true, Height: am("2000 m")}, "596.3 mm[Hg]", []Caution{HeightRaisesTension, DialUnsafe}, nil},
		"dial, desflurane":  {Setup{Agent: term.AgentDesflurane, Vaporiser: true, Height: am("2000 m")}, "596.3 mm[Hg]", []Caution{HeightLowersTension}, []Caution{HeightRaisesTension}},
		// Ether boils at 34.6 °C at sea level, 27.9 at 2000 m, 24.6 at 3000 m,
		// 21.3 at 4000 m.
		"29 °C":          {with(func(s *Setup) { s.Room = am("29 Cel") }), "760 mm[Hg]", nil, []Caution{BoilsHere, NearBoiling}},
		"31 °C":          {with(func(s *Setup) { s.Room = am("31 Cel") }), "760 mm[Hg]", []Caution{NearBoiling}, []Caution{BoilsHere}},
		"35 °C":          {with(func(s *Setup) { s.Room = am("95 [degF]") }), "760 mm[Hg]", []Caution{BoilsHere}, []Caution{NearBoiling}},
		"2000 m, 27 °C":  {with(func(s *Setup) { s.Room, s.Height = am("27 Cel"), am("2000 m") }), "596.3 mm[Hg]", []Caution{NearBoiling}, []Caution{BoilsHere}},
		"2000 m, 28 °C":  {with(func(s *Setup) { s.Room, s.Height = am("28 Cel"), am("2000 m") }), "596.3 mm[Hg]", []Caution{BoilsHere}, nil},
		"3000 m, 25 °C":  {with(func(s *Setup) { s.Room, s.Height = am("25 Cel"), am("3000 m") }), "525.9 mm[Hg]", []Caution{BoilsHere}, nil},
		"halothane warm": {Setup{Agent: term.AgentHalothane, Room: am("40 Cel")}, "760 mm[Hg]", nil, []Caution{BoilsHere, NearBoiling, Burns}},
	} {
		a, err := c.s.Warnings()
		if err != nil || a.Value != am(c.pressure) {
			t.Errorf("%s: %s (%v), want %s", name, a.Value, err, c.pressure)
		}
		has(t, name, a, c.has, c.not)
	}
	// Whatever the height: a cover without oxygen is said, and so is breathing
	// without half a litre; higher and warmer silence nothing.
	rapid.Check(t, func(t *rapid.T) {
		h, warm := rapid.IntRange(-400, 5500).Draw(t, "height"), rapid.IntRange(0, 40).Draw(t, "room")
		s := Setup{
			Agent: rapid.SampledFrom([]term.Agent{term.AgentEther, term.AgentHalothane, term.AgentChloroform}).Draw(t, "agent"), Cover: term.CoverOn,
			Vaporiser: rapid.Bool().Draw(t, "vaporiser"), Spontaneous: true,
		}
		at := func(h, warm int) []Caution {
			s.Height, s.Room = am(fmt.Sprintf("%d m", h)), am(fmt.Sprintf("%d Cel", warm))
			a, err := s.Warnings()
			if err != nil {
				t.Fatal(err)
			}
			return a.Cautions
		}
		before := at(h, warm)
		if !slices.Contains(before, CoverWithoutOxygen) || !slices.Contains(before, SpontaneousNoOxygen) {
			t.Fatalf("%+v: %v", s, before)
		}
		after := at(h+rapid.IntRange(0, 500).Draw(t, "higher"), warm+rapid.IntRange(0, 5).Draw(t, "warmer"))
		for _, c := range before {
			if !slices.Contains(after, c) && (c != NearBoiling || !slices.Contains(after, BoilsHere)) {
				t.Fatalf("%s is silent: %v after %v", c, after, before)
			}
		}
	})
}

func TestSupplyRefuses(t *testing.T) {
	e := Reading{size(t, "uk-e"), am("137 bar")}
	at := func(g string) Reading { return Reading{e.Cylinder, am(g)} }
	d := Answer{Value: am("60 {drop}/mL")}
	plan := func(lots []Lot, cases []Case, on, margin string) error {
		return second(Plan(lots, cases, on, am(margin)))
	}
	one := func(n ...Need) []Case { return []Case{{"2026-11-25", n}} }
	expiring := func(l Lot, on string, days int) error {
		_, _, err := Expiring([]Lot{l}, on, days)
		return err
	}
	hand := func(m ...Movement) error { return second(OnHand(m)) }
	setup := func(change func(*Setup)) error {
		s := Setup{Agent: term.AgentEther}
		change(&s)
		return second(s.Warnings())
	}
	for name, c := range map[string]struct {
		err         error
		field, code string
	}{
		"no size":              {second(CylinderOf("")), "cylinder", Missing},
		"no such size":         {second(CylinderOf("uk-z")), "cylinder", UnknownCode},
		"no water":             {second(CylinderOfWater(quantity.Amount{})), "water", Missing},
		"little water":         {second(CylinderOfWater(am("0.1 L"))), "water", TooLow},
		"water in bar":         {second(CylinderOfWater(am("10 bar"))), "water", WrongUnit},
		"no cylinder":          {second(Oxygen(Reserve)), "cylinders", Missing},
		"no reserve":           {second(Oxygen(quantity.Amount{}, e)), "reserve", Missing},
		"empty reading":        {second(Oxygen(Reserve, e, Reading{Gauge: am("1 bar")})), "cylinders[1].cylinder", Missing},
		"no gauge":             {second(Oxygen(Reserve, e, at(""))), "cylinders[1].gauge", Missing},
		"gauge in L":           {second(Oxygen(Reserve, at("137 L"))), "cylinders[0].gauge", WrongUnit},
		"gauge too high":       {second(Oxygen(Reserve, at("2000 bar"))), "cylinders[0].gauge", TooHigh},
		"psi for bar":          {second(Oxygen(Reserve, at("1900 bar"))), "cylinders[0].gauge", TooHigh},
		"gauge under nought":   {second(CrisisMinutes(Reserve, at("-1 bar"))), "cylinders[0].gauge", TooLow},
		"no flow":              {second(Minutes(quantity.Amount{}, Reserve, e)), "flow", Missing},
		"flow of nought":       {second(Minutes(am("0 L/min"), Reserve, e)), "flow", TooLow},
		"flow in mL":           {second(Minutes(am("5 mL"), Reserve, e)), "flow", WrongUnit},
		"no plate":             {second(Concentrator{}.Percent(am("1 L/min"))), "rated", Missing},
		"over the plate":       {second(Concentrator{Rated: am("5 L/min")}.Percent(am("6 L/min"))), "flow", TooHigh},
		"measured too high":    {second(Concentrator{Rated: am("5 L/min"), Measured: am("101 %")}.Percent(am("5 L/min"))), "measured", TooHigh},
		"no agent":             {second(LiquidUse("", am("1 %"), am("6 L/min"), am("0 m"))), "agent", Missing},
		"no such agent":        {second(LiquidUse("xenon", am("1 %"), am("6 L/min"), am("0 m"))), "agent", UnknownCode},
		"a gas":                {second(LiquidUse(term.AgentNitrousOxide, am("1 %"), am("6 L/min"), am("0 m"))), "agent", NoRule},
		"too much vapour":      {second(LiquidUse(term.AgentEther, am("41 %"), am("6 L/min"), am("0 m"))), "percent", TooHigh},
		"no volume":            {second(LiquidUse(term.AgentEther, am("4 %"), quantity.Amount{}, am("0 m"))), "minute_volume", Missing},
		"too high up":          {second(LiquidUse(term.AgentEther, am("4 %"), am("6 L/min"), am("9000 m"))), "height", TooHigh},
		"few drops":            {second(DropsPerML(am("10 {drop}"), am("1 mL"))), "drops", TooLow},
		"drops as number":      {second(DropsPerML(am("100 1"), am("1 mL"))), "drops", WrongUnit},
		"no measure":           {second(DropsPerML(am("100 {drop}"), am("0 mL"))), "volume", TooLow},
		"no rate":              {second(DropUse(quantity.Amount{}, d)), "rate", Missing},
		"no count":             {second(DropUse(am("60 {drop}/min"), Answer{})), "drops_per_ml", Missing},
		"a range beside":       {second(DropUse(am("60 {drop}/min"), Answer{Value: d.Value, Low: am("70 {drop}/mL")})), "drops_per_ml", Contradicts},
		"no wetness":           {second(WetUse("")), "wetness", Missing},
		"no such wetness":      {second(WetUse("moist")), "wetness", UnknownCode},
		"lasts of nothing":     {second(Lasts(quantity.Amount{}, Answer{Value: am("1 mL/h")})), "volume", Missing},
		"lasts for ever":       {second(Lasts(am("1 mL"), Answer{Value: am("0 mL/h")})), "use", TooLow},
		"use in drops":         {second(Lasts(am("1 mL"), d)), "use", WrongUnit},
		"over no time":         {second(Over(Answer{Value: am("1 mL/h")}, quantity.Amount{}, am("1 h"))), "low", Missing},
		"over a turned range":  {second(Over(Answer{Value: am("1 mL/h")}, am("2 h"), am("1 h"))), "high", Contradicts},
		"bottle of nothing":    {second(Bottle{Received: "2026-11-25"}.Age("2026-11-25")), "agent", Missing},
		"bottle without a day": {second(Bottle{Agent: term.AgentEther}.Age("2026-11-25")), "received", Missing},
		"bottle of tomorrow":   {second(Bottle{Agent: term.AgentEther, Opened: "2026-11-26"}.Age("2026-11-25")), "opened", Contradicts},
		"no day to ask":        {second(Bottle{Agent: term.AgentEther, Opened: "2026-11-26"}.Age("")), "on", Missing},
		"no such day":          {second(Bottle{Agent: term.AgentEther, Opened: "2026-02-30"}.Age("2026-11-25")), "opened", NotReadable},
		"expiry not readable":  {second(Bottle{Agent: term.AgentEther, Opened: "2026-02-01", Expires: "03/27"}.Age("2026-11-25")), "expires", NotReadable},
		"lot not readable":     {expiring(Lot{"x", "", "soon", am("1 1")}, "2026-11-25", 30), "lots[0].expires", NotReadable},
		"lot without count":    {expiring(Lot{Item: "x"}, "2026-11-25", 30), "lots[0].count", Missing},
		"lot under nought":     {expiring(Lot{Item: "x", Count: am("-1 1")}, "2026-11-25", 30), "lots[0].count", TooLow},
		"minus days":           {expiring(Lot{Item: "x", Count: am("1 1")}, "2026-11-25", -1), "days", TooLow},
		"no day":               {expiring(Lot{Item: "x", Count: am("1 1")}, "", 1), "on", Missing},
		"no movement":          {hand(), "movements", Missing},
		"no amount":            {hand(Movement{What: Used}), "movements[0].amount", Missing},
		"another unit":         {hand(Movement{Used, am("1 1")}, Movement{Used, am("1 mL")}), "movements[1].amount", WrongUnit},
		"amount under nought":  {hand(Movement{Used, am("-1 1")}), "movements[0].amount", TooLow},
		"no what":              {hand(Movement{"", am("1 1")}), "movements[0].what", Missing},
		"no such what":         {hand(Movement{"eaten", am("1 1")}), "movements[0].what", UnknownCode},
		"no case":              {plan(nil, nil, "2026-11-25", "0 %"), "cases", Missing},
		"no margin":            {plan(nil, one(), "2026-11-25", ""), "margin", Missing},
		"margin too high":      {plan(nil, one(), "2026-11-25", "301 %"), "margin", TooHigh},
		"case of yesterday":    {plan(nil, one(), "2026-11-26", "0 %"), "cases[0].day", Contradicts},
		"case without a day":   {plan(nil, []Case{{}}, "2026-11-26", "0 %"), "cases[0].day", Missing},
		"cases turned":         {plan(nil, []Case{{Day: "2026-11-27"}, {Day: "2026-11-26"}}, "2026-11-26", "0 %"), "cases[1].day", Contradicts},
		"need of nothing":      {plan(nil, one(Need{High: am("1 1")}), "2026-11-25", "0 %"), "cases[0].needs[0].item", Missing},
		"need twice":           {plan(nil, one(Need{Item: "x", High: am("1 1")}, Need{Item: "x", High: am("1 1")}), "2026-11-25", "0 %"), "cases[0].needs[1].item", Twice},
		"need without most":    {plan(nil, one(Need{Item: "x", Low: am("1 1")}), "2026-11-25", "0 %"), "cases[0].needs[0].high", Missing},
		"need turned":          {plan(nil, one(Need{"x", am("2 1"), am("1 1")}), "2026-11-25", "0 %"), "cases[0].needs[0].low", Contradicts},
		"need in two units":    {plan(nil, append(one(Need{Item: "x", High: am("1 1")}), one(Need{Item: "x", High: am("1 mL")})...), "2026-11-25", "0 %"), "cases[1].needs[0].high", WrongUnit},
		"lot in another unit":  {plan([]Lot{{"x", "", "", am("1 mL")}}, one(Need{Item: "x", High: am("1 1")}), "2026-11-25", "0 %"), "lots[0].count", WrongUnit},
		"lot of no day":        {plan([]Lot{{"x", "", "2026", am("1 1")}}, one(Need{Item: "x", High: am("1 1")}), "2026-11-25", "0 %"), "lots[0].expires", NotReadable},
		"setup of nothing":     {setup(func(s *Setup) { s.Agent = "" }), "agent", Missing},
		"setup of a gas":       {setup(func(s *Setup) { s.Agent = term.AgentNitrousOxide }), "agent", NoRule},
		"no such cover":        {setup(func(s *Setup) { s.Cover = "towel" }), "cover", UnknownCode},
		"height in kPa":        {setup(func(s *Setup) { s.Height = am("80 kPa") }), "height", WrongUnit},
		"height of a balloon":  {setup(func(s *Setup) { s.Height = am("12000 m") }), "height", TooHigh},
		"room in %":            {setup(func(s *Setup) { s.Room = am("20 %") }), "room", WrongUnit},
		"a furnace":            {setup(func(s *Setup) { s.Room = am("200 Cel") }), "room", TooHigh},
		"oxygen under nought":  {setup(func(s *Setup) { s.Oxygen = am("-1 L/min") }), "oxygen", TooLow},
	} {
		var err *Error
		if !errors.As(c.err, &err) || err.Field != c.field || err.Code != c.code || err.Error() == "" {
			t.Errorf("%s: %v, want %s %s", name, c.err, c.field, c.code)
		}
	}
}
