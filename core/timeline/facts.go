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

	Admission    term.Admission    `json:"admission,omitempty"`
	Place        term.Place        `json:"place,omitempty"`               // where the patient was seen
	Before       term.Earlier      `json:"anaesthetics_before,omitempty"` // the patient's own
	Family       term.Earlier      `json:"family,omitempty"`              // anaesthetics in the family
	Takes        []term.Takes      `json:"takes,omitempty"`
	Habits       []term.Habit      `json:"habits,omitempty"`
	Smoker       string            `json:"smoker,omitempty"`      // yes or no
	SickBefore   string            `json:"sick_before,omitempty"` // yes or no: after an anaesthetic, or when travelling
	Reflux       string            `json:"reflux,omitempty"`      // yes or no: heartburn that comes up when lying down
	Fitness      term.Fitness      `json:"fitness,omitempty"`
	Heart        term.Examined     `json:"heart,omitempty"`
	Lungs        term.Examined     `json:"lungs,omitempty"`
	Urine        []term.Urine      `json:"urine,omitempty"`
	Thyromental  quantity.Amount   `json:"thyromental,omitzero"` // from chin to larynx, head tilted back
	NostrilLeft  term.Nostril      `json:"nostril_left,omitempty"`
	NostrilRight term.Nostril      `json:"nostril_right,omitempty"`
	TestsSeen    []term.Test       `json:"tests_seen,omitempty"`
	MarkedBy     term.Role         `json:"marked_by,omitempty"`  // who marked the side
	RisksTold    string            `json:"risks_told,omitempty"` // yes or no
	Assistant    string            `json:"assistant,omitempty"`  // yes or no: a trained one will be there
	Warnings     []term.Warning    `json:"warnings,omitempty"`   // for whoever gives the next anaesthetic
	PremedEffect term.PremedEffect `json:"premed_effect,omitempty"`
	Premature    string            `json:"premature,omitempty"` // yes or no: born before 37 weeks; asked of infants
	SameAs       string            `json:"same_as,omitempty"`   // another case of the same patient; it counts once that case says the same of this one
	Supervision  term.Supervision  `json:"supervision,omitempty"`

	// WeightChecked is a weight that is far from what the age suggests, and that
	// somebody looked at again and found right. It says nothing of another one.
	WeightChecked quantity.Amount `json:"weight_checked,omitzero"`
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
	c.amount("weight_checked", f.WeightChecked, "0.3 kg", "400 kg")
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
	f.checkHistory(c)
	for _, x := range f.With {
		if slices.Contains(f.Without, x) {
			c.fail("without", "contradiction")
		}
	}
	return c.err()
}

func (f *Facts) checkHistory(c *checker) {
	code(c, "admission", term.AdmissionList, f.Admission, false)
	code(c, "place", term.PlaceList, f.Place, false)
	code(c, "anaesthetics_before", term.EarlierList, f.Before, false)
	code(c, "family", term.EarlierList, f.Family, false)
	codes(c, "takes", term.TakesList, f.Takes)
	if len(f.Takes) > 1 && slices.Contains(f.Takes, term.TakesNothing) {
		c.fail("takes", "contradiction")
	}
	codes(c, "habits", term.HabitList, f.Habits)
	if len(f.Habits) > 1 && slices.Contains(f.Habits, term.HabitNone) {
		c.fail("habits", "contradiction")
	}
	yesNo(c, "smoker", f.Smoker)
	yesNo(c, "sick_before", f.SickBefore)
	yesNo(c, "reflux", f.Reflux)
	code(c, "fitness", term.FitnessList, f.Fitness, false)
	code(c, "heart", term.ExaminedList, f.Heart, false)
	code(c, "lungs", term.ExaminedList, f.Lungs, false)
	codes(c, "urine", term.UrineList, f.Urine)
	if len(f.Urine) > 1 && slices.Contains(f.Urine, term.UrineNothing) {
		c.fail("urine", "contradiction")
	}
	c.amount("thyromental", f.Thyromental, "1 cm", "20 cm")
	code(c, "nostril_left", term.NostrilList, f.NostrilLeft, false)
	code(c, "nostril_right", term.NostrilList, f.NostrilRight, false)
	codes(c, "tests_seen", term.TestList, f.TestsSeen)
	code(c, "marked_by", term.RoleList, f.MarkedBy, false)
	if f.MarkedBy != "" && f.SideMarked == No {
		c.fail("marked_by", "contradiction")
	}
	yesNo(c, "risks_told", f.RisksTold)
	yesNo(c, "assistant", f.Assistant)
	codes(c, "warnings", term.WarningList, f.Warnings)
	code(c, "premed_effect", term.PremedEffectList, f.PremedEffect, false)
	yesNo(c, "premature", f.Premature)
	c.id("same_as", f.SameAs, false)
	code(c, "supervision", term.SupervisionList, f.Supervision, false)
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
