package quantity

import (
	"errors"
	"regexp"
	"strings"
	"testing"
)

// ofPrefix are the factors of the SI prefixes in the table (BIPM, SI Brochure,
// 9th ed., 2019, table 7).
var ofPrefix = map[string]string{
	"M": "1000000", "k": "1000", "h": "100", "d": "0.1", "c": "0.01", "m": "0.001", "u": "0.000001", "n": "0.000000001",
}

// atoms are the parts that codes of the table are made of, each with its
// definition, put down a second time and by other numbers than in the table:
// value, over value, in the unit of its dimension.
var atoms = map[string]struct {
	value, over string
	prefixes    bool
}{
	"g": {"1", "1", true}, "m": {"1", "1", true}, "s": {"1", "1", true}, "L": {"1", "1", true},
	"mol": {"1", "1", true}, "Pa": {"1", "1", true}, "bar": {"100000", "1", true}, "J": {"1", "1", true},
	"K": {"1", "1", true}, "[IU]": {"1", "1", true}, "{drop}": {"1", "1", false}, "{puff}": {"1", "1", false}, "{score}": {"1", "1", false},
	"1": {"1", "1", false}, "%": {"1", "100", false}, "[ppm]": {"1", "1000000", false},
	"min": {"60", "1", false}, "h": {"3600", "1", false}, "d": {"86400", "1", false}, "wk": {"604800", "1", false},
	"a": {"31557600", "1", false}, "mo": {"31557600", "12", false},
	"m[Hg]": {"133322.0", "1", true}, "m[H2O]": {"9806.65", "1", true}, "atm": {"101325", "1", false},
	"[gr]": {"0.06479891", "1", false}, "[sc_ap]": {"1.2959782", "1", false}, "[dr_ap]": {"3.8879346", "1", false},
	"[oz_ap]": {"31.1034768", "1", false}, // NIST Handbook 44, appendix C
	"[lb_av]": {"453.59237", "1", false}, "[oz_av]": {"453.59237", "16", false}, "[stone_av]": {"6350.29318", "1", false},
	"[in_i]": {"0.0254", "1", false}, "[ft_i]": {"0.3048", "1", false},
	// 231 cubic inches of 0.254 dm, over 128, 1024 and 61440.
	"[foz_us]": {"3.785411784", "128", false}, "[fdr_us]": {"3.785411784", "1024", false}, "[min_us]": {"3.785411784", "61440", false},
	"[foz_br]": {"4.54609", "160", false}, "[fdr_br]": {"4.54609", "1280", false}, "[min_br]": {"4.54609", "76800", false},
	"m2": {"1", "1", false},
	// 453.59237 g * 9.80665 m/s2 / (2.54 cm)^2, in Pa.
	"[psi]": {"0.45359237", "0.00064516", false},
}

// TestFactorsAreThoseOfTheParts takes every code of the table to its parts, and
// the factor in the table must be that of the parts.
func TestFactorsAreThoseOfTheParts(t *testing.T) {
	for _, d := range definitions {
		if d.dimension == Temperature {
			continue // affine; TestPublishedConversions has them
		}
		num, den := mustNumber("1"), mustNumber("1")
		parts := strings.Split(d.code, "/")
		for i, p := range parts {
			if p == "" {
				continue // "/min"
			}
			value, over := atom(t, p)
			// A dose for each kilogram stays so: kg is the unit below.
			if perBody := i > 0 && p == "kg"; perBody {
				value, over = "1", "1"
			}
			n, o := mustNumber(value), mustNumber(over)
			if p == "[psi]" {
				n = product(n, mustNumber("9.80665"))
			}
			if i > 0 {
				n, o = o, n
			}
			num, den = product(num, n), product(den, o)
		}
		// times/by == num/den, crosswise.
		if product(d.timesN, den).Cmp(product(d.byN, num)) != 0 {
			t.Errorf("%s: the table has %s/%s, its parts make %s/%s", d.code, d.timesN, d.byN, num, den)
		}
	}
}

func atom(t *testing.T, p string) (value, over string) {
	t.Helper()
	if a, ok := atoms[p]; ok {
		return a.value, a.over
	}
	if a, ok := atoms[p[1:]]; ok && a.prefixes {
		return product(mustNumber(ofPrefix[p[:1]]), mustNumber(a.value)).Text('f'), a.over
	}
	t.Fatalf("part %q is not known here", p)
	return "", ""
}

func TestTable(t *testing.T) {
	// What UCUM allows in a code: no space, no character outside ASCII.
	plain := regexp.MustCompile(`^[!-~]+$`)
	for _, u := range Units() {
		if got, err := UnitOf(u.String()); err != nil || got != u {
			t.Errorf("UnitOf(%q) = %v, %v", u, got, err)
		}
		if !plain.MatchString(u.String()) {
			t.Errorf("%q is not a code", u)
		}
		if u.Dimension() == "" || u.Source() == "" {
			t.Errorf("%s: dimension %q, source %q", u, u.Dimension(), u.Source())
		}
		d := u.definition()
		if d.timesN.Sign() <= 0 || d.byN.Sign() <= 0 {
			t.Errorf("%s: factor %s/%s is not positive, and Cmp counts on that", u, d.timesN, d.byN)
		}
	}
}

func TestUnknownUnits(t *testing.T) {
	// Case matters; what is not in the table is not worked out.
	for _, code := range []string{"", "MG", "Mg", "mmHg", "mm[HG]", "cel", "ml", "µg", "mcg", "g/mg", "mg ", " mg", "U", "kg.m"} {
		u, err := UnitOf(code)
		var unknown *UnknownUnitError
		if !errors.As(err, &unknown) || unknown.Code != code || !u.IsZero() {
			t.Errorf("UnitOf(%q) = %v, %v; want *UnknownUnitError", code, u, err)
		}
	}
	defer func() {
		if recover() == nil {
			t.Error("MustUnit of an unknown code does not panic")
		}
	}()
	MustUnit("mmHg")
}

func TestNoUnit(t *testing.T) {
	var u Unit
	if !u.IsZero() || u.String() != "" || u.Dimension() != "" || u.Spelled() || u.Symbol() != "" || u.Source() != "" {
		t.Error("no unit has something of a unit")
	}
}

func TestUnitText(t *testing.T) {
	for _, u := range append(Units(), Unit{}) {
		b, err := u.MarshalText()
		if err != nil {
			t.Fatal(err)
		}
		got := Mg
		if err := got.UnmarshalText(b); err != nil || got != u {
			t.Errorf("%q reads back as %q, %v", u, got, err)
		}
	}
	u := Mg
	if err := u.UnmarshalText([]byte("mcg")); err == nil || u != Mg {
		t.Errorf("mcg unmarshals to %s, %v", u, err)
	}
}
