//go:build slow

package ui

import (
	"bytes"
	"encoding/json"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"chinlift/core"
	"chinlift/core/timeline"
	"chinlift/sync/plain"
)

// journeys are what every carrier must bring a user through.
var journeys = []struct {
	name string
	take func(p *phone)
}{
	{"whole case by clicks", wholeCaseByClicks},
	{"double tap is one event", doubleTapIsOneEvent},
	{"failure stays on screen", failureStaysOnScreen},
}

// TestJourneysOverHTTP takes every journey as on a desk.
func TestJourneysOverHTTP(t *testing.T) {
	for _, j := range journeys {
		t.Run(j.name, func(t *testing.T) { j.take(newPhone(t, 360, 640)) })
	}
}

// TestEveryScreenStands looks at every page in every look.
func TestEveryScreenStands(t *testing.T) { everyScreenStands(newPhone(t, 360, 640), looks) }

// wholeCaseByClicks performs a case from the first screen to the last by
// clicks alone, and compares the record with what was tapped.
func wholeCaseByClicks(p *phone) {
	t := p.t
	var want []string
	expect := func(s string) { want = append(want, s) }

	p.open("today")
	p.link(key("new-case"), "case/new")
	p.pick("sex", "male")
	p.pick("urgency", "elective")
	before := p.c.Stored()
	p.click(key("open"))
	p.ready("", before)
	at := p.location()
	id := strings.Split(strings.TrimPrefix(at, p.root), "/")[1]
	base := "case/" + id + "/"
	expect("case-opened urgency=elective")
	expect("facts sex=male")

	fact := func(name string) { p.link(key("fact-"+name), base+"visit/"+name) }
	fact("age")
	p.digits("46")
	p.pick("age_unit", "a")
	p.record(key("record"), base+"visit")
	expect("facts age=46 age_unit=a")
	fact("weight")
	p.digits("61.5")
	p.pick("weight_how", "measured")
	p.pick("weight_by", "scale")
	p.record(key("record"), base+"visit")
	expect("facts weight=61.5 weight_unit=kg weight_how=measured weight_by=scale")
	for _, c := range [][2]string{{"asa", "2"}, {"mallampati", "1"}, {"mouth", "three-fingers"}, {"neck", "free"}, {"teeth", "loose"}, {"consent", "patient"}} {
		fact(c[0])
		p.record(key(c[0]+"-"+c[1]), base+"visit")
		expect("facts " + c[0] + "=" + c[1])
	}
	fact("side")
	p.pick("side_marked", "yes")
	p.record(key("side-left"), base+"visit")
	expect("facts side=left side_marked=yes")
	fact("allergies")
	p.pick("allergies", "none-known")
	p.record(key("record"), base+"visit")
	expect("facts allergies=none-known")
	fact("intake")
	p.pick("what", "light-meal")
	p.record(key("hours-10"), base+"visit")
	expect("intake what=light-meal")
	fact("baseline")
	p.value("systolic", 130)
	p.value("diastolic", 80)
	p.value("pulse", 76)
	p.record(key("record"), base+"visit")
	expect("baseline systolic=130 systolic_unit=mm[Hg] diastolic=80 diastolic_unit=mm[Hg] pulse=76 pulse_unit=/min")
	fact("plan")
	p.pick("techniques", "open-drop")
	p.pick("agent", "ether")
	p.pick("operation", "hernia")
	p.record(key("record"), base+"visit")
	expect("plan techniques=open-drop agent=ether operation=hernia")

	// The equipment: every stop by its own tap, then the rest by one.
	p.link(`nav a[href="today"]`, "today")
	p.link(key("kit"), "kit/open-drop")
	k, err := p.c.Kit(t.Context(), "open-drop")
	if err != nil {
		t.Fatal(err)
	}
	taps := 0
	for _, it := range k.Items {
		if it.Stop {
			p.record(key(it.Code+"-good"), "kit/open-drop")
			taps++
		}
	}
	p.record(key("sweep"), "kit/open-drop")
	if k, err = p.c.Kit(t.Context(), "open-drop"); err != nil || k.Good != len(k.Items) {
		t.Errorf("after %d stops and a sweep %d of %d are good (%v)", taps, k.Good, len(k.Items), err)
	}

	p.open(base + "table")
	tray := func(name string) { p.link(`.table-pad `+key(name), base+"table/"+name) }
	back := base + "table"
	phase := func(name string) {
		tray("step")
		p.record(key("phase-"+name), back)
		expect("phase phase=" + name)
		if name == "anaesthesia-start" || name == "knife-to-skin" || name == "anaesthesia-end" {
			expect("owed act=owed for=started-without-check") // no pause was held
		}
		p.clock.pass(time.Minute)
	}
	drops := func(n string) {
		tray("agent")
		p.record(key("drops-"+n), back)
		expect("agent agent=ether drops=" + n + " drops_unit={drop}/min")
		p.clock.pass(time.Minute)
	}
	vitals := func(sys, dia, pulse float64) {
		tray("vitals")
		p.value("systolic", sys)
		p.value("diastolic", dia)
		p.value("pulse", pulse)
		p.record(key("record"), back)
		expect(fmt.Sprintf("vitals systolic=%g systolic_unit=mm[Hg] diastolic=%g diastolic_unit=mm[Hg] pulse=%g pulse_unit=/min", sys, dia, pulse))
		p.clock.pass(time.Minute)
	}
	phase("patient-in")
	phase("anaesthesia-start")
	tray("agent")
	p.record(key("cover-on"), back)
	expect("agent cover=on")
	tray("agent")
	p.record(key("oxygen-1"), back)
	expect("agent oxygen=1 oxygen_unit=L/min")
	for _, n := range []string{"12", "20", "40", "80", "120"} {
		drops(n)
	}
	tray("breathing")
	p.record(key("breathing-uneven"), back)
	expect("signs breathing=uneven")
	vitals(135, 85, 98)
	phase("unconscious")
	tray("breathing")
	p.record(key("breathing-even-automatic"), back)
	expect("signs breathing=even-automatic")
	tray("eyes")
	p.record(key("eyes-still-central"), back)
	expect("signs eyes=still-central")
	tray("airway")
	p.pick("size", "3")
	p.pick("needed", "jaw-thrust")
	p.record(key("in-oral-airway"), back)
	expect("airway device=oral-airway act=in size=3 needed=jaw-thrust")
	tray("drug")
	p.link(key("drug-atropine"), base+"table/drug/atropine")
	p.digits("0.4")
	p.pick("dose_unit", "mg")
	p.pick("route", "iv")
	p.record(key("record"), back)
	expect("drug drug=atropine dose=0.4 dose_unit=mg route=iv")
	phase("ready-for-surgery")
	phase("knife-to-skin")
	p.record(key("mark"), back)
	expect("mark")
	p.clock.pass(time.Minute)
	vitals(120, 75, 90)
	tray("step")
	p.record(key("step-pulling-viscera"), back)
	expect("step step=pulling-viscera")
	tray("fluids")
	p.pick("in", "compound-lactate")
	p.record(key("in-500"), back)
	expect("in what=compound-lactate volume=500 volume_unit=mL")
	tray("drug")
	p.record(key("again-atropine"), back)
	expect("drug drug=atropine dose=0.4 dose_unit=mg route=iv")
	p.record(key("undo"), back)
	expect("struck")
	p.record(key("redo"), back)
	expect("restored")
	p.record(key("undo"), back)
	expect("struck")
	tray("vitals")
	p.record(key("same"), back)
	expect("vitals systolic=120 systolic_unit=mm[Hg] diastolic=75 diastolic_unit=mm[Hg] pulse=90 pulse_unit=/min looked_same=yes same=systolic same=diastolic same=pulse")
	tray("agent")
	p.record(key("off"), back)
	expect("agent agent=ether off=yes")
	phase("closing")
	phase("surgery-end")
	phase("anaesthesia-end")
	tray("more")
	p.link(key("marks"), base+"table/marks")
	p.record(key("label-surgeon-began"), base+"table/marks")
	expect("mark label=surgeon-began")
	p.open(base + "waking")
	p.clock.pass(5 * time.Minute)
	for _, item := range []string{"activity", "respiration", "circulation", "consciousness", "oxygen"} {
		p.pick(item, "2")
	}
	p.record(key("record"), base+"waking")
	expect("waking activity=2 respiration=2 circulation=2 consciousness=2 oxygen=2")
	// Nobody leaves before the criteria are met, or a reason is owed.
	p.link(key("vitals"), base+"waking/vitals")
	p.value("temperature", 37)
	p.record("#over "+key("record"), base+"waking")
	expect("vitals temperature=37 temperature_unit=Cel")
	p.link(key("leaving"), base+"waking/leaving")
	for _, felt := range []string{"pain", "nausea"} {
		p.record(key(felt+"-0"), base+"waking/leaving")
		expect("waking " + felt + "=0")
	}
	for _, met := range []string{"awake", "airway", "breathing", "circulation", "bleeding", "block", "cannula", "orders", "handover"} {
		p.record(key("met-"+met), base+"waking/leaving")
		expect("waking met=" + met)
	}
	p.record(key("hand-over"), base+"waking/leaving")
	expect("phase phase=handed-over")
	p.open(base + "table")
	p.link(key("drawn"), base+"record")
	p.record(key("outcome-recovered"), base+"record")
	expect("outcome outcome=recovered")
	p.record(key("close"), base+"record")
	expect("case-closed")

	got := said(t, p.c, id)
	if !slices.Equal(got, want) {
		for i := range max(len(got), len(want)) {
			g, w := "", ""
			if i < len(got) {
				g = got[i]
			}
			if i < len(want) {
				w = want[i]
			}
			if g != w {
				t.Errorf("entry %d: recorded %q, tapped %q", i+1, g, w)
			}
		}
	}
	// What leaves the device says the same, line by line.
	p.u.Lend(plain.Maker{Source: p.c, Now: func() time.Time { return p.clock.wall }})
	file := p.u.Get(t.Context(), "/"+base+"files/lines.jsonl")
	var lines []*timeline.Line
	for text := range bytes.Lines(file.Body) {
		l, err := timeline.ParseLine(bytes.TrimRight(text, "\n"))
		if err != nil {
			t.Fatalf("an exported line: %v", err)
		}
		lines = append(lines, &l)
	}
	if exported := saidBy(lines); !slices.Equal(exported, want) {
		t.Errorf("exported:\n%s\ntapped:\n%s", strings.Join(exported, "\n"), strings.Join(want, "\n"))
	}
	drugs := string(p.u.Get(t.Context(), "/"+base+"files/drugs.csv").Body)
	if strings.Count(drugs, "atropine,0.4,mg") == 0 {
		t.Errorf("the table of drugs:\n%s", drugs)
	}
	if open, err := p.c.OpenCases(t.Context()); err != nil || len(open) != 0 {
		t.Errorf("after closing, %d cases are open (%v)", len(open), err)
	}
	if r, err := p.c.Verify(t.Context()); err != nil || len(r.Findings) != 0 {
		t.Errorf("the folder does not verify: %v %v", r.Findings, err)
	}
	t.Logf("%d entries by clicks alone", len(got))
}

// doubleTapIsOneEvent taps a key twice before the answer can come.
func doubleTapIsOneEvent(p *phone) {
	t := p.t
	id := newCase(t, p.u, "Double")
	p.open("case/" + id + "/table")
	before := p.c.Stored()
	eval[chromedp.Void](p, `(() => { const k = document.querySelector('[data-key="mark"]'); k.click(); k.click(); })()`)
	p.ready("", before)
	if n := p.c.Stored() - before; n != 1 {
		t.Errorf("a bounce of the thumb wrote %d events", n)
	}
	p.record(key("mark"), "")
	if n := p.c.Stored() - before; n != 2 {
		t.Errorf("a second deliberate tap: %d events in all", n)
	}
}

// failureStaysOnScreen: a device that cannot write says so, keeps what was
// entered, and the same key tried again writes one event.
func failureStaysOnScreen(p *phone) {
	t := p.t
	id := newCase(t, p.u, "Full")
	p.open("case/" + id + "/table/vitals")
	p.value("pulse", 90)
	if err := p.c.Suspend(t.Context()); err != nil {
		t.Fatal(err)
	}
	p.click(key("record"))
	notice, err := chromedp.Run(p.ctx, chromedp.Poll[string](`document.getElementById("notice").textContent`))
	if err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(notice, "not recorded yet") {
		t.Errorf("notice %q", notice)
	}
	if touched := eval[string](p, `document.querySelector('.measure[data-measure="pulse"] output').textContent`); touched != "90" {
		t.Errorf("the entry on the screen is %q", touched)
	}
	if err := p.c.Resume(t.Context()); err != nil {
		t.Fatal(err)
	}
	before := p.c.Stored()
	p.record(key("record"), "case/"+id+"/table")
	if n := p.c.Stored() - before; n != 1 {
		t.Errorf("the retry wrote %d events", n)
	}
}

// look is how a phone is set, and how large it is.
type look struct {
	theme, hand, text string
	width, height     int64
}

// wear gives the device the settings of a look.
func (p *phone) wear(l look) {
	p.t.Helper()
	for key, v := range map[string]string{core.LocalTheme: l.theme, core.LocalHand: l.hand, core.LocalText: l.text} {
		if err := p.c.SetLocal(p.t.Context(), key, v); err != nil {
			p.t.Fatal(err)
		}
	}
}

// looks are pairwise, as TestLooksArePairwise shows: each theme, hand, size of
// text and size of phone meets each of the others.
var looks = []look{
	{"light", "right", "100", 360, 640}, {"dark", "left", "100", 412, 915}, {"dim", "right", "100", 360, 640},
	{"light", "left", "125", 412, 915}, {"dark", "right", "125", 360, 640}, {"dim", "left", "125", 360, 640},
	{"light", "left", "150", 360, 640}, {"dark", "right", "150", 412, 915}, {"dim", "left", "150", 412, 915},
	{"light", "right", "200", 412, 915}, {"dark", "left", "200", 360, 640}, {"dim", "right", "200", 360, 640},
}

func TestLooksArePairwise(t *testing.T) {
	values := func(l look) []string {
		return []string{l.theme, l.hand, l.text, strconv.FormatInt(l.width, 10)}
	}
	seen, each := map[string]bool{}, make([]map[string]bool, 4)
	for _, l := range looks {
		v := values(l)
		for i := range v {
			if each[i] == nil {
				each[i] = map[string]bool{}
			}
			each[i][v[i]] = true
			for j := range i {
				seen[v[j]+" "+v[i]] = true
			}
		}
	}
	for i := range each {
		for j := range i {
			for a := range each[j] {
				for b := range each[i] {
					if !seen[a+" "+b] {
						t.Errorf("%s never meets %s", a, b)
					}
				}
			}
		}
	}
}

// everyScreenStands looks at every page in every theme, for both hands,
// at the smallest size: axe-core finds nothing, keys are big enough and apart,
// nothing is wider than the phone.
func everyScreenStands(p *phone, looks []look) {
	t := p.t
	axe := axeScript(t)
	id := furnish(p)
	entries, err := p.c.Entries(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	all := append(paths(id), "/case/"+id+"/entry/"+entries[0].ID)
	for _, look := range looks {
		p.run(chromedp.EmulateViewport(look.width, look.height))
		p.wear(look)
		for _, path := range all {
			name := fmt.Sprintf("%s-%s-%s%s", look.theme, look.hand, look.text, strings.ReplaceAll(strings.ReplaceAll(path, id, "1"), "/", "_"))
			p.open(strings.TrimPrefix(path, "/"))
			p.check(name, axe, look.width)
			p.shot(name)
		}
	}
}

// check looks at the open page.
func (p *phone) check(name, axe string, width int64) {
	p.t.Helper()
	var found []struct {
		ID    string `json:"id"`
		Nodes []struct {
			HTML           string `json:"html"`
			FailureSummary string `json:"failureSummary"`
		} `json:"nodes"`
	}
	eval[chromedp.Void](p, axe)
	raw := eval[string](p, `axe.run(document, {resultTypes: ["violations"], rules: {"color-contrast-enhanced": {enabled: true}}}).then(r => JSON.stringify(r.violations))`, chromedp.EvalAwaitPromise)
	if err := json.Unmarshal([]byte(raw), &found); err != nil {
		p.t.Fatal(err)
	}
	for _, v := range found {
		p.t.Errorf("%s: axe %s: %s\n%s", name, v.ID, v.Nodes[0].HTML, v.Nodes[0].FailureSummary)
	}
	small := eval[[]string](p, `[...document.querySelectorAll("button.key, a.key, .pick, .card")].filter(k => k.offsetParent).map(k => [k, k.getBoundingClientRect()])
		.filter(([k, b]) => b.height < 56 || b.width < 56).map(([k, b]) => k.className + " " + k.textContent.trim().slice(0, 30) + " " + Math.round(b.width) + "x" + Math.round(b.height))`)
	wide := eval[float64](p, `document.documentElement.scrollWidth`)
	if len(small) > 0 {
		p.t.Errorf("%s: keys under 56 px: %v", name, small)
	}
	if wide > float64(width) {
		p.t.Errorf("%s: %g px wide", name, wide)
	}
	// What is tapped in a hurry is read in a hurry: no word of a key is broken
	// over two lines, unless the text is larger than the phone is made for.
	broken := eval[[]string](p, `(() => { const bad = []; if (document.documentElement.dataset.text !== "100") return bad;
		for (const k of document.querySelectorAll("button.key, a.key")) { if (!k.offsetParent) continue;
			const texts = document.createTreeWalker(k, NodeFilter.SHOW_TEXT);
			for (let t; (t = texts.nextNode());) for (const m of t.data.matchAll(/[\p{L}]{3,}/gu)) {
				const r = document.createRange(); r.setStart(t, m.index); r.setEnd(t, m.index + m[0].length);
				if (new Set([...r.getClientRects()].map(b => Math.round(b.top))).size > 1) bad.push(m[0] + " in: " + k.textContent.trim().slice(0, 60));
			} } return bad; })()`)
	if len(broken) > 0 {
		p.t.Errorf("%s: words of keys broken over two lines: %v", name, broken)
	}
	// At the end of the page the keys that stay in reach stand where they
	// belong, so that nothing lies under them.
	eval[chromedp.Void](p, `scrollTo(0, document.documentElement.scrollHeight)`)
	near := eval[[]string](p, `(() => { const ks = [...document.querySelectorAll("button.key, a.key, .pick")].filter(k => k.offsetParent).map(k => [k, k.getBoundingClientRect()]), bad = [];
		for (let i = 0; i < ks.length; i++) for (let j = i + 1; j < ks.length; j++) {
			const a = ks[i][1], b = ks[j][1], dx = Math.max(a.left, b.left) - Math.min(a.right, b.right), dy = Math.max(a.top, b.top) - Math.min(a.bottom, b.bottom);
			if (Math.max(dx, dy) < 7.5) bad.push(ks[i][0].textContent.trim().slice(0, 20) + " | " + ks[j][0].textContent.trim().slice(0, 20) + " " + Math.round(dx) + "," + Math.round(dy));
		} return bad.slice(0, 5); })()`)
	if len(near) > 0 {
		p.t.Errorf("%s: keys nearer than 8 px: %v", name, near)
	}
}
