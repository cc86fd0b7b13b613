package core

import (
	"context"
	"slices"
	"strings"

	"chinlift/core/quantity"
	"chinlift/core/term"
	"chinlift/core/timeline"
	"chinlift/core/waking"
)

// NextDayView is the page of what is asked the day after.
type NextDayView struct {
	Head
	Version   string
	Questions []NextDayLine
	Tell      []string // answers that somebody is to hear of, in words
	Who       string   // who that is
}

// NextDayLine is one question with its last answer.
type NextDayLine struct {
	Code, Name, Ask, Source string
	Sort                    string // of the answer: yes-no, score, grade, words
	Now, At                 string // in words; empty: not asked
	Tell                    bool   // that answer is one to be told
	Again                   bool   // asked once more, 7 to 14 days after
}

// anaesthetics gives every technique that the record knows of: done, planned,
// or to be seen from what was given. One too many asks a question too many; one
// too few would leave one out.
func (cs *Case) anaesthetics() []term.Technique {
	all := slices.Clone(cs.Plan.Techniques)
	for _, e := range cs.Entries {
		if !e.In(cs.ID) {
			continue
		}
		switch p := e.Now().Payload.(type) {
		case *timeline.Performed:
			term.Add(&all, p.Techniques...)
		case *timeline.AgentDelivery:
			if p.Agent != "" {
				term.Add(&all, term.TechniqueOpenDrop)
			}
		case *timeline.Block:
			if neuraxial(p) {
				term.Add(&all, term.TechniqueSpinal)
			}
		case *timeline.Drug:
			if strings.HasPrefix(p.Drug, "ketamine") {
				term.Add(&all, term.TechniqueKetamine)
			}
		}
	}
	return all
}

// NextDay gives the page of the day after.
func (c *Companion) NextDay(ctx context.Context, id string) (NextDayView, error) {
	h, cs, err := c.HeadOf(ctx, id)
	if err != nil {
		return NextDayView{}, err
	}
	list, err := waking.NextDay()
	if err != nil {
		return NextDayView{}, err
	}
	questions, err := list.For(patientOf(&cs.Facts), cs.anaesthetics())
	if err != nil {
		// An age out of its bounds leaves nothing out.
		questions = list.Questions
	}
	s, tag := Speaker{c.words}, c.words.Tag()
	v := NextDayView{Head: h, Version: list.Version}
	for _, q := range questions {
		l := NextDayLine{Code: q.Code, Name: q.Name.In(tag), Ask: q.Ask.In(tag), Source: s.marked(q.Source, q.Mark), Sort: string(q.Answer), Again: q.Again}
		if e, p := last(cs, func(p *timeline.FollowUp) bool { return p.Question == q.Code }); e != nil {
			l.Now, l.At = join(" · ", s.followed(p), e.Now().Private()[timeline.PrivateText]), s.Date(e.Now().At)
			r := waking.Reply{Said: waking.Said(p.Answer), Grade: p.Grade}
			if p.Score != nil {
				r.Score = quantity.Amount{Value: quantity.DecimalFromInt(int64(*p.Score)), Unit: quantity.ScoreOne}
			}
			// An answer of another sort came from another list: nobody knows
			// what it means here, and it stands as it is.
			l.Tell, _ = q.ToTell(r)
			if l.Tell {
				v.Tell = append(v.Tell, l.Name+": "+l.Now)
			}
		}
		v.Questions = append(v.Questions, l)
	}
	v.Who = s.Say("record.unnamed")
	if e, _ := last(cs, func(p *timeline.Phase) bool { return p.Phase == term.PhaseAnaesthesiaStart }); e != nil {
		v.Who = cmpOr(cs.Name(e.Now().Content.Event.Author), v.Who)
	}
	return v, nil
}

// followed gives an answer in words.
func (s Speaker) followed(p *timeline.FollowUp) string {
	return join(" · ", s.yesNo(p.Answer), s.score(p.Score), Code(s, term.GradeList, p.Grade))
}

// question gives the name of a question.
func (s Speaker) question(code string) string {
	if list, err := waking.NextDay(); err == nil {
		for _, q := range list.Questions {
			if q.Code == code {
				return q.Name.In(s.Tag())
			}
		}
	}
	return strings.ReplaceAll(code, "-", " ")
}
