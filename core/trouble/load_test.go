package trouble

import (
	"errors"
	"strings"
	"testing"
)

const good = `trouble = "fire"
group = "things"
name.en = "Fire"
look.en = "Smoke."
caution.en = "Out first."

[source.practice]
title = "Common practice, no source"
mark = "practice"

[[step]]
code = "out"
source = "practice"
text.en = "Press {n}."
values = { n = "100 /min" }
every = "2 min"

  [[step.drug]]
  drug = "ketamine"
  use = "top-up-iv"
  routes = ["iv"]
`

func TestParse(t *testing.T) {
	c, err := Parse("fire", []byte(good))
	if err != nil {
		t.Fatal(err)
	}
	s := c.Steps[0]
	if c.Name.In("sw") != "Fire" || s.Drugs[0].Use != "top-up-iv" || s.Values["n"].String() != "100 /min" || s.Every.String() != "2 min" {
		t.Errorf("read %+v", c)
	}
}

func TestParseRefuses(t *testing.T) {
	for _, x := range []struct {
		name, old, new string
		line           int
		fault          string
	}{
		{"no TOML", "trouble =", "trouble", 1, "expected"},
		{"unknown key", "name.en", "title.en", 3, `key "title.en" is not known`},
		{"wrong type", `every = "2 min"`, "every = 2", 16, "incompatible types"},
		{"no trouble", `"fire"`, `"flood"`, 1, "is none"},
		{"no group", `"things"`, `"stuff"`, 2, "is none"},
		{"no name", `name.en = "Fire"`, "", 0, "name in English is missing"},
		{"number in look", "Smoke.", "Smoke of 3.", 4, "numbers stand beside a step"},
		{"no mark", `mark = "practice"`, `mark = "heard"`, 9, "mark"},
		{"no title", `title = "Common practice, no source"`, "", 9, "has no title"},
		{"source of nothing", "[[step]]", "[source.other]\ntitle = \"x\"\nmark = \"read\"\n\n[[step]]", 13, "is that of no step"},
		{"a source that nobody names", `source = "practice"`, `source = "hearsay"`, 9, "is that of no step"},
		{"unsourced", "  [[step.drug]]", "[[step]]\ncode = \"in\"\ntext.en = \"x\"\nsource = \"hearsay\"\n\n  [[step.drug]]", 21, `source "hearsay" is not in the file`},
		{"dose in a text", "Press {n}.", "Give 50 mg, {n}.", 14, "has a number"},
		{"dose in another language", `text.en = "Press {n}."`, "text.en = \"Press {n}.\"\ntext.fr = \"Donner 50 mg, {n}.\"", 15, "text in fr has a number"},
		{"place for nothing", "{n}", "{m}", 14, "for no value"},
		{"value for nothing", "Press {n}.", "Press.", 14, "has no place"},
		{"no amount", `"100 /min"`, `"a lot"`, 15, "is no amount"},
		{"every none", `"2 min"`, `"2 kg"`, 16, "every"},
		{"every too short", `"2 min"`, `"1 s"`, 16, "want 10 s to 24 h"},
		{"clock without every", `every = "2 min"`, "clock = true", 16, "clock without every"},
		{"hangs on nothing", `every = "2 min"`, `when = ["moon"]`, 16, "is nothing that a step hangs on"},
		{"hangs both ways", `every = "2 min"`, "when = [\"bag\"]\nunless = [\"bag\"]", 17, "both ways"},
		{"bad code", `code = "out"`, `code = "Out!"`, 12, "lower case"},
		{"no route", `routes = ["iv"]`, "routes = []", 0, "no route"},
		{"bad route", `["iv"]`, `["ear"]`, 0, `route "ear"`},
		{"age backwards", "group = \"things\"", "group = \"things\"\nage = [\"2 a\", \"1 a\"]", 3, "behind"},
		{"strict of nobody", "group = \"things\"", "group = \"things\"\nstrict = true", 3, "strict without an age"},
		{"age alone", "group = \"things\"", "group = \"things\"\nage = [\"2 a\"]", 3, "from and to"},
		{"most", `every = "2 min"`, "most = -1", 16, "most"},
		{"to", `every = "2 min"`, `to = "A B"`, 16, "no code of a card"},
		{"twice", "  [[step.drug]]", "[[step]]\ncode = \"out\"\nsource = \"practice\"\ntext.en = \"x\"\n\n  [[step.drug]]", 19, "stands twice"},
	} {
		text := strings.Replace(good, x.old, x.new, 1)
		if text == good {
			t.Fatalf("%s changes nothing", x.name)
		}
		_, err := Parse("fire", []byte(text))
		var fe *FileError
		if !errors.As(err, &fe) {
			t.Errorf("%s: %v", x.name, err)
			continue
		}
		if x.line > 0 && fe.Line != x.line || !strings.Contains(fe.Fault, x.fault) || fe.File != "fire.toml" {
			t.Errorf("%s: %v, want line %d and %q", x.name, err, x.line, x.fault)
		}
	}
	if _, err := Parse("Fire!", []byte(good)); err == nil {
		t.Error("a bad name is taken")
	}
	if _, err := Parse("fire", []byte(strings.Repeat("# x\n", maxLines+1))); err == nil {
		t.Error("a file without end is taken")
	}
}

func FuzzParse(f *testing.F) {
	f.Add([]byte(good))
	f.Add([]byte("trouble = \"fire\"\n[[step]]\n"))
	f.Add([]byte("name.en = \"\"\"x\n\"\"\"\n[[step]]\nmost = 1"))
	f.Add([]byte("age = [\"1 d\", \"2 d\"]\nvalues = { a = \"\" }"))
	f.Fuzz(func(t *testing.T, data []byte) {
		c, err := Parse("x", data)
		if err != nil {
			var fe *FileError
			if !errors.As(err, &fe) || fe.Fault == "" {
				t.Fatalf("%v is no error with a file", err)
			}
			return
		}
		if len(c.Steps) == 0 || c.Name["en"] == "" || c.Caution["en"] == "" {
			t.Error("a card without steps, name or caution is taken")
		}
		for _, s := range c.Steps {
			if c.Sources[s.Source].Title == "" || strings.ContainsAny(s.Text["en"], "0123456789") && len(s.Values) == 0 {
				t.Errorf("step %s is taken", s.Code)
			}
		}
	})
}
