package core_test

import (
	"errors"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"chinlift/core"
	"chinlift/core/store"
	"chinlift/core/term"
	"chinlift/sync/plain"
)

// gather takes in what an export left in a folder, as another device does.
func gather(t testing.TB, c *core.Companion, dir string, blobs bool) {
	t.Helper()
	found, err := plain.Find([]string{dir})
	if err != nil || len(found.Lines) == 0 {
		t.Fatalf("%+v %v", found, err)
	}
	for _, f := range found.Blobs {
		if blobs {
			if err := plain.GatherBlob(t.Context(), f, plain.Unseal{}, c); err != nil {
				t.Fatal(err)
			}
		}
	}
	for _, f := range found.Lines {
		g, err := plain.GatherLines(t.Context(), f, plain.Unseal{}, c)
		if err != nil || g.Err != nil || g.Faults > 0 {
			t.Fatalf("%+v %v", g, err)
		}
	}
}

// dayOf reads a day's check as whoever opens its page does: time, wording,
// what was found.
func dayOf(t testing.TB, c *core.Companion, list, day string) (all []string) {
	t.Helper()
	d, err := c.CheckDay(t.Context(), list, day)
	if err != nil {
		t.Fatal(err)
	}
	for _, l := range d.Looks {
		words := l.Look
		if !l.Worded {
			words = "NOT HERE"
		}
		all = append(all, strings.Join([]string{l.At, l.Name, words, l.State, l.Answer, l.Version}, " | "))
	}
	return all
}

// A list that is changed on one device, and the checks and the photograph that
// were made there, reach another by the files of an export; there the changed
// list holds, and every old check, of either device, reads as it did.
func TestListsTravelWithTheFiles(t *testing.T) {
	for _, private := range []bool{true, false} {
		clock := newClock()
		a, b := openAt(t, t.TempDir(), clock), openAt(t, t.TempDir(), clock)
		ctx, day := t.Context(), clock.Now().Wall.Format(time.DateOnly)
		look(t, b, "spinal", "oxygen", term.KitStateGood, "")
		wasOnB := dayOf(t, b, "spinal", day)

		edit := func(e core.ListEdit) {
			t.Helper()
			clock.pass(time.Minute)
			f, err := a.ListForm(ctx, "spinal")
			if err != nil {
				t.Fatal(err)
			}
			e.Seen = f.Version
			if _, err := a.EditList(ctx, core.NewID(), "spinal", e); err != nil {
				t.Fatal(err)
			}
			clock.pass(time.Minute)
		}
		look(t, a, "spinal", "suction", term.KitStateGood, "")
		edit(core.ListEdit{Act: "change", Item: "suction", Name: "Foot pump", Look: "Step on it; it pulls.", Stop: true, Every: "daily"})
		look(t, a, "spinal", "suction", term.KitStateFault, term.KitAnswerBorrowed)
		photo, err := a.AttachPhoto(ctx, core.NewID(), "spinal", "suction", shotWith(t))
		if err != nil {
			t.Fatal(err)
		}
		edit(core.ListEdit{Act: "change", Item: "suction", Name: "Pump with a bottle", Look: "Fills to the line.", Stop: true, Every: "daily"})
		look(t, a, "spinal", "suction", term.KitStateGood, "")
		// A list as a file, written otherwise than the companion writes lists:
		// its version is not the hash of the file.
		file, err := a.ListFile(ctx, "ketamine")
		if err != nil {
			t.Fatal(err)
		}
		clock.pass(time.Minute)
		file = append([]byte("# of this clinic\n"), file...)
		file = []byte(strings.Replace(string(file), "Suction, under the pillow", "Foot pump under the pillow", 1))
		if _, err := a.LayListFile(ctx, core.NewID(), "ketamine.toml", file); err != nil {
			t.Fatal(err)
		}
		clock.pass(time.Minute)
		look(t, a, "ketamine", "suction", term.KitStateGood, "")
		clock.pass(time.Minute)
		file = []byte(strings.Replace(string(file), "Foot pump under the pillow", "Another pump", 1))
		if _, err := a.LayListFile(ctx, core.NewID(), "ketamine.toml", file); err != nil {
			t.Fatal(err)
		}
		wasOnA, wasKetamine := dayOf(t, a, "spinal", day), dayOf(t, a, "ketamine", day)
		if !strings.Contains(strings.Join(wasOnA, "\n"), "Suction, under the pillow") || !strings.Contains(strings.Join(wasOnA, "\n"), "Step on it") || !strings.Contains(strings.Join(wasKetamine, "\n"), "Foot pump under the pillow") {
			t.Fatalf("on the first device: %q %q", wasOnA, wasKetamine)
		}

		dir := filepath.Join(t.TempDir(), "stick")
		if _, err := plain.Export(ctx, a, dir, plain.Options{Private: private, Made: clock.Now().Wall}); err != nil {
			t.Fatal(err)
		}
		if m, faults, err := plain.CheckFolder(dir); err != nil || len(faults) > 0 || len(m.Files) == 0 {
			t.Errorf("the folder: %v %v", faults, err)
		}
		// Lines alone are not enough: the wording of what was changed is not in
		// them. So what is read below came with the files.
		core.ForgetLists()
		without := openAt(t, t.TempDir(), clock)
		gather(t, without, dir, false)
		if got := strings.Join(dayOf(t, without, "spinal", day), "\n"); strings.Count(got, "NOT HERE") != 2 {
			t.Errorf("without the files:\n%s", got)
		}

		core.ForgetLists()
		gather(t, b, dir, true)
		got := dayOf(t, b, "spinal", day)
		for _, want := range slices.Concat(wasOnA, wasOnB) {
			if !slices.Contains(got, want) {
				t.Errorf("with the private part %v, %q is not among\n%s", private, want, strings.Join(got, "\n"))
			}
		}
		if got := dayOf(t, b, "ketamine", day); !slices.Equal(got, wasKetamine) {
			t.Errorf("%q, was %q", got, wasKetamine)
		}
		if k, on := itemOf(t, kitOf(t, b, "spinal"), "suction"), itemOf(t, kitOf(t, a, "spinal"), "suction"); k.Name != "Pump with a bottle" || k.Name != on.Name || k.State != on.State {
			t.Errorf("the changed list: %+v, there %+v", k, on)
		}
		if k := itemOf(t, kitOf(t, b, "ketamine"), "suction"); k.Name != "Another pump" {
			t.Errorf("the list that was laid: %+v", k)
		}
		// The photograph goes with the private part alone.
		picture, err := a.Photo(ctx, "spinal", photo.Lines[0].Event.Amends)
		if err != nil {
			t.Fatal(err)
		}
		there, err := b.Photo(ctx, "spinal", photo.Lines[0].Event.Amends)
		if private && (err != nil || string(there) != string(picture)) || !private && (!errors.Is(err, core.ErrNotHere) && !errors.Is(err, store.ErrNoBlob)) {
			t.Errorf("with the private part %v: a picture of %d bytes, %v", private, len(there), err)
		}
		if _, err := os.Stat(filepath.Join(dir, string(store.Sum(picture)))); (err == nil) != private {
			t.Errorf("with the private part %v the folder has the picture: %v", private, err)
		}
		if r, err := b.Verify(ctx); err != nil || len(r.Findings) > 0 {
			t.Errorf("%+v %v", r.Findings, err)
		}
	}
}

// Two devices use one shelf through the files: a count on one and cases on
// both, carried to and fro, leave the same on both.
func TestShelfTravelsWithTheFiles(t *testing.T) {
	clock := newClock()
	a, b := openAt(t, t.TempDir(), clock), openAt(t, t.TempDir(), clock)
	carry := func(from, to *core.Companion) {
		t.Helper()
		dir := t.TempDir()
		if _, err := plain.Export(t.Context(), from, dir, plain.Options{Made: clock.Now().Wall}); err != nil {
			t.Fatal(err)
		}
		gather(t, to, dir, true)
	}
	count(t, a, "what", "agent", "act", "counted", "item", "ether", "batch", "E1", "volume", "500")
	count(t, a, "what", "drug", "act", "counted", "item", "atropine", "batch", "A1", "count", "20", "each", "0.6", "each_unit", "mg")
	carry(a, b)
	for i, c := range []*core.Companion{a, b} {
		if _, err := c.CountDrops(t.Context(), core.NewID(), "300", "5"); err != nil {
			t.Fatal(err)
		}
		clock.pass(time.Minute)
		id := openCase(t, c, "Invented Person")
		submit(t, c, id, "agent", "agent", "ether", "drops", "60")
		for range 1 + i {
			submit(t, c, id, "drug", "drug", "atropine", "dose", "0.6", "dose_unit", "mg", "route", "iv")
		}
		clock.pass(time.Hour)
		submit(t, c, id, "agent", "agent", "ether", "off", "yes")
		submit(t, c, id, "phase", "phase", "handed-over")
	}
	carry(a, b)
	carry(b, a)
	for name, c := range map[string]*core.Companion{"first": a, "second": b} {
		// 500 mL less 60 on each device; 20 ampoules less one and two.
		if e, d := supply(t, c, "agent", "ether").OnHand, supply(t, c, "drug", "atropine").OnHand; e != "380 mL" || d != "17" {
			t.Errorf("the %s: %s of ether, %s ampoules", name, e, d)
		}
	}
}
