package record

import (
	"math"
	"slices"
	"strconv"
	"strings"
	"time"
)

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
		l.line(spot{area.x0, y}, spot{area.x1, y}, pen{ink: grid, width: l.g.edge * 0.8})
		if math.Mod(v-lo, step) == 0 {
			l.text(spot{l.left - 3, y + l.g.small*0.35}, end, l.g.small,
				run{text: strconv.Itoa(int(v)), ink: quiet})
		}
	}
	if !l.v.quietEdges && !(l.v.from.IsZero() && l.v.to.IsZero()) {
		w := l.f.width("‹9999", l.g.small)
		l.taken = append(l.taken, box{area.x0, area.y1 - l.g.line, area.x0 + w, area.y1},
			box{area.x1 - w, area.y1 - l.g.line, area.x1, area.y1})
	}
	for i := range l.s.Marks {
		if m := &l.s.Marks[i]; m.Kind == PhaseMark {
			x := l.x(m.At)
			l.taken = append(l.taken, box{x - 1, area.y0, x + 1, area.y1})
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
	// Room for a ring at both edges.
	x = min(max(x, p.area.x0+p.size*1.7), p.area.x1-p.size*1.7)
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
		// A thread to the standing value says what it was replaced by.
		if now := (spot{x, p.at(v.Value)}); math.Abs(now.y-at.y) > 2*p.size {
			p.line(p.centre(g, at), p.centre(g, now), pen{ink: faint, width: p.g.stroke * 0.4, dash: 1.2})
		}
		p.glyph(g, at, p.size*0.85, pen{ink: faint, width: p.g.stroke * 0.6}, none)
		mid := p.centre(g, at)
		p.line(spot{mid.x - p.size*1.1, mid.y}, spot{mid.x + p.size*1.1, mid.y}, pen{ink: faint, width: p.g.stroke * 0.7})
		if p.off(old) {
			p.arrow(old, at.x, faint)
			p.beside(mid, p.size+6.5, clean(w), faint)
		}
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
	if p.off(v.Value) {
		p.arrow(v.Value, x, vermil)
		p.beside(mid, p.size+6.5, clean(v.Text), vermil)
	}
}

// off says whether a value lies off the scale, so that its mark stands at the
// edge and not at the value.
func (p *plot) off(v float64) bool { return math.IsNaN(v) || v < p.lo || v > p.hi }

// arrow points over the edge beyond which a value lies.
func (p *plot) arrow(v, x float64, colour ink) {
	y, tip := p.area.y1-1, 4.0
	if v > p.hi {
		y, tip = p.area.y0+1, -4.0
	}
	side := p.size + 3.5
	if x+side+3 > p.area.x1 {
		side = -side
	}
	x += side
	p.path(pen{}, colour, spot{x - 2.5, y - tip}, spot{x + 2.5, y - tip}, spot{x, y})
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
	places := []box{
		{at.x - w/2, at.y - r - h, at.x + w/2, at.y - r},
		{at.x - w/2, at.y + r, at.x + w/2, at.y + r + h},
	}
	for _, dy := range []float64{-1.5, 1.5, -1, 1, -0.5, 0.5, 0} {
		y := at.y + dy*h
		places = append(places, box{at.x - r - 1 - w, y - h/2, at.x - r - 1, y + h/2},
			box{at.x + r + 1, y - h/2, at.x + r + 1 + w, y + h/2})
	}
	slices.Reverse(places) // the nearest first
	for _, b := range places {
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
	at.y = min(max(at.y, r+1), l.tall-r-1)
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
	lines := 0
	if l.g.legend {
		lines += 1 + len(l.courseLegend())
	}
	if l.opened {
		lines++
	}
	return float64(lines) * l.g.line
}

// legend says under the chart what its marks are. What an open mark is stands
// on a line of its own, over the whole width, on every kind of drawing: nobody
// could guess it.
func (l *layout) legend(y float64) {
	if l.opened {
		base := y + l.legendHeight() - 3
		r := l.tickSize()
		l.diamond(spot{3 + r, base - l.g.small*0.35}, r, true)
		if text, ok := l.trim(clean(l.s.Words.Open), l.g.small, l.right-2*r-8); ok {
			l.text(spot{2*r + 8, base}, start, l.g.small, run{text: text, ink: quiet})
		}
	}
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
	l.drawCourseLegend(y + l.g.line)
}
