package core

import (
	"time"

	"chinlift/core/timeline"
)

// Clock tells the time. There is one, injected; this file is the only place
// that asks the operating system.
type Clock interface {
	Now() Reading
}

// Reading is one look at the clock, told three ways. SinceBoot goes on while
// the device sleeps; Boot names the start of the device that it counts from.
type Reading struct {
	Wall      time.Time // in the zone of the clinic
	Zone      string    // IANA name, where known
	SinceBoot time.Duration
	Boot      string
}

// Moment is the wall clock as it is stored.
func (r Reading) Moment() timeline.Moment { return timeline.MomentOf(r.Wall, r.Zone) }

// Entered is the reading as an event holds it.
func (r Reading) Entered() timeline.Entered {
	return timeline.Entered{Wall: r.Moment(), SinceBootMS: r.SinceBoot.Milliseconds(), Boot: r.Boot}
}

// SystemClock is the clock of this computer. A phone's shell lends its own,
// since time.Local is UTC there.
func SystemClock() Clock { return systemClock{} }

type systemClock struct{}

func (systemClock) Now() Reading {
	now := time.Now()
	zone := time.Local.String()
	if zone == "Local" {
		zone = "" // the name is not known, and "Local" is none
	}
	since, boot := sinceBoot()
	return Reading{Wall: now, Zone: zone, SinceBoot: since, Boot: boot}
}

var processStart = time.Now()

// sinceProcessStart stands in for the time since boot where the operating
// system does not tell it.
func sinceProcessStart() time.Duration { return time.Since(processStart) }
