package visit

import "chinlift/core/patient"

// The cautions of this package, beside those of package patient.
const (
	SetNotConfirmed    patient.Caution = "set-not-confirmed"     // the set has no source and nobody at the clinic confirmed it: the longest published interval holds
	UndercutsPublished patient.Caution = "undercuts-published"   // shorter than every published interval
	PublishedDiffer    patient.Caution = "published-differ"      // another published set asks for longer; the range shows it
	NotCovered         patient.Caution = "not-covered"           // the set has no interval for this: the longest published holds
	KindNotKnown       patient.Caution = "kind-not-known"        // nobody knows what it was: taken for the slowest
	TimeNotKnown       patient.Caution = "time-not-known"        // nobody knows when: never long enough
	CountedToInjury    patient.Caution = "counted-to-injury"     // counted from the intake to the injury, not to now
	CountedToOpioid    patient.Caution = "counted-to-opioid"     // counted from the intake to the opioid, not to now
	HealthyElective    patient.Caution = "healthy-elective"      // fasting intervals were made for the healthy before planned operations
	FastedIsNotEmpty   patient.Caution = "fasted-is-not-empty"   // a stomach may be full after any fast: suction stays at hand
	ClassOnTheDay      patient.Caution = "class-on-the-day"      // whoever gives the anaesthetic sets the class, on the day
	WeakPredictor      patient.Caution = "weak-predictor"        // bedside tests miss difficult airways and give false alarms
	NoTestExcludes     patient.Caution = "no-test-excludes"      // a good result excludes nothing: have the second plan ready
	AdultTest          patient.Caution = "adult-test"            // the test was made with adults
	NotAsleepByVein    patient.Caution = "not-asleep-by-vein"    // airway likely difficult: no induction by vein; awake, or breathing
	TestsMissing       patient.Caution = "tests-missing"         // not all tests were done
	DerivedUnderGas    patient.Caution = "derived-under-gas"     // the risk holds for inhaled anaesthesia without prevention
	LateSign           patient.Caution = "late-sign"             // the young and fit, and children, keep their pressure until late
	DrugsHideIt        patient.Caution = "drugs-hide-it"         // drugs that slow the pulse, and anaesthesia itself, change it
	AwakeAtRest        patient.Caution = "awake-at-rest"         // the limits are of patients awake and at rest
	HypotensionIsLate  patient.Caution = "hypotension-is-late"   // in a child a low pressure comes late: it is no mark to wait for
	NotInPregnancy     patient.Caution = "not-in-pregnancy"      // the adult limits were not made for pregnancy
	BaselineFirst      patient.Caution = "baseline-first"        // the patient's own values at rest come before any table
	PrematureLower     patient.Caution = "premature-lower"       // the premature have lower pressures than the table
	ClearFluidTillThen patient.Caution = "clear-fluid-till-then" // clear fluid may be taken until then; a long thirst harms, children most
)

// The assumptions of this package, beside those of package patient.
const (
	AgeUnknownLonger patient.Assumption = "age-unknown-longer" // the interval hangs on age, which is not known: the longer one
	NotAskedCounts   patient.Assumption = "not-asked-counts"   // what was not asked makes the range
)

// The codes of a *patient.Error of this package, beside those of package
// patient.
const (
	No6E          = "no-6e"          // class 6 has no emergency suffix
	UnknownSet    = "unknown-set"    // no fasting set has this code
	NonePublished = "none-published" // no published set covers it: nothing to fall back on
	Contradiction = "contradiction"  // two facts that cannot both be
)
