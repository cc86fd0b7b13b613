package ui

import (
	"bytes"
	"io/fs"
	"regexp"
	"strings"
	"testing"

	"chinlift/core/term"
)

// maxScript bounds the script: 12 KB, as it is served.
const maxScript = 12 << 10

func TestScriptIsSmall(t *testing.T) {
	script := asset("/static/chinlift.js").Body
	if whole, err := files.ReadFile("static/chinlift.js"); err != nil || bytes.Count(whole, []byte("`"))%2 != 0 || !bytes.Contains(script, []byte("visibilitychange")) || bytes.Contains(script, []byte("\n\n")) {
		t.Errorf("the script as it is served: %v\n%s", err, script)
	}
	if len(script) > maxScript {
		t.Errorf("the script has %d bytes, and may have %d", len(script), maxScript)
	}
}

// foreign matches what would make a web view ask somebody else: an address
// with a host, of any scheme or of that of the page.
var foreign = regexp.MustCompile(`(?i)[a-z][a-z0-9+.-]*://[^\s"'<>)]*|["'(=]\s*//[^\s"'<>)]+`)

// namespaces name a vocabulary. Nobody is asked for them.
var namespaces = map[string]bool{"http://www.w3.org/2000/svg": true, "http://www.w3.org/1999/xlink": true}

// others lists the addresses in a text.
func others(text string) []string {
	var all []string
	for _, a := range foreign.FindAllString(text, -1) {
		if !namespaces[a] {
			all = append(all, a)
		}
	}
	return all
}

func TestNoOtherHost(t *testing.T) {
	seen := 0
	if err := fs.WalkDir(files, ".", func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		seen++
		b, err := files.ReadFile(path)
		if found := others(string(b)); len(found) > 0 {
			t.Errorf("%s names another host: %q", path, found)
		}
		return err
	}); err != nil {
		t.Fatal(err)
	}
	if seen < 5 {
		t.Errorf("only %d files were looked at", seen)
	}
	u, c, _ := newUI(t)
	id := newCase(t, u, "Nobody Else")
	tap(t, u, "/case/"+id+"/table/vitals", "kind", "vitals", "pulse", "88")
	entries, err := c.Entries(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range append(paths(id), "/case/"+id+"/tile.svg?k=987000", "/case/"+id+"/entry/"+entries[0].ID) {
		page := u.Get(t.Context(), p)
		if page.Status != 200 {
			t.Errorf("%s: %d", p, page.Status)
		}
		if found := others(string(page.Body)); len(found) > 0 {
			t.Errorf("%s names another host: %q", p, found)
		}
	}
}

func TestNoOtherHostBites(t *testing.T) {
	for _, tt := range []struct {
		text string
		want string
	}{
		{`<img src="https://elsewhere.invalid/a.png">`, "https://elsewhere.invalid/a.png"},
		{`@import url(//elsewhere.invalid/a.css);`, "(//elsewhere.invalid/a.css"},
		{`<script src=//elsewhere.invalid/a.js>`, "=//elsewhere.invalid/a.js"},
		{`new WebSocket("wss://elsewhere.invalid")`, "wss://elsewhere.invalid"},
		{`<svg xmlns="http://www.w3.org/2000/svg">`, ""},
		{"  // a comment\n/* another */", ""},
		{`<a href="case/new">`, ""},
	} {
		if got := strings.Join(others(tt.text), " "); got != tt.want {
			t.Errorf("%s: %q, want %q", tt.text, got, tt.want)
		}
	}
}

// TestLabelsDifferWithoutColour: each class of drugs has a label of its own,
// and another pattern than any other, for eyes and themes that see no colour.
// The words stand in the pages; TestDoseLabelsHaveWords sees to that.
func TestLabelsDifferWithoutColour(t *testing.T) {
	css := string(asset("/static/chinlift.css").Body)
	colour := regexp.MustCompile(`#[0-9a-f]{3,8}\b`)
	seen := map[string]string{}
	for _, class := range term.DrugClassList.Codes() {
		_, rule, ok := strings.Cut(css, ".label."+string(class)+" {")
		rule, _, _ = strings.Cut(rule, "}")
		if !ok {
			t.Errorf("%s has no label", class)
			continue
		}
		shape := ""
		for part := range strings.SplitSeq(rule, ";") {
			if name, value, _ := strings.Cut(strings.TrimSpace(part), ":"); name == "--p" || name == "--z" {
				shape += name + colour.ReplaceAllString(value, "#")
			}
		}
		if other, ok := seen[shape]; ok {
			t.Errorf("without colour %s and %s are the same", class, other)
		}
		seen[shape] = string(class)
	}
	if len(seen) < 13 {
		t.Errorf("%d labels", len(seen))
	}
}
