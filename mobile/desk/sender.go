package main

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

// sender carries what is recorded to the places that were named, in the
// background, while the companion serves. It writes to the store only in short
// steps, as everybody does, so that no tap waits for a place to answer.
//
// The places and their secrets stand in a file in the user's own folder,
// beside the installation and outside the data folder: no export and no copy
// of the data takes them along. It is for this user alone (0600), and not
// sealed.
//
// Each place has an id of its own, by which the table of the outbox goes: a
// place that is named anew is not taken to have what another one had.
type sender struct {
	companion *core.Companion
	data      string                  // the data folder
	path      string                  // of the file of the places; empty: none can be kept
	after     func() <-chan time.Time // one look later
	kick      chan struct{}

	mu      sync.Mutex
	places  []ui.Place
	open    map[string]carrier.Carrier
	hand    bool               // somebody asked for a try at once
	gone    []string           // places to forget
	stop    context.CancelFunc // ends the turn that is under way; nil: none is
	stopped bool               // somebody did
	busy    string             // the place that is sent to
	prog    outbox.Progress
	failed  map[string]bool // this device could not do it
}

var _ ui.Sender = (*sender)(nil)

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

// newSender reads the places of a data folder.
func newSender(companion *core.Companion, data string) (*sender, error) {
	s := &sender{companion: companion, data: data, kick: make(chan struct{}, 1), open: map[string]carrier.Carrier{}, failed: map[string]bool{},
		after: func() <-chan time.Time { return time.After(lookEvery) }}
	path, err := keptFile(data)
	if err != nil {
		return s, err
	}
	path += "-places"
	text, err := os.ReadFile(path)
	if err == nil {
		var kept []keptPlace
		err = json.Unmarshal(text, &kept)
		for _, p := range kept {
			s.places = append(s.places, ui.Place(p))
		}
	}
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return s, err // the file is left as it is: it may be all there is
	}
	s.path = path
	return s, nil
}

// keep writes the places, and holds them once they are on disk.
func (s *sender) keep(places []ui.Place) error {
	if s.path == "" {
		return &ui.PlaceError{Code: "kept", Field: "address"}
	}
	kept := make([]keptPlace, 0, len(places))
	for _, p := range places {
		kept = append(kept, keptPlace(p))
	}
	text, err := json.MarshalIndent(kept, "", "\t")
	if err == nil {
		err = os.MkdirAll(filepath.Dir(s.path), 0o700)
	}
	if err == nil {
		err = writeSynced(s.path, append(text, '\n'))
	}
	if err != nil {
		return &ui.PlaceError{Code: "kept", Field: "address"}
	}
	s.places = places
	return nil
}

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
func (s *sender) Add(_ context.Context, p ui.Place) error {
	if p.Kind == ui.PlaceFolder {
		if !filepath.IsAbs(p.Address) {
			return &ui.PlaceError{Code: "path", Field: "address"}
		}
		p.Address = filepath.Clean(p.Address)
		if info, err := os.Stat(p.Address); err != nil || !info.IsDir() {
			return &ui.PlaceError{Code: "no-folder", Field: "address"}
		}
		if within(s.data, p.Address) || within(p.Address, s.data) {
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
func (s *sender) Remove(_ context.Context, id string) error {
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
	if s.busy == id {
		s.stop()
	}
	// By the next turn, so that it does not come between the steps of this one.
	s.gone = append(s.gone, id)
	s.wake()
	return nil
}

// SendNow has all tried at once.
func (s *sender) SendNow() {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.hand = true
	s.wake()
}

func (s *sender) wake() {
	select {
	case s.kick <- struct{}{}:
	default: // it is coming already
	}
}

// Stop ends what is under way.
func (s *sender) Stop() {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.stop != nil {
		s.stopped = true
		s.stop()
	}
}

// Destinations tells how it stands.
func (s *sender) Destinations(ctx context.Context) (all []ui.Destination, err error) {
	s.mu.Lock()
	places, busy, prog := s.places, s.busy, s.prog
	failed := map[string]bool{}
	maps.Copy(failed, s.failed)
	s.mu.Unlock()
	table := s.companion.Outgoing()
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
		if failed[p.ID] {
			d.Why = "device"
		}
		if busy == p.ID {
			d.Busy, d.Done, d.Open = true, prog.Done, prog.Parcels
		}
		all = append(all, d)
	}
	return all, nil
}

// start sends in the background. The answer ends it, and waits for what cannot
// be broken off, such as a slow disk, for a while.
func (s *sender) start(ctx context.Context) (end func()) {
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
func (s *sender) run(ctx context.Context) {
	for ctx.Err() == nil {
		sent := s.companion.Stored()
		pending := s.turn(ctx)
		s.wait(ctx, sent, pending)
	}
}

// wait waits for a reason for another turn. Some lines were stored when the
// last one began.
func (s *sender) wait(ctx context.Context, sent int64, pending bool) {
	seen, moving := sent, 0
	for looks := 1; ; looks++ {
		select {
		case <-ctx.Done():
			return
		case <-s.kick:
			return
		case <-s.after():
		}
		head := s.companion.Stored()
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
func (s *sender) turn(ctx context.Context) (pending bool) {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	s.mu.Lock()
	places, hand, gone := s.places, s.hand, s.gone
	s.hand, s.gone, s.stop, s.stopped = false, nil, cancel, false
	select {
	case <-s.kick: // this turn is what it asked for
	default:
	}
	s.mu.Unlock()
	for _, id := range gone {
		// What was cut is in no record's way; it only takes room until the
		// place would be heard of again.
		if _, err := s.companion.Outgoing().Recut(ctx, id, true); err != nil {
			s.mu.Lock()
			s.gone = append(s.gone, id)
			s.mu.Unlock()
			pending = true
		}
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
func (s *sender) send(ctx context.Context, p ui.Place, hand bool) (pending bool) {
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
	var err error
	if c == nil {
		d.Carrier, err = carrierOf(p)
	}
	if err == nil {
		d.Seal, err = sealOf(p)
	}
	if err == nil {
		box := outbox.Outbox{Table: s.companion.Outgoing(), Blob: s.companion.Blob, Rand: rand.Float64,
			Now: func() time.Time { return s.companion.Now().Wall },
			Tell: func(p outbox.Progress) {
				s.mu.Lock()
				defer s.mu.Unlock()
				s.prog = p
			}}
		_, err = box.Run(ctx, d, hand)
	}
	standing, bad := s.companion.Outgoing().Standing(context.WithoutCancel(ctx), p.ID)
	s.mu.Lock()
	defer s.mu.Unlock()
	s.busy = ""
	if slices.Contains(s.places, p) {
		s.open[p.ID] = d.Carrier
		s.failed[p.ID] = err != nil && ctx.Err() == nil
	}
	return err != nil || bad != nil || standing.Waiting+standing.Sent > 0 || standing.Lines > 0 && standing.Refused == 0
}
