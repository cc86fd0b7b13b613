package core

import (
	"context"
	"errors"
	"fmt"

	"chinlift/core/kit"
	"chinlift/core/term"
	"chinlift/core/timeline"
)

// KitState is one equipment list with what was found today.
type KitState struct {
	List    string
	Name    string
	Version string
	Items   []KitLine
	Good    int
	Faults  int
	Stops   int // stops that were not found good today
	Left    int // other items not looked at today
	Last    string
}

// KitLine is one item with what was found today.
type KitLine struct {
	Code, Name, Look string
	Source, Mark     string
	Stop             bool
	State            string // good, fault, absent, or empty: not looked at today
	StateWords, At   string
	Answer           string
	Entry            string
	Heads            []string
}

// kitAbout is what a check of the day is about: list and day.
func kitAbout(list string, now Reading) string { return list + " " + now.Wall.Format("2006-01-02") }

// Kits gives every list with what was found today.
func (c *Companion) Kits(ctx context.Context) ([]KitState, error) {
	lists, err := kit.Builtin()
	if err != nil {
		return nil, err
	}
	var all []KitState
	for _, l := range lists {
		k, err := c.kitState(ctx, l)
		if err != nil {
			return nil, err
		}
		all = append(all, k)
	}
	return all, nil
}

// Kit gives one list with what was found today.
func (c *Companion) Kit(ctx context.Context, code string) (KitState, error) {
	l, err := findList(code)
	if err != nil {
		return KitState{}, err
	}
	return c.kitState(ctx, l)
}

func findList(code string) (*kit.List, error) {
	lists, err := kit.Builtin()
	if err != nil {
		return nil, err
	}
	for _, l := range lists {
		if l.Code == code {
			return l, nil
		}
	}
	return nil, fmt.Errorf("equipment list %q: %w", code, ErrNotHere)
}

func (c *Companion) kitState(ctx context.Context, l *kit.List) (KitState, error) {
	now, s, tag := c.clock.Now(), Speaker{c.words}, c.words.Tag()
	about := kitAbout(l.Code, now)
	lines, err := c.store.Case(ctx, about)
	if err != nil {
		return KitState{}, err
	}
	found := map[string]*timeline.Entry{}
	k := KitState{List: l.Code, Name: l.Name.In(tag), Version: l.Version}
	for e, p := range timeline.Each[*timeline.KitItem](timeline.Fold(lines).Entries, about) {
		found[p.Item] = e
		k.Last = s.Clock(e.Now().At)
	}
	for _, it := range l.Items {
		line := KitLine{Code: it.Code, Name: it.Name.In(tag), Look: it.Look.In(tag), Source: it.Source, Mark: string(it.Mark), Stop: it.Stop}
		if e := found[it.Code]; e != nil {
			p := e.Now().Payload.(*timeline.KitItem)
			line.State, line.StateWords = string(p.State), Code(s, term.KitStateList, p.State)
			line.At, line.Answer = s.Clock(e.Now().At), Code(s, term.KitAnswerList, p.Answer)
			line.Entry, line.Heads = e.ID, e.HeadIDs()
		}
		switch {
		case line.State == string(term.KitStateGood):
			k.Good++
		case line.State != "":
			k.Faults++
		}
		switch {
		case it.Stop && line.State != string(term.KitStateGood):
			k.Stops++
		case !it.Stop && line.State == "":
			k.Left++
		}
		k.Items = append(k.Items, line)
	}
	return k, nil
}

// CheckItem records one look at one item. A second look at an item on the
// same day is a new entry, which stands before the first.
func (c *Companion) CheckItem(ctx context.Context, id, list, item string, state term.KitState, answer term.KitAnswer) (Done, error) {
	l, err := findList(list)
	if err != nil {
		return Done{}, err
	}
	if l.Find(item) == nil {
		return Done{}, &timeline.FieldError{Kind: "kit", Field: "item", Code: "not-in-list"}
	}
	return c.Record(ctx, Tap{ID: id, Scope: timeline.ScopeClinic, About: kitAbout(list, c.clock.Now()),
		Payload: &timeline.KitItem{List: list, Version: l.Version, Item: item, State: state, Answer: answer}})
}

// SweepRest records as good every item that is no stop and was not looked at
// today, each by its own entry. Stops are never swept. A retry answers what
// the sweep of this id recorded.
func (c *Companion) SweepRest(ctx context.Context, id, list string) (Done, error) {
	k, err := c.Kit(ctx, list)
	if err != nil {
		return Done{}, err
	}
	about := kitAbout(list, c.clock.Now())
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
		case !it.Stop && it.State == "":
			rest = append(rest, t)
		}
	}
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
