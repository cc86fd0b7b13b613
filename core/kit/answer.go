package kit

import (
	"chinlift/core/exact"
	"chinlift/core/quantity"
	"chinlift/core/term"
)

// Answer is what a reckoning gives.
type Answer struct {
	Value     quantity.Amount
	Low, High quantity.Amount // the range, where there is one; plan by its unfavourable end
	Cautions  []Caution
	Sources   []Source
}

// Source says where a number is published.
type Source = term.Source

// Caution is the code of what to beware of, or of what was taken for granted.
type Caution string

// The cautions.
const (
	Estimate   Caution = "estimate"    // an estimate, never an instruction
	FromMemory Caution = "from-memory" // rests on memory; confirm it in the source

	SizesDiffer  Caution = "sizes-differ"  // tables differ by over a tenth about this size: plan by the low end
	StampedWater Caution = "stamped-water" // water capacity as stamped on the shoulder
	BelowReserve Caution = "below-reserve" // a gauge stands at the reserve or below
	UnderHalf    Caution = "under-half"    // a cylinder under half full is no spare
	OverFull     Caution = "over-full"     // more than full: hot, overfilled, or misread
	GaugeWarm    Caution = "gauge-warm"    // a cylinder in the sun shows more than it holds

	NeedsCurrent    Caution = "needs-current"   // ends with the current: keep cylinders
	NotMeasured     Caution = "not-measured"    // the percent is that of others, not measured on this one
	WeakOxygen      Caution = "weak-oxygen"     // under 82 %: wants mending
	DialIsNotOutput Caution = "dial-not-output" // vaporisers give 15 % more or less than the dial, old ones more
	CountDrops      Caution = "count-drops"     // not counted for this bottle: count to 5 mL
	CountMore       Caution = "count-more"      // counted to under 5 mL: count longer
	ThisBottle      Caution = "this-bottle"     // holds for this bottle, dropper and agent only
	Guess           Caution = "guess"           // by the look of the gauze: a rough guess

	OpenedOverADay   Caution = "opened-over-1-day"    // ether left in an opened container may go bad fast; poured out, it is not for an anaesthetic after 24 hours
	OpenedHalfAYear  Caution = "opened-over-6-months" // peroxides: do not use, do not shake or distil; have it taken away
	ClosedOverAYear  Caution = "closed-over-1-year"   // peroxides may form unopened too: ask before it is opened
	Expired          Caution = "expired"              // its day is over
	PeroxidesExplode Caution = "peroxides-explode"    // crystals or a crust at the cap: do not touch

	SeaLevelTaken       Caution = "sea-level-taken"            // no height given
	StandardDay         Caution = "standard-day"               // pressure of a standard day; a barometer is better
	HeightRaisesTension Caution = "height-raises-tension"      // more per cent than the dial, and a somewhat higher tension
	HeightLowersTension Caution = "height-lowers-tension"      // the heated type gives its per cent, and less tension
	DialUnsafe          Caution = "dial-unsafe"                // of ether far more than the dial, by any rule
	BoilsHere           Caution = "boils-here"                 // boils at this height and warmth: pressure in bottle and vaporiser, no dial holds
	NearBoiling         Caution = "near-boiling"               // within 5 degrees of boiling
	Burns               Caution = "burns"                      // no flame, no spark, no phone within 1 m
	CoverWithoutOxygen  Caution = "cover-without-oxygen"       // air and agent under a cover without oxygen: too little, at every height
	CoverRebreathing    Caution = "cover-rebreathing"          // a cover keeps back carbon dioxide
	SpontaneousNoOxygen Caution = "spontaneous-without-oxygen" // who breathes by himself wants at least 0.5 L/min
	HypoxicAtHeight     Caution = "hypoxic-at-height"          // air and agent without oxygen from 2000 m on
)

// The codes of an Error.
const (
	Missing     = "missing"      // the field is needed
	TooLow      = "too-low"      // cannot be, or no rule takes it
	TooHigh     = "too-high"     //
	WrongUnit   = "wrong-unit"   // of another dimension
	UnknownCode = "unknown-code" // not in the list of codes
	NotReadable = "not-readable" // no day, no whole line, no code
	NoRule      = "no-rule"      // a true value that no rule here covers
	Contradicts = "contradicts"  // cannot be together with another field
	Twice       = "twice"        // stands already
	NotInList   = "not-in-list"  // the list has no such item
	LastItem    = "last-item"    // a list has at least one
)

// Error says which field was at fault, with the fields of a fault. Where there
// are limits they are in Low and High. Fields of one among several carry its
// place, from 0: uses[2].
type Error exact.Fault

func (e *Error) Error() string { return "kit: " + (*exact.Fault)(e).String() }

func (a *Answer) beware(list ...Caution) { term.Add(&a.Cautions, list...) }

func (a *Answer) cite(list ...Source) {
	for _, s := range list {
		if s != (Source{}) {
			term.Add(&a.Sources, s)
		}
		if s.Mark == term.MarkMemory {
			a.beware(FromMemory)
		}
	}
}
