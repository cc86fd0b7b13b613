package formulary

import (
	"strings"

	"chinlift/core/exact"
	"chinlift/core/patient"
	"chinlift/core/quantity"
)

// Timing is the code of how a premedication stands to its time.
type Timing string

// The timings.
const (
	Early    Timing = "too-early"
	InTime   Timing = "right"
	Late     Timing = "too-late"
	NoTime   Timing = "time-unknown" // nobody knows when it was given
	NoWindow Timing = "no-window"    // the rule has none
	NotGiven Timing = "not-given"
)

// TimingCodes has every timing.
var TimingCodes = []Timing{Early, InTime, Late, NoTime, NoWindow, NotGiven}

// Window is when to give a premedication. Times are minutes from now; one that
// has passed is under nought.
type Window struct {
	Open, Close quantity.Amount
	Now         Timing // whether it is time now
	Works       Span   // given now, or when the window opens, it will have worked; absent where the rule does not say
	Source      Source
}

// WhenToGive gives the window for a use of a drug before a start that is so
// long from now (a duration, under nought once it has passed). The error is an
// *Error: of the start, or no-rule where the use has no window.
func (d *Drug) WhenToGive(use string, start quantity.Amount) (Window, error) {
	u := d.Use(use)
	if u == nil {
		return Window{}, &Error{Field: "use", Code: Unknown, Given: use}
	}
	if u.Before.IsZero() {
		return Window{}, &Error{Field: "use", Code: patient.NoRule, Given: use}
	}
	at, err := startAt(start)
	if err != nil {
		return Window{}, err
	}
	open := at.Minus(in(u.Before.High, quantity.Minute))
	shut := at.Minus(in(u.Before.Low, quantity.Minute))
	w := Window{Open: minutesSigned(open), Close: minutesSigned(shut), Now: InTime, Source: d.Sources[u.For("before")]}
	switch {
	case open.Sign() > 0:
		w.Now = Early
	case shut.Sign() < 0:
		w.Now = Late
	}
	if !u.Onset.IsZero() {
		given := exact.Max(open, new(exact.Number))
		w.Works = Span{
			minutesSigned(given.Plus(in(u.Onset.Low, quantity.Minute))),
			minutesSigned(given.Plus(in(u.Onset.High, quantity.Minute))),
		}
	}
	return w, nil
}

func startAt(start quantity.Amount) (*exact.Number, error) {
	switch {
	case start.IsZero():
		return nil, &Error{Field: "start", Code: patient.Missing}
	case start.Unit.Dimension() != quantity.Duration:
		return nil, &Error{Field: "start", Code: patient.WrongUnit, Given: start.String()}
	}
	if code := sane(start); code != "" {
		return nil, &Error{Field: "start", Code: code, Given: start.String()}
	}
	return in(start, quantity.Minute), nil
}

// minutesSigned tells minutes, to the nearest tenth.
func minutesSigned(r *exact.Number) quantity.Amount {
	s := strings.TrimSuffix(r.FloatString(1), ".0")
	if s == "-0" {
		s = "0"
	}
	return quantity.MustParse(s + " min")
}

// Much is the code of how much of a premedication was given.
type Much string

// The amounts.
const (
	Less    Much = "less"
	Right   Much = "right"
	More    Much = "more"
	Nothing Much = "not-given"
)

// MuchCodes has every code of an amount.
var MuchCodes = []Much{Less, Right, More, Nothing}

// Premedication says how a premedication that was given stands to its rule.
type Premedication struct {
	Much      Much
	Dose      quantity.Amount // in the unit of the rule
	Low, High quantity.Amount // what the rule gives this patient
	Time      Timing
	Before    quantity.Amount // minutes from giving it to the start
	Window    Span            // that the rule asks for
	Exceeds   []Excess
	Source    Source // of the range
}

// WasGiven judges a premedication against its rule: r names the drug, the use
// and the patient, r.Given what was given before it, and g the premedication,
// nil where none was given. The start is so long from now (a duration, under
// nought once it has passed). The error is an *Error.
func (f *Formulary) WasGiven(r Request, g *Given, start quantity.Amount) (Premedication, error) {
	x, err := f.begin(r)
	if err != nil {
		return Premedication{}, err
	}
	at, err := startAt(start)
	if err != nil {
		return Premedication{}, err
	}
	p := Premedication{
		Much: Nothing, Time: NotGiven, Low: x.Low, High: x.High, Window: x.u.Before, Source: x.d.Sources[x.dose.For("low")],
	}
	if g == nil {
		return p, nil
	}
	if err := g.check(""); err != nil {
		return Premedication{}, err
	}
	dose := g.Dose
	if !g.Strength.IsZero() && dose.Unit.Dimension() == quantity.Volume {
		much, ok := g.much(x.m.what)
		if !ok {
			return Premedication{}, &Error{Field: "strength", Code: patient.WrongUnit, Given: g.Strength.String()}
		}
		dose = x.tell(much)
	}
	v, err := x.judge(dose, "dose", false)
	if err != nil {
		return Premedication{}, err
	}
	p.Dose, p.Exceeds = v.Dose, v.Exceeds
	much := in(v.Dose, x.base)
	switch {
	case much.Cmp(in(p.Low, x.base)) < 0:
		p.Much = Less
	case much.Cmp(in(p.High, x.base)) > 0:
		p.Much = More
	default:
		p.Much = Right
	}
	switch ago := g.minutes(); {
	case x.u.Before.IsZero():
		p.Time = NoWindow
	case ago == nil:
		p.Time = NoTime
	default:
		before := at.Plus(ago)
		p.Before = minutesSigned(before)
		switch {
		case before.Cmp(in(x.u.Before.High, quantity.Minute)) > 0:
			p.Time = Early
		case before.Cmp(in(x.u.Before.Low, quantity.Minute)) < 0:
			p.Time = Late
		default:
			p.Time = InTime
		}
	}
	return p, nil
}
