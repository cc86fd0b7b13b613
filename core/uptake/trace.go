package uptake

import (
	"math"

	"chinlift/core/agent"
)

// Trace takes a state on with an inspired tension that stays as it is, and gives
// the tensions along the way: to gets them after each of its equal parts of so
// many minutes, and the state is where the last of them is. It is for what is
// read every second while nothing changes: the equations are solved once for the
// whole way, and a part of it costs a few additions for each place.
//
// With the concentration effect, too, the equations are linear as long as the
// inspired tension stays and something is breathed out; where the blood gives
// back more than is breathed, they are integrated part by part. Every tension is
// within 1e-10 of the greatest there is of what Step would give, with the
// concentration effect of what the equations are integrated to.
//
// The errors are those of Step, and for "parts" where there is none; the state is
// then as it was.
func (m *Model) Trace(s *State, inspiredMmHg, everyMin float64, to [][VesselPoor + 1]float64) error {
	if err := within("inspired", inspiredMmHg, 0, 1000); err != nil {
		return err
	}
	if len(to) == 0 {
		return &agent.Error{Field: "parts", Code: agent.Missing}
	}
	if err := within("minutes", everyMin*float64(len(to)), 0, longestMin); err != nil {
		return err
	}
	if everyMin == 0 {
		for i := range to {
			to[i] = s.TensionMmHg
		}
		return nil
	}
	w := way{m: m, modes: &m.modes, part: 1, every: everyMin, inspired: inspiredMmHg}
	if m.set.Concentration && m.set.AlveolarLPerMin > 0 {
		w.part = 1 - inspiredMmHg/m.set.AirMmHg
		all, ok := modes{}, false
		if w.part > 0.01 { // beyond that there is nothing but agent in the air
			all, ok = m.modesOf(w.part)
		}
		if !ok {
			return m.traceInParts(s, inspiredMmHg, everyMin, to)
		}
		w.modes, w.concentration = &all, true
	}
	w.from(s)
	for done := 0; done < len(to); {
		n := w.stretch(len(to) - done)
		if w.concentration && w.breathesNothing(n) {
			if done > 0 {
				w.finish(s, done)
			}
			return m.traceInParts(s, inspiredMmHg, everyMin, to[done:])
		}
		w.fill(to[done : done+n])
		done += n
	}
	w.finish(s, len(to))
	to[len(to)-1] = s.TensionMmHg
	return nil
}

// traceInParts is Trace by Step.
func (m *Model) traceInParts(s *State, inspiredMmHg, everyMin float64, to [][VesselPoor + 1]float64) error {
	for i := range to {
		if err := m.Step(s, inspiredMmHg, everyMin); err != nil {
			return err
		}
		to[i] = s.TensionMmHg
	}
	return nil
}

// way is one solution of the equations: where it ends, and how much of each mode
// is left to die away until it is there.
type way struct {
	m *Model
	*modes
	part            float64 // see modesOf
	concentration   bool
	every, inspired float64

	end   [places]float64
	gap   [places]float64 // of each mode, at the beginning
	now   [places]float64 // and after so many parts of the way
	back  [places]float64 // by how much a mode was more a part before
	scale float64         // the greatest tension of all
	reach [places]float64 // by how much one of a mode is seen in any place
}

func (w *way) from(s *State) {
	m := w.m
	// In the end the lung has what is inspired, less what the liver takes.
	if m.set.AlveolarLPerMin > 0 {
		lung := m.set.AlveolarLPerMin * w.inspired / (m.set.AlveolarLPerMin + w.part*m.flow[Liver]*m.set.Extraction)
		for p := range w.end {
			w.end[p] = lung
		}
		w.end[Liver] = (1 - m.set.Extraction) * lung
	}
	w.scale = w.inspired
	for k := range w.gap {
		w.back[k] = math.Exp(w.rate[k] * w.every)
		for p, x := range s.TensionMmHg {
			w.gap[k] += w.into[k][p] * (x - w.end[p])
			w.reach[k] = math.Max(w.reach[k], math.Abs(w.out[p][k]))
			w.scale = math.Max(w.scale, x)
		}
	}
	w.now = w.gap
}

// A stretch is a run of parts over which the way is, in every place, a polynomial
// of degree five about its middle, to within this of the greatest tension.
const stretchTolerance = 3e-11

// longestStretch keeps what is written near at hand, and what rounding adds up to
// small.
const longestStretch = 512

// stretch gives how many parts from here on one polynomial holds for.
func (w *way) stretch(most int) int {
	sixth := 0.0 // bound of the sixth derivative
	for k, x := range w.now {
		r := w.rate[k] * w.every
		sixth += math.Abs(x) * w.reach[k] * r * r * r * r * r * r
	}
	n := longestStretch
	if bound := 720 * stretchTolerance * w.scale; sixth > 0 {
		// Half of the way to either side of the middle.
		if half := math.Cbrt(math.Sqrt(bound / sixth)); half < longestStretch/2 {
			n = max(1, int(2*half))
		}
	}
	return min(n, most)
}

// breathesNothing reports whether in the next n parts the blood may give back
// more than is breathed out. Each mode only dies away, so that its two ends bound
// it.
func (w *way) breathesNothing(n int) bool {
	taken := w.m.flow[Liver] * (w.end[Lung] - w.end[Liver]) // mmHg L/min
	for k, x := range w.now {
		each := 0.0
		for p := Brain; p < places; p++ {
			each += w.m.flow[p] * (w.out[Lung][k] - w.out[p][k])
		}
		x *= each
		taken += math.Min(x, x*math.Exp(-w.rate[k]*w.every*float64(n)))
	}
	return taken <= -w.m.set.AlveolarLPerMin*w.m.set.AirMmHg
}

// fill gives the next parts, and goes there.
func (w *way) fill(to [][VesselPoor + 1]float64) {
	n := len(to)
	middle := float64(n+1) / 2 // from where it stands now, in parts
	var terms [places][6]float64
	for p := range terms {
		terms[p][0] = w.end[p]
	}
	for k, x := range w.now {
		if math.Abs(x)*w.reach[k] < 1e-14*w.scale {
			w.now[k] = 0
			continue
		}
		r := w.rate[k] * w.every
		left := math.Exp(-r * middle)
		if left < 1e-100 { // nor what back would make of it
			w.now[k] = 0
			continue
		}
		y := x * left
		w.now[k] = y * left * w.back[k]
		for p := range terms {
			c, t := w.out[p][k]*y, &terms[p]
			t[0] += c
			c *= -r
			t[1] += c
			c *= -r / 2
			t[2] += c
			c *= -r / 3
			t[3] += c
			c *= -r / 4
			t[4] += c
			c *= -r / 5
			t[5] += c
		}
	}
	lowest := math.Inf(1)
	for p := range terms {
		at, low := middle, terms[p][0]
		for _, c := range terms[p][1:] {
			low -= math.Abs(c) * at
			at *= middle
		}
		lowest = min(lowest, low)
	}
	for p := 0; p < int(places); p += 2 {
		a, b := differences(&terms[p], 1-middle), differences(&terms[p+1], 1-middle)
		a0, a1, a2, a3, a4, a5 := a[0], a[1], a[2], a[3], a[4], a[5]
		b0, b1, b2, b3, b4, b5 := b[0], b[1], b[2], b[3], b[4], b[5]
		for i := range to {
			row := &to[i]
			row[p&7], row[(p+1)&7] = a0, b0
			a0 += a1
			b0 += b1
			a1 += a2
			b1 += b2
			a2 += a3
			b2 += b3
			a3 += a4
			b3 += b4
			a4 += a5
			b4 += b5
		}
	}
	if lowest > 0 {
		return
	}
	for i := range to {
		for p, x := range to[i] {
			to[i][p] = max(0, x) // rounding alone makes it negative
		}
	}
}

// differences gives the forward differences, with a step of 1, at x of the
// polynomial with these terms: from each its value and those of the five
// differences follow by additions alone.
func differences(t *[6]float64, x float64) [6]float64 {
	c := *t
	for i := range c { // about x
		for j := len(c) - 2; j >= i; j-- {
			c[j] += x * c[j+1]
		}
	}
	// Stirling's numbers of the second kind, times factorials.
	return [6]float64{
		c[0],
		c[1] + c[2] + c[3] + c[4] + c[5],
		2*c[2] + 6*c[3] + 14*c[4] + 30*c[5],
		6*c[3] + 36*c[4] + 150*c[5],
		24*c[4] + 240*c[5],
		120 * c[5],
	}
}

// finish takes the state so many parts on, with its ledger.
func (w *way) finish(s *State, parts int) {
	minutes := w.every * float64(parts)
	var next, sum [places]float64 // tensions, and their integrals over the way
	for p, x := range w.end {
		next[p], sum[p] = x, x*minutes
	}
	for k, x := range w.gap {
		left, once, _ := decay(w.rate[k], minutes)
		for p := range next {
			next[p] += w.out[p][k] * x * left
			sum[p] += w.out[p][k] * x * once
		}
	}
	for p, x := range next {
		s.TensionMmHg[p] = math.Max(0, x)
	}
	m, drawn := w.m, 0.0
	if w.concentration {
		for p := Brain; p < places; p++ {
			drawn += m.flow[p] * (sum[Lung] - sum[p]) / m.set.AirMmHg
		}
	}
	s.InspiredL += (m.set.AlveolarLPerMin*minutes + drawn) * w.inspired / atm
	s.ExpiredL += m.breathed * sum[Lung]
	s.MetabolisedL += m.loss * sum[Lung]
}
