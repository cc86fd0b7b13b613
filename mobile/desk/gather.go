package main

import (
	"context"
	"errors"
	"maps"
	"slices"

	"chinlift/mobile/keep"
	"chinlift/sync/plain"
)

// gather takes in whatever exports and segments lie in files and folders,
// plain or sealed, into one data folder, and says what there is to look at.
// What is here already stays as it is.
func (c *command) gather(ctx context.Context, args []string) (err error) {
	fs, data := c.flags("gather")
	keys := addKeyFlags(fs)
	paths, err := c.parse(fs, args, mostFiles)
	if err != nil {
		return err
	}
	if len(paths) == 0 {
		return usageError(c.words.Say("desk.gather-no-source"))
	}
	u, err := c.unseal(keys)
	if err != nil {
		return err
	}
	dir, err := c.folder(*data)
	if err != nil {
		return err
	}
	for _, p := range paths {
		if keep.Within(dir, p) {
			return usageError(c.words.Say("desk.gather-itself", "path", p))
		}
	}
	// Looked for before anything is written: a name that is misspelled
	// changes nothing.
	found, err := plain.Find(paths)
	if err != nil {
		return c.cannot(paths[0], err)
	}
	if len(found.Lines) == 0 {
		return c.cannot(paths[0], errors.New(c.words.Say("desk.gather-nothing")))
	}
	companion, err := c.open(ctx, dir)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, companion.Close()) }()

	faults := 0
	for _, path := range found.Blobs {
		if err := plain.GatherBlob(ctx, path, u, companion); err != nil {
			faults++
			printLine(c.out, c.words.Say("desk.unread", "file", path, "error", err.Error()))
		}
	}
	var sum plain.Replayed
	cases := map[string]bool{}
	for _, path := range found.Lines {
		g, err := plain.GatherLines(ctx, path, u, companion)
		for _, l := range g.Unread {
			printLine(c.out, c.words.Say("desk.unread", "file", path, "error", l.Error()))
		}
		for _, r := range g.Refused {
			printLine(c.out, c.words.Say("desk.refused", "file", path, "id", r.Line.Event.ID, "error", r.Err.Error()))
		}
		if g.Err != nil {
			faults++
			printLine(c.out, c.words.Say("desk.unread", "file", path, "error", g.Err.Error()))
		}
		if err != nil {
			return &failure{c.words.Say("desk.replay-again", "file", path, "error", err.Error()), err}
		}
		sum.New += g.New
		sum.Known += g.Known
		sum.PrivateAdded += g.PrivateAdded
		sum.Forks += g.Forks
		faults += g.Faults
		for _, id := range g.Cases {
			cases[id] = true
		}
	}
	changed := slices.Sorted(maps.Keys(cases))
	printLine(c.out, c.words.Count("desk.files", len(found.Lines)+len(found.Blobs))+", "+
		c.words.Count("desk.taken-in", sum.New, "file", dir, "known", sum.Known, "cases", c.words.Count("desk.cases", len(changed))))
	c.tellBesides(sum.PrivateAdded, sum.Forks)
	standing, err := plain.StandingOf(ctx, companion, changed)
	if err != nil {
		return c.cannot(dir, err)
	}
	if standing.Conflicts > 0 {
		printLine(c.out, c.words.Count("desk.conflicts", standing.Conflicts))
	}
	if standing.Waiting > 0 {
		printLine(c.out, c.words.Count("desk.waiting", standing.Waiting))
	}
	if faults > 0 {
		printLine(c.out, c.words.Count("desk.gather-faults", faults))
		return errFound
	}
	return nil
}
