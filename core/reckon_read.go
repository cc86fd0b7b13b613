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
	Name   string
	Text   string // as typed
	Amount quantity.Amount
	Code   string
	Unit   quantity.Unit
	// Defined says that a strength was typed as a percentage or as 1:N, and
	// that Amount is what these stand for.
	Defined bool
}

func (g Given) has(name string) bool               { _, ok := g.values[name]; return ok }
func (g Given) amount(name string) quantity.Amount { return g.values[name].Amount }
func (g Given) code(name string) string            { return g.values[name].Code }

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
		switch {
		case !ok && in.Needed:
			fault(in, patient.Missing, "")
			continue
		case !ok:
			continue
		}
		v, code := in.read(text)
		if code != "" {
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
	case InputUnit:
		v.Unit, code = readUnit(text)
		return v, code
	case InputStrength:
		if a, ok, code := readRatio(text); ok {
			v.Amount, v.Defined = a, true
			return v, code
		}
	}
	a, code := readAmount(text)
	if code == inputNoUnit && in.Kind == InputCount {
		a, _ = quantity.ParseEntry(text, in.Units[0])
		code = ""
	}
	if code != "" {
		return v, code
	}
	if in.Kind == InputStrength && a.Unit.Dimension() == quantity.Fraction {
		v.Amount, code = ofPercent(a)
		v.Defined = true
		return v, code
	}
	if len(in.Units) > 0 && !slices.ContainsFunc(in.Units, func(u quantity.Unit) bool { return u.Dimension() == a.Unit.Dimension() }) {
		return v, patient.WrongUnit
	}
	v.Amount = a
	return v, ""
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

// readRatio reads a strength of 1:N, also written 1 in N: 1 g in N mL. In N a
// space or a comma may stand before each three digits, because N has no
// decimals that it could be taken for; a point is refused.
func readRatio(text string) (a quantity.Amount, ok bool, code string) {
	left, right, ok := strings.Cut(strings.Replace(strings.ToLower(text), " in ", ":", 1), ":")
	if !ok {
		return a, false, ""
	}
	right = strings.TrimSpace(right)
	if strings.Contains(right, ".") {
		return a, true, quantity.EntryAmbiguousSeparator
	}
	groups := strings.FieldsFunc(right, func(c rune) bool { return c == ' ' || c == ',' })
	for i, g := range groups {
		if i > 0 && len(g) != 3 || i == 0 && len(groups) > 1 && len(g) > 3 {
			return a, true, quantity.EntryNotANumber
		}
	}
	n, err := quantity.ParseDecimal(strings.Join(groups, ""))
	if err != nil || strings.TrimSpace(left) != "1" {
		return a, true, quantity.EntryNotANumber
	}
	// The upper limit is against a slip of the hand, no source.
	if n.Cmp(quantity.DecimalFromInt(1)) < 0 || n.Cmp(quantity.DecimalFromInt(100_000_000)) > 0 {
		return a, true, inputNoStrength
	}
	x := quotient(rational("1000"), rational(n.String()))
	return decimal(x.FloatString(15), quantity.MgPerML), true, ""
}

// ofPercent gives the strength of so many g in 100 mL.
func ofPercent(percent quantity.Amount) (quantity.Amount, string) {
	x := exactly(percent, quantity.Percent)
	if x.Sign() <= 0 || x.Cmp(rational("100")) > 0 {
		return quantity.Amount{}, inputNoStrength
	}
	return decimal(product(x, rational("10")).FloatString(20), quantity.MgPerML), ""
}
