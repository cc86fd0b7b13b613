//go:build slow

package ui

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"chinlift/core/timeline"
)

// recordingFile is a whole case as the script of the screens sent it over the
// port, tap by tap. The shells' tests, whose web views run no page, play it
// into the shell.
var recordingFile = filepath.Join("..", "..", "testdata", "port", "whole-case.jsonl")

// recordedTap is one line of a recording: the text that came over the port, and
// what it makes of an empty record where the lines before were played into it.
type recordedTap struct {
	Message string   `json:"message"`
	Stored  int64    `json:"stored"`         // lines stored afterwards
	Go      string   `json:"go,omitempty"`   // page that the answer leads to
	Said    []string `json:"said,omitempty"` // in the last line: what the case then says, kind and data
}

// TestPortRecording performs the whole case in the browser, over the port, and
// compares what came over it with the recording; with -update it makes that
// anew. What is minted for each run, and how often a page was drawn, is no part
// of the comparison.
func TestPortRecording(t *testing.T) {
	s := new(shell)
	wholeCaseByClicks(newPhoneOver(t, s.carry, 360, 640))
	var made []recordedTap
	for _, call := range s.calls() {
		text, err := json.Marshal(call)
		if err != nil {
			t.Fatal(err)
		}
		made = append(made, recordedTap{Message: string(text)})
	}
	play(t, made)
	if *update {
		var b bytes.Buffer
		e := json.NewEncoder(&b)
		e.SetEscapeHTML(false)
		for _, r := range made {
			if err := e.Encode(r); err != nil {
				t.Fatal(err)
			}
		}
		if err := os.MkdirAll(filepath.Dir(recordingFile), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(recordingFile, b.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	got, want := neutral(t, made), neutral(t, readRecording(t))
	for i := range max(len(got), len(want)) {
		if i >= len(got) || i >= len(want) || got[i] != want[i] {
			t.Fatalf("tap %d is not the recorded one (make it anew with -update where the screens were meant to change):\n%s\n%s", i+1,
				strings.Join(got[min(i, len(got)):min(i+1, len(got))], ""), strings.Join(want[min(i, len(want)):min(i+1, len(want))], ""))
		}
	}
}

// TestPortRecordingPlays plays the recording into an empty record: it leads
// where it says.
func TestPortRecordingPlays(t *testing.T) {
	want := readRecording(t)
	got := slices.Clone(want)
	play(t, got)
	for i := range want {
		if got[i].Stored != want[i].Stored || got[i].Go != want[i].Go || !slices.Equal(got[i].Said, want[i].Said) {
			t.Fatalf("tap %d leads to\n%+v, want\n%+v", i+1, got[i], want[i])
		}
	}
}

// play sends each tap to new screens and notes what it makes.
func play(t *testing.T, taps []recordedTap) {
	t.Helper()
	u, c, _ := newUI(t)
	for i := range taps {
		var call portCall
		var send Send
		if err := strictly(taps[i].Message, &call); err != nil {
			t.Fatalf("tap %d: %v", i+1, err)
		}
		if err := strictly(string(call.Send), &send); err != nil {
			t.Fatalf("tap %d: %v", i+1, err)
		}
		a := u.Send(t.Context(), send)
		if a.Problem != nil {
			t.Fatalf("tap %d cannot be played: %+v\n%s", i+1, a.Problem, taps[i].Message)
		}
		taps[i].Stored, taps[i].Go = a.Seq, a.Go
	}
	if len(taps) == 0 {
		t.Fatal("nothing came over the port")
	}
	id := strings.Split(taps[0].Go, "/")
	if len(id) < 2 || id[0] != "case" {
		t.Fatalf("the first tap leads to %q, not to a case", taps[0].Go)
	}
	cs, err := c.Case(t.Context(), id[1])
	if err != nil {
		t.Fatal(err)
	}
	last := &taps[len(taps)-1]
	last.Said = nil
	for _, l := range cs.Story.Lines() {
		if l.Event.Scope == timeline.ScopeCase {
			last.Said = append(last.Said, string(l.Event.Kind)+" "+string(l.Event.Data))
		}
	}
}

func readRecording(t *testing.T) (taps []recordedTap) {
	t.Helper()
	file, err := os.ReadFile(recordingFile)
	if err != nil {
		t.Fatal(err)
	}
	for text := range bytes.Lines(file) {
		var r recordedTap
		if err := strictly(string(text), &r); err != nil {
			t.Fatalf("%v in %.200s", err, text)
		}
		taps = append(taps, r)
	}
	return taps
}

var (
	mintedID  = regexp.MustCompile(`[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}`)
	drawnPage = regexp.MustCompile(`\\?"(base|page|n)\\?":(\d+|\\?"[^"\\]*\\?")`)
)

// neutral gives each tap without what is minted for each run: an id stands as
// the number in which it came.
func neutral(t *testing.T, taps []recordedTap) (all []string) {
	t.Helper()
	seen := map[string]int{}
	for _, r := range taps {
		text, err := json.Marshal(r)
		if err != nil {
			t.Fatal(err)
		}
		plain := drawnPage.ReplaceAllString(string(text), "$1")
		all = append(all, mintedID.ReplaceAllStringFunc(plain, func(id string) string {
			if _, ok := seen[id]; !ok {
				seen[id] = len(seen) + 1
			}
			return "id" + strconv.Itoa(seen[id])
		}))
	}
	return all
}
