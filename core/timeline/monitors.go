package timeline

import (
	"chinlift/core/term"
)

// Monitors says by what the patient is watched from now on, and whether it can
// be heard.
type Monitors struct {
	On     []term.Monitor `json:"monitors"`
	Alarms string         `json:"alarms,omitempty"` // yes or no: sounds and alarms are on
}

// Kind is "monitors/1".
func (*Monitors) Kind() Kind { return "monitors/1" }

// Check answers a *FieldError for the first field at fault.
func (m *Monitors) Check() error {
	c := check(m)
	if len(m.On) == 0 {
		c.fail("monitors", "missing")
	}
	codes(c, "monitors", term.MonitorList, m.On)
	yesNo(c, "alarms", m.Alarms)
	return c.err()
}
