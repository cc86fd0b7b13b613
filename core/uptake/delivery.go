package uptake

import (
	"math"

	"chinlift/core/agent"
	"chinlift/core/quantity"
	"chinlift/core/term"
)

// Delivered is what a patient inspires of an agent: a tension for the model,
// and in the answer the per cent of the air at the place, to two decimals.
type Delivered struct {
	InspiredMmHg Range
	agent.Answer
}

// The cautions of delivery.
const (
	CalibrateDrops      agent.Caution = "calibrate-drops"      // drops differ by a factor of over two: count them into 5 mL
	CoverUnknown        agent.Caution = "cover-unknown"        // reckoned for both, with and without a cover
	GauzeFrosts         agent.Caution = "gauze-frosts"         // cools and frosts: change the gauze
	AtMostSaturated     agent.Caution = "at-most-saturated"    // no more than the vapour over the cold liquid
	MeanOverTime        agent.Caution = "mean-over-time"       // a mean over the time; what was inspired went up and down
	WaysDisagree        agent.Caution = "ways-disagree"        // drops, gauze and bottle say different things
	LowFlow             agent.Caution = "low-flow"             // under what the vaporiser was made for: it may give less
	OutsideCompensation agent.Caution = "outside-compensation" // colder or warmer than it compensates
	TemperatureAssumed  agent.Caution = "temperature-assumed"  // nobody said how warm the liquid is
	CoolsInUse          agent.Caution = "cools-in-use"         // gives less as it cools, more when warm or shaken
	HeightRaisesTension agent.Caution = "height-raises-tension"
	HeightLowersTension agent.Caution = "height-lowers-tension"
	NearBoiling         agent.Caution = "near-boiling" // close to boiling: it may give far more than the dial says
	NotPublished        agent.Caution = "not-published"
	VaporisersStray     agent.Caution = "vaporisers-stray" // vaporisers in use stray from their dials
)

// Open drop.
var (
	openPart    = agent.Number{Value: 0.5, Low: 0.4, High: 0.6, Source: agent.Source{Title: "part of the ether dropped on an open mask that is inspired", Mark: term.MarkMemory}}
	coveredPart = agent.Number{Value: 0.7, Low: 0.6, High: 0.8, Source: agent.Source{Title: "part of the ether dropped that is inspired under a towel, 0.7; a tenth to either side is a house choice", Mark: term.MarkMemory}}
	dropsPerML  = agent.Number{Value: 40, Low: 25, High: 60, Source: agent.Source{Title: "drops of ether in a mL: 25-40 from a cut cork with a wick, 60 from a pharmacist's dropper", Mark: term.MarkMemory}}
	coverRaises = agent.Number{Value: 1.2, Low: 1, High: 1.4, Source: agent.Source{Author: "house choice", Title: "by what a cover raises the ether over a gauze of the same wetness: up to 0.7 / 0.5", Mark: term.MarkPractice}}

	gauzeSource = agent.Source{Title: "ether over a gauze mask: 4-10 % as usual, up to 15 % where all of it is wet", Mark: term.MarkMemory}
	gauzeChoice = agent.Source{Author: "house choice", Title: "ether over a gauze that is dry or damp: below what is usual for a wet one", Mark: term.MarkPractice}
	gauze       = map[term.Wetness]agent.Number{ // per cent of one atmosphere
		term.WetnessDry:    {Value: 0.3, Low: 0, High: 1, Source: gauzeChoice},
		term.WetnessDamp:   {Value: 3, Low: 1, High: 6, Source: gauzeChoice},
		term.WetnessWet:    {Value: 7, Low: 4, High: 10, Source: gauzeSource},
		term.WetnessSoaked: {Value: 10, Low: 6, High: 15, Source: gauzeSource},
	}

	dropSource  = agent.Source{Author: "derived", Title: "inspired = part x mL/min of liquid x mL of vapour in a mL / minute volume", Mark: term.MarkPractice}
	frostSource = agent.Source{Title: "a gauze with ether on it cools to about 0 °C and frosts", Mark: term.MarkMemory}
)

const (
	frostCelsius = 0.0 // Source: frostSource
	// EtherCoolingJPerML is the heat that a mL of ether takes to evaporate: 27.1
	// kJ/mol, from memory, over 74.12 g/mol, times 0.7134 g/mL.
	EtherCoolingJPerML = 27100 / 74.12 * 0.7134
	frostMLPerMin      = 2.0 // from here on frost is spoken of; house choice, 9 W
)

// OpenDrop is liquid agent on a gauze. At least one way to say how much is
// needed; where there are several, their overlap counts.
type OpenDrop struct {
	Agent   term.Agent
	Drops   quantity.Amount // 0 to 1000 {drop}/min
	PerML   quantity.Amount // as calibrated for this bottle, 5 to 200 {drop}/mL; absent is not known
	Wetness term.Wetness    // of ether
	Used    quantity.Amount // out of the bottle, 0 to 2000 mL
	Over    quantity.Amount // in what time, 1 min to 12 h
	Cover   term.Cover      // empty is not known

	MinuteLPerMin Range           // what is breathed in a minute
	Pressure      quantity.Amount // of the air
}

// Inspired estimates what comes through an open mask. The tension does not
// depend on the height, the per cent does. It is a rough one: the part that is
// inspired was never measured for this mask and this patient. The errors are
// for "agent" (a gas; or of another agent than ether, whose gauzes nobody
// described), "drops", "per_ml", "wetness", "used", "over", "minute" and
// "pressure".
func (d OpenDrop) Inspired() (Delivered, error) {
	a, err := agent.Of(d.Agent)
	if err != nil {
		return Delivered{}, err
	}
	if a.Gas {
		return Delivered{}, &agent.Error{Field: "agent", Code: agent.NoRule, Given: string(d.Agent)}
	}
	pressure, err := air(d.Pressure)
	if err != nil {
		return Delivered{}, err
	}
	if err := d.MinuteLPerMin.sound("minute", 0, 100); err != nil {
		return Delivered{}, err
	}
	var out Delivered
	out.Beware(agent.Estimate)
	part := rangeOf(openPart)
	switch d.Cover {
	case term.CoverOff:
	case term.CoverOn:
		part = rangeOf(coveredPart)
	case "":
		part = Range{openPart.Low, (openPart.Value + coveredPart.Value) / 2, coveredPart.High}
		out.Beware(CoverUnknown)
	default:
		return Delivered{}, &agent.Error{Field: "cover", Code: agent.UnknownCode, Given: string(d.Cover)}
	}
	// inspired gives the tension out of mL of liquid in a minute. Volumes of
	// vapour are those at 20 °C, as in the common rule.
	inspired := func(liquid Range) (Range, error) {
		if liquid.High > 0 && d.MinuteLPerMin.Low <= 0 {
			return Range{}, &agent.Error{Field: "minute", Code: agent.TooLow}
		}
		if d.Cover != term.CoverOn {
			out.Cite(openPart.Source)
		}
		if d.Cover != term.CoverOff {
			out.Cite(coveredPart.Source)
		}
		out.Cite(dropSource, a.DensityGPerML.Source)
		vapour := a.VapourMLPerML(20, atm) / 1000 * atm
		r := liquid.Times(part).Scale(vapour)
		if liquid.High == 0 {
			return r, nil
		}
		if d.Agent == term.AgentEther && liquid.High >= frostMLPerMin {
			out.Beware(GauzeFrosts)
		}
		return Range{r.Low / d.MinuteLPerMin.High, r.Value / d.MinuteLPerMin.Value, r.High / d.MinuteLPerMin.Low}, nil
	}
	var ways []Range
	if !d.Drops.IsZero() {
		drops, err := agent.Take("drops", d.Drops, quantity.DropsPerMin, 0, 1000)
		if err != nil {
			return Delivered{}, err
		}
		per := rangeOf(dropsPerML)
		if !d.PerML.IsZero() {
			x, err := agent.Take("per_ml", d.PerML, quantity.DropsPerML, 5, 200)
			if err != nil {
				return Delivered{}, err
			}
			per = Exactly(x)
		} else {
			if d.Agent != term.AgentEther {
				return Delivered{}, &agent.Error{Field: "per_ml", Code: agent.Missing}
			}
			out.Beware(CalibrateDrops)
			out.Cite(dropsPerML.Source)
		}
		r, err := inspired(Range{drops / per.High, drops / per.Value, drops / per.Low})
		if err != nil {
			return Delivered{}, err
		}
		ways = append(ways, r)
	}
	if d.Wetness != "" {
		if !term.WetnessList.Has(d.Wetness) {
			return Delivered{}, &agent.Error{Field: "wetness", Code: agent.UnknownCode, Given: string(d.Wetness)}
		}
		if d.Agent != term.AgentEther {
			return Delivered{}, &agent.Error{Field: "wetness", Code: agent.NoRule, Given: string(d.Agent)}
		}
		g := gauze[d.Wetness]
		r := rangeOf(g).Scale(atm / 100)
		if d.Cover != term.CoverOff {
			up := rangeOf(coverRaises)
			if d.Cover == "" {
				up.Value = (1 + up.Value) / 2
			}
			r = r.Times(up)
			out.Cite(coverRaises.Source)
		}
		out.Cite(g.Source)
		ways = append(ways, r)
	}
	if !d.Used.IsZero() {
		used, err := agent.Take("used", d.Used, quantity.ML, 0, 2000)
		if err != nil {
			return Delivered{}, err
		}
		over, err := agent.Take("over", d.Over, quantity.Minute, 1, 12*60)
		if err != nil {
			return Delivered{}, err
		}
		r, err := inspired(Exactly(used / over))
		if err != nil {
			return Delivered{}, err
		}
		out.Beware(MeanOverTime)
		ways = append(ways, r)
	}
	if len(ways) == 0 {
		return Delivered{}, &agent.Error{Field: "drops", Code: agent.Missing}
	}
	r := ways[0]
	for _, w := range ways[1:] {
		both := Range{Low: math.Max(r.Low, w.Low), High: math.Min(r.High, w.High)}
		if both.Low > both.High {
			out.Beware(WaysDisagree)
			both.Low, both.High = math.Min(r.Low, w.Low), math.Max(r.High, w.High)
		}
		both.Value = math.Min(both.High, math.Max(both.Low, (r.Value+w.Value)/2))
		r = both
	}
	// Over a liquid of some temperature there is no more than its vapour
	// pressure: ether's gauze is frosted, another's is at most as warm as a room.
	most := a.SaturatedMmHg(frostCelsius)
	if d.Agent == term.AgentEther {
		out.Cite(frostSource)
	} else {
		most = a.SaturatedMmHg(25)
	}
	most = math.Min(most, pressure)
	if r.High > most {
		out.Beware(AtMostSaturated)
		r = Range{math.Min(r.Low, most), math.Min(r.Value, most), most}
	}
	out.set(r, pressure)
	return out, nil
}

// set puts a tension in, and what it is in per cent at a pressure.
func (d *Delivered) set(mmHg Range, pressure float64) {
	mmHg = mmHg.tidy()
	percent := func(x float64) quantity.Amount { return agent.Give(100*x/pressure, 2, quantity.Percent) }
	d.InspiredMmHg = mmHg
	d.Low, d.Value, d.High = percent(mmHg.Low), percent(mmHg.Value), percent(mmHg.High)
}

// air reads the pressure of the air.
func air(p quantity.Amount) (float64, error) {
	return agent.Take("pressure", p, quantity.MmHg, 300, 850)
}

// VaporiserKind is a way of making vapour.
type VaporiserKind string

// The kinds.
const (
	Compensated VaporiserKind = "compensated" // divides the gas, and makes up for cold: plenum, and the large draw-over one for ether
	Plain       VaporiserKind = "plain"       // divides the gas, and does not: the small draw-over one
	Heated      VaporiserKind = "heated"      // heated, under pressure, for desflurane: adds vapour by per cent
)

var (
	bypass   = agent.Source{Author: "derived", Title: "variable bypass: the chamber's gas leaves with vapour : gas = SVP : (P - SVP)", Table: "for ether at height computed and not published", Mark: term.MarkPractice}
	strays   = agent.Source{Author: "J. Nielsen and others", Title: "Accuracy of 94 anaesthetic agent vaporizers in clinical use, Br J Anaesth 71:453", Year: 1993, Table: "17, 8 and 71 % of three types were off by more than 15 % of the dial; a fifth is taken here", Via: "its abstract", Mark: term.MarkRead}
	etherDO  = agent.Source{Title: "temperature-compensated draw-over ether vaporiser: 2-20 %, compensates 15-30 °C, gives less at small breaths and under 5 L/min", Mark: term.MarkMemory}
	plainDO  = agent.Source{Title: "small draw-over vaporiser: not compensated, gives less as it cools and more when warm or shaken", Mark: term.MarkMemory}
	heatedBy = agent.Source{Title: "at height the heated type keeps its per cent, so the tension falls", Table: "teaching page on vaporisers at height", Mark: term.MarkRead}
	lowBy    = agent.Source{Author: "house choice", Title: "under 5 L/min a vaporiser that is drawn over may give as little as half", Mark: term.MarkPractice}
)

const (
	calibratedCelsius = 20.0
	strayPart         = 0.20 // Source: strays
	lowFlowLPerMin    = 5.0  // Source: etherDO
	coolsK            = 5.0  // what a plain vaporiser may have cooled; house choice
	compensatedLow    = 15.0 // °C, with the next. Source: etherDO
	compensatedHigh   = 30.0
	usualLow          = 15.0 // °C, of a room where nobody said it; house choice
	usualHigh         = 30.0
)

// Vaporiser is an agent out of a vaporiser.
type Vaporiser struct {
	Agent       term.Agent
	Kind        VaporiserKind
	Dial        quantity.Amount // 0 to 30 %
	Temperature quantity.Amount // of the liquid, or of the room; absent is not known
	Pressure    quantity.Amount // of the air
	FlowLPerMin Range           // through it: what is breathed in a minute, for one that is drawn over
}

// bypassPercent gives what a variable bypass vaporiser gives at a pressure and a
// temperature, that gives the dial's per cent at 760 mmHg where the vapour
// pressure is that of setCelsius.
func bypassPercent(a agent.Agent, dialPercent, setCelsius, celsius, pressureMmHg float64) float64 {
	set, now := a.SaturatedMmHg(setCelsius), a.SaturatedMmHg(celsius)
	if now >= pressureMmHg {
		return 100
	}
	dial := dialPercent / 100
	chamber := dial / (1 - dial) * (atm - set) / set // gas through the chamber, over the gas beside it and through it
	vapour := chamber * now / (pressureMmHg - now)
	return 100 * vapour / (1 + vapour)
}

// Inspired estimates what a vaporiser gives. One that divides the gas gives a
// higher per cent in thin air, and a somewhat higher tension; for ether, whose
// vapour pressure is not far from that of thin air, a far higher one. The errors
// are for "agent", "kind", "dial", "temperature" (where the liquid boils no
// number is given, with the code Boils), "pressure" and "flow".
func (v Vaporiser) Inspired() (Delivered, error) {
	a, err := agent.Of(v.Agent)
	if err != nil {
		return Delivered{}, err
	}
	if a.Gas || v.Kind != Heated && v.Agent == term.AgentDesflurane || v.Kind == Heated && v.Agent != term.AgentDesflurane {
		return Delivered{}, &agent.Error{Field: "agent", Code: agent.NoRule, Given: string(v.Agent)}
	}
	pressure, err := air(v.Pressure)
	if err != nil {
		return Delivered{}, err
	}
	dial, err := agent.Take("dial", v.Dial, quantity.Percent, 0, 30)
	if err != nil {
		return Delivered{}, err
	}
	if err := v.FlowLPerMin.sound("flow", 0, 100); err != nil {
		return Delivered{}, err
	}
	var out Delivered
	out.Beware(agent.Estimate, VaporisersStray)
	out.Cite(strays)
	if v.Kind == Heated {
		out.Cite(heatedBy)
		if pressure < 0.97*atm {
			out.Beware(HeightLowersTension)
		}
		out.set(Range{1 - strayPart, 1, 1 + strayPart}.Scale(dial/100*pressure), pressure)
		return out, nil
	}
	cold, warm := usualLow, usualHigh
	if v.Temperature.IsZero() {
		out.Beware(TemperatureAssumed)
	} else {
		if warm, err = agent.Take("temperature", v.Temperature, quantity.Cel, -10, 50); err != nil {
			return Delivered{}, err
		}
		cold = warm
	}
	middle := (cold + warm) / 2
	if !v.Temperature.IsZero() && a.SaturatedMmHg(warm) >= pressure {
		return Delivered{}, &agent.Error{Field: "temperature", Code: agent.Boils, Given: v.Temperature.String()}
	}
	if a.SaturatedMmHg(middle) >= pressure {
		return Delivered{}, &agent.Error{Field: "temperature", Code: agent.Boils, Given: agent.Give(middle, 1, quantity.Cel).String()}
	}
	if a.SaturatedMmHg(warm) >= 0.85*pressure { // house choice: within some 5 K of boiling
		out.Beware(NearBoiling, agent.BoilsInRoom)
	}
	// at gives the per cent at a temperature of the liquid.
	var at func(celsius float64) float64
	switch v.Kind {
	case Compensated:
		out.Cite(bypass)
		if v.Agent == term.AgentEther {
			out.Cite(etherDO)
		}
		beyond := cold < compensatedLow || warm > compensatedHigh
		if beyond {
			out.Beware(OutsideCompensation)
			cold -= coolsK
		}
		at = func(celsius float64) float64 {
			// It makes up for the temperature as far as it can.
			set := math.Min(compensatedHigh, math.Max(compensatedLow, celsius))
			return bypassPercent(a, dial, set, celsius, pressure)
		}
	case Plain:
		out.Cite(bypass, plainDO)
		out.Beware(CoolsInUse)
		cold -= coolsK
		at = func(celsius float64) float64 {
			return bypassPercent(a, dial, calibratedCelsius, celsius, pressure)
		}
	default:
		return Delivered{}, &agent.Error{Field: "kind", Code: agent.UnknownCode, Given: string(v.Kind)}
	}
	r := Range{(1 - strayPart) * at(cold), at(middle), (1 + strayPart) * at(warm)}
	if v.FlowLPerMin.Low < lowFlowLPerMin {
		out.Beware(LowFlow)
		out.Cite(lowBy)
		r.Low /= 2
	}
	// No more than the vapour over the liquid.
	most := math.Min(100, 100*a.SaturatedMmHg(warm)/pressure)
	if r.High > most {
		out.Beware(AtMostSaturated)
		r = Range{math.Min(r.Low, most), math.Min(r.Value, most), most}
	}
	if pressure < 0.97*atm {
		out.Beware(HeightRaisesTension)
		if v.Agent == term.AgentEther {
			out.Beware(NotPublished)
		}
	}
	out.set(r.Scale(pressure/100), pressure)
	return out, nil
}

// LiquidUse gives how much liquid makes so many per cent in so much air, in mL/h
// to a tenth: for the bottle to hold out, not for how much to pour. The vapour
// is reckoned at 20 °C and the pressure of the place. The errors are for
// "agent", "percent", "minute" and "pressure".
func LiquidUse(code term.Agent, percent, minute, pressure quantity.Amount) (agent.Answer, error) {
	a, err := agent.Of(code)
	if err != nil {
		return agent.Answer{}, err
	}
	if a.Gas {
		return agent.Answer{}, &agent.Error{Field: "agent", Code: agent.NoRule, Given: string(code)}
	}
	x, err := agent.Take("percent", percent, quantity.Percent, 0, 50)
	if err != nil {
		return agent.Answer{}, err
	}
	flow, err := agent.Take("minute", minute, quantity.LPerMin, 0, 100)
	if err != nil {
		return agent.Answer{}, err
	}
	p, err := air(pressure)
	if err != nil {
		return agent.Answer{}, err
	}
	answer := agent.Answer{Value: agent.Give(x*flow*600/a.VapourMLPerML(20, p), 1, quantity.MLPerH)}
	answer.Beware(agent.Estimate, agent.NotIdealGas)
	answer.Cite(dropSource, a.DensityGPerML.Source, a.MolarMassGPerMol.Source)
	return answer, nil
}

// CoolingWatts gives the heat that ether takes from its gauze or vaporiser by
// evaporating.
func CoolingWatts(etherMLPerMin float64) float64 { return etherMLPerMin / 60 * EtherCoolingJPerML }
