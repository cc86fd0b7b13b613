package timeline

import (
	"bytes"
	"encoding"
	"errors"
	"flag"
	"fmt"
	"io/fs"
	"os"
	"reflect"
	"strings"
	"testing"
	"time"

	"chinlift/core/term"
)

var update = flag.Bool("update", false, "add the golden lines that are missing; those that are there stay")

const goldenFile = "testdata/lines.jsonl"

func intOf(n int) *int { return &n }

var someHash = Hash(strings.Repeat("5e", 32))

// examples has every kind as it is written today, every field of it filled in
// at least once, and the least that a kind may hold.
func examples() []Payload {
	return []Payload{
		&LogOpened{Cause: term.LogCauseNew},
		&LogOpened{Cause: term.LogCauseRestored, Cites: number(aLog, 9), At: 412, Head: someHash},
		&Person{Roles: []term.Role{term.RolePatient}, Sex: term.SexFemale},
		&Person{Roles: []term.Role{term.RoleNewborn, term.RolePatient}, Mother: patient},
		&ClinicSetting{Setting: term.SettingAltitude, Value: amount("1250 m")},
		&ClinicSetting{Setting: term.SettingFastingSet, Text: "two-four-six"},
		&ClinicSetting{Setting: term.SettingListFile, File: "open-drop.toml", Blob: someHash},
		&Confirmed{Drug: "morphine", Use: "premedication", Rule: someHash},
		&Confirmed{Drug: "morphine", Use: "premedication", Rule: someHash, Withdrawn: true},
		&KitItem{List: "open-drop", Version: string(someHash), Item: "suction", State: term.KitStateFault, Answer: term.KitAnswerBorrowed},
		&KitItem{List: "open-drop", Version: string(someHash), Item: "gauze", State: term.KitStateGood, Swept: true},
		&IdentityDestroyed{Events: []string{number(anEvent, 3)}, Grounds: term.GroundsPatientAsked},
		&CaseOpened{Patient: patient, Urgency: term.UrgencyElective},
		&CaseClosed{},
		&Outcome{Outcome: term.OutcomeRecovered},
		&Facts{
			Age: amount("34 a"), Sex: term.SexMale, Weight: amount("61.5 kg"), WeightHow: term.WeightHowMeasured, WeightBy: term.WeightByScale,
			Length: amount("170 cm"), ASA: term.ASA2, Emergency: true, Mallampati: term.Mallampati2, Mouth: term.MouthOpeningThreeFingers,
			Neck: term.NeckFree, Teeth: term.TeethLoose, Allergies: []term.Allergy{term.AllergyNoneKnown}, Side: term.SideLeft, SideMarked: Yes,
			Consent: term.ConsentByPatient, Haemoglobin: amount("11.2 g/dL"), Pregnant: No,
			With: []term.Condition{term.ConditionAsthma}, Without: []term.Condition{term.ConditionGlaucoma, term.ConditionPorphyria},
		},
		&Intake{What: term.IntakeLightMeal},
		&Intake{What: term.IntakeUnknown, UnknownTime: true},
		&Baseline{Measures{
			Systolic: amount("120 mm[Hg]"), Diastolic: amount("80 mm[Hg]"), Pulse: amount("72 /min"), Rhythm: term.RhythmRegular, SpO2: amount("98 %"),
			Breaths: amount("14 /min"), EtCO2: amount("5.1 %"), Temperature: amount("36.60 Cel"), Glucose: amount("5.2 mmol/L"),
		}},
		&Plan{
			Techniques: []term.Technique{term.TechniqueOpenDrop}, Agent: term.AgentEther, Airway: term.AirwayDeviceFaceMask, Position: term.PositionSupine,
			Operation: term.OperationHernia, Start: start, Drugs: []string{"atropine"}, Steps: []term.Step{term.StepKnife}, LossAllowed: amount("600 mL"), Hazards: []term.Hazard{term.HazardDiathermy},
		},
		&Phase{Phase: term.PhaseKnifeToSkin},
		&Phase{Phase: term.PhaseHandedOver, Home: Yes},
		&Vitals{Measures: Measures{
			Systolic: amount("16.0 kPa"), Diastolic: amount("10.5 kPa"), Pulse: amount("0 /min"), Rhythm: term.RhythmIrregular, SpO2: amount("91 %"),
			Breaths: amount("22 /min"), EtCO2: amount("38 mm[Hg]"), Temperature: amount("98.6 [degF]"), Glucose: amount("94 mg/dL"),
		}, LookedSame: true},
		&Support{Support: term.SupportAssisted},
		&Drug{
			Drug: "atropine", Dose: amount("1200 ug"), Route: term.RouteIm, Strength: amount("0.6 mg/mL"), Volume: amount("2 mL"), Batch: "K-17",
			Frozen: &Suggested{Rule: someHash, Use: "premedication", Guessed: true, Weight: amount("61.5 kg"), Low: amount("0.615 mg"), High: amount("1.23 mg")},
		},
		&Drug{Drug: "oxytocin", Dose: amount("5 [IU]"), Route: term.RouteIv, Strength: amount("10 [IU]/mL")},
		&Infusion{Act: term.InfusionActStarted, Drug: "ketamine", Rate: amount("40 {drop}/min"), Strength: amount("1 mg/mL"), Route: term.RouteIv},
		&Infusion{Act: term.InfusionActChanged, Run: number(anEvent, 24), Drug: "ketamine", Rate: amount("20 mL/h"), Strength: amount("1 mg/mL"), Route: term.RouteIv,
			Frozen: &Suggested{Rule: someHash, Use: "infusion-iv", Guessed: true, Weight: amount("61.5 kg"), Low: amount("10 mg/h"), High: amount("40 mg/h")}},
		&Infusion{Act: term.InfusionActStopped, Run: number(anEvent, 24), Drug: "ketamine"},
		&AgentDelivery{
			Agent: term.AgentEther, Drops: amount("60 {drop}/min"), Wetness: term.WetnessDamp, Bottle: amount("140 mL"),
			Oxygen: amount("0 L/min"), Cover: term.CoverOn,
		},
		&AgentDelivery{Agent: term.AgentHalothane, Percent: amount("1.5 %")},
		&AgentDelivery{Agent: term.AgentEther, Off: true},
		&Signs{
			Breathing: term.BreathingEvenAutomatic, Eyes: term.EyesStillCentral, Pupils: term.PupilsMiddle, Lid: term.ReflexGone, Cornea: term.ReflexFaint,
			Jaw: term.JawSlack, Chest: term.ChestFull, Secretion: term.SecretionSome, Movement: term.MovementNone, Sweat: term.SweatDry,
			Tears: term.TearsNone, Colour: term.ColourPink,
		},
		&Block{Block: term.BlockKindSpinal, Site: term.BlockSiteL34, Attempts: 2, Height: term.BlockHeightT6, Motor: term.Motor3},
		&Airway{
			Device: term.AirwayDeviceTrachealTube, Act: term.AirwayActIn, Size: amount("7.0 mm").Value, Route: term.AirwayRouteMouth,
			Needed: []term.AirwayNeed{term.AirwayNeedBougie, term.AirwayNeedSecondTry}, Attempts: 2, View: term.View2b,
		},
		&Position{Position: term.PositionLeftTilt, EyesCovered: true, Padded: true},
		&In{What: term.FluidInCompoundLactate, Volume: amount("500 mL")},
		&Out{What: term.FluidOutBlood, Volume: amount("0.35 L"), How: term.MeasuredGuessed},
		&Step{Step: term.StepClosingSkin},
		&Birth{Newborn: number(aPerson, 7), Sex: term.SexFemale, Weight: amount("3100 g"), Apgar1: intOf(0), Apgar5: intOf(9), Cried: Yes},
		&Trouble{Trouble: term.TroubleLaryngospasm, Act: term.TroubleActStep, Step: "jaw-thrust"},
		&Trouble{Trouble: term.TroubleArrest, Act: term.TroubleActStep, Card: "arrest-child", Step: "adrenaline", Given: number(anEvent, 8)},
		&Mark{},
		&Mark{Label: term.MarkLabelBled},
		&Note{},
		&Unwatched{Monitor: term.MonitorCapnograph, Because: term.BecauseNotHere},
		&Owed{Act: term.OwedActGiven, For: term.OwedOverLimit, Over: number(anEvent, 22), Debt: number(anEvent, 23)},
		&Waking{Pain: intOf(0), Nausea: intOf(3), Met: []string{"awake", "airway"}, NotMet: []string{"bleeding"}},
		&Waking{Steady: Yes},
		&Waking{Activity: intOf(2), Respiration: intOf(2), Circulation: intOf(1), Consciousness: intOf(1), Oxygen: intOf(0)},
		&Struck{},
		&Restored{},
		&Moved{From: caseB},
		// Added later.
		&Vitals{Measures: Measures{Systolic: amount("120 mm[Hg]"), Pulse: amount("88 /min")}, LookedSame: true, Same: []string{"pulse"}},
		&Watch{Watcher: term.WatcherNurse},
		&Facts{
			Admission: term.AdmissionDayCase, Place: term.PlaceWard, Before: term.EarlierTrouble, Family: term.EarlierNoTrouble, Takes: []term.Takes{term.TakesPressure},
			Habits: []term.Habit{term.HabitAlcohol}, Smoker: No, SickBefore: Yes, Reflux: No, Fitness: term.FitnessTwoFlights, Heart: term.ExaminedNormal, Lungs: term.ExaminedNotNormal,
			Urine: []term.Urine{term.UrineSugar, term.UrineKetones}, Thyromental: amount("7 cm"), NostrilLeft: term.NostrilOpen, NostrilRight: term.NostrilNarrow,
			TestsSeen: []term.Test{term.TestBloodGroup}, MarkedBy: term.RoleSurgeon, RisksTold: Yes, Assistant: Yes, Warnings: []term.Warning{term.WarningMask}, PremedEffect: term.PremedEffectCalm,
		},
		&Plan{StepTimes: []string{"knife 20 min", "closing-skin 70 min"}, Fluids: []term.FluidIn{term.FluidInCompoundLactate}, Recovery: term.WatcherNurse, OpioidsAfter: Yes, Place: term.PlaceTheatre},
		&Vitals{PressureBy: term.PressureByArtery, Trace: term.TraceSinus, OxygenIn: amount("35 %"), AgentOut: amount("1.2 %"), TrainOfFour: intOf(0)},
		&Airway{Device: term.AirwayDeviceTrachealTube, Act: term.AirwayActIn, Cuff: Yes, ConfirmedBy: []term.ConfirmedBy{term.ConfirmedByEar, term.ConfirmedByCO2}},
		&Support{Support: term.SupportControlled, System: term.BreathingSystemDrawOver, Tidal: amount("450 mL"), Rate: amount("14 /min")},
		&Block{Block: term.BlockKindSpinal, Needle: term.Gauge25, Catheter: No, FoundBy: term.FoundByFluid},
		&Position{Position: term.PositionSupine, Limbs: []term.Limb{term.LimbArmLeftOut}},
		&ClinicSetting{Setting: term.SettingStop, File: "before-knife.sterility", Text: No},
		&SetAgreed{Set: "common-practice", Version: someHash},
		&SetAgreed{Set: "common-practice", Version: someHash, Withdrawn: true},
		&Pause{Pause: "before-knife", Version: string(someHash), Item: "antibiotic", Answer: term.PauseAnswerNotApplicable},
		&Pause{Pause: "before-knife", Version: string(someHash), Item: "surgeon", Answer: term.PauseAnswerYes, Swept: true},
		&Stomach{By: term.SlowStomachInjury},
		&Stomach{By: term.SlowStomachOpioid, UnknownTime: true},
		&Team{Role: term.RoleSurgeon},
		&Consulted{Adviser: term.AdviserSenior, Advice: term.AdviceInformed},
		&FollowUp{Version: strings.Repeat("ab", 32), Question: "throat", Answer: No},
		&FollowUp{Version: strings.Repeat("ab", 32), Question: "nausea", Score: intOf(4)},
		&FollowUp{Version: strings.Repeat("ab", 32), Question: "complication", Grade: term.Grade2},
		&Handover{To: term.WatcherNurse},
		&Access{Site: term.AccessSiteHandLeft, Gauge: term.Gauge18, Attempts: 2},
		&Access{Site: term.AccessSiteHandLeft, Out: true},
		&AttachedTo{What: []term.Attached{term.AttachedFluidWarmer, term.AttachedStockings}},
		&AttachedTo{What: []term.Attached{term.AttachedFluidWarmer}, Off: true},
		&Monitors{On: []term.Monitor{term.MonitorOximeter, term.MonitorPressure}, Alarms: Yes},
		&Performed{Operation: term.OperationHernia, Techniques: []term.Technique{term.TechniqueOpenDrop}, AsPlanned: Yes},
		&Depth{
			Model: "depth-1", Agent: term.AgentEther, Asked: true, Drift: "signs-lighter", Drops: amount("120 {drop}/min"), Percent: amount("6 %"), Wetness: term.WetnessWet,
			Course: []DepthPoint{
				{Before: amount("4 min"), Withdrawn: []string{"old-signs", "old-vitals"}},
				{Before: amount("0 min"), Low: amount("0.92 1"), Middle: amount("1.20 1"), High: amount("1.55 1")},
			},
			Leads: []DepthLead{{What: "ready", Step: "closing", From: amount("6 min"), Until: amount("14 min")}, {What: "too-deep", How: "never"}},
		},
		&Depth{Model: "depth-1", Agent: term.AgentHalothane, Course: []DepthPoint{{Before: amount("0 min"), Withdrawn: []string{"low-saturation"}}}},
		&Stock{What: term.StockWhatCylinder, Act: term.StockActCounted, Item: "other", Batch: "7", Water: amount("4.7 L"), Gauge: amount("96 bar")},
		&Stock{What: term.StockWhatConcentrator, Act: term.StockActCounted, Item: "concentrator", Rated: amount("5 L/min"), Percent: amount("92 %")},
		&Stock{What: term.StockWhatAgent, Act: term.StockActReceived, Item: "ether", Batch: "K-17", Volume: amount("500 mL"), Expires: "2027-04", Opened: "2026-11-25"},
		&Stock{What: term.StockWhatAgent, Act: term.StockActCounted, Item: "ether", Batch: "K-18", Volume: amount("120 mL"), Opened: "2026-11-25", FilledBy: term.FilledByAnother, Smelt: Yes},
		&Stock{What: term.StockWhatDrug, Act: term.StockActCounted, Item: "ketamine", Batch: "A3", Count: amount("12 1"), Each: amount("500 mg"), Expires: "2026-11-30"},
		&Stock{What: term.StockWhatDisposable, Act: term.StockActGone, Item: "gauze", Count: amount("4 1")},
		&ClinicSetting{Setting: term.SettingBarometer, Value: amount("640 mm[Hg]")},
		&Facts{Age: amount("9 d"), Premature: Yes},
		&Position{Position: term.PositionLeftSide, EyesCovered: true, EyesTreated: true},
		&Waking{Confused: Yes},
		&Facts{SameAs: caseB},
		&ClinicSetting{Setting: term.SettingGivingSet, Value: amount("20 {drop}/mL")},
		&ClinicKey{Recipient: "age1" + strings.Repeat("q", 58), Identity: "YWdlLWVuY3J5cHRpb24ub3JnL3Yx"},
		&Claimed{Person: provider},
		&Facts{Supervision: term.SupervisionNear},
		&IdentityDestroyed{Events: []string{number(anEvent, 3)}, Grounds: term.GroundsLaw, Asked: term.AskedByAuthority},
		&Facts{WeightChecked: amount("52 kg")},
	}
}

// goldenDraft is the draft by which an example becomes a golden line.
func goldenDraft(p Payload, n int) Draft {
	k := kinds[p.Kind().Name()]
	d := Draft{
		ID: number(anEvent, n), Scope: k.scopes[0], About: caseA, At: start.Add(time.Duration(n) * time.Minute), Author: provider, Payload: p,
		Entered: Entered{Wall: start.Add(time.Duration(n)*time.Minute + 350*time.Millisecond), SinceBootMS: int64(n) * 60_000, Boot: "boot-1"},
	}
	switch p.(type) {
	case *Person:
		d.Private = Private{PrivateName: "Belumi Oradane", PrivateNumber: "0412"}
	case *Note:
		d.Private = Private{PrivateText: "\"wet\" <line>\nsecond line, é & 水"}
	}
	if k.correctionOnly {
		d.Amends, d.Replaces, d.Reason = number(anEvent, 1), []string{number(anEvent, 1), number(anEvent, 2)}, term.ReasonWrongPatient
	}
	return d
}

func readGolden(t testing.TB) []Line {
	t.Helper()
	b, err := os.ReadFile(goldenFile)
	if errors.Is(err, fs.ErrNotExist) && *update {
		return nil
	}
	if err != nil {
		t.Fatal(err)
	}
	var lines []Line
	for i, text := range bytes.Split(bytes.TrimSuffix(b, []byte("\n")), []byte("\n")) {
		l, err := ParseLine(text)
		if err != nil {
			t.Fatalf("golden line %d: %v", i+1, err)
		}
		if !bytes.Equal(l.Bytes(true), text) {
			t.Errorf("golden line %d is written again as\n%s\nwant\n%s", i+1, l.Bytes(true), text)
		}
		lines = append(lines, l)
	}
	return lines
}

// exampleOf tells the examples apart: by kind and data.
func exampleOf(t testing.TB, p Payload) string {
	t.Helper()
	data, err := marshal(p)
	if err != nil {
		t.Fatal(err)
	}
	return string(p.Kind()) + " " + string(data)
}

// extendGolden adds a line for every example that no line holds. Lines that are there are never touched: files in the field
// hold lines like them.
func extendGolden(t *testing.T) {
	lines := readGolden(t)
	have := map[string]bool{}
	prev := NoHash
	for _, l := range lines {
		have[string(l.Event.Kind)+" "+string(l.Event.Data)] = true
		prev = l.H
	}
	var out bytes.Buffer
	for _, p := range examples() {
		if have[exampleOf(t, p)] {
			continue
		}
		n := len(lines) + 1
		d := goldenDraft(p, n)
		l, err := d.Seal(number(aLog, 1), int64(n), int64(n), prev)
		if err != nil {
			t.Fatal(err)
		}
		lines, prev = append(lines, l), l.H
		out.Write(l.Bytes(true))
		out.WriteByte('\n')
	}
	f, err := os.OpenFile(goldenFile, os.O_APPEND|os.O_CREATE|os.O_WRONLY, 0o644)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := f.Write(out.Bytes()); err != nil {
		t.Fatal(err)
	}
	if err := f.Close(); err != nil {
		t.Fatal(err)
	}
}

func TestGoldenLines(t *testing.T) {
	if *update {
		extendGolden(t)
	}
	have, held := map[Kind]bool{}, map[string]bool{}
	prev := NoHash
	for i, l := range readGolden(t) {
		have[l.Event.Kind] = true
		held[string(l.Event.Kind)+" "+string(l.Event.Data)] = true
		if err := l.Verify(); err != nil {
			t.Errorf("line %d: %v", i+1, err)
		}
		if l.Event.Prev != prev || l.Event.Seq != int64(i+1) {
			t.Errorf("line %d: number %d, and the hash before it is %s, want %s", i+1, l.Event.Seq, l.Event.Prev, prev)
		}
		prev = l.H
		if u, ok := l.Payload.(*Unknown); ok {
			t.Errorf("line %d: %s is not known: %s", i+1, l.Event.Kind, u.Why)
			continue
		}
		if err := l.Payload.Check(); err != nil {
			t.Errorf("line %d: %v", i+1, err)
		}
		if l.Payload.Kind().Name() != l.Event.Kind.Name() {
			t.Errorf("line %d of kind %s reads as %s", i+1, l.Event.Kind, l.Payload.Kind())
		}
		if l.Event.V == Envelope {
			if e, err := marshal(l.Event); err != nil || !bytes.Equal(e, l.E) {
				t.Errorf("line %d: the event is made again as\n%s\nwant\n%s (%v)", i+1, e, l.E, err)
			}
		}
		if l.Payload.Kind() == l.Event.Kind {
			if data, err := marshal(l.Payload); err != nil || !bytes.Equal(data, l.Event.Data) {
				t.Errorf("line %d: the data is made again as\n%s\nwant\n%s (%v)", i+1, data, l.Event.Data, err)
			}
		}
	}
	for _, p := range examples() {
		if !held[exampleOf(t, p)] {
			t.Errorf("no golden line holds %s: run go test -run TestGoldenLines -update", exampleOf(t, p))
		}
	}
	for _, k := range Kinds() {
		if !have[k] {
			t.Errorf("no golden line of %s: add an example and run go test -run TestGoldenLines -update", k)
		}
	}
	for name, k := range kinds {
		for v := range k.older {
			if old := Kind(fmt.Sprintf("%s/%d", name, v)); !have[old] {
				t.Errorf("no golden line of %s, of which files in the field hold some", old)
			}
		}
	}
}

// TestExamplesFillEveryField, so that the golden lines hold every field there is.
func TestExamplesFillEveryField(t *testing.T) {
	filled := map[string]bool{}
	var walk func(v reflect.Value, path string)
	walk = func(v reflect.Value, path string) {
		if v.IsZero() {
			return
		}
		filled[path] = true
		if v.Kind() == reflect.Pointer {
			v = v.Elem()
		}
		if v.Kind() == reflect.Slice && !isText(v.Type()) {
			for i := range v.Len() {
				walk(v.Index(i), path) // of its parts the fields, as eachField has them
			}
		}
		if v.Kind() == reflect.Struct && !isText(v.Type()) {
			for i := range v.NumField() {
				walk(v.Field(i), path+"."+v.Type().Field(i).Name)
			}
		}
	}
	for _, p := range examples() {
		if err := p.Check(); err != nil {
			t.Errorf("example: %v", err)
		}
		walk(reflect.ValueOf(p), string(p.Kind()))
	}
	for _, k := range Kinds() {
		eachField(reflect.TypeOf(Blank(k.Name())), string(k), func(path string, _ reflect.Type) {
			if !filled[path] {
				t.Errorf("no example fills %s", path)
			}
		})
	}
}

// isText reports whether a type is one string in JSON.
func isText(t reflect.Type) bool {
	return t.Implements(reflect.TypeFor[encoding.TextMarshaler]()) || reflect.PointerTo(t).Implements(reflect.TypeFor[encoding.TextMarshaler]())
}

// eachField walks the fields of a type, those of its parts too.
func eachField(t reflect.Type, path string, f func(path string, t reflect.Type)) {
	switch {
	case isText(t):
	case t.Kind() == reflect.Pointer, t.Kind() == reflect.Slice, t.Kind() == reflect.Array:
		eachField(t.Elem(), path, f)
	case t.Kind() == reflect.Map:
		eachField(t.Key(), path, f)
		eachField(t.Elem(), path, f)
	case t.Kind() == reflect.Struct:
		for i := range t.NumField() {
			field := t.Field(i)
			f(path+"."+field.Name, field.Type)
			eachField(field.Type, path+"."+field.Name, f)
		}
	}
}

// TestNoFloats: numbers are decimal strings with a unit, or counts. A float
// would change what was entered.
func TestNoFloats(t *testing.T) {
	seen := 0
	look := func(path string, typ reflect.Type) {
		seen++
		for typ.Kind() == reflect.Pointer || typ.Kind() == reflect.Slice || typ.Kind() == reflect.Map {
			if typ == reflect.TypeFor[[]byte]() {
				break
			}
			typ = typ.Elem()
		}
		switch typ.Kind() {
		case reflect.Float32, reflect.Float64, reflect.Complex64, reflect.Complex128, reflect.Interface:
			t.Errorf("%s is a %s", path, typ)
		case reflect.Int, reflect.Int64, reflect.String, reflect.Bool, reflect.Struct, reflect.Uint8:
		default:
			t.Errorf("%s is a %s, which this test does not know", path, typ)
		}
	}
	for _, k := range Kinds() {
		eachField(reflect.TypeOf(Blank(k.Name())), string(k), look)
	}
	eachField(reflect.TypeFor[Event](), "event", look)
	if seen < 100 {
		t.Errorf("only %d fields were looked at", seen)
	}
}

// TestFieldNames: members are lower case, or ParseLine would refuse what Seal
// has written.
func TestFieldNames(t *testing.T) {
	for _, p := range examples() {
		data, err := marshal(p)
		if err != nil {
			t.Fatal(err)
		}
		if err := strictJSON(data); err != nil {
			t.Errorf("%s: %v", data, err)
		}
		if again, err := DecodePayload(p.Kind().Name(), data); err != nil || !reflect.DeepEqual(again, p) {
			t.Errorf("%s reads back as %+v, %v", data, again, err)
		}
	}
}
