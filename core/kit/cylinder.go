package kit

import (
	"fmt"
	"slices"

	"chinlift/core/exact"
	"chinlift/core/quantity"
	"chinlift/core/term"
)

var (
	ukSizes   = Source{Title: "oxygen in cylinders at 137 bar: C 170, D 340, E 680, F 1360, G 3400, J 6800 L", Table: "sizes", Via: "a teaching page for C, D, E and F; G and J from memory", Mark: term.MarkRead}
	ukLarge   = Source{Title: "oxygen in cylinders at 137 bar: G 3400, J 6800 L", Table: "sizes", Mark: term.MarkMemory}
	ukWater   = Source{Title: "water capacity of cylinders: C 1.2, D 2.3, E 4.7, F 9.4, G 23.6, J 47.2 L", Table: "litres x bar, as an ideal gas", Mark: term.MarkMemory}
	usFactors = Source{Title: "tank factors for oxygen: D 0.16, E 0.28, M 1.56, G 2.41, H and K 3.14 L/psi", Table: "minutes = (psi - 200) x factor / (L/min)", Via: "teaching pages that agree, and a cylinder sheet of an ambulance service", Mark: term.MarkRead}
	usFull    = Source{Title: "Gas Cylinders, StatPearls", Year: 2023, Table: "oxygen at 2200 psig: B 200, D 425, E 660, F 1360, G 3400, M 3450 L", Mark: term.MarkRead}
	stamped   = Source{Author: "derived", Title: "water capacity x gauge in bar, as an ideal gas; oxygen at 137 bar is some 5 % more", Mark: term.MarkPractice}
	reserveOf = Source{Title: "safe residual pressure 200 psi", Table: "duration of oxygen tanks", Via: "teaching pages that agree", Mark: term.MarkRead}
	halfFull  = Source{Author: "United States Food and Drug Administration", Title: "Anesthesia Apparatus Checkout Recommendations", Year: 1993, Table: "a spare E cylinder is at least half full, 1000 psi", Via: "a teaching copy", Mark: term.MarkRead}
	crisis    = Source{Title: "oxygen in emergencies: 15 L/min by bag and mask or reservoir mask in critical illness, 10-15 L/min where saturation is under 85 %", Via: "a reference of clinical guidance for responders", Mark: term.MarkRead}
)

// Reserve is what is usually left in a cylinder: 200 psi, 14 bar. Source:
// reserveOf.
var Reserve = quantity.MustParse("200 [psi]")

// The flows of a crisis, L/min. Source: crisis.
const crisisLow, crisisHigh = "10", "15"

// Cylinder is a size of oxygen cylinder. Colours differ between countries and
// are not asked: the label says what is inside. Nitrous oxide is not here: it
// is liquid, and its gauge does not tell what is left.
type Cylinder struct {
	Code  string          // uk-e, us-e; other for one known by its water capacity
	Full  quantity.Amount // gauge pressure of a full one; absent for other
	Water quantity.Amount // water capacity; absent where no source has it

	content []content // what sources give, the one to plan by first
}

// content is litres of oxygen at a gauge pressure.
type content struct {
	litres, at string
	unit       quantity.Unit
	source     Source
}

// perBar gives the litres for each bar.
func (c content) perBar() *exact.Number {
	at, err := quantity.MustParse(c.at + " " + c.unit.String()).In(quantity.Bar)
	if err != nil {
		panic("kit: " + err.Error())
	}
	return exact.Of(c.litres).Over(exact.Of(at.Value.String()))
}

// Cylinders are the named sizes. The litre values of the United Kingdom are
// printed ones; what water capacity and pressure give is a little less and is
// the low end of the range. Of the United States the first value is the tank
// factor; only of G, where a table has 3400 and the factor makes 5300 L of a
// full one, the lower stands first.
var Cylinders = []Cylinder{
	uk("uk-c", "170", "1.2", ukSizes), uk("uk-d", "340", "2.3", ukSizes), uk("uk-e", "680", "4.7", ukSizes),
	uk("uk-f", "1360", "9.4", ukSizes), uk("uk-g", "3400", "23.6", ukLarge), uk("uk-j", "6800", "47.2", ukLarge),
	us("us-b", full("200")), us("us-d", factor("0.16"), full("425")), us("us-e", factor("0.28"), full("660")), us("us-f", full("1360")),
	us("us-m", factor("1.56"), full("3450")), us("us-g", full("3400"), factor("2.41")), us("us-h", factor("3.14")),
}

func uk(code, litres, water string, source Source) Cylinder {
	return Cylinder{Code: code, Full: quantity.MustParse("137 bar"), Water: quantity.MustParse(water + " L"),
		content: []content{{litres, "137", quantity.Bar, source}, {water, "1", quantity.Bar, ukWater}}}
}

func us(code string, of ...content) Cylinder {
	return Cylinder{Code: code, Full: quantity.MustParse("2200 [psi]"), content: of}
}

func factor(litres string) content { return content{litres, "1", quantity.Psi, usFactors} }
func full(litres string) content   { return content{litres, "2200", quantity.Psi, usFull} }

// CylinderOf gives a named size. The error is an *Error for "cylinder".
func CylinderOf(code string) (Cylinder, error) {
	i := slices.IndexFunc(Cylinders, func(c Cylinder) bool { return c.Code == code })
	switch {
	case i >= 0:
		return Cylinders[i], nil
	case code == "":
		return Cylinder{}, &Error{Field: "cylinder", Code: Missing}
	}
	return Cylinder{}, &Error{Field: "cylinder", Code: UnknownCode, Given: code}
}

// CylinderOfWater gives a cylinder by the water capacity that is stamped on it,
// 0.2 to 100 L. The error is an *Error for "water".
func CylinderOfWater(water quantity.Amount) (Cylinder, error) {
	l, err := read("water", water, quantity.L, "0.2", "100")
	if err != nil {
		return Cylinder{}, err
	}
	return Cylinder{Code: "other", Water: water, content: []content{{l.String(), "1", quantity.Bar, stamped}}}, nil
}

// Reading is a cylinder with what its gauge shows.
type Reading struct {
	Cylinder Cylinder
	Gauge    quantity.Amount // bar, kPa or psi, over the pressure of the air
}

// maxBar is more than any gauge shows on a cylinder of a clinic (house choice).
const maxBar = "300"

// contents adds up the litres over the reserve, by the value, the least and the
// most that sources give.
func contents(a *Answer, reserve quantity.Amount, cylinders []Reading) (value, low, high *exact.Number, err error) {
	if len(cylinders) == 0 {
		return nil, nil, nil, &Error{Field: "cylinders", Code: Missing}
	}
	keep, err := read("reserve", reserve, quantity.Bar, "0", maxBar)
	if err != nil {
		return nil, nil, nil, err
	}
	a.beware(Estimate, GaugeWarm)
	if keep.Sign() > 0 {
		a.cite(reserveOf)
	}
	value, low, high = new(exact.Number), new(exact.Number), new(exact.Number)
	for i, r := range cylinders {
		if len(r.Cylinder.content) == 0 {
			return nil, nil, nil, &Error{Field: fmt.Sprintf("cylinders[%d].cylinder", i), Code: Missing}
		}
		bar, err := r.bar(a, fmt.Sprintf("cylinders[%d].gauge", i))
		if err != nil {
			return nil, nil, nil, err
		}
		bar = bar.Minus(keep)
		if bar.Sign() <= 0 {
			a.beware(BelowReserve)
			bar = new(exact.Number)
		}
		var v, least, most *exact.Number
		for n, c := range r.Cylinder.content {
			a.cite(c.source)
			per := c.perBar()
			if n == 0 {
				v, least, most = per, per, per
			}
			least, most = exact.Min(least, per), exact.Max(most, per)
		}
		if most.Cmp(least.Times(exact.Of("1.1"))) > 0 {
			a.beware(SizesDiffer)
		}
		if r.Cylinder.Full.IsZero() {
			a.beware(StampedWater)
		}
		value, low, high = value.Plus(v.Times(bar)), low.Plus(least.Times(bar)), high.Plus(most.Times(bar))
	}
	return value, low, high, nil
}

// bar reads a gauge and says what is odd about it.
func (r Reading) bar(a *Answer, field string) (*exact.Number, error) {
	high := maxBar
	var fullBar *exact.Number
	if !r.Cylinder.Full.IsZero() {
		var err error
		if fullBar, err = read("full", r.Cylinder.Full, quantity.Bar, "0", ""); err != nil {
			return nil, err
		}
		// A quarter over full is heat and overfilling; more is another cylinder
		// or a slip of the hand (house choice).
		high = fullBar.Times(exact.Of("1.25")).FloatString(1)
	}
	bar, err := read(field, r.Gauge, quantity.Bar, "0", high)
	if err != nil {
		return nil, err
	}
	if fullBar != nil {
		if bar.Cmp(fullBar) > 0 {
			a.beware(OverFull)
		}
		if bar.Cmp(fullBar.Over(exact.Of("2"))) < 0 {
			a.beware(UnderHalf)
			a.cite(halfFull)
		}
	}
	return bar, nil
}

// Oxygen gives the litres of oxygen over a reserve of pressure in cylinders, all
// of them together, rounded down to a litre. Low and High are what the sources
// span; plan by Low. An *Error names cylinders[i].gauge, "reserve" or
// "cylinders".
func Oxygen(reserve quantity.Amount, cylinders ...Reading) (Answer, error) {
	var a Answer
	value, low, high, err := contents(&a, reserve, cylinders)
	if err != nil {
		return Answer{}, err
	}
	a.set(value, low, high, 0, quantity.L)
	return a, nil
}

// Minutes gives how long cylinders, one after the other, last at a flow of 0.1
// to 100 L/min less a reserve of pressure, in min, rounded down to a tenth.
// Published examples: D of the United States, 2000 psi, 200 psi left, 15 L/min:
// 19.2 min; E, 1200 psi, 4 L/min: 70 min.
func Minutes(flow, reserve quantity.Amount, cylinders ...Reading) (Answer, error) {
	f, err := read("flow", flow, quantity.LPerMin, "0.1", "100")
	if err != nil {
		return Answer{}, err
	}
	var a Answer
	value, low, high, err := contents(&a, reserve, cylinders)
	if err != nil {
		return Answer{}, err
	}
	a.set(value.Over(f), low.Over(f), high.Over(f), 1, quantity.Minute)
	return a, nil
}

// CrisisMinutes is Minutes at the flow of a crisis: the value at 15 L/min, the
// range from 15 to 10 L/min. Source: crisis.
func CrisisMinutes(reserve quantity.Amount, cylinders ...Reading) (Answer, error) {
	var a Answer
	value, low, high, err := contents(&a, reserve, cylinders)
	if err != nil {
		return Answer{}, err
	}
	a.cite(crisis)
	a.set(value.Over(exact.Of(crisisHigh)), low.Over(exact.Of(crisisHigh)), high.Over(exact.Of(crisisLow)), 1, quantity.Minute)
	return a, nil
}

// set puts value and range, all rounded down; the range is left out where it is
// none. The last decimals of a conversion from psi do not decide about a
// rounding.
func (a *Answer) set(value, low, high *exact.Number, decimals int, u quantity.Unit) {
	of := func(x *exact.Number) quantity.Amount {
		return x.Plus(exact.Of("0.000001")).DownTo(decimals).Amount(decimals, u)
	}
	a.Value = of(value)
	if low.Cmp(high) != 0 {
		a.Low, a.High = of(low), of(high)
	}
}
