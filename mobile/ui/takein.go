package ui

import (
	"bytes"
	"context"
	"errors"
	"io"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"

	"chinlift/core"
)

// Taker takes in entries that come back from elsewhere, and makes the backup of
// the whole device. Desk and phone lend one, since this package knows no files.
// A file lies beside the record until it was looked at and somebody said to take
// it in; one at a time.
type Taker interface {
	// Receive keeps a piece of a file, which begins at a byte of so many; at 0
	// a new file begins, in place of the one before. A size below 0 is not
	// known: the piece is the whole. A *TakeError says what cannot be.
	Receive(ctx context.Context, at, size int64, piece io.Reader) error
	// Incoming tells how it stands.
	Incoming() Incoming
	// Look opens the file, and says what taking it in would do. secret is a
	// passphrase or a private key, recovery the recovery key of the clinic
	// whose device it is; both may be empty. It changes nothing.
	Look(ctx context.Context, secret, recovery string) error
	// Take takes in what was looked at.
	Take(ctx context.Context) error
	// Drop forgets the file, and what became of it.
	Drop()
	// BackUp makes a backup of the whole device, sealed with a passphrase or
	// for a public key.
	BackUp(ctx context.Context, passphrase, key string) error
	// Backup gives the one that was made last, and its name.
	Backup() (name string, data []byte, err error)
}

// States of what comes in.
const (
	IncomingNone   = ""
	IncomingPart   = "part" // some pieces are here
	IncomingHere   = "here"
	IncomingBusy   = "busy"
	IncomingLooked = "looked"
	IncomingDone   = "taken"
)

// Incoming is how it stands with what comes in.
type Incoming struct {
	State    string
	Bytes    int64
	Sealed   bool // it asks for a passphrase or a key
	KeyHeld  bool // a key was opened, and opens the next files
	Device   bool // it is a backup of a whole device
	BackedUp int64
	Why      string // code of what went wrong last, as in takein.bad-CODE; empty: nothing

	Found IncomingFound // by the last look
	Taken IncomingTaken // once it was taken in
}

// IncomingFound is what is in the file, and what taking it in would do.
type IncomingFound struct {
	Logs         []IncomingLog
	New, Known   int // lines
	Cases        int // that the lines are about
	NewCases     int // of which nothing is here
	Names        bool
	PrivateAdded int  // lines that are here without their names, which are in the file
	Locked       int  // lines whose names are locked in the backup
	Lacks        int  // photographs and lists that are neither here nor in it
	Whole        bool // every log is in it from its first line on
	Gaps         int  // places where numbers are missing
	Broken       int  // lines that do not fit the chain of their log
	Forks        int  // lines that claim what others claim, here or in the file
	Damaged      int  // lines that cannot be read or were altered
}

// IncomingTaken is what became of it.
type IncomingTaken struct {
	New, Known, Cases, PrivateAdded int

	Aside     int  // lines that claim a number or an id that another claims
	Conflicts int  // entries whose corrections stand against each other
	Waiting   int  // corrections whose entry is not here
	LeftOut   int  // lines that cannot be read or were altered
	Succeeded bool // the log of this device cites the head of the one that was backed up
}

// IncomingLog is what one device wrote, as far as it is in the file.
type IncomingLog struct {
	Name        string // the beginning of its id
	Lines       int
	First, Last time.Time
}

// TakeError is what could not be taken in or backed up.
type TakeError struct {
	Code  string // as in takein.bad-CODE
	Field string
}

func (e *TakeError) Error() string { return e.Field + ": " + e.Code }

// TakeInPath is the path of the link that asks the device for any file, to be
// taken in. A file may be handed over in pieces, in their order: then the path
// goes on with ?at=BYTE&of=SIZE.
const TakeInPath = AttachPath + "take-in"

// LendTaker gives the screens what takes in and backs up.
func (u *UI) LendTaker(t Taker) { u.taker = t }

// takeInShown is what the page shows.
type takeInShown struct {
	Incoming
	Takes, Attach bool // a file can be sent by the page, or picked by the device
	Size          string
	Why           string
	From          []takeInLog
	PIN           bool // this device has one
}

type takeInLog struct {
	Name, Span string
	Lines      int
}

func (u *UI) takeInView(r *request) (view, error) {
	if u.taker == nil || len(r.parts) != 1 {
		return view{}, errNoPage
	}
	st, err := u.c.Sealing(r.ctx)
	if err != nil {
		return view{}, err
	}
	in := u.taker.Incoming()
	d := takeInShown{Incoming: in, Takes: u.takesPhotos, Attach: !u.takesPhotos && u.device.Pictures, Size: size(in.Bytes), PIN: st.On}
	if in.Why != "" {
		d.Why = u.words.Say("takein.bad-" + in.Why) //word:prefix takein.bad-
	}
	zone := u.c.Now().Wall.Location()
	for _, g := range in.Found.Logs {
		from, to := g.First.In(zone).Format(time.DateOnly), g.Last.In(zone).Format(time.DateOnly)
		if from != to {
			from = u.words.Say("takein.span", "from", from, "to", to)
		}
		d.From = append(d.From, takeInLog{g.Name, from, g.Lines})
	}
	if r.path == "/backup" {
		d.Size = size(in.BackedUp)
		return view{title: u.words.Say("takein.backup"), class: "log", live: in.State == IncomingBusy, parts: []part{{id: "backup", tmpl: "backup", data: d, still: in.State != IncomingBusy}}}, nil
	}
	return view{title: u.words.Say("takein.title"), class: "log", live: in.State == IncomingBusy, parts: []part{{id: "take-in", tmpl: "take-in", data: d, still: in.State != IncomingBusy}}}, nil
}

// size tells bytes in the unit in which they are read easily.
func size(n int64) string {
	switch {
	case n < 1000:
		return strconv.FormatInt(n, 10) + " B"
	case n < 1000*1000:
		return strconv.FormatInt((n+500)/1000, 10) + " kB"
	}
	return strconv.FormatInt((n+500*1000)/(1000*1000), 10) + " MB"
}

func (u *UI) actTakeIn(r *request, do string, one func(string) string) (string, error) {
	switch {
	case u.taker == nil || len(r.parts) != 1:
	case r.path == "/take-in" && do == "look":
		return "", u.taker.Look(r.ctx, one("secret"), strings.TrimSpace(one("recovery")))
	case r.path == "/take-in" && do == "take":
		return "", u.taker.Take(r.ctx)
	case r.path == "/take-in" && do == "drop":
		u.taker.Drop()
		return "take-in", nil
	case r.path == "/backup" && do == "back-up":
		pass, key := one("passphrase"), strings.TrimSpace(one("key"))
		switch {
		case pass == "" && key == "":
			return "", &TakeError{"not-sealed", "passphrase"}
		case pass != "" && key != "":
			return "", &TakeError{"one-of-two", "key"}
		case pass != "" && pass != one("again"):
			return "", &TakeError{"not-twice", "again"}
		}
		return "", u.taker.BackUp(r.ctx, pass, key)
	}
	return "", errNoPage
}

// backupFile answers the backup that was made.
func (u *UI) backupFile() (Page, error) {
	if u.taker == nil {
		return Page{}, errNoPage
	}
	name, data, err := u.taker.Backup()
	var bad *TakeError
	if errors.As(err, &bad) {
		return Page{}, errNoPage
	}
	return Page{Status: 200, Type: "application/octet-stream", Body: data, Name: name}, err
}

// Attach takes what the device was asked for by a link below AttachPath, by what
// stands below it: a photograph, as Photo tells, or with take-in a file that is
// to be taken in, or a piece of one.
func (u *UI) Attach(ctx context.Context, event, to string, data []byte) Answer {
	path, query, _ := strings.Cut(to, "?")
	if AttachPath+path != TakeInPath {
		return u.Photo(ctx, event, to, data)
	}
	at, of := int64(0), int64(-1)
	q, err := url.ParseQuery(query)
	if err == nil && query != "" {
		var a, b error
		at, a = strconv.ParseInt(q.Get("at"), 10, 64)
		of, b = strconv.ParseInt(q.Get("of"), 10, 64)
		err = errors.Join(a, b)
	}
	if err != nil {
		return u.answer(errNoPlace)
	}
	return u.receive(ctx, at, of, bytes.NewReader(data))
}

func (u *UI) receive(ctx context.Context, at, of int64, r io.Reader) Answer {
	if u.taker == nil {
		return u.answer(errNoPlace)
	}
	return u.answer(u.taker.Receive(ctx, at, of, r))
}

// answer is that of what no control sent.
func (u *UI) answer(err error) Answer {
	a := Answer{Seq: u.c.Stored()}
	if err != nil {
		e := u.explain(err)
		a.Problem = &Problem{e.Status, e.Code, e.Field, e.Words}
	}
	return a
}

// serveTakeIn takes a file that is to be taken in, as the body of a POST. It is
// written to disk as it comes.
func (u *UI) serveTakeIn(w http.ResponseWriter, r *http.Request) {
	if o := r.Header.Get("Origin"); o != "http://"+r.Host {
		http.Error(w, "a file must come from the companion's own page", http.StatusForbidden)
		return
	}
	a := u.receive(r.Context(), 0, r.ContentLength, r.Body)
	status := http.StatusOK
	if a.Problem != nil {
		status = a.Problem.Status
	}
	w.Header().Set("Content-Type", "application/json; charset=utf-8")
	w.WriteHeader(status)
	_, _ = w.Write(a.JSON()) // the reader went away: the file is here all the same
}

// explainTake puts an error of taking in into words.
func (u *UI) explainTake(err error) (core.Problem, bool) {
	var bad *TakeError
	if !errors.As(err, &bad) {
		return core.Problem{}, false
	}
	status := http.StatusUnprocessableEntity
	if bad.Code == "too-large" {
		status = http.StatusRequestEntityTooLarge
	}
	return core.Problem{Status: status, Code: bad.Code, Field: bad.Field, Words: u.words.Say("takein.bad-" + bad.Code)}, true //word:prefix takein.bad-
}
