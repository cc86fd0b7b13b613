package record_test

import (
	"bytes"
	"errors"
	"maps"
	"slices"
	"strings"
	"testing"
	"time"

	"chinlift/core"
	"chinlift/core/record"
	"chinlift/core/word"
)

// The form that is printed, with the words of the catalogue.

func paper(t *testing.T) *record.Blank {
	t.Helper()
	b, err := core.Paper(word.English())
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func TestPaperCanBeWrittenOn(t *testing.T) {
	for _, size := range []record.PaperSize{record.A4, record.Letter} {
		for n, leastCells := range []int{24 * 10, 40} {
			look, err := record.LookAtForm(paper(t), size, n)
			if err != nil {
				t.Fatal(err)
			}
			for _, p := range look.Problems {
				t.Error(p)
			}
			for _, c := range look.Cells {
				if c[0] < 5 || c[1] < 6 {
					t.Errorf("size %d, side %d: a cell of %.2f by %.2f mm", size, n, c[0], c[1])
				}
			}
			for _, c := range look.Ticks {
				if c[0] < 2.2 || c[1] < 2.2 {
					t.Errorf("size %d, side %d: a box of %.2f by %.2f mm", size, n, c[0], c[1])
				}
			}
			if len(look.Cells) < leastCells {
				t.Errorf("side %d has %d cells", n, len(look.Cells))
			}
		}
	}
}

// Vectors, in black: no picture, no shading, no tint that a poor printer
// would break into dots.
func TestPaperIsBlackLinesAndWords(t *testing.T) {
	seen := map[string]bool{}
	for _, op := range record.FormOperators(t, paper(t), record.FormPaper{Made: time.Unix(0, 0)}) {
		seen[op[0]] = true
		switch op[0] {
		case "g", "G":
			if strings.Trim(op[1], " 0.") != "" {
				t.Errorf("a grey of %s", op[1])
			}
		case "rg", "RG", "k", "K", "sc", "SC", "scn", "SCN", "cs", "CS", "sh", "Do", "BI", "gs":
			t.Errorf("operator %s %s: a colour, a picture or a shading", op[1], op[0])
		}
	}
	// Words, lines, and the two grey operators were met at all.
	for _, want := range []string{"Tj", "l", "S", "g", "G"} {
		if !seen[want] {
			t.Errorf("no %s among %q", want, slices.Sorted(maps.Keys(seen)))
		}
	}
}

func TestPaperGolden(t *testing.T) {
	for name, size := range map[string]record.PaperSize{"form-a4.txt": record.A4, "form-letter.txt": record.Letter} {
		var out bytes.Buffer
		if err := record.Form(&out, paper(t), record.FormPaper{Made: time.Unix(0, 0), Size: size}); err != nil {
			t.Fatal(err)
		}
		record.FormGolden(t, name, out.Bytes())
	}
}

// A translation a third longer than English: it is laid out smaller or on more
// lines, or refused; never printed over itself.
func TestPaperInLongerWords(t *testing.T) {
	b := paper(t)
	longer := func(s string) string { return s + strings.Repeat("n", (len(s)+2)/3) }
	for _, parts := range [][]record.Part{b.Front, b.Back} {
		for i, p := range parts {
			if ticks, ok := p.(record.Ticks); ok {
				for q := range ticks.Questions {
					for k, c := range ticks.Questions[q].Choices {
						ticks.Questions[q].Choices[k] = longer(c)
					}
				}
				parts[i] = ticks
			}
		}
	}
	for n := range 2 {
		look, err := record.LookAtForm(b, record.A4, n)
		if err != nil && !errors.Is(err, record.ErrFormFull) {
			t.Fatal(err)
		}
		for _, p := range look.Problems {
			t.Error(p)
		}
	}
}
