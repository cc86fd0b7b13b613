package term

// Codes of what is seen, heard and felt at the head of the table.

// Breathing is the pattern seen and heard.
type Breathing string

// The codes of [Breathing].
const (
	BreathingQuiet         Breathing = "quiet"
	BreathingUneven        Breathing = "uneven"
	BreathingHeld          Breathing = "held"
	BreathingEvenAutomatic Breathing = "even-automatic"
	BreathingShallow       Breathing = "shallow"
	BreathingRibsLate      Breathing = "ribs-late"
	BreathingBellyOnly     Breathing = "belly-only"
	BreathingSeeSaw        Breathing = "see-saw"
	BreathingNoisy         Breathing = "noisy"
	BreathingSilent        Breathing = "silent"
)

// BreathingList is the list of every [Breathing].
var BreathingList = list("breathing",
	BreathingQuiet,
	BreathingUneven,
	BreathingHeld,
	BreathingEvenAutomatic,
	BreathingShallow,
	BreathingRibsLate,
	BreathingBellyOnly,
	BreathingSeeSaw,
	BreathingNoisy,
	BreathingSilent,
)

// Eyes is what the eyeballs do.
type Eyes string

// The codes of [Eyes].
const (
	EyesLooking      Eyes = "looking"
	EyesRoving       Eyes = "roving"
	EyesApart        Eyes = "apart"
	EyesStillCentral Eyes = "still-central"
	EyesOffCentre    Eyes = "off-centre"
)

// EyesList is the list of every [Eyes].
var EyesList = list("eyes",
	EyesLooking,
	EyesRoving,
	EyesApart,
	EyesStillCentral,
	EyesOffCentre,
)

// Pupils is their size and whether light moves them.
type Pupils string

// The codes of [Pupils].
const (
	PupilsSmall     Pupils = "small"
	PupilsMiddle    Pupils = "middle"
	PupilsWide      Pupils = "wide"
	PupilsWideFixed Pupils = "wide-fixed"
	PupilsUneven    Pupils = "uneven"
)

// PupilsList is the list of every [Pupils].
var PupilsList = list("pupils",
	PupilsSmall,
	PupilsMiddle,
	PupilsWide,
	PupilsWideFixed,
	PupilsUneven,
)

// Reflex of lid or cornea.
type Reflex string

// The codes of [Reflex].
const (
	ReflexBrisk Reflex = "brisk"
	ReflexFaint Reflex = "faint"
	ReflexGone  Reflex = "gone"
)

// ReflexList is the list of every [Reflex].
var ReflexList = list("reflex",
	ReflexBrisk,
	ReflexFaint,
	ReflexGone,
)

// Jaw is the tone met by the hand on the chin.
type Jaw string

// The codes of [Jaw].
const (
	JawTight  Jaw = "tight"
	JawEasing Jaw = "easing"
	JawSlack  Jaw = "slack"
)

// JawList is the list of every [Jaw].
var JawList = list("jaw",
	JawTight,
	JawEasing,
	JawSlack,
)

// Chest is how ribs and belly move together.
type Chest string

// The codes of [Chest].
const (
	ChestFull     Chest = "full"
	ChestLate     Chest = "late"
	ChestStill    Chest = "still"
	ChestOpposite Chest = "opposite"
)

// ChestList is the list of every [Chest].
var ChestList = list("chest",
	ChestFull,
	ChestLate,
	ChestStill,
	ChestOpposite,
)

// Secretion in the mouth and throat.
type Secretion string

// The codes of [Secretion].
const (
	SecretionDry  Secretion = "dry"
	SecretionSome Secretion = "some"
	SecretionMuch Secretion = "much"
)

// SecretionList is the list of every [Secretion].
var SecretionList = list("secretion",
	SecretionDry,
	SecretionSome,
	SecretionMuch,
)

// Movement of a patient meant to be still.
type Movement string

// The codes of [Movement].
const (
	MovementNone       Movement = "none"
	MovementSwallowing Movement = "swallowing"
	MovementCoughing   Movement = "coughing"
	MovementRetching   Movement = "retching"
	MovementLimbs      Movement = "limbs"
	MovementStraining  Movement = "straining"
)

// MovementList is the list of every [Movement].
var MovementList = list("movement",
	MovementNone,
	MovementSwallowing,
	MovementCoughing,
	MovementRetching,
	MovementLimbs,
	MovementStraining,
)

// Sweat on the skin.
type Sweat string

// The codes of [Sweat].
const (
	SweatDry   Sweat = "dry"
	SweatDamp  Sweat = "damp"
	SweatBeads Sweat = "beads"
)

// SweatList is the list of every [Sweat].
var SweatList = list("sweat",
	SweatDry,
	SweatDamp,
	SweatBeads,
)

// Tears in the eye.
type Tears string

// The codes of [Tears].
const (
	TearsNone    Tears = "none"
	TearsWet     Tears = "wet"
	TearsRunning Tears = "running"
)

// TearsList is the list of every [Tears].
var TearsList = list("tears",
	TearsNone,
	TearsWet,
	TearsRunning,
)

// Colour of lips and nail beds.
type Colour string

// The codes of [Colour].
const (
	ColourPink    Colour = "pink"
	ColourPale    Colour = "pale"
	ColourDusky   Colour = "dusky"
	ColourBlue    Colour = "blue"
	ColourFlushed Colour = "flushed"
)

// ColourList is the list of every [Colour].
var ColourList = list("colour",
	ColourPink,
	ColourPale,
	ColourDusky,
	ColourBlue,
	ColourFlushed,
)

// Rhythm of the pulse under the finger.
type Rhythm string

// The codes of [Rhythm].
const (
	RhythmRegular   Rhythm = "regular"
	RhythmIrregular Rhythm = "irregular"
)

// RhythmList is the list of every [Rhythm].
var RhythmList = list("rhythm",
	RhythmRegular,
	RhythmIrregular,
)
