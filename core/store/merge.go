package store

import (
	"context"
	"database/sql"
	"errors"
	"slices"

	"chinlift/core/timeline"
)

// Merged says what became of lines from elsewhere.
type Merged struct {
	New          int
	Known        int
	PrivateAdded int      // lines that were here without their private part
	Cases        []string // touched, sorted
	Refused      []Refusal
	Forks        int // lines that claim a number that another line claims
}

// Refusal is a line that was not taken in, and why.
type Refusal struct {
	Line *timeline.Line
	Err  error
}

// mergeBatch bounds one transaction, so that a large file does not hold up a
// tap for long.
const mergeBatch = 2000

// Merge takes in lines from elsewhere: a union. Each is verified; one that
// does not match its hash or its commitment is refused. Taking in the same
// lines again changes nothing. A private part that was destroyed here does
// not come back. An error leaves what earlier batches took in.
func (s *Store) Merge(ctx context.Context, lines []*timeline.Line) (Merged, error) {
	var m Merged
	touched := map[string]bool{}
	for batch := range slices.Chunk(lines, mergeBatch) {
		if err := s.mergeBatch(ctx, batch, &m, touched); err != nil {
			return m, err
		}
	}
	for id := range touched {
		m.Cases = append(m.Cases, id)
	}
	slices.Sort(m.Cases)
	return m, nil
}

func (s *Store) mergeBatch(ctx context.Context, batch []*timeline.Line, total *Merged, touched map[string]bool) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	var m Merged
	destroys := false
	err := s.writeLocked(ctx, "merge", func(tx *sql.Tx) error {
		m, destroys = Merged{}, false
		for _, l := range batch {
			if err := l.Verify(); err != nil {
				m.Refused = append(m.Refused, Refusal{l, err})
				continue
			}
			if err := s.mergeLine(ctx, tx, l, &m); err != nil {
				return err
			}
			if _, ok := l.Payload.(*timeline.IdentityDestroyed); ok {
				destroys = true
			}
			if l.Event.Scope == timeline.ScopeCase {
				touched[l.Event.About] = true
			}
			if p, ok := l.Payload.(*timeline.Moved); ok {
				touched[p.From] = true
			}
		}
		return nil
	})
	if err != nil {
		return err
	}
	total.New += m.New
	total.Known += m.Known
	total.PrivateAdded += m.PrivateAdded
	total.Forks += m.Forks
	total.Refused = append(total.Refused, m.Refused...)
	s.lines += int64(m.New)
	s.stale = true
	if s.since += m.New; destroys {
		return s.checkpoint(ctx, s.w)
	}
	if s.since >= checkpointEvery {
		s.ask()
	}
	return nil
}

func (s *Store) mergeLine(ctx context.Context, tx *sql.Tx, l *timeline.Line, m *Merged) error {
	in := l
	if l.P != nil {
		var gone int
		if err := tx.QueryRowContext(ctx, `SELECT count(*) FROM destroyed WHERE id = ?`, l.Event.ID).Scan(&gone); err != nil {
			return err
		}
		if gone > 0 {
			bare := l.WithoutPrivate()
			in = &bare
		}
	}
	var row int64
	var has bool
	err := tx.QueryRowContext(ctx, `SELECT line.row, private.row IS NOT NULL FROM line LEFT JOIN private USING (row) WHERE h = ?`, string(l.H)).Scan(&row, &has)
	switch {
	case err == nil:
		m.Known++
		if in.P != nil && !has {
			m.PrivateAdded++
			_, err = tx.StmtContext(ctx, s.insert.private).ExecContext(ctx, row, in.P)
		}
		return err
	case !errors.Is(err, sql.ErrNoRows):
		return err
	}
	var rival int
	if err := tx.QueryRowContext(ctx, `SELECT count(*) FROM line WHERE log = ? AND seq = ?`, l.Event.Log, l.Event.Seq).Scan(&rival); err != nil {
		return err
	}
	if rival > 0 {
		m.Forks++
	}
	m.New++
	_, err = s.put(ctx, tx, in)
	return err
}
