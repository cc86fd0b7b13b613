package waking

import "chinlift/core/patient"

// The cautions of this package, beside those of package patient.
const (
	WatcherDecides    patient.Caution = "watcher-decides"      // who watches and the local protocol decide, not a score
	PercentNotMmHg    patient.Caution = "percent-not-mmhg"     // read in mmHg, as some copies print it, the points would differ
	NotInTable        patient.Caution = "not-in-table"         // the table leaves a gap here: the lower points
	TryOxygen         patient.Caution = "try-oxygen"           // low on air: the table asks what oxygen does
	TryAir            patient.Caution = "try-air"              // on oxygen: two points only once it is enough without
	ActivityWithBlock patient.Caution = "activity-with-block"  // legs under a block lower the score, not the patient's waking
	ScaleTwoDecided   patient.Caution = "scale-two-decided"    // the second scale of saturation only where a clinician set 88 to 92 % as the aim
	PregnancyNotAsked patient.Caution = "pregnancy-not-asked"  // the score is not for pregnancy, which was not asked
	AnaestheticActs   patient.Caution = "anaesthetic-acts"     // drugs of the anaesthetic move every item; look at the patient
	AskAgain          patient.Caution = "ask-again"            // the score is the patient's, asked again after whatever was done
	TooYoungForNumber patient.Caution = "too-young-for-number" // a child this young shows pain, and cannot number it
	RescueThreshold   patient.Caution = "rescue-threshold"     // from here on a remedy is usually given
	NotYetWalking     patient.Caution = "not-yet-walking"      // legs that move freely do not yet carry
	LookForCord       patient.Caution = "look-for-cord"        // a block that stays too long, or comes back: blood may press on the cord
	ScalesDiffer      patient.Caution = "scales-differ"        // another scale of six steps counts the other way
)

// The codes of a *patient.Error of this package, beside those of package
// patient.
const (
	NotForPregnancy = "not-for-pregnancy" // the score was not made for it
	Contradiction   = "contradiction"     // two facts that cannot both be
	NotWhole        = "not-whole"         // the scale has whole numbers
)

// Said is the answer to a question; empty: it was not asked.
type Said = patient.Said

// The answers.
const (
	Yes = patient.Yes
	No  = patient.No
)
