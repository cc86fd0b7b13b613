package term

// Codes of the case: its phases, technique, steps and end.

// Phase is a step of the anaesthetic that the whole record is divided by.
type Phase string

// The codes of [Phase].
const (
	PhasePremedicated     Phase = "premedicated"
	PhasePatientIn        Phase = "patient-in"
	PhaseAnaesthesiaStart Phase = "anaesthesia-start"
	PhaseUnconscious      Phase = "unconscious"
	PhaseReadyForSurgery  Phase = "ready-for-surgery"
	PhaseKnifeToSkin      Phase = "knife-to-skin"
	PhaseClosing          Phase = "closing"
	PhaseSurgeryEnd       Phase = "surgery-end"
	PhaseAnaesthesiaEnd   Phase = "anaesthesia-end"
	PhaseHandedOver       Phase = "handed-over"
)

// PhaseList is the list of every [Phase].
var PhaseList = list("phase",
	PhasePremedicated,
	PhasePatientIn,
	PhaseAnaesthesiaStart,
	PhaseUnconscious,
	PhaseReadyForSurgery,
	PhaseKnifeToSkin,
	PhaseClosing,
	PhaseSurgeryEnd,
	PhaseAnaesthesiaEnd,
	PhaseHandedOver,
)

// Outcome is how a case ended for the patient, as far as this record goes.
type Outcome string

// The codes of [Outcome].
const (
	OutcomeRecovered   Outcome = "recovered"
	OutcomeTransferred Outcome = "transferred"
	OutcomeAbandoned   Outcome = "abandoned"
	OutcomeDied        Outcome = "died"
)

// OutcomeList is the list of every [Outcome].
var OutcomeList = list("outcome",
	OutcomeRecovered,
	OutcomeTransferred,
	OutcomeAbandoned,
	OutcomeDied,
)

// Technique is a way of giving the anaesthetic.
type Technique string

// The codes of [Technique].
const (
	TechniqueOpenDrop     Technique = "open-drop"
	TechniqueDrawOverMask Technique = "draw-over-mask"
	TechniqueDrawOverTube Technique = "draw-over-tube"
	TechniqueKetamine     Technique = "ketamine"
	TechniqueSpinal       Technique = "spinal"
	TechniqueNerveBlock   Technique = "nerve-block"
	TechniqueInfiltration Technique = "infiltration"
	TechniqueSedation     Technique = "sedation"
)

// TechniqueList is the list of every [Technique].
var TechniqueList = list("technique",
	TechniqueOpenDrop,
	TechniqueDrawOverMask,
	TechniqueDrawOverTube,
	TechniqueKetamine,
	TechniqueSpinal,
	TechniqueNerveBlock,
	TechniqueInfiltration,
	TechniqueSedation,
)

// Urgency is how long the operation can wait.
type Urgency string

// The codes of [Urgency].
const (
	UrgencyElective  Urgency = "elective"
	UrgencyUrgent    Urgency = "urgent"
	UrgencyEmergency Urgency = "emergency"
)

// UrgencyList is the list of every [Urgency].
var UrgencyList = list("urgency",
	UrgencyElective,
	UrgencyUrgent,
	UrgencyEmergency,
)

// Operation is a coarse group of procedures, for counting; the words of the surgeon go into the private part.
type Operation string

// The codes of [Operation].
const (
	OperationHernia     Operation = "hernia"
	OperationAbscess    Operation = "abscess"
	OperationCaesarean  Operation = "caesarean"
	OperationLaparotomy Operation = "laparotomy"
	OperationAppendix   Operation = "appendix"
	OperationCurettage  Operation = "curettage"
	OperationWound      Operation = "wound"
	OperationFracture   Operation = "fracture"
	OperationAmputation Operation = "amputation"
	OperationEye        Operation = "eye"
	OperationTeeth      Operation = "teeth"
	OperationSkinGraft  Operation = "skin-graft"
	OperationOther      Operation = "other"
)

// OperationList is the list of every [Operation].
var OperationList = list("operation",
	OperationHernia,
	OperationAbscess,
	OperationCaesarean,
	OperationLaparotomy,
	OperationAppendix,
	OperationCurettage,
	OperationWound,
	OperationFracture,
	OperationAmputation,
	OperationEye,
	OperationTeeth,
	OperationSkinGraft,
	OperationOther,
)

// Step is a surgical step that changes what the anaesthetic must bear.
type Step string

// The codes of [Step].
const (
	StepSkinPrep        Step = "skin-prep"
	StepKnife           Step = "knife"
	StepPullingViscera  Step = "pulling-viscera"
	StepPeritoneumOpen  Step = "peritoneum-open"
	StepUterusOpen      Step = "uterus-open"
	StepDelivery        Step = "delivery"
	StepPlacentaOut     Step = "placenta-out"
	StepBoneWork        Step = "bone-work"
	StepAbscessOpen     Step = "abscess-open"
	StepPacking         Step = "packing"
	StepTourniquetUp    Step = "tourniquet-up"
	StepTourniquetDown  Step = "tourniquet-down"
	StepBleedingStopped Step = "bleeding-stopped"
	StepClosingDeep     Step = "closing-deep"
	StepClosingSkin     Step = "closing-skin"
	StepDressing        Step = "dressing"
	StepThroatPackIn    Step = "throat-pack-in"
	StepThroatPackOut   Step = "throat-pack-out"
)

// StepList is the list of every [Step].
var StepList = list("step",
	StepSkinPrep,
	StepKnife,
	StepPullingViscera,
	StepPeritoneumOpen,
	StepUterusOpen,
	StepDelivery,
	StepPlacentaOut,
	StepBoneWork,
	StepAbscessOpen,
	StepPacking,
	StepTourniquetUp,
	StepTourniquetDown,
	StepBleedingStopped,
	StepClosingDeep,
	StepClosingSkin,
	StepDressing,
	StepThroatPackIn,
	StepThroatPackOut,
)

// Role is what a person does in a case.
type Role string

// The codes of [Role].
const (
	RolePatient   Role = "patient"
	RoleNewborn   Role = "newborn"
	RoleProvider  Role = "provider"
	RoleAssistant Role = "assistant"
	RoleSurgeon   Role = "surgeon"
	RoleMidwife   Role = "midwife"
	RoleNurse     Role = "nurse"
)

// RoleList is the list of every [Role].
var RoleList = list("role",
	RolePatient,
	RoleNewborn,
	RoleProvider,
	RoleAssistant,
	RoleSurgeon,
	RoleMidwife,
	RoleNurse,
)
