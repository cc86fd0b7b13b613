package core

// Reads is how often the store was read.
func (c *Companion) Reads() int64 { return c.store.Reads() }

// ForgetLists forgets every version of an equipment list that this process has
// read, as another device has not.
func ForgetLists() { versions.Clear() }

// TileAt gives the window that begins at or before a time.
var TileAt = tileAt
