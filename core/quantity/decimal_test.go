package quantity

import (
	"encoding/json"
	"errors"
	"math"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// decimals draws numbers in wire form, as long as the wire form allows.
func decimals() *rapid.Generator[Decimal] {
	return decimalsOf(`-?(0|[1-9][0-9]{0,13})(\.[0-9]{1,14})?`)
}

// readings draws numbers of the size that instruments show and people enter.
func readings() *rapid.Generator[Decimal] {
	return decimalsOf(`-?(0|[1-9][0-9]{0,5})(\.[0-9]{1,6})?`)
}

func decimalsOf(pattern string) *rapid.Generator[Decimal] {
	return rapid.Custom(func(t *rapid.T) Decimal {
		s := rapid.StringMatching(pattern).Draw(t, "decimal")
		d, err := ParseDecimal(s)
		if err != nil {
			t.Fatalf("ParseDecimal(%q): %v", s, err)
		}
		return d
	})
}

func TestParseDecimal(t *testing.T) {
	for _, s := range []string{
		"0", "5", "0.5", "0.50", "10", "-1", "-0.5", "120", "1000000", "0.000001", "-0", "0.0",
		"123456789012345678901234567890", // MaxDecimalLen characters
	} {
		d, err := ParseDecimal(s)
		if err != nil || d.String() != s {
			t.Errorf("ParseDecimal(%q) = %q, %v; want it as it is", s, d, err)
		}
	}
	for _, s := range []string{
		"", "-", "+5", ".5", "5.", "-.5", "05", "00", "-05", "00.5", "1e3", "1E3", "1,5", "1 000", " 1", "1 ",
		"--1", "1.2.3", "0x10", "NaN", "Infinity", "½", "٣", "1_000", "1\n",
	} {
		if d, err := ParseDecimal(s); !errors.Is(err, ErrNotDecimal) || !d.IsZero() {
			t.Errorf("ParseDecimal(%q) = %q, %v; want ErrNotDecimal", s, d, err)
		}
	}
	for _, s := range []string{strings.Repeat("1", MaxDecimalLen+1), "0." + strings.Repeat("0", 1<<16)} {
		if _, err := ParseDecimal(s); !errors.Is(err, ErrTooLong) {
			t.Errorf("ParseDecimal of %d characters: %v; want ErrTooLong", len(s), err)
		} else if len(err.Error()) > 200 {
			t.Errorf("the message repeats all %d characters", len(s))
		}
	}
}

func TestDecimalIsKeptAsEntered(t *testing.T) {
	a, b := MustParse("0.5 mg").Value, MustParse("0.50 mg").Value
	if a == b {
		t.Error("0.5 == 0.50: what was entered is lost")
	}
	if a.Cmp(b) != 0 {
		t.Error("0.5 and 0.50 compare as different numbers")
	}
}

func TestDecimalAbsent(t *testing.T) {
	var absent Decimal
	nought := DecimalFromInt(0)
	if !absent.IsZero() || nought.IsZero() {
		t.Error("IsZero takes nought for absent, or absent for nought")
	}
	if absent == nought || absent.Cmp(nought) != -1 || nought.Cmp(absent) != 1 || absent.Cmp(absent) != 0 {
		t.Error("absent does not come before nought")
	}
	if absent.Sign() != 0 || absent.Round(1) != absent || absent.String() != "" {
		t.Error("something comes out of an absent number")
	}
	if !math.IsNaN(absent.Float64()) {
		t.Errorf("Float64 of an absent number = %v; want NaN", absent.Float64())
	}
}

func TestDecimalSignAndInt(t *testing.T) {
	for n, sign := range map[int64]int{0: 0, 5: 1, -5: -1, math.MaxInt64: 1, math.MinInt64: -1} {
		d := DecimalFromInt(n)
		if d.Sign() != sign || d.String() != strconv.FormatInt(n, 10) {
			t.Errorf("DecimalFromInt(%d) = %s, sign %d", n, d, d.Sign())
		}
		if back, err := ParseDecimal(d.String()); err != nil || back != d {
			t.Errorf("%s does not read back: %v", d, err)
		}
	}
	for s, sign := range map[string]int{"-0": 0, "-0.00": 0, "-0.01": -1, "0.01": 1} {
		if d, err := ParseDecimal(s); err != nil || d.Sign() != sign {
			t.Errorf("Sign(%s) = %d, %v; want %d", s, d.Sign(), err, sign)
		}
	}
}

func TestRound(t *testing.T) {
	// Half goes to the even neighbour: IEEE 754-2008, section 4.3.1.
	for _, c := range []struct {
		in       string
		decimals int
		want     string
	}{
		{"0.5", 0, "0"}, {"1.5", 0, "2"}, {"2.5", 0, "2"}, {"-0.5", 0, "0"}, {"-1.5", 0, "-2"},
		{"0.125", 2, "0.12"}, {"0.135", 2, "0.14"}, {"0.1251", 2, "0.13"},
		{"36.65", 1, "36.6"}, {"99.96", 1, "100.0"}, {"0.996", 2, "1.00"},
		{"0.50", 1, "0.5"}, {"0.50", 2, "0.50"}, {"5", 3, "5"}, {"-0.04", 1, "0.0"},
		{"1234", -1, "1230"}, {"1235", -1, "1240"}, {"1245", -1, "1240"}, {"1234", -3, "1000"},
		{"1500", -3, "2000"}, {"500", -3, "0"}, {"501", -3, "1000"}, {"49", -3, "0"},
		{"5", -1 << 30, "0"}, {"5", 1 << 30, "5"}, {"0.00", -2, "0"},
	} {
		d, err := ParseDecimal(c.in)
		if err != nil {
			t.Fatal(err)
		}
		if got := d.Round(c.decimals); got.String() != c.want {
			t.Errorf("%s to %d decimals = %s; want %s", c.in, c.decimals, got, c.want)
		}
	}
}

func TestRoundedIsWireFormAndNear(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := decimals().Draw(t, "d")
		decimals := rapid.IntRange(-16, 16).Draw(t, "decimals")
		r := d.Round(decimals)
		if _, err := ParseDecimal(r.String()); err != nil {
			t.Fatalf("%s to %d decimals = %q: %v", d, decimals, r, err)
		}
		// At most half a unit of the last place kept, so twice the
		// difference is at most that unit.
		unit := mustNumber("1E" + strconv.Itoa(-decimals))
		off := difference(d.number(), r.number())
		if off.Abs(off); product(off, mustNumber("2")).Cmp(unit) > 0 {
			t.Fatalf("%s to %d decimals = %s", d, decimals, r)
		}
		if again := r.Round(decimals); again != r {
			t.Fatalf("%s rounds again, to %s", r, again)
		}
	})
}

func TestDecimalCmpIsAnOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b, c := decimals().Draw(t, "a"), decimals().Draw(t, "b"), decimals().Draw(t, "c")
		if a.Cmp(a) != 0 || a.Cmp(b) != -b.Cmp(a) {
			t.Fatalf("Cmp(%s, %s) = %d, the other way %d", a, b, a.Cmp(b), b.Cmp(a))
		}
		if a.Cmp(b) <= 0 && b.Cmp(c) <= 0 && a.Cmp(c) > 0 {
			t.Fatalf("%s <= %s <= %s, but not %[1]s <= %[3]s", a, b, c)
		}
		// Rounding to float64 keeps the order, though not the difference.
		if x, y := a.Float64(), b.Float64(); x < y && a.Cmp(b) >= 0 {
			t.Fatalf("Cmp(%s, %s) = %d, yet %v < %v", a, b, a.Cmp(b), x, y)
		}
	})
}

func TestDecimalJSON(t *testing.T) {
	type payload struct {
		Size Decimal `json:"size,omitzero"`
	}
	for text, want := range map[string]payload{`{}`: {}, `{"size":"7.50"}`: {MustParse("7.50 mm").Value}} {
		b, err := json.Marshal(want)
		if err != nil || string(b) != text {
			t.Errorf("%v marshals to %s, %v; want %s", want, b, err, text)
		}
		var got payload
		if err := json.Unmarshal([]byte(text), &got); err != nil || got != want {
			t.Errorf("%s unmarshals to %v, %v", text, got, err)
		}
	}
	for _, text := range []string{`{"size":"7,5"}`, `{"size":7.5}`, `{"size":".5"}`} {
		var got payload
		if err := json.Unmarshal([]byte(text), &got); err == nil {
			t.Errorf("%s unmarshals to %v", text, got)
		}
	}
}

func FuzzParseDecimal(f *testing.F) {
	for _, s := range []string{"", "0", "-0", "0.50", "05", ".5", "5.", "1e9", "1,5", "123456789012345678901234567890", "-"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		d, err := ParseDecimal(s)
		if err != nil {
			if !d.IsZero() {
				t.Fatalf("ParseDecimal(%q) = %q and %v", s, d, err)
			}
			return
		}
		if d.String() != s {
			t.Fatalf("%q reads as %q", s, d)
		}
		if d.Cmp(d) != 0 || math.IsNaN(d.Float64()) {
			t.Fatalf("%q is not a number to reckon with", s)
		}
	})
}
