package main

import (
	"context"
	"errors"
	"flag"
	"io"
	"io/fs"
	"os"
	"strings"

	"chinlift/sync/plain"
)

// Keys and passphrases come from files, never from the command line, which
// other users of the computer can see.

// longestSecret bounds a file that holds a key or a passphrase.
const longestSecret = 1 << 16

func readSecret(path string) (text string, err error) {
	f, err := os.Open(path)
	if err != nil {
		return "", err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	data, err := io.ReadAll(io.LimitReader(f, longestSecret))
	return string(data), err
}

// keyFlags are the flags of a verb that reads what may be sealed.
type keyFlags struct{ identity, passphrase *string }

func addKeyFlags(fs *flag.FlagSet) keyFlags {
	return keyFlags{fs.String("key", "", ""), fs.String("passphrase", "", "")}
}

// unseal reads the keys that were named.
func (c *command) unseal(k keyFlags) (u plain.Unseal, err error) {
	if *k.identity != "" {
		text, err := readSecret(*k.identity)
		if err == nil {
			u, err = u.With(strings.NewReader(text))
		}
		if err != nil {
			return u, c.cannot(*k.identity, err)
		}
	}
	if *k.passphrase != "" {
		text, err := readSecret(*k.passphrase)
		if err != nil {
			return u, c.cannot(*k.passphrase, err)
		}
		u = u.WithPassphrase(strings.TrimRight(text, "\r\n"))
	}
	return u, nil
}

// seal makes the seal that the flags of an export ask for.
func (c *command) seal(recipients, passphrase string) (plain.Seal, error) {
	switch {
	case recipients != "" && passphrase != "":
		return plain.Seal{}, usageError(c.words.Say("desk.seal-one-of-two"))
	case recipients != "":
		s, err := plain.SealFor(strings.Split(recipients, ",")...)
		if err != nil {
			return s, usageError(c.words.Say("desk.no-recipient", "text", recipients))
		}
		return s, nil
	case passphrase != "":
		text, err := readSecret(passphrase)
		if err != nil {
			return plain.Seal{}, c.cannot(passphrase, err)
		}
		s, err := plain.SealWith(strings.TrimRight(text, "\r\n"))
		if err != nil {
			return s, c.cannot(passphrase, err)
		}
		return s, nil
	}
	return plain.Seal{}, nil
}

// pseudonyms reads the key of the pseudonyms, and makes it where the file is
// not there yet.
func (c *command) pseudonyms(path string) (plain.PseudonymKey, error) {
	text, err := readSecret(path)
	if errors.Is(err, fs.ErrNotExist) {
		k, err := plain.NewPseudonymKey()
		if err == nil {
			err = writeNew(path, []byte(k.String()+"\n"))
		}
		if err != nil {
			return nil, c.cannot(path, err)
		}
		printLine(c.out, c.words.Say("desk.pseudonyms-made", "path", path))
		return k, nil
	}
	if err != nil {
		return nil, c.cannot(path, err)
	}
	k, err := plain.ParsePseudonymKey(text)
	if err != nil {
		return nil, c.cannot(path, err)
	}
	return k, nil
}

// writeNew writes a file that must not be there yet, for this user alone.
func writeNew(path string, data []byte) error {
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return err
	}
	_, err = f.Write(data)
	if err == nil {
		err = f.Sync()
	}
	return errors.Join(err, f.Close())
}

// key makes a key for sealed files: the private part into a file of its own,
// the public part on the terminal, and as a picture for a camera.
func (c *command) key(_ context.Context, args []string) error {
	fs, _ := c.flags("key")
	to := fs.String("to", "", "")
	if _, err := c.parse(fs, args, 0); err != nil {
		return err
	}
	if *to == "" {
		return usageError(c.words.Say("desk.key-no-target"))
	}
	k, err := plain.NewKey()
	if err != nil {
		return err
	}
	picture, err := plain.QR(k.Recipient())
	if err != nil {
		return err
	}
	if err := writeNew(*to, []byte("# "+k.Recipient()+"\n"+k.Secret()+"\n")); err != nil {
		return c.cannot(*to, err)
	}
	if err := writeNew(*to+".png", picture); err != nil {
		return c.cannot(*to+".png", err)
	}
	printLine(c.out, k.Recipient())
	printLine(c.out, c.words.Say("desk.key-made", "path", *to))
	return nil
}
