package core

import (
	"context"

	"chinlift/core/quantity"
	"chinlift/core/term"
	"chinlift/core/timeline"
)

// Visit is what is known of the patient before the start.
type Visit struct {
	Head
	Facts    []Field // every fact that the screen asks for, known or not
	Intakes  []Line
	Baseline *Line
	Plan     *Line
	Doses    []string // drug by drug, what the rules suggest
	Missing  []string // names of what is usually asked and is not known
}

// Field is one fact: what it is called, what it is now, and since when.
type Field struct {
	Name  string // of the form's field
	Label string
	Value string // in words; empty: not asked
	Code  string
	List  string   // of package term, where the value is a code
	Heads []string // of the patient's entry, where the field is in it: the name
}

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

// conditions says what the patient has, and of how many more it was asked.
func (s Speaker) conditions(f *timeline.Facts) string {
	asked := ""
	if n := len(f.Without); n > 0 {
		asked = s.Count("visit.asked-not", n)
	}
	return join(" · ", list(s, term.ConditionList, f.With), asked)
}

// Visit gives the visit's view.
func (c *Companion) Visit(ctx context.Context, id string) (Visit, error) {
	h, cs, err := c.HeadOf(ctx, id)
	if err != nil {
		return Visit{}, err
	}
	now, s := c.clock.Now(), Speaker{c.words}
	v := Visit{Head: h}
	f := &cs.Facts
	weight := ""
	if !f.Weight.IsZero() {
		weight = s.Say("say.weight", "n", s.Amount(f.Weight), "how", Code(s, term.WeightHowList, f.WeightHow), "by", Code(s, term.WeightByList, f.WeightBy))
	}
	allergy := ""
	if len(f.Allergies) > 0 {
		allergy = string(f.Allergies[0])
	}
	// A case may stay without a name: it is not missing.
	named := Field{Name: "name", Label: s.Say("field.name"), Value: cs.For(s)}
	if e := cs.Persons[cs.Patient]; e != nil {
		named.Heads = e.HeadIDs()
		named.Value = join(" · ", cs.For(s), e.Now().Private()[timeline.PrivateNumber])
	}
	v.Facts = append(v.Facts, named)
	for _, d := range []struct{ name, list, value, code string }{
		{"age", "", s.Age(f.Age), ""},
		{"sex", "sex", Code(s, term.SexList, f.Sex), string(f.Sex)},
		{"weight", "", weight, ""},
		{"length", "", s.Amount(f.Length), ""},
		{"pregnant", "", s.yesNo(f.Pregnant), f.Pregnant},
		{"asa", "asa", s.ASA(f), string(f.ASA)},
		{"allergies", "allergy", list(s, term.AllergyList, f.Allergies), allergy},
		{"mallampati", "mallampati", Code(s, term.MallampatiList, f.Mallampati), string(f.Mallampati)},
		{"mouth", "mouth", Code(s, term.MouthOpeningList, f.Mouth), string(f.Mouth)},
		{"neck", "neck", Code(s, term.NeckList, f.Neck), string(f.Neck)},
		{"teeth", "teeth", Code(s, term.TeethList, f.Teeth), string(f.Teeth)},
		{"side", "side", Code(s, term.SideList, f.Side), string(f.Side)},
		{"consent", "consent-by", Code(s, term.ConsentByList, f.Consent), string(f.Consent)},
		{"with", "condition", s.conditions(f), ""},
	} {
		if d.name == "pregnant" && !canBePregnant(f) {
			continue
		}
		//word:prefix field.
		label := s.Say("field." + d.name)
		v.Facts = append(v.Facts, Field{Name: d.name, Label: label, Value: d.value, Code: d.code, List: d.list})
		if d.value == "" && d.name != "length" {
			v.Missing = append(v.Missing, label)
		}
	}
	for e := range timeline.Each[*timeline.Intake](cs.Entries, id) {
		v.Intakes = append(v.Intakes, c.line(cs, e, now, lateAfter))
	}
	if len(v.Intakes) == 0 {
		v.Missing = append(v.Missing, s.Say("kind.intake"))
	}
	if e, _ := last[*timeline.Baseline](cs, nil); e != nil {
		l := c.line(cs, e, now, lateAfter)
		v.Baseline = &l
	} else {
		v.Missing = append(v.Missing, s.Say("kind.baseline"))
	}
	if e, _ := last[*timeline.Plan](cs, nil); e != nil {
		l := c.line(cs, e, now, lateAfter)
		v.Plan = &l
	} else {
		v.Missing = append(v.Missing, s.Say("kind.plan"))
	}
	doses, err := c.PlanDoses(ctx, cs)
	if err != nil {
		return v, err
	}
	for _, card := range doses {
		for _, d := range card.Uses {
			for _, k := range d.Keys {
				if k.Suggested {
					v.Doses = append(v.Doses, join(" ", d.Words, d.UseWords, k.Text, d.RouteWords))
				}
			}
		}
	}
	return v, nil
}
