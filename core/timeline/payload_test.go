package timeline

import (
	"encoding/json"
	"errors"
	"fmt"
	"strings"
	"testing"

	"chinlift/core/quantity"
	"chinlift/core/term"
)

// TestNumbersAreTexts reads the stored form of every sample: a number in JSON
// is a whole one, a count or a score; everything with a unit is a text.
func TestNumbersAreTexts(t *testing.T) {
	for _, p := range examples() {
		data, err := marshal(p)
		if err != nil {
			t.Fatal(err)
		}
		d := json.NewDecoder(strings.NewReader(string(data)))
		d.UseNumber()
		for {
			tok, err := d.Token()
			if err != nil {
				break
			}
			if n, ok := tok.(json.Number); ok && strings.ContainsAny(n.String(), ".eE") {
				t.Errorf("%s holds the number %s: %s", p.Kind(), n, data)
			}
		}
	}
}

func measures(change func(*Measures)) *Vitals {
	v := &Vitals{}
	change(&v.Measures)
	return v
}

func TestCheck(t *testing.T) {
	const notID = "019C0000-0000-7000-8000-000000000001" // upper case
	tests := []struct {
		p           Payload
		field, code string // empty: good
	}{
		// Vitals and baseline: bounds are included, one step beyond is not.
		{measures(func(m *Measures) { m.Systolic = amount("0 mm[Hg]") }), "", ""},
		{measures(func(m *Measures) { m.Systolic = amount("350 mm[Hg]") }), "", ""},
		{measures(func(m *Measures) { m.Systolic = amount("351 mm[Hg]") }), "systolic", "out-of-bounds"},
		{measures(func(m *Measures) { m.Systolic = amount("16 kPa") }), "", ""},
		{measures(func(m *Measures) { m.Systolic = amount("120 /min") }), "systolic", "wrong-unit"},
		{measures(func(m *Measures) { m.Diastolic = amount("251 mm[Hg]") }), "diastolic", "out-of-bounds"},
		{measures(func(m *Measures) { m.Systolic, m.Diastolic = amount("80 mm[Hg]"), amount("80 mm[Hg]") }), "", ""},
		{measures(func(m *Measures) { m.Systolic, m.Diastolic = amount("80 mm[Hg]"), amount("120 mm[Hg]") }), "diastolic", "contradiction"},
		{measures(func(m *Measures) { m.Systolic, m.Diastolic = amount("10 kPa"), amount("80 mm[Hg]") }), "diastolic", "contradiction"},
		{measures(func(m *Measures) { m.Systolic, m.Diastolic = amount("80 kg"), amount("120 mm[Hg]") }), "systolic", "wrong-unit"},
		{measures(func(m *Measures) { m.Pulse = amount("351 /min") }), "pulse", "out-of-bounds"},
		{measures(func(m *Measures) { m.Pulse = amount("-1 /min") }), "pulse", "out-of-bounds"},
		{measures(func(m *Measures) { m.Pulse = amount("70 %") }), "pulse", "wrong-unit"},
		{measures(func(m *Measures) { m.Rhythm = "jazz" }), "rhythm", "not-in-list"},
		{measures(func(m *Measures) { m.SpO2 = amount("100 %") }), "", ""},
		{measures(func(m *Measures) { m.SpO2 = amount("101 %") }), "spo2", "out-of-bounds"},
		{measures(func(m *Measures) { m.Breaths = amount("151 /min") }), "breaths", "out-of-bounds"},
		{measures(func(m *Measures) { m.EtCO2 = amount("200 mm[Hg]") }), "", ""},
		{measures(func(m *Measures) { m.EtCO2 = amount("5 %") }), "", ""},
		{measures(func(m *Measures) { m.EtCO2 = amount("38 %") }), "etco2", "out-of-bounds"},
		{measures(func(m *Measures) { m.EtCO2 = amount("38 mg") }), "etco2", "wrong-unit"},
		{measures(func(m *Measures) { m.Temperature = amount("98.6 [degF]") }), "", ""},
		{measures(func(m *Measures) { m.Temperature = amount("98.6 Cel") }), "temperature", "out-of-bounds"},
		{measures(func(m *Measures) { m.Temperature = amount("9 Cel") }), "temperature", "out-of-bounds"},
		{measures(func(m *Measures) { m.Glucose = amount("90 mg/dL") }), "", ""},
		{measures(func(m *Measures) { m.Glucose = amount("101 mmol/L") }), "glucose", "out-of-bounds"},
		{measures(func(m *Measures) { m.Glucose = amount("5 mmol") }), "glucose", "wrong-unit"},
		{&Vitals{}, "values", "missing"},
		{&Vitals{LookedSame: true}, "values", "missing"},
		{&Vitals{Measures: Measures{Pulse: amount("80 /min")}, LookedSame: true, Same: []string{"pulse"}}, "", ""},
		{&Vitals{Measures: Measures{Pulse: amount("80 /min")}, LookedSame: true, Same: []string{"spo2"}}, "same", "contradiction"},
		{&Vitals{Measures: Measures{Pulse: amount("80 /min")}, Same: []string{"pulse"}}, "same", "contradiction"},
		{&Vitals{Measures: Measures{Pulse: amount("80 /min")}, LookedSame: true, Same: []string{"luck"}}, "same", "contradiction"},

		// Who watches.
		{&Confirmed{Use: "premedication", Rule: someHash}, "drug", "missing"},
		{&Confirmed{Drug: "morphine", Rule: someHash}, "use", "missing"},
		{&Confirmed{Drug: "morphine", Use: "premedication"}, "rule", "missing"},
		{&Confirmed{Drug: "morphine", Use: "premedication", Rule: someHash, Withdrawn: true}, "", ""},
		{&Stock{}, "what", "missing"},
		{&Stock{What: term.StockWhatDrug, Act: term.StockActCounted, Item: "ketamine"}, "count", "missing"},
		{&Stock{What: term.StockWhatAgent, Act: term.StockActCounted, Item: "ether", Volume: amount("100 mL"), FilledBy: term.FilledByAnother, Smelt: No}, "", ""},
		{&Stock{What: term.StockWhatAgent, Act: term.StockActCounted, Item: "ether", Volume: amount("100 mL"), FilledBy: "nobody"}, "filled_by", "not-in-list"},
		{&Stock{What: term.StockWhatAgent, Act: term.StockActCounted, Item: "ether", Volume: amount("100 mL"), Smelt: "perhaps"}, "smelt", "not-in-list"},
		{&Stock{What: term.StockWhatDrug, Act: term.StockActCounted, Item: "ketamine", Count: amount("3 1"), FilledBy: term.FilledBySelf}, "filled_by", "contradiction"},
		{&Stock{What: term.StockWhatDisposable, Act: term.StockActCounted, Item: "gauze", Count: amount("3 1"), Smelt: Yes}, "smelt", "contradiction"},
		{&Stock{What: term.StockWhatDrug, Act: term.StockActCounted, Item: "ketamine", Count: amount("0 1")}, "", ""},
		{&Stock{What: term.StockWhatDrug, Act: term.StockActGone, Item: "ketamine", Count: amount("-1 1")}, "count", "out-of-bounds"},
		{&Stock{What: term.StockWhatDrug, Act: term.StockActCounted, Item: "ketamine", Count: amount("3 1"), Batch: "of Mr X"}, "batch", "not-plain"},
		{&Stock{What: term.StockWhatDrug, Act: term.StockActCounted, Item: "ketamine", Count: amount("3 1"), Expires: "soon"}, "expires", "not-a-day"},
		{&Stock{What: term.StockWhatDrug, Act: term.StockActCounted, Item: "ketamine", Count: amount("3 1"), Expires: "2027-02"}, "", ""},
		{&Stock{What: term.StockWhatAgent, Act: term.StockActCounted, Item: "ether", Volume: amount("100 mL"), Opened: "2026-11"}, "opened", "not-a-day"},
		{&Stock{What: term.StockWhatAgent, Act: term.StockActCounted, Item: "laughter", Volume: amount("100 mL")}, "item", "not-in-list"},
		{&Stock{What: term.StockWhatAgent, Act: term.StockActCounted, Item: "ether"}, "volume", "missing"},
		{&Stock{What: term.StockWhatAgent, Act: term.StockActGone, Item: "ether"}, "", ""},
		{&Stock{What: term.StockWhatCylinder, Act: term.StockActCounted, Item: "uk-e"}, "gauge", "missing"},
		{&Stock{What: term.StockWhatCylinder, Act: term.StockActCounted, Item: "other", Gauge: amount("100 bar")}, "water", "missing"},
		{&Stock{What: term.StockWhatCylinder, Act: term.StockActCounted, Item: "uk-e", Gauge: amount("1500 [psi]")}, "", ""},
		{&Stock{What: term.StockWhatCylinder, Act: term.StockActCounted, Item: "uk-e", Gauge: amount("400 bar")}, "gauge", "out-of-bounds"},
		{&Stock{What: term.StockWhatConcentrator, Act: term.StockActCounted, Item: "concentrator"}, "rated", "missing"},
		{&ClinicSetting{Setting: term.SettingBarometer}, "value", "missing"},
		{&ClinicSetting{Setting: term.SettingBarometer, Value: amount("1013 hPa")}, "", ""},
		{&ClinicSetting{Setting: term.SettingBarometer, Value: amount("101 bar")}, "value", "out-of-bounds"},
		{&Watch{}, "watcher", "missing"},
		{&Watch{Watcher: "cat"}, "watcher", "not-in-list"},
		{&Watch{Watcher: term.WatcherNobody}, "", ""},
		{&ClinicSetting{Setting: term.SettingDueSound, Text: "maybe"}, "text", "not-in-list"},
		{&ClinicSetting{Setting: term.SettingDueBuzz, Text: No}, "", ""},
		{&Baseline{}, "values", "missing"},
		{&Baseline{Measures{Pulse: amount("400 /min")}}, "pulse", "out-of-bounds"},

		// Facts.
		{&Facts{}, "", ""},
		{&Facts{With: []term.Condition{"gout"}}, "with", "not-in-list"},
		{&Facts{Without: []term.Condition{term.ConditionFrail, term.ConditionFrail}}, "without", "contradiction"},
		{&Facts{With: []term.Condition{term.ConditionFrail}, Without: []term.Condition{term.ConditionFrail}}, "without", "contradiction"},
		{&Facts{Age: amount("3 d")}, "", ""},
		{&Facts{Age: amount("120 a")}, "", ""},
		{&Facts{Age: amount("121 a")}, "age", "out-of-bounds"},
		{&Facts{Age: amount("4 kg")}, "age", "wrong-unit"},
		{&Facts{SameAs: caseB}, "", ""},
		{&Facts{SameAs: "another"}, "same_as", "not-an-id"},
		{&Facts{WeightChecked: amount("52 kg")}, "", ""},
		{&Facts{WeightChecked: amount("500 kg")}, "weight_checked", "out-of-bounds"},
		{&Facts{Sex: "f"}, "sex", "not-in-list"},
		{&Facts{Weight: amount("15 kg")}, "weight_how", "missing"},
		{&Facts{Weight: amount("15 kg"), WeightHow: term.WeightHowGuessed}, "weight_by", "missing"},
		{&Facts{Weight: amount("15 kg"), WeightBy: term.WeightByEye}, "weight_how", "missing"},
		{&Facts{Weight: amount("15 kg"), WeightHow: term.WeightHowGuessed, WeightBy: term.WeightByEye}, "", ""},
		{&Facts{Weight: amount("15 kg"), WeightHow: term.WeightHowGuessed, WeightBy: term.WeightByScale}, "weight_by", "contradiction"},
		{&Facts{Weight: amount("15 kg"), WeightHow: term.WeightHowMeasured, WeightBy: term.WeightByEye}, "weight_by", "contradiction"},
		{&Facts{WeightHow: term.WeightHowGuessed, WeightBy: term.WeightByEye}, "weight", "missing"},
		{&Facts{WeightBy: term.WeightByEye}, "weight", "missing"},
		{&Facts{Weight: amount("0 kg"), WeightHow: term.WeightHowGuessed, WeightBy: term.WeightByEye}, "weight", "out-of-bounds"},
		{&Facts{Weight: amount("401 kg"), WeightHow: term.WeightHowGuessed, WeightBy: term.WeightByEye}, "weight", "out-of-bounds"},
		{&Facts{Weight: amount("15 mL"), WeightHow: term.WeightHowGuessed, WeightBy: term.WeightByEye}, "weight", "wrong-unit"},
		{&Facts{Length: amount("1.7 cm")}, "length", "out-of-bounds"},
		{&Facts{Length: amount("170 kg")}, "length", "wrong-unit"},
		{&Facts{ASA: term.ASA6}, "", ""},
		{&Facts{ASA: term.ASA5, Emergency: true}, "", ""},
		{&Facts{ASA: term.ASA6, Emergency: true}, "emergency", "contradiction"},
		{&Facts{Emergency: true}, "asa", "missing"},
		{&Facts{ASA: "2E"}, "asa", "not-in-list"},
		{&Facts{Mallampati: "5"}, "mallampati", "not-in-list"},
		{&Facts{Mouth: "wide"}, "mouth", "not-in-list"},
		{&Facts{Neck: "long"}, "neck", "not-in-list"},
		{&Facts{Teeth: "gold"}, "teeth", "not-in-list"},
		{&Facts{Allergies: []term.Allergy{term.AllergyNoneKnown}}, "", ""},
		{&Facts{Allergies: []term.Allergy{term.AllergyNoneKnown, term.AllergyLatex}}, "allergies", "contradiction"},
		{&Facts{Allergies: []term.Allergy{term.AllergyLatex, term.AllergyLatex}}, "allergies", "contradiction"},
		{&Facts{Allergies: []term.Allergy{""}}, "allergies", "missing"},
		{&Facts{Allergies: make([]term.Allergy, 21)}, "allergies", "too-many"},
		{&Facts{Side: "up"}, "side", "not-in-list"},
		{&Facts{SideMarked: "true"}, "side_marked", "not-in-list"},
		{&Facts{Consent: "nobody"}, "consent", "not-in-list"},
		{&Facts{Haemoglobin: amount("95 g/L")}, "", ""},
		{&Facts{Haemoglobin: amount("95 g/dL")}, "haemoglobin", "out-of-bounds"},
		{&Facts{Pregnant: "perhaps"}, "pregnant", "not-in-list"},

		// Agent: what, and how much.
		{&AgentDelivery{}, "agent", "missing"},
		{&AgentDelivery{Agent: term.AgentEther}, "agent", "missing"},
		{&AgentDelivery{Agent: term.AgentEther, Cover: term.CoverOn}, "agent", "missing"},
		{&AgentDelivery{Agent: term.AgentEther, Wetness: term.WetnessDamp}, "", ""},
		{&AgentDelivery{Agent: term.AgentEther, Bottle: amount("100 mL")}, "", ""},
		{&AgentDelivery{Agent: term.AgentEther, Drops: amount("0 {drop}/min")}, "", ""},
		{&AgentDelivery{Drops: amount("40 {drop}/min")}, "agent", "missing"},
		{&AgentDelivery{Off: true}, "agent", "missing"},
		{&AgentDelivery{Bottle: amount("100 mL")}, "agent", "missing"},
		{&AgentDelivery{Oxygen: amount("0 L/min")}, "", ""},
		{&AgentDelivery{Cover: term.CoverOff}, "", ""},
		{&AgentDelivery{Agent: term.AgentEther, Off: true, Drops: amount("40 {drop}/min")}, "off", "contradiction"},
		{&AgentDelivery{Agent: term.AgentEther, Drops: amount("40 {drop}/min"), Percent: amount("5 %"), Wetness: term.WetnessWet}, "off", "contradiction"},
		{&AgentDelivery{Agent: "laughter", Off: true}, "agent", "not-in-list"},
		{&AgentDelivery{Agent: term.AgentEther, Drops: amount("40 /min")}, "drops", "wrong-unit"},
		{&AgentDelivery{Agent: term.AgentEther, Drops: amount("1001 {drop}/min")}, "drops", "out-of-bounds"},
		{&AgentDelivery{Agent: term.AgentEther, Percent: amount("101 %")}, "percent", "out-of-bounds"},
		{&AgentDelivery{Agent: term.AgentEther, Wetness: "sodden"}, "wetness", "not-in-list"},
		{&AgentDelivery{Agent: term.AgentEther, Bottle: amount("100 mg")}, "bottle", "wrong-unit"},
		{&AgentDelivery{Oxygen: amount("101 L/min")}, "oxygen", "out-of-bounds"},
		{&AgentDelivery{Cover: "half"}, "cover", "not-in-list"},

		// Drug.
		{&Drug{Drug: "atropine", Dose: amount("600 ug"), Route: term.RouteIm}, "", ""},
		{&Drug{Drug: "oxytocin", Dose: amount("5 [IU]"), Route: term.RouteIm}, "", ""},
		{&Drug{Drug: "lidocaine", Dose: amount("20 mL"), Strength: amount("1 %"), Route: term.RouteInfiltration}, "", ""},
		{&Drug{Dose: amount("1 mg"), Route: term.RouteIv}, "drug", "missing"},
		{&Drug{Drug: "Atropine", Dose: amount("1 mg"), Route: term.RouteIv}, "drug", "not-in-list"},
		{&Drug{Drug: strings.Repeat("a", 61), Dose: amount("1 mg"), Route: term.RouteIv}, "drug", "not-in-list"},
		{&Drug{Drug: "atropine", Route: term.RouteIv}, "dose", "missing"},
		{&Drug{Drug: "atropine", Dose: amount("0 mg"), Route: term.RouteIv}, "dose", "out-of-bounds"},
		{&Drug{Drug: "atropine", Dose: amount("101 g"), Route: term.RouteIv}, "dose", "out-of-bounds"},
		{&Drug{Drug: "atropine", Dose: amount("1 min"), Route: term.RouteIv}, "dose", "wrong-unit"},
		{&Drug{Drug: "atropine", Dose: amount("1 mg")}, "route", "missing"},
		{&Drug{Drug: "atropine", Dose: amount("1 mg"), Route: "ear"}, "route", "not-in-list"},
		{&Drug{Drug: "atropine", Dose: amount("1 mg"), Route: term.RouteIv, Strength: amount("101 %")}, "strength", "out-of-bounds"},
		{&Drug{Drug: "atropine", Dose: amount("1 mg"), Route: term.RouteIv, Strength: amount("1 mg")}, "strength", "wrong-unit"},
		{&Drug{Drug: "atropine", Dose: amount("1 mg"), Route: term.RouteIv, Volume: amount("0 mL")}, "volume", "out-of-bounds"},
		{&Drug{Drug: "atropine", Dose: amount("1 mg"), Route: term.RouteIv, Batch: strings.Repeat("b", 25)}, "batch", "too-long"},
		{&Drug{Drug: "atropine", Dose: amount("1 mg"), Route: term.RouteIv, Batch: "of Mrs B"}, "batch", "not-plain"},
		{&Drug{Drug: "atropine", Dose: amount("1 mg"), Route: term.RouteIv, Batch: "Kä17"}, "batch", "not-plain"},
		{&Drug{Drug: "atropine", Dose: amount("1 mg"), Route: term.RouteIv, Frozen: &Suggested{}}, "suggested", "missing"},
		{&Drug{Drug: "atropine", Dose: amount("1 mg"), Route: term.RouteIv, Frozen: &Suggested{Rule: someHash, Use: "a b"}}, "suggested", "not-in-list"},

		// Infusion.
		{&Infusion{Act: term.InfusionActStarted, Drug: "ketamine", Rate: amount("10 ug/kg/min"), Route: term.RouteIv}, "", ""},
		{&Infusion{Act: term.InfusionActChanged, Run: number(anEvent, 1), Drug: "ketamine", Rate: amount("5 mL/h")}, "", ""},
		{&Infusion{Drug: "ketamine", Run: number(anEvent, 1), Rate: amount("5 mL/h")}, "act", "missing"},
		{&Infusion{Act: term.InfusionActStarted, Run: number(anEvent, 1), Drug: "ketamine", Rate: amount("5 mL/h"), Route: term.RouteIv}, "run", "contradiction"},
		{&Infusion{Act: term.InfusionActChanged, Drug: "ketamine", Rate: amount("5 mL/h")}, "run", "missing"},
		{&Infusion{Act: term.InfusionActChanged, Run: notID, Drug: "ketamine", Rate: amount("5 mL/h")}, "run", "not-an-id"},
		{&Infusion{Act: term.InfusionActChanged, Run: number(anEvent, 1), Drug: "ketamine"}, "rate", "missing"},
		{&Infusion{Act: term.InfusionActStopped, Run: number(anEvent, 1), Drug: "ketamine", Rate: amount("5 mL/h")}, "rate", "contradiction"},
		{&Infusion{Act: term.InfusionActStarted, Drug: "ketamine", Rate: amount("5 mL/h")}, "route", "missing"},
		{&Infusion{Act: term.InfusionActStarted, Drug: "ketamine", Rate: amount("501 {drop}/min"), Route: term.RouteIv}, "rate", "out-of-bounds"},
		{&Infusion{Act: term.InfusionActStarted, Drug: "ketamine", Rate: amount("5 mL"), Route: term.RouteIv}, "rate", "wrong-unit"},

		// Block and airway.
		{&Block{}, "block", "missing"},
		{&Block{Block: term.BlockKindSpinal, Site: "t1"}, "site", "not-in-list"},
		{&Block{Block: term.BlockKindSpinal, Attempts: 21}, "attempts", "out-of-bounds"},
		{&Block{Block: term.BlockKindSpinal, Attempts: -1}, "attempts", "out-of-bounds"},
		{&Block{Block: term.BlockKindSpinal, Height: "c1"}, "height", "not-in-list"},
		{&Block{Block: term.BlockKindSpinal, Motor: "4"}, "motor", "not-in-list"},
		{&Airway{Act: term.AirwayActIn}, "device", "missing"},
		{&Airway{Device: term.AirwayDeviceFaceMask}, "act", "missing"},
		{&Airway{Device: term.AirwayDeviceTrachealTube, Act: term.AirwayActIn, Size: quantity.DecimalFromInt(50)}, "", ""},
		{&Airway{Device: term.AirwayDeviceTrachealTube, Act: term.AirwayActIn, Size: quantity.DecimalFromInt(51)}, "size", "out-of-bounds"},
		{&Airway{Device: term.AirwayDeviceTrachealTube, Act: term.AirwayActIn, Size: quantity.DecimalFromInt(-1)}, "size", "out-of-bounds"},
		{&Airway{Device: term.AirwayDeviceTrachealTube, Act: term.AirwayActIn, Route: "ear"}, "route", "not-in-list"},
		{&Airway{Device: term.AirwayDeviceTrachealTube, Act: term.AirwayActIn, Needed: []term.AirwayNeed{"luck"}}, "needed", "not-in-list"},
		{&Airway{Device: term.AirwayDeviceTrachealTube, Act: term.AirwayActIn, Attempts: 21}, "attempts", "out-of-bounds"},
		{&Airway{Device: term.AirwayDeviceTrachealTube, Act: term.AirwayActIn, View: "2"}, "view", "not-in-list"},

		// In and out.
		{&In{Volume: amount("1 mL")}, "what", "missing"},
		{&In{What: term.FluidInDrink}, "volume", "missing"},
		{&In{What: term.FluidInDrink, Volume: amount("0.5 mL")}, "volume", "out-of-bounds"},
		{&In{What: term.FluidInDrink, Volume: amount("1 kg")}, "volume", "wrong-unit"},
		{&Out{What: term.FluidOutUrine, Volume: amount("0 mL"), How: term.MeasuredMeasured}, "", ""},
		{&Out{What: term.FluidOutUrine, Volume: amount("0 mL")}, "how", "missing"},
		{&Out{What: term.FluidOutUrine, How: term.MeasuredMeasured}, "volume", "missing"},
		{&Out{What: "tears", Volume: amount("1 mL"), How: term.MeasuredMeasured}, "what", "not-in-list"},
		{&Out{What: term.FluidOutUrine, Volume: amount("21 L"), How: term.MeasuredMeasured}, "volume", "out-of-bounds"},

		// Birth and waking.
		{&Birth{}, "newborn", "missing"},
		{&Birth{Newborn: notID}, "newborn", "not-an-id"},
		{&Birth{Newborn: number(anEvent, 1), Weight: amount("199 g")}, "weight", "out-of-bounds"},
		{&Birth{Newborn: number(anEvent, 1), Apgar1: intOf(11)}, "apgar_1", "out-of-bounds"},
		{&Birth{Newborn: number(anEvent, 1), Apgar5: intOf(-1)}, "apgar_5", "out-of-bounds"},
		{&Birth{Newborn: number(anEvent, 1), Cried: "loudly"}, "cried", "not-in-list"},
		{&Waking{}, "items", "missing"},
		{&Waking{Activity: intOf(0)}, "", ""},
		{&Waking{Pain: intOf(10)}, "", ""},
		{&Waking{Steady: No}, "", ""},
		{&Waking{Steady: "perhaps"}, "steady", "not-in-list"},
		{&Waking{Pain: intOf(11)}, "pain", "out-of-bounds"},
		{&Waking{Nausea: intOf(-1)}, "nausea", "out-of-bounds"},
		{&Waking{Met: []string{"awake"}, NotMet: []string{"airway"}}, "", ""},
		{&Waking{Met: []string{"awake"}, NotMet: []string{"awake"}}, "not_met", "contradiction"},
		{&Waking{Met: []string{"Awake!"}}, "met", "not-in-list"},
		{&Waking{Activity: intOf(3)}, "activity", "out-of-bounds"},
		{&Waking{Respiration: intOf(-1)}, "respiration", "out-of-bounds"},
		{&Waking{Circulation: intOf(3)}, "circulation", "out-of-bounds"},
		{&Waking{Consciousness: intOf(3)}, "consciousness", "out-of-bounds"},
		{&Waking{Oxygen: intOf(3)}, "oxygen", "out-of-bounds"},

		// Signs, and the kinds that are one code.
		{&Signs{}, "signs", "missing"},
		{&Signs{Lid: "slow"}, "lid", "not-in-list"},
		{&Signs{Colour: "green"}, "colour", "not-in-list"},
		{&Phase{}, "phase", "missing"},
		{&Phase{Phase: "lunch"}, "phase", "not-in-list"},
		{&Phase{Phase: term.PhaseHandedOver, Home: "soon"}, "home", "not-in-list"},
		{&Phase{Phase: term.PhaseClosing, Home: Yes}, "home", "contradiction"},
		{&Outcome{}, "outcome", "missing"},
		{&Intake{}, "what", "missing"},
		{&Support{}, "support", "missing"},
		{&Position{}, "position", "missing"},
		{&Step{}, "step", "missing"},
		{&Mark{}, "", ""},
		{&Mark{Label: "sneezed"}, "label", "not-in-list"},
		{&Unwatched{Monitor: term.MonitorEcg}, "because", "missing"},
		{&Unwatched{Because: term.BecauseBroken}, "monitor", "missing"},
		{&Trouble{Trouble: term.TroubleFire, Act: term.TroubleActBegun}, "", ""},
		{&Trouble{Trouble: term.TroubleFire}, "act", "missing"},
		{&Trouble{Act: term.TroubleActBegun}, "trouble", "missing"},
		{&Trouble{Trouble: term.TroubleFire, Act: term.TroubleActStep}, "step", "missing"},
		{&Trouble{Trouble: term.TroubleFire, Act: term.TroubleActHelper, Card: "Fire!"}, "card", "not-in-list"},
		{&Trouble{Trouble: term.TroubleFire, Act: term.TroubleActStep, Step: "out", Given: "x"}, "given", "not-an-id"},
		{&Trouble{Trouble: term.TroubleFire, Act: term.TroubleActOver, Given: patient}, "given", "contradiction"},
		{&Owed{For: term.OwedOverLimit}, "act", "missing"},
		{&Owed{Act: term.OwedActOwed}, "for", "missing"},
		{&Owed{Act: term.OwedActOwed, For: term.OwedOverLimit}, "", ""},
		{&Owed{Act: term.OwedActGiven, For: term.OwedOverLimit}, "debt", "missing"},
		{&Owed{Act: term.OwedActOwed, For: term.OwedOverLimit, Over: "x"}, "over", "not-an-id"},
		{&Moved{}, "from", "missing"},
		{&Moved{From: "there"}, "from", "not-an-id"},
		{&CaseOpened{}, "patient", "missing"},
		{&CaseOpened{Patient: number(anEvent, 1), Urgency: "soon"}, "urgency", "not-in-list"},

		// The clinic and the device.
		{&Person{Roles: []term.Role{"king"}}, "roles", "not-in-list"},
		{&Person{Mother: notID}, "mother", "not-an-id"},
		{&ClinicSetting{}, "setting", "missing"},
		{&ClinicSetting{Setting: term.SettingAltitude}, "value", "missing"},
		{&ClinicSetting{Setting: term.SettingAltitude, Value: amount("-400 m")}, "", ""},
		{&ClinicSetting{Setting: term.SettingAltitude, Value: amount("6001 m")}, "value", "out-of-bounds"},
		{&ClinicSetting{Setting: term.SettingDropsPerMl, Value: amount("4 1")}, "value", "out-of-bounds"},
		{&ClinicSetting{Setting: term.SettingVitalsEvery, Value: amount("5 m")}, "value", "wrong-unit"},
		{&ClinicSetting{Setting: term.SettingLateAfter, Value: amount("241 min")}, "value", "out-of-bounds"},
		{&ClinicSetting{Setting: term.SettingFastingSet}, "text", "missing"},
		{&ClinicSetting{Setting: term.SettingClinicName}, "", ""},
		{&ClinicSetting{Setting: term.SettingListFile, Blob: someHash}, "file", "missing"},
		{&ClinicSetting{Setting: term.SettingDrugFile, File: "a.toml"}, "blob", "missing"},
		{&ClinicSetting{Setting: term.SettingDrugFile, File: strings.Repeat("a", 101), Blob: someHash}, "file", "too-long"},
		{&KitItem{Version: string(someHash), Item: "gauze", State: term.KitStateGood}, "list", "missing"},
		{&KitItem{List: "open-drop", Version: string(someHash), State: term.KitStateGood}, "item", "missing"},
		{&KitItem{List: "open-drop", Version: "3", Item: "gauze", State: term.KitStateGood}, "version", "missing"},
		{&KitItem{List: "open-drop", Version: string(someHash), Item: "gauze"}, "state", "missing"},
		{&KitItem{List: "open-drop", Version: string(someHash), Item: "gauze", State: term.KitStateFault, Answer: "prayed"}, "answer", "not-in-list"},
		{&KitItem{List: "open-drop", Version: string(someHash), Item: "gauze", State: term.KitStateFault, Swept: true}, "swept", "contradiction"},
		{&IdentityDestroyed{Grounds: term.GroundsLaw}, "events", "missing"},
		{&IdentityDestroyed{Events: []string{"all"}, Grounds: term.GroundsLaw}, "events", "not-an-id"},
		{&IdentityDestroyed{Events: []string{number(anEvent, 1)}}, "grounds", "missing"},
		{&IdentityDestroyed{Events: []string{number(anEvent, 1)}, Grounds: term.GroundsLaw, Asked: "me"}, "asked_by", "not-in-list"},
		{&LogOpened{}, "cause", "missing"},
		{&LogOpened{Cause: term.LogCauseRestored}, "cites", "missing"},
		{&LogOpened{Cause: term.LogCauseRestored, Cites: number(aLog, 2)}, "cites_hash", "missing"},
		{&LogOpened{Cause: term.LogCauseRestored, Cites: number(aLog, 2), Head: someHash}, "cites_hash", "missing"},

		// Plan.
		{&Plan{}, "", ""},
		{&Plan{Techniques: []term.Technique{"prayer"}}, "techniques", "not-in-list"},
		{&Plan{Hazards: []term.Hazard{"candle"}}, "hazards", "not-in-list"},
		{&Plan{Drugs: []string{""}}, "drugs", "missing"},
		{&Plan{Steps: []term.Step{term.StepKnife, term.StepKnife}}, "steps", "contradiction"},
		{&Plan{LossAllowed: amount("10001 mL")}, "loss_allowed", "out-of-bounds"},

		{&Plan{StepTimes: []string{"knife 20 min", "closing-skin 1.5 h"}}, "", ""},
		{&Plan{StepTimes: []string{"prayer 20 min"}}, "step_times", "not-in-list"},
		{&Plan{StepTimes: []string{"knife"}}, "step_times", "not-readable"},
		{&Plan{StepTimes: []string{"knife soon"}}, "step_times", "not-readable"},
		{&Plan{StepTimes: []string{"knife 1440 min"}}, "", ""},
		{&Plan{StepTimes: []string{"knife 1441 min"}}, "step_times", "out-of-bounds"},
		{&Plan{StepTimes: []string{"knife -1 min"}}, "step_times", "out-of-bounds"},
		{&Plan{StepTimes: []string{"knife 20 mL"}}, "step_times", "wrong-unit"},
		{&Plan{StepTimes: []string{"knife 20 min", "knife 30 min"}}, "step_times", "contradiction"},
		{&Plan{Fluids: []term.FluidIn{"ale"}}, "fluids", "not-in-list"},
		{&Plan{Recovery: "a cousin"}, "recovery", "not-in-list"},
		{&Plan{OpioidsAfter: "perhaps"}, "opioids_after", "not-in-list"},
		{&Plan{Place: "garden"}, "place", "not-in-list"},

		// What the visit asks besides.
		{&Facts{Takes: []term.Takes{term.TakesNothing}}, "", ""},
		{&Facts{Takes: []term.Takes{term.TakesNothing, term.TakesSteroid}}, "takes", "contradiction"},
		{&Facts{Habits: []term.Habit{term.HabitAlcohol, term.HabitNone}}, "habits", "contradiction"},
		{&Facts{Urine: []term.Urine{term.UrineNothing, term.UrineBlood}}, "urine", "contradiction"},
		{&Facts{Thyromental: amount("1 cm")}, "", ""},
		{&Facts{Thyromental: amount("0.9 cm")}, "thyromental", "out-of-bounds"},
		{&Facts{Thyromental: amount("20.1 cm")}, "thyromental", "out-of-bounds"},
		{&Facts{Smoker: "sometimes"}, "smoker", "not-in-list"},
		{&Facts{MarkedBy: term.RoleSurgeon, SideMarked: No}, "marked_by", "contradiction"},
		{&Facts{Heart: "loud"}, "heart", "not-in-list"},
		{&Facts{NostrilLeft: "small"}, "nostril_left", "not-in-list"},

		// What was measured besides.
		{&Vitals{PressureBy: term.PressureByCuff}, "", ""},
		{&Vitals{Trace: "wavy"}, "ecg", "not-in-list"},
		{&Vitals{OxygenIn: amount("9 %")}, "fio2", "out-of-bounds"},
		{&Vitals{AgentOut: amount("101 %")}, "agent_out", "out-of-bounds"},
		{&Vitals{TrainOfFour: intOf(4)}, "", ""},
		{&Vitals{TrainOfFour: intOf(5)}, "train_of_four", "out-of-bounds"},
		{&Airway{Device: term.AirwayDeviceTrachealTube, Act: term.AirwayActIn, Cuff: "half"}, "cuff", "not-in-list"},
		{&Airway{Device: term.AirwayDeviceTrachealTube, Act: term.AirwayActIn, ConfirmedBy: []term.ConfirmedBy{"hope"}}, "confirmed_by", "not-in-list"},
		{&Support{Support: term.SupportControlled, Tidal: amount("2001 mL")}, "tidal", "out-of-bounds"},
		{&Support{Support: term.SupportControlled, Rate: amount("0 /min")}, "rate", "out-of-bounds"},
		{&Block{Block: term.BlockKindSpinal, Needle: "30g"}, "needle", "not-in-list"},
		{&Position{Position: term.PositionSupine, Limbs: []term.Limb{"wings"}}, "limbs", "not-in-list"},

		// The pauses, the people, and what lies on the patient.
		{&Pause{Version: string(someHash), Item: "surgeon", Answer: term.PauseAnswerYes}, "pause", "missing"},
		{&Pause{Pause: "before-knife", Version: string(someHash), Answer: term.PauseAnswerYes}, "item", "missing"},
		{&Pause{Pause: "before-knife", Item: "surgeon", Answer: term.PauseAnswerYes}, "version", "missing"},
		{&Pause{Pause: "before-knife", Version: string(someHash), Item: "surgeon", Answer: "maybe"}, "answer", "not-in-list"},
		{&Pause{Pause: "before-knife", Version: string(someHash), Item: "surgeon", Answer: term.PauseAnswerNo, Swept: true}, "swept", "contradiction"},
		{&Stomach{}, "by", "missing"},
		{&Stomach{By: term.SlowStomachObesity}, "by", "not-in-list"},
		{&Team{}, "role", "missing"},
		{&Team{Role: term.RolePatient}, "role", "not-in-list"},
		{&FollowUp{Question: "throat"}, "version", "missing"},
		{&FollowUp{Version: strings.Repeat("ab", 32)}, "question", "missing"},
		{&FollowUp{Version: strings.Repeat("ab", 32), Question: "throat", Answer: "hm"}, "answer", "not-in-list"},
		{&FollowUp{Version: strings.Repeat("ab", 32), Question: "throat", Score: intOf(11)}, "score", "out-of-bounds"},
		{&FollowUp{Version: strings.Repeat("ab", 32), Question: "throat", Answer: Yes, Score: intOf(1)}, "score", "contradiction"},
		{&FollowUp{Version: strings.Repeat("ab", 32), Question: "throat", Answer: Yes, Grade: term.Grade1}, "grade", "contradiction"},
		{&FollowUp{Version: strings.Repeat("ab", 32), Question: "first-after"}, "", ""},
		{&Handover{To: term.WatcherNobody}, "to", "not-in-list"},
		{&Handover{To: "crowd"}, "to", "not-in-list"},
		{&Consulted{Advice: term.AdviceAgrees}, "adviser", "missing"},
		{&Consulted{Adviser: term.AdviserSenior}, "advice", "missing"},
		{&Access{}, "site", "missing"},
		{&Access{Site: term.AccessSiteFoot, Attempts: 21}, "attempts", "out-of-bounds"},
		{&AttachedTo{}, "attached", "missing"},
		{&AttachedTo{What: []term.Attached{"flag"}}, "attached", "not-in-list"},
		{&Monitors{}, "monitors", "missing"},
		{&Monitors{On: []term.Monitor{term.MonitorEcg}, Alarms: "quiet"}, "alarms", "not-in-list"},
		{&Performed{}, "operation", "missing"},
		{&Depth{}, "model", "missing"},
		{&Depth{Model: "depth-1"}, "agent", "missing"},
		{&Depth{Model: "depth-1", Agent: term.AgentEther}, "course", "missing"},
		{&Depth{Model: "depth-1", Agent: term.AgentEther, Course: make([]DepthPoint, 122)}, "course", "too-many"},
		{shownDepth(func(d *Depth) { d.Course[0].Before = quantity.Amount{} }), "before", "missing"},
		{shownDepth(func(d *Depth) { d.Course[0].Before = amount("25 h") }), "before", "out-of-bounds"},
		{shownDepth(func(d *Depth) { d.Course[0].Low = quantity.Amount{} }), "course", "contradiction"},
		{shownDepth(func(d *Depth) { d.Course[0].Withdrawn = []string{"old-signs"} }), "course", "contradiction"},
		{shownDepth(func(d *Depth) { d.Course[0].High = amount("1.2 %") }), "course", "wrong-unit"},
		{shownDepth(func(d *Depth) { d.Leads = []DepthLead{{}} }), "what", "missing"},
		{shownDepth(func(d *Depth) { d.Leads = []DepthLead{{What: "ready", From: amount("3 mL")}} }), "from", "wrong-unit"},
		{shownDepth(func(d *Depth) { d.Drift = "Both ways" }), "drift", "not-in-list"},
		{shownDepth(func(d *Depth) { d.Wetness = "moist" }), "wetness", "not-in-list"},
		{shownDepth(func(*Depth) {}), "", ""},
		{&ClinicKey{Recipient: "age1abc", Identity: "YWdl"}, "", ""},
		{&ClinicKey{Identity: "YWdl"}, "recipient", "missing"},
		{&ClinicKey{Recipient: "AGE-SECRET-KEY-1ABC", Identity: "YWdl"}, "recipient", "not-in-list"},
		{&ClinicKey{Recipient: "age1abc"}, "identity", "missing"},
		{&ClinicKey{Recipient: "age1abc", Identity: "not base64"}, "identity", "not-in-list"},
		{&ClinicKey{Recipient: "age1abc", Identity: strings.Repeat("YWdl", 501)}, "identity", "too-long"},
		{&Claimed{Person: number(anEvent, 1)}, "", ""},
		{&Claimed{}, "person", "missing"},
		{&Claimed{Person: notID}, "person", "not-an-id"},
		{&SetAgreed{Version: someHash}, "set", "missing"},
		{&SetAgreed{Set: "common-practice"}, "version", "missing"},
		{&ClinicSetting{Setting: term.SettingStop, Text: Yes}, "file", "missing"},
		{&ClinicSetting{Setting: term.SettingStop, File: "before-knife.sterility", Text: "perhaps"}, "text", "not-in-list"},

		// What is not known is kept, never written.
		{&Unknown{As: "tide/1"}, "kind", "not-in-list"},
	}
	refused := map[string]bool{}
	for _, test := range tests {
		name := fmt.Sprintf("%s %+v", test.p.Kind(), test.p)
		err := test.p.Check()
		if test.field == "" {
			if err != nil {
				t.Errorf("%s: %v", name, err)
			}
			continue
		}
		refused[test.p.Kind().Name()] = true
		var fault *FieldError
		if !errors.As(err, &fault) {
			t.Errorf("%s: got %v, want a fault of %s", name, err, test.field)
			continue
		}
		if fault.Kind != test.p.Kind().Name() || fault.Field != test.field || fault.Code != test.code {
			t.Errorf("%s: got %s %s %s, want %s %s", name, fault.Kind, fault.Field, fault.Code, test.field, test.code)
		}
		if bounds := fault.Low != "" && fault.High != ""; fault.Code == "out-of-bounds" && !bounds {
			t.Errorf("%s: no bounds are named", name)
		}
	}
	for _, k := range Kinds() {
		switch Blank(k.Name()).(type) {
		case *CaseClosed, *Note, *Struck, *Restored: // nothing in them to refuse
		default:
			if !refused[k.Name()] {
				t.Errorf("nothing that %s refuses is in the table", k)
			}
		}
	}
}

// TestFirstFaultIsWhole wants a fault to be told as one: the bounds of a later
// fault must not hang on the first.
func TestFirstFaultIsWhole(t *testing.T) {
	for _, p := range []Payload{
		&Block{Attempts: 21},
		&Airway{Act: term.AirwayActIn, Attempts: 21},
		&Airway{Act: term.AirwayActIn, Size: quantity.DecimalFromInt(51)},
		&Birth{Apgar1: intOf(11)},
	} {
		var fault *FieldError
		if !errors.As(p.Check(), &fault) || fault.Code != "missing" || fault.Low != "" || fault.High != "" {
			t.Errorf("%T: got %v, want what is missing, without bounds", p, fault)
		}
	}
}

func TestDecodePayload(t *testing.T) {
	p, err := DecodePayload("vitals", []byte(`{"pulse":"80 /min"}`))
	if v, ok := p.(*Vitals); err != nil || !ok || v.Pulse != amount("80 /min") {
		t.Errorf("got %#v, %v", p, err)
	}
	for _, test := range []struct{ kind, data, field, code string }{
		{"tide", `{}`, "kind", "not-in-list"},
		{"vitals", `{"pulse":"80 /min","mood":"good"}`, "data", "not-readable"},
		{"vitals", `{"pulse":80}`, "data", "not-readable"},
		{"vitals", `{"pulse":"80 furlongs"}`, "data", "not-readable"},
		{"vitals", `{"pulse":"800 /min"}`, "pulse", "out-of-bounds"},
		{"vitals", `{}`, "values", "missing"},
		{"vitals", `{"pulse":"80 /min"} {}`, "data", "not-readable"},
	} {
		_, err := DecodePayload(test.kind, []byte(test.data))
		var fault *FieldError
		if !errors.As(err, &fault) || fault.Kind != test.kind || fault.Field != test.field || fault.Code != test.code {
			t.Errorf("%s %s: got %v, want %s %s", test.kind, test.data, err, test.field, test.code)
		}
	}
}

func TestWakingSum(t *testing.T) {
	w := Waking{Activity: intOf(2), Respiration: intOf(1), Circulation: intOf(0), Consciousness: intOf(1)}
	if sum, ok := w.Sum(); ok {
		t.Errorf("a sum of %d from four items of five", sum)
	}
	w.Oxygen = intOf(2)
	if sum, ok := w.Sum(); !ok || sum != 6 {
		t.Errorf("got %d, %v, want 6", sum, ok)
	}
}

func TestKinds(t *testing.T) {
	for _, k := range Kinds() {
		if p := Blank(k.Name()); p == nil || p.Kind() != k {
			t.Errorf("the blank of %s is %#v", k, p)
		}
	}
	if Blank("tide") != nil {
		t.Error("there is a blank of a kind that does not exist")
	}
	for s, version := range map[Kind]int{"vitals/1": 1, "vitals/12": 12, "vitals": 0, "vitals/": 0, "vitals/0": 0, "vitals/01": 0, "vitals/-1": 0, "vitals/+1": 0, "vitals/1/2": 0, "vitals/x": 0} {
		if got := s.Version(); got != version {
			t.Errorf("version of %q is %d, want %d", s, got, version)
		}
	}
}

func shownDepth(with func(*Depth)) *Depth {
	d := &Depth{Model: "depth-1", Agent: term.AgentEther, Course: []DepthPoint{{Before: amount("0 min"), Low: amount("0.9 1"), Middle: amount("1.1 1"), High: amount("1.4 1")}}}
	with(d)
	return d
}
