package timeline

import "slices"

// Waking is one look at a patient who wakes, by five items of 0 to 2 each:
// Aldrete, The post-anesthesia recovery score revisited, Journal of Clinical
// Anesthesia 1995;7:89. Circulation is judged in percent of the baseline. An
// item that was not looked at is absent, and there is then no sum.
type Waking struct {
	Activity      *int `json:"activity,omitempty"`
	Respiration   *int `json:"respiration,omitempty"`
	Circulation   *int `json:"circulation,omitempty"`
	Consciousness *int `json:"consciousness,omitempty"`
	Oxygen        *int `json:"oxygen,omitempty"`

	Pain   *int `json:"pain,omitempty"`   // 0 to 10, as the patient says
	Nausea *int `json:"nausea,omitempty"` // 0 to 10, as the patient says
	// Confused is yes or no: newly so. A look at the five items does not ask it.
	Confused string `json:"confused,omitempty"`

	Steady string   `json:"steady,omitempty"`  // yes or no: whoever watches calls the patient steady
	Met    []string `json:"met,omitempty"`     // criteria for leaving that were found met, by their codes
	NotMet []string `json:"not_met,omitempty"` // and those that were not
}

// Kind is "waking/1".
func (*Waking) Kind() Kind { return "waking/1" }

// Check answers a *FieldError for the first field at fault.
func (w *Waking) Check() error {
	c := check(w)
	if w.items() == [5]*int{} && w.Pain == nil && w.Nausea == nil && w.Steady == "" && w.Confused == "" && len(w.Met) == 0 && len(w.NotMet) == 0 {
		c.fail("items", "missing")
	}
	for i, n := range w.items() {
		if n != nil {
			c.count([]string{"activity", "respiration", "circulation", "consciousness", "oxygen"}[i], *n, 0, 2)
		}
	}
	for field, n := range map[string]*int{"pain": w.Pain, "nausea": w.Nausea} {
		if n != nil {
			c.count(field, *n, 0, 10)
		}
	}
	yesNo(c, "steady", w.Steady)
	yesNo(c, "confused", w.Confused)
	for _, code := range w.Met {
		c.name("met", code, true)
	}
	for _, code := range w.NotMet {
		c.name("not_met", code, true)
		if slices.Contains(w.Met, code) {
			c.fail("not_met", "contradiction")
		}
	}
	return c.err()
}

// Scored reports that some of the five items were looked at.
func (w *Waking) Scored() bool { return w.items() != [5]*int{} }

func (w *Waking) items() [5]*int {
	return [5]*int{w.Activity, w.Respiration, w.Circulation, w.Consciousness, w.Oxygen}
}

// Sum is the total of the five items, 0 to 10; ok is false unless all five
// were looked at.
func (w *Waking) Sum() (sum int, ok bool) {
	for _, n := range w.items() {
		if n == nil {
			return 0, false
		}
		sum += *n
	}
	return sum, true
}
