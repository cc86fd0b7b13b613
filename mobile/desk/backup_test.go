package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// TestBackupAndRestore: a whole device goes out sealed and is put back into an
// empty folder, with a key and with a passphrase; the record goes on there.
func TestBackupAndRestore(t *testing.T) {
	dir, keys := withCase(t), t.TempDir()
	key := filepath.Join(keys, "key")
	recipient, _, _ := strings.Cut(well(t, "key", "--to", key), "\n")
	phrase := filepath.Join(keys, "words")
	if err := os.WriteFile(phrase, []byte("an invented passphrase\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	want := well(t, "check", "--data", dir)
	for _, tt := range []struct{ seal, open []string }{
		{[]string{"--seal-for", recipient}, []string{"--key", key}},
		{[]string{"--seal-with", phrase}, []string{"--passphrase", phrase}},
	} {
		stick, second := t.TempDir(), filepath.Join(t.TempDir(), "new")
		printed := well(t, append([]string{"backup", "--data", dir, "--to", stick}, tt.seal...)...)
		file := filepath.Join(stick, "device.tar.age")
		if !strings.Contains(printed, file) {
			t.Errorf("the file is not named: %s", printed)
		}
		for name, text := range files(t, stick) {
			if strings.Contains(text, "Invented Person") {
				t.Errorf("%s gives away a name", name)
			}
		}
		if code, _, errs := desk(t, "restore", file, "--data", second); code != 1 || !strings.Contains(errs, "sealed") {
			t.Errorf("without the key: %d, %s", code, errs)
		}
		if printed := well(t, append([]string{"restore", file, "--data", second}, tt.open...)...); !strings.Contains(printed, want) {
			t.Errorf("put back:\n%s\nwant\n%s", printed, want)
		}
		if code, _, errs := desk(t, append([]string{"restore", file, "--data", second}, tt.open...)...); code != 2 || !strings.Contains(errs, "not empty") {
			t.Errorf("over a record: %d, %s", code, errs)
		}
		if said := note(t, second, "on the new device"); !strings.Contains(said, "copied or moved") {
			t.Errorf("the new device: %q", said)
		}
		if said := note(t, dir, "on the old one"); said != "" {
			t.Errorf("the old device: %q", said)
		}
		want = well(t, "check", "--data", dir)
	}
	if code, _, errs := desk(t, "backup", "--data", dir, "--to", t.TempDir()); code != 2 || !strings.Contains(errs, "sealed or not at all") {
		t.Errorf("without a seal: %d, %s", code, errs)
	}
	if code, _, errs := desk(t, "backup", "--data", dir, "--to", filepath.Join(dir, "in"), "--seal-for", recipient); code != 2 || !strings.Contains(errs, "lies in the data folder") {
		t.Errorf("into the data folder: %d, %s", code, errs)
	}
	if code, _, errs := desk(t, "restore"); code != 2 || !strings.Contains(errs, "device.tar.age") {
		t.Errorf("nothing named: %d, %s", code, errs)
	}
}
