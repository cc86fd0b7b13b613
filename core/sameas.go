package core

import (
	"context"
	"slices"
	"time"

	"chinlift/core/formulary"
	"chinlift/core/timeline"
)

// A patient who comes back to the table has two cases. Nothing joins them but
// somebody who says so: then what was given in the one counts in the totals of
// the other. Each case says it of the other; a link that one side has struck is
// none.

// patientWithin is how far back doses of another case of the same patient count
// (house choice, no source): the longest time that a total of the rules that
// come with the companion looks back over.
const patientWithin = 24 * time.Hour

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
// this device, and the ids of those that are not.
func (c *Companion) sameAs(ctx context.Context, cs *Case) (others []*Case, missing []string) {
	seen := []string{cs.ID}
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

// givenElsewhere gives what the patient of a case had in other cases, by a time
// and within patientWithin before it.
func (c *Companion) givenElsewhere(ctx context.Context, cs *Case, at, until time.Time) []formulary.Given {
	others, _ := c.sameAs(ctx, cs)
	var all []formulary.Given
	from := at.Add(-patientWithin)
	for _, o := range others {
		for e, p := range timeline.Each[*timeline.Drug](o.Entries, o.ID) {
			if t := e.Now().At.Time; !t.After(until) && t.After(from) {
				all = append(all, givenOf(p, t, at))
			}
		}
		all = append(all, o.infused(at, until, "", from, c.givingSet(ctx, at))...)
	}
	return all
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
