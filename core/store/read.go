package store

import (
	"context"
	"database/sql"
	"fmt"

	"chinlift/core/timeline"
)

// reader gives the pool to read from.
func (s *Store) reader() (*sql.DB, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.state != nil {
		return nil, s.state
	}
	return s.r, nil
}

const columns = `SELECT e, p, h FROM line LEFT JOIN private USING (row) `

// query walks lines. A line that cannot be read stops it: the bytes in the
// database are then not what was written, which Verify can tell more about.
func (s *Store) query(ctx context.Context, yield func(*timeline.Line) error, rest string, args ...any) error {
	db, err := s.reader()
	if err != nil {
		return err
	}
	rows, err := db.QueryContext(ctx, columns+rest, args...)
	if err != nil {
		return fault("read", err)
	}
	defer rows.Close()
	for rows.Next() {
		var e, p []byte
		var h timeline.Hash
		if err := rows.Scan(&e, &p, &h); err != nil {
			return fault("read", err)
		}
		l, err := timeline.ReadLine(e, p, h)
		if err != nil {
			return &Error{CodeDamaged, "read", fmt.Errorf("line %s: %w", h, err)}
		}
		if err := yield(&l); err != nil {
			return err
		}
	}
	return fault("read", rows.Err())
}

func (s *Store) collect(ctx context.Context, rest string, args ...any) ([]*timeline.Line, error) {
	var ls []*timeline.Line
	err := s.query(ctx, func(l *timeline.Line) error { ls = append(ls, l); return nil }, rest, args...)
	return ls, err
}

// Case gives the lines about a case, a person or anything else that events
// are about, with the roots of the corrections among them and every
// correction of those roots, in entry order.
func (s *Store) Case(ctx context.Context, about string) ([]*timeline.Line, error) {
	return s.collect(ctx, `WHERE row IN (
		WITH root(id) AS (
			SELECT ifnull(amends, id) FROM line WHERE about = ?1
		)
		SELECT row FROM line WHERE about = ?1
		UNION SELECT line.row FROM line JOIN root ON line.id = root.id
		UNION SELECT line.row FROM line JOIN root ON line.amends = root.id
	) ORDER BY tick, log, seq, h`, about)
}

// Scope gives every line of a scope, in entry order.
func (s *Store) Scope(ctx context.Context, scope timeline.Scope) ([]*timeline.Line, error) {
	return s.collect(ctx, `WHERE scope = ? ORDER BY tick, log, seq, h`, string(scope))
}

// All walks every line in entry order, one at a time.
func (s *Store) All(ctx context.Context, yield func(*timeline.Line) error) error {
	return s.query(ctx, yield, `ORDER BY tick, log, seq, h`)
}

// CaseRef is a case with the rows of its first and last line.
type CaseRef struct {
	ID          string
	First, Last int64
}

// Recent gives cases, the one touched last first. before is the Last of the
// last case of the page before, or 0.
func (s *Store) Recent(ctx context.Context, limit int, before int64) ([]CaseRef, error) {
	db, err := s.reader()
	if err != nil {
		return nil, err
	}
	rows, err := db.QueryContext(ctx, `SELECT id, first, last FROM cases WHERE ?1 = 0 OR last < ?1 ORDER BY last DESC, id LIMIT ?2`, before, limit)
	if err != nil {
		return nil, fault("read", err)
	}
	defer rows.Close()
	var all []CaseRef
	for rows.Next() {
		var c CaseRef
		if err := rows.Scan(&c.ID, &c.First, &c.Last); err != nil {
			return nil, fault("read", err)
		}
		all = append(all, c)
	}
	return all, fault("read", rows.Err())
}

// Unsettled gives the cases that are not known to be closed, the one touched
// last first.
func (s *Store) Unsettled(ctx context.Context) ([]string, error) {
	db, err := s.reader()
	if err != nil {
		return nil, err
	}
	rows, err := db.QueryContext(ctx, `SELECT id FROM cases WHERE settled = 0 ORDER BY last DESC, id`)
	if err != nil {
		return nil, fault("read", err)
	}
	defer rows.Close()
	var ids []string
	for rows.Next() {
		var id string
		if err := rows.Scan(&id); err != nil {
			return nil, fault("read", err)
		}
		ids = append(ids, id)
	}
	return ids, fault("read", rows.Err())
}

// Settle notes that a case was found closed. The next line about it unsettles
// it again.
func (s *Store) Settle(ctx context.Context, id string) error {
	return s.write(ctx, "settle", func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, `UPDATE cases SET settled = 1 WHERE id = ?`, id)
		return err
	})
}

// Count gives how many cases and lines are stored.
func (s *Store) Count(ctx context.Context) (cases, lines int64, err error) {
	db, err := s.reader()
	if err != nil {
		return 0, 0, err
	}
	err = db.QueryRowContext(ctx, `SELECT (SELECT count(*) FROM cases), (SELECT ifnull(max(row), 0) FROM line)`).Scan(&cases, &lines)
	return cases, lines, fault("read", err)
}
