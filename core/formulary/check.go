package formulary

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"chinlift/core/exact"
	"chinlift/core/quantity"
	"chinlift/core/term"
)

// check looks whether the parts of a drug, each readable, fit together.
func (l loader) check() {
	if len(l.Uses) == 0 {
		l.r.fault("use", "there is no use")
	}
	if len(l.Presentations) == 0 && l.Class != term.DrugClassInhaled {
		l.r.fault("presentation", "there is no presentation; only inhaled agents go without")
	}
	for i := range l.Presentations {
		l.checkPresentation(i)
	}
	for i := range l.Dilutions {
		l.checkDilution(i)
	}
	l.checkEquivalent()
	for i := range l.Uses {
		l.checkUse(i)
	}
	for i := range l.Reduces {
		l.checkReduce(i)
	}
	for i := range l.Alerts {
		l.checkAlert(i)
	}
}

// complain gives a function that reports faults of a table under its keys.
func (l loader) complain(format string, args ...any) func(key, format string, args ...any) {
	path := fmt.Sprintf(format, args...)
	return func(key, format string, args ...any) { l.r.fault(join(path, key), format, args...) }
}

func (l loader) checkPresentation(i int) {
	p := l.Presentations[i]
	bad := l.complain("presentation.%d", i)
	if slices.ContainsFunc(l.Presentations[:i], func(o Presentation) bool { return o.Code == p.Code }) {
		bad("code", "%s stands twice", p.Code)
	}
	if !p.Piece.IsZero() {
		if m, ok := measureOf(p.Piece); !ok || m.perKg || m.perTime || m.what == quantity.Fraction {
			bad("piece", "%s is no amount of a drug", p.Piece)
		}
		if p.Form == "" {
			bad("form", "a piece wants its form")
		}
		if !p.Strength.IsZero() || !p.Volume.IsZero() || !p.Powder.IsZero() {
			bad("piece", "a piece has neither strength nor volume nor powder")
		}
		if !p.Part.IsZero() && (p.Part.Value.Sign() <= 0 || exact.Of(p.Part.Value.String()).Cmp(exact.Whole(1)) > 0) {
			bad("part", "a part is over 0 and at most 1")
		}
		return
	}
	if p.Form != "" || !p.Part.IsZero() {
		bad("form", "form and part are of a piece")
	}
	if p.Strength.IsZero() {
		if l.Class != term.DrugClassInhaled {
			bad("strength", "neither strength nor piece")
		}
		return
	}
	what, ok := strengthOf(p.Strength)
	if !ok || p.Strength.Value.Sign() == 0 {
		bad("strength", "%s is no strength", p.Strength)
		return
	}
	if !p.Volume.IsZero() && p.Volume.Value.Sign() == 0 {
		bad("volume", "is nought")
	}
	if p.Powder.IsZero() != p.Dissolve.IsZero() {
		bad("powder", "powder and dissolve go together")
	} else if !p.Powder.IsZero() {
		if p.Powder.Unit.Dimension() != what || p.Dissolve.Value.Sign() == 0 || p.Powder.Value.Sign() == 0 {
			bad("powder", "%s in %s does not give %s", p.Powder, p.Dissolve, p.Strength)
		} else {
			made := in(p.Powder, measures[measure{what: what}]).Over(in(p.Dissolve, quantity.ML))
			told := in(p.Strength, strengths[what])
			if off := made.Over(told).Minus(exact.Whole(1)); off.Abs().Cmp(exact.Of("0.05")) > 0 {
				bad("strength", "%s in %s gives %s %s, over 5 %% off", p.Powder, p.Dissolve, made.FloatString(3), strengths[what])
			}
		}
	}
	if p.Label == "" {
		return
	}
	told := labelled(p.Label)
	if told == nil {
		bad("label", `%q is neither as "1 %%" nor as "1:1000"`, p.Label)
		return
	}
	if what == quantity.Mass && told.Cmp(in(p.Strength, quantity.MgPerML)) != 0 {
		bad("label", "%s is %s mg/mL, not %s", p.Label, told.FloatString(4), p.Strength)
	}
}

func (l loader) checkDilution(i int) {
	r := l.Dilutions[i]
	bad := l.complain("dilution.%d", i)
	from := l.Presentation(r.From)
	switch {
	case from == nil:
		bad("from", "there is no presentation %s", r.From)
	case from.Strength.IsZero() || from.Undiluted:
		bad("from", "%s cannot be diluted", r.From)
	case r.To.Unit.Dimension() != from.Strength.Unit.Dimension() || r.To.Value.Sign() == 0:
		bad("to", "%s does not come of %s", r.To, from.Strength)
	default:
		if c, _ := r.To.Cmp(from.Strength); c >= 0 {
			bad("to", "%s is not weaker than %s", r.To, from.Strength)
		}
	}
	if !r.Total.IsZero() && r.Total.Value.Sign() == 0 {
		bad("total", "is nought")
	}
}

func (l loader) checkEquivalent() {
	e := l.Equivalent
	if e == nil {
		return
	}
	bad := l.complain("equivalent")
	if e.Group == LocalAnaesthetics {
		if !e.Each.IsZero() || !e.Is.IsZero() {
			bad("each", "a local anaesthetic counts by its own maximum")
		}
		return
	}
	for key, a := range map[string]quantity.Amount{"each": e.Each, "is": e.Is} {
		if a.Unit.Dimension() != quantity.Mass || a.Value.Sign() <= 0 {
			bad(key, "want a mass over nought")
		}
	}
}

func (l loader) checkUse(i int) {
	u := &l.Uses[i]
	bad := l.complain("use.%d", i)
	if slices.ContainsFunc(l.Uses[:i], func(o Use) bool { return o.Code == u.Code }) {
		bad("code", "%s stands twice", u.Code)
	}
	if len(u.Routes) == 0 {
		bad("routes", "there is no route")
	}
	if !u.Interval.IsZero() && u.Interval.Value.Sign() == 0 {
		bad("interval", "is nought")
	}
	if len(u.Doses) == 0 {
		bad("dose", "there is no dose")
		return
	}
	if l.Equivalent != nil && l.Equivalent.Group == LocalAnaesthetics && u.Given == Bolus {
		for k, d := range u.Doses {
			if d.Most.IsZero() && d.MostPerKg.IsZero() {
				l.r.fault(fmt.Sprintf("use.%d.dose.%d", i, k), "a local anaesthetic wants most or most_per_kg, of which a dose is a fraction")
			}
		}
	}
	var first measure
	for k := range u.Doses {
		m, ok := l.checkDose(i, k)
		switch {
		case !ok:
			return
		case k == 0:
			first = m
		case m.what != first.what:
			l.r.fault(fmt.Sprintf("use.%d.dose.%d.low", i, k), "is not told as the use's other doses are")
			return
		}
	}
	for k := range u.Totals {
		l.checkTotal(i, k, first.what)
	}
	l.checkFraction(u, bad)
	l.checkShelf(u, first.what, bad)
	l.checkAt(u, u.At, first.what, bad)
	for k := range u.Doses {
		l.checkAt(u, u.Doses[k].At, first.what, l.complain("use.%d.dose.%d", i, k))
	}
}

// checkShelf looks whether each route has something to give the dose from.
func (l loader) checkShelf(u *Use, what quantity.Dimension, bad func(key, format string, args ...any)) {
	for _, code := range u.Presentations {
		if l.Presentation(code) == nil {
			bad("presentations", "there is no presentation %s", code)
			return
		}
	}
	for _, route := range u.Routes {
		shelf := l.shelf(u, route)
		if len(shelf) == 0 && l.Class != term.DrugClassInhaled {
			bad("routes", "there is no presentation for %s", route)
		}
		for _, p := range shelf {
			if what == quantity.Volume || what == quantity.Fraction {
				continue
			}
			if !p.Piece.IsZero() {
				if p.Piece.Unit.Dimension() != what || u.Given == Infusion {
					bad("routes", "a dose of this use does not come in pieces of %s (%s)", p.Piece, p.Code)
				}
				continue
			}
			if p.Strength.IsZero() {
				bad("routes", "%s has no strength", p.Code)
			} else if p.Strength.Unit.Dimension() != strengths[what].Dimension() {
				bad("routes", "a strength of %s (%s) gives no volume for a dose of this use", p.Strength, p.Code)
			}
		}
	}
}

// checkAt looks whether each presentation can be brought to the strength that
// a use or one of its doses is given at.
func (l loader) checkAt(u *Use, at quantity.Amount, what quantity.Dimension, bad func(key, format string, args ...any)) {
	if at.IsZero() {
		return
	}
	if of, ok := strengthOf(at); !ok || of != what || at.Value.Sign() == 0 {
		bad("at", "%s is no strength for this use", at)
		return
	}
	for _, route := range u.Routes {
		for _, p := range l.shelf(u, route) {
			weak, err := p.Strength.Cmp(at)
			if err == nil && weak <= 0 || slices.ContainsFunc(l.Dilutions, func(d DilutionRule) bool {
				to, err := d.To.Cmp(at)
				return d.From == p.Code && err == nil && to <= 0
			}) {
				continue
			}
			bad("at", "no dilution brings %s to %s", p.Code, at)
		}
	}
}

// checkFraction looks whether the use whose maximum a local anaesthetic is to
// be a fraction of is one, and has its own.
func (l loader) checkFraction(u *Use, bad func(key, format string, args ...any)) {
	if u.FractionOf == "" {
		return
	}
	of := l.Use(u.FractionOf)
	switch {
	case l.Equivalent == nil || l.Equivalent.Group != LocalAnaesthetics:
		bad("fraction_of", "only a local anaesthetic is counted in fractions")
	case of == nil:
		bad("fraction_of", "there is no use %s", u.FractionOf)
	case of.FractionOf != "" || of.Given != Bolus || intrathecal(of):
		bad("fraction_of", "%s has no maximum of its own to be a fraction of", u.FractionOf)
	}
}

// shelf gives the presentations that a use by a route can be given from, the
// preferred one first.
func (d *Drug) shelf(u *Use, route term.Route) []*Presentation {
	var fit, open []*Presentation
	stomach := route == term.RouteOral || route == term.RouteRectal || route == term.RouteSublingual
	named := func(p *Presentation) bool { return len(p.Routes) > 0 }
	for i := range d.Presentations {
		p := &d.Presentations[i]
		if len(u.Presentations) > 0 && !slices.Contains(u.Presentations, p.Code) {
			continue
		}
		switch {
		case slices.Contains(p.Routes, route):
			fit = append(fit, p)
		case named(p):
		case stomach:
			open = append(open, p)
		default:
			fit = append(fit, p)
		}
	}
	if len(fit) == 0 {
		fit = open
	}
	if len(u.Presentations) > 0 {
		slices.SortStableFunc(fit, func(a, b *Presentation) int {
			return slices.Index(u.Presentations, a.Code) - slices.Index(u.Presentations, b.Code)
		})
	}
	return fit
}

func (l loader) checkDose(i, k int) (measure, bool) {
	u := &l.Uses[i]
	d := &u.Doses[k]
	bad := l.complain("use.%d.dose.%d", i, k)
	m, ok := measureOf(d.Low)
	switch {
	case d.Low.IsZero() || d.High.IsZero():
		bad("low", "a dose wants low and high")
		return m, false
	case !ok:
		bad("low", "%s is no dose", d.Low)
		return m, false
	case m.perTime != (u.Given == Infusion):
		bad("low", "%s does not go with given = %q", d.Low, u.Given)
		return m, false
	case u.Given == Inhaled && m.what != quantity.Fraction, u.Given != Inhaled && m.what == quantity.Fraction:
		bad("low", "%s does not go with given = %q", d.Low, u.Given)
		return m, false
	}
	ok = true
	// Each key, what it must measure, and the keys that it may not be under.
	absolute, byWeight := m, m
	absolute.perKg, byWeight.perKg = false, true
	for _, c := range []struct {
		key  string
		a    quantity.Amount
		as   measure
		over []quantity.Amount
	}{
		{"low", d.Low, m, nil},
		{"high", d.High, m, []quantity.Amount{d.Low}},
		{"usual", d.Usual, m, []quantity.Amount{d.Low}},
		{"least", d.Least, absolute, nil},
		{"most", d.Most, absolute, []quantity.Amount{d.Low, d.High, d.Least}},
		{"most_per_kg", d.MostPerKg, byWeight, []quantity.Amount{d.Low, d.High}},
	} {
		if c.a.IsZero() {
			continue
		}
		if got, known := measureOf(c.a); !known || got != c.as {
			bad(c.key, "%s is not told as %s is", c.a, d.Low)
			ok = false
			continue
		}
		if c.a.Value.Sign() == 0 && c.key != "low" {
			bad(c.key, "is nought")
		}
		for _, o := range c.over {
			if cmp, err := c.a.Cmp(o); err == nil && cmp < 0 {
				bad(c.key, "%s is under %s", c.a, o)
			}
		}
	}
	if c, err := d.Usual.Cmp(d.High); err == nil && c > 0 {
		bad("usual", "%s is over %s", d.Usual, d.High)
	}
	for o := range u.Doses[:k] {
		if u.Doses[o].overlaps(d) {
			bad("low", "the band overlaps with the use's dose %d", o+1)
		}
	}
	for _, s := range []struct {
		key string
		Span
	}{{"age", d.Age}, {"mass", d.Mass}} {
		if s.empty() {
			bad(s.key, "nobody is in this band")
		}
	}
	return m, ok
}

// overlaps reports whether a patient can be in both bands.
func (d *Dose) overlaps(o *Dose) bool {
	return d.Age.meets(o.Age) && d.Mass.meets(o.Mass) && (d.Sex == "" || o.Sex == "" || d.Sex == o.Sex)
}

// meets reports whether two spans, Low inclusive and High exclusive, share a
// value; an absent one is everything.
func (s Span) meets(o Span) bool {
	if s.IsZero() || o.IsZero() {
		return true
	}
	a, _ := s.Low.Cmp(o.High)
	b, _ := o.Low.Cmp(s.High)
	return a < 0 && b < 0
}

// empty reports a span without a value in it.
func (s Span) empty() bool {
	if s.IsZero() {
		return false
	}
	c, _ := s.Low.Cmp(s.High)
	return c >= 0
}

func (l loader) checkTotal(i, k int, what quantity.Dimension) {
	t := &l.Uses[i].Totals[k]
	bad := l.complain("use.%d.total.%d", i, k)
	m, ok := measureOf(t.Most)
	if !ok || m.perTime || m.what != what || t.Most.Value.Sign() <= 0 {
		bad("most", "%s is no total of this drug's doses", t.Most)
		return
	}
	if !t.Window.IsZero() && t.Window.Value.Sign() == 0 {
		bad("window", "is nought")
	}
	if t.Age.empty() {
		bad("age", "nobody is in this band")
	}
	l.checkUses(t.Uses, bad)
	for _, d := range l.Uses[i].Doses {
		if c, err := t.Most.Cmp(d.Low); err == nil && c < 0 && d.Age.meets(t.Age) {
			bad("most", "%s is under a single dose of %s", t.Most, d.Low)
		}
	}
}

func (l loader) checkUses(uses []string, bad func(key, format string, args ...any)) {
	for _, code := range uses {
		if l.Use(code) == nil {
			bad("uses", "there is no use %s", code)
		}
	}
}

func (l loader) checkReduce(i int) {
	r := &l.Reduces[i]
	bad := l.complain("reduce.%d", i)
	if f := exact.Of(r.Factor.String()); f.Sign() <= 0 || f.Cmp(exact.Whole(1)) >= 0 {
		bad("factor", "%s is not between 0 and 1", r.Factor)
	}
	l.checkUses(r.Uses, bad)
	for _, code := range r.Uses {
		if u := l.Use(code); u != nil && u.Rescue {
			bad("uses", "%s is a rescue use, which nothing reduces", code)
		}
	}
	if !slices.ContainsFunc(l.Uses, func(u Use) bool { return !u.Rescue }) {
		bad("code", "there are only rescue uses, which nothing reduces")
	}
	if !r.asks() {
		bad("code", "it says of nobody that it applies")
	}
	l.checkFacts(&r.Facts, false, bad)
}

// asks reports whether the facts ask for anything.
func (f *Facts) asks() bool {
	return !f.Age.IsZero() || len(f.With)+len(f.Drugs)+len(f.Classes)+len(f.Agents) > 0
}

func (l loader) checkFacts(f *Facts, without bool, bad func(key, format string, args ...any)) {
	if f.Age.empty() {
		bad("age", "nobody is in this band")
	}
	if !f.Within.IsZero() && len(f.Drugs)+len(f.Classes) == 0 && !without {
		bad("within", "of which drug?")
	}
	if !f.Within.IsZero() && f.Within.Value.Sign() == 0 {
		bad("within", "is nought")
	}
}

func (l loader) checkAlert(i int) {
	a := &l.Alerts[i]
	bad := l.complain("alert.%d", i)
	l.checkUses(a.Uses, bad)
	l.checkFacts(&a.Facts, len(a.WithoutClasses) > 0, bad)
	other := len(a.With)+len(a.Drugs)+len(a.Classes)+len(a.Agents)+len(a.Hazards)+len(a.Without)+len(a.WithoutClasses) > 0 || a.Sex != "" || a.NotPregnant
	switch {
	case a.Always && other:
		bad("always", "an alert that is always there asks for nothing but age, use and route")
	case !a.Always && !other && a.Age.IsZero():
		bad("code", "it says not when it fires; if always, say always = true")
	}
	if a.Sex == term.SexUnknown {
		bad("sex", "want female or male")
	}
	if a.Planned && a.Level != Stop {
		bad("planned", "only a stop holds up a plan")
	}
	if a.NotPregnant && len(a.With) == 1 && a.With[0] == Pregnant {
		bad("not_pregnant", "pregnant is asked for and must be absent: it can never fire")
	}
	if len(a.Routes) > 0 && !slices.ContainsFunc(l.Uses, func(u Use) bool {
		return (len(a.Uses) == 0 || slices.Contains(a.Uses, u.Code)) && slices.ContainsFunc(u.Routes, func(r term.Route) bool { return slices.Contains(a.Routes, r) })
	}) {
		bad("routes", "no use of it goes by %s: it can never fire", strings.Trim(fmt.Sprint(a.Routes), "[]"))
	}
	for _, w := range a.With {
		if slices.Contains(a.Without, term.Condition(w)) {
			bad("without", "%s is asked for and must be absent: it can never fire", w)
		}
	}
	for k := range l.Alerts[:i] {
		if same(&l.Alerts[k], a) {
			bad("code", "the same as alert "+strconv.Itoa(k+1))
		}
	}
}

func same(a, b *Alert) bool {
	return fmt.Sprintf("%+v", *a) == fmt.Sprintf("%+v", *b)
}
