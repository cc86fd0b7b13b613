// Command desk is the companion on a desk computer: the same core and the same
// screens as on a phone, served to a browser on this computer, and the
// commands that look after a data folder.
//
//	desk [serve] [--data DIR] [--addr HOST:PORT] [--demo]
//	desk check [--data DIR] [FILE|DIR] [--key FILE] [--passphrase FILE] [--pin FILE | --recovery-key FILE]
//	desk export --to DIR [--data DIR] [--case ID] [--private | --deidentified FILE] [--seal-for KEY,... | --seal-with FILE] [--snomed FILE] [--pin FILE | --recovery-key FILE]
//	desk replay FILE... [--data DIR]
//	desk gather FILE|DIR... [--data DIR] [--key FILE] [--passphrase FILE]
//	desk backup --to DIR [--data DIR] --seal-for KEY,... | --seal-with FILE
//	desk restore FILE [--data DIR] [--key FILE] [--passphrase FILE]
//	desk key --to FILE
//	desk reckon [--json] [NAME KEY=VALUE...]
//
// What a command did goes to standard output, what went wrong to standard
// error. The exit code is 0 when all is well; 1 when the work could not be
// done, or a check found something; 2 when the command line cannot be
// understood, or a value in it cannot be reckoned with, and then nothing was
// touched.
//
// It is not a server for a ward. It answers on this computer alone, because
// there is no TLS, and only to who holds the address that it printed.
package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"os/signal"
	"strings"
	"syscall"

	"chinlift/core/word"
)

// Exit codes.
const (
	exitWell   = 0
	exitFailed = 1
	exitUsage  = 2
)

func main() {
	private()
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	// Once it is stopping, a second signal ends it at once.
	context.AfterFunc(ctx, stop)
	c := command{words: word.English(), in: os.Stdin, out: os.Stdout, err: os.Stderr}
	os.Exit(c.run(ctx, os.Args[1:]))
}

// command is one call of the program.
type command struct {
	words    *word.Book
	in       io.Reader
	out, err io.Writer
}

// verb is one thing that the program does.
type verb struct {
	name string
	help string // key of its line in the list
	do   func(c *command, ctx context.Context, args []string) error
}

// verbs are listed in this order; the first is what happens without a verb.
var verbs = []verb{
	{"serve", word.Key("desk.help-serve"), (*command).serve},
	{"check", word.Key("desk.help-check"), (*command).check},
	{"export", word.Key("desk.help-export"), (*command).export},
	{"replay", word.Key("desk.help-replay"), (*command).replay},
	{"gather", word.Key("desk.help-gather"), (*command).gather},
	{"backup", word.Key("desk.help-backup"), (*command).backup},
	{"restore", word.Key("desk.help-restore"), (*command).restore},
	{"key", word.Key("desk.help-key"), (*command).key},
	{"reckon", word.Key("desk.help-reckon"), (*command).reckon},
}

// usageError is a command line that cannot be understood, in words.
type usageError string

func (e usageError) Error() string { return string(e) }

// errFound says that a check found something, which has been printed.
var errFound = errors.New("something was found")

// run does what the arguments ask for, and gives the exit code.
func (c *command) run(ctx context.Context, args []string) int {
	do, rest := verbs[0], args
	if len(args) > 0 && !strings.HasPrefix(args[0], "-") {
		do, rest = verb{}, args[1:]
		for _, v := range verbs {
			if v.name == args[0] {
				do = v
			}
		}
		if do.do == nil {
			return c.fail(usageError(c.words.Say("desk.no-verb", "verb", args[0])))
		}
	}
	return c.fail(do.do(c, ctx, rest))
}

// fail says what went wrong, and gives the exit code for it.
func (c *command) fail(err error) int {
	var u usageError
	var r refusal
	switch {
	case err == nil:
		return exitWell
	case errors.Is(err, flag.ErrHelp):
		c.list(c.out)
		return exitWell
	case errors.Is(err, errFound):
		return exitFailed
	case errors.As(err, &r):
		printLine(c.err, r.Error())
		return exitUsage
	case errors.As(err, &u):
		printLine(c.err, u.Error())
		printLine(c.err, "")
		c.list(c.err)
		return exitUsage
	}
	printLine(c.err, err.Error())
	return exitFailed
}

// list prints the verbs.
func (c *command) list(w io.Writer) {
	printLine(w, c.words.Say("desk.help"))
	for _, v := range verbs {
		printLine(w, "  "+c.words.Say(v.help)) //word:prefix desk.help-
	}
}

// flags makes the set of flags of a verb, with the one that all share.
func (c *command) flags(verb string) (fs *flag.FlagSet, data *string) {
	fs = flag.NewFlagSet(verb, flag.ContinueOnError)
	fs.SetOutput(io.Discard) // fail says it in our words
	return fs, fs.String("data", "", "")
}

// parse reads the flags and what stands between them, of which there may be
// at most so many.
func (c *command) parse(fs *flag.FlagSet, args []string, most int) (rest []string, err error) {
	for {
		if err := fs.Parse(args); err != nil {
			if errors.Is(err, flag.ErrHelp) {
				return nil, err
			}
			return nil, usageError(c.words.Say("desk.bad-flag", "verb", fs.Name(), "error", err.Error()))
		}
		if fs.NArg() == 0 {
			return rest, nil
		}
		if len(rest) == most {
			return nil, usageError(c.words.Say("desk.too-much", "verb", fs.Name(), "text", fs.Arg(0)))
		}
		rest, args = append(rest, fs.Arg(0)), fs.Args()[1:]
	}
}

// printLine writes a line to the terminal. One that has gone away is no reason to
// stop what the line is about.
func printLine(w io.Writer, line string) { _, _ = fmt.Fprintln(w, line) }
