package core

import (
	"context"
	"slices"

	"chinlift/core/patient"
	"chinlift/core/quantity"
	"chinlift/core/term"
	"chinlift/core/timeline"
	"chinlift/core/visit"
)

// Visit is what is known of the patient before the start: what is missing
// first, then group by group.
type Visit struct {
	Head
	First    []Field // what is usually asked and is not known, in the order of asking
	More     int     // of those, what does not stand in First
	Groups   []VisitGroup
	Fasting  FastingView
	Plan     *Line
	Steps    string
	Doses    []string // drug by drug, what the rules suggest
	Pauses   []PauseState
	Held     int // stops that are open
	Facts    []Field
	Intakes  []Line
	Baseline *Line
}

// firstMost is how many missing things stand at the head of the page: three
// rows of keys (house choice).
const firstMost = 9

// Field is one fact: what it is called, what it is now, and how it is asked.
type Field struct {
	Head    Mini
	Name    string // of the form's field
	Label   string
	Value   string // in words; empty: not asked
	Code    string
	List    string   // of package term, where the value is a code
	Heads   []string // of the patient's entry, where the field is in it: the name
	Page    string   // below the visit, where it is asked
	How     string   // choice, yes-no, condition, or page: asked on a page of its own
	First   bool     // usually asked of everybody
	Choices []Choice
	Many    []string // codes, where it may have several
}

// Columns is how its keys stand: without one left over, where that can be.
func (f Field) Columns() string {
	if n := len(f.Choices); n > 2 && n != 4 {
		return "three"
	}
	return "two"
}

// Mini is whose a control is.
type Mini struct{ Case, For string }

// VisitGroup is one group of facts in short.
type VisitGroup struct {
	Head        Mini
	Code, Label string
	Known       []string // in words
	Open        int      // not asked
	Warns       bool     // something in it changes the plan
}

// GroupPage is one group of facts, to be asked by one tap each.
type GroupPage struct {
	Head
	Code, Label string
	Fields      []Field
	Says        []Cited  // what follows from them
	Cautions    []string // of what follows
	Intakes     []Line
	Slowed      []Line // what stopped the stomach
	Told        []Line // who was told or asked, and who takes part
	Fasting     *FastingView
}

// visitField is how a fact is asked. The lists are of package term.
type visitField struct {
	group, name, how, list string
	first                  bool
}

// visitFields are the facts in the order of asking.
var visitFields = []visitField{
	{"who", "name", "page", "", false},
	{"who", "age", "page", "", true},
	{"who", "sex", "choice", "sex", true},
	{"who", "weight", "page", "", true},
	{"who", "length", "page", "", false},
	{"history", "allergies", "page", "allergy", true},
	{"food", "intake", "page", "", true},
	{"plan", "plan", "page", "", true},
	{"who", "consent", "choice", "consent-by", true},
	{"who", "side", "page", "side", true},
	{"who", "asa", "page", "asa", true},
	{"airway", "mallampati", "choice", "mallampati", true},
	{"airway", "mouth", "choice", "mouth", true},
	{"airway", "neck", "choice", "neck", true},
	{"airway", "teeth", "choice", "teeth", true},
	{"body", "baseline", "page", "", true},
	{"who", "pregnant", "yes-no", "", true},
	{"history", "with", "page", "condition", true},
	{"history", "anaesthetics_before", "choice", "earlier", true},
	{"history", "family", "choice", "earlier", false},
	{"history", "takes", "page", "takes", true},
	{"history", "recent-cold", "condition", "", false},
	{"history", "halothane-recent", "condition", "", false},
	{"history", "halothane-jaundice", "condition", "", false},
	{"history", "fitness", "choice", "fitness", false},
	{"history", "smoker", "yes-no", "", false},
	{"history", "sick_before", "yes-no", "", false},
	{"history", "habits", "page", "habit", false},
	{"history", "warnings", "page", "warning", false},
	{"airway", "thyromental", "page", "", false},
	{"airway", "nostril_left", "choice", "nostril", false},
	{"airway", "nostril_right", "choice", "nostril", false},
	{"body", "premature", "yes-no", "", true},
	{"body", "heart", "choice", "examined", true},
	{"body", "lungs", "choice", "examined", true},
	{"body", "haemoglobin", "page", "", false},
	{"body", "urine", "page", "urine", false},
	{"body", "tests_seen", "page", "test", false},
	{"body", "premed_effect", "choice", "premed-effect", false},
	{"food", "reflux", "yes-no", "", false},
	{"who", "risks_told", "yes-no", "", false},
	{"who", "assistant", "yes-no", "", true},
	{"who", "supervision", "choice", "supervision", false},
	{"who", "admission", "choice", "admission", false},
	{"who", "place", "choice", "place", false},
	{"who", "same_as", "page", "", false},
}

// VisitGroups are the groups that have a page, in order.
var VisitGroups = []string{"who", "history", "airway", "body", "food"}

// canBePregnant says whether to ask. From 10 to 60 years (common practice, no
// source): whoever is asked in vain loses a second.
func canBePregnant(f *timeline.Facts) bool {
	if f.Sex == term.SexMale {
		return f.Pregnant != ""
	}
	if f.Age.IsZero() {
		return true
	}
	in, err := f.Age.Between(quantity.MustParse("10 a"), quantity.MustParse("60 a"))
	return f.Pregnant != "" || err == nil && in
}

// isInfant says whether to ask if the child was born too early: under a year.
func isInfant(f *timeline.Facts) bool {
	if f.Premature != "" {
		return true
	}
	n, err := f.Age.Cmp(quantity.MustParse("1 a"))
	return !f.Age.IsZero() && err == nil && n < 0
}

// conditions says what the patient has, and of how many more it was asked.
func (s Speaker) conditions(f *timeline.Facts) string {
	asked := ""
	if n := len(f.Without); n > 0 {
		asked = s.Count("visit.asked-not", n)
	}
	return join(" · ", list(s, term.ConditionList, f.With), asked)
}

// visitLabel is what a fact of the visit is called.
func (s Speaker) visitLabel(name string) string {
	if term.ConditionList.Has(term.Condition(name)) {
		return Code(s, term.ConditionList, term.Condition(name))
	}
	//word:prefix field.
	//word:prefix kind.
	if name == "with" {
		return s.Say("visit.conditions")
	}
	if key := "kind." + name; name == "intake" || name == "baseline" || name == "plan" {
		return s.Say(key)
	}
	return s.Say("field." + name)
}

// visitFieldsOf gives every fact that is asked of a patient, with what it is
// now.
func (c *Companion) visitFieldsOf(cs *Case) []Field {
	s := Speaker{c.words}
	f := &cs.Facts
	codes := map[string][]string{}
	for _, x := range FieldsOf(f) {
		codes[x.Name] = append(codes[x.Name], x.Value)
	}
	var all []Field
	for _, d := range visitFields {
		if d.name == "pregnant" && !canBePregnant(f) || d.name == "premature" && !isInfant(f) {
			continue
		}
		v := Field{Head: Mini{cs.ID, cs.For(s)}, Name: d.name, Label: s.visitLabel(d.name), List: d.list, How: d.how, First: d.first, Page: d.name}
		if d.how != "page" {
			v.Page = d.group
		}
		switch d.name {
		case "name":
			// A case may stay without a name: it is not missing.
			v.Value = cs.For(s)
			if e := cs.Persons[cs.Patient]; e != nil {
				v.Heads = e.HeadIDs()
				v.Value = join(" · ", cs.For(s), e.Now().Private()[timeline.PrivateNumber])
			}
		case "age":
			v.Value = s.Age(f.Age)
		case "weight":
			if !f.Weight.IsZero() {
				v.Value = s.Say("say.weight", "n", s.Amount(f.Weight), "how", Code(s, term.WeightHowList, f.WeightHow), "by", Code(s, term.WeightByList, f.WeightBy))
			}
		case "length":
			v.Value = s.Amount(f.Length)
		case "thyromental":
			v.Value = s.Amount(f.Thyromental)
		case "haemoglobin":
			v.Value = s.Amount(f.Haemoglobin)
		case "asa":
			v.Value = s.ASA(f)
		case "side":
			v.Value = join(" · ", Code(s, term.SideList, f.Side), s.pair("side_marked", s.yesNo(f.SideMarked)), Code(s, term.RoleList, f.MarkedBy))
		case "same_as":
			v.Value = s.caseNumber(f.SameAs)
		case "with":
			v.Value = s.conditions(f)
		case "intake":
			for e := range timeline.Each[*timeline.Intake](cs.Entries, cs.ID) {
				v.Value = s.Entry(e.Now())
			}
		case "baseline":
			if e, b := last[*timeline.Baseline](cs, nil); e != nil {
				v.Value = s.Measures(&b.Measures)
			}
		case "plan":
			if e, p := last[*timeline.Plan](cs, nil); e != nil {
				v.Value = join(" · ", s.plan(p), cs.PlanText)
			}
		default:
			c.coded(&v, d, codes[d.name], f)
		}
		all = append(all, v)
	}
	return all
}

// coded fills in a fact whose value is a code, or several.
func (c *Companion) coded(v *Field, d visitField, codes []string, f *timeline.Facts) {
	s := Speaker{c.words}
	var words []string
	switch d.how {
	case "yes-no":
		if len(codes) > 0 {
			v.Code, v.Value = codes[0], s.yesNo(codes[0])
		}
		return
	case "condition":
		x := term.Condition(d.name)
		switch {
		case slices.Contains(f.With, x):
			v.Code = timeline.Yes
		case slices.Contains(f.Without, x):
			v.Code = timeline.No
		}
		v.Value = s.yesNo(v.Code)
		return
	}
	for _, code := range codes {
		words = append(words, s.Say("term."+d.list+"."+code)) //word:prefix term.
	}
	v.Value, v.Choices = join(", ", words...), c.Choices(d.list)
	if len(codes) > 0 {
		v.Code = codes[0]
	}
	if d.how == "page" {
		v.Many = codes
	}
}

// Visit gives the visit's view.
func (c *Companion) Visit(ctx context.Context, id string) (Visit, error) {
	h, cs, err := c.HeadOf(ctx, id)
	if err != nil {
		return Visit{}, err
	}
	now, s := c.clock.Now(), Speaker{c.words}
	v := Visit{Head: h, Facts: c.visitFieldsOf(cs), Steps: s.stepTimes(&cs.Plan)}
	groups := map[string]*VisitGroup{}
	for _, code := range VisitGroups {
		v.Groups = append(v.Groups, VisitGroup{Head: Mini{id, h.For}, Code: code, Label: s.Say("visit.group-" + code)}) //word:prefix visit.group-
	}
	for i := range v.Groups {
		groups[v.Groups[i].Code] = &v.Groups[i]
	}
	at := map[string]string{}
	for _, d := range visitFields {
		at[d.name] = d.group
	}
	for _, f := range v.Facts {
		if f.Value == "" && f.First {
			if len(v.First) < firstMost {
				v.First = append(v.First, f)
			} else {
				v.More++
			}
		}
		g := groups[at[f.Name]]
		switch {
		case g == nil:
		case f.Value == "":
			g.Open++
		case f.How == "yes-no" || f.How == "condition" || f.Name == "nostril_left" || f.Name == "nostril_right" || f.List == "examined":
			g.Known = append(g.Known, f.Label+": "+f.Value)
		case f.Name != "name" && f.Name != "intake":
			g.Known = append(g.Known, f.Value)
		}
	}
	for e := range timeline.Each[*timeline.Intake](cs.Entries, id) {
		v.Intakes = append(v.Intakes, c.line(cs, e, now, lateAfter))
	}
	if v.Fasting, err = c.Fasting(ctx, cs); err != nil {
		return v, err
	}
	if g := groups["food"]; v.Fasting.Code != "" && v.Fasting.Code != string(term.FastingNotAsked) {
		g.Known = append(g.Known, v.Fasting.Verdict)
		g.Warns = v.Fasting.Code != string(term.FastingLongEnough)
	}
	if a := s.airway(&cs.Facts); len(a.Warns) > 0 {
		groups["airway"].Warns = true
		groups["airway"].Known = append(groups["airway"].Known, a.Warns...)
	}
	groups["body"].Warns = len(c.restOutOfLimits(cs)) > 0
	if e, _ := last[*timeline.Baseline](cs, nil); e != nil {
		l := c.line(cs, e, now, lateAfter)
		v.Baseline = &l
	}
	if e, _ := last[*timeline.Plan](cs, nil); e != nil {
		l := c.line(cs, e, now, lateAfter)
		v.Plan = &l
	}
	if v.Pauses, err = c.pauseStates(ctx, cs); err != nil {
		return v, err
	}
	held, err := c.openStops(ctx, cs, term.PhaseAnaesthesiaStart, now.Wall)
	if err != nil {
		return v, err
	}
	v.Held = len(held)
	doses, err := c.PlanDoses(ctx, cs)
	if err != nil {
		return v, err
	}
	for _, card := range doses {
		for _, d := range card.Uses {
			for _, k := range d.Keys {
				if k.Suggested {
					v.Doses = append(v.Doses, s.unconfirmed(join(" ", k.Doubt, d.Words, d.UseWords, k.Text, d.RouteWords), d.Confirmed))
				}
			}
		}
	}
	return v, nil
}

// FieldNamed gives one fact of a case.
func (c *Companion) FieldNamed(cs *Case, name string) Field {
	for _, f := range c.visitFieldsOf(cs) {
		if f.Name == name {
			return f
		}
	}
	return Field{Name: name}
}

// VisitGroup gives the page of one group.
func (c *Companion) VisitGroup(ctx context.Context, id, code string) (GroupPage, error) {
	h, cs, err := c.HeadOf(ctx, id)
	if err != nil {
		return GroupPage{}, err
	}
	if !slices.Contains(VisitGroups, code) {
		return GroupPage{}, ErrNotHere
	}
	now, s := c.clock.Now(), Speaker{c.words}
	g := GroupPage{Head: h, Code: code, Label: s.Say("visit.group-" + code)} //word:prefix visit.group-
	at := map[string]string{}
	for _, d := range visitFields {
		at[d.name] = d.group
	}
	for _, f := range c.visitFieldsOf(cs) {
		if at[f.Name] == code {
			g.Fields = append(g.Fields, f)
		}
	}
	lines := func(to *[]Line, keep func(timeline.Payload) bool) {
		for _, e := range cs.Entries {
			if e.In(id) && keep(e.Now().Payload) {
				*to = append(*to, c.line(cs, e, now, lateAfter))
			}
		}
	}
	f := &cs.Facts
	switch code {
	case "who":
		lines(&g.Told, func(p timeline.Payload) bool {
			_, told := p.(*timeline.Consulted)
			_, team := p.(*timeline.Team)
			return told || team
		})
	case "history":
		g.Says, g.Cautions = s.sickness(cs)
	case "airway":
		a := s.airway(f)
		for _, w := range a.Warns {
			g.Says = append(g.Says, Cited{Text: w})
		}
		for _, w := range a.Fine {
			g.Says = append(g.Says, Cited{Text: s.Say("visit.test-fine", "test", w)})
		}
		if n := len(g.Says); n > 0 {
			g.Says[n-1].Source = a.Source
		}
		g.Cautions = a.Cautions
	case "body":
		g.Says = append(c.restOutOfLimits(cs), s.shock(cs)...)
		g.Says = append(g.Says, c.Limits(cs)...)
	case "food":
		fast, err := c.Fasting(ctx, cs)
		if err != nil {
			return g, err
		}
		g.Fasting = &fast
		lines(&g.Intakes, func(p timeline.Payload) bool { _, ok := p.(*timeline.Intake); return ok })
		lines(&g.Slowed, func(p timeline.Payload) bool { _, ok := p.(*timeline.Stomach); return ok })
	}
	return g, nil
}

// sickness gives the risk of nausea and vomiting afterwards, once something of
// what it hangs on was asked.
func (s Speaker) sickness(cs *Case) ([]Cited, []string) {
	f := &cs.Facts
	q := visit.Sickness{Smokes: visit.Said(f.Smoker), Before: visit.Said(f.SickBefore), Opioids: visit.Said(cs.Plan.OpioidsAfter)}
	if q == (visit.Sickness{}) {
		return nil, nil
	}
	r, err := visit.Apfel(patientOf(f), q)
	if err != nil {
		return nil, nil // a child: the rule is for adults
	}
	risk := s.Amount(r.Risk.Value)
	if r.Risk.Value.IsZero() {
		risk = s.spanOf(r.Risk.Low, r.Risk.High)
	}
	return []Cited{{Text: s.Say("visit.sickness", "risk", risk), Source: s.sources(r.Risk.Sources)}}, append(s.cautions(r.Risk.Cautions), s.assumptions(r.Risk.Assumptions)...)
}

// ASAHints gives published examples of classes that what is known brings to
// mind, class by class; none for a child.
func (c *Companion) ASAHints(cs *Case) []Cited {
	s := Speaker{c.words}
	f := &cs.Facts
	hints, err := visit.ASAHints(patientOf(f), visit.Said(f.Pregnant), f.With)
	if err != nil {
		return nil
	}
	if f.Smoker == timeline.Yes {
		if x, err := visit.ASA(term.ASA2, false); err == nil {
			for _, e := range x.Examples {
				if e.Code == term.ASAExampleSmoker {
					hints = append([]visit.Example{e}, hints...)
				}
			}
		}
	}
	var all []Cited
	for _, x := range hints {
		all = append(all, Cited{Text: s.Say("visit.asa-hint", "class", Code(s, term.ASAList, x.Class), "example", Code(s, term.ASAExampleList, x.Code)), Source: s.source(x.Source)})
	}
	return all
}

// LossChoice is an allowable loss down to one haemoglobin, offered for the
// plan.
type LossChoice struct {
	ML, Words, Span string
}

// targets are the haemoglobins down to which a loss is reckoned, in g/dL. They
// are offered, not advised (common practice, no source).
var targets = []string{"10", "9", "8", "7"}

// Losses gives the allowable losses of a patient whose weight and haemoglobin
// are known, and what to beware of.
func (c *Companion) Losses(cs *Case) (all []LossChoice, cautions []string, source string) {
	s := Speaker{c.words}
	f := &cs.Facts
	if f.Haemoglobin.IsZero() || f.Weight.IsZero() {
		return nil, nil, ""
	}
	for _, t := range targets {
		to := quantity.MustParse(t + " g/dL")
		a, err := patient.AllowableLoss(patientOf(f), f.Haemoglobin, to, patient.LossSimple)
		if err != nil {
			continue // the target is not below what there is
		}
		all = append(all, LossChoice{a.Value.Value.String(), s.Say("visit.loss", "n", s.Amount(a.Value), "to", s.Amount(to)), s.spanOf(a.Low, a.High)})
		for _, x := range append(s.cautions(a.Cautions), s.assumptions(a.Assumptions)...) {
			if !slices.Contains(cautions, x) {
				cautions = append(cautions, x)
			}
		}
		source = s.sources(a.Sources)
	}
	return all, cautions, source
}
