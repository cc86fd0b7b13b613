package record

import (
	"cmp"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"
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
	edge         float64 // stroke of gridlines and of the edges of bands
	gutter       float64 // widest left margin, as a part of the whole width
	stack        int     // most lines of words in a lane
	phases       int     // most lines of words for phases
	merge        bool    // all marks but phases share one lane
	legend       bool
	course       float64 // height of an estimate over time
}

var (
	screenGauge = gauge{small: 10.5, value: 12, row: 16, band: 17, tick: 9, line: 13, chart: 90,
		chevron: 4.6, stroke: 1.7, edge: 1, gutter: 0.2, stack: 4, phases: 3, legend: true, course: 46}
	compactGauge = gauge{small: 10, value: 11, row: 13.5, band: 13, tick: 8, line: 11.5, chart: 70,
		chevron: 4.2, stroke: 1.6, edge: 1, gutter: 0.19, stack: 2, phases: 1, merge: true, course: 18}
	paperGauge = gauge{small: 6.6, value: 7.2, row: 11, band: 11.5, tick: 6.5, line: 8.2, chart: 150,
		chevron: 3, stroke: 1.1, edge: 0.6, gutter: 0.16, stack: 14, phases: 6, legend: true, course: 36}
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
	low           bool // height is that of what must not be cut off
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
	last  float64 // when the sheet ends, whatever the window
	left  float64 // of the area that time runs across
	right float64
	tall  float64 // the whole height
	y     float64 // how far down the drawing has come

	labels        []bandLabel
	opened        bool  // an open mark is drawn: the legend says what it is
	before, after int   // entries outside the window
	taken         []box // words and rings on the chart
}

const (
	squat    = 36.0      // least height of a chart with little room
	shortest = 30 * 60.0 // seconds across, when marks alone give the width: a case that just began is not stretched
	inset    = 8.5       // room at both ends of time, so that a mark at the edge is whole
)

// draw draws s on c and answers the height used. It is v.height, unless the
// sheet has more rows and bands than fit: then the drawing grows, because
// leaving one out would hide it.
func draw(c canvas, s *Sheet, v view) float64 {
	l := &layout{canvas: c, s: s, v: v, g: v.gauge, f: regular(), zone: sheetZone(s)}
	if !drawable(s) {
		height := max(v.height, 3*l.g.value)
		l.rect(box{0, 0, v.width, height}, 0, pen{}, ground)
		if text, ok := l.trim(clean(s.Words.Empty), l.g.value, v.width-8); ok {
			l.text(spot{v.width / 2, height / 2}, middle, l.g.value, run{text: text, ink: quiet})
		}
		return height
	}
	l.t0, l.t1 = extent(s, v)
	_, l.last = extent(s, view{now: v.now})
	l.gutter()

	phases, lanes := l.lanes()
	bands := float64(len(s.Bands))*l.g.band + l.courseHeight()
	rows := float64(len(s.Numbers)) * l.g.row
	fixed := l.g.line + rows + bands + 4
	fixed += l.legendHeight()
	height := v.height
	// Words may take what they need, but not the chart that they belong to.
	least := l.g.chart
	if l.g.merge {
		// On the table the keys stay where they are: the estimate takes its room
		// from the chart.
		least -= l.courseHeight()
	}
	if v.low {
		least = max(squat, v.height-l.g.line-rows-l.g.band)
	}
	chartLeast := max(least, height*0.34)
	shelved, used := l.stack(phases, lanes, height-chartLeast-fixed)
	fixed += used
	height = fixed + max(height-fixed, least)

	l.tall = height
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

// stack shelves phases and lanes line by line until room is used up: a line to
// each in turn, but two to trouble and to drugs, which come first. The first of
// the shelves answered is that of the phases. Ticks are drawn even where there
// is no room for a word.
func (l *layout) stack(phases []tag, lanes [][]tag, room float64) (shelves []shelf, used float64) {
	all := append([][]tag{phases}, lanes...)
	shelves = make([]shelf, len(all))
	order := make([]int, len(all))
	for i, tags := range all {
		shelves[i] = l.shelve(tags, 0)
		order[i] = i
	}
	used = float64(len(lanes)) * l.g.tick
	importance := func(i int) int {
		switch {
		case i == 0:
			return 2
		case l.g.merge:
			return 0
		}
		if w := weigh(all[i][0].Kind); w < 2 {
			return w
		}
		return 3
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(importance(a), importance(b)) })
	lines := make([]int, len(all))
	grow := func(i int) {
		most := l.g.stack
		if i == 0 {
			most = l.g.phases
		}
		if lines[i] == most || shelves[i].rows < lines[i] {
			return // the last line was not needed, or found no room
		}
		lines[i]++
		more := l.shelve(all[i], lines[i])
		if extra := float64(more.rows-shelves[i].rows) * l.g.line; used+extra <= room {
			shelves[i] = more
			used += extra
		}
	}
	for range l.g.stack {
		for _, i := range order {
			grow(i)
			if importance(i) < 2 {
				grow(i)
			}
		}
	}
	return shelves, used
}

func drawable(s *Sheet) bool {
	n := len(s.Pressure) + len(s.Pulse) + len(s.Marks)
	for _, r := range s.Numbers {
		n += len(r.Points)
	}
	for _, b := range s.Bands {
		n += len(b.Spans)
	}
	return n > 0 || s.Course.drawn()
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
	if c := s.Course; c != nil {
		for i := range c.Points {
			if !ask(c.Points[i].At) {
				return
			}
		}
		for i := range c.Signs {
			if !ask(c.Signs[i].At) {
				return
			}
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
// Years outside 1 to 9999 are no dates that a record can write (RFC 3339); they
// count as the nearest that is.
func seconds(t time.Time) float64 {
	const year1, year9999 = -62135596800, 253402300799
	u := min(max(t.Unix(), year1), year9999)
	return float64(u) + float64(t.Nanosecond())/1e9
}

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
	most := l.v.width * l.g.gutter
	for i := range l.s.Bands {
		label := bandLabel{text: clean(l.s.Bands[i].Label), unit: sharedUnit(l.s.Bands[i].Spans)}
		if long := label.text + ", " + label.unit; label.unit != "" && l.f.width(long, l.g.small)+5 <= most {
			label.text, label.told = long, true
		}
		l.labels = append(l.labels, label)
		widest = max(widest, l.f.width(label.text, l.g.small))
	}
	if l.s.Course.drawn() {
		widest = max(widest, l.f.width(clean(l.s.Course.Label), l.g.small))
	}
	l.left = min(widest+5, most)
	l.right = l.v.width - 2
}

// label writes the name of a row into the gutter; one too long is cut, between
// words if it can be, with a mark that it was.
func (l *layout) label(text string, baseline float64) {
	text = clean(text)
	for short := text; l.f.width(text, l.g.small) > l.left-4; {
		cut := strings.LastIndexByte(short, ' ')
		if cut <= 0 {
			break
		}
		short = strings.TrimRight(short[:cut], " ,")
		if l.f.width(short+"…", l.g.small) <= l.left-4 {
			text = short + "…"
		}
	}
	if text, ok := l.trim(text, l.g.small, l.left-4); ok {
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

// abridge cuts words from the end, half of them at most. What is left has no
// digit in it: "morphine 10…" must not pass for another dose, nor "10 mg…" for
// the dose of something else.
func (l *layout) abridge(text string, size, width float64) (string, bool) {
	words := strings.Fields(text)
	for n := len(words) - 1; n > 0; n-- {
		short := strings.TrimRight(strings.Join(words[:n], " "), ",;:.") + "…"
		if 2*utf8.RuneCountInString(short) < utf8.RuneCountInString(text) {
			break // a scrap tells nothing, or too many things
		}
		if strings.ContainsFunc(short, unicode.IsDigit) {
			continue
		}
		if l.f.width(short, size) <= width {
			return short, true
		}
	}
	return "", false
}

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
				l.line(spot{x, area.y0}, spot{x, area.y1}, pen{ink: grid, width: l.g.edge * 0.35})
			}
		}
		for u := math.Ceil((l.t0+off)/step)*step - off; u <= l.t1; u += step {
			x := l.across(u)
			l.line(spot{x, area.y0}, spot{x, area.y1}, pen{ink: grid, width: l.g.edge * 0.8})
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
	l.line(spot{area.x0, area.y0}, spot{area.x1, area.y0}, pen{ink: grid, width: l.g.edge * 0.8})
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
