package ui

import (
	"context"
	"io"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"
)

// intake is a Taker that keeps what it was told.
type intake struct {
	in                  Incoming
	got                 string
	secret, recovery    string
	passphrase, key     string
	looked, took, drops int
}

func (k *intake) Receive(_ context.Context, at, size int64, piece io.Reader) error {
	b, err := io.ReadAll(piece)
	if at > 0 && at != int64(len(k.got)) {
		return &TakeError{Code: "again"}
	}
	if at == 0 {
		k.got = ""
	}
	if k.got += string(b); size >= 0 && int64(len(k.got)) < size {
		k.in = Incoming{State: IncomingPart}
		return err
	}
	k.in = Incoming{State: IncomingHere, Bytes: int64(len(k.got)), Sealed: true}
	return err
}

func (k *intake) Incoming() Incoming { return k.in }

func (k *intake) Look(_ context.Context, secret, recovery string) error {
	k.looked, k.secret, k.recovery = k.looked+1, secret, recovery
	day := time.Date(2026, 3, 1, 7, 0, 0, 0, time.UTC)
	k.in = Incoming{State: IncomingLooked, Bytes: 2_400_000, Device: true, Found: IncomingFound{Logs: []IncomingLog{{Name: "1f2e3d4c", Lines: 412, First: day.AddDate(0, -2, 0), Last: day}, {Name: "5b6a7988", Lines: 9, First: day, Last: day}},
		New: 421, Known: 12, Cases: 14, NewCases: 13, Names: true, Locked: 30, Gaps: 1, Forks: 2, Damaged: 1, Lacks: 1}}
	return nil
}

func (k *intake) Take(context.Context) error {
	k.took++
	k.in.State, k.in.Taken = IncomingDone, IncomingTaken{New: 420, Known: 12, Cases: 14, Aside: 2, Conflicts: 1, Waiting: 1, LeftOut: 1}
	return nil
}

func (k *intake) Drop() { k.drops, k.in = k.drops+1, Incoming{} }

func (k *intake) BackUp(_ context.Context, passphrase, key string) error {
	k.passphrase, k.key, k.in.BackedUp = passphrase, key, 52_000
	return nil
}

func (k *intake) Backup() (string, []byte, error) {
	if k.in.BackedUp == 0 {
		return "", nil, &TakeError{Code: "nothing"}
	}
	return "device.tar.age", []byte("sealed"), nil
}

func TestTakingInByTheScreen(t *testing.T) {
	u, _, _ := newUI(t)
	u.LendTaker(nil)
	if html := body(t, u, "/log"); strings.Contains(html, "take-in") {
		t.Error("a device that takes nothing in offers to")
	}
	for _, p := range []string{"/take-in", "/backup", "/backup/device.tar.age"} {
		if page := u.Get(t.Context(), p); page.Status != 404 {
			t.Errorf("%s: %d", p, page.Status)
		}
	}
	if a := u.Attach(t.Context(), "", "take-in", []byte("x")); a.Problem == nil {
		t.Error("taken where nothing takes in")
	}
	k := &intake{}
	u.LendTaker(k)
	u.LendDevice(Device{Pictures: true})
	if html := body(t, u, "/log"); !strings.Contains(html, `href="take-in"`) || !strings.Contains(html, `href="backup"`) {
		t.Error("nothing leads to the pages")
	}
	if html := body(t, u, "/take-in"); !strings.Contains(html, `href="attach/take-in"`) || strings.Contains(html, `type="file"`) || strings.Contains(html, `data-key="take"`) {
		t.Error("the device is not asked for a file, or there is something to take in")
	}
	for _, bad := range []string{"take-in?at=x&of=2", "take-in?at=1", "take-out"} {
		if a := u.Attach(t.Context(), "", bad, []byte("x")); a.Problem == nil {
			t.Errorf("%s is taken", bad)
		}
	}
	if a := u.Attach(t.Context(), "", "take-in?at=0&of=6", []byte("abc")); a.Problem != nil {
		t.Fatal(a.Problem)
	}
	if html := body(t, u, "/take-in"); !strings.Contains(html, "A part of the file") || strings.Contains(html, `data-key="look"`) {
		t.Error("a part of a file is not told as one")
	}
	if a := u.Attach(t.Context(), "", "take-in?at=5&of=6", []byte("d")); a.Problem == nil || a.Problem.Code != "again" || a.Problem.Status != 422 {
		t.Errorf("%+v", a.Problem)
	}
	if a := u.Attach(t.Context(), "", "take-in?at=3&of=6", []byte("def")); a.Problem != nil || k.got != "abcdef" {
		t.Fatal(a.Problem, k.got)
	}
	html := body(t, u, "/take-in")
	if !strings.Contains(html, "here, 6 B") || !strings.Contains(html, `type="password" name="secret"`) || strings.Contains(html, `data-key="take"`) {
		t.Errorf("%s", html)
	}
	tap(t, u, "/take-in", "do", "look", "secret", " with spaces ", "recovery", " ABC ")
	if k.secret != " with spaces " || k.recovery != "ABC" || k.took != 0 {
		t.Errorf("%+v", k)
	}
	html = body(t, u, "/take-in")
	for _, want := range []string{"421 lines are new here", "12 lines are here already", "about 14 cases, 13 of them not here yet", "1f2e3d4c", "2026-01-01 to 2026-03-01", "Lines are missing in 1 place", "1 line cannot be read",
		"2 lines claim numbers", "1 photograph or list", "30 lines are locked", "No PIN is set up", `data-key="take"`} {
		if !strings.Contains(html, want) {
			t.Errorf("the look does not say %q", want)
		}
	}
	tap(t, u, "/take-in", "do", "take")
	html = body(t, u, "/take-in")
	for _, want := range []string{"420 lines were taken in", "Nothing that was here was written over", "2 lines claim numbers", "1 entry has corrections", "1 correction waits", "1 line was left out", "Its own log goes on"} {
		if !strings.Contains(html, want) {
			t.Errorf("what was taken in does not say %q", want)
		}
	}
	if strings.Contains(html, `data-key="take"`) {
		t.Error("it is offered to be taken in again")
	}
	tap(t, u, "/take-in", "do", "drop")
	if k.drops != 1 || k.took != 1 {
		t.Errorf("%+v", k)
	}
	for code := range map[string]bool{"sealed": true, "none": true, "damaged": true, "not-a-backup": true, "recovery": true, "full": true, "stopped": true} {
		k.in = Incoming{State: IncomingHere, Why: code}
		if html := body(t, u, "/take-in"); !strings.Contains(html, `class="unconfirmed"`) || strings.Contains(html, "[takein") {
			t.Errorf("%s is not told", code)
		}
	}
	k.in = Incoming{State: IncomingBusy}
	if html := body(t, u, "/take-in"); !strings.Contains(html, "At work") || !strings.Contains(html, "data-live") || strings.Contains(html, `data-key="attach"`) {
		t.Error("a page at work does not say so")
	}
}

func TestBackupByTheScreen(t *testing.T) {
	u, _, _ := newUI(t)
	k := &intake{}
	u.LendTaker(k)
	if page := u.Get(t.Context(), "/backup/device.tar.age"); page.Status != 404 {
		t.Errorf("a backup that nobody made: %d", page.Status)
	}
	for _, tt := range []struct {
		field, code string
		fields      []string
	}{
		{"passphrase", "not-sealed", nil},
		{"key", "one-of-two", []string{"passphrase", "an invented passphrase", "again", "an invented passphrase", "key", "age1"}},
		{"again", "not-twice", []string{"passphrase", "an invented passphrase", "again", "an invented passphrasf"}},
	} {
		p := u.Send(t.Context(), sendOf(u, "/backup", append(tt.fields, "do", "back-up")...)).Problem
		if p == nil || p.Field != tt.field || p.Code != tt.code || !strings.Contains(p.Words, "Nothing was made") {
			t.Errorf("%v: %+v", tt, p)
		}
	}
	if k.in.BackedUp != 0 {
		t.Fatal("made all the same")
	}
	tap(t, u, "/backup", "do", "back-up", "passphrase", "an invented passphrase", "again", "an invented passphrase")
	html := body(t, u, "/backup")
	if !strings.Contains(html, `href="backup/device.tar.age" download`) || !strings.Contains(html, "52 kB") || strings.Contains(html, "invented passphrase") {
		t.Errorf("%s", html)
	}
	if page := u.Get(t.Context(), "/backup/device.tar.age"); page.Status != 200 || page.Name != "device.tar.age" || string(page.Body) != "sealed" {
		t.Errorf("%+v", page)
	}
}

// On a desk a file comes over HTTP, from the companion's own page alone.
func TestTakingInOverHTTP(t *testing.T) {
	u, _, _ := newUI(t)
	k := &intake{}
	u.LendTaker(k)
	s := httptest.NewServer(u.Handler("token"))
	defer s.Close()
	post := func(origin string) int {
		r, err := http.NewRequestWithContext(t.Context(), http.MethodPost, s.URL+"/token/take-in", strings.NewReader("lines"))
		if err != nil {
			t.Fatal(err)
		}
		r.Header.Set("Origin", origin)
		resp, err := http.DefaultClient.Do(r)
		if err != nil {
			t.Fatal(err)
		}
		if err := resp.Body.Close(); err != nil {
			t.Fatal(err)
		}
		return resp.StatusCode
	}
	if got := post("http://elsewhere.example"); got != http.StatusForbidden || k.got != "" {
		t.Errorf("from another page: %d", got)
	}
	if got := post(s.URL); got != http.StatusOK || k.got != "lines" || k.in.State != IncomingHere {
		t.Errorf("%d, %q", got, k.got)
	}
	if html := body(t, u, "/take-in"); !strings.Contains(html, `data-to="take-in"`) || strings.Contains(html, "attach/take-in") {
		t.Error("the page does not send the file")
	}
}
