//go:build slow

package store

import (
	"bytes"
	"fmt"
	"maps"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// TestFaults makes the N-th system call of one sort fail, for N = 1, 2, 3 and
// so on, until a whole round of work meets no fault any more; once with that
// call alone failing, and once with all from it on. The error must reach the
// caller under one of our codes, or the reserve must have ridden it out;
// nothing acknowledged may be lost, and what is stored must verify.
//
// strace injects the faults, only for calls on the files of the folder. It
// counts calls thread by thread; the child does its work on one thread, with
// GOMAXPROCS=1, so that N is the N-th call of the work. The background
// checkpoint would run on another, and comes too late to run in this round.
func TestFaults(t *testing.T) {
	for _, f := range []struct {
		name, calls, errno string
		once, on           bool     // that call alone; that call and all after it
		codes              []string // what may reach the caller
	}{
		{"disk full", "pwrite64,write", "ENOSPC", true, true, []string{CodeDiskFull, CodeIO}},
		// SQLite has one code for a shared index that cannot grow, whatever the
		// reason: it is taken for a full disk.
		{"failing writes", "pwrite64,write", "EIO", true, false, []string{CodeIO, CodeDiskFull}},
		{"failing syncs", "fsync,fdatasync", "EIO", true, true, []string{CodeIO}},
		{"failing truncation", "ftruncate", "EIO", true, true, []string{CodeIO, CodeDiskFull}},
		{"full at truncation", "ftruncate", "ENOSPC", true, true, []string{CodeIO, CodeDiskFull}},
		{"failing removal", "unlink,unlinkat", "EIO", true, true, []string{CodeIO}},
	} {
		for _, plus := range []bool{false, true} {
			if plus && !f.on || !plus && !f.once {
				continue
			}
			name := f.name
			if plus {
				name += " from then on"
			}
			t.Run(name, func(t *testing.T) { faults(t, f.calls, f.errno, plus, f.codes) })
		}
	}
}

func faults(t *testing.T, calls, errno string, plus bool, codes []string) {
	said := map[string]int{}
	hits, ridden, refused := 0, 0, 0
	for n := 1; ; n++ {
		dir := filepath.Join(t.TempDir(), "data")
		trace := tracePath(t)
		when := fmt.Sprint(n)
		if plus {
			when += "+"
		}
		args := []string{"-o", trace, "-e", "trace=" + calls, "-e", "inject=" + calls + ":error=" + errno + ":when=" + when}
		// With paths given, only calls on them are traced, counted and made
		// to fail: not the pipe to the parent, nor the runtime's own.
		for _, name := range []string{"", FileName, FileName + "-wal", FileName + "-shm", "reserve", "reserve.part", "blobs"} {
			args = append(args, "-P", filepath.Join(dir, name))
		}
		cmd := child(t, "round", dir, args...)
		var stderr bytes.Buffer
		cmd.Stderr = &stderr
		out, err := cmd.Output()
		context := fmt.Sprintf("fault %s", when)
		if err != nil {
			t.Fatalf("%s: the child died: %v\n%s\n%s", context, err, out, stderr.String())
		}
		b, err := os.ReadFile(trace)
		if err != nil {
			t.Fatal(err)
		}
		by := told(out)
		survived(t, dir, by["stored"], context)
		if by["destroyed"] != nil && holding(t, dir, "Quentin-Invented") != "" {
			t.Fatalf("%s: what was said to be destroyed is still in a file\n%s", context, out)
		}
		for _, h := range by["blob"] {
			if _, err := os.Stat(filepath.Join(dir, blobFolder, h[:2], h)); err != nil {
				t.Fatalf("%s: %v", context, err)
			}
		}
		struck := bytes.Count(b, []byte("(INJECTED)"))
		for _, e := range by["error"] {
			_, code, _ := strings.Cut(e, " ")
			if !slices.Contains(codes, code) {
				t.Fatalf("%s: an error with the code %q\n%s\n%s", context, code, out, b)
			}
			said[e]++
		}
		if struck == 0 {
			if len(by["error"]) > 0 || by["end"] == nil || len(by["stored"]) != 5 {
				t.Fatalf("without a fault:\n%s", out)
			}
			break
		}
		hits++
		if len(by["error"]) > 0 {
			refused++
		} else {
			if by["end"] == nil {
				t.Fatalf("%s: neither an error nor an end\n%s", context, out)
			}
			ridden++
		}
	}
	if hits == 0 {
		t.Fatal("no fault was met: the test shows nothing")
	}
	t.Logf("%d faults met; %d rounds with an error told, %d that ended without one; nothing lost", hits, refused, ridden)
	for _, e := range slices.Sorted(maps.Keys(said)) {
		t.Logf("  %-24s %d times", e, said[e])
	}
}

// TestStraceIsHere says plainly what is missing.
func TestStraceIsHere(t *testing.T) {
	if _, err := exec.LookPath("strace"); err != nil {
		t.Fatal("strace is needed and missing; make deps installs it")
	}
}
