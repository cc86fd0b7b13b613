package timeline

// Baseline is the values at rest before anything was given, against which
// later ones are read.
type Baseline struct {
	Measures
}

// Kind is "baseline/1".
func (*Baseline) Kind() Kind { return "baseline/1" }

// Check answers a *FieldError for the first field at fault.
func (b *Baseline) Check() error {
	c := check(b)
	b.Measures.check(c)
	return c.err()
}
