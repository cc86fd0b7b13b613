package mobile

import (
	"bytes"
	"image"
	"image/png"
	"io/fs"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"sync/atomic"
	"testing"

	"golang.org/x/net/webdav"

	"chinlift/core"
	"chinlift/mobile/ui"
)

// A photograph goes where a page asks for one, and nowhere else.
func TestAttach(t *testing.T) {
	d := newDesk(t, t.TempDir())
	var b bytes.Buffer
	if err := png.Encode(&b, image.NewGray(image.Rect(0, 0, 64, 48))); err != nil {
		t.Fatal(err)
	}
	picture := b.Bytes()
	if body := string(getPage(t, d.app, "/kit/open-drop/look/gauze").Body); strings.Contains(body, "attach/") {
		t.Error("a picture is asked for of what nobody looked at")
	}
	if err := d.app.Attach("/attach/kit/open-drop/gauze", picture); err == nil {
		t.Error("a picture of what nobody looked at is kept")
	}
	d.do("/kit/open-drop/look/gauze", "do", "check", "state", "fault")
	if body := string(getPage(t, d.app, "/kit/open-drop").Body); !strings.Contains(body, `href="attach/kit/open-drop/gauze"`) || strings.Contains(body, `type="file"`) {
		t.Error("a fault asks for no picture, or for one that the page would send by itself")
	}
	link := regexp.MustCompile(`href="(attach/[^"]+)"`).FindSubmatch(getPage(t, d.app, "/kit/open-drop/look/gauze").Body)
	if link == nil || !strings.HasPrefix("/"+string(link[1]), AttachPath) {
		t.Fatalf("no picture is asked for: %s", link)
	}
	path := "/" + string(link[1])
	for name, bad := range map[string]struct {
		path string
		file []byte
	}{
		"no file": {path, nil}, "no picture": {path, []byte("%PDF-1.7")}, "half a picture": {path, picture[:len(picture)/2]},
		"too large": {path, make([]byte, maxPicture+1)}, "no such item": {"/attach/kit/open-drop/none", picture}, "no such list": {"/attach/kit/none/gauze", picture},
		"another path": {"/kit/open-drop/gauze", picture}, "a case": {"/attach/case/x/y", picture}, "no path": {"", picture},
	} {
		if err := d.app.Attach(bad.path, bad.file); err == nil || strings.HasPrefix(err.Error(), "[") || len(err.Error()) < 20 {
			t.Errorf("%s: %v; want an error in words", name, err)
		}
	}
	if err := d.app.Attach(path, picture); err != nil {
		t.Fatal(err)
	}
	for i := range picture {
		picture[i] = 0 // it was only lent
	}
	photo := regexp.MustCompile(`src="(kit/open-drop/photo/[^"]+)"`).FindSubmatch(getPage(t, d.app, "/kit/open-drop/look/gauze").Body)
	if photo == nil {
		t.Fatal("the picture is on no page")
	}
	p := getPage(t, d.app, "/"+string(photo[1]))
	if m, _, err := image.Decode(bytes.NewReader(p.Body)); p.Type != "image/jpeg" || p.Media != "image/jpeg" || p.Charset != "" || err != nil || m.Bounds().Dx() != 64 {
		t.Errorf("the picture is %s, %v", p.Type, err)
	}
}

// A photograph goes into a case as an entry of its own.
func TestAttachToACase(t *testing.T) {
	d := newDesk(t, t.TempDir())
	id := d.asleep()
	var b bytes.Buffer
	if err := png.Encode(&b, image.NewGray(image.Rect(0, 0, 64, 48))); err != nil {
		t.Fatal(err)
	}
	if body := string(getPage(t, d.app, "/case/"+id+"/table/more").Body); !strings.Contains(body, `href="case/`+id+`/table/photo"`) {
		t.Error("nothing leads to the tray")
	}
	link := regexp.MustCompile(`href="(attach/[^"]+)"`).FindSubmatch(getPage(t, d.app, "/case/"+id+"/table/photo").Body)
	if link == nil || "/"+string(link[1]) != AttachPath+"case/"+id {
		t.Fatalf("no picture is asked for: %q", link)
	}
	for name, bad := range map[string]struct {
		path string
		file []byte
	}{"another case": {AttachPath + "case/" + core.NewID(), b.Bytes()}, "no case": {AttachPath + "case/", b.Bytes()}, "no picture": {AttachPath + "case/" + id, []byte("x")}, "no file": {AttachPath + "case/" + id, nil}} {
		if err := d.app.Attach(bad.path, bad.file); err == nil || len(err.Error()) < 20 {
			t.Errorf("%s: %v; want an error in words", name, err)
		}
	}
	if err := d.app.Attach("/"+string(link[1]), b.Bytes()); err != nil {
		t.Fatal(err)
	}
	entry := regexp.MustCompile(`href="(case/[^"]+/entry/[^"]+)"[^>]*data-kind="note"`).FindSubmatch(getPage(t, d.app, "/case/"+id+"/record").Body)
	if entry == nil {
		t.Fatal("the record has no entry of it")
	}
	photo := regexp.MustCompile(`src="(case/[^"]+/photo/[^"]+)"`).FindSubmatch(getPage(t, d.app, "/"+string(entry[1])).Body)
	if photo == nil {
		t.Fatal("its entry does not show it")
	}
	p := getPage(t, d.app, "/"+string(photo[1]))
	if m, _, err := image.Decode(bytes.NewReader(p.Body)); p.Type != "image/jpeg" || err != nil || m.Bounds().Dx() != 64 {
		t.Errorf("the picture is %s, %v", p.Type, err)
	}
}

// Every page says what it is, apart, as a web view takes it.
func TestPagesSayWhatTheyAre(t *testing.T) {
	app := openApp(t, t.TempDir(), newPhone())
	for path, want := range map[string][2]string{"/": {"text/html", "utf-8"}, "/static/chinlift.js": {"text/javascript", "utf-8"}, "/static/chinlift.css": {"text/css", "utf-8"}, "/static/none": {"text/plain", "utf-8"}, "/paper.pdf": {"application/pdf", ""}} {
		p := getPage(t, app, path)
		if p.Media != want[0] || p.Charset != want[1] || (p.Name != "") != (path == "/paper.pdf") {
			t.Errorf("%s is %q in %q, named %q", path, p.Media, p.Charset, p.Name)
		}
	}
}

// No file that leaves by the share sheet is named for somebody.
func TestFilesNameNobody(t *testing.T) {
	d := newDesk(t, t.TempDir())
	id := d.asleep()
	seen := 0
	for _, page := range []string{"/case/" + id + "/record", "/case/" + id + "/handover", "/kit", "/supplies", "/figures", "/log", "/rules"} {
		for _, m := range regexp.MustCompile(`href="([^"]+)" download`).FindAllSubmatch(getPage(t, d.app, page).Body, -1) {
			p := getPage(t, d.app, "/"+strings.ReplaceAll(string(m[1]), "&amp;", "&"))
			if p.Name == "" || strings.Contains(p.Name, "Invented") || strings.ContainsAny(p.Name, "/\\ ") {
				t.Errorf("%s is named %q", m[1], p.Name)
			}
			seen++
		}
	}
	if seen < 5 {
		t.Errorf("%d files: the test shows nothing", seen)
	}
}

// server is a WebDAV server that counts what is put there.
func server(t *testing.T, password string) (url, dir string, puts *atomic.Int64) {
	t.Helper()
	dir, puts = t.TempDir(), new(atomic.Int64)
	files := &webdav.Handler{FileSystem: webdav.Dir(dir), LockSystem: webdav.NewMemLS()}
	s := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if _, p, ok := r.BasicAuth(); !ok || p != password {
			w.WriteHeader(http.StatusUnauthorized)
			return
		}
		if r.Method == http.MethodPut {
			puts.Add(1)
		}
		files.ServeHTTP(w, r)
	}))
	t.Cleanup(s.Close)
	return s.URL, dir, puts
}

// until asks a page until it says something. Each answer takes a while, and
// what it waits for takes none for ever.
func (d *desk) until(path, text string) {
	d.t.Helper()
	for range 20000 {
		if strings.Contains(string(getPage(d.t, d.app, path).Body), text) {
			return
		}
	}
	d.t.Fatalf("%s does not say %q:\n%s", path, text, getPage(d.t, d.app, path).Body)
}

func (d *desk) connect(how int) {
	d.t.Helper()
	if err := d.app.Connected(how); err != nil {
		d.t.Fatal(err)
	}
}

// What is recorded leaves the phone as it is connected, and as its user
// allowed; the password lies sealed by the key store.
func TestSendsFromAPhone(t *testing.T) {
	const password = "the invented password"
	url, to, puts := server(t, password)
	dir := t.TempDir()
	d := newDesk(t, dir)
	d.asleep()
	add := func() ui.Answer {
		return send(t, d.app, ui.Send{Path: "/log/new/webdav", Event: core.NewID(), Fields: map[string][]string{"do": {"add"},
			"address": {url}, "user": {"invented"}, "secret": {password}, "private": {"no"}}})
	}
	if a := add(); a.Problem != nil {
		t.Fatalf("%+v", a.Problem)
	}
	if p := getPage(t, d.app, "/log/new/folder"); p.Status != 404 || strings.Contains(string(getPage(t, d.app, "/log").Body), "log/new/folder") {
		t.Error("a phone has no folder to send to")
	}
	d.until("/log", "has no connection")
	d.connect(ConnectionMetered)
	d.until("/log", "may cost here")
	if n := puts.Load(); n != 0 {
		t.Errorf("%d parcels were sent over a connection that may cost", n)
	}
	// Somebody asks for it.
	d.do("/log", "do", "send-now")
	d.until("/log", "read back and the same")
	first := puts.Load()
	d.do("/settings", "do", "metered", "value", "yes")
	d.asleep2()
	d.connect(ConnectionMetered)
	d.until("/today", "was read back")
	if puts.Load() <= first {
		t.Error("nothing was sent though it was allowed")
	}
	d.do("/settings", "do", "metered", "value", "no")
	d.connect(99) // not known: taken for none
	d.until("/settings", "Settings")
	d.connect(ConnectionFree)
	d.until("/today", "was read back")

	// It sleeps and wakes with the rest, and knows its places at the next start.
	for range 2 {
		if err := d.app.Suspend(); err != nil {
			t.Fatal(err)
		}
		if err := d.app.Resume(); err != nil {
			t.Fatal(err)
		}
	}
	sealed := 0
	for _, folder := range []string{dir, dir + "-kept", to} {
		err := filepath.WalkDir(folder, func(path string, e fs.DirEntry, err error) error {
			if err != nil || e.IsDir() {
				return err
			}
			text, err := os.ReadFile(path)
			if bytes.Contains(text, []byte(password)) {
				t.Errorf("the password stands in %s", path)
			}
			if bytes.HasPrefix(text, []byte("wrapped:")) {
				sealed++
			}
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	if sealed != 1 {
		t.Errorf("%d files are sealed by the key store, want 1", sealed)
	}
	d.close()
	d.p.mu.Lock()
	d.p.locked = true
	d.p.mu.Unlock()
	again := &desk{t: t, p: d.p, app: openApp(t, dir, d.p)}
	if body := string(getPage(t, again.app, "/log").Body); strings.Contains(body, strings.TrimPrefix(url, "http://")) {
		t.Error("the places are known though the key store is closed")
	}
	d.p.mu.Lock()
	d.p.locked = false
	d.p.mu.Unlock()
	again.connect(ConnectionFree) // begins a turn, which reads them again
	again.until("/log", "read back and the same")
}

// asleep2 opens a further case.
func (d *desk) asleep2() {
	d.t.Helper()
	o := d.app.opened.Load()
	s := newCase()
	asking, err := o.companion.Unrecovered(d.t.Context())
	if err != nil {
		d.t.Fatal(err)
	}
	for _, cs := range asking {
		s.Fields[core.WatchField(cs.ID)] = []string{"nurse"}
	}
	if a := send(d.t, d.app, s); a.Problem != nil {
		d.t.Fatalf("%+v", a.Problem)
	}
}

// copyAll copies a folder by reading and writing alone: what it asks of the
// kernel counts as the core's.
func copyAll(t *testing.T, from, to string) {
	t.Helper()
	err := filepath.WalkDir(from, func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		rel, err := filepath.Rel(from, path)
		if err != nil {
			return err
		}
		if d.IsDir() {
			return os.MkdirAll(filepath.Join(to, rel), 0o700)
		}
		data, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		return os.WriteFile(filepath.Join(to, rel), data, 0o600)
	})
	if err != nil {
		t.Fatal(err)
	}
}

// A backup of the data that is put back is known for one by what is kept where
// no backup reaches, and opens a log of its own.
func TestRestoredBackup(t *testing.T) {
	dir, saved := filepath.Join(t.TempDir(), "data"), filepath.Join(t.TempDir(), "saved")
	p := newPhone()
	logs := func() map[string]bool {
		app := openApp(t, dir, p)
		if a := send(t, app, newCase()); a.Problem != nil {
			t.Fatalf("%+v", a.Problem)
		}
		o := app.opened.Load()
		all := map[string]bool{}
		for id, err := range o.companion.Cases(t.Context()) {
			if err != nil {
				t.Fatal(err)
			}
			lines, err := o.companion.Closure(t.Context(), id)
			if err != nil {
				t.Fatal(err)
			}
			for _, l := range lines {
				all[l.Event.Log] = true
			}
		}
		if err := app.Close(); err != nil {
			t.Fatal(err)
		}
		return all
	}
	if n := len(logs()); n != 1 {
		t.Fatalf("%d logs at the start", n)
	}
	copyAll(t, dir, saved)
	if n := len(logs()); n != 1 {
		t.Errorf("%d logs after a second start", n)
	}
	if err := os.RemoveAll(dir); err != nil {
		t.Fatal(err)
	}
	copyAll(t, saved, dir)
	if n := len(logs()); n != 2 {
		t.Errorf("%d logs after a backup was put back, want 2", n)
	}
	// And one that came to another phone, where nothing was kept.
	if err := os.RemoveAll(dir + "-kept"); err != nil {
		t.Fatal(err)
	}
	if n := len(logs()); n != 3 {
		t.Errorf("%d logs on another phone, want 3", n)
	}
}
