package term

// Codes of what goes in and comes out.

// Route of a drug.
type Route string

// The codes of [Route].
const (
	RouteIv           Route = "iv"
	RouteIm           Route = "im"
	RouteSc           Route = "sc"
	RouteOral         Route = "oral"
	RouteRectal       Route = "rectal"
	RouteNasal        Route = "nasal"
	RouteSublingual   Route = "sublingual"
	RouteInhaled      Route = "inhaled"
	RouteIntrathecal  Route = "intrathecal"
	RouteEpidural     Route = "epidural"
	RouteInfiltration Route = "infiltration"
	RoutePerineural   Route = "perineural"
	RouteTopical      Route = "topical"
	RouteIntraosseous Route = "intraosseous"
)

// RouteList is the list of every [Route].
var RouteList = list("route",
	RouteIv,
	RouteIm,
	RouteSc,
	RouteOral,
	RouteRectal,
	RouteNasal,
	RouteSublingual,
	RouteInhaled,
	RouteIntrathecal,
	RouteEpidural,
	RouteInfiltration,
	RoutePerineural,
	RouteTopical,
	RouteIntraosseous,
)

// InfusionAct is what happened to an infusion.
type InfusionAct string

// The codes of [InfusionAct].
const (
	InfusionActStarted InfusionAct = "started"
	InfusionActChanged InfusionAct = "changed"
	InfusionActStopped InfusionAct = "stopped"
)

// InfusionActList is the list of every [InfusionAct].
var InfusionActList = list("infusion-act",
	InfusionActStarted,
	InfusionActChanged,
	InfusionActStopped,
)

// Agent is an inhaled anaesthetic.
type Agent string

// The codes of [Agent].
const (
	AgentEther             Agent = "ether"
	AgentHalothane         Agent = "halothane"
	AgentIsoflurane        Agent = "isoflurane"
	AgentSevoflurane       Agent = "sevoflurane"
	AgentEnflurane         Agent = "enflurane"
	AgentDesflurane        Agent = "desflurane"
	AgentNitrousOxide      Agent = "nitrous-oxide"
	AgentMethoxyflurane    Agent = "methoxyflurane"
	AgentTrichloroethylene Agent = "trichloroethylene"
	AgentChloroform        Agent = "chloroform"
)

// AgentList is the list of every [Agent].
var AgentList = list("agent",
	AgentEther,
	AgentHalothane,
	AgentIsoflurane,
	AgentSevoflurane,
	AgentEnflurane,
	AgentDesflurane,
	AgentNitrousOxide,
	AgentMethoxyflurane,
	AgentTrichloroethylene,
	AgentChloroform,
)

// Wetness of the gauze, where drops are not counted.
type Wetness string

// The codes of [Wetness].
const (
	WetnessDry    Wetness = "dry"
	WetnessDamp   Wetness = "damp"
	WetnessWet    Wetness = "wet"
	WetnessSoaked Wetness = "soaked"
)

// WetnessList is the list of every [Wetness].
var WetnessList = list("wetness",
	WetnessDry,
	WetnessDamp,
	WetnessWet,
	WetnessSoaked,
)

// Cover over the mask.
type Cover string

// The codes of [Cover].
const (
	CoverOn  Cover = "on"
	CoverOff Cover = "off"
)

// CoverList is the list of every [Cover].
var CoverList = list("cover",
	CoverOn,
	CoverOff,
)

// BlockKind is a regional technique.
type BlockKind string

// The codes of [BlockKind].
const (
	BlockKindSpinal      BlockKind = "spinal"
	BlockKindEpidural    BlockKind = "epidural"
	BlockKindCaudal      BlockKind = "caudal"
	BlockKindAxillary    BlockKind = "axillary"
	BlockKindFemoral     BlockKind = "femoral"
	BlockKindAnkle       BlockKind = "ankle"
	BlockKindIntercostal BlockKind = "intercostal"
	BlockKindField       BlockKind = "field"
)

// BlockKindList is the list of every [BlockKind].
var BlockKindList = list("block",
	BlockKindSpinal,
	BlockKindEpidural,
	BlockKindCaudal,
	BlockKindAxillary,
	BlockKindFemoral,
	BlockKindAnkle,
	BlockKindIntercostal,
	BlockKindField,
)

// BlockSite is where the needle went.
type BlockSite string

// The codes of [BlockSite].
const (
	BlockSiteL23    BlockSite = "l2-3"
	BlockSiteL34    BlockSite = "l3-4"
	BlockSiteL45    BlockSite = "l4-5"
	BlockSiteL5S1   BlockSite = "l5-s1"
	BlockSiteSacral BlockSite = "sacral"
	BlockSiteLeft   BlockSite = "left"
	BlockSiteRight  BlockSite = "right"
	BlockSiteBoth   BlockSite = "both"
)

// BlockSiteList is the list of every [BlockSite].
var BlockSiteList = list("block-site",
	BlockSiteL23,
	BlockSiteL34,
	BlockSiteL45,
	BlockSiteL5S1,
	BlockSiteSacral,
	BlockSiteLeft,
	BlockSiteRight,
	BlockSiteBoth,
)

// BlockHeight is the highest dermatome that does not feel, or feels no cold.
type BlockHeight string

// The codes of [BlockHeight].
const (
	BlockHeightS5  BlockHeight = "s5"
	BlockHeightS3  BlockHeight = "s3"
	BlockHeightS1  BlockHeight = "s1"
	BlockHeightL3  BlockHeight = "l3"
	BlockHeightL1  BlockHeight = "l1"
	BlockHeightT12 BlockHeight = "t12"
	BlockHeightT10 BlockHeight = "t10"
	BlockHeightT8  BlockHeight = "t8"
	BlockHeightT6  BlockHeight = "t6"
	BlockHeightT4  BlockHeight = "t4"
	BlockHeightT2  BlockHeight = "t2"
	BlockHeightC8  BlockHeight = "c8"
	BlockHeightC6  BlockHeight = "c6"
	BlockHeightC4  BlockHeight = "c4"
)

// BlockHeightList is the list of every [BlockHeight].
var BlockHeightList = list("block-height",
	BlockHeightS5,
	BlockHeightS3,
	BlockHeightS1,
	BlockHeightL3,
	BlockHeightL1,
	BlockHeightT12,
	BlockHeightT10,
	BlockHeightT8,
	BlockHeightT6,
	BlockHeightT4,
	BlockHeightT2,
	BlockHeightC8,
	BlockHeightC6,
	BlockHeightC4,
)

// Motor block of the legs: Bromage, Acta Anaesthesiologica Scandinavica Supplement 1965; 0 moves all, 3 moves no foot (from memory).
type Motor string

// The codes of [Motor].
const (
	Motor0 Motor = "0"
	Motor1 Motor = "1"
	Motor2 Motor = "2"
	Motor3 Motor = "3"
)

// MotorList is the list of every [Motor].
var MotorList = list("motor",
	Motor0,
	Motor1,
	Motor2,
	Motor3,
)

// FluidIn is what goes in.
type FluidIn string

// The codes of [FluidIn].
const (
	FluidInSodiumChloride  FluidIn = "sodium-chloride"
	FluidInCompoundLactate FluidIn = "compound-lactate"
	FluidInGlucose5        FluidIn = "glucose-5"
	FluidInGlucose10       FluidIn = "glucose-10"
	FluidInColloid         FluidIn = "colloid"
	FluidInWholeBlood      FluidIn = "whole-blood"
	FluidInRedCells        FluidIn = "red-cells"
	FluidInPlasma          FluidIn = "plasma"
	FluidInDrink           FluidIn = "drink"
)

// FluidInList is the list of every [FluidIn].
var FluidInList = list("fluid-in",
	FluidInSodiumChloride,
	FluidInCompoundLactate,
	FluidInGlucose5,
	FluidInGlucose10,
	FluidInColloid,
	FluidInWholeBlood,
	FluidInRedCells,
	FluidInPlasma,
	FluidInDrink,
)

// FluidOut is what comes out.
type FluidOut string

// The codes of [FluidOut].
const (
	FluidOutBlood FluidOut = "blood"
	FluidOutUrine FluidOut = "urine"
	FluidOutVomit FluidOut = "vomit"
	FluidOutDrain FluidOut = "drain"
	FluidOutOther FluidOut = "other"
)

// FluidOutList is the list of every [FluidOut].
var FluidOutList = list("fluid-out",
	FluidOutBlood,
	FluidOutUrine,
	FluidOutVomit,
	FluidOutDrain,
	FluidOutOther,
)

// Measured says whether a volume was measured or guessed.
type Measured string

// The codes of [Measured].
const (
	MeasuredMeasured Measured = "measured"
	MeasuredGuessed  Measured = "guessed"
)

// MeasuredList is the list of every [Measured].
var MeasuredList = list("measured",
	MeasuredMeasured,
	MeasuredGuessed,
)
