package formulary

import (
	"strings"
	"testing"
)

// TestBuiltin loads the drugs that come with the companion. On failure it
// prints all that is wrong in all files, with file and line.
func TestBuiltin(t *testing.T) {
	f, err := Builtin()
	if err != nil {
		t.Fatalf("the files in drugs:\n%s", err)
	}
	hashes := make(map[string]string)
	for _, d := range f.Drugs() {
		for _, u := range d.Uses {
			name := d.Code + " " + u.Code
			if other, twice := hashes[u.Hash()]; twice || len(u.Hash()) != 64 {
				t.Errorf("%s: hash %q, also of %s", name, u.Hash(), other)
			}
			hashes[u.Hash()] = name
			if strings.ToLower(name) != name {
				t.Errorf("%s is not lower case", name)
			}
		}
	}
}
