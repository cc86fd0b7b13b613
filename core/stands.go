package core

import (
	"context"
	"slices"
	"time"

	"chinlift/core/patient"
	"chinlift/core/quantity"
	"chinlift/core/term"
	"chinlift/core/timeline"
)

// Stand is how a dose of the record stands to the dose rules: by which it was
// judged when it was given, and who of the clinic stood for that rule then; or
// that none judged it, and why. It is worked out each time, and stands nowhere
// in the record.
type Stand struct {
	Dose bool     // the entry is a dose: a drug, or the rate of an infusion
	By   string   // who stood for the rule; empty also where that name was destroyed
	Sure bool     // somebody stood for it
	Why  Unjudged // why no rule judged it; empty where one did
	Far  bool     // it went by a weight that is far from the age, and that nobody looked at again
	Late *Late    // what a rule says by a weight that became known later; nil: nothing
}

// Late is a verdict by a weight, or an age, that nobody knew when the dose was
// given.
type Late struct {
	By   quantity.Amount // what became known
	Over bool            // it exceeds the rule
}

// lateBy gives what became known of what was wanting.
func lateBy(cs *Case, why Unjudged) quantity.Amount {
	if why == UnjudgedAge {
		return cs.Facts.Age
	}
	return cs.Facts.Weight
}

// late writes it.
func (s Speaker) late(a quantity.Amount) string {
	if a.Unit.Dimension() == quantity.Duration {
		return s.Age(a)
	}
	return s.Amount(a)
}

// standOf gives how a version of an entry stands to the rules.
func (c *Companion) standOf(ctx context.Context, cs *Case, e *timeline.Entry, v *timeline.Version) (Stand, error) {
	g, ok := c.givenBy(ctx, cs, v)
	if !ok {
		return Stand{}, nil
	}
	history, err := c.confirmings(ctx)
	if err != nil {
		return Stand{}, err
	}
	st := Stand{Dose: true}
	if frozen := *frozenOf(v.Payload); frozen != nil {
		st.By, st.Sure = confirmedBy(history, ruleKey{g.drug, frozen.Use, frozen.Rule}, g.at)
		if n, err := frozen.Weight.Cmp(cs.Facts.WeightChecked); err != nil || n != 0 {
			st.Far = farFromAge(&cs.Facts, frozen.Weight)
		}
		return st, nil
	}
	rules, err := c.Rules(ctx, g.at)
	if err != nil {
		return Stand{}, err
	}
	x := c.unjudgedThen(ctx, cs, e, v, g, rules)
	st.Why = x.why
	if x.late {
		st.Late = &Late{By: lateBy(cs, st.Why), Over: x.over}
		st.By, st.Sure = confirmedBy(history, x.rule, g.at)
	}
	return st, nil
}

// unjudgedAs is why no rule judged a dose, and what one says by what became
// known later.
type unjudgedAs struct {
	why  Unjudged
	late bool
	over bool    // it exceeds the rule
	rule ruleKey // the rule
}

// unjudgedFrom is all that an unjudgedAs was worked out from, for a case that
// knows of no other of the same patient.
type unjudgedFrom struct {
	known int   // lines of the case that were known when the dose was entered
	at    int64 // when it was given, in ns since 1970
	rules *Rules
	body  patient.Patient // as it is known now
}

// unjudgedKept bounds how many are kept: those of some long cases.
const unjudgedKept = 4096

type keptUnjudged struct {
	from unjudgedFrom
	sets givingSets
	is   unjudgedAs
}

// unjudgedThen works out why no rule judged a version of a dose. It folds the
// case as it was known then and asks every rule of the drug, and a page of the
// record asks for each dose in each of its tiles: so what was worked out is kept
// until something that it came from is another.
func (c *Companion) unjudgedThen(ctx context.Context, cs *Case, e *timeline.Entry, v *timeline.Version, g given, rules *Rules) unjudgedAs {
	from := unjudgedFrom{known: len(cs.linesAt(e)), at: g.at.UnixNano(), rules: rules, body: patientOf(&cs.Facts)}
	sets, id := c.givingSets(ctx, g.at), v.Line.Event.ID
	c.unjudgedMu.Lock()
	kept, ok := c.unjudgedKept[id]
	c.unjudgedMu.Unlock()
	if ok && kept.from == from && slices.Equal(kept.sets, sets) {
		return kept.is
	}
	var x unjudgedAs
	then := cs.knownAt(e)
	if _, x.why = judge(rules, c.asked(ctx, then, g.at, e.ID), g, ""); x.why == "" {
		x.why = UnjudgedThen
	}
	if j, ok := c.judgedLate(ctx, rules, cs, then, g, e.ID, x.why); ok {
		x.late, x.over = true, len(j.verdict.Exceeds) > 0
		x.rule = ruleKey{g.drug, j.use.Code, timeline.Hash(j.use.Hash())}
	}
	// A dose of just now is judged with what is entered ahead of its time, and one
	// of a patient with other cases by what these hold: both may still change.
	if len(then.saysSame()) == 0 && g.at.Before(c.clock.Now().Wall.Add(-time.Minute)) {
		c.unjudgedMu.Lock()
		defer c.unjudgedMu.Unlock()
		if len(c.unjudgedKept) >= unjudgedKept || c.unjudgedKept == nil {
			c.unjudgedKept = map[string]keptUnjudged{}
		}
		c.unjudgedKept[id] = keptUnjudged{from, sets, x}
	}
	return x
}

// judgedLate judges a dose that wanted a weight, or an age, by what is known of
// the patient's body now; all else counts as it was known then.
func (c *Companion) judgedLate(ctx context.Context, rules *Rules, now, then *Case, g given, entry string, why Unjudged) (judged, bool) {
	if why != UnjudgedWeight && why != UnjudgedAge || now.Facts.Weight.IsZero() {
		return judged{}, false
	}
	r := c.asked(ctx, then, g.at, entry)
	r.Patient = patientOf(&now.Facts)
	j, still := judge(rules, r, g, "")
	return j, still == ""
}

// stand gives how an entry stands to the rules, in a few words: empty where a
// rule judged it that somebody of the clinic stood for, and where it is no dose.
func (c *Companion) stand(ctx context.Context, cs *Case, e *timeline.Entry) (string, error) {
	st, err := c.standOf(ctx, cs, e, e.Now())
	return Speaker{c.words}.stand(st), err
}

func (s Speaker) stand(st Stand) string {
	late, sure := "", ""
	if st.Late != nil {
		what := s.Say("stand.within")
		if st.Late.Over {
			what = s.Say("stand.over")
		}
		late = s.Say("stand.late", "by", s.late(st.Late.By), "what", what)
	}
	if st.Dose && !st.Sure && (st.Why == "" || st.Late != nil) {
		sure = s.Say("stand.unconfirmed")
	}
	why := ""
	if st.Why != "" {
		why = s.Say("stand.unjudged", "why", s.Say("stand.why."+string(st.Why))) //word:prefix stand.why.
	}
	far := ""
	if st.Far {
		far = s.Say("stand.far")
	}
	return join("; ", why, late, far, sure)
}

// unconfirmed puts behind what a rule says that nobody stands for the rule now;
// by is who does.
func (s Speaker) unconfirmed(text, by string) string {
	if by != "" {
		return text
	}
	return s.noted(text, s.Say("stand.unconfirmed-now"))
}

// noted puts a note behind a text.
func (s Speaker) noted(text, note string) string {
	if note == "" {
		return text
	}
	return s.Say("stand.noted", "entry", text, "note", note)
}

// Stands gives how the doses of a case stand to the rules: a function of an
// entry and one of its versions.
func (c *Companion) Stands(ctx context.Context, cs *Case) func(*timeline.Entry, *timeline.Version) (Stand, error) {
	return func(e *timeline.Entry, v *timeline.Version) (Stand, error) { return c.standOf(ctx, cs, e, v) }
}

// UnjudgedLine is a dose that no rule judged.
type UnjudgedLine struct {
	Entry string
	Text  string // the dose and why
	Needs string // the fact that is wanting and can be asked: weight or age; empty
}

// unjudgedFor is how long a screen says of the last dose that no rule judged it,
// where nothing can mend that (house choice, no source): then the pad has its
// room again, and the record goes on saying it.
const unjudgedFor = 5 * time.Minute

// unjudged gives the doses of which a screen says that no rule judged them: the
// very last dose, and the last before it that wants a weight or an age that is
// still not known.
func (c *Companion) unjudged(ctx context.Context, cs *Case) (all []UnjudgedLine, err error) {
	s := Speaker{c.words}
	newest := true
	for i := len(cs.Entries) - 1; i >= 0; i-- {
		e := cs.Entries[i]
		frozen := frozenOf(e.Now().Payload)
		if !e.In(cs.ID) || frozen == nil {
			continue
		}
		g, ok := c.givenBy(ctx, cs, e.Now())
		if !ok {
			continue
		}
		latest := newest
		newest = false
		if *frozen != nil {
			continue
		}
		rules, err := c.Rules(ctx, g.at)
		if err != nil {
			return nil, err
		}
		_, why := judge(rules, c.asked(ctx, cs, g.at, e.ID), g, "")
		if why == "" {
			continue // it is judged by what became known
		}
		line := UnjudgedLine{Entry: e.ID, Text: s.Say("stand.chip", "entry", s.Entry(e.Now()), "why", s.Say("stand.why."+string(why)))}
		switch {
		case why == UnjudgedWeight || why == UnjudgedAge:
			line.Needs = string(why)
			return append(all, line), nil
		case latest && ago(c.clock.Now().Wall, e.Root().Event.Entered.Wall.Time) <= unjudgedFor:
			all = append(all, line)
		}
	}
	return all, nil
}

// owedLate gives the reasons that come to be owed, or are owed no longer, when
// a weight becomes known: for doses that no rule could judge without one.
func (c *Companion) owedLate(ctx context.Context, t *Tap) ([]Tap, error) {
	p, ok := t.Payload.(*timeline.Facts)
	if !ok || p.Weight.IsZero() && p.Age.IsZero() {
		return nil, nil
	}
	cs, err := c.Case(ctx, t.About)
	if err != nil {
		return nil, err
	}
	if _, again := storedAs(cs, t.ID); again {
		return nil, nil
	}
	now := *cs
	mergeFacts(&now.Facts, p)
	if now.Facts.Weight.IsZero() {
		return nil, nil
	}
	var all []Tap
	for _, e := range cs.Entries {
		frozen := frozenOf(e.Now().Payload)
		if !e.In(cs.ID) || frozen == nil || *frozen != nil {
			continue
		}
		g, ok := c.givenBy(ctx, cs, e.Now())
		if !ok {
			continue
		}
		rules, err := c.Rules(ctx, g.at)
		if err != nil {
			return nil, err
		}
		then := cs.knownAt(e)
		_, why := judge(rules, c.asked(ctx, then, g.at, e.ID), g, "")
		j, ok := c.judgedLate(ctx, rules, &now, then, g, e.ID, why)
		if !ok {
			continue
		}
		debt := Tap{ID: derived(e.ID, "over-limit-late"), Scope: timeline.ScopeCase, About: cs.ID, At: t.At,
			Payload: &timeline.Owed{Act: term.OwedActOwed, For: term.OwedOverLimit, Over: e.ID}}
		over, open := len(j.verdict.Exceeds) > 0, cs.openDebt(e.ID)
		switch {
		case over && open == nil && cs.Story.Find(debt.ID) == nil:
			all = append(all, debt)
		case !over && open != nil:
			debt.ID = derived(t.ID, "over-limit "+e.ID)
			debt.Payload = &timeline.Owed{Act: term.OwedActGiven, For: term.OwedOverLimit, Over: e.ID, Debt: open.ID}
			all = append(all, debt)
		}
	}
	return all, nil
}
