package patient

import (
	"math/big"

	"chinlift/core/quantity"
)

var (
	tubeRules  = Source{Title: "tracheal tube by age: uncuffed age/4 + 4 over 1 year, cuffed age/4 + 3.5 over 2 years; oral length age/2 + 12, nasal age/2 + 15 cm; newborn 3.0-3.5, under 1 year 3.5-4.0 uncuffed; cuffed 3.0 (3.5 kg and over, under 1 year), 3.5 (1-2 years)", Table: "formulas", Via: "guideline of a children's hospital; others agree", Mark: Read}
	maskSource = Source{Title: "laryngeal mask by weight: 1 under 5, 1.5 5-10, 2 10-20, 2.5 20-30, 3 30-50, 4 50-70, 5 70-100 kg", Mark: Memory}
)

// Tube is a set of tracheal tubes for a child: inner diameters in mm, lengths
// at the lips and the nostril in cm. What no rule covers is absent.
type Tube struct {
	Uncuffed, Cuffed Answer
	Oral, Nasal      Answer
}

// TubeForAge gives the tubes from the first to the sixteenth birthday, by
// completed years, rounded down to half a millimetre. From 1 to 2 years the
// cuffed tube is 3.5. It needs the age. Source:
// tubeRules.
func TubeForAge(p Patient) (Tube, error) {
	y, err := p.years()
	if err != nil {
		return Tube{}, err
	}
	if err := p.others(); err != nil {
		return Tube{}, err
	}
	if under(y, 1) || !under(y, 16) {
		return Tube{}, &Error{"age", NoRule, p.Age.String(), "1 a", "15 a"}
	}
	n := floor(y)
	of := func(rule Rule, x *big.Rat, u quantity.Unit, c ...Caution) Answer {
		a := Answer{Rule: rule, Value: amount(down(x, num("0.5")), 1, u), Sources: []Source{tubeRules}}
		a.assume(AgeCompleted)
		a.beware(Estimate)
		a.beware(c...)
		return a
	}
	quarter, half := over(n, whole(4)), over(n, whole(2))
	cuffed := num("3.5")
	if !under(y, 2) {
		cuffed = plus(quarter, cuffed)
	}
	return Tube{
		Uncuffed: of("tube-uncuffed", plus(quarter, whole(4)), quantity.Mm, SizesEitherSide),
		Cuffed:   of("tube-cuffed", cuffed, quantity.Mm, SizesEitherSide),
		Oral:     of("tube-oral", plus(half, whole(12)), quantity.Cm, CheckDepth),
		Nasal:    of("tube-nasal", plus(half, whole(15)), quantity.Cm, CheckDepth),
	}, nil
}

// MaskSize gives the size of a laryngeal mask by weight. Where the table names
// two sizes at one weight, Low and High are both and the value is the larger.
// It needs the weight. Source: maskSource.
func MaskSize(p Patient) (Answer, error) {
	a := Answer{Rule: "mask-by-weight", Sources: []Source{maskSource}}
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
		if w.Cmp(whole(s.from)) < 0 {
			break
		}
		a.Value, a.Low, a.High = written(s.size, quantity.One), quantity.Amount{}, quantity.Amount{}
		if i > 1 && w.Cmp(whole(s.from)) == 0 {
			a.Low, a.High = written(sizes[i-1].size, quantity.One), a.Value
			a.assume(RangeTouches)
		}
	}
	if w.Cmp(whole(100)) > 0 {
		a.beware(BeyondTable)
	}
	return a, nil
}
