package depth

import (
	"math"

	"chinlift/core/agent"
	"chinlift/core/quantity"
	"chinlift/core/term"
	"chinlift/core/uptake"
)

// Supply is how much agent is given from a time on, as a range: nine in ten of
// what it may be lie over Low, nine in ten under High.
type Supply struct {
	// InspiredMmHg is the tension that is inspired. Where ByVolume is set it is
	// that in AtLPerMin, and who breathes half of it inspires twice the tension,
	// up to MostMmHg: what drops from a bottle does not ask how much is
	// breathed.
	InspiredMmHg uptake.Range
	ByVolume     bool
	AtLPerMin    float64
	MostMmHg     float64

	// AirMmHg is the pressure of the air, 200 to 1000, which the concentration
	// effect goes by: what the blood takes away draws more in after it. 0 leaves
	// the effect out. What drops from a bottle has none, up to MostMmHg: more
	// breath draws in no more drops.
	AirMmHg float64
}

// Off is that nothing is given.
var Off = Supply{}

// What a supply is reckoned in that goes by its volume: large, so that the limit
// of a cold gauze is not met where it does not belong.
const manyLPerMin = 50

// FromOpenDrop makes a supply of drops, gauze or bottle. Drops and a bottle go
// by their volume; where a gauze's wetness is known too, the overlap of both
// counts, at the breathing that is given. The MinuteLPerMin of the description
// is used for that alone. The errors are those of uptake.
func FromOpenDrop(d uptake.OpenDrop) (Supply, agent.Answer, error) {
	shown, err := d.Inspired()
	if err != nil {
		return Supply{}, agent.Answer{}, err
	}
	a, err := agent.Of(d.Agent)
	if err != nil {
		return Supply{}, agent.Answer{}, err
	}
	most := a.SaturatedMmHg(0) // of a gauze that frosts
	if d.Agent != term.AgentEther {
		most = a.SaturatedMmHg(25)
	}
	air, err := d.Pressure.Float64(quantity.MmHg)
	if err != nil {
		return Supply{}, agent.Answer{}, err
	}
	most = min(most, air)
	s := Supply{InspiredMmHg: shown.InspiredMmHg, MostMmHg: most, AirMmHg: air}
	if d.Wetness == "" {
		d.MinuteLPerMin = uptake.Exactly(manyLPerMin)
		by, err := d.Inspired()
		if err != nil {
			return Supply{}, agent.Answer{}, err
		}
		s.InspiredMmHg, s.ByVolume, s.AtLPerMin = by.InspiredMmHg, true, manyLPerMin
	}
	return s, shown.Answer, nil
}

// FromVaporiser makes a supply of a vaporiser's setting. The errors are those of
// uptake.
func FromVaporiser(v uptake.Vaporiser) (Supply, agent.Answer, error) {
	shown, err := v.Inspired()
	if err != nil {
		return Supply{}, agent.Answer{}, err
	}
	air, err := v.Pressure.Float64(quantity.MmHg)
	if err != nil {
		return Supply{}, agent.Answer{}, err
	}
	return Supply{InspiredMmHg: shown.InspiredMmHg, MostMmHg: 1000, AirMmHg: air}, shown.Answer, nil
}

func (s *Supply) check() error {
	for _, x := range []float64{s.InspiredMmHg.Low, s.InspiredMmHg.Value, s.InspiredMmHg.High, s.AtLPerMin, s.MostMmHg, s.AirMmHg} {
		if math.IsNaN(x) || math.IsInf(x, 0) {
			return &agent.Error{Field: "supply", Code: agent.NotFinite}
		}
		if x < 0 {
			return &agent.Error{Field: "supply", Code: agent.TooLow}
		}
		if x > 1e5 {
			return &agent.Error{Field: "supply", Code: agent.TooHigh}
		}
	}
	if s.AirMmHg != 0 && (s.AirMmHg < 200 || s.AirMmHg > 1000) {
		return &agent.Error{Field: "supply", Code: agent.NoRule}
	}
	r := s.InspiredMmHg
	if r.Low > r.Value || r.Value > r.High || s.ByVolume && s.AtLPerMin == 0 {
		return &agent.Error{Field: "supply", Code: agent.Contradicts}
	}
	return nil
}

// tenth is how many standard deviations from the middle a tenth of a normal
// distribution lies beyond.
const tenth = 1.2816

// draw gives what a range is for a body that is z standard deviations from the
// middle. By factors where the range has no nought, else by differences.
func draw(r uptake.Range, z float64) float64 {
	end := r.High
	if z < 0 {
		end, z = r.Low, -z
	}
	if r.Low > 0 {
		return r.Value * math.Exp(math.Log(end/r.Value)*z/tenth)
	}
	return max(0, r.Value+(end-r.Value)*z/tenth)
}
