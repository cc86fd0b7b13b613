package timeline

import (
	"chinlift/core/term"
)

// Access is a way into a vein, an artery or a bone that was made or taken out.
type Access struct {
	Site     term.AccessSite `json:"site"`
	Gauge    term.Gauge      `json:"gauge,omitempty"`
	Attempts int             `json:"attempts,omitempty"`
	Out      bool            `json:"out,omitempty"` // taken out, or no longer in the vein
}

// Kind is "access/1".
func (*Access) Kind() Kind { return "access/1" }

// Check answers a *FieldError for the first field at fault.
func (a *Access) Check() error {
	c := check(a)
	code(c, "site", term.AccessSiteList, a.Site, true)
	code(c, "gauge", term.GaugeList, a.Gauge, false)
	c.count("attempts", a.Attempts, 0, 20)
	return c.err()
}
