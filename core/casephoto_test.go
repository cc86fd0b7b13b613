package core_test

import (
	"bytes"
	"errors"
	"image"
	"testing"
	"time"

	"chinlift/core"
	"chinlift/core/term"
)

// TestPhotographOfACase: it goes in as a note of its own, without what a camera
// writes beside it, stays when the words beside it are corrected, is locked and
// destroyed as names are.
func TestPhotographOfACase(t *testing.T) {
	d := newDevice(t)
	ctx := t.Context()
	id := d.identity()
	other := d.identity()
	shot := shotWith(t)
	for name, try := range map[string]struct {
		id   string
		data []byte
		want error
	}{"no picture": {id, []byte("%PDF-1.7"), core.ErrNotAPicture}, "half of one": {id, shot[:len(shot)/2], core.ErrNotAPicture}, "nothing": {id, nil, core.ErrNotAPicture}, "no case": {core.NewID(), shot, core.ErrNotHere}, "a person": {d.c.Author(), shot, core.ErrNotHere}} {
		before := d.c.Stored()
		if _, err := d.c.AttachToCase(ctx, core.NewID(), try.id, try.data); !errors.Is(err, try.want) || d.c.Stored() != before {
			t.Errorf("%s: %v", name, err)
		}
	}
	event := core.NewID()
	for range 2 { // the second is a retry
		if done, err := d.c.AttachToCase(ctx, event, id, shot); err != nil || done.Lines[0].Event.ID != event {
			t.Fatalf("%+v %v", done, err)
		}
	}
	kept := func(when string) []byte {
		t.Helper()
		data, err := d.c.CasePhoto(ctx, id, event)
		if m, _, bad := image.Decode(bytes.NewReader(data)); err != nil || bad != nil || m.Bounds().Empty() {
			t.Fatalf("%s: %v, %v", when, err, bad)
		}
		return data
	}
	if data := kept("at once"); bytes.Contains(data, []byte("Exif")) {
		t.Error("what the camera wrote came along")
	}
	if _, err := d.c.CasePhoto(ctx, other, event); !errors.Is(err, core.ErrNotHere) {
		t.Errorf("of another case: %v", err)
	}
	if v, err := d.c.EntryOf(ctx, id, event); err != nil || v.Photo != "case/"+id+"/photo/"+event || v.Text != "note · photograph" {
		t.Errorf("%q %q %v", v.Photo, v.Text, err)
	}
	// The same picture in another case is of that one as well, and stays with it.
	again, err := d.c.AttachToCase(ctx, core.NewID(), other, shot)
	if err != nil {
		t.Fatal(err)
	}
	// Words beside it leave it where it is, also when they are sent twice.
	words := form(id, "note", "text", "her paper", "amends", event, "heads", event, "reason", string(term.ReasonLearnedLater))
	for range 2 {
		if _, err := d.c.Submit(ctx, words); err != nil {
			t.Fatal(err)
		}
	}
	kept("after its words were corrected")
	if v, err := d.c.EntryOf(ctx, id, event); err != nil || v.Text != "note · her paper · photograph" {
		t.Errorf("%q %v", v.Text, err)
	}
	d.setUp()
	if _, err := d.c.AttachToCase(ctx, core.NewID(), other, shot); err != nil {
		t.Fatal(err)
	}
	d.closeCase(id)
	d.clock.pass(72 * time.Hour)
	if d.c.LockOverdue(ctx); !d.state().Locked {
		t.Fatalf("%+v", d.state())
	}
	if _, err := d.c.CasePhoto(ctx, id, event); !errors.Is(err, core.ErrSealed) {
		t.Errorf("locked: %v", err)
	}
	if _, err := d.c.CasePhoto(ctx, other, again.Lines[0].Event.ID); err != nil {
		t.Errorf("the same picture in an open case: %v", err)
	}
	if v, err := d.c.EntryOf(ctx, id, event); err != nil || v.Photo != "" {
		t.Errorf("locked: %q %v", v.Photo, err)
	}
	if err := d.c.Unlock(ctx, pin); err != nil {
		t.Fatal(err)
	}
	kept("unlocked")
	if _, err := d.c.Destroy(ctx, core.NewID(), id, string(term.GroundsLaw), string(term.AskedByAuthority), pin); err != nil {
		t.Fatal(err)
	}
	if _, err := d.c.CasePhoto(ctx, id, event); !errors.Is(err, core.ErrNotHere) {
		t.Errorf("destroyed: %v", err)
	}
	if _, err := d.c.CasePhoto(ctx, other, again.Lines[0].Event.ID); err != nil {
		t.Errorf("the same picture in another case went along: %v", err)
	}
	if r, err := d.c.Verify(ctx); err != nil || len(r.Findings) > 0 {
		t.Errorf("%v %+v", err, r)
	}
}
