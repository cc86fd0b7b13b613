package core

import (
	"cmp"
	"context"
	"maps"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"chinlift/core/formulary"
	"chinlift/core/term"
	"chinlift/core/timeline"
)

// Rules is the dose rules that hold at a time: those that come with the
// companion, with the clinic's own files laid over them.
type Rules struct {
	*formulary.Formulary
	// Left names the files of the clinic that could not be laid, and why: their
	// blob is not on this device, or this version of the companion refuses
	// them. The drug is then as it comes with the companion, or not there; no
	// fact waits for it.
	Left map[string]error
}

// rulesMost bounds how many sets of rules are kept: the one of now, and a few
// that old doses are looked at by.
const rulesMost = 4

// Rules gives the rules that hold at a time.
func (c *Companion) Rules(ctx context.Context, at time.Time) (*Rules, error) {
	entries, err := c.settingEntries(ctx, term.SettingDrugFile)
	if err != nil {
		return nil, err
	}
	blobs := laid(entries, at)
	names := slices.Sorted(maps.Keys(blobs))
	var key strings.Builder
	for _, name := range names {
		key.WriteString(name + " " + string(blobs[name]) + "\n")
	}
	c.rulesMu.Lock()
	defer c.rulesMu.Unlock()
	if r := c.rules[key.String()]; r != nil {
		return r, nil
	}
	f, err := builtinRules()
	if err != nil {
		return nil, err
	}
	r := &Rules{Formulary: f, Left: map[string]error{}}
	files := map[string][]byte{}
	for _, name := range names {
		data, err := c.store.Blob(blobs[name])
		if err == nil {
			_, err = formulary.Parse(name, data)
		}
		if err != nil {
			r.Left[name] = err
			continue
		}
		files[name] = data
	}
	// Files may name each other's drugs; where all of them together do not
	// stand, each is tried on its own.
	if all, err := f.With(files); err == nil {
		r.Formulary = all
	} else {
		for _, name := range slices.Sorted(maps.Keys(files)) {
			if one, err := r.With(map[string][]byte{name: files[name]}); err == nil {
				r.Formulary = one
			} else {
				r.Left[name] = err
			}
		}
	}
	if len(r.Left) > 0 {
		return r, nil // a blob may arrive: it is tried again
	}
	if len(c.rules) >= rulesMost {
		clear(c.rules)
	}
	if c.rules == nil {
		c.rules = map[string]*Rules{}
	}
	c.rules[key.String()] = r
	return r, nil
}

// drugFileName gives the name under which a drug's file is kept, whatever it
// was called on the way.
func drugFileName(name string) string {
	return strings.TrimSuffix(strings.ToLower(strings.TrimSpace(name)), ".toml") + ".toml"
}

// laid gives the files of the clinic that hold at a time, by name.
func laid(entries []*timeline.Entry, at time.Time) map[string]timeline.Hash {
	blobs := map[string]timeline.Hash{}
	for e, p := range timeline.Each[*timeline.ClinicSetting](entries, string(term.SettingDrugFile)) {
		if !e.Now().At.After(at) {
			blobs[drugFileName(p.File)] = p.Blob
		}
	}
	return blobs
}

// ownFiles names the files of the clinic that lie over the rules now.
func (c *Companion) ownFiles(ctx context.Context) ([]string, error) {
	entries, err := c.settingEntries(ctx, term.SettingDrugFile)
	if err != nil {
		return nil, err
	}
	return slices.Sorted(maps.Keys(laid(entries, c.clock.Now().Wall))), nil
}

// drugFileMost bounds a drug's file, in bytes; the longest that come with the
// companion have a tenth of it.
const drugFileMost = 200_000

// LayDrugFile lays a file of the clinic over the dose rules, from a time on;
// the zero Moment means from now on. A file that the rules refuse is not laid:
// the error is a *formulary.FileError, which names its lines, or a
// *timeline.FieldError. What was laid before may be in any state: a good file
// mends it. name is the drug's code, with .toml behind it or not.
func (c *Companion) LayDrugFile(ctx context.Context, id, name string, data []byte, from timeline.Moment) (Done, error) {
	refuse := func(field, code string) error {
		return &timeline.FieldError{Kind: "setting", Field: field, Code: code}
	}
	name = drugFileName(name)
	switch {
	case name == ".toml":
		return Done{}, refuse("file", "missing")
	case len(data) == 0:
		return Done{}, refuse("toml", "missing")
	case len(data) > drugFileMost:
		return Done{}, refuse("toml", "too-long")
	case !utf8.Valid(data):
		return Done{}, refuse("toml", "not-readable")
	}
	r, err := c.Rules(ctx, cmp.Or(from.Time, c.clock.Now().Wall))
	if err != nil {
		return Done{}, err
	}
	if _, err := r.With(map[string][]byte{name: data}); err != nil {
		return Done{}, err
	}
	h, err := c.store.PutBlob(ctx, data)
	if err != nil {
		return Done{}, err
	}
	return c.Record(ctx, Tap{ID: id, Scope: timeline.ScopeClinic, About: string(term.SettingDrugFile), At: from,
		Payload: &timeline.ClinicSetting{Setting: term.SettingDrugFile, File: name, Blob: h}})
}

// FromDay reads from when something of the clinic holds: a day, from its first
// minute; empty is from now on.
func (c *Companion) FromDay(day string) (timeline.Moment, error) {
	if day == "" {
		return timeline.Moment{}, nil
	}
	now := c.clock.Now()
	at, err := time.ParseInLocation("2006-01-02", day, now.Wall.Location())
	if err != nil {
		return timeline.Moment{}, &timeline.FieldError{Kind: "setting", Field: "from", Code: "not-a-time", Detail: day}
	}
	return timeline.MomentOf(at, now.Zone), nil
}

// TakeBackDrugFile lays the rules that come with the companion over what the
// clinic had laid; a drug that is the clinic's alone goes. It is one more
// entry: what was given under the clinic's rule keeps it.
func (c *Companion) TakeBackDrugFile(ctx context.Context, id, name string) (Done, error) {
	name = drugFileName(name)
	data := formulary.BuiltinFile(name)
	if data == nil {
		r, err := c.Rules(ctx, c.clock.Now().Wall)
		if err != nil {
			return Done{}, err
		}
		own, err := c.settingEntries(ctx, term.SettingDrugFile)
		if err != nil {
			return Done{}, err
		}
		h, ok := laid(own, c.clock.Now().Wall)[name]
		if !ok || r.Find(strings.TrimSuffix(name, ".toml")) == nil {
			return Done{}, ErrNotHere
		}
		if data, err = c.store.Blob(h); err != nil {
			return Done{}, err
		}
		data = append([]byte("retired = true\n"), data...)
	}
	return c.LayDrugFile(ctx, id, name, data, timeline.Moment{})
}

// Confirmation is who stands for a rule.
type Confirmation struct {
	By   string // a name, or empty where the name was destroyed
	At   timeline.Moment
	Rule timeline.Hash
}

// ruleKey is one rule as it reads: two devices may know two versions of it.
type ruleKey struct {
	Drug, Use string
	Rule      timeline.Hash
}

// aboutRules is what confirmations are about: one row of entries for all.
const aboutRules = "dose-rules"

// confirming is one entry of somebody standing for a rule, or taking that back.
type confirming struct {
	rule      ruleKey
	at        timeline.Moment
	by        string // a name, or empty where the name was destroyed
	withdrawn bool
}

// confirmings gives all of them by the time at which they happened. They are
// kept once read: a tray of drugs must not ask the disk for what has not
// changed. It is never nil without an error.
func (c *Companion) confirmings(ctx context.Context) ([]confirming, error) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.confirmed != nil {
		return c.confirmed, nil
	}
	lines, err := c.store.Case(ctx, aboutRules)
	if err != nil {
		return nil, err
	}
	all, names := []confirming{}, map[string]string{}
	for e, p := range timeline.Each[*timeline.Confirmed](timeline.Fold(lines).Entries, aboutRules) {
		author := e.Now().Line.Event.Author
		if _, ok := names[author]; !ok {
			person, err := c.person(ctx, author)
			if err != nil {
				return nil, err
			}
			if names[author] = ""; person != nil {
				names[author] = person.Now().Private()[timeline.PrivateName]
			}
		}
		all = append(all, confirming{ruleKey{p.Drug, p.Use, p.Rule}, e.Now().At, names[author], p.Withdrawn})
	}
	c.confirmed = all
	return all, nil
}

// confirmations gives the last confirmation of each rule that has one.
func (c *Companion) confirmations(ctx context.Context) (map[ruleKey]Confirmation, error) {
	history, err := c.confirmings(ctx)
	if err != nil {
		return nil, err
	}
	all := map[ruleKey]Confirmation{}
	for _, x := range history {
		if x.withdrawn {
			delete(all, x.rule)
		} else {
			all[x.rule] = Confirmation{By: x.by, At: x.at, Rule: x.rule.Rule}
		}
	}
	return all, nil
}

// rulesNow gives the rules that hold now, and who stands for them.
func (c *Companion) rulesNow(ctx context.Context) (*Rules, map[ruleKey]Confirmation, Reading, error) {
	now := c.clock.Now()
	f, err := c.Rules(ctx, now.Wall)
	if err != nil {
		return nil, nil, now, err
	}
	confirmed, err := c.confirmations(ctx)
	return f, confirmed, now, err
}

// confirmedBy says who stood for a rule at a time: before it, and not taken
// back by then.
func confirmedBy(history []confirming, rule ruleKey, at time.Time) (by string, ok bool) {
	for _, x := range history {
		if x.rule == rule && !x.at.After(at) {
			by, ok = x.by, !x.withdrawn
		}
	}
	return by, ok
}

// Confirm records that the person at this device read a rule and stands for
// it, or takes that back. Whoever has no name yet cannot: the error names the
// field. The rule is the one that was on the screen; where another holds by
// now the error is a *timeline.FieldError of the field rule.
func (c *Companion) Confirm(ctx context.Context, id, drug, use, rule string, withdrawn bool) (Done, error) {
	p := &timeline.Confirmed{Drug: drug, Use: use, Rule: timeline.Hash(rule), Withdrawn: withdrawn}
	name, err := c.AuthorName(ctx)
	if err != nil {
		return Done{}, err
	}
	if name == "" {
		return Done{}, &timeline.FieldError{Kind: p.Kind().Name(), Field: "name", Code: "missing"}
	}
	f, err := c.Rules(ctx, c.clock.Now().Wall)
	if err != nil {
		return Done{}, err
	}
	d := f.Find(drug)
	if d == nil || d.Use(use) == nil {
		return Done{}, ErrNotHere
	}
	if d.Use(use).Hash() != rule {
		return Done{}, &timeline.FieldError{Kind: p.Kind().Name(), Field: "rule", Code: "changed"}
	}
	return c.Record(ctx, Tap{ID: id, Scope: timeline.ScopeClinic, About: aboutRules, Payload: p})
}
