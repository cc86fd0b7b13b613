package record

import (
	"encoding/binary"
	"sync"

	"github.com/go-fonts/dejavu/dejavusans"
	"github.com/go-fonts/dejavu/dejavusansbold"
)

// face is what layout must know of a font: which characters it has and how
// far each one advances, in thousandths of the type size.
//
// The same face, DejaVu Sans, is printed on paper and measures the text of
// the screen. The screen's own system font is not known here; DejaVu runs
// wider than the usual ones, so that what fits here fits there.
type face struct{ advance [1 << 16]uint16 }

// wide stands in for a character that the face lacks: one em and a quarter.
// Full-width scripts and pictures are one em; some Ethiopic syllables are
// wider. From memory, no source.
const wide = 1250

var (
	regular = sync.OnceValue(func() *face { return readFace(dejavusans.TTF) })
	heavy   = sync.OnceValue(func() *face { return readFace(dejavusansbold.TTF) })
)

// readFace reads the tables head, hhea, hmtx and cmap (format 4, Unicode,
// basic plane) of a TrueType font, as laid out in ISO/IEC 14496-22 (Open Font
// Format). It is only ever given the fonts that are built in.
func readFace(ttf []byte) *face {
	u16 := func(at int) int { return int(binary.BigEndian.Uint16(ttf[at:])) }
	u32 := func(at int) int { return int(binary.BigEndian.Uint32(ttf[at:])) }
	tables := make(map[string]int)
	for i := range u16(4) {
		entry := 12 + 16*i
		tables[string(ttf[entry:entry+4])] = u32(entry + 8)
	}
	em := u16(tables["head"] + 18)
	measured := u16(tables["hhea"] + 34)
	var f face
	for i := range u16(tables["cmap"] + 2) {
		entry := tables["cmap"] + 4 + 8*i
		sub := tables["cmap"] + u32(entry+4)
		if u16(entry) != 3 || u16(entry+2) != 1 || u16(sub) != 4 {
			continue
		}
		segments := u16(sub+6) / 2
		ends, starts := sub+14, sub+16+2*segments
		deltas, offsets := starts+2*segments, starts+4*segments
		for k := range segments {
			for c := u16(starts + 2*k); c <= u16(ends+2*k) && c < 0xffff; c++ {
				glyph := c
				if o := u16(offsets + 2*k); o != 0 {
					glyph = u16(offsets + 2*k + o + 2*(c-u16(starts+2*k)))
					if glyph == 0 {
						continue
					}
				}
				glyph = (glyph + u16(deltas+2*k)) & 0xffff
				if glyph == 0 {
					continue
				}
				// One more than the advance, so that zero means absent and a
				// combining accent, which advances nothing, is still there.
				width := u16(tables["hmtx"] + 4*min(glyph, measured-1))
				f.advance[c] = uint16(width*1000/em) + 1
			}
		}
	}
	return &f
}

func (f *face) has(r rune) bool { return r >= 0 && r < 1<<16 && f.advance[r] != 0 }

// width is how far s runs at a type size, in the unit of the size.
func (f *face) width(s string, size float64) float64 {
	sum := 0
	for _, r := range s {
		if f.has(r) {
			sum += int(f.advance[r]) - 1
		} else {
			sum += wide
		}
	}
	return float64(sum) / 1000 * size
}
