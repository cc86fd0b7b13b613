package visit

import (
	"chinlift/core/exact"
	"chinlift/core/patient"
	"chinlift/core/quantity"
	"chinlift/core/term"
)

// Airway is what bedside tests of the airway found; absent: not done.
type Airway struct {
	Mallampati   term.Mallampati
	Mouth        term.MouthOpening // in the patient's own fingers
	Gap          quantity.Amount   // between the front teeth, mouth wide open; 0 to 10 cm
	Neck         term.Neck
	Thyromental  quantity.Amount // head tilted back; 1 to 20 cm
	Sternomental quantity.Amount // head tilted back; 3 to 30 cm
}

// AirwayFound is the tests taken together.
type AirwayFound struct {
	Findings    []Finding // of the tests that were done
	Warnings    int       // how many of them warn
	Assumptions []patient.Assumption
	Cautions    []patient.Caution
	Sources     []patient.Source
}

// Finding is what one test says.
type Finding struct {
	Test  term.AirwayTest
	Warns bool // of difficulty, by the published threshold
	// Finds is how many of the difficult laryngoscopies the test finds alone,
	// in %; TrueLow to TrueHigh, how many of its warnings come true. Absent
	// where it was not read for the test.
	Finds             quantity.Amount
	TrueLow, TrueHigh quantity.Amount
	Source            patient.Source
}

var (
	mallampati = patient.Source{Author: "S. R. Mallampati and others; G. L. T. Samsoon, J. R. B. Young", Title: "A clinical sign to predict difficult tracheal intubation, Canadian Anaesthetists' Society Journal 1985; Difficult tracheal intubation, Anaesthesia 42:487", Year: 1987, Table: "classes III and IV; finds about half of the difficult laryngoscopies, 3 to 5 % of its warnings come true", Via: "a teaching course on safe anaesthesia", Mark: term.MarkRead}
	distances  = patient.Source{Title: "thyromental distance over 6.5 cm and sternomental over 12.5 cm are normal", Via: "teaching notes", Mark: term.MarkRead}
	opening    = patient.Source{Title: "mouth opening of 3 fingers or 3 cm and over is normal", Mark: term.MarkMemory}
	stiffNeck  = patient.Source{Title: "common practice, no source", Mark: term.MarkPractice}
	weakTests  = patient.Source{Author: "D. Roth and others", Title: "Airway physical examination tests for detection of difficult airway management in apparently normal adult patients, Cochrane Database of Systematic Reviews, CD008874", Year: 2018, Table: "none finds enough: sensitivity low, specificity higher", Mark: term.MarkMemory}
	notByVein  = patient.Source{Author: "World Health Organization", Title: "Surgical Care at the District Hospital", Year: 2003, Table: "14.1B: no induction by vein where the airway is likely to be difficult", Mark: term.MarkRead}
)

// AssessAirway says which bedside tests warn of a difficult airway and how
// little each of them is worth. It needs one test at least. The thresholds
// count as warnings themselves: a thyromental distance of 6.5 cm warns.
// Sources: mallampati, distances, opening, stiffNeck, weakTests, notByVein.
func AssessAirway(p patient.Patient, a Airway) (AirwayFound, error) {
	var f AirwayFound
	age, err := years(p.Age)
	if err != nil {
		return AirwayFound{}, err
	}
	found := func(test term.AirwayTest, warns bool, s patient.Source) *Finding {
		f.Findings = append(f.Findings, Finding{Test: test, Warns: warns, Source: s})
		if warns {
			f.Warnings++
		}
		return &f.Findings[len(f.Findings)-1]
	}
	unknown := func(field, given string) error {
		return &patient.Error{Field: field, Code: patient.UnknownCode, Given: given}
	}

	if a.Mallampati != "" {
		if !term.MallampatiList.Has(a.Mallampati) {
			return AirwayFound{}, unknown("mallampati", string(a.Mallampati))
		}
		one := found(term.AirwayTestMallampati, a.Mallampati == term.Mallampati3 || a.Mallampati == term.Mallampati4, mallampati)
		one.Finds, one.TrueLow, one.TrueHigh = quantity.MustParse("50 %"), quantity.MustParse("3 %"), quantity.MustParse("5 %")
	}
	if a.Mouth != "" && !term.MouthOpeningList.Has(a.Mouth) {
		return AirwayFound{}, unknown("mouth", string(a.Mouth))
	}
	narrow := a.Mouth != "" && a.Mouth != term.MouthOpeningThreeFingers
	if !a.Gap.IsZero() {
		gap, err := patient.Read("gap", a.Gap, quantity.Cm, "0", "10")
		if err != nil {
			return AirwayFound{}, err
		}
		narrow = narrow || gap.Cmp(exact.Whole(3)) < 0
	}
	if a.Mouth != "" || !a.Gap.IsZero() {
		found(term.AirwayTestMouth, narrow, opening)
	}
	if a.Neck != "" {
		if !term.NeckList.Has(a.Neck) {
			return AirwayFound{}, unknown("neck", string(a.Neck))
		}
		found(term.AirwayTestNeck, a.Neck != term.NeckFree, stiffNeck)
	}
	for _, d := range []struct {
		test      term.AirwayTest
		field     string
		distance  quantity.Amount
		low, high string // what can be, in cm
		normal    *exact.Number
	}{
		{term.AirwayTestThyromental, "thyromental", a.Thyromental, "1", "20", exact.Of("6.5")},
		{term.AirwayTestSternomental, "sternomental", a.Sternomental, "3", "30", exact.Of("12.5")},
	} {
		if d.distance.IsZero() {
			continue
		}
		cm, err := patient.Read(d.field, d.distance, quantity.Cm, d.low, d.high)
		if err != nil {
			return AirwayFound{}, err
		}
		found(d.test, cm.Cmp(d.normal) <= 0, distances)
	}
	if len(f.Findings) == 0 {
		return AirwayFound{}, &patient.Error{Field: "airway", Code: patient.Missing}
	}

	term.Add(&f.Cautions, WeakPredictor, NoTestExcludes)
	f.Sources = []patient.Source{weakTests}
	switch {
	case age == nil:
		term.Add(&f.Assumptions, patient.AdultAssumed)
	case age.Cmp(exact.Whole(adult)) < 0:
		term.Add(&f.Cautions, AdultTest)
	}
	if f.Warnings > 0 {
		term.Add(&f.Cautions, NotAsleepByVein)
		f.Sources = append(f.Sources, notByVein)
	}
	if a.Mallampati == "" || a.Neck == "" || a.Mouth == "" && a.Gap.IsZero() || a.Thyromental.IsZero() {
		term.Add(&f.Cautions, TestsMissing)
	}
	return f, nil
}

// adult is the age in years from which the rules here take a patient for an
// adult (that of the National Early Warning Score 2; from memory).
const adult = 16
