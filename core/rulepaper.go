package core

import (
	"context"
	"io"

	"chinlift/core/record"
)

// RulePaper draws the book of dose rules as PDF, for whoever checks and signs
// it at a desk: each rule with its source, its mark, and who stands for it.
func (c *Companion) RulePaper(ctx context.Context, w io.Writer, size record.PaperSize) error {
	b, err := c.RuleBook(ctx)
	if err != nil {
		return err
	}
	now, s := c.clock.Now(), Speaker{c.words}
	book := s.book(s.Say("rules.title"), s.Say("rules.caution")+" "+s.Count("rules.rules", b.Rules)+", "+s.Count("rules.unconfirmed", b.Unconfirmed)+".", s.Say("shell.name"), now)
	cited := func(level int, lines []Cited) (items []record.BookItem) {
		for _, x := range lines {
			items = append(items, record.BookItem{Text: x.Text, Small: x.Source, Level: level})
		}
		return items
	}
	heading := func(text string) record.BookItem { return record.BookItem{Text: text, Strong: true} }
	book.Sections = append(book.Sections, record.BookSection{Heading: s.Say("rules.engine-title"), Items: cited(0, b.Engine)})
	for _, g := range b.Groups {
		for _, d := range g.Drugs {
			aside := join(", ", d.ClassWords, atc(d.ATC))
			if d.Own {
				aside = join(", ", aside, s.Say("rules.own"))
			}
			section := record.BookSection{Heading: d.Words, Aside: aside, Band: d.Class, Keep: true, Items: cited(0, d.Presentations)}
			for _, u := range d.Uses {
				title := join(" · ", u.Words, u.Routes)
				if u.Rescue {
					title = join(" · ", title, s.Say("dose.rescue"))
				}
				section.Items = append(section.Items, heading(title))
				section.Items = append(section.Items, cited(1, u.Lines)...)
				state := u.Confirmed
				if state == "" {
					state = s.Say("dose.unconfirmed")
				}
				section.Items = append(section.Items, record.BookItem{Text: state, Small: s.Say("rules.hash", "hash", u.Hash), Level: 1, Sign: &record.BookSign{Label: s.Say("rules.signed")}})
			}
			if len(d.Reductions) > 0 {
				section.Items = append(append(section.Items, heading(s.Say("rules.reductions"))), cited(1, d.Reductions)...)
			}
			if len(d.Alerts) > 0 {
				section.Items = append(append(section.Items, heading(s.Say("rules.alerts"))), cited(1, d.Alerts)...)
			}
			book.Sections = append(book.Sections, section)
		}
	}
	return record.WriteBook(w, &book, record.Paper{Size: size, Made: now.Wall})
}

// atc names the index that a code is of.
func atc(code string) string {
	if code == "" {
		return ""
	}
	return "ATC " + code
}

// book begins a book on paper: its title, what stands under it, who printed it,
// and the words that every book has.
func (s Speaker) book(title, subtitle, by string, now Reading) record.Book {
	return record.Book{
		Title: title, Subtitle: subtitle,
		Foot: s.Say("record.foot", "by", by, "when", s.Date(now.Moment())),
		Words: record.BookWords{Page: s.Say("record.page", "n", "{n}", "m", "{m}"), Continued: s.Say("rules.continued"), Lacking: s.Say("record.lacking"),
			Name: s.Say("field.name"), Date: s.Say("rules.date"), Signature: s.Say("rules.signature")},
	}
}
