// Package figure counts cases: how many there were of each sort, how often
// something happened with how little that is known, and what was used.
//
// It works on a [Case], the few codes and amounts of a record that are counted.
// Nothing in it says who the patient or the provider was, and no free text is
// in it, so that it may be kept beside the record and thrown away at any time.
//
// A rate never stands alone: a [Rate] has the two numbers that it is made of and
// the interval that goes with them, see [Wilson]. The package compares nobody
// with anybody and calls no rate good or bad: cases differ, and most clinics
// have too few of them for that.
//
// What it is not: statistics of a country, or a test of anything. Adding cases
// of several devices is for those who gather their files.
package figure

import (
	"bytes"
	"cmp"
	"encoding/json"
	"errors"
	"maps"
	"slices"
	"time"

	"chinlift/core/quantity"
	"chinlift/core/term"
)

// Case is what is counted of one case. An empty field was not recorded.
type Case struct {
	Day         string              `json:"day"`             // "2026-03-07", by the clock on the wall: when the anaesthetic began, or else when the case was opened
	By          string              `json:"by,omitempty"`    // id of whoever began the anaesthetic, or else opened the case
	Begun       bool                `json:"begun,omitempty"` // the anaesthetic; a case that has not is in no figure
	Age         quantity.Amount     `json:"age,omitzero"`
	Sex         term.Sex            `json:"sex,omitempty"`
	ASA         term.ASA            `json:"asa,omitempty"`
	Emergency   bool                `json:"emergency,omitempty"` // the E of the class
	Urgency     term.Urgency        `json:"urgency,omitempty"`
	Operation   term.Operation      `json:"operation,omitempty"`
	Techniques  []term.Technique    `json:"techniques,omitempty"`
	Airways     []term.AirwayDevice `json:"airways,omitempty"` // that were put in or used
	Supervision term.Supervision    `json:"supervision,omitempty"`
	Troubles    []term.Trouble      `json:"troubles,omitempty"` // each once, however often it came
	Marks       []term.MarkLabel    `json:"marks,omitempty"`    // each once
	Outcome     term.Outcome        `json:"outcome,omitempty"`
	Replies     []Reply             `json:"replies,omitempty"` // of the day after: the last to each question
	Doses       []Dose              `json:"doses,omitempty"`   // drug by drug and unit by unit, summed
	Left        int                 `json:"left,omitempty"`    // doses that are no amount that adds up, as drops a minute
	Breathed    []Breathed          `json:"breathed,omitempty"`
}

// Reply is the last answer to a question of the day after.
type Reply struct {
	Question string     `json:"question"`
	Answer   string     `json:"answer,omitempty"` // yes or no
	Score    *int       `json:"score,omitempty"`
	Grade    term.Grade `json:"grade,omitempty"`
}

// Dose is what was given of one drug in one kind of amount.
type Dose struct {
	Drug   string          `json:"drug"`
	Amount quantity.Amount `json:"amount"`
}

// Breathed is a time in which what was given to breathe did not change; times
// with the same are one.
type Breathed struct {
	Agent      term.Agent      `json:"agent,omitempty"`
	Drops      quantity.Amount `json:"drops,omitzero"`
	Percent    quantity.Amount `json:"percent,omitzero"`
	Wetness    term.Wetness    `json:"wetness,omitempty"`
	Oxygen     quantity.Amount `json:"oxygen,omitzero"`
	BreathLow  quantity.Amount `json:"breath_low,omitzero"` // minute volume, L/min
	BreathHigh quantity.Amount `json:"breath_high,omitzero"`
	For        quantity.Amount `json:"for"` // minutes
}

// Line is the case as it is kept.
func (c *Case) Line() ([]byte, error) { return json.Marshal(c) }

// ErrDay says that a case that was kept has no date.
var ErrDay = errors.New("figure: not a day")

// Parse reads what Line wrote. Its errors say that it is to be made anew.
func Parse(line []byte) (*Case, error) {
	d := json.NewDecoder(bytes.NewReader(line))
	d.DisallowUnknownFields()
	var c Case
	if err := d.Decode(&c); err != nil {
		return nil, err
	}
	if _, err := time.Parse(time.DateOnly, c.Day); err != nil {
		return nil, ErrDay
	}
	return &c, nil
}

// month is how much of a day names its month.
const month = len("2026-03")

// Month is the month of the case, "2026-03".
func (c *Case) Month() string { return c.Day[:min(month, len(c.Day))] }

// bandsUpTo are the ages at which bands end.
var bandsUpTo = []struct {
	under quantity.Amount
	band  term.AgeBand
}{
	{quantity.MustParse("28 d"), term.AgeBandNewborn},
	{quantity.MustParse("1 a"), term.AgeBandInfant},
	{quantity.MustParse("5 a"), term.AgeBand1},
	{quantity.MustParse("12 a"), term.AgeBand5},
	{quantity.MustParse("18 a"), term.AgeBand12},
	{quantity.MustParse("40 a"), term.AgeBand18},
	{quantity.MustParse("65 a"), term.AgeBand40},
	{quantity.MustParse("80 a"), term.AgeBand65},
}

// BandOf gives the band of an age in years, months, weeks or days; empty where
// there is none, or where it is below nought or no age.
func BandOf(age quantity.Amount) term.AgeBand {
	if age.IsZero() || age.Value.Sign() < 0 {
		return ""
	}
	for _, b := range bandsUpTo {
		n, err := age.Cmp(b.under)
		if err != nil {
			return ""
		}
		if n < 0 {
			return b.band
		}
	}
	return term.AgeBand80
}

// Filter picks cases. An empty field picks all.
type Filter struct {
	From, To  string // days, both among them
	By        string // whose they are
	Technique term.Technique
	Trouble   term.Trouble
	Mark      term.MarkLabel
}

// Picks reports whether a case is among those asked for. It says nothing of
// whether the anaesthetic has begun.
func (f Filter) Picks(c *Case) bool {
	return (f.From == "" || c.Day >= f.From) && (f.To == "" || c.Day <= f.To) &&
		(f.By == "" || c.By == f.By) &&
		(f.Technique == "" || slices.Contains(c.Techniques, f.Technique)) &&
		(f.Trouble == "" || slices.Contains(c.Troubles, f.Trouble)) &&
		(f.Mark == "" || slices.Contains(c.Marks, f.Mark))
}

// Row is how many cases have a code.
type Row struct {
	Code string
	N    int
}

// Table is how many cases have each code.
type Table struct {
	Rows   []Row // those that any case has, in the order of the list
	Unsaid int   // cases of which it was not recorded
	Of     int   // cases; where one may have several codes, the rows are more together
}

// Count counts the cases by codes, each once a case. The rows stand in the
// order of the codes given; others follow, sorted.
func Count[C ~string](cases []*Case, order []C, of func(*Case) []C) Table {
	t := Table{Of: len(cases)}
	n := map[C]int{}
	for _, c := range cases {
		codes := map[C]bool{}
		for _, x := range of(c) {
			codes[x] = true
		}
		if len(codes) == 0 {
			t.Unsaid++
		}
		for x := range codes {
			n[x]++
		}
	}
	row := func(x C) {
		if n[x] > 0 {
			t.Rows = append(t.Rows, Row{string(x), n[x]})
			delete(n, x)
		}
	}
	for _, x := range order {
		row(x)
	}
	for _, x := range slices.Sorted(maps.Keys(n)) {
		row(x)
	}
	return t
}

// Rate is how many of so many, with the interval of [Wilson].
type Rate struct {
	Code  string
	N, Of int
	Interval
}

// rates makes rates of a table; those that nobody had are left out.
func (t Table) rates() []Rate {
	var all []Rate
	for _, r := range t.Rows {
		all = append(all, Of(r.Code, r.N, t.Of))
	}
	return all
}

// Of makes the rate of n of so many. Of none there is no interval.
func Of(code string, n, of int) Rate {
	r := Rate{Code: code, N: n, Of: of}
	r.Interval, _ = Wilson(n, of)
	return r
}

// Figures are what is counted of some cases whose anaesthetic has begun.
type Figures struct {
	Cases    int
	NotBegun int // picked as well, and in nothing below

	Months      Table // by "2026-03", in order, without those that have none
	Techniques  Table
	Ages        Table
	ASA         Table
	Urgency     Table
	Supervision Table
	Operations  Table
	Airways     Table
	Outcomes    []Rate
	NoOutcome   int

	Troubles  []Rate
	Untouched Rate // cases without any trouble recorded

	Asked   Rate    // cases in which any question of the day after was answered
	Replies []Reply // of all these cases
	Doses   []Sum
	Left    int // doses that could not be added up
}

// Sum is what was given of a drug in all.
type Sum struct {
	Drug   string
	Amount quantity.Amount
	Cases  int
}

// one makes a list of a code that may be empty.
func one[C ~string](x C) []C {
	if x == "" {
		return nil
	}
	return []C{x}
}

// Work counts the cases that a filter picks.
func Work(cases []*Case, f Filter) Figures {
	var w Figures
	var begun []*Case
	for _, c := range cases {
		switch {
		case !f.Picks(c):
		case c.Begun:
			begun = append(begun, c)
		default:
			w.NotBegun++
		}
	}
	w.Cases = len(begun)
	w.Months = Count(begun, nil, func(c *Case) []string { return one(c.Month()) })
	w.Techniques = Count(begun, term.TechniqueList.Codes(), func(c *Case) []term.Technique { return c.Techniques })
	w.Ages = Count(begun, term.AgeBandList.Codes(), func(c *Case) []term.AgeBand { return one(BandOf(c.Age)) })
	w.ASA = Count(begun, term.ASAList.Codes(), func(c *Case) []term.ASA { return one(c.ASA) })
	w.Urgency = Count(begun, term.UrgencyList.Codes(), func(c *Case) []term.Urgency { return one(c.Urgency) })
	w.Supervision = Count(begun, term.SupervisionList.Codes(), func(c *Case) []term.Supervision { return one(c.Supervision) })
	w.Operations = Count(begun, term.OperationList.Codes(), func(c *Case) []term.Operation { return one(c.Operation) })
	w.Airways = Count(begun, term.AirwayDeviceList.Codes(), func(c *Case) []term.AirwayDevice { return c.Airways })
	outcomes := Count(begun, term.OutcomeList.Codes(), func(c *Case) []term.Outcome { return one(c.Outcome) })
	w.NoOutcome, outcomes.Of = outcomes.Unsaid, outcomes.Of-outcomes.Unsaid
	w.Outcomes = outcomes.rates()
	troubles := Count(begun, term.TroubleList.Codes(), func(c *Case) []term.Trouble { return c.Troubles })
	w.Troubles, w.Untouched = troubles.rates(), Of("", troubles.Unsaid, troubles.Of)
	asked := 0
	for _, c := range begun {
		if len(c.Replies) > 0 {
			asked++
		}
		w.Replies = append(w.Replies, c.Replies...)
	}
	w.Asked = Of("", asked, len(begun))
	w.Doses, w.Left = sums(begun)
	return w
}

// inOne are the units in which doses are added up; none loses anything.
var inOne = []quantity.Unit{quantity.Mg, quantity.ML, quantity.IU, quantity.Mmol}

// AddDose adds a dose to those of a case: to the sum of the same drug where it
// can be added without loss. A dose in a unit that is none of mass, volume,
// international units or mmol counts in Left.
func (c *Case) AddDose(drug string, dose quantity.Amount) {
	for _, u := range inOne {
		in, err := dose.In(u)
		if err != nil {
			continue
		}
		i := slices.IndexFunc(c.Doses, func(d Dose) bool { return d.Drug == drug && d.Amount.Unit == u })
		if i < 0 {
			c.Doses = append(c.Doses, Dose{drug, in})
			return
		}
		if sum, err := c.Doses[i].Amount.Add(in); err == nil {
			c.Doses[i].Amount = sum
			return
		}
	}
	c.Left++
}

// sums adds up what was given of each drug, sorted by drug and unit. left is
// how many doses could not be added.
func sums(cases []*Case) (all []Sum, left int) {
	type key struct {
		drug string
		unit quantity.Unit
	}
	at := map[key]*Sum{}
	for _, c := range cases {
		left += c.Left
		for _, d := range c.Doses {
			k := key{d.Drug, d.Amount.Unit}
			s := at[k]
			if s == nil {
				at[k] = &Sum{d.Drug, d.Amount, 1}
				continue
			}
			sum, err := s.Amount.Add(d.Amount)
			if err != nil {
				left++
				continue
			}
			s.Amount = sum
			s.Cases++
		}
	}
	for _, s := range at {
		all = append(all, *s)
	}
	slices.SortFunc(all, func(a, b Sum) int {
		return cmp.Or(cmp.Compare(a.Drug, b.Drug), cmp.Compare(a.Amount.Unit.String(), b.Amount.Unit.String()))
	})
	return all, left
}
