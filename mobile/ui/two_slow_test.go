//go:build slow

package ui

import (
	"slices"
	"testing"

	"github.com/chromedp/chromedp"

	"chinlift/core"
)

// With a second case, with three cards offered and with what else may be due,
// every key of the pad is in sight on the smallest phone, for either hand.
func TestTwoCasesInSight(t *testing.T) {
	p := newPhone(t, 360, 640)
	id := furnish(p)
	looks := []look{{"light", "right", "100", 360, 640}, {"dark", "left", "100", 360, 640}, {"dim", "right", "100", 360, 640}}
	see := func(what string) {
		t.Helper()
		for _, look := range looks {
			p.wear(look)
			p.open("case/" + id + "/table")
			belowEdge(p, what+" "+look.theme+" "+look.hand)
			p.shot("two-" + what + "-" + look.theme)
			p.check("two cases, "+what, axeScript(t), look.width)
		}
	}
	see("marked")
	tap(t, p.u, "/case/"+id+"/table/x", "kind", "vitals", "systolic", "60", "diastolic", "30", "pulse", "35", "spo2", "74")
	see("offers")
	if first := eval[string](p, `document.querySelector("#dues .chip").dataset.key`); first != "offer-hypoxia" {
		t.Errorf("first stands %s", first)
	}
	// The rest is one tap away, all of it.
	p.link(key("open-dues"), "case/"+id+"/table/open")
	all := eval[[]string](p, `[...document.querySelectorAll(".all .chip")].map(c => c.dataset.key)`)
	for _, want := range []string{"offer-hypoxia", "offer-hypotension", "offer-bradycardia", "unnamed"} {
		if !slices.Contains(all, want) {
			t.Errorf("the list has no %s: %v", want, all)
		}
	}
	p.shot("two-open")
	p.check("what is open", axeScript(t), 360)
	// In the case of the other, with nothing due, its name has the whole line.
	open, err := p.c.OpenCases(t.Context())
	if err != nil || len(open) != 2 {
		t.Fatalf("%d cases: %v", len(open), err)
	}
	for _, cs := range open {
		if cs.ID != id {
			id = cs.ID
			break
		}
	}
	see("other")
}

// belowEdge fails where a key of the open page lies below the lower edge.
func belowEdge(p *phone, name string) {
	p.t.Helper()
	p.calm()
	eval[any](p, `Promise.all([...document.images].map(i => i.decode().catch(() => 0)))`, chromedp.EvalAwaitPromise)
	if hidden := eval[[]string](p, `[...document.querySelectorAll(".key")].filter(k => k.getBoundingClientRect().bottom > innerHeight + 1).map(k => k.dataset.key + " " + Math.round(k.getBoundingClientRect().bottom))`); len(hidden) > 0 {
		p.t.Errorf("%s: keys below the lower edge: %v", name, hidden)
	}
}

// On the sheet of one use of a drug the range and every amount are in sight on
// the smallest phone before anybody scrolls, with a second case open and with a
// weight in doubt, however many cautions there are; and these stand before them.
func TestDoseKeysInSight(t *testing.T) {
	p := newPhone(t, 360, 640)
	id := furnish(p)
	see := func(uses ...string) {
		t.Helper()
		for _, hand := range []string{"right", "left"} {
			if err := p.c.SetLocal(t.Context(), core.LocalHand, hand); err != nil {
				t.Fatal(err)
			}
			for _, use := range uses {
				p.open("case/" + id + "/table/drug/" + use)
				p.calm()
				if hidden := eval[[]string](p, `(() => {
					const edge = document.querySelector(".backs").getBoundingClientRect().top + 1;
					const keys = [...document.querySelectorAll(".amounts .key")], range = [...document.querySelectorAll("[data-tray] .says")].find(x => /rule: \d/.test(x.textContent));
					if (!keys.length || !range) return ["no key, or no range"];
					const top = Math.min(...keys.map(k => k.getBoundingClientRect().top));
					return keys.filter(k => k.getBoundingClientRect().bottom > edge).map(k => k.dataset.key)
						.concat(range.getBoundingClientRect().bottom > top ? ["the range lies behind its keys"] : [])
						.concat([...document.querySelectorAll("[data-tray] > .due, .beware .caution")].some(x => x.getBoundingClientRect().bottom <= top) ? [] : ["no caution in sight"]);
				})()`); len(hidden) > 0 {
					t.Errorf("%s, %s hand: %v", use, hand, hidden)
				}
				if open := eval[bool](p, `Boolean(document.querySelector(".beware") && document.querySelector(".beware").compareDocumentPosition(document.querySelector(".amounts")) & Node.DOCUMENT_POSITION_FOLLOWING)`); !open {
					t.Errorf("%s, %s hand: no caution stands before the keys", use, hand)
				}
			}
		}
	}
	see("adrenaline/anaphylaxis-iv", "adrenaline/anaphylaxis-infusion", "adrenaline/low-pressure-iv", "ketamine/induction-im", "midazolam/convulsion-step-iv", "diazepam/convulsion-step-iv")
	p.shot("dose-two")
	visit := "/case/" + id + "/visit/"
	tap(t, p.u, visit+"age", "kind", "facts", "age", "3", "age_unit", "a")
	tap(t, p.u, visit+"weight", "kind", "facts", "weight", "33", "weight_how", "guessed", "weight_by", "eye")
	see("adrenaline/anaphylaxis-iv", "adrenaline/anaphylaxis-infusion", "ketamine/induction-im")
	p.shot("dose-two-doubt")
	p.check("a dose, two cases", axeScript(t), 360)
}
