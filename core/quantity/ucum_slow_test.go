//go:build slow

package quantity

import (
	"bytes"
	"encoding/json"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// The reference here is the UCUM implementation of the Lister Hill National
// Center for Biomedical Communications (@lhncbc/ucum-lhc; the version is pinned
// in .ci/browser), which reads UCUM's grammar and has UCUM's definitions from
// their source. It reckons in float64, so it cannot show more than some 15
// digits: over all sums below it is off from this package by at most 8e-16 of
// the value, as measured, and must be within 1e-14.
const floatPrecision = 1e-14

// question is one for .ci/browser/ucum.mjs. Without To it asks whether From is
// a code.
type question struct {
	From  string   `json:"from"`
	Value *float64 `json:"value,omitempty"`
	To    string   `json:"to,omitempty"`
}

type answer struct {
	Value *float64 `json:"value"`
	Code  string   `json:"code"`
	Error string   `json:"error"`
}

func askUCUM(t *testing.T, questions []question) []answer {
	t.Helper()
	ci, built := filepath.Join("..", "..", ".ci", "browser"), filepath.Join("..", "..", ".build", "browser")
	if _, err := os.Stat(filepath.Join(built, "node_modules", "@lhncbc", "ucum-lhc")); err != nil {
		t.Fatalf("the reference for units is missing (make deps installs it): %v", err)
	}
	in, err := json.Marshal(questions)
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.CommandContext(t.Context(), "node", filepath.Join(ci, "ucum.mjs"), built)
	cmd.Stdin = bytes.NewReader(in)
	cmd.Stderr = os.Stderr
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("the reference for units does not run (it needs Node.js): %v", err)
	}
	var answers []answer
	if err := json.Unmarshal(out, &answers); err != nil || len(answers) != len(questions) {
		t.Fatalf("%d answers to %d questions, %v", len(answers), len(questions), err)
	}
	return answers
}

// forUCUM writes a code so that the reference converts it. It converts no
// arbitrary unit, not even to a thousandth of itself, since of each substance
// there is another. The prefixes and all else in such a code are checked with
// grams in the place of [IU].
func forUCUM(u Unit) string { return strings.ReplaceAll(u.String(), "[IU]", "g") }

// within writes a code as part of a larger one; a stroke may not begin it there.
func within(u Unit) string {
	s := forUCUM(u)
	if strings.HasPrefix(s, "/") {
		s = "1" + s
	}
	return "(" + s + ")"
}

// differ returns by how much of the value two numbers differ. A temperature
// near nought on its scale is the difference of two large numbers, so there it
// is by how much of 273.15.
func differ(got, want float64, u Unit) float64 {
	size := math.Max(math.Abs(got), math.Abs(want))
	if u.Dimension() == Temperature {
		size = math.Max(size, 273.15)
	}
	if size == 0 {
		return 0
	}
	return math.Abs(got-want) / size
}

func TestCodesAreUCUMs(t *testing.T) {
	var questions []question
	for _, u := range Units() {
		questions = append(questions, question{From: u.String()})
	}
	// That it can tell: what UCUM does not know, or writes otherwise.
	wrong := []string{"mmHg", "mcg", "°C", "furlong", "mg//kg", "[iu]", "cc"}
	for _, w := range wrong {
		questions = append(questions, question{From: w})
	}
	answers := askUCUM(t, questions)
	for i, u := range Units() {
		if a := answers[i]; a.Code != u.String() {
			t.Errorf("%s is not a UCUM code: %q, %s", u, a.Code, a.Error)
		}
	}
	for i, w := range wrong {
		if a := answers[len(Units())+i]; a.Code == w {
			t.Errorf("the reference takes %q for a code", w)
		}
	}
}

// TestConversionsAreUCUMs converts between all units of each dimension.
func TestConversionsAreUCUMs(t *testing.T) {
	values := []string{"1", "37.5", "-40", "0.003", "98765.4321"}
	var amounts []Amount
	var into []Unit
	var questions []question
	for _, from := range Units() {
		for _, to := range Units() {
			if from.Dimension() != to.Dimension() {
				continue
			}
			for _, v := range values {
				a := Amount{Decimal{v}, from}
				f := a.Value.Float64()
				amounts, into = append(amounts, a), append(into, to)
				questions = append(questions, question{forUCUM(from), &f, forUCUM(to)})
			}
		}
	}
	worst := 0.0
	for i, answer := range askUCUM(t, questions) {
		got, err := amounts[i].Float64(into[i])
		if err != nil {
			t.Fatal(err)
		}
		if answer.Value == nil {
			t.Errorf("%s in %s: %s", amounts[i], into[i], answer.Error)
			continue
		}
		off := differ(got, *answer.Value, into[i])
		worst = max(worst, off)
		if off > floatPrecision {
			t.Errorf("%s is %v %s; UCUM has %v", amounts[i], got, into[i], *answer.Value)
		}
	}
	t.Logf("%d conversions, off by at most %.1e", len(questions), worst)
}

// TestProductsAreUCUMs multiplies and divides every two units that have a
// product or a quotient here, in every unit that it may be in.
func TestProductsAreUCUMs(t *testing.T) {
	type sum struct {
		a, b, u Unit
		divide  bool
	}
	var sums []sum
	var questions []question
	one, two, three := 1.0, DecimalFromInt(2), DecimalFromInt(3)
	for _, p := range triples() {
		sums = append(sums, sum{p[0], p[1], p[2], false}, sum{p[2], p[1], p[0], true})
		questions = append(questions,
			question{within(p[0]) + "." + within(p[1]), &one, forUCUM(p[2])},
			question{within(p[2]) + "/" + within(p[1]), &one, forUCUM(p[0])})
	}
	worst := 0.0
	for i, answer := range askUCUM(t, questions) {
		s := sums[i]
		got, err := combine(Amount{two, s.a}, Amount{three, s.b}, s.u, s.divide)
		if err != nil {
			t.Fatal(err)
		}
		if answer.Value == nil {
			t.Errorf("%s in %s: %s", questions[i].From, s.u, answer.Error)
			continue
		}
		want := *answer.Value * 6
		if s.divide {
			want = *answer.Value * 2 / 3
		}
		off := differ(got.Value.Float64(), want, s.u)
		worst = max(worst, off)
		if off > floatPrecision {
			t.Errorf("2 and 3 in %s are %s; UCUM has %v", questions[i].From, got, want)
		}
	}
	t.Logf("%d products and quotients, off by at most %.1e", len(questions), worst)
}
