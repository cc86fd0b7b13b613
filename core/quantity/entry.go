package quantity

import (
	"strings"
	"unicode/utf8"

	"github.com/cockroachdb/apd/v3"
)

// EntryError says by code why what a person typed is not an amount: the
// screens make the sentence.
type EntryError struct {
	Code string // empty, not-a-number, ambiguous-separator, unit-does-not-fit, too-long
	Text string // what was typed
	Unit Unit   // what was asked for
}

func (e *EntryError) Error() string {
	return "entry " + strings.ToValidUTF8(e.Text, "?") + " in " + e.Unit.code + ": " + e.Code
}

// written maps what people write after a number to a unit.
var written = map[string]string{
	"mmhg": "mm[Hg]", "c": "Cel", "°c": "Cel", "f": "[degF]", "°f": "[degF]", "mcg": "ug", "µg": "ug", "μg": "ug",
	"microgram": "ug", "micrograms": "ug", "gr": "[gr]", "grain": "[gr]", "grains": "[gr]", "lb": "[lb_av]",
	"ml": "mL", "l": "L", "l/min": "L/min", "ml/h": "mL/h", "ml/min": "mL/min", "drops/min": "{drop}/min",
	"psi": "[psi]", "iu": "[IU]", "bpm": "/min", "years": "a", "y": "a", "months": "mo", "weeks": "wk", "days": "d",
}

// ParseEntry reads what a person typed where an amount in unit was asked for:
// "36.6", "36,6", " 36.6 °C", "1/100 gr". Point and comma are both decimal
// marks; a text that could be read in two ways ("1,000", "1.000,5") is
// refused. A unit that was typed and is of the same dimension is kept as
// typed; one of another dimension is refused.
func ParseEntry(text string, unit Unit) (Amount, error) {
	fail := func(code string) (Amount, error) { return Amount{}, &EntryError{code, text, unit} }
	if len(text) > 60 || !utf8.ValidString(text) {
		return fail("too-long")
	}
	s := strings.TrimSpace(text)
	if s == "" {
		return fail("empty")
	}
	end := strings.IndexFunc(s, func(r rune) bool {
		return !(r >= '0' && r <= '9') && !strings.ContainsRune("-.,/", r)
	})
	digits, rest := s, ""
	if end >= 0 {
		digits, rest = s[:end], strings.TrimSpace(s[end:])
	}
	if strings.HasSuffix(digits, "/") { // "80/min": the slash belongs to the unit
		digits, rest = strings.TrimSuffix(digits, "/"), "/"+rest
	}
	if rest != "" {
		code, ok := written[strings.ToLower(rest)]
		if !ok {
			code = rest
		}
		typed, err := UnitOf(code)
		if err != nil || typed.Dimension() != unit.Dimension() {
			return fail("unit-does-not-fit")
		}
		unit = typed
	}
	top, bottom, fraction := strings.Cut(digits, "/")
	n, code := entryNumber(top)
	if code != "" {
		return fail(code)
	}
	if !fraction {
		return Amount{n, unit}, nil
	}
	m, code := entryNumber(bottom)
	if code != "" {
		return fail(code)
	}
	if m.Sign() <= 0 {
		return fail("not-a-number")
	}
	var r apd.Decimal
	if _, err := context.Quo(&r, n.apd(), m.apd()); err != nil {
		return fail("not-a-number")
	}
	// A fraction that has no end, such as 1/6, is kept to 12 decimals: far
	// finer than any scale, and short enough to store.
	return Amount{fromAPD(&r).Round(12), unit}, nil
}

// entryNumber reads a number with either decimal mark; code says what is wrong.
func entryNumber(s string) (d Decimal, code string) {
	mark := strings.IndexAny(s, ".,")
	if mark >= 0 {
		if strings.ContainsAny(s[mark+1:], ".,") {
			return d, "ambiguous-separator"
		}
		// Three digits behind a comma, and one to three that are not just a
		// zero before it: a thousands separator to one reader, a decimal
		// comma to another.
		if whole := strings.TrimPrefix(s[:mark], "-"); s[mark] == ',' && len(s)-mark == 4 && whole != "0" && whole != "" {
			return d, "ambiguous-separator"
		}
		s = s[:mark] + "." + s[mark+1:]
	}
	if strings.HasPrefix(s, ".") {
		s = "0" + s
	}
	s = strings.TrimSuffix(s, ".")
	for len(s) > 1 && s[0] == '0' && s[1] != '.' {
		s = s[1:]
	}
	d, err := ParseDecimal(s)
	if err != nil {
		if len(s) > maxDigits {
			return d, "too-long"
		}
		return d, "not-a-number"
	}
	return d, ""
}
