package core

import (
	"errors"
	"slices"
	"strings"

	"chinlift/core/formulary"
	"chinlift/core/patient"
	"chinlift/core/quantity"
	"chinlift/core/term"
)

// The calculations of the core by name, so that a script can reach each of
// them, and a screen can ask what it needs. A calculation is pure: it takes
// what was typed, and gives values, how they were worked out and by whose rule.
// It knows no case and no clock.

// Reckoning is one calculation.
type Reckoning struct {
	Name   string // of lower-case letters, figures and hyphens
	Inputs []Input
	do     func(g Given, r *Result) error
}

// Input is one value that a calculation takes.
type Input struct {
	Name   string // of lower-case letters, figures and underscores
	Kind   InputKind
	Needed bool // without it there is no answer
	// Units are those in common use, the usual one first; any other unit of
	// their dimensions is taken too. Without one every unit is.
	Units []quantity.Unit
	Codes []string // of InputCode, all of them
	ways  []string // how the codes are told, where that is more than the codes
}

// InputKind says how an input is written.
type InputKind string

// The kinds of input.
const (
	InputAmount   InputKind = "amount"   // a number and its unit
	InputCount    InputKind = "count"    // the same, or a number alone: it counts in the first unit
	InputStrength InputKind = "strength" // an amount, a percentage or 1:N
	InputCode     InputKind = "code"     // one of a list
	InputCodes    InputKind = "codes"    // some of a list, with commas between
	InputUnit     InputKind = "unit"     // a unit alone
	InputSchedule InputKind = "schedule" // a line for each change: a time, a comma, a percentage
)

// Result is what a calculation gives.
type Result struct {
	Reckoning   string
	Inputs      []GivenInput // as they were understood, in the order of the calculation
	Values      []ResultValue
	Assumptions []Coded
	Cautions    []Coded
	Working     []ResultStep
	Sources     []patient.Source
}

// ResultValue is one value of a result. It has an amount, a range without a
// value of its own, or a code of the list of terms that List names.
type ResultValue struct {
	Name       string
	Amount     quantity.Amount
	Low, High  quantity.Amount // what the sources span
	List, Code string
	Rule       Coded
}

// ResultStep is one step of the working.
type ResultStep struct {
	Step   Coded
	Values []patient.Named

	// Of a step by the dose rules: what its words are made of.
	dose   *formulary.Step
	excess *formulary.Excess
}

// Coded is a code, and the part of the catalogue that has its words.
type Coded struct{ Area, Code string }

// The parts of the catalogue.
const (
	areaPatient   = "patient"
	areaReckon    = "reckon"
	areaFormulary = "formulary"
)

// Key is the key of its words; the kind is rule, assumption, caution or step.
func (c Coded) Key(kind string) string {
	if c.Area == areaStage || c.Area == areaDanger {
		return c.Area + "." + c.Code // they are called the same everywhere
	}
	if c.Area == areaFormulary && kind == "caution" {
		kind = "alert" // as a drug's file calls them
	}
	return c.Area + "." + kind + "." + c.Code
}

// InputError says which input of a calculation is at fault.
type InputError struct {
	Reckoning string
	Input     Input // only the name where there is no such input
	Code      string
	Given     string // as it was typed
	Low, High string // limits, where there are some
	Names     string // other inputs, where it takes those to mend it
}

func (e *InputError) Error() string {
	s := "reckon " + e.Reckoning + ": " + e.Input.Name + ": " + e.Code
	if e.Given != "" {
		s += " (" + e.Given + ")"
	}
	return s
}

// The codes of an InputError that package patient and entries lack.
const (
	inputUnknown       = "unknown-input"  // the calculation has no such input
	inputNoUnit        = "no-unit"        // a number alone
	inputUnknownUnit   = "unknown-unit"   //
	inputDoubtfulGrain = "doubtful-grain" // "5 gr": grains or grams
	inputNoStrength    = "no-strength"    // a percentage or a ratio that none has
	inputOneOf         = "one-of"         // one of several is needed
	inputOnlyOne       = "only-one"       // of several only one may be given
	inputOutOfScale    = "out-of-scale"   // it cannot be written in the unit
	inputNotWeaker     = "not-weaker"     // diluting makes nothing stronger
	inputNoComma       = "no-comma"       // a line of a schedule that is not a time, a comma, a percentage
	inputFirstLine     = "first-line"     // a schedule that begins later than at 0
	inputBoils         = "boils"          // the liquid boils there: no number holds
	inputNotLater      = "not-later"      // a time that is not later than the one before
)

// Reckonings gives every calculation, like beside like.
func Reckonings() []Reckoning { return slices.Clone(reckonings) }

var reckonings = slices.Concat(weightReckonings, fluidReckonings, airwayReckonings, doseReckonings, agentReckonings, depthReckonings, prepareReckonings, historyReckonings)

// FindReckoning gives the calculation with this name.
func FindReckoning(name string) (Reckoning, bool) {
	i := slices.IndexFunc(reckonings, func(r Reckoning) bool { return r.Name == name })
	if i < 0 {
		return Reckoning{}, false
	}
	return reckonings[i], true
}

// Reckon works the calculation out with inputs as they were typed, by name. The
// error is an *InputError, or several of them joined: everything that is wrong
// with what was typed is said at once.
func (r Reckoning) Reckon(typed map[string]string) (Result, error) {
	given, err := r.read(typed)
	if err != nil {
		return Result{}, err
	}
	result := Result{Reckoning: r.Name}
	for _, in := range r.Inputs {
		if v, ok := given.values[in.Name]; ok {
			result.Inputs = append(result.Inputs, v)
		}
	}
	if err := r.do(given, &result); err != nil {
		return Result{}, r.fault(given, err)
	}
	return result, nil
}

// fault is the error of a calculation that works here, in an input that could
// be read.
type fault struct {
	name, code, low, high, names string
	units                        []quantity.Unit // that fit, where they are fewer than the input's
	codes                        []string        // likewise
}

func (f *fault) Error() string { return f.name + ": " + f.code }

// fault says of which input an error is.
func (r Reckoning) fault(g Given, err error) error {
	var f *fault
	if !errors.As(err, &f) {
		var e *patient.Error
		if !errors.As(err, &e) {
			return err
		}
		f = &fault{name: e.Field, code: e.Code, low: e.Low, high: e.High}
	}
	in := r.input(f.name)
	if f.units != nil {
		in.Units = f.units
	}
	if f.codes != nil {
		in.Codes = f.codes
	}
	return &InputError{Reckoning: r.Name, Input: in, Code: f.code, Given: g.values[in.Name].Text, Low: f.low, High: f.high, Names: f.names}
}

// input gives the input with this name, in which a hyphen is as good as an
// underscore. Where there is none it has a name alone.
func (r Reckoning) input(name string) Input {
	name = strings.ReplaceAll(name, "-", "_")
	for _, in := range r.Inputs {
		if in.Name == name {
			return in
		}
	}
	return Input{Name: name}
}

// names lists the inputs.
func (r Reckoning) names() string {
	var list []string
	for _, in := range r.Inputs {
		list = append(list, in.Name)
	}
	return strings.Join(list, ", ")
}

// take puts an answer of package patient into the result.
func (r *Result) take(name string, a patient.Answer) {
	r.about(a)
	r.Values = append(r.Values, ResultValue{Name: name, Amount: a.Value, Low: a.Low, High: a.High, Rule: Coded{areaPatient, string(a.Rule)}})
}

// about puts in what an answer says of itself.
func (r *Result) about(a patient.Answer) {
	for _, x := range a.Assumptions {
		r.assume(Coded{areaPatient, string(x)})
	}
	for _, x := range a.Cautions {
		r.beware(Coded{areaPatient, string(x)})
	}
	for _, x := range a.Working {
		step := ResultStep{Step: Coded{areaPatient, string(x.Code)}, Values: x.Values}
		if !slices.ContainsFunc(r.Working, func(y ResultStep) bool { return y.Step == step.Step && slices.Equal(y.Values, step.Values) }) {
			r.Working = append(r.Working, step)
		}
	}
	r.from(a.Sources...)
}

// add puts in a value that was worked out here.
func (r *Result) add(name, rule string, a quantity.Amount) {
	r.Values = append(r.Values, ResultValue{Name: name, Amount: a, Rule: Coded{areaReckon, rule}})
}

func (r *Result) assume(c Coded)              { term.Add(&r.Assumptions, c) }
func (r *Result) beware(c Coded)              { term.Add(&r.Cautions, c) }
func (r *Result) from(sources ...term.Source) { term.Add(&r.Sources, sources...) }

// step adds a step of the working.
func (r *Result) step(code string, values ...patient.Named) {
	r.Working = append(r.Working, ResultStep{Step: Coded{areaReckon, code}, Values: values})
}
