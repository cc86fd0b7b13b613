package timeline

import (
	"chinlift/core/term"
)

// Support is who does the breathing from now on.
type Support struct {
	Support term.Support `json:"support"`
}

// Kind is "support/1".
func (*Support) Kind() Kind { return "support/1" }

// Check answers a *FieldError for the first field at fault.
func (s *Support) Check() error {
	c := check(s)
	code(c, "support", term.SupportList, s.Support, true)
	return c.err()
}
