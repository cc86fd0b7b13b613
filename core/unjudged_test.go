package core_test

import (
	"strconv"
	"strings"
	"testing"
	"time"
)

// What is kept of a dose that no rule judged is worked out anew when something
// that it came from is another, and not before: a second look at a long record
// folds nothing.
func TestUnjudgedIsKept(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	id := openCaseOf(t, c, "30", "")
	first := ""
	for i := range 100 {
		clock.pass(30 * time.Second)
		submit(t, c, id, "vitals", "pulse", strconv.Itoa(60+i%60))
		if i%10 == 0 {
			if e := submit(t, c, id, "drug", "drug", "morphine", "dose", "9", "dose_unit", "mg", "route", "im").Lines[0].Event.ID; first == "" {
				first = e
			}
		}
	}
	clock.pass(2 * time.Minute)
	look := func() (text string) {
		lines, err := c.Entries(t.Context(), id)
		if err != nil {
			t.Fatal(err)
		}
		for _, l := range lines {
			if l.ID == first {
				text = l.Stand
			}
		}
		return text
	}
	if s := look(); !strings.Contains(s, "no weight was known") {
		t.Fatalf("without a weight: %q", s)
	}
	again := testing.AllocsPerRun(3, func() { look() })
	anew := testing.AllocsPerRun(3, func() { c.ForgetUnjudged(); look() })
	if again*4 > anew {
		t.Errorf("a second look allocates %v times, one that works all out %v times", again, anew)
	}
	submit(t, c, id, "facts", "weight", "60", "weight_how", "measured", "weight_by", "scale")
	if s := look(); !strings.Contains(s, "judged later by 60 kg: within") {
		t.Errorf("by a weight that became known: %q", s)
	}
	// 9 mg are within 0.15 mg/kg of 60 kg, and over it of 20.
	submit(t, c, id, "facts", "weight", "20", "weight_how", "measured", "weight_by", "scale")
	if s := look(); !strings.Contains(s, "judged later by 20 kg: over") {
		t.Errorf("by another weight: %q", s)
	}
}
