package core_test

import (
	"encoding/json"
	"errors"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"chinlift/core"
	"chinlift/core/timeline"
)

func tableOf(t *testing.T, c *core.Companion, id string) core.Table {
	t.Helper()
	v, err := c.Table(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// Pressure and pulse are due from the first agent on, each ages on its own,
// and a slip of the thumb does not silence them.
func TestWhatIsDue(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	id := openCase(t, c, "")
	over := func(why string, want bool) {
		t.Helper()
		d := tableOf(t, c, id).Dues
		if len(d) == 0 && want || len(d) > 0 && d[0].Over != want {
			t.Errorf("%s: %+v", why, d)
		}
	}
	if d := tableOf(t, c, id).Dues; len(d) != 0 {
		t.Errorf("before the start: %+v", d)
	}
	submit(t, c, id, "agent", "agent", "ether", "drops", "12")
	clock.pass(6 * time.Minute)
	over("the agent runs, and nobody marked the start", true)
	submit(t, c, id, "vitals", "temperature", "36.6")
	over("a temperature answers for nothing", true)
	submit(t, c, id, "vitals", "systolic", "110", "diastolic", "70")
	over("a pressure does not answer for the pulse", true)
	submit(t, c, id, "vitals", "pulse", "90")
	over("both are there", false)
	clock.pass(6 * time.Minute)
	submit(t, c, id, "outcome", "outcome", "recovered")
	over("recovered, while the agent runs", true)
	submit(t, c, id, "phase", "phase", "anaesthesia-end")
	if d := tableOf(t, c, id).Dues; len(d) != 0 {
		t.Errorf("recovered, and at an end: %+v", d)
	}
}

// What the key of breathing says is the newest word.
func TestNewestWordOnBreathing(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	id := openCase(t, c, "")
	says := func(want string, not ...string) {
		t.Helper()
		for _, k := range tableOf(t, c, id).Keys {
			if k.Name != "breathing" {
				continue
			}
			if !strings.Contains(k.Last, want) {
				t.Errorf("the key says %q, want %q in it", k.Last, want)
			}
			for _, n := range not {
				if strings.Contains(k.Last, n) {
					t.Errorf("the key says %q, and %q is over", k.Last, n)
				}
			}
		}
	}
	words := c.Words()
	sign, apnoea, assisted := words.Say("term.breathing.even-automatic"), words.Say("term.support.apnoea"), words.Say("term.support.assisted")
	submit(t, c, id, "signs", "breathing", "even-automatic")
	clock.pass(time.Minute)
	submit(t, c, id, "support", "support", "apnoea")
	says(apnoea, sign)
	clock.pass(time.Minute)
	submit(t, c, id, "signs", "breathing", "even-automatic")
	says(sign, apnoea)
	submit(t, c, id, "support", "support", "assisted")
	clock.pass(time.Minute)
	submit(t, c, id, "signs", "breathing", "even-automatic")
	says(assisted)
	says(sign)
}

// The keys beside the agent are the next deliveries on the ladder.
func TestStepsOfTheAgent(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	id := openCase(t, c, "")
	for _, tt := range []struct{ way, value, lower, higher string }{
		{"drops", "12", "off yes", "drops 20"},
		{"drops", "50", "drops 40", "drops 60"},
		{"drops", "300", "drops 200", ""},
		{"percent", "2", "percent 1.5", "percent 3"},
		{"wetness", "damp", "wetness dry", "wetness wet"},
		{"wetness", "soaked", "wetness wet", ""},
	} {
		clock.pass(time.Minute)
		submit(t, c, id, "agent", "agent", "ether", tt.way, tt.value)
		v := tableOf(t, c, id)
		set := func(d *core.Dose) string {
			if d == nil {
				return ""
			}
			return strings.Join(d.Set[4:], " ")
		}
		if set(v.Lower) != tt.lower || set(v.Higher) != tt.higher {
			t.Errorf("at %s %s: lower %q, higher %q", tt.way, tt.value, set(v.Lower), set(v.Higher))
		}
	}
	submit(t, c, id, "agent", "agent", "ether", "off", "yes")
	if v := tableOf(t, c, id); v.Lower != nil || v.Higher != nil {
		t.Error("nothing runs, and there is a next step")
	}
	cs, err := c.Case(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	if ways, err := c.AgentTray(t.Context(), cs, "isoflurane", "drops"); err != nil || ways.Way != "percent" || slices.Contains(ways.Ways, "drops") {
		t.Errorf("isoflurane by drops on gauze: %+v", ways)
	}
}

// A second case asks who watches the one that has not recovered.
func TestWhoWatches(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	first := openCase(t, c, "First")
	submit(t, c, first, "phase", "phase", "anaesthesia-start")
	f := core.Form{ID: core.NewID(), Fields: map[string][]string{"name": {"Second"}}}
	var fe *timeline.FieldError
	if _, _, err := c.OpenCase(t.Context(), f); !errors.As(err, &fe) || fe.Field != core.WatchField(first) {
		t.Fatalf("a second case without an answer: %v", err)
	}
	if open, err := c.OpenCases(t.Context()); err != nil || len(open) != 1 {
		t.Fatalf("%d cases are open (%v)", len(open), err)
	}
	f.Fields[core.WatchField(first)] = []string{"nobody"}
	second, _, err := c.OpenCase(t.Context(), f)
	if err != nil {
		t.Fatal(err)
	}
	if again, _, err := c.OpenCase(t.Context(), f); err != nil || again != second {
		t.Errorf("a retry: %s %v, want %s", again, err, second)
	}
	if !tableOf(t, c, first).Unwatched {
		t.Error("nobody watches, and the head does not say so")
	}
	submit(t, c, first, "watch", "watcher", "nurse")
	if tableOf(t, c, first).Unwatched {
		t.Error("a nurse watches, and the head says nobody")
	}
	submit(t, c, first, "watch", "watcher", "nobody")
	submit(t, c, first, "phase", "phase", "handed-over")
	if tableOf(t, c, first).Unwatched {
		t.Error("handed over, and still unwatched")
	}
}

// "The same" reaches back only so far, and not to the values at rest.
func TestTheSameReachesBackSoFar(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	id := openCase(t, c, "")
	submit(t, c, id, "baseline", "systolic", "130", "diastolic", "80", "spo2", "100")
	submit(t, c, id, "vitals", "temperature", "36.6")
	clock.pass(20 * time.Minute)
	submit(t, c, id, "vitals", "pulse", "93")
	clock.pass(5 * time.Minute)
	cs, err := c.Case(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	rows := map[string]core.MeasureRow{}
	for _, r := range c.MeasureRows(cs) {
		rows[r.Name] = r
	}
	for name, want := range map[string]bool{"pulse": true, "temperature": false, "systolic": false, "spo2": false, "breaths": false} {
		if rows[name].Same != want {
			t.Errorf("%s can be called the same: %v", name, rows[name].Same)
		}
	}
	if got := c.SameAge(cs); got != "5 min" {
		t.Errorf("the key says %q", got)
	}
	for name, want := range map[string]string{"pulse": "88 93 98", "systolic": "125 130 135", "spo2": "98 99 100", "temperature": "36.4 36.6 36.8", "breaths": ""} {
		if got := strings.Join(rows[name].Keys, " "); got != want {
			t.Errorf("%s offers %q, want %q", name, got, want)
		}
	}
}

// A tray that was left open cannot confirm what has grown old meanwhile, nor
// say of a time before a value was taken that it was the same.
func TestTheSameIsCheckedAtTheTap(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	id := openCase(t, c, "")
	submit(t, c, id, "vitals", "pulse", "120")
	same := form(id, "vitals", "pulse", "120", "looked_same", "yes", "same", "pulse")
	refused := func(why string, f core.Form, code string) {
		t.Helper()
		var fe *timeline.FieldError
		if _, err := c.Submit(t.Context(), f); !errors.As(err, &fe) || fe.Code != code {
			t.Errorf("%s: %v", why, err)
		}
	}
	clock.pass(4 * time.Minute)
	back := form(id, "vitals", "pulse", "120", "looked_same", "yes", "same", "pulse", "back", "10")
	refused("ten minutes ago, before it was taken", back, "too-old")
	refused("another value than the one that stands", form(id, "vitals", "pulse", "88", "looked_same", "yes", "same", "pulse"), "too-old")
	if _, err := c.Submit(t.Context(), same); err != nil {
		t.Fatal(err)
	}
	clock.pass(20 * time.Minute)
	if _, err := c.Submit(t.Context(), same); err != nil {
		t.Errorf("a retry: %v", err)
	}
	same.ID = core.NewID()
	refused("24 minutes old", same, "too-old")
	ahead := form(id, "vitals", "pulse", "90", "at", clock.wall.Add(3*time.Hour).Format(time.RFC3339))
	refused("in three hours", ahead, "to-come")
}

// What was written on paper goes in whole, at its times, or not at all.
func TestTypeIn(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	id := openCase(t, c, "")
	row := func(name, kind string, fields ...string) core.Row {
		return core.Row{Form: form("", kind, fields...), Name: name, N: 2}
	}
	day := clock.wall.AddDate(0, 0, -2).Format("2006-01-02")
	good := []core.Row{
		row("v0", "vitals", "at", "09:05", "systolic", "120", "diastolic", "70"),
		row("d0", "drug", "at", "09:06", "drug", "atropine", "dose", "0.4", "dose_unit", "mg", "route", "im"),
		row("n0", "note", "at", "09:10", "text", "the phone was flat"),
	}
	before := c.Stored()
	for _, bad := range []core.Row{row("v1", "vitals", "at", "09:20", "pulse", "9000"), row("v1", "vitals", "pulse", "90"), row("v1", "vitals", "at", "25:00", "pulse", "90")} {
		_, err := c.TypeIn(t.Context(), core.NewID(), id, day, append(slices.Clone(good), bad))
		p := c.Explain(err)
		if p.Status != 422 || !strings.HasPrefix(p.Field, "v1.") || !strings.Contains(p.Words, "2") {
			t.Errorf("%v: %+v (%v)", bad.Fields, p, err)
		}
	}
	if n := c.Stored() - before; n != 0 {
		t.Errorf("%d rows of a page with a fault were recorded", n)
	}
	if _, err := c.TypeIn(t.Context(), core.NewID(), id, clock.wall.AddDate(0, 0, 2).Format("2006-01-02"), good); err == nil {
		t.Error("a date to come was taken")
	}
	if _, err := c.TypeIn(t.Context(), core.NewID(), id, "", nil); !errors.Is(err, core.ErrNothingTyped) {
		t.Errorf("nothing typed: %v", err)
	}
	event := core.NewID()
	for range 2 { // and a retry
		if _, err := c.TypeIn(t.Context(), event, id, day, good); err != nil {
			t.Fatal(err)
		}
	}
	if n := c.Stored() - before; n != 3 {
		t.Errorf("%d lines", n)
	}
	entries, err := c.Entries(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	late := 0
	for _, e := range entries {
		if e.Late && strings.HasPrefix(e.At, "09:") {
			late++
		}
	}
	if late != 3 {
		t.Errorf("%d of 3 entries show as late: %+v", late, entries)
	}
}

// A case that grew entry by entry is the case that is read anew.
func TestCaseGrowsAsItIsRead(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	rapid.Check(t, func(r *rapid.T) {
		id := openCase(t, c, "")
		var roots []string
		for range rapid.IntRange(1, 25).Draw(r, "entries") {
			clock.pass(time.Duration(rapid.IntRange(0, 300).Draw(r, "seconds")) * time.Second)
			fields := rapid.SampledFrom([][]string{
				{"mark"}, {"vitals", "pulse", "88"}, {"vitals", "systolic", "120", "diastolic", "80"}, {"agent", "agent", "ether", "drops", "40"}, {"agent", "agent", "ether", "off", "yes"},
				{"agent", "oxygen", "2", "cover", "on"}, {"phase", "phase", "anaesthesia-start"}, {"phase", "phase", "unconscious"}, {"signs", "breathing", "uneven"}, {"support", "support", "apnoea"},
				{"in", "what", "compound-lactate", "volume", "500"}, {"out", "what", "blood", "volume", "200", "how", "guessed"}, {"drug", "drug", "atropine", "dose", "0.4", "dose_unit", "mg", "route", "iv"},
				{"outcome", "outcome", "recovered"}, {"owed", "act", "owed", "for", "started-without-check"}, {"watch", "watcher", "nobody"},
			}).Draw(r, "what")
			if back := rapid.IntRange(0, 40).Draw(r, "back"); back > 30 {
				fields = append(slices.Clone(fields), "back", "7")
			}
			if len(roots) > 0 && rapid.IntRange(0, 5).Draw(r, "strike") == 0 {
				cs, err := c.Case(t.Context(), id)
				if err != nil {
					r.Fatal(err)
				}
				e := cs.Story.Find(rapid.SampledFrom(roots).Draw(r, "root"))
				if !e.Now().Struck {
					if _, err := c.Strike(t.Context(), core.NewID(), id, e.ID, e.HeadIDs(), core.ReasonUndone); err != nil {
						r.Fatal(err)
					}
				}
				continue
			}
			d, err := c.Submit(t.Context(), form(id, fields[0], fields[1:]...))
			if err != nil {
				r.Fatal(err)
			}
			roots = append(roots, d.Lines[0].Event.ID)
		}
		grown := tableOf(t, c, id)
		if err := c.Suspend(t.Context()); err != nil {
			r.Fatal(err)
		}
		if err := c.Resume(t.Context()); err != nil { // drops what was folded
			r.Fatal(err)
		}
		read := tableOf(t, c, id)
		if g, w := shown(grown), shown(read); g != w {
			r.Errorf("grown:\n%s\nread anew:\n%s", g, w)
		}
		submit(t, c, id, "case-closed")
	})
}

// shown writes a table's view out in full.
func shown(v core.Table) string {
	b, err := json.MarshalIndent(v, "", " ")
	if err != nil {
		panic(err)
	}
	return string(b)
}
