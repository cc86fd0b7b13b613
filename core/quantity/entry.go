package quantity

import (
	"errors"
	"fmt"
	"strings"
	"unicode"
	"unicode/utf8"
)

// What can be wrong with an entry, as EntryError.Code has it.
const (
	EntryEmpty              = "empty"               // nothing but space
	EntryNotANumber         = "not-a-number"        // no number, or more than one
	EntryAmbiguousSeparator = "ambiguous-separator" // a mark that may divide thousands or decimals
	EntryUnitDoesNotFit     = "unit-does-not-fit"   // unit unknown, ambiguous, of another dimension, or wanting
	EntryTooLong            = "too-long"            // more than anybody types
)

// EntryError says why what a person typed is not taken. The code, one of the
// Entry constants, is for the screens to make a sentence of; what was typed is
// in it, so that nothing typed is lost.
type EntryError struct {
	Code string
	Text string // as typed
	Unit Unit   // that was asked for; none for a strength
}

func (e *EntryError) Error() string {
	in := ""
	if !e.Unit.IsZero() {
		in = " in " + e.Unit.inFull()
	}
	return fmt.Sprintf("%.80q is not an amount%s: %s", e.Text, in, e.Code)
}

// fractionDecimals is how many decimals an entry has that does not come out even.
const fractionDecimals = 20

// maxEntryLen is the most characters of an entry: a number of the longest kind
// and the longest unit, with room to spare.
const maxEntryLen = 80

// ParseEntry reads what a person types where an amount in the unit is asked
// for: "36.6", "36,6", " 36.6 ", ".5". A unit may be written behind it, by
// its UCUM code or as people write it, in capitals or not ("0.65 mg",
// "36,6 °C", "5 mcg", "40 drops/min"). It must be of the dimension asked for;
// the amount is kept in the unit written, not converted. Where unit is none,
// one must be written.
//
// The decimal mark is a point or a comma. A mark that may divide thousands is
// refused and not guessed at, for the two readings are a thousandfold apart:
// a comma before exactly three digits ("1,000", "2,755"), a point before
// three digits that end in nought ("1.500": nobody who means decimals writes
// that nought), and any second mark or space ("1,000.5", "1 000"). With a
// nought before the mark ("0,125") there are no thousands and no doubt.
//
// Apothecaries' amounts may be fractions: "1/100 gr", "gr 1/4", "1 1/2 gr",
// "½ gr". A fraction that does not come out even is rounded to 20 decimals.
// Elsewhere a fraction is not a number: 120/80 is two. Since "gr" is also
// written for grams, it is grains only where grains were asked for, where it
// stands before the number, or with a fraction.
//
// Where a concentration for a drug is asked for, in mg/mL or another unit per
// mL that labels use, a strength may be written as in ParseStrength, and is
// taken as its concentration: "1:200 000" as 5 ug/mL, "1 %" as 10 mg/mL,
// "100 mg/2 mL" as 50 mg/mL. Elsewhere "1 %" is a fraction and no more: in g/dL
// or g/L, as a laboratory reports, it would be a misunderstanding.
//
// The error is an *EntryError.
func ParseEntry(text string, unit Unit) (Amount, error) {
	a, err := parseEntry(text, unit)
	if err == nil || !onLabels(unit) {
		return a, err
	}
	s, none := ParseStrength(text)
	var e *EntryError
	if errors.As(none, &e) && e.Code == EntryAmbiguousSeparator {
		return Amount{}, &EntryError{Code: e.Code, Text: text, Unit: unit}
	}
	if none != nil || s.Concentration().Unit.Dimension() != unit.Dimension() {
		return a, err
	}
	a = s.Concentration()
	if len(a.Value.text) > MaxDecimalLen {
		a = a.Round(fractionDecimals)
	}
	if len(a.Value.text) > MaxDecimalLen || a.Value.Sign() == 0 {
		return Amount{}, &EntryError{Code: EntryTooLong, Text: text, Unit: unit}
	}
	return a, nil
}

// onLabels reports whether concentrations of drugs are asked for in the unit.
func onLabels(u Unit) bool {
	switch u.code {
	case "g/mL", "mg/mL", "ug/mL", "mmol/mL", "[IU]/mL":
		return true
	}
	return false
}

func parseEntry(text string, unit Unit) (Amount, error) {
	fail := func(code string) (Amount, error) {
		return Amount{}, &EntryError{Code: code, Text: text, Unit: unit}
	}
	if len(text) > maxEntryLen*utf8.UTFMax || utf8.RuneCountInString(text) > maxEntryLen {
		return fail(EntryTooLong)
	}
	s := tidy(text)
	if s == "" {
		return fail(EntryEmpty)
	}
	number, suffix, prefixed := divide(s)
	if number == "" {
		return fail(EntryNotANumber)
	}
	fraction := strings.Contains(number, "/")

	in := unit
	if suffix != "" {
		in = written(suffix)
		doubtful := isGr(suffix) && unit != Grain && !prefixed && !fraction
		if in.IsZero() || doubtful || !unit.IsZero() && in.Dimension() != unit.Dimension() {
			return fail(EntryUnitDoesNotFit)
		}
	}
	if in.IsZero() {
		return fail(EntryUnitDoesNotFit)
	}

	read := readNumber
	if fraction && in.definition().apothecary() {
		read = readFraction
	}
	value, code := read(number)
	if code != "" {
		return fail(code)
	}
	return Amount{value, in}, nil
}

// tidy trims the text and writes its characters in one way.
func tidy(text string) string {
	return strings.TrimSpace(strings.Map(func(r rune) rune {
		if unicode.IsSpace(r) { // no-break spaces too
			return ' '
		}
		return r
	}, alike.Replace(text)))
}

var alike = strings.NewReplacer(
	"−", "-", "⁄", "/", "²", "2", "µ", "u", "μ", "u",
	"½", " 1/2", "⅓", " 1/3", "⅔", " 2/3", "¼", " 1/4", "¾", " 3/4", "⅙", " 1/6", "⅛", " 1/8",
)

// divide parts the number from the unit behind it or, for grains, before it.
func divide(s string) (number, suffix string, prefixed bool) {
	if rest, ok := strings.CutPrefix(strings.ToLower(s), "gr"); ok {
		rest = strings.TrimLeft(rest, ". ")
		if rest != "" && isDigit(rest[0]) && numberLen(rest) == len(rest) {
			return rest, "gr", true
		}
	}
	// A slash at the end of the number belongs to the unit: "80/min".
	number = strings.TrimRight(s[:numberLen(s)], " /")
	return number, strings.TrimSpace(s[len(number):]), false
}

// numberLen returns how far s has only what numbers are written with.
func numberLen(s string) int {
	i := strings.IndexFunc(s, func(r rune) bool { return !strings.ContainsRune("0123456789.,/+- ", r) })
	if i < 0 {
		return len(s)
	}
	return i
}

// readNumber reads one number with a decimal point or comma.
func readNumber(s string) (d Decimal, code string) {
	sign := ""
	if rest, ok := strings.CutPrefix(s, "-"); ok {
		sign, s = "-", rest
	} else {
		s = strings.TrimPrefix(s, "+")
	}
	if strings.Trim(s, "0123456789., ") != "" {
		return Decimal{}, EntryNotANumber
	}
	at := strings.IndexAny(s, "., ")
	if at < 0 {
		return wire(sign, s, "")
	}
	mark, whole, part := s[at], s[:at], s[at+1:]
	if !allDigits(part) {
		// A second mark or space between digits is a matter of separators;
		// a mark with nothing behind it is a number that was not finished.
		if whole != "" && part != "" && isDigit(part[len(part)-1]) {
			return Decimal{}, EntryAmbiguousSeparator
		}
		return Decimal{}, EntryNotANumber
	}
	thousands := len(part) == 3 && len(whole) >= 1 && len(whole) <= 3 && whole[0] != '0'
	if mark == ' ' || thousands && (mark == ',' || part[2] == '0') {
		return Decimal{}, EntryAmbiguousSeparator
	}
	return wire(sign, orElse(whole, "0"), part)
}

// wire puts a number together in wire form.
func wire(sign, whole, part string) (d Decimal, code string) {
	s := sign + orElse(strings.TrimLeft(whole, "0"), "0")
	if part != "" {
		s += "." + part
	}
	if len(s) > MaxDecimalLen {
		return Decimal{}, EntryTooLong
	}
	if whole == "" {
		return Decimal{}, EntryNotANumber
	}
	d, err := ParseDecimal(s)
	if err != nil {
		return Decimal{}, EntryNotANumber
	}
	if sign != "" && d.Sign() == 0 {
		d.text = d.text[1:]
	}
	return d, ""
}

// readFraction reads "1/4" or "1 1/2".
func readFraction(s string) (d Decimal, code string) {
	whole, rest, mixed := strings.Cut(s, " ")
	if !mixed {
		whole, rest = "0", s
	}
	top, bottom, _ := strings.Cut(strings.TrimSpace(rest), "/")
	for _, n := range []string{whole, top, bottom} {
		if !allDigits(n) {
			return Decimal{}, EntryNotANumber
		}
		if len(n) > 6 {
			return Decimal{}, EntryTooLong
		}
	}
	under := mustNumber(bottom)
	if under.IsZero() {
		return Decimal{}, EntryNotANumber
	}
	over := sum(product(mustNumber(whole), under), mustNumber(top))
	return decimalOf(quotient(over, under)).Round(fractionDecimals), ""
}

// written returns the unit that a person means, none if it is not known.
func written(s string) Unit {
	if u, err := UnitOf(s); err == nil {
		return u
	}
	return Unit{spellings[spelling(s)]}
}

func isGr(s string) bool {
	switch strings.ToLower(strings.TrimRight(s, ". ")) {
	case "gr", "grs":
		return true
	}
	return false
}

// spelling brings a written unit into one form: no capitals, no spaces, and
// each of its parts by its UCUM code. In the table no two codes differ by
// capitals alone; there is no megagram to take for a milligram.
func spelling(s string) string {
	s = strings.ReplaceAll(strings.ToLower(alike.Replace(s)), " ", "")
	s = strings.TrimRight(s, ".")
	if whole, ok := wholes[s]; ok {
		return whole
	}
	parts := strings.Split(s, "/")
	for i, p := range parts {
		if code, ok := synonyms[p]; ok {
			parts[i] = code
		}
	}
	return strings.Join(parts, "/")
}

// spellings leads from a spelling to the code: of the codes themselves and of
// the units as Print writes them.
var spellings = func() map[string]string {
	m := make(map[string]string)
	add := func(s, code string) {
		if s == "" {
			return
		}
		s = spelling(s)
		if other, ok := m[s]; ok && other != code {
			panic("quantity: " + s + " may be " + code + " or " + other)
		}
		m[s] = code
	}
	for _, d := range definitions {
		one, many := Unit{d.code}.names()
		add(d.code, d.code)
		add(one, d.code)
		add(many, d.code)
	}
	return m
}()

// wholes are other ways to write a whole unit.
var wholes = map[string]string{
	"bpm": "/min", "lpm": "l/min", "perminute": "/min", "percent": "%",
	"mm.hg": "mm[hg]", "\"": "[in_i]", "'": "[ft_i]",
}

// synonyms are other ways to write a part of a unit, without capitals. "U" is
// not among them: it is read as a nought (ISMP, as in Amount.Print), and so
// nobody should get used to it.
var synonyms = map[string]string{
	"mmhg": "mm[hg]", "cmh2o": "cm[h2o]", "psi": "[psi]", "ppm": "[ppm]",
	"c": "cel", "°c": "cel", "celsius": "cel", "degc": "cel",
	"f": "[degf]", "°f": "[degf]", "fahrenheit": "[degf]", "degf": "[degf]",
	"kgs": "kg", "kilo": "kg", "kilos": "kg", "kilogram": "kg", "kilograms": "kg",
	"gm": "g", "gms": "g", "gram": "g", "grams": "g", "gramme": "g", "grammes": "g",
	"milligram": "mg", "milligrams": "mg", "milligramme": "mg", "milligrammes": "mg",
	"mcg": "ug", "microgram": "ug", "micrograms": "ug", "microgramme": "ug", "microgrammes": "ug", "nanogram": "ng", "nanograms": "ng",
	"gr": "[gr]", "grs": "[gr]", "grain": "[gr]", "grains": "[gr]",
	"lb": "[lb_av]", "lbs": "[lb_av]", "pound": "[lb_av]", "pounds": "[lb_av]", "oz": "[oz_av]",
	"st": "[stone_av]", "stone": "[stone_av]",
	"litre": "l", "litres": "l", "liter": "l", "liters": "l",
	"cc": "ml", "millilitre": "ml", "millilitres": "ml", "milliliter": "ml", "milliliters": "ml",
	"microlitre": "ul", "microlitres": "ul", "micromol": "umol",
	"in": "[in_i]", "inch": "[in_i]", "inches": "[in_i]", "ft": "[ft_i]", "foot": "[ft_i]", "feet": "[ft_i]",
	"y": "a", "yr": "a", "yrs": "a", "year": "a", "years": "a", "month": "mo", "months": "mo",
	"week": "wk", "weeks": "wk", "wks": "wk", "day": "d", "days": "d",
	"hr": "h", "hrs": "h", "hour": "h", "hours": "h",
	"mins": "min", "minute": "min", "minutes": "min", "sec": "s", "secs": "s", "second": "s", "seconds": "s",
	"drop": "{drop}", "drops": "{drop}", "gtt": "{drop}", "puff": "{puff}", "puffs": "{puff}",
	"iu": "[iu]", "unit": "[iu]", "units": "[iu]", "internationalunit": "[iu]", "internationalunits": "[iu]",
	"joule": "j", "joules": "j",
}

func isDigit(c byte) bool { return '0' <= c && c <= '9' }
