package timeline

import (
	"encoding/json"
	"fmt"
	"strings"
	"time"

	"chinlift/core/term"
)

// Envelope is the version of the envelope that this package writes.
const Envelope = 1

// Scope says what an event is about.
type Scope string

// The scopes.
const (
	ScopeCase   Scope = "case"   // one anaesthetic; About is its id
	ScopeClinic Scope = "clinic" // the clinic: people, settings, equipment; About is the person's id, the setting's name or the list's
	ScopeDevice Scope = "device" // this device: its logs; About is the log
)

// Event is the envelope of everything that is stored. Its bytes are kept as
// they were first written; this struct is only a reading of them, so that a
// member that this version does not know is not lost.
type Event struct {
	V        int             `json:"v"`
	ID       string          `json:"id"`   // UUIDv7, minted when the control was drawn
	Log      string          `json:"log"`  // which log, a UUID
	Seq      int64           `json:"seq"`  // gapless number in the log, from 1
	Tick     int64           `json:"tick"` // Lamport: 1 + the highest seen anywhere
	Prev     Hash            `json:"prev"` // hash of the line before in this log; zeros before the first
	Scope    Scope           `json:"scope"`
	About    string          `json:"about"`
	At       Moment          `json:"at"` // when it happened
	Entered  Entered         `json:"entered"`
	Author   string          `json:"author"` // a person's id
	Kind     Kind            `json:"kind"`   // "vitals/1"
	Data     json.RawMessage `json:"data"`
	Amends   string          `json:"amends,omitempty"`   // the root event that this corrects
	Replaces []string        `json:"replaces,omitempty"` // the heads that the author had seen
	Reason   term.Reason     `json:"reason,omitempty"`
	Private  string          `json:"private,omitempty"` // commitment to the private part, where there is one
}

// Entered is when an event was entered, told three ways, so that a clock that
// was set back or forward shows: the wall clock, the time since the device
// was started, and which start that was.
type Entered struct {
	Wall        Moment `json:"wall"`
	SinceBootMS int64  `json:"since_boot_ms"`
	Boot        string `json:"boot"`
}

// Moment is an instant with the offset and the zone name under which it was
// read, in the form of RFC 9557: 2026-03-02T08:41:12+03:00[Etc/GMT-3]. The
// zone name may be absent. The zero Moment means that no time is known.
type Moment struct {
	time.Time
	Zone string
}

const momentLayout = "2006-01-02T15:04:05.999Z07:00"

// MomentOf gives t, to the millisecond, as a Moment in the zone of t's offset.
// Seconds of an offset, which only zones of long ago have, cannot be written
// and fall away; so does a zone name that cannot be written. The instant stays.
func MomentOf(t time.Time, zone string) Moment {
	_, offset := t.Zone()
	offset -= offset % 60
	if !zoneName(zone) {
		zone = ""
	}
	return Moment{t.Truncate(time.Millisecond).In(time.FixedZone("", offset)), zone}
}

// zoneName reports whether a zone name can stand between the brackets.
func zoneName(s string) bool {
	for _, c := range []byte(s) {
		if c <= ' ' || c > '~' || strings.IndexByte(`[]"\`, c) >= 0 {
			return false
		}
	}
	return true
}

// ParseMoment reads the form that String writes.
func ParseMoment(s string) (Moment, error) {
	stamp, zone := s, ""
	if i := strings.IndexByte(s, '['); i >= 0 {
		if !strings.HasSuffix(s, "]") || i+2 >= len(s) {
			return Moment{}, fmt.Errorf("time %q: the zone name is not closed or is empty", s)
		}
		stamp, zone = s[:i], s[i+1:len(s)-1]
		if !zoneName(zone) {
			return Moment{}, fmt.Errorf("time %q: the zone name has a character that it cannot have", s)
		}
	}
	t, err := time.Parse(time.RFC3339Nano, stamp)
	if err != nil {
		return Moment{}, fmt.Errorf("time %q is not in the form 2026-03-02T08:41:12+03:00[Zone/Name]", s)
	}
	if y := t.Year(); y < 1 || y > 9999 || t.Truncate(time.Millisecond).IsZero() {
		return Moment{}, fmt.Errorf("time %q: the year is out of range", s)
	}
	// time.Parse lets through up to 24:60, which would be written as 25:00.
	if _, offset := t.Zone(); offset <= -24*3600 || offset >= 24*3600 {
		return Moment{}, fmt.Errorf("time %q: the offset is a day or more", s)
	}
	return MomentOf(t, zone), nil
}

// String gives the form that is stored.
func (m Moment) String() string {
	if m.Time.IsZero() {
		return ""
	}
	s := m.Format(momentLayout)
	if m.Zone != "" {
		s += "[" + m.Zone + "]"
	}
	return s
}

// IsZero reports that no time is known.
func (m Moment) IsZero() bool { return m.Time.IsZero() }

// Add moves the moment by d, in the same zone.
func (m Moment) Add(d time.Duration) Moment { return Moment{m.Time.Add(d), m.Zone} }

// MarshalText gives the form that is stored.
func (m Moment) MarshalText() ([]byte, error) { return []byte(m.String()), nil }

// UnmarshalText reads the form that is stored; an empty text is the zero Moment.
func (m *Moment) UnmarshalText(b []byte) error {
	if len(b) == 0 {
		*m = Moment{}
		return nil
	}
	v, err := ParseMoment(string(b))
	if err == nil {
		*m = v
	}
	return err
}

// MarshalJSON writes the stored form. Without it the embedded time's own
// form, which has no zone name, would be written.
func (m Moment) MarshalJSON() ([]byte, error) { return json.Marshal(m.String()) }

// UnmarshalJSON reads the stored form.
func (m *Moment) UnmarshalJSON(b []byte) error {
	var s string
	if err := json.Unmarshal(b, &s); err != nil {
		return fmt.Errorf("a time is a string: %w", err)
	}
	return m.UnmarshalText([]byte(s))
}

// Before orders events by entry: by tick, then log, then number in the log.
// It decides which of two corrections stands; clocks have no say in it.
func (e *Event) Before(f *Event) bool {
	if e.Tick != f.Tick {
		return e.Tick < f.Tick
	}
	if e.Log != f.Log {
		return e.Log < f.Log
	}
	if e.Seq != f.Seq {
		return e.Seq < f.Seq
	}
	return e.ID < f.ID
}
