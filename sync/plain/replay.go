package plain

import (
	"context"
	"errors"
	"io"

	"chinlift/core/store"
	"chinlift/core/timeline"
)

// Merger takes in lines: a companion.
type Merger interface {
	Merge(ctx context.Context, lines []*timeline.Line) (store.Merged, error)
}

// Replayed says what became of a file.
type Replayed struct {
	store.Merged
	Unread []*LineError // lines that cannot be read
}

// replayBatch is how many lines are taken in at once.
const replayBatch = 1000

// Replay takes in the lines of a file: a union, so that taking in a file twice
// changes nothing. Lines that cannot be read, and lines that do not match
// their hash, are counted and named, and the others taken in all the same.
func Replay(ctx context.Context, r io.Reader, dst Merger) (Replayed, error) {
	var res Replayed
	var batch []*timeline.Line
	flush := func() error {
		m, err := dst.Merge(ctx, batch)
		res.New += m.New
		res.Known += m.Known
		res.PrivateAdded += m.PrivateAdded
		res.Forks += m.Forks
		res.Refused = append(res.Refused, m.Refused...)
		res.Cases = append(res.Cases, m.Cases...)
		batch = nil
		return err
	}
	for l, err := range ReadLines(r) {
		var bad *LineError
		if errors.As(err, &bad) {
			res.Unread = append(res.Unread, bad)
			continue
		}
		if err != nil {
			// What was read before the file failed is taken in all the same.
			return res, errors.Join(err, flush())
		}
		if batch = append(batch, l); len(batch) == replayBatch {
			if err := flush(); err != nil {
				return res, err
			}
		}
	}
	return res, flush()
}

// Checked is what a check of a file found.
type Checked struct {
	store.Report
	Unread []*LineError
}

// Check verifies a file by itself. A file that holds one case verifies line by
// line; whether anything is missing between them is then not known.
func Check(r io.Reader) (Checked, error) {
	var c Checked
	var lines []*timeline.Line
	for l, err := range ReadLines(r) {
		var bad *LineError
		if errors.As(err, &bad) {
			c.Unread = append(c.Unread, bad)
			continue
		}
		if err != nil {
			return c, err
		}
		lines = append(lines, l)
	}
	c.Report = store.VerifyLines(lines)
	return c, nil
}
