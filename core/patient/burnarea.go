package patient

import (
	"chinlift/core/exact"
	"chinlift/core/quantity"
	"chinlift/core/term"
)

var lundBrowder = Source{Author: "C. C. Lund, N. C. Browder", Title: "The estimation of areas of burns, Surg Gynecol Obstet 79:352", Year: 1944, Table: "% of the surface by part and age", Mark: term.MarkMemory}

// Part is a part of the body in the chart of burns. Limbs count both sides
// together, as do front and back.
type Part string

// The parts.
const (
	Head     Part = "head"
	Neck     Part = "neck"
	Trunk    Part = "trunk"
	UpperArm Part = "upper-arms"
	Forearm  Part = "forearms"
	Hand     Part = "hands"
	Buttock  Part = "buttocks"
	Genitals Part = "genitals"
	Thigh    Part = "thighs"
	LowerLeg Part = "lower-legs"
	Foot     Part = "feet"
)

// Parts lists them from above.
var Parts = []Part{Head, Neck, Trunk, UpperArm, Forearm, Hand, Buttock, Genitals, Thigh, LowerLeg, Foot}

// same are the parts whose share is the same at every age, in %. Source:
// lundBrowder.
var same = map[Part]int64{Neck: 2, Trunk: 26, UpperArm: 8, Forearm: 6, Hand: 5, Buttock: 5, Genitals: 1, Foot: 7}

// growing are the others, from the birthday on. Source: lundBrowder.
var growing = []struct{ from, head, thigh, leg int64 }{
	{0, 19, 11, 10}, {1, 17, 13, 10}, {5, 13, 16, 11}, {10, 11, 17, 12}, {15, 9, 18, 13}, {18, 7, 19, 14},
}

// RuleBurnArea is the rule of BurnArea.
const RuleBurnArea Rule = "burn-area-lund-browder"

// BurnArea gives the burned share of the surface in %, to a half, by age and by
// the share, in %, of each part that is burned; redness alone does not count.
// It needs the age. Source: lundBrowder; an adult is 18 by common practice.
func BurnArea(p Patient, burned map[Part]quantity.Amount) (Answer, error) {
	y, err := p.years()
	if err != nil {
		return Answer{}, err
	}
	if err := p.others(); err != nil {
		return Answer{}, err
	}
	for part := range burned {
		if _, ok := sharesAt(y)[part]; !ok {
			return Answer{}, &Error{Field: "part", Code: UnknownCode, Given: string(part)}
		}
	}
	a := Answer{Rule: RuleBurnArea, Sources: []Source{lundBrowder}}
	total := new(exact.Number)
	for _, part := range Parts {
		given, ok := burned[part]
		if !ok {
			continue
		}
		x, err := Read(string(part), given, quantity.Percent, "0", "100")
		if err != nil {
			return Answer{}, err
		}
		share := exact.Whole(sharesAt(y)[part])
		gives := x.Times(share).Over(exact.Whole(100))
		a.step(StepCode("burned-"+part), named("burned", x, quantity.Percent), named("share", share, quantity.Percent), named("gives", gives, quantity.Percent))
		total = total.Plus(gives)
	}
	a.Value = total.Plus(exact.Of("0.25")).Down(exact.Of("0.5")).Amount(1, quantity.Percent)
	a.step("burn-area", named("sum", total, quantity.Percent), Named{"gives", a.Value})
	a.beware(Estimate, ConfirmLocally)
	return a, nil
}

// sharesAt gives the share of each part, in %, at an age.
func sharesAt(years *exact.Number) map[Part]int64 {
	m := make(map[Part]int64, len(Parts))
	for part, share := range same {
		m[part] = share
	}
	for _, g := range growing {
		if !under(years, g.from) {
			m[Head], m[Thigh], m[LowerLeg] = g.head, g.thigh, g.leg
		}
	}
	return m
}
