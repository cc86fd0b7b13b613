package core_test

import (
	"testing"

	"chinlift/core"
	"chinlift/core/quantity"
)

func TestReadSchedule(t *testing.T) {
	all, _, code := core.ReadSchedule("# poured by hand\n\n0 min, 4 %\n 600 s ; 8 %\r\n1 h, 0 %")
	if code != "" || len(all) != 3 || all[1].At.String() != "600 s" || all[2].Inspired.String() != "0 %" {
		t.Fatalf("%v, %q", all, code)
	}
	for text, want := range map[string]struct {
		line int
		code string
	}{
		"":                                     {0, "empty"},
		"# nothing":                            {1, "empty"},
		"0 min 4 %":                            {1, "no-comma"},
		"0 min, 4":                             {1, "no-unit"},
		"0, 4 %":                               {1, "no-unit"},
		"0 mL, 4 %":                            {1, "wrong-unit"},
		"0 min, 4 mg":                          {1, "wrong-unit"},
		"0 min, 4 %\n5 min, -1 %":              {2, "too-low"},
		"0 min, 4 %\n5 min, 90 %":              {2, "too-high"},
		"0 min, 4 %\n50 h, 9 %":                {2, "too-high"},
		"1 min, 4 %":                           {1, "first-line"},
		"0 min, 4 %\n\n9 min, 3 %\n540 s, 2 %": {4, "not-later"},
		"0 min, 4 %\n9 min, 3 %\n8 min, 2 %":   {3, "not-later"},
		"0 min, four %":                        {1, "not-a-number"},
	} {
		if all, line, code := core.ReadSchedule(text); code != want.code || code != "empty" && line != want.line || all != nil {
			t.Errorf("%q: line %d, %q; want %d, %q", text, line, code, want.line, want.code)
		}
	}
}

// FuzzReadSchedule: whatever a file holds is a schedule that goes forward, from 0
// and within its bounds, or a code.
func FuzzReadSchedule(f *testing.F) {
	for _, s := range []string{"0 min, 4 %", "0 s; 1 %\n1 h, 80 %\n# x\n", "0 min,", ",", "0 min, 4 %\n5 min 3 %", "0 min, 1e9 %"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		all, _, code := core.ReadSchedule(text)
		if (code == "") != (len(all) > 0) {
			t.Fatalf("%d lines and %q", len(all), code)
		}
		last := -1.0
		for i, l := range all {
			m, err := l.At.Float64(quantity.Minute)
			p, err2 := l.Inspired.Float64(quantity.Percent)
			if err != nil || err2 != nil || m < last || i == 0 && m != 0 || m > 2880 || p < 0 || p > 80 {
				t.Fatalf("line %d: %v", i, l)
			}
			last = m
		}
	})
}
