package formulary

import (
	"maps"
	"regexp"
	"slices"

	"chinlift/core/quantity"
	"chinlift/core/term"
)

// Parse reads a drug's file; name is the file's, with or without its ending.
// It refuses keys and codes that are not known, a number without a source,
// and rules that contradict themselves. The error is a *FileError, which has
// all of it, each with its line.
func Parse(name string, data []byte) (*Drug, error) {
	d, r := parse(name, data)
	if err := r.err(); err != nil {
		return nil, err
	}
	for i := range d.Uses {
		d.Uses[i].hash = d.hash(&d.Uses[i])
	}
	return d, nil
}

// parse gives the drug and what is wrong with it.
func parse(name string, data []byte) (*Drug, *reader) {
	d := &Drug{Code: codeOf(name), Sources: make(map[string]Source)}
	r, n := open(d.Code+ending, data)
	if n.m == nil {
		return d, r
	}
	if len(d.Code) > 60 || !codeText.MatchString(d.Code) {
		r.fault("", "the file's name %q is not lower case letters, digits and hyphens", name)
	}
	d.Class = code(n, "class", term.DrugClassList)
	if n.has("atc") {
		if d.ATC = n.text("atc"); !atc.MatchString(d.ATC) {
			n.fault("atc", "%q is no code of a substance", d.ATC)
		}
	}
	d.Retired = n.flag("retired")
	if s, ok := n.table("source"); ok {
		for _, key := range slices.Sorted(maps.Keys(s.m)) {
			if one, ok := s.table(key); ok {
				d.Sources[key] = one.source()
			}
			if !codeText.MatchString(key) {
				s.fault(key, "the name is not lower case letters, digits and hyphens")
			}
		}
	}
	l := loader{d, r}
	for _, t := range n.tables("presentation") {
		d.Presentations = append(d.Presentations, l.presentation(t))
	}
	for _, t := range n.tables("dilution") {
		d.Dilutions = append(d.Dilutions, l.dilution(t))
	}
	if t, ok := n.table("equivalent"); ok {
		d.Equivalent = l.equivalent(t)
	}
	for _, t := range n.tables("use") {
		d.Uses = append(d.Uses, l.use(t))
	}
	for _, t := range n.tables("reduce") {
		d.Reduces = append(d.Reduces, l.reduce(t))
	}
	for _, t := range n.tables("alert") {
		d.Alerts = append(d.Alerts, l.alert(t))
	}
	n.done()
	if len(r.faults) == 0 { // else half of the drug is missing, and the rest only noise
		l.check()
	}
	return d, r
}

var atc = regexp.MustCompile(`^[A-Z][0-9]{2}[A-Z]{2}[0-9]{2}$`)

// loader makes a drug's parts of its tables.
type loader struct {
	*Drug
	r *reader
}

func (n node) source() Source {
	s := Source{Mark: code(n, "mark", term.MarkList), Title: n.text("title")}
	for key, to := range map[string]*string{"author": &s.Author, "table": &s.Table, "via": &s.Via} {
		if n.has(key) {
			*to = n.text(key)
		}
	}
	if n.has("year") {
		if s.Year = n.number("year"); s.Year < 1500 || s.Year > 2200 {
			n.fault("year", "%d is no year of a publication", s.Year)
		}
	}
	if !n.has("title") {
		n.fault("title", "the title is missing")
	}
	if !n.has("author") && s.Mark != term.MarkPractice {
		n.fault("author", "the author is missing; only a source marked practice goes without")
	}
	n.done()
	return s
}

// cited reads the sources of a table; outer is what holds where it has none.
func (l loader) cited(n node, outer *Cited) Cited {
	var c Cited
	switch {
	case n.has("source"):
		c.Source = l.named(n, "source", n.text("source"))
	case outer != nil:
		c.Source = outer.Source
		for key, s := range outer.SourceOf {
			if _, here := n.m[key]; here {
				c.cite(key, s)
			}
		}
	default:
		n.fault("source", "the source is missing")
	}
	if of, ok := n.table("source_of"); ok {
		for _, key := range slices.Sorted(maps.Keys(of.m)) {
			_, own := n.m[key]
			_, inner := n.m["dose"]
			if !own && !inner {
				of.fault(key, "there is no such key here")
			}
			c.cite(key, l.named(of, key, of.text(key)))
		}
	}
	return c
}

func (c *Cited) cite(key, source string) {
	if c.SourceOf == nil {
		c.SourceOf = make(map[string]string)
	}
	c.SourceOf[key] = source
}

func (l loader) named(n node, key, source string) string {
	if _, ok := l.Sources[source]; !ok {
		n.fault(key, "there is no [source.%s]", source)
	}
	return source
}

func (l loader) presentation(n node) Presentation {
	p := Presentation{
		Code: n.name("code"), Routes: codes(n, "routes", term.RouteList),
		Strength: n.amount("strength"), Volume: n.of("volume", quantity.Volume),
		Powder: n.amount("powder"), Dissolve: n.of("dissolve", quantity.Volume),
		Piece: n.amount("piece"), Undiluted: n.flag("undiluted"),
		Cited: l.cited(n, nil),
	}
	if n.has("label") {
		p.Label = n.text("label")
	}
	if n.has("form") {
		p.Form = choice(n, "form", Tablet, Suppository, Capsule, Puff)
	}
	if n.has("part") {
		p.Part = n.parse("part", n.text("part")+" 1")
	}
	n.done()
	return p
}

func (l loader) dilution(n node) DilutionRule {
	r := DilutionRule{From: n.name("from"), To: n.amount("to"), With: n.text("with"), Total: n.of("total", quantity.Volume), Cited: l.cited(n, nil)}
	if r.With != Water && !term.FluidInList.Has(term.FluidIn(r.With)) {
		n.fault("with", "%q is neither water nor in the list of %s", r.With, term.FluidInList.Name())
	}
	n.done()
	return r
}

func (l loader) equivalent(n node) *Equivalent {
	e := &Equivalent{Group: choice(n, "group", Opioids, LocalAnaesthetics), Each: n.amount("each"), Is: n.amount("is")}
	if e.Group == Opioids || n.has("source") {
		e.Cited = l.cited(n, nil)
	}
	n.done()
	return e
}

func (l loader) use(n node) Use {
	u := Use{
		Code: n.name("code"), Purpose: code(n, "purpose", term.PurposeList), Routes: codes(n, "routes", term.RouteList),
		Presentations: n.names("presentations"), At: n.amount("at"),
		Rescue: n.flag("rescue"), Given: choice(n, "given", Bolus, Infusion, Inhaled), Titrate: n.flag("titrate"),
		Before: n.span("before", quantity.Duration), Onset: n.span("onset", quantity.Duration),
		Lasts: n.span("lasts", quantity.Duration), Over: n.span("over", quantity.Duration),
		Interval: n.of("interval", quantity.Duration),
		Cited:    l.cited(n, nil),
	}
	if n.has("fraction_of") {
		u.FractionOf = n.name("fraction_of")
	}
	for _, t := range n.tables("dose") {
		u.Doses = append(u.Doses, l.dose(t, &u.Cited))
	}
	for _, t := range n.tables("total") {
		u.Totals = append(u.Totals, l.total(t, &u.Cited))
	}
	n.done()
	return u
}

func (l loader) dose(n node, outer *Cited) Dose {
	d := Dose{
		Age: n.span("age", quantity.Duration), Mass: n.span("mass", quantity.Mass), Sex: maybe(n, "sex", term.SexList),
		Low: n.amount("low"), High: n.amount("high"), Usual: n.amount("usual"), Least: n.amount("least"),
		Most: n.amount("most"), MostPerKg: n.amount("most_per_kg"), At: n.amount("at"), Weight: Dosing,
		Cited: l.cited(n, outer),
	}
	if n.has("weight") {
		d.Weight = choice(n, "weight", Dosing, Actual, Ideal)
	}
	n.done()
	return d
}

func (l loader) total(n node, outer *Cited) Total {
	t := Total{
		Most: n.amount("most"), Age: n.span("age", quantity.Duration),
		Uses: n.names("uses"), Unless: codes(n, "unless", term.ConditionList), Cited: l.cited(n, outer),
	}
	if !n.has("most") {
		n.fault("most", "the maximum is missing")
	}
	if n.text("window") != wholeCase {
		if t.Window = n.of("window", quantity.Duration); t.Window.IsZero() {
			n.fault("window", `want a duration, or "case"`)
		}
	}
	n.done()
	return t
}

// wholeCase is the window of a total that counts the whole case.
const wholeCase = "case"

func (l loader) facts(n node) Facts {
	f := Facts{
		Age: n.span("age", quantity.Duration), With: n.texts("with"), Drugs: n.names("drugs"),
		Classes: codes(n, "classes", term.DrugClassList), Within: n.of("within", quantity.Duration),
		Agents: codes(n, "agents", term.AgentList),
	}
	for _, w := range f.With {
		if w != Pregnant && w != Premature && !term.ConditionList.Has(term.Condition(w)) {
			n.fault("with", "%q is not in the list of %s", w, term.ConditionList.Name())
		}
	}
	return f
}

// reductions are the codes that have words.
var reductions = []string{
	"over-60", "over-65", "over-70", "over-75", "over-80", "frail", "gravely-ill", "shock", "pregnant", "with-opioid",
	"with-sedative", "infant", "kidney", "liver", "heart", "wasted", "with-inhaled", "premature",
}

func (l loader) reduce(n node) Reduce {
	r := Reduce{Code: choice(n, "code", reductions...), Uses: n.names("uses"), Facts: l.facts(n), Cited: l.cited(n, nil)}
	if f, err := quantity.ParseDecimal(n.text("factor")); err != nil {
		n.fault("factor", "%v", err)
	} else {
		r.Factor = f
	}
	n.done()
	return r
}

func (l loader) alert(n node) Alert {
	a := Alert{
		Code: n.name("code"), Level: choice(n, "level", Stop, Caution), Uses: n.names("uses"), Routes: codes(n, "routes", term.RouteList),
		Sex: maybe(n, "sex", term.SexList), Hazards: codes(n, "hazards", term.HazardList),
		Without: codes(n, "without", term.ConditionList), WithoutClasses: codes(n, "without_classes", term.DrugClassList),
		NotPregnant: n.flag("not_pregnant"), Planned: n.flag("planned"), Always: n.flag("always"), Facts: l.facts(n), Cited: l.cited(n, nil),
	}
	n.done()
	return a
}
