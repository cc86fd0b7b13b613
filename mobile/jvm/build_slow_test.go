//go:build slow

package jvm

import (
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime"
	"slices"
	"strings"
	"testing"
	"time"
)

// run runs a command in a folder and answers what it printed.
func run(t *testing.T, dir string, env []string, name string, args ...string) string {
	t.Helper()
	started := time.Now()
	c := exec.CommandContext(t.Context(), name, args...)
	c.Dir, c.Env = dir, append(os.Environ(), env...)
	out, err := c.CombinedOutput()
	if err != nil {
		t.Fatalf("%s %s: %v\n%s", name, strings.Join(args, " "), err, out)
	}
	if d := time.Since(started); d > time.Second {
		t.Logf("%.1f s: %s %s", d.Seconds(), filepath.Base(name), args[0])
	}
	return string(out)
}

// tool finds a program, or says how it comes here.
func tool(t *testing.T, name, what string) string {
	t.Helper()
	path, err := exec.LookPath(name)
	if err != nil {
		t.Fatalf("%s is not here (%v): this test needs %s; make deps installs it", name, err, what)
	}
	return path
}

// kit is what builds the binding.
type kit struct {
	cc, ar            string // C compiler, maker of static libraries
	java, javac       string
	include, platform string // folders of jni.h and of jni_md.h
}

// findKit looks for all of it before anything is built, so that what is
// missing is said at once.
func findKit(t *testing.T) kit {
	t.Helper()
	cc := strings.Fields(run(t, root, nil, "go", "env", "CC"))
	if len(cc) == 0 {
		t.Fatal("go env CC names no C compiler")
	}
	k := kit{cc: tool(t, cc[0], "a C compiler"), ar: tool(t, "ar", "the tools of a C compiler")}
	hello := filepath.Join(t.TempDir(), "hello.c")
	write(t, hello, "#include <stdio.h>\n#include <stdlib.h>\n")
	if out, err := exec.CommandContext(t.Context(), k.cc, "-c", hello, "-o", os.DevNull).CombinedOutput(); err != nil {
		t.Fatalf("the headers of the C library are not here (%v): make deps installs them\n%s", err, out)
	}
	home := os.Getenv("JAVA_HOME")
	if home == "" {
		javac, err := filepath.EvalSymlinks(tool(t, "javac", "a JDK"))
		if err != nil {
			t.Fatal(err)
		}
		home = filepath.Dir(filepath.Dir(javac))
	}
	k.java = tool(t, filepath.Join(home, "bin", "java"), "a JDK")
	k.javac = tool(t, filepath.Join(home, "bin", "javac"), "a JDK")
	k.include = filepath.Join(home, "include")
	k.platform = filepath.Join(k.include, runtime.GOOS)
	for _, header := range []string{filepath.Join(k.include, "jni.h"), filepath.Join(k.platform, "jni_md.h")} {
		if _, err := os.Stat(header); err != nil {
			t.Fatalf("jni.h of the JDK is not here (%v): make deps installs it", err)
		}
	}
	return k
}

func write(t *testing.T, path, text string) {
	t.Helper()
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
}

// workshop makes a folder for generated sources. They import the module, and
// so must lie in it; a name that begins with a dot hides them from ./... .
func workshop(t *testing.T) string {
	t.Helper()
	build, err := filepath.Abs(filepath.Join(root, ".build"))
	if err != nil {
		t.Fatal(err)
	}
	if err := os.MkdirAll(build, 0o755); err != nil {
		t.Fatal(err)
	}
	dir, err := os.MkdirTemp(build, "jvm-")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := os.RemoveAll(dir); err != nil {
			t.Error(err)
		}
	})
	return dir
}

// skipped matches the comment by which gobind says that a member does not
// cross. It says so nowhere else, and ends well.
var skipped = regexp.MustCompile(`(?m)^\s*// skipped (.+)$`)

// generate makes the binding of a package, and answers what was left out of
// it.
func generate(t *testing.T, dir, pkg string) (left []string) {
	t.Helper()
	run(t, root, nil, "go", "tool", "gobind", "-lang=java,go,objc", "-outdir="+dir, pkg)
	files := 0
	err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		files++
		text, err := os.ReadFile(path)
		for _, m := range skipped.FindAllSubmatch(text, -1) {
			left = append(left, string(m[1]))
		}
		return err
	})
	if err != nil || files == 0 {
		t.Fatalf("gobind made %d files, %v", files, err)
	}
	slices.Sort(left)
	return slices.Compact(left)
}

// binding is a binding that was built.
type binding struct {
	kit     kit
	sources string // folder of the generated Java
	library string // folder of libgojni.so
	classes string // folder of the compiled Java, the driver among it
}

// build makes the library and the classes of the package mobile.
func build(t *testing.T) binding {
	t.Helper()
	k := findKit(t)
	work, temp := workshop(t), t.TempDir()
	if left := generate(t, work, "./mobile"); len(left) > 0 {
		t.Fatalf("gobind left out what it cannot carry; no shell could call it:\n%s", strings.Join(left, "\n"))
	}
	golden(t, work)
	native, err := filepath.Abs("testdata/native")
	if err != nil {
		t.Fatal(err)
	}
	library, classes := filepath.Join(temp, "library"), filepath.Join(temp, "classes")

	// The endings _android.c and _android.go would leave the files out on
	// every other system.
	glue := filepath.Join(work, "src", "gobind")
	for _, ending := range []string{".c", ".go"} {
		files, err := filepath.Glob(filepath.Join(glue, "*_android"+ending))
		if err != nil || len(files) == 0 {
			t.Fatalf("no generated *_android%s: %v", ending, err)
		}
		for _, from := range files {
			if err := os.Rename(from, strings.TrimSuffix(from, ending)+"_here"+ending); err != nil {
				t.Fatal(err)
			}
		}
	}
	// The generated code wants -llog.
	object := filepath.Join(temp, "log.o")
	run(t, temp, nil, k.cc, "-c", "-fPIC", "-Wall", "-Werror", "-I"+native, filepath.Join(native, "log.c"), "-o", object)
	run(t, temp, nil, k.ar, "rcs", filepath.Join(glue, "liblog.a"), object)
	// Flags that stand in the package bind it alone: in the environment they
	// would bind the standard library too, and have it built anew each time.
	write(t, filepath.Join(glue, "flags.go"), fmt.Sprintf(`package main

// #cgo CFLAGS: -D__GOBIND_ANDROID__ %q %q %q -Wno-incompatible-pointer-types
// #cgo LDFLAGS: -L${SRCDIR}
import "C"
`, "-I"+k.include, "-I"+k.platform, "-I"+native))
	run(t, root, []string{"CGO_ENABLED=1"}, "go", "build", "-buildvcs=false", "-overlay="+panics(t, temp), "-buildmode=c-shared", "-o="+filepath.Join(library, "libgojni.so"), glue)

	var sources []string
	for _, dir := range []string{filepath.Join(work, "java"), "testdata/java"} {
		err := filepath.WalkDir(dir, func(path string, _ fs.DirEntry, err error) error {
			if filepath.Ext(path) == ".java" {
				sources = append(sources, path)
			}
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	run(t, ".", nil, k.javac, append([]string{"-encoding", "UTF-8", "-proc:none", "-d", classes}, sources...)...)
	return binding{k, filepath.Join(work, "java"), library, classes}
}

// panics makes the one thing in which the library that is built here is another
// than a phone's: in one zone the clock panics, which on a phone only a fault of
// the program could.
func panics(t *testing.T, temp string) (overlay string) {
	t.Helper()
	from, err := filepath.Abs(filepath.Join(root, "mobile", "adapter.go"))
	if err != nil {
		t.Fatal(err)
	}
	text, err := os.ReadFile(from)
	if err != nil {
		t.Fatal(err)
	}
	const here = "	zone := c.p.Zone()\n"
	if strings.Count(string(text), here) != 1 {
		t.Fatal("the clock of package mobile asks for the zone otherwise than this test knows")
	}
	to := filepath.Join(temp, "adapter.go")
	write(t, to, strings.Replace(string(text), here, here+"	if zone == \""+panicZone+"\" {\n		panic(zone)\n	}\n", 1))
	overlay = filepath.Join(temp, "overlay.json")
	write(t, overlay, fmt.Sprintf("{\"Replace\": {%q: %q}}", from, to))
	return overlay
}

// exported lists what the package mobile exports, as the members that the
// generated Java must have for it: by class, in lower case.
func exported(t *testing.T) map[string][]string {
	t.Helper()
	files, err := filepath.Glob(filepath.Join(root, "mobile", "*.go"))
	if err != nil || len(files) == 0 {
		t.Fatalf("no sources of package mobile: %v", err)
	}
	all := map[string][]string{}
	add := func(class, prefix string, names ...*ast.Ident) {
		for _, n := range names {
			if n.IsExported() {
				all[class] = append(all[class], prefix+strings.ToLower(n.Name))
			}
		}
	}
	for _, file := range files {
		if strings.HasSuffix(file, "_test.go") {
			continue
		}
		f, err := parser.ParseFile(token.NewFileSet(), file, nil, parser.SkipObjectResolution)
		if err != nil {
			t.Fatal(err)
		}
		for _, decl := range f.Decls {
			switch d := decl.(type) {
			case *ast.FuncDecl:
				if d.Recv == nil {
					add("Mobile", "", d.Name)
					continue
				}
				of := d.Recv.List[0].Type
				if p, ok := of.(*ast.StarExpr); ok {
					of = p.X
				}
				if name, ok := of.(*ast.Ident); ok && name.IsExported() {
					add(name.Name, "", d.Name)
				}
			case *ast.GenDecl:
				for _, spec := range d.Specs {
					switch s := spec.(type) {
					case *ast.ValueSpec:
						for _, n := range s.Names {
							if n.IsExported() && d.Tok != token.CONST {
								t.Errorf("%s is neither a function nor a constant: this test does not know what becomes of it", n.Name)
							}
						}
					case *ast.TypeSpec:
						if !s.Name.IsExported() {
							continue
						}
						all[s.Name.Name] = append(all[s.Name.Name], []string{}...)
						switch of := s.Type.(type) {
						case *ast.StructType:
							for _, field := range of.Fields.List {
								add(s.Name.Name, "get", field.Names...)
								add(s.Name.Name, "set", field.Names...)
							}
						case *ast.InterfaceType:
							for _, method := range of.Methods.List {
								add(s.Name.Name, "", method.Names...)
							}
						default:
							t.Errorf("type %s is neither a struct nor an interface; gobind makes nothing of it", s.Name.Name)
						}
					}
				}
			}
		}
	}
	for _, names := range all {
		slices.Sort(names)
	}
	return all
}

// TestWhatIsLeftOutIsNoticed runs the tool on a package that it cannot carry
// whole.
func TestWhatIsLeftOutIsNoticed(t *testing.T) {
	left := generate(t, workshop(t), "./mobile/jvm/testdata/unbindable")
	for _, member := range []string{"Port.Names", "Answer.Fields", "Answer.Stays", "Lost", "Limits"} {
		at := func(line string) bool { return strings.Contains(" "+line+" ", " "+member+" ") }
		if !slices.ContainsFunc(left, at) {
			t.Errorf("%s cannot cross, and went unnoticed among:\n%s", member, strings.Join(left, "\n"))
		}
	}
	for _, line := range left {
		if strings.Contains(line, "Name ") || strings.Contains(line, "Status") || strings.Contains(line, "Crosses") {
			t.Errorf("what crosses is said to be left out: %s", line)
		}
	}
}
