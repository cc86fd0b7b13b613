package ui

import (
	"bytes"
	"context"
	"slices"
	"strconv"
	"strings"

	"chinlift/core"
	"chinlift/core/record"
)

// view works out the page at a path.
func (u *UI) view(r *request) (view, error) {
	r.parts = strings.Split(strings.Trim(r.path, "/"), "/")
	switch {
	case r.path == "/" || r.path == "/today":
		return u.today(r)
	case r.path == "/log":
		return u.log(r)
	case r.path == "/settings":
		return u.settings(r)
	case r.path == "/case/new":
		return u.caseNew(r)
	case len(r.parts) == 2 && r.parts[0] == "kit":
		return u.kit(r)
	case len(r.parts) >= 3 && r.parts[0] == "case":
		r.id = r.parts[1]
		return u.caseView(r)
	}
	return view{}, errNoPage
}

// caseView works out a page of a case.
func (u *UI) caseView(r *request) (view, error) {
	screen, sub := r.parts[2], r.parts[3:]
	switch {
	case screen == "table" && len(sub) == 0:
		return u.table(r)
	case screen == "table":
		return u.tray(r, sub)
	case screen == "visit" && len(sub) == 0:
		return u.visit(r)
	case screen == "visit" && len(sub) == 1:
		return u.fact(r, sub[0])
	case screen == "waking" && len(sub) == 0:
		return u.waking(r)
	case screen == "waking" && len(sub) == 1 && sub[0] == "vitals":
		return u.tray(r, sub)
	case screen == "record" && len(sub) == 0:
		return u.record(r)
	case screen == "entry" && len(sub) == 1:
		return u.entry(r, sub[0])
	}
	return view{}, errNoPage
}

func (u *UI) today(r *request) (view, error) {
	t, err := u.c.Today(r.ctx)
	if err != nil {
		return view{}, err
	}
	return view{title: u.words.Say("shell.name"), class: "today", parts: []part{
		{"head", "today-head", t}, {"open", "today-open", t}, {"ready", "today-ready", t}, {"keys", "today-keys", t},
	}}, nil
}

func (u *UI) log(r *request) (view, error) {
	before, err := strconv.ParseInt(r.query.Get("before"), 10, 64)
	if err != nil {
		before = 0
	}
	l, err := u.c.Log(r.ctx, before)
	if err != nil {
		return view{}, err
	}
	return view{title: u.words.Say("log.title"), class: "log", parts: []part{{"list", "log", l}}}, nil
}

func (u *UI) settings(r *request) (view, error) {
	m := map[string]any{}
	for _, key := range []string{core.LocalHand, core.LocalTheme, core.LocalText} {
		v, err := u.c.Local(r.ctx, key)
		if err != nil {
			return view{}, err
		}
		m[key] = v
	}
	name, err := u.c.AuthorName(r.ctx)
	if err != nil {
		return view{}, err
	}
	m["name"] = name
	return view{title: u.words.Say("settings.title"), class: "settings", parts: []part{{"settings", "settings", m}}}, nil
}

func (u *UI) caseNew(r *request) (view, error) {
	t, err := u.c.Today(r.ctx)
	if err != nil {
		return view{}, err
	}
	return view{title: u.words.Say("case.new"), class: "form", parts: []part{{"new", "case-new", t}}}, nil
}

func (u *UI) kit(r *request) (view, error) {
	k, err := u.c.Kit(r.ctx, r.parts[1])
	if err != nil {
		return view{}, err
	}
	v := view{title: k.Name, class: "kit", parts: []part{{"head", "kit-head", k}}}
	for _, it := range k.Items {
		v.parts = append(v.parts, part{"item-" + it.Code, "kit-item", it})
	}
	v.parts = append(v.parts, part{"sweep", "kit-sweep", k})
	return v, nil
}

func (u *UI) table(r *request) (view, error) {
	t, err := u.c.Table(r.ctx, r.id)
	if err != nil {
		return view{}, err
	}
	return view{title: t.For, class: "table", owed: len(t.Owing), parts: []part{
		{"head", "head", t.Head}, {"others", "others", t.Head}, {"drawn", "drawn", t.Head}, {"dues", "dues", t.Head},
		{"pad", "pad", t}, {"foot", "pad-foot", t}, {"nav", "nav", nav(t.Head, "table")},
	}}, nil
}

// nav is the row of screens of a case.
func nav(h core.Head, here string) map[string]any { return map[string]any{"Head": h, "Here": here} }

// trays are the templates that a tray is drawn by.
var trays = []string{"vitals", "agent", "breathing", "eyes", "drug", "airway", "step", "fluids", "more", "signs", "position", "block",
	"trouble", "note", "birth", "unwatched", "owed", "marks"}

// trayData is what a tray is drawn from.
type trayData struct {
	core.Head
	Name    string
	Rows    []core.MeasureRow
	Agent   core.AgentTray
	Drugs   core.DrugTray
	Steps   core.StepTray
	Drug    core.DrugChoice
	Marks   []core.Line
	Owing   []core.Line
	Back    string // the page that the tray belongs to
	Kind    string
	Airways []core.Line
}

func (u *UI) tray(r *request, sub []string) (view, error) {
	h, cs, err := u.c.HeadOf(r.ctx, r.id)
	if err != nil {
		return view{}, err
	}
	name := sub[0]
	if !slices.Contains(trays, name) {
		return view{}, errNoPage
	}
	d := trayData{Head: h, Name: name, Back: "case/" + r.id + "/" + r.parts[2], Kind: "vitals"}
	tmpl := "tray-" + name
	switch name {
	case "vitals":
		d.Rows = u.c.MeasureRows(cs)
	case "agent":
		d.Agent = u.c.AgentTray(cs, r.query.Get("agent"), r.query.Get("way"))
	case "drug":
		d.Drugs = u.c.DrugTray(cs)
		if len(sub) == 2 {
			d.Drug, tmpl = u.c.DrugChoice(cs, sub[1]), "tray-drug-one"
		}
	case "step":
		d.Steps = u.c.StepTray(cs)
	case "marks":
		d.Marks = u.c.UnnamedMarks(cs)
	case "owed":
		d.Owing = h.Owing
	}
	if len(sub) > 2 || len(sub) == 2 && name != "drug" {
		return view{}, errNoPage
	}
	return view{title: h.For, class: "table tray", owed: len(h.Owing), parts: []part{
		{"head", "head", h}, {"drawn", "drawn", h}, {"tray", tmpl, d},
	}}, nil
}

func (u *UI) visit(r *request) (view, error) {
	v, err := u.c.Visit(r.ctx, r.id)
	if err != nil {
		return view{}, err
	}
	return view{title: v.For, class: "visit", owed: len(v.Owing), parts: []part{
		{"head", "head", v.Head}, {"facts", "visit", v}, {"nav", "nav", nav(v.Head, "visit")},
	}}, nil
}

// facts are the pages below the visit.
var facts = []string{"name", "age", "sex", "weight", "asa", "allergies", "mallampati", "mouth", "neck", "teeth", "side", "consent", "intake", "baseline", "plan"}

func (u *UI) fact(r *request, name string) (view, error) {
	if !slices.Contains(facts, name) {
		return view{}, errNoPage
	}
	v, err := u.c.Visit(r.ctx, r.id)
	if err != nil {
		return view{}, err
	}
	d := map[string]any{"Head": v.Head, "Name": name, "Back": "case/" + r.id + "/visit"}
	tmpl := "fact-choice"
	for _, f := range v.Facts {
		if f.Name == name {
			d["Fact"] = f
		}
	}
	switch name {
	case "name", "age", "weight", "asa", "allergies", "side", "intake", "plan":
		tmpl = "fact-" + name
	case "baseline":
		_, cs, err := u.c.HeadOf(r.ctx, r.id)
		if err != nil {
			return view{}, err
		}
		return view{title: v.For, class: "table tray", parts: []part{{"head", "head", v.Head},
			{"tray", "tray-vitals", trayData{Head: v.Head, Name: "baseline", Kind: "baseline", Rows: u.c.MeasureRows(cs), Back: "case/" + r.id + "/visit"}}}}, nil
	}
	return view{title: v.For, class: "visit", owed: len(v.Owing), parts: []part{{"head", "head", v.Head}, {"fact", tmpl, d}}}, nil
}

func (u *UI) waking(r *request) (view, error) {
	w, err := u.c.WakingOf(r.ctx, r.id)
	if err != nil {
		return view{}, err
	}
	return view{title: w.For, class: "waking", owed: len(w.Owing), parts: []part{
		{"head", "head", w.Head}, {"others", "others", w.Head}, {"dues", "dues", w.Head}, {"score", "waking", w}, {"looks", "looks", w}, {"nav", "nav", nav(w.Head, "waking")},
	}}, nil
}

func (u *UI) record(r *request) (view, error) {
	h, _, err := u.c.HeadOf(r.ctx, r.id)
	if err != nil {
		return view{}, err
	}
	s, err := u.c.Sheet(r.ctx, r.id)
	if err != nil {
		return view{}, err
	}
	lines, err := u.c.Entries(r.ctx, r.id)
	if err != nil {
		return view{}, err
	}
	return view{title: h.For, class: "record", owed: len(h.Owing), parts: []part{
		{"head", "head", h}, {"notices", "record-notices", s}, {"drawn", "drawn-tall", h}, {"end", "record-end", h},
		{"entries", "record-entries", map[string]any{"Lines": lines, "Case": r.id}},
		{"files", "record-files", map[string]any{"Head": h, "Files": u.exports()}}, {"nav", "nav", nav(h, "record")},
	}}, nil
}

func (u *UI) entry(r *request, id string) (view, error) {
	e, err := u.c.EntryOf(r.ctx, r.id, id)
	if err != nil {
		return view{}, err
	}
	return view{title: e.For, class: "entry", parts: []part{{"head", "head", e.Head}, {"entry", "entry", e}, {"nav", "nav", nav(e.Head, "")}}}, nil
}

// drawnRecord answers the pictures and files of a case: the drawing, and what
// can be taken away.
func (u *UI) drawnRecord(r *request) (Page, bool, error) {
	p := strings.Split(strings.Trim(r.path, "/"), "/")
	if len(p) == 4 && p[0] == "case" && p[2] == "files" {
		page, err := u.file(r.ctx, p[1], p[3], r.query.Get("private") == "yes")
		return page, true, err
	}
	if len(p) != 3 || p[0] != "case" || p[2] != "record.svg" {
		return Page{}, false, nil
	}
	s, err := u.c.Sheet(r.ctx, p[1])
	if err != nil {
		return Page{}, true, err
	}
	size := func(name string, otherwise int) int {
		n, err := strconv.Atoi(r.query.Get(name))
		if err != nil || n < 100 || n > 2000 {
			return otherwise
		}
		return n
	}
	d := record.Drawing{Width: size("w", 360), Height: size("h", 210), Compact: r.query.Get("tall") == ""}
	switch r.query.Get("theme") {
	case "dark":
		d.Theme = record.Dark
	case "dim":
		d.Theme = record.Dim
	}
	from, to, present, err := u.c.Window(r.ctx, p[1], s)
	if err != nil {
		return Page{}, true, err
	}
	if d.Now = present; d.Compact {
		d.From, d.To = from, to
	}
	var b bytes.Buffer
	if err := record.SVG(&b, s, d); err != nil {
		return Page{}, true, err
	}
	return Page{Status: 200, Type: "image/svg+xml", Body: b.Bytes()}, true, nil
}

// Exporter makes the files of a case that can be taken away. The desk and the
// phone lend one, since this package knows no file format.
type Exporter interface {
	// Names lists the files of a case that can be made.
	Names() []string
	// File makes one. The private part goes in only when asked for.
	File(ctx context.Context, caseID, name string, private bool) (data []byte, mediaType string, err error)
}

// Lend gives the screens what makes files.
func (u *UI) Lend(e Exporter) { u.exporter = e }

func (u *UI) exports() []string {
	if u.exporter == nil {
		return nil
	}
	return u.exporter.Names()
}

func (u *UI) file(ctx context.Context, caseID, name string, private bool) (Page, error) {
	if !slices.Contains(u.exports(), name) {
		return Page{}, errNoPage
	}
	data, mediaType, err := u.exporter.File(ctx, caseID, name, private)
	if err != nil {
		return Page{}, err
	}
	return Page{Status: 200, Type: mediaType, Body: data, Name: "case-" + core.ShortCase(caseID) + "-" + name}, nil
}
