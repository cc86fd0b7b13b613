package store

import (
	"context"
	"fmt"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"chinlift/core/must"
	"chinlift/core/timeline"
)

func TestDestroyedIsGoneFromTheFiles(t *testing.T) {
	for _, size := range []int{10, 300, 3900, 50_000} {
		t.Run(fmt.Sprint(size, " bytes"), func(t *testing.T) {
			dir := t.TempDir()
			s := open(t, options(dir))
			caseID := newID()
			secret := strings.Repeat("Quentin-Invented ", size/17+1)
			ls := appendAll(t, s, opened(caseID), note(caseID, secret), note(caseID, "stays here"))
			if holding(t, dir, "Quentin-Invented") == "" {
				t.Fatal("it was never in a file: the test shows nothing")
			}
			whole := all(t, s)
			appendAll(t, s, destroy(timeline.ScopeCase, caseID, ls[1].Event.ID))
			if where := holding(t, dir, "Quentin-Invented"); where != "" {
				t.Fatalf("still in %s", where)
			}
			if holding(t, dir, "stays here") == "" {
				t.Fatal("the neighbour is gone too")
			}
			for _, l := range all(t, s) {
				if l.Event.ID == ls[1].Event.ID && (l.P != nil || l.Private != nil) {
					t.Fatal("the line still has a private part")
				}
			}
			// It does not come back: not by a merge, not by a retry.
			if m := merge(t, s, whole); m.PrivateAdded != 0 {
				t.Fatalf("%+v", m)
			}
			again := note(caseID, secret)
			again.ID = ls[1].Event.ID
			if l := appendAll(t, s, again)[0]; l.P != nil {
				t.Fatal("a retry answers it")
			}
			clean(t, s)
			if where := holding(t, dir, "Quentin-Invented"); where != "" {
				t.Fatalf("it came back in %s", where)
			}
		})
	}
}

func TestDestroyedBeforeItArrives(t *testing.T) {
	dir := t.TempDir()
	s := open(t, options(dir))
	c, caseID := newChain(t), newID()
	secret := c.add(note(caseID, "Quentin-Invented"))
	gone := c.add(destroy(timeline.ScopeCase, caseID, secret.Event.ID))
	merge(t, s, []*timeline.Line{gone})
	merge(t, s, []*timeline.Line{secret})
	if secret.P == nil {
		t.Fatal("the caller's line was changed")
	}
	if where := holding(t, dir, "Quentin-Invented"); where != "" {
		t.Fatalf("still in %s", where)
	}
	if r := clean(t, s); r.Lines != 2 {
		t.Fatalf("%d lines", r.Lines)
	}
}

// A reader that holds an old view of the database keeps the log from being
// emptied. The destruction is then committed, the answer says that it is not
// finished, and the next opening finishes it.
func TestDestructionIsFinishedLater(t *testing.T) {
	dir := t.TempDir()
	o := options(dir)
	s := must.Get[*Store](t)(Open(t.Context(), o))
	caseID := newID()
	secret := appendAll(t, s, note(caseID, "Quentin-Invented"))[0]

	reader := must.Get[*Store](t)(OpenReadOnly(t.Context(), dir, nil))
	tx, err := reader.db.readers.BeginTx(t.Context(), nil)
	if err != nil {
		t.Fatal(err)
	}
	var n int
	if err := tx.QueryRow("SELECT count(*) FROM line").Scan(&n); err != nil {
		t.Fatal(err)
	}
	s.db.keeper.wait = 1
	_, err = s.Append(t.Context(), destroy(timeline.ScopeCase, caseID, secret.Event.ID))
	if !codeIs(err, CodeBusy) {
		t.Fatalf("error %v", err)
	}
	if err := tx.Rollback(); err != nil {
		t.Fatal(err)
	}
	if err := reader.Close(); err != nil {
		t.Fatal(err)
	}
	if s.Head() != 3 {
		t.Fatalf("%d lines", s.Head())
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	if where := holding(t, dir, "Quentin-Invented"); where != "" {
		t.Fatalf("still in %s", where)
	}
	clean(t, open(t, o))
}

func TestPhotographGoesWithItsName(t *testing.T) {
	dir := t.TempDir()
	s := open(t, options(dir))
	caseID := newID()
	photo := func(data string) (timeline.Hash, timeline.Draft) {
		h := must.Get[timeline.Hash](t)(s.PutBlob(t.Context(), []byte(data)))
		d := note(caseID, "a photograph")
		d.Private[timeline.PrivatePhoto] = string(h)
		return h, d
	}
	alone, a := photo("photograph of one")
	shared, b := photo("photograph of two")
	_, c := photo("photograph of two")
	ls := appendAll(t, s, a, b, c)
	appendAll(t, s, destroy(timeline.ScopeCase, caseID, ls[0].Event.ID, ls[1].Event.ID))
	if _, err := s.Blob(alone); err == nil || holding(t, dir, "photograph of one") != "" {
		t.Errorf("the photograph is still there: %v", err)
	}
	if _, err := s.Blob(shared); err != nil {
		t.Errorf("another entry names this one: %v", err)
	}
	clean(t, s)
}

// TestNothingDestroyedStays: however private parts of all sizes come and go,
// also after lines that were known without theirs, no file holds a destroyed
// one: SQLite leaves no copy in the unused parts of a page.
func TestNothingDestroyedStays(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		dir := t.TempDir()
		s := must.Get[*Store](rt)(Open(context.Background(), options(dir)))
		c, caseID := newChain(rt), newID()
		var ls []*timeline.Line
		secret := func(i int) string { return fmt.Sprintf("secret-%04d-end", i) }
		for i := range rapid.IntRange(20, 60).Draw(rt, "lines") {
			size := rapid.SampledFrom([]int{0, 50, 200, 700, 1500, 3000, 6000}).Draw(rt, "size")
			ls = append(ls, c.add(note(caseID, secret(i)+strings.Repeat(".", size))))
		}
		merge(rt, s, parsed(rt, ls, false))
		gone := map[int]bool{}
		for range rapid.IntRange(1, 4).Draw(rt, "rounds") {
			merge(rt, s, shuffled(rt, ls)[:rapid.IntRange(1, len(ls)).Draw(rt, "some")])
			var ids []string
			for _, i := range rapid.SliceOfN(rapid.IntRange(0, len(ls)-1), 1, len(ls)).Draw(rt, "destroyed") {
				gone[i] = true
				ids = append(ids, ls[i].Event.ID)
			}
			appendAll(rt, s, destroy(timeline.ScopeCase, caseID, ids...))
		}
		if err := s.Close(); err != nil {
			rt.Fatal(err)
		}
		for i := range ls {
			if where := holding(rt, dir, secret(i)); gone[i] && where != "" {
				rt.Fatalf("%s was destroyed, and is still in %s", secret(i), where)
			}
		}
	})
}
