package main

import (
	"context"
	"errors"
	"os"

	"chinlift/sync/plain"
)

// mostFiles bounds how many files one replay takes: as many as a shell hands
// over.
const mostFiles = 1 << 16

// replay takes in the lines of exported files. What is here already stays as
// it is, so that a file may be taken in twice.
func (c *command) replay(ctx context.Context, args []string) (err error) {
	fs, data := c.flags("replay")
	names, err := c.parse(fs, args, mostFiles)
	if err != nil {
		return err
	}
	if len(names) == 0 {
		return usageError(c.words.Say("desk.no-file"))
	}
	dir, err := c.folder(*data)
	if err != nil {
		return err
	}
	// All are opened before anything is written: a name that is misspelled
	// changes nothing.
	var files []*os.File
	defer func() {
		for _, f := range files {
			err = errors.Join(err, f.Close())
		}
	}()
	for _, name := range names {
		f, err := os.Open(name)
		if err != nil {
			return c.cannot(name, err)
		}
		files = append(files, f)
	}
	companion, err := c.open(ctx, dir)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, companion.Close()) }()

	faults := 0
	for _, f := range files {
		r, err := plain.Replay(ctx, f, companion)
		for _, u := range r.Unread {
			printLine(c.out, c.words.Say("desk.unread", "file", f.Name(), "error", u.Error()))
		}
		for _, u := range r.Refused {
			printLine(c.out, c.words.Say("desk.refused", "file", f.Name(), "id", u.Line.Event.ID, "error", u.Err.Error()))
		}
		faults += r.Faults
		if err != nil {
			return &failure{c.words.Say("desk.replay-again", "file", f.Name(), "error", err.Error()), err}
		}
		printLine(c.out, c.words.Count("desk.taken-in", r.New, "file", f.Name(), "known", r.Known, "cases", c.words.Count("desk.cases", len(r.Cases))))
		c.tellBesides(r.PrivateAdded, r.Forks)
	}
	if faults > 0 {
		printLine(c.out, c.words.Count("desk.faults", faults))
		return errFound
	}
	return nil
}

// tellBesides tells what came beside new lines: private parts for lines that
// were here without, and logs that had parted.
func (c *command) tellBesides(private, forks int) {
	if private > 0 {
		printLine(c.out, c.words.Count("desk.private-added", private))
	}
	if forks > 0 {
		printLine(c.out, c.words.Count("desk.forks", forks))
	}
}
