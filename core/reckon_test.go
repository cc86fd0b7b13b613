package core_test

import (
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strings"
	"sync"
	"testing"

	"pgregory.net/rapid"

	"chinlift/core"
	"chinlift/core/quantity"
	"chinlift/core/term"
	"chinlift/core/word"
)

// inputs reads "weight=70 kg; age=30 y".
func inputs(line string) map[string]string {
	typed := map[string]string{}
	for _, pair := range strings.Split(line, ";") {
		if name, value, ok := strings.Cut(pair, "="); ok {
			typed[strings.TrimSpace(name)] = strings.TrimSpace(value)
		}
	}
	return typed
}

// reckon works out one calculation as a script asks for it.
func reckon(t interface{ Fatalf(string, ...any) }, name string, typed map[string]string) (core.Result, error) {
	r, ok := core.FindReckoning(name)
	if !ok {
		t.Fatalf("there is no calculation %s", name)
	}
	return r.Reckon(typed)
}

// valueOf gives a value as one string: the amount, "low to high", or a code.
func valueOf(r core.Result, name string) string {
	for _, v := range r.Values {
		switch {
		case v.Name != name:
		case v.Code != "":
			return v.Code
		case v.Amount.IsZero():
			return v.Low.String() + " to " + v.High.String()
		default:
			return v.Amount.String()
		}
	}
	return "absent"
}

// TestReckonPublished has the worked examples and tables that are published, and
// checks of published formulas worked out by hand, each with its source.
func TestReckonPublished(t *testing.T) {
	for _, c := range []struct{ name, given, want, source string }{
		// Weight by age.
		{"weight-for-age", "age=0 mo", "weight=4 kg", "Short, Stevens, Update in Anaesthesia: 0.5 x months + 4"},
		{"weight-for-age", "age=6 months", "weight=7 kg", "the same"},
		{"weight-for-age", "age=12 mo", "weight=10 kg", "the same, where the formulas meet"},
		{"weight-for-age", "age=1 y", "weight=10 kg", "Short, Stevens: 2 x years + 8"},
		{"weight-for-age", "age=3 y", "weight=14 kg", "the same"},
		{"weight-for-age", "age=5 y", "weight=18 kg", "the same"},
		{"weight-for-age", "age=6 y", "weight=25 kg", "Short, Stevens: 3 x years + 7, with its leap"},
		{"weight-for-age", "age=10 y", "weight=37 kg", "the same"},
		{"weight-for-age", "age=12 years", "weight=43 kg", "the same"},
		{"weight-guess", "age=5 y", "weight=18 kg; weight_by=age-formula", "the same"},
		{"weight-guess", "age=2 y; length=87.5 cm; sex=female", "weight_by=length-tape", "WHO Child Growth Standards, 2006, weight-for-length: the table before the formula"},
		{"weight-for-length", "length=80 cm; sex=male", "weight=10.4 kg", "WHO Child Growth Standards, 2006, weight-for-length: boys, 80 cm, median 10.4475 kg"},
		{"weight-for-length", "length=80 cm; sex=female", "weight=10.1 kg", "the same: girls, 10.0891 kg"},

		// Size; worked out from the formulas.
		{"surface", "weight=70 kg; length=170 cm", "surface=1.82 m2", "Mosteller 1987: square root of 170 x 70 / 3600"},
		{"surface", "weight=154.3236 lb; length=5.5774 ft", "surface=1.82 m2", "the same patient in pounds and feet"},
		{"ideal-weight", "length=70 in; sex=male", "weight=73 kg", "Devine 1974: 50 + 10 x 2.3"},
		{"ideal-weight", "length=177.8 cm; sex=female; age=30 y", "weight=68.5 kg", "Devine 1974: 45.5 + 10 x 2.3"},
		{"adjusted-weight", "weight=123 kg; length=70 in; sex=male", "weight=93 kg", "common practice: 73 + 0.4 x 50"},
		{"lean-weight", "weight=100 kg; length=200 cm; sex=male", "weight=76.7 kg", "Janmahasatian 2005: 927000 / (6680 + 216 x 25)"},
		{"lean-weight", "weight=100 kg; length=2 m; sex=female", "weight=62.3 kg", "Janmahasatian 2005: 927000 / (8780 + 244 x 25)"},
		{"mass-index", "weight=100 kg; length=200 cm", "mass_index=25 kg/m2", "Keys 1972: 100 / 4"},

		// Blood.
		{"blood-volume", "weight=2 kg; age=3 d; premature=yes", "blood_volume=190 mL", "two teaching pages: 95 mL/kg"},
		{"blood-volume", "weight=3 kg; age=3 d", "blood_volume=255 mL", "the same: newborn 85 mL/kg"},
		{"blood-volume", "weight=5 kg; age=3 mo", "blood_volume=400 mL", "the same: infant 80 mL/kg"},
		{"blood-volume", "weight=20 kg; age=5 y", "blood_volume=1400 mL", "University of Iowa: child 70 to 75 mL/kg"},
		{"blood-volume", "weight=80 kg; age=30 y; sex=male", "blood_volume=6000 mL", "two teaching pages: man 75 mL/kg"},
		{"blood-volume", "weight=60 kg; age=30 y; sex=female", "blood_volume=3900 mL", "the same: woman 65 mL/kg"},
		{"allowable-loss", "weight=60 kg; age=30 y; sex=female; start=45 %; target=30 %", "loss_simple=1300 mL; loss_gross=1560 mL; loss_log=1581 mL", "teaching page: woman of 60 kg, 45 to 30 %, 1300 mL; Gross 1983 and Bourke, Smith 1974 worked out for it"},
		{"allowable-loss", "weight=50 kg; age=30 y; sex=female; start=45 %; target=30 %; formula=loss-simple", "loss_simple=1083 mL; loss_gross=absent", "teaching page: woman of 50 kg"},
		{"allowable-loss", "weight=5 kg; age=3 mo; start=36 %; target=25 %", "loss_simple=122 mL", "teaching page: infant of 5 kg"},
		{"allowable-loss", "weight=80 kg; age=30 y; sex=male; start=50 %; target=40 %", "loss_simple=1200 mL", "teaching page: man of 80 kg"},
		{"allowable-loss", "weight=80 kg; age=30 y; sex=male; start=15 g/dL; target=120 g/L", "loss_simple=1200 mL", "the same fall of a haemoglobin"},

		{"allowable-loss", "weight=50 kg; age=30 y; sex=female; start=45 %; target=30 %", "loss_gross=1300 mL; loss_log=1317 mL", "the same by Gross 1983, 3250 x 15 / 37.5, and Bourke, Smith 1974, 3250 x ln 1.5 = 1317.7, cut"},
		{"allowable-loss", "weight=5 kg; age=3 mo; start=36 %; target=25 %", "loss_gross=144 mL; loss_log=145 mL", "the same, 400 x 11 / 30.5 = 144.3, and 400 x ln (36 / 25) = 145.9, cut"},

		// Fluids.
		{"maintenance", "weight=3 kg", "rate=12 mL/h", "Holliday, Segar 1957: 4-2-1"},
		{"maintenance", "weight=8 kg", "rate=32 mL/h", "the same"},
		{"maintenance", "weight=12 kg", "rate=44 mL/h", "the same"},
		{"maintenance", "weight=15 kg", "rate=50 mL/h", "the same"},
		{"maintenance", "weight=20 kg", "rate=60 mL/h", "the same"},
		{"maintenance", "weight=25 kg", "rate=65 mL/h", "the same"},
		{"maintenance", "weight=70 kg", "rate=110 mL/h", "the same"},
		{"fasting-deficit", "weight=20 kg; fasted=6 h", "deficit=360 mL; first_hour=180 mL; second_hour=90 mL; third_hour=90 mL", "Association of Paediatric Anaesthetists 2007: half in the first hour, the rest over two"},
		{"burn-fluid", "weight=70 kg; area=30 %; since=0 h", "first_24_h=8400 mL; first_8_h=4200 mL; rate=525 mL/h; urine=35 mL/h to 70 mL/h", "Parkland: 4 mL/kg/%, half in 8 h; urine of an adult 0.5 to 1 mL/kg/h"},
		{"burn-fluid", "weight=70 kg; area=30 %; since=0 h", "rate_after=263 mL/h", "United States Army, MD0576: a quarter of it in each 8 h after, 2100 mL"},
		{"burn-fluid", "weight=70 kg; area=30 %; since=240 min", "first_8_h=4200 mL; rate=1050 mL/h", "the same: what is left of the 8 h"},
		{"burn-fluid", "weight=70 kg; area=30 %; since=9 h", "rate=absent; rate_after=263 mL/h", "the same: the 8 h are over"},
		{"burn-fluid", "weight=20 kg; area=20 %; since=1 h; age=5 y", "urine=20 mL/h to 40 mL/h", "urine of a child 1 to 2 mL/kg/h"},
		{"burn-area", "age=6 mo; head=100 %", "area=19 %", "Lund, Browder 1944, from memory: head 19 % under 1 year"},
		{"burn-area", "age=30 y; head=50 %; upper-arms=100 %", "area=11.5 %", "the same: adult, half of 7, and 8"},

		// Inhaled agents.
		{"delivery", "agent=ether; minute=8 L/min; pressure=760 mmHg; drops=120 drops/min; counted=60 drops/mL; cover=off", "inspired=2.89 %", "derived: half of 2 mL x 231.53 mL of vapour in 8 L"},
		{"delivery", "agent=ether; minute=8 L/min; pressure=760 mmHg; drops=300 drops/min; counted=60 drops/mL; cover=off", "inspired=7.24 %", "the same with 300 drops"},
		{"delivery", "agent=ether; minute=8 L/min; pressure=525.9 mmHg; dial=6 %; vaporiser=compensated; temperature=20 C", "inspired=19.22 %", "derived: variable bypass at 3000 m, computed and not published"},
		{"delivery", "agent=isoflurane; minute=6 L/min; pressure=596.3 mmHg; dial=1 %; vaporiser=compensated; temperature=20 C", "inspired=1.45 %", "derived: the same of isoflurane at 2000 m"},
		{"oxygen", "circuit=draw-over-reservoir; agent=halothane; minute=6 L/min; pressure=760 mmHg; flow=0 L/min; carbon_dioxide=35 mmHg", "alveolar_oxygen=106 mm[Hg]", "short alveolar gas equation: 0.2095 x 713 - 35 / 0.8"},
		{"oxygen", "circuit=draw-over-reservoir; agent=ether; minute=6 L/min; pressure=525.9 mmHg; flow=0 L/min; carbon_dioxide=35 mmHg; percent=10 %", "alveolar_oxygen=47 mm[Hg]", "the same at 3000 m with 10 % of ether"},
		{"wake", "agent=ether; age=40 y; weight=70 kg; held=1.92 %; lasted=120 min", "wakes_after=12.8 min", "the model's equations by scipy: 1 MAC for 120 minutes, then air, to 0.67 of MAC"},
		{"wake", "agent=sevoflurane; age=40 y; weight=70 kg; held=2.34 %; lasted=240 min", "wakes_after=9.2 min", "the same: 1.3 MAC for 240 minutes, to 0.35 of MAC"},
		{"uptake", "agent=halothane; age=40 y; weight=70 kg; pressure=760 mmHg; until=30 min; schedule=0 min, 1 %", "alveolar_tension=4.2 mm[Hg]", "the model's equations by scipy, extraction 0.10: 0.5525 of what is inspired"},
		{"uptake", "agent=isoflurane; age=40 y; weight=70 kg; pressure=760 mmHg; until=30 min; schedule=0 min, 1 %", "brain_tension=5.43 mm[Hg]", "the same: 0.7149"},
		{"stage", "agent=ether; age=40 y; eyes=roving; pupils=wide; lid=brisk; breathing=uneven", "lightest_stage=0.67 1 to 0.95 1; deepest_stage=0.67 1 to 0.95 1", "Guedel 1937: the signs of stage II"},

		// Tubes and airways.
		{"tube", "age=4 y", "uncuffed=5 mm; cuffed=4.5 mm; oral_length=14 cm; nasal_length=17 cm", "age/4 + 4, age/4 + 3.5, age/2 + 12, age/2 + 15: guideline of a children's hospital"},
		{"tube", "age=6 y", "uncuffed=5.5 mm; cuffed=5 mm; oral_length=15 cm; nasal_length=18 cm", "the same"},
		{"tube", "age=8 y", "uncuffed=6 mm; cuffed=5.5 mm; oral_length=16 cm; nasal_length=19 cm", "the same"},
		{"tube", "age=1 y", "cuffed=3.5 mm; oral_length=12.5 cm; nasal_length=15.5 cm", "the same; its table has 12 cm at 1 year"},
		{"tube", "age=18 mo", "cuffed=3.5 mm", "the same guideline: 1 to 2 years cuffed 3.5"},
		{"tube", "age=3 d; premature=yes", "uncuffed=2.5 mm; cuffed=absent", "the same guideline: preterm 2.5"},
		{"tube", "age=3 d", "uncuffed=3 mm; cuffed=absent; oral_length=9.5 cm; nasal_length=absent", "the same guideline: newborn 3.0 to 3.5, 9.5 cm"},
		{"tube", "age=3 d; weight=3.6 kg", "cuffed=3 mm; oral_length=9.6 cm", "the same guideline: cuffed 3.0 from 3.5 kg; kg + 6 cm"},
		{"tube", "age=3 d; weight=3 kg", "cuffed=absent; oral_length=9 cm", "the same"},
		{"tube", "age=6 mo", "uncuffed=3.5 mm; cuffed=3 mm; oral_length=10.5 cm", "the same guideline: under 1 year 3.5 to 4.0; 3 x inner diameter"},
		{"supraglottic-size", "weight=3 kg", "size=1 1", "table of laryngeal masks, from memory"},
		{"supraglottic-size", "weight=7 kg", "size=1.5 1", "the same"},
		{"supraglottic-size", "weight=15 kg", "size=2 1", "the same"},
		{"supraglottic-size", "weight=25 kg", "size=2.5 1", "the same"},
		{"supraglottic-size", "weight=40 kg", "size=3 1", "the same"},
		{"supraglottic-size", "weight=60 kg", "size=4 1", "the same"},
		{"supraglottic-size", "weight=90 kg", "size=5 1", "the same"},

		// Infusions and dilutions; worked out.
		{"infusion", "weight=70 kg; dose_rate=30 ug/kg/min; strength=1 mg/mL; drops_per_ml=20", "rate=126 mL/h; drop_rate=42 {drop}/min", "70 x 30 = 2100 ug/min, 2.1 mL/min, 42 drops"},
		{"infusion", "weight=70 kg; dose_rate=1.8 mg/kg/h; strength=0.1 %; drops_per_ml=20 drops/mL", "rate=126 mL/h; drop_rate=42 {drop}/min", "the same in other units"},
		{"infusion", "weight=70 kg; dose_rate=0.1 mcg/kg/min; strength=4 mg/50 mL", "rate=5.25 mL/h; drop_rate=absent", "420 ug/h by 80 ug/mL"},
		{"infusion", "dose_rate=4 mg/min; strength=1 mg/mL; drops_per_ml=15", "rate=240 mL/h; drop_rate=60 {drop}/min", "4 mL/min by 15"},
		{"infusion", "dose_rate=10 [IU]/h; strength=40 IU/L; drops_per_ml=20", "rate=250 mL/h; drop_rate=83.3 {drop}/min", "10 / 0.04 mL/h"},
		{"infusion", "dose_rate=10 mmol/h; strength=40 mmol/L", "rate=250 mL/h", "10 / 0.04 mL/h"},
		{"infusion", "dose_rate=1 ug/min; strength=1000 mg/mL", "rate=0.00006 mL/h", "60 ug/h of 1 g/mL: a small rate keeps its figures"},
		{"infusion-dose", "rate=42 drops/min; drops_per_ml=20; strength=1 mg/mL; weight=70 kg", "dose_per_kg_per_minute=30 ug/kg/min; dose_per_hour=126 mg/h; dose_per_minute=2100 ug/min; dose_per_kg_per_hour=1.8 mg/kg/h", "the first example, the other way round"},
		{"infusion-dose", "rate=250 mL/h; strength=40 IU/L", "dose_per_hour=10 [IU]/h; dose_per_kg_per_hour=absent", "250 x 0.04"},
		{"dilution", "strength=1:1000; wanted=1:10 000; volume=10 mL", "take=1 mL; add=9 mL; gives=10 mL; strength=100 ug/mL", "a tenth"},
		{"dilution", "strength=1:1000; wanted=100 ug/mL; take=1 mL", "take=1 mL; add=9 mL; gives=10 mL; strength=100 ug/mL", "the same, from the ampoule"},
		{"dilution", "strength=50 mg/mL; wanted=10 mg/mL; volume=20 mL", "take=4 mL; add=16 mL; gives=20 mL; strength=10 mg/mL", "a fifth"},
		{"dilution", "strength=3 mg/mL; wanted=1 mg/mL; volume=10 mL", "take=3.33 mL; add=6.67 mL; gives=10 mL", "a third, rounded, that still adds up"},
		{"dilution", "strength=10 mg/3 mL; wanted=1 mg/3 mL; take=1 mL", "take=1 mL; add=9 mL; gives=10 mL", "a tenth of what does not come out even"},

		// Strengths.
		{"strength", "strength=1 %", "mg_per_ml=10 mg/mL; ug_per_ml=10000 ug/mL; percent=1 %; ratio_1_to=100 1", "USP 28, General Notices: 1 % is 1 g in 100 mL"},
		{"strength", "strength=0.5 %", "mg_per_ml=5 mg/mL; ratio_1_to=200 1", "the same"},
		{"strength", "strength=1:1000", "mg_per_ml=1 mg/mL; percent=0.1 %; ratio_1_to=1000 1", "Food and Drug Administration 2017: 1:1000 is 1 mg/mL"},
		{"strength", "strength=1:10,000", "mg_per_ml=0.1 mg/mL; ug_per_ml=100 ug/mL", "the same: 1:10 000 is 0.1 mg/mL"},
		{"strength", "strength=1 in 200 000", "ug_per_ml=5 ug/mL; mg_per_ml=0.005 mg/mL; percent=0.0005 %; ratio_1_to=200000 1", "1 g in 200 000 mL"},
		{"strength", "content=500 mg; volume=500 mL", "mg_per_ml=1 mg/mL; ratio_1_to=1000 1", "500 / 500"},
		{"strength", "content=1 g; volume=3 mL", "mg_per_ml=333.33 mg/mL; ratio_1_to=absent", "it does not come out even"},
		{"strength", "strength=50 %", "mg_per_ml=500 mg/mL; ratio_1_to=absent", "nobody writes 1:2"},

		// Local anaesthetics.
		{"local-maximum", "weight=70 kg; per_kg=3 mg/kg; strength=1 %", "dose=210 mg; volume=21 mL", "Oxford Medical Education: lidocaine 1 % plain, 70 kg"},
		{"local-maximum", "weight=70 kg; per_kg=7 mg/kg; strength=1 %; cap=500 mg", "dose=490 mg; volume=49 mL", "the same with adrenaline"},
		{"local-maximum", "weight=20 kg; per_kg=2 mg/kg; strength=0.5 %", "dose=40 mg; volume=8 mL", "worked out: 20 x 2 / 5"},
		{"local-maximum", "weight=70 kg; per_kg=3 mg/kg; strength=0.75 %", "dose=210 mg; volume=28 mL", "Therapeutic Guidelines: ropivacaine 3 mg/kg"},
		{"local-maximum", "weight=70 kg; per_kg=6 mg/kg; strength=1 %", "dose=420 mg; volume=42 mL", "Therapeutic Guidelines: prilocaine 6 mg/kg"},
		{"local-maximum", "weight=70 kg; per_kg=7.5 mg/kg; strength=1 %", "dose=525 mg; volume=52.5 mL", "Oxford Medical Education: prilocaine with adrenaline 7.5 mg/kg"},
		{"local-maximum", "weight=100 kg; per_kg=2 mg/kg; strength=0.5 %; cap=175 mg", "dose=175 mg; volume=35 mL", "label in the United States: bupivacaine no more than 175 mg"},
		{"local-maximum", "weight=100 kg; per_kg=3 mg/kg; strength=0.5 %; cap=225 mg", "dose=225 mg; volume=45 mL", "the same with adrenaline: 225 mg"},
		{"local-maximum", "weight=80 kg; per_kg=7 mg/kg; strength=2 %; cap=500 mg", "dose=500 mg; volume=25 mL", "label in the United States: lidocaine with adrenaline 7 mg/kg, no more than 500 mg"},
		{"local-maximum", "weight=100 kg; per_kg=4.5 mg/kg; strength=2 %; cap=300 mg", "dose=300 mg; volume=15 mL", "label in the United States: 4.5 mg/kg, no more than 300 mg"},
		{"local-maximum", "weight=3.3 kg; per_kg=2 mg/kg; strength=0.25 %", "dose=6.6 mg; volume=2.6 mL", "6.6 / 2.5 = 2.64, rounded down"},
		{"local-maximum", "weight=0.7 kg; per_kg=2 mg/kg; strength=0.75 %", "dose=1.4 mg; volume=0.18 mL", "1.4 / 7.5 = 0.187, rounded down"},

		// Units. Apothecaries': UCUM and NIST Handbook 44, appendix C, exact.
		{"convert", "from=1 grain; to=mg", "result=64.79891 mg", "1 grain"},
		{"convert", "from=1/2 gr; to=mg", "result=32.399455 mg", "published to 4 decimals: 32.3995"},
		{"convert", "from=gr 1/4; to=mg", "result=16.1997275 mg", "16.1997"},
		{"convert", "from=1/6 gr; to=mg", "result=10.7998183333333 mg", "10.7998"},
		{"convert", "from=1/8 gr; to=mg", "result=8.09986375 mg", "8.0999"},
		{"convert", "from=1/12 gr; to=mg", "result=5.39990916666667 mg", "5.3999"},
		{"convert", "from=1/64 gr; to=mg", "result=1.01248296875 mg", "1.0125"},
		{"convert", "from=1/75 gr; to=mg", "result=0.863985466666667 mg", "0.8640"},
		{"convert", "from=1/120 gr; to=mg", "result=0.539990916666667 mg", "0.5400"},
		{"convert", "from=1/150 gr; to=mg", "result=0.431992733333333 mg", "0.4320"},
		{"convert", "from=1/100 gr; to=mg", "result=0.6479891 mg", "0.6480"},
		{"convert", "from=1/200 gr; to=mg", "result=0.32399455 mg", "0.3240"},
		{"convert", "from=1 scruples; to=g", "result=1.2959782 g", "20 grains"},
		{"convert", "from=1 [dr_ap]; to=g", "result=3.8879346 g", "60 grains"},
		{"convert", "from=1 [oz_ap]; to=g", "result=31.1034768 g", "480 grains"},
		{"convert", "from=1 lb; to=kg", "result=0.45359237 kg", "avoirdupois, 7000 grains"},
		{"convert", "from=1 lb; to=grain", "result=7000 [gr]", "the same"},
		{"convert", "from=1 oz; to=g", "result=28.349523125 g", "a sixteenth of a pound"},
		{"convert", "from=1 stone; to=lb", "result=14 [lb_av]", "14 pounds"},
		{"convert", "from=1 imperial fluid ounce; to=mL", "result=28.4130625 mL", "imperial"},
		{"convert", "from=1 [fdr_br]; to=mL", "result=3.5516328125 mL", "imperial"},
		{"convert", "from=1 imperial minim; to=mL", "result=0.0591938802083333 mL", "0.05919388"},
		{"convert", "from=1 US fluid ounce; to=mL", "result=29.5735295625 mL", "United States"},
		{"convert", "from=1 [fdr_us]; to=mL", "result=3.6966911953125 mL", "3.6966912"},
		{"convert", "from=1 US minim; to=mL", "result=0.061611519921875 mL", "0.06161152"},
		{"convert", "from=1 atm; to=kPa", "result=101.325 kPa", "1 atm = 101.325 kPa"},
		{"convert", "from=98.6 °F; to=°C", "result=37 Cel", "definition of the scales"},
		{"convert", "from=-40 C; to=F", "result=-40 [degF]", "where the scales meet"},
		{"convert", "from=100 degF; to=degC", "result=37.7777777777778 Cel", "it does not come out even: 15 figures"},
		{"convert", "from=137 bar; to=psi", "result=1987.01700690387 [psi]", "pound-force by square inch"},

		// History.
		{"history-young", "age=6 y", "share=0.3333 1", "Young: 6 / 18"},
		{"history-young", "age=2 y", "share=0.1429 1", "Young: 2 / 14"},
		{"history-clark", "weight=50 lb", "share=0.3333 1", "Clark: 50 / 150"},
		{"history-fried", "age=10 mo", "share=0.0667 1", "Fried: 10 / 150"},
		{"history-cowling", "age=5 y", "share=0.25 1", "Cowling: sixth birthday, 6 / 24"},
	} {
		r, err := reckon(t, c.name, inputs(c.given))
		if err != nil {
			t.Errorf("%s %s: %v", c.name, c.given, err)
			continue
		}
		for name, want := range inputs(c.want) {
			if got := valueOf(r, name); got != want {
				t.Errorf("%s %s: %s = %s, want %s (%s)", c.name, c.given, name, got, want, c.source)
			}
		}
	}
}

// TestReckonPublishedMmHg: 760 mm[Hg] are 1 atm but for the difference that
// UCUM's definition makes, 3 parts in a million.
func TestReckonPublishedMmHg(t *testing.T) {
	r, err := reckon(t, "convert", inputs("from=760 mmHg; to=kPa"))
	if err != nil || valueOf(r, "result") != "101.32472 kPa" {
		t.Errorf("760 mmHg are %s, %v", valueOf(r, "result"), err)
	}
}

// TestReckonBad: bad input gives an error that names the input, never a number.
func TestReckonBad(t *testing.T) {
	for _, c := range []struct{ name, given, field, code string }{
		{"maintenance", "", "weight", "missing"},
		{"maintenance", "weight=0 kg", "weight", "too-low"},
		{"maintenance", "weight=-3 kg", "weight", "too-low"},
		{"maintenance", "weight=700 kg", "weight", "too-high"},
		{"maintenance", "weight=70", "weight", "no-unit"},
		{"maintenance", "weight=0", "weight", "no-unit"},
		{"maintenance", "weight=", "weight", "empty"},
		{"maintenance", "weight=heavy", "weight", "not-a-number"},
		{"maintenance", "weight=1,000 kg", "weight", "ambiguous-separator"},
		{"maintenance", "weight=1,000", "weight", "ambiguous-separator"},
		{"maintenance", "weight=70 quintals", "weight", "unknown-unit"},
		{"maintenance", "weight=70 mL", "weight", "wrong-unit"},
		{"maintenance", "weight=1200 gr", "weight", "doubtful-grain"},
		{"maintenance", "weight=70 kg; age=-3 y", "age", "too-low"},
		{"maintenance", "weight=70 kg; age=130 y", "age", "too-high"},
		{"maintenance", "weight=70 kg; age=-3", "age", "no-unit"},
		{"maintenance", "weight=70 kg; length=900 cm", "length", "too-high"},
		{"maintenance", "weight=70 kg; weight_by=guess", "weight_by", "unknown-code"},
		{"maintenance", "weight=70 kg; wait=70 kg", "wait", "unknown-input"},
		{"maintenance", "weight=" + strings.Repeat("7", 90) + " kg", "weight", "too-long"},
		{"blood-volume", "weight=70 kg; age=30 y; sex=x", "sex", "unknown-code"},
		{"blood-volume", "age=30 y", "weight", "missing"},
		{"weight-for-age", "age=13 y", "age", "no-rule"},
		{"weight-for-length", "length=150 cm", "length", "no-rule"},
		{"weight-guess", "sex=male", "length", "one-of"},
		{"ideal-weight", "length=150 cm", "length", "no-rule"},
		{"ideal-weight", "length=160 cm; age=5 y", "age", "no-rule"},
		{"tube", "age=40 y", "age", "no-rule"},
		{"tube", "age=3 d; weight=700 kg", "weight", "too-high"},
		{"allowable-loss", "weight=60 kg; age=30 y; start=30 %; target=30 %", "target", "not-below-start"},
		{"allowable-loss", "weight=60 kg; age=30 y; start=30 %; target=8 g/dL", "target", "wrong-unit"},
		{"allowable-loss", "weight=60 kg; age=30 y; start=30 %; target=25 %; formula=other", "formula", "unknown-code"},
		{"burn-area", "age=30 y", "head", "one-of"},
		{"burn-area", "age=30 y; head=101 %", "head", "too-high"},
		{"burn-area", "age=30 y; upper_arms=-1 %", "upper_arms", "too-low"},
		{"burn-fluid", "weight=70 kg; area=30 %; since=-1 h", "since", "too-low"},
		{"fasting-deficit", "weight=70 kg; fasted=100 h", "fasted", "too-high"},
		{"mac", "agent=ether; age=300 y", "age", "too-high"},
		{"wake", "agent=trichloroethylene; age=40 y", "agent", "no-rule"},
		{"wake", "agent=ether; age=40 y; weight=70 kg; held=2 %", "lasted", "missing"},
		{"liquid-use", "agent=nitrous-oxide; percent=10 %; minute=6 L/min; pressure=760 mmHg", "agent", "no-rule"},
		{"delivery", "agent=ether; minute=6 L/min; pressure=760 mmHg", "drops", "one-of"},
		{"delivery", "agent=ether; minute=6 L/min; pressure=760 mmHg; dial=6 %", "vaporiser", "missing"},
		{"delivery", "agent=halothane; minute=6 L/min; pressure=760 mmHg; drops=60 drops/min", "counted", "missing"},
		{"delivery", "agent=ether; minute=6 L/min; pressure=400 mmHg; dial=6 %; vaporiser=plain; temperature=30 C", "temperature", "boils"},
		{"oxygen", "circuit=open-mask; agent=ether; minute=6 L/min; pressure=760 mmHg; flow=60 L/min", "flow", "too-high"},
		{"uptake", "agent=ether; age=40 y; weight=70 kg; pressure=760 mmHg; until=30 min; schedule=5 min, 2 %", "schedule", "first-line"},
		{"uptake", "agent=ether; age=40 y; weight=70 kg; pressure=760 mmHg; until=30 min; schedule=0 min, 2 %\n0 min, 3 %", "schedule", "not-later"},
		{"uptake", "agent=ether; age=40 y; weight=70 kg; pressure=760 mmHg; until=3 min; schedule=0 min, 2 %\n10 min, 3 %", "until", "not-later"},
		{"uptake", "agent=ether; age=40 y; weight=70 kg; pressure=760 mmHg; until=30 min; schedule=0 min, 2", "schedule", "no-unit"},
		{"uptake", "agent=ether; age=40 y; weight=70 kg; pressure=760 mmHg; until=30 min; schedule=0 min", "schedule", "no-comma"},
		{"stage", "agent=ether; age=6 mo; eyes=roving", "age", "no-rule"},
		{"stage", "agent=ether; age=40 y", "breathing", "one-of"},
		{"stage", "agent=ether; age=40 y; pupils=small; premedicated=opioid", "breathing", "one-of"},
		{"lead", "agent=ether; age=40 y; weight=70 kg; pressure=760 mmHg; until=20 min; spo2=90 %; systolic=110 mmHg; eyes=roving; schedule=0 min, 8 %", "spo2", "no-rule"},
		{"lead", "agent=ether; age=40 y; weight=70 kg; pressure=760 mmHg; until=20 min; spo2=98 %; systolic=70 mmHg; eyes=roving; schedule=0 min, 8 %", "systolic", "no-rule"},
		{"lead", "agent=ether; age=40 y; weight=70 kg; pressure=760 mmHg; until=20 min; spo2=98 %; systolic=110 mmHg; breathing=see-saw; schedule=0 min, 8 %", "breathing", "no-rule"},
		{"lead", "agent=ether; age=11 mo; weight=9 kg; pressure=760 mmHg; until=20 min; spo2=98 %; systolic=110 mmHg; eyes=roving; schedule=0 min, 8 %", "age", "no-rule"},
		{"infusion", "dose_rate=30 ug/kg/min; strength=1 mg/mL", "weight", "missing"},
		{"infusion", "dose_rate=30 ug/kg/min; strength=1 mg/mL; weight=70", "weight", "no-unit"},
		{"infusion", "dose_rate=30 ug/kg; strength=1 mg/mL; weight=70 kg", "dose_rate", "wrong-unit"},
		{"infusion", "dose_rate=0 ug/kg/min; strength=1 mg/mL; weight=70 kg", "dose_rate", "too-low"},
		{"infusion", "dose_rate=30 ug/kg/min; strength=0 mg/mL; weight=70 kg", "strength", "no-strength"},
		{"infusion", "dose_rate=30 ug/kg/min; strength=0 %; weight=70 kg", "strength", "no-strength"},
		{"infusion", "dose_rate=30 ug/kg/min; strength=1; weight=70 kg", "strength", "no-unit"},
		{"infusion", "dose_rate=30 ug/kg/min; strength=1 mg; weight=70 kg", "strength", "wrong-unit"},
		{"infusion", "dose_rate=30 ug/kg/min; strength=1:10; weight=70 kg", "strength", "no-strength"},
		{"infusion", "dose_rate=30 ug/kg/min; strength=1:1.0000; weight=70 kg", "strength", "ambiguous-separator"},
		{"infusion", "dose_rate=5 [IU]/h; strength=1 mg/mL", "strength", "wrong-unit"},
		{"infusion", "dose_rate=5 mg/h; strength=1 mg/mL; drops_per_ml=0", "drops_per_ml", "too-low"},
		{"infusion", "dose_rate=5 mg/h; strength=1 mg/mL; weight=0 kg", "weight", "too-low"},
		{"infusion-dose", "rate=42 drops/min; strength=1 mg/mL", "drops_per_ml", "missing"},
		{"infusion-dose", "rate=0 mL/h; strength=1 mg/mL", "rate", "too-low"},
		{"dilution", "strength=1 %; wanted=2 %; volume=10 mL", "wanted", "not-weaker"},
		{"dilution", "strength=1 %; wanted=10 mg/mL; volume=10 mL", "wanted", "not-weaker"},
		{"dilution", "strength=1 %; wanted=1 IU/mL; volume=10 mL", "wanted", "wrong-unit"},
		{"dilution", "strength=1 %; wanted=1 mg/mL", "volume", "one-of"},
		{"dilution", "strength=1 %; wanted=1 mg/mL; volume=10 mL; take=1 mL", "volume", "only-one"},
		{"dilution", "strength=1 %; wanted=1 mg/mL; volume=0 mL", "volume", "too-low"},
		{"strength", "", "strength", "one-of"},
		{"strength", "content=5 mg", "strength", "one-of"},
		{"strength", "content=5 mg; volume=0 mL", "volume", "too-low"},
		{"strength", "strength=1 %; volume=5 mL", "strength", "only-one"},
		{"strength", "strength=5 IU/mL", "strength", "wrong-unit"},
		{"local-maximum", "weight=70 kg; per_kg=3; strength=1 %", "per_kg", "no-unit"},
		{"local-maximum", "weight=70 kg; per_kg=3 mg; strength=1 %", "per_kg", "wrong-unit"},
		{"local-maximum", "weight=70 kg; per_kg=300 mg/kg; strength=1 %", "per_kg", "too-high"},
		{"local-maximum", "weight=70 kg; per_kg=3 mg/kg; strength=1 %; cap=0 mg", "cap", "too-low"},
		{"convert", "from=5 mg; to=mL", "to", "wrong-unit"},
		{"convert", "from=5 mg; to=zz", "to", "unknown-unit"},
		{"convert", "from=5 mg; to=2 kg", "to", "unknown-unit"},
		{"convert", "from=5 mg; to=", "to", "empty"},
		{"convert", "from=5 mg; to=gr", "to", "doubtful-grain"},
		{"convert", "from=5 gr; to=mg", "from", "doubtful-grain"},
		{"convert", "from=5; to=mg", "from", "no-unit"},
		{"convert", "from=-300 C; to=K", "from", "too-low"},
		{"convert", "from=0.0000000000000000000001 ng; to=kg", "from", "out-of-scale"},
		{"convert", "from=1000000000000000000000 kg; to=ng", "from", "out-of-scale"},
		{"history-young", "age=40 y", "age", "no-rule"},
		{"history-young", "age=6 mo", "age", "no-rule"},
		{"history-fried", "age=3 y", "age", "no-rule"},
		{"history-cowling", "age=18 y", "age", "no-rule"},
		{"history-clark", "weight=151 lb", "weight", "no-rule"},
	} {
		r, err := reckon(t, c.name, inputs(c.given))
		faults := core.InputFaults(err)
		if len(faults) != 1 || faults[0].Input.Name != c.field || faults[0].Code != c.code {
			t.Errorf("%s %s: %v, want %s %s", c.name, c.given, err, c.field, c.code)
			continue
		}
		if len(r.Values) > 0 {
			t.Errorf("%s %s: an error, and the numbers %v", c.name, c.given, r.Values)
		}
		said(t, c.name+" "+c.given, err, c.field)
	}
}

// said asks for the words of an error, as the command and as a screen has them.
func said(t interface {
	Helper()
	Errorf(string, ...any)
}, what string, err error, field string) {
	t.Helper()
	book := english()
	for _, f := range core.InputFaults(err) {
		if words := (core.Speaker{Book: book}).InputFault(f); strings.TrimSpace(words) == "" {
			t.Errorf("%s: no words for %v", what, f)
		}
	}
	if p := core.Explain(book, err); p.Field != field || p.Code == "internal" || p.Words == "" {
		t.Errorf("%s: a screen says %+v", what, p)
	}
	if missing := book.Missing(); len(missing) > 0 {
		t.Errorf("%s: words are missing: %q", what, missing)
	}
}

// TestReckonBadAll: everything that is wrong is said at once.
// A use that the drug does not have is answered with those that it has, and
// their routes; so is a route.
func TestReckonTellsTheUsesOfTheDrug(t *testing.T) {
	s := core.Speaker{Book: word.English()}
	for _, x := range []struct{ name, typed, has, not string }{
		{"dose", "drug=morphine; use=sleep; weight=60 kg; age=30 y", "analgesia-im (im", "induction-iv"},
		{"dose", "drug=ketamine; use=analgesia-epidural; weight=60 kg; age=30 y", "induction-iv (iv), top-up-iv (iv)", "premedication-im ("},
		{"dose", "drug=ketamine; use=induction-iv; route=oral; weight=60 kg; age=30 y", "none of the choices: iv", "oral,"},
		{"premedication", "drug=atropine; use=sleep; start=45 min", "premedication-im (im", "ketamine"},
	} {
		_, err := reckon(t, x.name, inputs(x.typed))
		faults := core.InputFaults(err)
		if len(faults) != 1 || faults[0].Code != "unknown-code" {
			t.Errorf("%s: %v", x.typed, err)
			continue
		}
		if said := s.InputFault(faults[0]); !strings.Contains(said, x.has) || strings.Contains(said, x.not) {
			t.Errorf("%s: %q, want %q in it and not %q", x.typed, said, x.has, x.not)
		}
	}
	// Without a use at all the same are told.
	_, err := reckon(t, "dose", inputs("drug=morphine; weight=60 kg"))
	if f := core.InputFaults(err); len(f) != 1 || slices.Contains(f[0].Input.Codes, "induction-iv") || !slices.Contains(f[0].Input.Codes, "analgesia-im") {
		t.Errorf("no use: %v", err)
	}
}

func TestReckonBadAll(t *testing.T) {
	_, err := reckon(t, "infusion", inputs("weight=70; power=1 mg/mL"))
	var got []string
	for _, f := range core.InputFaults(err) {
		got = append(got, f.Input.Name+" "+f.Code)
	}
	want := []string{"power unknown-input", "dose_rate missing", "strength missing", "weight no-unit"}
	if !slices.Equal(got, want) {
		t.Errorf("got %q, want %q", got, want)
	}
}

// everyWay is at least one good line for each calculation, and for each way
// through it.
var everyWay = []struct{ name, given string }{
	{"weight-for-age", "age=3 mo"}, {"weight-for-age", "age=5 y"}, {"weight-for-age", "age=11 y"},
	{"weight-for-length", "length=80 cm; age=3 y"},
	{"weight-guess", "age=9 y"}, {"weight-guess", "length=80 cm"},
	{"mass-index", "weight=100 kg; length=170 cm; weight_by=scale"}, {"surface", "weight=20 kg; length=110 cm; age=5 y; weight_by=eye"},
	{"ideal-weight", "length=170 cm"}, {"lean-weight", "weight=100 kg; length=170 cm; sex=male"}, {"lean-weight", "weight=30 kg; length=200 cm; sex=female"},
	{"adjusted-weight", "weight=100 kg; length=170 cm"}, {"adjusted-weight", "weight=50 kg; length=170 cm; weight_by=relative-said"},
	{"blood-volume", "weight=3 kg; age=1 d; premature=yes; weight_by=length-tape"}, {"blood-volume", "weight=30 kg; age=8 y; weight_by=age-formula"}, {"blood-volume", "weight=70 kg; age=40 y"},
	{"allowable-loss", "weight=60 kg; age=30 y; start=30 %; target=20 %"}, {"allowable-loss", "weight=60 kg; age=30 y; start=12 g/dL; target=6 g/dL; formula=loss-log"},
	{"maintenance", "weight=3 kg; age=3 d"}, {"maintenance", "weight=44 kg; age=5 y"}, {"fasting-deficit", "weight=20 kg; fasted=30 h"},
	{"burn-area", "age=5 y; head=10 %; neck=10 %; trunk=10 %; upper_arms=10 %; forearms=10 %; hands=10 %; buttocks=10 %; genitals=10 %; thighs=10 %; lower_legs=10 %; feet=10 %"},
	{"burn-fluid", "weight=70 kg; area=5 %; since=1 h"}, {"burn-fluid", "weight=20 kg; area=60 %; since=9 h; age=5 y"},
	{"tube", "age=3 d"}, {"tube", "age=3 d; weight=3.6 kg; weight_by=scale"}, {"tube", "age=6 mo"}, {"tube", "age=1 y"}, {"tube", "age=4 y"}, {"tube", "age=1 d; premature=yes"},
	{"supraglottic-size", "weight=10 kg"}, {"supraglottic-size", "weight=120 kg"},
	{"dose", "drug=morphine; use=premedication-im; weight=60 kg; age=30 y; sex=male; weight_by=scale"},
	{"dose", "drug=morphine; use=analgesia-im; weight=60 kg; age=70 y; with=frail,asthma; given=8 mg; given_ago=1 h; wish=10 mg"},
	{"dose", "drug=ketamine; use=infusion-iv; weight=70 kg; age=40 y; weight_by=eye"}, {"dose", "drug=ketamine; use=induction-iv; weight=60 kg; age=30 y; with=pre-eclampsia; pregnant=yes; wish=100 mg"},
	{"dose", "drug=adrenaline; use=anaphylaxis-iv; weight=3.5 kg; age=3 d"}, {"dose", "drug=paracetamol; use=analgesia-oral; weight=70 kg; age=40 y"}, {"dose", "drug=ether; use=induction; age=40 y; hazards=diathermy"},
	{"dose", "drug=lidocaine; use=block; weight=120 kg; length=165 cm; sex=female; age=40 y; strength=1 %"},
	{"premedication", "drug=morphine; use=premedication-im; start=45 min; weight=70 kg; age=30 y"},
	{"premedication", "drug=atropine; use=premedication-im; start=45 min; weight=70 kg; age=30 y; given=1/100 gr; given_ago=0 min"},
	{"mac", "agent=ether; age=40 y"}, {"mac", "agent=halothane; age=6 mo"}, {"mac", "agent=chloroform; age=30 y"}, {"wake", "agent=ether; age=40 y"}, {"wake", "agent=isoflurane; age=20 y; weight=60 kg; held=1.2 %; lasted=60 min"}, {"liquid-use", "agent=ether; percent=10 %; minute=6 L/min; pressure=760 mmHg"},
	{"delivery", "agent=ether; minute=8 L/min; pressure=760 mmHg; drops=120 drops/min; counted=60 drops/mL; cover=off"}, {"delivery", "agent=ether; minute=6 L/min; pressure=760 mmHg; wetness=wet; drops=200 drops/min; used=100 mL; over=30 min"},
	{"delivery", "agent=ether; minute=8 L/min; pressure=596 mmHg; dial=6 %; vaporiser=compensated; temperature=20 C"}, {"delivery", "agent=halothane; minute=3 L/min; pressure=760 mmHg; dial=1 %; vaporiser=plain"}, {"delivery", "agent=desflurane; minute=6 L/min; pressure=596 mmHg; dial=6 %; vaporiser=heated"},
	{"oxygen", "circuit=open-mask; agent=ether; minute=6 L/min; pressure=760 mmHg; cover=on; percent=10 %"}, {"oxygen", "circuit=draw-over-reservoir; agent=halothane; minute=6 L/min; pressure=525.9 mmHg; flow=1 L/min; percent=1 %; carbon_dioxide=35 mmHg; support=controlled"}, {"oxygen", "circuit=open-mask; agent=ether; minute=6 L/min; pressure=560 mmHg; cover=off; support=apnoea"},
	{"uptake", "agent=halothane; age=40 y; weight=70 kg; pressure=760 mmHg; until=30 min; minute=6 L/min; schedule=0 min, 2 %\n10 min, 1 %"},
	{"stage", "agent=ether; age=40 y; eyes=still-central; lid=gone; cornea=brisk; breathing=even-automatic"}, {"stage", "agent=halothane; age=40 y; movement=limbs"}, {"stage", "agent=ether; age=40 y; pupils=wide-fixed; chest=still; premedicated=opioid; support=assisted"},
	{"lead", "agent=ether; age=40 y; weight=70 kg; pressure=760 mmHg; until=20 min; spo2=98 %; systolic=110 mmHg; eyes=still-central; lid=gone; deepen=10 %; schedule=0 min, 4 %\n6 min, 8 %"},
	{"lead", "agent=sevoflurane; age=8 y; weight=22 kg; pressure=760 mmHg; until=10 min; spo2=98 %; systolic=100 mmHg; movement=none; breathing=quiet; premedicated=opioid,benzodiazepine,anticholinergic; support=controlled; schedule=0 min, 4 %"},
	{"infusion", "dose_rate=30 ug/kg/min; strength=1 mg/mL; weight=70 kg; drops_per_ml=20"}, {"infusion", "dose_rate=5 mg/h; strength=1:1000; weight=70 kg"},
	{"infusion-dose", "rate=20 drops/min; strength=1 %; weight=70 kg; drops_per_ml=20"}, {"infusion-dose", "rate=20 mL/h; strength=1 [IU]/mL; weight=70 kg"},
	{"dilution", "strength=1:1000; wanted=1:200 000; volume=10 mL"}, {"dilution", "strength=1 mg/mL; wanted=0.3 mg/mL; take=1 mL"},
	{"strength", "strength=1 %"}, {"strength", "content=500 mg; volume=20 mL"},
	{"local-maximum", "weight=70 kg; per_kg=7 mg/kg; strength=2 %; cap=300 mg; age=30 y"}, {"local-maximum", "weight=0.5 kg; per_kg=1 mg/kg; strength=2 %; age=1 d"},
	{"convert", "from=1/100 gr; to=mg"}, {"convert", "from=100 F; to=C"},
	{"history-young", "age=6 y"}, {"history-clark", "weight=20 kg"}, {"history-fried", "age=10 mo"}, {"history-cowling", "age=6 y"},
}

// english is the book of these tests, so that what it lacks is known.
var english = sync.OnceValue(func() *word.Book {
	book, err := word.Open("en")
	if err != nil {
		panic(err)
	}
	return book
})

// whole asks of a result that it is one: with values, working, sources and
// marks, a caution, and words for all of it, in JSON that reads back.
func whole(t interface{ Fatalf(string, ...any) }, what string, r core.Result) {
	book := english()
	view := core.Speaker{Book: book}.Reckoned(r)
	text, err := json.Marshal(view)
	if err != nil {
		t.Fatalf("%s: %v", what, err)
	}
	var back struct {
		Values  map[string]map[string]any `json:"values"`
		Working []struct {
			Code, Words string
			Values      map[string]map[string]string
		} `json:"working"`
		Cautions []core.CodeView   `json:"cautions"`
		Sources  []core.SourceView `json:"sources"`
	}
	if err := json.Unmarshal(text, &back); err != nil {
		t.Fatalf("%s: %v", what, err)
	}
	if len(back.Values) == 0 || len(back.Working) == 0 || len(back.Sources) == 0 || len(back.Values) != len(r.Values) {
		t.Fatalf("%s: without values, working or sources: %s", what, text)
	}
	amount := func(number, unit any) {
		if _, err := quantity.Parse(fmt.Sprint(number, " ", unit)); err != nil {
			t.Fatalf("%s: %v in %s", what, err, text)
		}
	}
	for _, v := range back.Values {
		if v["code"] == nil && v["value"] == nil && v["low"] == nil {
			t.Fatalf("%s: a value of nothing: %s", what, text)
		}
		for _, part := range []string{"value", "low", "high"} {
			if v[part] != nil {
				amount(v[part], v["unit"])
			}
		}
	}
	for _, s := range back.Working {
		// Some steps of a dose have no value: that a stop stands, that a time is right.
		if s.Code == "" || s.Words == "" || len(s.Values) == 0 && r.Reckoning != "dose" && r.Reckoning != "premedication" {
			t.Fatalf("%s: a step without code, words or values: %s", what, text)
		}
		for _, v := range s.Values {
			amount(v["value"], v["unit"])
		}
	}
	if !slices.ContainsFunc(back.Cautions, func(c core.CodeView) bool {
		return c.Code == "estimate" || c.Code == "arithmetic" || c.Code == "offer-no-order"
	}) {
		t.Fatalf("%s: nothing says that it is no instruction: %s", what, text)
	}
	for _, s := range back.Sources {
		if s.Title == "" || !term.MarkList.Has(term.Mark(s.Mark.Code)) {
			t.Fatalf("%s: a source without title or mark: %s", what, text)
		}
	}
	if missing := book.Missing(); len(missing) > 0 {
		t.Fatalf("%s: words are missing: %q", what, missing)
	}
}

func TestReckonEveryWay(t *testing.T) {
	seen := map[string]bool{}
	for _, c := range everyWay {
		r, err := reckon(t, c.name, inputs(c.given))
		if err != nil {
			t.Errorf("%s %s: %v", c.name, c.given, err)
			continue
		}
		seen[c.name] = true
		whole(t, c.name+" "+c.given, r)
	}
	for _, r := range core.Reckonings() {
		if !seen[r.Name] {
			t.Errorf("%s is not tried", r.Name)
		}
	}
}

// TestReckonUnitsReadBack: every way that the list and the errors name for
// writing a unit is read as that unit.
func TestReckonUnitsReadBack(t *testing.T) {
	for _, u := range core.UnitList() {
		a, err := quantity.ParseEntry("2 "+u.Write, quantity.Unit{})
		if err != nil || a.Unit.String() != u.Code {
			t.Errorf("%s is to be written %q, which is read as %s, %v", u.Code, u.Write, a, err)
		}
	}
	s := core.Speaker{Book: word.English()}
	for _, r := range s.ReckoningList() {
		for _, in := range r.Inputs {
			if in.Words == "" || len(in.Write) == 0 && r.Name != "convert" {
				t.Errorf("%s: %+v", r.Name, in)
			}
		}
	}
}

// TestReckonPounds: pounds are pounds, and give what the kilograms give.
func TestReckonPounds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		lb := rapid.IntRange(2, 800).Draw(t, "lb")
		kg, err := quantity.MustParse(fmt.Sprintf("%d [lb_av]", lb)).In(quantity.Kg)
		if err != nil {
			t.Fatal(err)
		}
		for _, c := range everyWay {
			typed := inputs(c.given)
			if typed["weight"] == "" {
				continue
			}
			typed["weight"] = fmt.Sprintf("%d lb", lb)
			x, err := reckon(t, c.name, typed)
			typed["weight"] = kg.String()
			y, err2 := reckon(t, c.name, typed)
			if (err == nil) != (err2 == nil) {
				t.Fatalf("%s of %d lb: %v; of %s: %v", c.name, lb, err, kg, err2)
			}
			if !slices.Equal(x.Values, y.Values) || !slices.Equal(x.Cautions, y.Cautions) {
				t.Fatalf("%s: %v for %d lb, %v for %s", c.name, x.Values, lb, y.Values, kg)
			}
		}
	})
}

func tenths(t *rapid.T, name string, low, high int) string {
	n := rapid.IntRange(low, high).Draw(t, name)
	return fmt.Sprintf("%d.%d", n/10, n%10)
}

func number(t *rapid.T, r core.Result, name string) float64 {
	for _, v := range r.Values {
		if v.Name == name {
			return v.Amount.Value.Float64()
		}
	}
	t.Fatalf("%s has no value %s", r.Reckoning, name)
	return 0
}

// TestReckonInfusionBothWays: the rate of a dose gives that dose, within what
// three figures can tell.
func TestReckonInfusionBothWays(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		typed := map[string]string{
			"dose_rate": tenths(t, "dose", 1, 2400) + " ug/kg/min", "weight": tenths(t, "weight", 5, 2000) + " kg",
			"strength": tenths(t, "strength", 1, 500) + " mg/mL", "drops_per_ml": fmt.Sprint(rapid.SampledFrom([]int{10, 15, 20, 60}).Draw(t, "drops")),
		}
		r, err := reckon(t, "infusion", typed)
		if err != nil {
			t.Fatal(err)
		}
		whole(t, "infusion", r)
		back, err := reckon(t, "infusion-dose", map[string]string{"rate": valueOf(r, "rate"), "weight": typed["weight"], "strength": typed["strength"]})
		if err != nil {
			t.Fatal(err)
		}
		var dose float64
		if _, err := fmt.Sscan(typed["dose_rate"], &dose); err != nil {
			t.Fatal(err)
		}
		if got := number(t, back, "dose_per_kg_per_minute"); got < dose*0.99 || got > dose*1.01 {
			t.Fatalf("%v: %s, and back %v ug/kg/min", typed, valueOf(r, "rate"), got)
		}
		// Drops are counted to a tenth: 0.05 of them, and what the rate was rounded by.
		var drops float64
		if _, err := fmt.Sscan(typed["drops_per_ml"], &drops); err != nil {
			t.Fatal(err)
		}
		want := number(t, r, "rate") * drops / 60
		if got := number(t, r, "drop_rate"); got < want*0.99-0.05 || got > want*1.01+0.05 {
			t.Fatalf("%v: %v drops/min of %s", typed, got, valueOf(r, "rate"))
		}
	})
}

// TestReckonDilutionAddsUp: what is taken and added is what it gives, and it
// holds as much of the drug as was taken.
func TestReckonDilutionAddsUp(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		typed := map[string]string{"strength": tenths(t, "strength", 20, 1000) + " mg/mL", "wanted": tenths(t, "wanted", 1, 19) + " mg/mL"}
		if rapid.Bool().Draw(t, "by volume") {
			typed["volume"] = tenths(t, "volume", 10, 5000) + " mL"
		} else {
			typed["take"] = tenths(t, "take", 1, 500) + " mL"
		}
		r, err := reckon(t, "dilution", typed)
		if err != nil {
			t.Fatal(err)
		}
		whole(t, "dilution", r)
		var amounts [3]quantity.Amount
		for i, name := range []string{"take", "add", "gives"} {
			amounts[i] = quantity.MustParse(valueOf(r, name))
			if amounts[i].Value.Sign() <= 0 {
				t.Fatalf("%v: %s = %s", typed, name, amounts[i])
			}
		}
		sum, err := amounts[0].Add(amounts[1])
		if err != nil {
			t.Fatal(err)
		}
		if c, err := sum.Cmp(amounts[2]); err != nil || c != 0 {
			t.Fatalf("%v: %s and %s are not %s", typed, amounts[0], amounts[1], amounts[2])
		}
		var have, want float64
		if _, err := fmt.Sscan(typed["strength"], &have); err != nil {
			t.Fatal(err)
		}
		if _, err := fmt.Sscan(typed["wanted"], &want); err != nil {
			t.Fatal(err)
		}
		taken, made := have*amounts[0].Value.Float64(), want*amounts[2].Value.Float64()
		if taken < made*0.99 || taken > made*1.01 {
			t.Fatalf("%v: %v mg taken, %v mg wanted", typed, taken, made)
		}
	})
}

// TestReckonLocalNeverOver: the volume never holds more than the limit for each
// kg, nor more than the cap.
func TestReckonLocalNeverOver(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		perKg, weight, percent, most := tenths(t, "per kg", 1, 90), tenths(t, "weight", 5, 2000), tenths(t, "percent", 1, 50), rapid.IntRange(1, 500).Draw(t, "cap")
		r, err := reckon(t, "local-maximum", map[string]string{
			"per_kg": perKg + " mg/kg", "weight": weight + " kg", "strength": percent + " %", "cap": fmt.Sprint(most, " mg")})
		if err != nil {
			t.Fatal(err)
		}
		whole(t, "local-maximum", r)
		strength, err := reckon(t, "strength", map[string]string{"strength": percent + " %"})
		if err != nil {
			t.Fatal(err)
		}
		holds, err := quantity.MustParse(valueOf(r, "volume")).Mul(quantity.MustParse(valueOf(strength, "mg_per_ml")), quantity.Mg)
		if err != nil {
			t.Fatal(err)
		}
		limit, err := quantity.MustParse(perKg+" mg/kg").Mul(quantity.MustParse(weight+" kg"), quantity.Mg)
		if err != nil {
			t.Fatal(err)
		}
		for _, top := range []quantity.Amount{limit, quantity.MustParse(fmt.Sprint(most, " mg"))} {
			if c, err := holds.Cmp(top); err != nil || c > 0 {
				t.Fatalf("%s of %s %% hold %s, over %s: %v", valueOf(r, "volume"), percent, holds, top, err)
			}
		}
	})
}

// TestReckonConvertBack: there and back is the same, to 12 figures.
func TestReckonConvertBack(t *testing.T) {
	units := core.UnitList()
	rapid.Check(t, func(t *rapid.T) {
		from := rapid.SampledFrom(units).Draw(t, "from")
		to := rapid.SampledFrom(slices.DeleteFunc(slices.Clone(units), func(u core.UnitView) bool { return u.Measures != from.Measures })).Draw(t, "to")
		n := tenths(t, "number", 1, 100_000)
		r, err := reckon(t, "convert", map[string]string{"from": n + " " + from.Write, "to": to.Code})
		if err != nil {
			t.Fatal(err)
		}
		whole(t, "convert", r)
		back, err := reckon(t, "convert", map[string]string{"from": valueOf(r, "result"), "to": from.Code})
		if err != nil {
			t.Fatal(err)
		}
		var was float64
		if _, err := fmt.Sscan(n, &was); err != nil {
			t.Fatal(err)
		}
		// A scale of temperature has its nought far away: the difference counts.
		if got := number(t, back, "result"); got-was > 1e-9*(1+was) || was-got > 1e-9*(1+was) {
			t.Fatalf("%s %s: %s, and back %v", n, from.Code, valueOf(r, "result"), got)
		}
	})
}

// Whatever is typed, there is an answer that is whole, or an error in words that
// names an input.
func FuzzReckon(f *testing.F) {
	for i, c := range everyWay {
		for name, value := range inputs(c.given) {
			f.Add(i, name, value)
		}
	}
	for _, value := range []string{"70", "1:1000", "1 in 10", "½ gr", "1e9 kg", "-0 kg", "0.00000000000000000001 kg", "9999999999999999999999999999 kg", "100 mg/3 mL", "5 %", "1 IU/mL"} {
		f.Add(3, "weight", value)
		f.Add(30, "strength", value)
		f.Add(42, "from", value)
	}
	f.Fuzz(func(t *testing.T, which int, name, value string) {
		if which < 0 {
			which = -(which + 1)
		}
		c := everyWay[which%len(everyWay)]
		typed := maps.Clone(inputs(c.given))
		typed[name] = value
		r, err := reckon(t, c.name, typed)
		if err == nil {
			whole(t, c.name, r)
			return
		}
		faults := core.InputFaults(err)
		if len(faults) == 0 {
			t.Fatalf("%s %v: %v names no input", c.name, typed, err)
		}
		said(t, c.name, err, faults[0].Input.Name)
	})
}
