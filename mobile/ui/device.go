package ui

import "chinlift/core"

// Device says what the device at hand has that a desk has not.
type Device struct {
	Metered  bool // a connection may cost: whether to send over one is asked for
	MarkKey  bool // a key of its own that can mark an instant
	Pictures bool // takes a picture where a link below AttachPath is followed
	Alarms   bool // tells by itself what is due: no page sounds or buzzes
}

// AttachPath begins the paths of links that ask the device for a picture. They
// are no pages: below it stands what the picture is for, attach/kit/LIST/ITEM for
// the last look at an item, attach/case/ID for a case.
const AttachPath = "/attach/"

// LendDevice gives the screens what the device has.
func (u *UI) LendDevice(d Device) { u.device = d }

// settings lists those of this device alone, which a desk does not ask for.
func (d Device) settings() (names []string) {
	if d.Metered {
		names = append(names, core.LocalMetered)
	}
	if d.MarkKey {
		names = append(names, core.LocalMarkKey)
	}
	return names
}
