package main

import (
	"context"
	"encoding/json"
	"flag"
	"fmt"
	"io"
	"os"
	"strings"
	"text/tabwriter"

	"chinlift/core"
)

// mostInputs bounds how many inputs one calculation is given on a line.
const mostInputs = 100

// reckon works out one calculation with the values on the line, and prints it
// as JSON; without a name it lists the calculations. It opens no folder.
func (c *command) reckon(_ context.Context, args []string) error {
	fs := flag.NewFlagSet("reckon", flag.ContinueOnError)
	fs.SetOutput(io.Discard)
	asJSON := fs.Bool("json", false, "")
	rest, err := c.parse(fs, args, mostInputs)
	if err != nil {
		return err
	}
	s := core.Speaker{Book: c.words}
	switch {
	case len(rest) == 0 && *asJSON:
		return c.printJSON(struct {
			Words      string               `json:"words"`
			Reckonings []core.ReckoningView `json:"reckonings"`
			Units      []core.UnitView      `json:"units"`
		}{c.words.Say("desk.reckon-caution"), s.ReckoningList(), core.UnitList()})
	case len(rest) == 0:
		c.listReckonings(s)
		return nil
	}
	r, ok := core.FindReckoning(rest[0])
	if !ok {
		return refusal{c.words.Say("desk.reckon-none", "name", rest[0])}
	}
	typed := map[string]string{}
	for _, pair := range rest[1:] {
		name, value, ok := strings.Cut(pair, "=")
		if !ok {
			return c.refuseReckoning(r, c.words.Say("desk.reckon-pair", "text", pair))
		}
		name = strings.ReplaceAll(strings.TrimSpace(name), "-", "_")
		if _, twice := typed[name]; twice {
			return c.refuseReckoning(r, c.words.Say("desk.reckon-twice", "name", name))
		}
		if path, ok := strings.CutPrefix(value, "@"); ok {
			if value, err = readValue(path); err != nil {
				return c.refuseReckoning(r, c.words.Say("desk.reckon-file", "file", path))
			}
		}
		typed[name] = value
	}
	result, err := r.Reckon(typed)
	if err != nil {
		var lines []string
		wanting := false // an input, so that the list of them helps
		for _, e := range core.InputFaults(err) {
			lines = append(lines, c.words.Say("desk.reckon-fault", "name", r.Name, "input", e.Input.Name, "words", s.InputFault(e)))
			wanting = wanting || e.Given == "" || e.Input.Kind == ""
		}
		switch {
		case len(lines) == 0:
			return err
		case wanting:
			return c.refuseReckoning(r, lines...)
		}
		return refusal(lines)
	}
	return c.printJSON(s.Reckoned(result))
}

// readValue reads an input out of a file: a schedule has many lines. One that is
// larger than any schedule is none.
func readValue(path string) (string, error) {
	const most = 256 << 10
	info, err := os.Stat(path)
	if err != nil {
		return "", err
	}
	if !info.Mode().IsRegular() || info.Size() > most {
		return "", fmt.Errorf("%s: no file of at most %d bytes", path, most)
	}
	b, err := os.ReadFile(path)
	return string(b), err
}

// refusal is what was typed and cannot be reckoned with, line by line.
type refusal []string

func (r refusal) Error() string { return strings.Join(r, "\n") }

// refuseReckoning says what is wrong, and what the calculation takes.
func (c *command) refuseReckoning(r core.Reckoning, lines ...string) error {
	var b strings.Builder
	b.WriteString("\n")
	c.listReckoning(&b, core.Speaker{Book: c.words}.Reckoning(r))
	return append(refusal(lines), strings.TrimSuffix(b.String(), "\n"))
}

// printJSON prints one object.
func (c *command) printJSON(v any) error {
	enc := json.NewEncoder(c.out)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", "  ")
	return enc.Encode(v)
}

// listReckonings prints every calculation with its inputs.
func (c *command) listReckonings(s core.Speaker) {
	printLine(c.out, c.words.Say("desk.reckon-list"))
	printLine(c.out, c.words.Say("desk.reckon-caution"))
	for _, r := range s.ReckoningList() {
		printLine(c.out, "")
		c.listReckoning(c.out, r)
	}
	printLine(c.out, "")
	printLine(c.out, c.words.Say("desk.reckon-units"))
	line, of := "", ""
	for _, u := range core.UnitList() {
		if u.Measures == of {
			line += ", " + u.Write
			continue
		}
		if line != "" {
			printLine(c.out, line)
		}
		line, of = "  "+u.Write, u.Measures
	}
	printLine(c.out, line)
}

// listReckoning prints one: its inputs, whether they are needed, how they are
// written and what they are.
func (c *command) listReckoning(w io.Writer, r core.ReckoningView) {
	printLine(w, r.Name+"  "+r.Words)
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	for _, in := range r.Inputs {
		needed, ways := "", strings.Join(in.Write, ", ")
		if in.Needed {
			needed = c.words.Say("desk.reckon-needed")
		}
		if ways == "" {
			ways = c.words.Say("reckon.any-unit")
		}
		printLine(t, "  "+strings.Join([]string{in.Name, needed, in.Words, ways}, "\t"))
	}
	_ = t.Flush() // what it writes to has gone away, as in printLine
}
