package ui

import (
	"bytes"
	"cmp"
	"context"
	"errors"
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
	case r.parts[0] == "log":
		return u.placeView(r)
	case r.path == "/take-in", r.path == "/backup":
		return u.takeInView(r)
	case r.path == "/figures":
		return u.figures(r)
	case r.path == "/search":
		return u.search(r)
	case r.path == "/settings":
		return u.settings(r)
	case r.path == "/rules":
		return u.rules(r)
	case len(r.parts) == 2 && r.parts[0] == "rules":
		return u.ruleDrug(r)
	case r.parts[0] == "sealing":
		return u.lockView(r)
	case r.path == "/people":
		return u.people(r)
	case r.path == "/fasting":
		return u.fastingSets(r)
	case r.path == "/stops":
		return u.stopMarks(r)
	case r.path == "/case/new":
		return u.caseNew(r)
	case r.parts[0] == "kit":
		return u.kitView(r)
	case r.parts[0] == "supplies":
		return u.supplyView(r)
	case len(r.parts) >= 3 && r.parts[0] == "case":
		r.id = r.parts[1]
		return u.caseView(r)
	}
	return view{}, errNoPage
}

// caseView works out a page of a case. On every one of them whoever else is
// open stays in sight, and what is due is told.
func (u *UI) caseView(r *request) (view, error) {
	v, err := u.casePage(r)
	if err != nil {
		return v, err
	}
	if !u.device.Alarms {
		if v.alarm, err = u.c.Alarm(r.ctx); err != nil {
			return v, err
		}
	}
	v.live = true
	// A title is kept by a browser's history: it names nobody.
	v.title = u.words.Say("case.number", "n", core.ShortCase(r.id))
	cs, err := u.c.Case(r.ctx, r.id)
	if err != nil {
		return v, err
	}
	at := slices.IndexFunc(v.parts, func(p part) bool { return p.id == "others" })
	if at < 0 {
		h, _, err := u.c.HeadOf(r.ctx, r.id)
		if err != nil {
			return v, err
		}
		v.parts = slices.Insert(v.parts, 1, part{id: "others", tmpl: "others", data: h.Others})
	}
	// The table and the trays have no room for it; there the name says it.
	if !strings.HasPrefix(v.class, "table") {
		locked := ""
		if cs.Sealed {
			locked = r.id
		}
		v.parts = slices.Insert(v.parts, 1, part{id: "locked", tmpl: "locked", data: locked})
	}
	for i := range v.parts {
		p := &v.parts[i]
		p.still = v.class != "table" && v.class != "start" && v.class != "trouble" && p.id != "head" && p.id != "others" && p.id != "dues"
	}
	return v, nil
}

func (u *UI) casePage(r *request) (view, error) {
	screen, sub := r.parts[2], r.parts[3:]
	switch {
	case screen == "table" && len(sub) == 0:
		return u.table(r)
	case screen == "table":
		return u.tray(r, sub)
	case screen == "doses" && len(sub) == 0:
		return u.doses(r)
	case screen == "visit" && len(sub) == 0:
		return u.visit(r)
	case screen == "visit" && len(sub) == 1 && slices.Contains(core.VisitGroups, sub[0]):
		return u.visitGroup(r, sub[0])
	case screen == "start" && len(sub) == 0:
		return u.start(r)
	case screen == "pause" && len(sub) == 1:
		return u.pause(r, sub[0])
	case screen == "visit" && len(sub) == 1:
		return u.fact(r, sub[0])
	case screen == "waking" && len(sub) == 0:
		return u.waking(r)
	case screen == "waking" && len(sub) == 1 && sub[0] == "care":
		return u.care(r)
	case screen == "waking" && len(sub) == 1 && sub[0] == "leaving":
		return u.leaving(r, core.LeavingToWard)
	case screen == "waking" && len(sub) == 1 && sub[0] == "home":
		return u.leaving(r, core.LeavingHome)
	case screen == "next-day" && len(sub) == 0:
		return u.nextDay(r)
	case screen == "handover" && len(sub) == 0:
		return u.handover(r)
	case screen == "waking" && len(sub) == 1 && sub[0] == "vitals":
		return u.tray(r, sub)
	case screen == "trouble" && len(sub) == 0:
		return u.troubles(r)
	case screen == "trouble" && sub[len(sub)-1] == "vitals" && len(sub) <= 2:
		return u.tray(r, sub[len(sub)-1:])
	case screen == "trouble" && len(sub) == 1:
		return u.card(r, sub[0])
	case screen == "record" && len(sub) == 0:
		return u.record(r)
	case screen == "paper" && len(sub) == 0:
		return u.paper(r)
	case screen == "destroy" && (len(sub) == 0 || len(sub) == 2):
		return u.destroyView(r, sub)
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
	s, err := u.sending(r.ctx)
	if err != nil {
		return view{}, err
	}
	st, err := u.c.Sealing(r.ctx)
	if err != nil {
		return view{}, err
	}
	// The clock goes on, what is due comes due, and what is sent is confirmed
	// while the page lies open. No part is drawn anew for what another one shows.
	head := t
	head.Open, head.Kit, head.Supplies = nil, nil, core.Supplies{}
	return view{title: u.words.Say("shell.name"), class: "today", live: true, parts: []part{
		{id: "head", tmpl: "today-head", data: head}, {id: "open", tmpl: "today-open", data: core.Today{Open: t.Open}}, {id: "sending", tmpl: "today-sending", data: s}, {id: "names", tmpl: "today-names", data: st},
		{id: "ready", tmpl: "today-ready", data: core.Today{Kit: t.Kit, Supplies: t.Supplies}}, {id: "keys", tmpl: "today-keys"},
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
	s, err := u.sending(r.ctx)
	if err != nil {
		return view{}, err
	}
	var kinds []string
	if u.sender != nil {
		kinds = u.sender.Kinds()
	}
	locked := slices.ContainsFunc(l.Cases, func(x core.LogLine) bool { return x.Sealed })
	list, places := part{id: "list", tmpl: "log", data: l}, part{id: "places", tmpl: "outbox-add", data: kinds}
	if len(s.Places) == 0 { // what asks for a place stands beside its keys, not a long log above them
		list, places = places, list
	}
	// A page further back is not brought up to date: its path does not say which it is.
	return view{title: u.words.Say("log.title"), class: "log", live: (s.Lent || !u.c.Locked()) && before == 0, parts: []part{
		{id: "head", tmpl: "log-head", data: l.Total}, {id: "locked", tmpl: "log-locked", data: locked}, {id: "outbox", tmpl: "outbox", data: s}, list, places, {id: "carry", tmpl: "log-carry", data: u.taker != nil},
	}}, nil
}

func (u *UI) settings(r *request) (view, error) {
	m := map[string]any{}
	m["device"], m["version"] = u.device.settings(), core.Version()
	for _, key := range []string{core.LocalHand, core.LocalTheme, core.LocalText, core.LocalMetered, core.LocalMarkKey} {
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
	if m["heads"], err = u.c.AuthorHeads(r.ctx); err != nil {
		return view{}, err
	}
	every, err := u.c.VitalsEvery(r.ctx)
	if err != nil {
		return view{}, err
	}
	m["every"] = strconv.Itoa(every)
	alarm, err := u.c.Alarm(r.ctx)
	if err != nil {
		return view{}, err
	}
	if m["place"], err = u.c.Place(r.ctx); err != nil {
		return view{}, err
	}
	if m["offers"], err = u.c.OfferSettings(r.ctx); err != nil {
		return view{}, err
	}
	m["dues"] = map[string]string{"due-sound": yesNo(alarm.Sound), "due-buzz": yesNo(alarm.Buzz)}
	return view{title: u.words.Say("settings.title"), class: "settings", parts: []part{{id: "settings", tmpl: "settings", data: m}}}, nil
}

// rules is the page of all dose rules.
func (u *UI) rules(r *request) (view, error) {
	b, err := u.c.RuleBook(r.ctx)
	if err != nil {
		return view{}, err
	}
	return view{title: u.words.Say("rules.title"), class: "rules", parts: []part{{id: "rules", tmpl: "rules", data: b}, {id: "lay", tmpl: "rules-lay", data: core.RuleBook{Own: b.Own, Left: b.Left}, still: true}}}, nil
}

// ruleDrug is the page of the rules of one drug.
func (u *UI) ruleDrug(r *request) (view, error) {
	d, err := u.c.RuleDrug(r.ctx, r.parts[1])
	if err != nil {
		return view{}, err
	}
	name, err := u.c.AuthorName(r.ctx)
	if err != nil {
		return view{}, err
	}
	return view{title: d.Words, class: "rules", parts: []part{{id: "drug", tmpl: "rule-drug", data: struct {
		core.RuleDrug
		Name string
	}{d, name}}}}, nil
}

func yesNo(b bool) string {
	if b {
		return "yes"
	}
	return "no"
}

// asking is a patient of whom a new case asks who watches them.
type asking struct{ For, Field string }

func (u *UI) caseNew(r *request) (view, error) {
	t, err := u.c.Today(r.ctx)
	if err != nil {
		return view{}, err
	}
	others, err := u.c.Unrecovered(r.ctx)
	if err != nil {
		return view{}, err
	}
	var ask []asking
	for _, cs := range others {
		ask = append(ask, asking{cs.For(core.Speaker{Book: u.words}), core.WatchField(cs.ID)})
	}
	return view{title: u.words.Say("case.new"), class: "form", parts: []part{{id: "new", tmpl: "case-new", data: struct {
		Clock  string
		Asking []asking
	}{t.Clock, ask}}}}, nil
}

func (u *UI) table(r *request) (view, error) {
	t, err := u.c.Table(r.ctx, r.id)
	if err != nil {
		return view{}, err
	}
	theme, err := u.theme(r)
	if err != nil {
		return view{}, err
	}
	text, err := u.c.Local(r.ctx, core.LocalText)
	if err != nil {
		return view{}, err
	}
	on := on{t.Case, t.For}
	due, two := u.due(t.Head, t.Marks, true), len(t.Others) > 0
	v := view{title: t.For, class: "table", owed: len(t.Owing), parts: []part{
		{id: "head", tmpl: "head", data: top(t.Head)}, {id: "drawn", tmpl: "drawn", data: drawn{t.Case, t.Tile, theme, two && (text == "" || text == "100")}},
	}}
	if chips := u.chips(due); two && len(chips) > 0 {
		// Beside the second case there is one line for all that is due.
		v.parts = append(v.parts, part{id: "others", tmpl: "others-beside", data: t.Others}, part{id: "dues", tmpl: "dues-folded", data: fold(t.Case, chips)})
	} else {
		v.parts = append(v.parts, part{id: "others", tmpl: "others", data: t.Others}, part{id: "dues", tmpl: "dues", data: due})
	}
	add := func(id, tmpl string, data any) {
		v.parts = append(v.parts, part{id: id, tmpl: tmpl, data: data, box: "pad three table-pad"})
	}
	key := func(name string) {
		for _, k := range t.Keys {
			if k.Name == name {
				add("key-"+name, "pad-key", padKey{t.Case, k})
			}
		}
	}
	for _, name := range []string{"breathing", "eyes", "vitals", "agent"} {
		key(name)
	}
	add("key-lower", "pad-step", padStep{on, "lower", t.Lower})
	add("key-higher", "pad-step", padStep{on, "higher", t.Higher})
	for _, name := range []string{"drug", "airway", "fluids", "step"} {
		key(name)
	}
	add("key-next", "pad-next", padNext{on, t.Next, t.NextPhase})
	key("depth")
	key("more")
	v.parts = append(v.parts,
		part{id: "mark", tmpl: "pad-mark", data: on, box: "pad foot"},
		part{id: "trouble", tmpl: "pad-trouble", data: on, box: "pad foot"},
		part{id: "undo", tmpl: "pad-undo", data: padUndo{on, t.Undo, t.Redo}, box: "pad foot"},
		part{id: "away", tmpl: "pad-away", data: on, box: "pad three away"})
	return v, nil
}

// The data of parts hold no more than the part shows, so that a part is drawn
// again only when it shows something else.

// on is the case that a control belongs to, and whose name stands on it.
type on struct{ Case, For string }

type padKey struct {
	Case string
	Key  core.Key
}

type padStep struct {
	on
	Name string
	Dose *core.Dose
}

type padNext struct {
	on
	Next, NextPhase string
}

type padUndo struct {
	on
	Undo, Redo *core.Line
}

type drawn struct {
	Case  string
	Tile  core.Tile
	Theme string
	Low   bool // a second case wants some of its room
}

// chip is one thing that is due, owed or open, in few words.
type chip struct {
	Key, Text, Href string
	Over, Layer     bool
	At              int64 // when it is due, or was; 0: at no time
}

// chips gives what is due in a case as chips of few words, what is worst first.
func (u *UI) chips(d dueData) (all []chip) {
	of := "case/" + d.Case + "/"
	if d.Battery != "" {
		all = append(all, chip{Key: "battery", Text: d.Battery, Href: of + "table/open", Over: true, Layer: true})
	}
	for _, o := range d.Offers {
		all = append(all, chip{Key: "offer-" + o.Card, Text: u.words.Say("trouble.offer", "name", o.Name), Href: of + "trouble/" + o.Card, Over: o.At != 0, At: o.At})
	}
	for _, x := range d.Dues {
		all = append(all, chip{Key: "due-" + x.Step, Text: x.Text + " · " + x.What, Href: of + "trouble/" + x.Card, Over: x.Over, At: x.At})
	}
	if d.Doubt != nil {
		all = append(all, chip{Key: "far", Text: d.Doubt.Text, Href: of + "visit/weight", Over: true})
	}
	for _, h := range d.Held {
		all = append(all, chip{Key: "held", Text: h.Words, Href: "kit/" + h.List})
	}
	if d.Conflicts > 0 {
		all = append(all, chip{Key: "conflicts", Text: u.words.Count("case.conflicts", d.Conflicts), Href: of + "record", Over: true})
	}
	if d.Owing != "" {
		all = append(all, chip{Key: "chip", Text: d.Owing, Href: of + "table/owed", Layer: true})
	}
	for _, x := range d.Unjudged {
		to := "entry/" + x.Entry
		if x.Needs != "" {
			to = "visit/" + x.Needs
		}
		all = append(all, chip{Key: "unjudged", Text: x.Text, Href: of + to})
	}
	if d.Marks > 0 {
		all = append(all, chip{Key: "unnamed", Text: u.words.Count("case.unnamed", d.Marks), Href: of + "table/marks", Layer: true})
	}
	return all
}

// folded is what is due in one line: the first of it, and how much more a tap
// lists.
type folded struct {
	Case  string
	First chip
	More  int
	Over  bool // some of the rest is over
}

func fold(id string, chips []chip) folded {
	return folded{id, chips[0], len(chips) - 1, slices.ContainsFunc(chips[1:], func(c chip) bool { return c.Over })}
}

// top is what the head of a page shows of a case.
func top(h core.Head) core.Head {
	h.Owing, h.Unjudged, h.Others, h.Held, h.Offers, h.Conflicts, h.Recorded, h.Battery = nil, nil, nil, nil, nil, 0, 0, ""
	h.Doubt = nil
	return h
}

// dueData is what is due, owed or open in a case.
type dueData struct {
	Case      string
	Offers    []core.OfferLine
	Dues      []core.Due
	Conflicts int
	Owing     string // the reason that is owed, or how many are; it waits while a card is offered
	Unjudged  []core.UnjudgedLine
	Short     bool // of an offer only the card's name: on the page of a card the steps come first
	Held      []core.Held
	Doubt     *core.WeightDoubt
	Marks     int
	Battery   string
}

// due leaves out what a key of the page itself says is due.
func (u *UI) due(h core.Head, marks int, onKey bool) dueData {
	d := dueData{Case: h.Case, Offers: h.Offers, Conflicts: h.Conflicts, Marks: marks, Held: h.Held, Doubt: h.Doubt, Unjudged: h.Unjudged, Battery: h.Battery}
	for _, x := range h.Dues {
		if !onKey || x.Card != "" {
			d.Dues = append(d.Dues, x)
		}
	}
	switch n := len(h.Owing); {
	case n == 0 || len(h.Offers) > 0:
	case n == 1:
		d.Owing = h.Owing[0].Text
	default:
		d.Owing = u.words.Count("case.owing", n)
	}
	return d
}

// theme gives the theme that this device is set to.
func (u *UI) theme(r *request) (string, error) {
	t, err := u.c.Local(r.ctx, core.LocalTheme)
	if t == "" {
		t = "auto"
	}
	return t, err
}

// nav is the row of screens of a case.
func nav(h core.Head, here string) map[string]any { return map[string]any{"Head": h, "Here": here} }

// trays are the templates that a tray is drawn by.
var trays = []string{"vitals", "agent", "breathing", "eyes", "drug", "airway", "step", "fluids", "more", "signs", "position", "block",
	"access", "attached", "watched", "note", "photo", "birth", "unwatched", "owed", "marks", "sheet", "depth", "open"}

// trayData is what a tray is drawn from.
type trayData struct {
	core.Head
	Takes, Pictures bool // a photograph can be picked on the page, or taken by the device

	Name    string
	Rows    []core.MeasureRow
	Agent   core.AgentTray
	Drugs   core.DrugTray
	Steps   core.StepTray
	Drug    core.DrugChoice
	Cards   []core.DrugCard // of the drugs of this case
	Doses   []core.DoseView // of one drug
	Dose    core.DoseView   // of one use
	Marks   []core.Line
	Owing   []owedLine
	Open    dueData // all that is due, owed or open
	Counted string  // in which cases the doses that count were given
	Depth   core.DepthView
	Back    string // the page that the tray belongs to

	Limits string // for whom the usual values are
	Kind   string
	Same   string // how old the values are that one key confirms; empty: none
}

// owedLine is a reason that is owed, and what it is owed for.
type owedLine struct {
	core.Line
	Why []core.Cited
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
	if r.parts[2] == "trouble" {
		d.Back = backOf(r.parts)
	}
	tmpl := "tray-" + name
	switch name {
	case "vitals":
		d.Rows = u.c.MeasureRows(cs)
		d.Same, d.Limits = u.c.SameAge(cs), u.c.LimitsNote(cs)
	case "agent":
		if d.Agent, err = u.c.AgentTray(r.ctx, cs, r.query.Get("agent"), r.query.Get("way")); err != nil {
			return view{}, err
		}
	case "drug":
		d.Counted = u.c.CountedIn(r.ctx, cs)
		if d.Drugs, err = u.c.DrugTray(r.ctx, cs); err != nil {
			return view{}, err
		}
		if len(sub) == 2 {
			d.Drug, tmpl = u.c.DrugChoice(cs, sub[1]), "tray-drug-one"
			d.Doses, err = u.c.Doses(r.ctx, cs, sub[1], "")
			if errors.Is(err, core.ErrNotHere) {
				err = nil // a drug that no rule knows is given all the same
			}
		}
		if len(sub) == 1 {
			// What has a card of its own needs no other key.
			d.Cards, err = u.c.PlanDoses(r.ctx, cs)
			has := func(g core.DrugChoice) bool {
				return slices.ContainsFunc(d.Cards, func(c core.DrugCard) bool { return c.Drug == g.Code })
			}
			d.Drugs.Given, d.Drugs.Plan = slices.DeleteFunc(d.Drugs.Given, has), slices.DeleteFunc(d.Drugs.Plan, has)
		}
		if len(sub) == 3 {
			d.Dose, err = u.c.DoseOf(r.ctx, cs, sub[1], sub[2], core.Route(r.query.Get("route")))
			d.Back, tmpl = d.Back+"/drug", "tray-dose"
		}
		if err != nil {
			return view{}, err
		}
	case "step":
		d.Steps = u.c.StepTray(cs)
	case "depth":
		if r.aged {
			break // the sheet stays as it was shown: nothing is shown that would be kept
		}
		if d.Depth, err = u.c.ShowDepth(r.ctx, cs, core.DepthIf{Way: r.query.Get("way"), Code: r.query.Get("to")}); err != nil {
			return view{}, err
		}
		u.depthShown(r.id, &d.Depth, cs)
	case "open":
		d.Open = u.due(h, len(u.c.UnnamedMarks(cs)), true)
	case "photo":
		d.Takes, d.Pictures = u.takesPhotos, u.device.Pictures
	case "marks":
		d.Marks = u.c.UnnamedMarks(cs)
	case "owed":
		for _, l := range h.Owing {
			why, err := u.c.Exceeded(r.ctx, cs, l.Over)
			if err != nil {
				return view{}, err
			}
			open, err := u.c.Passed(r.ctx, cs, l.Over)
			if err != nil {
				return view{}, err
			}
			why = append(why, open...)
			d.Owing = append(d.Owing, owedLine{l, why})
		}
	}
	if len(sub) > 3 || len(sub) > 1 && name != "drug" {
		return view{}, errNoPage
	}
	return view{title: h.For, class: "table tray", owed: len(h.Owing), parts: []part{
		{id: "head", tmpl: "head", data: top(h)}, {id: "others", tmpl: "others", data: h.Others}, {id: "tray", tmpl: tmpl, data: d},
	}}, nil
}

func (u *UI) visit(r *request) (view, error) {
	v, err := u.c.Visit(r.ctx, r.id)
	if err != nil {
		return view{}, err
	}
	all := view{title: v.For, class: "visit", owed: len(v.Owing), parts: []part{
		{id: "head", tmpl: "head", data: top(v.Head)}, {id: "first", tmpl: "visit-first", data: v},
	}}
	for _, g := range v.Groups {
		all.parts = append(all.parts, part{id: "group-" + g.Code, tmpl: "visit-group", data: g})
	}
	all.parts = append(all.parts, part{id: "plan", tmpl: "visit-plan", data: v}, part{id: "start", tmpl: "visit-start", data: v}, part{id: "nav", tmpl: "nav", data: nav(v.Head, "visit")})
	return all, nil
}

// visitGroup is the page of one group of facts.
func (u *UI) visitGroup(r *request, code string) (view, error) {
	g, err := u.c.VisitGroup(r.ctx, r.id, code)
	if err != nil {
		return view{}, err
	}
	return view{title: g.For, class: "visit", owed: len(g.Owing), parts: []part{
		{id: "head", tmpl: "head", data: top(g.Head)}, {id: "group", tmpl: "group", data: g}, {id: "nav", tmpl: "nav", data: nav(g.Head, "visit")},
	}}, nil
}

// startGo is what the key of the start shows.
type startGo struct {
	On    on
	Held  int
	Began string
}

// start is the page in the hand before the start.
func (u *UI) start(r *request) (view, error) {
	v, err := u.c.StartOf(r.ctx, r.id)
	if err != nil {
		return view{}, err
	}
	whose := on{v.Case, v.For}
	return view{title: v.For, class: "start", owed: len(v.Owing), parts: []part{
		{id: "head", tmpl: "head", data: top(v.Head)}, {id: "others", tmpl: "others", data: v.Others}, {id: "dues", tmpl: "dues", data: u.due(v.Head, 0, false)},
		{id: "held", tmpl: "start-held", data: v}, {id: "checks", tmpl: "start-checks", data: v}, {id: "changes", tmpl: "start-changes", data: v},
		{id: "missing", tmpl: "start-missing", data: v}, {id: "settled", tmpl: "start-settled", data: v}, {id: "nav", tmpl: "nav", data: nav(v.Head, "visit")},
		{id: "go", tmpl: "start-go", data: startGo{whose, len(v.Held), v.Began}, box: "pad foot"}, {id: "to", tmpl: "start-table", data: whose, box: "pad foot"},
	}}, nil
}

// pause is the page of one pause: a part for each item, so that a tap changes
// one of them.
func (u *UI) pause(r *request, code string) (view, error) {
	p, err := u.c.Pause(r.ctx, r.id, code)
	if err != nil {
		return view{}, err
	}
	v := view{title: p.For, class: "kit", owed: len(p.Owing), parts: []part{
		{id: "head", tmpl: "head", data: top(p.Head)}, {id: "others", tmpl: "others", data: p.Others},
		{id: "pause", tmpl: "pause-head", data: map[string]any{"Name": p.Name, "Yes": p.Yes, "Of": len(p.Items), "Stops": p.Stops}},
	}}
	for _, it := range p.Items {
		v.parts = append(v.parts, part{id: "item-" + it.Code, tmpl: "pause-item", data: it})
	}
	v.parts = append(v.parts, part{id: "sweep", tmpl: "pause-sweep", data: map[string]any{"Case": p.Case, "For": p.For, "Pause": p.Pause, "Rest": p.Rest}})
	return v, nil
}

// fastingSets is the page of the fasting rules.
func (u *UI) fastingSets(r *request) (view, error) {
	sets, err := u.c.FastingSets(r.ctx)
	if err != nil {
		return view{}, err
	}
	name, err := u.c.AuthorName(r.ctx)
	if err != nil {
		return view{}, err
	}
	return view{title: u.words.Say("fasting.title"), class: "rules", parts: []part{{id: "sets", tmpl: "fasting-sets", data: map[string]any{"Sets": sets, "Name": name}}}}, nil
}

// stopMarks is the page of what stops a planned start.
func (u *UI) stopMarks(r *request) (view, error) {
	marks, err := u.c.StopMarks(r.ctx)
	if err != nil {
		return view{}, err
	}
	return view{title: u.words.Say("start.marks"), class: "rules", parts: []part{{id: "marks", tmpl: "stop-marks", data: marks}}}, nil
}

// doses is the page of what the rules say for this patient's drugs.
func (u *UI) doses(r *request) (view, error) {
	h, cs, err := u.c.HeadOf(r.ctx, r.id)
	if err != nil {
		return view{}, err
	}
	doses, err := u.c.PlanDoses(r.ctx, cs)
	if err != nil {
		return view{}, err
	}
	asks, err := u.c.Asks(r.ctx, cs)
	if err != nil {
		return view{}, err
	}
	open := 0
	for _, a := range asks {
		if a.Now && a.Answer == "" {
			open++
		}
	}
	due := u.due(h, 0, false)
	due.Doubt = nil // the page says it itself, with its keys
	return view{title: h.For, class: "doses", owed: len(h.Owing), parts: []part{
		{id: "head", tmpl: "head", data: top(h)}, {id: "dues", tmpl: "dues", data: due},
		{id: "doses", tmpl: "doses", data: map[string]any{"Head": h, "Doses": doses, "Ask": open, "Counted": u.c.CountedIn(r.ctx, cs)}},
		{id: "nav", tmpl: "nav", data: nav(h, "visit")},
	}}, nil
}

// facts are the pages below the visit.
var facts = []string{"name", "age", "sex", "weight", "length", "pregnant", "with", "asa", "allergies", "mallampati", "mouth", "neck", "teeth", "side", "consent", "intake", "baseline", "plan",
	"takes", "habits", "urine", "tests_seen", "warnings", "thyromental", "haemoglobin", "anaesthetics_before", "assistant", "heart", "lungs",
	"words", "injury", "team", "consulted", "steps", "performed", "same_as"}

func (u *UI) fact(r *request, name string) (view, error) {
	if !slices.Contains(facts, name) {
		return view{}, errNoPage
	}
	h, cs, err := u.c.HeadOf(r.ctx, r.id)
	if err != nil {
		return view{}, err
	}
	f := u.c.FieldNamed(cs, name)
	d := map[string]any{"Head": h, "Name": name, "Back": "case/" + r.id + "/visit", "Fact": f}
	tmpl := "fact-choice"
	switch {
	case f.How == "yes-no":
		tmpl = "fact-yes-no"
	case f.How == "page" && f.List != "":
		tmpl = "fact-many"
	}
	switch name {
	case "thyromental", "haemoglobin":
		d["Unit"], tmpl = map[string]string{"thyromental": "cm", "haemoglobin": "g/dL"}[name], "fact-number"
	case "words", "injury", "team", "consulted", "performed":
		tmpl = "fact-" + name
	case "steps":
		d["Steps"], tmpl = u.c.StepsPlanned(cs), "fact-steps"
	case "same_as":
		same, err := u.c.SameChoices(r.ctx, cs)
		if err != nil {
			return view{}, err
		}
		d["Same"], d["Counted"], tmpl = same, u.c.CountedIn(r.ctx, cs), "fact-same"
	case "weight":
		d["Guesses"], d["AskWasted"], d["Doubt"], tmpl = u.c.WeightGuesses(cs), u.c.AsksWasted(cs), h.Doubt, "fact-weight"
	case "plan":
		p, err := u.c.PlanForm(r.ctx, r.id)
		if err != nil {
			return view{}, err
		}
		d["Plan"], d["PlanText"], d["Start"], d["StartFull"], d["DrugGroups"], tmpl = p.Plan, p.Words, p.Start, p.StartFull, p.Drugs, "fact-plan"
		losses, cautions, source := u.c.Losses(cs)
		d["Losses"], d["LossCautions"], d["LossSource"], d["LossML"] = losses, cautions, source, p.Plan.LossAllowed.Value.String()
		// A loss that was planned and is not among those offered now stays.
		if a := p.Plan.LossAllowed; !a.IsZero() && !slices.ContainsFunc(losses, func(l core.LossChoice) bool { return l.ML == a.Value.String() }) {
			d["LossKept"] = a.Value.String()
		}
	case "with":
		asks, err := u.c.Asks(r.ctx, cs)
		if err != nil {
			return view{}, err
		}
		d["Asks"], d["Rest"], tmpl = asks, restOf(asks), "fact-with"
	case "name", "age", "length", "asa", "allergies", "side", "intake":
		d["Hints"], tmpl = u.c.ASAHints(cs), "fact-"+name
	case "baseline":
		return view{title: h.For, class: "table tray", parts: []part{{id: "head", tmpl: "head", data: top(h)},
			{id: "tray", tmpl: "tray-vitals", data: trayData{Head: h, Name: "baseline", Kind: "baseline", Rows: u.c.MeasureRows(cs), Limits: u.c.LimitsNote(cs), Back: "case/" + r.id + "/visit"}}}}, nil
	}
	return view{title: h.For, class: "visit", owed: len(h.Owing), parts: []part{{id: "head", tmpl: "head", data: top(h)}, {id: "fact", tmpl: tmpl, data: d}}}, nil
}

// rest is what one key answers: what this patient's drugs turn on, and nobody
// has asked yet.
type rest struct {
	Codes string
	N     int
	At    int // its place in the list: behind all that it answers
}

func restOf(asks []core.Ask) *rest {
	var codes []string
	at := 0
	for i, a := range asks {
		if a.Now {
			at = i + 1
		}
		if a.Now && a.Answer == "" {
			codes = append(codes, a.Code)
		}
	}
	if len(codes) == 0 {
		return nil
	}
	return &rest{strings.Join(codes, ","), len(codes), at}
}

func (u *UI) waking(r *request) (view, error) {
	w, err := u.c.WakingOf(r.ctx, r.id)
	if err != nil {
		return view{}, err
	}
	return view{title: w.For, class: "waking", owed: len(w.Owing), parts: []part{
		{id: "head", tmpl: "head", data: top(w.Head)}, {id: "others", tmpl: "others", data: w.Others}, {id: "dues", tmpl: "dues", data: u.due(w.Head, 0, false)}, {id: "score", tmpl: "waking", data: w}, {id: "looks", tmpl: "looks", data: w}, wakingFoot(w.Head), {id: "nav", tmpl: "nav", data: nav(w.Head, "waking")},
	}}, nil
}

// wakingFoot is the row of the pages of waking that stays in reach: trouble,
// vitals, the table.
func wakingFoot(h core.Head) part {
	return part{id: "foot", tmpl: "waking-foot", data: h.Case}
}

// care is the page of what is done and asked of a patient who wakes, besides
// the score: airway, side and eyes; pain, sickness and bleeding.
func (u *UI) care(r *request) (view, error) {
	w, err := u.c.CareOf(r.ctx, r.id)
	if err != nil {
		return view{}, err
	}
	d := w
	d.Head = core.Head{Case: w.Case, For: w.For}
	return view{title: w.For, class: "waking", owed: len(w.Owing), parts: []part{
		{id: "head", tmpl: "head", data: top(w.Head)}, {id: "others", tmpl: "others", data: w.Others}, {id: "dues", tmpl: "dues", data: u.due(w.Head, 0, false)},
		{id: "care", tmpl: "care", data: d}, wakingFoot(w.Head), {id: "nav", tmpl: "nav", data: nav(w.Head, "waking")},
	}}, nil
}

// leaving is the page of what a patient has to have before leaving recovery, or
// before going home.
func (u *UI) leaving(r *request, to string) (view, error) {
	l, err := u.c.Leaving(r.ctx, r.id, to)
	if err != nil {
		return view{}, err
	}
	d := l
	d.Head = core.Head{Case: l.Case, For: l.For}
	return view{title: l.For, class: "waking", owed: len(l.Owing), parts: []part{
		{id: "head", tmpl: "head", data: top(l.Head)}, {id: "others", tmpl: "others", data: l.Others}, {id: "dues", tmpl: "dues", data: u.due(l.Head, 0, false)},
		{id: "leaving", tmpl: "leaving", data: d}, wakingFoot(l.Head), {id: "nav", tmpl: "nav", data: nav(l.Head, "waking")},
	}}, nil
}

// nextDay is the page of what is asked the day after: a part for each
// question, so that a tap changes one of them.
func (u *UI) nextDay(r *request) (view, error) {
	d, err := u.c.NextDay(r.ctx, r.id)
	if err != nil {
		return view{}, err
	}
	v := view{title: d.For, class: "waking", owed: len(d.Owing), parts: []part{
		{id: "head", tmpl: "head", data: top(d.Head)}, {id: "others", tmpl: "others", data: d.Others},
		{id: "tell", tmpl: "next-day", data: map[string]any{"Tell": d.Tell, "Who": d.Who}},
	}}
	for _, q := range d.Questions {
		v.parts = append(v.parts, part{id: "q-" + q.Code, tmpl: "next-day-question", data: map[string]any{"Head": on{d.Case, d.For}, "Version": d.Version, "Q": q}})
	}
	v.parts = append(v.parts, part{id: "nav", tmpl: "nav", data: nav(d.Head, "waking")})
	return v, nil
}

// handover is the page of what is said when a patient is handed over.
func (u *UI) handover(r *request) (view, error) {
	h, err := u.c.Handover(r.ctx, r.id)
	if err != nil {
		return view{}, err
	}
	d := h
	d.Head = core.Head{Case: h.Case, For: h.For}
	return view{title: h.For, class: "waking", owed: len(h.Owing), parts: []part{
		{id: "head", tmpl: "head", data: top(h.Head)}, {id: "others", tmpl: "others", data: h.Others}, {id: "dues", tmpl: "dues", data: u.due(h.Head, 0, false)},
		{id: "handover", tmpl: "handover", data: d}, {id: "nav", tmpl: "nav", data: nav(h.Head, "waking")},
	}}, nil
}

func (u *UI) record(r *request) (view, error) {
	h, cs, err := u.c.HeadOf(r.ctx, r.id)
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
	tiles, err := u.c.Tiles(r.ctx, cs)
	if err != nil {
		return view{}, err
	}
	theme, err := u.theme(r)
	if err != nil {
		return view{}, err
	}
	closed := ""
	if cs.Closed {
		closed = r.id
	}
	return view{title: h.For, class: "record", owed: len(h.Owing), parts: []part{
		{id: "head", tmpl: "head", data: top(h)}, {id: "notices", tmpl: "record-notices", data: s.Notices}, {id: "drawn", tmpl: "tiles", data: map[string]any{"Case": r.id, "Tiles": tiles, "Theme": theme}},
		{id: "end", tmpl: "record-end", data: h}, {id: "entries", tmpl: "record-entries", data: map[string]any{"Lines": lines, "Case": r.id}},
		{id: "files", tmpl: "record-files", data: map[string]any{"Head": h, "Files": u.exports()}}, {id: "destroy", tmpl: "record-destroy", data: closed}, {id: "nav", tmpl: "nav", data: nav(h, "record")},
	}}, nil
}

func (u *UI) entry(r *request, id string) (view, error) {
	e, err := u.c.EntryOf(r.ctx, r.id, id)
	if err != nil {
		return view{}, err
	}
	return view{title: e.For, class: "entry", parts: []part{{id: "head", tmpl: "head", data: e.Head}, {id: "entry", tmpl: "entry", data: e}, {id: "nav", tmpl: "nav", data: nav(e.Head, "")}}}, nil
}

// paperKind is a sort of row of the page for typing in: what the paper form
// has a place for, with the fields of the kind that it becomes. The names of
// its fields on the page begin with its letter and the row's number: v0.pulse.
type paperKind struct {
	Letter, Kind string
	Rows         int
	Fields       []paperField
}

// paperField is one field of a row; List names the choices, or is empty for
// what is written out.
type paperField struct{ Name, List string }

var paperKinds = []paperKind{
	{"p", "phase", 6, []paperField{{"phase", "phase"}}},
	{"v", "vitals", 8, []paperField{{"systolic", ""}, {"diastolic", ""}, {"pulse", ""}, {"spo2", ""}, {"breaths", ""}}},
	{"d", "drug", 6, []paperField{{"drug", "drugs"}, {"dose", ""}, {"dose_unit", "units"}, {"route", "route"}}},
	{"a", "agent", 8, []paperField{{"agent", "agent"}, {"drops", ""}, {"percent", ""}, {"off", "yes"}, {"oxygen", ""}}},
	{"s", "signs", 4, []paperField{{"breathing", "breathing"}, {"eyes", "eyes"}, {"pupils", "pupils"}, {"jaw", "jaw"}, {"chest", "chest"}}},
	{"u", "support", 2, []paperField{{"support", "support"}}},
	{"w", "airway", 2, []paperField{{"device", "airway-device"}, {"act", "airway-act"}, {"size", ""}}},
	{"b", "block", 1, []paperField{{"block", "block"}, {"site", "block-site"}, {"attempts", ""}, {"height", "block-height"}}},
	{"i", "in", 4, []paperField{{"what", "fluid-in"}, {"volume", ""}}},
	{"o", "out", 4, []paperField{{"what", "fluid-out"}, {"volume", ""}, {"how", "measured"}}},
	{"x", "position", 1, []paperField{{"position", "position"}}},
	{"k", "waking", 2, []paperField{{"activity", ""}, {"respiration", ""}, {"circulation", ""}, {"consciousness", ""}, {"oxygen", ""}}},
	{"n", "note", 6, []paperField{{"text", ""}}},
}

// Each gives the numbers of the rows, for a template.
func (k paperKind) Each() []int {
	rows := make([]int, k.Rows)
	for i := range rows {
		rows[i] = i
	}
	return rows
}

// paper is the page where a record on paper is typed in afterwards.
func (u *UI) paper(r *request) (view, error) {
	h, cs, err := u.c.HeadOf(r.ctx, r.id)
	if err != nil {
		return view{}, err
	}
	drugs, err := u.c.DrugTray(r.ctx, cs)
	if err != nil {
		return view{}, err
	}
	var known []core.Choice
	for _, d := range append(drugs.Given, drugs.Plan...) {
		known = append(known, core.Choice{Code: d.Code, Words: d.Words})
	}
	return view{title: h.For, class: "paper", owed: len(h.Owing), parts: []part{
		{id: "head", tmpl: "head", data: top(h)}, {id: "typing", tmpl: "paper", data: map[string]any{
			"Head": h, "Kinds": paperKinds, "Drugs": append(known, drugs.Rest...), "Lines": h.Recorded,
		}}, {id: "nav", tmpl: "nav", data: nav(h, "")},
	}}, nil
}

// drawnRecord answers the pictures and files of a case: the drawing, and what
// can be taken away.
func (u *UI) drawnRecord(r *request) (Page, bool, error) {
	p := strings.Split(strings.Trim(r.path, "/"), "/")
	if r.path == "/paper.pdf" {
		var b bytes.Buffer
		if err := u.c.PaperForm(&b, record.A4); err != nil {
			return Page{}, true, err
		}
		return Page{Status: 200, Type: "application/pdf", Body: b.Bytes(), Name: "paper-record.pdf"}, true, nil
	}
	if r.path == "/backup/device.tar.age" {
		page, err := u.backupFile()
		return page, true, err
	}
	if r.path == "/recovery-key.pdf" || r.path == "/recovery-key.png" {
		page, err := u.recoveryFile(r.path)
		return page, true, err
	}
	if r.path == "/rules.pdf" {
		var b bytes.Buffer
		if err := u.c.RulePaper(r.ctx, &b, record.A4); err != nil {
			return Page{}, true, err
		}
		return Page{Status: 200, Type: "application/pdf", Body: b.Bytes(), Name: "dose-rules.pdf"}, true, nil
	}
	if page, ok, err := u.clinicPage(r, p); ok {
		return page, true, err
	}
	if len(p) == 2 && p[0] == "figures" {
		page, err := u.logbook(r, p[1])
		return page, true, err
	}
	if len(p) == 4 && p[0] == "case" && p[2] == "files" {
		page, err := u.file(r.ctx, p[1], p[3], r.query.Get("private") == "yes")
		return page, true, err
	}
	if len(p) == 4 && p[0] == "case" && p[2] == "photo" {
		data, err := u.c.CasePhoto(r.ctx, p[1], p[3])
		return Page{Status: 200, Type: "image/jpeg", Body: data}, true, err
	}
	if len(p) == 3 && p[0] == "case" && p[2] == "handover.pdf" {
		var b bytes.Buffer
		if err := u.c.HandoverPaper(r.ctx, &b, p[1], record.A4); err != nil {
			return Page{}, true, err
		}
		return Page{Status: 200, Type: "application/pdf", Body: b.Bytes(), Name: "case-" + core.ShortCase(p[1]) + "-handover.pdf"}, true, nil
	}
	if len(p) == 3 && p[0] == "case" && p[2] == "clock.svg" {
		n, err := strconv.Atoi(r.query.Get("s"))
		if err != nil || n < 0 {
			return Page{}, true, errNoPage
		}
		return Page{Status: 200, Type: "image/svg+xml", Body: runningClock(n, r.query.Get("theme"))}, true, nil
	}
	if len(p) != 3 || p[0] != "case" || p[2] != "tile.svg" {
		return Page{}, false, nil
	}
	low := r.query.Get("l") // the window, as k: an answer to a tap has no byte to spare
	k, err := strconv.ParseInt(cmp.Or(low, r.query.Get("k")), 10, 64)
	if err != nil || k < 0 || k > tileMost {
		return Page{}, true, errNoPage
	}
	// Drawn at the width of the smallest phone, so that its letters are never
	// made smaller than they were meant.
	d := record.Drawing{Width: 344, Height: 116, Compact: true}
	if r.query.Get("tall") != "" {
		d.Height, d.Compact = 380, false
	}
	if low != "" {
		d.Height, d.Low = lowTile, true
	}
	switch r.query.Get("theme") {
	case "dark":
		d.Theme = record.Dark
	case "dim":
		d.Theme = record.Dim
	}
	svg, err := u.c.DrawTile(r.ctx, p[1], k, d)
	return Page{Status: 200, Type: "image/svg+xml", Body: svg}, true, err
}

// lowTile is the height, in CSS pixels, of what is drawn beside a second case on
// the smallest phones.
const lowTile = 94

// tileMost is the last window of the year 9999: no record goes further.
const tileMost = 253402300799 / 1800

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
