package trouble

import (
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"github.com/BurntSushi/toml"

	"chinlift/core/quantity"
	"chinlift/core/term"
)

// What a file may be at most: a card that is longer is none (house choice).
const (
	maxBytes = 32 << 10
	maxLines = 1000
	maxText  = 400 // characters of one text
	maxCode  = 60
	maxSteps = 20
)

// FileError says where a card's file is at fault.
type FileError struct {
	File  string // with its ending
	Line  int    // from 1; 0 where the whole file is meant
	Step  string // code or place of the step, where one is meant
	Fault string // what is wrong, for whoever edits the file
}

func (e *FileError) Error() string {
	s := e.File
	if e.Line > 0 {
		s += fmt.Sprintf(":%d", e.Line)
	}
	if e.Step != "" {
		s += ": step " + e.Step
	}
	return s + ": " + e.Fault
}

// file is a card as it is written.
type file struct {
	Trouble  term.Trouble      `toml:"trouble"`
	Group    Group             `toml:"group"`
	Name     Text              `toml:"name"`
	Look     Text              `toml:"look"`
	Caution  Text              `toml:"caution"`
	Age      []string          `toml:"age"`
	Pregnant bool              `toml:"pregnant"`
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
	p := &parser{name: code + ".toml", data: data}
	if !codeOK(code) {
		return nil, &FileError{File: p.name, Fault: "the file's name is not lower case letters, digits and hyphens"}
	}
	if len(data) > maxBytes || bytes.Count(data, []byte("\n")) > maxLines {
		return nil, &FileError{File: p.name, Fault: fmt.Sprintf("longer than %d bytes or %d lines", maxBytes, maxLines)}
	}
	f, err := decode(data)
	var syntax toml.ParseError
	switch {
	case errors.As(err, &syntax):
		return nil, &FileError{File: p.name, Line: syntax.Position.Line, Fault: syntax.Message}
	case err != nil:
		return nil, p.mistyped(err)
	}
	c := &Card{Code: code, Trouble: f.Trouble, Group: f.Group, Name: f.Name, Look: f.Look, Caution: f.Caution, Pregnant: f.Pregnant, Sources: f.Sources}
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

type parser struct {
	name string
	data []byte
}

// head looks at what stands above the steps.
func (p *parser) head(f *file, c *Card) error {
	fail := func(has func(*file) bool, format string, args ...any) error {
		return &FileError{File: p.name, Line: p.line(has), Fault: fmt.Sprintf(format, args...)}
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
		if bad := badText(t.of(f)); bad != "" {
			return fail(func(g *file) bool { return badText(t.of(g)) == bad }, "%s %s", t.name, bad)
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
		case cmp.Or(badLine(s.Author), badLine(s.Title), badLine(s.Table), badLine(s.Via)) != "":
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
func (p *parser) step(f *file, i int, s fileStep) (Step, error) {
	name := s.Code
	if name == "" {
		name = fmt.Sprint(i + 1)
	}
	fail := func(has func(fileStep) bool, format string, args ...any) (Step, error) {
		line := p.line(func(g *file) bool { return len(g.Steps) > i && has(g.Steps[i]) })
		return Step{}, &FileError{File: p.name, Line: line, Step: name, Fault: fmt.Sprintf(format, args...)}
	}
	there := func(fileStep) bool { return true }
	step := Step{Code: s.Code, Text: s.Text, When: s.When, Unless: s.Unless, Helper: s.Helper, Clock: s.Clock, Most: s.Most, To: s.To, Source: s.Source}
	switch {
	case !codeOK(s.Code):
		return fail(func(t fileStep) bool { return t.Code == s.Code }, "code %q is not lower case letters, digits and hyphens", s.Code)
	case slices.ContainsFunc(f.Steps[:i], func(o fileStep) bool { return o.Code == s.Code }):
		return fail(func(t fileStep) bool { return t.Code == s.Code }, "stands twice")
	case badText(s.Text) != "":
		return fail(func(t fileStep) bool { return badText(t.Text) == badText(s.Text) }, "text %s", badText(s.Text))
	case s.Text["en"] == "":
		return fail(there, "text in English is missing")
	case f.Sources[s.Source].Title == "":
		return fail(func(t fileStep) bool { return t.Source == s.Source }, "source %q is not in the file", s.Source)
	case s.Most < 0 || s.Most > 20:
		return fail(func(t fileStep) bool { return t.Most == s.Most }, "most %d", s.Most)
	case s.To != "" && !codeOK(s.To):
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
		if err != nil || !codeOK(k) {
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
		case !codeOK(d.Drug) || !codeOK(d.Use):
			return fail(here, "drug %d: drug and use are codes", j+1)
		case d.Kit != "" && !codeOK(d.Kit):
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
	return ok && codeOK(drug) || slices.Contains(facts, f)
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

// mistyped is for a file that is TOML and yet no card: a key that is not known,
// or a value of another type. The decoder does not always tell the line, so
// that the shortest beginning with a fault is looked for.
func (p *parser) mistyped(err error) error {
	line := 0
	for n, part := range p.beginnings() {
		var syntax toml.ParseError
		if _, e := decode(part); e != nil && !errors.As(e, &syntax) {
			line, err = n, e
			break
		}
	}
	text := err.Error()
	if _, after, ok := strings.Cut(text, "): "); ok && strings.HasPrefix(text, "toml: line ") {
		_, key, _ := strings.Cut(text, `(last key "`)
		key, _, _ = strings.Cut(key, `")`)
		text = key + ": " + after
	}
	return &FileError{File: p.name, Line: line, Fault: text}
}

// line gives the first line by which the file has what is asked for, or 0.
func (p *parser) line(has func(*file) bool) int {
	for n, part := range p.beginnings() {
		if f, err := decode(part); err == nil && has(f) {
			return n
		}
	}
	return 0
}

// beginnings gives what the file begins with, longer by a line each time, and
// the number of that line. It is slow, and only for errors.
func (p *parser) beginnings() func(yield func(int, []byte) bool) {
	return func(yield func(int, []byte) bool) {
		n, end := 0, 0
		for line := range bytes.Lines(p.data) {
			n, end = n+1, end+len(line)
			if len(bytes.TrimSpace(line)) > 0 && !yield(n, p.data[:end]) {
				return
			}
		}
	}
}

// decode reads a file; a key that is not known is an error.
func decode(data []byte) (*file, error) {
	f := &file{}
	md, err := toml.NewDecoder(bytes.NewReader(data)).Decode(f)
	if err != nil {
		return nil, err
	}
	if un := md.Undecoded(); len(un) > 0 {
		return nil, fmt.Errorf("key %q is not known", un[0].String())
	}
	return f, nil
}

func codeOK(s string) bool {
	for _, c := range s {
		if (c < 'a' || c > 'z') && (c < '0' || c > '9') && c != '-' {
			return false
		}
	}
	return s != "" && len(s) <= maxCode
}

// badText says what is wrong with a text in one of its languages, or "".
func badText(t Text) string {
	for _, tag := range slices.Sorted(maps.Keys(t)) {
		if !tagOK(tag) {
			return fmt.Sprintf("has %q for a language", tag)
		}
		if t[tag] == "" {
			return "in " + tag + " is empty"
		}
		if bad := badLine(t[tag]); bad != "" {
			return "in " + tag + " " + bad
		}
	}
	return ""
}

// badLine says what is wrong with a line of text, or "".
func badLine(s string) string {
	if utf8.RuneCountInString(s) > maxText {
		return fmt.Sprintf("is longer than %d characters", maxText)
	}
	if !utf8.ValidString(s) || strings.ContainsFunc(s, unicode.IsControl) {
		return "is not one plain line"
	}
	if strings.TrimSpace(s) != s {
		return "begins or ends with space"
	}
	return ""
}

// tagOK reports whether s looks like a language tag (BCP 47): en, fr-CD.
func tagOK(s string) bool {
	for _, c := range s {
		if (c < 'a' || c > 'z') && (c < 'A' || c > 'Z') && (c < '0' || c > '9') && c != '-' {
			return false
		}
	}
	return s != "" && len(s) <= 35
}
