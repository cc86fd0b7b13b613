package kit

import (
	"embed"
	"errors"
	"maps"
	"path"
	"slices"
	"strings"
	"sync"

	"chinlift/core/rulefile"
	"chinlift/core/term"
)

//go:embed lists/*.toml
var files embed.FS

// order is that in which the lists are offered; lists of the clinic's own come
// after it, by name.
var order = []string{"open-drop", "draw-over", "ketamine", "spinal", "recovery", "emergency-box", "monthly-stores"}

// everyTechnique is the part that the list of each technique includes; its
// stops are what no technique does without.
const everyTechnique = "every-technique"

func readBuiltin(code string) ([]byte, bool) {
	data, err := files.ReadFile(path.Join("lists", code+".toml"))
	return data, err == nil
}

// Builtin gives the lists that come with the companion, in the order in which
// they are offered. Parts are not among them. They are read once: whoever draws
// a record asks for the name of an item at each entry.
func Builtin() ([]*List, error) {
	lists, err := builtins()
	return slices.Clone(lists), err
}

var builtins = sync.OnceValues(func() ([]*List, error) { return With(nil) })

// With gives the built-in lists with a clinic's own files laid over them, by
// name of file, such as open-drop.toml: one of the same name replaces, also a
// part, one of another name adds, and one that says retired = true hides.
//
// A file at fault takes no list away: the built-in one stands in for it, and
// the lists come together with an error that holds a *FileError for each.
func With(own map[string][]byte) ([]*List, error) {
	entries, err := files.ReadDir("lists")
	if err != nil {
		return nil, err
	}
	all := map[string][]byte{}
	for _, e := range entries {
		code := strings.TrimSuffix(e.Name(), ".toml")
		all[code], _ = readBuiltin(code)
	}
	var faults []error
	for _, name := range slices.Sorted(maps.Keys(own)) {
		if code, ok := strings.CutSuffix(name, ".toml"); ok {
			all[code] = own[name]
		} else {
			faults = append(faults, &FileError{File: name, Fault: "the file's name does not end in .toml"})
		}
	}
	others := func(code string) ([]byte, bool) {
		data, ok := all[code]
		return data, ok
	}
	var lists []*List
	for _, code := range slices.Sorted(maps.Keys(all)) {
		l, err := parse(code, all[code], others)
		if data, ok := readBuiltin(code); err == nil && ok && !l.Part {
			var f file
			if rulefile.Decode(data, &f) == nil && f.Part {
				err = &FileError{File: code + ".toml", Fault: "lies over a part and is none"}
			}
		}
		if err != nil {
			// A part at fault comes up again in each list that includes it.
			if !slices.ContainsFunc(faults, func(f error) bool { return f.Error() == err.Error() }) {
				faults = append(faults, err)
			}
			data, ok := readBuiltin(code)
			if !ok {
				continue
			}
			if l, err = parse(code, data, readBuiltin); err != nil {
				return nil, err
			}
		}
		if !l.Part && !l.Retired {
			lists = append(lists, l)
		}
	}
	slices.SortStableFunc(lists, func(a, b *List) int { return place(a.Code) - place(b.Code) })
	return lists, errors.Join(faults...)
}

func place(code string) int {
	if i := slices.Index(order, code); i >= 0 {
		return i
	}
	return len(order)
}

// For gives the lists that are the check of one of the techniques, each once,
// in the order of lists.
func For(lists []*List, techniques ...term.Technique) []*List {
	var some []*List
	for _, l := range lists {
		if slices.ContainsFunc(techniques, func(t term.Technique) bool { return slices.Contains(l.For, t) }) {
			some = append(some, l)
		}
	}
	return some
}

// Lacking gives the codes of the stops of every technique that the list of a
// technique does not have as stops: nothing for the built-in lists, and what a
// clinic left out of its own. For a list of no technique it gives nothing.
func (l *List) Lacking() ([]string, error) {
	if len(l.For) == 0 {
		return nil, nil
	}
	data, _ := readBuiltin(everyTechnique)
	part, err := Parse(everyTechnique, data)
	if err != nil {
		return nil, err
	}
	var codes []string
	for _, it := range part.Items {
		if mine := l.Find(it.Code); it.Stop && (mine == nil || !mine.Stop) {
			codes = append(codes, it.Code)
		}
	}
	return codes, nil
}
