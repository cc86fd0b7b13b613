//go:build slow

package ui

import (
	"testing"
)

// TestDepthPassesInABrowser lets the time of a sheet of depth run out: what it
// estimates is out of sight and of reach then, and a key opens it anew.
func TestDepthPassesInABrowser(t *testing.T) {
	p := newPhone(t, 360, 640)
	id := furnishOne(p)
	tap(t, p.u, "/case/"+id+"/table/vitals", "kind", "vitals", "systolic", "110", "diastolic", "70", "pulse", "84", "spo2", "97")
	p.open("case/" + id + "/table")
	p.link(inPad("depth"), "case/"+id+"/table/depth")
	const seen = `["fades", "faded"].map(c => getComputedStyle(document.querySelector("#over ." + c)).visibility).join()`
	if got := eval[string](p, seen); got != "visible,hidden" {
		t.Fatalf("as it opens: %s", got)
	}
	if got := eval[string](p, `(document.getAnimations().filter(a => /^fade/.test(a.animationName)).forEach(a => { a.currentTime = 330000; }), `+seen+`)`); got != "hidden,visible" {
		t.Errorf("when its time has run out: %s", got)
	}
	if n := eval[int](p, `[...document.querySelectorAll("#over .fades .key")].filter(k => k.checkVisibility({ visibilityProperty: true })).length`); n > 0 {
		t.Errorf("%d keys of other settings are still there", n)
	}
	p.shot("depth-faded")
	p.link(`#over [data-key="again"]`, "case/"+id+"/table/depth")
	p.until(seen + ` === "visible,hidden" ? "yes" : ""`)
}
