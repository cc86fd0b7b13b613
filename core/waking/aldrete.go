package waking

import (
	"chinlift/core/exact"
	"chinlift/core/patient"
	"chinlift/core/quantity"
	"chinlift/core/term"
)

// Items are the five of the recovery score, 0 to 2 each; nil: not looked at.
type Items struct {
	Activity      *int // on command or of their own: four limbs 2, two 1, none 0
	Respiration   *int // breathes deeply and coughs 2, short of breath or shallow 1, none 0
	Circulation   *int // see Circulation
	Consciousness *int // awake 2, wakes when called 1, does not answer 0
	Oxygen        *int // see Oxygen
}

// Recovered is the recovery score.
type Recovered struct {
	Sum patient.Answer // 0 to 10 {score}
	Fit bool           // 9 or more: the usual mark for leaving recovery
}

var aldrete = patient.Source{Author: "J. A. Aldrete", Title: "The post-anesthesia recovery score revisited, Journal of Clinical Anesthesia 7:89", Year: 1995, Table: "five items of 0 to 2; 9 and over is fit to leave", Via: "a republished table (World Journal of Gastroenterology 2015;21:3671) and others that agree", Mark: term.MarkRead}

// FitFrom is the sum from which the score calls a patient fit to leave.
const FitFrom = 9

// Aldrete adds up the modified recovery score. It needs all five items: a sum
// of four would pass for a low score, or for a high one. Source: aldrete.
func Aldrete(i Items) (Recovered, error) {
	sum := 0
	for _, one := range []struct {
		field string
		n     *int
	}{{"activity", i.Activity}, {"respiration", i.Respiration}, {"circulation", i.Circulation}, {"consciousness", i.Consciousness}, {"oxygen", i.Oxygen}} {
		if err := count(one.field, one.n, 2); err != nil {
			return Recovered{}, err
		}
		sum += *one.n
	}
	a := patient.Answer{Rule: "recovery-score", Value: points(sum), Cautions: []patient.Caution{patient.Estimate, WatcherDecides}, Sources: []patient.Source{aldrete}}
	if *i.Activity < 2 {
		term.Add(&a.Cautions, ActivityWithBlock)
	}
	return Recovered{a, sum >= FitFrom}, nil
}

// Pressure is the item of circulation, worked out.
type Pressure struct {
	Points  int
	Change  patient.Answer // % from the pressure at rest, with its sign, to a tenth, rounded away from nought
	AsMmHg  int            // points by the misprint that reads millimetres for percent
	Differs bool           // the two readings differ
}

// Circulation gives the points for a systolic pressure against the one before
// the anaesthetic: within 20 % two, to under 50 % one, from 50 % on none, up or
// down. The points go by the change as it is shown. Source: aldrete.
func Circulation(now, rest quantity.Amount) (Pressure, error) {
	n, err := patient.Read("systolic", now, quantity.MmHg, "0", "350")
	if err != nil {
		return Pressure{}, err
	}
	r, err := patient.Read("rest", rest, quantity.MmHg, "20", "350")
	if err != nil {
		return Pressure{}, err
	}
	change := n.Minus(r)
	tenths := change.Abs().Times(exact.Whole(1000)).Over(r)
	shown := tenths.Ceil().Over(exact.Whole(10))
	rule := func(x *exact.Number) int {
		switch {
		case x.Cmp(exact.Whole(20)) <= 0:
			return 2
		case x.Cmp(exact.Whole(50)) < 0:
			return 1
		}
		return 0
	}
	p := Pressure{Points: rule(shown), AsMmHg: rule(change.Abs())}
	p.Differs = p.Points != p.AsMmHg
	if change.Sign() < 0 {
		shown = shown.Neg()
	}
	p.Change = patient.Answer{Rule: "pressure-change", Value: shown.Amount(1, quantity.Percent), Cautions: []patient.Caution{patient.Estimate}, Sources: []patient.Source{aldrete}}
	if p.Differs {
		term.Add(&p.Change.Cautions, PercentNotMmHg)
	}
	return p, nil
}

// Saturation is the item of oxygen.
type Saturation struct {
	Points   int
	Cautions []patient.Caution
	Source   patient.Source
}

// Oxygen gives the points for a saturation: over 92 % on air two, over 90 %
// with oxygen one, under 90 % with oxygen none. Where the table leaves a gap
// the lower points count: one on air from over 90 to 92 %, none at 90 %. Under
// that on air it is none until oxygen was tried. Source: aldrete.
func Oxygen(saturation quantity.Amount, onOxygen bool) (Saturation, error) {
	s, err := patient.Read("spo2", saturation, quantity.Percent, "0", "100")
	if err != nil {
		return Saturation{}, err
	}
	o := Saturation{Source: aldrete}
	over := func(n int64) bool { return s.Cmp(exact.Whole(n)) > 0 }
	switch {
	case onOxygen && over(90):
		o.Points = 1
		term.Add(&o.Cautions, TryAir)
	case onOxygen:
		if s.Cmp(exact.Whole(90)) == 0 {
			term.Add(&o.Cautions, NotInTable)
		}
	case over(92):
		o.Points = 2
	case over(90):
		o.Points = 1
		term.Add(&o.Cautions, NotInTable)
	default:
		term.Add(&o.Cautions, NotInTable, TryOxygen)
	}
	return o, nil
}
