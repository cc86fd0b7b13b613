//go:build slow

package jvm

import (
	"encoding/xml"
	"errors"
	"io"
	"net/url"
	"slices"
	"strings"
	"testing"
)

// page is a page as far as a tap needs it: what the script of the screens
// reads off it.
type page struct {
	html                string
	path, id, base, seq string // of the body: where the page is, which opening and which drawing of it, how many lines it shows
	keys                map[string]key
	entries             []string // kinds of the entries that the page lists
}

// key is a control or a link.
type key struct {
	href   string              // of a link
	layer  bool                // the link leads to a tray, to be laid over the page
	of     string              // the case whose key it is
	set    url.Values          // what the control stands for
	event  string              // minted for its next tap
	fields map[string][]string // names in its tray, and the values that may be picked; none: typed
	hidden url.Values          // what its tray holds by itself
}

// void are the elements that have no end.
var void = []string{"meta", "link", "base", "input", "img", "source", "br", "hr"}

// readPage reads a page. Of a key that stands there more than once the first
// counts, as for a thumb that comes from above.
func readPage(t *testing.T, html string) page {
	t.Helper()
	p := page{html: html, keys: map[string]key{}}
	type tray struct {
		fields map[string][]string
		hidden url.Values
		keys   []string
		depth  int
	}
	var open []*tray
	depth := 0
	d := xml.NewDecoder(strings.NewReader(html))
	d.Strict, d.AutoClose, d.Entity = false, void, xml.HTMLEntity
	for {
		token, err := d.Token()
		if errors.Is(err, io.EOF) {
			return p
		}
		if err != nil {
			t.Fatalf("a page that cannot be read: %v\n%s", err, html)
		}
		switch el := token.(type) {
		case xml.EndElement:
			if len(open) > 0 && open[len(open)-1].depth == depth {
				open = open[:len(open)-1]
			}
			depth--
		case xml.StartElement:
			depth++
			attrs := map[string]string{}
			for _, a := range el.Attr {
				attrs[a.Name.Local] = a.Value
			}
			has := func(name string) bool { _, ok := attrs[name]; return ok }
			if has("data-tray") {
				open = append(open, &tray{map[string][]string{}, url.Values{}, nil, depth})
			}
			name := attrs["data-key"]
			switch {
			case el.Name.Local == "body":
				p.path, p.id, p.base, p.seq = attrs["data-path"], attrs["data-page"], attrs["data-base"], attrs["data-seq"]
			case el.Name.Local == "input" || el.Name.Local == "textarea":
				if len(open) == 0 || !has("name") {
					continue
				}
				in := open[len(open)-1]
				in.fields[attrs["name"]] = append(in.fields[attrs["name"]], attrs["value"])
				if attrs["type"] == "hidden" && !has("disabled") {
					in.hidden.Add(attrs["name"], attrs["value"])
				}
			case name == "entry":
				p.entries = append(p.entries, attrs["data-kind"])
			case name != "":
				if _, again := p.keys[name]; again {
					continue
				}
				k := key{href: attrs["href"], layer: has("data-layer"), of: attrs["data-case"], event: attrs["data-event"]}
				if has("data-send") {
					if k.set, err = url.ParseQuery(attrs["data-set"]); err != nil {
						t.Fatalf("key %s stands for %q: %v", name, attrs["data-set"], err)
					}
					if len(open) > 0 { // its tray goes on growing: a map is shared
						k.fields, k.hidden = open[len(open)-1].fields, open[len(open)-1].hidden
					}
				}
				p.keys[name] = k
			}
		}
	}
}

// gather is what a tap on the key sends, with what was entered in its tray:
// pairs of a name and a value. It fails on what cannot be entered there.
func (k key) gather(t *testing.T, entered ...string) map[string][]string {
	t.Helper()
	all := map[string][]string{}
	for n, v := range k.hidden {
		all[n] = slices.Clone(v)
	}
	for i := 0; i < len(entered); i += 2 {
		name, value := entered[i], entered[i+1]
		choices, ok := k.fields[name]
		if !ok || slices.Max(choices) != "" && !slices.Contains(choices, value) {
			t.Fatalf("%s cannot be entered as %q; the tray has %q", name, value, k.fields)
		}
		all[name] = append(all[name], value)
	}
	for n, v := range k.set {
		all[n] = append(all[n], v...)
	}
	return all
}

// with gives the same page with other text.
func (p page) with(t *testing.T, html string) page {
	t.Helper()
	fresh := readPage(t, html)
	fresh.path, fresh.id, fresh.base, fresh.seq = p.path, p.id, p.base, p.seq
	return fresh
}

// minted gives the page after a key got the id of its next tap.
func (p page) minted(t *testing.T, spent, next string) page {
	t.Helper()
	return p.with(t, strings.ReplaceAll(p.html, `data-event="`+spent+`"`, `data-event="`+next+`"`))
}

// patched gives the page after a part of it was replaced; ok says whether it
// has that part. Parts lie beside each other in sections, none within another.
func (p page) patched(t *testing.T, part patch) (fresh page, ok bool) {
	t.Helper()
	const end = "</section>"
	from := strings.Index(p.html, `<section id="`+part.ID+`">`)
	if from < 0 || strings.Count(part.HTML, end) != 1 || !strings.HasSuffix(part.HTML, end) {
		return p, false
	}
	return p.with(t, p.html[:from]+part.HTML+p.html[from+strings.Index(p.html[from:], end)+len(end):]), true
}
