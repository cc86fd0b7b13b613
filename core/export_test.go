package core

// Reads is how often the store was read.
func (c *Companion) Reads() int64 { return c.store.Reads() }
