package ui

import (
	"bytes"
	"strings"
	"testing"
	"time"

	"chinlift/sync/plain"
)

// The figures are one key from the log; picking keeps what else is picked; the
// logbook has the cases that are picked, and names only where they were asked
// for.
func TestFiguresPage(t *testing.T) {
	u, c, clock := newUI(t)
	id := newCase(t, u, "Invented <Person>")
	path := "/case/" + id + "/visit"
	tap(t, u, path+"/plan", "kind", "plan", "techniques", "spinal", "operation", "hernia", "text", "secret words")
	tap(t, u, path+"/who", "kind", "facts", "supervision", "by-phone")
	tap(t, u, "/case/"+id+"/table", "kind", "phase", "phase", "anaesthesia-start")
	tap(t, u, "/case/"+id+"/trouble", "kind", "trouble", "trouble", "apnoea", "act", "begun")
	clock.pass(time.Minute)
	get := func(target string) Page {
		t.Helper()
		p := u.Get(t.Context(), target)
		if p.Status != 200 {
			t.Fatalf("%s: %d %s", target, p.Status, p.Body)
		}
		return p
	}
	log := string(get("/log").Body)
	for _, href := range []string{`href="figures"`, `href="search"`} {
		if !strings.Contains(log, href) {
			t.Errorf("the log lacks %s", href)
		}
	}
	page := string(get("/figures?technique=spinal").Body)
	for _, has := range []string{"1 of 1", "interval 20.7", "do not compare people", "somebody by phone", `href="search?technique=spinal"`,
		`href="figures?technique=spinal&amp;trouble=apnoea"`, `href="figures/logbook.pdf?technique=spinal"`, `<rect class="bar" width="100.0"`} {
		if !strings.Contains(page, has) {
			t.Errorf("the page lacks %q: %s", has, page)
		}
	}
	if strings.Contains(page, "Person") || strings.Contains(page, "style=") {
		t.Error("a name, or a style that the policy refuses, is on the page of figures")
	}
	if found := string(get("/search?trouble=apnoea").Body); !strings.Contains(found, `href="case/`+id+`/record"`) {
		t.Errorf("the case is not found: %s", found)
	}
	if none := string(get("/search?trouble=fire").Body); strings.Contains(none, id) {
		t.Error("a case is found that had no fire")
	}
	if p := get("/figures/logbook.pdf?technique=spinal"); p.Type != "application/pdf" || !bytes.HasPrefix(p.Body, []byte("%PDF-")) || p.Name != "logbook.pdf" {
		t.Errorf("the logbook on paper: %s %s", p.Type, p.Name)
	}
	if p := u.Get(t.Context(), "/figures/logbook.csv"); p.Status != 404 {
		t.Errorf("a table that nobody can make: %d", p.Status)
	}
	u.Lend(plain.Maker{Source: c, Now: func() time.Time { return c.Now().Wall }})
	rows := string(get("/figures/logbook.csv?trouble=apnoea").Body)
	if !strings.Contains(rows, "\n"+id+",") || !strings.Contains(rows, ",hernia,spinal,,by-phone,") || strings.Contains(rows, "Person") || strings.Contains(rows, "secret") {
		t.Errorf("the table: %s", rows)
	}
	if rows = string(get("/figures/logbook.csv?private=yes").Body); !strings.Contains(rows, "Invented <Person>") || !strings.Contains(rows, "secret words") {
		t.Errorf("with the private part: %s", rows)
	}
	if rows = string(get("/figures/logbook.csv?trouble=fire").Body); strings.Count(rows, "\n") != 1 {
		t.Errorf("of none: %s", rows)
	}
	if p := u.Get(t.Context(), "/figures/other.csv"); p.Status != 404 {
		t.Errorf("a file that is none: %d", p.Status)
	}
}
