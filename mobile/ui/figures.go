package ui

import (
	"bytes"
	"context"
	"slices"
	"strconv"

	"chinlift/core"
	"chinlift/core/record"
)

// Figures and search: what is picked stands in the address of the page, so that
// a page opened again is the same page.

// pickLink is a key that picks.
type pickLink struct {
	core.FigureOption
	Href string
}

// pickRow is what can be picked by, folded together.
type pickRow struct {
	core.FigurePick
	Links []pickLink
}

func pickRows(page string, picks []core.FigurePick) []pickRow {
	var rows []pickRow
	for _, p := range picks {
		row := pickRow{FigurePick: p}
		for _, o := range p.Options {
			row.Links = append(row.Links, pickLink{o, withFields(page, o.Fields...)})
		}
		rows = append(rows, row)
	}
	return rows
}

// withFields gives the address of a page that is asked for with names and values.
func withFields(page string, fields ...string) string {
	if len(fields) == 0 {
		return page
	}
	return page + "?" + set(fields)
}

// figureFile is a logbook to take away.
type figureFile struct{ Name, Href, Private string }

func (u *UI) figures(r *request) (view, error) {
	v, err := u.c.Figures(r.ctx, core.AskFigures(r.query.Get))
	if err != nil {
		return view{}, err
	}
	asked := v.Ask.Fields("")
	var files []figureFile
	if v.Cases > 0 {
		for _, name := range u.logbooks() {
			files = append(files, figureFile{name, withFields("figures/"+name, asked...), withFields("figures/"+name, append(slices.Clone(asked), "private", "yes")...)})
		}
	}
	return view{title: u.words.Say("figures.title"), class: "figures", parts: []part{
		{id: "head", tmpl: "figures-head", data: v},
		{id: "picks", tmpl: "picks", data: pickRows("figures", v.Picks)},
		{id: "figures", tmpl: "figures", data: v},
		{id: "files", tmpl: "figures-files", data: files},
		{id: "keys", tmpl: "figures-keys", data: withFields("search", asked...)},
	}}, nil
}

func (u *UI) search(r *request) (view, error) {
	page, err := strconv.Atoi(r.query.Get("page"))
	if err != nil {
		page = 0
	}
	v, err := u.c.Search(r.ctx, core.AskFigures(r.query.Get), page)
	if err != nil {
		return view{}, err
	}
	asked := v.Ask.Fields("")
	at := func(page int) string {
		return withFields("search", append(slices.Clone(asked), "page", strconv.Itoa(page))...)
	}
	d := struct {
		core.SearchView
		Newer, Older string
	}{SearchView: v}
	if v.Before {
		d.Newer = at(v.Page - 1)
	}
	if v.Next {
		d.Older = at(v.Page + 1)
	}
	return view{title: u.words.Say("figures.search"), class: "figures", parts: []part{
		{id: "head", tmpl: "search-head", data: v},
		{id: "picks", tmpl: "picks", data: pickRows("search", v.Picks)},
		{id: "list", tmpl: "search-list", data: d},
		{id: "keys", tmpl: "search-keys", data: withFields("figures", asked...)},
	}}, nil
}

// LogbookExporter makes the logbook of some cases as a table. What Lend is given
// may be one.
type LogbookExporter interface {
	Logbook(ctx context.Context, cases []string, private bool) (data []byte, mediaType string, err error)
}

// The logbook on paper needs no exporter; the table does.
const (
	logbookPaper = "logbook.pdf"
	logbookTable = "logbook.csv"
)

func (u *UI) logbooks() []string {
	if _, ok := u.exporter.(LogbookExporter); ok {
		return []string{logbookPaper, logbookTable}
	}
	return []string{logbookPaper}
}

// logbook answers a logbook as a file.
func (u *UI) logbook(r *request, name string) (Page, error) {
	ask, private := core.AskFigures(r.query.Get), r.query.Get("private") == "yes"
	if !slices.Contains(u.logbooks(), name) {
		return Page{}, errNoPage
	}
	if name == logbookPaper {
		var b bytes.Buffer
		err := u.c.LogbookPaper(r.ctx, &b, record.A4, ask, private)
		return Page{Status: 200, Type: "application/pdf", Body: b.Bytes(), Name: name}, err
	}
	ids, err := u.c.FigureCases(r.ctx, ask)
	if err != nil {
		return Page{}, err
	}
	data, mediaType, err := u.exporter.(LogbookExporter).Logbook(r.ctx, ids, private)
	return Page{Status: 200, Type: mediaType, Body: data, Name: name}, err
}
