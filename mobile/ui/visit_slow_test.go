//go:build slow

package ui

import (
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"chinlift/core"
	"chinlift/core/term"
)

// phases and facts of a visit, by thumb: for the right hand and for the left,
// a child, whose operation is put off, and an emergency.

func visitor(t *testing.T, hand string, seed uint64) *thumb {
	p := newPhone(t, 360, 640)
	if err := p.c.SetLocal(t.Context(), core.LocalHand, hand); err != nil {
		t.Fatal(err)
	}
	return &thumb{phone: p, random: rand.New(rand.NewPCG(seed, 20))}
}

// TestVisitByThumb asks a whole visit, one tap for a fact that has a few
// answers, then goes through the stops and starts.
func TestVisitByThumb(t *testing.T) {
	for _, hand := range []string{"right", "left"} {
		t.Run(hand, func(t *testing.T) {
			th := visitor(t, hand, 5)
			id := newCase(t, th.u, "Amisi Velo")
			base := "case/" + id + "/"
			tap(t, th.u, "/"+base+"visit/weight", "kind", "facts", "weight", "52", "weight_how", "measured", "weight_by", "scale")
			th.open(base + "visit")
			// What is missing stands first, three rows of keys at most, in sight.
			first := eval[[]float64](th.phone, `[...document.querySelectorAll("#first .key")].map(k => k.getBoundingClientRect().bottom)`)
			if len(first) == 0 || len(first) > 9 || slices.Max(first) > 640 {
				t.Errorf("missing first: %v", first)
			}
			group := func(name string, keys ...string) { th.facts(base, name, keys...) }
			group("airway", "mallampati-2", "mouth-three-fingers", "neck-free", "teeth-sound", "nostril_left-open", "nostril_right-narrow")
			if th.taps > 8 {
				t.Errorf("six facts of the airway take %d taps, to it and back", th.taps)
			}
			group("history", "anaesthetics_before-no-trouble", "recent-cold-no", "halothane-recent-no", "smoker-no", "sick_before-yes", "fitness-two-flights")
			group("body", "heart-normal", "lungs-normal")
			group("who", "consent-patient", "pregnant-no", "risks_told-yes", "assistant-yes")
			th.to(key("fact-intake"), base+"visit/intake")
			th.press(`.pick:has(input[name="what"][value="light-meal"])`)
			th.write(key("hours-8"), base+"visit")
			th.to(key("fact-allergies"), base+"visit/allergies")
			th.press(`.pick:has(input[name="allergies"][value="none-known"])`)
			th.write(key("record"), base+"visit")
			th.to(key("fact-asa"), base+"visit/asa")
			th.write(key("asa-1"), base+"visit")
			th.to(key("fact-plan"), base+"visit/plan")
			for _, x := range [][2]string{{"techniques", "open-drop"}, {"agent", "ether"}, {"operation", "hernia"}, {"start_in", "+45"}, {"recovery", "nurse"}} {
				th.press(fmt.Sprintf(`.pick:has(input[name=%q][value=%q])`, x[0], x[1]))
			}
			th.write(key("record"), base+"visit")
			t.Logf("the visit: %d taps and %d correcting ones", th.taps, th.corrected)
			if th.taps > 60 {
				t.Errorf("the visit takes %d taps, and 60 are the most", th.taps)
			}

			// The page in the hand: the key of the start is always in reach.
			th.taps, th.corrected = 0, 0
			th.to(key("start"), base+"start")
			if low := eval[float64](th.phone, `document.querySelector('[data-key="begin"]').getBoundingClientRect().bottom`); low > 640 {
				t.Errorf("the start is out of reach, at %g", low)
			}
			th.pausesByThumb(id)
			k, err := th.c.Kit(t.Context(), "open-drop")
			if err != nil {
				t.Fatal(err)
			}
			for _, it := range k.Items {
				if it.Stop {
					if _, err := th.c.CheckItem(t.Context(), core.NewID(), "open-drop", it.Code, term.KitStateGood, ""); err != nil {
						t.Fatal(err)
					}
				}
			}
			th.open(base + "start")
			if text := th.until(`document.querySelector("#held").textContent`); !strings.Contains(text, "No stop is open") {
				t.Errorf("all stops are answered: %q", text)
			}
			// 13 stops at most, two sweeps, the ways there and back, the start.
			begins(t, th, id, "before the start", 20)
		})
	}
}

// begins taps the start on its page, within so many taps since the count was
// last set to nought, and sees that it stands and owes no reason.
func begins(t *testing.T, th *thumb, id, what string, most int) {
	t.Helper()
	th.write(key("begin"), "case/"+id+"/table")
	t.Logf("%s: %d taps and %d correcting ones", what, th.taps, th.corrected)
	if th.taps > most {
		t.Errorf("%d taps, and %d are the most", th.taps, most)
	}
	cs, err := th.c.Case(t.Context(), id)
	if err != nil || len(cs.Owing()) != 0 || cs.Phase != term.PhaseAnaesthesiaStart {
		t.Errorf("phase %s, owed %d (%v)", cs.Phase, len(cs.Owing()), err)
	}
}

// looksOf are a hand and a theme for each walk: every hand and every theme is
// among them.
var looksOf = []struct{ hand, theme string }{{"right", "light"}, {"left", "dark"}, {"right", "dim"}}

// axeScript reads axe-core.
func axeScript(t testing.TB) string {
	t.Helper()
	axe, err := os.ReadFile(filepath.Join("..", "..", ".build", "browser", "node_modules", "axe-core", "axe.min.js"))
	if err != nil {
		t.Fatalf("axe-core is missing (make deps installs it): %v", err)
	}
	return string(axe)
}

// number enters a value of a row of the tray by its picker.
func (th *thumb) number(name string, value int) {
	th.t.Helper()
	row := fmt.Sprintf(`.measure[data-measure=%q] `, name)
	coarse := 10
	th.press(row + "[data-open]")
	th.calm()
	th.press(fmt.Sprintf(`[data-tens="%d"]`, value/coarse*coarse))
	th.press(fmt.Sprintf(`[data-ones="%d"]`, value%coarse))
	th.calm()
}

func (th *thumb) typed(digits string) {
	th.t.Helper()
	for _, d := range digits {
		th.press(fmt.Sprintf(`[data-digit="%c"]`, d))
	}
}

func (th *thumb) picked(name, value string) {
	th.t.Helper()
	th.press(fmt.Sprintf(`.pick:has(input[name=%q][value=%q])`, name, value))
}

// facts goes to a group of the visit, answers by one tap each, and goes back.
func (th *thumb) facts(base, group string, keys ...string) {
	th.t.Helper()
	th.to(key("group-"+group), base+"visit/"+group)
	for _, k := range keys {
		th.write(key(k), base+"visit/"+group)
	}
	th.to(".leave", base+"visit")
}

// pausesByThumb answers the pauses before the start, each stop by its own tap and
// the rest by one.
func (th *thumb) pausesByThumb(id string) {
	th.t.Helper()
	base := "case/" + id + "/"
	for _, pause := range []string{"before-induction", "before-first-drop"} {
		th.to(key("pause-"+pause), base+"pause/"+pause)
		v, err := th.c.Pause(th.t.Context(), id, pause)
		if err != nil {
			th.t.Fatal(err)
		}
		for _, it := range v.Items {
			if it.Stop {
				th.write(key(it.Code+"-yes"), base+"pause/"+pause)
			}
		}
		if v.Rest > 0 {
			th.write(key("sweep"), base+"pause/"+pause)
		}
		th.to(key("to-start"), base+"start")
	}
}

// stopsByThumb answers every stop before the start, each by its own tap and the
// rest by one, of the pauses and of the equipment, from the page in the hand
// and back to it.
func (th *thumb) stopsByThumb(id, list string) {
	th.t.Helper()
	th.pausesByThumb(id)
	th.to(key("kit-"+list), "kit/"+list)
	k, err := th.c.Kit(th.t.Context(), list)
	if err != nil {
		th.t.Fatal(err)
	}
	for _, it := range k.Items {
		if it.Stop {
			th.write(key(it.Code+"-good"), "kit/"+list)
		}
	}
	th.write(key("sweep"), "kit/"+list)
	th.open("case/" + id + "/start")
}

// TestChildByThumb sees a child, from the first screen to the start, by taps
// alone: a cold, milk six hours ago, atropine before. The limits are those of
// three years wherever one is shown.
func TestChildByThumb(t *testing.T) {
	axe := axeScript(t)
	for _, look := range looksOf {
		t.Run(look.hand+" "+look.theme, func(t *testing.T) {
			th := visitor(t, look.hand, 31)
			if err := th.c.SetLocal(t.Context(), core.LocalTheme, look.theme); err != nil {
				t.Fatal(err)
			}
			stands := func(path string) {
				t.Helper()
				th.open(path)
				name := "child-" + look.theme + "-" + path[strings.LastIndex(path, "/")+1:]
				th.shot(name)
				th.check(name, axe, 360)
			}
			th.open("today")
			th.to(key("new-case"), "case/new")
			th.picked("sex", "male")
			th.picked("urgency", "elective")
			th.write(key("open"), "")
			id := strings.Split(strings.TrimPrefix(th.location(), th.root), "/")[1]
			base := "case/" + id + "/"
			th.to(key("fact-age"), base+"visit/age")
			th.typed("3")
			th.picked("age_unit", "a")
			th.write(key("record"), base+"visit")
			th.to(key("fact-weight"), base+"visit/weight")
			th.typed("14")
			th.picked("weight_how", "measured")
			th.picked("weight_by", "scale")
			th.write(key("record"), base+"visit")
			th.to(key("fact-allergies"), base+"visit/allergies")
			th.picked("allergies", "none-known")
			th.write(key("record"), base+"visit")
			th.to(key("fact-intake"), base+"visit/intake")
			th.picked("what", "light-meal")
			th.write(key("hours-6"), base+"visit")
			th.to(key("fact-plan"), base+"visit/plan")
			for _, x := range [][2]string{{"techniques", "open-drop"}, {"agent", "ether"}, {"operation", "hernia"}, {"start_in", "+60"}, {"drugs", "atropine"}, {"recovery", "nurse"}} {
				th.picked(x[0], x[1])
			}
			th.write(key("record"), base+"visit")
			th.to(key("fact-asa"), base+"visit/asa")
			th.write(key("asa-1"), base+"visit")
			th.to(key("fact-side"), base+"visit/side")
			th.picked("side_marked", "yes")
			th.picked("marked_by", "surgeon")
			th.write(key("side-left"), base+"visit")
			th.facts(base, "who", "consent-parent", "assistant-yes", "risks_told-yes")
			th.facts(base, "airway", "mouth-three-fingers", "neck-free", "teeth-loose", "nostril_left-open", "nostril_right-open")
			th.facts(base, "history", "anaesthetics_before-never", "family-no-trouble", "recent-cold-yes")
			th.to(key("group-body"), base+"visit/body")
			th.write(key("heart-normal"), base+"visit/body")
			th.write(key("lungs-normal"), base+"visit/body")
			th.to(key("fact-baseline"), base+"visit/baseline")
			th.number("pulse", 141)
			th.number("systolic", 95)
			th.write(key("record"), base+"visit")
			visitTaps, corrected := th.taps, th.corrected
			t.Logf("the visit of a child: %d taps and %d correcting ones", visitTaps, corrected)
			if visitTaps > 70 {
				t.Errorf("the visit takes %d taps, and 70 are the most", visitTaps)
			}
			for page, want := range map[string]string{"visit/body": "At rest pulse 141", "start": "above 95 to 140", "visit/baseline": "usual 80–100", "table/vitals": "usual 25–30"} {
				stands(base + page)
				if text := strings.ReplaceAll(eval[string](th.phone, `document.querySelector("main").textContent`), "\u00a0", " "); !strings.Contains(text, want) {
					t.Errorf("%s does not say %q: %q", page, want, text)
				}
			}
			th.open(base + "visit")
			stands(base + "visit")

			th.taps, th.corrected = 0, 0
			th.to(key("start"), base+"start")
			if text := th.until(`document.querySelector("#changes").textContent`); !strings.Contains(strings.ToLower(text), "cold") || !strings.Contains(text, "08:00") || !strings.Contains(text, "08:30") {
				t.Errorf("what changes the plan: %q", text)
			}
			th.stopsByThumb(id, "open-drop")
			if text := th.until(`document.querySelector("#held").textContent`); !strings.Contains(text, "No stop is open") {
				t.Errorf("all stops are answered: %q", text)
			}
			stands(base + "pause/before-first-drop")
			stands(base + "start")
			// 13 stops of the pauses, 11 of the list, three sweeps, the ways
			// there and back, the start.
			begins(t, th, id, "before the start of a child, with all of the equipment", 36)
		})
	}
}

// TestEmergencyByThumb sees a bleeding woman whom nobody knows, with what can
// be asked in a minute, and starts when the stops are answered.
func TestEmergencyByThumb(t *testing.T) {
	axe := axeScript(t)
	for _, look := range looksOf {
		t.Run(look.hand+" "+look.theme, func(t *testing.T) {
			th := visitor(t, look.hand, 32)
			if err := th.c.SetLocal(t.Context(), core.LocalTheme, look.theme); err != nil {
				t.Fatal(err)
			}
			th.open("today")
			th.to(key("new-case"), "case/new")
			th.picked("sex", "female")
			th.picked("urgency", "emergency")
			th.write(key("open"), "")
			id := strings.Split(strings.TrimPrefix(th.location(), th.root), "/")[1]
			base := "case/" + id + "/"
			th.to(key("fact-allergies"), base+"visit/allergies")
			th.picked("allergies", "none-known")
			th.write(key("record"), base+"visit")
			th.to(key("fact-intake"), base+"visit/intake")
			th.picked("what", "full-meal")
			th.write(key("unknown"), base+"visit")
			th.to(key("fact-plan"), base+"visit/plan")
			for _, x := range [][2]string{{"techniques", "ketamine"}, {"drugs", "ketamine"}, {"start_in", "+0"}} {
				th.picked(x[0], x[1])
			}
			th.write(key("record"), base+"visit")
			th.to(key("fact-weight"), base+"visit/weight")
			th.typed("55")
			th.picked("weight_how", "guessed")
			th.picked("weight_by", "eye")
			th.write(key("record"), base+"visit")
			th.facts(base, "who", "consent-two-clinicians", "pregnant-no", "assistant-yes")
			t.Logf("the visit of an emergency: %d taps and %d correcting ones", th.taps, th.corrected)
			if th.taps > 30 {
				t.Errorf("the visit takes %d taps, and 30 are the most", th.taps)
			}
			th.taps, th.corrected = 0, 0
			th.to(key("start"), base+"start")
			if text := th.until(`document.querySelector("main").textContent`); !strings.Contains(text, "precautions against aspiration") || !strings.Contains(text, "a reason will be owed") {
				t.Errorf("the page says %q", text)
			}
			if low := eval[float64](th.phone, `document.querySelector('[data-key="begin"]').getBoundingClientRect().bottom`); low > 640 {
				t.Errorf("the start is out of reach, at %g", low)
			}
			th.shot("emergency-" + look.theme + "-start")
			th.check("emergency-"+look.theme+"-start", axe, 360)
			th.stopsByThumb(id, "ketamine")
			begins(t, th, id, "before the start of an emergency, with all of the equipment", 36)
			for _, page := range []string{"visit", "visit/food", "table"} {
				th.open(base + page)
				name := "emergency-" + look.theme + "-" + strings.ReplaceAll(page, "/", "-")
				th.shot(name)
				th.check(name, axe, 360)
			}
		})
	}
}

// TestChildIsPutOff: the list changes while the child waits, and one tap moves
// the start; what may still be drunk moves with it.
func TestChildIsPutOff(t *testing.T) {
	th := visitor(t, "right", 6)
	a := tap(t, th.u, "/case/new", "do", "open", "name", "Small One", "age", "3", "age_unit", "a", "sex", "male", "urgency", "elective")
	id := strings.Split(a.Go, "/")[1]
	base := "case/" + id + "/"
	tap(t, th.u, "/"+base+"visit/plan", "kind", "plan", "techniques", "open-drop", "start_in", "+60")
	tap(t, th.u, "/"+base+"visit/intake", "kind", "intake", "what", "light-meal", "back", "6h")
	th.open(base + "start")
	if text := th.until(`document.querySelector("main").textContent`); !strings.Contains(text, "Planned 09:00") || strings.Contains(text, "may be taken until") {
		t.Errorf("the first plan: %q", text)
	}
	th.write(key("move+120"), "")
	th.until(`document.querySelector("#held").textContent.includes("Planned 11:00")`)
	if text := th.until(`document.querySelector("#changes").textContent`); !strings.Contains(text, "until 09:00") {
		t.Errorf("what may be drunk: %q", text)
	}
	if th.taps != 1 {
		t.Errorf("%d taps", th.taps)
	}
	// The tray shows the limits of a child of three.
	th.open(base + "table/vitals")
	if text := th.until(`document.querySelector('.measure[data-measure="pulse"]').textContent`); !strings.Contains(text, "95–140") {
		t.Errorf("usual of the pulse: %q", text)
	}
	th.clock.pass(time.Minute)
}

// TestListChangesLate: two patients change places on the list by one tap on the
// page in the hand; fasting, the times of the premedication and that page
// follow, for both.
func TestListChangesLate(t *testing.T) {
	for hand, theme := range map[string]string{"right": "light", "left": "dark"} {
		t.Run(hand, func(t *testing.T) {
			th := visitor(t, hand, 11)
			if err := th.c.SetLocal(t.Context(), core.LocalTheme, theme); err != nil {
				t.Fatal(err)
			}
			open := func(name, age, kg, start, ate string) string {
				a := tap(t, th.u, "/case/new", "do", "open", "name", name, "age", age, "age_unit", "a", "sex", "male", "urgency", "elective")
				id := strings.Split(a.Go, "/")[1]
				tap(t, th.u, "/case/"+id+"/visit/weight", "kind", "facts", "weight", kg, "weight_how", "measured", "weight_by", "scale")
				tap(t, th.u, "/case/"+id+"/visit/plan", "kind", "plan", "techniques", "open-drop", "agent", "ether", "drugs", "atropine", "start_in", start)
				tap(t, th.u, "/case/"+id+"/visit/intake", "kind", "intake", "what", "light-meal", "back", ate)
				return id
			}
			first, child := open("The First", "34", "60", "+60", "10h"), open("Small One", "3", "14", "+180", "4h")
			th.open("today")
			if text := th.until(`document.querySelector("main").textContent`); !strings.Contains(text, "Planned 09:00") || strings.Index(text, "The First") > strings.Index(text, "Small One") {
				t.Errorf("today: %q", text)
			}
			read := func(part string) string {
				return eval[string](th.phone, fmt.Sprintf(`(document.querySelector("#%s") || {textContent: ""}).textContent`, part))
			}
			th.open("case/" + child + "/start")
			if held, changes := read("held"), read("changes"); !strings.Contains(held, "Planned 11:00") || strings.Contains(changes, "light meal") || !strings.Contains(changes, "10:00") || !strings.Contains(changes, "10:30") {
				t.Errorf("at eleven: %q %q", held, changes)
			}
			th.write(key("swap-"+first), "")
			th.until(`document.querySelector("#held").textContent.includes("Planned 09:00")`)
			if changes := read("changes"); !strings.Contains(changes, "light meal") || !strings.Contains(changes, "10:00") || !strings.Contains(changes, "08:00") || !strings.Contains(changes, "08:30") || strings.Contains(changes, "10:30") {
				t.Errorf("at nine: %q", changes)
			}
			if th.taps != 1 {
				t.Errorf("%d taps", th.taps)
			}
			th.calm()
			eval[any](th.phone, fmt.Sprintf(`document.querySelector('%s').scrollIntoView({block: "center"})`, key("swap-"+first)))
			th.shot("swapped-" + theme)
			th.open("case/" + child + "/visit/food")
			if text := read("group"); !strings.Contains(text, "not yet fasted long enough") || !strings.Contains(text, "09:00") {
				t.Errorf("food: %q", text)
			}
			th.open("case/" + child + "/table/drug/atropine")
			if text := th.until(`document.querySelector("main").textContent`); !strings.Contains(text, "08:00") || !strings.Contains(text, "08:30") || strings.Contains(text, "10:30") {
				t.Errorf("the premedication: %q", text)
			}
			th.open("case/" + first + "/start")
			if held, changes := read("held"), read("changes"); !strings.Contains(held, "Planned 11:00") || !strings.Contains(changes, "10:00") || !strings.Contains(changes, "10:30") || !strings.Contains(changes, "09:00") {
				t.Errorf("the other: %q %q", held, changes)
			}
			th.open("today")
			if text := th.until(`document.querySelector("main").textContent`); strings.Index(text, "The First") < strings.Index(text, "Small One") {
				t.Errorf("today: %q", text)
			}
			th.shot("today-list-" + theme)
		})
	}
}

// TestEmergencyStartsAtOnce: with nothing known the start is one tap on the
// page before it, and the reason is owed afterwards.
func TestEmergencyStartsAtOnce(t *testing.T) {
	th := visitor(t, "left", 7)
	a := tap(t, th.u, "/case/new", "do", "open", "urgency", "emergency")
	id := strings.Split(a.Go, "/")[1]
	base := "case/" + id + "/"
	th.open(base + "start")
	if text := th.until(`document.body.textContent`); !strings.Contains(text, "precautions against aspiration") || !strings.Contains(text, "a reason will be owed") {
		t.Errorf("the page says %q", text)
	}
	th.write(key("begin"), base+"table")
	if th.taps != 1 {
		t.Errorf("%d taps", th.taps)
	}
	cs, err := th.c.Case(t.Context(), id)
	if err != nil || len(cs.Owing()) != 1 {
		t.Fatalf("owed: %v (%v)", cs.Owing(), err)
	}
	th.to(key("chip"), base+"table/owed")
	if text := th.until(`document.querySelector(".owing").textContent`); !strings.Contains(text, "Airway and stomach") {
		t.Errorf("the owed reason names no stop: %q", text)
	}
}
