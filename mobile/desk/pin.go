package main

import (
	"context"
	"errors"
	"flag"
	"io"
	"strings"

	"chinlift/core"
)

// The PIN and the recovery key come from a file or from standard input, never
// from the command line, which other users of the computer can see.

// pinFlags are the flags of a verb that reads what may be locked.
type pinFlags struct{ pin, recovery *string }

func addPINFlags(fs *flag.FlagSet) pinFlags {
	return pinFlags{fs.String("pin", "", ""), fs.String("recovery-key", "", "")}
}

// fromInput is the name that stands for standard input.
const fromInput = "-"

// secret reads the first line of a file, or of standard input.
func (c *command) secret(path string) (string, error) {
	var text string
	var err error
	if path == fromInput {
		var data []byte
		data, err = io.ReadAll(io.LimitReader(c.in, longestSecret))
		text = string(data)
	} else {
		text, err = readSecret(path)
	}
	if err != nil {
		return "", c.cannot(path, err)
	}
	line, _, _ := strings.Cut(text, "\n")
	return strings.TrimRight(line, "\r"), nil
}

// unlock opens what is locked with the PIN or the recovery key that was named.
func (c *command) unlock(ctx context.Context, companion *core.Companion, p pinFlags) error {
	switch {
	case *p.pin != "" && *p.recovery != "":
		return usageError(c.words.Say("desk.pin-one-of-two"))
	case *p.pin != "":
		pin, err := c.secret(*p.pin)
		if err != nil {
			return err
		}
		return c.explained(companion.Unlock(ctx, pin))
	case *p.recovery != "":
		key, err := c.secret(*p.recovery)
		if err != nil {
			return err
		}
		return c.explained(companion.Recover(ctx, key))
	}
	return nil
}

// explained puts an error into words that name no file: a PIN comes from one,
// and has nothing to do with it.
func (c *command) explained(err error) error {
	if err == nil {
		return nil
	}
	if errors.Is(err, core.ErrSealed) {
		return &failure{c.words.Say("desk.locked"), err}
	}
	return &failure{core.Explain(c.words, err).Words, err}
}
