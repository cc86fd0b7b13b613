package store

import (
	"context"
	"errors"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"chinlift/core/must"
	"chinlift/core/term"
	"chinlift/core/timeline"
)

func TestMergeCountsAndIsIdempotent(t *testing.T) {
	s := fresh(t)
	c, caseA, caseB := newChain(t), newID(), newID()
	ls := []*timeline.Line{c.add(opened(caseA)), c.add(note(caseA, "x")), c.add(opened(caseB))}
	bare := parsed(t, ls, false)

	m := merge(t, s, append(bare, bare[0]))
	if m.New != 3 || m.Known != 1 || m.PrivateAdded != 0 || m.Forks != 0 || len(m.Refused) != 0 {
		t.Fatalf("first: %+v", m)
	}
	want := []string{caseA, caseB}
	slices.Sort(want)
	if !slices.Equal(m.Cases, want) {
		t.Fatalf("cases %v, want %v", m.Cases, want)
	}
	if m := merge(t, s, ls); m.New != 0 || m.Known != 3 || m.PrivateAdded != 1 {
		t.Fatalf("with private parts: %+v", m)
	}
	before := dump(t, s)
	if m := merge(t, s, ls); m.New != 0 || m.Known != 3 || m.PrivateAdded != 0 || len(m.Cases) != 0 {
		t.Fatalf("again: %+v", m)
	}
	if merge(t, s, bare); dump(t, s) != before {
		t.Fatal("lines without private parts took one away")
	}
	clean(t, s)
}

func TestMergeOfManyLines(t *testing.T) {
	s := fresh(t)
	c, caseID := newChain(t), newID()
	var ls []*timeline.Line
	for range 2*mergeBatch + 7 {
		ls = append(ls, c.add(note(caseID, "x")))
	}
	if m := merge(t, s, ls); m.New != len(ls) || len(m.Cases) != 1 {
		t.Fatalf("%+v", m)
	}
	if got := all(t, s); len(got) != len(ls) || got[len(ls)-1].H != ls[len(ls)-1].H {
		t.Fatalf("%d lines", len(got))
	}
}

func TestMergeRefusesDamage(t *testing.T) {
	c, caseID := newChain(t), newID()
	good, hit := c.add(opened(caseID)), c.add(note(caseID, "x"))
	wrongHash := *hit
	wrongHash.H = good.H
	otherBytes := *hit
	otherBytes.E = slices.Clone(hit.E)
	otherBytes.E[len(otherBytes.E)-3] ^= 1
	otherPrivate := *hit
	otherPrivate.P = []byte(`{"salt":"","text":"y"}`)
	uncommitted := *good
	uncommitted.P = []byte(`{"text":"y"}`)
	far := newChain(t)
	far.tick = 1 << 60
	for name, l := range map[string]*timeline.Line{
		"hash": &wrongHash, "bytes": &otherBytes, "private": &otherPrivate, "private without commitment": &uncommitted,
		"tick that leaves no room": far.add(opened(caseID)),
	} {
		t.Run(name, func(t *testing.T) {
			s := fresh(t)
			m := merge(t, s, []*timeline.Line{l, good})
			if m.New != 1 || len(m.Refused) != 1 || m.Refused[0].Line != l {
				t.Fatalf("%+v", m)
			}
			if err := m.Refused[0].Err; !errors.Is(err, timeline.ErrDamaged) && !errors.Is(err, ErrNumber) {
				t.Fatal(err)
			}
			if ls := all(t, s); len(ls) != 1 || ls[0].H != good.H {
				t.Fatalf("%d lines stored", len(ls))
			}
			clean(t, s)
		})
	}
}

// Two lines that claim one number, and two that claim one id, are both kept,
// in whichever order they come, and a case sees its line's rival wherever the
// rival belongs: the fold sets both aside.
func TestForksAreKeptAndShown(t *testing.T) {
	caseA, caseB := newID(), newID()
	a, b := newChain(t), newChain(t)
	b.log = a.log
	first, rival := a.add(opened(caseA)), b.add(opened(caseB))
	twin := opened(caseA)
	x, y := a.add(twin), newChain(t).add(twin)
	ls := []*timeline.Line{first, rival, x, y}
	dumps := map[string]bool{}
	for _, order := range [][]int{{0, 1, 2, 3}, {3, 2, 1, 0}, {1, 3, 0, 2}} {
		s := fresh(t)
		var in []*timeline.Line
		for _, i := range order {
			in = append(in, ls[i])
		}
		if m := merge(t, s, in); m.New != 4 || m.Forks != 2 {
			t.Fatalf("%+v", m)
		}
		dumps[dump(t, s)] = true
		for _, id := range []string{caseA, caseB} {
			lines := must.Get[[]*timeline.Line](t)(s.Case(t.Context(), id))
			if st := timeline.Fold(lines); len(st.Entries) != 0 {
				t.Errorf("case %s holds %d entries that are not set aside", id, len(st.Entries))
			}
		}
		r := must.Get[Report](t)(s.Verify(t.Context()))
		if codes := codesOf(r); !slices.Contains(codes, "fork") || !slices.Contains(codes, "same-id") {
			t.Errorf("verify found %v", codes)
		}
	}
	if len(dumps) != 1 {
		t.Errorf("the order of arrival makes %d different exports", len(dumps))
	}
}

func TestCorrectionBeforeItsRoot(t *testing.T) {
	s := fresh(t)
	c, caseID := newChain(t), newID()
	root := c.add(note(caseID, "x"))
	struck := c.add(strike(caseID, root))
	merge(t, s, []*timeline.Line{struck})
	if st := timeline.Fold(must.Get[[]*timeline.Line](t)(s.Case(t.Context(), caseID))); len(st.Waiting) != 1 {
		t.Fatalf("%d waiting", len(st.Waiting))
	}
	merge(t, s, []*timeline.Line{root})
	st := timeline.Fold(must.Get[[]*timeline.Line](t)(s.Case(t.Context(), caseID)))
	if len(st.Waiting) != 0 || len(st.Entries) != 1 || !st.Entries[0].Now().Struck {
		t.Fatalf("%d waiting, %d entries", len(st.Waiting), len(st.Entries))
	}
}

func TestMovedEntryIsInBothCases(t *testing.T) {
	s := fresh(t)
	from, to := newID(), newID()
	ls := appendAll(t, s, opened(from), note(from, "x"), opened(to))
	root := ls[1]
	moved := appendAll(t, s, amend(draft(timeline.ScopeCase, to, &timeline.Moved{From: from}), root, term.ReasonWrongPatient))[0]
	// A correction in the new case, of an entry that began in the old one.
	again := note(to, "y")
	again.Amends, again.Replaces, again.Reason = root.Event.ID, []string{moved.Event.ID}, term.ReasonMistyped
	appendAll(t, s, again)
	for _, id := range []string{from, to} {
		st := timeline.Fold(must.Get[[]*timeline.Line](t)(s.Case(t.Context(), id)))
		e := st.Find(root.Event.ID)
		if e == nil || len(e.Versions) != 3 || e.Now().Case != to || len(st.Waiting) != 0 {
			t.Fatalf("case %s: %+v", id, e)
		}
	}
	if n := len(must.Get[[]*timeline.Line](t)(s.Case(t.Context(), from))); n != 4 {
		t.Errorf("%d lines", n)
	}
}

func TestScope(t *testing.T) {
	s := fresh(t)
	caseID := newID()
	person := draft(timeline.ScopeClinic, author, &timeline.Person{Roles: []term.Role{term.RoleProvider}})
	ls := appendAll(t, s, person, opened(caseID))
	for scope, want := range map[timeline.Scope]timeline.Hash{timeline.ScopeClinic: ls[0].H, timeline.ScopeCase: ls[1].H, timeline.ScopeDevice: all(t, s)[0].H} {
		got := must.Get[[]*timeline.Line](t)(s.Scope(t.Context(), scope))
		if len(got) != 1 || got[0].H != want {
			t.Errorf("%s: %d lines", scope, len(got))
		}
	}
}

func TestRecentUnsettledAndCount(t *testing.T) {
	s := fresh(t)
	ids := []string{newID(), newID(), newID()}
	var roots []*timeline.Line
	for _, id := range ids {
		roots = append(roots, appendAll(t, s, opened(id))[0])
	}
	appendAll(t, s, note(ids[0], "x")) // the first is the one touched last
	refs := func(limit int, before int64) (got []string, last int64) {
		for _, r := range must.Get[[]CaseRef](t)(s.Recent(t.Context(), limit, before)) {
			got, last = append(got, r.ID), r.Last
		}
		return got, last
	}
	page, last := refs(2, 0)
	if !slices.Equal(page, []string{ids[0], ids[2]}) {
		t.Errorf("first page %v", page)
	}
	if page, _ = refs(2, last); !slices.Equal(page, []string{ids[1]}) {
		t.Errorf("second page %v", page)
	}
	cases, lines, err := s.Count(t.Context())
	if err != nil || cases != 3 || lines != 5 {
		t.Errorf("%d cases, %d lines, %v", cases, lines, err)
	}
	unsettled := func() []string { return must.Get[[]string](t)(s.Unsettled(t.Context())) }
	if got := unsettled(); !slices.Equal(got, []string{ids[0], ids[2], ids[1]}) {
		t.Errorf("unsettled %v", got)
	}
	for _, id := range ids {
		if err := s.Settle(t.Context(), id); err != nil {
			t.Fatal(err)
		}
	}
	if got := unsettled(); len(got) != 0 {
		t.Errorf("settled, and yet %v", got)
	}
	// A line that moves an entry away touches the case that it leaves. The
	// list keeps one place for each, so that no page loses one.
	appendAll(t, s, amend(draft(timeline.ScopeCase, ids[2], &timeline.Moved{From: ids[1]}), roots[1], term.ReasonWrongPatient))
	if got := unsettled(); len(got) != 2 || !slices.Contains(got, ids[1]) || !slices.Contains(got, ids[2]) {
		t.Errorf("after a move: unsettled %v", got)
	}
	var paged []string
	for before := int64(0); ; {
		page, last := refs(1, before)
		if len(page) == 0 {
			break
		}
		paged, before = append(paged, page...), last
	}
	slices.Sort(paged)
	slices.Sort(ids)
	if !slices.Equal(paged, ids) {
		t.Errorf("pages of one give %v", paged)
	}
}

// heap draws lines of a few logs about a few cases, with private parts,
// corrections that may lack their root, moves, forks, and destructions. Some
// lines come without their private part.
func heap(rt *rapid.T) []*timeline.Line {
	cases := []string{newID(), newID()}
	var ls []*timeline.Line
	var chains []*chain
	for range rapid.IntRange(1, 3).Draw(rt, "logs") {
		chains = append(chains, newChain(rt))
	}
	if rapid.Bool().Draw(rt, "fork") && len(chains) > 1 {
		chains[1].log = chains[0].log
	}
	for range rapid.IntRange(1, 14).Draw(rt, "lines") {
		c := chains[rapid.IntRange(0, len(chains)-1).Draw(rt, "log")]
		about := rapid.SampledFrom(cases).Draw(rt, "case")
		d := note(about, "text")
		if len(ls) > 0 {
			at := ls[rapid.IntRange(0, len(ls)-1).Draw(rt, "on")]
			c.tick = max(c.tick, at.Event.Tick)
			switch rapid.IntRange(0, 5).Draw(rt, "what") {
			case 1:
				d = strike(about, at)
			case 2:
				d = amend(draft(timeline.ScopeCase, about, &timeline.Moved{From: at.Event.About}), at, term.ReasonWrongPatient)
			case 3:
				d = amend(note(about, "better"), at, term.ReasonMistyped)
			case 4:
				d = destroy(timeline.ScopeCase, about, at.Event.ID)
			case 5:
				d.ID = at.Event.ID
			}
		}
		ls = append(ls, c.add(d))
	}
	for i, l := range ls {
		switch rapid.IntRange(0, 4).Draw(rt, "as") {
		case 0:
			bare := l.WithoutPrivate()
			ls[i] = &bare
		case 1:
			bare := l.WithoutPrivate()
			ls = append(ls, &bare)
		}
	}
	return ls
}

// shuffled draws an order.
func shuffled(rt *rapid.T, ls []*timeline.Line) []*timeline.Line {
	order := make([]int, len(ls))
	for i := range order {
		order[i] = i
	}
	var out []*timeline.Line
	for _, i := range rapid.Permutation(order).Draw(rt, "order") {
		out = append(out, ls[i])
	}
	return out
}

// TestUnion: through real stores, the union is idempotent, commutative and
// associative, and the fold of what is stored is that of the heap.
func TestUnion(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		ls := heap(rt)
		into := func(parts ...[]*timeline.Line) *Store {
			s := must.Get[*Store](rt)(Open(context.Background(), options(t.TempDir())))
			for _, p := range parts {
				merge(rt, s, p)
			}
			return s
		}
		stop := func(s *Store) {
			if err := s.Close(); err != nil {
				rt.Fatal(err)
			}
		}
		cut := rapid.IntRange(0, len(ls)).Draw(rt, "cut")
		mixed := shuffled(rt, ls)
		a, b := mixed[:cut], mixed[cut:]

		whole := into(ls)
		defer stop(whole)
		want := dump(rt, whole)
		if merge(rt, whole, ls); dump(rt, whole) != want {
			rt.Fatal("the same lines again change something")
		}
		ab := into(a, b)
		defer stop(ab)
		ba := into(b, a)
		defer stop(ba)
		if dump(rt, ab) != want || dump(rt, ba) != want {
			rt.Fatal("the order of two merges shows")
		}
		onlyB := into(b)
		defer stop(onlyB)
		nested := into(a, all(rt, onlyB))
		defer stop(nested)
		// What b destroyed is gone from it; the names of what is to be
		// destroyed came along.
		if dump(rt, nested) != want {
			rt.Fatal("a union of unions is not the union")
		}
		story := timeline.Fold(all(rt, whole))
		if n := len(story.Lines()); n != int(whole.Head()) {
			rt.Fatalf("the fold holds %d lines of %d", n, whole.Head())
		}
		for _, id := range must.Get[[]CaseRef](rt)(whole.Recent(context.Background(), 10, 0)) {
			part := timeline.Fold(must.Get[[]*timeline.Line](rt)(whole.Case(context.Background(), id.ID)))
			x, y := story.About(id.ID), part.About(id.ID)
			if len(x) != len(y) {
				rt.Fatalf("case %s has %d entries in the whole and %d by itself", id.ID, len(x), len(y))
			}
			for i := range x {
				if x[i].ID != y[i].ID || x[i].Now().Line.H != y[i].Now().Line.H || x[i].Now().Case != y[i].Now().Case || x[i].Conflict() != y[i].Conflict() {
					rt.Fatalf("case %s, entry %d: %s and %s", id.ID, i, x[i].ID, y[i].ID)
				}
			}
		}
	})
}
