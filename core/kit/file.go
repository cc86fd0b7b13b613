package kit

import (
	"bytes"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"github.com/BurntSushi/toml"

	"chinlift/core/term"
)

// What a file may be at most. No list that anybody goes through comes near it.
const (
	maxBytes = 64 << 10
	maxLines = 4000
	maxText  = 600 // characters of one text
	maxCode  = 60
)

// FileError says where a list's file is at fault.
type FileError struct {
	File  string // with its ending
	Line  int    // from 1; 0 where the whole file is meant
	Item  string // code or place of the item, where one is meant
	Fault string // what is wrong, for whoever edits the file
}

func (e *FileError) Error() string {
	s := e.File
	if e.Line > 0 {
		s += fmt.Sprintf(":%d", e.Line)
	}
	if e.Item != "" {
		s += ": item " + e.Item
	}
	return s + ": " + e.Fault
}

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
	p := &parser{name: code + ".toml", data: data}
	if !codeOK(code) {
		return nil, &FileError{File: p.name, Fault: "the file's name is not lower case letters, digits and hyphens"}
	}
	if len(data) > maxBytes || bytes.Count(data, []byte("\n")) > maxLines {
		return nil, &FileError{File: p.name, Fault: fmt.Sprintf("longer than %d bytes or %d lines", maxBytes, maxLines)}
	}
	f, err := p.decode()
	if err != nil {
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
		return nil, &FileError{File: p.name, Fault: "there is no item"}
	}
	return l.seal(), nil
}

type parser struct {
	name string
	data []byte
}

// decode reads the file and looks at what stands above its items.
func (p *parser) decode() (*file, error) {
	f, err := decode(p.data)
	var syntax toml.ParseError
	switch {
	case errors.As(err, &syntax):
		return nil, &FileError{File: p.name, Line: syntax.Position.Line, Fault: syntax.Message}
	case err != nil:
		return nil, p.mistyped(err)
	}
	head := func(has func(*file) bool, format string, args ...any) (*file, error) {
		return nil, &FileError{File: p.name, Line: p.line(has), Fault: fmt.Sprintf(format, args...)}
	}
	if bad := badText(f.Name); bad != "" {
		return head(func(f *file) bool { return badText(f.Name) == bad }, "the name %s", bad)
	}
	if f.Name["en"] == "" && !f.Retired {
		return nil, &FileError{File: p.name, Fault: "the name in English is missing"}
	}
	for i, t := range f.For {
		switch {
		case !term.TechniqueList.Has(t):
			return head(func(f *file) bool { return slices.Contains(f.For, t) }, "for: %q is no technique", t)
		case slices.Contains(f.For[:i], t):
			return head(func(f *file) bool { return len(f.For) > i }, "for: %q stands twice", t)
		case f.Part:
			return head(func(f *file) bool { return len(f.For) > 0 }, "for: a part is no list of its own")
		}
	}
	return f, nil
}

// include gives the items of the part that an item of the file names.
func (p *parser) include(i int, it fileItem, inPart bool, others reader) ([]Item, error) {
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
	if codeOK(it.Include) {
		data, ok = others(it.Include)
	}
	if !ok {
		return fail("there is no %q to include", it.Include)
	}
	if f, err := decode(data); err == nil && !f.Part {
		return fail("%s is a list, not a part", it.Include)
	}
	part, err := parse(it.Include, data, func(string) ([]byte, bool) { return nil, false })
	if err != nil {
		return nil, err
	}
	return part.Items, nil
}

// check looks at one item that is written in the file itself.
func (p *parser) check(i int, it fileItem) error {
	fail := func(has func(fileItem) bool, format string, args ...any) error {
		return p.fault(i, it.Code, func(f *file) bool { return has(f.Items[i]) }, format, args...)
	}
	there := func(fileItem) bool { return true }
	if !codeOK(it.Code) {
		return p.fault(i, "", func(f *file) bool { return f.Items[i].Code == it.Code }, "code %q is not lower case letters, digits and hyphens", it.Code)
	}
	if bad := badText(it.Name); bad != "" {
		return fail(func(f fileItem) bool { return badText(f.Name) == bad }, "name %s", bad)
	}
	if bad := badText(it.Look); bad != "" {
		return fail(func(f fileItem) bool { return badText(f.Look) == bad }, "look %s", bad)
	}
	switch {
	case it.Name["en"] == "":
		return fail(there, "name in English is missing")
	case it.Look["en"] == "":
		return fail(there, "look in English is missing")
	case it.Source == "":
		return fail(there, "has no source")
	case badLine(it.Source) != "":
		return fail(func(f fileItem) bool { return f.Source == it.Source }, "source %s", badLine(it.Source))
	case !term.MarkList.Has(it.Mark):
		return fail(func(f fileItem) bool { return f.Mark == it.Mark }, "mark %q is not read, practice or memory", it.Mark)
	case it.Every != "" && it.Every != EachCase && it.Every != Daily && it.Every != Monthly:
		return fail(func(f fileItem) bool { return f.Every == it.Every }, "every %q is not each-case, daily or monthly", it.Every)
	}
	return nil
}

// fault is an error for the item in place i, at the first line by which the
// item is there and has what is asked for.
func (p *parser) fault(i int, code string, has func(*file) bool, format string, args ...any) error {
	if code == "" {
		code = fmt.Sprint(i + 1)
	}
	line := p.line(func(f *file) bool { return len(f.Items) > i && has(f) })
	return &FileError{File: p.name, Line: line, Item: code, Fault: fmt.Sprintf(format, args...)}
}

// mistyped is for a file that is TOML and yet no list: a key that is not known,
// or a value of another type. The decoder tells the line only of the last key
// of that name, so that the shortest beginning with a fault is looked for.
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
// the number of that line. Those that end in the midst of a value are no TOML
// and fall away when they are read. It is slow, and only for errors.
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
