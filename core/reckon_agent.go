package core

import (
	"errors"

	"chinlift/core/agent"
	"chinlift/core/depth"
	"chinlift/core/patient"
	"chinlift/core/quantity"
	"chinlift/core/term"
	"chinlift/core/uptake"
)

// Of inhaled agents: what packages agent and uptake give by themselves.

var (
	inAgent    = Input{Name: "agent", Kind: InputCode, Codes: codesOf(term.AgentList)}
	inPercent  = Input{Name: "percent", Kind: InputAmount, Units: []quantity.Unit{quantity.Percent}}
	inMinute   = Input{Name: "minute", Kind: InputAmount, Units: []quantity.Unit{quantity.LPerMin}}
	inPressure = Input{Name: "pressure", Kind: InputAmount, Units: []quantity.Unit{quantity.MmHg}}
)

var agentReckonings = []Reckoning{
	{"mac", []Input{needed(inAgent), needed(inAge)}, agentMAC},
	{"wake", []Input{needed(inAgent), needed(inAge), inWeight, {Name: "held", Kind: InputAmount, Units: []quantity.Unit{quantity.Percent}}, {Name: "lasted", Kind: InputAmount, Units: []quantity.Unit{quantity.Minute}}}, agentWake},
	{"liquid-use", []Input{needed(inAgent), needed(inPercent), needed(inMinute), needed(inPressure)}, liquidUse},
}

// areaDepth has the words for the cautions of agents.
const areaDepth = "depth"

// ofAgent puts an answer of package agent in.
func (r *Result) ofAgent(a agent.Answer) {
	r.beware(Coded{areaDepth, string(agent.Estimate)})
	for _, x := range a.Cautions {
		r.beware(Coded{areaDepth, string(x)})
	}
	r.from(a.Sources...)
}

// calledOtherwise are fields of packages agent and uptake whose inputs have names
// of their own.
var calledOtherwise = map[string]string{"per_ml": "counted", "kind": "vaporiser", "oxygen": "flow", "co2": "carbon_dioxide", "agent_percent": "percent"}

func agentFault(err error) error {
	var e *agent.Error
	if !errors.As(err, &e) {
		return err
	}
	name := e.Field
	if n, ok := calledOtherwise[name]; ok {
		name = n
	}
	return &fault{name: name, code: e.Code, low: e.Low, high: e.High}
}

func agentMAC(g Given, r *Result) error {
	a, err := agent.MAC(term.Agent(g.code("agent")), g.amount("age"))
	if err != nil {
		return agentFault(err)
	}
	r.ofAgent(a)
	r.step("mac-by-age", patient.Named{Name: "age", Amount: g.amount("age")})
	r.Values = append(r.Values, ResultValue{Name: "mac", Amount: a.Value, Low: a.Low, High: a.High, Rule: Coded{areaReckon, "mac-by-age"}})
	return nil
}

func agentWake(g Given, r *Result) error {
	a, err := agent.Awake(term.Agent(g.code("agent")), g.amount("age"))
	if err != nil {
		return agentFault(err)
	}
	r.ofAgent(a)
	r.step("mac-by-age", patient.Named{Name: "age", Amount: g.amount("age")})
	r.Values = append(r.Values, ResultValue{Name: "awake_tension", Amount: a.Value, Low: a.Low, High: a.High, Rule: Coded{areaReckon, "part-of-mac"}})
	if !g.has("weight") && !g.has("held") && !g.has("lasted") {
		return nil
	}
	for _, name := range []string{"weight", "held", "lasted"} {
		if !g.has(name) {
			return &fault{name: name, code: patient.Missing}
		}
	}
	return wakesAfter(g, r, a)
}

// wakesAfter adds how long it takes to wake, after the lung was held at a tension
// for a time: by breathing and output in the middle, and in the corners of both.
func wakesAfter(g Given, r *Result, awake agent.Answer) error {
	body, answer, err := uptake.NewBody(g.amount("weight"))
	if err != nil {
		return agentFault(err)
	}
	set, err := uptake.Usual(term.Agent(g.code("agent")), body)
	if err != nil {
		return agentFault(err)
	}
	held, err := agent.Take("held", g.amount("held"), quantity.Percent, 0, 80)
	if err != nil {
		return agentFault(err)
	}
	lasted, err := agent.Take("lasted", g.amount("lasted"), quantity.Minute, 0, 24*60)
	if err != nil {
		return agentFault(err)
	}
	air, breath, err := uptake.Ventilation(body, uptake.Breathing{})
	if err != nil {
		return agentFault(err)
	}
	var target uptake.Range
	for _, x := range []struct {
		to *float64
		of quantity.Amount
	}{{&target.Low, awake.Low}, {&target.Value, awake.Value}, {&target.High, awake.High}} {
		if *x.to, err = x.of.Float64(quantity.MmHg); err != nil {
			return err
		}
	}
	output := uptake.Range{Low: 0.75 * set.OutputLPerMin, Value: set.OutputLPerMin, High: 1.25 * set.OutputLPerMin}
	const limit = 24 * 60.0
	until := func(s uptake.Setting, mmHg float64) (float64, error) {
		m, err := uptake.New(body, s)
		if err != nil {
			return 0, err
		}
		var state uptake.State
		if err := m.Clamp(&state, held*7.6, lasted); err != nil {
			return 0, err
		}
		if state.TensionMmHg[uptake.Brain] <= mmHg {
			return 0, nil
		}
		minutes, reached, err := m.Until(state, uptake.Brain, mmHg, 0, limit)
		if !reached {
			minutes = limit
		}
		return minutes, err
	}
	set.AlveolarLPerMin = air.AlveolarLPerMin.Value
	middle, err := until(set, target.Value)
	if err != nil {
		return agentFault(err)
	}
	low, high := middle, middle
	for _, c := range uptake.Corners(set, air.AlveolarLPerMin, output) {
		for _, mmHg := range []float64{target.Low, target.High} {
			x, err := until(c, mmHg)
			if err != nil {
				return agentFault(err)
			}
			low, high = min(low, x), max(high, x)
		}
	}
	sources, err := uptake.Sources(term.Agent(g.code("agent")))
	if err != nil {
		return agentFault(err)
	}
	answer.Cite(sources...)
	answer.Cite(uptake.OutputSpread)
	answer.Beware(depth.Earliest)
	r.ofAgent(answer)
	r.ofAgent(breath)
	r.took("held-then-air", g, "held", "lasted", "weight")
	minutes := func(x float64) quantity.Amount { return agent.Give(x, 1, quantity.Minute) }
	r.ranged("wakes_after", "compartments", minutes(low), minutes(middle), minutes(high))
	return nil
}

func liquidUse(g Given, r *Result) error {
	a, err := uptake.LiquidUse(term.Agent(g.code("agent")), g.amount("percent"), g.amount("minute"), g.amount("pressure"))
	if err != nil {
		return agentFault(err)
	}
	r.ofAgent(a)
	r.step("liquid-to-vapour", patient.Named{Name: "percent", Amount: g.amount("percent")}, patient.Named{Name: "minute", Amount: g.amount("minute")})
	r.Values = append(r.Values, ResultValue{Name: "liquid", Amount: a.Value, Low: a.Low, High: a.High, Rule: Coded{areaReckon, "liquid-to-vapour"}})
	return nil
}
