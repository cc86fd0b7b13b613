package core

import (
	"errors"

	"chinlift/core/agent"
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
	{"wake", []Input{needed(inAgent), needed(inAge)}, agentWake},
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

func agentFault(err error) error {
	var e *agent.Error
	if !errors.As(err, &e) {
		return err
	}
	return &fault{name: e.Field, code: e.Code, low: e.Low, high: e.High}
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
