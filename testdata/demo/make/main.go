// Command make writes the demo cases of package demo. Run it from the top of
// the tree: go run ./testdata/demo/make
//
// Everything in it is invented but the doses, which are ordinary ones; beside
// each stands its source, or that it is from memory. The courses are from memory
// of what such cases look like, and prove nothing.
package main

import (
	"bytes"
	"fmt"
	"log"
	"os"
	"path/filepath"
	"time"

	"github.com/google/uuid"

	"chinlift/core/kit"
	"chinlift/core/quantity"
	"chinlift/core/term"
	"chinlift/core/timeline"
	"chinlift/testdata/demo"
)

// folder is where the files go.
const folder = "testdata/demo"

func main() {
	log.SetFlags(0)
	table := newPhone(1, "boot-7f21", day(10).Add(-52*time.Hour))
	other := newPhone(2, "boot-03c9", day(10).Add(-11*time.Hour))
	restored := newPhone(3, "boot-a4d0", day(19).Add(20*time.Hour))

	clinic(table)
	hernia(table, other)
	abscess(table, other)
	caesarean(table, restored, other)

	for name, p := range map[string]*phone{"table": table, "assistant": other, "table-restored": restored} {
		var b bytes.Buffer
		for _, l := range p.lines {
			b.Write(l.Bytes(true))
			b.WriteByte('\n')
		}
		file := filepath.Join(folder, name+".jsonl")
		if err := os.WriteFile(file, b.Bytes(), 0o644); err != nil {
			log.Fatal(err)
		}
		log.Printf("%s: %d lines", file, len(p.lines))
	}
}

// day is the start of a day of February 2026, where the clinic is.
func day(n int) time.Time {
	return time.Date(2026, 2, n, 0, 0, 0, 0, time.FixedZone("", 3*3600))
}

// person gives the id of the nth person.
func person(n int) string { return fmt.Sprintf("019c4664-0000-7000-8000-0000000a07%02d", n) }

// The people.
var (
	surgeon = person(3)
	midwife = person(4)
	adult   = person(21)
	child   = person(22)
	newborn = person(23)
	mother  = person(24)
)

// phone is one device and its log.
type phone struct {
	n      int
	log    string
	boot   string
	booted time.Time
	skew   time.Duration // how far the wall clock is off
	seq    int64
	tick   int64
	prev   timeline.Hash
	lines  []*timeline.Line
}

func newPhone(n int, boot string, booted time.Time) *phone {
	return &phone{n: n, log: fmt.Sprintf("019c4664-0000-7000-8000-00000000100%d", n), boot: boot, booted: booted, prev: timeline.NoHash}
}

// sees hands over what another phone has written up to now.
func (p *phone) sees(o *phone) { p.tick = max(p.tick, o.tick) }

// put writes one event, entered at the true time now.
func (p *phone) put(now time.Time, d timeline.Draft) *timeline.Line {
	d.ID = p.id(now)
	wall := timeline.MomentOf(now.Add(p.skew), "Etc/GMT-3")
	d.Entered = timeline.Entered{Wall: wall, SinceBootMS: now.Sub(p.booted).Milliseconds(), Boot: p.boot}
	if d.At.IsZero() {
		d.At = wall
	}
	l, err := d.Seal(p.log, p.seq+1, p.tick+1, p.prev)
	if err != nil {
		log.Fatalf("%s, %T: %v", now.Format(time.DateTime), d.Payload, err)
	}
	p.seq, p.tick, p.prev = p.seq+1, p.tick+1, l.H
	p.lines = append(p.lines, &l)
	return &l
}

// id is a UUIDv7 (RFC 9562, section 5.7) with a counter where others have
// random bits, so that it is the same in every run.
func (p *phone) id(now time.Time) string {
	var u uuid.UUID
	ms := now.UnixMilli()
	for i := range 6 {
		u[i] = byte(ms >> (8 * (5 - i)))
	}
	u[6], u[8] = 0x70, 0x80
	u[13], u[14], u[15] = byte(p.n), byte(p.seq>>8), byte(p.seq)
	return u.String()
}

// open begins the log.
func (p *phone) open(now time.Time, what timeline.LogOpened) {
	p.put(now, timeline.Draft{Scope: timeline.ScopeDevice, About: p.log, Author: uuid.Nil.String(), Payload: &what})
}

// teller tells a case on one phone. By "08:05" it sets its clock.
type teller struct {
	*phone
	day    time.Time
	now    time.Time
	about  string
	author string
}

func (c *teller) at(clock string) *teller {
	t, err := time.Parse("15:04", clock)
	if err != nil {
		log.Fatal(err)
	}
	c.now = c.day.Add(time.Duration(t.Hour())*time.Hour + time.Duration(t.Minute())*time.Minute)
	return c
}

// say records payloads one after the other, some seconds apart.
func (c *teller) say(ps ...timeline.Payload) *timeline.Line {
	var l *timeline.Line
	for _, p := range ps {
		l = c.record(timeline.Draft{Payload: p})
	}
	return l
}

func (c *teller) record(d timeline.Draft) *timeline.Line {
	if d.Scope == "" {
		d.Scope = timeline.ScopeCase
	}
	if d.About == "" {
		d.About = c.about
	}
	d.Author = c.author
	l := c.put(c.now, d)
	c.now = c.now.Add(time.Duration(4+c.seq%5) * time.Second)
	return l
}

// note records free text.
func (c *teller) note(text string) *timeline.Line {
	return c.record(timeline.Draft{Payload: &timeline.Note{}, Private: timeline.Private{timeline.PrivateText: text}})
}

// late records what happened at an earlier time of the day.
func (c *teller) late(clock string, p timeline.Payload) *timeline.Line {
	then := *c
	return c.record(timeline.Draft{Payload: p, At: timeline.MomentOf(then.at(clock).now, "Etc/GMT-3")})
}

// correct amends an entry whose time stays. saw are the versions that the
// author had before them; none: the root alone.
func (c *teller) correct(root *timeline.Line, p timeline.Payload, why term.Reason, saw ...*timeline.Line) *timeline.Line {
	return c.amend(root, timeline.Draft{Payload: p, Reason: why}, saw...)
}

func (c *teller) amend(root *timeline.Line, d timeline.Draft, saw ...*timeline.Line) *timeline.Line {
	if len(saw) == 0 {
		saw = []*timeline.Line{root}
	}
	for _, l := range saw {
		d.Replaces = append(d.Replaces, l.Event.ID)
	}
	d.Amends = root.Event.ID
	if d.Scope == "" {
		d.Scope = root.Event.Scope
	}
	if d.About == "" {
		d.About = root.Event.About
	}
	if d.At.IsZero() {
		d.At = root.Event.At
	}
	return c.record(d)
}

// look is one row of vital signs: clock, systolic, diastolic, pulse,
// saturation, breaths. A nought is what was not measured.
type look struct {
	clock                string
	sys, dia, pulse, sat int
	breaths              int
}

func (c *teller) look(v look) *timeline.Line {
	return c.at(v.clock).say(&timeline.Vitals{Measures: v.measures()})
}

func (v look) measures() timeline.Measures {
	var m timeline.Measures
	set := func(a *quantity.Amount, n int, unit string) {
		if n != 0 {
			*a = amount(fmt.Sprintf("%d %s", n, unit))
		}
	}
	set(&m.Systolic, v.sys, "mm[Hg]")
	set(&m.Diastolic, v.dia, "mm[Hg]")
	set(&m.Pulse, v.pulse, "/min")
	set(&m.SpO2, v.sat, "%")
	set(&m.Breaths, v.breaths, "/min")
	return m
}

func amount(s string) quantity.Amount { return quantity.MustParse(s) }

func count(n int) *int { return &n }

func phase(p term.Phase) *timeline.Phase { return &timeline.Phase{Phase: p} }
func step(s term.Step) *timeline.Step    { return &timeline.Step{Step: s} }

func drug(name, dose string, by term.Route) *timeline.Drug {
	return &timeline.Drug{Drug: name, Dose: amount(dose), Route: by}
}

func drops(n int, w term.Wetness) *timeline.AgentDelivery {
	return &timeline.AgentDelivery{Agent: term.AgentEther, Drops: amount(fmt.Sprintf("%d {drop}/min", n)), Wetness: w}
}

func oxygen(flow string) *timeline.AgentDelivery {
	return &timeline.AgentDelivery{Oxygen: amount(flow)}
}

func in(what term.FluidIn, volume string) *timeline.In {
	return &timeline.In{What: what, Volume: amount(volume)}
}

func out(what term.FluidOut, volume string, how term.Measured) *timeline.Out {
	return &timeline.Out{What: what, Volume: amount(volume), How: how}
}

func support(s term.Support) *timeline.Support { return &timeline.Support{Support: s} }

func waking(activity, respiration, circulation, consciousness, oxygen int) *timeline.Waking {
	return &timeline.Waking{Activity: &activity, Respiration: &respiration, Circulation: &circulation, Consciousness: &consciousness, Oxygen: &oxygen}
}

// check looks through the clinic's one equipment list before a case. It is a
// check of the day, about the list and the date, as the companion writes it.
// What is not named in found is good; skip names what the technique has no use
// for.
func (c *teller) check(found map[string]timeline.KitItem, skip ...string) {
	lists, err := kit.Builtin()
	if err != nil {
		log.Fatal(err)
	}
	for _, l := range lists {
		if l.Code != "open-drop" {
			continue
		}
	items:
		for _, it := range l.Items {
			for _, s := range skip {
				if s == it.Code {
					continue items
				}
			}
			k, odd := found[it.Code]
			if !odd {
				k.State = term.KitStateGood
			}
			k.List, k.Version, k.Item = l.Code, l.Version, it.Code
			c.record(timeline.Draft{Scope: timeline.ScopeClinic, About: l.Code + " " + c.now.Format(time.DateOnly), Payload: &k})
		}
	}
}

// clinic writes who is there and what is set.
func clinic(p *phone) {
	at := day(9).Add(17 * time.Hour)
	p.open(at, timeline.LogOpened{Cause: term.LogCauseNew})
	c := &teller{phone: p, now: at.Add(time.Minute), author: demo.Provider}
	who := func(id, name string, roles ...term.Role) {
		c.record(timeline.Draft{Scope: timeline.ScopeClinic, About: id, Payload: &timeline.Person{Roles: roles}, Private: timeline.Private{timeline.PrivateName: name}})
	}
	who(demo.Provider, "Velu Ondrasi", term.RoleProvider)
	who(demo.Assistant, "Mirro Takebu", term.RoleAssistant, term.RoleNurse)
	who(surgeon, "Dalse Quorin", term.RoleSurgeon)
	who(midwife, "Ansi Belorva", term.RoleMidwife)
	set := func(s timeline.ClinicSetting, private timeline.Private) {
		c.record(timeline.Draft{Scope: timeline.ScopeClinic, About: string(s.Setting), Payload: &s, Private: private})
	}
	set(timeline.ClinicSetting{Setting: term.SettingClinicName}, timeline.Private{timeline.PrivateName: "Ombelu ferry clinic"})
	set(timeline.ClinicSetting{Setting: term.SettingAltitude, Value: amount("340 m")}, nil)
	set(timeline.ClinicSetting{Setting: term.SettingDropsPerMl, Value: amount("60 1")}, nil) // counted to 5 mL, as the formulary of the clinic asks
	set(timeline.ClinicSetting{Setting: term.SettingVitalsEvery, Value: amount("5 min")}, nil)
	set(timeline.ClinicSetting{Setting: term.SettingLateAfter, Value: amount("15 min")}, nil)
}

// patient writes a person who is to be anaesthetised and opens the case.
func (c *teller) patient(id, name, number string, sex term.Sex, urgency term.Urgency) {
	c.record(timeline.Draft{Scope: timeline.ScopeClinic, About: id, Payload: &timeline.Person{Roles: []term.Role{term.RolePatient}, Sex: sex},
		Private: timeline.Private{timeline.PrivateName: name, timeline.PrivateNumber: number}})
	c.say(&timeline.CaseOpened{Patient: id, Urgency: urgency})
}
