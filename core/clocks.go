package core

import (
	"slices"
	"time"

	"chinlift/core/agent"
	"chinlift/core/depth"
	"chinlift/core/formulary"
	"chinlift/core/quantity"
	"chinlift/core/term"
	"chinlift/core/timeline"
)

// clockRules are the dose rules that a clock of ketamine goes by: how long a dose
// takes and lasts, when the next comes at the soonest, and what may be given within
// a time.
type clockRules struct {
	rules     *Rules
	confirmed map[ruleKey]Confirmation
	weight    quantity.Amount
}

// use gives the use that a dose was given by: the one that was frozen with it, or,
// where nobody said, the induction by its route for the first dose and the
// top-up for later ones.
func (r clockRules) use(p *timeline.Drug, first bool) (*formulary.Drug, *formulary.Use) {
	if r.rules == nil {
		return nil, nil
	}
	d := r.rules.Find(p.Drug)
	if d == nil {
		return nil, nil
	}
	purpose := term.PurposeMaintenance
	if first {
		purpose = term.PurposeInduction
	}
	var by *formulary.Use
	for i := range d.Uses {
		u := &d.Uses[i]
		if u.Given != formulary.Bolus || !slices.Contains(u.Routes, p.Route) {
			continue
		}
		if p.Frozen != nil && p.Frozen.Use == u.Code {
			return d, u
		}
		if u.Purpose == purpose && by == nil {
			by = u
		}
	}
	return d, by
}

// timing is what is published, with what the use says laid over it.
func (r clockRules) timing(p *timeline.Drug, d *formulary.Drug, u *formulary.Use) (depth.Timing, error) {
	t, err := depth.KetamineTiming(p.Route)
	if err != nil || u == nil {
		return t, err
	}
	cite := func(key string) { t.Sources = append(t.Sources, d.Sources[u.For(key)]) }
	if !u.Onset.IsZero() {
		t.Onset = depth.Span(u.Onset)
		cite("onset")
	}
	if !u.Lasts.IsZero() {
		t.Lasts = depth.Span(u.Lasts)
		cite("lasts")
	}
	if !u.Interval.IsZero() {
		t.Interval = u.Interval
		cite("interval")
	}
	return t, nil
}

// total is what the use allows this patient within a time, and whether the same
// dose again keeps within it; absent where it is told for no time, or the weight is
// not known.
func (r clockRules) total(u *formulary.Use, again quantity.Amount) depth.Total {
	kg, err := r.weight.Float64(quantity.Kg)
	if u == nil || err != nil || r.weight.IsZero() {
		return depth.Total{}
	}
	for _, t := range u.Totals {
		if most, err := t.Most.Float64(quantity.MgPerKg); err == nil && !t.Window.IsZero() && t.Age.IsZero() {
			return depth.Total{Most: agent.Give(most*kg, 0, quantity.Mg), Within: t.Window, Next: again}
		}
	}
	return depth.Total{}
}

// What is injected for a block is recorded about when the block is: so long before
// it and after it (house choices).
const (
	injectedBefore = 15 * time.Minute
	injectedAfter  = 45 * time.Minute
)

// blockTiming gives how long a block takes and lasts by what was injected for it,
// as the dose rules have it; where several were, from the shortest to the longest.
// Where nothing is recorded that was, a spinal is taken for one with heavy
// bupivacaine, and assumed says so. Where more was injected later, as through a
// catheter, nothing is known.
func (r clockRules) blockTiming(entries []*timeline.Entry, kind term.BlockKind, at time.Time) (t depth.Timing, assumed bool) {
	routes := []term.Route{term.RoutePerineural, term.RouteInfiltration}
	switch kind {
	case term.BlockKindSpinal:
		routes = []term.Route{term.RouteIntrathecal}
	case term.BlockKindEpidural, term.BlockKindCaudal:
		routes = []term.Route{term.RouteEpidural}
	}
	found := false
	for _, e := range entries {
		p, ok := e.Now().Payload.(*timeline.Drug)
		if !ok || !slices.Contains(routes, p.Route) || e.Now().At.Before(at.Add(-injectedBefore)) {
			continue
		}
		d := r.rules.Find(p.Drug)
		if d == nil || d.Class != term.DrugClassLocalAnaesthetic {
			continue
		}
		if e.Now().At.After(at.Add(injectedAfter)) {
			return depth.Timing{}, false
		}
		i := slices.IndexFunc(d.Uses, func(u formulary.Use) bool {
			return slices.Contains(u.Routes, p.Route) && !u.Lasts.IsZero() && (p.Frozen == nil || p.Frozen.Use == "" || p.Frozen.Use == u.Code)
		})
		if i < 0 {
			return depth.Timing{}, false // how long this one lasts no rule tells
		}
		u := &d.Uses[i]
		t.Onset, t.Lasts = wider(t.Onset, u.Onset, found), wider(t.Lasts, u.Lasts, found)
		t.Sources = append(t.Sources, d.Sources[u.For("onset")], d.Sources[u.For("lasts")])
		found = true
	}
	if !found && kind == term.BlockKindSpinal {
		return depth.SpinalTiming(), true
	}
	return t, false
}

// wider takes a span in.
func wider(to depth.Span, by formulary.Span, had bool) depth.Span {
	if !had {
		return depth.Span(by)
	}
	if c, err := by.Low.Cmp(to.Low); err == nil && c < 0 {
		to.Low = by.Low
	}
	if c, err := by.High.Cmp(to.High); err == nil && c > 0 {
		to.High = by.High
	}
	return to
}
