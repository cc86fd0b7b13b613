package store

import (
	"errors"
	"slices"
	"testing"

	"chinlift/core/must"
	"chinlift/core/timeline"
)

// kept gives what is kept of each case in a form; nil: nothing that holds.
func kept(t *testing.T, s *Store, form int64) map[string]string {
	t.Helper()
	all := map[string]string{}
	if err := s.Figures(t.Context(), form, func(f Figure) error {
		all[f.Case] = string(f.Data)
		return nil
	}); err != nil {
		t.Fatal(err)
	}
	return all
}

// keep keeps a word for every case as it is now.
func keep(t *testing.T, s *Store, form int64, word string) {
	t.Helper()
	var all []Figure
	if err := s.Figures(t.Context(), form, func(f Figure) error {
		f.Data = []byte(word)
		all = append(all, f)
		return nil
	}); err != nil {
		t.Fatal(err)
	}
	if err := s.KeepFigures(t.Context(), form, all); err != nil {
		t.Fatal(err)
	}
}

func TestFiguresHoldUntilTouched(t *testing.T) {
	s := fresh(t)
	a, b := newID(), newID()
	appendAll(t, s, opened(a), opened(b))
	keep(t, s, 1, "x")
	if got := kept(t, s, 1); got[a] != "x" || got[b] != "x" || len(got) != 2 {
		t.Fatalf("%v", got)
	}
	if got := kept(t, s, 2); got[a] != "" || got[b] != "" {
		t.Errorf("of another form: %v", got)
	}
	appendAll(t, s, note(a, "more"))
	if got := kept(t, s, 1); got[a] != "" || got[b] != "x" {
		t.Errorf("after a line about one: %v", got)
	}
	keep(t, s, 1, "y")
	if got := kept(t, s, 1); got[a] != "y" || got[b] != "y" {
		t.Errorf("kept again: %v", got)
	}
	if err := s.DropFigures(t.Context()); err != nil {
		t.Fatal(err)
	}
	if got := kept(t, s, 1); got[a] != "" || got[b] != "" || len(got) != 2 {
		t.Errorf("thrown away: %v", got)
	}
	clean(t, s)
}

func TestFiguresReadOnly(t *testing.T) {
	dir := t.TempDir()
	s := must.Get[*Store](t)(Open(t.Context(), options(dir)))
	a := newID()
	appendAll(t, s, opened(a))
	keep(t, s, 1, "x")
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	r := must.Get[*Store](t)(OpenReadOnly(t.Context(), dir, nil))
	defer r.Close()
	if got := kept(t, r, 1); got[a] != "x" {
		t.Errorf("%v", got)
	}
	if err := r.KeepFigures(t.Context(), 1, []Figure{{a, 1, nil}}); !errors.Is(err, ErrReadOnly) {
		t.Errorf("%v", err)
	}
}

// A line that claims the number of one in another case sets that one aside: both
// cases are touched.
func TestForkTouchesBothCases(t *testing.T) {
	s := fresh(t)
	a, b := newID(), newID()
	appendAll(t, s, opened(a), opened(b))
	lines := appendAll(t, s, note(a, "here"))
	keep(t, s, 1, "x")
	d := note(b, "claims the number")
	e := &lines[0].Event
	l := must.Get[timeline.Line](t)(d.Seal(e.Log, e.Seq, e.Tick, e.Prev))
	m := must.Get[Merged](t)(s.Merge(t.Context(), []*timeline.Line{&l}))
	if got := kept(t, s, 1); got[a] != "" || got[b] != "" {
		t.Errorf("both cases changed: %v", got)
	}
	if want := []string{min(a, b), max(a, b)}; !slices.Equal(m.Cases, want) {
		t.Errorf("the merge concerns %v, want %v", m.Cases, want)
	}
}
