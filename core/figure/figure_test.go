package figure

import (
	"errors"
	"math"
	"reflect"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"chinlift/core/quantity"
	"chinlift/core/term"
)

// The four examples of R. G. Newcombe, Statistics in Medicine 17:857, 1998,
// Table I, method 3 (from memory).
func TestWilsonPublished(t *testing.T) {
	for _, c := range []struct {
		n, of     int
		low, high float64
	}{
		{81, 263, 0.2553, 0.3662},
		{15, 148, 0.0624, 0.1605},
		{0, 20, 0.0000, 0.1611},
		{1, 29, 0.0061, 0.1718},
	} {
		i, err := Wilson(c.n, c.of)
		if err != nil || math.Abs(i.Low-c.low) > 0.00005 || math.Abs(i.High-c.high) > 0.00005 {
			t.Errorf("%d of %d: %.4f to %.4f (%v), published %.4f to %.4f", c.n, c.of, i.Low, i.High, err, c.low, c.high)
		}
	}
	// Printed by R to eight digits for 6 of 32 (read: RPubs 1367507, mtcars,
	// mpg of 25 and above).
	if i, err := Wilson(6, 32); err != nil || math.Abs(i.Low-0.08889545) > 5e-9 || math.Abs(i.High-0.35309155) > 5e-9 {
		t.Errorf("6 of 32: %.8f to %.8f (%v)", i.Low, i.High, err)
	}
	if i, err := Wilson(20, 20); err != nil || i.High != 1 || i.Low < 0.8388 || i.Low > 0.8390 {
		t.Errorf("20 of 20: %v (%v)", i, err)
	}
	for _, bad := range [][2]int{{0, 0}, {-1, 5}, {6, 5}, {1, -1}} {
		if i, err := Wilson(bad[0], bad[1]); !errors.Is(err, ErrNotOf) || i != (Interval{}) {
			t.Errorf("%d of %d: %v %v", bad[0], bad[1], i, err)
		}
	}
	if in := math.Erf(z / math.Sqrt2); math.Abs(in-0.95) > 1e-15 {
		t.Errorf("z holds %v", in)
	}
}

// The ends are what the score interval is defined by: n is z standard errors
// away from each, the error taken at that end.
func TestWilsonSolvesTheScore(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		of := rapid.IntRange(1, 100000).Draw(t, "of")
		n := rapid.IntRange(0, of).Draw(t, "n")
		i, err := Wilson(n, of)
		if err != nil {
			t.Fatal(err)
		}
		p := float64(n) / float64(of)
		if i.Low < 0 || i.Low > p || i.High < p || i.High > 1 || i.Low == i.High {
			t.Fatalf("%d of %d: %v", n, of, i)
		}
		for _, end := range []float64{i.Low, i.High} {
			if off, want := math.Abs(p-end), z*math.Sqrt(end*(1-end)/float64(of)); math.Abs(off-want) > 1e-9 {
				t.Fatalf("%d of %d: the end %v is %v away, %v by its own error", n, of, end, off, want)
			}
		}
		other, _ := Wilson(of-n, of)
		if math.Abs(other.Low-(1-i.High)) > 1e-12 || math.Abs(other.High-(1-i.Low)) > 1e-12 {
			t.Fatalf("%d of %d is not the mirror of %d", n, of, of-n)
		}
		if more, _ := Wilson(4*n, 4*of); more.High-more.Low >= i.High-i.Low {
			t.Fatalf("%d of %d: four times as many say no more", n, of)
		}
	})
}

func TestBands(t *testing.T) {
	for age, want := range map[string]term.AgeBand{
		"0 d": term.AgeBandNewborn, "27 d": term.AgeBandNewborn, "28 d": term.AgeBandInfant, "4 wk": term.AgeBandInfant, "11 mo": term.AgeBandInfant,
		"12 mo": term.AgeBand1, "1 a": term.AgeBand1, "4.9 a": term.AgeBand1, "5 a": term.AgeBand5, "12 a": term.AgeBand12, "18 a": term.AgeBand18,
		"39 a": term.AgeBand18, "40 a": term.AgeBand40, "65 a": term.AgeBand65, "79 a": term.AgeBand65, "80 a": term.AgeBand80, "120 a": term.AgeBand80,
		"-1 a": "", "4 kg": "",
	} {
		if got := BandOf(quantity.MustParse(age)); got != want {
			t.Errorf("%s: %q, want %q", age, got, want)
		}
	}
	if got := BandOf(quantity.Amount{}); got != "" {
		t.Errorf("no age: %q", got)
	}
}

func TestDosesAddUpExactly(t *testing.T) {
	var a, b Case
	for _, d := range []string{"50 mg", "50 ug", "0.1 g"} {
		a.AddDose("ketamine", quantity.MustParse(d))
	}
	a.AddDose("oxytocin", quantity.MustParse("5 [IU]"))
	b.AddDose("ketamine", quantity.MustParse("0.1 mg"))
	b.AddDose("ketamine", quantity.MustParse("2 mL"))
	b.AddDose("ketamine", quantity.MustParse("20 {drop}/min"))
	a.Begun, b.Begun = true, true
	if w := Work([]*Case{&a, &b}, Filter{}); w.Left != 1 || a.Left != 0 {
		t.Errorf("drops a minute are no amount: %d left out", w.Left)
	}
	got := Work([]*Case{&a, &b}, Filter{}).Doses
	want := []struct {
		drug, amount string
		cases        int
	}{{"ketamine", "2 mL", 1}, {"ketamine", "150.15 mg", 2}, {"oxytocin", "5 [IU]", 1}}
	if len(got) != len(want) {
		t.Fatalf("%v", got)
	}
	for i, w := range want {
		if n, err := got[i].Amount.Cmp(quantity.MustParse(w.amount)); got[i].Drug != w.drug || err != nil || n != 0 || got[i].Cases != w.cases {
			t.Errorf("%v, want %v", got[i], w)
		}
	}
}

func caseGen() *rapid.Generator[*Case] {
	return rapid.Custom(func(t *rapid.T) *Case {
		some := func(name string, codes ...string) []string {
			return rapid.SliceOfN(rapid.SampledFrom(codes), 0, 3).Draw(t, name)
		}
		c := &Case{
			Day:     rapid.SampledFrom([]string{"2025-12-31", "2026-01-01", "2026-01-31", "2026-02-01"}).Draw(t, "day"),
			Begun:   rapid.Bool().Draw(t, "begun"),
			ASA:     rapid.SampledFrom([]term.ASA{"", term.ASA1, term.ASA3}).Draw(t, "asa"),
			Outcome: rapid.SampledFrom([]term.Outcome{"", term.OutcomeDied}).Draw(t, "outcome"),
			Age:     rapid.SampledFrom([]quantity.Amount{{}, quantity.MustParse("3 a"), quantity.MustParse("9 d")}).Draw(t, "age"),
		}
		for _, x := range some("techniques", string(term.TechniqueSpinal), string(term.TechniqueKetamine), "of-a-newer-version") {
			c.Techniques = append(c.Techniques, term.Technique(x))
		}
		for _, x := range some("troubles", string(term.TroubleApnoea), string(term.TroubleHypoxia)) {
			c.Troubles = append(c.Troubles, term.Trouble(x))
		}
		for _, x := range some("doses", "0.5 mg", "20 ug", "1 mL") {
			c.AddDose(rapid.SampledFrom([]string{"atropine", "ketamine"}).Draw(t, "drug"), quantity.MustParse(x))
		}
		if rapid.Bool().Draw(t, "asked") {
			c.Replies = []Reply{{Question: "pain", Answer: "yes"}}
		}
		return c
	})
}

// Counting in pieces, in any order, gives what counting at once gives; nobody is
// lost and nobody is counted twice; a case comes back from what is kept of it.
func TestCounting(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		cases := rapid.SliceOf(caseGen()).Draw(t, "cases")
		f := Filter{From: rapid.SampledFrom([]string{"", "2026-01-01"}).Draw(t, "from"), To: rapid.SampledFrom([]string{"", "2026-01-31"}).Draw(t, "to"),
			Technique: rapid.SampledFrom([]term.Technique{"", term.TechniqueSpinal}).Draw(t, "technique"), Trouble: rapid.SampledFrom([]term.Trouble{"", term.TroubleApnoea}).Draw(t, "trouble")}
		w := Work(cases, f)
		picked := 0
		for _, c := range cases {
			if f.Picks(c) {
				picked++
			}
			if (c.Day < f.From || f.To != "" && c.Day > f.To) && f.Picks(c) {
				t.Fatal("a day out of the range was picked")
			}
			line, err := c.Line()
			if err != nil {
				t.Fatal(err)
			}
			back, err := Parse(line)
			if err != nil || !reflect.DeepEqual(back, c) {
				t.Fatalf("%s came back as %+v (%v)", line, back, err)
			}
		}
		if w.Cases+w.NotBegun != picked {
			t.Fatalf("%d and %d of %d", w.Cases, w.NotBegun, picked)
		}
		for name, tb := range map[string]Table{"asa": w.ASA, "ages": w.Ages, "months": w.Months} {
			sum := tb.Unsaid
			for _, r := range tb.Rows {
				sum += r.N
			}
			if sum != w.Cases || tb.Of != w.Cases {
				t.Fatalf("%s: %d of %d", name, sum, w.Cases)
			}
		}
		sum := w.NoOutcome
		for _, r := range w.Outcomes {
			sum += r.N
		}
		if sum != w.Cases {
			t.Fatalf("outcomes: %d of %d", sum, w.Cases)
		}
		for _, r := range append(slices.Clone(w.Troubles), w.Untouched, w.Asked) {
			if r.N > r.Of || r.Of != w.Cases || r.Of > 0 && (r.Low > float64(r.N)/float64(r.Of) || r.High < float64(r.N)/float64(r.Of)) {
				t.Fatalf("%+v of %d", r, w.Cases)
			}
		}
		mixed := slices.Clone(cases)
		slices.Reverse(mixed)
		other := Work(mixed, f)
		w.Replies, other.Replies = nil, nil
		for i := range w.Doses { // trailing noughts of a sum depend on the order
			if n, err := w.Doses[i].Amount.Cmp(other.Doses[i].Amount); err != nil || n != 0 {
				t.Fatalf("%v and %v", w.Doses[i], other.Doses[i])
			}
			w.Doses[i].Amount, other.Doses[i].Amount = quantity.Amount{}, quantity.Amount{}
		}
		if !reflect.DeepEqual(w, other) {
			t.Fatalf("the order matters: %+v\n%+v", w, other)
		}
	})
}

func FuzzParse(f *testing.F) {
	c := Case{Day: "2026-03-07", Begun: true, Age: quantity.MustParse("30 a"), Techniques: []term.Technique{term.TechniqueSpinal}, Breathed: []Breathed{{Agent: term.AgentEther, Drops: quantity.MustParse("60 {drop}/min"), For: quantity.MustParse("12.5 min")}}}
	c.AddDose("atropine", quantity.MustParse("0.5 mg"))
	line, err := c.Line()
	if err != nil {
		f.Fatal(err)
	}
	f.Add(line)
	f.Add([]byte(`{"day":"x"}`))
	f.Add([]byte(`{"day":"2026-01-01","name":"x"}`))
	f.Fuzz(func(t *testing.T, line []byte) {
		c, err := Parse(line)
		if err != nil {
			if c != nil {
				t.Fatal("a case and an error")
			}
			return
		}
		again, err := c.Line()
		if err != nil {
			return // a number too long to be written is not kept
		}
		if back, err := Parse(again); err != nil || !reflect.DeepEqual(back.Month(), c.Month()) {
			t.Fatalf("%s: %v", again, err)
		}
		Work([]*Case{c}, Filter{})
	})
}
