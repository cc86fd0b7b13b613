package keep

import (
	"context"
	"encoding/json"
	"errors"
	"io/fs"
	"maps"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"time"

	"chinlift/core"
	"chinlift/mobile/ui"
	"chinlift/sync/carrier"
	"chinlift/sync/outbox"
	"chinlift/sync/plain"
)

// House choices: how often it is looked whether there is something to send,
// and for how many of these looks in a row recording may put it off.
const (
	lookEvery = 10 * time.Second
	mostLooks = 6
	openLooks = 3 // looks between two turns while something is open
)

// stopWithin is how long the end may wait for what cannot be broken off, such
// as a slow disk (house choice).
const stopWithin = 5 * time.Second

// SenderOptions says what a Sender works with.
type SenderOptions struct {
	Companion *core.Companion
	Data      string   // the data folder, in which no place lies
	File      string   // of the places and their secrets; empty: none can be kept
	Kinds     []string // of places that this device can send to

	// Wrap seals the file and Unwrap opens it; nil: it stands there as it is.
	Wrap, Unwrap func([]byte) ([]byte, error)

	// Hold gives the code of what keeps this device from sending by itself
	// just now, HoldUnconnected or HoldMetered; empty: nothing. May be nil.
	Hold func() string
}

// What keeps a device from sending by itself. Where each byte may cost, it
// still sends when somebody asks for it.
const (
	HoldUnconnected = "unconnected"
	HoldMetered     = "metered"
)

// Sender carries what is recorded to the places that were named, in the
// background, while the companion is open. It writes to the store only in short
// steps, as everybody does, so that no tap waits for a place to answer.
//
// The places and their secrets stand in a file outside the data folder: no
// export and no copy of the data takes them along. It is for this user alone
// (0600); whether it is sealed, the options say.
//
// Each place has an id of its own, by which the table of the outbox goes: a
// place that is named anew is not taken to have what another one had.
type Sender struct {
	o     SenderOptions
	after func() <-chan time.Time // one look later
	kick  chan struct{}

	mu      sync.Mutex
	read    bool // the file was read, or is none
	places  []ui.Place
	open    map[string]carrier.Carrier
	hand    bool               // somebody asked for a try at once
	gone    []string           // places to forget
	stop    context.CancelFunc // ends the turn that is under way; nil: none is
	byHand  bool               // somebody asked for that turn
	stopped bool               // somebody did
	busy    string             // the place that is sent to
	prog    outbox.Progress
	failed  map[string]bool // this device could not do it
	locked  map[string]bool // names that are to go there cannot be read now
}

var _ ui.Sender = (*Sender)(nil)

// keptPlace is a place as it stands in the file.
type keptPlace struct {
	ID      string `json:"id"`
	Kind    string `json:"kind"`
	Address string `json:"address"`
	User    string `json:"user,omitempty"`
	Secret  string `json:"secret,omitempty"`
	Region  string `json:"region,omitempty"`
	Key     string `json:"key,omitempty"`
	Private bool   `json:"private"`
}

// NewSender reads the places. On an error it answers a sender that has none,
// and reads them again before each turn: a key store may be closed until
// somebody unlocks the phone.
func NewSender(o SenderOptions) (*Sender, error) {
	s := &Sender{o: o, kick: make(chan struct{}, 1), open: map[string]carrier.Carrier{}, failed: map[string]bool{}, locked: map[string]bool{},
		after: func() <-chan time.Time { return time.After(lookEvery) }}
	return s, s.load()
}

// load reads the places, if that was not done.
func (s *Sender) load() error {
	if s.read || s.o.File == "" {
		return nil
	}
	text, err := os.ReadFile(s.o.File)
	if err == nil && s.o.Unwrap != nil {
		text, err = s.o.Unwrap(text)
	}
	if err == nil {
		var kept []keptPlace
		err = json.Unmarshal(text, &kept)
		if err == nil {
			for _, p := range kept {
				s.places = append(s.places, ui.Place(p))
			}
		}
	}
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err // the file is left as it is: it may be all there is
	}
	s.read = true
	return nil
}

// keep writes the places, and holds them once they are on disk.
func (s *Sender) keep(places []ui.Place) error {
	if !s.read {
		return &ui.PlaceError{Code: "kept", Field: "address"}
	}
	kept := make([]keptPlace, 0, len(places))
	for _, p := range places {
		kept = append(kept, keptPlace(p))
	}
	text, err := json.MarshalIndent(kept, "", "\t")
	text = append(text, '\n')
	if err == nil && s.o.Wrap != nil {
		text, err = s.o.Wrap(text)
	}
	if err == nil {
		err = os.MkdirAll(filepath.Dir(s.o.File), 0o700)
	}
	if err == nil {
		err = WriteSynced(s.o.File, text)
	}
	if err != nil {
		return &ui.PlaceError{Code: "kept", Field: "address"}
	}
	s.places = places
	return nil
}

// Kinds lists what this device can send to.
func (s *Sender) Kinds() []string { return s.o.Kinds }

// carrierOf makes the carrier of a place, or says what is wrong with it.
func carrierOf(p ui.Place) (c carrier.Carrier, err error) {
	web := carrier.Web{Base: p.Address, Secret: carrier.Secret{User: p.User, Password: p.Secret}}
	switch p.Kind {
	case ui.PlaceFolder:
		return carrier.Folder{Root: p.Address}, nil
	case ui.PlaceWebDAV:
		c, err = carrier.NewWebDAV(web)
	case ui.PlaceS3:
		// The address itself is looked at first, so that what is left is the bucket.
		if _, err = carrier.NewWebDAV(web); err == nil {
			if c, err = carrier.NewS3(web, p.Region); err != nil {
				return nil, &ui.PlaceError{Code: "bucket", Field: "address"}
			}
		}
	default:
		err = errors.New("no such kind")
	}
	switch {
	case errors.Is(err, carrier.ErrNotSafe):
		return nil, &ui.PlaceError{Code: "not-safe", Field: "address"}
	case err != nil:
		return nil, &ui.PlaceError{Code: "address", Field: "address"}
	}
	return c, nil
}

func sealOf(p ui.Place) (plain.Seal, error) {
	if p.Key == "" {
		return plain.Seal{}, nil
	}
	return plain.SealFor(p.Key)
}

// Add names a place.
func (s *Sender) Add(_ context.Context, p ui.Place) error {
	if !slices.Contains(s.o.Kinds, p.Kind) {
		return &ui.PlaceError{Code: "address", Field: "address"}
	}
	if p.Kind == ui.PlaceFolder {
		if !filepath.IsAbs(p.Address) {
			return &ui.PlaceError{Code: "path", Field: "address"}
		}
		p.Address = filepath.Clean(p.Address)
		if info, err := os.Stat(p.Address); err != nil || !info.IsDir() {
			return &ui.PlaceError{Code: "no-folder", Field: "address"}
		}
		if Within(s.o.Data, p.Address) || Within(p.Address, s.o.Data) {
			return &ui.PlaceError{Code: "in-data", Field: "address"}
		}
	}
	if p.Kind != ui.PlaceFolder && !strings.Contains(p.Address, "://") {
		p.Address = "https://" + p.Address
	}
	c, err := carrierOf(p)
	if err != nil {
		return err
	}
	if _, err := sealOf(p); err != nil {
		return &ui.PlaceError{Code: "key", Field: "key"}
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	if err := s.load(); err != nil {
		return &ui.PlaceError{Code: "kept", Field: "address"}
	}
	for _, old := range s.places {
		switch {
		case old.ID == p.ID:
			return nil // a retry
		case old.Kind == p.Kind && old.Address == p.Address:
			return &ui.PlaceError{Code: "twice", Field: "address"}
		}
	}
	if err := s.keep(append(slices.Clone(s.places), p)); err != nil {
		return err
	}
	s.open[p.ID] = c
	s.wake()
	return nil
}

// Remove ends sending to a place. What was cut for it and is not confirmed is
// thrown away; the record is not.
func (s *Sender) Remove(_ context.Context, id string) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	rest := slices.DeleteFunc(slices.Clone(s.places), func(p ui.Place) bool { return p.ID == id })
	if len(rest) == len(s.places) {
		return nil // a retry
	}
	if err := s.keep(rest); err != nil {
		return err
	}
	delete(s.open, id)
	delete(s.failed, id)
	delete(s.locked, id)
	if s.busy == id {
		s.stop()
	}
	// By the next turn, so that it does not come between the steps of this one.
	s.gone = append(s.gone, id)
	s.wake()
	return nil
}

// SendNow has all tried at once.
func (s *Sender) SendNow() {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.hand = true
	s.wake()
}

func (s *Sender) wake() {
	select {
	case s.kick <- struct{}{}:
	default: // it is coming already
	}
}

// Reconsider looks again at what holds the sending: it ends a turn that nobody
// asked for where something does now, and else begins one.
func (s *Sender) Reconsider() {
	held := s.hold() != ""
	s.mu.Lock()
	defer s.mu.Unlock()
	switch {
	case held && s.stop != nil && !s.byHand:
		s.stop()
	case !held:
		s.wake()
	}
}

func (s *Sender) hold() string {
	if s.o.Hold == nil {
		return ""
	}
	return s.o.Hold()
}

// Stop ends what is under way.
func (s *Sender) Stop() {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.stop != nil {
		s.stopped = true
		s.stop()
	}
}

// Destinations tells how it stands.
func (s *Sender) Destinations(ctx context.Context) (all []ui.Destination, err error) {
	s.mu.Lock()
	places, busy, prog := s.places, s.busy, s.prog
	failed, locked := map[string]bool{}, map[string]bool{}
	maps.Copy(failed, s.failed)
	maps.Copy(locked, s.locked)
	s.mu.Unlock()
	hold := s.hold()
	table := s.o.Companion.Outgoing()
	for _, p := range places {
		st, err := table.Standing(ctx, p.ID)
		if err != nil {
			return nil, err
		}
		open, err := table.Open(ctx, p.ID)
		if err != nil {
			return nil, err
		}
		d := ui.Destination{ID: p.ID, Kind: p.Kind, Address: p.Address, Private: p.Private, Sealed: p.Key != "",
			Lines: int(st.Lines), Confirmed: st.Finished, Sent: st.Sent, Refused: st.Refused, Why: st.Why}
		for _, o := range open {
			if at := time.UnixMilli(o.Next); o.Next != 0 && st.Refused == 0 && (d.Next.IsZero() || at.Before(d.Next)) {
				d.Next = at
			}
		}
		switch {
		case failed[p.ID]:
			d.Why = "device"
		case locked[p.ID] && d.Why == "":
			d.Why = "locked"
		}
		if hold != "" && d.Why == "" && d.Lines > 0 && busy != p.ID {
			d.Why = hold
		}
		if busy == p.ID {
			d.Busy, d.Done, d.Open = true, prog.Done, prog.Parcels
		}
		all = append(all, d)
	}
	return all, nil
}

// Start sends in the background. The answer ends it, and waits for what cannot
// be broken off, such as a slow disk, for a while.
func (s *Sender) Start(ctx context.Context) (end func()) {
	ctx, cancel := context.WithCancel(ctx)
	done := make(chan struct{})
	go func() {
		defer close(done)
		s.run(ctx)
	}()
	return func() {
		cancel()
		select {
		case <-done:
		case <-time.After(stopWithin):
		}
	}
}

// run sends until the context ends: at the start, when somebody asks, when
// what is new has come to rest, and now and then while something is open; the
// outbox itself knows when a failure may be tried again.
func (s *Sender) run(ctx context.Context) {
	for ctx.Err() == nil {
		sent := s.o.Companion.Stored()
		pending := s.turn(ctx)
		s.wait(ctx, sent, pending)
	}
}

// wait waits for a reason for another turn. Some lines were stored when the
// last one began.
func (s *Sender) wait(ctx context.Context, sent int64, pending bool) {
	seen, moving := sent, 0
	for looks := 1; ; looks++ {
		select {
		case <-ctx.Done():
			return
		case <-s.kick:
			return
		case <-s.after():
		}
		head := s.o.Companion.Stored()
		if head != sent {
			// While somebody records it waits for a pause, but not for ever.
			if moving++; head == seen || moving >= mostLooks {
				return
			}
		} else if pending && looks%openLooks == 0 {
			return
		}
		seen = head
	}
}

// turn sends to each place after the other, and answers whether something is
// left to be tried by itself.
func (s *Sender) turn(ctx context.Context) (pending bool) {
	// In a phone nobody else would catch it, and the process would end with
	// the record open. The next turn tries again.
	defer func() {
		if recover() != nil {
			s.mu.Lock()
			defer s.mu.Unlock()
			s.stop, s.busy, pending = nil, "", true
		}
	}()
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	hold := s.hold()
	s.mu.Lock()
	bad := s.load() // the next turn tries again
	places, hand, gone := s.places, s.hand, s.gone
	s.hand, s.gone, s.stop, s.byHand, s.stopped = false, nil, cancel, hand, false
	select {
	case <-s.kick: // this turn is what it asked for
	default:
	}
	s.mu.Unlock()
	for _, id := range gone {
		// What was cut is in no record's way; it only takes room until the
		// place would be heard of again.
		if _, err := s.o.Companion.Outgoing().Recut(ctx, id, true); err != nil {
			s.mu.Lock()
			s.gone = append(s.gone, id)
			s.mu.Unlock()
			pending = true
		}
	}
	pending = pending || bad != nil
	if hold != "" && (hold != HoldMetered || !hand) {
		places, pending = nil, true
	}
	for _, p := range places {
		if s.send(ctx, p, hand) {
			pending = true
		}
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	s.stop = nil
	return pending && !s.stopped
}

// send sends to one place, and answers whether something is left.
func (s *Sender) send(ctx context.Context, p ui.Place, hand bool) (pending bool) {
	s.mu.Lock()
	c, here := s.open[p.ID], slices.Contains(s.places, p)
	if here && ctx.Err() == nil {
		s.busy, s.prog = p.ID, outbox.Progress{}
	}
	s.mu.Unlock()
	if !here || ctx.Err() != nil {
		return here
	}
	d := outbox.Destination{Name: p.ID, Carrier: c, Private: p.Private}
	var result outbox.Result
	var err error
	if c == nil {
		d.Carrier, err = carrierOf(p)
	}
	if err == nil {
		d.Seal, err = sealOf(p)
	}
	if err == nil {
		box := outbox.Outbox{Table: s.o.Companion.Outgoing(), Blob: s.o.Companion.Blob, Rand: rand.Float64,
			Now: func() time.Time { return s.o.Companion.Now().Wall },
			Tell: func(p outbox.Progress) {
				s.mu.Lock()
				defer s.mu.Unlock()
				s.prog = p
			}}
		result, err = box.Run(ctx, d, hand)
	}
	standing, bad := s.o.Companion.Outgoing().Standing(context.WithoutCancel(ctx), p.ID)
	s.mu.Lock()
	defer s.mu.Unlock()
	s.busy = ""
	if slices.Contains(s.places, p) {
		s.open[p.ID] = d.Carrier
		s.failed[p.ID] = err != nil && ctx.Err() == nil
		s.locked[p.ID] = result.Locked
	}
	return err != nil || bad != nil || standing.Waiting+standing.Sent > 0 || standing.Lines > 0 && standing.Refused == 0
}
