package core

import (
	"context"
	"slices"
	"time"

	"chinlift/core/formulary"
	"chinlift/core/quantity"
	"chinlift/core/term"
	"chinlift/core/timeline"
)

// A drug that was given is a fact: it is recorded whatever a rule says of it.
// What the rule said then is frozen beside it, and where it was exceeded a
// reason is owed.

// judged is what the rules say of a dose at its time.
type judged struct {
	use     *formulary.Use
	answer  formulary.Answer
	verdict formulary.Verdict
}

// judge finds what the rules say of a dose given at a time. use may be empty:
// then that use of its route is taken that it exceeds least, for nobody says
// what it was for. ok is false where no rule covers it.
func (c *Companion) judge(ctx context.Context, cs *Case, p *timeline.Drug, use, entry string, at time.Time) (judged, bool, error) {
	f, err := c.Rules(ctx, at)
	if err != nil {
		return judged{}, false, err
	}
	d := f.Find(p.Drug)
	if d == nil || d.Retired {
		return judged{}, false, nil
	}
	r := c.asked(cs, at, entry)
	r.Drug, r.Route, r.Strength = p.Drug, p.Route, p.Strength
	var best judged
	found := false
	for i := range d.Uses {
		u := &d.Uses[i]
		if use != "" && u.Code != use || !slices.Contains(u.Routes, p.Route) || u.Given != formulary.Bolus {
			continue
		}
		r.Use = u.Code
		a, err := f.Reckon(r)
		if err != nil {
			continue // no rule for this patient, or no weight
		}
		v, err := f.Judge(r, p.Dose)
		if err != nil {
			continue // in a unit that the rule does not know
		}
		if u.Rescue {
			// A rescue is repeated as needed; its maxima still count.
			v.Exceeds = slices.DeleteFunc(v.Exceeds, func(x formulary.Excess) bool { return x.Code == formulary.TooSoon || x.Code == formulary.OverRange })
		}
		if !found || len(v.Exceeds) < len(best.verdict.Exceeds) {
			best, found = judged{u, a, v}, true
		}
	}
	return best, found, nil
}

// suggested is what is frozen beside a dose.
func (j *judged) suggested() *timeline.Suggested {
	return &timeline.Suggested{Rule: timeline.Hash(j.use.Hash()), Use: j.use.Code, Weight: stored(j.answer.Weight), Low: stored(j.answer.Low), High: stored(j.answer.High)}
}

// stored brings a reckoned amount to the length that an entry takes.
func stored(a quantity.Amount) quantity.Amount {
	if a.IsZero() {
		return a
	}
	return a.Round(6)
}

// freeze puts beside a dose what the rules say of it, and gives the reason
// that is owed where they are exceeded.
func (c *Companion) freeze(ctx context.Context, f *Form, t *Tap, old *timeline.Entry) (owed []Tap, err error) {
	p, ok := t.Payload.(*timeline.Drug)
	if !ok {
		return nil, nil
	}
	if old != nil {
		// A correction carries what was said at the time, for the same drug.
		if was, ok := old.Now().Payload.(*timeline.Drug); ok && was.Drug == p.Drug {
			p.Frozen = was.Frozen
		}
		return nil, nil
	}
	cs, err := c.Case(ctx, f.Case)
	if err != nil {
		return nil, err
	}
	debt := Tap{ID: derived(t.ID, "over-limit"), Scope: timeline.ScopeCase, About: f.Case, At: t.At,
		Payload: &timeline.Owed{Act: term.OwedActOwed, For: term.OwedOverLimit, Over: t.ID}}
	if e := cs.Story.Find(t.ID); e != nil { // a retry says what was said
		if first, ok := e.Versions[0].Payload.(*timeline.Drug); ok {
			p.Frozen = first.Frozen
		}
		if d := cs.Story.Find(debt.ID); d != nil {
			debt.At = d.Versions[0].At
			return []Tap{debt}, nil
		}
		return nil, nil
	}
	at := t.At.Time
	if at.IsZero() {
		at = c.clock.Now().Wall
	}
	j, ok, err := c.judge(ctx, cs, p, f.one("use"), t.ID, at)
	if err != nil || !ok {
		return nil, err
	}
	p.Frozen = j.suggested()
	if len(j.verdict.Exceeds) == 0 {
		return nil, nil
	}
	return []Tap{debt}, nil
}

// Exceeded says in words what a dose of the record exceeds, by the rules that
// held when it was given.
func (c *Companion) Exceeded(ctx context.Context, cs *Case, entry string) ([]Cited, error) {
	e := cs.Story.Find(entry)
	if e == nil {
		return nil, nil
	}
	p, ok := e.Now().Payload.(*timeline.Drug)
	if !ok {
		return nil, nil
	}
	use := ""
	if p.Frozen != nil {
		use = p.Frozen.Use
	}
	j, ok, err := c.judge(ctx, cs, p, use, entry, e.Now().At.Time)
	if err != nil || !ok {
		return nil, err
	}
	s := Speaker{c.words}
	var all []Cited
	for _, x := range j.verdict.Exceeds {
		all = append(all, Cited{Text: s.excess(&x), Source: s.ruleSource(&x.Source), Mark: string(x.Source.Mark)})
	}
	return all, nil
}

// excess says what a dose exceeds.
func (s Speaker) excess(x *formulary.Excess) string {
	of := x.Of
	switch x.Code {
	case formulary.OverStop:
		of = s.ruleWord("formulary.alert.", x.Of)
	case formulary.OverReduced:
		of = s.ruleWord("formulary.reduce.", x.Of)
	}
	//word:prefix formulary.exceeds.
	return s.sayOf("formulary.exceeds."+string(x.Code), "dose", s.Amount(x.Dose), "limit", s.Amount(x.Limit), "of", of)
}
