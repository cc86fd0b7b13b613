package quantity

import (
	"encoding/json"
	"errors"
	"fmt"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func TestParseStrength(t *testing.T) {
	const (
		general = "arithmetic of w/v: 1 % is 1 g in 100 mL (USP 28, 2005, General Notices, Percentage Measurements)"
		fda     = "FDA, Single Entity Injectable Drug Products, 2017, table of ratios and amounts per mL; read"
		usp     = "USP, Elimination of Ratio Expression for Single Entity Drug Labels, 2016, table 1; read"
	)
	for _, c := range []struct {
		text                string
		form                StrengthForm
		of, in              string
		concentration       string
		printed, withAComma string
		source              string
	}{
		{"10 mg/mL", PerVolume, "10 mg", "1 mL", "10 mg/mL", "10 mg/mL", "10 mg/mL", "as written"},
		{"10mg/ml", PerVolume, "10 mg", "1 mL", "10 mg/mL", "10 mg/mL", "10 mg/mL", "as written"},
		{"2.50 mg/mL", PerVolume, "2.50 mg", "1 mL", "2.5 mg/mL", "2.5 mg/mL", "2,5 mg/mL", "as written"},
		{"100 mg/2 mL", PerVolume, "100 mg", "2 mL", "50 mg/mL", "100 mg/2 mL", "100 mg/2 mL", "as written"},
		{" 100 mg in 2 mL ", PerVolume, "100 mg", "2 mL", "50 mg/mL", "100 mg/2 mL", "100 mg/2 mL", "as written"},
		{"0,5 mg per ml", PerVolume, "0.5 mg", "1 mL", "0.5 mg/mL", "0.5 mg/mL", "0,5 mg/mL", "as written"},
		{"5 mg/2,5 mL", PerVolume, "5 mg", "2.5 mL", "2 mg/mL", "5 mg/2.5 mL", "5 mg/2,5 mL", "as written"},
		{"0.05 mg/mL", PerVolume, "0.05 mg", "1 mL", "0.05 mg/mL", "0.05 mg/mL", "0,05 mg/mL", "as written"},
		{"1 g/10 mL", PerVolume, "1 g", "10 mL", "100 mg/mL", "1 g/10 mL", "1 g/10 mL", "as written"},
		{"50 mcg/mL", PerVolume, "50 ug", "1 mL", "50 ug/mL", "50 micrograms/mL", "50 micrograms/mL", "as written"},
		{"100 µg/2 mL", PerVolume, "100 ug", "2 mL", "50 ug/mL", "100 micrograms/2 mL", "100 micrograms/2 mL", "as written"},
		{"1 microgram/mL", PerVolume, "1 ug", "1 mL", "1 ug/mL", "1 microgram/mL", "1 microgram/mL", "as written"},
		{"500 ng/mL", PerVolume, "500 ng", "1 mL", "500 ng/mL", "500 nanograms/mL", "500 nanograms/mL", "as written"},
		{"1 grain/[foz_us]", PerVolume, "1 [gr]", "1 [foz_us]", "2.191111813794681207660128106157975 mg/mL",
			"1 grain/US fluid ounce", "1 grain/US fluid ounce", "64.79891 over 29.5735295625"},
		{"5 [IU]/mL", PerVolume, "5 [IU]", "1 mL", "5 [IU]/mL", "5 international units/mL", "5 international units/mL", "as written"},
		{"25000 units/5 ml", PerVolume, "25000 [IU]", "5 mL", "5000 [IU]/mL", "25000 international units/5 mL", "25000 international units/5 mL", "as written"},
		{"2.4 M[IU]/5 mL", PerVolume, "2.4 M[IU]", "5 mL", "480000 [IU]/mL",
			"2.4 million international units/5 mL", "2,4 million international units/5 mL", "as written"},
		{"1 mmol/mL", PerVolume, "1 mmol", "1 mL", "1 mmol/mL", "1 mmol/mL", "1 mmol/mL", "as written"},
		{"20 mmol/10 mL", PerVolume, "20 mmol", "10 mL", "2 mmol/mL", "20 mmol/10 mL", "20 mmol/10 mL", "as written"},
		{"154 mmol/L", PerVolume, "154 mmol", "1 L", "0.154 mmol/mL", "154 mmol/L", "154 mmol/L", "as written"},

		{"1 %", InPercent, "1 g", "100 mL", "10 mg/mL", "1 %", "1 %", general},
		{"0.5 %", InPercent, "0.5 g", "100 mL", "5 mg/mL", "0.5 %", "0,5 %", general},
		{"0,5% w/v", InPercent, "0.5 g", "100 mL", "5 mg/mL", "0.5 %", "0,5 %", general},
		{"2.0 % (w/v)", InPercent, "2.0 g", "100 mL", "20 mg/mL", "2 %", "2 %", general},
		{"0.125 %", InPercent, "0.125 g", "100 mL", "1.25 mg/mL", "0.125 %", "0,125 %", general},
		{"50 percent", InPercent, "50 g", "100 mL", "500 mg/mL", "50 %", "50 %", general},
		{"0.01 %", InPercent, "0.01 g", "100 mL", "0.1 mg/mL", "0.01 %", "0,01 %", general},
		{"0.0018 %", InPercent, "0.0018 g", "100 mL", "18 ug/mL", "0.0018 %", "0,0018 %", general},

		{"1:1000", AsRatio, "1 g", "1000 mL", "1 mg/mL", "1:1\u00a0000", "1:1\u00a0000", fda},
		{"1:1,000", AsRatio, "1 g", "1000 mL", "1 mg/mL", "1:1\u00a0000", "1:1\u00a0000", fda},
		{"1 : 2 000", AsRatio, "1 g", "2000 mL", "0.5 mg/mL", "1:2\u00a0000", "1:2\u00a0000", fda},
		{"1:5000", AsRatio, "1 g", "5000 mL", "0.2 mg/mL", "1:5\u00a0000", "1:5\u00a0000", fda},
		{"1:10 000", AsRatio, "1 g", "10000 mL", "0.1 mg/mL", "1:10\u00a0000", "1:10\u00a0000", fda},
		{"1:50,000", AsRatio, "1 g", "50000 mL", "20 ug/mL", "1:50\u00a0000", "1:50\u00a0000", usp + ": 0.02 mg/mL"},
		{"1:400", AsRatio, "1 g", "400 mL", "2.5 mg/mL", "1:400", "1:400", usp},
		{"1 in 80 000", AsRatio, "1 g", "80000 mL", "12.5 ug/mL", "1:80\u00a0000", "1:80\u00a0000", "arithmetic: 1 g over 80 000 mL"},
		{"1:100", AsRatio, "1 g", "100 mL", "10 mg/mL", "1:100", "1:100", "arithmetic: 1 g over 100 mL"},
		{"1:200 000", AsRatio, "1 g", "200000 mL", "5 ug/mL", "1:200\u00a0000", "1:200\u00a0000", "arithmetic: 1 g over 200 000 mL"},
		{"1:200000", AsRatio, "1 g", "200000 mL", "5 ug/mL", "1:200\u00a0000", "1:200\u00a0000", "the same"},
		{"1:200.000", AsRatio, "1 g", "200000 mL", "5 ug/mL", "1:200\u00a0000", "1:200\u00a0000", "the same"},
		{"1:200\u202f000", AsRatio, "1 g", "200000 mL", "5 ug/mL", "1:200\u00a0000", "1:200\u00a0000", "the same"},
		{"1:1 000 000", AsRatio, "1 g", "1000000 mL", "1 ug/mL", "1:1\u00a0000\u00a0000", "1:1\u00a0000\u00a0000", "arithmetic"},
	} {
		s, err := ParseStrength(c.text)
		if err != nil {
			t.Errorf("%q: %v", c.text, err)
			continue
		}
		of, in := s.Parts()
		if s.Form() != c.form || of.String() != c.of || in.String() != c.in {
			t.Errorf("%q is %s, %s in %s; want %s, %s in %s", c.text, s.Form(), of, in, c.form, c.of, c.in)
		}
		if got := s.Concentration(); got.String() != c.concentration {
			t.Errorf("%q is %s; want %s (%s)", c.text, got, c.concentration, c.source)
		}
		if s.String() != strings.TrimSpace(c.text) {
			t.Errorf("%q is kept as %q", c.text, s)
		}
		if p, comma := s.Print(false), s.Print(true); p != c.printed || comma != c.withAComma {
			t.Errorf("%q prints as %q, with a comma as %q; want %q and %q", c.text, p, comma, c.printed, c.withAComma)
		}
		if words := strings.Contains(c.printed, "gram") || strings.Contains(c.printed, "grain") || strings.Contains(c.printed, "units"); s.Spelled() != words {
			t.Errorf("%q prints as %q, spelled %v", c.text, c.printed, s.Spelled())
		}
	}
}

func TestParseStrengthRefuses(t *testing.T) {
	for text, code := range map[string]string{
		"": EntryEmpty, " \u00a0": EntryEmpty, strings.Repeat("1", 81): EntryTooLong, strings.Repeat("9", 1<<20): EntryTooLong, "1:1000000000": EntryTooLong,
		strings.Repeat("1", 31) + " mg/mL": EntryTooLong,
		"mg/mL":                            EntryNotANumber, "%": EntryNotANumber, "abc": EntryNotANumber, "0 mg/mL": EntryNotANumber, "0.0 %": EntryNotANumber, "-1 %": EntryNotANumber,
		"5 mg/0 mL": EntryNotANumber, "5 mg/-1 mL": EntryNotANumber, "1/2 %": EntryNotANumber, "½ %": EntryNotANumber, "2:1000": EntryNotANumber, "1:": EntryUnitDoesNotFit,
		":1000": EntryNotANumber, "1:0": EntryNotANumber, "1:01000": EntryNotANumber, "1:-1000": EntryNotANumber, "1/1000": EntryNotANumber, "5.": EntryNotANumber,
		"1,000 mg/mL": EntryAmbiguousSeparator, "1 000 mg/mL": EntryAmbiguousSeparator, "100 mg/1,000 mL": EntryAmbiguousSeparator, "1.500 %": EntryAmbiguousSeparator,
		"1:1,00": EntryAmbiguousSeparator, "1:1.5": EntryAmbiguousSeparator, "1:1,000.000": EntryAmbiguousSeparator, "1:1000,000": EntryAmbiguousSeparator, "1:1 0": EntryAmbiguousSeparator,
		// No strength, or no telling which.
		"1:10": EntryUnitDoesNotFit, "1:1": EntryUnitDoesNotFit, "1 in 20": EntryUnitDoesNotFit, "10": EntryUnitDoesNotFit, "10 mg": EntryUnitDoesNotFit, "2 mL": EntryUnitDoesNotFit,
		"1 % w/w": EntryUnitDoesNotFit, "70 % v/v": EntryUnitDoesNotFit, "1 %/mL": EntryUnitDoesNotFit, "5 gr/mL": EntryUnitDoesNotFit, "5 U/mL": EntryUnitDoesNotFit,
		"5 mg/kg": EntryUnitDoesNotFit, "5 mg/h": EntryUnitDoesNotFit, "5 mg/mL/h": EntryUnitDoesNotFit, "5 mL/mL": EntryUnitDoesNotFit, "20 {drop}/mL": EntryUnitDoesNotFit,
		"5 mg/kg/mL": EntryUnitDoesNotFit, "5 furlongs/mL": EntryUnitDoesNotFit, "5 mEq/mL": EntryUnitDoesNotFit, "5 mg/": EntryUnitDoesNotFit, "1:1000 mg": EntryUnitDoesNotFit,
	} {
		s, err := ParseStrength(text)
		var e *EntryError
		if !errors.As(err, &e) || !s.IsZero() {
			t.Errorf("%.40q is %s, %v; want code %s", text, s, err, code)
			continue
		}
		if e.Code != code || e.Text != text || !e.Unit.IsZero() || len(err.Error()) > 500 {
			t.Errorf("%.40q: %.200v; want code %s", text, err, code)
		}
	}
	defer func() {
		if recover() == nil {
			t.Error("MustStrength of none does not panic")
		}
	}()
	MustStrength("10 mg")
}

func TestStrengthsCompare(t *testing.T) {
	if MustStrength("1 %") == MustStrength("10 mg/mL") {
		t.Error("what was written is lost")
	}
	for _, c := range [][2]string{{"1 %", "10 mg/mL"}, {"1:1000", "0.1 %"}, {"1:200 000", "5 micrograms/mL"}, {"100 mg/2 mL", "50 mg/mL"}} {
		a, b := MustStrength(c[0]).Concentration(), MustStrength(c[1]).Concentration()
		if n, err := a.Cmp(b); err != nil || n != 0 {
			t.Errorf("%s is %s and %s is %s: %d, %v", c[0], a, c[1], b, n, err)
		}
	}
	// The ampoule of a published sum: 500 ug make 100 mL of 1:200 000 (arithmetic).
	v, err := MustParse("500 ug").Div(MustStrength("1:200 000").Concentration(), ML)
	if err != nil || v.String() != "100 mL" {
		t.Errorf("500 ug at 1:200 000 are %s, %v", v, err)
	}
}

func TestAbsentStrength(t *testing.T) {
	var s Strength
	if of, in := s.Parts(); !s.IsZero() || !s.Concentration().IsZero() || s.Print(false) != "" || s.String() != "" || s.Form() != "" || s.Spelled() || !of.IsZero() || !in.IsZero() {
		t.Error("an absent strength has something of a strength")
	}
	if MustStrength("1 %").IsZero() {
		t.Error("1 % is absent")
	}
}

func TestStrengthJSON(t *testing.T) {
	type payload struct {
		Strength Strength `json:"strength,omitzero"`
	}
	for text, want := range map[string]payload{`{}`: {}, `{"strength":"0,5 % w/v"}`: {MustStrength("0,5 % w/v")}, `{"strength":"100 mg/2 mL"}`: {MustStrength("100 mg/2 mL")}} {
		b, err := json.Marshal(want)
		if err != nil || string(b) != text {
			t.Errorf("%v marshals to %s, %v; want %s", want, b, err, text)
		}
		var got payload
		if err := json.Unmarshal([]byte(text), &got); err != nil || got != want {
			t.Errorf("%s unmarshals to %v, %v", text, got, err)
		}
	}
	s := MustStrength("1 %")
	if err := s.UnmarshalText([]byte("10 mg")); err == nil || s.String() != "1 %" {
		t.Errorf("10 mg unmarshals to %s, %v", s, err)
	}
	if err := s.UnmarshalText(nil); err != nil || !s.IsZero() {
		t.Errorf("nothing unmarshals to %s, %v", s, err)
	}
}

// TestPercentRatioAndPerVolumeAgree: the same strength written in three ways.
func TestPercentRatioAndPerVolumeAgree(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		in := rapid.IntRange(100, 999_999_999).Draw(t, "in")
		ratio := MustStrength(fmt.Sprintf("1:%d", in))
		parts := MustStrength(fmt.Sprintf("1 g/%d mL", in))
		if c, err := ratio.Concentration().Cmp(parts.Concentration()); err != nil || c != 0 {
			// 1/in in 34 digits, once of mg/mL and once of ug/mL.
			a, _ := ratio.Concentration().In(MgPerML)
			if !near(a, parts.Concentration()) {
				t.Fatalf("%s is %s, %s is %s, %v", ratio, ratio.Concentration(), parts, parts.Concentration(), err)
			}
		}
		hundredths := rapid.IntRange(1, 10000).Draw(t, "hundredths of a percent")
		percent := MustStrength(fmt.Sprintf("%d.%02d%%", hundredths/100, hundredths%100))
		want := MustParse(fmt.Sprintf("%d.%d mg/mL", hundredths/10, hundredths%10))
		if c, err := percent.Concentration().Cmp(want); err != nil || c != 0 {
			t.Fatalf("%s is %s; want %s, %v", percent, percent.Concentration(), want, err)
		}
	})
}

func FuzzParseStrength(f *testing.F) {
	for _, s := range []string{"10 mg/mL", "100 mg/2 mL", "1 %", "0,5 % w/v", "1:1000", "1:200 000", "1 in 80,000", "5 [IU]/mL", "1 mmol/mL", "1:10", "0 %", "5 gr/mL",
		"100 µg in 2 ml", "1 % v/v", "\xff", "1:1 0", "1e3 mg/mL", " in ", "per", ":"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		s, err := ParseStrength(text)
		if err != nil {
			var e *EntryError
			if !errors.As(err, &e) || e.Text != text || !s.IsZero() {
				t.Fatalf("%q is %v, %v", text, s, err)
			}
			return
		}
		c := s.Concentration()
		if c.Value.Sign() <= 0 {
			t.Fatalf("%q is %s", text, c)
		}
		if back, err := ParseStrength(s.String()); err != nil || back != s {
			t.Fatalf("%q is kept as %q and reads back as %v, %v", text, s, back, err)
		}
		// What is printed is the same strength, unless its decimals are refused
		// as an entry, as 1.500 and 1,234 are.
		for _, comma := range []bool{false, true} {
			back, err := ParseStrength(s.Print(comma))
			if err != nil {
				var e *EntryError
				if comma && errors.As(err, &e) && e.Code == EntryAmbiguousSeparator || errors.As(err, &e) && e.Code == EntryTooLong {
					continue
				}
				t.Fatalf("%q prints as %q: %v", text, s.Print(comma), err)
			}
			if back.Concentration() != c {
				t.Fatalf("%q is %s, prints as %q and reads as %s", text, c, s.Print(comma), back.Concentration())
			}
		}
	})
}
