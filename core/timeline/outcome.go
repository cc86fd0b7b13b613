package timeline

import (
	"chinlift/core/term"
)

// Outcome is how the case ended for the patient.
type Outcome struct {
	Outcome term.Outcome `json:"outcome"`
}

// Kind is "outcome/1".
func (*Outcome) Kind() Kind { return "outcome/1" }

// Check answers a *FieldError for the first field at fault.
func (o *Outcome) Check() error {
	c := check(o)
	code(c, "outcome", term.OutcomeList, o.Outcome, true)
	return c.err()
}
