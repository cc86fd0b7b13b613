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

	PressureBy  term.PressureBy `json:"pressure_by,omitempty"`
	Trace       term.Trace      `json:"ecg,omitempty"`
	OxygenIn    quantity.Amount `json:"fio2,omitzero"`           // measured where it is breathed in
	AgentOut    quantity.Amount `json:"agent_out,omitzero"`      // measured where it is breathed out
	TrainOfFour *int            `json:"train_of_four,omitempty"` // twitches out of four
}

// Kind is "vitals/1".
func (*Vitals) Kind() Kind { return "vitals/1" }

// Check answers a *FieldError for the first field at fault.
func (v *Vitals) Check() error {
	c := check(v)
	if v.PressureBy == "" && v.Trace == "" && v.OxygenIn.IsZero() && v.AgentOut.IsZero() && v.TrainOfFour == nil || !v.Measures.IsZero() {
		v.Measures.check(c)
	}
	code(c, "pressure_by", term.PressureByList, v.PressureBy, false)
	code(c, "ecg", term.TraceList, v.Trace, false)
	c.amount("fio2", v.OxygenIn, "10 %", "100 %")
	c.amount("agent_out", v.AgentOut, "0 %", "100 %")
	if v.TrainOfFour != nil {
		c.count("train_of_four", *v.TrainOfFour, 0, 4)
	}
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
