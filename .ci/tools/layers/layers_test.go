// Package layers proves that the linter refuses what the layering of Chinlift
// forbids. A rule in .golangci.yml whose path is misspelled refuses nothing
// and looks just like one that is kept. So this test lets golangci-lint loose,
// with the project's own configuration, on a tree in which every package
// imports every other, and compares what is refused with the table here, which
// is written down a second time and from the other side: DEVELOPERS.md, "Who
// may import whom".
//
// It is run by make lint, which builds the linter first.
package layers

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
)

const root = "../../.." // of the project, from this folder

// mayImport gives, for each package, those of ours that it may import.
var mayImport = map[string]string{
	"core/term":      "",
	"core/quantity":  "",
	"core/word":      "",
	"core/rulefile":  "",
	"core/exact":     "core/quantity",
	"core/sealing":   "",
	"core/timeline":  "core/term core/quantity",
	"core/store":     "core/term core/timeline core/sealing",
	"core/patient":   "core/term core/quantity core/exact",
	"core/formulary": "core/term core/quantity core/exact core/patient",
	"core/agent":     "core/term core/quantity core/exact core/patient",
	"core/visit":     "core/term core/quantity core/exact core/rulefile core/patient",
	"core/trouble":   "core/term core/quantity core/rulefile core/patient",
	"core/waking":    "core/term core/quantity core/exact core/rulefile core/patient",
	"core/uptake":    "core/term core/quantity core/patient core/agent",
	"core/depth":     "core/term core/quantity core/patient core/agent core/uptake",
	"core/figure":    "core/term core/quantity",
	"core/kit":       "core/term core/quantity core/exact core/rulefile core/patient core/agent",
	"core/record":    "core/term core/quantity core/word",
	"core": "core/term core/quantity core/word core/timeline core/sealing core/store core/patient core/formulary core/agent " +
		"core/visit core/trouble core/waking core/uptake core/depth core/figure core/kit core/record",
	"sync":          "core/term core/quantity core core/store core/timeline core/record sync/plain sync/outbox sync/carrier",
	"sync/plain":    "core/term core/quantity core core/store core/timeline core/record sync sync/outbox sync/carrier",
	"sync/outbox":   "core/term core/quantity core core/store core/timeline core/record sync sync/plain sync/carrier",
	"sync/carrier":  "core/term core/quantity core core/store core/timeline core/record sync sync/plain sync/outbox",
	"mobile/ui":     "core core/word core/record",
	"mobile/keep":   "mobile/ui core sync sync/plain sync/outbox sync/carrier",
	"mobile":        "mobile/keep mobile/ui core core/word sync sync/plain sync/outbox sync/carrier",
	"mobile/desk":   "mobile/keep mobile/ui core core/word sync sync/plain sync/outbox sync/carrier",
	"core/must":     "", // for tests; no source may import it
	"core/unlisted": "", // a package that somebody added without a rule
}

// onlyIn gives the packages that may import a library; none for a library
// that is for tests.
var onlyIn = map[string]string{
	"database/sql":               "core/store",
	"modernc.org/sqlite":         "core/store",
	"codeberg.org/go-pdf/fpdf":   "core/record",
	"pgregory.net/rapid":         "",
	"github.com/chromedp/cdp":    "",
	"github.com/google/go-cmp":   "",
	"github.com/pdfcpu/pdfcpu":   "",
	"testing":                    "",
	"github.com/google/uuid":     "*", // no rule speaks of it
	"github.com/BurntSushi/toml": "*",
}

// pure are the packages that reach for no file and no network.
const pure = "core/term core/quantity core/word core/rulefile core/exact core/sealing core/patient core/formulary core/agent core/visit core/trouble core/waking core/uptake core/depth core/figure core/kit"

func TestLinterKeepsTheLayers(t *testing.T) {
	dir := t.TempDir()
	write := func(path, text string) {
		t.Helper()
		path = filepath.Join(dir, filepath.FromSlash(path))
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	config, err := os.ReadFile(filepath.Join(root, ".golangci.yml"))
	if err != nil {
		t.Fatal(err)
	}
	write(".golangci.yml", string(config))

	// The importers are in a module of another name, and what they import is
	// empty: else the compiler would refuse the cycles before the linter does.
	mod := "module probe\n\ngo 1.26\n"
	stub := func(module string, packages ...string) {
		name := "stub/" + strings.ReplaceAll(module, "/", "_")
		write(name+"/go.mod", "module "+module+"\n\ngo 1.26\n")
		for _, p := range packages {
			write(filepath.Join(name, p, "p.go"), "package p\n")
		}
		mod += "\nrequire " + module + " v0.0.0\n\nreplace " + module + " => ./" + name + "\n"
	}
	stub("chinlift", slices.Sorted(maps.Keys(mayImport))...)
	for _, lib := range slices.Sorted(maps.Keys(onlyIn)) {
		if strings.Contains(lib, ".") {
			stub(lib, "")
		}
	}
	write("go.mod", mod)

	want := map[string]bool{}
	probe := func(pkg, imported string, allowed bool) {
		file := pkg + "/" + strings.NewReplacer("/", "_", ".", "_").Replace(imported) + "_probe.go"
		write(file, fmt.Sprintf("// Package p imports.\npackage p\n\nimport _ %q\n", imported))
		if !allowed {
			want[file+": depguard"] = true
		}
		// The same import in a test is no concern of the layers.
		test := strings.TrimSuffix(file, ".go") + "_test.go"
		write(test, fmt.Sprintf("package p\n\nimport _ %q\n", imported))
	}
	for pkg, allowed := range mayImport {
		for other := range mayImport {
			if pkg != other {
				probe(pkg, "chinlift/"+other, slices.Contains(strings.Fields(allowed), other))
			}
		}
		for lib, in := range onlyIn {
			probe(pkg, lib, in == "*" || in == pkg)
		}
		for _, std := range []string{"os", "os/exec", "net/http"} {
			probe(pkg, std, !slices.Contains(strings.Fields(pure), pkg))
		}
		for _, std := range []string{"io/fs", "fmt", "strings", "embed"} {
			probe(pkg, std, true)
		}
	}

	// The one clock, and the one voice to the terminal.
	const clock = "// Package p tells the time.\npackage p\n\nimport \"time\"\n\nvar _, _ = time.Now(), time.Local\n"
	const renamed = "// Package p tells the time.\npackage p\n\nimport t \"time\"\n\nvar _ = t.Since(t.Time{})\n"
	const voice = "// Package p speaks.\npackage p\n\nimport \"fmt\"\n\nfunc init() { fmt.Println() }\n"
	write("core/clock.go", clock)
	write("core/kill_slow_test.go", clock)
	write("core/tap_bench_test.go", clock)
	write("mobile/desk/voice.go", voice)
	for file, text := range map[string]string{
		"core/other.go":        clock,
		"core/clock_test.go":   clock,
		"core/agent/clock.go":  clock,
		"mobile/desk/clock.go": clock,
		"core/renamed.go":      renamed,
		"core/voice.go":        voice,
		"mobile/voice.go":      voice,
	} {
		write(file, text)
		want[file+": forbidigo"] = true
	}

	linter, err := filepath.Abs(filepath.Join(root, ".build/bin/golangci-lint"))
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(linter, "run", "--allow-parallel-runners", "--enable-only=depguard,forbidigo",
		"--output.text.path=stdout", "--output.text.colors=false",
		"--output.text.print-issued-lines=false", "--show-stats=false", "./...")
	cmd.Dir = dir
	cmd.Env = append(os.Environ(), "GOFLAGS=-mod=mod", "GOLANGCI_LINT_CACHE="+t.TempDir())
	var stderr bytes.Buffer
	cmd.Stderr = &stderr
	out, err := cmd.Output()
	var exit *exec.ExitError
	if err != nil && (!errors.As(err, &exit) || exit.ExitCode() != 1) { // 1: it found something
		t.Fatalf("golangci-lint: %v\n%s%s", err, out, stderr.Bytes())
	}

	got := map[string]bool{}
	finding := regexp.MustCompile(`^(\S+?\.go):\d+:\d+: .*\((\w+)\)$`)
	lines := bufio.NewScanner(bytes.NewReader(out))
	for lines.Scan() {
		m := finding.FindStringSubmatch(lines.Text())
		if m == nil {
			t.Fatalf("golangci-lint said something unexpected: %s\n%s", lines.Text(), stderr.Bytes())
		}
		got[filepath.ToSlash(m[1])+": "+m[2]] = true
	}
	for _, f := range slices.Sorted(maps.Keys(want)) {
		if !got[f] {
			t.Errorf("not refused: %s", f)
		}
	}
	for _, f := range slices.Sorted(maps.Keys(got)) {
		if !want[f] {
			t.Errorf("refused, and should not be: %s", f)
		}
	}
}

// The one clock is not asked of files whose names say that they are slow
// suites; so the name must not be a way round it for the others.
func TestSlowNamesAreSlow(t *testing.T) {
	for _, tree := range []string{"core", "sync", "mobile"} {
		err := filepath.WalkDir(filepath.Join(root, tree), func(path string, d fs.DirEntry, err error) error {
			if errors.Is(err, fs.ErrNotExist) {
				return nil // a tree that is not built yet
			}
			if err != nil || !strings.HasSuffix(path, "_slow_test.go") && !strings.HasSuffix(path, "_bench_test.go") {
				return err
			}
			src, err := os.ReadFile(path)
			if err == nil && !slowTag.Match(src) {
				t.Errorf("%s does not say //go:build slow", path)
			}
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
	}
}

var slowTag = regexp.MustCompile(`(?m)^//go:build (.*&& )?slow\b`)
