package formulary

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"slices"
	"strings"
	"testing"

	"chinlift/core/quantity"
)

func fixture(t testing.TB, name string) string {
	t.Helper()
	data, err := os.ReadFile("testdata/clinic/" + name + ".toml")
	if err != nil {
		t.Fatal(err)
	}
	return string(data)
}

// TestRefusals changes one thing in a good file, and wants the fault with its
// line: the one where the change begins, or the one marked by "@" in the new
// text, or the first that has the text of at.
func TestRefusals(t *testing.T) {
	for _, c := range []struct {
		file, old, new, want string
		at                   []string
	}{
		// What is no TOML, or of the wrong kind.
		{"morphine", `class = "opioid"`, `class = "opioid`, "string", nil},
		{"morphine", `class = "opioid"`, `class = opioid`, "value", nil},
		{"morphine", `class = "opioid"`, `class = 3`, "want a text in quotation marks", nil},
		{"morphine", `year = 2026`, `year = "2026"`, "want a whole number", nil},
		{"morphine", `year = 2026`, `year = 26`, "is no year", nil},
		{"morphine", `titrate = true`, `titrate = "yes"`, "want true or false", nil},
		{"morphine", `factor = "0.25"`, `factor = 0.25`, "want a text in quotation marks", nil},
		{"morphine", `before = ["60 min", "90 min"]`, `before = "60 min"`, "want a list of two amounts", nil},
		{"morphine", `before = ["60 min", "90 min"]`, `before = ["60 min"]`, "want a list of two amounts", nil},
		{"morphine", `routes = ["im", "sc"]`, `routes = []`, "the list is empty", nil},
		{"morphine", `routes = ["im", "sc"]`, `routes = ["im", "im"]`, "stands twice", nil},
		{"morphine", `routes = ["im", "sc"]`, `routes = ["im", 3]`, "want texts", nil},
		// Keys and codes that nobody knows.
		{"morphine", `high = "0.2 mg/kg"`, "high = \"0.2 mg/kg\"\n  @hihg = \"1 mg\"", "use.0.dose.0.hihg: the key is not known", nil},
		{"morphine", `high = "0.2 mg/kg"`, "high = \"0.2 mg/kg\"\n  @High = \"1 mg/kg\"", "use.0.dose.0.High: the key is not known", nil},
		{"morphine", `source_of = { most = "guard" }`, `source_of = { mots = "guard" }`, "there is no such key here", nil},
		{"morphine", `source_of = { most = "guard" }`, `source_of = { most = "no-such" }`, "there is no [source.no-such]", nil},
		{"morphine", `class = "opioid"`, `class = "narcotic"`, `"narcotic" is not in the list of drug-class`, nil},
		{"morphine", `atc = "N02AA01"`, `atc = "N02"`, "no code of a substance", nil},
		{"morphine", `purpose = "analgesia"`, `purpose = "pain"`, "not in the list of purpose", nil},
		{"morphine", `routes = ["im", "sc"]`, `routes = ["im", "sub"]`, "not in the list of route", nil},
		{"morphine", `given = "bolus"`, `given = "push"`, "is none of", nil},
		{"morphine", `with = "sodium-chloride"`, `with = "saline"`, "neither water nor", nil},
		{"morphine", `with = ["gravely-ill", "shock"]`, `with = ["ill"]`, "not in the list of condition", nil},
		{"morphine", `classes = ["benzodiazepine"]`, `classes = ["sedative"]`, "not in the list of drug-class", nil},
		{"morphine", `unless = ["ventilated"]`, `unless = ["tubed"]`, "not in the list of condition", nil},
		{"morphine", `code = "with-sedative"`, `code = "with-sedatives"`, "is none of", nil},
		{"morphine", `code = "under-1-year"`, `code = "Under 1"`, "not lower case", nil},
		{"morphine", `mark = "practice"`, `mark = "guess"`, "not in the list of mark", nil},
		{"morphine", `level = "caution"`, `level = "careful"`, "is none of", nil},
		{"halothane", `hazards = ["flame"]`, `hazards = ["fire"]`, "not in the list of hazard", nil},
		{"adrenaline", `agents = ["halothane"]`, `agents = ["fluothane"]`, "not in the list of agent", nil},
		{"oxytocin", `sex = "male"`, `sex = "man"`, "not in the list of sex", nil},
		{"oxytocin", `sex = "male"`, `sex = "unknown"`, "want female or male", nil},
		// Sources.
		{"morphine", "lasts = [\"3 h\", \"4 h\"]\ninterval = \"4 h\"\nsource = \"made-up\"", "lasts = [\"3 h\", \"4 h\"]\ninterval = \"4 h\"", "use.0.source: the source is missing", at(`[[use]]
code = "premedication-im"`)},
		{"morphine", "[[reduce]]\ncode = \"over-75\"\nage = [\"75 a\", \"121 a\"]\nfactor = \"0.25\"\nsource = \"made-up\"", "[[reduce]]\ncode = \"over-75\"\nage = [\"75 a\", \"121 a\"]\nfactor = \"0.25\"", "reduce.1.source: the source is missing", at(`[[reduce]]
code = "over-75"`)},
		{"morphine", `title = "Numbers chosen to be worked out in the head"`, ``, "the title is missing", at(`[source.made-up]`)},
		{"morphine", "author = \"The tests\"\ntitle = \"Numbers chosen to be worked out in the head\"\nyear = 2026\nmark = \"practice\"", "title = \"Numbers\"\nmark = \"memory\"", "the author is missing", at(`[source.made-up]`)},
		{"morphine", `mark = "practice"`, ``, "not in the list of mark", at(`[source.made-up]`)},
		// Amounts.
		{"morphine", `low = "0.15 mg/kg"`, `low = "0.15mg/kg"`, "not an amount", nil},
		{"morphine", `low = "0.15 mg/kg"`, `low = "0.15 mcg/kg"`, "is not a unit known here", nil},
		{"morphine", `low = "0.15 mg/kg"`, `low = "-0.15 mg/kg"`, "under nought", nil},
		{"morphine", `low = "0.15 mg/kg"`, `low = "15 min"`, "is no dose", nil},
		{"morphine", `low = "0.15 mg/kg"`, `low = "0.0000001 mg/kg"`, "too-low to be meant", nil},
		{"morphine", `strength = "10 mg/mL"`, `strength = "10000000000 mg/mL"`, "too-high to be meant", nil},
		{"morphine", `window = "4 h"`, `window = "10000000000 h"`, "too-high to be meant", nil},
		{"morphine", `interval = "4 h"`, `interval = "4 mg"`, "is no duration", nil},
		{"morphine", `interval = "4 h"`, `interval = "0 h"`, "is nought", nil},
		{"morphine", `window = "4 h"`, `window = "4 mg"`, "is no duration", nil},
		{"morphine", `before = ["60 min", "90 min"]`, `before = ["60 mg", "90 mg"]`, "want two amounts of duration", nil},
		{"morphine", `before = ["60 min", "90 min"]`, `before = ["90 min", "60 min"]`, "90 min is over 60 min", nil},
		{"morphine", `onset = ["15 min", "30 min"]`, `onset = ["31 min", "30 min"]`, "31 min is over 30 min", nil},
		// Maxima under minima, and units that do not fit each other.
		{"morphine", `high = "0.2 mg/kg"`, `high = "0.1 mg/kg"`, "use.0.dose.0.high: 0.1 mg/kg is under 0.15 mg/kg", nil},
		{"morphine", `high = "0.2 mg/kg"`, `high = "2 mg"`, "is not told as", nil},
		{"morphine", `most = "10 mg"`, `most = "10 mL"`, "is not told as", nil},
		{"morphine", `most = "10 mg"`, `most = "10 mg/kg"`, "is not told as", nil},
		{"morphine", `most = "3 mg"`, `most = "2 mg"`, "use.1.dose.0.most: 2 mg is under 3 mg", nil},
		{"morphine", `most = "3 mg"`, `most = "0 mg"`, "is nought", nil},
		{"morphine", `most = "0.4 mg/kg"`, `most = "0.1 mg/kg"`, "is under a single dose", nil},
		{"morphine", `most = "0.4 mg/kg"`, `most = "0.4 mL/kg"`, "is no total", nil},
		{"atropine", `least = "100 ug"`, `least = "0.7 mg"`, "is under 0.7 mg", at(`  most = "0.6 mg"

[[use]]`)},
		{"pethidine", `usual = "1 mg/kg"`, `usual = "1.1 mg/kg"`, "1.1 mg/kg is over 1 mg/kg", nil},
		{"pethidine", `usual = "1 mg/kg"`, `usual = "0.4 mg/kg"`, "0.4 mg/kg is under 0.5 mg/kg", nil},
		{"lidocaine", `most_per_kg = "3 mg/kg"`, `most_per_kg = "2 mg/kg"`, "2 mg/kg is under 3 mg/kg", nil},
		{"ketamine", `low = "30 ug/kg/min"`, `low = "30 ug/kg"`, "does not go with", nil},
		{"ketamine", `low = "1 mg/kg"`, `low = "1 mg/kg/h"`, "does not go with", nil},
		{"halothane", `low = "0.5 %"`, `low = "0.5 mg"`, "does not go with", nil},
		{"morphine", `low = "0.15 mg/kg"`, `low = "5 %"`, "does not go with", nil},
		// Bands.
		{"morphine", "age = [\"1 a\", \"12 a\"]\n  low", "age = [\"1 a\", \"13 a\"]\n  @low", "use.0.dose.1.low: the band overlaps with the use's dose 1", nil},
		{"morphine", `age = ["1 a", "12 a"]`, `age = ["12 a", "12 a"]`, "nobody is in this band", nil},
		{"paracetamol", "mass = [\"3 kg\", \"50 kg\"]\n  low", "mass = [\"3 kg\", \"50.5 kg\"]\n  @low", "overlaps", nil},
		{"bupivacaine", "sex = \"male\"\n  low", "sex = \"female\"\n  @low", "overlaps", nil},
		// Presentations, dilutions, equivalents.
		{"morphine", `strength = "10 mg/mL"`, `strength = "10 mg"`, "is no strength", nil},
		{"morphine", `strength = "10 mg/mL"`, `strength = "0 mg/mL"`, "is no strength", nil},
		{"morphine", `strength = "10 mg/mL"`, `strength = "10 [IU]/mL"`, "gives no volume", at(`routes = ["im", "sc"]`)},
		{"morphine", `strength = "10 mg/mL"`, ``, "neither strength nor piece", at(`[[presentation]]`)},
		{"morphine", `label = "1 %"`, `label = "0.1 %"`, "0.1 % is 1.0000 mg/mL, not 10 mg/mL", nil},
		{"morphine", `label = "1 %"`, `label = "strong"`, "neither as", nil},
		{"adrenaline", `label = "1:1000"`, `label = "1:10 000"`, "1:10 000 is 0.1000 mg/mL", nil},
		{"adrenaline", `label = "1:1000"`, `label = "1:0"`, "neither as", nil},
		{"thiopental", `powder = "500 mg"`, `powder = "1 g"`, "gives 50.000 mg/mL, over 5 % off", at(`strength = "25 mg/mL"`)},
		{"thiopental", `dissolve = "20 mL"`, ``, "go together", at(`powder = "500 mg"`)},
		{"thiopental", `dissolve = "20 mL"`, `dissolve = "0 mL"`, "does not give", at(`powder = "500 mg"`)},
		{"paracetamol", `piece = "500 mg"`, `piece = "500 mg/kg"`, "is no amount", nil},
		{"paracetamol", `form = "tablet"`, `form = "pill"`, "is none of", nil},
		{"paracetamol", `part = "0.5"`, `part = "1.5"`, "a part is over 0 and at most 1", nil},
		{"paracetamol", `part = "0.5"`, `strength = "5 mg/mL"`, "neither strength nor volume", at(`piece = "500 mg"`)},
		{"morphine", `to = "1 mg/mL"`, "to = \"1 mg/mL\"\n@total = \"0 mL\"", "is nought", nil},
		{"morphine", `to = "1 mg/mL"`, "to = \"1 mg/mL\"\n@total = \"10 mg\"", "is no volume", nil},
		{"ketamine", `most_per_kg = "4.5 mg/kg"`, "most_per_kg = \"4.5 mg/kg\"\n  @at = \"0.5 mg/mL\"", "use.0.dose.0.at: no dilution brings 500mg-10ml to 0.5 mg/mL", nil},
		{"ketamine", `most_per_kg = "4.5 mg/kg"`, "most_per_kg = \"4.5 mg/kg\"\n  @at = \"1 [IU]/mL\"", "is no strength for this use", nil},
		{"morphine", `titrate = true`, "titrate = true\n@fraction_of = \"premedication-im\"", "only a local anaesthetic", nil},
		{"lidocaine", `code = "infiltration-adrenaline"`, "code = \"infiltration-adrenaline\"\n@fraction_of = \"nerve\"", "there is no use nerve", nil},
		{"bupivacaine", `code = "block"`, "code = \"block\"\n@fraction_of = \"spinal\"", "no maximum of its own", nil},
		{"neostigmine", `without = ["recovering"]`, "with = [\"pregnant\"]\n@not_pregnant = true", "it can never fire", nil},
		{"neostigmine", "level = \"stop\"\nwithout = [\"recovering\"]", "level = \"caution\"\nwithout = [\"recovering\"]\n@planned = true", "only a stop", nil},
		{"morphine", `to = "1 mg/mL"`, `to = "10 mg/mL"`, "is not weaker", nil},
		{"morphine", `to = "1 mg/mL"`, `to = "1 [IU]/mL"`, "does not come of", nil},
		{"morphine", `from = "10mg-1ml"`, `from = "15mg-1ml"`, "there is no presentation", nil},
		{"morphine", `each = "10 mg"`, `each = "10 mL"`, "want a mass", nil},
		{"morphine", `group = "opioid"`, `group = "opiate"`, "is none of", nil},
		{"lidocaine", `group = "local-anaesthetic"`, "group = \"local-anaesthetic\"\n@each = \"1 mg\"", "counts by its own maximum", nil},
		{"lidocaine", "most = \"200 mg\"\n  most_per_kg = \"3 mg/kg\"\n  source_of = { most = \"cap\" }", "", "wants most or most_per_kg", at(`  [[use.dose]]`)},
		{"ketamine", `at = "1 mg/mL"`, `at = "0.5 mg/mL"`, "no dilution brings", nil},
		{"ketamine", `at = "1 mg/mL"`, `at = "1 mg"`, "is no strength", nil},
		{"lidocaine", `presentations = ["1pc-20ml"]`, `presentations = ["2pc"]`, "there is no presentation 2pc", nil},
		{"paracetamol", "code = \"1g-100ml\"", "code = \"1g-100ml\"\n@routes = [\"im\"]", "there is no presentation for iv", at(`routes = ["iv"]`)},
		// Uses, reductions, alerts.
		{"morphine", `code = "analgesia-iv"`, `code = "premedication-im"`, "use.1.code: premedication-im stands twice", nil},
		{"atropine", `uses = ["slow-pulse"]`, `uses = ["slow"]`, "there is no use slow", nil},
		{"atropine", `factor = "0.5"`, "factor = \"0.5\"\n@uses = [\"slow-pulse\"]", "is a rescue use, which nothing reduces", nil},
		{"morphine", `factor = "0.25"`, `factor = "1"`, "is not between 0 and 1", nil},
		{"morphine", `factor = "0.25"`, `factor = "0"`, "is not between 0 and 1", nil},
		{"morphine", `factor = "0.25"`, `factor = "1.5"`, "is not between 0 and 1", nil},
		{"morphine", `factor = "0.25"`, `factor = "a quarter"`, "not a decimal", nil},
		{"morphine", "code = \"over-60\"\nage = [\"60 a\", \"75 a\"]", "code = \"over-60\"", "it says of nobody that it applies", nil},
		{"morphine", `age = ["60 a", "75 a"]`, `age = ["75 a", "75 a"]`, "nobody is in this band", nil},
		{"morphine", "classes = [\"benzodiazepine\"]\nwithin", "with = [\"frail\"]\n@within", "of which drug?", nil},
		{"morphine", "level = \"caution\"\nalways = true", "level = \"caution\"", "it says not when it fires", at(`code = "watch-the-breathing"`)},
		{"morphine", `always = true`, "always = true\nwith = [\"frail\"]", "asks for nothing but", nil},
		{"morphine", `with = ["shock"]`, "with = [\"shock\"]\n@routes = [\"oral\"]", "it can never fire", nil},
		{"neostigmine", `without = ["recovering"]`, "without = [\"recovering\"]\nwith = [\"recovering\"]", "it can never fire", at(`without = ["recovering"]`)},
	} {
		name := c.file + ": " + c.old + " -> " + c.new
		text, line := change(t, c.file, c.old, c.new)
		if len(c.at) > 0 {
			line = lineOf(t, text, c.at[0])
		}
		_, err := Parse(c.file+".toml", []byte(text))
		var faults *FileError
		if !errors.As(err, &faults) {
			t.Errorf("%s: %v", name, err)
			continue
		}
		at := fmt.Sprintf("%s.toml:%d: ", c.file, line)
		if !slices.ContainsFunc(strings.Split(err.Error(), "\n"), func(s string) bool { return strings.HasPrefix(s, at) && strings.Contains(s, c.want) }) {
			t.Errorf("%s:\n%v\nwant %s%s", name, err, at, c.want)
		}
	}
}

// at names the line of a fault that does not stand where the text was changed.
func at(text string) []string { return []string{text} }

func lineOf(t testing.TB, text, part string) int {
	t.Helper()
	before, _, ok := strings.Cut(text, part)
	if !ok {
		t.Fatalf("no %q", part)
	}
	return 1 + strings.Count(before, "\n")
}

// change gives the text with old made new, and the line that is meant.
func change(t testing.TB, file, old, new string) (text string, line int) {
	t.Helper()
	before, after, ok := strings.Cut(fixture(t, file), old)
	if !ok {
		t.Fatalf("%s has no %q", file, old)
	}
	to := before
	if unmarked, rest, ok := strings.Cut(new, "@"); ok {
		to += unmarked
		new = unmarked + rest
	}
	return before + new + after, 1 + strings.Count(to, "\n")
}

func TestLines(t *testing.T) {
	// The lines of the members of arrays of tables, which share their names.
	text := "class = \"x\"\n[source.a]\nmark = 1\n[[use]]\ncode = 1\n  [[use.dose]]\n  low = 1\n  [[use.dose]]\n  low = 2\n[[use]]\ncode = 2\n  [[use.dose]]\n  low = 3\n  source_of = { low = 1 }\n[equivalent]\neach = 1\n"
	lines := linesOf(text)
	for path, want := range map[string]int{
		"class": 1, "source.a": 2, "source.a.mark": 3, "use.0": 4, "use.0.code": 5, "use.0.dose.0": 6, "use.0.dose.0.low": 7,
		"use.0.dose.1": 8, "use.0.dose.1.low": 9, "use.1": 10, "use.1.code": 11, "use.1.dose.0": 12, "use.1.dose.0.low": 13, "use.1.dose.0.source_of": 14,
		"equivalent": 15, "equivalent.each": 16,
	} {
		if lines[path] != want {
			t.Errorf("%s at %d, want %d", path, lines[path], want)
		}
	}
	r := reader{lines: lines}
	if got := r.line("use.1.dose.0.source_of.low"); got != 14 {
		t.Errorf("within an inline table: %d", got)
	}
	if got := r.line("nothing.at.all"); got != 1 {
		t.Errorf("nowhere: %d", got)
	}
}

func TestAllFaultsAtOnce(t *testing.T) {
	text := fixture(t, "morphine")
	text = strings.Replace(text, `low = "0.15 mg/kg"`, `low = "0.15 mcg/kg"`, 1)
	text = strings.Replace(text, `routes = ["iv"]`, `routes = ["vein"]`, 1)
	text = strings.Replace(text, `factor = "0.25"`, `factor = ".25"`, 1)
	_, err := Parse("morphine", []byte(text))
	if got := strings.Count(fmt.Sprint(err), "\n") + 1; got != 3 {
		t.Errorf("%d faults, want 3:\n%v", got, err)
	}
}

func TestSourcesOfKeys(t *testing.T) {
	d, err := Parse("morphine", []byte(fixture(t, "morphine")))
	if err != nil {
		t.Fatal(err)
	}
	u := d.Use("premedication-im")
	for _, c := range []struct{ got, want string }{
		{u.Doses[0].For("most"), "made-up"}, {u.Doses[1].For("most"), "guard"}, {u.Doses[1].For("low"), "made-up"}, {u.Totals[0].For("most"), "guard"},
	} {
		if c.got != c.want {
			t.Errorf("source %s, want %s", c.got, c.want)
		}
	}
	// What a use says of a key holds for its doses that have no source of their own.
	text := strings.Replace(fixture(t, "morphine"), "interval = \"4 h\"\nsource = \"made-up\"", "interval = \"4 h\"\nsource = \"made-up\"\nsource_of = { low = \"guard\", interval = \"guard\" }", 1)
	if d, err = Parse("morphine", []byte(text)); err != nil {
		t.Fatal(err)
	}
	u = d.Use("premedication-im")
	if u.For("interval") != "guard" || u.For("onset") != "made-up" || u.Doses[0].For("low") != "guard" || u.Doses[0].For("high") != "made-up" {
		t.Errorf("%+v, %+v", u.Cited, u.Doses[0].Cited)
	}
}

// goldenHash is that of the fixture's use by vein.
const goldenHash = "66ebf0df74dad6b7d4a13372ab8a2994263c4875f69cd2d629552b753ab5aafc"

func TestHash(t *testing.T) {
	hashes := func(text string) map[string]string {
		t.Helper()
		d, err := Parse("morphine", []byte(text))
		if err != nil {
			t.Fatal(err)
		}
		m := make(map[string]string)
		for _, u := range d.Uses {
			m[u.Code] = u.Hash()
		}
		return m
	}
	text := fixture(t, "morphine")
	was := hashes(text)
	for _, c := range []struct {
		old, new     string
		premed, vein bool // whether the hash becomes another
	}{
		{"# Fixture", "# A fixture", false, false},
		{`class = "opioid"`, `class    =    "opioid"`, false, false},
		{`before = ["60 min", "90 min"]`, `before = ["45 min", "90 min"]`, true, false},
		{`most = "3 mg"`, `most = "4 mg"`, false, true},
		{`strength = "10 mg/mL"` + "\nvolume = \"1 mL\"", `strength = "10 mg/mL"` + "\nvolume = \"2 mL\"", true, true},
		{`factor = "0.25"`, `factor = "0.3"`, true, true},
		{`uses = ["premedication-im"]` + "\nwith", `uses = ["analgesia-iv"]` + "\nwith", true, true},
		{`age = ["0 d", "1 a"]`, `age = ["0 d", "2 a"]`, true, false}, // an alert of the one use
		{`title = "A guard that the tests set"`, `title = "Another guard"`, true, false},
		{"[[reduce]]\ncode = \"over-60\"", "[source.unused]\ntitle = \"nothing\"\nmark = \"practice\"\n\n[[reduce]]\ncode = \"over-60\"", false, false},
		{"[equivalent]", "[equivalent]\n# a word", false, false},
		{`each = "10 mg"`, `each = "9 mg"`, true, true},
	} {
		if !strings.Contains(text, c.old) {
			t.Fatalf("no %q", c.old)
		}
		is := hashes(strings.Replace(text, c.old, c.new, 1))
		if got := is["premedication-im"] != was["premedication-im"]; got != c.premed {
			t.Errorf("%s: hash of the premedication becomes another: %t", c.new, got)
		}
		if got := is["analgesia-iv"] != was["analgesia-iv"]; got != c.vein {
			t.Errorf("%s: hash of the use by vein becomes another: %t", c.new, got)
		}
	}
	// The hash is that of an earlier version of this program: what a person
	// confirmed is not to be asked again for nothing.
	if got := was["analgesia-iv"]; got != goldenHash {
		t.Errorf("hash %s, was %s: what is hashed has become another, and every confirmation with it", got, goldenHash)
	}
}

func TestWith(t *testing.T) {
	f := clinic(t)
	n := len(f.Drugs())
	stronger := strings.Replace(fixture(t, "morphine"), `strength = "10 mg/mL"`+"\nvolume = \"1 mL\"\nlabel = \"1 %\"", `strength = "15 mg/mL"`, 1)
	g, err := f.With(map[string][]byte{
		"morphine.toml": []byte(stronger),
		"codeine.toml":  []byte(fixture(t, "pethidine")),
		"lipid.toml":    []byte("retired = true\n" + fixture(t, "lipid")),
	})
	if err != nil {
		t.Fatal(err)
	}
	if len(g.Drugs()) != n || g.Find("codeine") == nil || g.Find("lipid") == nil || !g.Find("lipid").Retired {
		t.Errorf("%d drugs, want %d", len(g.Drugs()), n)
	}
	if got := g.Find("morphine").Presentations[0].Strength; got.String() != "15 mg/mL" || f.Find("morphine").Presentations[0].Strength.String() != "10 mg/mL" {
		t.Errorf("strength %s", got)
	}
	_, err = g.Reckon(Request{Drug: "lipid", Use: "poisoning", Patient: pt("30 a", "", "70 kg", "")})
	refused(t, "retired", err, "drug", Retired)
	// A bad file is refused by its name and line, and lays nothing over.
	_, err = f.With(map[string][]byte{"bad.toml": []byte("class = \"opioid\"\nx = 1\n"), "morphine": []byte(stronger)})
	if err == nil || !strings.Contains(err.Error(), "bad.toml:2: x: the key is not known") {
		t.Errorf("%v", err)
	}
	_, err = f.With(map[string][]byte{"midazolam.toml": bytes.Replace([]byte(fixture(t, "midazolam")), []byte(`classes = ["opioid"]`), []byte(`drugs = ["morphin"]`), 1)})
	if err == nil || !strings.Contains(err.Error(), "midazolam.toml:39: reduce.0.drugs: there is no drug morphin") {
		t.Errorf("%v", err)
	}
	_, err = f.With(map[string][]byte{"lipid.toml": []byte(fixture(t, "lipid")), "lipid": []byte(fixture(t, "lipid"))})
	if err == nil {
		t.Error("two files of one drug were taken")
	}
	_, err = f.With(map[string][]byte{"Lipid 2.toml": []byte(fixture(t, "lipid"))})
	if err == nil {
		t.Error("a file with a space in its name was taken")
	}
}

func FuzzParse(f *testing.F) {
	for _, name := range []string{"morphine", "lidocaine", "paracetamol", "thiopental", "ketamine", "halothane", "neostigmine"} {
		f.Add(fixture(f, name))
	}
	f.Add("class = \"opioid\"\n[[use]]\n")
	f.Add("[[use.dose]]\nlow = 1\n[use]\n")
	f.Add("source = { a = { title = \"x\" } }\nuse = [ { dose = [ {} ] } ]\n")
	f.Fuzz(func(t *testing.T, text string) {
		d, err := Parse("drug", []byte(text))
		if err != nil {
			var e *FileError
			if !errors.As(err, &e) || len(e.Faults) == 0 {
				t.Fatalf("an error without a fault: %v", err)
			}
			lines := strings.Count(text, "\n") + 1
			for _, fault := range e.Faults {
				if fault.Line < 1 || fault.Line > lines || fault.Text == "" {
					t.Fatalf("fault %+v in %d lines", fault, lines)
				}
			}
			return
		}
		// What loads can be reckoned with: an answer or an *Error, no panic.
		g := &Formulary{drugs: []*Drug{d}}
		for _, u := range d.Uses {
			for _, p := range []struct{ age, weight string }{{"1 d", "3 kg"}, {"5 a", "18 kg"}, {"40 a", "70 kg"}, {"80 a", "50 kg"}, {"", "70 kg"}} {
				a, err := g.Reckon(Request{Drug: d.Code, Use: u.Code, Patient: pt(p.age, "", p.weight, "")})
				var e *Error
				if err != nil && !errors.As(err, &e) {
					t.Fatalf("%s: %v", u.Code, err)
				}
				if err == nil && a.Suggested != (quantity.Amount{}) && a.Suggested.Value.Sign() < 0 {
					t.Fatalf("%s: %s", u.Code, a.Suggested)
				}
			}
		}
	})
}
