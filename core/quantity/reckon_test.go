package quantity

import (
	"errors"
	"strings"
	"testing"
)

func TestMulAndDiv(t *testing.T) {
	for _, c := range []struct{ a, op, b, want string }{
		// Doses by weight, the weight in whatever people are weighed in.
		{"2 mg/kg", "*", "70 kg", "140 mg"},
		{"1.50 mg/kg", "*", "3500 g", "5.25 mg"},
		{"2 mg/kg", "*", "100 [lb_av]", "90.718474 mg"}, // 45.359237 kg
		{"70 kg", "*", "2 mg/kg", "140 mg"},
		{"5 ug/kg", "*", "20 kg", "0.1 mg"},
		{"0.5 ug/kg/min", "*", "60 kg", "1.8 mg/h"},
		{"20 mL/kg", "*", "12.5 kg", "250 mL"},
		{"4 mL/kg/h", "*", "10 kg", "40 mL/h"},
		{"100 [IU]/kg", "*", "4.2 kg", "420 [IU]"},
		{"0.1 mmol/kg", "*", "50 kg", "5 mmol"},
		{"4 J/kg", "*", "15 kg", "60 J"},
		{"140 mg", "/", "70 kg", "2 mg/kg"},
		{"140 mg", "/", "2 mg/kg", "70 kg"},
		{"210 mg/h", "/", "70 kg", "50 ug/kg/min"},
		// Volumes by concentration.
		{"140 mg", "/", "10 mg/mL", "14 mL"},
		{"14 mL", "*", "10 mg/mL", "140 mg"},
		{"1.8 mg/h", "/", "60 ug/mL", "30 mL/h"},
		{"100 mg", "/", "2 mL", "50 mg/mL"},
		{"420 [IU]", "/", "5000 [IU]/mL", "0.084 mL"},
		{"5 mmol", "/", "0.5 mmol/mL", "10 mL"},
		// Rates and durations.
		{"6 mg", "/", "30 min", "12 mg/h"},
		{"12 mg/h", "*", "30 min", "6 mg"},
		{"500 mL", "/", "125 mL/h", "4 h"},
		{"3 L/min", "*", "1 h", "180 L"},
		{"80 /min", "*", "15 s", "20 1"},
		// Drops.
		{"90 mL/h", "*", "20 {drop}/mL", "30 {drop}/min"},
		{"30 {drop}/min", "/", "20 {drop}/mL", "90 mL/h"},
		{"30 {drop}/min", "*", "2 min", "60 {drop}"},
		{"60 {drop}", "/", "15 {drop}/mL", "4 mL"},
		// Fractions and numbers of something.
		{"50 %", "*", "10 mL", "5 mL"},
		{"2 %", "*", "3 L/min", "60 mL/min"},
		{"3 1", "*", "250 ug", "0.75 mg"},
		{"3 mg", "/", "4 mg", "75 %"},
		{"68.6 kg", "/", "70 kg", "98 %"},
		{"150 mg", "/", "50 mg", "3 1"},
		{"137 bar", "/", "1 bar", "137 1"},
		// Bodies.
		{"70 kg", "/", "2 m2", "35 kg/m2"},
		{"35 kg/m2", "*", "2 m2", "70 kg"},
		{"1.6 m", "*", "1.6 m", "2.56 m2"},
		// Signs, noughts, and what does not come out even.
		{"-2 mg/kg", "*", "70 kg", "-140 mg"},
		{"140 mg", "/", "-70 kg", "-2 mg/kg"},
		{"0.00 mg/kg", "*", "70 kg", "0 mg"},
		{"0 mg", "/", "-10 mg/mL", "0 mL"},
		{"1 mg", "/", "3 mL", "0.3333333333333333333333333333333333 mg/mL"},
		{"2 mg", "/", "3 h", "0.6666666666666666666666666666666667 mg/h"},
		{"0.1 mg/kg", "*", "0.7 kg", "0.07 mg"}, // not 0.06999999999999999
	} {
		a, b, want := MustParse(c.a), MustParse(c.b), mustAmount(t, c.want)
		reckon := a.Mul
		if c.op == "/" {
			reckon = a.Div
		}
		if got, err := reckon(b, want.Unit); err != nil || got != want {
			t.Errorf("%s %s %s = %s, %v; want %s", a, c.op, b, got, err, want)
		}
	}
}

// mustAmount reads what is longer than the wire form allows.
func mustAmount(t *testing.T, s string) Amount {
	t.Helper()
	number, code, _ := strings.Cut(s, " ")
	return Amount{Decimal{number}, MustUnit(code)}
}

// TestRateForAPump goes from a dose rate to what a pump and what a drip are set
// to, step by step: 5 ug/kg/min for 70 kg is 21 mg/h; of 0.84 mg/mL that is
// 25 mL/h, and with 60 drops to the mL 25 drops a minute.
func TestRateForAPump(t *testing.T) {
	a := MustParse("5 ug/kg/min")
	for _, step := range []struct {
		b      string
		divide bool
		want   string
	}{
		{"70 kg", false, "21 mg/h"}, {"0.84 mg/mL", true, "25 mL/h"}, {"60 {drop}/mL", false, "25 {drop}/min"},
	} {
		want := MustParse(step.want)
		got, err := combine(a, MustParse(step.b), want.Unit, step.divide)
		if err != nil || got != want {
			t.Fatalf("%s with %s = %s, %v; want %s", a, step.b, got, err, want)
		}
		a = got
	}
}

func TestProductsThatAreNone(t *testing.T) {
	for _, c := range []struct{ a, op, b, unit string }{
		{"1 %", "*", "20 mL", "mg"},       // a percentage is no concentration
		{"200 mg", "/", "1 %", "mL"},      // the other way round
		{"1 %", "*", "1 1", "mg/mL"},      // nor does it become one
		{"10 mg/mL", "*", "1 1", "%"},     // nor back
		{"2 mg/kg", "*", "70 kg", "mL"},   // mass is no volume
		{"2 mg/kg", "*", "70 mg", "mg"},   // nobody weighs 70 mg
		{"2 mg/kg", "*", "1 [gr]", "mg"},  // nor a grain
		{"5 mg", "/", "10 mg", "mg/kg"},   // not for each kilogram
		{"140 mg", "/", "2 mg/kg", "mg"},  // a weight in mg
		{"2 mg/kg", "*", "1 1", "%"},      // mg/kg is no fraction
		{"2 mg/kg", "*", "70 kg", "mg/h"}, // no time in it
		{"2 mg/kg/h", "*", "70 kg", "mg"}, {"5 [IU]", "/", "5 mg/mL", "mL"}, {"5 mmol", "/", "5 mg/mL", "mL"},
		{"30 {drop}/min", "/", "1 1", "mL/h"}, {"90 mL/h", "/", "20 {drop}/mL", "{drop}/min"}, {"3 {score}", "*", "2 1", "1"},
		{"36 Cel", "*", "2 1", "Cel"}, {"36 Cel", "/", "18 Cel", "1"}, {"2 1", "*", "36 K", "K"}, {"1 kg", "*", "1 kg", "kg"},
		{"1 m2", "*", "1 m", "L"}, {"5 mg", "*", "5 mL", "mg/mL"},
	} {
		a, b, u := MustParse(c.a), MustParse(c.b), MustUnit(c.unit)
		got, err := combine(a, b, u, c.op == "/")
		var de *DimensionError
		if !errors.As(err, &de) || !got.IsZero() {
			t.Errorf("%s %s %s = %s, %v; want *DimensionError", a, c.op, b, got, err)
			continue
		}
		if de.Have != a.Unit || de.With != b.Unit || de.Want != u || de.Divided != (c.op == "/") {
			t.Errorf("%s %s %s in %s: %#v", a, c.op, b, u, de)
		}
		for _, u := range []Unit{a.Unit, b.Unit, u} {
			if !strings.Contains(err.Error(), u.inFull()) {
				t.Errorf("%q does not name %s", err, u.inFull())
			}
		}
	}
	var de *DimensionError
	if _, err := MustParse("5 mg").Mul(MustParse("2 1"), Unit{}); !errors.As(err, &de) || !strings.Contains(err.Error(), "no unit") {
		t.Errorf("a product in no unit: %v", err)
	}
	if got, err := MustParse("5 mg").Div(MustParse("0.0 mL"), MgPerML); !errors.Is(err, ErrNoughtDivisor) || !got.IsZero() {
		t.Errorf("5 mg / 0 mL = %s, %v; want ErrNoughtDivisor", got, err)
	}
}

func TestSubScaleMinMax(t *testing.T) {
	for _, c := range []struct{ a, b, want string }{
		{"1.00 mg", "0.50 mg", "0.50 mg"}, {"1 mg", "250 ug", "0.75 mg"}, {"250 ug", "1 mg", "-750 ug"}, {"5 mg", "5 mg", "0 mg"},
		{"5 mg", "-5 mg", "10 mg"}, {"5 mg", "0 g", "5 mg"}, {"5 mg", "-0 mg", "5 mg"}, {"70 kg", "22 [lb_av]", "60.02096786 kg"},
	} {
		if got, err := MustParse(c.a).Sub(MustParse(c.b)); err != nil || got.String() != c.want {
			t.Errorf("%s - %s = %s, %v; want %s", c.a, c.b, got, err, c.want)
		}
	}
	for _, c := range []struct{ a, f, want string }{
		{"5 mg", "0.75", "3.75 mg"}, {"0.50 mg", "2", "1 mg"}, {"5 mg", "0", "0 mg"}, {"5 mg", "-1", "-5 mg"}, {"0.1 mL", "3", "0.3 mL"},
	} {
		f, err := ParseDecimal(c.f)
		if err != nil {
			t.Fatal(err)
		}
		if got, err := MustParse(c.a).Scale(f); err != nil || got.String() != c.want {
			t.Errorf("%s times %s = %s, %v; want %s", c.a, c.f, got, err, c.want)
		}
	}
	for _, c := range []struct{ a, b, low, high string }{
		{"5 mg", "10 mg", "5 mg", "10 mg"}, {"1 mg", "900 ug", "900 ug", "1 mg"}, {"1.0 mg", "1000 ug", "1.0 mg", "1.0 mg"},
		{"-1 mg", "0 g", "-1 mg", "0 g"}, {"37 Cel", "98 [degF]", "98 [degF]", "37 Cel"},
	} {
		low, err := MustParse(c.a).Min(MustParse(c.b))
		high, err2 := MustParse(c.a).Max(MustParse(c.b))
		if errors.Join(err, err2) != nil || low.String() != c.low || high.String() != c.high {
			t.Errorf("%s and %s: smaller %s, larger %s, %v, %v", c.a, c.b, low, high, err, err2)
		}
	}
}

func TestSteps(t *testing.T) {
	for _, c := range []struct{ a, step, down, nearest, up string }{
		{"0.1273 mg", "5 ug", "125 ug", "125 ug", "130 ug"},
		{"1.25 mL", "0.1 mL", "1.2 mL", "1.2 mL", "1.3 mL"}, // halfway: the even one
		{"1.35 mL", "0.1 mL", "1.3 mL", "1.4 mL", "1.4 mL"},
		{"1.2501 mL", "0.1 mL", "1.2 mL", "1.3 mL", "1.3 mL"},
		{"1.2 mL", "0.10 mL", "1.20 mL", "1.20 mL", "1.20 mL"}, // a multiple stays
		{"0.04 mL", "0.1 mL", "0.0 mL", "0.0 mL", "0.1 mL"},
		{"137 mg", "25 mg", "125 mg", "125 mg", "150 mg"},
		{"137.6 mg", "25 mg", "125 mg", "150 mg", "150 mg"},
		{"-1.25 mL", "0.1 mL", "-1.3 mL", "-1.2 mL", "-1.2 mL"},
		{"-0.04 mL", "0.1 mL", "-0.1 mL", "0.0 mL", "0.0 mL"},
		{"5 mg", "0.25 [gr]", "0.00 [gr]", "0.00 [gr]", "0.25 [gr]"},
		{"0 mg", "5 ug", "0 ug", "0 ug", "0 ug"},
		{"20 min", "1 h", "0 h", "0 h", "1 h"},
		{"99999999999999999999999999999 kg", "2 ng", "99999999999999999999999999999000000000000 ng",
			"99999999999999999999999999999000000000000 ng", "99999999999999999999999999999000000000000 ng"},
	} {
		a, step := MustParse(c.a), MustParse(c.step)
		for i, reckon := range []func(Amount) (Amount, error){a.Down, a.Nearest, a.Up} {
			want := []string{c.down, c.nearest, c.up}[i]
			if got, err := reckon(step); err != nil || got.String() != want {
				t.Errorf("%s in steps of %s, case %d: %s, %v; want %s", a, step, i, got, err, want)
			}
		}
	}
	for _, c := range []struct {
		a, step string
		want    error
	}{{"5 mg", "0 mg", ErrStep}, {"5 mg", "-1 mg", ErrStep}, {"36.6 Cel", "0.5 Cel", ErrTemperatureSum}} {
		if got, err := MustParse(c.a).Down(MustParse(c.step)); !errors.Is(err, c.want) || !got.IsZero() {
			t.Errorf("%s in steps of %s: %s, %v; want %v", c.a, c.step, got, err, c.want)
		}
	}
	var de *DimensionError
	if _, err := MustParse("5 mg").Up(MustParse("1 mL")); !errors.As(err, &de) {
		t.Errorf("5 mg in steps of 1 mL: %v; want *DimensionError", err)
	}
}

func TestAbsentDoesNotReckon(t *testing.T) {
	some := MustParse("5 mg")
	for _, a := range []Amount{{}, {Unit: Mg}, {Value: DecimalFromInt(5)}} {
		for i, reckon := range []func() (Amount, error){
			func() (Amount, error) { return a.Sub(some) }, func() (Amount, error) { return some.Sub(a) },
			func() (Amount, error) { return a.Mul(some, Mg) }, func() (Amount, error) { return some.Mul(a, Mg) },
			func() (Amount, error) { return a.Div(some, One) }, func() (Amount, error) { return some.Div(a, One) },
			func() (Amount, error) { return a.Min(some) }, func() (Amount, error) { return some.Max(a) },
			func() (Amount, error) { return a.Down(some) }, func() (Amount, error) { return some.Up(a) },
			func() (Amount, error) { return a.Scale(DecimalFromInt(2)) },
		} {
			if got, err := reckon(); !errors.Is(err, ErrAbsent) || !got.IsZero() {
				t.Errorf("%#v, case %d: %s, %v; want ErrAbsent", a, i, got, err)
			}
		}
	}
	if _, err := some.Scale(Decimal{}); !errors.Is(err, ErrAbsent) {
		t.Errorf("5 mg times an absent number: %v; want ErrAbsent", err)
	}
	for _, reckon := range []func() (Amount, error){
		func() (Amount, error) { return MustParse("36 Cel").Sub(MustParse("1 Cel")) },
		func() (Amount, error) { return MustParse("36 Cel").Scale(DecimalFromInt(2)) },
	} {
		if got, err := reckon(); !errors.Is(err, ErrTemperatureSum) {
			t.Errorf("temperatures: %s, %v; want ErrTemperatureSum", got, err)
		}
	}
}

// TestDimensionsAreThoseOfTheParts takes every code of the table to its parts.
func TestDimensionsAreThoseOfTheParts(t *testing.T) {
	of := map[string]exponents{
		"g": {mass: 1}, "L": {volume: 1}, "m": {length: 1}, "m2": {length: 2}, "mol": {substance: 1}, "J": {energy: 1},
		"s": {second: 1}, "min": {second: 1}, "h": {second: 1}, "d": {second: 1}, "wk": {second: 1}, "mo": {second: 1}, "a": {second: 1},
		"[IU]": {international: 1}, "{drop}": {drops: 1}, "{puff}": {puffs: 1}, "{score}": {score: 1}, "1": {}, "%": {}, "[ppm]": {},
		"[gr]": {mass: 1}, "[lb_av]": {mass: 1}, "[oz_av]": {mass: 1}, "[stone_av]": {mass: 1},
		"[sc_ap]": {mass: 1}, "[dr_ap]": {mass: 1}, "[oz_ap]": {mass: 1},
		"[foz_us]": {volume: 1}, "[fdr_us]": {volume: 1}, "[min_us]": {volume: 1},
		"[foz_br]": {volume: 1}, "[fdr_br]": {volume: 1}, "[min_br]": {volume: 1}, "[in_i]": {length: 1}, "[ft_i]": {length: 1},
		"Pa": {pressure: 1}, "bar": {pressure: 1}, "m[Hg]": {pressure: 1}, "m[H2O]": {pressure: 1}, "[psi]": {pressure: 1}, "atm": {pressure: 1},
	}
	for _, u := range Units() {
		if u.Dimension() == Temperature {
			if len(rolesOf(u)) != 0 {
				t.Errorf("%s has products", u)
			}
			continue
		}
		var want exponents
		for i, p := range strings.Split(u.String(), "/") {
			e, ok := of[p]
			if !ok && p != "" {
				if e, ok = of[p[1:]]; !ok {
					t.Errorf("%s: part %q is not known here", u, p)
				}
			}
			sign := 1
			if i > 0 {
				sign = -1
				if p == "kg" {
					e = exponents{bodyMass: 1}
				}
			}
			want = combined(want, e, sign)
		}
		if got, ok := made[u.Dimension()]; !ok || got != want {
			t.Errorf("%s (%s) is made of %v, its parts of %v", u, u.Dimension(), got, want)
		}
	}
}
