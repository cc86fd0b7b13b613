package core

import (
	"cmp"
	"context"
	"maps"
	"slices"
	"strings"

	"chinlift/core/formulary"
	"chinlift/core/quantity"
	"chinlift/core/term"
	"chinlift/core/timeline"
)

// RuleBook is every dose rule as it holds now, with its sources and whoever
// stands for it: to be read, checked and signed.
type RuleBook struct {
	Engine      []Cited // what is added to every rule, and no confirmation covers
	Groups      []RuleGroup
	Rules       int // of all drugs
	Unconfirmed int
	Own         []string // files of the clinic that lie over the rules
	Left        []string // files of the clinic that could not be laid, and why
}

// RuleGroup is the drugs that share a colour of label.
type RuleGroup struct {
	Class, Words string
	Drugs        []RuleDrug
}

// RuleDrug is a drug with its rules.
type RuleDrug struct {
	Code, Words        string
	Class, ClassWords  string
	ATC                string
	Own                bool // from a file of the clinic
	Presentations      []Cited
	Uses               []RuleUse
	Reductions, Alerts []Cited
	Unconfirmed        int
}

// RuleUse is one rule.
type RuleUse struct {
	Drug, Code, Words, Routes string
	Rescue                    bool
	Lines                     []Cited
	Confirmed, Hash           string
}

// RuleBook gives the book.
func (c *Companion) RuleBook(ctx context.Context) (RuleBook, error) {
	f, confirmed, _, err := c.rulesNow(ctx)
	if err != nil {
		return RuleBook{}, err
	}
	own, err := c.ownFiles(ctx)
	if err != nil {
		return RuleBook{}, err
	}
	s := Speaker{c.words}
	b := RuleBook{Own: own, Engine: s.guards()}
	for _, name := range slices.Sorted(maps.Keys(f.Left)) {
		b.Left = append(b.Left, s.Say("rules.left", "file", name, "why", c.Explain(f.Left[name]).Words))
	}
	for _, class := range term.DrugClassList.Codes() {
		g := RuleGroup{Class: string(class), Words: Code(s, term.DrugClassList, class)}
		for _, d := range f.Drugs() {
			if d.Class == class {
				r := s.ruleDrug(d, confirmed)
				r.Own = slices.Contains(own, d.Code+".toml")
				b.Rules += len(r.Uses)
				b.Unconfirmed += r.Unconfirmed
				g.Drugs = append(g.Drugs, r)
			}
		}
		slices.SortFunc(g.Drugs, func(a, b RuleDrug) int { return cmp.Compare(a.Words, b.Words) })
		if len(g.Drugs) > 0 {
			b.Groups = append(b.Groups, g)
		}
	}
	return b, nil
}

// RuleDrug gives the rules of one drug.
func (c *Companion) RuleDrug(ctx context.Context, code string) (RuleDrug, error) {
	b, err := c.RuleBook(ctx)
	if err != nil {
		return RuleDrug{}, err
	}
	for _, g := range b.Groups {
		for _, d := range g.Drugs {
			if d.Code == code {
				return d, nil
			}
		}
	}
	return RuleDrug{}, ErrNotHere
}

// guards tells what the engine adds to every rule.
func (s Speaker) guards() (all []Cited) {
	for _, g := range formulary.Guards() {
		var values []string
		for _, v := range g.Values {
			told := s.Amount(v.Amount)
			if v.Amount.Unit == quantity.One {
				told = s.Number(v.Amount)
			}
			values = append(values, v.Name, told)
		}
		//word:prefix rules.engine.
		all = append(all, Cited{Text: s.sayOf("rules.engine."+string(g.Code), values...), Source: s.source(g.Source), Mark: string(g.Source.Mark)})
	}
	return all
}

// citer puts the source of a key, and of more keys where theirs is another,
// beside a text. The mark is the first key's.
type citer func(text string, by formulary.Cited, key string, more ...string) Cited

func (s Speaker) citing(d *formulary.Drug) citer {
	return func(text string, by formulary.Cited, key string, more ...string) Cited {
		x := d.Sources[by.For(key)]
		c := Cited{Text: text, Source: s.source(x), Mark: string(x.Mark)}
		named := []string{by.For(key)}
		for _, k := range more {
			if of := by.For(k); !slices.Contains(named, of) {
				named = append(named, of)
				x := d.Sources[of]
				c.Source = join("; ", c.Source, s.source(x))
			}
		}
		return c
	}
}

func (s Speaker) ruleDrug(d *formulary.Drug, confirmed map[ruleKey]Confirmation) RuleDrug {
	r := RuleDrug{Code: d.Code, Words: s.Drug(d.Code), Class: string(d.Class), ClassWords: Code(s, term.DrugClassList, d.Class), ATC: d.ATC}
	cite := s.citing(d)
	for _, p := range d.Presentations {
		r.Presentations = append(r.Presentations, cite(s.shelf(&p), p.Cited, "strength"))
	}
	for _, x := range d.Dilutions {
		text := s.Say("rules.dilution", "from", s.Amount(d.Presentation(x.From).Strength), "to", s.Amount(x.To), "with", s.diluent(x.With))
		if !x.Total.IsZero() {
			text = join(", ", text, s.Say("rules.dilution-total", "total", s.Amount(x.Total)))
		}
		r.Presentations = append(r.Presentations, cite(text, x.Cited, "to"))
	}
	if e := d.Equivalent; e != nil && !e.Each.IsZero() {
		r.Presentations = append(r.Presentations, cite(s.Say("rules.equivalent", "each", s.Amount(e.Each), "is", s.Amount(e.Is)), e.Cited, "is"))
	} else if e != nil {
		for _, g := range formulary.Guards() {
			if g.Code == formulary.GuardFractions {
				r.Presentations = append(r.Presentations, Cited{Text: s.Say("rules.fraction"), Source: s.source(g.Source), Mark: string(g.Source.Mark)})
			}
		}
	}
	for i := range d.Uses {
		u := &d.Uses[i]
		n := s.ruleUse(d, u, cite)
		if k, ok := confirmed[ruleKey{d.Code, u.Code, timeline.Hash(u.Hash())}]; ok {
			n.Confirmed = s.Say("dose.confirmed", "by", cmpOr(k.By, s.Say("record.unnamed")), "when", s.Date(k.At))
		} else {
			r.Unconfirmed++
		}
		r.Uses = append(r.Uses, n)
	}
	for i := range d.Reduces {
		x := &d.Reduces[i]
		r.Reductions = append(r.Reductions, cite(s.Say("rules.reduce", "what", s.ruleWord("formulary.reduce.", x.Code), "factor", s.Number(quantity.Amount{Value: x.Factor, Unit: quantity.One}), "when", s.when(&x.Facts, s.usesOf(d, x.Uses))), x.Cited, "factor"))
	}
	for i := range d.Alerts {
		x := &d.Alerts[i]
		level := s.Say("rules.caution-word")
		if x.Level == formulary.Stop {
			level = s.Say("rules.stop")
		}
		more := join("; ", s.usesOf(d, x.Uses), Code(s, term.SexList, x.Sex), list(s, term.RouteList, x.Routes), list(s, term.HazardList, x.Hazards))
		if len(x.Without) > 0 {
			more = join("; ", more, s.Say("rules.without", "what", list(s, term.ConditionList, x.Without)))
		}
		if len(x.WithoutClasses) > 0 {
			more = join("; ", more, s.Say("rules.without", "what", list(s, term.DrugClassList, x.WithoutClasses)))
		}
		for _, is := range []struct {
			so   bool
			text string
		}{
			{x.NotPregnant, s.Say("rules.not-pregnant")}, {x.Always, s.Say("rules.always")}, {x.Planned, s.Say("rules.planned")},
		} {
			if is.so {
				more = join("; ", more, is.text)
			}
		}
		r.Alerts = append(r.Alerts, cite(s.Say("rules.alert", "level", level, "what", s.ruleWord("formulary.alert.", x.Code), "when", s.when(&x.Facts, more)), x.Cited, "code"))
	}
	return r
}

// usesOf names the uses that something touches; none where it touches all.
func (s Speaker) usesOf(d *formulary.Drug, codes []string) string {
	var words []string
	for _, code := range codes {
		if u := d.Use(code); u != nil {
			words = append(words, join(" · ", s.useWords(d, u), list(s, term.RouteList, u.Routes)))
		}
	}
	if len(words) == 0 {
		return ""
	}
	return s.Say("rules.for", "what", strings.Join(words, ", "))
}

// shelf writes a presentation with all that the rules know of it.
func (s Speaker) shelf(p *formulary.Presentation) string {
	part, undiluted := "", ""
	if !p.Part.IsZero() {
		part = s.Say("rules.part", "part", s.Number(p.Part))
	}
	if p.Undiluted {
		undiluted = s.Say("rules.undiluted")
	}
	return join("; ", s.presentation(p), part, undiluted, list(s, term.RouteList, p.Routes))
}

func (s Speaker) presentation(p *formulary.Presentation) string {
	if !p.Piece.IsZero() {
		return s.Say("rules.piece", "form", s.Say("formulary.form."+string(p.Form)), "piece", s.Amount(p.Piece)) //word:prefix formulary.form.
	}
	powder := ""
	if !p.Powder.IsZero() {
		powder = s.Say("dose.dissolve", "powder", s.Amount(p.Powder), "volume", s.Amount(p.Dissolve))
	}
	return join(" ", s.Amount(p.Strength), s.Amount(p.Volume), p.Label, powder)
}

// ages writes a band of ages; from is included, to is not.
func (s Speaker) ages(band formulary.Span) string {
	if band.IsZero() {
		return ""
	}
	top, err := band.High.Cmp(quantity.MustParse("120 a"))
	switch from := band.Low.Value.Sign() > 0; {
	case err == nil && top > 0 && !from:
		return ""
	case err == nil && top > 0:
		return s.Say("rules.from", "age", s.Age(band.Low))
	case !from:
		return s.Say("rules.under", "age", s.Age(band.High))
	}
	return s.Say("rules.from-to", "from", s.Age(band.Low), "to", s.Age(band.High))
}

// when writes what a reduction or an alert asks for.
func (s Speaker) when(f *formulary.Facts, more string) string {
	var with []string
	for _, x := range f.With {
		if k := term.Condition(x); term.ConditionList.Has(k) {
			with = append(with, Code(s, term.ConditionList, k))
		} else {
			with = append(with, s.ruleWord("formulary.reduce.", x))
		}
	}
	var drugs []string
	for _, d := range f.Drugs {
		drugs = append(drugs, s.Drug(d))
	}
	given := join(", ", strings.Join(drugs, ", "), list(s, term.DrugClassList, f.Classes))
	if given != "" {
		if f.Within.IsZero() {
			given = s.Say("rules.after", "what", given)
		} else {
			given = s.Say("rules.after-within", "what", given, "span", s.Amount(f.Within))
		}
	}
	text := join("; ", s.ages(f.Age), strings.Join(with, ", "), given, list(s, term.AgentList, f.Agents), more)
	if text == "" {
		return ""
	}
	return s.Say("rules.when", "what", text)
}

func (s Speaker) ruleUse(d *formulary.Drug, u *formulary.Use, cite citer) RuleUse {
	r := RuleUse{Drug: d.Code, Code: u.Code, Words: s.useWords(d, u), Routes: list(s, term.RouteList, u.Routes), Rescue: u.Rescue, Hash: u.Hash()}
	add := func(text, key string) {
		if text != "" {
			r.Lines = append(r.Lines, cite(text, u.Cited, key))
		}
	}
	for i := range u.Doses {
		o := &u.Doses[i]
		by := o.Cited
		if by.Source == "" {
			by = u.Cited
		}
		band := join(", ", s.ages(o.Age), s.masses(o.Mass), Code(s, term.SexList, o.Sex))
		if band == "" {
			band = s.Say("rules.everybody")
		}
		dose := s.spanOf(o.Low, o.High)
		if u.Titrate {
			dose = s.Say("rules.titrate", "dose", dose)
		}
		if !o.Usual.IsZero() {
			dose = s.Say("rules.usual", "dose", dose, "usual", s.Amount(o.Usual))
		}
		if o.Weight != "" && strings.Contains(o.Low.Unit.String(), "/kg") {
			dose = join(", ", dose, s.Say("rules.weight-"+string(o.Weight))) //word:prefix rules.weight-
		}
		r.Lines = append(r.Lines, cite(s.Say("rules.band", "band", band, "dose", dose), by, "low", "high", "usual", "age", "mass", "sex", "weight"))
		for _, m := range []struct {
			a   quantity.Amount
			key string
		}{{o.Most, "most"}, {o.MostPerKg, "most_per_kg"}} {
			if !m.a.IsZero() {
				r.Lines = append(r.Lines, cite(s.Say("rules.most", "band", band, "most", s.Amount(m.a)), by, m.key))
			}
		}
		if !o.Least.IsZero() {
			r.Lines = append(r.Lines, cite(s.Say("rules.least", "band", band, "least", s.Amount(o.Least)), by, "least"))
		}
		if !o.At.IsZero() {
			r.Lines = append(r.Lines, cite(s.Say("rules.band-at", "band", band, "strength", s.Amount(o.At)), by, "at"))
		}
	}
	for i := range u.Totals {
		t := &u.Totals[i]
		by := t.Cited
		if by.Source == "" {
			by = u.Cited
		}
		window := s.Say("dose.in-case")
		if !t.Window.IsZero() {
			window = s.Amount(t.Window)
		}
		text := s.Say("rules.total", "most", s.Amount(t.Most), "window", window)
		if len(t.Unless) > 0 {
			text = join(", ", text, s.Say("rules.unless", "what", list(s, term.ConditionList, t.Unless)))
		}
		if of := s.usesOf(d, t.Uses); of != "" {
			text = join(", ", text, of)
		}
		r.Lines = append(r.Lines, cite(join(": ", s.ages(t.Age), text), by, "most", "window", "age"))
	}
	if of := d.Use(u.FractionOf); of != nil {
		add(s.Say("rules.fraction-of", "what", join(" · ", s.useWords(d, of), list(s, term.RouteList, of.Routes))), "fraction_of")
	}
	var from []string
	for _, code := range u.Presentations {
		if p := d.Presentation(code); p != nil {
			from = append(from, s.presentation(p))
		}
	}
	if len(from) > 0 {
		add(s.Say("rules.presentations", "what", strings.Join(from, ", ")), "presentations")
	}
	if u.Given != formulary.Bolus {
		add(s.Say("rules.given-"+string(u.Given)), "given") //word:prefix rules.given-
	}
	if !u.At.IsZero() {
		add(s.Say("rules.at", "strength", s.Amount(u.At)), "at")
	}
	if !u.Before.IsZero() {
		add(s.Say("rules.before", "span", s.spanOf(u.Before.Low, u.Before.High)), "before")
	}
	if !u.Onset.IsZero() {
		add(s.Say("rules.onset", "span", s.spanOf(u.Onset.Low, u.Onset.High)), "onset")
	}
	if !u.Lasts.IsZero() {
		add(s.Say("rules.lasts", "span", s.spanOf(u.Lasts.Low, u.Lasts.High)), "lasts")
	}
	if !u.Interval.IsZero() {
		add(s.Say("rules.interval", "span", s.Amount(u.Interval)), "interval")
	}
	if !u.Over.IsZero() {
		add(s.Say("dose.over", "span", s.spanOf(u.Over.Low, u.Over.High)), "over")
	}
	return r
}

func (s Speaker) masses(band formulary.Span) string {
	if band.IsZero() {
		return ""
	}
	return s.Say("rules.from-to", "from", s.Amount(band.Low), "to", s.Amount(band.High))
}
