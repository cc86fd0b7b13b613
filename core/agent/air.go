package agent

import (
	"math"

	"chinlift/core/quantity"
	"chinlift/core/term"
)

const (
	// WaterMmHg is the pressure of water vapour in air at 37 °C, as every
	// textbook of respiratory physiology has it (from memory).
	WaterMmHg = 47.0
	// AirOxygenPercent is the oxygen in dry air (from memory).
	AirOxygenPercent = 20.95

	heightLowM, heightHighM = -400, 6000 // where clinics are
)

var (
	standardAir = Source{Author: "International Organization for Standardization", Title: "ISO 2533, Standard Atmosphere", Year: 1975, Table: "288.15 K, 6.5 K/km, 9.80665 m/s2, 101325 Pa", Mark: term.MarkMemory}
	wetAir      = Source{Title: "inspired oxygen = part of oxygen x (pressure - 47 mmHg)", Table: "textbooks of respiratory physiology", Mark: term.MarkMemory}
	dilution    = Source{Author: "derived", Title: "a vapour takes the place of air: oxygen x (1 - vapour)", Mark: term.MarkPractice}
)

// StandardMmHg gives the pressure of the standard atmosphere at a height, up to
// 11 000 m.
func StandardMmHg(heightM float64) float64 {
	return atm * math.Pow(1-2.25577e-5*heightM, 5.25588)
}

// Pressure gives the pressure of a standard day at a height, -400 to 6000 m, in
// mm[Hg] to one decimal. Weather moves it by some 2 % (from memory). Source:
// ISO 2533, Standard Atmosphere, 1975, from memory.
func Pressure(height quantity.Amount) (Answer, error) {
	h, err := Take("height", height, quantity.M, heightLowM, heightHighM)
	if err != nil {
		return Answer{}, err
	}
	answer := Answer{Value: Give(StandardMmHg(h), 1, quantity.MmHg)}
	answer.Cite(standardAir)
	answer.Beware(StandardAir)
	return answer, nil
}

// InspiredOxygenMmHg gives the tension of oxygen in inspired gas that is warm
// and moist.
func InspiredOxygenMmHg(oxygenPercent, pressureMmHg float64) float64 {
	return oxygenPercent / 100 * (pressureMmHg - WaterMmHg)
}

// InspiredOxygen gives the tension of oxygen in moist inspired gas, in mm[Hg] to
// one decimal: 149.4 in air at sea level.
func InspiredOxygen(oxygen, pressure quantity.Amount) (Answer, error) {
	x, err := Take("oxygen", oxygen, quantity.Percent, 0, 100)
	if err != nil {
		return Answer{}, err
	}
	p, err := Take("pressure", pressure, quantity.MmHg, airLowMmHg, airHighMmHg)
	if err != nil {
		return Answer{}, err
	}
	answer := Answer{Value: Give(InspiredOxygenMmHg(x, p), 1, quantity.MmHg)}
	answer.Cite(wetAir)
	answer.Beware(Estimate)
	return answer, nil
}

// OxygenLeft gives the oxygen, in % to two decimals, of a gas that vapour was
// added to: 10 % of ether leave 18.86 % of the air's 20.95.
func OxygenLeft(oxygen, vapour quantity.Amount) (Answer, error) {
	x, err := Take("oxygen", oxygen, quantity.Percent, 0, 100)
	if err != nil {
		return Answer{}, err
	}
	e, err := Take("vapour", vapour, quantity.Percent, 0, 100)
	if err != nil {
		return Answer{}, err
	}
	answer := Answer{Value: Give(x*(1-e/100), 2, quantity.Percent)}
	answer.Cite(dilution)
	answer.Beware(Estimate)
	return answer, nil
}
