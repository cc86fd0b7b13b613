package core

import (
	"context"
	"fmt"
	"slices"

	"chinlift/core/term"
	"chinlift/core/timeline"
)

// Whoever opens the companion for the first time is asked for no name. The
// entries that were made then carry the id of somebody unknown; who that was
// can be said later, on any device.

// claimsMost bounds how far claims are followed: two that name each other
// must not lead round for ever.
const claimsMost = 4

// person gives the entry of a person, or nil when nothing is known of them. For
// somebody who was unknown and was claimed it is that of who it was.
func (c *Companion) person(ctx context.Context, id string) (*timeline.Entry, error) {
	var first *timeline.Entry
	for range claimsMost {
		lines, err := c.store.Case(ctx, id)
		if err != nil {
			return nil, err
		}
		entries := timeline.Fold(lines).Entries
		for e := range timeline.Each[*timeline.Person](entries, id) {
			if first == nil {
				first = e
			}
			if id != first.Now().Case {
				return e, nil // who it was
			}
			break
		}
		next := ""
		for _, p := range timeline.Each[*timeline.Claimed](entries, id) {
			next = p.Person // the last one stands
		}
		if next == "" || next == id {
			break
		}
		id = next
	}
	return first, nil
}

// Somebody is a person who works here.
type Somebody struct {
	Person  string
	Name    string // empty: nobody knows
	Since   string // when they were first heard of, in words
	Entries int    // of theirs, in the cases that were touched last
	Cases   int    // in which these are
	Here    bool   // the person at this device
}

// People lists those who made entries under no name, and those who have one:
// the former can be claimed for one of the latter. Names that are sealed and
// cannot be read are left out of both.
func (c *Companion) People(ctx context.Context) (unknown, known []Somebody, err error) {
	c.lockWhenDue()
	lines, err := c.store.Scope(ctx, timeline.ScopeClinic)
	if err != nil {
		return nil, nil, err
	}
	s := Speaker{c.words}
	var all []*timeline.Entry
	claimed := map[string]bool{}
	for _, e := range timeline.Fold(lines).Entries {
		switch p := e.Now().Payload.(type) {
		case *timeline.Person:
			if !e.Now().Struck && slices.ContainsFunc(p.Roles, func(r term.Role) bool { return r != term.RolePatient && r != term.RoleNewborn }) {
				all = append(all, e)
			}
		case *timeline.Claimed:
			claimed[e.Now().Case] = claimed[e.Now().Case] || !e.Now().Struck
		}
	}
	entries, cases, err := c.byAuthor(ctx)
	if err != nil {
		return nil, nil, err
	}
	here := c.Author()
	for _, e := range all {
		now := e.Now()
		one := Somebody{Person: now.Case, Name: now.Private()[timeline.PrivateName], Since: s.Date(e.Versions[0].At), Entries: entries[now.Case], Cases: cases[now.Case], Here: now.Case == here}
		switch {
		case claimed[now.Case] || now.Content.Sealed:
		case one.Name == "":
			unknown = append(unknown, one)
		default:
			known = append(known, one)
		}
	}
	return unknown, known, nil
}

// byAuthor counts the entries of each author in the cases touched last.
func (c *Companion) byAuthor(ctx context.Context) (entries, cases map[string]int, err error) {
	refs, err := c.store.Recent(ctx, recentCases, 0)
	if err != nil {
		return nil, nil, err
	}
	entries, cases = map[string]int{}, map[string]int{}
	for _, r := range refs {
		cs, err := c.peek(ctx, r.ID)
		if err != nil {
			return nil, nil, err
		}
		seen := map[string]bool{}
		for _, l := range cs.lines {
			entries[l.Event.Author]++
			if !seen[l.Event.Author] {
				cases[l.Event.Author]++
			}
			seen[l.Event.Author] = true
		}
	}
	return entries, cases, nil
}

// Claim records who somebody was that made entries under no name: the entries
// stay as they are, and show the name from then on.
func (c *Companion) Claim(ctx context.Context, id, unknown, person string) (Done, error) {
	who, err := c.person(ctx, person)
	if err != nil {
		return Done{}, err
	}
	was, err := c.person(ctx, unknown)
	if err != nil {
		return Done{}, err
	}
	if who == nil || was == nil {
		return Done{}, fmt.Errorf("person: %w", ErrNotHere)
	}
	if who.Now().Case == unknown {
		return Done{}, &timeline.FieldError{Kind: "claimed", Field: "person", Code: "contradiction"}
	}
	done, err := c.Record(ctx, Tap{ID: id, Scope: timeline.ScopeClinic, About: unknown, Payload: &timeline.Claimed{Person: person}})
	if err != nil {
		return done, err
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	c.forgetAll() // whoever has the name shown
	return done, nil
}
