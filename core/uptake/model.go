package uptake

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"chinlift/core/agent"
)

// atm is one atmosphere in mmHg, at which volumes of vapour are counted.
const atm = 760.0

// State is how much is where. The zero State is a body without the agent.
// Volumes of vapour are in L at 37 °C and 760 mmHg, counted since the zero
// State. A State is a value: a copy is a second body.
type State struct {
	TensionMmHg [places]float64

	InspiredL, ExpiredL, MetabolisedL float64

	innerMin float64 // the last inner step of the concentration effect
}

// Model is a body with a setting, made ready: the equations' eigenvalues and
// what goes between them and the tensions. It does not change and may be used
// by several goroutines.
type Model struct {
	set      Setting
	capacity [places]float64 // L of gas that hold as much at the same tension
	flow     [places]float64 // blood flow as a flow of gas, blood/gas times L/min

	modes
	loss     float64 // L/min of vapour metabolised for 1 mmHg of arterial tension, at 760 mmHg
	breathed float64 // the same, breathed in and out
}

// modes are what dies away by itself, each at its rate: the eigenvectors of the
// equations.
type modes struct {
	rate  [places]float64         // 1/min, not negative, fastest first
	into  [places][places]float64 // modes from tensions
	out   [places][places]float64 // tensions from modes
	drive [places]float64         // what 1 mmHg inspired adds to each mode in a minute
}

// longestMin bounds one step; nothing that the model says would hold so long.
const longestMin = 7 * 24 * 60

// New makes a model ready. The error is an *agent.Error with the field of the
// body or setting that no body has.
func New(b Body, s Setting) (*Model, error) {
	if err := sound(b, s); err != nil {
		return nil, err
	}
	m := &Model{set: s}
	m.capacity[Lung] = b.GasL + s.BloodGas*b.BloodL
	for p := Brain; p < places; p++ {
		m.capacity[p] = s.BloodGas * b.VolumesL[p] * s.Tissue[p]
		m.flow[p] = s.BloodGas * s.OutputLPerMin * b.FlowParts[p]
		m.flow[Lung] += m.flow[p]
	}
	m.loss = m.flow[Liver] * s.Extraction / atm
	m.breathed = s.AlveolarLPerMin / atm

	var ok bool
	if m.modes, ok = m.modesOf(1); !ok {
		return nil, &agent.Error{Field: "setting", Code: agent.NotFinite}
	}
	return m, nil
}

// modesOf solves the equations in which the lung gives the blood a part, over 0
// up to 1, of what the blood takes; 1 is without the concentration effect.
func (m *Model) modesOf(part float64) (modes, bool) {
	// dx/dt = A x + b PI, with lung and tissues joined as a star. A becomes
	// symmetric when each tension is weighed with the root of its capacity, the
	// lung's with that of capacity / part, the liver's with that of capacity / (1 -
	// extraction), because it gives the lung more than it gets by the lung's
	// tension.
	var weight [places]float64
	star := mat.NewSymDense(int(places), nil)
	for p := Lung; p < places; p++ {
		gets := 1.0
		switch p {
		case Lung:
			gets = part
		case Liver:
			gets -= m.set.Extraction
		}
		weight[p] = math.Sqrt(m.capacity[p] / gets)
		if p == Lung {
			star.SetSym(0, 0, -(m.set.AlveolarLPerMin+part*m.flow[Lung])/m.capacity[Lung])
			continue
		}
		star.SetSym(int(p), int(p), -m.flow[p]/m.capacity[p])
		star.SetSym(0, int(p), part*m.flow[p]/m.capacity[Lung]*weight[Lung]/weight[p])
	}
	var eigen mat.EigenSym
	if !eigen.Factorize(star, true) {
		return modes{}, false
	}
	var vectors mat.Dense
	eigen.VectorsTo(&vectors)
	values := eigen.Values(nil)
	var all modes
	for k := range values {
		all.rate[k] = math.Max(0, -values[k]) // with no breath one is nought, but for rounding
		for p := range all.into[k] {
			all.into[k][p] = vectors.At(p, k) * weight[p]
			all.out[p][k] = vectors.At(p, k) / weight[p]
		}
		all.drive[k] = all.into[k][Lung] * m.set.AlveolarLPerMin / m.capacity[Lung]
	}
	return all, true
}

// sound refuses what is not a body or not a setting.
func sound(b Body, s Setting) error {
	for _, c := range []struct {
		field          string
		x, above, most float64 // above < x <= most
	}{
		{"weight", b.WeightKg, 0, 1000}, {"lung_gas", b.GasL, 0, 100}, {"lung_blood", b.BloodL, 0, 100},
		{"blood_gas", s.BloodGas, 0, 100},
	} {
		if err := within(c.field, c.x, c.above, c.most); err != nil {
			return err
		}
		if c.x == c.above {
			return &agent.Error{Field: c.field, Code: agent.TooLow}
		}
	}
	parts := 0.0
	for p := Brain; p < places; p++ {
		if err := within("volume", b.VolumesL[p], 1e-6, 1000); err != nil {
			return err
		}
		if err := within("tissue", s.Tissue[p], 1e-3, 1000); err != nil {
			return err
		}
		if err := within("flow_part", b.FlowParts[p], 0, 1); err != nil {
			return err
		}
		parts += b.FlowParts[p]
	}
	if math.Abs(parts-1) > 1e-9 {
		return &agent.Error{Field: "flow_part", Code: agent.Contradicts}
	}
	if err := within("alveolar", s.AlveolarLPerMin, 0, 200); err != nil {
		return err
	}
	if err := within("output", s.OutputLPerMin, 0, 100); err != nil {
		return err
	}
	if err := within("extraction", s.Extraction, 0, 0.95); err != nil {
		return err
	}
	if s.Concentration {
		return within("pressure", s.AirMmHg, 200, 1000)
	}
	return nil
}

// within is for what a program gives a model; unlike agent.Take it knows no unit.
func within(field string, x, low, high float64) error {
	switch {
	case math.IsNaN(x) || math.IsInf(x, 0):
		return &agent.Error{Field: field, Code: agent.NotFinite}
	case x < low:
		return &agent.Error{Field: field, Code: agent.TooLow}
	case x > high:
		return &agent.Error{Field: field, Code: agent.TooHigh}
	}
	return nil
}

// RatesPerMin gives how fast the model's modes die away, fastest first.
func (m *Model) RatesPerMin() []float64 {
	return append([]float64(nil), m.rate[:]...)
}

// Step takes a state so many minutes on, 0 to a week, with an inspired tension
// that stays as it is, 0 to 1000 mmHg. Without the concentration effect the
// step is exact, whatever its length: one of ten minutes is ten of one minute.
// With it the equations are integrated (see concentration.go). The error is an
// *agent.Error for "inspired" or "minutes"; the state is then as it was.
//
// Where nobody breathes, or the airway is closed, the model has an alveolar
// flow of 0, and what is in the body goes from place to place.
func (m *Model) Step(s *State, inspiredMmHg, minutes float64) error {
	if err := within("inspired", inspiredMmHg, 0, 1000); err != nil {
		return err
	}
	if err := within("minutes", minutes, 0, longestMin); err != nil {
		return err
	}
	if minutes == 0 {
		return nil
	}
	if m.set.Concentration && m.set.AlveolarLPerMin > 0 {
		m.integrate(s, inspiredMmHg, minutes)
		return nil
	}
	var next [places]float64
	lung := 0.0 // the integral of the lung's tension over the step, mmHg min
	for k := range m.rate {
		mode := 0.0
		for p, w := range m.into[k] {
			mode += w * s.TensionMmHg[p]
		}
		left, once, twice := decay(m.rate[k], minutes)
		push := m.drive[k] * inspiredMmHg
		lung += m.out[Lung][k] * (mode*once + push*twice)
		mode = mode*left + push*once
		for p := range next {
			next[p] += m.out[p][k] * mode
		}
	}
	for p, x := range next {
		s.TensionMmHg[p] = math.Max(0, x) // rounding alone makes it negative
	}
	s.InspiredL += m.breathed * inspiredMmHg * minutes
	s.ExpiredL += m.breathed * lung
	s.MetabolisedL += m.loss * lung
	return nil
}

// decay gives e^(-rate t), its integral from 0 to t, and the integral of that.
func decay(rate, t float64) (left, once, twice float64) {
	z := rate * t
	left = math.Exp(-z)
	if z < 1e-3 {
		// The difference of two numbers that are nearly one; five terms of its
		// series have no error that a float64 shows.
		once = t * (1 - z/2*(1-z/3*(1-z/4*(1-z/5))))
		twice = t * t / 2 * (1 - z/3*(1-z/4*(1-z/5*(1-z/6))))
		return left, once, twice
	}
	once = -math.Expm1(-z) / rate
	return left, once, (t - once) / rate
}

// Clamp takes a state so many minutes on with the tension in the lung held, as
// if somebody turned the vaporiser to keep what is expired where it is; exact
// for any length. InspiredL then counts what was breathed in less what was
// breathed out. The errors are those of Step, for "alveolar" and "minutes".
func (m *Model) Clamp(s *State, alveolarMmHg, minutes float64) error {
	if err := within("alveolar", alveolarMmHg, 0, 1000); err != nil {
		return err
	}
	if err := within("minutes", minutes, 0, longestMin); err != nil {
		return err
	}
	s.InspiredL += m.capacity[Lung] * (alveolarMmHg - s.TensionMmHg[Lung]) / atm
	s.TensionMmHg[Lung] = alveolarMmHg
	for p := Brain; p < places; p++ {
		end := alveolarMmHg
		if p == Liver {
			end *= 1 - m.set.Extraction
		}
		left, once, _ := decay(m.flow[p]/m.capacity[p], minutes)
		gap := end - s.TensionMmHg[p]
		s.InspiredL += m.flow[p] * ((alveolarMmHg-end)*minutes + gap*once) / atm
		s.TensionMmHg[p] = end - gap*left
	}
	s.MetabolisedL += m.loss * alveolarMmHg * minutes
	return nil
}

// UptakeMLPerMin gives what the blood carries away from the lung, in mL of
// vapour at 37 °C and 760 mmHg; negative where it brings more than it takes.
func (m *Model) UptakeMLPerMin(s *State) float64 {
	sum := 0.0
	for p := Brain; p < places; p++ {
		sum += m.flow[p] * (s.TensionMmHg[Lung] - s.TensionMmHg[p])
	}
	return sum / atm * 1000
}

// StoredL gives what is in the body, in L of vapour at 37 °C and 760 mmHg.
func (m *Model) StoredL(s *State) float64 {
	sum := 0.0
	for p, x := range s.TensionMmHg {
		sum += m.capacity[p] * x
	}
	return sum / atm
}

// Until gives the minutes after which a place first reaches a tension, from
// above or from below, with an inspired tension that stays as it is; to a
// thousandth of a minute. It reports false where that takes longer than the
// limit, at most a week. The errors are those of Step, and for "target".
func (m *Model) Until(s State, place Place, targetMmHg, inspiredMmHg, limitMin float64) (minutes float64, reached bool, err error) {
	if err := within("target", targetMmHg, 0, 1000); err != nil {
		return 0, false, err
	}
	if place < Lung || place >= places {
		return 0, false, &agent.Error{Field: "place", Code: agent.UnknownCode}
	}
	if err := within("minutes", limitMin, 0, longestMin); err != nil {
		return 0, false, err
	}
	below := s.TensionMmHg[place] < targetMmHg
	there := func(x float64) bool {
		if below {
			return x >= targetMmHg
		}
		return x <= targetMmHg
	}
	if there(s.TensionMmHg[place]) {
		return 0, true, nil
	}
	// A tenth of a minute is short beside all but the lung, so that nothing
	// that comes and goes again in between is missed.
	const short = 0.1
	var along [64][places]float64
	for minutes < limitMin {
		step, n := short, min(len(along), int((limitMin-minutes)/short))
		if n == 0 {
			step, n = limitMin-minutes, 1
		}
		next := s
		if err := m.Trace(&next, inspiredMmHg, step, along[:n]); err != nil {
			return 0, false, err
		}
		i := 0
		for i < n && !there(along[i][place]) {
			i++
		}
		minutes += step * float64(i)
		if i == n {
			s = next
			continue
		}
		if i > 0 {
			s.TensionMmHg = along[i-1]
		}
		low, high := 0.0, step
		for high-low > 0.5e-3 {
			half := (low + high) / 2
			try := s
			if err := m.Step(&try, inspiredMmHg, half); err != nil {
				return 0, false, err
			}
			if there(try.TensionMmHg[place]) {
				high = half
			} else {
				low = half
			}
		}
		return minutes + (low+high)/2, true, nil
	}
	return 0, false, nil
}
