package quantity

import (
	"fmt"

	"github.com/cockroachdb/apd/v3"
)

// Dimension is the kind of thing that a unit measures. It is finer than
// physics: mg/kg is a dose here and % a fraction, though physics calls both
// pure numbers, because an amount of the one is never meant as the other.
type Dimension string

// The dimensions, each with the unit that its conversions go through.
const (
	Pressure                   Dimension = "pressure"                                   // Pa
	Frequency                  Dimension = "rate per time"                              // /s
	Fraction                   Dimension = "fraction"                                   // 1
	Temperature                Dimension = "temperature"                                // K
	Mass                       Dimension = "mass"                                       // g
	Volume                     Dimension = "volume"                                     // L
	Length                     Dimension = "length"                                     // m
	Area                       Dimension = "area"                                       // m2
	MassPerArea                Dimension = "mass per area"                              // g/m2; body mass index
	MassPerSurface             Dimension = "mass per body surface"                      // g/m2; doses, of which none is a body mass index
	Duration                   Dimension = "duration"                                   // s; ages too
	Flow                       Dimension = "volume per time"                            // L/s
	VolumeRate                           = Flow                                         // the same, as infusions call it
	VolumePerMass              Dimension = "volume per body mass"                       // L/kg
	VolumePerMassTime          Dimension = "volume per body mass and time"              // L/kg/s
	MassRate                   Dimension = "mass per time"                              // g/s
	MassPerMass                Dimension = "mass per body mass"                         // g/kg
	MassPerMassTime            Dimension = "mass per body mass and time"                // g/kg/s
	MassConcentration          Dimension = "mass concentration"                         // g/L; densities too
	AmountOfSubstance          Dimension = "amount of substance"                        // mol
	SubstancePerMass           Dimension = "amount of substance per body mass"          // mol/kg
	SubstanceRate              Dimension = "amount of substance per time"               // mol/s
	SubstancePerMassTime       Dimension = "amount of substance per body mass and time" // mol/kg/s
	SubstanceConcentration     Dimension = "substance concentration"                    // mol/L
	Drops                      Dimension = "drops"                                      // a drop is no fixed volume
	DropRate                   Dimension = "drops per time"                             // {drop}/s
	DropsPerVolume             Dimension = "drops per volume"                           // {drop}/L
	Puffs                      Dimension = "puffs"                                      // of an inhaler; a count
	MassPerPuff                Dimension = "mass per puff"                              // g/{puff}
	International              Dimension = "international units"                        // [IU]: of each substance its own
	InternationalRate          Dimension = "international units per time"               // [IU]/s
	InternationalPerMass       Dimension = "international units per body mass"          // [IU]/kg
	InternationalPerMassTime   Dimension = "international units per body mass and time" // [IU]/kg/s
	InternationalConcentration Dimension = "international units per volume"             // [IU]/L
	Energy                     Dimension = "energy"                                     // J
	EnergyPerMass              Dimension = "energy per body mass"                       // J/kg
	Number                     Dimension = "number"                                     // 1
	Score                      Dimension = "score"                                      // {score}
)

// Unit is a unit of measure out of a fixed table, known by its UCUM code.
// Units compare with ==. The zero Unit is none.
type Unit struct {
	code string
}

// UnknownUnitError says that a code is not in the table.
type UnknownUnitError struct{ Code string }

func (e *UnknownUnitError) Error() string {
	return fmt.Sprintf("%.40q is not a unit known here (UCUM codes, case sensitive)", e.Code)
}

// UnitOf returns the unit with the UCUM code, which is case sensitive. Only
// codes in the table are known: UCUM's grammar is not read, so that "g/mg" or
// "mmol.kPa" cannot come in. The error is an *UnknownUnitError.
func UnitOf(code string) (Unit, error) {
	if _, ok := table[code]; !ok {
		return Unit{}, &UnknownUnitError{code}
	}
	return Unit{code}, nil
}

// MustUnit is UnitOf for codes in the source text; it panics on an unknown one.
func MustUnit(code string) Unit {
	u, err := UnitOf(code)
	if err != nil {
		panic("quantity: " + err.Error())
	}
	return u
}

// Units returns every unit of the table, like beside like.
func Units() []Unit {
	us := make([]Unit, len(definitions))
	for i, d := range definitions {
		us[i] = Unit{d.code}
	}
	return us
}

// String returns the UCUM code, "" for none.
func (u Unit) String() string { return u.code }

// IsZero reports whether u is none.
func (u Unit) IsZero() bool { return u.code == "" }

// Dimension returns what the unit measures, "" for none.
func (u Unit) Dimension() Dimension { return u.definition().dimension }

// inFull names the unit and what it measures, for messages.
func (u Unit) inFull() string {
	if u.IsZero() {
		return "no unit"
	}
	return fmt.Sprintf("%s (%s)", u.code, u.Dimension())
}

// Source says where the unit's definition is published.
func (u Unit) Source() string { return u.definition().source }

// MarshalText gives the UCUM code, "" for none.
func (u Unit) MarshalText() ([]byte, error) { return []byte(u.code), nil }

// UnmarshalText reads what MarshalText gives.
func (u *Unit) UnmarshalText(b []byte) error {
	if len(b) == 0 {
		*u = Unit{}
		return nil
	}
	v, err := UnitOf(string(b))
	if err != nil {
		return err
	}
	*u = v
	return nil
}

var none = new(definition)

func (u Unit) definition() *definition {
	if d, ok := table[u.code]; ok {
		return d
	}
	return none
}

// definition is a row of the table. A value v in the unit is
// (v + offset) * times / by in the unit of its dimension. Factors that do not
// come out even (1/60) are so kept exact.
type definition struct {
	code      string
	dimension Dimension
	times, by string
	// symbol is how people write the unit. A "|" stands before the s that falls
	// away in the singular: "microgram|s/kg".
	symbol  string
	spelled bool
	source  string
	offset  string // temperatures only

	// The same, read once.
	timesN, byN, offsetN *apd.Decimal
}

// apothecary reports whether amounts in the unit are written as fractions.
func (d *definition) apothecary() bool {
	switch d.source {
	case grain, apothec, usFluid, brFluid:
		return true
	}
	return false
}

// Where the definitions stand. UCUM is the Unified Code for Units of Measure,
// G. Schadow, C. J. McDonald, version 2.1 (2017), tables as in its
// ucum-essence.xml.
const (
	metric    = "UCUM, SI units and prefixes"
	times     = "UCUM: min = 60 s, h = 60 min, d = 24 h, wk = 7 d"
	calendar  = "UCUM: a = a_j = 365.25 d, mo = mo_j = a_j/12 (Julian year)"
	mercury   = "UCUM: m[Hg] = 133.3220 kPa. The conventional value is 133.322387415 Pa (ISO 80000-4:2006; NIST SP 811, 2008, app. B.8)"
	water     = "UCUM: m[H2O] = 9.80665 kPa (conventional water)"
	psi       = "UCUM: [psi] = [lbf_av]/[sin_i], with [lb_av] = 453.59237 g, [g] = 9.80665 m/s2, [in_i] = 2.54 cm"
	atmos     = "UCUM: atm = 101325 Pa"
	bar       = "UCUM: bar = 1e5 Pa"
	celsius   = "UCUM: Cel; 0 Cel = 273.15 K (BIPM, SI Brochure, 9th ed., 2019, section 2.3.1)"
	fahr      = "UCUM: [degF], 5/9 K a degree, 0 [degF] = 459.67 * 5/9 K"
	grain     = "UCUM: [gr] = 64.79891 mg (NIST Handbook 44, appendix C: exact since the yard and pound agreement of 1959)"
	apothec   = "UCUM, apothecaries' weights: [sc_ap] = 20 [gr], [dr_ap] = 3 [sc_ap], [oz_ap] = 8 [dr_ap]"
	pound     = "UCUM: [lb_av] = 7000 [gr] = 453.59237 g, [oz_av] = [lb_av]/16, [stone_av] = 14 [lb_av] (NIST Handbook 44, appendix C)"
	inch      = "UCUM: [in_i] = 2.54 cm, [ft_i] = 12 [in_i]"
	usFluid   = "UCUM: [gal_us] = 231 [in_i]3, [foz_us] = [gal_us]/128, [fdr_us] = [foz_us]/8, [min_us] = [fdr_us]/60"
	brFluid   = "UCUM: [gal_br] = 4.54609 L, [foz_br] = [gal_br]/160, [fdr_br] = [foz_br]/8, [min_br] = [fdr_br]/60"
	annotated = "UCUM annotation: a count. A drop is no fixed volume: drops per mL is a property of the bottle or set"
	puff      = "UCUM annotation: a count. What one puff of an inhaler gives stands on its label"
	arbitrary = "UCUM: [IU], an arbitrary unit (WHO biological standards): of each substance its own, no conversion to mass"
	ratio     = "UCUM: % = 1e-2, [ppm] = 1e-6"
)

var definitions = []definition{
	{code: "Pa", dimension: Pressure, times: "1", symbol: "Pa", source: metric},
	{code: "hPa", dimension: Pressure, times: "100", symbol: "hPa", source: metric},
	{code: "kPa", dimension: Pressure, times: "1000", symbol: "kPa", source: metric},
	{code: "mm[Hg]", dimension: Pressure, times: "133.3220", symbol: "mmHg", source: mercury},
	{code: "cm[H2O]", dimension: Pressure, times: "98.0665", symbol: "cmH2O", source: water},
	{code: "mbar", dimension: Pressure, times: "100", symbol: "mbar", source: bar},
	{code: "bar", dimension: Pressure, times: "100000", symbol: "bar", source: bar},
	// Pound-force over square inch: 0.45359237 kg * 9.80665 m/s2 / (0.0254 m)^2.
	{code: "[psi]", dimension: Pressure, times: "4.4482216152605", by: "0.00064516", symbol: "psi", source: psi},
	{code: "atm", dimension: Pressure, times: "101325", symbol: "atm", source: atmos},

	{code: "/s", dimension: Frequency, times: "1", symbol: "/s", source: metric},
	{code: "/min", dimension: Frequency, times: "1", by: "60", symbol: "/min", source: times},
	{code: "/h", dimension: Frequency, times: "1", by: "3600", symbol: "/h", source: times},

	{code: "%", dimension: Fraction, times: "0.01", symbol: "%", source: ratio},
	{code: "[ppm]", dimension: Fraction, times: "0.000001", symbol: "ppm", source: ratio},

	{code: "K", dimension: Temperature, times: "1", symbol: "K", source: metric},
	{code: "Cel", dimension: Temperature, times: "1", offset: "273.15", symbol: "°C", source: celsius},
	{code: "[degF]", dimension: Temperature, times: "5", by: "9", offset: "459.67", symbol: "°F", source: fahr},

	{code: "kg", dimension: Mass, times: "1000", symbol: "kg", source: metric},
	{code: "g", dimension: Mass, times: "1", symbol: "g", source: metric},
	{code: "mg", dimension: Mass, times: "0.001", symbol: "mg", source: metric},
	{code: "ug", dimension: Mass, times: "0.000001", symbol: "microgram|s", spelled: true, source: metric},
	{code: "ng", dimension: Mass, times: "0.000000001", symbol: "nanogram|s", spelled: true, source: metric},
	{code: "[gr]", dimension: Mass, times: "0.06479891", symbol: "grain|s", spelled: true, source: grain},
	{code: "[sc_ap]", dimension: Mass, times: "1.2959782", symbol: "scruple|s", spelled: true, source: apothec},
	{code: "[dr_ap]", dimension: Mass, times: "3.8879346", symbol: "drachm|s", spelled: true, source: apothec},
	{code: "[oz_ap]", dimension: Mass, times: "31.1034768", symbol: "apothecaries' ounce|s", spelled: true, source: apothec},
	{code: "[oz_av]", dimension: Mass, times: "28.349523125", symbol: "oz", source: pound},
	{code: "[lb_av]", dimension: Mass, times: "453.59237", symbol: "lb", source: pound},
	{code: "[stone_av]", dimension: Mass, times: "6350.29318", symbol: "stone", spelled: true, source: pound},

	{code: "L", dimension: Volume, times: "1", symbol: "L", source: metric},
	{code: "dL", dimension: Volume, times: "0.1", symbol: "dL", source: metric},
	{code: "mL", dimension: Volume, times: "0.001", symbol: "mL", source: metric},
	{code: "uL", dimension: Volume, times: "0.000001", symbol: "microlitre|s", spelled: true, source: metric},
	{code: "[foz_us]", dimension: Volume, times: "0.0295735295625", symbol: "US fluid ounce|s", spelled: true, source: usFluid},
	{code: "[fdr_us]", dimension: Volume, times: "0.0036966911953125", symbol: "US fluid drachm|s", spelled: true, source: usFluid},
	{code: "[min_us]", dimension: Volume, times: "0.0036966911953125", by: "60", symbol: "US minim|s", spelled: true, source: usFluid},
	{code: "[foz_br]", dimension: Volume, times: "0.0284130625", symbol: "imperial fluid ounce|s", spelled: true, source: brFluid},
	{code: "[fdr_br]", dimension: Volume, times: "0.0035516328125", symbol: "imperial fluid drachm|s", spelled: true, source: brFluid},
	{code: "[min_br]", dimension: Volume, times: "0.0035516328125", by: "60", symbol: "imperial minim|s", spelled: true, source: brFluid},

	{code: "m", dimension: Length, times: "1", symbol: "m", source: metric},
	{code: "cm", dimension: Length, times: "0.01", symbol: "cm", source: metric},
	{code: "mm", dimension: Length, times: "0.001", symbol: "mm", source: metric},
	{code: "[in_i]", dimension: Length, times: "0.0254", symbol: "in", source: inch},
	{code: "[ft_i]", dimension: Length, times: "0.3048", symbol: "ft", source: inch},
	{code: "m2", dimension: Area, times: "1", symbol: "m²", source: metric},
	{code: "kg/m2", dimension: MassPerArea, times: "1000", symbol: "kg/m²", source: metric},
	{code: "mg/m2", dimension: MassPerSurface, times: "0.001", symbol: "mg/m²", source: metric},

	{code: "a", dimension: Duration, times: "31557600", symbol: "year|s", spelled: true, source: calendar},
	{code: "mo", dimension: Duration, times: "2629800", symbol: "month|s", spelled: true, source: calendar},
	{code: "wk", dimension: Duration, times: "604800", symbol: "week|s", spelled: true, source: times},
	{code: "d", dimension: Duration, times: "86400", symbol: "day|s", spelled: true, source: times},
	{code: "h", dimension: Duration, times: "3600", symbol: "h", source: times},
	{code: "min", dimension: Duration, times: "60", symbol: "min", source: times},
	{code: "s", dimension: Duration, times: "1", symbol: "s", source: metric},

	{code: "L/min", dimension: Flow, times: "1", by: "60", symbol: "L/min", source: times},
	{code: "L/h", dimension: Flow, times: "1", by: "3600", symbol: "L/h", source: times},
	{code: "mL/min", dimension: Flow, times: "0.001", by: "60", symbol: "mL/min", source: times},
	{code: "mL/h", dimension: Flow, times: "0.001", by: "3600", symbol: "mL/h", source: times},
	{code: "L/kg", dimension: VolumePerMass, times: "1", symbol: "L/kg", source: metric},
	{code: "mL/kg", dimension: VolumePerMass, times: "0.001", symbol: "mL/kg", source: metric},
	{code: "L/kg/min", dimension: VolumePerMassTime, times: "1", by: "60", symbol: "L/kg/min", source: times},
	{code: "mL/kg/min", dimension: VolumePerMassTime, times: "0.001", by: "60", symbol: "mL/kg/min", source: times},
	{code: "mL/kg/h", dimension: VolumePerMassTime, times: "0.001", by: "3600", symbol: "mL/kg/h", source: times},
	{code: "mL/kg/d", dimension: VolumePerMassTime, times: "0.001", by: "86400", symbol: "mL/kg/day", spelled: true, source: times},

	{code: "g/h", dimension: MassRate, times: "1", by: "3600", symbol: "g/h", source: times},
	{code: "mg/min", dimension: MassRate, times: "0.001", by: "60", symbol: "mg/min", source: times},
	{code: "mg/h", dimension: MassRate, times: "0.001", by: "3600", symbol: "mg/h", source: times},
	{code: "mg/d", dimension: MassRate, times: "0.001", by: "86400", symbol: "mg/day", spelled: true, source: times},
	{code: "ug/min", dimension: MassRate, times: "0.000001", by: "60", symbol: "microgram|s/min", spelled: true, source: times},
	{code: "ug/h", dimension: MassRate, times: "0.000001", by: "3600", symbol: "microgram|s/h", spelled: true, source: times},

	{code: "g/kg", dimension: MassPerMass, times: "1", symbol: "g/kg", source: metric},
	{code: "mg/kg", dimension: MassPerMass, times: "0.001", symbol: "mg/kg", source: metric},
	{code: "ug/kg", dimension: MassPerMass, times: "0.000001", symbol: "microgram|s/kg", spelled: true, source: metric},
	{code: "ng/kg", dimension: MassPerMass, times: "0.000000001", symbol: "nanogram|s/kg", spelled: true, source: metric},
	{code: "mg/kg/min", dimension: MassPerMassTime, times: "0.001", by: "60", symbol: "mg/kg/min", source: times},
	{code: "mg/kg/h", dimension: MassPerMassTime, times: "0.001", by: "3600", symbol: "mg/kg/h", source: times},
	{code: "mg/kg/d", dimension: MassPerMassTime, times: "0.001", by: "86400", symbol: "mg/kg/day", spelled: true, source: times},
	{code: "ug/kg/min", dimension: MassPerMassTime, times: "0.000001", by: "60", symbol: "microgram|s/kg/min", spelled: true, source: times},
	{code: "ug/kg/h", dimension: MassPerMassTime, times: "0.000001", by: "3600", symbol: "microgram|s/kg/h", spelled: true, source: times},
	{code: "ng/kg/min", dimension: MassPerMassTime, times: "0.000000001", by: "60", symbol: "nanogram|s/kg/min", spelled: true, source: times},

	{code: "g/mL", dimension: MassConcentration, times: "1000", symbol: "g/mL", source: metric},
	{code: "g/dL", dimension: MassConcentration, times: "10", symbol: "g/dL", source: metric},
	{code: "g/L", dimension: MassConcentration, times: "1", symbol: "g/L", source: metric},
	{code: "mg/mL", dimension: MassConcentration, times: "1", symbol: "mg/mL", source: metric},
	{code: "mg/dL", dimension: MassConcentration, times: "0.01", symbol: "mg/dL", source: metric},
	{code: "mg/L", dimension: MassConcentration, times: "0.001", symbol: "mg/L", source: metric},
	{code: "ug/mL", dimension: MassConcentration, times: "0.001", symbol: "microgram|s/mL", spelled: true, source: metric},
	{code: "ug/L", dimension: MassConcentration, times: "0.000001", symbol: "microgram|s/L", spelled: true, source: metric},
	{code: "ng/mL", dimension: MassConcentration, times: "0.000001", symbol: "nanogram|s/mL", spelled: true, source: metric},

	{code: "mol", dimension: AmountOfSubstance, times: "1", symbol: "mol", source: metric},
	{code: "mmol", dimension: AmountOfSubstance, times: "0.001", symbol: "mmol", source: metric},
	{code: "umol", dimension: AmountOfSubstance, times: "0.000001", symbol: "micromol", spelled: true, source: metric},
	{code: "mmol/h", dimension: SubstanceRate, times: "0.001", by: "3600", symbol: "mmol/h", source: times},
	{code: "mmol/kg", dimension: SubstancePerMass, times: "0.001", symbol: "mmol/kg", source: metric},
	{code: "mmol/kg/h", dimension: SubstancePerMassTime, times: "0.001", by: "3600", symbol: "mmol/kg/h", source: times},
	{code: "mol/L", dimension: SubstanceConcentration, times: "1", symbol: "mol/L", source: metric},
	{code: "mmol/mL", dimension: SubstanceConcentration, times: "1", symbol: "mmol/mL", source: metric},
	{code: "mmol/L", dimension: SubstanceConcentration, times: "0.001", symbol: "mmol/L", source: metric},
	{code: "umol/L", dimension: SubstanceConcentration, times: "0.000001", symbol: "micromol/L", spelled: true, source: metric},

	{code: "{drop}", dimension: Drops, times: "1", symbol: "drop|s", spelled: true, source: annotated},
	{code: "{drop}/min", dimension: DropRate, times: "1", by: "60", symbol: "drop|s/min", spelled: true, source: annotated},
	{code: "{drop}/mL", dimension: DropsPerVolume, times: "1000", symbol: "drop|s/mL", spelled: true, source: annotated},

	{code: "{puff}", dimension: Puffs, times: "1", symbol: "puff|s", spelled: true, source: puff},
	{code: "ug/{puff}", dimension: MassPerPuff, times: "0.000001", symbol: "microgram|s/puff", spelled: true, source: puff},

	{code: "M[IU]", dimension: International, times: "1000000", symbol: "million international units", spelled: true, source: arbitrary},
	{code: "[IU]", dimension: International, times: "1", symbol: "international unit|s", spelled: true, source: arbitrary},
	{code: "[IU]/min", dimension: InternationalRate, times: "1", by: "60", symbol: "international unit|s/min", spelled: true, source: arbitrary},
	{code: "[IU]/h", dimension: InternationalRate, times: "1", by: "3600", symbol: "international unit|s/h", spelled: true, source: arbitrary},
	{code: "[IU]/kg", dimension: InternationalPerMass, times: "1", symbol: "international unit|s/kg", spelled: true, source: arbitrary},
	{code: "[IU]/kg/h", dimension: InternationalPerMassTime, times: "1", by: "3600", symbol: "international unit|s/kg/h", spelled: true, source: arbitrary},
	{code: "[IU]/mL", dimension: InternationalConcentration, times: "1000", symbol: "international unit|s/mL", spelled: true, source: arbitrary},
	{code: "[IU]/L", dimension: InternationalConcentration, times: "1", symbol: "international unit|s/L", spelled: true, source: arbitrary},

	{code: "J", dimension: Energy, times: "1", symbol: "J", source: metric},
	{code: "J/kg", dimension: EnergyPerMass, times: "1", symbol: "J/kg", source: metric},

	{code: "1", dimension: Number, times: "1", symbol: "", source: metric},
	{code: "{score}", dimension: Score, times: "1", symbol: "", source: "UCUM annotation: a number on a scale"},
}

var table = index(definitions)

func index(rows []definition) map[string]*definition {
	byCode := make(map[string]*definition, len(rows))
	for i := range rows {
		d := &rows[i]
		if _, twice := byCode[d.code]; twice {
			panic("quantity: unit defined twice: " + d.code)
		}
		d.timesN = mustNumber(d.times)
		d.byN = mustNumber(orElse(d.by, "1"))
		d.offsetN = mustNumber(orElse(d.offset, "0"))
		byCode[d.code] = d
	}
	return byCode
}

func orElse(s, or string) string {
	if s == "" {
		return or
	}
	return s
}

// The units in common use, by name.
var (
	MmHg  = MustUnit("mm[Hg]")
	KPa   = MustUnit("kPa")
	CmH2O = MustUnit("cm[H2O]")
	Bar   = MustUnit("bar")
	Psi   = MustUnit("[psi]")
	Atm   = MustUnit("atm")

	PerMin  = MustUnit("/min")
	Percent = MustUnit("%")

	Cel    = MustUnit("Cel")
	DegF   = MustUnit("[degF]")
	Kelvin = MustUnit("K")

	Kg    = MustUnit("kg")
	G     = MustUnit("g")
	Mg    = MustUnit("mg")
	Ug    = MustUnit("ug")
	Ng    = MustUnit("ng")
	Grain = MustUnit("[gr]")
	Pound = MustUnit("[lb_av]")

	L  = MustUnit("L")
	ML = MustUnit("mL")

	Cm = MustUnit("cm")
	M  = MustUnit("m")
	Mm = MustUnit("mm")

	LPerMin     = MustUnit("L/min")
	MLPerH      = MustUnit("mL/h")
	MLPerMin    = MustUnit("mL/min")
	MLPerKg     = MustUnit("mL/kg")
	MLPerKgPerH = MustUnit("mL/kg/h")
	MLPerKgPerD = MustUnit("mL/kg/d")

	MgPerH        = MustUnit("mg/h")
	MgPerKg       = MustUnit("mg/kg")
	UgPerKg       = MustUnit("ug/kg")
	MgPerKgPerH   = MustUnit("mg/kg/h")
	MgPerKgPerMin = MustUnit("mg/kg/min")
	UgPerKgPerMin = MustUnit("ug/kg/min")
	UgPerKgPerH   = MustUnit("ug/kg/h")
	MgPerM2       = MustUnit("mg/m2")

	GPerDL  = MustUnit("g/dL")
	GPerL   = MustUnit("g/L")
	MgPerDL = MustUnit("mg/dL")
	MgPerML = MustUnit("mg/mL")
	UgPerML = MustUnit("ug/mL")
	NgPerML = MustUnit("ng/mL")

	Mmol          = MustUnit("mmol")
	MmolPerL      = MustUnit("mmol/L")
	MmolPerML     = MustUnit("mmol/mL")
	MmolPerH      = MustUnit("mmol/h")
	MmolPerKg     = MustUnit("mmol/kg")
	MmolPerKgPerH = MustUnit("mmol/kg/h")

	Drop        = MustUnit("{drop}")
	DropsPerMin = MustUnit("{drop}/min")
	DropsPerML  = MustUnit("{drop}/mL")

	Puff      = MustUnit("{puff}")
	UgPerPuff = MustUnit("ug/{puff}")

	IU      = MustUnit("[IU]")
	IUPerKg = MustUnit("[IU]/kg")
	IUPerML = MustUnit("[IU]/mL")

	Year   = MustUnit("a")
	Month  = MustUnit("mo")
	Week   = MustUnit("wk")
	Day    = MustUnit("d")
	Hour   = MustUnit("h")
	Minute = MustUnit("min")
	Second = MustUnit("s")

	Joule      = MustUnit("J")
	JoulePerKg = MustUnit("J/kg")

	One      = MustUnit("1")
	ScoreOne = MustUnit("{score}")
)
