package core

import (
	"fmt"
	"math"

	"chinlift/core/agent"
	"chinlift/core/depth"
	"chinlift/core/patient"
	"chinlift/core/quantity"
	"chinlift/core/term"
	"chinlift/core/uptake"
)

// Of what an agent does in a patient: what packages uptake and depth give by
// themselves.

var (
	inSchedule = Input{Name: "schedule", Kind: InputSchedule}
	inUntil    = Input{Name: "until", Kind: InputAmount, Units: []quantity.Unit{quantity.Minute}}
	inCover    = Input{Name: "cover", Kind: InputCode, Codes: codesOf(term.CoverList)}
	inSupport  = Input{Name: "support", Kind: InputCode, Codes: codesOf(term.SupportList)}
	inDrugs    = Input{Name: "premedicated", Kind: InputCodes, Codes: []string{"anticholinergic", "opioid", "benzodiazepine"}}
	signInputs = []Input{
		{Name: "breathing", Kind: InputCode, Codes: codesOf(term.BreathingList)}, {Name: "eyes", Kind: InputCode, Codes: codesOf(term.EyesList)},
		{Name: "pupils", Kind: InputCode, Codes: codesOf(term.PupilsList)}, {Name: "lid", Kind: InputCode, Codes: codesOf(term.ReflexList)},
		{Name: "cornea", Kind: InputCode, Codes: codesOf(term.ReflexList)}, {Name: "jaw", Kind: InputCode, Codes: codesOf(term.JawList)},
		{Name: "chest", Kind: InputCode, Codes: codesOf(term.ChestList)}, {Name: "movement", Kind: InputCode, Codes: codesOf(term.MovementList)},
		{Name: "tears", Kind: InputCode, Codes: codesOf(term.TearsList)},
	}
)

func percentInput(name string) Input {
	return Input{Name: name, Kind: InputAmount, Units: []quantity.Unit{quantity.Percent}}
}

var depthReckonings = []Reckoning{
	{"delivery", []Input{needed(inAgent), needed(inMinute), needed(inPressure),
		{Name: "drops", Kind: InputAmount, Units: []quantity.Unit{quantity.DropsPerMin}}, {Name: "counted", Kind: InputAmount, Units: []quantity.Unit{quantity.DropsPerML}},
		{Name: "wetness", Kind: InputCode, Codes: codesOf(term.WetnessList)},
		{Name: "used", Kind: InputAmount, Units: []quantity.Unit{quantity.ML}}, {Name: "over", Kind: InputAmount, Units: []quantity.Unit{quantity.Minute}}, inCover,
		percentInput("dial"), {Name: "vaporiser", Kind: InputCode, Codes: []string{string(uptake.Compensated), string(uptake.Plain), string(uptake.Heated)}},
		{Name: "temperature", Kind: InputAmount, Units: []quantity.Unit{quantity.Cel}}}, deliveryOf},
	{"oxygen", []Input{needed(Input{Name: "circuit", Kind: InputCode, Codes: []string{string(uptake.OpenMask), string(uptake.DrawOver), string(uptake.DrawOverReservoir)}}),
		needed(inAgent), needed(inMinute), needed(inPressure), {Name: "flow", Kind: InputAmount, Units: []quantity.Unit{quantity.LPerMin}}, inCover, inSupport,
		inPercent, {Name: "carbon_dioxide", Kind: InputAmount, Units: []quantity.Unit{quantity.MmHg}}}, oxygenOf},
	{"uptake", []Input{needed(inAgent), needed(inAge), needed(inWeight), needed(inSchedule), needed(inUntil), needed(inPressure), inMinute}, uptakeOf},
	{"stage", append([]Input{needed(inAgent), needed(inAge), inSupport, inDrugs}, signInputs...), stageOf},
	{"lead", append([]Input{needed(inAgent), needed(inAge), needed(inWeight), needed(inSchedule), needed(inUntil), needed(inPressure),
		needed(percentInput("spo2")), needed(Input{Name: "systolic", Kind: InputAmount, Units: []quantity.Unit{quantity.MmHg}}), inSupport, inDrugs, percentInput("deepen")}, signInputs...), leadOf},
}

// took puts what was given into the working, so that it is seen how it was read.
func (r *Result) took(code string, g Given, names ...string) {
	var values []patient.Named
	for _, n := range names {
		if g.has(n) {
			values = append(values, patient.Named{Name: n, Amount: g.amount(n)})
		}
	}
	r.step(code, values...)
}

func deliveryOf(g Given, r *Result) error {
	minute, err := agent.Take("minute", g.amount("minute"), quantity.LPerMin, 0.1, 60)
	if err != nil {
		return agentFault(err)
	}
	var d uptake.Delivered
	if g.has("dial") {
		kind := uptake.VaporiserKind(g.code("vaporiser"))
		if kind == "" {
			return &fault{name: "vaporiser", code: patient.Missing}
		}
		d, err = uptake.Vaporiser{
			Agent: term.Agent(g.code("agent")), Kind: kind, Dial: g.amount("dial"), Temperature: g.amount("temperature"),
			Pressure: g.amount("pressure"), FlowLPerMin: uptake.Exactly(minute),
		}.Inspired()
		r.took("by-vaporiser", g, "dial", "minute", "pressure")
	} else {
		if !g.has("drops") && !g.has("wetness") && !g.has("used") {
			return &fault{name: "drops", code: inputOneOf, names: "drops, wetness, used, dial"}
		}
		d, err = uptake.OpenDrop{
			Agent: term.Agent(g.code("agent")), Drops: g.amount("drops"), PerML: g.amount("counted"), Wetness: term.Wetness(g.code("wetness")),
			Used: g.amount("used"), Over: g.amount("over"), Cover: term.Cover(g.code("cover")), MinuteLPerMin: uptake.Exactly(minute), Pressure: g.amount("pressure"),
		}.Inspired()
		r.took("by-open-drop", g, "minute", "pressure")
	}
	if err != nil {
		return agentFault(err)
	}
	r.ofAgent(d.Answer)
	r.ranged("inspired", "part-of-delivered", d.Answer.Low, d.Answer.Value, d.Answer.High)
	mmHg := func(x float64) quantity.Amount { return agent.Give(x, 1, quantity.MmHg) }
	r.ranged("inspired_tension", "part-of-delivered", mmHg(d.InspiredMmHg.Low), mmHg(d.InspiredMmHg.Value), mmHg(d.InspiredMmHg.High))
	return nil
}

// ranged puts in a value with its span.
func (r *Result) ranged(name, rule string, low, value, high quantity.Amount) {
	r.Values = append(r.Values, ResultValue{Name: name, Amount: value, Low: low, High: high, Rule: Coded{areaReckon, rule}})
}

func oxygenOf(g Given, r *Result) error {
	minute, err := agent.Take("minute", g.amount("minute"), quantity.LPerMin, 0.1, 60)
	if err != nil {
		return agentFault(err)
	}
	percent := 0.0
	if g.has("percent") {
		if percent, err = agent.Take("percent", g.amount("percent"), quantity.Percent, 0, 60); err != nil {
			return agentFault(err)
		}
	}
	o, err := uptake.Inhaled{
		Circuit: uptake.Circuit(g.code("circuit")), Support: term.Support(g.code("support")), Cover: term.Cover(g.code("cover")), Agent: term.Agent(g.code("agent")),
		Oxygen: g.amount("flow"), Pressure: g.amount("pressure"), CO2: g.amount("carbon_dioxide"),
		MinuteLPerMin: uptake.Exactly(minute), AgentPercent: uptake.Exactly(percent),
	}.Estimate()
	if err != nil {
		return agentFault(err)
	}
	r.ofAgent(o.Alveolar)
	r.took("mixed-in-mask", g, "minute", "pressure")
	r.ranged("inspired_oxygen", "oxygen-caught", o.Inspired.Low, o.Inspired.Value, o.Inspired.High)
	r.ranged("alveolar_oxygen", "alveolar-gas", o.Alveolar.Low, o.Alveolar.Value, o.Alveolar.High)
	return nil
}

// inspiredOver gives the schedule by minutes and mmHg, up to the end, which lies
// behind its last line.
func inspiredOver(g Given) (minutes, mmHg []float64, until float64, err error) {
	pressure, err := agent.Take("pressure", g.amount("pressure"), quantity.MmHg, 300, 850)
	if err != nil {
		return nil, nil, 0, agentFault(err)
	}
	if until, err = agent.Take("until", g.amount("until"), quantity.Minute, 0, 24*60); err != nil {
		return nil, nil, 0, agentFault(err)
	}
	for _, l := range g.values["schedule"].Schedule {
		at, err := l.At.Float64(quantity.Minute)
		if err != nil {
			return nil, nil, 0, err
		}
		percent, err := l.Inspired.Float64(quantity.Percent)
		if err != nil {
			return nil, nil, 0, err
		}
		if at > until {
			return nil, nil, 0, &fault{name: "until", code: inputNotLater}
		}
		minutes, mmHg = append(minutes, at), append(mmHg, percent/100*pressure)
	}
	return minutes, mmHg, until, nil
}

func uptakeOf(g Given, r *Result) error {
	minutes, mmHg, until, err := inspiredOver(g)
	if err != nil {
		return err
	}
	mac, err := agent.MACTension(term.Agent(g.code("agent")), g.amount("age"))
	if err != nil {
		return agentFault(err)
	}
	body, answer, err := uptake.NewBody(g.amount("weight"))
	if err != nil {
		return agentFault(err)
	}
	set, err := uptake.Usual(term.Agent(g.code("agent")), body)
	if err != nil {
		return agentFault(err)
	}
	air, breath, err := uptake.Ventilation(body, uptake.Breathing{Minute: g.amount("minute")})
	if err != nil {
		return agentFault(err)
	}
	set.AlveolarLPerMin = air.AlveolarLPerMin.Value
	output := uptake.Range{Low: 0.75 * set.OutputLPerMin, Value: set.OutputLPerMin, High: 1.25 * set.OutputLPerMin}
	band, err := uptake.NewBand(body, set, uptake.Corners(set, air.AlveolarLPerMin, output)...)
	if err != nil {
		return agentFault(err)
	}
	for i, at := range minutes {
		to := until
		if i+1 < len(minutes) {
			to = minutes[i+1]
		}
		if err := band.Step(uptake.Exactly(mmHg[i]), to-at); err != nil {
			return agentFault(err)
		}
	}
	sources, err := uptake.Sources(term.Agent(g.code("agent")))
	if err != nil {
		return agentFault(err)
	}
	answer.Cite(sources...)
	answer.Cite(uptake.OutputSpread)
	r.ofAgent(mac)
	r.ofAgent(answer)
	r.ofAgent(breath)
	r.beware(Coded{areaDepth, string(depth.ConcentrationX)})
	r.took("run-by-schedule", g, "until", "weight", "age")
	one, err := mac.Value.Float64(quantity.MmHg)
	if err != nil {
		return err
	}
	give := func(x float64, decimals int, u quantity.Unit) quantity.Amount { return agent.Give(x, decimals, u) }
	lung, brain := band.TensionMmHg(uptake.Lung), band.TensionMmHg(uptake.Brain)
	r.ranged("alveolar_tension", "compartments", give(lung.Low, 2, quantity.MmHg), give(lung.Value, 2, quantity.MmHg), give(lung.High, 2, quantity.MmHg))
	r.ranged("brain_tension", "compartments", give(brain.Low, 2, quantity.MmHg), give(brain.Value, 2, quantity.MmHg), give(brain.High, 2, quantity.MmHg))
	r.ranged("brain_mac", "compartments", give(brain.Low/one, 2, quantity.One), give(brain.Value/one, 2, quantity.One), give(brain.High/one, 2, quantity.One))
	return nil
}

func drugsOf(g Given) (d depth.Drugs) {
	for _, code := range g.codes("premedicated") {
		switch code {
		case "anticholinergic":
			d.Anticholinergic = true
		case "opioid":
			d.Opioid = true
		case "benzodiazepine":
			d.Benzodiazepine = true
		}
	}
	return d
}

func lookGiven(g Given) depth.Look {
	return depth.Look{
		Breathing: term.Breathing(g.code("breathing")), Eyes: term.Eyes(g.code("eyes")), Pupils: term.Pupils(g.code("pupils")), Lid: term.Reflex(g.code("lid")),
		Cornea: term.Reflex(g.code("cornea")), Jaw: term.Jaw(g.code("jaw")), Chest: term.Chest(g.code("chest")), Movement: term.Movement(g.code("movement")), Tears: term.Tears(g.code("tears")),
	}
}

// withdrawnFault says which input takes an estimate away.
func withdrawnFault(why []depth.Reason) error {
	name := map[depth.Reason]string{
		depth.UnderOneYear: "age", depth.AgeUnknown: "age", depth.WeightAbsent: "weight", depth.NoModel: "agent", depth.GasAlone: "agent",
		depth.LowSaturation: "spo2", depth.LowPressure: "systolic", depth.NoBreath: "support", depth.HypoxicSign: "breathing",
		depth.DeepSign: "breathing", depth.ObstructedSign: "breathing", depth.DeepOrClosed: "breathing",
	}[why[0]]
	if name == "" {
		return &fault{name: "breathing", code: inputOneOf, names: "breathing, eyes, pupils, lid, cornea, jaw, chest, movement, tears"}
	}
	return &fault{name: name, code: agent.NoRule}
}

func stageOf(g Given, r *Result) error {
	of := depth.Subject{Age: g.amount("age"), Weight: quantity.MustParse("70 kg"), Agents: []term.Agent{term.Agent(g.code("agent"))}}
	read, err := depth.Read(of, drugsOf(g), term.Support(g.code("support")), lookGiven(g), depth.Vitals{}, depth.Vitals{})
	if err != nil {
		return agentFault(err)
	}
	if len(read.Reasons) > 0 {
		return withdrawnFault(read.Reasons)
	}
	if read.Low == "" {
		return withdrawnFault([]depth.Reason{depth.NoSigns})
	}
	r.ofAgent(agent.Answer{Cautions: read.Cautions, Sources: read.Sources})
	for _, d := range read.Dangers {
		r.beware(Coded{areaDanger, string(d)})
	}
	mac := func(x float64) quantity.Amount { return agent.Give(x, 2, quantity.One) }
	for _, end := range []struct {
		name  string
		stage depth.Stage
	}{{"lightest_stage", read.Low}, {"deepest_stage", read.High}} {
		low, high, _ := depth.StageMAC(of.Agents[0], end.stage)
		r.Values = append(r.Values, ResultValue{Name: end.name, Low: mac(low), High: mac(high), Rule: Coded{areaStage, string(end.stage)}})
	}
	conflicts := 0
	for _, it := range read.Items {
		if it.Agreement == depth.Conflicts {
			conflicts++
		}
	}
	count := func(n int) quantity.Amount { return quantity.MustParse(fmt.Sprintf("%d 1", n)) }
	r.step("signs-beside-table", patient.Named{Name: "signs", Amount: count(len(read.Items))}, patient.Named{Name: "conflicts", Amount: count(conflicts)})
	return nil
}

// The parts of the catalogue that have the words of stages and of dangers.
const (
	areaStage  = "depth.stage"
	areaDanger = "depth.reason"
)

func leadOf(g Given, r *Result) error {
	minutes, mmHg, until, err := inspiredOver(g)
	if err != nil {
		return err
	}
	of := depth.Subject{Age: g.amount("age"), Weight: g.amount("weight"), Agents: []term.Agent{term.Agent(g.code("agent"))}}
	run, err := depth.New(of, depth.Options{Seed: 1})
	if err != nil {
		return agentFault(err)
	}
	air, err := g.amount("pressure").Float64(quantity.MmHg)
	if err != nil {
		return err
	}
	supply := func(x float64) depth.Supply {
		return depth.Supply{InspiredMmHg: uptake.Exactly(x), MostMmHg: math.Max(x, 1), AirMmHg: air}
	}
	events := []depth.Event{{What: depth.WhatDrugs, Drugs: drugsOf(g)}, {What: depth.WhatSupport, Support: term.Support(g.code("support"))}}
	for i, at := range minutes {
		events = append(events, depth.Event{AtMin: at, What: depth.WhatSupply, Supply: supply(mmHg[i])})
	}
	var vitals depth.Vitals
	if vitals.SpO2Percent, err = agent.Take("spo2", g.amount("spo2"), quantity.Percent, 1, 100); err != nil {
		return agentFault(err)
	}
	if vitals.SystolicMmHg, err = agent.Take("systolic", g.amount("systolic"), quantity.MmHg, 1, 300); err != nil {
		return agentFault(err)
	}
	events = append(events, depth.Event{AtMin: until, What: depth.WhatLook, Look: lookGiven(g)}, depth.Event{AtMin: until, What: depth.WhatVitals, Vitals: vitals})
	if err := run.Update(events, until); err != nil {
		return agentFault(err)
	}
	e := run.Estimate()
	if len(e.Withdrawn) > 0 {
		return withdrawnFault(e.Withdrawn)
	}
	r.ofAgent(e.Answer)
	r.ranged("depth", "simulated-bodies", e.Answer.Low, e.Answer.Value, e.Answer.High)
	given := supply(mmHg[len(mmHg)-1])
	if g.has("deepen") {
		percent, err := agent.Take("deepen", g.amount("deepen"), quantity.Percent, 0, 80)
		if err != nil {
			return agentFault(err)
		}
		given = supply(percent / 100 * air)
	}
	r.took("bodies-ahead", g, "until", "spo2", "systolic")
	windows := []struct {
		name string
		get  func() (depth.Lead, bool, error)
	}{
		{"ready_airway", func() (depth.Lead, bool, error) { return run.Ready(depth.StepAirway, given) }},
		{"ready_skin", func() (depth.Lead, bool, error) { return run.Ready(depth.StepSkin, given) }},
		{"ready_closing", func() (depth.Lead, bool, error) { return run.Ready(depth.StepClosing, given) }},
		{"too_deep", func() (depth.Lead, bool, error) { return run.TooDeep(given) }},
		{"waking", func() (depth.Lead, bool, error) { l, ok := run.Waking(); return l, ok, nil }},
	}
	whole := func(x float64) quantity.Amount { return agent.Give(x, 0, quantity.Minute) }
	for _, w := range windows {
		l, ok, err := w.get()
		if err != nil {
			return agentFault(err)
		}
		if !ok || l.Never {
			continue
		}
		r.ofAgent(agent.Answer{Cautions: l.Cautions})
		r.Values = append(r.Values, ResultValue{Name: w.name, Low: whole(l.FromMin), High: whole(l.ToMin), Rule: Coded{areaReckon, "simulated-bodies"}})
	}
	r.step("ahead-at-most", patient.Named{Name: "most", Amount: whole(depth.LongestLeadMin)})
	return nil
}
