package depth

import (
	"math"
	"slices"

	"chinlift/core/agent"
	"chinlift/core/quantity"
	"chinlift/core/term"
	"chinlift/core/uptake"
)

// Estimate is a range of depth. Where Withdrawn stands there is no range, and
// nothing else is to be shown but why.
type Estimate struct {
	Version   string
	AtMin     float64
	Withdrawn []Reason

	// DepthMAC is the brain's tension in parts of this patient's own MAC: one
	// body in ten is under Low, one in ten over High, Value is the middle. It is
	// a range of simulated bodies, and of no patient that was ever measured.
	DepthMAC  uptake.Range
	Low, High Stage
	Drift     Drift

	// FreshMin is how many minutes from now on the last signs and vitals are new
	// enough for it: whoever goes on showing it longer shows what would be
	// withdrawn by then.
	FreshMin float64

	agent.Answer // Low, Value and High of it are DepthMAC to a tenth
}

// Estimate gives the range of depth at the minute that the run stands at.
func (r *Run) Estimate() Estimate {
	e := Estimate{Version: Version, AtMin: float64(r.now.step) * stepMin}
	e.Withdrawn = r.withdrawn()
	if len(e.Withdrawn) > 0 {
		return e
	}
	e.FreshMin = max(0, math.Min(r.now.looked, r.now.measured)+freshMin-e.AtMin)
	r.rangeNow(&e)
	return e
}

// depthNow gives the range of depth of the bodies.
func (r *Run) depthNow() uptake.Range {
	for i := range r.bodies {
		r.depths[i] = r.bodies[i].depthMAC()
	}
	r.sortDepths()
	return uptake.Range{Low: r.quantile(0.1), Value: r.quantile(0.5), High: r.quantile(0.9)}
}

// rangeNow puts the range in.
func (r *Run) rangeNow(e *Estimate) {
	e.DepthMAC = r.depthNow()
	e.Low, e.High = r.ladder.at(e.DepthMAC.Low), r.ladder.at(e.DepthMAC.High)
	e.Drift = r.drift(e.DepthMAC.Value)
	e.Cautions, e.Sources = slices.Clone(r.answer.Cautions), slices.Clone(r.answer.Sources)
	if s := &r.now.supply; s.InspiredMmHg.High > 0 && s.AirMmHg == 0 {
		e.Beware(ConcentrationX)
	}
	if e.Drift != "" {
		e.Beware(FollowSigns)
	}
	if r.now.support == term.SupportAssisted || r.now.support == term.SupportControlled {
		e.Beware(BreathHelped)
		if r.now.support == term.SupportControlled {
			e.Beware(uptake.NoBrake)
		}
	}
	e.Answer.Low = agent.Give(math.Floor(e.DepthMAC.Low*10)/10, 1, quantity.One)
	e.Answer.Value = agent.Give(e.DepthMAC.Value, 1, quantity.One)
	e.Answer.High = agent.Give(math.Ceil(e.DepthMAC.High*10)/10, 1, quantity.One)
}

// apart is beyond how many of the bodies that know no sign the middle is, for
// signs and model to have parted: one in forty on either side (house choice).
const apart = 1.0 / 40

// drift says whether signs and model have parted: at once, by a look that
// surprised, or in the end, by where the signs have drawn the bodies to.
func (r *Run) drift(middleMAC float64) Drift {
	if r.now.surprised != "" || r.now.looked < 0 {
		return r.now.surprised
	}
	for i := range r.blind {
		r.alone[i] = r.blind[i].depthMAC()
	}
	slices.Sort(r.alone)
	n := len(r.alone)
	switch {
	case middleMAC < r.alone[int(apart*float64(n))]:
		return SignsLighter
	case middleMAC > r.alone[n-1-int(apart*float64(n))]:
		return SignsDeeper
	}
	return ""
}

// withdrawn gives why there is no estimate now.
func (r *Run) withdrawn() []Reason {
	if len(r.applies) > 0 {
		return slices.Clone(r.applies)
	}
	now, d := &r.now, r.now.drugs
	var why []Reason
	for _, x := range []struct {
		is  bool
		why Reason
	}{{d.Relaxant, Relaxant}, {d.Ketamine, Ketamine}, {d.Intravenous, Mixed}} {
		if x.is {
			why = append(why, x.why)
		}
	}
	why = append(why, dangers(&now.seen)...)
	if now.support == term.SupportObstructed || now.support == term.SupportApnoea {
		why = append(why, NoBreath)
	}
	if v := now.vitals.SpO2Percent; v > 0 && v < r.limits.SpO2Percent {
		why = append(why, LowSaturation)
	}
	if v := now.vitals.SystolicMmHg; v > 0 && v < r.limits.SystolicMmHg {
		why = append(why, LowPressure)
	}
	at := float64(now.step) * stepMin
	switch {
	case now.looked < 0:
		why = append(why, NoSigns)
	case at-now.looked > freshMin+1e-9:
		why = append(why, OldSigns)
	}
	switch {
	case now.measured < 0:
		why = append(why, NoVitals)
	case at-now.measured > freshMin+1e-9:
		why = append(why, OldVitals)
	}
	return why
}

// Lead is when something is likely, as a window in minutes from now and under
// conditions. It is never an order. FromMin and ToMin are whole minutes, of
// which one body in ten is sooner and one in ten later.
type Lead struct {
	Kind       LeadKind
	Step       Step // of LeadReady
	FromMin    float64
	ToMin      float64
	Open       bool // one in ten and more is not there within LongestLead: ToMin is that
	Never      bool // fewer than one in ten gets there within it: there is no window
	Already    bool // half and more are there
	Conditions []Condition
	Cautions   []agent.Caution
}

// LongestLeadMin is how far ahead is looked.
const LongestLeadMin = 90.0

// target gives the depth that a step wants. The stages are the published ones;
// which stage a step wants is written beside it.
func (r *Run) target(s Step) (float64, bool) {
	if !r.ladder.ether {
		return 1.3, s == StepSkin || s == StepClosing // MAC that holds nineteen in twenty still at the knife (from memory)
	}
	switch s {
	case StepAirway:
		return (r.ladder.bounds[1] + r.ladder.bounds[2]) / 2, true // within III-1, once the jaw eases (practice)
	case StepSkin:
		return r.ladder.bounds[2], true // III-2: no change to the knife (read)
	case StepClosing:
		return r.ladder.bounds[3], true // III-3: wanted where no relaxant is given (from memory)
	}
	return 0, false
}

// Ready gives when the patient is likely ready for a step, if from now on this
// is given. It reports false where there is no estimate, or no target for the
// step. The error is that of a supply that cannot be.
func (r *Run) Ready(s Step, given Supply) (Lead, bool, error) {
	if err := given.check(); err != nil {
		return Lead{}, false, err
	}
	if len(r.withdrawn()) > 0 {
		return Lead{}, false, nil
	}
	depth, ok := r.target(s)
	if !ok {
		return Lead{}, false, nil
	}
	lead := r.until(given, func(b *body) bool { return b.depthMAC() >= depth })
	lead.Kind, lead.Step = LeadReady, s
	lead.Conditions = []Condition{IfSetting, IfBreathing, IfSigns, IfFresh}
	lead.Cautions = []agent.Caution{agent.Estimate, NothingToMove}
	return lead, true, nil
}

// TooDeep gives when the patient may be too deep, if from now on this is given:
// III-4 of ether, the level deep of another agent. What counts of the window is
// its beginning. The rest is as with Ready.
func (r *Run) TooDeep(given Supply) (Lead, bool, error) {
	if err := given.check(); err != nil {
		return Lead{}, false, err
	}
	if len(r.withdrawn()) > 0 {
		return Lead{}, false, nil
	}
	bound := r.ladder.bounds[len(r.ladder.bounds)-1]
	if r.ladder.ether {
		bound = r.ladder.bounds[4]
	}
	lead := r.until(given, func(b *body) bool { return b.depthMAC() >= bound })
	lead.Kind = LeadTooDeep
	lead.Conditions = []Condition{IfSetting, IfBreathing, IfFresh}
	lead.Cautions = []agent.Caution{agent.Estimate, NotAMonitor}
	return lead, true, nil
}

// Waking gives when the patient may wake, if nothing is given any more. It is
// the earliest: the model has people awake too soon after long anaesthetics.
func (r *Run) Waking() (Lead, bool) {
	if len(r.withdrawn()) > 0 {
		return Lead{}, false
	}
	awake := r.kind.awake
	lead := r.until(Off, func(b *body) bool { return b.depthMAC() <= awake*math.Exp(awakeSD*b.z[zAwake]) })
	lead.Kind = LeadWaking
	lead.Conditions = []Condition{IfStopped, IfBreathing, IfFresh}
	lead.Cautions = []agent.Caution{agent.Estimate, Earliest}
	return lead, true
}

// until runs some of the bodies ahead.
func (r *Run) until(given Supply, there func(*body) bool) Lead {
	ahead := r.ahead
	r.pick(ahead, 0.5)
	now := r.now
	now.supply = given
	premed := premedPart(now.drugs)
	steps := int(LongestLeadMin / aheadMin)
	left := 0
	for i := range ahead {
		b := &ahead[i]
		r.kind.derive(b, aheadMin, premed)
		r.kind.settle(b, &now)
		r.minutes[i] = math.Inf(1)
		if there(b) {
			r.minutes[i] = 0
			continue
		}
		left++
	}
	for s := 1; s <= steps && left > 0; s++ {
		for i := range ahead {
			b := &ahead[i]
			if !math.IsInf(r.minutes[i], 1) {
				continue
			}
			b.shut = false // the condition is that it breathes
			r.kind.breathe(b, &now, aheadMin)
			if there(b) {
				r.minutes[i] = float64(s) * aheadMin
				left--
			}
		}
	}
	slices.Sort(r.minutes)
	at := func(part float64) float64 { return r.minutes[int(part*float64(len(r.minutes)))] }
	lead := Lead{FromMin: math.Floor(at(0.1)), ToMin: math.Ceil(at(0.9)), Already: at(0.5) == 0}
	if math.IsInf(lead.FromMin, 1) {
		return Lead{Never: true}
	}
	if math.IsInf(lead.ToMin, 1) {
		lead.Open, lead.ToMin = true, LongestLeadMin
	}
	return lead
}
