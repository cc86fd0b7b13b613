package formulary

import (
	"strings"

	"chinlift/core/quantity"
)

// measure is how a dose is told: of what, for each kilogram or not, in a time
// or not.
type measure struct {
	what           quantity.Dimension // Mass, International, AmountOfSubstance, Volume or Fraction
	perKg, perTime bool
}

// measures has the unit that each is reckoned in.
var measures = map[measure]quantity.Unit{
	{quantity.Mass, false, false}:              quantity.Mg,
	{quantity.Mass, true, false}:               quantity.MgPerKg,
	{quantity.Mass, false, true}:               quantity.MgPerH,
	{quantity.Mass, true, true}:                quantity.MgPerKgPerH,
	{quantity.International, false, false}:     quantity.IU,
	{quantity.International, true, false}:      quantity.MustUnit("[IU]/kg"),
	{quantity.International, false, true}:      quantity.MustUnit("[IU]/h"),
	{quantity.AmountOfSubstance, false, false}: quantity.Mmol,
	{quantity.AmountOfSubstance, true, false}:  quantity.MustUnit("mmol/kg"),
	{quantity.Volume, false, false}:            quantity.ML,
	{quantity.Volume, true, false}:             quantity.MLPerKg,
	{quantity.Volume, false, true}:             quantity.MLPerH,
	{quantity.Volume, true, true}:              quantity.MLPerKgPerH,
	{quantity.Fraction, false, false}:          quantity.Percent,
}

// measureOf tells what an amount measures; ok is false where it is no dose.
func measureOf(a quantity.Amount) (m measure, ok bool) {
	for m, u := range measures {
		if u.Dimension() == a.Unit.Dimension() {
			return m, true
		}
	}
	return measure{}, false
}

// strengths has the unit of a strength that holds so much of each in a mL.
var strengths = map[quantity.Dimension]quantity.Unit{
	quantity.Mass:              quantity.MgPerML,
	quantity.International:     quantity.MustUnit("[IU]/mL"),
	quantity.AmountOfSubstance: quantity.MustUnit("mmol/mL"),
}

// strengthOf tells what a strength is a strength of.
func strengthOf(a quantity.Amount) (what quantity.Dimension, ok bool) {
	for what, u := range strengths {
		if u.Dimension() == a.Unit.Dimension() {
			return what, true
		}
	}
	return "", false
}

// plain gives the unit of a dose that was told by weight: ug/kg/min becomes
// ug/min.
func plain(u quantity.Unit) quantity.Unit {
	if v, err := quantity.UnitOf(strings.Replace(u.String(), "/kg", "", 1)); err == nil {
		return v
	}
	m, _ := measureOf(quantity.Amount{Unit: u})
	m.perKg = false
	return measures[m]
}
