//go:build slow

package ui

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"chinlift/core/term"
	"chinlift/core/timeline"
)

// jitter is how far a thumb may land from the middle of what it aims at, in
// CSS pixels: anywhere within a circle of this radius.
const jitter = 20.0

// swipe is how far a thumb moves a page at once, in CSS pixels: two thirds of
// the smallest phone (house choice).
const swipe = 420.0

// thumb taps as a thumb does: beside the middle of a key. Where a tap would
// land on something else it is not carried out, but its price is counted: one
// tap where it meets nothing, two where it meets another key, which has to be
// taken back; then it tries again.
type thumb struct {
	*phone
	random    *rand.Rand
	taps      int // that did what they were for
	corrected int // taps that jitter cost on top
	swipes    int // with which what was to be tapped was brought in sight
	script    []string
}

func (th *thumb) press(sel string) {
	th.t.Helper()
	for range 20 {
		type spot struct {
			X, Y, Moved float64
			Hit         string
		}
		r, a := jitter*math.Sqrt(th.random.Float64()), 2*math.Pi*th.random.Float64()
		at := eval[spot](th.phone, fmt.Sprintf(`(() => { const k = document.querySelector(%q); if (!k) return {Hit: "missing"};
			let b = k.getBoundingClientRect(); const low = Math.min(innerHeight, ...[...document.querySelectorAll(".foot, .bar, .backs")].filter(r => r.offsetParent && !r.contains(k)).map(r => r.getBoundingClientRect().top));
			const was = scrollY; if (b.top < 0 || b.bottom > low) { k.scrollIntoView({block: "center"}); b = k.getBoundingClientRect(); }
			const x = b.x + b.width / 2 + %g, y = b.y + b.height / 2 + %g, e = document.elementFromPoint(x, y), hit = e && e.closest("a, button, .pick");
			return {X: x, Y: y, Moved: Math.abs(scrollY - was), Hit: hit === k || k.contains(hit) || hit && hit.contains(k) ? "it" : hit ? "another" : "nothing"}; })()`, sel, r*math.Cos(a), r*math.Sin(a)))
		th.swipes += int(math.Ceil(at.Moved / swipe))
		switch at.Hit {
		case "it":
			th.run(chromedp.MouseClickXY(at.X, at.Y))
			th.taps++
			th.script = append(th.script, sel)
			return
		case "nothing":
			th.corrected++
		case "another":
			th.corrected += 2
		default:
			th.t.Fatalf("%s is %s at %s", sel, at.Hit, th.location())
		}
	}
	th.t.Fatalf("%s is never hit", sel)
}

// to presses and waits until the page at the path is there.
func (th *thumb) to(sel, path string) {
	th.t.Helper()
	th.press(sel)
	th.ready(path, -1)
}

// write presses a key that records, and waits for the answer.
func (th *thumb) write(sel, path string) {
	th.t.Helper()
	before := th.c.Stored()
	th.press(sel)
	th.ready(path, before)
}

// begun opens a case whose values at rest and premedication are known.
func begun(t testing.TB, seed uint64) (*thumb, string) {
	p := newPhone(t, 360, 640)
	id := newCase(t, p.u, "Amisi Velo")
	visit := "/case/" + id + "/visit/"
	tap(t, p.u, visit+"weight", "kind", "facts", "weight", "52", "weight_how", "measured", "weight_by", "scale")
	tap(t, p.u, visit+"plan", "kind", "plan", "techniques", "open-drop", "agent", "ether", "operation", "hernia", "drugs", "ketamine")
	tap(t, p.u, visit+"baseline", "kind", "baseline", "systolic", "130", "diastolic", "80", "pulse", "85", "spo2", "97")
	tap(t, p.u, "/case/"+id+"/table/step", "kind", "phase", "phase", "premedicated")
	return &thumb{phone: p, random: rand.New(rand.NewPCG(seed, 20))}, id
}

func inPad(name string) string { return ".table-pad " + key(name) }

// TestInductionInFortyTaps gives a mask ether for fifteen minutes by taps with
// jitter: ten changes of the agent, cover and oxygen, signs, an airway, pulse,
// pressure and saturation every five minutes, and the phases.
func TestInductionInFortyTaps(t *testing.T) {
	th, id := begun(t, 1)
	table := "case/" + id + "/table"
	th.open(table)
	tray := func(name, sel string) {
		th.to(inPad(name), table+"/"+name)
		th.write(sel, table)
	}
	minute := func(n int) { th.clock.pass(time.Duration(n) * time.Minute) }
	next := func() { th.write(inPad("next-phase"), table) }

	next() // patient in
	next() // start of anaesthesia
	tray("agent", key("cover-on"))
	tray("agent", key("oxygen-1"))
	tray("agent", key("drops-12"))
	for range 4 {
		minute(1)
		th.write(inPad("higher"), table)
	}
	minute(1)
	// The first look: each value by its own tap.
	th.to(inPad("vitals"), table+"/vitals")
	for _, v := range [][2]string{{"systolic", "135"}, {"diastolic", "85"}, {"pulse", "90"}, {"spo2", "98"}} {
		th.press(fmt.Sprintf(`.measure[data-measure=%q] [data-val=%q]`, v[0], v[1]))
	}
	th.write(key("record"), table)
	tray("breathing", key("breathing-uneven"))
	for range 2 {
		minute(1)
		th.write(inPad("higher"), table)
	}
	next() // unconscious
	tray("airway", key("in-oral-airway"))
	minute(3)
	look := func(pulse string) {
		th.to(inPad("vitals"), table+"/vitals")
		th.press(fmt.Sprintf(`.measure[data-measure="pulse"] [data-val=%q]`, pulse))
		th.write(key("same"), table)
	}
	look("95")
	tray("breathing", key("breathing-even-automatic"))
	for range 3 {
		minute(1)
		th.write(inPad("lower"), table)
	}
	tray("eyes", key("eyes-still-central"))
	minute(2)
	look("90")
	next() // ready for surgery

	cs, err := th.c.Case(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	changes := 0
	for _, a := range timeline.Each[*timeline.AgentDelivery](cs.Entries, id) {
		if !a.Drops.IsZero() {
			changes++
		}
	}
	if changes != 10 || cs.Phase != term.PhaseReadyForSurgery {
		t.Errorf("%d changes of the agent, phase %s", changes, cs.Phase)
	}
	t.Logf("%d taps and %d correcting ones under %g px of jitter: %s", th.taps, th.corrected, jitter, strings.Join(th.script, "; "))
	if th.taps > 40 {
		t.Errorf("%d taps, and 40 are the most", th.taps)
	}
}

// TestCountsOfTaps counts the taps of each act, from the pad and back to it,
// over and over with jitter.
func TestCountsOfTaps(t *testing.T) {
	th, id := begun(t, 2)
	table := "case/" + id + "/table"
	tap(t, th.u, "/"+table+"/agent", "kind", "agent", "agent", "ether", "drops", "40")
	tap(t, th.u, "/"+table+"/drug", "kind", "drug", "drug", "atropine", "dose", "0.4", "dose_unit", "mg", "route", "iv")
	tray := func(name, sel string) func() {
		return func() {
			th.to(inPad(name), table+"/"+name)
			th.write(sel, table)
		}
	}
	acts := []struct {
		name string
		most int
		do   func()
	}{
		{"mark", 1, func() { th.write(key("mark"), table) }},
		{"undo", 1, func() { th.write(key("undo"), table) }},
		{"redo", 1, func() { th.write(key("redo"), table) }},
		{"vitals, three values", 5, func() {
			th.to(inPad("vitals"), table+"/vitals")
			for _, m := range []string{"systolic", "diastolic", "pulse"} {
				th.press(fmt.Sprintf(`.measure[data-measure=%q] [data-val]:nth-of-type(3)`, m))
			}
			th.write(key("record"), table)
		}},
		{"the same, looked", 2, func() {
			th.to(inPad("vitals"), table+"/vitals")
			th.write(key("same"), table)
		}},
		{"drug again", 2, tray("drug", key("again-atropine"))},
		{"a dose by the rule", 2, tray("drug", key("dose-ketamine-top-up-iv"))},
		{"a step from it", 2, tray("drug", key("less-ketamine-top-up-iv"))},
		{"agent delivery", 2, tray("agent", key("drops-60"))},
		{"agent, next step", 1, func() { th.write(inPad("higher"), table) }},
		{"breathing", 2, tray("breathing", key("breathing-even-automatic"))},
		{"eyes", 2, tray("eyes", key("eyes-still-central"))},
		{"another sign", 3, func() {
			th.to(inPad("eyes"), table+"/eyes")
			th.to(key("signs"), table+"/signs")
			th.write(key("jaw-slack"), table)
		}},
		{"step", 2, tray("step", key("step-packing"))},
		{"five minutes late", 3, func() {
			th.to(inPad("breathing"), table+"/breathing")
			th.press(`#over .pick:has(input[name="back"][value="5"])`)
			th.write(key("breathing-uneven"), table)
		}},
	}
	const rounds = 8
	for _, a := range acts {
		var counts, corrections []int
		for range rounds {
			th.clock.pass(20 * time.Second)
			tap(t, th.u, "/"+table+"/agent", "kind", "agent", "agent", "ether", "drops", "40")
			th.open(table)
			th.taps, th.corrected = 0, 0
			if a.name == "undo" || a.name == "redo" {
				tap(t, th.u, "/"+table, "kind", "mark")
				if a.name == "redo" {
					undo(th.phone, id)
				}
				th.open(table)
			}
			a.do()
			counts, corrections = append(counts, th.taps), append(corrections, th.corrected)
		}
		slices.Sort(corrections)
		median, p90 := corrections[rounds/2], corrections[rounds*9/10]
		t.Logf("%-22s %d taps; correcting taps under %g px of jitter: median %d, p90 %d", a.name, slices.Max(counts), jitter, median, p90)
		if slices.Max(counts) > a.most {
			t.Errorf("%s takes %d taps, and %d are the most", a.name, slices.Max(counts), a.most)
		}
		if p90 > 1 {
			t.Errorf("%s: jitter costs %d taps in one of ten", a.name, p90)
		}
	}
	th.clock.pass(time.Minute)
	th.open(table)
	// The next phase: once, since there are only so many.
	th.taps = 0
	th.write(inPad("next-phase"), table)
	if th.taps != 1 {
		t.Errorf("the next phase takes %d taps", th.taps)
	}
}

// undo strikes the last own entry as the pad would.
func undo(p *phone, id string) {
	v, err := p.c.Table(p.t.Context(), id)
	if err != nil || v.Undo == nil {
		p.t.Fatalf("nothing to undo: %v", err)
	}
	s := sendOf(p.u, "/case/"+id+"/table", "do", "undo", "entry", v.Undo.ID)
	s.Fields["heads"] = v.Undo.Heads
	if a := p.u.Send(p.t.Context(), s); a.Problem != nil {
		p.t.Fatal(a.Problem)
	}
}

// TestWetGlass: while the glass is wiped nothing is recorded; then it is.
func TestWetGlass(t *testing.T) {
	p := newPhone(t, 360, 640)
	id := newCase(t, p.u, "Wet")
	p.open("case/" + id + "/table")
	before := p.c.Stored()
	p.click(key("wipe"))
	for y := 20.0; y < 640; y += 40 {
		for x := 20.0; x < 360; x += 80 {
			p.run(chromedp.MouseClickXY(x, y))
		}
	}
	if n := p.c.Stored() - before; n != 0 || !strings.HasSuffix(p.location(), "/table") {
		t.Errorf("a wet cloth wrote %d events and led to %s", n, p.location())
	}
	asleep := eval[float64](p, `performance.now()`)
	ctx, cancel := context.WithTimeout(p.ctx, 20*time.Second)
	defer cancel()
	if _, err := chromedp.Run(ctx, chromedp.Poll[any](`document.getElementById("wet").hidden && !("guard" in document.body.dataset)`)); err != nil {
		t.Fatalf("the screen did not wake: %v", err)
	}
	if woke := eval[float64](p, `performance.now()`); woke-asleep > 12000 {
		t.Errorf("it slept for %g ms more", woke-asleep)
	}
	p.record(key("mark"), "")
}

// TestTwoCases: each key that records says for whom; one tap leads to the
// other case, whose dues stay in sight; and a key of one case cannot write
// into another.
func TestTwoCases(t *testing.T) {
	p := newPhone(t, 360, 640)
	id := furnish(p)
	open, err := p.c.OpenCases(t.Context())
	if err != nil || len(open) != 2 {
		t.Fatalf("%d cases are open: %v", len(open), err)
	}
	other := open[0].ID
	if other == id {
		other = open[1].ID
	}
	p.open("case/" + other + "/table")
	if text := p.until(`document.querySelector("#others").textContent`); !strings.Contains(text, "Amisi Velo") || !strings.Contains(text, "over") {
		t.Errorf("of the other case it says %q", text)
	}
	said := eval[[]string](p, `[...document.querySelectorAll("[data-send]")].filter(k => k.offsetParent).map(k => k.dataset.case + " " + getComputedStyle(k, "::after").content)`)
	if len(said) == 0 {
		t.Error("no key records")
	}
	for _, s := range said {
		if s != other+` "Second Patient"` {
			t.Errorf("a key says %s", s)
		}
	}
	p.link(key("other"), "case/"+id+"/table")
	s := sendOf(p.u, "/case/"+id+"/table", "kind", "mark")
	s.Case = other
	if a := p.u.Send(t.Context(), s); a.Problem == nil || a.Problem.Status != 409 {
		t.Errorf("a key of the other case was answered %+v", a)
	}
}

// TestTapAlong: a rate comes from the times between taps.
func TestTapAlong(t *testing.T) {
	p := newPhone(t, 360, 640)
	id := newCase(t, p.u, "Beat")
	p.open("case/" + id + "/table")
	p.link(inPad("vitals"), "case/"+id+"/table/vitals")
	p.click(`.measure[data-measure="pulse"] [data-open]`)
	p.calm()
	// A tap each 600 ms by the page's own clock: 100 a minute.
	eval[any](p, `(async () => { const k = document.querySelector("[data-beat]"), from = performance.now();
		for (let i = 0; i < 7; i++) { while (performance.now() < from + 600 * i) await new Promise(requestAnimationFrame); k.click(); } })()`, chromedp.EvalAwaitPromise)
	rate := eval[string](p, `document.querySelector('.measure[data-measure="pulse"] input').value`)
	if n, err := strconv.Atoi(rate); err != nil || n < 95 || n > 104 {
		t.Errorf("tapped along at 100 a minute: %q", rate)
	}
}

// TestDuesAreTold: what is due is told when its time comes, without a tap, and
// the screen shows it.
func TestDuesAreTold(t *testing.T) {
	p := newPhone(t, 360, 640)
	id := newCase(t, p.u, "Due")
	tap(t, p.u, "/case/"+id+"/table/step", "kind", "phase", "phase", "anaesthesia-start")
	p.clock.pass(5*time.Minute - time.Second)
	p.open("case/" + id + "/table")
	if text := p.until(`document.querySelector("#key-vitals em").textContent`); strings.Contains(text, "over") {
		t.Errorf("before its time: %q", text)
	}
	p.clock.pass(90 * time.Second)
	p.until(`document.body.dataset.alarms >= 1`)
	p.until(`document.querySelector("#key-vitals em").textContent.includes("over")`)
}

// TestTypingIn types a record from paper in by the keyboard: a row at fault
// is named and nothing goes in, and then all of it does, at its times.
func TestTypingIn(t *testing.T) {
	p := newPhone(t, 412, 915)
	id := newCase(t, p.u, "Paper")
	p.open("case/" + id + "/paper")
	write := func(name, text string) {
		p.run(chromedp.SendKeys(chromedp.CSS(fmt.Sprintf(`[name=%q]`, name)), text))
	}
	write("v0.at", "07:40")
	write("v0.systolic", "120")
	write("v0.diastolic", "70")
	write("v1.at", "07:45")
	write("v1.pulse", "9000")
	write("n0.at", "07:50")
	write("n0.text", "the phone was flat")
	eval[any](p, `for (const [n, v] of [["d0.drug", "atropine"], ["d0.dose_unit", "mg"], ["d0.route", "im"]]) document.querySelector('[name="' + n + '"]').value = v`)
	write("d0.at", "07:41")
	eval[any](p, `for (const [n, v] of [["p0.phase", "anaesthesia-start"], ["a0.agent", "ether"], ["i0.what", "compound-lactate"], ["s0.breathing", "even-automatic"]]) document.querySelector('[name="' + n + '"]').value = v`)
	for _, f := range [][2]string{{"p0.at", "07:42"}, {"a0.at", "07:43"}, {"a0.drops", "40"}, {"i0.at", "07:44"}, {"i0.volume", "500"}, {"s0.at", "07:48"}} {
		write(f[0], f[1])
	}
	write("d0.dose", "0.4")
	before := p.c.Stored()
	p.click(key("record"))
	if text := p.until(`document.getElementById("notice").textContent`); !strings.Contains(text, "row 2") {
		t.Errorf("of the row at fault it says %q", text)
	}
	if n := p.c.Stored() - before; n != 0 {
		t.Errorf("%d rows went in", n)
	}
	if bad := eval[string](p, `document.querySelector("[aria-invalid]").name`); bad != "v1.pulse" {
		t.Errorf("marked is %q", bad)
	}
	eval[any](p, `document.querySelector('[name="v1.pulse"]').value = ""`)
	write("v1.pulse", "90")
	p.record(key("record"), "case/"+id+"/paper")
	want := []string{"phase phase=anaesthesia-start", "vitals systolic=120 systolic_unit=mm[Hg] diastolic=70 diastolic_unit=mm[Hg]", "vitals pulse=90 pulse_unit=/min",
		"drug drug=atropine dose=0.4 dose_unit=mg route=im", "agent agent=ether drops=40 drops_unit={drop}/min", "signs breathing=even-automatic", "in what=compound-lactate volume=500 volume_unit=mL", "note"}
	got := said(t, p.c, id)
	if n := len(got) - len(want); n < 0 || !slices.Equal(got[n:], want) {
		t.Errorf("recorded %q, typed %q", got, want)
	}
}

// TestCountStaysAlone: a count of drops that was begun does not go out with
// another key of the tray; its own key records it.
func TestCountStaysAlone(t *testing.T) {
	th, id := begun(t, 3)
	table := "case/" + id + "/table"
	tap(t, th.u, "/"+table+"/agent", "kind", "agent", "agent", "ether", "drops", "40")
	count := `(async () => { const k = document.querySelector('[data-beat="drops"]'), from = performance.now();
		for (let i = 0; i < 6; i++) { while (performance.now() < from + 500 * i) await new Promise(requestAnimationFrame); k.click(); } })()`
	for _, tt := range []struct{ key, want string }{
		{"drops-20", "agent agent=ether drops=20 drops_unit={drop}/min"}, {"oxygen-2", "agent oxygen=2 oxygen_unit=L/min"}, {"off", "agent agent=ether off=yes"},
	} {
		th.open(table)
		th.to(inPad("agent"), table+"/agent")
		eval[any](th.phone, count, chromedp.EvalAwaitPromise)
		th.write(key(tt.key), table)
		if got := said(t, th.c, id); got[len(got)-1] != tt.want {
			t.Errorf("%s recorded %q", tt.key, got[len(got)-1])
		}
	}
	tap(t, th.u, "/"+table+"/agent", "kind", "agent", "agent", "ether", "drops", "40")
	th.open(table)
	th.to(inPad("agent"), table+"/agent")
	eval[any](th.phone, count, chromedp.EvalAwaitPromise)
	th.write(key("counted"), table)
	got, n := said(t, th.c, id), 0
	if _, err := fmt.Sscanf(got[len(got)-1], "agent agent=ether drops=%d", &n); err != nil || n < 112 || n > 128 {
		t.Errorf("counted at 120 a minute: %q", got[len(got)-1])
	}
}

// TestLostAnswerIsARetry: a tap whose answer was lost keeps its event, though
// the page would have been brought up to date meanwhile.
func TestLostAnswerIsARetry(t *testing.T) {
	p := newPhone(t, 360, 640)
	id := newCase(t, p.u, "Lost")
	p.open("case/" + id + "/table")
	before := p.c.Stored()
	eval[any](p, `window.real = fetch, window.asked = 0; window.fetch = (u, o) => o && o.method === "POST" ? real(u, o).then(() => { throw new Error("lost"); }) : (asked++, real(u, o)); 0`)
	p.click(key("mark"))
	p.until(`document.getElementById("notice").textContent`)
	p.clock.pass(2 * time.Minute)
	eval[any](p, `document.dispatchEvent(new Event("visibilitychange")); window.fetch = real; 0`)
	if n := eval[int](p, `asked`); n != 0 {
		t.Errorf("the page was asked for %d times while a tap had no answer", n)
	}
	p.calm()
	p.click(key("mark"))
	p.ready("", before)
	if n := p.c.Stored() - before; n != 1 {
		t.Errorf("the tap and its retry are %d lines", n)
	}
	// With its answer there, the page is brought up to date again.
	p.clock.pass(3 * time.Minute)
	clock := eval[string](p, `document.querySelector(".clock").textContent`)
	eval[any](p, `document.dispatchEvent(new Event("visibilitychange")); 0`)
	p.until(fmt.Sprintf(`document.querySelector(".clock").textContent !== %q`, clock))
}

// TestOtherStaysInSight: on every page of a case the other patient and what is
// due of them can be seen, and are told.
func TestOtherStaysInSight(t *testing.T) {
	u, c, clock := newUI(t)
	first := newCase(t, u, "First")
	tap(t, u, "/case/"+first+"/table/step", "kind", "phase", "phase", "anaesthesia-start")
	a := tap(t, u, "/case/new", "do", "open", "name", "Second", "watch."+first, "nurse")
	second := strings.Split(a.Go, "/")[1]
	clock.pass(7 * time.Minute)
	entries, err := c.Entries(t.Context(), second)
	if err != nil {
		t.Fatal(err)
	}
	for _, path := range append(paths(second), "/case/"+second+"/entry/"+entries[0].ID) {
		if !strings.HasPrefix(path, "/case/"+second) {
			continue
		}
		body := string(u.Get(t.Context(), path).Body)
		if !strings.Contains(body, "case/"+first+"/table") || !strings.Contains(body, "2 min over") || !strings.Contains(body, "data-live") || !strings.Contains(body, "data-sound") {
			t.Errorf("%s: the other patient is out of sight", path)
		}
	}
	tap(t, u, "/settings", "do", "due-sound", "value", "no")
	if body := string(u.Get(t.Context(), "/case/"+second+"/table").Body); strings.Contains(body, "data-sound") || !strings.Contains(body, "data-buzz") {
		t.Error("the clinic silenced the sound, and only that")
	}
}
