//go:build slow

package ui

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"chinlift/core"
	"github.com/chromedp/chromedp"
)

// The pages that doubt a weight stand like all others, and the doubt on the
// table takes no key out of sight.
func TestWeightDoubtStands(t *testing.T) {
	p := newPhone(t, 360, 640)
	axe, err := os.ReadFile(filepath.Join("..", "..", ".build", "browser", "node_modules", "axe-core", "axe.min.js"))
	if err != nil {
		t.Fatalf("axe-core is missing (make deps installs it): %v", err)
	}
	id := farAtThree(t, p.u)
	answerStops(p, id)
	tap(t, p.u, "/case/"+id+"/table/x", "kind", "phase", "phase", "anaesthesia-start")
	for _, look := range []look{{"light", "right", "100", 360, 640}, {"dark", "left", "100", 360, 640}, {"dim", "right", "100", 360, 640}} {
		for key, v := range map[string]string{core.LocalTheme: look.theme, core.LocalHand: look.hand, core.LocalText: look.text} {
			if err := p.c.SetLocal(t.Context(), key, v); err != nil {
				t.Fatal(err)
			}
		}
		for _, path := range weightPages {
			p.open("case/" + id + "/" + path)
			name := "doubt-" + look.theme + "-" + strings.ReplaceAll(path, "/", "_")
			if path == "table" {
				belowEdge(p, name)
			}
			p.shot(name)
			p.check(name, string(axe), look.width)
		}
	}
	p.open("case/" + id + "/table/drug")
	p.click(key("far-checked"))
	p.until(`!document.querySelector(".doubt")`)
	if !strings.HasSuffix(p.location(), "table/drug") {
		t.Errorf("the tray went away: %s", p.location())
	}
}

// belowEdge fails where a key of the open page lies below the lower edge.
func belowEdge(p *phone, name string) {
	p.t.Helper()
	p.calm()
	eval[any](p, `Promise.all([...document.images].map(i => i.decode().catch(() => 0)))`, chromedp.EvalAwaitPromise)
	if hidden := eval[[]string](p, `[...document.querySelectorAll(".key")].filter(k => k.getBoundingClientRect().bottom > innerHeight + 1).map(k => k.dataset.key)`); len(hidden) > 0 {
		p.t.Errorf("%s: keys below the lower edge: %v", name, hidden)
	}
}
