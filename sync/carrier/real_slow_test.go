//go:build slow

package carrier

import (
	"bufio"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"chinlift/core/must"
	"chinlift/sync/internal/faulty"
)

// The servers here are programs of their own, which make deps installs:
// Apache's mod_dav from Debian, and moto from PyPI, a second S3 server beside
// gofakes3 that shares no code with it.

// freePort gives a port that nobody listens on. Somebody else may take it
// before it is used; then the server does not start, and says so.
func freePort(t *testing.T) int {
	t.Helper()
	l := must.Get[net.Listener](t)(net.Listen("tcp", "127.0.0.1:0"))
	defer l.Close()
	return l.Addr().(*net.TCPAddr).Port
}

// untilIt waits until a line of what a program prints has these words.
func untilIt(t *testing.T, out io.Reader, words string) {
	t.Helper()
	var said strings.Builder
	scan := bufio.NewScanner(out)
	for scan.Scan() {
		said.WriteString(scan.Text() + "\n")
		if strings.Contains(scan.Text(), words) {
			go func() { _, _ = io.Copy(io.Discard, out) }() // so that it never waits for a reader
			return
		}
	}
	t.Fatalf("it ended before it said %q:\n%s", words, said.String())
}

func run(t *testing.T, cmd *exec.Cmd, ready string) {
	t.Helper()
	// All its processes go with it.
	cmd.SysProcAttr = &syscall.SysProcAttr{Setpgid: true}
	r, w, err := os.Pipe()
	if err != nil {
		t.Fatal(err)
	}
	cmd.Stdout, cmd.Stderr = w, w
	if err := cmd.Start(); err != nil {
		t.Fatalf("run make deps: %v", err)
	}
	w.Close()
	t.Cleanup(func() {
		_ = syscall.Kill(-cmd.Process.Pid, syscall.SIGKILL)
		_ = cmd.Wait()
		r.Close()
	})
	untilIt(t, r, ready)
}

// status asks a server for something and gives the status of its answer.
func status(t *testing.T, r *http.Request) int {
	t.Helper()
	resp, err := http.DefaultClient.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	defer resp.Body.Close()
	return resp.StatusCode
}

const apacheConf = `ServerRoot %[1]q
ServerName 127.0.0.1
Listen 127.0.0.1:%[2]d
PidFile %[1]s/pid
ErrorLog /dev/stderr
LogLevel notice
LoadModule mpm_event_module %[3]s/mod_mpm_event.so
LoadModule authz_core_module %[3]s/mod_authz_core.so
LoadModule authn_core_module %[3]s/mod_authn_core.so
LoadModule authn_file_module %[3]s/mod_authn_file.so
LoadModule authz_user_module %[3]s/mod_authz_user.so
LoadModule auth_basic_module %[3]s/mod_auth_basic.so
LoadModule dav_module %[3]s/mod_dav.so
LoadModule dav_fs_module %[3]s/mod_dav_fs.so
DavLockDB %[1]s/lock/db
DocumentRoot %[1]s/files
<Directory %[1]s/files>
  Dav On
  AuthType Basic
  AuthName "Invented"
  AuthUserFile %[1]s/users
  Require valid-user
</Directory>
`

// apacheServer is Apache's mod_dav, with a user and a password.
func apacheServer(t *testing.T) *server {
	t.Helper()
	dir := t.TempDir()
	for _, d := range []string{"files", "lock"} {
		if err := os.Mkdir(filepath.Join(dir, d), 0o777); err != nil {
			t.Fatal(err)
		}
		if err := os.Chmod(filepath.Join(dir, d), 0o777); err != nil { // as root it runs as somebody else
			t.Fatal(err)
		}
	}
	for d := dir; d != os.TempDir() && len(d) > 1; d = filepath.Dir(d) {
		if err := os.Chmod(d, 0o755); err != nil {
			t.Fatal(err)
		}
	}
	port := freePort(t)
	conf := filepath.Join(dir, "conf")
	text := fmt.Sprintf(apacheConf, dir, port, "/usr/lib/apache2/modules")
	if os.Geteuid() == 0 {
		text += "User www-data\nGroup www-data\n"
	}
	users := secret.User + ":" + apacheHash + "\n"
	for name, data := range map[string]string{conf: text, filepath.Join(dir, "users"): users} {
		if err := os.WriteFile(name, []byte(data), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	run(t, exec.Command("/usr/sbin/apache2", "-f", conf, "-D", "FOREGROUND"), "resuming normal operations")
	return before(t, fmt.Sprintf("http://127.0.0.1:%d", port))
}

// apacheHash is the password of the test as Apache keeps it: {SHA} and the
// base64 of its SHA-1, worked out by
// printf %s invented-secret-of-the-test | openssl sha1 -binary | base64
const apacheHash = "{SHA}cRW77QjNHhZAyq5ebtdKfBMRbiQ="

func TestApache(t *testing.T) {
	shared := apacheServer(t)
	// One server for all; each test works in a folder of its own, which is
	// there, as a clinic's would be.
	n := 0
	next := func(t *testing.T) *server {
		n++
		folder := fmt.Sprintf("/test-%d", n)
		r := must.Get[*http.Request](t)(http.NewRequest("MKCOL", shared.proxy.Target.String()+folder+"/", nil))
		r.SetBasicAuth(secret.User, secret.Password)
		if got := status(t, r); got != http.StatusCreated {
			t.Fatalf("a folder for the test: status %d", got)
		}
		fresh := before(t, shared.proxy.Target.String())
		fresh.url += folder
		return fresh
	}
	conformance(t, func(t *testing.T) Carrier { return openWebDAV(t, next(t)) })
	faults(t, next, openWebDAV)
	t.Run("wrong password", func(t *testing.T) {
		s := next(t)
		c := must.Get[*WebDAV](t)(NewWebDAV(Web{Base: s.url, Roots: s.roots, Secret: Secret{secret.User, "another"}}))
		if err := c.Put(t.Context(), one, nil); CodeOf(err) != CodeRefused {
			t.Errorf("%v", err)
		}
	})
	t.Run("no such folder", func(t *testing.T) {
		s := next(t)
		c := must.Get[*WebDAV](t)(NewWebDAV(Web{Base: s.url + "/nowhere", Roots: s.roots, Secret: secret}))
		if err := c.Put(t.Context(), one, nil); CodeOf(err) != CodeMissing {
			t.Errorf("%v", err)
		}
	})
}

// moto lies where make deps puts it.
const motoPython = "../../.build/moto/bin/python"

// motoServer starts one server; each test has a bucket of its own.
func motoServer(t *testing.T) func(*testing.T) *server {
	t.Helper()
	port := freePort(t)
	run(t, exec.Command(filepath.FromSlash(motoPython), "-u", "-m", "moto.server", "-H", "127.0.0.1", "-p", fmt.Sprint(port)), "Running on")
	n := 0
	return func(t *testing.T) *server {
		n++
		target := fmt.Sprintf("http://127.0.0.1:%d", port)
		s := before(t, target)
		r := must.Get[*http.Request](t)(http.NewRequest(http.MethodPut, fmt.Sprintf("%s/bucket-%d", target, n), nil))
		r.Header.Set("Authorization", "AWS4-HMAC-SHA256 Credential=x/20260302/us-east-1/s3/aws4_request, SignedHeaders=host, Signature=x")
		if got := status(t, r); got != http.StatusOK {
			t.Fatalf("a bucket for the test: status %d", got)
		}
		s.bucket = fmt.Sprintf("bucket-%d", n)
		return s
	}
}

func TestMoto(t *testing.T) {
	serve := motoServer(t)
	open := func(t *testing.T, s *server) Carrier {
		return must.Get[*S3](t)(NewS3(Web{Base: s.url + "/" + s.bucket + "/some/prefix", Roots: s.roots, Secret: secret}, ""))
	}
	conformance(t, func(t *testing.T) Carrier { return open(t, serve(t)) })
	faults(t, serve, open)
	t.Run("no such bucket", func(t *testing.T) {
		s := serve(t)
		s.bucket = "nowhere"
		if err := open(t, s).Put(t.Context(), one, nil); CodeOf(err) != CodeMissing {
			t.Errorf("%v", err)
		}
	})
	t.Run("no rights", func(t *testing.T) {
		s := serve(t)
		s.breaks(func(*http.Request) faulty.Fault { return faulty.Fault{Kind: faulty.Status, At: 403} })
		if err := open(t, s).Put(t.Context(), one, nil); CodeOf(err) != CodeRefused {
			t.Errorf("%v", err)
		}
	})
}
