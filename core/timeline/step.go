package timeline

import (
	"chinlift/core/term"
)

// Step is a surgical step that began.
type Step struct {
	Step term.Step `json:"step"`
}

// Kind is "step/1".
func (*Step) Kind() Kind { return "step/1" }

// Check answers a *FieldError for the first field at fault.
func (s *Step) Check() error {
	c := check(s)
	code(c, "step", term.StepList, s.Step, true)
	return c.err()
}
