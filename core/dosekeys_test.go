package core_test

import (
	"slices"
	"testing"

	"chinlift/core/formulary"
	"chinlift/core/quantity"
)

// syringeMarks has how fine a syringe is marked, in mL: common practice, as the
// engine has it.
var syringeMarks = []struct{ holds, mark string }{{"1", "0.01"}, {"2", "0.1"}, {"5", "0.2"}, {"10", "0.5"}, {"20", "1"}}

// Every amount that a key offers can be drawn up: its volume is a mark of a
// syringe that holds it, and it holds the dose that the tap records, for every
// drug and use, from a newborn to an old man.
func TestKeysCanBeMeasured(t *testing.T) {
	f, err := formulary.Builtin()
	if err != nil {
		t.Fatal(err)
	}
	keys := 0
	for _, p := range [][2]string{{"3.4", "0.01"}, {"8", "0.7"}, {"18", "6"}, {"45", "80"}, {"70", "40"}, {"119", "33"}} {
		c := openAt(t, t.TempDir(), newClock())
		id := planned(t, c, p[0], p[1])
		submit(t, c, id, "support", "support", "controlled")
		for _, d := range f.Drugs() {
			for _, v := range doses(t, c, id, d.Code, "") {
				for _, k := range v.Keys {
					set := map[string]string{}
					for i := 0; i+1 < len(k.Set); i += 2 {
						set[k.Set[i]] = k.Set[i+1]
					}
					if set["kind"] != "drug" || set["volume"] == "" {
						continue
					}
					keys++
					volume := quantity.MustParse(set["volume"] + " mL")
					dose := quantity.MustParse(set["dose"] + " " + set["dose_unit"])
					holds, err := volume.Mul(quantity.MustParse(set["strength"]+" "+set["strength_unit"]), dose.Unit)
					if err != nil {
						t.Fatalf("%s %s: %v", d.Code, v.Use, err)
					}
					if over, err := dose.Cmp(holds); err != nil || over > 0 {
						t.Errorf("%s kg, %s %s: %s is more than %s of it holds", p[0], d.Code, v.Use, dose, volume)
					}
					if lost, err := holds.Sub(dose); err != nil || lost.Round(5).Value.Sign() != 0 {
						t.Errorf("%s kg, %s %s: %s holds %s, and the key records %s", p[0], d.Code, v.Use, volume, holds, dose)
					}
					fits := false
					for _, s := range syringeMarks {
						if n, err := volume.Cmp(quantity.MustParse(s.holds + " mL")); err != nil || n > 0 {
							continue
						}
						down, err := volume.Down(quantity.MustParse(s.mark + " mL"))
						if err != nil {
							t.Fatal(err)
						}
						n, err := down.Cmp(volume)
						fits = fits || err == nil && n == 0
					}
					if large, err := volume.Cmp(quantity.MustParse("20 mL")); err == nil && large > 0 {
						fits = true // more than a syringe: a bag
					}
					if !fits {
						t.Errorf("%s kg, %s %s, %s: %s is no mark of a syringe that holds it", p[0], d.Code, v.Use, k.Name, volume)
					}
				}
			}
		}
	}
	if keys < 300 {
		t.Errorf("%d keys are too few to be all", keys)
	}
}

// What goes in steps begins at its low end, and the dose that a guideline names
// may be the upper one: both are one tap away. World Health Organization,
// Managing complications in pregnancy and childbirth: hydralazine 5 mg; labetalol
// 10 mg, then 20. What is left of a day's total holds the key as well.
func TestStepsReachTheUpperEnd(t *testing.T) {
	for _, x := range []struct {
		drug, given string
		want        []string
	}{
		{"hydralazine", "", []string{"1.6 mg", "2 mg", "5 mg"}},
		{"hydralazine", "17", []string{"1.6 mg", "2 mg"}}, // 3 of 20 mg are left
		{"labetalol", "", []string{"8 mg", "10 mg", "20 mg"}},
		{"labetalol", "285", []string{"8 mg", "10 mg"}}, // 15 of 300 mg are left
	} {
		c := openAt(t, t.TempDir(), newClock())
		id := planned(t, c, "62", "28")
		submit(t, c, id, "facts", "sex", "female", "pregnant", "yes")
		if x.given != "" {
			submit(t, c, id, "drug", "drug", x.drug, "dose", x.given, "dose_unit", "mg", "route", "iv", "back", "60")
		}
		var got []string
		for _, v := range doses(t, c, id, x.drug, "high-pressure-iv") {
			for _, k := range v.Keys {
				got = append(got, k.Text)
			}
		}
		if !slices.Equal(got, x.want) {
			t.Errorf("%s after %q mg: %q, want %q", x.drug, x.given, got, x.want)
		}
	}
}
