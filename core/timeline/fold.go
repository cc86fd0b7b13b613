package timeline

import (
	"bytes"
	"cmp"
	"iter"
	"slices"
	"time"
)

// Story is everything that a heap of lines says, folded. It holds every line
// that it was given: each is a root, a correction of a root, waiting, or set
// aside.
type Story struct {
	Entries []*Entry         // by the time at which they happened, then by entry order
	Waiting []*Line          // corrections whose root has not arrived, in entry order
	Aside   []*Line          // lines that claim a number or an id that another line claims too, in entry order
	ids     []uint64         // hashes of the ids of all lines that were not set aside
	last    map[string]int64 // the highest number of each log, among the lines that were not set aside
}

// Entry is a root event with its corrections.
type Entry struct {
	ID       string
	Versions []Version // the root, then every correction in entry order, each with the content it gives
	Heads    []int     // indices of the versions that no later one replaces, in entry order; the last stands
}

// Version is what an entry says after one of its lines.
type Version struct {
	Line    *Line   // the line that made this version
	Content *Line   // the line whose payload, private part and time it has
	Case    string  // what the entry is about
	Struck  bool    // struck out
	At      Moment  // when it happened
	Payload Payload // never nil
}

// Private gives the private part of the version's content; nil where it was
// left out, destroyed, or never was.
func (v *Version) Private() Private { return v.Content.Private }

// Now is the version that stands.
func (e *Entry) Now() *Version { return &e.Versions[e.Heads[len(e.Heads)-1]] }

// Root is the line that began the entry.
func (e *Entry) Root() *Line { return e.Versions[0].Line }

// Conflict reports that two or more corrections, made without sight of each
// other, stand against each other. The later in entry order stands until
// somebody settles it.
func (e *Entry) Conflict() bool { return len(e.Heads) > 1 }

// HeadIDs gives the ids that a correction of this entry replaces.
func (e *Entry) HeadIDs() []string {
	ids := make([]string, len(e.Heads))
	for i, h := range e.Heads {
		ids[i] = e.Versions[h].Line.Event.ID
	}
	return ids
}

// In reports that the entry stands, not struck, in this case.
func (e *Entry) In(about string) bool {
	v := e.Now()
	return !v.Struck && v.Case == about
}

// Late reports that the entry was made after or more behind the time at
// which it says that it happened. A later correction does not make it late:
// that has a time of its own, which shows.
func (e *Entry) Late(after time.Duration) bool {
	r := &e.Root().Event
	return r.Entered.Wall.Sub(r.At.Time) >= after
}

// Fold makes the story of the lines. It is pure and total: any lines, in any
// order, with repeats, give a story, and the same set gives the same story.
// The lines are kept by reference and must not be changed afterwards.
func Fold(lines []*Line) *Story {
	s := &Story{last: map[string]int64{}}
	good := s.setAside(distinct(lines))

	byID, corrections := map[string]*Entry{}, map[string][]*Line{}
	for _, l := range good {
		s.last[l.Event.Log] = max(s.last[l.Event.Log], l.Event.Seq)
		s.ids = append(s.ids, hashOf(l.Event.ID))
		if l.Event.Amends == "" {
			e := &Entry{ID: l.Event.ID, Versions: []Version{{Line: l}}}
			s.Entries = append(s.Entries, e)
			byID[e.ID] = e
		} else {
			corrections[l.Event.Amends] = append(corrections[l.Event.Amends], l)
		}
	}
	for root, ls := range corrections {
		e := byID[root]
		for _, l := range ls {
			// A correction that claims to be older than its root has not seen
			// it, whatever it says: it waits with those whose root is missing.
			if e == nil || !e.Root().Event.Before(&l.Event) {
				s.Waiting = append(s.Waiting, l)
				continue
			}
			e.Versions = append(e.Versions, Version{Line: l})
		}
	}
	sortLines(s.Waiting)
	for _, e := range s.Entries {
		e.resolve()
	}
	slices.SortFunc(s.Entries, compareEntries)
	return s
}

// distinct drops repeats of a line and gives the rest in entry order. Of two
// copies the one that still has its private part is kept, and rather one that
// matches its commitment than one that does not.
func distinct(lines []*Line) []*Line {
	sorted := slices.Clone(lines)
	slices.SortFunc(sorted, func(a, b *Line) int {
		if c := compareLines(a, b); c != 0 || bytes.Equal(a.P, b.P) && (a.P == nil) == (b.P == nil) {
			return c
		}
		return cmp.Or(cmp.Compare(b.worth(), a.worth()), bytes.Compare(a.P, b.P))
	})
	return slices.CompactFunc(sorted, func(a, b *Line) bool { return compareLines(a, b) == 0 })
}

// worth ranks copies of a line by their private part.
func (l *Line) worth() int {
	switch {
	case l.P == nil:
		return 0
	case Commitment(l.P) != l.Event.Private:
		return 1
	}
	return 2
}

// setAside takes out the lines that claim one number of one log, or one id,
// against each other, and gives the others. Which of them is the true one is
// not for a program to say.
func (s *Story) setAside(lines []*Line) []*Line {
	type place struct {
		log string
		seq int64
	}
	places, ids := map[place]int{}, map[string]int{}
	for _, l := range lines {
		places[place{l.Event.Log, l.Event.Seq}]++
		ids[l.Event.ID]++
	}
	good := make([]*Line, 0, len(lines))
	for _, l := range lines {
		if places[place{l.Event.Log, l.Event.Seq}] > 1 || ids[l.Event.ID] > 1 {
			s.Aside = append(s.Aside, l)
		} else {
			good = append(good, l)
		}
	}
	return good
}

// resolve works out what each version says, and which are heads.
func (e *Entry) resolve() {
	slices.SortFunc(e.Versions[1:], func(a, b Version) int { return compareLines(a.Line, b.Line) })
	index := make(map[string]int, len(e.Versions))
	for i := range e.Versions {
		index[e.Versions[i].Line.Event.ID] = i
	}
	replaced := make([]bool, len(e.Versions))
	for i := range e.Versions {
		v := &e.Versions[i]
		// What the version builds on: the latest of those that its author had
		// seen. A version cannot have seen one that comes after it.
		base := 0
		for _, id := range v.Line.Event.Replaces {
			if j, ok := index[id]; ok && j < i {
				replaced[j] = true
				base = max(base, j)
			}
		}
		*v = follow(v.Line, &e.Versions[base], i == 0)
	}
	// The root is replaced by any correction at all: a correction whose
	// author saw only versions that have not arrived yet has seen the root.
	if len(e.Versions) > 1 {
		replaced[0] = true
	}
	for i, r := range replaced {
		if !r {
			e.Heads = append(e.Heads, i)
		}
	}
}

// follow gives the version that a line makes of the one that it builds on.
//
// A new content makes a struck entry stand, and makes it stand in the case
// that its line is about. Nobody can do either in one step on one device: the
// companion asks for the entry to be brought back first, in the case where it
// is. But lines of another device may arrive that correct what was struck or
// moved meanwhile. Rather than guess what their author would have wanted, the
// fold takes each line at its word; where neither had seen the other, the two
// are heads and the entry is in conflict, which is shown.
func follow(l *Line, base *Version, root bool) Version {
	v := Version{Line: l, Content: l, Case: l.Event.About, At: l.Event.At, Payload: l.Payload}
	if root {
		return v
	}
	switch l.Payload.(type) {
	case *Struck, *Restored:
		v = *base
		v.Line = l
		_, v.Struck = l.Payload.(*Struck)
	case *Moved:
		v = *base
		v.Line = l
		v.Case = l.Event.About
	}
	return v
}

// compareEntries puts entries into drawing order: when they happened, then
// when they were entered.
func compareEntries(a, b *Entry) int {
	if c := a.Now().At.Compare(b.Now().At.Time); c != 0 {
		return c
	}
	return compareLines(a.Root(), b.Root())
}

func compareLines(a, b *Line) int {
	switch {
	case a.Event.Before(&b.Event):
		return -1
	case b.Event.Before(&a.Event):
		return 1
	}
	return cmp.Or(cmp.Compare(a.H, b.H), bytes.Compare(a.E, b.E))
}

func sortLines(ls []*Line) { slices.SortFunc(ls, compareLines) }

// SortLines puts lines into entry order.
func SortLines(ls []*Line) { sortLines(ls) }

// Find gives the entry with this root id, or nil.
//
// It walks, the latest first: a story is one case, and a map would have to be
// copied with each entry that is added.
func (s *Story) Find(id string) *Entry {
	for _, e := range slices.Backward(s.Entries) {
		if e.ID == id {
			return e
		}
	}
	return nil
}

// Lines gives every line of the story in entry order.
func (s *Story) Lines() []*Line {
	var all []*Line
	for _, e := range s.Entries {
		for i := range e.Versions {
			all = append(all, e.Versions[i].Line)
		}
	}
	all = append(append(all, s.Waiting...), s.Aside...)
	sortLines(all)
	return all
}

// About gives the entries that are, or once were, about this case or person,
// in drawing order. An entry that was moved away is among them, so that the
// case where it first stood still shows it.
func (s *Story) About(about string) []*Entry {
	var es []*Entry
	for _, e := range s.Entries {
		for i := range e.Versions {
			if e.Versions[i].Case == about {
				es = append(es, e)
				break
			}
		}
	}
	return es
}

// Each walks the payloads of one kind that stand in a case, in drawing order.
func Each[P Payload](es []*Entry, about string) iter.Seq2[*Entry, P] {
	return func(yield func(*Entry, P) bool) {
		for _, e := range es {
			if !e.In(about) {
				continue
			}
			if p, ok := e.Now().Payload.(P); ok && !yield(e, p) {
				return
			}
		}
	}
}

// ClockStep is a place where the wall clock and the time since the device was
// started do not tell the same story: the clock was set.
type ClockStep struct {
	After *Line         // the first line entered after the step
	By    time.Duration // how far the wall clock jumped; negative: back
}

// clockSlack is how far the wall clock may drift from the boot clock between
// two entries before it counts as having been set (house choice; the common
// advice is 2 s).
const clockSlack = 2 * time.Second

// ClockSteps finds where the clock of a device was set between two lines that
// follow each other in one log. After a restart of the device only a clock
// that runs backwards can be told.
func ClockSteps(lines []*Line) []ClockStep {
	sorted := slices.Clone(lines)
	slices.SortFunc(sorted, func(a, b *Line) int {
		return cmp.Or(cmp.Compare(a.Event.Log, b.Event.Log), cmp.Compare(a.Event.Seq, b.Event.Seq), cmp.Compare(a.H, b.H))
	})
	var steps []ClockStep
	for i := 1; i < len(sorted); i++ {
		a, b := &sorted[i-1].Event, &sorted[i].Event
		if a.Log != b.Log {
			continue
		}
		wall := b.Entered.Wall.Sub(a.Entered.Wall.Time)
		jump := wall
		if a.Entered.Boot == b.Entered.Boot {
			jump -= time.Duration(b.Entered.SinceBootMS-a.Entered.SinceBootMS) * time.Millisecond
			if jump.Abs() <= clockSlack {
				continue
			}
		} else if wall >= -clockSlack {
			continue
		}
		steps = append(steps, ClockStep{sorted[i], jump})
	}
	return steps
}
