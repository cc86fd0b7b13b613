package timeline

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
}

// Kind is "waking/1".
func (*Waking) Kind() Kind { return "waking/1" }

// Check answers a *FieldError for the first field at fault.
func (w *Waking) Check() error {
	c := check(w)
	if w.items() == [5]*int{} {
		c.fail("items", "missing")
	}
	for i, n := range w.items() {
		if n != nil {
			c.count([]string{"activity", "respiration", "circulation", "consciousness", "oxygen"}[i], *n, 0, 2)
		}
	}
	return c.err()
}

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
