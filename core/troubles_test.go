package core_test

import (
	"errors"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"chinlift/core"
	"chinlift/core/formulary"
	"chinlift/core/quantity"
	"chinlift/core/term"
	"chinlift/core/timeline"
	"chinlift/core/trouble"

	"pgregory.net/rapid"
)

func doStep(t testing.TB, c *core.Companion, id, card string, fields ...string) core.Form {
	t.Helper()
	f := form(id, "", append([]string{"card", card}, fields...)...)
	if _, err := c.DoStep(t.Context(), f); err != nil {
		t.Fatalf("%s %v: %v", card, fields, err)
	}
	return f
}

func cardOf(t testing.TB, c *core.Companion, id, card string) core.CardView {
	t.Helper()
	v, err := c.CardOf(t.Context(), id, card)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

func stepOf(t testing.TB, v core.CardView, code string) core.CardStep {
	t.Helper()
	i := slices.IndexFunc(v.Steps, func(s core.CardStep) bool { return s.Code == code })
	if i < 0 {
		t.Fatalf("%s has no step %s", v.Card, code)
	}
	return v.Steps[i]
}

// keyOf gives the fields that a key of a step records.
func keyOf(t testing.TB, s core.CardStep, name string) []string {
	t.Helper()
	i := slices.IndexFunc(s.Keys, func(k core.CardDose) bool { return k.Name == name })
	if i < 0 {
		t.Fatalf("no key %s among %+v", name, s.Keys)
	}
	return s.Keys[i].Set
}

// TestStepWithDose records step and dose as one, freezes the rule, survives a
// retry, and takes both back with the dose.
func TestStepWithDose(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	id := openCase(t, c, "Invented Person")
	v := cardOf(t, c, id, "laryngospasm")
	if v.Seconds != -1 || v.Look == "" || v.Caution == "" || len(v.Sources) == 0 {
		t.Errorf("a card that did not begin: %+v", v)
	}
	// Nobody used a vein yet: into muscle comes first.
	s := stepOf(t, v, "paralyse")
	if !strings.HasSuffix(s.Keys[0].Name, "-im") {
		t.Errorf("first comes %s", s.Keys[0].Name)
	}
	// 52 kg by 4 mg/kg is 208 mg; the most into muscle is 150 mg.
	if k := s.Keys[0]; !slices.Equal(k.Set[8:14], []string{"dose", "150", "dose_unit", "mg", "volume", "3"}) || !strings.Contains(k.Capped, "208") {
		t.Errorf("the capped dose: %+v", k)
	}
	f := doStep(t, c, id, "laryngospasm", keyOf(t, s, s.Keys[0].Name)[0:]...)
	cs, err := c.Case(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	var acts []string
	for _, p := range timeline.Each[*timeline.Trouble](cs.Entries, id) {
		acts = append(acts, string(p.Act)+" "+p.Step)
		if p.Act == term.TroubleActStep && p.Given != f.ID {
			t.Errorf("the step names %q, not its dose", p.Given)
		}
	}
	if !slices.Equal(acts, []string{"begun ", "step paralyse"}) {
		t.Errorf("recorded %v", acts)
	}
	for _, p := range timeline.Each[*timeline.Drug](cs.Entries, id) {
		if p.Frozen == nil || p.Frozen.Use != "laryngospasm-im" {
			t.Errorf("frozen: %+v", p.Frozen)
		}
	}
	before := c.Stored()
	clock.pass(3 * time.Second)
	if _, err := c.DoStep(t.Context(), f); err != nil || c.Stored() != before {
		t.Errorf("a retry: %v, %d lines more", err, c.Stored()-before)
	}
	if v = cardOf(t, c, id, "laryngospasm"); stepOf(t, v, "paralyse").Count == "" || v.Seconds != 3 {
		t.Errorf("after it: %d s, %+v", v.Seconds, stepOf(t, v, "paralyse"))
	}
	// The patient has had one dose into muscle; what is given before counts.
	if _, err := c.Strike(t.Context(), core.NewID(), id, f.ID, []string{f.ID}, core.ReasonUndone); err != nil {
		t.Fatal(err)
	}
	if v = cardOf(t, c, id, "laryngospasm"); stepOf(t, v, "paralyse").Count != "" {
		t.Error("a step counts whose dose was struck out")
	}
	// Once a vein was used it comes first.
	submit(t, c, id, "in", "what", string(term.FluidInCompoundLactate), "volume", "100")
	if k := stepOf(t, cardOf(t, c, id, "laryngospasm"), "paralyse").Keys; strings.HasSuffix(k[0].Name, "-im") {
		t.Errorf("a vein is there, and first comes %s", k[0].Name)
	}
}

func TestStepWithInfusion(t *testing.T) {
	c := openAt(t, t.TempDir(), newClock())
	id := openCase(t, c, "Invented Person")
	s := stepOf(t, cardOf(t, c, id, "local-anaesthetic-poisoning"), "lipid-runs")
	doStep(t, c, id, "local-anaesthetic-poisoning", keyOf(t, s, "lipid-runs-lipid-emulsion-infusion-iv-iv")...)
	cs, err := c.Case(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	n := 0
	for _, p := range timeline.Each[*timeline.Infusion](cs.Entries, id) {
		n++
		// 52 kg by 15 mL/kg/h (Quick Reference Handbook 3-10).
		if p.Rate.String() != "780 mL/h" {
			t.Errorf("it runs at %s", p.Rate)
		}
	}
	if n != 1 {
		t.Errorf("%d infusions", n)
	}
}

func TestDoStepRefuses(t *testing.T) {
	c := openAt(t, t.TempDir(), newClock())
	id := openCase(t, c, "Invented Person")
	for _, x := range [][]string{
		{"card", "flood", "step", "out"}, {"card", "fire", "step", "swim"}, {"card", "fire", "card_act", "party"}, {"card", "fire"},
		{"card", "fire", "step", "out", "kind", "mark"}, {"card", "fire", "step", "asleep", "kind", "drug", "drug", "ketamine"},
	} {
		before := c.Stored()
		_, err := c.DoStep(t.Context(), form(id, "", x...))
		var fe *timeline.FieldError
		if !errors.As(err, &fe) || c.Stored() != before {
			t.Errorf("%v: %v, %d lines", x, err, c.Stored()-before)
		}
	}
	if _, err := c.DoStep(t.Context(), form(core.NewID(), "", "card", "fire", "step", "out")); !errors.Is(err, core.ErrNotHere) {
		t.Errorf("a case that is not here: %v", err)
	}
	if _, err := c.CardOf(t.Context(), id, "flood"); !errors.Is(err, core.ErrNotHere) {
		t.Errorf("a card that is not here: %v", err)
	}
}

// TestStepsFollowWhatIsHere: what the checks of today found, and the plan,
// choose between the variants.
func TestStepsFollowWhatIsHere(t *testing.T) {
	c := openAt(t, t.TempDir(), newClock())
	id := openCase(t, c, "Invented Person")
	codes := func() string {
		var all []string
		for _, s := range cardOf(t, c, id, "laryngospasm").Steps {
			all = append(all, s.Code)
		}
		return " " + strings.Join(all, " ") + " "
	}
	if got := codes(); !strings.Contains(got, " oxygen ") || !strings.Contains(got, " oxygen-bag ") || !strings.Contains(got, " oxygen-no-bag ") {
		t.Errorf("nobody looked: %s", got)
	}
	submit(t, c, id, "plan", "techniques", "open-drop", "agent", "ether")
	if got := codes(); !strings.Contains(got, " oxygen ") || strings.Contains(got, " oxygen-bag ") {
		t.Errorf("with gauze: %s", got)
	}
	check := func(list, item string, state term.KitState, answer term.KitAnswer) {
		t.Helper()
		if _, err := c.CheckItem(t.Context(), core.NewID(), list, item, state, answer); err != nil {
			t.Fatal(err)
		}
	}
	check("emergency-box", "bag-spare", term.KitStateAbsent, "")
	if got := codes(); !strings.Contains(got, " oxygen ") || !strings.Contains(got, " oxygen-no-bag ") {
		t.Errorf("the spare bag is missing, and nobody looked at the bag: %s", got)
	}
	check("open-drop", "self-inflating-bag", term.KitStateAbsent, "")
	check("emergency-box", "relaxant", term.KitStateAbsent, "")
	if got := codes(); !strings.Contains(got, " oxygen-no-bag ") || strings.Contains(got, " oxygen ") {
		t.Errorf("without a bag: %s", got)
	}
	if s := stepOf(t, cardOf(t, c, id, "laryngospasm"), "paralyse"); len(s.Keys) == 0 || len(s.Notes) != 1 || !strings.Contains(s.Notes[0], "suxamethonium") {
		t.Errorf("a relaxant that was not found: %+v", s)
	}
	check("emergency-box", "bag-spare", term.KitStateFault, term.KitAnswerBorrowed)
	if got := codes(); !strings.Contains(got, " oxygen ") {
		t.Errorf("with a bag that was borrowed: %s", got)
	}
	// The last propofol was counted out, and some comes.
	count := func(act, batch, n string) {
		t.Helper()
		if _, err := c.Count(t.Context(), core.NewID(), map[string][]string{"what": {"drug"}, "act": {act}, "item": {"propofol"}, "batch": {batch}, "count": {n}, "each": {"200"}, "each_unit": {"mg"}, "expires": {"2028-01"}}); err != nil {
			t.Fatal(err)
		}
	}
	count("counted", "A", "3")
	if got := codes(); !strings.Contains(got, " deepen ") {
		t.Errorf("with three ampoules of propofol: %s", got)
	}
	count("counted", "A", "0")
	if got := codes(); strings.Contains(got, " deepen ") {
		t.Errorf("with none: %s", got)
	}
	count("received", "B", "5")
	if got := codes(); !strings.Contains(got, " deepen ") {
		t.Errorf("some came: %s", got)
	}
	count("counted", "B", "0")
	if got := codes(); strings.Contains(got, " deepen ") || !strings.Contains(got, " paralyse ") {
		t.Errorf("none of either batch: %s", got)
	}
	count("counted", "B", "1")
	// A clinic that has no propofol.
	propofol, err := os.ReadFile(filepath.Join("formulary", "drugs", "propofol.toml"))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := c.LayDrugFile(t.Context(), core.NewID(), "propofol.toml", append([]byte("retired = true\n"), propofol...), timeline.Moment{}); err != nil {
		t.Fatal(err)
	}
	if got := codes(); strings.Contains(got, " deepen ") {
		t.Errorf("without propofol: %s", got)
	}
}

func TestOffersOfACase(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	id := openCase(t, c, "Invented Person")
	offers := func() string {
		t.Helper()
		v, err := c.Table(t.Context(), id)
		if err != nil {
			t.Fatal(err)
		}
		var all []string
		for _, o := range v.Offers {
			s := o.Card
			if o.At != 0 {
				s += "!"
			}
			all = append(all, s)
		}
		return strings.Join(all, " ")
	}
	want := func(when, list string) {
		t.Helper()
		if got := offers(); got != list {
			t.Errorf("%s: %q, want %q", when, got, list)
		}
	}
	submit(t, c, id, "baseline", "systolic", "150", "pulse", "80", "spo2", "98")
	submit(t, c, id, "vitals", "systolic", "80", "pulse", "80", "spo2", "80")
	want("before the anaesthetic", "")
	submit(t, c, id, "phase", "phase", "anaesthesia-start")
	submit(t, c, id, "vitals", "systolic", "100", "pulse", "80", "spo2", "93")
	want("under 94", "hypoxia")
	set := func(name, value string) {
		t.Helper()
		if _, err := c.SetClinic(t.Context(), core.NewID(), name, value); err != nil {
			t.Fatal(err)
		}
	}
	submit(t, c, id, "vitals", "systolic", "88", "pulse", "80", "spo2", "88")
	want("40 % under rest, and far under the saturation", "hypoxia! hypotension!")
	set("offer-sound", "no")
	want("silenced", "hypoxia hypotension")
	set("offer-pressure-fall", "50")
	want("a fall by 50 % was chosen: still under 90", "hypoxia hypotension")
	if _, err := c.SetPlace(t.Context(), core.NewID(), "altitude", "3500", "m"); err != nil {
		t.Fatal(err)
	}
	set("offer-spo2-fall", "12")
	want("at 3500 m", "hypotension")
	doStep(t, c, id, "hypotension", "step", "look")
	want("its card runs", "")
	clock.pass(time.Minute)
	doStep(t, c, id, "hypotension", "card_act", "over")
	want("its card was left", "")
	clock.pass(time.Second)
	submit(t, c, id, "vitals", "systolic", "80", "pulse", "40", "spo2", "97")
	want("seen again, the graver first", "bradycardia hypotension")
	submit(t, c, id, "signs", "breathing", "see-saw")
	submit(t, c, id, "airway", "device", "tracheal-tube", "act", "in")
	want("see-saw through a tube", "apnoea bradycardia hypotension")
	clock.pass(time.Second)
	submit(t, c, id, "support", "support", "obstructed")
	want("see-saw, and somebody saw that it is blocked", "airway-obstruction bradycardia hypotension")
	clock.pass(11 * time.Minute)
	want("what is old says nothing", "")
}

// TestOfferSettings: every threshold on the page of settings has a value that
// holds among those that it offers, each of them can be chosen and holds then,
// what cannot be is refused by the name of its field, and no other threshold
// moves along. Each says what holds without it, and where that comes from.
func TestOfferSettings(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	settings := func() []core.OfferSetting {
		t.Helper()
		list, err := c.OfferSettings(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		return list
	}
	list := settings()
	if len(list) != len(trouble.Sources) {
		t.Fatalf("%d settings, %d sources", len(list), len(trouble.Sources))
	}
	for i, s := range list {
		if !slices.Contains(s.Values, s.Now) {
			t.Errorf("%s holds %s, which is not offered", s.Name, s.Now)
		}
		said, ok := strings.CutPrefix(s.Default.Text, "Until it is set: "+s.Now)
		if !ok || strings.ContainsAny(said[:1], "0123456789") || s.Default.Source == "" {
			t.Errorf("%s holds %s, and says %+v", s.Name, s.Now, s.Default)
		}
		for _, v := range s.Values {
			before := settings()
			clock.pass(time.Second)
			if _, err := c.SetClinic(t.Context(), core.NewID(), s.Name, v); err != nil {
				t.Errorf("%s %s: %v", s.Name, v, err)
			}
			for k, now := range settings() {
				want := before[k].Now
				if k == i {
					want = v
				}
				if now.Now != want {
					t.Errorf("%s was set to %s, and %s is %s, want %s", s.Name, v, now.Name, now.Now, want)
				}
			}
		}
		for _, v := range []string{"0", "200", "-5", "x", ""} {
			_, err := c.SetClinic(t.Context(), core.NewID(), s.Name, v)
			field := "value"
			if s.Switch {
				field = "text"
			}
			var fault *timeline.FieldError
			if !errors.As(err, &fault) || fault.Field != field {
				t.Errorf("%s takes %q: %v", s.Name, v, err)
			}
		}
	}
}

// TestEachLimitMovesItsOffer: two values of a threshold, between which lies what
// was measured, offer a card or none, and each time the other cards stay as they
// are.
func TestEachLimitMovesItsOffer(t *testing.T) {
	type fields []string
	child := fields{"age", "10", "age_unit", "a"}
	adult := fields{"age", "34", "age_unit", "a"}
	for _, x := range []struct {
		name, value string
		who, seen   fields
		is, becomes string // what is offered by the default, and then
	}{
		{"offer-spo2", "90", adult, fields{"spo2", "92", "pulse", "120"}, "hypoxia wrong-rhythm", "wrong-rhythm"},
		{"offer-height", "no", adult, fields{"spo2", "88", "pulse", "120"}, "wrong-rhythm", "hypoxia! wrong-rhythm"},
		{"offer-spo2-severe", "3", adult, fields{"spo2", "80", "pulse", "120"}, "hypoxia wrong-rhythm", "hypoxia! wrong-rhythm"},
		{"offer-pressure-low", "110", adult, fields{"systolic", "95", "pulse", "120"}, "wrong-rhythm", "hypotension wrong-rhythm"},
		{"offer-pressure-severe", "90", adult, fields{"systolic", "75", "pulse", "120"}, "hypotension! wrong-rhythm", "hypotension wrong-rhythm"},
		{"offer-pressure-high", "80", adult, fields{"systolic", "190", "pulse", "120"}, "wrong-rhythm", "hypertension wrong-rhythm"},
		{"offer-pulse-low", "80", adult, fields{"systolic", "85", "pulse", "45"}, "hypotension bradycardia", "hypotension"},
		{"offer-pulse-severe", "90", adult, fields{"systolic", "85", "pulse", "44"}, "hypotension bradycardia", "bradycardia! hypotension"},
		{"offer-pulse-press", "50", child, fields{"systolic", "95", "pulse", "59"}, "bradycardia!", "bradycardia"},
		{"offer-child", "8", child, fields{"systolic", "95", "pulse", "59"}, "bradycardia!", "bradycardia"},
		{"offer-pulse-high", "120", adult, fields{"systolic", "85", "pulse", "110"}, "hypotension wrong-rhythm", "hypotension"},
		{"offer-fresh", "5", adult, fields{"systolic", "85", "pulse", "110"}, "hypotension wrong-rhythm", ""},
		{"offer-sound", "no", adult, fields{"systolic", "75", "pulse", "120"}, "hypotension! wrong-rhythm", "hypotension wrong-rhythm"},
	} {
		clock := newClock()
		c := openAt(t, t.TempDir(), clock)
		id := openCase(t, c, "Invented Person")
		submit(t, c, id, "facts", x.who...)
		submit(t, c, id, "phase", "phase", "anaesthesia-start")
		if strings.HasPrefix(x.name, "offer-spo2-severe") || x.name == "offer-height" {
			if _, err := c.SetPlace(t.Context(), core.NewID(), "altitude", "3500", "m"); err != nil {
				t.Fatal(err)
			}
		}
		submit(t, c, id, "vitals", x.seen...)
		clock.pass(7 * time.Minute)
		offered := func() string {
			v, err := c.Table(t.Context(), id)
			if err != nil {
				t.Fatal(err)
			}
			var all []string
			for _, o := range v.Offers {
				if o.At != 0 {
					o.Card += "!"
				}
				all = append(all, o.Card)
			}
			return strings.Join(all, " ")
		}
		if got := offered(); got != x.is {
			t.Errorf("%s: %q, want %q", x.name, got, x.is)
		}
		if _, err := c.SetClinic(t.Context(), core.NewID(), x.name, x.value); err != nil {
			t.Fatal(err)
		}
		if got := offered(); got != x.becomes {
			t.Errorf("%s %s: %q, want %q", x.name, x.value, got, x.becomes)
		}
	}
}

// TestTwoRuns: cards run beside each other, and in whatever order the lines
// arrive.
func TestTwoRuns(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	id := openCase(t, c, "Invented Person")
	submit(t, c, id, "phase", "phase", "anaesthesia-start")
	submit(t, c, id, "vitals", "systolic", "100", "diastolic", "60", "pulse", "80")
	doStep(t, c, id, "anaphylaxis", "step", "stop")
	clock.pass(30 * time.Second)
	doStep(t, c, id, "arrest", "card_act", "helper")
	clock.pass(2 * time.Minute)
	v, err := c.Table(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	if len(v.Dues) != 2 || v.Dues[0].Card != "arrest" || !v.Dues[0].Over || v.Dues[1].Key != "vitals" {
		t.Errorf("due: %+v", v.Dues)
	}
	if a, b := cardOf(t, c, id, "anaphylaxis"), cardOf(t, c, id, "arrest"); a.Seconds != 150 || b.Seconds != 120 || a.Helper || !b.Helper {
		t.Errorf("%d s and %d s, helper %v and %v", a.Seconds, b.Seconds, a.Helper, b.Helper)
	}
	doStep(t, c, id, "arrest", "card_act", "over")
	// Ending what does not run begins nothing.
	doStep(t, c, id, "fire", "card_act", "over")
	if f := cardOf(t, c, id, "fire"); f.Seconds != -1 {
		t.Error("an end began a card")
	}
	l, err := c.Troubles(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	if len(l.Running) != 1 || l.Running[0].Card != "anaphylaxis" {
		t.Errorf("running: %+v", l.Running)
	}
	n := 0
	for _, g := range l.Groups {
		n += len(g.Cards)
	}
	all, err := trouble.Cards()
	if err != nil || n != len(all) {
		t.Errorf("%d of %d cards in the list (%v)", n, len(all), err)
	}
}

// TestNoCardShowsTooMuch opens every card for patients from the newborn to 110
// years and holds every key against the maxima of the rule. Package trouble has
// the same as a property, without screens.
func TestNoCardShowsTooMuch(t *testing.T) {
	c := openAt(t, t.TempDir(), newClock())
	cards, err := trouble.Cards()
	if err != nil {
		t.Fatal(err)
	}
	f, err := c.Rules(t.Context(), c.Now().Wall)
	if err != nil {
		t.Fatal(err)
	}
	seen := 0
	for _, who := range [][2]string{{"0 d", "0.8 kg"}, {"1 d", "3.5 kg"}, {"3 mo", "5.5 kg"}, {"1 a", "30 kg"}, {"6 a", "20 kg"}, {"11 a", "90 kg"}, {"13 a", "38 kg"}, {"34 a", "200 kg"}, {"70 a", "41 kg"}, {"110 a", "30 kg"}} {
		age, weight := quantity.MustParse(who[0]), quantity.MustParse(who[1])
		id, _, err := c.OpenCase(t.Context(), core.Form{ID: core.NewID(), Fields: map[string][]string{
			"age": {age.Value.String()}, "age_unit": {age.Unit.String()}, "sex": {"female"}, "weight": {weight.Value.String()}, "weight_how": {"guessed"}, "weight_by": {"eye"}}})
		if err != nil {
			t.Fatal(err)
		}
		for _, card := range cards {
			for _, s := range cardOf(t, c, id, card.Code).Steps {
				for _, k := range s.Keys {
					set := setOf(k)
					if set["kind"] != "drug" {
						continue
					}
					seen++
					dose := quantity.MustParse(set["dose"] + " " + set["dose_unit"])
					for _, d := range f.Find(set["drug"]).Use(set["use"]).Doses {
						if !within(age, d.Age) || !within(weight, d.Mass) {
							continue
						}
						if over(dose, d.Most) {
							t.Errorf("%s %s for %v: %s, and the most is %s", card.Code, k.Name, who, dose, d.Most)
						}
						if d.MostPerKg.IsZero() {
							continue
						}
						if most, err := d.MostPerKg.Mul(weight, dose.Unit); err != nil || over(dose, most) {
							t.Errorf("%s %s for %v: %s, and the most is %s (%v)", card.Code, k.Name, who, dose, most, err)
						}
					}
				}
			}
		}
	}
	if seen < 200 {
		t.Errorf("only %d doses were shown", seen)
	}
}

func within(a quantity.Amount, s formulary.Span) bool {
	if s.IsZero() {
		return true
	}
	low, err1 := a.Cmp(s.Low)
	high, err2 := a.Cmp(s.High)
	return err1 == nil && err2 == nil && low >= 0 && high < 0
}

func over(dose, most quantity.Amount) bool {
	if most.IsZero() {
		return false
	}
	n, err := dose.Cmp(most)
	return err != nil || n > 0
}

// TestCardsStayUnderMaxima is the property behind it: whoever the patient is,
// and whatever keys were tapped before on that card or on others, no key of a
// card shows more than its rule allows at once, for this weight, or together
// with what was given within the rule's time.
func TestCardsStayUnderMaxima(t *testing.T) {
	cards, err := trouble.Cards()
	if err != nil {
		t.Fatal(err)
	}
	f, err := formulary.Builtin()
	if err != nil {
		t.Fatal(err)
	}
	type given struct {
		drug, use string
		dose      quantity.Amount
		at        time.Time
	}
	seen, tapped := 0, 0
	var c *core.Companion
	var clock *fakeClock
	n := 0
	rapid.Check(t, func(rt *rapid.T) {
		// Now and then another house, or every case would have all before it to look through.
		if n%10 == 0 {
			clock = newClock()
			c = openAt(t, t.TempDir(), clock)
		}
		n++
		age := quantity.MustParse(rapid.SampledFrom([]string{"0 d", "9 d", "27 d", "28 d", "3 mo", "6 mo", "11 mo", "1 a", "5 a", "6 a", "11 a", "12 a", "13 a", "17 a", "34 a", "64 a", "70 a", "110 a"}).Draw(rt, "age"))
		weight := quantity.Amount{Value: quantity.DecimalFromInt(int64(rapid.IntRange(1, 200).Draw(rt, "kg"))), Unit: quantity.Kg}
		id, _, err := c.OpenCase(t.Context(), core.Form{ID: core.NewID(), Fields: map[string][]string{
			"age": {age.Value.String()}, "age_unit": {age.Unit.String()}, "sex": {rapid.SampledFrom([]string{"female", "male"}).Draw(rt, "sex")},
			"weight": {weight.Value.String()}, "weight_how": {"guessed"}, "weight_by": {"eye"}}})
		if err != nil {
			rt.Fatal(err)
		}
		var before []given
		for range rapid.IntRange(1, 4).Draw(rt, "taps") {
			card := rapid.SampledFrom(cards).Draw(rt, "card")
			var keys []core.CardDose
			for _, s := range cardOf(t, c, id, card.Code).Steps {
				for _, k := range s.Keys {
					set := setOf(k)
					if set["kind"] != "drug" {
						continue
					}
					seen++
					keys = append(keys, k)
					dose := quantity.MustParse(set["dose"] + " " + set["dose_unit"])
					use := f.Find(set["drug"]).Use(set["use"])
					for _, d := range use.Doses {
						if !within(age, d.Age) || !within(weight, d.Mass) {
							continue
						}
						if over(dose, d.Most) {
							rt.Fatalf("%s %s: %s, and the most is %s", card.Code, k.Name, dose, d.Most)
						}
						if d.MostPerKg.IsZero() {
							continue
						}
						if most, err := d.MostPerKg.Mul(weight, dose.Unit); err != nil || over(dose, most) {
							rt.Fatalf("%s %s: %s, and the most is %s (%v)", card.Code, k.Name, dose, most, err)
						}
					}
					for _, total := range use.Totals {
						if !within(age, total.Age) {
							continue
						}
						most := total.Most
						if per, err := most.Mul(weight, dose.Unit); err == nil {
							most = per // it goes by weight
						}
						sum := dose
						for _, g := range before {
							inTime := total.Window.IsZero() || clock.wall.Sub(g.at) < spanOf(t, total.Window)
							if g.drug != set["drug"] || !inTime || len(total.Uses) > 0 && !slices.Contains(total.Uses, g.use) || len(total.Uses) == 0 && g.use != set["use"] {
								continue
							}
							if sum, err = sum.Add(g.dose); err != nil {
								rt.Fatal(err)
							}
						}
						if over(sum, most) {
							rt.Fatalf("%s %s: %s with %v before, and the most in %s is %s", card.Code, k.Name, dose, before, total.Window, most)
						}
					}
				}
			}
			if len(keys) == 0 {
				continue
			}
			k := rapid.SampledFrom(keys).Draw(rt, "key")
			set := map[string]string{}
			for i := 0; i+1 < len(k.Set); i += 2 {
				set[k.Set[i]] = k.Set[i+1]
			}
			if _, err := c.DoStep(t.Context(), form(id, "", k.Set...)); err != nil {
				rt.Fatalf("%s: %v", k.Name, err)
			}
			tapped++
			before = append(before, given{set["drug"], set["use"], quantity.MustParse(set["dose"] + " " + set["dose_unit"]), clock.wall})
			clock.pass(time.Duration(rapid.IntRange(1, 20).Draw(rt, "min")) * time.Minute)
		}
	})
	if seen < 500 || tapped < 50 {
		t.Errorf("only %d doses were seen and %d tapped", seen, tapped)
	}
}

func spanOf(t *testing.T, a quantity.Amount) time.Duration {
	t.Helper()
	n, err := a.Float64(quantity.Second)
	if err != nil {
		t.Fatal(err)
	}
	return time.Duration(n * float64(time.Second))
}

// TestSourcesByStep: the page of a card tells of every step that it shows where
// it comes from, and how sure that is.
func TestSourcesByStep(t *testing.T) {
	c := openAt(t, t.TempDir(), newClock())
	id := openCase(t, c, "Invented Person")
	cards, err := trouble.Cards()
	if err != nil {
		t.Fatal(err)
	}
	for _, card := range cards {
		v := cardOf(t, c, id, card.Code)
		of := map[string]bool{}
		for _, line := range v.Sources {
			numbers, _, _ := strings.Cut(line, ": ")
			for _, n := range strings.Split(numbers, ", ") {
				of[n] = true
			}
		}
		for i, s := range v.Steps {
			if !of[strconv.Itoa(i+1)] {
				t.Errorf("%s %s: no source on the page: %q", card.Code, s.Code, v.Sources)
			}
		}
		if len(v.Sources) != len(card.Sources) {
			t.Errorf("%s: %d sources of %d", card.Code, len(v.Sources), len(card.Sources))
		}
	}
}

// TestNewbornBesideItsMother: the card for a newborn in the case of its mother
// has its steps and none of her doses; in a case of its own it has both.
func TestNewbornBesideItsMother(t *testing.T) {
	c := openAt(t, t.TempDir(), newClock())
	mother := openCase(t, c, "Invented Mother")
	submit(t, c, mother, "facts", "pregnant", "yes")
	v := cardOf(t, c, mother, "arrest-newborn")
	if !v.Apart || v.NoWeight || len(v.Steps) < 8 {
		t.Errorf("beside the mother: %+v", v)
	}
	for _, s := range v.Steps {
		if len(s.Keys) > 0 {
			t.Errorf("%s offers %+v to the mother", s.Code, s.Keys)
		}
	}
	if v.Better != "arrest-pregnant" || v.BetterName == "" {
		t.Errorf("it points to %q", v.Better)
	}
	child, _, err := c.OpenCase(t.Context(), core.Form{ID: core.NewID(), Fields: map[string][]string{
		"age": {"0"}, "age_unit": {"d"}, "sex": {"female"}, "weight": {"3"}, "weight_how": {"guessed"}, "weight_by": {"eye"}}})
	if err != nil {
		t.Fatal(err)
	}
	v = cardOf(t, c, child, "arrest-newborn")
	// Resuscitation Council UK, Newborn resuscitation, 2021: 20 micrograms/kg.
	if k := stepOf(t, v, "adrenaline").Keys; v.Apart || v.Better != "" || len(k) != 2 || !slices.Contains(k[0].Set, "0.06") && !slices.Contains(k[0].Set, "60") {
		t.Errorf("in its own case: %+v", k)
	}
}

// TestCardsLeadToThisPatientsCard: from wherever, no pulse in a child leads to
// the card for children, and a card made for others says which is not.
func TestCardsLeadToThisPatientsCard(t *testing.T) {
	c := openAt(t, t.TempDir(), newClock())
	child, _, err := c.OpenCase(t.Context(), core.Form{ID: core.NewID(), Fields: map[string][]string{
		"age": {"4"}, "age_unit": {"a"}, "sex": {"male"}, "weight": {"16"}, "weight_how": {"guessed"}, "weight_by": {"eye"}}})
	if err != nil {
		t.Fatal(err)
	}
	for _, card := range []string{"laryngospasm", "hypoxia", "bradycardia", "anaphylaxis", "hypotension"} {
		v := cardOf(t, c, child, card)
		found := ""
		for _, s := range v.Steps {
			if strings.HasPrefix(s.To, "arrest") {
				found += s.To + " "
				if s.ToName == "" {
					t.Errorf("%s %s leads to what has no name", card, s.Code)
				}
			}
		}
		if found != "arrest-child " {
			t.Errorf("%s leads to %q", card, found)
		}
	}
	if v := cardOf(t, c, child, "arrest"); !v.Unsuited || v.Better != "arrest-child" {
		t.Errorf("the adult's card points to %q", v.Better)
	}
	if v := cardOf(t, c, child, "arrest-child"); v.Unsuited || v.Better != "" {
		t.Errorf("the child's card points to %q", v.Better)
	}
}

// TestKeysTellWhatFor: two doses of one drug by one route in one step say what
// each is for; alone a key needs no such word.
func TestKeysTellWhatFor(t *testing.T) {
	c := openAt(t, t.TempDir(), newClock())
	id := openCase(t, c, "Invented Person")
	submit(t, c, id, "facts", "weight", "60", "weight_how", "guessed", "weight_by", "eye", "age", "30", "age_unit", "a", "sex", "female")
	cards, err := trouble.Cards()
	if err != nil {
		t.Fatal(err)
	}
	doubled := 0
	for _, card := range cards {
		for _, s := range cardOf(t, c, id, card.Code).Steps {
			seen := map[string]int{}
			for _, k := range s.Keys {
				seen[k.Drug+" "+k.Route]++
			}
			labels := map[string]bool{}
			for _, k := range s.Keys {
				label := k.Drug + " " + k.Use + " " + k.Route
				if labels[label] {
					t.Errorf("%s %s: two keys %q", card.Code, s.Code, label)
				}
				labels[label] = true
				if twice := seen[k.Drug+" "+k.Route] > 1; twice != (k.Use != "") {
					t.Errorf("%s %s: %q of %d", card.Code, s.Code, label, seen[k.Drug+" "+k.Route])
				} else if twice {
					doubled++
				}
			}
		}
	}
	if doubled == 0 {
		t.Error("no step has two doses of one drug by one route")
	}
}

// TestSlowPulseByAge: on either side of the limit of the age, and no cliff at a
// birthday. Fleming and others, Lancet 2011;377:1011, 10th centile: 92 at 2, 86
// at 3, 81 at 4 and 74 at 6 years; it sounds under 80 % of it.
func TestSlowPulseByAge(t *testing.T) {
	for _, x := range []struct{ age, unit, still, slow, sounds string }{
		{"23", "mo", "100", "99", "79"}, {"2", "a", "92", "91", "73"}, {"3", "a", "86", "85", "68"}, {"4", "a", "81", "80", "64"}, {"6", "a", "74", "73", "59"}, {"9", "a", "67", "66", "59"}, {"14", "a", "62", "61", "49"}, {"34", "a", "51", "50", "40"},
	} {
		for pulse, want := range map[string]string{x.still: "", x.slow: "bradycardia", x.sounds: "bradycardia!"} {
			c := openAt(t, t.TempDir(), newClock())
			id := openCase(t, c, "Invented Person")
			submit(t, c, id, "facts", "age", x.age, "age_unit", x.unit)
			submit(t, c, id, "phase", "phase", "anaesthesia-start")
			submit(t, c, id, "vitals", "pulse", pulse)
			v, err := c.Table(t.Context(), id)
			if err != nil {
				t.Fatal(err)
			}
			got := ""
			for _, o := range v.Offers {
				got += o.Card
				if o.At != 0 {
					got += "!"
				}
			}
			if got != want {
				t.Errorf("at %s %s a pulse of %s offers %q, want %q", x.age, x.unit, pulse, got, want)
			}
		}
	}
}

// TestSlowPulseOfAChildSounds: under 60 a child's slow pulse is severe, an
// adult's is not yet.
func TestSlowPulseOfAChildSounds(t *testing.T) {
	for age, want := range map[string]bool{"3": true, "11": true, "34": false} {
		c := openAt(t, t.TempDir(), newClock())
		id := openCase(t, c, "Invented Person")
		submit(t, c, id, "facts", "age", age, "age_unit", "a")
		submit(t, c, id, "phase", "phase", "anaesthesia-start")
		pulse := "59"
		if age == "34" {
			pulse = "50"
		}
		submit(t, c, id, "vitals", "pulse", pulse)
		v, err := c.Table(t.Context(), id)
		if err != nil {
			t.Fatal(err)
		}
		if len(v.Offers) != 1 || v.Offers[0].Card != "bradycardia" || (v.Offers[0].At != 0) != want {
			t.Errorf("at %s years a pulse of %s offers %+v", age, pulse, v.Offers)
		}
	}
}

// TestNotIf: what would stop a drug of a card and nobody asked for stands in one
// line before its keys; once it was asked for the line is gone, or the drug is
// stopped.
func TestNotIf(t *testing.T) {
	c := openAt(t, t.TempDir(), newClock())
	id := openCase(t, c, "Invented Person")
	submit(t, c, id, "facts", "weight", "60", "weight_how", "guessed", "weight_by", "eye", "age", "30", "age_unit", "a", "sex", "female")
	f, err := c.Rules(t.Context(), c.Now().Wall)
	if err != nil {
		t.Fatal(err)
	}
	line := func(s core.CardStep, drug string) string {
		t.Helper()
		var all []string
		for _, k := range s.Keys {
			if k.Drug == drug && k.NotIf != "" {
				all = append(all, k.NotIf)
			}
		}
		if len(all) > 1 {
			t.Errorf("%s: %q", s.Code, all)
		}
		return strings.Join(all, "")
	}
	// Every condition that stops a use on a card is named where it has a key.
	cards, err := trouble.Cards()
	if err != nil {
		t.Fatal(err)
	}
	named := 0
	for _, card := range cards {
		v := cardOf(t, c, id, card.Code)
		for _, s := range v.Steps {
			lines := ""
			for _, k := range s.Keys {
				lines += k.NotIf + "\n"
			}
			for _, d := range card.Step(s.Code).Drugs {
				if !slices.ContainsFunc(s.Keys, func(k core.CardDose) bool { return strings.HasPrefix(k.Name, s.Code+"-"+d.Drug+"-"+d.Use+"-") }) {
					continue
				}
				for _, a := range f.Find(d.Drug).Alerts {
					if a.Level != formulary.Stop || len(a.Uses) > 0 && !slices.Contains(a.Uses, d.Use) {
						continue
					}
					for _, x := range a.With {
						if !term.ConditionList.Has(term.Condition(x)) {
							continue
						}
						named++
						if words := c.Words().Say("term.condition." + x); !strings.Contains(lines, words) {
							t.Errorf("%s %s: nobody asked for %q, and %q does not name it", card.Code, s.Code, words, lines)
						}
					}
				}
			}
		}
	}
	if named < 30 {
		t.Errorf("only %d conditions", named)
	}
	womb := func() core.CardStep { return stepOf(t, cardOf(t, c, id, "massive-bleeding"), "womb") }
	if got := line(womb(), "ergometrine"); !strings.Contains(got, "pre-eclampsia") || strings.Contains(got, "\n") {
		t.Errorf("ergometrine: %q", got)
	}
	if got := line(stepOf(t, cardOf(t, c, id, "laryngospasm"), "paralyse"), "suxamethonium"); !strings.Contains(got, "burn") || !strings.Contains(got, "malignant hyperthermia") {
		t.Errorf("suxamethonium: %q", got)
	}
	submit(t, c, id, "facts", "without", "pre-eclampsia")
	if got := line(womb(), "ergometrine"); strings.Contains(got, "pre-eclampsia") {
		t.Errorf("asked for, and it says %q", got)
	}
	submit(t, c, id, "facts", "with", "pre-eclampsia")
	if s := womb(); slices.ContainsFunc(s.Keys, func(k core.CardDose) bool { return strings.Contains(k.Name, "ergometrine") }) || !strings.Contains(strings.Join(s.Notes, " "), "ergometrine") {
		t.Errorf("with pre-eclampsia: %+v", s)
	}
}

// TestNoneLeftByReckoning: a drug that was counted, and of which cases took all
// since, is said to be out; its key and its step stay, since nobody looked.
func TestNoneLeftByReckoning(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	id := openCase(t, c, "Invented Person")
	count := func(act, n string) {
		t.Helper()
		if _, err := c.Count(t.Context(), core.NewID(), map[string][]string{"what": {"drug"}, "act": {act}, "item": {"propofol"}, "batch": {"A"}, "count": {n}, "each": {"200"}, "each_unit": {"mg"}, "expires": {"2028-01"}}); err != nil {
			t.Fatal(err)
		}
		clock.pass(time.Minute)
	}
	said := func() string {
		t.Helper()
		s := stepOf(t, cardOf(t, c, id, "laryngospasm"), "deepen")
		if len(s.Keys) != 1 {
			t.Errorf("%d keys: %+v", len(s.Keys), s)
		}
		return strings.Join(s.Notes, " ")
	}
	give := func(mg string) {
		t.Helper()
		submit(t, c, id, "drug", "drug", "propofol", "dose", mg, "dose_unit", "mg", "route", "iv")
		clock.pass(time.Hour)
	}
	if got := said(); got != "" {
		t.Errorf("nobody counted: %q", got)
	}
	give("200") // before the count
	count("counted", "2")
	if got := said(); got != "" {
		t.Errorf("two ampoules: %q", got)
	}
	give("150")
	if got := said(); got != "" {
		t.Errorf("one was opened: %q", got)
	}
	give("60")
	if got := said(); !strings.Contains(got, "propofol: none left by reckoning") {
		t.Errorf("both were opened: %q", got)
	}
	count("received", "5")
	if got := said(); got != "" {
		t.Errorf("some came: %q", got)
	}
	// What a card's own key gives counts like any other.
	count("counted", "1")
	doStep(t, c, id, "laryngospasm", stepOf(t, cardOf(t, c, id, "laryngospasm"), "deepen").Keys[0].Set...)
	clock.pass(time.Hour)
	if got := said(); !strings.Contains(got, "none left by reckoning") {
		t.Errorf("the card's key opened the last: %q", got)
	}
	count("counted", "0")
	for _, s := range cardOf(t, c, id, "laryngospasm").Steps {
		if s.Code == "deepen" {
			t.Errorf("counted out, and it is there: %+v", s)
		}
	}
}

// TestReckonedOutOfMoreCasesThanOneLookReads: what more cases took than a card
// reads at once is reckoned in full by who saw them, and by a companion that has
// just been opened at the next look; until then it says nothing.
func TestReckonedOutOfMoreCasesThanOneLookReads(t *testing.T) {
	clock, dir := newClock(), t.TempDir()
	c := openAt(t, dir, clock)
	count(t, c, "what", "drug", "act", "counted", "item", "propofol", "count", "115", "each", "200", "each_unit", "mg")
	var id string
	said := func(c *core.Companion) bool {
		return slices.ContainsFunc(cardOf(t, c, id, "laryngospasm").Steps, func(s core.CardStep) bool {
			return slices.ContainsFunc(s.Notes, func(n string) bool { return strings.Contains(n, "propofol: none left by reckoning") })
		})
	}
	for i := range 115 {
		clock.pass(time.Minute)
		id = openCase(t, c, "Invented Person")
		submit(t, c, id, "drug", "drug", "propofol", "use", "induction-iv", "dose", "200", "dose_unit", "mg", "route", "iv")
		if i == 50 || i == 113 {
			if said(c) {
				t.Errorf("after %d cases none is left", i+1)
			}
		}
	}
	clock.pass(time.Minute)
	if !said(c) {
		t.Error("all are used, and the card does not say so")
	}
	if err := c.Close(); err != nil {
		t.Fatal(err)
	}
	c = openAt(t, dir, clock)
	for look, want := range []bool{false, true, true} {
		if said(c) != want {
			t.Errorf("opened again, look %d: want %v", look+1, want)
		}
	}
	if n := supply(t, c, "drug", "propofol").OnHand; n != "0" {
		t.Errorf("the page of supplies: %s", n)
	}
}

// TestKeysTellTheirStrength: a key with a volume says of which strength, and
// beneath it how that is made where no ampoule has it; so one drug in two
// strengths on two cards cannot be taken for one.
func TestKeysTellTheirStrength(t *testing.T) {
	c := openAt(t, t.TempDir(), newClock())
	cards, err := trouble.Cards()
	if err != nil {
		t.Fatal(err)
	}
	f, err := c.Rules(t.Context(), c.Now().Wall)
	if err != nil {
		t.Fatal(err)
	}
	made, several := 0, map[string]map[string]bool{}
	for _, who := range [][2]string{{"6", "20"}, {"30", "60"}} {
		id := openCase(t, c, "Invented Person")
		submit(t, c, id, "facts", "weight", who[1], "weight_how", "guessed", "weight_by", "eye", "age", who[0], "age_unit", "a", "sex", "female")
		for _, card := range cards {
			for _, s := range cardOf(t, c, id, card.Code).Steps {
				for _, k := range s.Keys {
					set := map[string]string{}
					for i := 0; i+1 < len(k.Set); i += 2 {
						set[k.Set[i]] = k.Set[i+1]
					}
					if set["strength"] == "" {
						continue
					}
					strength := quantity.MustParse(set["strength"] + " " + set["strength_unit"])
					words := k.Sub + " " + k.HowTo
					if told := c.Words().Number(strength.Value.String()); !strings.Contains(words, told+" ") {
						t.Errorf("%s %s: %q does not tell %s", card.Code, k.Name, words, strength)
					}
					same := func(p formulary.Presentation) bool {
						n, err := p.Strength.Cmp(strength)
						return err == nil && n == 0
					}
					d := f.Find(set["drug"])
					if !slices.ContainsFunc(d.Presentations, same) {
						made++
						if !strings.Contains(k.HowTo, "make") && !strings.Contains(k.HowTo, "add") {
							t.Errorf("%s %s: nothing says how %s is made: %q", card.Code, k.Name, strength, k.HowTo)
						}
					}
					if several[set["drug"]] == nil {
						several[set["drug"]] = map[string]bool{}
					}
					several[set["drug"]][k.Sub] = true
				}
			}
		}
	}
	if made < 10 || len(several["adrenaline"]) < 2 {
		t.Errorf("%d keys of what is made up; adrenaline %v", made, several["adrenaline"])
	}
}

// TestLeavingACardLosesNothing: whoever leaves a card, goes to another case and
// comes back, or whose device went off and on, finds it as it was: clock, who
// records, steps, doses, what is due.
func TestLeavingACardLosesNothing(t *testing.T) {
	clock, dir := newClock(), t.TempDir()
	c := openAt(t, dir, clock)
	id := openCase(t, c, "Invented Person")
	doStep(t, c, id, "arrest", "card_act", "begun")
	doStep(t, c, id, "arrest", "card_act", "helper")
	doStep(t, c, id, "arrest", "step", "press")
	doStep(t, c, id, "arrest", keyOf(t, stepOf(t, cardOf(t, c, id, "arrest"), "adrenaline"), "adrenaline-adrenaline-arrest-iv")...)
	clock.pass(30 * time.Second)
	openCase(t, c, "Second Person")
	doStep(t, c, id, "hypoxia", "step", "look")
	clock.pass(30 * time.Second)
	if err := c.Close(); err != nil {
		t.Fatal(err)
	}
	c = openAt(t, dir, clock)
	v := cardOf(t, c, id, "arrest")
	if v.Seconds != 60 || !v.Helper || v.Began == "" {
		t.Errorf("%d s, helper %v, since %q", v.Seconds, v.Helper, v.Began)
	}
	for _, step := range []string{"press", "adrenaline"} {
		if s := stepOf(t, v, step); s.Count == "" {
			t.Errorf("%s is lost: %+v", step, s)
		}
	}
	for step, due := range map[string]string{"rhythm": "1 min", "adrenaline": "2 min"} {
		if s := stepOf(t, v, step); s.Due == nil || !strings.Contains(s.Due.Text, due) {
			t.Errorf("%s is due %+v, want in %s", step, s.Due, due)
		}
	}
	l, err := c.Troubles(t.Context(), id)
	if err != nil || len(l.Running) != 2 {
		t.Errorf("running: %+v (%v)", l.Running, err)
	}
	table, err := c.Table(t.Context(), id)
	if err != nil || !slices.ContainsFunc(table.Dues, func(d core.Due) bool { return d.Card == "arrest" && d.Step == "rhythm" }) {
		t.Errorf("the table says %+v is due (%v)", table.Dues, err)
	}
}

// TestOneGuessFirst: without a weight a card has no dose by it, and asks for one
// estimate; with that it has them and asks no more. A dose that goes by no
// weight waits for none.
func TestOneGuessFirst(t *testing.T) {
	c := openAt(t, t.TempDir(), newClock())
	id, _, err := c.OpenCase(t.Context(), core.Form{ID: core.NewID(), Fields: map[string][]string{"age": {"5"}, "age_unit": {"a"}, "sex": {"male"}}})
	if err != nil {
		t.Fatal(err)
	}
	v := cardOf(t, c, id, "laryngospasm")
	if !v.NoWeight || len(v.Guesses) == 0 || len(stepOf(t, v, "paralyse").Keys) != 0 {
		t.Errorf("asks %v, guesses %+v, keys %+v", v.NoWeight, v.Guesses, stepOf(t, v, "paralyse").Keys)
	}
	if k := stepOf(t, cardOf(t, c, id, "anaphylaxis"), "adrenaline").Keys; len(k) != 1 || !strings.HasSuffix(k[0].Name, "-im") {
		t.Errorf("into muscle it goes by age: %+v", k)
	}
	submit(t, c, id, "facts", "weight", "18", "weight_how", "guessed", "weight_by", "eye")
	v = cardOf(t, c, id, "laryngospasm")
	if v.NoWeight || len(v.Guesses) != 0 || len(stepOf(t, v, "paralyse").Keys) != 3 {
		t.Errorf("after one guess it asks %v, keys %+v", v.NoWeight, stepOf(t, v, "paralyse").Keys)
	}
}

// TestOffersOfASpinal: of a woman with child after a spinal under 80 % of the
// pressure at rest (South-East Asian consensus 2022, table 1), of others not.
func TestOffersOfASpinal(t *testing.T) {
	for _, x := range []struct {
		pregnant, block, systolic string
		want                      bool
	}{
		{"yes", "spinal", "111", true}, {"yes", "spinal", "112", false}, {"no", "spinal", "111", false}, {"yes", "axillary", "111", false},
	} {
		c := openAt(t, t.TempDir(), newClock())
		id := openCase(t, c, "Invented Person")
		submit(t, c, id, "facts", "pregnant", x.pregnant, "sex", "female")
		submit(t, c, id, "baseline", "systolic", "140")
		submit(t, c, id, "phase", "phase", "anaesthesia-start")
		submit(t, c, id, "block", "block", x.block)
		submit(t, c, id, "vitals", "systolic", x.systolic)
		v, err := c.Table(t.Context(), id)
		if err != nil {
			t.Fatal(err)
		}
		if got := len(v.Offers) == 1 && v.Offers[0].Card == "hypotension"; got != x.want || len(v.Offers) > 1 {
			t.Errorf("with child %s, %s, %s: %+v", x.pregnant, x.block, x.systolic, v.Offers)
		}
	}
}

// TestCappedIsSaid: a key says capped, and what full would be, where the cap
// holds down what it gives, and nowhere else.
func TestCappedIsSaid(t *testing.T) {
	c := openAt(t, t.TempDir(), newClock())
	id := openCase(t, c, "Invented Person")
	for _, x := range []struct{ kg, card, step, key, full string }{
		{"70", "laryngospasm", "paralyse", "paralyse-suxamethonium-laryngospasm-im-im", "280 mg"}, // 4 mg/kg, 150 mg at most
		{"30", "laryngospasm", "paralyse", "paralyse-suxamethonium-laryngospasm-im-im", ""},
		{"90", "convulsion", "drug", "drug-diazepam-convulsion-iv-iv", "18 mg"}, // 0.2 mg/kg, 10 mg at most
		{"90", "local-anaesthetic-poisoning", "fit", "fit-diazepam-convulsion-step-iv-iv", ""},
	} {
		submit(t, c, id, "facts", "weight", x.kg, "weight_how", "guessed", "weight_by", "eye", "age", "30", "age_unit", "a")
		s := stepOf(t, cardOf(t, c, id, x.card), x.step)
		for _, k := range s.Keys {
			if k.Name != x.key {
				continue
			}
			if x.full == "" && k.Capped != "" || x.full != "" && !(strings.Contains(k.Capped, "capped") && strings.Contains(k.Capped, x.full)) {
				t.Errorf("%s at %s kg says %q, want %q", x.key, x.kg, k.Capped, x.full)
			}
		}
		keyOf(t, s, x.key) // it is there
	}
}

// setOf gives the fields that a key records.
func setOf(k core.CardDose) map[string]string {
	set := map[string]string{}
	for i := 0; i+1 < len(k.Set); i += 2 {
		set[k.Set[i]] = k.Set[i+1]
	}
	return set
}

// TestPerKilogramIsWorkedOut: nobody multiplies while a child dies. What a card
// has for each kilogram stands beside it for the child's weight: 4 J/kg (European
// Resuscitation Council, Guidelines for Resuscitation 2010), 20 mL/kg
// (Resuscitation Council UK, Peri-operative anaphylaxis), 10 mL/kg (Association
// of Anaesthetists, Quick Reference Handbook 2018, 2-4). A weight in doubt says
// so before the number; a grown-up, a mother on the card of a newborn and who was
// not weighed have the rule alone.
func TestPerKilogramIsWorkedOut(t *testing.T) {
	for _, x := range []struct{ age, weight, card, want string }{
		{"3", "15", "arrest-child", "4 J/kg (60 J at 15 kg)"},
		{"3", "14.3", "arrest-child", "4 J/kg (57 J at 14.3 kg)"},
		{"3", "15", "anaphylaxis", "20 mL/kg (300 mL at 15 kg)"},
		{"3", "15", "hypotension", "10 mL/kg (150 mL at 15 kg)"},
		{"3", "33", "hypotension", "10 mL/kg (33 kg? 330 mL)"},
		{"3", "", "hypotension", "10 mL/kg to a child"},
		{"28", "62", "hypotension", "10 mL/kg to a child"},
		{"28", "62", "arrest-newborn", "10 mL/kg of saline"},
		{"14", "50", "arrest-child", "4 J/kg, and"},
	} {
		c := openAt(t, t.TempDir(), newClock())
		id := openCaseOf(t, c, x.age, x.weight)
		v, err := c.CardOf(t.Context(), id, x.card)
		if err != nil {
			t.Fatal(err)
		}
		found := false
		for _, s := range v.Steps {
			if strings.Contains(s.Text, x.want) {
				found = true
			}
		}
		if !found {
			t.Errorf("%s years, %q kg, %s: no step has %q: %+v", x.age, x.weight, x.card, x.want, v.Steps)
		}
	}
}

// TestStepsForWhoCanBeWithChild: a step for a woman with child stands until
// somebody said that she is none, and never for whom nobody would ask: a man, a
// child, an old woman.
func TestStepsForWhoCanBeWithChild(t *testing.T) {
	for _, x := range []struct {
		sex, age, pregnant string
		want               bool
	}{
		{"female", "28", "", true}, {"female", "28", "no", false}, {"female", "28", "yes", true},
		{"female", "3", "", false}, {"female", "80", "", false}, {"male", "28", "", false}, {"male", "3", "", false}, {"female", "8", "yes", true},
	} {
		c := openAt(t, t.TempDir(), newClock())
		id := openCase(t, c, "Invented Person")
		submit(t, c, id, "facts", "sex", x.sex, "age", x.age, "age_unit", "a")
		if x.pregnant != "" {
			submit(t, c, id, "facts", "pregnant", x.pregnant)
		}
		v, err := c.CardOf(t.Context(), id, "hypotension")
		if err != nil {
			t.Fatal(err)
		}
		if got := slices.ContainsFunc(v.Steps, func(s core.CardStep) bool { return s.Code == "womb" }); got != x.want {
			t.Errorf("%s, %s years, with child %q: the womb is a step: %v", x.sex, x.age, x.pregnant, got)
		}
	}
}
