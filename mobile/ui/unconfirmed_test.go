package ui

import (
	"encoding/csv"
	"html"
	"os/exec"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"chinlift/core"
	"chinlift/sync/plain"
)

// unproved are the words by which a surface says that nobody stands for a dose
// rule.
var unproved = []string{"not confirmed", "confirmed by nobody here", "Nobody here has confirmed", "Nobody here had confirmed"}

var (
	// dosesShown is how doses of the case below read: of what was given, of what is
	// offered, and of what the rule book says.
	dosesShown = regexp.MustCompile(`\b9 mg\b|\b0\.9 mL\b|\b70 mg/h\b|\b0\.5 mL of 1 mg/mL|\b0\.1 to 0\.2 mg/kg\b`)
	markup     = regexp.MustCompile(`(?s)<(script|style)\b.*?</(script|style)>|<[^>]*>`)
	away       = regexp.MustCompile(`(?:href|src)="([^"]+)"`)
	spaces     = regexp.MustCompile(`\s+`)
	padKeys    = regexp.MustCompile(`(?s)<(a|button)\b[^>]*data-key="(drug|undo|step|vitals)"[^>]*>.*?</(a|button)>`)
)

// text gives what a page or a file says, and whether anybody reads it as it is.
func text(t *testing.T, name string, p Page) string {
	t.Helper()
	switch {
	case strings.HasPrefix(p.Type, "application/pdf"):
		cmd := exec.Command("pdftotext", "-layout", "-", "-")
		cmd.Stdin = strings.NewReader(string(p.Body))
		out, err := cmd.Output()
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		return strings.ReplaceAll(spaces.ReplaceAllString(string(out), " "), ", 0 not confirmed", "")
	case strings.HasPrefix(p.Type, "image/svg"), strings.HasPrefix(p.Type, "text/html"):
		// The pad's keys repeat in a few letters what the drawing above them
		// shows with its sign.
		body := padKeys.ReplaceAllString(string(p.Body), " ")
		said := html.UnescapeString(spaces.ReplaceAllString(markup.ReplaceAllString(body, " "), " "))
		return strings.ReplaceAll(said, "· 0 not confirmed", "") // a count of none
	}
	return ""
}

// surfaces gives everything that can be looked at or taken away of a case, and
// of the clinic, by its address.
func surfaces(t *testing.T, u *UI, c *core.Companion, id string) map[string]string {
	t.Helper()
	all := map[string]string{}
	var open []string
	see := func(p string) {
		p = "/" + strings.TrimPrefix(html.UnescapeString(p), "/")
		if _, ok := all[p]; !ok && !strings.HasPrefix(p, "/static/") {
			all[p] = ""
			open = append(open, p)
		}
	}
	for _, p := range paths(id) {
		if !strings.HasPrefix(p, "/figures") { // a sum over cases is no dose, and was given by no rule
			see(p)
		}
	}
	entries, err := c.Entries(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		see("/case/" + id + "/entry/" + e.ID)
	}
	for len(open) > 0 {
		p := open[0]
		open = open[1:]
		page := u.Get(t.Context(), p)
		if page.Status != 200 {
			t.Fatalf("%s: %d", p, page.Status)
		}
		all[p] = text(t, p, page)
		if !strings.HasPrefix(page.Type, "text/html") {
			continue
		}
		for _, m := range away.FindAllStringSubmatch(string(page.Body), -1) {
			if a := m[1]; strings.Contains(a, ".pdf") || strings.Contains(a, "tile.svg") || strings.Contains(a, "/table/drug/morphine") || strings.Contains(a, "/table/drug/ketamine") || strings.Contains(a, "/trouble/") {
				see(a)
			}
		}
	}
	return all
}

// planned makes a case with a plan and no dose yet; dosed gives what was
// planned, and something that runs.
func planned(t *testing.T, u *UI, clock *fakeClock) string {
	t.Helper()
	id := newCase(t, u, "Invented Person")
	at := "/case/" + id
	tap(t, u, at+"/visit/weight", "kind", "facts", "weight", "60", "weight_how", "measured", "weight_by", "scale")
	tap(t, u, at+"/visit/plan", "kind", "plan", "techniques", "open-drop", "agent", "ether", "drugs", "morphine", "start_in", "+75")
	clock.pass(time.Minute)
	return id
}

func dosed(t *testing.T, u *UI, clock *fakeClock, id string) {
	t.Helper()
	at := "/case/" + id
	tap(t, u, at+"/table/drug", "kind", "drug", "drug", "morphine", "use", "premedication-im", "dose", "9", "dose_unit", "mg", "route", "im")
	clock.pass(time.Minute)
	tap(t, u, at+"/table/drug", "kind", "infusion", "act", "started", "drug", "ketamine", "rate", "70", "rate_unit", "mg/h", "route", "iv")
	clock.pass(70 * time.Minute)
	tap(t, u, at+"/start", "kind", "phase", "phase", "anaesthesia-start")
}

// Wherever a dose or its rule is shown it says that nobody of the clinic stands
// for the rule, and nowhere once somebody does. The walk looks at every page,
// drawing and paper that can be reached; a new one that shows a dose without
// the sign fails here.
func TestUnconfirmedSaysSoEverywhere(t *testing.T) {
	for _, confirmed := range []bool{false, true} {
		u, c, clock := newUI(t)
		u.Lend(plain.Maker{Source: c, Now: func() time.Time { return c.Now().Wall }})
		if _, err := c.NameAuthor(t.Context(), core.NewID(), "Ann Invented"); err != nil {
			t.Fatal(err)
		}
		if confirmed {
			standForAll(t, c)
		}
		id := planned(t, u, clock)
		// These must be among what was looked at, or the walk proves nothing.
		walk(t, u, c, id, confirmed, "/visit", "/doses", "/table/drug", "/table/drug/morphine", "/table/drug/morphine/premedication-im", "/rules/morphine", "/rules.pdf", "/trouble/anaphylaxis")
		dosed(t, u, clock, id)
		walk(t, u, c, id, confirmed, "/record", "/handover", "/handover.pdf", "/doses", "/table/drug", "/start", "/pause/before-first-drop",
			"/files/record.pdf", "/files/record.pdf?private=yes", "/entry/", "/tile.svg")
		checkTable(t, u, id, confirmed)
	}
}

// walk holds every surface against what it should say.
func walk(t *testing.T, u *UI, c *core.Companion, id string, confirmed bool, must ...string) {
	t.Helper()
	var showing []string
	for path, said := range surfaces(t, u, c, id) {
		i := slices.IndexFunc(unproved, func(w string) bool { return strings.Contains(said, w) })
		switch where := dosesShown.FindString(said); {
		case confirmed && i >= 0:
			t.Errorf("%s says %q of a rule that somebody stands for: %.300s", path, unproved[i], around(said, unproved[i]))
		case where == "":
		case !confirmed && i < 0:
			t.Errorf("%s shows %q and does not say that nobody stands for its rule: %.300s", path, where, around(said, where))
		default:
			showing = append(showing, path)
		}
	}
	for _, m := range must {
		if !slices.ContainsFunc(showing, func(p string) bool { return strings.Contains(p, m) }) {
			t.Errorf("confirmed %v: no dose is seen on %s", confirmed, m)
		}
	}
}

// around gives the neighbourhood of some words.
func around(text, of string) string {
	i := strings.Index(text, of)
	return text[max(0, i-120):]
}

func standForAll(t *testing.T, c *core.Companion) {
	t.Helper()
	book, err := c.RuleBook(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for _, g := range book.Groups {
		for _, d := range g.Drugs {
			for _, use := range d.Uses {
				if _, err := c.Confirm(t.Context(), core.NewID(), d.Code, use.Code, use.Hash, false); err != nil {
					t.Fatal(err)
				}
			}
		}
	}
}

// checkTable looks at drugs.csv.
func checkTable(t *testing.T, u *UI, id string, confirmed bool) {
	t.Helper()
	rows, err := csv.NewReader(strings.NewReader(string(u.Get(t.Context(), "/case/"+id+"/files/drugs.csv").Body))).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	col := func(row []string, name string) string { return row[slices.Index(rows[0], name)] }
	doses := 0
	for _, row := range rows[1:] {
		if what := col(row, "what"); what != "drug" && what != "infusion" {
			continue
		}
		doses++
		if got := col(row, "confirmed"); got != map[bool]string{false: "no", true: "yes"}[confirmed] || col(row, "rule") == "" || col(row, "not_judged") != "" {
			t.Errorf("drugs.csv, confirmed %v: %v", confirmed, row)
		}
	}
	if doses != 2 {
		t.Errorf("drugs.csv has %d doses", doses)
	}
}
