package record

import (
	"errors"
	"fmt"
	"io"

	"codeberg.org/go-pdf/fpdf"

	"chinlift/core/term"
)

// Book is a document that flows from page to page: the dose rules that a
// pharmacist checks and signs, a page for handing over, a list of faults to
// repair. It is made to be read away from a screen and written on, punched and
// filed. Words are already in the reader's language; this package adds none.
//
// A book is printed as it is given. Nothing in it is judged here, neither a
// dose nor who signed.
type Book struct {
	Title    string // over the first page, and on the foot of every one
	Subtitle string // what the reader must know before the first section
	Foot     string // who printed it and when, one line on every page; one that is too long ends in "…"
	Words    BookWords
	Sections []BookSection
	// OnePage is a book to be carried as one leaf: what takes more than a page is
	// set closer, and drawn smaller down to smallestBook, if one page holds it so.
	OnePage bool
}

// To go on one page a book may be drawn so much smaller, which leaves text of 6.9
// pt, and keeps so much of the white between its parts (house choice, no source).
const (
	smallestBook = 0.75
	closeBook    = 0.3
)

// BookWords are the labels of a [Book], in the reader's language.
type BookWords struct {
	Page      string // "page {n} of {m}"
	Continued string // after a heading that is repeated over the next page: "… continued"
	Lacking   string // "characters that this printer's font lacks"; their code points follow

	Name, Date, Signature string // under the lines of a BookSign
}

// BookSection is a heading and what stands under it. One without items is the
// heading of the sections that follow.
type BookSection struct {
	Heading string
	Aside   string // at the right of the heading, as the class of a drug
	// Band is the code of a [term.DrugClass], in whose colour of label a band
	// is drawn under the heading, or empty. Colour only groups: the class must
	// be there in words as well, in Aside or Heading.
	Band  string
	Keep  bool // does not begin within the last lines of a page
	Items []BookItem
}

// BookItem is a paragraph. Its parts stand under each other; each may be empty.
type BookItem struct {
	Text   string
	Small  string // where it comes from, and its mark
	Level  int    // of indent, 0 to 2
	Strong bool   // Text is bold, and heads the items up to the next that is strong
	Sign   *BookSign
}

// BookSign is a box to tick, and lines for name, date and signature.
type BookSign struct {
	Label string // what the tick says; may be empty
}

// ErrBookEmpty says that no section of a book has words or lines to sign on.
var ErrBookEmpty = errors.New("record: the book has nothing in it")

// ErrBookValue says that a field of a book has a value that it cannot have.
// The text of the error names the field.
var ErrBookValue = errors.New("record: a value that a book cannot have")

// classLabel is the colour of a drug class on the labels of syringes.
type classLabel struct {
	colour  colour
	striped bool // with white: opponents of the class whose colour it is
}

// classLabels are the colours of ISO 26825:2020, as screens show them (the
// colours from memory). White are what belongs to no class there, and the
// inhaled agents, which are a group of our own.
var classLabels = map[term.DrugClass]classLabel{
	term.DrugClassInduction:        {colour{0xff, 0xed, 0x00}, false},
	term.DrugClassBenzodiazepine:   {colour{0xff, 0x82, 0x00}, false},
	term.DrugClassRelaxant:         {colour{0xf9, 0x42, 0x3a}, false},
	term.DrugClassRelaxantReversal: {colour{0xf9, 0x42, 0x3a}, true},
	term.DrugClassOpioid:           {colour{0x71, 0xc5, 0xe8}, false},
	term.DrugClassOpioidAntagonist: {colour{0x71, 0xc5, 0xe8}, true},
	term.DrugClassVasopressor:      {colour{0xd6, 0xbf, 0xdd}, false},
	term.DrugClassHypotensive:      {colour{0xd6, 0xbf, 0xdd}, true},
	term.DrugClassLocalAnaesthetic: {colour{0xaf, 0xa9, 0xa0}, false},
	term.DrugClassAnticholinergic:  {colour{0xa4, 0xd6, 0x5e}, false},
	term.DrugClassAntiemetic:       {colour{0xef, 0xbe, 0x7d}, false},
	term.DrugClassMiscellaneous:    {colour{0xff, 0xff, 0xff}, false},
	term.DrugClassInhaled:          {colour{0xff, 0xff, 0xff}, false},
}

// WriteBook writes a book as PDF, as many pages as it needs. Headings are
// listed in the outline of the document.
//
// No word of the sections is left out. A heading stays with what follows it,
// and is repeated where its section goes on over a page. A number stays on the
// line of its unit. A character that the fonts lack is printed as a box, and
// listed under the title, as [PDF] does it.
//
// Equal arguments give equal bytes. Errors are ErrNoDate, ErrBookEmpty,
// ErrBookValue and those of w; with the first three nothing is written.
func WriteBook(w io.Writer, b *Book, paper Paper) error {
	if paper.Made.IsZero() {
		return ErrNoDate
	}
	l, err := layBook(b, paper.Size, 1, 1)
	if err != nil {
		return err
	}
	for scale := 1.0; b.OnePage && len(l.pages) > 1 && scale >= smallestBook-0.001; scale -= 0.05 {
		small, err := layBook(b, paper.Size, scale, closeBook)
		if err != nil {
			return err
		}
		if len(small.pages) == 1 {
			l = small
		}
	}
	return l.printed(paper).Output(w)
}

// check answers what a book cannot have.
func (b *Book) check() error {
	for n := range b.Sections {
		s := &b.Sections[n]
		if _, known := classLabels[term.DrugClass(s.Band)]; s.Band != "" && !known {
			return fmt.Errorf("%w: Sections[%d].Band is %q, no class of drugs", ErrBookValue, n, s.Band)
		}
		for i := range s.Items {
			if level := s.Items[i].Level; level < 0 || level > bookDeepest {
				return fmt.Errorf("%w: Sections[%d].Items[%d].Level is %d, not 0 to %d", ErrBookValue, n, i, level, bookDeepest)
			}
		}
	}
	return nil
}

// printed is the document.
func (l *bookLayout) printed(paper Paper) *fpdf.Fpdf {
	doc := newDocument(paper, l.title)
	doc.SetLineCapStyle("butt")
	doc.SetLineJoinStyle("miter")
	g := bookPDF{formPDF{&pdfCanvas{page: &page{f: doc}, scale: 1}}}
	for n, rows := range l.pages {
		doc.AddPage()
		// A page's own stream begins with no font: force it to be set.
		doc.SetFont("sans", "B", 1)
		for _, r := range rows {
			if r.outline != "" {
				doc.Bookmark(r.outline, 0, r.y*l.scale)
			}
		}
		if l.scale == 1 {
			l.draw(g, n)
			continue
		}
		doc.TransformBegin()
		doc.TransformScale(100*l.scale, 100*l.scale, 0, 0)
		l.draw(g, n)
		doc.TransformEnd()
	}
	return doc
}

type bookPDF struct{ formPDF }

func (c bookPDF) swatch(at box, class classLabel) {
	fill := class.colour
	if class.striped {
		fill = colour{0xff, 0xff, 0xff}
	}
	wide, high := at.x1-at.x0, at.y1-at.y0
	c.f.SetFillColor(int(fill.r), int(fill.g), int(fill.b))
	c.f.Rect(at.x0, at.y0, wide, high, "F")
	if class.striped {
		// At 45 degrees, from the lower left to the upper right.
		c.f.ClipRect(at.x0, at.y0, wide, high, false)
		c.f.SetFillColor(int(class.colour.r), int(class.colour.g), int(class.colour.b))
		const across = swatchStripe * 1.4142135623730951 // along the edge of the label
		for x := at.x0 - high; x < at.x1; x += 2 * across {
			c.f.Polygon([]fpdf.PointType{{X: x, Y: at.y1}, {X: x + across, Y: at.y1},
				{X: x + across + high, Y: at.y0}, {X: x + high, Y: at.y0}}, "F")
		}
		c.f.ClipEnd()
	}
	c.rect(at, 0, rulePen, none)
}
