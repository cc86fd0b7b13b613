package ui

import (
	"bytes"
	"slices"
	"strings"
	"testing"
	"time"

	"chinlift/core"
)

const testPIN, otherPIN = "274916", "830275"

// problem sends what a control stands for, and gives the code of what is wrong.
func problem(t *testing.T, u *UI, path string, fields ...string) string {
	t.Helper()
	a := u.Send(t.Context(), sendOf(u, path, fields...))
	if a.Problem == nil {
		t.Fatalf("%s %v went in", path, fields)
	}
	if a.Problem.Words == "" || strings.Contains(a.Problem.Words, "Invented") {
		t.Errorf("%s: %q", path, a.Problem.Words)
	}
	return a.Problem.Code
}

// setUpByScreen chooses a PIN and puts the recovery key on paper.
func setUpByScreen(t *testing.T, u *UI, c *core.Companion) (paper string) {
	t.Helper()
	if a := tap(t, u, "/sealing/new/setup", "do", "choose", "pin", testPIN); a.Go != "sealing/again/setup" {
		t.Fatalf("%+v", a)
	}
	if a := tap(t, u, "/sealing/again/setup", "do", "choose", "pin", testPIN); a.Go != "sealing/key" {
		t.Fatalf("%+v", a)
	}
	groups := c.RecoveryKey().Groups()
	page := body(t, u, "/sealing/key")
	for _, g := range groups {
		if !strings.Contains(page, g) {
			t.Errorf("the page does not show %s", g)
		}
	}
	for file, begins := range map[string]string{"/recovery-key.pdf": "%PDF-", "/recovery-key.png": "\x89PNG"} {
		if p := u.Get(t.Context(), file); p.Status != 200 || !bytes.HasPrefix(p.Body, []byte(begins)) {
			t.Errorf("%s: %d %s", file, p.Status, p.Type)
		}
	}
	if got := problem(t, u, "/sealing/key", "do", "printed", "group", "ZZ"); got != "wrong-group" {
		t.Errorf("a wrong group: %s", got)
	}
	tap(t, u, "/sealing/key", "do", "printed", "group", strings.ToLower(groups[6]))
	if page := body(t, u, "/sealing/key"); strings.Contains(page, groups[3]) {
		t.Error("the recovery key is shown again")
	}
	if p := u.Get(t.Context(), "/recovery-key.pdf"); p.Status == 200 {
		t.Error("it can still be printed")
	}
	return strings.Join(groups, "-")
}

func TestLockingThroughTheScreen(t *testing.T) {
	u, c, clock := newUI(t)
	id := newCase(t, u, "Invented Person")
	tap(t, u, "/case/"+id+"/table/note", "kind", "note", "text", "Invented words")
	tap(t, u, "/case/"+id+"/visit/plan", "kind", "plan", "text", "Invented plan", "operation", "hernia")
	tap(t, u, "/case/"+id+"/record", "kind", "case-closed")
	if page := body(t, u, "/today"); !strings.Contains(page, "lie open") {
		t.Error("a PIN is not offered")
	}
	for _, tt := range []struct{ pin, code string }{{"", "short-pin"}, {"1234", "short-pin"}, {"123456", "easy-pin"}, {"888888", "easy-pin"}} {
		if got := problem(t, u, "/sealing/new/setup", "do", "choose", "pin", tt.pin); got != tt.code {
			t.Errorf("%q: %s", tt.pin, got)
		}
	}
	tap(t, u, "/sealing/new/setup", "do", "choose", "pin", testPIN)
	if got := problem(t, u, "/sealing/again/setup", "do", "choose", "pin", otherPIN); got != "not-twice" {
		t.Errorf("not the same twice: %s", got)
	}
	if got := problem(t, u, "/sealing/again/change", "do", "choose", "pin", testPIN); got != "not-twice" {
		t.Errorf("chosen for something else: %s", got)
	}
	paper := setUpByScreen(t, u, c)
	running := tap(t, u, "/case/new", "do", "open", "name", "Other Openly", core.WatchField(id), "nurse")
	open := strings.Split(running.Go, "/")[1]

	// Two days later every page of the closed case names nobody: the head, the
	// drawing, the files, the title.
	clock.pass(72 * time.Hour)
	if a := tap(t, u, "/sealing", "do", "lock"); a.Go != "today" {
		t.Errorf("%+v", a)
	}
	entries, err := c.Entries(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	all := paths(id)
	for _, e := range entries {
		all = append(all, "/case/"+id+"/entry/"+e.ID)
	}
	all = append(all, "/case/"+id+"/handover.pdf", "/case/"+id+"/tile.svg?k=984756&tall=1")
	for _, p := range all {
		page := u.Get(t.Context(), p)
		if bytes.Contains(page.Body, []byte("Invented")) || strings.Contains(page.Name, "Invented") {
			t.Errorf("%s names somebody", p)
		}
		if strings.HasPrefix(p, "/case/"+id) && page.Type == "text/html; charset=utf-8" && (page.Status != 200 || !strings.Contains(string(page.Body), "Locked case "+core.ShortCase(id))) {
			t.Errorf("%s: %d, does not say that it is locked", p, page.Status)
		}
	}
	log := body(t, u, "/log")
	if !strings.Contains(log, "Locked case "+core.ShortCase(id)) || !strings.Contains(log, "Other Openly") || !strings.Contains(log, `href="sealing/unlock"`) {
		t.Error("the log does not show what is locked and what is open")
	}
	if page := body(t, u, "/case/"+id+"/record"); !strings.Contains(page, "sealing/unlock/"+id) || !strings.Contains(page, "words locked") {
		t.Error("the record leads to no unlocking")
	}
	if page := body(t, u, "/case/"+open+"/table"); !strings.Contains(page, "Other Openly") {
		t.Error("an open case is locked away")
	}
	// The form of an entry whose words are locked is not offered, and naming
	// the patient is refused.
	if got := problem(t, u, "/case/"+id+"/visit/name", "do", "name", "number", "4711"); got != "locked" {
		t.Errorf("naming a locked patient: %s", got)
	}

	// Wrong tries, the wait, and the way back to the case.
	for range 3 {
		if got := problem(t, u, "/sealing/unlock/"+id, "do", "unlock", "pin", otherPIN); got != "wrong-pin" {
			t.Errorf("a wrong PIN: %s", got)
		}
	}
	if got := problem(t, u, "/sealing/unlock/"+id, "do", "unlock", "pin", testPIN); got != "wait" {
		t.Errorf("the fourth: %s", got)
	}
	if page := body(t, u, "/sealing/unlock"); !strings.Contains(page, "has to wait") {
		t.Error("the page does not say that the next try waits")
	}
	clock.pass(time.Minute)
	if a := tap(t, u, "/sealing/unlock/"+id, "do", "unlock", "pin", testPIN); a.Go != "case/"+id+"/record" {
		t.Errorf("%+v", a)
	}
	if page := body(t, u, "/case/"+id+"/record"); !strings.Contains(page, "Invented Person") || !strings.Contains(page, "Invented words") {
		t.Error("unlocked, the record is not whole")
	}

	// An open page is drawn anew when the time is over, every part of it.
	s := sendFrom(t, u, "/case/"+id+"/visit")
	clock.pass(11 * time.Minute)
	a := refresh(u, s.Page, s.Path, 1)
	drawn := ""
	for _, p := range a.Patches {
		drawn += p.HTML
	}
	if a.From != 0 || !strings.Contains(drawn, "Locked case") || strings.Contains(drawn, "Invented") || len(a.Patches) < 5 {
		t.Errorf("an open page after the time is over: from %d, %d parts", a.From, len(a.Patches))
	}

	// The PIN is changed after the one that holds was entered, and not otherwise.
	tap(t, u, "/sealing/new/change", "do", "choose", "pin", otherPIN)
	if got := problem(t, u, "/sealing/again/change", "do", "choose", "pin", otherPIN); got != "ask-pin" {
		t.Errorf("a change without the old PIN: %s", got)
	}
	tap(t, u, "/sealing/change", "do", "unlock", "pin", testPIN)
	tap(t, u, "/sealing/new/change", "do", "choose", "pin", otherPIN)
	if a := tap(t, u, "/sealing/again/change", "do", "choose", "pin", otherPIN); a.Go != "sealing" {
		t.Errorf("%+v", a)
	}
	tap(t, u, "/sealing", "do", "lock")
	if got := problem(t, u, "/sealing/unlock", "do", "unlock", "pin", testPIN); got != "wrong-pin" {
		t.Errorf("the old PIN: %s", got)
	}
	if a := tap(t, u, "/sealing/unlock", "do", "unlock", "pin", otherPIN); a.Go != "log" {
		t.Errorf("%+v", a)
	}

	// The paper: a new PIN follows.
	tap(t, u, "/sealing", "do", "lock")
	if got := problem(t, u, "/sealing/recover", "do", "recover", "recovery", paper[:20]); got != "no-recovery-key" {
		t.Errorf("half a recovery key: %s", got)
	}
	if a := tap(t, u, "/sealing/recover", "do", "recover", "recovery", strings.ToLower(paper)); a.Go != "sealing/new/change" {
		t.Errorf("%+v", a)
	}
	tap(t, u, "/sealing/new/change", "do", "choose", "pin", testPIN)
	tap(t, u, "/sealing/again/change", "do", "choose", "pin", testPIN)
	if a := tap(t, u, "/sealing", "do", "new-key"); a.Go != "sealing/key" {
		t.Errorf("%+v", a)
	}
	if next := strings.Join(c.RecoveryKey().Groups(), "-"); next == paper || next == "" {
		t.Error("no other recovery key")
	}
	// Both lost.
	tap(t, u, "/sealing", "do", "lock")
	tap(t, u, "/sealing/new/anew", "do", "choose", "pin", otherPIN)
	if a := tap(t, u, "/sealing/again/anew", "do", "choose", "pin", otherPIN); a.Go != "sealing/key" {
		t.Errorf("%+v", a)
	}
	if m := u.words.Missing(); len(m) > 0 {
		t.Errorf("words that are missing: %v", m)
	}
}

// TestTitlesNameNobody: a browser keeps titles in its history.
func TestTitlesNameNobody(t *testing.T) {
	u, _, _ := newUI(t)
	id := newCase(t, u, "Invented Person")
	tap(t, u, "/case/"+id+"/table/vitals", "kind", "vitals", "pulse", "88")
	for _, p := range paths(id) {
		page := string(u.Get(t.Context(), p).Body)
		_, rest, found := strings.Cut(page, "<title>")
		title, _, _ := strings.Cut(rest, "</title>")
		if !found || title == "" || strings.Contains(title, "Invented") {
			t.Errorf("%s has the title %q", p, title)
		}
	}
}

func TestClaimThroughTheScreen(t *testing.T) {
	u, c, _ := newUI(t)
	id := newCase(t, u, "X")
	if page := body(t, u, "/people"); !strings.Contains(page, "Somebody without a name") || !strings.Contains(page, "at this device now") || !strings.Contains(page, "Nobody yet") {
		t.Errorf("%s", page)
	}
	unknown := c.Author()
	tap(t, u, "/settings", "do", "name", "value", "Ama Inventedova")
	if page := body(t, u, "/people"); strings.Contains(page, "Somebody without") || !strings.Contains(page, "Ama Inventedova") {
		t.Errorf("%s", page)
	}
	if got := problem(t, u, "/people", "do", "claim", "unknown", unknown, "person", unknown); got != "contradiction" {
		t.Errorf("somebody was themselves: %s", got)
	}
	if got := problem(t, u, "/people", "do", "claim", "unknown", unknown, "person", core.NewID()); got != "not-here" {
		t.Errorf("claimed for nobody: %s", got)
	}
	if !slices.Contains(paths(id), "/people") {
		t.Error("the page is in no list of pages")
	}
}
