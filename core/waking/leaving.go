package waking

import (
	"fmt"
	"maps"
	"slices"

	"chinlift/core/patient"
	"chinlift/core/quantity"
	"chinlift/core/rulefile"
	"chinlift/core/term"
)

// Leaving is a list of criteria for leaving.
type Leaving struct {
	Code      string // the file's name without its ending
	Version   string // SHA-256 of the file, in hexadecimal
	Name      Text
	Criteria  []Criterion
	measuring map[Measure]bool
}

// Criterion is one thing that is so before a patient leaves. One with a measure
// goes by a value; every other by what whoever looked says.
type Criterion struct {
	Code    string          `toml:"code"`
	Measure Measure         `toml:"measure"`
	AtLeast quantity.Amount `toml:"at_least"`
	AtMost  quantity.Amount `toml:"at_most"`
	Under   quantity.Amount `toml:"under"`
	Source  string          `toml:"source"`
	Mark    term.Mark       `toml:"mark"`
	Name    Text            `toml:"name"`
	Look    Text            `toml:"look"`
}

// Measure is what a criterion is measured by.
type Measure string

// The measures.
const (
	MeasureScore       Measure = "recovery-score"  // 0 to 10 {score}, as Aldrete gives it
	MeasurePain        Measure = "pain"            // 0 to 10 {score}
	MeasureNausea      Measure = "nausea"          // 0 to 10 {score}
	MeasureMotor       Measure = "motor-block"     // 0 to 3 {score}, as Bromage gives it
	MeasureTemperature Measure = "temperature"     // 10 to 47 Cel
	MeasurePressure    Measure = "pressure-change" // -100 to 1000 %, as Circulation gives it
)

// measures has what each can be.
var measures = map[Measure]struct {
	unit      quantity.Unit
	low, high string
}{
	MeasureScore:       {quantity.ScoreOne, "0", "10"},
	MeasurePain:        {quantity.ScoreOne, "0", "10"},
	MeasureNausea:      {quantity.ScoreOne, "0", "10"},
	MeasureMotor:       {quantity.ScoreOne, "0", "3"},
	MeasureTemperature: {quantity.Cel, "10", "47"},
	MeasurePressure:    {quantity.Percent, "-100", "1000"},
}

// ParseLeaving reads a list of criteria. Unknown keys, a criterion without a
// source, two with one code, a measure without a bound or with one that cannot
// be, and a missing English text are refused, with the criterion's code.
func ParseLeaving(code string, data []byte) (*Leaving, error) {
	var file struct {
		Name     Text        `toml:"name"`
		Criteria []Criterion `toml:"criterion"`
	}
	fail := func(format string, args ...any) (*Leaving, error) {
		return nil, fmt.Errorf("criteria %s: "+format, append([]any{code}, args...)...)
	}
	if err := rulefile.Decode(data, &file); err != nil {
		return fail("%w", err)
	}
	if file.Name["en"] == "" {
		return fail("the name in English is missing")
	}
	if len(file.Criteria) == 0 {
		return fail("there is no criterion")
	}
	l := &Leaving{Code: code, Version: rulefile.Version(data), Name: file.Name, Criteria: file.Criteria, measuring: map[Measure]bool{}}
	for i, c := range file.Criteria {
		switch {
		case !rulefile.CodeOK(c.Code):
			return fail("criterion %d: code %q is not lower case letters, digits and hyphens", i+1, c.Code)
		case slices.ContainsFunc(file.Criteria[:i], func(o Criterion) bool { return o.Code == c.Code }):
			return fail("criterion %s stands twice", c.Code)
		case c.Name["en"] == "" || c.Look["en"] == "":
			return fail("criterion %s: name or look in English is missing", c.Code)
		case c.Source == "":
			return fail("criterion %s has no source", c.Code)
		case !term.MarkList.Has(c.Mark):
			return fail("criterion %s: mark %q is not read, practice or memory", c.Code, c.Mark)
		}
		bounds := 0
		m, known := measures[c.Measure]
		for _, b := range []quantity.Amount{c.AtLeast, c.AtMost, c.Under} {
			if b.IsZero() {
				continue
			}
			if bounds++; known {
				if _, err := patient.Read("bound", b, m.unit, m.low, m.high); err != nil {
					return fail("criterion %s: %w", c.Code, err)
				}
			}
		}
		switch {
		case c.Measure == "" && bounds > 0:
			return fail("criterion %s has a bound and no measure", c.Code)
		case c.Measure != "" && !known:
			return fail("criterion %s: measure %q is not known", c.Code, c.Measure)
		case known && bounds == 0:
			return fail("criterion %s has a measure and no bound", c.Code)
		}
		if known {
			l.measuring[c.Measure] = true
		}
	}
	return l, nil
}

// Leavings gives the lists of criteria that come with the companion, by name of
// file: home and recovery.
func Leavings() ([]*Leaving, error) { return rulefile.Folder(files, "leaving", ParseLeaving) }

// Met is a criterion held against what is known. State is Yes where it is met,
// No where it is not, and empty where nobody has looked.
type Met struct {
	Criterion
	State Said
}

// Check holds what was measured and what was said against the criteria. It
// says besides how many are open: not met, or not looked at. None open is not
// leave to go: whoever watches gives that.
func (l *Leaving) Check(measured map[Measure]quantity.Amount, said map[string]Said) (met []Met, open int, err error) {
	for _, m := range slices.Sorted(maps.Keys(measured)) {
		known, ok := measures[m]
		if !ok || !l.measuring[m] {
			return nil, 0, &patient.Error{Field: "measure", Code: patient.UnknownCode, Given: string(m)}
		}
		if _, err := patient.Read(string(m), measured[m], known.unit, known.low, known.high); err != nil {
			return nil, 0, err
		}
	}
	for _, code := range slices.Sorted(maps.Keys(said)) {
		if !slices.ContainsFunc(l.Criteria, func(c Criterion) bool { return c.Code == code && c.Measure == "" }) {
			return nil, 0, &patient.Error{Field: "said", Code: patient.UnknownCode, Given: code}
		}
		if err := said[code].Check(code); err != nil {
			return nil, 0, err
		}
	}
	for _, c := range l.Criteria {
		one := Met{Criterion: c, State: said[c.Code]}
		if a, ok := measured[c.Measure]; ok {
			one.State = Yes
			if !c.holds(a) {
				one.State = No
			}
		}
		if one.State != Yes {
			open++
		}
		met = append(met, one)
	}
	return met, open, nil
}

// holds reports whether a value, which has been read, is within the bounds.
func (c Criterion) holds(a quantity.Amount) bool {
	against := func(bound quantity.Amount) int {
		n, err := a.Cmp(bound)
		if err != nil {
			panic("waking: " + err.Error()) // both have been read in the measure's unit
		}
		return n
	}
	return (c.AtLeast.IsZero() || against(c.AtLeast) >= 0) &&
		(c.AtMost.IsZero() || against(c.AtMost) <= 0) &&
		(c.Under.IsZero() || against(c.Under) < 0)
}
