package timeline

import (
	"chinlift/core/term"
)

// Owed is a reason that fell due, or was given. It blocks nothing. The words
// are in the private part.
type Owed struct {
	Act  term.OwedAct `json:"act"`
	For  term.Owed    `json:"for"`
	Over string       `json:"over,omitempty"` // the entry that it is about
	Debt string       `json:"debt,omitempty"` // given: the event by which it fell due
}

// Kind is "owed/1".
func (*Owed) Kind() Kind { return "owed/1" }

// Check answers a *FieldError for the first field at fault.
func (o *Owed) Check() error {
	c := check(o)
	code(c, "act", term.OwedActList, o.Act, true)
	code(c, "for", term.OwedList, o.For, true)
	c.id("over", o.Over, false)
	c.id("debt", o.Debt, o.Act == term.OwedActGiven)
	return c.err()
}
