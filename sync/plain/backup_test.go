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
		if err := unpack(t.Context(), bytes.NewReader(tarred(t, "chinlift.db", name)), t.TempDir()); !errors.Is(err, ErrNotABackup) {
			t.Errorf("%s: %v", name, err)
		}
	}
	if err := unpack(t.Context(), bytes.NewReader(tarred(t, "blobs/ab/abc")), t.TempDir()); !errors.Is(err, ErrNotABackup) {
		t.Errorf("without a database: %v", err)
	}
	if err := unpack(t.Context(), bytes.NewReader(tarred(t, "chinlift.db", "blobs/ab/abc", "outbox/abc")), t.TempDir()); err != nil {
		t.Error(err)
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
		err := unpack(t.Context(), bytes.NewReader(data), dir)
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
