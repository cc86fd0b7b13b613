package plain

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"chinlift/core"
	"chinlift/core/must"
	"chinlift/core/timeline"
	"chinlift/testdata/demo"
)

func bundle(t *testing.T, c *core.Companion, o Options) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := Write(t.Context(), &b, c, fhirFile, o); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

var demoCases = map[string]string{"hernia": demo.Hernia, "abscess": demo.Abscess, "caesarean": demo.Caesarean}

func TestGoldenBundles(t *testing.T) {
	c := demos(t)
	for name, id := range demoCases {
		got := bundle(t, c, Options{Case: id})
		path := filepath.Join("testdata", "fhir", name+".json")
		if *update {
			if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
				t.Fatal(err)
			}
			if err := os.WriteFile(path, got, 0o644); err != nil {
				t.Fatal(err)
			}
		}
		if want := must.Get[[]byte](t)(os.ReadFile(path)); !bytes.Equal(got, want) {
			t.Errorf("%s is not as it was; if that is meant, run with -update and look at the change", path)
		}
	}
}

// TestBundlesAndBack: what a bundle can hold comes back as it was, version by
// version; what it cannot hold is listed at FHIREntry.
func TestBundlesAndBack(t *testing.T) {
	c := demos(t)
	total := 0
	for name, id := range demoCases {
		story, _, err := c.Story(t.Context(), id)
		if err != nil {
			t.Fatal(err)
		}
		want := map[string]*timeline.Version{}
		status := map[string]string{}
		for _, e := range story.About(id) {
			for i := range e.Versions {
				v := &e.Versions[i]
				if _, unknown := v.Payload.(*timeline.Unknown); !unknown && v.Content == v.Line {
					want[v.Line.Event.ID] = v
				}
			}
			state := "final"
			switch now := e.Now(); {
			case now.Struck || now.Case != id:
				state = "entered-in-error"
			case len(e.Versions) > 1:
				state = "amended"
			}
			status[e.Now().Content.Event.ID] = state
		}
		got := must.Get[[]FHIREntry](t)(ReadFHIR(bytes.NewReader(bundle(t, c, Options{Case: id, Private: true}))))
		if len(got) != len(want) {
			t.Errorf("%s: %d versions went out and %d came back", name, len(want), len(got))
		}
		for _, g := range got {
			w := want[g.Version]
			if w == nil {
				t.Fatalf("%s: version %s was never there", name, g.Version)
			}
			total++
			a, b := must.Get[[]byte](t)(json.Marshal(w.Payload)), must.Get[[]byte](t)(json.Marshal(g.Payload))
			if p, ok := w.Payload.(*timeline.Plan); ok {
				q := *p
				q.Start.Zone = "" // one of the things that a bundle cannot hold
				a = must.Get[[]byte](t)(json.Marshal(&q))
			}
			if !bytes.Equal(a, b) || w.Payload.Kind() != g.Payload.Kind() {
				t.Errorf("%s: %s\ncame back as %s", name, a, b)
			}
			if !g.At.Equal(w.At.Time) || g.Text != w.Private()[timeline.PrivateText] {
				t.Errorf("%s: %s at %s with %q came back at %s with %q", name, g.Version, w.At, w.Private()[timeline.PrivateText], g.At, g.Text)
			}
			if tags := standOf(t, c, story, id, g.Version); !slices.Equal(g.Stand, tags) {
				t.Errorf("%s: %s stands to the rules as %q, came back as %q", name, g.Version, tags, g.Stand)
			}
			state := g.Status
			if state == "completed" {
				state = status[g.Version]
				if state == "entered-in-error" {
					t.Errorf("%s: %s stands as given and was struck", name, g.Version)
				}
			}
			if wanted, ok := status[g.Version]; ok && wanted != state {
				t.Errorf("%s: %s is %s, want %s", name, g.Version, state, wanted)
			} else if !ok && state != "entered-in-error" && state != "unknown" {
				t.Errorf("%s: the old version %s is %s", name, g.Version, state)
			}
		}
	}
	if total < 200 {
		t.Errorf("only %d versions were held against each other", total)
	}
}

// standOf gives the tags that a version should bear, by what drugs.csv is made
// from.
func standOf(t *testing.T, c *core.Companion, story *timeline.Story, id, version string) (tags []string) {
	t.Helper()
	_, persons, err := c.Story(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	of := c.Stands(t.Context(), core.CaseOf(id, story, persons))
	for _, e := range story.About(id) {
		for i := range e.Versions {
			v := &e.Versions[i]
			if v.Line.Event.ID != version {
				continue
			}
			st := must.Get[core.Stand](t)(of(e, v))
			switch {
			case !st.Dose:
				return nil
			case st.Why != "":
				tags = []string{standNotJudged, string(st.Why)}
			case st.Sure:
				tags = []string{standConfirmed}
			default:
				tags = []string{standNotConfirmed}
			}
			if st.Late != nil {
				tags = append(tags, map[bool]string{true: standLateOver, false: standLateWithin}[st.Late.Over])
			}
			if st.Far {
				tags = append(tags, standWeightFar)
			}
		}
	}
	return tags
}

// TestBundleStands: a dose says how it stood to the rules in each of its
// resources, and beside what a rule suggested; a person without a name says why.
func TestBundleStands(t *testing.T) {
	c, clock := companion(t)
	must.Get[core.Done](t)(c.NameAuthor(t.Context(), core.NewID(), "Ann Invented"))
	give := func(age, weight string, dose ...string) (stands [][]string, text string) {
		t.Helper()
		fields := map[string][]string{"name": {"Invented Person"}, "age": {age}, "age_unit": {"a"}}
		if weight != "" {
			fields["weight"], fields["weight_how"], fields["weight_by"] = []string{weight}, []string{"guessed"}, []string{"eye"}
		}
		id, _, err := c.OpenCase(t.Context(), core.Form{ID: core.NewID(), Fields: fields})
		if err != nil {
			t.Fatal(err)
		}
		clock.pass(time.Minute)
		must.Get[core.Done](t)(c.Submit(t.Context(), form(id, "drug", dose...)))
		all := bundle(t, c, Options{Case: id, Private: true})
		for _, e := range must.Get[[]FHIREntry](t)(ReadFHIR(bytes.NewReader(all))) {
			if e.Payload.Kind() == "drug/1" {
				stands = append(stands, e.Stand)
			}
		}
		// Every resource of the dose is tagged, not one of them alone.
		var b struct {
			Entry []struct{ Resource fhirResource }
		}
		if err := json.Unmarshal(all, &b); err != nil {
			t.Fatal(err)
		}
		for _, e := range b.Entry {
			r := e.Resource
			own := r.Code != nil && slices.ContainsFunc(r.Code.Coding, func(k fhirCoding) bool { return k.System == ownKind+"drug" })
			if (r.ResourceType == "MedicationAdministration" || own) != (r.Meta != nil) {
				t.Errorf("a %s of %v with the tags %v", r.ResourceType, r.Code, r.Meta)
			}
		}
		return stands, string(all)
	}
	morphine := []string{"drug", "morphine", "use", "premedication-im", "dose", "5", "dose_unit", "mg", "route", "im"}
	said := func(text string, sure bool) bool {
		var b struct {
			Entry []struct{ Resource fhirResource }
		}
		if err := json.Unmarshal([]byte(text), &b); err != nil {
			t.Fatal(err)
		}
		for _, e := range b.Entry {
			for _, k := range e.Resource.Component {
				if stands(k.Code) && k.Boolean != nil && *k.Boolean == sure {
					return true
				}
			}
		}
		return false
	}
	got, text := give("34", "52", morphine...)
	if len(got) != 1 || !slices.Equal(got[0], []string{standNotConfirmed}) || !said(text, false) || said(text, true) {
		t.Errorf("by a rule that nobody confirmed: %v", got)
	}
	if strings.Contains(text, absentExtension) || !strings.Contains(text, "Ann Invented") {
		t.Error("a name that is there is said not to be")
	}
	if got, text := give("34", "", morphine...); len(got) != 1 || len(got[0]) != 2 || got[0][0] != standNotJudged || got[0][1] != "weight" || said(text, false) || said(text, true) {
		t.Errorf("without a weight: %v", got)
	}
	if got, _ := give("4", "45", "drug", "ketamine", "use", "induction-iv", "dose", "45", "dose_unit", "mg", "route", "iv"); len(got) != 1 || !slices.Equal(got[0], []string{standNotConfirmed, standWeightFar}) {
		t.Errorf("45 kg at 4 years: %v", got)
	}
	book := must.Get[core.RuleBook](t)(c.RuleBook(t.Context()))
	for _, g := range book.Groups {
		for _, d := range g.Drugs {
			for _, use := range d.Uses {
				if d.Code == "morphine" {
					must.Get[core.Done](t)(c.Confirm(t.Context(), core.NewID(), d.Code, use.Code, use.Hash, false))
				}
			}
		}
	}
	clock.pass(time.Minute)
	got, text = give("34", "52", morphine...)
	if len(got) != 1 || !slices.Equal(got[0], []string{standConfirmed}) || !said(text, true) || said(text, false) {
		t.Errorf("by a rule that somebody stands for: %v", got)
	}
}

// TestBundleNameless: a person without a name is unknown where none was ever
// given, and masked where there is one that does not go out.
func TestBundleNameless(t *testing.T) {
	c, clock := companion(t)
	one, _ := small(t, c, clock)
	for _, tt := range []struct {
		name    string
		private bool
		why     string
	}{
		{"", true, "unknown"}, {"", false, "unknown"}, {"Ann Invented", false, "masked"}, {"Ann Invented", true, ""},
	} {
		if tt.name != "" {
			must.Get[core.Done](t)(c.NameAuthor(t.Context(), core.NewID(), tt.name))
		}
		text := string(bundle(t, c, Options{Case: one, Private: tt.private}))
		for _, why := range []string{"unknown", "masked"} {
			if strings.Contains(text, `"valueCode": "`+why+`"`) != (why == tt.why) {
				t.Errorf("name %q, private %v: %q is not the only reason", tt.name, tt.private, tt.why)
			}
		}
		if strings.Contains(text, "Ann") != (tt.name != "" && tt.private) {
			t.Errorf("name %q, private %v: the name is there or not there", tt.name, tt.private)
		}
	}
}

// TestBundlesHaveWhatMustBe: the members that R4 asks for of each resource, and
// that a dosage has a dose or a rate (its invariant mad-1).
func TestBundlesHaveWhatMustBe(t *testing.T) {
	c := demos(t)
	needed := map[string][]string{
		"Bundle": {"type"}, "Patient": {}, "Practitioner": {}, "Device": {},
		"Procedure": {"status", "subject"}, "Observation": {"status", "code"}, "Provenance": {"target", "recorded", "agent"}, "QuestionnaireResponse": {"status", "item"},
		"MedicationAdministration": {"status", "medicationCodeableConcept", "subject", "effectiveDateTime"},
	}
	found := map[string]int{}
	for name, id := range demoCases {
		var b struct {
			Entry []struct{ Resource map[string]json.RawMessage }
		}
		if err := json.Unmarshal(bundle(t, c, Options{Case: id}), &b); err != nil {
			t.Fatal(err)
		}
		for _, e := range b.Entry {
			kind := strings.Trim(string(e.Resource["resourceType"]), `"`)
			found[kind]++
			if needed[kind] == nil {
				t.Errorf("%s holds a %s, of which it is not known what it needs", name, kind)
			}
			for _, m := range append(needed[kind], "id") {
				if e.Resource[m] == nil {
					t.Errorf("%s: a %s has no %s: %s", name, kind, m, e.Resource["id"])
				}
			}
			if d := e.Resource["dosage"]; d != nil && !bytes.Contains(d, []byte(`"dose"`)) && !bytes.Contains(d, []byte(`"rateQuantity"`)) {
				t.Errorf("%s: a dosage has neither dose nor rate: %s", name, d)
			}
		}
	}
	for _, kind := range []string{"Procedure", "Observation", "MedicationAdministration", "QuestionnaireResponse", "Provenance"} {
		if found[kind] == 0 {
			t.Errorf("no %s in any bundle: %v", kind, found)
		}
	}
}

// TestBundlePrivate: names and words go out only when asked for.
func TestBundlePrivate(t *testing.T) {
	c, clock := companion(t)
	one, two := small(t, c, clock)
	for _, id := range []string{one, two} {
		open, closed := bundle(t, c, Options{Case: id, Private: true}), bundle(t, c, Options{Case: id})
		found := 0
		for _, secret := range []string{"Invented", "Élodie", "formula", "same time"} {
			if bytes.Contains(closed, []byte(secret)) {
				t.Errorf("without the private part %q is in the bundle", secret)
			}
			if bytes.Contains(open, []byte(secret)) {
				found++
			}
		}
		if found == 0 {
			t.Error("with the private part nothing of it is in the bundle")
		}
	}
}

// TestBundleStandings looks at the small story: a corrected pressure, a struck
// dose, an entry that was moved, and two corrections that conflict.
func TestBundleStandings(t *testing.T) {
	c, clock := companion(t)
	one, two := small(t, c, clock)
	type seen struct{ kind, status string }
	count := map[string]map[seen]int{}
	for name, id := range map[string]string{"one": one, "two": two} {
		count[name] = map[seen]int{}
		var b struct {
			Entry []struct {
				FullURL  string
				Resource fhirResource
			}
		}
		if err := json.Unmarshal(bundle(t, c, Options{Case: id}), &b); err != nil {
			t.Fatal(err)
		}
		var urls []string
		var refs []string
		for _, e := range b.Entry {
			if e.FullURL != "urn:uuid:"+e.Resource.ID || slices.Contains(urls, e.FullURL) {
				t.Errorf("%s and %s", e.FullURL, e.Resource.ID)
			}
			urls = append(urls, e.FullURL)
			count[name][seen{e.Resource.ResourceType, e.Resource.Status}]++
			for _, r := range append(e.Resource.Target, e.Resource.PartOf...) {
				refs = append(refs, r.Reference)
			}
			for _, r := range e.Resource.Entity {
				refs = append(refs, r.What.Reference)
			}
			if e.Resource.Subject != nil {
				refs = append(refs, e.Resource.Subject.Reference)
			}
		}
		for _, r := range refs {
			if !slices.Contains(urls, r) {
				t.Errorf("%s refers to %s, which is not in the bundle", name, r)
			}
		}
	}
	for _, w := range []struct {
		of   string
		seen seen
		n    int
	}{
		{"one", seen{"MedicationAdministration", "entered-in-error"}, 1},
		{"one", seen{"MedicationAdministration", "completed"}, 0},
		{"one", seen{"Observation", "amended"}, 2},          // pressure and pulse as corrected
		{"one", seen{"Observation", "entered-in-error"}, 4}, // both as they were first, the pulse that was moved away, and what was suggested for the struck dose
		{"one", seen{"Provenance", ""}, 3},
		{"two", seen{"Observation", "amended"}, 2}, // the pulse that came, and the note that stands
		{"two", seen{"Observation", "unknown"}, 1}, // the note that stands against it
		{"two", seen{"Procedure", "completed"}, 1},
	} {
		if got := count[w.of][w.seen]; got != w.n {
			t.Errorf("case %s has %d of %v, want %d: %v", w.of, got, w.seen, w.n, count[w.of])
		}
	}
}

// TestLOINCCheckDigits works out the check digit of every code: LOINC Users'
// Guide, appendix on the Mod 10 algorithm, which is that of Luhn.
func TestLOINCCheckDigits(t *testing.T) {
	n := 0
	for name, codes := range measureCodes {
		for _, code := range codes {
			digits, check, ok := strings.Cut(code, "-")
			sum := 0
			for i := range len(digits) {
				d := int(digits[len(digits)-1-i] - '0')
				if i%2 == 0 {
					d *= 2
				}
				sum += d/10 + d%10
			}
			if want := (10 - sum%10) % 10; !ok || check != string(rune('0'+want)) {
				t.Errorf("%s: %s should end in %d", name, code, want)
			}
			n++
		}
	}
	if n < 17 {
		t.Errorf("%d codes", n)
	}
}

func TestSnomed(t *testing.T) {
	// Identifiers as published: heart rate, systolic and diastolic pressure.
	for _, id := range []string{"364075005", "271649006", "271650006"} {
		if !verhoeff(id) {
			t.Errorf("%s fails the check", id)
		}
		for i := range len(id) {
			for d := byte('0'); d <= '9'; d++ {
				if d != id[i] && verhoeff(id[:i]+string(d)+id[i+1:]) {
					t.Errorf("%s with a wrong digit %d passes", id, i)
				}
			}
		}
	}
	// Any identifier will do to show where it goes.
	s := must.Get[*Snomed](t)(ReadSnomed(strings.NewReader("system,code,snomed\r\n" + ownKind + "vitals,pulse,364075005\r\n")))
	c := demos(t)
	if with := bundle(t, c, Options{Case: demo.Hernia, Snomed: s}); !bytes.Contains(with, []byte(`"364075005"`)) {
		t.Error("the mapped code is not in the bundle")
	}
	if bytes.Contains(bundle(t, c, Options{Case: demo.Hernia}), []byte(snomed)) {
		t.Error("without a mapping there is SNOMED CT in the bundle")
	}
	for _, bad := range []string{"", "a,b,c\n", "system,code\n", "system,code,snomed\nx,y,364075006\n", "system,code,snomed\nx,y,12\n", "system,code,snomed\n,y,364075005\n",
		"system,code,snomed\nx,y,364075005\nx,y,364075005\n", "system,code,snomed\nx,y\n"} {
		if _, err := ReadSnomed(strings.NewReader(bad)); err == nil {
			t.Errorf("%q was read", bad)
		}
	}
}

func FuzzReadSnomed(f *testing.F) {
	f.Add([]byte("system,code,snomed\nx,y,364075005\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		s, err := ReadSnomed(bytes.NewReader(data))
		if err != nil {
			return
		}
		for _, id := range s.codes {
			if !sctid.MatchString(id) {
				t.Fatalf("%q was let in", id)
			}
		}
	})
}

func FuzzReadFHIR(f *testing.F) {
	f.Add(must.Get[[]byte](f)(os.ReadFile(filepath.Join("testdata", "fhir", "abscess.json"))))
	f.Add([]byte(`{"resourceType":"Bundle","entry":[{"resource":{"resourceType":"Observation","identifier":[{"system":"` + ownEntry + `","value":"a"},{"system":"` + ownVersion +
		`","value":"b"}],"effectiveDateTime":"2026-03-02T08:00:00Z","code":{"coding":[{"system":"` + ownKind + `vitals","code":"pulse"}]},"valueQuantity":{"value":80,"code":"/min"}}}]}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		all, err := ReadFHIR(bytes.NewReader(data))
		if err != nil {
			return
		}
		for _, e := range all {
			if err := e.Payload.Check(); err != nil {
				t.Fatalf("%s was let in: %v", e.Payload.Kind(), err)
			}
		}
	})
}
