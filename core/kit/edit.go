package kit

import (
	"bytes"
	"fmt"
	"maps"
	"slices"
	"strings"

	"chinlift/core/rulefile"
	"chinlift/core/term"
)

// TOML writes the list in its canonical form, which Parse reads back as the
// same list. It stands alone: items that came from a part are written out.
func (l *List) TOML() []byte {
	var b bytes.Buffer
	if l.Part {
		b.WriteString("part = true\n")
	}
	if l.Retired {
		b.WriteString("retired = true\n")
	}
	if len(l.For) > 0 {
		var quoted []string
		for _, t := range l.For {
			quoted = append(quoted, quote(string(t)))
		}
		fmt.Fprintf(&b, "for = [%s]\n", strings.Join(quoted, ", "))
	}
	writeText(&b, "name", l.Name)
	for _, it := range l.Items {
		writeItem(&b, it, false)
	}
	for _, it := range l.Old {
		writeItem(&b, it, true)
	}
	return b.Bytes()
}

func writeItem(b *bytes.Buffer, it Item, retired bool) {
	fmt.Fprintf(b, "\n[[item]]\ncode = %s\nstop = %t\nevery = %s\n", quote(it.Code), it.Stop, quote(string(it.Every)))
	if it.Between {
		b.WriteString("between = true\n")
	}
	if retired {
		b.WriteString("retired = true\n")
	}
	fmt.Fprintf(b, "source = %s\nmark = %s\n", quote(it.Source), quote(string(it.Mark)))
	writeText(b, "name", it.Name)
	writeText(b, "look", it.Look)
}

func writeText(b *bytes.Buffer, key string, t Text) {
	for _, tag := range slices.Sorted(maps.Keys(t)) {
		fmt.Fprintf(b, "%s.%s = %s\n", key, tag, quote(t[tag]))
	}
}

// quote writes a TOML basic string. Control characters are in no text of a
// list.
func quote(s string) string {
	return `"` + strings.NewReplacer(`\`, `\\`, `"`, `\"`).Replace(s) + `"`
}

// Add gives the list with one more item at its end. An item that was retired
// comes back by being added. The error is an *Error for "item", or for the
// field of the item that is at fault.
func (l *List) Add(it Item) (*List, error) {
	if l.Find(it.Code) != nil {
		return nil, &Error{Field: "item", Code: Twice, Given: it.Code}
	}
	return l.changed(func(n *List) {
		n.Items = append(n.Items, it)
		n.Old = without(n.Old, it.Code)
	}, it)
}

// Change gives the list with this item in place of the one with its code. The
// error is as for Add.
func (l *List) Change(it Item) (*List, error) {
	if l.Find(it.Code) == nil {
		return nil, &Error{Field: "item", Code: NotInList, Given: it.Code}
	}
	return l.changed(func(n *List) { *n.Find(it.Code) = it }, it)
}

// Move gives the list with the item in another place, from 0; a place beyond
// the end is the last one.
func (l *List) Move(code string, to int) (*List, error) {
	from := index(l.Items, code)
	if from < 0 {
		return nil, &Error{Field: "item", Code: NotInList, Given: code}
	}
	if to < 0 {
		return nil, &Error{Field: "place", Code: TooLow, Given: fmt.Sprint(to), Low: "0", High: fmt.Sprint(len(l.Items) - 1)}
	}
	return l.changed(func(n *List) {
		it := n.Items[from]
		n.Items = without(n.Items, code)
		n.Items = slices.Insert(n.Items, min(to, len(n.Items)), it)
	})
}

// Retire gives the list without the item, which stays known for the names in
// old checks. The last item is not retired: a list has one; [List.Withdraw]
// takes away the list. Whether a stop is gone that no technique does without,
// [List.Lacking] tells.
func (l *List) Retire(code string) (*List, error) {
	from := index(l.Items, code)
	switch {
	case from < 0:
		return nil, &Error{Field: "item", Code: NotInList, Given: code}
	case len(l.Items) == 1:
		return nil, &Error{Field: "item", Code: LastItem, Given: code}
	}
	return l.changed(func(n *List) {
		n.Old = append(without(n.Old, code), n.Items[from])
		n.Items = without(n.Items, code)
	})
}

// Withdraw gives the list as one that the clinic no longer uses: laid over the
// built-in ones it hides that of its name.
func (l *List) Withdraw() *List {
	n := l.clone()
	n.Retired = true
	return n.seal()
}

// changed makes a list of a copy of l, and refuses what Parse would.
func (l *List) changed(change func(*List), written ...Item) (*List, error) {
	for _, it := range written {
		if err := it.check(); err != nil {
			return nil, err
		}
	}
	n := l.clone()
	change(n)
	n.seal()
	if _, err := Parse(n.Code, n.TOML()); err != nil {
		return nil, fmt.Errorf("list %s: %w", l.Code, err)
	}
	return n, nil
}

// check tells the field of an item that is at fault.
func (it Item) check() error {
	var field, given string
	switch {
	case !rulefile.CodeOK(it.Code):
		field, given = "code", it.Code
	case it.Name["en"] == "" || it.Name.Bad(maxText) != "":
		field, given = "name", it.Name["en"]
	case it.Look["en"] == "" || it.Look.Bad(maxText) != "":
		field, given = "look", it.Look["en"]
	case it.Source == "" || rulefile.BadLine(it.Source, maxText) != "":
		field, given = "source", it.Source
	case !term.MarkList.Has(it.Mark):
		field, given = "mark", string(it.Mark)
	case it.Every != EachCase && it.Every != Daily && it.Every != Monthly:
		field, given = "every", string(it.Every)
	default:
		return nil
	}
	if given == "" {
		return &Error{Field: field, Code: Missing}
	}
	return &Error{Field: field, Code: NotReadable, Given: given}
}

func without(items []Item, code string) []Item {
	var rest []Item
	for _, it := range items {
		if it.Code != code {
			rest = append(rest, it)
		}
	}
	return rest
}

// clone copies a list as deep as changes go.
func (l *List) clone() *List {
	n := *l
	n.Name, n.For, n.Items, n.Old = maps.Clone(l.Name), slices.Clone(l.For), cloned(l.Items), cloned(l.Old)
	return &n
}

func cloned(items []Item) []Item {
	c := slices.Clone(items)
	for i := range c {
		c[i].Name, c[i].Look = maps.Clone(c[i].Name), maps.Clone(c[i].Look)
	}
	return c
}
