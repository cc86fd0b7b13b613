//go:build slow

package ui

import (
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"testing"
)

// finding is something that a web view at the floor does not have.
type finding struct {
	File    string
	Line    int
	Feature string // as MDN's browser-compat-data names it
	Android string // Chromium that has it; "no": none has
	IOS     string
}

// aboveFloor are uses of what a web view at the floor may lack, and what is
// seen there instead. Nothing that is read or tapped may depend on one.
var aboveFloor = map[string]string{
	"css.properties.text-size-adjust": "the prefixed name is for iOS, which has it; Android obeys the size of the page",
	"css.properties.cursor.pointer":   "a thumb has no pointer: it is for the desk",
	"css.properties.hyphens":          "on iOS before 17 a word that is too long breaks without a hyphen",
	"css.properties.outline":          "before Chromium 94 and iOS 16.4 the ring of the focus has square corners",
	"navigator.vibrate":               "asked for only where it is there; iOS has none, and there the sound remains",
	"api.Directory.path":              "no member of the platform: data-path of the page",
	"api.GPUDevice.lost":              "no member of the platform: data-lost of the page",
	"api.Observable.last":             "no member of the platform: data-last of a row",
	"css.properties.line-clamp.none":  "the data has no word for what is the initial value; display: block beside it ends the clamp in any case",
}

// aboveTheFloor runs the check over files in a folder.
func aboveTheFloor(t *testing.T, names ...string) []finding {
	t.Helper()
	built := filepath.Join("..", "..", ".build", "browser")
	for _, module := range []string{"@mdn/browser-compat-data", "css-tree", "acorn", "acorn-walk"} {
		if _, err := os.Stat(filepath.Join(built, "node_modules", module)); err != nil {
			t.Fatalf("%s is missing (make deps installs it): %v", module, err)
		}
	}
	args := append([]string{filepath.Join("..", "..", ".ci", "browser", "floor.mjs"), built, strconv.Itoa(FloorChromium), FloorIOS, strconv.Itoa(FloorECMAScript)}, names...)
	cmd := exec.CommandContext(t.Context(), "node", args...)
	cmd.Stderr = os.Stderr
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("the check does not run (it needs Node.js): %v", err)
	}
	var all []finding
	if err := json.Unmarshal(out, &all); err != nil {
		t.Fatalf("%v in %s", err, out)
	}
	return all
}

// TestFloor holds the styles, the script and every page to the floor.
func TestFloor(t *testing.T) {
	u, c, _ := newUI(t)
	id := newCase(t, u, "Floor")
	tap(t, u, "/case/"+id+"/table/vitals", "kind", "vitals", "pulse", "88")
	entries, err := c.Entries(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	names := []string{filepath.Join("static", "chinlift.css"), filepath.Join("static", "chinlift.js")}
	pages := map[string]string{}
	dir := t.TempDir()
	for i, p := range append(paths(id), "/case/"+id+"/entry/"+entries[0].ID) {
		page := u.Get(t.Context(), p)
		if page.Status != 200 {
			t.Fatalf("%s: %d", p, page.Status)
		}
		name := fmt.Sprintf("page%d.html", i)
		pages[name] = p
		names = append(names, filepath.Join(dir, name))
		if err := os.WriteFile(filepath.Join(dir, name), page.Body, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	met := map[string]bool{}
	for _, f := range aboveTheFloor(t, names...) {
		met[f.Feature] = true
		if aboveFloor[f.Feature] != "" {
			continue
		}
		where := f.File
		if p := pages[f.File]; p != "" {
			where = p
		}
		t.Errorf("%s:%d: %s: Android wants Chromium %s, the floor is %d; iOS wants %s, the floor is %s", where, f.Line, f.Feature, f.Android, FloorChromium, f.IOS, FloorIOS)
	}
	for feature := range aboveFloor {
		if !met[feature] {
			t.Errorf("%s is not used any more: take it out of aboveFloor", feature)
		}
	}
}

// TestFloorBites plants what is newer than the floor, and what is not.
func TestFloorBites(t *testing.T) {
	for _, tt := range []struct{ name, text, want string }{
		{"at-rule.css", "@container (min-width: 1px) { a { color: red } }", "css.at-rules.container"},
		{"nesting.css", "a { & b { color: red } }", "css.selectors.nesting"},
		{"selector.css", "a:user-valid { color: red }", "css.selectors.user-valid"},
		{"property.css", "a { translate: 1px }", "css.properties.translate"},
		{"nobody's property.css", "a { jaw-thrust: 1px }", "css.properties.jaw-thrust"},
		{"value.css", "a { color: oklch(50% 0 0) }", "css.types.color.oklch"},
		{"value of a name.css", ":root { --a: color-mix(in srgb, red, blue) }", "css.types.color.color-mix"},
		{"unit.css", "a { height: 3cqw }", "css.types.length.container_query_length_units"},
		{"unit of no other.css", "a { height: 3dvh }", "css.types.length.viewport_percentage_units_dynamic"},
		{"unit below another.css", "a { height: 3vh; height: 3dvh }", ""},
		{"media.css", "@media (width > 3px) { a { color: red } }", "css.at-rules.media.range_syntax"},
		{"old.css", "@media (min-width: 3px) { a::before, a:not(.b) { display: flex; gap: 3px; color: var(--a) } }", ""},
		{"syntax.js", "class A { static { } }", "javascript: beyond ECMAScript 2021: Unexpected token (1:17)"},
		{"global.js", "structuredClone({})", "api.structuredClone"},
		{"static.js", `Object.hasOwn({}, "a")`, "Object.hasOwn"},
		{"method.js", "[1].at(0)", "javascript.builtins.Array.at"},
		{"method of an element.js", `document.querySelector("a").checkVisibility()`, "api.Element.checkVisibility"},
		{"property.js", "navigator.wakeLock", "navigator.wakeLock"},
		{"event.js", `addEventListener("beforetoggle", f); document.addEventListener("beforetoggle", f)`, "api.HTMLElement.beforetoggle_event"},
		{"old.js", `const a = b?.c ?? d; document.body.dataset.last; new Map().get(a); document.addEventListener("click", f)`, ""},
		{"element.html", "<selectedcontent></selectedcontent>", "html.elements.selectedcontent"},
		{"attribute.html", `<div class="a" popover></div>`, "html.global_attributes.popover"},
		{"attribute of one.html", `<img src="a" fetchpriority=low>`, "html.elements.img.fetchpriority"},
		{"old.html", `<img class="a" loading="lazy" data-a="<b>"><details open></details>`, ""},
	} {
		t.Run(tt.name, func(t *testing.T) {
			name := filepath.Join(t.TempDir(), tt.name)
			if err := os.WriteFile(name, []byte(tt.text), 0o600); err != nil {
				t.Fatal(err)
			}
			var got []string
			for _, f := range aboveTheFloor(t, name) {
				if !slices.Contains(got, f.Feature) {
					got = append(got, f.Feature)
				}
			}
			if tt.want == "" && len(got) > 0 || tt.want != "" && !slices.Equal(got, []string{tt.want}) {
				t.Errorf("found %q, want %q", got, tt.want)
			}
		})
	}
}
