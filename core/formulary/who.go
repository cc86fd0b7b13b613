package formulary

import (
	"errors"
	"slices"
	"strconv"

	"chinlift/core/exact"
	"chinlift/core/patient"
	"chinlift/core/quantity"
	"chinlift/core/term"
)

// adultYears is the age that a patient is taken for of whom only is known that
// no child is meant: within every adult band, under every reduction for age.
const adultYears = 30

// smallAdult is the weight in kg under which nobody is taken for an adult
// unasked. Not a published limit.
const smallAdult = 40

// overIdeal is how many times the ideal weight a dose goes by at most. Common
// practice.
const overIdeal = "1.2"

// who is the patient of a request, read once.
type who struct {
	Request
	f           *Formulary
	years       *exact.Number
	ageKnown    bool
	kg          *exact.Number // nil where it is not known
	ideal       *exact.Number // nil where there is none: a child, or no length or sex
	facts       []string      // conditions, and pregnant and premature
	assumptions []patient.Assumption
	cautions    []patient.Caution
}

// told makes an error of this package of one of package patient.
func told(err error) error {
	var e *patient.Error
	if errors.As(err, &e) {
		return &Error{Field: e.Field, Code: e.Code, Given: e.Given, Low: e.Low, High: e.High}
	}
	return err
}

// reads gives the patient, or what cannot be true of the request.
func (f *Formulary) reads(r Request) (*who, error) {
	if err := patient.Check(r.Patient); err != nil {
		return nil, told(err)
	}
	if r.Pregnant && (r.Patient.Sex == "" || r.Patient.Sex == term.SexUnknown) {
		r.Patient.Sex = term.SexFemale
	}
	w := &who{Request: r, f: f, years: exact.Whole(adultYears), ageKnown: !r.Patient.Age.IsZero()}
	if w.ageKnown {
		w.years = in(r.Patient.Age, quantity.Year)
	} else {
		w.assumptions = append(w.assumptions, patient.AdultAssumed)
	}
	if !r.Patient.Weight.IsZero() {
		a, err := patient.Weight(r.Patient)
		if err != nil {
			return nil, told(err)
		}
		w.kg = in(r.Patient.Weight, quantity.Kg)
		w.assumptions = append(w.assumptions, a.Assumptions...)
		w.cautions = append(w.cautions, a.Cautions...)
	}
	if !r.Patient.Length.IsZero() && (r.Patient.Sex == term.SexFemale || r.Patient.Sex == term.SexMale) {
		// An error says that the formula was not made for this patient.
		if a, err := patient.IdealWeight(r.Patient); err == nil {
			w.ideal = in(a.Value, quantity.Kg)
		}
	}
	for i, c := range r.With {
		if !term.ConditionList.Has(c) {
			return nil, &Error{Field: "with", Code: patient.UnknownCode, Given: string(c)}
		}
		if !slices.Contains(r.With[:i], c) {
			w.facts = append(w.facts, string(c))
		}
	}
	if r.Pregnant {
		w.facts = append(w.facts, Pregnant)
	}
	if r.Patient.Premature {
		w.facts = append(w.facts, Premature)
	}
	for _, a := range r.Agents {
		if !term.AgentList.Has(a) {
			return nil, &Error{Field: "agents", Code: patient.UnknownCode, Given: string(a)}
		}
	}
	for _, h := range r.Hazards {
		if !term.HazardList.Has(h) {
			return nil, &Error{Field: "hazards", Code: patient.UnknownCode, Given: string(h)}
		}
	}
	for i, g := range r.Given {
		if err := g.check("given." + strconv.Itoa(i) + "."); err != nil {
			return nil, err
		}
	}
	return w, nil
}

// check refuses what no dose can be; the fields are named with the prefix.
func (g Given) check(prefix string) error {
	if !g.Ago.IsZero() && g.Ago.Unit.Dimension() != quantity.Duration {
		return &Error{Field: prefix + "ago", Code: patient.WrongUnit, Given: g.Ago.String()}
	}
	for _, f := range []struct {
		name string
		a    quantity.Amount
	}{{"ago", g.Ago}, {"dose", g.Dose}, {"strength", g.Strength}} {
		if f.a.Value.Sign() < 0 {
			return &Error{Field: prefix + f.name, Code: patient.TooLow, Given: f.a.String()}
		}
		if code := sane(f.a); code != "" {
			return &Error{Field: prefix + f.name, Code: code, Given: f.a.String()}
		}
	}
	return nil
}

// aged reports whether the patient is in a band of age.
func (w *who) aged(s Span) bool {
	return s.IsZero() || in(s.Low, quantity.Year).Cmp(w.years) <= 0 && w.years.Cmp(in(s.High, quantity.Year)) < 0
}

// askAge is the error of a small patient without an age, where the drug has
// rules for children.
func (w *who) askAge(d *Drug) error {
	if w.ageKnown || w.kg == nil || w.kg.Cmp(exact.Whole(smallAdult)) >= 0 {
		return nil
	}
	if d.asksChildren() {
		return &Error{Field: "age", Code: patient.Missing}
	}
	return nil
}

// asksChildren reports whether anything in the drug's file turns on an age of
// up to 18 years.
func (d *Drug) asksChildren() bool {
	child := func(s Span) bool {
		if s.IsZero() {
			return false
		}
		low, high := in(s.Low, quantity.Year), in(s.High, quantity.Year)
		return low.Sign() > 0 && low.Cmp(exact.Whole(18)) <= 0 || high.Cmp(exact.Whole(18)) <= 0
	}
	for _, u := range d.Uses {
		if slices.ContainsFunc(u.Doses, func(o Dose) bool { return child(o.Age) }) ||
			slices.ContainsFunc(u.Totals, func(t Total) bool { return child(t.Age) }) {
			return true
		}
	}
	return slices.ContainsFunc(d.Reduces, func(r Reduce) bool { return child(r.Age) }) ||
		slices.ContainsFunc(d.Alerts, func(a Alert) bool { return child(a.Age) })
}

// band gives the dose of the patient's band.
func (w *who) band(u *Use) (*Dose, error) {
	why := "age"
	for i := range u.Doses {
		d := &u.Doses[i]
		if !w.aged(d.Age) {
			continue
		}
		if !d.Mass.IsZero() {
			if w.kg == nil {
				return nil, &Error{Field: "weight", Code: patient.Missing}
			}
			if w.kg.Cmp(in(d.Mass.Low, quantity.Kg)) < 0 || w.kg.Cmp(in(d.Mass.High, quantity.Kg)) >= 0 {
				why = "weight"
				continue
			}
		}
		if d.Sex != "" {
			if w.Patient.Sex == "" || w.Patient.Sex == term.SexUnknown {
				return nil, &Error{Field: "sex", Code: patient.Missing}
			}
			if d.Sex != w.Patient.Sex {
				why = "sex"
				continue
			}
		}
		return d, nil
	}
	e := &Error{Field: why, Code: patient.NoRule}
	switch why {
	case "age":
		if e.Given = w.Patient.Age.String(); !w.ageKnown {
			e.Code = patient.Missing
		}
	case "weight":
		e.Given = w.Patient.Weight.String()
	case "sex":
		e.Given = string(w.Patient.Sex)
	}
	return nil, e
}

// weighs gives the weight that a dose goes by, and which that is; nil where
// the weight is not known.
func (w *who) weighs(b Basis) (*exact.Number, Basis) {
	if w.kg == nil || w.ideal == nil {
		return w.kg, Actual
	}
	switch b {
	case Dosing:
		if most := w.ideal.Times(exact.Of(overIdeal)); w.kg.Cmp(most) > 0 {
			return most, Dosing
		}
	case Ideal:
		if w.kg.Cmp(w.ideal) > 0 {
			return w.ideal, Ideal
		}
	}
	return w.kg, Actual
}

// was reports whether a drug that fits was given within so long.
func (w *who) was(within quantity.Amount, fits func(Given) bool) bool {
	return slices.ContainsFunc(w.Given, func(g Given) bool {
		if !fits(g) {
			return false
		}
		if within.IsZero() && g.Before {
			within = beforeCounts
		}
		return within.IsZero() || g.Ago.IsZero() || in(g.Ago, quantity.Minute).Cmp(in(within, quantity.Minute)) < 0
	})
}

// class gives the class of a drug, or nothing for one that no file knows.
func (w *who) class(code string) term.DrugClass {
	if d := w.f.Find(code); d != nil {
		return d.Class
	}
	return ""
}

// meets reports whether the facts that a rule of drug d asks for are met. That
// d itself was given before does not count as one of a class: totals see to
// that.
func (w *who) meets(d *Drug, f *Facts) bool {
	return w.aged(f.Age) &&
		(len(f.With) == 0 || slices.ContainsFunc(w.facts, func(s string) bool { return slices.Contains(f.With, s) })) &&
		(len(f.Drugs) == 0 || w.was(f.Within, func(g Given) bool { return slices.Contains(f.Drugs, g.Drug) })) &&
		(len(f.Classes) == 0 || w.was(f.Within, func(g Given) bool {
			return g.Drug != d.Code && slices.Contains(f.Classes, w.class(g.Drug))
		})) &&
		(len(f.Agents) == 0 || slices.ContainsFunc(w.Agents, func(a term.Agent) bool { return slices.Contains(f.Agents, a) }))
}

// alerts gives what applies to a use by a route, stops first.
func (w *who) alerts(d *Drug, u *Use, route term.Route) []Fired {
	var stops, cautions []Fired
	for i := range d.Alerts {
		a := &d.Alerts[i]
		known := w.Patient.Sex == term.SexFemale || w.Patient.Sex == term.SexMale
		switch {
		case len(a.Uses) > 0 && !slices.Contains(a.Uses, u.Code),
			len(a.Routes) > 0 && !slices.Contains(a.Routes, route),
			a.Sex != "" && known && a.Sex != w.Patient.Sex,
			len(a.Hazards) > 0 && !slices.ContainsFunc(w.Hazards, func(h term.Hazard) bool { return slices.Contains(a.Hazards, h) }),
			slices.ContainsFunc(a.Without, func(c term.Condition) bool { return slices.Contains(w.With, c) }),
			a.NotPregnant && w.Pregnant,
			len(a.WithoutClasses) > 0 && w.was(a.Within, func(g Given) bool { return slices.Contains(a.WithoutClasses, w.class(g.Drug)) }),
			!w.meets(d, &a.Facts):
			continue
		}
		f := Fired{a.Code, a.Level, d.Sources[a.Source], a.Planned}
		if a.Level == Stop {
			stops = append(stops, f)
		} else {
			cautions = append(cautions, f)
		}
	}
	// What stops need not caution as well.
	cautions = slices.DeleteFunc(cautions, func(c Fired) bool {
		return slices.ContainsFunc(stops, func(s Fired) bool { return s.Code == c.Code })
	})
	return append(stops, cautions...)
}
