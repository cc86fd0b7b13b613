package main

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"chinlift/sync/plain"
)

// check verifies a folder, or one exported file, and says what is wrong where.
// It changes nothing, and may run beside a companion.
func (c *command) check(ctx context.Context, args []string) (err error) {
	fs, data := c.flags("check")
	keys := addKeyFlags(fs)
	pin := addPINFlags(fs)
	files, err := c.parse(fs, args, 1)
	if err != nil {
		return err
	}
	u, err := c.unseal(keys)
	if err != nil {
		return err
	}
	if len(files) == 1 {
		if *data != "" {
			return usageError(c.words.Say("desk.one-of-two"))
		}
		if info, err := os.Stat(files[0]); err == nil && info.IsDir() {
			return c.checkExport(files[0], u)
		}
		return c.checkFile(files[0], u)
	}
	dir, err := c.folder(*data)
	if err != nil {
		return err
	}
	companion, err := c.openReadOnly(ctx, dir)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, companion.Close()) }()
	if err := c.unlock(ctx, companion, pin); err != nil {
		return err
	}
	r, err := companion.Verify(ctx)
	if err != nil {
		return c.cannot(dir, err)
	}
	for _, f := range r.Findings {
		c.finding(f.Code, f.Log, f.Seq, f.ID, f.Detail)
	}
	if r.Sealed > 0 {
		printLine(c.out, c.words.Count("desk.not-opened", r.Sealed))
	}
	return c.verdict(r.Lines, r.Logs, len(r.Findings), r.Continuity)
}

// checkExport holds an exported folder against its manifest, and verifies the
// lines in it.
func (c *command) checkExport(dir string, u plain.Unseal) error {
	m, faults, err := plain.CheckFolder(dir)
	if err != nil {
		return c.cannot(dir, err)
	}
	for _, f := range faults {
		detail := ""
		if f.Err != nil {
			detail = f.Err.Error()
		}
		c.finding(f.Code, "", 0, "", strings.TrimSpace(f.File+" "+detail))
	}
	printLine(c.out, c.words.Count("desk.files", len(m.Files))+".")
	for _, f := range m.Files {
		if f.Name != "lines.jsonl" && f.Name != "lines.jsonl"+plain.Sealed {
			continue
		}
		err := c.checkFile(filepath.Join(dir, f.Name), u)
		if err != nil || len(faults) == 0 {
			return err
		}
	}
	if len(faults) > 0 {
		printLine(c.out, c.words.Count("desk.findings", len(faults)))
		return errFound
	}
	printLine(c.out, c.words.Say("desk.files-whole"))
	return nil
}

// checkFile verifies a file of JSON lines by itself, plain or sealed.
func (c *command) checkFile(name string, u plain.Unseal) (err error) {
	f, err := u.OpenFile(name)
	if err != nil {
		return c.cannot(name, err)
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	r, err := plain.Check(f)
	if err != nil {
		return c.cannot(name, err)
	}
	for _, u := range r.Unread {
		printLine(c.out, c.words.Say("desk.unread", "file", name, "error", u.Error()))
	}
	for _, f := range r.Findings {
		c.finding(f.Code, f.Log, f.Seq, f.ID, f.Detail)
	}
	return c.verdict(r.Lines, r.Logs, len(r.Unread)+len(r.Findings), r.Continuity)
}

// finding prints one thing that is wrong: what, where, and what to look for.
func (c *command) finding(code, log string, seq int64, id, detail string) {
	//word:prefix finding.
	what := code
	if key := "finding." + code; c.words.Has(key) {
		what = c.words.Say(key)
	}
	var where []string
	if log != "" {
		where = append(where, c.words.Say("desk.in-log", "log", log))
	}
	if seq != 0 {
		where = append(where, c.words.Say("desk.at-number", "n", strconv.FormatInt(seq, 10)))
	}
	if id != "" {
		where = append(where, c.words.Say("desk.of-event", "id", id))
	}
	line := what
	if len(where) > 0 {
		line += " (" + strings.Join(where, ", ") + ")"
	}
	if detail != "" {
		line += ": " + detail
	}
	printLine(c.out, line)
}

// verdict prints how it stands with all of it.
func (c *command) verdict(lines, logs, findings int, continuity string) error {
	printLine(c.out, c.words.Count("desk.lines", lines)+", "+c.words.Count("desk.logs", logs)+".")
	if findings > 0 {
		printLine(c.out, c.words.Count("desk.findings", findings))
		return errFound
	}
	if continuity == "whole" {
		printLine(c.out, c.words.Say("desk.whole"))
	} else {
		printLine(c.out, c.words.Say("desk.not-known"))
	}
	return nil
}
