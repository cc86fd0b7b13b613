package ui

import (
	"strings"
	"testing"

	"chinlift/core/term"
	"chinlift/core/timeline"
)

// TestWeightIsAskedFirst: where a dose goes by a weight that nobody knows, the
// page asks for one guess before its first step; with the weight it does not.
func TestWeightIsAskedFirst(t *testing.T) {
	u, _, _ := newUI(t)
	id := newCase(t, u, "Amisi Velo")
	card := "/case/" + id + "/trouble/laryngospasm"
	page := body(t, u, card)
	ask, first := strings.Index(page, `data-key="kg-50"`), strings.Index(page, `data-key="step-stop-stimulus"`)
	if ask < 0 || first < 0 || ask > first {
		t.Errorf("the weight is asked at %d, the first step stands at %d", ask, first)
	}
	tap(t, u, card, "kind", "facts", "weight", "50", "weight_how", "guessed", "weight_by", "eye")
	if page = body(t, u, card); strings.Contains(page, `data-key="kg-50"`) || !strings.Contains(page, `data-key="paralyse-suxamethonium-laryngospasm-im-im"`) {
		t.Error("it asks again, or has no dose")
	}
}

// TestHelperByOneTap: one key of a card makes the helper the one who records,
// and one makes it undone; both stand above the steps.
func TestHelperByOneTap(t *testing.T) {
	u, c, _ := newUI(t)
	id := newCase(t, u, "Amisi Velo")
	card := "/case/" + id + "/trouble/arrest"
	for _, x := range [][2]string{{"helper", "provider"}, {"provider", "helper"}} {
		page := body(t, u, card)
		if at := strings.Index(page, `data-key="`+x[0]+`"`); at < 0 || at > strings.Index(page, `data-key="step-`) || strings.Contains(page, `data-key="`+x[1]+`"`) {
			t.Errorf("no key %s, or beside it one for %s", x[0], x[1])
		}
		tap(t, u, card, "do", "trouble", "card", "arrest", "card_act", x[0])
		cs, err := c.Case(t.Context(), id)
		if err != nil {
			t.Fatal(err)
		}
		var last term.TroubleAct
		for _, p := range timeline.Each[*timeline.Trouble](cs.Entries, id) {
			last = p.Act
		}
		if string(last) != x[0] {
			t.Errorf("recorded %q, want %q", last, x[0])
		}
	}
}
