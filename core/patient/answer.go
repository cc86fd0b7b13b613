package patient

import (
	"chinlift/core/exact"
	"chinlift/core/quantity"
	"chinlift/core/term"
)

// Answer is what a rule gives.
type Answer struct {
	Rule        Rule
	Value       quantity.Amount
	Low, High   quantity.Amount // what the sources span; absent where there is one value
	Assumptions []Assumption
	Cautions    []Caution
	Working     []Step
	Sources     []Source
}

// Step is one step of the working: a code, and the values that its words name.
type Step struct {
	Code   StepCode
	Values []Named
}

// StepCode is the code of a step.
type StepCode string

// Named is a value of a step by the name that its words have for it.
type Named struct {
	Name   string
	Amount quantity.Amount
}

// Rule is the code of the rule that gave an answer.
type Rule string

// Source says where a number is published.
type Source = term.Source

// Assumption is the code of what an answer takes for granted.
type Assumption string

// The assumptions.
const (
	WeightFromAge     Assumption = "weight-from-age"     // the weight is guessed by a formula of age
	WeightFromLength  Assumption = "weight-from-length"  // the weight is guessed by length
	WeightSaid        Assumption = "weight-said"         // a relative said it
	WeightByEye       Assumption = "weight-by-eye"       // somebody looked
	WeightUnexplained Assumption = "weight-unexplained"  // nobody said how it was come by
	AgeCompleted      Assumption = "age-completed"       // the age counts in completed months or years
	SexUnknownLower   Assumption = "sex-unknown-lower"   // sex not known: the lower of the two values
	AdultAssumed      Assumption = "adult-assumed"       // no age given: taken for an adult
	ActualWeight      Assumption = "actual-weight"       // the patient weighs less than the rule's weight
	LowerOfRange      Assumption = "lower-of-range"      // the lower end of the published range
	TimeFromInjury    Assumption = "time-from-injury"    // hours count from the burn, not from arrival
	RangeTouches      Assumption = "two-sizes-published" // the table names two sizes at this weight
)

// Caution is the code of what to beware of.
type Caution string

// The cautions.
const (
	Estimate            Caution = "estimate"              // an estimate, never an instruction
	WeighIfPossible     Caution = "weigh-if-possible"     // a scale is better than any formula
	JumpAtSix           Caution = "jump-at-6-years"       // the formulas leap at the sixth birthday, 20 to 25 kg
	WastedChild         Caution = "wasted-child"          // a wasted child weighs less: look, and ask
	LengthAgeDisagree   Caution = "length-age-disagree"   // length and age give weights that are over a fifth apart
	WeightFarFromAge    Caution = "weight-far-from-age"   // over twice or under half of what age suggests: pounds for kilograms?
	Obese               Caution = "obese"                 // body mass index of 30 and over: values for each kilogram come out too high
	NotATarget          Caution = "not-a-target"          // an allowable loss is no target, and no leave to wait
	FormulasDiffer      Caution = "formulas-differ"       // published formulas differ; the range shows it
	LowTarget           Caution = "low-target"            // the target is under 21 % or 7 g/dL
	NewbornFluids       Caution = "newborn-fluids"        // the rule was not made for the first month
	LongFast            Caution = "long-fast"             // more than 24 hours: look for dehydration, the rule does not
	SmallBurn           Caution = "small-burn"            // may need no resuscitation by vein
	LargeBurn           Caution = "large-burn"            // over half of the surface: the formula runs high
	ChildBurnMaintain   Caution = "child-maintenance-too" // a child needs maintenance with glucose besides
	FirstHalfOver       Caution = "first-8-hours-over"    // the first 8 hours have passed; by signs, not by catching up
	TitrateToUrine      Caution = "titrate-to-urine"      // start here, go on by urine and signs
	SizesEitherSide     Caution = "half-size-either-side" // have half a size smaller and larger at hand
	CheckDepth          Caution = "check-depth"           // listen on both sides; watch exhaled carbon dioxide
	BeyondTable         Caution = "beyond-table"          // heavier or lighter than the table goes
	ConfirmLocally      Caution = "confirm-locally"       // rests on memory or practice alone
	HistoryOnly         Caution = "history-only"          // a rule of the past, no suggestion
	AdultFormulaExtreme Caution = "adult-formula-extreme" // far from the people whom the formula was made from
)

// The codes of an Error.
const (
	Missing       = "missing"      // the rule needs the field
	TooLow        = "too-low"      // no patient has it, or no rule takes it
	TooHigh       = "too-high"     //
	WrongUnit     = "wrong-unit"   // of another dimension
	UnknownCode   = "unknown-code" // not in the list of codes
	NoRule        = "no-rule"      // a true value that no rule here covers
	NotBelowStart = "not-below-start"
)

// Error says which field was at fault, with the fields of a fault. Where there
// are limits they are in Low and High.
type Error exact.Fault

func (e *Error) Error() string { return "patient: " + (*exact.Fault)(e).String() }

// step adds a step of the working.
func (a *Answer) step(code StepCode, values ...Named) {
	a.Working = append(a.Working, Step{code, values})
}

// named is a value of a step, to four decimals.
func named(name string, x *exact.Number, u quantity.Unit) Named { return Named{name, x.Amount(4, u)} }

func (a *Answer) assume(list ...Assumption) { term.Add(&a.Assumptions, list...) }

func (a *Answer) beware(list ...Caution) { term.Add(&a.Cautions, list...) }

// Said is the answer to a question; empty: it was not asked, which is not a no.
type Said string

// The answers.
const (
	Yes Said = "yes"
	No  Said = "no"
)

// Check refuses what is no answer: with an *Error for the field.
func (s Said) Check(field string) error {
	if s != "" && s != Yes && s != No {
		return &Error{Field: field, Code: UnknownCode, Given: string(s)}
	}
	return nil
}
