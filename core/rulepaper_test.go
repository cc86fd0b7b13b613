package core_test

import (
	"io"
	"strings"
	"testing"

	"chinlift/core"
	"chinlift/core/record"
)

// The book on paper has every rule, with what it rests on, who stands for it,
// and a line to sign on.
func TestRulePaper(t *testing.T) {
	c := openAt(t, t.TempDir(), newClock())
	b, err := c.RuleBook(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if _, err := c.NameAuthor(t.Context(), core.NewID(), "Ann Invented"); err != nil {
		t.Fatal(err)
	}
	confirmed := b.Groups[0].Drugs[0].Uses[0]
	if _, err := c.Confirm(t.Context(), core.NewID(), confirmed.Drug, confirmed.Code, confirmed.Hash, false); err != nil {
		t.Fatal(err)
	}
	for _, size := range []record.PaperSize{record.A4, record.Letter} {
		text := printed(t, func(w io.Writer) error { return c.RulePaper(t.Context(), w, size) })
		text = strings.ReplaceAll(text, " ", "")
		has := func(what string) {
			t.Helper()
			if !strings.Contains(text, strings.Join(strings.Fields(what), "")) {
				t.Errorf("the paper lacks %q", what)
			}
		}
		for _, g := range b.Groups {
			for _, d := range g.Drugs {
				has(d.Words)
				for _, u := range d.Uses {
					has(u.Hash)
				}
			}
		}
		// Lines that no page breaks: those of a rule's beginning.
		has(confirmed.Lines[0].Text)
		has(confirmed.Lines[0].Source)
		has("confirmed by Ann Invented")
		if n := strings.Count(text, "signature"); n != b.Rules {
			t.Errorf("%d lines to sign on for %d rules", n, b.Rules)
		}
	}
}
