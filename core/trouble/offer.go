package trouble

import (
	"slices"

	"chinlift/core/quantity"
	"chinlift/core/term"
)

// Seen is what was measured and seen last, and against what it is held. What
// is absent nobody knows, and nothing is offered for it.
type Seen struct {
	SpO2, Systolic, Pulse quantity.Amount // last value
	RestSpO2              quantity.Amount // before the anaesthetic
	RestSystolic          quantity.Amount
	Breathing             term.Breathing // the last sign
	Chest                 term.Chest
	AirwayClear           *bool // air is known to pass, or known not to; nil: nobody said
	Altitude              quantity.Amount
	Spinal, Pregnant      bool

	// The limits of this patient's age.
	SystolicLow, SystolicSevere, SystolicHigh quantity.Amount
	PulseLow, PulseHigh                       quantity.Amount

	Age quantity.Amount
}

// Limits are the thresholds of the offers. A clinic may set each; those that go
// by age it sets as a share of the age's own limit.
type Limits struct {
	SpO2         quantity.Amount // under it, at sea level; see [SpO2Limit] for heights
	SpO2Fall     quantity.Amount // percentage points under that before the anaesthetic
	PressureFall quantity.Amount // under that at rest, by so much of it
	SpinalLeft   quantity.Amount // of a woman with child after a spinal: under so much of that at rest

	// Shares of the limit of the age, %; absent: all of it.
	SystolicLow, SystolicHigh, PulseLow, PulseHigh quantity.Amount

	SpO2Severe     quantity.Amount // so many percentage points under the limit it is severe
	PulseSevere    quantity.Amount // under so much of the low limit a pulse is severe
	SystolicSevere quantity.Amount // under so much of the age's severe limit a pressure is severe; absent: all of it

	PulsePress quantity.Amount // of a child: under it, with a poor flow, the chest is pressed, and it is severe
	Child      quantity.Amount // who is younger is a child to that
	Fresh      quantity.Amount // for so long a value or a sign offers a card: what is older says nothing about now

	NoSigns  bool // what breathing looks and sounds like offers nothing
	NoHeight bool // the limit for the saturation is the same at every height
}

// Defaults gives the thresholds that hold until a clinic sets its own.
//
// Sources: saturation under 94 %: Resuscitation Council UK, Paediatric advanced
// life support, 2021, where oxygen begins (read); 4 under that at rest, from
// memory: the same guideline takes 3 in who is low at all times. A fall
// by 40 % of the pressure at rest: Kruger and others, PMC6138874, 2017, as
// relative hypotension (read). After a spinal in a woman with child under 80 %
// of that at rest: South-East Asian consensus on hypotension in spinal
// anaesthesia for caesarean section, doi 10.1186/s44158-022-00084-1, 2022,
// table 1 (read). A child's pulse under 60: Resuscitation Council UK,
// Paediatric basic and advanced life support guidelines, 2021, with a poor flow
// the chest is pressed (read); a child up to puberty there, taken as twelve
// years. The limits of the age as they are. Severe, twelve years and the ten
// minutes are house choices without source. [Sources] tells each.
func Defaults() Limits {
	return Limits{
		SpO2: quantity.MustParse("94 %"), SpO2Fall: quantity.MustParse("4 %"),
		PressureFall: quantity.MustParse("40 %"), SpinalLeft: quantity.MustParse("80 %"),
		SystolicLow: ageLimit, SystolicHigh: ageLimit, PulseLow: ageLimit, PulseHigh: ageLimit,
		SpO2Severe: quantity.MustParse("6 %"), PulseSevere: quantity.MustParse("80 %"), SystolicSevere: ageLimit,
		PulsePress: quantity.MustParse("60 /min"), Child: quantity.MustParse("12 a"), Fresh: quantity.MustParse("10 min"),
	}
}

// ageLimit is the limit of the age as it is.
var ageLimit = quantity.MustParse("100 %")

// Sources of the thresholds, by the offer's reason.
var sources = map[Why]Source{
	LowSaturation:   {Author: "Resuscitation Council UK", Title: "Paediatric advanced life support guidelines", Year: 2021, Table: "oxygen from under 94 % on; how much less with the height is from memory", Via: "the page of the guideline", Mark: term.MarkRead},
	FallenSat:       {Title: "saturation 4 under that at rest; a guideline for children takes 3 in who is always low", Mark: term.MarkMemory},
	LowForAge:       {Author: "American Heart Association", Title: "Pediatric Advanced Life Support", Table: "low systolic pressure by age; adult under 90", Via: "teaching pages that agree", Mark: term.MarkRead},
	FallenPressure:  {Author: "G. H. Kruger and others", Title: "gaps in pressure readings and hypotension under anaesthesia (PMC6138874)", Year: 2017, Table: "relative: a fall of 40 %", Mark: term.MarkRead},
	FallenSpinal:    {Title: "South-East Asian consensus on hypotension in spinal anaesthesia for caesarean section, doi 10.1186/s44158-022-00084-1", Year: 2022, Table: "table 1: under 80 % of that at rest", Mark: term.MarkRead},
	HighForAge:      {Title: "usual pressures by age: Advanced Paediatric Life Support; adult: National Early Warning Score 2", Mark: term.MarkMemory},
	SlowForAge:      {Author: "S. Fleming and others", Title: "Normal ranges of heart rate and respiratory rate in children, Lancet 377:1011", Year: 2011, Table: "from 2 to 16 years the 10th centile, before that the web appendix; an adult by the National Early Warning Score 2", Via: "a copy of the table in the code of a study", Mark: term.MarkRead},
	FastForAge:      {Author: "S. Fleming and others", Title: "Normal ranges of heart rate and respiratory rate in children, Lancet 377:1011", Year: 2011, Table: "web appendix", Mark: term.MarkRead},
	SilentChest:     {Title: "Practice of the trade", Mark: term.MarkPractice},
	SeeSawBlocked:   {Title: "Practice of the trade", Mark: term.MarkPractice},
	SeeSawClear:     {Author: "A. E. Guedel", Title: "Inhalation Anesthesia", Year: 1937, Table: "ribs paralysed before the diaphragm: the third plane and beyond", Via: "teaching pages", Mark: term.MarkMemory},
	SeeSawUndecided: {Title: "Practice of the trade", Mark: term.MarkPractice},
	BreathHeld:      {Title: "Practice of the trade", Mark: term.MarkPractice},
}

// ownChoice is the source of what no publication gives.
var ownChoice = Source{Title: "A choice of this program", Mark: term.MarkPractice}

// Sources has where the default of each threshold comes from, by the setting
// that a clinic changes it with.
var Sources = map[term.Setting]Source{
	term.SettingOfferSpO2:           {Author: "Resuscitation Council UK", Title: "Paediatric advanced life support guidelines", Year: 2021, Table: "oxygen from under 94 % on", Via: "the page of the guideline", Mark: term.MarkRead},
	term.SettingOfferHeight:         {Title: "Up to 1500 m nothing, at 2500 m 4, at 3500 m 9, at 4500 m 15, at 6000 m 24 percentage points less, in a straight line between", Mark: term.MarkMemory},
	term.SettingOfferSpO2Severe:     ownChoice,
	term.SettingOfferSpO2Fall:       sources[FallenSat],
	term.SettingOfferFall:           sources[FallenPressure],
	term.SettingOfferSpinal:         sources[FallenSpinal],
	term.SettingOfferPressureLow:    sources[LowForAge],
	term.SettingOfferPressureSevere: {Title: "A child: whatever is low for the age; an adult: a choice of this program, under 80 mmHg", Mark: term.MarkPractice},
	term.SettingOfferPressureTop:    sources[HighForAge],
	term.SettingOfferPulseLow:       sources[SlowForAge],
	term.SettingOfferPulseSevere:    ownChoice,
	term.SettingOfferPulsePress:     {Author: "Resuscitation Council UK", Title: "Paediatric basic and advanced life support guidelines", Year: 2021, Table: "under 60 with a poor flow the chest is pressed", Mark: term.MarkRead},
	term.SettingOfferChild:          {Title: "The guidelines of resuscitation for children hold up to puberty; twelve years are a choice of this program", Mark: term.MarkPractice},
	term.SettingOfferPulseTop:       sources[FastForAge],
	term.SettingOfferFresh:          ownChoice,
	term.SettingOfferSigns:          {Title: "Practice of the trade", Mark: term.MarkPractice},
	term.SettingOfferSound:          ownChoice,
}

// Why is the code of the reason of an offer.
type Why string

// The reasons.
const (
	LowSaturation   Why = "low-saturation"
	FallenSat       Why = "fallen-saturation"
	LowForAge       Why = "low-for-age"
	FallenPressure  Why = "fallen-pressure"
	FallenSpinal    Why = "fallen-spinal"
	HighForAge      Why = "high-for-age"
	SlowForAge      Why = "slow-for-age"
	FastForAge      Why = "fast-for-age"
	SilentChest     Why = "silent-chest"
	SeeSawBlocked   Why = "see-saw-blocked"
	SeeSawClear     Why = "see-saw-clear"
	SeeSawUndecided Why = "see-saw-undecided"
	BreathHeld      Why = "breath-held"
)

// Whys has every reason.
var Whys = []Why{LowSaturation, FallenSat, LowForAge, FallenPressure, FallenSpinal, HighForAge, SlowForAge, FastForAge, SilentChest, SeeSawBlocked, SeeSawClear, SeeSawUndecided, BreathHeld}

// Offer is a card that a value or a sign fits.
type Offer struct {
	Card         string
	Why          Why
	Value, Limit quantity.Amount // of a value; absent for a sign
	Severe       bool            // it sounds unless the clinic silenced it
	Source       Source
}

// height is how far the limit for the saturation sinks with the height of the
// place: the numbers from memory, after values of healthy people who live there;
// that it falls most above 2500 m, at every age, is read (J. Rojas-Camayo and
// others, Reference values for oxygen saturation from sea level to the highest
// human habitation in the Andes, Thorax 73:776, 2018, the abstract). Between two
// rows it goes in a straight line.
var height = []struct{ metres, points string }{{"1500", "0"}, {"2500", "4"}, {"3500", "9"}, {"4500", "15"}, {"6000", "24"}}

// SpO2Limit gives the limit for the saturation at a height, %, rounded to the
// nearest whole one. Up to 1500 m it is that at sea level.
//
// Source: height (from memory).
func SpO2Limit(seaLevel, altitude quantity.Amount) quantity.Amount {
	m, err := altitude.Float64(quantity.M)
	if err != nil {
		return seaLevel
	}
	points := 0.0
	for i, row := range height {
		at, by := number(row.metres), number(row.points)
		if m >= at {
			points = by
			continue
		}
		if i > 0 {
			before, was := number(height[i-1].metres), number(height[i-1].points)
			points = was + (by-was)*(m-before)/(at-before)
		}
		break
	}
	less := quantity.Amount{Value: quantity.DecimalFromInt(int64(points + 0.5)), Unit: quantity.Percent}
	limit, err := seaLevel.Sub(less)
	if err != nil {
		return seaLevel
	}
	return limit
}

func number(s string) float64 {
	f, err := quantity.MustParse(s + " 1").Float64(quantity.One)
	if err != nil {
		return 0 // cannot be: it is a number of the table above
	}
	return f
}

// Offers gives the cards that fit what was seen, the severe ones first, each
// card once.
func Offers(s Seen, l Limits) []Offer {
	var all []Offer
	add := func(o Offer) {
		if i := slices.IndexFunc(all, func(x Offer) bool { return x.Card == o.Card }); i >= 0 {
			all[i].Severe = all[i].Severe || o.Severe
			return
		}
		o.Source = sources[o.Why]
		all = append(all, o)
	}
	if !l.NoSigns {
		s.signs(add)
	}
	s.saturation(l, add)
	s.pressure(l, add)
	if low := share(s.PulseLow, l.PulseLow); below(s.Pulse, low) {
		add(Offer{Card: "bradycardia", Why: SlowForAge, Value: s.Pulse, Limit: low, Severe: below(s.Pulse, part(low, l.PulseSevere)) || below(s.Age, l.Child) && below(s.Pulse, l.PulsePress)})
	}
	if high := share(s.PulseHigh, l.PulseHigh); below(high, s.Pulse) {
		add(Offer{Card: "wrong-rhythm", Why: FastForAge, Value: s.Pulse, Limit: high})
	}
	slices.SortStableFunc(all, func(a, b Offer) int {
		switch {
		case a.Severe == b.Severe:
			return 0
		case a.Severe:
			return -1
		}
		return 1
	})
	return all
}

// signs offers for what breathing looks and sounds like. See-saw breathing with
// a clear airway is ribs that no longer work: too deep, or a spinal too high.
func (s *Seen) signs(add func(Offer)) {
	switch {
	case s.Breathing == term.BreathingSilent:
		if s.AirwayClear != nil && *s.AirwayClear {
			add(Offer{Card: "bronchospasm", Why: SilentChest, Severe: true})
			add(Offer{Card: "apnoea", Why: SilentChest, Severe: true})
			return
		}
		add(Offer{Card: "airway-obstruction", Why: SilentChest, Severe: true})
		add(Offer{Card: "apnoea", Why: SilentChest, Severe: true})
	case s.Breathing == term.BreathingSeeSaw || s.Chest == term.ChestOpposite:
		switch {
		case s.AirwayClear == nil:
			add(Offer{Card: "airway-obstruction", Why: SeeSawUndecided, Severe: true})
		case !*s.AirwayClear:
			add(Offer{Card: "airway-obstruction", Why: SeeSawBlocked, Severe: true})
		case s.Spinal:
			add(Offer{Card: "high-spinal", Why: SeeSawClear, Severe: true})
		default:
			add(Offer{Card: "apnoea", Why: SeeSawClear, Severe: true})
		}
	case s.Breathing == term.BreathingHeld:
		add(Offer{Card: "breath-holding", Why: BreathHeld})
	}
}

func (s *Seen) saturation(l Limits, add func(Offer)) {
	if s.SpO2.IsZero() {
		return
	}
	limit := l.SpO2
	if !s.Altitude.IsZero() && !l.NoHeight {
		limit = SpO2Limit(limit, s.Altitude)
	}
	if below(s.SpO2, limit) {
		severe, err := limit.Sub(l.SpO2Severe)
		add(Offer{Card: "hypoxia", Why: LowSaturation, Value: s.SpO2, Limit: limit, Severe: err == nil && !below(severe, s.SpO2)})
		return
	}
	if s.RestSpO2.IsZero() {
		return
	}
	// "4 under" is 4 or more under.
	if fallen, err := s.RestSpO2.Sub(l.SpO2Fall); err == nil && !below(fallen, s.SpO2) {
		add(Offer{Card: "hypoxia", Why: FallenSat, Value: s.SpO2, Limit: fallen})
	}
}

func (s *Seen) pressure(l Limits, add func(Offer)) {
	low := Offer{Card: "hypotension", Value: s.Systolic}
	if s.Spinal && s.Pregnant {
		if left := part(s.RestSystolic, l.SpinalLeft); below(s.Systolic, left) {
			low.Why, low.Limit = FallenSpinal, left
		}
	}
	if left := part(s.RestSystolic, rest(l.PressureFall)); low.Why == "" && !left.IsZero() && !s.Systolic.IsZero() && !below(left, s.Systolic) {
		low.Why, low.Limit, low.Severe = FallenPressure, left, true
	}
	if limit := share(s.SystolicLow, l.SystolicLow); low.Why == "" && below(s.Systolic, limit) {
		low.Why, low.Limit = LowForAge, limit
	}
	if low.Why != "" {
		low.Severe = low.Severe || below(s.Systolic, share(share(s.SystolicSevere, l.SystolicLow), l.SystolicSevere))
		add(low)
	}
	if high := share(s.SystolicHigh, l.SystolicHigh); below(high, s.Systolic) {
		add(Offer{Card: "hypertension", Why: HighForAge, Value: s.Systolic, Limit: high})
	}
}

// below reports that both are known, and a lies under b.
func below(a, b quantity.Amount) bool {
	if a.IsZero() || b.IsZero() {
		return false
	}
	n, err := a.Cmp(b)
	return err == nil && n < 0
}

// share gives so many percent of a limit, in whole numbers; all of it where none
// are named.
func share(limit, percent quantity.Amount) quantity.Amount {
	if percent.IsZero() || limit.IsZero() {
		return limit
	}
	return part(limit, percent).Round(0)
}

// part gives so many percent of an amount; absent where it is.
func part(a, percent quantity.Amount) quantity.Amount {
	if a.IsZero() || percent.IsZero() {
		return quantity.Amount{}
	}
	p, err := a.Mul(percent, a.Unit)
	if err != nil {
		return quantity.Amount{}
	}
	return p.Round(1)
}

func rest(percent quantity.Amount) quantity.Amount {
	if percent.IsZero() {
		return percent
	}
	r, err := quantity.MustParse("100 %").Sub(percent)
	if err != nil {
		return quantity.Amount{}
	}
	return r
}
