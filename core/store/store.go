package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"sync"
	"sync/atomic"

	"github.com/gofrs/flock"

	"chinlift/core/timeline"
)

// Options says where and how to store.
type Options struct {
	Dir string // data folder; made if it is missing

	// Installation is a token that lies outside the folder and stays with
	// this installation. When it differs from the one that the database has
	// stored, the database is a copy, and opens a new log. It cannot tell a
	// backup that is put back where it was made: the Witness can.
	Installation string
	Witness      Witness // may be nil: then an older state is only noticed when a merge brings what it lacks

	Safe Safe // keeps the secret of this device; may be nil: then sealing cannot be set up

	Entered      func() timeline.Entered       // the injected clock, for the line that opens a log
	Free         func() (bytes int64, ok bool) // free space of the folder, lent by the platform; may be nil
	ReserveBytes int64                         // kept aside so that an open case can finish on a full disk; 0: 8 MiB; negative: none
	FullSync     bool                          // iOS: a plain sync does not reach the flash there
}

const defaultReserve = 8 << 20

// Store is an open folder. It is safe for use by several goroutines; writes
// are taken one after the other.
type Store struct {
	o        Options
	readOnly bool
	lock     *flock.Flock // nil when read-only

	// gate is held for reading by every call, and for writing by Suspend,
	// Resume and Close. It guards db and gone.
	gate sync.RWMutex
	db   *database
	gone error // why db is nil

	// interrupt stops reads that are under way; it can be called while they
	// hold the gate.
	interrupt atomic.Pointer[context.CancelFunc]

	stored  atomic.Int64 // lines committed
	reads   atomic.Int64 // see Reads
	reserve reserve
	witness witness
	seals   seals
}

// database is the folder's database while it is open.
type database struct {
	ctx    context.Context // ends when the store is suspended or closed
	cancel context.CancelFunc

	readers *sql.DB
	about   *sql.Stmt // queryAbout, which takes as long to prepare as to run

	// The rest is nil when the store is read-only.
	pool   *sql.DB
	keeper *keeper
	mu     sync.Mutex // one writer at a time; guards w
	w      *writer
}

// querier is what a pool, a connection and a transaction have in common.
type querier interface {
	QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error)
	QueryRowContext(ctx context.Context, query string, args ...any) *sql.Row
}

const (
	// FileName is the database in a data folder.
	FileName = "chinlift.db"
	lockName = "lock"
	// maxReaders bounds the connections that read beside the writer. A phone
	// shows one screen; an export may run beside it.
	maxReaders = 3
)

// Open opens the folder for reading and writing, and brings the database up to
// date. ErrInUse when another process serves the folder.
func Open(ctx context.Context, o Options) (*Store, error) {
	switch {
	case o.Dir == "" || o.Installation == "" || o.Entered == nil:
		return nil, &Error{CodeFailed, "open", errors.New("folder, installation and clock are all needed")}
	case o.ReserveBytes == 0:
		o.ReserveBytes = defaultReserve
	}
	if err := makeFolder(o.Dir); err != nil {
		return nil, fault("open", err)
	}
	s := &Store{o: o, lock: flock.New(filepath.Join(o.Dir, lockName), flock.SetPermissions(0o600)),
		reserve: reserve{dir: o.Dir, size: o.ReserveBytes, free: o.Free}, witness: witness{to: o.Witness}}
	if err := s.open(ctx); err != nil {
		return nil, fault("open", err)
	}
	return s, nil
}

// OpenReadOnly opens the folder for reading, beside a companion that may be
// serving it. What would write answers ErrReadOnly. An *Error with
// CodeMissing when there is no database. The safe may be nil: then what is
// sealed opens with the clinic's key alone.
func OpenReadOnly(ctx context.Context, dir string, safe Safe) (*Store, error) {
	if _, err := os.Stat(filepath.Join(dir, FileName)); err != nil {
		if errors.Is(err, os.ErrNotExist) {
			return nil, &Error{CodeMissing, "open", err}
		}
		return nil, fault("open", err)
	}
	s := &Store{o: Options{Dir: dir, Safe: safe, ReserveBytes: -1}, readOnly: true, reserve: reserve{size: -1}}
	if err := s.open(ctx); err != nil {
		return nil, fault("open", err)
	}
	return s, nil
}

// open takes the lock and opens the database. The gate is held, or nobody has
// the store yet.
func (s *Store) open(ctx context.Context) (err error) {
	db := &database{}
	db.ctx, db.cancel = context.WithCancel(context.Background())
	defer func() {
		if err != nil {
			err = errors.Join(err, s.shut(db))
		}
	}()
	path := filepath.Join(s.o.Dir, FileName)
	if s.readOnly {
		if db.readers, err = openDB(ctx, path, s.o, roleBeside, maxReaders); err != nil {
			return err
		}
		had, err := migrated(ctx, db.readers)
		if err != nil {
			return err
		}
		missing, err := checkMigrations(migrationFiles, had)
		if err != nil {
			return err
		}
		if len(missing) > 0 {
			return &Error{CodeOlder, "open", fmt.Errorf("the database has not had %v", missing)}
		}
		if err := s.seals.begin(ctx, db.readers, s.o.Safe); err != nil {
			return err
		}
	} else {
		if err := s.takeLock(); err != nil {
			return err
		}
		if err := s.openWriter(ctx, db, path); err != nil {
			return err
		}
		if db.readers, err = openDB(ctx, path, s.o, roleReader, maxReaders); err != nil {
			return err
		}
	}
	if db.about, err = db.readers.PrepareContext(ctx, queryAbout); err != nil {
		return err
	}
	n, err := countLines(ctx, db.readers)
	if err != nil {
		return err
	}
	s.stored.Store(n)
	s.db, s.gone = db, nil
	s.interrupt.Store(&db.cancel)
	return nil
}

func (s *Store) takeLock() error {
	got, err := s.lock.TryLock()
	if err != nil {
		return err
	}
	if !got {
		return ErrInUse
	}
	return nil
}

func (s *Store) openWriter(ctx context.Context, db *database, path string) (err error) {
	if db.pool, err = openDB(ctx, path, s.o, roleWriter, 1); err != nil {
		return err
	}
	if db.w, err = newWriter(ctx, db.pool, s.o.Installation, s.o.Entered, &s.seals); err != nil {
		return err
	}
	if err := s.seals.begin(ctx, db.w.conn, s.o.Safe); err != nil {
		return err
	}
	if err := db.w.heed(s.o.Witness); err != nil {
		return err
	}
	s.witness.begin(db.w.head.own())
	if db.keeper, err = newKeeper(ctx, path, s.o, &db.mu); err != nil {
		return err
	}
	// What the last run left undone: an unemptied log of destroyed private
	// parts, files that were to go, files half written.
	if err := db.keeper.checkpoint(ctx, true); err != nil && !isFull(err) {
		return err
	}
	if err := s.sweep(db); err != nil {
		return err
	}
	if err := clearPartials(s.o.Dir); err != nil {
		return err
	}
	// SQLite syncs the folder for its log, not for the database itself.
	if err := syncFolder(s.o.Dir); err != nil {
		return err
	}
	s.reserve.lay()
	db.keeper.start(db.ctx, s.rested)
	return nil
}

// rested does what is done after each checkpoint.
func (s *Store) rested() {
	s.reserve.lay()
	s.witness.keep()
}

// shut closes what is open of a database and gives the lock back.
func (s *Store) shut(db *database) error {
	db.cancel()
	var errs []error
	if db.about != nil {
		errs = append(errs, db.about.Close())
	}
	if db.readers != nil {
		errs = append(errs, db.readers.Close())
	}
	if db.keeper != nil {
		errs = append(errs, db.keeper.close())
	}
	if db.w != nil {
		errs = append(errs, db.w.close())
	}
	if db.pool != nil {
		errs = append(errs, db.pool.Close())
	}
	if s.lock != nil {
		errs = append(errs, s.lock.Unlock())
	}
	return errors.Join(errs...)
}

// Suspend waits for the commit under way, checkpoints and closes the database,
// and gives up the lock: a phone ends an app that holds a file lock while it
// sleeps. Reads under way are stopped. Until Resume every call answers
// ErrSuspended.
func (s *Store) Suspend(ctx context.Context) error {
	return s.leave(ErrSuspended)
}

// Close does what Suspend does, for good.
func (s *Store) Close() error { return s.leave(ErrClosed) }

func (s *Store) leave(why error) error {
	if stop := s.interrupt.Load(); stop != nil {
		(*stop)()
	}
	s.gate.Lock()
	defer s.gate.Unlock()
	if errors.Is(s.gone, ErrClosed) {
		return nil
	}
	db := s.db
	s.db, s.gone = nil, why
	s.Lock()
	if db == nil {
		return nil
	}
	if db.keeper != nil {
		db.keeper.stop()
		// What cannot be checkpointed stays in the log, which is synced.
		_ = db.keeper.checkpoint(context.Background(), true)
		s.witness.keep() // while the lock is held
	}
	return fault("close", s.shut(db))
}

// Resume opens the database again after Suspend. ErrInUse when another process
// has taken the folder since.
func (s *Store) Resume(ctx context.Context) error {
	s.gate.Lock()
	defer s.gate.Unlock()
	switch {
	case s.db != nil:
		return nil
	case errors.Is(s.gone, ErrClosed):
		return ErrClosed
	}
	return fault("resume", s.open(ctx))
}

// Checkpoint moves what the write-ahead log holds into the database. It also
// happens by itself, beside the taps.
func (s *Store) Checkpoint(ctx context.Context) error {
	s.gate.RLock()
	defer s.gate.RUnlock()
	if err := s.writable(); err != nil {
		return err
	}
	err := s.db.keeper.checkpoint(ctx, false)
	s.rested()
	return fault("checkpoint", err)
}

// Head is the number of lines stored.
func (s *Store) Head() int64 {
	if !s.readOnly {
		return s.stored.Load()
	}
	// Another process writes: look. What cannot be read leaves the last known.
	_ = s.read(context.Background(), "head", func(ctx context.Context, q querier) error {
		n, err := countLines(ctx, q)
		if err == nil {
			s.stored.Store(n)
		}
		return err
	})
	return s.stored.Load()
}

// Reads is how often the database was read since the folder was opened: what a
// caller that keeps what it read is measured by.
func (s *Store) Reads() int64 { return s.reads.Load() }

// read runs f on a reading connection. It ends when the store is suspended.
func (s *Store) read(ctx context.Context, op string, f func(ctx context.Context, q querier) error) error {
	s.reads.Add(1)
	s.gate.RLock()
	defer s.gate.RUnlock()
	if s.db == nil {
		return s.gone
	}
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	defer context.AfterFunc(s.db.ctx, cancel)()
	err := f(ctx, s.db.readers)
	if err != nil && s.db.ctx.Err() != nil {
		return ErrSuspended
	}
	return fault(op, err)
}

// writable says why nothing can be written, or nil. The gate is held.
func (s *Store) writable() error {
	switch {
	case s.db == nil:
		return s.gone
	case s.readOnly:
		return ErrReadOnly
	}
	return nil
}

// write runs f in one transaction. A context that ends does not tear a commit:
// it is looked at before, not within.
func (s *Store) write(ctx context.Context, op string, f func(t *tx) error) error {
	s.gate.RLock()
	defer s.gate.RUnlock()
	if err := s.writable(); err != nil {
		return err
	}
	if err := ctx.Err(); err != nil {
		return err
	}
	s.db.mu.Lock()
	defer s.db.mu.Unlock()
	t, err := s.db.w.do(f)
	if err != nil {
		return fault(op, err)
	}
	s.stored.Store(s.db.w.head.rows)
	s.witness.saw(s.db.w.head.own())
	s.seals.stands(t.fresh)
	if t.emptied && !t.destroyed {
		s.db.keeper.tryEmpty()
	}
	if t.destroyed {
		if err := s.erase(s.db); err != nil {
			return fault(opErase, err)
		}
	}
	s.db.keeper.wrote(t.frames)
	return nil
}

// opErase marks the error of a transaction that was committed: what is left to
// do is to empty the log after it.
const opErase = "erase"

// committed says whether the error came after the commit.
func committed(err error) bool {
	var e *Error
	return errors.As(err, &e) && e.Op == opErase
}

// Local reads a setting of this device; empty when it was never set.
func (s *Store) Local(ctx context.Context, key string) (value string, err error) {
	err = s.read(ctx, "local", func(ctx context.Context, q querier) error {
		err := q.QueryRowContext(ctx, "SELECT value FROM local WHERE key = ?", key).Scan(&value)
		if errors.Is(err, sql.ErrNoRows) {
			return nil
		}
		return err
	})
	return value, err
}

// SetLocal keeps a setting of this device.
func (s *Store) SetLocal(ctx context.Context, key, value string) error {
	return s.write(ctx, "local", func(t *tx) error {
		return t.setLocal(key, value)
	})
}

func (t *tx) setLocal(key, value string) error {
	return t.exec("INSERT INTO local (key, value) VALUES (?1, ?2) ON CONFLICT (key) DO UPDATE SET value = ?2 WHERE value <> ?2", key, value)
}

func countLines(ctx context.Context, q querier) (n int64, err error) {
	err = q.QueryRowContext(ctx, "SELECT coalesce(max(row), 0) FROM line").Scan(&n)
	return n, err
}
