package core

import (
	"context"
	"fmt"

	"chinlift/core/quantity"
	"chinlift/core/term"
	"chinlift/core/timeline"
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
	LastNumber        string // for the stepper to start from; never sent unless touched
	Low, High         int    // of the strip, for the hand; a stepper goes beyond
	Step, Fine        string // of the strip and of the stepper, in Unit
}

// rows describes the trays' rows. The ranges are of the strips only: what a
// thumb can reach at once (house choice); the form accepts what lies beyond.
// Pressure moves in fives on the strip, in twos by the stepper.
var rows = []struct {
	name       string
	unit       quantity.Unit
	low, high  int
	step, fine string
}{
	{"systolic", quantity.MmHg, 40, 220, "5", "2"},
	{"diastolic", quantity.MmHg, 20, 140, "5", "2"},
	{"pulse", quantity.PerMin, 30, 190, "2", "1"},
	{"spo2", quantity.Percent, 60, 100, "1", "1"},
	{"breaths", quantity.PerMin, 0, 60, "1", "1"},
	{"etco2", quantity.MmHg, 10, 90, "2", "1"},
	{"temperature", quantity.Cel, 33, 42, "0.5", "0.1"},
}

// MeasureRows gives the rows of a tray for vitals. Rows that a case has never
// used come too: nothing is hidden.
func (c *Companion) MeasureRows(cs *Case) []MeasureRow {
	now, s, m := c.clock.Now(), Speaker{c.words}, cs.measures()
	var all []MeasureRow
	for _, r := range rows {
		//word:prefix field.
		row := MeasureRow{Name: r.name, Label: s.Say("field." + r.name), Unit: r.unit.Symbol(), Low: r.low, High: r.high, Step: r.step, Fine: r.fine}
		if v, ok := m[r.name]; ok {
			row.Last, row.Ago = s.Number(v.Value), s.Ago(now.Wall, v.At)
			if v.Value.Unit != r.unit {
				row.Last = s.Amount(v.Value) // the row's own unit stands beside it
			}
			if in, err := v.Value.In(r.unit); err == nil {
				row.LastNumber = in.Round(1).Value.String()
			}
		}
		all = append(all, row)
	}
	return all
}

// WakingOf gives the view of a patient who wakes.
func (c *Companion) WakingOf(ctx context.Context, id string) (WakingView, error) {
	h, cs, err := c.HeadOf(ctx, id)
	if err != nil {
		return WakingView{}, err
	}
	now, s := c.clock.Now(), Speaker{c.words}
	w := WakingView{Head: h, Measures: c.MeasureRows(cs)}
	e, p := last[*timeline.Waking](cs, nil)
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
	end := cs.Phases[term.PhaseSurgeryEnd]
	if m, ok := cs.Phases[term.PhaseAnaesthesiaEnd]; ok {
		end = m
	}
	for i := len(cs.Entries) - 1; i >= 0; i-- {
		e := cs.Entries[i]
		switch e.Now().Payload.(type) {
		case *timeline.Vitals, *timeline.Waking:
			if !end.IsZero() && !e.Now().At.Before(end.Time) && e.Now().Case == id {
				w.Looks = append(w.Looks, c.line(cs, e, now, lateAfter))
			}
		}
	}
	return w, nil
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
