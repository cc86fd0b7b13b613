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
	now := c.clock.Now()
	f, err := c.Rules(ctx, now.Wall)
	if err != nil {
		return RuleBook{}, err
	}
	confirmed, err := c.confirmations(ctx)
	if err != nil {
		return RuleBook{}, err
	}
	own, err := c.ownFiles(ctx)
	if err != nil {
		return RuleBook{}, err
	}
	s := Speaker{c.words}
	b := RuleBook{Own: own}
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

func (s Speaker) ruleDrug(d *formulary.Drug, confirmed map[ruleKey]Confirmation) RuleDrug {
	r := RuleDrug{Code: d.Code, Words: s.Drug(d.Code), Class: string(d.Class), ClassWords: Code(s, term.DrugClassList, d.Class), ATC: d.ATC}
	cite := func(text string, by formulary.Cited, key string) Cited {
		x := d.Sources[by.For(key)]
		return Cited{Text: text, Source: s.ruleSource(&x), Mark: string(x.Mark)}
	}
	for _, p := range d.Presentations {
		r.Presentations = append(r.Presentations, cite(s.presentation(&p), p.Cited, "strength"))
	}
	for _, x := range d.Dilutions {
		r.Presentations = append(r.Presentations, cite(s.Say("rules.dilution", "from", s.Amount(d.Presentation(x.From).Strength), "to", s.Amount(x.To), "with", s.diluent(x.With)), x.Cited, "to"))
	}
	if e := d.Equivalent; e != nil && !e.Each.IsZero() {
		r.Presentations = append(r.Presentations, cite(s.Say("rules.equivalent", "each", s.Amount(e.Each), "is", s.Amount(e.Is)), e.Cited, "is"))
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
		r.Reductions = append(r.Reductions, cite(s.Say("rules.reduce", "what", s.ruleWord("formulary.reduce.", x.Code), "factor", s.Number(quantity.Amount{Value: x.Factor, Unit: quantity.One}), "when", s.when(&x.Facts, "")), x.Cited, "factor"))
	}
	for i := range d.Alerts {
		x := &d.Alerts[i]
		level := s.Say("rules.caution-word")
		if x.Level == formulary.Stop {
			level = s.Say("rules.stop")
		}
		more := join("; ", list(s, term.RouteList, x.Routes), list(s, term.HazardList, x.Hazards))
		if len(x.Without) > 0 {
			more = join("; ", more, s.Say("rules.without", "what", list(s, term.ConditionList, x.Without)))
		}
		if len(x.WithoutClasses) > 0 {
			more = join("; ", more, s.Say("rules.without", "what", list(s, term.DrugClassList, x.WithoutClasses)))
		}
		r.Alerts = append(r.Alerts, cite(s.Say("rules.alert", "level", level, "what", s.ruleWord("formulary.alert.", x.Code), "when", s.when(&x.Facts, more)), x.Cited, "code"))
	}
	return r
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

func (s Speaker) ruleUse(d *formulary.Drug, u *formulary.Use, cite func(string, formulary.Cited, string) Cited) RuleUse {
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
		if o.Weight != "" && o.Weight != formulary.Actual && strings.Contains(o.Low.Unit.String(), "/kg") {
			dose = join(", ", dose, s.Say("rules.weight-"+string(o.Weight))) //word:prefix rules.weight-
		}
		r.Lines = append(r.Lines, cite(s.Say("rules.band", "band", band, "dose", dose), by, "low"))
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
		r.Lines = append(r.Lines, cite(join(": ", s.ages(t.Age), text), by, "most"))
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
