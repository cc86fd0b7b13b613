package timeline

import (
	"chinlift/core/term"
)

// Consulted says who was told or asked, and what came of it. The words are in
// the private part.
type Consulted struct {
	Adviser term.Adviser `json:"adviser"`
	Advice  term.Advice  `json:"advice"`
}

// Kind is "consulted/1".
func (*Consulted) Kind() Kind { return "consulted/1" }

// Check answers a *FieldError for the first field at fault.
func (m *Consulted) Check() error {
	c := check(m)
	code(c, "adviser", term.AdviserList, m.Adviser, true)
	code(c, "advice", term.AdviceList, m.Advice, true)
	return c.err()
}
