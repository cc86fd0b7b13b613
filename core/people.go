package core

import (
	"context"

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

// NameAuthor gives the person at this device a name, or another one. What was
// entered before carries the person's id, and so the name too.
func (c *Companion) NameAuthor(ctx context.Context, id, name string) (Done, error) {
	if c.Author() == "" {
		// Nobody yet: the person comes first, and is named by a correction.
		if err := c.begin(ctx); err != nil {
			return Done{}, err
		}
	}
	author := c.Author()
	e, err := c.person(ctx, author)
	if err != nil {
		return Done{}, err
	}
	if e == nil {
		return Done{}, ErrNotHere
	}
	return c.amendPerson(ctx, Tap{ID: id, Scope: timeline.ScopeClinic, About: author, At: e.Now().At,
		Payload: e.Now().Payload, Private: timeline.Private{timeline.PrivateName: name},
		Amends: e.ID, Replaces: e.HeadIDs(), Reason: term.ReasonLearnedLater})
}

// NamePatient gives the patient of a case a name and a record number.
func (c *Companion) NamePatient(ctx context.Context, id, caseID, name, number string) (Done, error) {
	cs, err := c.Case(ctx, caseID)
	if err != nil {
		return Done{}, err
	}
	e := cs.Persons[cs.Patient]
	if e == nil {
		return Done{}, ErrNotHere
	}
	private := timeline.Private{}
	for key, v := range map[string]string{timeline.PrivateName: name, timeline.PrivateNumber: number} {
		if v != "" {
			private[key] = v
		}
	}
	return c.amendPerson(ctx, Tap{ID: id, Scope: timeline.ScopeClinic, About: cs.Patient, At: e.Now().At,
		Payload: e.Now().Payload, Private: private, Amends: e.ID, Replaces: e.HeadIDs(), Reason: term.ReasonLearnedLater})
}

// amendPerson records a correction of a person and reads the cases that name
// them anew.
func (c *Companion) amendPerson(ctx context.Context, t Tap) (Done, error) {
	done, err := c.Record(ctx, t)
	if err != nil {
		return done, err
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	for id, cs := range c.cached {
		if _, ok := cs.Persons[t.About]; ok {
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
	if _, err := c.store.Append(ctx, *author); err != nil {
		return err
	}
	if err := c.store.SetLocal(ctx, localAuthor, author.About); err != nil {
		return err
	}
	c.author = author.About
	return nil
}
