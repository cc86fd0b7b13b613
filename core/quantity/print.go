package quantity

import "strings"

// Print writes a number as safe prescribing asks: a nought before the decimal
// mark (0.5, never .5), none at the end (5, never 5.0), for a mark overlooked
// is a tenfold dose (ISMP, List of Error-Prone Abbreviations, Symbols, and Dose
// Designations, 2021). There is no thousands separator. With comma the decimal
// mark is a comma. An absent number prints as "".
func Print(d Decimal, comma bool) string {
	s := d.text
	if strings.Contains(s, ".") {
		s = strings.TrimSuffix(strings.TrimRight(s, "0"), ".")
	}
	if s == "-0" {
		s = "0"
	}
	if comma {
		s = strings.Replace(s, ".", ",", 1)
	}
	return s
}

// Print writes the amount as people do: the number as Print writes it, and the
// unit by its usual symbol or, where a symbol is dangerous or unusual, spelled
// out in English ("micrograms", never "µg" or "mcg": same ISMP list). It rounds
// nothing; see Round. A bare number has the unit "". The number decides between
// singular and plural. Where Unit.Spelled, a catalogue of words has the unit
// in the reader's language, under its UCUM code.
func (a Amount) Print(comma bool) (number, unit string) {
	number = Print(a.Value, comma)
	one, many := a.Unit.names()
	if number == "1" {
		return number, one
	}
	return number, many
}

// Symbol returns the unit as people write it behind any number but one; see
// Amount.Print.
func (u Unit) Symbol() string {
	_, many := u.names()
	return many
}

// Spelled reports whether people write the unit with words, which want
// translation, and not with symbols alone, which are the same in every language.
func (u Unit) Spelled() bool { return u.definition().spelled }

// names returns the unit as people write it with one and with any other number.
func (u Unit) names() (one, many string) {
	before, after, ok := strings.Cut(u.definition().symbol, "|")
	if !ok {
		return before, before
	}
	return before + strings.TrimPrefix(after, "s"), before + after
}
