package waking

import (
	"errors"
	"fmt"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"chinlift/core/exact"
	"chinlift/core/patient"
	"chinlift/core/quantity"
	"chinlift/core/term"
)

// am makes an amount of its wire form; "" is absent.
func am(s string) quantity.Amount {
	if s == "" {
		return quantity.Amount{}
	}
	return quantity.MustParse(s)
}

func aged(age string) patient.Patient { return patient.Patient{Age: am(age)} }

func has[C ~string](list []C, c C) bool { return slices.Contains(list, c) }

func fault(t *testing.T, name string, err error, field, code string) {
	t.Helper()
	var e *patient.Error
	if !errors.As(err, &e) || e.Field != field || e.Code != code {
		t.Errorf("%s: %v, want %s at %s", name, err, code, field)
	}
}

// of makes the five items; -1: not looked at.
func of(n ...int) Items {
	p := make([]*int, 5)
	for i := range n {
		if n[i] != -1 {
			p[i] = &n[i]
		}
	}
	return Items{p[0], p[1], p[2], p[3], p[4]}
}

func TestAldrete(t *testing.T) {
	// Aldrete 1995: the sum of five items; 9 and over is fit to leave. Worked
	// out from it.
	for _, c := range []struct {
		items Items
		sum   string
		fit   bool
	}{
		{of(2, 2, 2, 2, 2), "10 {score}", true},
		{of(2, 2, 1, 2, 2), "9 {score}", true},
		{of(1, 2, 2, 1, 2), "8 {score}", false},
		{of(2, 2, 0, 2, 2), "8 {score}", false},
		{of(0, 0, 0, 0, 0), "0 {score}", false},
	} {
		r, err := Aldrete(c.items)
		if err != nil || r.Sum.Value.String() != c.sum || r.Fit != c.fit {
			t.Errorf("%s, fit %t, %v; want %s, %t", r.Sum.Value, r.Fit, err, c.sum, c.fit)
		}
		if len(r.Sum.Sources) == 0 || !has(r.Sum.Cautions, WatcherDecides) || has(r.Sum.Cautions, ActivityWithBlock) != (*c.items.Activity < 2) {
			t.Errorf("%s: %+v", c.sum, r.Sum)
		}
	}
	for n, field := range []string{"activity", "respiration", "circulation", "consciousness", "oxygen"} {
		for value, code := range map[int]string{-1: patient.Missing, -2: patient.TooLow, 3: patient.TooHigh} {
			items := []int{2, 2, 2, 2, 2}
			items[n] = value
			_, err := Aldrete(of(items...))
			fault(t, fmt.Sprintf("%s of %d", field, value), err, field, code)
		}
	}
}

func TestCirculation(t *testing.T) {
	// Within 20 % two, to 49 % one, 50 % and over none.
	for _, c := range []struct {
		now, rest, change string
		points, asMmHg    int
	}{
		{"100 mm[Hg]", "100 mm[Hg]", "0 %", 2, 2},
		{"80 mm[Hg]", "100 mm[Hg]", "-20 %", 2, 2},
		{"120 mm[Hg]", "100 mm[Hg]", "20 %", 2, 2},
		{"79.99 mm[Hg]", "100 mm[Hg]", "-20.1 %", 1, 1},
		{"120.01 mm[Hg]", "100 mm[Hg]", "20.1 %", 1, 1},
		{"50.1 mm[Hg]", "100 mm[Hg]", "-49.9 %", 1, 1},
		{"50.05 mm[Hg]", "100 mm[Hg]", "-50 %", 0, 1}, // 49.95 %, shown as 50
		{"50 mm[Hg]", "100 mm[Hg]", "-50 %", 0, 0},
		{"150 mm[Hg]", "100 mm[Hg]", "50 %", 0, 0},
		{"0 mm[Hg]", "100 mm[Hg]", "-100 %", 0, 0},
		// Where millimetres would mislead: 35 of 200 are 17.5 %, 20 of 60 a third.
		{"165 mm[Hg]", "200 mm[Hg]", "-17.5 %", 2, 1},
		{"40 mm[Hg]", "60 mm[Hg]", "-33.4 %", 1, 2},
		{"13.3322 kPa", "125 mm[Hg]", "-20 %", 2, 1}, // 100 of 125
	} {
		p, err := Circulation(am(c.now), am(c.rest))
		if err != nil || p.Points != c.points || p.Change.Value.String() != c.change || p.AsMmHg != c.asMmHg {
			t.Errorf("%s of %s: %d points, %s, in mmHg %d, %v; want %d, %s, %d", c.now, c.rest, p.Points, p.Change.Value, p.AsMmHg, err, c.points, c.change, c.asMmHg)
		}
		if p.Differs != (c.points != c.asMmHg) || has(p.Change.Cautions, PercentNotMmHg) != p.Differs || len(p.Change.Sources) == 0 {
			t.Errorf("%s of %s: %+v", c.now, c.rest, p)
		}
	}
	_, err := Circulation(am(""), am("100 mm[Hg]"))
	fault(t, "no pressure", err, "systolic", patient.Missing)
	_, err = Circulation(am("100 mm[Hg]"), am(""))
	fault(t, "no pressure at rest", err, "rest", patient.Missing)
	_, err = Circulation(am("100 mm[Hg]"), am("0 mm[Hg]"))
	fault(t, "no pressure to divide by", err, "rest", patient.TooLow)
	_, err = Circulation(am("100 /min"), am("100 mm[Hg]"))
	fault(t, "a pulse", err, "systolic", patient.WrongUnit)
}

func TestOxygen(t *testing.T) {
	for _, c := range []struct {
		saturation string
		onOxygen   bool
		points     int
		caution    patient.Caution
	}{
		{"100 %", false, 2, ""},
		{"93 %", false, 2, ""},
		{"92 %", false, 1, NotInTable},
		{"91 %", false, 1, NotInTable},
		{"90 %", false, 0, TryOxygen},
		{"99 %", true, 1, TryAir},
		{"91 %", true, 1, TryAir},
		{"90 %", true, 0, NotInTable},
		{"89 %", true, 0, ""},
	} {
		o, err := Oxygen(am(c.saturation), c.onOxygen)
		if err != nil || o.Points != c.points || c.caution != "" && !has(o.Cautions, c.caution) || c.caution == "" && len(o.Cautions) > 0 {
			t.Errorf("%s, oxygen %t: %+v, %v; want %d, %s", c.saturation, c.onOxygen, o, err, c.points, c.caution)
		}
	}
	_, err := Oxygen(am("101 %"), false)
	fault(t, "more than all", err, "spo2", patient.TooHigh)
	_, err = Oxygen(am(""), false)
	fault(t, "not measured", err, "spo2", patient.Missing)
}

func well() Signs {
	return Signs{Breaths: am("16 /min"), SpO2: am("97 %"), Systolic: am("120 mm[Hg]"), Pulse: am("72 /min"), Awake: term.AwakeAlert, Temperature: am("37 Cel"), Pregnant: No}
}

func TestNEWS2Columns(t *testing.T) {
	// Royal College of Physicians 2017, chart 1: both ends of every column.
	breaths := func(v string) func(*Signs) { return func(s *Signs) { s.Breaths = am(v + " /min") } }
	systolic := func(v string) func(*Signs) { return func(s *Signs) { s.Systolic = am(v + " mm[Hg]") } }
	pulse := func(v string) func(*Signs) { return func(s *Signs) { s.Pulse = am(v + " /min") } }
	degrees := func(v string) func(*Signs) { return func(s *Signs) { s.Temperature = am(v) } }
	spo2 := func(v string, two, oxygen bool) func(*Signs) {
		return func(s *Signs) { s.SpO2, s.ScaleTwo, s.OnOxygen = am(v+" %"), two, oxygen }
	}
	for _, c := range []struct {
		name, field string
		change      func(*Signs)
		points      int
	}{
		{"0 breaths", "breaths", breaths("0"), 3}, {"8 breaths", "breaths", breaths("8"), 3}, {"9 breaths", "breaths", breaths("9"), 1},
		{"11 breaths", "breaths", breaths("11"), 1}, {"12 breaths", "breaths", breaths("12"), 0}, {"20 breaths", "breaths", breaths("20"), 0},
		{"21 breaths", "breaths", breaths("21"), 2}, {"24 breaths", "breaths", breaths("24"), 2}, {"25 breaths", "breaths", breaths("25"), 3},

		{"91", "spo2", spo2("91", false, false), 3}, {"92", "spo2", spo2("92", false, false), 2}, {"93", "spo2", spo2("93", false, false), 2},
		{"94", "spo2", spo2("94", false, false), 1}, {"95", "spo2", spo2("95", false, false), 1}, {"96", "spo2", spo2("96", false, false), 0},
		{"96 with oxygen", "spo2", spo2("96", false, true), 0}, {"100 with oxygen", "spo2", spo2("100", false, true), 0},

		{"two, 83", "spo2", spo2("83", true, false), 3}, {"two, 84", "spo2", spo2("84", true, false), 2}, {"two, 85", "spo2", spo2("85", true, true), 2},
		{"two, 86", "spo2", spo2("86", true, false), 1}, {"two, 87", "spo2", spo2("87", true, true), 1}, {"two, 88", "spo2", spo2("88", true, true), 0},
		{"two, 92 with oxygen", "spo2", spo2("92", true, true), 0}, {"two, 93 on air", "spo2", spo2("93", true, false), 0}, {"two, 100 on air", "spo2", spo2("100", true, false), 0},
		{"two, 93 with oxygen", "spo2", spo2("93", true, true), 1}, {"two, 94 with oxygen", "spo2", spo2("94", true, true), 1},
		{"two, 95 with oxygen", "spo2", spo2("95", true, true), 2}, {"two, 96 with oxygen", "spo2", spo2("96", true, true), 2}, {"two, 97 with oxygen", "spo2", spo2("97", true, true), 3},

		{"air", "oxygen", func(s *Signs) { s.OnOxygen = false }, 0}, {"oxygen", "oxygen", func(s *Signs) { s.OnOxygen = true }, 2},

		{"90 mmHg", "systolic", systolic("90"), 3}, {"91 mmHg", "systolic", systolic("91"), 2}, {"100 mmHg", "systolic", systolic("100"), 2},
		{"101 mmHg", "systolic", systolic("101"), 1}, {"110 mmHg", "systolic", systolic("110"), 1}, {"111 mmHg", "systolic", systolic("111"), 0},
		{"219 mmHg", "systolic", systolic("219"), 0}, {"220 mmHg", "systolic", systolic("220"), 3},

		{"pulse 40", "pulse", pulse("40"), 3}, {"pulse 41", "pulse", pulse("41"), 1}, {"pulse 50", "pulse", pulse("50"), 1}, {"pulse 51", "pulse", pulse("51"), 0},
		{"pulse 90", "pulse", pulse("90"), 0}, {"pulse 91", "pulse", pulse("91"), 1}, {"pulse 110", "pulse", pulse("110"), 1}, {"pulse 111", "pulse", pulse("111"), 2},
		{"pulse 130", "pulse", pulse("130"), 2}, {"pulse 131", "pulse", pulse("131"), 3},

		{"35.0", "temperature", degrees("35.0 Cel"), 3}, {"35.1", "temperature", degrees("35.1 Cel"), 1}, {"36.0", "temperature", degrees("36.0 Cel"), 1},
		{"36.1", "temperature", degrees("36.1 Cel"), 0}, {"38.0", "temperature", degrees("38.0 Cel"), 0}, {"38.1", "temperature", degrees("38.1 Cel"), 1},
		{"39.0", "temperature", degrees("39.0 Cel"), 1}, {"39.1", "temperature", degrees("39.1 Cel"), 2},
		{"100.4 °F", "temperature", degrees("100.4 [degF]"), 0}, {"102.2 °F", "temperature", degrees("102.2 [degF]"), 1}, // 38.0 and 39.0
		{"rounded down", "temperature", degrees("38.04 Cel"), 0}, {"rounded up", "temperature", degrees("38.06 Cel"), 1},

		{"confused", "awake", func(s *Signs) { s.Awake = term.AwakeConfused }, 3}, {"voice", "awake", func(s *Signs) { s.Awake = term.AwakeVoice }, 3},
		{"to pain", "awake", func(s *Signs) { s.Awake = term.AwakePain }, 3}, {"not at all", "awake", func(s *Signs) { s.Awake = term.AwakeUnresponsive }, 3},
	} {
		s := well()
		c.change(&s)
		w, err := NEWS2(aged("40 a"), s)
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		sum := 0
		for _, p := range w.Points {
			sum += p.Points
			if p.Field == c.field && p.Points != c.points {
				t.Errorf("%s: %d points, want %d", c.name, p.Points, c.points)
			}
		}
		if w.Sum.Value.String() != points(sum).String() || len(w.Points) != 7 {
			t.Errorf("%s: sum %s of %v", c.name, w.Sum.Value, w.Points)
		}
	}
}

func TestNEWS2Bands(t *testing.T) {
	// Chart 4.
	for name, c := range map[string]struct {
		change    func(*Signs)
		sum       string
		band      term.WarningBand
		low, high string
	}{
		"nothing":        {func(*Signs) {}, "0", term.WarningBandRoutine, "12 h", "12 h"},
		"one":            {func(s *Signs) { s.Pulse = am("95 /min") }, "1", term.WarningBandLow, "4 h", "6 h"},
		"four in parts":  {func(s *Signs) { s.OnOxygen, s.Pulse = true, am("120 /min") }, "4", term.WarningBandLow, "4 h", "6 h"},
		"three at once":  {func(s *Signs) { s.Systolic = am("90 mm[Hg]") }, "3", term.WarningBandSingle, "1 h", "1 h"},
		"four, one of 3": {func(s *Signs) { s.Systolic, s.Pulse = am("90 mm[Hg]"), am("95 /min") }, "4", term.WarningBandSingle, "1 h", "1 h"},
		"five in parts":  {func(s *Signs) { s.OnOxygen, s.Pulse, s.SpO2 = true, am("120 /min"), am("95 %") }, "5", term.WarningBandUrgent, "1 h", "1 h"},
		"six":            {func(s *Signs) { s.OnOxygen, s.Pulse, s.SpO2 = true, am("120 /min"), am("93 %") }, "6", term.WarningBandUrgent, "1 h", "1 h"},
		"seven": {func(s *Signs) {
			s.OnOxygen, s.Pulse, s.SpO2, s.Systolic = true, am("120 /min"), am("93 %"), am("105 mm[Hg]")
		}, "7", term.WarningBandEmergency, "", ""},
		"all": {func(s *Signs) {
			*s = Signs{Breaths: am("8 /min"), SpO2: am("80 %"), OnOxygen: true, Systolic: am("70 mm[Hg]"), Pulse: am("140 /min"), Awake: term.AwakePain, Temperature: am("34 Cel")}
		}, "20", term.WarningBandEmergency, "", ""},
	} {
		s := well()
		c.change(&s)
		w, err := NEWS2(aged("16 a"), s)
		if err != nil || w.Sum.Value.String() != c.sum+" {score}" || w.Band != c.band || w.EveryLow.String() != c.low || w.EveryHigh.String() != c.high {
			t.Errorf("%s: %s, %s, %q to %q, %v; want %s, %s, %q to %q", name, w.Sum.Value, w.Band, w.EveryLow, w.EveryHigh, err, c.sum, c.band, c.low, c.high)
		}
		if len(w.Sum.Sources) == 0 || !has(w.Sum.Cautions, WatcherDecides) {
			t.Errorf("%s: %+v", name, w.Sum)
		}
	}
}

func TestNEWS2Refuses(t *testing.T) {
	for name, c := range map[string]struct {
		age         string
		change      func(*Signs)
		field, code string
	}{
		"a child":        {"15.99 a", func(*Signs) {}, "age", patient.NoRule},
		"no age":         {"", func(*Signs) {}, "age", patient.Missing},
		"pregnant":       {"30 a", func(s *Signs) { s.Pregnant = Yes }, "pregnant", NotForPregnancy},
		"perhaps":        {"30 a", func(s *Signs) { s.Pregnant = "perhaps" }, "pregnant", patient.UnknownCode},
		"no breaths":     {"30 a", func(s *Signs) { s.Breaths = am("") }, "breaths", patient.Missing},
		"no saturation":  {"30 a", func(s *Signs) { s.SpO2 = am("") }, "spo2", patient.Missing},
		"no pressure":    {"30 a", func(s *Signs) { s.Systolic = am("") }, "systolic", patient.Missing},
		"no pulse":       {"30 a", func(s *Signs) { s.Pulse = am("") }, "pulse", patient.Missing},
		"no temperature": {"30 a", func(s *Signs) { s.Temperature = am("") }, "temperature", patient.Missing},
		"not looked":     {"30 a", func(s *Signs) { s.Awake = "" }, "awake", patient.Missing},
		"dreaming":       {"30 a", func(s *Signs) { s.Awake = "dreaming" }, "awake", patient.UnknownCode},
		"boiling":        {"30 a", func(s *Signs) { s.Temperature = am("98.6 Cel") }, "temperature", patient.TooHigh},
		"pulse in mmHg":  {"30 a", func(s *Signs) { s.Pulse = am("72 mm[Hg]") }, "pulse", patient.WrongUnit},
	} {
		s := well()
		c.change(&s)
		_, err := NEWS2(aged(c.age), s)
		fault(t, name, err, c.field, c.code)
	}
	s := well()
	s.Pregnant, s.ScaleTwo = "", true
	for _, c := range []struct {
		p     patient.Patient
		asked bool
	}{{patient.Patient{Age: am("55 a"), Sex: term.SexFemale}, true}, {patient.Patient{Age: am("56 a"), Sex: term.SexFemale}, false}, {patient.Patient{Age: am("30 a"), Sex: term.SexMale}, false}, {aged("30 a"), true}} {
		w, err := NEWS2(c.p, s)
		if err != nil || has(w.Sum.Cautions, PregnancyNotAsked) != c.asked || !has(w.Sum.Cautions, ScaleTwoDecided) {
			t.Errorf("%+v: %v, %v", c.p, w.Sum.Cautions, err)
		}
	}
}

func TestFelt(t *testing.T) {
	for n, want := range map[string]term.Degree{"0": term.DegreeNone, "1": term.DegreeMild, "3": term.DegreeMild, "4": term.DegreeModerate, "6": term.DegreeModerate, "7": term.DegreeSevere, "10": term.DegreeSevere} {
		if f, err := Pain(aged("8 a"), am(n+" {score}")); err != nil || f.Degree != want || has(f.Cautions, TooYoungForNumber) || len(f.Sources) == 0 {
			t.Errorf("pain %s: %+v, %v; want %s", n, f, err, want)
		}
	}
	// Boogaerts 2000: ranges that touch; on a bound the worse.
	for n, want := range map[string]term.Degree{"0": term.DegreeNone, "0.9": term.DegreeNone, "1": term.DegreeMild, "3.9": term.DegreeMild, "4": term.DegreeModerate, "6.9": term.DegreeModerate, "7": term.DegreeSevere, "10": term.DegreeSevere} {
		f, err := Nausea(am(n + " {score}"))
		if err != nil || f.Degree != want || has(f.Cautions, RescueThreshold) != (term.DegreeList.Index(want) >= 2) || len(f.Sources) == 0 {
			t.Errorf("nausea %s: %+v, %v; want %s", n, f, err, want)
		}
	}
	if f, err := Pain(aged("7.9 a"), am("5 {score}")); err != nil || !has(f.Cautions, TooYoungForNumber) {
		t.Errorf("a child: %+v, %v", f, err)
	}
	_, err := Pain(aged("30 a"), am("4.5 {score}"))
	fault(t, "a half", err, "pain", NotWhole)
	_, err = Pain(aged("30 a"), am("11 {score}"))
	fault(t, "eleven", err, "pain", patient.TooHigh)
	_, err = Pain(aged("300 a"), am("1 {score}"))
	fault(t, "age", err, "age", patient.TooHigh)
	_, err = Nausea(am("-1 {score}"))
	fault(t, "less than none", err, "nausea", patient.TooLow)
	_, err = Nausea(am(""))
	fault(t, "not asked", err, "nausea", patient.Missing)
}

func TestBromage(t *testing.T) {
	for _, c := range []struct {
		motor     term.Motor
		since     string
		score     string
		cord, yet bool
	}{
		{term.Motor0, "", "0 {score}", false, true},
		{term.Motor0, "6 h", "0 {score}", false, true},
		{term.Motor1, "", "1 {score}", false, false},
		{term.Motor1, "239 min", "1 {score}", false, false},
		{term.Motor1, "4 h", "1 {score}", true, false},
		{term.Motor2, "1 h", "2 {score}", false, false},
		{term.Motor3, "5 h", "3 {score}", true, false},
	} {
		l, err := Bromage(c.motor, am(c.since))
		if err != nil || l.Score.Value.String() != c.score || has(l.Cautions, LookForCord) != c.cord || has(l.Cautions, NotYetWalking) != c.yet || !has(l.Cautions, ScalesDiffer) || len(l.Score.Sources) == 0 {
			t.Errorf("%s after %q: %+v, %v", c.motor, c.since, l, err)
		}
	}
	_, err := Bromage("", am("1 h"))
	fault(t, "not looked at", err, "motor", patient.Missing)
	_, err = Bromage("4", am("1 h"))
	fault(t, "another scale", err, "motor", patient.UnknownCode)
	_, err = Bromage(term.Motor1, am("80 h"))
	fault(t, "three days", err, "since", patient.TooHigh)
}

func TestNextLook(t *testing.T) {
	for name, c := range map[string]struct {
		since, last     string
		steady          bool
		every, in, over string
	}{
		"arrival":            {"0 min", "", false, "", "0 min", ""},
		"nobody looked":      {"7.5 min", "", true, "", "0 min", "7 min"},
		"looked before":      {"2 min", "3 min", true, "", "0 min", "2 min"},
		"looked on arrival":  {"2 min", "2 min", true, "5 min", "3 min", ""},
		"due":                {"5 min", "5 min", true, "5 min", "0 min", ""},
		"seconds over":       {"5.5 min", "5.5 min", true, "5 min", "0 min", ""},
		"a minute over":      {"11 min", "6 min", true, "5 min", "0 min", "1 min"},
		"last before 15":     {"16 min", "1.1 min", true, "5 min", "3 min", ""}, // at 14.9
		"last at 15, steady": {"16 min", "1 min", true, "15 min", "14 min", ""},
		"last at 15, not":    {"16 min", "1 min", false, "5 min", "4 min", ""},
		"steady after hours": {"200 min", "10 min", true, "15 min", "5 min", ""},
		"unsteady for hours": {"200 min", "10 min", false, "5 min", "0 min", "5 min"},
	} {
		d, err := NextLook(Recovery{am(c.since), am(c.last), c.steady})
		if err != nil || d.Every.String() != c.every || d.In.String() != c.in || d.Over.String() != c.over || d.Source.Title == "" {
			t.Errorf("%s: every %q, in %q, over %q, %v; want %q, %q, %q", name, d.Every, d.In, d.Over, err, c.every, c.in, c.over)
		}
	}
	_, err := NextLook(Recovery{})
	fault(t, "no arrival", err, "since", patient.Missing)
	_, err = NextLook(Recovery{Since: am("-1 min")})
	fault(t, "arrives tomorrow", err, "since", patient.TooLow)
	_, err = NextLook(Recovery{Since: am("1 min"), Last: am("-1 min")})
	fault(t, "will look", err, "last", patient.TooLow)
	_, err = NextLook(Recovery{Since: am("8 d")})
	fault(t, "a week", err, "since", patient.TooHigh)
}

// A worse item never raises the score, a value further out never lowers the
// early warning, a steady patient is never due sooner, and time that passes
// never puts a look off.
func TestMonotone(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := func(label string, low, high int) int { return rapid.IntRange(low, high).Draw(t, label) }

		var items [5]int
		for i := range items {
			items[i] = n("item", 0, 2)
		}
		a, err := Aldrete(of(items[:]...))
		if err != nil {
			t.Fatal(err)
		}
		worse := items
		at := n("which", 0, 4)
		worse[at] = n("worse", 0, worse[at])
		b, err := Aldrete(of(worse[:]...))
		if err != nil {
			t.Fatal(err)
		}
		if c, err := b.Sum.Value.Cmp(a.Sum.Value); err != nil || c > 0 || b.Fit && !a.Fit {
			t.Fatalf("%v: %s; %v: %s", items, a.Sum.Value, worse, b.Sum.Value)
		}

		// Circulation: away from the pressure at rest.
		rest, off := n("rest", 20, 200), n("off", 0, 150)
		further := n("further", off, 150)
		up := rapid.Bool().Draw(t, "up")
		pressure := func(off int) Pressure {
			now := rest + off
			if !up {
				now = max(0, rest-off)
			}
			p, err := Circulation(am(fmt.Sprintf("%d mm[Hg]", now)), am(fmt.Sprintf("%d mm[Hg]", rest)))
			if err != nil {
				t.Fatal(err)
			}
			return p
		}
		if near, far := pressure(off), pressure(further); far.Points > near.Points {
			t.Fatalf("%d off %d: %d; %d off: %d", off, rest, near.Points, further, far.Points)
		}

		// Early warning: each sign away from where it scores nothing.
		s := Signs{ScaleTwo: rapid.Bool().Draw(t, "two"), OnOxygen: rapid.Bool().Draw(t, "oxygen"), Awake: rapid.SampledFrom(term.AwakeList.Codes()).Draw(t, "awake"), Pregnant: No}
		best := 97
		if s.ScaleTwo {
			best = 90
		}
		out := func(label string, from, low, high int) (near, far int) {
			near = n(label, low, high)
			switch {
			case near >= from && rapid.Bool().Draw(t, label+" stays"), near == from:
				return near, near
			case near > from:
				return near, n(label+" further", near, high)
			}
			return near, n(label+" further", low, near)
		}
		set := func(breaths, spo2, systolic, pulse, tenths int) Signs {
			v := s
			v.Breaths, v.SpO2 = am(fmt.Sprintf("%d /min", breaths)), am(fmt.Sprintf("%d %%", spo2))
			v.Systolic, v.Pulse = am(fmt.Sprintf("%d mm[Hg]", systolic)), am(fmt.Sprintf("%d /min", pulse))
			v.Temperature = am(fmt.Sprintf("%d.%d Cel", tenths/10, tenths%10))
			return v
		}
		b1, b2 := out("breaths", 16, 0, 80)
		o1, o2 := out("spo2", best, 50, best)
		p1, p2 := out("systolic", 150, 0, 300)
		h1, h2 := out("pulse", 70, 0, 250)
		t1, t2 := out("tenths", 370, 300, 420)
		near, err := NEWS2(aged("50 a"), set(b1, o1, p1, h1, t1))
		if err != nil {
			t.Fatal(err)
		}
		far, err := NEWS2(aged("50 a"), set(b2, o2, p2, h2, t2))
		if err != nil {
			t.Fatal(err)
		}
		bands := term.WarningBandList
		if c, err := far.Sum.Value.Cmp(near.Sum.Value); err != nil || c < 0 || bands.Index(far.Band) < bands.Index(near.Band) {
			t.Fatalf("%v is %s, %s; further out %v is %s, %s", near.Points, near.Sum.Value, near.Band, far.Points, far.Sum.Value, far.Band)
		}

		// The next look.
		since := n("since", 0, 20000)
		r := Recovery{Since: am(fmt.Sprintf("%d s", since)), Steady: rapid.Bool().Draw(t, "steady")}
		last := n("last", 0, since)
		r.Last = am(fmt.Sprintf("%d s", last))
		look := func(r Recovery) int64 {
			d, err := NextLook(r)
			if err != nil {
				t.Fatal(err)
			}
			in := exact.Of(d.In.Value.String()).Floor().Int64()
			if !d.Over.IsZero() {
				in = -exact.Of(d.Over.Value.String()).Floor().Int64()
			}
			return in
		}
		calm := r
		calm.Steady = true
		if look(calm) < look(r) {
			t.Fatalf("a steady patient is due sooner: %+v", r)
		}
		gone := n("gone", 0, 10000)
		later := r
		later.Since, later.Last = am(fmt.Sprintf("%d s", since+gone)), am(fmt.Sprintf("%d s", last+gone))
		if look(later) > look(r) {
			t.Fatalf("%d s later the look is further off: %+v", gone, r)
		}
	})
}
