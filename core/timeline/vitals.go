package timeline

import (
	"chinlift/core/quantity"
	"chinlift/core/term"
)

// Measures is any subset of what is counted and measured.
type Measures struct {
	Systolic    quantity.Amount `json:"systolic,omitzero"`
	Diastolic   quantity.Amount `json:"diastolic,omitzero"`
	Pulse       quantity.Amount `json:"pulse,omitzero"`
	Rhythm      term.Rhythm     `json:"rhythm,omitempty"`
	SpO2        quantity.Amount `json:"spo2,omitzero"`
	Breaths     quantity.Amount `json:"breaths,omitzero"`
	EtCO2       quantity.Amount `json:"etco2,omitzero"`
	Temperature quantity.Amount `json:"temperature,omitzero"`
	Glucose     quantity.Amount `json:"glucose,omitzero"`
}

// IsZero reports that nothing was measured.
func (m *Measures) IsZero() bool { return *m == Measures{} }

func (m *Measures) check(c *checker) {
	if m.IsZero() {
		c.fail("values", "missing")
	}
	c.amount("systolic", m.Systolic, "0 mm[Hg]", "350 mm[Hg]")
	c.amount("diastolic", m.Diastolic, "0 mm[Hg]", "250 mm[Hg]")
	if !m.Systolic.IsZero() && !m.Diastolic.IsZero() && c.first == nil {
		if n, err := m.Diastolic.Cmp(m.Systolic); err == nil && n > 0 {
			c.fail("diastolic", "contradiction")
		}
	}
	c.amount("pulse", m.Pulse, "0 /min", "350 /min")
	code(c, "rhythm", term.RhythmList, m.Rhythm, false)
	c.amount("spo2", m.SpO2, "0 %", "100 %")
	c.amount("breaths", m.Breaths, "0 /min", "150 /min")
	c.oneOf("etco2", m.EtCO2, [2]string{"0 mm[Hg]", "200 mm[Hg]"}, [2]string{"0 %", "25 %"})
	c.amount("temperature", m.Temperature, "10 Cel", "47 Cel")
	c.oneOf("glucose", m.Glucose, [2]string{"0 mmol/L", "100 mmol/L"}, [2]string{"0 mg/dL", "1800 mg/dL"})
}

// Vitals is one look at the patient: any subset of measures, each of them
// touched or confirmed, none filled in.
type Vitals struct {
	Measures
	// LookedSame says that values were confirmed unchanged by one key: looked
	// at, and the same as before. Same names them, by their JSON names; empty,
	// it is all of them. The others were touched.
	LookedSame bool     `json:"looked_same,omitempty"`
	Same       []string `json:"same,omitempty"`
}

// Kind is "vitals/1".
func (*Vitals) Kind() Kind { return "vitals/1" }

// Check answers a *FieldError for the first field at fault.
func (v *Vitals) Check() error {
	c := check(v)
	v.Measures.check(c)
	for _, name := range v.Same {
		if m := v.Measures.Named(name); !v.LookedSame || m == nil || m.IsZero() {
			c.fail("same", "contradiction")
		}
	}
	return c.err()
}

// MeasureNames lists the measures by their JSON names, in the order in which
// trays and tables show them.
var MeasureNames = []string{"systolic", "diastolic", "pulse", "spo2", "breaths", "etco2", "temperature", "glucose"}

// Named gives a measure by its JSON name, or nil.
func (m *Measures) Named(name string) *quantity.Amount {
	switch name {
	case "systolic":
		return &m.Systolic
	case "diastolic":
		return &m.Diastolic
	case "pulse":
		return &m.Pulse
	case "spo2":
		return &m.SpO2
	case "breaths":
		return &m.Breaths
	case "etco2":
		return &m.EtCO2
	case "temperature":
		return &m.Temperature
	case "glucose":
		return &m.Glucose
	}
	return nil
}
