package uptake

import "math"

// Pace takes a state on in steps of one length, again and again: what Step works
// out by exponentials each time is worked out once. It is for what runs second
// by second; a single step is Step's. It does not change and may be used by
// several goroutines.
type Pace struct {
	m       *Model
	minutes float64
	from    [places][places]float64 // tensions from tensions
	push    [places]float64         // and from 1 mmHg inspired
	lung    [places]float64         // the integral of the lung's tension over the step, from tensions
	lungPI  float64
}

// Every gives the pace of a model for steps of so many minutes, over 0 to a
// week. With the concentration effect nothing can be worked out before, and
// the pace integrates as Step does. The error is an *agent.Error for "minutes".
func (m *Model) Every(minutes float64) (*Pace, error) {
	if err := within("minutes", minutes, math.SmallestNonzeroFloat64, longestMin); err != nil {
		return nil, err
	}
	p := &Pace{m: m, minutes: minutes}
	for k := range m.rate {
		left, once, twice := decay(m.rate[k], minutes)
		for to := range p.from {
			for of := range p.from[to] {
				p.from[to][of] += m.out[to][k] * left * m.into[k][of]
			}
			p.push[to] += m.out[to][k] * once * m.drive[k]
		}
		for of := range p.lung {
			p.lung[of] += m.out[Lung][k] * once * m.into[k][of]
		}
		p.lungPI += m.out[Lung][k] * twice * m.drive[k]
	}
	return p, nil
}

// Step takes a state one step on; as Model.Step, and with its error for
// "inspired".
func (p *Pace) Step(s *State, inspiredMmHg float64) error {
	if !(inspiredMmHg >= 0 && inspiredMmHg <= 1000) {
		return within("inspired", inspiredMmHg, 0, 1000)
	}
	m := p.m
	if m.set.Concentration && m.set.AlveolarLPerMin > 0 {
		m.integrate(s, inspiredMmHg, p.minutes)
		return nil
	}
	was := s.TensionMmHg
	lung := p.lungPI * inspiredMmHg
	for of, x := range was {
		lung += p.lung[of] * x
	}
	for to := range p.from {
		row := &p.from[to]
		x := p.push[to] * inspiredMmHg
		x += row[0]*was[0] + row[1]*was[1] + row[2]*was[2] + row[3]*was[3]
		x += row[4]*was[4] + row[5]*was[5] + row[6]*was[6] + row[7]*was[7]
		s.TensionMmHg[to] = max(0, x) // rounding alone makes it negative
	}
	s.InspiredL += m.breathed * inspiredMmHg * p.minutes
	s.ExpiredL += m.breathed * lung
	s.MetabolisedL += m.loss * lung
	return nil
}
