package core

import (
	"context"
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"chinlift/core/kit"
	"chinlift/core/term"
	"chinlift/core/timeline"
)

// listsKept is the equipment lists that were last asked for, and the files of
// the clinic that lie over those that come with the companion.
type listsKept struct {
	files  string
	lists  []*kit.List
	faults error
}

// Lists gives the equipment lists that hold at a time: those that come with
// the companion, with the clinic's own laid over them. A file that is not on
// this device, or is at fault, takes no list away: the one below it stands.
func (c *Companion) Lists(ctx context.Context, at time.Time) ([]*kit.List, error) {
	lists, _, err := c.listsAt(ctx, at)
	return lists, err
}

func (c *Companion) listsAt(ctx context.Context, at time.Time) (lists []*kit.List, faults error, err error) {
	blobs, err := c.listFiles(ctx, at)
	if err != nil {
		return nil, nil, err
	}
	var key strings.Builder
	for _, name := range slices.Sorted(maps.Keys(blobs)) {
		key.WriteString(name + " " + string(blobs[name]) + "\n")
	}
	c.rulesMu.Lock()
	defer c.rulesMu.Unlock()
	if c.lists.lists != nil && c.lists.files == key.String() {
		return c.lists.lists, c.lists.faults, nil
	}
	own := map[string][]byte{}
	whole := true
	for name, h := range blobs {
		data, err := c.store.Blob(h)
		if err != nil {
			whole = false
			continue
		}
		own[name] = data
	}
	lists, faults = kit.With(own)
	if lists == nil {
		return nil, nil, faults
	}
	if whole { // a blob may still come
		c.lists = listsKept{key.String(), lists, faults}
	}
	for _, l := range lists {
		versions.Store(l.Version, l)
	}
	return lists, faults, nil
}

// listFiles gives the clinic's files of lists that hold at a time, by name.
func (c *Companion) listFiles(ctx context.Context, at time.Time) (map[string]timeline.Hash, error) {
	entries, err := c.settingEntries(ctx, term.SettingListFile)
	if err != nil {
		return nil, err
	}
	blobs := map[string]timeline.Hash{}
	for e, p := range timeline.Each[*timeline.ClinicSetting](entries, string(term.SettingListFile)) {
		if !e.Now().At.After(at) {
			blobs[p.File] = p.Blob
		}
	}
	return blobs, nil
}

func (c *Companion) findList(ctx context.Context, code string) (*kit.List, error) {
	lists, err := c.Lists(ctx, c.clock.Now().Wall)
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

// LayListFile lays a file of the clinic over the equipment lists, from now on.
// A file that is at fault is not laid: the error is a *kit.FileError with its
// line. name is the list's code with .toml behind it.
func (c *Companion) LayListFile(ctx context.Context, id, name string, data []byte) (Done, error) {
	now := c.clock.Now()
	blobs, err := c.listFiles(ctx, now.Wall)
	if err != nil {
		return Done{}, err
	}
	own := map[string][]byte{}
	for n, h := range blobs {
		if b, err := c.store.Blob(h); err == nil {
			own[n] = b
		}
	}
	_, before := kit.With(own)
	own[name] = data
	// What was at fault before is not this file's doing.
	if _, after := kit.With(own); after != nil && (before == nil || after.Error() != before.Error()) {
		return Done{}, after
	}
	return c.layList(ctx, id, name, data)
}

func (c *Companion) layList(ctx context.Context, id, name string, data []byte) (Done, error) {
	h, err := c.store.PutBlob(ctx, data)
	if err != nil {
		return Done{}, err
	}
	return c.Record(ctx, Tap{ID: id, Scope: timeline.ScopeClinic, About: string(term.SettingListFile),
		Payload: &timeline.ClinicSetting{Setting: term.SettingListFile, File: name, Blob: h}})
}

// ListFile gives a list as a file that another clinic can lay over its own.
func (c *Companion) ListFile(ctx context.Context, code string) ([]byte, error) {
	l, err := c.findList(ctx, code)
	if err != nil {
		return nil, err
	}
	return l.TOML(), nil
}

// ListEdit is one change to a list of the clinic.
type ListEdit struct {
	Act  string // add, change, up, down, retire, withdraw
	Item string // code, but for add and withdraw

	// For add and change, in the language of the screens.
	Name, Look    string
	Stop, Between bool
	Every         string
	Seen          string // the version that was on the screen
}

// EditList makes a list of the clinic's own out of one, by one change, and
// lays it over: checks that were recorded before keep the wording that they
// had. A list that became another since it was on the screen is a
// *timeline.FieldError of the field version; what cannot be written is a
// *kit.Error.
func (c *Companion) EditList(ctx context.Context, id, list string, e ListEdit) (Done, error) {
	entries, err := c.settingEntries(ctx, term.SettingListFile)
	if err != nil {
		return Done{}, err
	}
	for _, old := range entries {
		if p, ok := old.Versions[0].Payload.(*timeline.ClinicSetting); ok && old.ID == id { // a retry
			return c.Record(ctx, Tap{ID: id, Scope: timeline.ScopeClinic, About: string(term.SettingListFile), At: old.Versions[0].At, Payload: p})
		}
	}
	l, err := c.findList(ctx, list)
	if err != nil {
		return Done{}, err
	}
	if e.Seen != l.Version {
		return Done{}, &timeline.FieldError{Kind: "setting", Field: "version", Code: "changed"}
	}
	n, err := c.edited(l, e)
	if err != nil {
		return Done{}, err
	}
	return c.layList(ctx, id, list+".toml", n.TOML())
}

func (c *Companion) edited(l *kit.List, e ListEdit) (*kit.List, error) {
	place := slices.IndexFunc(l.Items, func(it kit.Item) bool { return it.Code == e.Item })
	switch e.Act {
	case "add":
		return l.Add(c.typedItem(kit.Item{Code: freeCode(l, e.Name), Source: ownSource, Mark: term.MarkPractice}, e))
	case "change":
		if place < 0 {
			return nil, &kit.Error{Field: "item", Code: kit.NotInList, Given: e.Item}
		}
		return l.Change(c.typedItem(l.Items[place], e))
	case "up":
		return l.Move(e.Item, max(0, place-1))
	case "down":
		return l.Move(e.Item, place+1)
	case "retire":
		return l.Retire(e.Item)
	case "withdraw":
		return l.Withdraw(), nil
	}
	return nil, &kit.Error{Field: "act", Code: kit.UnknownCode, Given: e.Act}
}

// ownSource is the source of an item that a clinic wrote: its own practice.
const ownSource = "this clinic's own list"

func (c *Companion) typedItem(it kit.Item, e ListEdit) kit.Item {
	put := func(t kit.Text, text string) kit.Text {
		n := kit.Text{}
		maps.Copy(n, t)
		if text = strings.Join(strings.Fields(text), " "); text != "" {
			n[c.words.Tag()] = text
			if n["en"] == "" {
				n["en"] = text // who writes in another language has no English; a list needs the key
			}
		}
		return n
	}
	it.Name, it.Look = put(it.Name, e.Name), put(it.Look, e.Look)
	it.Stop, it.Between, it.Every = e.Stop, e.Between, kit.Every(e.Every)
	if it.Every == "" {
		it.Every = kit.EachCase
	}
	return it
}

// freeCode makes a code of a name that was typed, one that no item of the
// list ever had: a code never changes its meaning.
func freeCode(l *kit.List, name string) string {
	var b strings.Builder
	for _, r := range strings.ToLower(name) {
		switch {
		case r >= 'a' && r <= 'z', r >= '0' && r <= '9':
			b.WriteRune(r)
		case b.Len() > 0 && !strings.HasSuffix(b.String(), "-"):
			b.WriteByte('-')
		}
		if b.Len() >= 40 {
			break
		}
	}
	code := strings.Trim(b.String(), "-")
	if code == "" {
		code = "item"
	}
	for n, free := 2, code; ; n++ {
		if l.Known(free) == nil {
			return free
		}
		free = fmt.Sprintf("%s-%d", code, n)
	}
}

// ListBook is every list, for the page on which the clinic's own are kept.
type ListBook struct {
	Lists  []KitState
	Own    []string // files of the clinic that lie over the lists
	Hidden []Choice // built-in lists that the clinic no longer uses
	Faults string   // what is wrong with its files
}

// ListBook gives the book.
func (c *Companion) ListBook(ctx context.Context) (ListBook, error) {
	now := c.clock.Now().Wall
	var b ListBook
	lists, faults, err := c.listsAt(ctx, now)
	if err != nil {
		return b, err
	}
	if faults != nil {
		b.Faults = faults.Error()
	}
	if b.Lists, err = c.Kits(ctx); err != nil {
		return b, err
	}
	files, err := c.listFiles(ctx, now)
	if err != nil {
		return b, err
	}
	b.Own = slices.Sorted(maps.Keys(files))
	builtin, err := kit.Builtin()
	if err != nil {
		return b, err
	}
	for _, l := range builtin {
		if !slices.ContainsFunc(lists, func(o *kit.List) bool { return o.Code == l.Code }) {
			b.Hidden = append(b.Hidden, Choice{l.Code, l.Name.In(c.words.Tag())})
		}
	}
	return b, nil
}

// UseAgain lays a built-in list over the clinic's own of the same name.
func (c *Companion) UseAgain(ctx context.Context, id, list string) (Done, error) {
	builtin, err := kit.Builtin()
	if err != nil {
		return Done{}, err
	}
	for _, l := range builtin {
		if l.Code == list {
			return c.layList(ctx, id, list+".toml", l.TOML())
		}
	}
	return Done{}, fmt.Errorf("built-in list %q: %w", list, ErrNotHere)
}

// ListForm is a list as it is edited.
type ListForm struct {
	Code, Name, Version string
	Items               []ItemForm
	Lacking             []string
}

// ItemForm is an item as it is edited.
type ItemForm struct {
	Code, Name, Look, Every, EveryWords string
	Stop, Between                       bool
	First, Last                         bool
}

// ListForm gives a list for editing.
func (c *Companion) ListForm(ctx context.Context, code string) (ListForm, error) {
	l, err := c.findList(ctx, code)
	if err != nil {
		return ListForm{}, err
	}
	s, tag := Speaker{c.words}, c.words.Tag()
	f := ListForm{Code: l.Code, Name: l.Name.In(tag), Version: l.Version}
	for i, it := range l.Items {
		//word:prefix kit.every-
		f.Items = append(f.Items, ItemForm{it.Code, it.Name.In(tag), it.Look.In(tag), string(it.Every), s.Say("kit.every-" + string(it.Every)), it.Stop, it.Between, i == 0, i == len(l.Items)-1})
	}
	lacking, err := l.Lacking()
	if err != nil {
		return f, err
	}
	for _, stop := range lacking {
		f.Lacking = append(f.Lacking, s.lacking(stop, tag))
	}
	return f, nil
}

// lacking gives the name of a stop of every technique, from the built-in
// lists, all of which have it.
func (s Speaker) lacking(code, tag string) string {
	if lists, err := kit.Builtin(); err == nil {
		for _, l := range lists {
			if it := l.Find(code); it != nil {
				return it.Name.In(tag)
			}
		}
	}
	return strings.ReplaceAll(code, "-", " ")
}
