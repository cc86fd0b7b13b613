package store

import (
	"bytes"
	"context"
	"encoding/hex"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"chinlift/core/must"
	"chinlift/core/sealing"
	"chinlift/core/timeline"
)

// pocket is the place outside the folder where a device keeps its secret.
type pocket struct{ key sealing.Key }

func newPocket(t tester) *pocket { return &pocket{must.Get[sealing.Key](t)(sealing.NewKey())} }

func (p *pocket) Wrap(secret []byte) ([]byte, error)    { return p.key.Seal(secret, nil) }
func (p *pocket) Unwrap(wrapped []byte) ([]byte, error) { return p.key.Open(wrapped, nil) }

// lightWork costs next to nothing.
var lightWork = sealing.Work{Passes: 1, MemoryKiB: 8, Lanes: 1}

const testPIN = "274916"

// clinic is who can open what a store sealed.
type clinic struct {
	id       sealing.Identity
	recovery sealing.Recovery
	device   sealing.Key
}

// setUp begins to seal in a store, without sealing what is there.
func setUp(t tester, s *Store) clinic {
	t.Helper()
	c := clinic{must.Get[sealing.Identity](t)(sealing.NewIdentity()), must.Get[sealing.Recovery](t)(sealing.NewRecovery()), must.Get[sealing.Key](t)(sealing.NewKey())}
	v := sealing.Vault{Recipient: c.id.Recipient(), Secret: must.Get[[]byte](t)(s.o.Safe.Wrap(c.device[:]))}
	v = v.With(sealing.ClinicKey{Recipient: v.Recipient, Recovery: must.Get[[]byte](t)(c.recovery.Wrap(c.id))})
	v.PIN = must.Get[*sealing.PINLock](t)(sealing.LockWithPIN(testPIN, c.device, lightWork, []sealing.Identity{c.id}))
	must.Get[[]*timeline.Line](t)(s.SetVault(context.Background(), v, &c.device))
	return c
}

func sealedOptions(t tester, dir string) Options {
	o := options(dir)
	o.Safe = newPocket(t)
	return o
}

func keepAll(*timeline.Line) bool  { return true }
func keepNone(*timeline.Line) bool { return false }

// textOf gives the note of a line as a case reads it; sealed where it is so.
func textOf(t tester, s *Store, about, id string) (text string, sealed bool) {
	t.Helper()
	for _, l := range must.Get[[]*timeline.Line](t)(s.Case(context.Background(), about)) {
		if l.Event.ID == id {
			if l.Sealed && (l.P != nil || l.Private != nil) {
				t.Fatal("a sealed line has a private part")
			}
			return l.Private[timeline.PrivateText], l.Sealed
		}
	}
	t.Fatalf("%s is not here", id)
	return "", false
}

func TestRecordingNeedsNoUnlocking(t *testing.T) {
	dir := t.TempDir()
	o := sealedOptions(t, dir)
	s := must.Get[*Store](t)(Open(t.Context(), o))
	c := setUp(t, s)
	caseID := newID()
	l := appendAll(t, s, opened(caseID), note(caseID, "Quentin-Invented"))[1]
	if where := holding(t, dir, "Quentin-Invented"); where != "" {
		t.Fatalf("it lies open in %s", where)
	}
	check := func(when, want string, sealed bool) {
		t.Helper()
		if text, is := textOf(t, s, caseID, l.Event.ID); text != want || is != sealed {
			t.Errorf("%s: %q, sealed %v", when, text, is)
		}
	}
	check("while it is kept", "Quentin-Invented", false)
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	s = open(t, o)
	check("after another start", "Quentin-Invented", false)
	if err := s.Part(t.Context(), caseID); err != nil {
		t.Fatal(err)
	}
	check("once it is parted from", "", true)
	later := appendAll(t, s, note(caseID, "a late note"))[0]
	if text, sealed := textOf(t, s, caseID, later.Event.ID); text != "a late note" || sealed {
		t.Errorf("a late note: %q, sealed %v", text, sealed)
	}
	again := note(caseID, "Quentin-Invented")
	again.ID = l.Event.ID
	if back := appendAll(t, s, again)[0]; back.H != l.H {
		t.Error("a retry was not known for one while it is sealed")
	}
	if r := must.Get[Report](t)(s.Verify(t.Context())); len(r.Findings) > 0 || r.Sealed != 1 {
		t.Errorf("%+v", r)
	}
	s.Unlock([]sealing.Identity{c.id})
	check("unlocked", "Quentin-Invented", false)
	if r := clean(t, s); r.Sealed != 0 {
		t.Errorf("unlocked, %d were not looked at", r.Sealed)
	}
	s.Lock()
	check("locked", "", true)
	s.Unlock([]sealing.Identity{c.id})
	if err := s.Suspend(t.Context()); err != nil {
		t.Fatal(err)
	}
	if err := s.Resume(t.Context()); err != nil {
		t.Fatal(err)
	}
	check("after sleep", "", true)
	s.Unlock([]sealing.Identity{must.Get[sealing.Identity](t)(sealing.NewIdentity())})
	check("with the key of another clinic", "", true)
	if where := holding(t, dir, "late note"); where != "" {
		t.Errorf("it lies open in %s", where)
	}
}

// TestKeyIsGone: once parted from, the key of a case is in no file, as it was
// wrapped for the device.
func TestKeyIsGone(t *testing.T) {
	dir := t.TempDir()
	s := open(t, sealedOptions(t, dir))
	setUp(t, s)
	caseID := newID()
	appendAll(t, s, note(caseID, "x"))
	var kept []byte
	if err := s.db.readers.QueryRow("SELECT kept FROM seal WHERE about = ?", caseID).Scan(&kept); err != nil || !sealing.IsBox(kept) {
		t.Fatalf("%x %v", kept, err)
	}
	if !inFiles(t, dir, kept) {
		t.Fatal("it was never in a file: the test shows nothing")
	}
	if err := s.Part(t.Context(), caseID); err != nil {
		t.Fatal(err)
	}
	if inFiles(t, dir, kept) {
		t.Error("the key is still there")
	}
	if all := must.Get[[]KeptFor](t)(s.Kept(t.Context())); len(all) != 0 {
		t.Errorf("kept: %v", all)
	}
}

// inFiles looks for bytes in every file. It copies the folder first: to open
// and close the database's file here would drop SQLite's locks.
func inFiles(t tester, dir string, what []byte) bool {
	t.Helper()
	found := false
	to := copied(t, dir)
	err := filepath.WalkDir(to, func(path string, d os.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		data, err := os.ReadFile(path)
		found = found || bytes.Contains(data, what)
		return err
	})
	if err = errors.Join(err, os.RemoveAll(to)); err != nil {
		t.Fatal(err)
	}
	return found
}

// TestOldVaultIsGone: of a PIN that was changed nothing stays to try it on.
func TestOldVaultIsGone(t *testing.T) {
	dir := t.TempDir()
	s := open(t, sealedOptions(t, dir))
	c := setUp(t, s)
	v, _ := s.Vault()
	raw := must.Get[[]byte](t)(v.Bytes())
	at := bytes.Index(raw, []byte(`"box":"`)) + len(`"box":"`)
	box := slices.Clone(raw[at : at+100])
	if !inFiles(t, dir, box) {
		t.Fatal("it was never in a file: the test shows nothing")
	}
	next := *v
	next.PIN = must.Get[*sealing.PINLock](t)(sealing.LockWithPIN("830275", c.device, lightWork, []sealing.Identity{c.id}))
	must.Get[[]*timeline.Line](t)(s.SetVault(t.Context(), next, nil))
	if inFiles(t, dir, box) {
		t.Error("what the old PIN opens is still there")
	}
	if v, device := s.Vault(); !device || !bytes.Equal(v.PIN.Box, next.PIN.Box) {
		t.Error("another vault counts")
	}
}

// TestWhatWasThereIsSealed: whatever private parts of all sizes were there
// before sealing was set up, some of them destroyed, in the end no file holds
// any of them, all of them can be read with the clinic's key, those that are
// kept without it too, and what was destroyed stays destroyed.
func TestWhatWasThereIsSealed(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		dir, err := os.MkdirTemp("", "seal-*")
		if err != nil {
			rt.Fatal(err)
		}
		defer func() { _ = os.RemoveAll(dir) }() // a leftover is no harm
		o := sealedOptions(rt, dir)
		s := must.Get[*Store](rt)(Open(context.Background(), o))
		cases := []string{newID(), newID(), newID()}
		secret := func(i int) string { return fmt.Sprintf("secret-%04d-end", i) }
		var ls []*timeline.Line
		n := rapid.IntRange(1, 40).Draw(rt, "lines")
		for i := range n {
			size := rapid.SampledFrom([]int{0, 50, 200, 700, 1500, 3000, 6000}).Draw(rt, "size")
			ls = append(ls, appendAll(rt, s, note(cases[i%len(cases)], secret(i)+strings.Repeat(".", size)))...)
		}
		gone := map[int]bool{}
		for _, i := range rapid.SliceOfN(rapid.IntRange(0, n-1), 0, 3).Draw(rt, "destroyed") {
			gone[i] = true
			appendAll(rt, s, destroy(timeline.ScopeCase, ls[i].Event.About, ls[i].Event.ID))
		}
		want := dump(rt, s)
		c := setUp(rt, s)
		stays := func(l *timeline.Line) bool { return l.Event.About == cases[0] }
		if err := s.Reseal(context.Background(), stays); err != nil {
			rt.Fatal(err)
		}
		for _, when := range []string{"at once", "after another start"} {
			if where := holding(rt, dir, "secret-"); where != "" {
				rt.Fatalf("%s: in the clear in %s", when, where)
			}
			for i, l := range ls {
				text, sealed := textOf(rt, s, l.Event.About, l.Event.ID)
				kept := l.Event.About == cases[0]
				if gone[i] && (text != "" || sealed) || !gone[i] && (sealed == kept || kept && !strings.HasPrefix(text, secret(i))) {
					rt.Fatalf("%s: line %d, destroyed %v, kept %v: %q, sealed %v", when, i, gone[i], kept, text, sealed)
				}
			}
			s.Unlock([]sealing.Identity{c.id})
			if got := dump(rt, s); got != want {
				rt.Fatalf("%s: unlocked, another record:\n%s\n%s", when, got, want)
			}
			clean(rt, s)
			if due := must.Get[bool](rt)(s.Unsealed(context.Background())); due {
				rt.Fatal("something is left to be sealed")
			}
			if err := s.Close(); err != nil {
				rt.Fatal(err)
			}
			s = must.Get[*Store](rt)(Open(context.Background(), o))
		}
		if err := s.Close(); err != nil {
			rt.Fatal(err)
		}
	})
}

// sealWorld is two devices and what ought to be known of them.
type sealWorld struct {
	t     *rapid.T
	dirs  []string
	opts  []Options
	s     []*Store
	who   []*clinic // nil: not set up
	open  []bool    // unlocked
	kept  []map[string]bool
	text  map[string]string
	about map[string]string
	dead  map[string]bool
	here  []map[string]bool
}

func (w *sealWorld) check() {
	for d, s := range w.s {
		seen := 0
		for _, l := range all(w.t, s) {
			want, ours := w.text[l.Event.ID]
			if !ours {
				continue
			}
			if !w.here[d][l.Event.ID] {
				if l.P != nil || l.Sealed {
					w.t.Fatalf("device %d has a private part that nobody gave it", d)
				}
				continue
			}
			seen++
			readable := w.who[d] == nil || w.open[d] || w.kept[d][l.Event.ID]
			switch {
			case w.dead[l.Event.ID] && l.P == nil && !l.Sealed:
			case !w.dead[l.Event.ID] && readable && l.Private[timeline.PrivateText] == want:
			case !w.dead[l.Event.ID] && !readable && l.Sealed:
			default:
				w.t.Fatalf("device %d, dead %v, ought to be readable %v: %q, sealed %v", d, w.dead[l.Event.ID], readable, l.Private[timeline.PrivateText], l.Sealed)
			}
		}
		if seen != len(w.here[d]) {
			w.t.Fatalf("device %d has %d notes of %d", d, seen, len(w.here[d]))
		}
		if w.who[d] != nil {
			if where := holding(w.t, w.dirs[d], "secret-"); where != "" {
				w.t.Fatalf("device %d: in the clear in %s", d, where)
			}
		}
		if w.who[d] == nil || w.open[d] {
			clean(w.t, s)
		}
	}
}

// TestAnyOrderOfSealing: however two devices record, set up sealing, lock and
// unlock, part from cases, take in each other's lines, destroy and start anew,
// what can be read is what ought to be, nothing lies in the clear where
// sealing was set up, and with both unlocked the one has what the other has.
func TestAnyOrderOfSealing(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		ctx := context.Background()
		w := &sealWorld{t: rt, text: map[string]string{}, about: map[string]string{}, dead: map[string]bool{}}
		cases := []string{newID(), newID()}
		for range 2 {
			dir, err := os.MkdirTemp("", "seal-*")
			if err != nil {
				rt.Fatal(err)
			}
			defer func() { _ = os.RemoveAll(dir) }() // a leftover is no harm
			o := sealedOptions(rt, dir)
			w.dirs, w.opts = append(w.dirs, dir), append(w.opts, o)
			w.s = append(w.s, must.Get[*Store](rt)(Open(ctx, o)))
			w.who, w.open = append(w.who, nil), append(w.open, false)
			w.kept, w.here = append(w.kept, map[string]bool{}), append(w.here, map[string]bool{})
		}
		defer func() {
			for _, s := range w.s {
				if err := s.Close(); err != nil {
					rt.Fatal(err)
				}
			}
		}()
		for range rapid.IntRange(4, 14).Draw(rt, "steps") {
			d := rapid.IntRange(0, 1).Draw(rt, "device")
			s := w.s[d]
			about := rapid.SampledFrom(cases).Draw(rt, "case")
			switch rapid.SampledFrom([]string{"note", "note", "note", "set up", "part", "unlock", "lock", "merge", "merge", "destroy", "start anew", "keep"}).Draw(rt, "step") {
			case "note":
				n := note(about, fmt.Sprintf("secret-%04d-end", len(w.text))+strings.Repeat(".", rapid.SampledFrom([]int{0, 300, 5000}).Draw(rt, "size")))
				appendAll(rt, s, n)
				w.text[n.ID], w.about[n.ID], w.kept[d][n.ID], w.here[d][n.ID] = n.Private[timeline.PrivateText], about, true, true
			case "set up":
				if w.who[d] == nil {
					c := setUp(rt, s)
					w.who[d] = &c
					if err := s.Reseal(ctx, func(l *timeline.Line) bool { return l.Event.About == cases[0] }); err != nil {
						rt.Fatal(err)
					}
					for id := range w.here[d] {
						w.kept[d][id] = w.about[id] == cases[0]
					}
				}
			case "part":
				if w.who[d] != nil {
					if err := s.Part(ctx, about); err != nil {
						rt.Fatal(err)
					}
					for id := range w.here[d] {
						w.kept[d][id] = w.kept[d][id] && w.about[id] != about
					}
				}
			case "keep":
				if err := s.Keep(ctx, about); err != nil {
					rt.Fatal(err)
				}
				for id := range w.here[d] {
					w.kept[d][id] = w.kept[d][id] || w.about[id] == about && w.open[d]
				}
			case "unlock":
				if w.who[d] != nil {
					v, _ := s.Vault()
					s.Unlock(must.Get[[]sealing.Identity](rt)(v.PIN.Open(testPIN, *s.Device())))
					w.open[d] = true
				}
			case "lock":
				s.Lock()
				w.open[d] = false
			case "merge":
				// What the other can read goes over, as in a file.
				var lines []*timeline.Line
				for _, l := range all(rt, w.s[1-d]) {
					lines = append(lines, l)
					if l.P != nil && !w.here[d][l.Event.ID] {
						w.here[d][l.Event.ID], w.kept[d][l.Event.ID] = true, true
					}
				}
				merge(rt, s, parsed(rt, lines, true))
			case "destroy":
				for id := range w.here[d] {
					if w.about[id] == about && !w.dead[id] && w.here[0][id] && w.here[1][id] {
						for _, o := range w.s {
							appendAll(rt, o, destroy(timeline.ScopeCase, about, id))
						}
						w.dead[id] = true
						break
					}
				}
			case "start anew":
				if err := s.Close(); err != nil {
					rt.Fatal(err)
				}
				w.s[d], w.open[d] = must.Get[*Store](rt)(Open(ctx, w.opts[d])), false
			}
		}
		w.check()
		for d, s := range w.s {
			if w.who[d] != nil {
				s.Unlock([]sealing.Identity{w.who[d].id})
				w.open[d] = true
			}
		}
		for d, s := range w.s {
			merge(rt, s, parsed(rt, all(rt, w.s[1-d]), true))
		}
		if a, b := dump(rt, w.s[0]), dump(rt, w.s[1]); a != b {
			rt.Fatalf("unlocked and merged both ways they differ:\n%s\n%s", a, b)
		}
	})
}

// TestSealedIsDestroyedUnopened: identity can be destroyed while nobody can
// read it, and its photograph goes with it.
func TestSealedIsDestroyedUnopened(t *testing.T) {
	dir := t.TempDir()
	s := open(t, sealedOptions(t, dir))
	c := setUp(t, s)
	caseID := newID()
	photo := []byte("a photograph of Quentin-Invented")
	h := must.Get[timeline.Hash](t)(s.PutPhoto(t.Context(), timeline.ScopeCase, caseID, photo))
	d := note(caseID, "Quentin-Invented")
	d.Private[timeline.PrivatePhoto] = string(h)
	l := appendAll(t, s, d)[0]
	if data := must.Get[[]byte](t)(s.Blob(h)); !bytes.Equal(data, photo) {
		t.Errorf("%q", data)
	}
	if where := holding(t, dir, "Quentin-Invented"); where != "" {
		t.Fatalf("in the clear in %s", where)
	}
	if err := s.Part(t.Context(), caseID); err != nil {
		t.Fatal(err)
	}
	if _, err := s.Blob(h); !errors.Is(err, ErrSealed) {
		t.Errorf("the photograph: %v", err)
	}
	var box []byte
	if err := s.db.readers.QueryRow("SELECT p FROM private").Scan(&box); err != nil {
		t.Fatal(err)
	}
	appendAll(t, s, destroy(timeline.ScopeCase, caseID, l.Event.ID))
	if inFiles(t, dir, box) {
		t.Error("what was sealed is still there")
	}
	if _, err := s.Blob(h); !errors.Is(err, ErrNoBlob) {
		t.Errorf("the photograph: %v", err)
	}
	raw := must.Get[[]byte](t)(hex.DecodeString(string(h)))
	if inFiles(t, dir, raw) {
		t.Error("what the photograph was can still be tried")
	}
	s.Unlock([]sealing.Identity{c.id})
	if text, sealed := textOf(t, s, caseID, l.Event.ID); text != "" || sealed {
		t.Errorf("%q, sealed %v", text, sealed)
	}
	clean(t, s)
}

// TestPhotographsAreSealed: those that were there before, and those that came
// before the line that names them.
func TestPhotographsAreSealed(t *testing.T) {
	dir := t.TempDir()
	s := open(t, sealedOptions(t, dir))
	caseID := newID()
	put := func(text string) timeline.Hash {
		return must.Get[timeline.Hash](t)(s.PutBlob(t.Context(), []byte(text)))
	}
	named := func(h timeline.Hash) timeline.Draft {
		d := note(caseID, "a photograph")
		d.Private[timeline.PrivatePhoto] = string(h)
		return d
	}
	list := put("a list of the clinic")
	before := put("photograph of one")
	appendAll(t, s, named(before))
	setUp(t, s)
	if err := s.Reseal(t.Context(), keepAll); err != nil {
		t.Fatal(err)
	}
	after := put("photograph of two")
	if holding(t, dir, "photograph of two") == "" {
		t.Fatal("nobody says yet that it is one: the test shows nothing")
	}
	appendAll(t, s, named(after))
	if err := s.SealPhotos(t.Context()); err != nil {
		t.Fatal(err)
	}
	if where := holding(t, dir, "photograph of"); where != "" {
		t.Errorf("in the clear in %s", where)
	}
	for h, want := range map[timeline.Hash]string{list: "a list of the clinic", before: "photograph of one", after: "photograph of two"} {
		if data, err := s.Blob(h); err != nil || string(data) != want {
			t.Errorf("%q, %v", data, err)
		}
		if again := put(want); again != h {
			t.Error("another name")
		}
	}
	clean(t, s)
}

// TestCopiedFolder: where the secret of the device is not at hand, nothing that
// lies there can be read without the clinic's key, recording goes on, and what
// is recorded can be read as long as the program runs.
func TestCopiedFolder(t *testing.T) {
	dir := t.TempDir()
	o := sealedOptions(t, dir)
	s := must.Get[*Store](t)(Open(t.Context(), o))
	c := setUp(t, s)
	caseID := newID()
	old := appendAll(t, s, opened(caseID), note(caseID, "Quentin-Invented"))[1]
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	o = options(copied(t, dir))
	o.Safe = newPocket(t)
	s = must.Get[*Store](t)(Open(t.Context(), o))
	v, device := s.Vault()
	if device || v == nil {
		t.Fatal("the copy has the secret")
	}
	if _, sealed := textOf(t, s, caseID, old.Event.ID); !sealed {
		t.Error("the copy can be read")
	}
	l := appendAll(t, s, note(caseID, "here and now"))[0]
	s.Lock()
	if text, sealed := textOf(t, s, caseID, l.Event.ID); text != "here and now" || sealed {
		t.Errorf("%q, sealed %v", text, sealed)
	}
	// The recovery key opens it, and gives it a secret of its own.
	ids := must.Get[[]sealing.Identity](t)(sealing.Recover(c.recovery, v.Clinics))
	s.Unlock(ids)
	own := must.Get[sealing.Key](t)(sealing.NewKey())
	next := *v
	next.Secret = must.Get[[]byte](t)(o.Safe.Wrap(own[:]))
	must.Get[[]*timeline.Line](t)(s.SetVault(t.Context(), next, &own))
	if err := s.Rekeep(t.Context()); err != nil {
		t.Fatal(err)
	}
	if err := s.Keep(t.Context(), caseID); err != nil {
		t.Fatal(err)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	s = open(t, o)
	for id, want := range map[string]string{old.Event.ID: "Quentin-Invented", l.Event.ID: "here and now"} {
		if text, sealed := textOf(t, s, caseID, id); text != want || sealed {
			t.Errorf("%q, sealed %v", text, sealed)
		}
	}
}

// TestOlderDatabase is one that was written before anything could be sealed.
func TestOlderDatabase(t *testing.T) {
	dir := t.TempDir()
	o := sealedOptions(t, dir)
	s := must.Get[*Store](t)(Open(t.Context(), o))
	caseID := newID()
	h := must.Get[timeline.Hash](t)(s.PutBlob(t.Context(), []byte("photograph")))
	photo := note(caseID, "Quentin-Invented")
	photo.Private[timeline.PrivatePhoto] = string(h)
	ls := appendAll(t, s, photo, note(caseID, "another"))
	appendAll(t, s, destroy(timeline.ScopeCase, caseID, ls[1].Event.ID))
	want := dump(t, s)
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	raw(t, dir, "CREATE TABLE old (n INTEGER PRIMARY KEY, row INTEGER NOT NULL UNIQUE REFERENCES line (row), p BLOB NOT NULL) STRICT",
		"INSERT INTO old SELECT n, row, p FROM private", "DROP TABLE private", "ALTER TABLE old RENAME TO private",
		"DROP TABLE photo", "DROP TABLE vault", "DROP TABLE seal", "DELETE FROM migration WHERE name = 'migrations/0003-seals.sql'")
	s = open(t, o)
	if got := dump(t, s); got != want {
		t.Errorf("another record:\n%s\n%s", got, want)
	}
	clean(t, s)
	if v, _ := s.Vault(); v != nil {
		t.Error("sealing was set up by nobody")
	}
	appendAll(t, s, destroy(timeline.ScopeCase, caseID, ls[0].Event.ID))
	if _, err := s.Blob(h); !errors.Is(err, ErrNoBlob) {
		t.Errorf("the photograph of a destroyed part: %v", err)
	}
}

// TestParcelsAreSealed: what waits to be sent lies sealed, and is sent as it
// was; what cannot be opened is not sent without its private part, but waits.
func TestParcelsAreSealed(t *testing.T) {
	dir := t.TempDir()
	s := open(t, sealedOptions(t, dir))
	ob, ctx := s.Outbox(), t.Context()
	caseID := newID()
	appendAll(t, s, opened(caseID), note(caseID, "Quentin-Invented"))
	cut := must.Get[Cut](t)(ob.Fresh(ctx, "stick", 10, true))
	early := must.Get[timeline.Hash](t)(ob.Keep(ctx, []byte("Quentin-Invented goes")))
	if !must.Get[bool](t)(ob.Provide(ctx, "stick", cut, []Parcel{{Name: "a", Sum: early, Bytes: 21, Lines: 3}})) {
		t.Fatal("not provided")
	}
	c := setUp(t, s)
	if err := s.Reseal(ctx, keepNone); err != nil {
		t.Fatal(err)
	}
	if where := holding(t, dir, "Quentin-Invented"); where != "" {
		t.Fatalf("in the clear in %s", where)
	}
	if open := must.Get[[]Parcel](t)(ob.Open(ctx, "stick")); len(open) != 0 {
		t.Errorf("a parcel stayed: %+v", open)
	}
	cut = must.Get[Cut](t)(ob.Fresh(ctx, "stick", 10, true))
	if !cut.Locked || len(cut.Lines) != 2 || cut.To.Line != 2 {
		t.Errorf("a cut with a sealed line: %+v", cut)
	}
	if bare := must.Get[Cut](t)(ob.Fresh(ctx, "stick", 10, false)); bare.Locked || len(bare.Lines) != 3 {
		t.Errorf("a cut that needs no private part: %+v", bare)
	}
	s.Unlock([]sealing.Identity{c.id})
	if cut = must.Get[Cut](t)(ob.Fresh(ctx, "stick", 10, true)); cut.Locked || len(cut.Lines) != 3 || cut.Lines[2].Private[timeline.PrivateText] != "Quentin-Invented" {
		t.Errorf("unlocked: %+v", cut)
	}
	s.Lock()
	h := must.Get[timeline.Hash](t)(ob.Keep(ctx, []byte("Quentin-Invented goes")))
	if where := holding(t, dir, "Quentin-Invented"); where != "" {
		t.Errorf("a parcel lies open in %s", where)
	}
	if data, err := ob.Bytes(h); err != nil || string(data) != "Quentin-Invented goes" {
		t.Errorf("%q, %v", data, err)
	}
}

// TestAlteredSealIsFound: what does not open with its own key is damage.
func TestAlteredSealIsFound(t *testing.T) {
	dir := t.TempDir()
	o := sealedOptions(t, dir)
	s := must.Get[*Store](t)(Open(t.Context(), o))
	setUp(t, s)
	caseID := newID()
	appendAll(t, s, note(caseID, "one"), note(caseID, "two"))
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	// The sealed part of the one line stands at the other.
	raw(t, dir, "UPDATE private SET p = (SELECT p FROM private AS o WHERE o.n = 1) WHERE n = 2")
	s = open(t, o)
	r := must.Get[Report](t)(s.Verify(t.Context()))
	if !slices.Contains(codesOf(r), "commitment") || len(r.Findings) != 1 {
		t.Errorf("%+v", r)
	}
	if lines := must.Get[[]*timeline.Line](t)(s.Case(t.Context(), caseID)); len(lines) != 2 {
		t.Errorf("%d lines: one that is damaged hides the others", len(lines))
	}
}

// copied copies a folder, as a backup would.
func copied(t tester, dir string) string {
	t.Helper()
	to, err := os.MkdirTemp("", "copy-*")
	if err == nil {
		err = os.CopyFS(to, os.DirFS(dir))
	}
	if err != nil {
		t.Fatal(err)
	}
	return to
}
