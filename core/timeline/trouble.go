package timeline

import (
	"chinlift/core/term"
)

// Trouble is the beginning of an event that needs an answer, a step of the
// answer, or its end.
type Trouble struct {
	Trouble term.Trouble    `json:"trouble"`
	Act     term.TroubleAct `json:"act"`
	Step    string          `json:"step,omitempty"` // the card's step, by its code
}

// Kind is "trouble/1".
func (*Trouble) Kind() Kind { return "trouble/1" }

// Check answers a *FieldError for the first field at fault.
func (t *Trouble) Check() error {
	c := check(t)
	code(c, "trouble", term.TroubleList, t.Trouble, true)
	code(c, "act", term.TroubleActList, t.Act, true)
	c.name("step", t.Step, t.Act == term.TroubleActStep)
	return c.err()
}
