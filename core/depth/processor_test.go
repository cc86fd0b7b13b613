package depth

import (
	"encoding/json"
	"math"
	"os"
	"slices"
	"testing"

	"chinlift/core/quantity"
	"chinlift/core/term"
	"chinlift/core/uptake"
)

// processorCase is a course as one processor worked it out.
type processorCase struct {
	Name   string
	Points [][4]float64 // minute, low, middle, high; nothing of a minute without a range
	Leads  [][2]float64 // from and to of what a sheet shows at the end
}

// processorCases run all that a case may meet: both ladders, drugs, hands, closed
// airways, copies by weight, surprises, and hours of it.
func processorCases(t testing.TB) (all []processorCase) {
	t.Helper()
	halothane := Supply{InspiredMmHg: uptake.Range{Low: 8, Value: 11, High: 14}, MostMmHg: 240}
	for _, c := range []struct {
		name    string
		agent   term.Agent
		weight  string
		minutes float64
		supply  Supply
		events  []Event
	}{
		{"ether", term.AgentEther, "70 kg", 120, steady, nil},
		{"ether, 22 kg, an opioid", term.AgentEther, "22 kg", 90, steady, []Event{{What: WhatDrugs, Drugs: Drugs{Opioid: true, Anticholinergic: true}}}},
		{"halothane by hand", term.AgentHalothane, "52 kg", 240, halothane, []Event{{AtMin: 30, What: WhatSupport, Support: term.SupportControlled}, {AtMin: 90, What: WhatSupport, Support: term.SupportSpontaneous}}},
		// With the concentration effect, and a gauze that gives no more.
		{"strong ether", term.AgentEther, "60 kg", 60, Supply{InspiredMmHg: uptake.Range{Low: 60, Value: 110, High: 150}, MostMmHg: 1000, AirMmHg: 600}, nil},
		{"ether poured", term.AgentEther, "60 kg", 60, Supply{InspiredMmHg: uptake.Range{Low: 60, Value: 120, High: 200}, ByVolume: true, AtLPerMin: 8, MostMmHg: 186, AirMmHg: 760}, nil},
	} {
		who := who70
		who.Agents, who.Weight = []term.Agent{c.agent}, quantity.MustParse(c.weight)
		supply := c.supply
		events := append([]Event{{What: WhatSupply, Supply: supply}, {AtMin: c.minutes * 0.7, What: WhatSupply, Supply: Off}}, c.events...)
		looks := []Look{asleep, {Eyes: term.EyesRoving, Cornea: term.ReflexBrisk, Breathing: term.BreathingUneven}, {Jaw: term.JawSlack, Movement: term.MovementNone}, asleep, {Movement: term.MovementSwallowing, Lid: term.ReflexFaint}}
		for i, m := 0, 6.0; m <= c.minutes; i, m = i+1, m+4 {
			events = append(events, seen(m, looks[i%len(looks)])...)
		}
		r := newRun(t, who, Options{Seed: 0x9e3779b97f4a7c15})
		at(t, r, events, c.minutes)
		got := processorCase{Name: c.name}
		for _, s := range r.Course(-1) {
			if len(s.Withdrawn) == 0 {
				got.Points = append(got.Points, [4]float64{s.AtMin, s.DepthMAC.Low, s.DepthMAC.Value, s.DepthMAC.High})
			}
		}
		lead := func(l Lead, ok bool) {
			if ok {
				got.Leads = append(got.Leads, [2]float64{l.FromMin, l.ToMin})
			}
		}
		for _, s := range StepCodes {
			l, ok, err := r.Ready(s, supply)
			if err != nil {
				t.Fatal(err)
			}
			lead(l, ok)
		}
		l, ok, err := r.TooDeep(supply)
		if err != nil {
			t.Fatal(err)
		}
		lead(l, ok)
		lead(r.Waking())
		all = append(all, got)
	}
	return all
}

// TestSameOnEveryProcessor holds courses of hours against those that an amd64
// processor worked out, within the tolerance that the package states. Where
// processors fuse a product with a sum, as arm64 does, the last bits differ: this
// is run there too, by TestOnArm64.
func TestSameOnEveryProcessor(t *testing.T) {
	const name = "testdata/processor.json"
	got := processorCases(t)
	if *update {
		b, err := json.Marshal(got)
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(name, append(b, '\n'), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	b, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	var want []processorCase
	if err := json.Unmarshal(b, &want); err != nil {
		t.Fatal(err)
	}
	if len(want) != len(got) {
		t.Fatalf("%d cases, want %d", len(got), len(want))
	}
	for i, w := range want {
		g := got[i]
		if g.Name != w.Name || len(g.Points) != len(w.Points) || len(w.Points) < 30 || !slices.Equal(g.Leads, w.Leads) {
			t.Errorf("%s: %d points and leads %v, want %d and %v", w.Name, len(g.Points), g.Leads, len(w.Points), w.Leads)
			continue
		}
		worst := 0.0
		for j := range w.Points {
			for k := range w.Points[j] {
				worst = math.Max(worst, math.Abs(g.Points[j][k]-w.Points[j][k]))
			}
		}
		t.Logf("%s: off by at most %.1e of MAC over %d minutes", w.Name, worst, len(w.Points))
		if worst > Tolerance {
			t.Errorf("%s: off by %v of MAC, and %v is stated", w.Name, worst, Tolerance)
		}
	}
}
