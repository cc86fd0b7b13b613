package core

import (
	"errors"
	"maps"
	"slices"
	"strings"

	"chinlift/core/patient"
	"chinlift/core/quantity"
	"chinlift/core/term"
)

// Given is what a calculation was given.
type Given struct {
	values map[string]GivenInput
}

// GivenInput is an input as it was understood.
type GivenInput struct {
	Name     string
	Text     string // as typed
	Amount   quantity.Amount
	Code     string
	Codes    []string
	Unit     quantity.Unit
	Schedule []ScheduleLine
	// Strength is a strength as it was written; Amount is its concentration.
	Strength quantity.Strength
}

func (g Given) has(name string) bool               { _, ok := g.values[name]; return ok }
func (g Given) amount(name string) quantity.Amount { return g.values[name].Amount }
func (g Given) code(name string) string            { return g.values[name].Code }
func (g Given) codes(name string) []string         { return g.values[name].Codes }

// patient gives the patient whom the inputs describe.
func (g Given) patient() patient.Patient {
	return patient.Patient{
		Age: g.amount("age"), Sex: term.Sex(g.code("sex")), Weight: g.amount("weight"), WeightBy: term.WeightBy(g.code("weight_by")),
		Length: g.amount("length"), Premature: g.code("premature") == yes,
	}
}

const yes = "yes"

// read reads what was typed.
func (r Reckoning) read(typed map[string]string) (Given, error) {
	g := Given{map[string]GivenInput{}}
	var faults []error
	fault := func(in Input, code, given string) {
		faults = append(faults, &InputError{Reckoning: r.Name, Input: in, Code: code, Given: given})
	}
	texts := map[string]string{}
	for _, name := range slices.Sorted(maps.Keys(typed)) {
		in := r.input(name)
		if in.Kind == "" {
			faults = append(faults, &InputError{Reckoning: r.Name, Input: Input{Name: name}, Code: inputUnknown, Given: typed[name], Names: r.names()})
			continue
		}
		texts[in.Name] = typed[name]
	}
	for _, in := range r.Inputs {
		text, ok := texts[in.Name]
		in = in.ofDrug(g)
		switch {
		case !ok && in.Needed:
			fault(in, patient.Missing, "")
			continue
		case !ok:
			continue
		}
		v, code := in.read(text)
		if code != "" {
			if in.Kind == InputSchedule {
				text = v.Text
			}
			fault(in, code, text)
			continue
		}
		v.Name, v.Text = in.Name, text
		g.values[in.Name] = v
	}
	return g, errors.Join(faults...)
}

// read reads one input; code says what is wrong with it.
func (in Input) read(text string) (v GivenInput, code string) {
	switch in.Kind {
	case InputCode:
		c := strings.ToLower(strings.TrimSpace(text))
		if !slices.Contains(in.Codes, c) {
			return v, patient.UnknownCode
		}
		v.Code = c
		return v, ""
	case InputCodes:
		for _, c := range strings.Split(text, ",") {
			c = strings.ToLower(strings.TrimSpace(c))
			if !slices.Contains(in.Codes, c) {
				return v, patient.UnknownCode
			}
			term.Add(&v.Codes, c)
		}
		v.Code = strings.Join(v.Codes, ",")
		return v, ""
	case InputSchedule:
		n := 0
		v.Schedule, n, code = ReadSchedule(text)
		if code != "" { // the line that is at fault
			for row := range strings.Lines(text) {
				if n--; n == 0 {
					v.Text = strings.TrimSpace(row)
				}
			}
		}
		return v, code
	case InputUnit:
		v.Unit, code = readUnit(text)
		return v, code
	case InputStrength:
		v.Strength, code = in.readStrength(text)
		v.Amount = v.Strength.Concentration()
		return v, code
	}
	a, code := readAmount(text)
	if code == inputNoUnit && in.Kind == InputCount {
		a, _ = quantity.ParseEntry(text, in.Units[0])
		code = ""
	}
	if code != "" {
		return v, code
	}
	if !in.fits(a.Unit) {
		return v, patient.WrongUnit
	}
	v.Amount = a
	return v, ""
}

// fits reports whether a unit is of one of the dimensions that the input takes.
func (in Input) fits(u quantity.Unit) bool {
	return len(in.Units) == 0 || slices.ContainsFunc(in.Units, func(v quantity.Unit) bool { return v.Dimension() == u.Dimension() })
}

// readStrength reads a strength as labels write it.
func (in Input) readStrength(text string) (quantity.Strength, string) {
	s, err := quantity.ParseStrength(text)
	c := s.Concentration()
	switch code := entryCode(err); {
	case err == nil && !in.fits(c.Unit):
		return s, patient.WrongUnit
	case err == nil && (len(c.Value.String()) > quantity.MaxDecimalLen && c.Round(20).Value.Sign() == 0):
		return s, inputNoStrength
	case err == nil:
		return s, ""
	case code != quantity.EntryUnitDoesNotFit && code != quantity.EntryNotANumber:
		return s, code
	}
	// It is said more closely what is wrong, where that can be known.
	switch a, code := readAmount(text); {
	case code == "" && in.fits(a.Unit), strings.ContainsAny(text, ":%"):
		return s, inputNoStrength // nought, less, or a ratio that is none
	case code == "":
		return s, patient.WrongUnit
	default:
		return s, code
	}
}

// readAmount reads a number with its unit. No unit is assumed: a number alone
// is refused, because the unit that was meant may be another one.
func readAmount(text string) (quantity.Amount, string) {
	a, err := quantity.ParseEntry(text, quantity.Unit{})
	if err == nil {
		return a, ""
	}
	code := entryCode(err)
	if code != quantity.EntryUnitDoesNotFit {
		return a, code
	}
	// The entry does not tell a unit that is wanting from one that is unknown;
	// asked for a bare number, it does.
	b, err := quantity.ParseEntry(text, quantity.One)
	switch code := entryCode(err); {
	case err == nil && b.Unit == quantity.One:
		return a, inputNoUnit
	case err != nil && code != quantity.EntryUnitDoesNotFit:
		return a, code
	}
	if b, err := quantity.ParseEntry(text, quantity.Grain); err == nil && b.Unit == quantity.Grain {
		return a, inputDoubtfulGrain
	}
	return a, inputUnknownUnit
}

func entryCode(err error) string {
	var e *quantity.EntryError
	if !errors.As(err, &e) {
		return ""
	}
	return e.Code
}

// readUnit reads a unit without a number.
func readUnit(text string) (quantity.Unit, string) {
	if strings.TrimSpace(text) == "" {
		return quantity.Unit{}, quantity.EntryEmpty
	}
	a, code := readAmount("1 " + text)
	switch code {
	case "", inputDoubtfulGrain:
		return a.Unit, code
	}
	return quantity.Unit{}, inputUnknownUnit
}
