package store

import (
	"context"
	"database/sql"
)

// Figure is what is kept of a case so that counting need not read it again. It
// is a projection: nothing of the record is only there.
type Figure struct {
	Case    string
	Touched int64  // the last line that changed the case when it was worked out
	Data    []byte // nil: there is none that still holds
}

const queryFigures = `SELECT cases.id, cases.touched, figure.data FROM cases
	LEFT JOIN figure ON figure.id = cases.id AND figure.touched = cases.touched AND figure.form = ?1`

// Figures walks all cases in one read, each with what is kept of it in this
// form, if the case was not touched since. The data hold until yield returns.
func (s *Store) Figures(ctx context.Context, form int64, yield func(Figure) error) error {
	return s.read(ctx, "figures", func(ctx context.Context, q querier) error {
		return each(ctx, q, queryFigures, []any{form}, func(rows *sql.Rows) error {
			var f Figure
			if err := rows.Scan(&f.Case, &f.Touched, (*sql.RawBytes)(&f.Data)); err != nil {
				return err
			}
			return yield(f)
		})
	})
}

// KeepFigures keeps what was worked out of cases, in one transaction. What is
// kept of a case that was touched meanwhile is never used.
func (s *Store) KeepFigures(ctx context.Context, form int64, figures []Figure) error {
	return s.write(ctx, "figures", func(t *tx) error {
		for _, f := range figures {
			if err := t.exec(`INSERT INTO figure (id, touched, form, data) VALUES (?1, ?2, ?3, ?4)
				ON CONFLICT (id) DO UPDATE SET touched = ?2, form = ?3, data = ?4`, f.Case, f.Touched, form, f.Data); err != nil {
				return err
			}
		}
		return nil
	})
}

// DropFigures throws all of it away.
func (s *Store) DropFigures(ctx context.Context) error {
	return s.write(ctx, "figures", func(t *tx) error { return t.exec("DELETE FROM figure") })
}
