package uptake

import (
	"errors"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"chinlift/core/agent"
	"chinlift/core/quantity"
	"chinlift/core/term"
)

func q(s string) quantity.Amount { return quantity.MustParse(s) }

func val(a quantity.Amount) float64 { return a.Value.Float64() }

func anAgent(t tester, code term.Agent) agent.Agent {
	t.Helper()
	a, err := agent.Of(code)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

// ordered fails where a range is none.
func ordered(t tester, r Range) {
	t.Helper()
	if !(0 <= r.Low && r.Low <= r.Value && r.Value <= r.High) {
		t.Fatalf("%+v is no range", r)
	}
}

// A variable bypass vaporiser at height, 20 °C: per cent of the gas, and tension
// by that at sea level; computed independently from the equation, with pressures
// rounded to a tenth of a mmHg, so that the last digit may differ by one.
func TestBypassAtHeight(t *testing.T) {
	for _, c := range []struct {
		code term.Agent
		dial float64
		rows [4][2]digits // 1500, 2000, 3000 m, 500 mmHg
	}{
		{term.AgentIsoflurane, 1, [4][2]digits{{"1.314", "1.096"}, {"1.451", "1.139"}, {"1.800", "1.246"}, {"1.975", "1.300"}}},
		{term.AgentHalothane, 1, [4][2]digits{{"1.317", "1.099"}, {"1.456", "1.143"}, {"1.812", "1.254"}, {"1.991", "1.310"}}},
		{term.AgentSevoflurane, 2, [4][2]digits{{"2.514", "1.049"}, {"2.725", "1.069"}, {"3.229", "1.117"}, {"3.464", "1.139"}}},
		{term.AgentEther, 6, [4][2]digits{{"9.52", "1.32"}, {"11.56", "1.51"}, {"19.22", "2.22"}, {"25.4", "2.79"}}},
		{term.AgentEther, 10, [4][2]digits{{"15.5", "1.29"}, {"18.5", "1.45"}, {"29.3", "2.03"}, {"37.2", "2.45"}}},
	} {
		a := anAgent(t, c.code)
		for i, p := range []float64{agent.StandardMmHg(1500), agent.StandardMmHg(2000), agent.StandardMmHg(3000), 500} {
			got := bypassPercent(a, c.dial, 20, 20, p)
			for j, got := range []float64{got, got * p / (c.dial * 760)} {
				want := c.rows[i][j]
				if last := math.Pow(10, -float64(len(want)-1-strings.Index(string(want), "."))); math.Abs(got-want.value()) > last {
					t.Errorf("%s, dial %v %%, %.1f mmHg, column %d: %v, want %s", c.code, c.dial, p, j, got, want)
				}
			}
			// The common rule, that the tension stays, errs by a quarter at most
			// up to 3000 m but for ether, where it must not be used.
			if rel := got * p / (c.dial * 760); i < 3 && (rel > 1.26) != (c.code == term.AgentEther) {
				t.Errorf("%s at %.1f mmHg: tension %v times that at sea level", c.code, p, rel)
			}
		}
		if got := bypassPercent(a, c.dial, 20, 20, 760); math.Abs(got-c.dial) > 1e-12 {
			t.Errorf("%s at sea level: %v, dial %v", c.code, got, c.dial)
		}
	}
}

func TestVaporiser(t *testing.T) {
	sea, high := q("760 mm[Hg]"), q("526 mm[Hg]")
	flow := Range{6, 7, 8}
	// Compensated, at sea level, in its range of temperature: what the dial says.
	for _, temp := range []string{"15 Cel", "20 Cel", "29 Cel"} {
		d, err := Vaporiser{term.AgentEther, Compensated, q("10 %"), q(temp), sea, flow}.Inspired()
		if err != nil || val(d.Value) != 10 || math.Abs(d.InspiredMmHg.Value-76) > 1e-9 || has(d.Cautions, OutsideCompensation) {
			t.Errorf("%s: %s, %v, %v", temp, d.Value, d.Cautions, err)
		}
		ordered(t, d.InspiredMmHg)
	}
	// Beyond it colder gives less, and says so.
	cold, err := Vaporiser{term.AgentHalothane, Compensated, q("2 %"), q("5 Cel"), sea, flow}.Inspired()
	if err != nil || val(cold.Value) >= 2 || !has(cold.Cautions, OutsideCompensation) {
		t.Errorf("cold: %s, %v, %v", cold.Value, cold.Cautions, err)
	}
	// One that does not compensate: 243 mmHg at 20 °C, 156 at 10, 365 at 30.
	for temp, want := range map[string]float64{"10 Cel": 156. / 604 * 517.2 / 242.8, "20 Cel": 1, "30 Cel": 364.8 / 395.2 * 517.2 / 242.8} {
		d, err := Vaporiser{term.AgentHalothane, Plain, q("1 %"), q(temp), sea, flow}.Inspired()
		if err != nil || math.Abs(val(d.Value)-want) > 0.02 || !has(d.Cautions, CoolsInUse) {
			t.Errorf("plain, %s: %s, want %v; %v", temp, d.Value, want, err)
		}
	}
	// Nobody said how warm: a wide range about the dial.
	unknown, err := Vaporiser{term.AgentHalothane, Plain, q("1 %"), quantity.Amount{}, sea, flow}.Inspired()
	if err != nil || !has(unknown.Cautions, TemperatureAssumed) || val(unknown.Low) > 0.55 || val(unknown.High) < 1.5 {
		t.Errorf("unknown: %s to %s, %v, %v", unknown.Low, unknown.High, unknown.Cautions, err)
	}
	// Height: ether far more, and a warning; desflurane's own type less.
	ether, err := Vaporiser{term.AgentEther, Compensated, q("10 %"), q("20 Cel"), high, flow}.Inspired()
	if err != nil || ether.InspiredMmHg.Value < 2*76 || !has(ether.Cautions, HeightRaisesTension, NotPublished) {
		t.Errorf("ether at 3000 m: %+v, %v, %v", ether.InspiredMmHg, ether.Cautions, err)
	}
	des, err := Vaporiser{term.AgentDesflurane, Heated, q("6 %"), quantity.Amount{}, high, flow}.Inspired()
	if err != nil || val(des.Value) != 6 || math.Abs(des.InspiredMmHg.Value-31.56) > 1e-9 || !has(des.Cautions, HeightLowersTension) {
		t.Errorf("desflurane at 3000 m: %s, %+v, %v", des.Value, des.InspiredMmHg, err)
	}
	// Where ether boils there is no number: 27.9 °C at 2000 m, 24.6 at 3000 m.
	var e *agent.Error
	if _, err := (Vaporiser{term.AgentEther, Compensated, q("6 %"), q("25 Cel"), high, flow}).Inspired(); !errors.As(err, &e) || e.Code != agent.Boils {
		t.Errorf("boiling ether: %v", err)
	}
	near, err := Vaporiser{term.AgentEther, Compensated, q("6 %"), q("22 Cel"), high, flow}.Inspired()
	if err != nil || !has(near.Cautions, NearBoiling) {
		t.Errorf("close to boiling: %v, %v", near.Cautions, err)
	}
	// Small breaths draw less.
	child, err := Vaporiser{term.AgentEther, Compensated, q("6 %"), q("20 Cel"), sea, Range{2, 3, 4}}.Inspired()
	adult, err1 := Vaporiser{term.AgentEther, Compensated, q("6 %"), q("20 Cel"), sea, flow}.Inspired()
	if err != nil || err1 != nil || !has(child.Cautions, LowFlow) || has(adult.Cautions, LowFlow) || child.InspiredMmHg.Low != adult.InspiredMmHg.Low/2 {
		t.Errorf("child %+v, adult %+v, %v, %v", child.InspiredMmHg, adult.InspiredMmHg, err, err1)
	}
}

// How much liquid it takes, computed independently: mL/h.
func TestLiquidUse(t *testing.T) {
	for _, c := range []struct {
		code            term.Agent
		percent, minute string
		want            digits
	}{
		{term.AgentEther, "10 %", "8 L/min", "207"}, {term.AgentEther, "6 %", "8 L/min", "124"}, {term.AgentEther, "3 %", "6 L/min", "47"},
		{term.AgentHalothane, "1 %", "6 L/min", "15.8"}, {term.AgentIsoflurane, "1.5 %", "6 L/min", "27.7"}, {term.AgentSevoflurane, "2.5 %", "6 L/min", "49.2"},
	} {
		a, err := LiquidUse(c.code, q(c.percent), q(c.minute), q("760 mm[Hg]"))
		if err != nil || !c.want.near(val(a.Value)) && math.Abs(val(a.Value)-c.want.value()) > 0.5 {
			t.Errorf("%s %s: %s, %v; want %s", c.code, c.percent, a.Value, err, c.want)
		}
		// The common rule, mL/h = 3 x % x L/min, 3.3 for sevoflurane (V. Dhulkhed
		// and others, Indian J Anaesth 2013;57:455, read), to 15 %.
		rule := 3 * val(q(c.percent)) * val(q(c.minute))
		if c.code == term.AgentSevoflurane {
			rule *= 1.1
		}
		if math.Abs(rule/val(a.Value)-1) > 0.16 {
			t.Errorf("%s: %s, common rule %v", c.code, a.Value, rule)
		}
		// At height the same per cent is less.
		thin, err := LiquidUse(c.code, q(c.percent), q(c.minute), q("380 mm[Hg]"))
		if err != nil || math.Abs(2*val(thin.Value)-val(a.Value)) > 0.2 {
			t.Errorf("%s at half the pressure: %s, %v", c.code, thin.Value, err)
		}
	}
	// 4 mL/min of ether take 17.4 W, a mL 261 J; computed independently.
	digits("17.4").check(t, CoolingWatts(4), "cooling")
	digits("261").check(t, EtherCoolingJPerML, "heat of a mL")
}

func TestOpenDrop(t *testing.T) {
	eight := Exactly(8)
	open := func(change func(*OpenDrop)) OpenDrop {
		d := OpenDrop{Agent: term.AgentEther, Cover: term.CoverOff, MinuteLPerMin: eight, Pressure: q("760 mm[Hg]")}
		change(&d)
		return d
	}
	// 120 drops/min at 60/mL, half of it inspired, 8 L/min: 2.9 %; 300: 7.2 %.
	for drops, want := range map[string]digits{"120 {drop}/min": "2.9", "300 {drop}/min": "7.2"} {
		d, err := open(func(d *OpenDrop) { d.Drops, d.PerML = q(drops), q("60 {drop}/mL") }).Inspired()
		if err != nil || !want.near(val(d.Value)) || has(d.Cautions, CalibrateDrops) {
			t.Errorf("%s: %s, %v, want %s", drops, d.Value, err, want)
		}
		ordered(t, d.InspiredMmHg)
		if d.Low == d.Value || d.High == d.Value || len(d.Sources) == 0 {
			t.Errorf("%s: no range, or no source: %+v", drops, d)
		}
	}
	// Not calibrated it is much wider, and says so.
	wide, err := open(func(d *OpenDrop) { d.Drops = q("120 {drop}/min") }).Inspired()
	if err != nil || !has(wide.Cautions, CalibrateDrops) || wide.InspiredMmHg.High < 3*wide.InspiredMmHg.Low {
		t.Errorf("not calibrated: %+v, %v", wide, err)
	}
	// The bottle: 120 mL in an hour is 2 mL/min, as the drops above.
	bottle, err := open(func(d *OpenDrop) { d.Used, d.Over = q("120 mL"), q("60 min") }).Inspired()
	if err != nil || !digits("2.9").near(val(bottle.Value)) || !has(bottle.Cautions, MeanOverTime, GauzeFrosts) {
		t.Errorf("bottle: %s, %v, %v", bottle.Value, bottle.Cautions, err)
	}
	// Wetness: what is usual, in its range; wetter is more, and a cover too.
	last := Range{}
	for _, w := range term.WetnessList.Codes() {
		d, err := open(func(d *OpenDrop) { d.Wetness = w }).Inspired()
		if err != nil || d.InspiredMmHg.Value <= last.Value || d.InspiredMmHg.High <= last.High {
			t.Errorf("%s: %+v after %+v, %v", w, d.InspiredMmHg, last, err)
		}
		ordered(t, d.InspiredMmHg)
		covered, err := open(func(d *OpenDrop) { d.Wetness, d.Cover = w, term.CoverOn }).Inspired()
		if err != nil || covered.InspiredMmHg.Value <= d.InspiredMmHg.Value {
			t.Errorf("%s covered: %+v, %v", w, covered.InspiredMmHg, err)
		}
		last = d.InspiredMmHg
	}
	if wet, err := open(func(d *OpenDrop) { d.Wetness = term.WetnessWet }).Inspired(); err != nil || val(wet.Low) != 4 || val(wet.High) != 10 {
		t.Errorf("wet: %s to %s, want 4 to 10 %%", wet.Low, wet.High)
	}
	// Nobody said whether there is a cover: both.
	either, err := open(func(d *OpenDrop) { d.Drops, d.PerML, d.Cover = q("120 {drop}/min"), q("60 {drop}/mL"), "" }).Inspired()
	if err != nil || !has(either.Cautions, CoverUnknown) || math.Abs(either.InspiredMmHg.High/either.InspiredMmHg.Low-2) > 1e-9 {
		t.Errorf("cover unknown: %+v, %v", either, err)
	}
	// Two ways: where they overlap, and where they do not.
	both, err := open(func(d *OpenDrop) {
		d.Drops, d.PerML, d.Wetness = q("300 {drop}/min"), q("60 {drop}/mL"), term.WetnessWet
	}).Inspired()
	if err != nil || val(both.Low) < 5.7 || val(both.High) > 8.7 || has(both.Cautions, WaysDisagree) {
		t.Errorf("two ways: %s to %s, %v, %v", both.Low, both.High, both.Cautions, err)
	}
	torn, err := open(func(d *OpenDrop) {
		d.Drops, d.PerML, d.Wetness = q("30 {drop}/min"), q("60 {drop}/mL"), term.WetnessSoaked
	}).Inspired()
	if err != nil || !has(torn.Cautions, WaysDisagree) || val(torn.Low) > 0.6 || val(torn.High) != 15 {
		t.Errorf("two ways that disagree: %s to %s, %v, %v", torn.Low, torn.High, torn.Cautions, err)
	}
	// Never more than the vapour over a frosted gauze, 186 mmHg, 24.5 %.
	flood, err := open(func(d *OpenDrop) { d.Drops, d.PerML = q("1000 {drop}/min"), q("25 {drop}/mL") }).Inspired()
	if err != nil || !digits("186.1").near(flood.InspiredMmHg.High) || !digits("24.5").near(math.Round(val(flood.High)*10)/10) || !has(flood.Cautions, AtMostSaturated) {
		t.Errorf("flood: %+v, %v", flood, err)
	}
	// At height the same drops are the same tension and more per cent.
	low, err := open(func(d *OpenDrop) { d.Drops, d.PerML = q("120 {drop}/min"), q("60 {drop}/mL") }).Inspired()
	thin, err1 := open(func(d *OpenDrop) {
		d.Drops, d.PerML, d.Pressure = q("120 {drop}/min"), q("60 {drop}/mL"), q("526 mm[Hg]")
	}).Inspired()
	if err != nil || err1 != nil || low.InspiredMmHg != thin.InspiredMmHg || math.Abs(val(thin.Value)/val(low.Value)-760./526) > 0.01 {
		t.Errorf("%+v and %+v, %v, %v", low, thin, err, err1)
	}
	// No drops is no ether, whatever is breathed.
	if none, err := open(func(d *OpenDrop) { d.Drops, d.MinuteLPerMin = q("0 {drop}/min"), Range{} }).Inspired(); err != nil || none.InspiredMmHg != (Range{}) {
		t.Errorf("no drops: %+v, %v", none, err)
	}
	// Another agent, by drops that were counted.
	if hal, err := open(func(d *OpenDrop) {
		d.Agent, d.Drops, d.PerML = term.AgentHalothane, q("20 {drop}/min"), q("50 {drop}/mL")
	}).Inspired(); err != nil || math.Abs(val(hal.Value)-0.5*0.4*227.7/80) > 0.01 {
		t.Errorf("halothane: %s, %v", hal.Value, err)
	}
	for _, c := range []struct {
		name        string
		d           OpenDrop
		field, code string
	}{
		{"nothing said", open(func(*OpenDrop) {}), "drops", agent.Missing},
		{"a gas", open(func(d *OpenDrop) { d.Agent = term.AgentNitrousOxide }), "agent", agent.NoRule},
		{"wet with halothane", open(func(d *OpenDrop) { d.Agent, d.Wetness = term.AgentHalothane, term.WetnessWet }), "wetness", agent.NoRule},
		{"halothane, drops not counted", open(func(d *OpenDrop) { d.Agent, d.Drops = term.AgentHalothane, q("20 {drop}/min") }), "per_ml", agent.Missing},
		{"soggy", open(func(d *OpenDrop) { d.Wetness = "soggy" }), "wetness", agent.UnknownCode},
		{"half covered", open(func(d *OpenDrop) { d.Cover = "half" }), "cover", agent.UnknownCode},
		{"drops in mL", open(func(d *OpenDrop) { d.Drops = q("2 mL/min") }), "drops", agent.WrongUnit},
		{"a bottle without a time", open(func(d *OpenDrop) { d.Used = q("100 mL") }), "over", agent.Missing},
		{"no breath", open(func(d *OpenDrop) { d.Drops, d.MinuteLPerMin = q("20 {drop}/min"), Range{} }), "minute", agent.TooLow},
		{"no pressure", open(func(d *OpenDrop) { d.Drops, d.Pressure = q("20 {drop}/min"), quantity.Amount{} }), "pressure", agent.Missing},
		{"a range upside down", open(func(d *OpenDrop) { d.Drops, d.MinuteLPerMin = q("20 {drop}/min"), Range{8, 7, 6} }), "minute", agent.Contradicts},
	} {
		var e *agent.Error
		if _, err := c.d.Inspired(); !errors.As(err, &e) || e.Field != c.field || e.Code != c.code {
			t.Errorf("%s: %v, want %s %s", c.name, err, c.field, c.code)
		}
	}
}

func TestVaporiserRefuses(t *testing.T) {
	good := Vaporiser{term.AgentHalothane, Plain, q("1 %"), q("20 Cel"), q("760 mm[Hg]"), Exactly(6)}
	with := func(change func(*Vaporiser)) error { v := good; change(&v); _, err := v.Inspired(); return err }
	if err := with(func(*Vaporiser) {}); err != nil {
		t.Fatal(err)
	}
	_, gas := LiquidUse(term.AgentNitrousOxide, q("1 %"), q("6 L/min"), q("760 mm[Hg]"))
	for _, c := range []struct {
		name        string
		err         error
		field, code string
	}{
		{"no agent", with(func(v *Vaporiser) { v.Agent = "" }), "agent", agent.Missing},
		{"a gas", with(func(v *Vaporiser) { v.Agent = term.AgentNitrousOxide }), "agent", agent.NoRule},
		{"desflurane by a bypass", with(func(v *Vaporiser) { v.Agent = term.AgentDesflurane }), "agent", agent.NoRule},
		{"heated halothane", with(func(v *Vaporiser) { v.Kind = Heated }), "agent", agent.NoRule},
		{"a kettle", with(func(v *Vaporiser) { v.Kind = "kettle" }), "kind", agent.UnknownCode},
		{"50 %", with(func(v *Vaporiser) { v.Dial = q("50 %") }), "dial", agent.TooHigh},
		{"no dial", with(func(v *Vaporiser) { v.Dial = quantity.Amount{} }), "dial", agent.Missing},
		{"ether at 40 °C", with(func(v *Vaporiser) { v.Agent, v.Temperature = term.AgentEther, q("40 Cel") }), "temperature", agent.Boils},
		{"flow below nought", with(func(v *Vaporiser) { v.FlowLPerMin = Range{-1, 1, 1} }), "flow", agent.TooLow},
		{"liquid nitrous oxide", gas, "agent", agent.NoRule},
	} {
		var e *agent.Error
		if !errors.As(c.err, &e) || e.Field != c.field || e.Code != c.code {
			t.Errorf("%s: %v, want %s %s", c.name, c.err, c.field, c.code)
		}
	}
}

// What a draw-over circuit with a reservoir gives, computed independently: %.
func TestReservoir(t *testing.T) {
	for minute, row := range map[float64][4]digits{
		4: {"30.8", "40.7", "60.5", "100"}, 5: {"28.9", "36.8", "52.6", "84.2"}, 6: {"27.5", "34.1", "47.3", "73.6"},
		8: {"25.9", "30.8", "40.7", "60.5"}, 10: {"24.9", "28.9", "36.8", "52.6"},
	} {
		for i, oxygen := range []float64{0.5, 1, 2, 4} {
			got := ReservoirPercent(oxygen, minute)
			// The table rounds halves up, 60.475 to 60.5 among them.
			row[i].check(t, got, "%v L/min into %v", oxygen, minute)
		}
	}
	if got := ReservoirPercent(9, 6); got != 100 {
		t.Errorf("more than is breathed: %v", got)
	}
	breath := func(circuit Circuit, oxygen string, minute Range) Range {
		o, err := Inhaled{Circuit: circuit, Agent: term.AgentHalothane, Oxygen: q(oxygen), Pressure: q("760 mm[Hg]"), MinuteLPerMin: minute}.Estimate()
		if err != nil {
			t.Fatal(err)
		}
		ordered(t, o.InspiredPercent)
		return o.InspiredPercent
	}
	// Handbooks of draw-over (from memory): 1 L/min 30 to 40 %, 4 to 5 L/min 60
	// to 80 % with a reservoir of 400 mL and more. The ranges meet.
	for oxygen, want := range map[string][2]float64{"1 L/min": {30, 40}, "4.5 L/min": {60, 80}} {
		if r := breath(DrawOverReservoir, oxygen, Range{5, 6, 8}); r.High < want[0] || r.Low > want[1] {
			t.Errorf("%s: %+v, handbooks have %v", oxygen, r, want)
		}
	}
	// Measured (Shrestha and others, Anaesthesia 1994;49:703, abstract read): 2
	// L/min gave 34 %.
	if r := breath(DrawOverReservoir, "2 L/min", Range{5, 7, 9}); r.Low > 34 || r.High < 34 {
		t.Errorf("2 L/min: %+v, measured 34", r)
	}
	// Without a reservoir much less.
	if with, without := breath(DrawOverReservoir, "2 L/min", Exactly(7)), breath(DrawOver, "2 L/min", Exactly(7)); without.Value >= with.Value-5 || without.High > with.High {
		t.Errorf("without %+v, with %+v", without, with)
	}
}

// Alveolar oxygen, computed independently: carbon dioxide 35 mmHg, air alone and
// with 10 % of ether in it.
func TestAlveolarOxygen(t *testing.T) {
	for _, c := range []struct {
		m          float64
		air, ether digits
	}{{0, "105.6", "90.7"}, {1500, "79.3", "67.0"}, {2000, "71.3", "59.8"}, {3000, "56.6", "46.5"}} {
		for percent, want := range map[float64]digits{0: c.air, 10: c.ether} {
			o, err := Inhaled{
				Circuit: DrawOver, Agent: term.AgentEther, Oxygen: q("0 L/min"), CO2: q("35 mm[Hg]"),
				Pressure: agent.Give(agent.StandardMmHg(c.m), 4, quantity.MmHg), MinuteLPerMin: Exactly(7), AgentPercent: Exactly(percent),
			}.Estimate()
			if err != nil {
				t.Fatal(err)
			}
			want.check(t, o.AlveolarMmHg.Value, "%v m, %v %% of ether", c.m, percent)
			ordered(t, o.AlveolarMmHg)
			if has(o.Alveolar.Cautions, HypoxicAtHeight) != (c.m >= 2000) {
				t.Errorf("%v m: %v", c.m, o.Alveolar.Cautions)
			}
		}
	}
}

func TestOxygenWarnings(t *testing.T) {
	base := Inhaled{
		Circuit: OpenMask, Support: term.SupportSpontaneous, Cover: term.CoverOff, Agent: term.AgentEther, Oxygen: q("0 L/min"),
		Pressure: q("760 mm[Hg]"), MinuteLPerMin: Range{6, 8, 10}, AgentPercent: Range{5, 8, 10},
	}
	for _, c := range []struct {
		name        string
		change      func(*Inhaled)
		want, never []agent.Caution
	}{
		{"open, sea level, no oxygen", func(*Inhaled) {}, []agent.Caution{AloneWithoutOxygen, agent.Explosive, agent.Estimate, WatchSaturation}, []agent.Caution{CoverWithoutOxygen, HypoxicAtHeight, LowAlveolarOxygen}},
		{"covered, sea level, no oxygen", func(i *Inhaled) { i.Cover = term.CoverOn }, []agent.Caution{CoverWithoutOxygen, LowAlveolarOxygen}, []agent.Caution{HypoxicAtHeight}},
		{"cover not said", func(i *Inhaled) { i.Cover = "" }, []agent.Caution{CoverWithoutOxygen}, nil},
		{"covered, 1 L/min", func(i *Inhaled) { i.Cover, i.Oxygen = term.CoverOn, q("1 L/min") }, []agent.Caution{agent.OxygenMakesWorse}, []agent.Caution{CoverWithoutOxygen, AloneWithoutOxygen}},
		{"open, 0.3 L/min", func(i *Inhaled) { i.Oxygen = q("0.3 L/min") }, []agent.Caution{AloneWithoutOxygen}, nil},
		{"open, 2000 m", func(i *Inhaled) { i.Pressure = q("596.3 mm[Hg]") }, []agent.Caution{HypoxicAtHeight, LowAlveolarOxygen}, nil},
		{"ventilated with air, sea level", func(i *Inhaled) { i.Circuit, i.Support = DrawOver, term.SupportControlled }, []agent.Caution{NoBrake}, []agent.Caution{AloneWithoutOxygen, LowAlveolarOxygen}},
		{"ventilated with air, 2000 m", func(i *Inhaled) {
			i.Circuit, i.Support, i.Pressure = DrawOver, term.SupportControlled, q("596.3 mm[Hg]")
		}, []agent.Caution{NoBrake, HypoxicAtHeight}, nil},
		{"oxygen not said", func(i *Inhaled) { i.Oxygen = quantity.Amount{} }, []agent.Caution{OxygenUnknown, AloneWithoutOxygen}, nil},
		{"halothane", func(i *Inhaled) { i.Agent = term.AgentHalothane }, nil, []agent.Caution{agent.Explosive}},
		{"obstructed", func(i *Inhaled) { i.Support = term.SupportObstructed }, []agent.Caution{UptakeStopped}, nil},
	} {
		i := base
		c.change(&i)
		o, err := i.Estimate()
		if err != nil {
			t.Fatal(err)
		}
		if !has(o.Alveolar.Cautions, c.want...) {
			t.Errorf("%s: %v, want %v", c.name, o.Alveolar.Cautions, c.want)
		}
		for _, n := range c.never {
			if has(o.Alveolar.Cautions, n) {
				t.Errorf("%s: %v", c.name, n)
			}
		}
	}
	// Faulconer and Latterell 1949 (from memory): under towels 15 to 18 %, and
	// 0.3 to 1 L/min of oxygen restore over 21 %, which lies within the range.
	covered := base
	covered.Cover = term.CoverOn
	if o, err := covered.Estimate(); err != nil || o.InspiredPercent.Low != 15 || o.InspiredPercent.High != 18 {
		t.Errorf("covered: %+v, %v", o.InspiredPercent, err)
	}
	covered.Oxygen = q("1 L/min")
	if o, err := covered.Estimate(); err != nil || o.InspiredPercent.Value < 21 || o.InspiredPercent.High < 25 {
		t.Errorf("covered with 1 L/min: %+v, %v", o.InspiredPercent, err)
	}
	for _, c := range []struct {
		name        string
		change      func(*Inhaled)
		field, code string
	}{
		{"no circuit", func(i *Inhaled) { i.Circuit = "" }, "circuit", agent.UnknownCode},
		{"asleep", func(i *Inhaled) { i.Support = "asleep" }, "support", agent.UnknownCode},
		{"half a cover", func(i *Inhaled) { i.Cover = "half" }, "cover", agent.UnknownCode},
		{"no agent", func(i *Inhaled) { i.Agent = "" }, "agent", agent.Missing},
		{"no pressure", func(i *Inhaled) { i.Pressure = quantity.Amount{} }, "pressure", agent.Missing},
		{"no breath", func(i *Inhaled) { i.MinuteLPerMin = Range{} }, "minute", agent.TooLow},
		{"oxygen in %", func(i *Inhaled) { i.Oxygen = q("30 %") }, "oxygen", agent.WrongUnit},
		{"carbon dioxide of 5", func(i *Inhaled) { i.CO2 = q("5 mm[Hg]") }, "co2", agent.TooLow},
		{"120 % of ether", func(i *Inhaled) { i.AgentPercent = Exactly(120) }, "agent_percent", agent.TooHigh},
	} {
		i := base
		c.change(&i)
		var e *agent.Error
		if _, err := i.Estimate(); !errors.As(err, &e) || e.Field != c.field || e.Code != c.code {
			t.Errorf("%s: %v, want %s %s", c.name, err, c.field, c.code)
		}
	}
}

func TestVentilation(t *testing.T) {
	b := scaled(70)
	air := func(breathing Breathing) (Airflow, agent.Answer) {
		t.Helper()
		a, answer, err := Ventilation(b, breathing)
		if err != nil {
			t.Fatal(err)
		}
		ordered(t, a.AlveolarLPerMin)
		ordered(t, a.MinuteLPerMin)
		return a, answer
	}
	rest, answer := air(Breathing{})
	if rest.AlveolarLPerMin.Value != 4 || answer.Value.String() != "4 L/min" || rest.MinuteLPerMin.Value <= 5.5 || rest.MinuteLPerMin.Value >= 7 {
		t.Errorf("at rest: %+v, %s", rest, answer.Value)
	}
	// Halothane takes three tenths of it for each MAC, and all of it in the end.
	if got, answer := air(Breathing{Agent: term.AgentHalothane, DepthMAC: Exactly(1)}); math.Abs(got.AlveolarLPerMin.Value-2.8) > 1e-12 || !has(answer.Cautions, Depressed) {
		t.Errorf("halothane: %+v", got)
	}
	if got, _ := air(Breathing{Agent: term.AgentHalothane, DepthMAC: Exactly(5)}); got.AlveolarLPerMin.High != 0 {
		t.Errorf("halothane, 5 MAC: %+v", got)
	}
	// Ether none up to 1.5 MAC.
	if got, answer := air(Breathing{Agent: term.AgentEther, DepthMAC: Exactly(1.5)}); got != rest || has(answer.Cautions, Depressed) {
		t.Errorf("ether: %+v", got)
	}
	if got, _ := air(Breathing{Agent: term.AgentEther, DepthMAC: Exactly(2.7)}); got.AlveolarLPerMin.High != 0 {
		t.Errorf("ether, 2.7 MAC: %+v", got)
	}
	// An opioid and a benzodiazepine, and both.
	opioid, _ := air(Breathing{Opioid: true})
	both, _ := air(Breathing{Opioid: true, Benzodiazepine: true})
	if opioid.AlveolarLPerMin.Value != 3.2 || math.Abs(both.AlveolarLPerMin.Value-2.88) > 1e-12 || both.AlveolarLPerMin.High != rest.AlveolarLPerMin.High {
		t.Errorf("opioid %+v, both %+v", opioid, both)
	}
	// Who is ventilated is not slowed, and the screen is told.
	if got, answer := air(Breathing{Support: term.SupportControlled, Agent: term.AgentHalothane, DepthMAC: Exactly(2), Opioid: true}); got != rest || !has(answer.Cautions, NoBrake) || has(answer.Cautions, Depressed) {
		t.Errorf("controlled: %+v, %v", got, answer.Cautions)
	}
	if got, _ := air(Breathing{Support: term.SupportAssisted, Opioid: true}); got.AlveolarLPerMin.Value != 4 || got.AlveolarLPerMin.Low >= rest.AlveolarLPerMin.Low {
		t.Errorf("assisted: %+v", got)
	}
	// A closed airway and a held breath stop it, whatever is squeezed.
	for _, s := range []term.Support{term.SupportObstructed, term.SupportApnoea} {
		if got, answer := air(Breathing{Support: s, Minute: q("6 L/min")}); got != (Airflow{}) || !has(answer.Cautions, UptakeStopped) {
			t.Errorf("%s: %+v", s, got)
		}
	}
	// What somebody measured stands.
	if got, _ := air(Breathing{Minute: q("10 L/min"), Opioid: true}); got.MinuteLPerMin != Exactly(10) || math.Abs(got.AlveolarLPerMin.Value-6.5) > 1e-12 {
		t.Errorf("measured: %+v", got)
	}
	for _, c := range []struct {
		name        string
		b           Breathing
		field, code string
	}{
		{"asleep", Breathing{Support: "asleep"}, "support", agent.UnknownCode},
		{"depth without an agent", Breathing{DepthMAC: Exactly(1)}, "agent", agent.Missing},
		{"wine", Breathing{Agent: "wine"}, "agent", agent.UnknownCode},
		{"depth below nought", Breathing{DepthMAC: Range{-1, 0, 0}}, "depth", agent.TooLow},
		{"500 L", Breathing{Minute: q("500 L/min")}, "minute", agent.TooHigh},
	} {
		var e *agent.Error
		if _, _, err := Ventilation(b, c.b); !errors.As(err, &e) || e.Field != c.field || e.Code != c.code {
			t.Errorf("%s: %v, want %s %s", c.name, err, c.field, c.code)
		}
	}
}

// Deeper breathes less, never more than at rest; every range is one.
func TestVentilationProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := scaled(rapid.Float64Range(2, 150).Draw(t, "kg"))
		code := rapid.SampledFrom(modelled).Draw(t, "agent")
		low := rapid.Float64Range(0, 3).Draw(t, "low")
		mid := low + rapid.Float64Range(0, 1).Draw(t, "mid")
		depth := Range{low, mid, mid + rapid.Float64Range(0, 1).Draw(t, "high")}
		breathing := Breathing{Support: rapid.SampledFrom(term.SupportList.Codes()).Draw(t, "support"), Agent: code, DepthMAC: depth,
			Opioid: rapid.Bool().Draw(t, "opioid"), Benzodiazepine: rapid.Bool().Draw(t, "benzodiazepine")}
		air, _, err := Ventilation(b, breathing)
		if err != nil {
			t.Fatal(err)
		}
		ordered(t, air.AlveolarLPerMin)
		ordered(t, air.MinuteLPerMin)
		deeper := breathing
		deeper.DepthMAC = Range{depth.Low + 0.5, depth.Value + 0.5, depth.High + 0.5}
		less, _, err := Ventilation(b, deeper)
		if err != nil || less.AlveolarLPerMin.Value > air.AlveolarLPerMin.Value || less.AlveolarLPerMin.Low > air.AlveolarLPerMin.Low {
			t.Fatalf("%+v deeper than %+v, %v", less, air, err)
		}
		if air.AlveolarLPerMin.High > 1.25*b.AlveolarLPerMin*(1+1e-12) {
			t.Fatalf("more than at rest: %+v", air)
		}
	})
}

// Every estimate of delivery is a range about its value, within what there can
// be: no more than is saturated, than the air, than 100 %.
func TestDeliveryProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		pressure := rapid.Float64Range(400, 780).Draw(t, "pressure")
		air := agent.Give(pressure, 2, quantity.MmHg)
		low := rapid.Float64Range(0.5, 10).Draw(t, "minute")
		minute := Range{low, low * 1.2, low * 1.5}
		d := OpenDrop{Agent: term.AgentEther, MinuteLPerMin: minute, Pressure: air,
			Cover: rapid.SampledFrom([]term.Cover{"", term.CoverOn, term.CoverOff}).Draw(t, "cover"),
			Drops: agent.Give(rapid.Float64Range(0, 1000).Draw(t, "drops"), 0, quantity.DropsPerMin)}
		if rapid.Bool().Draw(t, "wet too") {
			d.Wetness = rapid.SampledFrom(term.WetnessList.Codes()).Draw(t, "wetness")
		}
		got, err := d.Inspired()
		if err != nil {
			t.Fatal(err)
		}
		ordered(t, got.InspiredMmHg)
		if got.InspiredMmHg.High > 186.2 || val(got.High) > 100 {
			t.Fatalf("more than saturated: %+v", got)
		}
		v := Vaporiser{Agent: rapid.SampledFrom([]term.Agent{term.AgentEther, term.AgentHalothane, term.AgentIsoflurane, term.AgentSevoflurane, term.AgentEnflurane}).Draw(t, "agent"),
			Kind: rapid.SampledFrom([]VaporiserKind{Compensated, Plain}).Draw(t, "kind"), Dial: agent.Give(rapid.Float64Range(0, 20).Draw(t, "dial"), 2, quantity.Percent),
			Pressure: air, FlowLPerMin: minute}
		if rapid.Bool().Draw(t, "warm known") {
			v.Temperature = agent.Give(rapid.Float64Range(0, 35).Draw(t, "temperature"), 1, quantity.Cel)
		}
		out, err := v.Inspired()
		var e *agent.Error
		if errors.As(err, &e) && e.Code == agent.Boils {
			warm := 22.5
			if !v.Temperature.IsZero() {
				warm = val(v.Temperature)
			}
			if got := anAgent(t, v.Agent).SaturatedMmHg(warm); got < val(air) {
				t.Fatalf("%s does not boil: %v at %v", v.Agent, got, pressure)
			}
			return
		}
		if err != nil {
			t.Fatal(err)
		}
		ordered(t, out.InspiredMmHg)
		if out.InspiredMmHg.High > pressure+0.01 {
			t.Fatalf("more than the air: %+v", out)
		}
		o, err := Inhaled{Circuit: rapid.SampledFrom([]Circuit{OpenMask, DrawOver, DrawOverReservoir}).Draw(t, "circuit"), Cover: d.Cover, Agent: v.Agent,
			Oxygen:   agent.Give(rapid.Float64Range(0, 15).Draw(t, "oxygen"), 2, quantity.LPerMin),
			Pressure: air, MinuteLPerMin: minute, AgentPercent: got.InspiredMmHg.Scale(100 / pressure)}.Estimate()
		if err != nil {
			t.Fatal(err)
		}
		ordered(t, o.InspiredPercent)
		ordered(t, o.AlveolarMmHg)
		if o.InspiredPercent.High+got.InspiredMmHg.Low*100/pressure > 100+1e-9 {
			t.Fatalf("oxygen and ether are more than all: %+v, %+v", o.InspiredPercent, got.InspiredMmHg)
		}
	})
}
