package core

import (
	"chinlift/core/patient"
	"chinlift/core/quantity"
	"chinlift/core/term"
)

// The inputs that describe a patient.
var (
	weightUnits = []quantity.Unit{quantity.Kg, quantity.G, quantity.Pound, quantity.MustUnit("[stone_av]")}

	inWeight    = Input{Name: "weight", Kind: InputAmount, Units: weightUnits}
	inAge       = Input{Name: "age", Kind: InputAmount, Units: []quantity.Unit{quantity.Year, quantity.Month, quantity.Week, quantity.Day}}
	inLength    = Input{Name: "length", Kind: InputAmount, Units: []quantity.Unit{quantity.Cm, quantity.M, quantity.MustUnit("[in_i]"), quantity.MustUnit("[ft_i]")}}
	inSex       = Input{Name: "sex", Kind: InputCode, Codes: codesOf(term.SexList)}
	inWeightBy  = Input{Name: "weight_by", Kind: InputCode, Codes: codesOf(term.WeightByList)}
	inPremature = Input{Name: "premature", Kind: InputCode, Codes: []string{yes, "no"}}
)

func codesOf[C ~string](l *term.List[C]) (codes []string) {
	for _, c := range l.Codes() {
		codes = append(codes, string(c))
	}
	return codes
}

// needed is the input as one without which there is no answer.
func needed(in Input) Input {
	in.Needed = true
	return in
}

// answer makes a calculation of a rule of package patient.
func answer(value string, rule func(patient.Patient) (patient.Answer, error)) func(Given, *Result) error {
	return func(g Given, r *Result) error {
		a, err := rule(g.patient())
		if err != nil {
			return err
		}
		r.take(value, a)
		return nil
	}
}

var weightReckonings = []Reckoning{
	{"weight-for-age", []Input{needed(inAge)}, answer("weight", patient.WeightForAge)},
	{"weight-for-length", []Input{needed(inLength), inSex, inAge}, answer("weight", patient.WeightForLength)},
	{"weight-guess", []Input{inLength, inAge, inSex}, guessWeight},
	{"mass-index", []Input{needed(inWeight), needed(inLength), inAge, inWeightBy}, answer("mass_index", patient.MassIndex)},
	{"surface", []Input{needed(inWeight), needed(inLength), inAge, inWeightBy}, answer("surface", patient.Surface)},
	{"ideal-weight", []Input{needed(inLength), inSex, inAge}, answer("weight", patient.IdealWeight)},
	{"lean-weight", []Input{needed(inWeight), needed(inLength), inSex, inAge, inWeightBy}, answer("weight", patient.LeanWeight)},
	{"adjusted-weight", []Input{needed(inWeight), needed(inLength), inSex, inAge, inWeightBy}, answer("weight", patient.AdjustedWeight)},
}

func guessWeight(g Given, r *Result) error {
	if !g.has("length") && !g.has("age") {
		return &fault{name: "length", code: inputOneOf, names: "length, age"}
	}
	a, by, err := patient.GuessWeight(g.patient())
	if err != nil {
		return err
	}
	r.take("weight", a)
	r.Values = append(r.Values, ResultValue{Name: "weight_by", List: term.WeightByList.Name(), Code: string(by), Rule: Coded{areaPatient, string(a.Rule)}})
	return nil
}
