package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"github.com/google/uuid"
)

// installationFile holds the id of this installation.
const installationFile = "installation"

// installation gives the token by which the store knows that its database is
// still where it was: an id, and the number that the file system gave to the
// file that holds it. A copied or restored folder has the same id in another
// file, so that its companion opens a log of its own instead of going on in
// the log of the original. A folder that is renamed keeps its token.
//
// Where files have no lasting number (FAT, some network shares) a copy may
// not be noticed, or the folder may be taken for one; then a log is opened
// that was not needed, and nothing is lost by it.
func installation(dir string) (string, error) {
	path := filepath.Join(dir, installationFile)
	id, err := os.ReadFile(path)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return "", err
	}
	known, parsed := uuid.Parse(strings.TrimSpace(string(id)))
	if err != nil || parsed != nil {
		// Missing, or cut short by a crash while it was first written.
		if known, err = uuid.NewRandom(); err != nil {
			return "", err
		}
		if err := writeSynced(path, []byte(known.String()+"\n")); err != nil {
			return "", err
		}
	}
	info, err := os.Stat(path)
	if err != nil {
		return "", err
	}
	number, ok := fileNumber(info)
	if !ok {
		return known.String(), nil
	}
	return fmt.Sprintf("%s-%d", known, number), nil
}

// writeSynced writes a file so that after a crash it is there whole or not at
// all.
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
	return os.Rename(f.Name(), path)
}
