package depth

import (
	"cmp"
	"math"
	"slices"

	"chinlift/core/agent"
	"chinlift/core/quantity"
	"chinlift/core/term"
	"chinlift/core/uptake"
)

// Version names the model. What it says of the same events changes only with it.
const Version = "depth-2"

// Tolerance is by how much two processors may differ in a depth, in parts of
// MAC: they round the last bits of an exponential differently.
const Tolerance = 1e-6

const (
	stepMin     = 0.2  // of the bodies
	perMinute   = 5    // steps
	aheadMin    = 0.25 // step of a look ahead
	aheadBodies = 200
	blindBodies = 200
	longestMin  = 24 * 60

	// Bodies is how many are simulated.
	Bodies = 1000

	freshMin = 5.0 // how old signs and vitals may be
)

// What is an event about.
type What string

// The kinds of event.
const (
	WhatSupply  What = "supply"
	WhatSupport What = "support"
	WhatMinute  What = "minute" // volume in a minute, measured or squeezed by hand
	WhatDrugs   What = "drugs"
	WhatLook    What = "look"
	WhatVitals  What = "vitals"
)

// Event is one thing that was recorded, as a value. Minutes count from wherever
// the caller counts them from, the same for all; none is before 0. Only the
// part that What names is read.
type Event struct {
	AtMin   float64
	What    What
	Supply  Supply
	Support term.Support
	Minute  quantity.Amount // 0.1 to 60 L/min; absent is no longer known
	Drugs   Drugs
	Look    Look
	Vitals  Vitals
}

// Limits are below what saturation and pressure an estimate is withdrawn. A
// clinic at a height, or with a patient whose own values differ, sets them; 0 is
// the default: 94 %, and for the systolic pressure 90 mmHg over 10 years of age,
// 70 and twice the age before.
type Limits struct{ SpO2Percent, SystolicMmHg float64 }

var (
	lowSpO2 = agent.Number{Value: 94, Source: agent.Source{Author: "World Health Organization", Title: "Pulse oximetry training manual", Year: 2011, Table: "under 94 %: look why, and treat", Mark: term.MarkMemory}}
	lowBP   = agent.Number{Value: 90, Source: agent.Source{Author: "American Heart Association", Title: "Pediatric Advanced Life Support", Table: "low systolic pressure: under 70 + 2 x age to 10 years, then under 90", Via: "teaching pages on children's vital signs", Mark: term.MarkRead}}
)

func (l Limits) or(years float64) Limits {
	if l.SpO2Percent == 0 {
		l.SpO2Percent = lowSpO2.Value
	}
	if l.SystolicMmHg == 0 {
		l.SystolicMmHg = min(lowBP.Value, 70+2*years)
	}
	return l
}

// Options are what a run is made with; the zero Options are the usual ones.
type Options struct {
	Seed   uint64 // of the bodies; the same seed and events give the same answer
	Bodies int    // 0 is Bodies; 50 to 20000
	Limits Limits
}

// situation is everything that a checkpoint holds beside the bodies.
type situation struct {
	step    int
	applied int // events

	supply   Supply
	support  term.Support
	minute   quantity.Amount
	drugs    Drugs
	air      uptake.Airflow
	brakes   float64 // how far depth may brake the breathing: 0 where a hand does it all
	open     float64 // part that the airway lets through, as the last sign of breathing has it
	openTill int     // step; 0 is until the next sign

	seen      Look    // the newest code of each sign
	vitals    Vitals  // the newest of each
	looked    float64 // minutes; negative is never
	measured  float64
	usedCode  [signCount]int8 // 1 + index of the code last weighed
	usedAt    [signCount]float64
	surprise  float64
	surprised Drift
}

const signCount = 9 // of those that have rows

// Run is the simulated bodies of one patient, on their way through what was
// recorded. It is not for several goroutines at once.
type Run struct {
	kind    kind
	ladder  ladder
	limits  Limits
	seed    uint64
	years   float64
	answer  agent.Answer // cautions and sources of the body
	applies []Reason     // by the subject alone

	logs [signCount][][]float64 // of each code by depth

	events []Event // applied, or waiting
	now    situation
	bodies []body
	weight []float64 // logarithms, the greatest 0
	blind  []body    // that no sign is told to: the model alone
	marks  []mark
	course []Sample

	// Room for work, so that an update need not ask for any.
	spare   []body
	score   []float64
	before  []float64
	depths  []float64
	order   []int32
	ahead   []body
	minutes []float64
	alone   []float64
}

// mark is a checkpoint.
type mark struct {
	now    situation
	bodies []body
	weight []float64
	blind  []body
}

const (
	markEvery = 10 * perMinute // steps
	mostMarks = 64
)

var rowSigns = [signCount]Sign{
	SignBreathing, SignEyes, SignPupils, SignLid, SignCornea, SignJaw, SignChest, SignMovement, SignTears,
}

// group is which of the four seen offsets a sign has.
var group = [signCount]int{0, 1, 1, 2, 2, 3, 0, 3, 3}

// New makes the bodies of a patient. Where the model does not apply to the
// subject a Run is made all the same, and every Estimate of it says why it is
// none. The errors are *agent.Error: "weight" and "age" out of all bounds,
// "bodies".
func New(s Subject, o Options) (*Run, error) {
	if o.Bodies == 0 {
		o.Bodies = Bodies
	}
	if o.Bodies < 50 || o.Bodies > 20000 {
		return nil, &agent.Error{Field: "bodies", Code: agent.NoRule}
	}
	r := &Run{seed: o.Seed, applies: Applies(s, Drugs{})}
	if s.Weight.IsZero() {
		r.applies = append(r.applies, WeightAbsent)
	}
	if len(r.applies) > 0 {
		return r, nil
	}
	var err error
	if r.years, err = agent.Take("age", s.Age, quantity.Year, 0, 120); err != nil {
		return nil, err
	}
	rest, answer, err := uptake.NewBody(s.Weight)
	if err != nil {
		return nil, err
	}
	a, err := agent.Of(s.Agents[0])
	if err != nil {
		return nil, err
	}
	if r.kind, err = newKind(a, rest, r.years); err != nil {
		return nil, err
	}
	r.ladder, r.limits = ladderOf(a), o.Limits.or(r.years)
	sources, err := uptake.Sources(a.Code)
	if err != nil {
		return nil, err
	}
	r.answer = answer
	r.answer.Beware(NotAMonitor)
	if r.years < 12 {
		r.answer.Beware(EarlyYears)
	}
	if r.ladder.ether {
		r.answer.Beware(EtherAlone)
	}
	r.answer.Cite(sources...)
	r.answer.Cite(r.ladder.sources()...)
	r.answer.Cite(opioidMAC.Source, benzoMAC.Source, lowSpO2.Source, lowBP.Source)
	r.tables()

	n := o.Bodies
	r.bodies, r.spare = make([]body, n), make([]body, n)
	r.weight, r.score, r.before, r.depths = make([]float64, n), make([]float64, n), make([]float64, n), make([]float64, n)
	r.order = make([]int32, n)
	r.blind, r.alone = make([]body, blindBodies), make([]float64, blindBodies)
	r.ahead, r.minutes = make([]body, aheadBodies), make([]float64, aheadBodies)
	if err := r.birth(); err != nil {
		return nil, err
	}
	return r, nil
}

// birth makes the bodies anew, at minute 0 and without the agent.
func (r *Run) birth() error {
	r.now = situation{open: 1, looked: -1, measured: -1}
	var d dice
	d.start(r.seed, 0, forBirth)
	for _, all := range [2][]body{r.bodies, r.blind} {
		for i := range all {
			b := &all[i]
			*b = body{}
			for j := range b.z {
				b.z[j] = d.bell()
			}
		}
	}
	clear(r.weight)
	r.deriveAll()
	return r.breathing()
}

func (r *Run) deriveAll() {
	premed := premedPart(r.now.drugs)
	for _, all := range [2][]body{r.bodies, r.blind} {
		for i := range all {
			r.kind.derive(&all[i], stepMin, premed)
		}
	}
}

func (r *Run) settleAll() {
	for _, all := range [2][]body{r.bodies, r.blind} {
		for i := range all {
			r.kind.settle(&all[i], &r.now)
		}
	}
}

// breathing works out the breathing of the situation.
func (r *Run) breathing() error {
	air, _, err := uptake.Ventilation(r.kind.rest, uptake.Breathing{
		Support: r.now.support, Minute: r.now.minute,
		Opioid: r.now.drugs.Opioid, Benzodiazepine: r.now.drugs.Benzodiazepine,
	})
	if err != nil {
		return err
	}
	r.now.air = air
	switch {
	case !r.now.minute.IsZero() || r.now.support == term.SupportControlled:
		r.now.brakes = 0
	case r.now.support == term.SupportAssisted:
		r.now.brakes = 0.5 // a hand makes up for about half (house choice)
	default:
		r.now.brakes = 1
	}
	r.settleAll()
	return nil
}

// What the last sign of breathing lets through. House choices.
var lets = map[term.Breathing]float64{
	term.BreathingHeld: 0.05, term.BreathingSilent: 0.05, term.BreathingSeeSaw: 0.4, term.BreathingNoisy: 0.7,
	term.BreathingShallow: 0.6, term.BreathingBellyOnly: 0.6, term.BreathingRibsLate: 0.9,
}

// heldMin is how long a held breath is taken to last when nobody says more.
const heldMin = 1.0

// Check gives an *agent.Error for an event that cannot be true.
func (e *Event) Check() error {
	if math.IsNaN(e.AtMin) || math.IsInf(e.AtMin, 0) {
		return &agent.Error{Field: "at", Code: agent.NotFinite}
	}
	if e.AtMin < 0 {
		return &agent.Error{Field: "at", Code: agent.TooLow}
	}
	if e.AtMin > longestMin {
		return &agent.Error{Field: "at", Code: agent.TooHigh}
	}
	switch e.What {
	case WhatSupply:
		return e.Supply.check()
	case WhatSupport:
		if e.Support != "" && !term.SupportList.Has(e.Support) {
			return &agent.Error{Field: "support", Code: agent.UnknownCode, Given: string(e.Support)}
		}
	case WhatMinute:
		if !e.Minute.IsZero() {
			_, err := agent.Take("minute", e.Minute, quantity.LPerMin, 0.1, 60)
			return err
		}
	case WhatDrugs:
	case WhatLook:
		return e.Look.Check()
	case WhatVitals:
		for _, x := range []float64{e.Vitals.PulsePerMin, e.Vitals.SpO2Percent, e.Vitals.SystolicMmHg} {
			if !(x >= 0 && x <= 400) {
				return &agent.Error{Field: "vitals", Code: agent.NoRule}
			}
		}
	default:
		return &agent.Error{Field: "what", Code: agent.UnknownCode, Given: string(e.What)}
	}
	return nil
}

// stepOf is the step from which on an event counts: steps are twelve seconds, and
// it counts from the first that is not before it.
func stepOf(minutes float64) int { return int(math.Ceil(minutes/stepMin - 1e-9)) }

// Update brings the run to a minute, 0 to 24 h, by all that was recorded until
// then. It is handed every event, each time; what is new, was taken back or
// comes late is found out, and the bodies start again from the checkpoint before
// the first that differs. Events after the minute wait. The order of events at
// the same minute is that of the slice. The errors are those of Event.Check, and
// for "at"; the run then stands where it stood.
func (r *Run) Update(events []Event, nowMin float64) error {
	if math.IsNaN(nowMin) || nowMin < 0 || nowMin > longestMin {
		return &agent.Error{Field: "at", Code: agent.TooHigh}
	}
	for i := range events {
		if err := events[i].Check(); err != nil {
			return err
		}
	}
	if len(r.applies) > 0 {
		return nil
	}
	byTime := func(a, b Event) int { return cmp.Compare(a.AtMin, b.AtMin) }
	if !slices.IsSortedFunc(events, byTime) {
		events = slices.Clone(events)
		slices.SortStableFunc(events, byTime)
	}
	target := stepOf(nowMin)
	if step, same, late := r.parted(events, target); late {
		if err := r.rewind(step, same); err != nil {
			return err
		}
	}
	r.events = append(r.events[:r.now.applied], events[r.now.applied:]...)
	for {
		for r.now.applied < len(r.events) && stepOf(r.events[r.now.applied].AtMin) <= r.now.step && r.events[r.now.applied].AtMin <= nowMin {
			if err := r.apply(&r.events[r.now.applied]); err != nil {
				return err
			}
			r.now.applied++
		}
		if r.now.step >= target {
			return nil
		}
		r.forward()
	}
}

// parted gives from which step on, and after how many events, what is known
// differs from what the bodies went by. late says that they are beyond it: for a
// late entry, one taken back, an earlier time.
func (r *Run) parted(events []Event, target int) (step, same int, late bool) {
	for same < r.now.applied && same < len(events) && events[same] == r.events[same] {
		same++
	}
	late = same < r.now.applied || target < r.now.step ||
		same < len(events) && stepOf(events[same].AtMin) < r.now.step
	step = target
	if same < len(events) {
		step = min(step, stepOf(events[same].AtMin))
	}
	if same < r.now.applied {
		step = min(step, stepOf(r.events[same].AtMin))
	}
	return step, same, late
}

// Reach gives how many minutes an Update would take the bodies through: those
// since the last one, or since the checkpoint before what differs. The events
// are to be in order.
func (r *Run) Reach(events []Event, nowMin float64) float64 {
	if len(r.applies) > 0 || math.IsNaN(nowMin) || nowMin < 0 || nowMin > longestMin {
		return 0
	}
	target := stepOf(nowMin)
	step, same, late := r.parted(events, target)
	from := r.now.step
	if late {
		from = 0
		for i := range r.marks {
			if m := &r.marks[i].now; m.step <= step && m.applied <= same {
				from = m.step
			}
		}
	}
	return float64(target-from) * stepMin
}

// rewind goes back to the newest checkpoint at or before a step, with no event
// beyond so many.
func (r *Run) rewind(step, events int) error {
	for len(r.marks) > 0 {
		m := &r.marks[len(r.marks)-1]
		if m.now.step <= step && m.now.applied <= events {
			r.now = m.now
			copy(r.bodies, m.bodies)
			copy(r.weight, m.weight)
			copy(r.blind, m.blind)
			r.forget()
			return nil
		}
		r.marks = r.marks[:len(r.marks)-1]
	}
	err := r.birth()
	r.forget()
	return err
}

// forget drops of the course what the bodies have yet to come to.
func (r *Run) forget() {
	now := float64(r.now.step) * stepMin
	for len(r.course) > 0 && r.course[len(r.course)-1].AtMin > now-stepMin/2 {
		r.course = r.course[:len(r.course)-1]
	}
}

// Sample is what an estimate was at some minute, by what had happened by then.
type Sample struct {
	AtMin     float64
	Withdrawn []Reason     // where this stands there is no depth
	DepthMAC  uptake.Range // as in Estimate
}

// Course gives how the estimate went, minute by minute, from after a minute to
// where the run stands, which is the last of it. It is worked out along the way,
// so that asking costs nothing; a late entry changes it from its time on.
func (r *Run) Course(afterMin float64) []Sample {
	if len(r.applies) > 0 {
		return nil
	}
	i := len(r.course)
	for i > 0 && r.course[i-1].AtMin > afterMin+1e-9 {
		i--
	}
	return append(slices.Clone(r.course[i:]), r.sample())
}

func (r *Run) sample() Sample {
	s := Sample{AtMin: float64(r.now.step) * stepMin, Withdrawn: r.withdrawn()}
	if len(s.Withdrawn) == 0 {
		s.DepthMAC = r.depthNow()
	}
	return s
}

// forward takes all bodies one step on.
func (r *Run) forward() {
	if r.now.step%markEvery == 0 && r.now.step > 0 && (len(r.marks) == 0 || r.marks[len(r.marks)-1].now.step < r.now.step) {
		if len(r.marks) == mostMarks {
			// Half as dense: far back a replay may take longer.
			for i := range mostMarks / 2 {
				r.marks[i] = r.marks[2*i+1]
			}
			r.marks = r.marks[:mostMarks/2]
		}
		r.marks = append(r.marks, mark{r.now, slices.Clone(r.bodies), slices.Clone(r.weight), slices.Clone(r.blind)})
	}
	if r.now.step%perMinute == 0 {
		r.course = append(r.course, r.sample())
		r.minute()
	}
	if r.now.openTill > 0 && r.now.step >= r.now.openTill {
		r.now.open, r.now.openTill = 1, 0
	}
	for _, all := range [2][]body{r.bodies, r.blind} {
		for i := range all {
			r.kind.breathe(&all[i], &r.now, stepMin)
		}
	}
	r.now.step++
}

// minute lets what goes up and down go on its way: breathing, pouring, and
// airways that nobody wrote of.
func (r *Run) minute() {
	const keeps = 0.9 // of the minute before; some ten minutes long
	fresh := math.Sqrt(1 - keeps*keeps)
	alone := r.now.support == "" || r.now.support == term.SupportSpontaneous
	var d dice
	d.start(r.seed, r.now.step, forMinute)
	for i := range len(r.bodies) + len(r.blind) {
		b := &r.blind[max(0, i-len(r.bodies))]
		if i < len(r.bodies) {
			b = &r.bodies[i]
		}
		b.z[zWander] = keeps*b.z[zWander] + fresh*d.bell()
		b.z[zPour] = keeps*b.z[zPour] + fresh*d.bell()
		u := d.uniform()
		switch {
		case !alone:
			b.shut = false
		case b.shut:
			b.shut = u >= opensPerMin
		default:
			b.shut = u < shutsPerMin
		}
		r.kind.settle(b, &r.now)
	}
}

// apply takes one event in.
func (r *Run) apply(e *Event) error {
	now := &r.now
	switch e.What {
	case WhatSupply:
		now.supply = e.Supply
		r.settleAll()
	case WhatSupport:
		now.support = e.Support
		now.open, now.openTill = 1, 0
		return r.breathing()
	case WhatMinute:
		now.minute = e.Minute
		return r.breathing()
	case WhatDrugs:
		now.drugs = e.Drugs
		r.deriveAll()
		return r.breathing()
	case WhatVitals:
		for _, x := range []struct {
			to *float64
			of float64
		}{{&now.vitals.PulsePerMin, e.Vitals.PulsePerMin}, {&now.vitals.SystolicMmHg, e.Vitals.SystolicMmHg}, {&now.vitals.SpO2Percent, e.Vitals.SpO2Percent}} {
			if x.of > 0 {
				*x.to, now.measured = x.of, e.AtMin
			}
		}
	case WhatLook:
		r.look(&e.Look, e.AtMin)
	}
	return nil
}

// see keeps the newest code of each sign. Breathing and chest tell of the same:
// either, seen to be sound, takes the other's danger away.
func (l *Look) see(k *Look) {
	sound := k.Breathing == term.BreathingQuiet || k.Breathing == term.BreathingEvenAutomatic || k.Breathing == term.BreathingUneven
	switch {
	case sound && k.Chest == "" && l.Chest != term.ChestLate:
		l.Chest = ""
	case k.Chest == term.ChestFull && k.Breathing == "" && (l.Breathing == term.BreathingSeeSaw || l.Breathing == term.BreathingBellyOnly):
		l.Breathing = ""
	}
	newest(&l.Breathing, k.Breathing)
	newest(&l.Eyes, k.Eyes)
	newest(&l.Pupils, k.Pupils)
	newest(&l.Lid, k.Lid)
	newest(&l.Cornea, k.Cornea)
	newest(&l.Jaw, k.Jaw)
	newest(&l.Chest, k.Chest)
	newest(&l.Secretion, k.Secretion)
	newest(&l.Movement, k.Movement)
	newest(&l.Sweat, k.Sweat)
	newest(&l.Tears, k.Tears)
	newest(&l.Colour, k.Colour)
	if k.Breathing != "" || k.Chest != "" || k.AirAtMouth != "" {
		l.AirAtMouth = k.AirAtMouth
	}
}

func newest[C ~string](to *C, of C) {
	if of != "" {
		*to = of
	}
}
