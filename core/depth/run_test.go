package depth

import (
	"cmp"
	"errors"
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"chinlift/core/agent"
	"chinlift/core/quantity"
	"chinlift/core/term"
	"chinlift/core/uptake"
)

var (
	steady = Supply{InspiredMmHg: uptake.Range{Low: 45, Value: 60, High: 76}, MostMmHg: 186}
	well   = Vitals{PulsePerMin: 90, SystolicMmHg: 120, SpO2Percent: 98}
	asleep = Look{Breathing: term.BreathingEvenAutomatic, Eyes: term.EyesStillCentral, Lid: term.ReflexGone, Jaw: term.JawSlack}
)

func at(t testing.TB, r *Run, events []Event, minute float64) Estimate {
	t.Helper()
	if err := r.Update(events, minute); err != nil {
		t.Fatal(err)
	}
	return r.Estimate()
}

func given(more ...Event) []Event {
	return append([]Event{{What: WhatSupply, Supply: steady}}, more...)
}

func seen(minute float64, k Look) []Event {
	return []Event{{AtMin: minute, What: WhatLook, Look: k}, {AtMin: minute, What: WhatVitals, Vitals: well}}
}

func TestEstimate(t *testing.T) {
	r := newRun(t, who70, Options{Seed: 3})
	e := at(t, r, given(seen(20, asleep)...), 21)
	if len(e.Withdrawn) > 0 {
		t.Fatal(e.Withdrawn)
	}
	if !(e.DepthMAC.Low < e.DepthMAC.Value && e.DepthMAC.Value < e.DepthMAC.High) || e.Version != Version || e.AtMin != 21 {
		t.Errorf("%+v", e)
	}
	if !slices.Contains(e.Cautions, uptake.NeverTried) || !slices.Contains(e.Cautions, NotAMonitor) || len(e.Sources) == 0 {
		t.Errorf("cautions %v", e.Cautions)
	}
	low, err := e.Answer.Low.Float64(quantity.One)
	if err != nil || low > e.DepthMAC.Low {
		t.Errorf("%v is not rounded outwards: %v", e.Answer.Low, e.DepthMAC.Low)
	}
}

func TestWithdrawn(t *testing.T) {
	look := func(k Look) func(*[]Event) {
		return func(e *[]Event) { *e = append(*e, Event{AtMin: 20.2, What: WhatLook, Look: k}) }
	}
	vitals := func(v Vitals) func(*[]Event) {
		return func(e *[]Event) { *e = append(*e, Event{AtMin: 20.2, What: WhatVitals, Vitals: v}) }
	}
	for _, c := range []struct {
		name string
		want Reason
		add  func(*[]Event)
	}{
		{"wide and fixed", DeepSign, look(Look{Pupils: term.PupilsWideFixed})},
		{"belly alone", DeepSign, look(Look{Breathing: term.BreathingBellyOnly})},
		{"shallow", DeepSign, look(Look{Breathing: term.BreathingShallow})},
		{"ribs still", DeepSign, look(Look{Chest: term.ChestStill})},
		{"see-saw", DeepOrClosed, look(Look{Breathing: term.BreathingSeeSaw})},
		{"opposite", DeepOrClosed, look(Look{Chest: term.ChestOpposite})},
		{"noisy", ObstructedSign, look(Look{Breathing: term.BreathingNoisy})},
		{"silent", ObstructedSign, look(Look{Breathing: term.BreathingSilent})},
		{"held", ObstructedSign, look(Look{Breathing: term.BreathingHeld})},
		{"blue", HypoxicSign, look(Look{Colour: term.ColourBlue})},
		{"dusky", HypoxicSign, look(Look{Colour: term.ColourDusky})},
		{"93 %", LowSaturation, vitals(Vitals{SpO2Percent: 93})},
		{"89 mmHg", LowPressure, vitals(Vitals{SystolicMmHg: 89})},
		{"apnoea", NoBreath, func(e *[]Event) {
			*e = append(*e, Event{AtMin: 20.2, What: WhatSupport, Support: term.SupportApnoea})
		}},
		{"relaxant", Relaxant, func(e *[]Event) { *e = append(*e, Event{AtMin: 20.2, What: WhatDrugs, Drugs: Drugs{Relaxant: true}}) }},
	} {
		events := given(seen(20, asleep)...)
		r := newRun(t, who70, Options{Seed: 3})
		if e := at(t, r, events, 20.2); len(e.Withdrawn) > 0 {
			t.Fatal(e.Withdrawn)
		}
		c.add(&events)
		e := at(t, r, events, 21)
		if !slices.Equal(e.Withdrawn, []Reason{c.want}) || e.DepthMAC != (uptake.Range{}) || e.Low != "" || e.Answer.Cautions != nil {
			t.Errorf("%s: %+v", c.name, e)
		}
		if _, ok, _ := r.TooDeep(steady); ok {
			t.Errorf("%s: a lead time all the same", c.name)
		}
		// Time does not make it well again; a look that says otherwise does.
		later := append(slices.Clone(events), seen(24, Look{Eyes: term.EyesStillCentral})...)
		later = slices.DeleteFunc(later, func(e Event) bool { return e.AtMin == 24 && e.What == WhatVitals })
		if e := at(t, r, later, 24); !slices.Contains(e.Withdrawn, c.want) {
			t.Errorf("%s: gone by itself", c.name)
		}
		mended := append(slices.Clone(events), seen(24, Look{Breathing: term.BreathingEvenAutomatic, Chest: term.ChestFull, Pupils: term.PupilsSmall, Colour: term.ColourPink})...)
		mended = append(mended, Event{AtMin: 24, What: WhatSupport, Support: term.SupportSpontaneous}, Event{AtMin: 24, What: WhatDrugs})
		if e := at(t, r, mended, 24); len(e.Withdrawn) > 0 {
			t.Errorf("%s: still withdrawn: %v", c.name, e.Withdrawn)
		}
	}
}

func TestOldInputs(t *testing.T) {
	r := newRun(t, who70, Options{Seed: 3})
	if e := at(t, r, given(), 4); !slices.Equal(e.Withdrawn, []Reason{NoSigns, NoVitals}) {
		t.Errorf("%v", e.Withdrawn)
	}
	events := given(seen(20, asleep)...)
	if e := at(t, r, events, 25); len(e.Withdrawn) > 0 {
		t.Errorf("five minutes are not over five: %v", e.Withdrawn)
	}
	if e := at(t, r, events, 25.2); !slices.Equal(e.Withdrawn, []Reason{OldSigns, OldVitals}) {
		t.Errorf("%v", e.Withdrawn)
	}
	events = append(events, Event{AtMin: 25, What: WhatVitals, Vitals: well})
	if e := at(t, r, events, 25.2); !slices.Equal(e.Withdrawn, []Reason{OldSigns}) {
		t.Errorf("%v", e.Withdrawn)
	}
	// The colour is no sign of depth.
	events = append(events, Event{AtMin: 25, What: WhatLook, Look: Look{Colour: term.ColourPink}})
	if e := at(t, r, events, 25.2); !slices.Equal(e.Withdrawn, []Reason{OldSigns}) {
		t.Errorf("%v", e.Withdrawn)
	}
}

// A limit of the clinic's stands for the default.
func TestLimits(t *testing.T) {
	events := given(seen(20, asleep)...)
	events = append(events, Event{AtMin: 20, What: WhatVitals, Vitals: Vitals{SpO2Percent: 90}})
	r := newRun(t, who70, Options{Limits: Limits{SpO2Percent: 88}})
	if e := at(t, r, events, 21); len(e.Withdrawn) > 0 {
		t.Errorf("%v", e.Withdrawn)
	}
	child := who70
	child.Age, child.Weight = quantity.MustParse("5 a"), quantity.MustParse("18 kg")
	// 70 + 2 x 5 mmHg.
	for systolic, low := range map[float64]bool{79: true, 80: false} {
		events[len(events)-1].Vitals = Vitals{SystolicMmHg: systolic}
		r := newRun(t, child, Options{})
		if e := at(t, r, events, 21); slices.Contains(e.Withdrawn, LowPressure) != low {
			t.Errorf("%v: %v", systolic, e.Withdrawn)
		}
	}
}

// One sign alone moves no end of the range, nor its middle, by a plane.
func TestOneSignMovesNoPlane(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		who := who70
		who.Agents = []term.Agent{rapid.SampledFrom([]term.Agent{term.AgentEther, term.AgentHalothane}).Draw(t, "agent")}
		r, err := New(who, Options{Seed: rapid.Uint64().Draw(t, "seed"), Bodies: 300})
		if err != nil {
			t.Fatal(err)
		}
		inspired := rapid.Float64Range(5, 140).Draw(t, "mmHg")
		if who.Agents[0] == term.AgentHalothane {
			inspired /= 6
		}
		minute := rapid.Float64Range(1, 60).Draw(t, "minute")
		events := []Event{{What: WhatSupply, Supply: Supply{InspiredMmHg: uptake.Range{Low: inspired * 0.7, Value: inspired, High: inspired * 1.3}, MostMmHg: 186}}}
		if err := r.Update(events, minute); err != nil {
			t.Fatal(err)
		}
		var before, after Estimate
		r.rangeNow(&before)
		i := rapid.IntRange(0, signCount-1).Draw(t, "sign")
		var k Look
		k.set(rowSigns[i], rapid.SampledFrom(etherRows[rowSigns[i]].codes).Draw(t, "code"))
		var heard [signCount]said
		// Weighed, and before anything is copied, which is chance.
		n := r.hear(&k, minute, &heard)
		if n > 0 {
			r.weigh(heard[:n], &k)
		}
		r.rangeNow(&after)
		for _, x := range [][2]float64{{before.DepthMAC.Low, after.DepthMAC.Low}, {before.DepthMAC.Value, after.DepthMAC.Value}, {before.DepthMAC.High, after.DepthMAC.High}} {
			if by := math.Abs(r.ladder.planes(x[0]) - r.ladder.planes(x[1])); by >= 1 {
				t.Fatalf("%+v moves %v to %v, %.2f planes", k, before.DepthMAC, after.DepthMAC, by)
			}
		}
	})
}

// Whichever way the events arrive, in order or late, one by one or at once, the
// answer is the same to the last bit.
func TestReplayIsTheSame(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var events []Event
		n := rapid.IntRange(1, 12).Draw(t, "events")
		for range n {
			e := Event{AtMin: math.Round(rapid.Float64Range(0, 45).Draw(t, "at")*100) / 100}
			switch rapid.IntRange(0, 4).Draw(t, "what") {
			case 0:
				e.What, e.Supply = WhatSupply, Supply{InspiredMmHg: uptake.Exactly(rapid.Float64Range(0, 120).Draw(t, "mmHg")), MostMmHg: 186}
			case 1:
				e.What, e.Support = WhatSupport, rapid.SampledFrom(term.SupportList.Codes()).Draw(t, "support")
			case 2:
				e.What, e.Drugs = WhatDrugs, Drugs{Opioid: rapid.Bool().Draw(t, "opioid")}
			case 3:
				e.What, e.Vitals = WhatVitals, well
			default:
				e.What, e.Look = WhatLook, anyLook(t)
			}
			events = append(events, e)
		}
		slices.SortStableFunc(events, func(a, b Event) int {
			switch {
			case a.AtMin < b.AtMin:
				return -1
			case a.AtMin > b.AtMin:
				return 1
			}
			return 0
		})
		o := Options{Seed: 5, Bodies: 60}
		whole, err := New(who70, o)
		if err != nil {
			t.Fatal(err)
		}
		if err := whole.Update(events, 46); err != nil {
			t.Fatal(err)
		}
		var want Estimate
		whole.rangeNow(&want)

		bits, err := New(who70, o)
		if err != nil {
			t.Fatal(err)
		}
		out := rapid.IntRange(0, n-1).Draw(t, "late")
		without := slices.Delete(slices.Clone(events), out, out+1)
		for m := 0.5; m < 46; m += rapid.Float64Range(0.3, 9).Draw(t, "by") {
			if err := bits.Update(without, m); err != nil {
				t.Fatal(err)
			}
		}
		if err := bits.Update(events, 46); err != nil {
			t.Fatal(err)
		}
		var got Estimate
		bits.rangeNow(&got)
		if got.DepthMAC != want.DepthMAC || got.Drift != want.Drift || !slices.Equal(bits.withdrawn(), whole.withdrawn()) {
			t.Fatalf("%v and %v", got.DepthMAC, want.DepthMAC)
		}
		same := func(a, b Sample) bool {
			return a.AtMin == b.AtMin && a.DepthMAC == b.DepthMAC && slices.Equal(a.Withdrawn, b.Withdrawn)
		}
		if a, b := bits.Course(-1), whole.Course(-1); len(b) != 47 || !slices.EqualFunc(a, b, same) {
			t.Fatalf("the course is\n%v\nand at once\n%v", a, b)
		}
	})
}

// Long cases thin their checkpoints, and a late entry comes out right.
func TestCheckpoints(t *testing.T) {
	o := Options{Seed: 5, Bodies: 50}
	events := given()
	for m := 4.0; m < 720; m += 4 {
		events = append(events, seen(m, asleep)...)
	}
	r := newRun(t, who70, o)
	at(t, r, events, 720)
	if len(r.marks) > mostMarks || len(r.marks) < mostMarks/2 {
		t.Errorf("%d checkpoints", len(r.marks))
	}
	late := slices.Insert(slices.Clone(events), 60, Event{AtMin: events[60].AtMin, What: WhatSupply, Supply: Supply{InspiredMmHg: uptake.Exactly(40), MostMmHg: 186}})
	got := at(t, r, late, 720)
	want := at(t, newRun(t, who70, o), late, 720)
	if got.DepthMAC != want.DepthMAC {
		t.Errorf("%v, from the beginning %v", got.DepthMAC, want.DepthMAC)
	}
	if back := at(t, r, events, 720); back.DepthMAC != at(t, newRun(t, who70, o), events, 720).DepthMAC {
		t.Error("taking it back gives something else")
	}
}

// The course has each minute as the estimate was then, and says why there was
// none; what is asked for later begins where the last left off.
func TestCourse(t *testing.T) {
	r := newRun(t, who70, Options{Seed: 3})
	events := given(append(seen(20, asleep), Event{AtMin: 28, What: WhatLook, Look: asleep})...)
	then := at(t, r, events, 22)
	at(t, r, events, 30.4)
	all := r.Course(-1)
	if len(all) != 32 || all[0].AtMin != 0 || all[30].AtMin != 30 || math.Abs(all[31].AtMin-30.4) > 1e-9 {
		t.Fatalf("%d samples: %+v", len(all), all)
	}
	if all[22].DepthMAC != then.DepthMAC || len(all[22].Withdrawn) > 0 {
		t.Errorf("%+v, and it was %+v", all[22], then)
	}
	if !slices.Equal(all[19].Withdrawn, []Reason{NoSigns, NoVitals}) || !slices.Equal(all[26].Withdrawn, []Reason{OldSigns, OldVitals}) || !slices.Equal(all[29].Withdrawn, []Reason{OldVitals}) {
		t.Errorf("%v, %v, %v", all[19].Withdrawn, all[26].Withdrawn, all[29].Withdrawn)
	}
	if all[19].DepthMAC != (uptake.Range{}) {
		t.Error("a range where there is none")
	}
	if rest := r.Course(29); len(rest) != 2 || rest[0].AtMin != 30 {
		t.Errorf("%+v", rest)
	}
	none := newRun(t, Subject{}, Options{})
	if got := none.Course(-1); got != nil {
		t.Errorf("a body that the model does not know: %v", got)
	}
}

func TestStageMAC(t *testing.T) {
	// 80 and 110 mg/dL in blood over 67.7 mg/dL at 1 MAC of 1.92 %.
	if low, high, ok := StageMAC(term.AgentEther, StageIII2); !ok || math.Abs(low-80/67.7) > 0.005 || math.Abs(high-110/67.7) > 0.005 {
		t.Errorf("%v to %v", low, high)
	}
	if low, _, ok := StageMAC(term.AgentEther, StageI); !ok || low != 0 {
		t.Errorf("%v", low)
	}
	if low, high, ok := StageMAC(term.AgentHalothane, LevelDeep); !ok || low != 1.6 || high <= low {
		t.Errorf("%v to %v", low, high)
	}
	for _, s := range []Stage{StageI, StageII, StageIII1, StageIII2, StageIII3, StageIII4, StageIV} {
		low, high, _ := StageMAC(term.AgentEther, s)
		if StageAt(term.AgentEther, (low+high)/2) != s {
			t.Errorf("%s holds not its own middle", s)
		}
	}
	if _, _, ok := StageMAC(term.AgentHalothane, StageI); ok {
		t.Error("halothane has no stage I")
	}
	if _, _, ok := StageMAC("tea", StageI); ok || StageAt("tea", 1) != "" {
		t.Error("tea has stages")
	}
}

// What two processors differ in is the last bits. Bodies that start off by more
// than that come out within the stated tolerance, and as this file says.
func TestTolerance(t *testing.T) {
	events := given()
	for i, k := range []Look{asleep, {Eyes: term.EyesRoving, Cornea: term.ReflexBrisk}, asleep, {Jaw: term.JawSlack}, {Movement: term.MovementSwallowing, Lid: term.ReflexFaint}} {
		events = append(events, seen(10+5*float64(i), k)...)
	}
	r := newRun(t, who70, Options{Seed: 11})
	e := at(t, r, events, 33)
	off := newRun(t, who70, Options{Seed: 11})
	off.kind.keepMmHg *= 1 + 1e-12
	off.kind.set.AlveolarLPerMin *= 1 - 1e-12
	off.deriveAll()
	other := at(t, off, events, 33)
	for _, x := range [][3]float64{
		{e.DepthMAC.Low, other.DepthMAC.Low, 1.1780984}, {e.DepthMAC.Value, other.DepthMAC.Value, 1.5637145}, {e.DepthMAC.High, other.DepthMAC.High, 1.8230210},
	} {
		if math.Abs(x[0]-x[1]) > Tolerance {
			t.Errorf("%v and %v", x[0], x[1])
		}
		if math.Abs(x[0]-x[2]) > Tolerance {
			t.Errorf("%.7f is not %.7f", x[0], x[2])
		}
	}
}

// Signs that are of another patient than the model's are followed, and warned
// of.
func TestDrift(t *testing.T) {
	// Ten times less is inspired than was told.
	r := newRun(t, who70, Options{Seed: 2})
	events := []Event{{What: WhatSupply, Supply: Supply{InspiredMmHg: uptake.Range{Low: 80, Value: 100, High: 120}, MostMmHg: 186}}}
	awake := Look{Breathing: term.BreathingUneven, Eyes: term.EyesLooking, Lid: term.ReflexBrisk, Cornea: term.ReflexBrisk, Movement: term.MovementLimbs}
	warned := false
	var e Estimate
	for m := 24.0; m <= 48; m += 4 {
		events = append(events, seen(m, awake)...)
		e = at(t, r, events, m)
		warned = warned || e.Drift == SignsLighter
	}
	if !warned || e.DepthMAC.Value > 0.95 {
		t.Errorf("warned %v; %+v", warned, e.DepthMAC)
	}
	// And deeper.
	r = newRun(t, who70, Options{Seed: 2})
	events = []Event{{What: WhatSupply, Supply: Supply{InspiredMmHg: uptake.Range{Low: 8, Value: 10, High: 12}, MostMmHg: 186}}}
	warned = false
	for m := 24.0; m <= 48; m += 4 {
		events = append(events, seen(m, Look{Breathing: term.BreathingRibsLate, Eyes: term.EyesStillCentral, Chest: term.ChestLate, Cornea: term.ReflexGone, Jaw: term.JawSlack})...)
		e = at(t, r, events, m)
		warned = warned || e.Drift == SignsDeeper && slices.Contains(e.Cautions, FollowSigns)
	}
	if !warned || e.DepthMAC.Value < 1.18 {
		t.Errorf("warned %v; %+v", warned, e.DepthMAC)
	}
	// Signs that fit do not warn.
	r = newRun(t, who70, Options{Seed: 2})
	events = given()
	for m := 24.0; m <= 48; m += 4 {
		events = append(events, seen(m, asleep)...)
		if e := at(t, r, events, m); e.Drift != "" {
			t.Errorf("%s at %v", e.Drift, m)
		}
	}
}

// No breath, no uptake; less breath, slower.
func TestBreathingCarriesIt(t *testing.T) {
	run := func(more ...Event) float64 {
		r := newRun(t, who70, Options{Seed: 4})
		if err := r.Update(given(more...), 15); err != nil {
			t.Fatal(err)
		}
		var e Estimate
		r.rangeNow(&e)
		return e.DepthMAC.Value
	}
	free := run()
	if x := run(Event{What: WhatSupport, Support: term.SupportObstructed}); x != 0 {
		t.Errorf("a closed airway takes up %v", x)
	}
	if x := run(Event{AtMin: 5, What: WhatSupport, Support: term.SupportApnoea}); x > 0.8*free {
		t.Errorf("apnoea: %v of %v", x, free)
	}
	if x := run(Event{What: WhatDrugs, Drugs: Drugs{Opioid: true}}); x > 1.05*free {
		t.Errorf("opioid: %v of %v", x, free) // less breath, less MAC
	}
	if x := run(Event{AtMin: 5, What: WhatLook, Look: Look{Breathing: term.BreathingSilent}}); x > 0.9*free {
		t.Errorf("silent: %v of %v", x, free)
	}
	small := run(Event{What: WhatMinute, Minute: quantity.MustParse("3 L/min")})
	large := run(Event{What: WhatMinute, Minute: quantity.MustParse("10 L/min")})
	if !(small < free && free < large) {
		t.Errorf("%v, %v, %v", small, free, large)
	}
	// By hand, nothing holds it back.
	strong := Event{What: WhatSupply, Supply: Supply{InspiredMmHg: uptake.Exactly(150), MostMmHg: 186}}
	alone := newRun(t, who70, Options{Seed: 4})
	hand := newRun(t, who70, Options{Seed: 4})
	e1 := []Event{strong}
	e2 := []Event{strong, {What: WhatSupport, Support: term.SupportControlled}}
	e2 = append(e2, seen(30, asleep)...)
	if err := alone.Update(e1, 30); err != nil {
		t.Fatal(err)
	}
	var a, b Estimate
	alone.rangeNow(&a)
	b = at(t, hand, e2, 30)
	if b.DepthMAC.Value < a.DepthMAC.Value || !slices.Contains(b.Cautions, uptake.NoBrake) {
		t.Errorf("%v by hand, %v alone", b.DepthMAC, a.DepthMAC)
	}
}

func TestLeadTimes(t *testing.T) {
	r := newRun(t, who70, Options{Seed: 6})
	at(t, r, given(seen(30, asleep)...), 31)
	strong := Supply{InspiredMmHg: uptake.Exactly(110), MostMmHg: 186}
	now, ok, err := r.Ready(StepClosing, steady)
	if !ok || err != nil {
		t.Fatal(ok, err)
	}
	soon, _, _ := r.Ready(StepClosing, strong)
	if soon.ToMin > now.ToMin || soon.FromMin > soon.ToMin || soon.Kind != LeadReady || soon.Step != StepClosing {
		t.Errorf("%+v, stronger %+v", now, soon)
	}
	if !slices.Equal(soon.Conditions, []Condition{IfSetting, IfBreathing, IfSigns, IfFresh}) || !slices.Contains(soon.Cautions, agent.Estimate) {
		t.Errorf("%+v", soon)
	}
	if never, _, _ := r.Ready(StepClosing, Off); !never.Never && !never.Already && never.FromMin > 5 {
		t.Errorf("without agent: %+v", never)
	}
	skin, _, _ := r.Ready(StepSkin, strong)
	if skin.FromMin > soon.FromMin {
		t.Errorf("skin %+v after closing %+v", skin, soon)
	}
	deep, ok, err := r.TooDeep(strong)
	if !ok || err != nil || deep.FromMin < soon.FromMin {
		t.Errorf("%+v, ready %+v", deep, soon)
	}
	wake, ok := r.Waking()
	if !ok || wake.Kind != LeadWaking || wake.FromMin > wake.ToMin || !slices.Contains(wake.Cautions, Earliest) {
		t.Errorf("%+v", wake)
	}
	if _, ok, _ := r.Ready("dance", strong); ok {
		t.Error("a step that nobody knows")
	}
	// Looking ahead changes nothing.
	before := r.Estimate()
	r.Waking()
	if after := r.Estimate(); after.DepthMAC != before.DepthMAC {
		t.Error("the look ahead moved the bodies")
	}
	var e *agent.Error
	if _, _, err := r.Ready(StepSkin, Supply{InspiredMmHg: uptake.Range{Low: 2, Value: 1, High: 3}}); !errors.As(err, &e) || e.Field != "supply" {
		t.Errorf("%v", err)
	}
}

func TestUpdateRefuses(t *testing.T) {
	r := newRun(t, who70, Options{Bodies: 50})
	at(t, r, given(), 5)
	for field, e := range map[string]Event{
		"at":       {AtMin: -1, What: WhatLook},
		"supply":   {What: WhatSupply, Supply: Supply{InspiredMmHg: uptake.Exactly(math.NaN())}},
		"support":  {What: WhatSupport, Support: "x"},
		"minute":   {What: WhatMinute, Minute: quantity.MustParse("90 L/min")},
		"eyes":     {What: WhatLook, Look: Look{Eyes: "x"}},
		"vitals":   {What: WhatVitals, Vitals: Vitals{PulsePerMin: math.Inf(1)}},
		"what":     {What: "x"},
		"supply ":  {What: WhatSupply, Supply: Supply{InspiredMmHg: uptake.Exactly(-1)}},
		"supply  ": {What: WhatSupply, Supply: Supply{ByVolume: true}},
	} {
		var bad *agent.Error
		if err := r.Update(given(e), 6); !errors.As(err, &bad) || bad.Field != field[:len(bad.Field)] {
			t.Errorf("%s: %v", field, err)
		}
	}
	if err := r.Update(given(), math.NaN()); err == nil {
		t.Error("no minute, no error")
	}
	if r.now.step != stepOf(5) {
		t.Error("it moved all the same")
	}
	for _, o := range []Options{{Bodies: 1}, {Bodies: 1e6}} {
		if _, err := New(who70, o); err == nil {
			t.Errorf("%+v", o)
		}
	}
	who := who70
	who.Weight = quantity.MustParse("0.5 kg")
	if _, err := New(who, Options{}); err == nil {
		t.Error("half a kilogram")
	}
}

func TestSupplies(t *testing.T) {
	drops := uptake.OpenDrop{
		Agent: term.AgentEther, Drops: quantity.MustParse("120 {drop}/min"), PerML: quantity.MustParse("60 {drop}/mL"), Cover: term.CoverOff,
		MinuteLPerMin: uptake.Exactly(8), Pressure: quantity.MustParse("760 mm[Hg]"),
	}
	s, answer, err := FromOpenDrop(drops)
	if err != nil || !s.ByVolume {
		t.Fatal(s, err)
	}
	// 2 mL a minute, half of it, 231.5 mL of vapour in a mL, in 8 L: 2.9 %.
	inspires := func(x, minuteLPerMin float64) float64 {
		got, _ := newRun(t, who70, Options{}).kind.inspires(&body{supplied: x, reach: 0.5}, &s, minuteLPerMin/2)
		return got
	}
	if got := inspires(draw(s.InspiredMmHg, 0), 8) / 7.6; math.Abs(got-2.9) > 0.05 {
		t.Errorf("%v %%, told %v", got, answer.Value)
	}
	// Who breathes half inspires twice as much; never over what frosts.
	if a, b := inspires(draw(s.InspiredMmHg, 0), 8), inspires(draw(s.InspiredMmHg, 0), 4); math.Abs(b-2*a) > 1e-9 {
		t.Errorf("%v and %v", a, b)
	}
	if x := inspires(1e4, 0); x != s.MostMmHg || math.Abs(x-186.1) > 0.5 { // vapour pressure at 0 °C
		t.Errorf("%v", x)
	}
	drops.Wetness = term.WetnessWet
	if s, _, err = FromOpenDrop(drops); err != nil || s.ByVolume {
		t.Errorf("%+v %v", s, err)
	}
	v := uptake.Vaporiser{Agent: term.AgentHalothane, Kind: uptake.Compensated, Dial: quantity.MustParse("1 %"), Pressure: quantity.MustParse("760 mm[Hg]"), FlowLPerMin: uptake.Exactly(6)}
	if s, _, err = FromVaporiser(v); err != nil || math.Abs(s.InspiredMmHg.Value-7.6) > 0.5 {
		t.Errorf("%+v %v", s, err)
	}
	if _, _, err := FromOpenDrop(uptake.OpenDrop{}); err == nil {
		t.Error("nothing is a supply")
	}
}

// A step of a minute's bodies asks for no memory.
func TestNoAllocations(t *testing.T) {
	r := newRun(t, who70, Options{Seed: 1, Bodies: 100})
	at(t, r, given(), 5)
	if n := testing.AllocsPerRun(20, func() {
		r.now.step++ // off the minute of checkpoints
		r.minute()
		for i := range r.bodies {
			r.kind.breathe(&r.bodies[i], &r.now, stepMin)
		}
		r.look(&asleep, 5)
	}); n > 0 {
		t.Errorf("%v allocations", n)
	}
}

func TestCodeListsAreSound(t *testing.T) {
	check := func(name string, codes []string) {
		slices.Sort(codes)
		if len(slices.Compact(slices.Clone(codes))) != len(codes) || slices.Contains(codes, "") {
			t.Errorf("%s: %v", name, codes)
		}
	}
	check("sign", strs(SignCodes))
	check("stage", strs(StageCodes))
	check("lean", strs(LeanCodes))
	check("agreement", strs(AgreementCodes))
	check("why", strs(WhyCodes))
	check("ask", strs(AskCodes))
	check("reason", strs(ReasonCodes))
	check("drift", strs(DriftCodes))
	check("condition", strs(ConditionCodes))
	check("step", strs(StepCodes))
	check("lead", strs(LeadKindCodes))
	check("watch", strs(WatchCodes))
	check("caution", strs(CautionCodes))
}

func strs[C ~string](codes []C) []string {
	out := make([]string, len(codes))
	for i, c := range codes {
		out[i] = string(c)
	}
	return out
}

// What Update will do Reach tells before: since the last one, or since the
// checkpoint before the first event that differs.
func TestReach(t *testing.T) {
	events := whole(60)
	r := newRun(t, who70, Options{Seed: 1, Bodies: 50})
	reach := func(why string, events []Event, minute, want float64) {
		t.Helper()
		if got := r.Reach(events, minute); math.Abs(got-want) > 1e-9 {
			t.Errorf("%s: %v minutes, want %v", why, got, want)
		}
	}
	reach("from the first breath", events, 55, 55)
	at(t, r, events, 55)
	reach("at once", events, 55, 0)
	reach("two minutes on", events, 57, 2)
	late := slices.Insert(slices.Clone(events), 1, Event{AtMin: 44, What: WhatLook, Look: Look{Jaw: asleep.Jaw}})
	slices.SortStableFunc(late, func(a, b Event) int { return cmp.Compare(a.AtMin, b.AtMin) })
	reach("an entry of 11 minutes ago", late, 55, 15)
	reach("the first event taken back", events[1:], 55, 55)
	reach("an earlier time", events, 35, 5)
	at(t, r, late, 55)
	reach("after it", late, 56, 1)
}
