package core

import (
	"maps"
	"slices"

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
	Sealed   bool           // a name or a text is sealed, and cannot be read now
	Phases   map[term.Phase]timeline.Moment
	Phase    term.Phase // the one that began last; empty before the first

	Began     timeline.Moment // of the anaesthetic: its phase, the first agent or the first block, whichever was first
	Watcher   term.Watcher    // who looks after the patient while the provider is elsewhere; empty: was not asked
	Allergic  string          // the words for the allergies
	Conflicts int             // entries whose corrections stand against each other
	Delivery  Delivery        // what is being given to breathe
	In, Lost  quantity.Amount

	planSealed, allergicSealed bool // the words for these are

	lines   []*timeline.Line // in entry order
	people  []string
	latest  latest
	owed    []*timeline.Entry // reasons owed, given or not
	given   map[string]bool   // ids of the reasons owed that were given
	unnamed []*timeline.Entry // marks that wait for a name
	runs    []run             // answers to trouble, in the order of their beginning

	restSystolic, restSpO2 quantity.Amount // the last before the anaesthetic
}

// latest is the last entry that stands of each sort that a key of the pad
// shows; nil where there is none.
type latest struct {
	breathing, support, eyes, agent, vitals, pressure, pulse, drug, step, airway, in, out *timeline.Entry
	chest, spo2, spinal, vein                                                             *timeline.Entry
	breaths, steady                                                                       *timeline.Entry
}

func newCase(id string, lines []*timeline.Line, persons map[string]*timeline.Entry) *Case {
	return CaseOf(id, timeline.Fold(lines), persons)
}

// CaseOf works out what stands in a folded case.
func CaseOf(id string, story *timeline.Story, persons map[string]*timeline.Entry) *Case {
	cs := &Case{ID: id, Story: story, Persons: persons, Phases: map[term.Phase]timeline.Moment{}, lines: story.Lines(), Entries: story.About(id)}
	cs.people = peopleOf(cs.lines)
	cs.Sealed = slices.ContainsFunc(cs.lines, func(l *timeline.Line) bool { return l.Sealed })
	for _, e := range cs.Entries {
		cs.apply(e)
	}
	if cs.nameSealed(cs.Patient) {
		cs.Sealed = true
	}
	if cs.Opened.IsZero() && len(cs.Entries) > 0 {
		cs.Opened = cs.Entries[0].Now().At // the opening has not arrived: the first thing known stands in
	}
	return cs
}

// with gives the case with one more line about it, which names nobody new.
// The usual one, a new entry that happened last, costs no new look at the
// others: a tap must not become slower as the case goes on.
func (cs *Case) with(l *timeline.Line) *Case {
	story := cs.Story.With(l)
	// Folded anew, the entries are others.
	asTheyWere := len(cs.Entries) > 0 && slices.Contains(story.Entries, cs.Entries[0])
	if !asTheyWere || story.Entries[len(story.Entries)-1].ID != l.Event.ID || cs.Opened.IsZero() || !cs.lines[len(cs.lines)-1].Event.Before(&l.Event) {
		return CaseOf(cs.ID, story, cs.Persons)
	}
	e, n := story.Entries[len(story.Entries)-1], *cs
	n.Story = story
	n.lines = append(slices.Clip(cs.lines), l)
	n.Entries = append(slices.Clip(cs.Entries), e)
	n.owed, n.unnamed, n.runs = slices.Clip(cs.owed), slices.Clip(cs.unnamed), slices.Clone(cs.runs)
	n.apply(e)
	return &n
}

// apply takes in an entry that comes after all that were taken in. Maps are
// copied before they are changed, since an older copy of the case has them
// too.
func (cs *Case) apply(e *timeline.Entry) {
	if e.Conflict() {
		cs.Conflicts++
	}
	if !e.In(cs.ID) {
		return
	}
	v, l := e.Now(), &cs.latest
	switch p := v.Payload.(type) {
	case *timeline.CaseOpened:
		cs.Opened, cs.Patient, cs.Urgency = v.At, p.Patient, p.Urgency
	case *timeline.CaseClosed:
		cs.Closed = true
	case *timeline.Outcome:
		cs.Outcome = p.Outcome
	case *timeline.Facts:
		mergeFacts(&cs.Facts, p)
		if len(p.Allergies) > 0 {
			cs.Allergic, cs.allergicSealed = v.Private()[timeline.PrivateText], v.Content.Sealed
		}
	case *timeline.Plan:
		cs.Plan, cs.PlanText, cs.planSealed = *p, v.Private()[timeline.PrivateText], v.Content.Sealed
	case *timeline.Phase:
		cs.Phases = maps.Clone(cs.Phases)
		cs.Phases[p.Phase] = v.At
		cs.Phase = p.Phase
		if p.Phase == term.PhaseAnaesthesiaStart {
			cs.begin(v.At)
		}
	case *timeline.Signs:
		if p.Breathing != "" {
			l.breathing, l.breaths = e, e
		}
		if p.Eyes != "" || p.Pupils != "" {
			l.eyes = e
		}
		if p.Breathing != "" || p.Chest != "" {
			l.chest = e
		}
	case *timeline.Support:
		l.support = e
	case *timeline.AgentDelivery:
		l.agent = e
		cs.Delivery.apply(p, v.At)
		if cs.Delivery.Agent != "" {
			cs.begin(v.At)
		}
	case *timeline.Block:
		cs.begin(v.At)
		if p.Block == term.BlockKindSpinal {
			l.spinal = e
		}
	case *timeline.Baseline:
		setAmount(&cs.restSystolic, p.Systolic)
		setAmount(&cs.restSpO2, p.SpO2)
	case *timeline.Trouble:
		cs.runs = runOn(cs.runs, p, v.At)
	case *timeline.Infusion:
		l.vein = e
	case *timeline.Watch:
		cs.Watcher = p.Watcher
	case *timeline.Vitals:
		l.vitals = e
		if !p.Systolic.IsZero() {
			l.pressure = e
		}
		if !p.Pulse.IsZero() {
			l.pulse = e
		}
		if !p.SpO2.IsZero() {
			l.spo2 = e
		}
		if !p.Breaths.IsZero() {
			l.breaths = e
		}
	case *timeline.Waking:
		if p.Steady != "" {
			l.steady = e
		}
	case *timeline.Drug:
		l.drug = e
		if p.Route == term.RouteIv || p.Route == term.RouteIntraosseous {
			l.vein = e
		}
	case *timeline.Mark:
		if p.Label == "" {
			cs.unnamed = append(cs.unnamed, e)
		}
	case *timeline.Step:
		l.step = e
	case *timeline.Airway:
		l.airway = e
	case *timeline.In:
		l.in = e
		l.vein = e
		cs.In = sum(cs.In, p.Volume)
	case *timeline.Out:
		l.out = e
		if p.What == term.FluidOutBlood {
			cs.Lost = sum(cs.Lost, p.Volume)
		}
	case *timeline.Owed:
		if p.Act == term.OwedActGiven {
			if cs.given = maps.Clone(cs.given); cs.given == nil {
				cs.given = map[string]bool{}
			}
			cs.given[p.Debt] = true
		} else {
			cs.owed = append(cs.owed, e)
		}
	}
}

func (cs *Case) begin(at timeline.Moment) {
	if cs.Began.IsZero() || at.Before(cs.Began.Time) {
		cs.Began = at
	}
}

// sum adds a volume to a sum in mL; one that cannot be added is left out.
func sum(to, a quantity.Amount) quantity.Amount {
	if to.IsZero() {
		to = quantity.MustParse("0 mL")
	}
	if t, err := to.Add(a); err == nil {
		return t
	}
	return to
}

// mergeFacts lays the fields that f has over those of into. The two fields of
// a weight go with it.
func mergeFacts(into, f *timeline.Facts) {
	amount := func(to *quantity.Amount, from quantity.Amount) {
		if !from.IsZero() {
			*to = from
		}
	}
	if !f.Age.IsZero() || !f.Weight.IsZero() {
		into.WeightChecked = quantity.Amount{} // it was of the weight and the age before
	}
	amount(&into.WeightChecked, f.WeightChecked)
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
	amount(&into.Thyromental, f.Thyromental)
	setCode(&into.Admission, f.Admission)
	setCode(&into.Place, f.Place)
	setCode(&into.Before, f.Before)
	setCode(&into.Family, f.Family)
	setCode(&into.Smoker, f.Smoker)
	setCode(&into.SickBefore, f.SickBefore)
	setCode(&into.Premature, f.Premature)
	setCode(&into.SameAs, f.SameAs)
	setCode(&into.Reflux, f.Reflux)
	setCode(&into.Fitness, f.Fitness)
	setCode(&into.Heart, f.Heart)
	setCode(&into.Lungs, f.Lungs)
	setCode(&into.NostrilLeft, f.NostrilLeft)
	setCode(&into.NostrilRight, f.NostrilRight)
	setCode(&into.RisksTold, f.RisksTold)
	setCode(&into.Assistant, f.Assistant)
	setCode(&into.PremedEffect, f.PremedEffect)
	setCode(&into.Supervision, f.Supervision)
	setCode(&into.MarkedBy, f.MarkedBy)
	if f.SideMarked == timeline.No {
		into.MarkedBy = "" // nobody marked it
	}
	setList(&into.Takes, f.Takes)
	setList(&into.Habits, f.Habits)
	setList(&into.Urine, f.Urine)
	setList(&into.TestsSeen, f.TestsSeen)
	setList(&into.Warnings, f.Warnings)
	if len(f.Allergies) > 0 {
		into.Allergies = f.Allergies
	}
	// Each condition was asked on its own: the last answer about it stands.
	// The slices are those of entries and are not written into.
	into.With, into.Without = answered(into.With, f.With, f.Without), answered(into.Without, f.Without, f.With)
}

// answered gives the old answers and the new ones, less those that were now
// answered otherwise.
func answered(old, now, otherwise []term.Condition) []term.Condition {
	if len(now) == 0 && len(otherwise) == 0 {
		return old
	}
	all := slices.DeleteFunc(slices.Clone(old), func(x term.Condition) bool { return slices.Contains(otherwise, x) || slices.Contains(now, x) })
	return append(all, now...)
}

func setAmount(to *quantity.Amount, from quantity.Amount) {
	if !from.IsZero() {
		*to = from
	}
}

func setCode[C ~string](to *C, from C) {
	if from != "" {
		*to = from
	}
}

func setList[C any](to *[]C, from []C) {
	if len(from) > 0 {
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

// nameSealed reports that the name of a person is sealed, and cannot be read
// now.
func (cs *Case) nameSealed(person string) bool {
	e := cs.Persons[person]
	return e != nil && e.Now().Content.Sealed
}

// names reports that the case names a person, or somebody who was claimed for
// them.
func (cs *Case) names(person string) bool {
	if slices.Contains(cs.people, person) {
		return true
	}
	for _, e := range cs.Persons {
		if e.Now().Case == person {
			return true
		}
	}
	return false
}

// By names who made an entry: the name where it is here and can be read.
func (cs *Case) By(s Speaker, author string) string {
	switch n := cs.Name(author); {
	case n != "":
		return n
	case cs.nameSealed(author):
		return s.Say("seal.name")
	}
	return s.Say("record.unnamed")
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
	if _, over := cs.Over(); over {
		return timeline.Moment{}, false
	}
	m, ok := cs.Phases[term.PhaseAnaesthesiaStart]
	return m, ok
}

// Over reports when the anaesthetic was over: at its end, or, where nobody
// marked that, at the first thing that cannot come before it. The record
// would otherwise run on for days.
func (cs *Case) Over() (at timeline.Moment, over bool) {
	take := func(m timeline.Moment) {
		if !over || m.Before(at.Time) {
			at, over = m, true
		}
	}
	for _, p := range []term.Phase{term.PhaseAnaesthesiaEnd, term.PhaseHandedOver} {
		if m, ok := cs.Phases[p]; ok {
			take(m)
		}
	}
	if cs.gone() {
		if e, _ := last[*timeline.Outcome](cs, nil); e != nil {
			take(e.Now().At)
		}
	}
	if cs.Closed {
		if e, _ := last[*timeline.CaseClosed](cs, nil); e != nil {
			take(e.Now().At)
		}
	}
	return at, over
}

// settled reports that nobody has to look after the patient here any more. A
// "recovered" while the anaesthetic still runs is a slip of the thumb, and
// settles nothing.
func (cs *Case) settled() bool {
	_, handed := cs.Phases[term.PhaseHandedOver]
	_, over := cs.Phases[term.PhaseAnaesthesiaEnd]
	return handed || cs.Closed || cs.gone() || cs.Outcome != "" && (over || cs.Began.IsZero())
}

// gone reports that the patient is no longer here to be looked after.
func (cs *Case) gone() bool {
	return cs.Outcome == term.OutcomeDied || cs.Outcome == term.OutcomeTransferred
}

// Unrecovered reports that the anaesthetic has begun and the patient still has
// to be looked after.
func (cs *Case) Unrecovered() bool { return !cs.Began.IsZero() && !cs.settled() }

// Allergies gives the allergies in words; empty where none is known, or
// nobody was asked.
func (cs *Case) Allergies(s Speaker) string {
	if len(cs.Facts.Allergies) == 0 || slices.Contains(cs.Facts.Allergies, term.AllergyNoneKnown) {
		return ""
	}
	if cs.allergicSealed {
		return s.Say("case.allergic", "to", join(" · ", list(s, term.AllergyList, cs.Facts.Allergies), s.Say("seal.words")))
	}
	if cs.Allergic != "" {
		return s.Say("case.allergic", "to", cs.Allergic)
	}
	return s.Say("case.allergic", "to", list(s, term.AllergyList, cs.Facts.Allergies))
}

// Owing lists the reasons that are owed and were not given.
func (cs *Case) Owing() []*timeline.Entry {
	var due []*timeline.Entry
	for _, e := range cs.owed {
		if !cs.given[e.ID] {
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

// measures gives the latest value of each measure that has one.
func (cs *Case) measures() map[string]Measure {
	all := map[string]Measure{}
	put := func(e *timeline.Entry, m *timeline.Measures) {
		for _, name := range timeline.MeasureNames {
			if a := *m.Named(name); !a.IsZero() {
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

// apply lays a change over what is given.
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
