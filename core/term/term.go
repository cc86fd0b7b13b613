// Package term holds the closed code lists that every other package shares:
// phases, signs, routes, agents, devices, positions, troubles and the rest.
//
// A code is what is stored in an event and written to a file; it is English,
// lower case, hyphenated, and never changes its meaning once released. What a
// person reads is looked up by the code in the catalogue of package word,
// under term.<list>.<code>. A code that is no longer offered stays in its
// list, because old cases hold it.
//
// The lists are terms of the trade. Where a published standard fixes a list,
// the list names it; the others are common practice, no source.
package term

import "slices"

// List is a closed list of codes of one kind.
type List[C ~string] struct {
	name  string
	codes []C
}

// Has reports whether c is in the list.
func (l *List[C]) Has(c C) bool { return slices.Contains(l.codes, c) }

// Codes gives the codes in the order in which they are offered.
func (l *List[C]) Codes() []C { return slices.Clone(l.codes) }

// Index gives the place of c in the list, or -1.
func (l *List[C]) Index(c C) int { return slices.Index(l.codes, c) }

// Name is the name of the list, as it stands in catalogue keys.
func (l *List[C]) Name() string { return l.name }

// Key is the catalogue key of a code of this list.
func (l *List[C]) Key(c C) string { return "term." + l.name + "." + string(c) }

// ListInfo describes one list for those who walk over all of them.
type ListInfo struct {
	Name  string
	Codes []string
}

var all []ListInfo

// Lists gives every list of this package, in the order of the source.
func Lists() []ListInfo { return slices.Clone(all) }

func list[C ~string](name string, codes ...C) *List[C] {
	info := ListInfo{Name: name}
	for _, c := range codes {
		info.Codes = append(info.Codes, string(c))
	}
	all = append(all, info)
	return &List[C]{name: name, codes: codes}
}

// Add puts codes, sources and the like at the end of some: those that are not
// among them yet.
func Add[T comparable](to *[]T, more ...T) {
	for _, x := range more {
		if !slices.Contains(*to, x) {
			*to = append(*to, x)
		}
	}
}
