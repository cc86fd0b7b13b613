package core_test

import (
	"bytes"
	"slices"
	"strings"
	"testing"
	"time"

	"chinlift/core/record"
)

// Numbers in one row are in one unit, or say which they are in.
func TestRowsOfOneUnit(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	ctx := t.Context()
	id := openCase(t, c, "")
	submit(t, c, id, "vitals", "systolic", "120", "glucose", "5.5", "temperature", "36.5", "etco2", "40")
	clock.pass(5 * time.Minute)
	// 98.6 °F are 37 °C exactly; 16 kPa are 120.0 mmHg by the factor of UCUM,
	// 133.322 Pa. Glucose in mg/dL wants a molar mass, CO2 in % the pressure
	// of the air: neither is converted.
	submit(t, c, id, "vitals", "systolic", "16", "systolic_unit", "kPa", "glucose", "99", "glucose_unit", "mg/dL", "temperature", "98.6", "temperature_unit", "[degF]", "etco2", "5.3", "etco2_unit", "%")
	s, err := c.Sheet(ctx, id)
	if err != nil {
		t.Fatal(err)
	}
	got := map[string][]string{}
	for _, r := range s.Numbers {
		for _, p := range r.Points {
			got[r.Label] = append(got[r.Label], p.Text)
		}
	}
	for label, want := range map[string][]string{
		"temperature °C": {"36.5", "37"}, "glucose mmol/L": {"5.5", "99 mg/dL"}, "EtCO2 mmHg": {"40", "5.3 %"},
	} {
		if !slices.Equal(got[label], want) {
			t.Errorf("%s: %v, want %v", label, got[label], want)
		}
	}
	if p := s.Pressure[1].Systolic; p.Text != "120" {
		t.Errorf("16 kPa are drawn as %s at %g", p.Text, p.Value)
	}
	var b bytes.Buffer
	if err := record.SVG(&b, s, record.Drawing{Width: 720, Height: 520}); err != nil || !strings.Contains(b.String(), "99 mg/dL") || strings.Contains(b.String(), "NaN") {
		t.Errorf("drawn: %v, %d bytes", err, b.Len())
	}
	if err := record.PDF(&b, s, record.Paper{Made: clock.wall}); err != nil {
		t.Error(err)
	}
	cs, err := c.Case(ctx, id)
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range c.MeasureRows(cs) {
		if want := map[string]string{"temperature": "98.6 °F", "etco2": "5.3 %", "systolic": "16 kPa"}[r.Name]; r.Last != want {
			t.Errorf("the row of %s in %s has last %q, want %q", r.Name, r.Unit, r.Last, want)
		}
	}
}

// An anaesthetic whose end nobody marked does not run on for days.
func TestAnaestheticEndsWithoutItsMark(t *testing.T) {
	for name, tt := range map[string]struct {
		ends [][]string // kind and fields, an hour apart
		span time.Duration
	}{
		"the end marked":          {[][]string{{"phase", "phase", "anaesthesia-end"}, {"phase", "phase", "handed-over"}}, time.Hour},
		"handed over":             {[][]string{{"phase", "phase", "handed-over"}, {"outcome", "outcome", "recovered"}}, time.Hour},
		"an outcome":              {[][]string{{"outcome", "outcome", "transferred"}, {"case-closed"}}, time.Hour},
		"closed":                  {[][]string{{"case-closed"}}, time.Hour},
		"the end marked too late": {[][]string{{"phase", "phase", "handed-over"}, {"phase", "phase", "anaesthesia-end"}}, time.Hour},
		"nothing":                 {nil, 20 * time.Hour},
	} {
		t.Run(name, func(t *testing.T) {
			clock := newClock()
			c := openAt(t, t.TempDir(), clock)
			id := openCase(t, c, "")
			submit(t, c, id, "phase", "phase", "anaesthesia-start")
			submit(t, c, id, "agent", "agent", "ether", "drops", "60")
			began := clock.wall
			for _, e := range tt.ends {
				clock.pass(time.Hour)
				submit(t, c, id, e[0], e[1:]...)
			}
			clock.pass(began.Add(20 * time.Hour).Sub(clock.wall))
			s, err := c.Sheet(t.Context(), id)
			if err != nil {
				t.Fatal(err)
			}
			if sp := s.Bands[0].Spans[0]; sp.To.Sub(sp.From) != tt.span {
				t.Errorf("the band runs %v, want %v", sp.To.Sub(sp.From), tt.span)
			}
			h, _, err := c.HeadOf(t.Context(), id)
			if err != nil || (h.Asleep != "") != (tt.ends == nil) {
				t.Errorf("asleep %q (%v)", h.Asleep, err)
			}
		})
	}
}
