//go:build slow

package outbox

import (
	"bufio"
	"bytes"
	"context"
	"crypto/x509"
	"errors"
	"fmt"
	"io"
	"log"
	"math/rand/v2"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/johannesboyne/gofakes3"
	"github.com/johannesboyne/gofakes3/backend/s3mem"
	"golang.org/x/net/webdav"
	"pgregory.net/rapid"

	"chinlift/core/must"
	"chinlift/core/store"
	"chinlift/core/timeline"
	"chinlift/sync/carrier"
	"chinlift/sync/internal/faulty"
	"chinlift/sync/plain"
)

// dying is a table that ends with the process: at the n-th call, before or
// after its effect, and so does every call after it.
type dying struct {
	Table
	left  int
	after bool
	dead  bool
}

var errDead = errors.New("the process is no more")

func (d *dying) step(do func() error) error {
	if d.dead {
		return errDead
	}
	if d.left--; d.left == 0 {
		d.dead = true
		if d.after {
			_ = do() // it was done, and nobody lives to hear of it
		}
		return errDead
	}
	return do()
}

func (d *dying) Provide(ctx context.Context, dest string, c store.Cut, ps []store.Parcel) (ok bool, err error) {
	err = d.step(func() (err error) { ok, err = d.Table.Provide(ctx, dest, c, ps); return err })
	return ok, err
}

func (d *dying) Mark(ctx context.Context, p store.Parcel) error {
	return d.step(func() error { return d.Table.Mark(ctx, p) })
}

func (d *dying) Keep(ctx context.Context, data []byte) (h timeline.Hash, err error) {
	err = d.step(func() (err error) { h, err = d.Table.Keep(ctx, data); return err })
	return h, err
}

func (d *dying) Drop(h timeline.Hash) error { return d.step(func() error { return d.Table.Drop(h) }) }

// TestDiesAtEachStep ends the process at every step in turn, before and after
// the step's effect, and looks at what the next process makes of it.
func TestDiesAtEachStep(t *testing.T) {
	for _, after := range []bool{false, true} {
		for n := 1; ; n++ {
			d := open(t, t.TempDir())
			fill(t, d, 300)
			m := &memory{}
			to := Destination{Name: "x", Carrier: m, Private: true}
			// A step at the destination may be the one, too.
			death := &dying{Table: d.box.Table, left: n, after: after}
			m.put = func(string) error { return death.step(func() error { return nil }) }
			m.after = func(string) error { return death.step(func() error { return nil }) }
			d.box.Table = death
			_, err := d.box.Run(t.Context(), to, false)
			if !death.dead {
				if err != nil {
					t.Fatal(err)
				}
				if n < 10 {
					t.Errorf("there were only %d steps", n)
				}
				break
			}
			confirmed := d.standing(t, "x")
			if err := d.Close(); err != nil {
				t.Fatal(err)
			}
			// The next process. What was confirmed is there.
			next := open(t, d.dir)
			m.put, m.after = nil, nil
			next.run(t, to, true)
			next.run(t, to, true)
			if s := next.standing(t, "x"); s.Lines != 0 || s.Waiting+s.Sent+s.Refused != 0 || s.Finished < confirmed.Finished {
				t.Fatalf("step %d, after %v: %+v", n, after, s)
			}
			if got, want := m.arrived(t), next.lines(t, true); !slices.Equal(got, want) {
				t.Fatalf("step %d, after %v: %d lines arrived of %d", n, after, len(got), len(want))
			}
			if left := must.Get[[]os.DirEntry](t)(os.ReadDir(filepath.Join(d.dir, "outbox"))); len(left) != 0 {
				t.Fatalf("step %d, after %v: %d files stay behind", n, after, len(left))
			}
		}
	}
}

// TestAnyStory: entries, merges and runs that fail in any way, in any order,
// on two devices: in the end everything is there, and nothing was confirmed
// that was not.
func TestAnyStory(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		m := &memory{}
		var devices []*device
		for range 2 {
			d := open(t, t.TempDir())
			devices = append(devices, d)
			defer func() { _ = d.Close() }()
		}
		to := Destination{Name: "x", Carrier: m, Private: true}
		codes := []carrier.Code{carrier.CodeOffline, carrier.CodeBusy, carrier.CodeFull, carrier.CodeForeign, carrier.CodeRefused, carrier.CodeClock, carrier.CodeTooLarge}
		for range rapid.IntRange(1, 8).Draw(rt, "steps") {
			d := devices[rapid.IntRange(0, 1).Draw(rt, "device")]
			switch rapid.SampledFrom([]string{"record", "run", "run", "run", "clock", "union"}).Draw(rt, "step") {
			case "record":
				d.record(t, 1)
			case "clock":
				d.clock.wall = d.clock.wall.Add(time.Duration(rapid.IntRange(-1000, 1000).Draw(rt, "minutes")) * time.Minute)
			case "union":
				var lines []*timeline.Line
				if err := devices[0].All(t.Context(), func(l *timeline.Line) error { lines = append(lines, l); return nil }); err != nil {
					rt.Fatal(err)
				}
				must.Get[store.Merged](t)(devices[1].Merge(t.Context(), lines))
			case "run":
				m.put = func(string) error {
					if rapid.Bool().Draw(rt, "put fails") {
						return fail(rapid.SampledFrom(codes).Draw(rt, "code"))
					}
					return nil
				}
				m.after = func(string) error {
					if rapid.IntRange(0, 3).Draw(rt, "answer lost") == 0 {
						return fail(carrier.CodeOffline)
					}
					return nil
				}
				m.get = func(name string, b []byte) ([]byte, error) {
					switch rapid.IntRange(0, 4).Draw(rt, "get") {
					case 0:
						return nil, fail(carrier.CodeOffline)
					case 1:
						return []byte("a page"), nil
					}
					if b == nil {
						return nil, fail(carrier.CodeNotFound)
					}
					return b, nil
				}
				d.run(t, to, rapid.Bool().Draw(rt, "by hand"))
				there := m.arrived(t)
				s := d.standing(t, "x")
				missing := int64(0)
				for _, l := range d.lines(t, true) {
					if _, ok := slices.BinarySearch(there, l); !ok {
						missing++
					}
				}
				if s.Lines < missing {
					rt.Fatalf("%d lines are not there, and only %d are said not to be confirmed", missing, s.Lines)
				}
			}
		}
		m.put, m.after, m.get = nil, nil, nil
		for _, d := range devices {
			d.run(t, to, true)
			if s := d.standing(t, "x"); s.Lines != 0 {
				rt.Fatalf("in the end: %+v", s)
			}
		}
		there := m.arrived(t)
		for _, d := range devices {
			for _, l := range d.lines(t, true) {
				if _, ok := slices.BinarySearch(there, l); !ok {
					rt.Fatal("a line is not there")
				}
			}
		}
	})
}

// TestInterruptedTransfers carries from two devices at once to a real server
// over TLS, WebDAV and S3 each, through a proxy that breaks every third request,
// until 300 transfers were interrupted. In the end every line is there once,
// nothing is half there, and at no time was anything confirmed that was not
// there whole.
func TestInterruptedTransfers(t *testing.T) {
	t.Run("webdav", func(t *testing.T) {
		root := t.TempDir()
		interrupted(t, &webdav.Handler{FileSystem: webdav.Dir(root), LockSystem: webdav.NewMemLS()}, carrier.Folder{Root: root}, func(w carrier.Web) (carrier.Carrier, error) { return carrier.NewWebDAV(w) })
	})
	t.Run("s3", func(t *testing.T) {
		backend := s3mem.New()
		if err := backend.CreateBucket("bucket"); err != nil {
			t.Fatal(err)
		}
		s3 := func(w carrier.Web) (carrier.Carrier, error) {
			w.Base, w.Secret = w.Base+"/bucket", carrier.Secret{User: "INVENTED", Password: "invented-secret-of-the-test"}
			return carrier.NewS3(w, "")
		}
		interrupted(t, gofakes3.New(backend).Server(), nil, s3)
	})
}

// interrupted looks at what is there past the proxy: in the folder that the
// server serves, or else by a carrier that nobody breaks.
func interrupted(t *testing.T, handler http.Handler, behind carrier.Carrier, connect func(carrier.Web) (carrier.Carrier, error)) {
	const want = 300
	server := httptest.NewServer(handler)
	defer server.Close()
	var mu sync.Mutex
	random := rand.New(rand.NewPCG(7, 11))
	broken, calm := 0, false
	proxy := &faulty.Proxy{Target: must.Get[*url.URL](t)(url.Parse(server.URL)), Next: func(*http.Request) faulty.Fault {
		mu.Lock()
		defer mu.Unlock()
		if calm || random.IntN(3) != 0 {
			return faulty.Fault{}
		}
		kind := faulty.Kind(1 + random.IntN(int(faulty.Stall)-1)) // all but the one that only waits
		at := random.IntN(3000)
		if kind == faulty.Status || kind == faulty.StatusAfter {
			at = []int{500, 502, 503, 507}[random.IntN(4)]
		}
		broken++
		return faulty.Fault{Kind: kind, At: at}
	}}
	front := httptest.NewUnstartedServer(proxy)
	front.Config.ErrorLog = log.New(io.Discard, "", 0)
	front.StartTLS()
	defer front.Close()
	roots := x509.NewCertPool()
	roots.AddCert(front.Certificate())
	if behind == nil {
		// Its own proxy, which breaks nothing: a carrier speaks TLS alone.
		calmly := httptest.NewTLSServer(&faulty.Proxy{Target: proxy.Target, Next: func(*http.Request) faulty.Fault { return faulty.Fault{} }})
		defer calmly.Close()
		trusted := x509.NewCertPool()
		trusted.AddCert(calmly.Certificate())
		behind = must.Get[carrier.Carrier](t)(connect(carrier.Web{Base: calmly.URL, Roots: trusted}))
	}
	count := func() int {
		mu.Lock()
		defer mu.Unlock()
		return broken
	}

	var devices []*device
	for range 2 {
		devices = append(devices, open(t, t.TempDir()))
	}
	there := func() map[string]int {
		lines := map[string]int{}
		err := behind.List(t.Context(), func(i carrier.Info) error {
			data := must.Get[[]byte](t)(behind.Get(t.Context(), i.Name, 64<<20))
			if !strings.Contains(i.Name, string(store.Sum(data))) {
				return nil // changed on its way up: the whole one has a further name
			}
			for l, err := range plain.ReadLines(bytes.NewReader(data)) {
				if err != nil {
					t.Fatal(err)
				}
				lines[string(l.Bytes(true))]++
			}
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
		return lines
	}
	run := func(d *device, to Destination) {
		if _, err := d.box.Run(t.Context(), to, true); err != nil {
			t.Error(err)
		}
	}
	to := Destination{Name: "server", Private: true}
	rounds := 0
	for ; count() < want; rounds++ {
		var wg sync.WaitGroup
		for _, d := range devices {
			d.record(t, 1)
			one := to
			one.Carrier = must.Get[carrier.Carrier](t)(connect(carrier.Web{Base: front.URL, Roots: roots}))
			wg.Go(func() { run(d, one) })
		}
		wg.Wait()
		if rounds%10 != 0 {
			continue
		}
		lines := there()
		for _, d := range devices {
			missing := int64(0)
			for _, l := range d.lines(t, true) {
				if lines[l] == 0 {
					missing++
				}
			}
			if s := d.standing(t, "server"); s.Lines < missing {
				t.Fatalf("%d lines are not there, and only %d are said not to be", missing, s.Lines)
			}
		}
	}
	mu.Lock()
	calm = true
	mu.Unlock()
	for _, d := range devices {
		one := to
		one.Carrier = must.Get[*carrier.WebDAV](t)(carrier.NewWebDAV(carrier.Web{Base: front.URL, Roots: roots}))
		one.Carrier = must.Get[carrier.Carrier](t)(connect(carrier.Web{Base: front.URL, Roots: roots}))
		for range lookAgain + 1 {
			run(d, one)
		}
		if s := d.standing(t, "server"); s.Lines != 0 || s.Waiting+s.Sent+s.Refused > 0 {
			t.Errorf("in the end: %+v", s)
		}
	}
	lines := there()
	for _, d := range devices {
		for _, l := range d.lines(t, true) {
			if lines[l] != 1 {
				t.Errorf("a line is there %d times: %.60s", lines[l], l)
			}
		}
	}
	t.Logf("%d interrupted in %d rounds: %v", count(), rounds, proxy.Counts())
}

// asChild names the folders of a child that carries until it is killed.
const asChild = "CHINLIFT_TEST_OUTBOX"

func TestMain(m *testing.M) {
	if dirs := os.Getenv(asChild); dirs != "" {
		child(dirs)
	}
	os.Exit(m.Run())
}

// telling is a destination that says each step aloud, before and after.
type telling struct{ carrier.Folder }

func (c telling) Put(ctx context.Context, name string, data []byte) error {
	_, _ = fmt.Fprintln(os.Stdout, "put")
	err := c.Folder.Put(ctx, name, data)
	_, _ = fmt.Fprintln(os.Stdout, "was put")
	return err
}

func (c telling) Get(ctx context.Context, name string, most int64) ([]byte, error) {
	_, _ = fmt.Fprintln(os.Stdout, "get")
	return c.Folder.Get(ctx, name, most)
}

func child(dirs string) {
	from, to, _ := strings.Cut(dirs, "\n")
	s, err := store.Open(context.Background(), store.Options{Dir: from, Installation: "here", ReserveBytes: -1, Entered: func() timeline.Entered { return timeline.Entered{} }})
	if err == nil {
		box := Outbox{Table: s.Outbox(), Blob: s.Blob, Now: func() time.Time { return noon }, Rand: rand.Float64}
		_, err = box.Run(context.Background(), Destination{Name: "x", Carrier: telling{carrier.Folder{Root: to}}, Private: true}, true)
		err = errors.Join(err, s.Close())
	}
	if err != nil {
		_, _ = fmt.Fprintln(os.Stdout, "failed:", err)
		os.Exit(1)
	}
	_, _ = fmt.Fprintln(os.Stdout, "done")
	os.Exit(0)
}

// TestKilled kills a process that carries, each time a step later.
func TestKilled(t *testing.T) {
	dir, root := t.TempDir(), t.TempDir()
	d := open(t, dir)
	fill(t, d, 1500) // 4,500 lines: nine segments and more
	if err := d.Close(); err != nil {
		t.Fatal(err)
	}
	kills := 0
	for at := 1; ; at++ {
		cmd := exec.Command(must.Get[string](t)(os.Executable()))
		cmd.Env = append(os.Environ(), asChild+"="+dir+"\n"+root)
		out := must.Get[io.ReadCloser](t)(cmd.StdoutPipe())
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		n, done := 0, false
		for scan := bufio.NewScanner(out); scan.Scan(); {
			if scan.Text() == "done" {
				done = true
			} else if strings.HasPrefix(scan.Text(), "failed") {
				t.Fatal(scan.Text())
			}
			if n++; n == at && !done {
				kills++
				if err := cmd.Process.Kill(); err != nil {
					t.Fatal(err)
				}
			}
		}
		err := cmd.Wait()
		if done {
			if err != nil {
				t.Fatal(err)
			}
			break
		}
	}
	if kills < 4 {
		t.Errorf("only %d kills", kills)
	}
	d = open(t, dir)
	if s := d.standing(t, "x"); s.Lines != 0 || s.Waiting+s.Sent+s.Refused > 0 {
		t.Errorf("%+v", s)
	}
	other := open(t, t.TempDir())
	lines := 0
	for _, f := range must.Get[plain.Found](t)(plain.Find([]string{root})).Lines {
		if strings.Contains(f, ".part-") {
			continue
		}
		g := must.Get[plain.Gathered](t)(plain.GatherLines(t.Context(), f, plain.Unseal{}, other.Companion))
		if g.Err != nil || g.Faults > 0 {
			t.Errorf("%+v", g)
		}
		lines += g.New + g.Known
	}
	if got, want := other.lines(t, true), d.lines(t, true); !slices.Equal(got, want) || lines != len(want) {
		t.Errorf("%d lines were gathered, %d of them different, of %d", lines, len(got), len(want))
	}
	t.Logf("%d kills", kills)
}

// TestTenThousandCases is TestCarriesOnlyWhatIsNew on a device that has worked
// for years.
func TestTenThousandCases(t *testing.T) {
	carried := map[int]int{}
	for _, cases := range []int{10, 10_000} {
		d := open(t, t.TempDir())
		fill(t, d, cases)
		m := &memory{}
		to := Destination{Name: "x", Carrier: m, Private: true}
		d.run(t, to, false)
		d.record(t, 1) // the first opens the log and names the provider
		d.run(t, to, false)
		before := m.bytes
		d.record(t, 1)
		d.run(t, to, false)
		carried[cases] = m.bytes - before
	}
	if ratio := float64(carried[10_000]) / float64(carried[10]); ratio >= 1.1 {
		t.Errorf("%v bytes, by cases stored: the ratio is %.2f", carried, ratio)
	}
	t.Logf("%v bytes, by cases stored", carried)
}
