package timeline_test

import (
	"bytes"
	"slices"
	"testing"
	"time"

	"chinlift/core/store"
	"chinlift/core/term"
	"chinlift/core/timeline"
	"chinlift/testdata/demo"
)

// demoLines reads the demo cases, log by log.
func demoLines(t *testing.T) map[string][]*timeline.Line {
	t.Helper()
	logs := map[string][]*timeline.Line{}
	for name, b := range demo.Files() {
		for i, text := range bytes.Split(bytes.TrimSuffix(b, []byte("\n")), []byte("\n")) {
			l, err := timeline.ParseLine(text)
			if err != nil {
				t.Fatalf("%s, line %d: %v", name, i+1, err)
			}
			if !bytes.Equal(l.Bytes(true), text) {
				t.Errorf("%s, line %d: not written again as it was", name, i+1)
			}
			logs[name] = append(logs[name], &l)
		}
	}
	return logs
}

func allOf(logs map[string][]*timeline.Line) []*timeline.Line {
	var all []*timeline.Line
	for _, ls := range logs {
		all = append(all, ls...)
	}
	return all
}

func TestDemoLogsAreWhole(t *testing.T) {
	logs := demoLines(t)
	if len(logs) != 3 {
		t.Fatalf("%d logs, want 3", len(logs))
	}
	ids := map[string]bool{}
	for name, ls := range logs {
		if _, ok := ls[0].Payload.(*timeline.LogOpened); !ok {
			t.Errorf("%s begins with %s", name, ls[0].Event.Kind)
		}
		prev, tick := timeline.NoHash, int64(0)
		for i, l := range ls {
			e := &l.Event
			if err := l.Verify(); err != nil {
				t.Errorf("%s, line %d: %v", name, i+1, err)
			}
			if e.Log != ls[0].Event.Log || e.Seq != int64(i+1) || e.Prev != prev || e.Tick <= tick {
				t.Errorf("%s, line %d: log %s, number %d, tick %d after %d, hash before %.8s, want %.8s", name, i+1, e.Log, e.Seq, e.Tick, tick, e.Prev, prev)
			}
			prev, tick = l.H, e.Tick
			if u, ok := l.Payload.(*timeline.Unknown); ok {
				t.Errorf("%s, line %d: %s is not known: %s", name, i+1, u.As, u.Why)
			}
			if err := l.Payload.Check(); err != nil {
				t.Errorf("%s, line %d: %v", name, i+1, err)
			}
			if (e.Private != "") != (l.P != nil) {
				t.Errorf("%s, line %d: the private part is not there", name, i+1)
			}
			if ids[e.ID] {
				t.Errorf("%s, line %d: the id %s stands twice", name, i+1, e.ID)
			}
			ids[e.ID] = true
			if e.At.Zone != "Etc/GMT-3" || e.At.Year() != 2026 {
				t.Errorf("%s, line %d: happened at %s", name, i+1, e.At)
			}
			if i == 0 {
				continue
			}
			// The boot clock only goes forward, and nothing happens after it was entered.
			before := &ls[i-1].Event.Entered
			if before.Boot == e.Entered.Boot && before.SinceBootMS >= e.Entered.SinceBootMS {
				t.Errorf("%s, line %d: entered before the line above it", name, i+1)
			}
			if e.Amends == "" && e.At.After(e.Entered.Wall.Time) {
				t.Errorf("%s, line %d: happened at %s, entered at %s", name, i+1, e.At, e.Entered.Wall)
			}
		}
	}
	for name, ls := range logs {
		if o := ls[0].Payload.(*timeline.LogOpened); o.Cites != "" {
			old := logs["table.jsonl"]
			if last := old[len(old)-1]; o.Cites != last.Event.Log || o.At != last.Event.Seq || o.Head != last.H {
				t.Errorf("%s cites another head than that of the log before it", name)
			}
		}
	}
}

// TestDemoTicksAreLamports: whoever corrects a line has seen what it replaces.
func TestDemoTicksAreLamports(t *testing.T) {
	all := allOf(demoLines(t))
	tick := map[string]int64{}
	for _, l := range all {
		tick[l.Event.ID] = l.Event.Tick
	}
	for _, l := range all {
		for _, id := range append([]string{l.Event.Amends}, l.Event.Replaces...) {
			if id != "" && (tick[id] == 0 || tick[id] >= l.Event.Tick) {
				t.Errorf("%s has tick %d and corrects %s of tick %d", l.Event.ID, l.Event.Tick, id, tick[id])
			}
		}
	}
}

func TestDemoCasesAreFull(t *testing.T) {
	s := timeline.Fold(allOf(demoLines(t)))
	for name, about := range map[string]string{"hernia": demo.Hernia, "abscess": demo.Abscess, "caesarean": demo.Caesarean} {
		events, kinds := 0, map[string]int{}
		var looks []time.Time
		es := s.About(about)
		for _, e := range es {
			for i := range e.Versions {
				if e.Versions[i].Line.Event.About == about {
					events++
				}
			}
			if e.In(about) {
				kinds[e.Now().Payload.Kind().Name()]++
			}
		}
		if events < 90 || events > 300 {
			t.Errorf("%s has %d events, want 90 to 300", name, events)
		}
		for _, k := range []string{
			"case-opened", "facts", "intake", "baseline", "plan", "phase", "vitals", "support", "drug", "agent", "signs", "position",
			"in", "out", "step", "trouble", "note", "unwatched", "waking", "outcome", "case-closed",
		} {
			if kinds[k] == 0 {
				t.Errorf("%s has no %s", name, k)
			}
		}
		for _, k := range map[string][]string{"hernia": {"airway", "owed", "mark"}, "abscess": {"airway"}, "caesarean": {"block", "birth", "infusion", "owed"}}[name] {
			if kinds[k] == 0 {
				t.Errorf("%s has no %s", name, k)
			}
		}

		var phases []term.Phase
		var from, to time.Time
		for e, p := range timeline.Each[*timeline.Phase](es, about) {
			phases = append(phases, p.Phase)
			switch p.Phase {
			case term.PhaseAnaesthesiaStart:
				from = e.Now().At.Time
			case term.PhaseAnaesthesiaEnd:
				to = e.Now().At.Time
			}
		}
		if !slices.IsSortedFunc(phases, func(a, b term.Phase) int { return term.PhaseList.Index(a) - term.PhaseList.Index(b) }) || from.IsZero() || to.IsZero() {
			t.Errorf("%s has phases %v", name, phases)
		}
		// A look at least every five minutes: World Health Organization and
		// World Federation of Societies of Anaesthesiologists, International
		// Standards for a Safe Practice of Anesthesia, 2018. Half a minute is
		// for the thumb.
		for e := range timeline.Each[*timeline.Vitals](es, about) {
			if at := e.Now().At.Time; !at.Before(from) && !at.After(to) {
				looks = append(looks, at)
			}
		}
		last := from
		for _, at := range append(looks, to) {
			if gap := at.Sub(last); gap > 5*time.Minute+30*time.Second {
				t.Errorf("%s: no look for %v before %s", name, gap, at.Format(time.TimeOnly))
			}
			last = at
		}
		for _, p := range timeline.Each[*timeline.Outcome](es, about) {
			if p.Outcome != term.OutcomeRecovered {
				t.Errorf("%s ends with %s", name, p.Outcome)
			}
		}
	}
}

func TestDemoFoldsClean(t *testing.T) {
	lines := allOf(demoLines(t))
	s := timeline.Fold(lines)
	if len(s.Waiting) > 0 || len(s.Aside) > 0 {
		t.Errorf("%d lines wait and %d are set aside", len(s.Waiting), len(s.Aside))
	}
	if got := len(s.Lines()); got != len(lines) {
		t.Errorf("the story has %d lines of %d", got, len(lines))
	}
	persons := map[string]*timeline.Person{}
	for _, e := range s.Entries {
		if p, ok := e.Now().Payload.(*timeline.Person); ok {
			persons[e.Now().Case] = p
		}
	}
	for _, e := range s.Entries {
		if p, ok := e.Now().Payload.(*timeline.CaseOpened); ok && persons[p.Patient] == nil {
			t.Errorf("the patient %s is nobody", p.Patient)
		}
	}
	var birth *timeline.Birth
	for _, p := range timeline.Each[*timeline.Birth](s.About(demo.Caesarean), demo.Caesarean) {
		birth = p
	}
	if birth == nil || birth.Newborn != demo.Newborn || persons[demo.Newborn] == nil || persons[persons[demo.Newborn].Mother] == nil {
		t.Error("the newborn is not linked to the mother")
	}
}

// TestDemoHasEverything that a real log has and a tidy one has not.
func TestDemoHasEverything(t *testing.T) {
	logs := demoLines(t)
	s := timeline.Fold(allOf(logs))
	found := map[string]int{}
	for _, e := range s.Entries {
		root, now := e.Versions[0], e.Now()
		if e.Conflict() {
			found["conflict that stands"]++
		}
		if e.Late(15 * time.Minute) {
			found["late entry"]++
		}
		if _, ok := root.Payload.(*timeline.Mark); ok && len(e.Versions) > 1 {
			switch p := now.Payload.(type) {
			case *timeline.Mark:
				if p.Label != "" {
					found["mark named later"]++
				}
			case *timeline.Drug:
				found["mark that was a drug"]++
				if !now.At.Equal(root.At.Time) {
					t.Errorf("the mark %s lost its time", e.ID)
				}
			}
		}
		if root.Case == demo.Abscess && now.Case == demo.Hernia && !e.In(demo.Abscess) && e.In(demo.Hernia) && now.At.Equal(root.At.Time) {
			found["entry moved to another case"]++
		}
		logsOf := map[string]bool{}
		for i := range e.Versions {
			v := &e.Versions[i]
			logsOf[v.Line.Event.Log] = true
			switch v.Line.Payload.(type) {
			case *timeline.Restored:
				found["restored"]++
			case *timeline.Struck:
				found["struck"]++
			}
			if len(v.Line.Event.Replaces) > 1 {
				found["conflict that was settled"]++
				if e.Conflict() {
					t.Errorf("the entry %s was settled and is not", e.ID)
				}
			}
		}
		if len(e.Versions) > 1 && !now.Struck {
			found["correction"]++
		}
		if now.Struck {
			found["struck for good"]++
		}
		if len(logsOf) > 1 {
			found["correction from a second device"]++
		}
		switch p := now.Payload.(type) {
		case *timeline.Owed:
			found["reason "+string(p.Act)]++
			if p.Act == term.OwedActGiven && s.Find(p.Debt) == nil {
				t.Errorf("the reason %s is for nothing", e.ID)
			}
		case *timeline.Unwatched:
			found["unwatched"]++
		case *timeline.KitItem:
			if p.State == term.KitStateFault {
				found["fault in the kit"]++
			}
		}
	}
	for _, step := range timeline.ClockSteps(allOf(logs)) {
		switch {
		case step.By < -40*time.Minute:
			found["clock set back"]++
		case step.By > 40*time.Minute:
			found["clock set forward"]++
		default:
			t.Errorf("the clock jumps by %v before %s", step.By, step.After.Event.ID)
		}
	}
	for what, least := range map[string]int{
		"conflict that stands": 1, "conflict that was settled": 1, "correction from a second device": 2, "correction": 8, "late entry": 3,
		"mark named later": 2, "mark that was a drug": 2, "entry moved to another case": 1, "struck": 3, "struck for good": 2, "restored": 1,
		"reason owed": 2, "reason given": 2, "unwatched": 3, "fault in the kit": 3, "clock set back": 1, "clock set forward": 1,
	} {
		t.Run(what, func(t *testing.T) {
			if found[what] < least {
				t.Errorf("%d, want %d or more", found[what], least)
			}
		})
	}
	// One is enough to show it, and more would hide it.
	if n := found["conflict that stands"]; n != 1 {
		t.Errorf("%d conflicts stand, want 1", n)
	}
}

// TestDemoKitWasChecked between the opening of every case and its start: the
// check is about the list and the date, as the companion asks for it.
func TestDemoKitWasChecked(t *testing.T) {
	s := timeline.Fold(allOf(demoLines(t)))
	for name, about := range map[string]string{"hernia": demo.Hernia, "abscess": demo.Abscess, "caesarean": demo.Caesarean} {
		var opened, begun time.Time
		for e := range timeline.Each[*timeline.CaseOpened](s.About(about), about) {
			opened = e.Now().At.Time
		}
		for e, p := range timeline.Each[*timeline.Phase](s.About(about), about) {
			if p.Phase == term.PhaseAnaesthesiaStart {
				begun = e.Now().At.Time
			}
		}
		day, seen := "open-drop "+begun.Format(time.DateOnly), 0
		for k := range timeline.Each[*timeline.KitItem](s.About(day), day) {
			if at := k.Now().At; k.Root().Event.Scope == timeline.ScopeClinic && at.After(opened) && at.Before(begun) {
				seen++
			}
		}
		if seen < 5 {
			t.Errorf("%s: %d items of %q were looked at before it began, want 5 or more", name, seen, day)
		}
	}
}

// TestDemoAgainstStore holds the lines to what the store asks of a file.
func TestDemoAgainstStore(t *testing.T) {
	r := store.VerifyLines(allOf(demoLines(t)))
	if r.Logs != 3 || r.Continuity != store.ContinuityWhole || len(r.Findings) > 0 {
		t.Errorf("%d logs, continuity %s, findings %+v", r.Logs, r.Continuity, r.Findings)
	}
}

// TestDemoHasEveryPhase of an anaesthetic, over the three cases.
func TestDemoHasEveryPhase(t *testing.T) {
	found := map[term.Phase]bool{}
	s := timeline.Fold(allOf(demoLines(t)))
	for _, about := range []string{demo.Hernia, demo.Abscess, demo.Caesarean} {
		for _, p := range timeline.Each[*timeline.Phase](s.About(about), about) {
			found[p.Phase] = true
		}
	}
	for _, p := range term.PhaseList.Codes() {
		if !found[p] {
			t.Errorf("no case has %s", p)
		}
	}
}
