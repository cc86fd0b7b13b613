package uptake

import (
	"math"

	"chinlift/core/agent"
	"chinlift/core/quantity"
	"chinlift/core/term"
)

// Circuit is how oxygen meets what is inspired.
type Circuit string

// The circuits.
const (
	OpenMask          Circuit = "open-mask"           // gauze over the face, oxygen under it
	DrawOver          Circuit = "draw-over"           // oxygen at the inlet, without a reservoir
	DrawOverReservoir Circuit = "draw-over-reservoir" // the same with an open tube of 400 mL and more
)

// The cautions of oxygen.
const (
	CoverWithoutOxygen agent.Caution = "cover-without-oxygen" // a cover without oxygen makes hypoxic, at sea level too
	AloneWithoutOxygen agent.Caution = "alone-without-oxygen" // who breathes air and agent alone needs oxygen besides
	HypoxicAtHeight    agent.Caution = "hypoxic-at-height"    // air and agent without oxygen at this height
	LowAlveolarOxygen  agent.Caution = "low-alveolar-oxygen"  // may be under 60 mmHg in the alveoli
	OxygenUnknown      agent.Caution = "oxygen-unknown"       // nobody said whether oxygen flows: reckoned as none
	WatchSaturation    agent.Caution = "watch-saturation"     // an oximeter says more than this
)

var (
	maskDead      = agent.Source{Author: "derived", Title: "a mask of 100-150 mL gives a fifth to three tenths of the last breath back, which has 16.5 % of oxygen; the volume is from memory", Mark: term.MarkMemory}
	faulconer     = agent.Source{Author: "A. Faulconer, R. Latterell", Title: "Tensions of oxygen and ether vapor during use of the semi-open, air-ether method of anesthesia, Anesthesiology 10:247", Year: 1949, Table: "enclosing towels: oxygen 15-18 %, carbon dioxide 2-4 %; 0.3-1 L/min of oxygen under the mask restore over 21 %", Mark: term.MarkMemory}
	reservoir     = agent.Source{Author: "derived", Title: "all oxygen is inspired: (F + 0.2095 (V - F)) / V", Table: "draw-over with a reservoir", Mark: term.MarkPractice}
	entrained     = agent.Source{Author: "Shrestha and others", Title: "halothane by draw-over with oxygen, Anaesthesia 49:703", Year: 1994, Table: "2 L/min gave 34 %: about two thirds of what was fed", Via: "its abstract", Mark: term.MarkRead}
	inspPart      = agent.Source{Title: "a third to a half of a breath is inspiration; what flows in between is lost without a reservoir", Mark: term.MarkMemory}
	alveolar      = agent.Source{Title: "alveolar oxygen = inspired - carbon dioxide / 0.8", Table: "short alveolar gas equation of textbooks", Mark: term.MarkMemory}
	carbonTension = agent.Source{Title: "arterial carbon dioxide 35 mmHg, ventilated well, to 50, breathing alone under an anaesthetic", Mark: term.MarkMemory}
	fieldStudy    = agent.Source{Title: "draw-over in the field: air without oxygen, Anaesthesia 46:52", Year: 1991, Table: "who breathes alone needs at least 0.5 L/min of oxygen; with controlled ventilation air kept the arterial oxygen", Via: "its abstract", Mark: term.MarkRead}
	atHeight      = agent.Source{Author: "derived", Title: "from 2000 m on air with 10 % of ether leaves about 60 mmHg in the alveoli, at a carbon dioxide of 35", Mark: term.MarkPractice}
)

// Parts and limits. Each has its source above.
const (
	expiredOxygenPercent = 16.5
	respiratoryQuotient  = 0.8
	lowOxygenMmHg        = 60   // house choice: about 90 % saturation
	heightMmHg           = 597  // 2000 m of the standard atmosphere
	supplementLPerMin    = 0.5  // fieldStudy
	carbonLowMmHg        = 35.0 // carbonTension
	carbonHighMmHg       = 50.0
)

// Inhaled is what is breathed, as far as its oxygen goes.
type Inhaled struct {
	Circuit  Circuit
	Support  term.Support // empty is as spontaneous
	Cover    term.Cover   // of an open mask; empty is as on, the worse of the two
	Agent    term.Agent
	Oxygen   quantity.Amount // fed, 0 to 30 L/min; absent is reckoned as none, and said
	Pressure quantity.Amount // of the air
	CO2      quantity.Amount // arterial or end-tidal, 15 to 120 mm[Hg]; absent is 35 to 50

	MinuteLPerMin Range // what is breathed in a minute
	AgentPercent  Range // of the agent in it
}

// Oxygenation is what is inspired and what is left in the alveoli.
type Oxygenation struct {
	InspiredPercent Range
	AlveolarMmHg    Range
	Inspired        agent.Answer // the per cent, to a tenth
	Alveolar        agent.Answer // mm[Hg], to a whole one; its cautions are those of both
}

// ReservoirPercent gives the oxygen that is inspired where none of what is fed
// is lost: (F + 0.2095 (V - F)) / V, and 100 % where more is fed than breathed.
func ReservoirPercent(oxygenLPerMin, minuteLPerMin float64) float64 {
	return mixed(oxygenLPerMin, agent.AirOxygenPercent, minuteLPerMin)
}

// mixed gives the oxygen of so much pure oxygen and the rest of another gas.
func mixed(oxygenLPerMin, otherPercent, minuteLPerMin float64) float64 {
	if oxygenLPerMin >= minuteLPerMin {
		return 100
	}
	return (100*oxygenLPerMin + otherPercent*(minuteLPerMin-oxygenLPerMin)) / minuteLPerMin
}

// Estimate gives ranges for the oxygen that is inspired and for what is left of
// it in the alveoli, with warnings. It is a plausibility, before the start or
// where no oximeter is; it sees no lung, no shunt, no closed airway, and never
// says that a patient is safe. The errors are for "circuit", "support",
// "cover", "agent", "oxygen", "pressure", "co2", "minute" and "agent_percent".
func (i Inhaled) Estimate() (Oxygenation, error) {
	if i.Circuit != OpenMask && i.Circuit != DrawOver && i.Circuit != DrawOverReservoir {
		return Oxygenation{}, &agent.Error{Field: "circuit", Code: agent.UnknownCode, Given: string(i.Circuit)}
	}
	if i.Support != "" && !term.SupportList.Has(i.Support) {
		return Oxygenation{}, &agent.Error{Field: "support", Code: agent.UnknownCode, Given: string(i.Support)}
	}
	if i.Cover != "" && !term.CoverList.Has(i.Cover) {
		return Oxygenation{}, &agent.Error{Field: "cover", Code: agent.UnknownCode, Given: string(i.Cover)}
	}
	a, err := agent.Of(i.Agent)
	if err != nil {
		return Oxygenation{}, err
	}
	pressure, err := air(i.Pressure)
	if err != nil {
		return Oxygenation{}, err
	}
	if err := i.MinuteLPerMin.sound("minute", 0.01, 100); err != nil {
		return Oxygenation{}, err
	}
	if err := i.AgentPercent.sound("agent_percent", 0, 100); err != nil {
		return Oxygenation{}, err
	}
	var answer agent.Answer
	answer.Beware(agent.Estimate, WatchSaturation)
	oxygen := 0.0
	if i.Oxygen.IsZero() {
		answer.Beware(OxygenUnknown)
	} else if oxygen, err = agent.Take("oxygen", i.Oxygen, quantity.LPerMin, 0, 30); err != nil {
		return Oxygenation{}, err
	}
	co2 := Range{carbonLowMmHg, (carbonLowMmHg + carbonHighMmHg) / 2, carbonHighMmHg}
	if !i.CO2.IsZero() {
		x, err := agent.Take("co2", i.CO2, quantity.MmHg, 15, 120)
		if err != nil {
			return Oxygenation{}, err
		}
		co2 = Exactly(x)
	} else {
		answer.Cite(carbonTension)
	}

	leaves := Range{1 - i.AgentPercent.High/100, 1 - i.AgentPercent.Value/100, 1 - i.AgentPercent.Low/100}
	// What is there beside the oxygen that is fed, and the part of that which is
	// inspired.
	other := Exactly(agent.AirOxygenPercent).Times(leaves)
	var caught Range
	covered := i.Circuit == OpenMask && i.Cover != term.CoverOff
	switch {
	case covered:
		other = Range{15, 16.5, 18} // with the ether in it
		caught = Range{1. / 3, 2. / 3, 1}
		answer.Cite(faulconer, inspPart)
	case i.Circuit == OpenMask:
		const some, more = 0.2, 0.3 // of the last breath
		again := func(part float64) float64 {
			return (1-part)*agent.AirOxygenPercent + part*expiredOxygenPercent
		}
		other = Range{again(more), again((some + more) / 2), again(some)}.Times(leaves)
		caught = Range{1. / 3, 1. / 2, 1}
		answer.Cite(maskDead, inspPart)
	case i.Circuit == DrawOverReservoir:
		caught = Range{2. / 3, 0.85, 1}
		answer.Cite(reservoir, entrained)
	default:
		caught = Range{1. / 3, 1. / 2, 2. / 3}
		answer.Cite(inspPart, entrained)
	}
	inspired := Range{
		mixed(oxygen*caught.Low*leaves.Low, other.Low, i.MinuteLPerMin.High),
		mixed(oxygen*caught.Value*leaves.Value, other.Value, i.MinuteLPerMin.Value),
		mixed(oxygen*caught.High*leaves.High, other.High, i.MinuteLPerMin.Low),
	}
	// Where all that is breathed is oxygen and vapour.
	inspired = Range{math.Min(inspired.Low, 100*leaves.Low), math.Min(inspired.Value, 100*leaves.Value), math.Min(inspired.High, 100*leaves.High)}.tidy()
	left := func(percent, carbon float64) float64 {
		return math.Max(0, agent.InspiredOxygenMmHg(percent, pressure)-carbon/respiratoryQuotient)
	}
	alveoli := Range{left(inspired.Low, co2.High), left(inspired.Value, co2.Value), left(inspired.High, co2.Low)}.tidy()
	answer.Cite(alveolar)

	alone := i.Support != term.SupportControlled && i.Support != term.SupportAssisted
	if covered && oxygen == 0 {
		answer.Beware(CoverWithoutOxygen)
	}
	if alone && oxygen < supplementLPerMin {
		answer.Beware(AloneWithoutOxygen)
		answer.Cite(fieldStudy)
	}
	if oxygen == 0 && pressure <= heightMmHg {
		answer.Beware(HypoxicAtHeight)
		answer.Cite(atHeight)
	}
	if alveoli.Low < lowOxygenMmHg {
		answer.Beware(LowAlveolarOxygen)
	}
	if i.Support == term.SupportControlled {
		answer.Beware(NoBrake)
	}
	if i.Support == term.SupportObstructed || i.Support == term.SupportApnoea {
		answer.Beware(UptakeStopped)
	}
	if a.Fire.Burns {
		answer.Beware(agent.Explosive)
		if oxygen > 0 {
			answer.Beware(agent.OxygenMakesWorse)
		}
	}
	out := Oxygenation{InspiredPercent: inspired, AlveolarMmHg: alveoli, Inspired: answer, Alveolar: answer}
	out.Inspired.Low, out.Inspired.Value, out.Inspired.High = agent.Give(inspired.Low, 1, quantity.Percent), agent.Give(inspired.Value, 1, quantity.Percent), agent.Give(inspired.High, 1, quantity.Percent)
	out.Alveolar.Low, out.Alveolar.Value, out.Alveolar.High = agent.Give(alveoli.Low, 0, quantity.MmHg), agent.Give(alveoli.Value, 0, quantity.MmHg), agent.Give(alveoli.High, 0, quantity.MmHg)
	return out, nil
}
