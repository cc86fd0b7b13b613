package mobile

import (
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"chinlift/core"
	"chinlift/mobile/ui"
)

// TestSealsOnAPhone: the secret of the phone lies wrapped by its key store, so
// that a PIN can be set; a key store that is closed, or that forgot, takes no
// tap away and shows no name that is over; and what was unlocked locks by
// itself, with nobody asking.
func TestSealsOnAPhone(t *testing.T) {
	const pin = "274916"
	dir := t.TempDir()
	waits, over := make(chan time.Duration, 1), make(chan time.Time)
	d := newDeskLocking(t, dir, func(by time.Duration) <-chan time.Time { waits <- by; return over })
	try := func(path string, fields ...string) ui.Answer {
		t.Helper()
		s := ui.Send{Path: path, Event: core.NewID(), Fields: map[string][]string{}}
		for i := 0; i < len(fields); i += 2 {
			s.Fields[fields[i]] = append(s.Fields[fields[i]], fields[i+1])
		}
		return send(t, d.app, s)
	}
	shows := func(path, text string) bool { return strings.Contains(string(getPage(t, d.app, path).Body), text) }
	nowhere := func(when string) {
		t.Helper()
		for _, folder := range []string{dir, dir + "-kept"} {
			err := filepath.WalkDir(folder, func(path string, e fs.DirEntry, err error) error {
				if err != nil || e.IsDir() {
					return err
				}
				text, err := os.ReadFile(path)
				if strings.Contains(string(text), "Invented") {
					t.Errorf("%s: a name stands in %s", when, path)
				}
				return err
			})
			if err != nil {
				t.Fatal(err)
			}
		}
	}

	closed := func(is bool) {
		d.p.mu.Lock()
		defer d.p.mu.Unlock()
		d.p.locked = is
	}
	closed(true)
	d.do("/sealing/new/setup", "do", "choose", "pin", pin)
	if a := try("/sealing/again/setup", "do", "choose", "pin", pin); a.Problem == nil || a.Problem.Code != "no-safe" {
		t.Errorf("with the key store closed: %+v", a.Problem)
	}
	closed(false)
	d.do("/sealing/new/setup", "do", "choose", "pin", pin)
	d.do("/sealing/again/setup", "do", "choose", "pin", pin)
	if by := <-waits; by != 10*time.Minute {
		t.Errorf("it stays unlocked for %v", by)
	}
	s := newCase()
	s.Fields["name"] = []string{"Invented Person"}
	id := caseOf("/" + send(t, d.app, s).Go)
	d.do("/case/"+id+"/record", "kind", "case-closed")
	if !shows("/case/"+id+"/record", "Invented Person") {
		t.Fatal("the name is not in the record")
	}
	// It sleeps, which locks; two days later the case is locked with the rest.
	rest := func() {
		t.Helper()
		if err := d.app.Suspend(); err != nil {
			t.Fatal(err)
		}
		d.pass(72 * time.Hour)
		if err := d.app.Resume(); err != nil {
			t.Fatal(err)
		}
	}
	rest()
	over <- d.Now().Wall // the wait ends, and finds it locked
	if shows("/case/"+id+"/record", "Invented") || !shows("/case/"+id+"/record", "Locked case") {
		t.Error("a case that is long over is not locked")
	}
	d.do("/sealing/unlock/"+id, "do", "unlock", "pin", pin)
	if <-waits; !shows("/case/"+id+"/record", "Invented Person") {
		t.Error("the PIN does not open it")
	}
	// Ten minutes on nobody asks for a page; what was read is gone all the same.
	hidden := make(chan struct{})
	d.app.opened.Load().companion.WhenHidden(sync.OnceFunc(func() { close(hidden) }))
	d.pass(10 * time.Minute)
	over <- d.Now().Wall
	<-hidden
	if !d.app.opened.Load().companion.Locked() {
		t.Error("it is not locked at its time")
	}

	// A key store that is closed at the start: recording goes on, and nothing is
	// shown; once it is open everything is as it was.
	running := d.asleep()
	d.close()
	nowhere("closed")
	reopen := func(p *phone) { t.Helper(); d = &desk{t: t, p: p, app: openApp(t, dir, p)} }
	shut := newPhone()
	shut.locked = true
	reopen(shut)
	before := d.app.opened.Load().companion.Stored()
	d.do("/case/"+running+"/table", "kind", "mark")
	if d.app.opened.Load().companion.Stored() != before+1 {
		t.Error("with the key store closed a tap does not go in")
	}
	if a := try("/sealing/unlock", "do", "unlock", "pin", pin); a.Problem == nil || a.Problem.Code != "only-paper" {
		t.Errorf("with the key store closed the PIN answers %+v", a.Problem)
	}
	if err := d.app.Close(); err != nil {
		t.Fatal(err)
	}
	reopen(newPhone())
	d.do("/sealing/unlock/"+id, "do", "unlock", "pin", pin)
	if !shows("/case/"+id+"/record", "Invented Person") {
		t.Error("once the key store is open again the PIN opens nothing")
	}
	if !shows("/case/"+running+"/record", `data-kind="mark"`) {
		t.Error("what was recorded meanwhile is not there")
	}
	nowhere("at last")
}
