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

// A body in the middle of all that is uncertain goes the way of the exact model.
func TestStepsAgainstExactModel(t *testing.T) {
	for _, code := range []term.Agent{term.AgentEther, term.AgentHalothane, term.AgentIsoflurane, term.AgentSevoflurane, term.AgentDesflurane} {
		who := who70
		who.Agents = []term.Agent{code}
		r := newRun(t, who, Options{})
		for _, c := range []struct{ step, tolerance float64 }{{stepMin, 1e-3}, {aheadMin, 1e-3}} {
			var b body
			r.kind.derive(&b, c.step, 1)
			exact, err := uptake.New(r.kind.rest, r.kind.set)
			if err != nil {
				t.Fatal(err)
			}
			var s uptake.State
			worst := 0.0
			for i := range int(120 / c.step) {
				inspired := 76.0
				if i >= int(60/c.step) {
					inspired = 0
				}
				r.kind.advance(&b, r.kind.set.AlveolarLPerMin, inspired, c.step)
				if err := exact.Step(&s, inspired, c.step); err != nil {
					t.Fatal(err)
				}
				worst = math.Max(worst, math.Abs(b.tensionMmHg[uptake.Brain]-s.TensionMmHg[uptake.Brain])/76)
			}
			t.Logf("%s, steps of %v min: brain off by %.2g of what is inspired", code, c.step, worst)
			if worst > c.tolerance {
				t.Errorf("%s: off by %.2g", code, worst)
			}
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
