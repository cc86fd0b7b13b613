package core

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"hash/fnv"
	"math"
	"slices"
	"strconv"
	"sync"
	"time"

	"chinlift/core/agent"
	"chinlift/core/depth"
	"chinlift/core/quantity"
	"chinlift/core/term"
	"chinlift/core/timeline"
	"chinlift/core/uptake"
)

// DepthView is the sheet of depth: what package depth makes of what was
// recorded, in words. It is not a monitor, and says so first.
type DepthView struct {
	Not        []string // what it is not
	NotHere    []string // why it does not hold for this patient, or now; empty: it does
	Withdrawn  []string // why it was taken back while it held
	Range      string   // of depth now; empty: there is none
	Deep       string   // the stage at its deep end, which is told first: light is what it must not be taken for
	Light      string   // and at its light end, where that is another
	Drift      string   // signs and model have parted
	Signs      []DepthSign
	Says       string // the stages that the signs leave, or which way they lean
	Asks       []string
	Leads      []DepthLead
	Conditions string // that all the leads hold under
	Clocks     []DepthClock
	Cautions   []string
	Sources    []string
	Version    string

	// At is the clock time that it stands for. It does not follow what happens:
	// from Till on the last signs or vitals are too old for it, and a screen shows
	// it no longer. Fades counts the half minutes until then, the one that has
	// begun among them; 0 where there is no estimate.
	At    string
	Till  time.Time
	Fades int

	// What the leads are reckoned by, and what else they may be, one key each.
	Given   string
	Choices []DepthChoice
	Oxygen  []string // what may be breathed of it, and what is left of it, an estimate
	NotKept string   // what is shown could not be kept in the record
}

// DepthIf is what the times ahead take for given from now on. The zero DepthIf is
// what is given.
type DepthIf struct{ Way, Code string } // drops, percent or wetness, and the key of the tray

// DepthChoice is a key that shows the times ahead under another setting. It
// records nothing and advises nothing.
type DepthChoice struct {
	DepthIf
	Words string
	Here  bool
}

// DepthSign is one sign beside the table.
type DepthSign struct {
	Sign, Value, At string // by the clock: how long ago it was would not stay true
	Says            string // stages
	Agreement       string // in words
	Conflicts       bool
	Why             []string
}

// DepthLead is a window of time. If has the conditions that are its own.
type DepthLead struct {
	What, When, If string
	Planned        string // when the plan expects what it is for; empty: nobody said, or it was done
	Cautions       []string
}

// DepthClock is where a patient is under a technique that has no depth.
type DepthClock struct {
	Title    string
	Lines    []string
	Watch    []string
	Cautions []string
	Sources  []string
}

// depthRuns keeps the simulated bodies of the cases that were looked at last,
// so that a tap only takes them further.
type depthRuns struct {
	mu   sync.Mutex
	runs []*depthRun // the one used last at the end
}

type depthRun struct {
	id, of string
	run    *depth.Run
}

// depthRunsKept bounds them: with their checkpoints each takes some ten
// megabytes, and one anaesthetist has one patient, or two.
const depthRunsKept = 2

const (
	// Bodies start before the first drop, so that what was seen and measured
	// just before it counts.
	depthBefore = 10 * time.Minute
	// An agent that was turned off acts on beside another (house choice).
	agentActs = time.Hour
	// Signs older than this are not set beside newer ones (house choice, that of
	// package depth for an estimate).
	signsFresh = 5 * time.Minute
	depthMost  = 24 * time.Hour
	// How long a clock of ketamine is shown after its last dose (house choice).
	ketamineShown = 3 * time.Hour
)

// acting says how long a drug is taken to act on breathing, signs or depth
// (house choices, no source: long rather than short, since what acts still
// withdraws the estimate, or takes its word from a sign).
func acting(code string, class term.DrugClass, route term.Route) (of depth.Drugs, d time.Duration) {
	switch class {
	case term.DrugClassOpioid:
		if code == "fentanyl" {
			return depth.Drugs{Opioid: true}, time.Hour
		}
		return depth.Drugs{Opioid: true}, 4 * time.Hour
	case term.DrugClassBenzodiazepine:
		return depth.Drugs{Benzodiazepine: true}, 6 * time.Hour
	case term.DrugClassAnticholinergic:
		return depth.Drugs{Anticholinergic: true}, 4 * time.Hour
	case term.DrugClassRelaxant:
		if code == "suxamethonium" {
			return depth.Drugs{Relaxant: true}, 15 * time.Minute
		}
		return depth.Drugs{Relaxant: true}, 90 * time.Minute
	case term.DrugClassInduction:
		switch {
		case code != "ketamine":
			return depth.Drugs{Intravenous: true}, 20 * time.Minute
		case route == term.RouteIv || route == term.RouteIntraosseous:
			return depth.Drugs{Ketamine: true}, 30 * time.Minute
		}
		return depth.Drugs{Ketamine: true}, time.Hour
	}
	return depth.Drugs{}, 0
}

// drugSpan is a time in which a drug acts.
type drugSpan struct {
	from, to time.Time
	of       depth.Drugs
}

func both(a, b depth.Drugs) depth.Drugs {
	return depth.Drugs{
		Anticholinergic: a.Anticholinergic || b.Anticholinergic, Opioid: a.Opioid || b.Opioid, Benzodiazepine: a.Benzodiazepine || b.Benzodiazepine,
		Relaxant: a.Relaxant || b.Relaxant, Ketamine: a.Ketamine || b.Ketamine, Intravenous: a.Intravenous || b.Intravenous,
	}
}

func actingAt(spans []drugSpan, at time.Time) depth.Drugs {
	var all depth.Drugs
	for _, s := range spans {
		if !at.Before(s.from) && at.Before(s.to) {
			all = both(all, s.of)
		}
	}
	return all
}

// entriesByTime gives what stands in a case, by the time it happened at.
func (cs *Case) entriesByTime() []*timeline.Entry {
	var all []*timeline.Entry
	for _, e := range cs.Entries {
		if e.In(cs.ID) {
			all = append(all, e)
		}
	}
	slices.SortStableFunc(all, func(a, b *timeline.Entry) int { return a.Now().At.Compare(b.Now().At.Time) })
	return all
}

// drugSpans gives when drugs act that bear on depth.
func drugSpans(f *Rules, entries []*timeline.Entry, now time.Time) []drugSpan {
	class := func(code string) term.DrugClass {
		if d := f.Find(code); d != nil {
			return d.Class
		}
		return ""
	}
	var all []drugSpan
	runs := map[string]int{} // index of an infusion's span
	for _, e := range entries {
		at := e.Now().At.Time
		switch p := e.Now().Payload.(type) {
		case *timeline.Drug:
			if of, d := acting(p.Drug, class(p.Drug), p.Route); d > 0 {
				all = append(all, drugSpan{at, at.Add(d), of})
			}
		case *timeline.Infusion:
			of, d := acting(p.Drug, class(p.Drug), p.Route)
			if d == 0 {
				continue
			}
			if i, ok := runs[p.Run]; ok {
				if p.Act == term.InfusionActStopped {
					all[i].to = at.Add(d)
				}
				continue
			}
			if p.Act == term.InfusionActStarted {
				runs[e.ID] = len(all)
				all = append(all, drugSpan{at, now.Add(depthMost), of})
			}
		}
	}
	return all
}

// agentsActing gives the inhaled agents that act at a time, and when the last
// of them was first given.
func agentsActing(entries []*timeline.Entry, now time.Time) (agents []term.Agent, first time.Time) {
	began, until := map[term.Agent]time.Time{}, map[term.Agent]time.Time{}
	var d Delivery
	var last term.Agent
	var order []term.Agent
	for _, e := range entries {
		p, ok := e.Now().Payload.(*timeline.AgentDelivery)
		at := e.Now().At
		if !ok || at.After(now) {
			continue
		}
		if d.Agent != "" {
			until[d.Agent] = at.Time
		}
		d.apply(p, at)
		if d.Agent == "" {
			continue
		}
		last = d.Agent
		if _, ok := began[last]; !ok {
			began[last] = at.Time
			order = append(order, last)
		}
	}
	if d.Agent != "" {
		until[d.Agent] = now
	}
	for _, a := range order {
		if a == last || ago(now, until[a]) < agentActs {
			agents = append(agents, a)
		}
	}
	return agents, began[last]
}

// breathes is the air and the breathing that a supply is reckoned by.
type breathes struct {
	air    quantity.Amount // pressure
	perML  quantity.Amount // drops, where somebody counted them
	minute uptake.Range    // L/min
}

// supply makes a supply of what is given. used and over are of the bottle,
// absent where nobody read it twice.
func (b breathes) supply(d Delivery, used, over quantity.Amount) (depth.Supply, agent.Answer, error) {
	if d.Agent == "" {
		return depth.Off, agent.Answer{}, nil
	}
	if !d.Percent.IsZero() {
		return b.vaporiser(d)
	}
	return depth.FromOpenDrop(uptake.OpenDrop{
		Agent: d.Agent, Drops: d.Drops, PerML: b.perML, Wetness: d.Wetness, Used: used, Over: over,
		Cover: d.Cover, MinuteLPerMin: b.minute, Pressure: b.air,
	})
}

// vaporiser makes a supply of per cent. The record does not say of what kind the
// vaporiser is: the span of all that it may be counts.
func (b breathes) vaporiser(d Delivery) (depth.Supply, agent.Answer, error) {
	kinds := []uptake.VaporiserKind{uptake.Compensated, uptake.Plain}
	if d.Agent == term.AgentDesflurane {
		kinds = []uptake.VaporiserKind{uptake.Heated}
	}
	var s depth.Supply
	var a agent.Answer
	for i, k := range kinds {
		one, answer, err := depth.FromVaporiser(uptake.Vaporiser{Agent: d.Agent, Kind: k, Dial: d.Percent, Pressure: b.air, FlowLPerMin: b.minute})
		if err != nil {
			return depth.Supply{}, agent.Answer{}, err
		}
		if i == 0 {
			s, a = one, answer
			continue
		}
		r := &s.InspiredMmHg
		r.Low, r.High = min(r.Low, one.InspiredMmHg.Low), max(r.High, one.InspiredMmHg.High)
		r.Value = (r.Value + one.InspiredMmHg.Value) / 2
		a.Beware(answer.Cautions...)
		a.Cite(answer.Sources...)
		if c, err := answer.Low.Cmp(a.Low); err == nil && c < 0 {
			a.Low = answer.Low
		}
		if c, err := answer.High.Cmp(a.High); err == nil && c > 0 {
			a.High = answer.High
		}
	}
	return s, a, nil
}

// breathesIn gives the place and the body of a case. ok is false where the
// weight is not known, or is none that the model takes.
func (c *Companion) breathesIn(ctx context.Context, cs *Case, at time.Time) (b breathes, ok bool, err error) {
	h, barometer, err := c.height(ctx, at)
	if err != nil {
		return b, false, err
	}
	b.air = barometer
	if barometer.IsZero() {
		b.air = quantity.MustParse("760 mm[Hg]")
		if !h.IsZero() {
			p, err := agent.Pressure(h)
			if err != nil {
				return b, false, err
			}
			b.air = p.Value
		}
	}
	if p, set, err := c.setting(ctx, term.SettingDropsPerMl, at); err != nil {
		return b, false, err
	} else if set {
		b.perML = quantity.Amount{Value: p.Value.Value, Unit: quantity.DropsPerML}
	}
	body, _, err := uptake.NewBody(cs.Facts.Weight)
	if err != nil {
		return b, false, nil //nolint:nilerr // no weight is no fault of the companion's
	}
	flow, _, err := uptake.Ventilation(body, uptake.Breathing{})
	if err != nil {
		return b, false, err
	}
	b.minute = flow.MinuteLPerMin
	return b, true, nil
}

// bottleOver gives what left the bottle, and in what time, around a moment: by
// the readings before and after it, of the same agent.
func bottleOver(entries []*timeline.Entry, of term.Agent, at time.Time) (used, over quantity.Amount) {
	var from *timeline.Entry
	for _, e := range entries {
		p, ok := e.Now().Payload.(*timeline.AgentDelivery)
		if !ok || p.Bottle.IsZero() || p.Agent != of {
			continue
		}
		if !e.Now().At.After(at) {
			from = e
			continue
		}
		if from == nil {
			return quantity.Amount{}, quantity.Amount{}
		}
		was, ok := from.Now().Payload.(*timeline.AgentDelivery)
		minutes := e.Now().At.Sub(from.Now().At.Time).Minutes()
		left, err := was.Bottle.Sub(p.Bottle)
		if !ok || err != nil || minutes < 1 || minutes > 12*60 {
			return quantity.Amount{}, quantity.Amount{}
		}
		if c, err := left.Cmp(quantity.MustParse("0 mL")); err != nil || c <= 0 {
			return quantity.Amount{}, quantity.Amount{} // filled up meanwhile
		}
		return left, agent.Give(minutes, 1, quantity.Minute)
	}
	return quantity.Amount{}, quantity.Amount{}
}

// minuteOf gives the volume that a hand or machine gives in a minute, where it
// was said.
func minuteOf(p *timeline.Support) quantity.Amount {
	tidal, err := p.Tidal.Float64(quantity.ML)
	rate, err2 := p.Rate.Float64(quantity.PerMin)
	if p.Tidal.IsZero() || p.Rate.IsZero() || err != nil || err2 != nil || p.Support != term.SupportControlled {
		return quantity.Amount{}
	}
	return agent.Give(math.Min(60, math.Max(0.1, tidal*rate/1000)), 2, quantity.LPerMin)
}

func vitalsOf(m *timeline.Measures) depth.Vitals {
	// What was looked for and not there is the lowest that there is.
	number := func(a quantity.Amount, u quantity.Unit) float64 {
		x, err := a.Float64(u)
		if a.IsZero() || err != nil {
			return 0
		}
		return max(1, x)
	}
	v := depth.Vitals{PulsePerMin: number(m.Pulse, quantity.PerMin), SystolicMmHg: number(m.Systolic, quantity.MmHg), SpO2Percent: number(m.SpO2, quantity.Percent)}
	if v.PulsePerMin == 1 && v.SystolicMmHg == 0 {
		v.SystolicMmHg = 1 // no pulse, no pressure
	}
	return v
}

func lookOf(p *timeline.Signs) depth.Look {
	return depth.Look{
		Breathing: p.Breathing, Eyes: p.Eyes, Pupils: p.Pupils, Lid: p.Lid, Cornea: p.Cornea, Jaw: p.Jaw, Chest: p.Chest,
		Secretion: p.Secretion, Movement: p.Movement, Sweat: p.Sweat, Tears: p.Tears, Colour: p.Colour,
	}
}

// depthEvents gives what was recorded as package depth takes it, by minutes
// from the origin. What is given now comes besides; told is false where the
// record does not say how much was given at some time: bodies that breathed
// nothing meanwhile would be too light.
func depthEvents(entries []*timeline.Entry, spans []drugSpan, b breathes, origin time.Time) (events []depth.Event, given depth.Supply, answer agent.Answer, told bool) {
	told = true
	minute := func(t time.Time) float64 { return math.Max(0, t.Sub(origin).Minutes()) }
	at := []time.Time{origin}
	for _, s := range spans {
		at = append(at, s.from, s.to)
	}
	slices.SortFunc(at, time.Time.Compare)
	var was depth.Drugs
	for _, t := range at {
		if t.Before(origin) || t.Sub(origin) > depthMost {
			continue
		}
		if is := actingAt(spans, t); is != was {
			events = append(events, depth.Event{AtMin: minute(t), What: depth.WhatDrugs, Drugs: is})
			was = is
		}
	}
	var d Delivery
	rest := b.minute
	give := func(t time.Time) {
		var used, over quantity.Amount
		if d.Agent != "" {
			used, over = bottleOver(entries, d.Agent, t)
		}
		s, a, err := b.supply(d, used, over)
		if err != nil {
			told = false
			return
		}
		if given != s || answer.Value.IsZero() {
			events = append(events, depth.Event{AtMin: minute(t), What: depth.WhatSupply, Supply: s})
		}
		given, answer = s, a
	}
	for _, e := range entries {
		t := e.Now().At.Time
		if t.Sub(origin) > depthMost {
			break
		}
		switch p := e.Now().Payload.(type) {
		case *timeline.AgentDelivery:
			d.apply(p, e.Now().At)
			give(t)
		case *timeline.Support:
			events = append(events, depth.Event{AtMin: minute(t), What: depth.WhatSupport, Support: p.Support},
				depth.Event{AtMin: minute(t), What: depth.WhatMinute, Minute: minuteOf(p)})
			b.minute = rest
			if x, err := minuteOf(p).Float64(quantity.LPerMin); err == nil && x > 0 {
				b.minute = uptake.Exactly(x)
			}
			if d.Agent != "" {
				give(t)
			}
		case *timeline.Signs:
			if !t.Before(origin) {
				events = append(events, depth.Event{AtMin: minute(t), What: depth.WhatLook, Look: lookOf(p)})
			}
		case *timeline.Vitals:
			if v := vitalsOf(&p.Measures); v != (depth.Vitals{}) && !t.Before(origin) {
				events = append(events, depth.Event{AtMin: minute(t), What: depth.WhatVitals, Vitals: v})
			}
		}
	}
	slices.SortStableFunc(events, func(a, b depth.Event) int { return cmp.Compare(a.AtMin, b.AtMin) })
	return events, given, answer, told
}

// errDepthFar says that the bodies would have to go further than they may.
var errDepthFar = errors.New("the bodies stand too far away")

// advance takes the bodies of a case to a minute, and hands them to use while
// nobody else may. most bounds through how many minutes they are taken, 0 not at
// all: beyond it they stay where they are, and the error is errDepthFar.
func (r *depthRuns) advance(cs *Case, of depth.Subject, limits depth.Limits, origin time.Time, events []depth.Event, now, most float64, use func(*depth.Run) error) error {
	r.mu.Lock()
	defer r.mu.Unlock()
	key := fmt.Sprint(of, limits, origin.Unix())
	i := slices.IndexFunc(r.runs, func(x *depthRun) bool { return x.id == cs.ID })
	if most > 0 {
		reach := now // of bodies that are to be made anew
		if i >= 0 && r.runs[i].of == key {
			reach = r.runs[i].run.Reach(events, now)
		}
		if reach > most {
			return errDepthFar
		}
	}
	if i >= 0 && r.runs[i].of != key {
		r.runs = slices.Delete(r.runs, i, i+1)
		i = -1
	}
	if i < 0 {
		// The seed is the case's: whoever has its record comes to the same.
		h := fnv.New64a()
		_, _ = h.Write([]byte(cs.ID)) // a hash takes all
		run, err := depth.New(of, depth.Options{Seed: h.Sum64(), Limits: limits})
		if err != nil {
			return err
		}
		r.runs = append(r.runs, &depthRun{id: cs.ID, of: key, run: run})
		if len(r.runs) > depthRunsKept {
			r.runs = slices.Delete(r.runs, 0, 1)
		}
		i = len(r.runs) - 1
	}
	one := r.runs[i]
	r.runs = append(slices.Delete(r.runs, i, i+1), one)
	if err := one.run.Update(events, now); err != nil {
		return err
	}
	return use(one.run)
}

// DepthOf gives the sheet of depth of a case, as it stands now. Nothing is kept:
// that is for ShowDepth.
func (c *Companion) DepthOf(ctx context.Context, cs *Case) (DepthView, error) {
	v, _, err := c.depthOf(ctx, cs, DepthIf{}, true)
	return v, err
}

// depthOf gives the sheet, and what is to be kept of it where it is shown; nil
// where there is neither an estimate nor one that was taken back. Without ahead
// the times ahead are left out, and the bodies go only as far as a tap may wait
// for.
func (c *Companion) depthOf(ctx context.Context, cs *Case, if_ DepthIf, ahead bool) (DepthView, *timeline.Depth, error) {
	s, now := Speaker{c.words}, c.clock.Now()
	v := DepthView{Not: []string{s.Say("depth.no-monitor"), s.Say("depth.not-tried"), s.Say("depth.look")}, Version: depth.Version, At: s.Clock(now.Moment())}
	rules, err := c.Rules(ctx, now.Wall)
	if err != nil {
		return v, nil, err
	}
	entries := cs.entriesByTime()
	entries = slices.DeleteFunc(entries, func(e *timeline.Entry) bool { return e.Now().At.After(now.Wall) })
	spans := drugSpans(rules, entries, now.Wall)
	drugs := actingAt(spans, now.Wall)
	agents, first := agentsActing(entries, now.Wall)
	of := depth.Subject{Age: cs.Facts.Age, Weight: cs.Facts.Weight, Agents: agents}

	confirmed, err := c.confirmations(ctx)
	if err != nil {
		return v, nil, err
	}
	v.Clocks = s.depthClocks(entries, clockRules{rules, confirmed, cs.Facts.Weight}, now.Wall)
	why := depth.Applies(of, drugs)
	if of.Weight.IsZero() {
		why = append(why, depth.WeightAbsent)
	}
	switch {
	case cs.Closed:
		v.NotHere = []string{s.Say("depth.closed")}
	case len(why) > 0:
		for _, w := range why {
			if w != depth.NoAgent || len(v.Clocks) == 0 {
				v.NotHere = append(v.NotHere, s.depthReason(w))
			}
		}
	case now.Wall.Sub(first)+depthBefore > depthMost:
		v.NotHere = []string{s.Say("depth.too-long")}
	}
	if err := s.reading(&v, of, drugs, entries, now.Wall); err != nil {
		return v, nil, err
	}
	if len(v.NotHere) > 0 || len(why) > 0 {
		return v, nil, nil
	}
	b, ok, err := c.breathesIn(ctx, cs, first)
	if err != nil {
		return v, nil, err
	}
	if !ok {
		v.NotHere = []string{s.Say("depth.weight-beyond")}
		return v, nil, nil
	}
	var limits depth.Limits
	if p, set, err := c.setting(ctx, term.SettingOfferSpO2, now.Wall); err != nil {
		return v, nil, err
	} else if set {
		if limits.SpO2Percent, err = p.Value.Float64(quantity.Percent); err != nil {
			return v, nil, err
		}
	}
	origin := first.Add(-depthBefore)
	events, given, answer, told := depthEvents(entries, spans, b, origin)
	if !told {
		v.NotHere = []string{s.Say("depth.unsaid")}
		return v, nil, nil
	}
	after := depthBefore.Minutes() - 0.5 // from the first drop on
	if e, _ := cs.lastDepth(); e != nil {
		after = e.Now().At.Sub(origin).Minutes()
	}
	support, system := supportNow(entries)
	o, warned := s.oxygen(b, cs.Delivery, support, system)
	kept := &timeline.Depth{Model: depth.Version, Agent: agents[0], Drops: cs.Delivery.Drops, Percent: cs.Delivery.Percent, Wetness: cs.Delivery.Wetness}
	given, answer = c.depthIf(s, cs, b, &v, if_, kept, given, answer)
	most := 0.0
	if !ahead {
		most = depthReach.Minutes()
	}
	err = c.depths.advance(cs, of, limits, origin, events, now.Wall.Sub(origin).Minutes(), most, func(r *depth.Run) error {
		kept.Course = courseOf(r, after)
		e := r.Estimate()
		s.estimate(&v, &e, kept)
		if v.Fades > 0 {
			v.Till = now.Wall.Add(time.Duration(e.FreshMin * float64(time.Minute)))
			v.Oxygen = o
		}
		// Where the estimate is taken back no other stands in its place.
		v.Oxygen = append(v.Oxygen, warned...)
		if len(e.Withdrawn) > 0 || !ahead {
			return nil
		}
		return s.ahead(&v, r, &e, given, answer, kept, func(l *depth.Lead) string { return s.plannedFor(cs, l, now) })
	})
	if err != nil {
		return v, nil, err
	}
	if len(kept.Leads) == 0 {
		kept.Drops, kept.Percent, kept.Wetness = quantity.Amount{}, quantity.Amount{}, ""
	}
	return v, kept, nil
}

// depthIf puts the keys of other settings on the sheet, and gives the supply that
// the times ahead go by: what is given, or what was chosen.
func (c *Companion) depthIf(s Speaker, cs *Case, b breathes, v *DepthView, chosen DepthIf, kept *timeline.Depth, given depth.Supply, answer agent.Answer) (depth.Supply, agent.Answer) {
	d := cs.Delivery
	if d.Agent == "" {
		d.Agent = kept.Agent
	}
	v.Given = s.State(cs.Delivery)
	way := "drops"
	switch {
	case !d.Percent.IsZero(), !slices.Contains(opendrop, d.Agent):
		way = "percent"
	case d.Wetness != "":
		way = "wetness"
	}
	keys := deliveries[way]
	if way == "wetness" {
		keys = nil
		for _, w := range term.WetnessList.Codes() {
			keys = append(keys, string(w))
		}
	}
	at := -1
	for _, code := range keys {
		other := Delivery{Agent: d.Agent, Cover: d.Cover}
		var words string
		var same bool
		switch way {
		case "drops":
			other.Drops = quantity.MustParse(code + " " + quantity.DropsPerMin.String())
			words, same = s.Amount(other.Drops), equalAmounts(other.Drops, cs.Delivery.Drops)
		case "percent":
			other.Percent = quantity.MustParse(code + " %")
			words, same = s.Amount(other.Percent), equalAmounts(other.Percent, cs.Delivery.Percent)
		default:
			other.Wetness = term.Wetness(code)
			words, same = Code(s, term.WetnessList, other.Wetness), other.Wetness == cs.Delivery.Wetness
		}
		supply, a, err := b.supply(other, quantity.Amount{}, quantity.Amount{})
		if err != nil {
			continue
		}
		here := chosen == DepthIf{way, code}
		if here && !same {
			given, answer, v.Given = supply, a, words
			kept.Drops, kept.Percent, kept.Wetness = other.Drops, other.Percent, other.Wetness
		}
		if same || here {
			at = len(v.Choices)
		}
		v.Choices = append(v.Choices, DepthChoice{DepthIf{way, code}, words, here || same && chosen == DepthIf{}})
	}
	// The keys about the one that stands: the sheet is no tray.
	const most = 6
	if from := min(max(at-2, 0), max(len(v.Choices)-most, 0)); len(v.Choices) > most {
		v.Choices = v.Choices[from : from+most]
	}
	return given, answer
}

// supportNow gives who breathes for the patient, and through what, where that was
// recorded.
func supportNow(entries []*timeline.Entry) (support term.Support, system term.BreathingSystem) {
	for _, e := range entries {
		if p, ok := e.Now().Payload.(*timeline.Support); ok {
			support = p.Support
			if p.System != "" {
				system = p.System
			}
		}
	}
	return support, system
}

// circuits gives through what the oxygen may come, as far as the record tells:
// through an open mask by drops or gauze; through a vaporiser as if air were drawn
// over it, with a reservoir or without, unless what is breathed comes out of a
// machine. Then there is none: nobody records what a machine mixes.
func circuits(d Delivery, system term.BreathingSystem) []uptake.Circuit {
	switch {
	case !d.Drops.IsZero() || d.Wetness != "":
		return []uptake.Circuit{uptake.OpenMask}
	case !d.Percent.IsZero() && (system == "" || system == term.BreathingSystemDrawOver || system == term.BreathingSystemBag):
		return []uptake.Circuit{uptake.DrawOver, uptake.DrawOverReservoir}
	}
	return nil
}

// oxygenIn estimates what oxygen is breathed with what is given, and what is left
// of it in the alveoli. False where nothing can be said.
func (b breathes) oxygenIn(d Delivery, support term.Support, system term.BreathingSystem) (all uptake.Oxygenation, ok bool) {
	through := circuits(d, system)
	if len(through) == 0 {
		return all, false
	}
	_, a, err := b.supply(d, quantity.Amount{}, quantity.Amount{})
	if err != nil {
		return all, false
	}
	var agentPercent uptake.Range
	for _, x := range []struct {
		to *float64
		of quantity.Amount
	}{{&agentPercent.Low, a.Low}, {&agentPercent.Value, a.Value}, {&agentPercent.High, a.High}} {
		if *x.to, err = x.of.Float64(quantity.Percent); err != nil {
			return all, false
		}
	}
	for i, circuit := range through {
		o, err := uptake.Inhaled{
			Circuit: circuit, Support: support, Cover: d.Cover, Agent: d.Agent, Oxygen: d.Oxygen,
			Pressure: b.air, MinuteLPerMin: b.minute, AgentPercent: agentPercent,
		}.Estimate()
		if err != nil {
			return all, false
		}
		if i == 0 {
			all = o
			continue
		}
		for _, x := range []struct{ to, of *agent.Answer }{{&all.Inspired, &o.Inspired}, {&all.Alveolar, &o.Alveolar}} {
			if c, err := x.of.Low.Cmp(x.to.Low); err == nil && c < 0 {
				x.to.Low = x.of.Low
			}
			if c, err := x.of.High.Cmp(x.to.High); err == nil && c > 0 {
				x.to.High = x.of.High
			}
			x.to.Beware(x.of.Cautions...)
			x.to.Cite(x.of.Sources...)
		}
	}
	return all, true
}

// oxygen puts that into words, and its warnings, which hold also where no estimate
// may stand.
func (s Speaker) oxygen(b breathes, d Delivery, support term.Support, system term.BreathingSystem) (says, warned []string) {
	o, ok := b.oxygenIn(d, support, system)
	if !ok {
		return nil, nil
	}
	says = []string{s.Say("depth.oxygen", "low", s.Number(o.Inspired.Low), "high", s.Number(o.Inspired.High), "left", s.Number(o.Alveolar.Low), "most", s.Number(o.Alveolar.High))}
	if !d.Percent.IsZero() {
		says = append(says, s.Say("depth.oxygen-drawn"))
	}
	// What may harm comes first; that it is an estimate the title says.
	cautions := slices.DeleteFunc(slices.Clone(o.Alveolar.Cautions), func(x agent.Caution) bool { return x == agent.Estimate })
	slices.SortStableFunc(cautions, func(a, b agent.Caution) int {
		return cmp.Compare(slices.Index(oxygenFirst, b), slices.Index(oxygenFirst, a))
	})
	return says, s.depthCautions(nil, cautions)
}

// oxygenFirst are the warnings that come before the others, the last of them
// first.
var oxygenFirst = []agent.Caution{uptake.OxygenUnknown, uptake.AloneWithoutOxygen, uptake.HypoxicAtHeight, uptake.CoverWithoutOxygen, uptake.LowAlveolarOxygen}

func equalAmounts(a, b quantity.Amount) bool {
	c, err := a.Cmp(b)
	return err == nil && c == 0
}

// estimate puts an estimate into words.
func (s Speaker) estimate(v *DepthView, e *depth.Estimate, kept *timeline.Depth) {
	for _, w := range e.Withdrawn {
		v.Withdrawn = append(v.Withdrawn, s.depthReason(w))
	}
	if len(e.Withdrawn) > 0 {
		return
	}
	v.Range = s.Say("depth.range", "low", s.Number(e.Answer.Low), "high", s.Number(e.Answer.High))
	v.Deep = s.Say("depth.deep", "stage", s.stage(e.High))
	if e.Low != e.High {
		v.Light = s.Say("depth.light", "stage", s.stage(e.Low))
	}
	v.Fades = 1 + int(2*e.FreshMin)
	if e.Drift != "" {
		kept.Drift = string(e.Drift)
		v.Drift = s.Say("depth.drift." + string(e.Drift)) //word:prefix depth.drift.
	}
}

// ahead puts the times ahead into words, by what is given from now on.
func (s Speaker) ahead(v *DepthView, r *depth.Run, e *depth.Estimate, given depth.Supply, supply agent.Answer, kept *timeline.Depth, planned func(*depth.Lead) string) error {
	e.Beware(supply.Cautions...)
	e.Cite(supply.Sources...)
	var leads []depth.Lead
	for _, step := range depth.StepCodes {
		l, ok, err := r.Ready(step, given)
		if err != nil {
			return err
		}
		if ok {
			leads = append(leads, l)
		}
	}
	l, ok, err := r.TooDeep(given)
	if err != nil {
		return err
	}
	if ok {
		leads = append(leads, l)
	}
	if l, ok = r.Waking(); ok {
		leads = append(leads, l)
	}
	// What holds for all of them is said once.
	common := func(x depth.Condition) bool {
		return !slices.ContainsFunc(leads, func(l depth.Lead) bool { return !slices.Contains(l.Conditions, x) })
	}
	v.Conditions = s.leadConditions(slices.DeleteFunc(slices.Clone(depth.ConditionCodes), func(x depth.Condition) bool { return !common(x) }))
	for _, l := range leads {
		kept.Leads = append(kept.Leads, leadKept(&l))
		l.Conditions = slices.DeleteFunc(slices.Clone(l.Conditions), common)
		l.Cautions = slices.DeleteFunc(slices.Clone(l.Cautions), func(x agent.Caution) bool {
			if x == depth.Earliest {
				return false
			}
			e.Beware(x)
			return true
		})
		d := s.lead(&l)
		d.Planned = planned(&l)
		v.Leads = append(v.Leads, d)
	}
	v.Cautions, v.Sources = s.depthCautions(v.Cautions, e.Cautions), s.addSources(v.Sources, e.Sources)
	return nil
}

func (s Speaker) lead(l *depth.Lead) DepthLead {
	d := DepthLead{What: s.Say("depth.lead." + string(l.Kind))} //word:prefix depth.lead.
	if l.Step != "" {
		d.What = s.Say("depth.lead.ready") + " " + s.Say("depth.step."+string(l.Step)) //word:prefix depth.step.
	}
	n := func(x float64) string { return strconv.FormatFloat(x, 'f', 0, 64) }
	switch {
	case l.Never:
		d.When = s.Say("depth.never", "n", n(depth.LongestLeadMin))
	case l.Already:
		d.When = s.Say("depth.already")
	case l.Open:
		d.When = s.Say("depth.from", "from", n(l.FromMin), "n", n(l.ToMin))
	default:
		d.When = s.Say("depth.window", "from", n(l.FromMin), "to", n(l.ToMin))
	}
	d.If = s.leadConditions(l.Conditions)
	d.Cautions = s.depthCautions(nil, l.Cautions)
	return d
}

// surgical says which surgical steps want which readiness; the first of them
// that is still to come counts.
var surgical = map[depth.Step][]term.Step{
	depth.StepSkin:    {term.StepKnife, term.StepAbscessOpen, term.StepClosingSkin},
	depth.StepClosing: {term.StepPeritoneumOpen, term.StepUterusOpen, term.StepPullingViscera, term.StepClosingDeep},
}

// expected gives when the first of some steps is expected that is still to
// come: so long after the beginning as the plan has it after the start.
func (cs *Case) expected(steps []term.Step) (at time.Time, ok bool) {
	from := cs.Began
	if from.IsZero() {
		from = cs.Plan.Start
	}
	if from.IsZero() {
		return at, false
	}
	done := map[term.Step]bool{term.StepKnife: !cs.Phases[term.PhaseKnifeToSkin].IsZero()}
	for _, p := range timeline.Each[*timeline.Step](cs.Entries, cs.ID) {
		done[p.Step] = true
	}
	for _, t := range cs.Plan.Expected() {
		m, err := t.After.Float64(quantity.Minute)
		if err != nil || done[t.Step] || !slices.Contains(steps, t.Step) {
			continue
		}
		if x := from.Time.Add(time.Duration(m * float64(time.Minute))); !ok || x.Before(at) {
			at, ok = x, true
		}
	}
	return at, ok
}

// plannedFor says when the plan expects the step that a lead is for, and
// whether the window begins later. It tells nobody what to do about it.
func (s Speaker) plannedFor(cs *Case, l *depth.Lead, now Reading) string {
	at, ok := cs.expected(surgical[l.Step])
	if !ok {
		return ""
	}
	clock := s.Clock(timeline.MomentOf(at, now.Zone))
	until := at.Sub(now.Wall)
	if until < 0 {
		return s.Say("depth.planned-over", "at", clock)
	}
	sooner := ""
	if !l.Already && (l.Never || until.Minutes() < l.FromMin) {
		sooner = s.Say("depth.planned-sooner")
	}
	return join(" ", s.Say("depth.planned", "at", clock, "span", s.Span(until)), sooner)
}

func (s Speaker) leadConditions(cs []depth.Condition) string {
	var all []string
	for _, x := range cs {
		all = append(all, s.Say("depth.condition."+string(x))) //word:prefix depth.condition.
	}
	return join(", ", all...)
}

func (s Speaker) depthReason(r depth.Reason) string {
	return s.Say("depth.reason." + string(r)) //word:prefix depth.reason.
}

func (s Speaker) stage(x depth.Stage) string {
	return s.Say("depth.stage." + string(x)) //word:prefix depth.stage.
}

func (s Speaker) stageSpan(low, high depth.Stage) string {
	switch {
	case low == "":
		return ""
	case low == high:
		return s.stage(low)
	}
	return s.Say("depth.stages", "low", s.stage(low), "high", s.stage(high))
}

func (s Speaker) depthCautions(to []string, cs []agent.Caution) []string {
	for _, x := range cs {
		term.Add(&to, s.Say("depth.caution."+string(x))) //word:prefix depth.caution.
	}
	return to
}

// reading sets the signs of the last minutes beside the table.
func (s Speaker) reading(v *DepthView, of depth.Subject, drugs depth.Drugs, entries []*timeline.Entry, now time.Time) error {
	var look timeline.Signs
	var before, after depth.Vitals
	support := term.Support("")
	seen := map[depth.Sign]timeline.Moment{}
	put := func(sign depth.Sign, code string, at timeline.Moment) {
		if code != "" {
			seen[sign] = at
		}
	}
	for _, e := range entries {
		at := e.Now().At
		switch p := e.Now().Payload.(type) {
		case *timeline.Support:
			support = p.Support
		case *timeline.Baseline:
			before = vitalsOf(&p.Measures)
		case *timeline.Vitals:
			if ago(now, at.Time) <= signsFresh {
				m := vitalsOf(&p.Measures)
				setNumber(&after.PulsePerMin, m.PulsePerMin)
				setNumber(&after.SystolicMmHg, m.SystolicMmHg)
				setNumber(&after.SpO2Percent, m.SpO2Percent)
			}
		case *timeline.Signs:
			if ago(now, at.Time) > signsFresh {
				continue
			}
			for sign, code := range signCodes(p) {
				put(sign, code, at)
			}
			mergeSigns(&look, p)
		}
	}
	r, err := depth.Read(of, drugs, support, lookOf(&look), before, after)
	if err != nil {
		return err
	}
	v.Says = s.stageSpan(r.Low, r.High)
	if r.Lean != "" {
		v.Says = join(" · ", v.Says, s.Say("depth.lean."+string(r.Lean))) //word:prefix depth.lean.
	}
	codes := signCodes(&look)
	for _, it := range r.Items {
		d := DepthSign{Sign: s.Say("depth.sign." + string(it.Sign)), Conflicts: it.Agreement == depth.Conflicts} //word:prefix depth.sign.
		if at, ok := seen[it.Sign]; ok {
			d.At = s.Clock(at)
		}
		if it.Agreement != "" {
			d.Agreement = s.Say("depth.agreement." + string(it.Agreement)) //word:prefix depth.agreement.
		}
		if code := codes[it.Sign]; code != "" {
			d.Value = s.signWord(it.Sign, code)
		}
		if n := len(it.Stages); n > 0 {
			d.Says = s.stageSpan(it.Stages[0], it.Stages[n-1])
		} else if it.Lean != "" {
			d.Says = s.Say("depth.lean." + string(it.Lean))
		}
		for _, w := range it.Why {
			d.Why = append(d.Why, s.Say("depth.why."+string(w))) //word:prefix depth.why.
		}
		v.Signs = append(v.Signs, d)
	}
	for _, a := range r.Asks {
		v.Asks = append(v.Asks, s.Say("depth.ask."+string(a))) //word:prefix depth.ask.
	}
	v.Cautions, v.Sources = s.depthCautions(v.Cautions, r.Cautions), s.addSources(v.Sources, r.Sources)
	return nil
}

func setNumber(to *float64, x float64) {
	if x != 0 {
		*to = x
	}
}

func signCodes(p *timeline.Signs) map[depth.Sign]string {
	return map[depth.Sign]string{
		depth.SignBreathing: string(p.Breathing), depth.SignEyes: string(p.Eyes), depth.SignPupils: string(p.Pupils), depth.SignLid: string(p.Lid),
		depth.SignCornea: string(p.Cornea), depth.SignJaw: string(p.Jaw), depth.SignChest: string(p.Chest), depth.SignSecretion: string(p.Secretion),
		depth.SignMovement: string(p.Movement), depth.SignSweat: string(p.Sweat), depth.SignTears: string(p.Tears), depth.SignColour: string(p.Colour),
	}
}

func mergeSigns(to, p *timeline.Signs) {
	setCode(&to.Breathing, p.Breathing)
	setCode(&to.Eyes, p.Eyes)
	setCode(&to.Pupils, p.Pupils)
	setCode(&to.Lid, p.Lid)
	setCode(&to.Cornea, p.Cornea)
	setCode(&to.Jaw, p.Jaw)
	setCode(&to.Chest, p.Chest)
	setCode(&to.Secretion, p.Secretion)
	setCode(&to.Movement, p.Movement)
	setCode(&to.Sweat, p.Sweat)
	setCode(&to.Tears, p.Tears)
	setCode(&to.Colour, p.Colour)
}

// signWord gives the word for a sign's code; those of lid and cornea are of one
// list.
func (s Speaker) signWord(sign depth.Sign, code string) string {
	list := string(sign)
	if sign == depth.SignLid || sign == depth.SignCornea {
		list = "reflex"
	}
	//word:prefix term.
	return s.Say("term." + list + "." + code)
}

// infused reports whether ketamine runs, or ran not long ago, as an infusion.
func infused(entries []*timeline.Entry, now time.Time) bool {
	last := time.Time{}
	for _, e := range entries {
		if p, ok := e.Now().Payload.(*timeline.Infusion); ok && p.Drug == "ketamine" {
			if last = e.Now().At.Time; p.Act != term.InfusionActStopped {
				last = now
			}
		}
	}
	return !last.IsZero() && now.Sub(last) <= ketamineShown
}

// depthClocks gives the clocks of ketamine and of blocks.
func (s Speaker) depthClocks(entries []*timeline.Entry, by clockRules, now time.Time) []DepthClock {
	var all []DepthClock
	if len(entries) == 0 {
		return nil
	}
	zero := entries[0].Now().At
	minute := func(t time.Time) float64 { return t.Sub(zero.Time).Minutes() }
	clock := func(m float64) string {
		return s.Clock(timeline.Moment{Time: zero.Time.Add(time.Duration(m * float64(time.Minute)))})
	}
	window := func(key string, w depth.Window) string {
		//word:prefix depth.clock.
		return s.Say("depth.clock."+key, "from", clock(w.FromMin), "to", clock(w.ToMin))
	}
	watch := func(ws []depth.Watch) (out []string) {
		for _, w := range ws {
			out = append(out, s.Say("depth.watch."+string(w))) //word:prefix depth.watch.
		}
		return out
	}
	var doses []depth.Dose
	var total depth.Total
	stands, sum := "", 0.0 // who stands for the rule of the last dose; what was given in all
	for _, e := range entries {
		p, ok := e.Now().Payload.(*timeline.Drug)
		if !ok || p.Drug != "ketamine" {
			continue
		}
		d, u := by.use(p, len(doses) == 0)
		t, err := by.timing(p, d, u)
		if err != nil {
			continue // by another way: nothing is published
		}
		mg := byStrength(p.Dose, p.Strength, quantity.Mg)
		x, err := mg.Float64(quantity.Mg)
		if err != nil {
			continue
		}
		sum += x
		doses = append(doses, depth.Dose{AtMin: minute(e.Now().At.Time), Dose: mg, Route: p.Route, Timing: t})
		total, stands = by.total(u, mg), "published"
		if u != nil {
			k, ok := by.confirmed[ruleKey{d.Code, u.Code, timeline.Hash(u.Hash())}]
			if stands = ""; ok {
				stands = cmpOr(k.By, s.Say("record.unnamed"))
			}
		}
	}
	if k, err := depth.ClockKetamine(doses, total, minute(now)); err == nil && k.LastAgoMin <= ketamineShown.Minutes() {
		mg := func(x float64) string { return s.Amount(agent.Give(x, 0, quantity.Mg)) }
		clock := DepthClock{
			Title: s.Say("depth.clock.ketamine", "at", clock(minute(now)-k.LastAgoMin)),
			Lines: []string{window("works", k.Works), window("ends", k.Ends), s.unconfirmed(window("next", k.Next), stands),
				s.Say("depth.clock.left", "sum", mg(sum), "low", mg(math.Min(k.LeftLowMg, k.LeftHighMg)), "high", mg(math.Max(k.LeftLowMg, k.LeftHighMg)))},
			Watch: watch(k.Watch), Cautions: s.depthCautions(nil, k.Cautions), Sources: s.addSources(nil, k.Sources),
		}
		if !total.Most.IsZero() {
			clock.Lines = append(clock.Lines, s.unconfirmed(s.Say("depth.clock.room", "given", mg(k.SumMg), "most", s.Amount(total.Most), "within", s.Amount(total.Within)), stands))
		}
		if infused(entries, now) {
			clock.Lines = append(clock.Lines, s.Say("depth.clock.infusion"))
		}
		all = append(all, clock)
	} else if infused(entries, now) {
		all = append(all, DepthClock{
			Title: s.Say("depth.clock.infused"), Lines: []string{s.Say("depth.clock.infusion")},
			Watch: watch([]depth.Watch{depth.WatchBreathing, depth.WatchAirway, depth.WatchSecretion, depth.WatchRise, depth.WatchAccumulates}),
		})
	}
	var blocks []depth.Block
	for _, e := range entries {
		p, ok := e.Now().Payload.(*timeline.Block)
		if !ok {
			continue
		}
		at := minute(e.Now().At.Time)
		i := slices.IndexFunc(blocks, func(b depth.Block) bool { return b.Kind == p.Block })
		if i < 0 {
			blocks, i = append(blocks, depth.Block{Kind: p.Block, AtMin: at}), len(blocks)
		}
		if p.Attempts > 0 {
			blocks[i].AtMin = at // placed, or placed anew
		}
		if p.Height != "" {
			blocks[i].Heights = append(blocks[i].Heights, depth.Height{AtMin: at, Height: p.Height, Motor: p.Motor})
		}
	}
	for _, b := range blocks {
		var assumed bool
		b.Timing, assumed = by.blockTiming(entries, b.Kind, zero.Time.Add(time.Duration(b.AtMin*float64(time.Minute))))
		k, err := depth.ClockBlock(b, minute(now))
		if err != nil {
			continue // the record's own checks keep such a block out
		}
		d := DepthClock{
			Title: s.Say("depth.clock.block", "block", Code(s, term.BlockKindList, b.Kind), "at", clock(b.AtMin)),
			Watch: watch(k.Watch), Cautions: s.depthCautions(nil, k.Cautions), Sources: s.addSources(nil, k.Sources),
		}
		if k.Works != (depth.Window{}) {
			d.Lines = append(d.Lines, window("works", k.Works))
		}
		if k.Ends != (depth.Window{}) {
			d.Lines = append(d.Lines, window("ends", k.Ends))
		} else {
			d.Lines = append(d.Lines, s.Say("depth.clock.untimed"))
		}
		if assumed {
			d.Lines = append(d.Lines, s.Say("depth.clock.assumed"))
		}
		for _, h := range k.HeightsOverTime {
			d.Lines = append(d.Lines, s.Say("depth.clock.height", "at", clock(h.AtMin), "height", Code(s, term.BlockHeightList, h.Height)))
		}
		all = append(all, d)
	}
	return all
}
