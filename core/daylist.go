package core

import (
	"context"
	"errors"
	"slices"

	"chinlift/core/timeline"
)

// DayCase is a case of the list that is still to begin.
type DayCase struct {
	Case, For string
	At        string // planned, clock time
	This      bool   // the case whose page it is
}

// waiting gives the open cases that have a planned start and have not begun,
// in the order of their starts; of one time as they were opened.
func (c *Companion) waiting(ctx context.Context) ([]*Case, error) {
	open, err := c.OpenCases(ctx)
	if err != nil {
		return nil, err
	}
	var list []*Case
	for _, cs := range open {
		if cs.Began.IsZero() && !cs.Plan.Start.IsZero() {
			list = append(list, cs)
		}
	}
	slices.SortFunc(list, func(a, b *Case) int {
		if n := a.Plan.Start.Compare(b.Plan.Start.Time); n != 0 {
			return n
		}
		return a.Opened.Compare(b.Opened.Time)
	})
	return list, nil
}

// dayList gives the list of those that wait, for the page of one of them.
func (c *Companion) dayList(ctx context.Context, of *Case) ([]DayCase, error) {
	waiting, err := c.waiting(ctx)
	if err != nil {
		return nil, err
	}
	s, now := Speaker{c.words}, c.clock.Now()
	var all []DayCase
	for _, cs := range waiting {
		at := s.Clock(cs.Plan.Start)
		if on := s.onDay(cs.Plan.Start, now); on != at {
			at = join(" ", on, at)
		}
		all = append(all, DayCase{Case: cs.ID, For: cs.For(s), At: at, This: cs.ID == of.ID})
	}
	return all, nil
}

// SwapStarts lets two cases that have not begun change places on the list:
// each gets the planned start of the other. The rest of both plans stays, and
// whatever is reckoned to a start follows. ErrNotHere where one of them began,
// or has no planned start.
func (c *Companion) SwapStarts(ctx context.Context, id, caseID, other string) (Done, error) {
	one, err := c.Case(ctx, caseID)
	if err != nil {
		return Done{}, err
	}
	two, err := c.Case(ctx, other)
	if err != nil {
		return Done{}, err
	}
	retry := one.Story.Find(id) != nil
	if !retry && (caseID == other || !one.Began.IsZero() || !two.Began.IsZero() || one.Plan.Start.IsZero() || two.Plan.Start.IsZero()) {
		return Done{}, ErrNotHere
	}
	if err := errors.Join(one.planAtHand(id), two.planAtHand(derived(id, "other"))); err != nil {
		return Done{}, err
	}
	first, second := one.Plan.Start, two.Plan.Start
	a := planTap(one, id, func(p *timeline.Plan) { p.Start = second })
	b := planTap(two, derived(id, "other"), func(p *timeline.Plan) { p.Start = first })
	return c.Record(ctx, a, b)
}
