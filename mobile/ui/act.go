package ui

import (
	"strings"

	"chinlift/core"
)

// act does what a control stands for, and gives the page to open next; ""
// stays on the page.
func (u *UI) act(r *request, s Send) (target string, err error) {
	r.parts = strings.Split(strings.Trim(r.path, "/"), "/")
	one := func(name string) string {
		if v := s.Fields[name]; len(v) > 0 {
			return v[0]
		}
		return ""
	}
	do := one("do")
	delete(s.Fields, "do")
	switch {
	case r.path == "/case/new" && do == "open":
		id, _, err := u.c.OpenCase(r.ctx, core.Form{ID: s.Event, Fields: s.Fields})
		return "case/" + id + "/visit", err
	case r.path == "/settings":
		return u.actSetting(r, s, do, one("value"))
	case len(r.parts) == 2 && r.parts[0] == "kit":
		if do == "sweep" {
			_, err = u.c.SweepRest(r.ctx, s.Event, r.parts[1])
		} else {
			_, err = u.c.CheckItem(r.ctx, s.Event, r.parts[1], one("item"), core.ItemState(one("state")), core.KitAnswer(one("answer")))
		}
		return "", err
	case len(r.parts) >= 3 && r.parts[0] == "case":
		r.id = r.parts[1]
		return u.actCase(r, s, do, one)
	}
	return "", errNoPage
}

func (u *UI) actSetting(r *request, s Send, do, value string) (string, error) {
	allowed := map[string][]string{
		core.LocalHand: {"right", "left"}, core.LocalTheme: {"auto", "light", "dark", "dim"}, core.LocalText: {"100", "125", "150", "200"},
	}
	if do == "name" {
		_, err := u.c.NameAuthor(r.ctx, s.Event, value, s.Fields["heads"]...)
		return "", err
	}
	for _, v := range allowed[do] {
		if v == value {
			return "settings", u.c.SetLocal(r.ctx, do, value)
		}
	}
	return "", errNoPage
}

func (u *UI) actCase(r *request, s Send, do string, one func(string) string) (string, error) {
	back := "case/" + r.id + "/" + r.parts[2]
	entry, heads, reason := one("entry"), s.Fields["heads"], core.Reason(one("reason"))
	var err error
	switch do {
	case "undo":
		_, err = u.c.Strike(r.ctx, s.Event, r.id, entry, heads, core.ReasonUndone)
		return "", err
	case "strike":
		_, err = u.c.Strike(r.ctx, s.Event, r.id, entry, heads, reason)
		return "", err
	case "redo":
		_, err = u.c.Restore(r.ctx, s.Event, r.id, entry, heads)
		return "", err
	case "move":
		_, err = u.c.Move(r.ctx, s.Event, r.id, one("to"), entry, heads)
		return "case/" + r.id + "/record", err
	case "name":
		_, err = u.c.NamePatient(r.ctx, s.Event, r.id, one("name"), one("number"), heads...)
		return "case/" + r.id + "/visit", err
	case "birth":
		_, err = u.c.Birth(r.ctx, core.Form{ID: s.Event, Case: r.id, Fields: s.Fields})
		return back, err
	case "":
	default:
		return "", errNoPage
	}
	f := core.Form{ID: s.Event, Case: r.id, Kind: one("kind"), Fields: s.Fields}
	if _, err := u.c.Submit(r.ctx, f); err != nil {
		return "", err
	}
	// A tray and a fact lead back to the page that they belong to; a mark
	// that was named stays, since there may be more.
	if len(r.parts) > 3 && r.parts[2] != "entry" && r.parts[3] != "marks" {
		return back, nil
	}
	return "", nil
}
