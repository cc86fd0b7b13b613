package timeline

import (
	"chinlift/core/quantity"
	"chinlift/core/term"
)

// AgentDelivery is a change in how the inhaled agent, the oxygen or the cover
// is given, from now on. What is not named goes on as it was: an agent needs
// one way of saying how much, or off.
type AgentDelivery struct {
	Agent   term.Agent      `json:"agent,omitempty"`
	Drops   quantity.Amount `json:"drops,omitzero"`   // drops a minute on the gauze
	Percent quantity.Amount `json:"percent,omitzero"` // vaporiser setting
	Wetness term.Wetness    `json:"wetness,omitempty"`
	Bottle  quantity.Amount `json:"bottle,omitzero"` // what is left in the bottle, mL
	Off     bool            `json:"off,omitempty"`
	Oxygen  quantity.Amount `json:"oxygen,omitzero"` // L/min; 0 says that it is off
	Cover   term.Cover      `json:"cover,omitempty"`
}

// Kind is "agent/1".
func (*AgentDelivery) Kind() Kind { return "agent/1" }

// Check answers a *FieldError for the first field at fault.
func (a *AgentDelivery) Check() error {
	c := check(a)
	code(c, "agent", term.AgentList, a.Agent, false)
	c.amount("drops", a.Drops, "0 {drop}/min", "1000 {drop}/min")
	c.amount("percent", a.Percent, "0 %", "100 %")
	code(c, "wetness", term.WetnessList, a.Wetness, false)
	c.amount("bottle", a.Bottle, "0 mL", "5000 mL")
	c.amount("oxygen", a.Oxygen, "0 L/min", "100 L/min")
	code(c, "cover", term.CoverList, a.Cover, false)
	ways := 0
	for _, given := range []bool{!a.Drops.IsZero(), !a.Percent.IsZero(), a.Wetness != "", a.Off} {
		if given {
			ways++
		}
	}
	switch {
	case a.Agent != "" && ways == 0 && a.Bottle.IsZero():
		c.fail("agent", "missing") // an agent without how much
	case a.Agent == "" && (ways > 0 || !a.Bottle.IsZero()):
		c.fail("agent", "missing")
	case a.Off && ways > 1, ways > 2:
		c.fail("off", "contradiction")
	case a.Agent == "" && a.Oxygen.IsZero() && a.Cover == "":
		c.fail("agent", "missing")
	}
	return c.err()
}
