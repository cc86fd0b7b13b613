package patient

import (
	"math/big"

	"chinlift/core/quantity"
	"chinlift/core/term"
)

var (
	holliday = Source{Author: "M. A. Holliday, W. E. Segar", Title: "The maintenance need for water in parenteral fluid therapy", Year: 1957, Table: "4 mL/kg/h for the first 10 kg, 2 for the next 10, 1 for each above 20", Via: "a republished table", Mark: term.MarkRead}
	deficit  = Source{Author: "Association of Paediatric Anaesthetists", Title: "fluids in children", Year: 2007, Table: "hours fasted x maintenance; half in the first hour, the rest over the next two", Via: "teaching notes", Mark: term.MarkRead}
	parkland = Source{Title: "Parkland formula: 4 mL/kg for each % of surface burned in 24 h from injury, half in the first 8 h", Table: "4 mL/kg; modified 3 mL/kg; urine 0.5-1 mL/kg/h, of a child 1-2", Via: "United States Army MD0576 and a text of plastic surgery", Mark: term.MarkRead}
)

// The rules of fluids.
const (
	RuleMaintenance Rule = "maintenance-4-2-1"
	RuleDeficit     Rule = "deficit-half-then-quarters"
	RuleParkland    Rule = "burn-parkland"
)

// Maintenance gives the maintenance fluid in mL/h, to a tenth, by 4-2-1. It
// needs the weight. Source: holliday.
func Maintenance(p Patient) (Answer, error) {
	a := Answer{Rule: RuleMaintenance, Sources: []Source{holliday}}
	rate, err := p.maintenance(&a)
	if err != nil {
		return Answer{}, err
	}
	a.Value = amount(rate, 1, quantity.MLPerH)
	return a, nil
}

func (p Patient) maintenance(a *Answer) (*big.Rat, error) {
	w, err := p.weighed(a)
	if err != nil {
		return nil, err
	}
	if !p.Age.IsZero() {
		if y, err := p.years(); err != nil {
			return nil, err
		} else if newborn(y) {
			a.beware(NewbornFluids)
		}
	}
	none, ten := whole(0), whole(10)
	first := lesser(w, ten)
	next := greater(none, lesser(minus(w, ten), ten))
	rest := greater(none, minus(w, whole(20)))
	rate := plus(plus(times(whole(4), first), times(whole(2), next)), rest)
	a.step("maintenance-4-2-1", named("first", first, quantity.Kg), named("next", next, quantity.Kg), named("rest", rest, quantity.Kg), named("gives", rate, quantity.MLPerH))
	return rate, nil
}

// FastingDeficit gives what a fast of so many hours (0 to 72) left wanting, in
// mL, and what of it to give in the first, second and third hour. It needs the
// weight. Source: deficit, holliday.
func FastingDeficit(p Patient, fasted quantity.Amount) (total Answer, hours [3]quantity.Amount, err error) {
	a := Answer{Rule: RuleDeficit, Sources: []Source{deficit, holliday}}
	rate, err := p.maintenance(&a)
	if err != nil {
		return Answer{}, hours, err
	}
	h, err := Read("fasted", fasted, quantity.Hour, "0", "72")
	if err != nil {
		return Answer{}, hours, err
	}
	if h.Cmp(whole(24)) > 0 {
		a.beware(LongFast)
	}
	ml := times(rate, h)
	a.Value = amount(ml, 0, quantity.ML)
	// Of what is told, so that the hours add up to it.
	ml = num(a.Value.Value.String())
	quarter := over(ml, whole(4))
	a.step("deficit", named("rate", rate, quantity.MLPerH), named("fasted", h, quantity.Hour), Named{"gives", a.Value})
	hours = [3]quantity.Amount{amount(over(ml, whole(2)), 2, quantity.ML), amount(quarter, 2, quantity.ML), amount(quarter, 2, quantity.ML)}
	a.step("deficit-half-then-quarters", Named{"total", a.Value}, Named{"first", hours[0]}, Named{"quarter", hours[1]})
	return a, hours, nil
}

// Burn is a plan of resuscitation by Parkland.
type Burn struct {
	Day       Answer          // mL in 24 h from the injury; Low is by 3 mL/kg
	First8    quantity.Amount // mL, half of it
	Rate      quantity.Amount // mL/h for what is left of the first 8 hours; absent when they are over
	RateAfter quantity.Amount // mL/h in the 16 hours then
	// What the urine should come to, mL/h: an adult's by 0.5 to 1 mL/kg/h, a
	// child's, under 16 years, by 1 to 2.
	UrineLow, UrineHigh quantity.Amount
}

// BurnFluid plans the fluid for a burn of so many % of the surface, so long (0
// to 24 h) after the injury. What was given already is not counted. It needs
// the weight. Source: parkland; over 50 % from memory, under 15 % (child 10 %)
// common practice.
func BurnFluid(p Patient, area, since quantity.Amount) (Burn, error) {
	a := Answer{Rule: RuleParkland, Sources: []Source{parkland}}
	w, err := p.weighed(&a)
	if err != nil {
		return Burn{}, err
	}
	share, err := Read("area", area, quantity.Percent, "0", "100")
	if err != nil {
		return Burn{}, err
	}
	h, err := Read("since", since, quantity.Hour, "0", "24")
	if err != nil {
		return Burn{}, err
	}
	small, urine := int64(15), num("0.5")
	if p.Age.IsZero() {
		a.assume(AdultAssumed)
	} else if y, err := p.years(); err != nil {
		return Burn{}, err
	} else if under(y, 16) {
		small, urine = 10, whole(1)
		a.beware(ChildBurnMaintain)
	}
	if share.Cmp(whole(small)) < 0 {
		a.beware(SmallBurn)
	}
	if share.Cmp(whole(50)) > 0 {
		a.beware(LargeBurn)
	}
	a.assume(TimeFromInjury)
	a.beware(TitrateToUrine)
	unit := times(w, share)
	day := times(whole(4), unit)
	half := over(day, whole(2))
	a.Value, a.Low, a.High = amount(day, 0, quantity.ML), amount(times(whole(3), unit), 0, quantity.ML), amount(day, 0, quantity.ML)
	kg, percent := named("weight", w, quantity.Kg), named("area", share, quantity.Percent)
	a.step("burn-day", named("factor", whole(4), quantity.One), kg, percent, Named{"gives", a.Value})
	a.step("burn-day", named("factor", whole(3), quantity.One), kg, percent, Named{"gives", a.Low})
	urineLow, urineHigh := times(urine, w), times(times(whole(2), urine), w)
	b := Burn{
		First8: amount(half, 0, quantity.ML), RateAfter: amount(over(half, whole(16)), 0, quantity.MLPerH),
		UrineLow: amount(urineLow, 0, quantity.MLPerH), UrineHigh: amount(urineHigh, 0, quantity.MLPerH),
	}
	// In the last half hour of the eight the rate would run off to infinity:
	// from then on the clock no longer sets it.
	if left := minus(whole(8), h); left.Cmp(num("0.5")) >= 0 {
		b.Rate = amount(over(half, left), 0, quantity.MLPerH)
		a.step("burn-first-8", Named{"half", b.First8}, named("left", left, quantity.Hour), Named{"gives", b.Rate})
	} else {
		a.beware(FirstHalfOver)
	}
	a.step("burn-after", Named{"half", b.First8}, Named{"gives", b.RateAfter})
	a.step("burn-urine", kg, named("low_per_kg", urine, quantity.MLPerKgPerH), named("high_per_kg", times(whole(2), urine), quantity.MLPerKgPerH), Named{"low", b.UrineLow}, Named{"high", b.UrineHigh})
	b.Day = a
	return b, nil
}
