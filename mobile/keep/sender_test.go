package keep

import (
	"context"
	"io/fs"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"golang.org/x/net/webdav"

	"chinlift/core"
	"chinlift/core/word"
	"chinlift/mobile/ui"
	"chinlift/sync/carrier"
	"chinlift/sync/plain"
)

// sending is a companion with its screens that sends in the background; the
// looks come by hand.
type sending struct {
	*testing.T
	companion *core.Companion
	screens   *ui.UI
	sender    *Sender
	look      chan time.Time
	dir       string
}

// options are those of a desk.
func options(c *core.Companion, dir string) SenderOptions {
	return SenderOptions{Companion: c, Data: dir, File: dir + "-kept/places", Kinds: ui.PlaceKinds}
}

func newSending(t *testing.T) *sending {
	t.Helper()
	dir := t.TempDir()
	companion, err := core.Open(t.Context(), core.Options{Dir: dir, Installation: "here", Clock: core.SystemClock(), Words: word.English()})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { companion.Close() })
	s := &sending{T: t, companion: companion, look: make(chan time.Time), dir: dir}
	if s.screens, err = ui.New(companion); err != nil {
		t.Fatal(err)
	}
	if s.sender, err = NewSender(options(companion, dir)); err != nil {
		t.Fatal(err)
	}
	s.sender.after = func() <-chan time.Time { return s.look }
	s.screens.LendSender(s.sender)
	return s
}

// start sends in the background until the test ends.
func (s *sending) start() { s.Cleanup(s.sender.Start(s.Context())) }

func (s *sending) tap(path string, fields ...string) ui.Answer {
	s.Helper()
	send := ui.Send{Path: path, Event: core.NewID(), Fields: map[string][]string{}}
	for i := 0; i < len(fields); i += 2 {
		send.Fields[fields[i]] = append(send.Fields[fields[i]], fields[i+1])
	}
	return s.screens.Send(s.Context(), send)
}

func (s *sending) do(path string, fields ...string) {
	s.Helper()
	if a := s.tap(path, fields...); a.Problem != nil {
		s.Fatalf("%s %v: %+v", path, fields, a.Problem)
	}
}

func (s *sending) page(path string) string {
	s.Helper()
	p := s.screens.Get(s.Context(), path)
	if p.Status != 200 {
		s.Fatalf("%s: %d %s", path, p.Status, p.Body)
	}
	return string(p.Body)
}

// until looks again and again, until a page says something. Each look waits
// for the end of the turn before it.
func (s *sending) until(path, text string) {
	s.Helper()
	for range 60 {
		if strings.Contains(s.page(path), text) {
			return
		}
		s.look <- time.Time{}
	}
	s.Fatalf("%s does not say %q:\n%s", path, text, s.page(path))
}

func (s *sending) record() {
	s.Helper()
	s.do("/case/new", "do", "open", "name", "Invented Person", "age", "34", "age_unit", "a", "sex", "female")
}

// gathered counts the lines below a folder, and says what they are.
func gathered(t *testing.T, dir string) (lines int, text string) {
	t.Helper()
	err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || !d.Type().IsRegular() {
			return err
		}
		data, err := os.ReadFile(path)
		text += string(data)
		lines += strings.Count(string(data), "\n")
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return lines, text
}

func TestSendToAFolder(t *testing.T) {
	s := newSending(t)
	s.start()
	to := t.TempDir()
	s.record()
	s.do("/log/new/folder", "do", "add", "address", to, "private", "no")
	s.until("/log", "read back and the same")
	lines, text := gathered(t, to)
	if int64(lines) != s.companion.Stored() || strings.Contains(text, "Invented Person") {
		t.Errorf("%d lines arrived of %d:\n%s", lines, s.companion.Stored(), text)
	}
	// What is new goes by itself once nobody records any more.
	s.record()
	if html := s.page("/today"); !strings.Contains(html, "not yet confirmed") {
		t.Errorf("today does not count what is not confirmed: %s", html)
	}
	s.until("/today", "was read back")
	if lines, _ := gathered(t, to); int64(lines) != s.companion.Stored() {
		t.Errorf("%d lines arrived of %d", lines, s.companion.Stored())
	}
	for field, address := range map[string]string{"path": "a/relative/path", "no-folder": filepath.Join(to, "none"), "in-data": s.dir, "twice": to} {
		if p := s.tap("/log/new/folder", "do", "add", "address", address, "private", "no").Problem; p == nil || p.Code != field {
			t.Errorf("%s: %+v, want %s", address, p, field)
		}
	}
	if p := s.tap("/log/new/folder", "do", "add", "address", t.TempDir(), "private", "no", "key", "age1x").Problem; p == nil || p.Field != "key" {
		t.Errorf("a key that is none: %+v", p)
	}

	// A place that was removed and named again is read anew.
	all, err := s.sender.Destinations(t.Context())
	if err != nil || len(all) != 1 {
		t.Fatalf("%+v %v", all, err)
	}
	s.do("/log/place/"+all[0].ID, "do", "remove")
	if html := s.page("/log"); strings.Contains(html, to) {
		t.Error("a place that was removed is shown")
	}
	if err := os.RemoveAll(filepath.Join(to, "segments")); err != nil {
		t.Fatal(err)
	}
	s.do("/log/new/folder", "do", "add", "address", to, "private", "yes")
	s.until("/log", "read back and the same")
	if lines, text := gathered(t, to); int64(lines) != s.companion.Stored() || !strings.Contains(text, "Invented Person") {
		t.Errorf("%d lines arrived of %d", lines, s.companion.Stored())
	}
}

// full is a folder without room while told so.
type full struct {
	carrier.Carrier
	is atomic.Bool
}

func (f *full) Put(ctx context.Context, name string, data []byte) error {
	if f.is.Load() {
		return &carrier.Error{Code: carrier.CodeFull, Op: "put", Name: name}
	}
	return f.Carrier.Put(ctx, name, data)
}

func TestFullFolder(t *testing.T) {
	s := newSending(t)
	to := t.TempDir()
	s.record()
	s.do("/log/new/folder", "do", "add", "address", to, "private", "no")
	f := &full{Carrier: carrier.Folder{Root: to}}
	f.is.Store(true)
	s.sender.open[s.sender.places[0].ID] = f
	s.start()
	s.until("/log", "It is full")
	if html := s.page("/log"); !strings.Contains(html, "tried again at") || strings.Contains(html, "read back and the same") {
		t.Errorf("the page says\n%s", html)
	}
	f.is.Store(false)
	s.do("/log", "do", "send-now")
	s.until("/log", "read back and the same")
}

// A stick that was pulled out is told, and nothing is put in its place.
func TestFolderIsGone(t *testing.T) {
	s := newSending(t)
	to := filepath.Join(t.TempDir(), "stick")
	if err := os.Mkdir(to, 0o700); err != nil {
		t.Fatal(err)
	}
	s.record()
	s.do("/log/new/folder", "do", "add", "address", to, "private", "no")
	if err := os.Remove(to); err != nil {
		t.Fatal(err)
	}
	s.start()
	s.until("/log", "Is the stick in?")
	if _, err := os.Stat(to); err == nil {
		t.Error("the folder was made")
	}
}

// Nobody, not even root, makes a file in the kernel's own folder.
func TestReadOnlyFolder(t *testing.T) {
	s := newSending(t)
	s.record()
	s.do("/log/new/folder", "do", "add", "address", "/sys", "private", "no")
	s.start()
	s.until("/today", "rights to write")
	if html := s.page("/log"); !strings.Contains(html, "not tried again by itself") {
		t.Errorf("the page says\n%s", html)
	}
}

func TestSendToWebDAV(t *testing.T) {
	const user, secret = "invented", "the invented secret"
	to := t.TempDir()
	files := &webdav.Handler{FileSystem: webdav.Dir(to), LockSystem: webdav.NewMemLS()}
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if u, p, ok := r.BasicAuth(); !ok || u != user || p != secret {
			w.Header().Set("WWW-Authenticate", `Basic realm="invented"`)
			w.WriteHeader(http.StatusUnauthorized)
			return
		}
		files.ServeHTTP(w, r)
	}))
	defer server.Close()
	s := newSending(t)
	s.start()
	s.record()
	for code, address := range map[string]string{"not-safe": "http://server.example/", "address": "a b", "missing": ""} {
		p := s.tap("/log/new/webdav", "do", "add", "address", address, "user", user, "secret", secret, "private", "no").Problem
		if p == nil || p.Code != code && !(code == "address" && p.Field == "address") {
			t.Errorf("%q: %+v", address, p)
		}
	}
	if p := s.tap("/log/new/s3", "do", "add", "address", "server.example", "user", user, "secret", secret, "private", "no").Problem; p == nil || p.Code != "bucket" {
		t.Errorf("no bucket: %+v", p)
	}
	s.do("/log/new/webdav", "do", "add", "address", server.URL, "user", user, "secret", "another secret", "private", "no")
	s.until("/log", "the password and the rights")
	s.do("/log/place/"+s.sender.places[0].ID, "do", "remove")
	k, err := plain.NewKey()
	if err != nil {
		t.Fatal(err)
	}
	s.do("/log/new/webdav", "do", "add", "address", server.URL, "user", user, "secret", secret, "private", "yes", "key", k.Recipient())
	s.until("/log", "read back and the same")
	if _, text := gathered(t, to); !strings.Contains(text, "age-encryption.org") || strings.Contains(text, "Invented Person") {
		t.Error("what was sent is not sealed")
	}

	// The secret is in the one file, for this user alone, and nowhere else.
	info, err := os.Stat(s.sender.o.File)
	if err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("%v %v", info, err)
	}
	again, err := NewSender(s.sender.o)
	if err != nil || len(again.places) != 1 || again.places[0] != s.sender.places[0] || again.places[0].Secret != secret {
		t.Errorf("read again: %+v %v", again.places, err)
	}
	if _, text := gathered(t, s.dir); strings.Contains(text, secret) {
		t.Error("the secret is in the data folder")
	}
	for _, p := range []string{"/log", "/today", "/log/place/" + s.sender.places[0].ID, "/log/new/webdav"} {
		if strings.Contains(s.page(p), secret) {
			t.Errorf("%s shows the secret", p)
		}
	}
}

// Stop ends a turn, and it rests until somebody asks.
func TestStopSending(t *testing.T) {
	s := newSending(t)
	to := t.TempDir()
	s.record()
	s.do("/log/new/folder", "do", "add", "address", to, "private", "no")
	began := make(chan struct{})
	h := &held{Carrier: carrier.Folder{Root: to}, began: began}
	s.sender.open[s.sender.places[0].ID] = h
	s.start()
	<-began
	// A tap waits for nobody.
	s.record()
	if html := s.page("/log"); !strings.Contains(html, "stop-sending") || !strings.Contains(html, "sending, 0 of") {
		t.Errorf("what is under way is not shown: %s", html)
	}
	s.do("/log", "do", "stop-sending")
	s.until("/log", "waiting")
	s.do("/log", "do", "send-now")
	s.until("/log", "read back and the same")
}

// held is a place whose first Put takes until it is broken off.
type held struct {
	carrier.Carrier
	began chan struct{}
	once  atomic.Bool
}

func (h *held) Put(ctx context.Context, name string, data []byte) error {
	if h.once.CompareAndSwap(false, true) {
		close(h.began)
		<-ctx.Done()
		return ctx.Err()
	}
	return h.Carrier.Put(ctx, name, data)
}
