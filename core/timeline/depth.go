package timeline

import (
	"time"

	"chinlift/core/quantity"
	"chinlift/core/term"
)

// Depth is an estimate of depth as it was shown to whoever was there. It is what
// a model made of the entries, kept so that the record can tell years later what
// was on the screen; it was never observed, and no rule reads it. The codes of
// stages, reasons and times are those of the model that it names, and may be
// others with the next.
type Depth struct {
	Model string     `json:"model"` // the version: "depth-1"
	Agent term.Agent `json:"agent"`
	Asked bool       `json:"asked,omitempty"` // somebody opened the sheet; else it went on along the record

	// Course is how it went since it was last kept, the oldest first. The last
	// point is what was shown, at the time of the event.
	Course []DepthPoint `json:"course"`
	Drift  string       `json:"drift,omitempty"` // signs and model had parted, and which way

	// The times ahead that were shown, and what they took for given from then on;
	// with Leads and without any of it nothing was given any more.
	Leads   []DepthLead     `json:"leads,omitempty"`
	Drops   quantity.Amount `json:"drops,omitzero"`
	Percent quantity.Amount `json:"percent,omitzero"`
	Wetness term.Wetness    `json:"wetness,omitempty"`
}

// DepthPoint is a range of depth, in parts of the patient's own MAC, or why there
// was none.
type DepthPoint struct {
	Before    quantity.Amount `json:"before"` // how long before the event
	Low       quantity.Amount `json:"low,omitzero"`
	Middle    quantity.Amount `json:"middle,omitzero"`
	High      quantity.Amount `json:"high,omitzero"`
	Withdrawn []string        `json:"withdrawn,omitempty"`
}

// DepthLead is a window of time that was shown.
type DepthLead struct {
	What  string          `json:"what"`           // ready, too-deep, waking
	Step  string          `json:"step,omitempty"` // ready for what
	How   string          `json:"how,omitempty"`  // already, never; open: to is as far as was looked
	From  quantity.Amount `json:"from,omitzero"`
	Until quantity.Amount `json:"until,omitzero"`
}

// Kind is "depth/1".
func (*Depth) Kind() Kind { return "depth/1" }

// Since gives the time of the oldest point of an estimate that was kept at a time.
func (d *Depth) Since(at Moment) time.Time {
	oldest := at.Time
	for i := range d.Course {
		if before, err := d.Course[i].Before.Float64(quantity.Minute); err == nil {
			if t := at.Add(-time.Duration(before * float64(time.Minute))).Time; t.Before(oldest) {
				oldest = t
			}
		}
	}
	return oldest
}

// How much of a course one event holds: two hours of minutes.
const depthMost = 121

// Check answers a *FieldError for the first field at fault.
func (d *Depth) Check() error {
	c := check(d)
	c.name("model", d.Model, true)
	code(c, "agent", term.AgentList, d.Agent, true)
	if len(d.Course) == 0 {
		c.fail("course", "missing")
	}
	if len(d.Course) > depthMost || len(d.Leads) > 10 {
		c.fail("course", "too-many")
	}
	for i := range d.Course {
		p := &d.Course[i]
		if p.Before.IsZero() {
			c.fail("before", "missing")
		}
		c.amount("before", p.Before, "0 min", "1440 min")
		ranged := !p.Low.IsZero() && !p.Middle.IsZero() && !p.High.IsZero()
		if ranged == (len(p.Withdrawn) > 0) || !ranged && (!p.Low.IsZero() || !p.Middle.IsZero() || !p.High.IsZero()) {
			c.fail("course", "contradiction")
		}
		for _, a := range []quantity.Amount{p.Low, p.Middle, p.High} {
			c.amount("course", a, "0 1", "100 1")
		}
		if len(p.Withdrawn) > 20 {
			c.fail("withdrawn", "too-many")
		}
		for _, w := range p.Withdrawn {
			c.name("withdrawn", w, true)
		}
	}
	c.name("drift", d.Drift, false)
	for i := range d.Leads {
		l := &d.Leads[i]
		c.name("what", l.What, true)
		c.name("step", l.Step, false)
		c.name("how", l.How, false)
		c.amount("from", l.From, "0 min", "1440 min")
		c.amount("until", l.Until, "0 min", "1440 min")
	}
	c.amount("drops", d.Drops, "0 {drop}/min", "1000 {drop}/min")
	c.amount("percent", d.Percent, "0 %", "100 %")
	code(c, "wetness", term.WetnessList, d.Wetness, false)
	return c.err()
}
