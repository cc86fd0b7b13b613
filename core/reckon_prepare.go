package core

import (
	"math/big"

	"chinlift/core/patient"
	"chinlift/core/quantity"
	"chinlift/core/term"
)

// What is worked out over a tray: how fast an infusion runs, how a drug is
// diluted, how strong it is, how much of a local anaesthetic a limit allows,
// and what an amount is in another unit. It is arithmetic on what was typed:
// none of it knows a drug or a dose.

var (
	ugPerH        = quantity.MustUnit("ug/h")
	ugPerMin      = quantity.MustUnit("ug/min")
	ugPerKgPerH   = quantity.MustUnit("ug/kg/h")
	iuPerH        = quantity.MustUnit("[IU]/h")
	iuPerMin      = quantity.MustUnit("[IU]/min")
	iuPerML       = quantity.MustUnit("[IU]/mL")
	strengthUnits = []quantity.Unit{quantity.MgPerML, quantity.UgPerML, quantity.MustUnit("g/L"), quantity.MustUnit("mg/L")}
	anyStrength   = append(strengthUnits[:len(strengthUnits):len(strengthUnits)], iuPerML)

	inDoseRate   = Input{Name: "dose_rate", Kind: InputAmount, Units: []quantity.Unit{quantity.UgPerKgPerMin, quantity.MgPerKgPerH, ugPerMin, quantity.MgPerH, iuPerH}}
	inStrength   = Input{Name: "strength", Kind: InputStrength, Units: anyStrength}
	inDropsPerML = Input{Name: "drops_per_ml", Kind: InputCount, Units: []quantity.Unit{quantity.DropsPerML}}
	inRate       = Input{Name: "rate", Kind: InputAmount, Units: []quantity.Unit{quantity.MLPerH, quantity.MLPerMin, quantity.DropsPerMin}}
	inWanted     = Input{Name: "wanted", Kind: InputStrength, Units: anyStrength}
	inVolume     = Input{Name: "volume", Kind: InputAmount, Units: []quantity.Unit{quantity.ML, quantity.L}}
	inTake       = Input{Name: "take", Kind: InputAmount, Units: []quantity.Unit{quantity.ML}}
	inContent    = Input{Name: "content", Kind: InputAmount, Units: []quantity.Unit{quantity.Mg, quantity.Ug, quantity.G}}
	inMassOnly   = Input{Name: "strength", Kind: InputStrength, Units: strengthUnits}
	inPerKg      = Input{Name: "per_kg", Kind: InputAmount, Units: []quantity.Unit{quantity.MgPerKg}}
	inCap        = Input{Name: "cap", Kind: InputAmount, Units: []quantity.Unit{quantity.Mg}}
	inFrom       = Input{Name: "from", Kind: InputAmount}
	inTo         = Input{Name: "to", Kind: InputUnit}
)

var prepareReckonings = []Reckoning{
	{"infusion", []Input{needed(inDoseRate), needed(inStrength), inWeight, inDropsPerML, inAge, inLength, inWeightBy}, infusionRate},
	{"infusion-dose", []Input{needed(inRate), needed(inStrength), inWeight, inDropsPerML, inAge, inLength, inWeightBy}, infusionDose},
	{"dilution", []Input{needed(inStrength), needed(inWanted), inVolume, inTake}, dilution},
	{"strength", []Input{inMassOnly, inContent, inVolume}, strength},
	{"local-maximum", []Input{needed(inWeight), needed(inPerKg), needed(inMassOnly), inCap, inAge, inLength, inWeightBy}, localMaximum},
	{"convert", []Input{needed(inFrom), needed(inTo)}, convert},
}

// The cautions and assumptions of what is worked out here.
var (
	cautionArithmetic  = Coded{areaReckon, "arithmetic"}           // arithmetic on what was typed, never an instruction
	cautionDropsOfSet  = Coded{areaReckon, "drops-of-the-set"}     // drops per mL are of the set; its packet says how many
	cautionPerKg       = Coded{areaReckon, "weight-not-used"}      // a weight, but a dose rate that does not go by it
	cautionSmallVolume = Coded{areaReckon, "small-volume"}         // less than a syringe measures well
	cautionMixing      = Coded{areaReckon, "mix-and-label"}        // which diluent, mix, label
	cautionCeiling     = Coded{areaReckon, "ceiling-not-a-target"} // a maximum is no dose to give
	cautionAllCount    = Coded{areaReckon, "all-given-counts"}     // every local anaesthetic given counts
	cautionSmallInfant = Coded{areaReckon, "infant-less"}          // under 6 months less is allowed
	assumptionWV       = Coded{areaReckon, "weight-in-volume"}     // a percentage or ratio is weight in volume
	assumptionAtCap    = Coded{areaReckon, "at-the-cap"}           // the cap is less than what goes by weight
	assumptionRounded  = Coded{areaReckon, "rounded"}              // it does not come out even
)

var (
	infusionSource = patient.Source{Title: "mL/h = dose in an hour / strength; drops/min = mL/h x drops per mL / 60", Mark: term.MarkPractice}
	dilutionSource = patient.Source{Title: "volume to take = volume to make x strength wanted / strength at hand", Mark: term.MarkPractice}
	percentSource  = patient.Source{Author: "Oxford Medical Education", Title: "strength in percent is g in 100 mL: 1 % = 10 mg/mL", Table: "definition, in a worked example", Mark: term.MarkRead}
	ratioSource    = patient.Source{Title: "strength as 1:N is 1 g in N mL: 1:1000 = 1 mg/mL", Table: "definition", Mark: term.MarkMemory}
	localSource    = patient.Source{Author: "Oxford Medical Education", Title: "maximum of a local anaesthetic: mg/kg x weight; mL = mg / strength", Table: "worked example: 70 kg, 3 mg/kg, 1 %: 210 mg, 21 mL", Mark: term.MarkRead}
)

// bounded gives the number of an input in a unit, if it lies within limits.
// Limits here are to catch a slip of the hand; they have no source.
func bounded(g Given, name string, u quantity.Unit, low, high string) (*big.Rat, error) {
	x := exactly(g.amount(name), u)
	code := ""
	switch {
	case x.Cmp(rational(low)) < 0:
		code = patient.TooLow
	case x.Cmp(rational(high)) > 0:
		code = patient.TooHigh
	default:
		return x, nil
	}
	return nil, &fault{name: name, code: code, low: low + " " + u.String(), high: high + " " + u.String()}
}

// strengthOf gives a strength in ug/mL, or in [IU]/mL where that is what it is
// in, and says what a percentage or a ratio was taken for.
func (r *Result) strengthOf(g Given, name string) (x *big.Rat, u quantity.Unit, err error) {
	v := g.values[name]
	u, low, high := quantity.UgPerML, "0.001", "2000000"
	if v.Amount.Unit.Dimension() == quantity.InternationalConcentration {
		u, low, high = iuPerML, "0.001", "10000000"
	}
	if x, err = bounded(g, name, u, low, high); err != nil {
		return nil, u, err
	}
	if v.Defined {
		r.assume(assumptionWV)
		r.from(percentSource, ratioSource)
		r.step("strength-defined", patient.Named{Name: "gives", Amount: milligrams(x, u)})
	}
	return x, u, nil
}

// otherStrength is the error of a strength in mass where international units
// are wanted, or the other way round: of each substance they are their own.
func otherStrength(name string, international bool) error {
	if international {
		return &fault{name: name, code: patient.WrongUnit, units: []quantity.Unit{iuPerML}}
	}
	return &fault{name: name, code: patient.WrongUnit, units: strengthUnits}
}

// milligrams writes an amount in micrograms that is a milligram and more in
// milligrams, so that a step reads as people write.
func milligrams(x *big.Rat, u quantity.Unit) quantity.Amount {
	larger := map[quantity.Unit]quantity.Unit{
		quantity.Ug: quantity.Mg, quantity.UgPerML: quantity.MgPerML, ugPerH: quantity.MgPerH, ugPerKgPerH: quantity.MgPerKgPerH,
	}
	if l, ok := larger[u]; ok && x.Cmp(big.NewRat(1000, 1)) >= 0 {
		x, u = quotient(x, big.NewRat(1000, 1)), l
	}
	return shown("", x, u).Amount
}

func inStep(name string, x *big.Rat, u quantity.Unit) patient.Named {
	return patient.Named{Name: name, Amount: milligrams(x, u)}
}

// weigh gives the weight in kg, and what is to be said of it.
func (r *Result) weigh(g Given) (*big.Rat, error) {
	a, err := patient.Weight(g.patient())
	if err != nil {
		return nil, err
	}
	r.about(a)
	return exactly(a.Value, quantity.Kg), nil
}

// dropsPerML gives the drops per mL, which is 5 to 100 of every set and bottle
// known here (no source).
func (r *Result) dropsPerML(g Given) (*big.Rat, error) {
	r.beware(cautionDropsOfSet)
	return bounded(g, "drops_per_ml", quantity.DropsPerML, "5", "100")
}

// infusionRate gives the rate in mL/h, and in drops/min where the set is known,
// at which an infusion gives so much in each time. Source: infusionSource.
func infusionRate(g Given, r *Result) error {
	r.beware(cautionArithmetic)
	r.from(infusionSource)
	// In an hour, so that a dose for each minute stays a finite decimal.
	u, low, high := ugPerH, "0.001", "1000000000"
	in := g.amount("dose_rate")
	switch in.Unit.Dimension() {
	case quantity.MassPerMassTime:
		u, low, high = ugPerKgPerH, "0.0001", "10000000"
	case quantity.InternationalRate:
		u, low, high = iuPerH, "0.001", "100000000"
	}
	dose, err := bounded(g, "dose_rate", u, low, high)
	if err != nil {
		return err
	}
	perML, su, err := r.strengthOf(g, "strength")
	if err != nil {
		return err
	}
	if (su == iuPerML) != (u == iuPerH) {
		return otherStrength("strength", u == iuPerH)
	}
	if hour := milligrams(dose, u); hour.Unit != in.Unit {
		r.step("dose-in-an-hour", patient.Named{Name: "dose_rate", Amount: in}, patient.Named{Name: "gives", Amount: hour})
	}
	switch {
	case u == ugPerKgPerH:
		kg, err := r.weigh(g)
		if err != nil {
			return err
		}
		whole := product(dose, kg)
		r.step("dose-by-weight", inStep("dose", dose, u), shown("weight", kg, quantity.Kg), inStep("gives", whole, ugPerH))
		dose, u = whole, ugPerH
	case g.has("weight"):
		if _, err := r.weigh(g); err != nil {
			return err
		}
		r.beware(cautionPerKg)
	}
	rate := quotient(dose, perML)
	r.step("rate", inStep("dose", dose, u), inStep("strength", perML, su), shown("gives", rate, quantity.MLPerH))
	r.add("rate", "infusion-rate", rounded(rate, 2, quantity.MLPerH))
	if g.has("drops_per_ml") {
		drops, err := r.dropsPerML(g)
		if err != nil {
			return err
		}
		perMin := quotient(product(rate, drops), big.NewRat(60, 1))
		r.step("drop-rate", shown("rate", rate, quantity.MLPerH), shown("drops", drops, quantity.DropsPerML), shown("gives", perMin, quantity.DropsPerMin))
		r.add("drop_rate", "infusion-drops", rounded(perMin, 1, quantity.DropsPerMin))
	}
	return nil
}

// infusionDose gives what an infusion that runs gives in each time, and for
// each kg where the weight is known. Source: infusionSource.
func infusionDose(g Given, r *Result) error {
	r.beware(cautionArithmetic)
	r.from(infusionSource)
	var rate *big.Rat // mL/h
	if g.amount("rate").Unit.Dimension() == quantity.DropRate {
		if !g.has("drops_per_ml") {
			return &fault{name: "drops_per_ml", code: patient.Missing}
		}
		drops, err := r.dropsPerML(g)
		if err != nil {
			return err
		}
		perMin, err := bounded(g, "rate", quantity.DropsPerMin, "0.1", "1000")
		if err != nil {
			return err
		}
		rate = quotient(product(perMin, big.NewRat(60, 1)), drops)
		r.step("rate-of-drops", shown("rate", perMin, quantity.DropsPerMin), shown("drops", drops, quantity.DropsPerML), shown("gives", rate, quantity.MLPerH))
	} else {
		var err error
		if rate, err = bounded(g, "rate", quantity.MLPerH, "0.001", "30000"); err != nil {
			return err
		}
	}
	perML, su, err := r.strengthOf(g, "strength")
	if err != nil {
		return err
	}
	dose := product(rate, perML)
	hour, minute := ugPerH, ugPerMin
	if su == iuPerML {
		hour, minute = iuPerH, iuPerMin
	}
	r.step("dose-of-rate", shown("rate", rate, quantity.MLPerH), inStep("strength", perML, su), inStep("gives", dose, hour))
	perMin := quotient(dose, big.NewRat(60, 1))
	if hour == ugPerH {
		r.add("dose_per_hour", "infusion-dose", rounded(quotient(dose, big.NewRat(1000, 1)), 2, quantity.MgPerH))
	} else {
		r.add("dose_per_hour", "infusion-dose", rounded(dose, 2, hour))
	}
	r.add("dose_per_minute", "infusion-dose", rounded(perMin, 2, minute))
	if !g.has("weight") {
		return nil
	}
	kg, err := r.weigh(g)
	if err != nil {
		return err
	}
	if hour != ugPerH {
		r.beware(cautionPerKg)
		return nil
	}
	perKg := quotient(perMin, kg)
	r.step("dose-for-each-kg", shown("dose", perMin, minute), shown("weight", kg, quantity.Kg), shown("gives", perKg, quantity.UgPerKgPerMin))
	r.add("dose_per_kg_per_minute", "infusion-dose", rounded(perKg, 2, quantity.UgPerKgPerMin))
	r.add("dose_per_kg_per_hour", "infusion-dose", rounded(product(perKg, big.NewRat(6, 100)), 2, quantity.MgPerKgPerH))
	return nil
}

// dilution gives how much to take of a strength and how much diluent to add, for
// a weaker one: so much of it, or so much as comes of what is taken. Source:
// dilutionSource.
func dilution(g Given, r *Result) error {
	r.beware(cautionArithmetic)
	r.beware(cautionMixing)
	r.from(dilutionSource)
	switch {
	case !g.has("volume") && !g.has("take"):
		return &fault{name: "volume", code: inputOneOf, names: "volume, take"}
	case g.has("volume") && g.has("take"):
		return &fault{name: "volume", code: inputOnlyOne, names: "volume, take"}
	}
	have, u, err := r.strengthOf(g, "strength")
	if err != nil {
		return err
	}
	want, wu, err := r.strengthOf(g, "wanted")
	if err != nil {
		return err
	}
	if u != wu {
		return otherStrength("wanted", u == iuPerML)
	}
	if want.Cmp(have) >= 0 {
		return &fault{name: "wanted", code: inputNotWeaker}
	}
	var take, gives *big.Rat // mL
	have1, want1 := inStep("strength", have, u), inStep("wanted", want, u)
	if g.has("volume") {
		if gives, err = bounded(g, "volume", quantity.ML, "0.1", "100000"); err != nil {
			return err
		}
		take = quotient(product(gives, want), have)
		r.step("take", shown("volume", gives, quantity.ML), want1, have1, shown("gives", take, quantity.ML))
	} else {
		if take, err = bounded(g, "take", quantity.ML, "0.01", "10000"); err != nil {
			return err
		}
		gives = quotient(product(take, have), want)
		r.step("makes", shown("take", take, quantity.ML), have1, want1, shown("gives", gives, quantity.ML))
	}
	takes, makes := rounded(take, 2, quantity.ML), rounded(gives, 2, quantity.ML)
	// Of what is told, so that the volumes add up.
	adds := new(big.Rat).Sub(rational(makes.Value.String()), rational(takes.Value.String()))
	add := decimal(adds.FloatString(20), quantity.ML)
	r.step("add", patient.Named{Name: "makes", Amount: makes}, patient.Named{Name: "take", Amount: takes}, patient.Named{Name: "gives", Amount: add})
	if take.Cmp(big.NewRat(1, 10)) < 0 {
		r.beware(cautionSmallVolume)
	}
	if exactly(takes, quantity.ML).Cmp(take) != 0 || exactly(makes, quantity.ML).Cmp(gives) != 0 {
		r.assume(assumptionRounded)
	}
	r.add("take", "dilution", takes)
	r.add("add", "dilution", add)
	r.add("gives", "dilution", makes)
	r.add("strength", "dilution", milligrams(want, u))
	return nil
}

// strength gives a strength in all the ways of writing it: of a strength, or of
// what is dissolved in what volume. 1:N is given where N comes out even.
// Source: percentSource, ratioSource.
func strength(g Given, r *Result) error {
	r.beware(cautionArithmetic)
	r.assume(assumptionWV)
	r.from(percentSource, ratioSource)
	var ug *big.Rat // in a mL
	switch {
	case g.has("strength") && (g.has("content") || g.has("volume")):
		return &fault{name: "strength", code: inputOnlyOne, names: "strength, content + volume"}
	case g.has("strength"):
		x, _, err := r.strengthOf(g, "strength")
		if err != nil {
			return err
		}
		ug = x
	case g.has("content") && g.has("volume"):
		content, err := bounded(g, "content", quantity.Ug, "0.001", "1000000000")
		if err != nil {
			return err
		}
		volume, err := bounded(g, "volume", quantity.ML, "0.01", "100000")
		if err != nil {
			return err
		}
		ug = quotient(content, volume)
		r.step("content-in-volume", inStep("content", content, quantity.Ug), shown("volume", volume, quantity.ML), inStep("gives", ug, quantity.UgPerML))
	default:
		return &fault{name: "strength", code: inputOneOf, names: "strength, content + volume"}
	}
	mg := quotient(ug, big.NewRat(1000, 1))
	percent := quotient(mg, big.NewRat(10, 1))
	r.add("mg_per_ml", "strength", rounded(mg, 2, quantity.MgPerML))
	r.add("ug_per_ml", "strength", rounded(ug, 2, quantity.UgPerML))
	r.add("percent", "strength", rounded(percent, 2, quantity.Percent))
	r.step("percent", shown("strength", mg, quantity.MgPerML), shown("gives", percent, quantity.Percent))
	if n := quotient(big.NewRat(1000, 1), mg); n.IsInt() {
		r.step("ratio", shown("strength", mg, quantity.MgPerML), patient.Named{Name: "gives", Amount: rounded(n, 0, quantity.One)})
		r.add("ratio_1_to", "strength", rounded(n, 0, quantity.One))
	}
	return nil
}

// localMaximum gives the most of a local anaesthetic by a limit for each kg and
// a cap, in mg and in mL, both rounded down. The limit, the cap and the
// strength are what was typed: no drug is known here. Source: localSource; the
// word about infants from memory.
func localMaximum(g Given, r *Result) error {
	r.beware(cautionArithmetic)
	r.beware(cautionCeiling)
	r.beware(cautionAllCount)
	r.from(localSource)
	kg, err := r.weigh(g)
	if err != nil {
		return err
	}
	perKg, err := bounded(g, "per_kg", quantity.MgPerKg, "0.01", "60")
	if err != nil {
		return err
	}
	ug, _, err := r.strengthOf(g, "strength")
	if err != nil {
		return err
	}
	mg := product(perKg, kg)
	r.step("by-weight", shown("per_kg", perKg, quantity.MgPerKg), shown("weight", kg, quantity.Kg), shown("gives", mg, quantity.Mg))
	if g.has("cap") {
		most, err := bounded(g, "cap", quantity.Mg, "0.1", "10000")
		if err != nil {
			return err
		}
		if mg.Cmp(most) > 0 {
			r.step("cap", shown("dose", mg, quantity.Mg), shown("cap", most, quantity.Mg))
			r.assume(assumptionAtCap)
			mg = most
		}
	}
	if age := g.amount("age"); !age.IsZero() {
		if c, err := age.Cmp(quantity.MustParse("6 mo")); err == nil && c < 0 {
			r.beware(cautionSmallInfant)
		}
	}
	perML := quotient(ug, big.NewRat(1000, 1))
	ml := quotient(mg, perML)
	r.step("volume-down", shown("dose", mg, quantity.Mg), shown("strength", perML, quantity.MgPerML), shown("gives", ml, quantity.ML))
	decimals := 1
	if ml.Cmp(big.NewRat(1, 1)) < 0 {
		decimals = 2
		r.beware(cautionSmallVolume)
	}
	r.add("dose", "local-maximum", roundedDown(mg, 1, quantity.Mg))
	r.add("volume", "local-maximum", roundedDown(ml, decimals, quantity.ML))
	return nil
}

// likeUnits gives the units of the same dimension.
func likeUnits(u quantity.Unit) (list []quantity.Unit) {
	for _, v := range quantity.Units() {
		if v.Dimension() == u.Dimension() {
			list = append(list, v)
		}
	}
	return list
}

// figures is how many figures a conversion that does not come out even has.
const figures = 15

// convert gives an amount in another unit of its dimension: exactly, or with 15
// figures. Source: the tables of package quantity.
func convert(g Given, r *Result) error {
	from, to := g.amount("from"), g.values["to"].Unit
	if from.Unit.Dimension() != to.Dimension() {
		return &fault{name: "to", code: patient.WrongUnit, units: likeUnits(from.Unit)}
	}
	if to.Dimension() == quantity.Temperature {
		if _, err := bounded(g, "from", quantity.Kelvin, "0", "1000000"); err != nil {
			return err
		}
	}
	exact, err := from.In(to)
	if err != nil {
		return err
	}
	result := exact
	if _, err := exact.MarshalText(); err != nil {
		x := rational(exact.Value.String())
		text := x.FloatString(decimalsFor(x, figures))
		if len(text) > quantity.MaxDecimalLen || rational(text).Sign() != x.Sign() {
			return &fault{name: "from", code: inputOutOfScale}
		}
		result = decimal(text, to)
		r.assume(assumptionRounded)
	}
	r.beware(cautionArithmetic)
	r.add("result", "convert", result)
	r.step("convert", patient.Named{Name: "from", Amount: from}, patient.Named{Name: "gives", Amount: result})
	for _, u := range []quantity.Unit{from.Unit, to} {
		r.from(patient.Source{Author: "G. Schadow, C. J. McDonald", Title: "The Unified Code for Units of Measure, version 2.1", Year: 2017, Table: u.Source(), Mark: term.MarkRead})
	}
	return nil
}
