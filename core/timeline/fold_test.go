package timeline

import (
	"fmt"
	"slices"
	"testing"
	"time"

	"chinlift/core/term"
)

// two gives two devices that both know one entry, a pulse of 70.
func two(t *testing.T) (a, b *device, root *Line) {
	t.Helper()
	ds := devices(t, 2)
	a, b = ds[0], ds[1]
	root = a.write(pulse(70))
	b.see(root)
	return a, b, root
}

// wantNow checks what stands: which line, which pulse, and whether against
// another.
func wantNow(t *testing.T, e *Entry, line *Line, pulse int, conflict bool) {
	t.Helper()
	now := e.Now()
	if now.Line.Event.ID != line.Event.ID {
		t.Errorf("line %s stands, want %s", now.Line.Event.ID, line.Event.ID)
	}
	if got := pulseOf(now); got != pulse {
		t.Errorf("it says a pulse of %d, want %d", got, pulse)
	}
	if e.Conflict() != conflict {
		t.Errorf("conflict is %v, want %v; heads %v", e.Conflict(), conflict, e.HeadIDs())
	}
}

func versionIDs(e *Entry) []string {
	var all []string
	for _, v := range e.Versions {
		all = append(all, v.Line.Event.ID)
	}
	return all
}

func TestNothing(t *testing.T) {
	s := Fold(nil)
	if len(s.Entries)+len(s.Waiting)+len(s.Aside)+len(s.Lines())+len(s.About(caseA)) != 0 || s.Find(number(anEvent, 1)) != nil {
		t.Errorf("a story of nothing holds something: %s", dump(s))
	}
}

func TestPlainEntry(t *testing.T) {
	a, _, root := two(t)
	e := entry(t, Fold(a.known), root)
	wantNow(t, e, root, 70, false)
	if !e.In(caseA) || e.In(caseB) || e.Now().Struck || e.Now().At.String() != root.Event.At.String() {
		t.Errorf("the entry is %+v", e.Now())
	}
}

func TestDrawingOrder(t *testing.T) {
	d := devices(t, 1)[0]
	third := d.write(pulse(3), at(start.Add(3*time.Hour)))
	first := d.write(pulse(1), at(start.Add(1*time.Hour)))
	second := d.write(pulse(2), at(start.Add(2*time.Hour)))
	same := d.write(pulse(4), at(start.Add(2*time.Hour)))
	var roots []*Line
	for _, e := range Fold(d.known).Entries {
		roots = append(roots, e.Root())
	}
	wantIDs(t, "entries by when they happened, then by entry", roots, first, second, same, third)
	// The same instant read under another offset is the same instant.
	east := MomentOf(start.Add(90*time.Minute).In(time.FixedZone("", 5*3600)), "")
	between := d.write(pulse(5), at(east))
	roots = nil
	for _, e := range Fold(d.known).Entries {
		roots = append(roots, e.Root())
	}
	wantIDs(t, "entries of two offsets", roots, first, between, second, same, third)
}

func TestCorrection(t *testing.T) {
	a, _, root := two(t)
	earlier := start.Add(-30 * time.Minute)
	c := a.correct(root, pulse(80), at(earlier))
	e := entry(t, Fold(a.known), root)
	wantNow(t, e, c, 80, false)
	if !e.Now().At.Equal(earlier.Time) {
		t.Errorf("a correction gives the time too: %s, want %s", e.Now().At, earlier)
	}
	if pulseOf(&e.Versions[0]) != 70 || len(e.Versions) != 2 {
		t.Errorf("what stood before is not kept: %v", versionIDs(e))
	}
}

func TestTwoSuccessiveCorrections(t *testing.T) {
	a, b, root := two(t)
	c1 := a.correct(root, pulse(80))
	b.see(c1)
	c2 := b.correct(root, pulse(90))
	e := entry(t, Fold(b.known), root)
	wantNow(t, e, c2, 90, false)
	if want := []string{root.Event.ID, c1.Event.ID, c2.Event.ID}; !slices.Equal(versionIDs(e), want) {
		t.Errorf("versions %v, want %v", versionIDs(e), want)
	}
	if !slices.Equal(e.HeadIDs(), []string{c2.Event.ID}) {
		t.Errorf("heads %v", e.HeadIDs())
	}
}

func TestConcurrentCorrections(t *testing.T) {
	a, b, root := two(t)
	ca := a.correct(root, pulse(80))
	cb := b.correct(root, pulse(90)) // the same tick: the log decides
	if ca.Event.Tick != cb.Event.Tick {
		t.Fatalf("ticks %d and %d", ca.Event.Tick, cb.Event.Tick)
	}
	a.see(cb)
	b.see(ca)
	e := entry(t, Fold(a.known), root)
	wantNow(t, e, cb, 90, true)
	if want := []string{ca.Event.ID, cb.Event.ID}; !slices.Equal(e.HeadIDs(), want) {
		t.Errorf("heads %v, want %v", e.HeadIDs(), want)
	}
	if got := entry(t, Fold(b.known), root); got.Now().Line.H != e.Now().Line.H {
		t.Error("the two devices see another version stand")
	}
	settled := a.correct(root, pulse(85))
	if !slices.Equal(settled.Event.Replaces, []string{ca.Event.ID, cb.Event.ID}) {
		t.Fatalf("it replaces %v", settled.Event.Replaces)
	}
	wantNow(t, entry(t, Fold(a.known), root), settled, 85, false)
	// One that had seen only one side settles nothing.
	half := b.write(pulse(75), amends(root.Event.ID, ca.Event.ID))
	wantNow(t, entry(t, Fold(append(b.known, half)), root), half, 75, true)
}

// TestTickDecidesNotTheClock: the correction with the higher tick stands,
// though its clock is behind.
func TestTickDecidesNotTheClock(t *testing.T) {
	a, b, root := two(t)
	b.clock = start.Add(-48 * time.Hour)
	ca := a.correct(root, pulse(80))
	b.write(&Note{})
	cb := b.correct(root, pulse(90))
	if !cb.Event.Entered.Wall.Before(ca.Event.Entered.Wall.Time) {
		t.Fatal("the clock of the second device is not behind")
	}
	wantNow(t, entry(t, Fold(slices.Concat(a.known, b.known)), root), cb, 90, true)
}

func TestStrikeAndRestore(t *testing.T) {
	a, _, root := two(t)
	struck := a.correct(root, &Struck{})
	e := entry(t, Fold(a.known), root)
	wantNow(t, e, struck, 70, false) // it stays legible
	if !e.Now().Struck || e.In(caseA) || e.Now().Content.H != root.H || e.Now().Case != caseA {
		t.Errorf("struck out it is %+v", e.Now())
	}
	if got := Fold(a.known).About(caseA); len(got) != 1 {
		t.Errorf("the case shows %d entries, want the one that was struck out", len(got))
	}
	restored := a.correct(root, &Restored{})
	e = entry(t, Fold(a.known), root)
	wantNow(t, e, restored, 70, false)
	if e.Now().Struck || !e.In(caseA) || e.Now().Content.H != root.H {
		t.Errorf("restored it is %+v", e.Now())
	}
}

// TestStrikeKeepsTheTime: neither strike nor move has a time of its own.
func TestStrikeKeepsTheTime(t *testing.T) {
	a, _, root := two(t)
	later := at(start.Add(7 * time.Hour))
	a.correct(root, &Struck{}, later)
	a.correct(root, &Restored{}, later)
	a.correct(root, &Moved{From: caseA}, about(caseB), later)
	if got := entry(t, Fold(a.known), root).Now().At; got.String() != root.Event.At.String() {
		t.Errorf("it happened at %s, want %s", got, root.Event.At)
	}
}

func TestStruckThenAmended(t *testing.T) {
	a, _, root := two(t)
	a.correct(root, &Struck{})
	c := a.correct(root, pulse(80))
	e := entry(t, Fold(a.known), root)
	wantNow(t, e, c, 80, false)
	if e.Now().Struck || !e.In(caseA) {
		t.Error("what is amended after it was struck out stands again")
	}
	again := a.correct(root, &Struck{})
	e = entry(t, Fold(a.known), root)
	wantNow(t, e, again, 80, false)
	if !e.Now().Struck || e.Now().Content.H != c.H {
		t.Errorf("struck out again it is %+v", e.Now())
	}
}

// TestStruckAgainstAmended: neither had seen the other; both stand as heads.
func TestStruckAgainstAmended(t *testing.T) {
	a, b, root := two(t)
	amended := a.correct(root, pulse(80))
	struck := b.correct(root, &Struck{})
	e := entry(t, Fold(slices.Concat(a.known, b.known)), root)
	wantNow(t, e, struck, 70, true)
	if !e.Now().Struck || e.HeadIDs()[0] != amended.Event.ID {
		t.Errorf("heads %v, struck %v", e.HeadIDs(), e.Now().Struck)
	}
}

func TestMoved(t *testing.T) {
	a, _, root := two(t)
	moved := a.correct(root, &Moved{From: caseA}, about(caseB), at(start.Add(5*time.Hour)))
	s := Fold(a.known)
	e := entry(t, s, root)
	wantNow(t, e, moved, 70, false)
	if e.In(caseA) || !e.In(caseB) {
		t.Error("it is not in the new case only")
	}
	for _, c := range []string{caseA, caseB} {
		if got := s.About(c); len(got) != 1 || got[0] != e {
			t.Errorf("case %s does not show it", c)
		}
	}
	if e.Now().At.String() != root.Event.At.String() {
		t.Errorf("it happened at %s, want %s", e.Now().At, root.Event.At)
	}
	for about, want := range map[string]int{caseA: 0, caseB: 1} {
		n := 0
		for range Each[*Vitals](s.About(about), about) {
			n++
		}
		if n != want {
			t.Errorf("%d vitals in %s, want %d", n, about, want)
		}
	}
	back := a.correct(root, &Moved{From: caseB}, about(caseA))
	e = entry(t, Fold(a.known), root)
	wantNow(t, e, back, 70, false)
	if !e.In(caseA) || e.In(caseB) {
		t.Error("it is not back in the first case only")
	}
}

func TestMovedThenAmended(t *testing.T) {
	a, _, root := two(t)
	a.correct(root, &Moved{From: caseA}, about(caseB))
	c := a.correct(root, pulse(80))
	e := entry(t, Fold(a.known), root)
	wantNow(t, e, c, 80, false)
	if !e.In(caseB) {
		t.Errorf("it is in %s", e.Now().Case)
	}
}

func TestMovedAgainstAmended(t *testing.T) {
	a, b, root := two(t)
	amended := a.correct(root, pulse(80))
	moved := b.correct(root, &Moved{From: caseA}, about(caseB))
	b.see(amended)
	s := Fold(b.known)
	e := entry(t, s, root)
	wantNow(t, e, moved, 70, true)
	if !e.In(caseB) || e.In(caseA) || len(s.About(caseA)) != 1 {
		t.Errorf("it is in %s", e.Now().Case)
	}
	both := b.correct(root, pulse(80)) // moved, and amended
	e = entry(t, Fold(b.known), root)
	wantNow(t, e, both, 80, false)
	if !e.In(caseB) {
		t.Errorf("settled it is in %s", e.Now().Case)
	}
}

func TestCorrectionBeforeItsRoot(t *testing.T) {
	a, _, root := two(t)
	c1 := a.correct(root, pulse(80))
	c2 := a.correct(root, pulse(90))
	s := Fold([]*Line{c2, c1})
	wantIDs(t, "waiting", s.Waiting, c1, c2)
	if len(s.Entries) != 0 {
		t.Errorf("%d entries without a root", len(s.Entries))
	}
	wantIDs(t, "lines", s.Lines(), c1, c2)
	s = s.With(root)
	wantIDs(t, "waiting", s.Waiting)
	wantNow(t, entry(t, s, root), c2, 90, false)
}

// TestCorrectionBeforeOneItReplaces: the second correction arrives first. It
// has seen the root by way of the first, and stands alone.
func TestCorrectionBeforeOneItReplaces(t *testing.T) {
	a, _, root := two(t)
	c1 := a.correct(root, pulse(80))
	c2 := a.correct(root, pulse(90))
	s := Fold([]*Line{root, c2})
	wantNow(t, entry(t, s, root), c2, 90, false)
	wantNow(t, entry(t, s.With(c1), root), c2, 90, false)
}

// TestStrikeOfWhatHasNotArrived: what the strike strikes is not there yet;
// until it is, the root is struck out.
func TestStrikeOfWhatHasNotArrived(t *testing.T) {
	a, _, root := two(t)
	c := a.correct(root, pulse(80))
	struck := a.correct(root, &Struck{})
	s := Fold([]*Line{root, struck})
	wantNow(t, entry(t, s, root), struck, 70, false)
	s = s.With(c)
	wantNow(t, entry(t, s, root), struck, 80, false)
	if !entry(t, s, root).Now().Struck {
		t.Error("it is not struck out")
	}
}

func TestAmendsACorrection(t *testing.T) {
	a, _, root := two(t)
	c := a.correct(root, pulse(80))
	wrong := a.write(pulse(90), amends(c.Event.ID, c.Event.ID))
	s := Fold(a.known)
	wantIDs(t, "waiting", s.Waiting, wrong)
	wantNow(t, entry(t, s, root), c, 80, false)
	wantIDs(t, "lines", s.Lines(), root, c, wrong)
}

// TestOlderThanItsRoot: a correction that claims a tick before that of its
// root cannot have seen it.
func TestOlderThanItsRoot(t *testing.T) {
	ds := devices(t, 2)
	ds[0].tick = 10
	root := ds[0].write(pulse(70))
	early := ds[1].write(pulse(80), amends(root.Event.ID, root.Event.ID))
	s := Fold([]*Line{root, early})
	wantIDs(t, "waiting", s.Waiting, early)
	wantNow(t, entry(t, s, root), root, 70, false)
}

func TestMarkBecomesAnotherKind(t *testing.T) {
	d := devices(t, 1)[0]
	mark := d.write(&Mark{})
	named := d.correct(mark, &Mark{Label: term.MarkLabelDrugGiven})
	e := entry(t, Fold(d.known), mark)
	if m, ok := e.Now().Payload.(*Mark); !ok || m.Label != term.MarkLabelDrugGiven || e.Now().Line.H != named.H {
		t.Errorf("named it is %#v", e.Now().Payload)
	}
	d.correct(mark, &Drug{Drug: "atropine", Dose: amount("0.6 mg"), Route: term.RouteIv})
	s := Fold(d.known)
	e = entry(t, s, mark)
	if p, ok := e.Now().Payload.(*Drug); !ok || p.Drug != "atropine" {
		t.Errorf("it became %#v", e.Now().Payload)
	}
	if e.Now().At.String() != mark.Event.At.String() {
		t.Errorf("its time is %s, want %s", e.Now().At, mark.Event.At)
	}
	marks, drugs := 0, 0
	for range Each[*Mark](s.Entries, caseA) {
		marks++
	}
	for range Each[*Drug](s.Entries, caseA) {
		drugs++
	}
	if marks != 0 || drugs != 1 {
		t.Errorf("%d marks and %d drugs, want the drug", marks, drugs)
	}
}

func TestEachStops(t *testing.T) {
	d := devices(t, 1)[0]
	d.write(pulse(1))
	d.write(&Note{})
	d.correct(d.write(pulse(2)), &Struck{})
	d.write(pulse(3))
	s := Fold(d.known)
	var got []int
	for e := range Each[*Vitals](s.Entries, caseA) {
		got = append(got, pulseOf(e.Now()))
	}
	if !slices.Equal(got, []int{1, 3}) {
		t.Errorf("pulses %v, want 1 and 3", got)
	}
	for e := range Each[*Vitals](s.Entries, caseA) {
		if pulseOf(e.Now()) != 1 {
			t.Error("the walk went on after it was stopped")
		}
		break
	}
}

func TestLate(t *testing.T) {
	d := devices(t, 1)[0]
	const after = 10 * time.Minute
	for behind, want := range map[time.Duration]bool{0: false, after - time.Millisecond: false, after: true, -time.Hour: false} {
		l := d.write(pulse(70), func(draft *Draft) { draft.At = draft.Entered.Wall.Add(-behind) })
		if got := entry(t, Fold(d.known), l).Late(after); got != want {
			t.Errorf("entered %s behind: late is %v", behind, got)
		}
	}
	prompt := d.write(pulse(70))
	d.clock = d.clock.Add(3 * time.Hour)
	d.correct(prompt, pulse(80))
	if entry(t, Fold(d.known), prompt).Late(after) {
		t.Error("a late correction made a prompt entry late")
	}
}

// TestFork: a copied database writes two lines under one number of one log.
func TestFork(t *testing.T) {
	a, _, root := two(t)
	copied := *a
	copied.known = slices.Clone(a.known)
	mine := a.write(pulse(80))
	other := copied.write(pulse(90))
	if mine.Event.Seq != other.Event.Seq || mine.Event.Log != other.Event.Log {
		t.Fatal("there is no fork")
	}
	s := Fold([]*Line{other, mine, root, mine})
	wantIDs(t, "aside", s.Aside, mine, other)
	if len(s.Entries) != 1 || s.Find(mine.Event.ID) != nil || s.Find(other.Event.ID) != nil {
		t.Errorf("the story is %s", dump(s))
	}
	wantIDs(t, "lines", s.Lines(), root, mine, other)
	if got, want := dump(Fold([]*Line{root, mine}).With(other)), dump(s); got != want {
		t.Errorf("with the second of them the story is\n%s\nwant\n%s", got, want)
	}
	// A correction of what is set aside waits: it is not known of which.
	c := a.write(&Struck{}, amends(mine.Event.ID, mine.Event.ID))
	wantIDs(t, "waiting", s.With(c).Waiting, c)
}

func TestSameIDTwice(t *testing.T) {
	a, b, root := two(t)
	same := func(d *Draft) { d.ID = number(anEvent, 900) }
	mine := a.write(pulse(80), same)
	other := b.write(pulse(90), same)
	s := Fold([]*Line{root, other, mine})
	wantIDs(t, "aside", s.Aside, mine, other)
	if s.Find(number(anEvent, 900)) != nil || len(s.Entries) != 1 {
		t.Errorf("the story is %s", dump(s))
	}
	if got, want := dump(Fold([]*Line{root, mine}).With(other)), dump(s); got != want {
		t.Errorf("with the second of them the story is\n%s\nwant\n%s", got, want)
	}
	// A correction that takes the id of its root takes the root down with it;
	// both are shown.
	bad := a.write(pulse(95), amends(root.Event.ID, root.Event.ID), func(d *Draft) { d.ID = mine.Event.ID })
	s = Fold([]*Line{root, mine, bad})
	wantIDs(t, "aside", s.Aside, mine, bad)
}

// TestRepeatIsOneLine: the same line, read from two files, is one.
func TestRepeatIsOneLine(t *testing.T) {
	a, _, root := two(t)
	again, err := ParseLine(root.Bytes(true))
	if err != nil {
		t.Fatal(err)
	}
	s := Fold([]*Line{root, &again, a.known[0]})
	if len(s.Lines()) != 1 || len(s.Entries) != 1 || len(s.Aside) != 0 {
		t.Errorf("the story is %s", dump(s))
	}
}

// TestTheCopyWithThePrivatePartIsKept, and of two the one that is as written.
func TestTheCopyWithThePrivatePartIsKept(t *testing.T) {
	d := devices(t, 1)[0]
	whole := d.write(&Note{}, private("good air on both sides"))
	bare := whole.WithoutPrivate()
	forged, err := ReadLine(whole.E, []byte(`{"salt":"`+string(someHash)+string(someHash)+string(someHash)+`","text":"something else, and longer than what was written"}`), whole.H)
	if err != nil {
		t.Fatal(err)
	}
	for i, lines := range [][]*Line{{whole, &bare}, {&bare, whole}, {&forged, whole, &bare}, {whole, &bare, &forged}} {
		s := Fold(lines)
		if len(s.Entries) != 1 || len(s.Aside) != 0 {
			t.Fatalf("%d: the story is %s", i, dump(s))
		}
		if got := s.Entries[0].Now().Private()[PrivateText]; got != "good air on both sides" {
			t.Errorf("%d: the note says %q", i, got)
		}
	}
}

// TestStrikeKeepsThePrivatePart: a struck note stays legible.
func TestStrikeKeepsThePrivatePart(t *testing.T) {
	d := devices(t, 1)[0]
	note := d.write(&Note{}, private("wrong side?"))
	d.correct(note, &Struck{}, private("it was the right side"))
	now := entry(t, Fold(d.known), note).Now()
	if now.Private()[PrivateText] != "wrong side?" || now.Line.Private[PrivateText] != "it was the right side" {
		t.Errorf("the note says %q, the strike %q", now.Private(), now.Line.Private)
	}
}

func TestClockSteps(t *testing.T) {
	const slack = 2 * time.Second
	type tap struct {
		wall, booted time.Duration
		boot         string
	}
	tests := []struct {
		name string
		taps []tap
		want []time.Duration // one for each tap after the first; 0 for none
	}{
		{"steady", []tap{{0, 0, "b1"}, {time.Minute, time.Minute, "b1"}}, []time.Duration{0}},
		{"drift", []tap{{0, 0, "b1"}, {time.Minute + slack, time.Minute, "b1"}, {2 * time.Minute, 2 * time.Minute, "b1"}}, []time.Duration{0, 0}},
		{"set forward", []tap{{0, 0, "b1"}, {time.Hour + time.Minute, time.Minute, "b1"}}, []time.Duration{time.Hour}},
		{"set back", []tap{{0, 0, "b1"}, {time.Minute - time.Hour, time.Minute, "b1"}}, []time.Duration{-time.Hour}},
		{"set back and forward", []tap{{0, 0, "b1"}, {-time.Hour, time.Minute, "b1"}, {time.Minute, 2 * time.Minute, "b1"}}, []time.Duration{-time.Hour - time.Minute, time.Hour}},
		{"just beyond the slack", []tap{{0, 0, "b1"}, {time.Minute + slack + time.Millisecond, time.Minute, "b1"}}, []time.Duration{slack + time.Millisecond}},
		{"restart", []tap{{0, time.Hour, "b1"}, {10 * time.Minute, time.Minute, "b2"}}, []time.Duration{0}},
		{"restart, clock behind", []tap{{0, time.Hour, "b1"}, {-24 * time.Hour, time.Minute, "b2"}}, []time.Duration{-24 * time.Hour}},
		{"restart, clock behind within the slack", []tap{{0, time.Hour, "b1"}, {-slack, time.Minute, "b2"}}, []time.Duration{0}},
		{"restart, clock far ahead: cannot be told from a phone that lay in a drawer", []tap{{0, time.Hour, "b1"}, {9000 * time.Hour, time.Minute, "b2"}}, []time.Duration{0}},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			ds := devices(t, 2)
			for _, tap := range test.taps {
				ds[0].write(&Mark{}, func(d *Draft) {
					d.Entered = Entered{Wall: start.Add(tap.wall), SinceBootMS: tap.booted.Milliseconds(), Boot: tap.boot}
				})
				// Another device of whose clock the first knows nothing.
				ds[1].write(&Mark{}, func(d *Draft) {
					d.Entered = Entered{Wall: start.Add(1000*time.Hour + tap.booted), SinceBootMS: tap.booted.Milliseconds(), Boot: "other" + tap.boot}
				})
			}
			// The other device restarts with its clock behind in the last rows;
			// only the steps of the first are compared.
			lines := slices.Concat(ds[1].known, ds[0].known)
			slices.Reverse(lines)
			var got []string
			for _, s := range ClockSteps(lines) {
				if s.After.Event.Log == ds[0].log {
					got = append(got, fmt.Sprint(s.After.Event.Seq, " ", s.By))
				}
			}
			var want []string
			for i, by := range test.want {
				if by != 0 {
					want = append(want, fmt.Sprint(i+2, " ", by))
				}
			}
			if !slices.Equal(got, want) {
				t.Errorf("got %q, want %q", got, want)
			}
		})
	}
}

// TestReplacesInAnyOrder: a strike builds on the latest of what its author had
// seen, in whatever order it names them.
func TestReplacesInAnyOrder(t *testing.T) {
	a, b, root := two(t)
	ca := a.correct(root, pulse(80))
	cb := b.correct(root, pulse(90))
	a.see(cb)
	struck := a.write(&Struck{}, amends(root.Event.ID, cb.Event.ID, ca.Event.ID, root.Event.ID))
	wantNow(t, entry(t, Fold(a.known), root), struck, 90, false)
}

// TestNewEntryWithTheIDOfACorrection: both are set aside, also where the entry
// comes after all that is known.
func TestNewEntryWithTheIDOfACorrection(t *testing.T) {
	a, b, root := two(t)
	c := a.correct(root, pulse(80))
	b.see(c)
	taken := b.write(pulse(90), func(d *Draft) { d.ID = c.Event.ID })
	s := Fold(a.known).With(taken)
	wantIDs(t, "aside", s.Aside, c, taken)
	wantNow(t, entry(t, s, root), root, 70, false)
}
