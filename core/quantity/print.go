package quantity

import (
	"strconv"
	"strings"

	"github.com/cockroachdb/apd/v3"
)

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

// PrintFraction writes apothecaries' amounts as they were ordered, 1/100, 1/6 or
// 1 1/2 grains, and every other amount as Print does. An amount is written so
// where its number is exactly that of a fraction as it was in use, or that
// number rounded to 20 decimals or more, as ParseEntry does: one over at most 1000, or
// over 2, 3, 4, 5, 6, 8, 12 or 16 (common practice, no source). A no-break space
// keeps "1 1/2" together. Up to one the unit is singular.
func (a Amount) PrintFraction(comma bool) (number, unit string) {
	if number, ok := a.fraction(); ok {
		one, many := a.Unit.names()
		if a.Value.Cmp(DecimalFromInt(1)) <= 0 {
			return number, one
		}
		return number, many
	}
	return a.Print(comma)
}

// fraction writes the number as a fraction, if it is one.
func (a Amount) fraction() (string, bool) {
	if a.half() || !a.Unit.definition().apothecary() || a.Value.Sign() <= 0 {
		return "", false
	}
	n := a.Value.number()
	one := apd.New(1, 0)
	units := whole(n, one, apd.RoundFloor)
	rest := difference(n, units)
	if rest.IsZero() {
		return "", false
	}
	for under := int64(2); under <= 1000; under++ {
		over := whole(product(rest, apd.New(under, 0)), one, apd.RoundHalfEven)
		f := decimalOf(quotient(over, apd.New(under, 0)))
		if decimals := -int(rest.Exponent); decimals >= fractionDecimals {
			f = f.Round(decimals)
		}
		if f.number().Cmp(rest) != 0 {
			continue
		}
		if over.Cmp(one) != 0 && !severalOver(under) {
			return "", false
		}
		number := over.Text('f') + "/" + strconv.FormatInt(under, 10)
		if !units.IsZero() {
			number = units.Text('f') + "\u00a0" + number
		}
		return number, true
	}
	return "", false
}

// severalOver reports whether fractions such as 3/4 have this denominator.
func severalOver(under int64) bool {
	switch under {
	case 2, 3, 4, 5, 6, 8, 12, 16:
		return true
	}
	return false
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
