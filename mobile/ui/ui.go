package ui

import (
	"bytes"
	"context"
	"embed"
	"errors"
	"fmt"
	"html/template"
	"net/url"
	"path"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"

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
	sender   Sender   // nil: nothing is sent from here
	taker    Taker    // nil: nothing is taken in here, and no backup made
	device   Device

	takesPhotos bool     // a photograph can be sent from a page: over HTTP
	choosing    choosing // guarded by mu

	mu    sync.Mutex // held while a page is brought up to date: its drawings have an order
	pages map[string]*shown
	hid   int64 // core's Hidden, when pages were last looked through

	sheetsMu sync.Mutex
	sheets   map[string]depthSheet // of depth, the last one of each case that had an estimate
}

// depthSheet is until when an estimate of depth may stand on a screen, and by how
// much it went.
type depthSheet struct {
	till time.Time
	seen int
}

// shown is what an open page was last drawn with: a few drawings, since
// nobody knows which answers have arrived.
type shown struct {
	path  string
	last  int64
	drawn []drawing
	over  depthSheet // the estimate that was taken off it
}

type drawing struct {
	n      int64
	parts  []part
	locked bool // names of old cases could not be read
}

// drawingsKept bounds the drawings that are kept of a page.
const drawingsKept = 4

// New makes the screens of a companion. It fails only when a template of the
// program itself is broken.
func New(c *core.Companion) (*UI, error) {
	u := &UI{c: c, words: c.Words(), pages: map[string]*shown{}}
	c.WhenHidden(u.forget)
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
		"has":    has,
		"only": func(is bool, text string) string {
			if is {
				return text
			}
			return ""
		},
		"is":   func(value any, code string) bool { return fmt.Sprint(value) == code },
		"kind": func(name string) string { return u.words.Say("kind." + name) }, //word:prefix kind.
		"unit": func(code string) string { return u.c.UnitWords(code) },
		"here": func(value, now string) string {
			if value == now {
				return "here"
			}
			return ""
		},
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

// has reports whether a list of codes holds one.
func has(list any, code string) bool {
	v := reflect.ValueOf(list)
	for i := range v.Len() {
		if v.Index(i).String() == code {
			return true
		}
	}
	return false
}

// set writes the fields that a control itself stands for, as a query: names
// and values in turn, or one list of them.
func set(pairs ...any) string {
	var flat []string
	for _, p := range pairs {
		switch p := p.(type) {
		case []string:
			flat = append(flat, p...)
		default:
			flat = append(flat, fmt.Sprint(p))
		}
	}
	q := url.Values{}
	for i := 0; i+1 < len(flat); i += 2 {
		q.Add(flat[i], flat[i+1])
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
	aged  bool     // asked for because time went by: what stands on the page stays
}

// part is a piece of a page with an element id of its own. Equal data draw an
// equal part, but for the ids of events: a part whose data did not change is
// not drawn again.
type part struct {
	id    string
	tmpl  string
	data  any
	still bool   // does not change by the time alone, for somebody may be filling it in
	box   string // class of an element around this part and its neighbours with the same
}

// view is a page worked out: its parts in order, and what the frame needs.
type view struct {
	title string
	class string // of the body: lays out the page
	parts []part
	owed  int
	live  bool       // asks now and then what changed with the time
	alarm core.Alarm // how it says that something is due
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
	if page := query.Get("fresh"); page != "" {
		return u.fresh(r, page)
	}
	base, hid := u.c.Stored(), u.c.Hidden()
	v, err := u.view(r)
	if err != nil {
		return u.failed(r, err)
	}
	if query.Has("layer") {
		return u.layer(r, v)
	}
	page := core.NewID()
	html, err := u.frame(ctx, v, p, page, base)
	if err != nil {
		return u.failed(r, err)
	}
	u.mu.Lock()
	defer u.mu.Unlock()
	if u.forgetHidden(); u.hid != hid {
		// It may hold what was hidden while it was drawn: it is not kept, and is
		// answered in full when it asks.
		return Page{Status: 200, Type: "text/html; charset=utf-8", Body: html}
	}
	if len(u.pages) >= pagesMost {
		clear(u.pages)
	}
	u.pages[page] = &shown{path: p, last: 1, drawn: []drawing{{1, v.parts, u.c.Locked()}}}
	return Page{Status: 200, Type: "text/html; charset=utf-8", Body: html}
}

// layer answers the tray alone, to be laid over its page.
func (u *UI) layer(r *request, v view) Page {
	patches, err := u.trayOf(v)
	if err != nil {
		return u.failed(r, err)
	}
	var body strings.Builder
	for _, p := range patches {
		body.WriteString(p.HTML)
	}
	return Page{Status: 200, Type: "text/html; charset=utf-8", Body: []byte(body.String())}
}

// fresh answers what changed on an open page since it was last brought up to
// date, by the time alone or by another page's taps.
func (u *UI) fresh(r *request, page string) Page {
	base, err := strconv.ParseInt(r.query.Get("base"), 10, 64)
	if err != nil {
		base = -1
	}
	var a Answer
	if err := u.update(r, page, base, true, &a); err != nil {
		e := u.c.Explain(err)
		a.Problem = &Problem{e.Status, e.Code, e.Field, e.Words}
	}
	return Page{Status: 200, Type: "application/json; charset=utf-8", Body: a.JSON()}
}

// pagesMost bounds how many open pages are remembered; a page that was
// forgotten is answered in full.
const pagesMost = 64

// update puts what changed on an open page since one of its drawings into an
// answer. aged says that it is asked for because time went by.
func (u *UI) update(r *request, page string, base int64, aged bool, a *Answer) error {
	u.mu.Lock()
	defer u.mu.Unlock()
	a.Seq = u.c.Stored()
	u.forgetHidden()
	s := u.pages[page]
	r.aged = aged && s != nil && s.path == r.path && slices.ContainsFunc(s.drawn, func(d drawing) bool { return d.n == base })
	v, err := u.view(r)
	if err != nil {
		return err
	}
	hid := u.forgetHidden()
	if hid {
		s = nil // while it was worked out
	}
	if s == nil || s.path != r.path {
		s = &shown{path: r.path, last: base}
		if len(u.pages) >= pagesMost {
			clear(u.pages)
		}
		u.pages[page] = s
	}
	// What was drawn while names could be read is drawn anew once they cannot,
	// also where somebody is filling it in.
	locked := u.c.Locked()
	s.drawn = slices.DeleteFunc(s.drawn, func(d drawing) bool { return d.locked != locked })
	var old []part
	for _, d := range s.drawn {
		if d.n == base && len(d.parts) == len(v.parts) {
			old, a.From = d.parts, d.n
		}
	}
	s.last = max(s.last, base) + 1
	a.Base, a.Owed = s.last, v.owed
	var b bytes.Buffer
	for i, p := range v.parts {
		if old != nil && old[i].id == p.id {
			if aged && p.still {
				v.parts[i] = old[i]
				continue
			}
			if reflect.DeepEqual(old[i].data, p.data) {
				continue
			}
		}
		b.Reset()
		if err := u.draw(&b, p); err != nil {
			return err
		}
		a.Patches = append(a.Patches, Patch{p.id, b.String()})
	}
	if aged && r.id != "" {
		if err := u.depthOver(r, s, old == nil, a); err != nil {
			return err
		}
	}
	if u.forgetHidden() || hid {
		delete(u.pages, page) // as in Get
		return nil
	}
	s.drawn = append(s.drawn, drawing{s.last, v.parts, locked})
	if n := len(s.drawn) - drawingsKept; n > 0 {
		s.drawn = s.drawn[n:]
	}
	return nil
}

// depthOver takes an estimate of depth off an open page, or off the sheet that is
// laid over it, once its time has run out by the companion's clock, or something
// was recorded that it knows nothing of. It goes by itself as well; but a device
// that slept does not count the time.
func (u *UI) depthOver(r *request, s *shown, again bool, a *Answer) error {
	u.sheetsMu.Lock()
	sheet, ok := u.sheets[r.id]
	u.sheetsMu.Unlock()
	if !ok || s.over == sheet && !again {
		return nil
	}
	cs, err := u.c.Case(r.ctx, r.id)
	if err != nil {
		return err
	}
	words := u.words.Say("depth.faded")
	switch {
	case cs.DepthSeen() != sheet.seen:
		words = u.words.Say("depth.overtaken")
	case u.c.Now().Wall.Before(sheet.till):
		return nil
	}
	s.over = sheet
	var b bytes.Buffer
	b.WriteString(`<div id="estimate">`)
	if err := u.tmpl.ExecuteTemplate(&b, "depth-over", map[string]any{"Case": r.id, "Words": words}); err != nil {
		return err
	}
	b.WriteString("</div>")
	a.Patches = append(a.Patches, Patch{"estimate", b.String()})
	return nil
}

// depthShown keeps until when a sheet of depth may stand.
func (u *UI) depthShown(id string, v *core.DepthView, cs *core.Case) {
	if v.Fades == 0 {
		return
	}
	u.sheetsMu.Lock()
	defer u.sheetsMu.Unlock()
	if u.sheets == nil || len(u.sheets) >= pagesMost {
		u.sheets = map[string]depthSheet{}
	}
	u.sheets[id] = depthSheet{v.Till, cs.DepthSeen()}
}

// draw draws a part in its element.
func (u *UI) draw(b *bytes.Buffer, p part) error {
	b.WriteString(`<section id="` + p.id + `">`)
	if err := u.tmpl.ExecuteTemplate(b, p.tmpl, p.data); err != nil {
		return err
	}
	b.WriteString("</section>")
	return nil
}

// trayOf draws the tray of a page.
func (u *UI) trayOf(v view) ([]Patch, error) {
	var all []Patch
	for _, p := range v.parts {
		if p.id == "tray" {
			var b bytes.Buffer
			if err := u.draw(&b, p); err != nil {
				return nil, err
			}
			all = append(all, Patch{p.id, b.String()})
		}
	}
	return all, nil
}

// frame puts the parts into the page around them.
func (u *UI) frame(ctx context.Context, v view, p, page string, base int64) ([]byte, error) {
	var body bytes.Buffer
	box := ""
	for _, part := range v.parts {
		if part.box != box {
			if box != "" {
				body.WriteString("</div>")
			}
			if box = part.box; box != "" {
				body.WriteString(`<div class="` + box + `">`)
			}
		}
		if err := u.draw(&body, part); err != nil {
			return nil, err
		}
	}
	if box != "" {
		body.WriteString("</div>")
	}
	local := func(key, otherwise string) string {
		if s, err := u.c.Local(ctx, key); err == nil && s != "" {
			return s
		}
		return otherwise
	}
	var b bytes.Buffer
	err := u.tmpl.ExecuteTemplate(&b, "frame", map[string]any{
		"Title": v.title, "Class": v.class, "Path": p, "Root": rootOf(p), "Base": strconv.FormatInt(base, 10), "Page": page, "Live": v.live, "Lang": u.words.Tag(),
		"Now": strconv.FormatInt(u.c.Now().Wall.UnixMilli(), 10), "Alarm": v.alarm,
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
		"Title": u.words.Say("shell.name"), "Class": "plain", "Path": r.path, "Root": rootOf(r.path), "Base": "0", "Page": "", "Live": false, "Now": "0", "Alarm": core.Alarm{}, "Lang": u.words.Tag(), "Hand": "right", "Theme": "auto", "Text": "100",
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
	if path.Ext(p) == ".js" {
		data = squeeze(data)
	}
	return Page{Status: 200, Type: assetTypes[path.Ext(p)], Body: data}
}

// squeeze leaves out of the script what only its readers need: indents, and
// lines that are a comment. No text of it goes over several lines.
func squeeze(script []byte) []byte {
	var b bytes.Buffer
	for line := range bytes.Lines(script) {
		if line = bytes.TrimLeft(line, "\t "); !bytes.HasPrefix(line, []byte("//")) && len(line) > 1 {
			b.Write(line)
		}
	}
	return b.Bytes()
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
	if s.Case != "" && !strings.HasPrefix(p, "/case/"+s.Case+"/") {
		return Answer{Seq: u.c.Stored(), Problem: &Problem{Status: 409, Code: "other-case", Field: "case", Words: u.words.Say("shell.other-case")}}
	}
	target, err := u.act(r, s)
	u.mu.Lock()
	u.forgetHidden()
	u.mu.Unlock()
	if err != nil {
		if errors.Is(err, errNoPage) {
			return Answer{Seq: u.c.Stored(), Problem: &Problem{Status: 404, Code: "no-page", Words: u.words.Say("shell.no-page")}}
		}
		e := u.explain(err)
		return Answer{Seq: u.c.Stored(), Problem: &Problem{e.Status, e.Code, e.Field, e.Words}}
	}
	a := Answer{Seq: u.c.Stored(), Event: core.NewID()}
	// A page beneath a tray that did its work is brought up to date; so is
	// the page on which the control itself stands.
	under := path.Clean("/" + s.Under)
	switch {
	case s.Under != "" && target != "" && path.Clean("/"+target) == under:
		a.Close = true
		r.path = under
	case target != "":
		a.Go = target
		return a
	case s.Under != "":
		var v view
		if v, err = u.view(r); err == nil {
			a.Patches, err = u.trayOf(v)
		}
		r.path = under
	}
	if err == nil {
		err = u.update(r, s.Page, s.Base, false, &a)
	}
	if err != nil {
		// It is recorded; only the page cannot be drawn. Opening it says why.
		a.Go, a.Close, a.Patches = strings.TrimPrefix(r.path, "/"), false, nil
	}
	return a
}
