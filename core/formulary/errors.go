package formulary

import (
	"fmt"
	"strings"
)

// Fault is one thing wrong in a file.
type Fault struct {
	Line int    // of the key, or of what holds it; from 1
	Key  string // as use.0.dose.1.low; empty where the text is no TOML
	Text string // for whoever writes the file
}

// FileError says everything that is wrong in a file.
type FileError struct {
	File   string
	Faults []Fault
}

func (e *FileError) Error() string {
	lines := make([]string, len(e.Faults))
	for i, f := range e.Faults {
		key := ""
		if f.Key != "" {
			key = f.Key + ": "
		}
		lines[i] = fmt.Sprintf("%s:%d: %s%s", e.File, f.Line, key, f.Text)
	}
	return strings.Join(lines, "\n")
}
