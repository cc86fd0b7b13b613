package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"sync"

	"chinlift/core/timeline"
)

// The queries of a walk over everything, thing by thing. All but the first go
// over a whole index, once for a walk.
const (
	queryNear = "SELECT line.about, " + columns + " FROM json_each(?1) AS thing CROSS JOIN line ON line.about = thing.value AND line.row <= ?2" + withPart

	// Things whose lines do not tell their story alone: something of another is
	// corrected, or a number or an id is claimed twice.
	queryAcross      = `SELECT r.about, c.about FROM line c CROSS JOIN line r ON r.id = c.amends AND r.about <> c.about WHERE c.amends IS NOT NULL`
	queryNumberTwice = `SELECT l.about, l.about FROM (SELECT log, seq FROM line GROUP BY log, seq HAVING count(*) > 1) AS twice CROSS JOIN line l ON l.log = twice.log AND l.seq = twice.seq`
	queryIDTwice     = `SELECT l.about, l.about FROM (SELECT id FROM line GROUP BY id HAVING count(*) > 1) AS twice CROSS JOIN line l ON l.id = twice.id`

	queryElsewhere = "SELECT DISTINCT about FROM line WHERE scope <> 'case' ORDER BY about"
)

// Walk reads everything thing by thing, as it was when the walk began. Several
// may ask it at once.
type Walk struct {
	s       *Store
	last    int64           // row of the last line that is part of it
	tangled map[string]bool // things whose lines do not tell their story alone
}

// Walk begins one.
func (s *Store) Walk(ctx context.Context) (*Walk, error) {
	w := &Walk{s: s, tangled: map[string]bool{}}
	// The number first: what comes after it may tangle more, and no less.
	err := s.read(ctx, "walk", func(ctx context.Context, q querier) (err error) {
		w.last, err = countLines(ctx, q)
		return err
	})
	if err != nil {
		return nil, err
	}
	var asked sync.WaitGroup
	var mu sync.Mutex
	var errs []error
	for _, query := range []string{queryAcross, queryNumberTwice, queryIDTwice} {
		asked.Go(func() {
			var found []string
			err := s.read(ctx, "walk", func(ctx context.Context, q querier) error {
				return each(ctx, q, query, nil, func(rows *sql.Rows) error {
					var a, b string
					err := rows.Scan(&a, &b)
					found = append(found, a, b)
					return err
				})
			})
			mu.Lock()
			defer mu.Unlock()
			errs = append(errs, err)
			for _, about := range found {
				w.tangled[about] = true
			}
		})
	}
	asked.Wait()
	return w, errors.Join(errs...)
}

// Elsewhere gives what the lines that are about no case are about, sorted.
func (s *Store) Elsewhere(ctx context.Context) (abouts []string, err error) {
	err = s.read(ctx, "elsewhere", func(ctx context.Context, q querier) error {
		return each(ctx, q, queryElsewhere, nil, func(rows *sql.Rows) error {
			var about string
			err := rows.Scan(&about)
			abouts = append(abouts, about)
			return err
		})
	})
	return abouts, err
}

// Bare gives the lines that Case gives, read without their payloads, see
// timeline.ReadBare.
func (s *Store) Bare(ctx context.Context, about string) ([]*timeline.Line, error) {
	return s.linesAbout(ctx, about, (*stored).bare)
}

// Bare gives the lines from which the story of each of these things is folded,
// in their order, those that Case gives; but read without their payloads, see
// timeline.ReadBare.
func (w *Walk) Bare(ctx context.Context, abouts []string) (stories [][]*timeline.Line, err error) {
	stories = make([][]*timeline.Line, len(abouts))
	place := make(map[string]int, len(abouts))
	var alone []string
	for i, about := range abouts {
		if place[about] = i; !w.tangled[about] {
			alone = append(alone, about)
		}
	}
	given, err := json.Marshal(alone)
	if err != nil {
		return nil, err
	}
	err = w.s.read(ctx, "walk", func(ctx context.Context, q querier) error {
		at := -1
		take := func(r *stored) error {
			l, err := r.bare(&w.s.seals)
			stories[at] = append(stories[at], l)
			return err
		}
		var about sql.RawBytes
		err := each(ctx, q, queryNear, []any{string(given), w.last}, func(rows *sql.Rows) error {
			var r stored
			if err := rows.Scan(append([]any{&about}, r.into()...)...); err != nil {
				return err
			}
			if at < 0 || abouts[at] != string(about) {
				at = place[string(about)]
			}
			return take(&r)
		})
		if err != nil {
			return err
		}
		for i, about := range abouts {
			if !w.tangled[about] {
				continue
			}
			at = i
			if err := each(ctx, q, queryAbout, []any{about}, func(rows *sql.Rows) error {
				var r stored
				if err := rows.Scan(r.into()...); err != nil || r.row > w.last {
					return err
				}
				return take(&r)
			}); err != nil {
				return err
			}
		}
		return nil
	})
	return stories, err
}
