package core_test

import (
	"strings"
	"testing"
	"time"

	"chinlift/core"
	"chinlift/core/term"
	"chinlift/core/timeline"
	"chinlift/core/waking"
)

// wakes opens a case whose anaesthetic is over.
func wakes(t *testing.T, c *core.Companion, clock *fakeClock) string {
	t.Helper()
	id := openCase(t, c, "Invented Person")
	submit(t, c, id, "facts", "pregnant", "no")
	submit(t, c, id, "baseline", "systolic", "120", "pulse", "80")
	submit(t, c, id, "phase", "phase", "anaesthesia-start")
	clock.pass(time.Hour)
	submit(t, c, id, "phase", "phase", "anaesthesia-end")
	return id
}

func debts(t *testing.T, c *core.Companion, id string) int {
	t.Helper()
	cs, err := c.Case(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	n := 0
	for _, p := range timeline.Each[*timeline.Owed](cs.Entries, id) {
		if p.For == term.OwedLeftEarly {
			n++
		}
	}
	return n
}

// TestLeavingEarly: a handing-over goes in whatever is open, and owes a reason,
// once.
func TestLeavingEarly(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	id := wakes(t, c, clock)
	f := form(id, "phase", "phase", "handed-over")
	for range 2 {
		if _, err := c.Submit(t.Context(), f); err != nil {
			t.Fatal(err)
		}
		if n := debts(t, c, id); n != 1 {
			t.Errorf("%d reasons owed", n)
		}
		clock.pass(2 * time.Second)
	}
}

// TestLeavingWhenReady goes through every criterion, by what is measured and by
// what is said; nothing is owed then.
func TestLeavingWhenReady(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	id := wakes(t, c, clock)
	open := func() int {
		t.Helper()
		v, err := c.Leaving(t.Context(), id, core.LeavingToWard)
		if err != nil {
			t.Fatal(err)
		}
		return v.Open
	}
	lists, err := waking.Leavings()
	if err != nil {
		t.Fatal(err)
	}
	var list *waking.Leaving
	for _, l := range lists {
		if l.Code == "recovery" {
			list = l
		}
	}
	// The early warning score names what nobody looked at since the end.
	if v, err := c.Leaving(t.Context(), id, core.LeavingToWard); err != nil || !strings.Contains(v.Warning, "breaths") {
		t.Errorf("nobody looked, and the warning is %q (%v)", v.Warning, err)
	}
	left := len(list.Criteria)
	if n := open(); n != left {
		t.Fatalf("%d of %d are open before anybody looked", n, left)
	}
	for _, x := range [][]string{
		{"vitals", "systolic", "118", "pulse", "84", "spo2", "97", "breaths", "14", "temperature", "36.4"},
		{"waking", "activity", "2", "respiration", "2", "circulation", "2", "consciousness", "2", "oxygen", "1"},
		{"waking", "pain", "4"}, {"waking", "nausea", "3"},
	} {
		submit(t, c, id, x[0], x[1:]...)
		if left--; open() != left {
			t.Errorf("after %v %d are open, want %d", x, open(), left)
		}
	}
	for _, k := range list.Criteria {
		if k.Measure != "" {
			continue
		}
		submit(t, c, id, "waking", "not_met", k.Code)
		if open() != left {
			t.Errorf("%s is not met, and %d are open, want %d", k.Code, open(), left)
		}
		submit(t, c, id, "waking", "met", k.Code)
		if left--; open() != left {
			t.Errorf("%s is met, and %d are open, want %d", k.Code, open(), left)
		}
	}
	if left != 0 {
		t.Fatalf("%d are left", left)
	}
	// Breaths 14, saturation 97, on air, 118, 84, 36.4 and alert score nothing:
	// National Early Warning Score 2, chart 1.
	v, err := c.Leaving(t.Context(), id, core.LeavingToWard)
	if err != nil || !strings.Contains(v.Warning, " 0:") {
		t.Errorf("the warning is %q (%v)", v.Warning, err)
	}
	// Newly confused scores 3, and is a reason to look: chart 1.
	submit(t, c, id, "waking", "confused", "yes")
	if v, err = c.Leaving(t.Context(), id, core.LeavingToWard); err != nil || !strings.Contains(v.Warning, " 3:") {
		t.Errorf("confused, the warning is %q (%v)", v.Warning, err)
	}
	submit(t, c, id, "waking", "confused", "no")
	if v, err = c.Leaving(t.Context(), id, core.LeavingToWard); err != nil || !strings.Contains(v.Warning, " 0:") {
		t.Errorf("clear again, the warning is %q (%v)", v.Warning, err)
	}
	// Pain over 4 opens it again; the score of the five items stays.
	submit(t, c, id, "waking", "pain", "5")
	if open() != 1 {
		t.Errorf("with pain of 5 %d are open", open())
	}
	w, err := c.WakingOf(t.Context(), id)
	if err != nil || !strings.Contains(w.Total, "9") || w.Open != 1 {
		t.Errorf("the view says %q and %d (%v)", w.Total, w.Open, err)
	}
	submit(t, c, id, "waking", "pain", "2")
	submit(t, c, id, "phase", "phase", "handed-over")
	if n := debts(t, c, id); n != 0 {
		t.Errorf("%d reasons owed by who is ready", n)
	}
}

// TestGoingHome: going home is held against criteria of its own, on either side
// of each bound: pressure within 20 % of that at rest (Chung 1995), pain to 4 and
// nausea under 4 (BMC Anesthesiology 2015), legs that move freely.
func TestGoingHome(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	id := openCase(t, c, "Invented Person")
	submit(t, c, id, "baseline", "systolic", "120", "pulse", "80")
	submit(t, c, id, "phase", "phase", "anaesthesia-start")
	clock.pass(time.Hour)
	submit(t, c, id, "phase", "phase", "anaesthesia-end")
	state := func(code string) string {
		t.Helper()
		v, err := c.Leaving(t.Context(), id, core.LeavingHome)
		if err != nil || !v.Home {
			t.Fatalf("%v, home %v", err, v.Home)
		}
		for _, k := range v.Criteria {
			if k.Code == code {
				return k.State
			}
		}
		t.Fatalf("no criterion %s", code)
		return ""
	}
	if got := state("block"); got != "yes" {
		t.Errorf("no block was given, and the legs are %q", got)
	}
	submit(t, c, id, "block", "block", "spinal", "site", "l3-4")
	if got := state("block"); got != "" {
		t.Errorf("after a spinal nobody looked at the legs, and they are %q", got)
	}
	for _, x := range []struct {
		code string
		in   []string
		want string
	}{
		{"vital-signs", []string{"vitals", "systolic", "95"}, "no"}, {"vital-signs", []string{"vitals", "systolic", "96"}, "yes"},
		{"vital-signs", []string{"vitals", "systolic", "145"}, "no"}, {"vital-signs", []string{"vitals", "systolic", "144"}, "yes"},
		{"pain", []string{"waking", "pain", "5"}, "no"}, {"pain", []string{"waking", "pain", "4"}, "yes"},
		{"nausea", []string{"waking", "nausea", "4"}, "no"}, {"nausea", []string{"waking", "nausea", "3"}, "yes"},
		{"block", []string{"block", "block", "spinal", "motor", "1"}, "no"}, {"block", []string{"block", "block", "spinal", "motor", "0"}, "yes"},
		{"walks", []string{"waking", "not_met", "walks"}, "no"}, {"walks", []string{"waking", "met", "walks"}, "yes"},
		{"bleeding", []string{"waking", "met", "bleeding"}, "yes"}, {"drink-and-urine", []string{"waking", "met", "drink-and-urine"}, "yes"},
		{"told", []string{"waking", "met", "told"}, "yes"},
	} {
		submit(t, c, id, x.in[0], x.in[1:]...)
		clock.pass(time.Second)
		if got := state(x.code); got != x.want {
			t.Errorf("%s after %v: %q, want %q", x.code, x.in, got, x.want)
		}
	}
	open := func(to string) int {
		t.Helper()
		v, err := c.Leaving(t.Context(), id, to)
		if err != nil {
			t.Fatal(err)
		}
		return v.Open
	}
	w, err := c.WakingOf(t.Context(), id)
	if err != nil || open(core.LeavingHome) != 1 || w.OpenHome != 1 || w.Open != open(core.LeavingToWard) || w.Open < 5 {
		t.Errorf("open for home %d and %d, for the ward %d and %d (%v)", open(core.LeavingHome), w.OpenHome, open(core.LeavingToWard), w.Open, err)
	}
	// Nobody goes along: going home all the same goes in, and owes a reason.
	submit(t, c, id, "phase", "phase", "handed-over", "home", "yes")
	if n := debts(t, c, id); n != 1 {
		t.Errorf("%d reasons owed", n)
	}
	clock.pass(time.Minute)
	submit(t, c, id, "waking", "met", "escort")
	submit(t, c, id, "phase", "phase", "handed-over", "home", "yes")
	if n := debts(t, c, id); n != 1 {
		t.Errorf("%d reasons owed after all is met: criteria of the ward count for who goes home", n)
	}
	cs, err := c.Case(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	said := ""
	for _, e := range cs.Entries {
		if _, ok := e.Now().Payload.(*timeline.Phase); ok {
			said = core.Speaker{Book: c.Words()}.Entry(e.Now())
		}
	}
	if !strings.Contains(said, "goes home") {
		t.Errorf("the record says %q", said)
	}
}

// TestDebtsReadApart: two reasons that are owed for two entries do not read the
// same, on the table, on the record and in what is said when handing over.
func TestDebtsReadApart(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	id := wakes(t, c, clock)
	for range 2 {
		submit(t, c, id, "phase", "phase", "handed-over")
		clock.pass(9 * time.Minute)
	}
	lines := owing(t, c, id)
	left, told := 0, map[string]bool{}
	for _, l := range lines {
		if l.Owed == string(term.OwedLeftEarly) {
			left++
			told[l.At+l.Text] = true
			if !strings.Contains(l.Text, "handed over") {
				t.Errorf("it does not say for what: %q", l.Text)
			}
		}
	}
	if left != 2 || len(told) != 2 {
		t.Errorf("%d reasons, and %d that read apart: %+v", left, len(told), lines)
	}
	v, err := c.Handover(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	said := map[string]bool{}
	for _, p := range v.Parts {
		for _, l := range p.Lines {
			if strings.Contains(l.Text, "reason owed") {
				said[l.Text] = true
			}
		}
	}
	if len(said) < 2 {
		t.Errorf("handing over says %v", said)
	}
}
