package uptake

import (
	"errors"
	"math"
	"testing"

	"pgregory.net/rapid"

	"chinlift/core/agent"
	"chinlift/core/term"
)

// A trace is the model's own steps, wherever it is read: to 1e-10 of the greatest
// tension of the run, with the concentration effect to what the errors of many integrated
// steps add up to; and its ledger balances to 1e-9.
func TestTraceIsTheSteps(t *testing.T) {
	var worst [2]float64
	rapid.Check(t, func(t *rapid.T) {
		b, set := someone(t)
		set.Concentration = rapid.Bool().Draw(t, "concentration")
		set.AirMmHg = rapid.SampledFrom([]float64{400, 760}).Draw(t, "air")
		var by, traced State
		scale := 0.0 // of the whole run: what has faded to little was summed from much
		which, limit := 0, 1e-10
		if set.Concentration {
			which, limit = 1, 5e-8 // many steps, each integrated
		}
		for range rapid.IntRange(1, 4).Draw(t, "pieces") {
			set := set
			set.AlveolarLPerMin *= rapid.SampledFrom([]float64{0, 0.02, 0.3, 1, 2}).Draw(t, "alveolar")
			m := drawn(t, b, set)
			every := rapid.SampledFrom([]float64{1. / 60, 0.25, 1, 7, 16}).Draw(t, "every")
			inspired := rapid.SampledFrom([]float64{0, 0, 7.6, 76, 300, 399}).Draw(t, "inspired")
			to := make([][places]float64, rapid.IntRange(1, 600).Draw(t, "parts"))
			if err := m.Trace(&traced, inspired, every, to); err != nil {
				t.Fatal(err)
			}
			scale = math.Max(scale, inspired)
			for _, x := range by.TensionMmHg {
				scale = math.Max(scale, x)
			}
			for i := range to {
				step(t, m, &by, inspired, every)
				for p, x := range by.TensionMmHg {
					off := math.Abs(x-to[i][p]) / math.Max(scale, 1e-9)
					worst[which] = math.Max(worst[which], off)
					if !(off <= limit) {
						t.Fatalf("part %d, place %d: %v, by steps %v", i, p, to[i][p], x)
					}
				}
			}
			if traced.TensionMmHg != to[len(to)-1] {
				t.Fatal("the state is not where the last part is")
			}
			for _, x := range [][2]float64{{by.InspiredL, traced.InspiredL}, {by.ExpiredL, traced.ExpiredL}, {by.MetabolisedL, traced.MetabolisedL}} {
				if math.Abs(x[0]-x[1]) > 10*limit*math.Max(1, by.InspiredL) {
					t.Fatalf("ledger: %v, by steps %v", x[1], x[0])
				}
			}
			if off := traced.InspiredL - traced.ExpiredL - traced.MetabolisedL - m.StoredL(&traced); math.Abs(off) > 1e-9*math.Max(1, traced.InspiredL) {
				t.Fatalf("the balance is off by %v", off)
			}
		}
	})
	t.Logf("off by at most %.1e of the greatest tension, %.1e with the concentration effect", worst[0], worst[1])
}

// Where the blood gives back more than is breathed the equations are not linear
// any more: the trace knows before it is there.
func TestTraceWhereTheBloodGivesBack(t *testing.T) {
	for _, inspired := range []float64{0, 20} {
		set := usual(t, term.AgentEther)
		set.Concentration = true
		var by State
		step(t, make70(t, set), &by, 300, 60)
		set.AlveolarLPerMin = 15
		step(t, make70(t, set), &by, 0, 3)
		set.AlveolarLPerMin = 0.2 // the lung is washed, the tissues are full
		m := make70(t, set)
		traced := by
		to := make([][places]float64, 12000)
		if err := m.Trace(&traced, inspired, 0.005, to); err != nil {
			t.Fatal(err)
		}
		gaveBack := 0
		for i := range to {
			if -m.UptakeMLPerMin(&by)/1000*atm > set.AlveolarLPerMin*set.AirMmHg {
				gaveBack++
			}
			step(t, m, &by, inspired, 0.005)
			for p, x := range by.TensionMmHg {
				if math.Abs(x-to[i][p]) > 1e-8*300 {
					t.Fatalf("with %v mmHg, part %d, place %d: %v, by steps %v", inspired, i, p, to[i][p], x)
				}
			}
		}
		if gaveBack < 5 || gaveBack == len(to) {
			t.Errorf("with %v mmHg the blood gave back more than was breathed in %d of %d parts", inspired, gaveBack, len(to))
		}
	}
}

func TestTraceAsksForNoMemory(t *testing.T) {
	set := usual(t, term.AgentEther)
	m := make70(t, set)
	var s State
	to := make([][places]float64, 600)
	run := func(m *Model, n int) float64 {
		return testing.AllocsPerRun(20, func() {
			if err := m.Trace(&s, 76, 1.0/60, to[:n]); err != nil {
				t.Fatal(err)
			}
		})
	}
	if n := run(m, 600); n > 0 {
		t.Errorf("%v allocations", n)
	}
	// The equations are solved once, however long the way is.
	set.Concentration = true
	m = make70(t, set)
	if one, all := run(m, 1), run(m, 600); one != all {
		t.Errorf("%v allocations for one part, %v for 600", one, all)
	}
}

func TestTraceRefuses(t *testing.T) {
	m := make70(t, usual(t, term.AgentEther))
	to := make([][places]float64, 10)
	s := State{InspiredL: 1}
	was := s
	for field, err := range map[string]error{
		"inspired": m.Trace(&s, -1, 1, to), "inspired ": m.Trace(&s, math.NaN(), 1, to), "inspired  ": m.Trace(&s, 1001, 1, to),
		"minutes": m.Trace(&s, 1, -1, to), "minutes ": m.Trace(&s, 1, math.Inf(1), to), "minutes  ": m.Trace(&s, 1, longestMin, to),
		"parts": m.Trace(&s, 1, 1, nil),
	} {
		var bad *agent.Error
		if !errors.As(err, &bad) || bad.Field != field[:len(bad.Field)] {
			t.Errorf("%s: %v", field, err)
		}
	}
	if s != was {
		t.Error("a way that was refused changed the state")
	}
	// The longest parts there are.
	var long, by State
	if err := m.Trace(&long, 76, longestMin, to[:1]); err != nil {
		t.Fatal(err)
	}
	step(t, m, &by, 76, longestMin)
	for p, x := range by.TensionMmHg {
		if !(math.Abs(x-to[0][p]) < 1e-8) || long.TensionMmHg[p] != to[0][p] {
			t.Errorf("place %d after a week: %v, by one step %v", p, to[0][p], x)
		}
	}
	if err := m.Trace(&s, 76, 0, to); err != nil || s != was || to[9] != s.TensionMmHg {
		t.Errorf("no time: %v", err)
	}
}
