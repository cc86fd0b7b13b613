package core_test

import (
	"fmt"
	"io"
	"reflect"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"chinlift/core"
	"chinlift/core/quantity"
	"chinlift/core/record"
	"chinlift/core/term"
	"chinlift/core/timeline"
)

// figuresOf gives the page, and fails where it cannot be had.
func figuresOf(t testing.TB, c *core.Companion, ask core.FigureAsk) core.FiguresView {
	t.Helper()
	v, err := c.Figures(t.Context(), ask)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// flatFigures writes rows as "technique/spinal 2", rates as "trouble/apnoea 1 of 3 ...".
func flatFigures(v core.FiguresView) map[string]string {
	all := map[string]string{}
	for _, x := range v.Tables {
		for _, r := range x.Rows {
			all[x.Code+"/"+r.Words] = fmt.Sprint(r.N)
		}
		all[x.Code+"/?"] = fmt.Sprint(x.Unsaid)
	}
	for _, x := range v.Rates {
		for _, r := range x.Rows {
			all[x.Code+"/"+r.Words] = plainSpaces(r.Of + " " + r.Interval)
		}
	}
	for _, u := range v.Used {
		all["used/"+u.Words] = plainSpaces(fmt.Sprintf("%s in %d", u.Amount, u.Cases))
	}
	return all
}

func plainSpaces(s string) string { return strings.ReplaceAll(s, "\u00a0", " ") }

// threeCases: a spinal with a supervisor by phone and a failed block, ether by
// open drop in a child, and one that was never begun.
func threeCases(t testing.TB, c *core.Companion, clock *fakeClock) (spinal, drop, planned string) {
	t.Helper()
	version := strings.Repeat("a", 64)
	spinal = openCase(t, c, "Quentin Invented")
	submit(t, c, spinal, "facts", "age", "30", "age_unit", "a", "sex", "female", "asa", "2", "supervision", "by-phone")
	submit(t, c, spinal, "plan", "techniques", "spinal", "operation", "caesarean", "text", "secret words")
	submit(t, c, spinal, "phase", "phase", "anaesthesia-start")
	submit(t, c, spinal, "block", "block", "spinal")
	submit(t, c, spinal, "drug", "drug", "bupivacaine", "dose", "2", "dose_unit", "mL", "strength", "5", "strength_unit", "mg/mL", "route", "intrathecal")
	submit(t, c, spinal, "trouble", "trouble", "failed-block", "act", "begun")
	submit(t, c, spinal, "trouble", "trouble", "failed-block", "act", "over")
	submit(t, c, spinal, "mark", "label", "coughed")
	clock.pass(time.Hour)
	submit(t, c, spinal, "phase", "phase", "anaesthesia-end")
	submit(t, c, spinal, "outcome", "outcome", "recovered")
	submit(t, c, spinal, "follow-up", "version", version, "question", "nerve", "answer", "yes")
	submit(t, c, spinal, "case-closed")

	clock.pass(40 * 24 * time.Hour)
	drop = openCase(t, c, "")
	submit(t, c, drop, "facts", "age", "3", "age_unit", "a")
	submit(t, c, drop, "agent", "agent", "ether", "drops", "60")
	clock.pass(30 * time.Minute)
	submit(t, c, drop, "airway", "device", "oral-airway", "act", "in")
	submit(t, c, drop, "agent", "agent", "ether", "off", "yes")
	submit(t, c, drop, "phase", "phase", "anaesthesia-end")
	submit(t, c, drop, "phase", "phase", "handed-over")

	planned = openCase(t, c, "")
	submit(t, c, planned, "plan", "techniques", "spinal")
	return spinal, drop, planned
}

func TestFigures(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	if v := figuresOf(t, c, core.FigureAsk{}); v.Cases != 0 || len(v.Tables)+len(v.Rates)+len(v.Used) != 0 {
		t.Errorf("of none: %+v", v)
	}
	spinal, drop, _ := threeCases(t, c, clock)
	v := figuresOf(t, c, core.FigureAsk{})
	if v.Cases != 2 || v.NotBegun != 1 {
		t.Fatalf("%d cases, %d not begun", v.Cases, v.NotBegun)
	}
	got := flatFigures(v)
	for key, want := range map[string]string{
		"technique/spinal": "1", "technique/open drop on a mask": "1", "technique/?": "0",
		"age/18 to 39 years": "1", "age/1 to 4 years": "1", "asa/ASA 2": "1", "asa/?": "1",
		"supervision/somebody by phone": "1", "supervision/?": "1", "operation/caesarean section": "1", "airway/oral airway": "1",
		"trouble/failed block": "1 of 2 · 50 % 95 % interval 9.5 % to 90.5 %", "trouble/no trouble recorded": "1 of 2 · 50 % 95 % interval 9.5 % to 90.5 %",
		"outcome/recovered":                     "1 of 1 · 100 % 95 % interval 20.7 % to 100 %",
		"asked/anything answered, of all cases": "1 of 2 · 50 % 95 % interval 9.5 % to 90.5 %",
		"used/bupivacaine":                      "10 mg in 1",
	} {
		if got[key] != want {
			t.Errorf("%s: %q, want %q", key, got[key], want)
		}
	}
	if ether := got["used/ether"]; !strings.Contains(ether, "mL in 1") {
		t.Errorf("half an hour of 60 drops: %q", ether)
	}
	if months := v.Tables[0].Rows; len(months) != 3 && len(months) != 2 || months[0].N != 1 || months[len(months)-1].N != 1 {
		t.Errorf("months: %+v", months)
	}
	for name, ask := range map[string]core.FigureAsk{
		"technique": {Technique: "spinal"}, "trouble": {Trouble: "failed-block"}, "mark": {Mark: "coughed"}, "when": {When: clock.wall.AddDate(0, 0, -40).Format("2006-01")},
	} {
		if v := figuresOf(t, c, ask); v.Cases != 1 || flatFigures(v)["technique/spinal"] != "1" {
			t.Errorf("by %s: %d cases, %v", name, v.Cases, flatFigures(v))
		}
	}
	// A strike, an entry that is moved, and a supervision that is answered anew
	// change the figures as they change the case.
	cs, err := c.Case(t.Context(), spinal)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range cs.Entries {
		switch e.Now().Payload.(type) {
		case *timeline.Trouble:
			if _, err := c.Strike(t.Context(), core.NewID(), spinal, e.ID, e.HeadIDs(), term.ReasonTappedByMistake); err != nil {
				t.Fatal(err)
			}
		case *timeline.Drug:
			if _, err := c.Move(t.Context(), core.NewID(), spinal, drop, e.ID, e.HeadIDs()); err != nil {
				t.Fatal(err)
			}
		}
	}
	submit(t, c, spinal, "facts", "supervision", "alone")
	got = flatFigures(figuresOf(t, c, core.FigureAsk{Technique: "spinal"}))
	if _, still := got["used/bupivacaine"]; still || got["trouble/no trouble recorded"] != "1 of 1 · 100 % 95 % interval 20.7 % to 100 %" || got["supervision/alone, nobody supervises"] != "1" {
		t.Errorf("after corrections: %v", got)
	}
	if got := flatFigures(figuresOf(t, c, core.FigureAsk{Technique: "open-drop"})); got["used/bupivacaine"] != "10 mg in 1" {
		t.Errorf("the dose was moved: %v", got)
	}
}

// From thousands of cases only those are read that changed.
func TestFiguresReadNoCaseTwice(t *testing.T) {
	clock := newClock()
	dir := t.TempDir()
	c := openAt(t, dir, clock)
	const n = 2000
	var ids []string
	var taps []core.Tap
	for range n {
		id := core.NewID()
		ids = append(ids, id)
		taps = append(taps,
			core.Tap{ID: core.NewID(), Scope: timeline.ScopeCase, About: id, Payload: &timeline.CaseOpened{Patient: core.NewID()}},
			core.Tap{ID: core.NewID(), Scope: timeline.ScopeCase, About: id, Payload: &timeline.Phase{Phase: term.PhaseAnaesthesiaStart}},
			core.Tap{ID: core.NewID(), Scope: timeline.ScopeCase, About: id, Payload: &timeline.CaseClosed{}})
	}
	if _, err := c.Record(t.Context(), taps...); err != nil {
		t.Fatal(err)
	}
	reads := func(c *core.Companion) int64 {
		t.Helper()
		before := c.Reads()
		if v := figuresOf(t, c, core.FigureAsk{}); v.Cases != n {
			t.Fatalf("%d cases", v.Cases)
		}
		return c.Reads() - before
	}
	first := reads(c)
	if first < n {
		t.Errorf("the first look reads %d times, and cannot know %d cases", first, n)
	}
	again := reads(c)
	if again > 4 {
		t.Errorf("a second look reads %d times", again)
	}
	for _, id := range ids[:3] {
		submit(t, c, id, "mark")
	}
	if changed := reads(c); changed != again+3 {
		t.Errorf("after 3 cases changed it reads %d times, %d without", changed, again)
	}
	if err := c.Close(); err != nil {
		t.Fatal(err)
	}
	// Also after the program was ended, and for one that only reads.
	c = openAt(t, dir, clock)
	if fresh := reads(c); fresh > 6 {
		t.Errorf("after opening it reads %d times", fresh)
	}
	beside, err := core.OpenReadOnly(t.Context(), core.Options{Dir: dir, Clock: clock, Words: c.Words()})
	if err != nil {
		t.Fatal(err)
	}
	defer beside.Close()
	if fresh := reads(beside); fresh > 6 {
		t.Errorf("beside another it reads %d times", fresh)
	}
	submit(t, c, ids[7], "mark")
	if fresh := reads(beside); fresh != again+1 {
		t.Errorf("beside another that wrote it reads %d times, %d before", fresh, again)
	}
	if fresh := reads(beside); fresh != again {
		t.Errorf("what is worked out in memory is read again: %d times", fresh)
	}
}

// Whatever is done to the cases, and in whatever order it is looked at, the
// figures are those that a device would have that worked them out at once.
func TestFiguresAreThoseFromScratch(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	ctx := t.Context()
	rapid.Check(t, func(rt *rapid.T) {
		ids := []string{core.NewID(), core.NewID()}
		for _, id := range ids {
			if _, err := c.Record(ctx, core.Tap{ID: core.NewID(), Scope: timeline.ScopeCase, About: id, Payload: &timeline.CaseOpened{Patient: core.NewID()}}); err != nil {
				rt.Fatal(err)
			}
		}
		techniques := []string{"spinal", "ketamine", "open-drop"}
		for range rapid.IntRange(1, 14).Draw(rt, "steps") {
			clock.pass(time.Duration(rapid.IntRange(1, 40).Draw(rt, "minutes")) * time.Minute)
			at := rapid.IntRange(0, 1).Draw(rt, "case")
			id, other := ids[at], ids[1-at]
			switch rapid.IntRange(0, 11).Draw(rt, "what") {
			case 0:
				submit(t, c, id, "plan", "techniques", rapid.SampledFrom(techniques).Draw(rt, "technique"))
			case 1:
				submit(t, c, id, "facts", "asa", "3", "age", fmt.Sprint(rapid.IntRange(1, 90).Draw(rt, "age")), "age_unit", "a", "supervision", "in-the-room")
			case 2:
				submit(t, c, id, "phase", "phase", "anaesthesia-start")
			case 3:
				submit(t, c, id, "agent", "agent", "ether", "drops", "40")
			case 4:
				submit(t, c, id, "drug", "drug", "ketamine", "dose", "50", "dose_unit", "mg", "route", "iv")
			case 5:
				submit(t, c, id, "trouble", "trouble", "apnoea", "act", "begun")
			case 6:
				submit(t, c, id, "performed", "operation", "hernia", "techniques", rapid.SampledFrom(techniques).Draw(rt, "done"))
			case 7, 8, 9, 10: // a correction of something
				cs, err := c.Case(ctx, id)
				if err != nil {
					rt.Fatal(err)
				}
				e := cs.Entries[rapid.IntRange(0, len(cs.Entries)-1).Draw(rt, "entry")]
				switch rapid.IntRange(0, 3).Draw(rt, "correction") {
				case 0:
					_, err = c.Strike(ctx, core.NewID(), id, e.ID, e.HeadIDs(), term.ReasonMistyped)
				case 1:
					_, err = c.Restore(ctx, core.NewID(), id, e.ID, e.HeadIDs())
				case 2:
					_, err = c.Move(ctx, core.NewID(), id, other, e.ID, e.HeadIDs())
				default: // two corrections that had not seen each other
					for _, n := range []string{"20", "30"} {
						if p, ok := e.Now().Payload.(*timeline.AgentDelivery); ok && !e.Now().Struck && e.In(id) {
							q := *p
							submitted := core.Tap{ID: core.NewID(), Scope: timeline.ScopeCase, About: id, Payload: &q, Amends: e.ID, Replaces: []string{e.ID}, Reason: term.ReasonMistyped}
							q.Drops = quantity.MustParse(n + " {drop}/min")
							if _, err := c.Record(ctx, submitted); err != nil {
								rt.Logf("refused: %v", err)
							}
						}
					}
				}
				if err != nil {
					rt.Logf("refused: %v", err) // of an entry that it does not suit: nothing was written
				}
			default:
				figuresOf(t, c, core.FigureAsk{}) // keeps what there is
			}
		}
		if rapid.Bool().Draw(rt, "from the disk") {
			c.ForgetFigures()
		}
		got := figuresOf(t, c, core.FigureAsk{})
		if err := c.DropFigures(t.Context()); err != nil {
			rt.Fatal(err)
		}
		want := figuresOf(t, c, core.FigureAsk{})
		if !reflect.DeepEqual(got, want) {
			rt.Fatalf("kept:\n%+v\nfrom scratch:\n%+v", got, want)
		}
	})
}

func TestSearch(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	spinal, drop, planned := threeCases(t, c, clock)
	find := func(ask core.FigureAsk) []string {
		t.Helper()
		v, err := c.Search(t.Context(), ask, 0)
		if err != nil {
			t.Fatal(err)
		}
		var ids []string
		for _, l := range v.Cases {
			ids = append(ids, l.Case)
		}
		if !reflect.DeepEqual(ids, v.All) || v.Total != len(ids) {
			t.Errorf("%v of %v", ids, v.All)
		}
		return ids
	}
	first := clock.wall.AddDate(0, 0, -40)
	for name, x := range map[string]struct {
		ask  core.FigureAsk
		want []string
	}{
		"all, the latest first": {core.FigureAsk{}, []string{planned, drop, spinal}},
		"technique, planned":    {core.FigureAsk{Technique: "spinal"}, []string{planned, spinal}},
		"technique, seen":       {core.FigureAsk{Technique: "open-drop"}, []string{drop}},
		"trouble":               {core.FigureAsk{Trouble: "failed-block"}, []string{spinal}},
		"mark":                  {core.FigureAsk{Mark: "coughed"}, []string{spinal}},
		"month":                 {core.FigureAsk{When: first.Format("2006-01")}, []string{spinal}},
		"two at once":           {core.FigureAsk{Mark: "coughed", Technique: "open-drop"}, nil},
	} {
		if got := find(x.ask); !reflect.DeepEqual(got, x.want) {
			t.Errorf("%s: %v, want %v", name, got, x.want)
		}
	}
	// What is no code and no time asks for all; pages go on and end.
	if a := core.AskFigures(func(string) string { return "'; DROP TABLE line" }); a != (core.FigureAsk{}) {
		t.Errorf("%+v", a)
	}
	for range 40 {
		openCase(t, c, "")
	}
	seen := map[string]bool{}
	for page, next := 0, true; next; page++ {
		v, err := c.Search(t.Context(), core.FigureAsk{}, page)
		if err != nil || v.Page != page || v.Before != (page > 0) {
			t.Fatalf("page %d: %+v %v", page, v, err)
		}
		for _, l := range v.Cases {
			seen[l.Case] = true
		}
		next = v.Next
	}
	if len(seen) != 43 {
		t.Errorf("%d cases on all pages", len(seen))
	}
	if v, err := c.Search(t.Context(), core.FigureAsk{}, 999); err != nil || v.Page != 2 || len(v.Cases) != 3 {
		t.Errorf("beyond the last page: %+v %v", v, err)
	}
}

// The picks show only what would find something, and what is picked.
func TestPicks(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	threeCases(t, c, clock)
	v := figuresOf(t, c, core.FigureAsk{Trouble: "apnoea", Technique: "spinal"})
	for _, p := range v.Picks {
		here := 0
		for _, o := range p.Options {
			if o.Here {
				here++
			} else if o.Cases == 0 && o.Code != "" {
				t.Errorf("%s: %q finds nothing", p.Name, o.Code)
			}
		}
		if here != 1 || p.Now == "" {
			t.Errorf("%s: %d are picked, %q", p.Name, here, p.Now)
		}
	}
}

func TestLogbookPaper(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	if _, err := c.NameAuthor(t.Context(), core.NewID(), "Ann Invented"); err != nil {
		t.Fatal(err)
	}
	threeCases(t, c, clock)
	read := func(ask core.FigureAsk, private bool) string {
		t.Helper()
		return printed(t, func(w io.Writer) error { return c.LogbookPaper(t.Context(), w, record.A4, ask, private) })
	}
	text := read(core.FigureAsk{}, false)
	for _, has := range []string{"Logbook", "2 cases", "18 to 39 years", "ASA 2", "caesarean", "supervision: somebody by phone", "trouble: failed block", "outcome: recovered", "the day after: 1 answer, ", "signature", "I have seen these cases", "part played: "} {
		if !strings.Contains(text, has) {
			t.Errorf("the logbook lacks %q: %s", has, text)
		}
	}
	for _, hidden := range []string{"Quentin", "secret", "Ann Invented", "30 years"} {
		if strings.Contains(text, hidden) {
			t.Errorf("%q is on it: %s", hidden, text)
		}
	}
	text = read(core.FigureAsk{}, true)
	for _, has := range []string{"Quentin", "secret words", "Ann Invented", "30"} {
		if !strings.Contains(text, has) {
			t.Errorf("with the private part it lacks %q: %s", has, text)
		}
	}
	if text = read(core.FigureAsk{Trouble: "apnoea"}, false); !strings.Contains(text, "No case whose anaesthetic has begun") || strings.Contains(text, "signature") {
		t.Errorf("of none: %s", text)
	}
}

// TestWhoseLogbook: where two people give anaesthetics here, the cases of each
// can be picked, on the page, on paper and in the table; where one does, nobody
// is asked.
func TestWhoseLogbook(t *testing.T) {
	clock := newClock()
	a, b := openAt(t, t.TempDir(), clock), openAt(t, t.TempDir(), clock)
	mine, _, _ := threeCases(t, a, clock)
	if _, err := a.NameAuthor(t.Context(), core.NewID(), "Ada Invented"); err != nil {
		t.Fatal(err)
	}
	by := func(v core.FiguresView) []core.FigureOption {
		for _, p := range v.Picks {
			if p.Name == "by" {
				return p.Options
			}
		}
		return nil
	}
	if o := by(figuresOf(t, a, core.FigureAsk{})); o != nil {
		t.Errorf("one person, and asked whose: %+v", o)
	}
	threeCases(t, b, clock)
	if _, err := a.Merge(t.Context(), exported(t, b)); err != nil {
		t.Fatal(err)
	}
	options := by(figuresOf(t, a, core.FigureAsk{}))
	if len(options) != 3 || options[0].Code != "" || options[0].Cases != 4 {
		t.Fatalf("%+v", options)
	}
	names := map[string]string{}
	for _, o := range options[1:] {
		names[o.Code] = o.Words
		if o.Cases != 2 {
			t.Errorf("%+v", o)
		}
	}
	if names[a.Author()] != "Ada Invented" || !strings.Contains(names[b.Author()], "without a name") {
		t.Errorf("%v", names)
	}
	ask := core.AskFigures(func(name string) string { return map[string]string{"by": a.Author()}[name] })
	if ask.By != a.Author() {
		t.Fatalf("%+v", ask)
	}
	if bad := core.AskFigures(func(string) string { return "x' or 1" }); bad.By != "" {
		t.Errorf("%+v", bad)
	}
	if v := figuresOf(t, a, ask); v.Cases != 2 {
		t.Errorf("%d cases are mine", v.Cases)
	}
	ids, err := a.FigureCases(t.Context(), ask)
	if err != nil || len(ids) != 2 || ids[0] != mine {
		t.Errorf("%v, %v; mine was %s", ids, err, mine)
	}
	paper := func(ask core.FigureAsk, private bool) string {
		return printed(t, func(w io.Writer) error { return a.LogbookPaper(t.Context(), w, record.A4, ask, private) })
	}
	if text := paper(ask, true); !strings.Contains(text, "Ada Invented") || !strings.Contains(text, "2 cases") {
		t.Errorf("my logbook:\n%s", text)
	}
	if text := paper(ask, false); strings.Contains(text, "Ada Invented") {
		t.Error("without names it names me")
	}
	if text := paper(core.FigureAsk{}, true); strings.Contains(text, "Logbook · Ada") {
		t.Error("a logbook of two people bears one name")
	}
}
