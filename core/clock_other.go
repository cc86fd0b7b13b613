//go:build !linux

package core

import (
	"time"

	"github.com/google/uuid"
)

// Where the time since boot cannot be had, the start of the process stands in
// for it: a clock that is set while the companion runs still shows.
var processID = uuid.NewString()

func sinceBoot() (time.Duration, string) { return sinceProcessStart(), processID }
