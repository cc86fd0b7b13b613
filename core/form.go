package core

import (
	"cmp"
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/google/uuid"

	"chinlift/core/quantity"
	"chinlift/core/term"
	"chinlift/core/timeline"
)

// Reason is a code that a screen passes on; the screens know no list of
// package term.
type Reason = term.Reason

// Route is a way in, as a screen passes it on.
type Route = term.Route

// ItemState is what a look at an item of equipment found.
type ItemState = term.KitState

// KitAnswer is what will be done about a fault.
type KitAnswer = term.KitAnswer

// ReasonUndone is why an undo strikes an entry out.
const ReasonUndone = term.ReasonUndone

// Form is what a screen sends: the fields of one control or tray. A field
// that is not there was not touched.
//
// Beside the fields of the kind (by their JSON names, numbers as a person
// typed them, <field>_unit for another unit than the usual one) it may have:
//
//	at        when it happened: a clock time "11:05" of the last 24 hours, or RFC 3339;
//	          in a correction a clock time of the entry's own day
//	back      so many minutes ago, or hours: "4h"
//	start_in, start_was   of a plan, where start is not there: minutes from now ("+90") or none; or the start as it was
//	text, name, number   the private part
//	amends, heads, reason   for a correction
type Form struct {
	ID     string // of the event, minted when the control was drawn
	Case   string // case, person, or list and day
	Scope  timeline.Scope
	Kind   string
	Fields map[string][]string

	corrects timeline.Moment // in a correction: the time of the entry as it stands
}

func (f *Form) one(name string) string {
	if v := f.Fields[name]; len(v) > 0 {
		return strings.TrimSpace(v[0])
	}
	return ""
}

// usual gives the unit that a field is asked for in. Dose, rate and strength
// have none, since a milligram taken for a microgram kills; nor has the age,
// which the trays ask for in years and in months.
var usual = map[string]quantity.Unit{
	"systolic": quantity.MmHg, "diastolic": quantity.MmHg, "pulse": quantity.PerMin, "spo2": quantity.Percent,
	"breaths": quantity.PerMin, "etco2": quantity.MmHg, "temperature": quantity.Cel, "glucose": quantity.MmolPerL,
	"weight": quantity.Kg, "weight_checked": quantity.Kg, "length": quantity.Cm, "haemoglobin": quantity.GPerDL,
	"volume": quantity.ML,
	"drops":  quantity.DropsPerMin, "percent": quantity.Percent, "bottle": quantity.ML, "oxygen": quantity.LPerMin,
	"thyromental": quantity.Cm, "tidal": quantity.ML, "fio2": quantity.Percent, "agent_out": quantity.Percent,
	"loss_allowed": quantity.ML, "value": quantity.One,
	"water": quantity.L, "rated": quantity.LPerMin, "count": quantity.One,
}

// Fill makes the payload that the fields stand for. The answer is a
// *timeline.FieldError that names the field at fault.
func (f *Form) Fill(now Reading) (timeline.Payload, error) {
	p := timeline.Blank(f.Kind)
	if p == nil {
		return nil, &timeline.FieldError{Kind: f.Kind, Field: "kind", Code: "not-in-list"}
	}
	if err := f.fill(reflect.ValueOf(p).Elem(), now); err != nil {
		return nil, err
	}
	return p, p.Check()
}

var (
	amountType  = reflect.TypeFor[quantity.Amount]()
	decimalType = reflect.TypeFor[quantity.Decimal]()
	momentType  = reflect.TypeFor[timeline.Moment]()
)

func (f *Form) fill(v reflect.Value, now Reading) error {
	for i := range v.NumField() {
		field, to := v.Type().Field(i), v.Field(i)
		if field.Anonymous {
			if err := f.fill(to, now); err != nil {
				return err
			}
			continue
		}
		name, _, _ := strings.Cut(field.Tag.Get("json"), ",")
		values, text := f.Fields[name], f.one(name)
		if text == "" && field.Type == momentType {
			if text = cmp.Or(f.one(name+"_in"), f.one(name+"_was")); text == "none" {
				continue
			}
		}
		if text == "" {
			continue
		}
		bad := func(code, detail string) error {
			return &timeline.FieldError{Kind: f.Kind, Field: name, Code: code, Detail: detail}
		}
		switch {
		case field.Type == amountType:
			a, err := f.amount(name, text)
			if err != nil {
				return err
			}
			to.Set(reflect.ValueOf(a))
		case field.Type == decimalType:
			d, err := quantity.ParseEntry(text, quantity.One)
			var entry *quantity.EntryError
			if errors.As(err, &entry) {
				return bad(entry.Code, err.Error())
			}
			if err != nil {
				return bad("not-a-number", err.Error())
			}
			to.Set(reflect.ValueOf(d.Value))
		case field.Type == momentType:
			// The only time that lies in a payload is that of a plan: it is to come.
			m, err := parseTimeAhead(text, now)
			if err != nil {
				return bad("not-a-time", err.Error())
			}
			to.Set(reflect.ValueOf(m))
		case field.Type.Kind() == reflect.String:
			to.SetString(text)
		case field.Type.Kind() == reflect.Bool:
			to.SetBool(text == timeline.Yes || text == "true" || text == "on")
		case field.Type.Kind() == reflect.Int || field.Type.Kind() == reflect.Pointer && field.Type.Elem().Kind() == reflect.Int:
			n, err := strconv.Atoi(text)
			if err != nil {
				return bad("not-a-number", err.Error())
			}
			if field.Type.Kind() == reflect.Pointer {
				to.Set(reflect.ValueOf(&n))
			} else {
				to.SetInt(int64(n))
			}
		case field.Type.Kind() == reflect.Slice && field.Type.Elem().Kind() == reflect.String:
			s := reflect.MakeSlice(field.Type, 0, len(values))
			for _, v := range values {
				if v = strings.TrimSpace(v); v != "" {
					s = reflect.Append(s, reflect.ValueOf(v).Convert(field.Type.Elem()))
				}
			}
			to.Set(s)
		default:
			return bad("not-readable", "a screen cannot fill "+field.Type.String())
		}
	}
	return nil
}

func (f *Form) amount(name, text string) (quantity.Amount, error) {
	unit := usual[name]
	if code := f.one(name + "_unit"); code != "" {
		u, err := quantity.UnitOf(code)
		if err != nil {
			return quantity.Amount{}, &timeline.FieldError{Kind: f.Kind, Field: name, Code: "wrong-unit", Detail: err.Error()}
		}
		unit = u
	}
	a, err := quantity.ParseEntry(text, unit)
	var entry *quantity.EntryError
	if errors.As(err, &entry) {
		code := entry.Code
		if _, number := quantity.ParseEntry(text, quantity.One); unit.IsZero() && number == nil {
			code = "unit-missing"
		}
		return a, &timeline.FieldError{Kind: f.Kind, Field: name, Code: code}
	}
	return a, err
}

// time reads a time that was typed.
func (f *Form) time(text string, now Reading) (timeline.Moment, error) {
	if f.corrects.IsZero() {
		return parseTime(text, now)
	}
	return parseTimeNear(text, f.corrects)
}

// parseTime reads a clock time of the last 24 hours, in the zone of the
// clinic, or a time in full. A clock time just ahead of now is taken as now's
// day only within five minutes: clocks of rooms differ.
func parseTime(text string, now Reading) (timeline.Moment, error) {
	if m, err := timeline.ParseMoment(text); err == nil {
		return m, nil
	}
	at, err := clockOn(text, now.Wall)
	if err != nil {
		return timeline.Moment{}, err
	}
	if at.After(now.Wall.Add(5 * time.Minute)) {
		at = at.AddDate(0, 0, -1)
	}
	return timeline.MomentOf(at, now.Zone), nil
}

// behind is how far a planned start may lie back (house choice, no source).
const behind = 2 * time.Hour

// parseTimeAhead reads a time of a plan: so many minutes from now ("+90"), a
// clock time of the next 22 hours or of the last two, or a time in full.
func parseTimeAhead(text string, now Reading) (timeline.Moment, error) {
	if m, err := timeline.ParseMoment(text); err == nil {
		return m, nil
	}
	if minutes, ok := strings.CutPrefix(text, "+"); ok {
		n, err := strconv.Atoi(minutes)
		if err != nil || n < 0 || n > 24*60 {
			return timeline.Moment{}, fmt.Errorf("%q is no number of minutes up to a day", text)
		}
		return timeline.MomentOf(now.Wall.Truncate(time.Minute).Add(time.Duration(n)*time.Minute), now.Zone), nil
	}
	at, err := clockOn(text, now.Wall)
	if err != nil {
		return timeline.Moment{}, err
	}
	for _, days := range []int{-1, 0, 1} {
		if d := at.AddDate(0, 0, days); !d.Before(now.Wall.Add(-behind)) {
			return timeline.MomentOf(d, now.Zone), nil
		}
	}
	return timeline.MomentOf(at, now.Zone), nil
}

// acrossMidnight is how near to the old time a clock time of the next day or
// the day before must be to be taken for that (house choice, no source).
const acrossMidnight = 6 * time.Hour

// parseTimeNear reads the time of a correction: a time in full, or a clock
// time of the day of the old one, under its offset. 00:10 for what stood at
// 23:55 is the day after. The minute that the entry has already is no other
// time: the seconds stay.
func parseTimeNear(text string, old timeline.Moment) (timeline.Moment, error) {
	if m, err := timeline.ParseMoment(text); err == nil {
		return m, nil
	}
	at, err := clockOn(text, old.Time)
	if err != nil {
		return timeline.Moment{}, err
	}
	if at.Equal(old.Truncate(time.Minute)) {
		return old, nil
	}
	for _, days := range []int{-1, 1} {
		if other := at.AddDate(0, 0, days); other.Sub(old.Time).Abs() < acrossMidnight {
			at = other
			break
		}
	}
	return timeline.MomentOf(at, old.Zone), nil
}

// clockOn reads a clock time on the day of a time, in its zone.
func clockOn(text string, day time.Time) (time.Time, error) {
	t, err := time.Parse("15:04", text)
	if err != nil {
		// As it is written on a pad of digits, or by hand: 805, 0805, 8.05.
		digits := strings.ReplaceAll(text, ".", "")
		if len(digits) == 3 {
			digits = "0" + digits
		}
		t, err = time.Parse("1504", digits)
	}
	if err != nil {
		return t, fmt.Errorf("%q is neither a clock time, as 11:05, nor a time in full", text)
	}
	y, mo, d := day.Date()
	return time.Date(y, mo, d, t.Hour(), t.Minute(), 0, 0, day.Location()), nil
}

// tap turns the form into what is recorded.
func (f *Form) tap(now Reading) (Tap, error) {
	p, err := f.Fill(now)
	if err != nil {
		return Tap{}, err
	}
	t := Tap{ID: f.ID, Scope: f.Scope, About: f.Case, Payload: p}
	if t.Scope == "" {
		t.Scope = timeline.ScopeCase
	}
	if t.At, err = f.when(now); err != nil {
		return Tap{}, err
	}
	for _, key := range []string{timeline.PrivateText, timeline.PrivateName, timeline.PrivateNumber} {
		if v := f.one(key); v != "" {
			if t.Private == nil {
				t.Private = timeline.Private{}
			}
			t.Private[key] = v
		}
	}
	if t.Amends = f.one("amends"); t.Amends != "" {
		t.Replaces = f.Fields["heads"]
		t.Reason = term.Reason(f.one("reason"))
	}
	return t, nil
}

// ahead is how far clocks of rooms may differ (house choice).
const ahead = 5 * time.Minute

// when reads at and back; the zero Moment means now.
func (f *Form) when(now Reading) (timeline.Moment, error) {
	if text := f.one("at"); text != "" {
		m, err := f.time(text, now)
		if err != nil {
			return m, &timeline.FieldError{Kind: f.Kind, Field: "at", Code: "not-a-time", Detail: err.Error()}
		}
		// What lies ahead would stand as the latest and silence what is due.
		if m.After(now.Wall.Add(ahead)) {
			return m, &timeline.FieldError{Kind: f.Kind, Field: "at", Code: "to-come"}
		}
		return m, nil
	}
	if text := f.one("back"); text != "" {
		unit := time.Minute
		if hours, ok := strings.CutSuffix(text, "h"); ok {
			text, unit = hours, time.Hour
		}
		n, err := strconv.Atoi(text)
		if back := time.Duration(n) * unit; err != nil || n < 0 || n > 24*60 || back > 24*time.Hour {
			return timeline.Moment{}, &timeline.FieldError{Kind: f.Kind, Field: "back", Code: "not-a-number"}
		} else if n > 0 {
			return now.Moment().Add(-back), nil
		}
	}
	return timeline.Moment{}, nil
}

// Submit records what a form stands for. ErrNotHere when it is about a case
// of which nothing is stored.
func (c *Companion) Submit(ctx context.Context, f Form) (Done, error) {
	old, err := c.before(ctx, &f)
	if err != nil {
		return Done{}, err
	}
	if old != nil {
		f.corrects = old.Now().At
	}
	if err := c.sameStart(ctx, &f); err != nil {
		return Done{}, err
	}
	t, err := f.tap(c.clock.Now())
	if err != nil {
		return Done{}, err
	}
	if err := c.looked(ctx, &f, t); err != nil {
		return Done{}, err
	}
	if old != nil && t.At.IsZero() {
		t.At = f.corrects // a correction of the value leaves the time as it stood
	}
	_, facts := t.Payload.(*timeline.Facts)
	if facts || frozenOf(t.Payload) != nil {
		// Of two doses at once the second knows of the first; of a dose and the
		// weight that it wants, whichever comes second knows of the other.
		c.doseMu.Lock()
		defer c.doseMu.Unlock()
	}
	owed, err := c.freeze(ctx, &f, &t, old, nil)
	if err != nil {
		return Done{}, err
	}
	passed, err := c.passed(ctx, &f, &t, old)
	if err != nil {
		return Done{}, err
	}
	late, err := c.owedLate(ctx, &t)
	if err != nil {
		return Done{}, err
	}
	back, err := c.saidBack(ctx, &t)
	if err != nil {
		return Done{}, err
	}
	joined, err := c.owedJoined(ctx, &t)
	if err != nil {
		return Done{}, err
	}
	owed = slices.Concat(owed, passed, late, back, joined)
	if p, ok := t.Payload.(*timeline.Phase); ok && p.Phase == term.PhaseHandedOver {
		cs, err := c.Case(ctx, f.Case)
		if err != nil {
			return Done{}, err
		}
		owed = append(owed, c.leftEarly(cs, t)...)
	}
	done, err := c.Record(ctx, append([]Tap{t}, owed...)...)
	if err == nil && facts && old != nil {
		done, err = c.endApart(ctx, done, t, f.Case, c.tiesOf(ctx, f.Case, old.ID))
	}
	if err == nil && f.Case != "" {
		c.followDepth(ctx, f.Case, &t)
	}
	return done, err
}

// sameStart gives a plan that is sent again the start that it had at first:
// minutes from now are other minutes by now.
func (c *Companion) sameStart(ctx context.Context, f *Form) error {
	if f.Kind != "plan" || f.one("start_in") == "" {
		return nil
	}
	cs, err := c.Case(ctx, f.Case)
	if err != nil {
		return err
	}
	if v, ok := storedAs(cs, f.ID); ok {
		if p, ok := v.Payload.(*timeline.Plan); ok && !p.Start.IsZero() {
			f.Fields["start"] = []string{p.Start.String()}
		}
	}
	return nil
}

// looked checks what is said to be the same as before: that each value is the
// one that stood at the time, and is not too old. A tray may have been left
// open for long, or the time chosen may lie before the value was taken.
func (c *Companion) looked(ctx context.Context, f *Form, t Tap) error {
	p, ok := t.Payload.(*timeline.Vitals)
	if !ok || !p.LookedSame || t.Amends != "" {
		return nil
	}
	cs, err := c.Case(ctx, f.Case)
	if err != nil {
		return err
	}
	if cs.Story.Find(f.ID) != nil {
		return nil // a retry
	}
	at := t.At.Time
	if at.IsZero() {
		at = c.clock.Now().Wall
	}
	stood := cs.measures()
	for _, name := range timeline.MeasureNames {
		if len(p.Same) > 0 && !slices.Contains(p.Same, name) || p.Named(name).IsZero() {
			continue
		}
		m, ok := stood[name]
		if !ok || at.Before(m.At.Time) || at.Sub(m.At.Time) > sameWithin || !sameValue(*p.Named(name), m.Value) {
			return &timeline.FieldError{Kind: f.Kind, Field: name, Code: "too-old"}
		}
	}
	return nil
}

// sameValue compares a value that came back from a screen with the one that
// was shown there, in the screen's unit and in tenths.
func sameValue(said, stood quantity.Amount) bool {
	in, err := stood.In(said.Unit)
	if err != nil {
		return false
	}
	n, err := said.Round(1).Cmp(in.Round(1))
	return err == nil && n == 0
}

// before looks at what a form is about before it is read: that the case is
// there, and the entry that it corrects; nil for a new one.
func (c *Companion) before(ctx context.Context, f *Form) (*timeline.Entry, error) {
	c.mu.Lock()
	defer c.mu.Unlock()
	root := f.one("amends")
	if f.Scope == "" || f.Scope == timeline.ScopeCase {
		if err := c.isCase(ctx, f.Case); err != nil {
			return nil, err
		}
	}
	if root == "" {
		return nil, nil
	}
	cs, err := c.load(ctx, f.Case)
	if err != nil {
		return nil, err
	}
	e := cs.Story.Find(root)
	if e == nil {
		return nil, fmt.Errorf("entry %s: %w", root, ErrNotHere)
	}
	return e, nil
}

// derived gives an id that belongs to another: the same each time, so that a
// retry of one control that writes several events repeats them all.
func derived(base, name string) string {
	u, err := uuid.Parse(base)
	if err != nil {
		return base // Check will refuse it by name
	}
	sum := sha256.Sum256([]byte(base + " " + name))
	copy(u[6:], sum[:])
	u[6] = u[6]&0x0f | 0x70 // version 7: the time stays that of the base
	u[8] = u[8]&0x3f | 0x80
	return u.String()
}

// OpenCase begins a case: the patient, the case, and what the form already
// knows (name, number; age, sex, weight and its how and by; urgency). It
// answers the case's id.
func (c *Companion) OpenCase(ctx context.Context, f Form) (string, Done, error) {
	now := c.clock.Now()
	patient, caseID := derived(f.ID, "patient"), derived(f.ID, "case")
	person := Form{ID: derived(f.ID, "person"), Kind: "person", Scope: timeline.ScopeClinic, Case: patient,
		Fields: map[string][]string{"roles": {string(term.RolePatient)}, "sex": f.Fields["sex"], "name": f.Fields["name"], "number": f.Fields["number"]}}
	opened := Form{ID: f.ID, Kind: "case-opened", Case: caseID,
		Fields: map[string][]string{"patient": {patient}, "urgency": f.Fields["urgency"]}}
	facts := Form{ID: derived(f.ID, "facts"), Kind: "facts", Case: caseID, Fields: map[string][]string{}}
	for _, name := range []string{"age", "age_unit", "sex", "weight", "weight_how", "weight_by"} {
		if f.one(name) != "" {
			facts.Fields[name] = f.Fields[name]
		}
	}
	forms := []Form{person, opened}
	if len(facts.Fields) > 0 {
		forms = append(forms, facts)
	}
	taps := make([]Tap, 0, len(forms))
	for _, g := range forms {
		t, err := g.tap(now)
		if err != nil {
			return "", Done{}, err
		}
		taps = append(taps, t)
	}
	watched, err := c.watchTaps(ctx, &f)
	if err != nil {
		return "", Done{}, err
	}
	done, err := c.Record(ctx, append(taps, watched...)...)
	return caseID, done, err
}

// Birth records a child born: the newborn as a linked patient, and the birth.
func (c *Companion) Birth(ctx context.Context, f Form) (Done, error) {
	now := c.clock.Now()
	if _, err := c.before(ctx, &f); err != nil {
		return Done{}, err
	}
	cs, err := c.Case(ctx, f.Case)
	if err != nil {
		return Done{}, err
	}
	newborn := derived(f.ID, "newborn")
	f.Kind = "birth"
	f.Fields["newborn"] = []string{newborn}
	birth, err := f.tap(now)
	if err != nil {
		return Done{}, err
	}
	p := birth.Payload.(*timeline.Birth)
	return c.Record(ctx, Tap{ID: derived(f.ID, "person"), Scope: timeline.ScopeClinic, About: newborn, At: birth.At,
		Payload: &timeline.Person{Roles: []term.Role{term.RolePatient, term.RoleNewborn}, Sex: p.Sex, Mother: cs.Patient}}, birth)
}

// Choice is one code of a list with its words.
type Choice struct{ Code, Words string }

// Choices gives the codes of a list of package term, in the order in which
// they are offered.
func (c *Companion) Choices(list string) []Choice {
	all := term.Lists()
	i := slices.IndexFunc(all, func(l term.ListInfo) bool { return l.Name == list })
	if i < 0 {
		return nil
	}
	var cs []Choice
	for _, code := range all[i].Codes {
		//word:prefix term.
		cs = append(cs, Choice{code, c.words.Say("term." + list + "." + code)})
	}
	return cs
}

// FieldsOf gives the values of a payload as a form holds them, in the order
// of the payload's fields. It is the inverse of Fill.
func FieldsOf(p timeline.Payload) []EntryField { return fieldsOf(reflect.ValueOf(p).Elem()) }

func fieldsOf(v reflect.Value) []EntryField {
	var all []EntryField
	for i := range v.NumField() {
		field, f := v.Type().Field(i), v.Field(i)
		if field.Anonymous {
			all = append(all, fieldsOf(f)...)
			continue
		}
		name, _, _ := strings.Cut(field.Tag.Get("json"), ",")
		if name == "" || f.IsZero() {
			continue
		}
		switch x := f.Interface().(type) {
		case quantity.Amount:
			all = append(all, EntryField{Name: name, Value: x.Value.String()}, EntryField{Name: name + "_unit", Value: x.Unit.String()})
		case quantity.Decimal:
			all = append(all, EntryField{Name: name, Value: x.String()})
		case timeline.Moment:
			all = append(all, EntryField{Name: name, Value: x.String()})
		case bool:
			all = append(all, EntryField{Name: name, Value: timeline.Yes})
		case int:
			all = append(all, EntryField{Name: name, Value: strconv.Itoa(x)})
		case *int:
			all = append(all, EntryField{Name: name, Value: strconv.Itoa(*x)})
		default:
			switch f.Kind() {
			case reflect.String:
				all = append(all, EntryField{Name: name, Value: f.String()})
			case reflect.Slice:
				for j := range f.Len() {
					all = append(all, EntryField{Name: name, Value: f.Index(j).String()})
				}
			}
		}
	}
	return all
}
