package timeline

import (
	"chinlift/core/term"
)

// IdentityDestroyed records that private parts and their salts were destroyed.
// The events that held them stay, and their chain still verifies; what they
// committed to can no longer be found by trying names.
type IdentityDestroyed struct {
	Events  []string     `json:"events"` // ids of the events whose private part is gone
	Grounds term.Grounds `json:"grounds"`
	Asked   term.AskedBy `json:"asked_by,omitempty"` // who asked for it
}

// Kind is "destroyed/1".
func (*IdentityDestroyed) Kind() Kind { return "destroyed/1" }

// Check answers a *FieldError for the first field at fault.
func (d *IdentityDestroyed) Check() error {
	c := check(d)
	if len(d.Events) == 0 {
		c.fail("events", "missing")
	}
	for _, id := range d.Events {
		c.id("events", id, true)
	}
	code(c, "grounds", term.GroundsList, d.Grounds, true)
	code(c, "asked_by", term.AskedByList, d.Asked, false)
	return c.err()
}
