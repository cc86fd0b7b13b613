package term

// Codes of the visit before the start and of the pauses.

// Fasting is what the fast of a patient comes to at the planned start.
type Fasting string

// The codes of [Fasting].
const (
	FastingLongEnough  Fasting = "long-enough"
	FastingWait        Fasting = "wait"
	FastingNotFasted   Fasting = "treat-as-not-fasted"
	FastingPrecautions Fasting = "aspiration-precautions"
	FastingNotAsked    Fasting = "not-asked"
)

// FastingList is the list of every [Fasting].
var FastingList = list("fasting",
	FastingLongEnough,
	FastingWait,
	FastingNotFasted,
	FastingPrecautions,
	FastingNotAsked,
)

// SlowStomach is what slows the emptying of a stomach and is no [Condition].
type SlowStomach string

// The codes of [SlowStomach].
const (
	SlowStomachInjury  SlowStomach = "injury"
	SlowStomachOpioid  SlowStomach = "opioid"
	SlowStomachReflux  SlowStomach = "reflux"
	SlowStomachObesity SlowStomach = "obesity"
)

// SlowStomachList is the list of every [SlowStomach].
var SlowStomachList = list("slow-stomach",
	SlowStomachInjury,
	SlowStomachOpioid,
	SlowStomachReflux,
	SlowStomachObesity,
)

// AirwayTest is a bedside test of the airway.
type AirwayTest string

// The codes of [AirwayTest].
const (
	AirwayTestMallampati   AirwayTest = "mallampati"
	AirwayTestMouth        AirwayTest = "mouth"
	AirwayTestNeck         AirwayTest = "neck"
	AirwayTestThyromental  AirwayTest = "thyromental"
	AirwayTestSternomental AirwayTest = "sternomental"
)

// AirwayTestList is the list of every [AirwayTest].
var AirwayTestList = list("airway-test",
	AirwayTestMallampati,
	AirwayTestMouth,
	AirwayTestNeck,
	AirwayTestThyromental,
	AirwayTestSternomental,
)

// ASAExample is a published example for a class of physical status: American Society of Anesthesiologists, statement of 2014, amended 13 December 2020.
type ASAExample string

// The codes of [ASAExample].
const (
	ASAExampleSmoker            ASAExample = "smoker"
	ASAExampleSocialDrinker     ASAExample = "social-drinker"
	ASAExamplePregnancy         ASAExample = "pregnancy"
	ASAExampleObesity           ASAExample = "obesity"
	ASAExampleDiabetesHeld      ASAExample = "diabetes-held"
	ASAExampleHypertensionHeld  ASAExample = "hypertension-held"
	ASAExampleMildLung          ASAExample = "mild-lung"
	ASAExampleSevereObesity     ASAExample = "severe-obesity"
	ASAExampleDiabetesLoose     ASAExample = "diabetes-loose"
	ASAExampleHypertensionLoose ASAExample = "hypertension-loose"
	ASAExampleChronicLung       ASAExample = "chronic-lung"
	ASAExampleDialysis          ASAExample = "dialysis"
	ASAExampleHeartOrStrokePast ASAExample = "heart-or-stroke-past"
	ASAExampleHeartOrStrokeNow  ASAExample = "heart-or-stroke-recent"
	ASAExampleIschaemia         ASAExample = "ischaemia"
	ASAExampleSepsis            ASAExample = "sepsis"
)

// ASAExampleList is the list of every [ASAExample].
var ASAExampleList = list("asa-example",
	ASAExampleSmoker,
	ASAExampleSocialDrinker,
	ASAExamplePregnancy,
	ASAExampleObesity,
	ASAExampleDiabetesHeld,
	ASAExampleHypertensionHeld,
	ASAExampleMildLung,
	ASAExampleSevereObesity,
	ASAExampleDiabetesLoose,
	ASAExampleHypertensionLoose,
	ASAExampleChronicLung,
	ASAExampleDialysis,
	ASAExampleHeartOrStrokePast,
	ASAExampleHeartOrStrokeNow,
	ASAExampleIschaemia,
	ASAExampleSepsis,
)

// ShockBand is where a shock index lies.
type ShockBand string

// The codes of [ShockBand].
const (
	ShockBandBelow  ShockBand = "below"
	ShockBandUsual  ShockBand = "usual"
	ShockBandRaised ShockBand = "raised"
	ShockBandAction ShockBand = "action"
	ShockBandUrgent ShockBand = "urgent"
)

// ShockBandList is the list of every [ShockBand].
var ShockBandList = list("shock-band",
	ShockBandBelow,
	ShockBandUsual,
	ShockBandRaised,
	ShockBandAction,
	ShockBandUrgent,
)

// PauseAnswer is the answer to one item of a pause of surgical safety.
type PauseAnswer string

// The codes of [PauseAnswer].
const (
	PauseAnswerYes           PauseAnswer = "yes"
	PauseAnswerNo            PauseAnswer = "no"
	PauseAnswerNotApplicable PauseAnswer = "not-applicable"
)

// PauseAnswerList is the list of every [PauseAnswer].
var PauseAnswerList = list("pause-answer",
	PauseAnswerYes,
	PauseAnswerNo,
	PauseAnswerNotApplicable,
)
