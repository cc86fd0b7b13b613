package timeline

import (
	"chinlift/core/quantity"
	"chinlift/core/term"
)

// Airway is a device that went in, came out or was tended, and what it took.
type Airway struct {
	Device   term.AirwayDevice `json:"device"`
	Act      term.AirwayAct    `json:"act"`
	Size     quantity.Decimal  `json:"size,omitzero"` // as printed on the device
	Route    term.AirwayRoute  `json:"route,omitempty"`
	Needed   []term.AirwayNeed `json:"needed,omitempty"`
	Attempts int               `json:"attempts,omitempty"`
	View     term.View         `json:"view,omitempty"`
	Cuff     string            `json:"cuff,omitempty"` // yes or no: it has one, blown up
	// ConfirmedBy says how it was made sure that a tube lies in the trachea.
	ConfirmedBy []term.ConfirmedBy `json:"confirmed_by,omitempty"`
}

// Kind is "airway/1".
func (*Airway) Kind() Kind { return "airway/1" }

// Check answers a *FieldError for the first field at fault.
func (a *Airway) Check() error {
	c := check(a)
	code(c, "device", term.AirwayDeviceList, a.Device, true)
	code(c, "act", term.AirwayActList, a.Act, true)
	code(c, "route", term.AirwayRouteList, a.Route, false)
	codes(c, "needed", term.AirwayNeedList, a.Needed)
	c.count("attempts", a.Attempts, 0, 20)
	code(c, "view", term.ViewList, a.View, false)
	yesNo(c, "cuff", a.Cuff)
	codes(c, "confirmed_by", term.ConfirmedByList, a.ConfirmedBy)
	if !a.Size.IsZero() && (a.Size.Sign() < 0 || a.Size.Cmp(quantity.DecimalFromInt(50)) > 0) {
		c.bounds("size", "0", "50")
	}
	return c.err()
}
