package ui

import (
	"context"
	"errors"
	"slices"
	"strings"
	"time"

	"chinlift/core"
)

// Sender carries what is recorded to the places that the clinic named. The
// desk lends one, since this package knows no network and no file system. None
// of its methods waits for a place to answer.
type Sender interface {
	// Kinds lists the kinds of places that this device can send to.
	Kinds() []string
	// Destinations lists the places, in the order in which they were named.
	Destinations(ctx context.Context) ([]Destination, error)
	// Add names a place; what is stored goes there from now on. The same ID
	// once more is the same place. A *PlaceError says what cannot be.
	Add(ctx context.Context, p Place) error
	// Remove ends sending to a place. What arrived there stays there.
	Remove(ctx context.Context, id string) error
	// SendNow has everything tried at once that is not confirmed, also what
	// was refused. Stop ends what is under way until then, or until something
	// new is recorded.
	SendNow()
	Stop()
}

// Kinds of places.
const (
	PlaceFolder = "folder"
	PlaceWebDAV = "webdav"
	PlaceS3     = "s3"
)

// PlaceKinds are all of them.
var PlaceKinds = []string{PlaceFolder, PlaceWebDAV, PlaceS3}

// Place is where to send, as it was typed.
type Place struct {
	ID           string
	Kind         string
	Address      string // the path of a folder, or host/path, with https:// or without
	User, Secret string
	Region       string // of S3; empty: it has none
	Key          string // public key that all is sealed for; empty: it is not
	Private      bool   // with names, record numbers, notes and photographs
}

// Destination is a place and how it stands.
type Destination struct {
	ID, Kind, Address string
	Private, Sealed   bool

	Lines     int // stored here and not confirmed there
	Confirmed int // parcels that were read back and are the same
	Sent      int // parcels that it took, not read back yet
	Refused   int // parcels that are not tried again by themselves

	Why  string    // code of the last failure among what is open; empty: none
	Next time.Time // when that is tried again; zero: with the next turn

	Busy       bool // being sent to just now
	Done, Open int  // parcels of this turn
}

// PlaceError is a place that cannot be one.
type PlaceError struct {
	Code  string // as in outbox.bad-CODE
	Field string
}

func (e *PlaceError) Error() string { return e.Field + ": " + e.Code }

// LendSender gives the screens what sends.
func (u *UI) LendSender(s Sender) { u.sender = s }

// sending is what a screen shows of it.
type sending struct {
	Lent   bool
	Lines  int // the most that are not confirmed at one place
	Busy   bool
	Places []placeShown
}

// placeShown is a destination in words.
type placeShown struct {
	Destination
	Where string // its address, without what all have
	State string
	Why   string
	Again string // clock time of the next try; empty: not later
	Over  bool   // somebody must look
}

// sending asks how it stands.
func (u *UI) sending(ctx context.Context) (s sending, err error) {
	if u.sender == nil {
		return s, nil
	}
	s.Lent = true
	all, err := u.sender.Destinations(ctx)
	if err != nil {
		return s, err
	}
	now := u.c.Now().Wall
	for _, d := range all {
		p := placeShown{Destination: d, Where: strings.TrimPrefix(d.Address, "https://"), Over: d.Refused > 0}
		switch {
		case d.Busy && d.Open > 0:
			p.State = u.words.Say("outbox.busy", "n", d.Done, "m", d.Open)
		case d.Lines == 0 && d.Confirmed == 0 && d.Sent == 0 && d.Refused == 0:
			p.State = u.words.Say("outbox.nothing")
		case d.Lines == 0 && d.Sent == 0 && d.Refused == 0 && d.Why == "":
			p.State = u.words.Say("outbox.confirmed")
		case d.Refused > 0:
			p.State = u.words.Say("outbox.refused")
		case d.Sent > 0:
			p.State = u.words.Say("outbox.sent")
		default:
			p.State = u.words.Say("outbox.waiting")
		}
		if d.Why != "" {
			key := "outbox.why-" + d.Why //word:prefix outbox.why-
			if !u.words.Has(key) {
				key = "outbox.why-device"
			}
			if own := key + "-folder"; d.Kind == PlaceFolder && u.words.Has(own) { // a folder asks for no user and no password
				key = own
			}
			p.Why = u.words.Say(key)
		}
		if d.Next.After(now) && !d.Busy {
			p.Again = d.Next.In(now.Location()).Format("15:04")
		}
		s.Lines, s.Busy = max(s.Lines, d.Lines), s.Busy || d.Busy
		s.Places = append(s.Places, p)
	}
	return s, nil
}

// newPlace is what the page of a place that is to be goes by.
type newPlace struct {
	Kind  string
	Phone bool // the key store seals the password, and a connection may cost
}

// placeView works out the page of a place, or of one that is to be.
func (u *UI) placeView(r *request) (view, error) {
	title := u.words.Say("outbox.title")
	if u.sender == nil || len(r.parts) != 3 {
		return view{}, errNoPage
	}
	switch r.parts[1] {
	case "new":
		if !slices.Contains(u.sender.Kinds(), r.parts[2]) {
			return view{}, errNoPage
		}
		return view{title: title, class: "log", parts: []part{{id: "place", tmpl: "outbox-new", data: newPlace{r.parts[2], u.device.Metered}, still: true}}}, nil
	case "place":
		s, err := u.sending(r.ctx)
		if err != nil {
			return view{}, err
		}
		i := slices.IndexFunc(s.Places, func(p placeShown) bool { return p.ID == r.parts[2] })
		if i < 0 {
			return view{}, errNoPage
		}
		return view{title: title, class: "log", live: true, parts: []part{{id: "place", tmpl: "outbox-place", data: s.Places[i]}}}, nil
	}
	return view{}, errNoPage
}

func (u *UI) actSending(r *request, s Send, do string, one func(string) string) (string, error) {
	switch {
	case u.sender == nil:
	case len(r.parts) == 1 && do == "send-now", len(r.parts) == 3 && r.parts[1] == "place" && do == "send-now":
		u.sender.SendNow()
		return "", nil
	case len(r.parts) == 1 && do == "stop-sending":
		u.sender.Stop()
		return "", nil
	case len(r.parts) == 3 && r.parts[1] == "place" && do == "remove":
		return "log", u.sender.Remove(r.ctx, r.parts[2])
	case len(r.parts) == 3 && r.parts[1] == "new" && slices.Contains(u.sender.Kinds(), r.parts[2]) && do == "add":
		p := Place{ID: s.Event, Kind: r.parts[2], Address: strings.TrimSpace(one("address")), User: strings.TrimSpace(one("user")), Secret: one("secret"),
			Region: strings.TrimSpace(one("region")), Key: strings.TrimSpace(one("key")), Private: one("private") == "yes"}
		switch {
		case p.Address == "":
			return "", &PlaceError{"missing", "address"}
		case one("private") == "":
			return "", &PlaceError{"choose", "private"}
		case p.Kind == PlaceS3 && p.User == "":
			return "", &PlaceError{"missing", "user"}
		case p.Secret == "" && (p.Kind == PlaceS3 || p.User != ""):
			return "", &PlaceError{"missing", "secret"}
		}
		return "log", u.sender.Add(r.ctx, p)
	}
	return "", errNoPage
}

// explain puts an error into words.
func (u *UI) explain(err error) core.Problem {
	var bad *PlaceError
	if errors.As(err, &bad) {
		return core.Problem{Status: 422, Code: bad.Code, Field: bad.Field, Words: u.words.Say("outbox.bad-" + bad.Code)} //word:prefix outbox.bad-
	}
	if p, ok := u.explainTake(err); ok {
		return p
	}
	switch {
	case errors.Is(err, errNotTwice):
		return core.Problem{Status: 422, Code: "not-twice", Field: "pin", Words: u.words.Say("seal.not-twice")}
	case errors.Is(err, errNoPlace):
		return core.Problem{Status: 404, Code: "no-place", Words: u.words.Say("phone.no-place")}
	case errors.Is(err, errAskFor):
		return core.Problem{Status: 422, Code: "ask-for", Field: "grounds", Words: u.words.Say("destroy.ask-for")}
	case errors.Is(err, errAskPIN):
		return core.Problem{Status: 409, Code: "ask-pin", Words: u.words.Say("seal.ask-pin")}
	}
	return u.c.Explain(err)
}
