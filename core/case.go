package core

import (
	"slices"
	"time"

	"chinlift/core/quantity"
	"chinlift/core/term"
	"chinlift/core/timeline"
)

// Case is a case folded, with what stands now worked out. It is read only.
type Case struct {
	ID      string
	Story   *timeline.Story
	Entries []*timeline.Entry // everything that is or once was about this case, in drawing order
	Persons map[string]*timeline.Entry

	Opened   timeline.Moment
	Patient  string
	Urgency  term.Urgency
	Closed   bool
	Outcome  term.Outcome
	Facts    timeline.Facts // each field from the latest entry that has it
	Plan     timeline.Plan  // the latest plan
	PlanText string         // the surgeon's words for it
	Phases   map[term.Phase]timeline.Moment
	Phase    term.Phase // the one that began last; empty before the first

	lines  []*timeline.Line
	people []string
}

func newCase(id string, lines []*timeline.Line, persons map[string]*timeline.Entry) *Case {
	return caseOf(id, timeline.Fold(lines), lines, peopleOf(lines), persons)
}

// CaseOf works out what stands in a folded case.
func CaseOf(id string, story *timeline.Story, persons map[string]*timeline.Entry) *Case {
	lines := story.Lines()
	return caseOf(id, story, lines, peopleOf(lines), persons)
}

// with gives the case with one more line, which names nobody new.
func (cs *Case) with(l *timeline.Line) *Case {
	return caseOf(cs.ID, cs.Story.With(l), append(slices.Clip(cs.lines), l), cs.people, cs.Persons)
}

// caseOf works out what stands now.
func caseOf(id string, story *timeline.Story, lines []*timeline.Line, people []string, persons map[string]*timeline.Entry) *Case {
	cs := &Case{ID: id, Story: story, Persons: persons, Phases: map[term.Phase]timeline.Moment{}, lines: lines, people: people}
	cs.Entries = cs.Story.About(id)
	for _, e := range cs.Entries {
		if !e.In(id) {
			continue
		}
		v := e.Now()
		switch p := v.Payload.(type) {
		case *timeline.CaseOpened:
			cs.Opened, cs.Patient, cs.Urgency = v.At, p.Patient, p.Urgency
		case *timeline.CaseClosed:
			cs.Closed = true
		case *timeline.Outcome:
			cs.Outcome = p.Outcome
		case *timeline.Facts:
			mergeFacts(&cs.Facts, p)
		case *timeline.Plan:
			cs.Plan, cs.PlanText = *p, v.Private()[timeline.PrivateText]
		case *timeline.Phase:
			cs.Phases[p.Phase] = v.At
			cs.Phase = p.Phase
		}
	}
	if cs.Opened.IsZero() && len(cs.Entries) > 0 {
		cs.Opened = cs.Entries[0].Now().At // the opening has not arrived: the first thing known stands in
	}
	return cs
}

// mergeFacts lays the fields that f has over those of into. The two fields of
// a weight go with it.
func mergeFacts(into, f *timeline.Facts) {
	amount := func(to *quantity.Amount, from quantity.Amount) {
		if !from.IsZero() {
			*to = from
		}
	}
	amount(&into.Age, f.Age)
	amount(&into.Length, f.Length)
	amount(&into.Haemoglobin, f.Haemoglobin)
	if !f.Weight.IsZero() {
		into.Weight, into.WeightHow, into.WeightBy = f.Weight, f.WeightHow, f.WeightBy
	}
	if f.ASA != "" {
		into.ASA, into.Emergency = f.ASA, f.Emergency
	}
	setCode(&into.Sex, f.Sex)
	setCode(&into.Mallampati, f.Mallampati)
	setCode(&into.Mouth, f.Mouth)
	setCode(&into.Neck, f.Neck)
	setCode(&into.Teeth, f.Teeth)
	setCode(&into.Side, f.Side)
	setCode(&into.SideMarked, f.SideMarked)
	setCode(&into.Consent, f.Consent)
	setCode(&into.Pregnant, f.Pregnant)
	if len(f.Allergies) > 0 {
		into.Allergies = f.Allergies
	}
}

func setCode[C ~string](to *C, from C) {
	if from != "" {
		*to = from
	}
}

// peopleOf lists everyone whom the lines name, in order of first naming.
func peopleOf(lines []*timeline.Line) []string {
	var ids []string
	add := func(id string) {
		if id != "" && id != Nobody && !slices.Contains(ids, id) {
			ids = append(ids, id)
		}
	}
	for _, l := range lines {
		add(l.Event.Author)
		switch p := l.Payload.(type) {
		case *timeline.CaseOpened:
			add(p.Patient)
		case *timeline.Birth:
			add(p.Newborn)
		}
	}
	return ids
}

// Name gives the name of a person, or "" where it is not known here.
func (cs *Case) Name(person string) string {
	if e := cs.Persons[person]; e != nil {
		return e.Now().Private()[timeline.PrivateName]
	}
	return ""
}

// Last gives the latest entry of one kind that stands, or nil.
func last[P timeline.Payload](cs *Case, keep func(P) bool) (*timeline.Entry, P) {
	var zero P
	for _, e := range slices.Backward(cs.Entries) {
		if !e.In(cs.ID) {
			continue
		}
		if p, ok := e.Now().Payload.(P); ok && (keep == nil || keep(p)) {
			return e, p
		}
	}
	return nil, zero
}

// Asleep reports since when the patient has been under the anaesthetic.
func (cs *Case) Asleep() (since timeline.Moment, yes bool) {
	if _, over := cs.Phases[term.PhaseAnaesthesiaEnd]; over {
		return timeline.Moment{}, false
	}
	m, ok := cs.Phases[term.PhaseAnaesthesiaStart]
	return m, ok
}

// Unrecovered reports that the anaesthetic has begun and nobody has said how
// it ended, nor handed the patient over.
func (cs *Case) Unrecovered() bool {
	_, began := cs.Phases[term.PhaseAnaesthesiaStart]
	_, handed := cs.Phases[term.PhaseHandedOver]
	return began && !handed && cs.Outcome == "" && !cs.Closed
}

// Owing lists the reasons that are owed and were not given.
func (cs *Case) Owing() []*timeline.Entry {
	given := map[string]bool{}
	for _, o := range timeline.Each[*timeline.Owed](cs.Entries, cs.ID) {
		if o.Act == term.OwedActGiven {
			given[o.Debt] = true
		}
	}
	var due []*timeline.Entry
	for e, o := range timeline.Each[*timeline.Owed](cs.Entries, cs.ID) {
		if o.Act == term.OwedActOwed && !given[e.ID] {
			due = append(due, e)
		}
	}
	return due
}

// Measure is the latest value of one measure, with its time.
type Measure struct {
	Value quantity.Amount
	At    timeline.Moment
	Entry *timeline.Entry
}

// PhaseNames lists the phases of an anaesthetic in their order.
var PhaseNames = phaseNames()

func phaseNames() []string {
	var names []string
	for _, p := range term.PhaseList.Codes() {
		names = append(names, string(p))
	}
	return names
}

// MeasureNames lists the measures in the order in which trays show them.
var MeasureNames = []string{"systolic", "diastolic", "pulse", "spo2", "breaths", "etco2", "temperature", "glucose"}

// MeasureOf picks a measure by its name.
func MeasureOf(m *timeline.Measures, name string) *quantity.Amount {
	switch name {
	case "systolic":
		return &m.Systolic
	case "diastolic":
		return &m.Diastolic
	case "pulse":
		return &m.Pulse
	case "spo2":
		return &m.SpO2
	case "breaths":
		return &m.Breaths
	case "etco2":
		return &m.EtCO2
	case "temperature":
		return &m.Temperature
	case "glucose":
		return &m.Glucose
	}
	return nil
}

// measures gives the latest value of each measure that has one.
func (cs *Case) measures() map[string]Measure {
	all := map[string]Measure{}
	put := func(e *timeline.Entry, m *timeline.Measures) {
		for _, name := range MeasureNames {
			if a := *MeasureOf(m, name); !a.IsZero() {
				all[name] = Measure{a, e.Now().At, e}
			}
		}
	}
	for _, e := range cs.Entries {
		if !e.In(cs.ID) {
			continue
		}
		switch p := e.Now().Payload.(type) {
		case *timeline.Vitals:
			put(e, &p.Measures)
		case *timeline.Baseline:
			put(e, &p.Measures)
		}
	}
	return all
}

// Delivery is what is being given to breathe, put together from the changes.
type Delivery struct {
	Agent                   term.Agent // empty: none, or off
	Drops                   quantity.Amount
	Percent                 quantity.Amount
	Wetness                 term.Wetness
	Bottle                  quantity.Amount
	Oxygen                  quantity.Amount
	Cover                   term.Cover
	Since                   timeline.Moment // of the agent's last change
	OxygenSince, CoverSince timeline.Moment
}

// delivery puts the state together as it stands after the last change up to
// and including until (zero: all).
func (cs *Case) delivery(until time.Time) Delivery {
	var d Delivery
	for e, a := range timeline.Each[*timeline.AgentDelivery](cs.Entries, cs.ID) {
		at := e.Now().At
		if !until.IsZero() && at.After(until) {
			break
		}
		d.apply(a, at)
	}
	return d
}

func (d *Delivery) apply(a *timeline.AgentDelivery, at timeline.Moment) {
	if !a.Drops.IsZero() || !a.Percent.IsZero() || a.Wetness != "" || a.Off {
		d.Agent, d.Drops, d.Percent, d.Wetness, d.Since = a.Agent, a.Drops, a.Percent, a.Wetness, at
		if a.Off {
			d.Agent = ""
		}
	}
	if !a.Bottle.IsZero() {
		d.Bottle = a.Bottle
	}
	if !a.Oxygen.IsZero() {
		d.Oxygen, d.OxygenSince = a.Oxygen, at
	}
	if a.Cover != "" {
		d.Cover, d.CoverSince = a.Cover, at
	}
}
