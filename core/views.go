package core

import (
	"cmp"
	"context"
	"errors"
	"slices"
	"time"

	"chinlift/core/store"
	"chinlift/core/term"
	"chinlift/core/timeline"
)

// Head is what every screen of a case shows above: for whom, where the case
// stands, and what is due.
type Head struct {
	Case, Short string
	For, Detail string
	Phase       string // in words
	PhaseSpan   string // since when, as a span
	Planned     string // start by the plan, on the first screen
	Asleep      string // how long under the anaesthetic; empty when not
	Clock       string // time of day
	Closed      bool
	Outcome     string
	Conflicts   int
	Dues        []Due
	Allergies   string         // in words; empty: none known, or not asked
	Home        string         // the page that a patient of this case belongs to now: table or waking
	Unwatched   bool           // it was said that nobody looks after this patient
	Owing       []Line         // reasons owed
	Doubt       *WeightDoubt   // a weight that is to be looked at again
	Unjudged    []UnjudgedLine // doses that no rule judged, as far as it is to be said
	Others      []Other        // other cases that are not closed
	Offers      []OfferLine
	Recorded    int    // lines
	Battery     string // that the device's battery is about to be empty; empty: it is not
	Held        []Held // what the checks of the planned techniques leave open, before the start
}

// Due is something that is to be looked at.
type Due struct {
	Key  string // the pad's key that answers it
	What string // what is due, in words; empty: what the key stands for
	Card string // the card that it stands on, and its step; empty: none
	Step string
	Text string // "due in 2 min", "2 min over"
	At   int64  // when it is due, in milliseconds since 1970
	Over bool
}

// Other is another open case, in one line.
type Other struct {
	Case, For, Phase string
	Screen           string // where it is looked after now: table, or waking
	Due              *Due
}

// Line is an entry in one line.
type Line struct {
	ID, At, Text, Ago string
	By                string
	Struck, Late      bool
	Conflict, Moved   bool
	Kind              string
	Stand             string // of a dose: that no rule judged it, or one that nobody stood for; empty otherwise, and where nobody asked
	Owed              string // what a reason is owed for, where the entry is one
	Over              string // the entry that it is owed over
	Heads             []string
}

func (c *Companion) line(cs *Case, e *timeline.Entry, now Reading, late time.Duration) Line {
	s, v := Speaker{c.words}, e.Now()
	owed, over := "", ""
	if o, ok := v.Payload.(*timeline.Owed); ok {
		owed, over = string(o.For), o.Over
	}
	return Line{Owed: owed, Over: over,
		ID: e.ID, At: s.Clock(v.At), Text: s.Entry(v), Ago: s.Ago(now.Wall, v.At), By: cs.By(s, v.Content.Event.Author),
		Struck: v.Struck, Late: e.Late(late), Conflict: e.Conflict(), Moved: v.Case != cs.ID, Kind: v.Payload.Kind().Name(), Heads: e.HeadIDs(),
	}
}

// dues works out what is to be looked at next in a case.
func (c *Companion) dues(ctx context.Context, cs *Case, now Reading) ([]Due, error) {
	if cs.settled() {
		return nil, nil
	}
	trouble := c.troubleDues(cs, now)
	end, over := cs.Phases[term.PhaseAnaesthesiaEnd]
	every, err := c.minutes(ctx, term.SettingVitalsEvery, now.Wall, vitalsEvery)
	if err != nil {
		return nil, err
	}
	since := cs.Began
	if over {
		since = end
	}
	if since.IsZero() {
		return trouble, nil
	}
	// Pressure and pulse age each on their own: a look at one of them does
	// not answer for the other.
	looked := minTime(stood(cs.latest.pressure), stood(cs.latest.pulse))
	s := Speaker{c.words}
	d := Due{Key: "vitals"}
	if over {
		d.What = s.Say("waking.look")
		looked = minTime(looked, stood(cs.latest.breaths))
		if every, err = cs.nextLook(end.Time, looked, now.Wall); err != nil {
			return nil, err
		}
	}
	from := maxTime(since.Time, looked)
	in := every - now.Wall.Sub(from)
	d.At, d.Over = from.Add(every).UnixMilli(), in <= 0
	switch {
	case in >= time.Minute:
		d.Text = s.Say("due.in", "span", s.Span(in))
	case in > -time.Minute:
		d.Text = s.Say("due.now")
	default:
		d.Text = s.Say("due.over", "span", s.Span(-in))
	}
	return append(trouble, d), nil
}

// stood gives when an entry that may be nil happened, or the zero time.
func stood(e *timeline.Entry) time.Time {
	if e == nil {
		return time.Time{}
	}
	return e.Now().At.Time
}

func minTime(a, b time.Time) time.Time {
	if b.Before(a) {
		return b
	}
	return a
}

// OpenCases gives the cases that are not closed, the one touched last first.
func (c *Companion) OpenCases(ctx context.Context) ([]*Case, error) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if !c.openRead {
		ids, err := c.store.Unsettled(ctx)
		if err != nil {
			return nil, err
		}
		c.open, c.openRead = ids, true
	}
	var open []*Case
	for _, id := range slices.Clone(c.open) {
		cs, err := c.load(ctx, id)
		if errors.Is(err, ErrNotHere) {
			continue
		}
		if err != nil {
			return nil, err
		}
		if !cs.Closed {
			open = append(open, cs)
			continue
		}
		// Telling the store spares the next start a look; it may fail in
		// silence, since it can be found out again.
		if err := c.store.Settle(ctx, id); err != nil && !errors.Is(err, store.ErrReadOnly) {
			return nil, err
		}
		c.open = slices.DeleteFunc(c.open, func(o string) bool { return o == id })
	}
	// Most recently touched first, also as the cases are touched.
	slices.SortStableFunc(open, func(a, b *Case) int {
		la, lb := a.lines[len(a.lines)-1], b.lines[len(b.lines)-1]
		switch {
		case lb.Event.Before(&la.Event):
			return -1
		case la.Event.Before(&lb.Event):
			return 1
		}
		return 0
	})
	return open, nil
}

// home gives the page that a patient belongs to: the table until the
// anaesthetic is over, then that of waking.
func home(cs *Case) string {
	if _, over := cs.Phases[term.PhaseAnaesthesiaEnd]; over {
		return "waking"
	}
	return "table"
}

// HeadOf gives the head of a case.
func (c *Companion) HeadOf(ctx context.Context, id string) (Head, *Case, error) {
	cs, err := c.Case(ctx, id)
	if err != nil {
		return Head{}, nil, err
	}
	now, s := c.clock.Now(), Speaker{c.words}
	h := Head{
		Case: id, Short: ShortCase(id), For: cs.For(s), Detail: cs.Detail(s), Clock: s.Clock(now.Moment()),
		Closed: cs.Closed, Outcome: Code(s, term.OutcomeList, cs.Outcome), Recorded: len(cs.lines), Conflicts: cs.Conflicts,
		Allergies: cs.Allergies(s), Unwatched: cs.Watcher == term.WatcherNobody && cs.Unrecovered(), Battery: c.battery(),
	}
	h.Home = home(cs)
	if cs.Phase != "" {
		h.Phase = Code(s, term.PhaseList, cs.Phase)
		h.PhaseSpan = s.Span(ago(now.Wall, cs.Phases[cs.Phase].Time))
	}
	if since, yes := cs.Asleep(); yes {
		h.Asleep = s.Span(ago(now.Wall, since.Time))
	}
	if h.Dues, err = c.dues(ctx, cs, now); err != nil {
		return h, cs, err
	}
	if cs.Began.IsZero() && !cs.Closed {
		if h.Held, err = c.KitOpen(ctx, cs); err != nil {
			return h, cs, err
		}
	}
	if h.Offers, err = c.offers(ctx, cs, now); err != nil {
		return h, cs, err
	}
	for _, e := range cs.Owing() {
		l := c.line(cs, e, now, lateAfter)
		l.Text = Speaker{c.words}.debt(cs, e)
		h.Owing = append(h.Owing, l)
	}
	if !cs.Closed {
		h.Doubt = c.Doubt(cs)
		if h.Unjudged, err = c.unjudged(ctx, cs); err != nil {
			return h, cs, err
		}
	}
	open, err := c.OpenCases(ctx)
	if err != nil {
		return h, cs, err
	}
	for _, o := range open {
		if o.ID == id {
			continue
		}
		other := Other{Case: o.ID, For: o.For(s), Phase: Code(s, term.PhaseList, o.Phase), Screen: home(o)}
		if d, err := c.dues(ctx, o, now); err != nil {
			return h, cs, err
		} else if len(d) > 0 {
			first := slices.MinFunc(d, func(a, b Due) int { return cmp.Compare(a.At, b.At) })
			other.Due = &first
		}
		h.Others = append(h.Others, other)
	}
	return h, cs, nil
}

// Key is one key of the pad: it says what it knows.
type Key struct {
	Name string // vitals, agent, breathing, eyes, drug, airway, step, fluids, more
	Last string // the last value, in words
	Ago  string
	Due  *Due
}

// Table is the screen for a patient asleep.
type Table struct {
	Head
	Keys []Key
	Undo *Line // the last own entry, which the undo key would strike
	Redo *Line // the entry that the last undo struck

	Tile            Tile   // what is drawn above the pad
	Lower, Higher   *Dose  // the deliveries next to the one that runs; nil: none runs, or none is beyond
	Next, NextPhase string // code and words of the phase that follows
	Marks           int    // instants that wait for a name
}

// Dose is a delivery that one key stands for.
type Dose struct {
	Set   []string // the fields that it records, name and value in turn
	Words string
}

// Table gives the table's view.
func (c *Companion) Table(ctx context.Context, id string) (Table, error) {
	h, cs, err := c.HeadOf(ctx, id)
	if err != nil {
		return Table{}, err
	}
	now, s := c.clock.Now(), Speaker{c.words}
	t := Table{Head: h, Tile: c.TileNow(cs), Marks: len(cs.unnamed)}
	key := func(name string, e *timeline.Entry, text string) {
		k := Key{Name: name}
		if e != nil {
			k.Last, k.Ago = text, s.Ago(now.Wall, e.Now().At)
			if k.Last == "" {
				k.Last = s.payload(e.Now().Payload)
			}
		}
		for i := range h.Dues {
			if h.Dues[i].Key == name {
				k.Due = &h.Dues[i]
			}
		}
		t.Keys = append(t.Keys, k)
	}
	l := &cs.latest
	breathing, text := breathingNow(s, l)
	key("breathing", breathing, text)
	text = ""
	if l.eyes != nil {
		p := l.eyes.Now().Payload.(*timeline.Signs)
		text = join(" · ", Code(s, term.EyesList, p.Eyes), Code(s, term.PupilsList, p.Pupils))
	}
	key("eyes", l.eyes, text)
	key("agent", l.agent, s.State(cs.Delivery))
	text = ""
	if l.vitals != nil {
		text = s.Short(&l.vitals.Now().Payload.(*timeline.Vitals).Measures)
	}
	key("vitals", l.vitals, text)
	key("drug", l.drug, "")
	text = ""
	if l.step != nil {
		text = Code(s, term.StepList, l.step.Now().Payload.(*timeline.Step).Step)
	}
	key("step", l.step, text)
	if next := NextPhase(cs); next != "" {
		t.Next, t.NextPhase = string(next), Code(s, term.PhaseList, next)
	}
	t.Lower, t.Higher = steps(s, &cs.Delivery)
	key("airway", l.airway, "")
	fluid := l.in
	if fluid == nil || l.out != nil && l.out.Now().At.After(fluid.Now().At.Time) {
		fluid = l.out
	}
	key("fluids", fluid, s.Balance(cs))
	key("depth", nil, "")
	key("more", nil, "")

	t.Undo, t.Redo = c.undoNow(cs, now)
	return t, nil
}

// undoNow gives the entry that an undo would strike now, and the one that it
// would bring back; nil where there is none.
func (c *Companion) undoNow(cs *Case, now Reading) (undone, redone *Line) {
	undo, redo := cs.undoable(c.Author())
	if redo != nil {
		undo = nil // what is older is not struck by a second tap on the same place
	}
	if undo != nil && now.Wall.Sub(undo.Root().Event.Entered.Wall.Time).Abs() < undoWithin {
		l := c.line(cs, undo, now, lateAfter)
		undone = &l
	}
	if redo != nil {
		l := c.line(cs, redo, now, lateAfter)
		redone = &l
	}
	return undone, redone
}

// undoWithin is how long the pad offers to undo an entry: a stray tap must
// not strike what was true an hour ago (house choice, no source). Any entry
// can be struck from its own page for ever.
const undoWithin = 10 * time.Minute

// notUndone are kinds that the pad does not write; they are corrected where
// they were entered.
var notUndone = []string{"case-opened", "case-closed", "facts", "intake", "stomach", "baseline", "plan", "pause", "team", "consulted", "follow-up", "handover", "performed", "owed", "watch", "depth", "destroyed"}

// breathingNow gives the newest word about breathing: a sign seen, or who does
// it. Help that goes on is told beside the sign; a stop or an obstruction is
// over once a later sign was seen.
func breathingNow(s Speaker, l *latest) (*timeline.Entry, string) {
	if l.breathing == nil && l.support == nil {
		return nil, ""
	}
	how := term.SupportSpontaneous
	if l.support != nil {
		how = l.support.Now().Payload.(*timeline.Support).Support
	}
	if l.breathing == nil || l.support != nil && !l.support.Now().At.Before(l.breathing.Now().At.Time) {
		return l.support, Code(s, term.SupportList, how)
	}
	text := Code(s, term.BreathingList, l.breathing.Now().Payload.(*timeline.Signs).Breathing)
	if how == term.SupportAssisted || how == term.SupportControlled {
		text = join(" · ", text, Code(s, term.SupportList, how))
	}
	return l.breathing, text
}

// undoable gives the entry that an author's undo would strike, the one made
// last by entry order and not by the time at which it says that it happened,
// and the entry that the author's latest line undid.
func (cs *Case) undoable(author string) (undo, redo *timeline.Entry) {
	latest := true
	for _, l := range slices.Backward(cs.lines) {
		if l.Event.Author != author {
			continue
		}
		if _, struck := l.Payload.(*timeline.Struck); struck && latest && l.Event.Reason == term.ReasonUndone {
			if e := cs.Story.Find(l.Event.Amends); e != nil && e.Now().Struck {
				redo = e
			}
		}
		// What the pad undoes is an entry. After a correction there is none: to
		// strike the whole entry is not to take the correction back.
		if latest && l.Event.Amends != "" && l.Event.Reason != term.ReasonUndone && l.Event.Reason != term.ReasonRedone && l.Event.Reason != term.ReasonNamedLater {
			return nil, redo
		}
		latest = false
		if l.Event.Amends == "" && !slices.Contains(notUndone, l.Event.Kind.Name()) {
			if e := cs.Story.Find(l.Event.ID); e != nil && e.In(cs.ID) {
				return e, redo
			}
		}
	}
	return nil, redo
}

// Author is the person at this device; empty before the first entry.
func (c *Companion) Author() string {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.author
}

// NextPhase gives the phase that follows the last one, or "".
func NextPhase(cs *Case) term.Phase {
	all := term.PhaseList.Codes()
	i := slices.Index(all, cs.Phase)
	if i+1 < len(all) {
		return all[i+1]
	}
	return ""
}
