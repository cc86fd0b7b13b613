package timeline

import (
	"chinlift/core/term"
)

// Stomach says that something stopped the stomach, at the event's at: an
// injury, or an opioid that was given elsewhere.
type Stomach struct {
	By term.SlowStomach `json:"by"`
	// UnknownTime says that nobody could tell when; at is then the time of asking.
	UnknownTime bool `json:"unknown_time,omitempty"`
}

// Kind is "stomach/1".
func (*Stomach) Kind() Kind { return "stomach/1" }

// Check answers a *FieldError for the first field at fault. Only what happens
// at a time can be entered.
func (s *Stomach) Check() error {
	c := check(s)
	code(c, "by", term.SlowStomachList, s.By, true)
	if s.By == term.SlowStomachReflux || s.By == term.SlowStomachObesity {
		c.fail("by", "not-in-list")
	}
	return c.err()
}
