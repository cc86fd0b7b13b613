//go:build slow

package jvm

import (
	"flag"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

var update = flag.Bool("update", false, "write the listings of what the tools made of the contract")

// golden compares what the tool made of the contract with the listings in
// mobile/testdata, by which the sources of both shells are checked without the
// tool: the declarations alone, of Java and of Objective-C.
func golden(t *testing.T, work string) {
	t.Helper()
	listed := map[string]func(string) []string{
		"binding.java.txt": java, "binding.objc.txt": objc,
	}
	from := map[string]string{"binding.java.txt": "java/mobile/*.java", "binding.objc.txt": "src/gobind/Mobile.objc.h"}
	for name, read := range listed {
		files, err := filepath.Glob(filepath.Join(work, from[name]))
		if err != nil || len(files) == 0 {
			t.Fatalf("no %s: %v", from[name], err)
		}
		var b strings.Builder
		for _, file := range files {
			text, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			for _, line := range read(string(text)) {
				b.WriteString(line + "\n")
			}
		}
		path := filepath.Join(root, "mobile", "testdata", name)
		if *update {
			write(t, path, b.String())
		}
		want, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		if b.String() != string(want) {
			t.Errorf("what crosses is no longer what mobile/testdata/%s lists; a shell may call what is gone.\nIf that is meant, change the shells and write it anew: go test -tags slow ./mobile/jvm -update\n%s", name, b.String())
		}
	}
}

var comment = regexp.MustCompile(`(?s)/\*.*?\*/`)

// java gives the public declarations of a class, each after the name of its
// class.
func java(text string) (lines []string) {
	class := ""
	declared := regexp.MustCompile(`^public (?:final |abstract )*(?:class|interface) (\w+)`)
	inner := false
	for line := range strings.Lines(comment.ReplaceAllString(text, "")) {
		line = strings.TrimRight(line, "\r\n")
		if m := declared.FindStringSubmatch(line); m != nil {
			class = m[1]
		}
		// Proxies of what the shell implements are no part of what it calls.
		switch {
		case strings.Contains(line, "class proxy"):
			inner = true
		case line == "\t}":
			inner = false
		}
		line = strings.TrimSpace(line)
		if inner || !strings.HasPrefix(line, "public ") || strings.Contains(line, "incRefnum") {
			continue
		}
		lines = append(lines, class+": "+strings.TrimRight(strings.TrimSuffix(line, "{"), " ;"))
	}
	return lines
}

// objc gives the declarations of a header, each after the name of its class or
// protocol.
func objc(text string) (lines []string) {
	of, proxy := "Mobile", false
	begins := regexp.MustCompile(`^@(interface|protocol) (\w+)(.*)`)
	for line := range strings.Lines(comment.ReplaceAllString(text, "")) {
		line = strings.TrimSpace(line)
		if m := begins.FindStringSubmatch(line); m != nil && !strings.HasSuffix(line, ";") {
			of = m[2]
			proxy = m[1] == "interface" && strings.Contains(m[3], ", ") // of a protocol
		}
		switch {
		case line == "@end":
			of, proxy = "Mobile", false
		case proxy:
		case strings.HasPrefix(line, "- ") || strings.HasPrefix(line, "@property") || strings.HasPrefix(line, "FOUNDATION_EXPORT"):
			if !strings.Contains(line, "_ref") && !strings.Contains(line, "Ref:") {
				lines = append(lines, of+": "+line)
			}
		}
	}
	return lines
}
