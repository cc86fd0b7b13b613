//go:build slow

package ui

import (
	"context"
	"fmt"
	"math"
	"net/http/httptest"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"chinlift/core"
	"chinlift/core/timeline"
)

// One browser serves all tests; each has a tab of its own.
var browser = sync.OnceValues(func() (context.Context, error) {
	opts := append(slices.Clone(chromedp.DefaultExecAllocatorOptions[:]),
		chromedp.NoSandbox, chromedp.DisableGPU,
		chromedp.Flag("disable-background-networking", true), chromedp.Flag("disable-component-update", true),
		chromedp.Flag("disable-sync", true), chromedp.Flag("disable-quic", true), chromedp.Flag("hide-scrollbars", true),
	)
	alloc, _ := chromedp.NewExecAllocator(context.Background(), opts...)
	ctx, _ := chromedp.NewContext(alloc)
	return ctx, chromedp.Do(ctx)
})

// phone is a tab at a phone's size, on a companion of its own.
type phone struct {
	t     testing.TB
	ctx   context.Context
	u     *UI
	c     *core.Companion
	clock *fakeClock
	root  string // address of the first page, before which every path is put
}

// A carrier brings pages and taps to and fro between a tab and the screens of
// its companion, and gives the address of the first page. It sees to its own
// end.
type carrier func(p *phone) (root string)

// overHTTP carries as on a desk.
func overHTTP(p *phone) string {
	srv := httptest.NewServer(p.u.Handler("t"))
	p.t.Cleanup(srv.Close)
	return srv.URL + "/t/"
}

func newPhone(t testing.TB, width, height int64) *phone {
	t.Helper()
	return newPhoneOver(t, overHTTP, width, height)
}

func newPhoneOver(t testing.TB, carry carrier, width, height int64) *phone {
	t.Helper()
	b, err := browser()
	if err != nil {
		t.Fatalf("no browser (make deps installs chromium): %v", err)
	}
	u, c, clock := newUI(t)
	ctx, cancel := chromedp.NewContext(b)
	t.Cleanup(cancel)
	// For the longest walk on a slow machine; every wait within it is shorter.
	ctx, cancel = context.WithTimeout(ctx, 20*time.Minute)
	t.Cleanup(cancel)
	p := &phone{t: t, ctx: ctx, u: u, c: c, clock: clock}
	p.run(chromedp.EmulateViewport(width, height))
	p.root = carry(p)
	return p
}

func (p *phone) run(actions ...chromedp.Action[chromedp.Void]) {
	p.t.Helper()
	if err := chromedp.Do(p.ctx, actions...); err != nil {
		p.t.Fatal(err)
	}
}

// eval gives what a script on the page gives.
func eval[T any](p *phone, script string, opts ...chromedp.EvaluateOption) T {
	p.t.Helper()
	v, err := chromedp.Run(p.ctx, chromedp.Evaluate[T](script, opts...))
	if err != nil {
		p.t.Fatalf("%v in %.200s", err, script)
	}
	return v
}

func (p *phone) location() string { return eval[string](p, "location.href") }

// open opens a page and waits until its script runs.
func (p *phone) open(path string) {
	p.t.Helper()
	p.run(chromedp.Navigate(p.root + path))
	p.ready(path, -1)
}

// ready waits until the page at this path shows more than so many lines.
func (p *phone) ready(path string, more int64) {
	p.t.Helper()
	where := "true"
	if path != "" {
		where = fmt.Sprintf("location.href === %q", p.root+path)
	}
	until := fmt.Sprintf(`document.readyState === "complete" && document.body && document.body.dataset.seq !== undefined && !("guard" in document.body.dataset) && !("deaf" in document.body.dataset) && Number(document.body.dataset.seq) > %d && %s`, more, where)
	ctx, cancel := context.WithTimeout(p.ctx, 15*time.Second)
	defer cancel()
	for {
		_, err := chromedp.Run(ctx, chromedp.Poll[chromedp.Void](until))
		if err == nil {
			return
		}
		if ctx.Err() != nil {
			p.t.Fatalf("waiting for %q with more than %d lines: %v; at %s, notice %q", path, more, err, p.location(), eval[string](p, `document.getElementById("notice").textContent`))
		}
		// A poll does not outlive the page that it began on: begin on the next.
	}
}

// until waits for an expression on the open page to give something, and gives
// it as text.
func (p *phone) until(expression string) string {
	p.t.Helper()
	ctx, cancel := context.WithTimeout(p.ctx, 15*time.Second)
	defer cancel()
	v, err := chromedp.Run(ctx, chromedp.Poll[any](expression))
	if err != nil {
		p.t.Fatalf("waiting for %s: %v", expression, err)
	}
	return fmt.Sprint(v)
}

// key is the selector of a control.
func key(name string) string { return fmt.Sprintf(`[data-key=%q]`, name) }

// click taps the first element with the selector, by a real click at its
// centre after it was scrolled into view.
func (p *phone) click(sel string) {
	p.t.Helper()
	ctx, cancel := context.WithTimeout(p.ctx, 10*time.Second)
	defer cancel()
	// To the middle, as a thumb scrolls: away from the rows that stay in reach.
	eval[bool](p, fmt.Sprintf(`(() => { const e = document.querySelector(%q); if (e) e.scrollIntoView({block: "center"}); return !!e; })()`, sel))
	if err := chromedp.Do(ctx, chromedp.Click(chromedp.CSS(sel))); err != nil {
		p.t.Fatalf("click %s at %s: %v", sel, p.location(), err)
	}
}

// link taps a link and waits for the page that it leads to.
func (p *phone) link(sel, path string) {
	p.t.Helper()
	p.click(sel)
	p.ready(path, -1)
}

// record taps a key that records, and waits until the page shows it.
func (p *phone) record(sel, path string) {
	p.t.Helper()
	before := p.c.Stored()
	p.click(sel)
	p.ready(path, before)
}

func (p *phone) pick(name, value string) {
	p.t.Helper()
	p.click(fmt.Sprintf(`input[name=%q][value=%q]`, name, value))
}

func (p *phone) digits(text string) {
	p.t.Helper()
	for _, d := range text {
		p.click(fmt.Sprintf(`[data-digit="%c"]`, d))
	}
}

// value taps a value of a row of the tray: on the row itself where it is a
// neighbour of the last one, else by the picker.
func (p *phone) value(name string, value float64) {
	p.t.Helper()
	row := fmt.Sprintf(`.measure[data-measure=%q] `, name)
	if key := row + fmt.Sprintf(`[data-val="%g"]`, value); eval[bool](p, fmt.Sprintf(`!!document.querySelector(%q)`, key)) {
		p.click(key)
		return
	}
	coarse, _ := strconv.ParseFloat(eval[string](p, fmt.Sprintf(`document.querySelector(%q).dataset.coarse`, row)), 64)
	tens := math.Floor(value/coarse+1e-9) * coarse
	p.click(row + "[data-open]")
	p.calm()
	p.click(fmt.Sprintf(`[data-tens="%g"]`, tens))
	p.click(fmt.Sprintf(`[data-ones="%g"]`, value-tens))
	p.calm()
}

// calm waits until the keys are no longer deaf.
func (p *phone) calm() {
	p.t.Helper()
	p.until(`!("guard" in document.body.dataset) && !("deaf" in document.body.dataset)`)
}

// said lists what a case holds, in entry order: the kind and its values.
func said(t testing.TB, c *core.Companion, id string) []string {
	t.Helper()
	cs, err := c.Case(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	return saidBy(cs.Story.Lines())
}

func saidBy(lines []*timeline.Line) []string {
	var all []string
	for _, l := range lines {
		if l.Event.Scope != timeline.ScopeCase {
			continue
		}
		var fields []string
		for _, f := range core.FieldsOf(l.Payload) {
			if f.Name != "patient" && f.Name != "newborn" && f.Name != "over" {
				fields = append(fields, f.Name+"="+f.Value)
			}
		}
		all = append(all, strings.TrimSpace(l.Event.Kind.Name()+" "+strings.Join(fields, " ")))
	}
	return all
}

// furnish opens two cases with enough in them to draw.
func furnish(p *phone) string {
	id := furnishOne(p)
	path := "/case/" + id + "/table/x"
	tap(p.t, p.u, path, "kind", "mark")
	tap(p.t, p.u, path, "kind", "owed", "act", "owed", "for", "started-without-check")
	p.clock.pass(7 * time.Minute)
	tap(p.t, p.u, "/case/new", "do", "open", "name", "Second Patient", core.WatchField(id), "assistant")
	return id
}

// furnishOne opens one case.
func furnishOne(p *phone) string {
	id := newCase(p.t, p.u, "Amisi Velo")
	path := "/case/" + id + "/table/x"
	tap(p.t, p.u, "/case/"+id+"/visit/weight", "kind", "facts", "weight", "52", "weight_how", "guessed", "weight_by", "eye")
	tap(p.t, p.u, "/case/"+id+"/visit/plan", "kind", "plan", "techniques", "open-drop", "agent", "ether", "operation", "hernia", "drugs", "atropine", "drugs", "ketamine", "start_in", "+45")
	tap(p.t, p.u, "/case/"+id+"/visit/side", "kind", "facts", "side", "left")
	answerStops(p, id)
	k, err := p.c.Kit(p.t.Context(), "open-drop")
	if err != nil {
		p.t.Fatal(err)
	}
	for _, it := range k.Items {
		if it.Stop {
			tap(p.t, p.u, "/kit/open-drop", "do", "check", "item", it.Code, "state", "good")
		}
	}
	tap(p.t, p.u, "/kit/open-drop", "do", "sweep")
	p.clock.pass(4 * time.Minute)
	tap(p.t, p.u, path, "kind", "phase", "phase", "anaesthesia-start")
	for i := range 9 {
		tap(p.t, p.u, path, "kind", "vitals", "systolic", fmt.Sprint(135-3*i), "diastolic", fmt.Sprint(80-i), "pulse", fmt.Sprint(84+2*i%11), "spo2", fmt.Sprint(96+i%3))
		tap(p.t, p.u, path, "kind", "agent", "agent", "ether", "drops", []string{"12", "20", "40", "80", "120", "120", "80", "60", "60"}[i])
		p.clock.pass(4 * time.Minute)
	}
	tap(p.t, p.u, path, "kind", "phase", "phase", "knife-to-skin")
	tap(p.t, p.u, path, "kind", "signs", "breathing", "even-automatic")
	tap(p.t, p.u, path, "kind", "signs", "eyes", "still-central", "pupils", "small")
	tap(p.t, p.u, path, "kind", "agent", "oxygen", "1", "cover", "on")
	tap(p.t, p.u, path, "kind", "airway", "device", "oral-airway", "size", "3", "act", "in")
	tap(p.t, p.u, path, "kind", "drug", "drug", "morphine", "dose", "8", "dose_unit", "mg", "route", "im", "back", "60")
	return id
}

// answerStops goes through every stop before start and knife, so that no
// reason is owed.
func answerStops(p *phone, id string) {
	k, err := p.c.Kit(p.t.Context(), "open-drop")
	if err != nil {
		p.t.Fatal(err)
	}
	for _, it := range k.Items {
		if it.Stop {
			tap(p.t, p.u, "/kit/open-drop", "do", "check", "item", it.Code, "state", "good")
		}
	}
	for _, pause := range []string{"before-induction", "before-first-drop", "before-knife"} {
		v, err := p.c.Pause(p.t.Context(), id, pause)
		if err != nil {
			p.t.Fatal(err)
		}
		for _, it := range v.Items {
			if it.Stop {
				tap(p.t, p.u, "/case/"+id+"/pause/"+pause, "do", "answer", "item", it.Code, "answer", "yes")
			}
		}
	}
}

func (p *phone) shot(name string) {
	p.t.Helper()
	dir := os.Getenv("CHINLIFT_SHOTS")
	if dir == "" {
		dir = filepath.Join(p.t.TempDir(), "shots")
	}
	png, err := chromedp.Run(p.ctx, chromedp.CaptureScreenshot())
	if err != nil {
		p.t.Fatal(err)
	}
	if err := os.MkdirAll(dir, 0o755); err != nil {
		p.t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, name+".png"), png, 0o644); err != nil {
		p.t.Fatal(err)
	}
}
