package core

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"sync"
	"time"

	"chinlift/core/kit"
	"chinlift/core/term"
	"chinlift/core/timeline"
)

// KitState is one equipment list with what was found, and what is due.
type KitState struct {
	List    string
	Name    string
	Version string
	Items   []KitLine
	Good    int      // found good, and nothing due
	Faults  int      // found at fault or not here, and nobody found it good since
	Stops   int      // stops that stand in the way: failed, not looked at, or due again
	Left    int      // other items to look at
	Again   bool     // a case has been since the full check: only what is to be looked at again is left
	Last    string   // when, by whom
	Fire    bool     // of a technique that may have ether near a phone
	NoStops bool     // nothing in it stops a start
	Lacking []string // names of stops of every technique that a list of the clinic left out
}

// KitLine is one item with what was found.
type KitLine struct {
	List             string
	Code, Name, Look string
	Source, Mark     string
	Stop             bool
	State            string // good, fault, absent, again: found good and to be looked at again; empty: to be looked at
	Stands           bool   // found good before the last case, and not due: one line of it is enough
	StateWords, At   string // what was found last, and when
	Answer           string
	Photo            string // path of the photograph of a fault
	There            bool   // at fault, and replaced, mended or borrowed
	Entry            string
	Heads            []string
}

// Faulty reports that the item was last found at fault or not here.
func (l *KitLine) Faulty() bool {
	return l.State == string(term.KitStateFault) || l.State == string(term.KitStateAbsent)
}

// kitAbout is what a check of a day is about: list and day.
func kitAbout(list string, day time.Time) string { return list + " " + day.Format(time.DateOnly) }

// KitsInUse gives the lists that matter now: of the techniques of the cases
// that are open, and those that somebody went through within a month.
func (c *Companion) KitsInUse(ctx context.Context) ([]KitState, error) {
	open, err := c.OpenCases(ctx)
	if err != nil {
		return nil, err
	}
	var techniques []term.Technique
	for _, cs := range open {
		techniques = append(techniques, cs.Plan.Techniques...)
	}
	lists, begun, err := c.listsNow(ctx, "")
	if err != nil {
		return nil, err
	}
	planned := kit.For(lists, techniques...)
	var all []KitState
	for _, l := range lists {
		k, looked, err := c.kitState(ctx, l, begun)
		if err != nil {
			return nil, err
		}
		if looked || slices.Contains(planned, l) {
			all = append(all, k)
		}
	}
	return all, nil
}

// listsNow gives the equipment lists, and when cases have begun, but for one of
// them: its own beginning makes nothing due again.
func (c *Companion) listsNow(ctx context.Context, but string) ([]*kit.List, []time.Time, error) {
	lists, err := c.Lists(ctx, c.clock.Now().Wall)
	if err != nil {
		return nil, nil, err
	}
	begun, err := c.begun(ctx, but)
	return lists, begun, err
}

// Kits gives every list with what was found.
func (c *Companion) Kits(ctx context.Context) ([]KitState, error) {
	lists, begun, err := c.listsNow(ctx, "")
	if err != nil {
		return nil, err
	}
	var all []KitState
	for _, l := range lists {
		k, _, err := c.kitState(ctx, l, begun)
		if err != nil {
			return nil, err
		}
		all = append(all, k)
	}
	return all, nil
}

// Kit gives one list with what was found.
func (c *Companion) Kit(ctx context.Context, code string) (KitState, error) {
	_, k, err := c.listState(ctx, code)
	return k, err
}

func (c *Companion) listState(ctx context.Context, code string) (*kit.List, KitState, error) {
	l, err := c.findList(ctx, code)
	if err != nil {
		return nil, KitState{}, err
	}
	begun, err := c.begun(ctx, "")
	if err != nil {
		return nil, KitState{}, err
	}
	k, _, err := c.kitState(ctx, l, begun)
	return l, k, err
}

// KitItem gives one item of a list with what was found.
func (c *Companion) KitItem(ctx context.Context, list, item string) (KitLine, error) {
	k, err := c.Kit(ctx, list)
	if err != nil {
		return KitLine{}, err
	}
	for _, it := range k.Items {
		if it.Code == item {
			return it, nil
		}
	}
	return KitLine{}, fmt.Errorf("item %q of %q: %w", item, list, ErrNotHere)
}

// look is the last look at an item.
type look struct {
	entry *timeline.Entry
	days  int // days of the calendar since
	cases int // anaesthetics begun since
}

// checked gives the entries of a day's check of a list. They are kept once
// read, and so is that a day has none: before a start every tap asks for each
// day of a month.
func (c *Companion) checked(ctx context.Context, about string) ([]*timeline.Entry, error) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if entries, ok := c.checks[about]; ok {
		return entries, nil
	}
	lines, err := c.store.Case(ctx, about)
	if err != nil {
		return nil, err
	}
	if c.checks == nil || len(c.checks) >= checksKept {
		c.checks = map[string][]*timeline.Entry{}
	}
	c.checks[about] = timeline.Fold(lines).Entries
	return c.checks[about], nil
}

// checksKept is how many days of lists are kept, above a month of every list
// that a clinic is likely to have. More begins anew, so that a phone that is
// never restarted does not gather them.
const checksKept = 1000

// looks gives the last look at each item of a list within a month.
func (c *Companion) looks(ctx context.Context, list string, now time.Time) (map[string]look, error) {
	found := map[string]look{}
	for days := range kit.MonthDays + 1 {
		about := kitAbout(list, now.AddDate(0, 0, -days))
		entries, err := c.checked(ctx, about)
		if err != nil {
			return nil, err
		}
		today := map[string]look{}
		for e, p := range timeline.Each[*timeline.KitItem](entries, about) {
			today[p.Item] = look{entry: e, days: days}
		}
		for item, l := range today {
			if _, later := found[item]; !later {
				found[item] = l
			}
		}
	}
	return found, nil
}

// readiness says what a list says from what was found, with the looks. begun
// is when the last cases began, without one that counts for none that has been
// since.
func (c *Companion) readiness(ctx context.Context, l *kit.List, begun []time.Time) (kit.Readiness, map[string]look, error) {
	now := c.clock.Now()
	looks, err := c.looks(ctx, l.Code, now.Wall)
	if err != nil {
		return kit.Readiness{}, nil, err
	}
	found := map[string]kit.Found{}
	for item, k := range looks {
		v := k.entry.Now()
		f := kit.Found{State: v.Payload.(*timeline.KitItem).State, Days: k.days}
		for _, at := range begun {
			if at.After(v.At.Time) {
				f.Cases++
			}
		}
		found[item] = f
		k.cases = f.Cases
		looks[item] = k
	}
	r, err := l.Readiness(found)
	return r, looks, err
}

func (c *Companion) kitState(ctx context.Context, l *kit.List, begun []time.Time) (k KitState, looked bool, err error) {
	r, looks, err := c.readiness(ctx, l, begun)
	if err != nil {
		return k, false, err
	}
	now, s, tag := c.clock.Now(), Speaker{c.words}, c.words.Tag()
	k = KitState{List: l.Code, Name: l.Name.In(tag), Version: l.Version,
		Faults: len(r.StopsFailed) + len(r.RestFailed), Stops: len(r.StopsFailed) + len(r.StopsLeft), Left: len(r.RestLeft), Fire: nearEther(l)}
	k.NoStops = !slices.ContainsFunc(l.Items, func(it kit.Item) bool { return it.Stop })
	lacking, err := l.Lacking()
	if err != nil {
		return k, false, err
	}
	for _, code := range lacking {
		k.Lacking = append(k.Lacking, s.lacking(code, tag))
	}
	var latest *timeline.Entry
	for _, it := range l.Items {
		line := KitLine{List: l.Code, Code: it.Code, Name: it.Name.In(tag), Look: it.Look.In(tag), Source: it.Source, Mark: string(it.Mark), Stop: it.Stop}
		if f, ok := looks[it.Code]; ok {
			v := f.entry.Now()
			p := v.Payload.(*timeline.KitItem)
			line.StateWords, line.Answer = Code(s, term.KitStateList, p.State), Code(s, term.KitAnswerList, p.Answer)
			line.There = p.Answer == term.KitAnswerReplaced || p.Answer == term.KitAnswerMended || p.Answer == term.KitAnswerBorrowed
			line.At, line.Entry, line.Heads = s.onDay(v.At, now), f.entry.ID, f.entry.HeadIDs()
			if latest == nil || v.At.After(latest.Now().At.Time) {
				latest = f.entry
			}
			if v.Private()[timeline.PrivatePhoto] != "" {
				line.Photo = "kit/" + l.Code + "/photo/" + f.entry.ID
			}
			switch {
			case slices.Contains(r.Between, it.Code):
				line.State, k.Again = "again", true
				if it.Stop {
					k.Stops++
				} else {
					k.Left++
				}
			case slices.Contains(r.StopsLeft, it.Code), slices.Contains(r.RestLeft, it.Code):
			default:
				line.State = string(p.State)
				line.Stands = p.State == term.KitStateGood && f.cases > 0
			}
		}
		if line.State == string(term.KitStateGood) {
			k.Good++
		}
		k.Items = append(k.Items, line)
	}
	if latest != nil {
		by, err := c.nameOf(ctx, latest.Now().Content.Event.Author)
		if err != nil {
			return k, false, err
		}
		k.Last = s.Say("kit.last-by", "at", s.onDay(latest.Now().At, now), "by", by)
	}
	return k, latest != nil, nil
}

// nearEther says that a list is of a technique by which ether may stand open
// near a phone.
func nearEther(l *kit.List) bool {
	return slices.ContainsFunc(l.For, func(t term.Technique) bool {
		return t == term.TechniqueOpenDrop || t == term.TechniqueDrawOverMask || t == term.TechniqueDrawOverTube
	})
}

// onDay writes a time of day, with its day where that is not today.
func (s Speaker) onDay(m timeline.Moment, now Reading) string {
	if m.Format(time.DateOnly) == now.Wall.Format(time.DateOnly) {
		return s.Clock(m)
	}
	return s.Date(m)
}

// nameOf gives the name of a person, or what stands for nobody's.
func (c *Companion) nameOf(ctx context.Context, id string) (string, error) {
	e, err := c.person(ctx, id)
	if err != nil {
		return "", err
	}
	name := ""
	if e != nil {
		name = e.Now().Private()[timeline.PrivateName]
	}
	return cmpOr(name, c.words.Say("record.unnamed")), nil
}

// CheckItem records one look at one item. A second look at an item on the
// same day is a new entry, which stands before the first. The list's bytes are
// kept under its version, so that the check can be read as it was when the
// list has long become another.
func (c *Companion) CheckItem(ctx context.Context, id, list, item string, state term.KitState, answer term.KitAnswer) (Done, error) {
	l, err := c.findList(ctx, list)
	if err != nil {
		return Done{}, err
	}
	if l.Find(item) == nil {
		return Done{}, &timeline.FieldError{Kind: "kit", Field: "item", Code: "not-in-list"}
	}
	if err := c.keepList(ctx, l); err != nil {
		return Done{}, err
	}
	return c.Record(ctx, Tap{ID: id, Scope: timeline.ScopeClinic, About: kitAbout(list, c.clock.Now().Wall),
		Payload: &timeline.KitItem{List: list, Version: l.Version, Item: item, State: state, Answer: answer}})
}

// SweepRest records as good every item that is no stop and is to be looked at,
// each by its own entry. Stops are never swept, nor what is at fault. A retry
// answers what the sweep of this id recorded.
func (c *Companion) SweepRest(ctx context.Context, id, list string) (Done, error) {
	l, k, err := c.listState(ctx, list)
	if err != nil {
		return Done{}, err
	}
	if err := c.keepList(ctx, l); err != nil {
		return Done{}, err
	}
	about := kitAbout(list, c.clock.Now().Wall)
	lines, err := c.store.Case(ctx, about)
	if err != nil {
		return Done{}, err
	}
	stored := map[string]bool{}
	for _, l := range lines {
		stored[l.Event.ID] = true
	}
	var rest, again []Tap
	for _, it := range k.Items {
		t := Tap{ID: derived(id, it.Code), Scope: timeline.ScopeClinic, About: about,
			Payload: &timeline.KitItem{List: list, Version: k.Version, Item: it.Code, State: term.KitStateGood, Swept: true}}
		switch {
		case stored[t.ID]:
			again = append(again, t)
		case !it.Stop && (it.State == "" || it.State == "again"):
			rest = append(rest, t)
		}
	}
	return c.sweep(ctx, again, rest)
}

// sweep records the rest of a list, or answers what the same sweep recorded
// before.
func (c *Companion) sweep(ctx context.Context, again, rest []Tap) (Done, error) {
	switch {
	case len(again) > 0:
		return c.Record(ctx, again...)
	case len(rest) > 0:
		return c.Record(ctx, rest...)
	}
	return Done{}, ErrNothingLeft
}

// ErrNothingLeft says that every item has been looked at.
var ErrNothingLeft = errors.New("nothing is left to call good")

// Held is what the check of one list leaves open before a case, in codes of
// items. While a stop is among it the plan is held.
type Held struct {
	List, Name string
	Failed     []string          // stops at fault or not here
	Left       []string          // stops not looked at, or due again
	Named      map[string]string // their names, by code
	Words      string
}

// KitOpen gives what is open in the checks of a case's techniques: nothing
// where every stop was found good, or no technique is planned.
func (c *Companion) KitOpen(ctx context.Context, cs *Case) ([]Held, error) {
	if len(cs.Plan.Techniques) == 0 {
		return nil, nil
	}
	lists, begun, err := c.listsNow(ctx, cs.ID)
	if err != nil {
		return nil, err
	}
	s, tag := Speaker{c.words}, c.words.Tag()
	var held []Held
	for _, l := range kit.For(lists, cs.Plan.Techniques...) {
		r, _, err := c.readiness(ctx, l, begun)
		if err != nil {
			return nil, err
		}
		if r.Ready {
			continue
		}
		h := Held{List: l.Code, Name: l.Name.In(tag), Failed: r.StopsFailed, Left: r.StopsLeft}
		for _, code := range r.Between {
			if l.Find(code).Stop {
				h.Left = append(h.Left, code)
			}
		}
		var names []string
		for _, code := range h.Failed {
			names = append(names, l.Find(code).Name.In(tag))
		}
		h.Named = map[string]string{}
		for _, code := range slices.Concat(h.Failed, h.Left) {
			h.Named[code] = l.Find(code).Name.In(tag)
		}
		failed, left := "", ""
		if len(names) > 0 {
			failed = s.Say("kit.held-failed", "what", strings.Join(names, ", "))
		}
		if len(h.Left) > 0 {
			left = s.Count("kit.stops", len(h.Left))
		}
		h.Words = s.Say("kit.held", "list", h.Name, "open", join("; ", failed, left))
		held = append(held, h)
	}
	return held, nil
}

// CheckDay is one day's check of a list, as it was read that day.
type CheckDay struct {
	List, Name, Day string
	Looks           []CheckLook
}

// CheckLook is one look, in the words of the list's version.
type CheckLook struct {
	At, Name, Look, State, Answer, By string
	Version                           string // the first letters of it
	Swept, Struck, Worded             bool   // Worded: the list of that version is here
	Photo                             string
}

// CheckDays lists the days within a month on which somebody went through a
// list, the latest first.
func (c *Companion) CheckDays(ctx context.Context, list string) ([]string, error) {
	now := c.clock.Now().Wall
	var days []string
	for n := range kit.MonthDays + 1 {
		day := now.AddDate(0, 0, -n)
		entries, err := c.checked(ctx, kitAbout(list, day))
		if err != nil {
			return nil, err
		}
		if len(entries) > 0 {
			days = append(days, day.Format(time.DateOnly))
		}
	}
	return days, nil
}

// CheckDay gives the check of a list on a day, 2026-11-25, with the wording
// that each look had.
func (c *Companion) CheckDay(ctx context.Context, list, day string) (CheckDay, error) {
	d, err := time.Parse(time.DateOnly, day)
	if err != nil {
		return CheckDay{}, fmt.Errorf("day %q: %w", day, ErrNotHere)
	}
	about := kitAbout(list, d)
	lines, err := c.store.Case(ctx, about)
	if err != nil {
		return CheckDay{}, err
	}
	if len(lines) == 0 {
		return CheckDay{}, fmt.Errorf("no check of %q on %s: %w", list, day, ErrNotHere)
	}
	s, tag := Speaker{c.words}, c.words.Tag()
	v := CheckDay{List: list, Name: strings.ReplaceAll(list, "-", " "), Day: day}
	for _, e := range timeline.Fold(lines).Entries {
		now := e.Now()
		p, ok := now.Payload.(*timeline.KitItem)
		if !ok {
			continue
		}
		l := CheckLook{At: s.Clock(now.At), Name: strings.ReplaceAll(p.Item, "-", " "), State: Code(s, term.KitStateList, p.State),
			Answer: Code(s, term.KitAnswerList, p.Answer), Version: p.Version[:8], Swept: p.Swept, Struck: now.Struck}
		if of := c.listOf(p.List, p.Version); of != nil {
			v.Name = of.Name.In(tag)
			if it := of.Known(p.Item); it != nil {
				l.Name, l.Look, l.Worded = it.Name.In(tag), it.Look.In(tag), true
			}
		}
		if l.By, err = c.nameOf(ctx, now.Content.Event.Author); err != nil {
			return CheckDay{}, err
		}
		if now.Private()[timeline.PrivatePhoto] != "" {
			l.Photo = "kit/" + list + "/photo/" + e.ID
		}
		v.Looks = append(v.Looks, l)
	}
	return v, nil
}

// versions holds lists by their version. A version is the hash of the list,
// so that whoever put it here, it is the same list.
var versions sync.Map

// listOf gives a list as it was in a version; nil where that is not here.
func (c *Companion) listOf(code, version string) *kit.List {
	if l, ok := versions.Load(version); ok {
		return l.(*kit.List)
	}
	if lists, err := kit.Builtin(); err == nil {
		for _, l := range lists {
			versions.Store(l.Version, l)
		}
	}
	if l, ok := versions.Load(version); ok {
		return l.(*kit.List)
	}
	data, err := c.store.Blob(timeline.Hash(version))
	if err != nil {
		return nil
	}
	l, err := kit.Parse(code, data)
	if err != nil || l.Version != version {
		return nil
	}
	versions.Store(version, l)
	return l
}

// keepList keeps the bytes of a list under its version.
func (c *Companion) keepList(ctx context.Context, l *kit.List) error {
	c.rulesMu.Lock()
	defer c.rulesMu.Unlock()
	if c.keptLists[l.Version] {
		return nil
	}
	h, err := c.store.PutBlob(ctx, l.TOML())
	if err != nil {
		return err
	}
	if string(h) != l.Version {
		return fmt.Errorf("list %s: its version %s is not the hash %s of its bytes", l.Code, l.Version, h)
	}
	if c.keptLists == nil {
		c.keptLists = map[string]bool{}
	}
	c.keptLists[l.Version] = true
	return nil
}
