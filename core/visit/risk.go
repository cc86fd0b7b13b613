package visit

import (
	"chinlift/core/exact"
	"chinlift/core/patient"
	"chinlift/core/quantity"
	"chinlift/core/term"
)

// Said is the answer to a question; empty: it was not asked.
type Said = patient.Said

// The answers.
const (
	Yes = patient.Yes
	No  = patient.No
)

// ASAFacts is what is published about a class of physical status.
type ASAFacts struct {
	Class     term.ASA
	Emergency bool // with the suffix E
	TakesE    bool // whether the class has the suffix at all
	Examples  []Example
	Cautions  []patient.Caution
	Sources   []patient.Source
}

// Example is a published example for a class.
type Example struct {
	Class  term.ASA
	Code   term.ASAExample
	Source patient.Source
}

var (
	asaClass  = patient.Source{Author: "American Society of Anesthesiologists", Title: "Physical status classification system, 2014, amended 13 December 2020", Year: 2020, Via: "a copy, and a data dictionary", Mark: term.MarkRead}
	asaMemory = patient.Source{Author: "American Society of Anesthesiologists", Title: "Physical status classification system, 2014, amended 13 December 2020", Year: 2020, Table: "adult examples", Mark: term.MarkMemory}
)

// asaExamples are examples for adults, each with the conditions that raise the
// question; several for one condition, where it matters how bad it is.
var asaExamples = []struct {
	Example
	of []term.Condition
}{
	{Example{term.ASA2, term.ASAExampleSmoker, asaClass}, nil},
	{Example{term.ASA2, term.ASAExampleSocialDrinker, asaClass}, nil},
	{Example{term.ASA2, term.ASAExamplePregnancy, asaClass}, nil},
	{Example{term.ASA2, term.ASAExampleObesity, asaClass}, nil},
	{Example{term.ASA2, term.ASAExampleDiabetesHeld, asaClass}, []term.Condition{term.ConditionDiabetes}},
	{Example{term.ASA2, term.ASAExampleHypertensionHeld, asaClass}, []term.Condition{term.ConditionHypertension}},
	{Example{term.ASA2, term.ASAExampleMildLung, asaClass}, []term.Condition{term.ConditionChronicLung, term.ConditionAsthma}},
	{Example{term.ASA3, term.ASAExampleSevereObesity, asaMemory}, nil},
	{Example{term.ASA3, term.ASAExampleDiabetesLoose, asaMemory}, []term.Condition{term.ConditionDiabetes}},
	{Example{term.ASA3, term.ASAExampleHypertensionLoose, asaMemory}, []term.Condition{term.ConditionHypertension}},
	{Example{term.ASA3, term.ASAExampleChronicLung, asaMemory}, []term.Condition{term.ConditionChronicLung}},
	{Example{term.ASA3, term.ASAExampleDialysis, asaMemory}, []term.Condition{term.ConditionKidneyFailure}},
	{Example{term.ASA3, term.ASAExampleHeartOrStrokePast, asaMemory}, []term.Condition{term.ConditionCoronary}},
	{Example{term.ASA4, term.ASAExampleHeartOrStrokeNow, asaMemory}, []term.Condition{term.ConditionCoronary}},
	{Example{term.ASA4, term.ASAExampleIschaemia, asaMemory}, []term.Condition{term.ConditionCoronary}},
	{Example{term.ASA4, term.ASAExampleSepsis, asaMemory}, []term.Condition{term.ConditionSepsis}},
}

// ASA gives what is published about a class. Class 6 is that of the dead whose
// organs are taken: it has no suffix for an emergency. Sources: asaClass,
// asaMemory.
func ASA(class term.ASA, emergency bool) (ASAFacts, error) {
	if class == "" {
		return ASAFacts{}, &patient.Error{Field: "asa", Code: patient.Missing}
	}
	if !term.ASAList.Has(class) {
		return ASAFacts{}, &patient.Error{Field: "asa", Code: patient.UnknownCode, Given: string(class)}
	}
	if emergency && class == term.ASA6 {
		return ASAFacts{}, &patient.Error{Field: "emergency", Code: No6E}
	}
	f := ASAFacts{Class: class, Emergency: emergency, TakesE: class != term.ASA6, Cautions: []patient.Caution{ClassOnTheDay}, Sources: []patient.Source{asaClass}}
	for _, e := range asaExamples {
		if e.Class == class {
			f.Examples = append(f.Examples, e.Example)
		}
	}
	return f, nil
}

// ASAHints gives the published examples that what is known of an adult brings
// to mind, the lowest class first. Two for one fact are a question: how well is
// it held? None of them is a class for this patient: whoever gives the
// anaesthetic sets that. Body mass index from 30 to under 40 is an example of
// class 2, from 40 on of class 3; it needs weight and length.
func ASAHints(p patient.Patient, pregnant Said, with []term.Condition) ([]Example, error) {
	age, err := years(p.Age)
	if err != nil {
		return nil, err
	}
	if age != nil && age.Cmp(exact.Whole(adult)) < 0 {
		return nil, &patient.Error{Field: "age", Code: patient.NoRule, Given: p.Age.String(), Low: "16 a", High: "120 a"}
	}
	if err := pregnant.Check("pregnant"); err != nil {
		return nil, err
	}
	hit := map[term.ASAExample]bool{term.ASAExamplePregnancy: pregnant == Yes}
	for _, c := range with {
		if !term.ConditionList.Has(c) {
			return nil, &patient.Error{Field: "with", Code: patient.UnknownCode, Given: string(c)}
		}
		for _, e := range asaExamples {
			for _, of := range e.of {
				hit[e.Code] = hit[e.Code] || of == c
			}
		}
	}
	if !p.Weight.IsZero() && !p.Length.IsZero() {
		a, err := patient.MassIndex(p)
		if err != nil {
			return nil, err
		}
		switch index := exact.Of(a.Value.Value.String()); {
		case index.Cmp(exact.Whole(40)) >= 0:
			hit[term.ASAExampleSevereObesity] = true
		case index.Cmp(exact.Whole(30)) >= 0:
			hit[term.ASAExampleObesity] = true
		}
	}
	var all []Example
	for _, e := range asaExamples {
		if hit[e.Code] {
			all = append(all, e.Example)
		}
	}
	return all, nil
}

// Sickness is what the risk of nausea and vomiting afterwards hangs on, beside
// the sex.
type Sickness struct {
	Smokes  Said
	Before  Said // sick after an anaesthetic before, or sick when travelling
	Opioids Said // opioids are planned for afterwards
}

// SicknessRisk is the risk of nausea or vomiting within 24 hours.
type SicknessRisk struct {
	Points, Most int            // of 4; the two differ where something was not asked
	Risk         patient.Answer // %; without a value, Low to High, where something was not asked
}

var apfel = patient.Source{Author: "C. C. Apfel and others", Title: "A simplified risk score for predicting postoperative nausea and vomiting, Anesthesiology 91:693", Year: 1999, Table: "incidence with none to four of the factors: 10, 21, 39, 61, 79 %", Via: "the abstract", Mark: term.MarkRead}

// apfelRisk is in %, by points.
var apfelRisk = [5]string{"10 %", "21 %", "39 %", "61 %", "79 %"}

// Apfel gives the risk of nausea and vomiting after an anaesthetic of an adult
// (18 years and over): one point each for a woman, for one who does not smoke,
// for sickness before, for opioids afterwards. Source: apfel.
func Apfel(p patient.Patient, s Sickness) (SicknessRisk, error) {
	a := patient.Answer{Rule: "nausea-four-factors", Cautions: []patient.Caution{patient.Estimate, DerivedUnderGas}, Sources: []patient.Source{apfel}}
	age, err := years(p.Age)
	if err != nil {
		return SicknessRisk{}, err
	}
	switch {
	case age == nil:
		term.Add(&a.Assumptions, patient.AdultAssumed)
	case age.Cmp(exact.Whole(18)) < 0:
		return SicknessRisk{}, &patient.Error{Field: "age", Code: patient.NoRule, Given: p.Age.String(), Low: "18 a", High: "120 a"}
	}
	var r SicknessRisk
	count := func(asked, counts bool) {
		if asked && counts {
			r.Points++
		}
		if !asked || counts {
			r.Most++
		}
	}
	switch p.Sex {
	case term.SexFemale, term.SexMale:
		count(true, p.Sex == term.SexFemale)
	case term.SexUnknown, "":
		count(false, false)
	default:
		return SicknessRisk{}, &patient.Error{Field: "sex", Code: patient.UnknownCode, Given: string(p.Sex)}
	}
	for _, q := range []struct {
		field  string
		said   Said
		counts Said
	}{{"smokes", s.Smokes, No}, {"before", s.Before, Yes}, {"opioids", s.Opioids, Yes}} {
		if err := q.said.Check(q.field); err != nil {
			return SicknessRisk{}, err
		}
		count(q.said != "", q.said == q.counts)
	}
	if r.Points == r.Most {
		a.Value = quantity.MustParse(apfelRisk[r.Points])
	} else {
		a.Low, a.High = quantity.MustParse(apfelRisk[r.Points]), quantity.MustParse(apfelRisk[r.Most])
		term.Add(&a.Assumptions, NotAskedCounts)
	}
	r.Risk = a
	return r, nil
}

// Shock is a shock index with where it lies.
type Shock struct {
	Index patient.Answer // a number, to two decimals; Low to High is the usual range
	Band  term.ShockBand
}

var (
	shockUsual = patient.Source{Author: "H. L. Nathan and others", Title: "Determination of normal ranges of shock index and other haemodynamic variables in the immediate postpartum period, PLoS One 11:e0168535", Year: 2016, Table: "usual 0.5 to 0.7, in obstetrics 0.7 to 0.9; after birth 0.52 to 0.89 (90 % range)", Via: "PMC5173287", Mark: term.MarkRead}
	shockBirth = patient.Source{Author: "H. L. Nathan and others", Title: "Shock index: an effective predictor of outcome in postpartum haemorrhage? BJOG 122:268", Year: 2015, Table: "0.9 and over finds all who came to intensive care; 1.7 and over is 97.7 % specific", Via: "the abstract", Mark: term.MarkRead}
)

// ShockIndex gives pulse over systolic pressure, for an adult (16 years and
// over). Usual is 0.5 to 0.7. For a woman with a pregnancy or after birth it is
// up to under 0.9; from 0.9 on it asks for action, from 1.7 on for action at
// once. The bands go by the value as it is shown, to two decimals. Sources:
// shockUsual, shockBirth.
func ShockIndex(p patient.Patient, pulse, systolic quantity.Amount, obstetric bool) (Shock, error) {
	a := patient.Answer{Rule: "shock-index", Cautions: []patient.Caution{patient.Estimate, LateSign, DrugsHideIt}, Sources: []patient.Source{shockUsual}}
	age, err := years(p.Age)
	if err != nil {
		return Shock{}, err
	}
	switch {
	case age == nil:
		term.Add(&a.Assumptions, patient.AdultAssumed)
	case age.Cmp(exact.Whole(adult)) < 0:
		return Shock{}, &patient.Error{Field: "age", Code: patient.NoRule, Given: p.Age.String(), Low: "16 a", High: "120 a"}
	}
	beats, err := patient.Read("pulse", pulse, quantity.PerMin, "20", "300")
	if err != nil {
		return Shock{}, err
	}
	pressure, err := patient.Read("systolic", systolic, quantity.MmHg, "20", "300")
	if err != nil {
		return Shock{}, err
	}
	shown := beats.Over(pressure).FloatString(2)
	a.Value = exact.Written(shown, quantity.One)
	index := exact.Of(shown)
	band := term.ShockBandUsual
	if obstetric {
		a.Low, a.High = quantity.MustParse("0.7 1"), quantity.MustParse("0.9 1")
		a.Sources = append(a.Sources, shockBirth)
		switch {
		case index.Cmp(exact.Of("1.7")) >= 0:
			band = term.ShockBandUrgent
		case index.Cmp(exact.Of("0.9")) >= 0:
			band = term.ShockBandAction
		}
		return Shock{a, band}, nil
	}
	a.Low, a.High = quantity.MustParse("0.5 1"), quantity.MustParse("0.7 1")
	switch {
	case index.Cmp(exact.Of("0.7")) > 0:
		band = term.ShockBandRaised
	case index.Cmp(exact.Of("0.5")) < 0:
		band = term.ShockBandBelow
	}
	return Shock{a, band}, nil
}
