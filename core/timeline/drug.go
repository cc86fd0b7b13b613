package timeline

import (
	"strings"

	"chinlift/core/quantity"
	"chinlift/core/term"
)

// Drug is a drug that was given. It is recorded at once, whatever any rule
// says of it. What the companion had suggested is frozen beside it.
type Drug struct {
	Drug     string          `json:"drug"` // from the formulary: an open list
	Dose     quantity.Amount `json:"dose"`
	Route    term.Route      `json:"route"`
	Strength quantity.Amount `json:"strength,omitzero"` // of what was drawn up: mg/mL, %, [IU]/mL or mmol/mL
	Volume   quantity.Amount `json:"volume,omitzero"`
	Batch    string          `json:"batch,omitempty"` // as printed on it, never free text: letters, digits, - and /, at most 24
	Frozen   *Suggested      `json:"suggested,omitempty"`
}

// Suggested is what a dose rule said when the drug was given.
type Suggested struct {
	Rule    Hash            `json:"rule"`              // SHA-256 of the rule
	Use     string          `json:"use,omitempty"`     // the code of the use in the drug's file
	Guessed bool            `json:"guessed,omitempty"` // nobody said what it was given for
	Weight  quantity.Amount `json:"weight,omitzero"`
	Low     quantity.Amount `json:"low,omitzero"`
	High    quantity.Amount `json:"high,omitzero"`
}

var doseBounds = [][2]string{
	{"0.0001 mg", "100000 mg"}, {"0.0001 mL", "5000 mL"}, {"0.01 [IU]", "100000000 [IU]"}, {"0.0001 mmol", "1000 mmol"},
}

// Oxytocin and insulin come by international units, potassium by mmol.
var strengthBounds = [][2]string{
	{"0.000001 mg/mL", "1000 mg/mL"}, {"0.0001 %", "100 %"}, {"0.0001 [IU]/mL", "10000000 [IU]/mL"}, {"0.0001 mmol/mL", "10 mmol/mL"},
}

// Kind is "drug/1".
func (*Drug) Kind() Kind { return "drug/1" }

// Check answers a *FieldError for the first field at fault.
func (d *Drug) Check() error {
	c := check(d)
	c.name("drug", d.Drug, true)
	need(c, "dose", d.Dose)
	c.oneOf("dose", d.Dose, doseBounds...)
	code(c, "route", term.RouteList, d.Route, true)
	c.oneOf("strength", d.Strength, strengthBounds...)
	c.amount("volume", d.Volume, "0.001 mL", "5000 mL")
	c.batch("batch", d.Batch)
	if d.Frozen != nil && !d.Frozen.Rule.Valid() {
		c.fail("suggested", "missing")
	}
	if d.Frozen != nil {
		c.name("suggested", d.Frozen.Use, false)
	}
	return c.err()
}

// longestBatch bounds the number of a batch (house choice; those on labels are
// shorter).
const longestBatch = 24

// batch checks the number of a batch. It lies outside the private part, so
// that nothing that could name a person may stand in it.
func (c *checker) batch(field, s string) {
	if len(s) > longestBatch {
		c.fail(field, "too-long")
	}
	c.plain(field, s, "/", "not-plain")
}

// plain checks a word of letters and digits of ASCII, hyphens, and what besides
// is named: what lies in the open part must have no room for a name with its
// blank, or for a sentence.
func (c *checker) plain(field, s, besides, bad string) {
	for _, r := range s {
		if (r < '0' || r > '9') && (r < 'A' || r > 'Z') && (r < 'a' || r > 'z') && r != '-' && !strings.ContainsRune(besides, r) {
			c.fail(field, bad)
		}
	}
}

func need(c *checker, field string, a quantity.Amount) {
	if a.IsZero() {
		c.fail(field, "missing")
	}
}
