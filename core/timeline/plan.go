package timeline

import (
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
	return c.err()
}
