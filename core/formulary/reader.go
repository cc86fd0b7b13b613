package formulary

import (
	"cmp"
	"errors"
	"fmt"
	"maps"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"github.com/BurntSushi/toml"

	"chinlift/core/quantity"
	"chinlift/core/term"
)

// reader goes over a file and gathers what is wrong with it, each with its
// line, so that whoever writes the file sees all of it at once.
type reader struct {
	file   string
	lines  map[string]int // by the path of a key: use.0.dose.1.low
	faults []Fault
}

var (
	headLine = regexp.MustCompile(`^\s*(\[\[?)\s*([A-Za-z0-9_.-]+)\s*\]`)
	keyLine  = regexp.MustCompile(`^\s*([A-Za-z0-9_.-]+)\s*=`)
)

// linesOf finds the line of each key. The TOML library knows places only by
// names, which the members of an array of tables share. A key within an inline
// table has the line of that table's key. In a text over several lines it may
// find keys that are none; they are never asked for.
func linesOf(data string) map[string]int {
	lines := make(map[string]int)
	count := make(map[string]int)
	inside := ""
	for i, line := range strings.Split(data, "\n") {
		if m := headLine.FindStringSubmatch(line); m != nil {
			inside = ""
			parts := strings.Split(m[2], ".")
			for k, part := range parts {
				inside = join(inside, part)
				last := k == len(parts)-1
				if last && m[1] == "[[" {
					count[inside]++
				}
				if n := count[inside]; n > 0 {
					inside = join(inside, strconv.Itoa(n-1))
				}
			}
			lines[inside] = i + 1
		} else if m := keyLine.FindStringSubmatch(line); m != nil {
			if path := join(inside, m[1]); lines[path] == 0 {
				lines[path] = i + 1
			}
		}
	}
	return lines
}

func join(path, key string) string {
	if path == "" {
		return key
	}
	return path + "." + key
}

// line gives the line of a path, or of the nearest thing around it.
func (r *reader) line(path string) int {
	for path != "" {
		if n, ok := r.lines[path]; ok {
			return n
		}
		i := strings.LastIndexByte(path, '.')
		if i < 0 {
			break
		}
		path = path[:i]
	}
	return 1
}

func (r *reader) fault(path, format string, args ...any) {
	r.faults = append(r.faults, Fault{r.line(path), path, fmt.Sprintf(format, args...)})
}

// err gives what was gathered, in the order of the file, or nil.
func (r *reader) err() error {
	if len(r.faults) == 0 {
		return nil
	}
	slices.SortStableFunc(r.faults, func(a, b Fault) int { return cmp.Compare(a.Line, b.Line) })
	return &FileError{r.file, r.faults}
}

// open reads the TOML. It gives no node where the text is none.
func open(file string, data []byte) (*reader, node) {
	r := &reader{file: file, lines: linesOf(string(data))}
	m := make(map[string]any)
	if _, err := toml.Decode(string(data), &m); err != nil {
		line, text := 1, err.Error()
		var at toml.ParseError
		if errors.As(err, &at) {
			line, text = max(at.Position.Line, 1), at.Message
			if text == "" { // where the library wraps an error of its own
				text = at.Error()
			}
		}
		r.faults = append(r.faults, Fault{Line: line, Text: text})
		return r, node{}
	}
	return r, node{r: r, m: m, asked: make(map[string]bool)}
}

// node is a table of the file. Each method asks for a key; done refuses those
// that nobody asked for.
type node struct {
	r     *reader
	path  string
	m     map[string]any
	asked map[string]bool
}

func (n node) at(key string) string { return join(n.path, key) }

func (n node) fault(key, format string, args ...any) { n.r.fault(n.at(key), format, args...) }

func (n node) has(key string) bool {
	n.asked[key] = true
	_, ok := n.m[key]
	return ok
}

func (n node) done() {
	for _, key := range slices.Sorted(maps.Keys(n.m)) {
		if !n.asked[key] {
			n.fault(key, "the key is not known")
		}
	}
}

// value gives the value of a key as a T; what says what that is.
func value[T any](n node, key, what string) (v T, ok bool) {
	if !n.has(key) {
		return v, false
	}
	if v, ok = n.m[key].(T); !ok {
		n.fault(key, "want %s", what)
	}
	return v, ok
}

func (n node) text(key string) string {
	s, ok := value[string](n, key, "a text in quotation marks")
	if ok && strings.TrimSpace(s) == "" {
		n.fault(key, "is empty")
	}
	return s
}

func (n node) flag(key string) bool {
	b, _ := value[bool](n, key, "true or false")
	return b
}

func (n node) number(key string) int {
	i, _ := value[int64](n, key, "a whole number")
	return int(i)
}

func (n node) texts(key string) []string {
	list, ok := value[[]any](n, key, `a list of texts`)
	if !ok {
		return nil
	}
	if len(list) == 0 {
		n.fault(key, "the list is empty: leave the key out")
	}
	texts := make([]string, 0, len(list))
	for _, v := range list {
		s, ok := v.(string)
		switch {
		case !ok:
			n.fault(key, "want texts in quotation marks")
			return nil
		case slices.Contains(texts, s):
			n.fault(key, "%q stands twice", s)
		}
		texts = append(texts, s)
	}
	return texts
}

func (n node) amount(key string) quantity.Amount {
	if !n.has(key) {
		return quantity.Amount{}
	}
	return n.parse(key, n.text(key))
}

func (n node) parse(key, s string) quantity.Amount {
	a, err := quantity.Parse(s)
	if err != nil {
		n.fault(key, "%v", err)
		return quantity.Amount{}
	}
	if a.Value.Sign() < 0 {
		n.fault(key, "%s is under nought", a)
		return quantity.Amount{}
	}
	if code := sane(a); code != "" {
		n.fault(key, "%s is %s to be meant", a, code)
		return quantity.Amount{}
	}
	return a
}

// span reads a list of two amounts of a dimension, the lower first.
func (n node) span(key string, d quantity.Dimension) Span {
	list := n.pair(key)
	if list == nil {
		return Span{}
	}
	s := Span{n.parse(key, list[0]), n.parse(key, list[1])}
	if s.Low.IsZero() || s.High.IsZero() {
		return Span{}
	}
	if s.Low.Unit.Dimension() != d || s.High.Unit.Dimension() != d {
		n.fault(key, "want two amounts of %s", d)
		return Span{}
	}
	if c, _ := s.Low.Cmp(s.High); c > 0 {
		n.fault(key, "%s is over %s", s.Low, s.High)
		return Span{}
	}
	return s
}

// pair is texts for two, which may be alike.
func (n node) pair(key string) []string {
	list, ok := value[[]any](n, key, "a list of two amounts")
	if !ok {
		return nil
	}
	texts := make([]string, 0, 2)
	for _, v := range list {
		if s, ok := v.(string); ok {
			texts = append(texts, s)
		}
	}
	if len(list) != 2 || len(texts) != 2 {
		n.fault(key, "want a list of two amounts")
		return nil
	}
	return texts
}

// of reads an amount of a dimension.
func (n node) of(key string, d quantity.Dimension) quantity.Amount {
	a := n.amount(key)
	if !a.IsZero() && a.Unit.Dimension() != d {
		n.fault(key, "%s is no %s", a, d)
		return quantity.Amount{}
	}
	return a
}

func (n node) tables(key string) []node {
	if !n.has(key) {
		return nil
	}
	list, ok := n.m[key].([]map[string]any)
	if !ok {
		n.fault(key, "want tables, each under [[%s]]", key)
		return nil
	}
	nodes := make([]node, len(list))
	for i, m := range list {
		nodes[i] = node{n.r, n.at(key) + "." + strconv.Itoa(i), m, make(map[string]bool)}
	}
	return nodes
}

func (n node) table(key string) (node, bool) {
	m, ok := value[map[string]any](n, key, "a table")
	return node{n.r, n.at(key), m, make(map[string]bool)}, ok
}

// code reads a code of a list. It must be there.
func code[C ~string](n node, key string, list *term.List[C]) C {
	c := C(n.text(key))
	if !list.Has(c) {
		n.fault(key, "%q is not in the list of %s", c, list.Name())
	}
	return c
}

// maybe is code for a key that may be left out.
func maybe[C ~string](n node, key string, list *term.List[C]) C {
	if !n.has(key) {
		return ""
	}
	return code(n, key, list)
}

func codes[C ~string](n node, key string, list *term.List[C]) []C {
	var cs []C
	for _, s := range n.texts(key) {
		if !list.Has(C(s)) {
			n.fault(key, "%q is not in the list of %s", s, list.Name())
		}
		cs = append(cs, C(s))
	}
	return cs
}

// choice reads one of a few codes of this package.
func choice[C ~string](n node, key string, of ...C) C {
	c := C(n.text(key))
	if !slices.Contains(of, c) {
		n.fault(key, "%q is none of %v", c, of)
	}
	return c
}

var codeText = regexp.MustCompile(`^[a-z0-9]+(-[a-z0-9]+)*$`)

// name reads a code that the file itself gives.
func (n node) name(key string) string {
	s := n.text(key)
	if len(s) > 60 || !codeText.MatchString(s) {
		n.fault(key, "%q is not lower case letters, digits and hyphens, 60 at most", s)
	}
	return s
}

func (n node) names(key string) []string {
	list := n.texts(key)
	for _, s := range list {
		if len(s) > 60 || !codeText.MatchString(s) {
			n.fault(key, "%q is not lower case letters, digits and hyphens, 60 at most", s)
		}
	}
	return list
}
