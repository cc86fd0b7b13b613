package timeline

import (
	"maps"
	"slices"
)

// With gives the story with one more line: the same story that Fold makes of
// all lines together, without folding them anew where the line is a plain new
// entry: then the entries of the receiver are in it as they are. The receiver
// stays as it was.
func (s *Story) With(l *Line) *Story {
	if !s.plain(l) {
		return Fold(append(s.Lines(), l))
	}
	e := &Entry{ID: l.Event.ID, Versions: []Version{{Line: l}}}
	e.resolve()
	i, _ := slices.BinarySearchFunc(s.Entries, e, compareEntries)
	n := &Story{Entries: slices.Insert(slices.Clip(s.Entries), i, e), Waiting: s.Waiting, Aside: s.Aside, last: maps.Clone(s.last)}
	n.last[l.Event.Log] = l.Event.Seq
	return n
}

// plain reports that a line adds an entry and touches nothing else: it is no
// correction, nothing waits, nothing was set aside, and it comes after all
// that is here, so that it can claim no number and no id that is taken.
func (s *Story) plain(l *Line) bool {
	if l.Event.Amends != "" || len(s.Waiting) > 0 || len(s.Aside) > 0 || s.last[l.Event.Log] >= l.Event.Seq {
		return false
	}
	for _, e := range s.Entries {
		for i := range e.Versions {
			if e.Versions[i].Line.Event.ID == l.Event.ID {
				return false
			}
		}
	}
	return true
}
