package formulary

import (
	"slices"

	"chinlift/core/exact"
	"chinlift/core/patient"
	"chinlift/core/quantity"
	"chinlift/core/term"
)

// floorFactor is the least that all reductions together leave of a dose. A
// guard of our own, no source.
const floorFactor = "0.2"

// decimals is how closely an amount of an answer is told. It is cut there,
// never rounded up.
const decimals = 6

// reckoning is one dose being worked out.
type reckoning struct {
	*who
	d     *Drug
	u     *Use
	route term.Route
	dose  *Dose
	m     measure       // of the rule
	unit  quantity.Unit // of the answer
	base  quantity.Unit // that amounts are reckoned in
	by    *exact.Number // the weight that the dose goes by, or nil

	low, high, first *exact.Number // of a single dose; first is where to begin
	fullHigh         *exact.Number // high, neither reduced nor held down
	single           *exact.Number // maximum of a single dose, or nil
	left             *exact.Number // of all totals, or nil
	tallies          []tally       // the totals that limit
	Answer
}

// Reckon answers what of a drug to give for a use. The answer is what the
// rules say, no instruction. The error is an *Error, which names the field.
func (f *Formulary) Reckon(r Request) (Answer, error) {
	x, err := f.begin(r)
	if err != nil {
		return Answer{}, err
	}
	x.suggest()
	if !r.Wish.IsZero() {
		v, err := x.judge(r.Wish, "wish", true)
		if err != nil {
			return Answer{}, err
		}
		x.Wish = &v
	}
	return x.Answer, nil
}

// begin reckons the single dose and what was given before.
func (f *Formulary) begin(r Request) (*reckoning, error) {
	w, err := f.reads(r)
	if err != nil {
		return nil, err
	}
	x := &reckoning{who: w, d: f.Find(r.Drug)}
	switch {
	case x.d == nil:
		return nil, &Error{Field: "drug", Code: Unknown, Given: r.Drug}
	case x.d.Retired:
		return nil, &Error{Field: "drug", Code: Retired, Given: r.Drug}
	}
	if x.u = x.d.Use(r.Use); x.u == nil {
		return nil, &Error{Field: "use", Code: Unknown, Given: r.Use}
	}
	if x.route = r.Route; x.route == "" {
		x.route = x.u.Routes[0]
	}
	if !slices.Contains(x.u.Routes, x.route) {
		return nil, &Error{Field: "route", Code: NotThisWay, Given: string(r.Route)}
	}
	if err := w.askAge(x.d); err != nil {
		return nil, err
	}
	alerts := w.alerts(x.d, x.u, x.route)
	if x.dose, err = w.band(x.u); err != nil {
		var e *Error
		if as(err, &e) {
			e.Alerts = alerts
		}
		return nil, err
	}
	x.m, _ = measureOf(x.dose.Low)
	x.unit = plain(x.dose.Low.Unit)
	x.base = measures[measure{x.m.what, false, x.m.perTime}]
	x.Answer = Answer{
		Drug: x.d.Code, Use: x.u.Code, Route: x.route, Hash: x.u.Hash(), Alerts: alerts, Over: x.u.Over,
		Assumptions: w.assumptions, Cautions: w.cautions,
	}
	if err := x.shelved(); err != nil {
		return nil, err
	}
	if err := x.byRule(); err != nil {
		return nil, err
	}
	x.reduce()
	x.cap()
	if err := x.board(); err != nil {
		return nil, err
	}
	x.wait()
	return x, nil
}

func (x *reckoning) step(code StepCode, of string, source string, values ...Named) {
	x.Steps = append(x.Steps, Step{code, of, values, x.d.Sources[source]})
}

// ranging gives the values of a step that ends with the range.
func (x *reckoning) ranging(by Named) []Named {
	list := []Named{by, {"low", x.tell(x.low)}, {"high", x.tell(x.high)}}
	if !x.dose.Usual.IsZero() && !x.u.Titrate {
		list = append(list, Named{"usual", x.tell(x.first)})
	}
	return list
}

// tell gives an amount of the drug as the answer tells it.
func (x *reckoning) tell(r *exact.Number) quantity.Amount { return tellIn(r, x.base, x.unit) }

// tellCut is tell, in few figures.
func (x *reckoning) tellCut(r *exact.Number) quantity.Amount {
	if x.base == x.unit {
		return x.tell(cut(r))
	}
	of := in(quantity.Amount{Value: quantity.DecimalFromInt(1), Unit: x.unit}, x.base)
	return amountDown(cut(r.Over(of)), decimals, x.unit)
}

// tellIn gives a number of the unit base in another unit.
func tellIn(r *exact.Number, base, unit quantity.Unit) quantity.Amount {
	if base == unit {
		return amountDown(r, decimals, unit)
	}
	return amountDown(r.Over(in(quantity.Amount{Value: quantity.DecimalFromInt(1), Unit: unit}, base)), decimals, unit)
}

func kilograms(r *exact.Number) quantity.Amount { return amountDown(r, 3, quantity.Kg) }

// byRule works out the range by the rule and the weight.
func (x *reckoning) byRule() error {
	d := x.dose
	told := []Named{{"low", d.Low}, {"high", d.High}}
	if !d.Usual.IsZero() && !x.u.Titrate {
		told = append(told, Named{"usual", d.Usual})
	}
	x.step(StepRule, "", d.For("low"), told...)
	byWeight := x.m.perKg || !d.MostPerKg.IsZero()
	if byWeight {
		kg, basis := x.weighs(d.Weight)
		if kg == nil {
			return &Error{Field: "weight", Code: patient.Missing}
		}
		x.by, x.Basis, x.Weight = kg, basis, kilograms(kg)
		actual := Named{"weight", kilograms(x.kg)}
		switch basis {
		case Actual:
			x.step(StepWeight, "", "", actual)
		case Dosing:
			x.step(StepWeightCut, "", "", actual, Named{"ideal", kilograms(x.ideal)}, Named{"used", x.Weight})
		case Ideal:
			x.step(StepWeightIdeal, "", "", actual, Named{"used", x.Weight})
		}
	}
	of := func(a quantity.Amount) *exact.Number {
		r := in(a, measures[x.m])
		if x.m.perKg {
			r = r.Times(x.by)
		}
		return r
	}
	x.low, x.high = of(d.Low), of(d.High)
	x.first = x.low
	if !d.Usual.IsZero() && !x.u.Titrate {
		x.first = of(d.Usual)
	}
	if x.m.perKg {
		x.step(StepPerKg, "", "", x.ranging(Named{"weight", x.Weight})...)
	}
	x.raise()
	x.fullHigh = x.high
	return nil
}

// raise lifts what is under the least dose to it.
func (x *reckoning) raise() {
	if x.dose.Least.IsZero() {
		return
	}
	least := in(x.dose.Least, x.base)
	if x.low.Cmp(least) < 0 {
		x.step(StepLeast, "", x.dose.For("least"), Named{"least", x.tell(least)})
	}
	x.low, x.high, x.first = exact.Max(x.low, least), exact.Max(x.high, least), exact.Max(x.first, least)
}

// reduce applies the reductions; they come before the maxima. A rescue use has
// none.
func (x *reckoning) reduce() {
	factor := exact.Whole(1)
	for i := range x.d.Reduces {
		r := &x.d.Reduces[i]
		if !r.touches(x.u) || !x.meets(x.d, &r.Facts) {
			continue
		}
		factor = factor.Times(exact.Of(r.Factor.String()))
		x.Reductions = append(x.Reductions, Reduction{r.Code, r.Factor, x.d.Sources[r.Source]})
		x.step(StepReduced, r.Code, r.For("factor"), Named{"factor", quantity.Amount{Value: r.Factor, Unit: quantity.One}})
	}
	if len(x.Reductions) == 0 {
		return
	}
	one := func(r *exact.Number) quantity.Amount { return amountDown(r, decimals, quantity.One) }
	if floor := exact.Of(floorFactor); factor.Cmp(floor) < 0 {
		factor = floor
		x.step(StepFloor, "", "", Named{"factor", one(factor)})
	}
	x.Factor = one(factor).Value
	x.low, x.high, x.first = x.low.Times(factor), x.high.Times(factor), x.first.Times(factor)
	x.raise()
	x.step(StepReducedTo, "", "", x.ranging(Named{"factor", one(factor)})...)
}

// maximum gives the maximum of a single dose of a band for a weight, which of
// the rule's limits it is, and whether there is one. ok is false too where it
// goes by a weight that is nil.
func (d *Dose) maximum(kg *exact.Number) (most *exact.Number, which Limit, ok bool) {
	m, _ := measureOf(d.Low)
	if !d.Most.IsZero() {
		most, which = in(d.Most, measures[measure{m.what, false, m.perTime}]), LimitMost
	}
	if !d.MostPerKg.IsZero() {
		if kg == nil {
			return nil, "", false
		}
		byWeight := in(d.MostPerKg, measures[measure{m.what, true, m.perTime}]).Times(kg)
		if most == nil || byWeight.Cmp(most) < 0 {
			most, which = byWeight, LimitMostPerKg
		}
	}
	return most, which, most != nil
}

// cap holds the range under the maximum of a single dose.
func (x *reckoning) cap() {
	x.Full = Span{x.tell(x.low), x.tell(x.high)}
	if most, which, ok := x.dose.maximum(x.by); ok {
		x.single = most
		if x.high.Cmp(most) > 0 {
			x.CappedBy = which
			key := map[Limit]string{LimitMost: "most", LimitMostPerKg: "most_per_kg"}[which]
			x.step(StepCapped, string(which), x.dose.For(key), Named{"from", x.tell(x.high)}, Named{"to", x.tell(most)})
		}
		x.low, x.high, x.first = exact.Min(x.low, most), exact.Min(x.high, most), exact.Min(x.first, most)
	}
	x.Low, x.High = x.tell(x.low), x.tell(x.high)
}

// suggest finds what to give now.
func (x *reckoning) suggest() {
	want := x.first
	limit := x.single
	if x.left != nil && !x.m.perTime {
		want = exact.Min(want, x.left)
		if limit == nil || x.left.Cmp(limit) < 0 {
			limit = x.left
		}
	}
	x.offer(want, limit)
	if len(x.Reductions) > 0 && (limit == nil || x.high.Cmp(limit) < 0) {
		limit = x.high
	}
	if limit != nil {
		x.Limit = x.tell(limit)
		x.limitVolume(limit)
	}
}

// offer suggests the wanted dose, unless there is a reason not to.
func (x *reckoning) offer(want, limit *exact.Number) {
	switch {
	case x.left != nil && x.left.Sign() <= 0:
		x.step(StepNothingLeft, "", "")
		return
	case len(x.Alerts) > 0 && x.Alerts[0].Level == Stop && !x.u.Rescue:
		x.step(StepStopped, x.Alerts[0].Code, "")
		return
	}
	x.Unrounded = x.tell(want)
	if limit == nil {
		limit = want.Times(exact.Whole(2)) // nothing holds the rounding down but its own tenth
	}
	x.measureOut(want, limit)
}
