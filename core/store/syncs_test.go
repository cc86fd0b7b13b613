//go:build slow

package store

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// TestSyncs counts the syncs of each thing that the store does: between two
// checkpoints a tap costs exactly one, a read or a retry none.
func TestSyncs(t *testing.T) {
	dir, trace := filepath.Join(t.TempDir(), "data"), tracePath(t)
	cmd := child(t, "phases", dir, "-o", trace, "-e", "trace=fsync,fdatasync,newfstatat,stat")
	if out, err := cmd.CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	b, err := os.ReadFile(trace)
	if err != nil {
		t.Fatal(err)
	}
	marked := regexp.MustCompile(`"/MARK ([^"]+)"`)
	synced := regexp.MustCompile(`\b(fsync|fdatasync)\(`)
	var phases []string
	syncs := map[string]int{}
	for line := range strings.Lines(string(b)) {
		if m := marked.FindStringSubmatch(line); m != nil {
			phases = append(phases, m[1])
		} else if synced.MatchString(line) && len(phases) > 0 {
			syncs[phases[len(phases)-1]]++
		}
	}
	taps := 0
	for _, p := range phases {
		n := syncs[p]
		switch {
		case strings.HasPrefix(p, "append "):
			taps++
			if n != 1 {
				t.Errorf("%s: %d syncs", p, n)
			}
		case p == "reads" || p == "retry" || p == "file that is there":
			if n != 0 {
				t.Errorf("%s: %d syncs", p, n)
			}
		case p != "end":
			t.Logf("%d syncs: %s", n, p)
		}
	}
	if taps != 70 {
		t.Fatalf("%d taps were traced", taps)
	}
	t.Logf("1 sync each: %d appends; 0: reads, retries, a file that is there", taps)
}
