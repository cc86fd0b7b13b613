package formulary

import (
	"chinlift/core/quantity"
	"chinlift/core/term"
)

// Drug is one file of the formulary. Its JSON is what a rule's hash is made
// over; see Use.Hash.
type Drug struct {
	Code          string            `json:"code"` // the file's name without its ending
	Class         term.DrugClass    `json:"class"`
	ATC           string            `json:"atc"` // the substance in WHO's ATC index, or empty
	Retired       bool              `json:"-"`
	Sources       map[string]Source `json:"sources"`
	Presentations []Presentation    `json:"presentations"`
	Dilutions     []DilutionRule    `json:"dilutions"`
	Equivalent    *Equivalent       `json:"equivalent"`
	Uses          []Use             `json:"uses"`
	Reduces       []Reduce          `json:"reduces"`
	Alerts        []Alert           `json:"alerts"`
}

// Source says where a number is published, and how sure that is.
type Source = term.Source

// Cited names the source of the numbers beside it.
type Cited struct {
	Source   string            `json:"source"`              // the name in Drug.Sources
	SourceOf map[string]string `json:"source_of,omitempty"` // for single keys
}

// For gives the name of the source of a key.
func (c Cited) For(key string) string {
	if s := c.SourceOf[key]; s != "" {
		return s
	}
	return c.Source
}

// Span is from Low to High. Both are absent, or neither is.
type Span struct {
	Low  quantity.Amount `json:"low"`
	High quantity.Amount `json:"high"`
}

// IsZero reports whether the span is absent.
func (s Span) IsZero() bool { return s == Span{} }

// Form is what a piece is.
type Form string

// The forms.
const (
	Tablet      Form = "tablet"
	Suppository Form = "suppository"
	Capsule     Form = "capsule"
	Puff        Form = "puff"
)

// Presentation is what stands on the shelf: a solution with its strength, a
// powder with the strength that it has once dissolved, or counted pieces. An
// inhaled agent has neither.
type Presentation struct {
	Code      string          `json:"code"`
	Routes    []term.Route    `json:"routes"`   // empty: every route but by mouth, rectum and under the tongue, unless the drug has no other
	Strength  quantity.Amount `json:"strength"` // per mL
	Volume    quantity.Amount `json:"volume"`   // of the ampoule or vial
	Powder    quantity.Amount `json:"powder"`
	Dissolve  quantity.Amount `json:"dissolve"` // volume to add to the powder
	Label     string          `json:"label"`    // "1 %", "1:1000"
	Piece     quantity.Amount `json:"piece"`    // what one piece holds
	Form      Form            `json:"form"`
	Part      quantity.Amount `json:"part"` // the smallest part of a piece that can be given; absent: whole pieces
	Undiluted bool            `json:"undiluted"`
	Cited
}

// Water is a diluent that is no infusion.
const Water = "water"

// DilutionRule is a dilution worth making.
type DilutionRule struct {
	From  string          `json:"from"`           // a presentation
	To    quantity.Amount `json:"to"`             // the strength that it gives
	With  string          `json:"with"`           // a code of term.FluidInList, or Water
	Total quantity.Amount `json:"total,omitzero"` // make so much of it where that can be measured; absent: as little as will do
	Cited
}

// Group is what drugs count towards together.
type Group string

// The groups.
const (
	Opioids           Group = "opioid"            // in mg of morphine
	LocalAnaesthetics Group = "local-anaesthetic" // in fractions of each drug's own maximum
)

// Equivalent says what the drug counts towards a group.
type Equivalent struct {
	Group Group           `json:"group"`
	Each  quantity.Amount `json:"each"` // so much of the drug
	Is    quantity.Amount `json:"is"`   // is so much of the group's measure
	Cited
}

// Way is how a use is given.
type Way string

// The ways.
const (
	Bolus    Way = "bolus"    // an amount
	Infusion Way = "infusion" // an amount in a time
	Inhaled  Way = "inhaled"  // a percentage of vapour
)

// Use is one purpose of a drug by certain routes: a dose rule, which a person
// at the clinic can confirm.
type Use struct {
	Code          string          `json:"code"`
	Purpose       term.Purpose    `json:"purpose"`
	Routes        []term.Route    `json:"routes"`
	Presentations []string        `json:"presentations"`         // empty: those that fit the route
	At            quantity.Amount `json:"at"`                    // never stronger than this, but where a dose says otherwise
	FractionOf    string          `json:"fraction_of,omitempty"` // a local anaesthetic: counts as a fraction of that use's maximum, its own being held down for another reason
	Rescue        bool            `json:"rescue"`                // no reduction touches it
	Given         Way             `json:"given"`
	Titrate       bool            `json:"titrate"`  // in steps to effect; the low end is suggested
	Before        Span            `json:"before"`   // so long before the start
	Onset         Span            `json:"onset"`    //
	Lasts         Span            `json:"lasts"`    //
	Interval      quantity.Amount `json:"interval"` // from one dose to the next
	Over          Span            `json:"over"`     // give it over so long
	Doses         []Dose          `json:"doses"`
	Totals        []Total         `json:"totals"`
	Cited

	hash string
}

// Hash is the SHA-256, in hexadecimal, of everything that bears on this use:
// whoever confirmed the rule confirmed that.
func (u *Use) Hash() string { return u.hash }

// Basis is the weight that a dose by weight goes by.
type Basis string

// The bases.
const (
	Dosing Basis = "dosing" // the weight, up to a fifth over the ideal one
	Actual Basis = "actual"
	Ideal  Basis = "ideal" // the ideal weight, or the weight where it is less
)

// Dose is the dose of one band of patients. Band limits run from Low
// (inclusive) to High (exclusive).
type Dose struct {
	Age       Span            `json:"age"`
	Mass      Span            `json:"mass"`
	Sex       term.Sex        `json:"sex"`    // empty: any
	Weight    Basis           `json:"weight"` // for a dose by weight
	Low       quantity.Amount `json:"low"`
	High      quantity.Amount `json:"high"`
	Usual     quantity.Amount `json:"usual"`
	Least     quantity.Amount `json:"least"`
	Most      quantity.Amount `json:"most"`
	MostPerKg quantity.Amount `json:"most_per_kg"`
	At        quantity.Amount `json:"at,omitzero"` // in place of the use's
	Cited
}

// Total is what may be given within a time, over all uses of the drug unless
// Uses names some.
type Total struct {
	Most   quantity.Amount  `json:"most"`
	Window quantity.Amount  `json:"window"` // absent: the whole case
	Age    Span             `json:"age"`
	Uses   []string         `json:"uses"`
	Unless []term.Condition `json:"unless"`
	Cited
}

// Facts are what reductions and alerts ask for. Of each kind that is not empty
// one must be met.
type Facts struct {
	Age     Span             `json:"age"`
	With    []string         `json:"with"` // codes of term.ConditionList, Pregnant, Premature
	Drugs   []string         `json:"drugs"`
	Classes []term.DrugClass `json:"classes"`
	Within  quantity.Amount  `json:"within"` // how long ago the drug was given at most; absent: in the case
	Agents  []term.Agent     `json:"agents"`
}

// What Facts.With takes besides the conditions.
const (
	Pregnant  = "pregnant"
	Premature = "premature"
)

// Reduce is a factor for patients who need less. It never touches a rescue use.
type Reduce struct {
	Code   string           `json:"code"` // words: formulary.reduce.<code>
	Uses   []string         `json:"uses"` // empty: all that are not rescue
	Factor quantity.Decimal `json:"factor"`
	Facts
	Cited
}

// Level is how grave an alert is.
type Level string

// The levels.
const (
	Stop    Level = "stop"
	Caution Level = "caution"
)

// Alert is a reason not to give a drug, or to beware.
type Alert struct {
	Code           string           `json:"code"` // words: formulary.alert.<code>
	Level          Level            `json:"level"`
	Uses           []string         `json:"uses"`
	Routes         []term.Route     `json:"routes"`
	Sex            term.Sex         `json:"sex"`
	Hazards        []term.Hazard    `json:"hazards"`
	Without        []term.Condition `json:"without"`                // fires when none of these is stated
	WithoutClasses []term.DrugClass `json:"without_classes"`        // fires when none of these was given
	NotPregnant    bool             `json:"not_pregnant,omitempty"` // fires when no pregnancy is stated
	Planned        bool             `json:"planned,omitempty"`      // a stop for whoever means to give a dose, not held against a dose given; see Judge
	Always         bool             `json:"always"`
	Facts
	Cited
}

// Use gives the use with this code, or nil.
func (d *Drug) Use(code string) *Use {
	for i := range d.Uses {
		if d.Uses[i].Code == code {
			return &d.Uses[i]
		}
	}
	return nil
}

// Presentation gives the presentation with this code, or nil.
func (d *Drug) Presentation(code string) *Presentation {
	for i := range d.Presentations {
		if d.Presentations[i].Code == code {
			return &d.Presentations[i]
		}
	}
	return nil
}
