package main

import (
	"bytes"
	"context"
	"errors"
	"maps"
	"slices"

	"chinlift/core"
	"chinlift/sync/plain"
	"chinlift/testdata/demo"
)

// demoSuffix names the folder of the invented cases when none is named: beside
// that of the real ones, never the same.
const demoSuffix = "-demo"

// demo takes in the invented cases. They do not go among real ones: a folder
// that holds anything must be one that they were taken into before.
func (c *command) demo(ctx context.Context, companion *core.Companion, dir string) error {
	if companion.Stored() > 0 {
		_, err := companion.Case(ctx, demo.Hernia)
		if errors.Is(err, core.ErrNotHere) {
			return usageError(c.words.Say("desk.demo-among-real", "path", dir))
		}
		if err != nil {
			return c.cannot(dir, err)
		}
	}
	files := demo.Files()
	for _, name := range slices.Sorted(maps.Keys(files)) {
		r, err := plain.Replay(ctx, bytes.NewReader(files[name]), companion)
		for _, u := range r.Unread {
			err = errors.Join(err, u)
		}
		for _, u := range r.Refused {
			err = errors.Join(err, u.Err)
		}
		if err != nil {
			return c.cannot(name, err)
		}
	}
	return nil
}
