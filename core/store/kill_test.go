//go:build slow

package store

import (
	"bufio"
	"io"
	"math/rand/v2"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"chinlift/core/must"
	"chinlift/core/sealing"
	"chinlift/core/timeline"
)

// TestKilledWhileSealing kills a process that sets up sealing and seals what
// was recorded before, at moments that chance picks. What it had said to be
// stored is there, with its private part; and once the next start has finished
// what was begun, no file holds any of it in the clear.
func TestKilledWhileSealing(t *testing.T) {
	const kills = 80
	seed := rand.Uint64()
	rng := rand.New(rand.NewPCG(seed, 0))
	halfway, before, after := 0, 0, 0
	for n := range kills {
		dir := filepath.Join(t.TempDir(), "data")
		lines := 20 + rng.IntN(24) // most of the way to set-up, or into what follows
		cmd := child(t, "seals", dir)
		out := started(t, cmd)
		var acknowledged []string
		sc := bufio.NewScanner(out)
		for read := 0; sc.Scan(); read++ {
			verb, rest, _ := strings.Cut(sc.Text(), " ")
			switch verb {
			case "stored":
				acknowledged = append(acknowledged, rest)
			case "error":
				t.Fatalf("seed %d, kill %d: %s", seed, n, rest)
			}
			if read == lines {
				if err := cmd.Process.Kill(); err != nil {
					t.Fatal(err)
				}
			}
		}
		if err := cmd.Wait(); err == nil {
			t.Fatalf("seed %d, kill %d: the child ended by itself", seed, n)
		}
		o := options(dir)
		o.Safe = pocketBeside(t, dir)
		s := must.Get[*Store](t)(Open(t.Context(), o))
		v, device := s.Vault()
		switch due := must.Get[bool](t)(s.Unsealed(t.Context())); {
		case v == nil:
			before++
		case due:
			halfway++
		default:
			after++
		}
		if v != nil {
			if !device {
				t.Fatalf("seed %d, kill %d: sealing is set up without the secret of the device", seed, n)
			}
			if err := s.Reseal(t.Context(), keepAll); err != nil {
				t.Fatalf("seed %d, kill %d: %v", seed, n, err)
			}
			if where := holding(t, dir, "secret-"); where != "" {
				t.Fatalf("seed %d, kill %d: in the clear in %s", seed, n, where)
			}
			s.Unlock(must.Get[[]sealing.Identity](t)(v.PIN.Open(testPIN, *s.Device())))
		}
		private := map[string]bool{}
		for _, l := range all(t, s) {
			private[l.Event.ID] = strings.HasPrefix(l.Private[timeline.PrivateText], "secret-")
		}
		for _, id := range acknowledged {
			if !private[id] {
				t.Fatalf("seed %d, kill %d: the acknowledged event %s is lost, or its private part is", seed, n, id)
			}
		}
		clean(t, s)
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
	}
	if halfway == 0 || before == 0 || after == 0 {
		t.Fatalf("seed %d: of %d kills %d came before the set-up, %d before all was sealed, %d after", seed, kills, before, halfway, after)
	}
	t.Logf("%d kills: %d before the set-up, %d before all was sealed, %d after; nothing lost, nothing in the clear", kills, before, halfway, after)
}

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
		out := started(t, cmd)
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

// started starts a child, and gives what it says.
func started(t *testing.T, cmd *exec.Cmd) io.Reader {
	t.Helper()
	out := must.Get[io.ReadCloser](t)(cmd.StdoutPipe())
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	return out
}
