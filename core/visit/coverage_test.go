package visit

import (
	"strings"
	"testing"
)

func TestRecordCoverage(t *testing.T) {
	c, err := RecordCoverage()
	if err != nil {
		t.Fatal(err)
	}
	asked := map[string]int{}
	for _, it := range c.Items {
		for s := range it.Asked {
			asked[s]++
		}
	}
	for _, s := range c.Standards {
		if asked[s.Code] == 0 {
			t.Errorf("%s asks for nothing", s.Code)
		}
	}
	if len(c.Standards) != 4 {
		t.Errorf("%d standards", len(c.Standards))
	}
	// The items of the statement of the American Society of Anesthesiologists,
	// 2013, part I, A to H, one by one.
	for _, code := range []string{"patient", "procedure-planned", "admission", "history", "anaesthetic-history", "drugs-taken", "allergies", "fasting",
		"values-at-rest", "airway", "tests", "consultations", "asa", "plan", "risks-discussed", "consent", "premedication", "antibiotic"} {
		found := false
		for _, it := range c.Items {
			found = found || it.Code == code && it.Asked["asa"] != ""
		}
		if !found {
			t.Errorf("%s is not asked by the ASA", code)
		}
	}
}

const goodCoverage = `[[standard]]
code = "one"
name = "One"
source = "a standard"
[[item]]
code = "pulse"
phase = "during"
what = "Pulse"
asked = { one = "read" }
held = ["vitals/1.pulse"]
`

func TestParseCoverageRefuses(t *testing.T) {
	for name, c := range map[string]struct{ from, to, want string }{
		"unknown key":          {`phase =`, "stopp = true\nphase =", "not known"},
		"no item":              {goodCoverage[strings.Index(goodCoverage, "[[item]]"):], "", "no item"},
		"not TOML":             {`[[item]]`, `[[item`, "coverage"},
		"bad code":             {`"pulse"`, `"Pulse"`, "code"},
		"bad standard":         {`code = "one"`, `code = "O"`, "code"},
		"standard sans source": {`source = "a standard"`, "", "source"},
		"standard twice":       {`[[item]]`, "[[standard]]\ncode = \"one\"\nname = \"N\"\nsource = \"s\"\n[[item]]", "twice"},
		"no phase":             {`phase = "during"`, "", "phase"},
		"no what":              {`what = "Pulse"`, "", "what"},
		"two lines":            {`"Pulse"`, `"Pulse\nfast"`, "plain line"},
		"a bar":                {`"Pulse"`, `"Pulse | fast"`, "plain line"},
		"asked by none":        {`asked = { one = "read" }`, "", "no standard"},
		"asked by another":     {`one = "read"`, `two = "read"`, "not in the table"},
		"asked by practice":    {`one = "read"`, `one = "practice"`, "mark"},
		"neither":              {`held = ["vitals/1.pulse"]`, "", "neither"},
		"planned":              {`"vitals/1.pulse"`, `"planned: vitals/1.pulse"`, "no place"},
		"no version":           {`"vitals/1.pulse"`, `"vitals.pulse"`, "no place"},
		"missing no place":     {`held =`, `missing =["pulse"]` + "\nheld =", "no place"},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := ParseCoverage([]byte(strings.Replace(goodCoverage, c.from, c.to, 1)))
			if err == nil || !strings.Contains(err.Error(), c.want) {
				t.Errorf("got %v, want an error with %q", err, c.want)
			}
		})
	}
	if _, err := ParseCoverage([]byte(goodCoverage + goodCoverage[strings.Index(goodCoverage, "[[item]]"):])); err == nil || !strings.Contains(err.Error(), "twice") {
		t.Errorf("two items with one code: %v", err)
	}
	for _, p := range []string{"envelope.author", "case-closed/1", "person/1:name", "phase/1.phase=handed-over", "birth/1.apgar_1"} {
		if _, err := ParseCoverage([]byte(strings.Replace(goodCoverage, "vitals/1.pulse", p, 1))); err != nil {
			t.Errorf("%s: %v", p, err)
		}
	}
}

func FuzzParseCoverage(f *testing.F) {
	f.Add([]byte(goodCoverage))
	f.Add(coverageFile[len(coverageFile)-400:])
	f.Fuzz(func(t *testing.T, data []byte) {
		c, err := ParseCoverage(data)
		if err != nil {
			return
		}
		for _, it := range c.Items {
			if it.Code == "" || len(it.Asked) == 0 || len(it.Held)+len(it.Missing) == 0 {
				t.Fatalf("accepted %+v", it)
			}
		}
	})
}
