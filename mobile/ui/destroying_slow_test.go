//go:build slow

package ui

import (
	"os"
	"strings"
	"testing"
)

// TestDestroyingByThumb destroys an identity by taps alone, from the log to the
// record that says so, without a PIN and with one, and looks at each page.
func TestDestroyingByThumb(t *testing.T) {
	axe := axeScript(t)
	shots := os.Getenv("CHINLIFT_SHOTS") != ""
	for _, look := range []look{{"light", "right", "100", 360, 640}, {"dark", "left", "100", 360, 640}, {"dim", "left", "200", 360, 640}} {
		p := newPhone(t, look.width, look.height)
		p.u.LendSender(&lent{all: []Destination{{ID: "server", Kind: PlaceWebDAV, Address: "https://files.clinic.example/log", Private: true, Confirmed: 12}}})
		p.wear(look)
		see := func(name string) {
			t.Helper()
			name = "destroying-" + name + "-" + look.theme + "-" + look.hand + "-" + look.text
			p.calm()
			if shots {
				p.shot(name)
			}
			p.check(name, axe, look.width)
		}
		for _, pin := range []string{"", "274916"} {
			id := newCase(t, p.u, "Amisi Velo")
			base := "case/" + id + "/"
			tap(t, p.u, "/"+base+"table/note", "kind", "note", "text", "saw the well")
			p.open(base + "destroy")
			see("open-" + pin)
			tap(t, p.u, "/"+base+"record", "kind", "case-closed")
			if pin != "" {
				tap(t, p.u, "/sealing/new/setup", "do", "choose", "pin", pin)
				tap(t, p.u, "/sealing/again/setup", "do", "choose", "pin", pin)
			}
			p.open("log")
			p.link(key("log-case"), base+"record")
			p.link(key("destroy-page"), base+"destroy")
			see("page-" + pin)
			p.click(key("destroy-next"))
			p.until(`document.getElementById("notice").textContent.includes("Choose why")`)
			p.pick("grounds", "patient-asked")
			p.pick("asked_by", "guardian")
			see("chosen-" + pin)
			before := p.c.Stored()
			p.link(key("destroy-next"), base+"destroy/patient-asked/guardian")
			see("last-" + pin)
			if p.c.Stored() != before {
				t.Error("something was recorded before the last step")
			}
			if pin != "" {
				p.digits("274917")
				p.click(key("destroy"))
				p.until(`document.getElementById("notice").textContent.includes("not the PIN")`)
				p.calm()
				for range 6 {
					p.click(`[data-digit="back"]`)
				}
				p.digits(pin)
			}
			p.record(key("destroy"), base+"record")
			p.until(`document.body.textContent.includes("identity destroyed, grounds: the patient asked; asked for by parent or guardian")`)
			see("record-" + pin)
			if text := eval[string](p, `document.documentElement.outerHTML`); strings.Contains(text, "Amisi") || strings.Contains(text, "saw the well") {
				t.Error("the record names somebody")
			}
			p.link(key("destroy-page"), base+"destroy")
			see("done-" + pin)
		}
	}
}
