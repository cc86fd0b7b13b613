package timeline

import (
	"chinlift/core/term"
)

// Handover says who takes a patient over, and with which orders. Name and
// orders are in the private part; who is absent was not said. That the patient
// was handed over is a phase of its own.
type Handover struct {
	To term.Watcher `json:"to,omitempty"`
}

// Kind is "handover/1".
func (*Handover) Kind() Kind { return "handover/1" }

// Check answers a *FieldError for the first field at fault.
func (h *Handover) Check() error {
	c := check(h)
	code(c, "to", term.WatcherList, h.To, false)
	if h.To == term.WatcherNobody {
		c.fail("to", "not-in-list")
	}
	return c.err()
}
