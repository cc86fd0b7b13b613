package core

import (
	"context"
	"slices"

	"chinlift/core/term"
	"chinlift/core/timeline"
)

// PlanForm is the page of the plan: what is planned now, picked, since an
// entry of a plan holds all of it. A plan is not an observation.
type PlanForm struct {
	Head
	Plan             timeline.Plan
	Words            string // the surgeon's, for the operation
	Start, StartFull string // for reading, and to be sent back
	Drugs            []DrugGroup
}

// DrugGroup is the drugs that share a colour of label.
type DrugGroup struct {
	Class, Words string
	Drugs        []Choice
}

// PlanForm gives the page.
func (c *Companion) PlanForm(ctx context.Context, id string) (PlanForm, error) {
	h, cs, err := c.HeadOf(ctx, id)
	if err != nil {
		return PlanForm{}, err
	}
	f, err := c.Rules(ctx, c.clock.Now().Wall)
	if err != nil {
		return PlanForm{}, err
	}
	s := Speaker{c.words}
	p := PlanForm{Head: h, Plan: cs.Plan, Words: cs.PlanText}
	if !cs.Plan.Start.IsZero() {
		p.Start, p.StartFull = s.Clock(cs.Plan.Start), cs.Plan.Start.String()
	}
	for _, class := range term.DrugClassList.Codes() {
		g := DrugGroup{Class: string(class), Words: Code(s, term.DrugClassList, class)}
		for _, d := range f.Drugs() {
			if d.Class == class && class != term.DrugClassInhaled {
				g.Drugs = append(g.Drugs, Choice{d.Code, s.Drug(d.Code)})
			}
		}
		if len(g.Drugs) > 0 {
			p.Drugs = append(p.Drugs, g)
		}
	}
	// What was planned and is not among them, as a drug that the clinic has
	// since retired, stands by itself: a plan that is written anew keeps it,
	// and whoever sees it can take it out.
	besides := DrugGroup{Class: string(term.DrugClassMiscellaneous), Words: s.Say("visit.drugs-besides")}
	for _, code := range cs.Plan.Drugs {
		offered := slices.ContainsFunc(p.Drugs, func(g DrugGroup) bool {
			return slices.ContainsFunc(g.Drugs, func(d Choice) bool { return d.Code == code })
		})
		if !offered {
			besides.Drugs = append(besides.Drugs, Choice{code, s.Drug(code)})
		}
	}
	if len(besides.Drugs) > 0 {
		p.Drugs = append(p.Drugs, besides)
	}
	return p, nil
}
