package core

import (
	"slices"

	"chinlift/core/patient"
	"chinlift/core/quantity"
	"chinlift/core/term"
	"chinlift/core/timeline"
)

// patientOf is what package patient reckons with.
func patientOf(f *timeline.Facts) patient.Patient {
	return patient.Patient{Age: f.Age, Sex: f.Sex, Weight: f.Weight, WeightBy: f.WeightBy, Length: f.Length, Premature: f.Premature == timeline.Yes}
}

// asksWasted reports whether a child is small enough for a guess by age or
// length to go wrong by wasting, and nobody has asked: under 5 years, the ages
// that tables of wasting are for (WHO, Child Growth Standards, 2006, from
// memory).
func asksWasted(f *timeline.Facts) bool {
	if f.Age.IsZero() || slices.Contains(f.With, term.ConditionWasted) || slices.Contains(f.Without, term.ConditionWasted) {
		return false
	}
	n, err := f.Age.Cmp(quantity.MustParse("5 a"))
	return err == nil && n < 0
}

// AsksWasted says whether the page of the weight asks if the child is wasted.
func (c *Companion) AsksWasted(cs *Case) bool { return asksWasted(&cs.Facts) }

// WeightGuess is a weight that a rule gives for a child whom nobody could
// weigh. It is offered, and recorded as guessed.
type WeightGuess struct {
	Kg       string   // for the form
	Words    string   // with unit
	Span     string   // what the sources span
	By       string   // a code of term.WeightByList
	ByWords  string   //
	Cautions []string // in words
}

// WeightGuesses gives the weights by length and by age, by length first: it
// tells a thin child from a stout one, which an age cannot. None for an adult.
func (c *Companion) WeightGuesses(cs *Case) []WeightGuess {
	s, p := Speaker{c.words}, patientOf(&cs.Facts)
	if !p.Age.IsZero() {
		if n, err := p.Age.Cmp(quantity.MustParse("13 a")); err != nil || n >= 0 {
			return nil
		}
	}
	var all []WeightGuess
	add := func(a patient.Answer, err error, by term.WeightBy) {
		if err != nil {
			return // no rule for this age or length
		}
		g := WeightGuess{Kg: a.Value.Value.String(), Words: s.Amount(a.Value), By: string(by), ByWords: Code(s, term.WeightByList, by)}
		if !a.Low.IsZero() {
			g.Span = s.Say("visit.guess-span", "low", s.Amount(a.Low), "high", s.Amount(a.High))
		}
		for _, x := range a.Cautions {
			g.Cautions = append(g.Cautions, s.Say("patient.caution."+string(x))) //word:prefix patient.caution.
		}
		all = append(all, g)
	}
	if !p.Length.IsZero() {
		a, err := patient.WeightForLength(p)
		add(a, err, term.WeightByLengthTape)
	}
	if !p.Age.IsZero() {
		a, err := patient.WeightForAge(p)
		add(a, err, term.WeightByAgeFormula)
	}
	return all
}
