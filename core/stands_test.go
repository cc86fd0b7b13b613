package core_test

import (
	"errors"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"chinlift/core"
	"chinlift/core/term"
	"chinlift/core/timeline"
	"chinlift/core/word"
)

// standOf gives how an entry stands to the rules, and what the list of entries
// and the page of the entry say of it.
func standOf(t *testing.T, c *core.Companion, id, entry string) (core.Stand, string, core.EntryView) {
	t.Helper()
	cs, err := c.Case(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	e := cs.Story.Find(entry)
	st, err := c.Stands(t.Context(), cs)(e, e.Now())
	if err != nil {
		t.Fatal(err)
	}
	v, err := c.EntryOf(t.Context(), id, entry)
	if err != nil {
		t.Fatal(err)
	}
	lines, err := c.Entries(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	at := slices.IndexFunc(lines, func(l core.Line) bool { return l.ID == entry })
	sheet, err := c.Sheet(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	for _, x := range sheet.Entries {
		if x.ID == entry && lines[at].Stand != "" && !strings.Contains(x.Text, "("+lines[at].Stand+")") {
			t.Errorf("the record's list says %q, want %q in it", x.Text, lines[at].Stand)
		}
	}
	return st, lines[at].Stand, v
}

// A dose that no rule can judge goes in, and everything that shows it says so
// and why.
func TestUnjudgedSaysWhy(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	if _, err := c.LayDrugFile(t.Context(), core.NewID(), "naloxone.toml", []byte("retired = true\n"+ownNaloxone), timeline.Moment{}); err != nil {
		t.Fatal(err)
	}
	for _, x := range []struct {
		why    core.Unjudged
		age    string
		weight string
		kind   string
		fields []string
		needs  string
	}{
		{core.UnjudgedDrug, "30", "60", "drug", []string{"drug", "moonflower", "dose", "1", "dose_unit", "mL", "route", "oral"}, ""},
		{core.UnjudgedRetired, "30", "60", "drug", []string{"drug", "naloxone", "dose", "1", "dose_unit", "mg", "route", "iv"}, ""},
		{core.UnjudgedRoute, "30", "60", "drug", []string{"drug", "morphine", "dose", "10", "dose_unit", "mg", "route", "topical"}, ""},
		{core.UnjudgedWay, "30", "60", "infusion", []string{"act", "started", "drug", "paracetamol", "rate", "10", "rate_unit", "mg/h", "route", "oral"}, ""},
		{core.UnjudgedPurpose, "30", "60", "drug", []string{"drug", "dantrolene", "dose", "60", "dose_unit", "mg", "route", "iv"}, ""},
		{core.UnjudgedWeight, "30", "", "drug", []string{"drug", "morphine", "dose", "10", "dose_unit", "mg", "route", "im"}, "weight"},
		{core.UnjudgedAge, "", "20", "drug", []string{"drug", "morphine", "dose", "10", "dose_unit", "mg", "route", "im"}, "age"},
		{core.UnjudgedAmount, "30", "60", "infusion", []string{"act", "started", "drug", "ketamine", "rate", "20", "rate_unit", "{drop}/min", "route", "iv"}, ""},
		{core.UnjudgedPatient, "1", "9", "drug", []string{"drug", "promethazine", "dose", "10", "dose_unit", "mg", "route", "oral"}, ""},
	} {
		id := openCaseOf(t, c, x.age, x.weight)
		done := submit(t, c, id, x.kind, x.fields...)
		entry := done.Lines[0].Event.ID
		st, note, v := standOf(t, c, id, entry)
		words := word.English().Say("stand.why." + string(x.why))
		if st.Why != x.why || !strings.Contains(note, words) || !strings.Contains(v.Unjudged, words) || v.Needs != x.needs || v.RuleConfirmed+v.RuleUnconfirmed != "" {
			t.Errorf("%s: %+v, list %q, page %q, needs %q, rule %q", x.why, st, note, v.Unjudged, v.Needs, v.RuleConfirmed+v.RuleUnconfirmed)
		}
		head := tableOf(t, c, id)
		if len(head.Unjudged) != 1 || head.Unjudged[0].Entry != entry || head.Unjudged[0].Needs != x.needs || !strings.Contains(head.Unjudged[0].Text, words) {
			t.Errorf("%s: the table says %+v", x.why, head.Unjudged)
		}
		sheet, err := c.Sheet(t.Context(), id)
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range sheet.Marks {
			if m.ID == entry && !strings.Contains(m.Open, words) {
				t.Errorf("%s: the mark says %q", x.why, m.Open)
			}
		}
		clock.pass(time.Minute)
	}
}

const ownNaloxone = `class = "opioid-antagonist"
[source.ours]
title = "What our clinic agreed on"
mark = "practice"
[[presentation]]
code = "400ug-1ml"
strength = "0.4 mg/mL"
volume = "1 mL"
source = "ours"
[[use]]
code = "reversal-iv"
purpose = "reversal"
routes = ["iv"]
given = "bolus"
source = "ours"
[[use.dose]]
low = "0.1 mg"
high = "0.4 mg"
most = "0.4 mg"
`

func openCaseOf(t testing.TB, c *core.Companion, age, weight string) string {
	t.Helper()
	fields := map[string][]string{"urgency": {"emergency"}, "sex": {"male"}}
	if age != "" {
		fields["age"], fields["age_unit"] = []string{age}, []string{"a"}
	}
	if weight != "" {
		fields["weight"], fields["weight_how"], fields["weight_by"] = []string{weight}, []string{"measured"}, []string{"scale"}
	}
	id, _, err := c.OpenCase(t.Context(), core.Form{ID: core.NewID(), Fields: fields})
	if err != nil {
		t.Fatal(err)
	}
	return id
}

// A dose that wanted a weight is judged by the weight that becomes known, and
// says so; where it exceeds the rule a reason is owed from then on, once.
func TestJudgedOnceTheWeightIsKnown(t *testing.T) {
	for _, x := range []struct {
		dose string
		over bool
	}{{"8", false}, {"16", true}} {
		clock := newClock()
		c := openAt(t, t.TempDir(), clock)
		id := openCaseOf(t, c, "30", "")
		done := submit(t, c, id, "drug", "drug", "morphine", "dose", x.dose, "dose_unit", "mg", "route", "im")
		if len(done.Lines) != 1 || len(owing(t, c, id)) != 0 {
			t.Fatalf("%s mg: %d lines, owed %v", x.dose, len(done.Lines), owing(t, c, id))
		}
		entry := done.Lines[0].Event.ID
		clock.pass(5 * time.Minute)
		f := form(id, "facts", "weight", "60", "weight_how", "guessed", "weight_by", "eye")
		for range 2 { // a retry owes it once
			if _, err := c.Submit(t.Context(), f); err != nil {
				t.Fatal(err)
			}
		}
		o := owing(t, c, id)
		if (len(o) == 1) != x.over || x.over && (o[0].Over != entry || o[0].Owed != string(term.OwedOverLimit)) {
			t.Errorf("%s mg: owed %+v", x.dose, o)
		}
		st, note, v := standOf(t, c, id, entry)
		want := map[bool]string{false: "judged later by 60 kg: within the rule", true: "judged later by 60 kg: over the rule"}[x.over]
		if st.Why != core.UnjudgedWeight || st.Late == nil || st.Late.Over != x.over || !strings.Contains(note, "no weight was known") || !strings.Contains(note, want) {
			t.Errorf("%s mg: %+v, %q", x.dose, st, note)
		}
		if len(v.Exceeds) == 0 || !strings.Contains(v.Exceeds[0].Text, "60 kg") || v.Needs != "" || v.RuleUnconfirmed == "" {
			t.Errorf("%s mg: its page says %+v", x.dose, v)
		}
		if said := slices.ContainsFunc(v.Exceeds, func(x core.Cited) bool { return strings.Contains(x.Text, "10 mg") && x.Source != "" }); said != x.over {
			t.Errorf("%s mg: its page says %+v", x.dose, v.Exceeds)
		}
		if h := tableOf(t, c, id); len(h.Unjudged) > 0 {
			t.Errorf("%s mg: the table still says %+v", x.dose, h.Unjudged)
		}
		// A weight that puts it within the rule ends what was owed.
		if x.over {
			submit(t, c, id, "owed", "act", "given", "for", "over-limit", "debt", o[0].ID, "text", "as ordered")
			submit(t, c, id, "facts", "weight", "61", "weight_how", "guessed", "weight_by", "eye")
			if o := owing(t, c, id); len(o) != 0 {
				t.Errorf("a reason that was given is owed again: %+v", o)
			}
		}
	}
}

// What a weight makes owed, a better weight makes owed no longer.
func TestBetterWeightEndsWhatWasOwed(t *testing.T) {
	c := openAt(t, t.TempDir(), newClock())
	id := openCaseOf(t, c, "30", "")
	submit(t, c, id, "drug", "drug", "ketamine", "dose", "120", "dose_unit", "mg", "route", "iv")
	submit(t, c, id, "facts", "weight", "40", "weight_how", "guessed", "weight_by", "eye")
	if o := owing(t, c, id); len(o) != 1 {
		t.Fatalf("120 mg at 40 kg: owed %+v", o)
	}
	submit(t, c, id, "facts", "weight", "80", "weight_how", "measured", "weight_by", "scale")
	if o := owing(t, c, id); len(o) != 0 {
		t.Errorf("120 mg at 80 kg: owed %+v", o)
	}
}

// Each dose says for itself whether its rule stood confirmed when it was given.
func TestHandoverSaysWhichDose(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	if _, err := c.NameAuthor(t.Context(), core.NewID(), "Ann Invented"); err != nil {
		t.Fatal(err)
	}
	id := planned(t, c, "60", "30", "morphine")
	give := func() {
		submit(t, c, id, "drug", "drug", "morphine", "use", "analgesia-im", "route", "im", "dose", "5", "dose_unit", "mg")
		clock.pass(4 * time.Hour)
	}
	give()
	give()
	given := func() string {
		text, _ := handed(t, c, id, "given")
		return text
	}
	if text := given(); !strings.Contains(text, "08:00 5 mg IM, 12:00 5 mg IM (all of them: its dose rule was confirmed by nobody here)") {
		t.Errorf("two by an unconfirmed rule: %s", text)
	}
	hash := doses(t, c, id, "morphine", "analgesia-im")[0].Hash
	if _, err := c.Confirm(t.Context(), core.NewID(), "morphine", "analgesia-im", hash, false); err != nil {
		t.Fatal(err)
	}
	give()
	if text := given(); !strings.Contains(text, "12:00 5 mg IM (its dose rule was confirmed by nobody here), 16:00 5 mg IM ·") {
		t.Errorf("the third by a confirmed rule: %s", text)
	}
	// The drawing takes the new sign: what was drawn is drawn again.
	tiles := func() []core.Tile {
		cs, err := c.Case(t.Context(), id)
		if err != nil {
			t.Fatal(err)
		}
		all, err := c.Tiles(t.Context(), cs)
		if err != nil {
			t.Fatal(err)
		}
		return all
	}
	before := tiles()
	sheet, err := c.Sheet(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	var open []bool
	for _, m := range sheet.Marks {
		open = append(open, m.Open != "")
	}
	if !slices.Equal(open, []bool{true, true, false}) {
		t.Errorf("open marks: %v", open)
	}
	if after := tiles(); !slices.Equal(before, after) {
		t.Error("a tile is another without any change")
	}
}

// What runs in by counted drops is on board once somebody said how many drops
// of the sets make a mL: the more of what that can be, with the range beside
// it. Before that it is said not to be counted, and the rate is not judged.
func TestDropsCount(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	id := planned(t, c, "60", "30", "ketamine")
	run := func() string {
		done := submit(t, c, id, "infusion", "act", "started", "drug", "ketamine", "rate", "40", "rate_unit", "{drop}/min", "strength", "1", "strength_unit", "mg/mL", "route", "iv")
		return done.Lines[0].Event.ID
	}
	board := func() string { return strings.Join(doses(t, c, id, "ketamine", "top-up-iv")[0].Board, " | ") }
	first := run()
	clock.pass(30 * time.Minute)
	if b := board(); !strings.Contains(b, "not counted: ketamine 40 drops/min") {
		t.Errorf("without a set: %q", b)
	}
	if st, _, _ := standOf(t, c, id, first); st.Why != core.UnjudgedAmount {
		t.Errorf("without a set: %+v", st)
	}
	if _, err := c.SetClinic(t.Context(), core.NewID(), "giving-set", "20"); err != nil {
		t.Fatal(err)
	}
	// 40 drops/min by 20 in a mL are 2 mL/min: 60 mL of 1 mg/mL in half an hour,
	// a tenth less or more; 54 to 66 mg.
	if b := board(); !strings.Contains(b, "of it ketamine by 40 drops/min: 54 to 66 mg") || !strings.Contains(b, "on board 66 mg") || strings.Contains(b, "not counted") {
		t.Errorf("by a set of 20: %q", b)
	}
	// Its rate is judged from then on: 120 mg/h, of at most 162 mg/h.
	second := run()
	if st, _, _ := standOf(t, c, id, second); st.Why != "" {
		t.Errorf("by a set of 20: %+v", st)
	}
	if p := stands(t, c, id, second).Now().Payload.(*timeline.Infusion); p.Frozen == nil || p.Rate.String() != "40 {drop}/min" {
		t.Errorf("the entry: %+v", p)
	}
	if d := doses(t, c, id, "ketamine", "infusion-iv")[0]; !strings.Contains(d.HowTo, "where the set gives 20 in a mL") {
		t.Errorf("how to: %q", d.HowTo)
	}
	clock.pass(time.Second)
	if _, err := c.SetClinic(t.Context(), core.NewID(), "giving-set", "60"); err != nil {
		t.Fatal(err)
	}
	if d := doses(t, c, id, "ketamine", "infusion-iv")[0]; !strings.Contains(d.HowTo, "where the set gives 60 in a mL") {
		t.Errorf("how to: %q", d.HowTo)
	}
	// What hangs keeps the set that it was hung with, also at another rate; what
	// is hung after runs through the new one: 20 mL of 1 mg/mL in half an hour.
	if b := board(); !strings.Contains(b, "40 drops/min: 54.1 to 66 mg") {
		t.Errorf("another set makes another amount of what ran: %q", b)
	}
	clock.pass(time.Minute)
	submit(t, c, id, "infusion", "act", "stopped", "drug", "ketamine", "run", first)
	submit(t, c, id, "infusion", "act", "changed", "drug", "ketamine", "run", second, "rate", "20", "rate_unit", "{drop}/min")
	run()
	clock.pass(30 * time.Minute)
	if b := board(); !strings.Contains(b, "by 20 drops/min: 27 to 33 mg") || !strings.Contains(b, "by 40 drops/min: 18 to 22 mg") {
		t.Errorf("by the set that each was hung with: %q", b)
	}
}

// A dose and the weight that it wants, tapped at once on two screens: whichever is
// stored second knows of the other, so that the reason is owed in any case.
func TestDoseAndWeightAtOnce(t *testing.T) {
	c := openAt(t, t.TempDir(), newClock())
	for range 12 {
		id := openCaseOf(t, c, "30", "")
		forms := []core.Form{
			form(id, "drug", "drug", "morphine", "dose", "16", "dose_unit", "mg", "route", "im"),
			form(id, "facts", "weight", "60", "weight_how", "guessed", "weight_by", "eye"),
		}
		errs := make([]error, len(forms))
		var both sync.WaitGroup
		for i, f := range forms {
			both.Go(func() { _, errs[i] = c.Submit(t.Context(), f) })
		}
		both.Wait()
		if err := errors.Join(errs...); err != nil {
			t.Fatal(err)
		}
		if o := owing(t, c, id); len(o) != 1 || o[0].Over != forms[0].ID {
			t.Fatalf("owed %+v", o)
		}
	}
}
