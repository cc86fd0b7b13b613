package timeline

import (
	"chinlift/core/term"
)

// Intake is something eaten or drunk, or the statement that the time is not
// known; it happened at the event's at.
type Intake struct {
	What term.Intake `json:"what"`
	// UnknownTime says that nobody could tell when; at is then the time of asking.
	UnknownTime bool `json:"unknown_time,omitempty"`
}

// Kind is "intake/1".
func (*Intake) Kind() Kind { return "intake/1" }

// Check answers a *FieldError for the first field at fault.
func (i *Intake) Check() error {
	c := check(i)
	code(c, "what", term.IntakeList, i.What, true)
	return c.err()
}
