package record

import (
	"cmp"
	"math"
	"slices"
	"strings"
	"time"
)

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
		l.line(spot{l.left, l.y + l.g.row}, spot{l.right, l.y + l.g.row}, pen{ink: grid, width: l.g.edge * 0.5})
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

// bandLabel is the name of a band; told says that it ends in the unit of the
// band's spans, which they then need not repeat.
type bandLabel struct {
	text, unit string
	told       bool
}

// sharedUnit answers the unit that follows the number in the words of every
// span that begins with one ("60 drops/min", "20 drops/min wet"): what has a
// stroke or is a percent. None, unless two spans or more have it: one that is
// alone says it itself.
func sharedUnit(spans []Span) string {
	unit, n := "", 0
	for i := range spans {
		if _, ok := reading(spans[i].Text); !ok {
			continue
		}
		fields := strings.Fields(clean(spans[i].Text))
		if len(fields) < 2 || fields[1] != "%" && !strings.Contains(fields[1], "/") || n > 0 && fields[1] != unit {
			return ""
		}
		unit = fields[1]
		n++
	}
	if n < 2 {
		return ""
	}
	return unit
}

// spanWords are the ways to write a span, fullest first. The unit is left out
// only where the label or another span of the band says it.
func (l *layout) spanWords(s *Span, label bandLabel, bare bool) [][]run {
	var out [][]run
	if !label.told {
		out = l.options(s.Text, nil, s.Standing, false)
	}
	fields := strings.Fields(clean(s.Text))
	if _, ok := reading(s.Text); !ok || label.unit == "" || len(fields) < 2 {
		return l.options(s.Text, nil, s.Standing, false)
	}
	if label.told || bare {
		if len(fields) > 2 {
			out = append(out, l.options(fields[0]+" "+strings.Join(fields[2:], " "), nil, s.Standing, false)...)
		}
		out = append(out, l.options(fields[0], nil, s.Standing, false)...)
	}
	return out
}

func (l *layout) bands() {
	course := func(n int) {
		if h := l.courseHeight(); h > 0 && n == min(max(l.s.Course.Under, 0), len(l.s.Bands)) {
			l.course(box{l.left, l.y, l.right, l.y + h})
			l.y += h
		}
	}
	course(0)
	for i := range l.s.Bands {
		b := &l.s.Bands[i]
		l.band(b, l.labels[i], box{l.left, l.y, l.right, l.y + l.g.band})
		l.y += l.g.band
		course(i + 1)
	}
}

// inBlock is how far the words of a span stand from its left edge.
const inBlock = 2.5

// stretch is a span on its way across.
type stretch struct {
	*Span
	x0, x1 float64
}

func (l *layout) band(b *Band, label bandLabel, area box) {
	base := (area.y0+area.y1)/2 + l.g.small*0.36
	l.label(label.text, base)
	var standing, crossed []stretch
	for _, s := range inOrder(b.Spans, func(s *Span) time.Time { return s.From }) {
		switch x0, x1, ok := l.stretch(s); {
		case !ok:
		case s.Standing == Struck, s.Standing == Moved:
			crossed = append(crossed, stretch{s, x0, x1})
		default:
			standing = append(standing, stretch{s, x0, x1})
		}
	}
	// Words end before the next span begins: they name one span only.
	limit := func(i int) float64 {
		if i+1 < len(standing) {
			return standing[i+1].x0 - 1.5
		}
		return l.right - 1
	}
	bare := false
	for i, s := range standing {
		if _, ok := reading(s.Text); ok && s.Standing != Disputed {
			bare = bare || s.x0+inBlock+l.f.width(clean(s.Text), l.g.small) <= limit(i)
		}
	}
	var words, blocks line1
	for i, s := range standing {
		blocks = append(blocks, [2]float64{s.x0, s.x1})
		l.open(s.ID, l.clock(s.From)+" "+b.Label+" "+l.told(s.Text, nil, s.Standing, false))
		l.block(s, l.spanWords(s.Span, label, bare), area, base, limit(i), &words)
		l.focus(s.ID, spot{s.x0, (area.y0 + area.y1) / 2})
		l.close()
	}
	// What was struck out lies along the top, clear of what stands: a cross on
	// the words of another span would strike those.
	for _, s := range crossed {
		l.open(s.ID, l.clock(s.From)+" "+b.Label+" "+l.told(s.Text, nil, s.Standing, false))
		y := area.y0 + 2
		l.line(spot{s.x0, y}, spot{s.x1, y}, pen{ink: faint, width: 0.8, dash: 1.5})
		l.cross(spot{(s.x0 + s.x1) / 2, y}, 1.6)
		x := s.x0 + 2.5
		for _, o := range l.options(s.Text, nil, s.Standing, false) {
			w := l.runs(o, l.g.small)
			if w > 0 && x+w < l.right && words.free(x-2, x+w+2) && blocks.free(x, x+w) {
				words = append(words, [2]float64{x, x + w})
				l.text(spot{x, base}, start, l.g.small, o...)
				break
			}
		}
		l.focus(s.ID, spot{s.x0, y})
		l.close()
	}
	l.line(spot{area.x0, area.y1}, spot{area.x1, area.y1}, pen{ink: grid, width: l.g.edge * 0.5})
}

// stretch answers from where to where a span lies, and false, having counted
// it, if the window leaves it out.
func (l *layout) stretch(s *Span) (x0, x1 float64, ok bool) {
	// What still runs goes on to the end of the sheet, and not past now.
	from, to := l.t0, l.last
	if !l.v.now.IsZero() {
		to = min(to, seconds(l.v.now))
	}
	if !s.From.IsZero() {
		from = seconds(s.From)
	}
	to = max(to, from)
	if !s.To.IsZero() {
		to = seconds(s.To)
	}
	if to < from {
		from, to = to, from
	}
	switch {
	case from > l.t1, from == l.t1 && l.v.until:
		l.after++
		return 0, 0, false
	case to < l.t0, to == l.t0 && from < to:
		l.before++
		return 0, 0, false
	}
	x0, x1 = l.across(from), l.across(to)
	return x0, min(max(x1, x0+1.5), l.right), true
}

// block draws a span that stands: a body as high as its level, and its words
// where they fit.
func (l *layout) block(s stretch, options [][]run, area box, base, limit float64, taken *line1) {
	level := s.Level
	if math.IsNaN(level) {
		level = 0
	}
	level = min(max(level, 0), 1)
	// Even the lowest delivery is seen; none at all is a bare line.
	h := level * (l.g.band - 2)
	if level > 0 {
		h = max(h, 2)
	}
	x := s.x0 + inBlock
	if s.Standing == Disputed {
		x += 6
	}
	var words []run
	w := 0.0
	for _, o := range options {
		w = l.runs(o, l.g.small)
		if w > 0 && x+w <= limit && taken.free(x-2, x+w+2) {
			*taken = append(*taken, [2]float64{x, x + w})
			words = o
			break
		}
	}
	floor := area.y1 - 1
	top := floor - h
	if h > 0 {
		l.rect(box{s.x0, top, s.x1, floor}, 0, pen{}, seaBed)
		// The edge breaks off for words that it would run through: a line
		// through words means struck out.
		from := s.x0
		if words != nil && top < base+1.5 && top > base-l.g.small {
			from = min(x+w+1.5, s.x1)
		}
		l.line(spot{from, top}, spot{s.x1, top}, pen{ink: sea, width: l.g.edge})
	}
	l.line(spot{s.x0, floor}, spot{s.x1, floor}, pen{ink: sea, width: l.g.edge * 0.8})
	l.line(spot{s.x0, floor - max(h, 4)}, spot{s.x0, floor}, pen{ink: sea, width: l.g.edge})
	if s.Standing == Disputed {
		l.circle(spot{min(s.x0+4, l.right-3), (area.y0 + area.y1) / 2}, 3, pen{ink: vermil, width: 1}, none)
	}
	if words != nil {
		l.text(spot{x, base}, start, l.g.small, words...)
	}
}
