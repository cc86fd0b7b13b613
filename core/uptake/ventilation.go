package uptake

import (
	"math"

	"chinlift/core/agent"
	"chinlift/core/quantity"
	"chinlift/core/term"
)

// Breathing is what is known about how a patient breathes. Everything may be
// absent.
type Breathing struct {
	Support        term.Support    // empty is as spontaneous
	Minute         quantity.Amount // volume in a minute, where somebody measures it or squeezes the bag by it; 0.1 to 60 L/min
	Agent          term.Agent      // what depresses breathing, with its depth
	DepthMAC       Range           // of the brain, in parts of MAC at the patient's age
	Opioid         bool            // in effect
	Benzodiazepine bool            // in effect
}

// Airflow is what is breathed in a minute: all of it, and the part that reaches
// the alveoli.
type Airflow struct {
	MinuteLPerMin, AlveolarLPerMin Range
}

// The cautions of breathing.
const (
	UptakeStopped agent.Caution = "uptake-stopped" // no breath, no uptake and no washout
	NoBrake       agent.Caution = "no-brake"       // controlled breathing: deepening does not slow the uptake any more
	Depressed     agent.Caution = "depressed"      // breathing is reckoned as depressed
)

// What depresses breathing. The factors multiply.
var (
	restRange   = agent.Number{Value: 1, Low: 0.75, High: 1.25, Source: agent.Source{Author: "house choice", Title: "a quarter to either side of the resting alveolar flow", Mark: term.MarkPractice}}
	deadPart    = agent.Number{Value: 0.35, Low: 0.30, High: 0.45, Source: agent.Source{Title: "dead space as a part of the breath, anaesthetised, with tube or mask, as in textbooks of respiratory physiology", Mark: term.MarkMemory}}
	volatileMAC = agent.Number{Value: 0.30, Low: 0.20, High: 0.45, Source: agent.Source{Author: "E. S. Munson and others", Title: "The effects of anesthetic-depressed ventilation and cardiac output on anesthetic uptake, Anesthesiology 38:251", Year: 1973, Table: "loss of alveolar flow for each MAC, of halothane; taken for the other volatile agents too. That uptake is slowed so was read in a textbook's figure, the slope is from memory", Mark: term.MarkMemory}}
	etherBegins = agent.Number{Value: 1.5, Source: agent.Source{Title: "ether leaves breathing about as it is up to 1.5 MAC", Mark: term.MarkMemory}}
	etherStops  = agent.Number{Value: 2.4, Low: 2.2, High: 2.66, Source: agent.Source{Title: "breathing stops at about 150 to 180 mg/dL of ether in arterial blood, 2.2 to 2.66 MAC", Mark: term.MarkMemory}}
	opioidPart  = agent.Number{Value: 0.8, Low: 0.6, High: 1, Source: agent.Source{Title: "alveolar flow under an opioid in a usual dose before operation, as a part of that without", Mark: term.MarkMemory}}
	benzoPart   = agent.Number{Value: 0.9, Low: 0.8, High: 1, Source: agent.Source{Title: "alveolar flow under a benzodiazepine in a usual dose before operation, as a part of that without", Mark: term.MarkMemory}}
)

// DepthFactor gives the part of the resting alveolar flow that is left at a
// depth in parts of MAC. The volatile agents take three tenths with each MAC
// (0.2 to 0.45), ether nothing up to 1.5 MAC and everything by 2.2 to 2.66,
// nitrous oxide nothing. Sources stand beside the numbers, all from memory.
func DepthFactor(code term.Agent, depthMAC Range) (Range, []agent.Source) {
	left := func(depth, begins, slope float64) float64 {
		return math.Max(0, 1-slope*math.Max(0, depth-begins))
	}
	switch code {
	case term.AgentNitrousOxide:
		return Exactly(1), nil
	case term.AgentEther:
		at := func(depth, stops float64) float64 {
			return left(depth, etherBegins.Value, 1/(stops-etherBegins.Value))
		}
		return Range{at(depthMAC.High, etherStops.Low), at(depthMAC.Value, etherStops.Value), at(depthMAC.Low, etherStops.High)}.tidy(),
			[]agent.Source{etherBegins.Source, etherStops.Source}
	}
	return Range{left(depthMAC.High, 0, volatileMAC.High), left(depthMAC.Value, 0, volatileMAC.Value), left(depthMAC.Low, 0, volatileMAC.Low)}.tidy(),
		[]agent.Source{volatileMAC.Source}
}

// Ventilation gives what a patient breathes, as ranges. A volume that somebody
// measured stands as it is; otherwise it is the resting flow of the body, less
// what depth, opioid and benzodiazepine take from one who breathes alone. Who is
// ventilated breathes as at rest, and whose airway is closed not at all. The
// answer's value is the alveolar flow in L/min, to a tenth. The errors are for
// "support", "minute", "agent" and "depth".
func Ventilation(b Body, breathing Breathing) (Airflow, agent.Answer, error) {
	var answer agent.Answer
	answer.Beware(agent.Estimate, NeverTried)
	answer.Cite(bodySource, deadPart.Source)
	if breathing.Support != "" && !term.SupportList.Has(breathing.Support) {
		return Airflow{}, agent.Answer{}, &agent.Error{Field: "support", Code: agent.UnknownCode, Given: string(breathing.Support)}
	}
	if err := breathing.DepthMAC.sound("depth", 0, 20); err != nil {
		return Airflow{}, agent.Answer{}, err
	}
	if breathing.Agent != "" {
		if _, err := agent.Of(breathing.Agent); err != nil {
			return Airflow{}, agent.Answer{}, err
		}
	} else if breathing.DepthMAC.High > 0 {
		return Airflow{}, agent.Answer{}, &agent.Error{Field: "agent", Code: agent.Missing}
	}
	alone := breathing.Support == "" || breathing.Support == term.SupportSpontaneous
	reaches := Range{1 - deadPart.High, 1 - deadPart.Value, 1 - deadPart.Low}
	var air Airflow
	switch {
	case breathing.Support == term.SupportObstructed || breathing.Support == term.SupportApnoea:
		answer.Beware(UptakeStopped)
	case !breathing.Minute.IsZero():
		minute, err := agent.Take("minute", breathing.Minute, quantity.LPerMin, 0.1, 60)
		if err != nil {
			return Airflow{}, agent.Answer{}, err
		}
		air.MinuteLPerMin = Exactly(minute)
		air.AlveolarLPerMin = air.MinuteLPerMin.Times(reaches)
	default:
		rest := rangeOf(restRange).Scale(b.AlveolarLPerMin)
		answer.Cite(restRange.Source, brody)
		depressed := rest
		factor := func(f Range, sources ...agent.Source) {
			depressed = depressed.Times(f)
			answer.Cite(sources...)
			if f.Low < 1 {
				answer.Beware(Depressed)
			}
		}
		if breathing.Support != term.SupportControlled {
			if breathing.Agent != "" {
				f, sources := DepthFactor(breathing.Agent, breathing.DepthMAC)
				factor(f, sources...)
			}
			if breathing.Opioid {
				factor(rangeOf(opioidPart), opioidPart.Source)
			}
			if breathing.Benzodiazepine {
				factor(rangeOf(benzoPart), benzoPart.Source)
			}
		}
		if !alone { // somebody squeezes the bag: at best as at rest
			depressed.Value, depressed.High = rest.Value, rest.High
		}
		air.AlveolarLPerMin = depressed
		air.MinuteLPerMin = Range{depressed.Low / reaches.High, depressed.Value / reaches.Value, depressed.High / reaches.Low}
	}
	if breathing.Support == term.SupportControlled {
		answer.Beware(NoBrake)
	}
	answer.Value = agent.Give(air.AlveolarLPerMin.Value, 1, quantity.LPerMin)
	answer.Low, answer.High = agent.Give(air.AlveolarLPerMin.Low, 1, quantity.LPerMin), agent.Give(air.AlveolarLPerMin.High, 1, quantity.LPerMin)
	return air, answer, nil
}
