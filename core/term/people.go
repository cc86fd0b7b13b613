package term

// Codes about the patient.

// Sex as it bears on doses and formulas.
type Sex string

// The codes of [Sex].
const (
	SexFemale  Sex = "female"
	SexMale    Sex = "male"
	SexUnknown Sex = "unknown"
)

// SexList is the list of every [Sex].
var SexList = list("sex",
	SexFemale,
	SexMale,
	SexUnknown,
)

// Watcher is who looks after a patient while the provider is with another.
type Watcher string

// The codes of [Watcher].
const (
	WatcherProvider  Watcher = "provider"
	WatcherAssistant Watcher = "assistant"
	WatcherNurse     Watcher = "nurse"
	WatcherMidwife   Watcher = "midwife"
	WatcherSurgeon   Watcher = "surgeon"
	WatcherNobody    Watcher = "nobody"
)

// WatcherList is the list of every [Watcher].
var WatcherList = list("watcher",
	WatcherProvider,
	WatcherAssistant,
	WatcherNurse,
	WatcherMidwife,
	WatcherSurgeon,
	WatcherNobody,
)

// WeightHow says whether a weight was measured or guessed.
type WeightHow string

// The codes of [WeightHow].
const (
	WeightHowMeasured WeightHow = "measured"
	WeightHowGuessed  WeightHow = "guessed"
)

// WeightHowList is the list of every [WeightHow].
var WeightHowList = list("weight-how",
	WeightHowMeasured,
	WeightHowGuessed,
)

// WeightBy says by what a weight was measured or guessed.
type WeightBy string

// The codes of [WeightBy].
const (
	WeightByScale        WeightBy = "scale"
	WeightByLengthTape   WeightBy = "length-tape"
	WeightByAgeFormula   WeightBy = "age-formula"
	WeightByRelativeSaid WeightBy = "relative-said"
	WeightByEye          WeightBy = "eye"
)

// WeightByList is the list of every [WeightBy].
var WeightByList = list("weight-by",
	WeightByScale,
	WeightByLengthTape,
	WeightByAgeFormula,
	WeightByRelativeSaid,
	WeightByEye,
)

// ASA is the physical status class of the American Society of Anesthesiologists (statement of 2014, amended 13 December 2020). The emergency suffix is kept apart.
type ASA string

// The codes of [ASA].
const (
	ASA1 ASA = "1"
	ASA2 ASA = "2"
	ASA3 ASA = "3"
	ASA4 ASA = "4"
	ASA5 ASA = "5"
	ASA6 ASA = "6"
)

// ASAList is the list of every [ASA].
var ASAList = list("asa",
	ASA1,
	ASA2,
	ASA3,
	ASA4,
	ASA5,
	ASA6,
)

// AgeBand groups ages for counting. The first 28 days of life are the newborn's
// (World Health Organization, Newborns: improving survival and well-being,
// from memory); the others are a house choice.
type AgeBand string

// The codes of [AgeBand].
const (
	AgeBandNewborn AgeBand = "under-28-days"
	AgeBandInfant  AgeBand = "under-1-year"
	AgeBand1       AgeBand = "1-to-4"
	AgeBand5       AgeBand = "5-to-11"
	AgeBand12      AgeBand = "12-to-17"
	AgeBand18      AgeBand = "18-to-39"
	AgeBand40      AgeBand = "40-to-64"
	AgeBand65      AgeBand = "65-to-79"
	AgeBand80      AgeBand = "80-and-over"
)

// AgeBandList is the list of every [AgeBand].
var AgeBandList = list("age-band",
	AgeBandNewborn,
	AgeBandInfant,
	AgeBand1,
	AgeBand5,
	AgeBand12,
	AgeBand18,
	AgeBand40,
	AgeBand65,
	AgeBand80,
)

// Mallampati is the modified class: Samsoon and Young, Anaesthesia 1987.
type Mallampati string

// The codes of [Mallampati].
const (
	Mallampati1 Mallampati = "1"
	Mallampati2 Mallampati = "2"
	Mallampati3 Mallampati = "3"
	Mallampati4 Mallampati = "4"
)

// MallampatiList is the list of every [Mallampati].
var MallampatiList = list("mallampati",
	Mallampati1,
	Mallampati2,
	Mallampati3,
	Mallampati4,
)

// MouthOpening in the patient's own finger breadths.
type MouthOpening string

// The codes of [MouthOpening].
const (
	MouthOpeningThreeFingers MouthOpening = "three-fingers"
	MouthOpeningTwoFingers   MouthOpening = "two-fingers"
	MouthOpeningOneFinger    MouthOpening = "one-finger"
)

// MouthOpeningList is the list of every [MouthOpening].
var MouthOpeningList = list("mouth",
	MouthOpeningThreeFingers,
	MouthOpeningTwoFingers,
	MouthOpeningOneFinger,
)

// Neck is how far the head goes back.
type Neck string

// The codes of [Neck].
const (
	NeckFree  Neck = "free"
	NeckStiff Neck = "stiff"
	NeckFixed Neck = "fixed"
)

// NeckList is the list of every [Neck].
var NeckList = list("neck",
	NeckFree,
	NeckStiff,
	NeckFixed,
)

// Teeth as they bear on the airway.
type Teeth string

// The codes of [Teeth].
const (
	TeethSound Teeth = "sound"
	TeethLoose Teeth = "loose"
	TeethFalse Teeth = "false"
	TeethNone  Teeth = "none"
)

// TeethList is the list of every [Teeth].
var TeethList = list("teeth",
	TeethSound,
	TeethLoose,
	TeethFalse,
	TeethNone,
)

// Side of the operation.
type Side string

// The codes of [Side].
const (
	SideLeft    Side = "left"
	SideRight   Side = "right"
	SideBoth    Side = "both"
	SideMidline Side = "midline"
	SideNone    Side = "none"
)

// SideList is the list of every [Side].
var SideList = list("side",
	SideLeft,
	SideRight,
	SideBoth,
	SideMidline,
	SideNone,
)

// ConsentBy is who agreed.
type ConsentBy string

// The codes of [ConsentBy].
const (
	ConsentByPatient       ConsentBy = "patient"
	ConsentByParent        ConsentBy = "parent"
	ConsentByGuardian      ConsentBy = "guardian"
	ConsentByRelative      ConsentBy = "relative"
	ConsentByTwoClinicians ConsentBy = "two-clinicians"
)

// ConsentByList is the list of every [ConsentBy].
var ConsentByList = list("consent-by",
	ConsentByPatient,
	ConsentByParent,
	ConsentByGuardian,
	ConsentByRelative,
	ConsentByTwoClinicians,
)

// Allergy is what was asked about and what was found; the words go into the private part.
type Allergy string

// The codes of [Allergy].
const (
	AllergyNoneKnown Allergy = "none-known"
	AllergyDrug      Allergy = "drug"
	AllergyFood      Allergy = "food"
	AllergyLatex     Allergy = "latex"
	AllergyOther     Allergy = "other"
)

// AllergyList is the list of every [Allergy].
var AllergyList = list("allergy",
	AllergyNoneKnown,
	AllergyDrug,
	AllergyFood,
	AllergyLatex,
	AllergyOther,
)

// Intake is a kind of food or drink that fasting rules tell apart (ASA practice guidelines 2017 and 2023; ESAIC 2022).
type Intake string

// The codes of [Intake].
const (
	IntakeClearFluid Intake = "clear-fluid"
	IntakeBreastMilk Intake = "breast-milk"
	IntakeFormula    Intake = "formula"
	IntakeOtherMilk  Intake = "other-milk"
	IntakeLightMeal  Intake = "light-meal"
	IntakeFullMeal   Intake = "full-meal"
	IntakeUnknown    Intake = "unknown"
)

// IntakeList is the list of every [Intake].
var IntakeList = list("intake",
	IntakeClearFluid,
	IntakeBreastMilk,
	IntakeFormula,
	IntakeOtherMilk,
	IntakeLightMeal,
	IntakeFullMeal,
	IntakeUnknown,
)
