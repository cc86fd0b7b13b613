package timeline

import (
	"chinlift/core/quantity"
	"chinlift/core/term"
)

// Infusion is a drug or fluid that runs. Run is the id of the event that
// started it; the starting event has none.
type Infusion struct {
	Act      term.InfusionAct `json:"act"`
	Run      string           `json:"run,omitempty"`
	Drug     string           `json:"drug"`
	Rate     quantity.Amount  `json:"rate,omitzero"`
	Strength quantity.Amount  `json:"strength,omitzero"`
	Route    term.Route       `json:"route,omitempty"`
	Frozen   *Suggested       `json:"suggested,omitempty"`
}

// Kind is "infusion/1".
func (*Infusion) Kind() Kind { return "infusion/1" }

// Check answers a *FieldError for the first field at fault.
func (i *Infusion) Check() error {
	c := check(i)
	code(c, "act", term.InfusionActList, i.Act, true)
	c.id("run", i.Run, i.Act != term.InfusionActStarted)
	if i.Act == term.InfusionActStarted && i.Run != "" {
		c.fail("run", "contradiction")
	}
	c.name("drug", i.Drug, true)
	if i.Act == term.InfusionActStopped {
		if !i.Rate.IsZero() {
			c.fail("rate", "contradiction")
		}
	} else {
		need(c, "rate", i.Rate)
	}
	c.oneOf("rate", i.Rate, [2]string{"0.01 mL/h", "10000 mL/h"}, [2]string{"0.0001 mg/h", "10000 mg/h"},
		[2]string{"0.0001 ug/kg/min", "10000 ug/kg/min"}, [2]string{"1 {drop}/min", "500 {drop}/min"}, [2]string{"0.01 [IU]/h", "10000 [IU]/h"})
	c.oneOf("strength", i.Strength, strengthBounds...)
	code(c, "route", term.RouteList, i.Route, i.Act == term.InfusionActStarted)
	if i.Frozen != nil && !i.Frozen.Rule.Valid() {
		c.fail("suggested", "missing")
	}
	if i.Frozen != nil {
		c.name("suggested", i.Frozen.Use, false)
	}
	return c.err()
}
