package record

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
)

// Lengths of a form. A cell is as high as a hand writes that is tired and has
// no table under the sheet: ruled school paper has lines 6 to 8 mm apart
// (common practice, no source).
const (
	mm = 72 / 25.4

	formMargin = 8 * mm // what a plain printer can reach
	formTop    = 7 * mm
	formBottom = 10 * mm // ink jets stop earlier at the lower edge
	formGap    = 1.1 * mm

	writing   = 6.1 * mm // height of a cell to write in
	narrowest = 5 * mm   // width of the narrowest cell to write in
	tickBox   = 3 * mm   // side of a box to tick
	tickPitch = 4.9 * mm // from one line of ticks to the next
	tightest  = 3.9 * mm // the same, of choices that stand one below the other

	labelSize  = 6.0 // pt: labels over cells
	labelLeast = 4.9 // pt: labels that would not fit otherwise
	labelLine  = 2.35 * mm
	labelRoom  = 2.4 * mm // of a cell, white beside its label
	wordSize   = 6.5      // pt: words of choices, labels of rows
	titleSize  = 7.4      // pt: titles of tables
	titleLine  = 3.7 * mm
	keySize    = 5.6 // pt: what numbers mean
	keyLine    = 2.3 * mm

	headWidth = 23 * mm // of the head of a line
)

var (
	framePen = pen{ink: bone, width: 0.8}
	rulePen  = pen{ink: bone, width: 0.4}
	hairPen  = pen{ink: bone, width: 0.2}
	dotted   = pen{ink: bone, width: 0.25, dash: 0.7}
	signPen  = pen{ink: bone, width: 1.1}
	solidPen = pen{}
)

// formGround is what a form is drawn on: the page of a PDF, or the list that
// the tests look at.
type formGround interface {
	canvas
	// strong is text in bold.
	strong(at spot, a anchor, size float64, text string)
}

type formPDF struct{ *pdfCanvas }

func (c formPDF) strong(at spot, a anchor, size float64, text string) {
	c.write(at.x-leftOf(a)*heavy().width(text, size), at.y, size, true, bone, text)
}

// leftOf is how much of its width a text stands left of its spot.
func leftOf(a anchor) float64 { return float64(a) / float64(end) }

// form is one side of the sheet while it is drawn.
type form struct {
	ground        formGround
	width, height float64

	cells   []box // to write in
	ticks   []box // to tick
	texts   []printedText
	faults  []error
	lacking []rune
}

func (f *form) legible(text string) string {
	return legible(text, func(r rune) { f.lacking = append(f.lacking, r) })
}

// printedText is where words stand.
type printedText struct {
	box
	text string
}

func (f *form) put(at spot, a anchor, size float64, bold bool, text string) {
	if text = f.legible(text); text == "" {
		return
	}
	w := f.measure(text, size, bold)
	x := at.x - leftOf(a)*w
	// Capitals of DejaVu rise 0.73 of the size; tails hang 0.2 of it.
	f.texts = append(f.texts, printedText{box{x, at.y - 0.73*size, x + w, at.y + 0.2*size}, text})
	if bold {
		f.ground.strong(at, a, size, text)
	} else {
		f.ground.text(at, a, size, run{text: text, ink: bone})
	}
}

func (f *form) measure(text string, size float64, bold bool) float64 {
	if bold {
		return heavy().width(f.legible(text), size)
	}
	return regular().width(f.legible(text), size)
}

func (f *form) frame(b box) {
	f.ground.rect(b, 0, framePen, none)
}

func (f *form) fault(format string, args ...any) {
	f.faults = append(f.faults, fmt.Errorf("%w: "+format, append([]any{ErrFormFull}, args...)...))
}

// check answers what is wrong with a side that was laid out.
func (f *form) check() error {
	if len(f.lacking) > 0 {
		slices.Sort(f.lacking)
		f.faults = append(f.faults, fmt.Errorf("%w: %U", ErrFormLetters, slices.Compact(f.lacking)))
	}
	const slack = 0.01 // pt: what touches does not overlap
	for i, t := range f.texts {
		if !(t.x0 >= formMargin-slack && t.x1 <= f.width-formMargin+slack) {
			f.fault("%q leaves the page", t.text)
		}
		inner := box{t.x0 + slack, t.y0 + slack, t.x1 - slack, t.y1 - slack}
		for _, o := range f.texts[:i] {
			if inner.meets(o.box) {
				f.fault("%q lies on %q", t.text, o.text)
			}
		}
		for _, o := range f.cells {
			if inner.meets(o) {
				f.fault("%q stands where the hand writes", t.text)
			}
		}
		for _, o := range f.ticks {
			if inner.meets(o) {
				f.fault("%q lies on a box to tick", t.text)
			}
		}
	}
	return errors.Join(f.faults...)
}

// cell keeps a place to write in.
func (f *form) cell(b box) {
	if w, h := b.x1-b.x0, b.y1-b.y0; !(w >= narrowest && h >= writing-0.01) { // NaN too
		f.fault("a cell to write in is %.1f by %.1f mm", w/mm, h/mm)
	}
	f.cells = append(f.cells, b)
}

func (f *form) tick(x, y float64) {
	b := box{x, y, x + tickBox, y + tickBox}
	f.ticks = append(f.ticks, b)
	f.ground.rect(b, 0, pen{ink: bone, width: 0.6}, none)
}

// fit breaks a label into at most so many lines of a width, smaller if it
// must be. One that does not fit at all is a fault.
func (f *form) fit(text string, bold bool, size, width float64, most int) (lines []string, fits float64) {
	face := regular()
	if bold {
		face = heavy()
	}
	text = f.legible(text)
	for ; size > labelLeast-0.01; size -= 0.1 {
		whole := true
		for _, w := range strings.Fields(text) {
			whole = whole && face.width(w, size) <= width
		}
		if lines = wrap(face, text, size, width); whole && len(lines) <= most {
			return lines, size
		}
	}
	f.fault("%q in %.0f mm", text, width/mm)
	return lines[:min(len(lines), most)], labelLeast
}

// --- Line ---

const unitGap = 0.8 * mm

// choicesWidth is what choices in a row take.
func (f *form) choicesWidth(choices []string) float64 {
	w := 0.0
	for _, c := range choices {
		w += f.choiceWidth(c) + choiceGap
	}
	return w - choiceGap
}

const (
	choiceGap   = 2 * mm
	questionGap = 4.4 * mm
)

func (f *form) choiceWidth(c string) float64 {
	return tickBox + 0.9*mm + f.measure(c, wordSize, false)
}

// choice draws a box and its word, the box from y down.
func (f *form) choice(x, y float64, word string) {
	f.tick(x, y)
	f.put(spot{x + tickBox + 0.9*mm, y + tickBox - 0.6*mm}, start, wordSize, false, word)
}

func (l Line) widths(f *form, width float64) []float64 {
	if l.Head != "" {
		width -= headWidth
	}
	shares := 0.0
	out := make([]float64, len(l.Cells))
	for i, c := range l.Cells {
		if len(c.Choices) > 0 {
			out[i] = max(f.choicesWidth(c.Choices), f.measure(c.Label, labelSize, false)) + 2.4*mm
			width -= out[i]
		} else {
			shares += c.Share
		}
	}
	for i, c := range l.Cells {
		if len(c.Choices) == 0 {
			out[i] = c.Share / shares * width
		}
	}
	return out
}

func (l Line) labelLines(f *form, width float64) int {
	most := 1
	for i, w := range l.widths(f, width) {
		lines, _ := f.fit(l.Cells[i].Label, false, labelSize, w-labelRoom, 2)
		most = max(most, len(lines))
	}
	return most
}

func (l Line) least(f *form, width float64) float64 {
	return float64(l.labelLines(f, width))*labelLine + 0.5*mm + writing
}

func (Line) step() float64 { return 0 }

func (l Line) lay(f *form, at box) {
	x := at.x0
	top := at.y0 + float64(l.labelLines(f, at.x1-at.x0))*labelLine + 0.5*mm
	if l.Head != "" {
		lines, size := f.fit(l.Head, true, wordSize, headWidth-2*mm, 3)
		y := (at.y0+at.y1)/2 - float64(len(lines))*labelLine*1.15/2
		for _, line := range lines {
			y += labelLine * 1.15
			f.put(spot{x + 1*mm, y - 0.5*mm}, start, size, true, line)
		}
		x += headWidth
	}
	for i, w := range l.widths(f, at.x1-at.x0) {
		c := &l.Cells[i]
		if x > at.x0 {
			f.ground.line(spot{x, at.y0}, spot{x, at.y1}, rulePen)
		}
		lines, size := f.fit(c.Label, false, labelSize, w-labelRoom, 2)
		for n, line := range lines {
			f.put(spot{x + 0.9*mm, at.y0 + float64(n+1)*labelLine - 0.1*mm}, start, size, false, line)
		}
		if len(c.Choices) > 0 {
			cx := x + 1.2*mm
			for _, word := range c.Choices {
				f.choice(cx, at.y1-tickBox-1.4*mm, word)
				cx += f.choiceWidth(word) + choiceGap
			}
		} else {
			inner := box{x + 0.6*mm, top, x + w - 0.6*mm, at.y1}
			if c.Unit != "" {
				f.put(spot{inner.x1, at.y1 - 1.3*mm}, end, wordSize, false, c.Unit)
				inner.x1 -= f.measure(c.Unit, wordSize, false) + unitGap
			}
			f.cell(inner)
		}
		x += w
	}
	f.frame(at)
}

// --- Ticks ---

// placed is a word of a line of ticks, or a choice.
type placed struct {
	x, line float64
	text    string
	label   bool
}

// flow sets questions one after the other. A question is not torn unless it is
// longer than a line.
func (t Ticks) flow(f *form, width float64) (all []placed, lines float64) {
	x, line := 0.0, 0.0
	for _, q := range t.Questions {
		head := f.measure(q.Label, wordSize, true) + 1.8*mm
		whole := head + f.choicesWidth(q.Choices)
		if x > 0 && x+whole > width {
			x, line = 0, line+1
		}
		all = append(all, placed{x, line, q.Label, true})
		x += head
		for _, c := range q.Choices {
			w := f.choiceWidth(c)
			if x+w > width {
				x, line = 0, line+1
			}
			if w > width {
				f.fault("%q in %.0f mm", c, width/mm)
			}
			all = append(all, placed{x, line, c, false})
			x += w + choiceGap
		}
		x += questionGap - choiceGap
	}
	return all, line + 1
}

// columns sets the choices of each question one below the other.
func (t Ticks) columns(f *form, width float64) (all []placed, lines float64) {
	one := width / float64(t.Columns)
	for _, q := range t.Questions {
		all = append(all, placed{0, lines, q.Label, true})
		lines++
		deep := (len(q.Choices) + t.Columns - 1) / t.Columns
		for i, c := range q.Choices {
			if f.choiceWidth(c)+0.5*mm > one {
				f.fault("%q in %.0f mm", c, one/mm)
			}
			all = append(all, placed{float64(i/deep) * one, lines + float64(i%deep), c, false})
		}
		lines += float64(deep)
	}
	return all, lines
}

func (t Ticks) place(f *form, width float64) ([]placed, float64) {
	if t.Columns > 0 {
		return t.columns(f, width)
	}
	return t.flow(f, width)
}

func (t Ticks) least(f *form, width float64) float64 {
	_, lines := t.place(f, width-2*mm)
	if t.Columns > 0 {
		return lines * tightest
	}
	return lines * tickPitch
}

func (Ticks) step() float64 { return 0 }

func (t Ticks) lay(f *form, at box) {
	all, lines := t.place(f, at.x1-at.x0-2*mm)
	pitch := (at.y1 - at.y0) / lines
	for _, p := range all {
		x, y := at.x0+1*mm+p.x, at.y0+p.line*pitch+(pitch-tickBox)/2
		if p.label {
			f.put(spot{x, y + tickBox - 0.6*mm}, start, wordSize, true, p.text)
		} else {
			f.choice(x, y, p.text)
		}
	}
}

// --- Table ---

func (t Table) widths(width float64) []float64 {
	sum := 0.0
	for _, c := range t.Columns {
		sum += c.Share
	}
	out := make([]float64, len(t.Columns))
	for i, c := range t.Columns {
		out[i] = c.Share / sum * width
	}
	return out
}

// head answers the height of the column heads, and draws them if it may.
func (t Table) head(f *form, at box, draw bool) float64 {
	high := 0.0
	x := at.x0
	for i, w := range t.widths(at.x1 - at.x0) {
		c := &t.Columns[i]
		lines, size := f.fit(c.Label, false, labelSize, w-labelRoom, 2)
		y := at.y0 + 0.4*mm
		for _, line := range lines {
			y += labelLine
			if draw {
				f.put(spot{x + 0.9*mm, y - 0.4*mm}, start, size, len(c.Keys) > 0, line)
			}
		}
		for _, key := range c.Keys {
			n, words, _ := strings.Cut(key, " ")
			in := f.measure("0", keySize, true) + 1*mm
			lines, size := f.fit(words, false, keySize, w-1.6*mm-in, 3)
			if draw {
				f.put(spot{x + 0.9*mm, y + keyLine - 0.4*mm}, start, keySize, true, n)
			}
			for _, line := range lines {
				y += keyLine
				if draw {
					f.put(spot{x + 0.9*mm + in, y - 0.4*mm}, start, size, false, line)
				}
			}
		}
		high = max(high, y+0.3*mm-at.y0)
		x += w
	}
	return high
}

func (t Table) title() float64 {
	if t.Title == "" {
		return 0
	}
	return titleLine
}

func (t Table) least(f *form, width float64) float64 {
	return t.title() + t.head(f, box{0, 0, width, 0}, false) + float64(t.Rows)*writing
}

func (t Table) step() float64 {
	if t.Grows {
		return writing
	}
	return 0
}

func (t Table) lay(f *form, at box) {
	if t.Title != "" {
		f.put(spot{at.x0, at.y0 + titleLine - 1*mm}, start, titleSize, true, t.Title)
		at.y0 += titleLine
	}
	first := at.y0 + t.head(f, at, true)
	rows := int(math.Floor((at.y1-first)/writing + 1e-6))
	row := (at.y1 - first) / float64(rows)
	for n := range rows {
		y := first + float64(n)*row
		f.ground.line(spot{at.x0, y}, spot{at.x1, y}, rulePen)
		x := at.x0
		for _, w := range t.widths(at.x1 - at.x0) {
			f.cell(box{x, y, x + w, y + row})
			x += w
		}
	}
	x := at.x0
	for _, w := range t.widths(at.x1 - at.x0) {
		if x > at.x0 {
			f.ground.line(spot{x, at.y0}, spot{x, at.y1}, rulePen)
		}
		x += w
	}
	f.frame(at)
}

// --- Beside ---

const besideGap = 3 * mm

func (b Beside) halves(at box) (left, right box) {
	x := at.x0 + (at.x1-at.x0-besideGap)*b.Share
	return box{at.x0, at.y0, x, at.y1}, box{x + besideGap, at.y0, at.x1, at.y1}
}

func (b Beside) least(f *form, width float64) float64 {
	l, r := b.halves(box{0, 0, width, 0})
	need, base := b.Right.least(f, r.x1-r.x0), b.Left.least(f, l.x1-l.x0)
	return max(base, need)
}

func (b Beside) step() float64 { return b.Left.step() }

func (b Beside) lay(f *form, at box) {
	l, r := b.halves(at)
	b.Left.lay(f, l)
	b.Right.lay(f, r)
}

// --- Note ---

const noteSize, noteLine = 7.0, 3.2 * mm

func (n Note) lines(f *form, width float64) []string {
	return wrap(regular(), f.legible(n.Text), noteSize, width-3*mm)
}

func (n Note) least(f *form, width float64) float64 {
	return float64(len(n.lines(f, width)))*noteLine + 1.6*mm
}

func (Note) step() float64 { return 0 }

func (n Note) lay(f *form, at box) {
	for i, line := range n.lines(f, at.x1-at.x0) {
		f.put(spot{at.x0 + 1.5*mm, at.y0 + float64(i+1)*noteLine}, start, noteSize, false, line)
	}
	f.frame(at)
}

// --- Glossary ---

// flow breaks the words into lines, none of them torn.
func (g Glossary) flow(f *form, width float64, put func(x, y float64, bold bool, text string)) float64 {
	y := keyLine
	for i, k := range g {
		if i > 0 {
			y += keyLine
		}
		put(0, y, true, k.Label)
		x := f.measure(k.Label, keySize, true) + 1.5*mm
		for n, word := range k.Words {
			if n+1 < len(k.Words) {
				word += " ·"
			}
			w := f.measure(word, keySize, false)
			if x+w > width {
				x, y = 1.5*mm, y+keyLine
			}
			put(x, y, false, word)
			x += w + 0.8*mm
		}
	}
	return y + 0.4*mm
}

func (g Glossary) least(f *form, width float64) float64 {
	return g.flow(f, width, func(float64, float64, bool, string) {})
}

func (Glossary) step() float64 { return 0 }

func (g Glossary) lay(f *form, at box) {
	g.flow(f, at.x1-at.x0, func(x, y float64, bold bool, text string) {
		f.put(spot{at.x0 + x, at.y0 + y - 0.4*mm}, start, keySize, bold, text)
	})
}

// --- Grid ---

const (
	gutterWidth = 40 * mm
	axisWidth   = 7.5 * mm // of the numbers of the scale, at the right of the gutter
	quarters    = 8        // two hours
	gridColumns = 3 * quarters
	offsetLine  = 2.7 * mm // "+5" under the times
	namedRow    = 3.1*mm + writing
	unitLeast   = 2.2 * mm // between two lines of the scale

	// The scale of the chart. Values outside are written as numbers at its
	// edge (common practice, no source).
	scaleLow, scaleHigh, scaleStep = 20, 220, 10
)

func (g Grid) rowHeight(r GridRow) float64 {
	if r.Named {
		return namedRow
	}
	return writing
}

func (g Grid) rowsHeight() float64 {
	h := 0.0
	for _, r := range g.Rows {
		h += g.rowHeight(r)
	}
	return h
}

func (g Grid) least(f *form, _ float64) float64 {
	chart := max(float64(scaleHigh-scaleLow)/scaleStep*unitLeast, g.keys(f, box{0, 0, gutterWidth - axisWidth, 0}, false)+1*mm)
	return writing + offsetLine + chart + g.rowsHeight()
}

func (Grid) step() float64 { return 1 * mm }

// keys writes what is left of the chart: the marks, and what numbers mean.
func (g Grid) keys(f *form, at box, draw bool) float64 {
	y := at.y0 + 0.6*mm
	x, right := at.x0+1*mm, at.x1
	pencil := &layout{canvas: f.ground}
	h := 1.5 * mm
	for _, e := range []struct {
		name string
		g    glyph
		dy   float64
		fill ink
		pen  pen
	}{{g.Systolic, down, h * 0.6, none, signPen}, {g.Diastolic, up, -h * 0.6, none, signPen}, {g.Pulse, dot, 0, bone, solidPen}} {
		if draw {
			pencil.glyph(e.g, spot{x + h, y + 1.5*mm + e.dy}, h, e.pen, e.fill)
			f.put(spot{x + 2*h + 1.5*mm, y + 2.3*mm}, start, wordSize, true, e.name)
		}
		y += 3.3 * mm
	}
	if draw {
		f.put(spot{x, y + 1.8*mm}, start, keySize, false, g.Axis)
	}
	y += 3 * mm
	for _, k := range g.Keys {
		y += 0.5 * mm
		if draw {
			f.put(spot{x, y + keyLine - 0.4*mm}, start, keySize, true, k.Label)
		}
		y += keyLine
		kx := x
		for i, word := range k.Words {
			n := strconv.Itoa(i + 1)
			in := f.measure(n, keySize, true) + 0.7*mm
			w := in + f.measure(word, keySize, false)
			if kx > x && kx+w > right {
				kx, y = x, y+keyLine
			}
			lines, size := []string{word}, keySize
			if kx+w > right {
				lines, size = f.fit(word, false, keySize, right-kx-in, 2)
			}
			if draw {
				f.put(spot{kx, y + keyLine - 0.4*mm}, start, keySize, true, n)
			}
			for j, line := range lines {
				if j > 0 {
					y += keyLine
				}
				if draw {
					f.put(spot{kx + in, y + keyLine - 0.4*mm}, start, size, false, line)
				}
			}
			kx += w + 1.6*mm
		}
		y += keyLine
	}
	return y - at.y0
}

func (g Grid) lay(f *form, at box) {
	left := at.x0 + gutterWidth
	column := (at.x1 - left) / gridColumns
	x := func(n int) float64 { return left + float64(n)*column }

	// Times: hour and minute over each quarter, and what to add within it.
	top := at.y0 + writing
	lines, size := f.fit(g.Time, true, wordSize, gutterWidth-2.4*mm, 2)
	for i, line := range lines {
		f.put(spot{left - 1.2*mm, top - 2*mm + float64(i+1-len(lines))*labelLine}, end, size, true, line)
	}
	for q := range quarters {
		a, b := x(3*q), x(3*q+3)
		mid := (a + b) / 2
		f.put(spot{mid, at.y0 + writing - 2*mm}, middle, 9, true, ":")
		f.cell(box{a + 0.4*mm, at.y0, mid - 0.8*mm, top})
		f.cell(box{mid + 0.8*mm, at.y0, b - 0.4*mm, top})
		for k := range 3 {
			add := "+" + strconv.Itoa(5*k)
			if k == 0 {
				add = "0"
			}
			f.put(spot{x(3*q+k) + column/2, top + 2*mm}, middle, labelLeast, false, add)
		}
	}
	f.ground.line(spot{left, top}, spot{at.x1, top}, rulePen)
	head := top + offsetLine

	// The chart takes what the rows leave.
	foot := at.y1 - g.rowsHeight()
	level := func(v float64) float64 {
		return foot - (v-scaleLow)/(scaleHigh-scaleLow)*(foot-head)
	}
	for v := scaleLow + scaleStep; v < scaleHigh; v += scaleStep {
		p := dotted
		if v%20 == 0 {
			p = hairPen
		}
		if v%100 == 0 {
			p = rulePen
		}
		y := level(float64(v))
		f.ground.line(spot{left, y}, spot{at.x1, y}, p)
	}
	for v := scaleLow; v <= scaleHigh; v += 20 {
		y := min(max(level(float64(v))+0.9*mm, head+2*mm), foot-0.4*mm)
		f.put(spot{left - 1*mm, y}, end, wordSize, v%100 == 0, strconv.Itoa(v))
	}
	g.keys(f, box{at.x0, head, left - axisWidth, foot}, true)

	y := foot
	for _, r := range g.Rows {
		below := y + g.rowHeight(r)
		f.ground.line(spot{at.x0, y}, spot{at.x1, y}, rulePen)
		g.gutter(f, r, box{at.x0, y, left, below})
		for n := range gridColumns {
			f.cell(box{x(n), y, x(n + 1), below})
		}
		y = below
	}
	f.ground.line(spot{left, head}, spot{at.x1, head}, framePen)
	f.ground.line(spot{at.x0, foot}, spot{at.x1, foot}, framePen)
	for n := 0; n < gridColumns; n++ {
		p, from := hairPen, top
		switch {
		case n%12 == 0:
			p, from = framePen, at.y0
		case n%3 == 0:
			p, from = pen{ink: bone, width: 0.55}, at.y0
		}
		f.ground.line(spot{x(n), from}, spot{x(n), at.y1}, p)
	}
	f.frame(at)
}

// gutter names a row.
func (g Grid) gutter(f *form, r GridRow, at box) {
	line := at.y0 + 2.6*mm
	if !r.Named && len(r.Choices) == 0 {
		line = (at.y0+at.y1)/2 + 0.85*mm
	}
	text := strings.TrimSpace(r.Label + " " + r.Unit)
	lines, size := f.fit(text, true, wordSize, gutterWidth-2*mm, 1)
	f.put(spot{at.x0 + 1*mm, line}, start, size, true, lines[0])
	const small, side = 5.6, 2.3 * mm
	choice := func(x, y float64, word string) float64 {
		b := box{x, y - side, x + side, y}
		f.ticks = append(f.ticks, b)
		f.ground.rect(b, 0, pen{ink: bone, width: 0.5}, none)
		f.put(spot{x + side + 0.6*mm, y - 0.4*mm}, start, small, false, word)
		return x + side + 0.6*mm + f.measure(word, small, false) + 1.6*mm
	}
	x, y := at.x0+1*mm, at.y1-0.6*mm
	if r.Named {
		x, y = x+f.measure(lines[0], size, true)+1.6*mm, at.y0+2.8*mm
		f.cell(box{at.x0 + 0.4*mm, at.y1 - writing, at.x1 - 0.4*mm, at.y1})
	}
	for _, word := range r.Choices {
		x = choice(x, y, word)
	}
	if x-1.6*mm > at.x1 {
		f.fault("%q in %.0f mm", r.Choices, gutterWidth/mm)
	}
}
