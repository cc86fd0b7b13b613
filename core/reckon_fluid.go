package core

import (
	"strings"

	"chinlift/core/patient"
	"chinlift/core/quantity"
)

var (
	inStart   = Input{Name: "start", Kind: InputAmount, Units: []quantity.Unit{quantity.Percent, quantity.GPerDL, quantity.GPerL}}
	inTarget  = Input{Name: "target", Kind: InputAmount, Units: inStart.Units}
	inFormula = Input{Name: "formula", Kind: InputCode, Codes: []string{string(patient.LossSimple), string(patient.LossGross), string(patient.LossLog)}}
	inFasted  = Input{Name: "fasted", Kind: InputAmount, Units: []quantity.Unit{quantity.Hour, quantity.Minute}}
	inArea    = Input{Name: "area", Kind: InputAmount, Units: []quantity.Unit{quantity.Percent}}
	inSince   = Input{Name: "since", Kind: InputAmount, Units: []quantity.Unit{quantity.Hour, quantity.Minute}}
)

var fluidReckonings = []Reckoning{
	{"blood-volume", []Input{needed(inWeight), needed(inAge), inSex, inPremature, inLength, inWeightBy}, answer("blood_volume", patient.BloodVolume)},
	{"allowable-loss", []Input{needed(inWeight), needed(inAge), needed(inStart), needed(inTarget), inSex, inFormula, inPremature, inLength, inWeightBy}, allowableLoss},
	{"maintenance", []Input{needed(inWeight), inAge, inLength, inWeightBy}, answer("rate", patient.Maintenance)},
	{"fasting-deficit", []Input{needed(inWeight), needed(inFasted), inAge, inLength, inWeightBy}, fastingDeficit},
	{"burn-area", append([]Input{needed(inAge)}, partInputs...), burnArea},
	{"burn-fluid", []Input{needed(inWeight), needed(inArea), needed(inSince), inAge, inLength, inWeightBy}, burnFluid},
}

// allowableLoss gives the loss by the formula that was asked for, or by all.
func allowableLoss(g Given, r *Result) error {
	formulas := []patient.Rule{patient.LossSimple, patient.LossGross, patient.LossLog}
	if g.has("formula") {
		formulas = []patient.Rule{patient.Rule(g.code("formula"))}
	}
	for _, f := range formulas {
		a, err := patient.AllowableLoss(g.patient(), g.amount("start"), g.amount("target"), f)
		if err != nil {
			return err
		}
		// What the formulas span is there to be seen where all of them stand.
		if len(formulas) > 1 {
			a.Low, a.High = quantity.Amount{}, quantity.Amount{}
		}
		r.take(strings.ReplaceAll(string(f), "-", "_"), a)
	}
	return nil
}

func fastingDeficit(g Given, r *Result) error {
	a, hours, err := patient.FastingDeficit(g.patient(), g.amount("fasted"))
	if err != nil {
		return err
	}
	r.take("deficit", a)
	for i, name := range []string{"first_hour", "second_hour", "third_hour"} {
		r.also(name, a.Rule, hours[i])
	}
	return nil
}

// partInputs are the parts of the body, each with its burned share.
var partInputs = func() (list []Input) {
	for _, part := range patient.Parts {
		list = append(list, Input{Name: strings.ReplaceAll(string(part), "-", "_"), Kind: InputAmount, Units: []quantity.Unit{quantity.Percent}})
	}
	return list
}()

func burnArea(g Given, r *Result) error {
	burned := map[patient.Part]quantity.Amount{}
	var names []string
	for i, part := range patient.Parts {
		names = append(names, partInputs[i].Name)
		if g.has(partInputs[i].Name) {
			burned[part] = g.amount(partInputs[i].Name)
		}
	}
	if len(burned) == 0 {
		return &fault{name: names[0], code: inputOneOf, names: strings.Join(names, ", ")}
	}
	a, err := patient.BurnArea(g.patient(), burned)
	if err != nil {
		return err
	}
	r.take("area", a)
	return nil
}

func burnFluid(g Given, r *Result) error {
	b, err := patient.BurnFluid(g.patient(), g.amount("area"), g.amount("since"))
	if err != nil {
		return err
	}
	r.take("first_24_h", b.Day)
	r.also("first_8_h", b.Day.Rule, b.First8)
	if !b.Rate.IsZero() {
		r.also("rate", b.Day.Rule, b.Rate)
	}
	r.also("rate_after", b.Day.Rule, b.RateAfter)
	r.Values = append(r.Values, ResultValue{Name: "urine", Low: b.UrineLow, High: b.UrineHigh, Rule: Coded{areaPatient, string(b.Day.Rule)}})
	return nil
}

// also puts in a further value of a rule of package patient.
func (r *Result) also(name string, rule patient.Rule, a quantity.Amount) {
	r.Values = append(r.Values, ResultValue{Name: name, Amount: a, Rule: Coded{areaPatient, string(rule)}})
}
