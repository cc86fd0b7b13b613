package formulary

import (
	"slices"

	"chinlift/core/exact"
	"chinlift/core/patient"
	"chinlift/core/quantity"
	"chinlift/core/term"
)

// guard is the total of the opioids together, in mg/kg of morphine.
var guard = struct {
	most, window quantity.Amount
	unless       term.Condition
	source       Source
}{
	quantity.MustParse("0.4 mg/kg"), quantity.MustParse("4 h"), term.ConditionVentilated,
	Source{
		Title: "a guard against repeated doses of opioids whose sum nobody keeps: 0.4 mg/kg of morphine or its equivalent in 4 hours, unless titrated or ventilated",
		Mark:  term.MarkMemory,
	},
}

// fractions is the source of the sum of local anaesthetics.
var fractions = Source{
	Title: "local anaesthetics given together: the fractions of each one's own maximum sum to 1 at most", Mark: term.MarkPractice,
}

// counted is what a given dose counts towards a total.
type counted struct {
	much *exact.Number
	ago  *exact.Number // minutes; nil where nobody knows

	before bool // in another case of the patient
}

// beforeCounts is for how long a dose of another case of the same patient counts
// where a rule counts for the whole case, and has no time of its own (house
// choice, no source: the longest time of the totals that come with the
// companion).
var beforeCounts = quantity.MustParse("24 h")

// counts gives for how long the dose counts in a total of a window, in minutes;
// nil is for ever.
func (c counted) counts(window *exact.Number) *exact.Number {
	if window == nil && c.before {
		return in(beforeCounts, quantity.Minute)
	}
	return window
}

// within reports whether the dose still counts after so many more minutes. A
// nil window is the whole case.
func (c counted) within(window, later *exact.Number) bool {
	window = c.counts(window)
	return window == nil || c.ago == nil || c.ago.Plus(later).Cmp(window) < 0
}

// used sums what counts so many minutes from now.
func used(list []counted, window, later *exact.Number) *exact.Number {
	sum := new(exact.Number)
	for _, c := range list {
		if c.within(window, later) {
			sum = sum.Plus(c.much)
		}
	}
	return sum
}

// much gives what a given dose is in the measure that a drug's doses are told
// in; ok is false where it cannot be brought to it.
func (g Given) much(what quantity.Dimension) (*exact.Number, bool) {
	unit := measures[measure{what: what}]
	if g.Dose.IsZero() || unit.IsZero() {
		return nil, false
	}
	dim := g.Dose.Unit.Dimension()
	if dim == unit.Dimension() {
		return in(g.Dose, unit), true
	}
	if g.Strength.IsZero() || g.Strength.Value.Sign() == 0 {
		return nil, false
	}
	of, known := strengthOf(g.Strength)
	switch {
	case !known:
	case dim == quantity.Volume && of == what:
		return in(g.Dose, quantity.ML).Times(in(g.Strength, strengths[of])), true
	case what == quantity.Volume && dim == measures[measure{what: of}].Dimension():
		return in(g.Dose, measures[measure{what: of}]).Over(in(g.Strength, strengths[of])), true
	}
	return nil, false
}

func (g Given) minutes() *exact.Number {
	if g.Ago.IsZero() {
		return nil
	}
	return in(g.Ago, quantity.Minute)
}

// board works out what each total has counted, and what all of them leave.
func (x *reckoning) board() error {
	var own []counted
	for i, g := range x.Given {
		if x.d.Equivalent != nil && x.f.Find(g.Drug) == nil {
			x.uncounted(i) // for all that is known, one of the group
		}
		if g.Drug != x.d.Code {
			continue
		}
		if much, ok := g.much(x.m.what); !ok {
			x.uncounted(i)
		} else {
			own = append(own, counted{much, g.minutes(), g.Before})
		}
	}
	for i := range x.u.Totals {
		if err := x.total(&x.u.Totals[i], own); err != nil {
			return err
		}
	}
	if e := x.d.Equivalent; e != nil && e.Group == Opioids {
		x.opioids(e)
	} else if e != nil {
		x.localAnaesthetics()
	}
	if slices.ContainsFunc(x.Given, func(g Given) bool { return g.Drug == x.d.Code && g.Ago.IsZero() }) {
		x.step(StepTimeUnknown, "", "")
	}
	return nil
}

func (x *reckoning) uncounted(i int) {
	if slices.Contains(x.Uncounted, i) || x.past(&x.Given[i]) {
		return
	}
	x.Uncounted = append(x.Uncounted, i)
	x.step(StepNotCounted, x.Given[i].Drug, "", Named{"dose", x.Given[i].Dose})
}

// past reports that a dose of another case is older than all that the use looks
// back over: its own totals and its interval, and a day.
func (x *reckoning) past(g *Given) bool {
	ago := g.minutes()
	if !g.Before || ago == nil {
		return false
	}
	reach := exact.Max(in(beforeCounts, quantity.Minute), in(guard.window, quantity.Minute))
	for i := range x.u.Totals {
		if w := minutesOf(x.u.Totals[i].Window); w != nil {
			reach = exact.Max(reach, w)
		}
	}
	if w := minutesOf(x.u.Interval); w != nil {
		reach = exact.Max(reach, w)
	}
	return ago.Cmp(reach) >= 0
}

// total works out one total of the use.
func (x *reckoning) total(t *Total, own []counted) error {
	if !x.aged(t.Age) {
		return nil
	}
	if len(t.Uses) > 0 { // again, of these uses alone; a dose of which nobody knows the use counts
		own = nil
		for _, g := range x.Given {
			if g.Drug == x.d.Code && (g.Use == "" || slices.Contains(t.Uses, g.Use)) {
				if much, ok := g.much(x.m.what); ok {
					own = append(own, counted{much, g.minutes(), g.Before})
				}
			}
		}
	}
	b := Board{Window: t.Window, Source: x.d.Sources[t.For("most")]}
	m, _ := measureOf(t.Most)
	most := in(t.Most, measures[m])
	unit := plain(x.amountUnit())
	if m.perKg {
		kg, _ := x.weighs(Dosing)
		if kg == nil {
			if !x.u.Rescue {
				return &Error{Field: "weight", Code: patient.Missing}
			}
			// A rescue is not held up by a weight that nobody knows.
			x.step(StepNeedsWeight, "", t.For("most"), Named{"most", t.Most})
			b.Used = tellIn(used(own, minutesOf(t.Window), new(exact.Number)), measures[measure{what: m.what}], unit)
			x.Board = append(x.Board, b)
			return nil
		}
		most = most.Times(kg)
	}
	b.Lifted = slices.ContainsFunc(t.Unless, func(c term.Condition) bool { return slices.Contains(x.With, c) })
	x.count(b, most, own, exact.Whole(1), measures[measure{what: m.what}], unit)
	return nil
}

// amountUnit is the unit of the drug's amounts: of an infusion that in mg/h it
// is mg.
func (x *reckoning) amountUnit() quantity.Unit {
	if x.m.perTime {
		return measures[measure{what: x.m.what}]
	}
	return x.unit
}

func minutesOf(a quantity.Amount) *exact.Number {
	if a.IsZero() {
		return nil
	}
	return in(a, quantity.Minute)
}

// tally is a total that limits, in numbers of its unit base.
type tally struct {
	Board
	sum, most  *exact.Number
	each       *exact.Number // of this drug make one of base
	base, unit quantity.Unit
}

// count puts a total on the board. most and list are in the unit base, and one
// of base is each of this drug.
func (x *reckoning) count(b Board, most *exact.Number, list []counted, each *exact.Number, base, unit quantity.Unit) {
	window := minutesOf(b.Window)
	sum := used(list, window, new(exact.Number))
	left := exact.Max(most.Minus(sum), new(exact.Number))
	b.Most, b.Used, b.Left = tellIn(most, base, unit), tellIn(sum, base, unit), tellIn(left, base, unit)
	dose := left.Times(each)
	amount := measures[measure{what: x.m.what}]
	b.LeftDose = tellIn(dose, amount, x.amountUnit())
	b.Frees = x.frees(most, list, window, each)
	of := string(b.Group)
	if sum.Sign() > 0 {
		x.Steps = append(x.Steps, Step{StepAlreadyGiven, of, []Named{{"used", b.Used}, {"most", b.Most}, {"window", b.Window}}, b.Source})
	}
	x.Board = append(x.Board, b)
	if b.Lifted {
		if sum.Sign() > 0 {
			x.Steps = append(x.Steps, Step{StepLifted, of, nil, b.Source})
		}
		return
	}
	x.tallies = append(x.tallies, tally{b, sum, most, each, base, unit})
	if x.left == nil || dose.Cmp(x.left) < 0 {
		x.left = dose
	}
	if sum.Sign() > 0 || dose.Cmp(x.high) < 0 && !x.m.perTime {
		x.Steps = append(x.Steps, Step{StepLeft, of, []Named{{"left", b.LeftDose}}, b.Source})
	}
}

// frees gives the minutes until the first dose fits into a total; absent where
// it never does in this case.
func (x *reckoning) frees(most *exact.Number, list []counted, window, each *exact.Number) quantity.Amount {
	want := new(exact.Number)
	if !x.m.perTime && each.Sign() > 0 {
		want = exact.Min(x.first.Over(each), most)
	}
	at := []*exact.Number{new(exact.Number)}
	for _, c := range list {
		if w := c.counts(window); w != nil && c.ago != nil && c.ago.Cmp(w) < 0 {
			at = append(at, w.Minus(c.ago))
		}
	}
	slices.SortFunc(at, (*exact.Number).Cmp)
	for _, t := range at {
		left := most.Minus(used(list, window, t))
		if left.Sign() > 0 && left.Cmp(want) >= 0 {
			return minutesUp(t)
		}
	}
	return quantity.Amount{}
}

// minutesUp tells a time in whole minutes, a part of one counting as one.
func minutesUp(t *exact.Number) quantity.Amount {
	return amountDown(t.Ceil(), 0, quantity.Minute)
}

// wait finds how long it is until the next dose.
func (x *reckoning) wait() {
	next := exact.Whole(0)
	if longest, ago := x.tooSoon(); longest != nil {
		next = longest
		x.step(StepWait, "", x.u.For("interval"), Named{"interval", x.u.Interval}, Named{"ago", ago}, Named{"wait", minutesUp(longest)})
	}
	for _, b := range x.Board {
		if b.Lifted || b.Most.IsZero() {
			continue
		}
		if b.Frees.IsZero() {
			return // not in this case
		}
		next = exact.Max(next, in(b.Frees, quantity.Minute))
	}
	x.Next = minutesUp(next)
}

// tooSoon gives the minutes that the interval since the last dose of the same
// use, or by the same route, still has, or nil; and how long ago that dose was:
// what it was given for does not make it shorter. Nobody knowing when,
// it counts as just given.
func (x *reckoning) tooSoon() (*exact.Number, quantity.Amount) {
	interval := minutesOf(x.u.Interval)
	if interval == nil {
		return nil, quantity.Amount{}
	}
	var longest *exact.Number
	var last quantity.Amount
	for _, g := range x.Given {
		if g.Drug != x.d.Code || g.Use != "" && g.Use != x.u.Code && g.Route != x.route {
			continue
		}
		wait := interval
		if ago := g.minutes(); ago != nil {
			wait = interval.Minus(ago)
		}
		if wait.Sign() > 0 && (longest == nil || wait.Cmp(longest) > 0) {
			longest, last = wait, g.Ago
		}
	}
	return longest, last
}

// opioids counts what was given of the group, in mg of morphine.
func (x *reckoning) opioids(own *Equivalent) {
	var list []counted
	for i, g := range x.Given {
		d := x.f.Find(g.Drug)
		if d == nil || d.Equivalent == nil || d.Equivalent.Group != Opioids {
			continue
		}
		if much, ok := g.much(quantity.Mass); ok {
			e := d.Equivalent
			list = append(list, counted{much.Times(in(e.Is, quantity.Mg)).Over(in(e.Each, quantity.Mg)), g.minutes(), g.Before})
		} else {
			x.uncounted(i)
		}
	}
	b := Board{Group: Opioids, Window: guard.window, Source: guard.source}
	b.Lifted = x.u.Titrate || slices.Contains(x.With, guard.unless)
	kg, _ := x.weighs(Dosing)
	if kg == nil {
		if len(list) > 0 {
			b.Used = amountDown(used(list, minutesOf(b.Window), new(exact.Number)), decimals, quantity.Mg)
			x.Steps = append(x.Steps, Step{StepNeedsWeight, string(Opioids), []Named{{"most", guard.most}}, guard.source})
			x.Board = append(x.Board, b)
		}
		return
	}
	each := in(own.Each, quantity.Mg).Over(in(own.Is, quantity.Mg))
	x.count(b, in(guard.most, quantity.MgPerKg).Times(kg), list, each, quantity.Mg, quantity.Mg)
}

// localAnaesthetics sums the fractions of each drug's own maximum.
func (x *reckoning) localAnaesthetics() {
	var list []counted
	window, bounded := x.longest(x.d.counted(x.u))
	for i, g := range x.Given {
		d := x.f.Find(g.Drug)
		if d == nil || d.Equivalent == nil || d.Equivalent.Group != LocalAnaesthetics {
			continue
		}
		most, u := x.ownMaximum(d, g.Use)
		if most == nil {
			x.uncounted(i)
			continue
		}
		m, _ := measureOf(u.Doses[0].Low)
		much, ok := g.much(m.what)
		if !ok {
			x.uncounted(i)
			continue
		}
		list = append(list, counted{much.Over(most), g.minutes(), g.Before})
		if w, ok := x.longest(u); !ok {
			bounded = false
		} else if bounded && in(w, quantity.Minute).Cmp(in(window, quantity.Minute)) > 0 {
			window = w
		}
	}
	each := x.single
	if x.u.FractionOf != "" {
		each, _ = x.ownMaximum(x.d, x.u.FractionOf)
	}
	b := Board{Group: LocalAnaesthetics, Source: fractions, Lifted: intrathecal(x.u) || each == nil}
	if bounded {
		b.Window = window
	}
	if each == nil {
		each = new(exact.Number)
	}
	x.count(b, exact.Whole(1), list, each, quantity.One, quantity.One)
}

// longest gives how long a dose of the use counts among the local anaesthetics;
// ok is false where it is the whole case.
func (x *reckoning) longest(u *Use) (window quantity.Amount, ok bool) {
	if !u.Interval.IsZero() {
		return u.Interval, true
	}
	for _, t := range u.Totals {
		if t.Window.IsZero() {
			return quantity.Amount{}, false
		}
		if !ok || in(t.Window, quantity.Minute).Cmp(in(window, quantity.Minute)) > 0 {
			window, ok = t.Window, true
		}
	}
	return window, ok
}

func intrathecal(u *Use) bool {
	return !slices.ContainsFunc(u.Routes, func(r term.Route) bool { return r != term.RouteIntrathecal })
}

// counted gives the use whose maximum a dose of a use is a fraction of.
func (d *Drug) counted(u *Use) *Use {
	if u != nil && u.FractionOf != "" {
		return d.Use(u.FractionOf)
	}
	return u
}

// ownMaximum gives the maximum that a given dose of a local anaesthetic is a
// fraction of: that of its use; of an intrathecal or unknown use the smallest
// of the drug's others. The maxima guard the brain and the heart, and what is
// in the cerebrospinal fluid reaches them like any other.
func (x *reckoning) ownMaximum(d *Drug, use string) (*exact.Number, *Use) {
	maximum := func(u *Use) *exact.Number {
		dose, err := x.band(u)
		if err != nil {
			return nil
		}
		m, _ := measureOf(dose.Low)
		kg, _ := x.weighs(dose.Weight)
		most, _, ok := dose.maximum(kg)
		if !ok || m.perTime {
			return nil
		}
		return most
	}
	own := d.counted(d.Use(use))
	if own != nil && !intrathecal(own) {
		return maximum(own), own
	}
	var least *exact.Number
	var of *Use
	for i := range d.Uses {
		u := &d.Uses[i]
		if intrathecal(u) {
			continue
		}
		if most := maximum(u); most != nil && (least == nil || most.Cmp(least) < 0) {
			least, of = most, u
		}
	}
	if least == nil && own != nil {
		return maximum(own), own
	}
	return least, of
}
