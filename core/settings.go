package core

import (
	"context"
	"time"

	"chinlift/core/quantity"
	"chinlift/core/term"
	"chinlift/core/timeline"
)

// The values that hold until a clinic sets its own.
const (
	// Pressure and pulse at least every five minutes: American Society of
	// Anesthesiologists, Standards for Basic Anesthetic Monitoring (1986,
	// amended 2020).
	vitalsEvery = 5 * time.Minute
	// In recovery every five minutes for fifteen, then every fifteen: as
	// taught in Morgan and Mikhail, Clinical Anesthesiology (from memory).
	wakingEvery = 5 * time.Minute
	wakingClose = 15 * time.Minute
	wakingLater = 15 * time.Minute
	lateAfter   = 5 * time.Minute // house choice, no source
)

// setting gives the value of a clinic setting that holds at a time.
func (c *Companion) setting(ctx context.Context, s term.Setting, at time.Time) (timeline.ClinicSetting, bool, error) {
	entries, err := c.settingEntries(ctx, s)
	if err != nil {
		return timeline.ClinicSetting{}, false, err
	}
	var found timeline.ClinicSetting
	ok := false
	for e, p := range timeline.Each[*timeline.ClinicSetting](entries, string(s)) {
		if !e.Now().At.After(at) {
			found, ok = *p, true
		}
	}
	return found, ok, nil
}

// settingEntries reads what was ever set under one name, once: a tap must not
// ask the disk for what has not changed.
func (c *Companion) settingEntries(ctx context.Context, s term.Setting) ([]*timeline.Entry, error) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if es, ok := c.settings[s]; ok {
		return es, nil
	}
	lines, err := c.store.Case(ctx, string(s))
	if err != nil {
		return nil, err
	}
	if c.settings == nil {
		c.settings = map[term.Setting][]*timeline.Entry{}
	}
	c.settings[s] = timeline.Fold(lines).Entries
	return c.settings[s], nil
}

// minutes gives a setting that is a length of time, or what holds without it.
func (c *Companion) minutes(ctx context.Context, s term.Setting, at time.Time, otherwise time.Duration) (time.Duration, error) {
	p, ok, err := c.setting(ctx, s, at)
	if err != nil || !ok {
		return otherwise, err
	}
	n, err := p.Value.Float64(quantity.Minute)
	if err != nil {
		return otherwise, err
	}
	return time.Duration(n * float64(time.Minute)), nil
}
