package agent

import (
	"strconv"
	"strings"

	"chinlift/core/exact"
	"chinlift/core/quantity"
	"chinlift/core/term"
)

// Source says where a number is published.
type Source = term.Source

// Number is a number with its source; the unit is in the name of the field that
// holds it. Low and High are what the sources span, 0 where there is one value.
// The zero Number is not known.
type Number struct {
	Value, Low, High float64
	Source           Source
}

// Known reports whether there is a number.
func (n Number) Known() bool { return n.Value != 0 || n.Low != 0 || n.High != 0 }

// Span gives what the sources span; the value twice where there is one.
func (n Number) Span() (low, high float64) {
	if n.Low == 0 && n.High == 0 {
		return n.Value, n.Value
	}
	return n.Low, n.High
}

// Answer is what a rule gives.
type Answer struct {
	Value     quantity.Amount
	Low, High quantity.Amount // absent where there is one value
	Cautions  []Caution
	Sources   []Source
}

// Caution is the code of what to beware of, or of what was taken for granted.
type Caution string

// The cautions of this package.
const (
	Estimate         Caution = "estimate"           // an estimate, never an instruction
	HalfMove         Caution = "half-move"          // at 1 MAC half of the patients move at the cut
	UnderOneYear     Caution = "under-1-year"       // under 1 year the value for 1 year stands; the true one is other
	BeyondCharts     Caution = "beyond-charts"      // over 95 years, where the charts end
	Extrapolated     Caution = "extrapolated"       // the rule was not made from this agent
	Historical       Caution = "historical"         // an agent of the past, kept for old records
	FromMemory       Caution = "from-memory"        // rests on memory; confirm it in the source
	BoilsInRoom      Caution = "boils-in-room"      // the liquid may boil in a warm room at this pressure
	Explosive        Caution = "explosive"          // burns or explodes in the room
	FeedsFire        Caution = "feeds-fire"         // burns not, but makes others burn
	StandardAir      Caution = "standard-air"       // pressure of a standard day; a barometer is better
	BeyondEquation   Caution = "beyond-equation"    // the vapour pressure equation was not made for this temperature
	RangeOfAwake     Caution = "range-of-awake"     // people differ; the range is a quarter to either side
	MACUncertain     Caution = "mac-uncertain"      // the MAC itself is an old or single estimate
	LiverInjury      Caution = "liver-injury"       // rare injury of the liver after repeated use
	NoSodaLime       Caution = "no-soda-lime"       // poisonous products with soda lime
	KidneyInjury     Caution = "kidney-injury"      // fluoride injures the kidney
	HeartRhythm      Caution = "heart-rhythm"       // sudden death, rhythm with adrenaline
	TriggerOfHeat    Caution = "trigger-of-heat"    // may trigger malignant hyperthermia
	NeedsOther       Caution = "needs-other-agent"  // not an anaesthetic by itself at normal pressure
	NotIdealGas      Caution = "not-ideal-gas"      // real vapour is up to 4 % more than reckoned
	VapourIsHeavy    Caution = "vapour-sinks"       // heavier than air: gathers at the floor
	OxygenMakesWorse Caution = "oxygen-makes-worse" // burns more violently where oxygen was added
)

// The codes of an Error.
const (
	Missing     = "missing"      // the rule needs the field
	TooLow      = "too-low"      // cannot be, or no rule takes it
	TooHigh     = "too-high"     //
	WrongUnit   = "wrong-unit"   // of another dimension
	UnknownCode = "unknown-code" // not in the list of codes
	NoRule      = "no-rule"      // a true value that no rule here covers
	NotFinite   = "not-finite"   // what a model was given is no number
	Boils       = "boils"        // the liquid boils at this pressure and temperature
	Contradicts = "contradicts"  // cannot be together with another field
)

// Error says which field was at fault, with the fields of a fault. Where there
// are limits they are in Low and High. Package uptake uses it too.
type Error exact.Fault

func (e *Error) Error() string { return (*exact.Fault)(e).String() }

// Beware adds cautions that are not there yet.
func (a *Answer) Beware(list ...Caution) { term.Add(&a.Cautions, list...) }

// Cite adds sources that are not there yet.
func (a *Answer) Cite(list ...Source) {
	for _, s := range list {
		if s != (Source{}) {
			term.Add(&a.Sources, s)
		}
	}
}

// Take gives a in the unit u as a number for a model. Both limits, in u, are
// allowed. The error is an *Error with the field.
func Take(field string, a quantity.Amount, u quantity.Unit, low, high float64) (float64, error) {
	if a.IsZero() {
		return 0, &Error{Field: field, Code: Missing}
	}
	x, err := a.Float64(u)
	if err != nil {
		return 0, &Error{Field: field, Code: WrongUnit, Given: a.String()}
	}
	// The way between units rounds; who is at the limit is not beyond it.
	const slack = 1e-12
	var code string
	switch {
	case x < low-slack*abs(low):
		code = TooLow
	case x > high+slack*abs(high):
		code = TooHigh
	default:
		return x, nil
	}
	return 0, &Error{field, code, a.String(), Give(low, 6, u).String(), Give(high, 6, u).String()}
}

// Give makes an amount of what a model gave, rounded to so many decimals.
func Give(x float64, decimals int, u quantity.Unit) quantity.Amount {
	s := strconv.FormatFloat(x, 'f', decimals, 64)
	if strings.Contains(s, ".") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	if s == "-0" {
		s = "0"
	}
	return quantity.MustParse(s + " " + u.String())
}

func abs(x float64) float64 {
	if x < 0 {
		return -x
	}
	return x
}
