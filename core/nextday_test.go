package core_test

import (
	"slices"
	"strings"
	"testing"
	"time"
)

// TestNextDay: what is asked goes by what was given, and who gave the
// anaesthetic is to hear of what the list says.
func TestNextDay(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	id := wakes(t, c, clock)
	submit(t, c, id, "performed", "operation", "hernia", "techniques", "infiltration")
	codes := func() (all []string) {
		t.Helper()
		v, err := c.NextDay(t.Context(), id)
		if err != nil {
			t.Fatal(err)
		}
		for _, q := range v.Questions {
			all = append(all, q.Code)
		}
		return all
	}
	if all := codes(); slices.Contains(all, "between") || slices.Contains(all, "headache") || !slices.Contains(all, "nerve") {
		t.Errorf("after infiltration: %v", all)
	}
	submit(t, c, id, "agent", "agent", "ether", "drops", "60")
	submit(t, c, id, "block", "block", "spinal")
	if all := codes(); !slices.Contains(all, "between") || !slices.Contains(all, "headache") {
		t.Errorf("after ether and a spinal: %v", all)
	}
	clock.pass(24 * time.Hour)
	v, err := c.NextDay(t.Context(), id)
	if err != nil || len(v.Tell) != 0 {
		t.Fatalf("nobody asked, and %v is to be told (%v)", v.Tell, err)
	}
	answer := func(question string, field ...string) {
		t.Helper()
		submit(t, c, id, "follow-up", append([]string{"version", v.Version, "question", question}, field...)...)
	}
	tell := func() int {
		t.Helper()
		w, err := c.NextDay(t.Context(), id)
		if err != nil {
			t.Fatal(err)
		}
		return len(w.Tell)
	}
	answer("nausea", "score", "3")
	answer("throat", "answer", "yes")
	answer("worst", "text", "The cold.")
	answer("satisfied", "score", "10")
	if n := tell(); n != 0 {
		t.Errorf("%d to be told", n)
	}
	for i, a := range [][]string{{"nausea", "score", "4"}, {"between", "answer", "yes"}, {"headache", "answer", "yes"}, {"complication", "grade", "3a"}} {
		answer(a[0], a[1:]...)
		if n := tell(); n != i+1 {
			t.Errorf("after %v %d to be told, want %d", a, n, i+1)
		}
	}
	answer("headache", "answer", "no")
	if n := tell(); n != 3 {
		t.Errorf("%d to be told, want 3", n)
	}
	if v, err = c.NextDay(t.Context(), id); err != nil || v.Who == "" {
		t.Fatalf("nobody is told (%v)", err)
	}
	for _, q := range v.Questions {
		if q.Code == "worst" && !strings.Contains(q.Now, "The cold.") {
			t.Errorf("the words are lost: %+v", q)
		}
	}
}
