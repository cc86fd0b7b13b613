package ui

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"io"
	"net/http"
	"net/url"
	"slices"
	"strings"

	"chinlift/core"
	"chinlift/core/record"
)

// kitView works out a page of the equipment.
func (u *UI) kitView(r *request) (view, error) {
	p := r.parts[1:]
	switch {
	case len(p) == 0:
		b, err := u.c.ListBook(r.ctx)
		if err != nil {
			return view{}, err
		}
		return view{title: u.words.Say("kit.title"), class: "kits", parts: []part{{id: "lists", tmpl: "kits", data: struct {
			core.ListBook
			Files []string
		}{b, u.clinicFiles()}}, {id: "lay", tmpl: "kits-lay", data: b.Own, still: true}}}, nil
	case len(p) == 1:
		return u.kit(r)
	case len(p) == 3 && p[1] == "look":
		return u.kitLook(r, p[0], p[2])
	case len(p) == 2 && p[1] == "days":
		k, err := u.c.Kit(r.ctx, p[0])
		if err != nil {
			return view{}, err
		}
		days, err := u.c.CheckDays(r.ctx, p[0])
		return view{title: k.Name, class: "kits", parts: []part{{id: "days", tmpl: "kit-days", data: map[string]any{"Kit": k, "Days": days}}}}, err
	case len(p) == 3 && p[1] == "days":
		d, err := u.c.CheckDay(r.ctx, p[0], p[2])
		return view{title: d.Name, class: "kits", parts: []part{{id: "day", tmpl: "kit-day", data: d}}}, err
	case len(p) == 2 && p[1] == "edit":
		f, err := u.c.ListForm(r.ctx, p[0])
		return view{title: f.Name, class: "kits", parts: []part{{id: "edit", tmpl: "kit-edit", data: f}}}, err
	case len(p) == 3 && p[1] == "edit":
		f, err := u.c.ListForm(r.ctx, p[0])
		if err != nil {
			return view{}, err
		}
		d := map[string]any{"List": f, "Every": everies}
		i := slices.IndexFunc(f.Items, func(it core.ItemForm) bool { return it.Code == p[2] })
		switch {
		case i >= 0:
			d["Item"] = f.Items[i]
		case p[2] != newItem:
			return view{}, errNoPage
		}
		return view{title: f.Name, class: "kits", parts: []part{{id: "edit", tmpl: "kit-edit-item", data: d, still: true}}}, nil
	}
	return view{}, errNoPage
}

// newItem stands in the path for an item that is to be.
const newItem = "new"

var everies = []string{"each-case", "daily", "monthly"}

func (u *UI) kit(r *request) (view, error) {
	k, err := u.c.Kit(r.ctx, r.parts[1])
	if err != nil {
		return view{}, err
	}
	head := k
	head.Items = nil
	v := view{title: k.Name, class: "kit", parts: []part{
		{id: "head", tmpl: "kit-head", data: kitHead{head, len(k.Items)}},
		{id: "beware", tmpl: "kit-beware", data: kitBeware{k.Fire, k.Lacking}},
	}}
	for _, it := range k.Items {
		v.parts = append(v.parts, part{id: "item-" + it.Code, tmpl: "kit-item", data: kitItem{it, u.takesPhotos && it.Faulty(), u.device.Pictures && it.Faulty()}})
	}
	v.parts = append(v.parts, part{id: "sweep", tmpl: "kit-sweep", data: kitHead{head, len(k.Items)}})
	return v, nil
}

// kitItem is an item, and whether a photograph of its fault can be picked on the
// page, or taken by the device.
type kitItem struct {
	core.KitLine
	Takes  bool
	Attach bool
}

type kitHead struct {
	core.KitState
	All int
}

type kitBeware struct {
	Fire    bool
	Lacking []string
}

func (u *UI) kitLook(r *request, list, item string) (view, error) {
	it, err := u.c.KitItem(r.ctx, list, item)
	if err != nil {
		return view{}, err
	}
	k, err := u.c.Kit(r.ctx, list)
	if err != nil {
		return view{}, err
	}
	n := len(k.Items)
	k.Items = nil
	return view{title: it.Name, class: "kit", parts: []part{{id: "head", tmpl: "kit-head", data: kitHead{k, n}}, {id: "tray", tmpl: "kit-look", data: kitLookData{it, u.device.Pictures && it.StateWords != ""}}}}, nil
}

type kitLookData struct {
	core.KitLine
	Attach bool // a picture can be put beside the last look
}

func (u *UI) actKit(r *request, s Send, do string, one func(string) string) (string, error) {
	p := r.parts[1:]
	switch {
	case len(p) == 0 && do == "lay":
		_, err := u.c.LayListFile(r.ctx, s.Event, one("file"), []byte(one("toml")))
		return "", err
	case len(p) == 0 && do == "use-again":
		_, err := u.c.UseAgain(r.ctx, s.Event, one("list"))
		return "", err
	case len(p) == 1 && do == "sweep":
		_, err := u.c.SweepRest(r.ctx, s.Event, p[0])
		return "", err
	case len(p) == 1 && do == "check", len(p) == 3 && p[1] == "look" && do == "check":
		item := one("item")
		target := ""
		if len(p) == 3 {
			item, target = p[2], "kit/"+p[0]
		}
		_, err := u.c.CheckItem(r.ctx, s.Event, p[0], item, core.ItemState(one("state")), core.KitAnswer(one("answer")))
		return target, err
	case len(p) == 2 && p[1] == "edit" && do == "edit":
		target := ""
		if one("act") == "withdraw" {
			target = "kit"
		}
		_, err := u.c.EditList(r.ctx, s.Event, p[0], core.ListEdit{Act: one("act"), Item: one("item"), Seen: one("version")})
		return target, err
	case len(p) == 3 && p[1] == "edit" && do == "edit":
		e := core.ListEdit{Act: "change", Item: p[2], Seen: one("version"), Name: one("name"), Look: one("look"), Every: one("every"),
			Stop: one("stop") == "yes", Between: one("between") == "yes"}
		if p[2] == newItem {
			e.Act, e.Item = "add", ""
		}
		_, err := u.c.EditList(r.ctx, s.Event, p[0], e)
		return "kit/" + p[0] + "/edit", err
	}
	return "", errNoPage
}

// supplyView works out a page of the supplies.
func (u *UI) supplyView(r *request) (view, error) {
	p := r.parts[1:]
	title := u.words.Say("supply.title")
	switch {
	case len(p) == 0:
		s, err := u.c.Supplies(r.ctx)
		return view{title: title, class: "supplies", parts: []part{{id: "supplies", tmpl: "supplies", data: struct {
			core.Supplies
			Files []string
		}{s, u.clinicFiles()}}, {id: "drops", tmpl: "supply-drops", data: map[string]any{"Drops": s.Drops, "Set": s.DropsSet, "GivingSet": s.GivingSet, "GivingSetN": s.GivingSetN}, still: true}}}, err
	case len(p) == 2 && p[0] == "new":
		sizes, err := u.c.SupplyChoices(r.ctx, p[1])
		return view{title: title, class: "supplies", parts: []part{{id: "new", tmpl: "supply-new", data: map[string]any{"What": p[1], "Groups": sizes}}}}, err
	case len(p) == 2:
		s, err := u.c.Supply(r.ctx, p[0], p[1])
		return view{title: s.Words, class: "supplies", parts: []part{{id: "supply", tmpl: "supply", data: s}}}, err
	case len(p) == 4 && p[0] == "count":
		f, err := u.c.CountForm(r.ctx, p[1], p[2], p[3])
		return view{title: f.Words, class: "supplies", parts: []part{{id: "count", tmpl: "supply-count", data: f, still: true}}}, err
	}
	return view{}, errNoPage
}

func (u *UI) actSupplies(r *request, s Send, do string, one func(string) string) (string, error) {
	p := r.parts[1:]
	switch {
	case len(p) == 0 && do == "drops":
		_, err := u.c.CountDrops(r.ctx, s.Event, one("drops"), one("volume"))
		return "supplies", err
	case len(p) == 0 && do == "giving-set":
		_, err := u.c.SetClinic(r.ctx, s.Event, do, one("value"))
		return "supplies", err
	case len(p) == 4 && p[0] == "count" && do == "count":
		f, err := u.c.CountForm(r.ctx, p[1], p[2], p[3])
		if err != nil {
			return "", err
		}
		fields := s.Fields
		fields["what"], fields["item"] = []string{f.What}, []string{f.Item}
		if !f.New {
			fields["batch"] = []string{f.Batch}
			if f.WaterWas != "" && len(fields["water"]) == 0 {
				fields["water"] = []string{f.WaterWas} // stamped on it: it does not change
			}
		}
		_, err = u.c.Count(r.ctx, s.Event, fields)
		item := p[2]
		if p[1] == "cylinder" {
			item = "oxygen"
		}
		return "supplies/" + p[1] + "/" + item, err
	}
	return "", errNoPage
}

// ClinicExporter makes files that are of no case: what wants mending or
// buying. What Lend is given may be one.
type ClinicExporter interface {
	ClinicNames() []string
	ClinicFile(ctx context.Context, name string, private bool) (data []byte, mediaType string, err error)
}

// faultPaper is the file for whoever repairs or buys with paper in hand. No
// exporter is needed for it.
const faultPaper = "faults.pdf"

func (u *UI) clinicFiles() []string {
	if e, ok := u.exporter.(ClinicExporter); ok {
		return append([]string{faultPaper}, e.ClinicNames()...)
	}
	return []string{faultPaper}
}

// clinicPage answers a file that is of no case: an export, a list, or the
// photograph of a fault.
func (u *UI) clinicPage(r *request, p []string) (Page, bool, error) {
	switch {
	case len(p) == 2 && p[0] == "files" && p[1] == faultPaper:
		var b bytes.Buffer
		err := u.c.FaultPaper(r.ctx, &b, record.A4)
		return Page{Status: 200, Type: "application/pdf", Body: b.Bytes(), Name: faultPaper}, true, err
	case len(p) == 2 && p[0] == "files":
		if !slices.Contains(u.clinicFiles(), p[1]) {
			return Page{}, true, errNoPage
		}
		data, mediaType, err := u.exporter.(ClinicExporter).ClinicFile(r.ctx, p[1], r.query.Get("private") == "yes")
		return Page{Status: 200, Type: mediaType, Body: data, Name: p[1]}, true, err
	case len(p) == 3 && p[0] == "kit" && p[2] == "list.toml":
		data, err := u.c.ListFile(r.ctx, p[1])
		return Page{Status: 200, Type: "application/toml; charset=utf-8", Body: data, Name: p[1] + ".toml"}, true, err
	case len(p) == 4 && p[0] == "kit" && p[2] == "photo":
		data, err := u.c.Photo(r.ctx, p[1], p[3])
		return Page{Status: 200, Type: "image/jpeg", Body: data}, true, err
	}
	return Page{}, false, nil
}

// maxPhoto bounds a photograph that is sent, in bytes.
const maxPhoto = 24 << 20

// servePhoto takes a photograph, the file as the body: for the last look at an
// item, POST to photo?list=…&item=…&event=…, or for a case, photo?case=…&event=….
func (u *UI) servePhoto(w http.ResponseWriter, r *http.Request, q url.Values) {
	if o := r.Header.Get("Origin"); o != "http://"+r.Host {
		http.Error(w, "a photograph must come from the companion's own page", http.StatusForbidden)
		return
	}
	var b bytes.Buffer
	a := Answer{}
	if t := r.Header.Get("Content-Type"); t != "image/jpeg" && t != "image/png" {
		a.Problem = &Problem{Status: http.StatusUnsupportedMediaType, Code: "not-a-picture", Words: u.words.Say("kit.not-a-picture")}
	} else if _, err := io.Copy(&b, http.MaxBytesReader(nil, r.Body, maxPhoto)); err != nil {
		a.Problem = &Problem{Status: 413, Code: "too-large", Words: u.words.Say("kit.not-a-picture")}
	} else {
		to := "kit/" + q.Get("list") + "/" + q.Get("item")
		if id := q.Get("case"); id != "" {
			to = "case/" + id
		}
		a = u.Photo(r.Context(), q.Get("event"), to, b.Bytes())
	}
	status := http.StatusOK
	if a.Problem != nil {
		status = a.Problem.Status
	}
	w.Header().Set("Content-Type", "application/json; charset=utf-8")
	w.WriteHeader(status)
	_ = json.NewEncoder(w).Encode(a) // the reader went away: it is recorded all the same
}

// Photo puts a photograph where it belongs, by what stands below AttachPath:
// kit/LIST/ITEM beside the last look at an item, case/ID into a case. The
// phone's shell and the desk's route come here. What was recorded stands in the
// answer.
func (u *UI) Photo(ctx context.Context, event, to string, data []byte) Answer {
	if event == "" {
		event = core.NewID()
	}
	err := errNoPlace
	switch p := strings.Split(to, "/"); {
	case len(p) == 3 && p[0] == "kit":
		_, err = u.c.AttachPhoto(ctx, event, p[1], p[2], data)
	case len(p) == 2 && p[0] == "case":
		_, err = u.c.AttachToCase(ctx, event, p[1], data)
	}
	a := Answer{Seq: u.c.Stored()}
	if err != nil {
		e := u.explain(err)
		a.Problem = &Problem{e.Status, e.Code, e.Field, e.Words}
	}
	return a
}

// errNoPlace says that nothing is attached there.
var errNoPlace = errors.New("nothing is attached there")
