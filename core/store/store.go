package store

import (
	"context"
	"database/sql"
	"embed"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"sync"

	"github.com/gofrs/flock"
	"github.com/google/uuid"

	"chinlift/core/term"
	"chinlift/core/timeline"
)

//go:embed migrations/*.sql
var migrations embed.FS

// Options says where and how to store.
type Options struct {
	Dir          string                        // data folder; made if missing
	Installation string                        // token of this installation, kept outside the database; another one than is stored means a copy: a new log, citing the old head
	Entered      func() timeline.Entered       // the injected clock
	Free         func() (bytes int64, ok bool) // free space of the folder, lent by the platform; may be nil
	ReserveBytes int64                         // kept aside so that an open case can finish on a full disk; 0: 8 MiB
	FullSync     bool                          // iOS: fsync alone does not reach the flash there
}

const (
	fileName       = "chinlift.db"
	lockName       = "lock"
	defaultReserve = 8 << 20
	readers        = 4
	// checkpointEvery is how many lines may lie in the write-ahead log before
	// a checkpoint is asked for, off the path of a tap.
	checkpointEvery = 400
)

// The keys of the local table that the store itself uses.
const (
	keyLog          = "store.log"
	keyInstallation = "store.installation"
)

// Store is an open data folder. It is safe for use by several goroutines.
type Store struct {
	o        Options
	readOnly bool
	lock     *flock.Flock

	mu     sync.Mutex // one writer; guards what follows
	state  error      // nil: open; ErrSuspended, ErrClosed
	w, r   *sql.DB
	insert struct{ line, private, touch *sql.Stmt }
	log    string // the log that this device writes; empty: none yet
	seq    int64
	tick   int64
	head   timeline.Hash
	stale  bool // log, seq, tick and head must be read anew
	lines  int64
	since  int // lines since the last checkpoint
	space  Space

	bg   sync.WaitGroup
	wake chan struct{}
	stop chan struct{}
	ckpt sync.Mutex // one checkpoint at a time
}

// Open opens the folder for writing. ErrInUse when another process has it.
func Open(ctx context.Context, o Options) (*Store, error) {
	if o.ReserveBytes == 0 {
		o.ReserveBytes = defaultReserve
	}
	if err := os.MkdirAll(o.Dir, 0o700); err != nil {
		return nil, fault("open", err)
	}
	lock := flock.New(filepath.Join(o.Dir, lockName))
	ok, err := lock.TryLock()
	if err != nil {
		return nil, fault("open", err)
	}
	if !ok {
		return nil, ErrInUse
	}
	s := &Store{o: o, lock: lock}
	if err := s.open(ctx); err != nil {
		return nil, errors.Join(err, lock.Unlock())
	}
	return s, nil
}

// OpenReadOnly opens the folder for reading, beside a companion that may be
// running on it.
func OpenReadOnly(ctx context.Context, dir string) (*Store, error) {
	path := filepath.Join(dir, fileName)
	if _, err := os.Stat(path); err != nil {
		return nil, fault("open", err)
	}
	s := &Store{o: Options{Dir: dir}, readOnly: true}
	var err error
	if s.r, err = openDB(ctx, path, s.o, false, readers); err != nil {
		return nil, fault("open", err)
	}
	if err := s.countLines(ctx); err != nil {
		return nil, errors.Join(err, s.r.Close())
	}
	return s, nil
}

// open opens the database; the lock is held.
func (s *Store) open(ctx context.Context) error {
	path := filepath.Join(s.o.Dir, fileName)
	var err error
	if s.w, err = openDB(ctx, path, s.o, true, 1); err != nil {
		return fault("open", err)
	}
	if err = s.begin(ctx, path); err != nil {
		s.closeDBs()
		return fault("open", err)
	}
	s.state = nil
	s.wake, s.stop = make(chan struct{}, 1), make(chan struct{})
	s.bg.Add(1)
	go s.background(s.wake, s.stop)
	return nil
}

func (s *Store) begin(ctx context.Context, path string) error {
	if err := s.migrate(ctx); err != nil {
		return err
	}
	var err error
	if s.r, err = openDB(ctx, path, s.o, false, readers); err != nil {
		return err
	}
	if s.insert.line, err = s.w.PrepareContext(ctx, `INSERT INTO line (id, log, seq, tick, scope, about, amends, e, h) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)`); err != nil {
		return err
	}
	if s.insert.private, err = s.w.PrepareContext(ctx, `INSERT INTO private (row, p) VALUES (?, ?)`); err != nil {
		return err
	}
	if s.insert.touch, err = s.w.PrepareContext(ctx, `INSERT INTO cases (id, first, last) VALUES (?1, ?2, ?2)
		ON CONFLICT (id) DO UPDATE SET last = ?2, settled = 0`); err != nil {
		return err
	}
	if err := s.countLines(ctx); err != nil {
		return err
	}
	s.stale = true
	s.layReserve()
	return nil
}

// countLines reads how many lines are stored. Rows are never deleted, so the
// highest row number is the count, and costs the same however many there are.
func (s *Store) countLines(ctx context.Context) error {
	return fault("open", s.r.QueryRowContext(ctx, `SELECT ifnull(max(row), 0) FROM line`).Scan(&s.lines))
}

// migrate brings the tables up to date, each step in one transaction with its
// own record.
func (s *Store) migrate(ctx context.Context) error {
	if _, err := s.w.ExecContext(ctx, `CREATE TABLE IF NOT EXISTS migration (name TEXT PRIMARY KEY) STRICT, WITHOUT ROWID`); err != nil {
		return err
	}
	names, err := fs.Glob(migrations, "migrations/*.sql")
	if err != nil {
		return err
	}
	known := map[string]bool{}
	rows, err := s.w.QueryContext(ctx, `SELECT name FROM migration`)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		var n string
		if err := rows.Scan(&n); err != nil {
			return err
		}
		known[n] = true
	}
	if err := errors.Join(rows.Err(), rows.Close()); err != nil {
		return err
	}
	for _, n := range names { // Glob sorts
		if known[n] {
			delete(known, n)
			continue
		}
		text, err := migrations.ReadFile(n)
		if err != nil {
			return err
		}
		if err := s.tx(ctx, func(tx *sql.Tx) error {
			if _, err := tx.ExecContext(ctx, string(text)); err != nil {
				return err
			}
			_, err := tx.ExecContext(ctx, `INSERT INTO migration (name) VALUES (?)`, n)
			return err
		}); err != nil {
			return fmt.Errorf("migration %s: %w", n, err)
		}
	}
	for n := range known {
		return fmt.Errorf("this folder was written by a newer version (it has %s): update the companion; nothing was changed", n)
	}
	return nil
}

func (s *Store) tx(ctx context.Context, f func(*sql.Tx) error) error {
	tx, err := s.w.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	if err := f(tx); err != nil {
		_ = tx.Rollback() // the first error is the one that matters
		return err
	}
	return tx.Commit()
}

// write runs f as the one writer. On a full disk the reserve is given up once
// and f tried again.
func (s *Store) write(ctx context.Context, op string, f func(*sql.Tx) error) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.writeLocked(ctx, op, f)
}

func (s *Store) writeLocked(ctx context.Context, op string, f func(*sql.Tx) error) error {
	if s.readOnly {
		return ErrReadOnly
	}
	if s.state != nil {
		return s.state
	}
	err := fault(op, s.tx(ctx, f))
	var e *Error
	if errors.As(err, &e) && e.Code == CodeDiskFull && s.spendReserve() {
		s.stale = true
		err = fault(op, s.tx(ctx, f))
	}
	if err != nil {
		s.stale = true
	}
	return err
}

// Append gives the drafts their places in this device's log and writes them
// in one transaction. A draft whose id is already stored is a retry: the
// stored line is answered, and nothing is written for it. When Append answers
// without an error, everything is on disk; with one, nothing is stored.
func (s *Store) Append(ctx context.Context, drafts ...timeline.Draft) ([]*timeline.Line, error) {
	for i := range drafts {
		if err := drafts[i].Check(); err != nil {
			return nil, err
		}
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	var out []*timeline.Line
	var place struct {
		log       string
		seq, tick int64
		head      timeline.Hash
		rows      int64
	}
	destroys := false
	err := s.writeLocked(ctx, "record", func(tx *sql.Tx) error {
		out = out[:0]
		if s.stale {
			if err := s.readPlace(ctx, tx); err != nil {
				return err
			}
		}
		place.log, place.seq, place.tick, place.head, place.rows = s.log, s.seq, s.tick, s.head, s.lines
		seal := func(d *timeline.Draft) error {
			l, err := d.Seal(place.log, place.seq+1, place.tick+1, place.head)
			if err != nil {
				return err
			}
			if _, err := s.put(ctx, tx, &l); err != nil {
				return err
			}
			place.seq, place.tick, place.head = l.Event.Seq, l.Event.Tick, l.H
			place.rows++
			out = append(out, &l)
			if _, ok := l.Payload.(*timeline.IdentityDestroyed); ok {
				destroys = true
			}
			return nil
		}
		for i := range drafts {
			old, err := lineByID(ctx, tx, drafts[i].ID)
			if err != nil {
				return err
			}
			if old != nil {
				out = append(out, old)
				continue
			}
			if place.log == "" {
				opening, id, err := s.newLog(ctx, tx)
				if err != nil {
					return err
				}
				place.log, place.seq, place.head = id, 0, timeline.NoHash
				n := len(out)
				if err := seal(opening); err != nil {
					return err
				}
				out = out[:n]
			}
			if err := seal(&drafts[i]); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	s.since += int(place.rows - s.lines)
	s.log, s.seq, s.tick, s.head, s.lines, s.stale = place.log, place.seq, place.tick, place.head, place.rows, false
	if destroys {
		// What was destroyed must not live on in the write-ahead log.
		if err := s.checkpoint(ctx, s.w); err != nil {
			return out, err
		}
	} else if s.since >= checkpointEvery {
		s.ask()
	}
	return out, nil
}

// readPlace finds where this device's log ends and the highest tick seen.
func (s *Store) readPlace(ctx context.Context, tx *sql.Tx) error {
	log, err := localIn(ctx, tx, keyLog)
	if err != nil {
		return err
	}
	installation, err := localIn(ctx, tx, keyInstallation)
	if err != nil {
		return err
	}
	s.log, s.seq, s.head = "", 0, timeline.NoHash
	if log != "" && installation == s.o.Installation {
		s.log = log
		err := tx.QueryRowContext(ctx, `SELECT seq, h FROM line WHERE log = ? ORDER BY seq DESC, row LIMIT 1`, log).Scan(&s.seq, &s.head)
		if err != nil && !errors.Is(err, sql.ErrNoRows) {
			return err
		}
	}
	return tx.QueryRowContext(ctx, `SELECT ifnull(max(tick), 0), (SELECT ifnull(max(row), 0) FROM line) FROM line`).Scan(&s.tick, &s.lines)
}

// newLog makes the first event of a new log: the first of this device, or,
// where the database was copied or restored, one that cites the old head.
func (s *Store) newLog(ctx context.Context, tx *sql.Tx) (*timeline.Draft, string, error) {
	id, err := uuid.NewV7()
	if err != nil {
		return nil, "", err
	}
	event, err := uuid.NewV7()
	if err != nil {
		return nil, "", err
	}
	opened := &timeline.LogOpened{Cause: term.LogCauseNew}
	old, err := localIn(ctx, tx, keyLog)
	if err != nil {
		return nil, "", err
	}
	if old != "" {
		opened.Cause, opened.Cites = term.LogCauseCopied, old
		if err := tx.QueryRowContext(ctx, `SELECT seq, h FROM line WHERE log = ? ORDER BY seq DESC, row LIMIT 1`, old).Scan(&opened.At, &opened.Head); err != nil {
			return nil, "", err
		}
	}
	for key, value := range map[string]string{keyLog: id.String(), keyInstallation: s.o.Installation} {
		if err := setLocalIn(ctx, tx, key, value); err != nil {
			return nil, "", err
		}
	}
	now := s.o.Entered()
	return &timeline.Draft{ID: event.String(), Scope: timeline.ScopeDevice, About: id.String(), At: now.Wall, Entered: now,
		Author: uuid.Nil.String(), Payload: opened}, id.String(), nil
}

// put writes one line with its private part, and carries out a destruction.
func (s *Store) put(ctx context.Context, tx *sql.Tx, l *timeline.Line) (row int64, err error) {
	var amends any
	if l.Event.Amends != "" {
		amends = l.Event.Amends
	}
	ev := &l.Event
	res, err := tx.StmtContext(ctx, s.insert.line).ExecContext(ctx, ev.ID, ev.Log, ev.Seq, ev.Tick, string(ev.Scope), ev.About, amends, l.E, string(l.H))
	if err != nil {
		return 0, err
	}
	if row, err = res.LastInsertId(); err != nil {
		return 0, err
	}
	if l.P != nil {
		if _, err := tx.StmtContext(ctx, s.insert.private).ExecContext(ctx, row, l.P); err != nil {
			return 0, err
		}
	}
	if ev.Scope == timeline.ScopeCase {
		if _, err := tx.StmtContext(ctx, s.insert.touch).ExecContext(ctx, ev.About, row); err != nil {
			return 0, err
		}
	}
	switch p := l.Payload.(type) {
	case *timeline.Moved:
		if _, err := tx.StmtContext(ctx, s.insert.touch).ExecContext(ctx, p.From, row); err != nil {
			return 0, err
		}
	case *timeline.IdentityDestroyed:
		for _, id := range p.Events {
			if _, err := tx.ExecContext(ctx, `INSERT INTO destroyed (id) VALUES (?) ON CONFLICT DO NOTHING`, id); err != nil {
				return 0, err
			}
			if _, err := tx.ExecContext(ctx, `DELETE FROM private WHERE row IN (SELECT row FROM line WHERE id = ?)`, id); err != nil {
				return 0, err
			}
		}
	}
	return row, nil
}

func lineByID(ctx context.Context, tx *sql.Tx, id string) (*timeline.Line, error) {
	var e, p []byte
	var h timeline.Hash
	err := tx.QueryRowContext(ctx, `SELECT e, p, h FROM line LEFT JOIN private USING (row) WHERE id = ? ORDER BY row LIMIT 1`, id).Scan(&e, &p, &h)
	if errors.Is(err, sql.ErrNoRows) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	l, err := timeline.ReadLine(e, p, h)
	return &l, err
}

func localIn(ctx context.Context, tx *sql.Tx, key string) (string, error) {
	var v string
	err := tx.QueryRowContext(ctx, `SELECT value FROM local WHERE key = ?`, key).Scan(&v)
	if errors.Is(err, sql.ErrNoRows) {
		return "", nil
	}
	return v, err
}

func setLocalIn(ctx context.Context, tx *sql.Tx, key, value string) error {
	_, err := tx.ExecContext(ctx, `INSERT INTO local (key, value) VALUES (?1, ?2) ON CONFLICT (key) DO UPDATE SET value = ?2`, key, value)
	return err
}

// Local reads a setting of this device; empty when it was never set.
func (s *Store) Local(ctx context.Context, key string) (string, error) {
	db, err := s.reader()
	if err != nil {
		return "", err
	}
	var v string
	err = db.QueryRowContext(ctx, `SELECT value FROM local WHERE key = ?`, key).Scan(&v)
	if errors.Is(err, sql.ErrNoRows) {
		return "", nil
	}
	return v, fault("read", err)
}

// SetLocal keeps a setting of this device.
func (s *Store) SetLocal(ctx context.Context, key, value string) error {
	return s.write(ctx, "set", func(tx *sql.Tx) error { return setLocalIn(ctx, tx, key, value) })
}

// Head is the number of lines stored.
func (s *Store) Head() int64 {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.lines
}
