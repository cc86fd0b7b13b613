//go:build slow

package ui

import (
	"os"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
)

// TestLockingByThumb sets a PIN, reads the recovery key, locks and opens by
// taps, and looks at each page on the way as everyScreenStands does.
func TestLockingByThumb(t *testing.T) {
	axe := axeScript(t)
	// Only who wants to see them: with a password just entered the browser may
	// hold a picture back for minutes.
	shots := os.Getenv("CHINLIFT_SHOTS") != ""
	for _, look := range []look{{"light", "right", "100", 360, 640}, {"dark", "left", "100", 360, 640}, {"dim", "left", "200", 360, 640}} {
		p := newPhone(t, look.width, look.height)
		p.wear(look)
		see := func(name string) {
			t.Helper()
			name = "locking-" + name + "-" + look.theme + "-" + look.hand + "-" + look.text
			p.calm()
			if shots {
				p.shot(name)
			}
			p.check(name, axe, look.width)
		}
		id := newCase(t, p.u, "Amisi Velo")
		tap(t, p.u, "/case/"+id+"/table/note", "kind", "note", "text", "saw the well")
		tap(t, p.u, "/case/"+id+"/record", "kind", "case-closed")
		p.open("today")
		see("offer")
		p.link(key("sealing"), "sealing")
		see("open")
		p.link(key("seal-setup"), "sealing/new/setup")
		see("new")
		if hidden := eval[[]string](p, `[...document.querySelectorAll(".digit, [data-key=choose]")].filter(k => k.getBoundingClientRect().bottom > innerHeight + 1).map(k => k.textContent)`); look.text == "100" && len(hidden) > 0 {
			t.Errorf("keys of the pad below the lower edge: %v", hidden)
		}
		p.digits("2749166")
		p.click(`[data-digit="back"]`)
		p.link(key("choose"), "sealing/again/setup")
		see("again")
		p.digits("274916")
		p.record(key("choose"), "sealing/key")
		see("key")
		groups := p.c.RecoveryKey().Groups()
		for _, g := range groups {
			p.until(`document.body.textContent.includes("` + g + `")`)
		}
		eval[any](p, `document.querySelector("img.qr").decode()`, chromedp.EvalAwaitPromise)
		p.run(chromedp.SendKeys(chromedp.CSS("[name=group]"), strings.ToLower(groups[6])))
		p.link(key("printed"), "sealing")
		see("unlocked")
		p.clock.pass(72 * time.Hour)
		p.open("log")
		see("log")
		p.link(key("log-case"), "case/"+id+"/record")
		see("record")
		if text := eval[string](p, `document.documentElement.outerHTML`); strings.Contains(text, "Amisi") || strings.Contains(text, "saw the well") {
			t.Error("a locked record names somebody")
		}
		p.link(key("unlock-case"), "sealing/unlock/"+id)
		see("unlock")
		p.digits("274917")
		p.click(key("unlock"))
		p.until(`document.getElementById("notice").textContent.includes("not the PIN")`)
		p.calm()
		for range 6 {
			p.click(`[data-digit="back"]`)
		}
		p.digits("274916")
		p.link(key("unlock"), "case/"+id+"/record")
		p.until(`document.body.textContent.includes("Amisi Velo") && document.body.textContent.includes("saw the well")`)
		p.open("sealing")
		p.link(key("lock"), "today")
		p.open("sealing")
		see("locked")
		p.link(key("seal-lost"), "sealing/lost")
		see("lost")
		p.open("sealing/recover")
		see("recover")
		p.run(chromedp.SendKeys(chromedp.CSS("[name=recovery]"), strings.Join(groups, " ")))
		p.link(key("recover"), "sealing/new/change")
		see("change")
		p.open("people")
		see("people")
	}
}
