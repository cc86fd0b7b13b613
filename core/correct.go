package core

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"slices"

	"chinlift/core/term"
	"chinlift/core/timeline"
)

// Why a correction is refused; nothing is written then.
var (
	// ErrMovedAway says that the entry belongs to another case than the one
	// where it was to be corrected: it can be corrected there.
	ErrMovedAway = errors.New("the entry belongs to another case")
	// ErrStruckOut says that the entry is struck out: a new content would
	// make it stand again, and nobody would have said so.
	ErrStruckOut = errors.New("the entry is struck out")
	// ErrOpening says that the entry opens its case: without it the case has
	// no patient.
	ErrOpening = errors.New("the entry opens its case")
)

// Correct replaces what an entry says. The heads are those that the author
// had seen when the form was drawn. The reason may be empty: it is owed then.
func (c *Companion) Correct(ctx context.Context, id, caseID, entry string, heads []string, reason term.Reason, p timeline.Payload, at timeline.Moment, private timeline.Private) (Done, error) {
	return c.Record(ctx, Tap{ID: id, Scope: timeline.ScopeCase, About: caseID, At: at, Payload: p, Private: private,
		Amends: entry, Replaces: heads, Reason: reason})
}

// Strike strikes an entry out; it stays legible.
func (c *Companion) Strike(ctx context.Context, id, caseID, entry string, heads []string, reason term.Reason) (Done, error) {
	return c.untie(ctx, caseID, Tap{ID: id, Scope: timeline.ScopeCase, About: caseID, Payload: &timeline.Struck{},
		Amends: entry, Replaces: heads, Reason: reason})
}

// Restore undoes a strike.
func (c *Companion) Restore(ctx context.Context, id, caseID, entry string, heads []string) (Done, error) {
	return c.retie(ctx, Tap{ID: id, Scope: timeline.ScopeCase, About: caseID, Payload: &timeline.Restored{},
		Amends: entry, Replaces: heads, Reason: term.ReasonRedone})
}

// Move gives an entry to the case that it belongs to. Its time stays.
func (c *Companion) Move(ctx context.Context, id, from, to, entry string, heads []string) (Done, error) {
	return c.untie(ctx, from, Tap{ID: id, Scope: timeline.ScopeCase, About: to, Payload: &timeline.Moved{From: from},
		Amends: entry, Replaces: heads, Reason: term.ReasonWrongPatient})
}

// checkCorrection looks at what only the stored entry can tell: that the root
// is a root, that the entry stands where it is corrected, and that a
// replacement is of the root's kind. It answers what is owed for it: the
// reason, where none was given.
func (c *Companion) checkCorrection(ctx context.Context, d *timeline.Draft) (owed *timeline.Draft, err error) {
	if err := d.Check(); err != nil {
		return nil, err
	}
	bad := func(code, field string) error {
		return &timeline.FieldError{Kind: d.Payload.Kind().Name(), Field: field, Code: code}
	}
	moved, isMove := d.Payload.(*timeline.Moved)
	from := d.About
	if isMove {
		from = moved.From
	}
	cs, err := c.load(ctx, from)
	if err != nil {
		return nil, err
	}
	e := cs.Story.Find(d.Amends)
	if e == nil {
		return nil, fmt.Errorf("entry %s: %w", d.Amends, ErrNotHere)
	}
	has := func(id string) bool {
		return slices.ContainsFunc(e.Versions, func(v timeline.Version) bool { return v.Line.Event.ID == id })
	}
	for i := range e.Versions {
		if v := &e.Versions[i]; v.Line.Event.ID == d.ID {
			keepPhoto(d, v)
			return nil, nil // a retry: what it did must not stand in its way
		}
	}
	for _, id := range d.Replaces {
		if !has(id) {
			return nil, bad("not-in-list", "replaces")
		}
	}
	if e.Root().Event.Scope != d.Scope {
		return nil, bad("contradiction", "scope")
	}
	now := e.Now()
	if now.Case != from {
		return nil, fmt.Errorf("entry %s: %w", d.Amends, ErrMovedAway)
	}
	if destroys(e.Root()) {
		return nil, fmt.Errorf("entry %s: %w", d.Amends, ErrDestroyed)
	}
	opened, opening := e.Root().Payload.(*timeline.CaseOpened)
	switch p := d.Payload.(type) {
	case *timeline.Restored:
		return nil, nil
	case *timeline.Struck:
		if opening {
			return nil, fmt.Errorf("entry %s: %w", d.Amends, ErrOpening)
		}
		return nil, nil
	case *timeline.Moved:
		if opening {
			return nil, fmt.Errorf("entry %s: %w", d.Amends, ErrOpening)
		}
		if d.About == from {
			return nil, bad("contradiction", "from")
		}
		return nil, c.isCase(ctx, d.About)
	case *timeline.CaseOpened:
		if opening && p.Patient != opened.Patient {
			return nil, bad("contradiction", "patient")
		}
	}
	if _, mark := e.Root().Payload.(*timeline.Mark); !mark && e.Root().Event.Kind.Name() != d.Payload.Kind().Name() {
		return nil, bad("contradiction", "kind")
	}
	// It would take the place of a name or a text that nobody can see now.
	for i := range e.Versions {
		if v := &e.Versions[i]; v.Content.Sealed && (v == now || slices.Contains(d.Replaces, v.Line.Event.ID)) {
			return nil, fmt.Errorf("entry %s: %w", d.Amends, ErrSealed)
		}
	}
	if now.Struck {
		return nil, fmt.Errorf("entry %s: %w", d.Amends, ErrStruckOut)
	}
	keepPhoto(d, now)
	if d.Reason != "" || d.Scope != timeline.ScopeCase {
		return nil, nil
	}
	return &timeline.Draft{ID: derived(d.ID, "owed"), Scope: d.Scope, About: d.About, At: d.Entered.Wall, Entered: d.Entered, Author: d.Author,
		Payload: &timeline.Owed{Act: term.OwedActOwed, For: term.OwedCorrection, Over: d.Amends}}, nil
}

// keepPhoto leaves the photograph of a note where its words are corrected: no
// form holds it.
func keepPhoto(d *timeline.Draft, of *timeline.Version) {
	_, note := d.Payload.(*timeline.Note)
	h := of.Private()[timeline.PrivatePhoto]
	if !note || h == "" || d.Private[timeline.PrivatePhoto] != "" {
		return
	}
	d.Private = maps.Clone(d.Private)
	if d.Private == nil {
		d.Private = timeline.Private{}
	}
	d.Private[timeline.PrivatePhoto] = h
}

// isCase answers ErrNotHere unless something about a case of this id is
// stored: an entry for an id that nobody opened would be for nobody.
func (c *Companion) isCase(ctx context.Context, id string) error {
	cs, err := c.load(ctx, id)
	if err != nil {
		return err
	}
	if !slices.ContainsFunc(cs.lines, func(l *timeline.Line) bool { return l.Event.Scope == timeline.ScopeCase && l.Event.About == id }) {
		return fmt.Errorf("case %s: %w", id, ErrNotHere)
	}
	return nil
}

// knows reports that the case was folded with this line.
func (cs *Case) knows(l *timeline.Line) bool {
	same := func(o *timeline.Line) bool { return o.H == l.H }
	if len(cs.Story.Aside) == 0 && len(cs.Story.Waiting) == 0 && cs.Story.Newer(l) {
		return false
	}
	root := l.Event.ID
	if l.Event.Amends != "" {
		root = l.Event.Amends
	}
	if e := cs.Story.Find(root); e != nil && slices.ContainsFunc(e.Versions, func(v timeline.Version) bool { return same(v.Line) }) {
		return true
	}
	return slices.ContainsFunc(cs.Story.Waiting, same) || slices.ContainsFunc(cs.Story.Aside, same)
}
