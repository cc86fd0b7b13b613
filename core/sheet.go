package core

import (
	"context"
	"math"
	"slices"
	"strings"
	"time"

	"chinlift/core/quantity"
	"chinlift/core/record"
	"chinlift/core/term"
	"chinlift/core/timeline"
)

// Sheet makes the drawn record of a case: plain values and finished words.
func (c *Companion) Sheet(ctx context.Context, id string) (*record.Sheet, error) {
	return c.SheetOf(ctx, id, true)
}

// SheetOf is Sheet, without names and free text unless private is set.
func (c *Companion) SheetOf(ctx context.Context, id string, private bool) (*record.Sheet, error) {
	cs, err := c.Case(ctx, id)
	if err != nil {
		return nil, err
	}
	if !private {
		cs = cs.withoutPrivate()
	}
	now := c.clock.Now()
	late, err := c.minutes(ctx, term.SettingLateAfter, now.Wall, lateAfter)
	if err != nil {
		return nil, err
	}
	b := sheetMaker{c: c, cs: cs, s: Speaker{c.words}, late: late, sheet: &record.Sheet{}}
	b.head(now)
	b.chart()
	b.bands(now)
	if err := b.course(ctx); err != nil {
		return nil, err
	}
	b.entries()
	if err := b.stands(ctx); err != nil {
		return nil, err
	}
	return b.sheet, nil
}

// stands says of every dose that no rule judged it, or one that nobody of the
// clinic stood for when it was given: in words in the list of entries, by an
// open mark on the drawing.
func (b *sheetMaker) stands(ctx context.Context) error {
	notes := map[string]string{}
	for i, e := range b.cs.Entries {
		note, err := b.c.stand(ctx, b.cs, e)
		if err != nil {
			return err
		}
		if note != "" {
			notes[e.ID] = note
			b.sheet.Entries[i].Text = b.s.noted(b.sheet.Entries[i].Text, note)
		}
	}
	for i := range b.sheet.Marks {
		b.sheet.Marks[i].Open = notes[b.sheet.Marks[i].ID]
	}
	return nil
}

// withoutPrivate folds the case from lines whose private part was left out.
func (cs *Case) withoutPrivate() *Case {
	bare := make([]*timeline.Line, len(cs.lines))
	for i, l := range cs.lines {
		b := l.WithoutPrivate()
		bare[i] = &b
	}
	return newCase(cs.ID, bare, nil)
}

type sheetMaker struct {
	c     *Companion
	cs    *Case
	s     Speaker
	late  time.Duration
	sheet *record.Sheet

	agentBands int // how many of the bands are of agents
}

// ShortCase is the case number that people say and files are named by: the
// end of the id, which holds no identity.
func ShortCase(id string) string {
	if len(id) < 8 {
		return id
	}
	return id[len(id)-8:]
}

// For names the patient: the name where it is here, else the case number.
func (cs *Case) For(s Speaker) string {
	if n := cs.Name(cs.Patient); n != "" {
		return n
	}
	if cs.nameSealed(cs.Patient) {
		return s.Say("seal.case", "n", ShortCase(cs.ID))
	}
	return s.Say("case.number", "n", ShortCase(cs.ID))
}

// Detail is what stands beside the name: age, weight, operation and side. A
// guessed weight says so.
func (cs *Case) Detail(s Speaker) string {
	weight := s.Amount(cs.Facts.Weight)
	if weight != "" && cs.Facts.WeightHow == term.WeightHowGuessed {
		weight = s.Say("case.guessed", "n", weight)
	}
	op := Code(s, term.OperationList, cs.Plan.Operation)
	if side := cs.Facts.Side; side != "" && side != term.SideNone {
		op = join(", ", op, Code(s, term.SideList, side))
	}
	return join(" · ", s.Age(cs.Facts.Age), weight, op)
}

func (b *sheetMaker) head(now Reading) {
	s, cs, sh := b.s, b.cs, b.sheet
	sh.Title = s.Say("record.title")
	sh.For = join(" · ", cs.For(s), cs.Detail(s))
	sh.Case = s.Say("case.number", "n", ShortCase(cs.ID))
	sh.Foot = s.Say("record.foot", "by", cs.By(s, b.c.Author()), "when", s.Date(now.Moment()))
	fact := func(label, value string) {
		if value != "" {
			sh.Facts = append(sh.Facts, record.Fact{Label: label, Value: value})
		}
	}
	f := &cs.Facts
	fact(s.Say("field.opened"), s.Date(cs.Opened))
	if e := cs.Persons[cs.Patient]; e != nil {
		fact(s.Say("field.number"), e.Now().Private()[timeline.PrivateNumber])
	}
	fact(s.Say("field.age"), s.Age(f.Age))
	fact(s.Say("field.sex"), Code(s, term.SexList, f.Sex))
	if !f.Weight.IsZero() {
		fact(s.Say("field.weight"), s.Say("say.weight", "n", s.Amount(f.Weight), "how", Code(s, term.WeightHowList, f.WeightHow), "by", Code(s, term.WeightByList, f.WeightBy)))
	}
	fact(s.Say("field.asa"), s.ASA(f))
	fact(s.Say("field.urgency"), Code(s, term.UrgencyList, cs.Urgency))
	fact(s.Say("field.allergies"), list(s, term.AllergyList, f.Allergies))
	fact(s.Say("field.with"), list(s, term.ConditionList, f.With))
	fact(s.Say("field.operation"), join(" · ", Code(s, term.OperationList, cs.Plan.Operation), cs.PlanText))
	fact(s.Say("field.side"), Code(s, term.SideList, f.Side))
	fact(s.Say("field.techniques"), list(s, term.TechniqueList, cs.Plan.Techniques))
	fact(s.Say("field.mallampati"), Code(s, term.MallampatiList, f.Mallampati))
	fact(s.Say("field.teeth"), Code(s, term.TeethList, f.Teeth))
	fact(s.Say("field.consent"), Code(s, term.ConsentByList, f.Consent))
	fact(s.Say("field.anaesthetics_before"), Code(s, term.EarlierList, f.Before))
	fact(s.Say("field.takes"), list(s, term.TakesList, f.Takes))
	fact(s.Say("field.warnings"), list(s, term.WarningList, f.Warnings))
	fact(s.Say("field.by"), b.people())
	fact(s.Say("field.outcome"), Code(s, term.OutcomeList, cs.Outcome))

	sh.Words = record.Words{
		Systolic: s.Say("field.systolic"), Diastolic: s.Say("field.diastolic"), Pulse: s.Say("field.pulse"),
		Pressure: s.Say("record.axis"), Time: s.Say("record.time"), Entered: s.Say("record.entered"), Lacking: s.Say("record.lacking"), Entry: s.Say("record.entry"), By: s.Say("field.by"),
		Late: s.Say("record.late"), Was: s.Say("record.was"), Struck: s.Say("record.struck"), Conflict: s.Say("record.conflict"),
		Page: s.Say("record.page", "n", "{n}", "m", "{m}"), Empty: s.Say("record.empty"),
		Open: s.Say("stand.legend"),
	}
	sh.Notices = b.notices()
	sh.Words.Summary = b.summary()
}

// people lists who entered something, by name where it is known.
func (b *sheetMaker) people() string {
	var names []string
	for _, e := range b.cs.Entries {
		for i := range e.Versions {
			term.Add(&names, b.by(e.Versions[i].Line))
		}
	}
	return strings.Join(names, ", ")
}

func (b *sheetMaker) by(l *timeline.Line) string {
	return b.cs.By(b.s, l.Event.Author)
}

func cmpOr(s, otherwise string) string {
	if s == "" {
		return otherwise
	}
	return s
}

// notices are what a reader must know before reading the entries.
func (b *sheetMaker) notices() []string {
	s, cs := b.s, b.cs
	notices := []string{s.Say("record.caution")}
	conflicts := 0
	for _, e := range cs.Entries {
		if e.Conflict() {
			conflicts++
		}
	}
	if conflicts > 0 {
		notices = append(notices, s.Count("record.conflicts", conflicts))
	}
	if n := len(cs.Story.Waiting); n > 0 {
		notices = append(notices, s.Count("record.waiting", n))
	}
	if n := len(cs.Story.Aside); n > 0 {
		notices = append(notices, s.Count("record.aside", n))
	}
	for _, step := range timeline.ClockSteps(cs.lines) {
		key := "record.clock-forward"
		if step.By < 0 {
			key = "record.clock-back"
		}
		//word:prefix record.clock-
		notices = append(notices, s.Say(key, "at", s.Clock(step.After.Event.Entered.Wall), "span", s.Span(step.By.Abs())))
	}
	for _, e := range cs.Owing() {
		notices = append(notices, s.Clock(e.Now().At)+" "+s.debt(cs, e))
	}
	return notices
}

// summary is what a person who cannot see the drawing is told.
func (b *sheetMaker) summary() string {
	var now []string
	m := b.cs.measures()
	for _, name := range []string{"systolic", "diastolic", "pulse", "spo2", "breaths"} {
		if v, ok := m[name]; ok {
			now = append(now, b.s.pair(name, b.s.Amount(v.Value))+" ("+b.s.Clock(v.At)+")")
		}
	}
	return b.s.Say("record.summary", "for", b.sheet.For, "n", len(b.cs.Entries), "last", cmpOr(strings.Join(now, ", "), b.s.Say("record.empty")))
}

// standing says how an entry stands in this case.
func (b *sheetMaker) standing(e *timeline.Entry) record.Standing {
	v := e.Now()
	switch {
	case e.Conflict():
		return record.Disputed
	case v.Case != b.cs.ID:
		return record.Moved
	case v.Struck:
		return record.Struck
	case len(e.Versions) > 1 && v.Content != e.Root():
		return record.Amended
	}
	return record.Stands
}

// was lists what older versions said, oldest first, without repeats.
func (b *sheetMaker) was(e *timeline.Entry, say func(*timeline.Version) string) []string {
	var all []string
	nowText := say(e.Now())
	for i := range e.Versions {
		t := say(&e.Versions[i])
		if t != "" && t != nowText {
			term.Add(&all, t)
		}
	}
	return all
}

// chart places pressures, pulse, and the rows of numbers. A row has the unit
// of its first value.
func (b *sheetMaker) chart() {
	rows, units := map[string]*record.Row{}, map[string]quantity.Unit{}
	for _, e := range b.cs.Entries {
		m := measuresOf(e.Now().Payload)
		if m == nil {
			continue
		}
		v, st := e.Now(), b.standing(e)
		point := func(name string, unit quantity.Unit) record.Point {
			a := *m.Named(name)
			if a.IsZero() {
				return record.Point{}
			}
			f, err := a.Float64(unit)
			if err != nil {
				f = math.NaN() // it has no place among the others
			}
			return record.Point{At: v.At.Time, Value: f, Text: b.in(a, unit), Standing: st, ID: e.ID,
				Was: b.was(e, func(o *timeline.Version) string {
					if om := measuresOf(o.Payload); om != nil {
						return b.in(*om.Named(name), unit)
					}
					return ""
				})}
		}
		if !m.Systolic.IsZero() || !m.Diastolic.IsZero() {
			b.sheet.Pressure = append(b.sheet.Pressure, record.Pair{At: v.At.Time, Standing: st, ID: e.ID,
				Systolic: point("systolic", quantity.MmHg), Diastolic: point("diastolic", quantity.MmHg)})
		}
		if p := point("pulse", quantity.PerMin); p.Text != "" {
			b.sheet.Pulse = append(b.sheet.Pulse, p)
		}
		for _, name := range []string{"spo2", "breaths", "etco2", "temperature", "glucose"} {
			a := *m.Named(name)
			if a.IsZero() {
				continue
			}
			if rows[name] == nil {
				units[name] = a.Unit
				rows[name] = &record.Row{Label: join(" ", b.s.Say("field."+name), a.Unit.Symbol())}
			}
			rows[name].Points = append(rows[name].Points, point(name, units[name]))
		}
	}
	for _, name := range []string{"spo2", "breaths", "etco2", "temperature", "glucose"} {
		if r := rows[name]; r != nil {
			b.sheet.Numbers = append(b.sheet.Numbers, *r)
		}
	}
}

// in writes a value for a row in a unit: the number alone, converted where it
// was entered in another unit, in tenths; with its own unit where the two do
// not mix.
func (b *sheetMaker) in(a quantity.Amount, unit quantity.Unit) string {
	if a.IsZero() || a.Unit == unit {
		return b.s.Number(a)
	}
	if c, err := a.In(unit); err == nil {
		return b.s.Number(c.Round(1))
	}
	return b.s.Amount(a)
}

func measuresOf(p timeline.Payload) *timeline.Measures {
	switch p := p.(type) {
	case *timeline.Vitals:
		return &p.Measures
	case *timeline.Baseline:
		return &p.Measures
	}
	return nil
}

// bandTop is the drawn height of a full band. For drops it is what tips a
// bottle into pouring, for percent the usual end of a dial; a higher value is
// drawn as full, with its number (drawing scale only, no source).
const (
	bandTopDrops   = 200.0
	bandTopPercent = 10.0
	bandTopOxygen  = 10.0
)

// bands makes the stretches in which agent, oxygen, cover and breathing
// support stayed as they were. They end with the anaesthetic, or now while it
// goes on.
func (b *sheetMaker) bands(now Reading) {
	s, cs := b.s, b.cs
	agents := map[term.Agent]*record.Band{}
	var order []term.Agent
	var oxygen, cover, support record.Band
	oxygen.Label, cover.Label, support.Label = s.Say("field.oxygen"), s.Say("field.cover"), s.Say("kind.support")
	open := func(band *record.Band, span *record.Span, at time.Time) {
		if n := len(band.Spans); n > 0 && band.Spans[n-1].To.IsZero() {
			band.Spans[n-1].To = at
		}
		if span != nil {
			band.Spans = append(band.Spans, *span)
		}
	}
	for e, a := range timeline.Each[*timeline.AgentDelivery](cs.Entries, cs.ID) {
		at := e.Now().At.Time
		st := b.standing(e)
		if a.Agent != "" && (a.Off || !a.Drops.IsZero() || !a.Percent.IsZero() || a.Wetness != "") {
			for _, other := range agents { // one mask, one agent: another ends the one before
				open(other, nil, at)
			}
			band := agents[a.Agent]
			if band == nil {
				band = &record.Band{Label: Code(s, term.AgentList, a.Agent)}
				agents[a.Agent] = band
				order = append(order, a.Agent)
			}
			if !a.Off {
				level, text := agentLevel(s, a)
				if level > 0 {
					open(band, &record.Span{From: at, Level: level, Text: text, Standing: st, ID: e.ID}, at)
				}
			}
		}
		if !a.Oxygen.IsZero() {
			flow, err := a.Oxygen.Float64(quantity.LPerMin)
			if err == nil && flow > 0 {
				open(&oxygen, &record.Span{From: at, Level: min(1, flow/bandTopOxygen), Text: s.Amount(a.Oxygen), Standing: st, ID: e.ID}, at)
			} else {
				open(&oxygen, nil, at)
			}
		}
		switch a.Cover {
		case term.CoverOn:
			open(&cover, &record.Span{From: at, Level: 1, Text: s.Say("say.cover", "state", Code(s, term.CoverList, a.Cover)), Standing: st, ID: e.ID}, at)
		case term.CoverOff:
			open(&cover, nil, at)
		}
	}
	for e, p := range timeline.Each[*timeline.Support](cs.Entries, cs.ID) {
		at := e.Now().At.Time
		open(&support, &record.Span{From: at, Level: 1, Text: Code(s, term.SupportList, p.Support), Standing: b.standing(e), ID: e.ID}, at)
	}
	end := now.Wall
	if at, over := cs.Over(); over {
		end = at.Time
	}
	add := func(band *record.Band) {
		if len(band.Spans) > 0 {
			if l := &band.Spans[len(band.Spans)-1]; l.To.IsZero() {
				l.To = maxTime(end, l.From)
			}
			b.sheet.Bands = append(b.sheet.Bands, *band)
		}
	}
	for _, a := range order {
		add(agents[a])
	}
	b.agentBands = len(b.sheet.Bands)
	add(&oxygen)
	add(&cover)
	add(&support)
}

func maxTime(a, b time.Time) time.Time {
	if a.After(b) {
		return a
	}
	return b
}

// agentLevel gives the drawn height of a delivery and its words.
func agentLevel(s Speaker, a *timeline.AgentDelivery) (float64, string) {
	text := join(" ", s.Amount(a.Drops), s.Amount(a.Percent), Code(s, term.WetnessList, a.Wetness))
	switch {
	case !a.Drops.IsZero():
		return min(1, a.Drops.Value.Float64()/bandTopDrops), text
	case !a.Percent.IsZero():
		return min(1, a.Percent.Value.Float64()/bandTopPercent), text
	case a.Wetness != "":
		return float64(term.WetnessList.Index(a.Wetness)) / 3, text // dry, damp, wet, soaked
	}
	return 0, text
}

// entries makes the marks of the chart and the list of all entries.
func (b *sheetMaker) entries() {
	for _, e := range b.cs.Entries {
		v := e.Now()
		text, st := b.s.Entry(v), b.standing(e)
		late := e.Late(b.late)
		if kind, ok := laneOf(v.Payload); ok {
			b.sheet.Marks = append(b.sheet.Marks, record.Mark{At: v.At.Time, Kind: kind, Text: b.mark(v.Payload, text), Standing: st, Late: late, ID: e.ID,
				Was: b.was(e, func(o *timeline.Version) string { return b.mark(o.Payload, b.s.Entry(o)) })})
		}
		entry := record.Entry{At: v.At.Time, Text: text, By: b.by(v.Content), Standing: st, Late: late,
			Entered: e.Root().Event.Entered.Wall.Time, ID: e.ID}
		if len(e.Versions) > 1 {
			for i := range e.Versions {
				o := &e.Versions[i]
				if o == v && o.Content == o.Line {
					// The standing version is the entry itself; why it was made
					// stands with the one that it replaced.
					continue
				}
				entry.History = append(entry.History, b.change(e, o))
			}
		}
		b.sheet.Entries = append(b.sheet.Entries, entry)
	}
}

// change describes an older version and why it was left.
func (b *sheetMaker) change(e *timeline.Entry, o *timeline.Version) record.Change {
	ch := record.Change{At: o.At.Time, Text: b.s.Entry(o), By: b.by(o.Line), Entered: o.Line.Event.Entered.Wall.Time}
	var why []string
	switch p := o.Line.Payload.(type) {
	case *timeline.Struck:
		why = append(why, b.s.Say("record.struck"))
	case *timeline.Restored:
		why = append(why, b.s.Say("record.restored"))
	case *timeline.Moved:
		why = append(why, b.s.Say("record.moved", "from", ShortCase(p.From), "to", ShortCase(o.Case)))
	}
	if r := o.Line.Event.Reason; r != "" {
		why = append(why, Code(b.s, term.ReasonList, r))
	}
	for i := range e.Versions {
		next := &e.Versions[i].Line.Event
		if next.Reason != "" && slices.Contains(next.Replaces, o.Line.Event.ID) {
			why = append(why, b.s.Say("record.replaced", "reason", Code(b.s, term.ReasonList, next.Reason), "at", b.s.Clock(next.Entered.Wall)))
		}
	}
	ch.Reason = strings.Join(why, "; ")
	return ch
}

// mark shortens what stands on the drawing.
func (b *sheetMaker) mark(p timeline.Payload, full string) string {
	switch p := p.(type) {
	case *timeline.Drug:
		return join(" ", b.s.Drug(p.Drug), b.s.Amount(p.Dose))
	case *timeline.Mark:
		if p.Label == "" {
			return "?"
		}
		return Code(b.s, term.MarkLabelList, p.Label)
	case *timeline.Airway:
		return join(" ", Code(b.s, term.AirwayDeviceList, p.Device), p.Size.String(), Code(b.s, term.AirwayActList, p.Act))
	}
	return full
}

// laneOf says where on the drawing a kind is marked, if at all.
func laneOf(p timeline.Payload) (record.MarkKind, bool) {
	switch p.(type) {
	case *timeline.Phase:
		return record.PhaseMark, true
	case *timeline.Step, *timeline.Position, *timeline.Block, *timeline.Birth, *timeline.Access, *timeline.Performed:
		return record.StepMark, true
	case *timeline.Drug, *timeline.Infusion, *timeline.In, *timeline.Out:
		return record.DrugMark, true
	case *timeline.Signs, *timeline.Airway:
		return record.SignMark, true
	case *timeline.Trouble, *timeline.Mark:
		return record.TroubleMark, true
	}
	return 0, false
}
