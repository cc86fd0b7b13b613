package main

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"

	"chinlift/sync/plain"
)

// export writes all that is recorded, or one case of it, into a folder. It
// changes nothing in the data folder, and may run beside a companion.
func (c *command) export(ctx context.Context, args []string) (err error) {
	fs, data := c.flags("export")
	to := fs.String("to", "", "")
	one := fs.String("case", "", "")
	private := fs.Bool("private", false, "")
	if _, err := c.parse(fs, args, 0); err != nil {
		return err
	}
	if *to == "" {
		return usageError(c.words.Say("desk.no-target"))
	}
	dir, err := c.folder(*data)
	if err != nil {
		return err
	}
	if within(dir, *to) {
		return usageError(c.words.Say("desk.target-in-data", "path", *to))
	}
	companion, err := c.openReadOnly(ctx, dir)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, companion.Close()) }()
	if *one != "" {
		// Asked for first, so that a slip of the pen leaves no empty files.
		if _, err := companion.Case(ctx, *one); err != nil {
			return c.cannot(*one, err)
		}
	}
	written, err := plain.Export(ctx, companion, *to, plain.Options{Private: *private, Case: *one, Made: companion.Now().Wall})
	for _, name := range written {
		printLine(c.out, filepath.Join(*to, name))
	}
	if err != nil {
		return c.cannot(*to, err)
	}
	older, err := plain.Older(*to, written)
	if err != nil {
		return c.cannot(*to, err)
	}
	for _, name := range older {
		printLine(c.out, c.words.Say("desk.older", "file", filepath.Join(*to, name)))
	}
	if *private {
		printLine(c.out, c.words.Say("desk.with-private"))
	} else {
		printLine(c.out, c.words.Say("desk.without-private"))
	}
	return nil
}

// within reports that a path lies in a folder, or is it. The data folder is
// no place for exports: a reader would take them for part of it.
func within(dir, path string) bool {
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
