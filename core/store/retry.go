package store

import (
	"bytes"
	"encoding/json"
	"maps"
	"slices"
	"time"

	"chinlift/core/timeline"
)

// stampSlack is by how much a retry may differ in how long before its entry a
// thing happened: the clock is looked at more than once on the way. Screens
// tell such spans in minutes. House choice, no source.
const stampSlack = 30 * time.Second

// retries tells a retry from another draft that came under the id of a stored
// line, which would be answered as stored and be lost. The answer is a
// *timeline.FieldError for the latter.
//
// A retry has the same content. It has not the same time of entry; nor always
// the same author, who may have handed the device over meanwhile. When it
// happened is told by a person in one of two ways, as a time or as so long
// before the entry (mostly not at all: just now), and a retry repeats the one
// or the other.
func retries(l *timeline.Line, d *timeline.Draft) error {
	if err := d.Check(); err != nil {
		return err
	}
	ev := &l.Event
	at := ev.At.Equal(d.At.Time) ||
		(ev.Entered.Wall.Sub(ev.At.Time)-d.Entered.Wall.Sub(d.At.Time)).Abs() < stampSlack
	// Versions that the author had seen may be looked up when the draft is
	// made; a retry then sees itself.
	replaces := slices.Equal(ev.Replaces, d.Replaces) || slices.Contains(d.Replaces, d.ID)
	data, err := sameData(l, d)
	if err != nil {
		return err
	}
	if ev.Scope == d.Scope && ev.About == d.About && data && samePrivate(l, d) &&
		ev.Amends == d.Amends && replaces && ev.Reason == d.Reason && at {
		return nil
	}
	return &timeline.FieldError{Kind: d.Payload.Kind().Name(), Field: "id", Code: "contradiction", Detail: "event " + ev.ID + " is stored, and says something else"}
}

// sameData compares kind and payload, as this version writes them.
func sameData(l *timeline.Line, d *timeline.Draft) (bool, error) {
	if l.Payload.Kind() != d.Payload.Kind() {
		return false, nil
	}
	var stored any = l.Event.Data
	if l.Event.Kind != d.Payload.Kind() {
		stored = l.Payload // of an older version, raised
	}
	a, err := json.Marshal(stored)
	if err != nil {
		return false, err
	}
	b, err := json.Marshal(d.Payload)
	return bytes.Equal(a, b), err
}

// samePrivate compares the private parts, but for the salt. Of one that was
// destroyed or never came it is only known that there was one.
func samePrivate(l *timeline.Line, d *timeline.Draft) bool {
	if l.P == nil {
		return (l.Event.Private != "") == (len(d.Private) > 0)
	}
	stored := maps.Clone(l.Private)
	delete(stored, timeline.PrivateSalt)
	return maps.Equal(stored, d.Private)
}
