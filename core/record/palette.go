package record

// Theme is a set of colours for the drawing on a screen.
type Theme string

// The themes of the screen. Any other name is drawn as Light.
const (
	Light Theme = "light" // dark ink on bone, for daylight
	Dark  Theme = "dark"  // bone on ink, for a darkened room
	Dim   Theme = "dim"   // red hues on black only: spares eyes that must see in the dark
)

// onPaper is the palette of a printed page. It is no theme of the screen.
const onPaper Theme = "paper"

// ink is a colour by what it is for. State is never told by ink alone: each
// use has a shape, a stroke or a word as well.
type ink uint8

const (
	none   ink = iota // draw nothing
	ground            // what everything lies on
	bone              // values and words: what the eye came for
	quiet             // labels of axes and rows
	faint             // superseded values: legible, but not to be taken for current
	grid              // lines that guide the eye; carry nothing themselves
	brass             // what was done: drugs; and the pulse
	sea               // outlines of bands
	seaBed            // the body of a band, behind words
	vermil            // trouble, what is struck, and the line of now
	inks
)

// colour is sRGB, eight bits a channel.
type colour struct{ r, g, b uint8 }

// palettes holds the colours of each theme. They are chosen, not measured:
// the test works out contrast as in WCAG 2.2 (W3C, Web Content Accessibility
// Guidelines 2.2, definitions of relative luminance and contrast ratio) and
// fails when a value falls under 7:1 on its ground (criterion 1.4.6) or a
// superseded one under 4.5:1 (criterion 1.4.3).
//
// On black a pure red can reach no more than 5.25:1 (its relative luminance is
// 0.2126), so the brightest reds of Dim carry some white. Hue stays red.
var palettes = map[Theme]*[inks]colour{
	Light: {
		ground: {0xfb, 0xf8, 0xf1},
		bone:   {0x12, 0x16, 0x1b},
		quiet:  {0x47, 0x4c, 0x52},
		faint:  {0x68, 0x6c, 0x70},
		grid:   {0xdd, 0xd6, 0xc8},
		brass:  {0x6b, 0x47, 0x00},
		sea:    {0x0d, 0x58, 0x4a},
		seaBed: {0xc3, 0xe3, 0xda},
		vermil: {0x9c, 0x1c, 0x0c},
	},
	Dark: {
		ground: {0x12, 0x16, 0x1b},
		bone:   {0xf3, 0xed, 0xe2},
		quiet:  {0xb4, 0xbc, 0xc4},
		faint:  {0x8d, 0x96, 0x9f},
		grid:   {0x2a, 0x32, 0x3b},
		brass:  {0xe0, 0xad, 0x4b},
		sea:    {0x6c, 0xc5, 0xb0},
		seaBed: {0x1d, 0x42, 0x3b},
		vermil: {0xff, 0x86, 0x6e},
	},
	Dim: {
		ground: {0x00, 0x00, 0x00},
		bone:   {0xff, 0x8f, 0x86},
		quiet:  {0xff, 0x73, 0x68},
		faint:  {0xe8, 0x3c, 0x30},
		grid:   {0x44, 0x0e, 0x0a},
		brass:  {0xff, 0x86, 0x7c},
		sea:    {0xff, 0x73, 0x68},
		seaBed: {0x3c, 0x0b, 0x08},
		vermil: {0xff, 0x78, 0x6d},
	},
	onPaper: {
		ground: {0xff, 0xff, 0xff},
		bone:   {0x00, 0x00, 0x00},
		quiet:  {0x3a, 0x3a, 0x3a},
		faint:  {0x62, 0x62, 0x62},
		grid:   {0xcc, 0xcc, 0xcc},
		brass:  {0x5c, 0x3d, 0x00},
		sea:    {0x0d, 0x58, 0x4a},
		seaBed: {0xd5, 0xeb, 0xe5},
		vermil: {0x9c, 0x1c, 0x0c},
	},
}

// colours answers the palette of a theme; an unknown theme is Light.
func (t Theme) colours() *[inks]colour {
	if p, ok := palettes[t]; ok {
		return p
	}
	return palettes[Light]
}

// hex is the colour as CSS writes it.
func (c colour) hex() string {
	const digits = "0123456789abcdef"
	return string([]byte{'#',
		digits[c.r>>4], digits[c.r&15], digits[c.g>>4], digits[c.g&15], digits[c.b>>4], digits[c.b&15]})
}
