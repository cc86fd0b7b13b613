package patient

import (
	"math"

	"chinlift/core/exact"
	"chinlift/core/quantity"
	"chinlift/core/term"
)

var (
	mosteller      = Source{Author: "R. D. Mosteller", Title: "Simplified calculation of body-surface area, N Engl J Med 317:1098", Year: 1987, Table: "square root of cm x kg / 3600", Mark: term.MarkMemory}
	devine         = Source{Author: "B. J. Devine", Title: "Gentamicin therapy, Drug Intell Clin Pharm 8:650", Year: 1974, Table: "50 (women 45.5) kg + 2.3 kg for each inch over 5 feet", Mark: term.MarkMemory}
	janmahasatian  = Source{Author: "S. Janmahasatian and others", Title: "Quantification of lean bodyweight, Clin Pharmacokinet 44:1051", Year: 2005, Table: "9270 W / (6680 + 216 BMI); women 9270 W / (8780 + 244 BMI)", Mark: term.MarkMemory}
	adjustedSource = Source{Title: "ideal weight + 0.4 x (weight - ideal weight)", Mark: term.MarkPractice}
)

// The rules of size.
const (
	RuleSurface        Rule = "surface-mosteller"
	RuleIdealWeight    Rule = "ideal-devine"
	RuleAdjustedWeight Rule = "adjusted-four-tenths"
	RuleLeanWeight     Rule = "lean-janmahasatian"
)

var m2 = quantity.MustUnit("m2")

// Surface gives the body surface in m2, to a hundredth. It needs weight and
// length. Source: mosteller.
func Surface(p Patient) (Answer, error) {
	a := Answer{Rule: RuleSurface, Sources: []Source{mosteller}}
	w, l, err := p.sized(&a)
	if err != nil {
		return Answer{}, err
	}
	a.beware(ConfirmLocally)
	root := math.Sqrt(w.Times(l).Over(exact.Whole(3600)).Float())
	a.step("surface", named("length", l, quantity.Cm), named("weight", w, quantity.Kg), Named{"gives", exact.Model(root, 4, m2)})
	a.Value = exact.Model(root, 2, m2)
	return a, nil
}

// IdealWeight gives the ideal weight of an adult of 5 feet and more, in kg, to
// a tenth. It needs the length. Under 18 years there is no rule here. Source:
// devine.
func IdealWeight(p Patient) (Answer, error) {
	a := Answer{Rule: RuleIdealWeight, Sources: []Source{devine}}
	kg, err := p.ideal(&a)
	if err != nil {
		return Answer{}, err
	}
	a.beware(Estimate, ConfirmLocally)
	a.Value = kg.Amount(1, quantity.Kg)
	return a, nil
}

func (p Patient) ideal(a *Answer) (*exact.Number, error) {
	sex, err := p.adult(a)
	if err != nil {
		return nil, err
	}
	l, err := p.length()
	if err != nil {
		return nil, err
	}
	inches := l.Over(exact.Of("2.54")).Minus(exact.Whole(60))
	if inches.Sign() < 0 {
		return nil, &Error{"length", NoRule, p.Length.String(), "152.4 cm", lengthHigh + " cm"}
	}
	start := exact.Of("45.5")
	if sex == term.SexMale {
		start = exact.Whole(50)
	}
	kg := start.Plus(exact.Of("2.3").Times(inches))
	a.step("inches-over-60", named("length", l, quantity.Cm), named("inches", inches, quantity.MustUnit("[in_i]")))
	a.step("ideal", named("start", start, quantity.Kg), named("inches", inches, quantity.One), named("gives", kg, quantity.Kg))
	return kg, nil
}

// adult refuses the ages that the adult formulas were not made for; an unknown
// sex is taken for a woman, whose values are lower.
func (p Patient) adult(a *Answer) (term.Sex, error) {
	if err := p.others(); err != nil {
		return "", err
	}
	if p.Age.IsZero() {
		a.assume(AdultAssumed)
	} else if y, err := p.years(); err != nil {
		return "", err
	} else if under(y, 18) {
		return "", &Error{"age", NoRule, p.Age.String(), "18 a", ageHigh + " a"}
	}
	sex, err := p.sex()
	if sex == term.SexUnknown {
		a.assume(SexUnknownLower)
	}
	return sex, err
}

// AdjustedWeight gives an adult's ideal weight and four tenths of what the
// patient weighs over it, in kg, to a tenth; the weight itself where it is
// under the ideal. It needs weight and length. Source: adjustedSource, devine.
func AdjustedWeight(p Patient) (Answer, error) {
	a := Answer{Rule: RuleAdjustedWeight, Sources: []Source{adjustedSource, devine}}
	w, err := p.weighed(&a)
	if err != nil {
		return Answer{}, err
	}
	kg, err := p.ideal(&a)
	if err != nil {
		return Answer{}, err
	}
	a.beware(ConfirmLocally)
	if w.Cmp(kg) < 0 {
		a.assume(ActualWeight)
		a.step("weight-stands", named("weight", w, quantity.Kg), named("rule", kg, quantity.Kg))
		kg = w
	} else {
		ideal := kg
		kg = ideal.Plus(exact.Of("0.4").Times(w.Minus(ideal)))
		a.step("adjusted", named("ideal", ideal, quantity.Kg), named("weight", w, quantity.Kg), named("gives", kg, quantity.Kg))
	}
	a.Value = kg.Amount(1, quantity.Kg)
	return a, nil
}

// LeanWeight gives an adult's lean weight in kg, to a tenth, and never more
// than the weight. It needs weight and length. Source: janmahasatian.
func LeanWeight(p Patient) (Answer, error) {
	a := Answer{Rule: RuleLeanWeight, Sources: []Source{janmahasatian}}
	w, err := p.weighed(&a)
	if err != nil {
		return Answer{}, err
	}
	sex, err := p.adult(&a)
	if err != nil {
		return Answer{}, err
	}
	l, err := p.length()
	if err != nil {
		return Answer{}, err
	}
	index := a.stepMassIndex(w, l)
	start, factor := exact.Whole(8780), exact.Whole(244)
	if sex == term.SexMale {
		start, factor = exact.Whole(6680), exact.Whole(216)
	}
	kg := exact.Whole(9270).Times(w).Over(start.Plus(factor.Times(index)))
	a.step("lean", named("weight", w, quantity.Kg), named("start", start, quantity.One), named("factor", factor, quantity.One), named("index", index, quantity.One), named("gives", kg, quantity.Kg))
	a.beware(ConfirmLocally)
	if kg.Cmp(w) > 0 {
		a.assume(ActualWeight)
		a.beware(AdultFormulaExtreme)
		a.step("weight-stands", named("weight", w, quantity.Kg), named("rule", kg, quantity.Kg))
		kg = w
	}
	a.Value = kg.Amount(1, quantity.Kg)
	return a, nil
}
