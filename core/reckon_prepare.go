package core

import (
	"strings"

	"chinlift/core/patient"
	"chinlift/core/quantity"
	"chinlift/core/term"
)

// What is worked out over a tray: how fast an infusion runs, how a drug is
// diluted, how strong it is, how much of a local anaesthetic a limit allows,
// and what an amount is in another unit. It is arithmetic on what was typed:
// none of it knows a drug or a dose.

var (
	ugPerMin = quantity.MustUnit("ug/min")
	ugPerH   = quantity.MustUnit("ug/h")
	iuPerH   = quantity.MustUnit("[IU]/h")
	iuPerMin = quantity.MustUnit("[IU]/min")
	iuPerKgH = quantity.MustUnit("[IU]/kg/h")

	massStrengths = []quantity.Unit{quantity.MgPerML, quantity.UgPerML}
	anyStrength   = []quantity.Unit{quantity.MgPerML, quantity.UgPerML, quantity.IUPerML, quantity.MmolPerML}

	inDoseRate   = Input{Name: "dose_rate", Kind: InputAmount, Units: []quantity.Unit{quantity.UgPerKgPerMin, quantity.MgPerKgPerH, ugPerMin, quantity.MgPerH, iuPerH, iuPerKgH, quantity.MmolPerH, quantity.MmolPerKgPerH}}
	inStrength   = Input{Name: "strength", Kind: InputStrength, Units: anyStrength}
	inDropsPerML = Input{Name: "drops_per_ml", Kind: InputCount, Units: []quantity.Unit{quantity.DropsPerML}}
	inRate       = Input{Name: "rate", Kind: InputAmount, Units: []quantity.Unit{quantity.MLPerH, quantity.MLPerMin, quantity.DropsPerMin}}
	inWanted     = Input{Name: "wanted", Kind: InputStrength, Units: anyStrength}
	inVolume     = Input{Name: "volume", Kind: InputAmount, Units: []quantity.Unit{quantity.ML, quantity.L}}
	inTake       = Input{Name: "take", Kind: InputAmount, Units: []quantity.Unit{quantity.ML}}
	inContent    = Input{Name: "content", Kind: InputAmount, Units: []quantity.Unit{quantity.Mg, quantity.Ug, quantity.G}}
	inMassOnly   = Input{Name: "strength", Kind: InputStrength, Units: massStrengths}
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
	cautionNotByWeight = Coded{areaReckon, "weight-not-used"}      // a weight, but a dose rate that does not go by it
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
	percentSource  = patient.Source{Author: "United States Pharmacopeial Convention", Title: "USP 28, General Notices", Year: 2005, Table: "Percentage Measurements: 1 % weight in volume is 1 g in 100 mL", Via: "a copy", Mark: term.MarkRead}
	ratioSource    = patient.Source{Author: "Food and Drug Administration", Title: "Single Entity Injectable Drug Products", Year: 2017, Table: "1:1000 is 1 mg/mL, 1:10 000 is 0.1 mg/mL", Mark: term.MarkRead}
	localSource    = patient.Source{Author: "Oxford Medical Education", Title: "maximum of a local anaesthetic: mg/kg x weight; mL = mg / strength", Table: "worked example: 70 kg, 3 mg/kg, 1 %: 210 mg, 21 mL", Mark: term.MarkRead}
)

// drugIn says in what units a drug is reckoned with, by how it is measured.
type drugIn struct {
	perML, perH, perKgPerH quantity.Unit
	perMin, perKgPerMin    quantity.Unit // none where nobody writes so
	content                quantity.Unit
}

var drugsIn = map[quantity.Dimension]drugIn{
	quantity.MassConcentration:          {quantity.MgPerML, quantity.MgPerH, quantity.MgPerKgPerH, ugPerMin, quantity.UgPerKgPerMin, quantity.Mg},
	quantity.InternationalConcentration: {perML: quantity.IUPerML, perH: iuPerH, perKgPerH: iuPerKgH, perMin: iuPerMin, content: quantity.IU},
	quantity.SubstanceConcentration:     {perML: quantity.MmolPerML, perH: quantity.MmolPerH, perKgPerH: quantity.MmolPerKgPerH, content: quantity.Mmol},
}

// bounded gives an input, if it lies within limits. Limits here are to catch a
// slip of the hand; they have no source.
func bounded(g Given, name, low, high string) (quantity.Amount, error) {
	a := g.amount(name)
	switch {
	case compare(a, low) < 0:
		return quantity.Amount{}, &fault{name: name, code: patient.TooLow, low: low, high: high}
	case compare(a, high) > 0:
		return quantity.Amount{}, &fault{name: name, code: patient.TooHigh, low: low, high: high}
	}
	return a, nil
}

// strengthOf gives a strength as people reckon with it, and says what a
// percentage or a ratio was taken for.
func (r *Result) strengthOf(g Given, name string) (quantity.Amount, error) {
	low, high := "0.001 ug/mL", "2000 mg/mL"
	switch g.amount(name).Unit.Dimension() {
	case quantity.InternationalConcentration:
		low, high = "0.001 [IU]/mL", "10000000 [IU]/mL"
	case quantity.SubstanceConcentration:
		low, high = "0.001 mmol/L", "100 mmol/mL"
	}
	c, err := bounded(g, name, low, high)
	if err != nil {
		return c, err
	}
	if form := g.values[name].Strength.Form(); form == quantity.InPercent || form == quantity.AsRatio {
		r.defines()
		r.step("strength-defined", patient.Named{Name: "gives", Amount: inStep(c)})
	}
	return c, nil
}

// defines says what percentages and ratios are taken for.
func (r *Result) defines() {
	r.assume(assumptionWV)
	r.from(percentSource, ratioSource)
}

// otherStrength is the error of a strength in one kind of unit where one of
// another is wanted. Of each substance an international unit is its own, and so
// is a mole.
func otherStrength(name string, like quantity.Dimension) error {
	f := &fault{name: name, code: patient.WrongUnit}
	for _, u := range anyStrength {
		if u.Dimension() == like {
			f.units = append(f.units, u)
		}
	}
	return f
}

// weigh gives the weight in kg, and what is to be said of it.
func (r *Result) weigh(g Given) (quantity.Amount, error) {
	a, err := patient.Weight(g.patient())
	if err != nil {
		return quantity.Amount{}, err
	}
	r.about(a)
	return a.Value, nil
}

// dropsPerML gives the drops per mL, which is 5 to 100 of every set and bottle
// known here (no source).
func (r *Result) dropsPerML(g Given) (quantity.Amount, error) {
	r.beware(cautionDropsOfSet)
	return bounded(g, "drops_per_ml", "5 {drop}/mL", "100 {drop}/mL")
}

// infusionRate gives the rate in mL/h, and in drops/min where the set is known,
// at which an infusion gives so much in each time. Source: infusionSource.
func infusionRate(g Given, r *Result) error {
	r.beware(cautionArithmetic)
	r.from(infusionSource)
	strength, err := r.strengthOf(g, "strength")
	if err != nil {
		return err
	}
	dose := g.amount("dose_rate")
	var drug drugIn
	byWeight := false
	for like, d := range drugsIn {
		if of := dose.Unit.Dimension(); of == d.perH.Dimension() || of == d.perKgPerH.Dimension() {
			if like != strength.Unit.Dimension() {
				return otherStrength("strength", like)
			}
			drug, byWeight = d, of == d.perKgPerH.Dimension()
		}
	}
	unit := drug.perH
	if byWeight {
		unit = drug.perKgPerH
	}
	if _, err := bounded(g, "dose_rate", "0.000001 "+unit.String(), "10000000 "+unit.String()); err != nil {
		return err
	}
	hourly := convertTo(dose, unit)
	if shown := inStep(hourly); shown.Unit != dose.Unit {
		r.step("dose-in-an-hour", patient.Named{Name: "dose_rate", Amount: dose}, patient.Named{Name: "gives", Amount: shown})
	}
	switch {
	case byWeight:
		kg, err := r.weigh(g)
		if err != nil {
			return err
		}
		whole := times(hourly, kg, drug.perH)
		r.step("dose-by-weight", shown("dose", hourly), shown("weight", kg), shown("gives", whole))
		hourly = whole
	case g.has("weight"):
		if _, err := r.weigh(g); err != nil {
			return err
		}
		r.beware(cautionNotByWeight)
	}
	rate := over(hourly, strength, quantity.MLPerH)
	r.step("rate", shown("dose", hourly), shown("strength", strength), shown("gives", rate))
	r.add("rate", "infusion-rate", rounded(rate, 2))
	if g.has("drops_per_ml") {
		drops, err := r.dropsPerML(g)
		if err != nil {
			return err
		}
		perMin := times(rate, drops, quantity.DropsPerMin)
		r.step("drop-rate", shown("rate", rate), shown("drops", drops), shown("gives", perMin))
		r.add("drop_rate", "infusion-drops", rounded(perMin, 1))
	}
	return nil
}

// infusionDose gives what an infusion that runs gives in each time, and for
// each kg where the weight is known. Source: infusionSource.
func infusionDose(g Given, r *Result) error {
	r.beware(cautionArithmetic)
	r.from(infusionSource)
	rate := g.amount("rate")
	if rate.Unit.Dimension() == quantity.DropRate {
		if !g.has("drops_per_ml") {
			return &fault{name: "drops_per_ml", code: patient.Missing}
		}
		drops, err := r.dropsPerML(g)
		if err != nil {
			return err
		}
		perMin, err := bounded(g, "rate", "0.1 {drop}/min", "1000 {drop}/min")
		if err != nil {
			return err
		}
		rate = over(perMin, drops, quantity.MLPerH)
		r.step("rate-of-drops", shown("rate", perMin), shown("drops", drops), shown("gives", rate))
	} else {
		if _, err := bounded(g, "rate", "0.000001 mL/h", "30000 mL/h"); err != nil {
			return err
		}
		rate = convertTo(rate, quantity.MLPerH)
	}
	strength, err := r.strengthOf(g, "strength")
	if err != nil {
		return err
	}
	drug := drugsIn[strength.Unit.Dimension()]
	hourly := times(rate, strength, drug.perH)
	r.step("dose-of-rate", shown("rate", rate), shown("strength", strength), shown("gives", hourly))
	r.add("dose_per_hour", "infusion-dose", rounded(hourly, 2))
	if !drug.perMin.IsZero() {
		r.add("dose_per_minute", "infusion-dose", rounded(times(rate, strength, drug.perMin), 2))
	}
	if !g.has("weight") {
		return nil
	}
	kg, err := r.weigh(g)
	if err != nil {
		return err
	}
	perKg := over(hourly, kg, drug.perKgPerH)
	r.step("dose-for-each-kg", shown("dose", hourly), shown("weight", kg), shown("gives", perKg))
	r.add("dose_per_kg_per_hour", "infusion-dose", rounded(perKg, 2))
	if !drug.perKgPerMin.IsZero() {
		r.add("dose_per_kg_per_minute", "infusion-dose", rounded(over(hourly, kg, drug.perKgPerMin), 2))
	}
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
	have, err := r.strengthOf(g, "strength")
	if err != nil {
		return err
	}
	want, err := r.strengthOf(g, "wanted")
	if err != nil {
		return err
	}
	if have.Unit.Dimension() != want.Unit.Dimension() {
		return otherStrength("wanted", have.Unit.Dimension())
	}
	if c, err := want.Cmp(have); err != nil || c >= 0 {
		return &fault{name: "wanted", code: inputNotWeaker}
	}
	var take, makes quantity.Amount
	content := drugsIn[have.Unit.Dimension()].content // multiplied first, so that one rounding is all
	if g.has("volume") {
		volume, err := bounded(g, "volume", "0.1 mL", "100 L")
		if err != nil {
			return err
		}
		makes = convertTo(volume, quantity.ML)
		take = over(times(makes, want, content), have, quantity.ML)
		r.step("take", shown("volume", makes), shown("wanted", want), shown("strength", have), shown("gives", take))
	} else {
		taken, err := bounded(g, "take", "0.01 mL", "10 L")
		if err != nil {
			return err
		}
		take = convertTo(taken, quantity.ML)
		makes = over(times(take, have, content), want, quantity.ML)
		r.step("makes", shown("take", take), shown("strength", have), shown("wanted", want), shown("gives", makes))
	}
	takes, gives := rounded(take, 2), rounded(makes, 2)
	if takes != take || gives != makes {
		r.assume(assumptionRounded)
	}
	add := less(gives, takes) // of what is told, so that the volumes add up
	r.step("add", patient.Named{Name: "makes", Amount: gives}, patient.Named{Name: "take", Amount: takes}, patient.Named{Name: "gives", Amount: add})
	if compare(take, "0.1 mL") < 0 {
		r.beware(cautionSmallVolume)
	}
	r.add("take", "dilution", takes)
	r.add("add", "dilution", add)
	r.add("gives", "dilution", gives)
	r.add("strength", "dilution", inStep(want))
	return nil
}

// strength gives a strength in all the ways of writing it: of a strength, or of
// what is dissolved in what volume. 1:N is given where N comes out even and is
// 100 or more. Source: percentSource, ratioSource.
func strength(g Given, r *Result) error {
	r.beware(cautionArithmetic)
	r.defines()
	var c quantity.Amount
	switch {
	case g.has("strength") && (g.has("content") || g.has("volume")):
		return &fault{name: "strength", code: inputOnlyOne, names: "strength, content + volume"}
	case g.has("strength"):
		var err error
		if c, err = r.strengthOf(g, "strength"); err != nil {
			return err
		}
	case g.has("content") && g.has("volume"):
		content, err := bounded(g, "content", "0.001 ug", "1 kg")
		if err != nil {
			return err
		}
		volume, err := bounded(g, "volume", "0.01 mL", "100 L")
		if err != nil {
			return err
		}
		c = over(content, volume, quantity.MgPerML)
		r.step("content-in-volume", shown("content", content), shown("volume", volume), shown("gives", c))
	default:
		return &fault{name: "strength", code: inputOneOf, names: "strength, content + volume"}
	}
	mg := convertTo(c, quantity.MgPerML)
	r.add("mg_per_ml", "strength", rounded(mg, 2))
	r.add("ug_per_ml", "strength", rounded(convertTo(c, quantity.UgPerML), 2))
	// Grams in 100 mL are percent by definition and not by dimension.
	grams := times(c, quantity.MustParse("100 mL"), quantity.G)
	percent := quantity.Amount{Value: grams.Value, Unit: quantity.Percent}
	r.step("percent", shown("strength", mg), shown("gives", percent))
	r.add("percent", "strength", rounded(percent, 2))
	if n := over(quantity.MustParse("1 g"), c, quantity.ML); compare(n, "100 mL") >= 0 && !strings.Contains(n.Value.String(), ".") {
		ratio := quantity.Amount{Value: n.Value, Unit: quantity.One}
		r.step("ratio", shown("strength", mg), patient.Named{Name: "gives", Amount: ratio})
		r.add("ratio_1_to", "strength", ratio)
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
	perKg, err := bounded(g, "per_kg", "0.01 mg/kg", "60 mg/kg")
	if err != nil {
		return err
	}
	strength, err := r.strengthOf(g, "strength")
	if err != nil {
		return err
	}
	dose := times(perKg, kg, quantity.Mg)
	r.step("by-weight", shown("per_kg", perKg), shown("weight", kg), shown("gives", dose))
	if g.has("cap") {
		most, err := bounded(g, "cap", "0.1 mg", "10000 mg")
		if err != nil {
			return err
		}
		if c, err := dose.Cmp(most); err == nil && c > 0 {
			r.step("cap", shown("dose", dose), shown("cap", most))
			r.assume(assumptionAtCap)
			dose = convertTo(most, quantity.Mg)
		}
	}
	if g.has("age") && compare(g.amount("age"), "6 mo") < 0 {
		r.beware(cautionSmallInfant)
	}
	volume := over(dose, strength, quantity.ML)
	r.step("volume-down", shown("dose", dose), shown("strength", strength), shown("gives", volume))
	step := "0.1 mL"
	if compare(volume, "1 mL") < 0 {
		step = "0.01 mL"
	}
	if compare(volume, "0.1 mL") < 0 {
		r.beware(cautionSmallVolume)
	}
	r.add("dose", "local-maximum", down(dose, "0.1 mg"))
	r.add("volume", "local-maximum", down(volume, step))
	return nil
}

// convert gives an amount in another unit of its dimension: exactly, or with 15
// figures. Source: the tables of package quantity.
func convert(g Given, r *Result) error {
	from, to := g.amount("from"), g.values["to"].Unit
	if from.Unit.Dimension() != to.Dimension() {
		f := &fault{name: "to", code: patient.WrongUnit}
		for _, u := range quantity.Units() {
			if u.Dimension() == from.Unit.Dimension() {
				f.units = append(f.units, u)
			}
		}
		return f
	}
	if to.Dimension() == quantity.Temperature {
		if _, err := bounded(g, "from", "0 K", "1000000 K"); err != nil {
			return err
		}
	}
	result := convertTo(from, to)
	// More figures than that are those of a division that does not come out even,
	// here or in a fraction that was typed.
	if rounded := result.Round(decimalsFor(result.Value, 15)); rounded.Value.Cmp(result.Value) != 0 {
		result = rounded
		r.assume(assumptionRounded)
	}
	if _, err := result.MarshalText(); err != nil || result.Value.Sign() != from.Value.Sign() && to.Dimension() != quantity.Temperature {
		return &fault{name: "from", code: inputOutOfScale}
	}
	r.beware(cautionArithmetic)
	r.add("result", "convert", result)
	r.step("convert", patient.Named{Name: "from", Amount: from}, patient.Named{Name: "gives", Amount: result})
	for _, u := range []quantity.Unit{from.Unit, to} {
		r.from(patient.Source{Author: "G. Schadow, C. J. McDonald", Title: "The Unified Code for Units of Measure, version 2.1", Year: 2017, Table: u.Source(), Mark: term.MarkRead})
	}
	return nil
}

// Arithmetic of amounts whose dimensions the reader has seen to: an error here
// is a defect. Results are exact up to 34 digits.

func certain(a quantity.Amount, err error) quantity.Amount {
	if err != nil {
		panic("core: " + err.Error())
	}
	return a
}

func times(a, b quantity.Amount, u quantity.Unit) quantity.Amount { return certain(a.Mul(b, u)) }
func over(a, b quantity.Amount, u quantity.Unit) quantity.Amount  { return certain(a.Div(b, u)) }
func less(a, b quantity.Amount) quantity.Amount                   { return certain(a.Sub(b)) }
func convertTo(a quantity.Amount, u quantity.Unit) quantity.Amount {
	return certain(a.In(u))
}

func down(a quantity.Amount, step string) quantity.Amount {
	return plain(certain(a.Down(quantity.MustParse(step))))
}

func compare(a quantity.Amount, limit string) int {
	c, err := a.Cmp(quantity.MustParse(limit))
	if err != nil {
		panic("core: " + err.Error())
	}
	return c
}

// rounded rounds to so many decimals, or to more where it takes them to show
// three figures.
func rounded(a quantity.Amount, decimals int) quantity.Amount {
	return plain(a.Round(max(decimals, decimalsFor(a.Value, 3))))
}

// shown names a value in a step.
func shown(name string, a quantity.Amount) patient.Named {
	return patient.Named{Name: name, Amount: inStep(a)}
}

// inStep writes a value as a step shows it: to six figures, and less than a
// milligram in micrograms, as people write.
func inStep(a quantity.Amount) quantity.Amount {
	smaller := map[quantity.Unit]quantity.Unit{
		quantity.Mg: quantity.Ug, quantity.MgPerML: quantity.UgPerML, quantity.MgPerH: ugPerH, quantity.MgPerKgPerH: quantity.UgPerKgPerH,
	}
	if u, ok := smaller[a.Unit]; ok && a.Value.Cmp(quantity.DecimalFromInt(1)) < 0 && a.Value.Sign() > 0 {
		a = convertTo(a, u)
	}
	return plain(a.Round(decimalsFor(a.Value, 6)))
}

// plain takes away the noughts that rounding left at the end.
func plain(a quantity.Amount) quantity.Amount {
	return quantity.MustParse(quantity.Print(a.Value, false) + " " + a.Unit.String())
}

// decimalsFor gives how many decimals a number needs to show so many figures.
func decimalsFor(d quantity.Decimal, figures int) int {
	whole, part, _ := strings.Cut(strings.TrimPrefix(d.String(), "-"), ".")
	if whole != "0" {
		return max(0, figures-len(whole))
	}
	noughts := len(part) - len(strings.TrimLeft(part, "0"))
	if noughts == len(part) {
		return 0
	}
	return noughts + figures
}
