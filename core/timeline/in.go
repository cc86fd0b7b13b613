package timeline

import (
	"chinlift/core/quantity"
	"chinlift/core/term"
)

// In is a fluid or blood that went in.
type In struct {
	What   term.FluidIn    `json:"what"`
	Volume quantity.Amount `json:"volume"`
}

// Kind is "in/1".
func (*In) Kind() Kind { return "in/1" }

// Check answers a *FieldError for the first field at fault.
func (i *In) Check() error {
	c := check(i)
	code(c, "what", term.FluidInList, i.What, true)
	need(c, "volume", i.Volume)
	c.amount("volume", i.Volume, "1 mL", "20000 mL")
	return c.err()
}
