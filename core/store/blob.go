package store

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"github.com/google/renameio/v2"

	"chinlift/core/timeline"
)

// ErrNoBlob says that a file is not stored here.
var ErrNoBlob = errors.New("the file is not on this device")

func (s *Store) blobPath(h timeline.Hash) string {
	return filepath.Join(s.o.Dir, "blobs", string(h[:2]), string(h))
}

// PutBlob keeps a file under its SHA-256, synced to disk with its folder
// before it answers: an event that names it may be written afterwards, never
// before.
func (s *Store) PutBlob(_ context.Context, data []byte) (timeline.Hash, error) {
	if s.readOnly {
		return "", ErrReadOnly
	}
	sum := sha256.Sum256(data)
	h := timeline.Hash(hex.EncodeToString(sum[:]))
	path := s.blobPath(h)
	if _, err := s.Blob(h); err == nil {
		return h, nil
	}
	dir := filepath.Dir(path)
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return "", fault("file", err)
	}
	if err := renameio.WriteFile(path, data, 0o400, renameio.WithTempDir(dir)); err != nil {
		return "", fault("file", err)
	}
	// The rename itself must reach the disk, and so must a new folder.
	for _, d := range []string{dir, filepath.Dir(dir), s.o.Dir} {
		if err := syncDir(d); err != nil {
			return "", fault("file", err)
		}
	}
	return h, nil
}

func syncDir(dir string) (err error) {
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, d.Close()) }()
	return d.Sync()
}

// Blob gives a file back, and checks it. ErrNoBlob when it is not here.
func (s *Store) Blob(h timeline.Hash) ([]byte, error) {
	if !h.Valid() {
		return nil, fmt.Errorf("%q is not a hash", h)
	}
	data, err := os.ReadFile(s.blobPath(h))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, ErrNoBlob
	}
	if err != nil {
		return nil, fault("file", err)
	}
	sum := sha256.Sum256(data)
	if hex.EncodeToString(sum[:]) != string(h) {
		return nil, &Error{CodeDamaged, "file", fmt.Errorf("file %s is not what was kept under this name", h)}
	}
	return data, nil
}
