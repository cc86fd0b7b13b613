package ui

import (
	"errors"
	"slices"

	"chinlift/core"
)

// destroyShown is what the pages show on which identity is destroyed.
type destroyShown struct {
	core.Destroying
	Sent           []placeSent // places where names arrived
	Grounds, Asked string      // as they were chosen on the page before
}

// placeSent is a place that has parcels with names.
type placeSent struct {
	Where string
	N     int
}

// destroyView works out the page that says what will go, and the last step.
func (u *UI) destroyView(r *request, sub []string) (view, error) {
	d, err := u.c.Destroying(r.ctx, r.id)
	if err != nil {
		return view{}, err
	}
	page := destroyShown{Destroying: d}
	tmpl := "destroy"
	if len(sub) == 2 {
		if !u.isCode("grounds", sub[0]) || !u.isCode("asked-by", sub[1]) {
			return view{}, errNoPage
		}
		page.Grounds, page.Asked, tmpl = sub[0], sub[1], "destroy-last"
	} else if page.Sent, err = u.arrived(r); err != nil {
		return view{}, err
	}
	return view{class: "form", parts: []part{{id: "head", tmpl: "head", data: top(d.Head)}, {id: "destroy", tmpl: tmpl, data: page}}}, nil
}

func (u *UI) isCode(list, code string) bool {
	return slices.ContainsFunc(u.c.Choices(list), func(c core.Choice) bool { return c.Code == code })
}

// arrived lists the places where names have arrived: whatever was taken there,
// read back or not.
func (u *UI) arrived(r *request) (all []placeSent, err error) {
	s, err := u.sending(r.ctx)
	for _, p := range s.Places {
		if n := p.Confirmed + p.Sent; p.Private && n > 0 {
			all = append(all, placeSent{p.Where, n})
		}
	}
	return all, err
}

// errAskFor says that the grounds, or who asked, were not chosen.
var errAskFor = errors.New("the grounds and who asked are to be chosen first")

// actDestroy does what a key of these pages stands for.
func (u *UI) actDestroy(r *request, s Send, sub []string, one func(string) string) (string, error) {
	if len(sub) == 0 {
		grounds, asked := one("grounds"), one("asked_by")
		if grounds == "" || asked == "" {
			return "", errAskFor
		}
		return "case/" + r.id + "/destroy/" + grounds + "/" + asked, nil
	}
	if len(sub) != 2 {
		return "", errNoPage
	}
	_, err := u.c.Destroy(r.ctx, s.Event, r.id, sub[0], sub[1], one("pin"))
	return "case/" + r.id + "/record", err
}
