package outbox

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"chinlift/core"
	"chinlift/core/must"
	"chinlift/core/quantity"
	"chinlift/core/store"
	"chinlift/core/term"
	"chinlift/core/timeline"
	"chinlift/core/word"
	"chinlift/sync/carrier"
	"chinlift/sync/plain"
)

type fakeClock struct{ wall time.Time }

func (f *fakeClock) Now() core.Reading {
	return core.Reading{Wall: f.wall, Zone: "Etc/UTC", SinceBoot: time.Hour, Boot: "boot"}
}

// noon is an invented moment.
var noon = time.Date(2026, 3, 2, 12, 0, 0, 0, time.UTC)

// device is one companion with its outbox and a clock that the test sets.
type device struct {
	*core.Companion
	clock *fakeClock
	box   *Outbox
	dir   string
}

func open(t testing.TB, dir string) *device {
	t.Helper()
	return openAs(t, dir, "here")
}

// openAs is open on this installation.
func openAs(t testing.TB, dir, installation string) *device {
	t.Helper()
	clock := &fakeClock{noon}
	c := must.Get[*core.Companion](t)(core.Open(t.Context(), core.Options{Dir: dir, Installation: installation, Clock: clock, Words: word.English()}))
	t.Cleanup(func() { c.Close() })
	d := &device{Companion: c, clock: clock, dir: dir}
	random := rand.New(rand.NewPCG(1, 2))
	d.box = &Outbox{Table: c.Outgoing(), Blob: c.Blob, Now: func() time.Time { return clock.wall }, Rand: random.Float64}
	return d
}

// record writes cases of a few lines each, with private parts.
func (d *device) record(t testing.TB, cases int) (ids []string) {
	t.Helper()
	for range cases {
		id, _, err := d.OpenCase(t.Context(), core.Form{ID: core.NewID(), Fields: map[string][]string{"name": {"Invented Person"}, "age": {"34"}, "age_unit": {"a"}}})
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range []core.Form{
			{Kind: "vitals", Fields: map[string][]string{"pulse": {"92"}}},
			{Kind: "note", Fields: map[string][]string{"text": {"an invented note"}}},
		} {
			f.ID, f.Case = core.NewID(), id
			must.Get[core.Done](t)(d.Submit(t.Context(), f))
		}
		ids = append(ids, id)
	}
	return ids
}

// lines gives everything that a device holds, as it stands in a file.
func (d *device) lines(t testing.TB, private bool) (all []string) {
	t.Helper()
	if err := d.All(t.Context(), func(l *timeline.Line) error { all = append(all, string(l.Bytes(private))); return nil }); err != nil {
		t.Fatal(err)
	}
	slices.Sort(all)
	return all
}

func (d *device) run(t testing.TB, to Destination, byHand bool) Result {
	t.Helper()
	return must.Get[Result](t)(d.box.Run(t.Context(), to, byHand))
}

// memory is a destination that holds everything, counts, and fails as told.
type memory struct {
	mu      sync.Mutex
	objects map[string][]byte
	puts    int
	gets    int
	bytes   int
	put     func(name string) error // before anything is stored
	after   func(name string) error // when it is stored
	get     func(name string, b []byte) ([]byte, error)
}

func (m *memory) Put(_ context.Context, name string, data []byte) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.puts++
	m.bytes += len(data) + len(name)
	if m.put != nil {
		if err := m.put(name); err != nil {
			return err
		}
	}
	if _, ok := m.objects[name]; ok {
		return &carrier.Error{Code: carrier.CodeExists, Op: "put", Name: name}
	}
	if m.objects == nil {
		m.objects = map[string][]byte{}
	}
	m.objects[name] = bytes.Clone(data)
	if m.after != nil {
		return m.after(name)
	}
	return nil
}

func (m *memory) Get(_ context.Context, name string, _ int64) ([]byte, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.gets++
	data, ok := m.objects[name]
	if m.get != nil {
		return m.get(name, data)
	}
	if !ok {
		return nil, &carrier.Error{Code: carrier.CodeNotFound, Op: "get", Name: name}
	}
	m.bytes += len(data) + len(name)
	return bytes.Clone(data), nil
}

func (m *memory) Stat(_ context.Context, name string) (carrier.Info, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	data, ok := m.objects[name]
	if !ok {
		return carrier.Info{}, &carrier.Error{Code: carrier.CodeNotFound, Op: "stat", Name: name}
	}
	return carrier.Info{Name: name, Bytes: int64(len(data))}, nil
}

func (m *memory) List(_ context.Context, yield func(carrier.Info) error) error {
	for name, data := range m.objects {
		if err := yield(carrier.Info{Name: name, Bytes: int64(len(data))}); err != nil {
			return err
		}
	}
	return nil
}

// arrived gives the lines of all segments at a destination, each once, and
// fails where a segment is not what its name says.
func (m *memory) arrived(t testing.TB) (all []string) {
	t.Helper()
	for name, data := range m.objects {
		sum := string(store.Sum(data))
		switch {
		case strings.HasPrefix(name, "segments/"):
			if !strings.Contains(name, sum) {
				t.Errorf("%s is not what its name says", name)
			}
			for l, err := range plain.ReadLines(bytes.NewReader(data)) {
				if err != nil {
					t.Fatalf("%s: %v", name, err)
				}
				if err := l.Verify(); err != nil {
					t.Errorf("%s: %v", name, err)
				}
				all = append(all, string(l.Bytes(true)))
			}
		case name != "blobs/"+sum:
			t.Errorf("%s is not what its name says", name)
		}
	}
	slices.Sort(all)
	return slices.Compact(all)
}

func fail(code carrier.Code) error { return &carrier.Error{Code: code, Op: "test"} }

func (d *device) standing(t testing.TB, name string) store.Standing {
	t.Helper()
	return must.Get[store.Standing](t)(d.box.Table.Standing(t.Context(), name))
}

// TestOutAndGathered: what is recorded reaches a folder in every form, and
// what was gathered from there is what was recorded.
func TestOutAndGathered(t *testing.T) {
	k := must.Get[plain.Key](t)(plain.NewKey())
	seal := must.Get[plain.Seal](t)(plain.SealFor(k.Recipient()))
	keys := must.Get[plain.Unseal](t)(plain.Unseal{}.With(strings.NewReader(k.Secret())))
	for name, to := range map[string]Destination{
		"private": {Private: true}, "without": {}, "sealed": {Private: true, Seal: seal}, "sealed without": {Seal: seal},
	} {
		t.Run(name, func(t *testing.T) {
			d := open(t, t.TempDir())
			d.record(t, 5)
			blob := must.Get[timeline.Hash](t)(d.KeepBlob(t.Context(), []byte("an invented list")))
			must.Get[core.Done](t)(d.Record(t.Context(), core.Tap{ID: core.NewID(), Scope: timeline.ScopeClinic, About: string(term.SettingListFile),
				Payload: &timeline.ClinicSetting{Setting: term.SettingListFile, File: "invented.toml", Blob: blob}}))
			root := t.TempDir()
			to.Name, to.Carrier = "stick", carrier.Folder{Root: root}
			if s := d.standing(t, "stick"); s.Lines != d.Stored() {
				t.Errorf("before the first run %d lines are not confirmed, of %d", s.Lines, d.Stored())
			}
			if r := d.run(t, to, false); r.Confirmed != r.Cut || r.Cut < 2 || r.Stopped != "" {
				t.Errorf("%+v", r)
			}
			if s := d.standing(t, "stick"); s.Lines != 0 || s.Waiting+s.Sent+s.Refused != 0 || s.Finished < 2 {
				t.Errorf("afterwards: %+v", s)
			}
			if left := must.Get[[]os.DirEntry](t)(os.ReadDir(filepath.Join(d.dir, "outbox"))); len(left) != 0 {
				t.Errorf("%d parcels are kept that were confirmed", len(left))
			}
			found := must.Get[plain.Found](t)(plain.Find([]string{root}))
			if len(found.Lines) == 0 || len(found.Blobs) != 1 {
				t.Fatalf("found %+v", found)
			}
			other := open(t, t.TempDir())
			for _, f := range found.Blobs {
				if err := plain.GatherBlob(t.Context(), f, keys, other.Companion); err != nil {
					t.Error(err)
				}
			}
			for _, f := range found.Lines {
				g := must.Get[plain.Gathered](t)(plain.GatherLines(t.Context(), f, keys, other.Companion))
				if g.Err != nil || g.Faults > 0 {
					t.Errorf("%+v", g)
				}
			}
			if got, want := other.lines(t, true), d.lines(t, to.Private); !slices.Equal(got, want) {
				t.Errorf("%d lines were gathered of %d", len(got), len(want))
			}
			if r := must.Get[store.Report](t)(other.Verify(t.Context())); len(r.Findings) > 0 || r.Continuity != store.ContinuityWhole {
				t.Errorf("%+v", r)
			}
			if got := must.Get[[]byte](t)(other.Blob(blob)); string(got) != "an invented list" {
				t.Errorf("the blob: %q", got)
			}
			// Names hold nothing; what is sealed cannot be read.
			for _, f := range append(found.Lines, found.Blobs...) {
				data := must.Get[[]byte](t)(os.ReadFile(f))
				if strings.Contains(f, "Invented") || (!to.Seal.IsZero() || !to.Private) && bytes.Contains(data, []byte("Invented Person")) {
					t.Errorf("%s gives away a name", f)
				}
			}
		})
	}
}

// TestCarriesOnlyWhatIsNew counts the bytes for one more case.
func TestCarriesOnlyWhatIsNew(t *testing.T) {
	carried := map[int]int{}
	for _, cases := range []int{10, 1000} {
		d := open(t, t.TempDir())
		fill(t, d, cases)
		m := &memory{}
		to := Destination{Name: "x", Carrier: m, Private: true}
		for range 2 {
			d.run(t, to, false)
		}
		before, puts := m.bytes, m.puts
		if d.run(t, to, false); m.bytes != before {
			t.Errorf("with nothing new %d bytes went", m.bytes-before)
		}
		d.record(t, 1)
		if r := d.run(t, to, false); r.Confirmed != 1 || m.puts != puts+1 {
			t.Errorf("%+v, %d puts", r, m.puts-puts)
		}
		carried[cases] = m.bytes - before
		if got, want := m.arrived(t), d.lines(t, true); !slices.Equal(got, want) {
			t.Errorf("%d lines arrived of %d", len(got), len(want))
		}
	}
	t.Logf("for one more case: %v bytes, by cases stored", carried)
	if ratio := float64(carried[1000]) / float64(carried[10]); ratio > 1.1 || ratio < 0.9 {
		t.Errorf("the ratio is %.2f", ratio)
	}
}

// fill takes in cases of another device: a log of its own.
func fill(t testing.TB, d *device, cases int) {
	t.Helper()
	const log, author = "019c0000-0000-7002-8000-000000000001", "019c0000-0000-7004-8000-000000000001"
	at := timeline.MomentOf(noon, "")
	prev := timeline.NoHash
	var lines []*timeline.Line
	for seq := range int64(cases) * 3 {
		dr := timeline.Draft{ID: core.NewID(), Scope: timeline.ScopeCase, About: fmt.Sprintf("019c0000-0000-7003-8000-%012x", seq/3), At: at, Author: author,
			Entered: timeline.Entered{Wall: at}, Payload: &timeline.Vitals{Measures: timeline.Measures{Pulse: quantity.MustParse("80 /min")}}}
		if seq%3 == 2 {
			dr.Payload, dr.Private = &timeline.Note{}, timeline.Private{timeline.PrivateText: "an invented note"}
		}
		l := must.Get[timeline.Line](t)(dr.Seal(log, seq+1, seq+1, prev))
		prev, lines = l.H, append(lines, &l)
	}
	must.Get[store.Merged](t)(d.Merge(t.Context(), lines))
}

// TestPrivatePartThatComesLater is carried although its line is there.
func TestPrivatePartThatComesLater(t *testing.T) {
	from, d := open(t, t.TempDir()), open(t, t.TempDir())
	from.record(t, 3)
	take := func(private bool) {
		var lines []*timeline.Line
		if err := from.All(t.Context(), func(l *timeline.Line) error {
			one := *l
			if !private {
				one = one.WithoutPrivate()
			}
			lines = append(lines, &one)
			return nil
		}); err != nil {
			t.Fatal(err)
		}
		must.Get[store.Merged](t)(d.Merge(t.Context(), lines))
	}
	m := &memory{}
	to := Destination{Name: "x", Carrier: m, Private: true}
	take(false)
	d.run(t, to, false)
	first := m.arrived(t)
	take(true)
	if r := d.run(t, to, false); r.Confirmed == 0 {
		t.Error("nothing went")
	}
	got := m.arrived(t)
	for _, l := range d.lines(t, true) {
		if !slices.Contains(got, l) {
			t.Errorf("not there: %.80s", l)
		}
	}
	if len(got) <= len(first) {
		t.Errorf("%d lines, then %d", len(first), len(got))
	}
	before := m.puts
	if d.run(t, to, false); m.puts != before {
		t.Error("it goes again and again")
	}
}

// TestDestroyedDoesNotLeave: a private part that was destroyed before it left
// is in no parcel any more, nor on the disk.
func TestDestroyedDoesNotLeave(t *testing.T) {
	d := open(t, t.TempDir())
	ids := d.record(t, 2)
	m := &memory{put: func(string) error { return fail(carrier.CodeOffline) }}
	to := Destination{Name: "x", Carrier: m, Private: true}
	if r := d.run(t, to, false); r.Stopped != carrier.CodeOffline {
		t.Fatalf("%+v", r)
	}
	held := func() (n int) {
		for _, e := range must.Get[[]os.DirEntry](t)(os.ReadDir(filepath.Join(d.dir, "outbox"))) {
			n += bytes.Count(must.Get[[]byte](t)(os.ReadFile(filepath.Join(d.dir, "outbox", e.Name()))), []byte("an invented note"))
		}
		return n
	}
	if held() != 2 {
		t.Fatalf("%d notes wait", held())
	}
	var doomed []string
	if err := d.All(t.Context(), func(l *timeline.Line) error {
		if l.P != nil {
			doomed = append(doomed, l.Event.ID)
		}
		return nil
	}); err != nil {
		t.Fatal(err)
	}
	must.Get[core.Done](t)(d.Record(t.Context(), core.Tap{ID: core.NewID(), Scope: timeline.ScopeCase, About: ids[0], Payload: &timeline.IdentityDestroyed{Events: doomed, Grounds: term.GroundsList.Codes()[0]}}))
	m.put = nil
	d.run(t, to, true)
	for name, data := range m.objects {
		if bytes.Contains(data, []byte("an invented note")) || bytes.Contains(data, []byte("Invented Person")) {
			t.Errorf("%s holds what was destroyed", name)
		}
	}
	if held() != 0 {
		t.Error("the disk still holds it")
	}
	if got, want := m.arrived(t), d.lines(t, true); !slices.Equal(got, want) {
		t.Errorf("%d lines arrived of %d", len(got), len(want))
	}
}

// TestWaits: a failure is tried again later and later, with jitter; a refusal
// is not tried again until somebody asks.
func TestWaits(t *testing.T) {
	d := open(t, t.TempDir())
	d.record(t, 1)
	m := &memory{put: func(string) error { return fail(carrier.CodeBusy) }}
	to := Destination{Name: "x", Carrier: m}
	var waits []time.Duration
	for range 12 {
		before := m.puts
		if r := d.run(t, to, false); r.Stopped != carrier.CodeBusy || m.puts != before+1 {
			t.Fatalf("%+v, %d puts", r, m.puts-before)
		}
		p := must.Get[[]store.Parcel](t)(d.box.Table.Open(t.Context(), "x"))[0]
		if p.State != store.ParcelWaiting || p.Why != "busy" {
			t.Fatalf("%+v", p)
		}
		wait := time.UnixMilli(p.Next).Sub(d.clock.wall)
		waits = append(waits, wait)
		d.clock.wall = d.clock.wall.Add(wait - time.Second)
		if r := d.run(t, to, false); !r.Wait || m.puts != before+1 {
			t.Fatalf("a second too early: %+v", r)
		}
		d.clock.wall = d.clock.wall.Add(time.Second)
	}
	for i, w := range waits {
		full := min(firstWait<<i, longWait)
		if w < full/2 || w > full {
			t.Errorf("wait %d is %s, want %s to %s", i+1, w, full/2, full)
		}
	}
	if slices.Compact(slices.Clone(waits[8:]))[0] == waits[9] && waits[9] == waits[10] {
		t.Errorf("no jitter: %v", waits)
	}
	// By hand it goes at once.
	before := m.puts
	if d.run(t, to, true); m.puts != before+1 {
		t.Error("by hand nothing was tried")
	}
	m.put = func(string) error { return fail(carrier.CodeRefused) }
	d.clock.wall = d.clock.wall.Add(2 * longWait)
	d.run(t, to, false)
	if s := d.standing(t, "x"); s.Refused != 1 || s.Why != "refused" || s.Lines == 0 {
		t.Errorf("%+v", s)
	}
	before = m.puts
	for range 5 {
		d.clock.wall = d.clock.wall.Add(24 * time.Hour)
		if r := d.run(t, to, false); r.Stopped != carrier.CodeRefused {
			t.Errorf("%+v", r)
		}
	}
	if m.puts != before {
		t.Errorf("what was refused was tried %d times more", m.puts-before)
	}
	m.put = nil
	if r := d.run(t, to, true); r.Confirmed != 1 {
		t.Errorf("by hand, after it was mended: %+v", r)
	}
}

// One object that is not taken does not keep the others.
func TestOneTooLarge(t *testing.T) {
	d := open(t, t.TempDir())
	fill(t, d, 400) // several segments
	first := ""
	m := &memory{}
	m.put = func(name string) error {
		if first == "" || name == first {
			first = name
			return fail(carrier.CodeTooLarge)
		}
		return nil
	}
	r := d.run(t, Destination{Name: "x", Carrier: m}, false)
	if s := d.standing(t, "x"); r.Stopped != "" || r.Confirmed != r.Cut-1 || r.Cut < 3 || s.Refused != 1 {
		t.Errorf("%+v, %+v", r, s)
	}
}

// TestClockJumps: a clock that goes back, or was far ahead, holds nothing up.
func TestClockJumps(t *testing.T) {
	for name, jump := range map[string]time.Duration{"back": -365 * 24 * time.Hour, "a little back": -time.Minute, "ahead": 365 * 24 * time.Hour} {
		t.Run(name, func(t *testing.T) {
			d := open(t, t.TempDir())
			d.record(t, 1)
			m := &memory{put: func(string) error { return fail(carrier.CodeOffline) }}
			to := Destination{Name: "x", Carrier: m}
			d.run(t, to, false)
			m.put = nil
			d.clock.wall = d.clock.wall.Add(jump)
			if r := d.run(t, to, false); r.Confirmed != 1 {
				t.Errorf("%+v", r)
			}
		})
	}
	// It was a year ahead when the wait was set, and is right now: the wait
	// that it left behind is longer than any that is ever set.
	d := open(t, t.TempDir())
	d.record(t, 1)
	m := &memory{put: func(string) error { return fail(carrier.CodeOffline) }}
	d.clock.wall = noon.Add(365 * 24 * time.Hour)
	d.run(t, Destination{Name: "x", Carrier: m}, false)
	m.put = nil
	d.clock.wall = noon
	if r := d.run(t, Destination{Name: "x", Carrier: m}, false); r.Confirmed != 1 {
		t.Errorf("%+v", r)
	}
}

// TestNeverFalselyConfirmed: somebody says that all is well, and it is not.
func TestNeverFalselyConfirmed(t *testing.T) {
	page := []byte("<!doctype html><title>Welcome</title>")
	for name, m := range map[string]*memory{
		"takes and has nothing": {get: func(name string, _ []byte) ([]byte, error) { return nil, fail(carrier.CodeNotFound) }},
		"answers with a page":   {get: func(string, []byte) ([]byte, error) { return page, nil }},
		"one byte is another": {get: func(_ string, b []byte) ([]byte, error) {
			b = bytes.Clone(b)
			if len(b) > 0 {
				b[len(b)/2] ^= 1
			}
			return b, nil
		}},
		"half of it":   {get: func(_ string, b []byte) ([]byte, error) { return b[:len(b)/2], nil }},
		"more of it":   {get: func(_ string, b []byte) ([]byte, error) { return append(bytes.Clone(b), '\n'), nil }},
		"nothing":      {get: func(string, []byte) ([]byte, error) { return nil, nil }},
		"a login page": {put: func(string) error { return fail(carrier.CodeForeign) }},
	} {
		t.Run(name, func(t *testing.T) {
			d := open(t, t.TempDir())
			d.record(t, 1)
			to := Destination{Name: "x", Carrier: m, Private: true}
			for range 8 {
				if r := d.run(t, to, true); r.Confirmed != 0 || r.Stopped == "" && name != "takes and has nothing" {
					t.Fatalf("%+v", r)
				}
			}
			if s := d.standing(t, "x"); s.Lines != d.Stored() || s.Finished != 0 {
				t.Errorf("%+v", s)
			}
			// The network is itself again.
			m.get, m.put = nil, nil
			if r := d.run(t, to, true); r.Confirmed != 1 {
				t.Errorf("%+v", r)
			}
			if got, want := m.arrived(t), d.lines(t, true); !slices.Equal(got, want) {
				t.Errorf("%d lines arrived of %d", len(got), len(want))
			}
		})
	}
}

// What lies under a name and is none of ours stays, and the parcel goes under
// a further name.
func TestTakenName(t *testing.T) {
	d := open(t, t.TempDir())
	d.record(t, 1)
	m := &memory{put: func(string) error { return fail(carrier.CodeOffline) }}
	to := Destination{Name: "x", Carrier: m}
	d.run(t, to, true)
	name := must.Get[[]store.Parcel](t)(d.box.Table.Open(t.Context(), "x"))[0].Name
	m.put, m.objects = nil, map[string][]byte{name: []byte("half")}
	for range lookAgain + 1 {
		d.run(t, to, true)
	}
	if s := d.standing(t, "x"); s.Finished != 1 || s.Lines != 0 {
		t.Fatalf("%+v", s)
	}
	if string(m.objects[name]) != "half" || len(m.objects) != 2 {
		t.Errorf("what was there was changed: %d objects", len(m.objects))
	}
}

func TestFurther(t *testing.T) {
	for in, want := range map[string]string{"a/b.jsonl": "a/b_2.jsonl", "a/b.jsonl.age": "a/b_2.jsonl.age", "a/b_2.jsonl": "a/b_2.jsonl", "blobs/ab": "blobs/ab_2", "blobs/ab.cd.age": "blobs/ab.cd_2.age"} {
		if got := further(in, 2); got != want {
			t.Errorf("%s: %s, want %s", in, got, want)
		}
		if first := further(want, 1); further(first, 2) != want || strings.Contains(first, "_") {
			t.Errorf("%s is a further name of %s", want, first)
		}
	}
}

// TestFull: a destination without room is tried again, and goes on where it
// was when there is some.
func TestFull(t *testing.T) {
	d := open(t, t.TempDir())
	fill(t, d, 600)
	m := &memory{}
	room := 2
	m.put = func(string) error {
		if room--; room < 0 {
			return fail(carrier.CodeFull)
		}
		return nil
	}
	to := Destination{Name: "x", Carrier: m}
	r := d.run(t, to, false)
	if r.Confirmed != 2 || r.Stopped != carrier.CodeFull {
		t.Fatalf("%+v", r)
	}
	if s := d.standing(t, "x"); s.Why != "full" || s.Lines == 0 || s.Refused != 0 {
		t.Errorf("%+v", s)
	}
	room = 1000
	d.clock.wall = d.clock.wall.Add(longWait)
	if again := d.run(t, to, false); again.Confirmed != r.Cut-2 {
		t.Errorf("%+v", again)
	}
	if got, want := m.arrived(t), d.lines(t, false); !slices.Equal(got, want) {
		t.Errorf("%d lines arrived of %d", len(got), len(want))
	}
}

func TestStopped(t *testing.T) {
	d := open(t, t.TempDir())
	fill(t, d, 600)
	ctx, cancel := context.WithCancel(t.Context())
	m := &memory{}
	m.after = func(string) error { cancel(); return ctx.Err() }
	to := Destination{Name: "x", Carrier: m}
	if _, err := d.box.Run(ctx, to, false); !errors.Is(err, context.Canceled) {
		t.Fatalf("%v", err)
	}
	for _, p := range must.Get[[]store.Parcel](t)(d.box.Table.Open(t.Context(), "x")) {
		if p.Tries != 0 || p.Why != "" {
			t.Errorf("being stopped counts as a failure: %+v", p)
		}
	}
	m.after = nil
	d.run(t, to, false)
	if got, want := m.arrived(t), d.lines(t, false); !slices.Equal(got, want) {
		t.Errorf("%d lines arrived of %d", len(got), len(want))
	}
}

// TestLockedWaits: what cannot be read is not sent without its name, and is no
// failure of the place.
func TestLockedWaits(t *testing.T) {
	o, table := &Outbox{Now: func() time.Time { return time.UnixMilli(0) }}, &lockedTable{}
	o.Table = table
	r, err := o.Run(t.Context(), Destination{Name: "x", Private: true}, false)
	if err != nil || !r.Locked || r.Cut != 0 || !table.private {
		t.Errorf("%+v, %v; asked for private parts: %v", r, err, table.private)
	}
}

// lockedTable has nothing but lines that cannot be read.
type lockedTable struct {
	Table
	private bool
}

func (l *lockedTable) Fresh(_ context.Context, _ string, _ int64, private bool) (store.Cut, error) {
	l.private = private
	return store.Cut{Locked: true}, nil
}
func (*lockedTable) Recut(context.Context, string, bool) (bool, error) { return false, nil }
func (*lockedTable) Sweep(context.Context) error                       { return nil }
func (*lockedTable) Open(context.Context, string) ([]store.Parcel, error) {
	return nil, nil
}
