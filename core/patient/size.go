package patient

import (
	"math"
	"math/big"

	"chinlift/core/quantity"
	"chinlift/core/term"
)

var (
	mosteller      = Source{Author: "R. D. Mosteller", Title: "Simplified calculation of body-surface area, N Engl J Med 317:1098", Year: 1987, Table: "square root of cm x kg / 3600", Mark: Memory}
	devine         = Source{Author: "B. J. Devine", Title: "Gentamicin therapy, Drug Intell Clin Pharm 8:650", Year: 1974, Table: "50 (women 45.5) kg + 2.3 kg for each inch over 5 feet", Mark: Memory}
	janmahasatian  = Source{Author: "S. Janmahasatian and others", Title: "Quantification of lean bodyweight, Clin Pharmacokinet 44:1051", Year: 2005, Table: "9270 W / (6680 + 216 BMI); women 9270 W / (8780 + 244 BMI)", Mark: Memory}
	adjustedSource = Source{Title: "ideal weight + 0.4 x (weight - ideal weight)", Mark: Practice}
)

// Surface gives the body surface in m2, to a hundredth. It needs weight and
// length. Source: mosteller.
func Surface(p Patient) (Answer, error) {
	a := Answer{Rule: "surface-mosteller", Sources: []Source{mosteller}}
	w, err := p.weighed(&a)
	if err != nil {
		return Answer{}, err
	}
	l, err := p.length()
	if err != nil {
		return Answer{}, err
	}
	a.beware(ConfirmLocally)
	a.Value = model(math.Sqrt(float(over(times(w, l), whole(3600)))), 2, quantity.MustUnit("m2"))
	return a, nil
}

// IdealWeight gives the ideal weight of an adult of 5 feet and more, in kg, to
// a tenth. It needs the length. Under 18 years there is no rule here. Source:
// devine.
func IdealWeight(p Patient) (Answer, error) {
	a := Answer{Rule: "ideal-devine", Sources: []Source{devine}}
	kg, err := p.ideal(&a)
	if err != nil {
		return Answer{}, err
	}
	a.beware(Estimate, ConfirmLocally)
	a.Value = amount(kg, 1, quantity.Kg)
	return a, nil
}

func (p Patient) ideal(a *Answer) (*big.Rat, error) {
	sex, err := p.adult(a)
	if err != nil {
		return nil, err
	}
	l, err := p.length()
	if err != nil {
		return nil, err
	}
	inches := minus(over(l, num("2.54")), whole(60))
	if inches.Sign() < 0 {
		return nil, &Error{"length", NoRule, p.Length.String(), "152.4 cm", lengthHigh + " cm"}
	}
	return plus(pick(sex == term.SexMale, whole(50), num("45.5")), times(num("2.3"), inches)), nil
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
	a := Answer{Rule: "adjusted-0.4", Sources: []Source{adjustedSource, devine}}
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
		kg = w
	} else {
		kg = plus(kg, times(num("0.4"), minus(w, kg)))
	}
	a.Value = amount(kg, 1, quantity.Kg)
	return a, nil
}

// LeanWeight gives an adult's lean weight in kg, to a tenth, and never more
// than the weight. It needs weight and length. Source: janmahasatian.
func LeanWeight(p Patient) (Answer, error) {
	a := Answer{Rule: "lean-janmahasatian", Sources: []Source{janmahasatian}}
	w, err := p.weighed(&a)
	if err != nil {
		return Answer{}, err
	}
	sex, err := p.adult(&a)
	if err != nil {
		return Answer{}, err
	}
	if _, err := p.length(); err != nil {
		return Answer{}, err
	}
	index, _ := p.massIndex()
	below := plus(whole(8780), times(whole(244), index))
	if sex == term.SexMale {
		below = plus(whole(6680), times(whole(216), index))
	}
	kg := over(times(whole(9270), w), below)
	a.beware(ConfirmLocally)
	if kg.Cmp(w) > 0 {
		a.assume(ActualWeight)
		a.beware(AdultFormulaExtreme)
		kg = w
	}
	a.Value = amount(kg, 1, quantity.Kg)
	return a, nil
}
