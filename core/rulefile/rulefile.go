// Package rulefile reads files of rule data: the TOML files that stand beside
// the calculators, and those that a clinic lays over them. It has what every
// such file has in common: its size, its keys, its codes, its texts and where
// it is at fault. What a file must say is its own package's affair, and so are
// the numbers and their sources.
//
// A file is written by a person, who reads the error. So a fault is told with
// the line on which it stands, although the TOML library forgets lines once
// a file is decoded: [File.Line] finds the line again by reading what the file
// begins with, a line more each time, until what is at fault is there.
//
// A drug's file is read otherwise (package formulary): it may have many faults,
// and they are told all at once.
package rulefile

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"path"
	"strings"

	"github.com/BurntSushi/toml"
)

// ending is that of a file's name.
const ending = ".toml"

// Decode reads TOML into what to points to. A key that to does not have is an
// error; one of the syntax is a toml.ParseError.
func Decode(data []byte, to any) error {
	md, err := toml.NewDecoder(bytes.NewReader(data)).Decode(to)
	if err != nil {
		return err
	}
	if un := md.Undecoded(); len(un) > 0 {
		return fmt.Errorf("key %q is not known", un[0].String())
	}
	return nil
}

// Version is the SHA-256 of a file, in hexadecimal.
func Version(data []byte) string {
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:])
}

// Folder reads every file of a folder, by name, and gives what parse makes of
// each; the code is the file's name without its ending. The first error ends
// it.
func Folder[T any](files fs.FS, folder string, parse func(code string, data []byte) (*T, error)) ([]*T, error) {
	entries, err := fs.ReadDir(files, folder)
	if err != nil {
		return nil, err
	}
	var all []*T
	for _, e := range entries {
		data, err := fs.ReadFile(files, path.Join(folder, e.Name()))
		if err != nil {
			return nil, err
		}
		x, err := parse(strings.TrimSuffix(e.Name(), ending), data)
		if err != nil {
			return nil, err
		}
		all = append(all, x)
	}
	return all, nil
}

// Fault says where a file is at fault. The packages that read rule data make an
// error of their own of it, by which it is told whose file it is.
type Fault struct {
	File   string // with its ending
	Line   int    // from 1; 0 where the whole file is meant
	Within string // what of the file is meant, as "item suction"; empty where no part is
	Fault  string // what is wrong, for whoever edits the file
}

// String reads as an error: "open-drop.toml:12: item suction: has no source".
func (f *Fault) String() string {
	s := f.File
	if f.Line > 0 {
		s += fmt.Sprintf(":%d", f.Line)
	}
	if f.Within != "" {
		s += ": " + f.Within
	}
	return s + ": " + f.Fault
}

// Limits are what a file may be at most.
type Limits struct{ Bytes, Lines int }

// File is a file that is written as a T.
type File[T any] struct {
	Name string // with its ending
	data []byte
}

// Read reads the file of a code, which is its name without its ending. What is
// beyond its limits, is no TOML, has a key that T lacks or a value of another
// type is a fault, and the T is nil then.
func Read[T any](code string, data []byte, most Limits) (File[T], *T, *Fault) {
	f := File[T]{code + ending, data}
	if !CodeOK(code) {
		return f, nil, &Fault{File: f.Name, Fault: "the file's name is not lower case letters, digits and hyphens"}
	}
	if len(data) > most.Bytes || bytes.Count(data, []byte("\n")) > most.Lines {
		return f, nil, &Fault{File: f.Name, Fault: fmt.Sprintf("longer than %d bytes or %d lines", most.Bytes, most.Lines)}
	}
	t := new(T)
	err := Decode(data, t)
	var syntax toml.ParseError
	switch {
	case errors.As(err, &syntax):
		return f, nil, &Fault{File: f.Name, Line: syntax.Position.Line, Fault: syntax.Message}
	case err != nil:
		return f, nil, f.mistyped(err)
	}
	return f, t, nil
}

// mistyped is for a file that is TOML and yet no T: a key that is not known, or
// a value of another type. The decoder tells the line only of the last key of
// that name, so that the shortest beginning with a fault is looked for.
func (f File[T]) mistyped(err error) *Fault {
	line := 0
	for n, part := range f.beginnings() {
		var syntax toml.ParseError
		if e := Decode(part, new(T)); e != nil && !errors.As(e, &syntax) {
			line, err = n, e
			break
		}
	}
	text := err.Error()
	if _, after, ok := strings.Cut(text, "): "); ok && strings.HasPrefix(text, "toml: line ") {
		_, key, _ := strings.Cut(text, `(last key "`)
		key, _, _ = strings.Cut(key, `")`)
		text = key + ": " + after
	}
	return &Fault{File: f.Name, Line: line, Fault: text}
}

// Line gives the first line by which the file has what is asked for, or 0.
func (f File[T]) Line(has func(*T) bool) int {
	for n, part := range f.beginnings() {
		t := new(T)
		if Decode(part, t) == nil && has(t) {
			return n
		}
	}
	return 0
}

// beginnings gives what the file begins with, longer by a line each time, and
// the number of that line. Those that end in the midst of a value are no TOML
// and fall away when they are read. It is slow, and only for errors.
func (f File[T]) beginnings() func(yield func(int, []byte) bool) {
	return func(yield func(int, []byte) bool) {
		n, end := 0, 0
		for line := range bytes.Lines(f.data) {
			n, end = n+1, end+len(line)
			if len(bytes.TrimSpace(line)) > 0 && !yield(n, f.data[:end]) {
				return
			}
		}
	}
}
