//go:build slow

package ui

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"
)

// webkit is a session of WebKitGTK's MiniBrowser, which shares its engine with
// the web views of iOS, driven over W3C WebDriver (www.w3.org/TR/webdriver2):
// the few commands that a smoke test needs.
type webkit struct {
	t       testing.TB
	ctx     context.Context
	session string // address of the session
}

// elementKey is under what a reply holds an element (WebDriver, 12.1).
const elementKey = "element-6066-11e4-a52e-4f735466cecf"

// newWebKit starts a display without a screen, the driver and the browser,
// which all end with the test.
func newWebKit(t testing.TB) *webkit {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), 2*time.Minute)
	t.Cleanup(cancel)
	display := startDisplay(t)
	home := t.TempDir()
	env := append(os.Environ(), "DISPLAY="+display, "HOME="+home, "XDG_RUNTIME_DIR="+home, "XDG_CACHE_HOME="+home, "XDG_CONFIG_HOME="+home, "XDG_DATA_HOME="+home,
		"GDK_BACKEND=x11", "GSETTINGS_BACKEND=memory", "NO_AT_BRIDGE=1")
	w := &webkit{t: t, ctx: ctx}
	var reply struct {
		SessionID    string
		Capabilities struct{ BrowserName, BrowserVersion string }
	}
	driver := startDriver(ctx, t, env)
	w.session = driver
	w.call("POST", "/session", map[string]any{"capabilities": map[string]any{"alwaysMatch": map[string]any{
		// An element is waited for: it comes with the page or the patch.
		"timeouts": map[string]int{"implicit": 15000},
	}}}, &reply)
	w.session = driver + "/session/" + reply.SessionID
	t.Cleanup(func() {
		r, err := http.NewRequestWithContext(context.WithoutCancel(ctx), http.MethodDelete, w.session, nil)
		if err != nil {
			t.Error(err)
			return
		}
		got, err := http.DefaultClient.Do(r)
		if err != nil {
			t.Errorf("ending the browser: %v", err)
			return
		}
		got.Body.Close()
	})
	t.Logf("%s %s", reply.Capabilities.BrowserName, reply.Capabilities.BrowserVersion)
	return w
}

// start starts a command that ends with the test, and all that it started.
func start(t testing.TB, cmd *exec.Cmd) (ended <-chan struct{}) {
	t.Helper()
	cmd.SysProcAttr = &syscall.SysProcAttr{Setpgid: true}
	if err := cmd.Start(); err != nil {
		t.Fatalf("%s does not start (make deps installs it): %v", cmd.Args[0], err)
	}
	over := make(chan struct{})
	go func() {
		defer close(over)
		_ = cmd.Wait() // how it ended matters to nobody; that it has, does
	}()
	t.Cleanup(func() {
		if err := syscall.Kill(-cmd.Process.Pid, syscall.SIGKILL); err != nil && !errors.Is(err, syscall.ESRCH) {
			t.Errorf("ending %s: %v", cmd.Args[0], err)
		}
		<-over
	})
	return over
}

// startDisplay starts an X server without a screen, and gives its name.
func startDisplay(t testing.TB) string {
	t.Helper()
	r, w, err := os.Pipe()
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	defer w.Close()
	cmd := exec.Command("Xvfb", "-displayfd", "3", "-screen", "0", "800x1000x24", "-nolisten", "tcp")
	cmd.ExtraFiles = []*os.File{w}
	var said bytes.Buffer
	cmd.Stderr = &said
	ended := start(t, cmd)
	number := make(chan string, 1)
	go func() {
		// To the end of the line: number and end are two writes, and the
		// second into a closed pipe would end the server.
		line, err := bufio.NewReader(r).ReadString('\n')
		if err != nil {
			line = err.Error() // no display, said below
		}
		number <- strings.TrimSpace(line)
	}()
	select {
	case n := <-number:
		if _, err := strconv.Atoi(n); err != nil {
			t.Fatalf("Xvfb named no display, but %q", n)
		}
		return ":" + n
	case <-ended:
		t.Fatalf("Xvfb ended: %s", said.String())
	case <-time.After(time.Minute):
		t.Fatal("Xvfb named no display within a minute")
	}
	return ""
}

// startDriver starts WebKit's driver, and gives its address once it is ready.
func startDriver(ctx context.Context, t testing.TB, env []string) string {
	t.Helper()
	// The driver does not say which port it was given, so that it must be told
	// one. Another program can take it in between: then the next.
	for range 5 {
		l, err := net.Listen("tcp", "127.0.0.1:0")
		if err != nil {
			t.Fatal(err)
		}
		address := l.Addr().String()
		_, port, err := net.SplitHostPort(address)
		if err != nil {
			t.Fatal(err)
		}
		l.Close()
		cmd := exec.Command("WebKitWebDriver", "--port="+port)
		cmd.Env = env
		ended := start(t, cmd)
		if ready(ctx, t, "http://"+address+"/status", ended) {
			return "http://" + address
		}
	}
	t.Fatal("WebKitWebDriver ended five times before it was ready")
	return ""
}

// ready waits until the driver at this address is; false: it ended before.
func ready(ctx context.Context, t testing.TB, status string, ended <-chan struct{}) bool {
	t.Helper()
	again := time.NewTicker(20 * time.Millisecond)
	defer again.Stop()
	for {
		r, err := http.NewRequestWithContext(ctx, http.MethodGet, status, nil)
		if err != nil {
			t.Fatal(err)
		}
		if got, err := http.DefaultClient.Do(r); err == nil {
			var reply struct{ Value struct{ Ready bool } }
			err := json.NewDecoder(got.Body).Decode(&reply)
			got.Body.Close()
			if err == nil && reply.Value.Ready {
				return true
			}
		}
		select {
		case <-again.C:
		case <-ended:
			return false
		case <-ctx.Done():
			t.Fatalf("WebKitWebDriver is not ready: %v", ctx.Err())
		}
	}
}

// call sends a command, and reads the value of its reply.
func (w *webkit) call(method, path string, body, value any) {
	w.t.Helper()
	if err := w.try(method, path, body, value); err != nil {
		w.t.Fatal(err)
	}
}

// errPageGone is the driver's answer to a command whose page gave way to the
// next one meanwhile.
var errPageGone = errors.New("no such frame")

func (w *webkit) try(method, path string, body, value any) error {
	var b bytes.Buffer
	if method == http.MethodPost {
		if body == nil {
			body = struct{}{}
		}
		if err := json.NewEncoder(&b).Encode(body); err != nil {
			return err
		}
	}
	r, err := http.NewRequestWithContext(w.ctx, method, w.session+path, &b)
	if err != nil {
		return err
	}
	r.Header.Set("Content-Type", "application/json; charset=utf-8")
	got, err := http.DefaultClient.Do(r)
	if err != nil {
		return fmt.Errorf("%s %s: %w", method, path, err)
	}
	defer got.Body.Close()
	all, err := io.ReadAll(got.Body)
	if err != nil {
		return fmt.Errorf("%s %s: %w", method, path, err)
	}
	if got.StatusCode != http.StatusOK {
		var refused struct{ Value struct{ Error string } }
		if json.Unmarshal(all, &refused) == nil && refused.Value.Error == errPageGone.Error() {
			return errPageGone
		}
		return fmt.Errorf("%s %s %v: %s %s", method, path, body, got.Status, all)
	}
	if value == nil {
		return nil
	}
	reply := struct {
		Value any `json:"value"`
	}{value}
	if err := json.Unmarshal(all, &reply); err != nil {
		return fmt.Errorf("%s %s: %w in %s", method, path, err, all)
	}
	return nil
}

// element waits for the first element with the selector.
func (w *webkit) element(sel string) string {
	w.t.Helper()
	for {
		found := map[string]string{}
		err := w.try("POST", "/element", map[string]string{"using": "css selector", "value": sel}, &found)
		if err == nil {
			return found[elementKey]
		}
		if !errors.Is(err, errPageGone) { // a wait does not outlive its page: begin on the next
			w.t.Fatal(err)
		}
	}
}

func (w *webkit) click(sel string) {
	w.t.Helper()
	w.call("POST", "/element/"+w.element(sel)+"/click", nil, nil)
}

func (w *webkit) text(sel string) (text string) {
	w.t.Helper()
	w.call("GET", "/element/"+w.element(sel)+"/text", nil, &text)
	return text
}

// page waits for the page at a path with so many lines stored.
func (w *webkit) page(path string, seq int64) {
	w.t.Helper()
	w.element(fmt.Sprintf(`body[data-path=%q][data-seq="%d"]`, path, seq))
}

// TestTableInWebKit marks an instant and records a pulse in the other engine.
func TestTableInWebKit(t *testing.T) {
	u, c, _ := newUI(t)
	id := newCase(t, u, "Webb")
	table := "/case/" + id + "/table"
	tap(t, u, table+"/vitals", "kind", "vitals", "pulse", "80")
	srv := httptest.NewServer(u.Handler("t"))
	t.Cleanup(srv.Close)
	w := newWebKit(t)
	w.call("POST", "/window/rect", map[string]int{"x": 0, "y": 0, "width": 400, "height": 900}, nil)
	w.call("POST", "/url", map[string]string{"url": srv.URL + "/t" + table}, nil)
	before := c.Stored()
	w.page(table, before)
	if name := w.text("#head"); !strings.Contains(name, "Webb") {
		t.Errorf("the head says %q", name)
	}

	// A tap that stays on the page: its patch brings the key that undoes it.
	w.click(key("mark"))
	w.page(table, before+1)
	w.element(key("undo"))

	// A tray laid over the table, a value picked, and recorded.
	calm := func() { w.element("body:not([data-guard])") }
	calm()
	w.click(".table-pad " + key("vitals"))
	w.element("#over .measure")
	calm()
	w.click(`.measure[data-measure="pulse"] [data-open]`)
	calm()
	w.click(`[data-tens="90"]`)
	w.click(`[data-ones="2"]`)
	w.element(`.measure[data-measure="pulse"].touched`)
	calm()
	pulse := w.text(`.measure[data-measure="pulse"] output`)
	w.click(key("record"))
	w.page(table, before+2)

	got := said(t, c, id)
	want := []string{"mark", "vitals pulse=" + pulse + " pulse_unit=/min"}
	if n := len(got); pulse != "92" || n < 2 || got[n-2] != want[0] || got[n-1] != want[1] {
		t.Errorf("recorded %q, want %q at the end", got, want)
	}
}
