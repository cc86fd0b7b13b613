package kit

import (
	"errors"
	"fmt"
	"maps"
	"reflect"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"chinlift/core/term"
)

// stopsOfAll is what no technique does without. It stands here again so that a
// stop that is lost from the shared file is missed.
var stopsOfAll = []string{"assistant", "oxygen", "self-inflating-bag", "suction", "oximeter", "laryngoscope", "vein", "table-tilts", "emergency-drugs"}

func builtin(t testing.TB) []*List {
	t.Helper()
	lists, err := Builtin()
	if err != nil {
		t.Fatal(err)
	}
	return lists
}

func TestBuiltin(t *testing.T) {
	lists := builtin(t)
	var codes []string
	for _, l := range lists {
		codes = append(codes, l.Code)
		if len(l.Version) != 64 || l.Name["en"] == "" || l.Part || l.Retired || len(l.Old) > 0 {
			t.Errorf("list %s: %+v", l.Code, l)
		}
	}
	if !slices.Equal(codes, order) {
		t.Errorf("lists %v, want %v", codes, order)
	}
}

func TestEveryTechniqueHasEveryStop(t *testing.T) {
	seen := map[term.Technique]bool{}
	for _, l := range builtin(t) {
		for _, tech := range l.For {
			if seen[tech] {
				t.Errorf("%s has two lists", tech)
			}
			seen[tech] = true
		}
		lacking, err := l.Lacking()
		if err != nil || len(lacking) > 0 {
			t.Errorf("list %s lacks %v (%v)", l.Code, lacking, err)
		}
		if len(l.For) == 0 {
			continue
		}
		for _, code := range stopsOfAll {
			if it := l.Find(code); it == nil || !it.Stop {
				t.Errorf("list %s has no stop %s", l.Code, code)
			}
		}
	}
	for _, tech := range []term.Technique{term.TechniqueOpenDrop, term.TechniqueDrawOverMask, term.TechniqueDrawOverTube, term.TechniqueKetamine, term.TechniqueSpinal} {
		if !seen[tech] {
			t.Errorf("no list is the check of %s", tech)
		}
	}
}

// An item that several lists have is the same in all of them.
func TestOneWording(t *testing.T) {
	first := map[string]Item{}
	for _, l := range builtin(t) {
		for _, it := range l.Items {
			if other, ok := first[it.Code]; ok && !reflect.DeepEqual(it, other) {
				t.Errorf("list %s: %s is %+v, elsewhere %+v", l.Code, it.Code, it, other)
			}
			first[it.Code] = it
		}
	}
}

// What the trade knows stands where it is looked for.
func TestBuiltinSays(t *testing.T) {
	for _, c := range []struct{ list, item, says string }{
		{"open-drop", "gauze", "ten or twelve"},
		{"open-drop", "face-cover", "8 by 10 inches"},
		{"open-drop", "face-cover", "4 inches"},
		{"open-drop", "airways", "5 inches"},
		{"open-drop", "airways", "safety pin"},
		{"open-drop", "airways", "greased"},
		{"open-drop", "agent", "known by its smell before use"},
		{"open-drop", "mouth-gag", "Swabs on a holder, more in a bowl"},
		{"open-drop", "face-cover", "Oil or ointment for the eyes"},
		{"open-drop", "no-spark", "Good:"},
		{"open-drop", "no-spark", "Not good:"},
		{"open-drop", "no-spark", "within 1 m"},
		{"draw-over", "phone", "higher than the mask and 1 m away"},
		{"draw-over", "phone", "No charger on it, vibration and torch off"},
		{"draw-over", "phone", "not rated for flammable vapour"},
	} {
		for _, l := range builtin(t) {
			if l.Code != c.list {
				continue
			}
			if it := l.Find(c.item); it == nil || !strings.Contains(it.Look["en"], c.says) {
				t.Errorf("list %s, %s does not say %q", c.list, c.item, c.says)
			}
		}
	}
	// Where ether may be, the phone and the fire are looked at for each case.
	for _, l := range For(builtin(t), term.TechniqueOpenDrop, term.TechniqueDrawOverTube) {
		for _, code := range []string{"no-spark", "phone"} {
			if it := l.Find(code); it == nil || it.Every != EachCase {
				t.Errorf("list %s: %s is not for each case", l.Code, code)
			}
		}
	}
}

func TestFor(t *testing.T) {
	codes := func(techniques ...term.Technique) string {
		var s []string
		for _, l := range For(builtin(t), techniques...) {
			s = append(s, l.Code)
		}
		return strings.Join(s, " ")
	}
	if got := codes(term.TechniqueSpinal, term.TechniqueDrawOverMask, term.TechniqueDrawOverTube); got != "draw-over spinal" {
		t.Errorf("got %q", got)
	}
	if got := codes(term.TechniqueInfiltration); got != "" {
		t.Errorf("got %q", got)
	}
}

const good = `for = ["ketamine"]
name.en = "A list"

[[item]]
code = "one"
source = "common practice, no source"
mark = "practice"
name.en = "One"
look.en = "Look at it."

[[item]]
code = "two"
stop = true
every = "daily"
between = true
source = "common practice, no source"
mark = "practice"
name.en = "Two"
look.en = "Look at it too."

[[item]]
code = "gone"
retired = true
source = "common practice, no source"
mark = "practice"
name.en = "Gone"
look.en = "Was looked at."
`

func TestParse(t *testing.T) {
	l, err := Parse("x", []byte(good))
	if err != nil {
		t.Fatal(err)
	}
	if l.Find("one") == nil || l.Find("three") != nil || l.Find("gone") != nil || l.Known("gone") == nil || l.Known("three") != nil {
		t.Error("Find or Known")
	}
	if l.Items[0].Every != EachCase || l.Items[0].Stop || l.Items[1].Every != Daily || !l.Items[1].Between || !l.Items[1].Stop {
		t.Errorf("items %+v", l.Items)
	}
	if got := l.Items[0].Name.In("fr-CD"); got != "One" {
		t.Errorf("a language without a text falls back to English: %q", got)
	}
	text := Text{"en": "one", "fr": "un", "pt-BR": "um"}
	for tag, want := range map[string]string{"fr-CD": "un", "pt-BR": "um", "pt": "one", "en": "one"} {
		if got := text.In(tag); got != want {
			t.Errorf("%s: %q, want %q", tag, got, want)
		}
	}
}

// The version is that of the content, not of the way it is written.
func TestVersion(t *testing.T) {
	version := func(s string) string {
		l, err := Parse("x", []byte(s))
		if err != nil {
			t.Fatal(err)
		}
		return l.Version
	}
	if version(good) != version("# a remark\n"+strings.Replace(good, `code = "one"`, `code="one"  # a remark`, 1)) {
		t.Error("a remark makes another version")
	}
	if version(good) == version(strings.Replace(good, "Look at it.", "Look at it!", 1)) {
		t.Error("another text is the same version")
	}
}

// Each fault is refused, with file, line and item.
func TestParseRefuses(t *testing.T) {
	long := strings.Repeat("x", maxText+1)
	for name, c := range map[string]struct{ from, to, want string }{
		"unknown key":           {`mark = "practice"`, "mark = \"practice\"\nstopp = true", `x.toml:8: key "item.stopp" is not known`},
		"unknown key at head":   {`name.en`, "nom = 1\nname.en", `x.toml:2: key "nom" is not known`},
		"another type":          {`stop = true`, `stop = "yes"`, `x.toml:13: item.stop: incompatible types`},
		"no source":             {`source = "common practice, no source"`, "", "x.toml:4: item one: has no source"},
		"no mark":               {`mark = "practice"`, "", `x.toml:4: item one: mark "" is not`},
		"other mark":            {`mark = "practice"`, `mark = "sure"`, `x.toml:7: item one: mark "sure" is not`},
		"other interval":        {`every = "daily"`, `every = "yearly"`, `x.toml:14: item two: every "yearly" is not`},
		"no English":            {`look.en`, `look.fr`, "x.toml:4: item one: look in English is missing"},
		"no English name":       {`name.en = "One"`, `name.fr = "Un"`, "x.toml:4: item one: name in English is missing"},
		"no language":           {`look.en = "Look at it."`, "look.en = \"Look at it.\"\nlook.\"f r\" = \"x\"", `x.toml:10: item one: look has "f r" for a language`},
		"empty text":            {`look.en = "Look at it."`, "look.en = \"Look at it.\"\nlook.fr = \"\"", `x.toml:10: item one: look in fr is empty`},
		"two lines":             {`"Look at it."`, `"Look\nat it."`, "x.toml:9: item one: look in en is not one plain line"},
		"space":                 {`"Look at it."`, `"Look at it. "`, "x.toml:9: item one: look in en begins or ends with space"},
		"long text":             {`"One"`, `"` + long + `"`, "x.toml:8: item one: name in en is longer than"},
		"source of two lines":   {`"common practice, no source"`, `"common\tpractice"`, "x.toml:6: item one: source is not one plain line"},
		"no name":               {`name.en = "A list"`, "", "x.toml: the name in English is missing"},
		"bad name":              {`name.en = "A list"`, `name.en = " A list"`, "x.toml:2: the name in en begins"},
		"bad code":              {`code = "one"`, `code = "One"`, `x.toml:5: item 1: code "One" is not`},
		"no code":               {`code = "two"`, ``, `x.toml:11: item 2: code "" is not`},
		"long code":             {`code = "one"`, `code = "` + long + `"`, "x.toml:5: item 1: code"},
		"no technique":          {`"ketamine"`, `"hypnosis"`, `x.toml:1: for: "hypnosis" is no technique`},
		"technique twice":       {`"ketamine"`, `"ketamine", "ketamine"`, `x.toml:1: for: "ketamine" stands twice`},
		"a part for something":  {`name.en = "A list"`, "part = true\nname.en = \"A list\"", "x.toml:1: for: a part is no list"},
		"not TOML":              {`[[item]]`, `[[item`, "x.toml:5: "},
		"key twice":             {`stop = true`, "stop = true\nstop = true", "x.toml:14: "},
		"no item at all":        {good[strings.Index(good, "[[item]]"):], "", "x.toml: there is no item"},
		"two with one code":     {`code = "two"`, `code = "one"`, "x.toml:12: item one: stands twice"},
		"code of a retired one": {`code = "gone"`, `code = "one"`, "x.toml:22: item one: stands twice"},
		"nothing to include":    {`code = "two"`, "include = \"nothing\"\n[[item]]\ncode = \"two\"", `x.toml:12: item 2: there is no "nothing" to include`},
		"include of a list":     {`code = "two"`, "include = \"spinal\"\n[[item]]\ncode = \"two\"", "x.toml:12: item 2: spinal is a list, not a part"},
		"include and more":      {`code = "two"`, "include = \"fire\"\ncode = \"two\"", "x.toml:12: item 2: include stands with other keys"},
		"included twice":        {`code = "two"`, "include = \"fire\"\n[[item]]\ninclude = \"fire\"\n[[item]]\ncode = \"two\"", "x.toml:14: item 3: includes no-spark, which stands twice then"},
		"too long":              {`name.en = "A list"`, "name.en = \"A list\"\n" + strings.Repeat("\n", maxLines), "x.toml: longer than"},
	} {
		t.Run(name, func(t *testing.T) {
			s := strings.Replace(good, c.from, c.to, 1)
			if s == good {
				t.Fatal("nothing was replaced")
			}
			_, err := Parse("x", []byte(s))
			var fe *FileError
			if !errors.As(err, &fe) || !strings.HasPrefix(err.Error(), c.want) {
				t.Errorf("got %v, want an error that begins %q", err, c.want)
			}
		})
	}
	part := strings.Replace(good, `for = ["ketamine"]`, "part = true", 1) + "[[item]]\ninclude = \"fire\"\n"
	if _, err := Parse("x", []byte(part)); err == nil || !strings.Contains(err.Error(), "x.toml:29: item 4: a part includes no other") {
		t.Errorf("a part that includes: %v", err)
	}
	if _, err := Parse("X", []byte(good)); err == nil || !strings.Contains(err.Error(), "X.toml: the file's name") {
		t.Errorf("a bad name of a file: %v", err)
	}
}

func TestWith(t *testing.T) {
	codes := func(own map[string][]byte) string {
		lists, err := With(own)
		if err != nil {
			t.Fatal(err)
		}
		var s []string
		for _, l := range lists {
			s = append(s, l.Code)
		}
		return strings.Join(s, " ")
	}
	if got, want := codes(nil), strings.Join(order, " "); got != want {
		t.Errorf("nothing laid over: %s", got)
	}
	got := codes(map[string][]byte{"ketamine.toml": []byte("retired = true\n"), "tooth.toml": []byte(good), "alarm.toml": []byte(good)})
	if want := "open-drop draw-over spinal recovery emergency-box monthly-stores alarm tooth"; got != want {
		t.Errorf("got %s, want %s", got, want)
	}
	lists, err := With(map[string][]byte{"open-drop.toml": []byte(good)})
	if err != nil || lists[0].Code != "open-drop" || len(lists[0].Items) != 2 {
		t.Fatalf("replaced: %+v, %v", lists[0], err)
	}
	if lacking, err := lists[0].Lacking(); err != nil || !slices.Equal(lacking, stopsOfAll) {
		t.Errorf("a list without stops lacks %v (%v)", lacking, err)
	}
	// A part of the clinic's own is in every list that includes it.
	part := "part = true\nname.en = \"Ours\"\n" + good[strings.Index(good, "[[item]]"):]
	lists, err = With(map[string][]byte{"fire.toml": []byte(part)})
	if err != nil {
		t.Fatal(err)
	}
	for _, l := range lists[:2] {
		if l.Find("two") == nil || l.Find("no-spark") != nil {
			t.Errorf("list %s has not the clinic's part", l.Code)
		}
	}
}

// A file at fault takes no list away.
func TestWithFault(t *testing.T) {
	for name, own := range map[string]map[string][]byte{
		"list":     {"spinal.toml": []byte("name.en = 5")},
		"part":     {"every-technique.toml": []byte("part = true\nname.en = \"x\"")},
		"no part":  {"every-technique.toml": []byte(good)},
		"retired":  {"every-technique.toml": []byte("retired = true")},
		"new":      {"tooth.toml": []byte("[[")},
		"ending":   {"tooth.txt": []byte(good)},
		"name":     {"To oth.toml": []byte(good)},
		"clashing": {"fire.toml": []byte("part = true\nname.en = \"x\"\n" + strings.Replace(good[strings.Index(good, "[[item]]"):], `"one"`, `"suction"`, 1))},
	} {
		t.Run(name, func(t *testing.T) {
			lists, err := With(own)
			var fe *FileError
			if !errors.As(err, &fe) {
				t.Errorf("the error is %v", err)
			}
			if want := builtin(t); !reflect.DeepEqual(lists, want) {
				t.Error("the built-in lists do not stand in")
			}
		})
	}
}

func texts() *rapid.Generator[Text] {
	line := rapid.StringMatching(`[\\"#=\[\]a-zé漢.,'☂]([\\"#=\[\] a-zé漢.,'☂]{0,20}[\\"#=\[\]a-zé漢.,'☂])?`)
	return rapid.Custom(func(t *rapid.T) Text {
		x := Text{"en": line.Draw(t, "en")}
		maps.Copy(x, rapid.MapOfN(rapid.SampledFrom([]string{"fr", "pt-BR", "sw", "zh-Hant"}), line, 0, 2).Draw(t, "other"))
		return x
	})
}

func someItem(code string) *rapid.Generator[Item] {
	return rapid.Custom(func(t *rapid.T) Item {
		return Item{
			Code: code, Stop: rapid.Bool().Draw(t, "stop"), Between: rapid.Bool().Draw(t, "between"),
			Every:  rapid.SampledFrom([]Every{EachCase, Daily, Monthly}).Draw(t, "every"),
			Source: texts().Draw(t, "source")["en"], Mark: rapid.SampledFrom(term.MarkList.Codes()).Draw(t, "mark"),
			Name: texts().Draw(t, "name"), Look: texts().Draw(t, "look"),
		}
	})
}

func someList() *rapid.Generator[*List] {
	return rapid.Custom(func(t *rapid.T) *List {
		l := &List{Code: "x", Name: texts().Draw(t, "name"), Part: rapid.Bool().Draw(t, "part"), Retired: rapid.Bool().Draw(t, "retired")}
		if !l.Part {
			for _, tech := range term.TechniqueList.Codes() {
				if rapid.Bool().Draw(t, string(tech)) {
					l.For = append(l.For, tech)
				}
			}
		}
		n := rapid.IntRange(1, 4).Draw(t, "items")
		for i := range n + rapid.IntRange(0, 2).Draw(t, "old") {
			it := someItem(fmt.Sprintf("item-%d", i)).Draw(t, "item")
			if i < n {
				l.Items = append(l.Items, it)
			} else {
				l.Old = append(l.Old, it)
			}
		}
		return l.seal()
	})
}

func TestCanonicalRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := someList().Draw(t, "list")
		got, err := Parse(l.Code, l.TOML())
		if err != nil {
			t.Fatalf("%s\n%v", l.TOML(), err)
		}
		if !reflect.DeepEqual(got, l) {
			t.Fatalf("%s\nreads back as %+v, was %+v", l.TOML(), got, l)
		}
	})
	for _, l := range builtin(t) {
		got, err := Parse(l.Code, l.TOML())
		if err != nil || !reflect.DeepEqual(got, l) {
			t.Errorf("list %s reads back otherwise (%v)", l.Code, err)
		}
	}
}

func TestEdit(t *testing.T) {
	l, err := Parse("x", []byte(good))
	if err != nil {
		t.Fatal(err)
	}
	before := string(l.TOML())
	codes := func(l *List) string {
		var s []string
		for _, it := range l.Items {
			s = append(s, it.Code)
		}
		for _, it := range l.Old {
			s = append(s, "("+it.Code+")")
		}
		return strings.Join(s, " ")
	}
	three := l.Items[0]
	three.Code = "three"
	gone := l.Old[0]
	longer := l.Items[1]
	longer.Look = Text{"en": "Look twice."}
	for name, c := range map[string]struct {
		do   func() (*List, error)
		want string
	}{
		"add":             {func() (*List, error) { return l.Add(three) }, "one two three (gone)"},
		"bring back":      {func() (*List, error) { return l.Add(gone) }, "one two gone"},
		"change":          {func() (*List, error) { return l.Change(longer) }, "one two (gone)"},
		"move down":       {func() (*List, error) { return l.Move("one", 1) }, "two one (gone)"},
		"move far":        {func() (*List, error) { return l.Move("one", 99) }, "two one (gone)"},
		"move up":         {func() (*List, error) { return l.Move("two", 0) }, "two one (gone)"},
		"leave where was": {func() (*List, error) { return l.Move("two", 1) }, "one two (gone)"},
		"retire":          {func() (*List, error) { return l.Retire("one") }, "two (gone) (one)"},
	} {
		n, err := c.do()
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if codes(n) != c.want {
			t.Errorf("%s: %s, want %s", name, codes(n), c.want)
		}
		if (n.Version == l.Version) != (name == "leave where was") {
			t.Errorf("%s: version %s, was %s", name, n.Version, l.Version)
		}
		if back, err := Parse("x", n.TOML()); err != nil || !reflect.DeepEqual(back, n) {
			t.Errorf("%s: reads back otherwise (%v)", name, err)
		}
	}
	if string(l.TOML()) != before || l.seal().TOML() == nil {
		t.Error("the list itself was changed")
	}
	hidden := l.Withdraw()
	lists, err := With(map[string][]byte{"spinal.toml": hidden.TOML()})
	if err != nil || slices.ContainsFunc(lists, func(l *List) bool { return l.Code == "spinal" }) {
		t.Errorf("a withdrawn list is offered (%v)", err)
	}
}

func TestEditRefuses(t *testing.T) {
	l, err := Parse("x", []byte(good))
	if err != nil {
		t.Fatal(err)
	}
	with := func(change func(*Item)) error {
		it := l.Items[0]
		it.Code = "three"
		change(&it)
		_, err := l.Add(it)
		return err
	}
	last, err := l.Retire("one")
	if err != nil {
		t.Fatal(err)
	}
	for name, c := range map[string]struct {
		err         error
		field, code string
	}{
		"add twice":         {second(l.Add(l.Items[0])), "item", Twice},
		"change of nothing": {second(l.Change(l.Old[0])), "item", NotInList},
		"move of nothing":   {second(l.Move("gone", 0)), "item", NotInList},
		"move to nowhere":   {second(l.Move("one", -1)), "place", TooLow},
		"retire of nothing": {second(l.Retire("gone")), "item", NotInList},
		"retire of last":    {second(last.Retire("two")), "item", LastItem},
		"bad code":          {with(func(it *Item) { it.Code = "A b" }), "code", NotReadable},
		"no name":           {with(func(it *Item) { it.Name = nil }), "name", Missing},
		"no look":           {with(func(it *Item) { it.Look = Text{"fr": "x"} }), "look", Missing},
		"two lines":         {with(func(it *Item) { it.Look = Text{"en": "a\nb"} }), "look", NotReadable},
		"no source":         {with(func(it *Item) { it.Source = "" }), "source", Missing},
		"no mark":           {with(func(it *Item) { it.Mark = "" }), "mark", Missing},
		"bad mark":          {with(func(it *Item) { it.Mark = "sure" }), "mark", NotReadable},
		"no interval":       {with(func(it *Item) { it.Every = "" }), "every", Missing},
		"bad interval":      {with(func(it *Item) { it.Every = "yearly" }), "every", NotReadable},
	} {
		var e *Error
		if !errors.As(c.err, &e) || e.Field != c.field || e.Code != c.code || e.Error() == "" {
			t.Errorf("%s: %v, want %s %s", name, c.err, c.field, c.code)
		}
	}
}

func second[T any](_ T, err error) error { return err }

// Edits of every kind leave a list that reads back, in which no item is lost.
func TestEditsKeepItems(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := someList().Draw(t, "list")
		known := func(l *List) int { return len(l.Items) + len(l.Old) }
		for i := range rapid.IntRange(1, 8).Draw(t, "edits") {
			code := fmt.Sprintf("item-%d", rapid.IntRange(0, 6).Draw(t, "which"))
			was := l.Known(code) != nil
			var n *List
			var err error
			what := rapid.IntRange(0, 3).Draw(t, "what")
			switch what {
			case 0:
				n, err = l.Add(someItem(code).Draw(t, "item"))
			case 1:
				n, err = l.Move(code, rapid.IntRange(0, 6).Draw(t, "to"))
			case 2:
				n, err = l.Retire(code)
			case 3:
				n, err = l.Change(someItem(code).Draw(t, "item"))
			}
			var e *Error
			if err != nil {
				if !errors.As(err, &e) {
					t.Fatalf("edit %d: %v", i, err)
				}
				continue
			}
			want := known(l)
			if what == 0 && !was {
				want++
			}
			if known(n) != want || n.Known(code) == nil {
				t.Fatalf("edit %d leaves %d items of %d", i, known(n), want)
			}
			if back, err := Parse("x", n.TOML()); err != nil || !reflect.DeepEqual(back, n) {
				t.Fatalf("edit %d: reads back otherwise (%v)", i, err)
			}
			l = n
		}
	})
}

func FuzzParse(f *testing.F) {
	f.Add([]byte(good))
	f.Add([]byte("[[item]]"))
	f.Add([]byte("retired = true"))
	f.Add([]byte("name.en = \"x\"\n[[item]]\ninclude = \"fire\""))
	f.Add([]byte("name.en = \"\"\"x\n\"\"\"\n[[item]]\nstop = 1"))
	f.Fuzz(func(t *testing.T, data []byte) {
		l, err := Parse("x", data)
		if err != nil {
			var fe *FileError
			if !errors.As(err, &fe) || fe.Fault == "" {
				t.Fatalf("%v is no error with a file", err)
			}
			return
		}
		if len(l.Items) == 0 && !l.Retired || l.Name["en"] == "" && !l.Retired {
			t.Error("accepted a list without items or name")
		}
		back, err := Parse("x", l.TOML())
		if err != nil || back.Version != l.Version {
			t.Errorf("%s\ndoes not read back: %v", l.TOML(), err)
		}
	})
}
