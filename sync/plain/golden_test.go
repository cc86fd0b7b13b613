package plain

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"chinlift/core"
	"chinlift/core/must"
	"chinlift/core/record"
	"chinlift/core/term"
	"chinlift/core/timeline"
	"chinlift/testdata/demo"
)

// story is the file that the golden tables are made of: the small story, a
// correction whose root is missing, and two lines that claim one number.
func story(t *testing.T) []byte {
	t.Helper()
	path := filepath.Join("testdata", "story.jsonl")
	if _, err := os.Stat(path); !*update || err == nil {
		// Ids and salts are random: the file is made once, and stays.
		return must.Get[[]byte](t)(os.ReadFile(path))
	}
	c, clock := companion(t)
	one, _ := small(t, c, clock)
	data := export(t, c, Options{Private: true})["lines.jsonl"]
	var last *timeline.Line
	for l, err := range ReadLines(bytes.NewReader(data)) {
		if err != nil {
			t.Fatal(err)
		}
		last = l
	}
	seal := func(seq int64, prev timeline.Hash, amends, text string) *timeline.Line {
		d := timeline.Draft{ID: core.NewID(), Scope: timeline.ScopeCase, About: one, At: clock.Now().Moment(), Entered: clock.Now().Entered(),
			Author: last.Event.Author, Payload: &timeline.Note{}, Private: timeline.Private{timeline.PrivateText: text}, Amends: amends}
		if amends != "" {
			d.Replaces, d.Reason = []string{amends}, term.ReasonMistyped
		}
		l := must.Get[timeline.Line](t)(d.Seal(last.Event.Log, seq, seq, prev))
		data = append(append(data, l.Bytes(true)...), '\n')
		return &l
	}
	n := last.Event.Tick
	waiting := seal(n+1, last.H, core.NewID(), "waits for its root")
	first, second := seal(n+2, waiting.H, "", "claims a number"), seal(n+2, waiting.H, "", "claims it too")
	if first.Event.ID > second.Event.ID {
		t.Fatal("ids do not follow each other")
	}
	if err := os.WriteFile(path, data, 0o644); err != nil {
		t.Fatal(err)
	}
	return data
}

// taken gives a companion that has taken in the files.
func taken(t *testing.T, files ...[]byte) *core.Companion {
	t.Helper()
	c, _ := companion(t)
	for _, f := range files {
		if r := must.Get[Replayed](t)(Replay(t.Context(), bytes.NewReader(f), c)); len(r.Unread)+len(r.Refused) > 0 {
			t.Fatalf("replay: %+v", r)
		}
	}
	return c
}

func TestGoldenTables(t *testing.T) {
	data := story(t)
	for folder, private := range map[string]bool{"private": true, "public": false} {
		files := export(t, taken(t, data), Options{Private: private})
		if private && !bytes.Equal(files["lines.jsonl"], data) {
			t.Error("the lines went out otherwise than they came in")
		}
		for _, table := range Tables() {
			name := table.Name + ".csv"
			path := filepath.Join("testdata", folder, name)
			if *update {
				if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
					t.Fatal(err)
				}
				if err := os.WriteFile(path, files[name], 0o644); err != nil {
					t.Fatal(err)
				}
			}
			if want := must.Get[[]byte](t)(os.ReadFile(path)); !bytes.Equal(files[name], want) {
				t.Errorf("%s is not as it was; if that is meant, run with -update and look at the change:\n%s", path, files[name])
			}
		}
		standings := map[string]bool{}
		for _, row := range cells(t, files["events.csv"])[1:] {
			standings[row[16]] = true
		}
		// The line that moves an entry is listed where the entry went, so that
		// moved stands only in the tables of entries.
		for _, row := range cells(t, files["vitals.csv"])[1:] {
			standings[row[8]] = true
		}
		want := []string{standingAside, standingCurrent, standingDisputed, standingMoved, standingStruck, standingSuperseded, standingWaiting}
		slices.Sort(want)
		if got := slices.Sorted(maps.Keys(standings)); !slices.Equal(got, want) {
			t.Errorf("standings %v, want every one: %v", got, want)
		}
	}
}

// TestFormatExample sees to it that the line in FORMAT.md is a true one.
func TestFormatExample(t *testing.T) {
	n := 0
	for text := range bytes.Lines(must.Get[[]byte](t)(os.ReadFile("FORMAT.md"))) {
		if !bytes.HasPrefix(text, []byte(`{"e":{"v":`)) {
			continue
		}
		for l, err := range ReadLines(bytes.NewReader(text)) {
			if err != nil {
				t.Fatal(err)
			}
			if err := l.Verify(); err != nil {
				t.Error(err)
			}
			n++
		}
	}
	if n != 1 {
		t.Errorf("%d example lines", n)
	}
}

// TestDemo takes three whole cases through a file and back, with every line
// in events.csv once.
func TestDemo(t *testing.T) {
	var files [][]byte
	all := demo.Files()
	for _, name := range slices.Sorted(maps.Keys(all)) {
		files = append(files, all[name])
	}
	c := taken(t, files...)
	for _, o := range []Options{{Private: true}, {}, {Private: true, Case: demo.Caesarean}, {Case: demo.Hernia}} {
		t.Run(fmt.Sprintf("%+v", o), func(t *testing.T) {
			first := export(t, c, o)
			second := export(t, taken(t, first["lines.jsonl"]), o)
			for _, name := range Names() {
				if !bytes.Equal(first[name], second[name]) {
					t.Errorf("%s differs after a replay", name)
				}
			}
			if o.Case != "" {
				return
			}
			var want, got []string
			for l, err := range ReadLines(bytes.NewReader(first["lines.jsonl"])) {
				if err != nil {
					t.Fatal(err)
				}
				want = append(want, string(l.H))
			}
			for _, row := range cells(t, first["events.csv"])[1:] {
				got = append(got, row[4])
			}
			slices.Sort(want)
			slices.Sort(got)
			if len(want) < 270 || !slices.Equal(got, want) { // three cases of 90 and more
				t.Errorf("events.csv has %d rows for %d lines", len(got), len(want))
			}
		})
	}
}

// TestSheetWithoutPrivate looks at what the PDF is drawn from.
func TestSheetWithoutPrivate(t *testing.T) {
	c, clock := companion(t)
	one, two := small(t, c, clock)
	for _, id := range []string{one, two} {
		for _, private := range []bool{true, false} {
			sheet := fmt.Sprintf("%+v", *must.Get[*record.Sheet](t)(c.SheetOf(t.Context(), id, private)))
			found := 0
			for _, secret := range []string{"Invented", "Élodie", "formula", "same time"} {
				if strings.Contains(sheet, secret) {
					found++
				}
			}
			if (found > 0) != private {
				t.Errorf("%s, private %v: %d secrets stand in the sheet", id, private, found)
			}
		}
	}
}

// cells reads a table by the letter of RFC 4180, keeping every byte.
func cells(t interface{ Fatalf(string, ...any) }, data []byte) [][]string {
	var rows [][]string
	var row []string
	for s := string(data); s != ""; {
		var cell string
		if strings.HasPrefix(s, `"`) {
			s = s[1:]
			for {
				part, rest, ok := strings.Cut(s, `"`)
				if !ok {
					t.Fatalf("a quote is not closed")
				}
				cell, s = cell+part, rest
				if !strings.HasPrefix(s, `"`) {
					break
				}
				cell, s = cell+`"`, s[1:]
			}
		} else {
			n := strings.IndexAny(s, ",\r\n\"")
			if n < 0 {
				t.Fatalf("a row is not ended")
			}
			cell, s = s[:n], s[n:]
		}
		row = append(row, cell)
		switch {
		case strings.HasPrefix(s, ","):
			s = s[1:]
		case strings.HasPrefix(s, "\r\n"):
			rows, row, s = append(rows, row), nil, s[2:]
		default:
			t.Fatalf("after a cell comes %.10q", s)
		}
	}
	return rows
}

func TestCellsComeBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.OneOf(rapid.String(), rapid.StringOfN(rapid.SampledFrom([]rune("=+-@＝\t\r\n\"', a名ع")), 0, 12, -1))
		row := rapid.SliceOfN(text, 2, 6).Draw(t, "row")
		b := appendRow(nil, row)
		if got := cells(t, b); len(got) != 1 || !slices.Equal(got[0], row) {
			t.Fatalf("%q came back as %q", row, got)
		}
		// A reader of the wide world reads the same but for CRLF in a cell.
		r := csv.NewReader(bytes.NewReader(b))
		got, err := r.Read()
		if err != nil {
			t.Fatal(err)
		}
		for i := range row {
			if want := strings.ReplaceAll(row[i], "\r\n", "\n"); got[i] != want {
				t.Fatalf("%q was read as %q", row[i], got[i])
			}
		}
	})
}

func TestLinesComeBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var lines []*timeline.Line
		prev, log, person := timeline.NoHash, core.NewID(), core.NewID()
		clock := &fakeClock{}
		clock.wall = clock.wall.AddDate(2025, 0, 0)
		for i := range rapid.IntRange(0, 20).Draw(t, "lines") {
			d := timeline.Draft{ID: core.NewID(), Scope: timeline.ScopeCase, About: person, At: clock.Now().Moment(), Entered: clock.Now().Entered(), Author: person,
				Payload: &timeline.Note{}, Private: timeline.Private{timeline.PrivateText: rapid.StringN(1, -1, 200).Draw(t, "text")}}
			l, err := d.Seal(log, int64(i+1), int64(i+1), prev)
			if err != nil {
				t.Fatal(err)
			}
			lines, prev = append(lines, &l), l.H
		}
		private := rapid.Bool().Draw(t, "private")
		write := func(lines []*timeline.Line) []byte {
			var b bytes.Buffer
			err := WriteLines(&b, func(yield func(*timeline.Line, error) bool) {
				for _, l := range lines {
					if !yield(l, nil) {
						return
					}
				}
			}, private)
			if err != nil {
				t.Fatal(err)
			}
			return b.Bytes()
		}
		data := write(lines)
		var back []*timeline.Line
		for l, err := range ReadLines(bytes.NewReader(data)) {
			if err != nil {
				t.Fatal(err)
			}
			if err := l.Verify(); err != nil {
				t.Fatal(err)
			}
			back = append(back, l)
		}
		if again := write(back); !bytes.Equal(again, data) || len(back) != len(lines) {
			t.Fatalf("%q\nwas written again as\n%q", data, again)
		}
	})
}

func TestNameOfACase(t *testing.T) {
	taken := map[string]bool{}
	for _, c := range []struct{ id, want string }{
		{demo.Hernia, "0000ca01"},
		{"019c4664-0000-7000-8001-00000000ca01", "0000ca01-2"},
	} {
		if got := shortName(c.id, taken); got != c.want {
			t.Errorf("%s: %s, want %s", c.id, got, c.want)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		id := rapid.OneOf(rapid.String(), rapid.Just("/../../x"), rapid.Just(`..\..\..\`)).Draw(t, "id")
		if name := shortName(id, map[string]bool{}); !filepath.IsLocal(name) || strings.ContainsAny(name, `/\:`) || len(name) != len("00000000") {
			t.Fatalf("%q makes the file %q", id, name)
		}
	})
}
