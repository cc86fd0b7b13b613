package term

// Codes that dose rules are made of.

// Condition is what a patient has, takes or is in, as far as dose rules ask for it. Pregnancy, age and allergies have fields of their own.
type Condition string

// The codes of [Condition].
const (
	ConditionFrail                 Condition = "frail"
	ConditionGravelyIll            Condition = "gravely-ill"
	ConditionShock                 Condition = "shock"
	ConditionHypovolaemia          Condition = "hypovolaemia"
	ConditionSepsis                Condition = "sepsis"
	ConditionFever                 Condition = "fever"
	ConditionWasted                Condition = "wasted"
	ConditionThirdTrimester        Condition = "third-trimester"
	ConditionInLabour              Condition = "in-labour"
	ConditionBreastFeeding         Condition = "breast-feeding"
	ConditionPreEclampsia          Condition = "pre-eclampsia"
	ConditionSecondChild           Condition = "second-child"
	ConditionAirwayObstruction     Condition = "airway-obstruction"
	ConditionAsthma                Condition = "asthma"
	ConditionChronicLung           Condition = "chronic-lung"
	ConditionSleepApnoea           Condition = "sleep-apnoea"
	ConditionRecentCold            Condition = "recent-cold"
	ConditionHypertension          Condition = "hypertension"
	ConditionCoronary              Condition = "coronary"
	ConditionHeartFailure          Condition = "heart-failure"
	ConditionHeartBlock            Condition = "heart-block"
	ConditionMitralStenosis        Condition = "mitral-stenosis"
	ConditionFastPulse             Condition = "fast-pulse"
	ConditionSlowPulse             Condition = "slow-pulse"
	ConditionLongQt                Condition = "long-qt"
	ConditionHeadInjury            Condition = "head-injury"
	ConditionRaisedIcp             Condition = "raised-icp"
	ConditionRaisedIop             Condition = "raised-iop"
	ConditionEpilepsy              Condition = "epilepsy"
	ConditionPsychosis             Condition = "psychosis"
	ConditionParkinson             Condition = "parkinson"
	ConditionMyasthenia            Condition = "myasthenia"
	ConditionMyopathy              Condition = "myopathy"
	ConditionDenervation           Condition = "denervation"
	ConditionBurn                  Condition = "burn"
	ConditionCrush                 Condition = "crush"
	ConditionHighPotassium         Condition = "high-potassium"
	ConditionMalignantHyperthermia Condition = "malignant-hyperthermia"
	ConditionLowCholinesterase     Condition = "low-cholinesterase"
	ConditionPorphyria             Condition = "porphyria"
	ConditionKidneyFailure         Condition = "kidney-failure"
	ConditionLiverFailure          Condition = "liver-failure"
	ConditionHalothaneRecent       Condition = "halothane-recent"
	ConditionHalothaneJaundice     Condition = "halothane-jaundice"
	ConditionDiabetes              Condition = "diabetes"
	ConditionThyrotoxicosis        Condition = "thyrotoxicosis"
	ConditionPhaeochromocytoma     Condition = "phaeochromocytoma"
	ConditionSteroidDependent      Condition = "steroid-dependent"
	ConditionGlaucoma              Condition = "glaucoma"
	ConditionPepticUlcer           Condition = "peptic-ulcer"
	ConditionBowelObstruction      Condition = "bowel-obstruction"
	ConditionUrinaryObstruction    Condition = "urinary-obstruction"
	ConditionFullStomach           Condition = "full-stomach"
	ConditionAnticoagulated        Condition = "anticoagulated"
	ConditionThrombosis            Condition = "thrombosis"
	ConditionInfectedSite          Condition = "infected-site"
	ConditionMaoi                  Condition = "maoi"
	ConditionSsri                  Condition = "ssri"
	ConditionTricyclic             Condition = "tricyclic"
	ConditionDigoxin               Condition = "digoxin"
	ConditionVerapamil             Condition = "verapamil"
	ConditionCyp3a4Inhibitor       Condition = "cyp3a4-inhibitor"
	ConditionLongBenzodiazepine    Condition = "long-benzodiazepine"
	ConditionOpioidDependent       Condition = "opioid-dependent"
	ConditionAlcohol               Condition = "alcohol"
	ConditionInjuryOver3h          Condition = "injury-over-3h"
	ConditionVentilated            Condition = "ventilated"
	ConditionRecovering            Condition = "recovering"
)

// ConditionList is the list of every [Condition].
var ConditionList = list("condition",
	ConditionFrail,
	ConditionGravelyIll,
	ConditionShock,
	ConditionHypovolaemia,
	ConditionSepsis,
	ConditionFever,
	ConditionWasted,
	ConditionThirdTrimester,
	ConditionInLabour,
	ConditionBreastFeeding,
	ConditionPreEclampsia,
	ConditionSecondChild,
	ConditionAirwayObstruction,
	ConditionAsthma,
	ConditionChronicLung,
	ConditionSleepApnoea,
	ConditionRecentCold,
	ConditionHypertension,
	ConditionCoronary,
	ConditionHeartFailure,
	ConditionHeartBlock,
	ConditionMitralStenosis,
	ConditionFastPulse,
	ConditionSlowPulse,
	ConditionLongQt,
	ConditionHeadInjury,
	ConditionRaisedIcp,
	ConditionRaisedIop,
	ConditionEpilepsy,
	ConditionPsychosis,
	ConditionParkinson,
	ConditionMyasthenia,
	ConditionMyopathy,
	ConditionDenervation,
	ConditionBurn,
	ConditionCrush,
	ConditionHighPotassium,
	ConditionMalignantHyperthermia,
	ConditionLowCholinesterase,
	ConditionPorphyria,
	ConditionKidneyFailure,
	ConditionLiverFailure,
	ConditionHalothaneRecent,
	ConditionHalothaneJaundice,
	ConditionDiabetes,
	ConditionThyrotoxicosis,
	ConditionPhaeochromocytoma,
	ConditionSteroidDependent,
	ConditionGlaucoma,
	ConditionPepticUlcer,
	ConditionBowelObstruction,
	ConditionUrinaryObstruction,
	ConditionFullStomach,
	ConditionAnticoagulated,
	ConditionThrombosis,
	ConditionInfectedSite,
	ConditionMaoi,
	ConditionSsri,
	ConditionTricyclic,
	ConditionDigoxin,
	ConditionVerapamil,
	ConditionCyp3a4Inhibitor,
	ConditionLongBenzodiazepine,
	ConditionOpioidDependent,
	ConditionAlcohol,
	ConditionInjuryOver3h,
	ConditionVentilated,
	ConditionRecovering,
)

// DrugClass is a group of drugs that share a colour of label: ISO 26825:2020, with the inhaled agents as a group of our own.
type DrugClass string

// The codes of [DrugClass].
const (
	DrugClassInduction        DrugClass = "induction"
	DrugClassBenzodiazepine   DrugClass = "benzodiazepine"
	DrugClassRelaxant         DrugClass = "relaxant"
	DrugClassRelaxantReversal DrugClass = "relaxant-reversal"
	DrugClassOpioid           DrugClass = "opioid"
	DrugClassOpioidAntagonist DrugClass = "opioid-antagonist"
	DrugClassVasopressor      DrugClass = "vasopressor"
	DrugClassHypotensive      DrugClass = "hypotensive"
	DrugClassLocalAnaesthetic DrugClass = "local-anaesthetic"
	DrugClassAnticholinergic  DrugClass = "anticholinergic"
	DrugClassAntiemetic       DrugClass = "antiemetic"
	DrugClassMiscellaneous    DrugClass = "miscellaneous"
	DrugClassInhaled          DrugClass = "inhaled"
)

// DrugClassList is the list of every [DrugClass].
var DrugClassList = list("drug-class",
	DrugClassInduction,
	DrugClassBenzodiazepine,
	DrugClassRelaxant,
	DrugClassRelaxantReversal,
	DrugClassOpioid,
	DrugClassOpioidAntagonist,
	DrugClassVasopressor,
	DrugClassHypotensive,
	DrugClassLocalAnaesthetic,
	DrugClassAnticholinergic,
	DrugClassAntiemetic,
	DrugClassMiscellaneous,
	DrugClassInhaled,
)

// Purpose is what a drug is given for.
type Purpose string

// The codes of [Purpose].
const (
	PurposePremedication Purpose = "premedication"
	PurposeInduction     Purpose = "induction"
	PurposeMaintenance   Purpose = "maintenance"
	PurposeAnalgesia     Purpose = "analgesia"
	PurposeSedation      Purpose = "sedation"
	PurposeRelaxation    Purpose = "relaxation"
	PurposeReversal      Purpose = "reversal"
	PurposeBlock         Purpose = "block"
	PurposeSpinal        Purpose = "spinal"
	PurposeVasopressor   Purpose = "vasopressor"
	PurposeSlowPulse     Purpose = "slow-pulse"
	PurposeAntiemetic    Purpose = "antiemetic"
	PurposeObstetric     Purpose = "obstetric"
	PurposeBleeding      Purpose = "bleeding"
	PurposeConvulsion    Purpose = "convulsion"
	PurposeBronchospasm  Purpose = "bronchospasm"
	PurposeAnaphylaxis   Purpose = "anaphylaxis"
	PurposeArrest        Purpose = "arrest"
	PurposeLaryngospasm  Purpose = "laryngospasm"
	PurposeLowGlucose    Purpose = "low-glucose"
	PurposePoisoning     Purpose = "poisoning"
	PurposeHyperthermia  Purpose = "hyperthermia"
	PurposeSteroidCover  Purpose = "steroid-cover"
	PurposePotassium     Purpose = "potassium"
	PurposeAcidosis      Purpose = "acidosis"
	PurposeEclampsia     Purpose = "eclampsia"
	PurposeInfection     Purpose = "infection"
	PurposeHighPressure  Purpose = "high-pressure"
)

// PurposeList is the list of every [Purpose].
var PurposeList = list("purpose",
	PurposePremedication,
	PurposeInduction,
	PurposeMaintenance,
	PurposeAnalgesia,
	PurposeSedation,
	PurposeRelaxation,
	PurposeReversal,
	PurposeBlock,
	PurposeSpinal,
	PurposeVasopressor,
	PurposeSlowPulse,
	PurposeAntiemetic,
	PurposeObstetric,
	PurposeBleeding,
	PurposeConvulsion,
	PurposeBronchospasm,
	PurposeAnaphylaxis,
	PurposeArrest,
	PurposeLaryngospasm,
	PurposeLowGlucose,
	PurposePoisoning,
	PurposeHyperthermia,
	PurposeSteroidCover,
	PurposePotassium,
	PurposeAcidosis,
	PurposeEclampsia,
	PurposeInfection,
	PurposeHighPressure,
)

// Hazard is what in the room can set fire to a vapour, or feed the fire.
type Hazard string

// The codes of [Hazard].
const (
	HazardDiathermy  Hazard = "diathermy"
	HazardFlame      Hazard = "flame"
	HazardHighOxygen Hazard = "high-oxygen"
	HazardCharger    Hazard = "charger"
)

// HazardList is the list of every [Hazard].
var HazardList = list("hazard",
	HazardDiathermy,
	HazardFlame,
	HazardHighOxygen,
	HazardCharger,
)
