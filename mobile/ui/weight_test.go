package ui

import (
	"regexp"
	"strings"
	"testing"
)

// farAtThree opens the case of a child of three years with a weight in pounds.
func farAtThree(t testing.TB, u *UI) string {
	t.Helper()
	a := tap(t, u, "/case/new", "do", "open", "name", "Invented Child", "age", "3", "age_unit", "a")
	id := strings.Split(a.Go, "/")[1]
	tap(t, u, "/case/"+id+"/visit/weight", "kind", "facts", "weight", "52", "weight_how", "measured", "weight_by", "scale")
	tap(t, u, "/case/"+id+"/visit/plan", "kind", "plan", "techniques", "open-drop", "agent", "ether", "drugs", "ketamine", "drugs", "atropine", "start_in", "+45")
	return id
}

// weightPages are where a dose is shown or given, or what it is given by.
var weightPages = []string{"doses", "table", "table/drug", "table/drug/ketamine", "table/drug/ketamine/induction-iv", "table/drug/atropine/premedication-im", "trouble/laryngospasm", "visit/weight", "start"}

// On every page that shows a dose by weight, or gives one, the doubt leads to the
// weight before the first number; once somebody looked it is on none.
func TestWeightDoubtOnScreens(t *testing.T) {
	u, _, _ := newUI(t)
	id := farAtThree(t, u)
	number := regexp.MustCompile(`data-set="[^"]*&#34;dose&#34;`)
	for _, p := range weightPages {
		html := body(t, u, "/case/"+id+"/"+p)
		at := strings.Index(html, "was it in pounds? 23.6 kg")
		if at < 0 {
			t.Errorf("%s does not doubt the weight", p)
			continue
		}
		if p != "visit/weight" && !strings.Contains(html, `href="case/`+id+`/visit/weight"`) {
			t.Errorf("%s does not lead to the weight", p)
		}
		if first := number.FindStringIndex(html); first != nil && first[0] < at {
			t.Errorf("%s gives a number before its doubt", p)
		}
	}
	for _, key := range regexp.MustCompile(`(?s)<button[^>]*data-key="(dose|less|more)-[^>]*>.*?</button>`).FindAllString(body(t, u, "/case/"+id+"/table/drug/ketamine"), -1) {
		if !strings.Contains(key, `<em class="over">52 kg?</em><b>`) || strings.Contains(key, `class="key act"`) {
			t.Errorf("a key without its doubt: %s", key)
		}
	}
	// One tap says that it was looked at; the tray stays, and brings itself up to date.
	a := u.Send(t.Context(), sendFrom(t, u, "/case/"+id+"/table/drug/ketamine", "kind", "facts", "weight_checked", "52", "weight_checked_unit", "kg"))
	if a.Problem != nil || a.Go != "" || a.Close || len(a.Patches) == 0 {
		t.Errorf("looked at again: %+v %+v", a, a.Problem)
	}
	for _, p := range weightPages {
		if html := body(t, u, "/case/"+id+"/"+p); strings.Contains(html, "52 kg?") || strings.Contains(html, "was it in pounds? 23.6") {
			t.Errorf("%s doubts still", p)
		}
	}
}
