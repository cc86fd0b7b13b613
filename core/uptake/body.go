package uptake

import (
	"math"

	"chinlift/core/agent"
	"chinlift/core/quantity"
	"chinlift/core/term"
)

// Place is a compartment of the model.
type Place int

// The places. The lung is the gas in it with the lung's own tissue and the
// arterial blood; the others are tissues with the blood in them.
const (
	Lung Place = iota
	Brain
	Heart
	Kidneys
	Liver // with the gut
	Muscle
	Fat
	VesselPoor // bone and cartilage
	places
)

// Body is the body of the model: volumes and flows. The flows are those at
// rest; a Setting has those of the moment.
type Body struct {
	WeightKg        float64
	GasL            float64         // gas in the lung at the end of a breath
	BloodL          float64         // lung tissue and arterial blood, both at blood's solubility
	VolumesL        [places]float64 // of the tissues; 0 for the lung
	FlowParts       [places]float64 // parts of the output of the heart; 0 for the lung; together 1
	OutputLPerMin   float64
	AlveolarLPerMin float64
}

// The body of 70 kg. The numbers are rounded values of textbooks, put together
// for this model and chosen near the washin data of Yasuda and others; the
// package comment tells how.
var reference = Body{
	WeightKg: 70, GasL: 2.5, BloodL: 1.0, OutputLPerMin: 4.84, AlveolarLPerMin: 4.0,
	VolumesL:  [places]float64{Brain: 1.40, Heart: 0.33, Kidneys: 0.31, Liver: 3.86, Muscle: 33.0, Fat: 14.5, VesselPoor: 12.5},
	FlowParts: [places]float64{Brain: 0.14, Heart: 0.05, Kidneys: 0.22, Liver: 0.34, Muscle: 0.18, Fat: 0.055, VesselPoor: 0.015},
}

var (
	bodySource = agent.Source{Author: "house choice", Title: "volumes and flows of 70 kg, rounded from textbooks (E. I. Eger, Anesthetic Uptake and Action, 1974; W. W. Mapleson, J Appl Physiol 1963;18:197) and chosen near the washin data of Yasuda and others", Mark: term.MarkPractice}
	brody      = agent.Source{Author: "H. J. Lowe, E. A. Ernst", Title: "The Quantitative Practice of Anesthesia, after Brody", Year: 1981, Table: "output of the heart 0.2 kg^0.75 L/min", Mark: term.MarkMemory}
)

// The cautions of this package, beside those of package agent.
const (
	NeverTried  agent.Caution = "never-tried"    // the model was never tried on patients
	FarFrom70Kg agent.Caution = "far-from-70-kg" // scaled from an adult of 70 kg
)

// NewBody scales the body of 70 kg to a weight, 1 to 250 kg: volumes with the
// weight, flows with its three quarter power. It knows neither fat nor lean,
// neither newborn nor old. The answer's value is the weight; its cautions and
// sources go with everything that is reckoned from this body.
func NewBody(weight quantity.Amount) (Body, agent.Answer, error) {
	kg, err := agent.Take("weight", weight, quantity.Kg, 1, 250)
	if err != nil {
		return Body{}, agent.Answer{}, err
	}
	answer := agent.Answer{Value: weight}
	answer.Beware(agent.Estimate, NeverTried)
	answer.Cite(bodySource, brody)
	if kg < 40 || kg > 110 { // house choice: adults of usual build
		answer.Beware(FarFrom70Kg)
	}
	return scaled(kg), answer, nil
}

func scaled(kg float64) Body {
	b := reference
	mass, flow := kg/reference.WeightKg, math.Pow(kg/reference.WeightKg, 0.75)
	b.WeightKg = kg
	b.GasL *= mass
	b.BloodL *= mass
	for p := range b.VolumesL {
		b.VolumesL[p] *= mass
	}
	b.OutputLPerMin *= flow
	b.AlveolarLPerMin *= flow
	return b
}

// Setting is what an agent meets at one time: how soluble it is, how much is
// breathed and pumped, and what the liver takes.
type Setting struct {
	BloodGas float64         // at 37 °C
	Tissue   [places]float64 // tissue to blood; the lung's is not used

	AlveolarLPerMin float64 // 0 where the airway is closed or nobody breathes
	OutputLPerMin   float64

	// Extraction is the part of what arterial blood brings to the liver that is
	// metabolised there, 0 up to, but not, 1.
	Extraction float64

	// Concentration turns the concentration effect on: what the blood takes
	// away is made up by more inspired gas. AirMmHg is the pressure of the air,
	// which it depends on; without the effect it is not used.
	Concentration bool
	AirMmHg       float64
}

// Usual gives the setting of an agent in a body at rest, at sea level, without
// the concentration effect: the table's coefficients and, for halothane, the
// extraction of its liver. The error is an *agent.Error: for "agent", where it
// is not known or has no complete set of coefficients.
func Usual(code term.Agent, b Body) (Setting, error) {
	a, err := agent.Of(code)
	if err != nil {
		return Setting{}, err
	}
	if !a.Solubility.Complete() {
		return Setting{}, &agent.Error{Field: "agent", Code: agent.NoRule, Given: string(code)}
	}
	s := a.Solubility
	return Setting{
		BloodGas: s.BloodGas.Value,
		Tissue: [places]float64{
			Brain: s.Brain.Value, Heart: s.Heart.Value, Kidneys: s.Kidney.Value, Liver: s.Liver.Value,
			Muscle: s.Muscle.Value, Fat: s.Fat.Value, VesselPoor: s.VesselPoor.Value,
		},
		AlveolarLPerMin: b.AlveolarLPerMin,
		OutputLPerMin:   b.OutputLPerMin,
		Extraction:      a.LiverExtraction.Value,
		AirMmHg:         atm,
	}, nil
}

// Sources gives where the coefficients of an agent come from, for whoever shows
// what was reckoned with them.
func Sources(code term.Agent) ([]agent.Source, error) {
	a, err := agent.Of(code)
	if err != nil {
		return nil, err
	}
	var answer agent.Answer
	s := a.Solubility
	for _, n := range []agent.Number{s.BloodGas, s.Brain, s.Heart, s.Kidney, s.Liver, s.Muscle, s.Fat, s.VesselPoor, a.LiverExtraction} {
		answer.Cite(n.Source)
	}
	answer.Cite(bodySource, brody)
	return answer.Sources, nil
}
