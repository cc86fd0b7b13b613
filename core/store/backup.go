package store

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"chinlift/core/timeline"
)

// Backup gives the files of the folder: a copy of the database, as it was at one
// moment, and the blobs and what waits in the outbox, as they were shortly before
// or came since; an error where a blob went meanwhile. What lies sealed goes as it lies, with the wrapped keys, so that nobody
// has to unlock. What lies outside the folder, the secret of this device among
// it, is not in it.
//
// Whoever puts the files into a folder elsewhere has a copy of this device: the
// store finds another installation there and opens a log that cites this one's
// head. It may run beside a companion.
func (s *Store) Backup(ctx context.Context, give func(name string, size int64, content io.Reader) error) (err error) {
	defer func() { err = fault("backup", err) }()
	partial := filepath.Join(s.o.Dir, blobFolder, partialFolder)
	if err := makeFolder(partial); err != nil {
		return err
	}
	scratch, err := os.MkdirTemp(partial, "backup-")
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, os.RemoveAll(scratch)) }()
	// The files first, and what came meanwhile last: each that the copy of the
	// database names is there, and lies sealed under a key that the copy has.
	given := map[string]bool{}
	if err := s.giveFiles(ctx, given, give); err != nil {
		return err
	}
	db := filepath.Join(scratch, FileName)
	if err := s.read(ctx, "backup", func(ctx context.Context, _ querier) error {
		pool, err := openDB(ctx, filepath.Join(s.o.Dir, FileName), s.o, roleCopy, 1)
		if err != nil {
			return err
		}
		_, err = pool.ExecContext(ctx, "VACUUM INTO ?", db)
		return errors.Join(err, pool.Close())
	}); err != nil {
		return err
	}
	// So that it can be read where it is put before anybody writes there.
	pool, err := openDB(ctx, db, s.o, roleWriter, 1)
	if err != nil {
		return err
	}
	if err := pool.Close(); err != nil {
		return err
	}
	if err := giveFile(db, FileName, give); err != nil {
		return err
	}
	if err := s.giveFiles(ctx, given, give); err != nil {
		return err
	}
	for name := range given {
		if _, err := os.Stat(filepath.Join(s.o.Dir, filepath.FromSlash(name))); err != nil && strings.HasPrefix(name, blobFolder+"/") {
			return fmt.Errorf("%s went while it was copied, as what is destroyed does: %w", name, err)
		}
	}
	return nil
}

// giveFiles gives the blobs and what waits in the outbox, but for those that were
// given already, and notes which they are.
func (s *Store) giveFiles(ctx context.Context, given map[string]bool, give func(string, int64, io.Reader) error) error {
	partial := filepath.Join(s.o.Dir, blobFolder, partialFolder)
	for _, folder := range []string{blobFolder, outFolder} {
		err := filepath.WalkDir(filepath.Join(s.o.Dir, folder), func(path string, d fs.DirEntry, err error) error {
			switch {
			case errors.Is(err, fs.ErrNotExist):
				return nil // nothing was ever kept there, or it went meanwhile
			case err != nil:
				return err
			case path == partial:
				return fs.SkipDir
			case !d.Type().IsRegular(), !timeline.Hash(d.Name()).Valid(): // the latter is being written
				return ctx.Err()
			}
			name, err := filepath.Rel(s.o.Dir, path)
			if err != nil {
				return err
			}
			if name = filepath.ToSlash(name); given[name] {
				return nil
			}
			switch err := giveFile(path, name, give); {
			case errors.Is(err, fs.ErrNotExist):
				return nil
			case err != nil:
				return err
			}
			given[name] = true
			return nil
		})
		if err != nil {
			return err
		}
	}
	return nil
}

// giveFile gives a file as long as it is when it is opened: one that grows
// meanwhile gives no more.
func giveFile(path, name string, give func(string, int64, io.Reader) error) error {
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	info, err := f.Stat()
	if err == nil {
		err = give(name, info.Size(), io.LimitReader(f, info.Size()))
	}
	return errors.Join(err, f.Close())
}

// InBackup reports that a file of a backup may bear this name.
func InBackup(name string) bool {
	if name == FileName {
		return true
	}
	folder, rest, _ := strings.Cut(name, "/")
	return (folder == blobFolder || folder == outFolder) && rest != "" && filepath.IsLocal(rest) && !strings.ContainsAny(name, `\:`) && !strings.HasPrefix(rest, partialFolder+"/")
}
