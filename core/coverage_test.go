package core_test

import (
	"bytes"
	"flag"
	"fmt"
	"os"
	"reflect"
	"slices"
	"strings"
	"testing"

	"chinlift/core/term"
	"chinlift/core/timeline"
	"chinlift/core/visit"
)

var updateCoverage = flag.Bool("update", false, "write docs/record-standards.md anew from core/visit/coverage.toml")

const coverageDoc = "../docs/record-standards.md"

// TestCoverage holds core/visit/coverage.toml against the events there are:
// every item is held by an event, what it says is held has a place, what it
// says is missing has none, and the document made of it is up to date.
func TestCoverage(t *testing.T) {
	c, err := visit.RecordCoverage()
	if err != nil {
		t.Fatal(err)
	}
	for _, it := range c.Items {
		if len(it.Held) == 0 {
			t.Errorf("%s: no event holds it", it.Code)
		}
		for _, p := range it.Held {
			if why := absent(p); why != "" {
				t.Errorf("%s: %s is said to be held, but %s", it.Code, p, why)
			}
		}
		for _, p := range it.Missing {
			if absent(p) == "" {
				t.Errorf("%s: %s is there now: move it from missing to held", it.Code, p)
			}
		}
	}
	want := coverageMarkdown(c)
	if *updateCoverage {
		if err := os.MkdirAll("../docs", 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(coverageDoc, want, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	got, err := os.ReadFile(coverageDoc)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(got, want) {
		t.Errorf("%s is not what core/visit/coverage.toml says; go test ./core -run TestCoverage -update writes it anew", coverageDoc)
	}
}

// absent says why there is no such place, or "".
func absent(p visit.Place) string {
	s := string(p)
	if field, ok := strings.CutPrefix(s, "envelope."); ok {
		if _, ok := fieldTypes(reflect.TypeFor[timeline.Event]())[field]; !ok {
			return "no event has " + field + " in its envelope"
		}
		return ""
	}
	kind, rest := s, ""
	if i := strings.IndexAny(s, ".:"); i >= 0 {
		kind, rest = s[:i], s[i:]
	}
	if !slices.Contains(timeline.Kinds(), timeline.Kind(kind)) {
		return "there is no kind " + kind
	}
	if part, ok := strings.CutPrefix(rest, ":"); ok {
		if !slices.Contains([]string{timeline.PrivateName, timeline.PrivateNumber, timeline.PrivateText}, part) {
			return "nothing called " + part + " is kept apart"
		}
		return ""
	}
	if rest == "" {
		return ""
	}
	field, code, coded := strings.Cut(rest[1:], "=")
	of, ok := fieldTypes(reflect.TypeOf(timeline.Blank(timeline.Kind(kind).Name())).Elem())[field]
	if !ok {
		return kind + " has no field " + field
	}
	if !coded {
		return ""
	}
	if of.Kind() == reflect.Slice {
		of = of.Elem()
	}
	codes, ok := codesOf[of]
	if !ok {
		return "the test does not know the codes of " + of.String()
	}
	if !slices.Contains(codes, code) {
		return of.String() + " has no code " + code
	}
	return ""
}

// fieldTypes returns the fields of a struct by their JSON names.
func fieldTypes(of reflect.Type) map[string]reflect.Type {
	types := map[string]reflect.Type{}
	for i := range of.NumField() {
		f := of.Field(i)
		if f.Anonymous {
			for name, ft := range fieldTypes(f.Type) {
				types[name] = ft
			}
		} else if name, _, _ := strings.Cut(f.Tag.Get("json"), ","); name != "" {
			types[name] = f.Type
		}
	}
	return types
}

// codesOf has the lists whose codes the table names.
var codesOf = map[reflect.Type][]string{
	reflect.TypeFor[term.Attached]():   codeStrings(term.AttachedList),
	reflect.TypeFor[term.Condition]():  codeStrings(term.ConditionList),
	reflect.TypeFor[term.PressureBy](): codeStrings(term.PressureByList),
	reflect.TypeFor[term.Warning]():    codeStrings(term.WarningList),
	reflect.TypeFor[term.FluidOut]():   codeStrings(term.FluidOutList),
	reflect.TypeFor[term.Phase]():      codeStrings(term.PhaseList),
	reflect.TypeFor[term.Role]():       codeStrings(term.RoleList),
	reflect.TypeFor[term.Setting]():    codeStrings(term.SettingList),
	reflect.TypeFor[term.Step]():       codeStrings(term.StepList),
	reflect.TypeFor[term.Trouble]():    codeStrings(term.TroubleList),
}

func codeStrings[C ~string](l *term.List[C]) (all []string) {
	for _, c := range l.Codes() {
		all = append(all, string(c))
	}
	return all
}

// A test that finds every place there is worth nothing if it finds any place
// there.
func TestAbsentFindsFaults(t *testing.T) {
	for p, want := range map[visit.Place]string{
		"vitals/1.systolic": "", "vitals/2.systolic": "no kind", "vitals/1.mood": "no field", "mood/1.good": "no kind",
		"person/1:name": "", "person/1:nickname": "kept apart", "case-closed/1": "", "envelope.author": "", "envelope.mood": "envelope",
		"phase/1.phase=handed-over": "", "phase/1.phase=lunch": "no code", "facts/1.with=alcohol": "", "facts/1.age=old": "does not know",
		"baseline/1.pulse": "",
	} {
		if got := absent(p); (got == "") != (want == "") || !strings.Contains(got, want) {
			t.Errorf("%s: %q, want %q", p, got, want)
		}
	}
}

// coverageMarkdown makes the document of the table.
func coverageMarkdown(c *visit.Coverage) []byte {
	var b bytes.Buffer
	held, part, none := 0, 0, 0
	for _, it := range c.Items {
		switch {
		case len(it.Missing) == 0:
			held++
		case len(it.Held) > 0:
			part++
		default:
			none++
		}
	}
	fmt.Fprintf(&b, `# What standards ask of the record, and where it is held

Made of core/visit/coverage.toml by `+"`go test ./core -run TestCoverage -update`"+`. The test fails when a place that is named here is not there, when a place that is missing has come into being, and when this page is out of date.

Of %d items %d are held, %d in part, %d not. A place is kind/version.field; kind/version.field=code where only that code is meant; kind/version:part for what is kept apart because it may name somebody; envelope.field for what every event has. Under "not held" stands the place that it should have.

A star says that it is from memory that a standard asks for an item; the others were read in it or in a copy.

`, len(c.Items), held, part, none)
	for _, s := range c.Standards {
		fmt.Fprintf(&b, "- **%s**: %s.\n", s.Name, strings.TrimSuffix(s.Source, "."))
	}
	titles := map[string]string{visit.Whole: "The whole record", visit.Before: "Before the anaesthetic", visit.During: "During it", visit.After: "After it"}
	places := func(ps []visit.Place) string {
		var s []string
		for _, p := range ps {
			s = append(s, "`"+string(p)+"`")
		}
		return strings.Join(s, ", ")
	}
	for _, phase := range []string{visit.Whole, visit.Before, visit.During, visit.After} {
		fmt.Fprintf(&b, "\n## %s\n\n| what | asked by | held | not held |\n|---|---|---|---|\n", titles[phase])
		for _, it := range c.Items {
			if it.Phase != phase {
				continue
			}
			var asked []string
			for _, s := range c.Standards {
				switch it.Asked[s.Code] {
				case term.MarkRead:
					asked = append(asked, s.Name)
				case term.MarkMemory:
					asked = append(asked, s.Name+"*")
				}
			}
			what := it.What
			if it.Note != "" {
				what += ". " + it.Note
			}
			fmt.Fprintf(&b, "| %s | %s | %s | %s |\n", what, strings.Join(asked, ", "), places(it.Held), places(it.Missing))
		}
	}
	return b.Bytes()
}
