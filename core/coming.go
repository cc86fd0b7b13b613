package core

import (
	"cmp"
	"context"
	"slices"
	"time"

	"chinlift/core/term"
)

// Coming is something that will be due in an open case, for a device that
// tells it by itself. Its words name nobody: they may stand on a locked screen.
type Coming struct {
	Case  string
	Name  string // the same while it is the same due
	Words string
	At    time.Time // when it is due; may be past
}

// Coming gives what will be due, the earliest first.
func (c *Companion) Coming(ctx context.Context) ([]Coming, error) {
	open, err := c.OpenCases(ctx)
	if err != nil {
		return nil, err
	}
	now, s := c.clock.Now(), Speaker{c.words}
	var all []Coming
	for _, cs := range open {
		dues, err := c.dues(ctx, cs, now)
		if err != nil {
			return nil, err
		}
		for _, d := range dues {
			what := d.What
			if what == "" {
				what = s.Say("table.vitals")
			}
			if len(open) > 1 {
				what = s.Say("phone.due-in-case", "case", ShortCase(cs.ID), "what", what)
			}
			all = append(all, Coming{Case: cs.ID, Name: join(".", cs.ID, d.Key, d.Card, d.Step), Words: what, At: time.UnixMilli(d.At)})
		}
	}
	slices.SortStableFunc(all, func(a, b Coming) int { return cmp.Or(a.At.Compare(b.At), cmp.Compare(a.Name, b.Name)) })
	return all, nil
}

// OnTable gives the open cases whose patient came in and has still to be looked
// after, the one touched last first.
func (c *Companion) OnTable(ctx context.Context) ([]*Case, error) {
	open, err := c.OpenCases(ctx)
	if err != nil {
		return nil, err
	}
	return slices.DeleteFunc(open, func(cs *Case) bool {
		_, in := cs.Phases[term.PhasePatientIn]
		return !in && cs.Began.IsZero() || cs.settled()
	}), nil
}

// lowBattery is the charge in percent from which it is told (house choice: a
// phone that is lit all the time goes on for about half an hour with it).
const lowBattery = 20

// battery says that the device is about to go out; empty: it is not, or nobody
// knows.
func (c *Companion) battery() string {
	if c.power == nil {
		return ""
	}
	percent, charging, ok := c.power()
	if !ok || charging || percent > lowBattery {
		return ""
	}
	return c.words.Say("phone.battery", "n", percent)
}
