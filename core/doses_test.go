package core_test

import (
	"errors"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"chinlift/core"
	"chinlift/core/formulary"
	"chinlift/core/record"
	"chinlift/core/term"
	"chinlift/core/timeline"
	"chinlift/core/word"
)

// Every code that a dose rule can speak in has its words: those of the engine,
// and those of the files that come with the companion.
func TestWordsOfRules(t *testing.T) {
	book := word.English()
	want := func(key string) {
		t.Helper()
		if !book.Has(key) {
			t.Errorf("the catalogue has no %s", key)
		}
	}
	for _, c := range formulary.StepCodes {
		want("formulary.step." + string(c))
	}
	for _, c := range formulary.ExceedsCodes {
		want("formulary.exceeds." + string(c))
	}
	for _, c := range formulary.TimingCodes {
		want("formulary.timing." + string(c))
	}
	for _, c := range formulary.MuchCodes {
		want("formulary.much." + string(c))
	}
	for _, c := range []formulary.Limit{formulary.LimitMost, formulary.LimitMostPerKg, formulary.LimitTotal, formulary.LimitGroup} {
		want("formulary.limit." + string(c))
	}
	for _, c := range []formulary.Group{formulary.Opioids, formulary.LocalAnaesthetics} {
		want("formulary.group." + string(c))
	}
	for _, c := range []formulary.Form{formulary.Tablet, formulary.Suppository, formulary.Puff} {
		want("formulary.form." + string(c))
	}
	for _, c := range core.UnjudgedCodes {
		want("stand.why." + string(c))
	}
	f, err := formulary.Builtin()
	if err != nil {
		t.Fatal(err)
	}
	if len(f.Drugs()) < 60 {
		t.Errorf("%d drugs are too few to be all", len(f.Drugs()))
	}
	for _, d := range f.Drugs() {
		want("drug." + d.Code)
		for _, r := range d.Reduces {
			want("formulary.reduce." + r.Code)
		}
		for _, a := range d.Alerts {
			want("formulary.alert." + a.Code)
		}
	}
}

// planned opens a case of a patient with a plan of drugs.
func planned(t *testing.T, c *core.Companion, kg, years string, drugs ...string) string {
	t.Helper()
	id := openCase(t, c, "")
	submit(t, c, id, "facts", "age", years, "age_unit", "a", "sex", "male", "weight", kg, "weight_how", "measured", "weight_by", "scale")
	var fields []string
	for _, d := range drugs {
		fields = append(fields, "drugs", d)
	}
	submit(t, c, id, "plan", append(fields, "techniques", "open-drop")...)
	return id
}

func doses(t *testing.T, c *core.Companion, id, drug, use string) []core.DoseView {
	t.Helper()
	cs, err := c.Case(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	all, err := c.Doses(t.Context(), cs, drug, use)
	if err != nil {
		t.Fatal(err)
	}
	return all
}

func owing(t *testing.T, c *core.Companion, id string) []core.Line {
	t.Helper()
	return tableOf(t, c, id).Owing
}

// A dose is offered by rule and weight, and a tap on it freezes what the rule
// said. Within the rule nothing is owed.
func TestDoseByRule(t *testing.T) {
	c := openAt(t, t.TempDir(), newClock())
	id := planned(t, c, "60", "30", "morphine")
	d := doses(t, c, id, "morphine", "premedication-im")[0]
	i := slices.IndexFunc(d.Keys, func(k core.DoseKey) bool { return k.Suggested })
	// 0.15 mg/kg by 60 kg: WHO Model Formulary 2008, from memory.
	if i < 0 || d.Keys[i].Text != "9 mg" || d.Keys[i].Sub != "0.9 mL of 10 mg/mL" {
		t.Fatalf("offered: %+v (%s)", d.Keys, d.Problem)
	}
	done := submit(t, c, id, d.Keys[i].Set[1], d.Keys[i].Set[2:]...)
	p := done.Lines[0].Payload.(*timeline.Drug)
	if p.Frozen == nil || p.Frozen.Use != "premedication-im" || string(p.Frozen.Rule) != d.Hash {
		t.Fatalf("what the rule said is not frozen: %+v", p.Frozen)
	}
	if got := p.Frozen.Weight.String() + " " + p.Frozen.Low.String() + " " + p.Frozen.High.String(); got != "60 kg 6 mg 10 mg" {
		t.Errorf("frozen: %s", got)
	}
	if p.Volume.String() != "0.9 mL" || p.Strength.String() != "10 mg/mL" {
		t.Errorf("volume %s of %s", p.Volume, p.Strength)
	}
	if o := owing(t, c, id); len(o) != 0 {
		t.Errorf("owed: %+v", o)
	}
	// What was given counts: another 9 mg come to 18 of 24 mg in 4 h, and wait.
	again := doses(t, c, id, "morphine", "analgesia-im")[0]
	if again.Next == "" || !slices.ContainsFunc(again.Board, func(b string) bool { return strings.Contains(b, "9 mg") && strings.Contains(b, "24 mg") }) {
		t.Errorf("on board %v, next %q", again.Board, again.Next)
	}
}

// A dose over the rule goes in at once, and a reason is owed for it. A retry
// owes it once; an undo owes nothing.
func TestDoseOverTheRule(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	id := planned(t, c, "60", "30", "morphine")
	// A quarter of a grain: common practice, no source.
	f := form(id, "drug", "drug", "morphine", "dose", "1/4", "dose_unit", "[gr]", "route", "im")
	for range 2 {
		done, err := c.Submit(t.Context(), f)
		if err != nil {
			t.Fatal(err)
		}
		if len(done.Lines) != 2 {
			t.Fatalf("%d lines, want the drug and the reason owed", len(done.Lines))
		}
		clock.pass(time.Second)
	}
	o := owing(t, c, id)
	if len(o) != 1 || o[0].Owed != string(term.OwedOverLimit) || o[0].Over != f.ID {
		t.Fatalf("owed: %+v", o)
	}
	cs, err := c.Case(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	why, err := c.Exceeded(t.Context(), cs, f.ID)
	if err != nil {
		t.Fatal(err)
	}
	if !slices.ContainsFunc(why, func(x core.Cited) bool {
		return strings.Contains(x.Text, "maximum of a single dose, 10 mg") && x.Source != ""
	}) {
		t.Errorf("why: %+v", why)
	}
	submit(t, c, id, "owed", "act", "given", "for", "over-limit", "debt", o[0].ID, "text", "as ordered")
	if o := owing(t, c, id); len(o) != 0 {
		t.Errorf("still owed: %+v", o)
	}
}

// Nobody is refused a fact: no weight, no rule, no use, a drug that no file
// knows.
func TestDoseWithoutARule(t *testing.T) {
	c := openAt(t, t.TempDir(), newClock())
	id, _, err := c.OpenCase(t.Context(), core.Form{ID: core.NewID(), Fields: map[string][]string{"urgency": {"emergency"}}})
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range [][]string{
		{"drug", "morphine", "dose", "10", "dose_unit", "mg", "route", "im"},
		{"drug", "moonflower", "dose", "1", "dose_unit", "mL", "route", "oral"},
		{"drug", "morphine", "dose", "10", "dose_unit", "mg", "route", "topical"},
	} {
		done := submit(t, c, id, "drug", f...)
		if p := done.Lines[0].Payload.(*timeline.Drug); p.Frozen != nil {
			t.Errorf("%v: no rule could say %+v", f, p.Frozen)
		}
	}
	d := doses(t, c, id, "morphine", "premedication-im")[0]
	if len(d.Keys) != 0 || !strings.Contains(d.Problem, "weight") {
		t.Errorf("without a weight: keys %v, problem %q", d.Keys, d.Problem)
	}
}

// A correction of the amount leaves what the rule had said.
func TestCorrectionKeepsTheFrozenRule(t *testing.T) {
	c := openAt(t, t.TempDir(), newClock())
	id := planned(t, c, "60", "30", "ketamine")
	done := submit(t, c, id, "drug", "drug", "ketamine", "dose", "100", "dose_unit", "mg", "route", "iv", "use", "induction-iv")
	e := done.Lines[0].Event.ID
	submit(t, c, id, "drug", "drug", "ketamine", "dose", "110", "dose_unit", "mg", "route", "iv", "amends", e, "heads", e, "reason", "mistyped")
	now := stands(t, c, id, e).Now().Payload.(*timeline.Drug)
	if now.Dose.String() != "110 mg" || now.Frozen == nil || now.Frozen.Use != "induction-iv" {
		t.Errorf("after the correction: %+v", now)
	}
}

// Conditions are answered one by one, and the last answer about each stands.
func TestConditions(t *testing.T) {
	c := openAt(t, t.TempDir(), newClock())
	id := planned(t, c, "60", "30", "ketamine")
	if d := doses(t, c, id, "ketamine", "induction-iv")[0]; len(d.Stops) != 0 || len(d.Keys) == 0 || len(d.Unasked) == 0 {
		t.Fatalf("a healthy man: %+v", d)
	}
	submit(t, c, id, "facts", "with", "pre-eclampsia", "without", "epilepsy")
	submit(t, c, id, "facts", "without", "raised-icp")
	cs, err := c.Case(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	if f := cs.Facts; !slices.Equal(f.With, []term.Condition{"pre-eclampsia"}) || !slices.Equal(f.Without, []term.Condition{"epilepsy", "raised-icp"}) {
		t.Fatalf("with %v, without %v", f.With, f.Without)
	}
	d := doses(t, c, id, "ketamine", "induction-iv")[0]
	if len(d.Stops) == 0 || slices.ContainsFunc(d.Keys, func(k core.DoseKey) bool { return k.Suggested }) {
		t.Errorf("ketamine in pre-eclampsia: stops %v, keys %v", d.Stops, d.Keys)
	}
	submit(t, c, id, "facts", "without", "pre-eclampsia")
	if d := doses(t, c, id, "ketamine", "induction-iv")[0]; len(d.Stops) != 0 {
		t.Errorf("taken back: %v", d.Stops)
	}
	asks, err := c.Asks(t.Context(), cs)
	if err != nil {
		t.Fatal(err)
	}
	if !asks[0].Now || asks[len(asks)-1].Now || len(asks) != len(term.ConditionList.Codes()) {
		t.Errorf("what the rules turn on does not stand first")
	}
}

// When a premedication is due for a planned start, and how one that was given
// stands to its rule. 45 minutes: common practice, no source; 60 to 90: WHO
// Model Formulary 2008, from memory.
func TestPremedication(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	id := planned(t, c, "60", "30", "morphine")
	submit(t, c, id, "plan", "drugs", "morphine", "start_in", "+120")
	p := doses(t, c, id, "morphine", "premedication-im")[0].Premed
	if p == nil || p.Code != "too-early" || p.Given != "" {
		t.Fatalf("two hours before: %+v", p)
	}
	clock.pass(40 * time.Minute)
	if p := doses(t, c, id, "morphine", "premedication-im")[0].Premed; p.Code != "right" {
		t.Errorf("80 minutes before: %+v", p)
	}
	// That its time is now does not read as if it were given.
	onPause := func() string {
		t.Helper()
		v, err := c.Pause(t.Context(), id, "before-first-drop")
		if err != nil {
			t.Fatal(err)
		}
		for _, it := range v.Items {
			if it.Code == "premedication" {
				return strings.Join(it.Knows, "\n")
			}
		}
		t.Fatal("no such item")
		return ""
	}
	if got := onPause(); !strings.HasPrefix(got, "morphine · not given · ") || !strings.Contains(got, " · its time is now") {
		t.Errorf("before the first drop: %q", got)
	}
	clock.pass(35 * time.Minute)
	if p := doses(t, c, id, "morphine", "premedication-im")[0].Premed; p.Code != "too-late" {
		t.Errorf("45 minutes before: %+v", p)
	}
	submit(t, c, id, "drug", "drug", "morphine", "dose", "9", "dose_unit", "mg", "route", "im", "use", "premedication-im")
	p = doses(t, c, id, "morphine", "premedication-im")[0].Premed
	if !p.Wrong || !strings.Contains(p.Given, "too late") || !strings.Contains(p.Given, "right") {
		t.Errorf("given 45 minutes before: %+v", p)
	}
	if got := onPause(); strings.Contains(got, "not given") || !strings.Contains(got, "9 mg") {
		t.Errorf("before the first drop, given: %q", got)
	}
}

// The rule of a kilogram stands, with the way to the weight, where nobody knows
// the weight; where it is known and no rule covers it, the rule of other weights
// is none for this patient.
func TestRuleOfOtherWeights(t *testing.T) {
	c := openAt(t, t.TempDir(), newClock())
	id := planned(t, c, "14", "3", "paracetamol")
	v := doses(t, c, id, "paracetamol", "analgesia-iv-small")
	if len(v) != 1 || v[0].Problem == "" || len(v[0].Rule) != 0 || v[0].Lacks != "" {
		t.Errorf("14 kg, and a rule under 10 kg: %+v", v)
	}
	if v := doses(t, c, openCaseOf(t, c, "3", ""), "paracetamol", "analgesia-iv"); len(v) != 1 || v[0].Lacks != "weight" || len(v[0].Rule) == 0 {
		t.Errorf("nobody knows the weight: %+v", v)
	}
}

// A start is a time to come; what is typed of it is read so.
func TestPlannedStart(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	id := openCase(t, c, "")
	now := clock.Now()
	start := func(fields ...string) time.Time {
		t.Helper()
		done := submit(t, c, id, "plan", fields...)
		return done.Lines[0].Payload.(*timeline.Plan).Start.Time
	}
	in := start("start_in", "+90")
	if d := in.Sub(now.Wall); d > 90*time.Minute || d <= 89*time.Minute {
		t.Errorf("in 90 minutes: %s", d)
	}
	soon := now.Wall.Add(3 * time.Hour)
	for _, text := range []string{soon.Format("15:04"), soon.Format("1504"), soon.Format("15.04")} {
		if got := start("start", text); !got.Equal(soon.Truncate(time.Minute)) {
			t.Errorf("%s: %s, want %s", text, got, soon)
		}
	}
	early := now.Wall.Add(-3 * time.Hour) // of tomorrow
	if got := start("start", early.Format("15:04")); !got.Equal(early.Truncate(time.Minute).AddDate(0, 0, 1)) {
		t.Errorf("three hours ago: %s", got)
	}
	if got := start("start_was", in.Format(time.RFC3339)); !got.Equal(in) {
		t.Errorf("as it was: %s", got)
	}
	for _, bad := range []string{"24:00", "noon", "99"} {
		_, err := c.Submit(t.Context(), form(id, "plan", "start", bad))
		var fe *timeline.FieldError
		if !errors.As(err, &fe) || fe.Field != "start" {
			t.Errorf("%q: %v", bad, err)
		}
	}
}

const ownMorphine = `class = "opioid"
[source.ours]
title = "What our clinic agreed on"
mark = "practice"
[[presentation]]
code = "10mg-1ml"
strength = "10 mg/mL"
volume = "1 mL"
source = "ours"
[equivalent]
group = "opioid"
each = "10 mg"
is = "10 mg"
source = "ours"
[[use]]
code = "premedication-im"
purpose = "premedication"
routes = ["im"]
given = "bolus"
source = "ours"
[[use.dose]]
low = "0.05 mg/kg"
high = "0.1 mg/kg"
most = "5 mg"
`

// A clinic's file takes the place of a drug from then on; what was given
// before keeps the rule that it was given under, and a file that is refused
// changes nothing.
func TestClinicLaysAFile(t *testing.T) {
	clock := newClock()
	dir := t.TempDir()
	c := openAt(t, dir, clock)
	id := planned(t, c, "60", "30", "morphine")
	old := doses(t, c, id, "morphine", "premedication-im")[0]
	first := submit(t, c, id, "drug", "drug", "morphine", "dose", "9", "dose_unit", "mg", "route", "im", "use", "premedication-im")
	clock.pass(5 * time.Hour)

	bad := strings.Replace(ownMorphine, `most = "5 mg"`, `most = "2 mL"`, 1)
	_, err := c.LayDrugFile(t.Context(), core.NewID(), "morphine.toml", []byte(bad), timeline.Moment{})
	var file *formulary.FileError
	if !errors.As(err, &file) || file.File != "morphine.toml" || file.Faults[0].Line == 0 {
		t.Fatalf("a maximum that does not fit: %v", err)
	}
	if p := c.Explain(err); p.Status != 422 || p.Field != "toml" || !strings.Contains(p.Words, "line") && !strings.Contains(p.Words, "Line") {
		t.Errorf("in words: %+v", p)
	}
	if d := doses(t, c, id, "morphine", "premedication-im")[0]; d.Hash != old.Hash {
		t.Error("a refused file changed the rule")
	}
	if _, err := c.LayDrugFile(t.Context(), core.NewID(), "morphine.toml", []byte(ownMorphine), timeline.Moment{}); err != nil {
		t.Fatal(err)
	}
	now := doses(t, c, id, "morphine", "premedication-im")[0]
	if now.Hash == old.Hash || !strings.Contains(now.Range, "5 mg") {
		t.Errorf("the clinic's own rule: %+v", now)
	}
	// The dose of this morning is judged by the rule of this morning.
	cs, err := c.Case(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	e := first.Lines[0].Event.ID
	if why, err := c.Exceeded(t.Context(), cs, e); err != nil || len(why) != 0 {
		t.Errorf("9 mg this morning: %v %v", why, err)
	}
	if p := stands(t, c, id, e).Now().Payload.(*timeline.Drug); string(p.Frozen.Rule) != old.Hash {
		t.Error("the frozen rule is another")
	}
	if len(owing(t, c, id)) != 0 {
		t.Error("owed before")
	}
	submit(t, c, id, "drug", "drug", "morphine", "dose", "9", "dose_unit", "mg", "route", "im")
	if len(owing(t, c, id)) != 1 {
		t.Error("9 mg are over the clinic's 5 mg now")
	}
	// Another start finds it again.
	if err := c.Close(); err != nil {
		t.Fatal(err)
	}
	c = openAt(t, dir, clock)
	if d := doses(t, c, id, "morphine", "premedication-im")[0]; d.Hash != now.Hash {
		t.Error("after another start the rule is another")
	}
	// Taken out.
	if _, err := c.LayDrugFile(t.Context(), core.NewID(), "morphine.toml", []byte("retired = true\n"+ownMorphine), timeline.Moment{}); err != nil {
		t.Fatal(err)
	}
	cs, err = c.Case(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := c.Doses(t.Context(), cs, "morphine", ""); !errors.Is(err, core.ErrNotHere) {
		t.Errorf("retired: %v", err)
	}
}

// Only a person with a name confirms a rule, only as it reads on the screen,
// and the confirmation lapses with the rule.
func TestConfirm(t *testing.T) {
	c := openAt(t, t.TempDir(), newClock())
	id := planned(t, c, "60", "30", "morphine")
	hash := doses(t, c, id, "morphine", "premedication-im")[0].Hash
	confirm := func(rule string, back bool) error {
		_, err := c.Confirm(t.Context(), core.NewID(), "morphine", "premedication-im", rule, back)
		return err
	}
	var fe *timeline.FieldError
	if err := confirm(hash, false); !errors.As(err, &fe) || fe.Field != "name" {
		t.Errorf("nobody confirms: %v", err)
	}
	if _, err := c.NameAuthor(t.Context(), core.NewID(), "Ann Invented"); err != nil {
		t.Fatal(err)
	}
	if err := confirm(strings.Repeat("0", 64), false); !errors.As(err, &fe) || fe.Field != "rule" {
		t.Errorf("another rule: %v", err)
	}
	stood := func() string { return doses(t, c, id, "morphine", "premedication-im")[0].Confirmed }
	if stood() != "" {
		t.Error("confirmed by nobody")
	}
	if err := confirm(hash, false); err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(stood(), "Ann Invented") {
		t.Errorf("confirmed: %q", stood())
	}
	if other := doses(t, c, id, "morphine", "analgesia-im")[0]; other.Confirmed != "" {
		t.Error("another use is confirmed with it")
	}
	if err := confirm(hash, true); err != nil {
		t.Fatal(err)
	}
	if stood() != "" {
		t.Error("withdrawn, and stands")
	}
	if err := confirm(hash, false); err != nil {
		t.Fatal(err)
	}
	if _, err := c.LayDrugFile(t.Context(), core.NewID(), "morphine.toml", []byte(ownMorphine), timeline.Moment{}); err != nil {
		t.Fatal(err)
	}
	if stood() != "" {
		t.Error("the rule changed, and the confirmation stands")
	}
	b, err := c.RuleBook(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if b.Rules < 150 || b.Unconfirmed != b.Rules || !slices.Equal(b.Own, []string{"morphine.toml"}) {
		t.Errorf("the book: %d rules, %d unconfirmed, own %v", b.Rules, b.Unconfirmed, b.Own)
	}
}

// Every number in the book of rules has a source and a mark.
func TestEveryRuleHasASource(t *testing.T) {
	c := openAt(t, t.TempDir(), newClock())
	b, err := c.RuleBook(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	lines := 0
	for _, g := range b.Groups {
		for _, d := range g.Drugs {
			cited := slices.Concat(d.Presentations, d.Reductions, d.Alerts)
			for _, u := range d.Uses {
				cited = append(cited, u.Lines...)
			}
			for _, x := range cited {
				lines++
				if x.Source == "" || x.Mark == "" || strings.Contains(x.Text, "[") {
					t.Errorf("%s: %+v", d.Code, x)
				}
			}
		}
	}
	if lines < 1000 {
		t.Errorf("%d lines are too few to be all", lines)
	}
}

// What a child weighs is guessed by length before age, and said to be guessed.
func TestWeightGuesses(t *testing.T) {
	c := openAt(t, t.TempDir(), newClock())
	id := openCase(t, c, "")
	submit(t, c, id, "facts", "age", "6", "age_unit", "a", "sex", "female", "length", "110")
	cs, err := c.Case(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	g := c.WeightGuesses(cs)
	// By age 3 x 6 + 7 = 25 kg: Short and Stevens, Update in Anaesthesia.
	if len(g) != 2 || g[0].By != "length-tape" || g[1].By != "age-formula" || g[1].Kg != "25" {
		t.Fatalf("%+v", g)
	}
	if !slices.ContainsFunc(g[1].Cautions, func(s string) bool { return strings.Contains(s, "sixth birthday") }) {
		t.Errorf("the leap at six is not named: %v", g[1].Cautions)
	}
	submit(t, c, id, "facts", "weight", g[1].Kg, "weight_how", "guessed", "weight_by", g[1].By)
	d := doses(t, c, id, "atropine", "premedication-im")[0]
	if !slices.ContainsFunc(d.Unsure, func(s string) bool { return strings.Contains(s, "guessed by a formula from age") }) {
		t.Errorf("a dose by a guessed weight says: %v", d.Unsure)
	}
}

// A file under another name of the same drug is the same file, and whatever
// lies there, a good file mends it.
func TestClinicFileCannotLockTheRules(t *testing.T) {
	c := openAt(t, t.TempDir(), newClock())
	id := planned(t, c, "60", "30", "morphine")
	for _, name := range []string{"morphine.toml", "morphine", "Morphine.TOML", "morphine.toml"} {
		if _, err := c.LayDrugFile(t.Context(), core.NewID(), name, []byte(ownMorphine), timeline.Moment{}); err != nil {
			t.Fatalf("%s: %v", name, err)
		}
	}
	b, err := c.RuleBook(t.Context())
	if err != nil || !slices.Equal(b.Own, []string{"morphine.toml"}) || len(b.Left) != 0 {
		t.Fatalf("own %v, left %v, %v", b.Own, b.Left, err)
	}
	for _, bad := range [][]byte{nil, make([]byte, 300_000), []byte("class = \"\xff\"")} {
		var fe *timeline.FieldError
		if _, err := c.LayDrugFile(t.Context(), core.NewID(), "morphine.toml", bad, timeline.Moment{}); !errors.As(err, &fe) || fe.Field != "toml" {
			t.Errorf("%d bytes: %v", len(bad), err)
		}
	}
	// Back to what came with the companion.
	if _, err := c.TakeBackDrugFile(t.Context(), core.NewID(), "morphine.toml"); err != nil {
		t.Fatal(err)
	}
	if d := doses(t, c, id, "morphine", "premedication-im")[0]; !strings.Contains(d.Range, "10 mg") {
		t.Errorf("after it was taken back: %s", d.Range)
	}
	// From a day to come.
	from, err := c.FromDay("2026-03-05")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := c.LayDrugFile(t.Context(), core.NewID(), "morphine.toml", []byte(ownMorphine), from); err != nil {
		t.Fatal(err)
	}
	if d := doses(t, c, id, "morphine", "premedication-im")[0]; strings.Contains(d.Range, "5 mg") {
		t.Error("a rule of the day after tomorrow holds today")
	}
}

// A file that is named and not here keeps no fact out, and is said.
func TestMissingFileKeepsNothingOut(t *testing.T) {
	dir, clock := t.TempDir(), newClock()
	c := openAt(t, dir, clock)
	id := planned(t, c, "60", "30", "morphine")
	if _, err := c.LayDrugFile(t.Context(), core.NewID(), "morphine.toml", []byte(ownMorphine), timeline.Moment{}); err != nil {
		t.Fatal(err)
	}
	if err := c.Close(); err != nil {
		t.Fatal(err)
	}
	if err := os.RemoveAll(filepath.Join(dir, "blobs")); err != nil {
		t.Fatal(err)
	}
	c = openAt(t, dir, clock)
	for _, drug := range []string{"ketamine", "morphine"} {
		submit(t, c, id, "drug", "drug", drug, "dose", "5", "dose_unit", "mg", "route", "iv")
	}
	b, err := c.RuleBook(t.Context())
	if err != nil || len(b.Left) != 1 || !strings.Contains(b.Left[0], "morphine.toml") {
		t.Fatalf("left %v, %v", b.Left, err)
	}
	if _, err := c.LayDrugFile(t.Context(), core.NewID(), "morphine.toml", []byte(ownMorphine), timeline.Moment{}); err != nil {
		t.Errorf("laying it again does not mend it: %v", err)
	}
	if b, err = c.RuleBook(t.Context()); err != nil || len(b.Left) != 0 {
		t.Errorf("mended: %v, %v", b.Left, err)
	}
}

// A dose that is entered as of a few minutes ahead, or before the clock was
// set back, counts.
func TestDoseAheadOfTheClock(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	id := planned(t, c, "60", "30", "morphine")
	at := clock.Now().Wall.Add(4 * time.Minute).Format(time.RFC3339)
	submit(t, c, id, "drug", "drug", "morphine", "dose", "9", "dose_unit", "mg", "route", "im", "use", "premedication-im", "at", at)
	on := func(why string) {
		t.Helper()
		if d := doses(t, c, id, "morphine", "premedication-im")[0]; len(d.Board) == 0 || !d.Waits {
			t.Errorf("%s: on board %v, waits %v", why, d.Board, d.Waits)
		}
	}
	on("four minutes ahead")
	clock.pass(-10 * time.Minute)
	on("the clock was set back")
	submit(t, c, id, "drug", "drug", "morphine", "dose", "9", "dose_unit", "mg", "route", "im", "use", "premedication-im")
	if len(owing(t, c, id)) != 1 {
		t.Error("a second dose owes nothing")
	}
}

// A use that nobody named counts in every total.
func TestUseThatNobodyNamed(t *testing.T) {
	c := openAt(t, t.TempDir(), newClock())
	id := planned(t, c, "60", "30", "midazolam")
	done := submit(t, c, id, "drug", "drug", "midazolam", "dose", "7.5", "dose_unit", "mg", "route", "iv")
	if p := done.Lines[0].Payload.(*timeline.Drug); p.Frozen == nil || !p.Frozen.Guessed {
		t.Fatalf("frozen: %+v", p.Frozen)
	}
	counted := false
	for _, d := range doses(t, c, id, "midazolam", "") {
		counted = counted || slices.ContainsFunc(d.Board, func(b string) bool { return strings.Contains(b, "7.5 mg") })
	}
	if !counted {
		t.Error("7.5 mg without a use are on no board")
	}
}

// A correction is judged as well: to more, a reason falls due; back to less, it
// is owed no more.
func TestCorrectionIsJudged(t *testing.T) {
	c := openAt(t, t.TempDir(), newClock())
	id := planned(t, c, "60", "30", "morphine")
	done := submit(t, c, id, "drug", "drug", "morphine", "dose", "6", "dose_unit", "mg", "route", "im", "use", "analgesia-im")
	e := done.Lines[0].Event.ID
	if len(owing(t, c, id)) != 0 {
		t.Fatal("6 mg owe a reason")
	}
	f := form(id, "drug", "drug", "morphine", "dose", "50", "dose_unit", "mg", "route", "im", "amends", e, "heads", e, "reason", "mistyped")
	for range 2 {
		if _, err := c.Submit(t.Context(), f); err != nil {
			t.Fatal(err)
		}
	}
	o := owing(t, c, id)
	if len(o) != 1 || o[0].Over != e {
		t.Fatalf("corrected to 50 mg: %+v", o)
	}
	submit(t, c, id, "drug", "drug", "morphine", "dose", "6", "dose_unit", "mg", "route", "im", "amends", e, "heads", f.ID, "reason", "mistyped")
	if o := owing(t, c, id); len(o) != 0 {
		t.Errorf("corrected back: %+v", o)
	}
}

// What is typed in from paper is judged row by row, each knowing of those
// before it.
func TestTypedDosesAreJudged(t *testing.T) {
	c := openAt(t, t.TempDir(), newClock())
	id := planned(t, c, "60", "30", "morphine")
	row := func(n int, at, dose string) core.Row {
		return core.Row{Name: "d" + strconv.Itoa(n), N: n + 1, Form: core.Form{Kind: "drug", Fields: map[string][]string{
			"at": {at}, "drug": {"morphine"}, "dose": {dose}, "dose_unit": {"mg"}, "route": {"im"}}}}
	}
	rows := []core.Row{row(0, "07:00", "9"), row(1, "07:30", "9")}
	id0 := core.NewID()
	for range 2 {
		if _, err := c.TypeIn(t.Context(), id0, id, "", rows); err != nil {
			t.Fatal(err)
		}
	}
	if o := owing(t, c, id); len(o) != 1 {
		t.Errorf("two doses in half an hour: %+v", o)
	}
}

// An infusion is judged by its rate, and what ran in is on the board.
func TestInfusionCounts(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	id := planned(t, c, "60", "30", "ketamine")
	d := doses(t, c, id, "ketamine", "infusion-iv")[0]
	if len(d.Keys) != 1 {
		t.Fatalf("offered: %+v", d)
	}
	done := submit(t, c, id, d.Keys[0].Set[1], d.Keys[0].Set[2:]...)
	if p := done.Lines[0].Payload.(*timeline.Infusion); p.Frozen == nil || p.Frozen.Use != "infusion-iv" {
		t.Errorf("frozen: %+v", p.Frozen)
	}
	if o := owing(t, c, id); len(o) != 0 {
		t.Errorf("by the rule, and owed: %+v", o)
	}
	submit(t, c, id, "infusion", "act", "started", "drug", "ketamine", "rate", "900", "rate_unit", "mL/h", "strength", "10", "strength_unit", "mg/mL", "route", "iv")
	if o := owing(t, c, id); len(o) != 1 {
		t.Errorf("9 g in an hour: %+v", o)
	}
	clock.pass(30 * time.Minute)
	cs, err := c.Case(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	all, err := c.Doses(t.Context(), cs, "ketamine", "")
	if err != nil {
		t.Fatal(err)
	}
	if !slices.ContainsFunc(all, func(d core.DoseView) bool { return d.Board != nil }) {
		t.Error("4.5 g that ran in are on no board")
	}
}

// What came later does not turn the verdict on a dose, or on a premedication.
func TestVerdictStandsByWhatWasKnown(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	id := planned(t, c, "60", "30", "morphine", "ketamine")
	submit(t, c, id, "plan", "drugs", "morphine", "start_in", "+75")
	done := submit(t, c, id, "drug", "drug", "morphine", "dose", "9", "dose_unit", "mg", "route", "im", "use", "premedication-im")
	e := done.Lines[0].Event.ID
	clock.pass(time.Hour)
	submit(t, c, id, "drug", "drug", "diazepam", "dose", "5", "dose_unit", "mg", "route", "iv")
	submit(t, c, id, "facts", "weight", "30", "weight_how", "measured", "weight_by", "scale", "with", "head-injury")
	cs, err := c.Case(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	if why, err := c.Exceeded(t.Context(), cs, e); err != nil || len(why) != 0 {
		t.Errorf("by what came later: %v %v", why, err)
	}
	p := doses(t, c, id, "morphine", "premedication-im")[0].Premed
	if p == nil || p.Wrong {
		t.Errorf("75 minutes before, 9 mg of 6 to 10: %+v", p)
	}
}

// A plan that is sent again keeps its start.
func TestPlanRetry(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	id := openCase(t, c, "")
	f := form(id, "plan", "start_in", "+90")
	first, err := c.Submit(t.Context(), f)
	if err != nil {
		t.Fatal(err)
	}
	clock.pass(61 * time.Second)
	again, err := c.Submit(t.Context(), form2(f))
	if err != nil || again.Lines[0].Event.ID != first.Lines[0].Event.ID {
		t.Errorf("sent again: %v", err)
	}
}

// form2 is the form as it is sent a second time.
func form2(f core.Form) core.Form {
	return core.Form{ID: f.ID, Case: f.Case, Kind: f.Kind, Fields: map[string][]string{"start_in": {"+90"}}}
}

// Two versions of a rule may each have their confirmation.
func TestConfirmationsOfTwoVersions(t *testing.T) {
	c := openAt(t, t.TempDir(), newClock())
	id := planned(t, c, "60", "30", "morphine")
	if _, err := c.NameAuthor(t.Context(), core.NewID(), "Ann Invented"); err != nil {
		t.Fatal(err)
	}
	stood := func() bool { return doses(t, c, id, "morphine", "premedication-im")[0].Confirmed != "" }
	confirm := func() {
		t.Helper()
		hash := doses(t, c, id, "morphine", "premedication-im")[0].Hash
		if _, err := c.Confirm(t.Context(), core.NewID(), "morphine", "premedication-im", hash, false); err != nil {
			t.Fatal(err)
		}
	}
	confirm()
	if _, err := c.LayDrugFile(t.Context(), core.NewID(), "morphine.toml", []byte(ownMorphine), timeline.Moment{}); err != nil {
		t.Fatal(err)
	}
	if stood() {
		t.Error("the clinic's rule is confirmed by the confirmation of another")
	}
	confirm()
	if _, err := c.TakeBackDrugFile(t.Context(), core.NewID(), "morphine.toml"); err != nil {
		t.Fatal(err)
	}
	if !stood() {
		t.Error("the first rule is back, and its confirmation is not")
	}
}

// Of a child under 5 years somebody asks whether it is wasted, once; of an
// infant, whether it was born too early, and the rules are told.
func TestSmallChildrenAreAskedAbout(t *testing.T) {
	c := openAt(t, t.TempDir(), newClock())
	id := openCase(t, c, "")
	look := func() (cs *core.Case, wasted, early bool) {
		cs, err := c.Case(t.Context(), id)
		if err != nil {
			t.Fatal(err)
		}
		f := c.FieldNamed(cs, "premature")
		return cs, c.AsksWasted(cs), f.Label != ""
	}
	for _, x := range []struct {
		age, unit     string
		wasted, early bool
	}{{"34", "a", false, false}, {"5", "a", false, false}, {"4", "a", true, false}, {"12", "mo", true, false}, {"11", "mo", true, true}, {"10", "d", true, true}} {
		submit(t, c, id, "facts", "age", x.age, "age_unit", x.unit)
		if _, wasted, early := look(); wasted != x.wasted || early != x.early {
			t.Errorf("%s %s: asked if wasted %v, if born early %v", x.age, x.unit, wasted, early)
		}
	}
	submit(t, c, id, "facts", "without", "wasted")
	if _, wasted, _ := look(); wasted {
		t.Error("asked again")
	}
	said := func() bool {
		g, err := c.VisitGroup(t.Context(), id, "body")
		if err != nil {
			t.Fatal(err)
		}
		return slices.ContainsFunc(g.Says, func(x core.Cited) bool { return strings.Contains(x.Text, "Born early") })
	}
	if said() {
		t.Error("taken for born early unasked")
	}
	submit(t, c, id, "facts", "premature", "yes")
	if cs, _, _ := look(); cs.Facts.Premature != timeline.Yes || !said() {
		t.Errorf("born early: %q, and the limits do not say so", cs.Facts.Premature)
	}
}

// The page of a dose says whether the rule that it was given under stood
// confirmed at that time; a confirmation afterwards does not reach back, nor
// does one that is taken back later.
func TestEntryTellsWhoStoodForItsRule(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	id := planned(t, c, "60", "40", "morphine")
	if _, err := c.NameAuthor(t.Context(), core.NewID(), "Ann Invented"); err != nil {
		t.Fatal(err)
	}
	give := func() string {
		t.Helper()
		d := doses(t, c, id, "morphine", "premedication-im")[0]
		return submit(t, c, id, d.Keys[0].Set[1], d.Keys[0].Set[2:]...).Lines[0].Event.ID
	}
	confirm := func(back bool) {
		t.Helper()
		clock.pass(time.Minute)
		hash := doses(t, c, id, "morphine", "premedication-im")[0].Hash
		if _, err := c.Confirm(t.Context(), core.NewID(), "morphine", "premedication-im", hash, back); err != nil {
			t.Fatal(err)
		}
		clock.pass(time.Minute)
	}
	before := give()
	confirm(false)
	during := give()
	confirm(true)
	after := give()
	for _, x := range []struct {
		name, entry string
		confirmed   bool
	}{{"before", before, false}, {"during", during, true}, {"after", after, false}} {
		v, err := c.EntryOf(t.Context(), id, x.entry)
		if err != nil {
			t.Fatal(err)
		}
		if strings.Contains(v.RuleConfirmed, "Ann Invented") != x.confirmed || (v.RuleUnconfirmed == "") != x.confirmed {
			t.Errorf("%s: %q, %q", x.name, v.RuleConfirmed, v.RuleUnconfirmed)
		}
		sheet, err := c.Sheet(t.Context(), id)
		if err != nil {
			t.Fatal(err)
		}
		i := slices.IndexFunc(sheet.Entries, func(e record.Entry) bool { return e.ID == x.entry })
		if i < 0 {
			t.Fatalf("%s: the record has no such entry", x.name)
		}
		if text := sheet.Entries[i].Text; strings.Contains(text, "confirmed by nobody") == x.confirmed || !strings.Contains(text, "morphine") {
			t.Errorf("%s: the record says %q", x.name, text)
		}
	}
}
