package core

import (
	"cmp"
	"context"
	"slices"

	"chinlift/core/quantity"
	"chinlift/core/term"
	"chinlift/core/timeline"
)

// AgentTray is the tray for agent, oxygen and cover.
type AgentTray struct {
	Agent, AgentWords string            // the agent whose deliveries are offered; empty: choose one first
	Now               string            // what is given, in words
	Way               string            // drops, percent or wetness
	Ways              []string          // that this agent is given in
	Keys              []Choice          // deliveries of this way, in Unit
	Inspired          map[string]string // of each key: what may be breathed in, in words; none where it cannot be reckoned
	Unit              string
	Oxygen            []Choice
	Fraction          map[string]string // of each flow: the oxygen that may be breathed in by it under the mask; none where it cannot be reckoned
	Breathed          []string          // oxygen as it is given now, with its warnings
	Cover             []Choice
	Agents            []Choice
}

// deliveries are the keys that a tray offers at once. They are steps for a
// thumb, not advice (house choice, no source); any other value can be entered
// by a correction.
var deliveries = map[string][]string{
	"drops":   {"12", "20", "40", "60", "80", "120", "200", "300"},
	"percent": {"0.5", "1", "1.5", "2", "3", "4", "6", "8", "10", "15"},
}

var oxygenFlows = []string{"0", "0.5", "1", "2", "4", "6", "8", "10"}

// AgentTray gives the tray. agent and way choose what it offers; empty goes by
// what was given last, then by the plan.
func (c *Companion) AgentTray(ctx context.Context, cs *Case, agent, way string) (AgentTray, error) {
	s := Speaker{c.words}
	d := cs.Delivery
	t := AgentTray{Agent: agent, Now: s.State(d), Way: way, Agents: c.Choices("agent"), Cover: c.Choices("cover")}
	if !term.AgentList.Has(term.Agent(agent)) {
		t.Agent = string(d.Agent)
		if _, a := last(cs, func(a *timeline.AgentDelivery) bool { return a.Agent != "" }); t.Agent == "" && a != nil {
			t.Agent = string(a.Agent)
		}
		if t.Agent == "" {
			t.Agent = string(cs.Plan.Agent)
		}
	}
	t.AgentWords = Code(s, term.AgentList, term.Agent(t.Agent))
	t.Ways = []string{"percent"}
	if slices.Contains(opendrop, term.Agent(t.Agent)) {
		t.Ways = []string{"drops", "wetness", "percent"}
	}
	if !slices.Contains(t.Ways, way) {
		switch {
		case len(t.Ways) == 1:
			t.Way = t.Ways[0]
		case !d.Percent.IsZero():
			t.Way = "percent"
		case d.Wetness != "":
			t.Way = "wetness"
		case !d.Drops.IsZero() || slices.Contains(cs.Plan.Techniques, term.TechniqueOpenDrop) || term.Agent(t.Agent) == term.AgentEther:
			t.Way = "drops"
		default:
			t.Way = "percent"
		}
	}
	unit := quantity.DropsPerMin
	if t.Way == "percent" {
		unit = quantity.Percent
	}
	for _, n := range deliveries[t.Way] {
		t.Keys = append(t.Keys, Choice{n, s.Number(quantity.MustParse(n + " " + unit.String()))})
	}
	t.Unit = s.UnitOf(unit)
	if t.Way == "wetness" {
		t.Keys, t.Unit = c.Choices("wetness"), s.Say("field.wetness")
	}
	for _, n := range oxygenFlows {
		t.Oxygen = append(t.Oxygen, Choice{n, s.Number(quantity.MustParse(n + " L/min"))})
	}
	err := c.inspired(ctx, cs, &t)
	return t, err
}

// roughly leaves no more figures than such an estimate has.
func roughly(a quantity.Amount) quantity.Amount {
	if c, err := a.Cmp(quantity.MustParse("2 %")); err == nil && c >= 0 {
		return a.Round(0)
	}
	return a.Round(1)
}

// inspired gives for each key of the tray the span of per cent that may be
// breathed in by it, by a body at rest of this weight and at this height. It is
// no advice, and is left out where nothing can be reckoned.
func (c *Companion) inspired(ctx context.Context, cs *Case, t *AgentTray) error {
	b, ok, err := c.breathesIn(ctx, cs, c.clock.Now().Wall)
	if err != nil || !ok {
		return err
	}
	s, all := Speaker{c.words}, map[string]string{}
	for _, k := range t.Keys {
		d := Delivery{Agent: term.Agent(t.Agent), Cover: cs.Delivery.Cover}
		switch t.Way {
		case "drops":
			d.Drops = quantity.MustParse(k.Code + " {drop}/min")
		case "percent":
			d.Percent = quantity.MustParse(k.Code + " %")
		case "wetness":
			d.Wetness = term.Wetness(k.Code)
		}
		if _, a, err := b.supply(d, quantity.Amount{}, quantity.Amount{}); err == nil {
			all[k.Code] = s.Say("depth.inspired", "low", s.Number(roughly(a.Low)), "high", s.Number(roughly(a.High)))
		}
	}
	t.Inspired = all
	// Oxygen by the flow, with what is given now.
	support, system := supportNow(cs.entriesByTime())
	t.Fraction = map[string]string{}
	for _, k := range t.Oxygen {
		d := cs.Delivery
		d.Oxygen = quantity.MustParse(k.Code + " L/min")
		if o, ok := b.oxygenIn(d, support, system); ok {
			t.Fraction[k.Code] = s.Say("depth.inspired", "low", s.Number(o.Inspired.Low.Round(0)), "high", s.Number(o.Inspired.High.Round(0)))
		}
	}
	says, warned := s.oxygen(b, cs.Delivery, support, system)
	t.Breathed = append(says, warned...)
	return nil
}

// opendrop are the agents that were given on gauze: Beecher, The Physiology of
// Anesthesia (1938), for ether and chloroform; from memory for the others. For
// the rest the tray offers percent alone, as a vaporiser gives them.
var opendrop = []term.Agent{term.AgentEther, term.AgentChloroform, term.AgentTrichloroethylene, term.AgentHalothane, term.AgentMethoxyflurane}

// steps gives the deliveries next to the one that runs, on the ladder of the
// tray. Below the lowest is off.
func steps(s Speaker, d *Delivery) (lower, higher *Dose) {
	if d.Agent == "" {
		return nil, nil
	}
	agent := string(d.Agent)
	rung := func(way, code, words string) *Dose {
		return &Dose{[]string{"kind", "agent", "agent", agent, way, code}, words}
	}
	lower = &Dose{[]string{"kind", "agent", "agent", agent, "off", timeline.Yes}, s.Say("say.off")}
	if d.Wetness != "" {
		all := term.WetnessList.Codes()
		i := slices.Index(all, d.Wetness)
		if i > 0 {
			lower = rung("wetness", string(all[i-1]), Code(s, term.WetnessList, all[i-1]))
		}
		if i+1 < len(all) {
			higher = rung("wetness", string(all[i+1]), Code(s, term.WetnessList, all[i+1]))
		}
		return lower, higher
	}
	way, now, unit := "drops", d.Drops, quantity.DropsPerMin
	if !d.Percent.IsZero() {
		way, now, unit = "percent", d.Percent, quantity.Percent
	}
	for _, n := range deliveries[way] {
		a := quantity.MustParse(n + " " + unit.String())
		c, err := a.Cmp(now)
		switch {
		case err != nil:
			return lower, higher
		case c < 0:
			lower = rung(way, n, s.Amount(a))
		case c > 0 && higher == nil:
			higher = rung(way, n, s.Amount(a))
		}
	}
	return lower, higher
}

// DrugTray is the tray of drugs: those of this case first.
type DrugTray struct {
	Given []DrugChoice // given in this case, the last first
	Plan  []DrugChoice // planned and not given
	Rest  []Choice
}

// DrugChoice is a drug with its last dose in this case.
type DrugChoice struct {
	Code, Words string
	Last, Ago   string // of the last dose; empty: not given here
	Dose, Unit  string // as entered, to give the same again
	// Of what it was drawn from, where that was entered.
	Strength, StrengthUnit, Volume string
	Use                            string // that it was given for, where the rules know it
	Route                          string
	RouteWords                     string
	Units                          []Choice
	Routes                         []Choice
}

// pressing are those that are reached for when there is no time, and so come
// before the others (house choice, no source).
var pressing = []string{"adrenaline", "atropine", "suxamethonium", "ketamine"}

// DrugTray gives the tray. The rest is every drug that the dose rules know, by
// name; any other can be planned by its code.
func (c *Companion) DrugTray(ctx context.Context, cs *Case) (DrugTray, error) {
	var t DrugTray
	s := Speaker{c.words}
	f, err := c.Rules(ctx, c.clock.Now().Wall)
	if err != nil {
		return t, err
	}
	known := slices.Clone(pressing)
	for _, d := range f.Drugs() {
		if d.Class != term.DrugClassInhaled && !slices.Contains(known, d.Code) {
			known = append(known, d.Code)
		}
	}
	slices.SortFunc(known[len(pressing):], func(a, b string) int { return cmp.Compare(s.Drug(a), s.Drug(b)) })
	var codes []string
	for _, e := range slices.Backward(cs.Entries) {
		if p, ok := e.Now().Payload.(*timeline.Drug); ok && e.In(cs.ID) && !slices.Contains(codes, p.Drug) {
			codes = append(codes, p.Drug)
			t.Given = append(t.Given, c.DrugChoice(cs, p.Drug))
		}
	}
	for _, d := range cs.Plan.Drugs {
		if !slices.Contains(codes, d) {
			codes = append(codes, d)
			t.Plan = append(t.Plan, c.DrugChoice(cs, d))
		}
	}
	for _, d := range known {
		if !slices.Contains(codes, d) {
			codes = append(codes, d)
			t.Rest = append(t.Rest, Choice{d, s.Drug(d)})
		}
	}
	return t, nil
}

// DrugChoice gives one drug.
func (c *Companion) DrugChoice(cs *Case, code string) DrugChoice {
	s := Speaker{c.words}
	d := DrugChoice{Code: code, Words: s.Drug(code), Routes: c.Choices("route")}
	for _, u := range []quantity.Unit{quantity.Mg, quantity.Ug, quantity.G, quantity.ML, quantity.IU} {
		d.Units = append(d.Units, Choice{u.String(), s.UnitOf(u)})
	}
	if e, p := last(cs, func(p *timeline.Drug) bool { return p.Drug == code }); e != nil {
		d.Last = join(" ", s.Amount(p.Dose), Code(s, term.RouteList, p.Route))
		d.Ago = s.Ago(c.clock.Now().Wall, e.Now().At)
		d.Dose, d.Unit, d.Route, d.RouteWords = p.Dose.Value.String(), p.Dose.Unit.String(), string(p.Route), Code(s, term.RouteList, p.Route)
		if !p.Strength.IsZero() {
			d.Strength, d.StrengthUnit = p.Strength.Value.String(), p.Strength.Unit.String()
		}
		if !p.Volume.IsZero() {
			if v, err := p.Volume.In(quantity.ML); err == nil {
				d.Volume = v.Value.String()
			}
		}
		if p.Frozen != nil {
			d.Use = p.Frozen.Use
		}
	}
	return d
}

// StepTray is the tray of phases and surgical steps.
type StepTray struct {
	Next, NextWords string // the phase that follows
	Phases          []Choice
	Done            map[string]string // phases that began, with their times
	Steps           []Choice
}

// StepTray gives the tray.
func (c *Companion) StepTray(cs *Case) StepTray {
	s := Speaker{c.words}
	t := StepTray{Phases: c.Choices("phase"), Steps: c.Choices("step"), Done: map[string]string{}}
	if n := NextPhase(cs); n != "" {
		t.Next, t.NextWords = string(n), Code(s, term.PhaseList, n)
	}
	for p, at := range cs.Phases {
		t.Done[string(p)] = s.Clock(at)
	}
	return t
}

// UnnamedMarks gives the instants that were marked and not yet named.
func (c *Companion) UnnamedMarks(cs *Case) []Line {
	var ls []Line
	for _, e := range cs.unnamed {
		ls = append(ls, c.line(cs, e, c.clock.Now(), lateAfter))
	}
	return ls
}

// Entries gives every entry of a case, the latest first.
func (c *Companion) Entries(ctx context.Context, id string) ([]Line, error) {
	cs, err := c.Case(ctx, id)
	if err != nil {
		return nil, err
	}
	now := c.clock.Now()
	late, err := c.minutes(ctx, term.SettingLateAfter, now.Wall, lateAfter)
	if err != nil {
		return nil, err
	}
	var ls []Line
	for _, e := range slices.Backward(cs.Entries) {
		l := c.line(cs, e, now, late)
		if l.Stand, err = c.stand(ctx, cs, e); err != nil {
			return nil, err
		}
		ls = append(ls, l)
	}
	return ls, nil
}
