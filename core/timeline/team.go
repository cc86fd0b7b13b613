package timeline

import (
	"chinlift/core/term"
)

// Team says who takes part in a case. The name is in the private part.
type Team struct {
	Role term.Role `json:"role"`
}

// Kind is "team/1".
func (*Team) Kind() Kind { return "team/1" }

// Check answers a *FieldError for the first field at fault.
func (m *Team) Check() error {
	c := check(m)
	code(c, "role", term.RoleList, m.Role, true)
	if m.Role == term.RolePatient || m.Role == term.RoleNewborn {
		c.fail("role", "not-in-list")
	}
	return c.err()
}
