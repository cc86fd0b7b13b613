package core

import (
	"context"

	"chinlift/core/kit"
	"chinlift/core/timeline"
)

// Check is what was found of one equipment list on one day.
type Check struct {
	List  string
	About string // what its entries are about
	Story *timeline.Story
}

// Checks gives the equipment checks of the day on which a case was opened, one
// for each list that anything was recorded of.
func (c *Companion) Checks(ctx context.Context, cs *Case) ([]Check, error) {
	lists, err := kit.Builtin()
	if err != nil {
		return nil, err
	}
	var all []Check
	for _, l := range lists {
		about := kitAbout(l.Code, cs.Opened.Time)
		lines, err := c.store.Case(ctx, about)
		if err != nil {
			return nil, err
		}
		if len(lines) > 0 {
			all = append(all, Check{l.Code, about, timeline.Fold(lines)})
		}
	}
	return all, nil
}
