package quantity

import (
	"encoding/json"
	"errors"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func units() *rapid.Generator[Unit] { return rapid.SampledFrom(Units()) }

// amounts draws amounts of the size that people meet, in any unit.
func amounts() *rapid.Generator[Amount] {
	return rapid.Custom(func(t *rapid.T) Amount {
		return Amount{readings().Draw(t, "value"), units().Draw(t, "unit")}
	})
}

// like draws a unit that mixes with u.
func like(u Unit) *rapid.Generator[Unit] {
	var same []Unit
	for _, v := range Units() {
		if v.Dimension() == u.Dimension() {
			same = append(same, v)
		}
	}
	return rapid.SampledFrom(same)
}

func TestPublishedConversions(t *testing.T) {
	const (
		sp811 = "NIST SP 811 (A. Thompson, B. N. Taylor, 2008), appendix B.8"
		hb44  = "NIST Handbook 44, appendix C: 1 grain = 64.79891 mg exactly"
		ucum  = "UCUM 2.1, ucum-essence.xml"
		def   = "by definition"
	)
	for _, c := range []struct {
		in       string
		unit     string
		decimals int
		want     string
		source   string
	}{
		{"120 mm[Hg]", "kPa", 9, "15.99864", ucum + ": m[Hg] = 133.3220 kPa"},
		{"1 mm[Hg]", "Pa", 4, "133.322", sp811 + ": 1.333224 E+02, to the places that UCUM has"},
		{"1 cm[H2O]", "Pa", 9, "98.0665", sp811 + ": centimeter of water, conventional"},
		{"1 [psi]", "Pa", 3, "6894.757", sp811},
		{"1 atm", "[psi]", 3, "14.696", sp811 + ": 101325 Pa over 6894.757 Pa"},
		{"1 atm", "kPa", 9, "101.325", sp811},
		{"1 atm", "mm[Hg]", 3, "760.002", ucum + ": 101325 over 133.3220, not quite 760"},
		{"137 bar", "kPa", 0, "13700", sp811},
		{"1 bar", "[psi]", 4, "14.5038", sp811 + ": 1 E+05 Pa over 6.894757 E+03 Pa"},
		{"1 kPa", "mm[Hg]", 4, "7.5006", sp811 + ": 7.50062 by the conventional 133.322387 Pa; UCUM's 133.3220 Pa gives 7.50064"},
		{"10 kPa", "cm[H2O]", 3, "101.972", sp811 + ": 1 E+04 Pa over 98.0665 Pa"},
		{"2000 [psi]", "bar", 1, "137.9", sp811},

		{"98.6 [degF]", "Cel", 9, "37", sp811 + ": t/Cel = (t/degF - 32)/1.8"},
		{"212 [degF]", "Cel", 9, "100", sp811},
		{"32 [degF]", "Cel", 9, "0", sp811},
		{"-40 Cel", "[degF]", 9, "-40", sp811},
		{"36.6 Cel", "[degF]", 9, "97.88", sp811},
		{"0 [degF]", "Cel", 6, "-17.777778", sp811},
		{"0 Cel", "K", 9, "273.15", "BIPM, SI Brochure, 9th ed., 2019, 2.3.1"},
		{"34.6 Cel", "K", 9, "307.75", "BIPM, as before"},

		{"1 [gr]", "mg", 9, "64.79891", hb44},
		{"0.5 [gr]", "mg", 4, "32.3995", hb44},
		{"0.25 [gr]", "mg", 4, "16.1997", hb44},
		{"0.01 [gr]", "ug", 1, "648.0", hb44},
		{"10 mg", "[gr]", 6, "0.154324", hb44},
		{"1 [oz_ap]", "g", 7, "31.1034768", hb44},
		{"1 [dr_ap]", "g", 7, "3.8879346", hb44},
		{"1 [sc_ap]", "g", 7, "1.2959782", hb44},
		{"1 [lb_av]", "kg", 9, "0.45359237", sp811 + ": pound (avoirdupois)"},
		{"154 [lb_av]", "kg", 2, "69.85", sp811},
		{"1 [oz_av]", "g", 5, "28.34952", sp811},
		{"11 [stone_av]", "kg", 3, "69.853", sp811 + ": 14 pounds"},

		{"1 [foz_us]", "mL", 5, "29.57353", sp811},
		{"1 [foz_br]", "mL", 5, "28.41306", sp811 + ": ounce [Canadian and U.K. fluid]"},
		{"60 [min_br]", "[fdr_br]", 9, "1", ucum},
		{"1 [min_br]", "mL", 8, "0.05919388", ucum + ": gallon of 4.54609 L over 76800"},
		{"1 [min_us]", "mL", 8, "0.06161152", ucum + ": gallon of 231 cubic inches over 61440"},

		{"70 [in_i]", "cm", 9, "177.8", sp811},
		{"6 [ft_i]", "m", 9, "1.8288", sp811},

		{"1 a", "d", 9, "365.25", ucum + ": a_j"},
		{"1 mo", "d", 9, "30.4375", ucum + ": mo_j"},
		{"18 mo", "a", 9, "1.5", ucum},
		{"6 wk", "d", 9, "42", ucum},
		{"90 min", "h", 9, "1.5", def},
		{"1 min", "h", 6, "0.016667", def},

		{"1 L/min", "mL/h", 9, "60000", def},
		{"5 ug/kg/min", "mg/kg/h", 9, "0.3", def},
		{"0.5 g/dL", "mg/mL", 9, "5", def},
		{"12.5 g/dL", "g/L", 9, "125", def},
		{"20 {drop}/mL", "{drop}/mL", 9, "20", def},
		{"2.4 M[IU]", "[IU]", 9, "2400000", def},
		{"250 [ppm]", "%", 9, "0.025", def},
		{"1 /s", "/min", 9, "60", def},
	} {
		got, err := MustParse(c.in).In(MustUnit(c.unit))
		if err != nil {
			t.Errorf("%s in %s: %v", c.in, c.unit, err)
			continue
		}
		if want := c.want + " " + c.unit; got.Round(c.decimals).String() != want {
			t.Errorf("%s = %s, to %d decimals %s; want %s (%s)", c.in, got, c.decimals, got.Round(c.decimals), want, c.source)
		}
	}
}

// TestExactDefinitions holds what is exact to all its digits.
func TestExactDefinitions(t *testing.T) {
	const (
		ucum = "UCUM, definitions as in @lhncbc/ucum-lhc 7.1.10; read"
		yard = "international yard and pound agreement, 1959; from memory. " + ucum
		acts = "Weights and Measures Act 1985, imperial gallon of 4.54609 dm3; from memory. " + ucum
		cgpm = "10th CGPM, 1954, resolution 4: 101 325 N/m2; read second-hand. " + ucum
	)
	for _, c := range []struct{ a, b, source string }{
		{"1 [gr]", "64.79891 mg", yard + ": [gr] = 64.79891 mg"},
		{"20 [gr]", "1 [sc_ap]", ucum}, {"60 [gr]", "1 [dr_ap]", ucum}, {"480 [gr]", "1 [oz_ap]", ucum},
		{"7000 [gr]", "1 [lb_av]", yard + ": [lb_av] = 7000 [gr]"}, {"437.5 [gr]", "1 [oz_av]", ucum},
		{"1 [lb_av]", "0.45359237 kg", yard}, {"16 [oz_av]", "1 [lb_av]", ucum}, {"1 [oz_av]", "28.349523125 g", yard + ", a sixteenth"},
		{"1 [stone_av]", "14 [lb_av]", ucum}, {"1 [stone_av]", "6.35029318 kg", yard + ", fourteenfold"},
		{"76800 [min_br]", "4.54609 L", acts}, {"160 [foz_br]", "4.54609 L", acts}, {"480 [min_br]", "28.4130625 mL", acts}, {"60 [min_br]", "1 [fdr_br]", ucum},
		{"61440 [min_us]", "3.785411784 L", ucum + ": gallon of 231 [in_i]3"}, {"128 [foz_us]", "3.785411784 L", ucum}, {"480 [min_us]", "29.5735295625 mL", ucum}, {"60 [min_us]", "1 [fdr_us]", ucum},
		{"1 [in_i]", "2.54 cm", yard + ": yard of 0.9144 m"}, {"1 [ft_i]", "0.3048 m", yard},
		{"1 atm", "101325 Pa", cgpm}, {"1 mm[Hg]", "133.322 Pa", ucum + ": m[Hg] = 133.3220 kPa, not the conventional 133.322387415 Pa"},
		{"1 cm[H2O]", "98.0665 Pa", ucum + ": m[H2O] = 9.80665 kPa"},
		// One over 6.4516 square centimetres, so that it comes out even.
		{"6.4516 [psi]", "44482.216152605 Pa", ucum + ": [lbf_av] = [lb_av].[g] = 4.4482216152605 N, [sin_i] = 6.4516 cm2"},
		{"4 a", "1461 d", ucum + ": a_j"}, {"12 mo", "1 a", ucum},
		{"1 h", "3600 s", "BIPM, SI Brochure, 9th ed., 2019, table 8"}, {"1 d", "86400 s", "the same"}, {"0 Cel", "273.15 K", "the same, 2.3.1"},
		{"-459.67 [degF]", "0 K", ucum}, {"212 [degF]", "100 Cel", ucum},
	} {
		if n, err := MustParse(c.a).Cmp(MustParse(c.b)); err != nil || n != 0 {
			t.Errorf("%s and %s differ: %d, %v (%s)", c.a, c.b, n, err, c.source)
		}
	}
}

func TestMercuryIsUCUMs(t *testing.T) {
	// How far UCUM's 133.3220 Pa is from the conventional 133.322387415 Pa
	// (NIST SP 811, 2008, appendix B.8): under a thousandth of a mm[Hg] in 300.
	kpa, err := MustParse("300 mm[Hg]").In(MustUnit("Pa"))
	if err != nil {
		t.Fatal(err)
	}
	conventional := product(mustNumber("300"), mustNumber("133.322387415"))
	off := difference(conventional, kpa.Value.number())
	if thousandth := mustNumber("0.1333220"); off.Sign() <= 0 || off.Cmp(thousandth) >= 0 {
		t.Errorf("off by %v Pa in 300 mm[Hg]", off)
	}
}

func TestInKeepsWhatWasEntered(t *testing.T) {
	a := MustParse("0.50 mg")
	if got, err := a.In(Mg); err != nil || got != a {
		t.Errorf("%s in mg = %s, %v", a, got, err)
	}
}

func TestParse(t *testing.T) {
	for _, s := range []string{"120 mm[Hg]", "0.65 mg", "36.60 Cel", "-0.5 Cel", "40 {drop}/min", "0.25 [gr]", "3 {score}", "7 1", "98 %", "80 /min"} {
		a, err := Parse(s)
		if err != nil || a.String() != s {
			t.Errorf("Parse(%q) = %s, %v", s, a, err)
		}
	}
	var unknown *UnknownUnitError
	for s, want := range map[string]error{
		"": ErrNotAmount, "120": ErrNotAmount, "mg": ErrNotAmount, "5mg": ErrNotAmount, "5\tmg": ErrNotAmount, "5\u00a0mg": ErrNotAmount,
		" 5 mg": ErrNotDecimal, ".5 mg": ErrNotDecimal, "5. mg": ErrNotDecimal, "1,5 mg": ErrNotDecimal, "+5 mg": ErrNotDecimal,
		strings.Repeat("9", 31) + " mg": ErrTooLong,
	} {
		if a, err := Parse(s); !errors.Is(err, want) || !a.IsZero() {
			t.Errorf("Parse(%q) = %s, %v; want %v", s, a, err, want)
		}
	}
	for _, s := range []string{"5 ", "5  mg", "5 mg ", "5 MG", "5 mmHg", "5 mg\n"} {
		if a, err := Parse(s); !errors.As(err, &unknown) || !a.IsZero() {
			t.Errorf("Parse(%q) = %s, %v; want *UnknownUnitError", s, a, err)
		}
	}
	defer func() {
		if recover() == nil {
			t.Error("MustParse of no amount does not panic")
		}
	}()
	MustParse("5mg")
}

func TestAbsentIsNotNought(t *testing.T) {
	nought, some := MustParse("0 mg"), MustParse("5 mg")
	if nought.IsZero() || !(Amount{}).IsZero() {
		t.Fatal("IsZero takes nought for absent")
	}
	for _, a := range []Amount{{}, {Unit: Mg}, {Value: DecimalFromInt(5)}} {
		_, in := a.In(Mg)
		_, add := a.Add(some)
		_, added := some.Add(a)
		_, cmp := a.Cmp(some)
		_, compared := some.Cmp(a)
		_, within := some.Between(a, some)
		_, below := some.Between(some, a)
		_, float := a.Float64(Mg)
		for i, err := range []error{in, add, added, cmp, compared, within, below, float} {
			if !errors.Is(err, ErrAbsent) {
				t.Errorf("%#v, case %d: %v; want ErrAbsent", a, i, err)
			}
		}
	}
}

func TestDimensionError(t *testing.T) {
	for _, c := range []struct{ a, b string }{
		{"5 mg", "5 mL"}, {"5 mg", "5 mg/kg"}, {"98 %", "98 1"}, {"3 {score}", "3 1"}, {"80 /min", "80 {drop}/min"},
		{"5 mg/dL", "5 mmol/L"}, {"5 [IU]", "5 mg"}, {"5 mm[Hg]", "5 %"}, {"1 mg/kg", "1 %"}, {"1 {drop}", "1 mL"},
	} {
		a, b := MustParse(c.a), MustParse(c.b)
		_, in := a.In(b.Unit)
		_, cmp := a.Cmp(b)
		_, add := b.Add(a)
		_, lo := a.Between(b, a)
		_, hi := a.Between(a, b)
		_, float := a.Float64(b.Unit)
		for i, err := range []error{in, cmp, add, lo, hi, float} {
			var de *DimensionError
			if !errors.As(err, &de) {
				t.Errorf("%s with %s, case %d: %v; want *DimensionError", a, b, i, err)
				continue
			}
			for _, want := range []string{a.Unit.String(), b.Unit.String(), string(a.Unit.Dimension()), string(b.Unit.Dimension())} {
				if !strings.Contains(err.Error(), want) {
					t.Errorf("%q does not name %s", err, want)
				}
			}
		}
	}
	var de *DimensionError
	if _, err := MustParse("5 mg").In(Unit{}); !errors.As(err, &de) || !strings.Contains(err.Error(), "no unit") {
		t.Errorf("5 mg in no unit: %v", err)
	}
}

func TestAdd(t *testing.T) {
	for _, c := range []struct{ a, b, want string }{
		{"0.50 mg", "0.50 mg", "1.00 mg"},
		{"1 mg", "250 ug", "1.25 mg"},
		{"250 ug", "1 mg", "1250 ug"},
		{"0.1 mL", "0.2 mL", "0.3 mL"}, // not 0.30000000000000004
		{"1 h", "30 min", "1.5 h"},
		{"500 mL", "-1 L", "-500 mL"},
		{"5 mg", "-5 mg", "0 mg"},
		{"1 [gr]", "64.79891 mg", "2 [gr]"},
		{"99999999999999999999999999999 mg", "1 mg", "100000000000000000000000000000 mg"},
	} {
		got, err := MustParse(c.a).Add(MustParse(c.b))
		if err != nil || got.String() != c.want {
			t.Errorf("%s + %s = %s, %v; want %s", c.a, c.b, got, err, c.want)
		}
	}
	for _, b := range []string{"1 Cel", "1 [degF]", "1 K"} {
		if got, err := MustParse("36 Cel").Add(MustParse(b)); !errors.Is(err, ErrTemperatureSum) {
			t.Errorf("36 Cel + %s = %s, %v; want ErrTemperatureSum", b, got, err)
		}
	}
}

func TestCmpAndBetween(t *testing.T) {
	for _, c := range []struct {
		a, b string
		want int
	}{
		{"1000 ug", "1.0 mg", 0}, {"999.999 ug", "1 mg", -1}, {"1 kg", "2.2 [lb_av]", 1},
		{"98.6 [degF]", "37.0 Cel", 0}, {"98.60000000000000000001 [degF]", "37 Cel", 1},
		{"20 min", "0.33333333333333333333333333 h", 1}, // a third of an hour is more
		{"-40 [degF]", "-40 Cel", 0}, {"12 mo", "1 a", 0}, {"7 [lb_av]", "49000 [gr]", 0},
		{"60 [min_br]", "1 [fdr_br]", 0}, {"0 mg", "0 kg", 0}, {"-1 mg", "0 g", -1},
	} {
		if got, err := MustParse(c.a).Cmp(MustParse(c.b)); err != nil || got != c.want {
			t.Errorf("Cmp(%s, %s) = %d, %v; want %d", c.a, c.b, got, err, c.want)
		}
	}
	for _, c := range []struct {
		a, lo, hi string
		want      bool
	}{
		{"5 mg", "5 mg", "10 mg", true}, {"10 mg", "5 mg", "0.01 g", true}, {"4.9 mg", "5 mg", "10 mg", false},
		{"10.1 mg", "5 mg", "10 mg", false}, {"5 mg", "6 mg", "4 mg", false},
	} {
		if got, err := MustParse(c.a).Between(MustParse(c.lo), MustParse(c.hi)); err != nil || got != c.want {
			t.Errorf("%s between %s and %s = %v, %v", c.a, c.lo, c.hi, got, err)
		}
	}
}

func TestFloat64(t *testing.T) {
	for _, c := range []struct {
		in   string
		unit Unit
		want float64
	}{{"120 mm[Hg]", KPa, 15.99864}, {"98.6 [degF]", Cel, 37}, {"1 min", Hour, 1.0 / 60}, {"0.1 mL", ML, 0.1}} {
		if got, err := MustParse(c.in).Float64(c.unit); err != nil || got != c.want {
			t.Errorf("%s in %s = %v, %v; want %v", c.in, c.unit, got, err, c.want)
		}
	}
}

func TestAmountJSON(t *testing.T) {
	type payload struct {
		Systolic Amount `json:"systolic,omitzero"`
		Dose     Amount `json:"dose,omitzero"`
	}
	for text, want := range map[string]payload{
		`{}`:                        {},
		`{"systolic":"120 mm[Hg]"}`: {Systolic: MustParse("120 mm[Hg]")},
		`{"systolic":"0 mm[Hg]","dose":"0.50 mg"}`: {Systolic: MustParse("0 mm[Hg]"), Dose: MustParse("0.50 mg")},
	} {
		b, err := json.Marshal(want)
		if err != nil || string(b) != text {
			t.Errorf("%v marshals to %s, %v; want %s", want, b, err, text)
		}
		var got payload
		if err := json.Unmarshal([]byte(text), &got); err != nil || got != want {
			t.Errorf("%s unmarshals to %v, %v", text, got, err)
		}
	}
	for _, text := range []string{`{"dose":5}`, `{"dose":"5"}`, `{"dose":"5 MG"}`, `{"dose":"5,0 mg"}`, `{"dose":{}}`} {
		var got payload
		if err := json.Unmarshal([]byte(text), &got); err == nil || !got.Dose.IsZero() {
			t.Errorf("%s unmarshals to %v, %v", text, got, err)
		}
	}
}

func TestOnlyWhatReadsBackIsStored(t *testing.T) {
	long, err := MustParse("1 mg").In(Grain)
	if err != nil {
		t.Fatal(err)
	}
	if b, err := long.MarshalText(); !errors.Is(err, ErrTooLong) {
		t.Errorf("%s is stored as %q, %v; want ErrTooLong", long, b, err)
	}
	if b, err := long.Round(6).MarshalText(); err != nil || string(b) != "0.015432 [gr]" {
		t.Errorf("rounded, it is stored as %q, %v", b, err)
	}
	for _, half := range []Amount{{Unit: Mg}, {Value: DecimalFromInt(5)}} {
		if b, err := half.MarshalText(); !errors.Is(err, ErrAbsent) {
			t.Errorf("half an amount is stored as %q, %v; want ErrAbsent", b, err)
		}
	}
	// An absent amount belongs under omitzero. Where that was forgotten, what
	// was written can still be read.
	b, err := Amount{}.MarshalText()
	got := MustParse("5 mg")
	if err := errors.Join(err, got.UnmarshalText(b)); err != nil || !got.IsZero() {
		t.Errorf("absent reads back as %s, %v", got, err)
	}
}

func TestWireFormRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := Amount{decimals().Draw(t, "value"), units().Draw(t, "unit")}
		got, err := Parse(a.String())
		if err != nil || got != a {
			t.Fatalf("%s reads back as %s, %v", a, got, err)
		}
		b, err := json.Marshal(a)
		if err != nil {
			t.Fatal(err)
		}
		var back Amount
		if err := json.Unmarshal(b, &back); err != nil || back != a {
			t.Fatalf("%s reads back from %s as %s, %v", a, b, back, err)
		}
	})
}

// TestThereAndBack: 34 digits leave some 20 to spare over what anybody enters,
// so that there and back is the same number to 20 decimals.
func TestThereAndBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := amounts().Draw(t, "a")
		u := like(a.Unit).Draw(t, "u")
		there, err := a.In(u)
		if err != nil {
			t.Fatal(err)
		}
		back, err := there.In(a.Unit)
		if err != nil {
			t.Fatal(err)
		}
		if back = back.Round(20); back.Value.Cmp(a.Value) != 0 || back.Unit != a.Unit {
			t.Fatalf("%s = %s = %s", a, there, back)
		}
		if n := len(there.Value.String()); n > 80 {
			t.Fatalf("%s = %s, %d characters", a, there, n)
		}
	})
}

// TestExactWhereItComesOutEven: between units whose factors are powers of ten,
// a conversion changes no digit, and so Cmp finds nothing between the two.
func TestExactWhereItComesOutEven(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		kinds := [][]Unit{{Kg, G, Mg, Ug, Ng, Grain, Pound}, {L, ML, MustUnit("dL")}, {MustUnit("Pa"), KPa, Bar}}
		same := rapid.SampledFrom(kinds).Draw(t, "kind")
		from := rapid.SampledFrom(same).Draw(t, "from")
		to := rapid.SampledFrom(same).Draw(t, "to")
		if to == Grain || to == Pound {
			to = same[0] // over 64.79891 nothing comes out even
		}
		a := Amount{readings().Draw(t, "value"), from}
		b, err := a.In(to)
		if err != nil {
			t.Fatal(err)
		}
		if c, err := a.Cmp(b); err != nil || c != 0 {
			t.Fatalf("%s = %s, yet Cmp = %d, %v", a, b, c, err)
		}
	})
}

func TestCmpIsAnOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := amounts().Draw(t, "a")
		near := rapid.Custom(func(t *rapid.T) Amount {
			u := like(a.Unit).Draw(t, "unit")
			// Often the same amount in another unit, or very nearly.
			if rapid.Bool().Draw(t, "near") {
				b, err := a.In(u)
				if err != nil {
					t.Fatal(err)
				}
				return b.Round(rapid.IntRange(0, 30).Draw(t, "decimals"))
			}
			return Amount{readings().Draw(t, "value"), u}
		})
		b, c := near.Draw(t, "b"), near.Draw(t, "c")
		cmp := func(x, y Amount) int {
			n, err := x.Cmp(y)
			if err != nil {
				t.Fatal(err)
			}
			return n
		}
		if cmp(a, a) != 0 || cmp(a, b) != -cmp(b, a) {
			t.Fatalf("Cmp(%s, %s) = %d, the other way %d", a, b, cmp(a, b), cmp(b, a))
		}
		if cmp(a, b) <= 0 && cmp(b, c) <= 0 && cmp(a, c) > 0 {
			t.Fatalf("%s <= %s <= %s, but not %[1]s <= %[3]s", a, b, c)
		}
		in, err := a.Between(b, c)
		if err != nil || in != (cmp(b, a) <= 0 && cmp(a, c) <= 0) {
			t.Fatalf("%s between %s and %s = %v, %v", a, b, c, in, err)
		}
	})
}

func TestInIsMonotone(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := amounts().Draw(t, "a")
		b := Amount{readings().Draw(t, "b"), a.Unit}
		u := like(a.Unit).Draw(t, "u")
		x, err := a.In(u)
		if err != nil {
			t.Fatal(err)
		}
		y, err := b.In(u)
		if err != nil {
			t.Fatal(err)
		}
		// Numbers of at most 12 digits cannot meet in 34.
		if a.Value.Cmp(b.Value) != x.Value.Cmp(y.Value) {
			t.Fatalf("%s and %s become %s and %s", a, b, x, y)
		}
	})
}

func TestAddProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := amounts().Filter(func(a Amount) bool { return a.Unit.Dimension() != Temperature }).Draw(t, "a")
		b := Amount{readings().Draw(t, "b"), like(a.Unit).Draw(t, "unit")}
		ab, err := a.Add(b)
		if err != nil {
			t.Fatal(err)
		}
		ba, err := b.Add(a)
		if err != nil {
			t.Fatal(err)
		}
		if ab.Unit != a.Unit {
			t.Fatalf("%s + %s = %s", a, b, ab)
		}
		// Each way has its own rounding in the 34th digit, so not ==.
		if ba, err = ba.In(a.Unit); err != nil || !near(ba, ab) {
			t.Fatalf("%s + %s = %s, the other way %s, %v", a, b, ab, ba, err)
		}
		minus := b
		if text, negative := strings.CutPrefix(b.Value.text, "-"); negative {
			minus.Value.text = text
		} else {
			minus.Value.text = "-" + text
		}
		back, err := ab.Add(minus)
		if err != nil || !near(back, a) {
			t.Fatalf("%s + %[2]s - %[2]s = %[3]s, %[4]v", a, b, back, err)
		}
	})
}

// near reports whether two amounts of one unit are within 1e-12.
func near(a, b Amount) bool {
	off := difference(a.Value.number(), b.Value.number())
	return a.Unit == b.Unit && off.Abs(off).Cmp(mustNumber("0.000000000001")) <= 0
}

func TestFloat64IsNear(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := amounts().Draw(t, "a")
		d := a.Unit.definition()
		u := like(a.Unit).Draw(t, "u")
		got, err := a.Float64(u)
		if err != nil {
			t.Fatal(err)
		}
		// The same in floating point, as a second opinion.
		to := u.definition()
		f := func(s, or string) float64 { return Decimal{orElse(s, or)}.Float64() }
		base := (a.Value.Float64() + f(d.offset, "0")) * f(d.times, "1") / f(d.by, "1")
		want := base*f(to.by, "1")/f(to.times, "1") - f(to.offset, "0")
		if diff := math.Abs(got - want); diff > 1e-9*math.Max(1, math.Abs(want)) {
			t.Fatalf("%s in %s = %v; floating point has %v", a, u, got, want)
		}
	})
}

func FuzzParse(f *testing.F) {
	for _, s := range []string{"120 mm[Hg]", "0.50 mg", "-1 Cel", "", " ", "5", "5  mg", "5 MG", ".5 mg", "1e3 mg", "99 [degF]", "0 {drop}/min"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		a, err := Parse(s)
		if err != nil {
			if !a.IsZero() {
				t.Fatalf("Parse(%q) = %s and %v", s, a, err)
			}
			return
		}
		if a.String() != s {
			t.Fatalf("%q reads as %q", s, a)
		}
		if b, err := a.MarshalText(); err != nil || string(b) != s {
			t.Fatalf("%q is stored as %q, %v", s, b, err)
		}
		for _, u := range Units() {
			if u.Dimension() != a.Unit.Dimension() {
				continue
			}
			b, err := a.In(u)
			if err != nil {
				t.Fatalf("%s in %s: %v", a, u, err)
			}
			if a.Value.Sign() > 0 && u.Dimension() != Temperature && b.Value.Sign() <= 0 {
				t.Fatalf("%s = %s", a, b)
			}
		}
	})
}
