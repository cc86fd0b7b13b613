package visit

import (
	"chinlift/core/exact"
	"chinlift/core/patient"
	"chinlift/core/quantity"
	"chinlift/core/term"
)

// Limit is a usual range. Both ends are in it.
type Limit struct {
	Low, High quantity.Amount
	// From and To are the widest that the published tables give; a value
	// outside Low and High and inside these is out by one table alone.
	From, To quantity.Amount
	Sources  []patient.Source
}

// Holds says where a value lies: -1 below Low, 0 within, +1 above High. The
// errors are those of quantity.
func (l Limit) Holds(a quantity.Amount) (int, error) {
	if n, err := a.Cmp(l.Low); err != nil || n < 0 {
		return -1, err
	}
	n, err := a.Cmp(l.High)
	if err != nil || n <= 0 {
		return 0, err
	}
	return 1, nil
}

// Limits are the usual values at an age, awake and at rest.
type Limits struct {
	Breaths, Pulse, Systolic Limit
	// Hypotension is the systolic pressure below which it counts as low,
	// mm[Hg]; Low to High where sources differ.
	Hypotension patient.Answer
	// SlowPulse is the pulse under which a child's counts as slow, /min: that which
	// one in ten healthy children awake and at rest is under, from the second
	// birthday on; before it, From of Pulse. An adult's is Low of Pulse.
	SlowPulse   patient.Answer
	Expected    patient.Answer // usual systolic pressure of a child of 1 to 10 years, mm[Hg]; absent at other ages
	Assumptions []patient.Assumption
	Cautions    []patient.Caution
}

var (
	apls     = patient.Source{Author: "S. Fleming and others", Title: "Normal ranges of heart rate and respiratory rate in children, Lancet 377:1011", Year: 2011, Table: "web appendix: ranges of Advanced Paediatric Life Support", Mark: term.MarkRead}
	aplsSys  = patient.Source{Title: "Advanced Paediatric Life Support, systolic pressure by age", Mark: term.MarkMemory}
	pals     = patient.Source{Author: "S. Fleming and others", Title: "Normal ranges of heart rate and respiratory rate in children, Lancet 377:1011", Year: 2011, Table: "web appendix: ranges of Pediatric Advanced Life Support, awake", Mark: term.MarkRead}
	tenth    = patient.Source{Author: "S. Fleming and others", Title: "Normal ranges of heart rate and respiratory rate in children, Lancet 377:1011", Year: 2011, Table: "proposed cut-offs for the heart rate, 10th centile", Via: "a copy of the table in the code of a study", Mark: term.MarkRead}
	palsLow  = patient.Source{Author: "American Heart Association", Title: "Pediatric Advanced Life Support", Table: "low: newborn under 60, 1 to 12 months under 70, 1 to 10 years under 70 + 2 x years, older under 90", Via: "teaching pages that agree", Mark: term.MarkRead}
	fifth    = patient.Source{Author: "I. U. Haque, A. L. Zaritsky", Title: "Analysis of the evidence for the lower limit of systolic and mean arterial pressure in children, Pediatric Critical Care Medicine 8:138", Year: 2007, Table: "5th centile: 2 x years + 65", Via: "the abstract", Mark: term.MarkRead}
	expected = patient.Source{Title: "expected systolic pressure 90 + 2 x years, the median", Via: "a teaching page", Mark: term.MarkRead}
	news     = patient.Source{Author: "Royal College of Physicians", Title: "National Early Warning Score (NEWS) 2", Year: 2017, Table: "values that score nothing", Via: "a copy of the chart", Mark: term.MarkRead}
	lowStudy = patient.Source{Author: "G. H. Kruger and others", Title: "gaps in pressure readings and hypotension under anaesthesia (PMC6138874)", Year: 2017, Table: "systolic under 80", Mark: term.MarkRead}
)

// ages is one row of a table: from an age in years on.
type ages struct {
	from      string
	low, high string
}

var (
	aplsBreaths = []ages{{"0", "30", "40"}, {"1", "25", "35"}, {"2", "25", "30"}, {"5", "20", "25"}, {"12", "15", "20"}}
	aplsPulse   = []ages{{"0", "110", "160"}, {"1", "100", "150"}, {"2", "95", "140"}, {"5", "80", "120"}, {"12", "60", "100"}}
	aplsPress   = []ages{{"0", "70", "90"}, {"1", "80", "95"}, {"2", "80", "100"}, {"5", "90", "110"}, {"12", "100", "120"}}
	palsBreaths = []ages{{"0", "30", "60"}, {"1", "24", "40"}, {"4", "22", "34"}, {"6", "18", "30"}, {"13", "12", "16"}}
	palsPulse   = []ages{{"0", "85", "205"}, {"0.25", "100", "190"}, {"2", "60", "140"}, {"10", "60", "100"}}
)

// slowPulse is the 10th centile of the heart rate by age in years: tenth. The 1st
// lies 16 to 15 under it.
var slowPulse = []ages{{from: "2", low: "92"}, {from: "3", low: "86"}, {from: "4", low: "81"}, {from: "6", low: "74"}, {from: "8", low: "67"}, {from: "12", low: "62"}, {from: "15", low: "58"}}

// row gives the row of an age in years.
func row(table []ages, age *exact.Number) ages {
	at := table[0]
	for _, r := range table {
		if age.Cmp(exact.Of(r.from)) >= 0 {
			at = r
		}
	}
	return at
}

// limit makes a range of a row, as wide as another table makes it.
func limit(r, other ages, u quantity.Unit, s ...patient.Source) Limit {
	from, to := r.low, r.high
	if exact.Of(other.low).Cmp(exact.Of(from)) < 0 {
		from = other.low
	}
	if exact.Of(other.high).Cmp(exact.Of(to)) > 0 {
		to = other.high
	}
	return Limit{Low: exact.Written(r.low, u), High: exact.Written(r.high, u), From: exact.Written(from, u), To: exact.Written(to, u), Sources: s}
}

// Adult reports that the ranges are an adult's: values that score nothing in an
// early warning score, which are not all of them usual.
func (l *Limits) Adult() bool { return len(l.Pulse.Sources) > 0 && l.Pulse.Sources[0] == news }

// LimitsFor gives the limits for a patient: for one under 16 by age, for all
// others and where the age is not known those of an adult. Every limit that a
// screen shows is one of these.
//
// A child's ranges are those of Advanced Paediatric Life Support, From and To
// with those of Pediatric Advanced Life Support; a row holds from its first
// birthday until the next. Formulas count completed years. An adult's are the
// values that score nothing in the National Early Warning Score 2.
//
// Sources: apls, aplsSys, pals, tenth, palsLow, fifth, expected, news, lowStudy.
func LimitsFor(p patient.Patient) (Limits, error) {
	age, err := years(p.Age)
	if err != nil {
		return Limits{}, err
	}
	switch p.Sex {
	case "", term.SexFemale, term.SexMale, term.SexUnknown:
	default:
		return Limits{}, &patient.Error{Field: "sex", Code: patient.UnknownCode, Given: string(p.Sex)}
	}
	l := Limits{Cautions: []patient.Caution{patient.Estimate, AwakeAtRest, BaselineFirst}}
	low := func(value, least, most int64, s ...patient.Source) {
		mmHg := func(n int64) quantity.Amount {
			return quantity.Amount{Value: quantity.DecimalFromInt(n), Unit: quantity.MmHg}
		}
		l.Hypotension = patient.Answer{Rule: "systolic-low", Value: mmHg(value), Cautions: []patient.Caution{patient.Estimate}, Sources: s}
		if least != most {
			l.Hypotension.Low, l.Hypotension.High = mmHg(least), mmHg(most)
		}
	}

	if age == nil || age.Cmp(exact.Whole(adult)) >= 0 {
		if age == nil {
			term.Add(&l.Assumptions, patient.AdultAssumed)
		}
		if p.Sex != term.SexMale {
			term.Add(&l.Cautions, NotInPregnancy)
		}
		l.Breaths = limit(ages{"", "12", "20"}, row(aplsBreaths, exact.Whole(adult)), quantity.PerMin, news, apls)
		l.Pulse = limit(ages{"", "51", "90"}, row(aplsPulse, exact.Whole(adult)), quantity.PerMin, news, apls)
		l.slow(l.Pulse.Low, news)
		l.Systolic = limit(ages{"", "111", "219"}, row(aplsPress, exact.Whole(adult)), quantity.MmHg, news, aplsSys)
		low(90, 80, 90, palsLow, lowStudy)
		return l, nil
	}

	term.Add(&l.Assumptions, patient.AgeCompleted)
	term.Add(&l.Cautions, HypotensionIsLate, patient.ConfirmLocally) // the pressures are from memory
	l.Breaths = limit(row(aplsBreaths, age), row(palsBreaths, age), quantity.PerMin, apls, pals)
	l.Pulse = limit(row(aplsPulse, age), row(palsPulse, age), quantity.PerMin, apls, pals)
	if age.Cmp(exact.Of(slowPulse[0].from)) < 0 {
		l.slow(l.Pulse.From, apls, pals)
	} else {
		l.slow(exact.Written(row(slowPulse, age).low, quantity.PerMin), tenth)
	}
	press := row(aplsPress, age)
	l.Systolic = limit(press, press, quantity.MmHg, aplsSys)

	// Days, since 28 of them are no even part of a year.
	days, err := patient.Read("age", p.Age, quantity.Day, "0", "43830")
	if err != nil {
		return Limits{}, err
	}
	y := age.Floor().Int64()
	switch {
	case days.Cmp(exact.Whole(28)) < 0:
		low(60, 60, 60, palsLow)
		if p.Premature {
			term.Add(&l.Cautions, PrematureLower)
		}
	case y < 1:
		low(70, 70, 70, palsLow)
	case y <= 10:
		low(70+2*y, 65+2*y, 70+2*y, palsLow, fifth)
		l.Expected = patient.Answer{Rule: "systolic-expected", Value: quantity.Amount{Value: quantity.DecimalFromInt(90 + 2*y), Unit: quantity.MmHg}, Assumptions: []patient.Assumption{patient.AgeCompleted}, Cautions: []patient.Caution{patient.Estimate}, Sources: []patient.Source{expected}}
	default:
		low(90, min(90, 65+2*y), max(90, 65+2*y), palsLow, fifth)
	}
	return l, nil
}

func (l *Limits) slow(under quantity.Amount, s ...patient.Source) {
	l.SlowPulse = patient.Answer{Rule: "pulse-slow", Value: under, Cautions: []patient.Caution{patient.Estimate}, Sources: s}
}
