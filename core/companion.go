package core

import (
	"context"
	"errors"
	"fmt"
	"io"
	"slices"
	"sync"
	"sync/atomic"
	"time"

	"github.com/google/uuid"

	"chinlift/core/store"
	"chinlift/core/term"
	"chinlift/core/timeline"
	"chinlift/core/word"
)

// Nobody is the author of what the device itself writes.
var Nobody = uuid.Nil.String()

// Options says on what a companion works.
type Options struct {
	Dir          string  // data folder
	Installation string  // token of this installation, outside the database; see store.Options
	Witness      Witness // remembers the head outside the data folder; may be nil
	Safe         Safe    // keeps the secret of this device; may be nil: then sealing cannot be set up
	Clock        Clock
	Words        *word.Book
	Free         func() (bytes int64, ok bool)           // free space, lent by the platform; may be nil
	Power        func() (percent int, charging, ok bool) // charge of the battery, lent by the platform; may be nil
	FullSync     bool                                    // iOS
	After        func(time.Duration) <-chan time.Time    // waits, so that what was unlocked locks by itself; nil: it does when next asked
}

// Companion is the whole of Chinlift behind its screens. It is safe for use
// by several goroutines; writes are taken one after the other.
type Companion struct {
	store *store.Store
	clock Clock
	words *word.Book
	power func() (percent int, charging, ok bool) // may be nil

	mu     sync.Mutex
	cached map[string]*Case // folded cases, by id; what is not here is read from the store
	order  []string         // ids in cached, least recently used first
	author string           // the person at the device, once there is one

	settings   map[term.Setting][]*timeline.Entry // by time; nil entry: not read yet
	open       []string                           // ids of the cases that are not known to be closed
	openRead   bool
	checks     map[string][]*timeline.Entry // of the days of equipment lists, by list and day
	local      map[string]string            // settings of this device that were read
	generation int64                        // how often everything kept was dropped
	tiles      map[string][]byte            // windows of drawn records, as they were drawn

	rulesMu   sync.Mutex
	rules     map[string]*Rules // by the files of the clinic that lie over them
	lists     listsKept
	keptLists map[string]bool // versions of lists whose bytes are kept
	doseMu    sync.Mutex      // a dose is judged and recorded in one step

	confirmed []confirming // who stood for which rule, by time; nil: not read yet

	safe     Safe // nil: this device has no place for a secret
	readOnly bool
	lock     lockState
	lockMu   sync.Mutex // one try, or change, of PIN and keys at a time; taken before mu

	hidden     atomic.Int64 // see Hidden
	whenHidden []func()
	after      func(time.Duration) <-chan time.Time
	watching   atomic.Bool // somebody waits for the end of an unlocking
	ended      chan struct{}
	endOnce    sync.Once

	unjudgedMu   sync.Mutex
	unjudgedKept map[string]keptUnjudged // by the event of a version of a dose

	usesMu sync.Mutex
	uses   map[string]caseUse // what cases took from the shelf, by id

	figuresMu sync.Mutex
	figures   map[string]countedCase // by id

	depths depthRuns
}

// cacheCases bounds how many folded cases are kept: the ones on the table and
// in recovery, and the few that somebody is reading.
const cacheCases = 12

// Open opens the data folder and finds the cases that are not closed.
func Open(ctx context.Context, o Options) (*Companion, error) {
	s, err := store.Open(ctx, store.Options{
		Dir: o.Dir, Installation: o.Installation, Witness: o.Witness, Safe: o.Safe, Free: o.Free, FullSync: o.FullSync,
		Entered: func() timeline.Entered { return o.Clock.Now().Entered() },
	})
	if err != nil {
		return nil, err
	}
	c, err := newCompanion(ctx, s, o)
	if err == nil {
		// A companion that cannot seal or lock just now records all the same.
		_ = c.tidy(ctx)
	}
	return c, err
}

// OpenReadOnly opens the folder for reading, beside a companion that may be
// running on it. Record answers an error.
func OpenReadOnly(ctx context.Context, o Options) (*Companion, error) {
	s, err := store.OpenReadOnly(ctx, o.Dir, o.Safe)
	if err != nil {
		return nil, err
	}
	c, err := newCompanion(ctx, s, o)
	if err == nil {
		c.readOnly = true
	}
	return c, err
}

func newCompanion(ctx context.Context, s *store.Store, o Options) (*Companion, error) {
	c := &Companion{store: s, clock: o.Clock, words: o.Words, power: o.Power, safe: o.Safe, after: o.After, ended: make(chan struct{}), cached: map[string]*Case{}}
	var err error
	if c.author, err = s.Local(ctx, localAuthor); err != nil {
		return nil, errors.Join(err, s.Close())
	}
	return c, nil
}

// Close finishes what is under way and closes the database.
func (c *Companion) Close() error {
	c.endOnce.Do(func() { close(c.ended) })
	return c.store.Close()
}

// Suspend closes the database until Resume: a phone stops an app that holds a
// lock while it sleeps. What opens old cases is forgotten.
func (c *Companion) Suspend(ctx context.Context) error {
	was := c.Hidden()
	c.mu.Lock()
	c.lockNow()
	c.mu.Unlock()
	c.tellHidden(was)
	was = c.Hidden()
	_ = c.tidy(ctx) // what cannot be done now is done when it opens again
	c.tellHidden(was)
	return c.store.Suspend(ctx)
}

// Resume opens the database again. Another companion may have written to the
// folder meanwhile: nothing that was kept is believed.
func (c *Companion) Resume(ctx context.Context) error {
	if err := c.resume(ctx); err != nil {
		return err
	}
	_ = c.tidy(ctx) // cases that were over long enough meanwhile; see tidyWhenDue
	return nil
}

func (c *Companion) resume(ctx context.Context) error {
	c.mu.Lock()
	defer c.mu.Unlock()
	if err := c.store.Resume(ctx); err != nil {
		return err
	}
	c.forgetAll()
	author, err := c.store.Local(ctx, localAuthor)
	if err == nil {
		c.author = author
	}
	return err
}

// Words gives the catalogue that the companion speaks from.
func (c *Companion) Words() *word.Book { return c.words }

// Now reads the injected clock.
func (c *Companion) Now() Reading { return c.clock.Now() }

// Stored is the number of lines stored. A screen that was drawn at another head
// may show what is no longer so.
func (c *Companion) Stored() int64 { return c.store.Head() }

// Space says how room on the device stands.
func (c *Companion) Space() store.Space { return c.store.Space() }

// Local settings: of this device, not events.
const (
	localAuthor = "author"
	LocalHand   = "hand"  // left or right
	LocalTheme  = "theme" // light, dark, dim, or empty for the device's own
	LocalText   = "text"  // size of text in percent

	LocalMetered = "metered"  // "yes": sends also where each byte may cost
	LocalMarkKey = "mark-key" // "yes": a volume key marks an instant
)

// Local reads a setting of this device; empty when it was never set. It is
// kept once read: a tap must not ask the disk for what has not changed.
func (c *Companion) Local(ctx context.Context, key string) (string, error) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if v, ok := c.local[key]; ok {
		return v, nil
	}
	v, err := c.store.Local(ctx, key)
	if err == nil {
		if c.local == nil {
			c.local = map[string]string{}
		}
		c.local[key] = v
	}
	return v, err
}

// SetLocal keeps a setting of this device.
func (c *Companion) SetLocal(ctx context.Context, key, value string) error {
	c.mu.Lock()
	defer c.mu.Unlock()
	delete(c.local, key)
	return c.store.SetLocal(ctx, key, value)
}

// Tap is one thing to record: what one control of a screen, or one step of a
// script, stands for.
type Tap struct {
	ID      string // minted when the control was drawn: a retry repeats it
	Scope   timeline.Scope
	About   string          // case, person, list and day, setting
	At      timeline.Moment // when it happened; zero: now
	Payload timeline.Payload
	Private timeline.Private

	// For a correction: the root entry, the versions that its author had
	// seen, and why.
	Amends   string
	Replaces []string
	Reason   term.Reason
}

// Done is what was committed.
type Done struct {
	Head  int64            // lines stored after the commit
	Lines []*timeline.Line // one for each tap, in their order
}

// ErrNotHere says that a case or an entry is not stored on this device.
var ErrNotHere = errors.New("not on this device")

// Record writes the taps in one transaction, and answers only once they are
// on disk. A tap whose id is already stored is a retry, and answers what was
// stored. A *timeline.FieldError says which field cannot be written; a
// *store.Error says that the device could not write. In either case nothing
// was written; only a destruction that was begun and not finished answers its
// lines with the error, and is to be recorded again.
//
// A correction of what an entry says that comes without a reason goes in, and
// with it the entry that a reason is owed.
func (c *Companion) Record(ctx context.Context, taps ...Tap) (Done, error) {
	now := c.clock.Now()
	c.mu.Lock()
	defer c.mu.Unlock()

	drafts := make([]timeline.Draft, 0, len(taps)+1)
	author, err := c.authorDraft(now)
	if err != nil {
		return Done{}, err
	}
	by := c.author
	if author != nil {
		by = author.About
		drafts = append(drafts, *author)
	}
	var owed []timeline.Draft
	for _, t := range taps {
		d, debt, err := c.draft(ctx, t, now, by)
		if err != nil {
			return Done{}, err
		}
		drafts = append(drafts, d)
		if debt != nil {
			owed = append(owed, *debt)
		}
	}
	// Who the person at this device is, is kept with the lines or not at all.
	var local map[string]string
	if author != nil {
		local = map[string]string{localAuthor: by}
	}
	lines, err := c.store.AppendWith(ctx, local, append(drafts, owed...)...)
	if len(lines) == 0 {
		return Done{}, err
	}
	// What was destroyed must be gone from everything that is kept, whether
	// or not the files are rid of it yet.
	if slices.ContainsFunc(lines, destroys) {
		c.hidden.Add(1)
		c.forgetAll()
	}
	if author != nil {
		c.author = by
	}
	for _, l := range lines {
		c.take(l)
	}
	return Done{Head: c.store.Head(), Lines: lines[len(drafts)-len(taps) : len(drafts)]}, err
}

func destroys(l *timeline.Line) bool {
	_, ok := l.Payload.(*timeline.IdentityDestroyed)
	return ok
}

// authorDraft makes the person at this device on the first record: without a
// name, so that a start needs no form. A name is a correction, at any time.
func (c *Companion) authorDraft(now Reading) (*timeline.Draft, error) {
	if c.author != "" {
		return nil, nil
	}
	person, err := uuid.NewV7()
	if err != nil {
		return nil, err
	}
	id, err := uuid.NewV7()
	if err != nil {
		return nil, err
	}
	return &timeline.Draft{
		ID: id.String(), Scope: timeline.ScopeClinic, About: person.String(),
		At: now.Moment(), Entered: now.Entered(), Author: person.String(),
		Payload: &timeline.Person{Roles: []term.Role{term.RoleProvider}},
	}, nil
}

// draft makes what the store is given for a tap, and the reason that is owed
// for it, if one is.
func (c *Companion) draft(ctx context.Context, t Tap, now Reading, by string) (d timeline.Draft, owed *timeline.Draft, err error) {
	d = timeline.Draft{
		ID: t.ID, Scope: t.Scope, About: t.About, At: t.At, Entered: now.Entered(), Author: by,
		Payload: t.Payload, Private: t.Private, Amends: t.Amends, Replaces: t.Replaces, Reason: t.Reason,
	}
	if d.At.IsZero() {
		d.At = now.Moment()
	}
	if t.Amends == "" {
		return d, nil, d.Check()
	}
	owed, err = c.checkCorrection(ctx, &d)
	return d, owed, err
}

// take brings the folded cases that a new line concerns up to date.
func (c *Companion) take(l *timeline.Line) {
	switch p := l.Payload.(type) {
	case *timeline.ClinicSetting, *timeline.SetAgreed:
		c.settings = nil
	case *timeline.Confirmed, *timeline.Person, *timeline.Claimed:
		c.confirmed = nil
	case *timeline.CaseOpened, *timeline.CaseClosed:
		c.openRead = false
	case *timeline.Stock:
		c.settings = nil
	case *timeline.KitItem:
		delete(c.checks, l.Event.About)
		c.listOf(p.List, p.Version) // so that an entry of a case has its wording
	}
	if l.Event.Amends != "" {
		c.settings, c.openRead, c.confirmed, c.checks = nil, false, nil, nil // it may amend one of those
		c.forgetUses()
	}
	for id, cs := range c.cached {
		if cs.knows(l) {
			continue // a retry
		}
		about := l.Event.About == id || (l.Event.Amends != "" && cs.Story.Find(l.Event.Amends) != nil)
		if !about && !cs.names(l.Event.About) {
			continue
		}
		if l.Event.Amends != "" && cs.Story.Find(l.Event.Amends) == nil {
			// Moved here from another case: the root must come from the store.
			c.forget(id)
			continue
		}
		if l.Event.About != id && l.Event.Amends == "" {
			c.forget(id) // a person of the case: read them anew
			continue
		}
		if slices.ContainsFunc(peopleOf([]*timeline.Line{l}), func(p string) bool { return cs.Persons[p] == nil }) {
			c.forget(id) // it names somebody new
			continue
		}
		c.keep(id, cs.with(l))
	}
}

// forget drops a folded case, to be read again when it is next asked for.
func (c *Companion) forget(id string) {
	delete(c.cached, id)
	c.order = slices.DeleteFunc(c.order, func(o string) bool { return o == id })
}

// forgetAll drops whatever is kept of the store, to be read again.
func (c *Companion) forgetAll() {
	clear(c.cached)
	clear(c.tiles)
	c.confirmed = nil
	c.generation++
	clear(c.local)
	c.order, c.settings, c.open, c.openRead, c.checks = nil, nil, nil, false, nil
	c.forgetUses()
	c.forgetFigures()
}

// keep puts a folded case into the cache, as the one used last.
func (c *Companion) keep(id string, cs *Case) {
	if i := slices.Index(c.order, id); i >= 0 {
		c.order = slices.Delete(c.order, i, i+1)
	}
	c.order = append(c.order, id)
	if len(c.order) > cacheCases {
		delete(c.cached, c.order[0])
		c.order = c.order[1:]
	}
	c.cached[id] = cs
}

// Case gives a folded case. ErrNotHere when nothing about it is stored.
func (c *Companion) Case(ctx context.Context, id string) (*Case, error) {
	c.lockWhenDue()
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.load(ctx, id)
}

func (c *Companion) load(ctx context.Context, id string) (*Case, error) {
	if cs, ok := c.cached[id]; ok {
		c.keep(id, cs)
		return cs, nil
	}
	cs, err := c.read(ctx, id)
	if err != nil {
		return nil, err
	}
	c.keep(id, cs)
	return cs, nil
}

// read folds a case from the store, with the people that it names.
func (c *Companion) read(ctx context.Context, id string) (*Case, error) {
	lines, err := c.store.Case(ctx, id)
	if err != nil {
		return nil, err
	}
	if len(lines) == 0 {
		return nil, fmt.Errorf("%s: %w", id, ErrNotHere)
	}
	for _, l := range lines {
		if p, ok := l.Payload.(*timeline.KitItem); ok {
			c.listOf(p.List, p.Version)
		}
	}
	persons := map[string]*timeline.Entry{}
	for _, p := range peopleOf(lines) {
		e, err := c.person(ctx, p)
		if err != nil {
			return nil, err
		}
		if e != nil {
			persons[p] = e
		}
	}
	return newCase(id, lines, persons), nil
}

// Merge takes in lines from elsewhere: a file, another device.
func (c *Companion) Merge(ctx context.Context, lines []*timeline.Line) (store.Merged, error) {
	m, err := c.merge(ctx, lines)
	if err != nil {
		return m, err
	}
	// Cases that were over before they came here are locked at once.
	return m, errors.Join(c.store.SealPhotos(ctx), c.tidy(ctx))
}

func (c *Companion) merge(ctx context.Context, lines []*timeline.Line) (store.Merged, error) {
	c.mu.Lock()
	defer c.mu.Unlock()
	m, err := c.store.Merge(ctx, lines)
	if slices.ContainsFunc(lines, destroys) {
		c.hidden.Add(1)
	}
	c.forgetAll()
	if err != nil {
		return m, err
	}
	var over []string
	for _, id := range m.Cases {
		lines, err := c.store.Bare(ctx, id)
		if err != nil {
			return m, err
		}
		for range timeline.Each[*timeline.CaseClosed](timeline.Fold(lines).Entries, id) {
			over = append(over, id)
			break
		}
	}
	return m, c.store.Settle(ctx, over...)
}

// All walks every line in entry order.
func (c *Companion) All(ctx context.Context, yield func(*timeline.Line) error) error {
	c.lockWhenDue()
	return c.store.All(ctx, yield)
}

// Backup gives every file of the data folder; see store.Store.Backup.
func (c *Companion) Backup(ctx context.Context, give func(name string, size int64, content io.Reader) error) error {
	c.lockWhenDue()
	return c.store.Backup(ctx, give)
}

// Verify checks the whole database.
func (c *Companion) Verify(ctx context.Context) (store.Report, error) { return c.store.Verify(ctx) }

// NewID mints the id of an event that may be written: for a control that is
// being drawn.
func NewID() string {
	id, err := uuid.NewV7()
	if err != nil {
		panic("core: the system has no random numbers: " + err.Error())
	}
	return id.String()
}

// ago gives the time from then to now, never negative.
func ago(now, then time.Time) time.Duration { return max(0, now.Sub(then)) }
