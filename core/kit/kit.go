// Package kit is the equipment and the supplies: what to look at before a
// patient is put to sleep, how to test it, and what must not be missing; and
// how long the oxygen, the agent and the drugs will last.
//
// # Lists
//
// A list is a TOML file in the folder lists, with its texts per language and
// the source of every item beside it. A stop is an item without which a
// planned start is held; the list says so, and the published standard that it
// names is the reason. Items that several lists share stand in a file of their
// own, a part, so that each has one wording. A clinic lays its own files over
// these ([With]), or changes a list item by item ([List.Add] and its
// neighbours), which gives a new list and its bytes.
//
// What was looked at is an event, and names the version of the list, which is
// the SHA-256 of its canonical bytes ([List.TOML]), so that an old check reads
// as it did. [List.Readiness] says from what was found whether a case can
// begin.
//
// The lists are a help to memory. They do not replace the maker's
// instructions nor the clinic's own protocol.
//
// # Supplies
//
// The rest is reckoning: litres and minutes in a cylinder ([Oxygen]), agent
// used by the hour ([LiquidUse], [DropUse]), what runs out ([Expiring]), what
// is left ([OnHand]), whether it is enough for the cases to come ([Plan]), and
// what is dangerous about giving an agent in a place ([Setup]). An [Answer] has a value, the
// range that the sources span, and codes for what to beware of. It is an
// estimate for planning, never an instruction, and no reason to leave a gauge
// or a count unread.
//
// # Shape
//
// Values in, values out. Nothing here is recorded, and nothing knows the time:
// a day is a text such as 2026-11-25, and what has passed since a look is
// handed in. Bad input gives an [Error] with the field, a bad file a
// [FileError] with file and line, and never a number.
//
// # Where the numbers come from
//
// Each stands beside its [Source]. The mark tells what was read, in the source
// or in what Via names, from what is common practice and from what is from
// memory and wants to be confirmed.
package kit

import (
	"slices"

	"chinlift/core/rulefile"
	"chinlift/core/term"
)

// List is one equipment list. A value is not changed once it is there.
type List struct {
	Code    string // the file's name without its ending
	Version string // SHA-256 of TOML, in hexadecimal
	Name    Text
	For     []term.Technique // what it is the check of; none for stores and the like
	Items   []Item           // in the order of looking, with the items of the parts
	Old     []Item           // no longer looked at; for the names in old checks
	Part    bool             // for other lists to include; no list of its own
	Retired bool             // the clinic no longer uses it
}

// Item is one thing to look at.
type Item struct {
	Code    string
	Stop    bool
	Every   Every // how often the whole look is due
	Between bool  // looked at again before each further case
	Source  string
	Mark    term.Mark
	Name    Text
	Look    Text // what to look for, and how to test it
}

// Every says how often an item is looked at from the beginning.
type Every string

// The intervals.
const (
	EachCase Every = "each-case" // for each patient
	Daily    Every = "daily"     // before the first case of the day
	Monthly  Every = "monthly"   // 31 days
)

// Text is a text by language tag; English is always there.
type Text = rulefile.Text

// Find gives the item with this code, or nil. Items that were retired are not
// found; see Known.
func (l *List) Find(code string) *Item {
	if i := index(l.Items, code); i >= 0 {
		return &l.Items[i]
	}
	return nil
}

// Known gives the item with this code, also one that was retired, or nil. It is
// for the name of an item in an old check.
func (l *List) Known(code string) *Item {
	if it := l.Find(code); it != nil {
		return it
	}
	if i := index(l.Old, code); i >= 0 {
		return &l.Old[i]
	}
	return nil
}

func index(items []Item, code string) int {
	return slices.IndexFunc(items, func(it Item) bool { return it.Code == code })
}

// seal gives the list its version.
func (l *List) seal() *List {
	l.Version = rulefile.Version(l.TOML())
	return l
}
