package word

import (
	"fmt"
	"regexp"
	"slices"
	"strings"

	"github.com/BurntSushi/toml"
	"golang.org/x/text/language"
)

var (
	segmentForm     = regexp.MustCompile(`^[A-Za-z0-9_-]+$`)
	placeholderForm = regexp.MustCompile(`^[a-z][a-z0-9_]*$`)
)

// Parse reads a catalogue for the language tag. base is the English book, or
// nil where the catalogue is itself the measure.
//
// The catalogue has a table [language] with
//
//	name       = "Français"   # the language in its own words; required
//	decimal    = ","          # "." or ","; required
//	incomplete = true         # English may stand in for missing texts
//
// and any other tables, nested as deep as is useful, with texts in them. It is
// refused if it is not TOML; if a text stands outside a table, is not a string,
// or is empty; if a brace is not part of a placeholder; if one form of what is
// counted lacks {n} although the language uses it for more than one number;
// and, measured against base, if a key is unknown or missing or a text has
// other placeholders. The error names the file, taken to be the tag with
// ".toml", and the key, for each fault there is.
func Parse(tag string, data []byte, base *Book) (*Book, error) {
	t, err := language.Parse(tag)
	if err != nil {
		return nil, fmt.Errorf("word: %q is not a language tag: %w", tag, err)
	}
	var tree map[string]any
	if err := toml.Unmarshal(data, &tree); err != nil {
		return nil, fmt.Errorf("word: %s.toml: %w", tag, err)
	}
	r := reader{file: tag + ".toml", book: newBook(t, base)}
	incomplete := r.head(tree["language"])
	delete(tree, "language")
	for name, value := range tree {
		if _, ok := value.(map[string]any); !ok {
			r.refuse(name, "stands outside a table")
			continue
		}
		r.table(name, value)
	}
	r.plurals()
	if base != nil {
		r.measure(incomplete)
	}
	if len(r.faults) > 0 {
		return nil, sortedJoin(r.faults)
	}
	return r.book, nil
}

// A reader fills a book from a catalogue and collects the faults it finds.
type reader struct {
	file   string
	book   *Book
	faults []error
}

func (r *reader) refuse(key, format string, args ...any) {
	r.faults = append(r.faults, fmt.Errorf("word: %s: %s: %s", r.file, key, fmt.Sprintf(format, args...)))
}

// head reads the table [language] and reports whether it says incomplete.
func (r *reader) head(value any) (incomplete bool) {
	table, ok := value.(map[string]any)
	if !ok {
		r.refuse("language", "the table is missing")
		return false
	}
	for key, value := range table {
		var ok bool
		switch key {
		case "name":
			r.book.name, ok = value.(string)
			ok = ok && strings.TrimSpace(r.book.name) != ""
		case "decimal":
			ok = value == "." || value == ","
			r.book.comma = value == ","
		case "incomplete":
			incomplete, ok = value.(bool)
		default:
			r.refuse("language."+key, "is not known here; the head has name, decimal and incomplete")
			continue
		}
		if !ok {
			r.refuse("language."+key, "cannot be %#v", value)
		}
	}
	for _, key := range []string{"name", "decimal"} {
		if _, ok := table[key]; !ok {
			r.refuse("language."+key, "is missing")
		}
	}
	if incomplete && r.book.base == nil {
		r.refuse("language.incomplete", "there is no other catalogue to stand in for this one")
	}
	return incomplete
}

// table reads the value at key: a text, or a table of further values.
func (r *reader) table(key string, value any) {
	if segment := key[strings.LastIndexByte(key, '.')+1:]; !segmentForm.MatchString(segment) {
		r.refuse(key, "a key is made of letters, digits, - and _")
		return
	}
	switch value := value.(type) {
	case string:
		t, err := parseText(value)
		if err != nil {
			r.refuse(key, "%v", err)
			return
		}
		r.book.texts[key] = t
	case map[string]any:
		for name, value := range value {
			// Asked before the parts are joined: a quoted name with a point
			// in it could otherwise pose as another key.
			if !segmentForm.MatchString(name) {
				r.refuse(key+"."+name, "a key is made of letters, digits, - and _")
				continue
			}
			r.table(key+"."+name, value)
		}
	default:
		r.refuse(key, "is neither a text nor a table")
	}
}

// parseText cuts s at its placeholders.
func parseText(s string) (text, error) {
	if strings.TrimSpace(s) == "" {
		return nil, fmt.Errorf("the text is empty")
	}
	var t text
	rest := s
	for {
		literal, after, found := strings.Cut(rest, "{")
		if strings.Contains(literal, "}") {
			return nil, fmt.Errorf("a closing brace without a placeholder in %q", s)
		}
		t = append(t, literal)
		if !found {
			return t, nil
		}
		name, tail, closed := strings.Cut(after, "}")
		if !closed || !placeholderForm.MatchString(name) {
			return nil, fmt.Errorf("an opening brace without a placeholder such as {n} in %q", s)
		}
		t = append(t, name)
		rest = tail
	}
}

// pairOf returns the key of what is counted if key is one of the two forms of
// it that the catalogue texts holds. A lone key.other is no such form: "other"
// is a usual code in a list.
func pairOf(texts map[string]text, key string) (counted string, ok bool) {
	for _, form := range []string{".one", ".other"} {
		counted, ok = strings.CutSuffix(key, form)
		if !ok {
			continue
		}
		_, one := texts[counted+".one"]
		_, other := texts[counted+".other"]
		return counted, one && other
	}
	return "", false
}

// plurals checks the pairs of forms against each other.
func (r *reader) plurals() {
	for key, t := range r.book.texts {
		counted, ok := pairOf(r.book.texts, key)
		if !ok || !strings.HasSuffix(key, ".one") {
			continue
		}
		other := r.book.texts[counted+".other"].names()
		if !slices.Contains(other, "n") {
			r.refuse(counted+".other", "lacks {n}: this is the text for every number but one")
			continue
		}
		one := t.names()
		if !slices.Contains(one, "n") {
			// "one ampoule" needs no figure in English. In French the same
			// text also serves for none, and then the figure is the message.
			if takesOne(r.book.tag, 0) {
				r.refuse(key, "lacks {n}: this language uses the text for 0 as well as for 1")
			}
			one = slices.Sorted(slices.Values(append(one, "n")))
		}
		if !slices.Equal(one, other) {
			r.refuse(key, "has the placeholders %s, but %s.other has %s", braced(t.names()), counted, braced(other))
		}
	}
}

// measure holds the book against English.
func (r *reader) measure(incomplete bool) {
	base := r.book.base
	for key, t := range r.book.texts {
		want, ok := base.find(key)
		if !ok {
			r.refuse(key, "the English catalogue has no such key")
			continue
		}
		if counted, ok := pairOf(base.texts, key); ok {
			if _, both := pairOf(r.book.texts, key); !both {
				r.refuse(counted, "needs both forms, %s.one and %s.other", counted, counted)
				continue
			}
			if strings.HasSuffix(key, ".one") {
				continue // plurals has compared it with its other form
			}
		}
		if !slices.Equal(t.names(), want.names()) {
			r.refuse(key, "has the placeholders %s, but English has %s", braced(t.names()), braced(want.names()))
		}
	}
	if incomplete {
		return
	}
	for _, key := range r.book.Incomplete() {
		r.refuse(key, "is missing; a catalogue that is still being made says incomplete = true in its head")
	}
}

func braced(names []string) string {
	if len(names) == 0 {
		return "none"
	}
	return "{" + strings.Join(names, "}, {") + "}"
}
