package agent

import (
	"math"

	"chinlift/core/quantity"
	"chinlift/core/term"
)

// atm is one atmosphere in mmHg, which MAC in per cent is a part of.
const atm = 760.0

// The slope of the logarithm of MAC with age. Source: mapleson.
const ageSlope = -0.00269

// The ages that the rule of age holds for: over 1 year (Mapleson 1996), charts
// to 95 years (R. W. D. Nickalls, W. W. Mapleson, Age-related iso-MAC charts,
// Br J Anaesth 2003;91:170, abstract read).
const (
	ageLowYears  = 1
	ageHighYears = 95
	ageMaxYears  = 120 // no patient is older
)

// Pressures and tensions that a person may enter, in mmHg.
const (
	airLowMmHg, airHighMmHg = 300, 850
	tensionHighMmHg         = 850
)

// AgeFactor gives MAC at an age as a part of MAC at 40 years: 10^(-0.00269
// (age - 40)), 6 % less for each decade. Under 1 year it is that of 1 year.
// Source: W. W. Mapleson, Br J Anaesth 1996;76:179.
func AgeFactor(years float64) float64 {
	return math.Pow(10, ageSlope*(max(years, ageLowYears)-40))
}

// MACPercent gives MAC at an age in per cent of one atmosphere.
func (a Agent) MACPercent(years float64) float64 { return a.MAC40Percent.Value * AgeFactor(years) }

// MACMmHg gives MAC at an age as a tension.
func (a Agent) MACMmHg(years float64) float64 { return a.MACPercent(years) * atm / 100 }

// aged reads an age and says what is to be said about it.
func (a Agent) aged(answer *Answer, age quantity.Amount) (years float64, err error) {
	years, err = Take("age", age, quantity.Year, 0, ageMaxYears)
	if err != nil {
		return 0, err
	}
	answer.Cite(a.MAC40Percent.Source, mapleson)
	answer.Beware(Estimate, HalfMove)
	if years < ageLowYears {
		answer.Beware(UnderOneYear)
	}
	if years > ageHighYears {
		answer.Beware(BeyondCharts)
	}
	if !a.InMAC40 {
		answer.Beware(Extrapolated)
	}
	if a.Historical {
		answer.Beware(Historical)
	}
	if a.MAC40Percent.Source.Mark == term.MarkMemory {
		answer.Beware(FromMemory)
	}
	answer.Beware(a.Cautions...)
	return years, nil
}

// MAC gives the minimum alveolar concentration at an age in per cent of one
// atmosphere, to three decimals, with the 95 % limits of the value at 40 years
// carried along. Under 1 year it is the value for 1 year, and says so. Source:
// Mapleson 1996, and that of the agent's own value.
func MAC(code term.Agent, age quantity.Amount) (Answer, error) {
	return mac(code, age, 3, quantity.Percent, 1)
}

// MACTension gives MAC at an age as a tension in mm[Hg], to two decimals; it is
// the same at every height.
func MACTension(code term.Agent, age quantity.Amount) (Answer, error) {
	return mac(code, age, 2, quantity.MmHg, atm/100)
}

func mac(code term.Agent, age quantity.Amount, decimals int, u quantity.Unit, times float64) (Answer, error) {
	a, err := Of(code)
	if err != nil {
		return Answer{}, err
	}
	var answer Answer
	years, err := a.aged(&answer, age)
	if err != nil {
		return Answer{}, err
	}
	answer.Value = Give(a.MACPercent(years)*times, decimals, u)
	if a.MAC40Percent.Low != 0 {
		f := AgeFactor(years) * times
		answer.Low, answer.High = Give(a.MAC40Percent.Low*f, decimals, u), Give(a.MAC40Percent.High*f, decimals, u)
	}
	return answer, nil
}

// Awake gives the tension at which people answer again, as a range, in mm[Hg],
// to two decimals: the published part of MAC at that age and a quarter to
// either side (house choice, about what the studies differ by). There is none
// for an agent that nobody published it for.
func Awake(code term.Agent, age quantity.Amount) (Answer, error) {
	a, err := Of(code)
	if err != nil {
		return Answer{}, err
	}
	if !a.AwakePerMAC.Known() {
		return Answer{}, &Error{Field: "agent", Code: NoRule, Given: string(code)}
	}
	var answer Answer
	years, err := a.aged(&answer, age)
	if err != nil {
		return Answer{}, err
	}
	answer.Cite(a.AwakePerMAC.Source)
	answer.Beware(RangeOfAwake)
	low, value, high := a.AwakeMmHg(years)
	answer.Low, answer.Value, answer.High = Give(low, 2, quantity.MmHg), Give(value, 2, quantity.MmHg), Give(high, 2, quantity.MmHg)
	return answer, nil
}

// AwakeMmHg is Awake for a model; all are 0 where nobody published it.
func (a Agent) AwakeMmHg(years float64) (low, value, high float64) {
	value = a.AwakePerMAC.Value * a.MACMmHg(years)
	return 0.75 * value, value, 1.25 * value
}

// Share is one agent at a tension, out of several.
type Share struct {
	Agent   term.Agent
	Tension quantity.Amount // 0 to 850 mm[Hg]
}

// parts adds the shares as parts of MAC at an age.
func parts(answer *Answer, age quantity.Amount, shares []Share) (sum float64, err error) {
	for _, s := range shares {
		a, err := Of(s.Agent)
		if err != nil {
			return 0, err
		}
		years, err := a.aged(answer, age)
		if err != nil {
			return 0, err
		}
		t, err := Take("tension", s.Tension, quantity.MmHg, 0, tensionHighMmHg)
		if err != nil {
			return 0, err
		}
		sum += t / a.MACMmHg(years)
	}
	return sum, nil
}

// Sum adds agents as parts of MAC at an age, to two decimals: half a MAC of one
// and half of another count as one. That parts add is common teaching (E. I.
// Eger, from memory), and what the charts of Nickalls and Mapleson are made by.
// No share at all is a missing "shares".
func Sum(age quantity.Amount, shares ...Share) (Answer, error) {
	if len(shares) == 0 {
		return Answer{}, &Error{Field: "shares", Code: Missing}
	}
	var answer Answer
	sum, err := parts(&answer, age, shares)
	if err != nil {
		return Answer{}, err
	}
	answer.Cite(additive)
	answer.Value = Give(sum, 2, quantity.One)
	return answer, nil
}

var additive = Source{Author: "R. W. D. Nickalls, W. W. Mapleson", Title: "Age-related iso-MAC charts for isoflurane, sevoflurane and desflurane in man, Br J Anaesth 91:170", Year: 2003, Table: "parts of MAC add", Via: "its abstract", Mark: term.MarkRead}

// Remainder gives the tension of an agent, in mm[Hg] to two decimals, that
// together with the others makes so many MAC at an age; 0 where the others make
// as much already. The total is a number, 0 to 3. It says what a mixture amounts
// to, not what to give.
func Remainder(code term.Agent, age, total quantity.Amount, others ...Share) (Answer, error) {
	a, err := Of(code)
	if err != nil {
		return Answer{}, err
	}
	var answer Answer
	years, err := a.aged(&answer, age)
	if err != nil {
		return Answer{}, err
	}
	want, err := Take("total", total, quantity.One, 0, 3)
	if err != nil {
		return Answer{}, err
	}
	have, err := parts(&answer, age, others)
	if err != nil {
		return Answer{}, err
	}
	answer.Cite(additive)
	answer.Value = Give(max(0, want-have)*a.MACMmHg(years), 2, quantity.MmHg)
	return answer, nil
}

// TensionOf gives the tension, in mm[Hg] to two decimals, of so many per cent
// of the air at a pressure.
func TensionOf(percent, pressure quantity.Amount) (quantity.Amount, error) {
	x, err := Take("percent", percent, quantity.Percent, 0, 100)
	if err != nil {
		return quantity.Amount{}, err
	}
	p, err := Take("pressure", pressure, quantity.MmHg, airLowMmHg, airHighMmHg)
	if err != nil {
		return quantity.Amount{}, err
	}
	return Give(x/100*p, 2, quantity.MmHg), nil
}

// PercentAt gives the per cent, to two decimals, that make a tension in air at
// a pressure. MAC of 1.92 % at sea level is 14.59 mmHg everywhere, and 2.45 %
// at 596 mmHg. The error is for a tension over the pressure, too.
func PercentAt(tension, pressure quantity.Amount) (quantity.Amount, error) {
	p, err := Take("pressure", pressure, quantity.MmHg, airLowMmHg, airHighMmHg)
	if err != nil {
		return quantity.Amount{}, err
	}
	t, err := Take("tension", tension, quantity.MmHg, 0, p)
	if err != nil {
		return quantity.Amount{}, err
	}
	return Give(100*t/p, 2, quantity.Percent), nil
}

// BloodConcentration gives the mass of an agent in blood at 37 °C that is in
// balance with a tension, in mg/dL to one decimal: the tension as a part of an
// atmosphere, times blood/gas, times the density of the gas.
func BloodConcentration(code term.Agent, tension quantity.Amount) (Answer, error) {
	a, err := Of(code)
	if err != nil {
		return Answer{}, err
	}
	t, err := Take("tension", tension, quantity.MmHg, 0, tensionHighMmHg)
	if err != nil {
		return Answer{}, err
	}
	var answer Answer
	answer.Cite(a.Solubility.BloodGas.Source, a.MolarMassGPerMol.Source)
	answer.Beware(Estimate)
	low, high := a.Solubility.BloodGas.Span()
	answer.Value = Give(a.bloodMgPerDL(a.Solubility.BloodGas.Value, t), 1, quantity.MgPerDL)
	answer.Low, answer.High = Give(a.bloodMgPerDL(low, t), 1, quantity.MgPerDL), Give(a.bloodMgPerDL(high, t), 1, quantity.MgPerDL)
	return answer, nil
}

// BloodMgPerDL is BloodConcentration for a model.
func (a Agent) BloodMgPerDL(tensionMmHg float64) float64 {
	return a.bloodMgPerDL(a.Solubility.BloodGas.Value, tensionMmHg)
}

func (a Agent) bloodMgPerDL(bloodGas, tensionMmHg float64) float64 {
	return tensionMmHg / atm * bloodGas * a.MolarMassGPerMol.Value / molarVolumeL(37, atm) * 100
}
