package main

import (
	"context"
	"errors"
	"os"
	"path/filepath"

	"chinlift/core"
	"chinlift/mobile/keep"
	"chinlift/sync/plain"
)

// export writes all that is recorded, or one case of it, into a folder. It
// changes nothing in the data folder, and may run beside a companion.
func (c *command) export(ctx context.Context, args []string) (err error) {
	fs, data := c.flags("export")
	to := fs.String("to", "", "")
	one := fs.String("case", "", "")
	private := fs.Bool("private", false, "")
	pseudonyms := fs.String("deidentified", "", "")
	sealFor := fs.String("seal-for", "", "")
	sealWith := fs.String("seal-with", "", "")
	mapping := fs.String("snomed", "", "")
	pin := addPINFlags(fs)
	if _, err := c.parse(fs, args, 0); err != nil {
		return err
	}
	if *to == "" {
		return usageError(c.words.Say("desk.no-target"))
	}
	if *private && *pseudonyms != "" {
		return usageError(c.words.Say("desk.forms-one-of-two"))
	}
	o := plain.Options{Private: *private, Case: *one}
	if o.Seal, err = c.seal(*sealFor, *sealWith); err != nil {
		return err
	}
	if o.Snomed, err = c.snomed(*mapping); err != nil {
		return err
	}
	dir, err := c.folder(*data)
	if err != nil {
		return err
	}
	// The data folder is no place for exports: a reader would take them for part of it.
	if keep.Within(dir, *to) {
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
	if err := c.unlock(ctx, companion, pin); err != nil {
		return err
	}
	if *pseudonyms != "" {
		if o.Pseudonyms, err = c.pseudonyms(*pseudonyms); err != nil {
			return err
		}
	}
	o.Made = companion.Now().Wall
	written, err := plain.Export(ctx, companion, *to, o)
	for _, name := range written {
		printLine(c.out, filepath.Join(*to, name))
	}
	if errors.Is(err, core.ErrSealed) {
		return c.explained(err)
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
	switch {
	case *private:
		printLine(c.out, c.words.Say("desk.with-private"))
	case o.Pseudonyms != nil:
		printLine(c.out, c.words.Say("desk.deidentified"))
	default:
		printLine(c.out, c.words.Say("desk.without-private"))
	}
	if !o.Seal.IsZero() {
		printLine(c.out, c.words.Say("desk.sealed"))
	}
	return nil
}

// snomed reads the mapping that was named.
func (c *command) snomed(path string) (s *plain.Snomed, err error) {
	if path == "" {
		return nil, nil
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, c.cannot(path, err)
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	if s, err = plain.ReadSnomed(f); err != nil {
		return nil, c.cannot(path, err)
	}
	return s, nil
}
