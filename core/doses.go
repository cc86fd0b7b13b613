package core

import (
	"cmp"
	"context"
	"errors"
	"maps"
	"slices"
	"strconv"
	"strings"
	"time"

	"chinlift/core/formulary"
	"chinlift/core/patient"
	"chinlift/core/quantity"
	"chinlift/core/term"
	"chinlift/core/timeline"
)

// DoseView is what the rules say of one use of a drug for one patient now. It
// is what a person reads before deciding; the companion decides nothing.
type DoseView struct {
	Case, Drug, Words string
	Class, ClassWords string
	Use, UseWords     string
	Route, RouteWords string
	Routes            []Choice
	Rescue            bool
	Range, Full       string       // the range; what it would be without its cap, where it has one
	Capped            bool         // the cap holds down what is suggested, and not only the end of the range
	Keys              []DoseKey    // amounts to tap: what is suggested first
	HowTo             string       // how it is measured out
	Board             []string     // what is on board, what is left
	Waits             bool         // it is too soon
	Next              string       // when the next may be given
	Stops             []Cited      // reasons not to
	Now               []Cited      // cautions that this patient, or what was given, calls for
	Beware            []Cited      // cautions that stand with the drug for everybody
	Most              string       // the most that may be given now, with its volume: of a local anaesthetic
	Rule              []Cited      // the rule as it stands in the book, where no weight is known
	Prepare           string       // how to make what is drawn up, where it is no ampoule as it is
	Unsure            []string     // what the weight is worth, and what was assumed
	Steps             []Cited      // the working
	Sourced           []Cited      // where its stops and cautions come from
	Problem           string       // why there is no dose; then there are no keys
	Unasked           []string     // conditions that the rule turns on and nobody asked for
	Confirmed         string       // who stands for the rule, or empty
	Hash              string       // of the rule
	Premed            *PremedView  // of a premedication with a planned start
	Doubt             *WeightDoubt // that the weight is far from the age, and nobody looked again; it stands before the number
	Lacks             string       // the field of the patient that nobody knows and the dose goes by
	infusion          bool
	steps             bool // goes in steps to effect, and is no rescue
}

// Cited is a sentence with where it comes from.
type Cited struct{ Text, Source, Mark string }

// DoseKey is an amount that one tap records.
type DoseKey struct {
	Set       []string // fields and values of the form
	Text, Sub string   // the amount; the volume
	Doubt     string   // before the amount: the weight that is to be looked at again
	Suggested bool
	Name      string // of the control
}

// PremedView is when a premedication is due.
type PremedView struct {
	Window string // when to give it
	State  string // early, now, late
	Code   string
	Works  string
	Given  string // how what was given stands to the rule
	Wrong  bool   // in amount or time
}

// asked is a question to the rules at a time, with all that the case tells.
// One entry may be left out, the one that is asked about; also are doses that
// are not in the case yet. What lies after the time does not count, but for
// what was entered as of a few minutes ahead, or before a clock was set back:
// asked about now, all that was given was given.
func (c *Companion) asked(ctx context.Context, cs *Case, at time.Time, but string, also ...given) formulary.Request {
	f := &cs.Facts
	r := formulary.Request{Patient: patientOf(f), Pregnant: f.Pregnant == timeline.Yes, With: f.With, Hazards: cs.Plan.Hazards}
	until := at
	if now := c.clock.Now().Wall; !at.Before(now.Add(-time.Minute)) {
		until = now.AddDate(100, 0, 0)
	}
	counts := func(e *timeline.Entry) bool { return e.ID != but && !e.Now().At.After(until) }
	for e, p := range timeline.Each[*timeline.Drug](cs.Entries, cs.ID) {
		if counts(e) {
			r.Given = append(r.Given, givenOf(p, e.Now().At.Time, at))
		}
	}
	r.Given = append(r.Given, cs.infused(at, until, but, c.givingSets(ctx, at))...)
	others, _ := c.sameAs(ctx, cs)
	r.Given = append(r.Given, c.givenIn(ctx, others, at, until)...)
	for _, g := range also {
		if !g.at.After(until) && g.way == formulary.Bolus {
			r.Given = append(r.Given, formulary.Given{Drug: g.drug, Route: g.route, Dose: g.dose, Strength: g.strength, Ago: minutes(ago(at, g.at))})
		}
	}
	for _, e := range cs.Entries {
		if p, ok := e.Now().Payload.(*timeline.AgentDelivery); ok && e.In(cs.ID) && counts(e) && p.Agent != "" && !slices.Contains(r.Agents, p.Agent) {
			r.Agents = append(r.Agents, p.Agent)
		}
	}
	if e := cs.latest.support; e != nil && counts(e) {
		if p, ok := e.Now().Payload.(*timeline.Support); ok && p.Support == term.SupportControlled && !slices.Contains(r.With, term.ConditionVentilated) {
			r.With = append(slices.Clip(r.With), term.ConditionVentilated)
		}
	}
	// What is planned counts before it runs: its cautions come too late after.
	if a := cs.Plan.Agent; a != "" && !slices.Contains(r.Agents, a) {
		r.Agents = append(r.Agents, a)
	}
	return r
}

func givenOf(p *timeline.Drug, given, now time.Time) formulary.Given {
	g := formulary.Given{Drug: p.Drug, Route: p.Route, Dose: p.Dose, Strength: p.Strength, Ago: minutes(ago(now, given))}
	// A use that nobody named must count in every total.
	if p.Frozen != nil && !p.Frozen.Guessed {
		g.Use = p.Frozen.Use
	}
	return g
}

// infusing is a stretch of one rate of an infusion; a zero to is for one that
// runs.
type infusing struct {
	p        *timeline.Infusion // the rate, and what was said before and holds on
	run      string
	hung     time.Time // when the infusion was started: it runs through the set of that time
	from, to time.Time
}

// infusions gives the stretches of the infusions of a case up to a time, in
// the order in which they end; those that run come last.
func (cs *Case) infusions(until time.Time, but string) (all []infusing) {
	running := map[string]infusing{}
	for e, p := range timeline.Each[*timeline.Infusion](cs.Entries, cs.ID) {
		at := e.Now().At.Time
		if e.ID == but || !until.IsZero() && at.After(until) {
			continue
		}
		run := p.Run
		if p.Act == term.InfusionActStarted {
			run = e.ID
		}
		before, ran := running[run]
		if ran {
			delete(running, run)
			before.to = at
			all = append(all, before)
		}
		if p.Act != term.InfusionActStopped {
			// A change says the rate; what it does not say stays.
			q := *p
			if ran && q.Drug == before.p.Drug {
				q.Route = cmp.Or(q.Route, before.p.Route)
				if q.Strength.IsZero() {
					q.Strength = before.p.Strength
				}
			}
			hung := at
			if ran {
				hung = before.hung
			}
			running[run] = infusing{p: &q, run: run, hung: hung, from: at}
		}
	}
	for _, run := range slices.Sorted(maps.Keys(running)) {
		all = append(all, running[run])
	}
	return all
}

// dropSpread is by how much the drops of a set may be larger or smaller than
// its packet says: 20 drops of water, or 60, are 1 mL within 0.1 mL (ISO 8536-4,
// infusion sets for single use, from memory).
var dropSpread = quantity.MustParse("0.1 1")

// flowOf gives a rate in drops as a flow through a set; any other rate, and one
// through a set that nobody knows, as it is.
func flowOf(rate, set quantity.Amount) quantity.Amount {
	if rate.Unit != quantity.DropsPerMin || set.IsZero() {
		return rate
	}
	flow, err := rate.Div(set, quantity.MLPerH)
	if err != nil {
		return rate
	}
	return flow.Round(6)
}

// dose gives what ran in of a stretch in a time. A rate in drops is a volume by
// the set that it runs through, from low to high; without a set it has none, and
// is given as the rate that it is.
func (s *infusing) dose(weight, set quantity.Amount, d time.Duration) (low, high quantity.Amount) {
	rate := flowOf(s.p.Rate, set)
	if rate.Unit.Dimension() == quantity.MassPerMassTime {
		if r, err := rate.Mul(weight, quantity.MgPerH); err == nil {
			rate = r
		}
	}
	given := s.p.Rate
	for _, into := range []quantity.Unit{quantity.Mg, quantity.ML, quantity.IU} {
		if dose, err := rate.Mul(minutes(d), into); err == nil {
			given = dose.Round(6)
		}
	}
	if s.p.Rate.Unit != quantity.DropsPerMin || given.Unit != quantity.ML {
		return given, given
	}
	off, err := given.Mul(dropSpread, quantity.ML)
	if err != nil {
		return given, given
	}
	low, errLow := given.Sub(off)
	high, errHigh := given.Add(off)
	if errLow != nil || errHigh != nil {
		return given, given
	}
	return low.Round(6), high.Round(6)
}

// infused gives what ran in by infusions up to a time, each stretch of one rate
// as a dose given at its end: none of it counts as gone sooner than it is. Of a
// rate in drops the more is counted; without a set it is given as the rate that
// it is, and no total counts it.
func (cs *Case) infused(at, until time.Time, but string, sets givingSets) []formulary.Given {
	var all []formulary.Given
	for _, s := range cs.infusions(until, but) {
		to := s.to
		if to.IsZero() {
			to = at
		}
		d := to.Sub(s.from)
		if d <= 0 || s.p.Rate.IsZero() {
			continue
		}
		_, high := s.dose(cs.Facts.Weight, sets.of(s.hung), d)
		all = append(all, formulary.Given{Drug: s.p.Drug, Route: s.p.Route, Strength: s.p.Strength, Ago: minutes(ago(at, to)), Dose: high})
	}
	return all
}

// byDrops says how uncertain what ran in of a drug by counted drops is.
func (s Speaker) byDrops(cs *Case, drug string, at time.Time, sets givingSets) (all []string) {
	for _, x := range cs.infusions(at, "") {
		to := x.to
		if to.IsZero() {
			to = at
		}
		set := sets.of(x.hung)
		if d := to.Sub(x.from); !set.IsZero() && x.p.Drug == drug && x.p.Rate.Unit == quantity.DropsPerMin && d > 0 {
			low, high := x.dose(cs.Facts.Weight, set, d)
			all = append(all, s.Say("dose.board-drops", "drug", s.Drug(drug), "rate", s.Amount(x.p.Rate), "span", s.spanOf(byStrength(low, x.p.Strength, quantity.Mg, quantity.IU, quantity.Mmol), byStrength(high, x.p.Strength, quantity.Mg, quantity.IU, quantity.Mmol))))
		}
	}
	return all
}

// givingSets is what was said of the clinic's giving sets, in the order of time.
type givingSets []givingSet

// givingSet is how many drops of a set make a mL, from a time on.
type givingSet struct {
	from  time.Time
	drops quantity.Amount
}

// givingSets gives what was said of the sets up to a time; none where nobody
// said: then nothing is counted by drops, and that is told.
func (c *Companion) givingSets(ctx context.Context, at time.Time) (all givingSets) {
	entries, err := c.settingEntries(ctx, term.SettingGivingSet)
	if err != nil {
		return nil
	}
	for e, p := range timeline.Each[*timeline.ClinicSetting](entries, string(term.SettingGivingSet)) {
		if now := e.Now().At; !now.After(at) {
			all = append(all, givingSet{now.Time, p.Value})
		}
	}
	return all
}

// of gives the set that an infusion runs through by when it was hung: another
// set of the clinic changes nothing of what hangs. Where nobody had said by then,
// it is the first that was told after. The zero Amount: nobody said.
func (g givingSets) of(hung time.Time) (set quantity.Amount) {
	for i, x := range g {
		if i == 0 || !x.from.After(hung) {
			set = x.drops
		}
	}
	return set
}

// givingSet gives how many drops of the clinic's sets make a mL at a time, or
// the zero Amount where nobody said.
func (c *Companion) givingSet(ctx context.Context, at time.Time) quantity.Amount {
	return c.givingSets(ctx, at).of(at)
}

// setOf gives the set that the rate of an infusion runs through: a change of the
// rate changes no set.
func (c *Companion) setOf(ctx context.Context, cs *Case, p timeline.Payload, at time.Time) quantity.Amount {
	hung := at
	if r, ok := p.(*timeline.Infusion); ok && r.Run != "" {
		if e := cs.Story.Find(r.Run); e != nil && e.Now().At.Before(at) {
			hung = e.Now().At.Time
		}
	}
	return c.givingSets(ctx, at).of(hung)
}

// minutes writes a length of time in whole seconds, as minutes of six
// decimals at most.
func minutes(d time.Duration) quantity.Amount {
	a := quantity.Amount{Value: quantity.DecimalFromInt(int64(d / time.Second)), Unit: quantity.Second}
	m, err := a.In(quantity.Minute)
	if err != nil {
		return quantity.Amount{} // cannot be: both are durations
	}
	return m.Round(6)
}

// Doses gives every use of a drug for the patient of a case; with use, that
// one alone. ErrNotHere where the rules do not know the drug.
func (c *Companion) Doses(ctx context.Context, cs *Case, drug, use string) ([]DoseView, error) {
	f, confirmed, now, err := c.rulesNow(ctx)
	if err != nil {
		return nil, err
	}
	d := f.Find(drug)
	if d == nil || d.Retired {
		return nil, ErrNotHere
	}
	var all []DoseView
	for i := range d.Uses {
		if u := &d.Uses[i]; use == "" || u.Code == use {
			all = append(all, c.doseView(ctx, cs, f, d, u, "", confirmed, now))
		}
	}
	if len(all) == 0 {
		return nil, ErrNotHere
	}
	return all, nil
}

// DoseOf gives one use of a drug by one of its routes.
func (c *Companion) DoseOf(ctx context.Context, cs *Case, drug, use string, route term.Route) (DoseView, error) {
	f, confirmed, now, err := c.rulesNow(ctx)
	if err != nil {
		return DoseView{}, err
	}
	d := f.Find(drug)
	if d == nil || d.Retired || d.Use(use) == nil {
		return DoseView{}, ErrNotHere
	}
	if !slices.Contains(d.Use(use).Routes, route) {
		route = ""
	}
	return c.doseView(ctx, cs, f, d, d.Use(use), route, confirmed, now), nil
}

// DrugCard is a drug of this case with the uses that matter now.
type DrugCard struct {
	Case, Drug, Words, Class, ClassWords string
	Again                                *DrugChoice // its last dose in this case; nil: none yet
	Soon                                 string      // when that may be given again, where it is too soon now
	Uses                                 []DoseView
}

// usesMost is how many uses of one drug a card shows; the others stand one tap
// away (house choice, no source).
const usesMost = 2

// PlanDoses gives the drugs that the tray offers at once: those that were
// planned or given, each with the uses that fit how far the case is.
func (c *Companion) PlanDoses(ctx context.Context, cs *Case) ([]DrugCard, error) {
	f, confirmed, now, err := c.rulesNow(ctx)
	if err != nil {
		return nil, err
	}
	s := Speaker{c.words}
	var all []DrugCard
	for _, code := range cs.drugs() {
		d := f.Find(code)
		if d == nil || d.Retired {
			continue
		}
		card := DrugCard{Case: cs.ID, Drug: code, Words: s.Drug(code), Class: string(d.Class), ClassWords: Code(s, term.DrugClassList, d.Class)}
		if again := c.DrugChoice(cs, code); again.Last != "" {
			card.Again = &again
		}
		for _, u := range cs.usesNow(f, d, c.asked(ctx, cs, now.Wall, "")) {
			v := c.doseView(ctx, cs, f, d, u, "", confirmed, now)
			if card.Again != nil && v.Waits && slices.Contains(u.Routes, term.Route(card.Again.Route)) {
				card.Soon = v.Next
			}
			card.Uses = append(card.Uses, v)
		}
		all = append(all, card)
	}
	return all, nil
}

// usesNow gives the uses of a drug that belong on the tray, what fits best
// first: premedication and induction before the anaesthetic, what keeps it up
// and what follows while it lasts; in the order of the file where two fit
// alike, but a use by the route by which the drug was given already before one
// by another. What rescues comes last, but for what lifts the pressure of a
// patient asleep; what is for a birth first, and only for a woman with child.
func (cs *Case) usesNow(f *Rules, d *formulary.Drug, r formulary.Request) []*formulary.Use {
	var was term.Route
	if _, p := last(cs, func(p *timeline.Drug) bool { return p.Drug == d.Code }); p != nil {
		was = p.Route
	}
	rank := func(u *formulary.Use) int {
		before, n := cs.Began.IsZero(), 4
		switch {
		case u.Purpose == term.PurposeObstetric || strings.Contains(u.Code, "caesarean"):
			if cs.Facts.Pregnant != timeline.Yes {
				return 9
			}
			return 0
		case u.Purpose == term.PurposeVasopressor && !before:
			return 1
		case u.Rescue:
			return 8
		case u.Purpose == term.PurposePremedication:
			n = 0
		case u.Purpose == term.PurposeInduction && before:
			n = 2
		case u.Purpose == term.PurposeInduction:
			n = 6
		}
		if was != "" && !slices.Contains(u.Routes, was) {
			n++
		}
		r.Drug, r.Use, r.Route = d.Code, u.Code, ""
		if _, err := f.Reckon(r); err != nil {
			n += 20 // for other patients, or a weight is wanting
		}
		return n
	}
	var uses []*formulary.Use
	for i := range d.Uses {
		if u := &d.Uses[i]; u.Given != formulary.Inhaled && (u.Purpose != term.PurposePremedication || cs.Began.IsZero()) {
			uses = append(uses, u)
		}
	}
	ranks := map[string]int{}
	for _, u := range uses {
		ranks[u.Code] = rank(u)
	}
	slices.SortStableFunc(uses, func(a, b *formulary.Use) int { return cmp.Compare(ranks[a.Code], ranks[b.Code]) })
	return uses[:min(len(uses), usesMost)]
}

// drugs gives the codes of the drugs of a case: what was given, the last first,
// then what is planned besides.
func (cs *Case) drugs() []string {
	var codes []string
	for _, e := range slices.Backward(cs.Entries) {
		if p, ok := e.Now().Payload.(*timeline.Drug); ok && e.In(cs.ID) {
			term.Add(&codes, p.Drug)
		}
	}
	term.Add(&codes, cs.Plan.Drugs...)
	return codes
}

func (c *Companion) doseView(ctx context.Context, cs *Case, f *Rules, d *formulary.Drug, u *formulary.Use, route term.Route, confirmed map[ruleKey]Confirmation, now Reading) DoseView {
	s := Speaker{c.words}
	if route == "" {
		route = u.Routes[0]
	}
	v := DoseView{
		Case: cs.ID, Drug: d.Code, Words: s.Drug(d.Code), Class: string(d.Class), ClassWords: Code(s, term.DrugClassList, d.Class),
		Use: u.Code, UseWords: s.useWords(d, u), Route: string(route), RouteWords: Code(s, term.RouteList, route),
		Rescue: u.Rescue, Hash: u.Hash(), infusion: u.Given != formulary.Bolus, steps: u.Titrate && !u.Rescue,
	}
	for _, r := range u.Routes {
		v.Routes = append(v.Routes, Choice{string(r), Code(s, term.RouteList, r)})
	}
	if k, ok := confirmed[ruleKey{d.Code, u.Code, timeline.Hash(u.Hash())}]; ok {
		v.Confirmed = s.Say("dose.confirmed", "by", cmpOr(k.By, s.Say("record.unnamed")), "when", s.Date(k.At))
	}
	r := c.asked(ctx, cs, now.Wall, "")
	r.Drug, r.Use, r.Route = d.Code, u.Code, route
	a, err := f.Reckon(r)
	if err != nil {
		v.Problem = s.noDose(err)
		var e *formulary.Error
		if errors.As(err, &e) {
			if e.Code == patient.Missing {
				v.Lacks = e.Field
			}
			s.alerts(&v, d, e.Alerts)
			if v.Lacks == "weight" {
				// What the rule says for each kilogram helps where nobody can weigh.
				v.Rule = s.ruleUse(d, u, s.citing(d)).Lines
			}
		}
		return v
	}
	s.alerts(&v, d, a.Alerts)
	v.Range = s.spanOf(a.Low, a.High)
	if d.Class == term.DrugClassLocalAnaesthetic && !a.Limit.IsZero() && !a.LimitVolume.IsZero() && a.Draw != nil {
		v.Most = s.Say("dose.most", "dose", s.dose(threeFigures(a.Limit, quantity.Amount.Down)), "volume", s.Amount(a.LimitVolume), "strength", s.Amount(a.Draw.Strength))
	}
	if a.CappedBy != "" {
		v.Full = s.spanOf(a.Full.Low, a.Full.High)
		low, err := a.Full.Low.Cmp(a.Low)
		v.Capped = !u.Titrate || err != nil || low != 0 // of what goes in steps the low end is suggested
	}
	v.HowTo, v.Prepare = s.howTo(d, &a, c.givingSet(ctx, now.Wall))
	v.Keys = s.doseKeys(&v, &a)
	for _, b := range a.Board {
		if line := s.board(&b); line != "" {
			v.Board = append(v.Board, line)
		}
	}
	v.Board = append(v.Board, s.byDrops(cs, d.Code, now.Wall, c.givingSets(ctx, now.Wall))...)
	for _, i := range a.Uncounted {
		v.Board = append(v.Board, s.Say("dose.board-uncounted", "what", join(" ", s.Drug(r.Given[i].Drug), s.Amount(r.Given[i].Dose))))
	}
	if !a.Next.IsZero() && a.Next.Value.Sign() > 0 {
		if n, err := a.Next.Float64(quantity.Minute); err == nil {
			wait := time.Duration(n * float64(time.Minute))
			v.Waits = true
			v.Next = s.Say("dose.next", "at", s.Clock(now.Moment().Add(wait)), "span", s.Span(wait+time.Minute-1))
		}
	} else if a.Next.IsZero() {
		v.Next = s.Say("dose.no-next")
	}
	if slices.Contains(a.Cautions, patient.WeightFarFromAge) {
		doubt, checked := s.doubted(cs)
		if v.Doubt = doubt; doubt != nil {
			for i := range v.Keys {
				v.Keys[i].Doubt = doubt.Short
			}
		}
		if checked {
			v.Unsure = append(v.Unsure, s.Say("dose.doubt-settled", "weight", s.Amount(cs.Facts.Weight)))
		}
	}
	for _, x := range a.Assumptions {
		v.Unsure = append(v.Unsure, s.Say("patient.assumption."+string(x))) //word:prefix patient.assumption.
	}
	for _, x := range a.Cautions {
		v.Unsure = append(v.Unsure, s.Say("patient.caution."+string(x))) //word:prefix patient.caution.
	}
	for _, st := range a.Steps {
		v.Steps = append(v.Steps, s.doseStep(&st))
	}
	v.Unasked = s.unasked(cs, d, u)
	v.Sourced = slices.Concat(v.Stops, v.Now, v.Beware)
	v.Premed = c.premed(ctx, cs, f, d, u, r, now)
	return v
}

// useWords says what a use is for; where another use of the drug is for the
// same by the same route, with what its code says besides.
func (s Speaker) useWords(d *formulary.Drug, u *formulary.Use) string {
	words := Code(s, term.PurposeList, u.Purpose)
	same := func(o formulary.Use) bool {
		return o.Code != u.Code && o.Purpose == u.Purpose && slices.ContainsFunc(o.Routes, func(r term.Route) bool { return slices.Contains(u.Routes, r) })
	}
	if !slices.ContainsFunc(d.Uses, same) {
		return words
	}
	var besides []string
	for _, part := range strings.Split(strings.TrimPrefix(u.Code, string(u.Purpose)), "-") {
		if part != "" && part != string(u.Purpose) && !slices.Contains(u.Routes, term.Route(part)) {
			besides = append(besides, part)
		}
	}
	if len(besides) == 0 {
		return words
	}
	return words + " (" + strings.Join(besides, " ") + ")"
}

// spanOf writes a range, in figures that a tired eye takes in: three of them,
// the low end up and the high end down.
func (s Speaker) spanOf(low, high quantity.Amount) string {
	if l, h := threeFigures(low, quantity.Amount.Up), threeFigures(high, quantity.Amount.Down); ordered(l, h) {
		low, high = l, h
	}
	low, high = s.readable(low), s.readable(high)
	if c, err := low.Cmp(high); err == nil && c == 0 {
		return s.Amount(low)
	}
	if low.Unit == high.Unit {
		return s.Say("dose.range", "low", s.Number(low), "high", s.Amount(high))
	}
	return s.Say("dose.range", "low", s.Amount(low), "high", s.Amount(high))
}

// fills says into which syringe a volume goes, and how often where it is more
// than the syringe holds.
func (s Speaker) fills(volume, syringe quantity.Amount) string {
	for n := 2; n <= 20; n++ {
		less, err := syringe.Scale(quantity.DecimalFromInt(int64(n - 1)))
		if err != nil || ordered(volume, less) {
			break
		}
		if all, err := syringe.Scale(quantity.DecimalFromInt(int64(n))); err == nil && ordered(volume, all) {
			return s.Say("dose.syringes", "n", strconv.Itoa(n), "syringe", s.Amount(syringe))
		}
	}
	return s.Say("dose.syringe", "syringe", s.Amount(syringe))
}

// ordered reports low <= high.
func ordered(low, high quantity.Amount) bool {
	c, err := low.Cmp(high)
	return err == nil && c <= 0
}

// threeFigures brings an amount to a multiple of a hundredth of its size.
func threeFigures(a quantity.Amount, to func(a, step quantity.Amount) (quantity.Amount, error)) quantity.Amount {
	if a.IsZero() || a.Value.Sign() <= 0 {
		return a
	}
	step, err := quantity.Parse("1 " + a.Unit.String())
	for ten := quantity.DecimalFromInt(10); err == nil; {
		hundred, e := step.Scale(quantity.DecimalFromInt(100))
		if c, e2 := a.Cmp(hundred); e != nil || e2 != nil {
			return a
		} else if c < 0 {
			step, err = step.Div(quantity.Amount{Value: ten, Unit: quantity.One}, step.Unit)
			continue
		}
		if thousand, e := step.Scale(quantity.DecimalFromInt(1000)); e != nil {
			return a
		} else if c, e := a.Cmp(thousand); e == nil && c >= 0 {
			step, err = step.Scale(ten)
			continue
		}
		break
	}
	if err != nil {
		return a
	}
	b, err := to(a, step)
	if err != nil {
		return a
	}
	return b
}

// dose writes an amount of a drug as labels do: from 1000 micrograms on in mg,
// from 1000 mg on in g.
func (s Speaker) dose(a quantity.Amount) string { return s.Amount(s.readable(a)) }

var larger = map[quantity.Unit]quantity.Unit{
	quantity.Ug: quantity.Mg, quantity.Mg: quantity.G, quantity.MustUnit("ug/min"): quantity.MustUnit("mg/min"), quantity.MustUnit("ug/h"): quantity.MgPerH,
}

func (s Speaker) readable(a quantity.Amount) quantity.Amount {
	for {
		unit, ok := larger[a.Unit]
		if !ok || a.IsZero() || a.Value.Cmp(quantity.DecimalFromInt(1000)) < 0 {
			return a
		}
		b, err := a.In(unit)
		if err != nil {
			return a
		}
		a = b
	}
}

// alerts puts what fired into the view: what stands with the drug for
// everybody apart from what this patient calls for.
func (s Speaker) alerts(v *DoseView, d *formulary.Drug, fired []formulary.Fired) {
	for _, a := range fired {
		line := Cited{Text: s.ruleWord("formulary.alert.", a.Code), Source: s.source(a.Source), Mark: string(a.Source.Mark)}
		general := !slices.ContainsFunc(d.Alerts, func(x formulary.Alert) bool { return x.Code == a.Code && !x.Always })
		switch {
		case a.Level == formulary.Stop:
			v.Stops = append(v.Stops, line)
		case general:
			v.Beware = append(v.Beware, line)
		default:
			v.Now = append(v.Now, line)
		}
	}
}

// ruleWord gives the words for a code of a drug's file; a code that a clinic
// made up is written as it is.
func (s Speaker) ruleWord(prefix, code string) string {
	//word:prefix formulary.alert.
	//word:prefix formulary.reduce.
	if key := prefix + code; s.Has(key) {
		return s.Say(key)
	}
	return upperFirst(strings.ReplaceAll(code, "-", " "))
}

// source writes where a number is published, and how sure that is.
func (s Speaker) source(x term.Source) string {
	if x.Title == "" {
		return ""
	}
	year := ""
	if n := strconv.Itoa(x.Year); x.Year != 0 && !strings.HasSuffix(x.Title, n) {
		year = " " + n
	}
	via := ""
	if x.Via != "" {
		via = s.Say("dose.via", "what", x.Via)
	}
	return join(", ", x.Author, x.Title+year, x.Table, via, Code(s, term.MarkList, x.Mark))
}

// sources writes several, each once.
func (s Speaker) sources(all []term.Source) string {
	return strings.Join(s.addSources(nil, all), "; ")
}

// addSources writes those of some sources that are not written yet.
func (s Speaker) addSources(to []string, all []term.Source) []string {
	for _, x := range all {
		if text := s.source(x); text != "" {
			term.Add(&to, text)
		}
	}
	return to
}

// noDose says why the rules give none.
func (s Speaker) noDose(err error) string {
	var e *formulary.Error
	if !errors.As(err, &e) {
		return s.Say("storeerror.internal")
	}
	//word:prefix formulary.error.
	key := "formulary.error." + e.Code
	if !s.Has(key) {
		key = "formulary.error.other"
	}
	return s.sayOf(key, "field", s.fieldName(e.Field), "given", s.bound(e.Given), "low", s.bound(e.Low), "high", s.bound(e.High))
}

// sayOf fills a text whose key was put together at run time: with those of the
// values that it has a place for.
func (s Speaker) sayOf(key string, pairs ...string) string {
	places := s.Placeholders(key)
	var args []any
	for i := 0; i+1 < len(pairs); i += 2 {
		if slices.Contains(places, pairs[i]) {
			args = append(args, pairs[i], pairs[i+1])
		}
	}
	return s.Say(key, args...)
}

// howTo says how the suggested dose is measured out, and how to prepare what it
// is drawn from, where that is no ampoule as it is.
func (s Speaker) howTo(d *formulary.Drug, a *formulary.Answer, set quantity.Amount) (how, prepare string) {
	if set.IsZero() {
		set = usualSet
	}
	w := a.Draw
	if w == nil || a.Suggested.IsZero() {
		return "", ""
	}
	if !a.Pieces.IsZero() {
		p := d.Presentation(w.Presentation)
		return s.Say("dose.pieces", "n", s.Number(a.Pieces), "piece", s.Amount(p.Piece), "form", s.Say("formulary.form."+string(p.Form))), "" //word:prefix formulary.form.
	}
	dissolve, dilute := "", ""
	if !w.Powder.IsZero() {
		dissolve = s.Say("dose.dissolve", "powder", s.Amount(w.Powder), "volume", s.Amount(w.Dissolve))
		if w.Vials > 1 {
			dissolve = s.Say("dose.dissolve-many", "n", strconv.Itoa(w.Vials), "powder", s.Amount(w.Powder), "volume", s.Amount(w.Dissolve))
		}
	}
	if x := w.Dilution; x != nil {
		dilute = s.Say("dose.dilute", "take", s.Amount(x.Take), "from", s.Amount(x.From), "add", s.Amount(x.Add), "with", s.diluent(x.With), "total", s.Amount(x.Total), "strength", s.Amount(x.Strength))
	}
	draw := ""
	switch {
	case !a.Flow.IsZero() && w.Strength.IsZero():
		draw = s.Say("dose.flow-plain", "flow", s.Amount(a.Flow), "drops", drops(s, a.Flow, set), "set", s.Number(set))
	case !a.Flow.IsZero():
		draw = s.Say("dose.flow", "flow", s.Amount(a.Flow), "strength", s.Amount(w.Strength), "drops", drops(s, a.Flow, set), "set", s.Number(set))
	case !w.Volume.IsZero() && !w.Strength.IsZero() && w.Syringe.IsZero():
		draw = s.Say("dose.draw-large", "volume", s.Amount(w.Volume), "strength", s.Amount(w.Strength))
	case !w.Volume.IsZero() && w.Syringe.IsZero():
		draw = s.Amount(w.Volume)
	case !w.Volume.IsZero() && !w.Strength.IsZero():
		draw = s.Say("dose.draw", "volume", s.Amount(w.Volume), "strength", s.Amount(w.Strength), "syringe", s.fills(w.Volume, w.Syringe))
	case !w.Volume.IsZero():
		draw = s.Say("dose.draw-volume", "volume", s.Amount(w.Volume), "syringe", s.fills(w.Volume, w.Syringe))
	}
	over := ""
	if !a.Over.IsZero() {
		over = s.Say("dose.over", "span", s.spanOf(a.Over.Low, a.Over.High))
	}
	prepare = join(" ", dissolve, dilute)
	return join(" ", prepare, draw, over), prepare
}

// usualSet is a common size of drops, where nobody said what the sets of the
// clinic give: an infusion without a pump is counted. Common practice, no
// source: the packet of the set says how many.
var usualSet = quantity.MustParse("20 {drop}/mL")

// drops writes a flow as drops of a set.
func drops(s Speaker, flow, set quantity.Amount) string {
	n, err := flow.Mul(set, quantity.DropsPerMin)
	if err != nil {
		return ""
	}
	return s.Number(n.Round(0))
}

func (s Speaker) diluent(code string) string {
	switch {
	case code == "":
		return s.Say("dose.diluent-open")
	case code == formulary.Water:
		return s.Say("dose.water")
	}
	return Code(s, term.FluidInList, term.FluidIn(code))
}

// board says what a total has counted.
func (s Speaker) board(b *formulary.Board) string {
	if b.Used.Value.Sign() <= 0 {
		return ""
	}
	window := s.Say("dose.in-case")
	if !b.Window.IsZero() {
		window = s.Say("dose.in-window", "span", s.Amount(b.Window))
	}
	switch b.Group {
	case formulary.Opioids:
		return s.Say("dose.board-opioid", "used", s.Amount(b.Used.Round(1)), "most", s.Amount(b.Most.Round(1)), "window", window)
	case formulary.LocalAnaesthetics:
		percent, err := quantity.Amount{Value: b.Used.Value, Unit: quantity.One}.Scale(quantity.DecimalFromInt(100))
		if err != nil {
			return ""
		}
		return s.Say("dose.board-local", "percent", s.Number(percent.Round(0)), "window", window)
	}
	if b.Most.IsZero() {
		return s.Say("dose.board-unweighed", "used", s.Amount(b.Used), "window", window)
	}
	return s.Say("dose.board", "used", s.dose(b.Used), "most", s.dose(b.Most.Round(2)), "left", s.dose(b.Left.Round(2)), "window", window)
}

// doseStep puts a step of the working into words.
func (s Speaker) doseStep(st *formulary.Step) Cited {
	var args []string
	for _, v := range st.Values {
		words := s.Amount(v.Amount)
		if v.Name == "window" && words == "" {
			words = s.Say("dose.in-case")
		}
		args = append(args, v.Name, words)
	}
	of := st.Of
	switch st.Code {
	case formulary.StepReduced:
		of = s.ruleWord("formulary.reduce.", st.Of)
	case formulary.StepStopped:
		of = s.ruleWord("formulary.alert.", st.Of)
	case formulary.StepDilution:
		of = s.diluent(st.Of)
	case formulary.StepCapped:
		of = s.Say("formulary.limit." + st.Of) //word:prefix formulary.limit.
	case formulary.StepPieces:
		of = s.Say("formulary.form." + st.Of) //word:prefix formulary.form.
	case formulary.StepAlreadyGiven:
		of = ""
		if st.Of != "" {
			of = s.Say("formulary.group." + st.Of) //word:prefix formulary.group.
		}
	}
	args = append(args, "of", of)
	//word:prefix formulary.step.
	return Cited{Text: s.sayOf("formulary.step."+string(st.Code), args...), Source: s.source(st.Source), Mark: string(st.Source.Mark)}
}

// doseKeys gives the suggested amount and one step to either side, as the
// syringe or the piece allows.
func (s Speaker) doseKeys(v *DoseView, a *formulary.Answer) []DoseKey {
	if a.Suggested.IsZero() {
		return nil
	}
	if v.infusion {
		if a.Flow.IsZero() || a.Draw == nil {
			return nil
		}
		sub := ""
		if a.Suggested.Unit.Dimension() != quantity.VolumeRate {
			sub = s.dose(threeFigures(a.Suggested, quantity.Amount.Down))
		}
		return []DoseKey{{Text: s.Amount(a.Flow), Sub: sub, Suggested: true, Name: "run-" + v.Drug + "-" + v.Use,
			Set: []string{"kind", "infusion", "act", string(term.InfusionActStarted), "drug", v.Drug, "use", v.Use, "route", v.Route, "rate", a.Flow.Value.String(), "rate_unit", a.Flow.Unit.String(),
				"strength", a.Draw.Strength.Value.String(), "strength_unit", a.Draw.Strength.Unit.String()}}}
	}
	key := func(dose, volume quantity.Amount, name string, suggested bool) DoseKey {
		k := DoseKey{Text: s.dose(dose), Suggested: suggested, Name: name}
		k.Set = []string{"kind", "drug", "drug", v.Drug, "use", v.Use, "route", v.Route, "dose", dose.Value.String(), "dose_unit", dose.Unit.String()}
		if !volume.IsZero() {
			k.Sub = s.Amount(volume)
			if dose.Unit.Dimension() != quantity.Volume {
				// A volume without its strength is a dose of any size.
				k.Sub = s.Say("dose.volume-of", "volume", s.Amount(volume), "strength", s.Amount(a.Draw.Strength))
				holds, err := volume.Mul(a.Draw.Strength, dose.Unit)
				if n, errCmp := holds.Round(5).Cmp(dose.Round(5)); err != nil || errCmp != nil || n != 0 {
					return k // the strength as it is written is not the one that was reckoned with
				}
				k.Set = append(k.Set, "volume", volume.Value.String(), "strength", a.Draw.Strength.Value.String(), "strength_unit", a.Draw.Strength.Unit.String())
			}
		}
		return k
	}
	var volume quantity.Amount
	if a.Draw != nil {
		volume = a.Draw.Volume
	}
	name := v.Drug + "-" + v.Use
	keys := []DoseKey{key(a.Suggested, volume, "dose-"+name, true)}
	if a.Draw == nil {
		return keys
	}
	// A step is about a fifth of the dose, in whole marks or pieces.
	lower, higher := s.besides(a, v.Rescue)
	if higher[0].IsZero() && v.steps {
		higher = topOf(a)
	}
	if !lower[0].IsZero() {
		keys = append([]DoseKey{key(lower[0], lower[1], "less-"+name, false)}, keys...)
	}
	if !higher[0].IsZero() {
		keys = append(keys, key(higher[0], higher[1], "more-"+name, false))
	}
	return keys
}

// topOf gives dose and volume at the upper end of the range, where what is left
// allows it and it can be measured: of what goes in steps the low end is
// suggested, and a guideline's own dose may be the upper one.
func topOf(a *formulary.Answer) (top [2]quantity.Amount) {
	if !a.Limit.IsZero() {
		if over, err := a.High.Cmp(a.Limit); err != nil || over > 0 {
			return top
		}
	}
	if n, err := a.High.Cmp(a.Suggested); err != nil || n <= 0 {
		return top
	}
	if v, ok := a.Volume(a.High); ok {
		top = [2]quantity.Amount{a.High, v}
	}
	return top
}

// stepShare is how much of the suggested dose a step from it is, at least
// (house choice, no source).
var stepShare = quantity.MustParse("0.2 1")

// millionth is how finely a dose is told; it is cut there, never rounded up.
var millionth = quantity.MustParse("0.000001 1").Value

// besides gives dose and volume one step under and one step over what is
// suggested. The higher one is there only where the range and what is left
// allow it.
func (s Speaker) besides(a *formulary.Answer, rescue bool) (lower, higher [2]quantity.Amount) {
	mark, at := a.Draw.Mark, a.Draw.Volume
	per := a.Draw.Strength
	if !a.Pieces.IsZero() {
		mark, at = quantity.MustParse("1 1"), a.Pieces
		one, err := a.Suggested.Div(a.Pieces, a.Suggested.Unit)
		if err != nil {
			return lower, higher
		}
		per = one
	}
	if mark.IsZero() || at.IsZero() {
		return lower, higher
	}
	step, err := at.Mul(stepShare, at.Unit)
	if err == nil {
		step, err = step.Up(mark)
	}
	if err != nil {
		return lower, higher
	}
	most := a.High
	if !a.Limit.IsZero() {
		if m, err := most.Min(a.Limit); err == nil {
			most = m
		}
	}
	dose := func(v quantity.Amount) (quantity.Amount, bool) {
		if per.IsZero() { // measured by volume
			return v, true
		}
		// By the suggestion, not by the strength as it is written: that of a
		// powder may have lost decimals.
		d, err := a.Suggested.Scale(v.Value)
		if err == nil {
			d, err = d.Div(quantity.Amount{Value: at.Value, Unit: quantity.One}, a.Suggested.Unit)
		}
		if err == nil {
			d, err = d.Down(quantity.Amount{Value: millionth, Unit: d.Unit})
		}
		return d, err == nil
	}
	pair := func(v quantity.Amount, err error) (p [2]quantity.Amount) {
		if err != nil || v.Value.Sign() <= 0 {
			return p
		}
		d, ok := dose(v)
		if !ok {
			return p
		}
		p[0] = d
		if a.Pieces.IsZero() {
			p[1] = v
		}
		return p
	}
	lower = pair(at.Sub(step))
	higher = pair(at.Add(step))
	over := func(p [2]quantity.Amount, most quantity.Amount) bool {
		c, err := p[0].Cmp(most)
		return err != nil || c > 0
	}
	if !higher[0].IsZero() && over(higher, most) {
		higher = [2]quantity.Amount{}
	}
	// What goes over the syringe, or over what was made up, has other marks.
	holds := []quantity.Amount{a.Draw.Syringe}
	if x := a.Draw.Dilution; x != nil {
		holds = append(holds, x.Total)
	}
	for _, most := range holds {
		if !most.IsZero() && !higher[1].IsZero() {
			if c, err := higher[1].Cmp(most); err != nil || c > 0 {
				higher = [2]quantity.Amount{}
			}
		}
	}
	// Nobody is offered less than the rule to rescue with.
	if !lower[0].IsZero() && rescue && over([2]quantity.Amount{a.Low}, lower[0]) {
		lower = [2]quantity.Amount{}
	}
	return lower, higher
}

// premed says when a planned premedication is due, or how one that was given
// stands to its rule. Nil without a planned start.
func (c *Companion) premed(ctx context.Context, cs *Case, f *Rules, d *formulary.Drug, u *formulary.Use, r formulary.Request, now Reading) *PremedView {
	if u.Purpose != term.PurposePremedication || cs.Plan.Start.IsZero() {
		return nil
	}
	s := Speaker{c.words}
	until := cs.Plan.Start.Sub(now.Wall)
	start := minutes(until)
	v := &PremedView{}
	clock := func(m quantity.Amount) string {
		n, err := m.Float64(quantity.Minute)
		if err != nil {
			return ""
		}
		return s.Clock(now.Moment().Add(time.Duration(n * float64(time.Minute))))
	}
	w, err := d.WhenToGive(u.Code, start)
	if err == nil {
		v.Code = string(w.Now)
		v.Window = s.Say("dose.window", "from", clock(w.Open), "to", clock(w.Close), "start", s.Clock(cs.Plan.Start))
		v.State = s.Say("formulary.time." + string(w.Now)) //word:prefix formulary.time.
		if !w.Works.IsZero() {
			v.Works = s.Say("dose.works", "from", clock(w.Works.Low), "to", clock(w.Works.High))
		}
	}
	// The premedication is what was given as such, or before the anaesthetic
	// without a word of what for.
	last, dose := last(cs, func(p *timeline.Drug) bool {
		return p.Drug == d.Code && slices.Contains(u.Routes, p.Route) && (p.Frozen == nil || p.Frozen.Guessed || p.Frozen.Use == u.Code)
	})
	if last == nil || !cs.Began.IsZero() && last.Now().At.After(cs.Began.Time) {
		return v
	}
	// Judged as it stood when it was given.
	then := last.Now().At.Time
	g := givenOf(dose, then, then)
	r = c.asked(ctx, cs.knownAt(last), then, last.ID)
	r.Drug, r.Use, r.Route = d.Code, u.Code, dose.Route
	p, err := f.WasGiven(r, &g, minutes(cs.Plan.Start.Sub(then)))
	if err != nil {
		return v
	}
	v.Window, v.State, v.Code, v.Works = "", "", "", ""
	v.Wrong = p.Much != formulary.Right || p.Time != formulary.InTime
	v.Given = s.Say("dose.was-given", "dose", s.Amount(p.Dose), "at", s.Clock(last.Now().At),
		"much", s.Say("formulary.much."+string(p.Much)), //word:prefix formulary.much.
		"time", s.Say("formulary.timing."+string(p.Time)), //word:prefix formulary.timing.
		"range", s.spanOf(p.Low, p.High))
	return v
}

// unasked lists the conditions that would stop a use and that nobody asked for.
func (s Speaker) unasked(cs *Case, d *formulary.Drug, u *formulary.Use) []string {
	var words []string
	add := func(codes []string, uses []string) {
		if slices.Contains(codes, formulary.Pregnant) && cs.Facts.Pregnant == "" && canBePregnant(&cs.Facts) && !slices.Contains(words, s.Say("field.pregnant")) {
			words = append(words, s.Say("field.pregnant"))
		}
		if len(uses) > 0 && !slices.Contains(uses, u.Code) {
			return
		}
		for _, x := range codes {
			k := term.Condition(x)
			if !term.ConditionList.Has(k) || slices.Contains(cs.Facts.With, k) || slices.Contains(cs.Facts.Without, k) {
				continue
			}
			if w := Code(s, term.ConditionList, k); !slices.Contains(words, w) {
				words = append(words, w)
			}
		}
	}
	for i := range d.Alerts {
		if d.Alerts[i].Level == formulary.Stop {
			add(d.Alerts[i].With, d.Alerts[i].Uses)
		}
	}
	return words
}

// turnsOn gives the conditions that the rules for the drugs of a case turn on:
// what was planned, and what was given.
func (c *Companion) turnsOn(ctx context.Context, cs *Case) ([]term.Condition, error) {
	f, err := c.Rules(ctx, c.clock.Now().Wall)
	if err != nil {
		return nil, err
	}
	var all []term.Condition
	add := func(codes []string) {
		for _, x := range codes {
			if k := term.Condition(x); term.ConditionList.Has(k) && !slices.Contains(all, k) {
				all = append(all, k)
			}
		}
	}
	codes := cs.drugs()
	if a := cs.Plan.Agent; a != "" {
		codes = append(codes, string(a))
	}
	for _, code := range codes {
		d := f.Find(code)
		if d == nil {
			continue
		}
		for i := range d.Reduces {
			add(d.Reduces[i].With)
		}
		for i := range d.Alerts {
			add(d.Alerts[i].With)
			for _, k := range d.Alerts[i].Without {
				add([]string{string(k)})
			}
		}
	}
	slices.SortFunc(all, func(a, b term.Condition) int {
		return cmp.Compare(term.ConditionList.Index(a), term.ConditionList.Index(b))
	})
	return all, nil
}
