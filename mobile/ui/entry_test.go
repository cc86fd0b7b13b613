package ui

import (
	"regexp"
	"strings"
	"testing"
	"time"

	"chinlift/core/timeline"
)

// inputs gives the fields of a page as the script would send them: what is
// enabled and not empty.
func inputs(t *testing.T, body string) []string {
	t.Helper()
	var fields []string
	for _, m := range regexp.MustCompile(`<input (?:type="hidden" )?name="([^"]*)" value="([^"]*)"`).FindAllStringSubmatch(body, -1) {
		fields = append(fields, m[1], m[2])
	}
	return fields
}

// The correction form sends no time unless one is typed, and no line break is
// lost on the way.
func TestCorrectionFormTouchesOnlyWhatIsTyped(t *testing.T) {
	u, c, clock := newUI(t)
	id := newCase(t, u, "X")
	clock.pass(42*time.Second + 345*time.Millisecond)
	tap(t, u, "/case/"+id+"/table/note", "kind", "note", "text", "line one\nline two")
	lines, err := c.Entries(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	note := lines[0]
	clock.pass(72 * time.Hour)
	p := "/case/" + id + "/entry/" + note.ID
	body := string(u.Get(t.Context(), p).Body)
	if !strings.Contains(body, `<input name="at" placeholder="`+note.At+`"`) {
		t.Error("the time stands beside the field, and not in it")
	}
	text := regexp.MustCompile(`(?s)<textarea name="text"[^>]*>(.*?)</textarea>`).FindStringSubmatch(body)
	if text == nil || text[1] != "line one\nline two" {
		t.Fatalf("the words are offered as %q", text)
	}
	before, _, err := c.Story(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	tap(t, u, p, append(inputs(t, body), "kind", "note", "amends", note.ID, "text", text[1]+"\nline three")...)
	after, _, err := c.Story(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	was, now := before.Find(note.ID).Now(), after.Find(note.ID).Now()
	if !now.At.Equal(was.At.Time) || now.At.String() != was.At.String() || now.Private()[timeline.PrivateText] != "line one\nline two\nline three" {
		t.Errorf("it stood at %s, and stands at %s: %q", was.At, now.At, now.Private())
	}
}

// An entry that was moved away can be read in the case that it left, and leads
// to the case where it is.
func TestMovedEntryIsReadOnlyWhereItWas(t *testing.T) {
	u, c, _ := newUI(t)
	a, b := newCase(t, u, "Invented A"), newCase(t, u, "Invented B")
	tap(t, u, "/case/"+a+"/table/vitals", "kind", "vitals", "pulse", "88")
	lines, err := c.Entries(t.Context(), a)
	if err != nil {
		t.Fatal(err)
	}
	e := lines[0].ID
	tap(t, u, "/case/"+a+"/entry/"+e, "do", "move", "to", b, "entry", e, "heads", e)
	body := string(u.Get(t.Context(), "/case/"+a+"/entry/"+e).Body)
	if strings.Contains(body, "data-send") || !strings.Contains(body, `href="case/`+b+`/entry/`+e+`"`) {
		t.Errorf("in the case that it left: %s", body)
	}
	if body = string(u.Get(t.Context(), "/case/"+b+"/entry/"+e).Body); !strings.Contains(body, `data-key="correct"`) {
		t.Error("where it is it can be corrected")
	}
}

func TestOpeningIsNotOfferedForMoving(t *testing.T) {
	u, c, _ := newUI(t)
	id := newCase(t, u, "X")
	newCase(t, u, "Y")
	lines, err := c.Entries(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	for _, l := range lines {
		body := string(u.Get(t.Context(), "/case/"+id+"/entry/"+l.ID).Body)
		for _, key := range []string{"move", "strike"} {
			if offered := strings.Contains(body, `data-key="`+key+`"`); offered == (l.Kind == "case-opened") {
				t.Errorf("%s of %s: offered %v", key, l.Kind, offered)
			}
		}
	}
}

// The name form carries what was seen, and what is left empty stays.
func TestNameFormCarriesHeads(t *testing.T) {
	u, c, _ := newUI(t)
	a := tap(t, u, "/case/new", "do", "open", "name", "Invented", "number", "4711")
	id := strings.Split(a.Go, "/")[1]
	p := "/case/" + id + "/visit/name"
	fields := inputs(t, string(u.Get(t.Context(), p).Body))
	_, persons, err := c.Story(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	cs, err := c.Case(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	if want := persons[cs.Patient].HeadIDs()[0]; len(fields) != 2 || fields[1] != want {
		t.Fatalf("the form carries %v, want the head %s", fields, want)
	}
	tap(t, u, p, append(fields, "do", "name", "name", "Invented Spelled")...)
	body := string(u.Get(t.Context(), p).Body)
	if !strings.Contains(body, "Invented Spelled · 4711") {
		t.Errorf("after the name was spelled: %s", body)
	}
}

// A number that could be in several units asks for its unit by name.
func TestUnitIsAskedFor(t *testing.T) {
	u, c, _ := newUI(t)
	id := newCase(t, u, "X")
	before := c.Stored()
	for _, tt := range []struct {
		path   string
		fields []string
		field  string
	}{
		{"/case/" + id + "/table/drug", []string{"kind", "drug", "drug", "fentanyl", "dose", "100", "route", "iv"}, "dose"},
		{"/case/" + id + "/visit/age", []string{"kind", "facts", "age", "6"}, "age"},
		{"/case/new", []string{"do", "open", "age", "6"}, "age"},
	} {
		a := u.Send(t.Context(), sendOf(u, tt.path, tt.fields...))
		if a.Problem == nil || a.Problem.Field != tt.field || !strings.Contains(a.Problem.Words, "choose the unit") {
			t.Errorf("%s %v: %+v", tt.path, tt.fields, a.Problem)
		}
		if page := string(u.Get(t.Context(), tt.path).Body); tt.path != "/case/"+id+"/table/drug" && !strings.Contains(page, `name="age_unit"`) {
			t.Errorf("%s has no unit to pick", tt.path)
		}
	}
	if c.Stored() != before {
		t.Error("something was written")
	}
}

// A dose that no rule can judge goes in at once, and the answer to the tap says
// why it was not judged, and leads to what is wanting.
func TestUnjudgedIsAnswered(t *testing.T) {
	u, c, _ := newUI(t)
	id := newCase(t, u, "X")
	table := "/case/" + id + "/table"
	for _, x := range []struct {
		fields []string
		says   []string
	}{
		{[]string{"kind", "drug", "drug", "morphine", "dose", "10", "dose_unit", "mg", "route", "im"}, []string{"no weight was known", `href="case/` + id + `/visit/weight"`}},
		{[]string{"kind", "drug", "drug", "moonflower", "dose", "1", "dose_unit", "mL", "route", "oral"}, []string{"no weight was known", "no rule here knows the drug"}}, // and of the one before that can be mended
	} {
		a := u.Send(t.Context(), sendFrom(t, u, table, x.fields...))
		if a.Problem != nil {
			t.Fatalf("%v: %+v", x.fields, a.Problem)
		}
		var all strings.Builder
		for _, p := range a.Patches {
			all.WriteString(p.HTML)
		}
		page := string(u.Get(t.Context(), table).Body)
		for _, want := range x.says {
			if !strings.Contains(page, want) {
				t.Errorf("%v: the table lacks %q", x.fields, want)
			}
		}
		if !strings.Contains(all.String(), x.says[1]) {
			t.Errorf("%v: the answer does not say it: %s", x.fields, all.String())
		}
	}
	tap(t, u, "/case/"+id+"/visit/weight", "kind", "facts", "weight", "60", "weight_how", "guessed", "weight_by", "eye")
	page := string(u.Get(t.Context(), table).Body)
	if !strings.Contains(page, "no rule here knows the drug") || !strings.Contains(page, `data-key="unjudged"`) {
		t.Error("the table does not say that nobody knows the last drug")
	}
	lines, err := c.Entries(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	for _, l := range lines {
		if l.Kind != "drug" {
			continue
		}
		body := string(u.Get(t.Context(), "/case/"+id+"/entry/"+l.ID).Body)
		if !strings.Contains(body, "No dose rule judged it") {
			t.Errorf("the page of %s does not say that no rule judged it", l.Text)
		}
		if strings.Contains(l.Text, "morphine") && !strings.Contains(body, "Judged by 60 kg") {
			t.Error("the page does not say that the dose was judged by the weight of now")
		}
	}
}
