//go:build slow

package store

import (
	"bufio"
	"math/rand/v2"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// TestKilled kills a process that appends, 200 times, at moments that chance
// picks, also while it opens the folder, ten times in a row on each folder.
// What it had said to be stored must be there. This shows nothing about a
// power cut: what a process wrote, the system still has.
func TestKilled(t *testing.T) {
	const kills, onOneFolder = 200, 10
	seed := rand.Uint64()
	rng := rand.New(rand.NewPCG(seed, 0))
	dir := ""
	var acknowledged []string
	events, opening, lines := 0, 0, 0
	for n := range kills {
		if n%onOneFolder == 0 {
			dir, acknowledged = filepath.Join(t.TempDir(), "data"), nil
		}
		after := rng.IntN(120) - 20 // lines to read before the kill; every sixth time it is opening
		cmd := child(t, "append", dir)
		out, err := cmd.StdoutPipe()
		if err != nil {
			t.Fatal(err)
		}
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		sc := bufio.NewScanner(out)
		killed := false
		before := len(acknowledged)
		for read := 0; sc.Scan(); read++ {
			verb, rest, _ := strings.Cut(sc.Text(), " ")
			switch verb {
			case "stored":
				acknowledged = append(acknowledged, rest)
			case "error":
				t.Fatalf("seed %d, kill %d: %s", seed, n, rest)
			}
			if read >= after && !killed {
				killed = true
				if err := cmd.Process.Kill(); err != nil {
					t.Fatal(err)
				}
			}
			// What the child said before it died is read to the end.
		}
		if err := cmd.Wait(); err == nil || !killed {
			t.Fatalf("seed %d, kill %d: the child ended by itself: %v", seed, n, err)
		}
		if len(acknowledged) == before {
			opening++
		}
		events += len(acknowledged) - before
		lines += survived(t, dir, acknowledged, "seed "+strconv.FormatUint(seed, 10)+", kill "+strconv.Itoa(n)).Lines
	}
	if opening == 0 || events == 0 {
		t.Fatalf("seed %d: %d kills before the first event, %d events", seed, opening, events)
	}
	t.Logf("%d kills, %d of them before the first commit was acknowledged; %d acknowledged events, none lost; %d lines verified, nothing found", kills, opening, events, lines)
}
