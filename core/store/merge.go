package store

import (
	"context"
	"database/sql"
	"encoding/hex"
	"errors"
	"fmt"
	"slices"

	"chinlift/core/timeline"
)

// Merged says what a merge did.
type Merged struct {
	New          int       // lines that were not here
	Known        int       // lines that were
	PrivateAdded int       // known lines that got their private part now
	Forks        int       // new lines that claim a number or an id that another line claims
	Cases        []string  // cases that changed, sorted
	Refused      []Refusal // lines that are not what was written; nothing of them is stored
}

// Refusal is a line that was not taken in.
type Refusal struct {
	Line *timeline.Line
	Err  error // wraps timeline.ErrDamaged or ErrNumber
}

// ErrNumber says that a line's number or tick is beyond what can be counted
// on from.
var ErrNumber = errors.New("number is too high")

const (
	// mergeBatch bounds a transaction of a merge, so that the write-ahead log
	// stays small.
	mergeBatch = 1000
	// maxNumber bounds what may be stored as number or tick: beyond it other
	// readers of JSON are not exact, and one line could use up the ticks.
	maxNumber = 1 << 53
)

// Merge takes in lines from elsewhere. Lines that are stored already, or come
// twice, change nothing, so that any merge can be repeated; the order in which
// lines come does not matter. A line whose hash or commitment does not match
// is refused, the others are stored. On an error part of the lines may be
// stored; merge again.
func (s *Store) Merge(ctx context.Context, lines []*timeline.Line) (Merged, error) {
	var m Merged
	var good []*timeline.Line
	for _, l := range lines {
		if err := sound(l); err != nil {
			m.Refused = append(m.Refused, Refusal{l, err})
		} else {
			good = append(good, l)
		}
	}
	touched := map[string]bool{}
	for chunk := range slices.Chunk(good, mergeBatch) {
		part := Merged{}
		err := s.write(ctx, "merge", func(t *tx) error {
			for _, l := range chunk {
				if err := t.merge(l, &part); err != nil {
					return err
				}
			}
			return nil
		})
		if err != nil && !committed(err) {
			return m, err
		}
		m.New += part.New
		m.Known += part.Known
		m.PrivateAdded += part.PrivateAdded
		m.Forks += part.Forks
		for _, id := range part.Cases {
			touched[id] = true
		}
		m.Cases = sortedKeys(touched)
		if err != nil {
			return m, err
		}
		if err := s.rest(ctx); err != nil {
			return m, err
		}
	}
	return m, nil
}

// rest checkpoints between the transactions of a merge when it is due, since
// a stream of writes leaves the keeper no moment at which the log can restart.
func (s *Store) rest(ctx context.Context) error {
	s.gate.RLock()
	defer s.gate.RUnlock()
	switch {
	case s.db == nil:
		return s.gone
	case s.db.ctx.Err() != nil:
		return ErrSuspended
	case !s.db.keeper.due():
		return nil
	}
	return fault("merge", s.db.keeper.checkpoint(ctx, false))
}

func sound(l *timeline.Line) error {
	if err := l.Verify(); err != nil {
		return err
	}
	if l.Event.Seq > maxNumber || l.Event.Tick > maxNumber {
		return fmt.Errorf("event %s: %w", l.Event.ID, ErrNumber)
	}
	return nil
}

func (t *tx) merge(given *timeline.Line, m *Merged) error {
	l := *given // what is stored may lose its private part; the caller's does not
	h, err := hex.DecodeString(string(l.H))
	if err != nil {
		return err
	}
	var row sql.NullInt64
	var fork, awaited bool
	if _, err := t.get(queryMet, []any{h, l.Event.Log, l.Event.Seq, l.Event.ID}, &row, &fork, &awaited); err != nil {
		return err
	}
	if row.Valid {
		m.Known++
		if l.P == nil {
			return nil
		}
		var whole bool
		if _, err := t.get("SELECT EXISTS (SELECT 1 FROM private WHERE row = ? AND p >= x'01')", []any{row.Int64}, &whole); err != nil || whole {
			return err
		}
		added, err := t.insertPrivate(row.Int64, h, &l)
		if added && err == nil {
			m.PrivateAdded++
			if l.Event.Scope == timeline.ScopeCase {
				m.Cases = append(m.Cases, l.Event.About)
			}
		}
		return err
	}
	if fork {
		m.Forks++
	}
	// A line that meets none of those that are here touches its own case alone.
	cases, err := t.insert(&l, !fork && !awaited && l.Event.Amends == "")
	if err != nil {
		return err
	}
	m.New++
	m.Cases = append(m.Cases, cases...)
	if l.Event.Log == t.head.log && t.head.cause == "" {
		return t.older() // it wrote a line that is not known here
	}
	return nil
}

func sortedKeys(set map[string]bool) []string {
	var all []string
	for k := range set {
		all = append(all, k)
	}
	slices.Sort(all)
	return all
}
