package main

import (
	"context"
	"os"
	"path/filepath"
	"runtime"
	"time"

	"chinlift/core"
)

// folder gives the data folder: the one that was named, or the user's own.
func (c *command) folder(named string) (string, error) {
	if named != "" {
		return filepath.Abs(named)
	}
	// Where the XDG Base Directory Specification (freedesktop.org, version
	// 0.8) holds, data has a place of its own; elsewhere it lies with the
	// settings.
	if runtime.GOOS == "linux" {
		// A relative path in the variable is invalid and to be ignored.
		if dir := os.Getenv("XDG_DATA_HOME"); filepath.IsAbs(dir) {
			return filepath.Join(dir, "chinlift"), nil
		}
		home, err := os.UserHomeDir()
		if err != nil {
			return "", usageError(c.words.Say("desk.no-home"))
		}
		return filepath.Join(home, ".local", "share", "chinlift"), nil
	}
	dir, err := os.UserConfigDir()
	if err != nil {
		return "", usageError(c.words.Say("desk.no-home"))
	}
	return filepath.Join(dir, "chinlift"), nil
}

// open opens the companion on a folder, which is made when it is missing.
func (c *command) open(ctx context.Context, dir string) (*core.Companion, error) {
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return nil, c.cannot(dir, err)
	}
	in, err := installationOf(dir)
	if err != nil {
		printLine(c.err, c.words.Say("desk.not-kept", "path", dir, "error", err.Error()))
	}
	safe, err := safeOf(dir)
	if err != nil {
		return nil, c.cannot(dir, err)
	}
	free := func() (int64, bool) { return freeSpace(dir) }
	companion, err := core.Open(ctx, core.Options{Dir: dir, Installation: in.Token(), Witness: in.Witness(), Safe: safe, Clock: core.SystemClock(), Words: c.words, Free: free, After: time.After})
	if err != nil {
		return nil, c.cannot(dir, err)
	}
	// Said at each start until the first entry has opened the log.
	if key := "desk.log-" + string(companion.Opens()); c.words.Has(key) { //word:prefix desk.log-
		printLine(c.err, c.words.Say(key, "path", dir))
	}
	return companion, nil
}

// openReadOnly opens the companion on a folder without changing anything in
// it, beside one that may be running.
func (c *command) openReadOnly(ctx context.Context, dir string) (*core.Companion, error) {
	o := core.Options{Dir: dir, Clock: core.SystemClock(), Words: c.words}
	if safe, err := safeOf(dir); err == nil {
		o.Safe = safe // there is none for a folder that is not there
	}
	companion, err := core.OpenReadOnly(ctx, o)
	if err != nil {
		return nil, c.cannot(dir, err)
	}
	return companion, nil
}
