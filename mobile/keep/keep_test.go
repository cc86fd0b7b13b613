package keep

import (
	"os"
	"path/filepath"
	"testing"

	"chinlift/core"
)

func TestInstallation(t *testing.T) {
	path := filepath.Join(t.TempDir(), "folder", "installation")
	get := func() kept {
		t.Helper()
		in, err := Installed(path)
		if err != nil {
			t.Fatal(err)
		}
		return in.kept
	}
	in, err := Installed(path)
	if err != nil {
		t.Fatal(err)
	}
	if (in.kept.Head != core.LogHead{}) || get() != in.kept || in.Token() == "" || in.Token() == Unkept().Token() {
		t.Errorf("first %+v, then %+v", in.kept, get())
	}
	head := func(n int64) core.LogHead { return core.LogHead{Log: "a log", Seq: n, Hash: "a hash"} }
	for n, durable := range []bool{false, false, true, false} {
		if err := in.Save(head(int64(n)), durable); err != nil {
			t.Fatal(err)
		}
		if now := get(); now.Head != head(int64(n)) || now.Installation != in.Token() {
			t.Errorf("saved number %d, read %+v", n, now)
		}
	}
	// Cut short by a power cut, and written to afterwards.
	whole, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, whole[:len(whole)-9], 0o600); err != nil {
		t.Fatal(err)
	}
	if now := get(); now.Head != head(2) {
		t.Errorf("of a last line that is cut short %+v is read", now)
	}
	if err := in.Save(head(9), false); err != nil {
		t.Fatal(err)
	}
	if now := get(); now.Head != head(9) {
		t.Errorf("after half a line %+v is read", now)
	}
	for _, junk := range []string{"", "\n", "half a li", "{}\n", `{"installation":"no id"}`, "\x00\x00"} {
		if err := os.WriteFile(path, []byte(junk), 0o600); err != nil {
			t.Fatal(err)
		}
		mended := get()
		if mended.Installation == in.Token() || get() != mended {
			t.Errorf("a file that holds %q is not mended for good", junk)
		}
	}
}

// Where nothing can be kept there is still an installation, without a witness.
func TestNothingCanBeKept(t *testing.T) {
	file := filepath.Join(t.TempDir(), "file")
	if err := os.WriteFile(file, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	in, err := Installed(filepath.Join(file, "below"))
	if err == nil || in.Token() == "" || in.Witness() != nil {
		t.Errorf("%+v, %v", in, err)
	}
}

func TestWithin(t *testing.T) {
	dir := t.TempDir()
	if err := os.Symlink(dir, dir+"-too"); err != nil {
		t.Fatal(err)
	}
	for path, want := range map[string]bool{dir: true, dir + "/a/b": true, dir + "-too/a": true, dir + "/..": false, dir + "-other": false} {
		if Within(dir, path) != want {
			t.Errorf("%s within %s: %v", path, dir, !want)
		}
	}
}
