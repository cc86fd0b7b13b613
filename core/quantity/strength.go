package quantity

import (
	"fmt"
	"strings"
	"unicode/utf8"
)

// StrengthForm is a way to write how strong a preparation is.
type StrengthForm string

// The ways to write a strength. The last two have led to tenfold and greater
// errors, so a screen shows the concentration beside them.
const (
	PerVolume StrengthForm = "per-volume" // 10 mg/mL, 100 mg/2 mL
	InPercent StrengthForm = "percent"    // 1 %: 1 g in 100 mL
	AsRatio   StrengthForm = "ratio"      // 1:1000: 1 g in 1000 mL
)

// Strength is how strong a preparation is, as its label writes it: so much of
// a drug in so much volume. It is kept as written, so == tells "1 %" from
// "10 mg/mL"; compare concentrations to learn that they are the same. The zero
// Strength is absent.
//
// A percentage is grams in 100 mL, weight in volume, as for solutions of solids
// in liquids it is wherever nothing else is said (USP 28, 2005, General Notices,
// Percentage Measurements; read in a copy). A ratio is grams in millilitres:
// 1:1000 is 1 mg/mL, 1:10 000 is 0.1 mg/mL (FDA, Single Entity Injectable Drug
// Products, 2017, table; USP, general chapter 7, Labeling, 2016, which takes
// ratios off such labels because of the errors they led to; both read). For
// liquids in liquids and for ointments percentages mean something else, so that
// "w/w" and "v/v" are refused.
type Strength struct {
	written string
	form    StrengthForm
	of, in  Amount
}

// ParseStrength reads what labels say: "10 mg/mL", "100 mg/2 mL", "1 %",
// "0,5 % w/v", "1:1000", "1:200 000", "5 [IU]/mL", "1 mmol/mL". Numbers and
// units are written as in ParseEntry, and what is doubtful there is refused
// here; only behind the colon of a ratio, where nothing but a whole number can
// stand, thousands may be set apart by spaces, points or commas. "in" and "per"
// may stand for the stroke and the colon: "100 mg in 2 mL", "1 in 1000".
//
// The amount is a mass, an amount of substance or international units, and
// neither it nor the volume is nought. A ratio below 1:100 is refused: "1:10"
// on a syringe is a dilution of something and not a strength (common practice,
// no source; the strongest on the list of USP is 1:400).
//
// The error is an *EntryError without a unit.
func ParseStrength(text string) (Strength, error) {
	fail := func(code string) (Strength, error) {
		return Strength{}, &EntryError{Code: code, Text: text}
	}
	if len(text) > maxEntryLen*utf8.UTFMax || utf8.RuneCountInString(text) > maxEntryLen {
		return fail(EntryTooLong)
	}
	s := strings.ToLower(tidy(text))
	if s == "" {
		return fail(EntryEmpty)
	}
	made, code := readStrength(s)
	if code != "" {
		return fail(code)
	}
	made.written = strings.TrimSpace(text)
	return made, nil
}

// MustStrength is ParseStrength for strengths in the source text; it panics on
// a bad one.
func MustStrength(s string) Strength {
	made, err := ParseStrength(s)
	if err != nil {
		panic("quantity: " + err.Error())
	}
	return made
}

// readStrength reads what tidy has tidied, in small letters.
func readStrength(s string) (made Strength, code string) {
	if left, right, ok := cutAny(s, ":", " in "); ok && isRatio(left, right) {
		return readRatio(left, right)
	}
	for _, per := range []string{" per ", " in "} {
		s = strings.Replace(s, per, "/", 1)
	}
	number := strings.TrimRight(s[:numberLen(s)], " /")
	unit := strings.TrimSpace(s[len(number):])
	value, code := readNumber(number)
	switch {
	case number == "":
		return Strength{}, EntryNotANumber
	case code != "":
		return Strength{}, code
	case value.Sign() <= 0:
		return Strength{}, EntryNotANumber
	}
	switch unit {
	case "%", "percent", "% w/v", "%w/v", "% (w/v)", "%(w/v)", "percent w/v":
		return Strength{form: InPercent, of: Amount{value, G}, in: Amount{DecimalFromInt(100), ML}}, ""
	}
	drug, volume, ok := strings.Cut(unit, "/")
	if !ok {
		return Strength{}, EntryUnitDoesNotFit
	}
	of := Amount{value, written(drug)}
	if isGr(strings.TrimSpace(drug)) {
		return Strength{}, EntryUnitDoesNotFit // grains or grams
	}
	volume = strings.TrimSpace(volume)
	count := strings.TrimRight(volume[:numberLen(volume)], " ")
	in := Amount{DecimalFromInt(1), written(strings.TrimSpace(volume[len(count):]))}
	if count != "" {
		if in.Value, code = readNumber(count); code != "" {
			return Strength{}, code
		}
	}
	if _, ok := perVolume[of.Unit.Dimension()]; !ok || in.Unit.Dimension() != Volume {
		return Strength{}, EntryUnitDoesNotFit
	}
	if in.Value.Sign() <= 0 {
		return Strength{}, EntryNotANumber
	}
	return Strength{form: PerVolume, of: of, in: in}, ""
}

// perVolume are the units of concentrations, by what is in the volume.
var perVolume = map[Dimension]Unit{Mass: MgPerML, AmountOfSubstance: MmolPerML, International: IUPerML}

// cutAny is strings.Cut at whichever of the marks there is.
func cutAny(s string, marks ...string) (left, right string, ok bool) {
	for _, m := range marks {
		if left, right, ok = strings.Cut(s, m); ok {
			return strings.TrimSpace(left), strings.TrimSpace(right), true
		}
	}
	return "", "", false
}

// isRatio reports whether there are nothing but numbers on either side.
func isRatio(left, right string) bool {
	return left != "" && right != "" && numberLen(left) == len(left) && numberLen(right) == len(right)
}

// readRatio reads 1 and 200 000 of "1:200 000".
func readRatio(left, right string) (made Strength, code string) {
	if left != "1" {
		return Strength{}, EntryNotANumber
	}
	whole := right
	if i := strings.IndexAny(right, " .,"); i >= 0 {
		groups := strings.Split(right, right[i:i+1])
		for n, g := range groups {
			if !allDigits(g) || len(g) > 3 || n > 0 && len(g) != 3 {
				return Strength{}, EntryAmbiguousSeparator
			}
		}
		whole = strings.Join(groups, "")
	}
	if !allDigits(whole) || whole[0] == '0' {
		return Strength{}, EntryNotANumber
	}
	if len(whole) > 9 {
		return Strength{}, EntryTooLong
	}
	if len(whole) < 3 {
		return Strength{}, EntryUnitDoesNotFit
	}
	return Strength{form: AsRatio, of: Amount{DecimalFromInt(1), G}, in: Amount{Decimal{whole}, ML}}, ""
}

// String returns the strength as it was written, but for space around it, and
// "" for an absent one. ParseStrength reads it back.
func (s Strength) String() string { return s.written }

// IsZero reports whether s is absent.
func (s Strength) IsZero() bool { return s == Strength{} }

// Form says how the strength was written, "" for an absent one.
func (s Strength) Form() StrengthForm { return s.form }

// Parts returns how much is in how much: 100 mg in 2 mL. For "10 mg/mL" that is
// 10 mg in 1 mL, for "1 %" 1 g in 100 mL, for "1:1000" 1 g in 1000 mL. Only
// where Form is PerVolume the two may be those of one ampoule.
func (s Strength) Parts() (of, in Amount) { return s.of, s.in }

// Concentration returns the strength as people reckon with it: in mg/mL, in
// ug/mL or ng/mL where it was written in micrograms or nanograms, in [IU]/mL or
// in mmol/mL. A percentage or a ratio of less than 0.1 mg/mL is in ug/mL:
// 1:200 000 is 5 ug/mL. It has the exactness of Amount.In, and is absent where
// s is.
func (s Strength) Concentration() Amount {
	if s.IsZero() {
		return Amount{}
	}
	unit := perVolume[s.of.Unit.Dimension()]
	switch s.of.Unit {
	case Ug:
		unit = UgPerML
	case Ng:
		unit = NgPerML
	}
	c := s.per(unit)
	if s.form != PerVolume && c.Value.Cmp(tenth) < 0 {
		c = s.per(UgPerML)
	}
	return c
}

var tenth = Decimal{"0.1"}

// per returns the concentration in the unit. ParseStrength sees to it that
// there is one.
func (s Strength) per(u Unit) Amount {
	c, err := s.of.Div(s.in, u)
	if err != nil {
		panic(fmt.Sprintf("quantity: strength %q: %v", s.written, err))
	}
	return c
}

// Print writes the strength in the form in which it was written, as safe
// prescribing asks (see Amount.Print): "10 mg/mL", "100 mg/2 mL", "0.5 %",
// "20 micrograms/mL". The thousands of a ratio, in which noughts are miscounted
// (ISMP, as in Print), are set apart by no-break spaces: "1:200 000". Words are
// English; where Spelled says that there are any, make the text of Parts and of
// the catalogue instead.
func (s Strength) Print(comma bool) string {
	switch s.form {
	case "":
		return ""
	case InPercent:
		return Print(s.of.Value, comma) + " %"
	case AsRatio:
		return "1:" + thousands(s.in.Value.text)
	}
	number, drug := s.of.Print(comma)
	count, volume := s.in.Print(comma)
	if count == "1" {
		return number + " " + drug + "/" + volume
	}
	return number + " " + drug + "/" + count + " " + volume
}

// Spelled reports whether Print writes a unit with words.
func (s Strength) Spelled() bool {
	return s.form == PerVolume && (s.of.Unit.Spelled() || s.in.Unit.Spelled())
}

// thousands sets the thousands of a whole number apart.
func thousands(digits string) string {
	for i := len(digits) - 3; i > 0; i -= 3 {
		digits = digits[:i] + "\u00a0" + digits[i:]
	}
	return digits
}

// MarshalText gives what String gives.
func (s Strength) MarshalText() ([]byte, error) { return []byte(s.written), nil }

// UnmarshalText reads as ParseStrength does, and "" as absent.
func (s *Strength) UnmarshalText(b []byte) error {
	if len(b) == 0 {
		*s = Strength{}
		return nil
	}
	read, err := ParseStrength(string(b))
	if err != nil {
		return err
	}
	*s = read
	return nil
}
