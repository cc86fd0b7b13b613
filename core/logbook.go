package core

import (
	"context"
	"io"
	"slices"
	"strconv"

	"chinlift/core/figure"
	"chinlift/core/record"
	"chinlift/core/term"
	"chinlift/core/timeline"
	"chinlift/core/waking"
)

// LogbookRow is a case as it stands in a logbook: a trainee's, or what an audit
// asks for. Codes and amounts, and no name.
type LogbookRow struct {
	*figure.Case
	Role []term.Role // of whoever began the anaesthetic, or opened the case; empty: not said
	Told []string    // questions of the day after whose answer is one to be heard of
}

// LogbookOf makes the row of a case.
func LogbookOf(cs *Case) (LogbookRow, error) {
	list, err := waking.NextDay()
	if err != nil {
		return LogbookRow{}, err
	}
	r := LogbookRow{Case: cs.figure()}
	if e := cs.Persons[r.By]; e != nil {
		if p, ok := e.Now().Payload.(*timeline.Person); ok {
			r.Role = p.Roles
		}
	}
	for i := range r.Replies {
		q := questionOf(list, r.Replies[i].Question)
		if q == nil {
			continue
		}
		if tell, err := q.ToTell(replyOf(&r.Replies[i])); err == nil && tell {
			r.Told = append(r.Told, q.Code)
		}
	}
	return r, nil
}

// begunBy gives the id of whoever began the anaesthetic, or else opened the
// case.
func (cs *Case) begunBy() (by string) {
	for _, e := range cs.Entries {
		p, phase := e.Now().Payload.(*timeline.Phase)
		_, opened := e.Now().Payload.(*timeline.CaseOpened)
		if start := phase && p.Phase == term.PhaseAnaesthesiaStart; e.In(cs.ID) && (start || opened && by == "") {
			by = e.Root().Event.Author
		}
	}
	return by
}

// LogbookPaper draws the logbook of the cases that are asked for as PDF, the
// first day first, with a line for whoever supervises to sign on. Without
// private it names nobody, and gives the band instead of the age. Only cases
// whose anaesthetic has begun are in it.
func (c *Companion) LogbookPaper(ctx context.Context, w io.Writer, size record.PaperSize, ask FigureAsk, private bool) error {
	all, err := c.counted(ctx)
	if err != nil {
		return err
	}
	s, now, f := Speaker{c.words}, c.clock.Now(), ask.filter()
	all = slices.DeleteFunc(all, func(n countedCase) bool { return !n.Begun || !f.Picks(n.Case) })
	slices.Reverse(all)
	book := s.book(s.Say("figures.logbook"), join(" · ", s.asked(ask), s.Count("figures.cases", len(all)), s.Say("figures.caution")), s.Say("shell.name"), now)
	// Whose it is stands on it where it is one person's.
	whose := ask.By
	if whose == "" && len(all) > 0 && !slices.ContainsFunc(all, func(n countedCase) bool { return n.By != all[0].By }) {
		whose = all[0].By
	}
	if private && whose != "" {
		name, err := c.calledBy(ctx, whose)
		if err != nil {
			return err
		}
		book.Title = join(" · ", book.Title, name)
	}
	if len(all) > 0 {
		book.Sections = append(book.Sections, s.logbookSums(all, f))
	}
	for i := range all {
		if month := all[i].Month(); i == 0 || month != all[i-1].Month() {
			book.Sections = append(book.Sections, record.BookSection{Heading: month, Keep: true})
		}
		cs, err := c.peek(ctx, all[i].id)
		if err != nil {
			return err
		}
		r, err := LogbookOf(cs)
		if err != nil {
			return err
		}
		at := &book.Sections[len(book.Sections)-1]
		at.Items = append(at.Items, s.logbookRow(i+1, cs, r, private))
	}
	sign := record.BookItem{Sign: &record.BookSign{Label: s.Say("figures.signed")}}
	if len(all) == 0 {
		sign = record.BookItem{Text: s.Say("figures.none")}
	}
	book.Sections = append(book.Sections, record.BookSection{Heading: s.Say("figures.supervisor"), Keep: true, Items: []record.BookItem{sign}})
	return record.WriteBook(w, &book, record.Paper{Size: size, Made: now.Wall})
}

// asked writes which cases are asked for.
func (s Speaker) asked(a FigureAsk) string {
	return join(" · ", cmpOr(a.When, s.Say("figures.ever")), Code(s, term.TechniqueList, term.Technique(a.Technique)),
		Code(s, term.TroubleList, term.Trouble(a.Trouble)), Code(s, term.MarkLabelList, term.MarkLabel(a.Mark)))
}

// logbookSums is the first section: how many of each sort.
func (s Speaker) logbookSums(all []countedCase, f figure.Filter) record.BookSection {
	cases := make([]*figure.Case, len(all))
	for i := range all {
		cases[i] = all[i].Case
	}
	w := figure.Work(cases, f)
	section := record.BookSection{Heading: s.Say("figures.sums"), Keep: true}
	line := func(label string, t figure.Table, words func(string) string) {
		var text []string
		for _, r := range t.Rows {
			text = append(text, s.Say("figures.sum", "what", words(r.Code), "n", r.N))
		}
		if t.Unsaid > 0 {
			text = append(text, s.Say("figures.sum", "what", s.Say("figures.not-recorded"), "n", t.Unsaid))
		}
		section.Items = append(section.Items, record.BookItem{Text: upperFirst(label), Strong: true}, record.BookItem{Text: join(" · ", text...), Level: 1})
	}
	line(s.Say("figures.technique"), w.Techniques, codeWords(s, term.TechniqueList))
	line(s.Say("field.age"), w.Ages, codeWords(s, term.AgeBandList))
	line(s.Say("field.asa"), w.ASA, codeWords(s, term.ASAList))
	line(s.Say("field.urgency"), w.Urgency, codeWords(s, term.UrgencyList))
	line(s.Say("field.supervision"), w.Supervision, codeWords(s, term.SupervisionList))
	return section
}

// logbookRow is one case on paper.
func (s Speaker) logbookRow(n int, cs *Case, r LogbookRow, private bool) record.BookItem {
	age, who, operation := Code(s, term.AgeBandList, figure.BandOf(r.Age)), "", codeWords(s, term.OperationList)(string(r.Operation))
	if private {
		age, who, operation = s.Age(r.Age), cs.For(s), join(", ", operation, cs.PlanText)
	}
	label := func(key, text string) string {
		if text == "" {
			return ""
		}
		return s.Say("figures.labelled", "what", key, "text", text)
	}
	asa := s.ASA(&timeline.Facts{ASA: r.ASA, Emergency: r.Emergency})
	followed := s.Say("figures.not-asked")
	if len(r.Replies) > 0 {
		followed = s.Count("figures.answers", len(r.Replies))
	}
	var told []string
	for _, q := range r.Told {
		told = append(told, s.question(q))
	}
	return record.BookItem{
		Text: join(" · ", strconv.Itoa(n), r.Day, who, age, Code(s, term.SexList, r.Sex), asa, Code(s, term.UrgencyList, r.Urgency), operation),
		Small: join(" · ", list(s, term.TechniqueList, r.Techniques), list(s, term.AirwayDeviceList, r.Airways), label(s.Say("field.supervision"), Code(s, term.SupervisionList, r.Supervision)),
			label(s.Say("field.role"), list(s, term.RoleList, r.Role)), label(s.Say("figures.trouble"), list(s, term.TroubleList, r.Troubles)),
			label(s.Say("kind.outcome"), Code(s, term.OutcomeList, r.Outcome)), label(s.Say("figures.follow-up"), join(", ", append([]string{followed}, told...)...))),
	}
}

// FigureCases gives the ids of the cases that are asked for and whose anaesthetic
// has begun, the first day first: those of a logbook.
func (c *Companion) FigureCases(ctx context.Context, ask FigureAsk) ([]string, error) {
	all, err := c.counted(ctx)
	if err != nil {
		return nil, err
	}
	var ids []string
	f := ask.filter()
	for _, n := range slices.Backward(all) {
		if n.Begun && f.Picks(n.Case) {
			ids = append(ids, n.id)
		}
	}
	return ids, nil
}
