package depth

import (
	"cmp"
	"math"
	"slices"

	"chinlift/core/agent"
	"chinlift/core/quantity"
	"chinlift/core/term"
)

// The techniques that have no depth have clocks: what was given when, what the
// published spans make of that, and what to look at. A clock looks at nobody. It
// suggests no dose; when a next one may come at the soonest is not that it
// should.

// Span is a published span of time.
type Span struct{ Low, High quantity.Amount }

// Timing is how long a dose takes and lasts, from the clinic's dose rule or, by
// KetamineTiming and SpinalTiming, from what is published.
type Timing struct {
	Onset    Span            // 0 to 2 h
	Lasts    Span            // 0 to 24 h, from the onset; absent is not published
	Interval quantity.Amount // no next dose sooner; absent is none
	Sources  []agent.Source
}

var (
	ketamineVein   = agent.Source{Author: "Paediatric Formulary Committee", Title: "BNF for Children 2011-2012", Year: 2011, Table: "page 631: into a vein for 5 to 10 min; onset of 30 to 60 s is from memory", Mark: term.MarkRead}
	ketamineMuscle = agent.Source{Author: "World Health Organization", Title: "Surgical Care at the District Hospital", Year: 2003, Table: "14.1C: into muscle within minutes, 10 to 15 min of surgery; 3 to 5 min are from memory", Mark: term.MarkRead}
	ketamineHalf   = agent.Source{Title: "half-life of ketamine, 2 to 3 h", Mark: term.MarkMemory}
	spinalSource   = agent.Source{Author: "World Health Organization", Title: "WHO Model Formulary 2008", Year: 2008, Table: "section 1.2: heavy bupivacaine in the spinal canal: 5 to 10 min, 90 to 180 min", Mark: term.MarkMemory}
	blockHeights   = agent.Source{Title: "Common teaching: T4 and over slows the heart; hands, whisper and breath tell of the neck; toxicity shows within the first half hour", Mark: term.MarkPractice}
)

func spanOf(low, high string) Span {
	return Span{quantity.MustParse(low), quantity.MustParse(high)}
}

// KetamineTiming gives the published times of a first dose, by route. Other
// routes than into a vein or muscle have none: an *agent.Error for "route".
func KetamineTiming(route term.Route) (Timing, error) {
	switch route {
	case term.RouteIv, term.RouteIntraosseous:
		return Timing{Onset: spanOf("30 s", "60 s"), Lasts: spanOf("5 min", "10 min"), Sources: []agent.Source{ketamineVein}}, nil
	case term.RouteIm:
		return Timing{Onset: spanOf("3 min", "5 min"), Lasts: spanOf("10 min", "15 min"), Sources: []agent.Source{ketamineMuscle}}, nil
	}
	return Timing{}, &agent.Error{Field: "route", Code: agent.NoRule, Given: string(route)}
}

// SpinalTiming gives the published times of a spinal with heavy bupivacaine.
func SpinalTiming() Timing {
	return Timing{Onset: spanOf("5 min", "10 min"), Lasts: spanOf("90 min", "180 min"), Sources: []agent.Source{spinalSource}}
}

// times reads a timing in minutes.
func (t *Timing) times() (onset, lasts [2]float64, interval float64, err error) {
	take := func(field string, a quantity.Amount, most float64) float64 {
		if err != nil || a.IsZero() {
			return 0
		}
		var x float64
		x, err = agent.Take(field, a, quantity.Minute, 0, most)
		return x
	}
	onset = [2]float64{take("onset", t.Onset.Low, 120), take("onset", t.Onset.High, 120)}
	lasts = [2]float64{take("lasts", t.Lasts.Low, 24*60), take("lasts", t.Lasts.High, 24*60)}
	interval = take("interval", t.Interval, 24*60)
	if err == nil && onset[0] > onset[1] {
		err = &agent.Error{Field: "onset", Code: agent.Contradicts}
	}
	if err == nil && lasts[0] > lasts[1] {
		err = &agent.Error{Field: "lasts", Code: agent.Contradicts}
	}
	return onset, lasts, interval, err
}

// Window is a stretch of minutes on the caller's count.
type Window struct{ FromMin, ToMin float64 }

// Dose is ketamine that was given.
type Dose struct {
	AtMin  float64
	Dose   quantity.Amount // mg
	Route  term.Route
	Timing Timing
}

// Total is what a rule allows within a time; absent is no such rule.
type Total struct {
	Most   quantity.Amount // mg, for this patient
	Within quantity.Amount // of time
	Next   quantity.Amount // mg of the next dose that is thought of; absent counts as none
}

// KetamineClock is where a patient under ketamine is.
type KetamineClock struct {
	Doses int
	Works Window // the last dose begins to work within it
	Ends  Window // what was given wears off within it; the first minute is the one to go by
	// Next is the window of a next dose: not before the rule's interval and the
	// onset of the last; the other end is where the first may lighten. Where it
	// is over, both are the later one.
	Next       Window
	SumMg      float64 // within the rule's time
	LeftLowMg  float64 // what the body may still hold, by a half-life of 2 h
	LeftHighMg float64 // the same, by one of 3 h
	RoomMg     float64 // until the rule's total; 0 where it is reached, or where there is no rule
	Watch      []Watch
	Cautions   []agent.Caution
	Sources    []agent.Source
	LastAgoMin float64
}

// ClockKetamine works the clock out at a minute. Doses after it are not
// counted. The errors are *agent.Error: "doses" missing, "dose", "onset",
// "lasts", "interval", "most", "within", "next".
func ClockKetamine(doses []Dose, total Total, nowMin float64) (KetamineClock, error) {
	var c KetamineClock
	var answer agent.Answer
	answer.Beware(agent.Estimate, PeopleDiffer, NotAMonitor)
	doses = slices.Clone(doses)
	slices.SortStableFunc(doses, func(a, b Dose) int { return cmp.Compare(a.AtMin, b.AtMin) })
	within, most, next := math.Inf(1), 0.0, 0.0
	var err error
	if !total.Within.IsZero() {
		if within, err = agent.Take("within", total.Within, quantity.Minute, 1, 24*60); err != nil {
			return KetamineClock{}, err
		}
	}
	if !total.Most.IsZero() {
		if most, err = agent.Take("most", total.Most, quantity.Mg, 0.1, 10000); err != nil {
			return KetamineClock{}, err
		}
	}
	if !total.Next.IsZero() {
		if next, err = agent.Take("next", total.Next, quantity.Mg, 0, 10000); err != nil {
			return KetamineClock{}, err
		}
	}
	muscle := false
	for _, d := range doses {
		if d.AtMin > nowMin {
			continue
		}
		mg, err := agent.Take("dose", d.Dose, quantity.Mg, 0.01, 10000)
		if err != nil {
			return KetamineClock{}, err
		}
		onset, lasts, interval, err := d.Timing.times()
		if err != nil {
			return KetamineClock{}, err
		}
		c.Doses++
		muscle = muscle || d.Route == term.RouteIm
		c.Works = Window{d.AtMin + onset[0], d.AtMin + onset[1]}
		c.Ends.FromMin = max(c.Ends.FromMin, d.AtMin+onset[0]+lasts[0])
		c.Ends.ToMin = max(c.Ends.ToMin, d.AtMin+onset[1]+lasts[1])
		c.Next.FromMin = d.AtMin + max(interval, onset[1])
		ago := nowMin - d.AtMin
		c.LastAgoMin = ago
		if ago <= within {
			c.SumMg += mg
		}
		c.LeftLowMg += mg * math.Exp2(-ago/120)
		c.LeftHighMg += mg * math.Exp2(-ago/180)
		answer.Cite(d.Timing.Sources...)
	}
	if c.Doses == 0 {
		return KetamineClock{}, &agent.Error{Field: "doses", Code: agent.Missing}
	}
	c.Next.ToMin = max(c.Next.FromMin, c.Ends.FromMin)
	answer.Cite(ketamineHalf)
	c.Watch = []Watch{WatchBreathing, WatchAirway, WatchSecretion, WatchRise}
	if nowMin >= c.Ends.FromMin {
		c.Watch = append(c.Watch, WatchWearsOff, WatchEmergence)
	}
	if c.Doses > 1 || muscle {
		c.Watch = append(c.Watch, WatchAccumulates)
		answer.Beware(RepeatsLonger)
	}
	if most > 0 {
		c.RoomMg = max(0, most-c.SumMg)
		switch {
		case c.RoomMg == 0:
			c.Watch = append(c.Watch, WatchTotalReached)
		case next > c.RoomMg:
			c.Watch = append(c.Watch, WatchTotalNear)
		}
	}
	c.Cautions, c.Sources = answer.Cautions, answer.Sources
	return c, nil
}

// Height is how high a block was found at a time.
type Height struct {
	AtMin  float64
	Height term.BlockHeight
	Motor  term.Motor
}

// Block is a block that was placed.
type Block struct {
	Kind    term.BlockKind
	AtMin   float64
	Timing  Timing // of what was injected; the zero Timing is not known
	Heights []Height
}

// BlockClock is where a patient with a block is.
type BlockClock struct {
	Works, Ends     Window // zero where the timing is not known
	Height, Highest term.BlockHeight
	HeightAgoMin    float64
	Watch           []Watch
	Cautions        []agent.Caution
	Sources         []agent.Source
	AgoMin          float64
	HeightsOverTime []Height // by time, up to now
}

const heightOldMin = 15 // house choice

// ClockBlock works the clock out at a minute, 0 being the caller's. The errors
// are *agent.Error: "block", "height", "motor", "at" for a block that is placed
// after the minute, and those of the timing.
func ClockBlock(b Block, nowMin float64) (BlockClock, error) {
	if !term.BlockKindList.Has(b.Kind) {
		return BlockClock{}, &agent.Error{Field: "block", Code: agent.UnknownCode, Given: string(b.Kind)}
	}
	if !(b.AtMin <= nowMin) {
		return BlockClock{}, &agent.Error{Field: "at", Code: agent.TooHigh}
	}
	onset, lasts, _, err := b.Timing.times()
	if err != nil {
		return BlockClock{}, err
	}
	c := BlockClock{AgoMin: nowMin - b.AtMin}
	var answer agent.Answer
	answer.Beware(agent.Estimate, PeopleDiffer, NotAMonitor)
	answer.Cite(append(slices.Clone(b.Timing.Sources), blockHeights)...)
	timed := !b.Timing.Onset.High.IsZero()
	if timed {
		c.Works = Window{b.AtMin + onset[0], b.AtMin + onset[1]}
	}
	if lasts[1] > 0 {
		c.Ends = Window{b.AtMin + onset[0] + lasts[0], b.AtMin + onset[1] + lasts[1]}
	}
	for _, h := range b.Heights {
		if h.Height != "" && !term.BlockHeightList.Has(h.Height) {
			return BlockClock{}, &agent.Error{Field: "height", Code: agent.UnknownCode, Given: string(h.Height)}
		}
		if h.Motor != "" && !term.MotorList.Has(h.Motor) {
			return BlockClock{}, &agent.Error{Field: "motor", Code: agent.UnknownCode, Given: string(h.Motor)}
		}
		if h.AtMin <= nowMin && h.Height != "" {
			c.HeightsOverTime = append(c.HeightsOverTime, h)
		}
	}
	slices.SortStableFunc(c.HeightsOverTime, func(a, b Height) int { return cmp.Compare(a.AtMin, b.AtMin) })
	central := b.Kind == term.BlockKindSpinal || b.Kind == term.BlockKindEpidural || b.Kind == term.BlockKindCaudal
	if central {
		c.Watch = append(c.Watch, WatchFall, WatchBreathing)
		answer.Beware(HeightBySense)
	}
	if n := len(c.HeightsOverTime); n > 0 {
		last := c.HeightsOverTime[n-1]
		c.Height, c.HeightAgoMin = last.Height, nowMin-last.AtMin
		at := term.BlockHeightList.Index
		for _, h := range c.HeightsOverTime {
			if c.Highest == "" || at(h.Height) > at(c.Highest) {
				c.Highest = h.Height
			}
		}
		if n > 1 {
			switch was := at(c.HeightsOverTime[n-2].Height); {
			case at(last.Height) > was:
				c.Watch = append(c.Watch, WatchSpreads)
			case at(last.Height) < was:
				c.Watch = append(c.Watch, WatchRecedes)
			}
		}
		if at(last.Height) >= at(term.BlockHeightT4) {
			c.Watch = append(c.Watch, WatchSlowPulse)
		}
		if at(last.Height) >= at(term.BlockHeightT2) {
			c.Watch = append(c.Watch, WatchHighBlock)
		}
		if c.HeightAgoMin > heightOldMin {
			c.Watch = append(c.Watch, WatchHeightOld)
		}
	} else if timed && nowMin > c.Works.ToMin && central {
		c.Watch = append(c.Watch, WatchNotSet)
	}
	// A spinal is too little of the drug to poison.
	if b.Kind != term.BlockKindSpinal && c.AgoMin <= 30 {
		c.Watch = append(c.Watch, WatchToxicity)
	}
	if lasts[1] > 0 {
		switch {
		case nowMin > c.Ends.ToMin:
			c.Watch = append(c.Watch, WatchOverdue)
		case nowMin >= c.Ends.FromMin:
			c.Watch = append(c.Watch, WatchWearsOff)
		}
	}
	c.Cautions, c.Sources = answer.Cautions, answer.Sources
	return c, nil
}
