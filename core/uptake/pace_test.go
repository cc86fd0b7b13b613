package uptake

import (
	"errors"
	"math"
	"testing"

	"pgregory.net/rapid"

	"chinlift/core/agent"
	"chinlift/core/term"
)

// A pace is the model's own step, whatever the agent, the length and the
// schedule, and asks for no memory.
func TestPaceIsTheStep(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		set := usual(t, rapid.SampledFrom(modelled).Draw(rt, "agent"))
		set.Extraction = rapid.Float64Range(0, 0.9).Draw(rt, "extraction")
		set.AlveolarLPerMin = rapid.SampledFrom([]float64{0, 0.5, 4, 12}).Draw(rt, "alveolar")
		set.Concentration = rapid.Bool().Draw(rt, "concentration")
		set.AirMmHg = 760
		m, err := New(scaled(70), set)
		if err != nil {
			rt.Fatal(err)
		}
		minutes := rapid.Float64Range(1.0/60, 30).Draw(rt, "minutes")
		p, err := m.Every(minutes)
		if err != nil {
			rt.Fatal(err)
		}
		var a, b State
		for range 40 {
			inspired := rapid.Float64Range(0, 200).Draw(rt, "inspired")
			if err := m.Step(&a, inspired, minutes); err != nil {
				rt.Fatal(err)
			}
			if err := p.Step(&b, inspired); err != nil {
				rt.Fatal(err)
			}
		}
		for i := range a.TensionMmHg {
			if math.Abs(a.TensionMmHg[i]-b.TensionMmHg[i]) > 1e-9*200 {
				rt.Fatalf("place %d: %v, by the pace %v", i, a.TensionMmHg[i], b.TensionMmHg[i])
			}
		}
		for _, x := range [][2]float64{{a.InspiredL, b.InspiredL}, {a.ExpiredL, b.ExpiredL}, {a.MetabolisedL, b.MetabolisedL}} {
			if math.Abs(x[0]-x[1]) > 1e-9*math.Max(1, a.InspiredL) {
				rt.Fatalf("%v, by the pace %v", x[0], x[1])
			}
		}
	})
	p, err := make70(t, usual(t, term.AgentEther)).Every(1.0 / 60)
	if err != nil {
		t.Fatal(err)
	}
	var s State
	if n := testing.AllocsPerRun(100, func() {
		if err := p.Step(&s, 76); err != nil {
			t.Fatal(err)
		}
	}); n > 0 {
		t.Errorf("%v allocations", n)
	}
	was := s
	for field, err := range map[string]error{
		"inspired": p.Step(&s, -1), "inspired ": p.Step(&s, math.NaN()), "inspired  ": p.Step(&s, 1001),
		"minutes": func() error { _, err := p.m.Every(0); return err }(), "minutes ": func() error { _, err := p.m.Every(math.Inf(1)); return err }(),
	} {
		var bad *agent.Error
		if !errors.As(err, &bad) || bad.Field != field[:len(bad.Field)] {
			t.Errorf("%s: %v", field, err)
		}
	}
	if s != was {
		t.Error("a step that was refused changed the state")
	}
}
