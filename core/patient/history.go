package patient

import (
	"chinlift/core/exact"
	"chinlift/core/quantity"
	"chinlift/core/term"
)

// The old rules that made a child's dose a part of an adult's. They stand here
// so that an old book or case sheet can be understood. No dose is worked out
// with them: a child is dosed by weight.
var (
	youngRule   = Source{Author: "Young", Title: "Young's rule of a child's dose", Table: "age / (age + 12), in years", Mark: term.MarkMemory}
	clarkRule   = Source{Author: "Clark", Title: "Clark's rule of a child's dose", Table: "weight in pounds / 150", Mark: term.MarkMemory}
	friedRule   = Source{Author: "Fried", Title: "Fried's rule of an infant's dose", Table: "age in months / 150", Mark: term.MarkMemory}
	cowlingRule = Source{Author: "Cowling", Title: "Cowling's rule of a child's dose", Table: "age at the next birthday / 24", Mark: term.MarkMemory}
)

// The rules of history.
const (
	HistoryYoung   Rule = "history-young"
	HistoryClark   Rule = "history-clark"
	HistoryFried   Rule = "history-fried"
	HistoryCowling Rule = "history-cowling"
)

// HistoryShare gives what part of an adult's dose an old rule allowed a child,
// as a number from 0 to 1 with four decimals: by Young from 1 to 12 years, by
// Clark up to 150 lb, by Fried under 2 years, by Cowling under 18. It is
// history, and no suggestion. Clark needs the weight, the others the age, which
// Young takes in completed years, Fried in completed months. Source:
// youngRule, clarkRule, friedRule, cowlingRule; the bounds are from memory too.
func HistoryShare(p Patient, rule Rule) (Answer, error) {
	a := Answer{Rule: rule}
	a.beware(Estimate, HistoryOnly)
	if rule == HistoryClark {
		w, err := p.weighed(&a)
		if err != nil {
			return Answer{}, err
		}
		if w.Cmp(exact.Of("68.0388555")) > 0 { // 150 lb
			return Answer{}, &Error{"weight", NoRule, p.Weight.String(), weightLow + " kg", "150 [lb_av]"}
		}
		lb := w.Over(exact.Of("0.45359237"))
		a.Sources = []Source{clarkRule}
		a.share(named("weight", lb, quantity.Pound), lb.Over(exact.Whole(150)))
		return a, nil
	}
	y, err := p.years()
	if err != nil {
		return Answer{}, err
	}
	if err := p.others(); err != nil {
		return Answer{}, err
	}
	a.assume(AgeCompleted)
	n := y.Floor()
	outside := func(low, high string) (Answer, error) {
		return Answer{}, &Error{"age", NoRule, p.Age.String(), low, high}
	}
	switch rule {
	case HistoryYoung:
		if under(y, 1) || !under(y, 13) {
			return outside("1 a", "12 a")
		}
		a.Sources = []Source{youngRule}
		a.share(named("age", n, quantity.One), n.Over(n.Plus(exact.Whole(12))))
	case HistoryFried:
		if !under(y, 2) {
			return outside("0 mo", "23 mo")
		}
		months := completedMonths(y)
		a.Sources = []Source{friedRule}
		a.share(named("age", months, quantity.One), months.Over(exact.Whole(150)))
	case HistoryCowling:
		if !under(y, 18) {
			return outside("0 a", "17 a")
		}
		next := n.Plus(exact.Whole(1))
		a.Sources = []Source{cowlingRule}
		a.share(named("age", next, quantity.One), next.Over(exact.Whole(24)))
	default:
		return Answer{}, &Error{Field: "rule", Code: UnknownCode, Given: string(rule)}
	}
	return a, nil
}

// share puts the part into the answer, and shows the step.
func (a *Answer) share(from Named, part *exact.Number) {
	a.Value = part.Amount(4, quantity.One)
	a.step(StepCode(a.Rule), from, Named{"gives", a.Value})
}
