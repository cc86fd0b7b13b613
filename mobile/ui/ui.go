package ui

import (
	"bytes"
	"context"
	"crypto/sha256"
	"embed"
	"errors"
	"fmt"
	"html/template"
	"net/url"
	"path"
	"regexp"
	"strconv"
	"strings"
	"sync"

	"chinlift/core"
	"chinlift/core/word"
)

//go:embed templates/*.html static/*
var files embed.FS

// UI is the screens of one companion. It is safe for use by several
// goroutines.
type UI struct {
	c     *core.Companion
	words *word.Book
	tmpl  *template.Template

	exporter Exporter // nil: nothing can be taken away here

	mu    sync.Mutex
	drawn map[string]drawing // what a page showed, by path: to answer only what changed
}

// drawing is what a page showed when it was last drawn: the hash of each part.
type drawing struct {
	base  int64
	parts map[string][sha256.Size]byte
}

// New makes the screens of a companion. It fails only when a template of the
// program itself is broken.
func New(c *core.Companion) (*UI, error) {
	u := &UI{c: c, words: c.Words(), drawn: map[string]drawing{}}
	var err error
	u.tmpl, err = template.New("").Funcs(template.FuncMap{
		"say":    u.words.Say,
		"count":  u.words.Count,
		"newid":  core.NewID,
		"term":   func(list, code string) string { return u.words.Say("term." + list + "." + code) }, //word:prefix term.
		"field":  func(name string) string { return u.words.Say("field." + name) },                   //word:prefix field.
		"dict":   dict,
		"list":   func(v ...any) []any { return v },
		"set":    set,
		"choice": u.c.Choices,
	}).ParseFS(files, "templates/*.html")
	return u, err
}

// dict makes a map of names and values, for templates that call others.
func dict(pairs ...any) (map[string]any, error) {
	m := map[string]any{}
	for i := 0; i+1 < len(pairs); i += 2 {
		k, ok := pairs[i].(string)
		if !ok {
			return nil, fmt.Errorf("dict: %v is no name", pairs[i])
		}
		m[k] = pairs[i+1]
	}
	return m, nil
}

// set writes the fields that a control itself stands for, as a query.
func set(pairs ...string) string {
	q := url.Values{}
	for i := 0; i+1 < len(pairs); i += 2 {
		q.Add(pairs[i], pairs[i+1])
	}
	return q.Encode()
}

// request is a page that is asked for.
type request struct {
	ctx   context.Context
	path  string
	query url.Values
	parts []string // of the path
	id    string   // the case, where the path names one
}

// part is a piece of a page with an element id of its own.
type part struct {
	id   string
	tmpl string
	data any
}

// view is a page worked out: its parts in order, and what the frame needs.
type view struct {
	title string
	class string // of the body: lays out the page
	parts []part
	owed  int
}

var errNoPage = errors.New("there is no such page")

// Get answers a page or an asset.
func (u *UI) Get(ctx context.Context, target string) Page {
	p, rawQuery, _ := strings.Cut(target, "?")
	p = path.Clean("/" + p)
	query, err := url.ParseQuery(rawQuery)
	if err != nil {
		query = url.Values{}
	}
	if strings.HasPrefix(p, "/static/") {
		return asset(p)
	}
	r := &request{ctx: ctx, path: p, query: query}
	if page, ok, err := u.drawnRecord(r); ok {
		if err != nil {
			return u.failed(r, err)
		}
		return page
	}
	base := u.c.Stored()
	v, err := u.view(r)
	if err != nil {
		return u.failed(r, err)
	}
	body, parts, err := u.render(v)
	if err != nil {
		return u.failed(r, err)
	}
	u.remember(p, drawing{base, parts})
	html, err := u.frame(ctx, v, p, base, body)
	if err != nil {
		return u.failed(r, err)
	}
	return Page{Status: 200, Type: "text/html; charset=utf-8", Body: html}
}

// drawnMost bounds how many pages are remembered; a page that was forgotten is
// answered in full.
const drawnMost = 16

func (u *UI) remember(p string, d drawing) {
	u.mu.Lock()
	defer u.mu.Unlock()
	if len(u.drawn) >= drawnMost {
		clear(u.drawn)
	}
	u.drawn[p] = d
}

// minted matches the ids that differ each time a part is drawn.
var minted = regexp.MustCompile(` data-event="[^"]*"`)

// render draws the parts of a page, each in its element.
func (u *UI) render(v view) ([]Patch, map[string][sha256.Size]byte, error) {
	var all []Patch
	hashes := make(map[string][sha256.Size]byte, len(v.parts))
	for _, p := range v.parts {
		var b bytes.Buffer
		fmt.Fprintf(&b, `<section id="%s">`, p.id)
		if err := u.tmpl.ExecuteTemplate(&b, p.tmpl, p.data); err != nil {
			return nil, nil, err
		}
		b.WriteString("</section>")
		all = append(all, Patch{p.id, b.String()})
		hashes[p.id] = sha256.Sum256(minted.ReplaceAll(b.Bytes(), nil))
	}
	return all, hashes, nil
}

// frame puts the parts into the page around them.
func (u *UI) frame(ctx context.Context, v view, p string, base int64, parts []Patch) ([]byte, error) {
	var body strings.Builder
	for _, p := range parts {
		body.WriteString(p.HTML)
	}
	local := func(key, otherwise string) string {
		if s, err := u.c.Local(ctx, key); err == nil && s != "" {
			return s
		}
		return otherwise
	}
	var b bytes.Buffer
	err := u.tmpl.ExecuteTemplate(&b, "frame", map[string]any{
		"Title": v.title, "Class": v.class, "Path": p, "Root": rootOf(p), "Base": strconv.FormatInt(base, 10), "Lang": u.words.Tag(),
		"Hand": local(core.LocalHand, "right"), "Theme": local(core.LocalTheme, "auto"), "Text": local(core.LocalText, "100"),
		"Body": template.HTML(body.String()), //nolint:gosec // drawn by html/template just now
	})
	return b.Bytes(), err
}

// rootOf gives the way from a page back to the root, so that all links work
// under whatever prefix the screens are served.
func rootOf(p string) string {
	return "./" + strings.Repeat("../", strings.Count(strings.TrimPrefix(p, "/"), "/"))
}

// failed answers an error as a page that says what happened and what to do.
func (u *UI) failed(r *request, err error) Page {
	var status int
	var words string
	if errors.Is(err, errNoPage) {
		status, words = 404, u.words.Say("shell.no-page")
	} else {
		p := u.c.Explain(err)
		status, words = p.Status, p.Words
		if status == 422 {
			status = 404 // a path that names what cannot be
		}
	}
	var b bytes.Buffer
	if err := u.tmpl.ExecuteTemplate(&b, "frame", map[string]any{
		"Title": u.words.Say("shell.name"), "Class": "plain", "Path": r.path, "Root": rootOf(r.path), "Base": "0", "Lang": u.words.Tag(), "Hand": "right", "Theme": "auto", "Text": "100",
		"Body": template.HTML(`<section id="failed"><p class="notice">` + template.HTMLEscapeString(words) + `</p><p><a class="key" href="today">` +
			template.HTMLEscapeString(u.words.Say("shell.today")) + `</a></p></section>`), //nolint:gosec // escaped just here
	}); err != nil {
		return Page{Status: status, Type: "text/plain; charset=utf-8", Body: []byte(words)}
	}
	return Page{Status: status, Type: "text/html; charset=utf-8", Body: b.Bytes()}
}

// assetTypes are given in full, since a script of another type is refused.
var assetTypes = map[string]string{".css": "text/css; charset=utf-8", ".js": "text/javascript; charset=utf-8", ".svg": "image/svg+xml"}

func asset(p string) Page {
	data, err := files.ReadFile(strings.TrimPrefix(p, "/"))
	if err != nil {
		return Page{Status: 404, Type: "text/plain; charset=utf-8", Body: []byte("no such file")}
	}
	return Page{Status: 200, Type: assetTypes[path.Ext(p)], Body: data}
}

// Send records what a control stands for, and answers what changed on the
// page. An error answers in plain words, and leaves the page as it is.
func (u *UI) Send(ctx context.Context, s Send) Answer {
	p, _, _ := strings.Cut(s.Path, "?")
	p = path.Clean("/" + p)
	if s.Fields == nil {
		s.Fields = map[string][]string{}
	}
	r := &request{ctx: ctx, path: p, query: url.Values{}}
	target, err := u.act(r, s)
	if err != nil {
		if errors.Is(err, errNoPage) {
			return Answer{Seq: u.c.Stored(), Problem: &Problem{Status: 404, Code: "no-page", Words: u.words.Say("shell.no-page")}}
		}
		e := u.c.Explain(err)
		return Answer{Seq: u.c.Stored(), Problem: &Problem{e.Status, e.Code, e.Field, e.Words}}
	}
	a := Answer{Seq: u.c.Stored(), Event: core.NewID()}
	if target != "" {
		a.Go = target
		return a
	}
	v, err := u.view(r)
	if err != nil {
		// It is recorded; only the page cannot be drawn. Opening it says why.
		a.Go = strings.TrimPrefix(p, "/")
		return a
	}
	parts, hashes, err := u.render(v)
	if err != nil {
		a.Go = strings.TrimPrefix(p, "/")
		return a
	}
	u.mu.Lock()
	old, known := u.drawn[p]
	u.mu.Unlock()
	a.Owed = v.owed
	for _, part := range parts {
		// On a stale base every part is answered.
		if !known || old.base != s.Base || old.parts[part.ID] != hashes[part.ID] {
			a.Patches = append(a.Patches, part)
		}
	}
	u.remember(p, drawing{a.Seq, hashes})
	return a
}
