package core

import (
	"context"
	"errors"
	"slices"
	"time"

	"chinlift/core/formulary"
	"chinlift/core/patient"
	"chinlift/core/quantity"
	"chinlift/core/term"
	"chinlift/core/timeline"
)

// A drug that was given is a fact: it is recorded whatever a rule says of it.
// What the rule said then is frozen beside it, and where it was exceeded a
// reason is owed. No fault of a rule keeps a fact out.

// judged is what the rules say of a dose at its time.
type judged struct {
	use     *formulary.Use
	answer  formulary.Answer
	verdict formulary.Verdict
}

// given is a dose to be judged: a drug, or the rate of an infusion.
type given struct {
	drug           string
	route          term.Route
	dose, strength quantity.Amount
	way            formulary.Way
	at             time.Time
}

// givenBy gives the dose of an entry; a rate in drops as a flow through a set,
// where that is known.
func givenBy(p timeline.Payload, at time.Time, set quantity.Amount) (given, bool) {
	switch p := p.(type) {
	case *timeline.Drug:
		return given{p.Drug, p.Route, byStrength(p.Dose, p.Strength, quantity.Mg, quantity.IU, quantity.Mmol), p.Strength, formulary.Bolus, at}, true
	case *timeline.Infusion:
		if p.Act == term.InfusionActStopped {
			return given{}, false
		}
		return given{p.Drug, p.Route, byStrength(flowOf(p.Rate, set), p.Strength, quantity.MgPerH, quantity.MustUnit("[IU]/h"), quantity.MmolPerH), p.Strength, formulary.Infusion, at}, true
	}
	return given{}, false
}

// givenBy gives the dose of a version of an entry of a case.
func (c *Companion) givenBy(ctx context.Context, cs *Case, v *timeline.Version) (given, bool) {
	return givenBy(v.Payload, v.At.Time, c.setOf(ctx, cs, v.Payload, v.At.Time))
}

// byStrength gives a volume, or a flow, of a known strength as an amount of the
// drug, in the unit that fits.
func byStrength(a, strength quantity.Amount, units ...quantity.Unit) quantity.Amount {
	if strength.IsZero() || a.Unit.Dimension() != quantity.Volume && a.Unit.Dimension() != quantity.Flow {
		return a
	}
	for _, u := range units {
		if b, err := a.Mul(strength, u); err == nil {
			return b.Round(6)
		}
	}
	return a
}

// Unjudged is the code of why no rule could judge a dose; empty where one did.
type Unjudged string

// Why no rule judged a dose. Where several rules failed, each for its own
// reason, the one is told that can be mended soonest: they stand in that order
// from UnjudgedWeight on.
const (
	UnjudgedDrug    Unjudged = "drug"    // no rule knows the drug
	UnjudgedRetired Unjudged = "retired" // the clinic has taken the drug out
	UnjudgedRoute   Unjudged = "route"   // no rule for this route
	UnjudgedWay     Unjudged = "way"     // a rule for single doses and an infusion, or the other way round
	UnjudgedPurpose Unjudged = "purpose" // rescue rules alone, and nobody said what it was for
	UnjudgedThen    Unjudged = "then"    // a rule could now, and none did when it was given
	UnjudgedWeight  Unjudged = "weight"  // no weight was known
	UnjudgedAge     Unjudged = "age"     // no age was known
	UnjudgedAmount  Unjudged = "amount"  // no amount, or one whose unit or strength the rule does not know
	UnjudgedPatient Unjudged = "patient" // no rule for such a patient
)

// UnjudgedCodes has every code of why no rule judged a dose.
var UnjudgedCodes = []Unjudged{
	UnjudgedDrug, UnjudgedRetired, UnjudgedRoute, UnjudgedWay, UnjudgedPurpose, UnjudgedThen,
	UnjudgedWeight, UnjudgedAge, UnjudgedAmount, UnjudgedPatient,
}

// unjudgedBy gives the code of an error of the rules.
func unjudgedBy(err error) Unjudged {
	var e *formulary.Error
	if !errors.As(err, &e) {
		return UnjudgedPatient
	}
	switch e.Field {
	case "weight":
		if e.Code == patient.Missing {
			return UnjudgedWeight
		}
	case "age":
		if e.Code == patient.Missing {
			return UnjudgedAge
		}
	case "dose", "strength":
		return UnjudgedAmount
	}
	return UnjudgedPatient
}

// judge finds what the rules say of a dose. use may be empty: then that use of
// its route is taken that it exceeds least, and none that rescues, for nobody
// says what it was for. r tells the case, without the dose itself. Where no
// rule judges it, why says so.
func judge(f *Rules, r formulary.Request, g given, use string) (best judged, why Unjudged) {
	d := f.Find(g.drug)
	switch {
	case d == nil:
		return judged{}, UnjudgedDrug
	case d.Retired:
		return judged{}, UnjudgedRetired
	}
	r.Drug, r.Route, r.Strength = g.drug, g.route, g.strength
	found := false
	why = UnjudgedRoute
	failed := func(x Unjudged) {
		if slices.Index(UnjudgedCodes, why) < slices.Index(UnjudgedCodes, UnjudgedWeight) || slices.Index(UnjudgedCodes, x) < slices.Index(UnjudgedCodes, why) {
			why = x
		}
	}
	for i := range d.Uses {
		u := &d.Uses[i]
		if g.route != "" && !slices.Contains(u.Routes, g.route) || use != "" && u.Code != use {
			continue
		}
		switch {
		case u.Given != g.way:
			if why == UnjudgedRoute {
				why = UnjudgedWay
			}
			continue
		case use == "" && u.Rescue:
			if why == UnjudgedRoute || why == UnjudgedWay {
				why = UnjudgedPurpose
			}
			continue
		}
		r.Use = u.Code
		a, err := f.Reckon(r)
		if err != nil {
			failed(unjudgedBy(err))
			continue
		}
		v, err := f.Judge(r, g.dose)
		if err != nil {
			failed(unjudgedBy(err))
			continue
		}
		if u.Rescue {
			// A rescue is repeated as needed; its maxima still count.
			v.Exceeds = slices.DeleteFunc(v.Exceeds, func(x formulary.Excess) bool { return x.Code == formulary.TooSoon || x.Code == formulary.OverRange })
		}
		if !found || len(v.Exceeds) < len(best.verdict.Exceeds) {
			best, found = judged{u, a, v}, true
		}
	}
	if found {
		return best, ""
	}
	return judged{}, why
}

// suggested is what is frozen beside a dose.
func (j *judged) suggested(guessed bool) *timeline.Suggested {
	return &timeline.Suggested{Rule: timeline.Hash(j.use.Hash()), Use: j.use.Code, Guessed: guessed, Weight: stored(j.answer.Weight), Low: stored(j.answer.Low), High: stored(j.answer.High)}
}

// stored brings a reckoned amount to the length that an entry takes.
func stored(a quantity.Amount) quantity.Amount {
	if a.IsZero() {
		return a
	}
	return a.Round(6)
}

func frozenOf(p timeline.Payload) **timeline.Suggested {
	switch p := p.(type) {
	case *timeline.Drug:
		return &p.Frozen
	case *timeline.Infusion:
		return &p.Frozen
	}
	return nil
}

// freeze puts beside a dose what the rules say of it, and gives the entries
// that go with it: the reason that is owed where they are exceeded, or, for a
// correction to a dose that exceeds nothing, the end of what was owed. also are
// doses that are recorded at once with it, before it.
func (c *Companion) freeze(ctx context.Context, f *Form, t *Tap, old *timeline.Entry, also []given) ([]Tap, error) {
	frozen := frozenOf(t.Payload)
	if frozen == nil {
		return nil, nil
	}
	cs, err := c.Case(ctx, f.Case)
	if err != nil {
		return nil, err
	}
	root := t.ID
	if old != nil {
		root = old.ID
	}
	debt := Tap{ID: derived(t.ID, "over-limit"), Scope: timeline.ScopeCase, About: f.Case, At: t.At,
		Payload: &timeline.Owed{Act: term.OwedActOwed, For: term.OwedOverLimit, Over: root}}
	if first, ok := storedAs(cs, t.ID); ok { // a retry says what was said
		if was := frozenOf(first.Payload); was != nil {
			*frozen = *was
		}
		if e := cs.Story.Find(debt.ID); e != nil {
			debt.At, debt.Payload = e.Versions[0].At, e.Versions[0].Payload
			return []Tap{debt}, nil
		}
		return nil, nil
	}
	at := t.At.Time
	if at.IsZero() {
		at = c.clock.Now().Wall
	}
	set := c.setOf(ctx, cs, t.Payload, at)
	g, ok := givenBy(t.Payload, at, set)
	if !ok {
		return nil, nil
	}
	use, guessed := f.one("use"), f.one("use") == ""
	if old != nil {
		was := frozenOf(old.Now().Payload)
		before, _ := givenBy(old.Now().Payload, at, set)
		if was != nil && *was != nil && before.drug == g.drug && before.route == g.route {
			// The same drug by the same way: the rule is the one of its time.
			*frozen = *was
			if use == "" && !(*was).Guessed {
				use, guessed = (*was).Use, false
			}
		}
	}
	rules, err := c.Rules(ctx, at)
	if err != nil {
		return nil, err
	}
	j, why := judge(rules, c.asked(ctx, cs, at, root, also...), g, use)
	if why != "" {
		return nil, nil // Stand says so
	}
	if *frozen == nil {
		*frozen = j.suggested(guessed)
	}
	open := cs.openDebt(root)
	switch {
	case len(j.verdict.Exceeds) > 0 && open == nil:
		return []Tap{debt}, nil
	case len(j.verdict.Exceeds) == 0 && open != nil:
		debt.Payload = &timeline.Owed{Act: term.OwedActGiven, For: term.OwedOverLimit, Over: root, Debt: open.ID}
		return []Tap{debt}, nil
	}
	return nil, nil
}

// storedAs gives the version of an entry that has an id, of an event or of a
// correction.
func storedAs(cs *Case, id string) (*timeline.Version, bool) {
	for _, e := range cs.Story.Entries {
		for i := range e.Versions {
			if v := &e.Versions[i]; v.Line.Event.ID == id {
				return v, true
			}
		}
	}
	return nil, false
}

// openDebt gives the reason that is owed over a dose and was not given yet.
func (cs *Case) openDebt(over string) *timeline.Entry {
	for _, e := range cs.owed {
		if o, ok := e.Now().Payload.(*timeline.Owed); ok && o.For == term.OwedOverLimit && o.Over == over && !cs.given[e.ID] {
			return e
		}
	}
	return nil
}

// exceeded is what a dose of the record exceeds.
type exceeded struct {
	judged  bool                // the rule of then judges it
	changed *timeline.Suggested // the rule is another one by now; this stands beside the dose
	late    Unjudged            // what was wanting then, where it is judged by what is known now
	joined  bool                // some of it with another case, of which it was said only later
	all     []formulary.Excess
}

// excessOf finds what a dose exceeds, by the rules that held when it was given
// and by what was known then; where a weight was wanting then, by the one that
// is known now.
func (c *Companion) excessOf(ctx context.Context, cs *Case, entry string) (x exceeded, err error) {
	e := cs.Story.Find(entry)
	if e == nil {
		return x, nil
	}
	g, ok := c.givenBy(ctx, cs, e.Now())
	if !ok {
		return x, nil
	}
	rules, err := c.Rules(ctx, g.at)
	if err != nil {
		return x, err
	}
	frozen := *frozenOf(e.Now().Payload)
	use := useOf(frozen)
	then := cs.knownAt(e)
	j, why := judge(rules, c.asked(ctx, then, g.at, entry), g, use)
	if frozen != nil && (why != "" || string(frozen.Rule) != j.use.Hash()) {
		x.changed = frozen
		return x, nil
	}
	if why != "" {
		if j, ok = c.judgedLate(ctx, rules, cs, then, g, entry, why); !ok {
			return x, nil
		}
		x.late = why
	}
	x.judged, x.all = true, j.verdict.Exceeds
	others, _ := c.sameAs(ctx, cs)
	if late, over := c.joined(ctx, rules, then, g, entry, use, others); over {
		x.joined, x.all = true, append(slices.Clip(x.all), late.verdict.Exceeds...)
	}
	return x, nil
}

// Exceeded says in words what a dose of the record exceeds, by the rules that
// held when it was given and by what was known then; where a weight was
// wanting then, by the one that is known now. Where the rule is another one by
// now, through a new version of the companion, it says that alone; where a
// reason is owed and nothing is exceeded any more, that.
func (c *Companion) Exceeded(ctx context.Context, cs *Case, entry string) ([]Cited, error) {
	x, err := c.excessOf(ctx, cs, entry)
	if err != nil {
		return nil, err
	}
	s := Speaker{c.words}
	if x.changed != nil {
		return []Cited{{Text: s.Say("dose.rule-changed", "range", s.spanOf(x.changed.Low, x.changed.High))}}, nil
	}
	var all []Cited
	if x.late != "" {
		all = append(all, Cited{Text: s.Say("stand.late-by", "by", s.late(lateBy(cs, x.late)))})
	}
	if x.joined {
		all = append(all, Cited{Text: s.Say("dose.joined-later")})
	}
	for _, one := range x.all {
		all = append(all, Cited{Text: s.excess(&one), Source: s.source(one.Source), Mark: string(one.Source.Mark)})
	}
	if x.judged && len(x.all) == 0 && cs.openDebt(entry) != nil {
		all = append(all, Cited{Text: s.Say("dose.exceeds-no-longer")})
	}
	return all, nil
}

// knownAt gives the case as it was known when an entry was made: by the order
// of entry, since a clock may have been set.
func (cs *Case) knownAt(e *timeline.Entry) *Case {
	return CaseOf(cs.ID, timeline.Fold(cs.linesAt(e)), cs.Persons)
}

// linesAt gives the lines of a case that were there when an entry was made, with
// its own.
func (cs *Case) linesAt(e *timeline.Entry) []*timeline.Line {
	root := &e.Versions[0].Line.Event
	lines := make([]*timeline.Line, 0, len(cs.lines))
	for _, l := range cs.lines {
		if l.Event.ID == root.ID || l.Event.Before(root) {
			lines = append(lines, l)
		}
	}
	return lines
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
	return s.sayOf("formulary.exceeds."+string(x.Code), "dose", s.dose(x.Dose), "limit", s.dose(x.Limit), "of", of)
}
