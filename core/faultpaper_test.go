package core_test

import (
	"io"
	"strings"
	"testing"
	"time"

	"chinlift/core"
	"chinlift/core/record"
	"chinlift/core/term"
)

// What wants mending or buying stands on paper, each with a line for who did
// it, and nobody's name on it; a clinic that lacks nothing gets a page that
// says so.
func TestFaultPaper(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	if _, err := c.NameAuthor(t.Context(), core.NewID(), "Ann Invented"); err != nil {
		t.Fatal(err)
	}
	read := func() string {
		t.Helper()
		return printed(t, func(w io.Writer) error { return c.FaultPaper(t.Context(), w, record.A4) })
	}
	if text := read(); !strings.Contains(text, "No fault is on record") || strings.Contains(text, "signature") {
		t.Errorf("nothing is wrong: %s", text)
	}
	look(t, c, "open-drop", "suction", term.KitStateFault, term.KitAnswerMended)
	look(t, c, "spinal", kitOf(t, c, "spinal").Items[1].Code, term.KitStateAbsent, "")
	count(t, c, "what", "agent", "act", "counted", "item", "ether", "batch", "E1", "volume", "5", "expires", "0426")
	count(t, c, "what", "drug", "act", "counted", "item", "atropine", "batch", "A1", "count", "3", "expires", "0426")
	id := openCase(t, c, "X")
	submit(t, c, id, "plan", "techniques", "open-drop", "agent", "ether", "start_in", "+30")
	clock.pass(time.Minute)
	faults, err := c.Faults(t.Context(), false)
	if err != nil {
		t.Fatal(err)
	}
	of := map[string]int{}
	text := read()
	for _, f := range faults {
		of[f.What]++
		if name := strings.Join(strings.Fields(f.Name), " "); !strings.Contains(strings.ToLower(text), strings.ToLower(name)) {
			t.Errorf("the paper lacks %q: %s", name, text)
		}
	}
	if of["equipment"] != 2 || of["shortage"] == 0 {
		t.Fatalf("%v", of)
	}
	for _, has := range []string{"fault · mended · stops a start", "not here · not decided yet", "Mask, open drop", "order "} {
		if !strings.Contains(text, has) {
			t.Errorf("the paper lacks %q: %s", has, text)
		}
	}
	if n := strings.Count(text, "signature"); n != len(faults) {
		t.Errorf("%d lines to sign on for %d faults", n, len(faults))
	}
	if strings.Contains(text, "Invented") {
		t.Error("the paper names who looked")
	}
	// Past its day: not to be used.
	clock.pass(90 * 24 * time.Hour)
	if text := read(); !strings.Contains(text, "Ran out: not to be used") || !strings.Contains(text, "atropine") && !strings.Contains(text, "Atropine") {
		t.Errorf("expired: %s", text)
	}
}
