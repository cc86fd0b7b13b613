package timeline

// Confirmed says that its author, a named person at the clinic, read a dose
// rule and stands for it. It is bound to the rule's hash: when the rule
// changes, nobody has confirmed what it says now. Withdrawn takes it back.
type Confirmed struct {
	Drug      string `json:"drug"`
	Use       string `json:"use"`  // the code of the use in the drug's file
	Rule      Hash   `json:"rule"` // SHA-256 of the rule
	Withdrawn bool   `json:"withdrawn,omitempty"`
}

// Kind is "confirmed/1".
func (*Confirmed) Kind() Kind { return "confirmed/1" }

// Check answers a *FieldError for the first field at fault.
func (p *Confirmed) Check() error {
	c := check(p)
	c.name("drug", p.Drug, true)
	c.name("use", p.Use, true)
	if !p.Rule.Valid() {
		c.fail("rule", "missing")
	}
	return c.err()
}
