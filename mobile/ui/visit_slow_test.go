//go:build slow

package ui

import (
	"fmt"
	"math/rand/v2"
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
			group := func(name string, keys ...string) {
				th.to(key("group-"+name), base+"visit/"+name)
				for _, k := range keys {
					th.write(key(k), base+"visit/"+name)
				}
				th.to(".leave", base+"visit")
			}
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
			for _, pause := range []string{"before-induction", "before-first-drop"} {
				th.to(key("pause-"+pause), base+"pause/"+pause)
				v, err := th.c.Pause(t.Context(), id, pause)
				if err != nil {
					t.Fatal(err)
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
			th.write(key("begin"), base+"table")
			t.Logf("before the start: %d taps and %d correcting ones", th.taps, th.corrected)
			// 13 stops at most, two sweeps, the ways there and back, the start.
			if th.taps > 20 {
				t.Errorf("%d taps, and 20 are the most", th.taps)
			}
			cs, err := th.c.Case(t.Context(), id)
			if err != nil || len(cs.Owing()) != 0 || cs.Phase != term.PhaseAnaesthesiaStart {
				t.Errorf("phase %s, owed %d (%v)", cs.Phase, len(cs.Owing()), err)
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
