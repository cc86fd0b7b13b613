package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"net/url"
	"strconv"
	"strings"

	"modernc.org/sqlite" // the only file that names the driver
	lib "modernc.org/sqlite/lib"
)

const driverName = "sqlite"

// oldestSQLite is the first version without the WAL-reset fault, by which a
// database could be damaged (SQLite documentation, Write-Ahead Logging, "The
// WAL-Reset Bug").
const oldestSQLite = "3.51.3"

// role is what a connection is for.
type role int

const (
	roleWriter role = iota // commits, or checkpoints
	roleReader             // reads beside them
	roleBeside             // reads beside a companion in another process
	roleCopy               // as that, and copies the database, which reading alone may not
)

// pragmas hold for every connection. One commit is one sync of the WAL
// (synchronous=FULL); sorting stays in memory, because Android has no folder
// for temporary files; deleted content is overwritten; checkpoints run off the
// path of a tap. The first is how long to wait for others, in milliseconds,
// since those after it may have to.
func pragmas(o Options, r role) []string {
	ps := []string{
		"busy_timeout(5000)", "foreign_keys(1)", "synchronous(FULL)", "temp_store(2)", "trusted_schema(0)",
		"cell_size_check(1)", "secure_delete(1)", "wal_autocheckpoint(0)",
	}
	if o.FullSync {
		ps = append(ps, "fullfsync(1)", "checkpoint_fullfsync(1)")
	}
	switch r {
	case roleWriter:
		return append(ps, "journal_mode(WAL)")
	case roleCopy:
		return ps
	}
	return append(ps, "query_only(1)")
}

func dsn(path string, o Options, r role) string {
	q := url.Values{}
	for _, p := range pragmas(o, r) {
		q.Add("_pragma", p)
	}
	q.Set("_dqs", "0")
	q.Set("_error_rc", "1")
	if r == roleBeside || r == roleCopy {
		q.Set("mode", "ro")
	}
	return (&url.URL{Scheme: "file", Opaque: (&url.URL{Path: path}).EscapedPath(), RawQuery: q.Encode()}).String()
}

// openDB opens a pool of at most conns connections.
func openDB(ctx context.Context, path string, o Options, r role, conns int) (*sql.DB, error) {
	db, err := sql.Open(driverName, dsn(path, o, r))
	if err != nil {
		return nil, err
	}
	db.SetMaxOpenConns(conns)
	db.SetMaxIdleConns(conns)
	db.SetConnMaxLifetime(0)
	if err := assertSettings(ctx, db, o, r); err != nil {
		return nil, errors.Join(err, db.Close())
	}
	return db, nil
}

// assertSettings reads back what was asked for: a driver that forgets a
// setting would lose a tap in silence.
func assertSettings(ctx context.Context, db *sql.DB, o Options, r role) error {
	var version string
	if err := db.QueryRowContext(ctx, "SELECT sqlite_version()").Scan(&version); err != nil {
		return err
	}
	if older(version, oldestSQLite) {
		return fmt.Errorf("SQLite %s is older than %s, which can damage a database", version, oldestSQLite)
	}
	want := map[string]string{"journal_mode": "wal", "synchronous": "2", "foreign_keys": "1", "temp_store": "2",
		"trusted_schema": "0", "cell_size_check": "1", "secure_delete": "1", "wal_autocheckpoint": "0"}
	if o.FullSync {
		want["fullfsync"], want["checkpoint_fullfsync"] = "1", "1"
	}
	if r == roleReader || r == roleBeside {
		want["query_only"] = "1"
	}
	for name, value := range want {
		var got string
		if err := db.QueryRowContext(ctx, "PRAGMA "+name).Scan(&got); err != nil {
			return fmt.Errorf("setting %s: %w", name, err)
		}
		if got != value {
			return fmt.Errorf("setting %s is %s, not %s", name, got, value)
		}
	}
	return nil
}

func older(a, b string) bool {
	as, bs := strings.Split(a, "."), strings.Split(b, ".")
	for i := range min(len(as), len(bs)) {
		x, _ := strconv.Atoi(as[i])
		y, _ := strconv.Atoi(bs[i])
		if x != y {
			return x < y
		}
	}
	return len(as) < len(bs)
}

// codeOf maps a driver's error to a code that the screens know.
func codeOf(err error) string {
	var e *sqlite.Error
	if !errors.As(err, &e) {
		return ""
	}
	switch e.Code() & 0xff {
	case lib.SQLITE_FULL:
		return CodeDiskFull
	case lib.SQLITE_IOERR:
		// A full disk can surface while the shared memory file grows.
		if e.Code() == lib.SQLITE_IOERR_SHMSIZE {
			return CodeDiskFull
		}
		return CodeIO
	case lib.SQLITE_CORRUPT, lib.SQLITE_NOTADB:
		return CodeDamaged
	case lib.SQLITE_CANTOPEN, lib.SQLITE_PERM, lib.SQLITE_READONLY:
		return CodeIO
	case lib.SQLITE_BUSY, lib.SQLITE_LOCKED:
		return CodeBusy
	case lib.SQLITE_INTERRUPT:
		return "" // the context ended
	}
	return CodeFailed
}

// framesWritten gives how many pages the connection has written since it was
// last asked. Each is a frame of the write-ahead log.
func framesWritten(conn *sql.Conn) (n int, err error) {
	err = conn.Raw(func(dc any) error {
		s, ok := dc.(sqlite.DBStatus)
		if !ok {
			return errors.New("the driver has no counters")
		}
		n, _, err = s.Status(sqlite.DBStatusCacheWrite, true)
		return err
	})
	return n, err
}
