package timeline

import (
	"chinlift/core/term"
)

// Pause is the answer to one item of a pause of surgical safety, or of the
// look again before the first drop. Who gave it is the author. The version of
// the list is kept, so that an old answer reads as it did.
type Pause struct {
	Pause   string           `json:"pause"`
	Version string           `json:"version"` // SHA-256 of the list's file
	Item    string           `json:"item"`
	Answer  term.PauseAnswer `json:"answer"`
	// Swept says that the item was among the rest that one key called so. An
	// item that stops is never swept.
	Swept bool `json:"swept,omitempty"`
}

// Kind is "pause/1".
func (*Pause) Kind() Kind { return "pause/1" }

// Check answers a *FieldError for the first field at fault.
func (p *Pause) Check() error {
	c := check(p)
	c.name("pause", p.Pause, true)
	c.name("item", p.Item, true)
	if !Hash(p.Version).Valid() {
		c.fail("version", "missing")
	}
	code(c, "answer", term.PauseAnswerList, p.Answer, true)
	if p.Swept && p.Answer != term.PauseAnswerYes {
		c.fail("swept", "contradiction")
	}
	return c.err()
}
