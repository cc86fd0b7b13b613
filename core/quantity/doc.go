// Package quantity holds amounts with units: a blood pressure of 120 mm[Hg], a
// dose of 1/100 grain, an age of 6 weeks. Its use is that a number never loses
// its unit, that nothing is lost or made up between what a person entered and
// what the record shows, and that a milligram is never added to a millilitre.
//
// A Decimal is kept as it was entered, "0.50" and not 0.5. A Unit is one of a
// fixed table, known by its code in the Unified Code for Units of Measure
// (UCUM). An Amount is the two together. In files an amount is one string, the
// wire form: a decimal number, one space, a UCUM code.
//
//	"120 mm[Hg]"   "0.65 mg"   "36.6 Cel"   "40 {drop}/min"   "0.25 [gr]"
//
// ParseEntry reads what people type and Print writes what people read; neither
// is the wire form. A Strength is how strong a preparation is, as labels have
// it: 10 mg/mL, 100 mg/2 mL, 1 %, 1:200 000. It is kept as it was written, and
// gives the concentration to reckon with.
//
// # Reckoning
//
// Arithmetic is decimal (github.com/cockroachdb/apd) and uses no floating
// point. Amounts compare exactly. Conversions, sums, products and quotients are
// exact wherever the result has at most 34 digits and are rounded once, half
// even, where it has more: 1 min is 0.0166...67 h. Down, Up and Nearest give
// multiples of a step, such as a syringe can be read to. Float64 is for drawing
// and for models, and the way back from there is a new amount, marked as an
// estimate by whoever makes it.
//
// Dimensions are finer than in physics and in UCUM, where a percentage, a
// score, a pulse count and milligrams per kilogram are all plain numbers. A
// drop is no volume, since drops per mL are a property of the set; an
// international unit is no mass, since each substance has its own; glucose in
// mg/dL does not become mmol/L, since that wants a molar mass. Amounts that do
// not mix give a *DimensionError. It is never right to work around one by
// taking the bare numbers.
//
// Whoever multiplies or divides names the unit of the result, and the
// dimensions must come out as its own: mg/kg times kg is mg, mg/kg times mg is
// nothing, and a percentage is a part of something and never a concentration.
// A rate for a pump or a drip is reckoned in steps:
//
//	5 ug/kg/min * 70 kg       = 21 mg/h
//	21 mg/h / (0.84 mg/mL)    = 25 mL/h
//	25 mL/h * 60 {drop}/mL    = 25 {drop}/min
//
// # What absent means
//
// The zero Amount, Decimal and Unit are absent. Absent is not nought: an
// oxygen flow of 0 L/min was observed, an absent one was not. Reckoning with
// an absent amount gives ErrAbsent.
//
// # What this package is not
//
// It does not know whether an amount is plausible or safe: 700 mm[Hg], -3 kg
// and a tenfold dose are amounts. Limits belong to the caller. It does not read
// UCUM's grammar, only the codes of the table.
//
// # Where the numbers come from
//
// Every row of the table has its source, which Unit.Source gives. Factors are
// UCUM's (G. Schadow, C. J. McDonald, The Unified Code for Units of Measure,
// version 2.1, 2017, file ucum-essence.xml), because the codes are. They agree
// with the exact legal definitions (international yard and pound agreement,
// 1959; NIST Handbook 44, appendix C) in every unit here but one: UCUM's
// mm[Hg] is 133.3220 Pa, the conventional millimetre of mercury 133.322387415
// Pa. The two are 3 parts in a million apart, less than a thousandth of a
// mm[Hg] in 300. 760 mm[Hg] are therefore not quite 1 atm here. A year is UCUM's
// a, 365.25 days, and a month its twelfth: means for ages, not a calendar.
//
// Every code, every conversion and every product of two units is checked in the
// slow tests against another implementation of UCUM. The table is derived from
// UCUM's and subject to its licence (https://ucum.org/license; the notice is in
// README.md). What percentages and ratios on labels mean is said at Strength.
package quantity
