package timeline

import (
	"chinlift/core/term"
)

// KitItem is one look at one item of an equipment list. About is the list's
// name for a check of the day (clinic scope) or the case (case scope). The
// version of the list is kept, so that an old check reads as it did.
type KitItem struct {
	List    string         `json:"list"`
	Version string         `json:"version"` // SHA-256 of the list's file
	Item    string         `json:"item"`
	State   term.KitState  `json:"state"`
	Answer  term.KitAnswer `json:"answer,omitempty"` // what will be done about a fault
	// Swept says that the item was among the rest that one key called good.
	Swept bool `json:"swept,omitempty"`
}

// Kind is "kit/1".
func (*KitItem) Kind() Kind { return "kit/1" }

// Check answers a *FieldError for the first field at fault.
func (k *KitItem) Check() error {
	c := check(k)
	c.name("list", k.List, true)
	c.name("item", k.Item, true)
	if !Hash(k.Version).Valid() {
		c.fail("version", "missing")
	}
	code(c, "state", term.KitStateList, k.State, true)
	code(c, "answer", term.KitAnswerList, k.Answer, false)
	if k.Swept && k.State != term.KitStateGood {
		c.fail("swept", "contradiction")
	}
	return c.err()
}
