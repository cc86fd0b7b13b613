package patient

import (
	"math"

	"chinlift/core/exact"
	"chinlift/core/quantity"
	"chinlift/core/term"
)

// The rules of a weight that nobody could measure.
const (
	WeightInfant  Rule = "weight-0-12-months"
	WeightSmall   Rule = "weight-1-5-years"
	WeightSchool  Rule = "weight-6-12-years"
	WeightByLying Rule = "weight-for-length"
)

var (
	shortStevens = Source{
		Author: "Short, Stevens", Title: "Update in Anaesthesia (World Federation of Societies of Anaesthesiologists)",
		Table: "weight for age: 0-12 months 0.5 x months + 4; 1-5 years 2 x years + 8; 6-12 years 3 x years + 7", Mark: term.MarkRead,
	}
	apls = Source{
		Author: "Advanced Life Support Group", Title: "Advanced Paediatric Life Support, earlier editions",
		Table: "1-10 years: 2 x (years + 4)", Via: "teaching pages", Mark: term.MarkRead,
	}
	whoLength = Source{
		Author: "World Health Organization", Title: "WHO Child Growth Standards: length/height-for-age, weight-for-age, weight-for-length, weight-for-height and body mass index-for-age",
		Year: 2006, Table: "weight-for-length, 45 to 110 cm, L, M and S of boys and girls", Via: "the reference table as WHO's department of nutrition distributes it", Mark: term.MarkRead,
	}
)

// WeightForAge guesses a child's weight, in kg, from birth to the thirteenth
// birthday, by completed months in the first year and completed years then.
// From 1 to 10 years Low and High are what the formulas of the two bands and the
// older formula 2 x (years + 4) span. The formulas leap from 20 (18 by completed
// years) to 25 kg at the sixth birthday: JumpAtSix says so between 5 and 7.
// It needs the age. Source: shortStevens, apls.
func WeightForAge(p Patient) (Answer, error) {
	y, err := p.years()
	if err != nil {
		return Answer{}, err
	}
	if err := p.others(); err != nil {
		return Answer{}, err
	}
	kg, rule, ok := byAge(y)
	if !ok {
		return Answer{}, &Error{"age", NoRule, p.Age.String(), "0 a", "12 a"}
	}
	a := Answer{Rule: rule, Value: kg.Amount(1, quantity.Kg), Sources: []Source{shortStevens}}
	stepByAge := func(rule Rule, n, kg *exact.Number) {
		a.step(StepCode(rule), named("n", n, quantity.One), named("gives", kg, quantity.Kg))
	}
	if under(y, 1) {
		stepByAge(rule, completedMonths(y), kg)
	} else {
		stepByAge(rule, y.Floor(), kg)
	}
	a.assume(WeightFromAge, AgeCompleted)
	a.beware(Estimate, WeighIfPossible, WastedChild)
	if !under(y, 1) && under(y, 11) {
		n := y.Floor()
		low, high := exact.Whole(2).Times(n).Plus(exact.Whole(8)), exact.Whole(3).Times(n).Plus(exact.Whole(7))
		a.Low, a.High = low.Amount(1, quantity.Kg), high.Amount(1, quantity.Kg)
		if rule != WeightSmall {
			stepByAge("weight-older-formula", n, low)
		} else {
			stepByAge(WeightSchool, n, high)
		}
		a.Sources = append(a.Sources, apls)
	}
	if !under(y, 5) && under(y, 7) {
		a.beware(JumpAtSix)
	}
	return a, nil
}

// byAge gives the weight that the age suggests, if a formula covers it.
func byAge(years *exact.Number) (kg *exact.Number, rule Rule, ok bool) {
	n := years.Floor()
	switch {
	case under(years, 1):
		return exact.Of("0.5").Times(completedMonths(years)).Plus(exact.Whole(4)), WeightInfant, true
	case under(years, 6):
		return exact.Whole(2).Times(n).Plus(exact.Whole(8)), WeightSmall, true
	case under(years, 13):
		return exact.Whole(3).Times(n).Plus(exact.Whole(7)), WeightSchool, true
	}
	return nil, "", false
}

// completedMonths gives the whole months in a number of years that has 12
// decimals, as 1 month is no finite part of a year.
func completedMonths(years *exact.Number) *exact.Number {
	return years.Times(exact.Whole(12)).Plus(exact.Of("0.0000000001")).Floor()
}

// lengthRow is a row of the WHO table: length in cm, median in kg and
// coefficient of variation, of boys and of girls. Rows between are left out;
// straight lines between these stay within 1 % of them.
type lengthRow struct {
	cm                     string
	boy, boyS, girl, girlS string
}

// The Box-Cox powers, the same at every length. Source: whoLength.
const (
	boyL  = -0.3521
	girlL = -0.3833
)

// Source: whoLength.
var lengthRows = []lengthRow{
	{"45", "2.441", "0.09182", "2.4607", "0.09029"},
	{"47.5", "2.8609", "0.09036", "2.8867", "0.09048"},
	{"50", "3.3278", "0.0889", "3.3518", "0.09068"},
	{"52.5", "3.8814", "0.08741", "3.9105", "0.09089"},
	{"55", "4.5467", "0.08592", "4.5498", "0.0911"},
	{"57.5", "5.2721", "0.08455", "5.2173", "0.09128"},
	{"60", "5.9907", "0.08342", "5.8742", "0.09136"},
	{"62.5", "6.6527", "0.08266", "6.4948", "0.09133"},
	{"65", "7.2666", "0.08223", "7.0812", "0.09119"},
	{"70", "8.4227", "0.08229", "8.163", "0.09068"},
	{"75", "9.5032", "0.08295", "9.149", "0.09005"},
	{"80", "10.4475", "0.08308", "10.0891", "0.0894"},
	{"85", "11.5007", "0.08181", "11.2198", "0.08898"},
	{"90", "12.7209", "0.08041", "12.4723", "0.08906"},
	{"95", "13.8928", "0.08047", "13.7146", "0.08963"},
	{"100", "15.1637", "0.08198", "15.0267", "0.09069"},
	{"105", "16.6268", "0.08453", "16.547", "0.09219"},
	{"110", "18.2689", "0.08755", "18.3324", "0.09401"},
}

// WeightForLength guesses a child's weight, in kg, from its length lying down,
// 45 to 110 cm: the median, and in Low and High two standard deviations to
// either side. A wasted child lies under Low. Where the sex is not known the
// lower median stands and the range covers both. It needs the length; where
// the age is known too it says whether the two disagree. Source: whoLength.
func WeightForLength(p Patient) (Answer, error) {
	cm, err := p.length()
	if err != nil {
		return Answer{}, err
	}
	if err := p.others(); err != nil {
		return Answer{}, err
	}
	last := len(lengthRows) - 1
	if cm.Cmp(exact.Of(lengthRows[0].cm)) < 0 || cm.Cmp(exact.Of(lengthRows[last].cm)) > 0 {
		return Answer{}, &Error{"length", NoRule, p.Length.String(), lengthRows[0].cm + " cm", lengthRows[last].cm + " cm"}
	}
	i := 1
	for cm.Cmp(exact.Of(lengthRows[i].cm)) > 0 {
		i++
	}
	from, to := lengthRows[i-1], lengthRows[i]
	part := cm.Minus(exact.Of(from.cm)).Over(exact.Of(to.cm).Minus(exact.Of(from.cm)))
	between := func(x, y string) *exact.Number { return exact.Of(x).Plus(part.Times(exact.Of(y).Minus(exact.Of(x)))) }
	boy, girl := between(from.boy, to.boy), between(from.girl, to.girl)
	boyLow, boyHigh := edges(boy, between(from.boyS, to.boyS), boyL)
	girlLow, girlHigh := edges(girl, between(from.girlS, to.girlS), girlL)

	a := Answer{Rule: WeightByLying, Sources: []Source{whoLength}}
	a.assume(WeightFromLength)
	a.beware(Estimate, WeighIfPossible, WastedChild)
	a.step("who-rows", named("length", cm, quantity.Cm), named("from", exact.Of(from.cm), quantity.Cm), named("to", exact.Of(to.cm), quantity.Cm),
		named("boy", boy, quantity.Kg), named("girl", girl, quantity.Kg))
	kg, low, high := exact.Min(boy, girl), math.Min(boyLow, girlLow), math.Max(boyHigh, girlHigh)
	switch p.Sex {
	case term.SexMale:
		kg, low, high = boy, boyLow, boyHigh
	case term.SexFemale:
		kg, low, high = girl, girlLow, girlHigh
	default:
		a.assume(SexUnknownLower)
	}
	a.Value, a.Low, a.High = kg.Amount(1, quantity.Kg), exact.Model(low, 1, quantity.Kg), exact.Model(high, 1, quantity.Kg)
	a.step("who-spread", named("gives", kg, quantity.Kg), Named{"low", exact.Model(low, 4, quantity.Kg)}, Named{"high", exact.Model(high, 4, quantity.Kg)})
	if !p.Age.IsZero() {
		y, err := p.years()
		if err != nil {
			return Answer{}, err
		}
		if old, _, ok := byAge(y); ok && (old.Times(exact.Of("0.8")).Cmp(kg) > 0 || kg.Times(exact.Of("0.8")).Cmp(old) > 0) {
			a.beware(LengthAgeDisagree)
		}
	}
	return a, nil
}

// edges gives the weights two standard deviations to either side, by Cole's
// LMS: M (1 + L S z)^(1/L).
func edges(m, s *exact.Number, l float64) (low, high float64) {
	at := func(z float64) float64 { return m.Float() * math.Pow(1+l*s.Float()*z, 1/l) }
	return at(-2), at(2)
}

// GuessWeight guesses the weight of a child whom nobody could weigh: by length
// where the table has it, else by age. It says by what, so that the caller can
// put both into the patient. The error is that of the age, or a missing
// "weight" where neither is known.
func GuessWeight(p Patient) (Answer, term.WeightBy, error) {
	if p.Age.IsZero() && p.Length.IsZero() {
		return Answer{}, "", &Error{Field: "weight", Code: Missing}
	}
	if err := p.others(); err != nil {
		return Answer{}, "", err
	}
	if !p.Length.IsZero() {
		a, err := WeightForLength(p)
		if err == nil || p.Age.IsZero() {
			return a, term.WeightByLengthTape, err
		}
	}
	a, err := WeightForAge(p)
	return a, term.WeightByAgeFormula, err
}
