package formulary

import (
	"chinlift/core/exact"
	"chinlift/core/patient"
	"chinlift/core/quantity"
	"chinlift/core/term"
)

// Given is a dose that this patient has had. What cannot be counted is said in
// the answer, never dropped in silence.
type Given struct {
	Drug     string
	Use      string // empty: not known
	Route    term.Route
	Dose     quantity.Amount // an amount, or a volume with its strength
	Strength quantity.Amount // of a volume
	Ago      quantity.Amount // a duration; absent: in this case, nobody knows when
	Before   bool            // in another case of the patient: what counts for the whole case counts it for a day
}

// Request is a question to the formulary.
type Request struct {
	Drug, Use string
	Route     term.Route // empty: the use's first
	Patient   patient.Patient
	Pregnant  bool
	With      []term.Condition
	Given     []Given
	Agents    []term.Agent // running, or given in this case
	Hazards   []term.Hazard

	Presentation string          // what is at hand; empty: the first that fits
	Strength     quantity.Amount // what is at hand, where it is none of the file's
	Syringes     []quantity.Amount
	Wish         quantity.Amount // a dose that somebody has in mind, to be judged
}

// Answer is what the rules give. Amounts of the drug are in the unit of the
// rule, without the kilograms.
type Answer struct {
	Drug, Use string
	Route     term.Route
	Hash      string // of the rule, see Use.Hash

	// The range of a single dose: reduced, and not over the maximum of a single
	// dose. It does not regard what was given before.
	Low, High quantity.Amount
	// The same before the maximum, and what of the rule holds High down.
	Full     Span
	CappedBy Limit

	// What to give now: not over what is left, and such that it can be
	// measured. Absent where nothing is left, where a stop fires (on a use that
	// is no rescue), or where it cannot be measured; Steps say which.
	Suggested quantity.Amount
	Unrounded quantity.Amount
	// The most that may be given now: the maximum of a single dose, what is left
	// and, for whoever needs less, the highest reduced dose. Absent where no rule
	// has a maximum. LimitVolume is that in mL of
	// what is drawn up, or of what is at hand, cut to 0.1 mL, and to 0.01 under
	// 1 mL.
	Limit, LimitVolume quantity.Amount

	Reductions []Reduction
	Factor     quantity.Decimal // of all reductions; absent where there is none

	Weight quantity.Amount // that the dose goes by; absent where it goes by none
	Basis  Basis           // which of the weights that is

	Draw   *Draw           // from which presentation, and how much of it
	Pieces quantity.Amount // so many pieces, where it comes in pieces
	Flow   quantity.Amount // mL/h, of an infusion
	Over   Span            // give it over so long

	Board     []Board
	Next      quantity.Amount // minutes until the next dose; absent: not in this case
	Uncounted []int           // the indices in Request.Given that no total could count: the amount does not tell how much, or nobody knows the drug

	Alerts      []Fired
	Assumptions []patient.Assumption
	Cautions    []patient.Caution
	Steps       []Step
	Wish        *Verdict
}

// Limit is the code of what holds a dose down.
type Limit string

// The limits.
const (
	LimitMost      Limit = "most"        // the maximum of a single dose
	LimitMostPerKg Limit = "most-per-kg" // the maximum of a single dose by weight
	LimitTotal     Limit = "total"       // what is left within a time
	LimitGroup     Limit = "group"       // what is left for a group of drugs
)

// Reduction is a factor that was applied.
type Reduction struct {
	Code   string
	Factor quantity.Decimal
	Source Source
}

// Fired is an alert that applies.
type Fired struct {
	Code    string
	Level   Level
	Source  Source
	Planned bool // a stop that is not held against a dose given
}

// Board is what a total has counted.
type Board struct {
	Group    Group           // empty: this drug alone
	Window   quantity.Amount // absent: the whole case
	Most     quantity.Amount // absent where it goes by a weight that nobody knows
	Used     quantity.Amount // of a group of opioids in mg of morphine, of local anaesthetics as a fraction of 1
	Left     quantity.Amount // in the same measure; never under nought
	LeftDose quantity.Amount // the same in this drug
	Frees    quantity.Amount // minutes until a whole dose fits again; absent: not in this case
	Lifted   bool            // counted, but it limits nothing
	Source   Source
}

// Draw says how a dose is measured out.
type Draw struct {
	Presentation     string          // empty: only the strength was named
	Strength         quantity.Amount // of what is drawn up
	Volume           quantity.Amount // mL; absent for an infusion
	Syringe, Mark    quantity.Amount // mL: the syringe, and how fine its marks are, or the least number of them that hold a dose of few decimals; absent where it is more than anybody draws into one
	Powder, Dissolve quantity.Amount // first dissolve the powder in so much
	Vials            int             // how many vials of the powder the dose, or the dilution, takes; 0 where it is no powder, or an infusion as it is
	Dilution         *Dilution       // then dilute it
}

// Dilution is a recipe: Take of what has the strength From, Add the diluent up
// to Total. It then has the strength Strength.
type Dilution struct {
	From, Strength   quantity.Amount
	Take, Add, Total quantity.Amount // mL
	With             string          // a code of term.FluidInList, or Water; empty: look at the label
	Source           Source          // zero where nobody but arithmetic says so
}

// StepCode is the code of a step of the working.
type StepCode string

// The steps, in the order in which a person would reckon.
const (
	StepRule         StepCode = "rule"            // low, high, usual: as the rule tells it
	StepWeight       StepCode = "weight"          // weight: the weight itself is taken
	StepWeightCut    StepCode = "weight-cut"      // weight, ideal, used: a fifth over the ideal weight is taken
	StepWeightIdeal  StepCode = "weight-ideal"    // weight, used: the ideal weight is taken
	StepPerKg        StepCode = "per-kg"          // weight, low, high, usual: the rule by the weight
	StepLeast        StepCode = "least"           // least: a smaller dose is raised to it
	StepReduced      StepCode = "reduced"         // factor; Of: the reduction
	StepReducedTo    StepCode = "reduced-to"      // factor, low, high, usual: all reductions together
	StepFloor        StepCode = "floor"           // factor: reductions do not go below this
	StepCapped       StepCode = "capped"          // from, to; Of: the limit
	StepAlreadyGiven StepCode = "already-given"   // used, most, window; Of: the group
	StepNotCounted   StepCode = "not-counted"     // dose: its unit or strength does not let it count
	StepTimeUnknown  StepCode = "time-unknown"    // a dose whose time nobody knows counts in every window
	StepNeedsWeight  StepCode = "total-unweighed" // most: it goes by a weight that nobody knows
	StepLifted       StepCode = "lifted"          // the total limits nothing here
	StepLeft         StepCode = "left"            // left
	StepNothingLeft  StepCode = "nothing-left"    //
	StepStopped      StepCode = "stopped"         // a stop fires: nothing is suggested
	StepDissolve     StepCode = "dissolve"        // powder, dissolve, strength
	StepDilution     StepCode = "dilution"        // from, take, add, total, strength
	StepDiluentOpen  StepCode = "diluent-open"    // the file does not say with what: look at the label
	StepVolume       StepCode = "volume"          // dose, strength, volume
	StepRoundedDown  StepCode = "rounded-down"    // from, to, mark
	StepRounded      StepCode = "rounded"         // from, to, mark: to the nearest, for a rescue
	StepPieces       StepCode = "pieces"          // dose, piece, pieces
	StepFlow         StepCode = "flow"            // rate, strength, flow
	StepUnmeasurable StepCode = "not-measurable"  // dose: no syringe and no dilution here measures it
	StepWait         StepCode = "wait"            // interval, ago, wait
)

// StepCodes has every code of a step, for those who look for their words.
var StepCodes = []StepCode{
	StepRule, StepWeight, StepWeightCut, StepWeightIdeal, StepPerKg, StepLeast, StepReduced, StepReducedTo, StepFloor, StepCapped,
	StepAlreadyGiven, StepNotCounted, StepTimeUnknown, StepNeedsWeight, StepLifted, StepLeft, StepNothingLeft, StepStopped,
	StepDissolve, StepDilution, StepDiluentOpen, StepVolume, StepRoundedDown, StepRounded, StepPieces, StepFlow, StepUnmeasurable, StepWait,
}

// Step is one step of the working.
type Step struct {
	Code   StepCode
	Of     string // the code of a reduction, a limit or a group
	Values []Named
	Source Source // zero for what is arithmetic alone
}

// Named is a value of a step. The names stand beside the codes.
type Named struct {
	Name   string
	Amount quantity.Amount
}

// The codes of an Error, besides those of package patient.
const (
	Unknown    = "unknown"      // no such drug, use or presentation
	Retired    = "retired"      // the clinic has taken the drug away
	NotThisWay = "not-this-way" // the use does not go by this route, or not from this presentation
)

// Error says which field of a request was at fault. Codes are those of package
// patient and of this one. Where no rule covers the patient, Alerts has the
// alerts that apply: they may be the reason.
type Error struct {
	Field     string
	Code      string
	Given     string
	Low, High string
	Alerts    []Fired
}

func (e *Error) Error() string {
	return "formulary: " + (&exact.Fault{Field: e.Field, Code: e.Code, Given: e.Given, Low: e.Low, High: e.High}).String()
}
