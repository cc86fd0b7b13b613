package record

import (
	"bytes"
	"encoding/xml"
	"errors"
	"flag"
	"fmt"
	"html"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/pdfcpu/pdfcpu/pkg/api"
	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/model"
	"pgregory.net/rapid"
)

var update = flag.Bool("update", false, "write the golden files anew; look at them before they are kept")

func golden(t *testing.T, name string, got []byte) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if *update {
		if err := os.MkdirAll("testdata", 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, got, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(got, want) {
		at := 0
		for at < min(len(got), len(want)) && got[at] == want[at] {
			at++
		}
		from := max(0, at-80)
		t.Errorf("%s differs at byte %d:\n got …%s\nwant …%s", name, at,
			got[from:min(len(got), at+120)], want[from:min(len(want), at+120)])
	}
}

func svg(t testing.TB, s *Sheet, o Drawing) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := SVG(&b, s, o); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func pdf(t testing.TB, s *Sheet) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := PDF(&b, s, Paper{Made: at(150)}); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func pdfText(t *testing.T, doc []byte) string {
	t.Helper()
	cmd := exec.Command("pdftotext", "-layout", "-", "-")
	cmd.Stdin = bytes.NewReader(doc)
	var complaint bytes.Buffer
	cmd.Stderr = &complaint
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("pdftotext: %v: %s", err, complaint.String())
	}
	if complaint.Len() > 0 {
		t.Errorf("pdftotext complains: %s", complaint.String())
	}
	return string(out)
}

// rawText is the text of a document in the order in which it is written.
func rawText(t *testing.T, doc []byte, more ...string) string {
	t.Helper()
	cmd := exec.Command("pdftotext", append(more, "-", "-")...)
	cmd.Stdin = bytes.NewReader(doc)
	out, err := cmd.Output()
	if err != nil {
		t.Fatal(err)
	}
	return string(out)
}

var bboxWord = regexp.MustCompile(`<word xMin="([-0-9.]+)" yMin="([-0-9.]+)" xMax="([-0-9.]+)" yMax="([-0-9.]+)">(.*)</word>`)

// onPaperWords are the words of a document and their boxes, as another program
// finds them.
func onPaperWords(t *testing.T, doc []byte) (all []label) {
	t.Helper()
	for _, m := range bboxWord.FindAllStringSubmatch(rawText(t, doc, "-bbox"), -1) {
		var at [4]float64
		for i := range at {
			var err error
			if at[i], err = strconv.ParseFloat(m[i+1], 64); err != nil {
				t.Fatal(err)
			}
		}
		all = append(all, label{box{at[0], at[1], at[2], at[3]}, html.UnescapeString(m[5])})
	}
	return all
}

// checkDims looks at the number and the size of pages.
func checkDims(t *testing.T, doc []byte, size PaperSize, pages int) {
	t.Helper()
	dims, err := api.PageDims(bytes.NewReader(doc), model.NewDefaultConfiguration())
	if err != nil {
		t.Fatal(err)
	}
	if len(dims) != pages {
		t.Errorf("%d pages, want %d", len(dims), pages)
	}
	width, height := size.points()
	for _, d := range dims {
		// The page says its size to two digits.
		if d := [2]float64{d.Width - width, d.Height - height}; max(d[0], -d[0], d[1], -d[1]) > 0.01 {
			t.Errorf("the page differs from its paper by %v pt", d)
		}
	}
}

func TestGoldenSVG(t *testing.T) {
	golden(t, "hernia-compact.svg", svg(t, hernia(), Drawing{Width: 360, Height: 210, Theme: Dark, Compact: true, Now: at(76)}))
	golden(t, "hernia-full.svg", svg(t, hernia(), Drawing{Width: 820, Height: 560, Theme: Light, Focus: "bp5"}))
	golden(t, "hernia-window.svg", svg(t, hernia(), Drawing{Width: 360, Height: 260, Theme: Dim, From: at(20), To: at(50)}))
}

func TestGoldenPDF(t *testing.T) {
	golden(t, "hernia.txt", []byte(pdfText(t, pdf(t, hernia()))))
	golden(t, "long.txt", []byte(pdfText(t, pdf(t, long()))))
}

// long is six hours, an entry a minute or so, with a night's gap and a name
// in a script that the fonts lack.
func long() *Sheet {
	s := hernia()
	s.For = "ሰላም · case 14-032"
	s.Entries = nil
	for m := 80; m < 360; m += 5 {
		s.Pressure = append(s.Pressure, Pair{At: at(m), Systolic: mmHg(strconv.Itoa(110 + m%17)), Diastolic: mmHg(strconv.Itoa(64 + m%11))})
		s.Pulse = append(s.Pulse, Point{At: at(m + 1), Value: float64(80 + m%13), Text: strconv.Itoa(80 + m%13)})
		s.Marks = append(s.Marks, Mark{At: at(m + 2), Kind: MarkKind(1 + m/5%4), Text: fmt.Sprintf("mark number %d", m)})
	}
	s.Marks = append(s.Marks, Mark{At: at(24 * 60), Kind: SignMark, Text: "seen the day after"})
	for m := range 150 {
		s.Entries = append(s.Entries, Entry{At: at(2 * m), Entered: at(2*m + 1), Text: fmt.Sprintf("entry number %d", m), By: "M. Sample"})
	}
	s.Entries = append(s.Entries, Entry{At: at(24 * 60), Entered: at(3 * 24 * 60), Text: "seen the day after", By: "M. Sample", Late: true})
	return s
}

func TestSameBytesTwice(t *testing.T) {
	if !bytes.Equal(svg(t, hernia(), Drawing{}), svg(t, hernia(), Drawing{})) {
		t.Error("SVG differs from one drawing to the next")
	}
	for range 3 {
		if !bytes.Equal(pdf(t, hernia()), pdf(t, hernia())) {
			t.Fatal("PDF differs from one printing to the next")
		}
	}
}

func TestPDFIsValid(t *testing.T) {
	api.DisableConfigDir()
	strange := hernia()
	strange.Title, strange.Case = `a<b>&"'(\)`, "محمد ሰላም 😀 \x00\u202e"
	strange.Entries[0].Text = strings.Repeat("very-long", 2000)
	for name, s := range map[string]*Sheet{"hernia": hernia(), "long": long(), "empty": {}, "strange": strange} {
		doc := pdf(t, s)
		if err := api.Validate(bytes.NewReader(doc), model.NewDefaultConfiguration()); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// On the other paper the record is the same record, and leaves nothing outside.
func TestPDFOnLetter(t *testing.T) {
	api.DisableConfigDir()
	for name, s := range map[string]*Sheet{"hernia": hernia(), "long": long()} {
		var b bytes.Buffer
		if err := PDF(&b, s, Paper{Made: at(150), Size: Letter}); err != nil {
			t.Fatal(err)
		}
		if err := api.Validate(bytes.NewReader(b.Bytes()), model.NewDefaultConfiguration()); err != nil {
			t.Errorf("%s: %v", name, err)
		}
		pages, err := api.PageCount(bytes.NewReader(b.Bytes()), model.NewDefaultConfiguration())
		if err != nil {
			t.Fatal(err)
		}
		checkDims(t, b.Bytes(), Letter, pages)
		words := map[string]int{}
		for _, w := range onPaperWords(t, b.Bytes()) {
			words[w.text]++
			if w.x0 < margin-1 || w.x1 > 612-margin+1 || w.y0 < margin-4 || w.y1 > 792-20 {
				t.Errorf("%s: %q at %v, in a margin", name, w.text, w.box)
			}
		}
		for _, w := range onPaperWords(t, pdf(t, s)) {
			if words[w.text] == 0 {
				t.Errorf("%s: %q stands on A4 alone", name, w.text)
			}
		}
	}
}

func TestPDFNeedsItsDate(t *testing.T) {
	if err := PDF(io.Discard, hernia(), Paper{}); !errors.Is(err, ErrNoDate) {
		t.Errorf("got %v", err)
	}
}

var errFull = errors.New("disk full")

// full takes a number of bytes and no more.
type full int

func (f *full) Write(p []byte) (int, error) {
	if len(p) > int(*f) {
		return int(*f), errFull
	}
	*f -= full(len(p))
	return len(p), nil
}

func TestErrorsOfTheWriterSurface(t *testing.T) {
	for _, room := range []full{0, 900, 5000} {
		f := room
		if err := SVG(&f, hernia(), Drawing{}); !errors.Is(err, errFull) {
			t.Errorf("SVG with room for %d bytes: %v", room, err)
		}
		f = room
		if err := PDF(&f, hernia(), Paper{Made: at(0)}); !errors.Is(err, errFull) {
			t.Errorf("PDF with room for %d bytes: %v", room, err)
		}
	}
}

// A name must not lose letters without a word.
func TestLettersThatTheFontLacks(t *testing.T) {
	s := hernia()
	s.For = "ሰላም 😀 नाम"
	text := pdfText(t, pdf(t, s))
	// Hello in Ethiopic (three syllables), a picture, name in Devanagari.
	for _, want := range []string{"□□□ □ □□□", "characters that this printer's font lacks: U+1230 U+120B U+121D", "U+1F600", "U+0928", "U+093E", "U+092E"} {
		if !strings.Contains(text, want) {
			t.Errorf("the page does not say %q", want)
		}
	}
	s.Words.Lacking = ""
	if text := pdfText(t, pdf(t, s)); !strings.Contains(text, "□: U+1230") {
		t.Error("without words of its own the notice is lost")
	}
}

func TestScripts(t *testing.T) {
	none := func(r rune) { t.Errorf("lacks %U", r) }
	for _, c := range []struct{ name, in, shaped string }{
		// The Unicode Standard, Arabic Presentation Forms-B: meem initial
		// FEE3, hah medial FEA4, meem medial FEE4, dal final FEAA.
		{"four letters that join", "محمد", "\ufee3\ufea4\ufee4\ufeaa"},
		// seen initial FEB3, lam with alef final FEFC, meem alone FEE1.
		{"lam with alef", "سلام", "\ufeb3\ufefc\ufee1"},
		// alef and reh join to the right only: alef alone FE8D, dal alone FEA9.
		{"letters that do not join on", "ادا", "\ufe8d\ufea9\ufe8d"},
		// peh initial, Forms-A FB58; reh final FEAE; yeh of Persian initial FBFE is not in the block read here.
		{"a letter of Persian", "پر", "\ufb58\ufeae"},
		{"accent joined to its letter", "e\u0301", "é"},
		{"joiners are no letters", "a\u200db\ufe0f", "ab"},
	} {
		if got := legible(c.in, none); got != c.shaped {
			t.Errorf("%s: got %+q, want %+q", c.name, got, c.shaped)
		}
	}
	for _, c := range []struct{ in, want string }{
		{"plain (1)", "plain (1)"},
		{"אבג", "גבא"},
		{"case 14 אבג 34 y", "case 14 גבא 34 y"},
		{"אב 120/80 גד", "דג 120/80 בא"},
		{"אב (ג) ד", "ד (ג) בא"},
	} {
		if got := visual(c.in); got != c.want {
			t.Errorf("visual(%+q) = %+q, want %+q", c.in, got, c.want)
		}
	}
}

func TestFace(t *testing.T) {
	// Advances of DejaVu Sans 2.37, units of 2048 an em, read with a font
	// editor's table dump: digits 1303, space 651, W 2025.
	for r, units := range map[rune]float64{'0': 1303, '7': 1303, ' ': 651, 'W': 2025} {
		if got, want := regular().width(string(r), 1), math.Floor(units*1000/2048)/1000; math.Abs(got-want) > 1e-9 {
			t.Errorf("width of %q is %v, want %v", r, got, want)
		}
	}
	for _, r := range "₂°□…▸–é‹›" {
		if !regular().has(r) || !heavy().has(r) {
			t.Errorf("the fonts lack %q, which is printed", r)
		}
	}
	if regular().has('ሰ') || regular().has(0x1F600) || regular().has(-1) {
		t.Error("a letter is claimed that the font lacks")
	}
}

func TestWrapKeepsEveryLetter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := clean(weirdText().Draw(t, "text"))
		width := rapid.Float64Range(20, 300).Draw(t, "width")
		lines := wrap(regular(), text, 8, width)
		strip := func(s string) string { return strings.Join(strings.Fields(s), "") }
		if got := strip(strings.Join(lines, "")); got != strip(text) {
			t.Fatalf("wrapped %q to %q", text, lines)
		}
		for _, l := range lines {
			if len([]rune(l)) > 1 && regular().width(l, 8) > width+1e-6 {
				t.Fatalf("%q is wider than %v", l, width)
			}
		}
	})
}

func TestWrapKeepsSpacesThatDoNotBreak(t *testing.T) {
	for _, space := range []string{"\u00a0", "\u2007", "\u202f"} {
		dose := "10" + space + "mg"
		if got := wrap(regular(), "morphine "+dose, 8, regular().width("morphine 10 ", 8)); !slices.Equal(got, []string{"morphine", dose}) {
			t.Errorf("%q", got)
		}
	}
}

func TestAbridgeNeverEndsInANumber(t *testing.T) {
	l := &layout{f: regular()}
	if got, ok := l.abridge("morphine sulphate slowly 10 mg", 10, 130); !ok || got != "morphine sulphate…" {
		t.Errorf("got %q, %v", got, ok)
	}
	if got, ok := l.abridge("10 mg morphine", 10, 60); ok {
		t.Errorf("got %q, which passes for a dose", got)
	}
}

// --- contrast ---

// luminance and ratio as WCAG 2.2 defines them.
func luminance(c colour) float64 {
	lin := func(v uint8) float64 {
		s := float64(v) / 255
		if s <= 0.04045 {
			return s / 12.92
		}
		return math.Pow((s+0.055)/1.055, 2.4)
	}
	return 0.2126*lin(c.r) + 0.7152*lin(c.g) + 0.0722*lin(c.b)
}

func ratio(a, b colour) float64 {
	x, y := luminance(a), luminance(b)
	return (max(x, y) + 0.05) / (min(x, y) + 0.05)
}

func TestContrast(t *testing.T) {
	if r := ratio(colour{255, 255, 255}, colour{}); math.Abs(r-21) > 1e-9 {
		t.Fatalf("white on black is %v, by definition 21", r)
	}
	for theme, name := range map[Theme]string{Light: "light", Dark: "dark", Dim: "dim", onPaper: "paper"} {
		p := theme.colours()
		for _, c := range []struct {
			what string
			a, b ink
			want float64
		}{
			{"values", bone, ground, 7},
			{"values on a band", bone, seaBed, 7},
			{"labels", quiet, ground, 7},
			{"pulse and drugs", brass, ground, 7},
			{"trouble", vermil, ground, 7},
			{"trouble on a band", vermil, seaBed, 4.5},
			{"superseded values", faint, ground, 4.5},
			{"edges of bands", sea, ground, 3},
			{"edges on their band", sea, seaBed, 3},
		} {
			if r := ratio(p[c.a], p[c.b]); r < c.want {
				t.Errorf("%s: %s have %.2f:1, want %.1f", name, c.what, r, c.want)
			}
		}
	}
}

// Dim spares eyes used to the dark: red on black, and no other hue.
func TestDimIsRedOnly(t *testing.T) {
	for i, c := range Dim.colours() {
		if c == (colour{}) {
			continue
		}
		r, g, b := float64(c.r), float64(c.g), float64(c.b)
		if hue := 60 * (g - b) / (r - min(g, b)); r <= g || r <= b || math.Abs(hue) > 8 {
			t.Errorf("ink %d, %s, is no red: hue %.0f degrees", i, c.hex(), hue)
		}
	}
}

// --- what is drawn, whatever is asked ---

// recorder is a canvas that keeps what layout did.
type recorder struct {
	ids    []string
	texts  []label
	spots  []spot
	struck map[string]bool
	depth  int
}

type label struct {
	box
	text string
}

func (r *recorder) open(id, _ string) { r.ids = append(r.ids, id); r.depth++ }
func (r *recorder) close()            { r.depth-- }
func (r *recorder) line(a, b spot, _ pen) {
	r.spots = append(r.spots, a, b)
}
func (r *recorder) path(_ pen, _ ink, at ...spot) { r.spots = append(r.spots, at...) }
func (r *recorder) circle(c spot, rad float64, _ pen, _ ink) {
	r.spots = append(r.spots, spot{c.x - rad, c.y - rad}, spot{c.x + rad, c.y + rad})
}
func (r *recorder) rect(b box, _ float64, _ pen, _ ink) {
	r.spots = append(r.spots, spot{b.x0, b.y0}, spot{b.x1, b.y1})
}
func (r *recorder) text(at spot, a anchor, size float64, runs ...run) {
	w, all := 0.0, ""
	for _, u := range runs {
		w += regular().width(u.text, size)
		all += u.text
		if u.struck {
			if r.struck == nil {
				r.struck = make(map[string]bool)
			}
			r.struck[u.text] = true
		}
	}
	x := at.x
	switch a {
	case middle:
		x -= w / 2
	case end:
		x -= w
	}
	// Capitals and digits of DejaVu rise 0.73 of the size; what hangs below
	// the line may touch no other words either.
	b := box{x, at.y - 0.73*size, x + w, at.y + 0.2*size}
	r.texts = append(r.texts, label{b, all})
	r.spots = append(r.spots, spot{b.x0, b.y0}, spot{b.x1, b.y1})
}

// problems answers what is wrong with a drawing.
func (r *recorder) problems(width, height float64) []string {
	var out []string
	for _, s := range r.spots {
		if !(s.x >= -0.5 && s.x <= width+0.5 && s.y >= -0.5 && s.y <= height+0.5) { // NaN too
			out = append(out, fmt.Sprintf("ink at %v, outside %v x %v", s, width, height))
		}
	}
	for i, a := range r.texts {
		// Words that touch do not overlap, whatever the last digits say.
		inner := box{a.x0 + 1e-6, a.y0 + 1e-6, a.x1 - 1e-6, a.y1 - 1e-6}
		for _, b := range r.texts[:i] {
			if inner.meets(b.box) {
				out = append(out, fmt.Sprintf("%q at %v overlaps %q at %v", a.text, a.box, b.text, b.box))
			}
		}
	}
	if r.depth != 0 {
		out = append(out, "a group is left open")
	}
	return out
}

func TestLabelsDoNotOverlap(t *testing.T) {
	for _, v := range []view{
		{width: 360, height: 210, gauge: compactGauge, now: at(76)},
		{width: 320, height: 150, gauge: compactGauge},
		{width: 360, height: 210, gauge: screenGauge},
		{width: 820, height: 560, gauge: screenGauge},
		{width: 360, height: 300, gauge: screenGauge, from: at(20), to: at(40)},
		{width: pageWidth - 2*margin, height: tallChart, gauge: paperGauge},
	} {
		for name, s := range map[string]*Sheet{"hernia": hernia(), "long": long()} {
			var r recorder
			height := draw(&r, s, v)
			for _, p := range r.problems(v.width, height) {
				t.Errorf("%s, %vx%v: %s", name, v.width, v.height, p)
			}
		}
	}
}

func TestCorrectionsAreLegible(t *testing.T) {
	var r recorder
	draw(&r, hernia(), view{width: 820, height: 560, gauge: screenGauge})
	for _, want := range []string{"morphine 40 mg IV", "ketamine 25 mg IV", "22", "89"} {
		if !r.struck[want] {
			t.Errorf("%q is not struck through", want)
		}
	}
	if r.struck["morphine 4 mg IV"] {
		t.Error("the standing dose is struck through")
	}
	out := string(svg(t, hernia(), Drawing{Compact: true}))
	for _, want := range []string{
		`<g data-id="bp5"><title>10:28 systolic 118, was 181 diastolic 74</title>`,
		`<g data-id="bp10"><title>10:53 systolic 112 diastolic 68</title>`,
		`10:40 pulse 88, was 58 (two corrections stand against each other)`,
		`10:24 morphine 4 mg IV, was morphine 40 mg IV`, `10:04 atropine 0.6 mg IM (late)`,
	} {
		if !strings.Contains(out, want) {
			t.Errorf("the drawing does not tell %q", want)
		}
	}
}

// A dose whose rule nobody stands for has a mark of another shape, and a line
// under the chart says what that shape is: on each kind of drawing, and on none
// that has no such mark.
func TestOpenMarks(t *testing.T) {
	const legend = "dose rule not confirmed here"
	for name, v := range map[string]view{
		"screen": {width: 360, height: 300, gauge: screenGauge}, "compact": {width: 360, height: 210, gauge: compactGauge},
		"paper": {width: pageWidth - 2*margin, height: tallChart, gauge: paperGauge},
	} {
		for _, x := range []struct {
			mark Mark
			open bool
		}{
			{Mark{Kind: DrugMark, Open: "nobody stands for it"}, true},
			{Mark{Kind: DrugMark}, false},
			{Mark{Kind: DrugMark, Open: "nobody stands for it", Standing: Struck}, false},
		} {
			x.mark.At, x.mark.Text = at(5), "morphine 4 mg"
			var r shapes
			height := draw(&r, &Sheet{Marks: []Mark{x.mark}, Words: Words{Open: legend}}, v)
			said := slices.ContainsFunc(r.texts, func(l label) bool { return l.text == legend })
			// The mark itself, and the one of the legend.
			if said != x.open || (r.hollow == 2) != x.open || x.open && r.full != 0 || !x.open && r.hollow != 0 {
				t.Errorf("%s, %+v: legend %v, %d open and %d full diamonds", name, x.mark, said, r.hollow, r.full)
			}
			for _, p := range r.problems(v.width, height) {
				t.Errorf("%s: %s", name, p)
			}
		}
	}
	out := string(svg(t, hernia(), Drawing{Compact: true}))
	if want := "10:45 paracetamol 1 g rectal (its dose rule was confirmed by nobody here)"; !strings.Contains(out, want) {
		t.Errorf("the drawing does not tell %q", want)
	}
}

// shapes counts the bodies of the marks of drugs.
type shapes struct {
	recorder
	hollow, full int
}

func (s *shapes) path(p pen, fill ink, at ...spot) {
	s.recorder.path(p, fill, at...)
	switch {
	case fill == brass:
		s.full++
	case fill == ground && p.ink == brass:
		s.hollow++
	}
}

// Words left of a tick could be read as those of the tick before it. Only at
// the right edge is there no other way.
func TestWordsStandRightOfTheirTick(t *testing.T) {
	l := &layout{f: regular(), g: screenGauge, left: 0, right: 300}
	words := func(s string) [][]run { return [][]run{{{text: s}}} }
	tags := []tag{{Mark: &Mark{}, x: 290, options: words("edge")}, {Mark: &Mark{}, x: 100, options: words("second")}, {Mark: &Mark{}, x: 80, options: words("first")}}
	got := l.shelve(tags, 1).places
	if got[0].x1 > 290 || got[0].row != 0 {
		t.Errorf("at the edge: %+v", got[0])
	}
	if got[1].x0 < 100 || got[2].row != -1 {
		t.Errorf("beside another: %+v, %+v", got[1], got[2])
	}
	if got = l.shelve(tags, 2).places; got[2].row != 1 || got[2].x0 < 80 {
		t.Errorf("with a second line: %+v", got[2])
	}
}

// What a window leaves out is counted at its edges.
func TestWindowSaysWhatItLeavesOut(t *testing.T) {
	s := &Sheet{Pulse: []Point{{At: at(0), Value: 80, Text: "80"}, {At: at(5), Value: 80, Text: "80"},
		{At: at(60), Value: 81, Text: "81", ID: "in"}, {At: at(90), Value: 82, Text: "82"}}}
	var r recorder
	draw(&r, s, view{width: 360, height: 210, gauge: compactGauge, from: at(50), to: at(80)})
	var said []string
	for _, l := range r.texts {
		said = append(said, l.text)
	}
	if !slices.Contains(said, "‹2") || !slices.Contains(said, "1›") || !slices.Equal(r.ids, []string{"in"}) {
		t.Errorf("said %q, drew %q", said, r.ids)
	}
}

// A slip of the finger must show, and must not flatten everything else.
func TestValueOffTheScale(t *testing.T) {
	s := hernia()
	s.Pressure[3].Systolic = mmHg("1380")
	var r recorder
	draw(&r, s, view{width: 360, height: 210, gauge: compactGauge})
	said := ""
	for _, l := range r.texts {
		said += l.text + "|"
	}
	if !strings.Contains(said, "|1380|") || !strings.Contains(said, "|200|") || strings.Contains(said, "|300|") {
		t.Errorf("axis and words: %s", said)
	}
}

func TestScale(t *testing.T) {
	for _, c := range []struct{ least, most, lo, hi float64 }{
		{80, 120, 60, 140}, {58, 120, 40, 140}, {62, 120, 40, 140}, {70, 141, 60, 160}, {0, 300, 0, 300},
		{-5, 1e300, 60, 140}, {math.NaN(), math.Inf(1), 60, 140},
	} {
		l := &layout{s: &Sheet{Pulse: []Point{{Value: c.least}, {Value: c.most}}}}
		if lo, hi := l.scale(); lo != c.lo || hi != c.hi {
			t.Errorf("%v to %v gives an axis of %v to %v, want %v to %v", c.least, c.most, lo, hi, c.lo, c.hi)
		}
	}
}

func TestTimesArePrintedInTheSheetsZone(t *testing.T) {
	s := hernia()
	for i := range s.Marks {
		s.Marks[i].At = s.Marks[i].At.UTC()
	}
	if out := string(svg(t, s, Drawing{})); !strings.Contains(out, "10:24 morphine") || strings.Contains(out, "07:24") {
		t.Error("a time in another zone is not printed in that of the sheet")
	}
}

func TestNothingToDraw(t *testing.T) {
	if out := string(svg(t, &Sheet{Words: english}, Drawing{})); !strings.Contains(out, ">nothing recorded yet<") {
		t.Error("an empty sheet does not say that it is empty")
	}
}

func weirdText() *rapid.Generator[string] {
	return rapid.OneOf(
		rapid.SampledFrom([]string{"", " ", "120", "97 %", "morphine 4 mg", `<b>&"'</b>]]>`, "a\x00b\x07\n\tc", "אבג 12 (ד)", "محمد علي",
			"\u202eevil\u2066", "ሰላም", "😀👩‍👩‍👧", "\xff\xfe bad", "\ufffe\uffff", "e\u0301", strings.Repeat("long", 90), "NaN", "1e999", "-3", "1e300", `(\)`}),
		rapid.String(),
	)
}

func weirdTime() *rapid.Generator[time.Time] {
	zone := time.FixedZone("", -(9*3600 + 1800))
	return rapid.OneOf(
		rapid.SampledFrom([]time.Time{{}, at(0), at(0), at(1).In(zone), time.Unix(1<<60, 0), time.Unix(-1<<60, 0), time.Unix(1<<62, 999)}),
		rapid.Map(rapid.IntRange(0, 7200), func(n int) time.Time { return at(0).Add(time.Duration(n) * time.Second) }),
		rapid.Map(rapid.Int64Range(-1<<35, 1<<37), func(n int64) time.Time { return time.Unix(n, 0).In(zone) }),
	)
}

func weirdSheet() *rapid.Generator[*Sheet] {
	value := rapid.OneOf(rapid.Float64Range(30, 220), rapid.Float64(),
		rapid.SampledFrom([]float64{math.NaN(), math.Inf(1), math.Inf(-1), 0, -1, 1e308}))
	return rapid.Custom(func(t *rapid.T) *Sheet {
		text, when := weirdText(), weirdTime()
		n := 0
		id := func() string {
			n++
			return fmt.Sprintf("%d %s", n, rapid.SampledFrom([]string{"", "<&>", `"'`, "\x01", "é"}).Draw(t, "id"))
		}
		standing := func() Standing { return Standing(rapid.IntRange(0, 6).Draw(t, "standing")) }
		was := func() []string { return rapid.SliceOfN(text, 0, 2).Draw(t, "was") }
		point := func() Point {
			return Point{when.Draw(t, "at"), value.Draw(t, "value"), text.Draw(t, "text"), was(), standing(), id()}
		}
		many := func(most int) int { return rapid.IntRange(0, most).Draw(t, "n") }
		word := func() string { return text.Draw(t, "word") }
		s := &Sheet{Title: word(), For: word(), Case: word(), Foot: word(), Begin: when.Draw(t, "begin"), End: when.Draw(t, "end"),
			Notices: was()}
		s.Words = Words{word(), word(), word(), word(), word(), word(), word(), word(), word(), word(), word(), word(), word(), word(), word(), word(), word()}
		for range many(4) {
			s.Facts = append(s.Facts, Fact{word(), word()})
		}
		for range many(3) {
			r := Row{Label: word()}
			for range many(6) {
				r.Points = append(r.Points, point())
			}
			s.Numbers = append(s.Numbers, r)
		}
		for range many(6) {
			s.Pressure = append(s.Pressure, Pair{when.Draw(t, "at"), point(), point(), standing(), id()})
		}
		for range many(6) {
			s.Pulse = append(s.Pulse, point())
		}
		for range many(3) {
			b := Band{Label: word()}
			for range many(5) {
				b.Spans = append(b.Spans, Span{when.Draw(t, "from"), when.Draw(t, "to"), value.Draw(t, "level"), word(), standing(), id()})
			}
			s.Bands = append(s.Bands, b)
		}
		if rapid.Bool().Draw(t, "course?") {
			c := &Course{Label: word(), Under: many(5) - 1, Top: value.Draw(t, "top"), Line: value.Draw(t, "line"), Body: word(), Shown: word(), Sign: word(), Gap: word()}
			for range many(8) {
				c.Points = append(c.Points, CoursePoint{when.Draw(t, "at"), value.Draw(t, "low"), value.Draw(t, "high"), word(),
					rapid.Bool().Draw(t, "apart"), rapid.Bool().Draw(t, "shown"), word(), id()})
			}
			for range many(4) {
				c.Signs = append(c.Signs, CourseSign{when.Draw(t, "at"), value.Draw(t, "low"), value.Draw(t, "high"), rapid.Bool().Draw(t, "danger"), word(), id()})
			}
			s.Course = c
		}
		for range many(12) {
			s.Marks = append(s.Marks, Mark{when.Draw(t, "at"), MarkKind(many(6)), word(), was(), standing(), rapid.Bool().Draw(t, "late"), word(), id()})
		}
		for range many(4) {
			e := Entry{At: when.Draw(t, "at"), Text: word(), By: word(), Standing: standing(), Late: rapid.Bool().Draw(t, "late"), Entered: when.Draw(t, "entered")}
			for range many(2) {
				e.History = append(e.History, Change{when.Draw(t, "at"), word(), word(), when.Draw(t, "entered"), word()})
			}
			s.Entries = append(s.Entries, e)
		}
		return s
	})
}

// ids of everything that has a mark of its own.
func ids(s *Sheet) []string {
	var out []string
	for _, p := range s.Pressure {
		out = append(out, p.ID)
	}
	for _, p := range s.Pulse {
		out = append(out, p.ID)
	}
	for _, r := range s.Numbers {
		for _, p := range r.Points {
			out = append(out, p.ID)
		}
	}
	for _, b := range s.Bands {
		for _, p := range b.Spans {
			out = append(out, p.ID)
		}
	}
	for _, m := range s.Marks {
		out = append(out, m.ID)
	}
	return out
}

func TestAnySheetDraws(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := weirdSheet().Draw(t, "sheet")
		g := rapid.SampledFrom([]gauge{screenGauge, compactGauge, paperGauge}).Draw(t, "gauge")
		v := view{width: rapid.Float64Range(160, 1200).Draw(t, "width"), height: rapid.Float64Range(1, 800).Draw(t, "height"), gauge: g, undated: true}
		if rapid.Bool().Draw(t, "now?") {
			v.now = weirdTime().Draw(t, "now")
		}
		all := ids(s)
		if len(all) > 0 {
			v.focus = rapid.SampledFrom(all).Draw(t, "focus")
		}
		var r recorder
		height := draw(&r, s, v)
		for _, p := range r.problems(v.width, height) {
			t.Error(p)
		}
		for _, id := range all {
			if !slices.Contains(r.ids, id) {
				t.Errorf("entry %q is not drawn", id)
			}
		}
		// A window may leave entries out, and must draw the rest as soundly.
		v.from, v.to = weirdTime().Draw(t, "window from"), weirdTime().Draw(t, "window to")
		r = recorder{}
		height = draw(&r, s, v)
		for _, p := range r.problems(v.width, height) {
			t.Errorf("windowed: %s", p)
		}
	})
}

func TestAnySheetIsWellFormed(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := weirdSheet().Draw(t, "sheet")
		var b bytes.Buffer
		o := Drawing{Width: rapid.IntRange(-5, 900).Draw(t, "width"), Height: rapid.IntRange(-5, 900).Draw(t, "height"),
			Theme: rapid.SampledFrom([]Theme{Light, Dark, Dim, "", "no such"}).Draw(t, "theme"), Compact: rapid.Bool().Draw(t, "compact")}
		if err := SVG(&b, s, o); err != nil {
			t.Fatal(err)
		}
		drawn := make(map[string]bool)
		d := xml.NewDecoder(bytes.NewReader(b.Bytes()))
		for {
			token, err := d.Token()
			if errors.Is(err, io.EOF) {
				break
			}
			if err != nil {
				t.Fatalf("%v\n%s", err, b.Bytes())
			}
			if e, ok := token.(xml.StartElement); ok {
				switch e.Name.Local {
				case "svg", "g", "title", "desc", "line", "polyline", "polygon", "circle", "rect", "text", "tspan":
				default:
					t.Fatalf("element %q", e.Name.Local)
				}
				for _, a := range e.Attr {
					switch a.Name.Local {
					case "data-id":
						drawn[a.Value] = true
					case "href", "style", "src":
						t.Fatalf("attribute %q", a.Name.Local)
					}
				}
			}
		}
		for _, id := range ids(s) {
			if !drawn[clean(id)] {
				t.Errorf("entry %q has no group", id)
			}
		}
	})
}

func TestAnySheetPrints(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := weirdSheet().Draw(t, "sheet")
		f := printed(forPaper(s, func(rune) {}), Paper{Made: at(0)})
		f.SetCompression(false)
		var b bytes.Buffer
		if err := f.Output(&b); err != nil {
			t.Fatal(err)
		}
		// The pages come first. Their words are UTF-16, two bytes a letter,
		// so that these three letters in a row can only be a coordinate.
		pages, _, _ := bytes.Cut(b.Bytes(), []byte("/Type /Font"))
		for _, bad := range []string{"NaN", "Inf"} {
			if bytes.Contains(pages, []byte(bad)) {
				t.Errorf("a coordinate is %s", bad)
			}
		}
	})
}

// busy is a case of 300 entries.
func busy() *Sheet {
	s := long()
	s.Entries, s.Marks = nil, s.Marks[:60]
	s.Pressure, s.Pulse = s.Pressure[:60], s.Pulse[:60]
	for len(s.Numbers[0].Points)+len(s.Numbers[1].Points) < 120 {
		m := len(s.Numbers[0].Points)
		p := Point{At: at(80 + 2*m), Value: 97, Text: "97", ID: fmt.Sprint("n", m)}
		s.Numbers[0].Points = append(s.Numbers[0].Points, p)
		s.Numbers[1].Points = append(s.Numbers[1].Points, p)
	}
	return s
}

// The tap that redraws the record waits for it, so allocations are held down;
// times are for the benchmark to tell.
func TestAllocations(t *testing.T) {
	s := busy()
	n := testing.AllocsPerRun(20, func() {
		if err := SVG(io.Discard, s, Drawing{Compact: true}); err != nil {
			t.Fatal(err)
		}
	})
	if n > 6000 {
		t.Errorf("%v allocations for 300 entries, want at most 6000 (20 an entry)", n)
	}
}

func BenchmarkSVG300(b *testing.B) {
	s := busy()
	for b.Loop() {
		if err := SVG(io.Discard, s, Drawing{Compact: true, Now: at(370)}); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkPDF300(b *testing.B) {
	s := busy()
	for b.Loop() {
		if err := PDF(io.Discard, s, Paper{Made: at(0)}); err != nil {
			b.Fatal(err)
		}
	}
}

// A span struck out and the one that stands in its place begin together: the
// words of the standing one must be there, and nothing may cross them.
func TestStruckSpanLeavesTheStandingOneAlone(t *testing.T) {
	s := &Sheet{Begin: at(0), End: at(60), Bands: []Band{{"ether", []Span{
		{at(10), at(40), 0.5, "standing", Stands, "a"}, {at(10), at(30), 0.9, "struck", Struck, "b"},
		{at(45), at(60), 0.5, "alone", Struck, "c"},
	}}}}
	var r recorder
	draw(&r, s, view{width: 600, height: 300, gauge: screenGauge})
	var said []string
	for _, l := range r.texts {
		if strings.ContainsAny(l.text, "aeiou") {
			said = append(said, l.text)
		}
	}
	if want := []string{"ether", "standing", "alone"}; !slices.Equal(said, want) {
		t.Errorf("said %q, want %q", said, want)
	}
	if r.struck["standing"] || !r.struck["alone"] {
		t.Errorf("struck through: %v", r.struck)
	}
	if !slices.Contains(r.ids, "b") {
		t.Error("the struck span has no mark left")
	}
}

// said draws s and answers all words that were written, in order.
func said(s *Sheet, v view) []string {
	var r recorder
	draw(&r, s, v)
	var out []string
	for _, l := range r.texts {
		out = append(out, l.text)
	}
	return out
}

// A stretch of a few minutes is too short for a number with its unit. The unit
// then stands once, in the label, or at least at one stretch.
func TestShortSpansKeepTheirNumbers(t *testing.T) {
	band := func(texts ...string) *Sheet {
		s := &Sheet{Begin: at(0), End: at(120)}
		b := Band{Label: "ether"}
		for i, text := range texts {
			b.Spans = append(b.Spans, Span{From: at(8 * i), To: at(8 * (i + 1)), Level: 0.5, Text: text})
		}
		s.Bands = []Band{b}
		return s
	}
	paper := view{width: pageWidth - 2*margin, height: 300, gauge: paperGauge}
	phone := view{width: 360, height: 210, gauge: compactGauge}
	for _, c := range []struct {
		name  string
		s     *Sheet
		v     view
		label string
		want  []string
	}{
		{"unit in the label", band("20 drops/min", "60 drops/min wet", "120 drops/min"), paper, "ether, drops/min", []string{"20", "60 wet", "120"}},
		{"unit at the last stretch, which has room", func() *Sheet {
			s := band("20 drops/min", "60 drops/min")
			s.Bands[0].Spans[1].To = at(100)
			return s
		}(), phone, "ether", []string{"20", "60 drops/min"}},
		{"nowhere room for the unit: no number that could be of anything", func() *Sheet {
			s := band(slices.Repeat([]string{"20 drops/min"}, 14)...)
			s.Bands[0].Spans = append(s.Bands[0].Spans, Span{From: at(112), To: at(120), Level: 0.5, Text: "off"})
			return s
		}(), phone, "ether", []string{"off"}},
		{"two units: neither is left out", func() *Sheet {
			s := band("20 drops/min", "2 %")
			s.Bands[0].Spans[0].To = at(60)
			s.Bands[0].Spans[1].From, s.Bands[0].Spans[1].To = at(60), at(120)
			return s
		}(), paper, "ether", []string{"20 drops/min", "2 %"}},
	} {
		words := said(c.s, c.v)
		i := slices.Index(words, c.label)
		j := slices.Index(words, "140") // the axis comes after the bands
		if i < 0 || j < i || !slices.Equal(words[i+1:j], c.want) {
			t.Errorf("%s: said %q, want %q and then %q", c.name, words, c.label, c.want)
		}
	}
}

// 312 was typed for 132. The old mark stands at the edge of the scale, and
// without its number it would pass for a value there.
func TestSupersededValueOffTheScaleSaysItsNumber(t *testing.T) {
	p := mmHg("132")
	p.Was, p.Standing = []string{"312"}, Amended
	s := &Sheet{Begin: at(0), End: at(60), Pressure: []Pair{{At: at(20), Systolic: p, Diastolic: mmHg("80")}}}
	words := said(s, view{width: 360, height: 210, gauge: screenGauge})
	if !slices.Contains(words, "312") || slices.Contains(words, "320") {
		t.Errorf("said %q", words)
	}
}

func TestLeadingItemsAreWhole(t *testing.T) {
	got := leading("oral airway 3 · jaw thrust · suction")
	if want := []string{"oral airway 3 · jaw thrust …", "oral airway 3 …"}; !slices.Equal(got, want) {
		t.Errorf("got %q, want %q", got, want)
	}
	if got := leading("morphine 10 mg"); got != nil {
		t.Errorf("got %q for a single item", got)
	}
}

// Long words near the right edge, whose words stand left of their tick, must
// not cost the trouble before them its own.
func TestLongWordsAtTheEdgeYield(t *testing.T) {
	s := &Sheet{Begin: at(0), End: at(120), Marks: []Mark{
		{At: at(30), Kind: TroubleMark, Text: "laryngospasm"},
		{At: at(118), Kind: TroubleMark, Text: "vomiting or regurgitation, head down, suction"},
	}}
	words := said(s, view{width: 390, height: 400, gauge: screenGauge})
	for _, start := range []string{"laryngospasm", "vomiting or regurgitation"} {
		if !slices.ContainsFunc(words, func(w string) bool { return strings.HasPrefix(w, start) }) {
			t.Errorf("%q is not said: %q", start, words)
		}
	}
}

// Marks of one moment must not hide each other.
func TestTicksOfOneMomentStandApart(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := &layout{g: compactGauge, v: view{width: 360}}
		tags := make([]tag, rapid.IntRange(1, 120).Draw(t, "n"))
		near := rapid.Float64Range(60, 358).Draw(t, "around")
		for i := range tags {
			tags[i] = tag{Mark: &Mark{}, x: near + rapid.SampledFrom([]float64{0, 0, 0, 0.5, -40}).Draw(t, "x")}
		}
		xs := l.fan(tags)
		slices.Sort(xs)
		r := l.tickSize()
		for i, x := range xs {
			if x < r || x > 360-r {
				t.Fatalf("a tick at %v, outside", x)
			}
			if i > 0 && x-xs[i-1] < r*0.7 {
				t.Fatalf("ticks %v apart", x-xs[i-1])
			}
		}
	})
	// Trouble is drawn last, on top of what happened with it.
	s := &Sheet{Begin: at(0), End: at(60), Marks: []Mark{{At: at(9), Kind: TroubleMark, ID: "trouble"}, {At: at(9), Kind: DrugMark, ID: "drug"},
		{At: at(9), Kind: SignMark, ID: "sign"}}}
	var r recorder
	draw(&r, s, view{width: 360, height: 210, gauge: compactGauge})
	if got := r.ids[len(r.ids)-1]; got != "trouble" {
		t.Errorf("%q is drawn last", got)
	}
}

func TestExtent(t *testing.T) {
	from, to := hernia().Extent()
	if !from.Equal(at(1)) || !to.Equal(at(73)) {
		t.Errorf("from %v to %v, want from the first mark, a minute past ten, to the last reading 72 minutes later", from, to)
	}
	if from, to = (&Sheet{Begin: at(0), Entries: []Entry{{At: at(3)}}}).Extent(); !from.IsZero() || !to.IsZero() {
		t.Errorf("nothing is drawn, and yet from %v to %v", from, to)
	}
}

// The estimate over time: gaps with their reason, no line through words, nothing
// told by colour alone, a legend where there is room for one, and the same on
// paper.
func TestCourseIsDrawn(t *testing.T) {
	s := &Sheet{Begin: at(0), End: at(60), Words: english, Course: course()}
	var r recorder
	height := draw(&r, s, view{width: 900, height: 400, gauge: screenGauge})
	for _, p := range r.problems(900, height) {
		t.Error(p)
	}
	var words []string
	for _, l := range r.texts {
		words = append(words, l.text)
	}
	for _, want := range []string{"depth, MAC", "none yet", "old", "1", "depth, 8 of 10 simulated bodies", "as shown", "by the signs", "no estimate"} {
		if !slices.Contains(words, want) {
			t.Errorf("%q is not written: %v", want, words)
		}
	}
	small := recorder{}
	draw(&small, s, view{width: 900, height: 116, gauge: compactGauge})
	crossed := 0
	for _, drawn := range []recorder{r, small} {
		for _, l := range drawn.texts {
			if l.text != "none yet" && l.text != "old" {
				continue
			}
			for i := 0; i+1 < len(drawn.spots); i += 2 {
				a, b := drawn.spots[i], drawn.spots[i+1]
				if a.y != b.y || a.y < l.y0 || a.y > l.y1 {
					continue
				}
				crossed++
				if min(a.x, b.x) < l.x1 && max(a.x, b.x) > l.x0 {
					t.Errorf("a line from %v to %v strikes %q at %v", a, b, l.text, l.box)
				}
			}
		}
	}
	if crossed == 0 {
		t.Error("no line stands where the words stand: this looked at nothing")
	}
	compact := svg(t, s, Drawing{Width: 344, Height: 116, Compact: true, Panel: true, From: at(0), To: at(60)})
	without := svg(t, &Sheet{Begin: at(0), End: at(60), Words: english, Pulse: hernia().Pulse}, Drawing{Width: 344, Height: 116, Compact: true, Panel: true, From: at(0), To: at(60)})
	size := regexp.MustCompile(`height="(\d+)"`)
	if a, b := size.FindSubmatch(compact), size.FindSubmatch(without); string(a[1]) != string(b[1]) {
		t.Errorf("the drawing on the table grew from %s to %s by the estimate", b[1], a[1])
	}
	if !bytes.Contains(compact, []byte("The last signs are over 5 minutes old.")) || !bytes.Contains(compact, []byte("pupils wide and fixed")) {
		t.Error("who points at the band is told nothing")
	}
	// An hour on, the window holds the rest of a stretch, cut at its edge.
	later := svg(t, s, Drawing{Width: 344, Height: 116, Compact: true, Panel: true, From: at(55), To: at(115)})
	if !bytes.Contains(later, []byte(`data-id="d2"`)) || bytes.Contains(later, []byte(`data-id="s1"`)) {
		t.Error("the window cuts wrongly")
	}
	text := pdfText(t, pdf(t, hernia()))
	for _, want := range []string{"depth, MAC", "as shown", "by the signs", "no estimate"} {
		if !strings.Contains(text, want) {
			t.Errorf("the paper says nothing of %q", want)
		}
	}
}
