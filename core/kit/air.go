package kit

import (
	"chinlift/core/agent"
	"chinlift/core/quantity"
	"chinlift/core/term"
)

var (
	bypass     = Source{Author: "derived", Title: "variable bypass set at 760 mmHg and 20 °C: vapour from the chamber = flow x saturated / (pressure - saturated)", Mark: term.MarkPractice}
	simpleRule = Source{Title: "dial x 760 / pressure, tension unchanged", Via: "a teaching page on vaporisers at altitude", Mark: term.MarkRead}
	lonely     = Source{Title: "draw-over anaesthesia with air: breathing by oneself must be supplemented with at least 0.5 L/min of oxygen, Anaesthesia 46:52", Year: 1991, Via: "its abstract", Mark: term.MarkRead}
	towels     = Source{Author: "A. Faulconer, K. E. Latterell", Title: "Tensions of oxygen and ether vapor during use of the semi-open, air-ether method of anesthesia, Anesthesiology 10:247", Year: 1949, Table: "under towels oxygen 15-18 %, carbon dioxide 2-4 %; 0.3-1 L/min of oxygen brings it over 21 %", Mark: term.MarkMemory}
	entrained  = Source{Author: "Shrestha and others", Title: "Anaesthesia 49:703", Year: 1994, Table: "2 L/min of oxygen drawn in: on average 34 %", Via: "its abstract", Mark: term.MarkRead}
	reservoir  = Source{Author: "derived", Title: "oxygen flow and the rest air, over the minute volume; nothing lost", Mark: term.MarkPractice}
	alveolar   = Source{Title: "alveolar gas equation, carbon dioxide 35 mmHg, quotient 0.8", Table: "textbooks of respiratory physiology", Mark: term.MarkMemory}
)

// VaporiserAt gives what a variable bypass vaporiser, set by its maker for 760
// mmHg and 20 °C, gives at a height with the liquid at 20 °C: in % to two
// decimals. Per cent and tension both rise with the height; the rule dial x 760
// / pressure, which leaves the tension as it is, is the low end of the range,
// and far too low for ether. A vaporiser that keeps its own warmth and pressure
// (desflurane) is another thing: no rule here. Where the liquid boils no dial
// holds: an *Error for "height". Source: bypass, simpleRule; reckoned, not
// measured.
func VaporiserAt(code term.Agent, dial, height quantity.Amount) (Answer, error) {
	of, err := liquidAgent(code)
	if err != nil {
		return Answer{}, err
	}
	if code == term.AgentDesflurane {
		return Answer{}, &Error{Field: "agent", Code: NoRule, Given: string(code)}
	}
	x, err := read("dial", dial, quantity.Percent, "0", "20")
	if err != nil {
		return Answer{}, err
	}
	if height.IsZero() {
		return Answer{}, &Error{Field: "height", Code: Missing}
	}
	var a Answer
	p, err := pressure(&a, height)
	if err != nil {
		return Answer{}, err
	}
	saturated, sea := of.SaturatedMmHg(20), agent.StandardMmHg(0)
	if saturated >= p {
		return Answer{}, &Error{Field: "height", Code: Boils, Given: height.String()}
	}
	set := float(x) / 100
	vapour := set / (1 - set) * (sea - saturated) / (p - saturated)
	percent := 100 * vapour / (1 + vapour)
	simple := 100 * set * sea / p
	a.Value = model(percent, 2, quantity.Percent)
	a.beware(Estimate, DialIsNotOutput)
	if p < sea {
		a.Low, a.High = model(simple, 2, quantity.Percent), a.Value
		a.beware(VaporiserAtHeight)
	}
	// A quarter over the rule is a quarter more tension (house choice).
	if percent > 1.25*simple {
		a.beware(UnsafeRule)
	}
	a.cite(bypass, simpleRule, of.Antoine.Source)
	return a, nil
}

// BoilingAt gives where an agent boils at a height, in Cel to one decimal, and
// says whether that is at or near a warmth of the room (-20 to 60 Cel). Ether
// boils at 34.6 °C at sea level and at 24.6 °C at 3000 m.
func BoilingAt(code term.Agent, height, room quantity.Amount) (Answer, error) {
	of, err := liquidAgent(code)
	if err != nil {
		return Answer{}, err
	}
	warm, err := read("room", room, quantity.Cel, "-20", "60")
	if err != nil {
		return Answer{}, err
	}
	var a Answer
	p, err := pressure(&a, height)
	if err != nil {
		return Answer{}, err
	}
	boils, err := agent.BoilingPoint(code, model(p, 3, quantity.MmHg))
	if err != nil {
		return Answer{}, err
	}
	a.Value = boils.Value
	a.beware(Estimate)
	switch {
	case of.SaturatedMmHg(float(warm)) >= p:
		a.beware(BoilsHere)
	case of.SaturatedMmHg(float(warm)+5) >= p:
		a.beware(NearBoiling)
	}
	a.cite(boils.Sources...)
	return a, nil
}

// Breathing is how a patient breathes air with an agent.
type Breathing struct {
	Height       quantity.Amount // sea level where absent
	Vapour       quantity.Amount // of the agent in what is breathed, 0 to 40 %; none where absent
	Oxygen       quantity.Amount // added, 0 to 30 L/min; none where absent
	MinuteVolume quantity.Amount // 0.1 to 60 L/min; needed where oxygen is added
	Reservoir    bool            // oxygen goes into a reservoir tube, as in draw-over
	Cover        term.Cover      // over an open mask
	Spontaneous  bool            // nobody breathes for the patient
}

// leastOxygen is what breathing by oneself wants, L/min. Source: lonely.
const leastOxygen = "0.5"

// lungLowMmHg is the oxygen in the lungs under which a caution is given: about
// where the saturation begins to fall steeply. House choice.
const lungLowMmHg = 60

// BreathingAir gives the oxygen in what is breathed, in % to one decimal, with a
// range, and says what is dangerous about it. With a reservoir the value is for
// one that loses nothing, and the low end counts half of the added oxygen, as
// was measured. Without one the value is that of air, and the high end counts
// all of the oxygen. Under a cover without oxygen the range is
// what was measured under towels. The cautions go by the low end. Source:
// reservoir, entrained, towels, lonely, alveolar.
func BreathingAir(b Breathing) (Answer, error) {
	var a Answer
	p, err := pressure(&a, b.Height)
	if err != nil {
		return Answer{}, err
	}
	vapour, oxygen := num("0"), num("0")
	if !b.Vapour.IsZero() {
		if vapour, err = read("vapour", b.Vapour, quantity.Percent, "0", "40"); err != nil {
			return Answer{}, err
		}
	}
	if !b.Oxygen.IsZero() {
		if oxygen, err = read("oxygen", b.Oxygen, quantity.LPerMin, "0", "30"); err != nil {
			return Answer{}, err
		}
	}
	if b.Cover != "" && !term.CoverList.Has(b.Cover) {
		return Answer{}, &Error{Field: "cover", Code: UnknownCode, Given: string(b.Cover)}
	}
	a.beware(Estimate)
	const air = agent.AirOxygenPercent
	value, low, high := air, air, air
	if oxygen.Sign() > 0 {
		volume, err := read("minute_volume", b.MinuteVolume, quantity.LPerMin, "0.1", "60")
		if err != nil {
			return Answer{}, err
		}
		share := min(1, float(oxygen)/float(volume))
		high = share*100 + (1-share)*air
		if b.Reservoir {
			value, low = high, air+(high-air)/2
			a.beware(PerfectReservoir)
			a.cite(reservoir, entrained)
		} else {
			a.beware(NoReservoir)
			a.cite(reservoir)
		}
	}
	if b.Cover == term.CoverOn {
		a.beware(CoverRebreathing)
		a.cite(towels)
	}
	left := 1 - float(vapour)/100
	if b.Cover == term.CoverOn && oxygen.Sign() == 0 {
		a.beware(CoverWithoutOxygen)
		// What was measured has the ether in it already.
		low, value, high = min(15, air*left), min(16.5, air*left), min(18, air*left)
	} else {
		low, value, high = low*left, value*left, high*left
	}
	a.Value = model(value, 1, quantity.Percent)
	if low < high {
		a.Low, a.High = model(low, 1, quantity.Percent), model(high, 1, quantity.Percent)
	}
	if b.Spontaneous && oxygen.Cmp(num(leastOxygen)) < 0 {
		a.beware(SpontaneousNoOxygen)
		a.cite(lonely)
	}
	if lungsMmHg(low, p) < lungLowMmHg {
		a.beware(TooLittleOxygen)
		a.cite(alveolar)
	}
	return a, nil
}

// lungsMmHg gives the oxygen in the lungs: what is inspired, warm and moist,
// less 35 mmHg of carbon dioxide over 0.8. Source: alveolar.
func lungsMmHg(oxygenPercent, pressureMmHg float64) float64 {
	return agent.InspiredOxygenMmHg(oxygenPercent, pressureMmHg) - 35/0.8
}
