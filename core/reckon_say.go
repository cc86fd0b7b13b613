package core

import (
	"bytes"
	"encoding/json"
	"errors"
	"strings"

	"chinlift/core/patient"
	"chinlift/core/quantity"
	"chinlift/core/term"
	"chinlift/core/word"
)

// ReckonedView is a result as a script reads it, in JSON: codes and numbers, and
// beside them the words for each. Numbers are decimal strings and units are
// UCUM codes.
type ReckonedView struct {
	Reckoning   string       `json:"reckoning"`
	Words       string       `json:"words"`
	Inputs      inOrder      `json:"inputs"`
	Values      inOrder      `json:"values"`
	Assumptions []CodeView   `json:"assumptions"`
	Cautions    []CodeView   `json:"cautions"`
	Working     []StepView   `json:"working"`
	Sources     []SourceView `json:"sources"`
}

// CodeView is a code with its words.
type CodeView struct {
	Code  string `json:"code"`
	Words string `json:"words"`
}

// AmountView is a number with its unit.
type AmountView struct {
	Value string `json:"value"`
	Unit  string `json:"unit"`
}

// GivenView is an input as it was typed and as it was understood.
type GivenView struct {
	Given string `json:"given"`
	Value string `json:"value,omitempty"`
	Unit  string `json:"unit,omitempty"`
	Code  string `json:"code,omitempty"`
}

// ValueView is a value of a result. Low and High are in the same unit.
type ValueView struct {
	Value string   `json:"value,omitempty"`
	Low   string   `json:"low,omitempty"`
	High  string   `json:"high,omitempty"`
	Unit  string   `json:"unit,omitempty"`
	Code  string   `json:"code,omitempty"`
	Rule  CodeView `json:"rule"`
	Words string   `json:"words"`
}

// StepView is a step of the working.
type StepView struct {
	Code   string  `json:"code"`
	Values inOrder `json:"values"`
	Words  string  `json:"words"`
}

// SourceView is a source, with its mark in words.
type SourceView struct {
	Author string   `json:"author,omitempty"`
	Title  string   `json:"title"`
	Year   int      `json:"year,omitempty"`
	Table  string   `json:"table,omitempty"`
	Via    string   `json:"via,omitempty"`
	Mark   CodeView `json:"mark"`
}

// inOrder is an object whose fields stand in the order of the calculation.
type inOrder []namedView

type namedView struct {
	name string
	view any
}

// MarshalJSON writes the object.
func (o inOrder) MarshalJSON() ([]byte, error) {
	var b bytes.Buffer
	b.WriteByte('{')
	for i, f := range o {
		if i > 0 {
			b.WriteByte(',')
		}
		name, err := json.Marshal(f.name)
		if err != nil {
			return nil, err
		}
		b.Write(name)
		b.WriteByte(':')
		// Not by Marshal, which would write < and & as numbers of characters.
		enc := json.NewEncoder(&b)
		enc.SetEscapeHTML(false)
		if err := enc.Encode(f.view); err != nil {
			return nil, err
		}
	}
	b.WriteByte('}')
	return b.Bytes(), nil
}

// Reckoned puts a result into words.
func (s Speaker) Reckoned(r Result) ReckonedView {
	//word:prefix reckon.help.
	v := ReckonedView{
		Reckoning: r.Reckoning, Words: s.Say("reckon.help." + r.Reckoning),
		Assumptions: s.coded("assumption", r.Assumptions), Cautions: s.coded("caution", r.Cautions),
	}
	for _, in := range r.Inputs {
		g := GivenView{Given: in.Text, Code: in.Code}
		switch {
		case !in.Unit.IsZero():
			g.Unit = in.Unit.String()
		case !in.Amount.IsZero():
			if len(in.Amount.Value.String()) > quantity.MaxDecimalLen { // a strength that does not come out even
				in.Amount = in.Amount.Round(decimalsFor(in.Amount.Value, 15))
			}
			g.Value, g.Unit = in.Amount.Value.String(), in.Amount.Unit.String()
		}
		v.Inputs = append(v.Inputs, namedView{in.Name, g})
	}
	for _, x := range r.Values {
		v.Values = append(v.Values, namedView{x.Name, s.resultValue(x)})
	}
	for _, x := range r.Working {
		step := StepView{Code: x.Step.Code}
		var args []any
		for _, n := range x.Values {
			step.Values = append(step.Values, namedView{n.Name, AmountView{n.Amount.Value.String(), n.Amount.Unit.String()}})
			args = append(args, n.Name, s.Amount(n.Amount))
		}
		switch {
		case x.dose != nil:
			step.Words = s.doseStep(x.dose).Text
		case x.excess != nil:
			step.Words = s.excess(x.excess)
		default:
			step.Words = s.Say(x.Step.Key("step"), args...)
		}
		v.Working = append(v.Working, step)
	}
	for _, x := range r.Sources {
		v.Sources = append(v.Sources, s.Source(x))
	}
	return v
}

// Source puts a source into words.
func (s Speaker) Source(x patient.Source) SourceView {
	return SourceView{x.Author, x.Title, x.Year, x.Table, x.Via, CodeView{string(x.Mark), s.Say(term.MarkList.Key(x.Mark))}}
}

// coded puts codes into words.
func (s Speaker) coded(kind string, list []Coded) []CodeView {
	//word:prefix patient.rule.
	//word:prefix patient.assumption.
	//word:prefix patient.caution.
	//word:prefix patient.step.
	//word:prefix reckon.rule.
	//word:prefix reckon.assumption.
	//word:prefix reckon.caution.
	//word:prefix reckon.step.
	views := []CodeView{}
	for _, c := range list {
		if c.Area == areaFormulary {
			views = append(views, CodeView{c.Code, s.ruleWord("formulary.alert.", c.Code)})
			continue
		}
		views = append(views, CodeView{c.Code, s.Say(c.Key(kind))})
	}
	return views
}

func (s Speaker) resultValue(x ResultValue) ValueView {
	//word:prefix reckon.value.
	what := s.Say("reckon.value." + x.Name)
	v := ValueView{Rule: s.coded("rule", []Coded{x.Rule})[0], Code: x.Code}
	if x.Code != "" {
		v.Words = s.Say("reckon.says", "what", what, "value", s.Say("term."+x.List+"."+x.Code)) //word:prefix term.
		return v
	}
	number := func(a quantity.Amount) string { return a.Value.String() }
	v.Value, v.Low, v.High = number(x.Amount), number(x.Low), number(x.High)
	v.Unit = orElse(x.Amount.Unit.String(), x.Low.Unit.String())
	switch {
	case x.Amount.IsZero():
		v.Words = s.Say("reckon.says-between", "what", what, "low", s.Number(x.Low), "high", s.Amount(x.High))
	case x.Low.IsZero():
		v.Words = s.Say("reckon.says", "what", what, "value", s.Amount(legible(x.Amount)))
	default:
		v.Words = s.Say("reckon.says-range", "what", what, "value", s.Amount(x.Amount), "low", s.Number(x.Low), "high", s.Amount(x.High))
	}
	return v
}

func orElse(a, b string) string {
	if a == "" {
		return b
	}
	return a
}

// legible cuts the number of a conversion to what a person takes in: the whole
// part, and six figures. The value beside it has all of them.
func legible(a quantity.Amount) quantity.Amount {
	return a.Round(decimalsFor(a.Value, 6))
}

// ReckoningView is a calculation as it is listed.
type ReckoningView struct {
	Name   string      `json:"name"`
	Words  string      `json:"words"`
	Inputs []InputView `json:"inputs"`
}

// InputView is an input as it is listed. Units are UCUM codes, those in common
// use; Write is how people write them, and is taken too.
type InputView struct {
	Name   string   `json:"name"`
	Words  string   `json:"words"`
	Kind   string   `json:"kind"`
	Needed bool     `json:"needed"`
	Units  []string `json:"units,omitempty"`
	Write  []string `json:"write,omitempty"`
	Codes  []string `json:"codes,omitempty"`
}

// ReckoningList puts all calculations into words.
func (s Speaker) ReckoningList() []ReckoningView {
	var list []ReckoningView
	for _, r := range reckonings {
		list = append(list, s.Reckoning(r))
	}
	return list
}

// Reckoning puts one calculation into words.
func (s Speaker) Reckoning(r Reckoning) ReckoningView {
	v := ReckoningView{Name: r.Name, Words: s.Say("reckon.help." + r.Name)}
	for _, in := range r.Inputs {
		//word:prefix reckon.input.
		i := InputView{Name: in.Name, Words: s.Say("reckon.input." + in.Name), Kind: string(in.Kind), Needed: in.Needed, Codes: in.Codes, Write: in.write()}
		for _, u := range in.Units {
			i.Units = append(i.Units, u.String())
		}
		v.Inputs = append(v.Inputs, i)
	}
	return v
}

// UnitView is a unit: its UCUM code, how people write it, and what it measures,
// as package quantity calls that.
type UnitView struct {
	Code     string `json:"code"`
	Write    string `json:"write"`
	Measures string `json:"measures"`
}

// UnitList gives every unit in which an input may be written, like beside like.
func UnitList() []UnitView {
	var list []UnitView
	for _, u := range quantity.Units() {
		if u.Symbol() != "" { // a bare number or score is no unit to write
			list = append(list, UnitView{u.String(), writeUnit(u), string(u.Dimension())})
		}
	}
	return list
}

// writeUnit is how a unit is written: not in a reader's language, but as
// quantity.ParseEntry takes it.
func writeUnit(u quantity.Unit) string {
	if u == quantity.Grain {
		return "grain" // "gr" is grams too
	}
	return u.Symbol()
}

// write gives the ways in which the input is written.
func (in Input) write() (list []string) {
	for _, u := range in.Units {
		list = append(list, writeUnit(u))
	}
	if in.Kind == InputSchedule {
		list = append(list, "0 min, 10 %", "20 min, 4 %")
	}
	if in.Kind == InputStrength {
		list = append(list, "%", "1:1000")
	}
	if in.ways != nil {
		return append(list, in.ways...)
	}
	return append(list, in.Codes...)
}

// InputFault says what is wrong with an input, without its name.
func (s Speaker) InputFault(e *InputError) string {
	//word:prefix reckon.error.
	//word:prefix patient.error.
	key := "reckon.error." + e.Code
	if !s.Has(key) {
		key = "patient.error." + e.Code
	}
	ways := strings.Join(e.Input.write(), ", ")
	if ways == "" {
		ways = s.Say("reckon.any-unit")
	}
	return s.fill(key, map[string]string{"given": e.Given, "low": s.limit(e.Low), "high": s.limit(e.High), "ways": ways, "names": e.Names})
}

// fill says a text with those of the values that are in it.
func (s Speaker) fill(key string, values map[string]string) string {
	var args []any
	for _, name := range s.Placeholders(key) {
		args = append(args, name, values[name])
	}
	return s.Say(key, args...)
}

// limit writes a limit, with the unit that people write.
func (s Speaker) limit(text string) string {
	if text == "" {
		return ""
	}
	return s.bound(text)
}

// InputFaults gives every *InputError in an error.
func InputFaults(err error) []*InputError {
	if joined, ok := err.(interface{ Unwrap() []error }); ok {
		var list []*InputError
		for _, e := range joined.Unwrap() {
			list = append(list, InputFaults(e)...)
		}
		return list
	}
	var e *InputError
	if errors.As(err, &e) {
		return []*InputError{e}
	}
	return nil
}

// inputNamed gives the input that any calculation has under this name.
func inputNamed(name string) Input {
	for _, r := range reckonings {
		if in := r.input(name); in.Kind != "" {
			return in
		}
	}
	return Input{Name: name}
}

// inputProblem puts an error of a calculation into words for a screen.
func inputProblem(words *word.Book, e *InputError) Problem {
	s := Speaker{words}
	field := e.Input.Name
	if key := "reckon.input." + field; s.Has(key) {
		field = s.Say(key)
	}
	return Problem{422, e.Code, e.Input.Name, s.Say("reckon.says", "what", upperFirst(field), "value", s.InputFault(e))}
}
