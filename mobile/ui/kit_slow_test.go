//go:build slow

package ui

import (
	"bytes"
	"context"
	"encoding/binary"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/dom"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"

	"chinlift/core"
)

// tapsMost is what a clean check may take over one tap for each stop.
const tapsMost = 4

// What a check is reckoned to take of somebody who knows it: to decide, 1.35 s,
// and to point, 1.1 s, for each tap; to point alone for each swipe (S. K. Card,
// T. P. Moran, A. Newell, The keystroke-level model for user performance time
// with interactive systems, Commun ACM 1980;23:396, from memory; it was made for
// mouse and keyboard). It is no measurement: nobody was timed with the things
// themselves in hand, and how long the look at each takes is not in it.
const secondsToDecide, secondsToPoint = 1.35, 1.1

// TestCleanCheck goes through the check of draw-over with one thumb, each stop
// by its own tap and the rest by one: in so few taps and swipes that the phone
// takes under a minute of it, with every item on record.
func TestCleanCheck(t *testing.T) {
	for _, hand := range []string{"right", "left"} {
		t.Run(hand, func(t *testing.T) {
			th := visitor(t, hand, 13)
			id := newCase(t, th.u, "Amisi Velo")
			tap(t, th.u, "/case/"+id+"/visit/plan", "kind", "plan", "techniques", "draw-over-mask", "agent", "ether")
			th.open("today")
			stops := 0
			th.to(key("kit"), "kit/draw-over")
			k, err := th.c.Kit(t.Context(), "draw-over")
			if err != nil {
				t.Fatal(err)
			}
			if len(k.Items) < 25 {
				t.Fatalf("the check has %d items", len(k.Items))
			}
			for _, it := range k.Items {
				if it.Stop {
					th.write(key(it.Code+"-good"), "kit/draw-over")
					stops++
				}
			}
			th.write(key("sweep"), "kit/draw-over")
			t.Logf("%d items, %d stops: %d taps, %d correcting ones, %d swipes", len(k.Items), stops, th.taps, th.corrected, th.swipes)
			if th.taps+th.corrected > stops+tapsMost {
				t.Errorf("%d taps and %d correcting ones for %d stops", th.taps, th.corrected, stops)
			}
			taps := float64(th.taps + th.corrected)
			if s := (secondsToDecide+secondsToPoint)*taps + secondsToPoint*float64(th.swipes); s > 60 {
				t.Errorf("%d taps and swipes take %g s", th.taps+th.corrected+th.swipes, s)
			}
			day, err := th.c.CheckDay(t.Context(), "draw-over", th.clock.wall.Format(time.DateOnly))
			if err != nil || len(day.Looks) != len(k.Items) {
				t.Fatalf("%d looks at %d items: %v", len(day.Looks), len(k.Items), err)
			}
			seen, swept := map[string]bool{}, 0
			for _, l := range day.Looks {
				seen[l.Name] = true
				if l.State != "good" || l.By == "" || l.Version == "" || l.At == "" {
					t.Errorf("%+v", l)
				}
				if l.Swept {
					swept++
				}
			}
			if swept != len(k.Items)-stops || len(seen) != len(k.Items) {
				t.Errorf("%d items by one key, and %d stops of %d items, %d of them by name", swept, stops, len(k.Items), len(seen))
			}
			th.shot("kit-done-" + hand)
		})
	}
}

// TestFailedStop finds a stop at fault by two taps, is held, goes on, and owes.
func TestFailedStop(t *testing.T) {
	p := newPhone(t, 360, 640)
	id := newCase(t, p.u, "Amisi Velo")
	tap(t, p.u, "/case/"+id+"/visit/plan", "kind", "plan", "techniques", "open-drop", "agent", "ether")
	p.open("kit/open-drop")
	p.shot("kit")
	p.click(key("suction-fault"))
	p.until(`!!document.querySelector("#over #tray")`)
	p.calm()
	p.shot("kit-fault-tray")
	before := p.c.Stored()
	p.click(`#over ` + key("fault-borrowed"))
	p.until(fmt.Sprintf(`!document.querySelector("#over") && Number(document.body.dataset.seq) > %d`, before))
	p.calm()
	p.until(`document.querySelector("#item-suction .found").textContent.includes("borrowed")`)
	p.shot("kit-fault")
	p.open("case/" + id + "/table")
	p.until(`document.querySelector("[data-key=held]").textContent.includes("Suction")`)
	p.shot("held")
	p.record(key("next-phase"), "case/"+id+"/table")
	for range 3 { // the phases before the start
		cs, err := p.c.Case(t.Context(), id)
		if err != nil {
			t.Fatal(err)
		}
		if !cs.Began.IsZero() {
			break
		}
		p.record(key("next-phase"), "case/"+id+"/table")
	}
	if all := strings.Join(said(t, p.c, id), "\n"); !strings.Contains(all, "owed act=owed for=stop-passed") {
		t.Errorf("going on owes no reason:\n%s", all)
	}
	p.until(`!document.querySelector("[data-key=held]") && document.querySelector("[data-key=chip]").textContent.includes("gone past a stop")`)
}

// TestEditedListOnThePhone edits a list by keys and one name that is typed; the
// check that was made before reads as it did.
func TestEditedListOnThePhone(t *testing.T) {
	p := newPhone(t, 360, 640)
	p.open("kit/spinal")
	p.record(key("suction-good"), "kit/spinal")
	day := p.clock.wall.Format(time.DateOnly)
	read := func() string {
		t.Helper()
		p.open("kit/spinal/days/" + day)
		return eval[string](p, `document.getElementById("day").textContent`)
	}
	was := read()
	p.open("kit/spinal/edit")
	p.shot("kit-edit")
	p.record(key("up-suction"), "kit/spinal/edit")
	p.link(key("item-suction"), "kit/spinal/edit/suction")
	p.shot("kit-edit-item")
	eval[any](p, `document.querySelector("[name=name]").value = "Foot pump"`)
	p.click(key("keep-item"))
	p.ready("kit/spinal/edit", -1)
	p.record(key("retire-vein"), "kit/spinal/edit")
	k, err := p.c.Kit(t.Context(), "spinal")
	if err != nil {
		t.Fatal(err)
	}
	names := ""
	for _, it := range k.Items {
		names += it.Name + "\n"
	}
	if !strings.Contains(names, "Foot pump") || strings.Contains(names, "A way into a vein\n") {
		t.Errorf("the list is now\n%s", names)
	}
	if now := read(); now != was || !strings.Contains(now, "Suction, under the pillow") {
		t.Errorf("the check read %q, and reads %q", was, now)
	}
	p.shot("kit-day")
}

// TestSuppliesOnThePhone counts a cylinder by thumb and looks at what it says.
func TestSuppliesOnThePhone(t *testing.T) {
	p := newPhone(t, 360, 640)
	furnish(p)
	p.open("supplies")
	p.link(key("new-cylinder"), "supplies/new/cylinder")
	p.shot("supply-new")
	p.link(key("item-uk-e"), "supplies/count/cylinder/uk-e/new")
	p.digits("96")
	p.pick("gauge_unit", "bar")
	p.calm()
	p.shot("supply-count")
	p.click(key("counted"))
	p.ready("supplies/cylinder/oxygen", -1)
	p.shot("supply")
	s, err := p.c.Supply(t.Context(), "cylinder", "oxygen")
	if err != nil || len(s.Lots) != 1 || !strings.Contains(s.Lots[0].OnHand, "96 bar") {
		t.Errorf("%+v %v", s, err)
	}
	for _, f := range [][]string{
		{"agent/ether", "act", "counted", "volume", "300", "batch", "K1", "opened_day", "2026-03-01"}, {"drug/atropine", "act", "counted", "count", "3", "expires", "2026-03"}, {"drug/ketamine", "act", "counted", "count", "10", "expires", "2027-03"},
	} {
		tap(t, p.u, "/supplies/count/"+f[0]+"/new", append([]string{"do", "count"}, f[1:]...)...)
	}
	tap(t, p.u, "/settings", "do", "altitude", "altitude", "2400")
	for _, look := range []struct{ theme, hand string }{{"light", "right"}, {"dark", "left"}} {
		if err := p.c.SetLocal(t.Context(), core.LocalTheme, look.theme); err != nil {
			t.Fatal(err)
		}
		if err := p.c.SetLocal(t.Context(), core.LocalHand, look.hand); err != nil {
			t.Fatal(err)
		}
		for name, path := range map[string]string{"supplies": "supplies", "today": "today", "kits": "kit", "kit": "kit/open-drop", "supply-agent": "supplies/agent/ether", "settings": "settings"} {
			p.open(path)
			p.shot(name + "-" + look.theme)
		}
	}
}

// taken writes a photograph as a camera does, with the place where it was
// taken, and gives its path.
func taken(t *testing.T) string {
	t.Helper()
	m := image.NewRGBA(image.Rect(0, 0, 640, 480))
	for i := range m.Pix {
		m.Pix[i] = 255
	}
	for x := range 300 { // a crack
		m.SetRGBA(170+x, 90+x, color.RGBA{A: 255})
		m.SetRGBA(171+x, 90+x, color.RGBA{A: 255})
	}
	var b bytes.Buffer
	if err := jpeg.Encode(&b, m, nil); err != nil {
		t.Fatal(err)
	}
	exif := []byte("Exif\x00\x00MM\x00\x2a\x00\x00\x00\x08\x00\x01\x88\x25\x00\x04\x00\x00\x00\x01\x00\x00\x00\x1a\x00\x00\x00\x00GPSLatitude 1.2345")
	head := binary.BigEndian.AppendUint16([]byte{0xff, 0xe1}, uint16(len(exif)+2))
	file := filepath.Join(t.TempDir(), "IMG_0001.jpg")
	if err := os.WriteFile(file, slices.Concat(b.Bytes()[:2], head, exif, b.Bytes()[2:]), 0o600); err != nil {
		t.Fatal(err)
	}
	return file
}

// choose taps a control that opens the chooser of the device, and picks a file
// there.
func (p *phone) choose(sel, file string) {
	p.t.Helper()
	p.run(command(page.SetInterceptFileChooserDialog.Method, page.SetInterceptFileChooserDialogParams{Enabled: true}))
	ctx, stop := context.WithTimeout(p.ctx, 15*time.Second)
	defer stop()
	opened := chromedp.Events(ctx, page.FileChooserOpened)
	p.click(sel)
	for ev, err := range opened {
		if err != nil {
			p.t.Fatalf("no chooser opens at %s: %v", sel, err)
		}
		p.run(command(dom.SetFileInputFiles.Method, dom.SetFileInputFilesParams{Files: []string{file}, BackendNodeID: ev.BackendNodeID}))
		return
	}
	p.t.Fatalf("no chooser opens at %s", sel)
}

// TestPhotographOnThePhone finds a fault, adds a photograph of it from the
// device by taps, and sees it again beside the fault and on the page of the
// day; where it was taken is gone. What is no photograph is refused in words.
func TestPhotographOnThePhone(t *testing.T) {
	for _, look := range []struct{ theme, hand string }{{"light", "right"}, {"dark", "left"}} {
		t.Run(look.theme, func(t *testing.T) {
			p := newPhone(t, 360, 640)
			for key, v := range map[string]string{core.LocalTheme: look.theme, core.LocalHand: look.hand} {
				if err := p.c.SetLocal(t.Context(), key, v); err != nil {
					t.Fatal(err)
				}
			}
			p.open("kit/open-drop")
			if eval[bool](p, `!!document.querySelector("[type=file]")`) {
				t.Error("a photograph is asked of what nobody found at fault")
			}
			p.click(key("suction-fault"))
			p.until(`!!document.querySelector("#over #tray")`)
			p.calm()
			before := p.c.Stored()
			p.click(`#over ` + key("fault-mended"))
			p.until(fmt.Sprintf(`!document.querySelector("#over") && Number(document.body.dataset.seq) > %d`, before))
			p.calm()

			no := filepath.Join(t.TempDir(), "list.jpg")
			if err := os.WriteFile(no, []byte("this is no picture"), 0o600); err != nil {
				t.Fatal(err)
			}
			before = p.c.Stored()
			p.choose(key("suction-take"), no)
			if text := p.until(`document.getElementById("notice").textContent`); !strings.Contains(text, "no photograph") || p.c.Stored() != before {
				t.Errorf("what is no picture: %q, %d entries", text, p.c.Stored()-before)
			}
			p.shot("photo-refused-" + look.theme)
			file := taken(t)
			p.choose(key("suction-take"), file)
			p.ready("kit/open-drop", before)
			eval[any](p, fmt.Sprintf(`document.querySelector('%s').scrollIntoView({block: "center"})`, key("suction-photo")))
			p.shot("photo-item-" + look.theme)
			if n := p.c.Stored() - before; n != 1 {
				t.Errorf("%d entries", n)
			}
			p.click(key("suction-photo"))
			p.until(`!!document.querySelector("#over #tray .taken")`)
			shown := `(i => i.complete && i.naturalWidth === 640 && i.getBoundingClientRect().width > 200 && i.getBoundingClientRect().right <= 360)(document.querySelector("%s"))`
			p.until(fmt.Sprintf(shown, "#over .taken"))
			eval[any](p, `document.querySelector(".taken").scrollIntoView({block: "center"})`)
			p.shot("photo-again-" + look.theme)
			p.open("kit/open-drop/days/" + p.clock.wall.Format(time.DateOnly))
			p.until(fmt.Sprintf(shown, ".taken"))
			p.shot("photo-day-" + look.theme)

			k, err := p.c.KitItem(t.Context(), "open-drop", "suction")
			if err != nil {
				t.Fatal(err)
			}
			kept := p.u.Get(t.Context(), "/"+k.Photo).Body
			whole, err := os.ReadFile(file)
			if err != nil || !bytes.Contains(whole, []byte("GPSLatitude")) {
				t.Fatalf("the camera wrote no place: %v", err)
			}
			for _, gone := range []string{"Exif", "GPS"} {
				if len(kept) == 0 || bytes.Contains(kept, []byte(gone)) {
					t.Errorf("%q is in the %d bytes that are kept", gone, len(kept))
				}
			}
			if m, err := jpeg.Decode(bytes.NewReader(kept)); err != nil || m.Bounds().Dx() != 640 {
				t.Errorf("what is kept is no such picture: %v", err)
			}
		})
	}
}

// TestBottleOnThePhone enters a bottle of ether by taps alone but for its
// number: how much, since when it is open, who filled it, how it smells.
func TestBottleOnThePhone(t *testing.T) {
	th := visitor(t, "left", 9)
	if err := th.c.SetLocal(t.Context(), core.LocalTheme, "dark"); err != nil {
		t.Fatal(err)
	}
	picked := func(name, value string) { th.press(fmt.Sprintf(`.pick:has(input[name=%q][value=%q])`, name, value)) }
	th.open("supplies")
	th.to(key("new-agent"), "supplies/new/agent")
	th.to(key("item-ether"), "supplies/count/agent/ether/new")
	th.shot("bottle-top")
	for _, d := range "250" {
		th.press(fmt.Sprintf(`[data-digit="%c"]`, d))
	}
	picked("opened", th.clock.wall.AddDate(0, 0, -7).Format(time.DateOnly))
	picked("filled_by", "another")
	th.shot("bottle-fields")
	if low := eval[float64](th.phone, `document.querySelector('[data-key="counted"]').getBoundingClientRect().bottom`); low > 640 {
		t.Errorf("the key that records is out of reach, at %g", low)
	}
	th.write(key("counted"), "supplies/agent/ether")
	if text := th.until(`document.querySelector("[data-key=lot]").textContent`); !strings.Contains(text, "250 mL") || !strings.Contains(text, "opened 7") || !strings.Contains(text, "smell before use") {
		t.Errorf("the bottle: %q", text)
	}
	th.shot("bottle-unknown")
	if th.taps > 8 {
		t.Errorf("%d taps for a bottle, and 8 are the most", th.taps)
	}
	t.Logf("a bottle: %d taps and %d correcting ones", th.taps, th.corrected)
	// Smelt afterwards: the same amount is there.
	th.clock.pass(time.Minute)
	th.open("supplies/agent/ether")
	th.press(key("lot"))
	th.ready("", -1)
	th.until(`!!document.querySelector("[name=smelt]")`)
	for _, d := range "250" {
		th.press(fmt.Sprintf(`[data-digit="%c"]`, d))
	}
	picked("smelt", "yes")
	th.write(key("counted"), "supplies/agent/ether")
	if text := th.until(`document.querySelector("[data-key=lot]").textContent`); !strings.Contains(text, "smells as it should") || strings.Contains(text, "before use") || !strings.Contains(text, "opened 7") {
		t.Errorf("known by its smell: %q", text)
	}
	th.shot("bottle-known")
}

// TestReadyScreensStand looks, in every look, at the pages of equipment, supplies
// and the list of the day when there is something on them: a fault with its
// photograph, a bottle that nobody knows, too little for the list, two who wait.
func TestReadyScreensStand(t *testing.T) {
	axe := axeScript(t)
	p := newPhone(t, 360, 640)
	var ids []string
	for i, name := range []string{"The First", "Second With A Rather Long Name"} {
		id := newCase(t, p.u, name)
		ids = append(ids, id)
		tap(t, p.u, "/case/"+id+"/visit/plan", "kind", "plan", "techniques", "open-drop", "agent", "ether", "drugs", "atropine", "start_in", fmt.Sprintf("+%d", 60+120*i), "steps", "knife", "step_times", "knife 20 min", "steps", "closing-skin", "step_times", "closing-skin 50 min")
	}
	tap(t, p.u, "/kit/open-drop", "do", "check", "item", "suction", "state", "fault", "answer", "mended")
	picture, err := os.ReadFile(taken(t))
	if err != nil {
		t.Fatal(err)
	}
	if a := p.u.Photo(t.Context(), "", "kit/open-drop/suction", picture); a.Problem != nil {
		t.Fatal(a.Problem)
	}
	for _, f := range [][]string{
		{"agent/ether", "act", "counted", "volume", "120", "batch", "K1", "opened", "2026-02-20", "filled_by", "another"}, {"cylinder/uk-e", "act", "counted", "gauge", "96", "gauge_unit", "bar", "batch", "7"},
		{"drug/atropine", "act", "counted", "count", "1", "expires", "2026-03"},
	} {
		tap(t, p.u, "/supplies/count/"+f[0]+"/new", append([]string{"do", "count"}, f[1:]...)...)
	}
	s, err := p.c.Supply(t.Context(), "agent", "ether")
	if err != nil || len(s.Lots) != 1 {
		t.Fatalf("%+v %v", s, err)
	}
	for _, look := range looks {
		p.run(chromedp.EmulateViewport(look.width, look.height))
		p.wear(look)
		for _, path := range []string{"today", "supplies", "supplies/agent/ether", "supplies/count/agent/ether/" + s.Lots[0].Entry, "kit/open-drop", "kit/open-drop/look/suction", "kit/open-drop/days/" + p.clock.wall.Format(time.DateOnly), "case/" + ids[1] + "/start"} {
			p.open(path)
			name := fmt.Sprintf("ready-%s-%s-%s-%s", look.theme, look.hand, look.text, strings.ReplaceAll(strings.ReplaceAll(path, ids[1], "1"), "/", "_"))
			p.shot(name)
			p.check(name, axe, look.width)
		}
	}
}
