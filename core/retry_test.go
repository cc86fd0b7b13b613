package core_test

import (
	"errors"
	"strings"
	"testing"

	"chinlift/core"
	"chinlift/core/timeline"
)

// A key records once. What it would record beside that, for another patient or
// with another value, is refused in words, and not answered as recorded.
func TestOneKeyRecordsOneThing(t *testing.T) {
	c := openAt(t, t.TempDir(), newClock())
	id, other := openCase(t, c, "Invented Person"), openCase(t, c, "Invented Other")
	f := form(id, "vitals", "systolic", "120", "diastolic", "80")
	for range 2 { // a retry
		if _, err := c.Submit(t.Context(), f); err != nil {
			t.Fatal(err)
		}
	}
	before := c.Stored()
	for name, change := range map[string]func(f *core.Form){
		"another case":  func(f *core.Form) { f.Case = other },
		"another value": func(f *core.Form) { f.Fields = form(id, "vitals", "systolic", "60", "diastolic", "40").Fields },
	} {
		g := f
		change(&g)
		d, err := c.Submit(t.Context(), g)
		var fe *timeline.FieldError
		if !errors.As(err, &fe) || fe.Field != "id" || len(d.Lines) > 0 || c.Stored() != before {
			t.Errorf("%s: answers %+v, %v", name, d, err)
			continue
		}
		if p := c.Explain(err); !strings.Contains(p.Words, "recorded something else already") {
			t.Errorf("%s: %+v", name, p)
		}
	}
}
