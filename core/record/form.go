package record

import (
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"

	"codeberg.org/go-pdf/fpdf"
)

// Blank is the empty form of the record, front and back of one sheet: what a
// provider writes on with a ball pen when the phone is dead, and somebody
// types in afterwards. All words come in the reader's language, as those of a
// Sheet do; what stands beside a box to tick is what stands on the key of the
// screen, so that typing in asks for no second thought.
//
// It is black on white: no tint and no picture, so that a poor printer and a
// copier leave nothing out.
type Blank struct {
	Title   string // above both pages
	Version string // "paper form 1"
	Page    string // "page {n} of {m}"
	Front   []Part
	Back    []Part
}

// Part is one stretch of a form, as wide as its page: a [Line], [Ticks], a
// [Table], a [Grid], a [Glossary], a [Note], or two of them [Beside] each other.
type Part interface {
	// least is the height it needs on f at a width.
	least(f *form, width float64) float64
	// step is by how much it can use more height; zero: not at all.
	step() float64
	// lay draws it into a box of at least that height.
	lay(f *form, at box)
}

// Line is a row of cells to write in.
type Line struct {
	Head  string // before the cells; may be empty
	Cells []Cell
}

// Cell is one cell of a line: to write in, or with choices to tick.
type Cell struct {
	Label   string
	Unit    string   // printed at the end of the cell
	Share   float64  // of the width that is left; not asked of choices, which take what they need
	Choices []string // to tick
}

// Ticks are questions that are answered by ticking, several to a line.
type Ticks struct {
	Questions []Question
	Columns   int // of choices, one below the other; zero: they run on as words do
}

// Question has its choices to tick.
type Question struct {
	Label   string
	Choices []string
}

// Table has rows to write in.
type Table struct {
	Title   string
	Columns []Column
	Rows    int  // at least
	Grows   bool // has more rows where there is room for them
}

// Column of a table.
type Column struct {
	Label string
	Share float64
	Keys  []string // what the numbers written in it mean, one a line
}

// Grid is the chart over its rows, two hours in columns of five minutes. The
// times over it are written by hand at every quarter of an hour.
type Grid struct {
	Time                       string // "time"
	Axis                       string // "mmHg, beats/min"
	Systolic, Diastolic, Pulse string // the marks, as the drawn record has them
	Keys                       []Key
	Rows                       []GridRow
}

// Key tells what may be written in a place. In a grid numbers are written: the
// first word is 1, and so on.
type Key struct {
	Label string
	Words []string
}

// GridRow is one row under the chart.
type GridRow struct {
	Label, Unit string
	Named       bool     // what it is of is written in, as the name of an agent
	Choices     []string // to tick, for the whole row
}

// Beside is two parts next to each other.
type Beside struct {
	Left, Right Part
	Share       float64 // of the left one, 0 to 1
}

// Glossary tells in small print which words to write, for each label in turn.
type Glossary []Key

// Note is words in a frame.
type Note struct{ Text string }

// FormPaper is the [Paper] of a form.
type FormPaper = Paper

// ErrFormFull says that the words of a form leave it no room on its two pages.
var ErrFormFull = errors.New("record: the form does not fit on its pages")

// ErrFormLetters says that a form has characters that the paper's fonts lack.
var ErrFormLetters = errors.New("record: the fonts of the paper lack characters of the form")

// Form writes an empty record form, two pages, as PDF.
//
// A form on which words would lie on each other, stand where the hand is to
// write, or leave the page, is not written: a translation that is too long
// shows here, and not at the table. Nothing is cut short.
//
// Equal arguments give equal bytes. Errors are ErrNoDate, ErrFormFull,
// ErrFormLetters and those of w.
func Form(w io.Writer, b *Blank, o FormPaper) error {
	if o.Made.IsZero() {
		return ErrNoDate
	}
	doc, err := filled(b, o)
	if err != nil {
		return err
	}
	return doc.Output(w)
}

// filled is the document with both sides of the form.
func filled(b *Blank, o FormPaper) (*fpdf.Fpdf, error) {
	width, height := o.Size.points()
	doc := newDocument(o, b.Title)
	doc.SetLineCapStyle("butt")
	doc.SetLineJoinStyle("miter")
	p := &page{f: doc}
	for n := range 2 {
		doc.AddPage()
		// A page's own stream begins with no font: force it to be set.
		doc.SetFont("sans", "B", 1)
		f := &form{ground: formPDF{&pdfCanvas{page: p, scale: 1}}, width: width, height: height}
		if err := f.side(b, n); err != nil {
			return nil, err
		}
	}
	return doc, nil
}

// side lays out one side of the sheet: 0 is the front.
func (f *form) side(b *Blank, n int) error {
	parts := [][]Part{b.Front, b.Back}[n]
	left, room := formMargin, f.width-2*formMargin
	count := strings.NewReplacer("{n}", strconv.Itoa(n+1), "{m}", "2").Replace(b.Page)
	f.put(spot{left, formTop + 3.8*mm}, start, 11, true, b.Title)
	f.put(spot{left + room, formTop + 3.8*mm}, end, 7, false, b.Version+" · "+count)
	y := formTop + 5.4*mm

	heights := make([]float64, len(parts))
	free := f.height - formBottom - y
	for i, p := range parts {
		heights[i] = p.least(f, room)
		free -= heights[i]
		if i > 0 {
			free -= formGap
		}
	}
	if free < 0 {
		return fmt.Errorf("%w: side %d wants %.0f mm more", ErrFormFull, n+1, -free/mm)
	}
	// What is left goes to those that can use it, a step to each in turn.
	for grown := true; grown; {
		grown = false
		for i, p := range parts {
			if s := p.step(); s > 0 && s <= free {
				heights[i] += s
				free -= s
				grown = true
			}
		}
	}
	gap := formGap
	if n := len(parts) - 1; n > 0 {
		gap += min(free/float64(n), formGap)
	}
	for i, p := range parts {
		p.lay(f, box{left, y, left + room, y + heights[i]})
		y += heights[i] + gap
	}
	return f.check()
}
