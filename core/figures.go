package core

import (
	"cmp"
	"context"
	"errors"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/google/uuid"

	"chinlift/core/figure"
	"chinlift/core/quantity"
	"chinlift/core/store"
	"chinlift/core/term"
	"chinlift/core/timeline"
	"chinlift/core/waking"
)

// What is counted of a case is kept beside the record, so that the figures of
// thousands of cases need none of them read again. Of a case that was touched
// since, and of all where the form is another, it is worked out anew: nothing
// in the figures was ever only there.

// figureForm is the form of what is kept. It is raised with every change of
// what a case is counted as.
const figureForm = 2

// figuresAtOnce is how many cases are worked out before they are kept: a first
// look that is stopped in the midst has not been for nothing.
const figuresAtOnce = 200

// countedCase is a case as it is counted.
type countedCase struct {
	id      string
	touched int64
	*figure.Case
}

// forgetFigures drops what is kept in memory.
func (c *Companion) forgetFigures() {
	c.figuresMu.Lock()
	defer c.figuresMu.Unlock()
	c.figures = nil
}

// counted gives every case as it is counted, the latest day first. No case is
// read that was not touched since the last time.
func (c *Companion) counted(ctx context.Context) ([]countedCase, error) {
	// The map is never changed, only replaced: nobody waits for a first look
	// over thousands of cases.
	c.figuresMu.Lock()
	known := c.figures
	c.figuresMu.Unlock()
	var all []countedCase
	var stale []int
	err := c.store.Figures(ctx, figureForm, func(f store.Figure) error {
		n := countedCase{id: f.Case, touched: f.Touched}
		if had, ok := known[f.Case]; ok && had.touched == f.Touched {
			n = had
		} else if f.Data == nil {
			stale = append(stale, len(all))
		} else if kept, err := figure.Parse(f.Data); err == nil {
			n.Case = kept
		} else {
			stale = append(stale, len(all)) // damaged, or of a program that wrote it otherwise
		}
		all = append(all, n)
		return nil
	})
	if err != nil {
		return nil, err
	}
	for part := range slices.Chunk(stale, figuresAtOnce) {
		var kept []store.Figure
		for _, i := range part {
			n := &all[i]
			// From the store and not from what is kept folded: the number that
			// it was touched by was read there.
			lines, err := c.store.Case(ctx, n.id)
			if err != nil {
				return nil, err
			}
			n.Case = newCase(n.id, lines, nil).figure()
			// What cannot be written, a sum too long for a number, is worked
			// out each time.
			if data, err := n.Line(); err == nil {
				kept = append(kept, store.Figure{Case: n.id, Touched: n.touched, Data: data})
			}
		}
		// It may fail in silence, since it can be worked out again: where the
		// folder is only read, and on a full disk.
		var full *store.Error
		if err := c.store.KeepFigures(ctx, figureForm, kept); err != nil && !errors.Is(err, store.ErrReadOnly) && !errors.As(err, &full) {
			return nil, err
		}
	}
	fresh := known
	if len(known) != len(all) || slices.ContainsFunc(all, func(n countedCase) bool { return known[n.id].Case != n.Case }) {
		fresh = make(map[string]countedCase, len(all))
		for _, n := range all {
			fresh[n.id] = n
		}
	}
	c.figuresMu.Lock()
	c.figures = fresh
	c.figuresMu.Unlock()
	slices.SortFunc(all, func(a, b countedCase) int { return cmp.Or(cmp.Compare(b.Day, a.Day), cmp.Compare(b.id, a.id)) })
	return all, nil
}

// figure works out what is counted of a case: what stands in it now.
func (cs *Case) figure() *figure.Case {
	day := cs.Began
	if day.IsZero() {
		day = cs.Opened
	}
	f := &cs.Facts
	n := &figure.Case{
		By: cs.begunBy(), Day: day.Format(time.DateOnly), Begun: !cs.Began.IsZero(), Age: f.Age, Sex: f.Sex, ASA: f.ASA, Emergency: f.Emergency,
		Urgency: cs.Urgency, Operation: cs.Plan.Operation, Supervision: f.Supervision, Outcome: cs.Outcome,
	}
	var done, seen []term.Technique
	breathed := false
	replies := map[string]int{}
	for _, e := range cs.Entries {
		if !e.In(cs.ID) {
			continue
		}
		switch p := e.Now().Payload.(type) {
		case *timeline.Performed:
			n.Begun, n.Operation = true, p.Operation
			if len(p.Techniques) > 0 {
				done = p.Techniques
			}
		case *timeline.AgentDelivery:
			breathed = breathed || p.Agent != "" && !p.Off
		case *timeline.Block:
			if neuraxial(p) {
				term.Add(&seen, term.TechniqueSpinal)
			} else {
				term.Add(&seen, term.TechniqueNerveBlock)
			}
		case *timeline.Airway:
			if p.Act != term.AirwayActOut && p.Device != term.AirwayDeviceNone {
				term.Add(&n.Airways, p.Device)
			}
		case *timeline.Trouble:
			if p.Act == term.TroubleActBegun {
				term.Add(&n.Troubles, p.Trouble)
			}
		case *timeline.Mark:
			if p.Label != "" {
				term.Add(&n.Marks, p.Label)
			}
		case *timeline.Drug:
			if anaesthetises(p) {
				term.Add(&seen, term.TechniqueKetamine)
				n.Begun = true // whether or not anybody marked the start
			}
		case *timeline.FollowUp:
			r := figure.Reply{Question: p.Question, Answer: p.Answer, Score: p.Score, Grade: p.Grade}
			if i, ok := replies[p.Question]; ok {
				n.Replies[i] = r
			} else {
				replies[p.Question] = len(n.Replies)
				n.Replies = append(n.Replies, r)
			}
		}
	}
	// What was said to have been done stands alone. Else it is what was planned,
	// and what was seen to be given besides; which way an agent was breathed, by
	// drop, mask or tube, only the plan can say.
	if done == nil {
		done = cs.Plan.Techniques
		if breathed && !slices.ContainsFunc(done, isInhaled) {
			term.Add(&seen, term.TechniqueOpenDrop)
		}
	} else {
		seen = nil
	}
	term.Add(&n.Techniques, done...)
	term.Add(&n.Techniques, seen...)
	cs.used(n)
	return n
}

// isInhaled says of a technique that an agent is breathed by it.
func isInhaled(t term.Technique) bool {
	return t == term.TechniqueOpenDrop || t == term.TechniqueDrawOverMask || t == term.TechniqueDrawOverTube
}

// anaesthetises says of a dose that it is an anaesthetic by itself: ketamine,
// unless it was given for a use that is none.
func anaesthetises(p *timeline.Drug) bool {
	if !strings.HasPrefix(p.Drug, "ketamine") {
		return false
	}
	return p.Frozen == nil || !strings.HasPrefix(p.Frozen.Use, "analgesia") && !strings.HasPrefix(p.Frozen.Use, "premedication")
}

// used puts what was given into what is counted of a case. What still runs
// counts up to the last entry.
func (cs *Case) used(n *figure.Case) {
	u := cs.took()
	for _, d := range u.drugs {
		n.AddDose(d.drug, d.dose)
	}
	for i := range u.runs {
		r := &u.runs[i]
		to := r.to
		if to.IsZero() {
			to = u.quiet
		}
		if d := to.Sub(r.from); d > 0 {
			// Drops a minute make no amount here: the set that they ran through
			// is a setting, and may become another.
			ran, _ := r.dose(u.weight, quantity.Amount{}, d)
			n.AddDose(r.p.Drug, byStrength(ran, r.p.Strength, quantity.Mg, quantity.IU, quantity.Mmol))
		}
	}
	litres := func(x float64) quantity.Amount {
		return quantity.MustParse(strconv.FormatFloat(x, 'f', 3, 64) + " " + quantity.LPerMin.String())
	}
	spans := map[figure.Breathed]time.Duration{}
	var order []figure.Breathed
	for _, g := range u.gas {
		to := g.to
		if to.IsZero() {
			to = u.quiet
		}
		b := figure.Breathed{Agent: g.Agent, Drops: g.Drops, Percent: g.Percent, Wetness: g.Wetness, Oxygen: g.Oxygen}
		if g.Agent != "" && !g.Percent.IsZero() {
			b.BreathLow, b.BreathHigh = litres(g.breath[0]), litres(g.breath[1])
		}
		if d := to.Sub(g.from); d > 0 {
			if _, ok := spans[b]; !ok {
				order = append(order, b)
			}
			spans[b] += d
		}
	}
	for _, b := range order {
		d := spans[b]
		b.For = minutes(d)
		n.Breathed = append(n.Breathed, b)
	}
}

// breathedSum is what was used of an agent, mL, or of oxygen, L.
type breathedSum struct {
	low, high float64
	cases     int
}

// breathedBy adds up agents and oxygen of cases, by the settings that hold now.
func breathedBy(cases []*figure.Case, with settingsOfUse) map[term.Agent]*breathedSum {
	type rate struct{ low, high float64 }
	known := map[figure.Breathed]rate{}
	all := map[term.Agent]*breathedSum{}
	for _, n := range cases {
		of := map[term.Agent]bool{}
		add := func(a term.Agent, low, high float64) {
			s := all[a]
			if s == nil {
				s = &breathedSum{}
				all[a] = s
			}
			s.low, s.high = s.low+low, s.high+high
			if !of[a] {
				of[a] = true
				s.cases++
			}
		}
		for _, b := range n.Breathed {
			m, err := b.For.Float64(quantity.Minute)
			if err != nil {
				continue
			}
			if o, err := b.Oxygen.Float64(quantity.LPerMin); err == nil && o > 0 {
				add("", o*m, o*m)
			}
			if b.Agent == "" {
				continue
			}
			key := b
			key.For, key.Oxygen = quantity.Amount{}, quantity.Amount{}
			r, ok := known[key]
			if !ok {
				var breath [2]float64
				for i, a := range []quantity.Amount{b.BreathLow, b.BreathHigh} {
					if x, err := a.Float64(quantity.LPerMin); err == nil {
						breath[i] = x
					}
				}
				r.low, r.high = with.hourly(Delivery{Agent: b.Agent, Drops: b.Drops, Percent: b.Percent, Wetness: b.Wetness}, breath)
				known[key] = r
			}
			add(b.Agent, r.low*m/60, r.high*m/60)
		}
	}
	return all
}

// FigureAsk is which cases are asked for, by codes. What is no code, and a time
// that is none, asks for all.
type FigureAsk struct {
	When      string // "2026" or "2026-03"; empty: ever
	By        string // id of a person; empty: anybody's
	Technique string
	Trouble   string
	Mark      string
}

// Fields gives the names and values that are asked for, in turn, but for one.
func (a FigureAsk) Fields(but string) (all []string) {
	for _, f := range a.fields() {
		if f[1] != "" && f[0] != but {
			all = append(all, f[0], f[1])
		}
	}
	return all
}

// The names of what may be asked for.
const (
	askWhen      = "when"
	askBy        = "by"
	askTechnique = "technique"
	askTrouble   = "trouble"
	askMark      = "mark"
)

func (a FigureAsk) fields() [][2]string {
	return [][2]string{{askWhen, a.When}, {askBy, a.By}, {askTechnique, a.Technique}, {askTrouble, a.Trouble}, {askMark, a.Mark}}
}

// AskFigures reads what a page asks for by names and values.
func AskFigures(value func(name string) string) FigureAsk {
	a := FigureAsk{When: value(askWhen)}
	_, notYear := time.Parse("2006", a.When)
	_, notMonth := time.Parse("2006-01", a.When)
	if notYear != nil && notMonth != nil {
		a.When = ""
	}
	if id := value(askBy); uuid.Validate(id) == nil && len(id) == 36 {
		a.By = id
	}
	if t := value(askTechnique); term.TechniqueList.Has(term.Technique(t)) {
		a.Technique = t
	}
	if t := value(askTrouble); term.TroubleList.Has(term.Trouble(t)) {
		a.Trouble = t
	}
	if m := value(askMark); term.MarkLabelList.Has(term.MarkLabel(m)) {
		a.Mark = m
	}
	return a
}

func (a FigureAsk) filter() figure.Filter {
	f := figure.Filter{By: a.By, Technique: term.Technique(a.Technique), Trouble: term.Trouble(a.Trouble), Mark: term.MarkLabel(a.Mark)}
	if a.When != "" {
		f.From, f.To = a.When, a.When+"-99" // days are compared as texts
	}
	return f
}

// with gives what is asked for with one of it another.
func (a FigureAsk) with(name, value string) FigureAsk {
	switch name {
	case askWhen:
		a.When = value
	case askBy:
		a.By = value
	case askTechnique:
		a.Technique = value
	case askTrouble:
		a.Trouble = value
	case askMark:
		a.Mark = value
	}
	return a
}

// FigurePick is one thing by which cases can be picked.
type FigurePick struct {
	Name, Label, Now string // Now: what is picked, in words
	Options          []FigureOption
}

// FigureOption is one way to pick.
type FigureOption struct {
	Code, Words string
	Cases       int      // that would be picked
	Here        bool     // it is picked now
	Fields      []string // of the page that it leads to, names and values in turn
}

// picks makes the choices: those by which there are cases, and the present one.
func (c *Companion) picks(ctx context.Context, all []countedCase, ask FigureAsk) ([]FigurePick, error) {
	s, now := Speaker{c.words}, c.clock.Now().Wall
	option := func(p *FigurePick, code, words string) {
		for _, o := range p.Options {
			if o.Code == code {
				return
			}
		}
		a := ask.with(p.Name, code)
		o := FigureOption{Code: code, Words: words, Fields: a.Fields("")}
		for _, x := range ask.fields() {
			if x[0] == p.Name {
				o.Here = x[1] == code
			}
		}
		f := a.filter()
		for i := range all {
			if f.Picks(all[i].Case) {
				o.Cases++
			}
		}
		if o.Here {
			p.Now = words
		}
		if o.Here || o.Cases > 0 || code == "" {
			p.Options = append(p.Options, o)
		}
	}
	var picks []FigurePick
	for _, name := range []string{askWhen, askBy, askTechnique, askTrouble, askMark} {
		p := FigurePick{Name: name}
		switch name {
		case askWhen:
			p.Label = s.Say("figures.when")
			option(&p, "", s.Say("figures.ever"))
			month := now.Format("2006-01")
			before := time.Date(now.Year(), now.Month(), 1, 0, 0, 0, 0, time.UTC).AddDate(0, 0, -1).Format("2006-01")
			option(&p, month, s.Say("figures.this-month", "month", month))
			option(&p, before, s.Say("figures.last-month", "month", before))
			year := strconv.Itoa(now.Year())
			option(&p, year, s.Say("figures.this-year", "year", year))
			var years, months []string
			for i := range all {
				term.Add(&years, all[i].Day[:4])
				if ask.When != "" && strings.HasPrefix(all[i].Day, ask.When[:4]) {
					term.Add(&months, all[i].Month())
				}
			}
			for _, y := range years {
				option(&p, y, y)
			}
			for _, m := range months {
				option(&p, m, m)
			}
			if ask.When != "" {
				option(&p, ask.When, ask.When)
			}
		case askBy:
			var people []string
			for i := range all {
				term.Add(&people, all[i].By)
			}
			slices.Sort(people)
			if len(people) < 2 && ask.By == "" {
				continue // they are all one person's
			}
			p.Label = s.Say("figures.by")
			option(&p, "", s.Say("figures.anybody"))
			for _, id := range append(people, ask.By) {
				if id == "" {
					continue
				}
				words, err := c.calledBy(ctx, id)
				if err != nil {
					return nil, err
				}
				option(&p, id, words)
			}
		case askTechnique:
			p.Label = s.Say("figures.technique")
			option(&p, "", s.Say("figures.any"))
			for _, x := range term.TechniqueList.Codes() {
				option(&p, string(x), Code(s, term.TechniqueList, x))
			}
		case askTrouble:
			p.Label = s.Say("figures.trouble")
			option(&p, "", s.Say("figures.any"))
			for _, x := range term.TroubleList.Codes() {
				option(&p, string(x), Code(s, term.TroubleList, x))
			}
		case askMark:
			p.Label = s.Say("figures.mark")
			option(&p, "", s.Say("figures.any"))
			for _, x := range term.MarkLabelList.Codes() {
				option(&p, string(x), Code(s, term.MarkLabelList, x))
			}
		}
		p.Label = upperFirst(p.Label)
		picks = append(picks, p)
	}
	return picks, nil
}

// calledBy names somebody who gives anaesthetics here: by the name, or else by
// the end of the id, so that two without a name are told apart.
func (c *Companion) calledBy(ctx context.Context, id string) (string, error) {
	e, err := c.person(ctx, id)
	if err != nil {
		return "", err
	}
	if e != nil {
		if name := e.Now().Private()[timeline.PrivateName]; name != "" {
			return name, nil
		}
	}
	s := Speaker{c.words}
	return s.Say("figures.unnamed", "id", ShortCase(id)), nil
}

// FiguresView is the page of what is counted.
type FiguresView struct {
	Picks    []FigurePick
	Ask      FigureAsk
	Cases    int
	NotBegun int
	Tables   []FigureTable
	Rates    []FigureRates
	Used     []FigureUsed
	Left     int    // doses that could not be added up
	Source   string // of the intervals
}

// FigureTable is counts, to be drawn as bars.
type FigureTable struct {
	Code, Label string
	Rows        []FigureBar
	Unsaid      int  // cases of which it was not recorded
	Several     bool // a case may stand in several rows
}

// FigureBar is one row: how many, and how long its bar is in a hundredth of the
// longest.
type FigureBar struct {
	Words string
	N     int
	Long  string
}

// FigureRates are rates of one sort, drawn on one scale.
type FigureRates struct {
	Code, Label string
	Note        string
	Rows        []FigureRate
	Scale       string // what the whole width is, in words
}

// FigureRate is n of m with its interval, in words, and where they stand on the
// scale in hundredths; empty: no bar is drawn.
type FigureRate struct {
	Words, Of, Interval string
	At, From, Wide      string
}

// FigureUsed is what was used of a drug or an agent.
type FigureUsed struct {
	Words, Amount string
	Cases         int
	Estimate      bool
}

// Figures gives the page of what is counted of the cases that are asked for.
func (c *Companion) Figures(ctx context.Context, ask FigureAsk) (FiguresView, error) {
	all, err := c.counted(ctx)
	if err != nil {
		return FiguresView{}, err
	}
	with, err := c.settingsOfUse(ctx, c.clock.Now().Wall)
	if err != nil {
		return FiguresView{}, err
	}
	list, err := waking.NextDay()
	if err != nil {
		return FiguresView{}, err
	}
	s := Speaker{c.words}
	f := ask.filter()
	cases := make([]*figure.Case, 0, len(all))
	for i := range all {
		cases = append(cases, all[i].Case)
	}
	w := figure.Work(cases, f)
	all = slices.DeleteFunc(all, func(n countedCase) bool { return !n.Begun }) // what a pick counts is what the page would
	picks, err := c.picks(ctx, all, ask)
	if err != nil {
		return FiguresView{}, err
	}
	v := FiguresView{Picks: picks, Ask: ask, Cases: w.Cases, NotBegun: w.NotBegun, Left: w.Left, Source: s.source(figure.Published)}
	if w.Cases == 0 {
		return v, nil
	}
	table := func(code, label string, t figure.Table, several bool, words func(code string) string) {
		x := FigureTable{Code: code, Label: upperFirst(label), Unsaid: t.Unsaid, Several: several}
		most := 1
		for _, r := range t.Rows {
			most = max(most, r.N)
		}
		for _, r := range t.Rows {
			x.Rows = append(x.Rows, FigureBar{words(r.Code), r.N, hundredths(float64(r.N) / float64(most))})
		}
		v.Tables = append(v.Tables, x)
	}
	table("months", s.Say("figures.by-month"), withGaps(w.Months), false, func(code string) string { return code })
	table("technique", s.Say("figures.technique"), w.Techniques, true, codeWords(s, term.TechniqueList))
	table("operation", s.Say("field.operation"), w.Operations, false, codeWords(s, term.OperationList))
	table("age", s.Say("field.age"), w.Ages, false, codeWords(s, term.AgeBandList))
	table("asa", s.Say("field.asa"), w.ASA, false, codeWords(s, term.ASAList))
	table("urgency", s.Say("field.urgency"), w.Urgency, false, codeWords(s, term.UrgencyList))
	table("supervision", s.Say("field.supervision"), w.Supervision, false, codeWords(s, term.SupervisionList))
	table("airway", s.Say("kind.airway"), w.Airways, true, codeWords(s, term.AirwayDeviceList))

	v.Rates = append(v.Rates,
		s.rates("trouble", s.Say("figures.troubles"), s.Say("figures.troubles-note"), append(w.Troubles, named(w.Untouched, noTrouble)), func(code string) string {
			if code == noTrouble {
				return s.Say("figures.no-trouble")
			}
			return codeWords(s, term.TroubleList)(code)
		}),
		s.rates("outcome", s.Say("kind.outcome"), s.Count("figures.no-outcome", w.NoOutcome), w.Outcomes, codeWords(s, term.OutcomeList)),
		s.rates("asked", s.Say("figures.follow-up"), s.Say("figures.follow-up-note"), append([]figure.Rate{named(w.Asked, "asked")}, toldRates(list, w.Replies)...), func(code string) string {
			if code == "asked" {
				return s.Say("figures.asked")
			}
			return s.question(code)
		}))
	for _, d := range w.Doses {
		v.Used = append(v.Used, FigureUsed{Words: s.Drug(d.Drug), Amount: s.Amount(threeFigures(s.readable(d.Amount), quantity.Amount.Down)), Cases: d.Cases})
	}
	var begun []*figure.Case
	for _, n := range cases {
		if n.Begun && f.Picks(n) {
			begun = append(begun, n)
		}
	}
	breathed := breathedBy(begun, with)
	for _, a := range append(term.AgentList.Codes(), "") {
		b := breathed[a]
		switch {
		case b == nil:
		case a == "":
			v.Used = append(v.Used, FigureUsed{s.Say("figures.oxygen"), s.spanOf(amountOf(b.low, quantity.L), amountOf(b.high, quantity.L)), b.cases, true})
		case b.high > 0:
			v.Used = append(v.Used, FigureUsed{Code(s, term.AgentList, a), s.spanOf(amountOf(b.low, quantity.ML), amountOf(b.high, quantity.ML)), b.cases, true})
		}
	}
	return v, nil
}

func amountOf(x float64, u quantity.Unit) quantity.Amount {
	return quantity.MustParse(strconv.FormatFloat(x, 'f', 1, 64) + " " + u.String())
}

// codeWords gives the words of the codes of a list; a code that this program
// does not know stands for itself.
func codeWords[C ~string](s Speaker, l *term.List[C]) func(string) string {
	return func(code string) string {
		if !l.Has(C(code)) {
			return code
		}
		return Code(s, l, C(code))
	}
}

func named(r figure.Rate, code string) figure.Rate {
	r.Code = code
	return r
}

func hundredths(x float64) string { return strconv.FormatFloat(100*x, 'f', 1, 64) }

// gapsMost bounds the months that are drawn where nothing was done.
const gapsMost = 36

// withGaps puts in the months between the first and the last without a case, so
// that the bars stand for time.
func withGaps(t figure.Table) figure.Table {
	if len(t.Rows) < 2 {
		return t
	}
	n := map[string]int{}
	for _, r := range t.Rows {
		n[r.Code] = r.N
	}
	at, err := time.Parse("2006-01", t.Rows[0].Code)
	if err != nil {
		return t
	}
	var rows []figure.Row
	for last := t.Rows[len(t.Rows)-1].Code; len(rows) < len(t.Rows)+gapsMost; at = at.AddDate(0, 1, 0) {
		m := at.Format("2006-01")
		rows = append(rows, figure.Row{Code: m, N: n[m]})
		if m == last {
			t.Rows = rows
			return t
		}
	}
	return t // years without a case: the months that have one
}

// toldRates gives, for each question in the order of the list, how many of the
// answers were ones that whoever gave the anaesthetic should hear.
func toldRates(list *waking.Questions, replies []figure.Reply) (all []figure.Rate) {
	of, told := map[string]int{}, map[string]int{}
	for i := range replies {
		r := &replies[i]
		q := questionOf(list, r.Question)
		if q == nil {
			continue
		}
		tell, err := q.ToTell(replyOf(r))
		if err != nil {
			continue // it came from another list, and nobody knows what it means here
		}
		of[r.Question]++
		if tell {
			told[r.Question]++
		}
	}
	for _, q := range list.Questions {
		if n := of[q.Code]; n > 0 && q.Tell {
			all = append(all, figure.Of(q.Code, told[q.Code], n))
		}
	}
	return all
}

func questionOf(list *waking.Questions, code string) *waking.Question {
	for i := range list.Questions {
		if list.Questions[i].Code == code {
			return &list.Questions[i]
		}
	}
	return nil
}

func replyOf(p *figure.Reply) waking.Reply {
	r := waking.Reply{Said: waking.Said(p.Answer), Grade: p.Grade}
	if p.Score != nil {
		r.Score = quantity.Amount{Value: quantity.DecimalFromInt(int64(*p.Score)), Unit: quantity.ScoreOne}
	}
	return r
}

// scales are what the whole width of a drawing of rates may stand for.
var scales = []float64{0.05, 0.1, 0.25, 0.5, 1}

// rates writes rates, each as n of m with its interval, on one scale.
func (s Speaker) rates(code, label, note string, rows []figure.Rate, words func(string) string) FigureRates {
	x := FigureRates{Code: code, Label: upperFirst(label), Note: note}
	most := 0.0
	for _, r := range rows {
		if r.Code != noTrouble {
			most = math.Max(most, r.High)
		}
	}
	scale := scales[len(scales)-1]
	for _, w := range slices.Backward(scales) {
		if w >= most {
			scale = w
		}
	}
	x.Scale = s.Say("figures.scale", "most", s.percent(scale))
	for _, r := range rows {
		if r.Of == 0 {
			continue
		}
		p := float64(r.N) / float64(r.Of)
		row := FigureRate{
			Words: words(r.Code), Of: s.Say("figures.of", "n", r.N, "m", r.Of, "percent", s.percent(p)),
			Interval: s.Say("figures.interval", "low", s.percent(r.Low), "high", s.percent(r.High)),
			At:       hundredths(math.Min(p/scale, 0.99)), From: hundredths(r.Low / scale), Wide: hundredths((r.High - r.Low) / scale),
		}
		if r.Code == noTrouble {
			row.At, row.From, row.Wide = "", "", ""
		}
		x.Rows = append(x.Rows, row)
	}
	return x
}

// noTrouble stands for cases without any trouble. They are most, and would take
// the scale from those that are few: they have no bar.
const noTrouble = "none"

// percent writes a proportion to a tenth of a per cent.
func (s Speaker) percent(p float64) string {
	text := strings.TrimSuffix(strconv.FormatFloat(100*p, 'f', 1, 64), ".0")
	return s.Amount(quantity.MustParse(text + " " + quantity.Percent.String()))
}

// SearchView is a page of the cases that are asked for, the latest first.
type SearchView struct {
	Picks  []FigurePick
	Ask    FigureAsk
	Cases  []LogLine
	Total  int
	Page   int // from 0
	Before bool
	Next   bool
	All    []string // ids of all of them, on every page
}

// Search finds cases, whether or not the anaesthetic has begun.
func (c *Companion) Search(ctx context.Context, ask FigureAsk, page int) (SearchView, error) {
	all, err := c.counted(ctx)
	if err != nil {
		return SearchView{}, err
	}
	picks, err := c.picks(ctx, all, ask)
	if err != nil {
		return SearchView{}, err
	}
	v := SearchView{Picks: picks, Ask: ask}
	f := ask.filter()
	for i := range all {
		if f.Picks(all[i].Case) {
			v.All = append(v.All, all[i].id)
		}
	}
	v.Total = len(v.All)
	v.Page = max(0, min(page, (v.Total-1)/logPage))
	from, to := v.Page*logPage, min(v.Total, (v.Page+1)*logPage)
	v.Before, v.Next = from > 0, to < v.Total
	for _, id := range v.All[from:to] {
		cs, err := c.peek(ctx, id)
		if err != nil {
			return v, err
		}
		v.Cases = append(v.Cases, cs.logLine(Speaker{c.words}))
	}
	return v, nil
}
