package depth

import (
	"math"
	"math/rand/v2"

	"chinlift/core/agent"
	"chinlift/core/quantity"
	"chinlift/core/term"
	"chinlift/core/uptake"
)

// Simulated patients that are built otherwise than the filter's bodies: two
// lungs of unlike ventilation, a shunt, a mask that gives back, breath by its
// tidal volume over a dead space, uptake that draws gas in after it, agent that
// goes from gut to fat without blood, breathing that is held in excitement,
// other spreads, hard bounds between the stages that differ by patient and by
// sign, signs that are misread, drops of another size than was told, and an
// airway that closes while nobody writes it down.
type simulated struct {
	rng *rand.Rand

	kg, years           float64
	opioid, atropine    bool
	told                float64 // drops per mL that the companion is told; 0 is none
	dropsPerML, caught  float64
	misreads            float64
	awakeAt             float64
	rate, tidalL, deadL float64
	backPart, shunt     float64
	output, lambda      float64
	macMmHg             float64
	begins, stops       float64
	closedFrom, closed  float64 // minutes
	volumes, parts      [places]float64
	bounds              [6]float64
	turns               [signCount]float64

	// Now.
	minute, drops float64
	lungs         [2]float64
	tissues       [places]float64
	heldTill      float64
	expired       float64
}

const simStep = 1.0 / 60

func simulate(seed uint64) *simulated {
	rng := rand.New(rand.NewPCG(seed, 0x5eed))
	log := func(sd float64) float64 { return math.Exp(sd * rng.NormFloat64()) }
	between := func(a, b float64) float64 { return a + (b-a)*rng.Float64() }
	p := &simulated{rng: rng, kg: math.Round(between(42, 85)), years: math.Round(between(18, 65))}
	p.opioid, p.atropine = rng.Float64() < 0.5, rng.Float64() < 0.6
	scale := p.kg / 70
	p.rate = between(14, 26)
	p.deadL = between(0.12, 0.2) * scale
	alveolar := 4.0 * math.Pow(scale, 0.75) * log(0.3)
	if p.opioid {
		alveolar *= between(0.65, 0.95)
	}
	p.tidalL = alveolar/p.rate + p.deadL
	p.backPart, p.shunt = between(0.05, 0.2), between(0.03, 0.18)
	p.output = 5.0 * math.Pow(scale, 0.75) * log(0.25)
	p.lambda = between(11.5, 15.5)
	p.macMmHg = 1.92 * agent.AgeFactor(p.years) * 7.6 * log(0.17)
	if p.opioid {
		p.macMmHg *= between(0.8, 0.95)
	}
	p.begins, p.stops = between(1.2, 1.7), between(2.1, 2.8)
	p.dropsPerML = 40 * log(0.3)
	if rng.Float64() < 0.5 {
		p.told = 40 // counted once, with another bottle
	}
	p.caught = between(0.35, 0.7)
	p.misreads = between(0.10, 0.20)
	p.awakeAt = 0.67 * log(0.2)
	if rng.Float64() < 0.35 {
		p.closedFrom, p.closed = between(12, 70), between(2, 6)
	}
	rest := [places]float64{0, 1.4, 0.33, 0.31, 3.86, 33, 14.5, 12.5}
	flow := [places]float64{0, .13, .05, .21, .30, .20, .06, .05}
	for i := 1; i < places; i++ {
		p.volumes[i], p.parts[i] = rest[i]*scale*log(0.15), flow[i]
	}
	p.volumes[uptake.Fat] *= log(0.4)
	for i, b := range [6]float64{0.67, 0.95, 1.18, 1.62, 2.0, 2.44} {
		p.bounds[i] = b * log(0.05)
		if i > 0 {
			p.bounds[i] = math.Max(p.bounds[i], p.bounds[i-1]+0.05)
		}
	}
	for i := range p.turns {
		p.turns[i] = log(0.10)
	}
	return p
}

func (p *simulated) depthMAC() float64 { return p.tissues[uptake.Brain] / p.macMmHg }

// run goes on for so many minutes with the drops as they are.
func (p *simulated) run(minutes float64) {
	tissue := [places]float64{0, 1.14, 1, 0.9, 1, 1, 4.3, 1}
	for range int(math.Round(minutes / simStep)) {
		d := p.depthMAC()
		tidal := p.tidalL
		if d > p.begins {
			tidal *= math.Max(0, 1-math.Pow((d-p.begins)/(p.stops-p.begins), 1.5))
		}
		// Excitement: a breath is held now and then.
		if d > p.bounds[0] && d < p.bounds[1] && p.minute > p.heldTill && p.rng.Float64() < 0.3*simStep {
			p.heldTill = p.minute + 0.3 + 0.5*p.rng.Float64()
		}
		air := p.rate * math.Max(0, tidal-p.deadL)
		if p.minute < p.heldTill {
			air = 0
		}
		if p.minute >= p.closedFrom && p.minute < p.closedFrom+p.closed {
			air *= 0.15
		}
		all := math.Max(1, air/math.Max(0.3, 1-p.deadL/math.Max(tidal, p.deadL+0.05)))
		fresh := math.Min(186, p.drops/p.dropsPerML*p.caught*231.5/1000*760/all)
		inspired := (1-p.backPart)*fresh + p.backPart*p.expired
		venous := 0.0
		for i := 1; i < places; i++ {
			venous += p.parts[i] * p.tissues[i]
		}
		out := 0.0
		share, blood := [2]float64{0.75, 0.25}, [2]float64{0.6, 0.4}
		arterial := p.shunt * venous
		for i := range p.lungs {
			q := p.lambda * p.output * (1 - p.shunt) * blood[i]
			uptake := q * (p.lungs[i] - venous)
			capacity := (2.3*share[i] + p.lambda*0.9*blood[i]) * p.kg / 70
			flow := air*share[i]*(inspired-p.lungs[i]) + math.Max(0, uptake)/760*inspired
			if air == 0 {
				flow = 0
			}
			p.lungs[i] = math.Max(0, p.lungs[i]+simStep*(flow-uptake)/capacity)
			out += share[i] * p.lungs[i]
			arterial += (1 - p.shunt) * blood[i] * p.lungs[i]
		}
		p.expired = out
		for i := 1; i < places; i++ {
			p.tissues[i] += simStep * p.output * p.parts[i] * (arterial - p.tissues[i]) / (p.volumes[i] * tissue[i])
		}
		// From gut to the fat about it.
		cross := 0.01 * (p.tissues[uptake.Liver] - p.tissues[uptake.Fat]) * simStep
		p.tissues[uptake.Liver] -= cross
		p.tissues[uptake.Fat] += cross / 4
		p.minute += simStep
	}
}

// shows gives the code of a sign at the patient's depth, as somebody reads it.
func (p *simulated) shows(i int) string {
	d := p.depthMAC() / p.turns[i]
	s := 0
	for s < 6 && d >= p.bounds[s] {
		s++
	}
	// One code for each stage, in the words of the table.
	rows := [signCount][7]string{
		{"quiet", "uneven", "even-automatic", "even-automatic", "ribs-late", "belly-only", "shallow"},
		{"looking", "roving", "roving", "still-central", "still-central", "still-central", "still-central"},
		{"middle", "wide", "small", "middle", "wide", "wide-fixed", "wide-fixed"},
		{"brisk", "faint", "gone", "gone", "gone", "gone", "gone"},
		{"brisk", "brisk", "brisk", "faint", "gone", "gone", "gone"},
		{"easing", "tight", "easing", "slack", "slack", "slack", "slack"},
		{"full", "full", "full", "full", "late", "still", "still"},
		{"limbs", "straining", "none", "none", "none", "none", "none"},
		{"none", "none", "wet", "wet", "none", "none", "none"},
	}
	code := rows[i][s]
	if rowSigns[i] == SignPupils {
		switch {
		case p.atropine && code != "wide-fixed":
			code = "wide"
		case p.opioid && code == "middle":
			code = "small"
		}
	}
	if p.rng.Float64() < p.misreads {
		codes := etherRows[rowSigns[i]].codes
		code = codes[p.rng.IntN(len(codes))]
	}
	return code
}

func (k *Look) set(s Sign, code string) {
	switch s {
	case SignBreathing:
		k.Breathing = term.Breathing(code)
	case SignEyes:
		k.Eyes = term.Eyes(code)
	case SignPupils:
		k.Pupils = term.Pupils(code)
	case SignLid:
		k.Lid = term.Reflex(code)
	case SignCornea:
		k.Cornea = term.Reflex(code)
	case SignJaw:
		k.Jaw = term.Jaw(code)
	case SignChest:
		k.Chest = term.Chest(code)
	case SignMovement:
		k.Movement = term.Movement(code)
	case SignTears:
		k.Tears = term.Tears(code)
	}
}

// looks reads three to six signs.
func (p *simulated) looks() Look {
	var k Look
	order := p.rng.Perm(signCount)
	for _, i := range order[:3+p.rng.IntN(4)] {
		k.set(rowSigns[i], p.shows(i))
	}
	return k
}

// pours is what an anaesthetist of sorts does: more while it seems light, less
// while it seems deep, and a wrong eye.
func (p *simulated) pours() {
	seems := p.depthMAC() * math.Exp(0.2*p.rng.NormFloat64())
	switch {
	case p.minute < 7:
		p.drops = math.Min(240, 15*math.Pow(2, math.Floor(p.minute)))
	case seems < 1.15:
		p.drops = math.Min(420, math.Max(60, p.drops*1.4))
	case seems > 1.8:
		p.drops = math.Max(20, p.drops*0.5)
	case seems > 1.5:
		p.drops = math.Max(30, p.drops*0.85)
	}
	p.drops = math.Round(p.drops)
}

func (p *simulated) subject() Subject {
	return Subject{Age: agent.Give(p.years, 0, quantity.Year), Weight: agent.Give(p.kg, 0, quantity.Kg), Agents: []term.Agent{term.AgentEther}}
}

// supply is what the companion is told of the drops.
func (p *simulated) supply() Supply {
	d := uptake.OpenDrop{
		Agent: term.AgentEther, Drops: agent.Give(p.drops, 0, quantity.DropsPerMin), Cover: term.CoverOff,
		MinuteLPerMin: uptake.Exactly(6), Pressure: quantity.MustParse("760 mm[Hg]"),
	}
	if p.told > 0 {
		d.PerML = agent.Give(p.told, 0, quantity.DropsPerML)
	}
	s, _, err := FromOpenDrop(d)
	if err != nil {
		panic(err)
	}
	return s
}
