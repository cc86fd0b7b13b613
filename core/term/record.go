package term

// Codes of what standards ask a record to hold of the visit and of the
// anaesthetic, beside those of the other files.

// Admission is how the patient came.
type Admission string

// The codes of [Admission].
const (
	AdmissionWard    Admission = "ward"
	AdmissionDayCase Admission = "day-case"
	AdmissionArrived Admission = "just-arrived"
)

// AdmissionList is the list of every [Admission].
var AdmissionList = list("admission", AdmissionWard, AdmissionDayCase, AdmissionArrived)

// Place is where somebody was seen, or where an anaesthetic is given.
type Place string

// The codes of [Place].
const (
	PlaceTheatre   Place = "theatre"
	PlaceWard      Place = "ward"
	PlaceClinic    Place = "clinic"
	PlaceEmergency Place = "emergency-room"
	PlaceLabour    Place = "labour-room"
	PlaceElsewhere Place = "elsewhere"
)

// PlaceList is the list of every [Place].
var PlaceList = list("place", PlaceTheatre, PlaceWard, PlaceClinic, PlaceEmergency, PlaceLabour, PlaceElsewhere)

// Earlier is what is told of earlier anaesthetics, the patient's own or in the
// family; what the trouble was goes into the private part.
type Earlier string

// The codes of [Earlier].
const (
	EarlierNever     Earlier = "never"
	EarlierNoTrouble Earlier = "no-trouble"
	EarlierTrouble   Earlier = "trouble"
	EarlierNotKnown  Earlier = "not-known"
)

// EarlierList is the list of every [Earlier].
var EarlierList = list("earlier", EarlierNever, EarlierNoTrouble, EarlierTrouble, EarlierNotKnown)

// Takes is a group of drugs that a patient takes; the words go into the
// private part.
type Takes string

// The codes of [Takes].
const (
	TakesNothing   Takes = "nothing"
	TakesPressure  Takes = "heart-or-pressure"
	TakesDiabetes  Takes = "diabetes"
	TakesThinner   Takes = "blood-thinner"
	TakesSteroid   Takes = "steroid"
	TakesEpilepsy  Takes = "epilepsy"
	TakesMind      Takes = "mind-or-sleep"
	TakesOpioid    Takes = "opioid"
	TakesInfection Takes = "infection"
	TakesHerbs     Takes = "herbs"
	TakesOther     Takes = "other"
)

// TakesList is the list of every [Takes].
var TakesList = list("takes", TakesNothing, TakesPressure, TakesDiabetes, TakesThinner, TakesSteroid, TakesEpilepsy, TakesMind, TakesOpioid, TakesInfection, TakesHerbs, TakesOther)

// Habit is something that a patient takes and that is no medicine.
type Habit string

// The codes of [Habit].
const (
	HabitNone      Habit = "none"
	HabitAlcohol   Habit = "alcohol"
	HabitStimulant Habit = "stimulant-leaves"
	HabitCannabis  Habit = "cannabis"
	HabitOpioid    Habit = "opioid"
	HabitOther     Habit = "other"
)

// HabitList is the list of every [Habit].
var HabitList = list("habit", HabitNone, HabitAlcohol, HabitStimulant, HabitCannabis, HabitOpioid, HabitOther)

// Fitness is what a patient can do without having to stop.
type Fitness string

// The codes of [Fitness].
const (
	FitnessTwoFlights Fitness = "two-flights"
	FitnessOneFlight  Fitness = "one-flight"
	FitnessLevel      Fitness = "level-ground"
	FitnessAtRest     Fitness = "breathless-at-rest"
)

// FitnessList is the list of every [Fitness].
var FitnessList = list("fitness", FitnessTwoFlights, FitnessOneFlight, FitnessLevel, FitnessAtRest)

// Examined is what an examination of heart or lungs found; what was heard goes
// into the private part.
type Examined string

// The codes of [Examined].
const (
	ExaminedNormal    Examined = "normal"
	ExaminedNotNormal Examined = "not-normal"
)

// ExaminedList is the list of every [Examined].
var ExaminedList = list("examined", ExaminedNormal, ExaminedNotNormal)

// Urine is what a strip or a look at urine found.
type Urine string

// The codes of [Urine].
const (
	UrineNothing Urine = "nothing-found"
	UrineSugar   Urine = "sugar"
	UrineProtein Urine = "protein"
	UrineBlood   Urine = "blood"
	UrineKetones Urine = "ketones"
)

// UrineList is the list of every [Urine].
var UrineList = list("urine", UrineNothing, UrineSugar, UrineProtein, UrineBlood, UrineKetones)

// Nostril is how far a nostril lets air through.
type Nostril string

// The codes of [Nostril].
const (
	NostrilOpen    Nostril = "open"
	NostrilNarrow  Nostril = "narrow"
	NostrilBlocked Nostril = "blocked"
)

// NostrilList is the list of every [Nostril].
var NostrilList = list("nostril", NostrilOpen, NostrilNarrow, NostrilBlocked)

// Test is a result that was seen before the start; what it said goes into the
// private part.
type Test string

// The codes of [Test].
const (
	TestBloodGroup Test = "blood-group"
	TestBloodCount Test = "blood-count"
	TestKidney     Test = "kidney-and-salts"
	TestLiver      Test = "liver"
	TestClotting   Test = "clotting"
	TestMalaria    Test = "malaria"
	TestECG        Test = "ecg"
	TestChestXray  Test = "chest-x-ray"
	TestOldNotes   Test = "old-notes"
)

// TestList is the list of every [Test].
var TestList = list("test", TestBloodGroup, TestBloodCount, TestKidney, TestLiver, TestClotting, TestMalaria, TestECG, TestChestXray, TestOldNotes)

// Warning is what whoever gives the next anaesthetic must know.
type Warning string

// The codes of [Warning].
const (
	WarningMask         Warning = "difficult-mask"
	WarningTube         Warning = "difficult-tube"
	WarningVein         Warning = "difficult-vein"
	WarningDrug         Warning = "drug-not-to-be-given"
	WarningHyperthermia Warning = "malignant-hyperthermia"
	WarningRelaxant     Warning = "long-relaxant"
	WarningAware        Warning = "was-aware"
	WarningSick         Warning = "very-sick-after"
	WarningOther        Warning = "other"
)

// WarningList is the list of every [Warning].
var WarningList = list("warning", WarningMask, WarningTube, WarningVein, WarningDrug, WarningHyperthermia, WarningRelaxant, WarningAware, WarningSick, WarningOther)

// PremedEffect is what a premedication had done when the patient came.
type PremedEffect string

// The codes of [PremedEffect].
const (
	PremedEffectNone     PremedEffect = "none-seen"
	PremedEffectCalm     PremedEffect = "calm"
	PremedEffectDrowsy   PremedEffect = "drowsy"
	PremedEffectTooDeep  PremedEffect = "too-deep"
	PremedEffectRestless PremedEffect = "restless"
	PremedEffectDry      PremedEffect = "dry-mouth"
)

// PremedEffectList is the list of every [PremedEffect].
var PremedEffectList = list("premed-effect", PremedEffectNone, PremedEffectCalm, PremedEffectDrowsy, PremedEffectTooDeep, PremedEffectRestless, PremedEffectDry)

// Supervision is where whoever supervises the provider is. It says how near
// help was, and nothing of how good anybody is.
type Supervision string

// The codes of [Supervision].
const (
	SupervisionAlone  Supervision = "alone" // nobody supervises, or nobody can be reached
	SupervisionRoom   Supervision = "in-the-room"
	SupervisionNear   Supervision = "on-the-premises"
	SupervisionOnCall Supervision = "by-phone"
)

// SupervisionList is the list of every [Supervision].
var SupervisionList = list("supervision", SupervisionAlone, SupervisionRoom, SupervisionNear, SupervisionOnCall)

// Adviser is who was told or asked.
type Adviser string

// The codes of [Adviser].
const (
	AdviserSenior    Adviser = "senior"
	AdviserSurgeon   Adviser = "surgeon"
	AdviserPhysician Adviser = "physician"
	AdviserChildren  Adviser = "paediatrician"
	AdviserMidwife   Adviser = "midwife"
	AdviserOther     Adviser = "other"
)

// AdviserList is the list of every [Adviser].
var AdviserList = list("adviser", AdviserSenior, AdviserSurgeon, AdviserPhysician, AdviserChildren, AdviserMidwife, AdviserOther)

// Advice is what came of telling or asking.
type Advice string

// The codes of [Advice].
const (
	AdviceInformed   Advice = "informed"
	AdviceAgrees     Advice = "agrees"
	AdviceAdvises    Advice = "advises"
	AdviceComes      Advice = "comes"
	AdviceNotReached Advice = "not-reached"
)

// AdviceList is the list of every [Advice].
var AdviceList = list("advice", AdviceInformed, AdviceAgrees, AdviceAdvises, AdviceComes, AdviceNotReached)

// AccessSite is where a cannula lies.
type AccessSite string

// The codes of [AccessSite].
const (
	AccessSiteHandLeft   AccessSite = "hand-left"
	AccessSiteHandRight  AccessSite = "hand-right"
	AccessSiteArmLeft    AccessSite = "arm-left"
	AccessSiteArmRight   AccessSite = "arm-right"
	AccessSiteElbowLeft  AccessSite = "elbow-left"
	AccessSiteElbowRight AccessSite = "elbow-right"
	AccessSiteFoot       AccessSite = "foot"
	AccessSiteScalp      AccessSite = "scalp"
	AccessSiteNeck       AccessSite = "neck"
	AccessSiteGroin      AccessSite = "groin"
	AccessSiteBone       AccessSite = "bone"
	AccessSiteArtery     AccessSite = "artery"
)

// AccessSiteList is the list of every [AccessSite].
var AccessSiteList = list("access-site", AccessSiteHandLeft, AccessSiteHandRight, AccessSiteArmLeft, AccessSiteArmRight, AccessSiteElbowLeft, AccessSiteElbowRight,
	AccessSiteFoot, AccessSiteScalp, AccessSiteNeck, AccessSiteGroin, AccessSiteBone, AccessSiteArtery)

// Gauge is the size of a cannula or of a needle, as printed on it.
type Gauge string

// The codes of [Gauge].
const (
	Gauge14 Gauge = "14g"
	Gauge16 Gauge = "16g"
	Gauge18 Gauge = "18g"
	Gauge20 Gauge = "20g"
	Gauge22 Gauge = "22g"
	Gauge23 Gauge = "23g"
	Gauge24 Gauge = "24g"
	Gauge25 Gauge = "25g"
	Gauge26 Gauge = "26g"
	Gauge27 Gauge = "27g"
)

// GaugeList is the list of every [Gauge].
var GaugeList = list("gauge", Gauge14, Gauge16, Gauge18, Gauge20, Gauge22, Gauge23, Gauge24, Gauge25, Gauge26, Gauge27)

// Attached is what lies on or in a patient, or in the way of what the patient
// breathes or is given, and is neither an airway nor a cannula.
type Attached string

// The codes of [Attached].
const (
	AttachedStockings    Attached = "stockings"
	AttachedCalfPump     Attached = "calf-pump"
	AttachedFluidWarmer  Attached = "fluid-warmer"
	AttachedBodyWarmer   Attached = "body-warmer"
	AttachedFilter       Attached = "breathing-filter"
	AttachedHumidifier   Attached = "humidifier"
	AttachedStomachTube  Attached = "stomach-tube"
	AttachedBladderTube  Attached = "bladder-catheter"
	AttachedDiathermyPad Attached = "diathermy-plate"
)

// AttachedList is the list of every [Attached].
var AttachedList = list("attached", AttachedStockings, AttachedCalfPump, AttachedFluidWarmer, AttachedBodyWarmer, AttachedFilter, AttachedHumidifier,
	AttachedStomachTube, AttachedBladderTube, AttachedDiathermyPad)

// PressureBy is how a pressure was measured.
type PressureBy string

// The codes of [PressureBy].
const (
	PressureByCuff   PressureBy = "cuff"
	PressureByArtery PressureBy = "artery"
	PressureByPulse  PressureBy = "felt-pulse"
)

// PressureByList is the list of every [PressureBy].
var PressureByList = list("pressure-by", PressureByCuff, PressureByArtery, PressureByPulse)

// Trace is what an electrocardiogram shows.
type Trace string

// The codes of [Trace].
const (
	TraceSinus      Trace = "sinus"
	TraceExtraBeats Trace = "extra-beats"
	TraceIrregular  Trace = "irregular"
	TraceBlock      Trace = "block"
	TraceWide       Trace = "wide-and-fast"
	TraceChaos      Trace = "no-pattern"
	TraceFlat       Trace = "flat"
)

// TraceList is the list of every [Trace].
var TraceList = list("trace", TraceSinus, TraceExtraBeats, TraceIrregular, TraceBlock, TraceWide, TraceChaos, TraceFlat)

// ConfirmedBy is how the place of a tube was confirmed.
type ConfirmedBy string

// The codes of [ConfirmedBy].
const (
	ConfirmedByEar    ConfirmedBy = "ear"
	ConfirmedByCO2    ConfirmedBy = "carbon-dioxide"
	ConfirmedByChest  ConfirmedBy = "chest-moves"
	ConfirmedBySeen   ConfirmedBy = "seen-between-cords"
	ConfirmedByBubble ConfirmedBy = "bulb-fills"
)

// ConfirmedByList is the list of every [ConfirmedBy].
var ConfirmedByList = list("confirmed-by", ConfirmedByEar, ConfirmedByCO2, ConfirmedByChest, ConfirmedBySeen, ConfirmedByBubble)

// BreathingSystem is what a patient breathes through.
type BreathingSystem string

// The codes of [BreathingSystem].
const (
	BreathingSystemOpenMask BreathingSystem = "open-mask"
	BreathingSystemDrawOver BreathingSystem = "draw-over"
	BreathingSystemTPiece   BreathingSystem = "t-piece"
	BreathingSystemCoaxial  BreathingSystem = "coaxial"
	BreathingSystemCircle   BreathingSystem = "circle"
	BreathingSystemBag      BreathingSystem = "self-inflating-bag"
	BreathingSystemMachine  BreathingSystem = "ventilator"
)

// BreathingSystemList is the list of every [BreathingSystem].
var BreathingSystemList = list("breathing-system", BreathingSystemOpenMask, BreathingSystemDrawOver, BreathingSystemTPiece, BreathingSystemCoaxial, BreathingSystemCircle,
	BreathingSystemBag, BreathingSystemMachine)

// FoundBy is how the place for a block was found.
type FoundBy string

// The codes of [FoundBy].
const (
	FoundByLandmark   FoundBy = "landmark"
	FoundByFluid      FoundBy = "clear-fluid"
	FoundByResistance FoundBy = "loss-of-resistance"
	FoundByTingling   FoundBy = "tingling"
	FoundByTwitch     FoundBy = "nerve-stimulator"
	FoundByUltrasound FoundBy = "ultrasound"
)

// FoundByList is the list of every [FoundBy].
var FoundByList = list("found-by", FoundByLandmark, FoundByFluid, FoundByResistance, FoundByTingling, FoundByTwitch, FoundByUltrasound)

// Limb is how arms and legs lie.
type Limb string

// The codes of [Limb].
const (
	LimbArmsBeside   Limb = "arms-beside"
	LimbArmLeftOut   Limb = "arm-left-out"
	LimbArmRightOut  Limb = "arm-right-out"
	LimbArmsCrossed  Limb = "arms-over-chest"
	LimbLegsUp       Limb = "legs-up"
	LimbKneesPadded  Limb = "knees-bent"
	LimbTiedLoosely  Limb = "tied-loosely"
	LimbElbowsPadded Limb = "elbows-padded"
)

// LimbList is the list of every [Limb].
var LimbList = list("limb", LimbArmsBeside, LimbArmLeftOut, LimbArmRightOut, LimbArmsCrossed, LimbLegsUp, LimbKneesPadded, LimbTiedLoosely, LimbElbowsPadded)
