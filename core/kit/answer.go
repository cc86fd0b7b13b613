package kit

import (
	"fmt"
	"slices"

	"chinlift/core/quantity"
	"chinlift/core/term"
)

// Answer is what a reckoning gives.
type Answer struct {
	Value     quantity.Amount
	Low, High quantity.Amount // the range, where there is one; plan by its unfavourable end
	Cautions  []Caution
	Sources   []Source
}

// Source says where a number is published.
type Source struct {
	Author, Title string
	Year          int    // 0 where it is not known, or where there is no source
	Table         string // table, page or formula
	Via           string // what was read, where it was not the source itself
	Mark          term.Mark
}

// Caution is the code of what to beware of.
type Caution string

// The codes of an Error.
const (
	Missing     = "missing"      // the field is needed
	TooLow      = "too-low"      // cannot be, or no rule takes it
	TooHigh     = "too-high"     //
	WrongUnit   = "wrong-unit"   // of another dimension
	UnknownCode = "unknown-code" // not in the list of codes
	NotReadable = "not-readable" // no day, no whole line, no code
	NoRule      = "no-rule"      // a true value that no rule here covers
	Contradicts = "contradicts"  // cannot be together with another field
	Twice       = "twice"        // stands already
	NotInList   = "not-in-list"  // the list has no such item
	LastItem    = "last-item"    // a list has at least one
)

// Error says which field was at fault. Where there are limits they are in Low
// and High. Fields of one among several carry its place, from 0: uses[2].
type Error struct {
	Field     string
	Code      string
	Given     string
	Low, High string
}

func (e *Error) Error() string {
	s := "kit: " + e.Field + ": " + e.Code
	if e.Given != "" {
		s += fmt.Sprintf(" (%.60s)", e.Given)
	}
	switch {
	case e.High != "":
		s += fmt.Sprintf(", want %s to %s", e.Low, e.High)
	case e.Low != "":
		s += ", want at least " + e.Low
	}
	return s
}

func (a *Answer) beware(list ...Caution) {
	for _, c := range list {
		if !slices.Contains(a.Cautions, c) {
			a.Cautions = append(a.Cautions, c)
		}
	}
}

func (a *Answer) cite(list ...Source) {
	for _, s := range list {
		if s != (Source{}) && !slices.Contains(a.Sources, s) {
			a.Sources = append(a.Sources, s)
		}
	}
}
