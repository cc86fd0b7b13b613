package visit

import (
	"fmt"
	"testing"

	"pgregory.net/rapid"

	"chinlift/core/patient"
	"chinlift/core/quantity"
	"chinlift/core/term"
)

func TestLimitsFor(t *testing.T) {
	text := func(l Limit) string {
		s := l.Low.Value.String() + "-" + l.High.Value.String()
		if l.From != l.Low || l.To != l.High {
			s += " (" + l.From.Value.String() + "-" + l.To.Value.String() + ")"
		}
		return s
	}
	for _, c := range []struct {
		age                                  string
		breaths, pulse, systolic, low, usual string // low: value, and range where sources differ
	}{
		// Fleming 2011, web appendix: the two courses; in brackets the widest of
		// both. Pressures of the one from memory. Low: the other, and the fifth
		// centile of Haque and Zaritsky 2007, 2 x years + 65.
		{"0 d", "30-40 (30-60)", "110-160 (85-205)", "70-90", "60", ""},
		{"27 d", "30-40 (30-60)", "110-160 (85-205)", "70-90", "60", ""},
		{"28 d", "30-40 (30-60)", "110-160 (85-205)", "70-90", "70", ""},
		{"3 mo", "30-40 (30-60)", "110-160 (100-190)", "70-90", "70", ""},
		{"11.9 mo", "30-40 (30-60)", "110-160 (100-190)", "70-90", "70", ""},
		{"1 a", "25-35 (24-40)", "100-150 (100-190)", "80-95", "72, 67-72", "92"},
		{"23 mo", "25-35 (24-40)", "100-150 (100-190)", "80-95", "72, 67-72", "92"},
		{"2 a", "25-30 (24-40)", "95-140 (60-140)", "80-100", "74, 69-74", "94"},
		{"4 a", "25-30 (22-34)", "95-140 (60-140)", "80-100", "78, 73-78", "98"},
		{"4.99 a", "25-30 (22-34)", "95-140 (60-140)", "80-100", "78, 73-78", "98"},
		{"5 a", "20-25 (20-34)", "80-120 (60-140)", "90-110", "80, 75-80", "100"},
		{"6 a", "20-25 (18-30)", "80-120 (60-140)", "90-110", "82, 77-82", "102"},
		{"10 a", "20-25 (18-30)", "80-120 (60-120)", "90-110", "90, 85-90", "110"},
		{"10.9 a", "20-25 (18-30)", "80-120 (60-120)", "90-110", "90, 85-90", "110"},
		{"11 a", "20-25 (18-30)", "80-120 (60-120)", "90-110", "90, 87-90", ""},
		{"12 a", "15-20 (15-30)", "60-100", "100-120", "90, 89-90", ""},
		{"13 a", "15-20 (12-20)", "60-100", "100-120", "90, 90-91", ""},
		{"15.9 a", "15-20 (12-20)", "60-100", "100-120", "90, 90-95", ""},
		// Early Warning Score 2: values that score nothing; low as from 11 years
		// on, and under 80 in the study of Kruger 2017.
		{"16 a", "12-20", "51-90 (51-100)", "111-219 (100-219)", "90, 80-90", ""},
		{"80 a", "12-20", "51-90 (51-100)", "111-219 (100-219)", "90, 80-90", ""},
		{"", "12-20", "51-90 (51-100)", "111-219 (100-219)", "90, 80-90", ""},
	} {
		l, err := LimitsFor(aged(c.age))
		if err != nil {
			t.Errorf("%q: %v", c.age, err)
			continue
		}
		low := l.Hypotension.Value.Value.String()
		if !l.Hypotension.Low.IsZero() {
			low += ", " + l.Hypotension.Low.Value.String() + "-" + l.Hypotension.High.Value.String()
		}
		got := [5]string{text(l.Breaths), text(l.Pulse), text(l.Systolic), low, l.Expected.Value.Value.String()}
		if want := [5]string{c.breaths, c.pulse, c.systolic, c.low, c.usual}; got != want {
			t.Errorf("%q: %q, want %q", c.age, got, want)
		}
		if l.Breaths.Low.Unit != quantity.PerMin || l.Systolic.Low.Unit != quantity.MmHg || l.Hypotension.Value.Unit != quantity.MmHg {
			t.Errorf("%q: units %+v", c.age, l)
		}
		for _, s := range [][]patient.Source{l.Breaths.Sources, l.Pulse.Sources, l.Systolic.Sources, l.Hypotension.Sources} {
			if len(s) == 0 {
				t.Errorf("%q: a limit without a source", c.age)
			}
		}
		if !has(l.Cautions, AwakeAtRest) || !has(l.Cautions, patient.Estimate) || has(l.Assumptions, patient.AdultAssumed) != (c.age == "") {
			t.Errorf("%q: %v, %v", c.age, l.Cautions, l.Assumptions)
		}
	}
	for sex, want := range map[term.Sex]bool{term.SexMale: false, term.SexFemale: true, "": true} {
		if l, err := LimitsFor(patient.Patient{Age: am("30 a"), Sex: sex}); err != nil || has(l.Cautions, NotInPregnancy) != want {
			t.Errorf("%q: %v, %v", sex, l.Cautions, err)
		}
	}
	for age, want := range map[string]bool{"27 d": true, "28 d": false} {
		if l, err := LimitsFor(patient.Patient{Age: am(age), Premature: true}); err != nil || has(l.Cautions, PrematureLower) != want {
			t.Errorf("premature of %s: %v, %v", age, l.Cautions, err)
		}
	}
	_, err := LimitsFor(aged("-1 d"))
	fault(t, "not born", err, "age", patient.TooLow)
	_, err = LimitsFor(aged("3 kg"))
	fault(t, "age in kg", err, "age", patient.WrongUnit)
	_, err = LimitsFor(patient.Patient{Sex: "both"})
	fault(t, "sex", err, "sex", patient.UnknownCode)
}

// TestSlowPulse: the pulse under which a child's counts as slow. Fleming and
// others, Lancet 2011;377:1011, proposed cut-offs, 10th centile (read in a
// copy of the table); under two years the lower end of the two courses (read).
func TestSlowPulse(t *testing.T) {
	for age, want := range map[string]string{
		"0 d": "85", "2.9 mo": "85", "3 mo": "100", "23 mo": "100", "2 a": "92", "2.9 a": "92", "3 a": "86", "4 a": "81", "5.9 a": "81",
		"6 a": "74", "7.9 a": "74", "8 a": "67", "11.9 a": "67", "12 a": "62", "14.9 a": "62", "15 a": "58", "15.9 a": "58", "16 a": "51", "70 a": "51", "": "51",
	} {
		l, err := LimitsFor(aged(age))
		if err != nil || l.SlowPulse.Value.String() != want+" /min" || len(l.SlowPulse.Sources) == 0 {
			t.Errorf("%q: under %s, want %s /min, %v (%v)", age, l.SlowPulse.Value, want, l.SlowPulse.Sources, err)
		}
	}
	// No birthday takes away more than a tenth of it, but the third month, before
	// which a newborn's is low, and the sixteenth, where the adult's begins.
	before := 0.0
	for months := 3; months < 16*12; months++ {
		l, err := LimitsFor(aged(fmt.Sprintf("%d mo", months)))
		if err != nil {
			t.Fatal(err)
		}
		now, err := l.SlowPulse.Value.Float64(quantity.PerMin)
		if err != nil || before != 0 && (now > before || now < 0.9*before) {
			t.Errorf("%d months: %g, a month before %g (%v)", months, now, before, err)
		}
		if n, err := l.SlowPulse.Value.Cmp(l.Pulse.High); err != nil || n >= 0 {
			t.Errorf("%d months: slow under %s, usual to %s (%v)", months, l.SlowPulse.Value, l.Pulse.High, err)
		}
		before = now
	}
}

// Where other published values stand against the limits: medians lie within
// the widest range, and whatever another source calls low is low here.
func TestLimitsAgainstOthers(t *testing.T) {
	limits := func(age string) Limits {
		l, err := LimitsFor(aged(age))
		if err != nil {
			t.Fatal(err)
		}
		return l
	}
	// Fleming and others, Lancet 2011;377:1011, medians (read).
	for _, c := range []struct {
		age, value string
		of         func(Limits) Limit
	}{
		{"0 d", "44 /min", func(l Limits) Limit { return l.Breaths }}, {"2 a", "26 /min", func(l Limits) Limit { return l.Breaths }},
		{"0 d", "127 /min", func(l Limits) Limit { return l.Pulse }}, {"1 mo", "145 /min", func(l Limits) Limit { return l.Pulse }},
	} {
		l := c.of(limits(c.age))
		if ok, err := am(c.value).Between(l.From, l.To); err != nil || !ok {
			t.Errorf("%s at %s: %s to %s, %v", c.value, c.age, l.From, l.To, err)
		}
	}
	// Resuscitation Council UK, fifth centile of the systolic (second-hand). At
	// 10 years 80 against 90 of the course in North America: the higher rules.
	for age, low := range map[string]string{"1 a": "70 mm[Hg]", "10 a": "80 mm[Hg]", "15 a": "90 mm[Hg]"} {
		l := limits(age).Hypotension
		if n, err := l.Value.Cmp(am(low)); err != nil || n < 0 {
			t.Errorf("%s: low under %s, elsewhere under %s, %v", age, l.Value, low, err)
		}
	}
}

func TestLimitHolds(t *testing.T) {
	l, err := LimitsFor(aged("30 a"))
	if err != nil {
		t.Fatal(err)
	}
	for a, want := range map[string]int{"50 /min": -1, "51 /min": 0, "90 /min": 0, "91 /min": 1, "1.5 /s": 0} {
		if got, err := l.Pulse.Holds(am(a)); err != nil || got != want {
			t.Errorf("%s: %d, %v; want %d", a, got, err, want)
		}
	}
	for _, a := range []string{"", "70 mm[Hg]"} {
		if _, err := l.Pulse.Holds(am(a)); err == nil {
			t.Errorf("%q lies somewhere", a)
		}
	}
}

// At every age a range is one, lies in the widest, and a pressure that counts
// as low is not above what is usual. Breaths and pulse do not rise with age
// until the adult's begin.
func TestLimitsProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		days := rapid.IntRange(0, 40000).Draw(t, "days")
		of := func(days int) Limits {
			l, err := LimitsFor(aged(fmt.Sprintf("%d d", days)))
			if err != nil {
				t.Fatal(err)
			}
			return l
		}
		le := func(a, b quantity.Amount) bool {
			n, err := a.Cmp(b)
			if err != nil {
				t.Fatal(err)
			}
			return n <= 0
		}
		l := of(days)
		for _, x := range []Limit{l.Breaths, l.Pulse, l.Systolic} {
			if !le(x.From, x.Low) || !le(x.Low, x.High) || !le(x.High, x.To) || x.Low == x.High {
				t.Fatalf("%d days: %+v", days, x)
			}
		}
		if !le(l.Hypotension.Value, l.Systolic.Low) {
			t.Fatalf("%d days: low under %s, usual from %s", days, l.Hypotension.Value, l.Systolic.Low)
		}
		if !l.Expected.Value.IsZero() && !le(l.Hypotension.Value, l.Expected.Value) {
			t.Fatalf("%d days: expected %s", days, l.Expected.Value)
		}
		const sixteen = 5844 // days, 16 x 365.25
		if older := of(rapid.IntRange(days, 40000).Draw(t, "older")); days < sixteen {
			if !le(older.Pulse.High, l.Pulse.High) || !le(older.Breaths.High, l.Breaths.High) || !le(l.Hypotension.Value, older.Hypotension.Value) {
				t.Fatalf("%d days: %+v, older %+v", days, l, older)
			}
		}
	})
}
