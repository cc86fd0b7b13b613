package record

import (
	"bytes"
	"fmt"
	"regexp"
	"testing"
)

// What the tests outside of the package, which may see package core and so
// the form that is printed, need from inside.

// FormLook is a side of a form as the tests see it. Lengths are in millimetres.
type FormLook struct {
	Width, Height float64
	Problems      []string
	Cells, Ticks  [][2]float64 // width and height of each
	Words         map[string]bool
	Chevrons      int // paths, which only the marks are
	Dots          int
}

// formRecorder notes bold words like the others, but as wide as they are.
type formRecorder struct {
	recorder
	paths, circles int
}

func (r *formRecorder) strong(at spot, a anchor, size float64, text string) {
	x := at.x - leftOf(a)*heavy().width(text, size)
	b := box{x, at.y - 0.73*size, x + heavy().width(text, size), at.y + 0.2*size}
	r.texts = append(r.texts, label{b, text})
	r.spots = append(r.spots, spot{b.x0, b.y0}, spot{b.x1, b.y1})
}

func (r *formRecorder) path(p pen, i ink, at ...spot) {
	r.paths++
	r.recorder.path(p, i, at...)
}

func (r *formRecorder) circle(c spot, rad float64, p pen, i ink) {
	r.circles++
	r.recorder.circle(c, rad, p, i)
}

// LookAtForm lays out a side of a form, 0 the front, and looks at what came of
// it with eyes of its own.
func LookAtForm(b *Blank, size PaperSize, n int) (FormLook, error) {
	var r formRecorder
	f := &form{ground: &r}
	f.width, f.height = size.points()
	if err := f.side(b, n); err != nil {
		return FormLook{}, err
	}
	look := FormLook{Width: f.width / mm, Height: f.height / mm, Words: map[string]bool{}, Chevrons: r.paths, Dots: r.circles,
		Problems: r.problems(f.width, f.height)}
	problem := func(format string, args ...any) { look.Problems = append(look.Problems, fmt.Sprintf(format, args...)) }
	for _, s := range r.spots {
		// Plain printers leave some 4 mm white at the sides and up to 10 at
		// the foot (from memory).
		if s.x < 7.9*mm || s.x > f.width-7.9*mm || s.y < 5*mm || s.y > f.height-9.5*mm {
			problem("ink at %.1f, %.1f mm, where a printer may not reach", s.x/mm, s.y/mm)
		}
	}
	inner := func(b box) box { return box{b.x0 + 0.02, b.y0 + 0.02, b.x1 - 0.02, b.y1 - 0.02} }
	places := append(append([]box{}, f.cells...), f.ticks...)
	for i, c := range places {
		for _, o := range places[:i] {
			if inner(c).meets(o) {
				problem("places %v and %v overlap", c, o)
			}
		}
		for _, t := range r.texts {
			if inner(c).meets(inner(t.box)) {
				problem("%q stands in a place to write or tick", t.text)
			}
		}
	}
	for _, t := range r.texts {
		look.Words[t.text] = true
	}
	for _, c := range f.cells {
		look.Cells = append(look.Cells, [2]float64{(c.x1 - c.x0) / mm, (c.y1 - c.y0) / mm})
	}
	for _, c := range f.ticks {
		look.Ticks = append(look.Ticks, [2]float64{(c.x1 - c.x0) / mm, (c.y1 - c.y0) / mm})
	}
	return look, nil
}

// FormOperators gives the operators of the pages of a form, with their
// operands, as the PDF has them.
func FormOperators(t *testing.T, b *Blank, o FormPaper) [][]string {
	t.Helper()
	doc, err := filled(b, o)
	if err != nil {
		t.Fatal(err)
	}
	doc.SetCompression(false)
	var out bytes.Buffer
	if err := doc.Output(&out); err != nil {
		t.Fatal(err)
	}
	pages, _, ok := bytes.Cut(out.Bytes(), []byte("/Type /Font"))
	if !ok {
		t.Fatal("no font in the document")
	}
	// Words are UTF-16 and hold any byte.
	pages = regexp.MustCompile(`(?s)\((?:\\.|[^\\)])*\)`).ReplaceAll(pages, []byte("()"))
	var all [][]string
	for _, m := range regexp.MustCompile(`(?m)((?:[-0-9.]+ )*)([a-zA-Z*]+)\s`).FindAllSubmatch(pages, -1) {
		all = append(all, []string{string(m[2]), string(m[1])})
	}
	return all
}

// FormGolden compares the words of a form, where they stand, with those kept.
func FormGolden(t *testing.T, name string, doc []byte) {
	t.Helper()
	golden(t, name, []byte(pdfText(t, doc)))
}
