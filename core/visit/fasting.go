package visit

import (
	"embed"
	"fmt"
	"slices"

	"chinlift/core/exact"
	"chinlift/core/patient"
	"chinlift/core/quantity"
	"chinlift/core/rulefile"
	"chinlift/core/term"
)

//go:embed fasting/*.toml
var fastingFiles embed.FS

// Set is one set of fasting intervals, by one guideline or one custom.
type Set struct {
	Code    string // the file's name without its ending
	Version string // SHA-256 of the file, in hexadecimal
	Name    Text
	// NeedsConfirmation says that no source stands behind the set. It holds
	// only where somebody at the clinic confirmed this version of it.
	NeedsConfirmation bool
	Intervals         []Interval
}

// Interval is the least time from an intake to the start.
type Interval struct {
	Intake      term.Intake
	Needs       quantity.Amount // h, 0.5 to 24
	From, Under quantity.Amount // ages that it is for; absent: no bound
	Source      patient.Source
}

// Text is a text by language tag; English is always there.
type Text = rulefile.Text

// tomlSource is a source as it stands in a rule file; its mark stands with
// each number, since one source may be read in part.
type tomlSource struct {
	Author string `toml:"author"`
	Title  string `toml:"title"`
	Year   int    `toml:"year"`
	Table  string `toml:"table"`
	Via    string `toml:"via"`
}

func (s tomlSource) marked(m term.Mark) patient.Source {
	return patient.Source{Author: s.Author, Title: s.Title, Year: s.Year, Table: s.Table, Via: s.Via, Mark: m}
}

// ParseSet reads a set. Unknown keys, an interval without a source, an intake
// that no record can hold, two intervals for one intake and age, and a set
// that rests on practice alone and does not ask to be confirmed are refused,
// with the intake.
func ParseSet(code string, data []byte) (*Set, error) {
	var file struct {
		Name              Text                  `toml:"name"`
		NeedsConfirmation bool                  `toml:"needs_confirmation"`
		Sources           map[string]tomlSource `toml:"source"`
		Intervals         []struct {
			Intake term.Intake     `toml:"intake"`
			Needs  quantity.Amount `toml:"needs"`
			From   quantity.Amount `toml:"from"`
			Under  quantity.Amount `toml:"under"`
			Source string          `toml:"source"`
			Mark   term.Mark       `toml:"mark"`
		} `toml:"interval"`
	}
	fail := func(format string, args ...any) (*Set, error) {
		return nil, fmt.Errorf("fasting set %s: "+format, append([]any{code}, args...)...)
	}
	if err := rulefile.Decode(data, &file); err != nil {
		return fail("%w", err)
	}
	if !rulefile.CodeOK(code) {
		return fail("the code is not lower case letters, digits and hyphens")
	}
	if file.Name["en"] == "" {
		return fail("the name in English is missing")
	}
	if len(file.Intervals) == 0 {
		return fail("there is no interval")
	}
	s := &Set{Code: code, Version: rulefile.Version(data), Name: file.Name, NeedsConfirmation: file.NeedsConfirmation}
	for _, f := range file.Intervals {
		source, ok := file.Sources[f.Source]
		switch {
		case !term.IntakeList.Has(f.Intake) || f.Intake == term.IntakeUnknown:
			return fail("intake %q is not one that has an interval", f.Intake)
		case !ok || source.Title == "":
			return fail("%s has no source with a title", f.Intake)
		case !term.MarkList.Has(f.Mark):
			return fail("%s: mark %q is not read, practice or memory", f.Intake, f.Mark)
		case f.Mark == term.MarkPractice && !file.NeedsConfirmation:
			return fail("%s is common practice: the set must say needs_confirmation = true", f.Intake)
		}
		if _, err := patient.Read("needs", f.Needs, quantity.Hour, "0.5", "24"); err != nil {
			return fail("%s: %w", f.Intake, err)
		}
		from, err := years(f.From)
		if err != nil {
			return fail("%s: %w", f.Intake, err)
		}
		under, err := years(f.Under)
		if err != nil {
			return fail("%s: %w", f.Intake, err)
		}
		if from != nil && under != nil && from.Cmp(under) >= 0 {
			return fail("%s: from %s under %s is nobody", f.Intake, f.From, f.Under)
		}
		i := Interval{Intake: f.Intake, Needs: f.Needs, From: f.From, Under: f.Under, Source: source.marked(f.Mark)}
		if slices.ContainsFunc(s.Intervals, i.overlaps) {
			return fail("%s stands twice for one age", f.Intake)
		}
		s.Intervals = append(s.Intervals, i)
	}
	return s, nil
}

// Sets gives the sets that come with the companion, by name of file.
func Sets() ([]*Set, error) { return rulefile.Folder(fastingFiles, "fasting", ParseSet) }

// bounds gives the ages in years; nil where there is no bound.
func (i Interval) bounds() (from, under *exact.Number) {
	age := func(a quantity.Amount) *exact.Number {
		y, err := years(a)
		if err != nil {
			panic("visit: " + err.Error()) // ParseSet has read it
		}
		return y
	}
	return age(i.From), age(i.Under)
}

func (i Interval) hours() *exact.Number {
	h, err := patient.Read("needs", i.Needs, quantity.Hour, "0.5", "24")
	if err != nil {
		panic("visit: " + err.Error()) // ParseSet has read it
	}
	return h
}

// covers reports whether an interval is for an age in years. For an age that
// is not known it is where it has no bound.
func (i Interval) covers(age *exact.Number) bool {
	from, under := i.bounds()
	if age == nil {
		return from == nil && under == nil
	}
	return (from == nil || age.Cmp(from) >= 0) && (under == nil || age.Cmp(under) < 0)
}

func (i Interval) overlaps(o Interval) bool {
	if i.Intake != o.Intake {
		return false
	}
	iFrom, iUnder := i.bounds()
	oFrom, oUnder := o.bounds()
	before := func(under, from *exact.Number) bool { return under != nil && from != nil && under.Cmp(from) <= 0 }
	return !before(iUnder, oFrom) && !before(oUnder, iFrom)
}

// interval gives the set's own interval for an intake at an age.
func (s *Set) interval(intake term.Intake, age *exact.Number) (Interval, bool) {
	for _, i := range s.Intervals {
		if i.Intake == intake && i.covers(age) {
			return i, true
		}
	}
	return Interval{}, false
}

// published gives every interval of the sets with a source for an intake at an
// age, with its set. For an age that is not known it gives those of all ages,
// for an intake that is not known those of all intakes.
func published(sets []*Set, intake term.Intake, age *exact.Number) (all []Published) {
	for _, s := range sets {
		if s.NeedsConfirmation {
			continue
		}
		for _, i := range s.Intervals {
			if (i.Intake == intake || intake == term.IntakeUnknown) && (age == nil || i.covers(age)) {
				all = append(all, Published{s.Code, i})
			}
		}
	}
	return all
}

// Published is an interval with the code of its set.
type Published struct {
	Set string
	Interval
}

// span gives the shortest and the longest of published intervals.
func span(all []Published) (shortest, longest Published) {
	for n, p := range all {
		if n == 0 || p.hours().Cmp(shortest.hours()) < 0 {
			shortest = p
		}
		if n == 0 || p.hours().Cmp(longest.hours()) > 0 {
			longest = p
		}
	}
	return shortest, longest
}

// Undercut is an interval of a set with the published ones that are longer.
type Undercut struct {
	Here      Interval
	Published []Published
	All       bool // every published set that has this intake asks for longer
}

// Undercuts says which published intervals the set with this code falls short
// of, at an age, or at any where the age is absent. It is for the one who is
// asked to confirm a set, and for the screen that shows it.
func Undercuts(sets []*Set, code string, age quantity.Amount) ([]Undercut, error) {
	s, err := find(sets, code)
	if err != nil {
		return nil, err
	}
	y, err := years(age)
	if err != nil {
		return nil, err
	}
	var all []Undercut
	for _, i := range s.Intervals {
		if y != nil && !i.covers(y) {
			continue
		}
		u := Undercut{Here: i, All: true}
		for _, p := range published(sets, i.Intake, y) {
			switch {
			case p.Set == code, y == nil && !p.overlaps(i):
			case p.hours().Cmp(i.hours()) > 0:
				u.Published = append(u.Published, p)
			default:
				u.All = false
			}
		}
		if len(u.Published) > 0 {
			all = append(all, u)
		}
	}
	return all, nil
}

func find(sets []*Set, code string) (*Set, error) {
	for _, s := range sets {
		if s.Code == code {
			return s, nil
		}
	}
	return nil, &patient.Error{Field: "set", Code: UnknownSet, Given: code}
}
