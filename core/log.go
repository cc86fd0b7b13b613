package core

import (
	"context"
	"errors"
	"fmt"
	"iter"
	"math"
	"slices"
	"strings"

	"chinlift/core/store"
	"chinlift/core/term"
	"chinlift/core/timeline"
)

// LogView is a page of the list of cases, the one touched last first.
type LogView struct {
	Cases []LogLine
	Next  int64 // for the next page; 0: there is none
	Total int
}

// LogLine is one case in the list.
type LogLine struct {
	Case, Short, For, Detail string
	When, State              string
	Entries, Conflicts       int
	Open                     bool
	Sealed                   bool // a name or a text of it cannot be read now
}

// logPage is how many cases a page of the log shows.
const logPage = 20

// Log gives a page of the list of cases. before is the Next of the page
// before, or 0.
func (c *Companion) Log(ctx context.Context, before int64) (LogView, error) {
	s := Speaker{c.words}
	var v LogView
	c.tidyWhenDue(ctx)
	refs, err := c.store.Recent(ctx, logPage, before)
	if err != nil {
		return v, err
	}
	for _, r := range refs {
		cs, err := c.Case(ctx, r.ID)
		if errors.Is(err, ErrNotHere) {
			continue
		}
		if err != nil {
			return v, err
		}
		v.Cases = append(v.Cases, cs.logLine(s))
	}
	if len(refs) == logPage {
		v.Next = refs[len(refs)-1].Last
	}
	n, _, err := c.store.Count(ctx)
	v.Total = int(n)
	return v, err
}

// logLine is the case in one line.
func (cs *Case) logLine(s Speaker) LogLine {
	return LogLine{
		Case: cs.ID, Short: ShortCase(cs.ID), For: cs.For(s), Detail: cs.Detail(s), When: s.Date(cs.Opened), Entries: len(cs.Entries), Open: !cs.Closed, Sealed: cs.Sealed,
		State: cmpOr(Code(s, term.OutcomeList, cs.Outcome), Code(s, term.PhaseList, cs.Phase)), Conflicts: cs.Conflicts,
	}
}

// EntryView is one entry with everything that was ever said of it.
type EntryView struct {
	Head
	Line
	Entered               string
	Versions              []VersionLine
	Kind                  string
	Name                  string            // what entries of its kind are called
	Fields                []EntryField      // its values as they stand, for a correction
	Private               map[string]string // text, name, number as they stand
	To                    []Other           // other open cases to which it could belong
	Elsewhere             *Other            // the case where it is, when it was moved away from this one; nothing can be done with it here then
	Photo                 string            // path of its photograph; empty: none that can be seen
	Fixed                 bool              // it tells of a destruction: nobody takes that back
	CanStrike, CanRestore bool
	CanCorrect            bool    // its values
	RuleConfirmed         string  // of a drug: who stood for the rule that it was given under, at that time
	RuleUnconfirmed       string  // or that nobody did
	Unjudged              string  // that no rule judged the dose, and why
	Needs                 string  // the fact that it would be judged by and that nobody knows: weight or age
	Exceeds               []Cited // of a dose that was judged late: the weight, and what it exceeds
}

// VersionLine is one version of an entry.
type VersionLine struct {
	Text, At, By, Entered, Reason, What string
	Stands, Head                        bool
}

// EntryField is one value of an entry as a form holds it.
type EntryField struct{ Name, Label, Value string }

// EntryOf gives one entry of a case.
func (c *Companion) EntryOf(ctx context.Context, caseID, id string) (EntryView, error) {
	h, cs, err := c.HeadOf(ctx, caseID)
	if err != nil {
		return EntryView{}, err
	}
	e := cs.Story.Find(id)
	if e == nil {
		return EntryView{}, fmt.Errorf("entry %s: %w", id, ErrNotHere)
	}
	now, s := c.clock.Now(), Speaker{c.words}
	late, err := c.minutes(ctx, term.SettingLateAfter, now.Wall, lateAfter)
	if err != nil {
		return EntryView{}, err
	}
	v := EntryView{Head: h, Line: c.line(cs, e, now, late), Entered: s.Date(e.Root().Event.Entered.Wall),
		Kind: e.Now().Payload.Kind().Name(), Name: s.KindName(e.Now().Payload.Kind()), Private: map[string]string{}}
	if v.Elsewhere, err = c.elsewhere(ctx, cs, e); err != nil {
		return v, err
	}
	if v.Elsewhere == nil && e.Now().Private()[timeline.PrivatePhoto] != "" {
		v.Photo = "case/" + caseID + "/photo/" + id
	}
	if v.Fixed = destroys(e.Root()); v.Elsewhere == nil && !v.Fixed {
		struck := e.Now().Struck
		v.CanRestore, v.CanCorrect = struck, !struck && !e.Now().Content.Sealed
		if _, opening := e.Root().Payload.(*timeline.CaseOpened); !opening {
			v.CanStrike, v.To = !struck, h.Others
		}
	}
	st, err := c.standOf(ctx, cs, e, e.Now())
	if err != nil {
		return v, err
	}
	switch {
	case !st.Dose:
	case st.Sure:
		v.RuleConfirmed = s.Say("log.rule-confirmed", "by", cmpOr(st.By, s.Say("record.unnamed")))
	case st.Why == "" || st.Late != nil:
		v.RuleUnconfirmed = s.Say("log.rule-unconfirmed")
	}
	if st.Why != "" {
		v.Unjudged = s.Say("log.unjudged", "why", s.Say("stand.why."+string(st.Why)))
		if st.Late == nil && (st.Why == UnjudgedWeight || st.Why == UnjudgedAge) {
			v.Needs = string(st.Why)
		}
	}
	if st.Late != nil {
		if v.Exceeds, err = c.Exceeded(ctx, cs, id); err != nil {
			return v, err
		}
		if !st.Late.Over {
			v.Exceeds = []Cited{{Text: s.Say("stand.late-by", "by", s.late(st.Late.By)) + " " + upperFirst(s.Say("stand.within")) + "."}}
		}
	}
	b := sheetMaker{c: c, cs: cs, s: s}
	for i := range e.Versions {
		o := &e.Versions[i]
		ch := b.change(e, o)
		v.Versions = append(v.Versions, VersionLine{Text: ch.Text, At: s.Clock(o.At), By: ch.By, Entered: s.Date(o.Line.Event.Entered.Wall),
			Reason: ch.Reason, What: s.KindName(o.Line.Event.Kind), Stands: o == e.Now(), Head: slices.Contains(e.Heads, i)})
	}
	for k, t := range e.Now().Private() {
		if k != timeline.PrivateSalt {
			v.Private[k] = t
		}
	}
	for _, f := range FieldsOf(e.Now().Payload) {
		//word:prefix field.
		if key := "field." + f.Name; s.Has(key) {
			f.Label = s.Say(key)
		} else {
			f.Label = strings.ReplaceAll(f.Name, "_", " ")
		}
		v.Fields = append(v.Fields, f)
	}
	return v, nil
}

// elsewhere gives the case to which an entry was moved from this one; nil when
// it is here.
func (c *Companion) elsewhere(ctx context.Context, cs *Case, e *timeline.Entry) (*Other, error) {
	id, s := e.Now().Case, Speaker{c.words}
	if id == cs.ID {
		return nil, nil
	}
	there, err := c.Case(ctx, id)
	switch {
	case errors.Is(err, ErrNotHere):
		return &Other{Case: id, For: s.Say("case.number", "n", ShortCase(id))}, nil
	case err != nil:
		return nil, err
	}
	return &Other{Case: id, For: there.For(s), Phase: Code(s, term.PhaseList, there.Phase)}, nil
}

// Cases walks the ids of all cases, in order of opening.
func (c *Companion) Cases(ctx context.Context) iter.Seq2[string, error] {
	return func(yield func(string, error) bool) {
		// One read: between two of them a case that is touched would change
		// its place in the list, and slip out of both.
		refs, err := c.store.Recent(ctx, math.MaxInt, 0)
		if err != nil {
			yield("", err)
			return
		}
		ids := make([]string, len(refs))
		for i, r := range refs {
			ids[i] = r.ID
		}
		// Row numbers differ between a device and a replay of its export; the
		// ids are UUIDv7 or hold the time of one, so their order is the same.
		slices.Sort(ids)
		for _, id := range ids {
			if !yield(id, nil) {
				return
			}
		}
	}
}

// Story gives the folded case and the people whom it names. Several may be
// asked for at once; none of them keeps a tap waiting, or takes the place of a
// case that is open.
func (c *Companion) Story(ctx context.Context, id string) (*timeline.Story, map[string]*timeline.Entry, error) {
	c.mu.Lock()
	cs, ok := c.cached[id]
	c.mu.Unlock()
	if !ok {
		var err error
		if cs, err = c.read(ctx, id); err != nil {
			return nil, nil, err
		}
	}
	return cs.Story, cs.Persons, nil
}

// Closure gives the lines of a case, of what was moved in or out of it, and of
// everyone whom they name, each once, in entry order: what a file of one case
// holds.
func (c *Companion) Closure(ctx context.Context, id string) ([]*timeline.Line, error) {
	cs, err := c.Case(ctx, id)
	if err != nil {
		return nil, err
	}
	lines := slices.Clone(cs.lines)
	for _, p := range peopleOf(cs.lines) {
		more, err := c.store.Case(ctx, p)
		if err != nil {
			return nil, err
		}
		lines = append(lines, more...)
		for _, l := range more {
			// Who somebody was that had no name goes along.
			if claim, ok := l.Payload.(*timeline.Claimed); ok {
				who, err := c.store.Case(ctx, claim.Person)
				if err != nil {
					return nil, err
				}
				lines = append(lines, who...)
			}
		}
	}
	timeline.SortLines(lines)
	return slices.CompactFunc(lines, func(a, b *timeline.Line) bool { return a.H == b.H }), nil
}

// Elsewhere lists what the lines that are about no case are about, sorted:
// people, settings, equipment, the logs themselves. Story folds each of them.
func (c *Companion) Elsewhere(ctx context.Context) ([]string, error) { return c.store.Elsewhere(ctx) }

// Walk begins a walk over every line, thing by thing.
func (c *Companion) Walk(ctx context.Context) (*store.Walk, error) {
	c.lockWhenDue()
	return c.store.Walk(ctx)
}
