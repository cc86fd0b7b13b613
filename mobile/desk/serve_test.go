package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"chinlift/core"
)

// The command itself sends what is stored as it starts.
func TestServeSends(t *testing.T) {
	dir, to := withCase(t), t.TempDir()
	path, err := placesOf(dir)
	if err != nil {
		t.Fatal(err)
	}
	text := `[{"id": "` + core.NewID() + `", "kind": "folder", "address": "` + to + `", "private": false}]`
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	cmd, address, _ := process(t, dir)
	for {
		if _, body := get(t, address+"log"); strings.Contains(body, "read back and the same") {
			break
		}
	}
	if files, err := filepath.Glob(filepath.Join(to, "segments", "*", "*.jsonl")); err != nil || len(files) == 0 {
		t.Errorf("nothing arrived: %v", err)
	}
	if err := cmd.Process.Signal(os.Interrupt); err != nil {
		t.Fatal(err)
	}
	if err := cmd.Wait(); err != nil {
		t.Error(err)
	}
	// Where the places cannot be read it says so, and leaves the file.
	if err := os.WriteFile(path, []byte("{"), 0o600); err != nil {
		t.Fatal(err)
	}
	if code, errs := serveOnce(t, "--data", dir); code != 0 || !strings.Contains(errs, "nothing is sent") {
		t.Errorf("exit code %d, %q", code, errs)
	}
	if text, err := os.ReadFile(path); err != nil || string(text) != "{" {
		t.Errorf("%q %v", text, err)
	}
}
