package formulary

import (
	"errors"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"chinlift/core/patient"
	"chinlift/core/quantity"
	"chinlift/core/term"
)

// clinic is the formulary of the fixtures: drugs of round numbers.
func clinic(t testing.TB) *Formulary {
	t.Helper()
	names, err := filepath.Glob("testdata/clinic/*.toml")
	if err != nil || len(names) < 10 {
		t.Fatalf("the fixtures: %d, %v", len(names), err)
	}
	files := make(map[string][]byte)
	for _, name := range names {
		data, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		files[filepath.Base(name)] = data
	}
	f, err := new(Formulary).With(files)
	if err != nil {
		t.Fatalf("the fixtures:\n%v", err)
	}
	return f
}

func am(s string) quantity.Amount {
	if s == "" {
		return quantity.Amount{}
	}
	return quantity.MustParse(s)
}

// pt makes a patient of wire forms; the weight comes from a scale.
func pt(age string, sex term.Sex, weight, length string) patient.Patient {
	p := patient.Patient{Age: am(age), Sex: sex, Weight: am(weight), Length: am(length)}
	if weight != "" {
		p.WeightBy = term.WeightByScale
	}
	return p
}

// gave is a dose so many minutes ago.
func gave(drug, use, dose, ago string) Given {
	return Given{Drug: drug, Use: use, Dose: am(dose), Ago: am(ago)}
}

func reckon(t testing.TB, f *Formulary, r Request) Answer {
	t.Helper()
	a, err := f.Reckon(r)
	if err != nil {
		t.Fatalf("%s %s: %v", r.Drug, r.Use, err)
	}
	return a
}

func hasStep(a Answer, code StepCode, of string) bool {
	return slices.ContainsFunc(a.Steps, func(s Step) bool { return s.Code == code && s.Of == of })
}

// stepCodes tells the working in one line.
func stepCodes(a Answer) string {
	var list []string
	for _, s := range a.Steps {
		one := string(s.Code)
		if s.Of != "" {
			one += ":" + s.Of
		}
		list = append(list, one)
	}
	return strings.Join(list, " ")
}

func fired(list []Fired) string {
	var codes []string
	for _, f := range list {
		codes = append(codes, string(f.Level)+":"+f.Code)
	}
	return strings.Join(codes, " ")
}

func exceeds(v Verdict) string {
	var codes []string
	for _, e := range v.Exceeds {
		codes = append(codes, string(e.Code))
	}
	return strings.Join(codes, " ")
}

// refused checks that an error is an *Error of a field and code.
func refused(t testing.TB, what string, err error, field, code string) {
	t.Helper()
	var e *Error
	if !errors.As(err, &e) || e.Field != field || e.Code != code {
		t.Errorf("%s: %v; want %s: %s", what, err, field, code)
	}
}

// equal compares amounts by their number, not by how it is written.
func equal(a quantity.Amount, want string) bool {
	if want == "" || a.IsZero() {
		return a.String() == want
	}
	c, err := a.Cmp(am(want))
	return err == nil && c == 0
}
