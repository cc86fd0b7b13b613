package rulefile

import (
	"crypto/sha256"
	"fmt"
	"io/fs"
	"slices"
	"strings"
	"testing"
	"testing/fstest"
	"unicode/utf8"

	"pgregory.net/rapid"
)

// menu is what the tests read.
type menu struct {
	Name   Text   `toml:"name"`
	Dishes []dish `toml:"dish"`
}

type dish struct {
	Code string `toml:"code"`
	Hot  bool   `toml:"hot"`
}

const good = `name.en = "Lunch"
name.fr = """
Midi"""

[[dish]]
code = "soup"
hot = true

[[dish]]
code = "bread"
`

var enough = Limits{Bytes: 1000, Lines: 20}

func TestRead(t *testing.T) {
	f, m, fault := Read[menu]("lunch", []byte(good), enough)
	if fault != nil {
		t.Fatal(fault)
	}
	if f.Name != "lunch.toml" || m.Name["fr"] != "Midi" || len(m.Dishes) != 2 || !m.Dishes[0].Hot || m.Dishes[1].Code != "bread" {
		t.Errorf("%s: %+v", f.Name, m)
	}
}

func TestReadRefuses(t *testing.T) {
	for _, c := range []struct{ name, code, from, to, want string }{
		{"a name that is no code", "Lunch", "", "", "Lunch.toml: the file's name is not lower case letters, digits and hyphens"},
		{"too many lines", "lunch", "\n\n", strings.Repeat("\n", 21), "lunch.toml: longer than 1000 bytes or 20 lines"},
		{"too many bytes", "lunch", "soup", strings.Repeat("soup", 250), "lunch.toml: longer than 1000 bytes or 20 lines"},
		{"no TOML", "lunch", "hot = true", "hot = yes", "lunch.toml:7: expected value but found \"yes\" instead"},
		{"an unknown key", "lunch", "[[dish]]\ncode = \"bread\"", "[[dish]]\nprice = 3\ncode = \"bread\"", `lunch.toml:10: key "dish.price" is not known`},
		// The same key stands above, where it is right.
		{"another type", "lunch", `code = "bread"`, "code = \"bread\"\nhot = 1", "lunch.toml:11: dish.hot: incompatible types: TOML value has type int64; destination has type boolean"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, m, fault := Read[menu](c.code, []byte(strings.Replace(good, c.from, c.to, 1)), enough)
			if fault == nil || fault.String() != c.want || m != nil {
				t.Errorf("got %v, %v\nwant %s", m, fault, c.want)
			}
		})
	}
}

func TestLine(t *testing.T) {
	f, _, fault := Read[menu]("lunch", []byte(good), enough)
	if fault != nil {
		t.Fatal(fault)
	}
	for _, c := range []struct {
		what string
		has  func(*menu) bool
		want int
	}{
		{"anything", func(*menu) bool { return true }, 1},
		{"a text over several lines, at its end", func(m *menu) bool { return m.Name["fr"] != "" }, 3},
		{"a table", func(m *menu) bool { return len(m.Dishes) == 2 }, 9},
		{"a key of one", func(m *menu) bool { return len(m.Dishes) == 2 && m.Dishes[1].Code == "bread" }, 10},
		{"what is nowhere", func(m *menu) bool { return len(m.Dishes) == 3 }, 0},
	} {
		if got := f.Line(c.has); got != c.want {
			t.Errorf("%s: line %d, want %d", c.what, got, c.want)
		}
	}
}

func TestFaultString(t *testing.T) {
	for _, c := range []struct {
		fault Fault
		want  string
	}{
		{Fault{File: "a.toml", Fault: "is empty"}, "a.toml: is empty"},
		{Fault{File: "a.toml", Line: 3, Fault: "is empty"}, "a.toml:3: is empty"},
		{Fault{File: "a.toml", Line: 3, Within: "item x", Fault: "is empty"}, "a.toml:3: item x: is empty"},
	} {
		if got := c.fault.String(); got != c.want {
			t.Errorf("%q, want %q", got, c.want)
		}
	}
}

func TestDecode(t *testing.T) {
	var m menu
	if err := Decode([]byte(good), &m); err != nil || m.Name["en"] != "Lunch" {
		t.Errorf("%+v, %v", m, err)
	}
	if err := Decode([]byte("name.en = \"x\"\nprice = 1"), &m); err == nil || err.Error() != `key "price" is not known` {
		t.Errorf("an unknown key: %v", err)
	}
}

func TestVersion(t *testing.T) {
	// FIPS 180-4, the digest of "abc".
	const abc = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
	if got := Version([]byte("abc")); got != abc {
		t.Errorf("%s, want %s", got, abc)
	}
	if got, want := Version(nil), fmt.Sprintf("%x", sha256.Sum256(nil)); got != want {
		t.Errorf("of nothing: %s, want %s", got, want)
	}
}

func TestFolder(t *testing.T) {
	files := fstest.MapFS{"menus/lunch.toml": {Data: []byte("noon")}, "menus/dinner.toml": {Data: []byte("night")}}
	read := func(code string, data []byte) (*string, error) {
		s := code + " at " + string(data)
		return &s, nil
	}
	all, err := Folder(files, "menus", read)
	if err != nil || len(all) != 2 || *all[0] != "dinner at night" || *all[1] != "lunch at noon" {
		t.Errorf("%v, %v", all, err)
	}
	if _, err := Folder(files, "cards", read); err == nil {
		t.Error("a folder that is not there is read")
	}
	refuse := func(code string, _ []byte) (*string, error) { return nil, fmt.Errorf("%s: %w", code, fs.ErrInvalid) }
	if all, err := Folder(files, "menus", refuse); err == nil || err.Error() != "dinner: invalid argument" || all != nil {
		t.Errorf("the first that is refused: %v, %v", all, err)
	}
}

func TestTextIn(t *testing.T) {
	text := Text{"en": "bread", "fr": "pain", "pt-BR": "pão"}
	for tag, want := range map[string]string{"en": "bread", "fr": "pain", "fr-CD": "pain", "pt-BR": "pão", "pt": "bread", "sw": "bread", "": "bread"} {
		if got := text.In(tag); got != want {
			t.Errorf("in %q: %q, want %q", tag, got, want)
		}
	}
}

func TestTextBad(t *testing.T) {
	for _, c := range []struct {
		text Text
		want string
	}{
		{nil, ""},
		{Text{"en": "bread", "zh-Hant": "麵包"}, ""},
		{Text{"e n": "bread"}, `has "e n" for a language`},
		{Text{"": "bread"}, `has "" for a language`},
		{Text{"en": "bread", "fr": ""}, "in fr is empty"},
		{Text{"en": " bread"}, "in en begins or ends with space"},
		{Text{"en": "bre\tad"}, "in en is not one plain line"},
		{Text{"en": "bre\xffad"}, "in en is not one plain line"},
		{Text{"en": "bread and salt"}, "in en is longer than 8 characters"},
		{Text{"en": "Brötchen"}, ""}, // characters are counted, not bytes
	} {
		if got := c.text.Bad(8); got != c.want {
			t.Errorf("%q: %q, want %q", c.text, got, c.want)
		}
	}
}

func TestCodeOK(t *testing.T) {
	for s, want := range map[string]bool{
		"a": true, "every-technique": true, "0-9": true, strings.Repeat("a", 60): true,
		"": false, "A": false, "a b": false, "a_b": false, "é": false, "a.toml": false, "../a": false, strings.Repeat("a", 61): false,
	} {
		if CodeOK(s) != want {
			t.Errorf("%q: %t", s, !want)
		}
	}
}

// What is added to the end of a file moves nothing that stands before.
func TestLineStays(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		codes := rapid.SliceOfN(rapid.StringMatching(`[a-z]{1,8}`), 1, 6).Draw(t, "codes")
		blank := rapid.SliceOfN(rapid.IntRange(0, 3), len(codes), len(codes)).Draw(t, "blank lines")
		var b strings.Builder
		at := make([]int, len(codes))
		for i, code := range codes {
			b.WriteString(strings.Repeat("\n", blank[i]) + "[[dish]]\n# on the table\ncode = \"" + code + "\"\n")
			at[i] = strings.Count(b.String(), "\n")
		}
		f, m, fault := Read[menu]("x", []byte(b.String()), Limits{1000, 100})
		if fault != nil {
			t.Fatal(fault)
		}
		if !slices.EqualFunc(m.Dishes, codes, func(d dish, code string) bool { return d.Code == code }) {
			t.Fatalf("%v, want %v", m.Dishes, codes)
		}
		for i, code := range codes {
			if got := f.Line(func(m *menu) bool { return len(m.Dishes) > i && m.Dishes[i].Code == code }); got != at[i] {
				t.Errorf("dish %d stands in line %d, found in %d", i, at[i], got)
			}
		}
	})
}

func FuzzRead(f *testing.F) {
	f.Add("lunch", []byte(good))
	f.Add("lunch", []byte("[[dish]]\nhot = 1"))
	f.Add("lunch", []byte("name.en = \"\"\"x\n\"\"\"\n[[dish]]\nprice = 1"))
	f.Add("", []byte("[["))
	f.Add("lunch", []byte("name.en = \"\xff\""))
	f.Fuzz(func(t *testing.T, code string, data []byte) {
		file, m, fault := Read[menu](code, data, enough)
		if fault == nil {
			if !CodeOK(code) || len(data) > enough.Bytes {
				t.Error("a file beyond its limits is taken")
			}
			if !utf8.Valid(data) {
				t.Error("a file that is no UTF-8 is taken")
			}
			// The whole of a file is one of its beginnings.
			want := len(m.Dishes)
			if n := file.Line(func(m *menu) bool { return len(m.Dishes) == want }); n == 0 && len(strings.TrimSpace(string(data))) > 0 {
				t.Error("no line has what the file has")
			}
			return
		}
		if m != nil || fault.File != code+".toml" || fault.Fault == "" || fault.Line < 0 || fault.Line > strings.Count(string(data), "\n")+1 {
			t.Errorf("%+v, %+v", m, fault)
		}
	})
}
