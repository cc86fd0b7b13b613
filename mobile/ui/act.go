package ui

import (
	"slices"
	"strconv"
	"strings"
	"time"

	"chinlift/core"
)

// act does what a control stands for, and gives the page to open next; ""
// stays on the page.
func (u *UI) act(r *request, s Send) (target string, err error) {
	r.parts = strings.Split(strings.Trim(r.path, "/"), "/")
	one := func(name string) string { return first(s.Fields[name]) }
	do := one("do")
	delete(s.Fields, "do")
	switch {
	case r.path == "/case/new" && do == "open":
		id, _, err := u.c.OpenCase(r.ctx, core.Form{ID: s.Event, Fields: s.Fields})
		return "case/" + id + "/visit", err
	case r.path == "/settings":
		return u.actSetting(r, s, do, one("value"))
	case r.path == "/rules" && do == "lay":
		from, err := u.c.FromDay(one("from"))
		if err == nil {
			_, err = u.c.LayDrugFile(r.ctx, s.Event, one("file"), []byte(one("toml")), from)
		}
		return "", err
	case r.path == "/rules" && do == "take-back":
		_, err := u.c.TakeBackDrugFile(r.ctx, s.Event, one("file"))
		return "", err
	case len(r.parts) == 2 && r.parts[0] == "rules" && (do == "confirm" || do == "withdraw"):
		_, err := u.c.Confirm(r.ctx, s.Event, r.parts[1], one("use"), one("rule"), do == "withdraw")
		return "", err
	case r.parts[0] == "sealing":
		return u.actLock(r, s, do, one)
	case r.path == "/people" && do == "claim":
		_, err := u.c.Claim(r.ctx, s.Event, one("unknown"), one("person"))
		return "people", err
	case r.path == "/fasting" && do == "choose":
		_, err := u.c.ChooseFasting(r.ctx, s.Event, one("set"))
		return "", err
	case r.path == "/fasting" && (do == "agree" || do == "withdraw"):
		_, err := u.c.AgreeFasting(r.ctx, s.Event, one("set"), one("version"), do == "withdraw")
		return "", err
	case r.path == "/stops" && do == "mark":
		_, err := u.c.MarkStop(r.ctx, s.Event, one("what"), one("value"))
		return "", err
	case r.path == "/take-in", r.path == "/backup":
		return u.actTakeIn(r, do, one)
	case r.parts[0] == "log":
		return u.actSending(r, s, do, one)
	case r.parts[0] == "kit":
		return u.actKit(r, s, do, one)
	case r.parts[0] == "supplies":
		return u.actSupplies(r, s, do, one)
	case len(r.parts) >= 3 && r.parts[0] == "case":
		r.id = r.parts[1]
		return u.actCase(r, s, do, one)
	}
	return "", errNoPage
}

// clinicSettings are those that the settings page sets for the whole clinic.
var clinicSettings = []string{"vitals-every", "due-sound", "due-buzz", "offer-spo2", "offer-spo2-fall", "offer-pressure-fall", "offer-spinal-left", "offer-sound",
	"offer-spo2-severe", "offer-pressure-low", "offer-pressure-high", "offer-pulse-low", "offer-pulse-severe", "offer-pulse-high", "offer-signs",
	"offer-height", "offer-pressure-severe", "offer-pulse-press", "offer-child", "offer-fresh"}

func (u *UI) actSetting(r *request, s Send, do, value string) (string, error) {
	if slices.Contains(clinicSettings, do) {
		_, err := u.c.SetClinic(r.ctx, s.Event, do, value)
		return "", err
	}
	if do == "altitude" || do == "barometer" {
		unit := "m"
		if do == "barometer" {
			unit = first(s.Fields["unit"])
		}
		_, err := u.c.SetPlace(r.ctx, s.Event, do, first(s.Fields[do]), unit)
		return "settings", err
	}
	allowed := map[string][]string{
		core.LocalHand: {"right", "left"}, core.LocalTheme: {"auto", "light", "dark", "dim"}, core.LocalText: {"100", "125", "150", "200"},
		core.LocalMetered: {"yes", "no"}, core.LocalMarkKey: {"yes", "no"},
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

func first(values []string) string {
	if len(values) == 0 {
		return ""
	}
	return values[0]
}

func (u *UI) actCase(r *request, s Send, do string, one func(string) string) (string, error) {
	back := "case/" + r.id + "/" + r.parts[2]
	entry, heads, reason := one("entry"), s.Fields["heads"], core.Reason(one("reason"))
	var err error
	switch do {
	case "destroy":
		if r.parts[2] != "destroy" {
			return "", errNoPage
		}
		return u.actDestroy(r, s, r.parts[3:], one)
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
	case "asked":
		// What was ticked as there is not among the rest; the key names it all.
		for _, x := range strings.Split(one("rest"), ",") {
			if !slices.Contains(s.Fields["with"], x) && !slices.Contains(s.Fields["without"], x) {
				s.Fields["without"] = append(s.Fields["without"], x)
			}
		}
		_, err = u.c.Submit(r.ctx, core.Form{ID: s.Event, Case: r.id, Kind: "facts", Fields: s.Fields})
		return back, err
	case "answer":
		if r.parts[2] != "pause" || len(r.parts) != 4 {
			return "", errNoPage
		}
		_, err = u.c.AnswerPause(r.ctx, s.Event, r.id, r.parts[3], one("item"), core.PauseAnswer(one("answer")))
		return "", err
	case "sweep":
		if r.parts[2] != "pause" || len(r.parts) != 4 {
			return "", errNoPage
		}
		_, err = u.c.SweepPause(r.ctx, s.Event, r.id, r.parts[3])
		return "", err
	case "move-start":
		n, bad := strconv.Atoi(one("by"))
		if bad != nil || n < -24*60 || n > 24*60 {
			return "", errNoPage
		}
		_, err = u.c.MoveStart(r.ctx, s.Event, r.id, time.Duration(n)*time.Minute)
		return "", err
	case "swap-start":
		_, err = u.c.SwapStarts(r.ctx, s.Event, r.id, one("with"))
		return "", err
	case "plan-step":
		_, err = u.c.PlanStep(r.ctx, s.Event, r.id, one("step"), one("after"))
		return "", err
	case "type-in":
		_, err = u.c.TypeIn(r.ctx, s.Event, r.id, one("date"), typed(s.Fields))
		return "", err
	case "trouble":
		_, err = u.c.DoStep(r.ctx, core.Form{ID: s.Event, Case: r.id, Fields: s.Fields})
		return "", err
	case "":
	default:
		return "", errNoPage
	}
	// The tray of fluids asks what goes in and what comes out side by side.
	if kind := one("kind"); (kind == "in" || kind == "out") && len(s.Fields[kind]) > 0 {
		s.Fields["what"] = s.Fields[kind]
	}
	f := core.Form{ID: s.Event, Case: r.id, Kind: one("kind"), Fields: s.Fields}
	if _, err := u.c.Submit(r.ctx, f); err != nil {
		return "", err
	}
	switch {
	case r.parts[2] == "table" && one("weight_checked") != "":
		return "", nil // the number that was doubted is still to be given
	case r.parts[2] == "trouble" && r.parts[len(r.parts)-1] == "vitals":
		return backOf(r.parts), nil
	case r.parts[2] == "trouble":
		return "", nil
	case r.parts[2] == "start":
		return "case/" + r.id + "/table", nil
	case len(r.parts) == 4 && r.parts[2] == "visit" && slices.Contains(core.VisitGroups, r.parts[3]):
		return "", nil // there is more to ask on the page of a group
	case len(r.parts) == 4 && r.parts[2] == "visit" && r.parts[3] == "weight" && one("weight") == "":
		return "", nil // the child was asked about, and is still to be weighed
	case len(r.parts) == 4 && r.parts[2] == "visit" && r.parts[3] == "performed":
		return "case/" + r.id + "/pause/before-leaving", nil
	}
	// A tray and a fact lead back to the page that they belong to; a mark
	// that was named stays, since there may be more.
	if len(r.parts) > 3 && r.parts[2] != "entry" && r.parts[3] != "marks" && r.parts[3] != "leaving" && r.parts[3] != "home" && r.parts[3] != "care" {
		return back, nil
	}
	return "", nil
}

// typed gathers the rows of the page for typing in: fields named v0.pulse,
// d2.dose, n1.text. A row of which only the time was given is none.
func typed(fields map[string][]string) []core.Row {
	var rows []core.Row
	for _, k := range paperKinds {
		for i := range k.Rows {
			f := core.Row{Name: k.Letter + strconv.Itoa(i), N: i + 1, Form: core.Form{Kind: k.Kind, Fields: map[string][]string{}}}
			for name, values := range fields {
				if own, ok := strings.CutPrefix(name, f.Name+"."); ok {
					f.Fields[own] = values
				}
			}
			if _, timed := f.Fields["at"]; len(f.Fields) > 1 || len(f.Fields) == 1 && !timed {
				rows = append(rows, f)
			}
		}
	}
	return rows
}
