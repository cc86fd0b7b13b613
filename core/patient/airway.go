package patient

import (
	"chinlift/core/exact"
	"chinlift/core/quantity"
	"chinlift/core/term"
)

var (
	tubeRules = Source{
		Title: "tracheal tube by age: uncuffed age/4 + 4 over 1 year, cuffed age/4 + 3.5 over 2 years; oral length age/2 + 12, nasal age/2 + 15 cm; uncuffed: preterm 2.5, newborn 3.0-3.5, under 1 year 3.5-4.0; cuffed: 3.0 (3.5 kg and over, under 1 year), 3.5 (1-2 years); oral length: newborn 9.5 or kg + 6, 1 year 12, 3 x inner diameter",
		Table: "formulas and sizes", Via: "guideline of a children's hospital; others agree", Mark: term.MarkRead,
	}
	khine      = Source{Author: "H. H. Khine and others", Title: "Comparison of cuffed and uncuffed endotracheal tubes in young children during general anesthesia, Anesthesiology 86:627", Year: 1997, Table: "cuffed: age/4 + 3", Mark: term.MarkMemory}
	maskSource = Source{Title: "laryngeal mask by weight: 1 under 5, 1.5 5-10, 2 10-20, 2.5 20-30, 3 30-50, 4 50-70, 5 70-100 kg", Mark: term.MarkMemory}
)

// The rules of tubes and airways.
const (
	RuleTubeUncuffed      Rule = "tube-uncuffed"
	RuleTubeUncuffedTable Rule = "tube-uncuffed-table"
	RuleTubeCuffed        Rule = "tube-cuffed"
	RuleTubeCuffedTable   Rule = "tube-cuffed-table"
	RuleTubeOral          Rule = "tube-oral"
	RuleTubeOralNewborn   Rule = "tube-oral-newborn"
	RuleTubeOralWeight    Rule = "tube-oral-weight"
	RuleTubeOralTriple    Rule = "tube-oral-triple"
	RuleTubeNasal         Rule = "tube-nasal"
	RuleMask              Rule = "mask-by-weight"
)

// Tube is a set of tracheal tubes for a child: inner diameters in mm, lengths
// at the lips and the nostril in cm. What no rule covers is absent.
type Tube struct {
	Uncuffed, Cuffed Answer
	Oral, Nasal      Answer
}

// TubeForAge gives the tubes from birth to the sixteenth birthday. From the
// first birthday they go by completed years, rounded down to half a
// millimetre; from the second the range of the cuffed tube spans two formulas.
// Before the first birthday the smaller of the published sizes stands; a
// cuffed tube is named from 3.5 kg, and for a newborn only where it was
// weighed. A newborn's length at the lips goes by its weight where that is
// known. It needs the age. Source: tubeRules, khine.
func TubeForAge(p Patient) (Tube, error) {
	y, err := p.years()
	if err != nil {
		return Tube{}, err
	}
	if err := p.others(); err != nil {
		return Tube{}, err
	}
	if !under(y, 16) {
		return Tube{}, &Error{"age", NoRule, p.Age.String(), "0 a", "15 a"}
	}
	if under(y, 1) {
		return p.tubeInfant(y)
	}
	n := y.Floor()
	years := named("years", n, quantity.One)
	quarter, half := n.Over(exact.Whole(4)), n.Over(exact.Whole(2))
	t := Tube{
		Uncuffed: tube(RuleTubeUncuffed, quarter.Plus(exact.Whole(4)).Down(exact.Of("0.5")), quantity.Mm, years),
		Oral:     tube(RuleTubeOral, half.Plus(exact.Whole(12)), quantity.Cm, years),
		Nasal:    tube(RuleTubeNasal, half.Plus(exact.Whole(15)), quantity.Cm, years),
	}
	for _, a := range []*Answer{&t.Uncuffed, &t.Oral, &t.Nasal} {
		a.assume(AgeCompleted)
	}
	if under(y, 2) {
		t.Cuffed = tube(RuleTubeCuffedTable, exact.Of("3.5"), quantity.Mm)
		// The table has 12 cm at the first birthday, the formula 12.5.
		t.Oral.Low, t.Oral.High = exact.Whole(12).Amount(1, quantity.Cm), t.Oral.Value
		return t, nil
	}
	t.Cuffed = tube(RuleTubeCuffed, quarter.Plus(exact.Of("3.5")).Down(exact.Of("0.5")), quantity.Mm, years)
	t.Cuffed.assume(AgeCompleted)
	t.Cuffed.Low, t.Cuffed.High = quarter.Plus(exact.Whole(3)).Down(exact.Of("0.5")).Amount(1, quantity.Mm), t.Cuffed.Value
	t.Cuffed.Sources = append(t.Cuffed.Sources, khine)
	return t, nil
}

// tube makes the answer of one rule.
func tube(rule Rule, x *exact.Number, u quantity.Unit, from ...Named) Answer {
	a := Answer{Rule: rule, Value: x.Amount(1, u), Sources: []Source{tubeRules}}
	a.step(StepCode(rule), append(from, Named{"gives", a.Value})...)
	a.beware(Estimate)
	if u == quantity.Cm {
		a.beware(CheckDepth)
	} else {
		a.beware(SizesEitherSide)
	}
	return a
}

// tubeInfant gives the tubes before the first birthday.
func (p Patient) tubeInfant(y *exact.Number) (t Tube, err error) {
	var kg *exact.Number // unknown
	var told Answer
	if !p.Weight.IsZero() {
		if kg, err = p.weighed(&told); err != nil {
			return Tube{}, err
		}
	}
	size, top := "3.5", "4"
	switch {
	case newborn(y) && p.Premature:
		size, top = "2.5", ""
	case newborn(y):
		size, top = "3", "3.5"
	}
	t.Uncuffed = tube(RuleTubeUncuffedTable, exact.Of(size), quantity.Mm)
	if top != "" {
		t.Uncuffed.Low, t.Uncuffed.High = t.Uncuffed.Value, exact.Written(top, quantity.Mm)
		t.Uncuffed.assume(LowerOfRange)
	}
	switch {
	case kg != nil && kg.Cmp(exact.Of("3.5")) >= 0:
		t.Cuffed = tube(RuleTubeCuffedTable, exact.Whole(3), quantity.Mm)
	case kg == nil && !newborn(y):
		t.Cuffed = tube(RuleTubeCuffedTable, exact.Whole(3), quantity.Mm)
		t.Cuffed.assume(WeightFromAge)
	}
	switch {
	case newborn(y) && kg != nil:
		t.Oral = tube(RuleTubeOralWeight, kg.Plus(exact.Whole(6)), quantity.Cm, named("weight", kg, quantity.Kg))
		t.Oral.assume(told.Assumptions...)
		t.Oral.beware(told.Cautions...)
	case newborn(y) && !p.Premature:
		t.Oral = tube(RuleTubeOralNewborn, exact.Of("9.5"), quantity.Cm)
	default:
		triple := func(of string) *exact.Number { return exact.Whole(3).Times(exact.Of(of)) }
		t.Oral = tube(RuleTubeOralTriple, triple(size), quantity.Cm, Named{"size", t.Uncuffed.Value})
		if top != "" {
			t.Oral.Low, t.Oral.High = t.Oral.Value, triple(top).Amount(1, quantity.Cm)
		}
	}
	return t, nil
}

// MaskSize gives the size of a laryngeal mask by weight. Where the table names
// two sizes at one weight, Low and High are both and the value is the larger.
// It needs the weight. Source: maskSource.
func MaskSize(p Patient) (Answer, error) {
	a := Answer{Rule: RuleMask, Sources: []Source{maskSource}}
	w, err := p.weighed(&a)
	if err != nil {
		return Answer{}, err
	}
	a.beware(ConfirmLocally, SizesEitherSide)
	sizes := []struct {
		from int64
		size string
	}{{0, "1"}, {5, "1.5"}, {10, "2"}, {20, "2.5"}, {30, "3"}, {50, "4"}, {70, "5"}}
	for i, s := range sizes {
		if w.Cmp(exact.Whole(s.from)) < 0 {
			break
		}
		a.Value, a.Low, a.High = exact.Written(s.size, quantity.One), quantity.Amount{}, quantity.Amount{}
		if i > 1 && w.Cmp(exact.Whole(s.from)) == 0 {
			a.Low, a.High = exact.Written(sizes[i-1].size, quantity.One), a.Value
			a.assume(RangeTouches)
		}
	}
	if w.Cmp(exact.Whole(100)) > 0 {
		a.beware(BeyondTable)
	}
	a.step("mask-by-weight", named("weight", w, quantity.Kg), Named{"gives", a.Value})
	return a, nil
}
