package quantity

import (
	"errors"
	"fmt"

	"github.com/cockroachdb/apd/v3"
)

var (
	// ErrNoughtDivisor says that an amount was to be divided by nought.
	ErrNoughtDivisor = errors.New("nothing can be divided by nought")
	// ErrStep says that a step to round to is nought or negative.
	ErrStep = errors.New("a step must be more than nought")
)

// Sub returns a less b in a's unit, with the exactness of In. The errors are
// those of Add.
func (a Amount) Sub(b Amount) (Amount, error) {
	if b.half() {
		return Amount{}, ErrAbsent
	}
	n := b.Value.number()
	n.Neg(n)
	return a.Add(Amount{Decimal{n.Text('f')}, b.Unit})
}

// Mul returns a times b in the unit u: 2 mg/kg times 70 kg in mg is 140 mg,
// 20 {drop}/mL times 90 mL/h in {drop}/min is 30 {drop}/min. It is exact where
// the result has at most 34 digits, otherwise rounded once, half even. For a
// number to print or to store, Round the result or bring it to a step.
//
// The dimensions must come out as u's. Mass is body mass where the product
// wants it so, but only in a unit that people are weighed in: mg/kg times mg is
// nothing. A fraction or a number of something is that something: 50 % of
// 10 mL is 5 mL. A fraction is never a concentration: 1 % times 5 mL is no
// mass; see Strength for what labels mean by it. Temperatures, which are points
// on a scale, have no products.
//
// The error is ErrAbsent or a *DimensionError that names all three units.
func (a Amount) Mul(b Amount, u Unit) (Amount, error) {
	return combine(a, b, u, false)
}

// Div returns a divided by b in the unit u: 140 mg by 10 mg/mL in mL is 14 mL,
// 90 mg by 60 kg in mg/kg is 1.5 mg/kg, 3 mg by 4 mg in % is 75 %. Exactness
// and dimensions are as in Mul. The error is ErrAbsent, ErrNoughtDivisor or a
// *DimensionError that names all three units.
func (a Amount) Div(b Amount, u Unit) (Amount, error) {
	return combine(a, b, u, true)
}

func combine(a, b Amount, u Unit, divide bool) (Amount, error) {
	if a.half() || b.half() {
		return Amount{}, ErrAbsent
	}
	thousands, ok := fits(a.Unit, b.Unit, u, divide)
	if !ok {
		return Amount{}, &DimensionError{Have: a.Unit, Want: u, With: b.Unit, Divided: divide}
	}
	an, ad := a.base()
	bn, bd := b.base()
	if divide {
		if bn.IsZero() {
			return Amount{}, fmt.Errorf("%s by %s: %w", a, b, ErrNoughtDivisor)
		}
		bn, bd = bd, bn
	}
	to := u.definition()
	num := product(product(an, bn), to.byN)
	den := product(product(ad, bd), to.timesN)
	num.Exponent -= 3 * int32(thousands)
	return Amount{decimalOf(quotient(num, den)), u}, nil
}

// fits reports whether a and b make u, and how many grams of body mass have to
// become kilograms for it: the dimensions count drugs in g and bodies in kg.
// Which mass is a body's follows from the other units: if more than one way
// fits, as in kg over kg, all give the same number, because what they have for
// body mass on either side is the same.
func fits(a, b, u Unit, divide bool) (thousands int, ok bool) {
	sign := 1
	if divide {
		sign = -1
	}
	for _, x := range rolesOf(a) {
		for _, y := range rolesOf(b) {
			for _, z := range rolesOf(u) {
				if combined(x.exponents, y.exponents, sign) == z.exponents {
					return x.body + sign*y.body - z.body, true
				}
			}
		}
	}
	return 0, false
}

// exponents say what a dimension is made of: a dose rate for each kilogram is
// mass 1, body mass -1, time -1.
type exponents [kinds]int

// What dimensions are made of. Finer than physics, as they are: the mass of a
// drug and of the body that it is for, a drop and a volume are apart, and a
// volume is not a length to the third.
const (
	mass = iota
	bodyMass
	volume
	length
	second
	substance
	pressure
	energy
	drops
	puffs
	international
	score
	kinds
)

// made has every dimension but temperature, whose scales have no products.
var made = map[Dimension]exponents{
	Pressure:                   {pressure: 1},
	Frequency:                  {second: -1},
	Fraction:                   {},
	Mass:                       {mass: 1},
	Volume:                     {volume: 1},
	Length:                     {length: 1},
	Area:                       {length: 2},
	MassPerArea:                {mass: 1, length: -2},
	MassPerSurface:             {mass: 1, length: -2},
	Duration:                   {second: 1},
	Flow:                       {volume: 1, second: -1},
	VolumePerMass:              {volume: 1, bodyMass: -1},
	VolumePerMassTime:          {volume: 1, bodyMass: -1, second: -1},
	MassRate:                   {mass: 1, second: -1},
	MassPerMass:                {mass: 1, bodyMass: -1},
	MassPerMassTime:            {mass: 1, bodyMass: -1, second: -1},
	MassConcentration:          {mass: 1, volume: -1},
	AmountOfSubstance:          {substance: 1},
	SubstancePerMass:           {substance: 1, bodyMass: -1},
	SubstanceRate:              {substance: 1, second: -1},
	SubstancePerMassTime:       {substance: 1, bodyMass: -1, second: -1},
	SubstanceConcentration:     {substance: 1, volume: -1},
	Drops:                      {drops: 1},
	DropRate:                   {drops: 1, second: -1},
	DropsPerVolume:             {drops: 1, volume: -1},
	Puffs:                      {puffs: 1},
	MassPerPuff:                {mass: 1, puffs: -1},
	International:              {international: 1},
	InternationalRate:          {international: 1, second: -1},
	InternationalPerMass:       {international: 1, bodyMass: -1},
	InternationalPerMassTime:   {international: 1, bodyMass: -1, second: -1},
	InternationalConcentration: {international: 1, volume: -1},
	Energy:                     {energy: 1},
	EnergyPerMass:              {energy: 1, bodyMass: -1},
	Number:                     {},
	Score:                      {score: 1},
}

func combined(x, y exponents, sign int) exponents {
	for i := range x {
		x[i] += sign * y[i]
	}
	return x
}

// role is one way to take a unit: as what its dimension is made of, with so
// many body masses given in grams and not in kilograms.
type role struct {
	exponents exponents
	body      int
}

func rolesOf(u Unit) []role {
	e, ok := made[u.Dimension()]
	switch {
	case !ok:
		return nil
	case weighsPeople(u):
		return []role{{e, 0}, {exponents{bodyMass: 1}, 1}}
	}
	return []role{{e, 0}}
}

// weighsPeople reports whether a mass in the unit may be a body's. A newborn
// is weighed in grams; nobody is weighed in milligrams or grains.
func weighsPeople(u Unit) bool {
	switch u.code {
	case "kg", "g", "[lb_av]", "[oz_av]", "[stone_av]":
		return true
	}
	return false
}

// Scale returns a times the number f in a's unit, with the exactness of In.
// The error is ErrAbsent or ErrTemperatureSum.
func (a Amount) Scale(f Decimal) (Amount, error) {
	if a.half() || f.IsZero() {
		return Amount{}, ErrAbsent
	}
	if a.Unit.Dimension() == Temperature {
		return Amount{}, fmt.Errorf("%s times %s: %w", a, f, ErrTemperatureSum)
	}
	return Amount{decimalOf(quotient(product(a.Value.number(), f.number()), apd.New(1, 0))), a.Unit}, nil
}

// Min returns the smaller of a and b, as it was entered; a where they are
// equal. The errors are those of Cmp.
func (a Amount) Min(b Amount) (Amount, error) {
	c, err := a.Cmp(b)
	switch {
	case err != nil:
		return Amount{}, err
	case c > 0:
		return b, nil
	}
	return a, nil
}

// Max returns the larger of a and b, as it was entered; a where they are equal.
// The errors are those of Cmp.
func (a Amount) Max(b Amount) (Amount, error) {
	c, err := a.Cmp(b)
	switch {
	case err != nil:
		return Amount{}, err
	case c < 0:
		return b, nil
	}
	return a, nil
}

// Down returns the largest multiple of the step that is not more than a, in
// the unit of the step, where it is exact: 0.1273 mg down to steps of 5 ug is
// 125 ug. The error is ErrAbsent, ErrStep, ErrTemperatureSum or a
// *DimensionError.
func (a Amount) Down(step Amount) (Amount, error) {
	return a.multiple(step, apd.RoundFloor)
}

// Up returns the smallest multiple of the step that is not less than a; the
// rest is as in Down.
func (a Amount) Up(step Amount) (Amount, error) {
	return a.multiple(step, apd.RoundCeiling)
}

// Nearest returns the multiple of the step that is nearest to a, halfway the
// even one, as Round does; the rest is as in Down.
func (a Amount) Nearest(step Amount) (Amount, error) {
	return a.multiple(step, apd.RoundHalfEven)
}

func (a Amount) multiple(step Amount, rounding apd.Rounder) (Amount, error) {
	if step.half() {
		return Amount{}, ErrAbsent
	}
	if err := mixes(a, step.Unit); err != nil {
		return Amount{}, err
	}
	if a.Unit.Dimension() == Temperature {
		return Amount{}, fmt.Errorf("%s in steps of %s: %w", a, step, ErrTemperatureSum)
	}
	if step.Value.Sign() <= 0 {
		return Amount{}, fmt.Errorf("%s: %w", step, ErrStep)
	}
	an, ad := a.base()
	sn, sd := step.base()
	n := whole(product(an, sd), product(ad, sn), rounding)
	return Amount{decimalOf(product(n, step.Value.number())), step.Unit}, nil
}
