package term

// Codes of waking, and of what is asked the day after.

// Awake is the level of consciousness by one look: alert, newly confused, answers to voice, to pain, not at all (Royal College of Physicians, National Early Warning Score 2, 2017).
type Awake string

// The codes of [Awake].
const (
	AwakeAlert        Awake = "alert"
	AwakeConfused     Awake = "new-confusion"
	AwakeVoice        Awake = "voice"
	AwakePain         Awake = "pain"
	AwakeUnresponsive Awake = "unresponsive"
)

// AwakeList is the list of every [Awake].
var AwakeList = list("awake",
	AwakeAlert,
	AwakeConfused,
	AwakeVoice,
	AwakePain,
	AwakeUnresponsive,
)

// Degree of a thing that only the patient feels: pain, nausea.
type Degree string

// The codes of [Degree].
const (
	DegreeNone     Degree = "none"
	DegreeMild     Degree = "mild"
	DegreeModerate Degree = "moderate"
	DegreeSevere   Degree = "severe"
)

// DegreeList is the list of every [Degree].
var DegreeList = list("degree",
	DegreeNone,
	DegreeMild,
	DegreeModerate,
	DegreeSevere,
)

// WarningBand is what an early warning score asks for: Royal College of Physicians, National Early Warning Score 2, 2017, chart 4.
type WarningBand string

// The codes of [WarningBand].
const (
	WarningBandRoutine   WarningBand = "routine"
	WarningBandLow       WarningBand = "low"
	WarningBandSingle    WarningBand = "single"
	WarningBandUrgent    WarningBand = "urgent"
	WarningBandEmergency WarningBand = "emergency"
)

// WarningBandList is the list of every [WarningBand].
var WarningBandList = list("warning-band",
	WarningBandRoutine,
	WarningBandLow,
	WarningBandSingle,
	WarningBandUrgent,
	WarningBandEmergency,
)

// Grade of a complication by what it took: Dindo, Demartines, Clavien, Annals of Surgery 2004;240:205.
type Grade string

// The codes of [Grade].
const (
	Grade1  Grade = "1"
	Grade2  Grade = "2"
	Grade3a Grade = "3a"
	Grade3b Grade = "3b"
	Grade4a Grade = "4a"
	Grade4b Grade = "4b"
	Grade5  Grade = "5"
)

// GradeList is the list of every [Grade].
var GradeList = list("grade",
	Grade1,
	Grade2,
	Grade3a,
	Grade3b,
	Grade4a,
	Grade4b,
	Grade5,
)
