package store

import (
	"bytes"
	"fmt"
	"os"
	"slices"
	"testing"

	"chinlift/core/must"
	"chinlift/core/term"
	"chinlift/core/timeline"
)

// TestVerifyFindsDamage spoils a sound folder in one way after another.
func TestVerifyFindsDamage(t *testing.T) {
	const note3 = "(SELECT row FROM line WHERE seq = 3)" // a note with a private part
	for _, c := range []struct {
		name string
		sql  []string
		want []string
	}{
		{"a letter of an event", []string{`UPDATE line SET e = CAST(replace(CAST(e AS TEXT), '"boot":"boot"', '"boot":"root"') AS BLOB) WHERE seq = 3`}, []string{"damaged"}},
		{"an event that is none", []string{"UPDATE line SET e = x'7b7d' WHERE seq = 3"}, []string{"not-readable"}},
		{"a hash", []string{"UPDATE line SET h = zeroblob(32) WHERE seq = 3"}, []string{"damaged", "broken-chain"}},
		{"a hash that is none", []string{"UPDATE line SET h = zeroblob(31) WHERE seq = 5"}, []string{"not-readable"}},
		{"a line taken out", []string{"DELETE FROM private WHERE row = " + note3, "DELETE FROM line WHERE seq = 3"}, []string{"rows-missing", "gap"}},
		{"a line taken out of the middle, its number covered up", []string{
			"DELETE FROM private WHERE row = " + note3, "DELETE FROM line WHERE seq = 3",
			"UPDATE line SET row = row - 1, seq = seq - 1 WHERE seq > 3", "UPDATE private SET row = row - 1 WHERE row > 3"}, []string{"columns", "broken-chain"}},
		{"another place", []string{"UPDATE line SET about = 'elsewhere' WHERE seq = 3"}, []string{"columns", "unlisted"}},
		{"another root", []string{"UPDATE line SET amends = 'another' WHERE seq = 3"}, []string{"columns"}},
		{"another kind", []string{"UPDATE line SET kind = 'mark/1' WHERE seq = 3"}, []string{"columns"}},
		{"a private part", []string{`UPDATE private SET p = CAST('{"salt":"","text":"other"}' AS BLOB) WHERE row = ` + note3}, []string{"commitment"}},
		{"a private part where none was", []string{`INSERT INTO private (row, p) VALUES (2, CAST('{"text":"other"}' AS BLOB))`}, []string{"commitment"}},
		{"a private part that was not destroyed", []string{"UPDATE private SET p = zeroblob(length(p)) WHERE row = " + note3}, []string{"private-lost"}},
		{"a private part that should be gone", []string{"INSERT INTO destroyed (id) SELECT id FROM line WHERE seq = 3"}, []string{"not-destroyed"}},
		{"a private part of no line", []string{"INSERT INTO private (row, p) VALUES (77, x'7b7d')"}, []string{"foreign-key"}},
		{"a case that is not listed", []string{"DELETE FROM cases"}, []string{"unlisted"}},
		{"an index", []string{"PRAGMA writable_schema = 1", "UPDATE sqlite_schema SET sql = 'CREATE INDEX line_id ON line (about)' WHERE name = 'line_id'"}, []string{"sqlite"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			dir := t.TempDir()
			s := must.Get[*Store](t)(Open(t.Context(), options(dir)))
			caseID := newID()
			appendAll(t, s, opened(caseID), note(caseID, "a"), note(caseID, "b"), note(caseID, "c"))
			clean(t, s)
			if err := s.Close(); err != nil {
				t.Fatal(err)
			}
			raw(t, dir, c.sql...)
			ro := must.Get[*Store](t)(OpenReadOnly(t.Context(), dir, nil))
			defer ro.Close()
			r := must.Get[Report](t)(ro.Verify(t.Context()))
			got := codesOf(r)
			slices.Sort(got)
			got = slices.Compact(got)
			slices.Sort(c.want)
			if !slices.Equal(got, c.want) {
				t.Fatalf("found %v, want %v\n%+v", got, c.want, r.Findings)
			}
		})
	}
}

// Damage that a folder can take in by a merge, since every line is by itself
// what was written.
func TestVerifyFindsWhatChainsShow(t *testing.T) {
	caseID := newID()
	whole := newChain(t)
	var ls []*timeline.Line
	for range 4 {
		ls = append(ls, whole.add(opened(caseID)))
	}
	broken := newChain(t)
	broken.add(opened(caseID))
	brokenLines := []*timeline.Line{broken.add(opened(caseID))}
	broken.seq, broken.head = 0, timeline.NoHash
	brokenLines = append(brokenLines, broken.add(opened(caseID)))
	slow := newChain(t)
	slowLines := []*timeline.Line{slow.add(opened(caseID))}
	slow.tick = 0
	slowLines = append(slowLines, slow.add(opened(caseID)))
	cite := newChain(t)
	d := draft(timeline.ScopeDevice, cite.log, &timeline.LogOpened{Cause: term.LogCauseCopied, Cites: whole.log, At: 2, Head: ls[2].H})
	d2 := draft(timeline.ScopeDevice, cite.log, &timeline.LogOpened{Cause: term.LogCauseCopied, Cites: whole.log, At: 9, Head: ls[2].H})
	badCite := append(slices.Clone(ls), cite.add(d), cite.add(d2)) // number 9 is not here: nothing to say
	headless := newChain(t)
	headless.head = ls[0].H

	for _, c := range []struct {
		name       string
		lines      []*timeline.Line
		want       []string // in a folder
		continuity string
	}{
		{"whole", ls, nil, ContinuityWhole},
		{"whole, out of order and twice", []*timeline.Line{ls[2], ls[0], ls[3], ls[1], ls[1]}, nil, ContinuityWhole},
		{"a gap", []*timeline.Line{ls[0], ls[3]}, []string{"gap"}, ContinuityNotKnown},
		{"without a beginning", ls[2:], []string{"gap"}, ContinuityNotKnown},
		{"wrong line before", brokenLines, []string{"broken-chain", "tick"}, ContinuityWhole},
		{"first line with one before", []*timeline.Line{headless.add(opened(caseID))}, []string{"broken-chain"}, ContinuityWhole},
		{"tick that does not rise", slowLines, []string{"tick"}, ContinuityWhole},
		{"wrong citation", badCite, []string{"cites"}, ContinuityWhole},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := fresh(t)
			merge(t, s, c.lines)
			for place, r := range map[string]Report{"folder": must.Get[Report](t)(s.Verify(t.Context())), "file": VerifyLines(c.lines)} {
				want := c.want
				if place == "file" {
					want = slices.DeleteFunc(slices.Clone(want), func(s string) bool { return s == "gap" })
				}
				got := codesOf(r)
				slices.Sort(got)
				if !slices.Equal(got, want) || r.Continuity != c.continuity {
					t.Errorf("%s: found %v, %s; want %v, %s\n%+v", place, got, r.Continuity, want, c.continuity, r.Findings)
				}
				if r.Lines != int(s.Head()) {
					t.Errorf("%s: %d lines of %d", place, r.Lines, s.Head())
				}
			}
		})
	}
}

func TestVerifyLinesFindsDamage(t *testing.T) {
	c, caseID := newChain(t), newID()
	a, b := c.add(opened(caseID)), c.add(note(caseID, "x"))
	spoil := func(f func(*timeline.Line)) []*timeline.Line {
		l := *b
		f(&l)
		return []*timeline.Line{a, &l}
	}
	twin := newChain(t)
	d := opened(caseID)
	for name, v := range map[string]struct {
		lines []*timeline.Line
		want  []string
	}{
		"sound":   {[]*timeline.Line{a, b}, nil},
		"hash":    {spoil(func(l *timeline.Line) { l.H = l.H[2:] + l.H[:2] }), []string{"damaged"}},
		"private": {spoil(func(l *timeline.Line) { l.P = []byte(`{"text":"y"}`) }), []string{"commitment"}},
		"id":      {[]*timeline.Line{twin.add(d), twin.add(d)}, []string{"same-id"}},
	} {
		if got := codesOf(VerifyLines(v.lines)); !slices.Equal(got, v.want) {
			t.Errorf("%s: found %v, want %v", name, got, v.want)
		}
	}
	// A copy that was altered keeps its hash to pass for the line.
	for name, alter := range map[string]func(l *timeline.Line){
		"damaged":    func(l *timeline.Line) { l.E[bytes.Index(l.E, []byte(`"boot":"boot"`))+8]++ },
		"commitment": func(l *timeline.Line) { l.P = []byte(`{"salt":"","text":"other"}`) },
	} {
		c, whole := newChain(t), []*timeline.Line(nil)
		whole = append(whole, c.add(note(caseID, "x")), c.add(note(caseID, "y")))
		line := whole[len(whole)-2]
		bad := *line
		bad.E = slices.Clone(line.E)
		alter(&bad)
		bare := line.WithoutPrivate()
		for _, in := range [][]*timeline.Line{append([]*timeline.Line{&bad}, whole...), append(whole, &bad), append(whole, &bad, &bare, line)} {
			if r := VerifyLines(in); !slices.Equal(codesOf(r), []string{name}) || r.Lines != len(whole) {
				t.Errorf("an altered copy: found %+v in %d lines, want %s in %d", r.Findings, r.Lines, name, len(whole))
			}
		}
	}
	if r := VerifyLines(nil); r.Lines != 0 || r.Logs != 0 || len(r.Findings) != 0 {
		t.Errorf("nothing: %+v", r)
	}
}

// A walk that turns many pages finds what lies between two of them.
func TestVerifyAndAllTurnPages(t *testing.T) {
	for _, n := range []int{verifyPage - 1, verifyPage, verifyPage + 1, 2*verifyPage + 1} {
		s := fresh(t)
		c, caseID := newChain(t), newID()
		var ls []*timeline.Line
		for range n {
			ls = append(ls, c.add(opened(caseID)))
		}
		merge(t, s, ls)
		if r := clean(t, s); r.Lines != n || r.Logs != 1 {
			t.Errorf("%d lines: %+v", n, r)
		}
		for i, l := range all(t, s) {
			if l.H != ls[i].H {
				t.Fatalf("%d lines: line %d is another", n, i)
			}
		}
	}
}

func TestVerifyLooksForFiles(t *testing.T) {
	dir := t.TempDir()
	s := open(t, options(dir))
	file := must.Get[timeline.Hash](t)(s.PutBlob(t.Context(), []byte("a list")))
	photo := must.Get[timeline.Hash](t)(s.PutBlob(t.Context(), []byte("a photograph")))
	set := draft(timeline.ScopeClinic, string(term.SettingListFile), &timeline.ClinicSetting{Setting: term.SettingListFile, File: "list.toml", Blob: file})
	shown := note(newID(), "x")
	shown.Private[timeline.PrivatePhoto] = string(photo)
	appendAll(t, s, set, shown)
	clean(t, s)
	if err := os.WriteFile(blobPath(dir, file), []byte("another list"), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := os.Remove(blobPath(dir, photo)); err != nil {
		t.Fatal(err)
	}
	r := must.Get[Report](t)(s.Verify(t.Context()))
	if got := fmt.Sprint(codesOf(r)); got != "[blob-damaged blob-missing]" {
		t.Fatalf("found %s: %+v", got, r.Findings)
	}
}
