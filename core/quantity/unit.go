package quantity

import (
	"fmt"
	"slices"

	"github.com/cockroachdb/apd/v3"
)

// Dimension is what kind of quantity a unit measures.
type Dimension string

// The dimensions in use.
const (
	Number                 Dimension = "number"
	Fraction               Dimension = "fraction"
	Pressure               Dimension = "pressure"
	Frequency              Dimension = "frequency"
	DropRate               Dimension = "drop rate"
	Temperature            Dimension = "temperature"
	Mass                   Dimension = "mass"
	Volume                 Dimension = "volume"
	Length                 Dimension = "length"
	Duration               Dimension = "duration"
	Flow                   Dimension = "flow"
	MassRate               Dimension = "mass per time"
	MassPerMass            Dimension = "mass per body mass"
	MassPerMassTime        Dimension = "mass per body mass and time"
	MassConcentration      Dimension = "mass concentration"
	SubstanceConcentration Dimension = "substance concentration"
	AmountOfSubstance      Dimension = "amount of substance"
	International          Dimension = "international units"
)

// Unit is a unit of measure by its UCUM code. The zero value is no unit.
type Unit struct{ code string }

// unit is a row of the table: one of this unit is factor of the dimension's
// base, after offset is added (for temperatures only).
type unit struct {
	dimension Dimension
	factor    string // value in the base of the dimension = (value + offset) x factor
	per       string // divisor, where the factor is not a finite decimal; empty: 1
	offset    string
	print     string // as people write it
	spelled   bool   // print is a word, to be translated
}

// The table. Factors of the SI and its prefixes are exact by definition
// (BIPM, The International System of Units, 9th edition, 2019). The others
// name their source. Base of each dimension: pressure Pa, frequency and drop
// rate per minute, temperature degree Celsius, mass mg, volume mL, length cm,
// duration s, flow mL/min.
var table = map[string]unit{
	"1": {Number, "1", "", "", "", false},
	"%": {Fraction, "1", "", "", "%", false},

	// UCUM defines the metre of mercury as 133.3220 kPa, the metre of water as
	// 9.80665 kPa (ucum-essence, version 2.1). The conventional millimetre of
	// mercury is 133.322387415 Pa (ISO 80000-4:2006, annex); the two differ by
	// 3 parts in a million, which no cuff can tell. The code is UCUM's, and so
	// is the value.
	"mm[Hg]":  {Pressure, "133.322", "", "", "mmHg", false},
	"cm[H2O]": {Pressure, "98.0665", "", "", "cmH2O", false},
	"kPa":     {Pressure, "1000", "", "", "kPa", false},
	"bar":     {Pressure, "100000", "", "", "bar", false},
	// Pound-force (0.45359237 kg x 9.80665 m/s2) per square inch (0.0254 m):
	// 4.4482216152605 N / 0.00064516 m2. International yard and pound
	// agreement, 1959; standard gravity, CGPM 1901.
	"[psi]": {Pressure, "4.4482216152605", "0.00064516", "", "psi", false},

	"/min":       {Frequency, "1", "", "", "/min", false},
	"{drop}/min": {DropRate, "1", "", "", "drops/min", true},

	"Cel":    {Temperature, "1", "", "", "°C", false},
	"[degF]": {Temperature, "5", "9", "-32", "°F", false},

	"kg": {Mass, "1000000", "", "", "kg", false},
	"g":  {Mass, "1000", "", "", "g", false},
	"mg": {Mass, "1", "", "", "mg", false},
	"ug": {Mass, "0.001", "", "", "micrograms", true},
	"ng": {Mass, "0.000001", "", "", "nanograms", true},
	// 1 lb = 0.45359237 kg exactly (1959); 7000 grains to the pound, so a
	// grain is 64.79891 mg exactly (NIST Handbook 44, appendix C).
	"[gr]":    {Mass, "64.79891", "", "", "grain", true},
	"[lb_av]": {Mass, "453592.37", "", "", "lb", false},

	"L":  {Volume, "1000", "", "", "L", false},
	"mL": {Volume, "1", "", "", "mL", false},

	"mm": {Length, "0.1", "", "", "mm", false},
	"cm": {Length, "1", "", "", "cm", false},
	"m":  {Length, "100", "", "", "m", false},

	// UCUM: a year is the mean Julian year of 365.25 d, a month a twelfth of it.
	"a":   {Duration, "31557600", "", "", "years", true},
	"mo":  {Duration, "2629800", "", "", "months", true},
	"wk":  {Duration, "604800", "", "", "weeks", true},
	"d":   {Duration, "86400", "", "", "days", true},
	"h":   {Duration, "3600", "", "", "h", false},
	"min": {Duration, "60", "", "", "min", false},
	"s":   {Duration, "1", "", "", "s", false},

	"L/min":  {Flow, "1000", "", "", "L/min", false},
	"mL/min": {Flow, "1", "", "", "mL/min", false},
	"mL/h":   {Flow, "1", "60", "", "mL/h", false},

	"mg/h":      {MassRate, "1", "", "", "mg/h", false},
	"ug/min":    {MassRate, "0.06", "", "", "micrograms/min", true},
	"mg/kg":     {MassPerMass, "1", "", "", "mg/kg", false},
	"ug/kg":     {MassPerMass, "0.001", "", "", "micrograms/kg", true},
	"mg/kg/h":   {MassPerMassTime, "1", "", "", "mg/kg/h", false},
	"ug/kg/min": {MassPerMassTime, "0.06", "", "", "micrograms/kg/min", true},

	"mg/mL": {MassConcentration, "1", "", "", "mg/mL", false},
	"ug/mL": {MassConcentration, "0.001", "", "", "micrograms/mL", true},
	"g/dL":  {MassConcentration, "10", "", "", "g/dL", false},
	"g/L":   {MassConcentration, "1", "", "", "g/L", false},
	"mg/dL": {MassConcentration, "0.01", "", "", "mg/dL", false},

	"mmol/L": {SubstanceConcentration, "1", "", "", "mmol/L", false},
	"mmol":   {AmountOfSubstance, "1", "", "", "mmol", false},
	"[IU]":   {International, "1", "", "", "international units", true},
}

// The units in use, by name.
var (
	One         = MustUnit("1")
	Percent     = MustUnit("%")
	MmHg        = MustUnit("mm[Hg]")
	CmH2O       = MustUnit("cm[H2O]")
	KPa         = MustUnit("kPa")
	Bar         = MustUnit("bar")
	Psi         = MustUnit("[psi]")
	PerMin      = MustUnit("/min")
	DropsPerMin = MustUnit("{drop}/min")
	Cel         = MustUnit("Cel")
	DegF        = MustUnit("[degF]")
	Kg          = MustUnit("kg")
	G           = MustUnit("g")
	Mg          = MustUnit("mg")
	Ug          = MustUnit("ug")
	Ng          = MustUnit("ng")
	Grain       = MustUnit("[gr]")
	Pound       = MustUnit("[lb_av]")
	L           = MustUnit("L")
	ML          = MustUnit("mL")
	Cm          = MustUnit("cm")
	M           = MustUnit("m")
	Year        = MustUnit("a")
	Month       = MustUnit("mo")
	Week        = MustUnit("wk")
	Day         = MustUnit("d")
	Hour        = MustUnit("h")
	Minute      = MustUnit("min")
	Second      = MustUnit("s")
	LPerMin     = MustUnit("L/min")
	MLPerMin    = MustUnit("mL/min")
	MLPerH      = MustUnit("mL/h")
	MgPerH      = MustUnit("mg/h")
	MgPerKg     = MustUnit("mg/kg")
	MgPerKgPerH = MustUnit("mg/kg/h")
	MgPerML     = MustUnit("mg/mL")
	GPerDL      = MustUnit("g/dL")
	MgPerDL     = MustUnit("mg/dL")
	MmolPerL    = MustUnit("mmol/L")
	Mmol        = MustUnit("mmol")
	IU          = MustUnit("[IU]")

	UgPerKgPerMin = MustUnit("ug/kg/min")
)

// UnitOf gives the unit with this UCUM code, which is case sensitive. A code
// that is valid UCUM but not in the table is refused.
func UnitOf(code string) (Unit, error) {
	if _, ok := table[code]; !ok {
		return Unit{}, fmt.Errorf("unit %q is not one of the units in use", code)
	}
	return Unit{code}, nil
}

// MustUnit is UnitOf for codes that stand in the program.
func MustUnit(code string) Unit {
	u, err := UnitOf(code)
	if err != nil {
		panic("quantity: " + err.Error())
	}
	return u
}

// Units gives all units, sorted by code.
func Units() []Unit {
	var us []Unit
	for code := range table {
		us = append(us, Unit{code})
	}
	slices.SortFunc(us, func(a, b Unit) int {
		if a.code < b.code {
			return -1
		}
		return 1
	})
	return us
}

// String gives the UCUM code.
func (u Unit) String() string { return u.code }

// Dimension says what kind of quantity the unit measures; empty for no unit.
func (u Unit) Dimension() Dimension { return table[u.code].dimension }

// Symbol is the unit as people write it; "micrograms" is spelled out, since a
// handwritten or small "µg" has been read as "mg" (Institute for Safe
// Medication Practices, list of error-prone abbreviations).
func (u Unit) Symbol() string { return table[u.code].print }

// Spelled reports that the symbol is a word, which another language writes in
// another way.
func (u Unit) Spelled() bool { return table[u.code].spelled }

func number(s, otherwise string) *apd.Decimal {
	if s == "" {
		s = otherwise
	}
	v, _, err := apd.NewFromString(s)
	if err != nil {
		panic("quantity: table: " + err.Error())
	}
	return v
}
