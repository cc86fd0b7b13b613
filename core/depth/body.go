package depth

import (
	"math"
	"math/rand/v2"

	"chinlift/core/agent"
	"chinlift/core/term"
	"chinlift/core/uptake"
)

const places = int(uptake.VesselPoor) + 1

// What is uncertain about a body, each as standard deviations from the middle.
const (
	zVentilation = iota // what is breathed, in the range that uptake gives
	zWander             // the same, going up and down by the minute
	zSupply             // what is inspired, in its range
	zFit                // how that is off throughout: a mask that leaks, drops that were counted with another bottle
	zPour               // the same, going up and down by the minute
	zOutput             // of the heart
	zSensitivity
	zBlood   // blood/gas
	zSize    // volumes of the tissues, beside the weight
	zDepress // how depth depresses breathing
	zAwake   // where it wakes
	zSeen    // four: where its signs turn, beside its own MAC
	latents  = zSeen + 4
)

// How bodies differ: standard deviations of the logarithm. House choices, wide
// on purpose: narrow ones were over-sure with simulated patients of another
// kind.
const (
	wanderSD      = 0.15
	pourSD        = 0.20
	fitSD         = 0.25
	outputSD      = 0.22
	sensitivitySD = 0.15
	sizeSD        = 0.12
	awakeSD       = 0.18
	seenSD        = 0.12
)

// An airway may close without anybody writing it down: how often in a minute,
// how often it opens again, and how much still goes through. House choices.
const (
	shutsPerMin = 0.006
	opensPerMin = 0.20
	shutLeaves  = 0.2
)

// body is one of the simulated ones.
type body struct {
	tensionMmHg [places]float64
	z           [latents]float64
	shut        bool

	// What follows from z, until z changes.
	mix      [places]float64 // of each tissue, how far the lung pulls it in half a step
	pull     float64         // what the tissues give back to the lung of that
	bloodGas float64         // blood/gas times output, L/min
	lungL    float64         // capacity of the lung
	macMmHg  float64         // its own
	// What follows from z and the situation, by the minute.
	airLPerMin float64 // alveolar, before depth and a closed airway
	supplied   float64 // mmHg
	reach      float64 // alveolar part of what is breathed
}

// kind is what all bodies of a run share.
type kind struct {
	agent    agent.Agent
	rest     uptake.Body
	set      uptake.Setting
	bloodGas uptake.Range
	keepMmHg float64 // MAC at the age
	awake    float64 // part of MAC
	decay    [places]float64
	brake    [3][]float64 // part of the breathing left: by depth, for the low, middle and high end
}

const (
	brakeStepMAC = 0.05
	brakeCount   = 81 // to 4 MAC
)

func newKind(a agent.Agent, rest uptake.Body, years float64) (kind, error) {
	k := kind{agent: a, rest: rest, keepMmHg: a.MACMmHg(years), awake: a.AwakePerMAC.Value}
	var err error
	if k.set, err = uptake.Usual(a.Code, rest); err != nil {
		return kind{}, err
	}
	low, high := a.Solubility.BloodGas.Span()
	// A value at the end of its span may be off to the other side as well: a
	// twentieth, about what laboratories differ by (house choice).
	v := a.Solubility.BloodGas.Value
	k.bloodGas = uptake.Range{Low: min(low, v*0.95), Value: v, High: max(high, v*1.05)}
	for p := 1; p < places; p++ {
		k.decay[p] = rest.FlowParts[p] / (rest.VolumesL[p] * k.set.Tissue[p])
	}
	for i := range k.brake {
		k.brake[i] = make([]float64, brakeCount)
	}
	for i := range brakeCount {
		f, _ := uptake.DepthFactor(a.Code, uptake.Exactly(float64(i)*brakeStepMAC))
		k.brake[0][i], k.brake[1][i], k.brake[2][i] = f.Low, f.Value, f.High
	}
	return k, nil
}

// braked gives the part of the breathing that a depth leaves.
func (k *kind) braked(depthMAC, z float64) float64 {
	i := depthMAC / brakeStepMAC
	if i >= brakeCount-1 {
		i = brakeCount - 1.000001
	}
	n := int(i)
	part := i - float64(n)
	at := func(table []float64) float64 { return table[n] + part*(table[n+1]-table[n]) }
	middle, end := at(k.brake[1]), at(k.brake[2])
	if z < 0 {
		end, z = at(k.brake[0]), -z
	}
	return min(1, max(0, middle+(end-middle)*min(1.6, z/tenth)))
}

// The step: a method of order 2 with two implicit stages that damps the fast
// lung (R. Alexander, Diagonally implicit Runge-Kutta methods for stiff
// O.D.E.'s, SIAM J Numer Anal 1977;14:1006). Lung and tissues form a star, so
// that a stage is solved directly. Against the exact steps of package uptake it
// is right to 0.1 % of the inspired tension in steps of 0.2 and of 0.25 minutes
// (checked in body_test.go).
const gamma = 1 - math.Sqrt2/2

// derive makes a body ready for steps of so many minutes.
func (k *kind) derive(b *body, stepMin float64, premed float64) {
	half := gamma * stepMin
	size := math.Exp(sizeSD * b.z[zSize])
	output := k.set.OutputLPerMin * math.Exp(outputSD*b.z[zOutput])
	lambda := draw(k.bloodGas, b.z[zBlood])
	b.bloodGas = lambda * output
	b.lungL = k.rest.GasL + lambda*k.rest.BloodL
	b.macMmHg = k.keepMmHg * premed * math.Exp(sensitivitySD*b.z[zSensitivity])
	b.pull = 0
	for p := 1; p < places; p++ {
		x := half * output * k.decay[p] / size
		b.mix[p] = x / (1 + x)
		b.pull += k.rest.FlowParts[p] * b.mix[p] * k.gets(p)
	}
}

// gets is the part of the lung's tension that a tissue goes to.
func (k *kind) gets(p int) float64 {
	if p == int(uptake.Liver) {
		return 1 - k.set.Extraction
	}
	return 1
}

// advance takes a body one step on. part is of what the blood takes the part that
// the lung loses by it: 1, or with the concentration effect less, since more is
// drawn in after it.
func (k *kind) advance(b *body, alveolarLPerMin, inspiredMmHg, part, stepMin float64) {
	half := gamma * stepMin
	r := half / b.lungL
	taken := part * b.bloodGas
	below := 1 + r*(alveolarLPerMin+taken*(1-b.pull))
	liver := 1 - k.set.Extraction
	from := b.tensionMmHg
	for stage := range 2 {
		back := 0.0
		for p := 1; p < places; p++ {
			back += k.rest.FlowParts[p] * (1 - b.mix[p]) * from[p]
		}
		lung := (from[0] + r*(alveolarLPerMin*inspiredMmHg+taken*back)) / below
		to := [places]float64{lung}
		for p := 1; p < places; p++ {
			end := lung
			if p == int(uptake.Liver) {
				end *= liver
			}
			to[p] = from[p] + b.mix[p]*(end-from[p])
		}
		if stage == 1 {
			for p, x := range to {
				b.tensionMmHg[p] = max(0, x)
			}
			return
		}
		const onward = (1 - gamma) / gamma
		for p := range from {
			from[p] = b.tensionMmHg[p] + onward*(to[p]-b.tensionMmHg[p])
		}
	}
}

// depthMAC is the brain's tension in parts of the body's own MAC.
func (b *body) depthMAC() float64 { return b.tensionMmHg[uptake.Brain] / b.macMmHg }

// breathe is one step with the breathing that depth and airway leave.
func (k *kind) breathe(b *body, now *situation, stepMin float64) {
	air := b.airLPerMin * now.open
	if b.shut {
		air *= shutLeaves
	}
	if now.brakes > 0 {
		left := k.braked(b.depthMAC(), b.z[zDepress])
		air *= 1 - now.brakes*(1-left)
	}
	inspired, part := 0.0, 1.0
	if air > 0 && now.supply.InspiredMmHg.High > 0 {
		inspired, part = k.inspires(b, &now.supply, air)
	}
	k.advance(b, air, inspired, part, stepMin)
}

// inspires gives what a body inspires that breathes so much, and the part of what
// its blood takes that the lung loses by it.
func (k *kind) inspires(b *body, s *Supply, alveolarLPerMin float64) (mmHg, part float64) {
	x := b.supplied
	if s.ByVolume {
		x *= s.AtLPerMin / max(alveolarLPerMin/b.reach, 0.1)
		if x <= s.MostMmHg {
			return x, 1 // all that drops is inspired, in however much air
		}
		// What is drawn in besides takes up more of a gauze that gives no more to
		// each litre, until all that drops is inspired.
		if s.AirMmHg > 0 && x*alveolarLPerMin < s.MostMmHg*(alveolarLPerMin+k.taken(b)/s.AirMmHg) {
			return x, 1
		}
	}
	x = min(x, s.MostMmHg)
	if s.AirMmHg == 0 {
		return x, 1
	}
	return x, max(0, 1-x/s.AirMmHg)
}

// taken is what the blood takes from the lung, in mmHg L/min.
func (k *kind) taken(b *body) float64 {
	back := 0.0
	for p := 1; p < places; p++ {
		back += k.rest.FlowParts[p] * b.tensionMmHg[p]
	}
	return b.bloodGas * (b.tensionMmHg[0] - back)
}

// settle works out what follows from the situation, which changes by the minute
// and by events.
func (k *kind) settle(b *body, now *situation) {
	b.airLPerMin = draw(now.air.AlveolarLPerMin, b.z[zVentilation]) * math.Exp(wanderSD*b.z[zWander])
	b.reach = 1
	if now.air.MinuteLPerMin.Value > 0 {
		b.reach = now.air.AlveolarLPerMin.Value / now.air.MinuteLPerMin.Value
	}
	b.supplied = draw(now.supply.InspiredMmHg, b.z[zSupply]) * math.Exp(pourSD*b.z[zPour]+fitSD*b.z[zFit])
}

// premedPart is what premedication leaves of MAC.
func premedPart(d Drugs) float64 {
	part := 1.0
	if d.Opioid {
		part *= opioidMAC.Value
	}
	if d.Benzodiazepine {
		part *= benzoMAC.Value
	}
	return part
}

var (
	opioidMAC = agent.Number{Value: 0.85, Low: 0.8, High: 0.9, Source: agent.Source{Title: "MAC after a usual opioid before operation: 10 to 20 % less", Mark: term.MarkMemory}}
	benzoMAC  = agent.Number{Value: 0.75, Low: 0.7, High: 0.8, Source: agent.Source{Title: "MAC after a usual benzodiazepine before operation: 20 to 30 % less", Mark: term.MarkMemory}}
)

// dice is the run's chance: a stream for each step and purpose, so that a replay
// from anywhere draws the same.
type dice struct{ rand.PCG }

// Purposes.
const (
	forBirth = iota
	forMinute
	forResample
)

func (d *dice) start(seed uint64, step int, purpose uint64) {
	d.Seed(seed, uint64(step)<<8|purpose)
}

// uniform gives a number from 0 up to, but not, 1.
func (d *dice) uniform() float64 { return float64(d.Uint64()>>11) / (1 << 53) }

// bell gives a number with mean 0 and standard deviation 1, nearly normal: the
// sum of eight even ones. Whole numbers until the last line, so that it is the
// same everywhere.
func (d *dice) bell() float64 {
	sum := uint64(0)
	for range 2 {
		x := d.Uint64()
		sum += x&0xffff + x>>16&0xffff + x>>32&0xffff + x>>48
	}
	// Mean 4 x 65535, variance 8 x (65536^2 - 1) / 12.
	const bellSD = 53509.92
	return (float64(sum) - 4*65535) / bellSD
}
