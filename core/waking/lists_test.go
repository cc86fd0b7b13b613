package waking

import (
	"maps"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"chinlift/core/patient"
	"chinlift/core/quantity"
	"chinlift/core/term"
)

func leavings(t interface {
	Helper()
	Fatal(...any)
}) map[string]*Leaving {
	t.Helper()
	all, err := Leavings()
	if err != nil {
		t.Fatal(err)
	}
	m := map[string]*Leaving{}
	for _, l := range all {
		m[l.Code] = l
	}
	return m
}

func TestLeavings(t *testing.T) {
	all := leavings(t)
	if got := slices.Sorted(maps.Keys(all)); !slices.Equal(got, []string{"home", "recovery"}) {
		t.Fatalf("lists %v", got)
	}
	ward := all["recovery"]
	if len(ward.Version) != 64 {
		t.Errorf("version %q", ward.Version)
	}
	// Every bound: what just meets it, and what just does not.
	for _, c := range []struct {
		list    string
		code    string
		measure Measure
		value   string
		want    Said
	}{
		{"recovery", "score", MeasureScore, "9 {score}", Yes}, {"recovery", "score", MeasureScore, "8 {score}", No}, // Aldrete 1995
		{"recovery", "pain", MeasurePain, "4 {score}", Yes}, {"recovery", "pain", MeasurePain, "5 {score}", No}, // BMC Anesthesiology 2015, table 1
		{"recovery", "nausea", MeasureNausea, "3.9 {score}", Yes}, {"recovery", "nausea", MeasureNausea, "4 {score}", No},
		{"recovery", "temperature", MeasureTemperature, "36.0 Cel", Yes}, {"recovery", "temperature", MeasureTemperature, "35.9 Cel", No},
		{"recovery", "temperature", MeasureTemperature, "96.8 [degF]", Yes},
		{"home", "vital-signs", MeasurePressure, "-20 %", Yes}, {"home", "vital-signs", MeasurePressure, "20 %", Yes}, // Chung 1995
		{"home", "vital-signs", MeasurePressure, "-20.1 %", No}, {"home", "vital-signs", MeasurePressure, "20.1 %", No},
		{"home", "block", MeasureMotor, "0 {score}", Yes}, {"home", "block", MeasureMotor, "1 {score}", No},
	} {
		met, _, err := all[c.list].Check(map[Measure]quantity.Amount{c.measure: am(c.value)}, nil)
		if err != nil {
			t.Errorf("%s, %s: %v", c.list, c.code, err)
			continue
		}
		for _, m := range met {
			if want := map[bool]Said{true: c.want}[m.Code == c.code]; m.State != want {
				t.Errorf("%s, %s of %s: %s is %q, want %q", c.list, c.code, c.value, m.Code, m.State, want)
			}
		}
	}

	_, open, err := ward.Check(nil, nil)
	if err != nil || open != len(ward.Criteria) {
		t.Errorf("nobody looked: %d of %d open, %v", open, len(ward.Criteria), err)
	}
	said := map[string]Said{}
	for _, c := range ward.Criteria {
		if c.Measure == "" {
			said[c.Code] = Yes
		}
	}
	measured := map[Measure]quantity.Amount{MeasureScore: am("10 {score}"), MeasurePain: am("0 {score}"), MeasureNausea: am("0 {score}"), MeasureTemperature: am("37 Cel")}
	if _, open, err = ward.Check(measured, said); err != nil || open != 0 {
		t.Errorf("all is well: %d open, %v", open, err)
	}
	said["airway"] = No
	if _, open, err = ward.Check(measured, said); err != nil || open != 1 {
		t.Errorf("all but the airway: %d open, %v", open, err)
	}

	for name, c := range map[string]struct {
		measured    map[Measure]quantity.Amount
		said        map[string]Said
		field, code string
	}{
		"no such measure":    {map[Measure]quantity.Amount{"mood": am("9 {score}")}, nil, "measure", patient.UnknownCode},
		"not of this list":   {map[Measure]quantity.Amount{MeasureMotor: am("0 {score}")}, nil, "measure", patient.UnknownCode},
		"absent":             {map[Measure]quantity.Amount{MeasurePain: am("")}, nil, "pain", patient.Missing},
		"eleven":             {map[Measure]quantity.Amount{MeasurePain: am("11 {score}")}, nil, "pain", patient.TooHigh},
		"wrong unit":         {map[Measure]quantity.Amount{MeasureTemperature: am("37 %")}, nil, "temperature", patient.WrongUnit},
		"no such criterion":  {nil, map[string]Said{"mood": Yes}, "said", patient.UnknownCode},
		"said, not measured": {nil, map[string]Said{"pain": Yes}, "said", patient.UnknownCode},
		"perhaps":            {nil, map[string]Said{"airway": "perhaps"}, "airway", patient.UnknownCode},
	} {
		_, _, err := ward.Check(c.measured, c.said)
		fault(t, name, err, c.field, c.code)
	}
}

// A higher score, less pain, one more yes: never a criterion more that is open.
func TestLeavingMonotone(t *testing.T) {
	ward := leavings(t)["recovery"]
	rapid.Check(t, func(t *rapid.T) {
		n := func(label string, low, high int) int { return rapid.IntRange(low, high).Draw(t, label) }
		score, pain, nausea, tenths := n("score", 0, 10), n("pain", 0, 10), n("nausea", 0, 10), n("tenths", 300, 400)
		said := map[string]Said{}
		for _, c := range ward.Criteria {
			if s := rapid.SampledFrom([]Said{"", Yes, No}).Draw(t, c.Code); c.Measure == "" {
				said[c.Code] = s
			}
		}
		open := func(score, pain, nausea, tenths int) int {
			_, open, err := ward.Check(map[Measure]quantity.Amount{MeasureScore: points(score), MeasurePain: points(pain), MeasureNausea: points(nausea),
				MeasureTemperature: {Value: quantity.DecimalFromInt(int64(tenths)), Unit: quantity.Cel}}, said)
			if err != nil {
				t.Fatal(err)
			}
			return open
		}
		tenths /= 10
		before := open(score, pain, nausea, tenths)
		for _, c := range ward.Criteria {
			if c.Measure == "" && rapid.Bool().Draw(t, c.Code+" now") {
				said[c.Code] = Yes
			}
		}
		if after := open(n("more", score, 10), n("less pain", 0, pain), n("less nausea", 0, nausea), n("warmer", tenths, 40)); after > before {
			t.Fatalf("%d open, and then %d", before, after)
		}
	})
}

func TestNextDay(t *testing.T) {
	l, err := NextDay()
	if err != nil {
		t.Fatal(err)
	}
	if len(l.Version) != 64 {
		t.Errorf("version %q", l.Version)
	}
	codes := func(age string, techniques ...term.Technique) (s []string) {
		t.Helper()
		qs, err := l.For(aged(age), techniques)
		if err != nil {
			t.Fatal(err)
		}
		for _, q := range qs {
			s = append(s, q.Code)
		}
		return s
	}
	all := codes("")
	for _, code := range []string{"nausea", "throat", "between", "nerve", "headache", "satisfied", "complication"} {
		if !slices.Contains(all, code) {
			t.Errorf("%s is not asked", code)
		}
	}
	if len(all) != len(l.Questions) {
		t.Errorf("with nothing known %d of %d are asked", len(all), len(l.Questions))
	}
	for name, c := range map[string]struct {
		codes    []string
		between  bool
		headache bool
	}{
		"open drop":         {codes("30 a", term.TechniqueOpenDrop), true, false},
		"spinal":            {codes("30 a", term.TechniqueSpinal), false, true},
		"spinal and asleep": {codes("30 a", term.TechniqueSpinal, term.TechniqueKetamine), true, true},
		"block":             {codes("30 a", term.TechniqueNerveBlock), false, false},
		"child of 5":        {codes("5 a", term.TechniqueKetamine), true, false},
		"child of 4":        {codes("59 mo", term.TechniqueKetamine), false, false},
	} {
		if slices.Contains(c.codes, "between") != c.between || slices.Contains(c.codes, "headache") != c.headache || !slices.Contains(c.codes, "nausea") {
			t.Errorf("%s: %v", name, c.codes)
		}
	}
	_, err = l.For(aged("30 a"), []term.Technique{"hypnosis"})
	fault(t, "technique", err, "technique", patient.UnknownCode)
	_, err = l.For(aged("300 a"), nil)
	fault(t, "age", err, "age", patient.TooHigh)
}

func TestToTell(t *testing.T) {
	l, err := NextDay()
	if err != nil {
		t.Fatal(err)
	}
	question := func(code string) Question {
		for _, q := range l.Questions {
			if q.Code == code {
				return q
			}
		}
		t.Fatalf("no question %s", code)
		return Question{}
	}
	for _, c := range []struct {
		code  string
		reply Reply
		tell  bool
	}{
		{"nausea", Reply{Score: am("3.9 {score}")}, false}, {"nausea", Reply{Score: am("4 {score}")}, true},
		{"pain", Reply{Score: am("6 {score}")}, false}, {"pain", Reply{Score: am("7 {score}")}, true},
		{"satisfied", Reply{Score: am("0 {score}")}, false},
		{"between", Reply{Said: Yes}, true}, {"between", Reply{Said: No}, false}, {"throat", Reply{Said: Yes}, false}, {"nerve", Reply{Said: Yes}, true},
		{"complication", Reply{Grade: term.Grade1}, true}, {"worst", Reply{}, false},
	} {
		if got, err := question(c.code).ToTell(c.reply); err != nil || got != c.tell {
			t.Errorf("%s, %+v: %t, %v", c.code, c.reply, got, err)
		}
	}
	for _, c := range []struct {
		code  string
		reply Reply
		fault string
	}{
		{"nausea", Reply{}, patient.Missing}, {"nausea", Reply{Score: am("11 {score}")}, patient.TooHigh}, {"nausea", Reply{Score: am("1 {score}"), Said: Yes}, Contradiction},
		{"between", Reply{}, patient.Missing}, {"between", Reply{Said: "perhaps"}, patient.UnknownCode}, {"between", Reply{Said: Yes, Grade: term.Grade1}, Contradiction},
		{"complication", Reply{}, patient.Missing}, {"complication", Reply{Grade: "6"}, patient.UnknownCode}, {"worst", Reply{Said: Yes}, Contradiction},
	} {
		_, err := question(c.code).ToTell(c.reply)
		fault(t, c.code, err, c.code, c.fault)
	}
}

const goodLeaving = `name.en = "A list"
[[criterion]]
code = "one"
measure = "pain"
at_most = "4 {score}"
source = "common practice, no source"
mark = "practice"
name.en = "One"
look.en = "Look."
`

const goodQuestions = `name.en = "A list"
[[question]]
code = "one"
answer = "score"
tell = true
at_least = "4 {score}"
source = "common practice, no source"
mark = "practice"
name.en = "One"
ask.en = "Is it so?"
`

func TestParseRefuses(t *testing.T) {
	leaving := func(b string) error { _, err := ParseLeaving("x", []byte(b)); return err }
	questions := func(b string) error { _, err := ParseQuestions("x", []byte(b)); return err }
	for name, c := range map[string]struct {
		parse          func(string) error
		good           string
		from, to, want string
	}{
		"unknown key":           {leaving, goodLeaving, `mark =`, "hint = 1\nmark =", "not known"},
		"not TOML":              {leaving, goodLeaving, `[[criterion]]`, `[[criterion`, "criteria x"},
		"no name":               {leaving, goodLeaving, `name.en = "A list"`, "", "name"},
		"no criterion":          {leaving, goodLeaving, goodLeaving[strings.Index(goodLeaving, "[[criterion]]"):], "", "no criterion"},
		"bad code":              {leaving, goodLeaving, `"one"`, `"One"`, "code"},
		"no English":            {leaving, goodLeaving, `look.en`, `look.fr`, "English"},
		"no source":             {leaving, goodLeaving, `source = "common practice, no source"`, "", "no source"},
		"no mark":               {leaving, goodLeaving, `mark = "practice"`, "", "mark"},
		"no such measure":       {leaving, goodLeaving, `"pain"`, `"mood"`, "not known"},
		"a bound alone":         {leaving, goodLeaving, `measure = "pain"`, "", "no measure"},
		"a measure alone":       {leaving, goodLeaving, `at_most = "4 {score}"`, "", "no bound"},
		"a bound that is none":  {leaving, goodLeaving, `"4 {score}"`, `"40 {score}"`, "too-high"},
		"a bound of another":    {leaving, goodLeaving, `"4 {score}"`, `"4 kg"`, "wrong-unit"},
		"question, unknown key": {questions, goodQuestions, `mark =`, "hint = 1\nmark =", "not known"},
		"question, not TOML":    {questions, goodQuestions, `[[question]]`, `[[question`, "questions x"},
		"question, no name":     {questions, goodQuestions, `name.en = "A list"`, "", "name"},
		"no question":           {questions, goodQuestions, goodQuestions[strings.Index(goodQuestions, "[[question]]"):], "", "no question"},
		"question, bad code":    {questions, goodQuestions, `"one"`, `"One"`, "code"},
		"question, no English":  {questions, goodQuestions, `ask.en`, `ask.fr`, "English"},
		"question, no source":   {questions, goodQuestions, `source = "common practice, no source"`, "", "no source"},
		"question, no mark":     {questions, goodQuestions, `mark = "practice"`, "", "mark"},
		"no sort":               {questions, goodQuestions, `"score"`, `"song"`, "no sort"},
		"tell from where on":    {questions, goodQuestions, `at_least = "4 {score}"`, "", "at_least"},
		"a bound, not told":     {questions, goodQuestions, `tell = true`, "", "at_least"},
		"a bound of yes":        {questions, goodQuestions, `"score"`, `"yes-no"`, "at_least"},
		"words to tell":         {questions, strings.Replace(goodQuestions, "at_least = \"4 {score}\"\n", "", 1), `"score"`, `"words"`, "words"},
		"no such technique":     {questions, goodQuestions, `tell = true`, "tell = true\nafter = [\"hypnosis\"]", "hypnosis"},
		"no such age":           {questions, goodQuestions, `tell = true`, "tell = true\nfrom = \"500 a\"", "too-high"},
		"no such score":         {questions, goodQuestions, `"4 {score}"`, `"40 {score}"`, "too-high"},
	} {
		t.Run(name, func(t *testing.T) {
			if err := c.parse(strings.Replace(c.good, c.from, c.to, 1)); err == nil || !strings.Contains(err.Error(), c.want) {
				t.Errorf("got %v, want an error with %q", err, c.want)
			}
		})
	}
	for parse, good := range map[string]string{"[[criterion]]": goodLeaving, "[[question]]": goodQuestions} {
		p := leaving
		if parse == "[[question]]" {
			p = questions
		}
		if err := p(good); err != nil {
			t.Error(err)
		}
		if err := p(good + good[strings.Index(good, parse):]); err == nil || !strings.Contains(err.Error(), "twice") {
			t.Errorf("two of one code: %v", err)
		}
	}
	if got := (Text{"en": "a", "fr": "b"}).In("fr-CD"); got != "b" {
		t.Errorf("a language without its region: %q", got)
	}
	if got := (Text{"en": "a", "fr-CD": "b"}).In("fr-CD"); got != "b" {
		t.Errorf("a language with its region: %q", got)
	}
	if got := (Text{"en": "a"}).In("fr"); got != "a" {
		t.Errorf("a language without a text falls back to English: %q", got)
	}
}

func FuzzParseLeaving(f *testing.F) {
	f.Add([]byte(goodLeaving))
	f.Add([]byte("[[criterion]]"))
	f.Fuzz(func(t *testing.T, data []byte) {
		l, err := ParseLeaving("x", data)
		if err != nil {
			return
		}
		measured := map[Measure]quantity.Amount{}
		for m := range l.measuring {
			measured[m] = quantity.MustParse(measures[m].high + " " + measures[m].unit.String())
		}
		if met, _, err := l.Check(measured, nil); err != nil || len(met) == 0 || l.Name["en"] == "" {
			t.Fatalf("%d criteria, %v", len(met), err)
		}
	})
}

func FuzzParseQuestions(f *testing.F) {
	f.Add([]byte(goodQuestions))
	f.Add([]byte(strings.ReplaceAll(goodQuestions, "tell = true\n", "tell = true\nafter = [\"spinal\"]\nfrom = \"5 a\"\nagain = true\n")))
	f.Fuzz(func(t *testing.T, data []byte) {
		l, err := ParseQuestions("x", data)
		if err != nil {
			return
		}
		if qs, err := l.For(patient.Patient{}, nil); err != nil || len(qs) != len(l.Questions) || len(qs) == 0 {
			t.Fatalf("%d questions, %v", len(qs), err)
		}
		for _, q := range l.Questions {
			r := Reply{Said: Yes}
			switch q.Answer {
			case AnswerScore:
				r = Reply{Score: am("10 {score}")}
			case AnswerGrade:
				r = Reply{Grade: term.Grade5}
			case AnswerWords:
				r = Reply{}
			}
			if tell, err := q.ToTell(r); err != nil || tell != q.Tell {
				t.Fatalf("%+v: %t, %v", q, tell, err)
			}
		}
	})
}
