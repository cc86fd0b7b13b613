package core

import (
	"errors"
	"slices"
	"strings"
	"sync"

	"chinlift/core/formulary"
	"chinlift/core/patient"
	"chinlift/core/quantity"
	"chinlift/core/term"
)

// Doses by the rules that come with the companion. A clinic's own files lie
// over them in a case, not here: a calculation knows no clinic.

// builtinRules reads the rules once.
var builtinRules = sync.OnceValues(formulary.Builtin)

// drugCodes and useCodes list what the rules know; a test rules out that they
// cannot be read.
func drugCodes() (codes []string) {
	f, err := builtinRules()
	if err != nil {
		return nil
	}
	for _, d := range f.Drugs() {
		codes = append(codes, d.Code)
	}
	return codes
}

func useCodes() (codes []string) {
	f, err := builtinRules()
	if err != nil {
		return nil
	}
	for _, d := range f.Drugs() {
		for _, u := range d.Uses {
			term.Add(&codes, u.Code)
		}
	}
	slices.Sort(codes)
	return codes
}

var (
	inDrug         = Input{Name: "drug", Kind: InputCode, Codes: drugCodes()}
	inUse          = Input{Name: "use", Kind: InputCode, Codes: useCodes()}
	inRoute        = Input{Name: "route", Kind: InputCode, Codes: codesOf(term.RouteList)}
	inPregnant     = Input{Name: "pregnant", Kind: InputCode, Codes: []string{yes, "no"}}
	inWith         = Input{Name: "with", Kind: InputCodes, Codes: codesOf(term.ConditionList)}
	inHazards      = Input{Name: "hazards", Kind: InputCodes, Codes: codesOf(term.HazardList)}
	inAgents       = Input{Name: "agents", Kind: InputCodes, Codes: codesOf(term.AgentList)}
	doseUnits      = []quantity.Unit{quantity.Mg, quantity.Ug, quantity.G, quantity.Grain, quantity.IU, quantity.Mmol, quantity.ML, quantity.Percent, quantity.MgPerH, quantity.MLPerH}
	inGiven        = Input{Name: "given", Kind: InputAmount, Units: doseUnits}
	inGivenAgo     = Input{Name: "given_ago", Kind: InputAmount, Units: []quantity.Unit{quantity.Minute, quantity.Hour}}
	inWish         = Input{Name: "wish", Kind: InputAmount, Units: doseUnits}
	inAtHand       = Input{Name: "strength", Kind: InputStrength, Units: anyStrength}
	inPlannedStart = Input{Name: "start", Kind: InputAmount, Units: []quantity.Unit{quantity.Minute, quantity.Hour}}
	aboutDosing    = []Input{inWeight, inAge, inLength, inSex, inWeightBy, inPremature, inPregnant, inWith}
)

var doseReckonings = []Reckoning{
	{"dose", slices.Concat([]Input{needed(inDrug), needed(inUse), inRoute}, aboutDosing, []Input{inHazards, inAgents, inAtHand, inGiven, inGivenAgo, inWish}), dose},
	{"premedication", slices.Concat([]Input{needed(inDrug), needed(inUse), needed(inPlannedStart)}, aboutDosing, []Input{inGiven, inGivenAgo}), premedication},
}

// cautionOffer is said of every dose.
var (
	cautionOffer       = Coded{areaReckon, "offer-no-order"}  // an offer by rules that may not fit
	cautionUnconfirmed = Coded{areaReckon, "not-confirmed"}   // nobody at a clinic confirmed the rule
	cautionNothing     = Coded{areaReckon, "nothing-offered"} // nothing is suggested: the working says why
)

// ofDrug narrows a use to those of the drug that was given, and a route to those
// of its use: whoever mistypes one is told these, with their routes, and not
// every use of every drug.
func (in Input) ofDrug(g Given) Input {
	f, err := builtinRules()
	if err != nil || !g.has("drug") {
		return in
	}
	d := f.Find(g.code("drug"))
	if d == nil {
		return in
	}
	switch in.Name {
	case "use":
		in.Codes, in.ways = nil, nil
		for _, u := range d.Uses {
			in.Codes = append(in.Codes, u.Code)
			in.ways = append(in.ways, u.Code+" ("+strings.Join(codesIn(u.Routes), ", ")+")")
		}
	case "route":
		if u := d.Use(g.code("use")); u != nil {
			in.Codes = codesIn(u.Routes)
		}
	}
	return in
}

func codesIn(routes []term.Route) (codes []string) {
	for _, r := range routes {
		codes = append(codes, string(r))
	}
	return codes
}

// asksDose gives the rules, the drug and what is asked of them.
func asksDose(g Given) (f *formulary.Formulary, d *formulary.Drug, r formulary.Request, err error) {
	if f, err = builtinRules(); err != nil {
		return nil, nil, r, err
	}
	r = formulary.Request{
		Drug: g.code("drug"), Use: g.code("use"), Route: term.Route(g.code("route")), Patient: g.patient(), Pregnant: g.code("pregnant") == yes,
		Strength: g.amount("strength"), Wish: g.amount("wish"),
	}
	for _, c := range g.codes("with") {
		r.With = append(r.With, term.Condition(c))
	}
	for _, c := range g.codes("hazards") {
		r.Hazards = append(r.Hazards, term.Hazard(c))
	}
	for _, c := range g.codes("agents") {
		r.Agents = append(r.Agents, term.Agent(c))
	}
	return f, f.Find(r.Drug), r, nil
}

// asFault makes a fault of an error of the rules.
func asFault(err error) error {
	var e *formulary.Error
	if !errors.As(err, &e) {
		return err
	}
	return &fault{name: e.Field, code: e.Code, low: e.Low, high: e.High}
}

// dose works out a dose by the rules.
func dose(g Given, r *Result) error {
	f, _, q, err := asksDose(g)
	if err != nil {
		return err
	}
	if g.has("given") {
		q.Given = []formulary.Given{{Drug: q.Drug, Use: q.Use, Route: q.Route, Dose: g.amount("given"), Ago: g.amount("given_ago"), Strength: q.Strength}}
	}
	a, err := f.Reckon(q)
	if err != nil {
		return asFault(err)
	}
	r.beware(cautionOffer)
	r.beware(cautionUnconfirmed)
	r.said(a.Alerts, a.Assumptions, a.Cautions)
	r.Values = append(r.Values, ResultValue{Name: "range", Low: a.Low, High: a.High, Rule: Coded{areaReckon, "dose-rule"}})
	if a.CappedBy != "" {
		r.Values = append(r.Values, ResultValue{Name: "uncapped", Low: a.Full.Low, High: a.Full.High, Rule: Coded{areaReckon, "dose-rule"}})
	}
	value := func(name string, v quantity.Amount) {
		if !v.IsZero() {
			r.Values = append(r.Values, ResultValue{Name: name, Amount: v, Rule: Coded{areaReckon, "dose-rule"}})
		}
	}
	value("suggested", a.Suggested)
	if a.Suggested.IsZero() {
		r.beware(cautionNothing)
	}
	if w := a.Draw; w != nil {
		value("drawn_strength", w.Strength)
		value("draw", w.Volume)
		value("syringe", w.Syringe)
		if x := w.Dilution; x != nil {
			value("take", x.Take)
			value("add", x.Add)
		}
	}
	value("pieces", a.Pieces)
	value("rate", a.Flow)
	value("limit", a.Limit)
	value("limit_volume", a.LimitVolume)
	for _, b := range a.Board {
		if b.Group == "" && b.Used.Value.Sign() > 0 {
			value("on_board", b.Used)
			value("left", b.Left)
		}
	}
	if a.Next.Value.Sign() > 0 {
		value("wait", a.Next)
	}
	if v := a.Wish; v != nil {
		for _, x := range v.Exceeds {
			r.exceed(x)
		}
	}
	r.works(a.Steps)
	return nil
}

// premedication tells when a premedication is due before a start, and how one
// that was given stands to its rule.
func premedication(g Given, r *Result) error {
	f, d, q, err := asksDose(g)
	if err != nil {
		return err
	}
	w, err := d.WhenToGive(q.Use, g.amount("start"))
	if err != nil {
		return asFault(err)
	}
	r.beware(cautionOffer)
	r.beware(cautionUnconfirmed)
	r.from(w.Source)
	r.Values = append(r.Values, ResultValue{Name: "give_from_now", Low: w.Open, High: w.Close, Rule: Coded{areaReckon, "premedication-time"}})
	if !w.Works.IsZero() {
		r.Values = append(r.Values, ResultValue{Name: "works_from_now", Low: w.Works.Low, High: w.Works.High, Rule: Coded{areaReckon, "premedication-time"}})
	}
	if !g.has("given") {
		r.step(timingSteps[w.Now])
		return nil
	}
	given := formulary.Given{Drug: q.Drug, Use: q.Use, Dose: g.amount("given"), Ago: g.amount("given_ago")}
	p, err := f.WasGiven(q, &given, g.amount("start"))
	if err != nil {
		return asFault(err)
	}
	r.from(p.Source)
	r.Values = append(r.Values,
		ResultValue{Name: "given_dose", Amount: p.Dose, Low: p.Low, High: p.High, Rule: Coded{areaReckon, "dose-rule"}})
	if !p.Before.IsZero() {
		r.Values = append(r.Values, ResultValue{Name: "before_start", Amount: p.Before, Low: p.Window.Low, High: p.Window.High, Rule: Coded{areaReckon, "premedication-time"}})
	}
	r.step(timingSteps[p.Time])
	r.step(muchSteps[p.Much])
	for _, x := range p.Exceeds {
		r.exceed(x)
	}
	return nil
}

// How a premedication stands to its rule, as steps.
var (
	timingSteps = map[formulary.Timing]string{
		formulary.Early: "premedication-too-early", formulary.InTime: "premedication-right", formulary.Late: "premedication-too-late",
		formulary.NoTime: "premedication-time-unknown", formulary.NoWindow: "premedication-no-window", formulary.NotGiven: "premedication-not-given",
	}
	muchSteps = map[formulary.Much]string{
		formulary.Less: "amount-less", formulary.Right: "amount-right", formulary.More: "amount-more", formulary.Nothing: "amount-not-given",
	}
)

// said puts in what an answer says of the patient.
func (r *Result) said(alerts []formulary.Fired, assumptions []patient.Assumption, cautions []patient.Caution) {
	for _, a := range alerts {
		r.beware(Coded{areaFormulary, a.Code})
		r.from(a.Source)
	}
	for _, x := range assumptions {
		r.assume(Coded{areaPatient, string(x)})
	}
	for _, x := range cautions {
		r.beware(Coded{areaPatient, string(x)})
	}
}

// works puts in the steps of a dose.
func (r *Result) works(steps []formulary.Step) {
	for _, s := range steps {
		step := ResultStep{Step: Coded{areaFormulary, string(s.Code)}, dose: &s}
		for _, v := range s.Values {
			step.Values = append(step.Values, patient.Named(v))
		}
		r.Working = append(r.Working, step)
		if s.Source.Title != "" {
			r.from(s.Source)
		}
	}
}

// exceed puts in what a dose exceeds.
func (r *Result) exceed(x formulary.Excess) {
	step := ResultStep{Step: Coded{areaFormulary, string(x.Code)}, excess: &x}
	if !x.Dose.IsZero() {
		step.Values = append(step.Values, patient.Named{Name: "dose", Amount: x.Dose})
	}
	if !x.Limit.IsZero() {
		step.Values = append(step.Values, patient.Named{Name: "limit", Amount: x.Limit})
	}
	r.Working = append(r.Working, step)
	if x.Source.Title != "" {
		r.from(x.Source)
	}
}
