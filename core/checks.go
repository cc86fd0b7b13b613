package core

import (
	"context"
	"slices"

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
	own, err := c.Lists(ctx, cs.Opened.Time)
	if err != nil {
		return nil, err
	}
	var codes []string
	for _, l := range slices.Concat(lists, own) { // a list that the clinic no longer uses may have been used that day
		if !slices.Contains(codes, l.Code) {
			codes = append(codes, l.Code)
		}
	}
	var all []Check
	for _, code := range codes {
		about := kitAbout(code, cs.Opened.Time)
		lines, err := c.store.Case(ctx, about)
		if err != nil {
			return nil, err
		}
		if len(lines) == 0 {
			continue
		}
		story := timeline.Fold(lines)
		for _, p := range timeline.Each[*timeline.KitItem](story.Entries, about) {
			c.listOf(p.List, p.Version) // its words, where the list is no longer that one
		}
		all = append(all, Check{code, about, story})
	}
	return all, nil
}
