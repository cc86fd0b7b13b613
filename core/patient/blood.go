package patient

import (
	"math"

	"chinlift/core/exact"
	"chinlift/core/quantity"
	"chinlift/core/term"
)

var (
	bloodTable = Source{Title: "estimated blood volume: premature 95, newborn at term 85, infant 80, man 75, woman 65 mL/kg", Table: "mL/kg by age and sex", Via: "two teaching pages with the same table", Mark: term.MarkRead}
	bloodIowa  = Source{Author: "University of Iowa", Title: "estimated blood volume: preterm 90-100, term 80-90, infant 70-80, child 70-75, adult 65-70 mL/kg", Table: "mL/kg by age", Mark: term.MarkRead}
	grossBlood = Source{Author: "J. B. Gross", Title: "Estimating allowable blood loss: corrected for dilution, Anesthesiology 58:277", Year: 1983, Table: "V (Hi - Hf) / ((Hi + Hf) / 2)", Via: "Anesthesiology 2000;92:902", Mark: term.MarkRead}
	bourke     = Source{Author: "D. L. Bourke, T. C. Smith", Title: "Estimating allowable hemodilution, Anesthesiology 41:609", Year: 1974, Table: "V ln(Hi / Hf)", Mark: term.MarkRead}
	simpleLoss = Source{Title: "allowable loss, simple formula", Table: "V (Hi - Hf) / Hi", Via: "teaching pages with worked examples", Mark: term.MarkRead}
)

// RuleBloodVolume is the rule of BloodVolume.
const RuleBloodVolume Rule = "blood-volume"

// BloodVolume estimates the volume of the blood in mL. It needs weight and age,
// from 16 years the sex: unknown gives the woman's, which is lower. Low and High
// are what the two tables span. For children from 1 to 16 years only the second
// table has values, and its lower one stands. Source: bloodTable, bloodIowa.
func BloodVolume(p Patient) (Answer, error) {
	a := Answer{Rule: RuleBloodVolume, Sources: []Source{bloodTable, bloodIowa}}
	w, per, err := p.blood(&a)
	if err != nil {
		return Answer{}, err
	}
	of := func(perKg int64) quantity.Amount { return w.Times(exact.Whole(perKg)).Amount(0, quantity.ML) }
	a.Value, a.Low, a.High = of(per[0]), of(per[1]), of(per[2])
	return a, nil
}

// blood gives the weight, and value, low and high in mL/kg.
func (p Patient) blood(a *Answer) (w *exact.Number, per [3]int64, err error) {
	if w, err = p.weighed(a); err != nil {
		return nil, per, err
	}
	y, err := p.years()
	if err != nil {
		return nil, per, err
	}
	sex, err := p.sex()
	if err != nil {
		return nil, per, err
	}
	switch {
	case newborn(y) && p.Premature:
		per = [3]int64{95, 90, 100}
	case newborn(y):
		per = [3]int64{85, 80, 90}
	case under(y, 1):
		per = [3]int64{80, 70, 80}
	case under(y, 16):
		per = [3]int64{70, 70, 75}
		a.assume(LowerOfRange)
	case sex == term.SexMale:
		per = [3]int64{75, 65, 75}
	default:
		per = [3]int64{65, 65, 70}
		if sex == term.SexUnknown {
			a.assume(SexUnknownLower)
		}
	}
	a.step("blood-volume", named("weight", w, quantity.Kg), named("per_kg", exact.Whole(per[0]), quantity.MLPerKg), named("gives", w.Times(exact.Whole(per[0])), quantity.ML))
	return w, per, nil
}

// The formulas of an allowable loss.
const (
	LossSimple Rule = "loss-simple"
	LossGross  Rule = "loss-gross"
	LossLog    Rule = "loss-log"
)

// AllowableLoss gives the blood loss, in mL, rounded down, after which a
// haematocrit (%) or haemoglobin (g/dL or g/L) will have fallen from start to
// target, by the formula named. Low is the simple formula's, High the
// logarithm's; Gross lies between. It needs what BloodVolume needs. Source:
// simpleLoss, grossBlood, bourke.
func AllowableLoss(p Patient, start, target quantity.Amount, formula Rule) (Answer, error) {
	if formula != LossSimple && formula != LossGross && formula != LossLog {
		return Answer{}, &Error{Field: "formula", Code: UnknownCode, Given: string(formula)}
	}
	a := Answer{Rule: formula}
	w, per, err := p.blood(&a)
	if err != nil {
		return Answer{}, err
	}
	// Limits against a slip of the hand, no source.
	unit, low, high, anxious := quantity.Percent, "10", "75", "21"
	if start.Unit.Dimension() == quantity.MassConcentration {
		unit, low, high, anxious = quantity.GPerDL, "3", "25", "7"
	}
	hi, err := Read("start", start, unit, low, high)
	if err != nil {
		return Answer{}, err
	}
	hf, err := Read("target", target, unit, low, high)
	if err != nil {
		return Answer{}, err
	}
	if hf.Cmp(hi) >= 0 {
		return Answer{}, &Error{Field: "target", Code: NotBelowStart, Given: target.String()}
	}
	if hf.Cmp(exact.Of(anxious)) < 0 {
		a.beware(LowTarget)
	}
	v, fall := w.Times(exact.Whole(per[0])), hi.Minus(hf)
	simple := v.Times(fall).Over(hi).Floor().Amount(0, quantity.ML)
	log := exact.Model(math.Floor(v.Float()*math.Log(hi.Over(hf).Float())), 0, quantity.ML)
	switch formula {
	case LossSimple:
		a.Value, a.Sources = simple, []Source{simpleLoss}
	case LossGross:
		mean := hi.Plus(hf).Over(exact.Whole(2))
		a.Value, a.Sources = v.Times(fall).Over(mean).Floor().Amount(0, quantity.ML), []Source{grossBlood}
	case LossLog:
		a.Value, a.Sources = log, []Source{bourke}
	}
	a.step(StepCode(formula), named("volume", v, quantity.ML), named("start", hi, unit), named("target", hf, unit), Named{"gives", a.Value})
	a.Low, a.High = simple, log
	a.Sources = append(a.Sources, bloodTable, bloodIowa)
	a.beware(NotATarget, FormulasDiffer)
	return a, nil
}
