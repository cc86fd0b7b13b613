package kit

import (
	"chinlift/core/agent"
	"chinlift/core/exact"
	"chinlift/core/quantity"
	"chinlift/core/term"
)

var (
	standardAir = Source{Author: "International Organization for Standardization", Title: "ISO 2533, Standard Atmosphere", Year: 1975, Table: "pressure by height", Mark: term.MarkMemory}
	lonely      = Source{Title: "draw-over anaesthesia with air: who breathes by himself must be given at least 0.5 L/min of oxygen, Anaesthesia 46:52", Year: 1991, Via: "its abstract", Mark: term.MarkRead}
	towels      = Source{Author: "A. Faulconer, R. Latterell", Title: "Tensions of oxygen and ether vapor during use of the semi-open, air-ether method of anesthesia, Anesthesiology 10:247", Year: 1949, Table: "under towels oxygen 15-18 %, carbon dioxide 2-4 %; 0.3-1 L/min of oxygen brings it over 21 %", Mark: term.MarkMemory}
	thinAir     = Source{Author: "derived", Title: "air with 10 % of vapour leaves about 60 mmHg of oxygen in the lungs at 2000 m, at a carbon dioxide of 35 mmHg", Mark: term.MarkPractice}
	bypass      = Source{Author: "derived", Title: "variable bypass: vapour to gas of the chamber as saturated to (pressure - saturated)", Table: "halothane, isoflurane and sevoflurane up to a quarter over dial x 760 / pressure at 3000 m; 6 % of ether twice that; reckoned, not published", Mark: term.MarkPractice}
	dialRule    = Source{Title: "dial x 760 / pressure, tension unchanged; the heated type keeps its per cent, so that its tension falls", Via: "a teaching page on vaporisers at altitude", Mark: term.MarkRead}
)

// Setup is how an agent is to be given in a place, before a patient is there.
type Setup struct {
	Agent       term.Agent
	Height      quantity.Amount // -400 to 6000 m; sea level where absent
	Room        quantity.Amount // how warm it is where the agent stands, -20 to 60 Cel; may be absent
	Oxygen      quantity.Amount // to be added, 0 to 30 L/min; none where absent
	Vaporiser   bool            // by a dial; else by drops
	Cover       term.Cover      // over the mask; empty is off
	Spontaneous bool            // nobody is to breathe for the patient
}

// Limits; each has its source above.
const (
	leastOxygen = "0.5" // L/min. Source: lonely
	thinMmHg    = 597   // 2000 m. Source: thinAir
	heightPart  = 0.97  // of 760 mmHg, some 250 m: from here on a dial is off by more than 3 % (house choice)
	nearBoiling = 5     // °C (house choice)
)

// Warnings gives the pressure of a standard day at the height, in mm[Hg] to one
// decimal, and what is dangerous about the setup as cautions. It says what to
// change before somebody is put to sleep; what a patient then breathes, package
// uptake estimates. No caution does not mean that it is safe. Errors are for
// "agent", "height", "room", "oxygen" and "cover".
func (s Setup) Warnings() (Answer, error) {
	of, err := liquidAgent(s.Agent)
	if err != nil {
		return Answer{}, err
	}
	var a Answer
	p, err := pressure(&a, s.Height)
	if err != nil {
		return Answer{}, err
	}
	a.Value = exact.Model(p, 1, quantity.MmHg)
	a.cite(standardAir)
	oxygen := exact.Of("0")
	if !s.Oxygen.IsZero() {
		if oxygen, err = read("oxygen", s.Oxygen, quantity.LPerMin, "0", "30"); err != nil {
			return Answer{}, err
		}
	}
	switch s.Cover {
	case term.CoverOn:
		a.beware(CoverRebreathing)
		a.cite(towels)
		if oxygen.Sign() == 0 {
			a.beware(CoverWithoutOxygen)
		}
	case "", term.CoverOff:
	default:
		return Answer{}, &Error{Field: "cover", Code: UnknownCode, Given: string(s.Cover)}
	}
	if s.Spontaneous && oxygen.Cmp(exact.Of(leastOxygen)) < 0 {
		a.beware(SpontaneousNoOxygen)
		a.cite(lonely)
	}
	if oxygen.Sign() == 0 && p <= thinMmHg {
		a.beware(HypoxicAtHeight)
		a.cite(thinAir)
	}
	if s.Vaporiser && p < heightPart*agent.StandardMmHg(0) {
		a.cite(dialRule)
		switch s.Agent {
		case term.AgentDesflurane:
			a.beware(HeightLowersTension)
		case term.AgentEther:
			a.beware(HeightRaisesTension, DialUnsafe)
			a.cite(bypass)
		default:
			a.beware(HeightRaisesTension)
			a.cite(bypass)
		}
	}
	if !s.Room.IsZero() {
		warm, err := read("room", s.Room, quantity.Cel, "-20", "60")
		if err != nil {
			return Answer{}, err
		}
		switch {
		case of.SaturatedMmHg(warm.Float()) >= p:
			a.beware(BoilsHere)
		case of.SaturatedMmHg(warm.Float()+nearBoiling) >= p:
			a.beware(NearBoiling)
		}
		a.cite(of.Antoine.Source)
	}
	if of.Fire.Burns {
		a.beware(Burns)
	}
	return a, nil
}
