// Package mobile is the binding by which a phone's shell, in Kotlin or Swift,
// holds the companion. This file is the whole contract; adapter.go keeps it. It
// is made for the tool gomobile, and so keeps to what that can carry across:
// strings, numbers, bytes, errors, and interfaces and structs of those.
//
// A shell is a web view and what stands here. It opens no socket:
//
//   - What the page asks for with GET ends in [App.Get]. Everything else, and
//     every other origin than the shell's own, is refused. Each answer carries
//     [Policy], "X-Content-Type-Options: nosniff" and "Cache-Control: no-store".
//   - When a page has loaded, the shell posts the text "port" with a message
//     port to its window. Each text that comes over the port goes to [App.Send],
//     in the order in which it came, off the main thread; what Send answers goes
//     back over the same port, unchanged. Nothing else is an acknowledgement.
//   - A page with a [Page.Name] is a file: it is handed to the share sheet under
//     that name, and the page that asked for it stays.
//   - A link to a path below [AttachPath] is not opened: the shell lets a
//     picture be taken or picked, and hands it to [App.Attach] with that path.
//     For [TakeInPath] it is a file of any kind, which is picked alone, and goes
//     in pieces.
//
// The order of a life: [Open], [App.Watch], [App.Connected], then pages; each
// time the app leaves the foreground [App.Suspend], each time it comes back
// [App.Resume] and then [Freshen] in the page; [App.Close] at the end, which a
// phone seldom grants: a process that is killed loses nothing that was
// acknowledged. A shell that begins anew, or whose web view died, opens
// [Notice.Path].
//
// What binds the adapter: a panic in a bound call would end the process, so
// that each call recovers and answers an error, a sentence for the user. Bytes
// that come in are only lent for the time of the call, so none are kept. The
// tool gives every type a constructor that makes its zero value, so that each
// zero value survives being called. Every call may come from any thread, and
// several at once.
package mobile

import "chinlift/mobile/ui"

// What both shells put into their web view.
const (
	// Origin is the one that Android's interceptor answers under. No name below
	// "invalid" can ever be given out (RFC 2606, section 2): what the
	// interceptor does not answer, nobody does. iOS lets no app answer https;
	// there it is OriginOfScheme.
	Origin = "https://chinlift.invalid"
	// OriginOfScheme is the same for a scheme handler.
	OriginOfScheme = "chinlift://companion"
	// AttachPath begins the paths of links that ask for a picture, or a file.
	AttachPath = ui.AttachPath
	// TakeInPath is the one of them that asks for a file of any kind.
	TakeInPath = ui.TakeInPath
	// Policy is the Content-Security-Policy of every page.
	Policy = ui.Policy
	// Freshen is the script that has an open page ask what changed: after
	// Resume and Mark. After Attach the page is loaded anew.
	Freshen = `document.dispatchEvent(new Event("visibilitychange"))`
)

// The ways in which a phone is connected.
const (
	ConnectionNone    = 0
	ConnectionMetered = 1 // each byte may cost: only what the user allowed is sent
	ConnectionFree    = 2
)

// Open opens the companion on two folders of the app's own container, which are
// made when they are missing. data holds the record. kept holds what no backup
// and no move to another phone may take along (Android: the folder "no backup";
// iOS: excluded from backup): the token of this installation, the witness by
// which a backup of data that was put back is known for one, and the places to
// send to, sealed by the key store. Neither lies in the other.
func Open(data, kept string, p Platform) (app *App, err error) { return open(data, kept, p) }

// App is the companion in a phone. Open makes one.
type App struct{ held }

// Get answers a page, an asset or a file, by its path with its query.
func (a *App) Get(path string) (*Page, error) { return a.get(path) }

// Send takes a text that came over the page's message port, {"n", "send"}, and
// gives the text to post back, {"n", "answer"}: once the entry is on disk, or
// with the problem for which nothing was recorded. Without an answer in it
// nobody knows; the page says so, and sends the same tap again. Empty: the text
// was none of the page's, and nothing is posted.
func (a *App) Send(message string) string { return a.send(message) }

// Mark records an instant, for a hardware key that was pressed while a page of
// this path was shown: for the case of the page, or for the one open case. The
// error says in words why there is none.
func (a *App) Mark(path string) error { return a.mark(path) }

// Attach keeps a picture, JPEG or PNG of at most 24 MiB, where a link below
// AttachPath asked for one: beside a fault of the equipment, or in a case. What
// a camera writes into it besides, place and time, does not come along. A file
// for TakeInPath goes in pieces of at most 4 MiB, one call after the other, the
// path with ?at=BYTE&of=SIZE behind it: the place of the piece, and the size of
// the whole. Nothing of it is in the record before the page says so.
func (a *App) Attach(path string, file []byte) error { return a.attach(path, file) }

// Watch has w told of changes, at once of how it stands now, and then until
// another one watches; nil ends it.
func (a *App) Watch(w Watcher) error { return a.watch(w) }

// Connected says how the phone is connected, one of the Connection numbers, at
// the start and whenever it changes. Nothing is sent before it was said.
func (a *App) Connected(how int) error { return a.connected(how) }

// Suspend tells the Watcher a last time, stops what is being sent, and closes
// the database until Resume, with all that is acknowledged on disk: a phone
// ends an app that holds a lock while it sleeps. It takes as long as a commit.
func (a *App) Suspend() error { return a.suspend() }

// Resume opens the database again, and asks the Platform anew for clock, boot
// and zone. A phone that slept, was set to another time or carried to another
// zone is told apart by them.
func (a *App) Resume() error { return a.resume() }

// Close finishes what is under way and closes the companion for good. A second
// Close does nothing.
func (a *App) Close() error { return a.close() }

// Page answers Get.
type Page struct {
	Status  int    // as of HTTP: 200, 404, 500 or 503, each with a page to show
	Type    string // media type, with its charset: the header Content-Type
	Media   string // the media type alone
	Charset string // empty: none
	Name    string // of a file for the share sheet; empty: shown as a page
	Body    []byte // read it once: the tool copies it at each reading
}

// Platform is what only the phone has, lent to the companion. The shell
// implements it. Its methods may be called at any time, by any thread, until
// Close returns; each must answer at once. Only Wrap and Unwrap may throw: from
// the others the tool carries no exception, Go would take the empty answer for
// true, and what becomes of the process is not defined.
type Platform interface {
	// SinceBoot is milliseconds since the phone started, sleep included
	// (Android: elapsedRealtime; iOS: mach_continuous_time).
	SinceBoot() int64
	// Boot names the start that SinceBoot counts from (Android: BOOT_COUNT;
	// iOS: kern.bootsessionuuid).
	Boot() string
	// Zone is the IANA name of the time zone of the phone now, such as
	// Africa/Lusaka, and ZoneOffset what is added to UTC there now, in
	// seconds.
	Zone() string
	ZoneOffset() int
	// FreeBytes is the room for the companion's data; negative: not known.
	FreeBytes() int64
	// Battery is its charge in percent; negative: not known. Charging says
	// whether it is being charged.
	Battery() int
	Charging() bool
	// Language is the BCP 47 tag of the language of the phone.
	Language() string
	// FullSync asks for a full sync with each entry: true on iOS, where a
	// plain one does not reach the flash.
	FullSync() bool
	// Wrap seals a secret of at most 64 KiB with a key that never leaves the
	// phone's key store and works without anybody unlocking anything but the
	// phone; Unwrap opens it. An error says that the key store cannot, now or
	// ever.
	Wrap(secret []byte) ([]byte, error)
	Unwrap(wrapped []byte) ([]byte, error)
}

// Watcher hears from the companion. The shell implements it. Its methods are
// called by threads that are not the main one, while taps wait: each posts to
// the main thread and returns at once, and none may throw.
type Watcher interface {
	// Changed says how the phone is to stand now. It replaces what was said
	// before.
	Changed(n *Notice)
	// Due has something told now, in the foreground: by sound and vibration,
	// as the alarm says. The pages themselves make none on a phone.
	Due(alarm *Alarm)
	// Recorded says that a tap is on disk: a short tick of the vibration
	// motor, where the phone's own settings allow one. Where the clinic has
	// nothing vibrate it is not said.
	Recorded()
}

// Notice says how the phone is to stand.
type Notice struct {
	Stored   int64   // lines stored
	ScreenOn bool    // a case is open: the screen stays on, in the foreground
	MarkKey  bool    // a volume key marks an instant instead of changing the volume
	Path     string  // of the page to begin with: the table of the open case that was touched last, else "/"
	alarms   []Alarm // ahead
	due      []Alarm // past
}

// Alarms is how many alarms are to be set. An alarm that was set and is not
// among them is cancelled, and so is its notification.
func (n *Notice) Alarms() int { return n.count() }

// Alarm is one of them, from 0; nil beyond the last.
func (n *Notice) Alarm(i int) *Alarm { return n.at(i) }

// Alarm is something that will be due. The phone tells it by itself, by a
// notification, when it is not in the foreground then; there Due does. It names
// nobody, so that it may stand on a locked screen.
type Alarm struct {
	Name      string // the same while it is the same due
	At        int64  // milliseconds since 1970, by the wall clock
	SinceBoot int64  // the same instant as Platform.SinceBoot: what to set it by
	Words     string // what is due
	Path      string // of the page to open when it is tapped
	Sound     bool   // as the clinic chose
	Buzz      bool
}
