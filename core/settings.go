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

// Alarm says how a screen tells that something is due, as the clinic set it.
type Alarm struct{ Sound, Buzz bool }

// Alarm gives the clinic's choice; both, until it made one (house choice: it
// is easier to silence a sound than to miss one).
func (c *Companion) Alarm(ctx context.Context) (Alarm, error) {
	a := Alarm{true, true}
	now := c.clock.Now().Wall
	for s, to := range map[term.Setting]*bool{term.SettingDueSound: &a.Sound, term.SettingDueBuzz: &a.Buzz} {
		p, ok, err := c.setting(ctx, s, now)
		if err != nil {
			return a, err
		}
		if ok {
			*to = p.Text != timeline.No
		}
	}
	return a, nil
}

// VitalsEvery gives how often pressure and pulse are due, in minutes.
func (c *Companion) VitalsEvery(ctx context.Context) (int, error) {
	d, err := c.minutes(ctx, term.SettingVitalsEvery, c.clock.Now().Wall, vitalsEvery)
	return int(d / time.Minute), err
}

// settingUnits are the units in which settings that are a number are asked for.
var settingUnits = map[term.Setting]quantity.Unit{
	term.SettingVitalsEvery: quantity.Minute, term.SettingGivingSet: quantity.DropsPerML,
	term.SettingOfferSpO2: quantity.Percent, term.SettingOfferSpO2Fall: quantity.Percent, term.SettingOfferFall: quantity.Percent, term.SettingOfferSpinal: quantity.Percent,
	term.SettingOfferSpO2Severe: quantity.Percent, term.SettingOfferPressureLow: quantity.Percent, term.SettingOfferPressureTop: quantity.Percent,
	term.SettingOfferPulseLow: quantity.Percent, term.SettingOfferPulseSevere: quantity.Percent, term.SettingOfferPulseTop: quantity.Percent,
	term.SettingOfferPressureSevere: quantity.Percent, term.SettingOfferPulsePress: quantity.PerMin, term.SettingOfferChild: quantity.Year, term.SettingOfferFresh: quantity.Minute,
}

// SetClinic records a setting of the clinic that is chosen from a few: the
// minutes between two looks at pressure and pulse, how a due is told, the height
// of the place, or what offers a card.
func (c *Companion) SetClinic(ctx context.Context, id, name, value string) (Done, error) {
	p := &timeline.ClinicSetting{Setting: term.Setting(name), Text: value}
	if p.Setting == term.SettingFastingSet {
		return c.ChooseFasting(ctx, id, value)
	}
	if unit, ok := settingUnits[p.Setting]; ok {
		a, err := quantity.ParseEntry(value, unit)
		if err != nil {
			return Done{}, &timeline.FieldError{Kind: p.Kind().Name(), Field: "value", Code: "not-a-number"}
		}
		p.Value, p.Text = a, ""
	}
	return c.Record(ctx, Tap{ID: id, Scope: timeline.ScopeClinic, About: name, Payload: p})
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
