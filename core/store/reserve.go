package store

import (
	"crypto/rand"
	"errors"
	"os"
	"path/filepath"
	"sync"
)

// Space says how room on the device stands.
type Space struct {
	Low     bool  // a warning is due: less than lowSpace is free
	Spent   bool  // the reserve has been given up, or there was no room for it: the open case can still finish
	Free    int64 // bytes, where the platform tells
	Unknown bool  // the platform does not tell
}

// lowSpace is what must be free so that no warning is shown: a long case is
// well under a megabyte; the rest is for photographs (house choice).
const lowSpace = 200 << 20

// reserve is a file that takes up room, to be given up when the disk is full.
type reserve struct {
	dir  string
	size int64 // negative: none is kept
	free func() (int64, bool)

	mu    sync.Mutex
	spent bool
}

func (r *reserve) path() string { return filepath.Join(r.dir, "reserve") }

// lay puts the reserve down unless it is there, or there is no room for it
// and as much again.
func (r *reserve) lay() {
	if r.size < 0 {
		return
	}
	r.mu.Lock()
	defer r.mu.Unlock()
	if info, err := os.Stat(r.path()); err == nil && info.Size() == r.size {
		r.spent = false
		return
	}
	if r.free != nil {
		if n, ok := r.free(); ok && n < 2*r.size {
			r.spent = true
			return
		}
	}
	r.spent = r.write() != nil
}

// write makes the file out of random bytes: a file system that packs zeros
// away would keep no room for them.
func (r *reserve) write() (err error) {
	half := r.path() + ".part"
	f, err := os.OpenFile(half, os.O_WRONLY|os.O_CREATE|os.O_TRUNC, 0o600)
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, os.Remove(half))
		}
	}()
	block := make([]byte, 64<<10)
	for left := r.size; left > 0 && err == nil; left -= int64(len(block)) {
		block = block[:min(int64(len(block)), left)]
		if _, err = rand.Read(block); err == nil {
			_, err = f.Write(block)
		}
	}
	if err = errors.Join(err, f.Sync(), f.Close()); err != nil {
		return err
	}
	return os.Rename(half, r.path())
}

// spend gives the reserve up, and says whether there was one.
func (r *reserve) spend() bool {
	if r.size < 0 {
		return false
	}
	r.mu.Lock()
	defer r.mu.Unlock()
	r.spent = true
	return os.Remove(r.path()) == nil
}

// Space looks at the room on the device.
func (s *Store) Space() Space {
	s.reserve.mu.Lock()
	spent := s.reserve.spent
	s.reserve.mu.Unlock()
	sp := Space{Spent: spent, Unknown: true}
	if s.o.Free != nil {
		if n, ok := s.o.Free(); ok {
			sp.Free, sp.Unknown, sp.Low = n, false, n < lowSpace
		}
	}
	return sp
}
