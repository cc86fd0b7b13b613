package timeline

// SetAgreed says that its author, a named person at the clinic, read a set
// of fasting intervals that no source stands behind, and stands for it. It is
// bound to the set's version. Withdrawn takes it back.
type SetAgreed struct {
	Set       string `json:"set"`
	Version   Hash   `json:"version"` // SHA-256 of the set's file
	Withdrawn bool   `json:"withdrawn,omitempty"`
}

// Kind is "set-agreed/1".
func (*SetAgreed) Kind() Kind { return "set-agreed/1" }

// Check answers a *FieldError for the first field at fault.
func (p *SetAgreed) Check() error {
	c := check(p)
	c.name("set", p.Set, true)
	if !p.Version.Valid() {
		c.fail("version", "missing")
	}
	return c.err()
}
