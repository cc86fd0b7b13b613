package agent

import (
	"errors"
	"math"
	"slices"
	"strconv"
	"testing"

	"pgregory.net/rapid"

	"chinlift/core/quantity"
	"chinlift/core/term"
)

// near is for a value that a source gives to so many digits: half of the last.
func near(got float64, want string) bool {
	w, err := strconv.ParseFloat(want, 64)
	if err != nil {
		panic(err)
	}
	last := 1.0
	for i := range want {
		if want[i] == '.' {
			last = math.Pow(10, -float64(len(want)-i-1))
		}
	}
	return math.Abs(got-w) <= 0.5*last+1e-9
}

func must(t *testing.T, code term.Agent) Agent {
	t.Helper()
	a, err := Of(code)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

func q(s string) quantity.Amount { return quantity.MustParse(s) }

func val(a quantity.Amount) float64 { return a.Value.Float64() }

// Every number has a source with a title and a mark of the list, and lies
// within its own span.
func TestNumbersHaveSources(t *testing.T) {
	for _, code := range term.AgentList.Codes() {
		a := must(t, code)
		if a.Code != code {
			t.Fatalf("%s is %s", code, a.Code)
		}
		f := a.Fire
		s := a.Solubility
		for i, x := range []Number{
			a.MolarMassGPerMol, a.DensityGPerML, a.BoilingCelsius, a.VapourMmHg20, a.MAC40Percent, a.AwakePerMAC, a.MetabolisedPercent, a.LiverExtraction,
			s.BloodGas, s.Brain, s.Heart, s.Kidney, s.Liver, s.Muscle, s.Fat, s.VesselPoor,
			f.AirLowPercent, f.AirHighPercent, f.OxygenLowPercent, f.OxygenHighPercent, f.FlashCelsius, f.IgnitionCelsius,
		} {
			if !x.Known() {
				if x.Source != (Source{}) {
					t.Errorf("%s: number %d has a source and no value", code, i)
				}
				continue
			}
			if x.Source.Title == "" || !term.MarkList.Has(x.Source.Mark) {
				t.Errorf("%s: number %d, %v, has no source", code, i, x.Value)
			}
			if lo, hi := x.Span(); lo > x.Value || hi < x.Value {
				t.Errorf("%s: number %d, %v, is not within %v to %v", code, i, x.Value, lo, hi)
			}
		}
		for i, x := range []Number{a.MolarMassGPerMol, a.BoilingCelsius, a.MAC40Percent, a.MetabolisedPercent, s.BloodGas, s.Brain, s.Muscle, s.Fat} {
			if !x.Known() {
				t.Errorf("%s: number %d of those that all have is missing", code, i)
			}
		}
		if !a.Gas && (a.Antoine.Source.Title == "" || !a.DensityGPerML.Known()) {
			t.Errorf("%s: a liquid without density or vapour pressure", code)
		}
		// A model can be made of all but two agents of the past.
		if want := code != term.AgentTrichloroethylene && code != term.AgentChloroform; s.Complete() != want {
			t.Errorf("%s: complete solubilities: %v", code, s.Complete())
		}
	}
	for _, a := range agents {
		if !term.AgentList.Has(a.Code) {
			t.Errorf("%s is in no list", a.Code)
		}
	}
	if _, err := Of("xenon"); err == nil {
		t.Error("an unknown agent was known")
	}
}

// The second source of the coefficients: R. K. Stoelting, R. D. Miller, Basics
// of Anesthesia, as republished; within 5 %, and 10 % for the brain, which it
// gives to two digits.
func TestSolubilityAgainstSecondTable(t *testing.T) {
	for code, want := range map[term.Agent][5]float64{ // blood/gas, brain, muscle, fat, vapour pressure at 20 °C
		term.AgentIsoflurane:  {1.46, 1.6, 2.9, 45, 240},
		term.AgentEnflurane:   {1.9, 1.5, 1.7, 36, 172},
		term.AgentHalothane:   {2.54, 1.9, 3.4, 51, 244},
		term.AgentSevoflurane: {0.65, 1.7, 3.1, 48, 160},
	} {
		a := must(t, code)
		for i, got := range []float64{a.Solubility.BloodGas.Value, a.Solubility.Brain.Value, a.Solubility.Muscle.Value, a.Solubility.Fat.Value, a.SaturatedMmHg(20)} {
			if limit := 0.05; math.Abs(got/want[i]-1) > limit && i != 1 || math.Abs(got/want[i]-1) > 0.10 {
				t.Errorf("%s, column %d: %v, want %v", code, i, got, want[i])
			}
		}
	}
}

// Age and MAC: computed independently from Mapleson's formula, three decimals.
func TestMACByAge(t *testing.T) {
	ages := []float64{1, 5, 10, 20, 30, 40, 50, 60, 70, 80, 90, 95}
	factor := map[float64]string{1: "1.2732", 5: "1.2421", 10: "1.2042", 20: "1.1319", 30: "1.0639", 40: "1.0000", 50: ".9399", 60: ".8835", 70: ".8304", 80: ".7805", 90: ".7337", 95: ".7113"}
	for _, y := range ages {
		if got := AgeFactor(y); !near(got, factor[y]) {
			t.Errorf("factor at %v = %v, want %s", y, got, factor[y])
		}
	}
	for code, row := range map[term.Agent][12]string{
		term.AgentHalothane:    {".955", ".932", ".903", ".849", ".798", ".75", ".705", ".663", ".623", ".585", ".550", ".533"},
		term.AgentIsoflurane:   {"1.490", "1.453", "1.409", "1.324", "1.245", "1.17", "1.100", "1.034", ".972", ".913", ".858", ".832"},
		term.AgentEnflurane:    {"2.075", "2.025", "1.963", "1.845", "1.734", "1.63", "1.532", "1.440", "1.354", "1.272", "1.196", "1.159"},
		term.AgentSevoflurane:  {"2.292", "2.236", "2.168", "2.037", "1.915", "1.80", "1.692", "1.590", "1.495", "1.405", "1.321", "1.280"},
		term.AgentDesflurane:   {"8.403", "8.198", "7.948", "7.470", "7.022", "6.6", "6.204", "5.831", "5.481", "5.152", "4.842", "4.695"},
		term.AgentNitrousOxide: {"132.4", "129.2", "125.2", "117.7", "110.6", "104", "97.8", "91.9", "86.4", "81.2", "76.3", "74.0"},
		term.AgentEther:        {"2.445", "2.385", "2.312", "2.173", "2.043", "1.92", "1.805", "1.696", "1.594", "1.499", "1.409", "1.366"},
	} {
		for i, want := range row {
			a, err := MAC(code, q(strconv.FormatFloat(ages[i], 'f', -1, 64)+" a"))
			if err != nil || !near(val(a.Value), want) {
				t.Errorf("%s at %v = %s, %v; want %s", code, ages[i], a.Value, err, want)
			}
			if slices.Contains(a.Cautions, Extrapolated) != (code == term.AgentEther) {
				t.Errorf("%s: cautions %v", code, a.Cautions)
			}
		}
	}
	// Mapleson 1996: 6 % for each decade, all its MAC at 40 years.
	if got := 1 - AgeFactor(50); !near(got, "0.06") {
		t.Errorf("a decade takes %v", got)
	}
	for code, want := range map[term.Agent]string{term.AgentHalothane: "0.75 %", term.AgentIsoflurane: "1.17 %", term.AgentEnflurane: "1.63 %",
		term.AgentSevoflurane: "1.8 %", term.AgentDesflurane: "6.6 %", term.AgentNitrousOxide: "104 %"} {
		if a, err := MAC(code, q("40 a")); err != nil || a.Value.String() != want {
			t.Errorf("%s at 40 = %s, %v", code, a.Value, err)
		}
	}
	// Under 1 year it is that of 1 year, and says so.
	infant, err := MAC(term.AgentHalothane, q("3 mo"))
	one, err1 := MAC(term.AgentHalothane, q("1 a"))
	if err != nil || err1 != nil || infant.Value != one.Value || !slices.Contains(infant.Cautions, UnderOneYear) || slices.Contains(one.Cautions, UnderOneYear) {
		t.Errorf("infant %s %v, one year %s %v; %v %v", infant.Value, infant.Cautions, one.Value, one.Cautions, err, err1)
	}
	if a, err := MAC(term.AgentIsoflurane, q("96 a")); err != nil || !slices.Contains(a.Cautions, BeyondCharts) {
		t.Errorf("96 years: %v, %v", a.Cautions, err)
	}
	if a, err := MAC(term.AgentChloroform, q("40 a")); err != nil || !slices.Contains(a.Cautions, Historical) || !slices.Contains(a.Cautions, MACUncertain) {
		t.Errorf("chloroform: %v, %v", a.Cautions, err)
	}
}

// Published mixtures. Charts can be read to 0.05 %; the figure of the formula
// stands beside, to its digits.
func TestMixtures(t *testing.T) {
	const charts = "R. W. D. Nickalls, W. W. Mapleson, Br J Anaesth 2003;91:170"
	for _, c := range []struct {
		source         string
		agent          term.Agent
		age            string
		total, nitrous string
		published      float64
		formula        string
	}{
		{charts + ", abstract", term.AgentIsoflurane, "95 a", "1.2 1", "67 %", 0.25, ".245"},
		{charts + ", abstract", term.AgentIsoflurane, "5 a", "1.2 1", "67 %", 1.0, ".990"},
		{charts + ", example with desflurane", term.AgentDesflurane, "80 a", "1.2 1", "67 %", 2, "1.93"},
		{charts + ", example with desflurane", term.AgentDesflurane, "80 a", "1.2 1", "0 %", 6.25, "6.18"},
	} {
		pressure := q("760 mm[Hg]")
		n2o, err := TensionOf(q(c.nitrous), pressure)
		if err != nil {
			t.Fatal(err)
		}
		a, err := Remainder(c.agent, q(c.age), q(c.total), Share{term.AgentNitrousOxide, n2o})
		if err != nil {
			t.Fatal(err)
		}
		got := val(a.Value) / 7.6
		// The answer is rounded to 0.01 mmHg, which is 0.0013 %.
		w, _ := strconv.ParseFloat(c.formula, 64)
		last := math.Pow(10, -float64(len(c.formula)-1-slices.Index([]byte(c.formula), '.')))
		if math.Abs(got-w) > last/2+0.0007 || math.Abs(got-c.published) > 0.075 {
			t.Errorf("%s: %s at %s = %v, want %s by formula, %v by the chart", c.source, c.agent, c.age, got, c.formula, c.published)
		}
	}
	// A gas monitor's manual, first example: 60 years, isoflurane 0.9 % and
	// nitrous oxide 50 %; it takes 1.15 and 104.6 % at 40 years and has 1.01,
	// 92.4 and a sum of 1.4; 1.1 at 20 years.
	if got := 1.15 * AgeFactor(60); !near(got, "1.02") { // the manual cuts to 1.01
		t.Errorf("isoflurane at 60: %v", got)
	}
	if got := 104.6 * AgeFactor(60); !near(got, "92.4") {
		t.Errorf("nitrous oxide at 60: %v", got)
	}
	for _, c := range []struct {
		age, iso, n2o float64
		want          string
	}{{60, 0.9, 50, "1.4"}, {20, 0.9, 50, "1.1"}} {
		if got := (c.iso/1.15 + c.n2o/104.6) / AgeFactor(c.age); !near(got, c.want) {
			t.Errorf("manual, %v years: %v, want %s", c.age, got, c.want)
		}
		// With Mapleson's own values it comes to the same.
		a, err := Sum(q(strconv.FormatFloat(c.age, 'f', -1, 64)+" a"), Share{term.AgentIsoflurane, q("6.84 mm[Hg]")}, Share{term.AgentNitrousOxide, q("380 mm[Hg]")})
		if err != nil || !near(val(a.Value), c.want) {
			t.Errorf("sum at %v: %s, %v", c.age, a.Value, err)
		}
	}
	// Another manual, second example: 32 years, 1.21 and 110, 0.65 % and 69 %
	// are 0.54 and 0.63, together 1.2; with 1.15 and 105 % at 40 years.
	f := AgeFactor(32)
	for _, c := range []struct {
		got  float64
		want string
	}{{1.15 * f, "1.21"}, {105 * f, "110"}, {0.65 / (1.15 * f), "0.54"}, {69 / (105 * f), "0.63"}, {0.65/(1.15*f) + 69/(105*f), "1.2"}} {
		if !near(c.got, c.want) {
			t.Errorf("manual, 32 years: %v, want %s", c.got, c.want)
		}
	}
}

// Vapour pressures and boiling points: columns computed independently from the
// same equations, beside the published values at 20 °C and 760 mmHg.
func TestVapourPressure(t *testing.T) {
	temps := [6]float64{0, 10, 20, 25, 30, 35}
	for code, c := range map[term.Agent]struct {
		columns [6]string
		boils   string
	}{
		term.AgentEther:             {[6]string{"186.1", "291.3", "440.1", "534.3", "643.8", "770.4"}, "34.62"},
		term.AgentHalothane:         {[6]string{"96.3", "156.0", "242.8", "298.8", "364.8", "441.9"}, "50.27"},
		term.AgentIsoflurane:        {[6]string{"91.7", "150.5", "238.7", "297.3", "367.5", "451.2"}, "48.49"},
		term.AgentSevoflurane:       {[6]string{"58.2", "97.3", "157.1", "197.2", "245.7", "304.0"}, "58.56"},
		term.AgentEnflurane:         {[6]string{"66.5", "109.5", "174.5", "217.7", "269.6", "331.5"}, "56.83"},
		term.AgentDesflurane:        {[6]string{"256.4", "421.2", "669.0", "833.3", "1030.6", "1265.7"}, "22.88"},
		term.AgentMethoxyflurane:    {[6]string{"7.1", "12.9", "22.5", "29.3", "37.8", "48.3"}, "104.8"},
		term.AgentTrichloroethylene: {[6]string{"20.4", "35.4", "58.6", "74.3", "93.4", "116.3"}, "87.09"},
		term.AgentChloroform:        {[6]string{"60.1", "99.5", "158.2", "196.7", "242.5", "296.6"}, "61.20"},
	} {
		a := must(t, code)
		for i, want := range c.columns {
			got := a.SaturatedMmHg(temps[i])
			if a.Antoine.Source.Author == "derived" {
				// The columns were made before these two equations were rounded
				// to the digits that they have here: 1 part in 10 000.
				w, _ := strconv.ParseFloat(want, 64)
				if math.Abs(got-w) <= 0.05+1e-4*w {
					continue
				}
			}
			if !near(got, want) {
				t.Errorf("%s at %v °C: %v, want %s", code, temps[i], got, want)
			}
		}
		if got := a.boilsAtCelsius(760); !near(got, c.boils) {
			t.Errorf("%s boils at %v, want %s", code, got, c.boils)
		}
		// What books publish: 1 K about the boiling point, 2 % about the pressure.
		if lo, hi := a.BoilingCelsius.Span(); a.boilsAtCelsius(760) < lo-1 || a.boilsAtCelsius(760) > hi+1 {
			t.Errorf("%s boils at %v, published %v to %v", code, a.boilsAtCelsius(760), lo, hi)
		}
		if lo, hi := a.VapourMmHg20.Span(); a.SaturatedMmHg(20) < 0.98*lo || a.SaturatedMmHg(20) > 1.02*hi {
			t.Errorf("%s at 20 °C: %v, published %v to %v", code, a.SaturatedMmHg(20), lo, hi)
		}
	}
	// The same by amounts.
	if a, err := SaturatedVapour(term.AgentHalothane, q("68 [degF]")); err != nil || a.Value.String() != "242.8 mm[Hg]" {
		t.Errorf("halothane at 68 °F: %s, %v", a.Value, err)
	}
	// Ether of a frosted gauze: 186 mmHg at 0 °C is 24.5 % at sea level; about
	// 115 mmHg, 15 %, at -10 °C.
	ether := must(t, term.AgentEther)
	if got := ether.SaturatedMmHg(0) / 7.6; !near(got, "24.5") {
		t.Errorf("0 °C: %v %%", got)
	}
	if got := ether.SaturatedMmHg(-10); math.Abs(got-115) > 1.5 {
		t.Errorf("-10 °C: %v mmHg", got)
	}
	// Boiling at height, computed independently: ether 27.9, 24.6, 21.3 °C at
	// 2000, 3000, 4000 m; halothane 43.2, 39.7, 36.2.
	for code, want := range map[term.Agent][3]string{term.AgentEther: {"27.9", "24.6", "21.3"}, term.AgentHalothane: {"43.2", "39.7", "36.2"}} {
		for i, m := range []float64{2000, 3000, 4000} {
			a, err := BoilingPoint(code, Give(StandardMmHg(m), 4, quantity.MmHg))
			if err != nil || a.Value.String() != want[i]+" Cel" {
				t.Errorf("%s at %v m: %s, %v; want %s", code, m, a.Value, err, want[i])
			}
			if slices.Contains(a.Cautions, BoilsInRoom) != (code == term.AgentEther) {
				t.Errorf("%s at %v m: %v", code, m, a.Cautions)
			}
		}
	}
	var bad *Error
	if _, err := SaturatedVapour(term.AgentNitrousOxide, q("20 Cel")); !errors.As(err, &bad) || bad.Code != NoRule {
		t.Errorf("a gas has no liquid here: %v", err)
	}
}

// mL of vapour for each mL of liquid at 20 °C and 760 mmHg, computed
// independently; and the common rule, about 200 (V. Dhulkhed and others, Indian
// J Anaesth 2013;57:455, read).
func TestVapourOfLiquid(t *testing.T) {
	for code, want := range map[term.Agent]string{
		term.AgentEther: "231.5", term.AgentHalothane: "227.7", term.AgentIsoflurane: "195.1", term.AgentEnflurane: "197.8", term.AgentSevoflurane: "182.8",
		term.AgentDesflurane: "209.7", term.AgentMethoxyflurane: "207.1", term.AgentTrichloroethylene: "268.0", term.AgentChloroform: "300.0",
	} {
		a := must(t, code)
		if got := a.VapourMLPerML(20, 760); !near(got, want) {
			t.Errorf("%s: %v, want %s", code, got, want)
		}
		// At 37 °C 5.80 % more, at height by the pressure.
		if got := a.VapourMLPerML(37, 760) / a.VapourMLPerML(20, 760); !near(got, "1.0580") {
			t.Errorf("%s at 37 °C: %v", code, got)
		}
		if got := a.VapourMLPerML(20, 525.9) / a.VapourMLPerML(20, 760); math.Abs(got-760/525.9) > 1e-12 {
			t.Errorf("%s at 525.9 mmHg: %v", code, got)
		}
	}
	for _, code := range []term.Agent{term.AgentHalothane, term.AgentIsoflurane, term.AgentEnflurane, term.AgentSevoflurane, term.AgentDesflurane} {
		a, err := Vapour(code, q("1 mL"), q("20 Cel"), q("760 mm[Hg]"))
		if got := val(a.Value); err != nil || got < 170 || got > 230 {
			t.Errorf("%s: %v mL, %v", code, got, err)
		}
	}
}

// The air at heights, computed independently from the formula of the standard
// atmosphere: hPa, mmHg, and the tension of oxygen in moist air.
func TestAir(t *testing.T) {
	for _, c := range []struct {
		m               float64
		hPa, mmHg, pio2 string
	}{
		{0, "1013.25", "760.0", "149.4"}, {500, "954.61", "716.0", "140.2"}, {1000, "898.75", "674.1", "131.4"}, {1500, "845.56", "634.2", "123.0"},
		{2000, "794.95", "596.3", "115.1"}, {2500, "746.83", "560.2", "107.5"}, {3000, "701.09", "525.9", "100.3"}, {3500, "657.64", "493.3", "93.5"},
		{4000, "616.40", "462.3", "87.0"}, {4500, "577.28", "433.0", "80.9"}, {5000, "540.20", "405.2", "75.0"},
	} {
		p := StandardMmHg(c.m)
		if !near(p/760*1013.25, c.hPa) || !near(p, c.mmHg) || !near(InspiredOxygenMmHg(AirOxygenPercent, p), c.pio2) {
			t.Errorf("%v m: %v hPa, %v mmHg, %v mmHg of oxygen; want %+v", c.m, p/760*1013.25, p, InspiredOxygenMmHg(AirOxygenPercent, p), c)
		}
	}
	if a, err := Pressure(q("2000 m")); err != nil || a.Value.String() != "596.3 mm[Hg]" || !slices.Contains(a.Cautions, StandardAir) {
		t.Errorf("2000 m: %s, %v", a.Value, err)
	}
	if a, err := InspiredOxygen(q("20.95 %"), q("760 mm[Hg]")); err != nil || a.Value.String() != "149.4 mm[Hg]" {
		t.Errorf("air: %s, %v", a.Value, err)
	}
	// Vapour of ether in air leaves so much oxygen; computed independently.
	for vapour, want := range map[string]string{"5 %": "19.9", "10 %": "18.86", "15 %": "17.81", "20 %": "16.76"} {
		if a, err := OxygenLeft(q("20.95 %"), q(vapour)); err != nil || !near(val(a.Value), want) {
			t.Errorf("%s: %s, %v; want %s", vapour, a.Value, err, want)
		}
	}
}

// The tension stays, the per cent changes: MAC % x 760 / P.
func TestHeightChangesPercentAlone(t *testing.T) {
	low, err := MACTension(term.AgentEther, q("40 a"))
	if err != nil || low.Value.String() != "14.59 mm[Hg]" { // 1.92 % x 7.6
		t.Fatalf("%s, %v", low.Value, err)
	}
	for pressure, want := range map[string]string{"760 mm[Hg]": "1.92 %", "596.3 mm[Hg]": "2.45 %", "525.9 mm[Hg]": "2.77 %"} {
		if got, err := PercentAt(low.Value, q(pressure)); err != nil || got.String() != want {
			t.Errorf("%s: %s, %v; want %s", pressure, got, err, want)
		}
	}
	if got, err := TensionOf(q("1.92 %"), q("760 mm[Hg]")); err != nil || got.String() != "14.59 mm[Hg]" {
		t.Errorf("%s, %v", got, err)
	}
}

// Waking: published parts of MAC lie within the range that is given.
func TestAwake(t *testing.T) {
	for _, c := range []struct {
		agent  term.Agent
		part   float64
		source string
	}{
		{term.AgentEther, 0.67, "Stoelting, Longnecker, Eger 1970, quoted in Gaumann 1992"},
		{term.AgentMethoxyflurane, 0.52, "Stoelting, Longnecker, Eger 1970"},
		{term.AgentHalothane, 0.52, "Stoelting, Longnecker, Eger 1970"},
		{term.AgentHalothane, 0.59, "Gaumann, Mustaki, Tassonyi 1992, slow"},
		{term.AgentHalothane, 0.50, "Gaumann 1992, fast"},
		{term.AgentEnflurane, 0.27, "Gaumann 1992, slow"},
		{term.AgentIsoflurane, 0.35, "Goto 2000"},
		{term.AgentSevoflurane, 0.35, "Goto 2000"},
		{term.AgentNitrousOxide, 0.61, "Goto 2000"},
		{term.AgentIsoflurane, 0.33, "Br J Anaesth 1992;69:259"},
		{term.AgentSevoflurane, 0.33, "Br J Anaesth 1992;69:259"},
		{term.AgentDesflurane, 0.34, "a teaching table"},
	} {
		a, err := Awake(c.agent, q("40 a"))
		mac := must(t, c.agent).MACMmHg(40)
		if err != nil || val(a.Low) > c.part*mac || val(a.High) < c.part*mac || !slices.Contains(a.Cautions, RangeOfAwake) {
			t.Errorf("%s, %s: %s to %s, %v; want %v", c.agent, c.source, a.Low, a.High, err, c.part*mac)
		}
	}
	// Not within it, and known not to be: the values of a fast washout, where the
	// lung runs ahead of the brain (isoflurane 0.19, enflurane 0.20), and 0.25 of
	// the slow one of isoflurane, a third under what two other studies found.
	for code, part := range map[term.Agent]float64{term.AgentIsoflurane: 0.25, term.AgentEnflurane: 0.20} {
		if a := must(t, code); 0.75*a.AwakePerMAC.Value <= part {
			t.Errorf("%s: %v is within the range now; the comment is out of date", code, part)
		}
	}
	if _, err := Awake(term.AgentChloroform, q("40 a")); err == nil {
		t.Error("nobody published when people wake from chloroform")
	}
}

// Ether in arterial blood: A. Faulconer, Correlation of concentrations of ether
// in arterial blood with electro-encephalographic patterns, Anesthesiology 1952
// (abstract read): 52 mg/dL at level 1, 120 at level 5. Conversions computed
// independently.
func TestEtherInBlood(t *testing.T) {
	ether := must(t, term.AgentEther)
	if got := ether.BloodMgPerDL(7.6); !near(got, "35.24") {
		t.Errorf("1 %%: %v mg/dL", got)
	}
	if got := ether.BloodMgPerDL(1.92 * 7.6); !near(got, "67.7") {
		t.Errorf("1 MAC: %v mg/dL", got)
	}
	for _, c := range []struct {
		mgPerDL      float64
		percent, mac string
	}{{52, "1.48", "0.77"}, {120, "3.41", "1.77"}} {
		percent := c.mgPerDL / ether.BloodMgPerDL(7.6)
		if !near(percent, c.percent) || !near(percent/1.92, c.mac) {
			t.Errorf("%v mg/dL: %v %%, %v MAC; want %+v", c.mgPerDL, percent, percent/1.92, c)
		}
	}
	a, err := BloodConcentration(term.AgentEther, q("14.592 mm[Hg]"))
	if err != nil || a.Value.String() != "67.7 mg/dL" || val(a.High) < val(a.Value) {
		t.Errorf("%s, %v", a.Value, err)
	}
}

func TestFire(t *testing.T) {
	// A teaching page on ether: 1.7 to 48 % in air, flash point -45 °C, takes
	// fire at 160 to 180 °C, vapour 2.6 times as heavy as air (28.96 g/mol).
	f := must(t, term.AgentEther).Fire
	if !f.Burns || f.AirLowPercent.Value != 1.7 || f.AirHighPercent.Value != 48 || f.FlashCelsius.Value != -45 || f.IgnitionCelsius.Low != 160 || f.IgnitionCelsius.High != 180 {
		t.Errorf("%+v", f)
	}
	if got := must(t, term.AgentEther).MolarMassGPerMol.Value / 28.96; !near(got, "2.6") {
		t.Errorf("vapour over air: %v", got)
	}
	for _, code := range term.AgentList.Codes() {
		a := must(t, code)
		if a.Fire.Burns != slices.Contains(a.Cautions, Explosive) || a.Fire.FeedsFire != slices.Contains(a.Cautions, FeedsFire) {
			t.Errorf("%s: fire %+v, cautions %v", code, a.Fire, a.Cautions)
		}
	}
}

func TestRefused(t *testing.T) {
	for _, c := range []struct {
		name        string
		err         error
		field, code string
	}{
		{"no agent", second(MAC("", q("40 a"))), "agent", Missing},
		{"not an agent", second(MAC("wine", q("40 a"))), "agent", UnknownCode},
		{"no age", second(MAC(term.AgentEther, quantity.Amount{})), "age", Missing},
		{"age of 130", second(MAC(term.AgentEther, q("130 a"))), "age", TooHigh},
		{"age below 0", second(MAC(term.AgentEther, q("-1 a"))), "age", TooLow},
		{"age in kg", second(MAC(term.AgentEther, q("40 kg"))), "age", WrongUnit},
		{"no shares", second(Sum(q("40 a"))), "shares", Missing},
		{"share below 0", second(Sum(q("40 a"), Share{term.AgentEther, q("-1 mm[Hg]")})), "tension", TooLow},
		{"share in per cent", second(Sum(q("40 a"), Share{term.AgentEther, q("1 %")})), "tension", WrongUnit},
		{"4 MAC", second(Remainder(term.AgentEther, q("40 a"), q("4 1"))), "total", TooHigh},
		{"pressure on the moon", second(PercentAt(q("1 mm[Hg]"), q("0 mm[Hg]"))), "pressure", TooLow},
		{"more than the air", second(PercentAt(q("700 mm[Hg]"), q("600 mm[Hg]"))), "tension", TooHigh},
		{"120 %", second(TensionOf(q("120 %"), q("760 mm[Hg]"))), "percent", TooHigh},
		{"9000 m", second(Pressure(q("9000 m"))), "height", TooHigh},
		{"ether at 90 °C", second(SaturatedVapour(term.AgentEther, q("90 Cel"))), "temperature", TooHigh},
		{"liquid nitrous oxide", second(Vapour(term.AgentNitrousOxide, q("1 mL"), q("20 Cel"), q("760 mm[Hg]"))), "agent", NoRule},
		{"a ton of ether", second(Vapour(term.AgentEther, q("1000 L"), q("20 Cel"), q("760 mm[Hg]"))), "volume", TooHigh},
		{"oxygen of 101 %", second(OxygenLeft(q("101 %"), q("1 %"))), "oxygen", TooHigh},
	} {
		var e *Error
		if !errors.As(c.err, &e) || e.Field != c.field || e.Code != c.code || e.Error() == "" {
			t.Errorf("%s: %v, want %s %s", c.name, c.err, c.field, c.code)
		}
	}
}

func second[T any](_ T, err error) error { return err }

func TestProperties(t *testing.T) {
	codes := term.AgentList.Codes()
	rapid.Check(t, func(t *rapid.T) {
		a := agents[rapid.IntRange(0, len(codes)-1).Draw(t, "agent")]
		// Older needs less, and equal ratios for equal years.
		x, y := rapid.Float64Range(1, 60).Draw(t, "x"), rapid.Float64Range(1, 60).Draw(t, "y")
		if x < y && a.MACPercent(x) <= a.MACPercent(y) {
			t.Fatalf("MAC rises with age: %v %v", x, y)
		}
		if got, want := AgeFactor(x+10)/AgeFactor(x), math.Pow(10, -0.0269); math.Abs(got-want) > 1e-12 {
			t.Fatalf("a decade takes %v", got)
		}
		// The boiling point is where the vapour pressure is the air's.
		p := rapid.Float64Range(300, 800).Draw(t, "pressure")
		if !a.Gas {
			if got := a.SaturatedMmHg(a.boilsAtCelsius(p)); math.Abs(got/p-1) > 1e-9 {
				t.Fatalf("%s boils at %v mmHg, not %v", a.Code, got, p)
			}
			if a.SaturatedMmHg(x) <= a.SaturatedMmHg(x-1) {
				t.Fatalf("%s: vapour pressure falls with warmth", a.Code)
			}
		}
		// Parts add, and the remainder makes the whole. A MAC and a half of
		// nitrous oxide are more than there is air.
		if a.Gas {
			return
		}
		age := Give(x, 3, quantity.Year)
		other := Share{term.AgentNitrousOxide, Give(rapid.Float64Range(0, 500).Draw(t, "n2o"), 2, quantity.MmHg)}
		rest, err := Remainder(a.Code, age, q("1.5 1"), other)
		if err != nil {
			t.Fatal(err)
		}
		sum, err := Sum(age, other, Share{a.Code, rest.Value})
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(val(sum.Value)-1.5) > 0.005+0.005/a.MACMmHg(val(age))+1e-9 {
			t.Fatalf("%s with %s: %s", rest.Value, other.Tension, sum.Value)
		}
		// Higher means thinner air.
		h := rapid.Float64Range(-400, 5999).Draw(t, "height")
		if StandardMmHg(h+1) >= StandardMmHg(h) {
			t.Fatal("air thickens with height")
		}
	})
}
