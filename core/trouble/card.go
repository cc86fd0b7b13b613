package trouble

import (
	"slices"
	"time"

	"chinlift/core/quantity"
	"chinlift/core/rulefile"
	"chinlift/core/term"
)

// Text is a text by language tag; English is always there.
type Text = rulefile.Text

// Source says where something is published, and how sure that is.
type Source = term.Source

// Group is where a card stands in the list.
type Group string

// The groups, in the order of the list.
const (
	Airway      Group = "airway"
	Circulation Group = "circulation"
	Arrest      Group = "arrest"
	Drugs       Group = "drugs" // poisoning, allergy, heat, sugar
	Awake       Group = "awake" // convulsion and waking
	Block       Group = "block"
	Things      Group = "things" // fire, oxygen, agent
)

// Groups has every group, in the order of the list.
var Groups = []Group{Airway, Circulation, Arrest, Drugs, Awake, Block, Things}

// Card is one card. A value is not changed once it is there.
type Card struct {
	Code    string // the file's name without its ending
	Trouble term.Trouble
	Group   Group
	Name    Text
	Look    Text // how it is told from others
	Caution Text
	// Age is the band of patients whom the card is for where the same trouble
	// has several cards: from Low, inclusive, to High. Both absent: any age.
	Age      [2]quantity.Amount
	Pregnant bool // for a woman with child
	// Strict is a card whose patient is often not the one whose case is open: a
	// newborn beside its mother. Outside the band it shows no dose.
	Strict  bool
	Sources map[string]Source
	Steps   []Step
}

// Step is one thing to do.
type Step struct {
	Code   string
	Text   Text                       // with {name} for each of Values
	Values map[string]quantity.Amount // numbers that are no doses
	When   []Fact                     // left out where one of these is known not to be so
	Unless []Fact                     // left out where one of these is known to be so
	Helper bool                       // can be handed to a helper
	Every  quantity.Amount            // done again after so long; absent: not
	Clock  bool                       // due every so long from the beginning on, also if it was never done
	Most   int                        // so many times at most; 0: no end
	To     string                     // the card that goes on from here; empty: none
	Drugs  []Drug
	Source string // the name in Card.Sources
}

// Drug is a drug of a step: the formulary knows the dose.
type Drug struct {
	Drug, Use string
	Routes    []term.Route
	Kit       string // the item of an equipment list that has it; empty: none
}

// Step gives the step with this code, or nil.
func (c *Card) Step(code string) *Step {
	for i := range c.Steps {
		if c.Steps[i].Code == code {
			return &c.Steps[i]
		}
	}
	return nil
}

// Fact is what a step can hang on.
type Fact string

// The facts, besides one for each drug ([DrugFact]).
const (
	Vein     Fact = "vein"      // a way into a vein or a bone
	Bag      Fact = "bag"       // a bag and mask that work
	Suction  Fact = "suction"   //
	Oxygen   Fact = "oxygen"    //
	OpenDrop Fact = "open-drop" // gauze on the face
	Tube     Fact = "tube"      // a tube in the windpipe, or a mask on the larynx
	Vapour   Fact = "vapour"    // an inhaled agent is being given
	Pregnant Fact = "pregnant"  //
	Spinal   Fact = "spinal"    //
)

var facts = []Fact{Vein, Bag, Suction, Oxygen, OpenDrop, Tube, Vapour, Pregnant, Spinal}

// drugFact begins the fact that a drug is here.
const drugFact = "drug."

// DrugFact is the fact that a drug is here.
func DrugFact(code string) Fact { return Fact(drugFact + code) }

// Here is what is known of the facts; what is not in it nobody knows.
type Here map[Fact]bool

// Fits reports whether a step is not known to be out of place.
func (s *Step) Fits(here Here) bool {
	no := func(f Fact) bool { is, known := here[f]; return known && !is }
	yes := func(f Fact) bool { return here[f] }
	return !slices.ContainsFunc(s.When, no) && !slices.ContainsFunc(s.Unless, yes)
}

// For gives the steps that fit what is there, in the order of the card.
func (c *Card) For(here Here) []Step {
	var some []Step
	for i := range c.Steps {
		if c.Steps[i].Fits(here) {
			some = append(some, c.Steps[i])
		}
	}
	return some
}

// Suits reports whether a card is made for a patient of this age. An age that
// is absent is that of an adult.
func (c *Card) Suits(age quantity.Amount, pregnant bool) bool {
	if c.Pregnant {
		return pregnant
	}
	if c.Age[0].IsZero() && c.Age[1].IsZero() {
		return true
	}
	if age.Unit.IsZero() {
		age = adult
	}
	low, err1 := age.Cmp(c.Age[0])
	high, err2 := age.Cmp(c.Age[1])
	return err1 == nil && err2 == nil && low >= 0 && high < 0
}

// Apart reports that a strict card is not for a patient of this age. An age that
// is absent keeps nobody out.
func (c *Card) Apart(age quantity.Amount) bool {
	return c.Strict && !age.Unit.IsZero() && !c.Suits(age, c.Pregnant)
}

// Onward gives the card that a step leads to, for this patient: where the step
// names a trouble and that trouble has several cards, the one that is made for
// the patient; else the card that the step names. Nil where it leads nowhere.
func (s *Step) Onward(age quantity.Amount, pregnant bool) *Card {
	to := Find(s.To)
	if to == nil || to.Code != string(to.Trouble) {
		return to
	}
	cards, err := builtin()
	if err != nil {
		return to
	}
	best := to
	for _, c := range cards {
		if c.Trouble == to.Trouble && c.Suits(age, pregnant) && (c.Pregnant || !best.Suits(age, pregnant)) {
			best = c
		}
	}
	return best
}

var adult = quantity.MustParse("40 a")

// Stand is how a step stands.
type Stand struct {
	Count int           // how often it was done
	Last  time.Duration // how long ago; of no meaning where Count is nought
	Due   bool          // it is to be done again, or for the first time by the clock
	In    time.Duration // until it is due; under nought where it is over. Only where Due
	Spent bool          // it was done as often as the card says
}

// Stands says how a step stands: begun is how long ago the trouble began, done
// how long ago the step was done, each time. Doing it sooner or more often than
// the card says is counted, and nothing more.
func (s *Step) Stands(begun time.Duration, done ...time.Duration) Stand {
	st := Stand{Count: len(done)}
	if len(done) > 0 {
		st.Last = slices.Min(done)
	}
	st.Spent = s.Most > 0 && st.Count >= s.Most
	if s.Every.IsZero() || st.Spent || st.Count == 0 && !s.Clock {
		return st
	}
	from := begun
	if st.Count > 0 {
		from = st.Last
	}
	st.Due, st.In = true, span(s.Every)-from
	return st
}

func span(a quantity.Amount) time.Duration {
	n, err := a.Float64(quantity.Second)
	if err != nil {
		return 0 // cannot be: the loader reads a time
	}
	return time.Duration(n * float64(time.Second))
}
