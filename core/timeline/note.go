package timeline

// Note is free text. The text is in the private part.
type Note struct{}

// Kind is "note/1".
func (*Note) Kind() Kind { return "note/1" }

// Check has nothing to refuse.
func (*Note) Check() error { return nil }
