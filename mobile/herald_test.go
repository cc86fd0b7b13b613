package mobile

import (
	"fmt"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"chinlift/core"
	"chinlift/mobile/ui"
)

// desk is a phone whose time goes by hand: wall clock, clock since boot, and
// whatever waits for a time to pass. The herald looks only when take lets it.
type desk struct {
	t   *testing.T
	app *App
	p   *phone

	idle, permit, over chan struct{}
	end                sync.Once

	mu    sync.Mutex
	wall  time.Time
	heard []string
	last  *Notice
	angry bool // every call of the Watcher panics

	locks func(time.Duration) <-chan time.Time // may be nil
}

func (d *desk) Now() core.Reading {
	d.mu.Lock()
	defer d.mu.Unlock()
	return core.Reading{Wall: d.wall}
}

// Changed, Due and Recorded make it the Watcher.
func (d *desk) Changed(n *Notice) {
	d.hear(fmt.Sprintf("changed %d", n.Alarms()), n)
}

func (d *desk) Due(a *Alarm) {
	d.hear(fmt.Sprintf("due %s at %d sound %v buzz %v", a.Words, (a.At-d.Now().Wall.UnixMilli())/1000, a.Sound, a.Buzz), nil)
}

func (d *desk) Recorded() { d.hear("recorded", nil) }

func (d *desk) hear(what string, n *Notice) {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.heard = append(d.heard, what)
	if n != nil {
		d.last = n
	}
	if d.angry {
		panic("the shell threw")
	}
}

// after is called when the herald has looked.
func (d *desk) after(time.Duration) <-chan time.Time {
	select {
	case d.idle <- struct{}{}:
	case <-d.over:
		return nil
	}
	select {
	case <-d.permit:
	case <-d.over:
		return nil
	}
	passed := make(chan time.Time)
	close(passed)
	return passed
}

// take has the herald look once, and gives what was heard.
func (d *desk) take() []string {
	d.t.Helper()
	d.permit <- struct{}{}
	<-d.idle
	d.mu.Lock()
	defer d.mu.Unlock()
	all := d.heard
	d.heard = nil
	return all
}

func (d *desk) pass(by time.Duration) {
	d.mu.Lock()
	d.wall = d.wall.Add(by)
	d.mu.Unlock()
	d.p.mu.Lock()
	d.p.since += by.Milliseconds()
	d.p.mu.Unlock()
}

func (d *desk) hears(want ...string) {
	d.t.Helper()
	if got := d.take(); !slices.Equal(got, want) {
		d.t.Errorf("heard %q, want %q", got, want)
	}
}

func newDesk(t *testing.T, dir string) *desk {
	t.Helper()
	return newDeskLocking(t, dir, nil)
}

// newDeskLocking is one on which what was unlocked waits so for its end.
func newDeskLocking(t *testing.T, dir string, locks func(time.Duration) <-chan time.Time) *desk {
	t.Helper()
	d := &desk{locks: locks, t: t, p: newPhone(), idle: make(chan struct{}), permit: make(chan struct{}), over: make(chan struct{}), wall: time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC)}
	app, err := openBy(timing{d, d.after, d.locks}, dir, dir+"-kept", d.p)
	if err != nil {
		t.Fatal(err)
	}
	d.app = app
	<-d.idle
	t.Cleanup(d.close)
	return d
}

func (d *desk) close() {
	d.end.Do(func() { close(d.over) }) // the herald waits for nobody then
	if err := d.app.Close(); err != nil {
		d.t.Error(err)
	}
}

// do taps on a page of a case.
func (d *desk) do(path string, fields ...string) ui.Answer {
	d.t.Helper()
	s := ui.Send{Path: path, Event: core.NewID(), Case: caseOf(path), Fields: map[string][]string{}}
	for i := 0; i < len(fields); i += 2 {
		s.Fields[fields[i]] = append(s.Fields[fields[i]], fields[i+1])
	}
	a := send(d.t, d.app, s)
	if a.Problem != nil {
		d.t.Fatalf("%s %v: %+v", path, fields, a.Problem)
	}
	return a
}

// asleep opens a case and brings the patient to the table and to sleep.
func (d *desk) asleep() (id string) {
	d.t.Helper()
	a := send(d.t, d.app, newCase())
	if a.Problem != nil {
		d.t.Fatalf("%+v", a.Problem)
	}
	id = caseOf("/" + a.Go)
	for _, phase := range []string{"patient-in", "anaesthesia-start"} {
		d.do("/case/"+id+"/table", "kind", "phase", "phase", phase)
	}
	return id
}

func (d *desk) vitals(id string) {
	d.t.Helper()
	d.do("/case/"+id+"/table/vitals", "kind", "vitals", "systolic", "110", "diastolic", "70", "pulse", "80")
}

func TestWhatTheShellIsTold(t *testing.T) {
	d := newDesk(t, t.TempDir())
	if err := d.app.Watch(d); err != nil {
		t.Fatal(err)
	}
	d.hears("changed 0")
	if n := d.last; n.ScreenOn || n.MarkKey || n.Path != "/" || n.Stored != 0 {
		t.Errorf("with nothing stored: %+v", n)
	}
	d.hears() // nothing changed
	id := d.asleep()
	got := d.take()
	if !slices.Contains(got, "recorded") || got[len(got)-1] != "changed 5" {
		t.Errorf("heard %q", got)
	}
	n := d.last
	if !n.ScreenOn || n.Path != "/case/"+id+"/table" || n.Stored == 0 || n.MarkKey {
		t.Errorf("with a patient asleep: %+v", n)
	}
	// Pressure and pulse are due five minutes on, and then each minute.
	start := d.Now().Wall
	for i := range n.Alarms() {
		a := n.Alarm(i)
		in := time.Duration(5+i) * time.Minute
		if a.At != start.Add(in).UnixMilli() || a.SinceBoot != 3600_000+in.Milliseconds() || a.Path != n.Path || !a.Sound || !a.Buzz ||
			!strings.HasSuffix(a.Name, fmt.Sprintf("vitals.%d", i)) || a.Words == "" || strings.Contains(a.Words, "Invented") {
			t.Errorf("alarm %d: %+v", i, a)
		}
	}
	if n.Alarm(-1) != nil || n.Alarm(n.Alarms()) != nil {
		t.Error("alarms beyond the last")
	}
	words := n.Alarm(0).Words

	d.pass(4 * time.Minute)
	d.hears()
	d.pass(time.Minute)
	d.hears("changed 5", "due "+words+" at 0 sound true buzz true")
	d.hears()
	d.pass(59 * time.Second)
	d.hears()
	d.pass(time.Second)
	d.hears("changed 5", "due "+words+" at 0 sound true buzz true")
	// A look answers it.
	d.vitals(id)
	d.hears("recorded", "changed 5")
	if a := d.last.Alarm(0); a.At != d.Now().Wall.Add(5*time.Minute).UnixMilli() || !strings.HasSuffix(a.Name, "vitals.0") {
		t.Errorf("after a look the next is %+v", a)
	}
	d.do("/settings", "do", "due-sound", "value", "no")
	d.hears("recorded", "changed 5")
	if a := d.last.Alarm(0); a.Sound || !a.Buzz {
		t.Errorf("without sound: %+v", a)
	}
	// Where the clinic has no motor run, a tap is recorded without its tick.
	d.do("/settings", "do", "due-buzz", "value", "no")
	d.hears("changed 5")
	d.vitals(id)
	d.hears("changed 5")
	d.do("/settings", "do", "due-buzz", "value", "yes")
	d.hears("recorded", "changed 5")
	// A clock that is set back does not silence it.
	d.mu.Lock()
	d.wall = d.wall.Add(-time.Minute)
	d.mu.Unlock()
	d.take()
	d.pass(6 * time.Minute)
	d.hears("changed 5", "due "+words+" at 0 sound false buzz true")

	// Away, it is told once more and then no longer; the phone's alarms do it.
	if err := d.app.Suspend(); err != nil {
		t.Fatal(err)
	}
	d.hears("changed 5")
	d.pass(2 * time.Minute)
	d.hears()
	if err := d.app.Suspend(); err != nil {
		t.Errorf("a second time: %v", err)
	}
	d.hears()
	if err := d.app.Resume(); err != nil {
		t.Fatal(err)
	}
	// What came due meanwhile was told by an alarm.
	d.hears("changed 5")
	d.pass(time.Minute)
	d.hears("changed 5", "due "+words+" at 0 sound false buzz true")

	// A second patient: the words say which case, and name nobody.
	other := send(t, d.app, func() ui.Send {
		s := newCase()
		s.Fields[core.WatchField(id)] = []string{"nurse"}
		return s
	}())
	if other.Problem != nil {
		t.Fatalf("%+v", other.Problem)
	}
	d.take()
	if a := d.last.Alarm(0); !strings.HasPrefix(a.Words, core.ShortCase(id)+": ") || d.last.Path != "/case/"+id+"/table" {
		t.Errorf("with two cases: %+v, %+v", a, d.last)
	}
	// A Watcher that throws is left alone, and the next hears everything.
	d.mu.Lock()
	d.angry = true
	d.mu.Unlock()
	d.vitals(id)
	d.take()
	d.mu.Lock()
	d.angry = false
	d.mu.Unlock()
	if err := d.app.Watch(d); err != nil {
		t.Fatal(err)
	}
	if got := d.take(); len(got) == 0 || got[len(got)-1] != "changed 5" {
		t.Errorf("after a Watcher that threw: %q", got)
	}
	// Once the patient is handed over nothing is due.
	for _, phase := range []string{"anaesthesia-end", "handed-over"} {
		d.do("/case/"+id+"/table", "kind", "phase", "phase", phase)
	}
	d.take()
	if n := d.last; n.ScreenOn || n.Path != "/" || n.Alarms() != 0 {
		t.Errorf("handed over: %+v", n)
	}
	if err := d.app.Watch(nil); err != nil {
		t.Fatal(err)
	}
	d.pass(time.Hour)
	d.hears()
}

func TestMark(t *testing.T) {
	d := newDesk(t, t.TempDir())
	marks := func(id string) int {
		return strings.Count(string(getPage(t, d.app, "/case/"+id+"/record").Body), `data-kind="mark"`)
	}
	if err := d.app.Mark("/today"); err == nil || !strings.Contains(err.Error(), "No patient") {
		t.Errorf("without a case: %v", err)
	}
	one := d.asleep()
	for _, path := range []string{"/case/" + one + "/table", "/today", "", "/case/" + core.NewID() + "/table"} {
		if err := d.app.Mark(path); err != nil {
			t.Errorf("%q: %v", path, err)
		}
	}
	if n := marks(one); n != 4 {
		t.Errorf("%d marks, want 4", n)
	}
	s := newCase()
	s.Fields[core.WatchField(one)] = []string{"nurse"}
	two := caseOf("/" + send(t, d.app, s).Go)
	if err := d.app.Mark("/case/" + two + "/visit"); err != nil || marks(two) != 0 || marks(one) != 5 {
		t.Errorf("a patient who is not here yet: %v; %d and %d marks", err, marks(two), marks(one))
	}
	d.do("/case/"+two+"/table", "kind", "phase", "phase", "patient-in")
	if err := d.app.Mark("/today"); err == nil || !strings.Contains(err.Error(), "Two patients") {
		t.Errorf("with two patients: %v", err)
	}
	if err := d.app.Mark("/case/" + two + "/table?layer=1"); err != nil || marks(two) != 1 || marks(one) != 5 {
		t.Errorf("on the page of one of them: %v; %d and %d marks", err, marks(two), marks(one))
	}
	// The shell knows when the key is to mark.
	if err := d.app.Watch(d); err != nil {
		t.Fatal(err)
	}
	d.take()
	if d.last.MarkKey {
		t.Error("the key marks though nobody chose that")
	}
	d.do("/settings", "do", "mark-key", "value", "yes")
	d.take()
	if !d.last.MarkKey {
		t.Error("the key does not mark though somebody chose that")
	}
}

// What the phone's clock, boot and zone became while it slept is in what is
// recorded after it.
func TestResumeReadsTheClockAnew(t *testing.T) {
	d := newDesk(t, t.TempDir())
	id := d.asleep()
	if err := d.app.Suspend(); err != nil {
		t.Fatal(err)
	}
	d.p.mu.Lock()
	d.p.boot, d.p.since, d.p.zone, d.p.offset = "boot-2", 5000, "Etc/GMT-5", 5*3600
	d.p.mu.Unlock()
	if err := d.app.Resume(); err != nil {
		t.Fatal(err)
	}
	d.vitals(id)
	lines, err := d.app.opened.Load().companion.Closure(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	last := lines[len(lines)-1].Event
	if e := last.Entered; e.Boot != "boot-2" || e.SinceBootMS != 5000 || !strings.HasSuffix(last.At.String(), "+05:00[Etc/GMT-5]") {
		t.Errorf("entered %+v at %s", e, last.At)
	}
}

func TestBatteryIsTold(t *testing.T) {
	d := newDesk(t, t.TempDir())
	id := d.asleep()
	for _, tt := range []struct {
		percent  int
		charging bool
		told     bool
	}{{80, false, false}, {21, false, false}, {20, false, true}, {0, false, true}, {5, true, false}, {-1, false, false}} {
		d.p.mu.Lock()
		d.p.battery, d.p.charging = tt.percent, tt.charging
		d.p.mu.Unlock()
		for _, path := range []string{"/today", "/case/" + id + "/table"} {
			if told := strings.Contains(string(getPage(t, d.app, path).Body), "connect the charger"); told != tt.told {
				t.Errorf("%s at %d %%, charging %v: told %v", path, tt.percent, tt.charging, told)
			}
		}
	}
}

// On a phone what is due is told by the shell: a page that did it too would do
// it twice.
func TestPagesAreSilent(t *testing.T) {
	d := newDesk(t, t.TempDir())
	id := d.asleep()
	for _, path := range []string{"/case/" + id + "/table", "/case/" + id + "/waking"} {
		if body := string(getPage(t, d.app, path).Body); strings.Contains(body, "data-buzz") || strings.Contains(body, "data-sound") {
			t.Errorf("%s sounds by itself", path)
		}
	}
}
