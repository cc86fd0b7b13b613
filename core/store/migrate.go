package store

import (
	"context"
	"database/sql"
	"embed"
	"fmt"
	"io/fs"
	"slices"
	"strings"
)

//go:embed migrations/*.sql
var migrationFiles embed.FS

// migrations gives the names of all migrations in order.
func migrations(files fs.FS) ([]string, error) {
	names, err := fs.Glob(files, "migrations/*.sql")
	slices.Sort(names)
	return names, err
}

// migrated gives the names of the migrations that the database has had.
func migrated(ctx context.Context, q querier) ([]string, error) {
	var n int
	err := q.QueryRowContext(ctx, "SELECT count(*) FROM sqlite_schema WHERE type = 'table' AND name = 'migration'").Scan(&n)
	if err != nil || n == 0 {
		return nil, err
	}
	rows, err := q.QueryContext(ctx, "SELECT name FROM migration ORDER BY name")
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var names []string
	for rows.Next() {
		var name string
		if err := rows.Scan(&name); err != nil {
			return nil, err
		}
		names = append(names, name)
	}
	return names, rows.Err()
}

// checkMigrations says whether this program can read the database as it is.
func checkMigrations(files fs.FS, had []string) (missing []string, err error) {
	all, err := migrations(files)
	if err != nil {
		return nil, err
	}
	for _, name := range had {
		if !slices.Contains(all, name) {
			return nil, &Error{Code: CodeNewer, Op: "open", Err: fmt.Errorf("the database has had %s, which this program does not know", name)}
		}
	}
	return slices.DeleteFunc(all, func(name string) bool { return slices.Contains(had, name) }), nil
}

// migrate brings the database up to date: each migration in a transaction of
// its own, together with its name.
func migrate(ctx context.Context, conn *sql.Conn, files fs.FS) error {
	had, err := migrated(ctx, conn)
	if err != nil {
		return err
	}
	missing, err := checkMigrations(files, had)
	if err != nil {
		return err
	}
	for _, name := range missing {
		text, err := fs.ReadFile(files, name)
		if err != nil {
			return err
		}
		if err := apply(ctx, conn, name, string(text)); err != nil {
			return fmt.Errorf("migration %s: %w", strings.TrimPrefix(name, "migrations/"), err)
		}
	}
	return nil
}

func apply(ctx context.Context, conn *sql.Conn, name, text string) error {
	tx, err := conn.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer tx.Rollback()
	if _, err := tx.ExecContext(ctx, "CREATE TABLE IF NOT EXISTS migration (name TEXT PRIMARY KEY) STRICT, WITHOUT ROWID"); err != nil {
		return err
	}
	if _, err := tx.ExecContext(ctx, text); err != nil {
		return err
	}
	if _, err := tx.ExecContext(ctx, "INSERT INTO migration (name) VALUES (?)", name); err != nil {
		return err
	}
	return tx.Commit()
}
