package timeline

// Claimed says who somebody was that made entries under an id of their own,
// such as on a device that asked nobody for a name: about is that id, and
// Person is who it was. The entries stay as they are.
type Claimed struct {
	Person string `json:"person"`
}

// Kind is "claimed/1".
func (*Claimed) Kind() Kind { return "claimed/1" }

// Check answers a *FieldError for the first field at fault.
func (p *Claimed) Check() error {
	c := check(p)
	c.id("person", p.Person, true)
	return c.err()
}
