package store

import (
	"io"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"chinlift/core/must"
	"chinlift/core/timeline"
)

// TestBackupBesideWriter: a backup may run beside a companion. What is half
// written is no part of it, and of a file that grows it takes as many bytes as
// it said.
func TestBackupBesideWriter(t *testing.T) {
	s := fresh(t)
	must.Get[[]*timeline.Line](t)(s.Append(t.Context(), opened(newID())))
	blob := must.Get[timeline.Hash](t)(s.PutBlob(t.Context(), []byte("an invented picture")))
	parcel := must.Get[timeline.Hash](t)(s.Outbox().Keep(t.Context(), []byte("an invented parcel")))
	for _, name := range []string{outPath(s.o.Dir, parcel+"7"), filepath.Join(s.o.Dir, outFolder, "."+string(parcel)+"42"), filepath.Join(s.o.Dir, blobFolder, partialFolder, "x")} {
		if err := makeFolder(filepath.Dir(name)); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(name, []byte("half wri"), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	var names []string
	if err := s.Backup(t.Context(), func(name string, size int64, content io.Reader) error {
		names = append(names, name)
		if !InBackup(name) {
			t.Errorf("%s is not taken back", name)
		}
		if name != FileName {
			f := must.Get[*os.File](t)(os.OpenFile(filepath.Join(s.o.Dir, filepath.FromSlash(name)), os.O_APPEND|os.O_WRONLY, 0))
			must.Get[int](t)(f.WriteString("more"))
			if err := f.Close(); err != nil {
				t.Fatal(err)
			}
		}
		if data := must.Get[[]byte](t)(io.ReadAll(content)); int64(len(data)) != size {
			t.Errorf("%s: %d bytes, %d were said", name, len(data), size)
		}
		return nil
	}); err != nil {
		t.Fatal(err)
	}
	want := []string{FileName, "blobs/" + string(blob[:2]) + "/" + string(blob), "outbox/" + string(parcel)}
	if slices.Sort(names); !slices.Equal(names, []string{want[1], want[0], want[2]}) {
		t.Errorf("it holds %q", names)
	}
	if left := must.Get[[]os.DirEntry](t)(os.ReadDir(filepath.Join(s.o.Dir, blobFolder, partialFolder))); len(left) != 1 {
		t.Errorf("beside what was half written it leaves %v", left)
	}
}

// TestBackupWhileFilesComeAndGo: the database is copied after the files that it
// names, and one that comes meanwhile is there too; a photograph that was destroyed
// meanwhile is in no backup that is called one.
func TestBackupWhileFilesComeAndGo(t *testing.T) {
	s := fresh(t)
	must.Get[[]*timeline.Line](t)(s.Append(t.Context(), opened(newID())))
	first := must.Get[timeline.Hash](t)(s.PutBlob(t.Context(), []byte("an invented picture")))
	var late timeline.Hash
	var names []string
	for _, gone := range []bool{false, true} {
		names = nil
		err := s.Backup(t.Context(), func(name string, _ int64, content io.Reader) error {
			if names = append(names, name); name == FileName {
				if late = must.Get[timeline.Hash](t)(s.PutBlob(t.Context(), []byte("another"))); gone {
					return os.Remove(blobPath(s.o.Dir, first))
				}
			}
			_, err := io.Copy(io.Discard, content)
			return err
		})
		if gone {
			if err == nil {
				t.Error("a file went while it was copied, and the backup is called whole")
			}
			return
		}
		want := []string{"blobs/" + string(first[:2]) + "/" + string(first), FileName, "blobs/" + string(late[:2]) + "/" + string(late)}
		if err != nil || !slices.Equal(names, want) {
			t.Errorf("it holds %q, want %q (%v)", names, want, err)
		}
	}
}
