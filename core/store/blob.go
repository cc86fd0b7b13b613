package store

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"os"
	"path/filepath"

	"chinlift/core/timeline"
)

// ErrNoBlob says that a file is not stored here.
var ErrNoBlob = errors.New("the file is not on this device")

const (
	blobFolder    = "blobs"
	partialFolder = "partial" // in blobs: files half written
)

func blobPath(dir string, h timeline.Hash) string {
	return filepath.Join(dir, blobFolder, string(h[:2]), string(h))
}

// Sum gives the SHA-256 under which data is kept.
func Sum(data []byte) timeline.Hash {
	sum := sha256.Sum256(data)
	return timeline.Hash(hex.EncodeToString(sum[:]))
}

// PutBlob keeps a file under its SHA-256 and answers once it is on disk. A
// file that is kept already costs nothing.
func (s *Store) PutBlob(ctx context.Context, data []byte) (timeline.Hash, error) {
	s.gate.RLock()
	defer s.gate.RUnlock()
	if err := s.writable(); err != nil {
		return "", err
	}
	if err := ctx.Err(); err != nil {
		return "", err
	}
	h := Sum(data)
	// One that is there but damaged is written anew.
	if _, err := s.readBlob(h); err == nil || errors.Is(err, ErrSealed) {
		return h, nil
	}
	return h, fault("file", s.writeBlob(h, data))
}

// PutPhoto is PutBlob for a photograph that a private part about this will
// name: it is sealed as that is, also where it is here already for something
// else, which may be locked before this is.
func (s *Store) PutPhoto(ctx context.Context, scope timeline.Scope, about string, data []byte) (timeline.Hash, error) {
	if v, _ := s.Vault(); v == nil || s.readOnly {
		return s.PutBlob(ctx, data)
	}
	h := Sum(data)
	return h, fault("file", s.writePhoto(ctx, scope, about, h, data))
}

// SealPhotos seals photographs that came from elsewhere, once the lines that
// name them are here.
func (s *Store) SealPhotos(ctx context.Context) error {
	if v, _ := s.Vault(); v == nil {
		return nil
	}
	return s.sealPhotos(ctx)
}

// Blob gives the file with this SHA-256. ErrNoBlob when it is not here;
// ErrSealed when it is a photograph whose key is not at hand; an *Error with the code damaged when it is not what was put.
func (s *Store) Blob(h timeline.Hash) ([]byte, error) {
	s.gate.RLock()
	defer s.gate.RUnlock()
	if s.db == nil {
		return nil, s.gone
	}
	return s.readBlob(h)
}

// readBlob reads a file; the gate is held.
func (s *Store) readBlob(h timeline.Hash) ([]byte, error) {
	if !h.Valid() {
		return nil, ErrNoBlob
	}
	data, err := os.ReadFile(blobPath(s.o.Dir, h))
	if err == nil {
		data, err = s.openFile(h, data)
	}
	switch {
	case errors.Is(err, os.ErrNotExist):
		return nil, ErrNoBlob
	case err != nil:
		return nil, fault("file", err)
	case Sum(data) != h:
		return nil, &Error{CodeDamaged, "file", fmt.Errorf("blob %s does not match its name", h)}
	}
	return data, nil
}

// sweep removes the blobs that only destroyed private parts named. A file that
// something else names still stays.
func (s *Store) sweep(db *database) error {
	db.mu.Lock()
	defer db.mu.Unlock()
	return s.sweepLocked(db)
}

func (s *Store) sweepLocked(db *database) error {
	_, err := db.w.do(func(t *tx) error {
		doomed, err := t.texts("SELECT hash FROM doomed")
		if err != nil {
			return err
		}
		for _, h := range doomed {
			var used bool
			if _, err := t.get(`SELECT EXISTS (SELECT 1 FROM photo WHERE hash = unhex(?1))
				OR EXISTS (SELECT 1 FROM line WHERE scope = 'clinic' AND scope <> 'case' AND CAST(e AS TEXT) ->> '$.data.blob' = ?1)`, []any{h}, &used); err != nil {
				return err
			}
			if hash := timeline.Hash(h); !used && hash.Valid() {
				if err := os.Remove(blobPath(s.o.Dir, hash)); err != nil && !errors.Is(err, os.ErrNotExist) {
					return err
				}
			}
			if err := t.exec("DELETE FROM doomed WHERE hash = ?", h); err != nil {
				return err
			}
		}
		return nil
	})
	return err
}

// clearPartials removes files that a process that died left half written.
func clearPartials(dir string) error {
	return os.RemoveAll(filepath.Join(dir, blobFolder, partialFolder))
}

// makeFolder makes a folder and those above it, and syncs what names them.
func makeFolder(dir string) error {
	if info, err := os.Stat(dir); err == nil && info.IsDir() {
		return nil
	}
	parent := filepath.Dir(dir)
	if parent != dir {
		if err := makeFolder(parent); err != nil {
			return err
		}
	}
	if err := os.Mkdir(dir, 0o700); err != nil && !errors.Is(err, os.ErrExist) {
		return err
	}
	return syncFolder(parent)
}

// syncFolder puts the names in a folder on disk.
func syncFolder(dir string) error {
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	return errors.Join(d.Sync(), d.Close())
}
