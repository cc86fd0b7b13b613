package timeline

import (
	"hash/maphash"
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
	n := &Story{Entries: slices.Insert(slices.Clip(s.Entries), i, e), Waiting: s.Waiting, Aside: s.Aside, last: maps.Clone(s.last), ids: append(slices.Clip(s.ids), hashOf(l.Event.ID))}
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
	// A hash that is there already may be another's: then the fold decides.
	return !slices.Contains(s.ids, hashOf(l.Event.ID))
}

// Newer reports that a line has a higher number than every line of its log in
// the story: so that it is none of them, unless two claim its number.
func (s *Story) Newer(l *Line) bool { return l.Event.Seq > s.last[l.Event.Log] }

var seed = maphash.MakeSeed()

// hashOf lets ids be compared without going to where each of them lies.
func hashOf(id string) uint64 { return maphash.String(seed, id) }
