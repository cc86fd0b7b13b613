package kit

import (
	"fmt"
	"slices"

	"chinlift/core/rulefile"
	"chinlift/core/term"
)

// What a file may be at most. No list that anybody goes through comes near it.
const (
	maxBytes = 64 << 10
	maxLines = 4000
	maxText  = 600 // characters of one text
)

// FileError says where a list's file is at fault, and in which item.
type FileError rulefile.Fault

func (e *FileError) Error() string { return (*rulefile.Fault)(e).String() }

// file is a list as it is written.
type file struct {
	Part    bool             `toml:"part"`
	Retired bool             `toml:"retired"`
	For     []term.Technique `toml:"for"`
	Name    Text             `toml:"name"`
	Items   []fileItem       `toml:"item"`
}

type fileItem struct {
	Include string    `toml:"include"`
	Code    string    `toml:"code"`
	Stop    bool      `toml:"stop"`
	Every   Every     `toml:"every"`
	Between bool      `toml:"between"`
	Retired bool      `toml:"retired"`
	Source  string    `toml:"source"`
	Mark    term.Mark `toml:"mark"`
	Name    Text      `toml:"name"`
	Look    Text      `toml:"look"`
}

// empty reports whether nothing but an include was written.
func (f fileItem) empty() bool {
	return f.Code == "" && !f.Stop && f.Every == "" && !f.Between && !f.Retired && f.Source == "" && f.Mark == "" && f.Name == nil && f.Look == nil
}

func (f fileItem) item() Item {
	every := f.Every
	if every == "" {
		every = EachCase
	}
	return Item{Code: f.Code, Stop: f.Stop, Every: every, Between: f.Between, Source: f.Source, Mark: f.Mark, Name: f.Name, Look: f.Look}
}

// Parse reads a list, and takes in the parts among the built-in files that it
// includes. An item that says nothing of when it is due is due for each case.
//
// Unknown keys, an item without a source, two items with one code, a missing
// English text and more are refused by a *FileError with file, line and item.
func Parse(code string, data []byte) (*List, error) {
	return parse(code, data, readBuiltin)
}

// reader gives the bytes of a list by its code.
type reader func(code string) ([]byte, bool)

func parse(code string, data []byte, others reader) (*List, error) {
	whole, f, fault := rulefile.Read[file](code, data, rulefile.Limits{Bytes: maxBytes, Lines: maxLines})
	if fault != nil {
		return nil, (*FileError)(fault)
	}
	p := parser{whole}
	if err := p.head(f); err != nil {
		return nil, err
	}
	l := &List{Code: code, Name: f.Name, For: f.For, Part: f.Part, Retired: f.Retired}
	for i, it := range f.Items {
		switch {
		case it.Include != "":
			part, err := p.include(i, it, f.Part, others)
			if err != nil {
				return nil, err
			}
			for _, it := range part {
				if l.Known(it.Code) != nil {
					return nil, p.fault(i, "", func(f *file) bool { return f.Items[i].Include != "" }, "includes %s, which stands twice then", it.Code)
				}
				l.Items = append(l.Items, it)
			}
			continue
		case l.Known(it.Code) != nil:
			return nil, p.fault(i, it.Code, func(f *file) bool { return f.Items[i].Code == it.Code }, "stands twice")
		}
		if err := p.check(i, it); err != nil {
			return nil, err
		}
		if it.Retired {
			l.Old = append(l.Old, it.item())
		} else {
			l.Items = append(l.Items, it.item())
		}
	}
	if len(l.Items) == 0 && !l.Retired {
		return nil, &FileError{File: p.Name, Fault: "there is no item"}
	}
	return l.seal(), nil
}

type parser struct{ rulefile.File[file] }

// head looks at what stands above the items.
func (p parser) head(f *file) error {
	fail := func(has func(*file) bool, format string, args ...any) error {
		return &FileError{File: p.Name, Line: p.Line(has), Fault: fmt.Sprintf(format, args...)}
	}
	if bad := f.Name.Bad(maxText); bad != "" {
		return fail(func(f *file) bool { return f.Name.Bad(maxText) == bad }, "the name %s", bad)
	}
	if f.Name["en"] == "" && !f.Retired {
		return &FileError{File: p.Name, Fault: "the name in English is missing"}
	}
	for i, t := range f.For {
		switch {
		case !term.TechniqueList.Has(t):
			return fail(func(f *file) bool { return slices.Contains(f.For, t) }, "for: %q is no technique", t)
		case slices.Contains(f.For[:i], t):
			return fail(func(f *file) bool { return len(f.For) > i }, "for: %q stands twice", t)
		case f.Part:
			return fail(func(f *file) bool { return len(f.For) > 0 }, "for: a part is no list of its own")
		}
	}
	return nil
}

// include gives the items of the part that an item of the file names.
func (p parser) include(i int, it fileItem, inPart bool, others reader) ([]Item, error) {
	here := func(f *file) bool { return f.Items[i].Include == it.Include }
	fail := func(format string, args ...any) ([]Item, error) {
		return nil, p.fault(i, "", here, format, args...)
	}
	if inPart {
		return fail("a part includes no other")
	}
	if !it.empty() {
		return fail("include stands with other keys")
	}
	data, ok := []byte(nil), false
	if rulefile.CodeOK(it.Include) {
		data, ok = others(it.Include)
	}
	if !ok {
		return fail("there is no %q to include", it.Include)
	}
	var f file
	if rulefile.Decode(data, &f) == nil && !f.Part {
		return fail("%s is a list, not a part", it.Include)
	}
	part, err := parse(it.Include, data, func(string) ([]byte, bool) { return nil, false })
	if err != nil {
		return nil, err
	}
	return part.Items, nil
}

// check looks at one item that is written in the file itself.
func (p parser) check(i int, it fileItem) error {
	fail := func(has func(fileItem) bool, format string, args ...any) error {
		return p.fault(i, it.Code, func(f *file) bool { return has(f.Items[i]) }, format, args...)
	}
	there := func(fileItem) bool { return true }
	if !rulefile.CodeOK(it.Code) {
		return p.fault(i, "", func(f *file) bool { return f.Items[i].Code == it.Code }, "code %q is not lower case letters, digits and hyphens", it.Code)
	}
	if bad := it.Name.Bad(maxText); bad != "" {
		return fail(func(f fileItem) bool { return f.Name.Bad(maxText) == bad }, "name %s", bad)
	}
	if bad := it.Look.Bad(maxText); bad != "" {
		return fail(func(f fileItem) bool { return f.Look.Bad(maxText) == bad }, "look %s", bad)
	}
	switch {
	case it.Name["en"] == "":
		return fail(there, "name in English is missing")
	case it.Look["en"] == "":
		return fail(there, "look in English is missing")
	case it.Source == "":
		return fail(there, "has no source")
	case rulefile.BadLine(it.Source, maxText) != "":
		return fail(func(f fileItem) bool { return f.Source == it.Source }, "source %s", rulefile.BadLine(it.Source, maxText))
	case !term.MarkList.Has(it.Mark):
		return fail(func(f fileItem) bool { return f.Mark == it.Mark }, "mark %q is not read, practice or memory", it.Mark)
	case it.Every != "" && it.Every != EachCase && it.Every != Daily && it.Every != Monthly:
		return fail(func(f fileItem) bool { return f.Every == it.Every }, "every %q is not each-case, daily or monthly", it.Every)
	}
	return nil
}

// fault is an error for the item in place i, at the first line by which the
// item is there and has what is asked for.
func (p parser) fault(i int, code string, has func(*file) bool, format string, args ...any) error {
	if code == "" {
		code = fmt.Sprint(i + 1)
	}
	line := p.Line(func(f *file) bool { return len(f.Items) > i && has(f) })
	return &FileError{File: p.Name, Line: line, Within: "item " + code, Fault: fmt.Sprintf(format, args...)}
}
