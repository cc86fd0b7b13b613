package core

import (
	"context"
	"encoding/base64"
	"errors"
	"slices"
	"time"

	"chinlift/core/sealing"
	"chinlift/core/store"
	"chinlift/core/term"
	"chinlift/core/timeline"
)

// How private parts are sealed and opened on this device. What is sealed, and
// with what, is the store's and package sealing's; here it is decided what
// stays readable, for how long, and who may open the rest.
//
// Recording never asks for anything. What belongs to a case that is open, or
// was closed less than lockAfter ago, can be read without unlocking; so can
// what belongs to no patient, such as the names of those who work here and
// the notes and photographs of the equipment.

const (
	// lockAfter is how long a case can be read after it was closed: until the
	// patient was asked how it went, the next day or the day after. House
	// choice, no source.
	lockAfter = 48 * time.Hour
	// unlockFor is how long the PIN opens old cases. House choice, no source.
	unlockFor = 10 * time.Minute
	// showFor is how long a new recovery key is shown, also after the device
	// slept: printing it leads to another program. House choice, no source.
	showFor = time.Hour
	// tidyEvery bounds how often it is looked for cases that are to be locked.
	tidyEvery = 5 * time.Minute
)

// pinWork is what a try of a PIN costs; tests make it cheap.
var pinWork = sealing.Usual

// Why something about sealing was refused.
var (
	ErrSealed    = store.ErrSealed  // it is sealed, and this device is locked
	ErrNotSetUp  = store.ErrNoVault // nobody set up a PIN here
	ErrNoSafe    = store.ErrNoSafe  // this device has no place for a secret
	ErrSetUp     = errors.New("sealing was set up already")
	ErrWrongPIN  = errors.New("this is not the PIN")
	ErrOnlyPaper = errors.New("on this device the recovery key alone opens what is sealed")
	ErrNoSuchKey = errors.New("this recovery key opens nothing here")
	ErrNotShown  = errors.New("the recovery key is not shown any more")
)

// WaitError says how long the next try of the PIN has to wait.
type WaitError struct{ For time.Duration }

func (e *WaitError) Error() string { return "the next try has to wait " + e.For.String() }

// Sealing is how it stands with sealing on this device.
type Sealing struct {
	Can       bool   // this device can keep a secret, so that sealing can be set up
	On        bool   // it was set up
	Locked    bool   // old cases cannot be read
	OnlyPaper bool   // no PIN opens anything here: the recovery key does
	NoPIN     bool   // it is unlocked, and a PIN is to be chosen
	Left      string // how long it stays unlocked, in words
	Wait      string // how long the next try has to wait, in words; empty: not at all
	Wrong     int    // wrong tries since the last right one
	Printed   bool   // somebody said that the recovery key is on paper
	Showing   bool   // the recovery key is to be shown
	Others    int    // keys of the clinic that came from other devices, and are not in use here
}

// lockState is what the companion knows beside the store's vault.
type lockState struct {
	since    Reading          // of the unlocking; zero: it is locked
	recovery sealing.Recovery // while it is to be shown
	shown    Reading          // since when
	tidied   Reading
	waited   bool // tidied holds
}

// Sealing tells.
func (c *Companion) Sealing(ctx context.Context) (Sealing, error) {
	c.lockWhenDue()
	s, now := Speaker{c.words}, c.clock.Now()
	v, device := c.store.Vault()
	c.mu.Lock()
	defer c.mu.Unlock()
	st := Sealing{Can: c.safe != nil, On: v != nil, Showing: !c.recoveryKey().IsZero()}
	if v == nil {
		keys, err := c.clinicKeys(ctx)
		st.Others = len(keys)
		return st, err
	}
	unlocked := len(c.store.Identities()) > 0
	st.Locked, st.Printed, st.Wrong = !unlocked, v.Printed, v.Tries.Wrong
	st.NoPIN, st.OnlyPaper = unlocked && v.PIN == nil, v.PIN == nil || !device
	if unlocked {
		st.Left = s.Span(max(time.Minute, unlockFor-(now.SinceBoot-c.lock.since.SinceBoot)))
	} else if wait := v.Tries.Wait(now.SinceBoot, now.Boot); wait > 0 {
		st.Wait = s.Span(max(time.Minute, wait))
	}
	keys, err := c.clinicKeys(ctx)
	for _, k := range keys {
		if !slices.ContainsFunc(v.Clinics, func(o sealing.ClinicKey) bool { return o.Recipient == k.Recipient }) {
			st.Others++
		}
	}
	return st, err
}

// clinicKeys gives the keys of clinics that are in the record, those of other
// devices too.
func (c *Companion) clinicKeys(ctx context.Context) (keys []sealing.ClinicKey, err error) {
	lines, err := c.store.Case(ctx, timeline.AboutClinicKey)
	if err != nil {
		return nil, err
	}
	for _, l := range lines {
		if p, ok := l.Payload.(*timeline.ClinicKey); ok {
			if raw, err := base64.StdEncoding.DecodeString(p.Identity); err == nil {
				keys = append(keys, sealing.ClinicKey{Recipient: p.Recipient, Recovery: raw})
			}
		}
	}
	return keys, nil
}

// lockWhenDue locks once the time is over.
func (c *Companion) lockWhenDue() {
	c.mu.Lock()
	defer c.mu.Unlock()
	if len(c.store.Identities()) == 0 {
		return
	}
	now, since := c.clock.Now(), c.lock.since
	if now.Boot != since.Boot || now.SinceBoot < since.SinceBoot || now.SinceBoot-since.SinceBoot >= unlockFor {
		c.lockNow()
	}
}

// lockNow forgets what opens old cases, and whatever was read of them. The
// lock is held.
func (c *Companion) lockNow() {
	if len(c.store.Identities()) > 0 {
		c.hidden.Add(1)
	}
	c.store.Lock()
	c.lock.since = Reading{}
	c.forgetAll()
}

// Hidden counts how often something that could be read no longer can: it was
// locked, or identity was destroyed. Who holds what was read asks, and drops
// it.
func (c *Companion) Hidden() int64 { return c.hidden.Load() }

// WhenHidden has f called when the time of an unlocking is over and nobody
// asked for anything, when LockOverdue locks, and when the device goes to sleep,
// so that what was read does not outlast it; after those that were named before. It is to be said
// before anything is unlocked.
func (c *Companion) WhenHidden(f func()) { c.whenHidden = append(c.whenHidden, f) }

// tellHidden does so, if something was hidden since.
func (c *Companion) tellHidden(since int64) {
	if c.Hidden() == since {
		return
	}
	for _, f := range c.whenHidden {
		f()
	}
}

// watchUnlocked locks by itself once the time is over. A device that slept
// meanwhile is locked since then, and timers may stand still while it does: so
// the clock is asked whether it is time.
func (c *Companion) watchUnlocked() {
	if c.after == nil || c.watching.Swap(true) {
		return
	}
	go func() {
		for {
			left := c.unlockedFor()
			if left <= 0 {
				break
			}
			select {
			case <-c.ended:
				c.watching.Store(false)
				return
			case <-c.after(left):
			}
		}
		c.watching.Store(false)
		was := c.Hidden()
		c.lockWhenDue()
		c.tellHidden(was)
		if c.unlockedFor() > 0 {
			c.watchUnlocked() // it was unlocked again just now
		}
	}()
}

// unlockedFor is how long old cases can still be read; none: they cannot.
func (c *Companion) unlockedFor() time.Duration {
	c.mu.Lock()
	defer c.mu.Unlock()
	now, since := c.clock.Now(), c.lock.since
	if len(c.store.Identities()) == 0 || now.Boot != since.Boot || now.SinceBoot < since.SinceBoot {
		return 0
	}
	return max(0, unlockFor-(now.SinceBoot-since.SinceBoot))
}

// Lock locks at once.
func (c *Companion) Lock() {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.lockNow()
	c.lock.recovery = sealing.Recovery{}
}

// unlock takes identities, beside those that are there.
func (c *Companion) unlock(ctx context.Context, ids []sealing.Identity) error {
	c.mu.Lock()
	c.store.Unlock(united(c.store.Identities(), ids))
	c.lock.since = c.clock.Now()
	c.forgetAll()
	c.mu.Unlock()
	c.watchUnlocked()
	return c.tidy(ctx)
}

// united gives both, each key pair once.
func united(a, b []sealing.Identity) []sealing.Identity {
	all := slices.Clone(a)
	for _, id := range b {
		if !slices.ContainsFunc(all, func(o sealing.Identity) bool { return o.Recipient() == id.Recipient() }) {
			all = append(all, id)
		}
	}
	return all
}

// SetUpSealing makes the clinic's key pair and its recovery key, and seals
// what was recorded before. The recovery key is shown until somebody says that
// it is on paper. ErrSetUp where it was done before.
func (c *Companion) SetUpSealing(ctx context.Context, id, pin string) error {
	return c.newClinic(ctx, id, pin, false)
}

// SealAnew makes another key pair for what comes, where the PIN and the
// recovery key are lost. What was sealed before opens with what opened it
// before, should that be found.
func (c *Companion) SealAnew(ctx context.Context, id, pin string) error {
	return c.newClinic(ctx, id, pin, true)
}

func (c *Companion) newClinic(ctx context.Context, event, pin string, anew bool) error {
	c.lockMu.Lock()
	defer c.lockMu.Unlock()
	if err := sealing.CheckPIN(pin); err != nil {
		return err
	}
	was, _ := c.store.Vault()
	if known, err := c.knowsKey(ctx, event); known || err != nil {
		return err // a retry
	}
	switch {
	case was == nil && anew:
		return ErrNotSetUp
	case was != nil && !anew:
		return ErrSetUp
	}
	id, err := sealing.NewIdentity()
	if err != nil {
		return err
	}
	recovery, err := sealing.NewRecovery()
	if err != nil {
		return err
	}
	key := sealing.ClinicKey{Recipient: id.Recipient()}
	if key.Recovery, err = recovery.Wrap(id); err != nil {
		return err
	}
	ids := united(c.store.Identities(), []sealing.Identity{id})
	v := sealing.Vault{}
	if was != nil {
		v = *was
	}
	v.Recipient, v.Printed, v.Tries = key.Recipient, false, sealing.Tries{}
	v = v.With(key)
	if err := c.keepVault(ctx, event, v, pin, ids, &key); err != nil {
		return err
	}
	c.show(recovery)
	return c.unlock(ctx, ids)
}

// knowsKey reports that the event is stored.
func (c *Companion) knowsKey(ctx context.Context, event string) (bool, error) {
	lines, err := c.store.Case(ctx, timeline.AboutClinicKey)
	return slices.ContainsFunc(lines, func(l *timeline.Line) bool { return l.Event.ID == event }), err
}

// keepVault keeps a vault whose PIN opens the identities, with the event that
// hands a key to the other devices of the clinic. It gives this device a
// secret where it has none at hand. An empty PIN is none. What the database
// still holds in the clear is sealed afterwards, by tidy.
func (c *Companion) keepVault(ctx context.Context, event string, v sealing.Vault, pin string, ids []sealing.Identity, key *sealing.ClinicKey) error {
	if c.safe == nil {
		return ErrNoSafe
	}
	device, fresh := c.store.Device(), false
	if device == nil {
		k, err := sealing.NewKey()
		if err != nil {
			return err
		}
		if v.Secret, err = c.safe.Wrap(k[:]); err != nil {
			return errors.Join(ErrNoSafe, err)
		}
		// What cannot be opened again is worth nothing: find out now.
		if back, err := c.safe.Unwrap(v.Secret); err != nil || !slices.Equal(back, k[:]) {
			return errors.Join(ErrNoSafe, err)
		}
		device, fresh = &k, true
	}
	v.PIN = nil
	if pin != "" {
		lock, err := sealing.LockWithPIN(pin, *device, pinWork, ids)
		if err != nil {
			return err
		}
		v.PIN = lock
	}
	var drafts []timeline.Draft
	if key != nil {
		if c.Author() == "" {
			if err := c.begin(ctx); err != nil {
				return err
			}
		}
		now := c.clock.Now()
		drafts = append(drafts, timeline.Draft{ID: event, Scope: timeline.ScopeClinic, About: timeline.AboutClinicKey, At: now.Moment(), Entered: now.Entered(), Author: c.Author(),
			Payload: &timeline.ClinicKey{Recipient: key.Recipient, Identity: base64.StdEncoding.EncodeToString(key.Recovery)}})
	}
	if _, err := c.store.SetVault(ctx, v, device, drafts...); err != nil {
		return err
	}
	if fresh {
		c.store.Unlock(united(c.store.Identities(), ids))
		if err := c.store.Rekeep(ctx); err != nil {
			return err
		}
	}
	return nil
}

// Unlock opens old cases with the PIN, for some minutes. A *WaitError while the
// next try has to wait; ErrWrongPIN; ErrOnlyPaper where no PIN opens anything.
func (c *Companion) Unlock(ctx context.Context, pin string) error {
	c.lockMu.Lock()
	defer c.lockMu.Unlock()
	ids, err := c.tryPIN(ctx, pin)
	if err != nil {
		return err
	}
	return c.unlock(ctx, ids)
}

// tryPIN is one try of the PIN, and answers as Unlock does; lockMu is held.
func (c *Companion) tryPIN(ctx context.Context, pin string) ([]sealing.Identity, error) {
	v, _ := c.store.Vault()
	device := c.store.Device()
	switch {
	case v == nil:
		return nil, ErrNotSetUp
	case v.PIN == nil || device == nil:
		return nil, ErrOnlyPaper
	}
	now := c.clock.Now()
	if wait := v.Tries.Wait(now.SinceBoot, now.Boot); wait > 0 {
		return nil, &WaitError{wait}
	}
	// The try is counted on disk before it is known whether it is right, so
	// that nobody gains a try by stopping the program. A folder that is only
	// read cannot count.
	counted := *v
	counted.Tries = v.Tries.More(now.SinceBoot, now.Boot)
	if _, err := c.store.SetVault(ctx, counted, nil); err != nil && !errors.Is(err, store.ErrReadOnly) {
		return nil, err
	}
	ids, err := v.PIN.Open(pin, *device)
	if err != nil {
		return nil, ErrWrongPIN
	}
	counted.Tries = sealing.Tries{}
	if _, err := c.store.SetVault(ctx, counted, nil); err != nil && !errors.Is(err, store.ErrReadOnly) {
		return nil, err
	}
	return ids, nil
}

// Recover opens old cases with the recovery key as somebody typed it, for some
// minutes; a PIN can then be chosen. It is never made to wait. Where sealing
// was not set up on this device, or with another key, and the recovery key is
// that of another device of the clinic whose record came here, this device
// seals for that one from now on. sealing.ErrRecovery for what is none,
// ErrNoSuchKey for one of another clinic.
func (c *Companion) Recover(ctx context.Context, text string) error {
	c.lockMu.Lock()
	defer c.lockMu.Unlock()
	r, err := sealing.ParseRecovery(text)
	if err != nil {
		return err
	}
	v, _ := c.store.Vault()
	keys, err := c.clinicKeys(ctx)
	if err != nil {
		return err
	}
	if v != nil {
		keys = append(slices.Clone(v.Clinics), keys...)
	}
	ids, err := sealing.Recover(r, keys)
	if err != nil {
		return ErrNoSuchKey
	}
	next := sealing.Vault{}
	if v != nil {
		next = *v
	}
	ours := v != nil
	for _, k := range keys {
		if slices.ContainsFunc(ids, func(id sealing.Identity) bool { return id.Recipient() == k.Recipient }) &&
			!slices.ContainsFunc(next.Clinics, func(o sealing.ClinicKey) bool { return o.Recipient == k.Recipient }) {
			next, ours = next.With(k), false
			next.Recipient, next.Printed = k.Recipient, true // somebody just read it from the paper
		}
	}
	if !ours && !errors.Is(c.writable(), store.ErrReadOnly) {
		// The PIN that is there does not open what was joined: it is chosen anew.
		if err := c.keepVault(ctx, "", next, "", ids, nil); err != nil {
			return err
		}
	}
	return c.unlock(ctx, ids)
}

// writable answers ErrReadOnly on a folder that is only read.
func (c *Companion) writable() error {
	if c.readOnly {
		return store.ErrReadOnly
	}
	return nil
}

// ChoosePIN sets the PIN, while it is unlocked.
func (c *Companion) ChoosePIN(ctx context.Context, pin string) error {
	c.lockWhenDue()
	c.lockMu.Lock()
	defer c.lockMu.Unlock()
	if err := sealing.CheckPIN(pin); err != nil {
		return err
	}
	v, _ := c.store.Vault()
	ids := c.store.Identities()
	switch {
	case v == nil:
		return ErrNotSetUp
	case len(ids) == 0:
		return ErrSealed
	}
	next := *v
	next.Tries = sealing.Tries{}
	if err := c.keepVault(ctx, "", next, pin, ids, nil); err != nil {
		return err
	}
	return c.unlock(ctx, ids)
}

// NewRecoveryKey makes another recovery key, while it is unlocked, and shows
// it. The one before still opens what it opened: see the README.
func (c *Companion) NewRecoveryKey(ctx context.Context, event string) error {
	c.lockWhenDue()
	c.lockMu.Lock()
	defer c.lockMu.Unlock()
	v, _ := c.store.Vault()
	ids := c.store.Identities()
	switch {
	case v == nil:
		return ErrNotSetUp
	case len(ids) == 0:
		return ErrSealed
	}
	if known, err := c.knowsKey(ctx, event); known || err != nil {
		return err
	}
	r, err := sealing.NewRecovery()
	if err != nil {
		return err
	}
	next := *v
	next.Printed = false
	var current *sealing.ClinicKey
	for _, id := range ids {
		k := sealing.ClinicKey{Recipient: id.Recipient()}
		if k.Recovery, err = r.Wrap(id); err != nil {
			return err
		}
		next = next.With(k)
		if k.Recipient == v.Recipient {
			current = &k
		}
	}
	now := c.clock.Now()
	var drafts []timeline.Draft
	if current != nil {
		drafts = append(drafts, timeline.Draft{ID: event, Scope: timeline.ScopeClinic, About: timeline.AboutClinicKey, At: now.Moment(), Entered: now.Entered(), Author: cmpOr(c.Author(), Nobody),
			Payload: &timeline.ClinicKey{Recipient: current.Recipient, Identity: base64.StdEncoding.EncodeToString(current.Recovery)}})
	}
	if _, err := c.store.SetVault(ctx, next, nil, drafts...); err != nil {
		return err
	}
	c.show(r)
	return nil
}

// show keeps a recovery key to be shown.
func (c *Companion) show(r sealing.Recovery) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.lock.recovery, c.lock.shown = r, c.clock.Now()
}

// RecoveryKey gives the recovery key while it is to be shown; its zero value
// otherwise.
func (c *Companion) RecoveryKey() sealing.Recovery {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.recoveryKey()
}

func (c *Companion) recoveryKey() sealing.Recovery {
	now, since := c.clock.Now(), c.lock.shown
	if now.Boot != since.Boot || now.SinceBoot < since.SinceBoot || now.SinceBoot-since.SinceBoot > showFor {
		c.lock.recovery = sealing.Recovery{}
	}
	return c.lock.recovery
}

// RecoveryPrinted says that the recovery key is on paper: somebody read its
// last group from there. It is not shown again. ErrWrongPIN when they read
// something else.
func (c *Companion) RecoveryPrinted(ctx context.Context, group string) error {
	c.lockMu.Lock()
	defer c.lockMu.Unlock()
	v, _ := c.store.Vault()
	r := c.RecoveryKey()
	if v == nil || r.IsZero() {
		return ErrNotShown
	}
	if !r.EndsWith(group) {
		return ErrWrongGroup
	}
	next := *v
	next.Printed = true
	if _, err := c.store.SetVault(ctx, next, nil); err != nil {
		return err
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	c.lock.recovery = sealing.Recovery{}
	return nil
}

// ErrWrongGroup says that what was read from the paper is not what stands
// there.
var ErrWrongGroup = errors.New("this is not the last group of the recovery key")

// tidy finishes what setting up began, keeps readable what ought to be, and
// parts from the cases that are over.
func (c *Companion) tidy(ctx context.Context) error {
	if v, _ := c.store.Vault(); v == nil || c.readOnly {
		return nil
	}
	c.mu.Lock()
	c.lock.tidied, c.lock.waited = c.clock.Now(), true
	c.mu.Unlock()
	due, err := c.store.Unsealed(ctx)
	if err != nil {
		return err
	}
	kept, err := c.store.Kept(ctx)
	if err != nil {
		return err
	}
	stays, err := c.staying(ctx, kept, due)
	if err != nil {
		return err
	}
	if due {
		keep := func(l *timeline.Line) bool { return stays[l.Event.About] || !ofPatient(l) }
		if err := c.store.Reseal(ctx, keep); err != nil {
			return err
		}
		c.mu.Lock()
		c.hidden.Add(1)
		c.forgetAll()
		c.mu.Unlock()
		if kept, err = c.store.Kept(ctx); err != nil {
			return err
		}
	}
	var over []string
	for _, k := range kept {
		patient, err := c.keptForPatient(ctx, k)
		if err != nil {
			return err
		}
		if patient && !stays[k.About] {
			over = append(over, k.About)
		}
	}
	if len(over) > 0 {
		if err := c.store.Part(ctx, over...); err != nil {
			return err
		}
		c.mu.Lock()
		c.hidden.Add(1)
		c.forgetAll()
		c.mu.Unlock()
	}
	var abouts []string
	for about := range stays {
		abouts = append(abouts, about)
	}
	return c.store.Keep(ctx, abouts...)
}

// tidyWhenDue is tidy, now and then. What it could not do is done the next
// time: nothing that somebody waits for depends on it.
func (c *Companion) tidyWhenDue(ctx context.Context) {
	c.lockWhenDue()
	now := c.clock.Now()
	c.mu.Lock()
	last, waited := c.lock.tidied, c.lock.waited
	c.mu.Unlock()
	if waited && last.Boot == now.Boot && now.SinceBoot >= last.SinceBoot && now.SinceBoot-last.SinceBoot < tidyEvery {
		return
	}
	_ = c.tidy(ctx) // see above
}

// LockOverdue locks the cases that were over long enough, now and then: for
// whoever looks regularly, also while nobody asks for a page.
func (c *Companion) LockOverdue(ctx context.Context) {
	was := c.Hidden()
	c.tidyWhenDue(ctx)
	c.tellHidden(was)
}

// ofPatient reports that a line's private part is about a patient: the line is
// of a case, or of a patient as a person.
func ofPatient(l *timeline.Line) bool {
	return l.Event.Scope == timeline.ScopeCase || isPatient(l.Payload)
}

// isPatient tells patients from those who work here.
func isPatient(p timeline.Payload) bool {
	person, ok := p.(*timeline.Person)
	return ok && !slices.ContainsFunc(person.Roles, func(r term.Role) bool { return r != term.RolePatient && r != term.RoleNewborn })
}

// keptForPatient reports that a key is kept for a case or a patient.
func (c *Companion) keptForPatient(ctx context.Context, k store.KeptFor) (bool, error) {
	if k.Scope != timeline.ScopeClinic {
		return k.Scope == timeline.ScopeCase, nil
	}
	e, err := c.person(ctx, k.About)
	return err == nil && e != nil && isPatient(e.Now().Payload), err
}

// staying gives what stays readable without unlocking: cases that are open or
// were closed a short while ago, their patients, and what their entries came
// from. The cases are looked for among those whose keys are kept; with all,
// among those touched last as well.
func (c *Companion) staying(ctx context.Context, kept []store.KeptFor, all bool) (map[string]bool, error) {
	stays := map[string]bool{}
	open, err := c.OpenCases(ctx)
	if err != nil {
		return nil, err
	}
	for _, cs := range open {
		cs.stay(stays)
	}
	now, patients := c.clock.Now().Wall, 0
	for _, k := range kept {
		patient, err := c.keptForPatient(ctx, k)
		if err != nil {
			return nil, err
		}
		switch {
		case !patient || stays[k.About]:
		case k.Scope != timeline.ScopeCase:
			patients++
		default:
			cs, err := c.peek(ctx, k.About)
			if err != nil {
				return nil, err
			}
			if cs.justClosed(now) {
				cs.stay(stays)
			}
		}
	}
	if patients == 0 && !all {
		return stays, nil
	}
	// Patients of whose cases nothing is kept: whoever closes a case touches it.
	refs, err := c.store.Recent(ctx, recentCases, 0)
	if err != nil {
		return nil, err
	}
	for _, r := range refs {
		cs, err := c.peek(ctx, r.ID)
		if errors.Is(err, ErrNotHere) {
			continue
		}
		if err != nil {
			return nil, err
		}
		if cs.justClosed(now) {
			cs.stay(stays)
		}
	}
	return stays, nil
}

// stay adds what is to stay readable with a case.
func (cs *Case) stay(stays map[string]bool) {
	stays[cs.ID] = true
	for _, p := range peopleOf(cs.lines) {
		stays[p] = true
	}
	for _, l := range cs.lines {
		stays[l.Event.About] = true // moved here from there
	}
}

// justClosed reports that the case was closed less than lockAfter ago. A clock
// that was set makes nothing readable for good.
func (cs *Case) justClosed(now time.Time) bool {
	for e := range timeline.Each[*timeline.CaseClosed](cs.Entries, cs.ID) {
		if since := now.Sub(e.Root().Event.Entered.Wall.Time); since > -lockAfter && since < lockAfter {
			return true
		}
	}
	return false
}

// recentCases is how many cases are looked at for those that were just closed:
// more than one person has in two days. House choice.
const recentCases = 60

// explainLock puts what went wrong with PINs and keys into words.
func (s Speaker) explainLock(err error) (Problem, bool) {
	var wait *WaitError
	if errors.As(err, &wait) {
		return Problem{429, "wait", "pin", s.Say("seal.wait", "span", s.Span(max(time.Minute, wait.For)))}, true
	}
	for _, x := range []struct {
		err         error
		status      int
		code, field string
		words       func() string
	}{
		{sealing.ErrShortPIN, 422, "short-pin", "pin", func() string { return s.Say("seal.short-pin", "n", sealing.ShortestPIN) }},
		{sealing.ErrLongPIN, 422, "long-pin", "pin", func() string { return s.Say("seal.long-pin", "n", sealing.LongestPIN) }},
		{sealing.ErrEasyPIN, 422, "easy-pin", "pin", func() string { return s.Say("seal.easy-pin") }},
		{ErrWrongPIN, 422, "wrong-pin", "pin", func() string { return s.Say("seal.wrong-pin") }},
		{sealing.ErrRecovery, 422, "no-recovery-key", "recovery", func() string { return s.Say("seal.no-recovery-key") }},
		{ErrNoSuchKey, 422, "other-key", "recovery", func() string { return s.Say("seal.other-key") }},
		{ErrWrongGroup, 422, "wrong-group", "group", func() string { return s.Say("seal.wrong-group") }},
		{ErrOnlyPaper, 409, "only-paper", "", func() string { return s.Say("seal.only-paper") }},
		{ErrStillOpen, 409, "still-open", "", func() string { return s.Say("destroy.still-open") }},
		{ErrNoNames, 409, "no-names", "", func() string { return s.Say("destroy.nothing") }},
		{ErrDestroyed, 409, "destroyed", "", func() string { return s.Say("destroy.stays-so") }},
		{ErrSetUp, 409, "set-up", "", func() string { return s.Say("seal.is-set-up") }},
		{ErrNotShown, 409, "not-shown", "", func() string { return s.Say("seal.not-shown") }},
	} {
		if errors.Is(err, x.err) {
			return Problem{x.status, x.code, x.field, x.words()}, true
		}
	}
	return Problem{}, false
}
