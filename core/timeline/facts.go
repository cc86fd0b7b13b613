package timeline

import (
	"slices"

	"chinlift/core/quantity"
	"chinlift/core/term"
)

// Facts is any subset of what is known of the patient before the start. The
// latest entry that holds a field gives its current value. Words (drugs taken,
// what was heard over the heart) are in the private part.
type Facts struct {
	Age         quantity.Amount   `json:"age,omitzero"` // years, months, weeks or days
	Sex         term.Sex          `json:"sex,omitempty"`
	Weight      quantity.Amount   `json:"weight,omitzero"`
	WeightHow   term.WeightHow    `json:"weight_how,omitempty"` // measured or guessed: never left open when there is a weight
	WeightBy    term.WeightBy     `json:"weight_by,omitempty"`  // by what
	Length      quantity.Amount   `json:"length,omitzero"`
	ASA         term.ASA          `json:"asa,omitempty"`
	Emergency   bool              `json:"emergency,omitempty"` // the E of the class; only with a class
	Mallampati  term.Mallampati   `json:"mallampati,omitempty"`
	Mouth       term.MouthOpening `json:"mouth,omitempty"`
	Neck        term.Neck         `json:"neck,omitempty"`
	Teeth       term.Teeth        `json:"teeth,omitempty"`
	Allergies   []term.Allergy    `json:"allergies,omitempty"`
	Side        term.Side         `json:"side,omitempty"`
	SideMarked  string            `json:"side_marked,omitempty"` // yes or no
	Consent     term.ConsentBy    `json:"consent,omitempty"`
	Haemoglobin quantity.Amount   `json:"haemoglobin,omitzero"`
	Pregnant    string            `json:"pregnant,omitempty"` // yes or no
	With        []term.Condition  `json:"with,omitempty"`     // asked, and there
	Without     []term.Condition  `json:"without,omitempty"`  // asked, and not there; what is in neither was not asked
}

// Kind is "facts/1".
func (*Facts) Kind() Kind { return "facts/1" }

// Check answers a *FieldError for the first field at fault.
func (f *Facts) Check() error {
	c := check(f)
	c.amount("age", f.Age, "0 d", "120 a")
	code(c, "sex", term.SexList, f.Sex, false)
	c.amount("weight", f.Weight, "0.3 kg", "400 kg")
	code(c, "weight_how", term.WeightHowList, f.WeightHow, !f.Weight.IsZero())
	code(c, "weight_by", term.WeightByList, f.WeightBy, !f.Weight.IsZero())
	if f.Weight.IsZero() && (f.WeightHow != "" || f.WeightBy != "") {
		c.fail("weight", "missing")
	}
	if f.WeightHow == term.WeightHowMeasured && f.WeightBy != term.WeightByScale {
		c.fail("weight_by", "contradiction")
	}
	if f.WeightHow == term.WeightHowGuessed && f.WeightBy == term.WeightByScale {
		c.fail("weight_by", "contradiction")
	}
	c.amount("length", f.Length, "20 cm", "250 cm")
	code(c, "asa", term.ASAList, f.ASA, f.Emergency)
	if f.Emergency && f.ASA == term.ASA6 {
		c.fail("emergency", "contradiction") // the class 6E does not exist
	}
	code(c, "mallampati", term.MallampatiList, f.Mallampati, false)
	code(c, "mouth", term.MouthOpeningList, f.Mouth, false)
	code(c, "neck", term.NeckList, f.Neck, false)
	code(c, "teeth", term.TeethList, f.Teeth, false)
	codes(c, "allergies", term.AllergyList, f.Allergies)
	if len(f.Allergies) > 1 && slices.Contains(f.Allergies, term.AllergyNoneKnown) {
		c.fail("allergies", "contradiction")
	}
	code(c, "side", term.SideList, f.Side, false)
	yesNo(c, "side_marked", f.SideMarked)
	code(c, "consent", term.ConsentByList, f.Consent, false)
	c.amount("haemoglobin", f.Haemoglobin, "1 g/dL", "25 g/dL")
	yesNo(c, "pregnant", f.Pregnant)
	codes(c, "with", term.ConditionList, f.With)
	codes(c, "without", term.ConditionList, f.Without)
	for _, x := range f.With {
		if slices.Contains(f.Without, x) {
			c.fail("without", "contradiction")
		}
	}
	return c.err()
}

// Yes and No answer a question that was asked; an empty answer means that it
// was not.
const (
	Yes = "yes"
	No  = "no"
)

func yesNo(c *checker, field, v string) {
	if v != "" && v != Yes && v != No {
		c.fail(field, "not-in-list")
	}
}
