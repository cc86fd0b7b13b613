package timeline

import (
	"chinlift/core/term"
)

// LogOpened is the first event of every log. A device whose database was
// restored or copied opens a new log that cites the head of the old one, so
// that two devices never write under one (log, number).
type LogOpened struct {
	Cause term.LogCause `json:"cause"`
	Cites string        `json:"cites,omitempty"`      // the old log
	At    int64         `json:"cites_seq,omitempty"`  // its last number seen
	Head  Hash          `json:"cites_hash,omitempty"` // hash of that line
}

// Kind is "log-opened/1".
func (*LogOpened) Kind() Kind { return "log-opened/1" }

// Check answers a *FieldError for the first field at fault.
func (l *LogOpened) Check() error {
	c := check(l)
	code(c, "cause", term.LogCauseList, l.Cause, true)
	c.id("cites", l.Cites, l.Cause != term.LogCauseNew)
	if l.Cites != "" && l.At < 1 || (l.Cites != "" || l.Head != "") && !l.Head.Valid() {
		c.fail("cites_hash", "missing")
	}
	return c.err()
}
