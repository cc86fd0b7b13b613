package record

import (
	"cmp"
	"math"
	"slices"
	"strings"
	"time"
)

// tag is a mark on its lane, with the ways to write its words.
type tag struct {
	*Mark
	x       float64
	options [][]run
}

// hollow says whether the mark is drawn open. One that is crossed has no body
// anyhow.
func (t *tag) hollow() bool { return t.Open != "" && t.Standing != Struck && t.Standing != Moved }

// title tells a mark in full.
func (l *layout) title(t *tag) string {
	text := l.clock(t.At) + " " + l.told(t.Text, t.Was, t.Standing, t.Late)
	if t.Open != "" {
		text += " (" + t.Open + ")"
	}
	return text
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
		l.opened = l.opened || t.hollow()
		for _, o := range l.options(m.Text, m.Was, m.Standing, m.Late) {
			if m.At.IsZero() {
				o = append([]run{{text: "? ", ink: vermil}}, o...)
			}
			t.options = append(t.options, o)
		}
		text := clean(m.Text)
		if kind != TroubleMark { // its name alone would not say whether it began or was over
			for _, short := range leading(text) {
				t.options = append(t.options, l.options(short, nil, m.Standing, false)...)
			}
		}
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

// leading cuts a list of signs or steps ("still · pupils small · jaw slack") to
// its first items, fewest last. Each item is whole, so that a number in it
// cannot pass for another; the dots say that more was entered.
func leading(text string) []string {
	const between = " · "
	items := strings.Split(text, between)
	var out []string
	for n := len(items) - 1; n > 0; n-- {
		out = append(out, strings.Join(items[:n], between)+" …")
	}
	return out
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
// not lie on such a line. Words stand right of their tick, and left of it only
// where the edge is near: words that could belong to the tick before them are
// worse than none. Long words left of a tick bar the way down from every tick
// that they pass, so they get what room the others left.
func (l *layout) shelve(tags []tag, stack int) shelf {
	out := shelf{places: make([]place, len(tags))}
	for i := range out.places {
		out.places[i].row = -1
	}
	words := make([]line1, stack)
	leads := make([]line1, stack)
	const off, gap = 2.5, 5.0
	put := func(t tag, longest float64) (place, bool) {
		for _, o := range t.options {
			w := l.runs(o, l.g.small)
			if w == 0 {
				continue
			}
			x0 := t.x + off
			if x0+w > l.right {
				if x0 = t.x - off - w; x0 < l.left || w > longest {
					continue
				}
			}
			x1 := x0 + w
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
				return place{row, o, x0, x1}, true
			}
		}
		return place{}, false
	}
	across := l.right - l.left
	for pass, longest := range [3]float64{across * 0.25, across * 0.45, across} {
		for i, t := range tags {
			if out.places[i].row >= 0 || pass == 2 && weigh(t.Kind) > 1 {
				continue // only trouble and drugs may take a whole line
			}
			if p, ok := put(t, longest); ok {
				out.places[i] = p
				out.rows = max(out.rows, p.row+1)
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
		l.open(t.ID, l.title(&t))
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
	at := l.fan(tags)
	// The most important comes last, to lie on top.
	for i, t := range slices.Backward(tags) {
		p := sh.places[i]
		l.open(t.ID, l.title(&t))
		if p.row >= 0 {
			y := l.y + l.g.tick + float64(p.row)*l.g.line
			l.path(pen{ink: faint, width: 0.6}, none,
				spot{at[i], mid}, spot{t.x, l.y + l.g.tick}, spot{t.x, y + l.g.line - 3})
			l.text(spot{p.x0, y + l.g.line - 3}, start, l.g.small, p.runs...)
		}
		l.tick(t, spot{at[i], mid})
		l.focus(t.ID, spot{at[i], mid})
		l.close()
	}
	l.y += l.g.tick + float64(sh.rows)*l.g.line
}

// fan answers where the ticks of a lane stand. Those of one moment would hide
// each other, so they are moved apart, like cards held in a hand: a fifth of a
// tick, which at the scale of a case is less than the time it took to enter
// them.
func (l *layout) fan(tags []tag) []float64 {
	r := l.tickSize()
	lo, hi := 1.5*r+1, l.v.width-1.5*r-1 // a ring at the edge is whole
	order := make([]int, len(tags))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int {
		return cmp.Or(cmp.Compare(tags[a].x, tags[b].x), cmp.Compare(b, a))
	})
	gap := min(r*0.75, (hi-lo)/float64(len(tags)+1))
	at := make([]float64, len(tags))
	last := math.Inf(-1)
	for _, i := range order {
		last = max(tags[i].x, lo, last+gap)
		at[i] = last
	}
	last = math.Inf(1)
	for _, i := range slices.Backward(order) {
		last = min(at[i], hi, last-gap)
		at[i] = last
	}
	return at
}

// tickSize is half the height of a tick.
func (l *layout) tickSize() float64 { return l.g.tick * 0.36 }

func diamond(at spot, r float64) []spot {
	return []spot{{at.x, at.y - r*1.15}, {at.x + r, at.y}, {at.x, at.y + r*1.15}, {at.x - r, at.y}, {at.x, at.y - r*1.15}}
}

// diamond is the mark of a drug: full, or open where nobody stands for its
// rule.
func (l *layout) diamond(at spot, r float64, open bool) {
	if open {
		l.path(pen{ink: brass, width: l.g.stroke * 0.8}, ground, diamond(at, r*0.95)...)
		return
	}
	l.path(pen{ink: ground, width: 0.5}, brass, diamond(at, r)...)
}

// tick is a mark at its time; what it is shows by its shape.
func (l *layout) tick(t tag, at spot) {
	r := l.tickSize()
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
		if crossed {
			l.path(outline, body, diamond(at, r)...)
		} else {
			l.diamond(at, r, t.hollow())
		}
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
		// Over the tick: under it are words, which a line would strike.
		l.line(spot{at.x - r*1.1, at.y - r*1.5}, spot{at.x + r*1.1, at.y - r*1.5}, pen{ink: quiet, width: 0.8})
	}
	if t.Late {
		// A tail to the right: written down after it happened.
		l.line(spot{at.x + r, at.y}, spot{min(at.x+r*2.4, l.v.width), at.y}, pen{ink: vermil, width: 1})
	}
}
