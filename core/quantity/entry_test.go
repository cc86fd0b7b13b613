package quantity

import (
	"errors"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func TestParseEntry(t *testing.T) {
	for _, c := range []struct {
		text string
		unit Unit
		want string
	}{
		{"36.6", Cel, "36.6 Cel"}, {"36,6", Cel, "36.6 Cel"}, {" 36.6 ", Cel, "36.6 Cel"}, {"\t36,6\n", Cel, "36.6 Cel"},
		{"\u00a036,6\u202f", Cel, "36.6 Cel"}, {"36.60", Cel, "36.60 Cel"}, {"36,6 °C", Cel, "36.6 Cel"}, {"36.6C", Cel, "36.6 Cel"},
		{"98.6 F", Cel, "98.6 [degF]"}, {"98,6 °f", DegF, "98.6 [degF]"},
		{".5", Mg, "0.5 mg"}, {",5", Mg, "0.5 mg"}, {"-.5", Cel, "-0.5 Cel"}, {"+5", Mg, "5 mg"}, {"−5", Cel, "-5 Cel"}, {"-0", Cel, "0 Cel"},
		{"007", One, "7 1"}, {"00", One, "0 1"}, {"0", LPerMin, "0 L/min"}, {"0.0", LPerMin, "0.0 L/min"}, {"00.50", Mg, "0.50 mg"},
		{"0.65 mg", Mg, "0.65 mg"}, {"0.65mg", Mg, "0.65 mg"}, {"650 mcg", Mg, "650 ug"}, {"650 µg", Mg, "650 ug"}, {"650 μG", Mg, "650 ug"},
		{"650 micrograms", Mg, "650 ug"}, {"1 microgram/kg/min", UgPerKgPerMin, "1 ug/kg/min"}, {"5 MG", Mg, "5 mg"}, {"5 g", Mg, "5 g"},
		{"5 ml", ML, "5 mL"}, {"5 ML", ML, "5 mL"}, {"5 cc", ML, "5 mL"}, {"0.5 l", ML, "0.5 L"}, {"2 lpm", LPerMin, "2 L/min"}, {"2 l/min", LPerMin, "2 L/min"},
		{"120 mmHg", MmHg, "120 mm[Hg]"}, {"120 mm Hg", MmHg, "120 mm[Hg]"}, {"120 mm[Hg]", MmHg, "120 mm[Hg]"}, {"16 kpa", MmHg, "16 kPa"},
		{"80/min", PerMin, "80 /min"}, {"80 /min", PerMin, "80 /min"}, {"80 bpm", PerMin, "80 /min"}, {"98%", Percent, "98 %"}, {"98 percent", Percent, "98 %"},
		{"40 drops/min", DropsPerMin, "40 {drop}/min"}, {"40 gtt/min", DropsPerMin, "40 {drop}/min"},
		{"6 weeks", Year, "6 wk"}, {"6 years", Month, "6 a"}, {"3 y", Year, "3 a"}, {"2 hrs", Minute, "2 h"},
		{"154 lbs", Kg, "154 [lb_av]"}, {"11 st", Kg, "11 [stone_av]"}, {"70kg", Kg, "70 kg"}, {"70 KG.", Kg, "70 kg"},
		{"5 units", IU, "5 [IU]"}, {"5 iu", IU, "5 [IU]"}, {"5 international units", IU, "5 [IU]"},
		{"5 mg", Unit{}, "5 mg"}, {"12345,678", One, "12345.678 1"}, {"1234.500", One, "1234.500 1"},
		// No doubt about thousands: three decimals, but nought before the mark,
		// or a point and no nought at the end.
		{"0,125", Mg, "0.125 mg"}, {"0.500", Mg, "0.500 mg"}, {"2.755", Kg, "2.755 kg"}, {"1,5", Kg, "1.5 kg"}, {"1,0000", Kg, "1.0000 kg"},
		{"1000", ML, "1000 mL"},
		// Doses and rates as dose rules have them.
		{"5 mg/kg/h", MgPerKgPerH, "5 mg/kg/h"}, {"5 mg / kg / h", MgPerKgPerH, "5 mg/kg/h"}, {"0,5 mcg/kg/min", UgPerKgPerMin, "0.5 ug/kg/min"},
		{"2,5 mg/kg", MgPerKg, "2.5 mg/kg"}, {"1.5 mg/m²", MgPerM2, "1.5 mg/m2"}, {"10 mmol/h", MmolPerH, "10 mmol/h"}, {"18 units/kg/hr", MustUnit("[IU]/kg/h"), "18 [IU]/kg/h"},
		{"2 puffs", Puff, "2 {puff}"}, {"100 mcg/puff", UgPerPuff, "100 ug/{puff}"}, {"4 J/kg", JoulePerKg, "4 J/kg"}, {"100 mL/kg/day", MLPerKgPerH, "100 mL/kg/d"},
		// Strengths, where the concentration of a drug is asked for.
		{"1 %", Percent, "1 %"}, {"1 %", Unit{}, "1 %"}, {"0,5%", Percent, "0.5 %"},
		{"1 %", MgPerML, "10 mg/mL"}, {"0,5 %", MgPerML, "5 mg/mL"}, {"1:1000", MgPerML, "1 mg/mL"}, {"1:200 000", MgPerML, "5 ug/mL"}, {"1:200 000", UgPerML, "5 ug/mL"},
		{"100 mg/2 mL", MgPerML, "50 mg/mL"}, {"10 mg/mL", UgPerML, "10 mg/mL"}, {"10.0 mg/mL", MgPerML, "10.0 mg/mL"}, {"100 mg/3 mL", MgPerML, "33.33333333333333333333 mg/mL"},
		{"25000 units/5 mL", IUPerML, "5000 [IU]/mL"}, {"10 mmol/10 mL", MmolPerML, "1 mmol/mL"},
		// Apothecaries' amounts.
		{"1/100 gr", Mg, "0.01 [gr]"}, {"gr 1/100", Mg, "0.01 [gr]"}, {"gr. 1/4", Mg, "0.25 [gr]"}, {"GR 1/4", Mg, "0.25 [gr]"}, {"¼ gr", Mg, "0.25 [gr]"},
		{"gr ½", Mg, "0.5 [gr]"}, {"1 1/2 gr", Mg, "1.5 [gr]"}, {"1½ grains", Mg, "1.5 [gr]"}, {"1/4", Grain, "0.25 [gr]"}, {"1⁄8 gr", Grain, "0.125 [gr]"},
		{"1/6 gr", Mg, "0.16666666666666666667 [gr]"}, {"5 gr", Grain, "5 [gr]"}, {"gr 5", Mg, "5 [gr]"}, {"5 grains", Mg, "5 [gr]"}, {"0.25", Grain, "0.25 [gr]"},
	} {
		got, err := ParseEntry(c.text, c.unit)
		if err != nil || got.String() != c.want {
			t.Errorf("ParseEntry(%q, %s) = %s, %v; want %s", c.text, c.unit, got, err, c.want)
		}
	}
}

func TestParseEntryRefuses(t *testing.T) {
	for _, c := range []struct {
		text string
		unit Unit
		code string
	}{
		{"", Mg, EntryEmpty}, {"  \t\u00a0", Mg, EntryEmpty},
		{"abc", Mg, EntryNotANumber}, {"mg", Mg, EntryNotANumber}, {"-", Mg, EntryNotANumber}, {".", Mg, EntryNotANumber}, {",", Mg, EntryNotANumber},
		{"5.", Mg, EntryNotANumber}, {"5,", Mg, EntryNotANumber}, {"--5", Mg, EntryNotANumber}, {"5-10", Mg, EntryNotANumber}, {"5+5", Mg, EntryNotANumber},
		{"120/80", MmHg, EntryNotANumber}, {"1/2", Mg, EntryNotANumber}, {"1/2 mg", Mg, EntryNotANumber}, {"½", ML, EntryNotANumber}, {"∞", Mg, EntryNotANumber},
		{"1/0 gr", Mg, EntryNotANumber}, {"1/2/3 gr", Mg, EntryNotANumber}, {"-1/2 gr", Mg, EntryNotANumber}, {"/2 gr", Mg, EntryNotANumber}, {"٣", Mg, EntryNotANumber},
		{"1.5/2 gr", Mg, EntryNotANumber}, {"\xff", Mg, EntryNotANumber}, {"gr", Mg, EntryNotANumber}, {"..5", Mg, EntryNotANumber},
		{"1,000", ML, EntryAmbiguousSeparator}, {"1,234", ML, EntryAmbiguousSeparator}, {"-1,000", ML, EntryAmbiguousSeparator}, {"999,999 mL", ML, EntryAmbiguousSeparator},
		{"1.000", ML, EntryAmbiguousSeparator}, {"1.500", ML, EntryAmbiguousSeparator}, {"1,000.5", ML, EntryAmbiguousSeparator}, {"1.000,5", ML, EntryAmbiguousSeparator},
		{"1 000", ML, EntryAmbiguousSeparator}, {"1\u202f000", ML, EntryAmbiguousSeparator}, {"1,000,000", ML, EntryAmbiguousSeparator}, {"36. 6", Cel, EntryAmbiguousSeparator},
		{"5 mL", Mg, EntryUnitDoesNotFit}, {"5 mg/kg", Mg, EntryUnitDoesNotFit}, {"5 furlongs", Cm, EntryUnitDoesNotFit}, {"5 U", IU, EntryUnitDoesNotFit},
		{"1e3", Mg, EntryUnitDoesNotFit}, {"5 m g/h", Mg, EntryUnitDoesNotFit}, {"5 gr", Mg, EntryUnitDoesNotFit}, {"5 gr", G, EntryUnitDoesNotFit}, {"98 %", One, EntryUnitDoesNotFit},
		{"5", Unit{}, EntryUnitDoesNotFit}, {"5 x", Unit{}, EntryUnitDoesNotFit},
		// A percentage is no laboratory's concentration, a strength no dose.
		{"12 %", GPerDL, EntryUnitDoesNotFit}, {"1 %", GPerL, EntryUnitDoesNotFit}, {"1:1000", GPerDL, EntryUnitDoesNotFit}, {"1:1000", Mg, EntryUnitDoesNotFit}, {"1:1000", Unit{}, EntryUnitDoesNotFit},
		{"1 %", Mg, EntryUnitDoesNotFit}, {"1 %", IUPerML, EntryUnitDoesNotFit}, {"1:1000", IUPerML, EntryUnitDoesNotFit}, {"5 units/2 mL", MgPerML, EntryUnitDoesNotFit}, {"5 mg/2 mL", IUPerML, EntryUnitDoesNotFit},
		{"1:10", MgPerML, EntryUnitDoesNotFit}, {"1 % v/v", MgPerML, EntryUnitDoesNotFit}, {"1,000 mg/2 mL", MgPerML, EntryAmbiguousSeparator},
		{"999999999998 mg/7 mL", MgPerML, EntryTooLong}, {"0.0000000000000000000000001 mg/3 mL", MgPerML, EntryTooLong},
		{strings.Repeat("1", 31), Mg, EntryTooLong}, {"1." + strings.Repeat("0", 40), Mg, EntryTooLong}, {strings.Repeat(" ", 81), Mg, EntryTooLong},
		{strings.Repeat("9", 1<<20), Mg, EntryTooLong}, {"1/10000000 gr", Mg, EntryTooLong},
	} {
		got, err := ParseEntry(c.text, c.unit)
		var e *EntryError
		if !errors.As(err, &e) || !got.IsZero() {
			t.Errorf("ParseEntry(%.40q, %s) = %s, %v; want code %s", c.text, c.unit, got, err, c.code)
			continue
		}
		if e.Code != c.code || e.Text != c.text || e.Unit != c.unit {
			t.Errorf("ParseEntry(%.40q, %s): %v; want code %s", c.text, c.unit, err, c.code)
		}
		if len(err.Error()) > 500 {
			t.Errorf("the message of %.40q has %d bytes", c.text, len(err.Error()))
		}
	}
}

// TestBothMarksAreOneNumber: whatever is accepted with a comma is the same
// number with a point.
func TestBothMarksAreOneNumber(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := rapid.StringMatching(`[0-9]{0,5},[0-9]{1,5}`).Draw(t, "text")
		a, err := ParseEntry(s, Mg)
		if err != nil {
			return
		}
		if b, err := ParseEntry(strings.Replace(s, ",", ".", 1), Mg); err != nil || a != b {
			t.Fatalf("%s is %s with a comma and %s, %v with a point", s, a, b, err)
		}
	})
}

// TestEntryKeepsDigits: of a plain number nothing changes but the mark and the
// noughts before it.
func TestEntryKeepsDigits(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := readings().Draw(t, "d")
		if d.Sign() == 0 {
			return // "-0" becomes "0"
		}
		got, err := ParseEntry(d.String(), Mg)
		if err != nil {
			if _, part, _ := strings.Cut(d.String(), "."); len(part) == 3 && part[2] == '0' {
				return
			}
			t.Fatalf("%s: %v", d, err)
		}
		if got.Value != d {
			t.Fatalf("%s reads as %s", d, got)
		}
	})
}

// TestEveryUnitCanBeTyped by its code, and in capitals.
func TestEveryUnitCanBeTyped(t *testing.T) {
	for _, u := range Units() {
		if u == One {
			continue // "5 1" is two numbers
		}
		for _, s := range []string{u.String(), strings.ToUpper(u.String()), u.Symbol()} {
			got, err := ParseEntry("2 "+s, u)
			if err != nil || got.Unit != u {
				t.Errorf("2 %s in %s = %s, %v", s, u, got, err)
			}
		}
	}
}

func FuzzParseEntry(f *testing.F) {
	for _, s := range []string{"", "36,6", "36.6 °C", "1,000", "1/100 gr", "gr ½", "1 1/2 gr", "-.5", "5.", "120/80", "80/min", "5 mcg", "\xff", "gr", "00", "1e9", "1 %", "1:200 000", "100 mg/3 mL", "5 mg/kg/h"} {
		f.Add(s, "mg")
		f.Add(s, "mg/mL")
		f.Add(s, "[gr]")
		f.Add(s, "")
	}
	f.Fuzz(func(t *testing.T, text, code string) {
		unit, err := UnitOf(code)
		if err != nil && code != "" {
			return
		}
		a, err := ParseEntry(text, unit)
		if err != nil {
			var e *EntryError
			if !errors.As(err, &e) || e.Text != text || e.Unit != unit || !a.IsZero() {
				t.Fatalf("ParseEntry(%q, %s) = %s, %v", text, unit, a, err)
			}
			return
		}
		if !unit.IsZero() && a.Unit.Dimension() != unit.Dimension() {
			t.Fatalf("ParseEntry(%q, %s) = %s", text, unit, a)
		}
		if back, err := Parse(a.String()); err != nil || back != a {
			t.Fatalf("ParseEntry(%q, %s) = %s, which reads back as %s, %v", text, unit, a, back, err)
		}
		// Whoever types what was understood, means the same again. The wire
		// form of 1.500 is refused as an entry, so print it first.
		number, _ := a.Print(false)
		if a.Unit == One || strings.HasPrefix(number, "-") {
			return
		}
		if again, err := ParseEntry(number+" "+a.Unit.String(), a.Unit); err != nil || again.Value.Cmp(a.Value) != 0 {
			t.Fatalf("ParseEntry(%q, %s) = %s, entered again %s, %v", text, unit, a, again, err)
		}
	})
}
