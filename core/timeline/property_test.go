package timeline

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"chinlift/core/term"
)

// dump writes down all that a story says, for comparison.
func dump(s *Story) string {
	var b strings.Builder
	for _, e := range s.Entries {
		now := e.Now()
		fmt.Fprintf(&b, "%s heads %v: line %s content %s about %s struck %v at %s %T private %q\n",
			e.ID, e.HeadIDs(), now.Line.Event.ID, now.Content.Event.ID, now.Case, now.Struck, now.At, now.Payload, now.Private())
		for i := range e.Versions {
			v := &e.Versions[i]
			fmt.Fprintf(&b, "  version %s %s content %s about %s struck %v at %s\n", v.Line.H, v.Line.Event.ID, v.Content.H, v.Case, v.Struck, v.At)
		}
		if s.Find(e.ID) != e {
			fmt.Fprintf(&b, "  %s is not found by its id\n", e.ID)
		}
	}
	for _, l := range s.Waiting {
		fmt.Fprintf(&b, "waiting %s %s\n", l.Event.ID, l.H)
	}
	for _, l := range s.Aside {
		fmt.Fprintf(&b, "aside %s %s\n", l.Event.ID, l.H)
	}
	return b.String()
}

// shuffled gives the lines in any order, some of them more than once.
func shuffled(t *rapid.T, lines []*Line) []*Line {
	if len(lines) == 0 {
		return nil
	}
	again := rapid.SliceOfN(rapid.SampledFrom(lines), 0, len(lines)).Draw(t, "again")
	return rapid.Permutation(slices.Concat(lines, again)).Draw(t, "order")
}

// history lets two or three devices write, correct what they know, and now
// and then hand each other some of their lines, in whatever order.
func history(t *rapid.T) []*Line {
	ds := devices(t, rapid.IntRange(2, 3).Draw(t, "devices"))
	var all []*Line
	for range rapid.IntRange(1, 25).Draw(t, "steps") {
		d := rapid.SampledFrom(ds).Draw(t, "device")
		act := rapid.IntRange(0, 9).Draw(t, "act")
		entries := Fold(d.known).Entries
		switch {
		case act < 3 || len(entries) == 0:
			happened := start.Add(time.Duration(rapid.IntRange(-600, 600).Draw(t, "minutes")) * time.Minute)
			all = append(all, d.write(anything(t), at(happened)))
		case act < 7:
			e := rapid.SampledFrom(entries).Draw(t, "entry")
			all = append(all, d.write(correction(t), amends(e.ID, e.HeadIDs()...), about(rapid.SampledFrom([]string{caseA, caseB}).Draw(t, "case"))))
		case act < 8:
			// By one who has seen no more than a part of the entry.
			e := rapid.SampledFrom(entries).Draw(t, "entry")
			part := rapid.SampledFrom(e.Versions).Draw(t, "seen").Line.Event.ID
			all = append(all, d.write(correction(t), amends(e.ID, part)))
		default:
			from := rapid.SampledFrom(ds).Draw(t, "from")
			if len(from.known) > 0 {
				d.see(rapid.SliceOfN(rapid.SampledFrom(from.known), 1, 6).Draw(t, "handed over")...)
			}
		}
	}
	return all
}

func anything(t *rapid.T) Payload {
	return rapid.SampledFrom([]Payload{pulse(70), pulse(90), &Mark{}, &Note{}, &Phase{Phase: term.PhaseKnifeToSkin}}).Draw(t, "payload")
}

func correction(t *rapid.T) Payload {
	return rapid.SampledFrom([]Payload{pulse(71), pulse(91), &Struck{}, &Restored{}, &Moved{From: caseA}, &Mark{Label: term.MarkLabelBled}}).Draw(t, "correction")
}

// garbage makes lines that keep to the form of a line and to nothing else:
// few ids, logs, numbers and ticks, amending and replacing each other at will.
// Their hashes are right, as those of a forger would be.
func garbage(t *rapid.T) []*Line {
	few := rapid.IntRange(1, 5)
	event := rapid.Custom(func(t *rapid.T) string { return number(anEvent, few.Draw(t, "event")) })
	var lines []*Line
	for range rapid.IntRange(0, 15).Draw(t, "lines") {
		ev := Event{
			V: 1, ID: event.Draw(t, "id"), Log: number(aLog, rapid.IntRange(1, 2).Draw(t, "log")), Seq: int64(rapid.IntRange(1, 12).Draw(t, "seq")),
			Tick: int64(few.Draw(t, "tick")), Prev: rapid.SampledFrom([]Hash{NoHash, someHash}).Draw(t, "prev"), Scope: ScopeCase,
			About: rapid.SampledFrom([]string{caseA, caseB}).Draw(t, "case"), At: start, Entered: Entered{Wall: start}, Author: provider,
			Kind: rapid.SampledFrom([]Kind{"struck/1", "restored/1", "moved/1", "vitals/1", "tide/7", "note/1"}).Draw(t, "kind"), Data: []byte("{}"),
		}
		if rapid.Bool().Draw(t, "own id") {
			ev.ID = number(anEvent, 10+len(lines))
		}
		if rapid.Bool().Draw(t, "amends") {
			ev.Amends = event.Draw(t, "root")
			ev.Replaces = rapid.SliceOfN(event, 0, 4).Draw(t, "replaces")
		}
		e, err := marshal(ev)
		if err != nil {
			t.Fatal(err)
		}
		h, err := LineHash(ev.Prev, e)
		if err != nil {
			t.Fatal(err)
		}
		l, err := ReadLine(e, nil, h)
		if err != nil {
			t.Fatal(err)
		}
		lines = append(lines, &l)
		if rapid.IntRange(0, 5).Draw(t, "copied hash") == 0 { // another line under the hash of this one
			ev.At = start.Add(clockSlack)
			if e, err = marshal(ev); err != nil {
				t.Fatal(err)
			}
			m, err := ReadLine(e, nil, h)
			if err != nil {
				t.Fatal(err)
			}
			lines = append(lines, &m)
		}
	}
	return lines
}

// heap is a history, garbage, or both.
func heap(t *rapid.T) []*Line {
	switch rapid.IntRange(0, 3).Draw(t, "heap") {
	case 0:
		return garbage(t)
	case 1:
		return append(history(t), garbage(t)...)
	}
	return history(t)
}

// exact gives the distinct lines by their bytes, sorted.
func exact(lines []*Line) []string {
	var all []string
	for _, l := range lines {
		all = append(all, string(l.Bytes(false)))
	}
	slices.Sort(all)
	return slices.Compact(all)
}

func TestFoldForgetsOrderAndRepeats(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		lines := heap(t)
		want := dump(Fold(lines))
		if got := dump(Fold(shuffled(t, lines))); got != want {
			t.Fatalf("in another order the story is\n%s\nwas\n%s", got, want)
		}
	})
}

// TestUnion: devices merge by handing each other what they have, in any
// order, by any way round, as often as they like.
func TestUnion(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		lines := heap(t)
		var a, b, c []*Line
		for _, l := range lines {
			in := rapid.IntRange(1, 7).Draw(t, "who has it")
			for i, who := range []*[]*Line{&a, &b, &c} {
				if in&(1<<i) != 0 {
					*who = append(*who, l)
				}
			}
		}
		union := func(x, y []*Line) []*Line { return Fold(slices.Concat(x, y)).Lines() }
		same := func(law string, x, y []*Line) {
			if dx, dy := dump(Fold(x)), dump(Fold(y)); dx != dy {
				t.Fatalf("union is not %s:\n%s\nand\n%s", law, dx, dy)
			}
		}
		same("idempotent", union(a, a), a)
		same("commutative", union(a, b), union(b, a))
		same("associative", union(union(a, b), c), union(a, union(b, c)))
		same("whole", union(union(a, b), c), lines)
	})
}

func TestNoLineIsLost(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		lines := heap(t)
		s := Fold(shuffled(t, lines))
		got := s.Lines()
		if want := exact(lines); len(got) != len(want) || !slices.Equal(exact(got), want) {
			t.Fatalf("%d lines of %d came out", len(got), len(want))
		}
		if !slices.IsSortedFunc(got, compareLines) {
			t.Fatal("the lines are not in entry order")
		}
		for _, e := range s.Entries {
			if len(e.Heads) == 0 || !slices.IsSorted(e.Heads) {
				t.Fatalf("entry %s has heads %v", e.ID, e.Heads)
			}
			for i := range e.Versions {
				if v := &e.Versions[i]; v.Payload == nil || v.Content == nil || v.Line == nil {
					t.Fatalf("entry %s has an empty version", e.ID)
				}
			}
		}
	})
}

func TestWithIsFold(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		lines := heap(t)
		if rapid.Bool().Draw(t, "shuffled") {
			lines = shuffled(t, lines)
		}
		s := Fold(nil)
		for i, l := range lines {
			before := dump(s)
			next := s.With(l)
			if got, want := dump(next), dump(Fold(lines[:i+1])); got != want {
				t.Fatalf("with line %d the story is\n%s\nwant\n%s", i, got, want)
			}
			if got := dump(s); got != before {
				t.Fatalf("line %d changed the story that it was added to:\n%s\nwas\n%s", i, got, before)
			}
			s = next
		}
	})
}

// TestCorrectionsConverge: whoever has seen everything and corrects an entry
// settles it, whatever went before.
func TestCorrectionsConverge(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		lines := history(t)
		s := Fold(lines)
		if len(s.Entries) == 0 {
			return
		}
		e := rapid.SampledFrom(s.Entries).Draw(t, "entry")
		late := devices(t, 4)[3]
		*late.ids = 1000
		late.see(lines...)
		last := late.correct(e.Root(), pulse(42))
		settled := Fold(append(shuffled(t, lines), last)).Find(e.ID)
		if settled.Conflict() || settled.Now().Line.H != last.H || pulseOf(settled.Now()) != 42 {
			t.Fatalf("entry %s stands at %s with heads %v", e.ID, settled.Now().Line.Event.ID, settled.HeadIDs())
		}
	})
}

// TestWithoutPrivateIsTheSameStory: what is left out of a file changes no
// entry, and comes back when a whole copy arrives.
func TestWithoutPrivateIsTheSameStory(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := devices(t, 1)[0]
		var whole, bare []*Line
		for range rapid.IntRange(1, 5).Draw(t, "notes") {
			l := d.write(&Note{}, private(rapid.StringMatching(`[a-z ]{0,20}`).Draw(t, "text")))
			m := l.WithoutPrivate()
			whole, bare = append(whole, l), append(bare, &m)
		}
		if got, want := dump(Fold(shuffled(t, slices.Concat(whole, bare)))), dump(Fold(whole)); got != want {
			t.Fatalf("merged with a copy that has no private parts the story is\n%s\nwant\n%s", got, want)
		}
		for _, e := range Fold(bare).Entries {
			if e.Now().Private() != nil {
				t.Fatal("a private part that is not there was read")
			}
		}
	})
}
