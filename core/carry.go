package core

import (
	"context"

	"chinlift/core/store"
	"chinlift/core/timeline"
)

// Outgoing gives the table of what is to leave this device.
func (c *Companion) Outgoing() store.Outbox { return c.store.Outbox() }

// Blob gives a file that a line names.
func (c *Companion) Blob(h timeline.Hash) ([]byte, error) { return c.store.Blob(h) }

// KeepBlob keeps a file that came from elsewhere under its SHA-256. That a
// line names it is for the line to say.
func (c *Companion) KeepBlob(ctx context.Context, data []byte) (timeline.Hash, error) {
	return c.store.PutBlob(ctx, data)
}
