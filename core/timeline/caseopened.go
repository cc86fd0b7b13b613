package timeline

import (
	"chinlift/core/term"
)

// CaseOpened begins a case. About is the case; the patient is a person.
type CaseOpened struct {
	Patient string       `json:"patient"`
	Urgency term.Urgency `json:"urgency,omitempty"`
}

// Kind is "case-opened/1".
func (*CaseOpened) Kind() Kind { return "case-opened/1" }

// Check answers a *FieldError for the first field at fault.
func (o *CaseOpened) Check() error {
	c := check(o)
	c.id("patient", o.Patient, true)
	code(c, "urgency", term.UrgencyList, o.Urgency, false)
	return c.err()
}
