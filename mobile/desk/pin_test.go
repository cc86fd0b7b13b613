package main

import (
	"bytes"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"chinlift/core"
	"chinlift/core/word"
)

// later is a clock that is ahead of that of this computer.
type later struct{ by time.Duration }

func (l later) Now() core.Reading {
	r := core.SystemClock().Now()
	r.Wall = r.Wall.Add(l.by)
	return r
}

// TestLockedFolder: an export with names wants the PIN or the paper, from a
// file or the input; one without names wants nothing; a copy of the folder
// wants the paper; and nobody's name is in what the commands print.
func TestLockedFolder(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "data")
	if err := os.MkdirAll(dir, 0o700); err != nil {
		t.Fatal(err)
	}
	ctx := t.Context()
	const pin = "274916"
	safe, err := safeOf(dir)
	if err != nil {
		t.Fatal(err)
	}
	open := func(by time.Duration) *core.Companion {
		t.Helper()
		c, err := core.Open(ctx, core.Options{Dir: dir, Installation: "here", Clock: later{by}, Words: word.English(), Safe: safe})
		if err != nil {
			t.Fatal(err)
		}
		return c
	}
	c := open(0)
	id, _, err := c.OpenCase(ctx, core.Form{ID: core.NewID(), Fields: map[string][]string{"name": {"Quentin Inventedson"}}})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := c.Submit(ctx, core.Form{ID: core.NewID(), Case: id, Kind: "case-closed", Fields: map[string][]string{}}); err != nil {
		t.Fatal(err)
	}
	if err := c.SetUpSealing(ctx, core.NewID(), pin); err != nil {
		t.Fatal(err)
	}
	paper := c.RecoveryKey().Text()
	if err := c.Close(); err != nil {
		t.Fatal(err)
	}
	if err := open(72 * time.Hour).Close(); err != nil { // locks what is over
		t.Fatal(err)
	}
	info, err := os.Stat(safe.path)
	if err != nil || info.Mode().Perm()&0o077 != 0 {
		t.Errorf("the secret of this computer: %v, %v", info, err)
	}
	file := func(text string) string {
		t.Helper()
		path := filepath.Join(t.TempDir(), "secret")
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		return path
	}
	names := func(dir string) bool {
		t.Helper()
		found := false
		err := filepath.WalkDir(dir, func(path string, e fs.DirEntry, err error) error {
			if err != nil || e.IsDir() {
				return err
			}
			data, err := os.ReadFile(path)
			found = found || bytes.Contains(data, []byte("Quentin"))
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
		return found
	}
	for _, tt := range []struct {
		what  string
		input string
		args  []string
		code  int
		says  string
		names bool
	}{
		{"without names", "", nil, 0, "lines.jsonl", false},
		{"with names, locked", "", []string{"--private"}, 1, "are locked", false},
		{"a wrong PIN", "", []string{"--private", "--pin", file("830275\n")}, 1, "not the PIN", false},
		{"the PIN from a file", "", []string{"--private", "--pin", file(pin + "\r\n")}, 0, "lines.jsonl", true},
		{"the PIN from the input", pin + "\n", []string{"--private", "--pin", "-"}, 0, "lines.jsonl", true},
		{"the paper", "", []string{"--private", "--recovery-key", file(strings.ToLower(paper))}, 0, "lines.jsonl", true},
		{"half a paper", paper[:12], []string{"--private", "--recovery-key", "-"}, 1, "no recovery key", false},
		{"both", "", []string{"--private", "--pin", "-", "--recovery-key", "-"}, 2, "not both", false},
		{"no file", "", []string{"--private", "--pin", filepath.Join(dir, "none")}, 1, "none", false},
	} {
		to := filepath.Join(t.TempDir(), "out")
		code, out, errs := deskWith(t, strings.NewReader(tt.input), append([]string{"export", "--data", dir, "--to", to}, tt.args...)...)
		if code != tt.code || !strings.Contains(out+errs, tt.says) {
			t.Errorf("%s: exit code %d, %q %q", tt.what, code, out, errs)
		}
		for _, leak := range []string{"Quentin", pin, paper} {
			if strings.Contains(out+errs, leak) {
				t.Errorf("%s: it prints %q", tt.what, leak)
			}
		}
		if err := os.MkdirAll(to, 0o700); err != nil {
			t.Fatal(err)
		}
		if names(to) != tt.names {
			t.Errorf("%s: names in the export: %v", tt.what, !tt.names)
		}
	}
	if code, out, _ := desk(t, "check", "--data", dir); code != 0 || !strings.Contains(out, "1 line is locked") {
		t.Errorf("check: exit code %d, %q", code, out)
	}
	if code, out, _ := desk(t, "check", "--data", dir, "--pin", file(pin)); code != 0 || strings.Contains(out, "locked") {
		t.Errorf("check with the PIN: exit code %d, %q", code, out)
	}
	if names(dir) {
		t.Error("a name lies in the clear in the data folder")
	}
	// A copy has not the secret of this computer with it.
	copied := filepath.Join(t.TempDir(), "copy")
	if err := os.CopyFS(copied, os.DirFS(dir)); err != nil {
		t.Fatal(err)
	}
	to := filepath.Join(t.TempDir(), "out")
	if code, _, errs := desk(t, "export", "--data", copied, "--to", to, "--private", "--pin", file(pin)); code != 1 || !strings.Contains(errs, "recovery key on paper") {
		t.Errorf("the PIN on a copy: exit code %d, %q", code, errs)
	}
	if code, _, errs := desk(t, "export", "--data", copied, "--to", to, "--private", "--recovery-key", file(paper)); code != 0 || !names(to) {
		t.Errorf("the paper on a copy: exit code %d, %q", code, errs)
	}
}
