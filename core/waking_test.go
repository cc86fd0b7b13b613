package core_test

import (
	"strings"
	"testing"
	"time"

	"chinlift/core"
)

// vitalsDue gives in how many minutes the next look at a patient is due, as it
// is told on a page of the same or of another case.
func vitalsDue(t *testing.T, c *core.Companion, clock *fakeClock, id, from string) int {
	t.Helper()
	h, _, err := c.HeadOf(t.Context(), from)
	if err != nil {
		t.Fatal(err)
	}
	in := func(d *core.Due) int { return int((d.At - clock.wall.UnixMilli()) / time.Minute.Milliseconds()) }
	if id != from {
		for _, o := range h.Others {
			if o.Case == id && o.Due != nil {
				return in(o.Due)
			}
		}
		t.Fatalf("the page of %s does not tell what is due in %s", from, id)
	}
	for _, d := range h.Dues {
		if d.Key == "vitals" {
			return in(&d)
		}
	}
	t.Fatal("nothing is due")
	return 0
}

// TestRecoveryDues: one patient wakes while the next is on the table, and both
// pages tell when whom has to be looked at. Every 5 minutes for 15 minutes or
// until stable, then every 15: core/waking.
func TestRecoveryDues(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	woken := wakes(t, c, clock)
	asleep, _, err := c.OpenCase(t.Context(), core.Form{ID: core.NewID(), Fields: map[string][]string{
		"name": {"The Next"}, "urgency": {"elective"}, core.WatchField(woken): {"nurse"}}})
	if err != nil {
		t.Fatal(err)
	}
	submit(t, c, asleep, "phase", "phase", "anaesthesia-start")
	look := func(id string) {
		t.Helper()
		submit(t, c, id, "vitals", "systolic", "110", "pulse", "80", "breaths", "14")
	}
	due := func(when string, want int) {
		t.Helper()
		for _, from := range []string{woken, asleep} {
			if n := vitalsDue(t, c, clock, woken, from); n != want {
				t.Errorf("%s, told in %s: due in %d min, want %d", when, from, n, want)
			}
		}
	}
	due("on arrival", 0)
	look(woken)
	due("looked at once", 5)
	// Steady in the first 15 minutes changes nothing yet.
	submit(t, c, woken, "waking", "steady", "yes")
	clock.pass(5 * time.Minute)
	due("after 5 min", 0)
	look(woken)
	due("steady, at 5 min", 5)
	clock.pass(10 * time.Minute)
	due("forgotten for 5 min", -5)
	look(woken)
	due("steady, at 15 min", 15)
	look(asleep)
	if n := vitalsDue(t, c, clock, asleep, asleep); n != 5 {
		t.Errorf("asleep: due in %d min, want 5", n)
	}
	submit(t, c, woken, "waking", "steady", "no")
	due("not steady any more", 5)
	submit(t, c, woken, "waking", "steady", "yes")
	clock.pass(time.Minute)
	due("steady again", 14)
	submit(t, c, woken, "trouble", "trouble", "hypotension", "act", "begun")
	h, _, err := c.HeadOf(t.Context(), woken)
	if err != nil {
		t.Fatal(err)
	}
	if n := vitalsDue(t, c, clock, woken, woken); n != 4 || len(h.Dues) == 0 {
		t.Errorf("in trouble: due in %d min, want 4", n)
	}
	clock.pass(time.Minute)
	submit(t, c, woken, "trouble", "trouble", "hypotension", "act", "over")
	look(woken)
	due("trouble is over, and nobody called it steady since", 5)
	submit(t, c, woken, "waking", "steady", "yes")
	due("steady after trouble", 15)
	// A look that leaves out the breaths is none.
	clock.pass(14 * time.Minute)
	submit(t, c, woken, "vitals", "systolic", "110", "pulse", "80")
	due("without breaths", 1)
	clock.pass(8 * 24 * time.Hour)
	if n := vitalsDue(t, c, clock, woken, woken); n > -7*24*60 {
		t.Errorf("after a week: due in %d min", n)
	}
}

// TestBlockGoesDown: after a spinal its height and the legs are asked on the
// page of waking, each on its own, and told at the handing-over.
func TestBlockGoesDown(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	id := wakes(t, c, clock)
	view := func() *core.BlockLook {
		t.Helper()
		w, err := c.WakingOf(t.Context(), id)
		if err != nil {
			t.Fatal(err)
		}
		return w.Block
	}
	if b := view(); b != nil {
		t.Fatalf("no block was given, and %+v is asked", b)
	}
	submit(t, c, id, "block", "block", "femoral", "height", "t4")
	if b := view(); b != nil {
		t.Fatalf("a femoral block has no height, and %+v is asked", b)
	}
	submit(t, c, id, "block", "block", "spinal", "site", "l3-4", "needle", "25g")
	if b := view(); b == nil || b.Kind != "spinal" || b.Height != "" || b.Motor != "" || len(b.Moves) != 4 || len(b.Heights) < 10 {
		t.Fatalf("nobody looked, and it says %+v", b)
	}
	submit(t, c, id, "block", "block", "spinal", "height", "t6")
	clock.pass(20 * time.Minute)
	submit(t, c, id, "block", "block", "spinal", "motor", "3")
	if b := view(); b.Height != "T6 · 20 min ago" || !strings.HasPrefix(b.Motor, "3 moves neither") {
		t.Errorf("it says %+v", b)
	}
	submit(t, c, id, "block", "block", "spinal", "height", "t10")
	if b := view(); !strings.HasPrefix(b.Height, "T10") {
		t.Errorf("it says %+v", b)
	}
	if text, _ := handed(t, c, id, "values"); !strings.Contains(text, "T10") || !strings.Contains(text, "3 moves neither") {
		t.Errorf("handed over: %s", text)
	}
	if text, _ := handed(t, c, id, "done"); strings.Count(text, "spinal") != 1 {
		t.Errorf("one spinal was given; handed over: %s", text)
	}
}

// TestCare: airway, side, eyes, pain, sickness, clearness and bleeding each have
// their last look on the page, and what is in can come out there.
func TestCare(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	id := openCase(t, c, "Invented Person")
	care := func() core.CareView {
		t.Helper()
		v, err := c.CareOf(t.Context(), id)
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
	if v := care(); len(v.In) != 0 || v.Lies != "" || v.Pain != "" || v.Nausea != "" || v.Bleeding != "" || v.Confused != "" || len(v.Positions) != 4 {
		t.Errorf("nobody looked, and it says %+v", v)
	}
	submit(t, c, id, "airway", "device", "tracheal-tube", "act", "in", "size", "7")
	submit(t, c, id, "airway", "device", "oral-airway", "act", "in", "size", "3")
	submit(t, c, id, "airway", "device", "oral-airway", "act", "out")
	if v := care(); len(v.In) != 1 || v.In[0].Code != "tracheal-tube" {
		t.Errorf("in is %+v", v.In)
	}
	submit(t, c, id, "airway", "device", "tracheal-tube", "act", "out")
	submit(t, c, id, "position", "position", "left-side", "eyes_covered", "yes", "eyes_treated", "yes")
	submit(t, c, id, "waking", "pain", "3")
	submit(t, c, id, "waking", "nausea", "0")
	submit(t, c, id, "waking", "confused", "yes")
	submit(t, c, id, "waking", "not_met", "bleeding")
	clock.pass(6 * time.Minute)
	submit(t, c, id, "waking", "met", "bleeding")
	v := care()
	for _, x := range [][2]string{{v.Lies, "on the left side · eyes covered · drop or ointment in the eyes · 6 min ago"}, {v.Pain, "3 · 6 min ago"}, {v.Nausea, "0 · 6 min ago"}, {v.Confused, "Newly confused · 6 min ago"}, {v.Bleeding, "Bleeding as expected"}} {
		if !strings.HasPrefix(x[0], x[1]) {
			t.Errorf("it says %q, want %q", x[0], x[1])
		}
	}
	if len(v.In) != 0 {
		t.Errorf("in is %+v", v.In)
	}
}
