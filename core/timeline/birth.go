package timeline

import (
	"chinlift/core/quantity"
	"chinlift/core/term"
)

// Birth is a child born during the case. The newborn is a patient of its own,
// linked by its person's event.
type Birth struct {
	Newborn string          `json:"newborn"`
	Sex     term.Sex        `json:"sex,omitempty"`
	Weight  quantity.Amount `json:"weight,omitzero"`
	Apgar1  *int            `json:"apgar_1,omitempty"` // at one minute: Apgar, Current Researches in Anesthesia and Analgesia 1953
	Apgar5  *int            `json:"apgar_5,omitempty"`
	Cried   string          `json:"cried,omitempty"` // yes or no
}

// Kind is "birth/1".
func (*Birth) Kind() Kind { return "birth/1" }

// Check answers a *FieldError for the first field at fault.
func (b *Birth) Check() error {
	c := check(b)
	c.id("newborn", b.Newborn, true)
	code(c, "sex", term.SexList, b.Sex, false)
	c.amount("weight", b.Weight, "200 g", "8000 g")
	for _, s := range []struct {
		field string
		n     *int
	}{{"apgar_1", b.Apgar1}, {"apgar_5", b.Apgar5}} {
		if s.n != nil {
			c.count(s.field, *s.n, 0, 10)
		}
	}
	yesNo(c, "cried", b.Cried)
	return c.err()
}
