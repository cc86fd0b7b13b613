// Package word holds every word that a user reads, one catalogue for each
// language.
//
// The rest of Chinlift speaks in codes: a calculator answers "gate.spo2_low"
// with the values 88 and 94, a list holds "semi_closed", an error carries
// "store.full". This package turns a code and its values into a sentence in
// the language of the person holding the phone. Nothing else in the house may
// contain such a sentence, so that a translator needs one file and a reviewer
// can read all that is ever said about a patient in one place.
//
// A catalogue is a TOML file in the folder catalogue, named for its language
// tag (BCP 47): en.toml, later fr.toml, pt.toml, es.toml, sw.toml. Its tables
// nest into dotted keys: the entry vitals in the table [table] has the key
// "table.vitals". A text may hold placeholders such as {n}. English is the
// measure: a translation whose key English does not know, or whose
// placeholders differ from those of the English text, is refused when it is
// loaded, with the file and the key, because a dose sentence that has lost its
// number must not reach a screen. Every fault of a file is reported at once.
//
// A language without one of the texts is refused as well, unless its head says
// incomplete = true. Then the English text stands in, and Incomplete lists
// the keys that it stands in for.
//
// What this package is not: it does not format dates, convert units or round.
// It only puts a decimal comma where the language has one. What is counted
// follows the cardinal plural rules of the Unicode CLDR as
// golang.org/x/text/feature/plural carries them.
package word

import (
	"cmp"
	"embed"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"path"
	"slices"
	"strings"
	"sync"

	"golang.org/x/text/feature/plural"
	"golang.org/x/text/language"
)

//go:embed catalogue/*.toml
var catalogues embed.FS

// A Book is one language. Its words never change; it only remembers what it
// was asked for and did not have (see Missing). It is safe for use by several
// goroutines.
type Book struct {
	tag    language.Tag
	name   string
	comma  bool
	texts  map[string]text // this language's own
	base   *Book           // English; nil in English itself
	lacked *lacked
}

// A text is one entry of a catalogue, cut at its placeholders: literal,
// placeholder, literal, placeholder, …, literal. The placeholders stand
// without their braces.
type text []string

// names returns the sorted set of placeholder names.
func (t text) names() []string {
	var names []string
	for i := 1; i < len(t); i += 2 {
		names = append(names, t[i])
	}
	slices.Sort(names)
	return slices.Compact(names)
}

// lacked collects complaints, each once.
type lacked struct {
	mu   sync.Mutex
	seen map[string]bool
}

func (l *lacked) add(what string) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.seen[what] = true
}

var english = sync.OnceValue(func() *Book {
	b, err := load("en", nil)
	if err != nil {
		// The catalogue is compiled in: this is a broken build, not a
		// condition that a user could meet or mend.
		panic("word: the English catalogue cannot be read: " + err.Error())
	}
	return b
})

// English returns the English book, which all callers share.
func English() *Book { return english() }

// Tags returns the language tags of the catalogues that are built in, sorted.
func Tags() []string {
	files, err := fs.Glob(catalogues, "catalogue/*.toml")
	if err != nil {
		panic(err) // only a malformed pattern, which this one is not
	}
	tags := make([]string, len(files))
	for i, file := range files {
		tags[i] = strings.TrimSuffix(path.Base(file), ".toml")
	}
	slices.Sort(tags)
	return tags
}

// Open returns the book for a BCP 47 language tag as a phone reports it, such
// as "pt-BR" or "sw_KE". Without a catalogue for the tag itself it takes the
// one for its base language, and without that English. Each call returns a
// book of its own, with nothing missing yet.
//
// It is an error if tag is not a language tag at all, or if the catalogue is
// faulty.
func Open(tag string) (*Book, error) {
	t, err := language.Parse(tag)
	if err != nil {
		return nil, fmt.Errorf("word: %q is not a language tag: %w", tag, err)
	}
	have := Tags()
	base, _ := t.Base()
	for _, try := range []string{t.String(), base.String()} {
		if try != "en" && slices.Contains(have, try) {
			return load(try, English())
		}
	}
	return load("en", nil)
}

func load(tag string, base *Book) (*Book, error) {
	data, err := catalogues.ReadFile("catalogue/" + tag + ".toml")
	if err != nil {
		return nil, fmt.Errorf("word: %w", err)
	}
	return Parse(tag, data, base)
}

// Key returns key. It marks a key that is kept in a table and looked up
// later, so that the test that compares the catalogue with the sources sees
// it.
func Key(key string) string { return key }

// Tag returns the language tag of the book, such as "en".
func (b *Book) Tag() string { return b.tag.String() }

// Name returns the name of the language in that language, for the list from
// which a user picks one.
func (b *Book) Name() string { return b.name }

// find returns the text for key in this language or, where it has none, in
// English.
func (b *Book) find(key string) (text, bool) {
	if t, ok := b.texts[key]; ok {
		return t, true
	}
	if b.base != nil {
		return b.base.find(key)
	}
	return nil, false
}

// Has reports whether there is a text for key. A key of things counted has
// none of its own; its forms, key.one and key.other, do.
func (b *Book) Has(key string) bool {
	_, ok := b.find(key)
	return ok
}

// Keys returns all keys for which there is a text, sorted.
func (b *Book) Keys() []string {
	keys := slices.Collect(maps.Keys(b.texts))
	if b.base != nil {
		keys = append(keys, b.base.Keys()...)
	}
	slices.Sort(keys)
	return slices.Compact(keys)
}

// Placeholders returns the names of the placeholders in the text for key,
// sorted, without braces; none for a key without a text.
func (b *Book) Placeholders(key string) []string {
	t, _ := b.find(key)
	return t.names()
}

// Incomplete returns the keys for which the English text stands in, sorted.
// For a complete catalogue there are none.
func (b *Book) Incomplete() []string {
	if b.base == nil {
		return nil
	}
	var keys []string
	for _, key := range b.base.Keys() {
		if _, ok := b.texts[key]; !ok {
			keys = append(keys, key)
		}
	}
	return keys
}

// Say returns the text for key with its placeholders filled from args, which
// are pairs of a name and a value: with the text "due in {n} min",
// Say("due.in", "n", 5) returns "due in 5 min". Values are put in as fmt.Sprint
// writes them; the caller, who knows which of them are decimal numbers, passes
// those through Number first.
//
// A screen must not fail for want of a word, so faults show in the text and
// are remembered for Missing: an unknown key returns "[key]"; a placeholder
// that is not given stays as it is, braces and all; a name that is not in the
// text is left out.
func (b *Book) Say(key string, args ...any) string {
	t, ok := b.find(key)
	if !ok {
		b.lacked.add(key)
		return "[" + key + "]"
	}
	return b.fill(key, t, args)
}

// Count returns the text for n things: key.one or key.other, by the rules of
// the language, with {n} filled by n and other placeholders from args as Say
// does. French counts 0 and 1 as one, English only 1. A negative n takes the
// form of its magnitude.
func (b *Book) Count(key string, n int, args ...any) string {
	// The forms of a language come in pairs (see Parse), so that if one is
	// absent here both are, and English counts by its own rules.
	if _, ok := b.texts[key+".other"]; !ok && b.base != nil && b.base.Has(key+".other") {
		t, _ := b.base.find(key + b.base.form(n))
		return b.fill(key, t, args, "n", n)
	}
	t, ok := b.find(key + b.form(n))
	if !ok {
		b.lacked.add(key + b.form(n))
		return "[" + key + "]"
	}
	return b.fill(key, t, args, "n", n)
}

// form returns the ending of the key for n things.
func (b *Book) form(n int) string {
	if takesOne(b.tag, n) {
		return ".one"
	}
	return ".other"
}

// takesOne reports whether a language counts the whole number n, or -n, with
// its form for one. The further forms that some languages have (two, few,
// many) are not in use: none of the languages that are planned needs them for
// the numbers that are counted here.
func takesOne(tag language.Tag, n int) bool {
	if n < 0 {
		n = -n
	}
	return plural.Cardinal.MatchPlural(tag, n, 0, 0, 0, 0) == plural.One
}

// fill puts args into t. The pairs in free may lack a placeholder: they are
// values that a text is at liberty to leave out.
func (b *Book) fill(key string, t text, args []any, free ...any) string {
	values := make(map[string]string, (len(args)+len(free))/2)
	for i := 0; i+1 < len(free); i += 2 {
		values[free[i].(string)] = fmt.Sprint(free[i+1])
	}
	names := t.names()
	for i := 0; i < len(args); i += 2 {
		name, ok := args[i].(string)
		if !ok || i+1 == len(args) {
			b.lacked.add(fmt.Sprintf("%s: arguments are not pairs of a name and a value: %v", key, args))
			break
		}
		if !slices.Contains(names, name) {
			b.lacked.add(fmt.Sprintf("%s: {%s} is given but not in the text", key, name))
		}
		values[name] = fmt.Sprint(args[i+1])
	}
	var out strings.Builder
	for i, part := range t {
		if i%2 == 0 {
			out.WriteString(part)
			continue
		}
		value, ok := values[part]
		if !ok {
			b.lacked.add(fmt.Sprintf("%s: {%s} is not given", key, part))
			value = "{" + part + "}"
		}
		out.WriteString(value)
	}
	return out.String()
}

// Missing returns, sorted, each fault that a call on this book met: keys that
// have no text, placeholders that were not given, names that are in no text.
// Tests fail on it.
func (b *Book) Missing() []string {
	b.lacked.mu.Lock()
	defer b.lacked.mu.Unlock()
	return slices.Sorted(maps.Keys(b.lacked.seen))
}

// DecimalComma reports whether the language writes 36,6 for 36.6.
func (b *Book) DecimalComma() bool { return b.comma }

// Number returns s with the decimal mark of the language: "36.6" becomes
// "36,6" in French. Units, signs and ranges around a number stay as they are,
// and so does what has more than one point, since it is no decimal number.
// There is no mark for thousands: "1,200" must not be read as 1.2.
func (b *Book) Number(s string) string {
	if !b.comma {
		return s
	}
	isPart := func(c byte) bool { return '0' <= c && c <= '9' || c == '.' }
	out := []byte(s)
	for i := 0; i < len(out); i++ {
		start := i
		point, points := 0, 0
		for ; i < len(out) && isPart(out[i]); i++ {
			if out[i] == '.' {
				point = i
				points++
			}
		}
		if points == 1 && start < point && point < i-1 {
			out[point] = ','
		}
	}
	return string(out)
}

// newBook returns a book without words.
func newBook(tag language.Tag, base *Book) *Book {
	return &Book{
		tag:    tag,
		texts:  map[string]text{},
		base:   base,
		lacked: &lacked{seen: map[string]bool{}},
	}
}

// sortedJoin joins errors in a fixed order, so that a message can be compared.
func sortedJoin(errs []error) error {
	slices.SortFunc(errs, func(a, b error) int { return cmp.Compare(a.Error(), b.Error()) })
	return errors.Join(errs...)
}
