package core_test

import (
	"bytes"
	"io"
	"strings"
	"testing"
	"time"

	"chinlift/core"
	"chinlift/core/record"
)

// handed gives the lines of a part of the handing-over, in one text.
func handed(t *testing.T, c *core.Companion, id, code string) (text string, known bool) {
	t.Helper()
	v, err := c.Handover(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range v.Parts {
		if p.Code != code {
			continue
		}
		for _, l := range p.Lines {
			text += l.Text + " [" + l.Source + "]\n"
		}
		return text, p.Known
	}
	t.Fatalf("there is no part %q", code)
	return "", false
}

// TestHandoverOfLittle: of a case that nobody recorded anything of, nothing is
// said but that.
func TestHandoverOfLittle(t *testing.T) {
	c := openAt(t, t.TempDir(), newClock())
	id := openCase(t, c, "Invented Person")
	for _, code := range []string{"done", "airway", "given", "fluids", "on", "values", "watch", "orders"} {
		if text, known := handed(t, c, id, code); known || text != "Not recorded. []\n" {
			t.Errorf("%s says %q", code, text)
		}
	}
	if text, _ := handed(t, c, id, "who"); !strings.Contains(text, "allergies not known") && !strings.Contains(text, "allergies: not known") {
		t.Errorf("nobody asked for allergies, and it says %q", text)
	}
	if text, _ := handed(t, c, id, "names"); !strings.Contains(text, "takes over: not known") {
		t.Errorf("nobody takes over, and it says %q", text)
	}
}

// TestHandover goes through what is told of a case, in its order, on screen and
// on paper.
func TestHandover(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	if _, err := c.NameAuthor(t.Context(), core.NewID(), "Ann Invented"); err != nil {
		t.Fatal(err)
	}
	id := openCase(t, c, "Invented Person")
	submit(t, c, id, "facts", "allergies", "none-known")
	submit(t, c, id, "phase", "phase", "anaesthesia-start")
	submit(t, c, id, "agent", "agent", "ether", "drops", "60")
	submit(t, c, id, "airway", "device", "oral-airway", "act", "in", "size", "3")
	submit(t, c, id, "trouble", "trouble", "laryngospasm", "act", "begun")
	clock.pass(2 * time.Minute)
	submit(t, c, id, "trouble", "trouble", "laryngospasm", "act", "over")
	submit(t, c, id, "drug", "drug", "morphine", "use", "analgesia-im", "route", "im", "dose", "5", "dose_unit", "mg")
	submit(t, c, id, "drug", "drug", "house-remedy", "route", "im", "dose", "5", "dose_unit", "mg")
	submit(t, c, id, "in", "what", "compound-lactate", "volume", "500")
	submit(t, c, id, "in", "what", "compound-lactate", "volume", "250")
	submit(t, c, id, "step", "step", "throat-pack-in")
	clock.pass(40 * time.Minute)
	submit(t, c, id, "agent", "agent", "ether", "off", "yes")
	submit(t, c, id, "phase", "phase", "anaesthesia-end")
	submit(t, c, id, "vitals", "systolic", "110", "diastolic", "70", "pulse", "84")
	clock.pass(3 * time.Minute)
	submit(t, c, id, "handover", "to", "nurse", "name", "Bea Invented", "text", "Sit up at four. Water when awake.")

	var order []string
	v, err := c.Handover(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range v.Parts {
		order = append(order, p.Code)
	}
	if got := strings.Join(order, " "); got != "who done course airway given fluids on values watch orders names" {
		t.Errorf("the order is %s", got)
	}
	for _, x := range []struct{ code, has string }{
		{"who", "Invented Person"}, {"who", "52 kg"},
		{"done", "ether"},
		{"course", "laryngospasm, 08:00 to 08:02"},
		{"airway", "08:00"},
		{"given", "morphine: 08:02 5 mg"}, {"given", "next from 12:02"},
		{"given", "house remedy: 08:02 5 mg"}, {"given", "not known: no rule here says it"},
		{"fluids", "750 mL"}, {"fluids", "Loss of blood is not recorded."},
		{"on", "airway 3 in"},
		{"values", "110 mmHg · 3 min ago"},
		{"watch", "After ether"}, {"watch", "After laryngospasm"}, {"watch", "After an opioid"}, {"watch", "no source"},
		{"orders", "Sit up at four. Water when awake."},
		{"names", "hands over: Ann Invented"}, {"names", "takes over: Bea Invented, nurse"},
	} {
		if text, known := handed(t, c, id, x.code); !known || !strings.Contains(strings.ToLower(text), strings.ToLower(x.has)) {
			t.Errorf("%s lacks %q: %s", x.code, x.has, text)
		}
	}
	if text, _ := handed(t, c, id, "watch"); strings.Contains(text, "spinal") {
		t.Errorf("a spinal is warned of that nobody gave: %s", text)
	}
	submit(t, c, id, "airway", "device", "oral-airway", "act", "out")
	if text, _ := handed(t, c, id, "on"); strings.Contains(text, "airway") {
		t.Errorf("the airway is out, and stands among what is in: %s", text)
	}

	onePage(t, c, id)
	text := printed(t, func(w io.Writer) error { return c.HandoverPaper(t.Context(), w, id, record.A4) })
	if v, err = c.Handover(t.Context(), id); err != nil {
		t.Fatal(err)
	}
	for _, p := range v.Parts {
		if !strings.Contains(text, p.Title) {
			t.Errorf("the paper lacks %q", p.Title)
		}
	}
	for _, has := range []string{"Sit up at four. Water when awake.", "Bea Invented", "Ann Invented"} {
		if !strings.Contains(text, has) {
			t.Errorf("the paper lacks %q", has)
		}
	}
	if n := strings.Count(text, "signature"); n != 2 {
		t.Errorf("%d lines to sign on, want 2", n)
	}
}

// onePage fails where the paper for handing over is not one page, which is what
// somebody carries to a ward.
func onePage(t *testing.T, c *core.Companion, id string) {
	t.Helper()
	for name, size := range map[string]record.PaperSize{"A4": record.A4, "Letter": record.Letter} {
		var doc bytes.Buffer
		if err := c.HandoverPaper(t.Context(), &doc, id, size); err != nil {
			t.Fatal(err)
		}
		if n := strings.Count(textOf(t, doc.Bytes()), "\f"); n != 1 {
			t.Errorf("on %s it takes %d pages", name, n)
		}
	}
}

// TestHandoverIsOnePage: also of a case with much to tell.
func TestHandoverIsOnePage(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	id := openCase(t, c, "Invented Person")
	submit(t, c, id, "facts", "allergies", "latex", "with", "asthma", "with", "hypertension", "asa", "3")
	submit(t, c, id, "baseline", "systolic", "130", "pulse", "80", "spo2", "97")
	for _, p := range []string{"premedicated", "patient-in", "anaesthesia-start", "unconscious", "knife-to-skin", "closing", "surgery-end"} {
		submit(t, c, id, "phase", "phase", p)
		clock.pass(5 * time.Minute)
	}
	submit(t, c, id, "block", "block", "spinal", "site", "l3-4")
	submit(t, c, id, "agent", "agent", "ether", "drops", "60")
	submit(t, c, id, "agent", "agent", "ether", "off", "yes")
	submit(t, c, id, "airway", "device", "tracheal-tube", "act", "in", "size", "7")
	submit(t, c, id, "airway", "device", "tracheal-tube", "act", "out")
	for _, d := range [][]string{{"atropine", "slow-pulse", "iv", "600", "ug"}, {"ketamine", "induction-iv", "iv", "100", "mg"}, {"suxamethonium", "relaxation-iv", "iv", "75", "mg"}, {"morphine", "analgesia-im", "im", "5", "mg"}, {"paracetamol", "analgesia-iv", "iv", "1000", "mg"}, {"ondansetron", "antiemetic-iv", "iv", "4", "mg"}, {"diazepam", "sedation-step-iv", "iv", "2", "mg"}} {
		submit(t, c, id, "drug", "drug", d[0], "use", d[1], "route", d[2], "dose", d[3], "dose_unit", d[4])
		clock.pass(time.Minute)
	}
	for _, card := range []string{"laryngospasm", "hypotension"} {
		submit(t, c, id, "trouble", "trouble", card, "act", "begun")
		submit(t, c, id, "trouble", "trouble", card, "act", "over")
	}
	submit(t, c, id, "in", "what", "compound-lactate", "volume", "1000")
	submit(t, c, id, "out", "what", "blood", "volume", "300", "how", "guessed")
	submit(t, c, id, "phase", "phase", "anaesthesia-end")
	submit(t, c, id, "vitals", "systolic", "110", "diastolic", "70", "pulse", "84", "spo2", "97", "breaths", "14", "temperature", "36.2")
	submit(t, c, id, "handover", "to", "nurse", "name", "Bea Invented", "text", "Oxygen by mask until awake. Look every quarter of an hour for two hours. Morphine again if the breaths are over twelve. Call for a pressure under ninety.")
	onePage(t, c, id)
}
