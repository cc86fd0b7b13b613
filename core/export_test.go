package core

import (
	"context"
	"encoding/base64"
	"testing"

	"chinlift/core/sealing"
	"chinlift/core/timeline"
)

// Reads is how often the store was read.
func (c *Companion) Reads() int64 { return c.store.Reads() }

// ForgetLists forgets every version of an equipment list that this process has
// read, as another device has not.
func ForgetLists() { versions.Clear() }

// ForgetUnjudged forgets what was worked out of doses that no rule judged.
func (c *Companion) ForgetUnjudged() {
	c.unjudgedMu.Lock()
	defer c.unjudgedMu.Unlock()
	clear(c.unjudgedKept)
}

// TileAt gives the window that begins at or before a time.
var TileAt = tileAt

// CheapPIN makes a try of a PIN cost next to nothing, until the test ends.
func CheapPIN(t testing.TB) {
	was := pinWork
	pinWork = sealing.Work{Passes: 1, MemoryKiB: 8, Lanes: 1}
	t.Cleanup(func() { pinWork = was })
}

// ClinicKeyFile gives the age file that travels in the record.
func ClinicKeyFile(k *timeline.ClinicKey) ([]byte, error) {
	return base64.StdEncoding.DecodeString(k.Identity)
}

// ForgetFigures leaves what is counted to what is kept on disk.
func (c *Companion) ForgetFigures() { c.forgetFigures() }

// DropFigures throws away whatever is kept of what is counted.
func (c *Companion) DropFigures(ctx context.Context) error {
	c.forgetFigures()
	return c.store.DropFigures(ctx)
}
