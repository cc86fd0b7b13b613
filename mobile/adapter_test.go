package mobile

import (
	"encoding/json"
	"errors"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"

	"chinlift/core"
	"chinlift/core/word"
	"chinlift/mobile/ui"
)

// phone is a platform that does what a test tells it to.
type phone struct {
	mu        sync.Mutex
	breaks    bool // every answer panics: the worst that could come from there
	since     int64
	language  string
	freeBytes int64
	battery   int
	charging  bool
	boot      string
	zone      string
	offset    int
	locked    bool // the key store does not answer
}

func (p *phone) ask() {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.breaks {
		panic("the shell threw")
	}
}

func (p *phone) set(breaks bool) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.breaks = breaks
}

// with has something asked or changed by one at a time.
func with[T any](p *phone, do func() T) T {
	p.ask()
	p.mu.Lock()
	defer p.mu.Unlock()
	return do()
}

func (p *phone) SinceBoot() int64 { return with(p, func() int64 { return p.since }) }
func (p *phone) Boot() string     { return with(p, func() string { return p.boot }) }
func (p *phone) Zone() string     { return with(p, func() string { return p.zone }) }
func (p *phone) ZoneOffset() int  { return with(p, func() int { return p.offset }) }
func (p *phone) FreeBytes() int64 { return with(p, func() int64 { return p.freeBytes }) }
func (p *phone) Battery() int     { return with(p, func() int { return p.battery }) }
func (p *phone) Charging() bool   { return with(p, func() bool { return p.charging }) }
func (p *phone) Language() string { return with(p, func() string { return p.language }) }
func (p *phone) FullSync() bool   { p.ask(); return false }

// Wrap turns each byte round, under a mark, into a slice that is used again.
func (p *phone) Wrap(secret []byte) ([]byte, error) {
	return with(p, func() []byte { return turned("wrapped:", secret) }), nil
}

func (p *phone) Unwrap(wrapped []byte) ([]byte, error) {
	if with(p, func() bool { return p.locked }) || !strings.HasPrefix(string(wrapped), "wrapped:") {
		return nil, errors.New("the key store is closed")
	}
	return turned("", wrapped[len("wrapped:"):]), nil
}

func turned(mark string, b []byte) []byte {
	out := []byte(mark)
	for _, x := range b {
		out = append(out, ^x)
	}
	return out
}

func newPhone() *phone {
	return &phone{since: 3600_000, language: "en-GB", freeBytes: 1 << 40, battery: 80, boot: "boot-1", zone: "Etc/GMT-3", offset: 3 * 3600}
}

func openApp(t *testing.T, dir string, p Platform) *App {
	t.Helper()
	app, err := Open(dir, dir+"-kept", p)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := app.Close(); err != nil {
			t.Error(err)
		}
	})
	return app
}

func getPage(t *testing.T, app *App, path string) *Page {
	t.Helper()
	p, err := app.Get(path)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func send(t *testing.T, app *App, s ui.Send) ui.Answer {
	t.Helper()
	tap, err := json.Marshal(s)
	if err != nil {
		t.Fatal(err)
	}
	a, ok := post(t, app, string(tap))
	if !ok {
		t.Fatalf("%+v has no answer", s)
	}
	return a
}

// post sends a tap as the page does; ok says whether the text that comes back
// has an answer.
func post(t *testing.T, app *App, tap string) (a ui.Answer, ok bool) {
	t.Helper()
	text := app.Send(`{"n":7,"send":` + tap + `}`)
	var m struct {
		N      int
		Answer *ui.Answer
	}
	if err := json.Unmarshal([]byte(text), &m); err != nil || m.N != 7 || strings.ContainsAny(text, "\n") {
		t.Fatalf("%.60q is answered by %q, %v", tap, text, err)
	}
	if m.Answer == nil {
		return a, false
	}
	return *m.Answer, true
}

// newCase is the tap that opens a case.
func newCase() ui.Send {
	return ui.Send{Path: "/case/new", Event: core.NewID(), Fields: map[string][]string{"do": {"open"},
		"name": {"Invented Person"}, "age": {"34"}, "age_unit": {"a"}, "sex": {"female"}, "weight": {"52"}, "weight_how": {"measured"}, "weight_by": {"scale"}, "urgency": {"elective"}}}
}

func TestACaseThroughTheBinding(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "data")
	p := newPhone()
	app := openApp(t, dir, p)
	if page := getPage(t, app, "/"); page.Status != 200 || !strings.HasPrefix(page.Type, "text/html") || !strings.Contains(string(page.Body), "Chinlift") {
		t.Fatalf("the first page: %d %s\n%s", page.Status, page.Type, page.Body)
	}
	tap := newCase()
	a := send(t, app, tap)
	if a.Problem != nil || !strings.HasPrefix(a.Go, "case/") {
		t.Fatalf("opening a case answers %+v, %+v", a, a.Problem)
	}
	// The message port may lose an answer: the same tap again is no second case.
	if again := send(t, app, tap); again.Seq != a.Seq || again.Problem != nil {
		t.Errorf("the same tap again: %+v, %+v; want %d lines", again, again.Problem, a.Seq)
	}
	page := getPage(t, app, "/"+a.Go)
	if page.Status != 200 || !strings.Contains(string(page.Body), "Invented Person") {
		t.Errorf("the page to go to: %d\n%s", page.Status, page.Body)
	}
	if page := getPage(t, app, "/no/such/page"); page.Status != 404 || len(page.Body) == 0 {
		t.Errorf("a page that is not there: %d", page.Status)
	}

	if err := app.Suspend(); err != nil {
		t.Fatal(err)
	}
	if page := getPage(t, app, "/log"); page.Status != 503 || len(page.Body) == 0 {
		t.Errorf("asleep: %d", page.Status)
	}
	if asleep := send(t, app, newCase()); asleep.Problem == nil || asleep.Problem.Status != 503 || asleep.Problem.Words == "" {
		t.Errorf("a tap while asleep answers %+v, %+v", asleep, asleep.Problem)
	}
	if err := app.Resume(); err != nil {
		t.Fatal(err)
	}
	if page := getPage(t, app, "/log"); page.Status != 200 {
		t.Errorf("awake again: %d", page.Status)
	}
	if err := app.Close(); err != nil {
		t.Fatal(err)
	}

	// It is on the disk, and the phone's clock is in it.
	back := openApp(t, dir, p)
	if page := getPage(t, back, "/"+a.Go); page.Status != 200 || !strings.Contains(string(page.Body), "Invented Person") {
		t.Errorf("after another start: %d\n%s", page.Status, page.Body)
	}
	o := back.opened.Load()
	for id, err := range o.companion.Cases(t.Context()) {
		if err != nil {
			t.Fatal(err)
		}
		lines, err := o.companion.Closure(t.Context(), id)
		if err != nil {
			t.Fatal(err)
		}
		for _, l := range lines {
			e := l.Event.Entered
			if e.Boot != "boot-1" || e.SinceBootMS != 3600_000 || !strings.HasSuffix(e.Wall.String(), "Etc/GMT-3") && !strings.Contains(string(l.E), "+03:00") {
				t.Errorf("entered %+v; want the phone's clock and zone", e)
			}
		}
	}
}

func TestTapThatCannotBeRead(t *testing.T) {
	app := openApp(t, t.TempDir(), newPhone())
	for _, tap := range []string{`"null and void"`, "[]", `{"path":1}`, `{"unknown":true}`, `{"path":"` + strings.Repeat("x", maxSend) + `"}`} {
		a, ok := post(t, app, tap)
		if !ok || a.Problem == nil || a.Problem.Status != 400 || a.Problem.Words == "" || strings.HasPrefix(a.Problem.Words, "[") {
			t.Errorf("%.20q answers %+v, %v", tap, a, ok)
		}
	}
	// What is no text of the page is answered by nothing.
	for _, text := range []string{"", "port", "{}", `{"n":1}`, `{"send":{}}`, `{"n":"x","send":{}}`, `{"n":1,"send":{}} and more`, "\xff", `{"n":1,"send":{"path":"` + strings.Repeat("x", 2*maxSend) + `"}}`} {
		if answer := app.Send(text); answer != "" {
			t.Errorf("%.30q is answered by %q", text, answer)
		}
	}
}

// The tool gives every exported type a constructor of its zero value.
func TestZeroAppSurvives(t *testing.T) {
	var missing *App
	for _, app := range []*App{{}, missing} {
		if p, err := app.Get("/"); err == nil || p != nil {
			t.Errorf("Get: %+v, %v", p, err)
		}
		if s := app.Send(`{"n":3,"send":{}}`); s != `{"n":3}` {
			t.Errorf("Send: %q", s)
		}
		for name, err := range map[string]error{"Mark": app.Mark("/"), "Attach": app.Attach("/attach/kit/a/b", nil), "Watch": app.Watch(nil), "Connected": app.Connected(ConnectionFree)} {
			if err == nil || strings.HasPrefix(err.Error(), "[") {
				t.Errorf("%s: %v; want an error in words", name, err)
			}
		}
		if err := app.Suspend(); err == nil {
			t.Error("Suspend: no error")
		}
		if err := app.Resume(); err == nil {
			t.Error("Resume: no error")
		}
		if err := app.Close(); err != nil {
			t.Errorf("Close: %v", err)
		}
	}
	dir := t.TempDir()
	if _, err := Open(dir, dir+"-kept", nil); err == nil {
		t.Error("Open without a platform: no error")
	}
	for _, two := range [][2]string{{"", dir}, {dir, ""}, {dir, dir}, {dir, dir + "/kept"}, {dir + "/data", dir}} {
		if _, err := Open(two[0], two[1], newPhone()); err == nil {
			t.Errorf("Open on %q: no error", two)
		}
	}
	var none *Notice
	for _, n := range []*Notice{{}, none} {
		if n.Alarms() != 0 || n.Alarm(0) != nil || n.Alarm(-1) != nil {
			t.Errorf("an empty notice has alarms: %+v", n)
		}
	}
}

func TestNoPanicGetsOut(t *testing.T) {
	p := newPhone()
	dir := t.TempDir()
	p.set(true)
	if app, err := Open(dir, dir+"-kept", p); err == nil || app != nil {
		t.Fatalf("Open on a broken platform: %v, %v", app, err)
	}
	p.set(false)
	app := openApp(t, dir, p)
	p.set(true)
	if _, err := app.Get("/"); err == nil || strings.Contains(err.Error(), "threw") {
		t.Errorf("Get: %v; want an error in words", err)
	}
	tap, err := json.Marshal(newCase())
	if err != nil {
		t.Fatal(err)
	}
	if a, ok := post(t, app, string(tap)); ok {
		t.Errorf("Send answers %+v; nobody can know", a)
	}
	if err := app.Mark("/"); err == nil || strings.Contains(err.Error(), "threw") {
		t.Errorf("Mark: %v", err)
	}
	// Nothing is left locked or half done behind it.
	p.set(false)
	if a, ok := post(t, app, string(tap)); !ok || a.Problem != nil || a.Go == "" {
		t.Errorf("the same tap again answers %+v, %v", a, ok)
	}
}

func TestCloseAmongCalls(t *testing.T) {
	app := openApp(t, t.TempDir(), newPhone())
	var group sync.WaitGroup
	for range 4 {
		group.Go(func() {
			for {
				if _, err := app.Get("/"); err != nil {
					return // closed
				}
				if page, err := app.Get("/log"); err == nil && !slices.Contains([]int{200, 503}, page.Status) {
					t.Errorf("a page among closing: %d", page.Status)
				}
			}
		})
	}
	if err := app.Close(); err != nil {
		t.Error(err)
	}
	group.Wait()
	if err := app.Close(); err != nil {
		t.Errorf("a second Close: %v", err)
	}
}

func TestLanguage(t *testing.T) {
	p := newPhone()
	p.language = "no language at all"
	app := openApp(t, t.TempDir(), p)
	page := getPage(t, app, "/")
	if !regexp.MustCompile(`<html lang="en"`).Match(page.Body) {
		t.Errorf("without a language the page is not English:\n%s", page.Body)
	}
	if faults := word.English().Missing(); len(faults) > 0 {
		t.Errorf("words are missing: %q", faults)
	}
}

// A page is copied for each reader: the tool hands out the bytes themselves.
func TestPagesAreNotShared(t *testing.T) {
	app := openApp(t, t.TempDir(), newPhone())
	first := getPage(t, app, "/static/chinlift.js")
	want := string(first.Body)
	if first.Status != 200 || want == "" {
		t.Fatalf("the script: %d", first.Status)
	}
	for i := range first.Body {
		first.Body[i] = 0
	}
	if again := getPage(t, app, "/static/chinlift.js"); string(again.Body) != want {
		t.Error("what one reader wrote into its page, the next one got")
	}
}
