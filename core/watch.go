package core

import (
	"context"
	"errors"

	"chinlift/core/term"
	"chinlift/core/timeline"
)

// Unrecovered gives the open cases whose patient has not recovered: those that
// ask who looks after them before another case is opened.
func (c *Companion) Unrecovered(ctx context.Context) ([]*Case, error) {
	open, err := c.OpenCases(ctx)
	if err != nil {
		return nil, err
	}
	var asking []*Case
	for _, cs := range open {
		if cs.Unrecovered() {
			asking = append(asking, cs)
		}
	}
	return asking, nil
}

// WatchField names the field by which a form answers for a case.
func WatchField(caseID string) string { return "watch." + caseID }

// watchTaps turns the answers of a form that opens a case into what is
// recorded in the others. Nobody is an answer, and shows as one; no answer is
// a *timeline.FieldError.
func (c *Companion) watchTaps(ctx context.Context, f *Form) ([]Tap, error) {
	asking, err := c.Unrecovered(ctx)
	if err != nil {
		return nil, err
	}
	var taps []Tap
	for _, cs := range asking {
		if cs.ID == derived(f.ID, "case") {
			continue // a retry
		}
		w := &timeline.Watch{Watcher: term.Watcher(f.one(WatchField(cs.ID)))}
		var fe *timeline.FieldError
		if err := w.Check(); errors.As(err, &fe) {
			fe.Field = WatchField(cs.ID) // which of two patients
			return nil, fe
		} else if err != nil {
			return nil, err
		}
		taps = append(taps, Tap{ID: derived(f.ID, cs.ID), Scope: timeline.ScopeCase, About: cs.ID, Payload: w})
	}
	return taps, nil
}
