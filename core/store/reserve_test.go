package store

import (
	"errors"
	"os"
	"path/filepath"
	"testing"
)

func TestReserve(t *testing.T) {
	dir := t.TempDir()
	o := options(dir)
	free := int64(1 << 40)
	o.Free = func() (int64, bool) { return free, free >= 0 }
	size := func() int64 {
		info, err := os.Stat(filepath.Join(dir, "reserve"))
		if errors.Is(err, os.ErrNotExist) {
			return -1
		}
		if err != nil {
			t.Fatal(err)
		}
		return info.Size()
	}
	s := open(t, o)
	if size() != o.ReserveBytes || s.Space() != (Space{Free: free}) {
		t.Fatalf("%d bytes, %+v", size(), s.Space())
	}
	free = lowSpace - 1
	if sp := s.Space(); !sp.Low || sp.Spent {
		t.Errorf("%+v", sp)
	}
	// It is given up once.
	if !s.reserve.spend() || size() != -1 || s.reserve.spend() || !s.Space().Spent {
		t.Errorf("%d bytes, %+v", size(), s.Space())
	}
	// It is not laid where there is hardly room, and is where there is.
	free = o.ReserveBytes
	if err := s.Checkpoint(t.Context()); err != nil || size() != -1 || !s.Space().Spent {
		t.Errorf("%d bytes, %+v, %v", size(), s.Space(), err)
	}
	free = 1 << 40
	if err := s.Checkpoint(t.Context()); err != nil || size() != o.ReserveBytes || s.Space().Spent {
		t.Errorf("%d bytes, %+v, %v", size(), s.Space(), err)
	}
	free = -1
	if sp := s.Space(); !sp.Unknown || sp.Low || sp.Free != 0 {
		t.Errorf("%+v", sp)
	}
}

func TestNoReserve(t *testing.T) {
	o := options(t.TempDir())
	o.ReserveBytes = -1
	s := open(t, o)
	if _, err := os.Stat(filepath.Join(o.Dir, "reserve")); !errors.Is(err, os.ErrNotExist) {
		t.Error(err)
	}
	if s.reserve.spend() || s.Space().Spent {
		t.Errorf("%+v", s.Space())
	}
}
