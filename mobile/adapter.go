package mobile

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"io"
	"mime"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"chinlift/core"
	"chinlift/core/word"
	"chinlift/mobile/keep"
	"chinlift/mobile/ui"
	"chinlift/sync/plain"
)

// maxSend bounds one tap, in bytes: the longest is a note. A picture may be
// larger, as it comes from a camera.
const (
	maxSend    = 1 << 18
	maxPicture = 24 << 20
)

// held is what an App holds: nil before it was opened and after it was closed.
type held struct {
	opened atomic.Pointer[opened]
}

// opened is a companion with its screens, and what runs beside them.
type opened struct {
	companion  *core.Companion
	screens    *ui.UI
	words      *word.Book
	sender     *keep.Sender
	intake     *keep.Intake
	herald     *herald
	connection atomic.Int64 // one of the Connection numbers

	life       sync.Mutex // one of suspend, resume and close at a time
	endSending func()     // nil: nothing is sent now
}

// timing is where the time comes from that the phone's shell does not tell.
type timing struct {
	wall  core.Clock
	after func(time.Duration) <-chan time.Time // what the herald waits for
	locks func(time.Duration) <-chan time.Time // and what was unlocked
}

func open(data, kept string, p Platform) (*App, error) {
	return openBy(timing{core.SystemClock(), time.After, time.After}, data, kept, p)
}

// openBy opens the companion and begins what runs beside it.
func openBy(t timing, data, kept string, p Platform) (app *App, err error) {
	defer func() {
		if recover() != nil {
			app, err = nil, errors.New(word.English().Say("storeerror.internal"))
		}
	}()
	if p == nil || data == "" || kept == "" || keep.Within(data, kept) || keep.Within(kept, data) {
		return nil, errors.New(word.English().Say("storeerror.internal"))
	}
	words, err := word.Open(p.Language())
	if err != nil {
		words = word.English() // the phone's tag is none: not worth refusing to start
	}
	// Where nothing can be kept, the companion opens as a copy would: a log too
	// many does no harm.
	in, _ := keep.Installed(filepath.Join(kept, "installation"))
	companion, err := core.Open(context.Background(), core.Options{
		Dir: data, Installation: in.Token(), Witness: in.Witness(), Clock: clock{p, t.wall}, Words: words, FullSync: p.FullSync(), Safe: p, After: t.locks,
		// Asked beside the calls too, where nobody would catch a panic.
		Free: func() (n int64, ok bool) {
			defer func() { _ = recover() }()
			n = p.FreeBytes()
			return n, n >= 0
		},
		Power: func() (percent int, charging, ok bool) {
			percent, charging = p.Battery(), p.Charging()
			return percent, charging, percent >= 0
		},
	})
	if err != nil {
		return nil, errors.New(core.Explain(words, err).Words)
	}
	screens, err := ui.New(companion)
	if err != nil {
		return nil, errors.Join(err, companion.Close())
	}
	screens.Lend(plain.Maker{Source: companion, Now: func() time.Time { return companion.Now().Wall }})
	// iOS, which is known by its sync, lets no app have a volume key.
	screens.LendDevice(ui.Device{Metered: true, MarkKey: !p.FullSync(), Pictures: true, Alarms: true})
	o := &opened{companion: companion, screens: screens, words: words}
	// Places that cannot be read now are read before each turn: a key store may
	// be closed until somebody unlocks the phone.
	o.sender, _ = keep.NewSender(keep.SenderOptions{
		Companion: companion, Data: data, File: filepath.Join(kept, "places"), Kinds: []string{ui.PlaceWebDAV, ui.PlaceS3},
		Wrap: safely(p.Wrap), Unwrap: safely(p.Unwrap), Hold: o.hold,
	})
	screens.LendSender(o.sender)
	o.intake = keep.NewIntake(companion, data, clock{p, t.wall})
	screens.LendTaker(o.intake)
	o.herald = newHerald(companion, t.after)
	o.run()
	app = &App{}
	app.opened.Store(o)
	return app, nil
}

// run begins what runs beside the pages.
func (o *opened) run() {
	o.endSending = o.sender.Start(context.Background())
	o.herald.wake()
}

// rest ends it, after the Watcher was told a last time.
func (o *opened) rest() {
	if o.endSending == nil {
		return
	}
	o.herald.rest()
	o.intake.Rest()
	o.endSending()
	o.endSending = nil
}

// hold says what keeps this phone from sending by itself.
func (o *opened) hold() string {
	switch o.connection.Load() {
	case ConnectionFree:
		return ""
	case ConnectionMetered:
		if v, err := o.companion.Local(context.Background(), core.LocalMetered); err == nil && v == "yes" {
			return ""
		}
		return keep.HoldMetered
	}
	return keep.HoldUnconnected
}

// safely carries bytes through the phone's key store. What comes back is only
// lent, and nothing for nothing is no answer.
func safely(through func([]byte) ([]byte, error)) func([]byte) ([]byte, error) {
	return func(b []byte) (out []byte, err error) {
		defer func() {
			if recover() != nil {
				out, err = nil, errKeyStore
			}
		}()
		out, err = through(slices.Clone(b))
		if err == nil && len(out) == 0 {
			err = errKeyStore
		}
		return slices.Clone(out), err
	}
}

var errKeyStore = errors.New("the key store gave nothing back")

// clock tells the time of a phone. Go's own idea of the local zone is UTC
// there, and its monotonic clock stops while the phone sleeps.
type clock struct {
	p    Platform
	wall core.Clock
}

func (c clock) Now() core.Reading {
	zone := c.p.Zone()
	wall := c.wall.Now().Wall.In(time.FixedZone(zone, c.p.ZoneOffset()))
	return core.Reading{Wall: wall, Zone: zone, SinceBoot: time.Duration(c.p.SinceBoot()) * time.Millisecond, Boot: c.p.Boot()}
}

// call does something with the open companion. It answers a panic, and a
// companion that is not open, as an error in words.
func (a *App) call(do func(o *opened) error) (err error) {
	words := word.English()
	defer func() {
		if recover() != nil {
			err = errors.New(words.Say("storeerror.internal"))
		}
	}()
	var o *opened
	if a != nil {
		o = a.opened.Load()
	}
	if o == nil {
		return errors.New(words.Say("storeerror.asleep"))
	}
	words = o.words
	err = do(o)
	var said saidError
	if err == nil || errors.As(err, &said) {
		return err
	}
	return errors.New(o.companion.Explain(err).Words)
}

// saidError is a sentence for the user.
type saidError string

func (e saidError) Error() string { return string(e) }

// said gives the problem of an answer as an error.
func said(a ui.Answer) error {
	if a.Problem == nil {
		return nil
	}
	return saidError(a.Problem.Words)
}

func (a *App) get(path string) (page *Page, err error) {
	err = a.call(func(o *opened) error {
		p := o.screens.Get(context.Background(), path)
		page = &Page{Status: p.Status, Type: p.Type, Name: p.Name, Body: p.Body}
		if media, more, err := mime.ParseMediaType(p.Type); err == nil {
			page.Media, page.Charset = media, more["charset"]
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	return page, nil
}

// posted is what goes over a page's message port, to and fro.
type posted struct {
	N      json.Number     `json:"n"`
	Send   json.RawMessage `json:"send,omitempty"`
	Answer json.RawMessage `json:"answer,omitempty"`
}

func (a *App) send(message string) string {
	var m posted
	if len(message) > maxSend+1<<10 || json.Unmarshal([]byte(message), &m) != nil || m.N == "" || len(m.Send) == 0 {
		return ""
	}
	answer := posted{N: m.N}
	// What could not be done at all leaves the answer without one: nobody knows
	// whether the tap was recorded, and the page says so.
	_ = a.call(func(o *opened) error {
		var reply ui.Answer
		s, err := readTap(m.Send)
		if err != nil {
			reply = ui.Answer{Seq: o.companion.Stored(), Problem: &ui.Problem{Status: 400, Code: "not-readable", Words: o.words.Say("shell.not-readable")}}
		} else {
			reply = o.screens.Send(context.Background(), s)
		}
		answer.Answer = bytes.TrimSpace(reply.JSON())
		o.herald.tell(reply.Problem == nil)
		return nil
	})
	// The HTML in the answer is no part of a page yet, and stays as it is.
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	if e.Encode(answer) != nil {
		return ""
	}
	return strings.TrimSpace(b.String())
}

// readTap reads what a control sent. What is not known is refused: it would be
// a value that somebody entered and nobody records.
func readTap(tap []byte) (s ui.Send, err error) {
	if len(tap) > maxSend {
		return s, errors.New("too long")
	}
	d := json.NewDecoder(bytes.NewReader(tap))
	d.DisallowUnknownFields()
	if err := d.Decode(&s); err != nil {
		return s, err
	}
	if _, err := d.Token(); !errors.Is(err, io.EOF) {
		return s, errors.New("more than one tap")
	}
	return s, nil
}

func (a *App) mark(path string) error {
	return a.call(func(o *opened) error {
		table, err := o.companion.OnTable(context.Background())
		if err != nil {
			return err
		}
		here := caseOf(path)
		i := slices.IndexFunc(table, func(cs *core.Case) bool { return cs.ID == here })
		switch {
		case len(table) == 0:
			return saidError(o.words.Say("phone.no-case"))
		case i < 0 && len(table) > 1:
			return saidError(o.words.Say("phone.which-case"))
		case i < 0:
			i = 0
		}
		id := table[i].ID
		reply := o.screens.Send(context.Background(), ui.Send{Path: "/case/" + id + "/table", Case: id, Event: core.NewID(), Fields: map[string][]string{"kind": {"mark"}}})
		o.herald.tell(reply.Problem == nil)
		return said(reply)
	})
}

// caseOf gives the id of the case that a path is of; empty: of none.
func caseOf(path string) string {
	if p := strings.Split(path, "/"); len(p) > 2 && p[1] == "case" {
		return p[2]
	}
	return ""
}

func (a *App) attach(path string, file []byte) error {
	return a.call(func(o *opened) error {
		to, below := strings.CutPrefix(path, AttachPath)
		if !below {
			return saidError(o.words.Say("phone.no-place"))
		}
		if len(file) > maxPicture {
			return saidError(o.words.Say("kit.not-a-picture"))
		}
		// Nothing of a picture is kept: what is stored is drawn anew.
		reply := o.screens.Attach(context.Background(), core.NewID(), to, file)
		o.herald.tell(reply.Problem == nil)
		return said(reply)
	})
}

func (a *App) watch(w Watcher) error {
	return a.call(func(o *opened) error {
		o.herald.watch(w)
		return nil
	})
}

func (a *App) connected(how int) error {
	return a.call(func(o *opened) error {
		if how < ConnectionNone || how > ConnectionFree {
			how = ConnectionNone // a way that is not known may cost
		}
		o.connection.Store(int64(how))
		o.sender.Reconsider()
		return nil
	})
}

func (a *App) suspend() error {
	return a.call(func(o *opened) error {
		o.life.Lock()
		defer o.life.Unlock()
		o.rest()
		return o.companion.Suspend(context.Background())
	})
}

func (a *App) resume() error {
	return a.call(func(o *opened) error {
		o.life.Lock()
		defer o.life.Unlock()
		if a.opened.Load() != o {
			return saidError(o.words.Say("storeerror.asleep")) // closed meanwhile
		}
		if err := o.companion.Resume(context.Background()); err != nil {
			return err
		}
		if o.endSending == nil {
			o.run()
		}
		return nil
	})
}

func (a *App) close() error {
	if a == nil || a.opened.Load() == nil {
		return nil
	}
	return a.call(func(o *opened) error {
		o.life.Lock()
		defer o.life.Unlock()
		if !a.opened.CompareAndSwap(o, nil) {
			return nil // another thread closed it
		}
		o.rest()
		o.herald.end()
		return o.companion.Close()
	})
}
