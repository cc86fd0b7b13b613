package record

import (
	"errors"
	"fmt"
	"io"
	"strings"
)

// KeyPage is a key to be printed and put away: in groups, for the eye, and as
// squares, for a camera. All words are finished.
type KeyPage struct {
	Title  string
	Lines  []string // what it is for and how it is kept, above the key
	Groups []string
	// Squares are the dark squares of the code, row by row; each row has as
	// many as there are rows.
	Squares [][]bool
	Below   []string // under the code
	Foot    string
}

// ErrKeyValue says that a KeyPage has something that a page of it cannot have.
var ErrKeyValue = errors.New("record: the page of a key has a value that it cannot have")

// How the page is used, in points.
const (
	keyMargin   = 56.0
	keyTitle    = 20.0
	keyText     = 11.0
	keyGroup    = 24.0
	keyCode     = 200.0 // side of the code
	keyInRow    = 4     // groups in a row
	keyLeading  = 1.5
	keyQuietest = 4 // squares of white around a code (ISO/IEC 18004, 2015, from memory)
)

// WriteKeyPage writes one page as PDF.
//
// Equal arguments give equal bytes. Errors are ErrNoDate, ErrFormLetters,
// ErrFormFull, ErrKeyValue and those of w; with the first four nothing is
// written.
func WriteKeyPage(w io.Writer, k *KeyPage, o Paper) error {
	if o.Made.IsZero() {
		return ErrNoDate
	}
	if len(k.Groups) == 0 || len(k.Squares) == 0 {
		return fmt.Errorf("%w: there is no key", ErrKeyValue)
	}
	for _, row := range k.Squares {
		if len(row) != len(k.Squares) {
			return fmt.Errorf("%w: the code is not square", ErrKeyValue)
		}
	}
	texts := append(append(append([]string{k.Title, k.Foot}, k.Lines...), k.Groups...), k.Below...)
	for _, t := range texts {
		for _, r := range t {
			if !heavy().has(r) && r != ' ' {
				return fmt.Errorf("%w: %q", ErrFormLetters, r)
			}
		}
	}
	width, height := o.Size.points()
	doc := newDocument(o, k.Title)
	doc.AddPage()
	y := keyMargin
	text := func(size float64, style, t string, most float64) {
		doc.SetFont("sans", style, size)
		for _, line := range doc.SplitText(t, most) {
			y += size * keyLeading
			doc.Text(keyMargin, y, line)
		}
	}
	text(keyTitle, "B", k.Title, width-2*keyMargin)
	y += keyText
	for _, t := range k.Lines {
		text(keyText, "", t, width-2*keyMargin)
	}
	y += keyGroup
	for i := 0; i < len(k.Groups); i += keyInRow {
		text(keyGroup, "B", strings.Join(k.Groups[i:min(i+keyInRow, len(k.Groups))], "   "), width-2*keyMargin)
	}
	y += keyGroup
	n := len(k.Squares) + 2*keyQuietest
	side := keyCode / float64(n)
	doc.SetFillColor(0, 0, 0)
	for r, row := range k.Squares {
		for c, dark := range row {
			if dark {
				doc.Rect(keyMargin+float64(c+keyQuietest)*side, y+float64(r+keyQuietest)*side, side, side, "F")
			}
		}
	}
	y += keyCode
	for _, t := range k.Below {
		text(keyText, "", t, width-2*keyMargin)
	}
	if y > height-2*keyMargin {
		return ErrFormFull
	}
	doc.SetFont("sans", "", keyText-2)
	doc.Text(keyMargin, height-keyMargin, k.Foot)
	return doc.Output(w)
}
