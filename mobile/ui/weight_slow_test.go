//go:build slow

package ui

import (
	"strings"
	"testing"
)

// The pages that doubt a weight stand like all others.
func TestWeightDoubtStands(t *testing.T) {
	p := newPhone(t, 360, 640)
	id := farAtThree(t, p.u)
	answerStops(p, id)
	tap(t, p.u, "/case/"+id+"/table/x", "kind", "phase", "phase", "anaesthesia-start")
	for _, look := range []look{{"light", "right", "100", 360, 640}, {"dark", "left", "100", 360, 640}, {"dim", "right", "100", 360, 640}} {
		p.wear(look)
		for _, path := range weightPages {
			p.open("case/" + id + "/" + path)
			name := "doubt-" + look.theme + "-" + strings.ReplaceAll(path, "/", "_")
			p.shot(name)
			p.check(name, axeScript(t), look.width)
		}
	}
	p.open("case/" + id + "/table/drug")
	p.click(key("far-checked"))
	p.until(`!document.querySelector(".doubt")`)
	if !strings.HasSuffix(p.location(), "table/drug") {
		t.Errorf("the tray went away: %s", p.location())
	}
}
