package formulary

import (
	"chinlift/core/exact"
	"chinlift/core/quantity"
)

// mixture is one way of bringing a stock to a strength.
type mixture struct {
	strength *exact.Number   // in the measure's unit for each mL
	tell     quantity.Amount // the same
	rule     *DilutionRule   // the file's, or nil
	parts    *exact.Number   // one part into so many, where no rule says it; else nil
}

// usualParts are the dilutions that are reckoned where the file has none: 1
// into 10, 1 into 100. Common practice.
var usualParts = []int64{10, 100}

// mixtures gives the ways of measuring from a stock, in the order in which
// they are tried: as it is, by the file's dilutions, by one part into 10 and
// into 100. A use that is never given stronger than so much leaves out what
// is, and tries to come down to that.
func (x *reckoning) mixtures(s stock) []mixture {
	if x.m.what == quantity.Volume {
		return []mixture{{}}
	}
	var list []mixture
	add := func(m mixture) {
		if !x.tooStrong(m.strength) {
			list = append(list, m)
		}
	}
	add(mixture{strength: s.strength, tell: s.Strength})
	if s.Undiluted {
		return list
	}
	for i := range x.d.Dilutions {
		if r := &x.d.Dilutions[i]; r.From == s.Code {
			add(mixture{strength: in(r.To, strengths[x.m.what]), tell: r.To, rule: r})
		}
	}
	reckoned := func(parts *exact.Number) {
		weaker := s.strength.Over(parts)
		add(mixture{strength: weaker, tell: tellIn(weaker, strengths[x.m.what], s.Strength.Unit), parts: parts})
	}
	if x.tooStrong(s.strength) {
		reckoned(s.strength.Over(in(x.at(), strengths[x.m.what])))
	}
	for _, n := range usualParts {
		reckoned(exact.Whole(n))
	}
	return list
}

// tooStrong reports a strength that the use is never given at.
func (x *reckoning) tooStrong(strength *exact.Number) bool {
	return !x.at().IsZero() && strength.Cmp(in(x.at(), strengths[x.m.what])) > 0
}

// at is the strength that the dose is given at or under, or absent.
func (x *reckoning) at() quantity.Amount {
	if !x.dose.At.IsZero() {
		return x.dose.At
	}
	return x.u.At
}

// recipe says how to make a mixture of which so many mL are wanted; nil where
// no syringe at hand measures it out.
func (x *reckoning) recipe(s stock, m mixture, volume *exact.Number) *Dilution {
	n := s.strength.Over(m.strength)
	var ampoule *exact.Number
	switch {
	case !s.Dissolve.IsZero():
		ampoule = in(s.Dissolve, quantity.ML)
	case !s.Volume.IsZero():
		ampoule = in(s.Volume, quantity.ML)
	}
	totals := []int64{10, 20, 50, 100}
	syringeful, bag := exact.Whole(20), exact.Whole(500)
	if x.m.perTime { // a bag, of which nobody says how long it is to last
		totals, volume = []int64{50, 100, 500, 1000}, new(exact.Number)
		syringeful, bag = exact.Whole(1000), exact.Whole(1000)
	}
	list, _ := atHand(x.Syringes)
	marked := func(v *exact.Number) bool {
		mark := holding(list, v).mark
		return v.Down(mark).Cmp(v) == 0 && v.Cmp(mark.Times(exact.Whole(10))) >= 0
	}
	try := func(take, total *exact.Number) *Dilution {
		if total.Cmp(volume) < 0 || !marked(take) {
			return nil
		}
		d := &Dilution{
			From: s.Strength, Strength: m.tell,
			Take: amountDown(take, decimals, quantity.ML), Add: amountDown(total.Minus(take), decimals, quantity.ML), Total: amountDown(total, decimals, quantity.ML),
		}
		if m.rule != nil {
			d.With, d.Source = m.rule.With, x.d.Sources[m.rule.Source]
		}
		return d
	}
	// The whole ampoule into a syringe or, before very little is measured out
	// of it, into a bag: what a syringe holds in its nozzle is a large part of
	// a tenth of a mL.
	wholly := func(most *exact.Number) *Dilution {
		if ampoule == nil {
			return nil
		}
		total := ampoule.Times(n)
		if total.Cmp(most) > 0 || total.Down(exact.Whole(1)).Cmp(total) != 0 && !marked(total) {
			return nil
		}
		return try(ampoule, total)
	}
	parted := func(least, most *exact.Number) *Dilution {
		for _, mL := range totals {
			total := exact.Whole(mL)
			if take := total.Over(n); total.Cmp(most) <= 0 && take.Cmp(least) >= 0 {
				if d := try(take, total); d != nil {
					return d
				}
			}
		}
		return nil
	}
	if m.rule != nil && !m.rule.Total.IsZero() {
		total := in(m.rule.Total, quantity.ML)
		if d := try(total.Over(n), total); d != nil {
			return d
		}
	}
	little := exact.Of("0.5")
	for _, d := range []*Dilution{wholly(syringeful), parted(little, syringeful), wholly(bag), parted(little, bag), parted(new(exact.Number), bag)} {
		if d != nil {
			return d
		}
	}
	return nil
}
