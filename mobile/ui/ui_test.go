package ui

import (
	"context"
	"encoding/json"
	"html"
	"maps"
	"math/rand/v2"
	"net/http"
	"net/http/httptest"
	"reflect"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"chinlift/core"
	"chinlift/core/term"
	"chinlift/core/timeline"
	"chinlift/core/word"
)

// fakeClock is the one clock, driven by hand.
type fakeClock struct {
	wall  time.Time
	since time.Duration
}

func (f *fakeClock) Now() core.Reading {
	return core.Reading{Wall: f.wall, Zone: "Etc/GMT-3", SinceBoot: f.since, Boot: "boot-1"}
}

// inPocket keeps the secret of a device as it is: whoever tests the screens has
// no copy of the folder.
type inPocket struct{}

func (inPocket) Wrap(secret []byte) ([]byte, error)    { return slices.Clone(secret), nil }
func (inPocket) Unwrap(wrapped []byte) ([]byte, error) { return slices.Clone(wrapped), nil }

func (f *fakeClock) pass(d time.Duration) { f.wall, f.since = f.wall.Add(d), f.since+d }

func newUI(t testing.TB) (*UI, *core.Companion, *fakeClock) {
	t.Helper()
	clock := &fakeClock{wall: time.Date(2026, 3, 2, 8, 0, 0, 0, time.FixedZone("", 3*3600)), since: time.Hour}
	c, err := core.Open(t.Context(), core.Options{Dir: t.TempDir(), Installation: "here", Clock: clock, Words: word.English(), Safe: inPocket{}})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { c.Close() })
	u, err := New(c)
	if err != nil {
		t.Fatal(err)
	}
	u.LendSender(&lent{all: []Destination{{ID: "stick", Kind: PlaceFolder, Address: "/media/stick/chinlift", Confirmed: 9},
		{ID: "server", Kind: PlaceWebDAV, Address: "https://files.clinic.example/log", Lines: 12, Refused: 1, Why: "refused", Private: true, Sealed: true}}})
	u.LendTaker(&intake{})
	return u, c, clock
}

// tap sends what a control stands for, and fails on a problem.
func tap(t testing.TB, u *UI, path string, fields ...string) Answer {
	t.Helper()
	a := u.Send(t.Context(), sendOf(u, path, fields...))
	if a.Problem != nil {
		t.Fatalf("%s %v: %+v", path, fields, a.Problem)
	}
	return a
}

func sendOf(u *UI, path string, fields ...string) Send {
	s := Send{Path: path, Fields: map[string][]string{}, Event: core.NewID(), Base: 1}
	for i := 0; i < len(fields); i += 2 {
		s.Fields[fields[i]] = append(s.Fields[fields[i]], fields[i+1])
	}
	return s
}

// sendFrom opens a page and makes what a control on it sends.
func sendFrom(t testing.TB, u *UI, path string, fields ...string) Send {
	t.Helper()
	s := sendOf(u, path, fields...)
	_, rest, found := strings.Cut(string(u.Get(t.Context(), path).Body), `data-page="`)
	if !found {
		t.Fatalf("%s has no id", path)
	}
	s.Page, _, _ = strings.Cut(rest, `"`)
	return s
}

func newCase(t testing.TB, u *UI, name string) string {
	t.Helper()
	a := tap(t, u, "/case/new", "do", "open", "name", name, "age", "34", "age_unit", "a", "sex", "female")
	return strings.Split(a.Go, "/")[1]
}

// paths lists every page of a case and of the clinic.
func paths(id string) []string {
	all := []string{"/", "/today", "/log", "/log/new/folder", "/log/new/webdav", "/log/new/s3", "/log/place/stick", "/log/place/server", "/settings", "/case/new", "/kit/open-drop", "/kit", "/kit/open-drop/look/suction", "/kit/open-drop/edit", "/kit/open-drop/edit/suction", "/kit/open-drop/edit/new", "/kit/open-drop/days",
		"/supplies", "/supplies/cylinder/oxygen", "/supplies/drug/ketamine", "/supplies/new/cylinder", "/supplies/new/drug", "/supplies/count/cylinder/other/new", "/supplies/count/agent/ether/new", "/supplies/count/drug/ketamine/new", "/supplies/count/disposable/gauze/new", "/supplies/count/concentrator/concentrator/new",
		"/sealing", "/sealing/new/setup", "/sealing/again/setup", "/sealing/unlock", "/sealing/unlock/" + id, "/sealing/change", "/sealing/recover", "/sealing/lost", "/sealing/key", "/people",
		"/take-in", "/backup", "/figures", "/figures?when=2026", "/search", "/search?trouble=apnoea", "/rules", "/rules/morphine", "/rules/salbutamol", "/fasting", "/stops"}
	for _, p := range []string{"table", "visit", "waking", "record", "paper", "waking/vitals", "doses", "table/drug/ketamine", "table/drug/ketamine/induction-im", "table/drug/morphine/premedication-im",
		"start", "pause/before-induction", "pause/before-first-drop", "pause/before-knife", "pause/before-leaving", "waking/leaving", "waking/care", "handover", "next-day", "destroy", "destroy/law/authority",
		"start", "pause/before-induction", "pause/before-first-drop", "pause/before-knife", "pause/before-leaving", "waking/leaving", "waking/home", "waking/care", "handover", "next-day",
		"trouble", "trouble/vitals", "trouble/laryngospasm", "trouble/laryngospasm/vitals", "trouble/arrest-child", "trouble/local-anaesthetic-poisoning"} {
		all = append(all, "/case/"+id+"/"+p)
	}
	for _, g := range core.VisitGroups {
		all = append(all, "/case/"+id+"/visit/"+g)
	}
	for _, tr := range trays {
		all = append(all, "/case/"+id+"/table/"+tr)
	}
	for _, f := range facts {
		all = append(all, "/case/"+id+"/visit/"+f)
	}
	return all
}

func TestEveryPage(t *testing.T) {
	u, c, clock := newUI(t)
	id := newCase(t, u, "Invented <Person> & \"Co\"")
	other := newCase(t, u, "The Other")
	clock.pass(time.Minute)
	mark := tap(t, u, "/case/"+id+"/table", "kind", "mark")
	if mark.Go != "" || len(mark.Patches) == 0 {
		t.Errorf("a mark stays on the page and changes it: %+v", mark)
	}
	tap(t, u, "/case/"+id+"/visit/weight", "kind", "facts", "weight", "61", "weight_how", "guessed", "weight_by", "eye")
	tap(t, u, "/case/"+id+"/visit/plan", "kind", "plan", "agent", "ether", "drugs", "atropine", "drugs", "bupivacaine", "drugs", "vecuronium", "drugs", "neostigmine", "drugs", "paracetamol", "start_in", "+60")
	tap(t, u, "/case/"+id+"/table/vitals", "kind", "vitals", "systolic", "110", "diastolic", "70", "pulse", "88")
	tap(t, u, "/case/"+id+"/table/drug", "kind", "drug", "drug", "ketamine", "dose", "50", "dose_unit", "mg", "route", "iv")
	entries, err := c.Entries(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	all := paths(id)
	for _, e := range entries {
		all = append(all, "/case/"+id+"/entry/"+e.ID)
	}
	for _, p := range all {
		page := u.Get(t.Context(), p)
		body := string(page.Body)
		switch {
		case page.Status != 200:
			t.Errorf("%s: %d %s", p, page.Status, body)
		case strings.Contains(body, "<Person>"):
			t.Errorf("%s: a name is not escaped", p)
		case strings.Contains(body, "[table.") || strings.Contains(body, "[tray.") || strings.Contains(body, "ZgotmplZ"):
			t.Errorf("%s: a word is missing", p)
		case strings.HasPrefix(p, "/case/"+id) && !strings.Contains(body, "Invented &lt;Person&gt;"):
			t.Errorf("%s does not say for whom", p)
		}
	}
	if m := u.words.Missing(); len(m) > 0 {
		t.Errorf("words that are missing: %v", m)
	}
	if page := u.Get(t.Context(), "/case/"+other+"/table"); !strings.Contains(string(page.Body), "case/"+id+"/table") {
		t.Error("one tap must lead to the other open case")
	}
	for _, p := range []string{"/nothing", "/case/" + id, "/case/" + id + "/table/nothing", "/case/" + core.NewID() + "/table", "/case/x/table", "/kit/none", "/kit/open-drop/look/none", "/kit/open-drop/days/2026-01-01", "/kit/open-drop/edit/none", "/kit/open-drop/photo/none", "/supplies/none/x", "/supplies/new/none", "/supplies/count/drug/none/new", "/supplies/count/drug/ketamine/none", "/files/faults.csv", "/sealing/nothing", "/sealing/new/nothing", "/sealing/unlock/nobody", "/sealing/key/more",
		"/case/" + id + "/entry/" + core.NewID(), "/case/" + id + "/visit/nothing", "/static/none.js", "/../../etc/passwd"} {
		if page := u.Get(t.Context(), p); page.Status != 404 {
			t.Errorf("%s: %d, want 404", p, page.Status)
		}
	}
}

func TestPatches(t *testing.T) {
	u, _, _ := newUI(t)
	id := newCase(t, u, "X")
	p := "/case/" + id + "/table"
	s := sendFrom(t, u, p, "kind", "mark")
	a := u.Send(t.Context(), s)
	ids := map[string]bool{}
	for _, x := range a.Patches {
		ids[x.ID] = true
	}
	if !ids["undo"] || !ids["drawn"] || !ids["dues"] || len(ids) != 3 {
		t.Errorf("a mark changes the undo key, the drawing and the chip that asks for its name: %v", ids)
	}
	// A page drawn before somebody else wrote gets every part.
	s = sendFrom(t, u, p, "kind", "mark")
	s.Base--
	if a := u.Send(t.Context(), s); len(a.Patches) < 15 {
		t.Errorf("on a stale base %d parts were answered", len(a.Patches))
	}
}

// client is what the script does with answers: the parts of a page by id,
// without the ids of events.
type client struct {
	parts map[string]string
	base  int64
}

var minted = regexp.MustCompile(` data-event="[^"]*"`)

func (c *client) settle(u *UI, page, path string, a Answer) {
	switch {
	case a.From == c.base || a.From == 0 && a.Base > c.base:
		for _, p := range a.Patches {
			c.parts[p.ID] = minted.ReplaceAllString(p.HTML, "")
		}
		c.base = a.Base
	case a.Base > c.base:
		c.settle(u, page, path, refresh(u, page, path, 0))
	}
}

func refresh(u *UI, page, path string, base int64) (a Answer) {
	if err := json.Unmarshal(u.Get(context.Background(), path+"?fresh="+page+"&base="+strconv.FormatInt(base, 10)).Body, &a); err != nil {
		panic(err)
	}
	return a
}

// TestTapAndRefreshAtOnce: whatever the order in which a tap and a refresh are
// worked out, and in which their answers come, or are lost, the page ends up
// showing what is so.
func TestTapAndRefreshAtOnce(t *testing.T) {
	u, _, clock := newUI(t)
	id := newCase(t, u, "X")
	p := "/case/" + id + "/table"
	tap(t, u, p+"/agent", "kind", "agent", "agent", "ether", "drops", "12")
	open := sendFrom(t, u, p)
	c := &client{map[string]string{}, 0}
	c.settle(u, open.Page, p, refresh(u, open.Page, p, 0))
	random := rand.New(rand.NewPCG(1, 2))
	for i := range 150 {
		clock.pass(40 * time.Second)
		s := sendOf(u, p, "kind", "agent", "agent", "ether", "drops", strconv.Itoa(20+i%2*20))
		s.Page, s.Base = open.Page, c.base
		answers := make([]Answer, 2)
		var both sync.WaitGroup
		both.Go(func() { answers[0] = u.Send(context.Background(), s) })
		both.Go(func() { answers[1] = refresh(u, open.Page, p, s.Base) })
		both.Wait()
		if random.IntN(2) == 0 {
			answers[0], answers[1] = answers[1], answers[0]
		}
		if random.IntN(4) == 0 {
			answers = answers[:1] // the other was lost on its way
		}
		for _, a := range answers {
			if a.Problem != nil {
				t.Fatal(a.Problem)
			}
			c.settle(u, open.Page, p, a)
		}
		c.settle(u, open.Page, p, refresh(u, open.Page, p, c.base))
		whole := &client{map[string]string{}, 0}
		whole.settle(u, "", p, refresh(u, core.NewID(), p, 0))
		if len(whole.parts) < 15 || !maps.Equal(c.parts, whole.parts) {
			for part, html := range whole.parts {
				if c.parts[part] != html {
					t.Errorf("round %d: %s shows\n%s\nand should show\n%s", i, part, c.parts[part], html)
				}
			}
			t.FailNow()
		}
	}
}

// patchMost is what the answer to a tap on the table may carry, in bytes.
const patchMost = 2048

// TestPatchesAreSmall taps every sort of key of the table, on trays laid over
// it, beside a second open case, and weighs the answers.
func TestPatchesAreSmall(t *testing.T) {
	u, c, clock := newUI(t)
	id := newCase(t, u, "Invented Person of the Long Name")
	table := "/case/" + id + "/table"
	tap(t, u, table+"/step", "kind", "phase", "phase", "anaesthesia-start")
	tap(t, u, "/case/new", "do", "open", "name", "Second", core.WatchField(id), "nurse")
	s := sendFrom(t, u, table)
	page, base := s.Page, s.Base
	most := 0
	for _, fields := range [][]string{
		{"", "kind", "mark"}, {"agent", "kind", "agent", "agent", "ether", "drops", "12"}, {"", "kind", "agent", "agent", "ether", "drops", "20"},
		{"agent", "kind", "agent", "oxygen", "1", "cover", "on"}, {"breathing", "kind", "signs", "breathing", "uneven"},
		{"vitals", "kind", "vitals", "systolic", "130", "diastolic", "85", "pulse", "96", "spo2", "97", "breaths", "22", "temperature", "36.6", "etco2", "38"},
		{"eyes", "kind", "signs", "eyes", "still-central", "pupils", "small"}, {"airway", "kind", "airway", "device", "oral-airway", "act", "in", "size", "3", "needed", "jaw-thrust"},
		{"drug", "kind", "drug", "drug", "lidocaine-adrenaline", "dose", "40", "dose_unit", "mg", "route", "infiltration"},
		{"step", "kind", "step", "step", "pulling-viscera"}, {"", "kind", "phase", "phase", "unconscious"},
		{"fluids", "kind", "in", "in", "compound-lactate", "volume", "500"}, {"position", "kind", "position", "position", "supine"},
		{"sheet", "kind", "signs", "breathing", "even-automatic", "eyes", "still-central", "pupils", "small", "jaw", "slack", "chest", "full", "secretion", "some"},
	} {
		clock.pass(3 * time.Minute)
		// What aged meanwhile the page has asked for itself, as it does every
		// few seconds.
		var aged Answer
		if err := json.Unmarshal(u.Get(t.Context(), table+"?fresh="+page+"&base="+strconv.FormatInt(base, 10)).Body, &aged); err != nil || aged.Problem != nil || len(aged.Patches) == 0 {
			t.Fatalf("%v %+v", err, aged)
		}
		base = aged.Base
		s := sendOf(u, table+"/"+fields[0], fields[1:]...)
		s.Page, s.Base, s.Case = page, base, id
		if fields[0] != "" {
			s.Under = table
		}
		a := u.Send(t.Context(), s)
		if a.Problem != nil || a.Go != "" || a.Close != (fields[0] != "") {
			t.Fatalf("%v: %+v %+v", fields, a, a.Problem)
		}
		base = a.Base
		body := a.JSON()
		most = max(most, len(body))
		if len(body) > patchMost {
			t.Errorf("%v: the answer has %d bytes: %s", fields, len(body), body)
		}
	}
	if entries, err := c.Entries(t.Context(), id); err != nil || len(entries) < 14 {
		t.Errorf("%d entries: %v", len(entries), err)
	}
	t.Logf("the largest answer has %d bytes", most)
}

func TestRetryThroughTheScreen(t *testing.T) {
	u, _, _ := newUI(t)
	id := newCase(t, u, "X")
	s := sendOf(u, "/case/"+id+"/table", "kind", "mark")
	one, two := u.Send(t.Context(), s), u.Send(t.Context(), s)
	if one.Problem != nil || two.Problem != nil || one.Seq != two.Seq {
		t.Errorf("a retry: %+v %+v", one, two)
	}
}

func TestProblemsNameTheField(t *testing.T) {
	u, _, _ := newUI(t)
	id := newCase(t, u, "X")
	for _, tt := range []struct {
		fields []string
		field  string
		words  string
	}{
		{[]string{"kind", "vitals", "systolic", "1100"}, "systolic", "350 mmHg"},
		{[]string{"kind", "drug", "drug", "ketamine", "route", "iv"}, "dose", "missing"},
		{[]string{"kind", "drug", "drug", "ketamine", "route", "iv", "dose", "5x"}, "dose", "Nothing was recorded"},
	} {
		a := u.Send(t.Context(), sendOf(u, "/case/"+id+"/table/vitals", tt.fields...))
		if a.Problem == nil || a.Problem.Field != tt.field || a.Problem.Status != 422 || !strings.Contains(a.Problem.Words, tt.words) {
			t.Errorf("%v: %+v", tt.fields, a.Problem)
		}
	}
	if a := u.Send(t.Context(), sendOf(u, "/case/"+id+"/table", "do", "nothing")); a.Problem == nil || a.Problem.Status != 404 {
		t.Errorf("an unknown control: %+v", a.Problem)
	}
}

func TestHandlerGuards(t *testing.T) {
	u, _, _ := newUI(t)
	h := u.Handler("token123")
	do := func(method, target, host, origin, contentType, body string) *http.Response {
		r := httptest.NewRequest(method, target, strings.NewReader(body))
		r.Host = host
		if origin != "" {
			r.Header.Set("Origin", origin)
		}
		if contentType != "" {
			r.Header.Set("Content-Type", contentType)
		}
		w := httptest.NewRecorder()
		h.ServeHTTP(w, r)
		return w.Result()
	}
	const host, origin, json = "127.0.0.1:7343", "http://127.0.0.1:7343", "application/json"
	for name, tt := range map[string]struct {
		method, target, host, origin, contentType, body string
		want                                            int
	}{
		"page":                    {"GET", "/token123/today", host, "", "", "", 200},
		"style":                   {"GET", "/token123/static/chinlift.css", host, "", "", "", 200},
		"no token":                {"GET", "/today", host, "", "", "", 403},
		"another token":           {"GET", "/token124/today", host, "", "", "", 403},
		"a name that points here": {"GET", "/token123/today", "evil.example:7343", "", "", "", 403},
		"a tap":                   {"POST", "/token123/send", host, origin, json, `{"path":"/kit/open-drop","fields":{"do":["check"],"item":["gauze"],"state":["good"]},"event":"` + core.NewID() + `","base":0}`, 200},
		"a tap from elsewhere":    {"POST", "/token123/send", host, "http://evil.example", json, `{}`, 403},
		"a tap without origin":    {"POST", "/token123/send", host, "", json, `{}`, 403},
		"no photograph":           {"POST", "/token123/photo?list=open-drop&item=gauze", host, origin, "image/jpeg", "no picture", 422},
		"a photograph as text":    {"POST", "/token123/photo?list=open-drop&item=gauze", host, origin, "text/plain", "x", 415},
		"another's photograph":    {"POST", "/token123/photo?list=open-drop&item=gauze", host, "http://evil.example", "image/jpeg", "x", 403},
		"a tap as a form":         {"POST", "/token123/send", host, origin, "application/x-www-form-urlencoded", "a=b", 415},
		"a tap that is no JSON":   {"POST", "/token123/send", host, origin, json, `{`, 400},
		"a tap with more behind":  {"POST", "/token123/send", host, origin, json, `{"path":"/today","fields":{},"event":"","base":0} {}`, 400},
		"a tap too large":         {"POST", "/token123/send", host, origin, json, `{"path":"` + strings.Repeat("x", maxSend) + `"}`, 400},
		"an unknown member":       {"POST", "/token123/send", host, origin, json, `{"pathh":"x"}`, 400},
		"another method":          {"DELETE", "/token123/today", host, "", "", "", 405},
	} {
		res := do(tt.method, tt.target, tt.host, tt.origin, tt.contentType, tt.body)
		res.Body.Close()
		if res.StatusCode != tt.want {
			t.Errorf("%s: %d, want %d", name, res.StatusCode, tt.want)
		}
		if csp := res.Header.Get("Content-Security-Policy"); !strings.Contains(csp, "default-src 'none'") {
			t.Errorf("%s: content security policy %q", name, csp)
		}
		if res.Header.Get("Set-Cookie") != "" || res.Header.Get("Location") != "" {
			t.Errorf("%s: cookies and redirects are not of the contract", name)
		}
	}
}

// The script stays small: it is all that a page runs.

var inputTag = regexp.MustCompile(`<input type="(hidden|radio|checkbox)" name="([^"]+)" value="([^"]*)"( checked)?`)

// A plan that is opened and recorded again without a touch is the same plan:
// what the page does not ask goes with it.
func TestPlanAgainLosesNothing(t *testing.T) {
	u, c, _ := newUI(t)
	id := newCase(t, u, "X")
	page := "/case/" + id + "/visit/plan"
	tap(t, u, page, "kind", "plan", "techniques", "open-drop", "techniques", "sedation", "agent", "ether", "airway", "supraglottic", "position", "supine", "operation", "hernia",
		"drugs", "ketamine", "drugs", "not-known-here", "steps", "knife", "step_times", "knife 20 min", "loss_allowed", "777", "fluids", "sodium-chloride", "recovery", "nurse", "opioids_after", "no",
		"hazards", "diathermy", "start_in", "+60")
	plan := func() timeline.Plan {
		t.Helper()
		cs, err := c.Case(t.Context(), id)
		if err != nil {
			t.Fatal(err)
		}
		return cs.Plan
	}
	before := plan()
	fields := []string{"kind", "plan"}
	for _, m := range inputTag.FindAllStringSubmatch(string(u.Get(t.Context(), page).Body), -1) {
		if m[1] == "hidden" || m[4] != "" {
			fields = append(fields, m[2], html.UnescapeString(m[3]))
		}
	}
	tap(t, u, page, fields...)
	after := plan()
	slices.Sort(before.Drugs)
	slices.Sort(after.Drugs)
	if !reflect.DeepEqual(before, after) {
		t.Errorf("the plan was\n%+v\nand is\n%+v", before, after)
	}
	// And the start can be taken out of it.
	tap(t, u, page, append(fields, "start_in", "none")...)
	if p := plan(); !p.Start.IsZero() || p.Agent != "ether" {
		t.Errorf("without a start: %+v", p)
	}
}

var labelled = regexp.MustCompile(`class="(?:picks )?label ([a-z-]+)"`)

// TestDoseLabelsHaveWords: wherever the label of a class of drugs stands, the
// class stands beside it in words.
func TestDoseLabelsHaveWords(t *testing.T) {
	u, c, _ := newUI(t)
	id := newCase(t, u, "One Patient")
	seen := map[string]bool{}
	pages := append(paths(id), "/rules", "/case/"+id+"/trouble/anaphylaxis")
	book, err := c.RuleBook(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for _, g := range book.Groups {
		for _, d := range g.Drugs {
			pages = append(pages, "/rules/"+d.Code)
		}
	}
	for _, path := range pages {
		body := string(u.Get(t.Context(), path).Body)
		at := labelled.FindAllStringSubmatchIndex(body, -1)
		for i, m := range at {
			end := len(body)
			if i+1 < len(at) {
				end = at[i+1][0]
			}
			class := body[m[2]:m[3]]
			words := html.EscapeString(c.Words().Say(term.DrugClassList.Key(term.DrugClass(class))))
			if !strings.Contains(body[m[1]:end], words) {
				t.Errorf("%s: the label of %s does not say %q", path, class, words)
			}
			seen[class] = true
		}
	}
	for _, class := range term.DrugClassList.Codes() {
		if !seen[string(class)] {
			t.Errorf("no page shows the label of %s: the test shows nothing of it", class)
		}
	}
}
