package plain

import (
	"context"
	"errors"
	"io"
	"iter"
	"maps"
	"slices"

	"chinlift/core/store"
	"chinlift/core/timeline"
)

// Merger takes in lines: a companion.
type Merger interface {
	Merge(ctx context.Context, lines []*timeline.Line) (store.Merged, error)
}

// Replayed says what became of a file. Of the lines that were not taken in,
// only the first of each sort are named, and of those that were refused only
// the envelope: a file may hold any number.
type Replayed struct {
	store.Merged
	Unread []*LineError // lines that cannot be read
	Faults int          // lines that were not taken in, named or not
}

// namedFaults is how many faults of a sort are named: more than anybody reads.
const namedFaults = 100

// replayBatch is how many lines are taken in at once.
const replayBatch = 1000

// Replay takes in the lines of a file: a union, so that taking in a file twice
// changes nothing. Lines that cannot be read, and lines that do not match
// their hash, are counted and named, and the others taken in all the same.
func Replay(ctx context.Context, r io.Reader, dst Merger) (res Replayed, err error) {
	cases := map[string]bool{}
	defer func() { res.settle(cases) }()
	flush := func(lines []*timeline.Line) error {
		m, err := dst.Merge(ctx, lines)
		res.take(m, cases)
		return err
	}
	for part := range batches(r) {
		res.Faults += part.faults
		res.Unread = append(res.Unread, part.unread[:min(len(part.unread), namedFaults-len(res.Unread))]...)
		// What was read before the file failed is taken in all the same.
		if err := errors.Join(part.err, flush(part.lines)); err != nil {
			return res, err
		}
	}
	return res, nil
}

// take adds what became of some of the lines.
func (res *Replayed) take(m store.Merged, cases map[string]bool) {
	res.New += m.New
	res.Known += m.Known
	res.PrivateAdded += m.PrivateAdded
	res.Forks += m.Forks
	res.Faults += len(m.Refused)
	for _, r := range m.Refused[:min(len(m.Refused), namedFaults-len(res.Refused))] {
		res.Refused = append(res.Refused, store.Refusal{Line: &timeline.Line{H: r.Line.H, Event: envelope(&r.Line.Event)}, Err: r.Err})
	}
	for _, id := range m.Cases {
		cases[id] = true
	}
}

// settle lists the cases that changed.
func (res *Replayed) settle(cases map[string]bool) { res.Cases = slices.Sorted(maps.Keys(cases)) }

// batch is some lines of a file.
type batch struct {
	lines  []*timeline.Line
	unread []*LineError // the first of those that cannot be read
	faults int          // how many there are
	err    error        // why the file ends here
}

// batches reads a file some lines at a time, and the next ones while these are
// taken in.
func batches(r io.Reader) iter.Seq[batch] {
	return func(yield func(batch) bool) {
		read, stop := make(chan batch), make(chan struct{})
		go func() {
			defer close(read)
			var b batch
			hand := func() bool {
				select {
				case read <- b:
					b = batch{}
					return true
				case <-stop:
					return false
				}
			}
			for l, err := range ReadLines(r) {
				var bad *LineError
				switch {
				case errors.As(err, &bad):
					if b.faults++; len(b.unread) < namedFaults {
						b.unread = append(b.unread, bad)
					}
				case err != nil:
					b.err = err
				default:
					b.lines = append(b.lines, l)
				}
				if len(b.lines) == replayBatch && !hand() {
					return
				}
			}
			hand()
		}()
		defer func() {
			close(stop)
			for range read { // the reader is the caller's again once this ends
			}
		}()
		for b := range read {
			if !yield(b) {
				return
			}
		}
	}
}

// envelope copies what names an event, without its data.
func envelope(e *timeline.Event) timeline.Event {
	return timeline.Event{ID: e.ID, Log: e.Log, Seq: e.Seq, Tick: e.Tick, Scope: e.Scope, Kind: e.Kind}
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
