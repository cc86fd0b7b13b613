package core

import (
	"chinlift/core/quantity"
	"chinlift/core/term"
	"chinlift/core/timeline"
	"chinlift/core/visit"
)

// usualOf gives the usual range of a measure for a patient's age, where there
// is a published one. Every limit that a screen shows is one of these.
func usualOf(l *visit.Limits, name string) (visit.Limit, bool) {
	switch name {
	case "breaths":
		return l.Breaths, true
	case "pulse":
		return l.Pulse, true
	case "systolic":
		return l.Systolic, true
	}
	return visit.Limit{}, false
}

// limits gives the limits by age; ok is false where what is known of the
// patient cannot be.
func (cs *Case) limits() (visit.Limits, bool) {
	l, err := visit.LimitsFor(patientOf(&cs.Facts))
	return l, err == nil
}

// usual writes the usual range of a measure for a child, or "". An adult's
// ranges are values without points in a score, up to a systolic of 219: beside
// a key that records they would be read as usual.
func (s Speaker) usual(l *visit.Limits, name string) string {
	r, ok := usualOf(l, name)
	if !ok || l.Adult() {
		return ""
	}
	return s.Say("limits.usual", "low", s.Number(r.Low), "high", s.Number(r.High))
}

// LimitsNote says for whom the usual values of a tray are; empty where it
// shows none.
func (c *Companion) LimitsNote(cs *Case) string {
	s := Speaker{c.words}
	l, ok := cs.limits()
	if !ok || l.Adult() {
		return ""
	}
	low := ""
	if !l.Hypotension.Value.IsZero() {
		low = s.Say("limits.low", "n", s.Amount(l.Hypotension.Value))
	}
	return join(" ", s.Say("limits.for", "who", s.Age(cs.Facts.Age)), low)
}

// Limits gives what is usual at a patient's age, with where it comes from.
func (c *Companion) Limits(cs *Case) []Cited {
	s := Speaker{c.words}
	l, ok := cs.limits()
	if !ok {
		return nil
	}
	var all []Cited
	for _, name := range []string{"breaths", "pulse", "systolic"} {
		r, _ := usualOf(&l, name)
		all = append(all, Cited{Text: s.Say("limits.line", "what", s.Say("field."+name), "low", s.Number(r.Low), "high", s.Amount(r.High), "from", s.Number(r.From), "to", s.Amount(r.To)), Source: s.sources(r.Sources)})
	}
	if l.Adult() {
		all = append(all, Cited{Text: s.Say("limits.points")})
	}
	all = append(all, Cited{Text: s.Say("limits.slow", "n", s.Amount(l.SlowPulse.Value)), Source: s.sources(l.SlowPulse.Sources)})
	h := l.Hypotension
	text := s.Say("limits.low", "n", s.Amount(h.Value))
	if !h.Low.IsZero() {
		text = join(" ", text, s.Say("visit.guess-span", "low", s.Amount(h.Low), "high", s.Amount(h.High)))
	}
	all = append(all, Cited{Text: text, Source: s.sources(h.Sources)})
	for _, words := range append(s.cautions(l.Cautions), s.assumptions(l.Assumptions)...) {
		all = append(all, Cited{Text: words})
	}
	return all
}

// restOutOfLimits gives the values at rest that lie beyond what is usual at
// the age.
func (c *Companion) restOutOfLimits(cs *Case) []Cited {
	s := Speaker{c.words}
	l, ok := cs.limits()
	e, b := last[*timeline.Baseline](cs, nil)
	if !ok || e == nil {
		return nil
	}
	var all []Cited
	for _, name := range []string{"systolic", "pulse", "breaths"} {
		r, _ := usualOf(&l, name)
		a := *b.Measures.Named(name)
		if a.IsZero() {
			continue
		}
		n, err := r.Holds(a)
		if err != nil || n == 0 {
			continue
		}
		key := "limits.rest-below"
		if n > 0 {
			key = "limits.rest-above"
		}
		//word:prefix limits.rest-
		all = append(all, Cited{Text: s.Say(key, "what", s.Say("field."+name), "n", s.Amount(a), "low", s.Number(r.Low), "high", s.Amount(r.High)), Source: s.sources(r.Sources)})
	}
	return all
}

// shock gives the shock index of the values at rest, for an adult.
func (s Speaker) shock(cs *Case) []Cited {
	e, b := last[*timeline.Baseline](cs, func(b *timeline.Baseline) bool { return !b.Pulse.IsZero() && !b.Systolic.IsZero() })
	if e == nil {
		return nil
	}
	pressure, err := b.Systolic.In(quantity.MmHg)
	if err != nil {
		return nil
	}
	x, err := visit.ShockIndex(patientOf(&cs.Facts), b.Pulse, pressure.Round(0), cs.Facts.Pregnant == timeline.Yes)
	if err != nil {
		return nil
	}
	return []Cited{{Text: s.Say("visit.shock", "n", s.Number(x.Index.Value), "band", Code(s, term.ShockBandList, x.Band), "low", s.Number(x.Index.Low), "high", s.Number(x.Index.High)), Source: s.sources(x.Index.Sources)}}
}
