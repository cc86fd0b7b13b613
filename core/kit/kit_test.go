package kit

import (
	"strings"
	"testing"
)

func TestBuiltin(t *testing.T) {
	lists, err := Builtin()
	if err != nil {
		t.Fatal(err)
	}
	if len(lists) == 0 {
		t.Fatal("no list")
	}
	for _, l := range lists {
		stops := 0
		for _, it := range l.Items {
			if it.Stop {
				stops++
			}
		}
		// The WHO-WFSA standards of 2018 hold several things to be mandatory.
		if stops < 8 {
			t.Errorf("list %s has %d stops", l.Code, stops)
		}
		if len(l.Version) != 64 {
			t.Errorf("list %s: version %q", l.Code, l.Version)
		}
	}
}

const good = `name.en = "A list"
[[item]]
code = "one"
source = "common practice, no source"
mark = "practice"
name.en = "One"
look.en = "Look at it."
`

func TestParseRefuses(t *testing.T) {
	for name, c := range map[string]struct{ from, to, want string }{
		"unknown key":    {`mark =`, `stopp = true` + "\nmark =", "not known"},
		"no source":      {`source = "common practice, no source"`, "", "no source"},
		"no mark":        {`mark = "practice"`, "", "mark"},
		"no English":     {`look.en`, `look.fr`, "English"},
		"no name":        {`name.en = "A list"`, "", "name"},
		"bad code":       {`code = "one"`, `code = "One"`, "code"},
		"not TOML":       {`[[item]]`, `[[item`, "list x"},
		"no item at all": {good[strings.Index(good, "[[item]]"):], "", "no item"},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := Parse("x", []byte(strings.Replace(good, c.from, c.to, 1)))
			if err == nil || !strings.Contains(err.Error(), c.want) {
				t.Errorf("got %v, want an error with %q", err, c.want)
			}
		})
	}
	if _, err := Parse("x", []byte(good+good[strings.Index(good, "[[item]]"):])); err == nil || !strings.Contains(err.Error(), "twice") {
		t.Errorf("two items with one code: %v", err)
	}
	l, err := Parse("x", []byte(good))
	if err != nil {
		t.Fatal(err)
	}
	if l.Find("one") == nil || l.Find("two") != nil {
		t.Error("Find")
	}
	if got := l.Items[0].Name.In("fr-CD"); got != "One" {
		t.Errorf("a language without a text falls back to English: %q", got)
	}
}

func FuzzParse(f *testing.F) {
	f.Add([]byte(good))
	f.Add([]byte("[[item]]"))
	f.Fuzz(func(t *testing.T, data []byte) {
		if l, err := Parse("x", data); err == nil && (len(l.Items) == 0 || l.Name["en"] == "") {
			t.Error("accepted a list without items or name")
		}
	})
}
