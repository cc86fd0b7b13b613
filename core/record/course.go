package record

import (
	"cmp"
	"math"
	"slices"
	"strconv"
	"time"
)

// Course is a range that an estimate gave over time, drawn under the first bands
// of a Sheet: what stood on a screen, or was worked out between two times that
// it did. It is drawn unlike what was measured: no line through values, but a
// body with two edges and no middle, which would be taken for a value; a bar with
// feet where somebody had it before them; a line with a ring for what the signs of
// one look leave; and where there was no estimate a dashed line, with the reason.
type Course struct {
	Label  string // "depth, MAC"
	Under  int    // after how many bands it stands
	Top    float64
	Line   float64 // a value to draw a line at, with its number; 0 draws none
	Points []CoursePoint
	Signs  []CourseSign

	// Of the legend: the body, the bar, the ring, the dashed line.
	Body, Shown, Sign, Gap string
}

// CoursePoint is the range at one time; where Gap stands there was none, until
// the next point. Two ranges are joined unless Apart is set on the later one.
type CoursePoint struct {
	At        time.Time
	Low, High float64
	Gap       string // why
	Apart     bool
	Shown     bool   // somebody had it before them
	Text      string // tells it in full
	ID        string
}

// CourseSign is what one look leaves, by the signs alone.
type CourseSign struct {
	At        time.Time
	Low, High float64
	Danger    bool // crossed at its upper end
	Text      string
	ID        string
}

func (c *Course) drawn() bool { return c != nil && len(c.Points)+len(c.Signs) > 0 }

func (l *layout) courseHeight() float64 {
	if l.s.Course.drawn() {
		return l.g.course
	}
	return 0
}

// place gives how far up a value stands, and the nearest edge for one beyond.
func (c *Course) place(v float64, area box) float64 {
	top := c.Top
	if !(top > 0) || math.IsInf(top, 0) {
		top = 1
	}
	part := v / top
	if math.IsNaN(part) {
		part = 0
	}
	return area.y1 - 2 - min(max(part, 0), 1)*(area.y1-area.y0-4)
}

// course draws the range over time.
func (l *layout) course(area box) {
	c := l.s.Course
	base := (area.y0+area.y1)/2 + l.g.small*0.36
	l.label(c.Label, base)
	points := inOrder(c.Points, func(p *CoursePoint) time.Time { return p.At })
	points = slices.DeleteFunc(points, func(p *CoursePoint) bool { return p.At.IsZero() })
	var words line1
	if c.Line > 0 {
		text := strconv.FormatFloat(c.Line, 'g', 3, 64)
		w := l.f.width(text, l.g.small)
		at := c.place(c.Line, area)
		y := min(max(at+l.g.small*0.36, area.y0+l.g.small), area.y1-1)
		l.text(spot{area.x1 - 1, y}, end, l.g.small, run{text: text, ink: quiet})
		words = append(words, [2]float64{area.x1 - w - 3, area.x1})
	}
	for i, p := range points {
		if p.Gap != "" {
			l.courseGap(points, i, area, base, &words)
		}
	}
	if c.Line > 0 {
		l.courseLine(c.place(c.Line, area), area, words)
	}
	for i := 0; i < len(points); {
		if points[i].Gap != "" {
			i++
			continue
		}
		n := i + 1
		for n < len(points) && points[n].Gap == "" && !points[n].Apart {
			n++
		}
		l.courseBody(points[i:n], area)
		i = n
	}
	for _, p := range points {
		if p.Shown && p.Gap == "" && l.inside(p.At) {
			x, y0, y1 := l.x(p.At), c.place(p.High, area), c.place(p.Low, area)
			foot, thick := 2.6, pen{ink: bone, width: l.g.stroke}
			l.open(p.ID, l.clock(p.At)+" "+p.Text)
			l.line(spot{x, y0}, spot{x, y1}, thick)
			for _, y := range []float64{y0, y1} {
				l.line(spot{max(x-foot, 0), y}, spot{min(x+foot, l.v.width), y}, thick)
			}
			l.focus(p.ID, spot{x, (y0 + y1) / 2})
			l.close()
		}
	}
	for _, s := range inOrder(c.Signs, func(s *CourseSign) time.Time { return s.At }) {
		if !s.At.IsZero() && l.inside(s.At) {
			l.courseSign(s, area)
		}
	}
	l.line(spot{area.x0, area.y1}, spot{area.x1, area.y1}, pen{ink: grid, width: l.g.edge * 0.5})
}

// courseLine draws a line across that breaks off for words: through them it would
// strike them.
func (l *layout) courseLine(y float64, area box, words line1) {
	taken := slices.Clone(words)
	slices.SortFunc(taken, func(a, b [2]float64) int { return cmp.Compare(a[0], b[0]) })
	x, thin := area.x0, pen{ink: quiet, width: l.g.edge * 0.7, dash: 1}
	for _, t := range taken {
		if t[0] > x {
			l.line(spot{x, y}, spot{t[0], y}, thin)
		}
		x = max(x, t[1])
	}
	if x < area.x1 {
		l.line(spot{x, y}, spot{area.x1, y}, thin)
	}
}

// inside is seen without the count of what a window leaves out: a course has far
// more points than entries.
func (l *layout) inside(t time.Time) bool {
	u := seconds(t)
	return u >= l.t0 && (u < l.t1 || u == l.t1 && !l.v.until)
}

// courseBody draws ranges that follow each other; what goes over an edge of the
// window is cut there.
func (l *layout) courseBody(points []*CoursePoint, area box) {
	c := l.s.Course
	type edge struct{ u, low, high float64 }
	var all []edge
	for i, p := range points {
		e := edge{seconds(p.At), p.Low, p.High}
		if i > 0 {
			was := points[i-1]
			from := seconds(was.At)
			for _, cut := range []float64{l.t0, l.t1} {
				if from < cut && cut < e.u {
					part := (cut - from) / (e.u - from)
					mix := func(a, b float64) float64 { return a + part*(b-a) }
					all = append(all, edge{cut, mix(was.Low, p.Low), mix(was.High, p.High)})
				}
			}
		}
		all = append(all, e)
	}
	all = slices.DeleteFunc(all, func(e edge) bool { return e.u < l.t0 || e.u > l.t1 })
	if len(all) == 0 {
		return
	}
	first := points[0]
	last := points[len(points)-1]
	l.open(last.ID, l.clock(first.At)+" – "+l.clock(last.At)+" "+c.Label+": "+last.Text)
	defer l.close()
	if len(all) == 1 { // no width by itself
		x := l.across(all[0].u)
		l.line(spot{x, c.place(all[0].low, area)}, spot{x, c.place(all[0].high, area)}, pen{ink: sea, width: l.g.edge * 2})
		return
	}
	var upper, lower []spot
	for _, e := range all {
		x := l.across(e.u)
		upper = append(upper, spot{x, c.place(e.high, area)})
		lower = append(lower, spot{x, c.place(e.low, area)})
	}
	round := slices.Clone(lower)
	slices.Reverse(round)
	l.path(pen{}, seaBed, append(slices.Clone(upper), round...)...)
	for _, side := range [][]spot{upper, lower} {
		l.path(pen{ink: sea, width: l.g.edge}, none, side...)
	}
}

// courseGap draws that there was none, from a point on, and why where the words
// find room.
func (l *layout) courseGap(points []*CoursePoint, i int, area box, base float64, words *line1) {
	p := points[i]
	from, to := seconds(p.At), seconds(p.At)
	if i+1 < len(points) {
		to = seconds(points[i+1].At)
	}
	if from > l.t1 || to < l.t0 {
		return
	}
	x0, x1 := l.across(from), l.across(to)
	l.open(p.ID, l.clock(p.At)+" "+l.s.Course.Label+": "+p.Text)
	defer l.close()
	y := area.y1 - 3
	l.line(spot{x0, y}, spot{max(x1, x0), y}, pen{ink: bone, width: l.g.edge, dash: 2.5})
	l.line(spot{x0, y - 3}, spot{x0, y}, pen{ink: bone, width: l.g.edge})
	room := x1 - x0 - 4
	text := clean(p.Gap)
	if l.f.width(text, l.g.small) > room {
		short, ok := l.abridge(text, l.g.small, room)
		if !ok {
			return
		}
		text = short
	}
	w := l.f.width(text, l.g.small)
	if text == "" || !words.free(x0+2, x0+4+w) {
		return
	}
	*words = append(*words, [2]float64{x0 + 2, x0 + 4 + w})
	l.text(spot{x0 + 3, min(base, y-4)}, start, l.g.small, run{text: text, ink: bone})
}

// courseSign draws what one look leaves.
func (l *layout) courseSign(s *CourseSign, area box) {
	c := l.s.Course
	x, y0, y1 := l.x(s.At), c.place(s.High, area), c.place(s.Low, area)
	l.open(s.ID, l.clock(s.At)+" "+s.Text)
	defer l.close()
	thin := pen{ink: brass, width: l.g.edge * 1.2}
	l.line(spot{x, y0}, spot{x, y1}, thin)
	r := min(2.2, (area.y1-area.y0)/6)
	l.circle(spot{x, min(max((y0+y1)/2, area.y0+r), area.y1-r)}, r, thin, ground)
	if s.Danger {
		l.cross(spot{x, min(max(y0, area.y0+2.2), area.y1-2.2)}, 2.2)
	}
	l.focus(s.ID, spot{x, (y0 + y1) / 2})
}

// courseLegend are the marks of the course and their names, as many as a legend
// holds in lines of a width.
func (l *layout) courseLegend() [][]courseKey {
	c := l.s.Course
	if !l.g.legend || !c.drawn() {
		return nil
	}
	var lines [][]courseKey
	x := l.right
	for i, text := range []string{c.Body, c.Shown, c.Sign, c.Gap} {
		text = clean(text)
		if text == "" {
			continue
		}
		wide := 14 + 3 + l.f.width(text, l.g.small) + l.g.small
		if x+wide > l.right && (len(lines) == 0 || len(lines[len(lines)-1]) > 0) {
			lines = append(lines, nil)
			x = l.left + 2
		}
		if x+wide-l.g.small > l.right {
			short, ok := l.trim(text, l.g.small, l.right-x-18)
			if !ok {
				continue
			}
			text = short
		}
		at := len(lines) - 1
		lines[at] = append(lines[at], courseKey{x, i, text})
		x += wide
	}
	return slices.DeleteFunc(lines, func(line []courseKey) bool { return len(line) == 0 })
}

type courseKey struct {
	x    float64
	mark int
	text string
}

func (l *layout) drawCourseLegend(y float64) {
	for n, line := range l.courseLegend() {
		base := y + l.g.line*float64(n+1) - 3
		mid := base - l.g.small*0.35
		for _, k := range line {
			x0, x1, h := k.x, k.x+14, l.g.small*0.4
			switch k.mark {
			case 0:
				l.rect(box{x0, mid - h, x1, mid + h}, 0, pen{}, seaBed)
				for _, yy := range []float64{mid - h, mid + h} {
					l.line(spot{x0, yy}, spot{x1, yy}, pen{ink: sea, width: l.g.edge})
				}
			case 1:
				thick := pen{ink: bone, width: l.g.stroke}
				l.line(spot{x0 + 7, mid - h}, spot{x0 + 7, mid + h}, thick)
				for _, yy := range []float64{mid - h, mid + h} {
					l.line(spot{x0 + 4.4, yy}, spot{x0 + 9.6, yy}, thick)
				}
			case 2:
				thin := pen{ink: brass, width: l.g.edge * 1.2}
				l.line(spot{x0 + 7, mid - h}, spot{x0 + 7, mid + h}, thin)
				l.circle(spot{x0 + 7, mid}, 2.2, thin, ground)
			case 3:
				l.line(spot{x0, mid}, spot{x1, mid}, pen{ink: bone, width: l.g.edge, dash: 2.5})
			}
			l.text(spot{x1 + 3, base}, start, l.g.small, run{text: k.text, ink: quiet})
		}
	}
}
