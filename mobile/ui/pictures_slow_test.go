//go:build slow

package ui

import (
	"bytes"
	"flag"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"chinlift/core"
	"chinlift/core/must"
	"chinlift/sync/plain"
	"chinlift/testdata/demo"
)

var update = flag.Bool("update", false, "make the pictures of the README anew")

// TestPictures takes a picture of every screen, from an invented case, as the
// README shows them; with -update it keeps them. A screen that has no picture
// in the folder, or a picture of the README that is not there, fails.
func TestPictures(t *testing.T) {
	p := newPhone(t, 360, 640)
	id := furnish(p)
	entries, err := p.c.Entries(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range [][]string{
		{"cylinder/uk-e", "act", "counted", "gauge", "96", "gauge_unit", "bar", "batch", "7"}, {"agent/ether", "act", "counted", "volume", "300", "batch", "K1"}, {"drug/ketamine", "act", "counted", "count", "10", "expires", "2026-03"},
	} {
		tap(t, p.u, "/supplies/count/"+f[0]+"/new", append([]string{"do", "count"}, f[1:]...)...)
	}
	dir := filepath.Join("..", "..", "testdata", "screens")
	taken := map[string]bool{}
	take := func(name string) {
		t.Helper()
		p.calm()
		eval[any](p, `Promise.all([...document.images].map(i => i.decode().catch(() => 0)))`, chromedp.EvalAwaitPromise)
		png, err := chromedp.Run(p.ctx, chromedp.CaptureScreenshot())
		if err != nil {
			t.Fatal(err)
		}
		if len(png) < 3000 {
			t.Errorf("%s: a picture of %d bytes shows nothing", name, len(png))
		}
		file := name + ".png"
		taken[file] = true
		if *update {
			if err := os.WriteFile(filepath.Join(dir, file), png, 0o644); err != nil {
				t.Fatal(err)
			}
		}
		if _, err := os.Stat(filepath.Join(dir, file)); err != nil {
			t.Errorf("no picture of this screen is kept (-update makes it): %v", err)
		}
	}
	if *update {
		if err := os.MkdirAll(dir, 0o755); err != nil {
			t.Fatal(err)
		}
	}
	base := "case/" + id + "/"
	for _, s := range [][2]string{
		{"today", "today"}, {"kit", "kit/open-drop"}, {"new-case", "case/new"}, {"visit", base + "visit"}, {"weight", base + "visit/weight"}, {"plan", base + "visit/plan"},
		{"visit-airway", base + "visit/airway"}, {"visit-food", base + "visit/food"}, {"visit-body", base + "visit/body"}, {"steps", base + "visit/steps"}, {"start", base + "start"}, {"pause", base + "pause/before-induction"},
		{"fasting", "fasting"}, {"stops", "stops"}, {"figures", "figures"}, {"search", "search"}, {"kit-look", "kit/open-drop/look/suction"}, {"kits", "kit"},
		{"kit-edit", "kit/open-drop/edit"}, {"supplies", "supplies"}, {"supply", "supplies/cylinder/oxygen"}, {"supply-count", "supplies/count/cylinder/uk-e/new"}, {"with", base + "visit/with"}, {"doses", base + "doses"},
		{"rules", "rules"}, {"rule", "rules/morphine"}, {"table", base + "table"}, {"trouble", base + "trouble"}, {"card", base + "trouble/laryngospasm"}, {"card-arrest", base + "trouble/arrest"},
		{"waking", base + "waking"}, {"record", base + "record"}, {"entry", base + "entry/" + entries[0].ID}, {"paper", base + "paper"}, {"log", "log"}, {"place", "log/place/server"},
		{"place-new", "log/new/webdav"}, {"settings", "settings"}, {"handover", base + "handover"}, {"waking-care", base + "waking/care"}, {"waking-leaving", base + "waking/leaving"}, {"next-day", base + "next-day"},
	} {
		p.open(s[1])
		take(s[0])
	}
	p.u.LendTaker(&intake{})
	p.open("take-in")
	take("take-in")
	tap(t, p.u, "/take-in", "do", "look")
	p.open("take-in")
	take("take-in-look")
	tap(t, p.u, "/take-in", "do", "take")
	p.open("take-in")
	take("take-in-done")
	tap(t, p.u, "/backup", "do", "back-up", "key", "age1")
	p.open("backup")
	take("backup")
	for _, tray := range trays {
		p.open(base + "table/" + tray)
		take("tray-" + tray)
	}
	p.open(base + "table/drug/ketamine")
	take("tray-drug-dose")
	p.open(base + "table/drug/ketamine/induction-iv")
	take("tray-dose")
	p.open(base + "table")
	p.link(inPad("vitals"), base+"table/vitals")
	take("vitals")
	p.click(`.measure[data-measure="pulse"] [data-open]`)
	take("picker")
	alone := newPhone(t, 360, 640)
	one := furnishOne(alone)
	alone.open("case/" + one + "/table")
	p, both := alone, p
	take("table-alone")
	// Nothing of the pad is out of sight on the smallest phone.
	if hidden := eval[[]string](alone, `[...document.querySelectorAll(".key")].filter(k => k.getBoundingClientRect().bottom > innerHeight + 1).map(k => k.dataset.key)`); len(hidden) > 0 {
		t.Errorf("keys below the lower edge: %v", hidden)
	}
	// One tap from the pad is the sheet of depth; the band that it leaves on the
	// table takes no key out of sight.
	tap(t, alone.u, "/case/"+one+"/table/vitals", "kind", "vitals", "systolic", "110", "diastolic", "70", "pulse", "84", "spo2", "97")
	alone.open("case/" + one + "/table")
	alone.link(inPad("depth"), "case/"+one+"/table/depth")
	take("depth")
	if text := eval[string](alone, `document.querySelector("#tray").textContent`); !strings.Contains(text, "times this patient") {
		t.Errorf("the sheet has no estimate: %s", text)
	}
	alone.clock.pass(4 * time.Minute)
	tap(t, alone.u, "/case/"+one+"/table/eyes", "kind", "signs", "eyes", "roving", "lid", "faint")
	alone.open("case/" + one + "/table")
	take("table-depth")
	if hidden := eval[[]string](alone, `[...document.querySelectorAll(".key")].filter(k => k.getBoundingClientRect().bottom > innerHeight + 1).map(k => k.dataset.key)`); len(hidden) > 0 {
		t.Errorf("keys below the lower edge, by the band of depth: %v", hidden)
	}
	alone.open("case/" + one + "/record")
	eval[any](alone, `document.querySelectorAll(".drawn")[1].scrollIntoView()`)
	take("record-depth")
	p = both
	for _, look := range []look{{"dark", "right", "100", 360, 640}, {"dim", "left", "100", 360, 640}, {"light", "right", "200", 360, 640}} {
		p.wear(look)
		p.open(base + "table")
		take("table-" + look.theme + "-" + look.hand + "-" + look.text)
	}

	// Figures of two people: that of the demo's cases, and whoever is here.
	p = newPhone(t, 360, 640)
	for _, name := range slices.Sorted(maps.Keys(demo.Files())) {
		must.Get[plain.Replayed](t)(plain.Replay(t.Context(), bytes.NewReader(demo.Files()[name]), p.c))
	}
	if _, err := p.c.NameAuthor(t.Context(), core.NewID(), "Sela Ondrimo"); err != nil {
		t.Fatal(err)
	}
	furnishOne(p)
	p.open("figures")
	p.click(`[data-pick="by"] summary`)
	p.until(`document.querySelectorAll('[data-pick="by"][open] .key').length >= 3`) // anybody's, and those of two
	eval[any](p, `document.querySelector('[data-pick="by"]').scrollIntoView()`)
	take("figures-people")

	// Locking, and what is destroyed on request.
	p = newPhone(t, 360, 640)
	locking := newCase(t, p.u, "Amisi Velo")
	tap(t, p.u, "/case/"+locking+"/table/note", "kind", "note", "text", "saw the well")
	tap(t, p.u, "/case/"+locking+"/record", "kind", "case-closed")
	p.open("sealing/new/setup")
	take("sealing-new")
	tap(t, p.u, "/sealing/new/setup", "do", "choose", "pin", "274916")
	tap(t, p.u, "/sealing/again/setup", "do", "choose", "pin", "274916")
	tap(t, p.u, "/sealing/key", "do", "printed", "group", p.c.RecoveryKey().Groups()[6])
	tap(t, p.u, "/sealing", "do", "lock")
	p.clock.pass(72 * time.Hour)
	for _, s := range [][2]string{
		{"sealing", "sealing"}, {"locked-log", "log"}, {"locked-record", "case/" + locking + "/record"}, {"sealing-unlock", "sealing/unlock"}, {"sealing-recover", "sealing/recover"}, {"sealing-lost", "sealing/lost"},
		{"people", "people"}, {"destroy-last", "case/" + locking + "/destroy/patient-asked/guardian"}, {"destroy", "case/" + locking + "/destroy"},
	} {
		p.open(s[1])
		take(s[0])
	}

	kept, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range kept {
		if !taken[f.Name()] {
			t.Errorf("%s is a picture of no screen", f.Name())
		}
	}
	readme, err := os.ReadFile(filepath.Join("..", "..", "README.md"))
	if err != nil {
		t.Fatal(err)
	}
	shown := strings.Split(string(readme), "(testdata/screens/")[1:]
	if len(shown) == 0 {
		t.Error("the README shows no picture")
	}
	for _, s := range shown {
		if name, _, _ := strings.Cut(s, ")"); !taken[name] {
			t.Errorf("the README shows %s, of no screen", name)
		}
	}
}
