package core_test

import (
	"bytes"
	"context"
	"errors"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"filippo.io/age"
	"pgregory.net/rapid"

	"chinlift/core"
	"chinlift/core/sealing"
	"chinlift/core/term"
	"chinlift/core/timeline"
	"chinlift/core/word"
)

// pocket is the place outside the folder where a device keeps its secret.
type pocket struct {
	key  sealing.Key
	deaf bool // it does not answer
}

func newPocket() *pocket {
	k, err := sealing.NewKey()
	if err != nil {
		panic(err)
	}
	return &pocket{key: k}
}

var errDeaf = errors.New("the key store does not answer")

func (p *pocket) Wrap(secret []byte) ([]byte, error) {
	if p.deaf {
		return nil, errDeaf
	}
	return p.key.Seal(secret, nil)
}

func (p *pocket) Unwrap(wrapped []byte) ([]byte, error) {
	if p.deaf {
		return nil, errDeaf
	}
	return p.key.Open(wrapped, nil)
}

const pin, otherPIN = "274916", "830275"

// clinicDevice is a device on which sealing can be set up.
type clinicDevice struct {
	t     testing.TB
	dir   string
	clock *fakeClock
	safe  *pocket
	c     *core.Companion
}

func newDevice(t testing.TB) *clinicDevice {
	t.Helper()
	core.CheapPIN(t)
	d := &clinicDevice{t: t, dir: t.TempDir(), clock: newClock(), safe: newPocket()}
	d.start()
	return d
}

func (d *clinicDevice) start() {
	d.t.Helper()
	if d.c != nil {
		if err := d.c.Close(); err != nil {
			d.t.Fatal(err)
		}
	}
	c, err := core.Open(context.Background(), core.Options{Dir: d.dir, Installation: "here", Clock: d.clock, Words: word.English(), Safe: d.safe})
	if err != nil {
		d.t.Fatal(err)
	}
	d.c = c
	d.t.Cleanup(func() { c.Close() })
}

// setUp sets sealing up, and gives the recovery key as it stands on paper.
func (d *clinicDevice) setUp() string {
	d.t.Helper()
	if err := d.c.SetUpSealing(d.t.Context(), core.NewID(), pin); err != nil {
		d.t.Fatal(err)
	}
	r := d.c.RecoveryKey()
	if err := d.c.RecoveryPrinted(d.t.Context(), strings.ToLower(r.Groups()[6])); err != nil {
		d.t.Fatal(err)
	}
	return r.Text()
}

func (d *clinicDevice) state() core.Sealing {
	d.t.Helper()
	s, err := d.c.Sealing(d.t.Context())
	if err != nil {
		d.t.Fatal(err)
	}
	return s
}

// shows gives for whom a page of the case says that it is, and all that its
// record says.
func (d *clinicDevice) shows(caseID string) (who, all string) {
	d.t.Helper()
	h, cs, err := d.c.HeadOf(d.t.Context(), caseID)
	if err != nil {
		d.t.Fatal(err)
	}
	sheet, err := d.c.Sheet(d.t.Context(), caseID)
	if err != nil {
		d.t.Fatal(err)
	}
	var b strings.Builder
	b.WriteString(sheet.For + "\n")
	for _, e := range sheet.Entries {
		b.WriteString(e.Text + " by " + e.By + "\n")
	}
	for _, f := range sheet.Facts {
		b.WriteString(f.Value + "\n")
	}
	if cs.ID != caseID {
		d.t.Fatal("another case")
	}
	return h.For, b.String()
}

func (d *clinicDevice) closeCase(caseID string) {
	submit(d.t, d.c, caseID, "case-closed")
}

// holding names the files of the folder that hold one of the texts.
func holding(t testing.TB, dir string, texts ...string) (where []string) {
	t.Helper()
	to := t.TempDir() // a look at the database's own file would drop its locks
	if err := os.CopyFS(filepath.Join(to, "c"), os.DirFS(dir)); err != nil {
		t.Fatal(err)
	}
	err := filepath.WalkDir(to, func(path string, e os.DirEntry, err error) error {
		if err != nil {
			return err
		}
		var data []byte
		if !e.IsDir() {
			if data, err = os.ReadFile(path); err != nil {
				return err
			}
		}
		for _, text := range texts {
			if bytes.Contains(data, []byte(text)) || strings.Contains(path, text) {
				where = append(where, strings.TrimPrefix(path, to)+": "+text)
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return where
}

// invented are the words of an identity in these tests.
var invented = []string{"Quentin", "Inventedson", "no-4711", "saw her at the well"}

func (d *clinicDevice) identity() string {
	d.t.Helper()
	f := core.Form{ID: core.NewID(), Fields: map[string][]string{"name": {"Quentin Inventedson"}}}
	asking, err := d.c.Unrecovered(d.t.Context())
	if err != nil {
		d.t.Fatal(err)
	}
	for _, cs := range asking {
		f.Fields[core.WatchField(cs.ID)] = []string{string(term.WatcherNurse)}
	}
	id, _, err := d.c.OpenCase(d.t.Context(), f)
	if err != nil {
		d.t.Fatal(err)
	}
	if _, err := d.c.NamePatient(d.t.Context(), core.NewID(), id, "", "no-4711"); err != nil {
		d.t.Fatal(err)
	}
	submit(d.t, d.c, id, "note", "text", "I saw her at the well")
	submit(d.t, d.c, id, "phase", "phase", "anaesthesia-start")
	return id
}

func (d *clinicDevice) nowhere(when string) {
	d.t.Helper()
	if where := holding(d.t, d.dir, invented...); len(where) > 0 {
		d.t.Errorf("%s: an identity lies in the clear: %q", when, where)
	}
}

func TestLifeOfASealedCase(t *testing.T) {
	d := newDevice(t)
	ctx := t.Context()
	if s := d.state(); !s.Can || s.On || s.Locked {
		t.Errorf("before set-up: %+v", s)
	}
	if _, err := d.c.NameAuthor(ctx, core.NewID(), "Ama Inventedova"); err != nil {
		t.Fatal(err)
	}
	old := d.identity()
	d.closeCase(old)
	d.clock.pass(72 * time.Hour)
	running := d.identity()
	if len(holding(t, d.dir, invented...)) == 0 {
		t.Fatal("the identity was never in a file: the test shows nothing")
	}
	before := d.c.Stored()
	paper := d.setUp()
	if d.c.Stored() != before+1 {
		t.Errorf("set-up wrote %d lines, want the key of the clinic alone", d.c.Stored()-before)
	}
	d.nowhere("after set-up")
	if s := d.state(); !s.On || s.Locked || !s.Printed || s.Showing || s.OnlyPaper {
		t.Errorf("after set-up: %+v", s)
	}
	for _, id := range []string{old, running} {
		if who, all := d.shows(id); who != "Quentin Inventedson" || !strings.Contains(all, "at the well") || !strings.Contains(all, "no-4711") {
			t.Errorf("right after set-up a case shows %q, %s", who, all)
		}
	}

	// It locks by itself; the open case stays, and who works here.
	d.clock.pass(10 * time.Minute)
	locked := func(when, id string) {
		t.Helper()
		who, all := d.shows(id)
		if !strings.Contains(who, "Locked case "+core.ShortCase(id)) || !strings.Contains(all, "words locked") {
			t.Errorf("%s: it shows %q, %s", when, who, all)
		}
		for _, text := range invented {
			if strings.Contains(who+all, text) {
				t.Errorf("%s: %q leaks", when, text)
			}
		}
		if !strings.Contains(all, "anaesthe") || !strings.Contains(all, "by Ama Inventedova") {
			t.Errorf("%s: the record without identity is not whole: %s", when, all)
		}
	}
	readable := func(when, id string) {
		t.Helper()
		if who, all := d.shows(id); who != "Quentin Inventedson" || !strings.Contains(all, "at the well") {
			t.Errorf("%s: it shows %q, %s", when, who, all)
		}
	}
	locked("after ten minutes", old)
	readable("an open case", running)
	d.start()
	locked("after another start", old)
	readable("an open case after another start", running)
	if s := d.state(); !s.Locked {
		t.Errorf("after another start: %+v", s)
	}

	// Everything can be recorded, in the open case and in the locked one.
	submit(t, d.c, running, "note", "text", "still saw her at the well")
	submit(t, d.c, old, "note", "text", "a late note")
	readable("an open case with a further note", running)

	// A case stays readable for two days after it was closed.
	d.closeCase(running)
	d.clock.pass(47 * time.Hour)
	d.start()
	readable("47 hours after its end", running)
	d.clock.pass(2 * time.Hour)
	if _, err := d.c.Today(ctx); err != nil {
		t.Fatal(err)
	}
	locked("49 hours after its end", running)
	d.nowhere("at last")

	// The PIN opens all of it, sleep locks it.
	if err := d.c.Unlock(ctx, pin); err != nil {
		t.Fatal(err)
	}
	readable("unlocked", old)
	readable("unlocked", running)
	if err := d.c.Suspend(ctx); err != nil {
		t.Fatal(err)
	}
	if err := d.c.Resume(ctx); err != nil {
		t.Fatal(err)
	}
	locked("after sleep", old)
	if err := d.c.Recover(ctx, paper); err != nil {
		t.Fatal(err)
	}
	readable("by the recovery key", old)
	d.c.Lock()
	locked("after locking", old)
	if r, err := d.c.Verify(ctx); err != nil || len(r.Findings) > 0 || r.Sealed == 0 {
		t.Errorf("%v %+v", err, r)
	}
}

// TestNothingIsLostByALockedForm: what nobody can see is not written over.
func TestNothingIsLostByALockedForm(t *testing.T) {
	d := newDevice(t)
	ctx := t.Context()
	id := d.identity()
	note := submit(t, d.c, id, "note", "text", "words that stay").Lines[0]
	d.closeCase(id)
	d.clock.pass(72 * time.Hour)
	d.setUp()
	d.c.Lock()
	before := d.c.Stored()
	if _, err := d.c.NamePatient(ctx, core.NewID(), id, "", "no-9999"); !errors.Is(err, core.ErrSealed) {
		t.Errorf("naming a locked patient: %v", err)
	}
	if _, err := d.c.Correct(ctx, core.NewID(), id, note.Event.ID, []string{note.Event.ID}, term.ReasonMistyped, &timeline.Note{}, timeline.Moment{}, timeline.Private{"text": "others"}); !errors.Is(err, core.ErrSealed) {
		t.Errorf("correcting a locked note: %v", err)
	}
	if d.c.Stored() != before {
		t.Errorf("%d lines were written", d.c.Stored()-before)
	}
	if p := d.c.Explain(core.ErrSealed); p.Status != 423 || !strings.Contains(p.Words, "Nothing was lost") {
		t.Errorf("%+v", p)
	}
	// To strike, to bring back and to move say nothing of what is in it.
	if _, err := d.c.Strike(ctx, core.NewID(), id, note.Event.ID, []string{note.Event.ID}, term.ReasonWrongPatient); err != nil {
		t.Error(err)
	}
	if err := d.c.Unlock(ctx, pin); err != nil {
		t.Fatal(err)
	}
	if _, err := d.c.NamePatient(ctx, core.NewID(), id, "", "no-9999"); err != nil {
		t.Fatal(err)
	}
	if who, all := d.shows(id); who != "Quentin Inventedson" || !strings.Contains(all, "no-9999") || !strings.Contains(all, "words that stay") {
		t.Errorf("%q %s", who, all)
	}
}

func TestWrongPINs(t *testing.T) {
	d := newDevice(t)
	ctx := t.Context()
	id := d.identity()
	d.closeCase(id)
	d.clock.pass(72 * time.Hour)
	paper := d.setUp()
	d.c.Lock()
	var wait *core.WaitError
	try := func(p string) error { wait = nil; return d.c.Unlock(ctx, p) }
	for range 3 {
		if err := try(otherPIN); !errors.Is(err, core.ErrWrongPIN) {
			t.Fatal(err)
		}
	}
	waits := func(when string, want time.Duration) {
		t.Helper()
		if err := try(pin); !errors.As(err, &wait) || wait.For != want {
			t.Errorf("%s: %v, want to wait %v", when, err, want)
		}
	}
	waits("after three", 30*time.Second)
	d.start()
	waits("after another start of the program", 30*time.Second)
	d.clock.wall = d.clock.wall.Add(-100 * time.Hour)
	waits("with the clock set back", 30*time.Second)
	d.clock.wall = d.clock.wall.Add(1000 * time.Hour)
	waits("with the clock set ahead", 30*time.Second)
	d.clock.pass(10 * time.Second)
	waits("ten seconds later", 20*time.Second)
	d.clock.boot, d.clock.since = "boot-2", time.Second
	waits("after another start of the device", 29*time.Second)
	d.clock.pass(29 * time.Second)
	if err := try(otherPIN); !errors.Is(err, core.ErrWrongPIN) {
		t.Error(err)
	}
	waits("after four", time.Minute)
	if s := d.state(); s.Wrong != 4 || s.Wait == "" {
		t.Errorf("%+v", s)
	}
	// Recording goes on, and so does the recovery key.
	submit(t, d.c, id, "note", "text", "a late note")
	if err := d.c.Recover(ctx, paper); err != nil {
		t.Fatal(err)
	}
	if err := d.c.ChoosePIN(ctx, otherPIN); err != nil {
		t.Fatal(err)
	}
	d.c.Lock()
	if err := try(pin); !errors.Is(err, core.ErrWrongPIN) {
		t.Errorf("the old PIN: %v", err)
	}
	if err := try(otherPIN); err != nil {
		t.Fatal(err)
	}
	if s := d.state(); s.Wrong != 0 || s.Locked {
		t.Errorf("%+v", s)
	}
}

func TestSetUpIsRefused(t *testing.T) {
	d := newDevice(t)
	ctx := t.Context()
	for _, tt := range []struct {
		pin  string
		want error
	}{{"12345", sealing.ErrShortPIN}, {"123456", sealing.ErrEasyPIN}, {strings.Repeat("8", 70), sealing.ErrLongPIN}} {
		if err := d.c.SetUpSealing(ctx, core.NewID(), tt.pin); !errors.Is(err, tt.want) {
			t.Errorf("%q: %v", tt.pin, err)
		}
	}
	d.safe.deaf = true
	if err := d.c.SetUpSealing(ctx, core.NewID(), pin); !errors.Is(err, core.ErrNoSafe) {
		t.Errorf("a key store that does not answer: %v", err)
	}
	d.safe.deaf = false
	if err := d.c.SealAnew(ctx, core.NewID(), pin); !errors.Is(err, core.ErrNotSetUp) {
		t.Errorf("anew before the first time: %v", err)
	}
	for _, err := range []error{d.c.Unlock(ctx, pin), d.c.ChoosePIN(ctx, pin), d.c.NewRecoveryKey(ctx, core.NewID())} {
		if !errors.Is(err, core.ErrNotSetUp) {
			t.Errorf("before set-up: %v", err)
		}
	}
	if s := d.state(); s.On || d.c.Stored() != 0 {
		t.Errorf("%+v, %d lines", s, d.c.Stored())
	}
	event := core.NewID()
	for range 2 { // the second is a retry
		if err := d.c.SetUpSealing(ctx, event, pin); err != nil {
			t.Fatal(err)
		}
	}
	if err := d.c.SetUpSealing(ctx, core.NewID(), pin); !errors.Is(err, core.ErrSetUp) {
		t.Errorf("a second time: %v", err)
	}
	if err := d.c.RecoveryPrinted(ctx, "0000"); !errors.Is(err, core.ErrWrongGroup) && d.c.RecoveryKey().Groups()[6] != "0000" {
		t.Errorf("a wrong group: %v", err)
	}
	if s := d.state(); s.Printed || !s.Showing {
		t.Errorf("%+v", s)
	}
	d.c.Lock()
	if err := d.c.RecoveryPrinted(ctx, "0000"); !errors.Is(err, core.ErrNotShown) {
		t.Errorf("once it is not shown: %v", err)
	}
	if err := d.c.NewRecoveryKey(ctx, core.NewID()); !errors.Is(err, core.ErrSealed) {
		t.Errorf("another recovery key while locked: %v", err)
	}
	if err := d.c.ChoosePIN(ctx, otherPIN); !errors.Is(err, core.ErrSealed) {
		t.Errorf("another PIN while locked: %v", err)
	}
	for text, want := range map[string]error{"": sealing.ErrRecovery, "ABCD": sealing.ErrRecovery} {
		if err := d.c.Recover(ctx, text); !errors.Is(err, want) {
			t.Errorf("%q: %v", text, err)
		}
	}
	other, err := sealing.NewRecovery()
	if err != nil {
		t.Fatal(err)
	}
	if err := d.c.Recover(ctx, other.Text()); !errors.Is(err, core.ErrNoSuchKey) {
		t.Errorf("the paper of another clinic: %v", err)
	}
}

// TestRecoveryKeyOutlivesSleep: to print it leads to another program, and the
// phone puts this one to sleep meanwhile.
func TestRecoveryKeyOutlivesSleep(t *testing.T) {
	d := newDevice(t)
	ctx := t.Context()
	if err := d.c.SetUpSealing(ctx, core.NewID(), pin); err != nil {
		t.Fatal(err)
	}
	r := d.c.RecoveryKey()
	if err := d.c.Suspend(ctx); err != nil {
		t.Fatal(err)
	}
	d.clock.pass(20 * time.Minute)
	if err := d.c.Resume(ctx); err != nil {
		t.Fatal(err)
	}
	if d.c.RecoveryKey() != r {
		t.Error("the recovery key is not shown any more")
	}
	d.clock.pass(time.Hour)
	if !d.c.RecoveryKey().IsZero() {
		t.Error("it is shown for ever")
	}
	// Another one is made with the PIN; both open.
	if err := d.c.Unlock(ctx, pin); err != nil {
		t.Fatal(err)
	}
	if err := d.c.NewRecoveryKey(ctx, core.NewID()); err != nil {
		t.Fatal(err)
	}
	again := d.c.RecoveryKey()
	for _, text := range []string{r.Text(), again.Text()} {
		d.c.Lock()
		if err := d.c.Recover(ctx, text); err != nil {
			t.Error(err)
		}
	}
}

// exported gives the lines of a device that the other takes in, as from a file
// with private parts.
func exported(t testing.TB, c *core.Companion) (lines []*timeline.Line) {
	t.Helper()
	err := c.All(context.Background(), func(l *timeline.Line) error {
		again, err := timeline.ParseLine(l.Bytes(true))
		lines = append(lines, &again)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return lines
}

// TestTwoDevicesOfAClinic: with keys of their own each reads what it took in;
// with the paper of the other one device seals for the same clinic; and no
// file that comes from elsewhere makes a device seal for somebody else.
func TestTwoDevicesOfAClinic(t *testing.T) {
	ctx := t.Context()
	a, b := newDevice(t), newDevice(t)
	caseA := a.identity()
	a.closeCase(caseA)
	paperA := a.setUp()
	if _, err := b.c.Merge(ctx, exported(t, a.c)); err != nil {
		t.Fatal(err)
	}
	if s := b.state(); s.On || s.Others != 1 {
		t.Errorf("a key that came in a file: %+v", s)
	}
	if len(holding(t, b.dir, invented...)) == 0 {
		t.Error("the other device seals for a key that it was sent")
	}
	if err := b.c.Recover(ctx, paperA); err != nil {
		t.Fatal(err)
	}
	if s := b.state(); !s.On || s.Locked || !s.NoPIN || s.Others != 0 {
		t.Errorf("joined: %+v", s)
	}
	b.nowhere("joined")
	if err := b.c.ChoosePIN(ctx, otherPIN); err != nil {
		t.Fatal(err)
	}
	b.clock.pass(72 * time.Hour)
	b.start()
	if who, _ := b.shows(caseA); !strings.HasPrefix(who, "Locked") {
		t.Errorf("joined and locked it shows %q", who)
	}
	if err := b.c.Unlock(ctx, otherPIN); err != nil {
		t.Fatal(err)
	}
	if who, _ := b.shows(caseA); who != "Quentin Inventedson" {
		t.Errorf("joined and unlocked it shows %q", who)
	}

	// A third device has a key of its own, takes in what the others have, and
	// joins later: both papers open what it has.
	c := newDevice(t)
	own := c.identity()
	c.closeCase(own)
	paperC := c.setUp()
	if _, err := c.c.Merge(ctx, exported(t, a.c)); err != nil {
		t.Fatal(err)
	}
	c.clock.pass(72 * time.Hour)
	c.start()
	for _, id := range []string{own, caseA} {
		if who, _ := c.shows(id); !strings.HasPrefix(who, "Locked") {
			t.Errorf("locked it shows %q", who)
		}
	}
	if err := c.c.Unlock(ctx, pin); err != nil {
		t.Fatal(err)
	}
	if err := c.c.Recover(ctx, paperA); err != nil {
		t.Fatal(err)
	}
	if err := c.c.ChoosePIN(ctx, pin); err != nil {
		t.Fatal(err)
	}
	late := c.identity()
	c.closeCase(late)
	c.clock.pass(72 * time.Hour)
	c.start()
	for _, with := range []func() error{
		func() error { return c.c.Unlock(ctx, pin) },
		func() error { return errors.Join(c.c.Recover(ctx, paperA), c.c.Recover(ctx, paperC)) },
	} {
		if err := with(); err != nil {
			t.Fatal(err)
		}
		for _, id := range []string{own, caseA, late} {
			if who, _ := c.shows(id); who != "Quentin Inventedson" {
				t.Errorf("with both keys it shows %q", who)
			}
		}
		c.c.Lock()
	}
	if err := c.c.Recover(ctx, paperC); err != nil {
		t.Fatal(err)
	}
	if who, _ := c.shows(late); !strings.HasPrefix(who, "Locked") {
		t.Errorf("what was sealed for the other clinic opens with this paper: %q", who)
	}
	c.nowhere("in the end")
}

// TestFolderOnAnotherDevice: a copy of the folder, a backup that was put back,
// a key store that forgot.
func TestFolderOnAnotherDevice(t *testing.T) {
	ctx := t.Context()
	a := newDevice(t)
	running := a.identity()
	paper := a.setUp()
	if err := a.c.Close(); err != nil {
		t.Fatal(err)
	}
	b := &clinicDevice{t: t, dir: filepath.Join(t.TempDir(), "copy"), clock: a.clock, safe: newPocket()}
	if err := os.CopyFS(b.dir, os.DirFS(a.dir)); err != nil {
		t.Fatal(err)
	}
	b.start()
	if s := b.state(); !s.On || !s.Locked || !s.OnlyPaper {
		t.Errorf("%+v", s)
	}
	if who, _ := b.shows(running); !strings.HasPrefix(who, "Locked") {
		t.Errorf("a copy shows %q", who)
	}
	if err := b.c.Unlock(ctx, pin); !errors.Is(err, core.ErrOnlyPaper) {
		t.Errorf("the PIN on a copy: %v", err)
	}
	// Recording goes on, and what is recorded can be read.
	mine := b.identity()
	submit(t, b.c, running, "note", "text", "goes on")
	if who, _ := b.shows(mine); who != "Quentin Inventedson" {
		t.Errorf("a case that was begun on the copy shows %q", who)
	}
	b.nowhere("on the copy")
	if err := b.c.Recover(ctx, paper); err != nil {
		t.Fatal(err)
	}
	if err := b.c.ChoosePIN(ctx, otherPIN); err != nil {
		t.Fatal(err)
	}
	b.start()
	for _, id := range []string{running, mine} {
		if who, _ := b.shows(id); who != "Quentin Inventedson" {
			t.Errorf("an open case, after the recovery key and another start, shows %q", who)
		}
	}
	if s := b.state(); !s.Locked || s.OnlyPaper {
		t.Errorf("%+v", s)
	}
	if err := b.c.Unlock(ctx, otherPIN); err != nil {
		t.Fatal(err)
	}

	// A key store that does not answer for once forgets nothing.
	b.safe.deaf = true
	b.start()
	if who, _ := b.shows(running); !strings.HasPrefix(who, "Locked") {
		t.Errorf("without the key store it shows %q", who)
	}
	b.safe.deaf = false
	b.start()
	if who, _ := b.shows(running); who != "Quentin Inventedson" {
		t.Errorf("with the key store again it shows %q", who)
	}
	if err := b.c.Unlock(ctx, otherPIN); err != nil {
		t.Fatal(err)
	}
}

// TestBothAreLost: without PIN and paper the record stays, without identity,
// and what comes can be sealed for another key.
func TestBothAreLost(t *testing.T) {
	d := newDevice(t)
	ctx := t.Context()
	old := d.identity()
	d.closeCase(old)
	d.clock.pass(72 * time.Hour)
	paper := d.setUp()
	d.c.Lock()
	if err := d.c.SealAnew(ctx, core.NewID(), otherPIN); err != nil {
		t.Fatal(err)
	}
	if s := d.state(); !s.Showing || s.Printed || s.Locked {
		t.Errorf("%+v", s)
	}
	if who, all := d.shows(old); !strings.HasPrefix(who, "Locked") || !strings.Contains(all, "anaesthe") {
		t.Errorf("it shows %q %s", who, all)
	}
	late := d.identity()
	d.closeCase(late)
	d.clock.pass(72 * time.Hour)
	d.start()
	if err := d.c.Unlock(ctx, otherPIN); err != nil {
		t.Fatal(err)
	}
	if who, _ := d.shows(late); who != "Quentin Inventedson" {
		t.Errorf("what came after shows %q", who)
	}
	if who, _ := d.shows(old); !strings.HasPrefix(who, "Locked") {
		t.Errorf("what came before shows %q", who)
	}
	// The paper turned up.
	if err := d.c.Recover(ctx, paper); err != nil {
		t.Fatal(err)
	}
	for _, id := range []string{old, late} {
		if who, _ := d.shows(id); who != "Quentin Inventedson" {
			t.Errorf("once the paper turned up it shows %q", who)
		}
	}
	if err := d.c.ChoosePIN(ctx, pin); err != nil {
		t.Fatal(err)
	}
	d.c.Lock()
	if err := d.c.Unlock(ctx, pin); err != nil {
		t.Fatal(err)
	}
	if who, _ := d.shows(old); who != "Quentin Inventedson" {
		t.Errorf("by the new PIN it shows %q", who)
	}
}

// TestPaperOpensWithAge: the printed key opens the wrapped identity that
// travels in the record with any program that knows age, and nothing of it
// names anybody.
func TestPaperOpensWithAge(t *testing.T) {
	d := newDevice(t)
	paper := d.setUp()
	for _, l := range exported(t, d.c) {
		k, ok := l.Payload.(*timeline.ClinicKey)
		if !ok {
			continue
		}
		keys, err := core.ClinicKeyFile(k)
		if err != nil {
			t.Fatal(err)
		}
		id, err := age.NewScryptIdentity(paper)
		if err != nil {
			t.Fatal(err)
		}
		r, err := age.Decrypt(bytes.NewReader(keys), id)
		if err != nil {
			t.Fatal(err)
		}
		var b bytes.Buffer
		if _, err := b.ReadFrom(r); err != nil || !strings.HasPrefix(b.String(), "AGE-SECRET-KEY-1") {
			t.Fatalf("%v", err)
		}
		return
	}
	t.Fatal("the key of the clinic is not in the record")
}

// TestDestructionWhileLocked: identity is destroyed on request, whoever has
// the PIN.
func TestDestructionWhileLocked(t *testing.T) {
	d := newDevice(t)
	ctx := t.Context()
	id := d.identity()
	d.closeCase(id)
	d.clock.pass(72 * time.Hour)
	d.setUp()
	d.c.Lock()
	lines, err := d.c.Closure(ctx, id)
	if err != nil {
		t.Fatal(err)
	}
	var private []string
	for _, l := range lines {
		if l.Sealed {
			private = append(private, l.Event.ID)
		}
	}
	if len(private) < 3 {
		t.Fatalf("%d sealed parts", len(private))
	}
	if _, err := d.c.Record(ctx, core.Tap{ID: core.NewID(), Scope: timeline.ScopeCase, About: id, Payload: &timeline.IdentityDestroyed{Events: private, Grounds: term.GroundsList.Codes()[0]}}); err != nil {
		t.Fatal(err)
	}
	if err := d.c.Unlock(ctx, pin); err != nil {
		t.Fatal(err)
	}
	if who, all := d.shows(id); strings.Contains(who, "Locked") || slices.ContainsFunc(invented, func(x string) bool { return strings.Contains(who+all, x) }) {
		t.Errorf("after the destruction it shows %q %s", who, all)
	}
	if r, err := d.c.Verify(ctx); err != nil || len(r.Findings) > 0 {
		t.Errorf("%v %+v", err, r)
	}
}

// TestClosedCaseOfAnotherDeviceIsLockedAtOnce: a year of cases that is taken
// in does not lie about readable.
func TestClosedCaseOfAnotherDeviceIsLockedAtOnce(t *testing.T) {
	ctx := t.Context()
	a, b := newDevice(t), newDevice(t)
	b.setUp()
	b.c.Lock()
	old := a.identity()
	a.closeCase(old)
	a.clock.pass(72 * time.Hour)
	running := a.identity()
	b.clock.pass(72 * time.Hour)
	if _, err := b.c.Merge(ctx, exported(t, a.c)); err != nil {
		t.Fatal(err)
	}
	if who, _ := b.shows(old); !strings.HasPrefix(who, "Locked") {
		t.Errorf("it shows %q", who)
	}
	if who, _ := b.shows(running); who != "Quentin Inventedson" {
		t.Errorf("the open one shows %q", who)
	}
	b.nowhere("after the merge")
}

// TestSealedAnyWay: however cases are opened, named, closed, locked and left
// alone for days, an open case can always be read, one that is long over never
// without the PIN, and no file holds a name.
func TestSealedAnyWay(t *testing.T) {
	core.CheapPIN(t)
	rapid.Check(t, func(rt *rapid.T) {
		dir, err := os.MkdirTemp("", "sealed-*")
		if err != nil {
			rt.Fatal(err)
		}
		defer func() { _ = os.RemoveAll(dir) }() // a leftover is no harm
		clock, safe := newClock(), newPocket()
		ctx := context.Background()
		var c *core.Companion
		start := func() {
			if c != nil {
				if err := c.Close(); err != nil {
					rt.Fatal(err)
				}
			}
			if c, err = core.Open(ctx, core.Options{Dir: dir, Installation: "here", Clock: clock, Words: word.English(), Safe: safe}); err != nil {
				rt.Fatal(err)
			}
		}
		start()
		defer func() { c.Close() }()
		closedAt := map[string]time.Duration{} // since boot; not there: open
		var cases []string
		on, unlocked := false, time.Duration(-1)
		for range rapid.IntRange(3, 12).Draw(rt, "steps") {
			switch rapid.SampledFrom([]string{"open", "open", "close", "set up", "unlock", "lock", "wait", "wait", "start anew"}).Draw(rt, "step") {
			case "open":
				id, _, err := c.OpenCase(ctx, core.Form{ID: core.NewID(), Fields: map[string][]string{"name": {"Quentin Inventedson"}}})
				if err != nil {
					rt.Fatal(err)
				}
				cases = append(cases, id)
			case "close":
				for _, id := range cases {
					if _, over := closedAt[id]; !over {
						if _, err := c.Submit(ctx, form(id, "case-closed")); err != nil {
							rt.Fatal(err)
						}
						closedAt[id] = clock.since
						break
					}
				}
			case "set up":
				if !on {
					if err := c.SetUpSealing(ctx, core.NewID(), pin); err != nil {
						rt.Fatal(err)
					}
					on, unlocked = true, clock.since
				}
			case "unlock":
				if on {
					if err := c.Unlock(ctx, pin); err != nil {
						rt.Fatal(err)
					}
					unlocked = clock.since
				}
			case "lock":
				c.Lock()
				unlocked = -1
			case "wait":
				clock.pass(rapid.SampledFrom([]time.Duration{9 * time.Minute, 20 * time.Hour, 50 * time.Hour}).Draw(rt, "for"))
			case "start anew":
				start()
				unlocked = -1
			}
			if _, err := c.Today(ctx); err != nil {
				rt.Fatal(err)
			}
			open := unlocked >= 0 && clock.since-unlocked < 10*time.Minute
			for _, id := range cases {
				h, _, err := c.HeadOf(ctx, id)
				if err != nil {
					rt.Fatal(err)
				}
				at, over := closedAt[id]
				switch named := h.For == "Quentin Inventedson"; {
				case !over && !named:
					rt.Fatalf("an open case shows %q", h.For)
				case over && (!on || open || clock.since-at < 47*time.Hour) && !named:
					rt.Fatalf("a case that can be read shows %q", h.For)
				case over && on && !open && clock.since-at > 49*time.Hour && named:
					rt.Fatalf("a case that is over for %v shows its name", clock.since-at)
				}
			}
		}
		if on {
			if where := holding(t, dir, "Quentin", "Inventedson"); len(where) > 0 {
				rt.Fatalf("a name lies in the clear: %q", where)
			}
		}
	})
}

func TestClaimedAuthor(t *testing.T) {
	ctx := t.Context()
	a, b := newDevice(t), newDevice(t)
	id := openCase(t, a.c, "")
	unknownAt := a.c.Author()
	if _, err := b.c.NameAuthor(ctx, core.NewID(), "Ama Inventedova"); err != nil {
		t.Fatal(err)
	}
	if _, err := b.c.Merge(ctx, exported(t, a.c)); err != nil {
		t.Fatal(err)
	}
	unknown, known, err := b.c.People(ctx)
	if err != nil || len(unknown) != 1 || len(known) != 1 || unknown[0].Person != unknownAt || unknown[0].Entries == 0 || unknown[0].Cases != 1 || !known[0].Here || known[0].Name != "Ama Inventedova" {
		t.Fatalf("%v\n%+v\n%+v", err, unknown, known)
	}
	if _, all := b.shows(id); strings.Contains(all, "Ama") {
		t.Errorf("before anybody said so: %s", all)
	}
	if _, err := b.c.Claim(ctx, core.NewID(), unknownAt, unknownAt); err == nil {
		t.Error("somebody was themselves")
	}
	if _, err := b.c.Claim(ctx, core.NewID(), unknownAt, core.NewID()); !errors.Is(err, core.ErrNotHere) {
		t.Errorf("claimed for nobody: %v", err)
	}
	before := exported(t, b.c)
	done, err := b.c.Claim(ctx, core.NewID(), unknownAt, known[0].Person)
	if err != nil {
		t.Fatal(err)
	}
	if got := exported(t, b.c); len(got) != len(before)+1 {
		t.Errorf("%d lines were written", len(got)-len(before))
	}
	_, all := b.shows(id)
	if strings.Count(all, "by Ama Inventedova") < 2 || strings.Contains(all, "by unnamed") {
		t.Errorf("after it: %s", all)
	}
	if unknown, _, err = b.c.People(ctx); err != nil || len(unknown) != 0 {
		t.Errorf("%v %+v", err, unknown)
	}
	// It comes to the other device with the lines, and is taken back by a strike.
	if _, err := a.c.Merge(ctx, exported(t, b.c)); err != nil {
		t.Fatal(err)
	}
	if _, all := a.shows(id); !strings.Contains(all, "by Ama Inventedova") {
		t.Errorf("on the other device: %s", all)
	}
	if name, err := a.c.AuthorName(ctx); err != nil || name != "Ama Inventedova" {
		t.Errorf("%q %v", name, err)
	}
	if _, err := a.c.NameAuthor(ctx, core.NewID(), "Ama Otherwise"); err != nil {
		t.Error(err)
	}
	if _, all := a.shows(id); !strings.Contains(all, "by Ama Otherwise") {
		t.Errorf("under another name: %s", all)
	}
	claim := done.Lines[0]
	if _, err := b.c.Record(ctx, core.Tap{ID: core.NewID(), Scope: timeline.ScopeClinic, About: unknownAt, Payload: &timeline.Struck{},
		Amends: claim.Event.ID, Replaces: []string{claim.Event.ID}, Reason: term.ReasonMistyped}); err != nil {
		t.Fatal(err)
	}
	if _, all := b.shows(id); strings.Contains(all, "Ama") {
		t.Errorf("taken back: %s", all)
	}
}
