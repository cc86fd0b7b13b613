package ui

import (
	"context"
	"strings"
	"testing"
	"time"

	"chinlift/core"
)

// lent is a sender that keeps what it was told.
type lent struct {
	all       []Destination
	places    []Place
	now, stop int
}

func (l *lent) Kinds() []string                                     { return PlaceKinds }
func (l *lent) Destinations(context.Context) ([]Destination, error) { return l.all, nil }

func (l *lent) Add(_ context.Context, p Place) error {
	if p.Address == "relative" {
		return &PlaceError{"path", "address"}
	}
	l.places = append(l.places, p)
	l.all = append(l.all, Destination{ID: p.ID, Kind: p.Kind, Address: p.Address, Private: p.Private, Lines: 7})
	return nil
}

func (l *lent) Remove(_ context.Context, id string) error {
	for i, d := range l.all {
		if d.ID == id {
			l.all = append(l.all[:i], l.all[i+1:]...)
		}
	}
	return nil
}

func (l *lent) SendNow() { l.now++ }
func (l *lent) Stop()    { l.stop++ }

func TestSendingThroughTheScreen(t *testing.T) {
	u, c, _ := newUI(t)
	u.LendSender(nil)
	if html := body(t, u, "/log"); strings.Contains(html, "send-now") || strings.Contains(html, "add-folder") {
		t.Error("a device that sends nothing offers to")
	}
	if p := u.Get(t.Context(), "/log/new/folder"); p.Status != 404 {
		t.Errorf("a page for a place where nothing is sent: %d", p.Status)
	}
	l := &lent{}
	u.LendSender(l)
	for _, p := range []string{"/today", "/log"} {
		if html := body(t, u, p); !strings.Contains(html, "on this device alone") {
			t.Errorf("%s does not say that nothing is sent", p)
		}
	}
	for _, kind := range PlaceKinds {
		html := body(t, u, "/log/new/"+kind)
		if strings.Contains(html, "checked") {
			t.Errorf("%s: something is chosen already", kind)
		}
		if kind != PlaceFolder && (!strings.Contains(html, `type="password"`) || !strings.Contains(html, "unsealed on this computer")) {
			t.Errorf("%s: the page does not say where the password lies", kind)
		}
	}
	// With no place its keys come before the cases; a phone seals the password,
	// and goes by its connection.
	newCase(t, u, "Invented Person")
	if html := body(t, u, "/log"); strings.Index(html, "add-folder") > strings.Index(html, "log-case") {
		t.Error("the keys that name a first place stand below the log")
	}
	u.LendDevice(Device{Metered: true})
	if html := body(t, u, "/log/new/webdav"); !strings.Contains(html, "key store seals it") || strings.Contains(html, "unsealed") || !strings.Contains(html, "each byte may cost") || strings.Contains(html, "whatever connection") {
		t.Errorf("a phone does not say what it does with the password, and over which connection it sends: %s", html)
	}
	u.LendDevice(Device{})
	for _, tt := range []struct {
		kind, field string
		fields      []string
	}{
		{"folder", "address", []string{"private", "no"}},
		{"folder", "address", []string{"private", "no", "address", "relative"}},
		{"folder", "private", []string{"address", "/somewhere"}},
		{"webdav", "secret", []string{"address", "https://host.example/", "user", "u", "private", "no"}},
		{"s3", "user", []string{"address", "https://host.example/b", "private", "no"}},
	} {
		p := u.Send(t.Context(), sendOf(u, "/log/new/"+tt.kind, append(tt.fields, "do", "add")...)).Problem
		if p == nil || p.Status != 422 || p.Field != tt.field || !strings.Contains(p.Words, "Nothing was kept") {
			t.Errorf("%v: %+v", tt, p)
		}
	}
	if len(l.places) != 0 {
		t.Fatalf("kept %+v", l.places)
	}
	s := sendOf(u, "/log/new/s3", "do", "add", "address", " https://host.example/b ", "user", "KEY", "secret", " pass ", "private", "yes", "region", "r", "key", "age1")
	if a := u.Send(t.Context(), s); a.Problem != nil || a.Go != "log" {
		t.Fatalf("%+v", a)
	}
	if want := (Place{s.Event, "s3", "https://host.example/b", "KEY", " pass ", "r", "age1", true}); l.places[0] != want {
		t.Errorf("kept %+v, want %+v", l.places[0], want)
	}
	place := "/log/place/" + s.Event
	for _, p := range []string{"/log", place} {
		html := body(t, u, p)
		if !strings.Contains(html, "7 lines not yet confirmed") || !strings.Contains(html, "host.example/b") || strings.Contains(html, " pass ") || strings.Contains(html, "KEY") {
			t.Errorf("%s: %s", p, html)
		}
	}
	tap(t, u, "/log", "do", "send-now")
	tap(t, u, place, "do", "send-now")
	tap(t, u, "/log", "do", "stop-sending")
	if l.now != 2 || l.stop != 1 {
		t.Errorf("%+v", l)
	}
	now := c.Now().Wall
	for _, tt := range []struct {
		d    Destination
		want []string
	}{
		{Destination{}, []string{"nothing to send yet"}},
		{Destination{Confirmed: 3}, []string{"read back and the same"}},
		{Destination{Lines: 1}, []string{"waiting", "1 line not yet confirmed"}},
		{Destination{Lines: 4, Sent: 1}, []string{"sent, not read back"}},
		{Destination{Lines: 4, Why: "offline", Next: now.Add(5 * time.Minute)}, []string{"waiting", "cannot be reached", "tried again at 08:05"}},
		{Destination{Lines: 4, Why: "offline", Next: now.Add(-time.Minute)}, []string{"cannot be reached"}},
		{Destination{Lines: 4, Refused: 1, Why: "refused"}, []string{"not tried again by itself", "rights to write", "whether the stick is locked", `class="over"`}},
		{Destination{Lines: 4, Busy: true, Done: 1, Open: 3}, []string{"sending, 1 of 3 parcels", "Stop sending"}},
	} {
		tt.d.ID, tt.d.Kind, tt.d.Address = core.NewID(), "folder", "/x"
		l.all = []Destination{tt.d}
		html := body(t, u, "/log")
		for _, want := range tt.want {
			if !strings.Contains(html, want) {
				t.Errorf("%+v: the page lacks %q", tt.d, want)
			}
		}
		if strings.Contains(html, "tried again at") != (len(tt.want) == 3 && tt.d.Why == "offline") {
			t.Errorf("%+v: the time of the next try is wrong", tt.d)
		}
		body(t, u, "/log/place/"+tt.d.ID)
		body(t, u, "/today")
	}
	id := l.all[0].ID
	if a := tap(t, u, "/log/place/"+id, "do", "remove"); a.Go != "log" || len(l.all) != 0 {
		t.Errorf("%+v %+v", a, l.all)
	}
	for _, p := range []string{"/log/place/" + id, "/log/new/none", "/log/x", "/log/new"} {
		if page := u.Get(t.Context(), p); page.Status != 404 {
			t.Errorf("%s: %d", p, page.Status)
		}
	}
	if m := u.words.Missing(); len(m) > 0 {
		t.Errorf("words that are missing: %v", m)
	}
}
