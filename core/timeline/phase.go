package timeline

import (
	"chinlift/core/term"
)

// Phase is the beginning of one phase of the anaesthetic.
type Phase struct {
	Phase term.Phase `json:"phase"`
	Home  string     `json:"home,omitempty"` // yes: who is handed over goes home
}

// Kind is "phase/1".
func (*Phase) Kind() Kind { return "phase/1" }

// Check answers a *FieldError for the first field at fault.
func (p *Phase) Check() error {
	c := check(p)
	code(c, "phase", term.PhaseList, p.Phase, true)
	yesNo(c, "home", p.Home)
	if p.Home != "" && p.Phase != term.PhaseHandedOver {
		c.fail("home", "contradiction")
	}
	return c.err()
}
