package kit

import (
	"errors"

	"chinlift/core/agent"
	"chinlift/core/exact"
	"chinlift/core/quantity"
	"chinlift/core/term"
)

var (
	liquidRule = Source{Author: "derived", Title: "per cent of the minute volume, over the vapour from a mL of liquid at 20 °C", Table: "mL/h = % x L/min x 600 / (mL vapour in mL)", Mark: term.MarkPractice}
	ruleOf3    = Source{Author: "Dhulkhed and others", Title: "Indian J Anaesth 57:455", Year: 2013, Table: "mL/h is about 3 x % x L/min", Mark: term.MarkRead}
	nielsen    = Source{Author: "J. Nielsen and others", Title: "Accuracy of 94 anaesthetic agent vaporizers in clinical use, Br J Anaesth 71:453", Year: 1993, Table: "limits 15 % to either side; 8, 17 and 71 % of three types lay outside", Mark: term.MarkRead}
	dropper    = Source{Title: "a pharmacist's dropper gives about 60 drops of ether to the mL; bottles with a wick or a cut cork 25 to 40", Mark: term.MarkMemory}
	counting   = Source{Author: "house choice", Title: "one drop and a tenth of a mL to either side in counting", Mark: term.MarkPractice}
	wetHours   = Source{Title: "an adult takes 100-200 mL of ether in the first hour, then 60-120, with a third to a half of the gauze wet", Mark: term.MarkMemory}
	wetHouse   = Source{Author: "house choice", Title: "dry and damp gauze as fractions of that", Mark: term.MarkPractice}

	pharmacopoeia = Source{Author: "World Health Organization", Title: "The International Pharmacopoeia, 6th edition, Anaesthetic Ether", Year: 2016, Table: "not for anaesthesia if removed from its container for over 24 hours; in partly used containers it may deteriorate rapidly", Mark: term.MarkRead}
	peroxideRule  = Source{Author: "Tufts University", Title: "Maximum storage time periods for peroxide-forming compounds", Table: "ethers: opened 6 months; closed 1 year or the maker's day; other houses have 12 months and a test", Mark: term.MarkRead}
)

// liquidAgent gives an agent that comes as a liquid.
func liquidAgent(code term.Agent) (agent.Agent, error) {
	of, err := agent.Of(code)
	var e *agent.Error
	switch {
	case errors.As(err, &e):
		return agent.Agent{}, &Error{Field: e.Field, Code: e.Code, Given: e.Given}
	case err != nil:
		return agent.Agent{}, err
	case of.Gas:
		return agent.Agent{}, &Error{Field: "agent", Code: NoRule, Given: string(code)}
	}
	return of, nil
}

// pressure gives the pressure of a standard day in mmHg at a height, or at sea
// level where none is given, and says so.
func pressure(a *Answer, height quantity.Amount) (float64, error) {
	if height.IsZero() {
		a.beware(SeaLevelTaken)
		return agent.StandardMmHg(0), nil
	}
	h, err := read("height", height, quantity.M, "-400", "6000")
	if err != nil {
		return 0, err
	}
	a.beware(StandardDay)
	return agent.StandardMmHg(h.Float()), nil
}

// LiquidUse gives the liquid agent, in mL/h to a tenth, that makes a percentage
// (0 to 40) of a minute volume or fresh gas (0.1 to 60 L/min) at a height, or
// at sea level where none is given. The percentage is that of the gas as it is
// breathed, not a dial. The range is 15 % to either side, as vaporisers are, and
// 4 % less because real vapours give more than ideal ones. What is spilt is not
// in it. Source: liquidRule, nielsen; by rule of thumb 3 mL/h for each % and
// L/min, ruleOf3.
func LiquidUse(code term.Agent, percent, minuteVolume, height quantity.Amount) (Answer, error) {
	of, err := liquidAgent(code)
	if err != nil {
		return Answer{}, err
	}
	x, err := read("percent", percent, quantity.Percent, "0", "40")
	if err != nil {
		return Answer{}, err
	}
	v, err := read("minute_volume", minuteVolume, quantity.LPerMin, "0.1", "60")
	if err != nil {
		return Answer{}, err
	}
	var a Answer
	p, err := pressure(&a, height)
	if err != nil {
		return Answer{}, err
	}
	use := x.Float() * v.Float() * 600 / of.VapourMLPerML(20, p)
	a.Value, a.Low, a.High = exact.Model(use, 1, quantity.MLPerH), exact.Model(use*0.85/1.04, 1, quantity.MLPerH), exact.Model(use*1.15, 1, quantity.MLPerH)
	a.beware(Estimate, DialIsNotOutput)
	a.cite(liquidRule, nielsen, ruleOf3, of.DensityGPerML.Source, of.MolarMassGPerMol.Source)
	return a, nil
}

// DropsPerML calibrates a dropper: so many drops, 20 to 2000, filled a measure
// to so many mL, 0.5 to 50. The answer is in {drop}/mL to a tenth, and holds for
// that bottle, dropper and agent. Source of the range: counting.
func DropsPerML(drops, volume quantity.Amount) (Answer, error) {
	n, err := read("drops", drops, quantity.Drop, "20", "2000")
	if err != nil {
		return Answer{}, err
	}
	v, err := read("volume", volume, quantity.ML, "0.5", "50")
	if err != nil {
		return Answer{}, err
	}
	one, tenth := exact.Of("1"), exact.Of("0.1")
	a := Answer{
		Value: n.Over(v).Amount(1, quantity.DropsPerML),
		Low:   n.Minus(one).Over(v.Plus(tenth)).Amount(1, quantity.DropsPerML),
		High:  n.Plus(one).Over(v.Minus(tenth)).Amount(1, quantity.DropsPerML),
	}
	a.beware(Estimate, ThisBottle)
	if v.Cmp(exact.Of("5")) < 0 {
		a.beware(CountMore)
	}
	a.cite(counting)
	return a, nil
}

// UncountedDrops is what is known of a dropper of ether that nobody counted:
// next to nothing. Source: dropper; the middle is a house choice.
func UncountedDrops() Answer {
	a := Answer{Value: quantity.MustParse("40 {drop}/mL"), Low: quantity.MustParse("25 {drop}/mL"), High: quantity.MustParse("60 {drop}/mL")}
	a.beware(Estimate, CountDrops)
	a.cite(dropper)
	return a
}

// DropUse gives the liquid, in mL/h to a tenth, at a rate of drops (1 to 1000
// {drop}/min) and drops in a mL, as DropsPerML or UncountedDrops give them; a
// count without its range is taken as it is.
func DropUse(rate quantity.Amount, perML Answer) (Answer, error) {
	r, err := read("rate", rate, quantity.DropsPerMin, "1", "1000")
	if err != nil {
		return Answer{}, err
	}
	value, low, high, err := perML.span("drops_per_ml", quantity.DropsPerML, "5", "200")
	if err != nil {
		return Answer{}, err
	}
	hourly := r.Times(exact.Of("60"))
	a := Answer{Cautions: perML.Cautions, Sources: perML.Sources}.own()
	a.Value = hourly.Over(value).Amount(1, quantity.MLPerH)
	if low.Cmp(high) != 0 {
		a.Low, a.High = hourly.Over(high).Amount(1, quantity.MLPerH), hourly.Over(low).Amount(1, quantity.MLPerH)
	}
	a.beware(Estimate)
	return a, nil
}

// WetUse guesses the ether, in mL/h, by the look of the gauze: the middle of a
// wide range. Wet is a third to a half of the gauze. Source: wetHours for wet
// and soaked, wetHouse for the others.
func WetUse(w term.Wetness) (Answer, error) {
	var low, middle, high string
	source := wetHours
	switch w {
	case term.WetnessDry:
		low, middle, high, source = "0", "15", "30", wetHouse
	case term.WetnessDamp:
		low, middle, high, source = "30", "45", "60", wetHouse
	case term.WetnessWet:
		low, middle, high = "60", "90", "120"
	case term.WetnessSoaked:
		low, middle, high = "100", "150", "200"
	case "":
		return Answer{}, &Error{Field: "wetness", Code: Missing}
	default:
		return Answer{}, &Error{Field: "wetness", Code: UnknownCode, Given: string(w)}
	}
	a := Answer{Value: exact.Written(middle, quantity.MLPerH), Low: exact.Written(low, quantity.MLPerH), High: exact.Written(high, quantity.MLPerH)}
	a.beware(Estimate, Guess)
	a.cite(source)
	return a, nil
}

// Lasts gives for how long a volume, up to 100 000 L, lasts at a use, in h, rounded
// down to a tenth: of an agent in mL/h, of oxygen in L/min. A use of nought, or
// one whose range reaches down to it, has no high end.
func Lasts(volume quantity.Amount, use Answer) (Answer, error) {
	v, err := read("volume", volume, quantity.ML, "0", "100000000")
	if err != nil {
		return Answer{}, err
	}
	value, low, high, err := use.span("use", quantity.MLPerH, "0", "")
	if err != nil {
		return Answer{}, err
	}
	if value.Sign() == 0 || high.Sign() == 0 {
		return Answer{}, &Error{Field: "use", Code: TooLow, Given: use.Value.String(), Low: "more than 0 mL/h"}
	}
	a := Answer{Cautions: use.Cautions, Sources: use.Sources}.own()
	a.Value = v.Over(value).DownTo(1).Amount(1, quantity.Hour)
	if low.Cmp(high) != 0 {
		a.Low = v.Over(high).DownTo(1).Amount(1, quantity.Hour)
		if low.Sign() > 0 {
			a.High = v.Over(low).DownTo(1).Amount(1, quantity.Hour)
		}
	}
	a.beware(Estimate)
	return a, nil
}

// Over gives the volume that a use takes over a time from low to high (0 to 48
// h), rounded up to a tenth: in L where the use is in L/min or L/h, else in mL.
// The value is the use over the longer time.
func Over(use Answer, low, high quantity.Amount) (Answer, error) {
	u, per := quantity.ML, quantity.MLPerH
	if s := use.Value.Unit.String(); s == "L/min" || s == "L/h" {
		u, per = quantity.L, quantity.MustUnit("L/h")
	}
	value, least, most, err := use.span("use", per, "0", "")
	if err != nil {
		return Answer{}, err
	}
	from, err := read("low", low, quantity.Hour, "0", "48")
	if err != nil {
		return Answer{}, err
	}
	to, err := read("high", high, quantity.Hour, "0", "48")
	if err != nil {
		return Answer{}, err
	}
	if to.Cmp(from) < 0 {
		return Answer{}, &Error{Field: "high", Code: Contradicts, Given: high.String(), Low: low.String()}
	}
	a := Answer{Cautions: use.Cautions, Sources: use.Sources}.own()
	a.Value, a.Low, a.High = value.Times(to).UpTo(1).Amount(1, u), least.Times(from).UpTo(1).Amount(1, u), most.Times(to).UpTo(1).Amount(1, u)
	a.beware(Estimate)
	return a, nil
}

// span reads an answer that is handed in: value and range, the value for the
// ends where there is none.
func (a Answer) span(field string, u quantity.Unit, least, most string) (value, low, high *exact.Number, err error) {
	if value, err = read(field, a.Value, u, least, most); err != nil {
		return nil, nil, nil, err
	}
	low, high = value, value
	if !a.Low.IsZero() {
		if low, err = read(field+".low", a.Low, u, least, most); err != nil {
			return nil, nil, nil, err
		}
	}
	if !a.High.IsZero() {
		if high, err = read(field+".high", a.High, u, least, most); err != nil {
			return nil, nil, nil, err
		}
	}
	if low.Cmp(value) > 0 || high.Cmp(value) < 0 {
		return nil, nil, nil, &Error{Field: field, Code: Contradicts, Given: a.Value.String(), Low: a.Low.String(), High: a.High.String()}
	}
	return value, low, high, nil
}

// own gives the answer with lists of its own, so that what is added is not
// added to another.
func (a Answer) own() Answer {
	var b Answer
	b.beware(a.Cautions...)
	b.cite(a.Sources...)
	return b
}

// Bottle is a bottle of agent; days are 2026-11-25, and 2026-11 is the last day
// of that month.
type Bottle struct {
	Agent    term.Agent
	Received string // may be absent
	Opened   string // absent where it is closed
	Expires  string // the maker's day; may be absent
}

// Age gives how old a bottle is on a day, in d: since it was opened, or, closed,
// since it was received. Ether makes peroxides with air and light, also
// unopened; what to beware of is in the cautions. A bottle without either day
// has no age: an *Error for "received". Source: pharmacopoeia, peroxideRule.
func (b Bottle) Age(on string) (Answer, error) {
	of, err := liquidAgent(b.Agent)
	if err != nil {
		return Answer{}, err
	}
	today, err := day("on", on)
	if err != nil {
		return Answer{}, err
	}
	var a Answer
	if b.Expires != "" {
		last, err := day("expires", b.Expires)
		if err != nil {
			return Answer{}, err
		}
		if today.After(last) {
			a.beware(Expired)
		}
	}
	field, since := "opened", b.Opened
	if since == "" {
		field, since = "received", b.Received
	}
	from, err := day(field, since)
	if err != nil {
		return Answer{}, err
	}
	n := days(from, today)
	if n < 0 {
		return Answer{}, &Error{Field: field, Code: Contradicts, Given: since, High: on}
	}
	a.Value = quantity.Amount{Value: quantity.DecimalFromInt(int64(n)), Unit: quantity.Day}
	if of.Code != term.AgentEther {
		return a, nil
	}
	a.cite(pharmacopoeia, peroxideRule)
	a.beware(PeroxidesExplode)
	switch {
	case field == "received":
		if n > 365 {
			a.beware(ClosedOverAYear)
		}
	case n > 182:
		a.beware(OpenedOverADay, OpenedHalfAYear)
	case n > 0: // opened yesterday may be 25 hours ago
		a.beware(OpenedOverADay)
	}
	return a, nil
}
