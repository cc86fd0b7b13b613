// Package plain is the plain files: what leaves the companion as JSON lines,
// as CSV and as PDF, and how the lines come in again.
//
// JSON lines are the record itself: the exact bytes of every event, chained,
// so that a file can be checked by itself and taken in anywhere without loss.
// CSV and PDF are readings of it, for a spreadsheet and for paper; they are
// made from the folded cases and cannot be read back. The formats are written
// down in FORMAT.md, with an example, so that they can be read without this
// program.
//
// Names, record numbers and free text go out only when asked for. No file
// name holds any of them.
package plain

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"iter"

	"chinlift/core/timeline"
)

// WriteLines writes lines, each followed by a line feed.
func WriteLines(w io.Writer, lines iter.Seq2[*timeline.Line, error], private bool) error {
	b := bufio.NewWriter(w)
	for l, err := range lines {
		if err != nil {
			return err
		}
		if _, err := b.Write(append(l.Bytes(private), '\n')); err != nil {
			return err
		}
	}
	return b.Flush()
}

// LineError is a line of a file that cannot be read.
type LineError struct {
	Number int // from 1
	Err    error
}

func (e *LineError) Error() string { return fmt.Sprintf("line %d: %v", e.Number, e.Err) }

func (e *LineError) Unwrap() error { return e.Err }

// ErrHalfLine is the reason of a last line that was cut off.
var ErrHalfLine = errors.New("the file ends in the middle of this line")

// longest bounds a line of a file; the longest that can be written is far
// below.
const longest = 4 << 20

var byteOrderMark = []byte("\xef\xbb\xbf")

// ReadLines walks the lines of a file. A line that cannot be read is answered
// as a *LineError, and the reading goes on with the next; any other error ends
// it. A byte order mark at the beginning, blank lines, and a carriage return
// before a line feed are passed over: mail programs and editors put them in.
func ReadLines(r io.Reader) iter.Seq2[*timeline.Line, error] {
	return func(yield func(*timeline.Line, error) bool) {
		b := bufio.NewReaderSize(r, 64<<10)
		for n := 1; ; n++ {
			text, err := readLine(b)
			if errors.Is(err, errTooLong) {
				if !yield(nil, &LineError{n, err}) {
					return
				}
				continue
			}
			if err != nil && !errors.Is(err, io.EOF) {
				yield(nil, err)
				return
			}
			ended := err != nil
			if n == 1 {
				text = bytes.TrimPrefix(text, byteOrderMark)
			}
			if text = bytes.TrimRight(text, "\r\n"); len(bytes.TrimSpace(text)) > 0 {
				l, err := timeline.ParseLine(text)
				switch {
				case err == nil:
					if !yield(&l, nil) {
						return
					}
				case ended:
					yield(nil, &LineError{n, fmt.Errorf("%w: %w", ErrHalfLine, err)})
					return
				default:
					if !yield(nil, &LineError{n, err}) {
						return
					}
				}
			}
			if ended {
				return
			}
		}
	}
}

var errTooLong = fmt.Errorf("it is longer than %d bytes", longest)

// readLine reads up to and including a line feed. Of a line that is too long
// the rest is passed over.
func readLine(b *bufio.Reader) ([]byte, error) {
	var line []byte
	long := false
	for {
		part, err := b.ReadSlice('\n')
		if !long {
			line = append(line, part...) // a copy: the slice is the reader's own
		}
		if len(line) > longest {
			long, line = true, nil
		}
		if errors.Is(err, bufio.ErrBufferFull) {
			continue
		}
		if long && (err == nil || errors.Is(err, io.EOF)) {
			return nil, errTooLong // at the end of the file the next read finds nothing
		}
		return line, err
	}
}
