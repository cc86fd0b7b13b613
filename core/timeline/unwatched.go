package timeline

import (
	"chinlift/core/term"
)

// Unwatched says that something a standard asks to be watched was not, and
// why, as the Standards for Basic Anesthetic Monitoring of the American
// Society of Anesthesiologists ask.
type Unwatched struct {
	Monitor term.Monitor `json:"monitor"`
	Because term.Because `json:"because"`
}

// Kind is "unwatched/1".
func (*Unwatched) Kind() Kind { return "unwatched/1" }

// Check answers a *FieldError for the first field at fault.
func (u *Unwatched) Check() error {
	c := check(u)
	code(c, "monitor", term.MonitorList, u.Monitor, true)
	code(c, "because", term.BecauseList, u.Because, true)
	return c.err()
}
