package record

import (
	"bytes"
	"errors"
	"strings"
	"time"

	"codeberg.org/go-pdf/fpdf"
	"github.com/go-fonts/dejavu/dejavusans"
	"github.com/go-fonts/dejavu/dejavusansbold"
)

// Paper says what the page itself cannot know.
type Paper struct {
	// Made is the date of the document. It is asked for, not read from a
	// clock, so that the same values printed twice are the same bytes.
	Made time.Time
	Size PaperSize
}

// ErrNoDate says that Paper.Made is missing.
var ErrNoDate = errors.New("record: the date of printing is missing")

// PaperSize is a size of paper.
type PaperSize uint8

// The sizes that everything here is laid out for. Any other is taken for A4.
const (
	A4     PaperSize = iota // ISO 216: 210 x 297 mm
	Letter                  // ANSI A: 8.5 x 11 inches
)

// A4 in points.
const pageWidth, pageHeight = 595.28, 841.89

func (s PaperSize) points() (width, height float64) {
	if s == Letter {
		return 612, 792
	}
	return pageWidth, pageHeight
}

// newDocument begins a document of points, with the fonts and without margins:
// equal arguments give equal bytes.
func newDocument(o Paper, title string) *fpdf.Fpdf {
	size := "A4"
	if o.Size == Letter {
		size = "Letter"
	}
	doc := fpdf.New("P", "pt", size, "")
	doc.SetCatalogSort(true)
	doc.SetCreationDate(o.Made.UTC())
	doc.SetModificationDate(o.Made.UTC())
	doc.SetProducer("Chinlift", true)
	doc.SetTitle(strings.TrimSpace(clean(title)), true)
	doc.SetAutoPageBreak(false, 0)
	doc.SetMargins(0, 0, 0)
	// The writer of the subset works on the bytes that it is given.
	doc.AddUTF8FontFromBytes("sans", "", bytes.Clone(dejavusans.TTF))
	doc.AddUTF8FontFromBytes("sans", "B", bytes.Clone(dejavusansbold.TTF))
	return doc
}
