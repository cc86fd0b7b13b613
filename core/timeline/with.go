package timeline

import (
	"maps"
	"slices"
)

// With gives the story with one more line: the same story that Fold makes of
// all lines together, without folding them anew where the line is a plain new
// entry. The receiver stays as it was.
func (s *Story) With(l *Line) *Story {
	if !s.plain(l) {
		return Fold(append(s.Lines(), l))
	}
	e := &Entry{ID: l.Event.ID, Versions: []Version{{Line: l}}}
	e.resolve()
	i, _ := slices.BinarySearchFunc(s.Entries, e, compareEntries)
	n := &Story{Entries: slices.Insert(slices.Clone(s.Entries), i, e), Waiting: s.Waiting, Aside: s.Aside}
	n.byID = maps.Clone(s.byID)
	n.byID[e.ID] = e
	return n
}

// plain reports that a line adds an entry and touches nothing else: it is no
// correction, nothing waits, nothing was set aside, and it comes after all
// that is here, so that it can claim no number that is taken.
func (s *Story) plain(l *Line) bool {
	if l.Event.Amends != "" || len(s.Waiting) > 0 || len(s.Aside) > 0 || s.byID[l.Event.ID] != nil {
		return false
	}
	for _, e := range s.Entries {
		for i := range e.Versions {
			ev := &e.Versions[i].Line.Event
			if ev.ID == l.Event.ID || ev.Log == l.Event.Log && ev.Seq >= l.Event.Seq {
				return false
			}
		}
	}
	return true
}
