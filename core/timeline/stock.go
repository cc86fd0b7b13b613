package timeline

import (
	"time"

	"chinlift/core/quantity"
	"chinlift/core/term"
)

// Stock is what somebody found on the shelf, put there or took away. What is
// left is worked out from these and from the cases. About is "stock". Fields
// that were said of a lot once hold until they are said anew.
type Stock struct {
	What    term.StockWhat  `json:"what"`
	Act     term.StockAct   `json:"act"`
	Item    string          `json:"item"`              // size of cylinder, agent, drug or disposable, by code
	Batch   string          `json:"batch,omitempty"`   // as printed, or the number by which the clinic knows it; as in Drug
	Water   quantity.Amount `json:"water,omitzero"`    // water capacity of a cylinder, L
	Gauge   quantity.Amount `json:"gauge,omitzero"`    // bar, kPa or psi, over the pressure of the air
	Rated   quantity.Amount `json:"rated,omitzero"`    // flow on the plate of a concentrator, L/min
	Percent quantity.Amount `json:"percent,omitzero"`  // oxygen that was measured at that flow
	Volume  quantity.Amount `json:"volume,omitzero"`   // of liquid in a bottle, mL
	Count   quantity.Amount `json:"count,omitzero"`    // pieces, unit 1
	Each    quantity.Amount `json:"each,omitzero"`     // of the drug in one piece
	Expires string          `json:"expires,omitempty"` // 2026-11-25, or 2026-11 for its last day
	Opened  string          `json:"opened,omitempty"`  // day on which a bottle was opened

	// Of a bottle: who filled it, and whether what is in it was known by its
	// smell, yes or no.
	FilledBy term.FilledBy `json:"filled_by,omitempty"`
	Smelt    string        `json:"smelt,omitempty"`
}

// Kind is "stock/1".
func (*Stock) Kind() Kind { return "stock/1" }

// Check answers a *FieldError for the first field at fault.
func (s *Stock) Check() error {
	c := check(s)
	code(c, "what", term.StockWhatList, s.What, true)
	code(c, "act", term.StockActList, s.Act, true)
	c.name("item", s.Item, true)
	c.batch("batch", s.Batch)
	// As wide as what is sold: package kit reads the same bounds.
	c.amount("water", s.Water, "0.2 L", "100 L")
	c.amount("gauge", s.Gauge, "0 bar", "300 bar")
	c.amount("rated", s.Rated, "0.5 L/min", "30 L/min")
	c.amount("percent", s.Percent, "20 %", "100 %")
	c.amount("volume", s.Volume, "0 mL", "10000 mL")
	c.amount("count", s.Count, "0 1", "100000 1")
	c.oneOf("each", s.Each, doseBounds...)
	c.day("expires", s.Expires, true)
	c.day("opened", s.Opened, false)
	code(c, "filled_by", term.FilledByList, s.FilledBy, false)
	yesNo(c, "smelt", s.Smelt)
	if s.What != term.StockWhatAgent {
		if s.FilledBy != "" {
			c.fail("filled_by", "contradiction")
		}
		if s.Smelt != "" {
			c.fail("smelt", "contradiction")
		}
	}
	here := s.Act != term.StockActGone
	switch s.What {
	case term.StockWhatCylinder:
		if here {
			need(c, "gauge", s.Gauge)
		}
		if here && s.Item == "other" {
			need(c, "water", s.Water)
		}
	case term.StockWhatConcentrator:
		if here {
			need(c, "rated", s.Rated)
		}
	case term.StockWhatAgent:
		code(c, "item", term.AgentList, term.Agent(s.Item), true)
		if here {
			need(c, "volume", s.Volume)
		}
	case term.StockWhatDrug, term.StockWhatDisposable:
		need(c, "count", s.Count)
	}
	return c.err()
}

// day checks a day of the calendar; a month alone where it may stand for its
// last day.
func (c *checker) day(field, s string, month bool) {
	if s == "" {
		return
	}
	if _, err := time.Parse(time.DateOnly, s); err == nil {
		return
	}
	if _, err := time.Parse("2006-01", s); err == nil && month {
		return
	}
	c.fail(field, "not-a-day")
}
