package term

// Codes of the supplies.

// StockWhat is a sort of thing of which there is a supply.
type StockWhat string

// The codes of [StockWhat].
const (
	StockWhatCylinder     StockWhat = "cylinder"
	StockWhatConcentrator StockWhat = "concentrator"
	StockWhatAgent        StockWhat = "agent"
	StockWhatDrug         StockWhat = "drug"
	StockWhatDisposable   StockWhat = "disposable"
)

// StockWhatList is the list of every [StockWhat].
var StockWhatList = list("stock-what",
	StockWhatCylinder,
	StockWhatConcentrator,
	StockWhatAgent,
	StockWhatDrug,
	StockWhatDisposable,
)

// StockAct is what happened to a supply.
type StockAct string

// The codes of [StockAct].
const (
	StockActCounted  StockAct = "counted"
	StockActReceived StockAct = "received"
	StockActGone     StockAct = "gone"
)

// StockActList is the list of every [StockAct].
var StockActList = list("stock-act",
	StockActCounted,
	StockActReceived,
	StockActGone,
)

// FilledBy is who filled a bottle.
type FilledBy string

// The codes of [FilledBy].
const (
	FilledByMaker   FilledBy = "maker"
	FilledBySelf    FilledBy = "self"
	FilledByAnother FilledBy = "another"
)

// FilledByList is the list of every [FilledBy].
var FilledByList = list("filled-by",
	FilledByMaker,
	FilledBySelf,
	FilledByAnother,
)

// Disposable is a thing that is used once. The clinic may count others.
type Disposable string

// The codes of [Disposable].
const (
	DisposableGauze        Disposable = "gauze"
	DisposableCannula      Disposable = "cannula"
	DisposableSyringe      Disposable = "syringe"
	DisposableNeedle       Disposable = "needle"
	DisposableSpinalNeedle Disposable = "spinal-needle"
	DisposableTube         Disposable = "tracheal-tube"
	DisposableAirway       Disposable = "airway"
	DisposableCatheter     Disposable = "suction-catheter"
	DisposableGivingSet    Disposable = "giving-set"
	DisposableFluid        Disposable = "fluid-bag"
	DisposableGloves       Disposable = "gloves"
	DisposableFaceCover    Disposable = "face-cover"
)

// DisposableList is the list of every [Disposable].
var DisposableList = list("disposable",
	DisposableGauze,
	DisposableCannula,
	DisposableSyringe,
	DisposableNeedle,
	DisposableSpinalNeedle,
	DisposableTube,
	DisposableAirway,
	DisposableCatheter,
	DisposableGivingSet,
	DisposableFluid,
	DisposableGloves,
	DisposableFaceCover,
)
