package ui

import (
	"bytes"
	"errors"
	"slices"

	"chinlift/core"
	"chinlift/core/record"
)

// choosing is a PIN that somebody entered once and is to enter again. It is
// kept here and not in the page, and is forgotten when the page is left for
// another of these.
type choosing struct {
	kind string // one of choices
	pin  string
	may  bool // the PIN, or the recovery key, was entered just now: it may be changed
}

// The reasons for which a PIN is chosen.
var choices = []string{"setup", "change", "anew"}

// sealingShown is what the pages of locking show.
type sealingShown struct {
	core.Sealing
	Kind string // of choices
	Case string // to go to once it is unlocked; empty: the log
}

// lockView works out a page of locking.
func (u *UI) lockView(r *request) (view, error) {
	st, err := u.c.Sealing(r.ctx)
	if err != nil {
		return view{}, err
	}
	d := sealingShown{Sealing: st}
	page := func(tmpl string, data any) (view, error) {
		return view{title: u.words.Say("seal.title"), class: "form", live: true, parts: []part{{id: "seal", tmpl: tmpl, data: data, still: tmpl != "sealing"}}}, nil
	}
	p := r.parts[1:]
	switch {
	case len(p) == 0:
		return page("sealing", d)
	case p[0] == "unlock" && len(p) == 1:
		return page("seal-unlock", d)
	case p[0] == "unlock" && len(p) == 2:
		if _, err := u.c.Case(r.ctx, p[1]); err != nil {
			return view{}, err
		}
		d.Case = p[1]
		return page("seal-unlock", d)
	case p[0] == "change" && len(p) == 1:
		return page("seal-change", d)
	case p[0] == "recover" && len(p) == 1:
		return page("seal-recover", d)
	case p[0] == "lost" && len(p) == 1:
		return page("seal-lost", d)
	case (p[0] == "new" || p[0] == "again") && len(p) == 2 && slices.Contains(choices, p[1]):
		d.Kind = p[1]
		return page("seal-"+p[0], d)
	case p[0] == "key" && len(p) == 1:
		k := u.c.RecoveryKey()
		if k.IsZero() {
			return page("seal-key-gone", d)
		}
		v, err := page("seal-key", k.Groups())
		v.live = false
		return v, err
	}
	return view{}, errNoPage
}

// actLock does what a control on a page of locking stands for.
func (u *UI) actLock(r *request, s Send, do string, one func(string) string) (string, error) {
	p := r.parts[1:]
	at := ""
	if len(p) > 0 {
		at = p[0]
	}
	kind := ""
	if len(p) == 2 {
		kind = p[1]
	}
	switch {
	case do == "lock":
		u.c.Lock()
		u.forget()
		return "today", nil
	case at == "unlock" && do == "unlock":
		if err := u.c.Unlock(r.ctx, one("pin")); err != nil {
			return "", err
		}
		if kind != "" {
			return "case/" + kind + "/record", nil
		}
		return "log", nil
	case at == "change" && do == "unlock":
		if err := u.c.Unlock(r.ctx, one("pin")); err != nil {
			return "", err
		}
		u.choose(choosing{may: true})
		return "sealing/new/change", nil
	case at == "recover" && do == "recover":
		if err := u.c.Recover(r.ctx, one("recovery")); err != nil {
			return "", err
		}
		u.choose(choosing{may: true})
		return "sealing/new/change", nil
	case at == "new" && do == "choose" && slices.Contains(choices, kind):
		if err := u.c.CheckPIN(one("pin")); err != nil {
			return "", err
		}
		u.choose(choosing{kind: kind, pin: one("pin"), may: u.chosen().may})
		return "sealing/again/" + kind, nil
	case at == "again" && do == "choose" && slices.Contains(choices, kind):
		return u.chooseAgain(r, s, kind, one("pin"))
	case at == "" && do == "new-key":
		return "sealing/key", u.c.NewRecoveryKey(r.ctx, s.Event)
	case at == "key" && do == "printed":
		return "sealing", u.c.RecoveryPrinted(r.ctx, one("group"))
	}
	return "", errNoPage
}

// errNotTwice says that two entries of a PIN were not the same.
var errNotTwice = errors.New("the PIN was not the same twice")

// errAskPIN says that the old PIN is to be entered before a new one.
var errAskPIN = errors.New("the PIN that holds is to be entered first")

func (u *UI) chooseAgain(r *request, s Send, kind, pin string) (string, error) {
	first := u.chosen()
	if first.kind != kind || first.pin == "" || first.pin != pin {
		return "", errNotTwice
	}
	var err error
	target := "sealing/key"
	switch kind {
	case "setup":
		err = u.c.SetUpSealing(r.ctx, s.Event, pin)
	case "anew":
		err = u.c.SealAnew(r.ctx, s.Event, pin)
	case "change":
		target = "sealing"
		if !first.may {
			return "", errAskPIN
		}
		err = u.c.ChoosePIN(r.ctx, pin)
	}
	if err == nil {
		u.choose(choosing{})
	}
	return target, err
}

func (u *UI) choose(c choosing) {
	u.mu.Lock()
	defer u.mu.Unlock()
	u.choosing = c
}

func (u *UI) chosen() choosing {
	u.mu.Lock()
	defer u.mu.Unlock()
	return u.choosing
}

// forget drops what open pages were drawn with: names may be in it.
func (u *UI) forget() {
	u.mu.Lock()
	defer u.mu.Unlock()
	u.forgetAll()
}

func (u *UI) forgetAll() {
	clear(u.pages)
	u.choosing = choosing{}
}

// forgetHidden does so where something that could be read no longer can:
// because it was locked, or identity was destroyed. The lock is held.
func (u *UI) forgetHidden() bool {
	n := u.c.Hidden()
	if n == u.hid {
		return false
	}
	u.hid = n
	u.forgetAll()
	return true
}

// recoveryFile is the recovery key as a page to be printed, or as a picture for
// a camera.
func (u *UI) recoveryFile(path string) (Page, error) {
	if path == "/recovery-key.png" {
		data, err := u.c.RecoveryPicture()
		return Page{Status: 200, Type: "image/png", Body: data}, err
	}
	var b bytes.Buffer
	if err := u.c.RecoveryPaper(&b, record.A4); err != nil {
		return Page{}, err
	}
	return Page{Status: 200, Type: "application/pdf", Body: b.Bytes(), Name: "recovery-key.pdf"}, nil
}

// people is the page of those who work here.
func (u *UI) people(r *request) (view, error) {
	unknown, known, err := u.c.People(r.ctx)
	if err != nil {
		return view{}, err
	}
	return view{title: u.words.Say("people.title"), class: "form", parts: []part{{id: "people", tmpl: "people", data: map[string]any{"Unknown": unknown, "Known": known}}}}, nil
}
