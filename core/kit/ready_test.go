package kit

import (
	"errors"
	"fmt"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"chinlift/core/term"
)

// sample has an item of each sort.
func sample(t testing.TB) *List {
	t.Helper()
	l := &List{Code: "x", Name: Text{"en": "x"}}
	for _, it := range []Item{
		{Code: "s-case", Stop: true, Every: EachCase}, {Code: "s-day", Stop: true, Every: Daily},
		{Code: "s-between", Stop: true, Every: Daily, Between: true}, {Code: "r-case", Every: EachCase},
		{Code: "r-between", Every: Daily, Between: true}, {Code: "r-month", Every: Monthly, Between: true},
	} {
		it.Name, it.Look, it.Source, it.Mark = Text{"en": "n"}, Text{"en": "l"}, "none", term.MarkPractice
		l.Items = append(l.Items, it)
	}
	return l.seal()
}

func TestReadiness(t *testing.T) {
	l := sample(t)
	good := func(cases, days int) map[string]Found {
		m := map[string]Found{}
		for _, it := range l.Items {
			m[it.Code] = Found{term.KitStateGood, cases, days}
		}
		return m
	}
	with := func(m map[string]Found, code string, f Found) map[string]Found {
		m[code] = f
		return m
	}
	for name, c := range map[string]struct {
		found map[string]Found
		want  string
	}{
		"nothing looked at": {nil, "failed [] left [s-case s-day s-between] rest failed [] left [r-case r-between r-month] between [] ready false"},
		"all good":          {good(0, 0), "failed [] left [] rest failed [] left [] between [] ready true"},
		"a stop at fault":   {with(good(0, 0), "s-day", Found{State: term.KitStateFault}), "failed [s-day] left [] rest failed [] left [] between [] ready false"},
		"a stop not here":   {with(good(0, 0), "s-day", Found{State: term.KitStateAbsent}), "failed [s-day] left [] rest failed [] left [] between [] ready false"},
		"the rest at fault": {with(good(0, 0), "r-case", Found{State: term.KitStateAbsent}), "failed [] left [] rest failed [r-case] left [] between [] ready true"},
		// A fault stays one until somebody finds the item good.
		"a fault of yesterday": {with(good(0, 0), "s-case", Found{term.KitStateFault, 3, 2}), "failed [s-case] left [] rest failed [] left [] between [] ready false"},
		"after a case":         {good(1, 0), "failed [] left [s-case] rest failed [] left [r-case] between [s-between r-between r-month] ready false"},
		// Looked at again since the case, one by one.
		"looked at again": {with(with(with(good(1, 0), "s-case", Found{State: term.KitStateGood}), "s-between", Found{State: term.KitStateGood}), "r-case", Found{State: term.KitStateGood}),
			"failed [] left [] rest failed [] left [] between [r-between r-month] ready true"},
		"a stop between cases": {with(with(good(1, 0), "s-case", Found{State: term.KitStateGood}), "r-case", Found{State: term.KitStateGood}),
			"failed [] left [] rest failed [] left [] between [s-between r-between r-month] ready false"},
		"the next day":        {good(0, 1), "failed [] left [s-case s-day s-between] rest failed [] left [r-case r-between] between [] ready false"},
		"the last of a month": {good(0, 30), "failed [] left [s-case s-day s-between] rest failed [] left [r-case r-between] between [] ready false"},
		"a month":             {good(0, 31), "failed [] left [s-case s-day s-between] rest failed [] left [r-case r-between r-month] between [] ready false"},
		"not in the list":     {with(good(0, 0), "other", Found{State: "nonsense"}), "failed [] left [] rest failed [] left [] between [] ready true"},
	} {
		r, err := l.Readiness(c.found)
		got := fmt.Sprintf("failed %v left %v rest failed %v left %v between %v ready %t", r.StopsFailed, r.StopsLeft, r.RestFailed, r.RestLeft, r.Between, r.Ready)
		if err != nil || got != c.want {
			t.Errorf("%s: %s (%v)\nwant %s", name, got, err, c.want)
		}
	}
	for name, c := range map[string]struct {
		f    Found
		code string
	}{
		"no state":       {Found{}, Missing},
		"no such state":  {Found{State: "fine"}, UnknownCode},
		"minus one case": {Found{term.KitStateGood, -1, 0}, TooLow},
		"minus one day":  {Found{term.KitStateGood, 0, -1}, TooLow},
	} {
		_, err := l.Readiness(map[string]Found{"s-day": c.f})
		var e *Error
		if !errors.As(err, &e) || e.Field != "found.s-day" || e.Code != c.code {
			t.Errorf("%s: %v, want %s", name, err, c.code)
		}
	}
}

func someFound() *rapid.Generator[Found] {
	return rapid.Custom(func(t *rapid.T) Found {
		return Found{rapid.SampledFrom(term.KitStateList.Codes()).Draw(t, "state"), rapid.IntRange(0, 3).Draw(t, "cases"), rapid.IntRange(0, 40).Draw(t, "days")}
	})
}

// Each item is in one place at most; what time or a case adds takes nothing
// away; and a look that finds everything good leaves nothing to do.
func TestReadinessProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := someList().Draw(t, "list")
		found := map[string]Found{}
		for _, it := range l.Items {
			if rapid.Bool().Draw(t, "looked") {
				found[it.Code] = someFound().Draw(t, "found")
			}
		}
		ready := func(found map[string]Found) (Readiness, []string) {
			r, err := l.Readiness(found)
			if err != nil {
				t.Fatal(err)
			}
			all := slices.Concat(r.StopsFailed, r.StopsLeft, r.RestFailed, r.RestLeft, r.Between)
			slices.Sort(all)
			return r, all
		}
		r, all := ready(found)
		if len(slices.Compact(slices.Clone(all))) != len(all) {
			t.Fatalf("an item stands twice in %+v", r)
		}
		for _, it := range l.Items {
			if it.Stop && slices.Contains(all, it.Code) && r.Ready {
				t.Fatalf("ready with the stop %s open: %+v", it.Code, r)
			}
		}
		later := map[string]Found{}
		for code, f := range found {
			f.Cases += rapid.IntRange(0, 2).Draw(t, "more cases")
			f.Days += rapid.IntRange(0, 2).Draw(t, "more days")
			later[code] = f
		}
		r2, all2 := ready(later)
		for _, code := range all {
			if !slices.Contains(all2, code) {
				t.Fatalf("%s is due no more after %+v: %+v", code, later, r2)
			}
		}
		if r2.Ready && !r.Ready {
			t.Fatal("ready by waiting")
		}
		for _, it := range l.Items {
			found[it.Code] = Found{State: term.KitStateGood}
		}
		if r, all := ready(found); len(all) > 0 || !r.Ready {
			t.Fatalf("all good, and yet %+v", r)
		}
	})
}
