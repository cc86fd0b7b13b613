package uptake

import "math"

// The concentration effect. Where the blood takes away a large part of what is
// inspired, fresh gas flows in after it: the lung concentrates what is left and
// gets more than it breathes out. The flow breathed out is held, and what is
// breathed in is larger by the uptake. When the body gives the agent back, the
// flow breathed out is never less than what comes.
//
// What is breathed in then depends on the state, and the equations are not
// linear. They are integrated by the pair of J. R. Dormand and P. J. Prince (A
// family of embedded Runge-Kutta formulae, J Comput Appl Math 1980;6:19) of
// orders 5 and 4, with inner steps as long as its estimate of the error allows:
// 1e-10 of the greatest tension in each. Against an independent integration the
// result is right to 1e-8 of that tension (checked in reference_slow_test.go).

// The state of the integration: tensions, then what was inspired, expired and
// metabolised.
const (
	sumInspired = int(places) + iota
	sumExpired
	sumMetabolised
	unknowns
)

type vector [unknowns]float64

// innerTolerance is the error that one inner step may make.
const innerTolerance = 1e-10

// slope gives the right-hand side of the equations.
func (m *Model) slope(y *vector, inspiredMmHg float64, to *vector) {
	uptake := 0.0 // mmHg L/min
	for p := int(Brain); p < int(places); p++ {
		gets := y[Lung]
		if p == int(Liver) {
			gets *= 1 - m.set.Extraction
		}
		to[p] = m.flow[p] / m.capacity[p] * (gets - y[p])
		uptake += m.flow[p] * (y[Lung] - y[p])
	}
	taken := uptake / m.set.AirMmHg // L/min of gas
	expired := math.Max(m.set.AlveolarLPerMin, -taken)
	inspired := expired + taken
	to[Lung] = (inspired*inspiredMmHg - expired*y[Lung] - uptake) / m.capacity[Lung]
	to[sumInspired] = inspired * inspiredMmHg / atm
	to[sumExpired] = expired * y[Lung] / atm
	to[sumMetabolised] = m.loss * y[Lung]
}

// The coefficients of Dormand and Prince. The last row is the result of order
// 5; differ is its difference from that of order 4.
var (
	stages = [7][6]float64{
		{},
		{1. / 5},
		{3. / 40, 9. / 40},
		{44. / 45, -56. / 15, 32. / 9},
		{19372. / 6561, -25360. / 2187, 64448. / 6561, -212. / 729},
		{9017. / 3168, -355. / 33, 46732. / 5247, 49. / 176, -5103. / 18656},
		{35. / 384, 0, 500. / 1113, 125. / 192, -2187. / 6784, 11. / 84},
	}
	differ = [7]float64{71. / 57600, 0, -71. / 16695, 71. / 1920, -17253. / 339200, 22. / 525, -1. / 40}
)

// integrate takes a state so many minutes on.
func (m *Model) integrate(s *State, inspiredMmHg, minutes float64) {
	var y vector
	copy(y[:], s.TensionMmHg[:])
	scale := inspiredMmHg
	for _, x := range s.TensionMmHg {
		scale = math.Max(scale, x)
	}
	if scale == 0 {
		return // nothing inside, nothing outside
	}
	var k [7]vector
	m.slope(&y, inspiredMmHg, &k[0])
	step := s.innerMin
	if step <= 0 {
		step = 0.01
	}
	for done := 0.0; done < minutes; {
		h := math.Min(step, minutes-done)
		if minutes-done-h < 1e-12*minutes {
			h = minutes - done
		}
		next := y
		for i := 1; i < len(stages); i++ {
			next = y
			for j := range i {
				f := h * stages[i][j]
				for p := range next {
					next[p] += f * k[j][p]
				}
			}
			m.slope(&next, inspiredMmHg, &k[i])
		}
		worst := 0.0
		for p := range int(places) {
			e := 0.0
			for i := range k {
				e += differ[i] * k[i][p]
			}
			worst = math.Max(worst, math.Abs(h*e))
		}
		worst /= innerTolerance * scale
		// The usual control: 0.9 of the step that would just do, changed by no
		// more than a factor of 5.
		grow := 5.0
		if worst > 0 {
			grow = math.Min(5, math.Max(0.2, 0.9*math.Pow(worst, -0.2)))
		}
		if worst > 1 {
			step = h * math.Min(grow, 0.9)
			continue
		}
		y, k[0] = next, k[6]
		done += h
		if h == step || grow < 1 {
			step = h * grow
		}
	}
	s.innerMin = step
	for p := range s.TensionMmHg {
		s.TensionMmHg[p] = math.Max(0, y[p])
	}
	s.InspiredL += y[sumInspired]
	s.ExpiredL += y[sumExpired]
	s.MetabolisedL += y[sumMetabolised]
}
