package timeline

import (
	"chinlift/core/quantity"
	"chinlift/core/term"
)

// Out is what was lost or passed since the last entry of its sort.
type Out struct {
	What   term.FluidOut   `json:"what"`
	Volume quantity.Amount `json:"volume"`
	How    term.Measured   `json:"how"`
}

// Kind is "out/1".
func (*Out) Kind() Kind { return "out/1" }

// Check answers a *FieldError for the first field at fault.
func (o *Out) Check() error {
	c := check(o)
	code(c, "what", term.FluidOutList, o.What, true)
	need(c, "volume", o.Volume)
	c.amount("volume", o.Volume, "0 mL", "20000 mL")
	code(c, "how", term.MeasuredList, o.How, true)
	return c.err()
}
