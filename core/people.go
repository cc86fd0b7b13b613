package core

import (
	"context"
	"maps"
	"slices"
	"strings"

	"chinlift/core/term"
	"chinlift/core/timeline"
)

// AuthorName gives the name of the person at this device; empty when it was
// never given.
func (c *Companion) AuthorName(ctx context.Context) (string, error) {
	id := c.Author()
	if id == "" {
		return "", nil
	}
	e, err := c.person(ctx, id)
	if err != nil || e == nil {
		return "", err
	}
	return e.Now().Private()[timeline.PrivateName], nil
}

// AuthorHeads gives the versions that a correction of the person at this
// device replaces; none before the first entry.
func (c *Companion) AuthorHeads(ctx context.Context) ([]string, error) {
	id := c.Author()
	if id == "" {
		return nil, nil
	}
	e, err := c.person(ctx, id)
	if err != nil || e == nil {
		return nil, err
	}
	return e.HeadIDs(), nil
}

// NameAuthor gives the person at this device a name, or another one. What was
// entered before carries the person's id, and so the name too. heads are the
// versions that were seen when the form was drawn; none: those that stand.
func (c *Companion) NameAuthor(ctx context.Context, id, name string, heads ...string) (Done, error) {
	if c.Author() == "" {
		// Nobody yet: the person comes first, and is named by a correction.
		if err := c.begin(ctx); err != nil {
			return Done{}, err
		}
	}
	e, err := c.person(ctx, c.Author())
	if err != nil {
		return Done{}, err
	}
	if e == nil {
		return Done{}, ErrNotHere
	}
	return c.amendPerson(ctx, id, e.Now().Case, e, heads, timeline.Private{timeline.PrivateName: name})
}

// NamePatient gives the patient of a case a name or a record number; what is
// empty stays as it was. heads are the versions that were seen when the form
// was drawn; none: those that stand.
func (c *Companion) NamePatient(ctx context.Context, id, caseID, name, number string, heads ...string) (Done, error) {
	cs, err := c.Case(ctx, caseID)
	if err != nil {
		return Done{}, err
	}
	e := cs.Persons[cs.Patient]
	if e == nil {
		return Done{}, ErrNotHere
	}
	return c.amendPerson(ctx, id, cs.Patient, e, heads, timeline.Private{timeline.PrivateName: name, timeline.PrivateNumber: number})
}

// amendPerson records a correction of a person, and reads the cases that name
// them anew. It lays what is given over what the last of the heads says, since
// a correction carries the whole.
func (c *Companion) amendPerson(ctx context.Context, id, person string, e *timeline.Entry, heads []string, given timeline.Private) (Done, error) {
	base := e.Now()
	if len(heads) == 0 {
		heads = e.HeadIDs()
	} else {
		for i := range e.Versions {
			if v := &e.Versions[i]; slices.Contains(heads, v.Line.Event.ID) {
				base = v
			}
		}
	}
	private := maps.Clone(base.Private())
	if private == nil {
		private = timeline.Private{}
	}
	delete(private, timeline.PrivateSalt) // each line has its own
	for key, v := range given {
		if v = strings.TrimSpace(v); v != "" {
			private[key] = v
		}
	}
	done, err := c.Record(ctx, Tap{ID: id, Scope: timeline.ScopeClinic, About: person, At: base.At, Payload: base.Payload, Private: private,
		Amends: e.ID, Replaces: heads, Reason: term.ReasonLearnedLater})
	if err != nil {
		return done, err
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	for id, cs := range c.cached {
		if cs.names(person) {
			c.forget(id)
		}
	}
	return done, nil
}

// begin writes the person at this device.
func (c *Companion) begin(ctx context.Context) error {
	c.mu.Lock()
	defer c.mu.Unlock()
	author, err := c.authorDraft(c.clock.Now())
	if err != nil || author == nil {
		return err
	}
	if _, err := c.store.AppendWith(ctx, map[string]string{localAuthor: author.About}, *author); err != nil {
		return err
	}
	c.author = author.About
	return nil
}
