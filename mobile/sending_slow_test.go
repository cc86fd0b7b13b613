//go:build slow

package mobile

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"maps"
	"net/http"
	"net/http/httptest"
	"net/http/httputil"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"chinlift/core/must"
	"chinlift/sync/plain"
	"chinlift/testdata/demo"
)

// thumb is a phone's companion before a browser at a phone's size: its pages
// and taps pass through the binding, its connection is the test's to change.
type thumb struct {
	*desk
	ctx  context.Context
	root string
}

func newThumb(t *testing.T) *thumb {
	t.Helper()
	d := newDesk(t, t.TempDir())
	srv := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.Method == http.MethodPost {
			tap, err := io.ReadAll(r.Body)
			var m struct{ Answer json.RawMessage }
			if err != nil || json.Unmarshal([]byte(d.app.Send(`{"n":1,"send":`+string(tap)+`}`)), &m) != nil {
				w.WriteHeader(http.StatusBadRequest)
				return
			}
			_, _ = w.Write(m.Answer) // the tab is gone: nothing to do
			return
		}
		p, err := d.app.Get(r.URL.RequestURI())
		if err != nil {
			w.WriteHeader(http.StatusInternalServerError)
			return
		}
		w.Header().Set("Content-Type", p.Type)
		w.Header().Set("Content-Security-Policy", Policy)
		w.WriteHeader(p.Status)
		_, _ = w.Write(p.Body)
	}))
	t.Cleanup(srv.Close)
	opts := append(slices.Clone(chromedp.DefaultExecAllocatorOptions[:]), chromedp.NoSandbox, chromedp.DisableGPU, chromedp.Flag("hide-scrollbars", true))
	ctx, cancel := chromedp.NewExecAllocator(t.Context(), opts...)
	t.Cleanup(cancel)
	ctx, cancel = chromedp.NewContext(ctx)
	t.Cleanup(cancel)
	ctx, cancel = context.WithTimeout(ctx, 5*time.Minute) // for the whole walk, on a slow machine
	t.Cleanup(cancel)
	b := &thumb{desk: d, ctx: ctx, root: srv.URL + "/"}
	b.run(chromedp.EmulateViewport(360, 640))
	return b
}

func (b *thumb) run(actions ...chromedp.Action[chromedp.Void]) {
	b.t.Helper()
	if err := chromedp.Do(b.ctx, actions...); err != nil {
		b.t.Fatal(err)
	}
}

func (b *thumb) read() string {
	b.t.Helper()
	return must.Get[string](b.t)(chromedp.Run(b.ctx, chromedp.Evaluate[string](`document.body.innerText`)))
}

// sees waits for the open page to say something by itself, and to hear taps; a
// page asks what is new every few seconds. not is what it must not say then.
func (b *thumb) sees(text string, not ...string) {
	b.t.Helper()
	b.until(text, fmt.Sprintf(`document.body.innerText.includes(%q)`, text))
	for _, n := range not {
		if strings.Contains(b.read(), n) {
			b.t.Errorf("beside %q the page says %q:\n%s", text, n, b.read())
		}
	}
}

// until waits for the open page to be ready and an expression to hold.
func (b *thumb) until(what, expression string) {
	b.t.Helper()
	ctx, cancel := context.WithTimeout(b.ctx, time.Minute)
	defer cancel()
	until := `document.readyState === "complete" && !("guard" in document.body.dataset) && !("deaf" in document.body.dataset) && ` + expression
	for {
		_, err := chromedp.Run(ctx, chromedp.Poll[chromedp.Void](until))
		if err == nil {
			return
		}
		if ctx.Err() != nil {
			b.t.Fatalf("the page does not say %q but\n%s", what, b.read())
		}
		// A poll does not outlive the page that it began on: begin on the next.
	}
}

// sets taps a key of the settings and waits until it is marked.
func (b *thumb) sets(key string) {
	b.t.Helper()
	b.open("settings", "may cost")
	b.taps(key)
	b.until(key, fmt.Sprintf(`document.querySelector('[data-key=%q].here') !== null`, key))
}

func (b *thumb) open(path, text string) {
	b.t.Helper()
	b.run(chromedp.Navigate(b.root + path))
	b.sees(text)
}

// taps is a real click at the middle of a key, by its name or a selector.
func (b *thumb) taps(key string) {
	b.t.Helper()
	sel := key // of what has no name of its own
	if !strings.Contains(key, "=") {
		sel = fmt.Sprintf(`[data-key=%q]`, key)
	}
	ctx, cancel := context.WithTimeout(b.ctx, 15*time.Second)
	defer cancel()
	_, err := chromedp.Run(ctx, chromedp.Evaluate[bool](fmt.Sprintf(`document.querySelector(%q).scrollIntoView({block: "center"}), true`, sel)))
	if err == nil {
		err = chromedp.Do(ctx, chromedp.Click(chromedp.CSS(sel)))
	}
	if err != nil {
		b.t.Fatalf("%s: %v on\n%s", key, err, b.read())
	}
}

func (b *thumb) types(name, text string) {
	b.t.Helper()
	b.run(chromedp.SendKeys(chromedp.CSS(fmt.Sprintf(`[name=%q]`, name)), text))
}

// names a place by thumb, from the log.
func (b *thumb) names(address, password string) {
	b.t.Helper()
	b.open("log", "Add a place")
	b.taps("add-webdav")
	b.sees("Send here from now on")
	b.types("address", address)
	b.types("user", "invented")
	b.types("secret", password)
	b.taps(`input[name="private"][value="no"]`)
	b.taps("add")
}

// slow is a WebDAV server behind a connection that may be slow without end.
type slow struct {
	url, dir string
	stalls   atomic.Bool // what is put after the first was read back gets no answer
	puts     atomic.Int64
	gets     atomic.Int64
}

func newSlow(t *testing.T, password string) *slow {
	t.Helper()
	target, dir, _ := server(t, password)
	s := &slow{dir: dir}
	proxy := httputil.NewSingleHostReverseProxy(must.Get[*url.URL](t)(url.Parse(target)))
	srv := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		switch r.Method {
		case http.MethodPut:
			s.puts.Add(1)
			if s.stalls.Load() && s.gets.Load() > 0 {
				_, _ = io.Copy(io.Discard, r.Body) // until then nobody hears that the other side gave up
				<-r.Context().Done()
				panic(http.ErrAbortHandler)
			}
		case http.MethodGet:
			s.gets.Add(1)
		}
		proxy.ServeHTTP(w, r)
	}))
	t.Cleanup(srv.Close)
	s.url = srv.URL
	return s
}

// arrived counts the lines that lie at the server.
func (s *slow) arrived(t *testing.T) int64 {
	t.Helper()
	n := 0
	for _, path := range must.Get[[]string](t)(filepath.Glob(filepath.Join(s.dir, "segments", "*", "*.jsonl"))) {
		n += bytes.Count(must.Get[[]byte](t)(os.ReadFile(path)), []byte("\n"))
	}
	return int64(n)
}

// TestSendingByThumb: how far the sending is can be seen, it can be stopped, and
// nothing is lost by that; by hand it goes on at any time, and the number that
// is not confirmed stands on today until it is none.
func TestSendingByThumb(t *testing.T) {
	const password = "the invented password"
	s := newSlow(t, password)
	s.stalls.Store(true)
	b := newThumb(t)
	companion := b.app.opened.Load().companion
	// The logs of three devices: more than one parcel.
	for _, name := range slices.Sorted(maps.Keys(demo.Files())) {
		must.Get[plain.Replayed](t)(plain.Replay(t.Context(), bytes.NewReader(demo.Files()[name]), companion))
	}
	b.connect(ConnectionFree)
	b.names(s.url, password)
	b.sees("sending, 1 of ")
	stored := companion.Stored()
	b.open("today", "not yet confirmed")
	// A tap waits for no server.
	b.asleep()
	if companion.Stored() <= stored {
		t.Fatal("nothing was recorded while the server was slow")
	}
	stored = companion.Stored()
	b.open("log", "sending, 1 of ")
	b.taps("stop-sending")
	b.sees("waiting", "sending, ", "Stop sending")
	first := s.arrived(t)
	if first == 0 || first >= stored {
		t.Errorf("%d of %d lines arrived before the stop", first, stored)
	}
	b.open("today", "not yet confirmed")
	if companion.Stored() != stored {
		t.Errorf("%d lines are stored, and were %d", companion.Stored(), stored)
	}
	// It is sent when somebody asks, from where it was.
	s.stalls.Store(false)
	b.open("log", "waiting")
	b.taps("send-now")
	b.open("today", "Chinlift")
	b.sees("was read back", "not yet confirmed")
	if n := s.arrived(t); n != stored {
		t.Errorf("%d of %d lines arrived", n, stored)
	}
	b.open("log", "read back and the same")
	b.sees("read back and the same", "waiting", "not yet confirmed")
	if r, err := companion.Verify(t.Context()); err != nil || len(r.Findings) != 0 {
		t.Errorf("the folder does not verify: %v %v", r.Findings, err)
	}
}

// TestSendsByItselfByThumb: what waits goes by itself when a connection comes
// back; over one where each byte may cost only once the settings allow it.
func TestSendsByItselfByThumb(t *testing.T) {
	const password = "the invented password"
	s := newSlow(t, password)
	b := newThumb(t)
	companion := b.app.opened.Load().companion
	id := b.asleep()
	b.names(s.url, password)
	b.sees("has no connection")
	b.connect(ConnectionMetered)
	b.sees("may cost here", "has no connection")
	b.open("today", "not yet confirmed")
	if n := s.puts.Load(); n != 0 {
		t.Errorf("%d parcels were put over a connection that may cost", n)
	}
	b.sets("metered-yes")
	b.connect(ConnectionNone)
	b.open("today", "not yet confirmed")
	b.connect(ConnectionMetered) // and the open page says by itself what came of it
	b.sees("was read back", "not yet confirmed")
	if n := s.arrived(t); n != companion.Stored() {
		t.Errorf("%d of %d lines arrived", n, companion.Stored())
	}
	// What was allowed can be forbidden, and then waits for a free connection.
	b.sets("metered-no")
	b.connect(ConnectionNone)
	puts := s.puts.Load()
	b.do("/case/"+id+"/table", "kind", "mark")
	b.connect(ConnectionMetered)
	b.open("log", "may cost here")
	if s.puts.Load() != puts {
		t.Error("it was sent though it was forbidden")
	}
	b.open("today", "not yet confirmed")
	b.connect(ConnectionFree)
	b.sees("was read back", "not yet confirmed")
	if n := s.arrived(t); n != companion.Stored() {
		t.Errorf("%d of %d lines arrived", n, companion.Stored())
	}
}
