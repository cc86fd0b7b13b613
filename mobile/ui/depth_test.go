package ui

import (
	"encoding/json"
	"fmt"
	"strconv"
	"strings"
	"testing"
	"time"

	"chinlift/core"
)

// TestDepthOnTheTable opens the sheet from the pad, goes on with signs, and weighs
// what each tap brings: the band comes as a picture of its own, apart from the
// answer, and has what was kept.
func TestDepthOnTheTable(t *testing.T) {
	u, c, clock := newUI(t)
	id := newCase(t, u, "Invented Person of the Long Name")
	table := "/case/" + id + "/table"
	tap(t, u, "/case/"+id+"/visit/weight", "kind", "facts", "weight", "52", "weight_how", "measured", "weight_by", "scale")
	tap(t, u, table+"/step", "kind", "phase", "phase", "anaesthesia-start")
	tap(t, u, table+"/agent", "kind", "agent", "agent", "ether", "drops", "120")
	clock.pass(14 * time.Minute)
	tap(t, u, table+"/vitals", "kind", "vitals", "systolic", "120", "pulse", "90", "spo2", "97")
	tap(t, u, table+"/breathing", "kind", "signs", "breathing", "even-automatic")

	// One tap: a key of the pad leads to the sheet, which is laid over the table.
	page := string(u.Get(t.Context(), table).Body)
	pad := page[strings.Index(page, "table-pad"):]
	if !strings.Contains(pad, fmt.Sprintf(`href="case/%s/table/depth" data-layer data-key="depth"`, id)) {
		t.Fatal("the pad has no key for the sheet of depth")
	}
	for _, name := range []string{"breathing", "eyes", "vitals", "agent", "lower", "higher", "drug", "airway", "fluids", "step", "next-phase", "more", "mark", "undo"} {
		if !strings.Contains(pad, fmt.Sprintf("data-key=%q", name)) {
			t.Errorf("the pad lost its key %s", name)
		}
	}
	before := c.Stored()
	sheet := string(u.Get(t.Context(), table+"/depth?layer=1").Body)
	for _, want := range []string{"Not a monitor", "Never tried on patients", "times this patient", "If from now on: ether 120 drops/min", "May be too deep", "Oxygen, a guess", "As deep as", "Model depth-2", `data-key="if-200"`} {
		if !strings.Contains(sheet, want) {
			t.Errorf("the sheet lacks %q", want)
		}
	}
	if strings.Contains(sheet, "data-send") {
		t.Error("the sheet has a key that records")
	}
	if n := c.Stored() - before; n != 1 {
		t.Errorf("%d lines were kept of what was shown", n)
	}
	other := string(u.Get(t.Context(), table+"/depth?layer=1&way=drops&to=200").Body)
	if !strings.Contains(other, "If from now on: 200 drops/min") {
		t.Error("another setting shows nothing of it")
	}

	s := sendFrom(t, u, table)
	open, base := s.Page, s.Base
	for i, fields := range [][]string{
		{"eyes", "kind", "signs", "eyes", "still-central", "pupils", "small"}, {"", "kind", "agent", "agent", "ether", "drops", "200"},
		{"vitals", "kind", "vitals", "systolic", "110", "pulse", "84", "spo2", "97"}, {"sheet", "kind", "signs", "jaw", "slack", "chest", "full", "colour", "dusky"},
	} {
		clock.pass(2 * time.Minute)
		var aged Answer
		if err := json.Unmarshal(u.Get(t.Context(), table+"?fresh="+open+"&base="+strconv.FormatInt(base, 10)).Body, &aged); err != nil || aged.Problem != nil {
			t.Fatal(err, aged.Problem)
		}
		base, before = aged.Base, c.Stored()
		s := sendOf(u, table+"/"+fields[0], fields[1:]...)
		s.Page, s.Base, s.Case = open, base, id
		if fields[0] != "" {
			s.Under = table
		}
		a := u.Send(t.Context(), s)
		if a.Problem != nil {
			t.Fatal(a.Problem)
		}
		base = a.Base
		if n := len(a.JSON()); n > patchMost {
			t.Errorf("%v: the answer has %d bytes", fields, n)
		}
		if strings.Contains(string(a.JSON()), "<svg") {
			t.Error("a drawing came with the answer")
		}
		// The tap, and what its band became.
		if n := c.Stored() - before; n != 2 {
			t.Errorf("tap %d: %d lines", i, n)
		}
		drawn := string(a.JSON())
		_, src, ok := strings.Cut(drawn, `tile.svg?`)
		src, _, _ = strings.Cut(src, `\"`)
		src = strings.ReplaceAll(strings.ReplaceAll(src, `\u0026`, "&"), "&amp;", "&")
		if !ok {
			t.Fatalf("tap %d: the drawing on the table stays as it was: %s", i, drawn)
		}
		tile := u.Get(t.Context(), "/case/"+id+"/tile.svg?"+src)
		if tile.Status != 200 || !strings.Contains(string(tile.Body), "depth, MAC") || len(tile.Body) > 48<<10 {
			t.Errorf("tap %d: tile %d, %d bytes", i, tile.Status, len(tile.Body))
		}
		if last := strings.Contains(string(tile.Body), "A sign of too little oxygen stands."); last != (i == 3) {
			t.Errorf("tap %d: the band says %v of a dusky face", i, last)
		}
	}
}

// TestDepthOpenIsNotShownAgain leaves a sheet of depth open: what the page asks
// for by the time alone draws none, and nothing is kept as if it had been shown.
func TestDepthOpenIsNotShownAgain(t *testing.T) {
	u, c, clock, table := underEther(t)
	tap(t, u, table+"/breathing", "kind", "signs", "breathing", "even-automatic")

	before := c.Stored()
	s := sendFrom(t, u, table+"/depth")
	base, kept := s.Base, c.Stored()
	if kept != before+1 {
		t.Fatalf("%d lines of what was shown", kept-before)
	}
	for range 4 {
		clock.pass(40 * time.Second)
		var a Answer
		if err := json.Unmarshal(u.Get(t.Context(), table+"/depth?fresh="+s.Page+"&base="+strconv.FormatInt(base, 10)).Body, &a); err != nil || a.Problem != nil {
			t.Fatal(err, a.Problem)
		}
		for _, p := range a.Patches {
			if p.ID == "tray" {
				t.Errorf("the sheet was drawn anew: %.80s", p.HTML)
			}
		}
		base = a.Base
	}
	if n := c.Stored(); n != kept {
		t.Errorf("%d lines of a sheet that nobody opened again", n-kept)
	}
	// A page that nobody remembers is drawn in full, and then it was shown.
	u.Get(t.Context(), table+"/depth?fresh=unheard-of&base=1")
	if n := c.Stored(); n != kept+1 {
		t.Errorf("%d lines of a sheet that was drawn", n-kept)
	}
}

// TestDepthPasses: the sheet says for what time it stands, and what it estimates
// goes by itself when the last signs or vitals have become too old for it.
func TestDepthPasses(t *testing.T) {
	u, _, clock, table := underEther(t)
	clock.pass(time.Minute)
	tap(t, u, table+"/breathing", "kind", "signs", "breathing", "even-automatic")
	css := string(u.Get(t.Context(), "/static/chinlift.css").Body)
	css = strings.ReplaceAll(css, " ", "")
	for _, c := range []struct {
		pass  time.Duration
		after int // half minutes, the one that has begun among them; 0: no estimate
	}{{0, 9}, {90 * time.Second, 5}, {2*time.Minute + 15*time.Second, 1}, {30 * time.Second, 0}} {
		clock.pass(c.pass)
		sheet := string(u.Get(t.Context(), table+"/depth?layer=1").Body)
		if c.after == 0 {
			if strings.Contains(sheet, `passing after-`) || !strings.Contains(sheet, "No estimate: look at the patient") {
				t.Error("an estimate by vitals that are too old")
			}
			continue
		}
		_, in, ok := strings.Cut(sheet, fmt.Sprintf(`<div id="estimate" class="passing after-%d">`, c.after))
		in, out, _ := strings.Cut(in, "</div></div>")
		if !ok || !strings.Contains(in, "Depth at "+clock.wall.Format("15:04")) || !strings.Contains(in, "May be too deep") || !strings.Contains(in, `data-key="again"`) || strings.Contains(out, "May be too deep") ||
			!strings.Contains(in, "Breathed in") || strings.Contains(out, "Breathed in") || !strings.Contains(in, "Signs of the 5 minutes before") || strings.Contains(sheet, "ago") {
			t.Errorf("after %v: %s", c.pass, sheet)
		}
		if want := fmt.Sprintf(".after-%d>*{animation-delay:%ds", c.after, max(6, 30*(c.after-1))); !strings.Contains(css, want) {
			t.Errorf("no rule %s", want)
		}
	}
}

// TestDepthIsTakenOff leaves a sheet of depth lying over the table, on a device
// that slept and did not count the time: what the page asks for takes the estimate
// off once, when its time has run out, or when something was recorded that it knows
// nothing of.
func TestDepthIsTakenOff(t *testing.T) {
	for _, recorded := range []bool{false, true} {
		u, _, clock := newUI(t)
		id := newCase(t, u, "Invented Person")
		table := "/case/" + id + "/table"
		tap(t, u, "/case/"+id+"/visit/weight", "kind", "facts", "weight", "52", "weight_how", "measured", "weight_by", "scale")
		tap(t, u, table+"/agent", "kind", "agent", "agent", "ether", "drops", "120")
		clock.pass(14 * time.Minute)
		tap(t, u, table+"/vitals", "kind", "vitals", "systolic", "120", "pulse", "90", "spo2", "97")
		tap(t, u, table+"/breathing", "kind", "signs", "breathing", "even-automatic")
		s := sendFrom(t, u, table)
		base := s.Base
		asks := func() (off string) {
			t.Helper()
			var a Answer
			if err := json.Unmarshal(u.Get(t.Context(), table+"?fresh="+s.Page+"&base="+strconv.FormatInt(base, 10)).Body, &a); err != nil || a.Problem != nil {
				t.Fatal(err, a.Problem)
			}
			base = a.Base
			for _, p := range a.Patches {
				if p.ID == "estimate" {
					off += p.HTML
				}
			}
			return off
		}
		if off := asks(); off != "" {
			t.Errorf("before a sheet was shown: %s", off)
		}
		if sheet := string(u.Get(t.Context(), table+"/depth?layer=1").Body); !strings.Contains(sheet, `<div id="estimate"`) {
			t.Fatal("there is no estimate")
		}
		want := "over 5 minutes old"
		if recorded {
			clock.pass(time.Minute)
			if off := asks(); off != "" {
				t.Errorf("while it holds: %s", off)
			}
			tap(t, u, table+"/fluids", "kind", "in", "in", "compound-lactate", "volume", "500")
			if off := asks(); off != "" {
				t.Errorf("by a fluid: %s", off)
			}
			tap(t, u, table+"/signs", "kind", "signs", "colour", "dusky")
			want = "something was recorded since"
		} else {
			clock.pass(4*time.Minute + 50*time.Second)
			if off := asks(); off != "" {
				t.Errorf("while it holds: %s", off)
			}
			clock.pass(30 * time.Second)
		}
		if off := asks(); !strings.Contains(off, want) || !strings.Contains(off, `data-key="again"`) {
			t.Errorf("taken off: %s", off)
		}
		if off := asks(); off != "" {
			t.Errorf("taken off again: %s", off)
		}
		// A page that was forgotten, as after a start anew of the desk, hears it again.
		s.Page = "unheard-of"
		if off := asks(); off == "" {
			t.Error("a page that is not known shows it still")
		}
	}
}

// underEther opens a case that has had ether for a quarter of an hour, with its
// vitals just looked at.
func underEther(t *testing.T) (u *UI, c *core.Companion, clock *fakeClock, table string) {
	t.Helper()
	u, c, clock = newUI(t)
	id := newCase(t, u, "Invented Person")
	table = "/case/" + id + "/table"
	tap(t, u, "/case/"+id+"/visit/weight", "kind", "facts", "weight", "52", "weight_how", "measured", "weight_by", "scale")
	tap(t, u, table+"/agent", "kind", "agent", "agent", "ether", "drops", "120")
	clock.pass(14 * time.Minute)
	tap(t, u, table+"/vitals", "kind", "vitals", "systolic", "120", "pulse", "90", "spo2", "97")
	return u, c, clock, table
}
