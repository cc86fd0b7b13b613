package core

import (
	"chinlift/core/store"
	"chinlift/core/term"
)

// Witness remembers, where a backup of the data folder does not reach, the
// line that this installation wrote last; see store.Witness.
type Witness = store.Witness

// Safe keeps the secret of this device where no copy of the data folder
// reaches; see store.Safe.
type Safe = store.Safe

// LogHead is that line, as a Witness knows it.
type LogHead = store.Head

// Opens says why the next entry will open a log; empty where the log goes on.
// Restored and copied are worth telling to who opens the companion.
func (c *Companion) Opens() term.LogCause { return c.store.Opens() }
