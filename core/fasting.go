package core

import (
	"context"
	"errors"
	"slices"
	"strings"
	"sync"
	"time"

	"chinlift/core/patient"
	"chinlift/core/quantity"
	"chinlift/core/term"
	"chinlift/core/timeline"
	"chinlift/core/visit"
)

// fastingDefault is the set that holds until a clinic chooses its own: the
// widest known, and among the longest (house choice).
const fastingDefault = "asa-2023"

// FastingSet is a set of fasting intervals as the clinic's page shows it.
type FastingSet struct {
	Code, Words, Version string
	Chosen               bool
	Needs                bool   // somebody must confirm it before it can be chosen
	Confirmed            string // by whom and when; empty: by nobody
	Intervals            []Cited
	Undercuts            []string // published intervals that are longer
}

// FastingView is what food and drink come to for one patient.
type FastingView struct {
	Set, SetWords string
	Notice        string // what stands about the set wherever it is used; empty for a published one
	Verdict, Code string
	Start         string // the time that is reckoned for
	StartAssumed  bool   // no start is planned: as if now
	Intakes       []IntakeView
	Earliest      string // clock time; empty where waiting does not help, or nothing is to wait for
	Decides       string // what the earliest start waits for, or what no waiting mends
	Delays        []Cited
	DrinkUntil    string
	Cautions      []string
	Problem       string // why nothing can be said
}

// IntakeView is one intake held against its interval.
type IntakeView struct {
	What, Fasted, Needed string
	Enough               bool
	Source               string
	Cautions             []string
}

// fastingSets reads the built-in sets once.
var fastingSets = sync.OnceValues(visit.Sets)

// Fasting holds what was eaten and drunk against the clinic's set, at the
// planned start; once the anaesthetic has begun, at its beginning.
func (c *Companion) Fasting(ctx context.Context, cs *Case) (FastingView, error) {
	s, now := Speaker{c.words}, c.clock.Now()
	sets, err := fastingSets()
	if err != nil {
		return FastingView{}, err
	}
	code, by, err := c.fastingSet(ctx)
	if err != nil {
		return FastingView{}, err
	}
	v := FastingView{Set: code, SetWords: s.fastingSet(code)}
	at, start := now.Wall, cs.Plan.Start
	switch {
	case !cs.Began.IsZero():
		at, start = cs.Began.Time, cs.Began
	case start.IsZero():
		start, v.StartAssumed = now.Moment(), true
	}
	v.Start = s.Clock(start)
	until := max(0, start.Sub(at))
	q := visit.Stomach{
		Patient: patientOf(&cs.Facts), Start: minutes(until), With: cs.Facts.With, Reflux: cs.Facts.Reflux == timeline.Yes,
		Emergency: cs.Urgency == term.UrgencyEmergency || cs.Facts.Emergency, Confirmed: by != nil,
	}
	q.Intakes = cs.intakes(at)
	if q.Injury, q.Opioid, err = c.stops(ctx, cs, at); err != nil {
		return v, err
	}
	f, err := visit.Fasting(sets, code, q)
	if err != nil {
		v.Problem = s.patientFault(err)
		return v, nil
	}
	for _, set := range sets {
		if set.Code != code || !set.NeedsConfirmation {
			continue
		}
		if by != nil {
			v.Notice = s.Say("fasting.notice", "set", v.SetWords, "by", cmpOr(by.By, s.Say("record.unnamed")), "when", s.Date(by.At))
		} else {
			v.Notice = s.Say("fasting.notice-unconfirmed", "set", v.SetWords)
		}
	}
	v.Code, v.Verdict = string(f.Verdict), Code(s, term.FastingList, f.Verdict)
	for _, one := range f.Intakes {
		i := IntakeView{What: Code(s, term.IntakeList, one.What), Needed: s.Amount(one.Needed.Value), Enough: one.Satisfied, Source: s.sources(one.Needed.Sources), Cautions: s.cautions(one.Needed.Cautions, patient.Estimate)}
		if one.Fasted.IsZero() {
			i.Fasted = s.Say("fasting.unknown")
		} else {
			i.Fasted = s.spanIn(one.Fasted)
		}
		v.Intakes = append(v.Intakes, i)
	}
	if f.Decides >= 0 && f.Verdict != term.FastingLongEnough {
		v.Decides = v.Intakes[f.Decides].What
	}
	if !f.Earliest.IsZero() && f.Earliest.Value.Sign() > 0 {
		v.Earliest = s.clockIn(at, now.Zone, f.Earliest)
	}
	if !f.DrinkUntil.IsZero() && cs.Began.IsZero() {
		v.DrinkUntil = s.clockIn(at, now.Zone, f.DrinkUntil)
	}
	for _, d := range f.Delays {
		words := Code(s, term.SlowStomachList, d.Other)
		if d.Condition != "" {
			words = Code(s, term.ConditionList, d.Condition)
		}
		source := s.source(d.Source)
		if d.Against.Title != "" {
			source = join("; ", source, s.Say("fasting.against", "source", s.source(d.Against)))
		}
		v.Delays = append(v.Delays, Cited{Text: words, Source: source, Mark: string(d.Source.Mark)})
	}
	v.Cautions = s.cautions(f.Cautions)
	return v, nil
}

// intakes gives the last of each sort of food and drink. A time that nobody
// knew stands until a later entry tells one.
func (cs *Case) intakes(at time.Time) []visit.Intake {
	var order []term.Intake
	known, unknown := map[term.Intake]*timeline.Entry{}, map[term.Intake]*timeline.Entry{}
	after := func(a, b *timeline.Entry) bool { return b == nil || b.Root().Event.Before(&a.Root().Event) }
	said := map[term.Intake]*timeline.Entry{} // the known one that was entered last
	for e, p := range timeline.Each[*timeline.Intake](cs.Entries, cs.ID) {
		if !slices.Contains(order, p.What) {
			order = append(order, p.What)
		}
		switch {
		case p.UnknownTime && after(e, unknown[p.What]):
			unknown[p.What] = e
		case !p.UnknownTime:
			known[p.What] = e // in drawing order: the latest
			if after(e, said[p.What]) {
				said[p.What] = e
			}
		}
	}
	var all []visit.Intake
	for _, what := range order {
		i := visit.Intake{What: what}
		u := unknown[what]
		if k := known[what]; k != nil && (u == nil || after(said[what], u)) {
			i.Before = minutes(min(ago(at, k.Now().At.Time), farthest))
		}
		all = append(all, i)
	}
	return all
}

// farthest is as far back as the calculator looks.
const farthest = 30 * 24 * time.Hour

// stops gives what stopped the stomach: an injury, and the first opioid, told
// or given here.
func (c *Companion) stops(ctx context.Context, cs *Case, at time.Time) (injury, opioid visit.Stop, err error) {
	take := func(to *visit.Stop, d time.Duration, unknown bool) {
		if unknown {
			*to = visit.Stop{There: true}
			return
		}
		m := minutes(min(d, farthest))
		if !to.There {
			*to = visit.Stop{There: true, Before: m}
		} else if n, err := m.Cmp(to.Before); !to.Before.IsZero() && err == nil && n > 0 {
			to.Before = m
		}
	}
	for e, p := range timeline.Each[*timeline.Stomach](cs.Entries, cs.ID) {
		to := &injury
		if p.By == term.SlowStomachOpioid {
			to = &opioid
		}
		take(to, ago(at, e.Now().At.Time), p.UnknownTime)
	}
	f, err := c.Rules(ctx, c.clock.Now().Wall)
	if err != nil {
		return injury, opioid, err
	}
	for e, p := range timeline.Each[*timeline.Drug](cs.Entries, cs.ID) {
		if d := f.Find(p.Drug); d != nil && d.Class == term.DrugClassOpioid && !e.Now().At.After(at) {
			take(&opioid, ago(at, e.Now().At.Time), false)
		}
	}
	return injury, opioid, nil
}

// fastingSet gives the code of the clinic's set, and who stands for it where
// it needs somebody to.
func (c *Companion) fastingSet(ctx context.Context) (string, *Confirmation, error) {
	code := fastingDefault
	p, ok, err := c.setting(ctx, term.SettingFastingSet, c.clock.Now().Wall)
	if err != nil {
		return "", nil, err
	}
	set, err := findSet(p.Text)
	switch {
	case ok && err == nil:
		code = p.Text
	case ok && !errors.Is(err, ErrNotHere):
		return "", nil, err
	default: // a set that this version does not have: the usual one holds
		if set, err = findSet(code); err != nil {
			return "", nil, err
		}
	}
	agreed, err := c.agreed(ctx)
	if err != nil {
		return "", nil, err
	}
	if k, ok := agreed[code]; ok && string(k.Rule) == set.Version {
		return code, &k, nil
	}
	return code, nil, nil
}

func findSet(code string) (*visit.Set, error) {
	sets, err := fastingSets()
	if err != nil {
		return nil, err
	}
	for _, s := range sets {
		if s.Code == code {
			return s, nil
		}
	}
	return nil, ErrNotHere
}

// agreed gives who stands for which set.
func (c *Companion) agreed(ctx context.Context) (map[string]Confirmation, error) {
	about := string(term.SettingFastingSet)
	entries, err := c.settingEntries(ctx, term.SettingFastingSet)
	if err != nil {
		return nil, err
	}
	all := map[string]Confirmation{}
	for e, p := range timeline.Each[*timeline.SetAgreed](entries, about) {
		if p.Withdrawn {
			delete(all, p.Set)
			continue
		}
		n := Confirmation{At: e.Now().At, Rule: p.Version}
		person, err := c.person(ctx, e.Now().Line.Event.Author)
		if err != nil {
			return nil, err
		}
		if person != nil {
			n.By = person.Now().Private()[timeline.PrivateName]
		}
		all[p.Set] = n
	}
	return all, nil
}

// FastingSets gives the sets among which a clinic chooses.
func (c *Companion) FastingSets(ctx context.Context) ([]FastingSet, error) {
	s := Speaker{c.words}
	sets, err := fastingSets()
	if err != nil {
		return nil, err
	}
	chosen, _, err := c.fastingSet(ctx)
	if err != nil {
		return nil, err
	}
	agreed, err := c.agreed(ctx)
	if err != nil {
		return nil, err
	}
	var all []FastingSet
	for _, set := range sets {
		v := FastingSet{Code: set.Code, Words: set.Name.In(s.Tag()), Version: set.Version, Chosen: set.Code == chosen, Needs: set.NeedsConfirmation}
		if k, ok := agreed[set.Code]; ok && string(k.Rule) == set.Version {
			v.Confirmed = s.Say("dose.confirmed", "by", cmpOr(k.By, s.Say("record.unnamed")), "when", s.Date(k.At))
		}
		for _, i := range set.Intervals {
			v.Intervals = append(v.Intervals, Cited{Text: s.Say("fasting.interval", "what", s.intervalOf(i), "needs", s.Amount(i.Needs)), Source: s.source(i.Source), Mark: string(i.Source.Mark)})
		}
		under, err := visit.Undercuts(sets, set.Code, quantity.Amount{})
		if err != nil {
			return nil, err
		}
		for _, u := range under {
			var longer []string
			for _, p := range u.Published {
				longer = append(longer, s.fastingSet(p.Set)+" "+s.Amount(p.Needs))
			}
			v.Undercuts = append(v.Undercuts, s.Say("fasting.shorter", "what", s.intervalOf(u.Here), "needs", s.Amount(u.Here.Needs), "than", strings.Join(longer, ", ")))
		}
		all = append(all, v)
	}
	return all, nil
}

func (s Speaker) intervalOf(i visit.Interval) string {
	return join(", ", Code(s, term.IntakeList, i.Intake), s.ageBand(i.From, i.Under))
}

func (s Speaker) ageBand(from, under quantity.Amount) string {
	switch {
	case !from.IsZero() && !under.IsZero():
		return s.Say("rules.from-to", "from", s.Age(from), "to", s.Age(under))
	case !from.IsZero():
		return s.Say("rules.from", "age", s.Age(from))
	case !under.IsZero():
		return s.Say("rules.under", "age", s.Age(under))
	}
	return ""
}

// ChooseFasting makes a set the clinic's. One that no source stands behind
// needs a named person's confirmation first: without it the answer is a
// *timeline.FieldError with the code not-confirmed.
func (c *Companion) ChooseFasting(ctx context.Context, id, code string) (Done, error) {
	set, err := findSet(code)
	if err != nil {
		return Done{}, err
	}
	p := &timeline.ClinicSetting{Setting: term.SettingFastingSet, Text: code}
	if set.NeedsConfirmation {
		agreed, err := c.agreed(ctx)
		if err != nil {
			return Done{}, err
		}
		if k, ok := agreed[code]; !ok || string(k.Rule) != set.Version {
			return Done{}, &timeline.FieldError{Kind: p.Kind().Name(), Field: "set", Code: "not-confirmed"}
		}
	}
	return c.Record(ctx, Tap{ID: id, Scope: timeline.ScopeClinic, About: string(term.SettingFastingSet), Payload: p})
}

// AgreeFasting records that the person at this device read a set that no
// source stands behind and stands for it, or takes that back. Whoever has no
// name cannot.
func (c *Companion) AgreeFasting(ctx context.Context, id, code, version string, withdrawn bool) (Done, error) {
	p := &timeline.SetAgreed{Set: code, Version: timeline.Hash(version), Withdrawn: withdrawn}
	set, err := findSet(code)
	if err != nil {
		return Done{}, err
	}
	name, err := c.AuthorName(ctx)
	switch {
	case err != nil:
		return Done{}, err
	case name == "":
		return Done{}, &timeline.FieldError{Kind: p.Kind().Name(), Field: "name", Code: "missing"}
	case set.Version != version:
		return Done{}, &timeline.FieldError{Kind: p.Kind().Name(), Field: "set", Code: "changed"}
	}
	return c.Record(ctx, Tap{ID: id, Scope: timeline.ScopeClinic, About: string(term.SettingFastingSet), Payload: p})
}

// fastingSet gives the name of a set; one that is not here is written as its
// code.
func (s Speaker) fastingSet(code string) string {
	if set, err := findSet(code); err == nil {
		return set.Name.In(s.Tag())
	}
	return strings.ReplaceAll(code, "-", " ")
}

// spanIn writes an amount of time as hours and minutes.
func (s Speaker) spanIn(a quantity.Amount) string {
	n, err := a.Float64(quantity.Minute)
	if err != nil {
		return s.Amount(a)
	}
	return s.Span(time.Duration(n * float64(time.Minute)))
}

// clockIn writes the time of day so long after another; the day too where it
// is another one.
func (s Speaker) clockIn(at time.Time, zone string, in quantity.Amount) string {
	n, err := in.Float64(quantity.Minute)
	if err != nil {
		return ""
	}
	then := timeline.MomentOf(at.Add(time.Duration(n*float64(time.Minute))), zone)
	if y, m, d := then.Date(); at.Day() != d || at.Month() != m || at.Year() != y {
		return s.Date(then)
	}
	return s.Clock(then)
}

// cautions puts cautions into words, but for those that the page says anyway.
func (s Speaker) cautions(all []patient.Caution, but ...patient.Caution) []string {
	var words []string
	for _, x := range all {
		if !slices.Contains(but, x) {
			words = append(words, s.Say("patient.caution."+string(x))) //word:prefix patient.caution.
		}
	}
	return words
}

func (s Speaker) assumptions(all []patient.Assumption) []string {
	var words []string
	for _, x := range all {
		words = append(words, s.Say("patient.assumption."+string(x))) //word:prefix patient.assumption.
	}
	return words
}

// patientFault says why a calculator gives no answer.
func (s Speaker) patientFault(err error) string {
	var e *patient.Error
	if !errors.As(err, &e) {
		return s.Say("storeerror.internal")
	}
	//word:prefix patient.error.
	return upperFirst(s.fieldName(e.Field)) + ": " + s.sayOf("patient.error."+e.Code, "given", s.bound(e.Given), "low", s.bound(e.Low), "high", s.bound(e.High), "ways", "")
}
