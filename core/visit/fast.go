package visit

import (
	"chinlift/core/exact"
	"chinlift/core/patient"
	"chinlift/core/quantity"
	"chinlift/core/term"
)

// Intake is something that was eaten or drunk.
type Intake struct {
	What   term.Intake
	Before quantity.Amount // how long before now, 0 to 30 d; absent where nobody knows
}

// Stop is what stops or slows a stomach from then on: an injury, an opioid.
type Stop struct {
	There  bool
	Before quantity.Amount // how long before now, 0 to 30 d; absent where nobody knows
}

// Stomach is what is asked about food and drink.
type Stomach struct {
	Patient patient.Patient // the age; weight and length where they are known
	Intakes []Intake        // the last of each sort; none: not asked
	Start   quantity.Amount // the planned start, from now, 0 to 30 d
	With    []term.Condition
	Injury  Stop
	Opioid  Stop
	Reflux  bool // heartburn that comes up when lying down
	// Emergency says that the operation does not wait for the stomach.
	Emergency bool
	// Confirmed says that somebody at the clinic confirmed the version of the
	// set that is in use; it matters where a set needs confirmation.
	Confirmed bool
}

// Fast is what a fast comes to.
type Fast struct {
	Verdict term.Fasting
	Intakes []IntakeFast // in the order in which they were given
	Decides int          // index of the intake that the earliest start waits for, or that no waiting mends; -1: none
	// Earliest is the earliest start, in whole minutes from now, rounded up;
	// absent where waiting does not help or nothing was asked. A delay, which
	// no waiting mends, does not move it.
	Earliest quantity.Amount
	Delays   []Delay
	// DrinkUntil is how long clear fluid may still be taken before the planned
	// start, in whole minutes from now, rounded down; absent where that is over,
	// where the stomach counts as full, and after an opioid.
	DrinkUntil quantity.Amount
	Cautions   []patient.Caution
}

// IntakeFast is one intake held against its interval.
type IntakeFast struct {
	Intake
	Needed patient.Answer // h; Low and High are what published sets span
	// Fasted is what counts at the planned start, in whole minutes, rounded
	// down; absent where nobody knows the time.
	Fasted    quantity.Amount
	Satisfied bool            // at the planned start
	Earliest  quantity.Amount // in whole minutes from now, rounded up; absent where waiting does not help
}

// Delay is a fact that delays the emptying of the stomach: the patient is to be
// treated as not fasted, whatever the clock says. One of the two codes is set.
type Delay struct {
	Condition term.Condition
	Other     term.SlowStomach
	Source    patient.Source
	Against   patient.Source // one that holds it for no delay; zero where there is none
}

var (
	slowNote   = patient.Source{Title: "Continuing education for doctors of district hospitals, general anaesthesia (PMC8517724)", Year: 2021, Table: "3, note on delayed emptying", Mark: term.MarkRead}
	slowManual = patient.Source{Title: "preoperative fasting guidelines, a manual of clinical anaesthesia", Table: "factors that prolong emptying; trauma and acute illness count as a full stomach even over 8 hours after the last meal", Via: "AccessAnesthesiology", Mark: term.MarkRead}
	slowASA    = patient.Source{Author: "American Society of Anesthesiologists", Title: "Practice guidelines for preoperative fasting, Anesthesiology 126:376", Year: 2017, Table: "patients whom the intervals are not for", Mark: term.MarkMemory}
	// Level of evidence there: low.
	notSlow    = patient.Source{Author: "I. Smith and others, European Society of Anaesthesiology", Title: "Perioperative fasting in adults and children, European Journal of Anaesthesiology 28:556", Year: 2011, Table: "the obese, reflux, diabetes and pregnancy without labour may follow the usual intervals", Mark: term.MarkMemory}
	fromInjury = patient.Source{Title: "after an injury or an opioid the fast counts from the last food to the injury", Mark: term.MarkMemory}
)

// slow lists the conditions that delay emptying.
var slow = []struct {
	condition       term.Condition
	source, against patient.Source
}{
	{term.ConditionFullStomach, slowManual, patient.Source{}},
	{term.ConditionBowelObstruction, slowNote, patient.Source{}},
	{term.ConditionInLabour, slowASA, patient.Source{}},
	{term.ConditionThirdTrimester, slowNote, notSlow},
	{term.ConditionDiabetes, slowNote, notSlow},
	{term.ConditionKidneyFailure, slowNote, patient.Source{}},
	{term.ConditionSepsis, slowNote, patient.Source{}},
	{term.ConditionShock, slowManual, patient.Source{}},
	{term.ConditionGravelyIll, slowManual, patient.Source{}},
	{term.ConditionHeadInjury, slowNote, patient.Source{}},
	{term.ConditionRaisedIcp, slowASA, patient.Source{}},
	{term.ConditionBurn, slowNote, patient.Source{}},
	{term.ConditionCrush, slowNote, patient.Source{}},
	{term.ConditionInjuryOver3h, slowManual, patient.Source{}},
	{term.ConditionOpioidDependent, slowNote, patient.Source{}},
}

// Fasting holds what was eaten and drunk against the set with this code. What
// the set does not cover, and what it may not say before it is confirmed, goes
// by the longest interval of the published sets among those given. It needs
// the planned start; without an age the longer interval holds.
//
// An intake at an unknown time is never satisfied. After an injury or an
// opioid an intake counts up to that time and not up to the start, so that
// waiting mends nothing; an intake after it does not count at all. An injury
// always makes the patient one to be treated as not fasted; an opioid does
// where the fast was not long enough when it was given.
//
// Sources: those of the sets; slowNote, slowManual, slowASA, fromInjury.
func Fasting(sets []*Set, code string, q Stomach) (Fast, error) {
	set, err := find(sets, code)
	if err != nil {
		return Fast{}, err
	}
	start, err := patient.Read("start", q.Start, quantity.Second, "0", month)
	if err != nil {
		return Fast{}, err
	}
	age, err := years(q.Patient.Age)
	if err != nil {
		return Fast{}, err
	}
	stopped, by, err := q.stopped()
	if err != nil {
		return Fast{}, err
	}
	f := Fast{Decides: -1, Earliest: new(exact.Number).Amount(0, quantity.Minute)}
	term.Add(&f.Cautions, HealthyElective, FastedIsNotEmpty)

	all, never := true, false
	latest := new(exact.Number)
	for n, in := range q.Intakes {
		a, seconds, err := set.needed(sets, in.What, age, q.Confirmed)
		if err != nil {
			return Fast{}, err
		}
		one := IntakeFast{Intake: in, Needed: a}
		var wait *exact.Number // from now; nil where waiting does not help
		if in.Before.IsZero() {
			term.Add(&one.Needed.Cautions, TimeNotKnown)
		} else {
			before, err := patient.Read("before", in.Before, quantity.Second, "0", month)
			if err != nil {
				return Fast{}, err
			}
			counts := before.Plus(start)
			if by != "" {
				counts = new(exact.Number)
				if stopped != nil && before.Cmp(stopped) > 0 {
					counts = before.Minus(stopped)
				}
				term.Add(&one.Needed.Cautions, by)
				one.Needed.Sources = append(one.Needed.Sources, fromInjury)
			}
			one.Fasted = counts.Over(exact.Whole(60)).Floor().Amount(0, quantity.Minute)
			one.Satisfied = counts.Cmp(seconds) >= 0
			switch {
			case by == "":
				wait = seconds.Minus(before)
				if wait.Sign() < 0 {
					wait = new(exact.Number)
				}
			case one.Satisfied:
				wait = new(exact.Number)
			}
		}
		all = all && one.Satisfied
		switch {
		case wait == nil:
			if !never {
				f.Decides = n
			}
			never = true
		default:
			one.Earliest = wait.Over(exact.Whole(60)).Ceil().Amount(0, quantity.Minute)
			if !never && (f.Decides < 0 || wait.Cmp(latest) > 0) {
				f.Decides, latest = n, wait
			}
		}
		f.Intakes = append(f.Intakes, one)
	}
	if never || len(q.Intakes) == 0 {
		f.Earliest = quantity.Amount{}
	} else {
		f.Earliest = f.Intakes[f.Decides].Earliest
	}
	if f.Delays, err = q.delays(all && len(q.Intakes) > 0); err != nil {
		return Fast{}, err
	}

	switch {
	case q.Emergency:
		f.Verdict = term.FastingPrecautions
	case len(q.Intakes) == 0:
		f.Verdict = term.FastingNotAsked
	case len(f.Delays) > 0 || never:
		f.Verdict = term.FastingNotFasted
	case !all:
		f.Verdict = term.FastingWait
	default:
		f.Verdict = term.FastingLongEnough
	}
	if by == "" && (f.Verdict == term.FastingLongEnough || f.Verdict == term.FastingWait) {
		_, seconds, err := set.needed(sets, term.IntakeClearFluid, age, q.Confirmed)
		if err != nil {
			return Fast{}, err
		}
		if left := start.Minus(seconds); left.Sign() >= 0 {
			f.DrinkUntil = left.Over(exact.Whole(60)).Floor().Amount(0, quantity.Minute)
			term.Add(&f.Cautions, ClearFluidTillThen)
		}
	}
	return f, nil
}

// month bounds how far back an intake and how far ahead a start may lie, in
// seconds: 30 days (house choice; it catches a slip of the hand).
const month = "2592000"

// stopped gives how long ago, in seconds, the stomach was stopped first, and
// the caution that says by what; nil with a caution where nobody knows when.
func (q Stomach) stopped() (*exact.Number, patient.Caution, error) {
	var first *exact.Number
	var by patient.Caution
	unknown := false
	for _, s := range []struct {
		field string
		stop  Stop
		by    patient.Caution
	}{{"injury", q.Injury, CountedToInjury}, {"opioid", q.Opioid, CountedToOpioid}} {
		switch {
		case !s.stop.There && !s.stop.Before.IsZero():
			return nil, "", &patient.Error{Field: s.field, Code: Contradiction, Given: s.stop.Before.String()}
		case !s.stop.There:
		case s.stop.Before.IsZero():
			if !unknown {
				by = s.by
			}
			unknown = true
		default:
			ago, err := patient.Read(s.field, s.stop.Before, quantity.Second, "0", month)
			if err != nil {
				return nil, "", err
			}
			if !unknown && (first == nil || ago.Cmp(first) > 0) {
				first, by = ago, s.by
			}
		}
	}
	if unknown {
		first = nil
	}
	return first, by, nil
}

// delays lists what delays emptying. enough says that every intake was long
// enough before the opioid.
func (q Stomach) delays(enough bool) ([]Delay, error) {
	for _, c := range q.With {
		if !term.ConditionList.Has(c) {
			return nil, &patient.Error{Field: "with", Code: patient.UnknownCode, Given: string(c)}
		}
	}
	var all []Delay
	if q.Injury.There {
		all = append(all, Delay{Other: term.SlowStomachInjury, Source: slowManual})
	}
	if q.Opioid.There && !enough {
		all = append(all, Delay{Other: term.SlowStomachOpioid, Source: slowNote})
	}
	for _, s := range slow {
		for _, c := range q.With {
			if c == s.condition {
				all = append(all, Delay{Condition: c, Source: s.source, Against: s.against})
				break
			}
		}
	}
	if q.Reflux {
		all = append(all, Delay{Other: term.SlowStomachReflux, Source: slowNote, Against: notSlow})
	}
	// Without weight or length nothing is known of it; what cannot be true is
	// an error wherever it stands.
	if !q.Patient.Weight.IsZero() && !q.Patient.Length.IsZero() {
		index, err := patient.MassIndex(q.Patient)
		if err != nil {
			return nil, err
		}
		for _, c := range index.Cautions {
			if c == patient.Obese {
				all = append(all, Delay{Other: term.SlowStomachObesity, Source: slowNote, Against: notSlow})
			}
		}
	}
	return all, nil
}

// needed gives the interval for an intake, in h as an answer and in seconds.
func (s *Set) needed(sets []*Set, intake term.Intake, age *exact.Number, confirmed bool) (patient.Answer, *exact.Number, error) {
	if !term.IntakeList.Has(intake) {
		return patient.Answer{}, nil, &patient.Error{Field: "what", Code: patient.UnknownCode, Given: string(intake)}
	}
	others := published(sets, intake, age)
	if len(others) == 0 {
		return patient.Answer{}, nil, &patient.Error{Field: "what", Code: NonePublished, Given: string(intake)}
	}
	shortest, longest := span(others)
	a := patient.Answer{Rule: patient.Rule("fasting-" + s.Code), Low: shortest.Needs, High: longest.Needs, Cautions: []patient.Caution{patient.Estimate}}
	own, ok := s.interval(intake, age)
	use := own
	switch {
	case intake == term.IntakeUnknown:
		use = longest.Interval
		term.Add(&a.Cautions, KindNotKnown)
	case !ok:
		use = longest.Interval
		if age == nil && s.has(intake) {
			term.Add(&a.Assumptions, AgeUnknownLonger)
		} else {
			term.Add(&a.Cautions, NotCovered)
		}
	case s.NeedsConfirmation && !confirmed:
		if use.hours().Cmp(longest.hours()) < 0 {
			use = longest.Interval
		}
		term.Add(&a.Cautions, SetNotConfirmed)
	}
	switch {
	case use.hours().Cmp(shortest.hours()) < 0:
		term.Add(&a.Cautions, UndercutsPublished)
	case use.hours().Cmp(longest.hours()) < 0:
		term.Add(&a.Cautions, PublishedDiffer)
	}
	if use.Source.Mark != term.MarkRead {
		term.Add(&a.Cautions, patient.ConfirmLocally)
	}
	a.Value, a.Sources = use.Needs, []patient.Source{use.Source}
	return a, use.hours().Times(exact.Whole(3600)), nil
}

// has reports whether the set has an interval for an intake at some age.
func (s *Set) has(intake term.Intake) bool {
	for _, i := range s.Intervals {
		if i.Intake == intake {
			return true
		}
	}
	return false
}
