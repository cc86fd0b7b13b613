//go:build slow

package store

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"testing"

	"chinlift/core/sealing"
	"chinlift/core/timeline"
)

// The slow tests run this test's program a second time, as a child that works
// on a folder until it is killed, or until the system calls that it makes are
// made to fail.
const (
	childTask = "STORE_TEST_TASK"
	childDir  = "STORE_TEST_DIR"
)

func TestMain(m *testing.M) {
	tasks := map[string]func(dir string){"": nil, "append": childAppends, "round": childRound, "phases": childPhases, "seals": childSeals}
	task, ok := tasks[os.Getenv(childTask)]
	switch {
	case !ok:
		panic("no task " + os.Getenv(childTask))
	case task == nil:
		os.Exit(m.Run())
	}
	// Everything that the task itself does happens on this one thread, the
	// main one: strace counts calls thread by thread.
	runtime.LockOSThread()
	task(os.Getenv(childDir))
}

// child makes the command that runs a task, under strace if there are
// arguments for it.
func child(t testing.TB, task, dir string, strace ...string) *exec.Cmd {
	t.Helper()
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	args := []string{self}
	if len(strace) > 0 {
		path, err := exec.LookPath("strace")
		if err != nil {
			t.Fatal("strace is needed and missing; make deps installs it")
		}
		args = append(append([]string{path, "-f", "-qq"}, strace...), self)
	}
	cmd := exec.Command(args[0], args[1:]...)
	cmd.Env = append(os.Environ(), childTask+"="+task, childDir+"="+dir, "GOMAXPROCS=1")
	return cmd
}

// say tells the parent. It does not buffer.
func say(format string, args ...any) {
	if _, err := fmt.Fprintf(os.Stdout, format+"\n", args...); err != nil {
		os.Exit(3)
	}
}

// refusal gives the code under which an error reaches a caller.
func refusal(err error) string {
	var e *Error
	switch {
	case errors.As(err, &e):
		return e.Code
	case errors.Is(err, ErrInUse):
		return "in-use"
	}
	return "WITHOUT-CODE " + strings.ReplaceAll(err.Error(), "\n", " ")
}

// childAppends appends until it is killed, and says each id once it is
// committed.
func childAppends(dir string) {
	ctx := context.Background()
	say("ready")
	s, err := Open(ctx, options(dir))
	if err != nil {
		say("error open %s", refusal(err))
		return
	}
	caseID := newID()
	for n := 0; ; n++ {
		ds := []timeline.Draft{note(caseID, strings.Repeat("x", n%2000))}
		switch n % 10 {
		case 3:
			ds = append(ds, note(caseID, "y"), opened(newID()))
		case 6:
			ds = append(ds, destroy(timeline.ScopeCase, caseID, ds[0].ID))
		case 9:
			if err := s.Checkpoint(ctx); err != nil {
				say("error checkpoint %s", refusal(err))
				return
			}
		}
		ls, err := s.Append(ctx, ds...)
		if err != nil {
			say("error append %s", refusal(err))
			return
		}
		for _, l := range ls {
			say("stored %s", l.Event.ID)
		}
	}
}

// childRound does a little of everything once, and goes on after an error, as
// a hand that taps again would.
func childRound(dir string) {
	ctx := context.Background()
	o := options(dir)
	o.ReserveBytes = 64 << 10
	s, err := Open(ctx, o)
	if err != nil {
		say("error open %s", refusal(err))
		return
	}
	caseID := newID()
	tap := func(ds ...timeline.Draft) []*timeline.Line {
		for range 2 {
			ls, err := s.Append(ctx, ds...)
			if err != nil {
				say("error append %s", refusal(err))
				continue
			}
			for _, l := range ls {
				say("stored %s", l.Event.ID)
			}
			return ls
		}
		return nil
	}
	tap(opened(caseID))
	secret := tap(note(caseID, "Quentin-Invented"), note(caseID, strings.Repeat("x", 6000)))
	if err := s.Checkpoint(ctx); err != nil {
		say("error checkpoint %s", refusal(err))
	}
	tap(note(caseID, "after the checkpoint"))
	if h, err := s.PutBlob(ctx, []byte("a file")); err != nil {
		say("error blob %s", refusal(err))
	} else {
		say("blob %s", h)
	}
	if secret != nil {
		if gone := tap(destroy(timeline.ScopeCase, caseID, secret[0].Event.ID)); gone != nil {
			say("destroyed")
		}
	}
	if _, err := s.Case(ctx, caseID); err != nil {
		say("error case %s", refusal(err))
	}
	say("spent %t", s.Space().Spent)
	if err := s.Close(); err != nil {
		say("error close %s", refusal(err))
	}
	say("end")
}

// mark leaves a mark in the trace.
func mark(format string, args ...any) {
	_, _ = os.Stat("/MARK " + fmt.Sprintf(format, args...)) // is never there
}

// childPhases marks what it does, so that the syncs of each can be counted.
func childPhases(dir string) {
	ctx := context.Background()
	check := func(err error) {
		if err != nil {
			panic(err)
		}
	}
	caseID := newID()
	tap := func(d timeline.Draft) []*timeline.Line {
		ls, err := s(dir).Append(ctx, d)
		check(err)
		return ls
	}
	mark("open a new folder")
	s(dir)
	mark("first append, opens the log")
	tap(opened(caseID))
	for n := range 40 {
		mark("append %d", n)
		tap(note(caseID, strings.Repeat("x", 100*n)))
	}
	mark("reads")
	for range 5 {
		_, err := s(dir).Case(ctx, caseID)
		check(err)
		_, err = s(dir).Recent(ctx, 10, 0)
		check(err)
	}
	mark("retry")
	d := opened(caseID)
	mark("append 40")
	tap(d)
	mark("retry")
	tap(d)
	mark("checkpoint")
	check(s(dir).Checkpoint(ctx))
	mark("first append after a checkpoint")
	secret := tap(note(caseID, "x"))
	for n := range 9 {
		mark("append %d", 41+n)
		tap(note(caseID, "x"))
	}
	mark("destruction, empties the log")
	tap(destroy(timeline.ScopeCase, caseID, secret[0].Event.ID))
	mark("first append after a destruction")
	tap(note(caseID, "x"))
	mark("file")
	_, err := s(dir).PutBlob(ctx, []byte("x"))
	check(err)
	mark("file that is there")
	_, err = s(dir).PutBlob(ctx, []byte("x"))
	check(err)
	mark("set-up of sealing")
	c := setUp(fataler{}, s(dir))
	check(s(dir).Reseal(ctx, keepAll))
	mark("first append of a case after it, makes the key of the case")
	tap(note(caseID, "x"))
	for n := range 20 {
		mark("append %d", 50+n)
		tap(note(caseID, strings.Repeat("x", 100*n)))
	}
	mark("reads")
	s(dir).Unlock([]sealing.Identity{c.id})
	_, err = s(dir).Case(ctx, caseID)
	check(err)
	s(dir).Lock()
	mark("parting from a case")
	check(s(dir).Part(ctx, caseID))
	mark("close")
	check(s(dir).Close())
	mark("end")
}

var phaseStore *Store

func s(dir string) *Store {
	if phaseStore == nil {
		var err error
		o := options(dir)
		o.Safe = newPocket(fataler{})
		if phaseStore, err = Open(context.Background(), o); err != nil {
			panic(err)
		}
	}
	return phaseStore
}

// fataler ends the child where a test would fail.
type fataler struct{}

func (fataler) Helper()                        {}
func (fataler) Fatal(args ...any)              { panic(fmt.Sprint(args...)) }
func (fataler) Fatalf(format string, a ...any) { panic(fmt.Sprintf(format, a...)) }

// pocketBeside is a device's secret in a file beside the data folder, so that
// it outlives the process.
func pocketBeside(t tester, dir string) *pocket {
	path := dir + ".pocket"
	raw, err := os.ReadFile(path)
	if errors.Is(err, os.ErrNotExist) {
		p := newPocket(t)
		if err := os.WriteFile(path, p.key[:], 0o600); err != nil {
			t.Fatal(err)
		}
		return p
	}
	if err != nil || len(raw) != sealing.KeySize {
		t.Fatalf("pocket: %d bytes, %v", len(raw), err)
	}
	return &pocket{sealing.Key(raw)}
}

// childSeals records, sets up sealing, seals what is there, records on and
// parts from what it recorded, until it is killed.
func childSeals(dir string) {
	ctx := context.Background()
	say("ready")
	o := options(dir)
	o.Safe = pocketBeside(fataler{}, dir)
	s, err := Open(ctx, o)
	if err != nil {
		say("error open %s", refusal(err))
		return
	}
	caseID := newID()
	notes := func(n int) bool {
		for i := range n {
			ls, err := s.Append(ctx, note(caseID, "secret-"+strings.Repeat("x", (i*397)%5000)))
			if err != nil {
				say("error append %s", refusal(err))
				return false
			}
			say("stored %s", ls[0].Event.ID)
		}
		return true
	}
	if !notes(25) {
		return
	}
	if v, _ := s.Vault(); v == nil {
		setUp(fataler{}, s)
		say("set-up")
	}
	for {
		if err := s.Reseal(ctx, keepAll); err != nil {
			say("error reseal %s", refusal(err))
			return
		}
		say("sealed")
		if !notes(10) {
			return
		}
		if err := s.Part(ctx, caseID); err != nil {
			say("error part %s", refusal(err))
			return
		}
		say("parted")
	}
}

// told sorts what a child said.
func told(out []byte) (by map[string][]string) {
	by = map[string][]string{}
	sc := bufio.NewScanner(bytes.NewReader(out))
	for sc.Scan() {
		verb, rest, _ := strings.Cut(sc.Text(), " ")
		by[verb] = append(by[verb], rest)
	}
	return by
}

// survived fails unless the folder opens, holds every event that the child
// was told is stored, and is sound.
func survived(t *testing.T, dir string, acknowledged []string, context string) Report {
	t.Helper()
	s, err := Open(t.Context(), options(dir))
	if err != nil {
		t.Fatalf("%s: it does not open again: %v", context, err)
	}
	here := map[string]bool{}
	for _, l := range all(t, s) {
		here[l.Event.ID] = true
	}
	for _, id := range acknowledged {
		if !here[id] {
			t.Fatalf("%s: the acknowledged event %s is lost", context, id)
		}
	}
	r, err := s.Verify(t.Context())
	if err != nil || len(r.Findings) > 0 {
		t.Fatalf("%s: verify: %v, %+v", context, err, r.Findings)
	}
	if err := s.Close(); err != nil {
		t.Fatalf("%s: %v", context, err)
	}
	return r
}

func tracePath(t *testing.T) string { return filepath.Join(t.TempDir(), "trace") }
