package timeline

import (
	"chinlift/core/quantity"
	"chinlift/core/term"
)

// Support is who does the breathing from now on.
type Support struct {
	Support term.Support         `json:"support"`
	System  term.BreathingSystem `json:"system,omitempty"`
	Tidal   quantity.Amount      `json:"tidal,omitzero"` // volume of one breath that is given
	Rate    quantity.Amount      `json:"rate,omitzero"`  // breaths that are given
}

// Kind is "support/1".
func (*Support) Kind() Kind { return "support/1" }

// Check answers a *FieldError for the first field at fault.
func (s *Support) Check() error {
	c := check(s)
	code(c, "support", term.SupportList, s.Support, true)
	code(c, "system", term.BreathingSystemList, s.System, false)
	c.amount("tidal", s.Tidal, "5 mL", "2000 mL")
	c.amount("rate", s.Rate, "1 /min", "150 /min")
	return c.err()
}
