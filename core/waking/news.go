package waking

import (
	"slices"

	"chinlift/core/exact"
	"chinlift/core/patient"
	"chinlift/core/quantity"
	"chinlift/core/term"
)

// Signs are the seven of the early warning score.
type Signs struct {
	Breaths     quantity.Amount
	SpO2        quantity.Amount
	ScaleTwo    bool // a clinician set 88 to 92 % as the aim
	OnOxygen    bool
	Systolic    quantity.Amount
	Pulse       quantity.Amount
	Awake       term.Awake
	Temperature quantity.Amount
	Pregnant    Said
}

// Warning is the early warning score.
type Warning struct {
	Sum    patient.Answer // 0 to 20 {score}
	Points []SignPoints   // of each sign
	Band   term.WarningBand
	// EveryLow to EveryHigh is how far apart looks may lie at the most, h; both
	// absent where it is without a break.
	EveryLow, EveryHigh quantity.Amount
}

// SignPoints are the points for one sign.
type SignPoints struct {
	Field  string
	Points int
}

var news2 = patient.Source{Author: "Royal College of Physicians", Title: "National Early Warning Score (NEWS) 2: standardising the assessment of acute-illness severity in the NHS", Year: 2017, Table: "charts 1 and 4", Via: "copies of the charts", Mark: term.MarkRead}

// band is one column of the chart: up to and with a value.
type band struct {
	to     string
	points int
}

// The chart, each row from low to high; the last column has no end.
var (
	newsBreaths     = []band{{"8", 3}, {"11", 1}, {"20", 0}, {"24", 2}, {"", 3}}
	newsScale1      = []band{{"91", 3}, {"93", 2}, {"95", 1}, {"", 0}}
	newsScale2Air   = []band{{"83", 3}, {"85", 2}, {"87", 1}, {"", 0}}
	newsScale2      = []band{{"83", 3}, {"85", 2}, {"87", 1}, {"92", 0}, {"94", 1}, {"96", 2}, {"", 3}}
	newsSystolic    = []band{{"90", 3}, {"100", 2}, {"110", 1}, {"219", 0}, {"", 3}}
	newsPulse       = []band{{"40", 3}, {"50", 1}, {"90", 0}, {"110", 1}, {"130", 2}, {"", 3}}
	newsTemperature = []band{{"35", 3}, {"36", 1}, {"38", 0}, {"39", 1}, {"", 2}}
)

// NEWS2 adds up the National Early Warning Score 2. It is for 16 years and over
// and not for pregnancy: for others it gives an error. It needs the age and all
// seven signs. A value between two columns is rounded to the chart's last
// place, whole numbers and tenths of a degree, half to even. Source: news2.
func NEWS2(p patient.Patient, s Signs) (Warning, error) {
	age, err := patient.Read("age", p.Age, quantity.Year, "0", "120")
	if err != nil {
		return Warning{}, err
	}
	if age.Cmp(exact.Whole(16)) < 0 {
		return Warning{}, &patient.Error{Field: "age", Code: patient.NoRule, Given: p.Age.String(), Low: "16 a", High: "120 a"}
	}
	if err := s.Pregnant.Check("pregnant"); err != nil {
		return Warning{}, err
	}
	if s.Pregnant == Yes {
		return Warning{}, &patient.Error{Field: "pregnant", Code: NotForPregnancy}
	}
	a := patient.Answer{Rule: "early-warning-2", Cautions: []patient.Caution{patient.Estimate, WatcherDecides, AnaestheticActs}, Sources: []patient.Source{news2}}
	// Up to 55 years, as registers of births reckon (from memory).
	if s.Pregnant == "" && p.Sex != term.SexMale && age.Cmp(exact.Whole(55)) <= 0 {
		term.Add(&a.Cautions, PregnancyNotAsked)
	}
	saturation := newsScale1
	if s.ScaleTwo {
		term.Add(&a.Cautions, ScaleTwoDecided)
		saturation = newsScale2Air
		if s.OnOxygen {
			saturation = newsScale2
		}
	}

	w := Warning{}
	sum := 0
	take := func(field string, n int) {
		w.Points = append(w.Points, SignPoints{field, n})
		sum += n
	}
	for _, one := range []struct {
		field     string
		value     quantity.Amount
		unit      quantity.Unit
		low, high string // what can be; the bounds of the record
		decimals  int
		row       []band
	}{
		{"breaths", s.Breaths, quantity.PerMin, "0", "150", 0, newsBreaths},
		{"spo2", s.SpO2, quantity.Percent, "0", "100", 0, saturation},
		{"systolic", s.Systolic, quantity.MmHg, "0", "350", 0, newsSystolic},
		{"pulse", s.Pulse, quantity.PerMin, "0", "350", 0, newsPulse},
		{"temperature", s.Temperature, quantity.Cel, "10", "47", 1, newsTemperature},
	} {
		if _, err := patient.Read(one.field, one.value, one.unit, one.low, one.high); err != nil {
			return Warning{}, err
		}
		in, err := one.value.In(one.unit)
		if err != nil {
			return Warning{}, err
		}
		take(one.field, pointsOf(one.row, exact.Of(in.Round(exact.Places).Round(one.decimals).Value.String())))
	}
	air := 0
	if s.OnOxygen {
		air = 2
	}
	take("oxygen", air)
	switch {
	case s.Awake == "":
		return Warning{}, &patient.Error{Field: "awake", Code: patient.Missing}
	case !term.AwakeList.Has(s.Awake):
		return Warning{}, &patient.Error{Field: "awake", Code: patient.UnknownCode, Given: string(s.Awake)}
	case s.Awake == term.AwakeAlert:
		take("awake", 0)
	default:
		take("awake", 3)
	}

	a.Value = points(sum)
	w.Sum = a
	h := func(n int64) quantity.Amount {
		return quantity.Amount{Value: quantity.DecimalFromInt(n), Unit: quantity.Hour}
	}
	switch {
	case sum >= 7:
		w.Band = term.WarningBandEmergency
	case sum >= 5:
		w.Band, w.EveryLow, w.EveryHigh = term.WarningBandUrgent, h(1), h(1)
	case slices.ContainsFunc(w.Points, func(p SignPoints) bool { return p.Points == 3 }):
		w.Band, w.EveryLow, w.EveryHigh = term.WarningBandSingle, h(1), h(1)
	case sum >= 1:
		w.Band, w.EveryLow, w.EveryHigh = term.WarningBandLow, h(4), h(6)
	default:
		w.Band, w.EveryLow, w.EveryHigh = term.WarningBandRoutine, h(12), h(12)
	}
	return w, nil
}

func pointsOf(row []band, x *exact.Number) int {
	for _, b := range row {
		if b.to == "" || x.Cmp(exact.Of(b.to)) <= 0 {
			return b.points
		}
	}
	panic("waking: a row without an end")
}
