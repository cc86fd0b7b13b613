package visit

import (
	_ "embed"
	"fmt"
	"regexp"
	"slices"

	"chinlift/core/rulefile"
	"chinlift/core/term"
)

//go:embed coverage.toml
var coverageFile []byte

// Coverage says where a record holds what published standards ask of it.
type Coverage struct {
	Standards []Standard
	Items     []Covered
}

// Standard is one published standard for the record of an anaesthetic.
type Standard struct {
	Code   string `toml:"code"`
	Name   string `toml:"name"`
	Source string `toml:"source"`
}

// Covered is one thing that a record should hold. The table names places and
// not values, so that it can be held against a case: what is empty there is not
// recorded.
type Covered struct {
	Code  string               `toml:"code"`
	Phase string               `toml:"phase"` // whole, before, during or after
	What  string               `toml:"what"`
	Asked map[string]term.Mark `toml:"asked"` // by which standards, and how sure that is
	Held  []Place              `toml:"held"`
	// Missing are the places that would hold what no event does yet. An item may
	// have both: part of it is held.
	Missing []Place `toml:"missing"`
	Note    string  `toml:"note"`
}

// Place is an event, "case-closed/1"; a field of one, "vitals/1.systolic"; a
// field with the code that it must have, "phase/1.phase=handed-over"; a part of
// an event that is kept apart because it may name somebody, "person/1:name"; or
// a part of every event's envelope, "envelope.author".
type Place string

// Phases of an item, in order.
const (
	Whole  = "whole"
	Before = "before"
	During = "during"
	After  = "after"
)

var (
	phases     = []string{Whole, Before, During, After}
	placeForm  = regexp.MustCompile(`^(envelope\.[a-z_]+|[a-z]+(-[a-z]+)*/[1-9](\.[a-z0-9_]+(=[a-z0-9-]+)?|:[a-z]+)?)$`)
	brokenLine = regexp.MustCompile(`[|\n\r]`)
)

// ParseCoverage reads the table. Unknown keys, an item that no standard asks
// for or that is neither held nor missing, a place that is none, and a code
// that stands twice are refused, with the item's code. Whether a kind and a
// field exist it does not know.
func ParseCoverage(data []byte) (*Coverage, error) {
	var file struct {
		Standards []Standard `toml:"standard"`
		Items     []Covered  `toml:"item"`
	}
	fail := func(format string, args ...any) (*Coverage, error) {
		return nil, fmt.Errorf("coverage: "+format, args...)
	}
	if err := rulefile.Decode(data, &file); err != nil {
		return fail("%w", err)
	}
	if len(file.Items) == 0 {
		return fail("there is no item")
	}
	known := map[string]bool{}
	for i, s := range file.Standards {
		switch {
		case !rulefile.CodeOK(s.Code):
			return fail("standard %d: code %q is not lower case letters, digits and hyphens", i+1, s.Code)
		case known[s.Code]:
			return fail("standard %s stands twice", s.Code)
		case s.Name == "" || s.Source == "":
			return fail("standard %s: name or source is missing", s.Code)
		}
		known[s.Code] = true
	}
	for i, it := range file.Items {
		switch {
		case !rulefile.CodeOK(it.Code):
			return fail("item %d: code %q is not lower case letters, digits and hyphens", i+1, it.Code)
		case slices.ContainsFunc(file.Items[:i], func(o Covered) bool { return o.Code == it.Code }):
			return fail("item %s stands twice", it.Code)
		case !slices.Contains(phases, it.Phase):
			return fail("item %s: phase %q is none", it.Code, it.Phase)
		case it.What == "" || brokenLine.MatchString(it.What+it.Note):
			return fail("item %s: what is missing, or a text is not one plain line", it.Code)
		case len(it.Asked) == 0:
			return fail("item %s: no standard asks for it", it.Code)
		case len(it.Held)+len(it.Missing) == 0:
			return fail("item %s is neither held nor missing", it.Code)
		}
		for standard, mark := range it.Asked {
			switch {
			case !known[standard]:
				return fail("item %s: standard %q is not in the table", it.Code, standard)
			case mark != term.MarkRead && mark != term.MarkMemory:
				return fail("item %s: mark %q of %s is not read or memory", it.Code, mark, standard)
			}
		}
		for _, p := range slices.Concat(it.Held, it.Missing) {
			if !placeForm.MatchString(string(p)) {
				return fail("item %s: %q is no place", it.Code, p)
			}
		}
	}
	return &Coverage{file.Standards, file.Items}, nil
}

// RecordCoverage gives the table that comes with the companion.
func RecordCoverage() (*Coverage, error) { return ParseCoverage(coverageFile) }
