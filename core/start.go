package core

import (
	"context"
	"maps"
	"slices"
	"time"

	"chinlift/core/formulary"
	"chinlift/core/kit"
	"chinlift/core/term"
	"chinlift/core/timeline"
)

// StartView is the page in the hand before the start: what is settled, what is
// missing, and what changes the plan. It holds the plan for what the clinic
// marked as stops, and for nothing else; it never holds the start itself.
type StartView struct {
	Head
	Held      []Hold   // stops that are open
	Changes   []Cited  // what changes the plan
	Missing   []Field  // what is usually asked and is not known
	Settled   []string // what is, in words
	Pauses    []PauseState
	Kits      []KitState
	Notice    string // about the fasting rules
	Start     string // planned, clock time
	Began     string // when it began; empty before
	Precheck  string // how long ago the look again was, where that is too long
	PlanIs    string // the plan in one line
	DrinkTill string
	Day       []DayCase // who waits, in the order of the list
}

// Hold is one open stop, and where it is answered.
type Hold struct {
	Words, Href string
	No          bool // looked at, and not so
	Fact        bool // something that the visit asks
}

// lookAgainWithin is how old the look before the first drop may be: it is to be
// just before (house choice, no source).
const lookAgainWithin = 30 * time.Minute

// kitsFor gives the state of the equipment lists of the planned techniques, as
// it is for this case: its own beginning makes nothing due again.
func (c *Companion) kitsFor(ctx context.Context, cs *Case) ([]KitState, error) {
	lists, begun, err := c.listsNow(ctx, cs.ID)
	if err != nil {
		return nil, err
	}
	var some []KitState
	for _, l := range kit.For(lists, cs.Plan.Techniques...) {
		k, _, err := c.kitState(ctx, l, begun)
		if err != nil {
			return nil, err
		}
		some = append(some, k)
	}
	return some, nil
}

// kitLine says in one line how equipment stands today.
func (s Speaker) kitLine(k *KitState) string {
	state := s.Say("kit.all-stops")
	if k.Stops > 0 {
		state = s.Count("kit.stops", k.Stops)
	}
	faults := ""
	if k.Faults > 0 {
		faults = s.Count("kit.faults", k.Faults)
	}
	return k.Name + ": " + join(" · ", state, faults)
}

// Premed is how a planned premedication stands.
type Premed struct {
	Drug, Words  string
	Wrong, Given bool
}

// premeds gives how the premedications of a case stand, in amount and time.
func (c *Companion) premeds(ctx context.Context, cs *Case) ([]Premed, error) {
	f, confirmed, now, err := c.rulesNow(ctx)
	if err != nil {
		return nil, err
	}
	s := Speaker{c.words}
	var all []Premed
	for _, code := range cs.drugs() {
		d := f.Find(code)
		if d == nil || d.Retired {
			continue
		}
		var use *Premed
		for i := range d.Uses {
			u := &d.Uses[i]
			if u.Purpose != term.PurposePremedication {
				continue
			}
			// What is planned for the induction too is not late for want of a premedication.
			given := slices.ContainsFunc(cs.Entries, func(e *timeline.Entry) bool {
				p, ok := e.Now().Payload.(*timeline.Drug)
				return ok && e.In(cs.ID) && p.Drug == code
			})
			if !given && slices.ContainsFunc(d.Uses, func(o formulary.Use) bool { return o.Purpose == term.PurposeInduction }) {
				continue
			}
			r := c.asked(ctx, cs, now.Wall, "")
			r.Drug, r.Use, r.Route = d.Code, u.Code, u.Routes[0]
			v := c.premed(ctx, cs, f, d, u, r, now)
			if v == nil {
				continue
			}
			notYet := ""
			if !given {
				notYet = s.Say("formulary.timing.not-given")
			}
			// The use by the route by which it was given speaks for the drug.
			words := join(" · ", s.Drug(d.Code), notYet, v.Given, v.Window, v.State)
			if _, ok := confirmed[ruleKey{d.Code, u.Code, timeline.Hash(u.Hash())}]; !ok {
				words = s.unconfirmed(words, "")
			}
			p := Premed{d.Code, words, v.Wrong || v.Code == string(formulary.Late), v.Given != ""}
			if use == nil || p.Given && !use.Given {
				use = &p
			}
		}
		if use != nil && (use.Given || slices.Contains(cs.Plan.Drugs, code)) {
			all = append(all, *use)
		}
	}
	return all, nil
}

// openStops gives what of the stops is open in a case at a time, for its start
// or for one of the later phases that a pause comes before.
func (c *Companion) openStops(ctx context.Context, cs *Case, phase term.Phase, at time.Time) ([]Hold, error) {
	marked, err := c.marked(ctx, at)
	if err != nil {
		return nil, err
	}
	base := "case/" + cs.ID + "/"
	var all []Hold
	pauses := []string{beforePhase[phase]}
	if phase == term.PhaseAnaesthesiaStart {
		pauses = atStart
		for _, f := range c.visitFieldsOf(cs) {
			if f.First && f.Value == "" && marked[visitStop(f.Name)] {
				all = append(all, Hold{Words: f.Label, Href: base + "visit/" + f.Page, Fact: true})
			}
		}
		kits, err := c.KitOpen(ctx, cs)
		if err != nil {
			return nil, err
		}
		for _, k := range kits {
			for _, code := range k.Failed {
				all = append(all, Hold{Words: join(": ", k.Named[code], c.words.Say("start.at-fault")), Href: "kit/" + k.List, No: true})
			}
			for _, code := range k.Left {
				all = append(all, Hold{Words: k.Named[code], Href: "kit/" + k.List})
			}
		}
	}
	for _, code := range pauses {
		l, err := findPause(code)
		if err != nil {
			return nil, err
		}
		for _, it := range c.pauseItems(cs, l, marked, at) {
			if it.Stop && it.open() {
				all = append(all, Hold{Words: join(": ", it.Name, it.AnswerWords), Href: base + "pause/" + code, No: it.Answer != ""})
			}
		}
	}
	return all, nil
}

// startsWith gives the phase that a payload begins, as far as stops are held
// against it: its own, or the start of an anaesthetic that nobody marked.
func startsWith(cs *Case, p timeline.Payload) term.Phase {
	switch p := p.(type) {
	case *timeline.Phase:
		if p.Phase == term.PhaseAnaesthesiaStart && cs.Began.IsZero() || beforePhase[p.Phase] != "" {
			return p.Phase
		}
	case *timeline.AgentDelivery:
		if cs.Began.IsZero() && p.Agent != "" && !p.Off && !(p.Drops.IsZero() && p.Percent.IsZero() && p.Wetness == "") {
			return term.PhaseAnaesthesiaStart
		}
	case *timeline.Block:
		if cs.Began.IsZero() {
			return term.PhaseAnaesthesiaStart
		}
	}
	return ""
}

// passed gives the reason that is owed where something began and a stop was
// open: gone past one that was answered no or found at fault, or begun without
// the check. The beginning itself is a fact, and is recorded.
func (c *Companion) passed(ctx context.Context, f *Form, t *Tap, old *timeline.Entry) ([]Tap, error) {
	if old != nil || t.Scope != timeline.ScopeCase {
		return nil, nil
	}
	cs, err := c.Case(ctx, f.Case)
	if err != nil {
		return nil, err
	}
	debt := Tap{ID: derived(t.ID, "passed"), Scope: timeline.ScopeCase, About: f.Case, At: t.At}
	owed := func(why term.Owed) []Tap {
		debt.Payload = &timeline.Owed{Act: term.OwedActOwed, For: why, Over: t.ID}
		return []Tap{debt}
	}
	if cs.Story.Find(t.ID) != nil { // a retry says what was said
		if d := cs.Story.Find(debt.ID); d != nil {
			if first, ok := d.Versions[0].Payload.(*timeline.Owed); ok {
				debt.At = d.Versions[0].At
				return owed(first.For), nil
			}
		}
		return nil, nil
	}
	phase := startsWith(cs, t.Payload)
	if phase == "" {
		return nil, nil
	}
	at := t.At.Time
	if at.IsZero() {
		at = c.clock.Now().Wall
	}
	open, err := c.openStops(ctx, cs, phase, at)
	switch {
	case err != nil || len(open) == 0:
		return nil, err
	case slices.ContainsFunc(open, func(h Hold) bool { return h.No }):
		return owed(term.OwedStopPassed), nil
	}
	return owed(term.OwedStartedWithoutCheck), nil
}

// Passed says in words which stops of the pauses were open when an entry
// began something.
func (c *Companion) Passed(ctx context.Context, cs *Case, entry string) ([]Cited, error) {
	e := cs.Story.Find(entry)
	if e == nil {
		return nil, nil
	}
	phase := term.PhaseAnaesthesiaStart
	switch p := e.Now().Payload.(type) {
	case *timeline.Phase:
		phase = p.Phase
	case *timeline.AgentDelivery, *timeline.Block:
	default:
		return nil, nil
	}
	at := e.Now().At.Time
	marked, err := c.marked(ctx, at)
	if err != nil {
		return nil, err
	}
	pauses := atStart
	if phase != term.PhaseAnaesthesiaStart {
		if beforePhase[phase] == "" {
			return nil, nil
		}
		pauses = []string{beforePhase[phase]}
	}
	var all []Cited
	for _, code := range pauses {
		l, err := findPause(code)
		if err != nil {
			return nil, err
		}
		for _, it := range c.pauseItems(cs, l, marked, at) {
			if it.Stop && it.open() {
				all = append(all, Cited{Text: join(": ", it.Name, it.AnswerWords)})
			}
		}
	}
	return all, nil
}

// StartOf gives the page.
func (c *Companion) StartOf(ctx context.Context, id string) (StartView, error) {
	h, cs, err := c.HeadOf(ctx, id)
	if err != nil {
		return StartView{}, err
	}
	s, now := Speaker{c.words}, c.clock.Now()
	v := StartView{Head: h, Start: s.Clock(cs.Plan.Start), Began: s.Clock(cs.Began)}
	if v.Held, err = c.openStops(ctx, cs, term.PhaseAnaesthesiaStart, now.Wall); err != nil {
		return v, err
	}
	if v.Pauses, err = c.pauseStates(ctx, cs); err != nil {
		return v, err
	}
	v.Pauses = slices.DeleteFunc(v.Pauses, func(p PauseState) bool { return !slices.Contains(atStart, p.Code) })
	if v.Kits, err = c.kitsFor(ctx, cs); err != nil {
		return v, err
	}
	for _, f := range c.visitFieldsOf(cs) {
		switch {
		case f.First && f.Value == "":
			f.Head = Mini{cs.ID, cs.For(s)}
			v.Missing = append(v.Missing, f)
		case f.First:
			v.Settled = append(v.Settled, f.Label+": "+f.Value)
		}
	}
	change := func(all ...Cited) { v.Changes = append(v.Changes, all...) }

	fast, err := c.Fasting(ctx, cs)
	if err != nil {
		return v, err
	}
	v.Notice, v.DrinkTill = fast.Notice, fast.DrinkUntil
	switch term.Fasting(fast.Code) {
	case term.FastingNotAsked, "":
	case term.FastingLongEnough:
		v.Settled = append(v.Settled, fast.Verdict)
	default:
		words := fast.Verdict
		if fast.Decides != "" && fast.Earliest != "" {
			words = s.Say("fasting.wait-for", "verdict", fast.Verdict, "what", fast.Decides, "at", fast.Earliest)
		}
		change(Cited{Text: words})
	}
	for _, d := range fast.Delays {
		change(Cited{Text: s.Say("fasting.slow", "what", d.Text), Source: d.Source})
	}
	if a := s.airway(&cs.Facts); len(a.Warns) > 0 {
		for _, w := range a.Warns {
			change(Cited{Text: w})
		}
		if slices.Contains(a.Cautions, s.Say("patient.caution.not-asleep-by-vein")) {
			change(Cited{Text: s.Say("patient.caution.not-asleep-by-vein"), Source: a.Source})
		}
	}
	f := &cs.Facts
	if f.Before == term.EarlierTrouble || f.Family == term.EarlierTrouble {
		change(Cited{Text: join(" · ", s.pair("anaesthetics_before", Code(s, term.EarlierList, f.Before)), s.pair("family", Code(s, term.EarlierList, f.Family)))})
	}
	if len(f.Warnings) > 0 {
		change(Cited{Text: list(s, term.WarningList, f.Warnings)})
	}
	if slices.Contains(f.With, term.ConditionRecentCold) {
		change(Cited{Text: Code(s, term.ConditionList, term.ConditionRecentCold)})
	}
	if f.Assistant == timeline.No {
		change(Cited{Text: s.Say("start.alone"), Source: s.Say("start.alone-source")})
	}
	if a := s.allergies(cs); a != "" {
		change(Cited{Text: a})
	}
	change(c.restOutOfLimits(cs)...)
	premed, err := c.premeds(ctx, cs)
	if err != nil {
		return v, err
	}
	for _, p := range premed {
		if p.Wrong || !p.Given {
			change(Cited{Text: p.Words})
		} else {
			v.Settled = append(v.Settled, p.Words)
		}
	}
	stops, err := c.planStops(ctx, cs)
	if err != nil {
		return v, err
	}
	change(stops...)
	v.Precheck = c.lookedAgain(cs, now.Wall)
	if v.Day, err = c.dayList(ctx, cs); err != nil {
		return v, err
	}
	if e, p := last[*timeline.Plan](cs, nil); e != nil {
		v.PlanIs = s.plan(p)
	}
	return v, nil
}

func (s Speaker) allergies(cs *Case) string { return cs.Allergies(s) }

// planStops gives the reasons not to give what is planned, drug by drug.
func (c *Companion) planStops(ctx context.Context, cs *Case) ([]Cited, error) {
	f, confirmed, now, err := c.rulesNow(ctx)
	if err != nil {
		return nil, err
	}
	s := Speaker{c.words}
	codes := slices.Clone(cs.Plan.Drugs)
	if a := cs.Plan.Agent; a != "" {
		codes = append(codes, string(a))
	}
	var all []Cited
	for _, code := range codes {
		d := f.Find(code)
		if d == nil || d.Retired {
			continue
		}
		for _, u := range cs.usesNow(f, d, c.asked(ctx, cs, now.Wall, "")) {
			all = s.addStops(all, c.doseView(ctx, cs, f, d, u, "", confirmed, now))
		}
		if d.Class == term.DrugClassInhaled {
			for i := range d.Uses {
				all = s.addStops(all, c.doseView(ctx, cs, f, d, &d.Uses[i], "", confirmed, now))
			}
		}
	}
	return all, nil
}

// addStops adds the reasons not to give a drug, each once.
func (s Speaker) addStops(to []Cited, v DoseView) []Cited {
	for _, x := range v.Stops {
		x.Text = s.unconfirmed(upperFirst(v.Words)+": "+x.Text, v.Confirmed)
		term.Add(&to, x)
	}
	return to
}

// lookedAgain says how long ago the look before the first drop was begun,
// where that is too long and nothing has been given since.
func (c *Companion) lookedAgain(cs *Case, now time.Time) string {
	if !cs.Began.IsZero() {
		return ""
	}
	oldest := time.Duration(0)
	for _, e := range cs.answers("before-first-drop", now) {
		oldest = max(oldest, ago(now, e.Now().At.Time))
	}
	if oldest <= lookAgainWithin {
		return ""
	}
	return Speaker{c.words}.Span(oldest)
}

// MoveStart plans the start at another time, because the list of the day
// changed: so many minutes later, or earlier. The rest of the plan stays. A
// plan without a start is moved from now.
func (c *Companion) MoveStart(ctx context.Context, id, caseID string, by time.Duration) (Done, error) {
	return c.changePlan(ctx, id, caseID, func(p *timeline.Plan) {
		now := c.clock.Now()
		from := p.Start
		if from.IsZero() {
			from = now.Moment()
		}
		p.Start = from.Add(by)
	})
}

// PlanStep says when a step is expected, in minutes after the start; none
// takes it out of the plan.
func (c *Companion) PlanStep(ctx context.Context, id, caseID, step, after string) (Done, error) {
	return c.changePlan(ctx, id, caseID, func(p *timeline.Plan) {
		at := term.Step(step)
		p.StepTimes = slices.DeleteFunc(slices.Clone(p.StepTimes), func(s string) bool {
			t, err := timeline.ParseStepTime(s)
			return err == nil && t.Step == at
		})
		p.Steps = slices.DeleteFunc(slices.Clone(p.Steps), func(s term.Step) bool { return s == at })
		if after != "none" {
			p.Steps = append(p.Steps, at)
			p.StepTimes = append(p.StepTimes, step+" "+after+" min")
		}
	})
}

// changePlan records the plan with a change. A retry records what the first
// try did.
func (c *Companion) changePlan(ctx context.Context, id, caseID string, change func(*timeline.Plan)) (Done, error) {
	cs, err := c.Case(ctx, caseID)
	if err != nil {
		return Done{}, err
	}
	if err := cs.planAtHand(id); err != nil {
		return Done{}, err
	}
	return c.Record(ctx, planTap(cs, id, change))
}

// planAtHand answers ErrSealed where the surgeon's words for the plan are
// sealed: a plan that repeats it would lose them. A retry repeats nothing.
func (cs *Case) planAtHand(id string) error {
	if cs.planSealed && cs.Story.Find(id) == nil {
		return ErrSealed
	}
	return nil
}

// planTap makes a plan of a case with a change, or what was stored under this
// id.
func planTap(cs *Case, id string, change func(*timeline.Plan)) Tap {
	t := Tap{ID: id, Scope: timeline.ScopeCase, About: cs.ID}
	if e := cs.Story.Find(id); e != nil {
		t.Payload, t.Private, t.At = e.Versions[0].Payload, maps.Clone(e.Versions[0].Private()), e.Versions[0].At
		delete(t.Private, timeline.PrivateSalt)
		return t
	}
	p := cs.Plan
	change(&p)
	t.Payload = &p
	if cs.PlanText != "" {
		t.Private = timeline.Private{timeline.PrivateText: cs.PlanText}
	}
	return t
}

// StepsPlanned writes when the steps of an operation are expected; empty where
// nobody said.
func (c *Companion) StepsPlanned(cs *Case) string { return Speaker{c.words}.stepTimes(&cs.Plan) }
