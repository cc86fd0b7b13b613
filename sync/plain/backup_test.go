package plain

import (
	"archive/tar"
	"bytes"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"testing"
)

// tarred makes a tar file of these names, each with its name as content.
func tarred(t testing.TB, names ...string) []byte {
	t.Helper()
	var b bytes.Buffer
	w := tar.NewWriter(&b)
	for _, n := range names {
		if err := w.WriteHeader(&tar.Header{Typeflag: tar.TypeReg, Name: n, Size: int64(len(n)), Mode: 0o600}); err != nil {
			t.Fatal(err)
		}
		if _, err := w.Write([]byte(n)); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// TestBackupLeadsNowhere: no name leads out of the folder, or to what a backup
// does not hold.
func TestBackupLeadsNowhere(t *testing.T) {
	for _, name := range []string{"../chinlift.db", "/chinlift.db", "blobs/../../x", "outbox/../../x", "lock", "blobs", `blobs/..\x`, "blobs/c:x", "blobs/partial/x", "chinlift.db/x", "token"} {
		if err := unpack(t.Context(), bytes.NewReader(tarred(t, "chinlift.db", name)), t.TempDir(), 1<<10); !errors.Is(err, ErrNotABackup) {
			t.Errorf("%s: %v", name, err)
		}
	}
	if err := unpack(t.Context(), bytes.NewReader(tarred(t, "blobs/ab/abc")), t.TempDir(), 1<<10); !errors.Is(err, ErrNotABackup) {
		t.Errorf("without a database: %v", err)
	}
	if err := unpack(t.Context(), bytes.NewReader(tarred(t, "chinlift.db", "blobs/ab/abc", "outbox/abc")), t.TempDir(), 1<<10); err != nil {
		t.Error(err)
	}
}

// TestBackupFillsNoDisk: a few bytes that say that they are many, as a tar file
// with holes does, are refused before anything is written.
func TestBackupFillsNoDisk(t *testing.T) {
	var b bytes.Buffer
	w := tar.NewWriter(&b)
	if err := w.WriteHeader(&tar.Header{Typeflag: tar.TypeReg, Name: "chinlift.db", Size: 1 << 40, Mode: 0o600}); err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	if err := unpack(t.Context(), &b, dir, 1<<10); !errors.Is(err, ErrNotABackup) {
		t.Errorf("a file of 1 TiB in %d bytes: %v", 512, err)
	}
	if left, err := os.ReadDir(dir); err != nil || len(left) > 0 {
		t.Errorf("it left %v (%v)", left, err)
	}
	two := tarred(t, "chinlift.db", "outbox/abc") // 11 bytes and 10
	if err := unpack(t.Context(), bytes.NewReader(two), t.TempDir(), 20); !errors.Is(err, ErrNotABackup) {
		t.Errorf("21 bytes of 20: %v", err)
	}
	if err := unpack(t.Context(), bytes.NewReader(two), t.TempDir(), 21); err != nil {
		t.Errorf("21 bytes of 21: %v", err)
	}
}

func FuzzUnpack(f *testing.F) {
	f.Add(tarred(f, "chinlift.db", "blobs/ab/abc", "outbox/abc"))
	f.Add(tarred(f, "chinlift.db", "../x"))
	f.Add(tarred(f))
	f.Add([]byte("ustar"))
	f.Fuzz(func(t *testing.T, data []byte) {
		parent := t.TempDir()
		dir := filepath.Join(parent, "in")
		if err := os.Mkdir(dir, 0o700); err != nil {
			t.Fatal(err)
		}
		err := unpack(t.Context(), bytes.NewReader(data), dir, int64(len(data)))
		if _, there := os.Stat(filepath.Join(dir, "chinlift.db")); err == nil && there != nil {
			t.Error("taken for a backup, and there is no database")
		}
		if err := filepath.WalkDir(parent, func(path string, d fs.DirEntry, err error) error {
			if err == nil && !d.IsDir() && filepath.Dir(path) == parent {
				t.Errorf("%s was written outside", path)
			}
			return err
		}); err != nil {
			t.Fatal(err)
		}
	})
}
