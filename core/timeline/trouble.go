package timeline

import (
	"chinlift/core/term"
)

// Trouble is the beginning of an event that needs an answer, a step of the
// answer, or its end.
type Trouble struct {
	Trouble term.Trouble    `json:"trouble"`
	Act     term.TroubleAct `json:"act"`
	Card    string          `json:"card,omitempty"`  // the card, where the trouble has several; else it bears the trouble's name
	Step    string          `json:"step,omitempty"`  // the card's step, by its code
	Given   string          `json:"given,omitempty"` // the dose or infusion that was the step: the entry's id
}

// Kind is "trouble/1".
func (*Trouble) Kind() Kind { return "trouble/1" }

// Check answers a *FieldError for the first field at fault.
func (t *Trouble) Check() error {
	c := check(t)
	code(c, "trouble", term.TroubleList, t.Trouble, true)
	code(c, "act", term.TroubleActList, t.Act, true)
	c.name("card", t.Card, false)
	c.name("step", t.Step, t.Act == term.TroubleActStep)
	c.id("given", t.Given, false)
	if t.Given != "" && t.Act != term.TroubleActStep {
		c.fail("given", "contradiction")
	}
	return c.err()
}
