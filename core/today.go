package core

import (
	"cmp"
	"context"
	"slices"

	"chinlift/core/store"
	"chinlift/core/term"
)

// Today is the first screen: who is on the table, what is due, what is ready.
type Today struct {
	Clock string
	Date  string
	Name  string // of the provider; empty when it was never given
	Open  []Head
	Kit   []KitState // lists in use or planned
	Supplies
	Space   store.Space
	Cases   int    // stored
	Battery string // that it is about to be empty; empty: it is not
}

// Today gives the first screen's view.
func (c *Companion) Today(ctx context.Context) (Today, error) {
	c.tidyWhenDue(ctx)
	now, s := c.clock.Now(), Speaker{c.words}
	t := Today{Clock: s.Clock(now.Moment()), Date: now.Wall.Format("2006-01-02"), Space: c.store.Space(), Battery: c.battery()}
	open, err := c.OpenCases(ctx)
	if err != nil {
		return t, err
	}
	for _, cs := range open {
		h := Head{Case: cs.ID, Short: ShortCase(cs.ID), For: cs.For(s), Detail: cs.Detail(s), Phase: Code(s, term.PhaseList, cs.Phase), Recorded: len(cs.Entries)}
		if cs.Phase != "" {
			h.PhaseSpan = s.Span(ago(now.Wall, cs.Phases[cs.Phase].Time))
		}
		if !cs.Plan.Start.IsZero() && cs.Began.IsZero() {
			h.Planned = s.Clock(cs.Plan.Start)
		}
		if h.Dues, err = c.dues(ctx, cs, now); err != nil {
			return t, err
		}
		t.Open = append(t.Open, h)
	}
	// Who lies there comes first, then those who wait, by the list.
	place := map[string]int{}
	waiting, err := c.waiting(ctx)
	if err != nil {
		return t, err
	}
	for _, cs := range open {
		if cs.Began.IsZero() {
			place[cs.ID] = len(waiting) + 1 // nobody said when
		}
	}
	for i, cs := range waiting {
		place[cs.ID] = i + 1
	}
	slices.SortStableFunc(t.Open, func(a, b Head) int { return cmp.Compare(place[a.Case], place[b.Case]) })
	if t.Kit, err = c.KitsInUse(ctx); err != nil {
		return t, err
	}
	if t.Supplies, err = c.Supplies(ctx); err != nil {
		return t, err
	}
	if t.Name, err = c.AuthorName(ctx); err != nil {
		return t, err
	}
	n, _, err := c.store.Count(ctx)
	t.Cases = int(n)
	return t, err
}
