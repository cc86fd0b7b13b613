package term

// Codes of equipment and settings.

// KitState is what a look at one item found.
type KitState string

// The codes of [KitState].
const (
	KitStateGood   KitState = "good"
	KitStateFault  KitState = "fault"
	KitStateAbsent KitState = "absent"
)

// KitStateList is the list of every [KitState].
var KitStateList = list("kit-state",
	KitStateGood,
	KitStateFault,
	KitStateAbsent,
)

// KitAnswer is what will be done about a fault.
type KitAnswer string

// The codes of [KitAnswer].
const (
	KitAnswerReplaced KitAnswer = "replaced"
	KitAnswerMended   KitAnswer = "mended"
	KitAnswerBorrowed KitAnswer = "borrowed"
	KitAnswerWithout  KitAnswer = "without"
	KitAnswerWaits    KitAnswer = "waits"
)

// KitAnswerList is the list of every [KitAnswer].
var KitAnswerList = list("kit-answer",
	KitAnswerReplaced,
	KitAnswerMended,
	KitAnswerBorrowed,
	KitAnswerWithout,
	KitAnswerWaits,
)

// Setting names a clinic setting that changes a result or a due.
type Setting string

// The codes of [Setting].
const (
	SettingAltitude    Setting = "altitude"
	SettingBarometer   Setting = "barometer"
	SettingDropsPerMl  Setting = "drops-per-ml" // of the dropper of an agent
	SettingGivingSet   Setting = "giving-set"   // drops per mL of the sets that infusions run through
	SettingVitalsEvery Setting = "vitals-every"
	SettingLateAfter   Setting = "late-after"
	SettingDueSound    Setting = "due-sound"
	SettingDueBuzz     Setting = "due-buzz"
	SettingFastingSet  Setting = "fasting-set"
	SettingStop        Setting = "stop"

	// The thresholds of what offers a card.
	SettingOfferSpO2     Setting = "offer-spo2"
	SettingOfferSpO2Fall Setting = "offer-spo2-fall"
	SettingOfferFall     Setting = "offer-pressure-fall"
	SettingOfferSpinal   Setting = "offer-spinal-left"
	SettingOfferSound    Setting = "offer-sound"

	SettingOfferSpO2Severe  Setting = "offer-spo2-severe"
	SettingOfferPressureLow Setting = "offer-pressure-low"
	SettingOfferPressureTop Setting = "offer-pressure-high"
	SettingOfferPulseLow    Setting = "offer-pulse-low"
	SettingOfferPulseSevere Setting = "offer-pulse-severe"
	SettingOfferPulseTop    Setting = "offer-pulse-high"
	SettingOfferSigns       Setting = "offer-signs"

	SettingOfferHeight         Setting = "offer-height" // whether the limit for the saturation sinks with the height
	SettingOfferPressureSevere Setting = "offer-pressure-severe"
	SettingOfferPulsePress     Setting = "offer-pulse-press" // of a child
	SettingOfferChild          Setting = "offer-child"       // who is younger is one
	SettingOfferFresh          Setting = "offer-fresh"

	SettingClinicName Setting = "clinic-name"
	SettingListFile   Setting = "list-file"
	SettingDrugFile   Setting = "drug-file"
)

// SettingList is the list of every [Setting].
var SettingList = list("setting",
	SettingAltitude,
	SettingBarometer,
	SettingDropsPerMl,
	SettingGivingSet,
	SettingVitalsEvery,
	SettingLateAfter,
	SettingDueSound,
	SettingDueBuzz,
	SettingFastingSet,
	SettingOfferSpO2,
	SettingOfferSpO2Fall,
	SettingOfferFall,
	SettingOfferSpinal,
	SettingOfferSound,
	SettingOfferSpO2Severe,
	SettingOfferPressureLow,
	SettingOfferPressureTop,
	SettingOfferPulseLow,
	SettingOfferPulseSevere,
	SettingOfferPulseTop,
	SettingOfferSigns,
	SettingOfferHeight,
	SettingOfferPressureSevere,
	SettingOfferPulsePress,
	SettingOfferChild,
	SettingOfferFresh,
	SettingClinicName,
	SettingListFile,
	SettingDrugFile,
	SettingStop,
)
