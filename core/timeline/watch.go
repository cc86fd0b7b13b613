package timeline

import (
	"chinlift/core/term"
)

// Watch says who looks after the patient from now on: asked when the provider
// turns to another patient before this one has recovered.
type Watch struct {
	Watcher term.Watcher `json:"watcher"`
}

// Kind is "watch/1".
func (*Watch) Kind() Kind { return "watch/1" }

// Check answers a *FieldError for the first field at fault.
func (w *Watch) Check() error {
	c := check(w)
	code(c, "watcher", term.WatcherList, w.Watcher, true)
	return c.err()
}
