package mobile

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"io"
	"sync/atomic"
	"time"

	"chinlift/core"
	"chinlift/core/word"
	"chinlift/mobile/ui"
	"chinlift/sync/plain"
)

// maxSend bounds one tap, in bytes: the longest is a note.
const maxSend = 1 << 18

// App is the companion in a phone. Open makes one. It may be called by several
// threads.
type App struct {
	open atomic.Pointer[opened] // nil: never opened, or closed
}

// opened is a companion with its screens.
type opened struct {
	companion *core.Companion
	screens   *ui.UI
	words     *word.Book
}

// Open opens the companion on a folder of the app's own container, which is
// made when it is missing. An error is a sentence for the user.
func Open(dir string, p Platform) (app *App, err error) {
	defer func() {
		if recover() != nil {
			app, err = nil, errors.New(word.English().Say("storeerror.internal"))
		}
	}()
	if p == nil {
		return nil, errors.New(word.English().Say("storeerror.internal"))
	}
	words, err := word.Open(p.Language())
	if err != nil {
		words = word.English() // the phone's tag is none: not worth refusing to start
	}
	companion, err := core.Open(context.Background(), core.Options{
		Dir: dir, Installation: p.Installation(), Clock: clock{p}, Words: words, FullSync: p.FullSync(),
		Free: func() (int64, bool) {
			n := p.FreeBytes()
			return n, n >= 0
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
	app = &App{}
	app.open.Store(&opened{companion, screens, words})
	return app, nil
}

// clock tells the time of a phone. Go's own idea of the local zone is UTC
// there, and its monotonic clock stops while the phone sleeps.
type clock struct{ p Platform }

func (c clock) Now() core.Reading {
	zone := c.p.Zone()
	wall := core.SystemClock().Now().Wall.In(time.FixedZone(zone, c.p.ZoneOffset()))
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
		o = a.open.Load()
	}
	if o == nil {
		return errors.New(words.Say("storeerror.asleep"))
	}
	words = o.words
	if err := do(o); err != nil {
		return errors.New(o.companion.Explain(err).Words)
	}
	return nil
}

// Get answers a page or an asset, by its path with its query.
func (a *App) Get(path string) (page *Page, err error) {
	err = a.call(func(o *opened) error {
		p := o.screens.Get(context.Background(), path)
		page = &Page{Status: p.Status, Type: p.Type, Name: p.Name, Body: p.Body}
		return nil
	})
	return page, err
}

// Send records one tap, as the JSON of a ui.Send, and answers the JSON of a
// ui.Answer once it is on disk. What could not be recorded is a problem within
// the answer. An error says that nobody knows whether it was; the same tap may
// be sent again.
func (a *App) Send(tap []byte) (answer []byte, err error) {
	err = a.call(func(o *opened) error {
		var reply ui.Answer
		if s, err := readTap(tap); err != nil {
			reply = ui.Answer{Seq: o.companion.Stored(), Problem: &ui.Problem{Status: 400, Code: "not-readable", Words: o.words.Say("shell.not-readable")}}
		} else {
			reply = o.screens.Send(context.Background(), s)
		}
		answer = reply.JSON()
		return nil
	})
	if err != nil {
		return nil, err
	}
	return answer, nil
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

// Suspend closes the database until Resume. Call it when the app leaves the
// foreground: a phone ends an app that holds a lock while it sleeps.
func (a *App) Suspend() error {
	return a.call(func(o *opened) error { return o.companion.Suspend(context.Background()) })
}

// Resume opens the database again.
func (a *App) Resume() error {
	return a.call(func(o *opened) error { return o.companion.Resume(context.Background()) })
}

// Close finishes what is under way and closes the companion for good. A second
// Close does nothing.
func (a *App) Close() error {
	if a == nil || a.open.Load() == nil {
		return nil
	}
	return a.call(func(o *opened) error {
		if !a.open.CompareAndSwap(o, nil) {
			return nil // another thread closed it
		}
		return o.companion.Close()
	})
}
