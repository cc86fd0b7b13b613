//go:build slow

package ui

import (
	"strings"
	"testing"

	"chinlift/core"

	"github.com/chromedp/chromedp"
)

func TestZZLook(t *testing.T) {
	p := newPhone(t, 360, 640)
	id := furnishOne(p)
	tap(t, p.u, "/case/"+id+"/table/x", "kind", "facts", "age", "34", "age_unit", "a", "sex", "female")
	tap(t, p.u, "/case/"+id+"/table/x", "kind", "facts", "pregnant", "yes")
	for _, look := range []look{{"dark", "left", "100", 360, 640}, {"light", "right", "100", 360, 640}} {
		for key, v := range map[string]string{core.LocalTheme: look.theme, core.LocalHand: look.hand, core.LocalText: look.text} {
			if err := p.c.SetLocal(t.Context(), key, v); err != nil {
				t.Fatal(err)
			}
		}
		for _, x := range []string{"trouble", "trouble/laryngospasm", "trouble/local-anaesthetic-poisoning", "trouble/anaphylaxis", "trouble/eclampsia", "trouble/massive-bleeding", "trouble/fire", "trouble/bronchospasm", "trouble/arrest", "waking", "waking/home", "waking/leaving", "handover", "next-day", "doses", "visit/asa", "visit/body"} {
			p.open("case/" + id + "/" + x)
			h := eval[int64](p, `document.documentElement.scrollHeight`)
			p.run(chromedp.EmulateViewport(360, min(h, 3200)))
			p.shot(look.theme + "-" + strings.ReplaceAll(x, "/", "-"))
			p.run(chromedp.EmulateViewport(360, 640))
			if look.theme == "dark" {
				p.shot("s-" + strings.ReplaceAll(x, "/", "-"))
			}
		}
	}
}
