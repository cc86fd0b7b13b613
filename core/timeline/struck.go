package timeline

// Struck strikes an entry out. It stays legible. It carries no content: what
// it strikes is what it replaces.
type Struck struct{}

// Kind is "struck/1".
func (*Struck) Kind() Kind { return "struck/1" }

// Check has nothing to refuse.
func (*Struck) Check() error { return nil }

// Restored undoes a strike.
type Restored struct{}

// Kind is "restored/1".
func (*Restored) Kind() Kind { return "restored/1" }

// Check has nothing to refuse.
func (*Restored) Check() error { return nil }

// Moved says that an entry belongs to another case, which is what the event
// is about. The entry keeps its content and its time.
type Moved struct {
	From string `json:"from"` // the case where it stood
}

// Kind is "moved/1".
func (*Moved) Kind() Kind { return "moved/1" }

// Check answers a *FieldError for the first field at fault.
func (m *Moved) Check() error {
	c := check(m)
	c.id("from", m.From, true)
	return c.err()
}
