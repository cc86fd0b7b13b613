package core

import (
	"context"
	"fmt"
	"slices"
	"time"

	"chinlift/core/quantity"
	"chinlift/core/term"
	"chinlift/core/timeline"
	"chinlift/core/waking"
)

// WakingView is the screen for a patient who wakes.
type WakingView struct {
	Head
	Items    []ScoreItem
	Total    string // in words; empty when nothing was looked at yet
	Ago      string
	Baseline string // pressure at rest, against which circulation is judged
	Percent  string // how far the last systolic pressure is from it, in words
	Looks    []Line // vitals and scores since the end, latest first
	Measures []MeasureRow
	Open     int // criteria for leaving that are not met, or that nobody looked at
	OpenHome int // the same for going home
	Block    *BlockLook
	Steady   string // what was said last: yes, no, or empty
	Warning  string // the early warning score, in words; empty: not for this patient, or a sign is missing
}

// BlockLook is what there is to look at of a spinal, epidural or caudal block
// that goes down: how high it reaches, and how the legs move by the scale of
// Bromage. Nil where none was given.
type BlockLook struct {
	Kind, Words    string
	Height, Motor  string // the last of each, with how old it is; empty: not looked at
	Heights, Moves []Choice
}

// neuraxial reports that a block is of those that are looked at by height and
// legs.
func neuraxial(p *timeline.Block) bool {
	return p.Block == term.BlockKindSpinal || p.Block == term.BlockKindEpidural || p.Block == term.BlockKindCaudal
}

// blockHeight and blockMotor give the last of each, with how old it is, in
// words; empty where nobody looked.
func (s Speaker) blockHeight(cs *Case, now time.Time) string {
	e, p := last(cs, func(p *timeline.Block) bool { return neuraxial(p) && p.Height != "" })
	if e == nil {
		return ""
	}
	return Code(s, term.BlockHeightList, p.Height) + " · " + s.Ago(now, e.Now().At)
}

func (s Speaker) blockMotor(cs *Case, now time.Time) string {
	e, p := last(cs, func(p *timeline.Block) bool { return neuraxial(p) && p.Motor != "" })
	if e == nil {
		return ""
	}
	return string(p.Motor) + " " + Code(s, term.MotorList, p.Motor) + " · " + s.Ago(now, e.Now().At)
}

// ScoreItem is one of the five items with its three answers, 2 first:
// Aldrete, Journal of Clinical Anesthesia 1995;7:89 (threshold of 9 as widely
// taught). The words for the answers are in the catalogue.
type ScoreItem struct {
	Name, Label string
	Now         string // the last value; empty: not looked at
	Answers     []Choice
}

// MeasureRow is one row of a tray: the last value, grey, beside it.
type MeasureRow struct {
	Name, Label, Unit string
	Last, Ago         string
	LastNumber        string   // the last value in Unit; never sent unless touched
	Keys              []string // the last value and its neighbours, one tap each; none without a last value
	Usual             string   // what is usual at the age, awake and at rest; empty: no table
	Same              bool     // recent enough to be confirmed by the key that says "the same"
	Low, High         int      // of the picker, which goes by Coarse and then by One
	Coarse, One, Fine string   // steps of the picker and of the stepper, in Unit
}

// rows describes the trays' rows. The ranges are of the pickers only (house
// choice); the form accepts what lies beyond. Pressure moves in fives by the
// keys beside the last value, in twos by the stepper.
var rows = []struct {
	name              string
	unit              quantity.Unit
	low, high         int
	step              string // between the keys beside the last value
	coarse, one, fine string
}{
	{"systolic", quantity.MmHg, 40, 220, "5", "10", "1", "2"},
	{"diastolic", quantity.MmHg, 20, 140, "5", "10", "1", "2"},
	{"pulse", quantity.PerMin, 30, 190, "5", "10", "1", "1"},
	{"spo2", quantity.Percent, 60, 100, "1", "10", "1", "1"},
	{"breaths", quantity.PerMin, 0, 60, "2", "10", "1", "1"},
	{"etco2", quantity.MmHg, 10, 90, "2", "10", "1", "1"},
	{"temperature", quantity.Cel, 33, 42, "0.2", "1", "0.1", "0.1"},
}

// sameWithin is how far back "I looked: the same" may reach: beyond, a value
// is to be taken anew (house choice: three times the usual five minutes).
const sameWithin = 15 * time.Minute

// MeasureRows gives the rows of a tray for vitals. Rows that a case has never
// used come too: nothing is hidden.
func (c *Companion) MeasureRows(cs *Case) []MeasureRow {
	now, s, m := c.clock.Now(), Speaker{c.words}, cs.measures()
	limits, known := cs.limits()
	var all []MeasureRow
	for _, r := range rows {
		//word:prefix field.
		row := MeasureRow{Name: r.name, Label: s.Say("field." + r.name), Unit: r.unit.Symbol(), Low: r.low, High: r.high, Coarse: r.coarse, One: r.one, Fine: r.fine}
		if known {
			row.Usual = s.usual(&limits, r.name)
		}
		if v, ok := m[r.name]; ok {
			row.Last, row.Ago = s.Number(v.Value), s.Say("say.now")
			if d := ago(now.Wall, v.At.Time); d >= time.Minute {
				row.Ago = s.Span(d)
			}
			if v.Value.Unit != r.unit {
				row.Last = s.Amount(v.Value) // the row's own unit stands beside it
			}
			if in, err := v.Value.In(r.unit); err == nil {
				in = in.Round(1)
				row.LastNumber = in.Value.String()
				row.Keys = neighbours(in, r.step, r.name == "spo2")
			}
			_, looked := v.Entry.Now().Payload.(*timeline.Vitals)
			row.Same = looked && ago(now.Wall, v.At.Time) <= sameWithin
		}
		all = append(all, row)
	}
	return all
}

// SameAge says how old the oldest of the values is that "the same" confirms;
// empty where there is none.
func (c *Companion) SameAge(cs *Case) string {
	now := c.clock.Now().Wall
	oldest := time.Duration(-1)
	for _, v := range cs.measures() {
		if _, looked := v.Entry.Now().Payload.(*timeline.Vitals); looked && ago(now, v.At.Time) <= sameWithin {
			oldest = max(oldest, ago(now, v.At.Time))
		}
	}
	if oldest < 0 {
		return ""
	}
	return Speaker{c.words}.Span(oldest)
}

// neighbours gives the value a step below, the value, and the value a step
// above; where the measure ends at 100, the three that end there.
func neighbours(a quantity.Amount, step string, hundred bool) []string {
	// Numbers alone: two temperatures cannot be added.
	a.Unit = quantity.One
	const unit = " 1"
	at := func(steps int) (quantity.Amount, bool) {
		by := quantity.MustParse(step + unit)
		if steps < 0 {
			by = quantity.MustParse("-" + step + unit)
		}
		n := a
		for range max(steps, -steps) {
			more, err := n.Add(by)
			if err != nil {
				return n, false
			}
			n = more
		}
		least, err := n.Cmp(quantity.MustParse("0" + unit))
		if err != nil || least < 0 {
			return n, false
		}
		most, err := n.Cmp(quantity.MustParse("100" + unit))
		return n, !hundred || err == nil && most <= 0
	}
	from := -1
	for hundred && from > -2 {
		if _, ok := at(from + 2); ok {
			break
		}
		from--
	}
	var keys []string
	for i := from; i <= from+2; i++ {
		if n, ok := at(i); ok {
			keys = append(keys, n.Value.String())
		}
	}
	return keys
}

// WakingOf gives the view of a patient who wakes.
func (c *Companion) WakingOf(ctx context.Context, id string) (WakingView, error) {
	h, cs, err := c.HeadOf(ctx, id)
	if err != nil {
		return WakingView{}, err
	}
	now, s := c.clock.Now(), Speaker{c.words}
	w := WakingView{Head: h, Measures: c.MeasureRows(cs)}
	e, p := last(cs, (*timeline.Waking).Scored)
	items := [5]*int{}
	if e != nil {
		items = [5]*int{p.Activity, p.Respiration, p.Circulation, p.Consciousness, p.Oxygen}
		w.Ago = s.Ago(now.Wall, e.Now().At)
		w.Total = s.Say("say.waking-part")
		if n, ok := p.Sum(); ok {
			w.Total = s.Say("say.waking", "n", n)
		}
	}
	for i, name := range []string{"activity", "respiration", "circulation", "consciousness", "oxygen"} {
		it := ScoreItem{Name: name, Label: s.Say("field." + name), Now: s.score(items[i])}
		for _, n := range []string{"2", "1", "0"} {
			//word:prefix waking.
			it.Answers = append(it.Answers, Choice{n, s.Say("waking." + name + "." + n)})
		}
		w.Items = append(w.Items, it)
	}
	if _, b := last(cs, func(b *timeline.Baseline) bool { return !b.Systolic.IsZero() }); b != nil {
		w.Baseline = s.Measures(&timeline.Measures{Systolic: b.Systolic, Diastolic: b.Diastolic})
		if _, v := last(cs, func(v *timeline.Vitals) bool { return !v.Systolic.IsZero() }); v != nil {
			if pc, ok := percentOf(v.Systolic, b.Systolic); ok {
				w.Percent = s.Say("waking.percent", "n", pc)
			}
		}
	}
	if _, _, w.Open, err = cs.leaving(LeavingToWard); err != nil {
		return WakingView{}, err
	}
	if _, _, w.OpenHome, err = cs.leaving(LeavingHome); err != nil {
		return WakingView{}, err
	}
	w.Warning = s.warning(cs)
	if e := cs.latest.steady; e != nil {
		w.Steady = timeline.No
		if cs.steady() {
			w.Steady = timeline.Yes
		}
	}
	if e, p := last(cs, neuraxial); e != nil {
		w.Block = &BlockLook{Kind: string(p.Block), Words: Code(s, term.BlockKindList, p.Block), Height: s.blockHeight(cs, now.Wall), Motor: s.blockMotor(cs, now.Wall),
			Heights: c.Choices("block-height"), Moves: c.Choices("motor")}
	}
	end := cs.Phases[term.PhaseSurgeryEnd]
	if m, ok := cs.Phases[term.PhaseAnaesthesiaEnd]; ok {
		end = m
	}
	for i := len(cs.Entries) - 1; i >= 0; i-- {
		e := cs.Entries[i]
		switch e.Now().Payload.(type) {
		case *timeline.Vitals, *timeline.Waking, *timeline.Block:
			if !end.IsZero() && !e.Now().At.Before(end.Time) && e.Now().Case == id {
				w.Looks = append(w.Looks, c.line(cs, e, now, lateAfter))
			}
		}
	}
	return w, nil
}

// CareView is the page of what is done and asked of a patient who wakes,
// besides the score.
type CareView struct {
	Head
	In                     []Choice // airway devices that are in, with since when
	Lies                   string   // how the patient lies, with how old that is; empty: not recorded
	Positions              []Choice // those of waking
	Pain, Nausea, Bleeding string   // the last of each, with how old it is; empty: not asked
	Confused               string   // as those
}

// CareOf gives the view of what is done and asked of a patient who wakes.
func (c *Companion) CareOf(ctx context.Context, id string) (CareView, error) {
	h, cs, err := c.HeadOf(ctx, id)
	if err != nil {
		return CareView{}, err
	}
	now, s := c.clock.Now(), Speaker{c.words}
	v := CareView{Head: h}
	for _, e := range cs.devicesIn() {
		d := e.Now().Payload.(*timeline.Airway).Device
		v.In = append(v.In, Choice{string(d), s.Say("waking.care-out", "device", Code(s, term.AirwayDeviceList, d))})
	}
	if e, _ := last[*timeline.Position](cs, nil); e != nil {
		v.Lies = s.Entry(e.Now()) + " · " + s.Ago(now.Wall, e.Now().At)
	}
	for _, p := range []term.Position{term.PositionLeftSide, term.PositionRightSide, term.PositionHeadUp, term.PositionSupine} {
		v.Positions = append(v.Positions, Choice{string(p), Code(s, term.PositionList, p)})
	}
	told := func(to *string, keep func(*timeline.Waking) bool, say func(*timeline.Waking) string) {
		if e, p := last(cs, keep); e != nil {
			*to = say(p) + " · " + s.Ago(now.Wall, e.Now().At)
		}
	}
	told(&v.Pain, func(p *timeline.Waking) bool { return p.Pain != nil }, func(p *timeline.Waking) string { return s.score(p.Pain) })
	told(&v.Nausea, func(p *timeline.Waking) bool { return p.Nausea != nil }, func(p *timeline.Waking) string { return s.score(p.Nausea) })
	told(&v.Confused, func(p *timeline.Waking) bool { return p.Confused != "" }, func(p *timeline.Waking) string {
		if p.Confused == timeline.Yes {
			return s.Say("waking.care-confused")
		}
		return s.Say("waking.care-clear")
	})
	const bleeding = "bleeding" // the criterion of that code
	said := func(p *timeline.Waking) bool {
		return slices.Contains(p.Met, bleeding) || slices.Contains(p.NotMet, bleeding)
	}
	told(&v.Bleeding, said, func(p *timeline.Waking) string {
		if slices.Contains(p.Met, bleeding) {
			return s.Say("waking.care-bleeds")
		}
		return s.Say("waking.care-bleeds-more")
	})
	return v, nil
}

// devicesIn gives the entries of the airway devices that are in, in the order
// in which they went in.
func (cs *Case) devicesIn() []*timeline.Entry {
	var in []*timeline.Entry
	for e, p := range timeline.Each[*timeline.Airway](cs.Entries, cs.ID) {
		if p.Device == term.AirwayDeviceNone || p.Act != term.AirwayActIn && p.Act != term.AirwayActOut {
			continue
		}
		in = slices.DeleteFunc(in, func(o *timeline.Entry) bool { return o.Now().Payload.(*timeline.Airway).Device == p.Device })
		if p.Act == term.AirwayActIn {
			in = append(in, e)
		}
	}
	return in
}

// nextLook gives how long after the last look, or after the end where nobody
// looked since, the next one is due in recovery.
func (cs *Case) nextLook(end, looked, now time.Time) (time.Duration, error) {
	// No recovery lasts a week; a clock that was set back makes none negative.
	const week = 7 * 24 * time.Hour
	r := waking.Recovery{Since: minutes(min(ago(now, end), week)), Steady: cs.steady()}
	if !looked.Before(end) && ago(now, looked) <= week {
		r.Last = minutes(ago(now, looked))
	}
	due, err := waking.NextLook(r)
	if err != nil || due.Every.IsZero() {
		return 0, err
	}
	n, err := due.Every.Float64(quantity.Minute)
	return time.Duration(n * float64(time.Minute)), err
}

// steady reports that whoever watches called the patient steady, and that no
// trouble goes on or began since.
func (cs *Case) steady() bool {
	e := cs.latest.steady
	if e == nil || e.Now().Payload.(*timeline.Waking).Steady != timeline.Yes {
		return false
	}
	return !slices.ContainsFunc(cs.runs, func(r run) bool { return r.over.IsZero() || !r.begun.Before(e.Now().At.Time) })
}

// percentOf gives by how many percent now differs from the value at rest,
// with its sign.
func percentOf(now, rest quantity.Amount) (string, bool) {
	n, err := now.Float64(quantity.MmHg)
	r, err2 := rest.Float64(quantity.MmHg)
	if err != nil || err2 != nil || r <= 0 {
		return "", false
	}
	return fmt.Sprintf("%+.0f", (n-r)/r*100), true
}
