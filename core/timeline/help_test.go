package timeline

import (
	"fmt"
	"slices"
	"testing"
	"time"

	"chinlift/core/quantity"
	"chinlift/core/term"
)

// fataler is what *testing.T and *rapid.T have in common.
type fataler interface {
	Helper()
	Fatalf(format string, args ...any)
}

// number makes the nth id of one sort: a UUID that reads well in a failure.
func number(sort, n int) string { return fmt.Sprintf("019c0000-0000-7%03x-8000-%012x", sort, n) }

// Sorts of ids.
const (
	anEvent = 1 + iota
	aLog
	aCase
	aPerson
)

var (
	caseA, caseB = number(aCase, 1), number(aCase, 2)
	provider     = number(aPerson, 1)
	patient      = number(aPerson, 2)
	start        = MomentOf(time.Date(2026, 3, 2, 8, 0, 0, 0, time.FixedZone("", 3*3600)), "Etc/GMT-3")
)

// device is one phone with its log: it knows some lines, its own among them.
type device struct {
	t     fataler
	n     int
	log   string
	seq   int64
	tick  int64
	prev  Hash
	clock Moment
	known []*Line
	ids   *int
}

// devices makes so many phones, which share nothing but the supply of ids.
func devices(t fataler, n int) []*device {
	ids := new(int)
	var ds []*device
	for i := range n {
		ds = append(ds, &device{t: t, n: i, log: number(aLog, i+1), prev: NoHash, clock: start, ids: ids})
	}
	return ds
}

// see merges lines of others into what the device knows.
func (d *device) see(lines ...*Line) {
	for _, l := range lines {
		d.known = append(d.known, l)
		d.tick = max(d.tick, l.Event.Tick)
	}
}

// write seals a draft at the end of the log. What the draft leaves open is
// filled in: an id, case A, the time, the author.
func (d *device) write(p Payload, change ...func(*Draft)) *Line {
	d.t.Helper()
	d.clock = d.clock.Add(time.Minute)
	*d.ids++
	draft := Draft{
		ID: number(anEvent, *d.ids), Scope: ScopeCase, About: caseA, At: d.clock, Author: provider, Payload: p,
		Entered: Entered{Wall: d.clock, SinceBootMS: d.clock.Sub(start.Time).Milliseconds(), Boot: "boot-1"},
	}
	for _, c := range change {
		c(&draft)
	}
	l, err := draft.Seal(d.log, d.seq+1, d.tick+1, d.prev)
	if err != nil {
		d.t.Fatalf("device %d cannot write %T: %v", d.n, p, err)
	}
	d.seq, d.tick, d.prev = d.seq+1, d.tick+1, l.H
	d.known = append(d.known, &l)
	return &l
}

// correct amends an entry as the device knows it.
func (d *device) correct(root *Line, p Payload, change ...func(*Draft)) *Line {
	d.t.Helper()
	e := Fold(d.known).Find(root.Event.ID)
	if e == nil {
		d.t.Fatalf("device %d does not know the entry", d.n)
	}
	now := e.Now()
	return d.write(p, append([]func(*Draft){amends(root.Event.ID, e.HeadIDs()...), at(now.At), about(now.Case)}, change...)...)
}

func about(id string) func(*Draft) { return func(d *Draft) { d.About = id } }
func at(m Moment) func(*Draft)     { return func(d *Draft) { d.At = m } }
func private(text string) func(*Draft) {
	return func(d *Draft) { d.Private = Private{PrivateText: text} }
}

func amends(root string, replaces ...string) func(*Draft) {
	return func(d *Draft) { d.Amends, d.Replaces, d.Reason = root, replaces, term.ReasonMistyped }
}

func amount(s string) quantity.Amount { return quantity.MustParse(s) }

func pulse(n int) *Vitals {
	return &Vitals{Measures: Measures{Pulse: amount(fmt.Sprintf("%d /min", n))}}
}

// pulseOf reads what pulse wrote, -1 where it is something else.
func pulseOf(v *Version) int {
	if p, ok := v.Payload.(*Vitals); ok {
		return int(p.Pulse.Value.Float64())
	}
	return -1
}

func lineOf(t *testing.T, s string) Line {
	t.Helper()
	l, err := ParseLine([]byte(s))
	if err != nil {
		t.Fatalf("%v\n%s", err, s)
	}
	return l
}

func entry(t *testing.T, s *Story, root *Line) *Entry {
	t.Helper()
	e := s.Find(root.Event.ID)
	if e == nil {
		t.Fatalf("the entry %s is not in the story", root.Event.ID)
	}
	if e.ID != root.Event.ID || e.Root().H != root.H {
		t.Fatalf("the entry found has root %s, want %s", e.Root().Event.ID, root.Event.ID)
	}
	return e
}

func ids(ls []*Line) []string {
	var all []string
	for _, l := range ls {
		all = append(all, l.Event.ID)
	}
	return all
}

func wantIDs(t *testing.T, what string, got []*Line, want ...*Line) {
	t.Helper()
	if !slices.Equal(ids(got), ids(want)) {
		t.Errorf("%s: %v, want %v", what, ids(got), ids(want))
	}
}
