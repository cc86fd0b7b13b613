package timeline

import (
	"chinlift/core/term"
)

// Performed is what was done in the end: the operation, in the surgeon's words
// in the private part, and by which anaesthetic.
type Performed struct {
	Operation  term.Operation   `json:"operation"`
	Techniques []term.Technique `json:"techniques,omitempty"`
	AsPlanned  string           `json:"as_planned,omitempty"` // yes or no
}

// Kind is "performed/1".
func (*Performed) Kind() Kind { return "performed/1" }

// Check answers a *FieldError for the first field at fault.
func (p *Performed) Check() error {
	c := check(p)
	code(c, "operation", term.OperationList, p.Operation, true)
	codes(c, "techniques", term.TechniqueList, p.Techniques)
	yesNo(c, "as_planned", p.AsPlanned)
	return c.err()
}
