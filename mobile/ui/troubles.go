package ui

import (
	"fmt"
	"strings"

	"chinlift/core"
)

// troubles is the list of the cards for emergencies.
func (u *UI) troubles(r *request) (view, error) {
	l, err := u.c.Troubles(r.ctx, r.id)
	if err != nil {
		return view{}, err
	}
	here := "case/" + r.id + "/trouble"
	due := u.due(l.Head, 0, true)
	due.Owing, due.Held = "", nil // no time for these now
	v := view{title: l.For, class: "trouble", owed: len(l.Owing), parts: []part{
		{id: "head", tmpl: "head", data: top(l.Head)}, {id: "others", tmpl: "others", data: l.Others}, {id: "dues", tmpl: "dues", data: due},
		{id: "list", tmpl: "trouble-list", data: struct {
			Case    string
			Running []core.TroubleChoice
			Groups  []core.TroubleGroup
		}{r.id, l.Running, l.Groups}},
	}}
	v.parts = append(v.parts, cardFoot(l.Head, here, "case/"+r.id+"/"+l.Home, l.Undo, l.Redo)...)
	return v, nil
}

// card is one card, with what was done of it.
func (u *UI) card(r *request, code string) (view, error) {
	c, err := u.c.CardOf(r.ctx, r.id, code)
	if err != nil {
		return view{}, err
	}
	theme, err := u.theme(r)
	if err != nil {
		return view{}, err
	}
	// What this card says is due stands at its steps, pulse and pressure above.
	due := u.due(c.Head, 0, false)
	due.Dues, due.Owing, due.Held, due.Short = nil, "", nil, true
	for _, x := range c.Dues {
		if x.Card != "" && x.Card != code {
			due.Dues = append(due.Dues, x)
		}
	}
	who := on{r.id, c.For}
	head := c
	head.Head = core.Head{Case: c.Case, For: c.For}
	head.Steps, head.Guesses, head.Sources, head.Undo, head.Redo, head.Look = nil, nil, nil, nil, nil, ""
	v := view{title: c.For, class: "trouble", owed: len(c.Owing), parts: []part{
		{id: "head", tmpl: "head", data: top(c.Head)}, {id: "others", tmpl: "others", data: c.Others}, {id: "dues", tmpl: "dues", data: due},
		{id: "card", tmpl: "card-head", data: struct {
			View  core.CardView
			Theme string
		}{head, theme}},
		{id: "weight", tmpl: "card-weight", data: struct {
			NoWeight bool
			Guesses  []core.WeightGuess
			On       on
		}{c.NoWeight, c.Guesses, who}},
	}}
	for i, s := range c.Steps {
		v.parts = append(v.parts, part{id: "step-" + s.Code, tmpl: "card-step", data: struct {
			Step core.CardStep
			On   on
			N    int
		}{s, who, i + 1}})
	}
	v.parts = append(v.parts, part{id: "end", tmpl: "card-end", data: struct {
		Look    string
		Left    int
		Sources []string
	}{c.Look, c.Left, c.Sources}})
	v.parts = append(v.parts, cardFoot(c.Head, "case/"+r.id+"/trouble/"+code, "case/"+r.id+"/"+c.Home, c.Undo, c.Redo)...)
	return v, nil
}

// cardFoot is the row that stays in reach: vitals, mark, undo, back.
func cardFoot(h core.Head, here, back string, undo, redo *core.Line) []part {
	const box = "pad foot card-foot"
	who := on{h.Case, h.For}
	return []part{
		{id: "mark", tmpl: "card-mark", data: who, box: box},
		{id: "vitals", tmpl: "card-vitals", data: struct{ Here string }{here}, box: box},
		{id: "undo", tmpl: "pad-undo", data: padUndo{who, undo, redo}, box: box},
		{id: "back", tmpl: "card-back", data: back, box: box},
	}
}

// backOf gives the page beneath the last part of a path.
func backOf(parts []string) string { return strings.Join(parts[:len(parts)-1], "/") }

// runningClock draws minutes and seconds that go on by themselves, from so many
// seconds on: a picture, since the script keeps no state. Whatever does not
// move it shows the time at which it was drawn.
func runningClock(seconds int, theme string) []byte {
	const high = 36 // of a row, in px
	ink := map[string]string{"dark": "#ffa08d", "dim": "#ff867c"}[theme]
	if ink == "" {
		ink = "#8c1507"
	}
	var b strings.Builder
	fmt.Fprintf(&b, `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 104 %d" width="104" height="%d"><g fill="%s" font-family="system-ui,sans-serif" font-size="34" font-weight="700" text-anchor="middle">`, high, high, ink)
	for i, d := range []struct{ x, digits, each int }{{10, 10, 600}, {32, 10, 60}, {72, 6, 10}, {94, 10, 1}} {
		fmt.Fprintf(&b, `<g transform="translate(0 %d)">`, -high*(seconds/d.each%d.digits))
		var rows []string
		for n := range d.digits {
			fmt.Fprintf(&b, `<text x="%d" y="%d">%d</text>`, d.x, high*n+30, n)
			rows = append(rows, fmt.Sprintf("0 %d", -high*n))
		}
		fmt.Fprintf(&b, `<animateTransform attributeName="transform" type="translate" calcMode="discrete" values="%s" dur="%ds" begin="-%ds" repeatCount="indefinite"/></g>`,
			strings.Join(rows, ";"), d.digits*d.each, seconds%(d.digits*d.each))
		if i == 1 {
			b.WriteString(`<text x="52" y="28">:</text>`)
		}
	}
	b.WriteString(`</g></svg>`)
	return []byte(b.String())
}
