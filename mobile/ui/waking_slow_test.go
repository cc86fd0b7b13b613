//go:build slow

package ui

import (
	"bytes"
	"fmt"
	"io"
	"math/rand/v2"
	"net/http"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"chinlift/core"
	"chinlift/core/trouble"
)

// TestCardIsTwoTapsAway: from the table's pad one tap leads to the list of the
// cards, and one to any of them, also with two cases open and lines that are
// due or offered above the pad, for both hands.
func TestCardIsTwoTapsAway(t *testing.T) {
	p := newPhone(t, 360, 640)
	id := furnish(p)
	table, list := "case/"+id+"/table", "case/"+id+"/trouble"
	// Saturation, pressure and pulse each bring up a line.
	tap(t, p.u, "/"+table+"/x", "kind", "vitals", "systolic", "70", "diastolic", "40", "pulse", "38", "spo2", "80")
	cards, err := trouble.Cards()
	if err != nil {
		t.Fatal(err)
	}
	for _, hand := range []string{"right", "left"} {
		if err := p.c.SetLocal(t.Context(), "hand", hand); err != nil {
			t.Fatal(err)
		}
		// The worst stands beside the second case, the others behind a number.
		p.open(table + "/open")
		if n := eval[int](p, `document.querySelectorAll("[data-key^=offer-]").length`); n < 3 {
			t.Errorf("%s hand: %d offers", hand, n)
		}
		p.open(table)
		if n := eval[int](p, `document.querySelectorAll("[data-key^=offer-]").length`); n != 1 {
			t.Errorf("%s hand: %d offers beside the second case", hand, n)
		}
		if more := eval[string](p, `document.querySelector("[data-key=open-dues]").textContent`); more < "+2" {
			t.Errorf("%s hand: %s more offers", hand, more)
		}
		seen := eval[[]float64](p, `(b => [b.top, b.bottom, innerHeight, b.width, b.height])(document.querySelector(".foot [data-key=trouble]").getBoundingClientRect())`)
		if seen[0] < 0 || seen[1] > seen[2] || seen[3] < 56 || seen[4] < 56 {
			t.Errorf("%s hand: the key to the cards lies at %v", hand, seen)
		}
		// What is under the middle of the key is the key, not a line above it.
		if !eval[bool](p, `(b => document.elementFromPoint(b.x + b.width / 2, b.y + b.height / 2).closest("[data-key=trouble]") !== null)(document.querySelector(".foot [data-key=trouble]").getBoundingClientRect())`) {
			t.Errorf("%s hand: something lies over the key to the cards", hand)
		}
		p.shot("two-taps-table-" + hand)
		th := &thumb{phone: p, random: rand.New(rand.NewPCG(3, 9))}
		th.to(".foot "+key("trouble"), list)
		p.shot("two-taps-list-" + hand)
		th.to(key("card-arrest"), list+"/arrest")
		if th.taps != 2 {
			t.Errorf("%s hand: %d taps", hand, th.taps)
		}
		p.open(list)
		for _, card := range cards {
			if !eval[bool](p, fmt.Sprintf(`!!document.querySelector('a[data-key="card-%s"]')`, card.Code)) {
				t.Errorf("%s hand: no key to %s in the list", hand, card.Code)
			}
		}
	}
}

// TestTwoPatients: one wakes in recovery while the next is asleep on the table.
// Each page tells what is due in both, each key writes into its own, and one
// tap leads across.
func TestTwoPatients(t *testing.T) {
	p := newPhone(t, 360, 640)
	first := furnishOne(p)
	tap(t, p.u, "/case/"+first+"/table/x", "kind", "agent", "agent", "ether", "off", "yes")
	tap(t, p.u, "/case/"+first+"/table/x", "kind", "phase", "phase", "surgery-end")
	tap(t, p.u, "/case/"+first+"/table/x", "kind", "phase", "phase", "anaesthesia-end")
	a := tap(t, p.u, "/case/new", "do", "open", "name", "Second Patient", "age", "40", "age_unit", "a", core.WatchField(first), "nurse")
	second := strings.Split(a.Go, "/")[1]
	asleep, waking := "case/"+second+"/table", "case/"+first+"/waking"
	tap(t, p.u, "/"+asleep+"/x", "kind", "phase", "phase", "anaesthesia-start")
	tap(t, p.u, "/"+asleep+"/x", "kind", "vitals", "systolic", "120", "diastolic", "70", "pulse", "80")

	others := func() string { return eval[string](p, `document.querySelector("#others").textContent`) }
	p.open(asleep)
	if text := others(); !strings.Contains(text, "Amisi Velo") {
		t.Errorf("on the page of who is asleep it says %q of who wakes", text)
	}
	p.shot("two-asleep")
	p.open(waking)
	if text := others(); !strings.Contains(text, "Second Patient") {
		t.Errorf("on the page of who wakes it says %q of who is asleep", text)
	}
	p.shot("two-waking")
	// Nobody looked at who wakes: due at once, told on both pages.
	p.clock.pass(6 * time.Minute)
	p.open(asleep)
	if text := others(); !strings.Contains(text, "over") {
		t.Errorf("six minutes unseen, and the page of who is asleep says %q", text)
	}
	// One tap across, a look there, and one tap back.
	p.link(key("other"), waking)
	for _, s := range eval[[]string](p, `[...document.querySelectorAll("[data-send]")].map(k => k.dataset.case)`) {
		if s != first {
			t.Errorf("on the page of who wakes a key writes into %s", s)
		}
	}
	tap(t, p.u, "/"+waking+"/vitals", "kind", "vitals", "systolic", "118", "diastolic", "70", "pulse", "84", "breaths", "14", "spo2", "97")
	p.open(asleep)
	if text := others(); strings.Contains(text, "over") {
		t.Errorf("looked at just now, and the page of who is asleep says %q", text)
	}
	// Trouble with one leaves the other's record alone.
	card := "case/" + first + "/trouble/hypoxia"
	p.open(card)
	p.record(key("step-look"), card)
	if got := strings.Join(said(t, p.c, second), "\n"); strings.Contains(got, "trouble") {
		t.Errorf("the trouble of one stands in the record of the other:\n%s", got)
	}
	if got := strings.Join(said(t, p.c, first), "\n"); !strings.Contains(got, "trouble trouble=hypoxia act=step step=look") {
		t.Errorf("the step is not recorded:\n%s", got)
	}
}

// TestWakingToDischarge goes by clicks from the end of the anaesthetic through
// recovery, handing over and the next day: each look falls due in its time, who
// is not ready stays in the plan, and the page of the handing-over is there on
// screen and as PDF with both names.
func TestWakingToDischarge(t *testing.T) {
	p := newPhone(t, 360, 640)
	if _, err := p.c.NameAuthor(t.Context(), core.NewID(), "Ann Invented"); err != nil {
		t.Fatal(err)
	}
	id := furnishOne(p)
	base := "case/" + id + "/"
	tap(t, p.u, "/"+base+"table/x", "kind", "baseline", "systolic", "120", "diastolic", "75", "pulse", "80", "spo2", "98")
	tap(t, p.u, "/"+base+"table/x", "kind", "facts", "pregnant", "no")
	tap(t, p.u, "/"+base+"table/x", "kind", "block", "block", "spinal", "site", "l3-4")
	tap(t, p.u, "/"+base+"table/x", "kind", "agent", "agent", "ether", "off", "yes")
	tap(t, p.u, "/"+base+"table/x", "kind", "phase", "phase", "surgery-end")
	tap(t, p.u, "/"+base+"table/x", "kind", "phase", "phase", "anaesthesia-end")
	waking, care, leaving := base+"waking", base+"waking/care", base+"waking/leaving"
	due := func(when, want string) {
		t.Helper()
		p.open(waking)
		if text := eval[string](p, `document.querySelector("#dues").textContent`); !strings.Contains(text, want) {
			t.Errorf("%s: due %q, want %q", when, text, want)
		}
	}
	look := func() {
		t.Helper()
		tap(t, p.u, "/"+waking+"/vitals", "kind", "vitals", "systolic", "118", "diastolic", "72", "pulse", "82", "breaths", "14", "spo2", "97", "temperature", "36.4")
	}
	due("on arrival", "due now")
	look()
	due("looked at", "due in 5 min")
	p.shot("waking")

	// Airway, side, eyes, what the patient feels.
	p.link(key("care"), care)
	p.record(key("out-oral-airway"), care)
	p.pick("eyes_covered", "yes")
	p.pick("eyes_treated", "yes")
	p.record(key("position-left-side"), care)
	p.record(key("pain-3"), care)
	p.record(key("nausea-0"), care)
	p.record(key("confused-no"), care)
	p.record(key("met-bleeding"), care)
	p.shot("waking-care")
	if text := eval[string](p, `document.querySelector("#care").textContent`); !strings.Contains(text, "on the left side · eyes covered · drop or ointment in the eyes") || !strings.Contains(text, "No airway is recorded as in") {
		t.Errorf("the page of airway, side and eyes says %q", text)
	}

	// The block by height and legs, the score, steady.
	p.open(waking)
	p.record(key("height-t10"), waking)
	p.record(key("motor-1"), waking)
	for _, item := range []string{"activity", "respiration", "circulation", "consciousness"} {
		p.pick(item, "2")
	}
	p.pick("oxygen", "1")
	p.record(key("record"), waking)
	p.record(key("steady-yes"), waking)
	p.clock.pass(5 * time.Minute)
	due("after 5 min", "due now")
	look()
	due("steady, at 5 min", "due in 5 min")
	p.clock.pass(11 * time.Minute)
	look()
	due("steady, over 15 min", "due in 15 min")
	// Two for the oxygen that still runs, none for anything else.
	if text := eval[string](p, `document.querySelector("#score").textContent`); !strings.Contains(text, "NEWS2) 2:") || !strings.Contains(text, "waking score 9 of 10") {
		t.Errorf("the scores: %q", text)
	}

	// Who is not ready stays; what is open is named, one by one.
	p.link(key("leaving"), leaving)
	if text := eval[string](p, `document.querySelector("#leaving").textContent`); !strings.Contains(text, "Stays in recovery: 8 criteria open") || !strings.Contains(text, "a reason will be owed") {
		t.Errorf("with criteria open it says %q", text)
	}
	p.shot("leaving-open")
	for _, met := range []string{"awake", "airway", "breathing", "circulation", "block", "cannula", "orders", "handover"} {
		p.record(key("met-"+met), leaving)
	}
	if text := eval[string](p, `document.querySelector("#leaving").textContent`); strings.Contains(text, "Stays in recovery") || strings.Contains(text, "will be owed") {
		t.Errorf("nothing is open, and it says %q", text)
	}

	// Handing over: in spoken order, orders and both names, on screen and paper.
	p.open(base + "handover")
	p.pick("to", "nurse")
	eval[chromedp.Void](p, `document.querySelector("input[name=name]").value = "Bea Invented"; document.querySelector("textarea[name=text]").value = "Sit up at four. Water when awake."`)
	p.record(key("record"), base+"handover")
	titles := eval[[]string](p, `[...document.querySelectorAll("#handover .use h3")].map(h => h.textContent)`)
	want := []string{"who", "done", "course", "airway", "given", "fluids", "on", "values", "watch", "orders", "names"}
	for i := range want {
		want[i] = p.u.words.Say("handover.part." + want[i])
	}
	if !slices.Equal(titles, want) {
		t.Errorf("it is told in the order %q, want %q", titles, want)
	}
	text := eval[string](p, `document.querySelector("#handover").textContent`)
	for _, has := range []string{"hands over: Ann Invented", "takes over: Bea Invented, nurse", "Sit up at four. Water when awake.", "next", "T10", "After ether", "After an opioid"} {
		if !strings.Contains(text, has) {
			t.Errorf("the page of the handing-over lacks %q", has)
		}
	}
	p.shot("handover")
	res, err := http.Get(p.root + base + "handover.pdf")
	if err != nil {
		t.Fatal(err)
	}
	defer res.Body.Close()
	pdf, err := io.ReadAll(res.Body)
	if err != nil || res.StatusCode != http.StatusOK || !bytes.HasPrefix(pdf, []byte("%PDF-")) {
		t.Errorf("the paper: %s, %d bytes, %v", res.Status, len(pdf), err)
	}
	p.link(key("leaving"), leaving)
	p.record(key("hand-over"), leaving)
	if got := strings.Join(said(t, p.c, id), "\n"); strings.Contains(got, "left-early") {
		t.Errorf("who was ready owes a reason:\n%s", got)
	}

	// The day after.
	p.clock.pass(22 * time.Hour)
	day := base + "next-day"
	p.open(day)
	for _, k := range []string{"nausea-2", "throat-no", "between-no", "nerve-no", "headache-no", "satisfied-9"} {
		p.record(key(k), day)
	}
	p.shot("next-day")
	if eval[bool](p, `document.querySelector("#tell").textContent.includes("gave the anaesthetic")`) {
		t.Error("nothing was wrong, and somebody is to be told")
	}
	p.record(key("complication-1"), day)
	p.record(key("headache-yes"), day)
	if !eval[bool](p, `document.querySelector("#tell").textContent.includes("Ann Invented")`) {
		t.Error("a headache after a spinal is told to nobody")
	}
}

// TestGoingHomeByThumb: from waking to the criteria for home, each by one tap, and
// home; nothing is owed then. What is said on one page stands on the other.
func TestGoingHomeByThumb(t *testing.T) {
	p := newPhone(t, 360, 640)
	id := furnishOne(p)
	base := "case/" + id + "/"
	tap(t, p.u, "/"+base+"table/x", "kind", "baseline", "systolic", "120", "diastolic", "75", "pulse", "80", "spo2", "98")
	tap(t, p.u, "/"+base+"table/x", "kind", "phase", "phase", "anaesthesia-end")
	tap(t, p.u, "/"+base+"waking/vitals", "kind", "vitals", "systolic", "118", "diastolic", "72", "pulse", "82")
	home := base + "waking/home"
	p.open(base + "waking")
	p.link(key("home"), home)
	text := func() string { return eval[string](p, `document.querySelector("#leaving").textContent`) }
	acts := func() bool {
		return eval[bool](p, `document.querySelector("[data-key=go-home]").classList.contains("act")`)
	}
	if got := text(); !strings.Contains(got, "Stays in the clinic: 7 criteria open") {
		t.Errorf("with criteria open it says %q", got)
	}
	if acts() {
		t.Error("with criteria open going home is the key that stands out")
	}
	for _, k := range []string{"pain-4", "nausea-3", "met-walks", "met-bleeding", "met-drink-and-urine", "met-escort", "met-told"} {
		p.record(key(k), home)
	}
	if got := text(); strings.Contains(got, "Stays in") || strings.Contains(got, "will be owed") {
		t.Errorf("nothing is open, and it says %q", got)
	}
	if !acts() {
		t.Error("nothing is open, and going home does not stand out")
	}
	p.shot("waking-home")
	p.link(key("leaving"), base+"waking/leaving")
	if !eval[bool](p, `[...document.querySelectorAll("#leaving .use")].some(u => u.textContent.startsWith("Bleeding") && u.textContent.includes("✓"))`) {
		t.Error("what was said of the bleeding is unknown to the ward's page")
	}
	p.link(key("home"), home)
	p.record(key("go-home"), home)
	got := strings.Join(said(t, p.c, id), "\n")
	if !strings.Contains(got, "phase phase=handed-over home=yes") || strings.Contains(got, "left-early") {
		t.Errorf("recorded:\n%s", got)
	}
}

// TestNumbersKeepTheirOrder: for the left hand keys change places, but what is
// counted goes from left to right for either.
func TestNumbersKeepTheirOrder(t *testing.T) {
	p := newPhone(t, 360, 640)
	id := furnishOne(p)
	tap(t, p.u, "/case/"+id+"/table/x", "kind", "block", "block", "spinal", "site", "l3-4")
	left := func(a, b string) bool {
		return eval[bool](p, fmt.Sprintf(`(([a, b]) => a.left < b.left && Math.abs(a.top - b.top) < 4)([%q, %q].map(k => document.querySelector("[data-key='" + k + "']").getBoundingClientRect()))`, a, b))
	}
	for _, hand := range []string{"right", "left"} {
		if err := p.c.SetLocal(t.Context(), core.LocalHand, hand); err != nil {
			t.Fatal(err)
		}
		for _, x := range [][3]string{
			{"visit/asa", "asa-1", "asa-2"}, {"visit/airway", "mallampati-1", "mallampati-2"}, {"waking", "motor-0", "motor-1"}, {"waking", "height-s5", "height-s3"},
			{"waking/care", "pain-0", "pain-1"}, {"waking/home", "nausea-2", "nausea-3"}, {"next-day", "complication-1", "complication-2"},
			{"table/drug/ketamine/top-up-iv", "less-ketamine-top-up-iv", "dose-ketamine-top-up-iv"},
		} {
			p.open("case/" + id + "/" + x[0])
			if !eval[bool](p, fmt.Sprintf(`[%q, %q].every(k => document.querySelector("[data-key='" + k + "']"))`, x[1], x[2])) {
				t.Errorf("%s has no %s and %s: %q", x[0], x[1], x[2], eval[[]string](p, `[...document.querySelectorAll("[data-key]")].map(k => k.dataset.key)`))
				continue
			}
			if !left(x[1], x[2]) {
				t.Errorf("%s hand: on %s %s does not lie left of %s", hand, x[0], x[1], x[2])
			}
		}
		// Keys that count nothing do change places.
		p.open("case/" + id + "/trouble/arrest")
		if left("begun", "helper") != (hand == "right") {
			t.Errorf("%s hand: where the card begins does not follow the hand", hand)
		}
		p.open("case/" + id + "/waking/home")
		if left("met-walks", "not-met-walks") != (hand == "right") {
			t.Errorf("%s hand: met does not follow the hand", hand)
		}
	}
}

// TestLeavingAllTheSame: a handing-over while criteria are open goes in, and a
// reason is owed.
func TestLeavingAllTheSame(t *testing.T) {
	p := newPhone(t, 360, 640)
	id := furnishOne(p)
	tap(t, p.u, "/case/"+id+"/table/x", "kind", "phase", "phase", "anaesthesia-end")
	leaving := "case/" + id + "/waking/leaving"
	p.open(leaving)
	p.record(key("hand-over"), leaving)
	got := said(t, p.c, id)
	if n := len(got); n < 2 || got[n-2] != "phase phase=handed-over" || !strings.HasPrefix(got[n-1], "owed act=owed for=left-early") {
		t.Errorf("recorded %q", got[max(0, len(got)-2):])
	}
}

// TestEveryCardStands looks at every card, and at the pages of waking with
// something on them, in each theme and for both hands: axe-core finds nothing,
// keys are big enough and apart, and the steps can be read at arm's length.
func TestEveryCardStands(t *testing.T) {
	p := newPhone(t, 360, 640)
	axe := axeScript(t)
	id := furnishOne(p)
	tap(t, p.u, "/case/"+id+"/table/x", "kind", "block", "block", "spinal", "site", "l3-4")
	tap(t, p.u, "/case/"+id+"/trouble/anaphylaxis", "do", "trouble", "card", "anaphylaxis", "step", "stop")
	cards, err := trouble.Cards()
	if err != nil {
		t.Fatal(err)
	}
	all := []string{"trouble", "waking", "waking/care", "waking/leaving", "waking/home", "handover", "next-day"}
	for _, c := range cards {
		all = append(all, "trouble/"+c.Code)
	}
	for _, look := range []look{{"light", "right", "100", 360, 640}, {"dark", "left", "100", 360, 640}, {"dim", "right", "150", 360, 640}} {
		p.wear(look)
		for _, page := range all {
			p.open("case/" + id + "/" + page)
			name := "stands-" + strings.ReplaceAll(page, "/", "-") + "-" + look.theme
			p.shot(name)
			p.check(name, axe, look.width)
			// Whoever wakes may need a card as suddenly as whoever sleeps.
			if strings.HasPrefix(page, "waking") {
				if out := eval[[]string](p, `["trouble", "vitals"].filter(k => !(b => b.top >= 0 && b.bottom <= innerHeight && b.height >= 56)(document.querySelector("#foot [data-key=" + k + "]").getBoundingClientRect()))`); len(out) > 0 {
					t.Errorf("%s: out of reach: %q", name, out)
				}
			}
			if !strings.HasPrefix(page, "trouble/") {
				continue
			}
			// House choice: 19 px for a step and 22 px for a dose are about 3 mm on
			// a phone, which is read at 60 cm; caution and way to other cards stand.
			if small := eval[[]string](p, `[...document.querySelectorAll(".step b")].filter(b => parseFloat(getComputedStyle(b).fontSize) < 19).concat([...document.querySelectorAll(".give-key b")].filter(b => parseFloat(getComputedStyle(b).fontSize) < 22)).map(b => b.textContent)`); len(small) > 0 {
				t.Errorf("%s: too small: %q", name, small)
			}
			// Vitals, a mark, and the way back stay one tap away, wherever the page is.
			for _, at := range []string{"0", "document.documentElement.scrollHeight / 2"} {
				eval[chromedp.Void](p, `scrollTo(0, `+at+`)`)
				if out := eval[[]string](p, `["vitals", "mark", "back"].filter(k => !(b => b.top >= 0 && b.bottom <= innerHeight && b.height >= 56)(document.querySelector(".foot [data-key=" + k + "]").getBoundingClientRect()))`); len(out) > 0 {
					t.Errorf("%s: out of reach: %q", name, out)
				}
			}
			if !eval[bool](p, `document.querySelector("#card .caution").textContent.includes("local protocol decides")`) {
				t.Errorf("%s does not defer to local protocol", name)
			}
		}
	}
}
