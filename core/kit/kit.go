// Package kit is the equipment lists: what to look at before a patient is put
// to sleep, how to test it, and what must not be missing.
//
// A list is a TOML file in the folder lists, with its texts per language and
// the source of every item beside it. A stop is an item without which a
// planned start is held; the list says so, and the published standard that it
// names is the reason. Nothing here is recorded: what was looked at is an
// event, and names the version of the list, which is the SHA-256 of its file,
// so that an old check reads as it did.
//
// The lists are a help to memory. They do not replace the maker's
// instructions nor the clinic's own protocol.
package kit

import (
	"bytes"
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"fmt"
	"path"
	"slices"
	"strings"

	"github.com/BurntSushi/toml"
)

//go:embed lists/*.toml
var files embed.FS

// List is one equipment list.
type List struct {
	Code    string // the file's name without its ending
	Version string // SHA-256 of the file, in hexadecimal
	Name    Text
	Items   []Item
}

// Item is one thing to look at.
type Item struct {
	Code   string `toml:"code"`
	Stop   bool   `toml:"stop"`
	Source string `toml:"source"`
	Mark   Mark   `toml:"mark"`
	Name   Text   `toml:"name"`
	Look   Text   `toml:"look"` // what to look for, and how to test it
}

// Text is a text by language tag; English is always there.
type Text map[string]string

// In gives the text in a language, or in English where it has none.
func (t Text) In(tag string) string {
	if s, ok := t[tag]; ok {
		return s
	}
	base, _, _ := strings.Cut(tag, "-")
	if s, ok := t[base]; ok {
		return s
	}
	return t["en"]
}

// Mark says how sure a source is.
type Mark string

// The marks.
const (
	Read     Mark = "read"     // read in the source
	Practice Mark = "practice" // common practice, no source
	Memory   Mark = "memory"   // from memory; to be confirmed in the source
)

// Parse reads a list. Unknown keys, an item without a source, two items with
// one code and a missing English text are refused, with the item's code.
func Parse(code string, data []byte) (*List, error) {
	var file struct {
		Name  Text   `toml:"name"`
		Items []Item `toml:"item"`
	}
	fail := func(format string, args ...any) (*List, error) {
		return nil, fmt.Errorf("list %s: "+format, append([]any{code}, args...)...)
	}
	md, err := toml.NewDecoder(bytes.NewReader(data)).Decode(&file)
	if err != nil {
		return fail("%w", err)
	}
	if un := md.Undecoded(); len(un) > 0 {
		return fail("key %q is not known", un[0].String())
	}
	if file.Name["en"] == "" {
		return fail("the name in English is missing")
	}
	if len(file.Items) == 0 {
		return fail("there is no item")
	}
	for i, it := range file.Items {
		switch {
		case !codeOK(it.Code):
			return fail("item %d: code %q is not lower case letters, digits and hyphens", i+1, it.Code)
		case slices.ContainsFunc(file.Items[:i], func(o Item) bool { return o.Code == it.Code }):
			return fail("item %s stands twice", it.Code)
		case it.Name["en"] == "" || it.Look["en"] == "":
			return fail("item %s: name or look in English is missing", it.Code)
		case it.Source == "":
			return fail("item %s has no source", it.Code)
		case it.Mark != Read && it.Mark != Practice && it.Mark != Memory:
			return fail("item %s: mark %q is not read, practice or memory", it.Code, it.Mark)
		}
	}
	sum := sha256.Sum256(data)
	return &List{Code: code, Version: hex.EncodeToString(sum[:]), Name: file.Name, Items: file.Items}, nil
}

func codeOK(s string) bool {
	for _, c := range s {
		if (c < 'a' || c > 'z') && (c < '0' || c > '9') && c != '-' {
			return false
		}
	}
	return s != "" && len(s) <= 60
}

// Builtin gives the lists that come with the companion, by name of file.
func Builtin() ([]*List, error) {
	entries, err := files.ReadDir("lists")
	if err != nil {
		return nil, err
	}
	var all []*List
	for _, e := range entries {
		data, err := files.ReadFile(path.Join("lists", e.Name()))
		if err != nil {
			return nil, err
		}
		l, err := Parse(strings.TrimSuffix(e.Name(), ".toml"), data)
		if err != nil {
			return nil, err
		}
		all = append(all, l)
	}
	return all, nil
}

// Find gives the item with this code, or nil.
func (l *List) Find(code string) *Item {
	for i := range l.Items {
		if l.Items[i].Code == code {
			return &l.Items[i]
		}
	}
	return nil
}
