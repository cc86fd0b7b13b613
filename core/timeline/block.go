package timeline

import (
	"chinlift/core/term"
)

// Block is a regional technique being placed, or its height found later.
type Block struct {
	Block    term.BlockKind   `json:"block"`
	Site     term.BlockSite   `json:"site,omitempty"`
	Attempts int              `json:"attempts,omitempty"`
	Height   term.BlockHeight `json:"height,omitempty"`
	Motor    term.Motor       `json:"motor,omitempty"`
	Needle   term.Gauge       `json:"needle,omitempty"`
	Catheter string           `json:"catheter,omitempty"` // yes or no: one was left in
	FoundBy  term.FoundBy     `json:"found_by,omitempty"`
}

// Kind is "block/1".
func (*Block) Kind() Kind { return "block/1" }

// Check answers a *FieldError for the first field at fault.
func (b *Block) Check() error {
	c := check(b)
	code(c, "block", term.BlockKindList, b.Block, true)
	code(c, "site", term.BlockSiteList, b.Site, false)
	c.count("attempts", b.Attempts, 0, 20)
	code(c, "height", term.BlockHeightList, b.Height, false)
	code(c, "motor", term.MotorList, b.Motor, false)
	code(c, "needle", term.GaugeList, b.Needle, false)
	yesNo(c, "catheter", b.Catheter)
	code(c, "found_by", term.FoundByList, b.FoundBy, false)
	return c.err()
}
