package timeline

import (
	"chinlift/core/term"
)

// AttachedTo is something put on or into a patient or into what is breathed,
// or taken away.
type AttachedTo struct {
	What []term.Attached `json:"attached"`
	Off  bool            `json:"off,omitempty"` // taken away
}

// Kind is "attached/1".
func (*AttachedTo) Kind() Kind { return "attached/1" }

// Check answers a *FieldError for the first field at fault.
func (a *AttachedTo) Check() error {
	c := check(a)
	if len(a.What) == 0 {
		c.fail("attached", "missing")
	}
	codes(c, "attached", term.AttachedList, a.What)
	return c.err()
}
