package outbox

import (
	"bytes"
	"errors"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"chinlift/core"
	"chinlift/core/must"
	"chinlift/core/store"
	"chinlift/core/term"
	"chinlift/core/timeline"
	"chinlift/sync/carrier"
	"chinlift/sync/plain"
)

// lived makes a device with everything that one can have: cases, somebody who
// works here, a setting, a list of the clinic's own, a photograph, a parcel that
// was confirmed and one that waits.
func lived(t *testing.T) (d *device, photo timeline.Hash, m *memory) {
	t.Helper()
	d = open(t, t.TempDir())
	cases := d.record(t, 3)
	must.Get[core.Done](t)(d.NameAuthor(t.Context(), core.NewID(), "Invented Provider"))
	must.Get[core.Done](t)(d.SetClinic(t.Context(), core.NewID(), "giving-set", "60"))
	seen := must.Get[core.ListForm](t)(d.ListForm(t.Context(), "spinal")).Version
	must.Get[core.Done](t)(d.EditList(t.Context(), core.NewID(), "spinal", core.ListEdit{Act: "add", Name: "Invented lamp", Look: "It burns.", Seen: seen}))
	photo = must.Get[timeline.Hash](t)(d.KeepBlob(t.Context(), []byte("an invented picture")))
	must.Get[core.Done](t)(d.Record(t.Context(), core.Tap{ID: core.NewID(), Scope: timeline.ScopeCase, About: cases[0], Payload: &timeline.Note{},
		Private: timeline.Private{timeline.PrivateText: "with a picture", timeline.PrivatePhoto: string(photo)}}))
	m = &memory{}
	if r := d.run(t, Destination{Name: "x", Carrier: m, Private: true}, true); r.Confirmed == 0 || r.Confirmed != r.Cut {
		t.Fatalf("%+v", r)
	}
	d.record(t, 1)
	m.put = func(string) error { return fail(carrier.CodeOffline) }
	if r := d.run(t, Destination{Name: "x", Carrier: m, Private: true}, true); r.Cut == 0 || r.Confirmed != 0 {
		t.Fatalf("%+v", r)
	}
	m.put = nil
	return d, photo, m
}

// openedLogs gives the lines that opened the logs, in entry order.
func openedLogs(t *testing.T, d *device) (all []*timeline.Line) {
	t.Helper()
	if err := d.All(t.Context(), func(l *timeline.Line) error {
		if _, ok := l.Payload.(*timeline.LogOpened); ok {
			all = append(all, l)
		}
		return nil
	}); err != nil {
		t.Fatal(err)
	}
	return all
}

// last gives the last line of a log.
func last(t *testing.T, d *device, log string) (head *timeline.Line) {
	t.Helper()
	if err := d.All(t.Context(), func(l *timeline.Line) error {
		if l.Event.Log == log && (head == nil || l.Event.Seq > head.Event.Seq) {
			head = l
		}
		return nil
	}); err != nil {
		t.Fatal(err)
	}
	return head
}

func sound(t *testing.T, d *device) {
	t.Helper()
	if r := must.Get[store.Report](t)(d.Verify(t.Context())); len(r.Findings) > 0 || r.Continuity != store.ContinuityWhole {
		t.Fatalf("%+v", r)
	}
}

// merged takes what one device has into another.
func merged(t *testing.T, from, to *device) plain.Replayed {
	t.Helper()
	out := t.TempDir()
	must.Get[[]string](t)(plain.Export(t.Context(), from.Companion, out, plain.Options{Private: true, Made: noon}))
	f := must.Get[*os.File](t)(os.Open(filepath.Join(out, "lines.jsonl")))
	defer f.Close()
	r := must.Get[plain.Replayed](t)(plain.Replay(t.Context(), f, to.Companion))
	if r.Faults > 0 {
		t.Fatalf("%+v", r)
	}
	return r
}

// TestDeviceLostAndPutBack is the drill: a device is backed up, sealed; it is
// lost, or is not; the backup is put back on another; the record goes on there
// in a log of its own that cites the head of the old one; and where both live
// on, each takes in what the other has, with nothing lost, doubled or set aside.
func TestDeviceLostAndPutBack(t *testing.T) {
	d, photo, m := lived(t)
	k := must.Get[plain.Key](t)(plain.NewKey())
	keys := must.Get[plain.Unseal](t)(plain.Unseal{}.With(strings.NewReader(k.Secret())))
	stick := t.TempDir()
	names := must.Get[[]string](t)(plain.Backup(t.Context(), d.Companion, stick, must.Get[plain.Seal](t)(plain.SealFor(k.Recipient()))))
	backup := filepath.Join(stick, plain.BackupName)
	sealed := must.Get[[]byte](t)(os.ReadFile(backup))
	if !slices.Equal(names, []string{plain.BackupName}) || bytes.Contains(sealed, []byte("Invented")) || bytes.Contains(sealed, []byte("SQLite")) {
		t.Fatalf("%v, %d bytes, with something that can be read", names, len(sealed))
	}
	if left := must.Get[[]os.DirEntry](t)(os.ReadDir(filepath.Join(d.dir, "blobs", "partial"))); len(left) > 0 {
		t.Errorf("the backup left %d files in the data folder", len(left))
	}
	atBackup, standing := d.lines(t, true), d.standing(t, "x")
	old := openedLogs(t, d)[0].Event.Log
	head := last(t, d, old)

	// The old device lives on for a while.
	d.record(t, 1)

	dir := filepath.Join(t.TempDir(), "new")
	if err := plain.Restore(t.Context(), backup, keys, dir); err != nil {
		t.Fatal(err)
	}
	n := openAs(t, dir, "another phone")
	sound(t, n)
	if got := n.lines(t, true); !slices.Equal(got, atBackup) {
		t.Fatalf("%d lines came back of %d", len(got), len(atBackup))
	}
	if got := n.standing(t, "x"); got.Lines != standing.Lines || got.Waiting != standing.Waiting || got.Finished != standing.Finished || got.Waiting == 0 || got.Finished == 0 {
		t.Errorf("the outbox came back as %+v, it was %+v", got, standing)
	}
	if got := must.Get[[]byte](t)(n.Blob(photo)); string(got) != "an invented picture" {
		t.Errorf("the picture: %q", got)
	}
	if name := must.Get[string](t)(n.AuthorName(t.Context())); name != "Invented Provider" {
		t.Errorf("who works here: %q", name)
	}
	lists := must.Get[[]byte](t)(n.ListFile(t.Context(), "spinal"))
	if !bytes.Contains(lists, []byte("Invented lamp")) || !bytes.Equal(lists, must.Get[[]byte](t)(d.ListFile(t.Context(), "spinal"))) {
		t.Error("the clinic's own list did not come back")
	}
	settings := 0
	for _, l := range n.lines(t, false) {
		if strings.Contains(l, `"giving-set"`) {
			settings++
		}
	}
	if settings == 0 {
		t.Error("the setting did not come back")
	}

	// The record goes on, in a log that cites the old head.
	n.record(t, 1)
	opened := openedLogs(t, n)
	if len(opened) != 2 {
		t.Fatalf("%d logs", len(opened))
	}
	p := opened[1].Payload.(*timeline.LogOpened)
	if p.Cause != term.LogCauseCopied || p.Cites != old || p.At != head.Event.Seq || p.Head != head.H || opened[1].Event.Log == old {
		t.Errorf("the new log says %+v; the old head was %d, %s", p, head.Event.Seq, head.H)
	}
	sound(t, n)
	// What waited is carried from here, and what was confirmed is not carried again.
	before := m.puts
	if r := n.run(t, Destination{Name: "x", Carrier: m, Private: true}, true); r.Confirmed != r.Cut+standing.Waiting || r.Stopped != "" {
		t.Errorf("%+v, %d waited", r, standing.Waiting)
	}
	if s := n.standing(t, "x"); s.Lines != 0 || m.puts-before > 8 {
		t.Errorf("%+v after %d puts", s, m.puts-before)
	}
	if got, want := m.arrived(t), n.lines(t, true); !slices.Equal(got, want) {
		t.Errorf("%d lines arrived of %d", len(got), len(want))
	}

	// Both live: each takes in what the other has.
	if r := merged(t, d, n); r.New == 0 || r.Forks > 0 {
		t.Errorf("%+v", r)
	}
	if r := merged(t, n, d); r.New == 0 || r.Forks > 0 {
		t.Errorf("%+v", r)
	}
	if a, b := d.lines(t, true), n.lines(t, true); !slices.Equal(a, b) || len(slices.Compact(slices.Clone(a))) != len(a) {
		t.Errorf("%d and %d lines", len(a), len(b))
	}
	sound(t, d)
	sound(t, n)
	if n := len(must.Get[[]*core.Case](t)(n.OpenCases(t.Context()))); n != 6 {
		t.Errorf("%d open cases of 6", n)
	}

	// A record is never written over.
	if err := plain.Restore(t.Context(), backup, keys, dir); !errors.Is(err, plain.ErrNotEmpty) {
		t.Errorf("over a record: %v", err)
	}
}

// TestBrokenBackup: what was cut off, changed, sealed for somebody else or is
// something else leaves no folder behind.
func TestBrokenBackup(t *testing.T) {
	d, _, _ := lived(t)
	k := must.Get[plain.Key](t)(plain.NewKey())
	keys := must.Get[plain.Unseal](t)(plain.Unseal{}.With(strings.NewReader(k.Secret())))
	stick := t.TempDir()
	must.Get[[]string](t)(plain.Backup(t.Context(), d.Companion, stick, must.Get[plain.Seal](t)(plain.SealFor(k.Recipient()))))
	whole := must.Get[[]byte](t)(os.ReadFile(filepath.Join(stick, plain.BackupName)))
	other := bytes.Clone(whole)
	other[len(other)/2] ^= 1
	for name, data := range map[string][]byte{"nothing": {}, "half": whole[:len(whole)/2], "without its end": whole[:len(whole)-1], "changed": other, "a page": []byte("<!doctype html><title>Welcome</title>")} {
		parent := t.TempDir()
		file := filepath.Join(t.TempDir(), plain.BackupName)
		if err := os.WriteFile(file, data, 0o600); err != nil {
			t.Fatal(err)
		}
		if err := plain.Restore(t.Context(), file, keys, filepath.Join(parent, "new")); err == nil {
			t.Errorf("%s was put back", name)
		}
		if left := must.Get[[]os.DirEntry](t)(os.ReadDir(parent)); len(left) > 0 {
			t.Errorf("%s left %s behind", name, left[0].Name())
		}
	}
	if err := plain.Restore(t.Context(), filepath.Join(stick, plain.BackupName), plain.Unseal{}, filepath.Join(t.TempDir(), "new")); !errors.Is(err, plain.ErrSealed) {
		t.Errorf("without the key: %v", err)
	}
	if _, err := plain.Backup(t.Context(), d.Companion, t.TempDir(), plain.Seal{}); !errors.Is(err, plain.ErrNotSealed) {
		t.Errorf("without a seal: %v", err)
	}
}
