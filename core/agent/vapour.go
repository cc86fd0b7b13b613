package agent

import (
	"math"

	"chinlift/core/quantity"
	"chinlift/core/term"
)

const (
	gasConstant = 8.314462618 // J/(mol K), CODATA 2018
	pascalMmHg  = 101325 / atm
	zeroKelvin  = 273.15 // 0 °C
)

// Temperatures of a room and of a cooled gauze, °C (house choice). Between -10
// and 35 °C, about where the published columns lie, the equations are taken
// without a caution.
const tempLowCelsius, tempHighCelsius = -20, 60

// molarVolumeL gives the volume of a mole of ideal gas: 24.055 L at 20 °C and
// 760 mmHg.
func molarVolumeL(celsius, mmHg float64) float64 {
	return gasConstant * (celsius + zeroKelvin) / (mmHg * pascalMmHg) * 1000
}

// SaturatedMmHg gives the vapour pressure over the liquid; 0 for a gas.
func (a Agent) SaturatedMmHg(celsius float64) float64 {
	if a.Gas {
		return 0
	}
	return math.Pow(10, a.Antoine.A-a.Antoine.B/(celsius+a.Antoine.C))
}

// boilsAtCelsius gives where the vapour pressure reaches a pressure.
func (a Agent) boilsAtCelsius(mmHg float64) float64 {
	return a.Antoine.B/(a.Antoine.A-math.Log10(mmHg)) - a.Antoine.C
}

// VapourMLPerML gives the mL of vapour, as an ideal gas at a temperature and
// pressure, that come of a mL of liquid measured at 20 °C; 0 for a gas.
func (a Agent) VapourMLPerML(celsius, mmHg float64) float64 {
	return a.DensityGPerML.Value / a.MolarMassGPerMol.Value * molarVolumeL(celsius, mmHg) * 1000
}

// liquid gives an agent that comes as a liquid.
func liquid(code term.Agent) (Agent, error) {
	a, err := Of(code)
	if err != nil {
		return Agent{}, err
	}
	if a.Gas {
		return Agent{}, &Error{Field: "agent", Code: NoRule, Given: string(code)}
	}
	return a, nil
}

func temperature(t quantity.Amount) (float64, error) {
	return Take("temperature", t, quantity.Cel, tempLowCelsius, tempHighCelsius)
}

// SaturatedVapour gives the vapour pressure over a liquid agent at -20 to 60 °C,
// in mm[Hg] to one decimal. It is what the agent can reach at most over a liquid
// or a gauze of that temperature. Source: that of the agent's equation; method
// Rodgers and Hill, Br J Anaesth 1978;50:415.
func SaturatedVapour(code term.Agent, celsius quantity.Amount) (Answer, error) {
	a, err := liquid(code)
	if err != nil {
		return Answer{}, err
	}
	t, err := temperature(celsius)
	if err != nil {
		return Answer{}, err
	}
	answer := Answer{Value: Give(a.SaturatedMmHg(t), 1, quantity.MmHg)}
	answer.Cite(a.Antoine.Source)
	answer.Beware(Estimate)
	if t < -10 || t > 35 {
		answer.Beware(BeyondEquation)
	}
	if a.Antoine.Source.Mark == term.MarkMemory {
		answer.Beware(FromMemory)
	}
	return answer, nil
}

// roomCelsius is how warm a theatre may be (house choice): what boils under it
// may boil in its bottle.
const roomCelsius = 35

// BoilingPoint gives where a liquid agent boils at a pressure of the air, in Cel
// to one decimal. Ether boils at 34.6 °C at sea level and at 24.6 °C at 3000 m.
func BoilingPoint(code term.Agent, pressure quantity.Amount) (Answer, error) {
	a, err := liquid(code)
	if err != nil {
		return Answer{}, err
	}
	p, err := Take("pressure", pressure, quantity.MmHg, airLowMmHg, airHighMmHg)
	if err != nil {
		return Answer{}, err
	}
	t := a.boilsAtCelsius(p)
	answer := Answer{Value: Give(t, 1, quantity.Cel)}
	answer.Cite(a.Antoine.Source, a.BoilingCelsius.Source)
	answer.Beware(Estimate)
	if t < roomCelsius {
		answer.Beware(BoilsInRoom)
	}
	return answer, nil
}

var gasLaw = Source{Author: "derived", Title: "ideal gas: density / molar mass x R T / P; real vapours give 1 to 4 % more (Anesthesiology 1978, abstract)", Mark: term.MarkPractice}

// Vapour gives how much vapour comes of a volume of liquid agent, in mL to a
// whole one, at a temperature and pressure of the vapour. The liquid is measured
// at 20 °C, 0 to 5000 mL.
func Vapour(code term.Agent, volume, celsius, pressure quantity.Amount) (Answer, error) {
	a, err := liquid(code)
	if err != nil {
		return Answer{}, err
	}
	v, err := Take("volume", volume, quantity.ML, 0, 5000)
	if err != nil {
		return Answer{}, err
	}
	t, err := temperature(celsius)
	if err != nil {
		return Answer{}, err
	}
	p, err := Take("pressure", pressure, quantity.MmHg, airLowMmHg, airHighMmHg)
	if err != nil {
		return Answer{}, err
	}
	answer := Answer{Value: Give(v*a.VapourMLPerML(t, p), 0, quantity.ML)}
	answer.Cite(gasLaw, a.DensityGPerML.Source, a.MolarMassGPerMol.Source)
	answer.Beware(Estimate, NotIdealGas)
	return answer, nil
}
