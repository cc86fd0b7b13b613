package main

import (
	"context"
	"errors"
	"path/filepath"

	"chinlift/mobile/keep"
	"chinlift/sync/plain"
)

// backup writes a whole device, sealed, into a folder. It changes nothing, and
// may run beside a companion.
func (c *command) backup(ctx context.Context, args []string) (err error) {
	fs, data := c.flags("backup")
	to := fs.String("to", "", "")
	sealFor := fs.String("seal-for", "", "")
	sealWith := fs.String("seal-with", "", "")
	if _, err := c.parse(fs, args, 0); err != nil {
		return err
	}
	if *to == "" {
		return usageError(c.words.Say("desk.no-target"))
	}
	seal, err := c.seal(*sealFor, *sealWith)
	if err != nil {
		return err
	}
	if seal.IsZero() {
		return usageError(c.words.Say("desk.backup-open"))
	}
	dir, err := c.folder(*data)
	if err != nil {
		return err
	}
	if keep.Within(dir, *to) {
		return usageError(c.words.Say("desk.target-in-data", "path", *to))
	}
	companion, err := c.openReadOnly(ctx, dir)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, companion.Close()) }()
	written, err := plain.Backup(ctx, companion, *to, seal)
	if err != nil {
		return c.cannot(*to, err)
	}
	for _, name := range written {
		printLine(c.out, filepath.Join(*to, name))
	}
	printLine(c.out, c.words.Say("desk.backed-up"))
	return nil
}

// restore puts a backup into a data folder that is empty or not there, and
// verifies it.
func (c *command) restore(ctx context.Context, args []string) (err error) {
	fs, data := c.flags("restore")
	keys := addKeyFlags(fs)
	files, err := c.parse(fs, args, 1)
	if err != nil {
		return err
	}
	if len(files) == 0 {
		return usageError(c.words.Say("desk.restore-no-source"))
	}
	u, err := c.unseal(keys)
	if err != nil {
		return err
	}
	dir, err := c.folder(*data)
	if err != nil {
		return err
	}
	switch err := plain.Restore(ctx, files[0], u, dir); {
	case errors.Is(err, plain.ErrNotEmpty):
		return usageError(c.words.Say("desk.restore-not-empty", "path", dir))
	case err != nil:
		return c.cannot(files[0], err)
	}
	printLine(c.out, c.words.Say("desk.put-back", "path", dir))
	return c.check(ctx, []string{"--data", dir})
}
