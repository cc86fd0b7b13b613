package core

import (
	"context"
	"io"

	"chinlift/core/kit"
	"chinlift/core/record"
	"chinlift/core/term"
	"chinlift/core/timeline"
)

// FaultPaper draws what wants mending or buying as PDF, for whoever does it
// without a screen: each with a line for who did it and when. It names nobody.
func (c *Companion) FaultPaper(ctx context.Context, w io.Writer, size record.PaperSize) error {
	faults, err := c.Faults(ctx, false)
	if err != nil {
		return err
	}
	lists, err := c.Lists(ctx, c.clock.Now().Wall)
	if err != nil {
		return err
	}
	now, s := c.clock.Now(), Speaker{c.words}
	book := s.book(s.Say("kit.paper-title"), s.Say("kit.paper-note"), s.Say("shell.name"), now)
	for _, g := range []struct{ what, heading string }{
		{"equipment", s.Say("kit.title")},
		{"shortage", s.Say("kit.paper-short")},
		{"expired", s.Say("kit.paper-expired")},
		{"count-again", s.Say("kit.paper-count")},
	} {
		section := record.BookSection{Heading: g.heading, Keep: true}
		for i := range faults {
			if f := &faults[i]; f.What == g.what {
				text, small, err := s.fault(f, lists)
				if err != nil {
					return err
				}
				section.Items = append(section.Items, record.BookItem{Text: upperFirst(f.Name), Strong: true},
					record.BookItem{Text: text, Small: small, Level: 1, Sign: &record.BookSign{Label: s.Say("kit.paper-done")}})
			}
		}
		if len(section.Items) > 0 {
			book.Sections = append(book.Sections, section)
		}
	}
	if len(book.Sections) == 0 {
		book.Sections = []record.BookSection{{Heading: s.Say("kit.title"), Items: []record.BookItem{{Text: s.Say("kit.paper-none")}}}}
	}
	return record.WriteBook(w, &book, record.Paper{Size: size, Made: now.Wall})
}

// fault writes what is wrong and what is to be done, and under it where and
// when that was found.
func (s Speaker) fault(f *Fault, lists []*kit.List) (text, small string, err error) {
	switch f.What {
	case "shortage":
		return join(" · ", s.Say("supply.order", "amount", f.Amount), f.Note), "", nil
	case "equipment":
	default: // ran out, with its day; or the count that cannot be
		return join(" · ", f.Amount, f.Note), "", nil
	}
	at, err := timeline.ParseMoment(f.At)
	if err != nil {
		return "", "", err
	}
	name := f.List
	for _, l := range lists {
		if l.Code == f.List {
			name = l.Name.In(s.Tag())
		}
	}
	answer := Code(s, term.KitAnswerList, term.KitAnswer(f.Answer))
	if answer == "" {
		answer = s.Say("kit.undecided")
	}
	stop, photo := "", ""
	if f.Stop {
		stop = s.Say("kit.stop")
	}
	if f.Photo {
		photo = s.Say("kit.photo")
	}
	return join(" · ", Code(s, term.KitStateList, term.KitState(f.State)), answer, stop), join(" · ", name, s.Date(at), photo), nil
}
