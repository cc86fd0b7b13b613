package core

import (
	"context"
	"errors"
	"slices"
	"time"

	"chinlift/core/formulary"
	"chinlift/core/term"
	"chinlift/core/timeline"
)

// A patient who comes back to the table has two cases. Nothing joins them but
// somebody who says so: then what was given in the one counts in the totals of
// the other. Each case says it of the other; a link that one side has struck is
// none.

// saysSame gives the cases of which a case says that they are of the same
// patient.
func (cs *Case) saysSame() (ids []string) {
	for _, p := range timeline.Each[*timeline.Facts](cs.Entries, cs.ID) {
		if p.SameAs != "" && p.SameAs != cs.ID && !slices.Contains(ids, p.SameAs) {
			ids = append(ids, p.SameAs)
		}
	}
	return ids
}

// sameAs gives the other cases of the patient of a case, as far as they are on
// this device, and the ids of those that are not. Of a case as it was known
// earlier they are those of which it says so still.
func (c *Companion) sameAs(ctx context.Context, cs *Case) (others []*Case, missing []string) {
	seen := []string{cs.ID}
	if said := cs.saysSame(); len(said) > 0 {
		if now, err := c.Case(ctx, cs.ID); err == nil && now != cs {
			seen = append(seen, slices.DeleteFunc(said, func(id string) bool { return slices.Contains(now.saysSame(), id) })...)
		}
	}
	for next := []*Case{cs}; len(next) > 0; next = next[1:] {
		for _, id := range next[0].saysSame() {
			if slices.Contains(seen, id) {
				continue
			}
			o, err := c.Case(ctx, id)
			if err != nil {
				seen = append(seen, id)
				missing = append(missing, id)
				continue
			}
			if !slices.Contains(o.saysSame(), next[0].ID) {
				continue
			}
			seen = append(seen, id)
			others = append(others, o)
			next = append(next, o)
		}
	}
	return others, missing
}

// givenIn gives what the patient of a case had in other cases, by a time. How
// far back it counts is said by each rule.
func (c *Companion) givenIn(ctx context.Context, others []*Case, at, until time.Time) []formulary.Given {
	var all []formulary.Given
	for _, o := range others {
		for e, p := range timeline.Each[*timeline.Drug](o.Entries, o.ID) {
			if t := e.Now().At.Time; !t.After(until) {
				all = append(all, givenOf(p, t, at))
			}
		}
		all = append(all, o.infused(at, until, "", c.givingSets(ctx, at))...)
	}
	for i := range all {
		all[i].Before = true
	}
	return all
}

// without gives the cases that are not among some others.
func without(all, others []*Case) (rest []*Case) {
	for _, cs := range all {
		if !slices.ContainsFunc(others, func(o *Case) bool { return o.ID == cs.ID }) {
			rest = append(rest, cs)
		}
	}
	return rest
}

// joined judges a dose with what other cases held when it was given, of which it
// was said only later that they are of the same patient: ok where it exceeds
// thereby what it did not exceed without them.
func (c *Companion) joined(ctx context.Context, rules *Rules, then *Case, g given, entry, use string, others []*Case) (j judged, ok bool) {
	known, _ := c.sameAs(ctx, then)
	others = without(others, append(known, then))
	if len(others) == 0 {
		return judged{}, false
	}
	r := c.asked(ctx, then, g.at, entry)
	alone, why := judge(rules, r, g, use)
	if why != "" {
		return judged{}, false
	}
	r.Given = append(slices.Clip(r.Given), c.givenIn(ctx, others, g.at, g.at)...)
	if j, why = judge(rules, r, g, use); why != "" {
		return judged{}, false
	}
	j.verdict.Exceeds = slices.DeleteFunc(j.verdict.Exceeds, func(x formulary.Excess) bool {
		return slices.ContainsFunc(alone.verdict.Exceeds, func(y formulary.Excess) bool { return y.Code == x.Code && y.Of == x.Of })
	})
	return j, len(j.verdict.Exceeds) > 0
}

// owedJoined gives the reasons that come to be owed when somebody says that two
// cases are of one patient: for doses of either that are thereby over a limit.
func (c *Companion) owedJoined(ctx context.Context, t *Tap) ([]Tap, error) {
	p, ok := t.Payload.(*timeline.Facts)
	if !ok || p.SameAs == "" {
		return nil, nil
	}
	return c.owedBetween(ctx, t, p.SameAs)
}

// owedBetween is owedJoined for what joins the case of a tap with another one.
func (c *Companion) owedBetween(ctx context.Context, t *Tap, other string) ([]Tap, error) {
	var sides [2][]*Case
	for i, id := range []string{t.About, other} {
		cs, err := c.Case(ctx, id)
		if err != nil {
			return nil, err
		}
		others, _ := c.sameAs(ctx, cs)
		sides[i] = append([]*Case{cs}, others...)
	}
	if _, again := storedAs(sides[0][0], t.ID); again {
		return nil, nil
	}
	var all []Tap
	for i, side := range sides {
		for _, cs := range side {
			debts, err := c.debtsOf(ctx, cs, sides[1-i], t.ID, t.At)
			if err != nil {
				return nil, err
			}
			all = append(all, debts...)
		}
	}
	return all, nil
}

// debtsOf gives the reasons that a case comes to owe by what others held; by is
// the id of what joins them.
func (c *Companion) debtsOf(ctx context.Context, cs *Case, others []*Case, by string, at timeline.Moment) (all []Tap, err error) {
	for _, e := range cs.Entries {
		frozen := frozenOf(e.Now().Payload)
		g, ok := c.givenBy(ctx, cs, e.Now())
		if !e.In(cs.ID) || frozen == nil || !ok {
			continue
		}
		debt := Tap{ID: derived(e.ID, "over-limit-joined"), Scope: timeline.ScopeCase, About: cs.ID, At: at,
			Payload: &timeline.Owed{Act: term.OwedActOwed, For: term.OwedOverLimit, Over: e.ID}}
		if cs.openDebt(e.ID) != nil {
			continue
		}
		then := cs.knownAt(e)
		if said := then.saysSame(); cs.Story.Find(debt.ID) != nil || slices.ContainsFunc(others, func(o *Case) bool { return slices.Contains(said, o.ID) }) {
			if cs.reasoned(e.ID) {
				continue
			}
			debt.ID = derived(by, "over-limit-joined "+e.ID) // what was owed ended with the link, which is said again
		}
		rules, err := c.Rules(ctx, g.at)
		if err != nil {
			return nil, err
		}
		if _, over := c.joined(ctx, rules, then, g, e.ID, useOf(*frozen), others); over {
			all = append(all, debt)
		}
	}
	return all, nil
}

// reasoned reports that somebody gave, in words, a reason that was owed over a
// dose.
func (cs *Case) reasoned(over string) bool {
	for e, o := range timeline.Each[*timeline.Owed](cs.Entries, cs.ID) {
		if o.Act != term.OwedActGiven || e.Root().Event.Private == "" {
			continue
		}
		if debt := cs.Story.Find(o.Debt); debt != nil {
			if p, ok := debt.Now().Payload.(*timeline.Owed); ok && p.For == term.OwedOverLimit && p.Over == over {
				return true
			}
		}
	}
	return false
}

// untie records a strike, or a move, and where the entry said that another case
// is of the same patient, the end of what was owed by that alone.
func (c *Companion) untie(ctx context.Context, from string, t Tap) (Done, error) {
	ties := c.tiesOf(ctx, from, t.Amends)
	if len(ties) > 0 {
		c.doseMu.Lock()
		defer c.doseMu.Unlock()
	}
	done, err := c.Record(ctx, t)
	if err != nil {
		return done, err
	}
	return c.endApart(ctx, done, t, from, ties)
}

// retie records that a strike is undone, and where the entry says that another
// case is of the same patient, what comes to be owed by that.
func (c *Companion) retie(ctx context.Context, t Tap) (Done, error) {
	taps := []Tap{t}
	if ties := c.tiesOf(ctx, t.About, t.Amends); len(ties) > 0 {
		c.doseMu.Lock()
		defer c.doseMu.Unlock()
		last := ties[len(ties)-1]
		if o, err := c.Case(ctx, last); err == nil && slices.Contains(o.saysSame(), t.About) {
			debts, err := c.owedBetween(ctx, &t, last)
			if err != nil {
				return Done{}, err
			}
			taps = append(taps, debts...)
		}
	}
	done, err := c.Record(ctx, taps...)
	done.Lines = done.Lines[:min(1, len(done.Lines))]
	return done, err
}

// endApart records, after a correction of an entry that said of a case that
// others, the ties, are of the same patient, the end of the reasons that were
// owed by that alone: nothing is exceeded any more. A retry ends what the first
// try did not come to.
func (c *Companion) endApart(ctx context.Context, done Done, t Tap, from string, ties []string) (Done, error) {
	if len(ties) == 0 {
		return done, nil
	}
	var ends []Tap
	var seen []string
	for _, id := range append([]string{from}, ties...) {
		cs, err := c.Case(ctx, id)
		if errors.Is(err, ErrNotHere) {
			continue
		}
		if err != nil {
			return done, err
		}
		others, _ := c.sameAs(ctx, cs)
		for _, o := range append([]*Case{cs}, others...) {
			if slices.Contains(seen, o.ID) {
				continue
			}
			seen = append(seen, o.ID)
			for _, debt := range o.Owing() {
				p, ok := debt.Now().Payload.(*timeline.Owed)
				if !ok || p.For != term.OwedOverLimit {
					continue
				}
				x, err := c.excessOf(ctx, o, p.Over)
				if err != nil {
					return done, err
				}
				if x.judged && len(x.all) == 0 {
					ends = append(ends, Tap{ID: derived(t.ID, "apart "+debt.ID), Scope: timeline.ScopeCase, About: o.ID, At: t.At,
						Payload: &timeline.Owed{Act: term.OwedActGiven, For: term.OwedOverLimit, Over: p.Over, Debt: debt.ID}})
				}
			}
		}
	}
	if len(ends) == 0 {
		return done, nil
	}
	more, err := c.Record(ctx, ends...)
	done.Head = max(done.Head, more.Head)
	return done, err
}

// tiesOf gives the cases of which an entry says, or said, that they are of the
// same patient.
func (c *Companion) tiesOf(ctx context.Context, caseID, entry string) (ties []string) {
	cs, err := c.Case(ctx, caseID)
	if err != nil {
		return nil // whoever corrects meets the same fault
	}
	if e := cs.Story.Find(entry); e != nil {
		for i := range e.Versions {
			if p, ok := e.Versions[i].Payload.(*timeline.Facts); ok && p.SameAs != "" {
				ties = append(ties, p.SameAs)
			}
		}
	}
	return ties
}

// useOf gives the use by which a dose was judged; empty where none did.
func useOf(s *timeline.Suggested) string {
	if s == nil {
		return ""
	}
	return s.Use
}

// CountedIn says in which cases the doses that count were given: this one
// alone, or others of the same patient too.
func (c *Companion) CountedIn(ctx context.Context, cs *Case) string {
	s := Speaker{c.words}
	others, missing := c.sameAs(ctx, cs)
	if len(others)+len(missing) == 0 {
		return s.Say("dose.counted-here")
	}
	var names, lost []string
	for _, o := range others {
		names = append(names, s.caseNumber(o.ID))
	}
	for _, id := range missing {
		lost = append(lost, s.caseNumber(id))
	}
	text := ""
	if len(names) > 0 {
		text = s.Say("dose.counted-too", "cases", join(", ", names...))
	}
	if len(lost) > 0 {
		text = join(" ", text, s.Say("dose.counted-missing", "cases", join(", ", lost...)))
	}
	return text
}

// SameChoice is a case that may be of the same patient.
type SameChoice struct {
	Case, For, When string // When says who it is as well
	Said            bool   // it was said already
}

// SameChoices gives the cases that were touched last, of which somebody may say
// that they are of the same patient.
func (c *Companion) SameChoices(ctx context.Context, cs *Case) ([]SameChoice, error) {
	v, err := c.Log(ctx, 0)
	if err != nil {
		return nil, err
	}
	others, _ := c.sameAs(ctx, cs)
	var all []SameChoice
	for _, l := range v.Cases {
		if l.Case != cs.ID {
			all = append(all, SameChoice{l.Case, l.For, join(" · ", l.When, l.Detail), slices.ContainsFunc(others, func(o *Case) bool { return o.ID == l.Case })})
		}
	}
	return all, nil
}

// saidBack gives the entry by which the other case says the same of this one.
func (c *Companion) saidBack(ctx context.Context, t *Tap) ([]Tap, error) {
	p, ok := t.Payload.(*timeline.Facts)
	if !ok || p.SameAs == "" {
		return nil, nil
	}
	if p.SameAs == t.About {
		return nil, &timeline.FieldError{Kind: "facts", Field: "same_as", Code: "contradiction"}
	}
	if _, err := c.Case(ctx, p.SameAs); err != nil {
		return nil, err
	}
	return []Tap{{ID: derived(t.ID, "same-as"), Scope: timeline.ScopeCase, About: p.SameAs, At: t.At, Payload: &timeline.Facts{SameAs: t.About}}}, nil
}
