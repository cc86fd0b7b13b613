package timeline

import (
	"chinlift/core/term"
)

// Position is how the patient lies from now on.
type Position struct {
	Position term.Position `json:"position"`
	// EyesCovered, EyesTreated and Padded say that eyes and pressure points were
	// seen to; treated is a drop or ointment in the eyes.
	EyesCovered bool `json:"eyes_covered,omitempty"`
	EyesTreated bool `json:"eyes_treated,omitempty"`
	Padded      bool `json:"padded,omitempty"`

	Limbs []term.Limb `json:"limbs,omitempty"`
}

// Kind is "position/1".
func (*Position) Kind() Kind { return "position/1" }

// Check answers a *FieldError for the first field at fault.
func (p *Position) Check() error {
	c := check(p)
	code(c, "position", term.PositionList, p.Position, true)
	codes(c, "limbs", term.LimbList, p.Limbs)
	return c.err()
}
