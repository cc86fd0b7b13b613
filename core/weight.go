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

// WeightDoubt is a weight that is over twice or under half of what the age
// suggests, and that nobody has looked at again: what goes by it says so before
// its number. No dose is refused for it.
type WeightDoubt struct {
	Case, For string
	Text      string // the weight, the age, and what it may have been
	Short     string // the weight with a question mark, before a number
	Words     string // the weight with its unit
	Checked   string // the fields of the entry that it was looked at again: its number
	Unit      string // and its unit
	Kg        string // the number in kg if it was written down in pounds; empty: then it would be no better
	KgWords   string
	How, By   string // how the weight was come by: that stays with the unit mended
}

// doubted gives a weight that is to be looked at again, or nil. checked is
// whether somebody has looked.
func (s Speaker) doubted(cs *Case) (d *WeightDoubt, checked bool) {
	f := &cs.Facts
	if !farFromAge(f, f.Weight) {
		return nil, false
	}
	if n, err := f.WeightChecked.Cmp(f.Weight); err == nil && n == 0 {
		return nil, true
	}
	d = &WeightDoubt{Case: cs.ID, For: cs.For(s), Words: s.Amount(f.Weight), Checked: f.Weight.Value.String(), Unit: f.Weight.Unit.String(), How: string(f.WeightHow), By: string(f.WeightBy)}
	d.Short = s.Say("dose.doubt-short", "weight", d.Words)
	d.Text = s.Say("dose.doubt", "weight", d.Words, "age", s.Age(f.Age))
	// A number in pounds that was taken for one in kg.
	pounds := quantity.Amount{Value: f.Weight.Value, Unit: quantity.MustUnit("[lb_av]")}
	if kg, err := pounds.In(quantity.Kg); err == nil && f.Weight.Unit == quantity.Kg && !farFromAge(f, kg) {
		kg = kg.Round(1)
		d.Kg, d.KgWords = kg.Value.String(), s.Amount(kg)
		d.Text = s.Say("dose.doubt-pounds", "weight", d.Words, "age", s.Age(f.Age), "kg", d.KgWords)
	}
	return d, false
}

// farFromAge reports that a weight is over twice or under half of what the age
// suggests.
func farFromAge(f *timeline.Facts, weight quantity.Amount) bool {
	p := patientOf(f)
	p.Weight = weight
	a, err := patient.Weight(p)
	return err == nil && slices.Contains(a.Cautions, patient.WeightFarFromAge)
}

// Doubt gives a weight that is to be looked at again; nil: there is none.
func (c *Companion) Doubt(cs *Case) *WeightDoubt {
	d, _ := Speaker{c.words}.doubted(cs)
	return d
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
