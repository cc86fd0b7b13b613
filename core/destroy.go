package core

import (
	"context"
	"errors"
	"slices"

	"chinlift/core/term"
	"chinlift/core/timeline"
)

// How a patient's identity is destroyed on request. The private parts of what
// was recorded of one case, and of its patient as a person, are overwritten,
// and an entry says so. Values, drugs and times stay, and so does who gave the
// anaesthetic.

// Why identity is not destroyed; nothing is then.
var (
	ErrStillOpen = errors.New("the case, or another one of the same person, is not closed")
	ErrNoNames   = errors.New("nothing of an identity is left in this case")
	// ErrDestroyed says that an entry tells of a destruction: it happened, and
	// nobody takes it back.
	ErrDestroyed = errors.New("the entry tells what was destroyed")
)

// Destroying is what the page shows before anything is destroyed.
type Destroying struct {
	Head
	Open   []Other // cases that are open and stand in the way; this one may be among them
	PIN    bool    // the PIN is asked for
	Paper  bool    // no PIN opens anything here: the recovery key is to be used first
	Wait   string  // how long the next try of the PIN has to wait; empty: not at all
	Names  int     // lines with a name or a record number that are here
	Texts  int     // lines of the case with free text or a photograph that are here
	Others []Other // other cases of the same patient, which keep what they hold
	Child  bool    // a child of this patient has a case of its own, which keeps its name
	Before string  // when identity was last destroyed here; empty: never
}

// Destroying tells what destroying the identity in a case would do.
func (c *Companion) Destroying(ctx context.Context, id string) (Destroying, error) {
	h, cs, err := c.HeadOf(ctx, id)
	if err != nil {
		return Destroying{}, err
	}
	d, s := Destroying{Head: h}, Speaker{c.words}
	st, err := c.Sealing(ctx)
	if err != nil {
		return d, err
	}
	d.PIN, d.Paper, d.Wait = st.On, st.OnlyPaper, st.Wait
	i, err := c.identityOf(ctx, cs)
	if err != nil {
		return d, err
	}
	d.Names, d.Texts, d.Child = i.names, i.texts, i.child
	for _, o := range i.open {
		d.Open = append(d.Open, Other{Case: o.ID, For: o.For(s), Screen: home(o)})
	}
	others, _ := c.sameAs(ctx, cs)
	for _, o := range others {
		d.Others = append(d.Others, Other{Case: o.ID, For: o.For(s), Screen: "record"})
	}
	for e := range timeline.Each[*timeline.IdentityDestroyed](cs.Entries, id) {
		d.Before = s.Date(e.Root().Event.Entered.Wall)
	}
	return d, nil
}

// identity is what of a case tells who it was.
type identity struct {
	events       []string // ids of all lines that have, or had, a private part
	names, texts int      // of them, those whose private part is here
	open         []*Case  // that stand in the way
	child        bool
}

// identityOf gathers it: whatever is written about the case and belongs to it,
// its patient, and children who have no case of their own.
func (c *Companion) identityOf(ctx context.Context, cs *Case) (identity, error) {
	var i identity
	elsewhere := map[string]bool{} // belongs to another case, and so to another patient
	for _, e := range cs.Entries {
		for v := range e.Versions {
			elsewhere[e.Versions[v].Line.Event.ID] = e.Now().Case != cs.ID
		}
	}
	take := func(l *timeline.Line, n *int) {
		if l.Event.Private == "" || elsewhere[l.Event.ID] {
			return
		}
		i.events = append(i.events, l.Event.ID)
		if l.P != nil || l.Sealed {
			*n++
		}
	}
	for _, l := range cs.lines {
		take(l, &i.texts)
	}
	people := []string{cs.Patient}
	for _, b := range timeline.Each[*timeline.Birth](cs.Entries, cs.ID) {
		own, err := c.ownCase(ctx, b.Newborn, cs.ID)
		if err != nil {
			return i, err
		}
		if i.child = i.child || own; !own {
			people = append(people, b.Newborn)
		}
	}
	for _, p := range people {
		if p == "" {
			continue
		}
		lines, err := c.store.Case(ctx, p)
		if err != nil {
			return i, err
		}
		for _, l := range lines {
			take(l, &i.names)
		}
	}
	open, err := c.OpenCases(ctx)
	if err != nil {
		return i, err
	}
	for _, o := range open {
		if o.ID == cs.ID || slices.Contains(people, o.Patient) {
			i.open = append(i.open, o)
		}
	}
	slices.Sort(i.events)
	i.events = slices.Compact(i.events)
	return i, nil
}

// ownCase reports that a person is the patient of a case other than this.
func (c *Companion) ownCase(ctx context.Context, person, but string) (bool, error) {
	for id, err := range c.Cases(ctx) {
		if err != nil {
			return false, err
		}
		if id == but {
			continue
		}
		cs, err := c.peek(ctx, id)
		if err != nil {
			return false, err
		}
		if cs.Patient == person {
			return true, nil
		}
	}
	return false, nil
}

// Destroy destroys the identity in a case, for good: nobody can take it back.
// grounds and asked are codes of term.Grounds and term.AskedBy; both are to be
// said.
// Where sealing was set up the PIN is asked for, also while the device is
// unlocked, and a wrong one counts as a try; nothing is unlocked by it.
// ErrStillOpen while the case, or another one of its patient, is open;
// ErrNoNames where nothing is left.
func (c *Companion) Destroy(ctx context.Context, event, id, grounds, asked, pin string) (Done, error) {
	cs, err := c.Case(ctx, id)
	if err != nil {
		return Done{}, err
	}
	i, err := c.identityOf(ctx, cs)
	if err != nil {
		return Done{}, err
	}
	t := Tap{ID: event, Scope: timeline.ScopeCase, About: id, Payload: &timeline.IdentityDestroyed{Events: i.events, Grounds: term.Grounds(grounds), Asked: term.AskedBy(asked)}}
	retry := cs.Story.Find(event) != nil // the first try may have been committed without being finished
	switch {
	case len(i.open) > 0:
		return Done{}, ErrStillOpen
	case i.names+i.texts == 0 && !retry:
		return Done{}, ErrNoNames
	case asked == "":
		return Done{}, &timeline.FieldError{Kind: "destroyed", Field: "asked_by", Code: "missing"}
	}
	if err := t.Payload.Check(); err != nil {
		return Done{}, err // before a try of the PIN is counted
	}
	if v, _ := c.store.Vault(); v != nil {
		c.lockMu.Lock()
		_, err := c.tryPIN(ctx, pin)
		c.lockMu.Unlock()
		if err != nil {
			return Done{}, err
		}
	}
	return c.Record(ctx, t)
}
