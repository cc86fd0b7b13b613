// Package keep holds what a companion keeps outside its data folder, and what
// it does with it: the token of the installation, the witness of what was
// written last, and the places to send to; and the sending itself, in the
// background while the companion is open. A desk and a phone use it alike.
//
// It is not part of the record. What it keeps is of this device alone: no
// export and no copy of the data takes it along.
package keep

import (
	"bytes"
	"encoding/json"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"github.com/google/uuid"

	"chinlift/core"
)

// Installation is what is kept about a data folder, outside it: by it the
// store knows whether the database is the one that was written here, or a
// copy, or a backup that was put back. What it cannot show is a backup that
// reaches both: the folder and this go back together.
type Installation struct {
	path string // of the file; empty: nothing can be kept
	kept kept
}

// kept is one line of the file. Each entry adds one without a sync; each
// checkpoint begins the file anew, synced. The last line that is whole counts.
type kept struct {
	Installation string       `json:"installation"` // a random UUID
	Head         core.LogHead `json:"head"`
}

// Unkept is an installation that is good for this run alone.
func Unkept() *Installation { return &Installation{kept: kept{Installation: uuid.NewString()}} }

// Installed reads what is kept in a file, and begins to keep it where nothing
// is. On an error it answers an installation that is good for this run.
func Installed(path string) (*Installation, error) {
	in := Unkept()
	data, err := os.ReadFile(path)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return in, err
	}
	found := false
	for line := range bytes.Lines(data) {
		var k kept
		if json.Unmarshal(line, &k) == nil && uuid.Validate(k.Installation) == nil {
			in.kept, found = k, true
		}
	}
	if !found {
		if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
			return in, err
		}
		line, err := json.Marshal(in.kept)
		if err != nil {
			return in, err
		}
		if err := WriteSynced(path, append(line, '\n')); err != nil {
			return in, err
		}
	}
	in.path = path
	return in, nil
}

// Token names this installation.
func (in *Installation) Token() string { return in.kept.Installation }

// Witness gives the installation as the store's witness; nil where nothing can
// be kept.
func (in *Installation) Witness() core.Witness {
	if in.path == "" {
		return nil
	}
	return in
}

// Load gives the head that was kept last.
func (in *Installation) Load() (core.LogHead, error) { return in.kept.Head, nil }

// Save keeps the head.
func (in *Installation) Save(h core.LogHead, durable bool) error {
	in.kept.Head = h
	line, err := json.Marshal(in.kept)
	if err != nil {
		return err
	}
	if durable {
		return WriteSynced(in.path, append(line, '\n'))
	}
	f, err := os.OpenFile(in.path, os.O_WRONLY|os.O_APPEND|os.O_CREATE, 0o600)
	if err != nil {
		return err
	}
	// The line break stands first: a power cut may have left half a line.
	_, err = f.Write(append([]byte{'\n'}, line...))
	return errors.Join(err, f.Close())
}

// WriteSynced writes a file so that after a crash it is there whole or as it
// was.
func WriteSynced(path string, data []byte) (err error) {
	f, err := os.CreateTemp(filepath.Dir(path), "."+filepath.Base(path)+"-*")
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, os.Remove(f.Name()))
		}
	}()
	_, err = f.Write(data)
	if err == nil {
		err = f.Sync()
	}
	if err = errors.Join(err, f.Close()); err != nil {
		return err
	}
	if err = os.Rename(f.Name(), path); err == nil {
		_ = syncFolder(filepath.Dir(path)) // where it fails a power cut may bring the old file back
	}
	return err
}

// Within reports that a path lies in a folder, or is it.
func Within(dir, path string) bool {
	path, err := filepath.Abs(path)
	if err != nil {
		return false
	}
	for p := path; ; p = filepath.Dir(p) {
		a, errA := os.Stat(p)
		b, errB := os.Stat(dir)
		if p == filepath.Clean(dir) || errA == nil && errB == nil && os.SameFile(a, b) {
			return true
		}
		if p == filepath.Dir(p) || !strings.Contains(p, string(filepath.Separator)) {
			return false
		}
	}
}
