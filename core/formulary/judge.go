package formulary

import (
	"errors"

	"chinlift/core/exact"
	"chinlift/core/patient"
	"chinlift/core/quantity"
)

func as(err error, e **Error) bool { return errors.As(err, e) }

// Exceeds is the code of what a dose exceeds.
type Exceeds string

// What a dose can exceed.
const (
	OverRange    Exceeds = "over-range"    // the highest usual dose of the rule, unreduced
	OverReduced  Exceeds = "over-reduced"  // the highest dose after the reductions
	OverSingle   Exceeds = "over-single"   // the maximum of a single dose
	OverTotal    Exceeds = "over-total"    // what is left within a time
	OverFraction Exceeds = "over-fraction" // the sum of local anaesthetics
	TooSoon      Exceeds = "too-soon"      // the interval since the last dose
	OverStop     Exceeds = "stop"          // a reason not to give the drug at all
)

// ExceedsCodes has every code of what a dose can exceed.
var ExceedsCodes = []Exceeds{OverRange, OverReduced, OverSingle, OverTotal, OverFraction, TooSoon, OverStop}

// Excess is one thing that a dose exceeds.
type Excess struct {
	Code   Exceeds
	Of     string          // the code of a limit, a group or an alert
	Dose   quantity.Amount // what was given, with what was given before where a total counts it; a time for TooSoon
	Limit  quantity.Amount // what it exceeds; absent for a stop
	Source Source
}

// Verdict says what a dose exceeds. It never prevents anything: what was given
// was given.
type Verdict struct {
	Dose    quantity.Amount // in the unit of the rule
	Volume  quantity.Amount // in mL of what it would be drawn from, cut to 0.01 mL; absent where that is not known
	Exceeds []Excess        // empty: nothing
}

// Judge says what a dose, given or meant, exceeds. r.Given is what was given
// before it. The dose is an amount as the rule tells it, or a volume of
// r.Strength or of the presentation. The error is an *Error.
func (f *Formulary) Judge(r Request, dose quantity.Amount) (Verdict, error) {
	x, err := f.begin(r)
	if err != nil {
		return Verdict{}, err
	}
	return x.judge(dose, "dose", false)
}

// judge judges a dose that was given or, meant, one that somebody has in mind.
func (x *reckoning) judge(dose quantity.Amount, field string, meant bool) (Verdict, error) {
	if dose.IsZero() {
		return Verdict{}, &Error{Field: field, Code: patient.Missing}
	}
	if code := sane(dose); code != "" {
		return Verdict{}, &Error{Field: field, Code: code, Given: dose.String()}
	}
	strength, sure := x.strengthDrawn()
	var much *exact.Number
	switch dim := dose.Unit.Dimension(); {
	case dim == x.base.Dimension():
		much = in(dose, x.base)
	case dim == quantity.Volume && strength != nil && !x.m.perTime,
		dim == quantity.Flow && strength != nil && x.m.perTime:
		if !sure {
			return Verdict{}, &Error{Field: "strength", Code: patient.Missing}
		}
		unit := quantity.ML
		if x.m.perTime {
			unit = quantity.MLPerH
		}
		much = in(dose, unit).Times(strength)
	default:
		return Verdict{}, &Error{Field: field, Code: patient.WrongUnit, Given: dose.String()}
	}
	if much.Sign() <= 0 {
		return Verdict{}, &Error{Field: field, Code: patient.TooLow, Given: dose.String()}
	}
	v := Verdict{Dose: x.tell(much)}
	if strength != nil && sure && !x.m.perTime {
		v.Volume = amountDown(much.Over(strength), 2, quantity.ML)
	}
	v.Exceeds = x.exceeds(much, meant)
	return v, nil
}

// strengthDrawn gives the strength of what is drawn up, or nil; sure is false
// where it might as well be another: nobody has said which of several, or it is
// to be diluted first.
func (x *reckoning) strengthDrawn() (strength *exact.Number, sure bool) {
	for _, s := range x.stocks() {
		if s.strength == nil {
			continue
		}
		if strength == nil {
			strength, sure = s.strength, true
		} else if s.strength.Cmp(strength) != 0 {
			sure = false
		}
	}
	if strength != nil && x.tooStrong(strength) {
		sure = false
	}
	return strength, sure
}

func (x *reckoning) exceeds(much *exact.Number, meant bool) []Excess {
	var list []Excess
	add := func(code Exceeds, of string, dose, limit quantity.Amount, s Source) {
		list = append(list, Excess{code, of, dose, limit, s})
	}
	for _, a := range x.Alerts {
		// A stop for something that has to go in with the dose, which may have
		// been in the same syringe and be told a moment later: it holds up a
		// plan, and is not held against what was given.
		if a.Level == Stop && (meant || !a.Planned) {
			add(OverStop, a.Code, x.tell(much), quantity.Amount{}, a.Source)
		}
	}
	if x.single != nil && much.Cmp(x.single) > 0 {
		_, which, _ := x.dose.maximum(x.by)
		key := map[Limit]string{LimitMost: "most", LimitMostPerKg: "most_per_kg"}[which]
		add(OverSingle, string(which), x.tell(much), x.tell(x.single), x.d.Sources[x.dose.For(key)])
	}
	if much.Cmp(x.fullHigh) > 0 {
		add(OverRange, "", x.tell(much), x.tell(x.fullHigh), x.d.Sources[x.dose.For("high")])
	}
	if len(x.Reductions) > 0 && much.Cmp(x.high) > 0 {
		add(OverReduced, x.Reductions[0].Code, x.tell(much), x.tell(x.high), x.Reductions[0].Source)
	}
	if !x.m.perTime {
		for _, b := range x.tallies {
			if sum := b.sum.Plus(much.Over(b.each)); sum.Cmp(b.most) > 0 {
				code, of := OverTotal, string(LimitTotal)
				if b.Group != "" {
					of = string(b.Group)
				}
				if b.Group == LocalAnaesthetics {
					code = OverFraction
				}
				add(code, of, tellIn(sum, b.base, b.unit), b.Most, b.Source)
			}
		}
	}
	if wait, ago := x.tooSoon(); wait != nil {
		add(TooSoon, "", ago, x.u.Interval, x.d.Sources[x.u.For("interval")])
	}
	return list
}
