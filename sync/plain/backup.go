package plain

import (
	"archive/tar"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"

	"filippo.io/age"

	"chinlift/core"
	"chinlift/core/store"
)

// BackupName is how a backup of a whole device is called. Under it lies a tar
// file, sealed.
const BackupName = "device.tar" + Sealed

// BackupSource is what a whole device can be copied from: a companion.
type BackupSource interface {
	Backup(ctx context.Context, give func(name string, size int64, content io.Reader) error) error
}

var _ BackupSource = (*core.Companion)(nil)

// ErrNotSealed says that a whole device goes out sealed or not at all: what is
// recorded since the last locking lies open in it.
var ErrNotSealed = errors.New("a backup of a whole device must be sealed")

// Backup writes a whole device into a folder: the database and all files of the
// data folder. It appears whole or not at all. It answers the names of the
// files: with a passphrase the key that it opens lies beside, as in an export.
func Backup(ctx context.Context, src BackupSource, dir string, to Seal) (written []string, err error) {
	if to.IsZero() {
		return nil, ErrNotSealed
	}
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return nil, err
	}
	s, err := to.ready()
	if err != nil {
		return nil, err
	}
	e := exporter{dir: dir, seal: s}
	if s.key != nil {
		if err := e.open(keyFile, func(w io.Writer) error { _, err := w.Write(s.key); return err }); err != nil {
			return nil, err
		}
	}
	err = e.open(BackupName, func(w io.Writer) error {
		return s.seal(w, func(w io.Writer) error { return writeDevice(ctx, src, w) })
	})
	if err != nil {
		return nil, err
	}
	return e.names(), syncDir(dir)
}

// writeDevice writes the tar file of a device.
func writeDevice(ctx context.Context, src BackupSource, w io.Writer) error {
	t := tar.NewWriter(w)
	err := src.Backup(ctx, func(name string, size int64, content io.Reader) error {
		if err := t.WriteHeader(&tar.Header{Typeflag: tar.TypeReg, Name: name, Size: size, Mode: 0o600}); err != nil {
			return err
		}
		_, err := io.Copy(t, content)
		return err
	})
	return errors.Join(err, t.Close())
}

// WriteBackup writes a whole device as one sealed file: with a passphrase no key
// lies beside it, for the passphrase opens the file itself.
func WriteBackup(ctx context.Context, src BackupSource, w io.Writer, to Seal) error {
	if to.IsZero() {
		return ErrNotSealed
	}
	s := sealer{to: to.recipients}
	if to.passphrase != "" {
		if len(to.recipients) > 0 {
			return fmt.Errorf("%w: a file is sealed for keys or with a passphrase", ErrKey)
		}
		with, err := age.NewScryptRecipient(to.passphrase)
		if err != nil {
			return err
		}
		with.SetWorkFactor(workFactor)
		s.to = []age.Recipient{with}
	}
	return s.seal(w, func(w io.Writer) error { return writeDevice(ctx, src, w) })
}

// ErrNotABackup says that a file is no backup of a device.
var ErrNotABackup = errors.New("the file is not a backup of a device")

// ErrNotEmpty says that something lies where a device is to be put back: a
// record is never written over.
var ErrNotEmpty = errors.New("the folder is not empty")

// Restore puts a backup into a folder that is empty or not there. It appears
// whole or not at all; what was changed or cut off on its way is refused.
func Restore(ctx context.Context, path string, keys Unseal, dir string) (err error) {
	if entries, err := os.ReadDir(dir); err == nil && len(entries) > 0 {
		return ErrNotEmpty
	} else if err != nil && !errors.Is(err, os.ErrNotExist) {
		return err
	}
	r, err := keys.OpenFile(path)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, r.Close()) }()
	parent := filepath.Dir(dir)
	if err := os.MkdirAll(parent, 0o700); err != nil {
		return err
	}
	part, err := os.MkdirTemp(parent, ".restore-")
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, os.RemoveAll(part)) }() // nothing once it has its name
	info, err := os.Stat(path)
	if err != nil {
		return err
	}
	if err := unpack(ctx, r, part, info.Size()); err != nil {
		return err
	}
	if err := os.Remove(dir); err != nil && !errors.Is(err, os.ErrNotExist) {
		return err
	}
	if err := os.Rename(part, dir); err != nil {
		return err
	}
	return syncDir(parent)
}

// unpack writes the files of a backup below a folder, each synced, and the
// folders that name them. They are not packed closer: what says that it has more
// bytes than most, the whole backup, is none, before it fills the disk.
func unpack(ctx context.Context, r io.Reader, dir string, most int64) error {
	t := tar.NewReader(r)
	folders := map[string]bool{}
	for {
		if err := ctx.Err(); err != nil {
			return err
		}
		h, err := t.Next()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return fmt.Errorf("%w: %w", ErrNotABackup, err)
		}
		if h.Typeflag != tar.TypeReg || !store.InBackup(h.Name) {
			return fmt.Errorf("%w: it holds %q", ErrNotABackup, h.Name)
		}
		if h.Size > most {
			// As of one that was cut off, of which the rest is wanting.
			return fmt.Errorf("%w: %q has more bytes than the backup: %w", ErrNotABackup, h.Name, io.ErrUnexpectedEOF)
		}
		most -= h.Size
		name := filepath.Join(dir, filepath.FromSlash(h.Name))
		if err := os.MkdirAll(filepath.Dir(name), 0o700); err != nil {
			return err
		}
		for f := filepath.Dir(name); f != dir; f = filepath.Dir(f) {
			folders[f] = true
		}
		if err := put(name, t); err != nil {
			return err
		}
	}
	if _, err := os.Stat(filepath.Join(dir, store.FileName)); err != nil {
		return ErrNotABackup
	}
	// What stands behind the end of the tar file has its seal looked at too.
	if _, err := io.Copy(io.Discard, r); err != nil {
		return err
	}
	for f := range folders {
		if err := syncDir(f); err != nil {
			return err
		}
	}
	return syncDir(dir)
}

func put(name string, content io.Reader) error {
	f, err := os.OpenFile(name, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return err
	}
	_, err = io.Copy(f, content)
	if err == nil {
		err = f.Sync()
	}
	return errors.Join(err, f.Close())
}
