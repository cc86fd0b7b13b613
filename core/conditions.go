package core

import (
	"context"
	"slices"

	"chinlift/core/term"
	"chinlift/core/timeline"
)

// Ask is a condition that somebody should ask for or look for.
type Ask struct {
	Code, Words string
	Answer      string // yes, no, or empty: not asked
	Now         bool   // a rule for this patient's drugs turns on it
}

// Asks gives every condition that dose rules know, first those that the rules
// for this patient's drugs turn on.
func (c *Companion) Asks(ctx context.Context, cs *Case) ([]Ask, error) {
	s := Speaker{c.words}
	now, err := c.turnsOn(ctx, cs)
	if err != nil {
		return nil, err
	}
	var first, rest []Ask
	for _, x := range term.ConditionList.Codes() {
		a := Ask{Code: string(x), Words: Code(s, term.ConditionList, x), Now: slices.Contains(now, x)}
		switch {
		case slices.Contains(cs.Facts.With, x):
			a.Answer = timeline.Yes
		case slices.Contains(cs.Facts.Without, x):
			a.Answer = timeline.No
		}
		if a.Now {
			first = append(first, a)
		} else {
			rest = append(rest, a)
		}
	}
	return append(first, rest...), nil
}
