package store

import (
	"errors"
	"os"
	"path/filepath"
	"testing"

	"chinlift/core/must"
	"chinlift/core/timeline"
)

func TestBlob(t *testing.T) {
	dir := t.TempDir()
	s := open(t, options(dir))
	// SHA-256 of "abc": FIPS 180-4, example of the standard's test vectors.
	const abc = timeline.Hash("ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad")
	for range 2 {
		if h := must.Get[timeline.Hash](t)(s.PutBlob(t.Context(), []byte("abc"))); h != abc {
			t.Fatalf("hash %s", h)
		}
	}
	if _, err := os.Stat(filepath.Join(dir, "blobs", "ba", string(abc))); err != nil {
		t.Fatal(err)
	}
	if b := must.Get[[]byte](t)(s.Blob(abc)); string(b) != "abc" {
		t.Fatalf("%q", b)
	}
	if h := must.Get[timeline.Hash](t)(s.PutBlob(t.Context(), nil)); len(must.Get[[]byte](t)(s.Blob(h))) != 0 {
		t.Fatal("an empty file is not empty")
	}
	for _, h := range []timeline.Hash{"", "../../lock", timeline.NoHash} {
		if _, err := s.Blob(h); !errors.Is(err, ErrNoBlob) {
			t.Errorf("%q: %v", h, err)
		}
	}
}

func TestDamagedBlobIsToldAndMended(t *testing.T) {
	dir := t.TempDir()
	s := open(t, options(dir))
	h := must.Get[timeline.Hash](t)(s.PutBlob(t.Context(), []byte("abc")))
	if err := os.WriteFile(blobPath(dir, h), []byte("abd"), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := s.Blob(h); !codeIs(err, CodeDamaged) {
		t.Fatal(err)
	}
	must.Get[timeline.Hash](t)(s.PutBlob(t.Context(), []byte("abc")))
	if b := must.Get[[]byte](t)(s.Blob(h)); string(b) != "abc" {
		t.Fatalf("%q", b)
	}
}

func TestHalfWrittenFilesAreCleared(t *testing.T) {
	dir := t.TempDir()
	half := filepath.Join(dir, blobFolder, partialFolder, "half")
	if err := os.MkdirAll(filepath.Dir(half), 0o700); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(half, []byte("half a photograph"), 0o600); err != nil {
		t.Fatal(err)
	}
	open(t, options(dir))
	if _, err := os.Stat(half); !errors.Is(err, os.ErrNotExist) {
		t.Fatal(err)
	}
}
