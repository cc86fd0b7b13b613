//go:build slow

package ui

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"mime"
	"net/http"
	"slices"
	"strings"
	"sync"
	"testing"

	"github.com/chromedp/cdproto/fetch"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
)

// phoneOrigin stands for the one that a phone's shell serves the screens
// under. No name below "invalid" can ever be given out (RFC 2606, section 2):
// what the interceptor does not answer, nobody does.
const phoneOrigin = "https://chinlift.invalid"

// shell plays the phone's part around the WebView. It answers what the page
// asks for out of UI.Get, in one piece, and lends the page a message port that
// ends in UI.Send. It opens no socket. What a phone could not carry it refuses,
// and notes as a fault.
type shell struct {
	late    bool // the port is lent only when lendPort is called on the page
	patient bool // timers of a second and more are kept on the page, in waits, until fireWaits

	p *phone

	mu     sync.Mutex
	faults []string
	heard  []portCall // every call that came over the port, in order
	deaf   bool       // the shell dies after it has recorded: nothing is answered
}

// portCall is what goes over the port, to and fro.
type portCall struct {
	N      int64           `json:"n"`
	Send   json.RawMessage `json:"send,omitempty"`
	Answer *Answer         `json:"answer,omitempty"`
}

// overPort carries as on a phone.
func overPort(p *phone) string { return new(shell).carry(p) }

// shellScript is the shell's half in the page. In the WebView of Android it is
// postWebMessage from outside, under iOS a user script like this one. Both can
// carry text only.
const shellScript = `
window.lendPort = () => {
	const { port1, port2 } = new MessageChannel();
	port1.onmessage = async (m) => { const a = await shellHears(m.data); window.heard = (window.heard || 0) + 1; if (a) port1.postMessage(a); };
	window.lentPort = port1;
	postMessage("port", location.origin, [port2]);
};
`

const lendAtOnce = `addEventListener("load", lendPort);`

const keepTimers = `
window.waits = [];
const soon = window.setTimeout;
window.setTimeout = (f, ms, ...more) => ms >= 1000 ? (waits.push({f, ms}), 0) : soon(f, ms, ...more);
window.fireWaits = () => { for (const w of waits.splice(0)) w.f(); };
`

func (s *shell) carry(p *phone) string {
	s.p = p
	script := shellScript
	if s.patient {
		script += keepTimers
	}
	if !s.late {
		script += lendAtOnce
	}
	ctx, stop := context.WithCancel(p.ctx)
	paused := chromedp.Events(ctx, fetch.RequestPaused)
	sockets := chromedp.Events(ctx, network.WebSocketCreated)
	var done sync.WaitGroup
	done.Go(func() {
		for ev, err := range paused {
			if ctx.Err() != nil {
				return
			}
			if err == nil {
				err = s.serve(ctx, &ev)
			}
			if err != nil && ctx.Err() == nil {
				s.fault("the interceptor: %v", err)
			}
		}
	})
	done.Go(func() {
		for ev, err := range sockets {
			if ctx.Err() != nil {
				return
			}
			s.fault("a socket to %s (%v)", ev.URL, err)
		}
	})
	p.run(
		command(network.Enable.Method, network.EnableParams{}),
		command(fetch.Enable.Method, fetch.EnableParams{Patterns: []*fetch.RequestPattern{{URLPattern: "*"}}}),
		chromedp.ExposeFunc("shellHears", s.hears),
		command(page.AddScriptToEvaluateOnNewDocument.Method, page.AddScriptToEvaluateOnNewDocumentParams{Source: script}),
	)
	p.t.Cleanup(func() {
		if !p.t.Failed() {
			s.checkKept()
		}
		stop()
		done.Wait()
		for _, f := range s.takeFaults() {
			p.t.Errorf("no phone can carry this: %s", f)
		}
	})
	return phoneOrigin + "/"
}

// command is a step that gives the browser an order and looks at no answer but
// its error.
func command(method string, params any) chromedp.Action[chromedp.Void] {
	return chromedp.Func(func(ctx context.Context, t *chromedp.Target) error { return t.Call(ctx, method, params, nil) })
}

func (s *shell) fault(format string, args ...any) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.faults = append(s.faults, fmt.Sprintf(format, args...))
}

func (s *shell) takeFaults() []string {
	s.mu.Lock()
	defer s.mu.Unlock()
	all := s.faults
	s.faults = nil
	return all
}

// carried are the kinds of request that an interceptor is asked for. What a
// script streams or pings is none of them: its answer could not go on arriving,
// and its body would be lost. A script may fetch a tray and what changed: short
// answers that come in one piece, like a page.
var carried = []network.ResourceType{network.ResourceTypeDocument, network.ResourceTypeStylesheet, network.ResourceTypeScript, network.ResourceTypeImage}

// serve answers one request in one piece, or refuses it.
func (s *shell) serve(ctx context.Context, ev *fetch.EventRequestPaused) error {
	r := ev.Request
	refuse := func(why string) error {
		s.fault("%s %s: %s", r.Method, r.URL, why)
		_, err := chromedp.Call(ctx, fetch.FailRequest, fetch.FailRequestParams{RequestID: ev.RequestID, ErrorReason: network.ErrorReasonBlockedByClient})
		return err
	}
	target, ours := strings.CutPrefix(r.URL, phoneOrigin)
	switch {
	case !ours || !strings.HasPrefix(target, "/"):
		return refuse("goes to another host")
	case r.Method != http.MethodGet:
		return refuse("is not a GET")
	case r.HasPostData:
		return refuse("has a body")
	case (ev.ResourceType == network.ResourceTypeXHR || ev.ResourceType == network.ResourceTypeFetch) && (strings.Contains(target, "layer=1") || strings.Contains(target, "fresh=")):
	case !slices.Contains(carried, ev.ResourceType):
		return refuse("is asked for as " + string(ev.ResourceType))
	}
	for name := range r.Headers {
		if strings.EqualFold(name, "Cookie") {
			return refuse("brings a cookie")
		}
	}
	got := s.p.u.Get(ctx, target)
	// A WebView takes a media type and a charset apart from each other, and
	// refuses a status that leads elsewhere (WebResourceResponse, Android API
	// reference: setStatusCodeAndReasonPhrase, "[300, 399]").
	if _, _, err := mime.ParseMediaType(got.Type); err != nil {
		s.fault("%s: its type %q: %v", target, got.Type, err)
	}
	if got.Status < 100 || got.Status >= 300 && got.Status < 400 || got.Status > 599 {
		s.fault("%s: is answered with status %d", target, got.Status)
	}
	_, err := chromedp.Call(ctx, fetch.FulfillRequest, fetch.FulfillRequestParams{
		RequestID: ev.RequestID, ResponseCode: int64(got.Status), Body: got.Body,
		ResponseHeaders: []*fetch.HeaderEntry{
			{Name: "Content-Type", Value: got.Type},
			{Name: "Content-Security-Policy", Value: Policy},
			{Name: "X-Content-Type-Options", Value: "nosniff"},
			{Name: "Cache-Control", Value: "no-store"},
		},
	})
	return err
}

// hears takes one text from the port, and gives the text to answer with; an
// empty one is not sent.
func (s *shell) hears(ctx context.Context, message any) (string, error) {
	text, ok := message.(string)
	if !ok {
		s.fault("over the port came %T, not text", message)
		return "", errors.New("only text")
	}
	var call portCall
	var send Send
	if err := strictly(text, &call); err != nil {
		s.fault("over the port came %.200s: %v", text, err)
		return "", err
	}
	if err := strictly(string(call.Send), &send); err != nil {
		s.fault("over the port came the tap %.200s: %v", call.Send, err)
		return "", err
	}
	s.mu.Lock()
	s.heard = append(s.heard, call)
	deaf := s.deaf
	s.mu.Unlock()
	a := s.p.u.Send(ctx, send)
	if deaf {
		return "", nil
	}
	answer, err := json.Marshal(portCall{N: call.N, Answer: &a})
	return string(answer), err
}

// strictly reads JSON that holds what is known and nothing else.
func strictly(text string, v any) error {
	d := json.NewDecoder(bytes.NewBufferString(text))
	d.DisallowUnknownFields()
	return d.Decode(v)
}

// checkKept sees that the page has put nothing by: a phone may throw it away
// at any moment.
func (s *shell) checkKept() {
	s.p.t.Helper()
	if kept := eval[string](s.p, `document.cookie + Object.keys(localStorage) + Object.keys(sessionStorage)`); kept != "" {
		s.fault("the page keeps %q", kept)
	}
	jar, err := chromedp.Call(s.p.ctx, network.GetCookies, network.GetCookiesParams{})
	if err != nil || len(jar.Cookies) > 0 {
		s.fault("%d cookies are kept (%v)", len(jar.Cookies), err)
	}
}

// TestJourneysOverPort takes every journey as on a phone.
func TestJourneysOverPort(t *testing.T) {
	for _, j := range journeys {
		t.Run(j.name, func(t *testing.T) { j.take(newPhoneOver(t, overPort, 360, 640)) })
	}
}

// TestEveryScreenStandsOverPort looks at every page as on a phone. The looks
// are the same pages with another attribute, so two of them are enough here.
func TestEveryScreenStandsOverPort(t *testing.T) {
	everyScreenStands(newPhoneOver(t, overPort, 360, 640), looks[:2])
}

// TestPhoneLimitsBite does what no phone can carry, and sees that the shell of
// these tests notes it.
func TestPhoneLimitsBite(t *testing.T) {
	for _, tt := range []struct{ name, script, want string }{
		{"a body", `fetch("send", {method: "POST", body: "{}"}).catch(() => 0)`, "POST " + phoneOrigin + "/send: is not a GET"},
		{"a stream", `fetch("today").catch(() => 0)`, "GET " + phoneOrigin + "/today: is asked for as "},
		{"another host", `new Promise((r) => { const s = document.createElement("a"); s.href = "https://elsewhere.invalid/"; document.body.append(s); s.click(); setTimeout(r, 1000); })`,
			"GET https://elsewhere.invalid/: goes to another host"},
		{"not text", `(async () => { const r = await shellHears({n: 1}).catch(() => 0); })()`, "over the port came map[string]interface {}, not text"},
		{"a cookie", `document.cookie = "a=b"`, `the page keeps "a=b"`},
		{"something kept", `sessionStorage.setItem("a", "b")`, `the page keeps "a"`},
	} {
		t.Run(tt.name, func(t *testing.T) {
			s := new(shell)
			p := newPhoneOver(t, s.carry, 360, 640)
			p.open("today")
			// Where the script leads away from the page its end is never told.
			if _, err := chromedp.Run(p.ctx, chromedp.Evaluate[chromedp.Void](tt.script, chromedp.EvalAwaitPromise)); err != nil && !strings.Contains(err.Error(), "navigated or closed") {
				t.Fatal(err)
			}
			if strings.HasPrefix(tt.want, "the page keeps") {
				s.checkKept()
				eval[chromedp.Void](p, `document.cookie = "a=; max-age=0"; sessionStorage.clear()`)
			}
			// The order of the browser's events is not that of the answers to
			// its commands: the fault is noted when the next page is there.
			p.open("today")
			faults := s.takeFaults()
			if len(faults) == 0 || !strings.HasPrefix(faults[0], tt.want) {
				t.Errorf("noted %q, want %q", faults, tt.want)
			}
		})
	}
}

// TestNoAnswerOverPort loses a tap on its way, and another one's answer on the
// way back. What was entered stays on the screen with words that say so, and
// the same key tapped again is the same event.
func TestNoAnswerOverPort(t *testing.T) {
	for _, tt := range []struct {
		name  string
		lost  func(s *shell)
		wrote int64 // lines, before the retry
		heard int   // calls, after it
	}{
		{"the port is closed", func(s *shell) { eval[chromedp.Void](s.p, `lentPort.close()`) }, 0, 1},
		{"the shell dies after it recorded", func(s *shell) { s.setDeaf(true) }, 1, 2},
	} {
		t.Run(tt.name, func(t *testing.T) {
			s := &shell{patient: true}
			p := newPhoneOver(t, s.carry, 360, 640)
			id := newCase(t, p.u, "Lost")
			p.open("case/" + id + "/table/vitals")
			p.value("pulse", 90)
			event := func() string {
				return eval[string](p, `document.querySelector('[data-key="record"]').dataset.event`)
			}
			drawn, before := event(), p.c.Stored()
			tt.lost(s)
			p.click(key("record"))
			p.until(`waits.some((w) => w.ms >= 5000 && w.ms <= 30000)`)
			if busy := eval[bool](p, `document.querySelector('[data-key="record"]').getAttribute("aria-busy") === "true"`); !busy {
				t.Error("the key does not show that its tap is under way")
			}
			if tt.wrote > 0 {
				p.until(`window.heard`)
			}
			eval[chromedp.Void](p, `fireWaits()`)
			notice, want := p.until(`document.getElementById("notice").textContent`), p.u.words.Say("shell.lost")
			if notice != want {
				t.Errorf("notice %q, want %q", notice, want)
			}
			if v := eval[string](p, `document.querySelector('.measure[data-measure="pulse"] output').textContent`); v != "90" {
				t.Errorf("the entry on the screen is %q", v)
			}
			if e := event(); e != drawn {
				t.Errorf("the key stands for event %s now, and stood for %s", e, drawn)
			}
			if n := p.c.Stored() - before; n != tt.wrote {
				t.Errorf("%d lines were written before the retry, want %d", n, tt.wrote)
			}

			s.setDeaf(false)
			eval[chromedp.Void](p, `lendPort()`)
			p.click(key("record"))
			p.ready("case/"+id+"/table", before)
			if n := p.c.Stored() - before; n != 1 {
				t.Errorf("with the retry %d lines were written", n)
			}
			all := said(t, p.c, id)
			if last := all[len(all)-1]; last != "vitals pulse=90 pulse_unit=/min" {
				t.Errorf("recorded %q", last)
			}
			calls := s.calls()
			if len(calls) != tt.heard {
				t.Errorf("%d calls came over the port, want %d", len(calls), tt.heard)
			}
			seen := map[int64]bool{}
			for _, c := range calls {
				var send Send
				if err := json.Unmarshal(c.Send, &send); err != nil || send.Event != drawn || seen[c.N] {
					t.Errorf("call %d is about event %s, want %s and a number of its own (%v)", c.N, send.Event, drawn, err)
				}
				seen[c.N] = true
			}
		})
	}
}

// TestTapBeforeThePort taps while the shell has not lent its port yet.
func TestTapBeforeThePort(t *testing.T) {
	s := &shell{late: true}
	p := newPhoneOver(t, s.carry, 360, 640)
	id := newCase(t, p.u, "Early")
	p.open("case/" + id + "/table")
	before := p.c.Stored()
	p.click(key("mark"))
	p.until(`document.querySelector('[data-key="mark"][aria-busy="true"]') !== null`)
	if n := p.c.Stored() - before; n != 0 {
		t.Errorf("without a port %d lines were written", n)
	}
	eval[chromedp.Void](p, `lendPort()`)
	p.ready("", before)
	if n := p.c.Stored() - before; n != 1 {
		t.Errorf("%d lines were written", n)
	}
}

func (s *shell) setDeaf(deaf bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.deaf = deaf
}

func (s *shell) calls() []portCall {
	s.mu.Lock()
	defer s.mu.Unlock()
	return slices.Clone(s.heard)
}
