package ui

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"chinlift/core"
	"chinlift/core/word"
)

// drawnHolds reports that something that is kept of open pages holds a text.
func drawnHolds(u *UI, text string) bool {
	u.mu.Lock()
	defer u.mu.Unlock()
	for _, s := range u.pages {
		for _, d := range s.drawn {
			if strings.Contains(fmt.Sprintf("%+v", d.parts), text) {
				return true
			}
		}
	}
	return false
}

func TestDestroyThroughTheScreen(t *testing.T) {
	u, c, _ := newUI(t)
	u.sender = &lent{all: []Destination{{ID: "a", Kind: PlaceFolder, Address: "/media/stick", Confirmed: 9},
		{ID: "b", Kind: PlaceWebDAV, Address: "https://files.clinic.example/log", Private: true, Confirmed: 2, Sent: 1},
		{ID: "c", Kind: PlaceS3, Address: "https://never.example", Private: true}}}
	id := newCase(t, u, "Invented Person")
	tap(t, u, "/case/"+id+"/table/note", "kind", "note", "text", "Invented words")
	page := "/case/" + id + "/destroy"
	if text := body(t, u, page); !strings.Contains(text, "Close these first") || strings.Contains(text, `data-key="destroy-next"`) {
		t.Error("it is offered while the case is open")
	}
	if strings.Contains(body(t, u, "/case/"+id+"/record"), "/destroy") {
		t.Error("the record of an open case leads there")
	}
	last := page + "/law/authority"
	if got := problem(t, u, last, "do", "destroy"); got != "still-open" {
		t.Errorf("while the case is open: %s", got)
	}
	tap(t, u, "/case/"+id+"/record", "kind", "case-closed")
	if !strings.Contains(body(t, u, "/case/"+id+"/record"), `href="case/`+id+`/destroy"`) {
		t.Error("the record does not lead there")
	}
	if !strings.Contains(body(t, u, "/sealing"), "end of its record") {
		t.Error("the page of locking does not say where")
	}
	text := body(t, u, page)
	for _, want := range []string{"files.clinic.example/log: 3 parcels arrived there, with names", "cannot be called back", "1 entry of name", "1 entry with free text", "Age, sex, values", `name="grounds"`, `name="asked_by"`} {
		if !strings.Contains(text, want) {
			t.Errorf("the page does not say %q", want)
		}
	}
	if strings.Contains(text, "/media/stick") || strings.Contains(text, "never.example") || strings.Contains(text, "checked") {
		t.Error("the page names a place without names, or has chosen something by itself")
	}
	for _, fields := range [][]string{{"do", "destroy"}, {"do", "destroy", "grounds", "law"}, {"do", "destroy", "asked_by", "authority"}} {
		if got := problem(t, u, page, fields...); got != "ask-for" {
			t.Errorf("%v: %s", fields, got)
		}
	}
	before := c.Stored()
	if a := tap(t, u, page, "do", "destroy", "grounds", "law", "asked_by", "authority"); a.Go != "case/"+id+"/destroy/law/authority" || c.Stored() != before {
		t.Errorf("%+v, %d lines", a, c.Stored()-before)
	}
	if p := u.Get(t.Context(), page+"/law/nobody"); p.Status != 404 {
		t.Errorf("a code that is none: %d", p.Status)
	}
	if got := body(t, u, last); !strings.Contains(got, "the law requires it") || !strings.Contains(got, "a court or authority") || strings.Contains(got, `name="pin"`) {
		t.Errorf("the last step: %s", got)
	}
	// A page that shows the name is open meanwhile.
	open := sendFrom(t, u, "/case/"+id+"/record")
	if !drawnHolds(u, "Invented") {
		t.Fatal("nothing of an open page is kept: the test shows nothing")
	}
	if a := tap(t, u, last, "do", "destroy"); a.Go != "case/"+id+"/record" || c.Stored() != before+1 {
		t.Errorf("%+v, %d lines", a, c.Stored()-before)
	}
	if drawnHolds(u, "Invented") {
		t.Error("the name is kept with a page that shows it")
	}
	a := refresh(u, open.Page, open.Path, 1)
	drawn := ""
	for _, p := range a.Patches {
		drawn += p.HTML
	}
	if a.From != 0 || strings.Contains(drawn, "Invented") || !strings.Contains(drawn, "identity destroyed") {
		t.Errorf("the open page, from %d: %s", a.From, drawn)
	}
	entries, err := c.Entries(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	all := paths(id)
	for _, e := range entries {
		all = append(all, "/case/"+id+"/entry/"+e.ID)
	}
	for _, p := range all {
		if page := u.Get(t.Context(), p); strings.Contains(string(page.Body), "Invented") || page.Status != 200 && !strings.HasPrefix(p, "/log/place/") {
			t.Errorf("%s: %d, or names somebody", p, page.Status)
		}
	}
	if text := body(t, u, page); !strings.Contains(text, "destroyed here on") || strings.Contains(text, `data-key="destroy-next"`) {
		t.Error("it is offered a second time")
	}
	i := slices.IndexFunc(entries, func(l core.Line) bool { return l.Kind == "destroyed" })
	if i < 0 {
		t.Fatal("no entry says so")
	}
	if text := body(t, u, "/case/"+id+"/entry/"+entries[i].ID); strings.Contains(text, `data-key="strike"`) || !strings.Contains(text, "this entry stays") {
		t.Error("its entry can be struck")
	}
	if got := problem(t, u, "/case/"+id+"/entry/"+entries[i].ID, "do", "strike", "entry", entries[i].ID, "heads", entries[i].ID, "reason", "mistyped"); got != "destroyed" {
		t.Errorf("struck: %s", got)
	}
	if m := u.words.Missing(); len(m) > 0 {
		t.Errorf("words that are missing: %v", m)
	}
}

func TestDestroyBehindThePIN(t *testing.T) {
	u, c, clock := newUI(t)
	id := newCase(t, u, "Invented Person")
	tap(t, u, "/case/"+id+"/record", "kind", "case-closed")
	setUpByScreen(t, u, c)
	tap(t, u, "/sealing", "do", "lock")
	clock.pass(72 * time.Hour)
	last := "/case/" + id + "/destroy/patient-asked/relative"
	if !strings.Contains(body(t, u, last), `name="pin"`) {
		t.Error("no PIN is asked for")
	}
	for _, pin := range []string{"", otherPIN} {
		if got := problem(t, u, last, "do", "destroy", "pin", pin); got != "wrong-pin" {
			t.Errorf("%q: %s", pin, got)
		}
	}
	tap(t, u, last, "do", "destroy", "pin", testPIN)
	if !c.Locked() {
		t.Error("it unlocked")
	}
	if text := body(t, u, "/case/"+id+"/record"); !strings.Contains(text, "identity destroyed") {
		t.Error("no entry says so")
	}
}

// TestLockedByItself: nobody asks for anything, and still what was read is gone
// from memory at its time, an open page shows it, and an open case stays.
func TestLockedByItself(t *testing.T) {
	clock := &fakeClock{wall: time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC), since: time.Hour}
	waits, passed, over := make(chan time.Duration, 1), make(chan time.Time), make(chan struct{})
	c, err := core.Open(t.Context(), core.Options{Dir: t.TempDir(), Installation: "here", Clock: clock, Words: word.English(), Safe: inPocket{},
		After: func(d time.Duration) <-chan time.Time { waits <- d; return passed }})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { c.Close() })
	u, err := New(c)
	if err != nil {
		t.Fatal(err)
	}
	c.WhenHidden(func() { over <- struct{}{} })
	old := newCase(t, u, "Invented Person")
	tap(t, u, "/case/"+old+"/record", "kind", "case-closed")
	clock.pass(72 * time.Hour)
	running := newCase(t, u, "Other Openly")
	setUpByScreen(t, u, c)
	if d := <-waits; d != 10*time.Minute {
		t.Errorf("it waits %v", d)
	}
	clock.pass(4 * time.Minute)
	tap(t, u, "/sealing/unlock", "do", "unlock", "pin", testPIN) // begins the ten minutes anew
	clock.pass(6 * time.Minute)
	passed <- clock.wall
	if d := <-waits; d != 4*time.Minute {
		t.Errorf("unlocked anew, it waits %v more", d)
	}
	open := sendFrom(t, u, "/case/"+old+"/record")
	table := sendFrom(t, u, "/case/"+running+"/table")
	if !drawnHolds(u, "Invented") {
		t.Fatal("nothing of an open page is kept: the test shows nothing")
	}
	clock.pass(4 * time.Minute)
	passed <- clock.wall
	<-over
	if drawnHolds(u, "Invented") || drawnHolds(u, "Openly") {
		t.Error("what was read is still kept")
	}
	if !c.Locked() {
		t.Error("it is not locked")
	}
	shows := func(s Send) string {
		drawn := ""
		for _, p := range refresh(u, s.Page, s.Path, 1).Patches {
			drawn += p.HTML
		}
		return drawn
	}
	if got := shows(open); strings.Contains(got, "Invented") || !strings.Contains(got, "Locked case") {
		t.Errorf("the open page shows %s", got)
	}
	if got := shows(table); !strings.Contains(got, "Other Openly") {
		t.Errorf("an open case is locked away: %s", got)
	}
	// Sleep drops it as well, before anybody asks.
	tap(t, u, "/sealing/unlock", "do", "unlock", "pin", testPIN)
	<-waits
	body(t, u, "/case/"+old+"/record")
	if !drawnHolds(u, "Invented") {
		t.Error("unlocked, it shows nothing")
	}
	slept := make(chan error)
	go func() { slept <- c.Suspend(t.Context()) }()
	<-over
	if err := <-slept; err != nil || drawnHolds(u, "Invented") {
		t.Errorf("asleep, what was read is still kept (%v)", err)
	}
	if err := c.Resume(t.Context()); err != nil {
		t.Fatal(err)
	}
	// Closed while somebody waits, it waits for nothing.
	tap(t, u, "/sealing/unlock", "do", "unlock", "pin", testPIN)
	if err := c.Close(); err != nil {
		t.Error(err)
	}
}

// TestHiddenWhileDrawn: what is locked while a page is drawn is not kept of that
// page, whoever locks it and whether it is asked for or brought up to date.
func TestHiddenWhileDrawn(t *testing.T) {
	u, c, clock := newUI(t)
	id := newCase(t, u, "Invented Person")
	tap(t, u, "/case/"+id+"/record", "kind", "case-closed")
	clock.pass(72 * time.Hour)
	setUpByScreen(t, u, c)
	var meanwhile func()
	u.tmpl.Funcs(map[string]any{"say": func(key string, args ...any) string {
		if f := meanwhile; f != nil {
			meanwhile = nil
			f()
		}
		return u.words.Say(key, args...)
	}})
	record := "/case/" + id + "/record"
	open := sendFrom(t, u, record)
	if !drawnHolds(u, "Invented") {
		t.Fatal("nothing of an open page is kept: the test shows nothing")
	}
	meanwhile = c.Lock
	if text := string(u.Get(t.Context(), record).Body); meanwhile != nil || !strings.Contains(text, "Invented") {
		t.Fatal("it was not locked while it was drawn: the test shows nothing")
	}
	if drawnHolds(u, "Invented") {
		t.Error("of a page that was asked for, what was read is still kept")
	}
	tap(t, u, "/sealing/unlock", "do", "unlock", "pin", testPIN)
	meanwhile = c.Lock
	refresh(u, open.Page, open.Path, -1)
	if meanwhile != nil {
		t.Fatal("it was not locked while it was brought up to date: the test shows nothing")
	}
	if drawnHolds(u, "Invented") {
		t.Error("of a page that was brought up to date, what was read is still kept")
	}
}

// TestOverdueIsDropped: a case that was over long enough locks without anybody
// asking for a page, and what pages hold of it goes with it; also when the device
// goes to sleep.
func TestOverdueIsDropped(t *testing.T) {
	for name, lock := range map[string]func(*core.Companion) error{
		"looked after": func(c *core.Companion) error { c.LockOverdue(t.Context()); return nil },
		"asleep":       func(c *core.Companion) error { return c.Suspend(t.Context()) },
	} {
		t.Run(name, func(t *testing.T) {
			u, c, clock := newUI(t)
			setUpByScreen(t, u, c)
			tap(t, u, "/sealing", "do", "lock")
			id := newCase(t, u, "Invented Person")
			tap(t, u, "/case/"+id+"/record", "kind", "case-closed")
			body(t, u, "/case/"+id+"/record")
			if !c.Locked() || !drawnHolds(u, "Invented") {
				t.Fatal("nothing of an open page is kept: the test shows nothing")
			}
			clock.pass(72 * time.Hour)
			if err := lock(c); err != nil {
				t.Fatal(err)
			}
			if drawnHolds(u, "Invented") {
				t.Error("the case is locked, and what was read of it is still kept")
			}
		})
	}
}
