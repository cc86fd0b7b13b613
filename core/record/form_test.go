package record

import (
	"bytes"
	"errors"
	"io"
	"strings"
	"testing"

	"github.com/pdfcpu/pdfcpu/pkg/api"
	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/model"
	"pgregory.net/rapid"
)

// small is a form with one of every part.
func small() *Blank {
	return &Blank{Title: "Record", Version: "form 1", Page: "page {n} of {m}",
		Front: []Part{
			Line{Head: "premedication", Cells: []Cell{{Label: "drug", Share: 2}, {Label: "weight", Unit: "kg", Share: 1},
				{Label: "sex", Choices: []string{"female", "male"}}}},
			Ticks{Questions: []Question{{"side", []string{"left", "right"}}, {"teeth", []string{"sound", "loose"}}}},
			Grid{Time: "time", Axis: "mmHg", Systolic: "systolic", Diastolic: "diastolic", Pulse: "pulse",
				Keys: []Key{{"eyes", []string{"looking", "roving", "pupils wide without any reaction to light"}}},
				Rows: []GridRow{{Label: "SpO2", Unit: "%"}, {Label: "agent", Named: true, Choices: []string{"%"}}}},
		},
		Back: []Part{
			Table{Title: "drugs", Columns: []Column{{Label: "time", Share: 1}, {Label: "drug", Share: 3, Keys: []string{"2 well", "0 not"}}}, Rows: 2, Grows: true},
			Beside{Share: 0.5, Left: Table{Columns: []Column{{Label: "words", Share: 1}}, Rows: 3},
				Right: Ticks{Columns: 2, Questions: []Question{{"trouble", []string{"one", "two", "three"}}}}},
			Glossary{{"route", []string{"IV", "IM"}}, {"agent", []string{"ether"}}},
			Note{"local protocol holds"},
		}}
}

func formPDFBytes(t *testing.T, b *Blank, size PaperSize) []byte {
	t.Helper()
	var out bytes.Buffer
	if err := Form(&out, b, FormPaper{Made: at(0), Size: size}); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

func TestFormIsValid(t *testing.T) {
	api.DisableConfigDir()
	for _, size := range []PaperSize{A4, Letter} {
		doc := formPDFBytes(t, small(), size)
		if err := api.Validate(bytes.NewReader(doc), model.NewDefaultConfiguration()); err != nil {
			t.Error(err)
		}
		dims, err := api.PageDims(bytes.NewReader(doc), model.NewDefaultConfiguration())
		if err != nil {
			t.Fatal(err)
		}
		width, height := size.points()
		if len(dims) != 2 {
			t.Errorf("%d pages, want front and back", len(dims))
		}
		for _, d := range dims {
			// The page says its size to two digits.
			if d := [2]float64{d.Width - width, d.Height - height}; max(d[0], -d[0], d[1], -d[1]) > 0.01 {
				t.Errorf("the page differs from its paper by %v pt", d)
			}
		}
		if !bytes.Equal(doc, formPDFBytes(t, small(), size)) {
			t.Error("the form differs from one printing to the next")
		}
	}
}

func TestFormErrors(t *testing.T) {
	if err := Form(io.Discard, small(), FormPaper{}); !errors.Is(err, ErrNoDate) {
		t.Errorf("without a date: %v", err)
	}
	for name, spoil := range map[string]func(*Blank){
		"more rows than a page has":    func(b *Blank) { b.Back = append(b.Back, Table{Columns: []Column{{Share: 1}}, Rows: 60}) },
		"a title over the page number": func(b *Blank) { b.Title = strings.Repeat("record ", 20) },
		"a title off the page": func(b *Blank) {
			b.Back = append(b.Back, Table{Title: strings.Repeat("drug ", 60), Columns: []Column{{Share: 1}}})
		},
		"a label longer than its cell": func(b *Blank) {
			b.Front[0] = Line{Cells: []Cell{{Label: "x", Share: 20}, {Label: "premedication", Share: 1}}}
		},
		"a cell too narrow for a hand": func(b *Blank) { b.Front[0] = Line{Cells: []Cell{{Label: "x", Share: 40}, {Label: "y", Share: 1}}} },
		"a word longer than a line": func(b *Blank) {
			b.Front[1] = Ticks{Questions: []Question{{"q", []string{strings.Repeat("long ", 60)}}}}
		},
		"a choice longer than its column": func(b *Blank) {
			b.Front[1] = Ticks{Columns: 3, Questions: []Question{{"q", []string{strings.Repeat("long ", 15)}}}}
		},
		"a row's name over its gutter": func(b *Blank) {
			b.Front[2] = Grid{Rows: []GridRow{{Label: "a", Choices: []string{"this is one choice", "and this another"}}}}
		},
	} {
		b := small()
		spoil(b)
		var out bytes.Buffer
		if err := Form(&out, b, FormPaper{Made: at(0)}); !errors.Is(err, ErrFormFull) {
			t.Errorf("%s: %v", name, err)
		}
		if out.Len() > 0 {
			t.Errorf("%s: and yet %d bytes were written", name, out.Len())
		}
	}
	b := small()
	b.Front[0] = Line{Cells: []Cell{{Label: "ሰላም", Share: 1}}}
	if err := Form(io.Discard, b, FormPaper{Made: at(0)}); !errors.Is(err, ErrFormLetters) || !strings.Contains(err.Error(), "U+1230") {
		t.Errorf("letters that the font lacks: %v", err)
	}
	for _, room := range []full{0, 900, 5000} {
		f := room
		if err := Form(&f, small(), FormPaper{Made: at(0)}); !errors.Is(err, errFull) {
			t.Errorf("with room for %d bytes: %v", room, err)
		}
	}
}

// The marks of the form are those of the drawn record, whatever else is drawn.
func TestFormHasTheMarksOfTheRecord(t *testing.T) {
	look, err := LookAtForm(small(), A4, 0)
	if err != nil {
		t.Fatal(err)
	}
	if look.Chevrons != 2 || look.Dots != 1 {
		t.Errorf("%d chevrons and %d dots, want systolic, diastolic, pulse", look.Chevrons, look.Dots)
	}
	for _, want := range []string{"systolic", "220", "20", "+10", "3", "page 1 of 2", "pupils wide without any"} {
		if !strings.Contains(want, "page") && !look.Words[want] {
			t.Errorf("the front does not say %q", want)
		}
	}
	if !look.Words["form 1 · page 1 of 2"] {
		t.Error("the page is not numbered")
	}
}

// What is left of a page goes to the tables that can grow, in whole rows that
// a hand can use; the others keep theirs.
func TestFormTablesGrow(t *testing.T) {
	b := small()
	count := func() int {
		look, err := LookAtForm(b, A4, 1)
		if err != nil {
			t.Fatal(err)
		}
		return len(look.Cells)
	}
	grown := count()
	table := b.Back[0].(Table)
	table.Grows = false
	b.Back[0] = table
	// Two rows of two cells; beside it three rows of one, or as many as the
	// list beside has room for.
	if kept := count(); kept > 8 || grown < kept+20 {
		t.Errorf("%d cells where it grows, %d where not", grown, kept)
	}
}

func weirdForm() *rapid.Generator[*Blank] {
	word := rapid.OneOf(rapid.SampledFrom([]string{"", "x", "time", "blood pressure", "premedication", "two clinicians, patient unable", "été", "أب", "ሰ", "a\x00\n"}),
		rapid.StringN(0, 12, 40))
	return rapid.Custom(func(t *rapid.T) *Blank {
		w := func() string { return word.Draw(t, "word") }
		words := func(most int) []string { return rapid.SliceOfN(word, 0, most).Draw(t, "words") }
		n := func(most int) int { return rapid.IntRange(0, most).Draw(t, "n") }
		share := func() float64 { return rapid.Float64Range(0, 4).Draw(t, "share") }
		table := func() Table {
			out := Table{Title: w(), Rows: n(6), Grows: rapid.Bool().Draw(t, "grows")}
			for range n(6) {
				out.Columns = append(out.Columns, Column{w(), share(), words(3)})
			}
			return out
		}
		ticks := func() Ticks {
			out := Ticks{Columns: n(3)}
			for range n(5) {
				out.Questions = append(out.Questions, Question{w(), words(6)})
			}
			return out
		}
		one := func() Part {
			switch n(6) {
			case 0:
				l := Line{Head: w()}
				for range n(7) {
					l.Cells = append(l.Cells, Cell{w(), w(), share(), words(2)})
				}
				return l
			case 1:
				return ticks()
			case 2:
				return table()
			case 3:
				g := Grid{Time: w(), Axis: w(), Systolic: w(), Diastolic: w(), Pulse: w()}
				for range n(3) {
					g.Keys = append(g.Keys, Key{w(), words(5)})
				}
				for range n(8) {
					g.Rows = append(g.Rows, GridRow{w(), w(), rapid.Bool().Draw(t, "named"), words(2)})
				}
				return g
			case 4:
				return Beside{Left: table(), Right: ticks(), Share: rapid.Float64Range(0, 1).Draw(t, "share")}
			case 5:
				return Glossary{{w(), words(9)}}
			}
			return Note{strings.Join(words(30), " ")}
		}
		b := &Blank{Title: w(), Version: w(), Page: w()}
		for range n(5) {
			b.Front = append(b.Front, one())
		}
		for range n(5) {
			b.Back = append(b.Back, one())
		}
		return b
	})
}

// A form is refused, or it can be written on.
func TestAnyFormIsSoundOrRefused(t *testing.T) {
	sound := 0
	rapid.Check(t, func(t *rapid.T) {
		b := weirdForm().Draw(t, "form")
		size := rapid.SampledFrom([]PaperSize{A4, Letter}).Draw(t, "size")
		for n := range 2 {
			look, err := LookAtForm(b, size, n)
			if err != nil {
				if !errors.Is(err, ErrFormFull) && !errors.Is(err, ErrFormLetters) {
					t.Fatal(err)
				}
				continue
			}
			sound++
			for _, p := range look.Problems {
				t.Error(p)
			}
			for _, c := range look.Cells {
				if c[0] < 5 || c[1] < 6 {
					t.Errorf("a cell of %.1f by %.1f mm", c[0], c[1])
				}
			}
		}
	})
	if sound == 0 {
		t.Error("none was sound: the test shows nothing")
	}
}
