package visit

import (
	"slices"
	"strings"
	"testing"
)

func TestPauses(t *testing.T) {
	all, err := Pauses()
	if err != nil {
		t.Fatal(err)
	}
	// Nineteen checks: seven, seven and five (A. Gawande, The Checklist
	// Manifesto, 2009, p. 140, of the World Health Organization's list).
	// Before the first drop: what is looked at again.
	counts, codes := map[string]int{"before-induction": 7, "before-first-drop": 7, "before-knife": 7, "before-leaving": 5}, []string{}
	for _, p := range all {
		codes = append(codes, p.Code)
		if len(p.Items) != counts[p.Code] {
			t.Errorf("%s has %d items, want %d", p.Code, len(p.Items), counts[p.Code])
		}
		if len(p.Version) != 64 {
			t.Errorf("%s: version %q", p.Code, p.Version)
		}
		if !slices.ContainsFunc(p.Items, func(a Ask) bool { return a.Stop }) {
			t.Errorf("%s stops nothing", p.Code)
		}
	}
	if want := []string{"before-induction", "before-first-drop", "before-knife", "before-leaving"}; !slices.Equal(codes, want) {
		t.Errorf("pauses %v, want %v", codes, want)
	}
	for _, code := range []string{"food-and-drink", "side", "premedication", "mouth-and-nose", "equipment", "oximeter", "told"} {
		if all[1].Find(code) == nil {
			t.Errorf("%s is not looked at again", code)
		}
	}
	if all[0].Find("none") != nil {
		t.Error("found what is not there")
	}
}

const goodPause = `before = "knife-to-skin"
name.en = "A pause"
[[item]]
code = "one"
source = "common practice, no source"
mark = "practice"
name.en = "One"
ask.en = "Is it so?"
`

func TestParsePauseRefuses(t *testing.T) {
	for name, c := range map[string]struct{ from, to, want string }{
		"unknown key": {`mark =`, "stopp = true\nmark =", "not known"},
		"no source":   {`source = "common practice, no source"`, "", "no source"},
		"no mark":     {`mark = "practice"`, "", "mark"},
		"no question": {`ask.en`, `ask.fr`, "English"},
		"no item's":   {`name.en = "One"`, "", "English"},
		"no name":     {`name.en = "A pause"`, "", "name"},
		"no phase":    {`before = "knife-to-skin"`, "", "phase"},
		"bad phase":   {`"knife-to-skin"`, `"noon"`, "phase"},
		"bad code":    {`code = "one"`, `code = "One"`, "code"},
		"not TOML":    {`[[item]]`, `[[item`, "pause x"},
		"no item":     {goodPause[strings.Index(goodPause, "[[item]]"):], "", "no item"},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := ParsePause("x", []byte(strings.Replace(goodPause, c.from, c.to, 1)))
			if err == nil || !strings.Contains(err.Error(), c.want) {
				t.Errorf("got %v, want an error with %q", err, c.want)
			}
		})
	}
	if _, err := ParsePause("x", []byte(goodPause+goodPause[strings.Index(goodPause, "[[item]]"):])); err == nil || !strings.Contains(err.Error(), "twice") {
		t.Errorf("two items with one code: %v", err)
	}
	if _, err := ParsePause("x", []byte(goodPause)); err != nil {
		t.Error(err)
	}
}

func FuzzParsePause(f *testing.F) {
	f.Add([]byte(goodPause))
	f.Add([]byte("[[item]]"))
	f.Fuzz(func(t *testing.T, data []byte) {
		p, err := ParsePause("x", data)
		if err != nil {
			return
		}
		if len(p.Items) == 0 || p.Name["en"] == "" {
			t.Fatal("accepted a pause without items or name")
		}
		for _, it := range p.Items {
			if p.Find(it.Code) == nil || it.Source == "" {
				t.Fatalf("item %+v", it)
			}
		}
	})
}
