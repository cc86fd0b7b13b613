package depth

import (
	"math"
	"testing"

	"chinlift/core/quantity"
	"chinlift/core/term"
	"chinlift/core/uptake"
)

var who70 = Subject{Age: quantity.MustParse("40 a"), Weight: quantity.MustParse("70 kg"), Agents: []term.Agent{term.AgentEther}}

func newRun(t testing.TB, s Subject, o Options) *Run {
	t.Helper()
	r, err := New(s, o)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// A body in the middle of all that is uncertain goes the way of the exact model,
// with the concentration effect that of the integrated one.
func TestStepsAgainstExactModel(t *testing.T) {
	for _, code := range []term.Agent{term.AgentEther, term.AgentHalothane, term.AgentIsoflurane, term.AgentSevoflurane, term.AgentDesflurane} {
		for _, c := range []struct{ step, percent, airMmHg float64 }{{stepMin, 10, 0}, {aheadMin, 10, 0}, {stepMin, 10, 760}, {aheadMin, 20, 760}, {stepMin, 20, 526}} {
			who := who70
			who.Agents = []term.Agent{code}
			r := newRun(t, who, Options{})
			inspired := c.percent * 7.6
			supply := Supply{InspiredMmHg: uptake.Exactly(inspired), MostMmHg: 1000, AirMmHg: c.airMmHg}
			var b body
			r.kind.derive(&b, c.step, 1)
			b.supplied, b.reach = inspired, 1
			set := r.kind.set
			set.Concentration, set.AirMmHg = c.airMmHg > 0, c.airMmHg
			exact, err := uptake.New(r.kind.rest, set)
			if err != nil {
				t.Fatal(err)
			}
			var s uptake.State
			worst := 0.0
			for i := range int(120 / c.step) {
				if i == int(60/c.step) {
					inspired, supply = 0, Off
				}
				x, part := 0.0, 1.0
				if inspired > 0 {
					x, part = r.kind.inspires(&b, &supply, set.AlveolarLPerMin)
				}
				r.kind.advance(&b, set.AlveolarLPerMin, x, part, c.step)
				if err := exact.Step(&s, inspired, c.step); err != nil {
					t.Fatal(err)
				}
				worst = math.Max(worst, math.Abs(b.tensionMmHg[uptake.Brain]-s.TensionMmHg[uptake.Brain])/(c.percent*7.6))
			}
			t.Logf("%s, %v %% in air of %v mmHg, steps of %v min: brain off by %.2g of what is inspired", code, c.percent, c.airMmHg, c.step, worst)
			if worst > 1e-3 {
				t.Errorf("%s, %+v: off by %.2g", code, c, worst)
			}
		}
	}
}

// What leaving the concentration effect out would cost: in a body that inspires
// ether from a vaporiser for ten minutes, 4 % of the depth at 5 % and 14 at 15. What
// drops from a bottle is all inspired, however much is breathed: the
// effect has nothing to draw in after it, until the gauze gives no more.
func TestConcentrationEffectOfStrongEther(t *testing.T) {
	depthOf := func(s Supply) float64 {
		t.Helper()
		r := newRun(t, who70, Options{})
		var b body
		r.kind.derive(&b, stepMin, 1)
		b.supplied, b.reach = s.InspiredMmHg.Value, 2./3
		for range int(10 / stepMin) {
			x, part := r.kind.inspires(&b, &s, 4)
			r.kind.advance(&b, 4, x, part, stepMin)
		}
		return b.depthMAC()
	}
	more := func(s Supply, airMmHg float64) float64 {
		without := depthOf(s)
		s.AirMmHg = airMmHg
		return depthOf(s)/without - 1
	}
	for _, c := range []struct{ percent, airMmHg, least, most float64 }{{5, 760, 0.02, 0.06}, {10, 760, 0.06, 0.1}, {15, 760, 0.1, 0.16}, {10, 526, 0.08, 0.15}} {
		got := more(Supply{InspiredMmHg: uptake.Exactly(c.percent * 7.6), MostMmHg: 1000}, c.airMmHg)
		t.Logf("%v %% of ether in air of %v mmHg: %.1f %% deeper", c.percent, c.airMmHg, 100*got)
		if got < c.least || got > c.most {
			t.Errorf("%+v: %v deeper", c, got)
		}
	}
	// 6 L are breathed in a minute; 186 mmHg is what a frosted gauze gives.
	for _, c := range []struct{ mmHg, least, most float64 }{{76, 0, 0}, {180, 0, 0}, {190, 0.0001, 0.05}, {400, 0.15, 0.3}} {
		got := more(Supply{InspiredMmHg: uptake.Exactly(c.mmHg), ByVolume: true, AtLPerMin: 6, MostMmHg: 186}, 760)
		t.Logf("drops that would make %v mmHg: %.1f %% deeper", c.mmHg, 100*got)
		if got < c.least || got > c.most {
			t.Errorf("%+v: %v deeper", c, got)
		}
	}
}

func TestBellIsABell(t *testing.T) {
	var d dice
	d.start(7, 0, forBirth)
	const n = 200000
	sum, squares, over := 0.0, 0.0, 0.0
	for range n {
		x := d.bell()
		sum += x
		squares += x * x
		if x > tenth {
			over++
		}
	}
	if m := sum / n; math.Abs(m) > 0.01 {
		t.Errorf("mean %v", m)
	}
	if v := squares / n; math.Abs(v-1) > 0.01 {
		t.Errorf("variance %v", v)
	}
	if p := over / n; math.Abs(p-0.1) > 0.005 {
		t.Errorf("%v over the tenth", p)
	}
}

// The part of the range over Low and under High is a tenth each.
func TestDraw(t *testing.T) {
	for _, r := range []uptake.Range{{Low: 2, Value: 3, High: 9}, {Low: 0, Value: 3, High: 9}, uptake.Exactly(4), {}} {
		for z, want := range map[float64]float64{-tenth: r.Low, 0: r.Value, tenth: r.High} {
			if got := draw(r, z); math.Abs(got-want) > 1e-12 {
				t.Errorf("%v at %v: %v", r, z, got)
			}
		}
	}
}
