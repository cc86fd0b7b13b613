package core

import (
	"context"
	"errors"
	"maps"
	"slices"
	"strconv"
	"strings"

	"chinlift/core/patient"
	"chinlift/core/quantity"
	"chinlift/core/term"
	"chinlift/core/timeline"
	"chinlift/core/waking"
)

// What a patient has to have before leaving recovery, held against what was
// measured and said. None open is no leave to go: whoever watches gives that.

// The lists of criteria that a handing-over is held against: to a ward, and home.
const (
	LeavingToWard = "recovery"
	LeavingHome   = "home"
)

// LeavingView is the page of the criteria.
type LeavingView struct {
	Head
	Home     bool // from the clinic to home; else from recovery to a ward
	Criteria []CriterionLine
	Open     int // not met, or not looked at
	Warning  string
}

// CriterionLine is one criterion.
type CriterionLine struct {
	Code, Name, Look, Source string
	State                    string // yes, no, or empty: nobody looked
	Measured                 bool   // goes by a value, not by what is said
	Value                    string // that value; empty: none
}

// leaving holds a case against the criteria of a list.
func (cs *Case) leaving(code string) ([]waking.Met, map[waking.Measure]quantity.Amount, int, error) {
	lists, err := waking.Leavings()
	if err != nil {
		return nil, nil, 0, err
	}
	i := slices.IndexFunc(lists, func(l *waking.Leaving) bool { return l.Code == code })
	if i < 0 {
		return nil, nil, 0, ErrNotHere
	}
	list := lists[i]
	measured, said := map[waking.Measure]quantity.Amount{}, map[string]waking.Said{}
	end := cs.Phases[term.PhaseAnaesthesiaEnd]
	score := func(m waking.Measure, n int) {
		measured[m] = quantity.Amount{Value: quantity.DecimalFromInt(int64(n)), Unit: quantity.ScoreOne}
	}
	for _, e := range cs.Entries {
		if !e.In(cs.ID) || !end.IsZero() && e.Now().At.Before(end.Time) {
			continue
		}
		switch p := e.Now().Payload.(type) {
		case *timeline.Waking:
			if n, ok := p.Sum(); ok {
				score(waking.MeasureScore, n)
			}
			if p.Pain != nil {
				score(waking.MeasurePain, *p.Pain)
			}
			if p.Nausea != nil {
				score(waking.MeasureNausea, *p.Nausea)
			}
			for _, code := range p.Met {
				said[code] = waking.Yes
			}
			for _, code := range p.NotMet {
				said[code] = waking.No
			}
		case *timeline.Vitals:
			if !p.Temperature.IsZero() {
				measured[waking.MeasureTemperature] = p.Temperature
			}
			if change, err := waking.Circulation(p.Systolic, cs.restSystolic); err == nil {
				measured[waking.MeasurePressure] = change.Change.Value
			}
		case *timeline.Block:
			if n, err := strconv.Atoi(string(p.Motor)); err == nil && neuraxial(p) {
				score(waking.MeasureMotor, n)
			}
		}
	}
	if e, _ := last(cs, neuraxial); e == nil {
		score(waking.MeasureMotor, 0) // no block was given
	}
	// A list is asked for what it goes by, and for nothing else.
	maps.DeleteFunc(measured, func(m waking.Measure, _ quantity.Amount) bool {
		return !slices.ContainsFunc(list.Criteria, func(c waking.Criterion) bool { return c.Measure == m })
	})
	// A clinic's own entries may name what this list does not have.
	for code := range said {
		if !slices.ContainsFunc(list.Criteria, func(c waking.Criterion) bool { return c.Code == code && c.Measure == "" }) {
			delete(said, code)
		}
	}
	met, open, err := list.Check(measured, said)
	return met, measured, open, err
}

// Leaving gives the page of the criteria for a case.
func (c *Companion) Leaving(ctx context.Context, id, to string) (LeavingView, error) {
	h, cs, err := c.HeadOf(ctx, id)
	if err != nil {
		return LeavingView{}, err
	}
	met, measured, open, err := cs.leaving(to)
	if err != nil {
		return LeavingView{}, err
	}
	s, tag := Speaker{c.words}, c.words.Tag()
	v := LeavingView{Head: h, Home: to == LeavingHome, Open: open, Warning: s.warning(cs)}
	for _, m := range met {
		line := CriterionLine{Code: m.Code, Name: m.Name.In(tag), Look: m.Look.In(tag), Source: s.marked(m.Source, m.Mark), State: string(m.State), Measured: m.Measure != ""}
		if a, ok := measured[m.Measure]; ok {
			line.Value = s.Amount(a)
		}
		v.Criteria = append(v.Criteria, line)
	}
	return v, nil
}

// leftEarly gives the debt of a handing-over while criteria are open: the fact
// goes in, and the reason is owed.
func (c *Companion) leftEarly(cs *Case, t Tap) []Tap {
	p, ok := t.Payload.(*timeline.Phase)
	if !ok || p.Phase != term.PhaseHandedOver || t.Amends != "" {
		return nil
	}
	debt := Tap{ID: derived(t.ID, "left-early"), Scope: timeline.ScopeCase, About: cs.ID, At: t.At,
		Payload: &timeline.Owed{Act: term.OwedActOwed, For: term.OwedLeftEarly, Over: t.ID}}
	if cs.Story.Find(t.ID) != nil { // a retry says what was said
		if d := cs.Story.Find(debt.ID); d != nil {
			debt.At = d.Versions[0].At
			return []Tap{debt}
		}
		return nil
	}
	to := LeavingToWard
	if p.Home == timeline.Yes {
		to = LeavingHome
	}
	if _, _, open, err := cs.leaving(to); err != nil || open > 0 {
		return []Tap{debt}
	}
	return nil
}

// warning gives the early warning score in words, where it is for this patient
// and the anaesthetic is over: what nobody looked at since, it names instead.
func (s Speaker) warning(cs *Case) string {
	end := cs.Phases[term.PhaseAnaesthesiaEnd]
	if end.IsZero() {
		return ""
	}
	signs := waking.Signs{OnOxygen: !cs.Delivery.Oxygen.IsZero() && cs.Delivery.Oxygen.Value.Sign() > 0}
	switch cs.Facts.Pregnant {
	case timeline.Yes:
		return ""
	case timeline.No:
		signs.Pregnant = waking.No
	}
	confused := ""
	for _, e := range cs.Entries {
		if !e.In(cs.ID) || e.Now().At.Before(end.Time) {
			continue
		}
		switch p := e.Now().Payload.(type) {
		case *timeline.Vitals:
			setAmount(&signs.Breaths, p.Breaths)
			setAmount(&signs.SpO2, p.SpO2)
			setAmount(&signs.Systolic, p.Systolic)
			setAmount(&signs.Pulse, p.Pulse)
			setAmount(&signs.Temperature, p.Temperature)
		case *timeline.Waking:
			// Fully awake is alert; whoever answers a call is not, in the score's
			// words, and neither is who does not.
			if p.Consciousness != nil {
				signs.Awake = [...]term.Awake{term.AwakeUnresponsive, term.AwakeVoice, term.AwakeAlert}[*p.Consciousness]
			}
			confused = cmpOr(p.Confused, confused)
		}
	}
	if confused == timeline.Yes && signs.Awake == term.AwakeAlert {
		signs.Awake = term.AwakeConfused
	}
	w, err := waking.NEWS2(patientOf(&cs.Facts), signs)
	var lacks *patient.Error
	switch {
	case errors.As(err, &lacks) && lacks.Code == patient.Missing && lacks.Field != "age":
		field := lacks.Field
		if field == "awake" {
			field = "consciousness"
		}
		//word:prefix field.
		return s.Say("waking.news-lacks", "what", s.Say("field."+field))
	case err != nil:
		return ""
	}
	return s.Say("waking.news", "n", s.Number(w.Sum.Value), "band", Code(s, term.WarningBandList, w.Band))
}

// criteria gives the names of criteria for leaving, in one line.
func criteria(tag string, codes []string) string {
	lists, err := waking.Leavings()
	if err != nil {
		return strings.Join(codes, ", ")
	}
	var names []string
	for _, code := range codes {
		name := strings.ReplaceAll(code, "-", " ")
		for _, l := range lists {
			for _, c := range l.Criteria {
				if c.Code == code {
					name = c.Name.In(tag)
				}
			}
		}
		names = append(names, name)
	}
	return strings.Join(names, ", ")
}

// debt gives a reason that is owed in words, with the entry that it is about:
// two of them for two entries do not read the same.
func (s Speaker) debt(cs *Case, e *timeline.Entry) string {
	text := s.Entry(e.Now())
	if p, ok := e.Now().Payload.(*timeline.Owed); ok {
		if of := cs.Story.Find(p.Over); of != nil && of.In(cs.ID) {
			return join(" · ", text, s.Entry(of.Now()))
		}
	}
	return text
}

// marked gives a source with its mark, which a source that says it itself needs
// no second time.
func (s Speaker) marked(source string, mark term.Mark) string {
	if words := Code(s, term.MarkList, mark); !strings.HasSuffix(source, words) {
		return join(", ", source, words)
	}
	return source
}
