package record

import (
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"chinlift/core/term"
)

// Lengths of a book.
const (
	// Holes for filing are 6 mm wide and 12 mm from the edge (ISO 838:1974,
	// from memory), and so reach 15 mm in: on the back of a leaf from the
	// other side.
	bookSide  = 18 * mm
	bookTop   = 13 * mm
	bookFoot  = 17 * mm // from the lower edge: lines of text end above it
	footRule  = 15 * mm
	footFirst = 12 * mm   // title and page
	footLast  = 9.2 * mm  // who printed it; a printer may not reach lower (from memory)
	footSize  = 7.2       // pt
	footShare = 1.0 / 3.0 // of its width that the number of the page may take

	bookTitleSize, bookTitleLine = 16.0, 21.0
	bookNoteSize, bookNoteLine   = 9.5, 13.0 // what stands under the title
	bookHeadSize, bookHeadLine   = 11.5, 15.5
	bookHeadRule                 = 4.5 // under a heading, with its rule
	bookAsideSize                = 8.5
	bookAsideShare               = 0.4
	// Text is to be read at arm's length under a poor lamp. DejaVu at 9.2 pt
	// has the small letters of a book face at 11 (from memory).
	bookTextSize, bookTextLine   = 9.2, 12.6
	bookSmallSize, bookSmallLine = 7.6, 10.2

	sectionGap  = 15.0
	itemGap     = 4.5 // above an item; those further in stand closer
	innerGap    = 2.5
	bookIndent  = 13.0
	bookDeepest = 2 // level of indent

	// The colour of a class is a band as wide as the page: a copier may leave
	// its outline alone, and a small one would pass for a box to tick.
	swatchHeight = 5.0
	swatchStripe = 1 * mm // of a class of antagonists

	signBox    = 4.2 * mm
	signIndent = 8 * mm
	signHeight = 8.5 * mm // to write in; a signature is larger than other writing
	signLabel  = 6.8      // pt, under its line
	signLine   = 8.6
	signMost   = 2 // lines of a label
	signGap    = 5 * mm

	// What stays on one page where it is no higher than this; of what is
	// higher, so much begins on a page or nothing. Common practice, no source.
	// All that is ever tied together is less than a page.
	wholeItem  = 100.0
	wholeGroup = 180.0 // a strong item and those under it: a rule, with the lines to sign on
	keepRoom   = 120.0 // of a section with Keep
	wholeHead  = 5     // lines of a heading
	bookLevels = 3     // headings of nothing but other headings
)

// bookGround is what a book is drawn on.
type bookGround interface {
	formGround
	// swatch is a band in the colour of a class of drugs.
	swatch(at box, class classLabel)
}

// bookRow is what is never torn: a line of text, or the lines to sign on.
type bookRow struct {
	gap     float64 // white above it, but not at the head of a page
	high    float64
	tied    bool    // to the row below: no page ends between them
	asks    float64 // height that it asks for, with what follows
	need    float64 // height that must be left of a page for it to begin there
	section int     // -1: before the first
	first   bool    // of its section
	head    bool    // of the heading
	outline string
	draw    func(g bookGround, y float64) // y is its upper edge
}

// placedRow is a row on a page.
type placedRow struct {
	*bookRow
	y      float64
	repeat bool // a heading that stood on an earlier page
}

// bookLayout is a book with its rows, and the pages that they fill.
type bookLayout struct {
	title, foot, page string
	continued         string
	signs             [3]string
	left, right       float64
	top, bottom       float64
	wide, high        float64 // of the paper, over the scale
	scale             float64 // that it is drawn in
	gaps              float64 // share of the usual white between sections and items
	rows              []bookRow
	repeats           []*bookRow // by section: its heading, or nil
	pages             [][]placedRow
}

// layBook lays out a book that is drawn in a scale, with a share of the usual
// white between its parts.
func layBook(b *Book, size PaperSize, scale, gaps float64) (*bookLayout, error) {
	if err := b.check(); err != nil {
		return nil, err
	}
	var lacking []rune
	t := func(s string) string {
		return legible(s, func(r rune) {
			if !slices.Contains(lacking, r) {
				lacking = append(lacking, r)
			}
		})
	}
	l := &bookLayout{scale: scale, gaps: gaps, title: t(b.Title), foot: t(b.Foot), page: t(b.Words.Page), continued: t(b.Words.Continued),
		signs: [3]string{t(b.Words.Name), t(b.Words.Date), t(b.Words.Signature)}}
	l.wide, l.high = size.points()
	l.wide, l.high = l.wide/scale, l.high/scale
	l.left, l.right, l.top, l.bottom = bookSide, l.wide-bookSide, bookTop, l.high-bookFoot

	for n := range b.Sections {
		s := &b.Sections[n]
		read := BookSection{Heading: t(s.Heading), Aside: t(s.Aside), Band: s.Band, Keep: s.Keep, Items: slices.Clone(s.Items)}
		for i := range read.Items {
			it := &read.Items[i]
			it.Text, it.Small = t(it.Text), t(it.Small)
			if it.Sign != nil {
				it.Sign = &BookSign{t(it.Sign.Label)}
			}
		}
		l.section(n, &read)
	}
	if len(l.rows) == 0 {
		return nil, ErrBookEmpty
	}
	l.rows = append(l.head(t(b.Subtitle), t(b.Words.Lacking), lacking), l.rows...)
	l.tie()
	l.paginate()
	return l, nil
}

func (l *bookLayout) width() float64 { return l.right - l.left }

// bookText is one line of text.
type bookText struct {
	x, size float64
	bold    bool
	ink     ink
	text    string
}

// put writes words on a baseline that lies in a row which ends at y.
func (w bookText) put(g bookGround, y float64) {
	at := spot{w.x, y - 0.3*w.size}
	switch text := strings.ReplaceAll(w.text, string(noBreak), " "); {
	case text == "":
	case w.bold:
		g.strong(at, start, w.size, text)
	default:
		g.text(at, start, w.size, run{text: text, ink: w.ink})
	}
}

// lines is text, one row a line.
func (l *bookLayout) lines(x, width, size, high float64, bold bool, i ink, text string) []bookRow {
	face := regular()
	if bold {
		face = heavy()
	}
	var rows []bookRow
	for _, line := range wrap(face, bindNumbers(text), size, width) {
		if empty(line) {
			continue
		}
		w := bookText{x, size, bold, i, line}
		rows = append(rows, bookRow{high: high, draw: func(g bookGround, y float64) { w.put(g, y+high) }})
	}
	return rows
}

// bindNumbers sets spaces that do not break after a number and its unit, and
// after a sign and its number: "≥ 10" at the end of a line with "mg" at the
// head of the next asks to be misread.
func bindNumbers(text string) string {
	const most = 24 // runes, less than half a line
	var out strings.Builder
	bound, last := 0, ""
	for _, word := range strings.FieldsFunc(text, breaks) {
		n := utf8.RuneCountInString(word)
		switch {
		case last == "":
			bound = n
		case binds(last, word) && bound+1+n <= most:
			out.WriteRune(noBreak)
			bound += 1 + n
		default:
			out.WriteByte(' ')
			bound = n
		}
		out.WriteString(word)
		last = word
	}
	return out.String()
}

// binds tells whether a line must not end between two words.
func binds(a, b string) bool {
	first, _ := utf8.DecodeRuneInString(b)
	last, _ := utf8.DecodeLastRuneInString(a)
	switch {
	case strings.Trim(a, "<>=≤≥±×~≈+−-–") == "":
		return unicode.IsDigit(first)
	case !unicode.IsDigit(last) || strings.ContainsFunc(a, unicode.IsLetter):
		return false
	case unicode.IsDigit(first):
		return len(b) >= 3 && strings.Trim(b[:3], "0123456789") == "" // 1:200 000
	}
	return true // its unit, or the "to" and "×" between two numbers
}

// head is the title and what stands under it.
func (l *bookLayout) head(subtitle, lack string, lacking []rune) []bookRow {
	rows := l.lines(l.left, l.width(), bookTitleSize, bookTitleLine, true, bone, l.title)
	rows = append(rows, l.lines(l.left, l.width(), bookNoteSize, bookNoteLine, false, bone, subtitle)...)
	if len(lacking) > 0 {
		rows = append(rows, l.lines(l.left, l.width(), bookNoteSize, bookNoteLine, true, bone, lackNotice(lack, lacking))...)
	}
	for k := range rows {
		rows[k].section = -1
	}
	return rows
}

// section appends the rows of a section.
func (l *bookLayout) section(n int, s *BookSection) {
	from := len(l.rows)
	l.rows = append(l.rows, l.heading(s)...)
	heads := len(l.rows) - from
	for k := range heads {
		l.rows[from+k].head = true
		l.rows[from+k].tied = heads <= wholeHead || k >= heads-2
	}
	var groups []int // rows at which they begin
	signed := true   // what was last is lines to sign on, or there is nothing to sign
	for i := range s.Items {
		rows := l.item(&s.Items[i])
		if len(rows) == 0 {
			continue
		}
		if s.Items[i].Strong {
			groups = append(groups, len(l.rows)-from)
		}
		only := empty(s.Items[i].Text) && empty(s.Items[i].Small)
		if only && !signed {
			// Whoever signs must see what.
			l.rows[len(l.rows)-1].tied = true
		}
		signed = only
		l.rows = append(l.rows, rows...)
	}
	rows := l.rows[from:]
	for k := range rows {
		rows[k].section, rows[k].first = n, k == 0
	}
	if len(rows) > 0 {
		rows[0].gap = l.gaps * sectionGap
		rows[0].outline = strings.TrimSpace(s.Heading)
		if s.Keep {
			rows[0].asks = min(rowsHeight(rows), keepRoom)
		}
	}
	for i, at := range groups {
		to := len(rows)
		if i+1 < len(groups) {
			to = groups[i+1]
		}
		rows[at].asks = max(rows[at].asks, min(rowsHeight(rows[at:to]), wholeGroup))
	}
	l.repeats = append(l.repeats, l.repeat(s))
}

func empty(text string) bool { return strings.TrimSpace(text) == "" }

// rowsHeight is the height of rows without the gap above them.
func rowsHeight(rows []bookRow) float64 {
	high := -rows[0].gap
	for _, r := range rows {
		high += r.gap + r.high
	}
	return high
}

// heading is the heading of a section, with its aside, and a rule under it.
func (l *bookLayout) heading(s *BookSection) []bookRow {
	aside, asideWide := []string(nil), 0.0
	if !empty(s.Aside) {
		aside = wrap(regular(), s.Aside, bookAsideSize, l.width()*bookAsideShare)
		for _, line := range aside {
			asideWide = max(asideWide, regular().width(line, bookAsideSize))
		}
		asideWide += 12
	}
	var head []string
	if !empty(s.Heading) {
		head = wrap(heavy(), bindNumbers(s.Heading), bookHeadSize, l.width()-asideWide)
	}
	return l.headRows(s.Band, head, aside)
}

// headRows draws lines of a heading, and those of its aside.
func (l *bookLayout) headRows(band string, head, aside []string) []bookRow {
	count := max(len(head), len(aside))
	if band != "" {
		count = max(count, 1)
	}
	var rows []bookRow
	for k := range count {
		var all []bookText
		if k < len(head) {
			all = append(all, bookText{l.left, bookHeadSize, true, bone, head[k]})
		}
		if k < len(aside) {
			w := regular().width(aside[k], bookAsideSize)
			all = append(all, bookText{l.right - w, bookAsideSize, false, bone, aside[k]})
		}
		row := bookRow{high: bookHeadLine}
		last := k == count-1
		if last {
			row.high += bookHeadRule
			if band != "" {
				row.high += swatchHeight
			}
		}
		row.draw = func(g bookGround, y float64) {
			for _, w := range all {
				// A small aside stands on the line of a large heading.
				w.put(g, y+bookHeadLine-0.3*(bookHeadSize-w.size))
			}
			if below := y + bookHeadLine + 1; last && band != "" {
				g.swatch(box{l.left, below, l.right, below + swatchHeight}, classLabels[term.DrugClass(band)])
			} else if last {
				g.line(spot{l.left, below}, spot{l.right, below}, rulePen)
			}
		}
		rows = append(rows, row)
	}
	return rows
}

// repeat is the heading of a section that goes on over a page, in one line.
func (l *bookLayout) repeat(s *BookSection) *bookRow {
	if empty(s.Heading) {
		return nil
	}
	goesOn := cutTo(heavy(), l.continued, bookHeadSize, l.width()/3)
	if goesOn != "" {
		goesOn = " " + goesOn
	}
	text := cutTo(heavy(), s.Heading, bookHeadSize, l.width()-heavy().width(goesOn, bookHeadSize))
	if strings.HasPrefix(goesOn, " …") {
		text = strings.TrimSuffix(text, "…")
	}
	return &l.headRows(s.Band, []string{text + goesOn}, nil)[0]
}

// item is the rows of an item.
func (l *bookLayout) item(it *BookItem) []bookRow {
	x := l.left + float64(it.Level)*bookIndent
	rows := l.lines(x, l.right-x, bookTextSize, bookTextLine, it.Strong, bone, it.Text)
	// Dark enough that a copier, which knows black and white, keeps it whole.
	rows = append(rows, l.lines(x, l.right-x, bookSmallSize, bookSmallLine, false, quiet, it.Small)...)
	if len(rows) > 0 && it.Level > 0 {
		below := rows[0].draw
		rows[0].draw = func(g bookGround, y float64) {
			dot := spot{x - 0.5*bookIndent, y + bookTextLine - 0.66*bookTextSize}
			if it.Level == 1 {
				g.circle(dot, 1.3, solidPen, bone)
			} else {
				g.line(spot{dot.x - 2, dot.y}, spot{dot.x + 2, dot.y}, pen{ink: bone, width: 0.8})
			}
			below(g, y)
		}
	}
	texts := len(rows)
	if it.Sign != nil {
		rows = append(rows, l.sign(x, it.Sign)...)
		if texts > 0 {
			rows[texts].gap = l.gaps * innerGap
		}
	}
	if len(rows) == 0 {
		return nil
	}
	rows[0].gap = l.gaps * itemGap
	if it.Level > 0 {
		rows[0].gap = l.gaps * innerGap
	}
	high := rowsHeight(rows)
	// At the end of a long item two lines stay together, and with the lines
	// to sign on those that say what is signed.
	last := len(rows) - 2
	if it.Sign != nil {
		last--
	}
	for k := range len(rows) - 1 {
		rows[k].tied = high <= wholeItem || k == 0 || k >= last
	}
	return rows
}

// sign is the rows of a box to tick, with what the tick says, and of the lines
// for name, date and signature.
func (l *bookLayout) sign(x float64, s *BookSign) []bookRow {
	inner := x + signIndent
	rows := l.lines(inner, l.right-inner, bookTextSize, bookTextLine, false, bone, s.Label)

	shares := [3]float64{0.38, 0.22, 0.40} // of name, date, signature
	room := l.right - inner - 2*signGap
	var cells [3][]string
	most := 0
	for i, label := range l.signs {
		lines := wrap(regular(), label, signLabel, room*shares[i])
		if len(lines) > signMost {
			rest := strings.Join(lines[signMost-1:], " ")
			lines = append(lines[:signMost-1], cutTo(regular(), rest, signLabel, room*shares[i]))
		}
		cells[i] = lines
		most = max(most, len(lines))
	}
	rows = append(rows, bookRow{high: signHeight + float64(most)*signLine + 5, draw: func(g bookGround, y float64) {
		from := inner
		for i, share := range shares {
			g.line(spot{from, y + signHeight}, spot{from + room*share, y + signHeight}, pen{ink: bone, width: 0.6})
			for k, line := range cells[i] {
				bookText{from, signLabel, false, quiet, line}.put(g, y+signHeight+float64(k+1)*signLine)
			}
			from += room*share + signGap
		}
	}})
	// The box stands beside the first line of what it says.
	below := rows[0].draw
	up := bookTextLine - (0.3+0.365)*bookTextSize - signBox/2 // half of a capital is 0.365 of its size
	if len(rows) == 1 {
		up = signHeight - signBox
	}
	rows[0].draw = func(g bookGround, y float64) {
		g.rect(box{x + 0.5*mm, y + up, x + 0.5*mm + signBox, y + up + signBox}, 0, framePen, none)
		below(g, y)
	}
	return rows
}

// tie works out how much room each row needs: its own height, and that of the
// rows below that it is tied to, or what it asks for.
func (l *bookLayout) tie() {
	for k := len(l.rows) - 1; k >= 0; k-- {
		r := &l.rows[k]
		r.need = r.high
		if r.tied && k+1 < len(l.rows) && l.rows[k+1].section == r.section {
			r.need += l.rows[k+1].gap + l.rows[k+1].need
		}
		r.need = max(r.need, r.asks)
	}
	// The title, and a heading without items, stay with the section below: as
	// many headings as a book has levels. A longer list of them, and one with
	// nothing below, may break anywhere.
	next, above := 0.0, bookLevels
	for to := len(l.rows); to > 0; {
		from := to - 1
		for from > 0 && l.rows[from-1].section == l.rows[from].section {
			from--
		}
		rows := l.rows[from:to]
		switch last := len(rows) - 1; {
		case rows[last].section >= 0 && !rows[last].tied:
			above = 0
		case above < bookLevels:
			for k := last; k == last || k >= 0 && rows[k].tied; k-- {
				rows[k].need += next
			}
			above++
		default:
			next, to = 0, from
			continue
		}
		next, to = rows[0].gap+rows[0].need, from
	}
}

// paginate sets the rows on pages.
func (l *bookLayout) paginate() {
	const slack = 1e-6 // sums in another order
	l.pages = [][]placedRow{nil}
	y, fresh := l.top, true
	place := func(r *bookRow, repeat bool) {
		last := len(l.pages) - 1
		l.pages[last] = append(l.pages[last], placedRow{r, y, repeat})
		y += r.high
		fresh = false
	}
	for k := range l.rows {
		r := &l.rows[k]
		switch {
		case fresh:
		case y+r.gap+r.need <= l.bottom+slack:
			y += r.gap
		default:
			l.pages = append(l.pages, nil)
			y = l.top
			if r.section >= 0 && !r.first && !r.head && l.repeats[r.section] != nil {
				place(l.repeats[r.section], true)
			}
		}
		place(r, false)
	}
}

// draw draws one page, 0 the first.
func (l *bookLayout) draw(g bookGround, n int) {
	for _, r := range l.pages[n] {
		r.draw(g, r.y)
	}
	l.drawFoot(g, n)
}

// drawFoot writes what the book is, who printed it, and which page this is: a
// leaf that came loose must find its way back.
func (l *bookLayout) drawFoot(g bookGround, n int) {
	put := func(x, y float64, bold bool, i ink, text string) {
		bookText{x, footSize, bold, i, text}.put(g, y+0.3*footSize)
	}
	g.line(spot{l.left, l.high - footRule}, spot{l.right, l.high - footRule}, pen{ink: bone, width: 0.4})
	count := strings.NewReplacer("{n}", strconv.Itoa(n+1), "{m}", strconv.Itoa(len(l.pages))).Replace(l.page)
	count = cutTo(regular(), count, footSize, l.width()*footShare)
	wide := regular().width(count, footSize)
	put(l.left, l.high-footFirst, true, bone, cutTo(heavy(), l.title, footSize, l.width()-wide-14))
	put(l.right-wide, l.high-footFirst, false, bone, count)
	put(l.left, l.high-footLast, false, quiet, cutTo(regular(), l.foot, footSize, l.width()))
}
