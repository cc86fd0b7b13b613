package record

import (
	"cmp"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode"
)

// Layout decides where ink goes, once, for screen and paper alike. It draws on
// a canvas, and does not know which kind.

type spot struct{ x, y float64 }

type box struct{ x0, y0, x1, y1 float64 }

func (b box) meets(c box) bool {
	return b.x0 < c.x1 && c.x0 < b.x1 && b.y0 < c.y1 && c.y0 < b.y1
}

// pen is a stroke; a zero ink draws none. dash is the length of dash and gap.
type pen struct {
	ink   ink
	width float64
	dash  float64
}

// run is a stretch of words in one manner. Runs follow each other on a line.
type run struct {
	text   string
	ink    ink
	struck bool
}

type anchor uint8

const (
	start anchor = iota
	middle
	end
)

// canvas is what layout draws on: the SVG of the screen, the page of a PDF,
// or the list that the tests look at. Lengths are in px or pt, y runs down.
type canvas interface {
	// open begins the drawing of one entry; title tells it in full, for a
	// reader of the screen who points at it.
	open(id, title string)
	close()
	line(a, b spot, p pen)
	// path is open; with a fill it is closed.
	path(p pen, fill ink, at ...spot)
	circle(c spot, r float64, p pen, fill ink)
	rect(b box, round float64, p pen, fill ink)
	// text stands on its baseline.
	text(at spot, a anchor, size float64, runs ...run)
}

// gauge is the sizes of one kind of drawing, in its own unit.
type gauge struct {
	small, value float64 // type: labels and words; numbers
	row          float64 // height of a row of numbers
	band         float64 // height of a band
	tick         float64 // height of the row of ticks of a lane
	line         float64 // height of a line of words
	chart        float64 // least height of the chart
	chevron      float64 // half the width of a chevron
	stroke       float64 // of a chevron
	gutter       float64 // widest left margin, as a part of the whole width
	stack        int     // most lines of words in a lane
	phases       int     // most lines of words for phases
	merge        bool    // all marks but phases share one lane
	legend       bool
}

var (
	screenGauge = gauge{small: 10.5, value: 12, row: 16, band: 17, tick: 9, line: 13, chart: 90,
		chevron: 4.6, stroke: 1.7, gutter: 0.2, stack: 4, phases: 3, legend: true}
	compactGauge = gauge{small: 10, value: 11, row: 13.5, band: 13, tick: 8, line: 11.5, chart: 70,
		chevron: 4.2, stroke: 1.6, gutter: 0.17, stack: 2, phases: 1, merge: true}
	paperGauge = gauge{small: 6.6, value: 7.2, row: 10, band: 11.5, tick: 6.5, line: 8.2, chart: 150,
		chevron: 3, stroke: 1.1, gutter: 0.16, stack: 14, phases: 6, legend: true}
)

// view is what of a sheet is drawn, and how large.
type view struct {
	width, height float64
	from, to      time.Time // zero: all of it
	until         bool      // what lies exactly at to belongs to the next panel
	undated       bool      // draw what has no known time, at the left edge
	quietEdges    bool      // do not count at the edges what lies outside
	now           time.Time
	focus         string
	gauge         gauge
}

type layout struct {
	canvas
	s     *Sheet
	v     view
	g     gauge
	f     *face
	zone  *time.Location
	t0    float64 // left and right edge, seconds since 1970
	t1    float64
	left  float64 // of the area that time runs across
	right float64
	y     float64 // how far down the drawing has come

	before, after int   // entries outside the window
	taken         []box // words and rings on the chart
}

const (
	shortest = 30 * 60.0 // seconds across, when marks alone give the width: a case that just began is not stretched
	inset    = 7.0       // room at both ends of time, so that a mark at the edge is whole
)

// draw draws s on c and answers the height used. It is v.height, unless the
// sheet has more rows and bands than fit: then the drawing grows, because
// leaving one out would hide it.
func draw(c canvas, s *Sheet, v view) float64 {
	l := &layout{canvas: c, s: s, v: v, g: v.gauge, f: regular(), zone: sheetZone(s)}
	if !drawable(s) {
		l.rect(box{0, 0, v.width, v.height}, 0, pen{}, ground)
		if text, ok := l.trim(clean(s.Words.Empty), l.g.value, v.width-8); ok {
			l.text(spot{v.width / 2, v.height / 2}, middle, l.g.value, run{text: text, ink: quiet})
		}
		return v.height
	}
	l.t0, l.t1 = extent(s, v)
	l.gutter()

	phases, lanes := l.lanes()
	bands := float64(len(s.Bands)) * l.g.band
	rows := float64(len(s.Numbers)) * l.g.row
	fixed := l.g.line + rows + bands + 4
	if l.g.legend {
		fixed += l.g.line
	}
	var shelved []shelf
	height := v.height
	for stack := l.g.stack; ; stack-- {
		shelved = shelved[:0]
		shelved = append(shelved, l.shelve(phases, min(stack, l.g.phases)))
		need := fixed + float64(shelved[0].rows)*l.g.line
		for _, lane := range lanes {
			sh := l.shelve(lane, stack)
			shelved = append(shelved, sh)
			need += l.g.tick + float64(sh.rows)*l.g.line
		}
		if chart := height - need; chart >= l.g.chart || stack == 0 {
			height = need + max(chart, l.g.chart)
			fixed = need
			break
		}
	}

	l.rect(box{0, 0, v.width, height}, 0, pen{}, ground)
	top := l.g.line + float64(shelved[0].rows)*l.g.line
	chart := box{l.left, top, l.right, top + height - fixed}
	l.timeAxis(box{l.left, l.g.line, l.right, chart.y1 + rows + bands + l.legendHeight()})
	l.y = chart.y1 + l.legendHeight()
	rowsAt := l.y
	l.y += rows
	l.bands()
	l.phases(phases, shelved[0], box{l.left, l.g.line, l.right, chart.y1})
	l.chart(chart)
	below := l.y
	l.legend(chart.y1)
	l.y = rowsAt
	l.numbers()
	l.y = below
	for i, lane := range lanes {
		l.lane(lane, shelved[i+1])
	}
	l.outside(chart)
	l.nowLine(l.g.line, l.y)
	return height
}

func drawable(s *Sheet) bool {
	n := len(s.Pressure) + len(s.Pulse) + len(s.Marks)
	for _, r := range s.Numbers {
		n += len(r.Points)
	}
	for _, b := range s.Bands {
		n += len(b.Spans)
	}
	return n > 0
}

// sheetZone is the zone that every time is printed in: that of the first time
// the sheet has.
func sheetZone(s *Sheet) *time.Location {
	zone := time.UTC
	moments(s, func(t time.Time) bool {
		zone = t.Location()
		return false
	})
	return zone
}

// moments calls f with every time that is drawn, the edges first, until f
// says false. Times that are not known are left out.
func moments(s *Sheet, f func(time.Time) bool) {
	ask := func(t time.Time) bool { return t.IsZero() || f(t) }
	if !ask(s.Begin) || !ask(s.End) {
		return
	}
	for i := range s.Pressure {
		if !ask(s.Pressure[i].At) {
			return
		}
	}
	for i := range s.Pulse {
		if !ask(s.Pulse[i].At) {
			return
		}
	}
	for _, r := range s.Numbers {
		for i := range r.Points {
			if !ask(r.Points[i].At) {
				return
			}
		}
	}
	for _, b := range s.Bands {
		for i := range b.Spans {
			if !ask(b.Spans[i].From) || !ask(b.Spans[i].To) {
				return
			}
		}
	}
	for i := range s.Marks {
		if !ask(s.Marks[i].At) {
			return
		}
	}
	for i := range s.Entries {
		if !ask(s.Entries[i].At) {
			return
		}
	}
}

// seconds since 1970. A float carries any year without overflow, and is exact
// to a microsecond for the times of patients.
func seconds(t time.Time) float64 { return float64(t.Unix()) + float64(t.Nanosecond())/1e9 }

// extent answers the edges of time. The sheet's own edges are widened, never
// narrowed, by what lies outside them: a late entry before the beginning is
// still drawn. Only a window that was asked for leaves something out.
func extent(s *Sheet, v view) (t0, t1 float64) {
	t0, t1 = math.Inf(1), math.Inf(-1)
	drawn := *s
	drawn.Entries = nil
	moments(&drawn, func(t time.Time) bool {
		t0, t1 = min(t0, seconds(t)), max(t1, seconds(t))
		return true
	})
	if !v.now.IsZero() {
		now := seconds(v.now)
		t0 = min(t0, now)
		t1 = max(t1, now+(now-t0)/25)
	}
	if t0 > t1 {
		t0, t1 = 0, 0 // nothing has a known time
	}
	if s.End.IsZero() {
		t1 = max(t1, t0+shortest)
	}
	if !v.from.IsZero() {
		t0 = seconds(v.from)
	}
	if !v.to.IsZero() {
		t1 = seconds(v.to)
	}
	if t1 < t0 {
		t0, t1 = t1, t0
	}
	if t1-t0 < 60 {
		t1 = t0 + 60
	}
	return t0, t1
}

func (l *layout) across(u float64) float64 {
	u = min(max(u, l.t0), l.t1)
	return l.left + inset + (u-l.t0)/(l.t1-l.t0)*(l.right-l.left-2*inset)
}

// x places a time. One that is not known stands at the left edge.
func (l *layout) x(t time.Time) float64 {
	if t.IsZero() {
		return l.left + 1
	}
	return l.across(seconds(t))
}

// seen says whether a time lies in the window, and counts it if not.
func (l *layout) seen(t time.Time) bool {
	if t.IsZero() {
		return l.v.undated
	}
	switch u := seconds(t); {
	case u < l.t0:
		l.before++
		return false
	case u > l.t1, u == l.t1 && l.v.until:
		l.after++
		return false
	}
	return true
}

func (l *layout) clock(t time.Time) string {
	if t.IsZero() {
		return "?"
	}
	return t.In(l.zone).Format("15:04")
}

// gutter sets the left margin by the longest label, within bounds.
func (l *layout) gutter() {
	widest := l.f.width("180", l.g.small)
	for _, r := range l.s.Numbers {
		widest = max(widest, l.f.width(clean(r.Label), l.g.small))
	}
	for _, b := range l.s.Bands {
		widest = max(widest, l.f.width(clean(b.Label), l.g.small))
	}
	l.left = min(widest+5, l.v.width*l.g.gutter)
	l.right = l.v.width - 2
}

// label writes the name of a row into the gutter; one too long is cut with a
// mark that it was.
func (l *layout) label(text string, baseline float64) {
	if text, ok := l.trim(clean(text), l.g.small, l.left-4); ok {
		l.text(spot{2, baseline}, start, l.g.small, run{text: text, ink: quiet})
	}
}

// trim cuts text to a width and ends it with an ellipsis if it had to. It says
// false when nothing fits.
func (l *layout) trim(text string, size, width float64) (string, bool) {
	if text == "" {
		return "", false
	}
	if l.f.width(text, size) <= width {
		return text, true
	}
	width -= l.f.width("…", size)
	cut := 0
	for i, r := range text {
		width -= l.f.width(string(r), size)
		if width < 0 {
			break
		}
		cut = i + len(string(r))
	}
	cut = min(cut, len(text))
	if cut == 0 {
		return "", false
	}
	return strings.TrimRight(text[:cut], " ") + "…", true
}

// abridge cuts words from the end. What is left never ends in a word with a
// digit: "morphine 10…" must not pass for the beginning of another dose.
func (l *layout) abridge(text string, size, width float64) (string, bool) {
	words := strings.Fields(text)
	for n := len(words) - 1; n > 0; n-- {
		if strings.ContainsFunc(words[n-1], unicode.IsDigit) {
			continue
		}
		short := strings.TrimRight(strings.Join(words[:n], " "), ",;:.") + "…"
		if n == 1 && len(words[0]) < 6 {
			break // a scrap tells nothing
		}
		if l.f.width(short, size) <= width {
			return short, true
		}
	}
	return "", false
}

// --- time ---

// steps between gridlines, in seconds.
var steps = []float64{60, 120, 300, 600, 900, 1800, 3600, 7200, 10800, 21600, 43200,
	86400, 2 * 86400, 7 * 86400, 30 * 86400, 90 * 86400, 365 * 86400,
	3650 * 86400, 36500 * 86400, 365000 * 86400}

// timeAxis draws the gridlines of time through area, and their times above.
func (l *layout) timeAxis(area box) {
	perSecond := (area.x1 - area.x0 - 2*inset) / (l.t1 - l.t0)
	form, step := "15:04", 0.0
	for _, candidate := range steps {
		if candidate == 60 && l.t1-l.t0 > 600 || candidate == 120 && l.t1-l.t0 > 1200 {
			continue // minutes are for a closer look only
		}
		form = "15:04"
		if candidate >= 86400 {
			form = "2006-01-02"
		}
		if candidate*perSecond >= l.f.width(form, l.g.small)+8 {
			step = candidate
			break
		}
	}
	if step > 0 {
		_, offset := time.Unix(int64(l.t0), 0).In(l.zone).Zone()
		off := float64(offset)
		minor := 300.0
		if minor < step && minor*perSecond >= 6 {
			for u := math.Ceil((l.t0+off)/minor)*minor - off; u <= l.t1; u += minor {
				x := l.across(u)
				l.line(spot{x, area.y0}, spot{x, area.y1}, pen{ink: grid, width: 0.35})
			}
		}
		for u := math.Ceil((l.t0+off)/step)*step - off; u <= l.t1; u += step {
			x := l.across(u)
			l.line(spot{x, area.y0}, spot{x, area.y1}, pen{ink: grid, width: 0.8})
			text := time.Unix(int64(u), 0).In(l.zone).Format(form)
			w := l.f.width(text, l.g.small)
			at := min(max(x, w/2+1), l.v.width-w/2-1)
			b := box{at - w/2 - 2, 0, at + w/2 + 2, l.g.line}
			if l.free(b) {
				l.taken = append(l.taken, b)
				l.text(spot{at, l.g.line - 3}, middle, l.g.small, run{text: text, ink: quiet})
			}
		}
	}
	l.line(spot{area.x0, area.y0}, spot{area.x1, area.y0}, pen{ink: grid, width: 0.8})
}

// outside says at the edges how many entries the window leaves out.
func (l *layout) outside(chart box) {
	if l.v.quietEdges {
		return
	}
	note := func(n int, a anchor, x float64, form func(string) string) {
		if n > 0 {
			l.text(spot{x, chart.y1 - 2}, a, l.g.small, run{text: form(strconv.Itoa(n)), ink: brass})
		}
	}
	note(l.before, start, chart.x0+1, func(n string) string { return "‹" + n })
	note(l.after, end, chart.x1-1, func(n string) string { return n + "›" })
}

func (l *layout) nowLine(y0, y1 float64) {
	if l.v.now.IsZero() {
		return
	}
	if u := seconds(l.v.now); u >= l.t0 && u <= l.t1 {
		x := l.across(u)
		l.line(spot{x, y0}, spot{x, y1}, pen{ink: vermil, width: 1.4})
	}
}

// free says whether a box of words meets none before it.
func (l *layout) free(b box) bool {
	for _, t := range l.taken {
		if b.meets(t) {
			return false
		}
	}
	return true
}

// --- the chart ---

// lowest and highest value that the axis will stretch to, mmHg and beats a
// minute. A value outside is a slip of the finger: it is drawn at the edge
// with an arrow and its number, so that it shows without flattening the rest.
// Common practice, no source.
const lowest, highest = 0, 300

// reading reads the number that a superseded value begins with.
func reading(text string) (float64, bool) {
	fields := strings.Fields(text)
	if len(fields) == 0 {
		return 0, false
	}
	v, err := strconv.ParseFloat(strings.Replace(fields[0], ",", ".", 1), 64)
	return v, err == nil
}

// scale answers the axis of the chart: multiples of 20, at least 60 to 140,
// wide enough for every value on the human scale.
func (l *layout) scale() (lo, hi float64) {
	lo, hi = 60, 140
	take := func(v float64) {
		if v >= lowest && v <= highest {
			lo = min(lo, max(lowest, math.Floor((v-3)/20)*20))
			hi = max(hi, min(highest, math.Ceil((v+3)/20)*20))
		}
	}
	point := func(p *Point) {
		take(p.Value)
		for _, w := range p.Was {
			if v, ok := reading(w); ok {
				take(v)
			}
		}
	}
	for i := range l.s.Pressure {
		p := &l.s.Pressure[i]
		if p.Systolic.Text != "" {
			point(&p.Systolic)
		}
		if p.Diastolic.Text != "" {
			point(&p.Diastolic)
		}
	}
	for i := range l.s.Pulse {
		point(&l.s.Pulse[i])
	}
	return lo, hi
}

// glyph is the sort of mark a value has on the chart.
type glyph uint8

const (
	down glyph = iota // systolic: the tip at the value
	up                // diastolic
	dot               // pulse
)

// plot is the chart with its axis.
type plot struct {
	*layout
	area   box
	lo, hi float64
	size   float64 // half the width of a mark
}

func (l *layout) chart(area box) {
	lo, hi := l.scale()
	p := &plot{layout: l, area: area, lo: lo, hi: hi, size: l.markSize()}
	step := 20.0
	perUnit := (area.y1 - area.y0) / (hi - lo)
	for step*perUnit < l.g.small+5 {
		step *= 2
	}
	for v := hi; v >= lo; v -= 20 {
		y := p.at(v)
		l.line(spot{area.x0, y}, spot{area.x1, y}, pen{ink: grid, width: 0.8})
		if math.Mod(v-lo, step) == 0 {
			l.text(spot{l.left - 3, y + l.g.small*0.35}, end, l.g.small,
				run{text: strconv.Itoa(int(v)), ink: quiet})
		}
	}
	// Words keep clear of every mark, so the marks take their places first.
	keep := func(t time.Time, v float64, dy float64) {
		x, y := l.x(t), p.at(v)
		l.taken = append(l.taken, box{x - p.size, min(y, y+dy), x + p.size, max(y, y+dy)})
	}
	for i := range l.s.Pressure {
		b := &l.s.Pressure[i]
		if b.Systolic.Text != "" {
			keep(b.At, b.Systolic.Value, -p.size*1.25)
		}
		if b.Diastolic.Text != "" {
			keep(b.At, b.Diastolic.Value, p.size*1.25)
		}
	}
	for i := range l.s.Pulse {
		keep(l.s.Pulse[i].At, l.s.Pulse[i].Value, p.size*0.5)
	}
	for _, pair := range inOrder(l.s.Pressure, func(p *Pair) time.Time { return p.At }) {
		if l.seen(pair.At) {
			p.pair(pair)
		}
	}
	for _, beat := range inOrder(l.s.Pulse, func(p *Point) time.Time { return p.At }) {
		if !l.seen(beat.At) {
			continue
		}
		l.open(beat.ID, l.clock(beat.At)+" "+l.s.Words.Pulse+" "+l.told(beat.Text, beat.Was, beat.Standing, false))
		p.value(beat, l.x(beat.At), dot, beat.Standing)
		l.focus(beat.ID, spot{l.x(beat.At), p.at(beat.Value)})
		l.close()
	}
}

// markSize makes marks that come thick smaller, so that they stay apart.
func (l *layout) markSize() float64 {
	var xs []float64
	for i := range l.s.Pressure {
		xs = append(xs, l.x(l.s.Pressure[i].At))
	}
	slices.Sort(xs)
	var gaps []float64
	for i := 1; i < len(xs); i++ {
		if gap := xs[i] - xs[i-1]; gap > 0 {
			gaps = append(gaps, gap)
		}
	}
	if len(gaps) == 0 {
		return l.g.chevron
	}
	slices.Sort(gaps)
	return min(l.g.chevron, max(l.g.chevron*0.6, gaps[len(gaps)/4]*0.42))
}

// at is how far down a value lies; at the edge if it is off the scale.
func (p *plot) at(v float64) float64 {
	if math.IsNaN(v) {
		v = p.lo
	}
	v = min(max(v, p.lo), p.hi)
	room := p.g.small * 0.6 // the axis numbers at both ends stay inside
	return p.area.y1 - room - (v-p.lo)/(p.hi-p.lo)*(p.area.y1-p.area.y0-2*room)
}

func (p *plot) pair(b *Pair) {
	title := p.clock(b.At)
	half := func(name string, v *Point) {
		if v.Text != "" {
			title += " " + name + " " + p.told(v.Text, v.Was, v.Standing, false)
		}
	}
	half(p.s.Words.Systolic, &b.Systolic)
	half(p.s.Words.Diastolic, &b.Diastolic)
	if b.Standing == Struck || b.Standing == Moved {
		title += " (" + p.s.Words.Struck + ")"
	}
	p.open(b.ID, title)
	x := p.x(b.At)
	stand := func(v *Point) Standing {
		if v.Standing != Stands {
			return v.Standing
		}
		return b.Standing
	}
	if b.Systolic.Text != "" {
		p.value(&b.Systolic, x, down, stand(&b.Systolic))
		p.focus(b.ID, spot{x, p.at(b.Systolic.Value)})
	}
	if b.Diastolic.Text != "" {
		p.value(&b.Diastolic, x, up, stand(&b.Diastolic))
		p.focus(b.ID, spot{x, p.at(b.Diastolic.Value)})
	}
	if b.Systolic.Text == "" && b.Diastolic.Text == "" {
		// Nothing left of it, but it was entered: its place stays marked.
		p.cross(spot{x, p.area.y1 - p.size}, p.size*0.8)
	}
	p.close()
}

// value draws one value and, beside it, those that it superseded.
func (p *plot) value(v *Point, x float64, g glyph, st Standing) {
	x = min(max(x, p.area.x0+p.size), p.area.x1-p.size)
	for i, w := range v.Was {
		old, ok := reading(w)
		if !ok {
			continue // it cannot be placed; the title and the list tell it
		}
		side := p.size * 1.5 * float64(i+1)
		if x+side > p.area.x1-p.size {
			side = -side
		}
		at := spot{max(x+side, p.area.x0+p.size), p.at(old)}
		at.x = min(at.x, p.area.x1-p.size)
		p.glyph(g, at, p.size*0.85, pen{ink: faint, width: p.g.stroke * 0.6}, none)
		mid := p.centre(g, at)
		p.line(spot{mid.x - p.size*1.1, mid.y}, spot{mid.x + p.size*1.1, mid.y}, pen{ink: faint, width: p.g.stroke * 0.7})
	}
	at := spot{x, p.at(v.Value)}
	colour, fill := bone, none
	if g == dot {
		colour, fill = brass, brass
	}
	crossed := st == Struck || st == Moved
	if crossed {
		colour, fill = quiet, none
	}
	p.glyph(g, at, p.size, pen{ink: colour, width: p.g.stroke}, fill)
	mid := p.centre(g, at)
	if crossed {
		p.cross(mid, p.size*1.3)
	}
	if st == Disputed {
		p.circle(mid, p.size*1.7, pen{ink: vermil, width: p.g.stroke * 0.7}, none)
		p.beside(mid, p.size*1.7, "?", vermil)
	}
	if math.IsNaN(v.Value) || v.Value < p.lo || v.Value > p.hi {
		p.offScale(v, mid)
	}
}

// offScale points over the edge and says the number.
func (p *plot) offScale(v *Point, at spot) {
	y, tip := p.area.y1-1, 3.0
	if v.Value > p.hi {
		y, tip = p.area.y0+1, -3.0
	}
	p.path(pen{}, vermil, spot{at.x - 2.5, y - tip}, spot{at.x + 2.5, y - tip}, spot{at.x, y})
	p.beside(at, p.size*1.7, clean(v.Text), vermil)
}

// glyph draws a mark with its point at the value.
func (l *layout) glyph(g glyph, at spot, size float64, p pen, fill ink) {
	h := size * 1.25
	switch g {
	case down:
		l.path(p, none, spot{at.x - size, at.y - h}, at, spot{at.x + size, at.y - h})
	case up:
		l.path(p, none, spot{at.x - size, at.y + h}, at, spot{at.x + size, at.y + h})
	case dot:
		r := size * 0.55
		if fill == none {
			p.width *= 0.8
		} else {
			p = pen{}
		}
		l.circle(at, r, p, fill)
	}
}

// centre is the middle of a mark, where a strike goes through.
func (p *plot) centre(g glyph, at spot) spot {
	switch g {
	case down:
		at.y -= p.size * 0.6
	case up:
		at.y += p.size * 0.6
	}
	return at
}

func (l *layout) cross(c spot, r float64) {
	p := pen{ink: vermil, width: l.g.stroke * 0.6}
	l.line(spot{c.x - r, c.y - r}, spot{c.x + r, c.y + r}, p)
	l.line(spot{c.x - r, c.y + r}, spot{c.x + r, c.y - r}, p)
}

// beside writes a word next to a mark on the chart where there is room.
func (p *plot) beside(at spot, r float64, text string, colour ink) {
	w := p.f.width(text, p.g.small)
	if text == "" || w > (p.area.x1-p.area.x0)/2 {
		return
	}
	h := p.g.small
	for _, b := range []box{
		{at.x + r + 1, at.y - h/2, at.x + r + 1 + w, at.y + h/2},
		{at.x - r - 1 - w, at.y - h/2, at.x - r - 1, at.y + h/2},
		{at.x - w/2, at.y - r - h, at.x + w/2, at.y - r},
		{at.x - w/2, at.y + r, at.x + w/2, at.y + r + h},
	} {
		if b.x0 >= p.area.x0 && b.x1 <= p.area.x1 && b.y0 >= p.area.y0 && b.y1 <= p.area.y1 && p.free(b) {
			p.taken = append(p.taken, b)
			p.text(spot{b.x0, b.y1 - h*0.15}, start, h, run{text: text, ink: colour})
			return
		}
	}
}

// focus rings the entry that the reader came from.
func (l *layout) focus(id string, at spot) {
	if id == "" || id != l.v.focus {
		return
	}
	r := l.g.chevron * 2
	at.x = min(max(at.x, r+1), l.v.width-r-1)
	at.y = max(at.y, r+1)
	l.circle(at, r, pen{ink: brass, width: l.g.stroke}, none)
}

// told says a value and its corrections in words, for the title of a mark.
func (l *layout) told(text string, was []string, st Standing, late bool) string {
	w := &l.s.Words
	for _, old := range was {
		text += ", " + w.Was + " " + old
	}
	switch st {
	case Struck, Moved:
		text += " (" + w.Struck + ")"
	case Disputed:
		text += " (" + w.Conflict + ")"
	}
	if late {
		text += " (" + w.Late + ")"
	}
	return text
}

// inOrder answers pointers to the elements in order of time; equal times keep
// the order in which they came.
func inOrder[T any](all []T, at func(*T) time.Time) []*T {
	out := make([]*T, len(all))
	for i := range all {
		out[i] = &all[i]
	}
	slices.SortStableFunc(out, func(a, b *T) int { return at(a).Compare(at(b)) })
	return out
}

func (l *layout) legendHeight() float64 {
	if l.g.legend {
		return l.g.line
	}
	return 0
}

// legend says under the chart what its marks are.
func (l *layout) legend(y float64) {
	if !l.g.legend {
		return
	}
	base := y + l.g.line - 3
	x := l.left + 2
	word := func(text string, room float64) bool {
		text = clean(text)
		w := l.f.width(text, l.g.small)
		if text == "" || x+room+w > l.right {
			return false
		}
		l.text(spot{x + room, base}, start, l.g.small, run{text: text, ink: quiet})
		x += room + w + l.g.small
		return true
	}
	h, mid := l.g.chevron, base-l.g.small*0.35
	w := &l.s.Words
	for _, e := range []struct {
		name string
		g    glyph
		dy   float64
		pen  pen
		fill ink
	}{
		{w.Systolic, down, h * 0.6, pen{ink: bone, width: l.g.stroke}, none},
		{w.Diastolic, up, -h * 0.6, pen{ink: bone, width: l.g.stroke}, none},
		{w.Pulse, dot, 0, pen{}, brass},
	} {
		at := spot{x + h, mid + e.dy}
		if word(e.name, 2*h+3) {
			l.glyph(e.g, at, h, e.pen, e.fill)
		}
	}
	word(w.Pressure, 0)
}

// --- rows of numbers ---

// line1 keeps what stretches of one line are taken.
type line1 [][2]float64

func (n line1) free(a, b float64) bool {
	for _, t := range n {
		if a < t[1] && t[0] < b {
			return false
		}
	}
	return true
}

func (l *layout) numbers() {
	for i := range l.s.Numbers {
		row := &l.s.Numbers[i]
		base := l.y + l.g.row - 4.5
		l.line(spot{l.left, l.y + l.g.row}, spot{l.right, l.y + l.g.row}, pen{ink: grid, width: 0.5})
		l.label(row.Label, base)
		l.row(row, base)
		l.y += l.g.row
	}
}

// row writes the numbers that fit, the most telling first, and under each
// reading a tick, so that one whose number found no room still shows.
func (l *layout) row(row *Row, base float64) {
	var taken line1
	points := inOrder(row.Points, func(p *Point) time.Time { return p.At })
	for _, p := range telling(points) {
		if !l.seen(p.At) {
			continue
		}
		x := l.x(p.At)
		l.open(p.ID, l.clock(p.At)+" "+row.Label+" "+l.told(p.Text, p.Was, p.Standing, false))
		for _, o := range l.options(p.Text, p.Was, p.Standing, false) {
			w := l.runs(o, l.g.value)
			if w == 0 || w > (l.right-l.left)*0.4 {
				continue
			}
			x0 := min(max(x-w/2, l.left), l.right-w)
			if !taken.free(x0-2.5, x0+w+2.5) {
				continue
			}
			taken = append(taken, [2]float64{x0, x0 + w})
			l.text(spot{x0, base}, start, l.g.value, o...)
			break
		}
		l.under(spot{x, base + 2.6}, p.Standing, len(p.Was) > 0)
		l.focus(p.ID, spot{x, base - l.g.value*0.35})
		l.close()
	}
}

// under is the tick of a reading, shaped by how it stands.
func (l *layout) under(at spot, st Standing, amended bool) {
	const r = 1.5
	thin := pen{ink: quiet, width: 0.8}
	switch {
	case st == Struck, st == Moved:
		l.cross(at, r)
	case st == Disputed:
		l.circle(at, r, pen{ink: vermil, width: 1}, none)
	case st == Amended, amended:
		l.circle(at, r, pen{ink: faint, width: 0.7}, none)
		l.line(spot{at.x - 2.4, at.y}, spot{at.x + 2.4, at.y}, pen{ink: faint, width: 0.7})
	default:
		l.line(spot{at.x, at.y - r}, spot{at.x, at.y + r}, thin)
	}
}

// telling orders readings by which number should have room first: the last,
// then the lowest and highest, then those corrected or in doubt, then the
// rest from the latest back.
func telling(points []*Point) []*Point {
	if len(points) == 0 {
		return nil
	}
	least, most := points[0], points[0]
	for _, p := range points {
		if p.Value < least.Value || math.IsNaN(least.Value) {
			least = p
		}
		if p.Value > most.Value || math.IsNaN(most.Value) {
			most = p
		}
	}
	out := slices.Clone(points)
	slices.Reverse(out)
	weight := func(p *Point) int {
		switch {
		case p == points[len(points)-1]:
			return 0
		case p == least, p == most:
			return 1
		case p.Standing != Stands, len(p.Was) > 0:
			return 2
		}
		return 3
	}
	slices.SortStableFunc(out, func(a, b *Point) int { return cmp.Compare(weight(a), weight(b)) })
	return out
}

// options are the ways to write a value or a mark, fullest first.
func (l *layout) options(text string, was []string, st Standing, late bool) [][]run {
	text = clean(text)
	var standing []run
	switch {
	case text == "":
	case st == Struck, st == Moved:
		standing = []run{{text: text, ink: faint, struck: true}}
	case st == Disputed:
		standing = []run{{text: text, ink: bone}, {text: "?", ink: vermil}}
	default:
		standing = []run{{text: text, ink: bone}}
	}
	var out [][]run
	if n := len(was); n > 0 {
		var full []run
		for _, w := range was {
			if w = clean(w); w != "" {
				full = append(full, run{text: w, ink: faint, struck: true}, run{text: " ", ink: faint})
			}
		}
		out = append(out, append(full, standing...))
	}
	if word := clean(l.s.Words.Late); late && word != "" {
		out = append(out, append(slices.Clone(standing), run{text: " " + word, ink: vermil}))
		if len(was) > 0 {
			out[0] = append(slices.Clone(out[0]), run{text: " " + word, ink: vermil})
		}
	}
	if len(standing) > 0 {
		out = append(out, standing)
	}
	return out
}

func (l *layout) runs(rs []run, size float64) float64 {
	w := 0.0
	for _, r := range rs {
		w += l.f.width(r.text, size)
	}
	return w
}

// --- bands ---

func (l *layout) bands() {
	for i := range l.s.Bands {
		b := &l.s.Bands[i]
		l.band(b, box{l.left, l.y, l.right, l.y + l.g.band})
		l.y += l.g.band
	}
}

func (l *layout) band(b *Band, area box) {
	base := (area.y0+area.y1)/2 + l.g.small*0.36
	floor := area.y1 - 1
	l.label(b.Label, base)
	spans := inOrder(b.Spans, func(s *Span) time.Time { return s.From })
	type stretch struct {
		*Span
		x0, x1 float64
	}
	var drawn []stretch
	for _, s := range spans {
		from, to := l.t0, l.t1
		if !l.v.now.IsZero() {
			to = max(min(to, seconds(l.v.now)), from)
		}
		if !s.From.IsZero() {
			from = seconds(s.From)
			to = max(to, from)
		}
		if !s.To.IsZero() {
			to = seconds(s.To)
		}
		if to < from {
			from, to = to, from
		}
		if from > l.t1 || from == l.t1 && l.v.until {
			l.after++
			continue
		}
		if to < l.t0 {
			l.before++
			continue
		}
		x0, x1 := l.across(from), l.across(to)
		drawn = append(drawn, stretch{s, x0, min(max(x1, x0+1.5), l.right)})
	}
	var taken line1
	for i, s := range drawn {
		level := s.Level
		if math.IsNaN(level) {
			level = 0
		}
		level = min(max(level, 0), 1)
		l.open(s.ID, l.clock(s.From)+" "+b.Label+" "+l.told(s.Text, nil, s.Standing, false))
		// Even the lowest delivery is seen; none at all is a bare line.
		h := level * (l.g.band - 2)
		if level > 0 {
			h = max(h, 2)
		}
		var words []run
		limit := l.right - 1
		for _, other := range drawn[i+1:] {
			if other.x0 > s.x0 {
				limit = min(limit, other.x0-1.5)
				break
			}
		}
		x := s.x0 + 2.5
		if s.Standing == Disputed {
			x += 6
		}
		w := 0.0
		for _, o := range l.options(s.Text, nil, s.Standing, false) {
			w = l.runs(o, l.g.small)
			if w > 0 && x+w <= limit && taken.free(x-2, x+w+2) {
				taken = append(taken, [2]float64{x, x + w})
				words = o
				break
			}
		}
		body := box{s.x0, floor - h, s.x1, floor}
		crossed := s.Standing == Struck || s.Standing == Moved
		switch {
		case crossed:
			body.y0 = floor - max(h, 4)
			l.rect(body, 0, pen{ink: faint, width: 0.7, dash: 1.5}, none)
			l.cross(spot{(body.x0 + body.x1) / 2, (body.y0 + body.y1) / 2}, min(4, (body.y1-body.y0)/2))
		case h > 0:
			l.rect(body, 0, pen{}, seaBed)
			// The edge breaks off for words that it would run through: a line
			// through words means struck out.
			from := body.x0
			if words != nil && body.y0 < base+1.5 && body.y0 > base-l.g.small {
				from = min(x+w+1.5, body.x1)
			}
			l.line(spot{from, body.y0}, spot{body.x1, body.y0}, pen{ink: sea, width: 1})
		}
		if !crossed {
			l.line(spot{s.x0, floor}, spot{s.x1, floor}, pen{ink: sea, width: 0.8})
			l.line(spot{s.x0, floor - max(h, 4)}, spot{s.x0, floor}, pen{ink: sea, width: 1})
		}
		if s.Standing == Disputed {
			l.circle(spot{min(s.x0+4, l.right-3), (area.y0 + area.y1) / 2}, 3, pen{ink: vermil, width: 1}, none)
		}
		if words != nil {
			l.text(spot{x, base}, start, l.g.small, words...)
		}
		l.focus(s.ID, spot{s.x0, (area.y0 + area.y1) / 2})
		l.close()
	}
	l.line(spot{area.x0, area.y1}, spot{area.x1, area.y1}, pen{ink: grid, width: 0.5})
}

// --- marks ---

// tag is a mark on its lane, with the ways to write its words.
type tag struct {
	*Mark
	x       float64
	options [][]run
}

// lanes answers the phases, and the other marks by lane, each in the order in
// which they get room: trouble before all, then the latest first.
func (l *layout) lanes() (phases []tag, lanes [][]tag) {
	byKind := make([][]tag, TroubleMark+1)
	widest := (l.right - l.left) * 0.45
	for _, m := range inOrder(l.s.Marks, func(m *Mark) time.Time { return m.At }) {
		if !l.seen(m.At) {
			continue
		}
		kind := min(m.Kind, TroubleMark)
		t := tag{Mark: m, x: l.x(m.At)}
		for _, o := range l.options(m.Text, m.Was, m.Standing, m.Late) {
			if m.At.IsZero() {
				o = append([]run{{text: "? ", ink: vermil}}, o...)
			}
			t.options = append(t.options, o)
		}
		text := clean(m.Text)
		if l.f.width(text, l.g.small) > widest || l.g.merge {
			if short, ok := l.abridge(text, l.g.small, widest); ok {
				t.options = append(t.options, l.options(short, nil, m.Standing, false)...)
			}
		}
		if l.g.merge && kind != PhaseMark {
			kind = StepMark
		}
		byKind[kind] = append(byKind[kind], t)
	}
	for kind, tags := range byKind {
		slices.Reverse(tags)
		slices.SortStableFunc(tags, func(a, b tag) int {
			return cmp.Compare(weigh(a.Kind), weigh(b.Kind))
		})
		if kind == int(PhaseMark) {
			phases = tags
		} else if len(tags) > 0 {
			lanes = append(lanes, tags)
		}
	}
	return phases, lanes
}

// weigh orders marks that share a lane by which should have words first.
func weigh(k MarkKind) int {
	switch {
	case k >= TroubleMark:
		return 0
	case k == DrugMark:
		return 1
	}
	return 2
}

// place is where the words of a tag stand: on which line, how, and from where
// to where. No line means that there was no room.
type place struct {
	row    int
	runs   []run
	x0, x1 float64
}

type shelf struct {
	rows   int
	places []place
}

// shelve stacks the words of a lane on at most stack lines. The line that
// leads from a tick to its words must not cross other words, and words must
// not lie on such a line. Words stand right of their tick, or left of it where
// the edge is near.
func (l *layout) shelve(tags []tag, stack int) shelf {
	out := shelf{places: make([]place, len(tags))}
	words := make([]line1, stack)
	leads := make([]line1, stack)
	const off, gap = 2.5, 3.0
	for i, t := range tags {
		out.places[i].row = -1
	search:
		for _, o := range t.options {
			w := l.runs(o, l.g.small)
			if w == 0 {
				continue
			}
			for _, x0 := range [2]float64{t.x + off, t.x - off - w} {
				x1 := x0 + w
				if x0 < l.left || x1 > l.right || x0 < t.x && l.g.merge && t.x+off+w <= l.right {
					continue
				}
				for row := range stack {
					if row > 0 && !words[row-1].free(t.x-0.8, t.x+0.8) {
						break // the way down is blocked for all lines below
					}
					if !words[row].free(x0-gap, x1+gap) || !leads[row].free(x0-1, x1+1) {
						continue
					}
					words[row] = append(words[row], [2]float64{x0, x1})
					for above := range row + 1 {
						leads[above] = append(leads[above], [2]float64{t.x - 0.4, t.x + 0.4})
					}
					out.places[i] = place{row, o, x0, x1}
					out.rows = max(out.rows, row+1)
					break search
				}
			}
		}
	}
	return out
}

// phases draws their lines through the whole chart, each from its words down.
func (l *layout) phases(tags []tag, sh shelf, area box) {
	top := area.y0 + float64(sh.rows)*l.g.line
	for i, t := range tags {
		p := sh.places[i]
		l.open(t.ID, l.clock(t.At)+" "+l.told(t.Text, t.Was, t.Standing, t.Late))
		y := top
		if p.row >= 0 {
			y = top - float64(p.row+1)*l.g.line
			l.text(spot{p.x0, y + l.g.line - 3}, start, l.g.small, p.runs...)
			y += 2
		}
		colour := bone
		if t.Standing == Struck || t.Standing == Moved {
			colour = faint
			l.cross(spot{t.x, top + 4}, 3)
		}
		l.line(spot{t.x, y}, spot{t.x, area.y1}, pen{ink: colour, width: 0.9, dash: 2.2})
		l.line(spot{t.x - 2, top}, spot{t.x + 2, top}, pen{ink: colour, width: 0.9})
		if t.Standing == Disputed {
			l.circle(spot{t.x, top + 4}, 3, pen{ink: vermil, width: 1}, none)
		}
		l.focus(t.ID, spot{t.x, top})
		l.close()
	}
}

// lane draws the ticks of a lane and their words under them.
func (l *layout) lane(tags []tag, sh shelf) {
	mid := l.y + l.g.tick/2 + 0.5
	for i, t := range tags {
		p := sh.places[i]
		l.open(t.ID, l.clock(t.At)+" "+l.told(t.Text, t.Was, t.Standing, t.Late))
		if p.row >= 0 {
			y := l.y + l.g.tick + float64(p.row)*l.g.line
			l.line(spot{t.x, mid}, spot{t.x, y + l.g.line - 3}, pen{ink: faint, width: 0.6})
			l.text(spot{p.x0, y + l.g.line - 3}, start, l.g.small, p.runs...)
		}
		l.tick(t, spot{t.x, mid})
		l.focus(t.ID, spot{t.x, mid})
		l.close()
	}
	l.y += l.g.tick + float64(sh.rows)*l.g.line
}

// tick is a mark at its time; what it is shows by its shape.
func (l *layout) tick(t tag, at spot) {
	r := l.g.tick * 0.36
	at.x = min(max(at.x, r+1), l.v.width-r-1)
	crossed := t.Standing == Struck || t.Standing == Moved
	body, outline := none, pen{ink: faint, width: 0.8}
	solid := func(i ink) {
		if !crossed {
			body, outline = i, pen{ink: ground, width: 0.5}
		}
	}
	switch min(t.Kind, TroubleMark) {
	case PhaseMark, StepMark: // a square
		solid(bone)
		l.path(outline, body, spot{at.x - r*0.8, at.y - r*0.8}, spot{at.x + r*0.8, at.y - r*0.8},
			spot{at.x + r*0.8, at.y + r*0.8}, spot{at.x - r*0.8, at.y + r*0.8}, spot{at.x - r*0.8, at.y - r*0.8})
	case DrugMark: // a diamond
		solid(brass)
		l.path(outline, body, spot{at.x, at.y - r*1.15}, spot{at.x + r, at.y}, spot{at.x, at.y + r*1.15},
			spot{at.x - r, at.y}, spot{at.x, at.y - r*1.15})
	case SignMark: // a ring
		if !crossed {
			outline = pen{ink: bone, width: 1}
		}
		l.circle(at, r*0.85, outline, ground)
	case TroubleMark: // a triangle
		solid(vermil)
		l.path(outline, body, spot{at.x, at.y - r*1.2}, spot{at.x + r*1.2, at.y + r}, spot{at.x - r*1.2, at.y + r},
			spot{at.x, at.y - r*1.2})
	}
	switch {
	case crossed:
		l.cross(at, r)
	case t.Standing == Disputed:
		l.circle(at, r*1.5, pen{ink: vermil, width: 1}, none)
	case t.Standing == Amended, len(t.Was) > 0:
		l.line(spot{at.x - r*1.5, at.y + r*1.3}, spot{at.x + r*1.5, at.y + r*1.3}, pen{ink: quiet, width: 0.8})
	}
	if t.Late {
		// A tail to the right: written down after it happened.
		l.line(spot{at.x + r, at.y}, spot{min(at.x+r*2.4, l.v.width), at.y}, pen{ink: vermil, width: 1})
	}
}
