package store

import (
	"slices"
	"testing"

	"chinlift/core/must"
	"chinlift/core/timeline"
)

// provide takes everything that is new for a destination, cut by cut.
func provide(t *testing.T, s *Store, destination string, most int64) (lines []string) {
	t.Helper()
	o := s.Outbox()
	for {
		c := must.Get[Cut](t)(o.Fresh(t.Context(), destination, most, true))
		if !c.More() {
			return lines
		}
		if int64(len(c.Lines)) > 2*most {
			t.Fatalf("a cut of %d lines", len(c.Lines))
		}
		for _, l := range c.Lines {
			lines = append(lines, string(l.Bytes(true)))
		}
		if !must.Get[bool](t)(o.Provide(t.Context(), destination, c, nil)) {
			t.Fatal("somebody else provided")
		}
		if must.Get[bool](t)(o.Provide(t.Context(), destination, c, nil)) {
			t.Fatal("the same cut was taken twice")
		}
	}
}

func TestCutsHoldEverythingOnce(t *testing.T) {
	from, s := fresh(t), fresh(t)
	caseID := newID()
	appendAll(t, from, opened(caseID))
	for range 9 {
		appendAll(t, from, note(caseID, "an invented note"))
	}
	all := func(s *Store) (lines []*timeline.Line, texts []string) {
		if err := s.All(t.Context(), func(l *timeline.Line) error {
			lines, texts = append(lines, l), append(texts, string(l.Bytes(true)))
			return nil
		}); err != nil {
			t.Fatal(err)
		}
		slices.Sort(texts)
		return lines, texts
	}
	lines, want := all(from)
	sorted := func(l []string) []string { return slices.Sorted(slices.Values(l)) }
	for _, most := range []int64{1, 3, 100} {
		if got := provide(t, from, string(rune('a'+most)), most); !slices.Equal(sorted(got), want) {
			t.Errorf("in cuts of %d: %d lines of %d", most, len(got), len(want))
		}
	}
	// Half of them come without their private part, and get it later.
	var bare []*timeline.Line
	for i, l := range lines {
		one := *l
		if i%2 == 0 {
			one = one.WithoutPrivate()
		}
		bare = append(bare, &one)
	}
	must.Get[Merged](t)(s.Merge(t.Context(), bare))
	first := provide(t, s, "x", 3)
	must.Get[Merged](t)(s.Merge(t.Context(), lines))
	later := provide(t, s, "x", 2)
	missing := 0
	for _, l := range want {
		if !slices.Contains(first, l) {
			missing++
		}
	}
	if missing == 0 || len(later) != missing {
		t.Errorf("%d private parts came later, and %d lines went", missing, len(later))
	}
	if again := provide(t, s, "x", 2); len(again) != 0 {
		t.Errorf("%d lines go again", len(again))
	}
	if got := sorted(provide(t, s, "another", 4)); !slices.Equal(got, want) {
		t.Errorf("another destination gets %d lines of %d", len(got), len(want))
	}
	clean(t, s)
}

func TestParcels(t *testing.T) {
	s := fresh(t)
	o := s.Outbox()
	appendAll(t, s, opened(newID()))
	c := must.Get[Cut](t)(o.Fresh(t.Context(), "x", 10, true))
	h := must.Get[timeline.Hash](t)(o.Keep(t.Context(), []byte("bytes")))
	if ok := must.Get[bool](t)(o.Provide(t.Context(), "x", c, []Parcel{{Name: "a", Sum: h, Bytes: 5, Lines: int64(len(c.Lines)), Since: 7}})); !ok {
		t.Fatal("not provided")
	}
	if n := must.Get[Standing](t)(o.Standing(t.Context(), "x")); n.Lines != s.Head() || n.Waiting != 1 || n.Oldest != 7 {
		t.Errorf("%+v", n)
	}
	if err := o.Sweep(t.Context()); err != nil {
		t.Fatal(err)
	}
	p := must.Get[[]Parcel](t)(o.Open(t.Context(), "x"))[0]
	if got := must.Get[[]byte](t)(o.Bytes(p.Sum)); string(got) != "bytes" {
		t.Errorf("%q", got)
	}
	if must.Get[bool](t)(o.Recut(t.Context(), "x", false)) {
		t.Error("cut anew without reason")
	}
	p.State = ParcelConfirmed
	if err := o.Mark(t.Context(), p); err != nil {
		t.Fatal(err)
	}
	p.State = ParcelWaiting
	if err := o.Mark(t.Context(), p); err != nil {
		t.Fatal(err)
	}
	if n := must.Get[Standing](t)(o.Standing(t.Context(), "x")); n.Lines != 0 || n.Finished != 1 || n.Waiting != 0 {
		t.Errorf("what was confirmed is so no longer: %+v", n)
	}
	if err := o.Sweep(t.Context()); err != nil {
		t.Fatal(err)
	}
	if _, err := o.Bytes(p.Sum); err == nil {
		t.Error("bytes that nobody needs stay")
	}
	if must.Get[bool](t)(o.Recut(t.Context(), "x", true)) {
		t.Error("what was confirmed was cut anew")
	}
}
