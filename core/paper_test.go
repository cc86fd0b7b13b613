package core_test

import (
	"bytes"
	"io"
	"slices"
	"strings"
	"testing"
	"time"

	"chinlift/core"
	"chinlift/core/kit"
	"chinlift/core/record"
	"chinlift/core/term"
	"chinlift/core/word"
)

func paperForm(t *testing.T, c *core.Companion, size record.PaperSize) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := c.PaperForm(&b, size); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// paperWords gives what stands on each side, without regard to line breaks.
func paperWords(t *testing.T, doc []byte) [2]string {
	t.Helper()
	sides := strings.Split(strings.TrimSuffix(textOf(t, doc), "\f"), "\f")
	if len(sides) != 2 {
		t.Fatalf("%d pages, want front and back", len(sides))
	}
	return [2]string{" " + flat(sides[0]) + " ", " " + flat(sides[1]) + " "}
}

// The form is printed beforehand, so it must not be of a day, nor of a case.
func TestPaperFormIsTheSameOnEveryDay(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	before := paperForm(t, c, record.A4)
	openCase(t, c, "Invented Person")
	clock.pass(50 * 24 * time.Hour)
	if !bytes.Equal(before, paperForm(t, c, record.A4)) {
		t.Error("the form differs from one day to another")
	}
	for _, size := range []record.PaperSize{record.A4, record.Letter} {
		validPDF(t, paperForm(t, c, size))
	}
}

func TestPaperFormUsesWordsOfItsOwnOnly(t *testing.T) {
	book, err := word.Open("en")
	if err != nil {
		t.Fatal(err)
	}
	b, err := core.Paper(book)
	if err != nil {
		t.Fatal(err)
	}
	if err := record.Form(io.Discard, b, record.FormPaper{Made: time.Unix(0, 0)}); err != nil {
		t.Fatal(err)
	}
	for _, fault := range book.Missing() {
		t.Errorf("the catalogue lacks %s", fault)
	}
}

// Whoever types the form in finds on the screen the word that was ticked: the
// form has every choice of every list that it asks, in the screen's words.
func TestPaperFormHasTheWordsOfTheScreens(t *testing.T) {
	c := openAt(t, t.TempDir(), newClock())
	w := c.Words()
	const front, back = 0, 1
	want := [2][]string{}
	on := func(side int, keys ...string) {
		for _, k := range keys {
			want[side] = append(want[side], w.Say(k))
		}
	}
	lists := [2][]string{
		{"weight-how", "weight-by", "sex", "side", "urgency", "asa", "consent-by", "mallampati", "mouth", "neck", "teeth", "allergy",
			"technique", "position", "intake", "phase", "support", "eyes", "pupils", "agent", "fluid-in", "measured"},
		{"route", "airway-device", "airway-route", "airway-need", "view", "block", "block-site", "motor", "trouble", "outcome", "sex"},
	}
	known := term.Lists()
	for side, names := range lists {
		for _, name := range names {
			i := slices.IndexFunc(known, func(l term.ListInfo) bool { return l.Name == name })
			if i < 0 {
				t.Fatalf("there is no list %s", name)
			}
			for _, code := range known[i].Codes {
				on(side, "term."+name+"."+code)
			}
		}
	}
	for _, item := range []string{"activity", "respiration", "circulation", "consciousness", "oxygen"} {
		on(back, "field."+item, "waking."+item+".2", "waking."+item+".1", "waking."+item+".0")
	}
	for _, side := range []int{front, back} {
		on(side, "field.name", "field.number", "paper.case", "paper.date", "paper.ward", "paper.sheet", "paper.title")
		want[side] = append(want[side], w.Say("paper.version", "n", 1), w.Say("record.page", "n", side+1, "m", 2))
	}
	on(front, "field.operation", "term.role.surgeon", "term.role.provider", "term.role.assistant", "field.age", "field.weight",
		"field.haemoglobin", "field.side_marked", "field.pregnant", "paper.allergies", "paper.heart", "paper.lungs", "paper.urine",
		"paper.intake", "paper.premedication", "paper.kit", "paper.phases", "record.axis", "field.systolic", "field.diastolic",
		"field.pulse", "field.spo2", "field.breaths", "kind.support", "paper.eyes-pupils", "field.temperature", "field.agent",
		"field.oxygen", "kind.in", "term.fluid-out.blood", "term.fluid-out.urine")
	want[back] = append(want[back], w.Say("field.drugs")+": "+w.Say("paper.units"))
	on(back, "field.dose", "paper.unit", "field.route", "field.by", "paper.events", "paper.complications",
		"term.role.newborn", "field.apgar_1", "field.apgar_5", "paper.apgar-10", "field.cried", "shell.waking", "paper.pressure",
		"paper.pain", "paper.handed-over", "paper.signed", "paper.typed", "paper.caution")
	kits, err := kit.Builtin()
	if err != nil {
		t.Fatal(err)
	}
	stops := 0
	for _, l := range kits {
		for _, it := range l.Items {
			if l.Code == "open-drop" && it.Stop {
				want[front] = append(want[front], it.Name.In("en"))
				stops++
			}
		}
	}
	if stops == 0 {
		t.Error("the equipment list has no stop")
	}
	for _, size := range []record.PaperSize{record.A4, record.Letter} {
		sides := paperWords(t, paperForm(t, c, size))
		for side, words := range want {
			for _, text := range words {
				if !onPaper(sides[side], text) {
					t.Errorf("side %d does not say %q", side+1, text)
				}
			}
		}
	}
	for _, fault := range w.Missing() {
		t.Errorf("the catalogue lacks %s", fault)
	}
}

// onPaper finds a text as whole words.
func onPaper(side, text string) bool { return strings.Contains(side, " "+text+" ") }
