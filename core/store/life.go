package store

import (
	"context"
	"database/sql"
	"errors"
	"os"
	"path/filepath"
)

// Space says how room on the device stands.
type Space struct {
	Low     bool  // a warning is due: less than lowSpace is free
	Spent   bool  // the reserve has been given up: the open case can still finish
	Free    int64 // bytes, where the platform tells
	Unknown bool  // the platform does not tell
}

// lowSpace is what must be free so that no warning is shown: a long case is
// well under a megabyte; the rest is for photographs (house choice).
const lowSpace = 200 << 20

const reserveName = "reserve"

// Space looks at the room on the device.
func (s *Store) Space() Space {
	s.mu.Lock()
	spent := s.space.Spent
	s.mu.Unlock()
	sp := Space{Spent: spent, Unknown: true}
	if s.o.Free != nil {
		if n, ok := s.o.Free(); ok {
			sp.Free, sp.Unknown, sp.Low = n, false, n < lowSpace
		}
	}
	return sp
}

// layReserve writes the reserve file, in full and synced, where there is room
// for it. It is not an error when there is not: the warning says so.
func (s *Store) layReserve() {
	path := filepath.Join(s.o.Dir, reserveName)
	if st, err := os.Stat(path); err == nil && st.Size() >= s.o.ReserveBytes {
		s.space.Spent = false
		return
	}
	if err := writeReserve(path, s.o.ReserveBytes); err != nil {
		_ = os.Remove(path) // what could not be laid in full must not take up room
		s.space.Spent = true
		return
	}
	s.space.Spent = false
}

func writeReserve(path string, size int64) (err error) {
	f, err := os.OpenFile(path, os.O_CREATE|os.O_TRUNC|os.O_WRONLY, 0o600)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	// Written, not only sized: a file of holes would hold no room.
	block := make([]byte, 1<<20)
	for left := size; left > 0; left -= int64(len(block)) {
		if _, err := f.Write(block[:min(left, int64(len(block)))]); err != nil {
			return err
		}
	}
	return f.Sync()
}

// spendReserve gives the reserve up; false when there is none left.
func (s *Store) spendReserve() bool {
	s.space.Spent = true
	return os.Remove(filepath.Join(s.o.Dir, reserveName)) == nil
}

// ask wakes the background checkpoint.
func (s *Store) ask() {
	select {
	case s.wake <- struct{}{}:
	default:
	}
}

func (s *Store) background(wake, stop chan struct{}) {
	defer s.bg.Done()
	for {
		select {
		case <-stop:
			return
		case <-wake:
			// What fails now is tried again after the next lines; nothing is
			// lost meanwhile, the write-ahead log only grows.
			_ = s.Checkpoint(context.Background())
		}
	}
}

// Checkpoint copies the write-ahead log into the database file. Taps go on
// meanwhile. It runs by itself after some hundred lines, and at Close.
func (s *Store) Checkpoint(ctx context.Context) error {
	if s.readOnly {
		return ErrReadOnly
	}
	s.ckpt.Lock()
	defer s.ckpt.Unlock()
	s.mu.Lock()
	if s.state != nil {
		s.mu.Unlock()
		return s.state
	}
	s.since = 0
	spent := s.space.Spent
	path := filepath.Join(s.o.Dir, fileName)
	s.mu.Unlock()
	// A connection of its own, so that the writer's is free for taps.
	db, err := sql.Open(driverName, dsn(path, s.o, true))
	if err != nil {
		return fault("checkpoint", err)
	}
	db.SetMaxOpenConns(1)
	var busy, log, done int
	err = db.QueryRowContext(ctx, `PRAGMA wal_checkpoint(PASSIVE)`).Scan(&busy, &log, &done)
	if err = fault("checkpoint", errors.Join(err, db.Close())); err != nil {
		return err
	}
	if spent {
		s.mu.Lock()
		s.layReserve()
		s.mu.Unlock()
	}
	return nil
}

// checkpoint empties the write-ahead log altogether; the writer waits.
func (s *Store) checkpoint(ctx context.Context, db *sql.DB) error {
	var busy, log, done int
	err := db.QueryRowContext(ctx, `PRAGMA wal_checkpoint(TRUNCATE)`).Scan(&busy, &log, &done)
	if err == nil && busy != 0 {
		err = errors.New("a reader held the write-ahead log")
		return &Error{CodeBusy, "checkpoint", err}
	}
	s.since = 0
	return fault("checkpoint", err)
}

// Suspend finishes what is under way, empties the write-ahead log and closes
// the database. Calls answer ErrSuspended until Resume.
func (s *Store) Suspend(ctx context.Context) error { return s.shut(ctx, ErrSuspended) }

// Resume opens the database again.
func (s *Store) Resume(ctx context.Context) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	if !errors.Is(s.state, ErrSuspended) {
		return s.state
	}
	return s.open(ctx)
}

// Close finishes what is under way and closes the folder.
func (s *Store) Close() error {
	if s.readOnly {
		return s.r.Close()
	}
	err := s.shut(context.Background(), ErrClosed)
	if errors.Is(err, ErrClosed) {
		return nil
	}
	return errors.Join(err, s.lock.Unlock())
}

func (s *Store) shut(ctx context.Context, as error) error {
	s.ckpt.Lock() // let a running checkpoint end
	defer s.ckpt.Unlock()
	s.mu.Lock()
	defer s.mu.Unlock()
	if errors.Is(s.state, ErrClosed) {
		return ErrClosed
	}
	if errors.Is(s.state, ErrSuspended) {
		s.state = as
		return nil
	}
	close(s.stop)
	s.state = as
	err := s.checkpoint(ctx, s.w)
	var e *Error
	if errors.As(err, &e) && e.Code == CodeBusy {
		err = nil // the next start will do it
	}
	return errors.Join(err, s.closeDBs())
}

func (s *Store) closeDBs() error {
	var errs []error
	for _, st := range []*sql.Stmt{s.insert.line, s.insert.private, s.insert.touch} {
		if st != nil {
			errs = append(errs, st.Close())
		}
	}
	s.insert.line, s.insert.private, s.insert.touch = nil, nil, nil
	for _, db := range []*sql.DB{s.r, s.w} {
		if db != nil {
			errs = append(errs, db.Close())
		}
	}
	s.r, s.w = nil, nil
	return fault("close", errors.Join(errs...))
}
