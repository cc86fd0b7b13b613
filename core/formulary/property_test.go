package formulary

import (
	"errors"
	"slices"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"chinlift/core/exact"
	"chinlift/core/patient"
	"chinlift/core/quantity"
	"chinlift/core/term"
)

func tenths(t *rapid.T, name string, low, high int) string {
	n := rapid.IntRange(low, high).Draw(t, name)
	return strconv.Itoa(n/10) + "." + strconv.Itoa(n%10)
}

// drawUse draws a drug and a use of it.
func drawUse(t *rapid.T, f *Formulary) (*Drug, *Use) {
	d := rapid.SampledFrom(f.Drugs()).Draw(t, "drug")
	return d, &d.Uses[rapid.IntRange(0, len(d.Uses)-1).Draw(t, "use")]
}

// drawPatient draws a patient of 0.5 to 200 kg and 0 to 110 years, the young
// ones often.
func drawPatient(t *rapid.T) patient.Patient {
	age := tenths(t, "age", 0, 1100) + " a"
	if rapid.Bool().Draw(t, "young") {
		age = strconv.Itoa(rapid.IntRange(0, 5000).Draw(t, "days")) + " d"
	}
	p := pt(age, rapid.SampledFrom([]term.Sex{"", term.SexFemale, term.SexMale}).Draw(t, "sex"), tenths(t, "kg", 5, rapid.SampledFrom([]int{50, 200, 2000}).Draw(t, "up to"))+" kg", "")
	if rapid.Bool().Draw(t, "measured") {
		p.Length = am(strconv.Itoa(rapid.IntRange(40, 210).Draw(t, "cm")) + " cm")
	}
	return p
}

// drawGiven draws what was given before: this drug and others.
func drawGiven(t *rapid.T, f *Formulary, d *Drug) []Given {
	var list []Given
	for range rapid.IntRange(0, 3).Draw(t, "given") {
		g := d
		if rapid.Bool().Draw(t, "another") {
			g = rapid.SampledFrom(f.Drugs()).Draw(t, "which")
		}
		u := &g.Uses[rapid.IntRange(0, len(g.Uses)-1).Draw(t, "of")]
		m, _ := measureOf(u.Doses[0].Low)
		dose := exact.Of(tenths(t, "much", 0, 500)).Times(exact.Whole(1))
		one := Given{Drug: g.Code, Use: u.Code, Dose: amountDown(dose, 3, measures[measure{what: m.what}])}
		if rapid.Bool().Draw(t, "unnamed") {
			one.Use = ""
		}
		if rapid.Bool().Draw(t, "timed") {
			one.Ago = am(strconv.Itoa(rapid.IntRange(0, 2000).Draw(t, "ago")) + " min")
		}
		list = append(list, one)
	}
	return list
}

func drawRequest(t *rapid.T, f *Formulary) (Request, *Drug, *Use) {
	d, u := drawUse(t, f)
	r := Request{
		Drug: d.Code, Use: u.Code, Route: rapid.SampledFrom(u.Routes).Draw(t, "route"), Patient: drawPatient(t),
		Pregnant: rapid.Bool().Draw(t, "pregnant"), Given: drawGiven(t, f, d),
		With: rapid.SliceOfNDistinct(rapid.SampledFrom(term.ConditionList.Codes()), 0, 6, rapid.ID[term.Condition]).Draw(t, "with"),
	}
	return r, d, u
}

// ask is Reckon for requests that may have no rule; an error must be an *Error
// that names its field.
func ask(t *rapid.T, f *Formulary, r Request) (Answer, bool) {
	a, err := f.Reckon(r)
	if err != nil {
		var e *Error
		if !errors.As(err, &e) || e.Field == "" || e.Code == "" {
			t.Fatalf("error %v", err)
		}
		return a, false
	}
	return a, true
}

func rat(a quantity.Amount) *exact.Number { return exact.Of(a.Value.String()) }

// inUnit gives a in the unit of like.
func inUnit(a, like quantity.Amount) *exact.Number { return in(a, like.Unit) }

// a millionth of its unit is cut off each amount of an answer.
var grain = exact.Of("0.000002")

func over10(x *exact.Number) *exact.Number { return x.Times(exact.Of("0.1")) }

// TestNeverOverMaximum works the maxima out anew, from the file, with nothing
// of the engine but the reading of units.
func TestNeverOverMaximum(t *testing.T) {
	f := builtins(t)
	rapid.Check(t, func(t *rapid.T) {
		r, d, u := drawRequest(t, f)
		a, ok := ask(t, f, r)
		if !ok {
			return
		}
		for _, x := range []quantity.Amount{a.Low, a.High, a.Suggested, a.Unrounded, a.Limit, a.LimitVolume, a.Pieces, a.Flow} {
			if !x.IsZero() && x.Value.Sign() < 0 {
				t.Fatalf("under nought: %s", x)
			}
		}
		kg := in(r.Patient.Weight, quantity.Kg)
		var dose *Dose
		for i := range u.Doses {
			if o := &u.Doses[i]; inBand(t, r, o) {
				dose = o
			}
		}
		if dose == nil {
			t.Fatal("an answer without a band")
		}
		limits := []*exact.Number{}
		if !dose.Most.IsZero() {
			limits = append(limits, inUnit(dose.Most, a.High))
		}
		if !dose.MostPerKg.IsZero() {
			// At most the whole weight; the dosing weight is no more.
			m, _ := measureOf(dose.MostPerKg)
			per := in(dose.MostPerKg, measures[m])
			m.perKg = false
			limits = append(limits, in(amountDown(per.Times(kg), 12, measures[m]), a.High.Unit))
		}
		for _, limit := range limits {
			for _, x := range []quantity.Amount{a.Low, a.High, a.Suggested, a.Limit} {
				if !x.IsZero() && rat(x).Minus(limit).Cmp(grain) > 0 {
					t.Fatalf("%s is over the maximum %s", x, limit.FloatString(6))
				}
			}
		}
		if a.Suggested.IsZero() || u.Given != Bolus {
			return
		}
		for _, total := range u.Totals {
			if slices.ContainsFunc(total.Unless, func(c term.Condition) bool { return slices.Contains(r.With, c) }) || !ageIn(r.Patient.Age, total.Age) {
				continue
			}
			m, _ := measureOf(total.Most)
			most := in(total.Most, measures[m])
			if m.perKg {
				most = most.Times(kg)
			}
			sum := in(a.Suggested, measures[measure{what: m.what}])
			for _, g := range r.Given {
				if g.Drug != d.Code || len(total.Uses) > 0 && g.Use != "" && !slices.Contains(total.Uses, g.Use) {
					continue
				}
				if !total.Window.IsZero() && !g.Ago.IsZero() {
					if old, _ := g.Ago.Cmp(total.Window); old >= 0 {
						continue
					}
				}
				if g.Dose.Unit.Dimension() == measures[measure{what: m.what}].Dimension() {
					sum = sum.Plus(in(g.Dose, measures[measure{what: m.what}]))
				}
			}
			if sum.Minus(most).Cmp(grain) > 0 {
				t.Fatalf("%s and what was given are %s, over %s", a.Suggested, sum.FloatString(6), most.FloatString(6))
			}
		}
		for _, b := range a.Board {
			if b.Lifted || b.Most.IsZero() {
				continue
			}
			if in(a.Suggested, b.LeftDose.Unit).Minus(rat(b.LeftDose)).Cmp(grain) > 0 {
				t.Fatalf("%s of %+v", a.Suggested, b)
			}
		}
	})
}

func ageIn(age quantity.Amount, s Span) bool {
	if s.IsZero() {
		return true
	}
	low, _ := age.Cmp(s.Low)
	high, _ := age.Cmp(s.High)
	return low >= 0 && high < 0
}

func inBand(t *rapid.T, r Request, d *Dose) bool {
	if !ageIn(r.Patient.Age, d.Age) {
		return false
	}
	if !d.Mass.IsZero() {
		low, _ := r.Patient.Weight.Cmp(d.Mass.Low)
		high, _ := r.Patient.Weight.Cmp(d.Mass.High)
		if low < 0 || high >= 0 {
			return false
		}
	}
	return d.Sex == "" || d.Sex == r.Patient.Sex || d.Sex == term.SexFemale && r.Pregnant && r.Patient.Sex == ""
}

// TestFractionsSumToOne sums local anaesthetics anew: what was given of each
// and what is suggested, each as a fraction of its own maximum.
func TestFractionsSumToOne(t *testing.T) {
	f := builtins(t)
	type one struct {
		d *Drug
		u *Use
	}
	var uses []one
	for _, d := range f.Drugs() {
		for i := range d.Uses {
			if u := &d.Uses[i]; d.Equivalent != nil && d.Equivalent.Group == LocalAnaesthetics && !intrathecal(u) && u.Given == Bolus {
				uses = append(uses, one{d, u})
			}
		}
	}
	if len(uses) < 3 {
		t.Fatalf("%d uses of local anaesthetics", len(uses))
	}
	rapid.Check(t, func(t *rapid.T) {
		p := drawPatient(t)
		p.Length = quantity.Amount{}
		fraction := func(o one, dose quantity.Amount) *exact.Number {
			u := o.u
			if u.FractionOf != "" {
				u = o.d.Use(u.FractionOf)
			}
			for i := range u.Doses {
				if b := &u.Doses[i]; inBand(t, Request{Patient: p}, b) {
					most := exact.Of("1000000")
					if !b.Most.IsZero() {
						most = in(b.Most, quantity.Mg)
					}
					if !b.MostPerKg.IsZero() {
						most = exact.Min(most, in(b.MostPerKg, quantity.MgPerKg).Times(in(p.Weight, quantity.Kg)))
					}
					return in(dose, quantity.Mg).Over(most)
				}
			}
			return new(exact.Number)
		}
		asked := rapid.SampledFrom(uses).Draw(t, "asked")
		r := Request{Drug: asked.d.Code, Use: asked.u.Code, Patient: p}
		sum := new(exact.Number)
		for range rapid.IntRange(0, 3).Draw(t, "given") {
			o := rapid.SampledFrom(uses).Draw(t, "of")
			g := gave(o.d.Code, o.u.Code, tenths(t, "mg", 0, 1000)+" mg", "")
			r.Given = append(r.Given, g)
			sum = sum.Plus(fraction(o, g.Dose))
		}
		a, ok := ask(t, f, r)
		if !ok {
			return
		}
		for _, x := range []quantity.Amount{a.Suggested, a.Limit} {
			if x.IsZero() || x.Value.Sign() == 0 {
				continue
			}
			if all := sum.Plus(fraction(asked, x)); all.Minus(exact.Whole(1)).Cmp(exact.Of("0.0001")) > 0 {
				t.Fatalf("%s on top of %s: %s of the maximum", x, sum.FloatString(3), all.FloatString(4))
			}
		}
	})
}

// TestMeasuredOut: what is drawn up is the suggestion; for an ordinary use not
// more than was wanted and for a rescue use not a tenth off; a recipe keeps
// the drug that it takes.
func TestMeasuredOut(t *testing.T) {
	f := builtins(t)
	rapid.Check(t, func(t *rapid.T) {
		r, _, u := drawRequest(t, f)
		a, ok := ask(t, f, r)
		if !ok || a.Suggested.IsZero() {
			return
		}
		got, want := rat(a.Suggested), inUnit(a.Unrounded, a.Suggested)
		off := got.Minus(want)
		if !u.Rescue && off.Cmp(grain) > 0 {
			t.Fatalf("%s suggested where %s was wanted", a.Suggested, a.Unrounded)
		}
		pieces := !a.Pieces.IsZero()
		if off.Abs().Cmp(over10(want).Plus(grain)) > 0 && (u.Rescue || !pieces) {
			t.Fatalf("%s suggested where %s was wanted", a.Suggested, a.Unrounded)
		}
		if a.Draw == nil || pieces || a.Draw.Strength.IsZero() {
			return
		}
		what, _ := strengthOf(a.Draw.Strength)
		strength := in(a.Draw.Strength, strengths[what])
		volume, unit := a.Draw.Volume, quantity.ML
		if u.Given == Infusion {
			volume, unit = a.Flow, quantity.MLPerH
		}
		drawn := in(volume, unit).Times(strength)
		dose := in(a.Suggested, measures[measure{what, false, u.Given == Infusion}])
		// What runs is told in four figures, cut: a thousandth of it at most.
		told := grain
		if u.Given == Infusion {
			told = told.Plus(dose.Times(exact.Of("0.001")))
		}
		if drawn.Minus(dose).Cmp(told) > 0 {
			t.Fatalf("%s of %s hold more than %s", volume, a.Draw.Strength, a.Suggested)
		}
		for i := range u.Doses {
			at := u.Doses[i].At
			if at.IsZero() {
				at = u.At
			}
			if inBand(t, r, &u.Doses[i]) && !at.IsZero() && strength.Cmp(in(at, strengths[what])) > 0 {
				t.Fatalf("%s is stronger than %s", a.Draw.Strength, at)
			}
		}
		if d := a.Draw.Dilution; d != nil {
			taken := in(d.Take, quantity.ML).Times(in(d.From, strengths[what]))
			made := in(d.Total, quantity.ML).Times(strength)
			if diff := taken.Minus(made); diff.Abs().Cmp(made.Over(exact.Whole(10000))) > 0 {
				t.Fatalf("%s of %s is not %s of %s", d.Take, d.From, d.Total, a.Draw.Strength)
			}
			if u.Given == Bolus && in(d.Total, quantity.ML).Cmp(in(volume, quantity.ML)) < 0 {
				t.Fatalf("%s out of %s", volume, d.Total)
			}
		}
	})
}

// significant counts the figures of a number that somebody has to read.
func significant(a quantity.Amount) int {
	s := a.Value.String()
	if !strings.Contains(s, ".") {
		s = strings.TrimRight(s, "0")
	}
	return len(strings.TrimLeft(strings.ReplaceAll(s, ".", ""), "0"))
}

// measurable says what nobody could draw up, set or count of a suggestion; empty:
// nothing.
func measurable(u *Use, a Answer) string {
	if a.Suggested.IsZero() {
		return ""
	}
	if off := rat(a.Suggested).Minus(inUnit(a.Unrounded, a.Suggested)); u.Rescue && off.Abs().Cmp(over10(inUnit(a.Unrounded, a.Suggested)).Plus(grain)) > 0 {
		return "a rescue dose is over a tenth off " + a.Unrounded.String()
	}
	if n := significant(a.Suggested); n > 4 {
		return a.Suggested.String() + " has too many figures"
	}
	if !a.Flow.IsZero() {
		if n := significant(a.Flow); n > 3 {
			return "nobody sets " + a.Flow.String()
		}
		return ""
	}
	if a.Draw == nil || !a.Pieces.IsZero() {
		return ""
	}
	v := in(a.Draw.Volume, quantity.ML)
	if v.Cmp(exact.Of(syringeMost)) > 0 {
		if !v.IsWhole() {
			return "nobody measures " + a.Draw.Volume.String()
		}
		return ""
	}
	// By the marks of common practice that are written down here once more: 1
	// mL by 0.01, 2 by 0.1, 5 by 0.2, 10 by 0.5, 20 by 1.
	for _, s := range []struct{ holds, mark string }{{"1", "0.01"}, {"2", "0.1"}, {"5", "0.2"}, {"10", "0.5"}, {"20", "1"}, {"50", "1"}} {
		if v.Cmp(exact.Of(s.holds)) <= 0 {
			if v.Down(exact.Of(s.mark)).Cmp(v) != 0 {
				return a.Draw.Volume.String() + " is no mark of a syringe of " + s.holds + " mL"
			}
			return ""
		}
	}
	return "no syringe holds " + a.Draw.Volume.String()
}

// Every suggestion can be drawn up, set or counted, and no number of it is finer
// than that: for whomever is asked about, and for every rule over a grid of
// patients.
func TestEverySuggestionCanBeMeasured(t *testing.T) {
	f := builtins(t)
	t.Run("anybody", func(t *testing.T) {
		rapid.Check(t, func(t *rapid.T) {
			r, _, u := drawRequest(t, f)
			r.Strength, r.Syringes = quantity.Amount{}, nil // what is usually there
			if a, ok := ask(t, f, r); ok {
				if bad := measurable(u, a); bad != "" {
					t.Fatalf("%s %s: %s", r.Drug, r.Use, bad)
				}
			}
		})
	})
	t.Run("grid", func(t *testing.T) {
		suggested := map[string]bool{}
		for _, d := range f.Drugs() {
			for i := range d.Uses {
				u := &d.Uses[i]
				for _, p := range [][2]string{
					{"2 d", "1.3"}, {"2 d", "3.4"}, {"20 d", "4.1"}, {"3 mo", "5.7"}, {"9 mo", "8.3"}, {"18 mo", "11"}, {"3 a", "14.7"}, {"5 a", "19"}, {"8 a", "27"},
					{"11 a", "33"}, {"14 a", "41"}, {"17 a", "58"}, {"30 a", "44"}, {"30 a", "66.6"}, {"30 a", "70"}, {"30 a", "77.7"}, {"45 a", "93"}, {"62 a", "123"}, {"72 a", "52"}, {"85 a", "187"}, {"109 a", "38"},
				} {
					for _, sex := range []term.Sex{term.SexMale, term.SexFemale} {
						a, err := f.Reckon(Request{Drug: d.Code, Use: u.Code, Patient: pt(p[0], sex, p[1]+" kg", "")})
						if err != nil {
							continue // no rule for this patient
						}
						if bad := measurable(u, a); bad != "" {
							t.Errorf("%s %s, %s, %s kg: %s", d.Code, u.Code, p[0], p[1], bad)
						}
						if !a.Suggested.IsZero() {
							suggested[d.Code+" "+u.Code] = true
						}
					}
				}
			}
		}
		if len(suggested) < 140 {
			t.Errorf("%d rules suggest anything, of 161", len(suggested))
		}
	})
}

// TestGrowsWithWeight: within a band a heavier patient gets no less.
func TestGrowsWithWeight(t *testing.T) {
	f := builtins(t)
	rapid.Check(t, func(t *rapid.T) {
		r, _, u := drawRequest(t, f)
		a, ok := ask(t, f, r)
		if !ok {
			return
		}
		heavy := r
		heavy.Patient.Weight = am(tenths(t, "kg more", 5, 2000) + " kg")
		if c, _ := heavy.Patient.Weight.Cmp(r.Patient.Weight); c < 0 {
			return
		}
		for i := range u.Doses {
			if inBand(t, r, &u.Doses[i]) != inBand(t, heavy, &u.Doses[i]) {
				return
			}
		}
		b, ok := ask(t, f, heavy)
		if !ok {
			t.Fatal("an answer for the lighter one alone")
		}
		for _, c := range [][2]quantity.Amount{{a.Low, b.Low}, {a.High, b.High}, {a.Unrounded, b.Unrounded}, {a.Suggested, b.Suggested}, {a.Limit, b.Limit}} {
			if c[0].IsZero() {
				continue
			}
			if c[1].IsZero() {
				if hasStep(b, StepUnmeasurable, "") {
					continue
				}
				t.Fatalf("%s at %s, nothing at %s: %s", c[0], r.Patient.Weight, heavy.Patient.Weight, stepCodes(b))
			}
			if rat(c[0]).Minus(inUnit(c[1], c[0])).Cmp(grain) > 0 {
				t.Fatalf("%s at %s, %s at %s", c[0], r.Patient.Weight, c[1], heavy.Patient.Weight)
			}
		}
	})
}

// TestReductionsOnlyReduce: no condition and no drug given before raises a
// dose, and none touches a rescue use but by what is left.
func TestReductionsOnlyReduce(t *testing.T) {
	f := builtins(t)
	rapid.Check(t, func(t *rapid.T) {
		r, d, u := drawRequest(t, f)
		plainly := r
		plainly.With, plainly.Given, plainly.Agents, plainly.Pregnant = nil, nil, nil, r.Pregnant && slices.ContainsFunc(u.Doses, func(o Dose) bool { return o.Sex != "" })
		r.Agents = rapid.SliceOfN(rapid.SampledFrom(term.AgentList.Codes()), 0, 2).Draw(t, "agents")
		a, ok := ask(t, f, plainly)
		if !ok {
			return
		}
		b, ok := ask(t, f, r)
		if !ok {
			t.Fatal("no answer with conditions")
		}
		for _, c := range [][2]quantity.Amount{{a.Low, b.Low}, {a.High, b.High}, {a.Full.High, b.Full.High}} {
			diff := inUnit(c[1], c[0]).Minus(rat(c[0]))
			if diff.Cmp(grain) > 0 {
				t.Fatalf("%s %s: %s plainly, %s with %v", d.Code, u.Code, c[0], c[1], r.With)
			}
			if u.Rescue && diff.Sign() != 0 {
				t.Fatalf("a rescue use, %s %s: %s plainly, %s with %v", d.Code, u.Code, c[0], c[1], r.With)
			}
		}
		if u.Rescue && (len(b.Reductions) > 0 || !b.Factor.IsZero()) {
			t.Fatalf("a rescue use reduced: %+v", b.Reductions)
		}
		factor := exact.Whole(1)
		for _, one := range b.Reductions {
			factor = factor.Times(exact.Of(one.Factor.String()))
		}
		if !b.Factor.IsZero() && exact.Of(b.Factor.String()).Cmp(exact.Of(floorFactor)) < 0 {
			t.Fatalf("reduced to %s", b.Factor)
		}
		// What was wanted before the maxima is the factor's part of the rule.
		if len(b.Reductions) > 0 && factor.Cmp(exact.Of(floorFactor)) >= 0 && !hasStep(b, StepLeast, "") && !hasStep(a, StepLeast, "") {
			unreduced := plainly
			unreduced.Patient = r.Patient
			part := rat(a.Full.High).Times(factor.Over(plainFactor(a)))
			if diff := part.Minus(inUnit(b.Full.High, a.Full.High)); diff.Abs().Cmp(grain.Times(exact.Whole(10))) > 0 {
				t.Fatalf("%s by %s is not %s", a.Full.High, factor.FloatString(4), b.Full.High)
			}
		}
	})
}

// plainFactor is the factor that age alone has made.
func plainFactor(a Answer) *exact.Number {
	if a.Factor.IsZero() {
		return exact.Whole(1)
	}
	return exact.Of(a.Factor.String())
}

// TestUnitsDoNotMatter: pounds, stones and grams, months and days.
func TestUnitsDoNotMatter(t *testing.T) {
	f := builtins(t)
	units := []quantity.Unit{quantity.Kg, quantity.G, quantity.Pound, quantity.MustUnit("[stone_av]")}
	ages := []quantity.Unit{quantity.Year, quantity.Month, quantity.Week, quantity.Day, quantity.Hour}
	rapid.Check(t, func(t *rapid.T) {
		r, _, _ := drawRequest(t, f)
		a, err := f.Reckon(r)
		other := r
		var e1, e2, e3 error
		other.Patient.Weight, e1 = r.Patient.Weight.In(rapid.SampledFrom(units).Draw(t, "weight in"))
		other.Patient.Age, e2 = r.Patient.Age.In(rapid.SampledFrom(ages).Draw(t, "age in"))
		if !r.Patient.Length.IsZero() {
			other.Patient.Length, e3 = r.Patient.Length.In(rapid.SampledFrom([]quantity.Unit{quantity.Cm, quantity.MustUnit("[in_i]"), quantity.MustUnit("[ft_i]")}).Draw(t, "length in"))
		}
		if e := errors.Join(e1, e2, e3); e != nil {
			t.Fatal(e)
		}
		b, err2 := f.Reckon(other)
		if (err == nil) != (err2 == nil) {
			t.Fatalf("%v in one system, %v in another", err, err2)
		}
		if a.Low != b.Low || a.High != b.High || a.Suggested != b.Suggested || a.Limit != b.Limit || a.Next != b.Next || stepCodes(a) != stepCodes(b) || fired(a.Alerts) != fired(b.Alerts) {
			t.Fatalf("%s to %s, %s in one system; %s to %s, %s in another", a.Low, a.High, a.Suggested, b.Low, b.High, b.Suggested)
		}
	})
}

// TestJudgeAgrees: what is suggested exceeds nothing, but for the time that
// must pass; a rescue dose may be rounded up.
func TestJudgeAgrees(t *testing.T) {
	f := builtins(t)
	rapid.Check(t, func(t *rapid.T) {
		r, _, u := drawRequest(t, f)
		a, ok := ask(t, f, r)
		if !ok || a.Suggested.IsZero() {
			return
		}
		v, err := f.Judge(r, a.Suggested)
		if err != nil {
			t.Fatal(err)
		}
		for _, e := range v.Exceeds {
			if e.Code == TooSoon || u.Rescue && (e.Code == OverStop || e.Code == OverRange) {
				continue
			}
			t.Fatalf("%s is suggested, and exceeds: %+v", a.Suggested, e)
		}
		// And twice the highest exceeds something.
		twice := amountDown(rat(a.High).Times(exact.Whole(2)), decimals, a.High.Unit)
		if v, err = f.Judge(r, twice); err != nil || len(v.Exceeds) == 0 {
			t.Fatalf("%s, twice the highest, exceeds nothing: %v", twice, err)
		}
	})
}

func builtins(t testing.TB) *Formulary {
	t.Helper()
	f, err := Builtin()
	if err != nil {
		t.Fatal(err)
	}
	return f
}
