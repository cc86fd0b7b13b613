package trouble

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strings"

	"chinlift/core/quantity"
	"chinlift/core/rulefile"
	"chinlift/core/term"
)

// What a file may be at most: a card that is longer is none (house choice).
const (
	maxBytes = 32 << 10
	maxLines = 1000
	maxText  = 400 // characters of one text
	maxSteps = 20
)

// FileError says where a card's file is at fault, and in which step.
type FileError rulefile.Fault

func (e *FileError) Error() string { return (*rulefile.Fault)(e).String() }

// file is a card as it is written.
type file struct {
	Trouble  term.Trouble      `toml:"trouble"`
	Group    Group             `toml:"group"`
	Name     Text              `toml:"name"`
	Look     Text              `toml:"look"`
	Caution  Text              `toml:"caution"`
	Age      []string          `toml:"age"`
	Pregnant bool              `toml:"pregnant"`
	Strict   bool              `toml:"strict"`
	Sources  map[string]Source `toml:"source"`
	Steps    []fileStep        `toml:"step"`
}

type fileStep struct {
	Code   string            `toml:"code"`
	Text   Text              `toml:"text"`
	Values map[string]string `toml:"values"`
	When   []Fact            `toml:"when"`
	Unless []Fact            `toml:"unless"`
	Helper bool              `toml:"helper"`
	Every  string            `toml:"every"`
	Clock  bool              `toml:"clock"`
	Most   int               `toml:"most"`
	Source string            `toml:"source"`
	To     string            `toml:"to"`
	Drugs  []fileDrug        `toml:"drug"`
}

type fileDrug struct {
	Drug   string       `toml:"drug"`
	Use    string       `toml:"use"`
	Routes []term.Route `toml:"routes"`
	Kit    string       `toml:"kit"`
}

// Parse reads a card. What is not known, lacks its source or its English text,
// has a number in a text, stands twice or contradicts itself is refused by a
// *FileError with file and line. Whether the formulary has a drug and its use
// is for the caller to see.
func Parse(code string, data []byte) (*Card, error) {
	whole, f, fault := rulefile.Read[file](code, data, rulefile.Limits{Bytes: maxBytes, Lines: maxLines})
	if fault != nil {
		return nil, (*FileError)(fault)
	}
	p := parser{whole}
	c := &Card{Code: code, Trouble: f.Trouble, Group: f.Group, Name: f.Name, Look: f.Look, Caution: f.Caution, Pregnant: f.Pregnant, Strict: f.Strict, Sources: f.Sources}
	if err := p.head(f, c); err != nil {
		return nil, err
	}
	for i, s := range f.Steps {
		step, err := p.step(f, i, s)
		if err != nil {
			return nil, err
		}
		c.Steps = append(c.Steps, step)
	}
	return c, nil
}

type parser struct{ rulefile.File[file] }

// head looks at what stands above the steps.
func (p parser) head(f *file, c *Card) error {
	fail := func(has func(*file) bool, format string, args ...any) error {
		return &FileError{File: p.Name, Line: p.Line(has), Fault: fmt.Sprintf(format, args...)}
	}
	whole := func(*file) bool { return false }
	if !term.TroubleList.Has(f.Trouble) {
		return fail(func(g *file) bool { return g.Trouble == f.Trouble && f.Trouble != "" }, "trouble %q is none", f.Trouble)
	}
	if !slices.Contains(Groups, f.Group) {
		return fail(func(g *file) bool { return g.Group == f.Group && f.Group != "" }, "group %q is none", f.Group)
	}
	for _, t := range []struct {
		name string
		of   func(*file) Text
	}{{"name", func(f *file) Text { return f.Name }}, {"look", func(f *file) Text { return f.Look }}, {"caution", func(f *file) Text { return f.Caution }}} {
		if bad := t.of(f).Bad(maxText); bad != "" {
			return fail(func(g *file) bool { return t.of(g).Bad(maxText) == bad }, "%s %s", t.name, bad)
		}
		if t.of(f)["en"] == "" {
			return fail(whole, "%s in English is missing", t.name)
		}
		if strings.ContainsAny(t.of(f)["en"], "{}0123456789") {
			return fail(func(g *file) bool { return t.of(g)["en"] == t.of(f)["en"] }, "%s: numbers stand beside a step", t.name)
		}
	}
	if len(f.Age) > 0 {
		here := func(g *file) bool { return slices.Equal(g.Age, f.Age) }
		if len(f.Age) != 2 {
			return fail(here, "age is from and to")
		}
		for i, text := range f.Age {
			a, err := quantity.Parse(text)
			if err != nil || a.Unit.Dimension() != quantity.Duration || a.Value.Sign() < 0 {
				return fail(here, "age: %q is none", text)
			}
			c.Age[i] = a
		}
		if n, err := c.Age[0].Cmp(c.Age[1]); err != nil || n >= 0 {
			return fail(here, "age: from lies behind to")
		}
		if f.Pregnant {
			return fail(here, "age beside pregnant")
		}
	}
	if f.Strict && len(f.Age) == 0 {
		return fail(func(g *file) bool { return g.Strict }, "strict without an age")
	}
	for _, name := range slices.Sorted(maps.Keys(f.Sources)) {
		s := f.Sources[name]
		here := func(g *file) bool { return g.Sources[name] == s }
		switch {
		case s.Title == "":
			return fail(here, "source %s has no title", name)
		case !term.MarkList.Has(s.Mark):
			return fail(here, "source %s: mark %q is not read, practice or memory", name, s.Mark)
		case s.Year != 0 && (s.Year < 1800 || s.Year > 2200):
			return fail(here, "source %s: year %d", name, s.Year)
		case cmp.Or(rulefile.BadLine(s.Author, maxText), rulefile.BadLine(s.Title, maxText), rulefile.BadLine(s.Table, maxText), rulefile.BadLine(s.Via, maxText)) != "":
			return fail(here, "source %s is not plain lines", name)
		case !slices.ContainsFunc(f.Steps, func(st fileStep) bool { return st.Source == name }):
			return fail(here, "source %s is that of no step", name)
		}
	}
	switch {
	case len(f.Steps) == 0:
		return fail(whole, "there is no step")
	case len(f.Steps) > maxSteps:
		return fail(func(g *file) bool { return len(g.Steps) > maxSteps }, "more than %d steps: nobody reads them", maxSteps)
	}
	return nil
}

// step looks at one step.
func (p parser) step(f *file, i int, s fileStep) (Step, error) {
	name := s.Code
	if name == "" {
		name = fmt.Sprint(i + 1)
	}
	fail := func(has func(fileStep) bool, format string, args ...any) (Step, error) {
		line := p.Line(func(g *file) bool { return len(g.Steps) > i && has(g.Steps[i]) })
		return Step{}, &FileError{File: p.Name, Line: line, Within: "step " + name, Fault: fmt.Sprintf(format, args...)}
	}
	there := func(fileStep) bool { return true }
	step := Step{Code: s.Code, Text: s.Text, When: s.When, Unless: s.Unless, Helper: s.Helper, Clock: s.Clock, Most: s.Most, To: s.To, Source: s.Source}
	switch {
	case !rulefile.CodeOK(s.Code):
		return fail(func(t fileStep) bool { return t.Code == s.Code }, "code %q is not lower case letters, digits and hyphens", s.Code)
	case slices.ContainsFunc(f.Steps[:i], func(o fileStep) bool { return o.Code == s.Code }):
		return fail(func(t fileStep) bool { return t.Code == s.Code }, "stands twice")
	case s.Text.Bad(maxText) != "":
		return fail(func(t fileStep) bool { return t.Text.Bad(maxText) == s.Text.Bad(maxText) }, "text %s", s.Text.Bad(maxText))
	case s.Text["en"] == "":
		return fail(there, "text in English is missing")
	case f.Sources[s.Source].Title == "":
		return fail(func(t fileStep) bool { return t.Source == s.Source }, "source %q is not in the file", s.Source)
	case s.Most < 0 || s.Most > 20:
		return fail(func(t fileStep) bool { return t.Most == s.Most }, "most %d", s.Most)
	case s.To != "" && !rulefile.CodeOK(s.To):
		return fail(func(t fileStep) bool { return t.To == s.To }, "to %q is no code of a card", s.To)
	case s.Clock && s.Every == "":
		return fail(func(t fileStep) bool { return t.Clock }, "clock without every")
	}
	if s.Every != "" {
		a, err := quantity.Parse(s.Every)
		if err == nil {
			err = bounded(a, "10 s", "24 h")
		}
		if err != nil {
			return fail(func(t fileStep) bool { return t.Every == s.Every }, "every %q: %v", s.Every, err)
		}
		step.Every = a
	}
	for _, x := range slices.Concat(s.When, s.Unless) {
		if !x.known() {
			return fail(func(t fileStep) bool { return slices.Contains(slices.Concat(t.When, t.Unless), x) }, "%q is nothing that a step hangs on", x)
		}
		if slices.Contains(s.When, x) && slices.Contains(s.Unless, x) {
			return fail(func(t fileStep) bool { return slices.Contains(t.When, x) && slices.Contains(t.Unless, x) }, "hangs on %q both ways", x)
		}
	}
	for _, k := range slices.Sorted(maps.Keys(s.Values)) {
		a, err := quantity.Parse(s.Values[k])
		if err != nil || !rulefile.CodeOK(k) {
			return fail(func(t fileStep) bool { return t.Values[k] == s.Values[k] }, "value %s: %q is no amount", k, s.Values[k])
		}
		if step.Values == nil {
			step.Values = map[string]quantity.Amount{}
		}
		step.Values[k] = a
	}
	for _, tag := range slices.Sorted(maps.Keys(s.Text)) {
		if bad := badPlaces(s.Text[tag], step.Values); bad != "" {
			return fail(func(t fileStep) bool { return t.Text[tag] == s.Text[tag] }, "text in %s %s", tag, bad)
		}
	}
	for j, d := range s.Drugs {
		here := func(t fileStep) bool { return len(t.Drugs) > j }
		switch {
		case !rulefile.CodeOK(d.Drug) || !rulefile.CodeOK(d.Use):
			return fail(here, "drug %d: drug and use are codes", j+1)
		case d.Kit != "" && !rulefile.CodeOK(d.Kit):
			return fail(here, "%s: kit %q is no code", d.Drug, d.Kit)
		case len(d.Routes) == 0:
			return fail(here, "%s: no route", d.Drug)
		case slices.ContainsFunc(s.Drugs[:j], func(o fileDrug) bool { return o.Drug == d.Drug && o.Use == d.Use }):
			return fail(here, "%s %s stands twice", d.Drug, d.Use)
		}
		for k, r := range d.Routes {
			if !term.RouteList.Has(r) || slices.Contains(d.Routes[:k], r) {
				return fail(here, "%s: route %q", d.Drug, r)
			}
		}
		step.Drugs = append(step.Drugs, Drug(d))
	}
	return step, nil
}

func (f Fact) known() bool {
	drug, ok := strings.CutPrefix(string(f), drugFact)
	return ok && rulefile.CodeOK(drug) || slices.Contains(facts, f)
}

func bounded(a quantity.Amount, low, high string) error {
	ok, err := a.Between(quantity.MustParse(low), quantity.MustParse(high))
	if err == nil && !ok {
		err = fmt.Errorf("want %s to %s", low, high)
	}
	return err
}

// badPlaces says what is wrong with the places for values in a text, or "".
func badPlaces(s string, values map[string]quantity.Amount) string {
	var named []string
	rest := s
	for {
		before, after, ok := strings.Cut(rest, "{")
		if strings.ContainsAny(before, "}0123456789") {
			return "has a number, or a loose brace; numbers stand in values"
		}
		if !ok {
			break
		}
		name, tail, ok := strings.Cut(after, "}")
		if _, have := values[name]; !ok || !have {
			return fmt.Sprintf("has a place %q for no value", name)
		}
		named, rest = append(named, name), tail
	}
	for k := range values {
		if !slices.Contains(named, k) {
			return fmt.Sprintf("has no place for the value %q", k)
		}
	}
	return ""
}
