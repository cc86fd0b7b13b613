package term

// Codes of trouble, of reasons and of what is owed.

// Trouble is an event that needs an answer at once.
type Trouble string

// The codes of [Trouble].
const (
	TroubleAirwayObstruction         Trouble = "airway-obstruction"
	TroubleLaryngospasm              Trouble = "laryngospasm"
	TroubleBreathHolding             Trouble = "breath-holding"
	TroubleVomiting                  Trouble = "vomiting"
	TroubleHypoxia                   Trouble = "hypoxia"
	TroubleApnoea                    Trouble = "apnoea"
	TroubleTooLight                  Trouble = "too-light"
	TroubleBronchospasm              Trouble = "bronchospasm"
	TroubleHypotension               Trouble = "hypotension"
	TroubleHypertension              Trouble = "hypertension"
	TroubleBradycardia               Trouble = "bradycardia"
	TroubleWrongRhythm               Trouble = "wrong-rhythm"
	TroubleHighSpinal                Trouble = "high-spinal"
	TroubleFailedBlock               Trouble = "failed-block"
	TroubleAnaphylaxis               Trouble = "anaphylaxis"
	TroubleLocalAnaestheticPoisoning Trouble = "local-anaesthetic-poisoning"
	TroubleMassiveBleeding           Trouble = "massive-bleeding"
	TroubleEclampsia                 Trouble = "eclampsia"
	TroubleMalignantHyperthermia     Trouble = "malignant-hyperthermia"
	TroubleHypoglycaemia             Trouble = "hypoglycaemia"
	TroubleConvulsion                Trouble = "convulsion"
	TroubleSlowWaking                Trouble = "slow-waking"
	TroubleWildWaking                Trouble = "wild-waking"
	TroubleFire                      Trouble = "fire"
	TroubleArrest                    Trouble = "arrest"
	TroubleCannotIntubate            Trouble = "cannot-intubate"
	TroubleOxygenFailure             Trouble = "oxygen-failure"
	TroubleAgentSpilled              Trouble = "agent-spilled"
)

// TroubleList is the list of every [Trouble].
var TroubleList = list("trouble",
	TroubleAirwayObstruction,
	TroubleLaryngospasm,
	TroubleBreathHolding,
	TroubleVomiting,
	TroubleHypoxia,
	TroubleApnoea,
	TroubleTooLight,
	TroubleBronchospasm,
	TroubleHypotension,
	TroubleHypertension,
	TroubleBradycardia,
	TroubleWrongRhythm,
	TroubleHighSpinal,
	TroubleFailedBlock,
	TroubleAnaphylaxis,
	TroubleLocalAnaestheticPoisoning,
	TroubleMassiveBleeding,
	TroubleEclampsia,
	TroubleMalignantHyperthermia,
	TroubleHypoglycaemia,
	TroubleConvulsion,
	TroubleSlowWaking,
	TroubleWildWaking,
	TroubleFire,
	TroubleArrest,
	TroubleCannotIntubate,
	TroubleOxygenFailure,
	TroubleAgentSpilled,
)

// TroubleAct is where an answer to trouble stands.
type TroubleAct string

// The codes of [TroubleAct].
const (
	TroubleActBegun    TroubleAct = "begun"
	TroubleActStep     TroubleAct = "step"
	TroubleActOver     TroubleAct = "over"
	TroubleActHelper   TroubleAct = "helper"   // from here on a helper records
	TroubleActProvider TroubleAct = "provider" // from here on the provider records again
)

// TroubleActList is the list of every [TroubleAct].
var TroubleActList = list("trouble-act",
	TroubleActBegun,
	TroubleActStep,
	TroubleActOver,
	TroubleActHelper,
	TroubleActProvider,
)

// MarkLabel names an instant that was marked without a word.
type MarkLabel string

// The codes of [MarkLabel].
const (
	MarkLabelMoved          MarkLabel = "moved"
	MarkLabelCoughed        MarkLabel = "coughed"
	MarkLabelBled           MarkLabel = "bled"
	MarkLabelAirwayLost     MarkLabel = "airway-lost"
	MarkLabelAirwayBack     MarkLabel = "airway-back"
	MarkLabelDrugGiven      MarkLabel = "drug-given"
	MarkLabelSurgeonBegan   MarkLabel = "surgeon-began"
	MarkLabelSurgeonStopped MarkLabel = "surgeon-stopped"
	MarkLabelWoke           MarkLabel = "woke"
	MarkLabelOther          MarkLabel = "other"
)

// MarkLabelList is the list of every [MarkLabel].
var MarkLabelList = list("mark-label",
	MarkLabelMoved,
	MarkLabelCoughed,
	MarkLabelBled,
	MarkLabelAirwayLost,
	MarkLabelAirwayBack,
	MarkLabelDrugGiven,
	MarkLabelSurgeonBegan,
	MarkLabelSurgeonStopped,
	MarkLabelWoke,
	MarkLabelOther,
)

// Monitor is a way of watching that a standard asks for.
type Monitor string

// The codes of [Monitor].
const (
	MonitorOximeter    Monitor = "oximeter"
	MonitorPressure    Monitor = "pressure"
	MonitorCapnograph  Monitor = "capnograph"
	MonitorThermometer Monitor = "thermometer"
	MonitorStethoscope Monitor = "stethoscope"
	MonitorEcg         Monitor = "ecg"
	MonitorOxygen      Monitor = "oxygen-analyser"
	MonitorAgent       Monitor = "agent-analyser"
	MonitorNerve       Monitor = "nerve-stimulator"
	MonitorArtery      Monitor = "arterial-line"
)

// MonitorList is the list of every [Monitor].
var MonitorList = list("monitor",
	MonitorOximeter,
	MonitorPressure,
	MonitorCapnograph,
	MonitorThermometer,
	MonitorStethoscope,
	MonitorEcg,
	MonitorOxygen,
	MonitorAgent,
	MonitorNerve,
	MonitorArtery,
)

// Because is why something was not done.
type Because string

// The codes of [Because].
const (
	BecauseNotHere   Because = "not-here"
	BecauseBroken    Because = "broken"
	BecauseNoPower   Because = "no-power"
	BecauseNoTime    Because = "no-time"
	BecauseRefused   Because = "refused"
	BecauseNotNeeded Because = "not-needed"
)

// BecauseList is the list of every [Because].
var BecauseList = list("because",
	BecauseNotHere,
	BecauseBroken,
	BecauseNoPower,
	BecauseNoTime,
	BecauseRefused,
	BecauseNotNeeded,
)

// Owed is what a reason is owed for.
type Owed string

// The codes of [Owed].
const (
	OwedOverLimit           Owed = "over-limit"
	OwedStopPassed          Owed = "stop-passed"
	OwedStartedWithoutCheck Owed = "started-without-check"
	OwedNotMonitored        Owed = "not-monitored"
	OwedLeftEarly           Owed = "left-early"
	OwedSecondCase          Owed = "second-case"
	OwedLateEntry           Owed = "late-entry"
	OwedCorrection          Owed = "correction"
)

// OwedList is the list of every [Owed].
var OwedList = list("owed",
	OwedOverLimit,
	OwedStopPassed,
	OwedStartedWithoutCheck,
	OwedNotMonitored,
	OwedLeftEarly,
	OwedSecondCase,
	OwedLateEntry,
	OwedCorrection,
)

// OwedAct says whether a reason fell due or was given.
type OwedAct string

// The codes of [OwedAct].
const (
	OwedActOwed  OwedAct = "owed"
	OwedActGiven OwedAct = "given"
)

// OwedActList is the list of every [OwedAct].
var OwedActList = list("owed-act",
	OwedActOwed,
	OwedActGiven,
)

// Reason of a correction.
type Reason string

// The codes of [Reason].
const (
	ReasonUndone          Reason = "undone"
	ReasonRedone          Reason = "redone"
	ReasonMistyped        Reason = "mistyped"
	ReasonWrongPatient    Reason = "wrong-patient"
	ReasonWrongTime       Reason = "wrong-time"
	ReasonTappedByMistake Reason = "tapped-by-mistake"
	ReasonEnteredTwice    Reason = "entered-twice"
	ReasonLearnedLater    Reason = "learned-later"
	ReasonNamedLater      Reason = "named-later"
)

// ReasonList is the list of every [Reason].
var ReasonList = list("reason",
	ReasonUndone,
	ReasonRedone,
	ReasonMistyped,
	ReasonWrongPatient,
	ReasonWrongTime,
	ReasonTappedByMistake,
	ReasonEnteredTwice,
	ReasonLearnedLater,
	ReasonNamedLater,
)

// Grounds on which identity was destroyed.
type Grounds string

// The codes of [Grounds].
const (
	GroundsPatientAsked   Grounds = "patient-asked"
	GroundsLaw            Grounds = "law"
	GroundsEnteredInError Grounds = "entered-in-error"
)

// GroundsList is the list of every [Grounds].
var GroundsList = list("grounds",
	GroundsPatientAsked,
	GroundsLaw,
	GroundsEnteredInError,
)

// AskedBy is who asked for identity to be destroyed, by their part and not by
// name: this stays.
type AskedBy string

// The codes of [AskedBy].
const (
	AskedByPatient   AskedBy = "patient"
	AskedByGuardian  AskedBy = "guardian"
	AskedByRelative  AskedBy = "relative"
	AskedByAuthority AskedBy = "authority"
	AskedByClinic    AskedBy = "clinic"
)

// AskedByList is the list of every [AskedBy].
var AskedByList = list("asked-by",
	AskedByPatient,
	AskedByGuardian,
	AskedByRelative,
	AskedByAuthority,
	AskedByClinic,
)

// LogCause is why a log was opened.
type LogCause string

// The codes of [LogCause].
const (
	LogCauseNew      LogCause = "new"
	LogCauseRestored LogCause = "restored"
	LogCauseCopied   LogCause = "copied"
)

// LogCauseList is the list of every [LogCause].
var LogCauseList = list("log-cause",
	LogCauseNew,
	LogCauseRestored,
	LogCauseCopied,
)
