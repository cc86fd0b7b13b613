package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

func TestSealedOutAndIn(t *testing.T) {
	dir := withCase(t)
	keys := t.TempDir()
	key := filepath.Join(keys, "key")
	printed := well(t, "key", "--to", key)
	recipient, _, _ := strings.Cut(printed, "\n")
	if !strings.HasPrefix(recipient, "age1") || strings.Contains(printed, "AGE-SECRET-KEY") {
		t.Fatalf("a key was made: %s", printed)
	}
	if info, err := os.Stat(key); err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("the key file: %v, %v", info, err)
	}
	if code, _, errs := desk(t, "key", "--to", key); code != 1 || !strings.Contains(errs, key) {
		t.Errorf("a key was made over another one: %d, %s", code, errs)
	}
	words := filepath.Join(keys, "words")
	if err := os.WriteFile(words, []byte("an invented passphrase\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	want := well(t, "check", "--data", dir)
	for _, tt := range []struct{ seal, open []string }{
		{[]string{"--seal-for", recipient}, []string{"--key", key}},
		{[]string{"--seal-with", words}, []string{"--passphrase", words}},
	} {
		out, second := t.TempDir(), filepath.Join(t.TempDir(), "new")
		if printed := well(t, append([]string{"export", "--private", "--data", dir, "--to", out}, tt.seal...)...); !strings.Contains(printed, "lines.jsonl.age") {
			t.Errorf("sealed files are not named: %s", printed)
		}
		for name, text := range files(t, out) {
			if strings.Contains(text, "Invented Person") {
				t.Errorf("%s gives away a name", name)
			}
		}
		if code, _, errs := desk(t, "check", out); code != 1 || !strings.Contains(errs, "sealed") {
			t.Errorf("check without the key: %d, %s", code, errs)
		}
		if printed := well(t, append([]string{"check", out}, tt.open...)...); !strings.Contains(printed, "All is well") {
			t.Errorf("check with the key: %s", printed)
		}
		if code, printed, _ := desk(t, "gather", out, "--data", second); code != 1 || !strings.Contains(printed, "sealed") {
			t.Errorf("gather without the key: %d, %s", code, printed)
		}
		well(t, append([]string{"gather", out, "--data", second}, tt.open...)...)
		if got := well(t, "check", "--data", second); got != want {
			t.Errorf("gathered:\n%s\nwant\n%s", got, want)
		}
	}
}

func TestCheckOfAnExport(t *testing.T) {
	dir, out := withCase(t), t.TempDir()
	well(t, "export", "--data", dir, "--to", out)
	if printed := well(t, "check", out); !strings.Contains(printed, "All is well") {
		t.Error(printed)
	}
	if err := os.WriteFile(filepath.Join(out, "vitals.csv"), nil, 0o600); err != nil {
		t.Fatal(err)
	}
	if code, printed, _ := desk(t, "check", out); code != 1 || !strings.Contains(printed, "not what was written: vitals.csv") {
		t.Errorf("%d, %s", code, printed)
	}
	if err := os.Remove(filepath.Join(out, "manifest.json")); err != nil {
		t.Fatal(err)
	}
	if code, printed, _ := desk(t, "check", out); code != 1 || !strings.Contains(printed, "no manifest") {
		t.Errorf("%d, %s", code, printed)
	}
}

// Two devices, one damaged file and one that is half there: everything whole
// comes in, and the counts are those of the lines.
func TestGather(t *testing.T) {
	root, all := t.TempDir(), filepath.Join(t.TempDir(), "all")
	lines := 0
	for _, name := range []string{"one", "two"} {
		to := filepath.Join(root, "stick", name)
		well(t, "export", "--private", "--data", withCase(t), "--to", to)
		lines += strings.Count(files(t, to)["lines.jsonl"], "\n")
	}
	half := filepath.Join(root, "half.jsonl")
	text := files(t, filepath.Join(root, "stick", "one"))["lines.jsonl"]
	if err := os.WriteFile(half, []byte(text[:len(text)-9]), 0o600); err != nil {
		t.Fatal(err)
	}
	code, printed, errs := desk(t, "gather", root, "--data", all)
	if code != 1 || errs != "" || !strings.Contains(printed, "3 files, ") || !strings.Contains(printed, "2 cases changed") || !strings.Contains(printed, "1 file or line was not taken in") {
		t.Errorf("%d, %s, %s", code, printed, errs)
	}
	if err := os.Remove(half); err != nil {
		t.Fatal(err)
	}
	if printed := well(t, "gather", root, "--data", all); !strings.Contains(printed, " 0 new lines, ") {
		t.Errorf("a second time: %s", printed)
	}
	if printed := well(t, "check", "--data", all); !strings.Contains(printed, "2 logs") {
		t.Errorf("check: %s, want %d lines", printed, lines)
	}
	nowhere := filepath.Join(t.TempDir(), "nowhere")
	for _, from := range []string{filepath.Join(root, "no-such"), t.TempDir()} {
		if code, _, _ := desk(t, "gather", from, "--data", nowhere); code != 1 {
			t.Errorf("gather of nothing: %d", code)
		}
	}
	if _, err := os.Stat(nowhere); err == nil {
		t.Error("a gathering of nothing made a folder")
	}
}

func TestDeidentifiedExport(t *testing.T) {
	dir, key := withCase(t), filepath.Join(t.TempDir(), "pseudonyms")
	var first string
	for i := range 2 {
		out := t.TempDir()
		printed := well(t, "export", "--data", dir, "--to", out, "--deidentified", key)
		got := files(t, out)
		text := got["deidentified.jsonl"]
		if text == "" || got["lines.jsonl"] != "" || strings.Contains(text, "Invented") {
			t.Errorf("de-identified: %v", got)
		}
		if made := strings.Contains(printed, key); made != (i == 0) {
			t.Errorf("time %d: %s", i+1, printed)
		}
		if i > 0 && text != first {
			t.Error("with the same key another file was made")
		}
		first = text
		well(t, "check", out)
	}
}
