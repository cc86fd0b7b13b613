package main

import (
	"crypto/sha256"
	"encoding/hex"
	"os"
	"path/filepath"
	"runtime"

	"chinlift/mobile/keep"
)

// installationOf reads what this user of this computer keeps about a data
// folder, which must be there. On an error it answers an installation that is
// good for this run.
//
// It is told by the folder's place. A folder that was moved, or that another
// user opens, is a copy, and so is one that two computers take turns at: then
// a log is opened that was not needed, and nothing is lost by it. What it
// cannot show is a backup of the user's whole home: the folder and this go
// back together.
func installationOf(dir string) (*keep.Installation, error) {
	path, err := keptFile(dir)
	if err != nil {
		return keep.Unkept(), err
	}
	return keep.Installed(path)
}

// placesOf names the file of the places to send to: beside the installation,
// for this user alone, and not sealed.
func placesOf(dir string) (string, error) {
	path, err := keptFile(dir)
	if err != nil {
		return "", err
	}
	return path + "-places", nil
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
