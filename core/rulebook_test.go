package core_test

import (
	"reflect"
	"slices"
	"strings"
	"testing"

	"chinlift/core"
	"chinlift/core/formulary"
	"chinlift/core/timeline"
)

// A made-up drug whose file has every key there is, each with a value that
// occurs once.
const everyKey = `
class = "local-anaesthetic"
atc = "N01BB99"

[source.first]
author = "First Author"
title = "First Title"
year = 1901
table = "table 71"
via = "a second hand"
mark = "read"

[source.second]
author = "Second Author"
title = "Second Title"
mark = "memory"

[[presentation]]
code = "solution"
routes = ["infiltration", "perineural"]
strength = "11 mg/mL"
volume = "13 mL"
label = "1.1 %"
source = "first"

[[presentation]]
code = "powder"
strength = "17 mg/mL"
powder = "34 mg"
dissolve = "2 mL"
undiluted = true
source = "first"

[[presentation]]
code = "tablets"
routes = ["oral"]
piece = "19 mg"
form = "tablet"
part = "0.25"
source = "first"

[[dilution]]
from = "solution"
to = "2.2 mg/mL"
with = "sodium-chloride"
total = "50 mL"
source = "first"

[equivalent]
group = "local-anaesthetic"

[[use]]
code = "block"
purpose = "block"
routes = ["infiltration", "perineural"]
presentations = ["solution"]
at = "11 mg/mL"
given = "bolus"
titrate = true
before = ["21 min", "22 min"]
onset = ["23 min", "24 min"]
lasts = ["25 min", "26 min"]
interval = "27 min"
over = ["28 min", "29 min"]
source = "first"

  [[use.dose]]
  age = ["0 d", "7 a"]
  mass = ["3 kg", "30 kg"]
  low = "0.31 mg/kg"
  high = "0.37 mg/kg"
  usual = "0.34 mg/kg"
  least = "0.8 mg"
  most = "41 mg"
  most_per_kg = "0.43 mg/kg"
  at = "2.2 mg/mL"
  source_of = { high = "second" }

  [[use.dose]]
  age = ["7 a", "121 a"]
  sex = "female"
  weight = "ideal"
  low = "0.51 mg/kg"
  high = "0.53 mg/kg"
  most = "59 mg"

  [[use.dose]]
  age = ["7 a", "121 a"]
  sex = "male"
  weight = "actual"
  low = "0.51 mg/kg"
  high = "0.53 mg/kg"
  most = "59 mg"

  [[use.total]]
  most = "61 mg"
  window = "67 min"
  age = ["0 d", "8 a"]
  uses = ["block-again"]
  unless = ["ventilated"]

[[use]]
code = "block-again"
purpose = "block"
routes = ["infiltration"]
fraction_of = "block"
rescue = true
given = "bolus"
source = "first"

  [[use.dose]]
  low = "3 mg"
  high = "4 mg"
  most = "4 mg"

[[reduce]]
code = "over-65"
uses = ["block"]
factor = "0.61"
age = ["65 a", "121 a"]
source = "first"

[[reduce]]
code = "with-sedative"
factor = "0.62"
with = ["frail"]
drugs = ["diazepam"]
classes = ["opioid"]
within = "73 min"
source = "first"

[[alert]]
code = "made-up-one"
level = "stop"
uses = ["block"]
routes = ["perineural"]
sex = "female"
hazards = ["diathermy"]
not_pregnant = true
planned = true
agents = ["ether"]
source = "first"

[[alert]]
code = "made-up-two"
level = "caution"
without = ["ventilated"]
source = "first"

[[alert]]
code = "made-up-three"
level = "caution"
without_classes = ["anticholinergic"]
source = "first"

[[alert]]
code = "made-up-four"
level = "caution"
always = true
source = "first"
`

// What goes otherwise than by drawing up, and counts in morphine.
const otherKeys = `
class = "opioid"

[source.first]
title = "Practice Title"
mark = "practice"

[[presentation]]
code = "solution"
strength = "11 mg/mL"
source = "first"

[equivalent]
group = "opioid"
each = "79 mg"
is = "83 mg"
source = "first"

[[use]]
code = "infusion"
purpose = "analgesia"
routes = ["iv"]
given = "infusion"
source = "first"

  [[use.dose]]
  low = "3 mg/h"
  high = "4 mg/h"
  most = "4 mg/h"
`

// The book shows everything that the hash of a rule covers: whoever signs has
// seen what the signature stands for. A key that the rules learn and the book
// does not fails here.
func TestRuleBookShowsAll(t *testing.T) {
	c := openAt(t, t.TempDir(), newClock())
	text := map[string]string{}
	for name, file := range map[string]string{"madeup": everyKey, "other": otherKeys} {
		if _, err := c.LayDrugFile(t.Context(), core.NewID(), name, []byte(file), timeline.Moment{}); err != nil {
			t.Fatal(err)
		}
		d, err := c.RuleDrug(t.Context(), name)
		if err != nil {
			t.Fatal(err)
		}
		lines := slices.Concat(d.Presentations, d.Reductions, d.Alerts)
		all := []string{d.Words, d.ClassWords, d.ATC}
		for _, u := range d.Uses {
			all = append(all, u.Words, u.Routes)
			if u.Rescue {
				all = append(all, "rescue")
			}
			lines = append(lines, u.Lines...)
		}
		for _, l := range lines {
			all = append(all, l.Text+" ("+l.Source+")")
		}
		text[name] = strings.Join(all, "\n")
	}
	madeup, other := "madeup", "other"
	show := map[string]map[string][]string{ // of which field: in which drug, and what
		"Drug.Code": {madeup: {"Madeup"}}, "Drug.Class": {madeup: {"local anaesthetic"}}, "Drug.ATC": {madeup: {"N01BB99"}},
		"Drug.Sources": {madeup: {"First Author", "Second Author"}}, "Drug.Presentations": {madeup: {"11 mg/mL"}}, "Drug.Dilutions": {madeup: {"dilution of 11 mg/mL"}},
		"Drug.Equivalent": {madeup: {"counts among the local anaesthetics, as a fraction"}, other: {"of morphine"}}, "Drug.Uses": {madeup: {"again"}},
		"Drug.Reduces": {madeup: {"times 0.61"}}, "Drug.Alerts": {madeup: {"Made up one"}},
		"Source.Author": {madeup: {"First Author"}}, "Source.Title": {madeup: {"First Title"}}, "Source.Year": {madeup: {"1901"}},
		"Source.Table": {madeup: {"table 71"}}, "Source.Via": {madeup: {"a second hand"}}, "Source.Mark": {madeup: {"read"}, other: {"practice"}},
		"Presentation.Code": {madeup: {"11 mg/mL"}}, "Presentation.Routes": {madeup: {"infiltration", "by mouth"}}, "Presentation.Strength": {madeup: {"17 mg/mL"}},
		"Presentation.Volume": {madeup: {"13 mL"}}, "Presentation.Powder": {madeup: {"34 mg"}}, "Presentation.Dissolve": {madeup: {"2 mL"}},
		"Presentation.Label": {madeup: {"1.1 %"}}, "Presentation.Piece": {madeup: {"19 mg"}}, "Presentation.Form": {madeup: {"tablet"}},
		"Presentation.Part": {madeup: {"0.25 of one"}}, "Presentation.Undiluted": {madeup: {"never diluted"}},
		"DilutionRule.From": {madeup: {"of 11 mg/mL"}}, "DilutionRule.To": {madeup: {"to 2.2 mg/mL"}}, "DilutionRule.With": {madeup: {"sodium chloride"}}, "DilutionRule.Total": {madeup: {"50 mL in all"}},
		"Equivalent.Group": {madeup: {"local anaesthetics"}, other: {"morphine"}}, "Equivalent.Each": {other: {"79 mg"}}, "Equivalent.Is": {other: {"83 mg"}},
		"Use.Code": {madeup: {"(again)"}}, "Use.Purpose": {madeup: {"block"}}, "Use.Routes": {madeup: {"infiltration"}},
		"Use.Presentations": {madeup: {"only from 11 mg/mL 13 mL"}}, "Use.At": {madeup: {"not stronger than 11 mg/mL"}}, "Use.FractionOf": {madeup: {"fraction of the maximum for"}},
		"Use.Rescue": {madeup: {"rescue"}}, "Use.Given": {other: {"infusion"}}, "Use.Titrate": {madeup: {"in steps to effect"}},
		"Use.Before": {madeup: {"21", "22"}}, "Use.Onset": {madeup: {"23", "24"}}, "Use.Lasts": {madeup: {"25", "26"}}, "Use.Interval": {madeup: {"27 min"}}, "Use.Over": {madeup: {"28", "29"}},
		"Use.Doses": {madeup: {"0.31"}}, "Use.Totals": {madeup: {"61 mg"}},
		"Dose.Age": {madeup: {"under 7"}}, "Dose.Mass": {madeup: {"3 kg", "30 kg"}}, "Dose.Sex": {madeup: {"female", "male"}},
		"Dose.Weight": {madeup: {"by the weight itself", "a fifth over the ideal", "by the ideal weight"}},
		"Dose.Low":    {madeup: {"0.31"}}, "Dose.High": {madeup: {"0.37"}}, "Dose.Usual": {madeup: {"0.34"}}, "Dose.Least": {madeup: {"0.8 mg"}},
		"Dose.Most": {madeup: {"41 mg"}}, "Dose.MostPerKg": {madeup: {"0.43 mg/kg"}}, "Dose.At": {madeup: {"not stronger than 2.2 mg/mL"}},
		"Total.Most": {madeup: {"61 mg"}}, "Total.Window": {madeup: {"67 min"}}, "Total.Age": {madeup: {"under 8"}},
		"Total.Uses": {madeup: {", for local or nerve block (again)"}}, "Total.Unless": {madeup: {"unless can be ventilated"}},
		"Facts.Age": {madeup: {"65"}}, "Facts.With": {madeup: {"frail"}}, "Facts.Drugs": {madeup: {"diazepam"}}, "Facts.Classes": {madeup: {"opioid"}},
		"Facts.Within": {madeup: {"73 min"}}, "Facts.Agents": {madeup: {"ether"}},
		"Reduce.Code": {madeup: {"Over 65"}}, "Reduce.Uses": {madeup: {"for local or nerve block"}}, "Reduce.Factor": {madeup: {"0.62"}},
		"Alert.Code": {madeup: {"Made up four"}}, "Alert.Level": {madeup: {"Stop", "Caution"}}, "Alert.Uses": {madeup: {"for local or nerve block"}}, "Alert.Routes": {madeup: {"; around a nerve"}},
		"Alert.Sex": {madeup: {"; female"}}, "Alert.Hazards": {madeup: {"diathermy"}}, "Alert.Without": {madeup: {"without can be ventilated"}},
		"Alert.WithoutClasses": {madeup: {"without anticholinergic"}}, "Alert.NotPregnant": {madeup: {"no pregnancy"}}, "Alert.Planned": {madeup: {"only for a dose that is meant"}}, "Alert.Always": {madeup: {"always"}},
	}
	seen := map[string]bool{}
	for _, x := range []any{
		formulary.Drug{}, formulary.Source{}, formulary.Presentation{}, formulary.DilutionRule{}, formulary.Equivalent{}, formulary.Use{},
		formulary.Dose{}, formulary.Total{}, formulary.Facts{}, formulary.Reduce{}, formulary.Alert{},
	} {
		of := reflect.TypeOf(x)
		for f := range of.Fields() {
			if !f.IsExported() || f.Anonymous || f.Tag.Get("json") == "-" {
				continue
			}
			name := of.Name() + "." + f.Name
			seen[name] = true
			if len(show[name]) == 0 {
				t.Errorf("nothing in the book is said to show %s", name)
			}
			for drug, wants := range show[name] {
				for _, want := range wants {
					if !strings.Contains(strings.ToLower(text[drug]), strings.ToLower(want)) {
						t.Errorf("%s: the book does not show %q", name, want)
					}
				}
			}
		}
	}
	for name := range show {
		if !seen[name] {
			t.Errorf("no rule has %s", name)
		}
	}
	if t.Failed() {
		t.Logf("\n%s\n\n%s", text[madeup], text[other])
	}
}

// The book begins with what the engine adds to every rule, in words, with the
// numbers and where they come from.
func TestRuleBookEngine(t *testing.T) {
	b, err := openAt(t, t.TempDir(), newClock()).RuleBook(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	guards := formulary.Guards()
	if len(b.Engine) != len(guards) {
		t.Fatalf("%d lines for %d guards", len(b.Engine), len(guards))
	}
	var all strings.Builder
	for i, l := range b.Engine {
		if l.Source == "" || l.Mark == "" || strings.ContainsAny(l.Text, "{}[]") || !slices.Contains(formulary.GuardCodes, guards[i].Code) {
			t.Errorf("%+v", l)
		}
		all.WriteString(l.Text + "\n")
	}
	for _, want := range []string{"0.4 mg/kg in 4 h", "at least 0.2 of a dose", "1.2 times the ideal weight", "syringe of 5 mL is read to 0.2 mL", "Under 0.1 mL", "add up to 1 at most"} {
		if !strings.Contains(all.String(), want) {
			t.Errorf("what the engine adds lacks %q:\n%s", want, all.String())
		}
	}
}
