package record

import (
	"io"
	"strconv"
	"strings"
	"time"
)

// Drawing says what of a sheet is drawn on the screen, how large and in which
// colours. Its zero value draws all of it in light colours at 360 x 210.
type Drawing struct {
	// Width and Height in CSS pixels. Width stands. Height grows where the
	// sheet has more rows and bands than fit, as leaving one out would hide
	// it; the root element carries the size that came out.
	Width, Height int
	Theme         Theme
	// From and To cut a window out of time. Entries outside it are not drawn;
	// how many there are stands at the edge ("‹3"). Zero draws everything.
	From, To time.Time
	// Now draws the line of the present, and ends what is still running
	// there. Zero draws none.
	Now time.Time
	// Focus is the ID of an entry to ring.
	Focus string
	// Compact is for the top of a phone: smaller rows, no legend, and one lane
	// for all marks. A mark whose words find no room keeps its tick; its title
	// tells it in full.
	Compact bool
	// Low is Compact where there may be room for no more than Height: time, the
	// chart, the rows of numbers and the first band, which is the agent, stand in it.
	// What follows lies below, where whoever shows it may cut it off.
	Low bool
	// Panel is one window of several: what lies exactly at To belongs to the
	// next, and nothing is said at the edges, nor in words, of what lies
	// outside.
	Panel bool
}

// SVG writes the drawn record as one self-contained SVG image: its own
// colours, the system's font, no script, no reference to anything outside. It
// serves as an img and inline alike. The group of every entry carries its ID
// as data-id and its full words as title.
//
// Equal arguments give equal bytes. The only errors are those of w.
func SVG(w io.Writer, s *Sheet, o Drawing) error {
	if o.Width <= 0 {
		o.Width = 360
	}
	if o.Height <= 0 {
		o.Height = 210
	}
	v := view{
		width: float64(max(o.Width, 160)), height: float64(o.Height),
		from: o.From, to: o.To, undated: !o.Panel, until: o.Panel, quietEdges: o.Panel, now: o.Now, focus: o.Focus, gauge: screenGauge,
	}
	if o.Compact {
		v.gauge = compactGauge
	}
	if o.Low {
		v.gauge, v.low = compactGauge, true
		v.gauge.phases = 0
	}
	c := svgCanvas{colours: o.Theme.colours(), out: make([]byte, 0, 64<<10)}
	height := draw(&c, s, v)

	var head svgCanvas
	head.put(`<svg xmlns="http://www.w3.org/2000/svg" role="img" width="`).num(v.width)
	head.put(`" height="`).num(height)
	head.put(`" viewBox="0 0 `).num(v.width)
	head.put(` `).num(height)
	head.put(`" font-family="system-ui,-apple-system,Roboto,'Noto Sans','DejaVu Sans',sans-serif"` +
		` stroke-linecap="round" stroke-linejoin="round"><title>`)
	head.esc(s.Title).put("</title>")
	if !o.Panel {
		head.put("<desc>").esc(s.Words.Summary).put("</desc>") // of the whole, which a panel is not
	}
	head.put("\n")
	if _, err := w.Write(head.out); err != nil {
		return err
	}
	_, err := w.Write(append(c.out, "</svg>\n"...))
	return err
}

// svgCanvas writes elements with presentation attributes only: no style
// element that would leak into a page, none that a strict page would refuse.
type svgCanvas struct {
	colours *[inks]colour
	out     []byte
}

func (c *svgCanvas) put(s string) *svgCanvas {
	c.out = append(c.out, s...)
	return c
}

// num writes a length to a tenth.
func (c *svgCanvas) num(v float64) *svgCanvas {
	c.out = strconv.AppendFloat(c.out, v, 'f', 1, 64)
	if n := len(c.out); c.out[n-1] == '0' {
		c.out = c.out[:n-2]
	}
	return c
}

// esc writes text or an attribute's value.
func (c *svgCanvas) esc(s string) *svgCanvas {
	s = clean(s)
	for {
		i := strings.IndexAny(s, `<>&"'`)
		if i < 0 {
			return c.put(s)
		}
		c.put(s[:i])
		switch s[i] {
		case '<':
			c.put("&lt;")
		case '>':
			c.put("&gt;")
		case '&':
			c.put("&amp;")
		case '"':
			c.put("&quot;")
		case '\'':
			c.put("&#39;")
		}
		s = s[i+1:]
	}
}

func (c *svgCanvas) attr(name string, v float64) *svgCanvas {
	return c.put(" ").put(name).put(`="`).num(v).put(`"`)
}

func (c *svgCanvas) paint(fill ink, p pen) *svgCanvas {
	if fill == none {
		c.put(` fill="none"`)
	} else {
		c.put(` fill="`).put(c.colours[fill].hex()).put(`"`)
	}
	if p.ink != none {
		c.put(` stroke="`).put(c.colours[p.ink].hex()).put(`" stroke-width="`)
		c.out = strconv.AppendFloat(c.out, p.width, 'f', 2, 64)
		c.put(`"`)
		if p.dash > 0 {
			c.put(` stroke-dasharray="`).num(p.dash).put(`"`)
		}
	}
	return c
}

func (c *svgCanvas) open(id, title string) {
	c.put("<g")
	if id != "" {
		c.put(` data-id="`).esc(id).put(`"`)
	}
	c.put("><title>").esc(title).put("</title>")
}

func (c *svgCanvas) close() { c.put("</g>\n") }

func (c *svgCanvas) line(a, b spot, p pen) {
	c.put("<line").attr("x1", a.x).attr("y1", a.y).attr("x2", b.x).attr("y2", b.y)
	c.paint(none, p).put("/>")
}

func (c *svgCanvas) path(p pen, fill ink, at ...spot) {
	kind := "<polyline"
	if fill != none {
		kind = "<polygon"
	}
	c.put(kind).put(` points="`)
	for i, a := range at {
		if i > 0 {
			c.put(" ")
		}
		c.num(a.x).put(",").num(a.y)
	}
	c.put(`"`).paint(fill, p).put("/>")
}

func (c *svgCanvas) circle(at spot, r float64, p pen, fill ink) {
	c.put("<circle").attr("cx", at.x).attr("cy", at.y).attr("r", r).paint(fill, p).put("/>")
}

func (c *svgCanvas) rect(b box, round float64, p pen, fill ink) {
	c.put("<rect").attr("x", b.x0).attr("y", b.y0).attr("width", b.x1-b.x0).attr("height", b.y1-b.y0)
	if round > 0 {
		c.attr("rx", round)
	}
	c.paint(fill, p).put("/>")
}

func (c *svgCanvas) text(at spot, a anchor, size float64, runs ...run) {
	c.put("<text").attr("x", at.x).attr("y", at.y).attr("font-size", size)
	switch a {
	case middle:
		c.put(` text-anchor="middle"`)
	case end:
		c.put(` text-anchor="end"`)
	}
	// Widths are only estimated for characters that the measuring face lacks:
	// those are fitted to the room that was kept for them.
	f := regular()
	width, known := 0.0, true
	for _, r := range runs {
		for _, ch := range r.text {
			known = known && f.has(ch)
		}
		width += f.width(r.text, size)
	}
	if !known {
		c.attr("textLength", width).put(` lengthAdjust="spacingAndGlyphs"`)
	}
	if len(runs) == 1 && !runs[0].struck {
		c.put(` fill="`).put(c.colours[runs[0].ink].hex()).put(`">`).esc(runs[0].text).put("</text>")
		return
	}
	c.put(` xml:space="preserve">`)
	for _, r := range runs {
		c.put(`<tspan fill="`).put(c.colours[r.ink].hex()).put(`"`)
		if r.struck {
			c.put(` text-decoration="line-through"`)
		}
		c.put(">").esc(r.text).put("</tspan>")
	}
	c.put("</text>")
}
