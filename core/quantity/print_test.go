package quantity

import (
	"errors"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func TestPrint(t *testing.T) {
	for _, c := range []struct{ in, number, comma, unit string }{
		{"0.50 mg", "0.5", "0,5", "mg"},
		{"5.0 mg", "5", "5", "mg"},
		{"5.00 mL", "5", "5", "mL"},
		{"10 mg", "10", "10", "mg"},
		{"100 mg", "100", "100", "mg"},
		{"1000 mL", "1000", "1000", "mL"}, // no thousands separator
		{"0.0 L/min", "0", "0", "L/min"},
		{"-0.0 Cel", "0", "0", "°C"},
		{"-0.50 Cel", "-0.5", "-0,5", "°C"},
		{"98.60 [degF]", "98.6", "98,6", "°F"},
		{"120 mm[Hg]", "120", "120", "mmHg"},
		{"12.5 cm[H2O]", "12.5", "12,5", "cmH2O"},
		{"98 %", "98", "98", "%"},
		{"80 /min", "80", "80", "/min"},
		{"50 ug", "50", "50", "micrograms"},
		{"1 ug", "1", "1", "microgram"},
		{"1.0 ug/kg/min", "1", "1", "microgram/kg/min"},
		{"0.1 ug/kg/min", "0.1", "0,1", "micrograms/kg/min"},
		{"40 {drop}/min", "40", "40", "drops/min"},
		{"5 [IU]", "5", "5", "international units"},
		{"1 [IU]", "1", "1", "international unit"},
		{"2 M[IU]", "2", "2", "million international units"},
		{"0.25 [gr]", "0.25", "0,25", "grains"},
		{"1 a", "1", "1", "year"},
		{"6 wk", "6", "6", "weeks"},
		{"154 [lb_av]", "154", "154", "lb"},
		{"23.4 kg/m2", "23.4", "23,4", "kg/m²"},
		{"7 {score}", "7", "7", ""},
		{"3 1", "3", "3", ""},
	} {
		a := MustParse(c.in)
		if n, u := a.Print(false); n != c.number || u != c.unit {
			t.Errorf("%s prints as %q %q; want %q %q", a, n, u, c.number, c.unit)
		}
		if n, u := a.Print(true); n != c.comma || u != c.unit {
			t.Errorf("%s prints with a comma as %q %q; want %q %q", a, n, u, c.comma, c.unit)
		}
	}
	if n, u := (Amount{}).Print(true); n != "" || u != "" {
		t.Errorf("absent prints as %q %q", n, u)
	}
}

// TestNoDangerousUnit holds the printed units against the abbreviations that
// have led to wrong doses (ISMP, List of Error-Prone Abbreviations, Symbols,
// and Dose Designations, 2021).
func TestNoDangerousUnit(t *testing.T) {
	dangerous := map[string]bool{
		"µg": true, "μg": true, "ug": true, "mcg": true, "ng": true, "U": true, "u": true, "IU": true, "iu": true,
		"cc": true, "ml": true, "gr": true, "D": true, "d": true, "q": true, "µL": true, "uL": true,
	}
	letters := "abcdefghijklmnopqrstuvwxyz"
	for _, u := range Units() {
		one, many := u.names()
		for _, s := range []string{one, many} {
			for _, part := range strings.Split(s, "/") {
				if dangerous[part] {
					t.Errorf("%s prints as %q", u, s)
				}
			}
		}
		if many != u.Symbol() {
			t.Errorf("%s has symbol %q and prints %q", u, u.Symbol(), many)
		}
		if one != many && !u.Spelled() {
			t.Errorf("%s has a plural, so it is a word: %q, %q", u, one, many)
		}
		// Long runs of small letters are words, and words want translation.
		longest := 0
		for _, run := range strings.FieldsFunc(many, func(r rune) bool { return !strings.ContainsRune(letters, r) }) {
			longest = max(longest, len(run))
		}
		if want := longest > 4; u.Spelled() != want && !strings.HasSuffix(u.Symbol(), "/day") && u != Day && u != Puff {
			t.Errorf("%s prints as %q, spelled %v", u, many, u.Spelled())
		}
	}
}

func TestPrintIsSafe(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := decimals().Draw(t, "d")
		s := Print(d, false)
		back, err := ParseDecimal(s) // wire form: no bare point, a nought before it
		if err != nil || back.Cmp(d) != 0 {
			t.Fatalf("%s prints as %q, which is %s, %v", d, s, back, err)
		}
		if strings.Contains(s, ".") && strings.HasSuffix(s, "0") {
			t.Fatalf("%s prints as %q", d, s)
		}
		if c := Print(d, true); strings.Contains(c, ".") || strings.Replace(c, ",", ".", 1) != s {
			t.Fatalf("%s prints as %q, with a comma as %q", d, s, c)
		}
	})
}

// TestPrintedIsReadBack: what a screen shows may be typed as it stands, number
// and unit. The one exception is what ParseEntry refuses with a comma, three
// decimals that may be thousands; it is refused, not misread.
func TestPrintedIsReadBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := amounts().Draw(t, "a")
		comma := rapid.Bool().Draw(t, "comma")
		number, unit := a.Print(comma)
		got, err := ParseEntry(number+" "+unit, a.Unit)
		if err != nil {
			var e *EntryError
			if _, part, _ := strings.Cut(number, ","); len(part) == 3 && errors.As(err, &e) && e.Code == EntryAmbiguousSeparator {
				return
			}
			t.Fatalf("%s prints as %q %q: %v", a, number, unit, err)
		}
		if got.Unit != a.Unit || got.Value.Cmp(a.Value) != 0 {
			t.Fatalf("%s prints as %q %q, which reads as %s", a, number, unit, got)
		}
	})
}
