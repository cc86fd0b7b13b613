package formulary

import (
	"cmp"
	"embed"
	"errors"
	"fmt"
	"maps"
	"path"
	"slices"
	"strings"
)

//go:embed drugs/*.toml
var builtin embed.FS

const ending = ".toml"

func codeOf(name string) string { return strings.TrimSuffix(name, ending) }

// Formulary is a set of drugs. It does not change once made.
type Formulary struct {
	drugs []*Drug // by code
}

// Builtin gives the drugs that come with the companion. The error, which a
// test rules out for the files here, joins the *FileError of each file.
func Builtin() (*Formulary, error) {
	entries, err := builtin.ReadDir("drugs")
	if err != nil {
		return nil, err
	}
	files := make(map[string][]byte)
	for _, e := range entries {
		data, err := builtin.ReadFile(path.Join("drugs", e.Name()))
		if err != nil {
			return nil, err
		}
		files[e.Name()] = data
	}
	return new(Formulary).With(files)
}

// BuiltinFile gives the file of a drug as it comes with the companion, by name;
// nil where there is none.
func BuiltinFile(name string) []byte {
	data, err := builtin.ReadFile(path.Join("drugs", name))
	if err != nil {
		return nil
	}
	return data
}

// With lays a clinic's files over the formulary: one of the same name replaces
// the drug, another name adds one, and retired = true hides one. The error
// joins the *FileError of each file that was refused; then nothing is laid
// over.
func (f *Formulary) With(files map[string][]byte) (*Formulary, error) {
	drugs := make(map[string]*Drug)
	for _, d := range f.drugs {
		drugs[d.Code] = d
	}
	readers := make(map[string]*reader)
	for _, name := range slices.Sorted(maps.Keys(files)) {
		d, r := parse(name, files[name])
		if readers[d.Code] != nil {
			r.fault("", "the drug has two files")
		}
		for i := range d.Uses {
			d.Uses[i].hash = d.hash(&d.Uses[i])
		}
		drugs[d.Code], readers[d.Code] = d, r
	}
	var errs []error
	for _, code := range slices.Sorted(maps.Keys(readers)) {
		r := readers[code]
		drugs[code].checkNames(r, func(code string) bool { return drugs[code] != nil })
		errs = append(errs, r.err())
	}
	if err := errors.Join(errs...); err != nil {
		return nil, err
	}
	all := slices.SortedFunc(maps.Values(drugs), func(a, b *Drug) int { return cmp.Compare(a.Code, b.Code) })
	return &Formulary{all}, nil
}

// checkNames refuses the names of drugs that are none.
func (d *Drug) checkNames(r *reader, known func(string) bool) {
	check := func(path string, drugs []string) {
		for _, code := range drugs {
			if !known(code) {
				r.fault(path, "there is no drug %s", code)
			}
		}
	}
	for i := range d.Reduces {
		check(fmt.Sprintf("reduce.%d.drugs", i), d.Reduces[i].Drugs)
	}
	for i := range d.Alerts {
		check(fmt.Sprintf("alert.%d.drugs", i), d.Alerts[i].Drugs)
	}
}

// Drugs gives the drugs that are not retired, by code.
func (f *Formulary) Drugs() []*Drug {
	return slices.DeleteFunc(slices.Clone(f.drugs), func(d *Drug) bool { return d.Retired })
}

// Find gives the drug with this code, retired or not, or nil.
func (f *Formulary) Find(code string) *Drug {
	i, ok := slices.BinarySearchFunc(f.drugs, code, func(d *Drug, code string) int { return cmp.Compare(d.Code, code) })
	if !ok {
		return nil
	}
	return f.drugs[i]
}
