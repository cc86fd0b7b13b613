package quantity

import (
	"errors"
	"fmt"
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

func TestPrintFraction(t *testing.T) {
	third, err := MustParse("1 [gr]").Div(MustParse("3 1"), Grain)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ entry, number, unit string }{
		{"1/100 gr", "1/100", "grain"}, {"gr 1/6", "1/6", "grain"}, {"1/4 gr", "1/4", "grain"}, {"0.25 grains", "1/4", "grain"},
		{"1/2 gr", "1/2", "grain"}, {"2/3 gr", "2/3", "grain"}, {"3/4 gr", "3/4", "grain"}, {"1/150 gr", "1/150", "grain"}, {"1/200 gr", "1/200", "grain"},
		{"1/64 gr", "1/64", "grain"}, {"1/1000 gr", "1/1000", "grain"}, {"0.01 [gr]", "1/100", "grain"}, {"0.010 [gr]", "1/100", "grain"}, {"2/12 gr", "1/6", "grain"},
		{"1 1/2 gr", "1\u00a01/2", "grains"}, {"7 1/6 gr", "7\u00a01/6", "grains"}, {"1/2 [dr_ap]", "1/2", "drachm"}, {"1/2 [foz_br]", "1/2", "imperial fluid ounce"},
		{"15 [min_us]", "15", "US minims"}, {"5 grains", "5", "grains"}, {"1 grain", "1", "grain"}, {"0 [gr]", "0", "grains"}, {"-0.5 [gr]", "-0.5", "grains"},
		{"0.17 [gr]", "0.17", "grains"}, {"0.167 [gr]", "0.167", "grains"}, {"0.1667 [gr]", "0.1667", "grains"}, {"0.37 [gr]", "0.37", "grains"}, {"3/7 gr", "0.42857142857142857143", "grains"},
		{"1/1001 gr", "0.000999000999000999", "grains"}, {"0.25 mg", "0.25", "mg"}, {"1.50 mL", "1.5", "mL"}, {"0.5 [oz_av]", "0.5", "oz"}, {"0.25 [lb_av]", "0.25", "lb"},
	} {
		a, err := ParseEntry(c.entry, Unit{})
		if err != nil {
			t.Fatal(err)
		}
		number, unit := a.PrintFraction(false)
		if number != c.number || unit != c.unit {
			t.Errorf("%s prints as %q %q; want %q %q", a, number, unit, c.number, c.unit)
		}
	}
	if number, unit := third.PrintFraction(false); number != "1/3" || unit != "grain" {
		t.Errorf("%s prints as %q %q", third, number, unit)
	}
	if number, unit := MustParse("0.17 [gr]").PrintFraction(true); number != "0,17" || unit != "grains" {
		t.Errorf("with a comma: %q %q", number, unit)
	}
	if number, unit := (Amount{}).PrintFraction(false); number != "" || unit != "" {
		t.Errorf("absent prints as %q %q", number, unit)
	}
}

// TestFractionIsReadBack: a fraction that is printed reads as the same amount.
func TestFractionIsReadBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		units := rapid.IntRange(0, 20).Draw(t, "units")
		under := rapid.IntRange(2, 1000).Draw(t, "under")
		over := rapid.SampledFrom([]int{1, rapid.IntRange(1, under).Draw(t, "several")}).Draw(t, "over")
		entry := fmt.Sprintf("%d %d/%d gr", units, over, under)
		a, err := ParseEntry(entry, Grain)
		if err != nil {
			t.Fatal(err)
		}
		number, unit := a.PrintFraction(false)
		if over == 1 && !strings.Contains(number, fmt.Sprintf("1/%d", under)) {
			t.Fatalf("%s is %s and prints as %q", entry, a, number)
		}
		back, err := ParseEntry(number+" "+unit, Grain)
		if err != nil || back.Value.Cmp(a.Value) != 0 {
			t.Fatalf("%s is %s, prints as %q %q and reads as %s, %v", entry, a, number, unit, back, err)
		}
	})
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
