package core

import (
	"cmp"
	"context"
	"math"
	"slices"
	"strconv"
	"time"

	"github.com/google/uuid"

	"chinlift/core/formulary"
	"chinlift/core/kit"
	"chinlift/core/quantity"
	"chinlift/core/term"
	"chinlift/core/timeline"
)

// What is left on the shelf is nowhere stored. Counts are events; what cases
// took is worked out from them, as a range where nobody measured it; what is
// left follows. So two devices that each counted and each used come to the same
// shelf once they have each other's lines.

// aboutStock is what the entries of supplies are about: one row for all.
const aboutStock = "stock"

// House choices of the reckoning of what a case took.
const (
	// An open case in which nobody writes any more takes nothing after this.
	quietTakes = time.Hour
	// What flows is cut into pieces of this, so that a count in the midst of a
	// case divides what came before it from what comes after.
	piece = 5 * time.Minute
)

// breathed is the minute volume under an anaesthetic by which a dial's per
// cent becomes mL of liquid, L/min: a tenth of the weight in kg, a quarter to
// either side, or 4 to 10 where nobody gave the weight (house choice).
func breathed(f *timeline.Facts) (low, high float64) {
	if kg, err := f.Weight.Float64(quantity.Kg); err == nil && kg > 0 {
		v := math.Min(10, math.Max(0.5, kg/10))
		return 0.75 * v, 1.25 * v
	}
	return 4, 10
}

// gasSpan is a time in which what was given to breathe did not change; a zero
// to is for one that runs.
type gasSpan struct {
	Delivery
	from, to time.Time
	breath   [2]float64 // minute volume from low to high, L/min
}

// caseUse is what one case took, in terms that do not change with the time or
// with a setting.
type caseUse struct {
	last         int64
	began, quiet time.Time
	gas          []gasSpan
	drugs        []drugUse
	runs         []infusing
	weight       quantity.Amount // by which a rate per kg becomes a dose
}

type drugUse struct {
	at          time.Time
	drug, batch string
	dose        quantity.Amount
}

func (c *Companion) forgetUses() {
	c.usesMu.Lock()
	defer c.usesMu.Unlock()
	c.uses = nil
}

// peek gives a folded case without keeping it: a look over many cases must not
// push those on the table out of what is kept.
func (c *Companion) peek(ctx context.Context, id string) (*Case, error) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if cs, ok := c.cached[id]; ok {
		return cs, nil
	}
	return c.read(ctx, id)
}

// caseLasts is longer than any case takes from its opening (house choice).
const caseLasts = 7 * 24 * time.Hour

// mintedAt gives when an id was made: a UUIDv7 begins with the milliseconds
// since 1970.
func mintedAt(id string) (time.Time, bool) {
	u, err := uuid.Parse(id)
	if err != nil || u.Version() != 7 {
		return time.Time{}, false
	}
	var ms int64
	for _, b := range u[:6] {
		ms = ms<<8 | int64(b)
	}
	return time.UnixMilli(ms), true
}

// caseUses gives what cases took, the one last written to first, of so many
// cases, without those that were opened so long before a time that they took
// nothing since. What a case took is kept until it is written to again; of those
// of which it is not known at most so many are read, and the rest is left out.
func (c *Companion) caseUses(ctx context.Context, most, reads int, since time.Time) (all []caseUse, ids []string, err error) {
	refs, err := c.store.Recent(ctx, most, 0)
	if err != nil {
		return nil, nil, err
	}
	for _, r := range refs {
		if at, ok := mintedAt(r.ID); ok && at.Before(since.Add(-caseLasts)) {
			continue
		}
		c.usesMu.Lock()
		u, ok := c.uses[r.ID]
		c.usesMu.Unlock()
		if !ok || u.last != r.Last {
			if reads--; reads < 0 {
				continue
			}
			cs, err := c.peek(ctx, r.ID)
			if err != nil {
				return nil, nil, err
			}
			u = cs.took()
			u.last = r.Last
			c.usesMu.Lock()
			if c.uses == nil {
				c.uses = map[string]caseUse{}
			}
			c.uses[r.ID] = u
			c.usesMu.Unlock()
		}
		all, ids = append(all, u), append(ids, r.ID)
	}
	return all, ids, nil
}

// begunAmong is among how many cases, those last written to, the last that
// began is looked for.
const begunAmong = 12

// begun gives when the last cases began, but for one.
func (c *Companion) begun(ctx context.Context, but string) ([]time.Time, error) {
	uses, ids, err := c.caseUses(ctx, begunAmong, begunAmong, time.Time{})
	if err != nil {
		return nil, err
	}
	var all []time.Time
	for i, u := range uses {
		if ids[i] != but && !u.began.IsZero() {
			all = append(all, u.began)
		}
	}
	return all, nil
}

// took works out what a case took.
func (cs *Case) took() caseUse {
	u := caseUse{began: cs.Began.Time}
	var byWeight [2]float64
	byWeight[0], byWeight[1] = breathed(&cs.Facts)
	breath := byWeight
	var d Delivery
	var from time.Time
	over, ended := cs.Over()
	stop := func(at time.Time) {
		if ended && at.After(over.Time) {
			at = over.Time
		}
		if at.After(from) && (d.Agent != "" || !d.Oxygen.IsZero()) {
			u.gas = append(u.gas, gasSpan{d, from, at, breath})
		}
	}
	for _, e := range cs.Entries {
		if !e.In(cs.ID) {
			continue
		}
		v := e.Now()
		if v.At.After(u.quiet) {
			u.quiet = v.At.Time
		}
		switch p := v.Payload.(type) {
		case *timeline.AgentDelivery:
			stop(v.At.Time)
			d.apply(p, v.At)
			from = v.At.Time
		case *timeline.Support:
			// What a hand or machine gives in a minute, where that was said.
			now := byWeight
			if m, err := minuteOf(p).Float64(quantity.LPerMin); err == nil && m > 0 {
				now = [2]float64{m, m}
			}
			if now != breath {
				stop(v.At.Time)
				breath, from = now, v.At.Time
			}
		case *timeline.Drug:
			u.drugs = append(u.drugs, drugUse{v.At.Time, p.Drug, p.Batch, byStrength(p.Dose, p.Strength, quantity.Mg, quantity.IU, quantity.Mmol)})
		}
	}
	u.runs, u.weight = cs.infusions(time.Time{}, ""), cs.Facts.Weight
	for i := range u.runs {
		if r := &u.runs[i]; ended && (r.to.IsZero() || r.to.After(over.Time)) {
			r.to = over.Time
		}
	}
	switch {
	case d.Agent == "" && d.Oxygen.IsZero():
	case ended:
		stop(over.Time)
	default:
		u.gas = append(u.gas, gasSpan{d, from, time.Time{}, breath})
	}
	return u
}

// took is something that left the shelf: pieces, mL or L, from low to high.
type took struct {
	at        time.Time
	what      term.StockWhat
	item      string
	batch     string
	low, high float64
	span      time.Duration   // of a flow: in which it left
	dose      quantity.Amount // of a drug: how many pieces, the lot says
	most      quantity.Amount // of what ran in by drops: at the most; zero: the same
}

// settingsOfUse is what turns a delivery into mL.
type settingsOfUse struct {
	height quantity.Amount
	drops  kit.Answer
}

func (c *Companion) settingsOfUse(ctx context.Context, now time.Time) (s settingsOfUse, err error) {
	if s.height, _, err = c.height(ctx, now); err != nil {
		return s, err
	}
	s.drops = kit.UncountedDrops()
	p, ok, err := c.setting(ctx, term.SettingDropsPerMl, now)
	if err == nil && ok {
		s.drops = kit.Answer{Value: quantity.Amount{Value: p.Value.Value, Unit: quantity.DropsPerML}}
	}
	return s, err
}

// hourly gives the agent that a delivery takes, mL/h; nothing where that
// cannot be told.
func (s settingsOfUse) hourly(d Delivery, breath [2]float64) (low, high float64) {
	span := func(a kit.Answer, err error) (float64, float64) {
		if err != nil {
			return 0, 0
		}
		l, h := a.Low, a.High
		if l.IsZero() {
			l, h = a.Value, a.Value
		}
		lo, errLow := l.Float64(quantity.MLPerH)
		hi, errHigh := h.Float64(quantity.MLPerH)
		if errLow != nil || errHigh != nil {
			return 0, 0
		}
		return lo, hi
	}
	litres := func(x float64) quantity.Amount {
		return quantity.MustParse(strconv.FormatFloat(x, 'f', 3, 64) + " L/min")
	}
	switch {
	case d.Agent == "" || d.Agent == term.AgentNitrousOxide:
		return 0, 0
	case !d.Drops.IsZero():
		return span(kit.DropUse(d.Drops, s.drops))
	case !d.Percent.IsZero():
		low, _ = span(kit.LiquidUse(d.Agent, d.Percent, litres(breath[0]), s.height))
		_, high = span(kit.LiquidUse(d.Agent, d.Percent, litres(breath[1]), s.height))
		return low, high
	case d.Wetness != "":
		return span(kit.WetUse(d.Wetness))
	}
	return 0, 0
}

// flows gives what a case took of oxygen and agents, in pieces.
func (u *caseUse) flows(s settingsOfUse, now time.Time) (all []took) {
	for _, g := range u.gas {
		to := g.to
		if to.IsZero() {
			if to = u.quiet.Add(quietTakes); to.After(now) {
				to = now
			}
		}
		low, high := s.hourly(g.Delivery, g.breath)
		litres, err := g.Oxygen.Float64(quantity.LPerMin)
		if err != nil {
			litres = 0
		}
		for at := g.from; at.Before(to); at = at.Add(piece) {
			span := min(piece, to.Sub(at))
			end := at.Add(span)
			if high > 0 {
				all = append(all, took{at: end, what: term.StockWhatAgent, item: string(g.Agent), low: low * span.Hours(), high: high * span.Hours(), span: span})
			}
			if litres > 0 {
				all = append(all, took{at: end, what: term.StockWhatCylinder, low: litres * span.Minutes(), high: litres * span.Minutes(), span: span})
			}
		}
	}
	return all
}

// infused gives what the infusions of a case took, each as one thing drawn up
// when it was started. What ran in by drops is a range, by the set that it was
// hung with. One whose rate makes no amount, or that runs by a weight that
// nobody gave, took a piece, for it was there.
func (u *caseUse) infused(now time.Time, sets givingSets) (all []took) {
	place := map[string]int{}
	for i := range u.runs {
		r := &u.runs[i]
		to := r.to
		if to.IsZero() {
			if to = u.quiet.Add(quietTakes); to.After(now) {
				to = now
			}
		}
		span := max(0, to.Sub(r.from))
		least, most := r.dose(u.weight, sets.of(r.hung), span)
		if r.p.Rate.Unit == quantity.DropsPerMin && sets.of(r.hung).IsZero() {
			least, _ = r.dose(u.weight, smallDrops, span)
			_, most = r.dose(u.weight, largeDrops, span)
		}
		dose := byStrength(least, r.p.Strength, quantity.Mg, quantity.IU, quantity.Mmol)
		most = byStrength(most, r.p.Strength, quantity.Mg, quantity.IU, quantity.Mmol)
		n, ok := place[r.run]
		if !ok {
			place[r.run] = len(all)
			all = append(all, took{at: r.from, what: term.StockWhatDrug, item: r.p.Drug, dose: dose, most: most})
			continue
		}
		if sum, err := all[n].dose.Add(dose); err == nil {
			all[n].dose = sum
		}
		if sum, err := all[n].most.Add(most); err == nil {
			all[n].most = sum
		}
	}
	return all
}

// smallDrops and largeDrops are what a set may give that nobody knows: those of
// the packets reach from 60 drops in a mL to 10 (from memory).
var smallDrops, largeDrops = quantity.MustParse("60 {drop}/mL"), quantity.MustParse("10 {drop}/mL")

// lot is a cylinder, a bottle or a batch, with what is reckoned to be left:
// L, mL or pieces.
type lot struct {
	what        term.StockWhat
	item, batch string
	is          timeline.Stock // each field as it was said last
	first, last timeline.Moment
	entries     []string
	gone        bool
	problem     error // why a gauge makes no litres

	least, most []kit.Movement // if cases took the most, if they took the least
	low, high   float64        // what these leave
	started     bool           // it was counted or came
	again       bool
	off         quantity.Amount // what the last count found less than was reckoned, under 0; more, over
	answer      kit.Answer      // of a cylinder
}

// there gives how much of the lot counts as there, from low to high. A bottle
// that smells of something else is not what its label says until somebody
// smelt it again; one that somebody else filled and nobody smelt may be.
func (l *lot) there() (low, high float64) {
	switch {
	case l.is.Smelt == timeline.No:
		return 0, 0
	case l.is.Smelt == "" && l.is.FilledBy == term.FilledByAnother:
		return 0, l.high
	}
	return l.low, l.high
}

func (l *lot) unit() quantity.Unit {
	switch l.what {
	case term.StockWhatCylinder:
		return quantity.L
	case term.StockWhatAgent:
		return quantity.ML
	}
	return quantity.One
}

func (l *lot) move(what kit.What, low, high float64) {
	amount := func(x float64) quantity.Amount {
		return quantity.MustParse(strconv.FormatFloat(math.Max(0, x), 'f', 3, 64) + " " + l.unit().String())
	}
	switch what {
	case kit.Counted:
		l.low, l.high = low, high
	case kit.Received:
		l.low, l.high = l.low+low, l.high+high
	default:
		l.low, l.high = l.low-high, l.high-low
		low, high = high, low
	}
	l.least, l.most = append(l.least, kit.Movement{What: what, Amount: amount(low)}), append(l.most, kit.Movement{What: what, Amount: amount(high)})
	l.started = true
}

// stockView is the shelf.
type stockView struct {
	lots   []*lot
	uses   []caseUse
	with   settingsOfUse
	concen *lot // a concentrator that works
}

// stock works the shelf out.
func (c *Companion) stock(ctx context.Context) (*stockView, error) {
	return c.stockOf(ctx, "", math.MaxInt32)
}

// stockOf works the shelf out of one sort of thing, or of all where it is empty,
// with what cases took, of which it reads at most so many.
func (c *Companion) stockOf(ctx context.Context, only term.StockWhat, reads int) (*stockView, error) {
	now := c.clock.Now()
	entries, err := c.settingEntries(ctx, aboutStock)
	if err != nil {
		return nil, err
	}
	v := &stockView{}
	find := func(p *timeline.Stock) *lot {
		for _, l := range v.lots {
			if l.what == p.What && l.item == p.Item && l.batch == p.Batch {
				return l
			}
		}
		l := &lot{what: p.What, item: p.Item, batch: p.Batch}
		v.lots = append(v.lots, l)
		return l
	}
	type event struct {
		at  timeline.Moment
		lot *lot
		p   *timeline.Stock
	}
	var events []event
	counted := map[*lot]time.Time{}
	for e, p := range timeline.Each[*timeline.Stock](entries, aboutStock) {
		at := e.Now().At
		if at.After(now.Wall.Add(ahead)) || only != "" && p.What != only {
			continue
		}
		l := find(p)
		l.say(p)
		l.entries = append(l.entries, e.ID)
		if l.first.IsZero() {
			l.first = at
		}
		l.last, l.gone = at, p.Act == term.StockActGone && p.Count.IsZero() && p.Volume.IsZero()
		if p.Act == term.StockActCounted || p.What == term.StockWhatCylinder {
			counted[l] = at.Time
		}
		events = append(events, event{at, l, p})
	}
	for _, l := range v.lots {
		if l.what == term.StockWhatConcentrator && !l.gone {
			v.concen = l
		}
	}
	if len(v.lots) == 0 {
		return v, nil
	}
	// What was before the last count of everything has no say any more.
	from := now.Wall
	for _, l := range v.lots {
		at, ok := counted[l]
		if !ok {
			at = l.first.Time
		}
		if at.Before(from) && !l.gone && l.what != term.StockWhatConcentrator {
			from = at
		}
	}
	if v.with, err = c.settingsOfUse(ctx, now.Wall); err != nil {
		return nil, err
	}
	if v.uses, _, err = c.caseUses(ctx, math.MaxInt32, reads, from); err != nil {
		return nil, err
	}
	f, err := c.Rules(ctx, now.Wall)
	if err != nil {
		return nil, err
	}
	var uses []took
	sets := c.givingSets(ctx, now.Wall)
	for i := range v.uses {
		if only != term.StockWhatDrug {
			uses = append(uses, v.uses[i].flows(v.with, now.Wall)...)
		}
		uses = append(uses, v.uses[i].infused(now.Wall, sets)...)
		for _, d := range v.uses[i].drugs {
			uses = append(uses, took{at: d.at, what: term.StockWhatDrug, item: d.drug, batch: d.batch, dose: d.dose})
		}
	}
	if v.concen != nil {
		for i := range uses {
			if uses[i].what == term.StockWhatCylinder {
				uses[i].low = 0 // it may have come from the concentrator
			}
		}
	}
	slices.SortStableFunc(uses, func(a, b took) int { return a.at.Compare(b.at) })
	n := 0
	take := func(before time.Time) {
		for ; n < len(uses) && !uses[n].at.After(before); n++ {
			v.take(f.Formulary, &uses[n])
		}
	}
	for _, e := range events {
		take(e.at.Time)
		e.lot.event(e.p)
	}
	take(now.Wall.Add(piece))
	for _, l := range v.lots {
		if !l.started || l.what == term.StockWhatConcentrator {
			continue
		}
		if err := l.settle(); err != nil {
			return nil, err
		}
	}
	return v, nil
}

// say takes over what was said of a lot.
func (l *lot) say(p *timeline.Stock) {
	keep := func(to *quantity.Amount, a quantity.Amount) {
		if !a.IsZero() {
			*to = a
		}
	}
	keep(&l.is.Water, p.Water)
	keep(&l.is.Gauge, p.Gauge)
	keep(&l.is.Rated, p.Rated)
	keep(&l.is.Percent, p.Percent)
	keep(&l.is.Each, p.Each)
	l.is.Expires, l.is.Opened = cmpOr(p.Expires, l.is.Expires), cmpOr(p.Opened, l.is.Opened)
	if p.FilledBy != "" { // filled anew: what was smelt then was something else
		l.is.FilledBy, l.is.Smelt = p.FilledBy, ""
	}
	l.is.Smelt = cmpOr(p.Smelt, l.is.Smelt)
}

// event brings a count, an arrival or a loss into the reckoning.
func (l *lot) event(p *timeline.Stock) {
	what := map[term.StockAct]kit.What{term.StockActCounted: kit.Counted, term.StockActReceived: kit.Received, term.StockActGone: kit.Gone}[p.Act]
	switch p.What {
	case term.StockWhatCylinder:
		if p.Act == term.StockActGone {
			l.move(kit.Counted, 0, 0)
			return
		}
		of, err := kit.CylinderOf(p.Item)
		if p.Item == "other" {
			of, err = kit.CylinderOfWater(p.Water)
		}
		if err == nil {
			l.answer, err = kit.Oxygen(kit.Reserve, kit.Reading{Cylinder: of, Gauge: p.Gauge})
		}
		if l.problem = err; err != nil {
			l.move(kit.Counted, 0, 0)
			return
		}
		low, high := floats(l.answer, quantity.L)
		l.move(kit.Counted, low, high) // what a gauge shows stands, also of a new one
	case term.StockWhatAgent:
		if p.Act == term.StockActGone && p.Volume.IsZero() {
			l.move(kit.Counted, 0, 0)
			return
		}
		if x, err := p.Volume.Float64(quantity.ML); err == nil {
			l.move(what, x, x)
		}
	case term.StockWhatDrug, term.StockWhatDisposable:
		if x, err := p.Count.Float64(quantity.One); err == nil {
			l.move(what, x, x)
		}
	}
}

func floats(a kit.Answer, u quantity.Unit) (low, high float64) {
	l, h := a.Low, a.High
	if l.IsZero() {
		l, h = a.Value, a.Value
	}
	low, _ = l.Float64(u)
	high, _ = h.Float64(u)
	return low, high
}

// take takes what a case used from the lot that it most likely came from: the
// batch that was written down, else what runs out first of what is left, else
// what was counted last, which then comes under nought.
func (v *stockView) take(f *formulary.Formulary, t *took) {
	var from *lot
	better := func(a, b *lot) bool { // a rather than b
		switch {
		case (a.low > 0) != (b.low > 0):
			return a.low > 0
		case (a.high > 0) != (b.high > 0):
			return a.high > 0
		case (a.is.Opened != "") != (b.is.Opened != ""):
			return a.is.Opened != ""
		case a.what == term.StockWhatCylinder && a.high > 0:
			return a.high < b.high // the one that is not full is on the line
		case a.is.Expires != b.is.Expires:
			return b.is.Expires == "" || a.is.Expires != "" && a.is.Expires < b.is.Expires
		}
		return a.last.After(b.last.Time)
	}
	for _, l := range v.lots {
		if l.is.Smelt == timeline.No || l.what != t.what || !l.started || l.what != term.StockWhatCylinder && l.item != t.item || l.problem != nil || l.gone && l.high <= 0 {
			continue
		}
		if t.batch != "" && l.batch == t.batch {
			from = l
			break
		}
		if from == nil || better(l, from) {
			from = l
		}
	}
	if from == nil {
		return
	}
	low, high := t.low, t.high
	if t.what == term.StockWhatDrug {
		low, high = from.pieces(f, t.dose)
		if !t.most.IsZero() {
			_, high = from.pieces(f, t.most)
		}
	}
	from.move(kit.Used, low, high)
}

// pieces gives how many pieces a dose takes: at the least the part of them that
// was given, at the most whole ones, since what is left of one is thrown away.
// Where nobody knows what a piece holds it is one.
func (l *lot) pieces(f *formulary.Formulary, dose quantity.Amount) (low, high float64) {
	each := l.is.Each
	if each.IsZero() {
		each = holds(f, l.item)
	}
	if each.IsZero() {
		return 1, 1
	}
	x, err := dose.Float64(each.Unit)
	e, errEach := each.Float64(each.Unit)
	if err != nil || errEach != nil || e <= 0 {
		return 1, 1
	}
	return x / e, math.Ceil(x/e - 1e-9)
}

// holds gives what the first presentation of a drug holds; nothing where the
// formulary does not say.
func holds(f *formulary.Formulary, drug string) quantity.Amount {
	d := f.Find(drug)
	if d == nil {
		return quantity.Amount{}
	}
	for _, p := range d.Presentations {
		switch {
		case !p.Powder.IsZero():
			return p.Powder
		case !p.Piece.IsZero():
			return p.Piece
		case !p.Strength.IsZero() && !p.Volume.IsZero():
			for _, u := range []quantity.Unit{quantity.Mg, quantity.IU, quantity.Mmol} {
				if a, err := p.Strength.Mul(p.Volume, u); err == nil {
					return a
				}
			}
		}
	}
	return quantity.Amount{}
}

// settle adds the movements up.
func (l *lot) settle() error {
	least, err := kit.OnHand(l.least)
	if err != nil {
		return err
	}
	most, err := kit.OnHand(l.most)
	if err != nil {
		return err
	}
	l.again, l.off = least.CountAgain, least.Off
	l.low, err = least.OnHand.Float64(l.unit())
	if err != nil {
		return err
	}
	l.high, err = most.OnHand.Float64(l.unit())
	return err
}

// shelf gives the lots of a thing that are there, those that run out first in
// front.
func (v *stockView) shelf(what term.StockWhat, item string) (some []*lot) {
	for _, l := range v.lots {
		if l.what == what && (l.item == item || what == term.StockWhatCylinder) && !l.gone {
			some = append(some, l)
		}
	}
	slices.SortStableFunc(some, func(a, b *lot) int {
		if (a.is.Expires == "") != (b.is.Expires == "") {
			return cmp.Compare(b.is.Expires, a.is.Expires)
		}
		return cmp.Compare(a.is.Expires, b.is.Expires)
	})
	return some
}
