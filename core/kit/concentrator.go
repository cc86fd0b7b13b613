package kit

import (
	"chinlift/core/exact"
	"chinlift/core/quantity"
	"chinlift/core/term"
)

var (
	concentrated = Source{Title: "oxygen concentrators give 93 % (plus or minus 3 %) at 4 to 5 L/min", Via: "an article in a journal of military health", Mark: term.MarkRead}
	weakest      = Source{Author: "World Health Organization", Title: "Technical Specifications for Oxygen Concentrators", Year: 2015, Table: "at least 82 % at the rated flow", Mark: term.MarkMemory}
)

// Concentrator is an oxygen concentrator by its plate and, where somebody has a
// meter, by what was measured.
type Concentrator struct {
	Rated    quantity.Amount // the flow on its plate, 0.5 to 30 L/min
	Measured quantity.Amount // per cent of oxygen at that flow; absent where not measured
}

// Percent gives the oxygen, in %, in what a concentrator gives at a flow, that
// of all patients on it together. Where nothing was measured it is 93 with a
// range from 90 to 96. Over the rated flow the percent falls, and nobody
// published by how much for this one: an *Error for "flow". Source:
// concentrated.
func (c Concentrator) Percent(flow quantity.Amount) (Answer, error) {
	rated, err := read("rated", c.Rated, quantity.LPerMin, "0.5", "30")
	if err != nil {
		return Answer{}, err
	}
	if _, err := read("flow", flow, quantity.LPerMin, "0.1", rated.FloatString(exact.Places)); err != nil {
		return Answer{}, err
	}
	var a Answer
	a.beware(NeedsCurrent)
	if c.Measured.IsZero() {
		a.Value, a.Low, a.High = quantity.MustParse("93 %"), quantity.MustParse("90 %"), quantity.MustParse("96 %")
		a.beware(Estimate, NotMeasured)
		a.cite(concentrated)
		return a, nil
	}
	x, err := read("measured", c.Measured, quantity.Percent, "20", "100")
	if err != nil {
		return Answer{}, err
	}
	a.Value = x.Amount(1, quantity.Percent)
	if x.Cmp(exact.Of("82")) < 0 {
		a.beware(WeakOxygen)
		a.cite(weakest)
	}
	return a, nil
}
