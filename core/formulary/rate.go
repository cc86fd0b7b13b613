package formulary

import (
	"regexp"
	"strings"

	"chinlift/core/exact"
	"chinlift/core/patient"
	"chinlift/core/quantity"
)

// The arithmetic at the bedside, for those who have a dose already. Nothing
// here knows a drug.

// labels are the two ways in which a label tells grams in 100 mL, or 1 g in so
// many mL.
var (
	percentLabel = regexp.MustCompile(`^([0-9]{1,6}(?:\.[0-9]{1,6})?) ?%$`)
	ratioLabel   = regexp.MustCompile(`^1:([0-9]{1,9}(?: [0-9]{1,9}){0,3})$`)
)

// StrengthOf gives the strength that a label tells, in mg/mL: "1 %" is 1 g in
// 100 mL, "1:1000" is 1 g in 1000 mL.
func StrengthOf(label string) (quantity.Amount, error) {
	r := labelled(label)
	if r == nil {
		return quantity.Amount{}, &Error{Field: "label", Code: Unknown, Given: label}
	}
	return amountDown(r, decimals, quantity.MgPerML), nil
}

// labelled gives mg/mL, or nil.
func labelled(label string) *exact.Number {
	if m := percentLabel.FindStringSubmatch(label); m != nil {
		return exact.Of(m[1]).Times(exact.Whole(10))
	}
	if m := ratioLabel.FindStringSubmatch(label); m != nil {
		if n := exact.Of(strings.ReplaceAll(m[1], " ", "")); n.Sign() > 0 {
			return exact.Whole(1000).Over(n)
		}
	}
	return nil
}

// positive reads an amount that must be there and over nought, in the first
// unit whose dimension it has; which is its index.
func positive(field string, a quantity.Amount, units ...quantity.Unit) (r *exact.Number, which int, err error) {
	if a.IsZero() {
		return nil, 0, &Error{Field: field, Code: patient.Missing}
	}
	for i, u := range units {
		if a.Unit.Dimension() != u.Dimension() {
			continue
		}
		if a.Value.Sign() <= 0 {
			return nil, 0, &Error{Field: field, Code: patient.TooLow, Given: a.String()}
		}
		r = in(a, u)
		if r.Cmp(exact.Of(greatest)) > 0 {
			return nil, 0, &Error{Field: field, Code: patient.TooHigh, Given: a.String()}
		}
		if r.Cmp(exact.Of(least)) < 0 {
			return nil, 0, &Error{Field: field, Code: patient.TooLow, Given: a.String()}
		}
		return r, i, nil
	}
	return nil, 0, &Error{Field: field, Code: patient.WrongUnit, Given: a.String()}
}

// fits reads a strength that a dose of a dimension wants.
func fits(what quantity.Dimension, strength quantity.Amount) (*exact.Number, error) {
	u, ok := strengths[what]
	if !ok {
		return nil, &Error{Field: "dose", Code: patient.WrongUnit}
	}
	r, _, err := positive("strength", strength, u)
	return r, err
}

// VolumeOf gives the volume of a dose at a strength, in mL, cut to 0.001 mL.
func VolumeOf(dose, strength quantity.Amount) (quantity.Amount, error) {
	r, i, err := positive("dose", dose, quantity.Mg, quantity.IU, quantity.Mmol)
	if err != nil {
		return quantity.Amount{}, err
	}
	s, err := fits([]quantity.Dimension{quantity.Mass, quantity.International, quantity.AmountOfSubstance}[i], strength)
	if err != nil {
		return quantity.Amount{}, err
	}
	return amountDown(r.Over(s), 3, quantity.ML), nil
}

// FlowOf gives the flow of an infusion in mL/h, cut to 0.01, for a rate in an
// amount or a volume in a time, for each kilogram or not. The weight is asked
// for only where the rate goes by it, the strength only where it is no volume.
func FlowOf(rate, weight, strength quantity.Amount) (quantity.Amount, error) {
	if rate.IsZero() {
		return quantity.Amount{}, &Error{Field: "rate", Code: patient.Missing}
	}
	m, ok := measureOf(rate)
	if !ok || !m.perTime {
		return quantity.Amount{}, &Error{Field: "rate", Code: patient.WrongUnit, Given: rate.String()}
	}
	r, _, err := positive("rate", rate, measures[m])
	if err != nil {
		return quantity.Amount{}, err
	}
	if m.perKg {
		if weight.IsZero() {
			return quantity.Amount{}, &Error{Field: "weight", Code: patient.Missing}
		}
		if err := patient.Check(patient.Patient{Weight: weight}); err != nil {
			return quantity.Amount{}, told(err)
		}
		r = r.Times(in(weight, quantity.Kg))
	}
	if m.what != quantity.Volume {
		s, err := fits(m.what, strength)
		if err != nil {
			return quantity.Amount{}, err
		}
		r = r.Over(s)
	}
	return amountDown(r, 2, quantity.MLPerH), nil
}

// DropsOf gives whole drops a minute, to the nearest, for a flow through a set
// of so many drops in a mL.
func DropsOf(flow, set quantity.Amount) (quantity.Amount, error) {
	f, _, err := positive("flow", flow, quantity.MLPerMin)
	if err != nil {
		return quantity.Amount{}, err
	}
	s, _, err := positive("set", set, quantity.DropsPerML)
	if err != nil {
		return quantity.Amount{}, err
	}
	return amountDown(f.Times(s).Nearest(exact.Whole(1)), 0, quantity.DropsPerMin), nil
}

// Dilute says how much of a strength to take, and how much to add, for a total
// volume of a weaker strength; in mL, cut to 0.001 mL.
func Dilute(from, to, total quantity.Amount) (take, add quantity.Amount, err error) {
	units := []quantity.Unit{strengths[quantity.Mass], strengths[quantity.International], strengths[quantity.AmountOfSubstance]}
	f, i, err := positive("from", from, units...)
	if err != nil {
		return take, add, err
	}
	t, _, err := positive("to", to, units[i])
	if err != nil {
		return take, add, err
	}
	if t.Cmp(f) > 0 {
		return take, add, &Error{Field: "to", Code: patient.TooHigh, Given: to.String()}
	}
	v, _, err := positive("total", total, quantity.ML)
	if err != nil {
		return take, add, err
	}
	part := v.Times(t).Over(f)
	return amountDown(part, 3, quantity.ML), amountDown(v.Minus(part), 3, quantity.ML), nil
}

// LocalLimit is the maximum of a local anaesthetic.
type LocalLimit struct {
	ByWeight quantity.Amount // mg: the rule by the weight alone
	Dose     quantity.Amount // mg: not over the cap
	Volume   quantity.Amount // mL of the strength, cut to 0.1 mL, and to 0.01 under 1 mL
	CappedBy Limit           // LimitMost where the cap rules, else LimitMostPerKg
}

// LocalMaximum gives the maximum of a local anaesthetic for a weight, in mg and
// in mL of a strength. most, a cap whatever the weight, may be absent. It knows
// nothing of what was given before: Formulary.Reckon does.
func LocalMaximum(perKg, most, weight, strength quantity.Amount) (LocalLimit, error) {
	r, _, err := positive("per_kg", perKg, quantity.MgPerKg)
	if err != nil {
		return LocalLimit{}, err
	}
	if weight.IsZero() {
		return LocalLimit{}, &Error{Field: "weight", Code: patient.Missing}
	}
	if err := patient.Check(patient.Patient{Weight: weight}); err != nil {
		return LocalLimit{}, told(err)
	}
	s, err := fits(quantity.Mass, strength)
	if err != nil {
		return LocalLimit{}, err
	}
	r = r.Times(in(weight, quantity.Kg))
	l := LocalLimit{ByWeight: amountDown(r, decimals, quantity.Mg), CappedBy: LimitMostPerKg}
	if !most.IsZero() {
		c, _, err := positive("most", most, quantity.Mg)
		if err != nil {
			return LocalLimit{}, err
		}
		if c.Cmp(r) < 0 {
			r, l.CappedBy = c, LimitMost
		}
	}
	l.Dose, l.Volume = amountDown(r, decimals, quantity.Mg), millilitres(r.Over(s))
	return l, nil
}
