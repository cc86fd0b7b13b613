package visit

import (
	"cmp"
	"embed"
	"fmt"
	"slices"

	"chinlift/core/rulefile"
	"chinlift/core/term"
)

//go:embed pauses/*.toml
var pauseFiles embed.FS

// Pause is a list of what is asked at one moment.
type Pause struct {
	Code    string // the file's name without its ending
	Version string // SHA-256 of the file, in hexadecimal
	Name    Text
	Before  term.Phase // the phase that it comes before
	Items   []Ask
}

// Ask is one thing to ask or to look at. The facts are those of its source, the
// words are ours.
type Ask struct {
	Code   string    `toml:"code"`
	Stop   bool      `toml:"stop"` // without it a planned operation usually does not go on
	Source string    `toml:"source"`
	Mark   term.Mark `toml:"mark"`
	Name   Text      `toml:"name"`
	Ask    Text      `toml:"ask"`
}

// ParsePause reads a pause. Unknown keys, a phase that is none, an item without
// a source, two items with one code and a missing English text are refused,
// with the item's code.
func ParsePause(code string, data []byte) (*Pause, error) {
	var file struct {
		Name   Text       `toml:"name"`
		Before term.Phase `toml:"before"`
		Items  []Ask      `toml:"item"`
	}
	fail := func(format string, args ...any) (*Pause, error) {
		return nil, fmt.Errorf("pause %s: "+format, append([]any{code}, args...)...)
	}
	if err := rulefile.Decode(data, &file); err != nil {
		return fail("%w", err)
	}
	switch {
	case file.Name["en"] == "":
		return fail("the name in English is missing")
	case !term.PhaseList.Has(file.Before):
		return fail("before %q: no such phase", file.Before)
	case len(file.Items) == 0:
		return fail("there is no item")
	}
	for i, it := range file.Items {
		switch {
		case !rulefile.CodeOK(it.Code):
			return fail("item %d: code %q is not lower case letters, digits and hyphens", i+1, it.Code)
		case slices.ContainsFunc(file.Items[:i], func(o Ask) bool { return o.Code == it.Code }):
			return fail("item %s stands twice", it.Code)
		case it.Name["en"] == "" || it.Ask["en"] == "":
			return fail("item %s: name or ask in English is missing", it.Code)
		case it.Source == "":
			return fail("item %s has no source", it.Code)
		case !term.MarkList.Has(it.Mark):
			return fail("item %s: mark %q is not read, practice or memory", it.Code, it.Mark)
		}
	}
	return &Pause{Code: code, Version: rulefile.Version(data), Name: file.Name, Before: file.Before, Items: file.Items}, nil
}

// Pauses gives the pauses that come with the companion, in the order in which
// they come: three of surgical safety, and the look again before the first
// drop.
func Pauses() ([]*Pause, error) {
	all, err := rulefile.Folder(pauseFiles, "pauses", ParsePause)
	if err != nil {
		return nil, err
	}
	slices.SortStableFunc(all, func(a, b *Pause) int {
		return cmp.Compare(term.PhaseList.Index(a.Before), term.PhaseList.Index(b.Before))
	})
	return all, nil
}

// Find gives the item with this code, or nil.
func (p *Pause) Find(code string) *Ask {
	for i := range p.Items {
		if p.Items[i].Code == code {
			return &p.Items[i]
		}
	}
	return nil
}
