package timeline

import (
	"strings"

	"chinlift/core/quantity"
	"chinlift/core/term"
)

// Plan is what is intended. It is the only thing that can be held. The words
// for the operation are in the private part.
type Plan struct {
	Techniques  []term.Technique  `json:"techniques,omitempty"`
	Agent       term.Agent        `json:"agent,omitempty"`
	Airway      term.AirwayDevice `json:"airway,omitempty"`
	Position    term.Position     `json:"position,omitempty"`
	Operation   term.Operation    `json:"operation,omitempty"`
	Start       Moment            `json:"start,omitzero"`
	Drugs       []string          `json:"drugs,omitempty"`
	Steps       []term.Step       `json:"steps,omitempty"`
	LossAllowed quantity.Amount   `json:"loss_allowed,omitzero"`
	Hazards     []term.Hazard     `json:"hazards,omitempty"` // that will be in the room

	// StepTimes say when a step is expected, after the planned start:
	// "knife 20 min". Rough, and as the surgeon tells them.
	StepTimes    []string       `json:"step_times,omitempty"`
	Fluids       []term.FluidIn `json:"fluids,omitempty"`
	Recovery     term.Watcher   `json:"recovery,omitempty"`      // who watches afterwards
	OpioidsAfter string         `json:"opioids_after,omitempty"` // yes or no: opioids are planned for afterwards
	Place        term.Place     `json:"place,omitempty"`         // where it is given
}

// StepTime is a step with the time at which it is expected.
type StepTime struct {
	Step  term.Step
	After quantity.Amount // the planned start
}

// ParseStepTime reads the form "knife 20 min".
func ParseStepTime(s string) (StepTime, error) {
	step, after, _ := strings.Cut(s, " ")
	t := StepTime{Step: term.Step(step)}
	if !term.StepList.Has(t.Step) {
		return StepTime{}, &FieldError{Kind: "plan", Field: "step_times", Code: "not-in-list"}
	}
	a, err := quantity.Parse(after)
	if err != nil {
		return StepTime{}, &FieldError{Kind: "plan", Field: "step_times", Code: "not-readable", Detail: err.Error()}
	}
	t.After = a
	return t, nil
}

// String writes the form that ParseStepTime reads.
func (t StepTime) String() string { return string(t.Step) + " " + t.After.String() }

// Expected gives the steps with a time, in the order in which they stand;
// what cannot be read is left out.
func (p *Plan) Expected() []StepTime {
	var all []StepTime
	for _, s := range p.StepTimes {
		if t, err := ParseStepTime(s); err == nil {
			all = append(all, t)
		}
	}
	return all
}

// Kind is "plan/1".
func (*Plan) Kind() Kind { return "plan/1" }

// Check answers a *FieldError for the first field at fault.
func (p *Plan) Check() error {
	c := check(p)
	codes(c, "techniques", term.TechniqueList, p.Techniques)
	code(c, "agent", term.AgentList, p.Agent, false)
	code(c, "airway", term.AirwayDeviceList, p.Airway, false)
	code(c, "position", term.PositionList, p.Position, false)
	code(c, "operation", term.OperationList, p.Operation, false)
	for _, d := range p.Drugs {
		c.name("drugs", d, true)
	}
	codes(c, "steps", term.StepList, p.Steps)
	codes(c, "hazards", term.HazardList, p.Hazards)
	c.amount("loss_allowed", p.LossAllowed, "0 mL", "10000 mL")
	if len(p.StepTimes) > 20 {
		c.fail("step_times", "too-many")
	}
	seen := map[term.Step]bool{}
	for _, s := range p.StepTimes {
		t, err := ParseStepTime(s)
		if fault, ok := err.(*FieldError); ok { //nolint:errorlint // ParseStepTime answers no other
			c.fail(fault.Field, fault.Code)
			continue
		}
		if seen[t.Step] {
			c.fail("step_times", "contradiction")
		}
		seen[t.Step] = true
		c.amount("step_times", t.After, "0 min", "1440 min")
	}
	codes(c, "fluids", term.FluidInList, p.Fluids)
	code(c, "recovery", term.WatcherList, p.Recovery, false)
	yesNo(c, "opioids_after", p.OpioidsAfter)
	code(c, "place", term.PlaceList, p.Place, false)
	return c.err()
}
