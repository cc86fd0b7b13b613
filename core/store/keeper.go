package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"sync"
	"sync/atomic"
)

// checkpointAfter is how many pages of write-ahead log make a checkpoint due:
// 4 MiB, SQLite's own choice.
const checkpointAfter = 1000

// restartAfter is how many pages the log may hold before the writer is held
// for a moment.
const restartAfter = 4 * checkpointAfter

// How long a checkpoint waits for readers, in milliseconds. The writer waits
// with it: a tap must not notice.
const shortWait = 50

// keeper checkpoints, on a connection of its own, so that a tap does not wait
// for it.
//
// Who holds the writer may ask for a checkpoint. So the writer is never taken
// while mu is held.
type keeper struct {
	db     *sql.DB
	mu     sync.Mutex   // one checkpoint at a time
	frames atomic.Int64 // pages written since the last one
	writer sync.Locker  // holds the writer
	wait   int          // how long to wait for readers when the log must be emptied, in milliseconds
	long   int          // how many pages are too many: restartAfter
	kick   chan struct{}
	done   chan struct{}
	cancel context.CancelFunc
}

func newKeeper(ctx context.Context, path string, o Options, writer sync.Locker) (*keeper, error) {
	db, err := openDB(ctx, path, o, roleWriter, 1)
	if err != nil {
		return nil, err
	}
	return &keeper{db: db, kick: make(chan struct{}, 1), writer: writer, wait: 5000, long: restartAfter}, nil
}

// start runs checkpoints in the background until ctx ends; after is called
// after each.
func (k *keeper) start(ctx context.Context, after func()) {
	ctx, k.cancel = context.WithCancel(ctx)
	k.done = make(chan struct{})
	go func() {
		defer close(k.done)
		for {
			select {
			case <-ctx.Done():
				return
			case <-k.kick:
				// What fails here fails again, with somebody to tell it to,
				// when the store is closed or a merge checkpoints. The lines
				// are safe in the log.
				if k.due() && k.checkpoint(ctx, false) == nil {
					after()
				}
			}
		}
	}()
}

// stop ends the background work and waits for it.
func (k *keeper) stop() {
	if k.done != nil {
		k.cancel()
		<-k.done
		k.done = nil
	}
}

func (k *keeper) close() error {
	k.stop()
	return k.db.Close()
}

// wrote counts pages, and wakes the keeper when enough have gathered.
func (k *keeper) wrote(frames int) {
	k.frames.Add(int64(frames))
	if k.due() {
		select {
		case k.kick <- struct{}{}:
		default:
		}
	}
}

func (k *keeper) due() bool { return k.frames.Load() >= checkpointAfter }

// checkpoint moves the log into the database. With empty it waits for readers
// and leaves the log without a byte; the caller holds the writer, or there is
// none. Without, it does what can be done beside readers and the writer.
func (k *keeper) checkpoint(ctx context.Context, empty bool) error {
	log, err := k.move(ctx, empty)
	if err != nil || empty || log < k.long {
		return err
	}
	// Lines come so fast that the log never stands still for a moment at
	// which it could begin anew. Hold the writer for that moment; where a
	// reader is in the way, the next time will do.
	k.writer.Lock()
	defer k.writer.Unlock()
	k.mu.Lock()
	defer k.mu.Unlock()
	_, _, _, err = k.run(ctx, "RESTART", shortWait)
	return err
}

// move runs the checkpoint that needs no writer, and tells how many pages the
// log holds.
func (k *keeper) move(ctx context.Context, empty bool) (log int, err error) {
	k.mu.Lock()
	defer k.mu.Unlock()
	before := k.frames.Load()
	mode := "PASSIVE"
	if empty {
		mode = "TRUNCATE"
	}
	busy, log, moved, err := k.run(ctx, mode, k.wait)
	if err != nil {
		return log, err
	}
	if busy && empty {
		return log, &Error{CodeBusy, opErase, fmt.Errorf("%d of %d pages moved", moved, log)}
	}
	k.frames.Add(-before)
	return log, nil
}

// tryEmpty leaves the log without a byte, if nobody reads just now. The writer
// is held.
func (k *keeper) tryEmpty() {
	k.mu.Lock()
	defer k.mu.Unlock()
	before := k.frames.Load()
	if busy, _, _, err := k.run(context.Background(), "TRUNCATE", shortWait); err == nil && !busy {
		k.frames.Add(-before)
	}
}

// run runs one checkpoint, and tells how many pages the log holds and how many
// of them are in the database now.
func (k *keeper) run(ctx context.Context, mode string, wait int) (busy bool, log, moved int, err error) {
	conn, err := k.db.Conn(ctx)
	if err != nil {
		return false, 0, 0, err
	}
	defer func() { _ = conn.Close() }() // goes back to the pool
	if _, err := conn.ExecContext(ctx, fmt.Sprintf("PRAGMA busy_timeout = %d", wait)); err != nil {
		return false, 0, 0, err
	}
	err = conn.QueryRowContext(ctx, "PRAGMA wal_checkpoint("+mode+")").Scan(&busy, &log, &moved)
	return busy, log, moved, err
}

// erase empties the log after private parts were destroyed, so that it does
// not hold them either, and removes the files that they named. The writer is
// held.
func (s *Store) erase(db *database) error {
	err := db.keeper.checkpoint(context.Background(), true)
	return errors.Join(err, s.sweepLocked(db))
}
