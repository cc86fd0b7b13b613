package core

import (
	"context"
	"slices"
	"strconv"
	"time"

	"chinlift/core/agent"
	"chinlift/core/kit"
	"chinlift/core/quantity"
	"chinlift/core/term"
	"chinlift/core/timeline"
)

// Place is how high the clinic lies, and what that does. Where a barometer was
// read last, the height is that of a standard day with its pressure.
type Place struct {
	Height    quantity.Amount // absent where nobody set it: sea level is taken
	HeightM   string          // as it was set, or as it follows
	Pressure  string          // of a standard day, or read
	Barometer bool
	Words     string
	Warnings  []PlaceWarning
}

// PlaceWarning is what the height, or the way of giving it, does to an agent.
type PlaceWarning struct {
	Agent string // code
	Words string // agent and way
	Lines []Cited
	Grave bool // worse with the height: for the first screen
}

// height gives the height of the clinic that holds at a time, or the zero
// Amount. Of a height and a barometer the one that was set later holds.
func (c *Companion) height(ctx context.Context, at time.Time) (h quantity.Amount, barometer quantity.Amount, err error) {
	latest := func(s term.Setting) (timeline.ClinicSetting, time.Time, error) {
		entries, err := c.settingEntries(ctx, s)
		var p timeline.ClinicSetting
		var when time.Time
		for e, x := range timeline.Each[*timeline.ClinicSetting](entries, string(s)) {
			if !e.Now().At.After(at) {
				p, when = *x, e.Now().At.Time
			}
		}
		return p, when, err
	}
	by, set, err := latest(term.SettingAltitude)
	if err != nil {
		return h, h, err
	}
	read, when, err := latest(term.SettingBarometer)
	if err != nil {
		return h, h, err
	}
	if read.Value.IsZero() || set.After(when) {
		return by.Value, quantity.Amount{}, nil
	}
	mmHg, err := read.Value.Float64(quantity.MmHg)
	if err != nil {
		return h, h, err
	}
	return quantity.MustParse(strconv.FormatFloat(heightOf(mmHg), 'f', 0, 64) + " m"), read.Value, nil
}

// heightOf gives the height in m, -400 to 6000, at which a standard day has a
// pressure in mmHg.
func heightOf(mmHg float64) float64 {
	low, high := -400.0, 6000.0
	for range 40 {
		if mid := (low + high) / 2; agent.StandardMmHg(mid) > mmHg {
			low = mid
		} else {
			high = mid
		}
	}
	return (low + high) / 2
}

// boils gives the warmth in Cel at which an agent boils under a pressure.
func boils(a agent.Agent, mmHg float64) float64 {
	low, high := -20.0, 100.0
	for range 40 {
		if mid := (low + high) / 2; a.SaturatedMmHg(mid) < mmHg {
			low = mid
		} else {
			high = mid
		}
	}
	return (low + high) / 2
}

// setup is a way of giving an agent that is planned, or that the shelf allows.
type setup struct {
	agent     term.Agent
	vaporiser bool
}

// Place gives the view: of the ways that open cases plan and the agents on the
// shelf; of ether by drops where nothing is known.
func (c *Companion) Place(ctx context.Context) (Place, error) {
	v, err := c.stock(ctx)
	if err != nil {
		return Place{}, err
	}
	return c.placeOf(ctx, v)
}

func (c *Companion) placeOf(ctx context.Context, stock *stockView) (Place, error) {
	now, s := c.clock.Now(), Speaker{c.words}
	h, barometer, err := c.height(ctx, now.Wall)
	if err != nil {
		return Place{}, err
	}
	p := Place{Height: h, HeightM: s.Amount(h), Barometer: !barometer.IsZero(), Pressure: s.Amount(barometer)}
	var ways []setup
	add := func(x setup) {
		if x.agent != "" && !slices.Contains(ways, x) {
			ways = append(ways, x)
		}
	}
	open, err := c.OpenCases(ctx)
	if err != nil {
		return p, err
	}
	for _, cs := range open {
		for _, t := range cs.Plan.Techniques {
			switch t {
			case term.TechniqueOpenDrop:
				add(setup{cs.Plan.Agent, false})
			case term.TechniqueDrawOverMask, term.TechniqueDrawOverTube:
				add(setup{cs.Plan.Agent, true})
			}
		}
	}
	for _, l := range stock.lots {
		if l.what == term.StockWhatAgent && !l.gone {
			a := term.Agent(l.item)
			add(setup{a, a != term.AgentEther})
		}
	}
	if len(ways) == 0 {
		add(setup{term.AgentEther, false})
	}
	for _, w := range ways {
		of, err := agent.Of(w.agent)
		if err != nil || of.Gas {
			continue
		}
		a, err := kit.Setup{Agent: w.agent, Height: h, Vaporiser: w.vaporiser, Spontaneous: true}.Warnings()
		if err != nil {
			return p, err
		}
		if p.Pressure == "" {
			p.Pressure = s.Amount(a.Value.Round(0))
		}
		covered, err := kit.Setup{Agent: w.agent, Height: h, Vaporiser: w.vaporiser, Cover: term.CoverOn}.Warnings()
		if err != nil {
			return p, err
		}
		way := s.Say("place.by-drops")
		if w.vaporiser {
			way = s.Say("place.by-vaporiser")
		}
		v := PlaceWarning{Agent: string(w.agent), Words: s.Say("place.way", "agent", Code(s, term.AgentList, w.agent), "way", way)}
		for _, k := range []kit.Caution{kit.SpontaneousNoOxygen, kit.CoverWithoutOxygen, kit.HypoxicAtHeight, kit.HeightRaisesTension, kit.HeightLowersTension, kit.DialUnsafe, kit.Burns} {
			if slices.Contains(a.Cautions, k) || slices.Contains(covered.Cautions, k) {
				v.Lines = append(v.Lines, Cited{Text: s.kitCaution(k), Source: s.source(warningSource(k, a, covered))})
				v.Grave = v.Grave || k == kit.HypoxicAtHeight || k == kit.DialUnsafe
			}
		}
		metres := 0.0
		if !h.IsZero() {
			if metres, err = h.Float64(quantity.M); err != nil {
				return p, err
			}
		}
		warm := boils(of, agent.StandardMmHg(metres))
		// Under 40 a hot room reaches it, under 30 many a room (house choices).
		if warm < 40 {
			v.Grave = v.Grave || warm < 30
			v.Lines = append(v.Lines, Cited{Text: s.Say("place.boils", "agent", Code(s, term.AgentList, w.agent), "warm", s.Amount(quantity.MustParse(strconv.FormatFloat(warm, 'f', 0, 64)+" Cel"))), Source: s.source(of.Antoine.Source)})
		}
		p.Warnings = append(p.Warnings, v)
	}
	switch {
	case h.IsZero():
		p.Words = s.Say("place.unknown")
	case p.Barometer:
		p.Words = s.Say("place.read", "pressure", s.Amount(barometer), "height", s.Amount(h))
	default:
		p.Words = s.Say("place.set", "pressure", p.Pressure, "height", s.Amount(h))
	}
	return p, nil
}

// warningSource gives the source of one caution among those of the answers:
// by what its source in package kit is about.
func warningSource(k kit.Caution, answers ...kit.Answer) kit.Source {
	var all []kit.Source
	for _, a := range answers {
		all = append(all, a.Sources...)
	}
	titles := map[kit.Caution]string{
		kit.SpontaneousNoOxygen: "draw-over anaesthesia with air", kit.CoverWithoutOxygen: "Tensions of oxygen", kit.HypoxicAtHeight: "air with 10 %",
		kit.HeightRaisesTension: "dial x 760", kit.HeightLowersTension: "dial x 760", kit.DialUnsafe: "variable bypass",
	}
	title, ok := titles[k]
	if i := slices.IndexFunc(all, func(x kit.Source) bool { return ok && len(x.Title) >= len(title) && x.Title[:len(title)] == title }); i >= 0 {
		return all[i]
	}
	return kit.Source{}
}

func (s Speaker) kitCaution(k kit.Caution) string {
	return s.Say("kit.caution-" + string(k)) //word:prefix kit.caution-
}

// SetPlace records the height of the clinic in m, or the pressure that a
// barometer shows, in unit; ether's drops in a mL go the same way.
func (c *Companion) SetPlace(ctx context.Context, id, name, value, unit string) (Done, error) {
	f := Form{ID: id, Case: name, Kind: "setting", Scope: timeline.ScopeClinic,
		Fields: map[string][]string{"setting": {name}, "value": {value}, "value_unit": {unit}}}
	return c.Submit(ctx, f)
}
