package core

import (
	"io"

	"rsc.io/qr"

	"chinlift/core/record"
	"chinlift/core/sealing"
)

// RecoveryPaper writes the recovery key as a page to be printed and put away.
// ErrNotShown once it is not shown any more.
func (c *Companion) RecoveryPaper(w io.Writer, size record.PaperSize) error {
	k := c.RecoveryKey()
	code, err := c.recoveryCode(k)
	if err != nil {
		return err
	}
	s, now := Speaker{c.words}, c.clock.Now()
	page := record.KeyPage{Title: s.Say("seal.paper-title"), Groups: k.Groups(),
		Lines: []string{s.Say("seal.paper-1"), s.Say("seal.paper-2"), s.Say("seal.paper-3")},
		Below: []string{s.Say("seal.paper-4")}, Foot: s.Say("seal.paper-foot", "when", s.Date(now.Moment()))}
	for y := range code.Size {
		row := make([]bool, code.Size)
		for x := range row {
			row[x] = code.Black(x, y)
		}
		page.Squares = append(page.Squares, row)
	}
	return record.WriteKeyPage(w, &page, record.Paper{Size: size, Made: now.Wall})
}

// RecoveryPicture draws the recovery key for a camera, as PNG.
func (c *Companion) RecoveryPicture() ([]byte, error) {
	code, err := c.recoveryCode(c.RecoveryKey())
	if err != nil {
		return nil, err
	}
	return code.PNG(), nil
}

func (c *Companion) recoveryCode(k sealing.Recovery) (*qr.Code, error) {
	if k.IsZero() {
		return nil, ErrNotShown
	}
	return qr.Encode(k.Text(), qr.M)
}

// CheckPIN says whether a PIN may be chosen.
func (c *Companion) CheckPIN(pin string) error { return sealing.CheckPIN(pin) }

// Locked reports that names of old cases cannot be read: nobody set up a PIN,
// which leaves all of them open, or it is unlocked, are the two ways in which
// they can.
func (c *Companion) Locked() bool {
	c.lockWhenDue()
	v, _ := c.store.Vault()
	return v != nil && len(c.store.Identities()) == 0
}
