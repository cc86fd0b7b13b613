package record

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode"

	"codeberg.org/go-pdf/fpdf"
)

// How a page of the record is used, in points.
const (
	margin   = 34.0
	footRoom = 42.0 // at the lower edge, for the foot
	footRise = 24.0 // from the lower edge to the words of the foot

	// A panel is one chart across the page. Five minutes are then some 22
	// points, enough for two numbers of three digits side by side. A case up
	// to longest fits legibly into one; a longer one is cut into panels.
	panel     = 2 * time.Hour
	longest   = 150 * time.Minute
	tallChart = 400.0 // of a panel, with its rows, bands and lanes
	lowChart  = 300.0 // less room than this, and it goes on the next page
	// tallestChart is for a panel below which the next one finds no room.
	tallestChart = 520.0
)

// PDF writes the record: head and facts, cautions, the drawn record in one
// panel or several, and the list of all entries with every correction under
// its entry, struck through and legible, with who, when and why. The foot of
// each page has the case, who printed it, and the page's number.
//
// A character that the fonts lack is printed as a box, and a notice lists the
// code points, so that a name in another script does not lose letters without
// a word. Arabic is shaped and set right to left; scripts that need more than
// that are not in the fonts.
//
// Equal arguments give equal bytes. Errors are ErrNoDate and those of w.
func PDF(w io.Writer, s *Sheet, o Paper) error {
	if o.Made.IsZero() {
		return ErrNoDate
	}
	var lacking []rune
	sheet := forPaper(s, func(r rune) {
		if !slices.Contains(lacking, r) {
			lacking = append(lacking, r)
		}
	})
	if len(lacking) > 0 {
		sheet.Notices = append(sheet.Notices, lackNotice(sheet.Words.Lacking, lacking))
	}

	return printed(sheet, o).Output(w)
}

func printed(s *Sheet, o Paper) *fpdf.Fpdf {
	f := newDocument(o, s.Title+" "+clean(s.Case))
	f.SetMargins(margin, margin, margin)
	f.SetLineCapStyle("round")
	f.SetLineJoinStyle("round")

	p := &page{f: f, s: s, zone: sheetZone(s)}
	width, height := o.Size.points()
	p.usable, p.bottom, p.footAt = width-2*margin, height-footRoom, height-footRise
	p.newPage()
	p.head()
	p.notices()
	p.panels()
	p.entries()
	p.feet()
	return f
}

// lackNotice lists code points, as many as a line or two hold.
func lackNotice(words string, lacking []rune) string {
	const most = 48
	var codes []string
	for i, r := range lacking {
		if i == most {
			codes = append(codes, fmt.Sprintf("… (%d)", len(lacking)))
			break
		}
		codes = append(codes, fmt.Sprintf("U+%04X", r))
	}
	text := string(missing) + " "
	if words != "" {
		text += words
	}
	return strings.TrimSpace(text) + ": " + strings.Join(codes, " ")
}

// forPaper answers a copy of s with every text legible in the built-in fonts.
func forPaper(s *Sheet, lacks func(rune)) *Sheet {
	t := func(text string) string { return legible(text, lacks) }
	all := func(texts []string) []string {
		out := make([]string, len(texts))
		for i, text := range texts {
			out[i] = t(text)
		}
		return out
	}
	point := func(p Point) Point {
		p.Text, p.Was = t(p.Text), all(p.Was)
		return p
	}
	points := func(ps []Point) []Point {
		ps = slices.Clone(ps)
		for i := range ps {
			ps[i] = point(ps[i])
		}
		return ps
	}
	c := *s
	c.Title, c.For, c.Case, c.Foot = t(s.Title), t(s.For), t(s.Case), t(s.Foot)
	c.Facts = slices.Clone(s.Facts)
	for i, f := range c.Facts {
		c.Facts[i] = Fact{t(f.Label), t(f.Value)}
	}
	c.Numbers = slices.Clone(s.Numbers)
	for i, r := range c.Numbers {
		c.Numbers[i] = Row{t(r.Label), points(r.Points)}
	}
	c.Pressure = slices.Clone(s.Pressure)
	for i := range c.Pressure {
		b := &c.Pressure[i]
		b.Systolic, b.Diastolic = point(b.Systolic), point(b.Diastolic)
	}
	c.Pulse = points(s.Pulse)
	c.Bands = slices.Clone(s.Bands)
	for i, b := range c.Bands {
		spans := slices.Clone(b.Spans)
		for k := range spans {
			spans[k].Text = t(spans[k].Text)
		}
		c.Bands[i] = Band{t(b.Label), spans}
	}
	if s.Course != nil {
		course := *s.Course
		for _, word := range []*string{&course.Label, &course.Body, &course.Shown, &course.Sign, &course.Gap} {
			*word = t(*word)
		}
		course.Points = slices.Clone(course.Points)
		for i := range course.Points {
			course.Points[i].Gap = t(course.Points[i].Gap) // the rest is for who points at it
		}
		c.Course = &course
	}
	c.Marks = slices.Clone(s.Marks)
	for i := range c.Marks {
		c.Marks[i].Text, c.Marks[i].Was, c.Marks[i].Open = t(c.Marks[i].Text), all(c.Marks[i].Was), t(c.Marks[i].Open)
	}
	c.Entries = slices.Clone(s.Entries)
	for i := range c.Entries {
		e := &c.Entries[i]
		e.Text, e.By = t(e.Text), t(e.By)
		e.History = slices.Clone(e.History)
		for k := range e.History {
			h := &e.History[k]
			h.Text, h.By, h.Reason = t(h.Text), t(h.By), t(h.Reason)
		}
	}
	c.Notices = all(s.Notices)
	w := &c.Words
	for _, word := range []*string{&w.Systolic, &w.Diastolic, &w.Pulse, &w.Pressure, &w.Time, &w.Entry, &w.By,
		&w.Late, &w.Entered, &w.Was, &w.Struck, &w.Conflict, &w.Page, &w.Empty, &w.Lacking, &w.Open} {
		*word = t(*word)
	}
	return &c
}

// page writes down a page, and on to the next.
type page struct {
	f    *fpdf.Fpdf
	s    *Sheet
	zone *time.Location

	usable         float64 // width between the margins
	bottom, footAt float64 // how far down entries and the foot may stand
	y              float64 // how far down this page is written
}

func (p *page) newPage() {
	p.f.AddPage()
	p.y = margin
}

// room begins a new page unless h points are left on this one.
func (p *page) room(h float64) {
	if p.y+h > p.bottom {
		p.newPage()
	}
}

func (p *page) ink(i ink) {
	c := onPaper.colours()[i]
	p.f.SetTextColor(int(c.r), int(c.g), int(c.b))
	p.f.SetDrawColor(int(c.r), int(c.g), int(c.b))
	p.f.SetFillColor(int(c.r), int(c.g), int(c.b))
}

// write sets one line of text on its baseline.
func (p *page) write(x, y, size float64, bold bool, i ink, text string) {
	if text == "" {
		return
	}
	style := ""
	if bold {
		style = "B"
	}
	p.f.SetFont("sans", style, size)
	p.ink(i)
	p.f.Text(x, y, visual(text))
}

func (p *page) face(bold bool) *face {
	if bold {
		return heavy()
	}
	return regular()
}

// noBreak is the space at which no line ends.
const noBreak = '\u00a0'

// breaks tells where a line may end: at white space that does not forbid it.
func breaks(r rune) bool {
	return unicode.IsSpace(r) && r != noBreak && r != '\u2007' && r != '\u202f'
}

// wrap breaks text into lines of a width, between words, and inside a word
// that is longer than a line.
func wrap(f *face, text string, size, width float64) []string {
	var lines []string
	line := ""
	for _, word := range strings.FieldsFunc(text, breaks) {
		if line != "" && f.width(line+" "+word, size) <= width {
			line += " " + word
			continue
		}
		if line != "" {
			lines = append(lines, line)
		}
		line = ""
		run := 0.0
		for _, r := range word {
			w := f.width(string(r), size)
			if run+w > width && line != "" {
				lines = append(lines, line)
				line, run = "", 0
			}
			line += string(r)
			run += w
		}
	}
	if line != "" || len(lines) == 0 {
		lines = append(lines, line)
	}
	return lines
}

// paragraph writes wrapped text and moves down.
func (p *page) paragraph(x, width, size float64, bold bool, i ink, text string) {
	for _, line := range wrap(p.face(bold), text, size, width) {
		p.room(size * 1.35)
		p.y += size * 1.35
		p.write(x, p.y-size*0.35, size, bold, i, line)
	}
}

// head is the title, for whom, the day, and the facts in three columns.
func (p *page) head() {
	day := ""
	moments(p.s, func(t time.Time) bool {
		// The offset says what the times on this record count from.
		day = t.In(p.zone).Format("2006-01-02 (UTC-07:00)")
		return false
	})
	w := regular().width(day, 9)
	p.write(margin+p.usable-w, p.y+14, 9, false, quiet, day)
	if p.s.Title != "" {
		p.paragraph(margin, p.usable-w-12, 15, true, bone, p.s.Title)
	}
	if p.s.For != "" {
		p.paragraph(margin, p.usable-w-12, 10.5, true, bone, p.s.For)
	}
	p.y += 4
	p.rule(p.y, bone, 0.8)
	p.y += 3

	const across, gap = 3, 12.0
	width := (p.usable - (across-1)*gap) / across
	for at := 0; at < len(p.s.Facts); at += across {
		row := p.s.Facts[at:min(at+across, len(p.s.Facts))]
		cells := make([][]cell, len(row))
		for i, fact := range row {
			for _, line := range wrap(regular(), fact.Label, 7, width) {
				cells[i] = append(cells[i], cell{text: line, size: 7, ink: quiet})
			}
			for _, line := range wrap(regular(), fact.Value, 8.5, width) {
				cells[i] = append(cells[i], cell{text: line, size: 8.5, ink: bone})
			}
		}
		most := 0
		for _, c := range cells {
			most = max(most, len(c))
		}
		for n := range most {
			p.room(11)
			p.y += 10.5
			for i, c := range cells {
				if n < len(c) {
					p.write(margin+float64(i)*(width+gap), p.y-2.5, c[n].size, false, c[n].ink, c[n].text)
				}
			}
		}
		p.y += 2
	}
	if len(p.s.Facts) > 0 {
		p.rule(p.y+1, grid, 0.8)
		p.y += 4
	}
}

func (p *page) rule(y float64, i ink, width float64) {
	p.ink(i)
	p.f.SetLineWidth(width)
	p.f.Line(margin, y, margin+p.usable, y)
}

// notices are the cautions, each behind a bar and a sign, before anything
// that they caution about.
func (p *page) notices() {
	for _, text := range p.s.Notices {
		for i, line := range wrap(heavy(), text, 8.5, p.usable-18) {
			p.room(12)
			p.ink(vermil)
			p.f.Rect(margin, p.y+1, 2.2, 12, "F")
			p.y += 12
			if i == 0 {
				p.write(margin+7, p.y-2, 8.5, true, vermil, "!")
			}
			p.write(margin+16, p.y-2, 8.5, true, bone, line)
		}
		p.y += 2
	}
}

// panels draws the record. A long case is cut at whole panels from its first
// five minutes on; a stretch in which nothing was recorded is left out, and
// the day and hours above each panel say so.
func (p *page) panels() {
	p.y += 5
	t0, t1 := extent(p.s, view{})
	type cut struct{ from, to float64 }
	cuts := []cut{{t0, t1}}
	if t1-t0 > longest.Seconds() {
		cuts = cuts[:0]
		first := math.Floor(t0/300) * 300
		long := panel.Seconds()
		var used []float64
		drawn := *p.s
		drawn.Entries, drawn.Begin, drawn.End = nil, time.Time{}, time.Time{}
		moments(&drawn, func(t time.Time) bool {
			used = append(used, math.Floor((seconds(t)-first)/long))
			return true
		})
		slices.Sort(used)
		for _, n := range slices.Compact(used) {
			cuts = append(cuts, cut{first + n*long, first + (n+1)*long})
		}
	}
	for i, c := range cuts {
		if p.bottom-p.y-16 < lowChart {
			p.newPage()
		}
		height := min(tallChart, p.bottom-p.y-16)
		if rest := p.bottom - p.y - 16 - tallChart; i+1 < len(cuts) && rest < lowChart+26 {
			// The next panel does not fit below: this one may spread out.
			height = min(p.bottom-p.y-16, tallestChart)
		}
		v := view{width: p.usable, height: height, gauge: paperGauge, undated: i == 0, quietEdges: true}
		if len(cuts) > 1 {
			v.from, v.to = moment(c.from), moment(c.to)
			v.until = true
			p.y += 12
			p.write(margin, p.y-2, 8.5, true, bone, fmt.Sprintf("%d/%d   %s – %s", i+1, len(cuts),
				v.from.In(p.zone).Format("2006-01-02 15:04"), v.to.In(p.zone).Format("15:04")))
		}
		p.drawn(v)
		p.y += 10
	}
}

// drawn draws one panel. One that came out taller than what is left of the
// page goes to the next, and one taller than a page is made smaller.
func (p *page) drawn(v view) {
	var ruler nothing
	height := draw(&ruler, p.s, v)
	if p.y+height > p.bottom && p.y > margin+40 {
		p.newPage()
	}
	scale := min(1, (p.bottom-p.y)/height)
	c := &pdfCanvas{page: p, dx: margin, dy: p.y, scale: scale}
	p.y += draw(c, p.s, v) * scale
}

func moment(u float64) time.Time { return time.Unix(int64(math.Floor(u)), 0) }

// cell is one line of one column.
type cell struct {
	text   string
	size   float64
	ink    ink
	bold   bool
	struck bool
}

type column struct{ x, width float64 }

// columns of the list: time, entry, entered at, by.
func (p *page) columns() [4]column {
	return [4]column{{margin, 46}, {margin + 50, 300}, {margin + 358, 72}, {margin + 436, p.usable - 436}}
}

const (
	listSize = 8.3
	listLine = 11.0
)

// entries is the list of all that was entered.
func (p *page) entries() {
	if len(p.s.Entries) == 0 {
		return
	}
	if p.y > p.bottom-80 {
		p.newPage()
	}
	p.y += 6
	p.listHead()
	columns := p.columns()
	day := ""
	for i := range p.s.Entries {
		e := &p.s.Entries[i]
		if d := p.day(e.At); d != day {
			day = d
			p.listRoom(3 * listLine)
			p.y += listLine
			p.write(margin, p.y-2.5, listSize, true, bone, d)
		}
		rows := p.entry(e)
		// An entry stays whole where a page can hold it, so that a
		// correction is not torn from what it corrects.
		whole := float64(len(rows)) * listLine
		if whole < p.bottom-margin-40 {
			p.listRoom(whole + 3)
		}
		for _, row := range rows {
			p.listRoom(listLine)
			p.y += listLine
			for k, c := range row {
				p.write(columns[k].x, p.y-2.8, listSize, c.bold, c.ink, c.text)
				if c.struck && c.text != "" {
					p.ink(c.ink)
					p.f.SetLineWidth(0.6)
					w := p.face(c.bold).width(c.text, listSize)
					p.f.Line(columns[k].x, p.y-5.6, columns[k].x+w, p.y-5.6)
				}
			}
		}
		p.y += 1.5
		p.rule(p.y, grid, 0.4)
		p.y += 1
	}
}

func (p *page) listRoom(h float64) {
	if p.y+h > p.bottom {
		p.newPage()
		p.listHead()
	}
}

func (p *page) listHead() {
	w, columns := &p.s.Words, p.columns()
	p.y += listLine
	for i, text := range []string{w.Time, w.Entry, w.Entered, w.By} {
		if lines := wrap(heavy(), text, 7.2, columns[i].width); len(lines) > 0 {
			p.write(columns[i].x, p.y-3, 7.2, true, quiet, lines[0])
		}
	}
	p.rule(p.y, bone, 0.7)
	p.y += 1
}

func (p *page) day(t time.Time) string {
	if t.IsZero() {
		return "?"
	}
	return t.In(p.zone).Format("2006-01-02")
}

func (p *page) clock(t time.Time) string {
	if t.IsZero() {
		return "?"
	}
	return t.In(p.zone).Format("15:04")
}

// entered is when something was entered, with the day if it is another.
func (p *page) entered(entered, at time.Time) string {
	switch {
	case entered.IsZero():
		return ""
	case p.day(entered) != p.day(at):
		return entered.In(p.zone).Format("2006-01-02 15:04")
	}
	return entered.In(p.zone).Format("15:04:05")
}

// entry answers the lines of an entry: itself, how it stands, and under it
// each older version, struck through, with who, when and why.
func (p *page) entry(e *Entry) [][4]cell {
	w, columns := &p.s.Words, p.columns()
	var rows [][4]cell
	block := func(texts [4]string, form [4]cell) {
		first := len(rows)
		for k, text := range texts {
			if text == "" {
				continue
			}
			for n, line := range wrap(p.face(form[k].bold), text, listSize, columns[k].width) {
				for first+n >= len(rows) {
					rows = append(rows, [4]cell{})
				}
				c := form[k]
				c.text = line
				rows[first+n][k] = c
			}
		}
	}
	plain := cell{ink: bone}
	crossed := e.Standing == Struck || e.Standing == Moved
	body := cell{ink: bone, struck: crossed}
	block([4]string{p.clock(e.At), e.Text, p.entered(e.Entered, e.At), e.By},
		[4]cell{{ink: bone, bold: true, struck: crossed}, body, plain, plain})
	var stands []string
	if e.Late {
		stands = append(stands, w.Late)
	}
	switch e.Standing {
	case Struck, Moved:
		stands = append(stands, w.Struck)
	case Disputed:
		stands = append(stands, "? "+w.Conflict)
	}
	if text := strings.Join(stands, " · "); text != "" {
		block([4]string{1: "▸ " + text}, [4]cell{1: {ink: vermil, bold: true}})
	}
	for _, h := range e.History {
		old := cell{ink: faint, struck: true}
		by := cell{ink: quiet}
		block([4]string{w.Was + " " + p.clock(h.At), h.Text, p.entered(h.Entered, h.At), h.By},
			[4]cell{{ink: faint}, old, by, by})
		if h.Reason != "" {
			block([4]string{1: "– " + h.Reason}, [4]cell{1: {ink: quiet}})
		}
	}
	return rows
}

// feet writes the foot of every page, when it is known how many there are.
func (p *page) feet() {
	total := p.f.PageCount()
	for n := 1; n <= total; n++ {
		p.f.SetPage(n)
		// A page's own stream begins with no font: force it to be set.
		p.f.SetFont("sans", "B", 1)
		p.rule(p.footAt-10, grid, 0.6)
		count := strings.NewReplacer("{n}", strconv.Itoa(n), "{m}", strconv.Itoa(total)).Replace(p.s.Words.Page)
		size := 7.2
		count = cutTo(regular(), count, size, p.usable*0.25)
		w := regular().width(count, size)
		p.write(margin+p.usable-w, p.footAt, size, false, quiet, count)
		// The case comes first and whole: a loose page must find its way back.
		name := cutTo(heavy(), p.s.Case, size, p.usable*0.3)
		p.write(margin, p.footAt, size, true, bone, name)
		x := margin + heavy().width(name, size) + 14
		foot := cutTo(regular(), p.s.Foot, size, margin+p.usable-w-14-x)
		p.write(x, p.footAt, size, false, quiet, foot)
	}
}

// cutTo shortens text to a width, with an ellipsis to say so.
func cutTo(f *face, text string, size, width float64) string {
	if f.width(text, size) <= width {
		return text
	}
	return wrap(f, text, size, width-f.width("…", size))[0] + "…"
}

// pdfCanvas draws the record on a page, dx and dy from its corner.
type pdfCanvas struct {
	*page
	dx, dy, scale float64
}

func (c *pdfCanvas) at(s spot) (x, y float64) { return c.dx + s.x*c.scale, c.dy + s.y*c.scale }

func (c *pdfCanvas) open(string, string) {}
func (c *pdfCanvas) close()              {}

func (c *pdfCanvas) stroke(p pen) {
	i := onPaper.colours()[p.ink]
	c.f.SetDrawColor(int(i.r), int(i.g), int(i.b))
	c.f.SetLineWidth(p.width * c.scale)
	if p.dash > 0 {
		c.f.SetDashPattern([]float64{p.dash, p.dash}, 0)
	}
}

func (c *pdfCanvas) unstroke(p pen) {
	if p.dash > 0 {
		c.f.SetDashPattern(nil, 0)
	}
}

// style readies colours and answers the name of the operation.
func (c *pdfCanvas) style(p pen, fill ink) string {
	how := ""
	if fill != none {
		i := onPaper.colours()[fill]
		c.f.SetFillColor(int(i.r), int(i.g), int(i.b))
		how = "F"
	}
	if p.ink != none {
		c.stroke(p)
		how += "D"
	}
	return how
}

func (c *pdfCanvas) line(a, b spot, p pen) {
	c.stroke(p)
	x0, y0 := c.at(a)
	x1, y1 := c.at(b)
	c.f.Line(x0, y0, x1, y1)
	c.unstroke(p)
}

func (c *pdfCanvas) path(p pen, fill ink, at ...spot) {
	how := c.style(p, fill)
	if how == "" {
		return
	}
	for i, s := range at {
		x, y := c.at(s)
		if i == 0 {
			c.f.MoveTo(x, y)
		} else {
			c.f.LineTo(x, y)
		}
	}
	c.f.DrawPath(how)
	c.unstroke(p)
}

func (c *pdfCanvas) circle(at spot, r float64, p pen, fill ink) {
	if how := c.style(p, fill); how != "" {
		x, y := c.at(at)
		c.f.Circle(x, y, r*c.scale, how)
		c.unstroke(p)
	}
}

func (c *pdfCanvas) rect(b box, _ float64, p pen, fill ink) {
	if how := c.style(p, fill); how != "" {
		x0, y0 := c.at(spot{b.x0, b.y0})
		x1, y1 := c.at(spot{b.x1, b.y1})
		c.f.Rect(x0, y0, x1-x0, y1-y0, how)
		c.unstroke(p)
	}
}

func (c *pdfCanvas) text(at spot, a anchor, size float64, runs ...run) {
	size *= c.scale
	x, y := c.at(at)
	width := 0.0
	for _, r := range runs {
		width += regular().width(r.text, size)
	}
	switch a {
	case middle:
		x -= width / 2
	case end:
		x -= width
	}
	for _, r := range runs {
		c.write(x, y, size, false, r.ink, r.text)
		w := regular().width(r.text, size)
		if r.struck {
			c.stroke(pen{ink: r.ink, width: 0.6})
			c.f.Line(x, y-size*0.32, x+w, y-size*0.32)
		}
		x += w
	}
}

// nothing is a canvas to measure on.
type nothing struct{}

func (nothing) open(string, string)                {}
func (nothing) close()                             {}
func (nothing) line(spot, spot, pen)               {}
func (nothing) path(pen, ink, ...spot)             {}
func (nothing) circle(spot, float64, pen, ink)     {}
func (nothing) rect(box, float64, pen, ink)        {}
func (nothing) text(spot, anchor, float64, ...run) {}
