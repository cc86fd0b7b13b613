package word

import (
	"slices"
	"strings"
	"sync"
	"testing"

	"pgregory.net/rapid"
)

// The English of the tests: one text of each sort.
const englishTOML = `
[language]
name = "English"
decimal = "."

[due]
in = "due in {n} min"

[kit]
lead = "{item}: {n} of {total}"

[kit.ampoule]
one = "one ampoule of {drug}"
other = "{n} ampoules of {drug}"

[term.route]
mouth = "mouth"
other = "other"
`

func mustParse(t testing.TB, tag, toml string, base *Book) *Book {
	t.Helper()
	b, err := Parse(tag, []byte(toml), base)
	if err != nil {
		t.Fatalf("Parse(%q): %v", tag, err)
	}
	return b
}

func wantMissing(t *testing.T, b *Book, want ...string) {
	t.Helper()
	if got := b.Missing(); !slices.Equal(got, want) {
		t.Errorf("Missing() = %q, want %q", got, want)
	}
}

func TestSay(t *testing.T) {
	b := mustParse(t, "en", englishTOML, nil)
	tests := []struct {
		key  string
		args []any
		want string
	}{
		{"due.in", []any{"n", 5}, "due in 5 min"},
		{"due.in", []any{"n", "5 to 7"}, "due in 5 to 7 min"},
		{"term.route.mouth", nil, "mouth"},
		{"kit.lead", []any{"total", 10, "n", 3, "item", "{n}"}, "{n}: 3 of 10"}, // a value is not filled again
	}
	for _, tt := range tests {
		if got := b.Say(tt.key, tt.args...); got != tt.want {
			t.Errorf("Say(%q, %v) = %q, want %q", tt.key, tt.args, got, tt.want)
		}
	}
	wantMissing(t, b)
}

func TestSayShowsAndRemembersFaults(t *testing.T) {
	tests := []struct {
		name    string
		key     string
		args    []any
		want    string
		missing string
	}{
		{"unknown key", "due.at", nil, "[due.at]", "due.at"},
		{"argument not given", "due.in", nil, "due in {n} min", "due.in: {n} is not given"},
		{"argument not in the text", "term.route.mouth", []any{"n", 1}, "mouth", "term.route.mouth: {n} is given but not in the text"},
		{"name without value", "term.route.mouth", []any{"n"}, "mouth", "term.route.mouth: arguments are not pairs of a name and a value: [n]"},
		{"name that is no string", "term.route.mouth", []any{1, 2}, "mouth", "term.route.mouth: arguments are not pairs of a name and a value: [1 2]"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			b := mustParse(t, "en", englishTOML, nil)
			for range 2 { // said twice, remembered once
				if got := b.Say(tt.key, tt.args...); got != tt.want {
					t.Errorf("Say = %q, want %q", got, tt.want)
				}
			}
			wantMissing(t, b, tt.missing)
		})
	}
}

func TestCountFaults(t *testing.T) {
	b := mustParse(t, "en", englishTOML, nil)
	if got, want := b.Count("kit.syringe", 2), "[kit.syringe]"; got != want {
		t.Errorf("Count = %q, want %q", got, want)
	}
	if got, want := b.Count("kit.ampoule", 1), "one ampoule of {drug}"; got != want {
		t.Errorf("Count = %q, want %q", got, want)
	}
	wantMissing(t, b, "kit.ampoule: {drug} is not given", "kit.syringe.other")
}

// What each planned language counts as one: Unicode CLDR, "Language Plural
// Rules", cardinal: fr and pt "i = 0,1", es "n = 1", sw and en "i = 1 and
// v = 0".
func TestCountByLanguage(t *testing.T) {
	en := mustParse(t, "en", englishTOML, nil)
	catalogue := func(name, decimal, one, other string) string {
		return `
[language]
name = "` + name + `"
decimal = "` + decimal + `"
incomplete = true
[kit.ampoule]
one = "` + one + ` {drug}"
other = "` + other + ` {drug}"
`
	}
	books := map[string]*Book{
		"en": en,
		"fr": mustParse(t, "fr", catalogue("Français", ",", "{n} ampoule :", "{n} ampoules :"), en),
		"pt": mustParse(t, "pt", catalogue("Português", ",", "{n} ampola:", "{n} ampolas:"), en),
		"es": mustParse(t, "es", catalogue("Español", ",", "una ampolla:", "{n} ampollas:"), en),
		"sw": mustParse(t, "sw", catalogue("Kiswahili", ".", "ampuli moja:", "ampuli {n}:"), en),
	}
	tests := []struct {
		tag  string
		n    int
		want string
	}{
		{"en", 0, "0 ampoules of x"},
		{"en", 1, "one ampoule of x"},
		{"en", -1, "one ampoule of x"},
		{"en", 2, "2 ampoules of x"},
		{"en", 10_000_001, "10000001 ampoules of x"},
		{"fr", 0, "0 ampoule : x"},
		{"fr", 1, "1 ampoule : x"},
		{"fr", 2, "2 ampoules : x"},
		{"pt", 0, "0 ampola: x"},
		{"pt", 1, "1 ampola: x"},
		{"pt", 2, "2 ampolas: x"},
		{"es", 0, "0 ampollas: x"},
		{"es", 1, "una ampolla: x"},
		{"es", 2, "2 ampollas: x"},
		{"sw", 0, "ampuli 0: x"},
		{"sw", 1, "ampuli moja: x"},
		{"sw", 2, "ampuli 2: x"},
	}
	for _, tt := range tests {
		b := books[tt.tag]
		if got := b.Count("kit.ampoule", tt.n, "drug", "x"); got != tt.want {
			t.Errorf("%s: Count(%d) = %q, want %q", tt.tag, tt.n, got, tt.want)
		}
	}
	for _, b := range books {
		wantMissing(t, b)
	}
}

func TestEnglishStandsInOnlyWhereAllowed(t *testing.T) {
	en := mustParse(t, "en", englishTOML, nil)
	head := "[language]\nname = \"Français\"\ndecimal = \",\"\n"
	body := "[due]\nin = \"dans {n} min\"\n"

	fr := mustParse(t, "fr", head+"incomplete = true\n"+body, en)
	if got, want := fr.Say("due.in", "n", 5), "dans 5 min"; got != want {
		t.Errorf("Say = %q, want %q", got, want)
	}
	if got, want := fr.Say("term.route.mouth"), "mouth"; got != want {
		t.Errorf("Say = %q, want %q", got, want)
	}
	// English texts are counted by the rules of English: 0 is not one.
	if got, want := fr.Count("kit.ampoule", 0, "drug", "x"), "0 ampoules of x"; got != want {
		t.Errorf("Count = %q, want %q", got, want)
	}
	if got, want := fr.Incomplete(), []string{"kit.ampoule.one", "kit.ampoule.other", "kit.lead", "term.route.mouth", "term.route.other"}; !slices.Equal(got, want) {
		t.Errorf("Incomplete() = %q, want %q", got, want)
	}
	if got, want := fr.Keys(), en.Keys(); !slices.Equal(got, want) {
		t.Errorf("Keys() = %q, want %q", got, want)
	}
	wantMissing(t, fr)
	wantMissing(t, en)

	_, err := Parse("fr", []byte(head+body), en)
	if err == nil || !strings.Contains(err.Error(), "fr.toml: term.route.mouth: is missing") {
		t.Errorf("Parse of an incomplete catalogue that does not say so: %v", err)
	}
	if en.Incomplete() != nil {
		t.Errorf("English is incomplete: %q", en.Incomplete())
	}
}

func TestParseRefuses(t *testing.T) {
	en := mustParse(t, "en", englishTOML, nil)
	const frHead = "[language]\nname = \"Français\"\ndecimal = \",\"\nincomplete = true\n"
	const enHead = "[language]\nname = \"English\"\ndecimal = \".\"\n"
	tests := []struct {
		name string
		tag  string
		toml string
		base *Book
		want string // a part of the error
	}{
		{"no tag", "", enHead, nil, `"" is not a language tag`},
		{"not TOML", "en", "[language", nil, "en.toml: toml"},
		{"no head", "en", "[due]\nin = \"x\"", nil, "en.toml: language: the table is missing"},
		{"head is a text", "en", "language = \"x\"", nil, "language: the table is missing"},
		{"no name", "en", "[language]\ndecimal = \".\"", nil, "language.name: is missing"},
		{"blank name", "en", "[language]\nname = \" \"\ndecimal = \".\"", nil, `language.name: cannot be " "`},
		{"no decimal mark", "en", "[language]\nname = \"x\"", nil, "language.decimal: is missing"},
		{"another decimal mark", "en", "[language]\nname = \"x\"\ndecimal = \"·\"", nil, `language.decimal: cannot be "·"`},
		{"unknown entry in the head", "en", enHead + "colour = \"x\"", nil, "language.colour: is not known here"},
		{"incomplete is a text", "fr", "[language]\nname = \"x\"\ndecimal = \".\"\nincomplete = \"yes\"", en, `language.incomplete: cannot be "yes"`},
		{"English says incomplete", "en", enHead + "incomplete = true", nil, "language.incomplete: there is no other"},
		{"text outside a table", "en", "due = \"x\"\n" + enHead, nil, "en.toml: due: stands outside a table"},
		{"number", "en", enHead + "[due]\nin = 5", nil, "due.in: is neither a text nor a table"},
		{"list", "en", enHead + "[due]\nin = [\"x\"]", nil, "due.in: is neither a text nor a table"},
		{"empty", "en", enHead + "[due]\nin = \"\"", nil, "due.in: the text is empty"},
		{"blank", "en", enHead + "[due]\nin = \" \\n\"", nil, "due.in: the text is empty"},
		{"duplicate key", "en", enHead + "[due]\nin = \"x\"\nin = \"y\"", nil, "en.toml: toml: line 6"},
		{"duplicate table", "en", enHead + "[due]\nin = \"x\"\n[due]\nat = \"y\"", nil, "en.toml: toml: line 6"},
		{"key with a point in it", "en", enHead + "[due]\n\"in.min\" = \"x\"", nil, "due.in.min: a key is made of"},
		{"table with a space in it", "en", enHead + "[\"due in\"]\nmin = \"x\"", nil, "due in: a key is made of"},
		{"open brace", "en", enHead + "[due]\nin = \"in {n min\"", nil, "due.in: an opening brace"},
		{"closing brace", "en", enHead + "[due]\nin = \"in n} min\"", nil, "due.in: a closing brace"},
		{"empty placeholder", "en", enHead + "[due]\nin = \"in {} min\"", nil, "due.in: an opening brace"},
		{"double brace", "en", enHead + "[due]\nin = \"in {{n}} min\"", nil, "due.in: an opening brace"},
		{"forms of a pair differ", "en", enHead + "[kit]\none = \"one\"\nother = \"{n} of {drug}\"", nil, "kit.one: has the placeholders none, but kit.other has {drug}, {n}"},
		{"other form without the number", "en", enHead + "[kit]\none = \"one\"\nother = \"many\"", nil, "kit.other: lacks {n}"},
		{"unknown key", "fr", frHead + "[due]\nat = \"x\"", en, "fr.toml: due.at: the English catalogue has no such key"},
		{"placeholder lost", "fr", frHead + "[due]\nin = \"bientôt\"", en, "fr.toml: due.in: has the placeholders none, but English has {n}"},
		{"placeholder renamed", "fr", frHead + "[kit]\nlead = \"{item} : {nombre} sur {total}\"", en, "kit.lead: has the placeholders {item}, {nombre}, {total}"},
		{"one form of two", "fr", frHead + "[kit.ampoule]\nother = \"{n} ampoules de {drug}\"", en, "kit.ampoule: needs both forms"},
		{"no figure where one form serves two numbers", "fr", frHead + "[kit.ampoule]\none = \"une ampoule de {drug}\"\nother = \"{n} ampoules de {drug}\"", en, "kit.ampoule.one: lacks {n}"},
		{"other form of a pair without a placeholder", "fr", frHead + "[kit.ampoule]\none = \"{n} ampoule\"\nother = \"{n} ampoules\"", en, "kit.ampoule.other: has the placeholders {n}, but English has {drug}, {n}"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			_, err := Parse(tt.tag, []byte(tt.toml), tt.base)
			if err == nil {
				t.Fatal("Parse accepts it")
			}
			if !strings.Contains(err.Error(), tt.want) {
				t.Errorf("error %q does not say %q", err, tt.want)
			}
		})
	}
}

func TestParseReportsEveryFaultInOrder(t *testing.T) {
	const toml = "[language]\nname = \"x\"\ndecimal = \".\"\n[b]\nx = \"\"\n[a]\ny = 1\nx = \"}\""
	_, err := Parse("en", []byte(toml), nil)
	if err == nil {
		t.Fatal("Parse accepts it")
	}
	want := `word: en.toml: a.x: a closing brace without a placeholder in "}"
word: en.toml: a.y: is neither a text nor a table
word: en.toml: b.x: the text is empty`
	if err.Error() != want {
		t.Errorf("error\n%v\nwant\n%s", err, want)
	}
}

func TestNumber(t *testing.T) {
	en := mustParse(t, "en", englishTOML, nil)
	fr := mustParse(t, "fr", "[language]\nname = \"Français\"\ndecimal = \",\"\nincomplete = true", en)
	if en.DecimalComma() || !fr.DecimalComma() {
		t.Fatalf("DecimalComma: en %v, fr %v", en.DecimalComma(), fr.DecimalComma())
	}
	tests := []struct{ s, fr string }{
		{"", ""},
		{"36.6", "36,6"},
		{"-0.5", "-0,5"},
		{"100", "100"},
		{"36.6 °C", "36,6 °C"},
		{"0.5–1.25 mg/kg", "0,5–1,25 mg/kg"},
		{"1.2.3", "1.2.3"}, // no decimal number
		{".5", ".5"},
		{"5.", "5."},
		{"...", "..."},
		{"5 mg. 2.5 mg", "5 mg. 2,5 mg"},
	}
	for _, tt := range tests {
		if got := fr.Number(tt.s); got != tt.fr {
			t.Errorf("fr: Number(%q) = %q, want %q", tt.s, got, tt.fr)
		}
		if got := en.Number(tt.s); got != tt.s {
			t.Errorf("en: Number(%q) = %q", tt.s, got)
		}
	}
}

// A comma for a point is all that Number ever changes.
func TestNumberChangesOnlyThePoint(t *testing.T) {
	en := mustParse(t, "en", englishTOML, nil)
	fr := mustParse(t, "fr", "[language]\nname = \"Français\"\ndecimal = \",\"\nincomplete = true", en)
	rapid.Check(t, func(t *rapid.T) {
		s := rapid.StringMatching(`[0-9. a-zé,-]*`).Draw(t, "s")
		got := fr.Number(s)
		if len(got) != len(s) {
			t.Fatalf("Number(%q) = %q", s, got)
		}
		for i := range len(s) {
			if got[i] != s[i] && (s[i] != '.' || got[i] != ',') {
				t.Fatalf("Number(%q) = %q", s, got)
			}
		}
	})
}

func TestOpen(t *testing.T) {
	for _, tt := range []struct{ tag, want string }{
		{"en", "en"},
		{"en-GB", "en"},
		{"en_TZ", "en"},
		{"xh", "en"}, // no catalogue for it
	} {
		b, err := Open(tt.tag)
		if err != nil {
			t.Fatalf("Open(%q): %v", tt.tag, err)
		}
		if b.Tag() != tt.want {
			t.Errorf("Open(%q).Tag() = %q, want %q", tt.tag, b.Tag(), tt.want)
		}
	}
	if _, err := Open("not a tag"); err == nil {
		t.Error("Open accepts what is not a tag")
	}
}

// Each catalogue that is built in can be read, and says which it is.
func TestEveryCatalogueOpens(t *testing.T) {
	tags := Tags()
	if !slices.Contains(tags, "en") {
		t.Fatalf("Tags() = %q, without English", tags)
	}
	for _, tag := range tags {
		b, err := Open(tag)
		if err != nil {
			t.Error(err)
			continue
		}
		if b.Tag() != tag || b.Name() == "" {
			t.Errorf("catalogue %q calls itself %q, %q", tag, b.Tag(), b.Name())
		}
	}
	if first, second := English(), English(); first != second {
		t.Error("English is not shared")
	}
}

func TestPlaceholders(t *testing.T) {
	b := mustParse(t, "en", englishTOML, nil)
	if got, want := b.Placeholders("kit.lead"), []string{"item", "n", "total"}; !slices.Equal(got, want) {
		t.Errorf("Placeholders = %q, want %q", got, want)
	}
	if got := b.Placeholders("none"); got != nil {
		t.Errorf("Placeholders of no text = %q", got)
	}
	if !b.Has("kit.lead") || b.Has("kit") {
		t.Error("Has is wrong about kit.lead or kit")
	}
	if got := Key("kit.lead"); got != "kit.lead" {
		t.Errorf("Key = %q", got)
	}
}

// Two screens may ask one book at once; the race detector watches.
func TestConcurrentUse(t *testing.T) {
	b := mustParse(t, "en", englishTOML, nil)
	var wg sync.WaitGroup
	for range 8 {
		wg.Go(func() {
			for range 100 {
				b.Say("due.at")
				b.Say("due.in", "n", 1)
				b.Missing()
			}
		})
	}
	wg.Wait()
	wantMissing(t, b, "due.at")
}

// Whatever bytes come, Parse gives an error or a book in which every key says
// something.
func FuzzParse(f *testing.F) {
	f.Add("en", englishTOML, false)
	f.Add("fr", "[language]\nname = \"Français\"\ndecimal = \",\"\nincomplete = true\n[due]\nin = \"dans {n} min\"", true)
	f.Add("pt-BR", "[language]\nname = \"x\"\ndecimal = \",\"\n[kit.ampoule]\none = \"{n} {drug}\"\nother = \"{drug} {n}\"", true)
	f.Add("sw", "[language]\n[a.b.c]\nx = \"{n\"", false)
	en := mustParse(f, "en", englishTOML, nil)
	f.Fuzz(func(t *testing.T, tag, toml string, translation bool) {
		base := en
		if !translation {
			base = nil
		}
		b, err := Parse(tag, []byte(toml), base)
		if err != nil {
			if b != nil {
				t.Fatal("a book beside an error")
			}
			return
		}
		for _, key := range b.Keys() {
			var args []any
			for _, name := range b.Placeholders(key) {
				args = append(args, name, "7")
			}
			if said := b.Say(key, args...); strings.TrimSpace(said) == "" || strings.ContainsAny(said, "{}") {
				t.Errorf("Say(%q) = %q", key, said)
			}
			if counted, ok := strings.CutSuffix(key, ".other"); ok && b.Has(counted+".one") {
				for n := range 3 {
					if said := b.Count(counted, n); said == "["+counted+"]" {
						t.Errorf("Count(%q, %d) = %q", counted, n, said)
					}
				}
			}
			if base != nil && !base.Has(key) {
				t.Errorf("key %q is not in English", key)
			}
		}
		if base != nil {
			for _, key := range base.Keys() {
				if !b.Has(key) {
					t.Errorf("key %q is lost", key)
				}
				if !strings.HasSuffix(key, ".one") && !slices.Equal(b.Placeholders(key), base.Placeholders(key)) {
					t.Errorf("key %q has placeholders %q", key, b.Placeholders(key))
				}
			}
		}
		for _, fault := range b.Missing() {
			// Count was called above without its other arguments.
			if !strings.HasSuffix(fault, "is not given") {
				t.Errorf("Missing: %s", fault)
			}
		}
	})
}
