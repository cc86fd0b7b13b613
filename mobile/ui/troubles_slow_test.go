//go:build slow

package ui

import (
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"chinlift/core/term"
	"chinlift/core/timeline"
)

// TestLaryngospasmInSixTaps goes from the pad to the fourth step of the card by
// taps with jitter: drug, dose and route are on the record then, with the rule
// that gave them.
func TestLaryngospasmInSixTaps(t *testing.T) {
	for _, hand := range []string{"right", "left"} {
		th, id := begun(t, 5)
		if err := th.c.SetLocal(t.Context(), "hand", hand); err != nil {
			t.Fatal(err)
		}
		tap(t, th.u, "/case/"+id+"/table/x", "kind", "phase", "phase", "anaesthesia-start")
		table, list, card := "case/"+id+"/table", "case/"+id+"/trouble", "case/"+id+"/trouble/laryngospasm"
		th.open(table)
		th.random, th.taps = rand.New(rand.NewPCG(7, 7)), 0
		th.to(key("trouble"), list)
		th.to(key("card-laryngospasm"), card)
		th.write(key("step-stop-stimulus"), card)
		th.write(key("step-jaw-thrust"), card)
		th.write(key("step-oxygen"), card)
		th.write(key("paralyse-suxamethonium-laryngospasm-im-im"), card)
		if th.taps > 6 {
			t.Errorf("%s hand: %d taps, and 6 are the most", hand, th.taps)
		}
		got := said(t, th.c, id)
		// 52 kg: 4 mg/kg into muscle, 150 mg at the most (the drug's own file).
		want := "drug drug=suxamethonium dose=150 dose_unit=mg route=im"
		last := got[len(got)-1]
		if !strings.HasPrefix(last, want) {
			t.Errorf("%s hand: the last entry is %q, want %q", hand, last, want)
		}
		if n := strings.Count(strings.Join(got, "\n"), "trouble trouble=laryngospasm act=begun"); n != 1 {
			t.Errorf("%s hand: begun %d times", hand, n)
		}
		if n := strings.Count(strings.Join(got, "\n"), "act=step"); n != 4 {
			t.Errorf("%s hand: %d steps", hand, n)
		}
		cs, err := th.c.Case(t.Context(), id)
		if err != nil {
			t.Fatal(err)
		}
		for _, d := range timeline.Each[*timeline.Drug](cs.Entries, id) {
			if d.Frozen == nil || d.Frozen.Use != "laryngospasm-im" || d.Frozen.Weight.IsZero() {
				t.Errorf("%s hand: the rule is not frozen: %+v", hand, d.Frozen)
			}
		}
		if text := eval[string](th.phone, `document.querySelector("#step-paralyse").textContent`); !strings.Contains(text, "capped") || !strings.Contains(text, "208 mg") {
			t.Errorf("%s hand: the cap is not told: %q", hand, text)
		}
		// Leaving loses nothing, and undo takes the dose back with its step.
		th.to(key("back"), table)
		th.open(card)
		if n := eval[int](th.phone, `document.querySelectorAll(".done").length`); n != 4 {
			t.Errorf("%s hand: %d steps are shown as done", hand, n)
		}
		th.write(key("undo"), card)
		if n := eval[int](th.phone, `document.querySelectorAll(".done").length`); n != 3 {
			t.Errorf("%s hand: %d steps are shown as done after the dose was undone", hand, n)
		}
	}
}

// TestArrestOfSixMinutes drives the clock through six minutes of an arrest: the
// rhythm every two minutes from the beginning, adrenaline every three from its
// first dose, by entries of the helper and of the provider.
func TestArrestOfSixMinutes(t *testing.T) {
	p := newPhone(t, 360, 640)
	id := newCase(t, p.u, "Amisi Velo")
	tap(t, p.u, "/case/"+id+"/visit/weight", "kind", "facts", "weight", "52", "weight_how", "guessed", "weight_by", "eye")
	tap(t, p.u, "/case/"+id+"/table/x", "kind", "phase", "phase", "anaesthesia-start")
	tap(t, p.u, "/case/"+id+"/table/x", "kind", "vitals", "systolic", "110", "diastolic", "70", "pulse", "80")
	table, card := "case/"+id+"/table", "case/"+id+"/trouble/arrest"
	from := p.clock.wall
	at := func(min, sec int) {
		t.Helper()
		p.clock.pass(from.Add(time.Duration(min)*time.Minute + time.Duration(sec)*time.Second).Sub(p.clock.wall))
		p.open(card)
	}
	due := func(step, want string) {
		t.Helper()
		text := eval[string](p, `(document.querySelector("#step-`+step+` .due") || {textContent: ""}).textContent`)
		if text != want {
			t.Errorf("%s after %s: %q, want %q", step, p.clock.wall.Sub(from), text, want)
		}
	}
	p.open(card)
	due("rhythm", "")
	p.record(key("begun"), card)
	due("rhythm", "due in 2 min")
	due("adrenaline", "")
	at(0, 10)
	p.record(key("step-press"), card)
	at(0, 30)
	p.record(key("adrenaline-adrenaline-arrest-iv"), card)
	due("adrenaline", "due in 3 min")
	due("rhythm", "due in 1 min")
	at(1, 20)
	due("rhythm", "due in 40 s")
	p.record(key("helper"), card)
	at(2, 0)
	due("rhythm", "due now")
	p.open(table)
	if text := eval[string](p, `document.querySelector("[data-key=due-rhythm]").textContent`); !strings.Contains(text, "due now") || !strings.Contains(text, "rhythm") {
		t.Errorf("the table says %q", text)
	}
	if n := eval[int64](p, `Number(document.querySelector("[data-key=due-rhythm]").dataset.at)`); n != from.Add(2*time.Minute).UnixMilli() {
		t.Errorf("the alarm is set for %d", n)
	}
	at(2, 5)
	p.record(key("step-rhythm"), card)
	due("rhythm", "due in 2 min")
	at(3, 30)
	due("adrenaline", "due now")
	due("rhythm", "due in 35 s")
	at(3, 40)
	p.record(key("adrenaline-adrenaline-arrest-iv"), card)
	at(4, 5)
	due("rhythm", "due now")
	at(5, 6)
	due("rhythm", "1 min over")
	p.record(key("step-rhythm"), card)
	at(6, 0)
	due("rhythm", "due in 1 min")
	due("adrenaline", "due in 40 s")
	if text := eval[string](p, `document.querySelector("#step-adrenaline").textContent`); !strings.Contains(text, "done 2 times") {
		t.Errorf("adrenaline: %q", text)
	}
	p.record(key("provider"), card)
	p.record(key("over"), card)
	p.open(table)
	if eval[bool](p, `!!document.querySelector("[data-key=due-rhythm]")`) {
		t.Error("it is over, and something is due")
	}
	got := strings.Join(said(t, p.c, id), "\n")
	for want, n := range map[string]int{
		"trouble trouble=arrest act=begun": 1, "trouble trouble=arrest act=over": 1, "act=helper": 1, "act=provider": 1,
		"drug drug=adrenaline dose=1 dose_unit=mg route=iv": 2, "act=step step=rhythm": 2, "act=step step=adrenaline": 2,
	} {
		if strings.Count(got, want) != n {
			t.Errorf("%q is recorded %d times, want %d:\n%s", want, strings.Count(got, want), n, got)
		}
	}
}

// TestCardWithoutWeight asks for one guess, and then has the doses.
func TestCardWithoutWeight(t *testing.T) {
	p := newPhone(t, 360, 640)
	id := newCase(t, p.u, "Amisi Velo")
	card := "case/" + id + "/trouble/laryngospasm"
	p.open(card)
	if eval[bool](p, `!!document.querySelector("#step-paralyse .give")`) {
		t.Error("there is a dose, and nobody knows the weight")
	}
	p.record(key("kg-50"), card)
	if n := eval[int](p, `document.querySelectorAll("#step-paralyse .give").length`); n != 3 {
		t.Errorf("%d keys of suxamethonium, want one for each route", n)
	}
	if eval[bool](p, `!!document.querySelector("[data-key=kg-50]")`) {
		t.Error("it asks again")
	}
	p.shot("card-weighed")
}

// TestOfferOnTheTable brings up a card by a value and by a sign: one line, and
// none once the card was begun.
func TestOfferOnTheTable(t *testing.T) {
	p := newPhone(t, 360, 640)
	id := furnishOne(p)
	table := "case/" + id + "/table"
	tap(t, p.u, "/"+table+"/x", "kind", "vitals", "systolic", "112", "diastolic", "70", "pulse", "88", "spo2", "86")
	p.open(table)
	if text := eval[string](p, `document.querySelector("[data-key=offer-hypoxia]").textContent`); !strings.Contains(text, "86 %") || !strings.Contains(text, "94 %") {
		t.Errorf("the offer says %q", text)
	}
	if !eval[bool](p, `"at" in document.querySelector("[data-key=offer-hypoxia]").dataset`) {
		t.Error("a severe offer does not sound")
	}
	if !eval[bool](p, `document.querySelector("[data-key=trouble]").getBoundingClientRect().bottom <= innerHeight`) {
		t.Error("the key to the cards is out of sight")
	}
	p.shot("table-offer")
	p.link(key("offer-hypoxia"), "case/"+id+"/trouble/hypoxia")
	p.record(key("step-oxygen"), "case/"+id+"/trouble/hypoxia")
	p.open(table)
	if eval[bool](p, `!!document.querySelector("[data-key=offer-hypoxia]")`) {
		t.Error("what is being treated is offered")
	}
	if err := p.c.SetLocal(t.Context(), "theme", "dark"); err != nil {
		t.Fatal(err)
	}
	for _, x := range []string{"trouble", "trouble/laryngospasm", "trouble/arrest", "trouble/hypoxia", "trouble/hypotension"} {
		p.open("case/" + id + "/" + x)
		p.shot(strings.ReplaceAll(x, "/", "-"))
	}
	tap(t, p.u, "/"+table+"/x", "kind", "signs", "breathing", string(term.BreathingSeeSaw))
	p.open(table)
	if !eval[bool](p, `!!document.querySelector("[data-key=offer-airway-obstruction]")`) {
		t.Error("see-saw breathing offers nothing")
	}
}

// TestStepInSightAmongOffers: three more cards fit and a reason is owed, and the
// first step of the open card is in sight all the same; of who wakes, the card
// leads back to waking.
func TestStepInSightAmongOffers(t *testing.T) {
	p := newPhone(t, 360, 640)
	id := furnishOne(p)
	base := "case/" + id + "/"
	tap(t, p.u, "/"+base+"table/x", "kind", "owed", "act", "owed", "for", "started-without-check")
	tap(t, p.u, "/"+base+"table/x", "kind", "vitals", "systolic", "70", "diastolic", "40", "pulse", "40", "spo2", "85")
	card := base + "trouble/laryngospasm"
	p.open(card)
	if n := eval[int](p, `document.querySelectorAll("#dues .offer").length`); n != 3 {
		t.Errorf("%d cards are offered", n)
	}
	if eval[bool](p, `!!document.querySelector("[data-key=chip]")`) {
		t.Error("a reason is asked for in the middle of trouble")
	}
	if low := eval[float64](p, `document.querySelector("[data-key=step-stop-stimulus]").getBoundingClientRect().bottom - document.querySelector(".foot").getBoundingClientRect().top`); low > 0 {
		t.Errorf("the first step ends %g px under the upper edge of the keys in reach", low)
	}
	p.link(key("back"), base+"table")
	tap(t, p.u, "/"+base+"table/x", "kind", "phase", "phase", "anaesthesia-end")
	p.open(card)
	p.link(key("back"), base+"waking")
	p.clock.pass(11 * time.Minute)
	p.open(base + "waking")
	if !eval[bool](p, `!!document.querySelector("[data-key=chip]")`) {
		t.Error("nothing is offered any more, and the reason that is owed is not told")
	}
}
