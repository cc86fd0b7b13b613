package timeline

import (
	"chinlift/core/term"
)

// Person is anyone who has a part in a case: patient, newborn, provider,
// assistant. About is the person's id. Name and record number are in the
// private part.
type Person struct {
	Roles []term.Role `json:"roles,omitempty"`
	Sex   term.Sex    `json:"sex,omitempty"`
	// Mother is the patient whose child this newborn is.
	Mother string `json:"mother,omitempty"`
}

// Kind is "person/1".
func (*Person) Kind() Kind { return "person/1" }

// Check answers a *FieldError for the first field at fault.
func (p *Person) Check() error {
	c := check(p)
	codes(c, "roles", term.RoleList, p.Roles)
	code(c, "sex", term.SexList, p.Sex, false)
	c.id("mother", p.Mother, false)
	return c.err()
}
