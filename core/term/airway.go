package term

// Codes of airway, breathing support and position.

// AirwayDevice is what keeps the airway.
type AirwayDevice string

// The codes of [AirwayDevice].
const (
	AirwayDeviceFaceMask     AirwayDevice = "face-mask"
	AirwayDeviceOralAirway   AirwayDevice = "oral-airway"
	AirwayDeviceNasalAirway  AirwayDevice = "nasal-airway"
	AirwayDeviceSupraglottic AirwayDevice = "supraglottic"
	AirwayDeviceTrachealTube AirwayDevice = "tracheal-tube"
	AirwayDeviceTracheostomy AirwayDevice = "tracheostomy"
	AirwayDeviceNone         AirwayDevice = "none"
)

// AirwayDeviceList is the list of every [AirwayDevice].
var AirwayDeviceList = list("airway-device",
	AirwayDeviceFaceMask,
	AirwayDeviceOralAirway,
	AirwayDeviceNasalAirway,
	AirwayDeviceSupraglottic,
	AirwayDeviceTrachealTube,
	AirwayDeviceTracheostomy,
	AirwayDeviceNone,
)

// AirwayAct says whether a device went in, came out, or was only tended.
type AirwayAct string

// The codes of [AirwayAct].
const (
	AirwayActIn     AirwayAct = "in"
	AirwayActOut    AirwayAct = "out"
	AirwayActTended AirwayAct = "tended"
)

// AirwayActList is the list of every [AirwayAct].
var AirwayActList = list("airway-act",
	AirwayActIn,
	AirwayActOut,
	AirwayActTended,
)

// AirwayRoute is the way a device goes.
type AirwayRoute string

// The codes of [AirwayRoute].
const (
	AirwayRouteMouth        AirwayRoute = "mouth"
	AirwayRouteLeftNostril  AirwayRoute = "left-nostril"
	AirwayRouteRightNostril AirwayRoute = "right-nostril"
	AirwayRouteNeck         AirwayRoute = "neck"
)

// AirwayRouteList is the list of every [AirwayRoute].
var AirwayRouteList = list("airway-route",
	AirwayRouteMouth,
	AirwayRouteLeftNostril,
	AirwayRouteRightNostril,
	AirwayRouteNeck,
)

// AirwayNeed is what was needed to open the airway or to place a device.
type AirwayNeed string

// The codes of [AirwayNeed].
const (
	AirwayNeedHeadTilt   AirwayNeed = "head-tilt"
	AirwayNeedChinLift   AirwayNeed = "chin-lift"
	AirwayNeedJawThrust  AirwayNeed = "jaw-thrust"
	AirwayNeedTwoHands   AirwayNeed = "two-hands"
	AirwayNeedSuction    AirwayNeed = "suction"
	AirwayNeedGag        AirwayNeed = "gag"
	AirwayNeedBougie     AirwayNeed = "bougie"
	AirwayNeedHeadTurned AirwayNeed = "head-turned"
	AirwayNeedSecondTry  AirwayNeed = "second-try"
)

// AirwayNeedList is the list of every [AirwayNeed].
var AirwayNeedList = list("airway-need",
	AirwayNeedHeadTilt,
	AirwayNeedChinLift,
	AirwayNeedJawThrust,
	AirwayNeedTwoHands,
	AirwayNeedSuction,
	AirwayNeedGag,
	AirwayNeedBougie,
	AirwayNeedHeadTurned,
	AirwayNeedSecondTry,
)

// View of the larynx: Cormack and Lehane, Anaesthesia 1984, with the division of Yentis and Lee, Anaesthesia 1998.
type View string

// The codes of [View].
const (
	View1  View = "1"
	View2a View = "2a"
	View2b View = "2b"
	View3  View = "3"
	View4  View = "4"
)

// ViewList is the list of every [View].
var ViewList = list("view",
	View1,
	View2a,
	View2b,
	View3,
	View4,
)

// Support is who does the breathing.
type Support string

// The codes of [Support].
const (
	SupportSpontaneous Support = "spontaneous"
	SupportAssisted    Support = "assisted"
	SupportControlled  Support = "controlled"
	SupportObstructed  Support = "obstructed"
	SupportApnoea      Support = "apnoea"
)

// SupportList is the list of every [Support].
var SupportList = list("support",
	SupportSpontaneous,
	SupportAssisted,
	SupportControlled,
	SupportObstructed,
	SupportApnoea,
)

// Position of the patient.
type Position string

// The codes of [Position].
const (
	PositionSupine    Position = "supine"
	PositionLithotomy Position = "lithotomy"
	PositionLeftSide  Position = "left-side"
	PositionRightSide Position = "right-side"
	PositionProne     Position = "prone"
	PositionHeadDown  Position = "head-down"
	PositionHeadUp    Position = "head-up"
	PositionSitting   Position = "sitting"
	PositionLeftTilt  Position = "left-tilt"
)

// PositionList is the list of every [Position].
var PositionList = list("position",
	PositionSupine,
	PositionLithotomy,
	PositionLeftSide,
	PositionRightSide,
	PositionProne,
	PositionHeadDown,
	PositionHeadUp,
	PositionSitting,
	PositionLeftTilt,
)
