package formulary

import (
	"chinlift/core/quantity"
	"chinlift/core/term"
)

// GuardCode is the code of a Guard.
type GuardCode string

// The guards, and the names of their values.
const (
	GuardOpioids   GuardCode = "opioids"      // most, window: of all opioids together, in morphine
	GuardFractions GuardCode = "fractions"    // most: of the sum of the fractions of local anaesthetics
	GuardFloor     GuardCode = "floor"        // factor: reductions together do not go below this
	GuardWeight    GuardCode = "weight"       // factor: times the ideal weight, the most that a dose goes by
	GuardAdult     GuardCode = "adult"        // age, weight: what somebody of unknown age is taken for, and under which weight not
	GuardSyringe   GuardCode = "syringe"      // size, mark
	GuardTiny      GuardCode = "tiny"         // volume: for a smaller one a weaker mixture is looked for
	GuardRounding  GuardCode = "rounding"     // part: what measuring may take off a dose, or add to a rescue
	GuardBag       GuardCode = "syringe-most" // volume: over this nobody draws it into syringes
)

// GuardCodes has every code of a guard.
var GuardCodes = []GuardCode{
	GuardOpioids, GuardFractions, GuardFloor, GuardWeight, GuardAdult, GuardSyringe, GuardTiny, GuardRounding, GuardBag,
}

// Guard is something that the engine adds to every rule, whatever stands in a
// drug's file. No hash of a rule covers it.
type Guard struct {
	Code   GuardCode
	Values []Named
	Source Source
}

// Guards gives all of them: whoever confirms a rule should know these as well.
func Guards() []Guard {
	practice := func(title string) Source { return Source{Title: title, Mark: term.MarkPractice} }
	number := func(s string) quantity.Amount { return quantity.MustParse(s + " 1") }
	ml := func(s string) quantity.Amount { return quantity.MustParse(s + " mL") }
	guards := []Guard{
		{GuardOpioids, []Named{{"most", guard.most}, {"window", guard.window}}, guard.source},
		{GuardFractions, []Named{{"most", number("1")}}, fractions},
		{GuardFloor, []Named{{"factor", number(floorFactor)}}, practice("a guard of our own")},
		{GuardWeight, []Named{{"factor", number(overIdeal)}}, practice("actual weight up to a fifth over the ideal")},
		{GuardAdult, []Named{
			{"age", quantity.Amount{Value: quantity.DecimalFromInt(adultYears), Unit: quantity.Year}},
			{"weight", quantity.Amount{Value: quantity.DecimalFromInt(smallAdult), Unit: quantity.Kg}},
		}, practice("an assumption of our own")},
	}
	for _, s := range syringes {
		guards = append(guards, Guard{GuardSyringe, []Named{{"size", ml(s.size)}, {"mark", ml(s.mark)}}, practice("the usual marks; makers differ")})
	}
	return append(guards,
		Guard{GuardTiny, []Named{{"volume", ml(tiny)}}, practice("the hub of syringe and needle holds as much")},
		Guard{GuardRounding, []Named{{"part", number(tolerance)}}, practice("a guard of our own")},
		Guard{GuardBag, []Named{{"volume", ml(syringeMost)}}, practice("the largest syringe in use")},
	)
}
