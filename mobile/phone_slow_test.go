//go:build slow

package mobile

import (
	"bytes"
	"compress/gzip"
	"encoding/json"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
)

// What is built for a phone, as far as this machine can tell: the core is built
// for arm64 with the flags of a release; the store's own suite and a case
// through this package run on an emulator of that processor, over the kernel of
// this machine; and what they ask of the kernel is held against what Android
// lets an app ask. That is no phone: its kernel, its C library and its file
// system are others.

const phoneRoot = ".." // of the module, from this folder

// built runs a command in the module's folder and answers what it printed.
func built(t *testing.T, env []string, name string, args ...string) string {
	t.Helper()
	c := exec.CommandContext(t.Context(), name, args...)
	c.Dir, c.Env = phoneRoot, append(os.Environ(), env...)
	out, err := c.CombinedOutput()
	if err != nil {
		t.Fatalf("%s %s: %v\n%s", name, strings.Join(args, " "), err, out)
	}
	return string(out)
}

var armed = []string{"CGO_ENABLED=0", "GOOS=linux", "GOARCH=arm64", "GOFLAGS=-buildvcs=false"}

// emulator finds what runs programs for arm64.
func emulator(t *testing.T) string {
	t.Helper()
	path, err := exec.LookPath("qemu-aarch64-static")
	if err != nil {
		t.Fatal("qemu-aarch64-static is needed and missing; make deps installs it")
	}
	return path
}

// testsAlone are calls that the tests of the store make and the store does not:
// to have grep look through its files, and to copy a folder.
var testsAlone = []string{"faccessat2", "pidfd_open", "pidfd_send_signal", "copy_file_range"}

// TestStoreOnArm64 runs the suite of the store on arm64, and notes what it asks
// of the kernel. Left out are the tests that look at a process from outside:
// they would see the emulator. The properties are tried less often, for it is
// several times slower.
func TestStoreOnArm64(t *testing.T) {
	qemu, program, notes := emulator(t), filepath.Join(t.TempDir(), "store.test"), filepath.Join(t.TempDir(), "calls")
	// That the store itself neither runs programs nor copies files, its sources
	// say.
	sources, err := filepath.Glob(filepath.Join(phoneRoot, "core", "store", "*.go"))
	if err != nil || len(sources) == 0 {
		t.Fatalf("no sources of the store: %v", err)
	}
	for _, file := range sources {
		text, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		if copies := regexp.MustCompile(`"os/exec"|\bCopyFS\(|\bio\.Copy|\.ReadFrom\(`).Find(text); copies != nil && !strings.HasSuffix(file, "_test.go") {
			t.Errorf("%s has %s", file, copies)
		}
	}
	built(t, armed, "go", "test", "-c", "-tags=slow", "-o="+program, "./core/store")
	c := exec.CommandContext(t.Context(), qemu, "-strace", "-D", notes, program, "-test.v", "-test.skip=^(TestFaults|TestSyncs|TestKilled|TestKilledWhileSealing)$", "-rapid.checks=3", "-rapid.nofailfile")
	c.Dir = filepath.Join(phoneRoot, "core", "store")
	out, err := c.CombinedOutput()
	if err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	passed, all := bytes.Count(out, []byte("--- PASS: ")), bytes.Count(out, []byte("=== RUN "))
	if passed == 0 || passed != all {
		t.Errorf("%d of %d tests passed\n%s", passed, all, out)
	}
	text, err := os.ReadFile(notes)
	if err != nil {
		t.Fatal(err)
	}
	calls, allowed := asked(text), androidAllows(t)
	for _, c := range calls {
		if !slices.Contains(allowed, c) && !slices.Contains(testsAlone, c) {
			t.Errorf("the store calls %s, and Android ends an app that does", c)
		}
	}
	t.Logf("%d tests on arm64, %d system calls: %s", passed, len(calls), strings.Join(calls, " "))
}

// androidAllows reads the calls that are in every filter of the list.
func androidAllows(t *testing.T) (calls []string) {
	t.Helper()
	text, err := os.ReadFile("testdata/android-arm64-syscalls.txt")
	if err != nil {
		t.Fatal(err)
	}
	filters := map[string][]string{}
	of := ""
	for line := range strings.Lines(string(text)) {
		line = strings.TrimSpace(line)
		switch {
		case line == "" || strings.HasPrefix(line, "#"):
		case strings.HasPrefix(line, "["):
			of = strings.Trim(line, "[]")
		default:
			filters[of] = append(filters[of], strings.Fields(line)...)
		}
	}
	if len(filters) != 2 {
		t.Fatalf("the list has %d filters", len(filters))
	}
	for _, c := range filters["8"] {
		if slices.Contains(filters["9"], c) {
			calls = append(calls, c)
		}
	}
	return calls
}

// asked gives the system calls in what the emulator noted.
func asked(text []byte) (calls []string) {
	// "1234 fsync(3) = 0"; several threads may write into one line.
	call := regexp.MustCompile(`\b\d+ ([a-z_][a-z0-9_]*)\(`)
	for _, m := range call.FindAllSubmatch(text, -1) {
		if name := string(m[1]); !slices.Contains(calls, name) {
			calls = append(calls, name)
		}
	}
	// What the emulator has no name for it notes by number.
	for _, m := range regexp.MustCompile(`Unknown syscall (\d+)`).FindAllSubmatch(text, -1) {
		if name := "number " + string(m[1]); !slices.Contains(calls, name) {
			calls = append(calls, name)
		}
	}
	slices.Sort(calls)
	return calls
}

// TestAndroidLetsTheCore records what a companion asks of the kernel on arm64:
// a case, its record as a file and as PDF, sleep and waking, marks, pictures,
// sealing and destroying, sending; and that the emulator would show a call that is not allowed.
func TestAndroidLetsTheCore(t *testing.T) {
	qemu, dir := emulator(t), t.TempDir()
	program, notes := filepath.Join(dir, "mobile.test"), filepath.Join(dir, "calls")
	built(t, armed, "go", "test", "-c", "-o="+program, "./mobile")
	allowed := androidAllows(t)
	c := exec.CommandContext(t.Context(), qemu, "-strace", "-D", notes, program, "-test.run=^(TestACaseThroughTheBinding|TestMark|TestAttach|TestAttachToACase|TestSealsOnAPhone|TestSendsFromAPhone|TestRestoredBackup)$", "-test.v")
	out, err := c.CombinedOutput()
	if err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	if n := bytes.Count(out, []byte("--- PASS: ")); n != 7 {
		t.Fatalf("%d tests ran, want 7\n%s", n, out)
	}
	text, err := os.ReadFile(notes)
	if err != nil {
		t.Fatal(err)
	}
	calls := asked(text)
	for _, must := range []string{"openat", "fsync", "pwrite64", "flock", "unlinkat", "connect"} {
		if !slices.Contains(calls, must) {
			t.Errorf("no %s among the calls: the notes are not what they seem", must)
		}
	}
	for _, c := range calls {
		if !slices.Contains(allowed, c) {
			t.Errorf("the core calls %s, and Android ends an app that does", c)
		}
	}
	t.Logf("%d system calls: %s", len(calls), strings.Join(calls, " "))
}

// A call that Android does not allow would be noticed.
func TestForbiddenCallIsNoticed(t *testing.T) {
	calls := asked([]byte("12 openat(AT_FDCWD,\"x\",O_RDONLY) = 3\n12 statx(3,0x1) = 0\n13 write(1,0x2,3)12 fsync(3) = 0\n = 3\n12 Unknown syscall 451\n"))
	if want := []string{"fsync", "number 451", "openat", "statx", "write"}; !slices.Equal(calls, want) {
		t.Errorf("read %q, want %q", calls, want)
	}
	allowed := androidAllows(t)
	for _, c := range []string{"statx", "faccessat2", "openat2", "pidfd_open", "number 451", "copy_file_range"} {
		if slices.Contains(allowed, c) {
			t.Errorf("%s counts as allowed", c)
		}
	}
}

// TestSizeOfTheCore builds the core for Android on arm64 with the flags of a
// release, and looks at what came out.
func TestSizeOfTheCore(t *testing.T) {
	work, err := os.MkdirTemp(filepath.Join(phoneRoot, ".build"), "size-")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := os.RemoveAll(work); err != nil {
			t.Error(err)
		}
	})
	const program = `package main

import "chinlift/mobile"

func main() {
	if app, err := mobile.Open("data", "kept", nil); err == nil {
		_, _ = app.Get("/")
	}
}
`
	if err := os.WriteFile(filepath.Join(work, "main.go"), []byte(program), 0o600); err != nil {
		t.Fatal(err)
	}
	flags := strings.TrimSpace(built(t, nil, ".ci/bind", "ldflags"))
	_, version, ok := strings.Cut(flags, "chinlift/core.version=")
	if !ok || version == "" || version == "unknown" && exec.Command("git", "rev-parse").Run() == nil {
		t.Fatalf("no version in %q", flags)
	}
	here, err := filepath.Abs(work)
	if err != nil {
		t.Fatal(err)
	}
	out := filepath.Join(t.TempDir(), "core")
	built(t, []string{"CGO_ENABLED=0", "GOOS=android", "GOARCH=arm64"}, "go", "build", "-buildvcs=false", "-trimpath", "-ldflags="+flags, "-o="+out, here)
	data, err := os.ReadFile(out)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Contains(data, []byte(version)) {
		t.Errorf("version %q is not in it", version)
	}
	sections := built(t, nil, "readelf", "-SW", out)
	for _, s := range []string{".symtab", ".debug_info"} {
		if strings.Contains(sections, s) {
			t.Errorf("it is not stripped: %s", s)
		}
	}
	module, err := filepath.Abs(phoneRoot)
	if err != nil {
		t.Fatal(err)
	}
	for _, path := range []string{module + "/core", strings.TrimSpace(built(t, nil, "go", "env", "GOMODCACHE"))} {
		if bytes.Contains(data, []byte(path)) {
			t.Errorf("a path of this machine is in it: %s", path)
		}
	}
	var packed bytes.Buffer
	z := gzip.NewWriter(&packed)
	if _, err := z.Write(data); err != nil {
		t.Fatal(err)
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	const most = 40 << 20 // a bound against mishaps (house choice)
	if len(data) > most {
		t.Errorf("the core has %d bytes", len(data))
	}
	t.Logf("the core for android/arm64, stripped: %.1f MB, %.1f MB packed", float64(len(data))/1e6, float64(packed.Len())/1e6)
}

// What builds the libraries says in words what is missing, and refuses what a
// phone could not load.
func TestBuildingSaysWhatIsMissing(t *testing.T) {
	old, empty := filepath.Join(t.TempDir(), "old"), filepath.Join(t.TempDir(), "empty")
	for dir, properties := range map[string]string{old: "Pkg.Desc = Android NDK\nPkg.Revision = 26.1.10909125\n", empty: "Pkg.Revision = 28.2.13676358\n"} {
		if err := os.MkdirAll(dir, 0o700); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(dir, "source.properties"), []byte(properties), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	path := "PATH=" + os.Getenv("PATH")
	for name, tt := range map[string]struct {
		target string
		env    []string
		says   string
	}{
		"no NDK":                 {"aar", nil, "Android's NDK is not here"},
		"a folder that is none":  {"aar", []string{"ANDROID_NDK_HOME=" + t.TempDir()}, "Android's NDK is not here"},
		"an SDK without an NDK":  {"aar", []string{"ANDROID_HOME=" + t.TempDir()}, "set ANDROID_NDK_HOME"},
		"an old NDK":             {"aar", []string{"ANDROID_NDK_HOME=" + old}, "is r26; r28 or later is needed"},
		"an NDK without the SDK": {"aar", []string{"ANDROID_NDK_HOME=" + empty}, "no platform of the Android SDK"},
		"no Xcode":               {"xcframework", nil, "Xcode is not here"},
	} {
		t.Run(name, func(t *testing.T) {
			c := exec.CommandContext(t.Context(), "make", "--no-print-directory", tt.target)
			c.Dir, c.Env = phoneRoot, append([]string{path, "HOME=" + os.Getenv("HOME")}, tt.env...)
			out, err := c.CombinedOutput()
			var exit *exec.ExitError
			if !errors.As(err, &exit) || !strings.Contains(string(out), tt.says) || !strings.Contains(string(out), "make "+tt.target+":") {
				t.Errorf("%v, want %q said:\n%s", err, tt.says, out)
			}
		})
	}
	source := filepath.Join(t.TempDir(), "x.c")
	if err := os.WriteFile(source, []byte("int x(void) { return 1; }\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	for size, want := range map[string]bool{"4096": false, "16384": true, "65536": true} {
		library := filepath.Join(t.TempDir(), "lib.so")
		built(t, nil, "gcc", "-shared", "-Wl,-z,max-page-size="+size, "-o", library, source)
		c := exec.CommandContext(t.Context(), ".ci/bind", "pages", library)
		c.Dir = phoneRoot
		out, err := c.CombinedOutput()
		if fits := err == nil; fits != want || !fits && !strings.Contains(string(out), "16 KiB pages") {
			t.Errorf("a library for pages of %s: %v\n%s", size, err, out)
		}
	}
}

// TestSwiftParses has a Swift grammar read the sources of the iOS shell.
func TestSwiftParses(t *testing.T) {
	python := filepath.Join(phoneRoot, ".build", "swift", "bin", "python")
	if _, err := os.Stat(python); err != nil {
		t.Fatalf("the parser is not here (%v); make deps fetches it", err)
	}
	files, err := filepath.Glob(filepath.Join(swiftFolder, "*.swift"))
	if err != nil || len(files) == 0 {
		t.Fatalf("no Swift sources: %v", err)
	}
	broken := filepath.Join(t.TempDir(), "broken.swift")
	if err := os.WriteFile(broken, []byte("func f( { return }\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	out, err := exec.CommandContext(t.Context(), python, append([]string{"testdata/parse.py", broken}, files...)...).Output()
	if err != nil {
		t.Fatal(err)
	}
	faults := map[string][]string{}
	if err := json.Unmarshal(out, &faults); err != nil {
		t.Fatal(err)
	}
	if len(faults) != len(files)+1 || len(faults[broken]) == 0 {
		t.Fatalf("the parser reads %d files and finds in a broken one %q", len(faults), faults[broken])
	}
	delete(faults, broken)
	for file, found := range faults {
		for _, f := range found {
			t.Errorf("%s: %s", file, f)
		}
	}
}
