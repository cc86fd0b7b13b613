// Package mobile is the binding by which a phone's shell, in Kotlin or Swift,
// holds the companion: the contract in this file, and one adapter. It is made
// for the tool gomobile, and so keeps to what that can carry across: strings,
// numbers, bytes, errors, and interfaces of those.
//
// A phone opens no socket. Its WebView asks for pages through an interceptor,
// which ends in [App.Get], and hands over taps through a message port, which
// ends in [App.Send]; the answer goes back the same way and is the
// acknowledgement. That is the contract of package ui, unchanged.
//
// What binds the adapter: a panic in a bound call would end the process, so
// that each call recovers and answers an error. Bytes that come in are only
// lent for the time of the call, so none are kept. The tool gives every type a
// constructor that makes its zero value, so that the zero App must survive
// being called.
package mobile

// Platform is what only the phone has, lent to the companion. The shell
// implements it. Its methods may be called at any time, by any thread, until
// Close returns; each must answer at once, and none may throw: the tool carries
// no exception here. Go would take the empty answer for true, and what becomes
// of the process is not defined.
type Platform interface {
	// Installation is a token that stays with this installation of the app
	// and is left out of every backup and every move to another phone. When
	// it differs from the one in the database, the database is a copy, and
	// its companion opens a log of its own.
	Installation() string
	// SinceBoot is milliseconds since the phone started, sleep included.
	SinceBoot() int64
	// Boot names the start that SinceBoot counts from.
	Boot() string
	// Zone is the IANA name of the time zone of the phone, such as
	// Africa/Lusaka, and ZoneOffset what is added to UTC there now, in
	// seconds.
	Zone() string
	ZoneOffset() int
	// FreeBytes is the room for the companion's data; negative: not known.
	FreeBytes() int64
	// Language is the BCP 47 tag of the language of the phone.
	Language() string
	// FullSync asks for a full sync with each entry: true on iOS, where a
	// plain one does not reach the flash.
	FullSync() bool
}

// Page answers Get.
type Page struct {
	Status int    // as of HTTP: 200, 404, 500 or 503, each with a page to show
	Type   string // media type
	Name   string // of a file for the share sheet; empty: shown as a page
	Body   []byte // read it once: the tool copies it at each reading
}
