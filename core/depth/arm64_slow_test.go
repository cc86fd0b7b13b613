//go:build slow

package depth

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// TestOnArm64 builds the tests of this package for the processor of phones and
// runs there what compares processors, in an emulator (qemu; make deps installs
// it).
func TestOnArm64(t *testing.T) {
	qemu := ""
	for _, name := range []string{"qemu-aarch64-static", "qemu-aarch64"} {
		if path, err := exec.LookPath(name); err == nil {
			qemu = path
			break
		}
	}
	if qemu == "" {
		t.Fatal("there is no qemu-aarch64; make deps installs Debian's qemu-user-static")
	}
	test := filepath.Join(t.TempDir(), "depth.test")
	build := exec.CommandContext(t.Context(), "go", "test", "-c", "-o", test, ".")
	build.Env = append(os.Environ(), "GOOS=linux", "GOARCH=arm64", "CGO_ENABLED=0")
	if out, err := build.CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	const names = "TestSameOnEveryProcessor|TestTolerance"
	out, err := exec.CommandContext(t.Context(), qemu, test, "-test.v", "-test.run", "^("+names+")$").CombinedOutput()
	t.Logf("%s", out)
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range strings.Split(names, "|") {
		if !strings.Contains(string(out), "--- PASS: "+name) {
			t.Errorf("%s did not run", name)
		}
	}
}
