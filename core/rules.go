package core

import (
	"context"
	"maps"
	"slices"
	"strings"
	"time"

	"chinlift/core/formulary"
	"chinlift/core/term"
	"chinlift/core/timeline"
)

// rulesKept is the dose rules that were last asked for, and the files of the
// clinic that lie over the ones that come with the companion.
type rulesKept struct {
	files string
	f     *formulary.Formulary
}

// Rules gives the dose rules that hold at a time: those that come with the
// companion, with the clinic's own files laid over them.
func (c *Companion) Rules(ctx context.Context, at time.Time) (*formulary.Formulary, error) {
	entries, err := c.settingEntries(ctx, term.SettingDrugFile)
	if err != nil {
		return nil, err
	}
	blobs := laid(entries, at)
	var key strings.Builder
	for _, name := range slices.Sorted(maps.Keys(blobs)) {
		key.WriteString(name + " " + string(blobs[name]) + "\n")
	}
	c.rulesMu.Lock()
	defer c.rulesMu.Unlock()
	if c.rules.f != nil && c.rules.files == key.String() {
		return c.rules.f, nil
	}
	f, err := builtinRules()
	if err != nil {
		return nil, err
	}
	if len(blobs) > 0 {
		files := map[string][]byte{}
		for name, h := range blobs {
			if files[name], err = c.store.Blob(h); err != nil {
				return nil, err
			}
		}
		if f, err = f.With(files); err != nil {
			return nil, err
		}
	}
	c.rules = rulesKept{key.String(), f}
	return f, nil
}

// laid gives the files of the clinic that hold at a time, by name.
func laid(entries []*timeline.Entry, at time.Time) map[string]timeline.Hash {
	blobs := map[string]timeline.Hash{}
	for e, p := range timeline.Each[*timeline.ClinicSetting](entries, string(term.SettingDrugFile)) {
		if !e.Now().At.After(at) {
			blobs[p.File] = p.Blob
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

// LayDrugFile lays a file of the clinic over the dose rules, from now on. A
// file that the formulary refuses is not laid: the error names its line.
// name is the drug's code with .toml behind it.
func (c *Companion) LayDrugFile(ctx context.Context, id, name string, data []byte) (Done, error) {
	now := c.clock.Now()
	f, err := c.Rules(ctx, now.Wall)
	if err != nil {
		return Done{}, err
	}
	if _, err := f.With(map[string][]byte{name: data}); err != nil {
		return Done{}, err
	}
	h, err := c.store.PutBlob(ctx, data)
	if err != nil {
		return Done{}, err
	}
	return c.Record(ctx, Tap{ID: id, Scope: timeline.ScopeClinic, About: string(term.SettingDrugFile),
		Payload: &timeline.ClinicSetting{Setting: term.SettingDrugFile, File: name, Blob: h}})
}

// Confirmation is who stands for a rule as it reads now.
type Confirmation struct {
	By   string // a name, or empty where the name was destroyed
	At   timeline.Moment
	Rule timeline.Hash
}

// aboutRules is what confirmations are about: one row of entries for all.
const aboutRules = "dose-rules"

// confirmations gives the last confirmation of each use, by drug and use.
func (c *Companion) confirmations(ctx context.Context) (map[[2]string]Confirmation, error) {
	lines, err := c.store.Case(ctx, aboutRules)
	if err != nil {
		return nil, err
	}
	all := map[[2]string]Confirmation{}
	for e, p := range timeline.Each[*timeline.Confirmed](timeline.Fold(lines).Entries, aboutRules) {
		key := [2]string{p.Drug, p.Use}
		if p.Withdrawn {
			delete(all, key)
			continue
		}
		n := Confirmation{At: e.Now().At, Rule: p.Rule}
		person, err := c.person(ctx, e.Now().Line.Event.Author)
		if err != nil {
			return nil, err
		}
		if person != nil {
			n.By = person.Now().Private()[timeline.PrivateName]
		}
		all[key] = n
	}
	return all, nil
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
