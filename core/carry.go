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

// Meet says what a merge of lines from elsewhere would do, and changes nothing.
func (c *Companion) Meet(ctx context.Context, lines []*timeline.Line) (store.Met, error) {
	return c.store.Meet(ctx, lines)
}

// Last gives the last line of the log that the folder holds; see store.Store.Last.
func (c *Companion) Last() LogHead { return c.store.Last() }

// Succeed has the log of a device that wrote nothing yet cite a lost device's
// head; see store.Store.Succeed.
func (c *Companion) Succeed(ctx context.Context, old LogHead) (bool, error) {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.store.Succeed(ctx, old)
}
