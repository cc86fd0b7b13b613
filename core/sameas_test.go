package core_test

import (
	"errors"
	"slices"
	"strings"
	"testing"
	"time"

	"chinlift/core"
	"chinlift/core/formulary"
	"chinlift/core/must"
	"chinlift/core/timeline"
)

// A patient who returns to the table: once somebody says that two cases are of
// one patient, the doses of both count in the totals of either, until it is
// struck.
func TestSamePatientCountsTogether(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	first := planned(t, c, "60", "30", "morphine")
	submit(t, c, first, "drug", "drug", "morphine", "dose", "9", "dose_unit", "mg", "route", "im", "use", "analgesia-im")
	clock.pass(time.Hour)
	second := planned(t, c, "60", "30", "morphine")
	board := func(id string) string { return strings.Join(doses(t, c, id, "morphine", "analgesia-im")[0].Board, " ") }
	counted := func(id string) string {
		cs, err := c.Case(t.Context(), id)
		if err != nil {
			t.Fatal(err)
		}
		return c.CountedIn(t.Context(), cs)
	}
	if b := board(second); b != "" || !strings.HasPrefix(counted(second), "Only doses of this case are counted.") {
		t.Fatalf("before: board %q, %q", b, counted(second))
	}
	done := submit(t, c, second, "facts", "same_as", first)
	if len(done.Lines) != 2 || done.Lines[1].Event.About != first {
		t.Fatalf("it is not said of the other: %d lines", len(done.Lines))
	}
	if b := board(second); !strings.Contains(b, "9 mg") {
		t.Errorf("what the other case holds is not on board: %q", b)
	}
	if d := doses(t, c, second, "morphine", "analgesia-im")[0]; !d.Waits {
		t.Errorf("the interval since the dose of the other case: %+v", d.Next)
	}
	// Over the total together, and not alone: a reason is owed.
	submit(t, c, second, "drug", "drug", "morphine", "dose", "10", "dose_unit", "mg", "route", "im", "use", "analgesia-im")
	clock.pass(time.Minute)
	submit(t, c, second, "drug", "drug", "morphine", "dose", "9", "dose_unit", "mg", "route", "im", "use", "analgesia-im")
	o := owing(t, c, second)
	if len(o) != 2 { // too soon, twice; and over the 24 mg of four hours
		t.Fatalf("owed: %+v", o)
	}
	cs, err := c.Case(t.Context(), second)
	if err != nil {
		t.Fatal(err)
	}
	why, err := c.Exceeded(t.Context(), cs, o[len(o)-1].Over)
	if err != nil || !slices.ContainsFunc(why, func(x core.Cited) bool { return strings.Contains(x.Text, "28 mg") && strings.Contains(x.Text, "24 mg") }) {
		t.Errorf("28 mg in both cases: %+v %v", why, err)
	}
	// And the other way round.
	if b := board(first); !strings.Contains(b, "28 mg") {
		t.Errorf("in the first case: %q", b)
	}
	for _, id := range []string{first, second} {
		if text := counted(id); !strings.Contains(text, "are counted too") || !strings.Contains(text, core.ShortCase(map[string]string{first: second, second: first}[id])) {
			t.Errorf("it says %q", text)
		}
	}
	// A third case of the same patient, said of one of them only.
	third := planned(t, c, "60", "30", "morphine")
	submit(t, c, third, "facts", "same_as", second)
	if b := board(third); !strings.Contains(b, "28 mg") {
		t.Errorf("in a third case: %q", b)
	}
	// Struck on one side it is no link any more.
	e := stands(t, c, second, done.Lines[0].Event.ID)
	if _, err := c.Strike(t.Context(), core.NewID(), second, e.ID, e.HeadIDs(), core.ReasonUndone); err != nil {
		t.Fatal(err)
	}
	if b := board(first); strings.Contains(b, "28 mg") {
		t.Errorf("after it was taken back: %q", b)
	}
}

// Older doses of the other case do not count, and no case is its own other, or
// one that is not here.
func TestSamePatientBounds(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	first := planned(t, c, "60", "30", "dexamethasone")
	submit(t, c, first, "drug", "drug", "dexamethasone", "dose", "8", "dose_unit", "mg", "route", "iv")
	clock.pass(25 * time.Hour)
	second := planned(t, c, "60", "30", "dexamethasone")
	submit(t, c, second, "facts", "same_as", first)
	for _, d := range doses(t, c, second, "dexamethasone", "") {
		if len(d.Board) > 0 {
			t.Errorf("25 hours later: %v", d.Board)
		}
	}
	var fe *timeline.FieldError
	if _, err := c.Submit(t.Context(), form(second, "facts", "same_as", second)); !errors.As(err, &fe) || fe.Field != "same_as" {
		t.Errorf("its own other: %v", err)
	}
	if _, err := c.Submit(t.Context(), form(second, "facts", "same_as", core.NewID())); !errors.Is(err, core.ErrNotHere) {
		t.Errorf("a case that is not here: %v", err)
	}
}

// A total looks back over both cases as far as its own window goes; one of the
// whole case counts another case for a day.
func TestSamePatientByEachWindow(t *testing.T) {
	const bolus = "drug,drug,dexamethasone,dose,8,dose_unit,mg,route,iv"
	for _, x := range []struct {
		window string
		after  time.Duration
		counts bool
	}{
		{"72 h", 48 * time.Hour, true}, {"72 h", 73 * time.Hour, false}, {"30 h", 31 * time.Hour, false},
		{"case", 23 * time.Hour, true}, {"case", 25 * time.Hour, false},
	} {
		clock := newClock()
		c := openAt(t, t.TempDir(), clock)
		total := "  [[use.total]]\n  most = \"16 mg\"\n  window = \"" + x.window + "\"\n\n[[alert]]"
		own := strings.Replace(string(formulary.BuiltinFile("dexamethasone.toml")), "[[alert]]", total, 1)
		if _, err := c.LayDrugFile(t.Context(), core.NewID(), "dexamethasone", []byte(own), timeline.Moment{}); err != nil {
			t.Fatal(err)
		}
		first := planned(t, c, "60", "30", "dexamethasone")
		f := strings.Split(bolus, ",")
		submit(t, c, first, f[0], f[1:]...)
		clock.pass(x.after)
		second := planned(t, c, "60", "30", "dexamethasone")
		submit(t, c, second, "facts", "same_as", first)
		board := strings.Join(doses(t, c, second, "dexamethasone", "antiemetic-iv")[0].Board, " ")
		if got := strings.Contains(board, "8 mg"); got != x.counts {
			t.Errorf("a window of %s, %v later: board %q", x.window, x.after, board)
		}
	}
}

// That two cases are of one patient may be said after doses were given. What is
// thereby over its maximum owes a reason from then on, and says why.
func TestSamePatientSaidLater(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	give := func(id string) string {
		return submit(t, c, id, "drug", "drug", "paracetamol", "dose", "1", "dose_unit", "g", "route", "oral", "use", "analgesia-oral").Lines[0].Event.ID
	}
	first, second := planned(t, c, "80", "30", "paracetamol"), planned(t, c, "80", "30", "paracetamol")
	last := ""
	for _, id := range []string{first, second, first, second, first} {
		last = give(id)
		clock.pass(270 * time.Minute)
	}
	before := len(owing(t, c, first)) + len(owing(t, c, second))
	if before != 0 {
		t.Fatalf("owed before: %+v %+v", owing(t, c, first), owing(t, c, second))
	}
	submit(t, c, second, "facts", "same_as", first)
	o := owing(t, c, first)
	if len(o) != 1 || o[0].Over != last {
		t.Fatalf("owed in the first case: %+v", o)
	}
	cs, err := c.Case(t.Context(), first)
	if err != nil {
		t.Fatal(err)
	}
	why, err := c.Exceeded(t.Context(), cs, last)
	text := ""
	for _, x := range why {
		text += x.Text + "\n"
	}
	if err != nil || !strings.Contains(text, "said later that it is the same patient") || !strings.Contains(text, "5 g") || !strings.Contains(text, "4 g") {
		t.Errorf("5 g of 4 in a day: %q %v", text, err)
	}
	// Said again it asks no second time.
	submit(t, c, first, "facts", "same_as", second)
	if n := len(owing(t, c, first)); n != 1 {
		t.Errorf("said twice, owed %d times", n)
	}
}

// What was owed only because two cases were said to be of one patient is owed no
// longer once that is taken back, in either case and by either way; it is owed
// again when it is said again, unless somebody gave a reason meanwhile.
func TestSamePatientTakenBack(t *testing.T) {
	for _, x := range []struct {
		name     string
		from     int  // the case in which it is taken back
		together bool // the doses were given while the cases were joined
		move     bool
	}{
		{"said later, struck in the second", 1, false, false},
		{"said later, struck in the first", 0, false, false},
		{"said before, struck in the second", 1, true, false},
		{"said before, struck in the first", 0, true, false},
		{"moved to a third", 1, false, true},
	} {
		t.Run(x.name, func(t *testing.T) {
			clock := newClock()
			c := openAt(t, t.TempDir(), clock)
			ids := []string{planned(t, c, "80", "30", "paracetamol"), planned(t, c, "80", "30", "paracetamol")}
			link := func() { submit(t, c, ids[1], "facts", "same_as", ids[0]) }
			if x.together {
				link()
			}
			last := ""
			for _, n := range []int{0, 1, 0, 1, 0} {
				last = submit(t, c, ids[n], "drug", "drug", "paracetamol", "dose", "1", "dose_unit", "g", "route", "oral", "use", "analgesia-oral").Lines[0].Event.ID
				clock.pass(270 * time.Minute)
			}
			if !x.together {
				link()
			}
			if o := owing(t, c, ids[0]); len(o) != 1 || o[0].Over != last {
				t.Fatalf("owed while joined: %+v", o)
			}
			said := func() *timeline.Entry {
				cs := must.Get[*core.Case](t)(c.Case(t.Context(), ids[x.from]))
				for e, p := range timeline.Each[*timeline.Facts](cs.Entries, cs.ID) {
					if p.SameAs != "" {
						return e
					}
				}
				t.Fatal("nothing says that they are of one patient")
				return nil
			}
			e := said()
			if x.move {
				third := planned(t, c, "80", "30", "paracetamol")
				must.Get[core.Done](t)(c.Move(t.Context(), core.NewID(), ids[x.from], third, e.ID, e.HeadIDs()))
			} else {
				must.Get[core.Done](t)(c.Strike(t.Context(), core.NewID(), ids[x.from], e.ID, e.HeadIDs(), core.ReasonUndone))
			}
			for _, id := range ids {
				if o := owing(t, c, id); len(o) != 0 {
					t.Errorf("still owed: %+v", o)
				}
			}
			if x.move {
				return
			}
			e = stands(t, c, ids[x.from], e.ID)
			must.Get[core.Done](t)(c.Restore(t.Context(), core.NewID(), ids[x.from], e.ID, e.HeadIDs()))
			o := owing(t, c, ids[0])
			if len(o) != 1 || o[0].Over != last {
				t.Fatalf("owed once they are joined again: %+v", o)
			}
			submit(t, c, ids[0], "owed", "act", "given", "for", "over-limit", "debt", o[0].ID, "text", "as ordered")
			for range 2 {
				e = said()
				must.Get[core.Done](t)(c.Strike(t.Context(), core.NewID(), ids[x.from], e.ID, e.HeadIDs(), core.ReasonUndone))
				e = stands(t, c, ids[x.from], e.ID)
				must.Get[core.Done](t)(c.Restore(t.Context(), core.NewID(), ids[x.from], e.ID, e.HeadIDs()))
			}
			if o := owing(t, c, ids[0]); len(o) != 0 {
				t.Errorf("a reason was given, and is owed again: %+v", o)
			}
		})
	}
}

// A dose that is over its maximum in its own case owes its reason whether or not
// another case is joined to it.
func TestSamePatientTakenBackOwesItsOwn(t *testing.T) {
	c := openAt(t, t.TempDir(), newClock())
	first, second := planned(t, c, "80", "30", "paracetamol"), planned(t, c, "80", "30", "paracetamol")
	submit(t, c, first, "drug", "drug", "paracetamol", "dose", "5", "dose_unit", "g", "route", "oral", "use", "analgesia-oral")
	done := submit(t, c, second, "facts", "same_as", first)
	e := stands(t, c, second, done.Lines[0].Event.ID)
	must.Get[core.Done](t)(c.Strike(t.Context(), core.NewID(), second, e.ID, e.HeadIDs(), core.ReasonUndone))
	if n := len(owing(t, c, first)); n != 1 {
		t.Errorf("owed %d times", n)
	}
}

// Where the link was struck on another device the reason stays owed here, and
// the page says that nothing is exceeded any more.
func TestSamePatientTakenBackElsewhere(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	ids := []string{planned(t, c, "80", "30", "paracetamol"), planned(t, c, "80", "30", "paracetamol")}
	for _, n := range []int{0, 1, 0, 1, 0} {
		submit(t, c, ids[n], "drug", "drug", "paracetamol", "dose", "1", "dose_unit", "g", "route", "oral", "use", "analgesia-oral")
		clock.pass(270 * time.Minute)
	}
	done := submit(t, c, ids[1], "facts", "same_as", ids[0])
	e := stands(t, c, ids[1], done.Lines[0].Event.ID)
	// As it comes by a merge: the strike alone.
	must.Get[core.Done](t)(c.Record(t.Context(), core.Tap{ID: core.NewID(), Scope: timeline.ScopeCase, About: ids[1], Payload: &timeline.Struck{}, Amends: e.ID, Replaces: e.HeadIDs(), Reason: core.ReasonUndone}))
	o := owing(t, c, ids[0])
	if len(o) != 1 {
		t.Fatalf("owed: %+v", o)
	}
	cs := must.Get[*core.Case](t)(c.Case(t.Context(), ids[0]))
	why := must.Get[[]core.Cited](t)(c.Exceeded(t.Context(), cs, o[0].Over))
	if len(why) != 1 || !strings.Contains(why[0].Text, "exceeds nothing any more") {
		t.Errorf("it reads %+v", why)
	}
}
