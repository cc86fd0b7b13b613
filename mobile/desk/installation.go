package main

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"

	"github.com/google/uuid"

	"chinlift/core"
)

// installation is what this user of this computer keeps about a data folder,
// outside it: by it the store knows whether the database is the one that was
// written here, or a copy, or a backup that was put back.
//
// It is told by the folder's place. A folder that was moved, or that another
// user opens, is a copy, and so is one that two computers take turns at: then
// a log is opened that was not needed, and nothing is lost by it. What it
// cannot show is a backup of the user's whole home: the folder and this go
// back together.
type installation struct {
	path string // of the file; empty: nothing can be kept
	kept kept
}

// kept is one line of the file. Each entry adds one without a sync; each
// checkpoint begins the file anew, synced. The last line that is whole counts.
type kept struct {
	Installation string       `json:"installation"` // a random UUID
	Head         core.LogHead `json:"head"`
}

// installationOf reads what is kept about a data folder, which must be there,
// and begins to keep it where nothing is. On an error it answers an
// installation that is good for this run.
func installationOf(dir string) (*installation, error) {
	in := &installation{kept: kept{Installation: uuid.NewString()}}
	path, err := keptFile(dir)
	if err != nil {
		return in, err
	}
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
		if err := writeSynced(path, append(line, '\n')); err != nil {
			return in, err
		}
	}
	in.path = path
	return in, nil
}

// keptFile names the file that is kept about a data folder.
func keptFile(dir string) (string, error) {
	// One folder has one file, by whatever way it is named.
	dir, err := filepath.Abs(dir)
	if err == nil {
		dir, err = filepath.EvalSymlinks(dir)
	}
	if err != nil {
		return "", err
	}
	root, err := stateFolder()
	if err != nil {
		return "", err
	}
	sum := sha256.Sum256([]byte(dir))
	return filepath.Join(root, hex.EncodeToString(sum[:])), nil
}

// stateFolder is the folder for what a program remembers between its runs.
func stateFolder() (string, error) {
	// XDG Base Directory Specification (freedesktop.org, version 0.8), as for
	// the data; elsewhere it lies with the settings.
	if runtime.GOOS == "linux" {
		if dir := os.Getenv("XDG_STATE_HOME"); filepath.IsAbs(dir) {
			return filepath.Join(dir, "chinlift"), nil
		}
		home, err := os.UserHomeDir()
		if err != nil {
			return "", err
		}
		return filepath.Join(home, ".local", "state", "chinlift"), nil
	}
	dir, err := os.UserConfigDir()
	if err != nil {
		return "", err
	}
	return filepath.Join(dir, "chinlift", "state"), nil
}

// witness is the installation as the store's witness; nil where nothing can be
// kept.
func (in *installation) witness() core.Witness {
	if in.path == "" {
		return nil
	}
	return in
}

// Load gives the head that was kept last.
func (in *installation) Load() (core.LogHead, error) { return in.kept.Head, nil }

// Save keeps the head.
func (in *installation) Save(h core.LogHead, durable bool) error {
	in.kept.Head = h
	line, err := json.Marshal(in.kept)
	if err != nil {
		return err
	}
	if durable {
		return writeSynced(in.path, append(line, '\n'))
	}
	f, err := os.OpenFile(in.path, os.O_WRONLY|os.O_APPEND|os.O_CREATE, 0o600)
	if err != nil {
		return err
	}
	// The line break stands first: a power cut may have left half a line.
	_, err = f.Write(append([]byte{'\n'}, line...))
	return errors.Join(err, f.Close())
}

// writeSynced writes a file so that after a crash it is there whole or as it
// was.
func writeSynced(path string, data []byte) (err error) {
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
