package timeline

import (
	"chinlift/core/term"
)

// Signs is any subset of what was seen, heard and felt.
type Signs struct {
	Breathing term.Breathing `json:"breathing,omitempty"`
	Eyes      term.Eyes      `json:"eyes,omitempty"`
	Pupils    term.Pupils    `json:"pupils,omitempty"`
	Lid       term.Reflex    `json:"lid,omitempty"`
	Cornea    term.Reflex    `json:"cornea,omitempty"`
	Jaw       term.Jaw       `json:"jaw,omitempty"`
	Chest     term.Chest     `json:"chest,omitempty"`
	Secretion term.Secretion `json:"secretion,omitempty"`
	Movement  term.Movement  `json:"movement,omitempty"`
	Sweat     term.Sweat     `json:"sweat,omitempty"`
	Tears     term.Tears     `json:"tears,omitempty"`
	Colour    term.Colour    `json:"colour,omitempty"`
}

// Kind is "signs/1".
func (*Signs) Kind() Kind { return "signs/1" }

// Check answers a *FieldError for the first field at fault.
func (s *Signs) Check() error {
	c := check(s)
	if *s == (Signs{}) {
		c.fail("signs", "missing")
	}
	code(c, "breathing", term.BreathingList, s.Breathing, false)
	code(c, "eyes", term.EyesList, s.Eyes, false)
	code(c, "pupils", term.PupilsList, s.Pupils, false)
	code(c, "lid", term.ReflexList, s.Lid, false)
	code(c, "cornea", term.ReflexList, s.Cornea, false)
	code(c, "jaw", term.JawList, s.Jaw, false)
	code(c, "chest", term.ChestList, s.Chest, false)
	code(c, "secretion", term.SecretionList, s.Secretion, false)
	code(c, "movement", term.MovementList, s.Movement, false)
	code(c, "sweat", term.SweatList, s.Sweat, false)
	code(c, "tears", term.TearsList, s.Tears, false)
	code(c, "colour", term.ColourList, s.Colour, false)
	return c.err()
}
