package store

import (
	"context"
	"database/sql"
	"math"

	"chinlift/core/timeline"
)

// The queries. A test sees to it that none of them walks the whole table of
// lines but those that must.
const (
	// The lines about one thing; the roots of those that are corrections; all
	// corrections of all those roots; and whatever claims a number or an id
	// of one of these, wherever it belongs, since the fold sets both aside.
	queryAbout = `WITH
	root (id) AS (SELECT DISTINCT coalesce(amends, id) FROM line WHERE about = ?1),
	part (row, id, log, seq) AS (
		SELECT row, id, log, seq FROM line WHERE about = ?1
		UNION SELECT l.row, l.id, l.log, l.seq FROM root CROSS JOIN line l ON l.id = root.id
		UNION SELECT l.row, l.id, l.log, l.seq FROM root CROSS JOIN line l ON l.amends = root.id),
	whole (row) AS (
		SELECT row FROM part
		UNION SELECT l.row FROM part CROSS JOIN line l ON l.log = part.log AND l.seq = part.seq
		UNION SELECT l.row FROM part CROSS JOIN line l ON l.id = part.id)
	SELECT ` + columns + ` FROM whole CROSS JOIN line ON line.row = whole.row` + withPart

	// The second condition lets the partial index serve; for cases there is
	// none, and all are read.
	queryScope     = "SELECT " + columns + tables + " WHERE line.scope = ?1 AND line.scope <> 'case'"
	queryScopeCase = "SELECT " + columns + tables + " WHERE line.scope = ?1"

	// A page of everything, from a place on, without what came after the walk
	// began: rows are numbered in the order in which they come.
	queryPage = "SELECT " + columns + ", line.tick, line.log, line.seq" + tables +
		" WHERE (line.tick, line.log, line.seq, line.row) > (?1, ?2, ?3, ?4) AND line.row <= ?5" +
		" ORDER BY line.tick, line.log, line.seq, line.row LIMIT ?6"

	// The cases of everything that hangs together with a line that was just
	// stored, or with one that claims its number or its id.
	queryTouches = `WITH root (id) AS (
		SELECT coalesce(amends, id) FROM line WHERE log = ?1 AND seq = ?2
		UNION SELECT coalesce(amends, id) FROM line WHERE id = ?3)
	SELECT l.about FROM root CROSS JOIN line l ON l.id = root.id WHERE l.scope = 'case'
	UNION SELECT l.about FROM root CROSS JOIN line l ON l.amends = root.id WHERE l.scope = 'case'`

	// What a line from elsewhere meets: itself, whatever claims its number or
	// its id, corrections that wait for it.
	queryMet = `SELECT (SELECT row FROM line WHERE h = ?1), EXISTS (SELECT 1 FROM line WHERE log = ?2 AND seq = ?3) OR EXISTS (SELECT 1 FROM line WHERE id = ?4),
		EXISTS (SELECT 1 FROM line WHERE amends = ?4)`

	queryUnsettled = "SELECT id FROM cases WHERE touched > settled ORDER BY touched DESC"
	queryRecent    = "SELECT id, first, last FROM cases WHERE last < ?1 ORDER BY last DESC LIMIT ?2"
	queryCases     = "SELECT count(*) FROM cases"
)

// Case gives all lines about a case, with the roots of corrections about it
// and every correction of those roots, in entry order. It serves for anything
// that an event can be about: a person, a setting, an equipment list of a day.
func (s *Store) Case(ctx context.Context, id string) ([]*timeline.Line, error) {
	return s.linesAbout(ctx, id, (*stored).line)
}

// Scope gives all lines of a scope, in entry order.
func (s *Store) Scope(ctx context.Context, scope timeline.Scope) ([]*timeline.Line, error) {
	query := queryScope
	if scope == timeline.ScopeCase {
		query = queryScopeCase
	}
	return s.lines(ctx, "scope", (*stored).line, func(ctx context.Context, q querier) (*sql.Rows, error) {
		return q.QueryContext(ctx, query, string(scope))
	})
}

func (s *Store) linesAbout(ctx context.Context, about string, made func(*stored, *seals) (*timeline.Line, error)) ([]*timeline.Line, error) {
	return s.lines(ctx, "case", made, func(ctx context.Context, _ querier) (*sql.Rows, error) { return s.db.about.QueryContext(ctx, about) })
}

// lines gives the lines that ask finds, each as it is made of its row, in entry
// order.
func (s *Store) lines(ctx context.Context, op string, made func(*stored, *seals) (*timeline.Line, error), ask func(context.Context, querier) (*sql.Rows, error)) (lines []*timeline.Line, err error) {
	err = s.read(ctx, op, func(ctx context.Context, q querier) error {
		rows, err := ask(ctx, q)
		if err != nil {
			return err
		}
		defer rows.Close()
		for rows.Next() {
			var r stored
			if err := rows.Scan(r.into()...); err != nil {
				return err
			}
			l, err := made(&r, &s.seals)
			if err != nil {
				return err
			}
			lines = append(lines, l)
		}
		return rows.Err()
	})
	if err != nil {
		return nil, err
	}
	timeline.SortLines(lines)
	return lines, nil
}

// allPage is how many lines All holds at a time.
const allPage = 500

// place is where a walk over everything stands.
type place struct {
	tick int64
	log  string
	seq  int64
	row  int64
}

// All gives every line in entry order, as it was when the call began, and
// holds a page of them at a time. It ends with the error of yield, which may
// call the store. ErrSuspended when the store is suspended meanwhile.
func (s *Store) All(ctx context.Context, yield func(*timeline.Line) error) error {
	var last int64
	err := s.read(ctx, "all", func(ctx context.Context, q querier) (err error) {
		last, err = countLines(ctx, q)
		return err
	})
	if err != nil {
		return err
	}
	// Lines that claim one number stand in the order of the fold, not of
	// their arrival: they are held back until the next number.
	var tied []*timeline.Line
	flush := func() error {
		timeline.SortLines(tied)
		for _, l := range tied {
			if err := yield(l); err != nil {
				return err
			}
		}
		tied = tied[:0]
		return nil
	}
	var at place
	for {
		page, next, err := s.page(ctx, at, last)
		if err != nil {
			return err
		}
		for _, l := range page {
			if len(tied) > 0 && !samePlace(tied[0], l) {
				if err := flush(); err != nil {
					return err
				}
			}
			tied = append(tied, l)
		}
		if len(page) < allPage {
			return flush()
		}
		at = next
	}
}

func samePlace(a, b *timeline.Line) bool {
	return a.Event.Tick == b.Event.Tick && a.Event.Log == b.Event.Log && a.Event.Seq == b.Event.Seq
}

func (s *Store) page(ctx context.Context, at place, last int64) (lines []*timeline.Line, next place, err error) {
	err = s.read(ctx, "all", func(ctx context.Context, q querier) error {
		rows, err := q.QueryContext(ctx, queryPage, at.tick, at.log, at.seq, at.row, last, allPage)
		if err != nil {
			return err
		}
		defer rows.Close()
		for rows.Next() {
			var r stored
			if err := rows.Scan(append(r.into(), &next.tick, &next.log, &next.seq)...); err != nil {
				return err
			}
			next.row = r.row
			l, err := r.line(&s.seals)
			if err != nil {
				return err
			}
			lines = append(lines, l)
		}
		return rows.Err()
	})
	return lines, next, err
}

// Unsettled gives the cases that have been touched since they were last
// settled, the one touched last first.
func (s *Store) Unsettled(ctx context.Context) (ids []string, err error) {
	err = s.read(ctx, "unsettled", func(ctx context.Context, q querier) error {
		return each(ctx, q, queryUnsettled, nil, func(rows *sql.Rows) error {
			var id string
			err := rows.Scan(&id)
			ids = append(ids, id)
			return err
		})
	})
	return ids, err
}

// CaseRef is a case in the list of cases.
type CaseRef struct {
	ID    string
	First int64 // number of the first line about it, in the order of arrival
	Last  int64 // and of the last
}

// Recent gives a page of the list of cases, the one with the last line first.
// before is the Last of the last one of the page before; 0 begins.
func (s *Store) Recent(ctx context.Context, limit int, before int64) (refs []CaseRef, err error) {
	if before <= 0 {
		before = math.MaxInt64
	}
	err = s.read(ctx, "recent", func(ctx context.Context, q querier) error {
		return each(ctx, q, queryRecent, []any{before, limit}, func(rows *sql.Rows) error {
			var r CaseRef
			err := rows.Scan(&r.ID, &r.First, &r.Last)
			refs = append(refs, r)
			return err
		})
	})
	return refs, err
}

// Count gives how many cases and lines are stored.
func (s *Store) Count(ctx context.Context) (cases, lines int64, err error) {
	err = s.read(ctx, "count", func(ctx context.Context, q querier) error {
		if err := q.QueryRowContext(ctx, queryCases).Scan(&cases); err != nil {
			return err
		}
		lines, err = countLines(ctx, q)
		return err
	})
	return cases, lines, err
}

// each runs f on every row.
func each(ctx context.Context, q querier, query string, args []any, f func(*sql.Rows) error) error {
	rows, err := q.QueryContext(ctx, query, args...)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		if err := f(rows); err != nil {
			return err
		}
	}
	return rows.Err()
}
