package core

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"sync"
	"time"

	"chinlift/core/patient"
	"chinlift/core/quantity"
	"chinlift/core/term"
	"chinlift/core/timeline"
	"chinlift/core/visit"
)

// PauseView is the page of a pause: what is asked, and what was answered.
type PauseView struct {
	Head
	Pause, Name string
	Items       []PauseItem
	Yes         int // answered yes or does not apply
	Stops       int // stops that are not answered so
	Rest        int // other items that were not answered
}

// PauseItem is one question with its answer, and with what the record itself
// says to it.
type PauseItem struct {
	Case, For, Pause string // whose it is
	Code, Name, Ask  string
	Source, Mark     string
	Stop             bool
	Answer           string // yes, no, not-applicable, or empty: not asked
	AnswerWords, At  string
	Knows            []string
}

// PauseState is a pause in one line.
type PauseState struct {
	Code, Name string
	Yes, Of    int
	Stops      int // not answered yes, nor as not applicable
	No         int // answered no
}

var (
	pauseLists = sync.OnceValues(visit.Pauses)
	// atStart are the pauses that come before anything is given.
	atStart = []string{"before-induction", "before-first-drop"}
	// beforePhase are the pauses that a phase is held against, besides.
	beforePhase = map[term.Phase]string{term.PhaseKnifeToSkin: "before-knife", term.PhaseAnaesthesiaEnd: "before-leaving"}
)

func findPause(code string) (*visit.Pause, error) {
	lists, err := pauseLists()
	if err != nil {
		return nil, err
	}
	for _, l := range lists {
		if l.Code == code {
			return l, nil
		}
	}
	return nil, fmt.Errorf("pause %q: %w", code, ErrNotHere)
}

// pauseItem gives the name of an item, from the list itself; one that no list
// here holds is written as its code.
func (s Speaker) pauseItem(pause, item string) string {
	if p, err := findPause(pause); err == nil {
		if it := p.Find(item); it != nil {
			return it.Name.In(s.Tag())
		}
	}
	return strings.ReplaceAll(item, "-", " ")
}

// marked gives what the clinic itself marked as a stop, or took the mark from:
// by "pause.item", or "visit.fact".
func (c *Companion) marked(ctx context.Context, at time.Time) (map[string]bool, error) {
	entries, err := c.settingEntries(ctx, term.SettingStop)
	if err != nil {
		return nil, err
	}
	all := map[string]bool{}
	for e, p := range timeline.Each[*timeline.ClinicSetting](entries, string(term.SettingStop)) {
		if !e.Now().At.After(at) {
			all[p.File] = p.Text == timeline.Yes
		}
	}
	return all, nil
}

// isStop says whether an item stops: by the clinic's mark, else by the list.
func isStop(marked map[string]bool, what string, usual bool) bool {
	if m, ok := marked[what]; ok {
		return m
	}
	return usual
}

// StopMark is something that can stop a planned start.
type StopMark struct {
	Group, Code, Name string
	Stop              bool
}

// StopMarks gives what the clinic may mark as a stop: the items of the pauses,
// and what the visit asks. What of the equipment stops stands in its lists.
func (c *Companion) StopMarks(ctx context.Context) ([]StopMark, error) {
	s := Speaker{c.words}
	marked, err := c.marked(ctx, c.clock.Now().Wall)
	if err != nil {
		return nil, err
	}
	lists, err := pauseLists()
	if err != nil {
		return nil, err
	}
	var all []StopMark
	for _, f := range visitFields {
		if f.first {
			code := visitStop(f.name)
			all = append(all, StopMark{s.Say("shell.visit"), code, s.visitLabel(f.name), isStop(marked, code, false)})
		}
	}
	for _, l := range lists {
		for _, it := range l.Items {
			code := l.Code + "." + it.Code
			all = append(all, StopMark{l.Name.In(s.Tag()), code, it.Name.In(s.Tag()), isStop(marked, code, it.Stop)})
		}
	}
	return all, nil
}

func visitStop(fact string) string { return "visit." + fact }

// MarkStop says that something stops a planned start, or no longer does.
func (c *Companion) MarkStop(ctx context.Context, id, what, value string) (Done, error) {
	all, err := c.StopMarks(ctx)
	if err != nil {
		return Done{}, err
	}
	p := &timeline.ClinicSetting{Setting: term.SettingStop, File: what, Text: value}
	if !slices.ContainsFunc(all, func(m StopMark) bool { return m.Code == what }) {
		return Done{}, &timeline.FieldError{Kind: p.Kind().Name(), Field: "file", Code: "not-in-list"}
	}
	return c.Record(ctx, Tap{ID: id, Scope: timeline.ScopeClinic, About: string(term.SettingStop), Payload: p})
}

// answers gives the entries that hold the last answer to each item of a pause,
// up to a time.
func (cs *Case) answers(pause string, at time.Time) map[string]*timeline.Entry {
	all := map[string]*timeline.Entry{}
	for e, p := range timeline.Each[*timeline.Pause](cs.Entries, cs.ID) {
		if p.Pause == pause && !e.Now().At.After(at) {
			all[p.Item] = e
		}
	}
	return all
}

// items gives the items of a pause with their answers.
func (c *Companion) pauseItems(cs *Case, l *visit.Pause, marked map[string]bool, at time.Time) []PauseItem {
	s := Speaker{c.words}
	answers := cs.answers(l.Code, at)
	var all []PauseItem
	for _, it := range l.Items {
		i := PauseItem{Case: cs.ID, For: cs.For(s), Pause: l.Code, Code: it.Code, Name: it.Name.In(s.Tag()), Ask: it.Ask.In(s.Tag()), Source: it.Source, Mark: Code(s, term.MarkList, it.Mark), Stop: isStop(marked, l.Code+"."+it.Code, it.Stop)}
		if e := answers[it.Code]; e != nil {
			p := e.Now().Payload.(*timeline.Pause)
			i.Answer, i.AnswerWords, i.At = string(p.Answer), Code(s, term.PauseAnswerList, p.Answer), s.Clock(e.Now().At)
		}
		all = append(all, i)
	}
	return all
}

// open reports that an item is neither answered yes nor does not apply.
func (i *PauseItem) open() bool {
	return i.Answer != string(term.PauseAnswerYes) && i.Answer != string(term.PauseAnswerNotApplicable)
}

// Pause gives the page of one pause.
func (c *Companion) Pause(ctx context.Context, id, code string) (PauseView, error) {
	l, err := findPause(code)
	if err != nil {
		return PauseView{}, err
	}
	h, cs, err := c.HeadOf(ctx, id)
	if err != nil {
		return PauseView{}, err
	}
	now := c.clock.Now().Wall
	marked, err := c.marked(ctx, now)
	if err != nil {
		return PauseView{}, err
	}
	v := PauseView{Head: h, Pause: code, Name: l.Name.In(c.words.Tag()), Items: c.pauseItems(cs, l, marked, now)}
	knows, err := c.knows(ctx, cs)
	if err != nil {
		return v, err
	}
	for i := range v.Items {
		it := &v.Items[i]
		it.Knows = knows[it.Code]
		switch {
		case !it.open():
			v.Yes++
		case it.Stop:
			v.Stops++
		case it.Answer == "":
			v.Rest++
		}
	}
	return v, nil
}

// knows gives what the record says to an item of a pause, by its code: to be
// compared with the patient, never to answer for.
func (c *Companion) knows(ctx context.Context, cs *Case) (map[string][]string, error) {
	s := Speaker{c.words}
	f := &cs.Facts
	all := map[string][]string{}
	add := func(code string, lines ...string) {
		for _, l := range lines {
			if l != "" {
				all[code] = append(all[code], l)
			}
		}
	}
	side := join(" · ", join(", ", Code(s, term.OperationList, cs.Plan.Operation), Code(s, term.SideList, f.Side)), cs.PlanText,
		s.pair("side_marked", s.yesNo(f.SideMarked)), Code(s, term.RoleList, f.MarkedBy))
	for _, code := range []string{"side", "site-marked", "patient-and-site"} {
		add(code, side)
	}
	add("patient-and-consent", side, s.pair("consent", Code(s, term.ConsentByList, f.Consent)))
	if len(f.Allergies) > 0 {
		add("allergy", cmpOr(cs.Allergic, list(s, term.AllergyList, f.Allergies)))
	}
	fast, err := c.Fasting(ctx, cs)
	if err != nil {
		return nil, err
	}
	for _, code := range []string{"food-and-drink", "airway-and-stomach"} {
		add(code, fast.Problem, fast.Verdict, fast.Notice)
	}
	for _, i := range fast.Intakes {
		add("food-and-drink", s.Say("fasting.line", "what", i.What, "fasted", i.Fasted, "needed", i.Needed))
	}
	if warn := s.airway(f); len(warn.Warns) > 0 {
		add("airway-and-stomach", warn.Warns...)
	}
	add("mouth-and-nose", s.pair("teeth", Code(s, term.TeethList, f.Teeth)), s.pair("nostril_left", Code(s, term.NostrilList, f.NostrilLeft)), s.pair("nostril_right", Code(s, term.NostrilList, f.NostrilRight)))
	premed, err := c.premeds(ctx, cs)
	if err != nil {
		return nil, err
	}
	for _, p := range premed {
		add("premedication", p.Words)
	}
	add("premedication", s.pair("premed_effect", Code(s, term.PremedEffectList, f.PremedEffect)))
	kits, err := c.kitsFor(ctx, cs)
	if err != nil {
		return nil, err
	}
	for _, k := range kits {
		for _, code := range []string{"equipment", "machine-and-drugs"} {
			add(code, s.kitLine(&k))
		}
	}
	if e, b := last[*timeline.Baseline](cs, nil); e != nil {
		add("oximeter", s.Say("say.baseline", "values", s.Measures(&b.Measures)))
	}
	loss := s.pair("loss_allowed", s.Amount(cs.Plan.LossAllowed))
	add("blood-loss", loss, s.tenth(f))
	add("surgeon", loss, s.stepTimes(&cs.Plan))
	add("anaesthesia", s.pair("warnings", list(s, term.WarningList, f.Warnings)), s.pair("with", list(s, term.ConditionList, f.With)))
	add("told", s.pair("risks_told", s.yesNo(f.RisksTold)))
	for _, e := range slices.Backward(cs.Entries) {
		if e.In(cs.ID) {
			if p, ok := e.Now().Payload.(*timeline.Performed); ok {
				add("operation-recorded", s.payload(p))
				break
			}
		}
	}
	packs := 0
	for _, p := range timeline.Each[*timeline.Step](cs.Entries, cs.ID) {
		switch p.Step {
		case term.StepThroatPackIn:
			packs++
		case term.StepThroatPackOut:
			packs--
		}
	}
	if packs > 0 {
		add("counts", s.Say("pause.pack-in"))
	}
	add("recovery", s.pair("recovery", Code(s, term.WatcherList, cs.Plan.Recovery)))
	return all, nil
}

// tenth says what a loss of 7 mL/kg, or of 500 mL, is for this patient: World
// Health Organization, Surgical Safety Checklist, 2009, sign in.
func (s Speaker) tenth(f *timeline.Facts) string {
	if n, err := f.Age.Cmp(quantity.MustParse("16 a")); f.Age.IsZero() || err != nil || n >= 0 || f.Weight.IsZero() {
		return ""
	}
	kg, err := f.Weight.In(quantity.Kg)
	if err != nil {
		return ""
	}
	ml, err := quantity.MustParse("7 mL/kg").Mul(kg, quantity.ML)
	if err != nil {
		return ""
	}
	return s.Say("pause.child-loss", "n", s.Amount(ml.Round(0)))
}

// AnswerPause records the answer to one item. A second answer is a new entry,
// which stands before the first.
func (c *Companion) AnswerPause(ctx context.Context, id, caseID, pause, item string, answer term.PauseAnswer) (Done, error) {
	l, err := findPause(pause)
	if err != nil {
		return Done{}, err
	}
	p := &timeline.Pause{Pause: pause, Version: l.Version, Item: item, Answer: answer}
	if l.Find(item) == nil {
		return Done{}, &timeline.FieldError{Kind: p.Kind().Name(), Field: "item", Code: "not-in-list"}
	}
	if _, err := c.Case(ctx, caseID); err != nil {
		return Done{}, err
	}
	return c.Record(ctx, Tap{ID: id, Scope: timeline.ScopeCase, About: caseID, Payload: p})
}

// SweepPause records that the rest is so: every item that is no stop and has
// no answer, each by its own entry. A retry answers what the sweep of this id
// recorded.
func (c *Companion) SweepPause(ctx context.Context, id, caseID, pause string) (Done, error) {
	v, err := c.Pause(ctx, caseID, pause)
	if err != nil {
		return Done{}, err
	}
	l, err := findPause(pause)
	if err != nil {
		return Done{}, err
	}
	cs, err := c.Case(ctx, caseID)
	if err != nil {
		return Done{}, err
	}
	var rest, again []Tap
	for _, it := range v.Items {
		t := Tap{ID: derived(id, it.Code), Scope: timeline.ScopeCase, About: caseID,
			Payload: &timeline.Pause{Pause: pause, Version: l.Version, Item: it.Code, Answer: term.PauseAnswerYes, Swept: true}}
		switch {
		case cs.Story.Find(t.ID) != nil:
			again = append(again, t)
		case !it.Stop && it.Answer == "":
			rest = append(rest, t)
		}
	}
	return c.sweep(ctx, again, rest)
}

// PauseAnswer is an answer, as a screen passes it on.
type PauseAnswer = term.PauseAnswer

// pauseStates gives the pauses in one line each.
func (c *Companion) pauseStates(ctx context.Context, cs *Case) ([]PauseState, error) {
	now := c.clock.Now().Wall
	marked, err := c.marked(ctx, now)
	if err != nil {
		return nil, err
	}
	lists, err := pauseLists()
	if err != nil {
		return nil, err
	}
	var all []PauseState
	for _, l := range lists {
		p := PauseState{Code: l.Code, Name: l.Name.In(c.words.Tag()), Of: len(l.Items)}
		for _, it := range c.pauseItems(cs, l, marked, now) {
			switch {
			case !it.open():
				p.Yes++
			case it.Stop:
				p.Stops++
			}
			if it.Answer == string(term.PauseAnswerNo) {
				p.No++
			}
		}
		all = append(all, p)
	}
	return all, nil
}

// Airway is what the bedside tests say, in words.
type Airway struct {
	Warns    []string // tests that warn of difficulty
	Fine     []string
	Cautions []string
	Source   string
}

// airway gives what the tests that were done say; nothing where none was.
func (s Speaker) airway(f *timeline.Facts) Airway {
	var a Airway
	found, err := visit.AssessAirway(patientOf(f), visit.Airway{Mallampati: f.Mallampati, Mouth: f.Mouth, Neck: f.Neck, Thyromental: f.Thyromental})
	if err != nil {
		return a
	}
	var sources []patient.Source
	for _, x := range found.Findings {
		words := Code(s, term.AirwayTestList, x.Test)
		if x.Warns {
			a.Warns = append(a.Warns, s.Say("visit.test-warns", "test", words))
		} else {
			a.Fine = append(a.Fine, words)
		}
		sources = append(sources, x.Source)
	}
	a.Cautions = append(s.cautions(found.Cautions), s.assumptions(found.Assumptions)...)
	a.Source = s.sources(append(sources, found.Sources...))
	return a
}
