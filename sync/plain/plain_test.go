package plain

import (
	"bytes"
	"encoding/csv"
	"errors"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"chinlift/core"
	"chinlift/core/must"
	"chinlift/core/term"
	"chinlift/core/timeline"
	"chinlift/core/word"
)

var update = flag.Bool("update", false, "write the golden files anew")

type fakeClock struct {
	wall  time.Time
	since time.Duration
}

func (f *fakeClock) Now() core.Reading {
	return core.Reading{Wall: f.wall, Zone: "Etc/GMT-3", SinceBoot: f.since, Boot: "boot-1"}
}

func (f *fakeClock) pass(d time.Duration) { f.wall, f.since = f.wall.Add(d), f.since+d }

func companion(t testing.TB) (*core.Companion, *fakeClock) {
	t.Helper()
	clock := &fakeClock{time.Date(2026, 3, 2, 8, 0, 0, 0, time.FixedZone("", 3*3600)), time.Hour}
	c, err := core.Open(t.Context(), core.Options{Dir: t.TempDir(), Installation: "here", Clock: clock, Words: word.English()})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { c.Close() })
	return c, clock
}

func form(caseID, kind string, fields ...string) core.Form {
	f := core.Form{ID: core.NewID(), Case: caseID, Kind: kind, Fields: map[string][]string{}}
	for i := 0; i < len(fields); i += 2 {
		f.Fields[fields[i]] = append(f.Fields[fields[i]], fields[i+1])
	}
	return f
}

// small records a small story with every way in which an entry can stand.
func small(t testing.TB, c *core.Companion, clock *fakeClock) (one, two string) {
	t.Helper()
	open := func(name string) string {
		id, _, err := c.OpenCase(t.Context(), core.Form{ID: core.NewID(), Fields: map[string][]string{"name": {name}, "age": {"34"}, "age_unit": {"a"}, "weight": {"52"}, "weight_how": {"guessed"}, "weight_by": {"eye"}}})
		if err != nil {
			t.Fatal(err)
		}
		return id
	}
	submit := func(caseID, kind string, fields ...string) string {
		d, err := c.Submit(t.Context(), form(caseID, kind, fields...))
		if err != nil {
			t.Fatal(err)
		}
		clock.pass(time.Minute)
		return d.Lines[0].Event.ID
	}
	one, two = open("=Invented, \"Person\"\r\n@home"), open("Élodie Ŋ 名")
	submit(one, "baseline", "systolic", "120", "diastolic", "80")
	submit(one, "phase", "phase", "anaesthesia-start")
	v := submit(one, "vitals", "systolic", "110", "diastolic", "70", "pulse", "88")
	submit(one, "vitals", "systolic", "115", "diastolic", "70", "pulse", "88", "amends", v, "heads", v, "reason", "mistyped")
	s := submit(one, "drug", "drug", "ketamine", "dose", "50", "dose_unit", "mg", "route", "iv")
	must.Get[core.Done](t)(c.Strike(t.Context(), core.NewID(), one, s, []string{s}, term.ReasonTappedByMistake))
	m := submit(one, "vitals", "pulse", "99")
	must.Get[core.Done](t)(c.Move(t.Context(), core.NewID(), one, two, m, []string{m}))
	n := submit(two, "note", "text", "+1 (a formula)")
	submit(two, "note", "text", "one", "amends", n, "heads", n, "reason", "mistyped")
	submit(two, "note", "text", "two, at the same time", "amends", n, "heads", n, "reason", "mistyped")
	submit(two, "agent", "agent", "ether", "drops", "60", "oxygen", "1", "cover", "on")
	submit(two, "in", "what", "compound-lactate", "volume", "500")
	submit(two, "outcome", "outcome", "recovered")
	submit(two, "case-closed")
	return one, two
}

// export writes everything and gives the files.
func export(t testing.TB, c *core.Companion, o Options) map[string][]byte {
	t.Helper()
	dir := t.TempDir()
	o.Made = time.Date(2026, 3, 2, 12, 0, 0, 0, time.UTC)
	names := must.Get[[]string](t)(Export(t.Context(), c, dir, o))
	files := map[string][]byte{}
	for _, n := range names {
		files[n] = must.Get[[]byte](t)(os.ReadFile(filepath.Join(dir, n)))
	}
	if entries := must.Get[[]os.DirEntry](t)(os.ReadDir(dir)); len(entries) != len(names) {
		t.Errorf("%d files lie in the folder, %d were named", len(entries), len(names))
	}
	return files
}

func TestExportReplayExport(t *testing.T) {
	c, clock := companion(t)
	one, _ := small(t, c, clock)
	for _, o := range []Options{{Private: true}, {}, {Private: true, Case: one}, {Case: one}} {
		t.Run(fmt.Sprintf("%+v", o), func(t *testing.T) {
			first := export(t, c, o)
			again, _ := companion(t)
			res := must.Get[Replayed](t)(Replay(t.Context(), bytes.NewReader(first["lines.jsonl"]), again))
			if len(res.Unread) > 0 || len(res.Refused) > 0 || res.New == 0 {
				t.Fatalf("replay: %+v", res)
			}
			second := export(t, again, o)
			for _, name := range Names() {
				if !bytes.Equal(first[name], second[name]) {
					t.Errorf("%s differs after a replay:\n%s\n---\n%s", name, first[name], second[name])
				}
			}
			twice := must.Get[Replayed](t)(Replay(t.Context(), bytes.NewReader(first["lines.jsonl"]), again))
			if twice.New != 0 || twice.Known != res.New {
				t.Errorf("a second replay: %+v", twice.Merged)
			}
			checked := must.Get[Checked](t)(Check(bytes.NewReader(first["lines.jsonl"])))
			want := "whole"
			if o.Case != "" {
				want = "not-known"
			}
			if len(checked.Findings) != 0 || checked.Continuity != want {
				t.Errorf("check: %+v", checked.Report)
			}
		})
	}
}

// TestPrivateStaysIn: without the private part no name and no free text goes
// out, in any file, nor does any file's name hold one.
func TestPrivateStaysIn(t *testing.T) {
	c, clock := companion(t)
	small(t, c, clock)
	for name, data := range export(t, c, Options{}) {
		if strings.HasSuffix(name, ".pdf") || texts(FormPublic)[name] != nil {
			continue // its text is compressed: see TestSheetWithoutPrivate; or it is the same for all
		}
		for _, secret := range []string{"Invented", "Élodie", "formula", "same time"} {
			if bytes.Contains(data, []byte(secret)) || strings.Contains(name, secret) {
				t.Errorf("%s holds %q", name, secret)
			}
		}
	}
	all := export(t, c, Options{Private: true})
	if !bytes.Contains(all["events.csv"], []byte("a formula")) || !bytes.Contains(all["lines.jsonl"], []byte("Élodie")) {
		t.Error("with the private part names and text go out")
	}
}

// TestTables reads the tables back and looks at how entries stand.
func TestTables(t *testing.T) {
	c, clock := companion(t)
	one, two := small(t, c, clock)
	files := export(t, c, Options{Private: true})
	table := func(name string) []map[string]string {
		if !bytes.Contains(files[name], []byte("\r\n")) {
			t.Errorf("%s does not end its lines by CRLF", name)
		}
		rows := must.Get[[][]string](t)(csv.NewReader(bytes.NewReader(files[name])).ReadAll())
		var all []map[string]string
		for _, r := range rows[1:] {
			m := map[string]string{}
			for i, h := range rows[0] {
				m[h] = r[i]
			}
			all = append(all, m)
		}
		return all
	}
	var got []string
	for _, r := range table("vitals.csv") {
		got = append(got, strings.Join([]string{map[string]string{one: "one", two: "two"}[r["case"]], r["systolic"], r["pulse"], r["standing"], fmt.Sprint(r["superseded_by"] != "")}, " "))
	}
	want := []string{"one 120  current false", "one 110 88 superseded true", "one 115 88 current false", "one  99 superseded true", "one  99 moved false", "two  99 superseded true", "two  99 current false"}
	if !slices.Equal(got, want) {
		t.Errorf("vitals:\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
	drugs := table("drugs.csv")
	if drugs[0]["name"] != "ketamine" || drugs[0]["standing"] != "superseded" || drugs[1]["standing"] != "struck" || drugs[0]["amount"] != "50" || drugs[0]["amount_unit"] != "mg" {
		t.Errorf("drugs: %v", drugs)
	}
	disputed := 0
	for _, r := range table("events.csv") {
		if r["standing"] == "disputed" {
			disputed++
		}
		if r["text"] == "+1 (a formula)" {
			t.Error("a formula was not defused")
		}
	}
	if disputed != 1 {
		t.Errorf("%d disputed lines, want 1", disputed)
	}
	cases := table("cases.csv")
	if len(cases) != 2 {
		t.Fatalf("%d cases", len(cases))
	}
	for _, r := range cases {
		if r["case"] == one && (!strings.HasPrefix(r["name"], "'=") || r["weight_how"] != "guessed" || r["anaesthesia_start"] == "") {
			t.Errorf("case one: %v", r)
		}
		if r["case"] == two && (r["outcome"] != "recovered" || r["closed"] != "yes" || r["conflicts"] != "1") {
			t.Errorf("case two: %v", r)
		}
	}
}

func TestGoldenHeads(t *testing.T) {
	var b bytes.Buffer
	for _, tb := range Tables() {
		fmt.Fprintf(&b, "%s.csv: %s\n", tb.Name, strings.Join(tb.Header, ","))
	}
	path := filepath.Join("testdata", "heads.txt")
	if *update {
		if err := os.WriteFile(path, b.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if want := must.Get[[]byte](t)(os.ReadFile(path)); !bytes.Equal(b.Bytes(), want) {
		t.Errorf("the columns changed; programs of others read them:\n%s", b.Bytes())
	}
}

func TestDefuse(t *testing.T) {
	for in, want := range map[string]string{"": "", "plain": "plain", "=1+1": "'=1+1", "+1": "'+1", "-5": "-5", "-5.25": "-5.25", "-x": "'-x", "@a": "'@a", "\tx": "'\tx", "\rx": "'\rx", "\nx": "'\nx", "＝1": "'＝1", "-1-1": "'-1-1", "-.5": "'-.5", "'a": "''a", "1=2": "1=2"} {
		if got := defuse(in); got != want {
			t.Errorf("defuse(%q) = %q, want %q", in, got, want)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		s := rapid.String().Draw(t, "cell")
		d := defuse(s)
		if back := strings.TrimPrefix(d, "'"); d != s && back != s {
			t.Fatalf("taking the apostrophe away from %q does not give %q", d, s)
		}
		if d != "" && strings.ContainsRune("=+@\t\r", rune(d[0])) {
			t.Fatalf("%q still begins as a formula", d)
		}
	})
}

func TestReadLinesGoesOn(t *testing.T) {
	c, clock := companion(t)
	small(t, c, clock)
	good := export(t, c, Options{Private: true})["lines.jsonl"]
	lines := bytes.SplitAfter(bytes.TrimSuffix(good, []byte("\n")), []byte("\n"))
	read := func(data []byte) (n int, bad []int) {
		for _, err := range ReadLines(bytes.NewReader(data)) {
			var le *LineError
			switch {
			case errors.As(err, &le):
				bad = append(bad, le.Number)
			case err != nil:
				t.Fatal(err)
			default:
				n++
			}
		}
		return n, bad
	}
	if n, bad := read(append([]byte("\xef\xbb\xbf"), bytes.ReplaceAll(good, []byte("\n"), []byte("\r\n\r\n"))...)); n != len(lines) || bad != nil {
		t.Errorf("with a byte order mark, CRLF and blank lines: %d of %d, bad %v", n, len(lines), bad)
	}
	broken := slices.Clone(lines)
	broken[2] = []byte("{\"e\":nonsense}\n")
	if n, bad := read(bytes.Join(broken, nil)); n != len(lines)-1 || !slices.Equal(bad, []int{3}) {
		t.Errorf("with a broken third line: %d, bad %v", n, bad)
	}
	if n, bad := read(good[:len(good)-20]); n != len(lines)-1 || !slices.Equal(bad, []int{len(lines)}) {
		t.Errorf("cut off: %d, bad %v", n, bad)
	}
	if n, bad := read(append(bytes.Repeat([]byte("x"), longest+10), append([]byte("\n"), good...)...)); n != len(lines) || !slices.Equal(bad, []int{1}) {
		t.Errorf("after a line that is too long: %d, bad %v", n, bad)
	}
	if n, bad := read(append(slices.Clone(good), bytes.Repeat([]byte("x"), longest+10)...)); n != len(lines) || !slices.Equal(bad, []int{len(lines) + 1}) {
		t.Errorf("before a last line that is too long and cut off: %d, bad %v", n, bad)
	}
	// A changed letter is found by the check and refused by the replay.
	changed := bytes.Replace(good, []byte(`"110 mm[Hg]"`), []byte(`"150 mm[Hg]"`), 1)
	if r := must.Get[Checked](t)(Check(bytes.NewReader(changed))); len(r.Findings) == 0 || r.Findings[0].Code != "damaged" {
		t.Errorf("a changed value: %+v", r.Findings)
	}
	other, _ := companion(t)
	if r := must.Get[Replayed](t)(Replay(t.Context(), bytes.NewReader(changed), other)); len(r.Refused) != 1 || !errors.Is(r.Refused[0].Err, timeline.ErrDamaged) {
		t.Errorf("replay of a changed value: %+v", r.Refused)
	}
}

func FuzzReadLines(f *testing.F) {
	f.Add(must.Get[[]byte](f)(os.ReadFile(filepath.Join("testdata", "story.jsonl"))))
	f.Add([]byte("{\"e\":{},\"h\":\"\"}\n\n{"))
	f.Fuzz(func(t *testing.T, data []byte) {
		for l, err := range ReadLines(bytes.NewReader(data)) {
			if err != nil {
				continue
			}
			// What is read is written back as it stood, and reads the same.
			var b bytes.Buffer
			if err := WriteLines(&b, func(yield func(*timeline.Line, error) bool) { yield(l, nil) }, true); err != nil {
				t.Fatal(err)
			}
			n := 0
			for again, err := range ReadLines(&b) {
				if err != nil || !bytes.Equal(again.E, l.E) || !bytes.Equal(again.P, l.P) || again.H != l.H {
					t.Fatalf("%v: %q", err, l.Bytes(true))
				}
				n++
			}
			if n != 1 {
				t.Fatalf("one line was read back as %d", n)
			}
		}
	})
}
