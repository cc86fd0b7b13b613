package patient

import (
	"chinlift/core/exact"
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
	a.Value = rate.Amount(1, quantity.MLPerH)
	return a, nil
}

func (p Patient) maintenance(a *Answer) (*exact.Number, error) {
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
	none, ten := exact.Whole(0), exact.Whole(10)
	first := exact.Min(w, ten)
	next := exact.Max(none, exact.Min(w.Minus(ten), ten))
	rest := exact.Max(none, w.Minus(exact.Whole(20)))
	rate := exact.Whole(4).Times(first).Plus(exact.Whole(2).Times(next)).Plus(rest)
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
	if h.Cmp(exact.Whole(24)) > 0 {
		a.beware(LongFast)
	}
	ml := rate.Times(h)
	a.Value = ml.Amount(0, quantity.ML)
	// Of what is told, so that the hours add up to it.
	ml = exact.Of(a.Value.Value.String())
	quarter := ml.Over(exact.Whole(4))
	a.step("deficit", named("rate", rate, quantity.MLPerH), named("fasted", h, quantity.Hour), Named{"gives", a.Value})
	hours = [3]quantity.Amount{ml.Over(exact.Whole(2)).Amount(2, quantity.ML), quarter.Amount(2, quantity.ML), quarter.Amount(2, quantity.ML)}
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
	small, urine := int64(15), exact.Of("0.5")
	if p.Age.IsZero() {
		a.assume(AdultAssumed)
	} else if y, err := p.years(); err != nil {
		return Burn{}, err
	} else if under(y, 16) {
		small, urine = 10, exact.Whole(1)
		a.beware(ChildBurnMaintain)
	}
	if share.Cmp(exact.Whole(small)) < 0 {
		a.beware(SmallBurn)
	}
	if share.Cmp(exact.Whole(50)) > 0 {
		a.beware(LargeBurn)
	}
	a.assume(TimeFromInjury)
	a.beware(TitrateToUrine)
	unit := w.Times(share)
	day := exact.Whole(4).Times(unit)
	half := day.Over(exact.Whole(2))
	a.Value, a.Low, a.High = day.Amount(0, quantity.ML), exact.Whole(3).Times(unit).Amount(0, quantity.ML), day.Amount(0, quantity.ML)
	kg, percent := named("weight", w, quantity.Kg), named("area", share, quantity.Percent)
	a.step("burn-day", named("factor", exact.Whole(4), quantity.One), kg, percent, Named{"gives", a.Value})
	a.step("burn-day", named("factor", exact.Whole(3), quantity.One), kg, percent, Named{"gives", a.Low})
	urineLow, urineHigh := urine.Times(w), exact.Whole(2).Times(urine).Times(w)
	b := Burn{
		First8: half.Amount(0, quantity.ML), RateAfter: half.Over(exact.Whole(16)).Amount(0, quantity.MLPerH),
		UrineLow: urineLow.Amount(0, quantity.MLPerH), UrineHigh: urineHigh.Amount(0, quantity.MLPerH),
	}
	// In the last half hour of the eight the rate would run off to infinity:
	// from then on the clock no longer sets it.
	if left := exact.Whole(8).Minus(h); left.Cmp(exact.Of("0.5")) >= 0 {
		b.Rate = half.Over(left).Amount(0, quantity.MLPerH)
		a.step("burn-first-8", Named{"half", b.First8}, named("left", left, quantity.Hour), Named{"gives", b.Rate})
	} else {
		a.beware(FirstHalfOver)
	}
	a.step("burn-after", Named{"half", b.First8}, Named{"gives", b.RateAfter})
	a.step("burn-urine", kg, named("low_per_kg", urine, quantity.MLPerKgPerH), named("high_per_kg", exact.Whole(2).Times(urine), quantity.MLPerKgPerH), Named{"low", b.UrineLow}, Named{"high", b.UrineHigh})
	b.Day = a
	return b, nil
}
