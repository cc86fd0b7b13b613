package timeline

import (
	"chinlift/core/term"
)

// Mark is an instant that mattered, marked without a word. It is named later
// by a correction; its time stays. It may also turn out to be something else,
// a drug or an airway: it is the one kind that a correction may replace by
// another kind.
type Mark struct {
	Label term.MarkLabel `json:"label,omitempty"`
}

// Kind is "mark/1".
func (*Mark) Kind() Kind { return "mark/1" }

// Check answers a *FieldError for the first field at fault.
func (m *Mark) Check() error {
	c := check(m)
	code(c, "label", term.MarkLabelList, m.Label, false)
	return c.err()
}
