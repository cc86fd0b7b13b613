package plain

import (
	"context"
	"errors"
	"io"
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
	var batch []*timeline.Line
	cases := map[string]bool{}
	defer func() { res.Cases = slices.Sorted(maps.Keys(cases)) }()
	flush := func() error {
		m, err := dst.Merge(ctx, batch)
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
		batch = nil
		return err
	}
	for l, err := range ReadLines(r) {
		var bad *LineError
		if errors.As(err, &bad) {
			if res.Faults++; len(res.Unread) < namedFaults {
				res.Unread = append(res.Unread, bad)
			}
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
