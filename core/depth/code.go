package depth

import "chinlift/core/agent"

// Sign is what a look is made of.
type Sign string

// The signs, in the order in which they are shown.
const (
	SignBreathing Sign = "breathing"
	SignEyes      Sign = "eyes"
	SignPupils    Sign = "pupils"
	SignLid       Sign = "lid"
	SignCornea    Sign = "cornea"
	SignJaw       Sign = "jaw"
	SignChest     Sign = "chest"
	SignSecretion Sign = "secretion"
	SignMovement  Sign = "movement"
	SignSweat     Sign = "sweat"
	SignTears     Sign = "tears"
	SignColour    Sign = "colour"
	SignPulse     Sign = "pulse"
	SignPressure  Sign = "pressure"
)

// SignCodes lists the signs.
var SignCodes = []Sign{
	SignBreathing, SignEyes, SignPupils, SignLid, SignCornea, SignJaw, SignChest, SignSecretion,
	SignMovement, SignSweat, SignTears, SignColour, SignPulse, SignPressure,
}

// Stage is a stage or plane of ether, or a level of another agent.
type Stage string

// Guedel's stages and planes of ether.
const (
	StageI    Stage = "i"     // analgesia, until consciousness is lost
	StageII   Stage = "ii"    // excitement, until breathing is automatic
	StageIII1 Stage = "iii-1" // until the eyeballs are still
	StageIII2 Stage = "iii-2" // until the ribs begin to lag
	StageIII3 Stage = "iii-3" // until the ribs are still
	StageIII4 Stage = "iii-4" // until the diaphragm stops
	StageIV   Stage = "iv"    // no breath
)

// The levels of the other agents, which have no published planes.
const (
	LevelAwake  Stage = "awake"
	LevelLight  Stage = "light"
	LevelEnough Stage = "enough"
	LevelDeep   Stage = "deep"
)

// StageCodes lists the stages, then the levels, lightest first.
var StageCodes = []Stage{
	StageI, StageII, StageIII1, StageIII2, StageIII3, StageIII4, StageIV,
	LevelAwake, LevelLight, LevelEnough, LevelDeep,
}

// Lean is which way signs lean where there are no planes.
type Lean string

// The leanings. The empty one is that nothing leans.
const (
	LeanLight Lean = "too-light"
	LeanDeep  Lean = "too-deep"
	LeanBoth  Lean = "both-ways" // some say light and some deep
)

// LeanCodes lists the leanings.
var LeanCodes = []Lean{LeanLight, LeanDeep, LeanBoth}

// Agreement is how a sign stands to the others of the same look.
type Agreement string

// The agreements.
const (
	Agrees      Agreement = "agrees"
	Conflicts   Agreement = "conflicts"
	Alone       Agreement = "alone"        // there is no other to compare it with
	SaysNothing Agreement = "says-nothing" // of depth, for one of the Why codes
)

// AgreementCodes lists the agreements.
var AgreementCodes = []Agreement{Agrees, Conflicts, Alone, SaysNothing}

// Why is why a sign says nothing of depth, or less.
type Why string

// The reasons.
const (
	WhyAnticholinergic Why = "anticholinergic"    // atropine and its like widen the pupil, dry the mouth and quicken the pulse
	WhyOpioid          Why = "opioid"             // opioids narrow the pupil and slow the pulse
	WhyNotThisAgent    Why = "not-this-agent"     // the published table is of ether
	WhyNotOfDepth      Why = "not-of-depth"       // comes of other causes
	WhyDeepOrClosed    Why = "deep-or-obstructed" // chest and belly apart: very deep, or no airway
	WhyClosed          Why = "obstructed"         // an airway that is not free hides the pattern
	WhyAskFirst        Why = "ask-first"          // ventilation, bleeding and drugs come before depth
	WhyOneEye          Why = "one-eye"            // the two eyes differ: head, eye or drop, not depth
	WhyBooksDiffer     Why = "books-differ"       // one table has it light, another surgical
)

// WhyCodes lists the reasons.
var WhyCodes = []Why{
	WhyAnticholinergic, WhyOpioid, WhyNotThisAgent, WhyNotOfDepth, WhyDeepOrClosed, WhyClosed, WhyAskFirst,
	WhyOneEye, WhyBooksDiffer,
}

// Ask is what to look at next, before anything is made of a sign.
type Ask string

// What is asked.
const (
	AskVentilation   Ask = "ventilation"      // is enough breathed: chest, airway, carbon dioxide, oxygen
	AskBleeding      Ask = "bleeding"         // blood lost, and what the belly hides
	AskDrugs         Ask = "drugs"            // what was given that quickens the pulse
	AskLight         Ask = "light"            // only then: too light for what is done
	AskBreathAtMouth Ask = "breath-at-mouth"  // lift the jaw and feel: does air move with each effort
	AskOtherSign     Ask = "another-sign"     // one sign alone is not enough
	AskAirway        Ask = "airway"           // open it
	AskOxygen        Ask = "oxygen"           // give it, and look why
	AskCarbonDioxide Ask = "carbon-dioxide"   // flushed and sweating: what is breathed again
	AskWhyUneven     Ask = "why-uneven-pupil" // head, eye, drops
	AskSuction       Ask = "suction"          // much in the throat
)

// AskCodes lists what is asked.
var AskCodes = []Ask{
	AskVentilation, AskBleeding, AskDrugs, AskLight, AskBreathAtMouth, AskOtherSign, AskAirway, AskOxygen,
	AskCarbonDioxide, AskWhyUneven, AskSuction,
}

// Reason is why no depth is given.
type Reason string

// Where the signs and the model do not apply.
const (
	UnderOneYear Reason = "under-1-year"
	Relaxant     Reason = "relaxant"   // it takes the signs away
	Ketamine     Reason = "ketamine"   // eyes open, tone kept: the planes are of ether
	Mixed        Reason = "mixed"      // more than one anaesthetic acts
	NoAgent      Reason = "no-agent"   // nothing inhaled was recorded
	NoModel      Reason = "no-model"   // too little is known of this agent
	AgeUnknown   Reason = "no-age"     // MAC goes by the age
	WeightAbsent Reason = "no-weight"  // the model goes by the weight
	GasAlone     Reason = "weak-agent" // nitrous oxide alone is no anaesthetic at this pressure
)

// Why an estimate is withdrawn while it stands.
const (
	DeepSign       Reason = "deep-sign"
	ObstructedSign Reason = "obstructed-sign"
	DeepOrClosed   Reason = "deep-or-obstructed"
	HypoxicSign    Reason = "hypoxic-sign"
	LowSaturation  Reason = "low-saturation"
	LowPressure    Reason = "low-pressure"
	NoBreath       Reason = "no-breath"  // apnoea or a closed airway was recorded
	NoSigns        Reason = "no-signs"   // none was recorded yet
	NoVitals       Reason = "no-vitals"  // none were recorded yet
	OldSigns       Reason = "old-signs"  // the last are over five minutes old
	OldVitals      Reason = "old-vitals" // the last are over five minutes old
)

// ReasonCodes lists the reasons.
var ReasonCodes = []Reason{
	UnderOneYear, Relaxant, Ketamine, Mixed, NoAgent, NoModel, AgeUnknown, WeightAbsent, GasAlone,
	DeepSign, ObstructedSign, DeepOrClosed, HypoxicSign, LowSaturation, LowPressure, NoBreath, NoSigns, NoVitals, OldSigns, OldVitals,
}

// Drift is how signs and model have parted. The empty one is that they agree.
type Drift string

// The drifts.
const (
	SignsLighter Drift = "signs-lighter" // than the model: believe the signs
	SignsDeeper  Drift = "signs-deeper"
)

// DriftCodes lists the drifts.
var DriftCodes = []Drift{SignsLighter, SignsDeeper}

// Condition is what a lead time takes for granted.
type Condition string

// The conditions.
const (
	IfSetting   Condition = "setting-held"    // what is given stays as it is said
	IfStopped   Condition = "stopped-now"     // nothing is given from now on
	IfBreathing Condition = "breathes-as-now" // neither held nor obstructed nor helped
	IfSigns     Condition = "signs-confirm"   // only if the signs say so then
	IfFresh     Condition = "fresh-inputs"    // nothing older than five minutes
)

// ConditionCodes lists the conditions.
var ConditionCodes = []Condition{IfSetting, IfStopped, IfBreathing, IfSigns, IfFresh}

// Step is what one may want to be ready for.
type Step string

// The steps.
const (
	StepAirway  Step = "airway"  // an oral airway is borne
	StepSkin    Step = "skin"    // the knife on skin
	StepClosing Step = "closing" // a belly that is opened or closed, without a relaxant
)

// StepCodes lists the steps.
var StepCodes = []Step{StepAirway, StepSkin, StepClosing}

// LeadKind is what a lead time leads to.
type LeadKind string

// The kinds.
const (
	LeadReady   LeadKind = "ready"
	LeadTooDeep LeadKind = "too-deep"
	LeadWaking  LeadKind = "waking"
)

// LeadKindCodes lists the kinds.
var LeadKindCodes = []LeadKind{LeadReady, LeadTooDeep, LeadWaking}

// Watch is what to look at while a technique acts.
type Watch string

// What is watched.
const (
	WatchBreathing    Watch = "breathing"     // after a fast or large dose breathing may stop for a while
	WatchAirway       Watch = "airway"        // reflexes that are kept protect nobody
	WatchSecretion    Watch = "secretion"     // saliva in the throat, larynx that closes
	WatchEmergence    Watch = "emergence"     // dreams, fear; quiet and dark
	WatchRise         Watch = "pressure-rise" // pulse and pressure go up
	WatchFall         Watch = "pressure-fall" // the block takes the tone of the vessels
	WatchSlowPulse    Watch = "slow-pulse"    // from T4 up the heart's own nerves
	WatchHighBlock    Watch = "high-block"    // hands weak, whisper, breath short
	WatchNotSet       Watch = "not-set"       // past its onset, and no height was found
	WatchSpreads      Watch = "still-rising"
	WatchRecedes      Watch = "receding"
	WatchWearsOff     Watch = "wears-off"     // within its last span
	WatchOverdue      Watch = "over-its-time" // lasts longer than published: look, after a spinal for a cord in danger too
	WatchToxicity     Watch = "toxicity"      // the quarter of an hour and more after a large block
	WatchHeightOld    Watch = "height-is-old" // nobody found the height within a quarter of an hour
	WatchAccumulates  Watch = "accumulates"   // more doses wake later
	WatchTotalNear    Watch = "total-near"    // the next dose may go over the total
	WatchTotalReached Watch = "total-reached"
)

// WatchCodes lists what is watched.
var WatchCodes = []Watch{
	WatchBreathing, WatchAirway, WatchSecretion, WatchEmergence, WatchRise, WatchFall, WatchSlowPulse, WatchHighBlock,
	WatchNotSet, WatchSpreads, WatchRecedes, WatchWearsOff, WatchOverdue, WatchToxicity, WatchHeightOld,
	WatchAccumulates, WatchTotalNear, WatchTotalReached,
}

// Said is the answer to a question; empty: it was not asked.
type Said string

// The answers.
const (
	Yes Said = "yes"
	No  Said = "no"
)

// The cautions of this package, beside those of packages agent and uptake.
const (
	NotAMonitor    agent.Caution = "not-a-monitor"     // never a reason to look away
	OneSign        agent.Caution = "one-sign"          // it moves no range by a plane
	EtherAlone     agent.Caution = "ether-alone"       // the table holds for ether alone in one who breathes alone
	NotInTable     agent.Caution = "not-in-table"      // a sign of practice that the table has not
	BreathHelped   agent.Caution = "breath-helped"     // assisted or controlled: the signs of breathing are those of the hand
	Earliest       agent.Caution = "earliest-not-when" // after long ether it takes 20 to 60 minutes, and may take more
	NothingToMove  agent.Caution = "half-may-move"     // being ready is a likelihood, not a promise
	SignsDisagree  agent.Caution = "signs-disagree"
	FollowSigns    agent.Caution = "follow-signs" // signs and model have parted
	RepeatsLonger  agent.Caution = "repeats-act-longer"
	PeopleDiffer   agent.Caution = "people-differ"   // published spans are of groups
	HeightBySense  agent.Caution = "height-by-sense" // cold is lost above touch, touch above movement
	EarlyYears     agent.Caution = "child-quicker"   // a child goes down, and wakes, faster than the model's adult
	ConcentrationX agent.Caution = "without-concentration-effect"
)

// CautionCodes lists the cautions of this package.
var CautionCodes = []agent.Caution{
	NotAMonitor, OneSign, EtherAlone, NotInTable, BreathHelped, Earliest, NothingToMove, SignsDisagree, FollowSigns,
	RepeatsLonger, PeopleDiffer, HeightBySense, EarlyYears, ConcentrationX,
}
