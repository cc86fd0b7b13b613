package core_test

import (
	"slices"
	"strings"
	"testing"

	"chinlift/core"
	"chinlift/core/timeline"
)

// A weight that was written down in pounds stands in doubt before every number
// that goes by it, until it is mended or somebody found it right; no number is
// refused.
func TestWeightFarFromAge(t *testing.T) {
	for _, x := range []struct {
		kg, years, text, pounds string
	}{
		{"52", "3", "52 kg at 3 y: was it in pounds? 23.6 kg", "23.6"}, // 52 lb are 23.587 kg
		{"100", "3", "100 kg at 3 y: is it right?", ""},                // 45.4 kg would be no better
		{"5", "6", "5 kg at 6 y: is it right?", ""},
		{"14", "3", "", ""}, {"52", "40", "", ""},
	} {
		c := openAt(t, t.TempDir(), newClock())
		id := planned(t, c, x.kg, x.years, "ketamine")
		d := tableOf(t, c, id).Doubt
		if x.text == "" {
			if d != nil {
				t.Errorf("%s kg at %s years is doubted: %s", x.kg, x.years, d.Text)
			}
			continue
		}
		if d == nil || d.Text != x.text || d.Kg != x.pounds {
			t.Errorf("%s kg at %s years: %+v", x.kg, x.years, d)
		}
	}

	c := openAt(t, t.TempDir(), newClock())
	id := planned(t, c, "52", "3", "ketamine")
	dose := func() core.DoseView { return doses(t, c, id, "ketamine", "induction-iv")[0] }
	stand := func(entry string) string {
		lines, err := c.Entries(t.Context(), id)
		if err != nil {
			t.Fatal(err)
		}
		i := slices.IndexFunc(lines, func(l core.Line) bool { return l.ID == entry })
		return lines[i].Stand
	}
	d := dose()
	if d.Doubt == nil || len(d.Keys) == 0 || slices.ContainsFunc(d.Keys, func(k core.DoseKey) bool { return k.Doubt != "52 kg?" }) {
		t.Fatalf("before the number: %+v, %+v", d.Doubt, d.Keys)
	}
	if s := stepOf(t, cardOf(t, c, id, "laryngospasm"), "paralyse"); len(s.Keys) == 0 || !strings.HasPrefix(s.Keys[0].Text, "52 kg? ") {
		t.Errorf("on the card: %+v", s.Keys)
	}
	v, err := c.Visit(t.Context(), id)
	if err != nil || len(v.Doses) == 0 || !strings.HasPrefix(v.Doses[0], "52 kg? ") {
		t.Errorf("on the visit: %v (%v)", v.Doses, err)
	}
	given := submit(t, c, id, d.Keys[0].Set[1], d.Keys[0].Set[2:]...).Lines[0].Event.ID
	if got := stand(given); !strings.Contains(got, "far from the age") {
		t.Errorf("recorded: %q", got)
	}

	// Looked at again: the doubt steps back, and the caution stays on the sheet.
	done := submit(t, c, id, "facts", "weight_checked", d.Doubt.Checked, "weight_checked_unit", d.Doubt.Unit)
	if f, ok := done.Lines[0].Payload.(*timeline.Facts); !ok || f.WeightChecked.String() != "52 kg" {
		t.Fatalf("stored: %+v", done.Lines[0].Payload)
	}
	d = dose()
	if d.Doubt != nil || d.Keys[0].Doubt != "" || tableOf(t, c, id).Doubt != nil || strings.Contains(stand(given), "far from") {
		t.Errorf("after the look: %+v, %q", d.Doubt, stand(given))
	}
	if all := strings.Join(d.Unsure, " "); !strings.Contains(all, "looked at 52 kg again") || !strings.Contains(all, "pounds") {
		t.Errorf("the sheet says: %s", all)
	}

	// It was a look at that weight and that age: another wants one of its own.
	submit(t, c, id, "facts", "age", "2", "age_unit", "a")
	if d = dose(); d.Doubt == nil || !strings.HasPrefix(d.Doubt.Text, "52 kg at 2 y") {
		t.Errorf("at another age: %+v", d.Doubt)
	}
	submit(t, c, id, "facts", "weight", "12", "weight_how", "measured", "weight_by", "scale")
	if d = dose(); d.Doubt != nil {
		t.Errorf("after the unit was mended: %+v", d.Doubt)
	}
}
