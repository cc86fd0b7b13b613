package depth

import (
	"math"
	"slices"

	"chinlift/core/term"
)

// How signs are weighed. House choices; the misreads are what the simulated
// patients were asked about too, and were not fitted to them.
const (
	misread  = 0.15 // a code may be any other
	jointly  = 0.5  // signs of one look are not independent: n count as n^0.5
	againMin = 4.0  // the same code again tells little before so long
	gridMAC  = 0.02
	gridSize = 201 // to 4 MAC

	// A shut airway shows in the breathing, most of the time.
	shutHidden = 0.3

	// Beyond this the signs surprise the model: the logarithm of how much likelier
	// the best depth is than what the model had, over a look or two.
	surprising = 3.0
	fades      = 0.5

	planeAtMost = 0.95 // a sign alone moves the range by less than one

	kernel    = 0.12 // how far a body that is copied differs from its original
	stirred   = 0.02 // its tensions: standard deviation of the logarithm
	rescued   = 5    // one in so many goes where the signs are, once they surprise
	rescueMAC = 3.0
)

// tables works out how likely each code is at each depth.
func (r *Run) tables() {
	share := make([]float64, len(r.ladder.stages))
	for i, sign := range rowSigns {
		w, ok := r.ladder.rows[sign]
		if !ok {
			continue
		}
		r.logs[i] = make([][]float64, len(w.codes))
		for c := range w.codes {
			r.logs[i][c] = make([]float64, gridSize)
		}
		for g := range gridSize {
			r.ladder.belongs(float64(g)*gridMAC, share)
			for c := range w.codes {
				p := 0.0
				for s := range share {
					all := 0.0
					for other := range w.codes {
						all += w.usual[other][s]
					}
					p += share[s] * w.usual[c][s] / all
				}
				r.logs[i][c][g] = math.Log((1-misread)*p + misread/float64(len(w.codes)))
			}
		}
	}
}

// said is one sign of a look that counts.
type said struct {
	sign, code int
	power      float64
}

// look weighs the bodies by a look.
func (r *Run) look(k *Look, atMin float64) {
	now := &r.now
	now.seen.see(k)
	if k.Breathing != "" {
		now.open, now.openTill = 1, 0
		if x, ok := lets[k.Breathing]; ok {
			now.open = x
		}
		if k.Breathing == term.BreathingHeld {
			now.openTill = now.step + int(heldMin*perMinute)
		}
	}
	var heard [signCount]said
	n := r.hear(k, atMin, &heard)
	if n == 0 {
		return
	}
	r.weigh(heard[:n], k)
	r.resample(heard[:n])
}

// hear gives the signs of a look that count, and how much each.
func (r *Run) hear(k *Look, atMin float64, heard *[signCount]said) (n int) {
	now := &r.now
	for i, sign := range rowSigns {
		code := k.code(sign)
		if code == "" {
			continue
		}
		if _, ok := r.ladder.rows[sign]; !ok {
			continue
		}
		now.looked = atMin
		if len(silent(&r.ladder, sign, k, now.drugs, now.support)) > 0 {
			continue
		}
		c := r.ladder.rows[sign].index(code)
		power := 1.0
		if int(now.usedCode[i]) == c+1 {
			power = min(1, (atMin-now.usedAt[i])/againMin)
		}
		now.usedCode[i], now.usedAt[i] = int8(c+1), atMin
		heard[n] = said{i, c, power}
		n++
	}
	if n == 0 {
		return 0
	}
	joint := math.Pow(float64(n), -jointly)
	for i := range n {
		heard[i].power *= joint
	}
	return n
}

// seenAt is the place on the grid where a body shows a group of signs.
func (b *body) seenAt(g int) int {
	x := int(b.depthMAC()*(1-seenSD*b.z[zSeen+g])/gridMAC + 0.5)
	return min(max(x, 0), gridSize-1)
}

// weigh multiplies the weights by the likelihood of what was seen.
func (r *Run) weigh(heard []said, k *Look) {
	sounds := k.Breathing == term.BreathingQuiet || k.Breathing == term.BreathingEvenAutomatic ||
		k.Breathing == term.BreathingUneven || k.Breathing == term.BreathingRibsLate
	worst := math.Log(shutHidden)
	for i := range r.bodies {
		b := &r.bodies[i]
		r.depths[i] = b.depthMAC()
		score := 0.0
		for _, h := range heard {
			score += h.power * r.logs[h.sign][h.code][b.seenAt(group[h.sign])]
		}
		if sounds && b.shut {
			score += worst
		}
		r.score[i] = score
	}
	r.sortDepths()
	copy(r.before, r.weight)
	low, middle, high := r.quantile(0.1), r.quantile(0.5), r.quantile(0.9)

	// How surprised the model is, before it believes them.
	sum, all := 0.0, 0.0
	for i, w := range r.weight {
		w = math.Exp(w)
		all += w
		sum += w * math.Exp(r.score[i])
	}
	best, where := r.bySigns(heard)
	r.now.surprise = fades*r.now.surprise + max(0, best-math.Log(sum/all))
	r.now.surprised = ""
	if r.now.surprise > surprising && len(heard) > 1 || r.now.surprise > 1.5*surprising {
		r.now.surprised = SignsDeeper
		if where < middle {
			r.now.surprised = SignsLighter
		}
	}

	share := 1.0
	use := func(part float64) {
		top := math.Inf(-1)
		for i := range r.weight {
			r.weight[i] = r.before[i] + part*r.score[i]
			top = max(top, r.weight[i])
		}
		for i := range r.weight {
			r.weight[i] -= top
		}
	}
	use(share)
	if len(heard) > 1 {
		return
	}
	moved := func() float64 {
		far := 0.0
		for _, x := range [3][2]float64{{low, r.quantile(0.1)}, {middle, r.quantile(0.5)}, {high, r.quantile(0.9)}} {
			far = max(far, math.Abs(r.ladder.planes(x[1])-r.ladder.planes(x[0])))
		}
		return far
	}
	if moved() <= planeAtMost {
		return
	}
	least, most := 0.0, 1.0
	for range 12 {
		share = (least + most) / 2
		use(share)
		if moved() > planeAtMost {
			most = share
		} else {
			least = share
		}
	}
	use(least)
}

// bySigns gives the greatest likelihood of what was seen at any depth, and the
// middle of the depths by signs alone.
func (r *Run) bySigns(heard []said) (best, middle float64) {
	best = math.Inf(-1)
	at := func(g int) float64 {
		sum := 0.0
		for _, h := range heard {
			sum += h.power * r.logs[h.sign][h.code][g]
		}
		return sum
	}
	total := 0.0
	for g := range int(rescueMAC / gridMAC) {
		x := at(g)
		best = max(best, x)
		total += math.Exp(x)
	}
	sum := 0.0
	for g := range int(rescueMAC / gridMAC) {
		if sum += math.Exp(at(g)); sum >= total/2 {
			return best, float64(g) * gridMAC
		}
	}
	return best, rescueMAC
}

// sortDepths puts the bodies in the order of their depth.
func (r *Run) sortDepths() {
	for i := range r.order {
		r.order[i] = int32(i)
	}
	slices.SortFunc(r.order, func(a, b int32) int {
		switch x, y := r.depths[a], r.depths[b]; {
		case x < y:
			return -1
		case x > y:
			return 1
		}
		return int(a - b)
	})
}

// quantile gives the depth that a part of the weight lies under; sortDepths
// comes first.
func (r *Run) quantile(part float64) float64 {
	all := 0.0
	for _, w := range r.weight {
		all += math.Exp(w)
	}
	sum := 0.0
	for _, i := range r.order {
		if sum += math.Exp(r.weight[i]); sum >= part*all {
			return r.depths[i]
		}
	}
	return r.depths[r.order[len(r.order)-1]]
}

// resample copies bodies by their weight, where few carry most of it.
func (r *Run) resample(heard []said) {
	sum, squares := 0.0, 0.0
	for _, w := range r.weight {
		w = math.Exp(w)
		sum += w
		squares += w * w
	}
	n := len(r.bodies)
	if sum*sum/squares > float64(n)/2 && r.now.surprised == "" {
		return
	}
	// What is uncertain of the bodies as it is now, for the kernel.
	var mean, spread [latents]float64
	for i := range r.bodies {
		w := math.Exp(r.weight[i]) / sum
		for j, z := range r.bodies[i].z {
			mean[j] += w * z
			spread[j] += w * z * z
		}
	}
	for j := range spread {
		spread[j] = math.Sqrt(max(0, spread[j]-mean[j]*mean[j]))
	}
	var d dice
	d.start(r.seed, r.now.step, forResample+uint64(r.now.applied)<<32)
	r.pick(r.spare, d.uniform())
	r.bodies, r.spare = r.spare, r.bodies
	shrink := math.Sqrt(1 - kernel*kernel)
	premed := premedPart(r.now.drugs)
	for i := range r.bodies {
		b := &r.bodies[i]
		// A copy is drawn to the middle as far as it is thrown about, so that
		// the spread stays (J. Liu and M. West, Combined parameter and state
		// estimation in simulation-based filtering, 2001).
		for j := range b.z {
			b.z[j] = shrink*b.z[j] + (1-shrink)*mean[j] + kernel*spread[j]*d.bell()
		}
		r.kind.derive(b, stepMin, premed)
		r.kind.settle(b, &r.now)
		times := math.Exp(stirred * d.bell())
		if r.now.surprised != "" && i%rescued == 0 {
			if to, is := r.drawBySigns(heard, d.uniform()), b.depthMAC(); is > 0.05 {
				times = min(3, max(1./3, to/is))
			}
		}
		for p := range b.tensionMmHg {
			b.tensionMmHg[p] *= times
		}
		r.weight[i] = 0
	}
}

// drawBySigns draws a depth by what was seen alone.
func (r *Run) drawBySigns(heard []said, u float64) float64 {
	at := func(g int) float64 {
		sum := 0.0
		for _, h := range heard {
			sum += h.power * r.logs[h.sign][h.code][g]
		}
		return math.Exp(sum)
	}
	total := 0.0
	for g := range int(rescueMAC / gridMAC) {
		total += at(g)
	}
	for g := range int(rescueMAC / gridMAC) {
		if u -= at(g) / total; u < 0 {
			return (float64(g) + 0.5) * gridMAC
		}
	}
	return rescueMAC
}

// pick draws bodies by weight, evenly spaced.
func (r *Run) pick(to []body, u float64) {
	all := 0.0
	for _, w := range r.weight {
		all += math.Exp(w)
	}
	each := all / float64(len(to))
	next, sum, from := u*each, 0.0, -1
	for i := range to {
		for sum <= next && from < len(r.bodies)-1 {
			from++
			sum += math.Exp(r.weight[from])
		}
		to[i] = r.bodies[max(from, 0)]
		next += each
	}
}
