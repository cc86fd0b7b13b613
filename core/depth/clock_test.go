package depth

import (
	"errors"
	"math"
	"slices"
	"testing"

	"chinlift/core/agent"
	"chinlift/core/quantity"
	"chinlift/core/term"
)

func mg(s string) quantity.Amount { return quantity.MustParse(s + " mg") }

func TestClockKetamine(t *testing.T) {
	muscle, err := KetamineTiming(term.RouteIm)
	if err != nil {
		t.Fatal(err)
	}
	vein, err := KetamineTiming(term.RouteIv)
	if err != nil {
		t.Fatal(err)
	}
	vein.Interval = quantity.MustParse("10 min")
	// 10 to 15 minutes after onset of 3 to 5: World Health Organization, Surgical
	// Care at the District Hospital, 14.1C; the onset from memory.
	c, err := ClockKetamine([]Dose{{AtMin: 2, Dose: mg("400"), Route: term.RouteIm, Timing: muscle}}, Total{}, 6)
	if err != nil {
		t.Fatal(err)
	}
	if c.Works != (Window{5, 7}) || c.Ends != (Window{15, 22}) || c.Next != (Window{7, 15}) || c.SumMg != 400 || c.LastAgoMin != 4 {
		t.Errorf("%+v", c)
	}
	for _, w := range []Watch{WatchBreathing, WatchAirway, WatchSecretion, WatchAccumulates} {
		if !slices.Contains(c.Watch, w) {
			t.Errorf("no %s", w)
		}
	}
	if slices.Contains(c.Watch, WatchEmergence) || len(c.Sources) == 0 {
		t.Errorf("%+v", c)
	}
	// Two into a vein; the interval of the rule; what is left of them after 2 h
	// by a half-life of 2 h is half, after 3 h by one of 3 h.
	doses := []Dose{{AtMin: 20, Dose: mg("50"), Route: term.RouteIv, Timing: vein}, {Dose: mg("100"), Route: term.RouteIv, Timing: vein}}
	total := Total{Most: mg("160"), Within: quantity.MustParse("2 h"), Next: mg("50")}
	c, err = ClockKetamine(doses, total, 20)
	if err != nil {
		t.Fatal(err)
	}
	if c.Doses != 2 || c.Next != (Window{30, 30}) || c.SumMg != 150 || c.RoomMg != 10 || !slices.Contains(c.Watch, WatchTotalNear) {
		t.Errorf("%+v", c)
	}
	c, err = ClockKetamine(doses, total, 121)
	if err != nil || c.SumMg != 50 || !slices.Contains(c.Watch, WatchEmergence) {
		t.Errorf("the first is over two hours ago: %+v %v", c, err)
	}
	c, err = ClockKetamine(doses[1:], total, 120)
	if err != nil || math.Abs(c.LeftLowMg-50) > 1e-9 || c.LeftHighMg <= 50 {
		t.Errorf("%+v %v", c, err)
	}
	total.Most = mg("150")
	if c, _ = ClockKetamine(doses, total, 20); c.RoomMg != 0 || !slices.Contains(c.Watch, WatchTotalReached) {
		t.Errorf("%+v", c)
	}

	for field, err := range map[string]error{
		"doses":    second(ClockKetamine(nil, Total{}, 1)),
		"dose":     second(ClockKetamine([]Dose{{}}, Total{}, 1)),
		"most":     second(ClockKetamine(doses, Total{Most: quantity.MustParse("1 mL")}, 30)),
		"within":   second(ClockKetamine(doses, Total{Within: mg("1")}, 30)),
		"next":     second(ClockKetamine(doses, Total{Next: quantity.MustParse("1 h")}, 30)),
		"onset":    second(ClockKetamine([]Dose{{Dose: mg("1"), Timing: Timing{Onset: spanOf("5 min", "1 min")}}}, Total{}, 1)),
		"lasts":    second(ClockKetamine([]Dose{{Dose: mg("1"), Timing: Timing{Lasts: spanOf("5 min", "1 min")}}}, Total{}, 1)),
		"interval": second(ClockKetamine([]Dose{{Dose: mg("1"), Timing: Timing{Interval: mg("3")}}}, Total{}, 1)),
		"route":    second(KetamineTiming(term.RouteOral)),
	} {
		var e *agent.Error
		if !errors.As(err, &e) || e.Field != field {
			t.Errorf("%s: %v", field, err)
		}
	}
}

func second[T any](_ T, err error) error { return err }

func TestClockBlock(t *testing.T) {
	b := Block{Kind: term.BlockKindSpinal, AtMin: 10, Timing: SpinalTiming()}
	clock := func(now float64) BlockClock {
		t.Helper()
		c, err := ClockBlock(b, now)
		if err != nil {
			t.Fatal(err)
		}
		return c
	}
	// 5 to 10 minutes, then 90 to 180: WHO Model Formulary 2008, from memory.
	c := clock(12)
	if c.Works != (Window{15, 20}) || c.Ends != (Window{105, 200}) || slices.Contains(c.Watch, WatchNotSet) || slices.Contains(c.Watch, WatchToxicity) {
		t.Errorf("%+v", c)
	}
	if c = clock(21); !slices.Contains(c.Watch, WatchNotSet) || !slices.Contains(c.Watch, WatchFall) {
		t.Errorf("%+v", c)
	}
	b.Heights = []Height{{25, term.BlockHeightT4, term.Motor3}, {17, term.BlockHeightT10, term.Motor2}, {60, term.BlockHeightT6, ""}}
	for now, want := range map[float64]struct {
		height term.BlockHeight
		has    []Watch
		not    []Watch
	}{
		18:  {term.BlockHeightT10, nil, []Watch{WatchSpreads, WatchNotSet, WatchSlowPulse}},
		26:  {term.BlockHeightT4, []Watch{WatchSpreads, WatchSlowPulse}, []Watch{WatchHighBlock}},
		45:  {term.BlockHeightT4, []Watch{WatchHeightOld}, nil},
		60:  {term.BlockHeightT6, []Watch{WatchRecedes}, []Watch{WatchSlowPulse}},
		110: {term.BlockHeightT6, []Watch{WatchWearsOff}, []Watch{WatchOverdue}},
		201: {term.BlockHeightT6, []Watch{WatchOverdue}, []Watch{WatchWearsOff}},
	} {
		c := clock(now)
		if c.Height != want.height {
			t.Errorf("at %v: %s", now, c.Height)
		}
		for _, w := range want.has {
			if !slices.Contains(c.Watch, w) {
				t.Errorf("at %v no %s", now, w)
			}
		}
		for _, w := range want.not {
			if slices.Contains(c.Watch, w) {
				t.Errorf("at %v %s", now, w)
			}
		}
	}
	if c = clock(110); c.Highest != term.BlockHeightT4 || len(c.HeightsOverTime) != 3 || c.HeightsOverTime[0].AtMin != 17 {
		t.Errorf("%+v", c)
	}
	b.Heights = []Height{{15, term.BlockHeightC8, ""}}
	if c = clock(16); !slices.Contains(c.Watch, WatchHighBlock) {
		t.Errorf("%+v", c)
	}
	// A block whose times nobody published has none.
	c, err := ClockBlock(Block{Kind: term.BlockKindAxillary}, 20)
	if err != nil || c.Works != (Window{}) || c.Ends != (Window{}) || !slices.Equal(c.Watch, []Watch{WatchToxicity}) {
		t.Errorf("%+v %v", c, err)
	}
	for field, b := range map[string]Block{
		"block":  {Kind: "x"},
		"at":     {Kind: term.BlockKindSpinal, AtMin: 30},
		"height": {Kind: term.BlockKindSpinal, Heights: []Height{{Height: "x"}}},
		"motor":  {Kind: term.BlockKindSpinal, Heights: []Height{{Motor: "x"}}},
		"onset":  {Kind: term.BlockKindSpinal, Timing: Timing{Onset: Span{Low: mg("1")}}},
	} {
		var e *agent.Error
		if _, err := ClockBlock(b, 20); !errors.As(err, &e) || e.Field != field {
			t.Errorf("%s: %v", field, err)
		}
	}
}
