package patient

import (
	"chinlift/core/exact"
	"chinlift/core/quantity"
	"chinlift/core/term"
)

// Patient is what is known. Absent means not known; each rule says what it
// needs.
type Patient struct {
	Age       quantity.Amount // a duration; 0 d to 120 years
	Sex       term.Sex        // empty is as unknown
	Weight    quantity.Amount // a mass; 0.3 to 400 kg
	WeightBy  term.WeightBy   // how the weight was come by
	Length    quantity.Amount // 20 to 250 cm, lying or standing
	Premature bool            // born before 37 weeks; counts in the first 28 days
}

// What no patient exceeds. Not published limits: they are to catch a slip of
// the hand. The record takes the same.
const (
	weightLow, weightHigh = "0.3", "400" // kg
	lengthLow, lengthHigh = "20", "250"  // cm
	ageHigh               = "120"        // years
)

func (p Patient) weight() (*exact.Number, error) {
	return Read("weight", p.Weight, quantity.Kg, weightLow, weightHigh)
}

func (p Patient) length() (*exact.Number, error) {
	return Read("length", p.Length, quantity.Cm, lengthLow, lengthHigh)
}

// sized gives weight and length, for a rule that needs both.
func (p Patient) sized(a *Answer) (w, l *exact.Number, err error) {
	if w, err = p.weighed(a); err != nil {
		return nil, nil, err
	}
	l, err = p.length()
	return w, l, err
}

func (p Patient) years() (*exact.Number, error) {
	return Read("age", p.Age, quantity.Year, "0", ageHigh)
}

// sex tells a known sex; the error is for a code that is none.
func (p Patient) sex() (sex term.Sex, err error) {
	if p.Sex == "" {
		return term.SexUnknown, nil
	}
	if !term.SexList.Has(p.Sex) {
		return "", &Error{Field: "sex", Code: UnknownCode, Given: string(p.Sex)}
	}
	return p.Sex, nil
}

// newborn reports the first 28 days (WHO's neonatal period; from memory).
func newborn(years *exact.Number) bool {
	return years.Times(exact.Of("365.25")).Cmp(exact.Whole(28)) < 0
}

func under(years *exact.Number, limit int64) bool { return years.Cmp(exact.Whole(limit)) < 0 }

// weighed reads the weight for a rule that goes by it, says in the answer how it
// was come by, and looks whether it can be right for the age.
func (p Patient) weighed(a *Answer) (*exact.Number, error) {
	w, err := p.weight()
	if err != nil {
		return nil, err
	}
	if err := p.others(); err != nil {
		return nil, err
	}
	a.beware(Estimate)
	switch p.WeightBy {
	case term.WeightByScale:
	case term.WeightByLengthTape:
		a.assume(WeightFromLength)
		a.beware(WeighIfPossible)
	case term.WeightByAgeFormula:
		a.assume(WeightFromAge)
		a.beware(WeighIfPossible)
	case term.WeightByRelativeSaid:
		a.assume(WeightSaid)
	case term.WeightByEye:
		a.assume(WeightByEye)
		a.beware(WeighIfPossible)
	case "":
		a.assume(WeightUnexplained)
	default:
		return nil, &Error{Field: "weight_by", Code: UnknownCode, Given: string(p.WeightBy)}
	}
	// A factor of two, because a pound is 0.45 kg. From memory: the 3rd and 97th
	// centiles of children lie within it.
	if !p.Age.IsZero() {
		y, err := p.years()
		if err != nil {
			return nil, err
		}
		if kg, _, ok := byAge(y); ok && (w.Cmp(kg.Times(exact.Whole(2))) > 0 || w.Times(exact.Whole(2)).Cmp(kg) < 0) {
			a.beware(WeightFarFromAge)
		}
	}
	if index, ok := p.massIndex(); ok && index.Cmp(exact.Whole(30)) >= 0 {
		a.beware(Obese)
	}
	return w, nil
}

// others refuses what cannot be true though the rule may not need it: who
// entered an age of -3 or a length of 900 cm has not entered this patient.
func (p Patient) others() error {
	if !p.Age.IsZero() {
		if _, err := p.years(); err != nil {
			return err
		}
	}
	if !p.Length.IsZero() {
		if _, err := p.length(); err != nil {
			return err
		}
	}
	_, err := p.sex()
	return err
}

// massIndex gives kg/m2 where weight and length are known.
func (p Patient) massIndex() (*exact.Number, bool) {
	w, err := p.weight()
	if err != nil {
		return nil, false
	}
	l, err := p.length()
	if err != nil {
		return nil, false
	}
	m := l.Over(exact.Whole(100))
	return w.Over(m.Times(m)), true
}

// RuleWeight is the rule of a weight as it was entered.
const RuleWeight Rule = "weight-entered"

// Weight gives the weight as it was entered, in kg, with what is to be said of
// it: how it was come by, and whether it can be right. It is for whoever goes
// by weight and is no rule of this package. It needs the weight.
func Weight(p Patient) (Answer, error) {
	a := Answer{Rule: RuleWeight}
	w, err := p.weighed(&a)
	if err != nil {
		return Answer{}, err
	}
	a.Value = w.Amount(exact.Places, quantity.Kg)
	return a, nil
}

// RuleMassIndex is the rule of MassIndex.
const RuleMassIndex Rule = "mass-index"

// MassIndex gives the body mass index in kg/m2, to a tenth. It needs weight
// and length. Source: A. Keys et al., Indices of relative weight and obesity,
// J Chronic Dis 1972;25:329, from memory.
func MassIndex(p Patient) (Answer, error) {
	a := Answer{Rule: RuleMassIndex, Sources: []Source{keys}}
	w, l, err := p.sized(&a)
	if err != nil {
		return Answer{}, err
	}
	a.beware(ConfirmLocally)
	index := a.stepMassIndex(w, l)
	a.Value = index.Amount(1, quantity.MustUnit("kg/m2"))
	return a, nil
}

// stepMassIndex gives kg/m2 of kg and cm, and shows the step.
func (a *Answer) stepMassIndex(kg, cm *exact.Number) *exact.Number {
	m := cm.Over(exact.Whole(100))
	index := kg.Over(m.Times(m))
	a.step("mass-index", named("weight", kg, quantity.Kg), named("length", m, quantity.M), named("gives", index, quantity.MustUnit("kg/m2")))
	return index
}

var keys = Source{Author: "A. Keys and others", Title: "Indices of relative weight and obesity, J Chronic Dis 25:329", Year: 1972, Table: "weight / length squared", Mark: term.MarkMemory}
