package ui

import (
	"bytes"
	"image"
	"image/png"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"chinlift/sync/plain"
)

func body(t testing.TB, u *UI, path string) string {
	t.Helper()
	p := u.Get(t.Context(), path)
	if p.Status != 200 {
		t.Fatalf("%s: %d %s", path, p.Status, p.Body)
	}
	return string(p.Body)
}

// A fault is two taps: not good, and what will be done.
func TestFaultThroughTheScreen(t *testing.T) {
	u, c, _ := newUI(t)
	s := sendFrom(t, u, "/kit/open-drop", "do", "check", "state", "fault", "answer", "borrowed")
	s.Path, s.Under = "/kit/open-drop/look/suction", "/kit/open-drop"
	a := u.Send(t.Context(), s)
	if a.Problem != nil || !a.Close {
		t.Fatalf("%+v %+v", a, a.Problem)
	}
	html := body(t, u, "/kit/open-drop")
	for _, want := range []string{`class="item fault"`, "borrowed"} {
		if !strings.Contains(html, want) {
			t.Errorf("the page lacks %q", want)
		}
	}
	id := newCase(t, u, "Invented Person")
	tap(t, u, "/case/"+id+"/visit/plan", "kind", "plan", "techniques", "open-drop")
	for p, want := range map[string]string{"/start": "Suction", "/table": "Held, Mask, open drop: not good: Suction"} {
		if html := body(t, u, "/case/"+id+p); !strings.Contains(html, want) {
			t.Errorf("%s does not say what holds the plan", p)
		}
	}
	tap(t, u, "/case/"+id+"/table", "kind", "phase", "phase", "anaesthesia-start")
	if html := body(t, u, "/case/"+id+"/table"); strings.Contains(html, "Held,") || !strings.Contains(html, "gone past a stop") {
		t.Error("after the start the reason is owed, and nothing is held any more")
	}

	var b bytes.Buffer
	if err := png.Encode(&b, image.NewGray(image.Rect(0, 0, 8, 8))); err != nil {
		t.Fatal(err)
	}
	r := httptest.NewRequest("POST", "/t/photo?list=open-drop&item=suction", &b)
	r.Host = "127.0.0.1:7343"
	r.Header.Set("Origin", "http://127.0.0.1:7343")
	r.Header.Set("Content-Type", "image/png")
	w := httptest.NewRecorder()
	u.Handler("t").ServeHTTP(w, r)
	if w.Code != 200 {
		t.Fatalf("%d %s", w.Code, w.Body)
	}
	k, err := c.KitItem(t.Context(), "open-drop", "suction")
	if err != nil || k.Photo == "" {
		t.Fatalf("%+v %v", k, err)
	}
	if p := u.Get(t.Context(), "/"+k.Photo); p.Status != 200 || p.Type != "image/jpeg" || !bytes.HasPrefix(p.Body, []byte("\xff\xd8")) {
		t.Errorf("the photograph: %d %s", p.Status, p.Type)
	}
	if p := u.Get(t.Context(), "/files/faults.pdf"); p.Status != 200 || p.Type != "application/pdf" || !bytes.HasPrefix(p.Body, []byte("%PDF-")) {
		t.Errorf("faults on paper: %d %s", p.Status, p.Type)
	}
	u.Lend(plain.Maker{Source: c, Now: func() time.Time { return c.Now().Wall }})
	if p := u.Get(t.Context(), "/files/faults.csv"); p.Status != 200 || p.Name != "faults.csv" || !strings.Contains(string(p.Body), "suction") {
		t.Errorf("faults: %d %s", p.Status, p.Body)
	}
	for _, at := range []string{"/kit", "/supplies"} {
		page := string(u.Get(t.Context(), at).Body)
		for _, name := range []string{"faults.pdf", "faults.csv", "faults.jsonl"} {
			if !strings.Contains(page, `href="files/`+name+`"`) {
				t.Errorf("%s leads to no %s", at, name)
			}
		}
	}
	if p := u.Get(t.Context(), "/kit/open-drop/list.toml"); p.Status != 200 || p.Name != "open-drop.toml" || !strings.Contains(string(p.Body), `code = "suction"`) {
		t.Errorf("the list as a file: %d %s", p.Status, p.Body)
	}
}

func TestListThroughTheScreen(t *testing.T) {
	u, c, _ := newUI(t)
	tap(t, u, "/kit/spinal", "do", "check", "item", "suction", "state", "good")
	day := c.Now().Wall.Format(time.DateOnly)
	before := body(t, u, "/kit/spinal/days/"+day)
	version := func() string {
		t.Helper()
		f, err := c.ListForm(t.Context(), "spinal")
		if err != nil {
			t.Fatal(err)
		}
		return f.Version
	}
	a := tap(t, u, "/kit/spinal/edit/suction", "do", "edit", "version", version(), "name", "Foot pump", "look", "Step on it.", "stop", "yes", "every", "daily")
	if a.Go != "kit/spinal/edit" {
		t.Errorf("leads to %q", a.Go)
	}
	tap(t, u, "/kit/spinal/edit/new", "do", "edit", "version", version(), "name", "Torch", "look", "Bright.")
	tap(t, u, "/kit/spinal/edit", "do", "edit", "act", "up", "item", "torch", "version", version())
	tap(t, u, "/kit/spinal/edit", "do", "edit", "act", "retire", "item", "vein", "version", version())
	html := body(t, u, "/kit/spinal")
	if !strings.Contains(html, "Foot pump") || !strings.Contains(html, "Torch") || strings.Contains(html, "A way into a vein</b>") {
		t.Error("the list is not as it was edited")
	}
	after := body(t, u, "/kit/spinal/days/"+day)
	words := func(html string) string {
		_, html, _ = strings.Cut(html, `<section id="day">`)
		return html[:strings.Index(html, "</section>")]
	}
	if words(before) != words(after) || !strings.Contains(after, "Suction, under the pillow") {
		t.Errorf("the earlier check reads\n%s\nand read\n%s", words(after), words(before))
	}
	if p := u.Send(t.Context(), sendOf(u, "/kit/spinal/edit", "do", "edit", "act", "retire", "item", "torch", "version", "old")).Problem; p == nil || p.Code != "changed" {
		t.Errorf("a list that was another: %+v", p)
	}
	if p := u.Send(t.Context(), sendOf(u, "/kit", "do", "lay", "file", "x.toml", "toml", "name.en = 3")).Problem; p == nil || p.Status != 422 || !strings.Contains(p.Words, "x.toml:1") {
		t.Errorf("a file at fault: %+v", p)
	}
}

func TestSuppliesThroughTheScreen(t *testing.T) {
	u, c, _ := newUI(t)
	for _, tt := range []struct {
		path   string
		fields []string
		to     string
	}{
		{"/supplies/count/cylinder/other/new", []string{"act", "counted", "gauge", "96", "gauge_unit", "bar", "water", "4.7", "batch", "7"}, "supplies/cylinder/oxygen"},
		{"/supplies/count/concentrator/concentrator/new", []string{"act", "counted", "rated", "5", "percent", "78"}, "supplies/concentrator/concentrator"},
		{"/supplies/count/agent/ether/new", []string{"act", "received", "volume", "500", "expires", "04/27", "opened_day", "2026-03-01"}, "supplies/agent/ether"},
		{"/supplies/count/drug/ketamine/new", []string{"act", "counted", "count", "12", "each", "500", "each_unit", "mg"}, "supplies/drug/ketamine"},
		{"/supplies/count/disposable/gauze/new", []string{"act", "received", "count", "40"}, "supplies/disposable/gauze"},
	} {
		a := tap(t, u, tt.path, append([]string{"do", "count"}, tt.fields...)...)
		if a.Go != tt.to {
			t.Errorf("%s leads to %q", tt.path, a.Go)
		}
		body(t, u, "/"+a.Go)
	}
	html := body(t, u, "/supplies")
	for _, want := range []string{"Oxygen in cylinders", "ketamine · 12", "gauze · 40", "500 mL"} {
		if !strings.Contains(html, want) {
			t.Errorf("the page lacks %q", want)
		}
	}
	if html := body(t, u, "/supplies/concentrator/concentrator"); !strings.Contains(html, "Under 82 %") {
		t.Error("78 % is not told")
	}
	// The water that is stamped on a cylinder is asked once.
	s, err := c.Supply(t.Context(), "cylinder", "oxygen")
	if err != nil || len(s.Lots) != 1 {
		t.Fatalf("%+v %v", s, err)
	}
	path := "/supplies/count/cylinder/other/" + s.Lots[0].Entry
	body(t, u, path)
	tap(t, u, path, "do", "count", "act", "counted", "gauge", "5000", "gauge_unit", "kPa")
	if s, err = c.Supply(t.Context(), "cylinder", "oxygen"); err != nil || len(s.Lots) != 1 || !strings.Contains(s.Lots[0].OnHand, "5000 kPa") {
		t.Errorf("%+v %v", s, err)
	}
	tap(t, u, "/supplies", "do", "drops", "drops", "300", "volume", "5")
	tap(t, u, "/settings", "do", "altitude", "altitude", "2400")
	for p, want := range map[string]string{"/supplies": "60 drops/mL", "/settings": "2400 m above the sea", "/today": "At 2400 m"} {
		if html := body(t, u, p); !strings.Contains(html, want) {
			t.Errorf("%s lacks %q", p, want)
		}
	}
	tap(t, u, "/settings", "do", "barometer", "barometer", "701", "unit", "hPa")
	for _, bad := range [][]string{{"do", "altitude", "altitude", "99999"}, {"do", "barometer", "barometer", "701"}, {"do", "altitude"}} {
		if p := u.Send(t.Context(), sendOf(u, "/settings", bad...)).Problem; p == nil || p.Status != 422 {
			t.Errorf("%v: %+v", bad, p)
		}
	}
	if p := u.Send(t.Context(), sendOf(u, "/supplies/count/drug/ketamine/new", "do", "count", "act", "counted")).Problem; p == nil || p.Field != "count" {
		t.Errorf("a count of nothing: %+v", p)
	}
}
