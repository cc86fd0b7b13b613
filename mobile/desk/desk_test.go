package main

import (
	"bufio"
	"bytes"
	"context"
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

	"chinlift/core"
	"chinlift/core/word"
	"chinlift/testdata/demo"
)

// The test program is the command itself when it is told so, for the tests
// that need a process of its own.
func TestMain(m *testing.M) {
	if os.Getenv("CHINLIFT_TEST_AS_DESK") != "" {
		main()
	}
	os.Exit(testMain(m))
}

// testMain keeps what the command remembers out of the user's own folder.
func testMain(m *testing.M) int {
	dir, err := os.MkdirTemp("", "chinlift-state-*")
	if err != nil {
		panic(err)
	}
	defer func() {
		if err := os.RemoveAll(dir); err != nil {
			panic(err)
		}
	}()
	if err := os.Setenv("XDG_STATE_HOME", dir); err != nil {
		panic(err)
	}
	return m.Run()
}

// desk runs the command in this process.
func desk(t *testing.T, args ...string) (code int, stdout, stderr string) {
	t.Helper()
	return deskWith(t, strings.NewReader(""), args...)
}

// deskWith is desk with something on its standard input.
func deskWith(t *testing.T, input io.Reader, args ...string) (code int, stdout, stderr string) {
	t.Helper()
	var out, errs bytes.Buffer
	c := command{words: word.English(), in: input, out: &out, err: &errs}
	code = c.run(t.Context(), args)
	if faults := c.words.Missing(); len(faults) > 0 {
		t.Errorf("words are missing: %q", faults)
	}
	return code, out.String(), errs.String()
}

func TestBadCommandLines(t *testing.T) {
	t.Setenv("XDG_DATA_HOME", filepath.Join(t.TempDir(), "untouched"))
	for _, tt := range []struct {
		args string
		says string
	}{
		{"nonsense", "no verb nonsense"},
		{"nonsense --data x", "no verb nonsense"},
		{"--nonsense", "nonsense"},
		{"serve --data", "needs an argument"},
		{"serve extra", "extra"},
		{"--addr 7343", "is not an address"},
		{"--addr 127.0.0.1:http", "is not an address"},
		{"--addr 127.0.0.1:70000", "is not an address"},
		{"--addr :7343", "other computers"},
		{"--addr 0.0.0.0:7343", "other computers"},
		{"--addr 192.0.2.1:7343", "TLS"},
		{"--addr [::]:7343", "TLS"},
		{"--addr clinic.example:7343", "TLS"},
		{"check a b", "b"},
		{"check --to x", "-to"},
		{"check file --data x", "not at both"},
		{"export", "--to DIR"},
		{"export --to x extra", "extra"},
		{"export --data x --to x", "lies in the data folder"},
		{"export --data x --to x/y/z", "lies in the data folder"},
		{"replay", "the name of a file"},
		{"export --to x --private --deidentified k", "not both"},
		{"export --to x --seal-for age1x", "no public key"},
		{"export --to x --seal-for age1x --seal-with f", "not both"},
		{"gather", "files or folders"},
		{"gather --data x x/y", "lies in the data folder"},
		{"key", "--to FILE"},
		{"check --pin", "needs an argument"},
	} {
		code, out, errs := desk(t, strings.Fields(tt.args)...)
		if code != 2 || out != "" || !strings.Contains(errs, tt.says) || !strings.Contains(errs, "Nothing was touched") || !strings.Contains(errs, "--data DIR") {
			t.Errorf("desk %s: exit code %d, printed %q and %q; want 2, and the list with %q", tt.args, code, out, errs, tt.says)
		}
	}
	if _, err := os.Stat(os.Getenv("XDG_DATA_HOME")); err == nil {
		t.Error("a command line that was not understood made a folder")
	}
}

func TestHelp(t *testing.T) {
	for _, args := range [][]string{{"-h"}, {"check", "--help"}} {
		code, out, errs := desk(t, args...)
		if code != 0 || errs != "" {
			t.Errorf("desk %v: exit code %d, %q", args, code, errs)
		}
		for _, v := range verbs {
			if !strings.Contains(out, "  "+v.name+" ") {
				t.Errorf("desk %v does not list %s:\n%s", args, v.name, out)
			}
		}
	}
}

func TestFlagsMayStandBehind(t *testing.T) {
	c := command{words: word.English(), out: io.Discard, err: io.Discard}
	fs, data := c.flags("check")
	rest, err := c.parse(fs, []string{"a", "--data", "d", "b"}, 2)
	if err != nil || *data != "d" || strings.Join(rest, " ") != "a b" {
		t.Errorf("got %q, --data %q, %v", rest, *data, err)
	}
}

func TestCheckOfNoFolder(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "nothing")
	code, out, errs := desk(t, "check", "--data", dir)
	if code != 1 || out != "" || !strings.Contains(errs, dir) {
		t.Errorf("exit code %d, printed %q and %q", code, out, errs)
	}
	if _, err := os.Stat(dir); err == nil {
		t.Error("check made the folder")
	}
}

// withCase makes a folder with one case in it.
func withCase(t *testing.T) (dir string) {
	t.Helper()
	dir = t.TempDir()
	c := command{words: word.English(), out: io.Discard, err: io.Discard}
	companion, err := c.open(t.Context(), dir)
	if err != nil {
		t.Fatal(err)
	}
	id, _, err := companion.OpenCase(t.Context(), core.Form{ID: core.NewID(), Fields: map[string][]string{
		"name": {"Invented Person"}, "age": {"34"}, "age_unit": {"a"}, "sex": {"female"}, "weight": {"52"}, "weight_how": {"measured"}, "weight_by": {"scale"}, "urgency": {"elective"}}})
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range []core.Form{
		{Kind: "vitals", Fields: map[string][]string{"pulse": {"92"}, "systolic": {"110"}, "diastolic": {"70"}}},
		{Kind: "note", Fields: map[string][]string{"text": {"=an invented note"}}},
	} {
		f.ID, f.Case = core.NewID(), id
		if _, err := companion.Submit(t.Context(), f); err != nil {
			t.Fatal(err)
		}
	}
	if err := companion.Close(); err != nil {
		t.Fatal(err)
	}
	return dir
}

func TestCheckOfAFolder(t *testing.T) {
	dir := withCase(t)
	code, out, errs := desk(t, "check", "--data", dir)
	if code != 0 || errs != "" || !strings.Contains(out, "All is well") || !strings.Contains(out, "1 log.") {
		t.Errorf("exit code %d, printed %q and %q", code, out, errs)
	}
}

func TestCheckFindsDamage(t *testing.T) {
	dir := withCase(t)
	path := filepath.Join(dir, "chinlift.db")
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	// The urgency, inside the bytes of an event: same length, another word.
	if bytes.Count(data, []byte(`"elective"`)) != 1 {
		t.Fatalf("the word is %d times in the database; want 1", bytes.Count(data, []byte(`"elective"`)))
	}
	if err := os.WriteFile(path, bytes.Replace(data, []byte(`"elective"`), []byte(`"electric"`), 1), 0o600); err != nil {
		t.Fatal(err)
	}
	code, out, errs := desk(t, "check", "--data", dir)
	if code != 1 || errs != "" || !strings.Contains(out, "(log ") || !strings.Contains(out, "wrong") {
		t.Errorf("exit code %d, printed %q and %q", code, out, errs)
	}
}

// files reads what an export wrote, but for the PDFs, whose date is the day's.
func files(t *testing.T, dir string) map[string]string {
	t.Helper()
	all := map[string]string{}
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		data, err := os.ReadFile(filepath.Join(dir, e.Name()))
		if err != nil {
			t.Fatal(err)
		}
		if e.Name() == "manifest.json" {
			continue // it has the sums of the papers
		}
		if filepath.Ext(e.Name()) == ".pdf" {
			if !bytes.HasPrefix(data, []byte("%PDF-")) {
				t.Errorf("%s is no PDF", e.Name())
			}
			continue
		}
		all[e.Name()] = string(data)
	}
	return all
}

// well runs the command and wants all to be well.
func well(t *testing.T, args ...string) (stdout string) {
	t.Helper()
	code, out, errs := desk(t, args...)
	if code != 0 || errs != "" {
		t.Fatalf("desk %v: exit code %d\n%s\n%s", args, code, out, errs)
	}
	return out
}

func TestOutAndInAgain(t *testing.T) {
	first := withCase(t)
	for _, private := range []bool{false, true} {
		flags := []string{"--private"}[:map[bool]int{false: 0, true: 1}[private]]
		out1, out2, second := t.TempDir(), t.TempDir(), filepath.Join(t.TempDir(), "new")
		printed := well(t, append([]string{"export", "--data", first, "--to", out1}, flags...)...)
		lines := filepath.Join(out1, "lines.jsonl")
		if !strings.Contains(printed, lines) {
			t.Errorf("the files are not named:\n%s", printed)
		}
		if out := well(t, "check", lines); !strings.Contains(out, "All is well") {
			t.Errorf("check of the file: %s", out)
		}
		if out := well(t, "replay", lines, "--data", second); !strings.Contains(out, ", 0 already here, 1 case changed") {
			t.Errorf("replay: %s", out)
		}
		if out := well(t, "replay", lines, lines, "--data", second); strings.Count(out, " 0 new lines, ") != 2 {
			t.Errorf("replay of what is here: %s", out)
		}
		well(t, "check", "--data", second)
		well(t, append([]string{"export", "--data", second, "--to", out2}, flags...)...)
		one, two := files(t, out1), files(t, out2)
		if len(one) < 5 || len(one) != len(two) {
			t.Errorf("%d files, then %d", len(one), len(two))
		}
		for name, text := range one {
			if two[name] != text {
				t.Errorf("private %v: %s changed on its way out and in:\n%s\n%s", private, name, text, two[name])
			}
			for _, secret := range []string{"Invented Person", "an invented note"} {
				if !private && strings.Contains(text, secret) {
					t.Errorf("%s gives away %q", name, secret)
				}
			}
		}
		if private && (!strings.Contains(one["lines.jsonl"], "Invented Person") || !strings.Contains(one["events.csv"], "'=an invented note")) {
			t.Errorf("what was asked for is not in the files:\n%s", one["events.csv"])
		}
	}
}

func TestExportOfOneCase(t *testing.T) {
	dir, out := withCase(t), t.TempDir()
	all := well(t, "export", "--data", dir, "--to", out)
	var id string
	for line := range strings.Lines(files(t, out)["cases.csv"]) {
		id, _, _ = strings.Cut(line, ",")
	}
	if id == "" || !strings.Contains(all, ".pdf") {
		t.Fatalf("no case in the export:\n%s", all)
	}
	one := t.TempDir()
	well(t, "export", "--data", dir, "--to", one, "--case", id)
	if out := well(t, "check", filepath.Join(one, "lines.jsonl")); !strings.Contains(out, "Continuity is not known") {
		t.Errorf("check of one case: %s", out)
	}
	// A drawn record of an earlier export stays, and is named.
	old := filepath.Join(one, "record-00000000.pdf")
	if err := os.WriteFile(old, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	if out := well(t, "export", "--data", dir, "--to", one, "--case", id); !strings.Contains(out, "earlier export") || strings.Count(out, "record-00000000.pdf") != 1 {
		t.Errorf("of an older drawn record it says: %s", out)
	}
	nowhere := filepath.Join(t.TempDir(), "nowhere")
	if code, _, errs := desk(t, "export", "--data", dir, "--to", nowhere, "--case", "no-such-case"); code != 1 || !strings.Contains(errs, "no-such-case") {
		t.Errorf("a case that is not here: exit code %d, %q", code, errs)
	}
	if _, err := os.Stat(nowhere); err == nil {
		t.Error("an export of nothing made a folder")
	}
}

func TestReplayOfADamagedFile(t *testing.T) {
	dir, out := withCase(t), t.TempDir()
	well(t, "export", "--data", dir, "--to", out)
	text := files(t, out)["lines.jsonl"]
	n := strings.Count(text, "\n")
	if strings.Count(text, `"92 /min"`) != 1 || n < 4 {
		t.Fatalf("the export is not what this test is made for:\n%s", text)
	}
	// One value is changed, one line is no line, and the last is cut short.
	text = "not a line\n" + strings.Replace(text, `"92 /min"`, `"29 /min"`, 1)
	text = text[:len(text)-20]
	bad := filepath.Join(t.TempDir(), "bad.jsonl")
	if err := os.WriteFile(bad, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	second := filepath.Join(t.TempDir(), "new")
	code, printed, errs := desk(t, "replay", bad, "--data", second)
	if code != 1 || errs != "" || !strings.Contains(printed, "3 lines were not taken in") || !strings.Contains(printed, "line 1:") ||
		!strings.Contains(printed, fmt.Sprintf("%d new lines", n-2)) {
		t.Errorf("exit code %d, printed %q and %q; want %d lines taken in and 3 not", code, printed, errs, n-2)
	}
	if code, printed, errs := desk(t, "check", bad); code != 1 || errs != "" || !strings.Contains(printed, "line 1:") || !strings.Contains(printed, "does not match its hash") {
		t.Errorf("check of the file: exit code %d, printed %q and %q", code, printed, errs)
	}

	nowhere := filepath.Join(t.TempDir(), "nowhere")
	if code, _, errs := desk(t, "replay", bad, filepath.Join(out, "no-such-file"), "--data", nowhere); code != 1 || !strings.Contains(errs, "no-such-file") {
		t.Errorf("a file that is not there: exit code %d, %q", code, errs)
	}
	if _, err := os.Stat(nowhere); err == nil {
		t.Error("a replay of nothing made a folder")
	}
}

// A companion that serves a folder does not keep it from being exported, and
// its screens make the same files.
func TestExportBesideACompanion(t *testing.T) {
	dir := withCase(t)
	cmd, address, _ := process(t, dir)
	out := t.TempDir()
	well(t, "export", "--data", dir, "--to", out)
	want := files(t, out)["vitals.csv"]
	id, _, _ := strings.Cut(strings.Split(want, "\n")[1], ",")
	if status, body := get(t, address+"case/"+id+"/files/vitals.csv"); status != 200 || body != want {
		t.Errorf("vitals.csv from the screen: %d\n%s\nwant\n%s", status, body, want)
	}
	if status, body := get(t, address+"case/"+id+"/files/record.pdf"); status != 200 || !strings.HasPrefix(body, "%PDF-") {
		t.Errorf("record.pdf from the screen: %d", status)
	}
	if err := cmd.Process.Signal(os.Interrupt); err != nil {
		t.Fatal(err)
	}
	if err := cmd.Wait(); err != nil {
		t.Error(err)
	}
}

// One folder has one installation, by whatever way it is named, and no copy
// has the same.
func TestInstallation(t *testing.T) {
	t.Setenv("XDG_STATE_HOME", t.TempDir())
	get := func(dir string) string {
		t.Helper()
		in, err := installationOf(dir)
		if err != nil {
			t.Fatal(err)
		}
		return in.Token()
	}
	dir := t.TempDir()
	first := get(dir)
	if err := os.Symlink(dir, dir+"-too"); err != nil {
		t.Fatal(err)
	}
	if get(dir) != first || get(dir+"-too") != first {
		t.Error("the folder by another name is another one")
	}
	dup := t.TempDir()
	if err := os.CopyFS(dup, os.DirFS(dir)); err != nil {
		t.Fatal(err)
	}
	if get(dup) == first {
		t.Error("a copied folder passes for the original")
	}
}

// Where nothing can be kept, the companion runs, and says what follows.
func TestNothingCanBeKept(t *testing.T) {
	file := filepath.Join(t.TempDir(), "file")
	if err := os.WriteFile(file, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	t.Setenv("XDG_STATE_HOME", filepath.Join(file, "below"))
	if code, errs := serveOnce(t, "--data", t.TempDir()); code != 0 || !strings.Contains(errs, "cannot be kept") {
		t.Errorf("exit code %d, %q", code, errs)
	}
}

// note records a note, and gives what the command said at its start.
func note(t *testing.T, dir, text string) (said string) {
	t.Helper()
	var errs bytes.Buffer
	c := command{words: word.English(), out: io.Discard, err: &errs}
	companion, err := c.open(t.Context(), dir)
	if err != nil {
		t.Fatal(err)
	}
	cases, err := companion.OpenCases(t.Context())
	if err != nil || len(cases) == 0 {
		t.Fatalf("%d cases, %v", len(cases), err)
	}
	f := core.Form{ID: core.NewID(), Case: cases[0].ID, Kind: "note", Fields: map[string][]string{"text": {text}}}
	if _, err := companion.Submit(t.Context(), f); err != nil {
		t.Fatal(err)
	}
	if err := companion.Close(); err != nil {
		t.Fatal(err)
	}
	return errs.String()
}

// A backup is copied back over the folder, file by file, as cp -a does it: the
// files stay the same ones.
func TestBackupPutBackOverTheFolder(t *testing.T) {
	dir, backup := withCase(t), t.TempDir()
	if err := os.CopyFS(backup, os.DirFS(dir)); err != nil {
		t.Fatal(err)
	}
	if said := note(t, dir, "after the backup"); said != "" {
		t.Errorf("an untouched folder: %s", said)
	}
	newer := t.TempDir()
	well(t, "export", "--data", dir, "--to", newer, "--private")
	for _, name := range []string{"chinlift.db", "lock"} {
		data, err := os.ReadFile(filepath.Join(backup, name))
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(dir, name), data, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	if _, errs := serveOnce(t, "--data", dir); !strings.Contains(errs, "put back to an older state") {
		t.Errorf("a start without an entry: %q", errs)
	}
	if said := note(t, dir, "after the restore"); !strings.Contains(said, "put back to an older state") {
		t.Errorf("the restore is not noticed: %q", said)
	}
	if said := note(t, dir, "one more"); said != "" {
		t.Errorf("said twice: %q", said)
	}
	// What was lost comes in by the newer export, and nothing is set aside.
	if out := well(t, "replay", filepath.Join(newer, "lines.jsonl"), "--data", dir); strings.Contains(out, "claim") {
		t.Errorf("replay: %s", out)
	}
	if out := well(t, "check", "--data", dir); !strings.Contains(out, "2 logs") {
		t.Errorf("check: %s", out)
	}
	to := t.TempDir()
	well(t, "export", "--data", dir, "--to", to, "--private")
	for _, text := range []string{"after the backup", "after the restore", "one more"} {
		if !strings.Contains(files(t, to)["events.csv"], text) {
			t.Errorf("%q is lost", text)
		}
	}
}

func TestCopiedFolder(t *testing.T) {
	dir, dup := withCase(t), t.TempDir()
	if err := os.CopyFS(dup, os.DirFS(dir)); err != nil {
		t.Fatal(err)
	}
	if said := note(t, dup, "in the copy"); !strings.Contains(said, "copied or moved") {
		t.Errorf("a copied folder: %q", said)
	}
	if said := note(t, dir, "in the original"); said != "" {
		t.Errorf("the original: %q", said)
	}
	to := t.TempDir()
	well(t, "export", "--data", dup, "--to", to)
	if out := well(t, "replay", filepath.Join(to, "lines.jsonl"), "--data", dir); strings.Contains(out, "claim") {
		t.Errorf("replay: %s", out)
	}
	well(t, "check", "--data", dir)
}

func TestDataFolder(t *testing.T) {
	c := command{words: word.English()}
	t.Setenv("XDG_DATA_HOME", "/somewhere")
	t.Setenv("HOME", "/nowhere/nobody")
	for _, tt := range []struct{ xdg, named, want string }{
		{"/somewhere", "/named", "/named"},
		{"/somewhere", "", "/somewhere/chinlift"},
		{"relative", "", "/nowhere/nobody/.local/share/chinlift"},
		{"", "", "/nowhere/nobody/.local/share/chinlift"},
	} {
		t.Setenv("XDG_DATA_HOME", tt.xdg)
		if got, err := c.folder(tt.named); err != nil || got != tt.want {
			t.Errorf("folder(%q) with XDG_DATA_HOME=%q = %q, %v; want %q", tt.named, tt.xdg, got, err, tt.want)
		}
	}
	t.Setenv("HOME", "")
	if code, _, errs := desk(t, "check"); code != 2 || !strings.Contains(errs, "--data DIR") {
		t.Errorf("without a home: exit code %d, %q", code, errs)
	}
}

func TestPortTaken(t *testing.T) {
	c := command{words: word.English()}
	var all []net.Listener
	ports := map[string]bool{}
	for range 3 {
		l, err := c.listen(t.Context(), "")
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, l)
		ports[l.Addr().String()] = true
		if !strings.HasPrefix(l.Addr().String(), "127.0.0.1:") {
			t.Errorf("listens on %s", l.Addr())
		}
	}
	if len(ports) != 3 {
		t.Errorf("3 companions listen on %d ports", len(ports))
	}
	// A port that was asked for is not changed in silence.
	if l, err := c.listen(t.Context(), all[0].Addr().String()); err == nil {
		t.Errorf("listens on %s, which is taken", l.Addr())
	}
	for _, l := range all {
		l.Close()
	}
}

// process starts the command as a process of its own, and gives the address
// that it prints.
func process(t *testing.T, dir string) (cmd *exec.Cmd, address string, out *bufio.Reader) {
	t.Helper()
	cmd = exec.CommandContext(t.Context(), os.Args[0], "--data", dir, "--addr", "127.0.0.1:0")
	cmd.Env = append(os.Environ(), "CHINLIFT_TEST_AS_DESK=1")
	pipe, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	out = bufio.NewReader(pipe)
	line, err := out.ReadString('\n')
	if err != nil {
		t.Fatalf("no address was printed: %v", err)
	}
	address, ok := strings.CutPrefix(strings.TrimSpace(line), "Chinlift: ")
	if !ok {
		t.Fatalf("printed %q", line)
	}
	return cmd, address, out
}

func get(t *testing.T, address string) (status int, body string) {
	t.Helper()
	req, err := http.NewRequestWithContext(t.Context(), http.MethodGet, address, nil)
	if err != nil {
		t.Fatal(err)
	}
	resp, err := http.DefaultClient.Do(req)
	if err != nil {
		t.Fatal(err)
	}
	defer resp.Body.Close()
	data, err := io.ReadAll(resp.Body)
	if err != nil {
		t.Fatal(err)
	}
	return resp.StatusCode, string(data)
}

func TestServeAndStop(t *testing.T) {
	for _, signal := range []os.Signal{os.Interrupt, syscall.SIGTERM} {
		dir := filepath.Join(t.TempDir(), "data")
		cmd, address, out := process(t, dir)
		if status, body := get(t, address); status != 200 || !strings.Contains(body, "Chinlift") {
			t.Errorf("GET %s: %d, %q", address, status, body)
		}
		host, _, _ := strings.Cut(strings.TrimPrefix(address, "http://"), "/")
		if status, body := get(t, "http://"+host+"/"); status != 403 || strings.Contains(body, "<") {
			t.Errorf("without the token: %d, %q", status, body)
		}
		// A second companion on the folder is refused, and the first goes on.
		if code, _, errs := desk(t, "serve", "--data", dir); code != 1 || !strings.Contains(errs, "Another companion is running") {
			t.Errorf("second companion: exit code %d, %q", code, errs)
		}
		// A check may run beside it.
		if code, _, errs := desk(t, "check", "--data", dir); code != 0 {
			t.Errorf("check beside it: exit code %d, %q", code, errs)
		}
		if err := cmd.Process.Signal(signal); err != nil {
			t.Fatal(err)
		}
		rest, err := io.ReadAll(out)
		if err != nil {
			t.Fatal(err)
		}
		if err := cmd.Wait(); err != nil || !strings.Contains(string(rest), "Closed") {
			t.Errorf("after %v: %v, printed %q", signal, err, rest)
		}
		info, err := os.Stat(filepath.Join(dir, "chinlift.db"))
		if err != nil {
			t.Fatal(err)
		}
		if info.Mode().Perm()&0o077 != 0 {
			t.Errorf("other users may read the database: %v", info.Mode())
		}
	}
}

// serveOnce serves until the address is printed, and gives the exit code and
// what went wrong.
func serveOnce(t *testing.T, args ...string) (code int, errs string) {
	t.Helper()
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	var stderr bytes.Buffer
	c := command{words: word.English(), out: writerFunc(func(b []byte) { cancel() }), err: &stderr}
	code = c.run(ctx, append([]string{"serve", "--addr", "127.0.0.1:0"}, args...))
	return code, stderr.String()
}

type writerFunc func([]byte)

func (f writerFunc) Write(b []byte) (int, error) { f(b); return len(b), nil }

func TestDemo(t *testing.T) {
	t.Setenv("XDG_DATA_HOME", t.TempDir())
	for range 2 { // a second time it is there already
		if code, errs := serveOnce(t, "--demo"); code != 0 {
			t.Fatalf("exit code %d, %s", code, errs)
		}
	}
	// It keeps away from the folder of the real cases.
	own := filepath.Join(os.Getenv("XDG_DATA_HOME"), "chinlift")
	if _, err := os.Stat(own); err == nil {
		t.Error("the invented cases went into the user's own folder")
	}
	well(t, "check", "--data", own+"-demo")
	out := t.TempDir()
	well(t, "export", "--data", own+"-demo", "--to", out)
	for _, id := range []string{demo.Hernia, demo.Abscess, demo.Caesarean} {
		if !strings.Contains(files(t, out)["cases.csv"], "\n"+id+",") {
			t.Errorf("case %s is not there", id)
		}
	}

	real := withCase(t)
	before := well(t, "check", "--data", real)
	if code, errs := serveOnce(t, "--demo", "--data", real); code != 2 || !strings.Contains(errs, "do not go among them") {
		t.Errorf("among real cases: exit code %d, %q", code, errs)
	}
	if after := well(t, "check", "--data", real); after != before {
		t.Errorf("a refused demo changed the folder from %q to %q", before, after)
	}
}

func TestEndedBeforeItBegan(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	var errs bytes.Buffer
	c := command{words: word.English(), out: io.Discard, err: &errs}
	if code := c.run(ctx, []string{"serve", "--data", t.TempDir()}); code != 1 || errs.Len() == 0 {
		t.Errorf("exit code %d, %q", code, errs.String())
	}
}
