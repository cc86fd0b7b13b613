package keep

import (
	"bytes"
	"context"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"chinlift/core"
	"chinlift/core/must"
	"chinlift/core/sealing"
	"chinlift/core/timeline"
	"chinlift/core/word"
	"chinlift/mobile/ui"
	"chinlift/sync/plain"
)

// openSafe keeps a secret as it is.
type openSafe struct{}

func (openSafe) Wrap(b []byte) ([]byte, error)   { return slices.Clone(b), nil }
func (openSafe) Unwrap(b []byte) ([]byte, error) { return slices.Clone(b), nil }

// ahead is a clock that goes ahead by hand.
type ahead struct{ by time.Duration }

func (a *ahead) Now() core.Reading {
	r := core.SystemClock().Now()
	r.Wall, r.SinceBoot = r.Wall.Add(a.by), r.SinceBoot+a.by
	return r
}

// device is a companion with what takes in.
type device struct {
	*testing.T
	*core.Companion
	*Intake
	dir   string
	clock *ahead
}

func newDevice(t *testing.T, installation string) *device {
	t.Helper()
	dir, clock := t.TempDir(), &ahead{}
	c := must.Get[*core.Companion](t)(core.Open(t.Context(), core.Options{Dir: dir, Installation: installation, Clock: clock, Words: word.English(), Safe: openSafe{}}))
	t.Cleanup(func() { c.Close() })
	return &device{t, c, NewIntake(c, dir, clock), dir, clock}
}

func (d *device) newCase(name string) string {
	d.Helper()
	id, _, err := d.OpenCase(d.Context(), core.Form{ID: core.NewID(), Fields: map[string][]string{"name": {name}, "age": {"34"}, "age_unit": {"a"}, "sex": {"female"}}})
	if err != nil {
		d.Fatal(err)
	}
	return id
}

func (d *device) note(id, text string) {
	d.Helper()
	if _, err := d.Submit(d.Context(), core.Form{ID: core.NewID(), Case: id, Kind: "note", Fields: map[string][]string{"text": {text}}}); err != nil {
		d.Fatal(err)
	}
}

// export gives the lines.jsonl of everything.
func (d *device) export(seal plain.Seal) []byte {
	d.Helper()
	out := d.TempDir()
	must.Get[[]string](d.T)(plain.Export(d.Context(), d.Companion, out, plain.Options{Private: true, Seal: seal, Made: d.Now().Wall}))
	name := "lines.jsonl"
	if !seal.IsZero() {
		name += plain.Sealed
	}
	return must.Get[[]byte](d.T)(os.ReadFile(filepath.Join(out, name)))
}

func (d *device) lines() (all []string) {
	d.Helper()
	if err := d.All(d.Context(), func(l *timeline.Line) error {
		all = append(all, string(l.Bytes(true)))
		return nil
	}); err != nil {
		d.Fatal(err)
	}
	slices.Sort(all)
	return all
}

// give hands a file over whole.
func (d *device) give(data []byte) {
	d.Helper()
	if err := d.Receive(d.Context(), 0, int64(len(data)), bytes.NewReader(data)); err != nil {
		d.Fatal(err)
	}
}

// looks looks at the file, and answers how it stands.
func (d *device) looks(secret, recovery string) ui.Incoming {
	d.Helper()
	if err := d.Look(d.Context(), secret, recovery); err != nil {
		d.Fatal(err)
	}
	return d.Incoming()
}

func (d *device) takes() ui.Incoming {
	d.Helper()
	if err := d.Take(d.Context()); err != nil {
		d.Fatal(err)
	}
	return d.Incoming()
}

// left lists what lies in the folder of what comes in.
func (d *device) left() (names []string) {
	d.Helper()
	if err := filepath.WalkDir(filepath.Join(d.dir, incomingFolder), func(path string, e fs.DirEntry, err error) error {
		if err == nil && !e.IsDir() {
			names = append(names, path)
		}
		return nil
	}); err != nil {
		d.Fatal(err)
	}
	return names
}

// Lines come in after they were looked at, and not before; a second time they
// change nothing.
func TestLinesComeIn(t *testing.T) {
	a, b := newDevice(t, "a"), newDevice(t, "b")
	id := a.newCase("Invented Person")
	a.note(id, "saw the well")
	own := b.newCase("Another One")
	file := a.export(plain.Seal{})
	before := b.lines()
	b.give(file)
	in := b.looks("", "")
	if in.State != ui.IncomingLooked || in.Device || in.Found.New != len(a.lines()) || in.Found.Known != 0 || in.Found.Cases != 1 || in.Found.NewCases != 1 ||
		!in.Found.Names || !in.Found.Whole || in.Found.Broken+in.Found.Forks+in.Found.Damaged+in.Found.Gaps != 0 || len(in.Found.Logs) != 1 || in.Found.Logs[0].Lines != in.Found.New {
		t.Fatalf("%+v", in)
	}
	if got := b.lines(); !slices.Equal(got, before) {
		t.Fatal("looking changed the record")
	}
	done := b.takes()
	if done.State != ui.IncomingDone || done.Taken.New != in.Found.New || done.Taken.Cases != 1 || done.Taken.Aside+done.Taken.Conflicts+done.Taken.Waiting+done.Taken.LeftOut != 0 || done.Taken.Succeeded {
		t.Errorf("%+v", done)
	}
	if got := b.lines(); len(got) != len(before)+in.Found.New {
		t.Errorf("%d lines, of %d and %d", len(got), len(before), in.Found.New)
	}
	if left := b.left(); len(left) > 0 {
		t.Errorf("left: %v", left)
	}
	if err := b.Take(t.Context()); err != nil || b.Incoming().Taken != done.Taken {
		t.Errorf("a retry: %v", err)
	}
	b.give(file)
	if in = b.looks("", ""); in.Found.New != 0 || in.Found.Known != done.Taken.New || in.Found.NewCases != 0 {
		t.Errorf("again: %+v", in)
	}
	if r := must.Get[*core.Case](t)(b.Case(t.Context(), own)); r == nil {
		t.Error("the own case is gone")
	}
}

// What is damaged changes nothing, and is told as what it is.
func TestDamagedFilesChangeNothing(t *testing.T) {
	a, b := newDevice(t, "a"), newDevice(t, "b")
	a.note(a.newCase("Invented Person"), "saw the well")
	k := must.Get[plain.Key](t)(plain.NewKey())
	other := must.Get[plain.Key](t)(plain.NewKey())
	sealed := a.export(must.Get[plain.Seal](t)(plain.SealFor(k.Recipient())))
	lines := a.export(plain.Seal{})
	if err := a.BackUp(t.Context(), "", k.Recipient()); err != nil {
		t.Fatal(err)
	}
	_, backup, err := a.Intake.Backup()
	if err != nil {
		t.Fatal(err)
	}
	changed := func(data []byte) []byte {
		data = slices.Clone(data)
		data[len(data)-20] ^= 1
		return data
	}
	for _, tt := range []struct {
		name   string
		file   []byte
		secret string
		why    string
	}{
		{"sealed, and nothing typed", sealed, "", "sealed"},
		{"sealed, another key", sealed, other.Secret(), "sealed"},
		{"sealed, a passphrase", sealed, "an invented passphrase", "sealed"},
		{"sealed and changed", changed(sealed), k.Secret(), "damaged"},
		{"sealed and cut off", sealed[:len(sealed)-30], k.Secret(), "damaged"},
		{"backup changed", changed(backup), k.Secret(), "damaged"},
		{"backup cut off", backup[:len(backup)/2], k.Secret(), "damaged"},
		{"a table", []byte("case,at\n1,2\n"), "", "none"},
		{"something else of JSON", []byte(`{"a": 1}` + "\n"), "", "none"},
	} {
		b.give(tt.file)
		in := b.looks(tt.secret, "")
		if in.State != ui.IncomingHere || in.Why != tt.why {
			t.Errorf("%s: %q, %q; want %q", tt.name, in.State, in.Why, tt.why)
		}
		var bad *ui.TakeError
		if err := b.Take(t.Context()); !errors.As(err, &bad) || bad.Code != "nothing" {
			t.Errorf("%s: taken in: %v", tt.name, err)
		}
	}
	if got := b.lines(); len(got) != 0 {
		t.Fatalf("%d lines came in", len(got))
	}
	// A line that was altered is left out, and the others come in.
	b.give(bytes.Replace(lines, []byte("34"), []byte("35"), 1))
	if in := b.looks("", ""); in.Found.Damaged != 1 || in.Found.New != len(a.lines())-1 {
		t.Errorf("altered: %+v", in.Found)
	}
	if in := b.takes(); in.Taken.LeftOut != 1 || in.Taken.New != len(a.lines())-1 {
		t.Errorf("altered: %+v", in.Taken)
	}
	b.Drop()
	if left := b.left(); len(left) > 0 || b.Incoming().State != ui.IncomingNone {
		t.Errorf("left: %v", left)
	}
}

// Two lines that claim one number are told before, kept both, and set aside.
func TestForksAreShown(t *testing.T) {
	a := newDevice(t, "a")
	id := a.newCase("Invented Person")
	// A copy of the folder that passes for the same installation.
	dir := t.TempDir()
	tar := tarOf(t, a)
	if err := plain.Unpack(t.Context(), tar, filepath.Join(dir, "x"), tar.Size()); err != nil {
		t.Fatal(err)
	}
	c := must.Get[*core.Companion](t)(core.Open(t.Context(), core.Options{Dir: filepath.Join(dir, "x"), Installation: "a", Clock: core.SystemClock(), Words: word.English()}))
	defer c.Close()
	twin := &device{t, c, NewIntake(c, dir, core.SystemClock()), dir, nil}
	a.note(id, "here")
	twin.note(id, "there")
	twin.note(id, "and once more")
	a.give(twin.export(plain.Seal{}))
	in := a.looks("", "")
	if in.Found.Forks != 1 || in.Found.New != 2 || in.Found.Broken != 0 || in.Found.NewCases != 0 {
		t.Fatalf("%+v", in.Found)
	}
	// Without its fork the last line names one that is not here, in whose place
	// another stands.
	whole := bytes.Split(bytes.TrimSpace(twin.export(plain.Seal{})), []byte("\n"))
	a.give(append(whole[len(whole)-1], '\n'))
	if in = a.looks("", ""); in.Found.New != 1 || in.Found.Broken != 1 || in.Found.Whole {
		t.Errorf("%+v", in.Found)
	}
	a.give(twin.export(plain.Seal{}))
	a.looks("", "")
	if in = a.takes(); in.Taken.Aside != 1 || in.Taken.New != 2 {
		t.Errorf("%+v", in.Taken)
	}
	notes := 0
	for _, l := range a.lines() {
		if strings.Contains(l, `"here"`) || strings.Contains(l, `"there"`) {
			notes++
		}
	}
	if notes != 2 {
		t.Errorf("%d of the two notes are kept", notes)
	}
}

// tarOf gives the backup of a device, unsealed by the test's own key.
func tarOf(t *testing.T, d *device) *bytes.Reader {
	t.Helper()
	k := must.Get[plain.Key](t)(plain.NewKey())
	var b, open bytes.Buffer
	if err := plain.WriteBackup(t.Context(), d.Companion, &b, must.Get[plain.Seal](t)(plain.SealFor(k.Recipient()))); err != nil {
		t.Fatal(err)
	}
	r, err := must.Get[plain.Unseal](t)(plain.Unseal{}.With(strings.NewReader(k.Secret()))).Open(&b)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := open.ReadFrom(r); err != nil {
		t.Fatal(err)
	}
	return bytes.NewReader(open.Bytes())
}

// A device is lost: its backup, sealed with a passphrase, is taken into a new one
// whose log then cites the old head.
func TestBackupIntoANewDevice(t *testing.T) {
	old, fresh := newDevice(t, "old"), newDevice(t, "fresh")
	id := old.newCase("Invented Person")
	old.note(id, "saw the well")
	const phrase = "an invented passphrase"
	for _, tt := range []struct{ pass, key, code string }{{"short", "", "short"}, {"", "age1nonsense", "public-key"}} {
		var bad *ui.TakeError
		if err := old.BackUp(t.Context(), tt.pass, tt.key); !errors.As(err, &bad) || bad.Code != tt.code {
			t.Errorf("%+v: %v", tt, err)
		}
	}
	var bad *ui.TakeError
	if _, _, err := old.Intake.Backup(); !errors.As(err, &bad) {
		t.Errorf("a backup that nobody made: %v", err)
	}
	if err := old.BackUp(t.Context(), phrase, ""); err != nil || old.Incoming().BackedUp == 0 {
		t.Fatal(err, old.Incoming())
	}
	name, backup, err := old.Intake.Backup()
	if err != nil || name != plain.BackupName || bytes.Contains(backup, []byte("Invented")) || !bytes.HasPrefix(backup, []byte("age-encryption.org/v1\n-> scrypt")) {
		t.Fatal(name, err)
	}
	head := old.Last()
	want := old.lines()

	// In pieces, as a phone hands it over.
	const piece = 10_000
	for at := 0; at < len(backup); at += piece {
		part := backup[at:min(at+piece, len(backup))]
		if err := fresh.Receive(t.Context(), int64(at), int64(len(backup)), bytes.NewReader(part)); err != nil {
			t.Fatal(err)
		}
		if err := fresh.Receive(t.Context(), int64(at+piece+1), int64(len(backup)), bytes.NewReader(part)); !errors.As(err, &bad) || bad.Code != "again" {
			t.Fatalf("out of order: %v", err)
		}
	}
	if in := fresh.Incoming(); in.State != ui.IncomingHere || !in.Sealed || in.Bytes != int64(len(backup)) {
		t.Fatalf("%+v", in)
	}
	in := fresh.looks(phrase, "")
	if !in.Device || in.Found.New != len(want) || !in.Found.Whole || in.Found.Locked != 0 || in.Found.Lacks != 0 {
		t.Fatalf("%+v", in)
	}
	in = fresh.takes()
	if in.Taken.New != len(want) || !in.Taken.Succeeded || len(fresh.left()) > 0 {
		t.Fatalf("%+v, left %v", in, fresh.left())
	}
	var opened []*timeline.LogOpened
	if err := fresh.All(t.Context(), func(l *timeline.Line) error {
		if p, ok := l.Payload.(*timeline.LogOpened); ok {
			opened = append(opened, p)
		}
		return nil
	}); err != nil {
		t.Fatal(err)
	}
	if len(opened) != 2 || opened[1].Cites != head.Log || opened[1].At != head.Seq || opened[1].Head != head.Hash {
		t.Errorf("%+v, want %+v", opened, head)
	}
	fresh.note(id, "on the new device")
	if r, err := fresh.Verify(t.Context()); err != nil || len(r.Findings) > 0 || r.Continuity != "whole" {
		t.Errorf("%+v, %v", r, err)
	}
	// The old one was found again: each takes in what the other has.
	old.note(id, "found again")
	old.give(fresh.export(plain.Seal{}))
	if in := old.looks("", ""); in.Found.New != 2+1 && in.Found.New != 2 {
		t.Errorf("%+v", in.Found)
	}
	old.takes()
	fresh.give(old.export(plain.Seal{}))
	fresh.looks("", "")
	if in := fresh.takes(); in.Taken.New != 1 || in.Taken.Aside != 0 {
		t.Errorf("%+v", in.Taken)
	}
	if a, b := old.lines(), fresh.lines(); !slices.Equal(a, b) {
		t.Errorf("%d and %d lines", len(a), len(b))
	}
}

// What is locked in a backup comes in with the recovery key of its clinic, and
// without it later.
func TestLockedBackup(t *testing.T) {
	old, fresh := newDevice(t, "old"), newDevice(t, "fresh")
	id := old.newCase("Invented Person")
	old.note(id, "saw the well")
	if _, err := old.Submit(t.Context(), core.Form{ID: core.NewID(), Case: id, Kind: "case-closed"}); err != nil {
		t.Fatal(err)
	}
	if err := old.SetUpSealing(t.Context(), core.NewID(), "274916"); err != nil {
		t.Fatal(err)
	}
	recovery := strings.Join(old.RecoveryKey().Groups(), " ")
	wrong := must.Get[sealing.Recovery](t)(sealing.NewRecovery())
	old.Lock()
	old.clock.by, fresh.clock.by = 100*time.Hour, 100*time.Hour
	old.LockOverdue(t.Context())
	k := must.Get[plain.Key](t)(plain.NewKey())
	if err := old.BackUp(t.Context(), "", k.Recipient()); err != nil {
		t.Fatal(err)
	}
	_, backup, err := old.Intake.Backup()
	if err != nil {
		t.Fatal(err)
	}
	fresh.give(backup)
	in := fresh.looks(k.Secret(), "")
	if in.Why != "" || in.State != ui.IncomingLooked {
		t.Fatalf("%+v", in)
	}
	if in.Found.Locked == 0 || in.Found.New != len(old.lines()) {
		t.Errorf("%d lines are locked, of %d", in.Found.Locked, in.Found.New)
	}
	if in = fresh.takes(); in.Taken.New != len(old.lines()) || strings.Contains(strings.Join(fresh.lines(), "\n"), "Invented Person") {
		t.Errorf("without the key: %+v", in.Taken)
	}
	fresh.give(backup)
	fresh.looks(k.Secret(), "")
	if in = fresh.looks("", strings.Join(wrong.Groups(), " ")); in.Why != "recovery" {
		t.Errorf("another clinic's key: %+v", in.Why)
	}
	if in = fresh.looks("", recovery); in.Why != "" || in.Found.Locked != 0 || !in.Found.Names || in.Found.New != 0 || in.Found.PrivateAdded == 0 {
		t.Fatalf("with the recovery key: %+v", in)
	}
	if in = fresh.takes(); in.Taken.PrivateAdded == 0 {
		t.Errorf("%+v", in.Taken)
	}
	if text := strings.Join(fresh.lines(), "\n"); !strings.Contains(text, "Invented Person") || !strings.Contains(text, "saw the well") {
		t.Error("the name did not come along")
	}
}

// A passphrase opens the key of an export, and that what it is for.
func TestKeyFirst(t *testing.T) {
	a, b := newDevice(t, "a"), newDevice(t, "b")
	a.newCase("Invented Person")
	out := t.TempDir()
	const phrase = "an invented passphrase"
	must.Get[[]string](t)(plain.Export(t.Context(), a.Companion, out, plain.Options{Seal: must.Get[plain.Seal](t)(plain.SealWith(phrase)), Made: a.Now().Wall}))
	b.give(must.Get[[]byte](t)(os.ReadFile(filepath.Join(out, "key.age"))))
	if in := b.looks(phrase, ""); !in.KeyHeld || in.State != ui.IncomingNone || in.Why != "" {
		t.Fatalf("%+v", in)
	}
	b.give(must.Get[[]byte](t)(os.ReadFile(filepath.Join(out, "lines.jsonl.age"))))
	if in := b.looks("", ""); in.Found.New == 0 || in.Found.Names {
		t.Fatalf("%+v", in)
	}
	b.takes()
	if b.Drop(); b.Incoming().KeyHeld {
		t.Error("the key is still held")
	}
}

// What an earlier run left is gone, and what is at work can be ended.
func TestIntakeEnds(t *testing.T) {
	a := newDevice(t, "a")
	a.newCase("Invented Person")
	a.give(a.export(plain.Seal{}))
	if len(a.left()) != 1 {
		t.Fatal(a.left())
	}
	again := NewIntake(a.Companion, a.dir, core.SystemClock())
	if len(a.left()) != 0 || again.Incoming().State != ui.IncomingNone {
		t.Errorf("left %v", a.left())
	}
	begun := make(chan struct{})
	go func() {
		<-begun
		again.Rest()
	}()
	if err := again.work(ui.IncomingHere, func(ctx context.Context) (func(*ui.Incoming), error) {
		close(begun)
		<-ctx.Done()
		return nil, ctx.Err()
	}); err != nil || again.Incoming().Why != "stopped" {
		t.Errorf("%v, %+v", err, again.Incoming())
	}
	if err := again.work(ui.IncomingHere, func(context.Context) (func(*ui.Incoming), error) { panic("a defect") }); err != nil || again.Incoming().Why == "" {
		t.Errorf("%v, %+v", err, again.Incoming())
	}
}
