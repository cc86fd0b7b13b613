package waking

import (
	"bytes"
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"fmt"
	"path"
	"strings"

	"github.com/BurntSushi/toml"

	"chinlift/core/term"
)

//go:embed leaving/*.toml questions/*.toml
var files embed.FS

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

// decode reads TOML and refuses keys that to does not have.
func decode(data []byte, to any) error {
	md, err := toml.NewDecoder(bytes.NewReader(data)).Decode(to)
	if err != nil {
		return err
	}
	if un := md.Undecoded(); len(un) > 0 {
		return fmt.Errorf("key %q is not known", un[0].String())
	}
	return nil
}

func version(data []byte) string {
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:])
}

func markOK(m term.Mark) bool {
	return m == term.MarkRead || m == term.MarkPractice || m == term.MarkMemory
}

func codeOK(s string) bool {
	for _, c := range s {
		if (c < 'a' || c > 'z') && (c < '0' || c > '9') && c != '-' {
			return false
		}
	}
	return s != "" && len(s) <= 60
}

// parseAll reads every file of a folder.
func parseAll[T any](folder string, parse func(code string, data []byte) (*T, error)) ([]*T, error) {
	entries, err := files.ReadDir(folder)
	if err != nil {
		return nil, err
	}
	var all []*T
	for _, e := range entries {
		data, err := files.ReadFile(path.Join(folder, e.Name()))
		if err != nil {
			return nil, err
		}
		x, err := parse(strings.TrimSuffix(e.Name(), ".toml"), data)
		if err != nil {
			return nil, err
		}
		all = append(all, x)
	}
	return all, nil
}
