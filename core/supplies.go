package core

import (
	"cmp"
	"context"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"chinlift/core/agent"
	"chinlift/core/kit"
	"chinlift/core/quantity"
	"chinlift/core/term"
	"chinlift/core/timeline"
)

// House choices of planning.
const (
	// A range of needs is taken from the clinic's own cases once there are so
	// many, and from so many of the last.
	casesForNeeds, casesLookedAt = 3, 10
	// Without them an anaesthetic takes so long.
	shortCase, longCase = 30 * time.Minute, 2 * time.Hour
	// What is asked for over what the planned cases take at the most.
	planMargin = "25 %"
	// Without cases of its own a clinic plans so much oxygen, L/min.
	leastFlow, mostFlow = 1, 4
	// Of a drug that is planned, so many pieces.
	leastPieces, mostPieces = "1 1", "2 1"
	mostPiecesN             = 2
)

// Supplies is what there is and how long it lasts. All of it is an estimate.
type Supplies struct {
	Groups                []SupplyGroup
	Planned               int // cases that are planned
	Told                  int // of these, whose steps are expected at told times
	Order                 []SupplyOrder
	Expired               []SupplyDue
	Expiring              []SupplyDue // within a month
	Place                 Place
	Drops                 string // in a mL, as counted
	DropsSet              bool
	GivingSet, GivingSetN string // what the sets that infusions run through give: in words, and the number; empty: nobody said
}

// SupplyGroup is the things of one sort.
type SupplyGroup struct {
	What, Words string
	Items       []SupplyItem
}

// SupplyItem is one thing, with its lots.
type SupplyItem struct {
	What, Item, Words string
	OnHand            string
	Again             bool   // more went than was there: count again
	Cases             string // for how many cases it is enough, as a range
	Enough            string // for the planned cases
	Lasts             []string
	Lots              []SupplyLot
	Cautions          []string
	Sources           []string

	low, high float64
}

// SupplyLot is a cylinder, a bottle or a batch.
type SupplyLot struct {
	Words, OnHand, When, Expires, Off string
	Batch, Item, Entry                string
	Again                             bool
	Unknown                           string // of a bottle that nobody should trust yet: why
	Notes                             []string
	Fields                            timeline.Stock
}

// SupplyDue is a lot whose day is over, or near.
type SupplyDue struct{ Words, When string }

// SupplyOrder is what the planned cases lack.
type SupplyOrder struct {
	What, Words string
	Needs, Has  string // all planned cases together, and what is there for them; ranges
	Kept        string // what is kept back for who is on the table; empty: nothing
	Enough      string
	Until       string // day of the last case that is surely covered
	First       string // for how many cases, from the first, and for whom not; empty: for all
	Amount      string // to order, for the most that the cases may take with the margin
	Least       string // and if they take the least; empty: nothing, or the same
}

// Supplies gives the view.
func (c *Companion) Supplies(ctx context.Context) (Supplies, error) {
	v, err := c.stock(ctx)
	if err != nil {
		return Supplies{}, err
	}
	s, now := Speaker{c.words}, c.clock.Now()
	var all Supplies
	if all.Place, err = c.placeOf(ctx, v); err != nil {
		return all, err
	}
	if p, ok, err := c.setting(ctx, term.SettingDropsPerMl, now.Wall); err != nil {
		return all, err
	} else if ok {
		all.Drops, all.DropsSet = s.Amount(quantity.Amount{Value: p.Value.Value, Unit: quantity.DropsPerML}), true
	} else {
		a := kit.UncountedDrops()
		all.Drops = s.spanOf(a.Low, a.High)
	}
	if set := c.givingSet(ctx, now.Wall); !set.IsZero() {
		all.GivingSet = s.Say("supply.giving-set-now", "n", s.Number(set))
		all.GivingSetN = set.Value.String()
	}
	needs := v.needs(now.Wall)
	for _, what := range term.StockWhatList.Codes() {
		g := SupplyGroup{What: string(what), Words: upperFirst(Code(s, term.StockWhatList, what))}
		for _, item := range v.items(what) {
			g.Items = append(g.Items, v.item(s, what, item, needs, now))
		}
		if len(g.Items) > 0 {
			all.Groups = append(all.Groups, g)
		}
	}
	if all.Expired, all.Expiring, err = v.expiring(s, now.Wall); err != nil {
		return all, err
	}
	return all, c.planned(ctx, v, s, needs, now, &all)
}

// Supply gives one thing.
func (c *Companion) Supply(ctx context.Context, what, item string) (SupplyItem, error) {
	v, err := c.stock(ctx)
	if err != nil {
		return SupplyItem{}, err
	}
	w := term.StockWhat(what)
	if !term.StockWhatList.Has(w) {
		return SupplyItem{}, ErrNotHere
	}
	if err := (&timeline.Stock{What: w, Act: term.StockActGone, Item: item, Count: quantity.MustParse("0 1")}).Check(); err != nil {
		return SupplyItem{}, ErrNotHere
	}
	now := c.clock.Now()
	return v.item(Speaker{c.words}, w, item, v.needs(now.Wall), now), nil
}

// Count records a count, an arrival or a loss of a supply, by the fields of
// timeline.Stock. Days may come as they are printed on boxes: 2027-04, 04/2027,
// 0427 for a month; opened_day stands for opened where that is not there.
func (c *Companion) Count(ctx context.Context, id string, fields map[string][]string) (Done, error) {
	fields = maps.Clone(fields)
	one := func(name string) string {
		if v := fields[name]; len(v) > 0 {
			return strings.TrimSpace(v[0])
		}
		return ""
	}
	if one("opened") == "" {
		fields["opened"] = []string{one("opened_day")}
	}
	fields["expires"] = []string{printedDay(one("expires"))}
	return c.Submit(ctx, Form{ID: id, Case: aboutStock, Scope: timeline.ScopeClinic, Kind: "stock", Fields: fields})
}

// printedDay writes a month as it stands on boxes, 04/2027, 04/27, 0427, as
// 2027-04. What reads otherwise stays as it is, and is refused where it is no
// day.
func printedDay(text string) string {
	digits := strings.NewReplacer("/", "", ".", "", " ", "").Replace(text)
	if strings.Contains(text, "-") {
		return text
	}
	for _, layout := range []string{"0106", "012006"} {
		if t, err := time.Parse(layout, digits); err == nil {
			return t.Format("2006-01")
		}
	}
	return text
}

// CountDrops records how many drops of a dropper make a mL: so many drops
// filled a measure to so many mL.
func (c *Companion) CountDrops(ctx context.Context, id, drops, volume string) (Done, error) {
	read := func(field, text string, u quantity.Unit) (quantity.Amount, error) {
		a, err := quantity.ParseEntry(text, u)
		if err != nil {
			return a, &timeline.FieldError{Kind: "setting", Field: field, Code: "not-a-number"}
		}
		return a, nil
	}
	n, err := read("drops", drops, quantity.Drop)
	if err != nil {
		return Done{}, err
	}
	ml, err := read("volume", volume, quantity.ML)
	if err != nil {
		return Done{}, err
	}
	a, err := kit.DropsPerML(n, ml)
	if err != nil {
		return Done{}, err
	}
	return c.Record(ctx, Tap{ID: id, Scope: timeline.ScopeClinic, About: string(term.SettingDropsPerMl),
		Payload: &timeline.ClinicSetting{Setting: term.SettingDropsPerMl, Value: quantity.Amount{Value: a.Value.Value, Unit: quantity.One}}})
}

// items gives what there is of a sort: of oxygen in cylinders, one thing.
func (v *stockView) items(what term.StockWhat) (items []string) {
	for _, l := range v.lots {
		item := l.item
		if what == term.StockWhatCylinder {
			item = oxygen
		}
		if l.what == what && !l.gone {
			term.Add(&items, item)
		}
	}
	return items
}

// oxygen is the item of all cylinders together.
const oxygen = "oxygen"

func (s Speaker) supply(what term.StockWhat, item string) string {
	switch what {
	case term.StockWhatCylinder:
		if item == oxygen {
			return s.Say("supply.oxygen")
		}
		return s.Say("supply.size-" + item) //word:prefix supply.size-
	case term.StockWhatConcentrator:
		return Code(s, term.StockWhatList, what)
	case term.StockWhatAgent:
		return Code(s, term.AgentList, term.Agent(item))
	case term.StockWhatDrug:
		return s.Drug(item)
	}
	if d := term.Disposable(item); term.DisposableList.Has(d) {
		return Code(s, term.DisposableList, d)
	}
	return strings.ReplaceAll(item, "-", " ")
}

// stock writes an entry of the supplies in one line.
func (s Speaker) stock(p *timeline.Stock) string {
	return join(" · ", Code(s, term.StockActList, p.Act), join(" ", s.supply(p.What, p.Item), p.Batch), s.Amount(p.Water), s.Amount(p.Gauge), s.Amount(p.Rated),
		s.Amount(p.Percent), s.Amount(p.Volume), s.Amount(p.Count), s.Amount(p.Each), p.Expires, p.Opened,
		s.pair("filled_by", Code(s, term.FilledByList, p.FilledBy)), s.pair("smelt", s.yesNo(p.Smelt)))
}

// unitAmount writes so much in a unit, rounded as it is read.
func (s Speaker) unitAmount(x float64, u quantity.Unit) string {
	return s.Amount(quantity.MustParse(strconv.FormatFloat(math.Max(0, x), 'f', 0, 64) + " " + u.String()))
}

// stepOf is to what an estimate up to so much is rounded: no more than two
// figures and a half of it are written. Pieces are whole.
func stepOf(high float64, u quantity.Unit) float64 {
	step := 1.0
	if u == quantity.One {
		return step
	}
	for high/step > 100 {
		step *= 10
	}
	if step > 1 {
		step /= 2
	}
	return step
}

// about writes a range, rounded: what is there down, and at the high end up.
func (s Speaker) about(low, high float64, u quantity.Unit) string {
	step := stepOf(high, u)
	l, h := math.Floor(math.Max(0, low)/step+1e-9)*step, math.Ceil(math.Max(0, high)/step-1e-9)*step
	if l == h {
		return s.unitAmount(l, u)
	}
	return s.Say("supply.about", "low", s.unitAmount(l, quantity.One), "high", s.unitAmount(h, u))
}

func (v *stockView) item(s Speaker, what term.StockWhat, item string, needs map[string]need, now Reading) SupplyItem {
	i := SupplyItem{What: string(what), Item: item, Words: s.supply(what, item)}
	u := (&lot{what: what}).unit()
	var cautions []kit.Caution
	var sources []kit.Source
	beware := func(a kit.Answer) {
		term.Add(&cautions, a.Cautions...)
		term.Add(&sources, a.Sources...)
	}
	for _, l := range v.shelf(what, item) {
		n := SupplyLot{Words: join(" ", s.lotName(l), l.batch), Batch: l.batch, Item: l.item, Entry: l.entries[len(l.entries)-1], When: s.onDay(l.last, now), Again: l.again, Fields: l.is}
		switch {
		case what == term.StockWhatConcentrator:
			n.OnHand = join(", ", s.Amount(l.is.Rated), s.Amount(l.is.Percent))
			a, err := kit.Concentrator{Rated: l.is.Rated, Measured: l.is.Percent}.Percent(l.is.Rated)
			if err == nil {
				n.Notes = append(n.Notes, s.Say("supply.gives", "percent", s.spanAnswer(a)))
				beware(a)
			}
		case l.problem != nil:
			n.OnHand, n.Again = s.Say("supply.gauge-odd", "gauge", s.Amount(l.is.Gauge)), true
		default:
			low, high := l.there()
			i.low, i.high, i.Again = i.low+low, i.high+high, i.Again || l.again
			n.OnHand = s.about(l.low, l.high, u)
			if what == term.StockWhatCylinder {
				n.OnHand = s.Say("supply.at-gauge", "gauge", s.Amount(l.is.Gauge), "litres", n.OnHand)
				n.Notes = append(n.Notes, s.minutes(l.low, l.high, 1), s.crisis(l.low, l.high))
				beware(l.answer)
			}
			if !l.off.IsZero() && l.off.Value.Sign() != 0 {
				if d, err := l.off.Float64(u); err == nil && math.Abs(d) >= 1 {
					key := "supply.fewer"
					if d > 0 {
						key = "supply.more"
					}
					n.Off = s.Say(key, "amount", s.unitAmount(math.Abs(d), u)) //word:prefix supply.
				}
			}
		}
		if l.is.Expires != "" {
			n.Expires = s.Say("supply.expires", "day", l.is.Expires)
		}
		if l.is.FilledBy != "" {
			n.Notes = append(n.Notes, s.pair("filled_by", Code(s, term.FilledByList, l.is.FilledBy)))
		}
		switch {
		case l.is.Smelt == timeline.No:
			n.Unknown = s.Say("supply.smells-otherwise")
		case l.is.Smelt == timeline.Yes:
			n.Notes = append(n.Notes, s.Say("supply.smelt"))
		case l.is.FilledBy == term.FilledByAnother:
			n.Unknown = s.Say("supply.smell-first")
		}
		if what == term.StockWhatAgent {
			b := kit.Bottle{Agent: term.Agent(item), Received: l.first.Format(time.DateOnly), Opened: l.is.Opened, Expires: l.is.Expires}
			if a, err := b.Age(now.Wall.Format(time.DateOnly)); err == nil {
				key := "supply.closed"
				if l.is.Opened != "" {
					key = "supply.opened"
				}
				n.Notes = append(n.Notes, s.Say(key, "days", s.Amount(a.Value)))
				for _, k := range a.Cautions {
					if k != kit.PeroxidesExplode {
						n.Notes = append(n.Notes, s.kitCaution(k))
					}
				}
				beware(kit.Answer{Sources: a.Sources})
				if slices.Contains(a.Cautions, kit.PeroxidesExplode) {
					beware(kit.Answer{Cautions: []kit.Caution{kit.PeroxidesExplode}})
				}
			}
		}
		i.Lots = append(i.Lots, n)
	}
	if what == term.StockWhatConcentrator || len(i.Lots) == 0 {
		for _, k := range cautions {
			i.Cautions = append(i.Cautions, s.kitCaution(k))
		}
		return i
	}
	i.OnHand = s.about(i.low, i.high, u)
	if what == term.StockWhatCylinder {
		for _, flow := range []float64{1, 2, 5, 10} {
			i.Lasts = append(i.Lasts, s.minutes(i.low, i.high, flow))
		}
		i.Lasts = append(i.Lasts, s.crisis(i.low, i.high))
	}
	if n, ok := needs[string(what)+"/"+item]; ok && n.high > 0 && (what == term.StockWhatCylinder || what == term.StockWhatAgent) {
		low, high := int(math.Max(0, i.low)/n.high), 0
		if n.low > 0 {
			high = int(math.Max(0, i.high) / n.low)
		}
		how := s.Say("supply.by-house")
		if n.own {
			how = s.Count("supply.by-own", n.n)
		}
		switch {
		case high > low:
			i.Cases = s.Say("supply.cases", "low", low, "high", high, "how", how)
		default:
			i.Cases = s.Say("supply.cases-about", "n", low, "how", how)
		}
		if what == term.StockWhatAgent {
			beware(v.with.drops)
		}
	}
	if v.concen != nil && what == term.StockWhatCylinder {
		i.Lasts = append(i.Lasts, s.Say("supply.or-concentrator"))
	}
	for _, k := range cautions {
		i.Cautions = append(i.Cautions, s.kitCaution(k))
	}
	for _, x := range sources {
		i.Sources = append(i.Sources, s.source(x))
	}
	return i
}

func (s Speaker) spanAnswer(a kit.Answer) string {
	if a.Low.IsZero() {
		return s.Amount(a.Value)
	}
	return s.spanOf(a.Low, a.High)
}

// lotName says which of several a lot is, without its batch.
func (s Speaker) lotName(l *lot) string {
	switch l.what {
	case term.StockWhatCylinder:
		return join(" ", s.supply(l.what, l.item), s.Amount(l.is.Water))
	case term.StockWhatAgent:
		return s.Say("supply.bottle")
	case term.StockWhatConcentrator:
		return ""
	}
	if l.batch == "" {
		return s.Say("supply.no-batch")
	}
	return s.Say("supply.batch")
}

// minutes writes how long litres last at a flow in L/min.
func (s Speaker) minutes(low, high, flow float64) string {
	return s.Say("supply.lasts", "span", s.span2(low/flow, high/flow), "flow", s.unitAmount(flow, quantity.LPerMin))
}

// crisis writes how long litres last at the flow of a crisis, 15 to 10 L/min:
// that of package kit.
func (s Speaker) crisis(low, high float64) string {
	return s.Say("supply.crisis", "span", s.span2(low/15, high/10))
}

func (s Speaker) span2(low, high float64) string {
	at := func(x float64) string { return s.Span(time.Duration(math.Max(0, x)+1e-6) * time.Minute) }
	if l, h := at(low), at(high); l != h {
		return s.Say("supply.about", "low", l, "high", h)
	}
	return at(low)
}

// need is what a case takes of a thing, from low to high: by the clinic's own
// last cases, or by the house.
type need struct {
	low, high float64    // in a case whose length nobody told
	perMin    [2]float64 // in a minute, from low to high
	own       bool
	n         int
}

// over gives what is needed in a case of a length.
func (n need) over(low, high time.Duration) (least, most float64) {
	return n.perMin[0] * low.Minutes(), n.perMin[1] * high.Minutes()
}

// house is a need by the house: so much in a minute, over a case that takes so
// long.
func house(least, most float64) need {
	return need{low: least * shortCase.Minutes(), high: most * longCase.Minutes(), perMin: [2]float64{least, most}}
}

const oxygenNeed, agentNeed = string(term.StockWhatCylinder) + "/" + oxygen, string(term.StockWhatAgent) + "/"

// needs gives what a case takes of oxygen and of each agent on the shelf.
func (v *stockView) needs(now time.Time) map[string]need {
	all := map[string]need{}
	type one struct{ low, high, minutes float64 }
	seen := map[string][]one{}
	for i := range v.uses {
		sums := map[string]one{}
		for _, t := range v.uses[i].flows(v.with, now) {
			key := string(t.what) + "/" + cmpOr(t.item, oxygen)
			x := sums[key]
			sums[key] = one{x.low + t.low, x.high + t.high, x.minutes + t.span.Minutes()}
		}
		for key, x := range sums {
			if len(seen[key]) < casesLookedAt {
				seen[key] = append(seen[key], x)
			}
		}
	}
	for key, list := range seen {
		if len(list) < casesForNeeds {
			continue
		}
		n := need{low: math.Inf(1), perMin: [2]float64{math.Inf(1), 0}, own: true, n: len(list)}
		for _, x := range list {
			n.low, n.high = math.Min(n.low, x.low), math.Max(n.high, x.high)
			n.perMin = [2]float64{math.Min(n.perMin[0], x.low/x.minutes), math.Max(n.perMin[1], x.high/x.minutes)}
		}
		all[key] = n
	}
	if all[oxygenNeed].n == 0 {
		all[oxygenNeed] = house(leastFlow, mostFlow)
	}
	for _, item := range v.items(term.StockWhatAgent) {
		if all[agentNeed+item].n == 0 {
			if n, ok := v.agentNeed(&timeline.Facts{}, &timeline.Plan{Agent: term.Agent(item)}); ok {
				all[agentNeed+item] = n
			}
		}
	}
	return all
}

// agentNeed gives what a case takes of its agent by the house: ether that is
// dropped as wet gauze does (an adult's, see kit.WetUse), ether in a vaporiser
// as 3 to 10 % and any other agent as once to twice its MAC at 40 years, of
// what is breathed. The percentages are house choices.
func (v *stockView) agentNeed(f *timeline.Facts, p *timeline.Plan) (need, bool) {
	drawn := slices.Contains(p.Techniques, term.TechniqueDrawOverMask) || slices.Contains(p.Techniques, term.TechniqueDrawOverTube)
	if p.Agent == term.AgentEther && !drawn {
		a, err := kit.WetUse(term.WetnessWet)
		if err != nil {
			return need{}, false
		}
		low, high := floats(a, quantity.MLPerH)
		return house(low/60, high/60), true
	}
	of, err := agent.Of(p.Agent)
	if err != nil || of.Gas {
		return need{}, false
	}
	least, most := of.MAC40Percent.Value, 2*of.MAC40Percent.Value
	if p.Agent == term.AgentEther {
		least, most = 3, 10
	}
	var breath [2]float64
	breath[0], breath[1] = breathed(f)
	percent := func(x float64) quantity.Amount {
		return quantity.MustParse(strconv.FormatFloat(math.Min(40, x), 'f', 2, 64) + " %")
	}
	low, _ := v.with.hourly(Delivery{Agent: p.Agent, Percent: percent(least)}, breath)
	_, high := v.with.hourly(Delivery{Agent: p.Agent, Percent: percent(most)}, breath)
	return house(low/60, high/60), high > 0
}

// plannedLength gives how long an anaesthetic is likely to take by the steps
// that are expected: told is false where there are none. With a step of the
// end among them, three quarters of its time to half as long again and a
// quarter of an hour for waking; without one they only make the usual time
// longer (house choices: the times are rough).
func plannedLength(p *timeline.Plan) (low, high time.Duration, told bool) {
	var last time.Duration
	ends := false
	for _, t := range p.Expected() {
		m, err := t.After.Float64(quantity.Minute)
		if err != nil {
			continue
		}
		last = max(last, time.Duration(m*float64(time.Minute)))
		switch t.Step {
		case term.StepClosingDeep, term.StepClosingSkin, term.StepDressing, term.StepThroatPackOut:
			ends = true
		}
	}
	low, high = last*3/4, last*3/2+15*time.Minute
	if !ends {
		low, high = max(last, shortCase), max(high, longCase)
	}
	return low, high, last > 0
}

// lotsOf gives the shelf as package kit plans with it: by the low end, or by
// the high one.
func (v *stockView) lotsOf(high bool) (lots []kit.Lot) {
	for _, l := range v.lots {
		if l.gone || l.what == term.StockWhatConcentrator || !l.started {
			continue
		}
		item := string(l.what) + "/" + l.item
		if l.what == term.StockWhatCylinder {
			item = string(l.what) + "/" + oxygen
		}
		left, most := l.there()
		if high {
			left = most
		}
		n := quantity.MustParse(strconv.FormatFloat(math.Max(0, left), 'f', 3, 64) + " " + l.unit().String())
		lots = append(lots, kit.Lot{Item: item, Batch: l.batch, Expires: l.is.Expires, Count: n})
	}
	return lots
}

// monthAhead is how far ahead what runs out is told, in days.
const monthAhead = 31

func (v *stockView) expiring(s Speaker, now time.Time) (over, soon []SupplyDue, err error) {
	lots := v.lotsOf(true) // what may still be there must not be used
	o, n, err := kit.Expiring(lots, now.Format(time.DateOnly), monthAhead)
	if err != nil {
		return nil, nil, err
	}
	write := func(dues []kit.Due) (list []SupplyDue) {
		for _, d := range dues {
			what, item, _ := strings.Cut(d.Lot.Item, "/")
			when := s.Count("supply.days-left", d.Days)
			if d.Days < 0 {
				when = s.Say("supply.over", "day", d.Lot.Expires)
			}
			list = append(list, SupplyDue{join(" ", s.supply(term.StockWhat(what), item), d.Lot.Batch), when})
		}
		return list
	}
	return write(o), write(n), nil
}

// planned says for the cases that are planned whether there is enough.
func (c *Companion) planned(ctx context.Context, v *stockView, s Speaker, needs map[string]need, now Reading, all *Supplies) error {
	open, err := c.OpenCases(ctx)
	if err != nil {
		return err
	}
	today := now.Wall.Format(time.DateOnly)
	day := func(cs *Case) string { return max(today, cs.Plan.Start.Format(time.DateOnly)) }
	var list []*Case
	for _, cs := range open {
		if cs.Began.IsZero() && (len(cs.Plan.Techniques) > 0 || len(cs.Plan.Drugs) > 0 || cs.Plan.Agent != "") {
			list = append(list, cs)
		}
	}
	if all.Planned = len(list); len(list) == 0 {
		return nil
	}
	slices.SortStableFunc(list, func(a, b *Case) int {
		x, y := a.Plan.Start, b.Plan.Start
		switch {
		case day(a) != day(b):
			return cmp.Compare(day(a), day(b))
		case x.IsZero() || y.IsZero(): // nobody said when: after the others of that day
			return cmp.Compare(boolInt(x.IsZero()), boolInt(y.IsZero()))
		}
		return x.Compare(y.Time)
	})
	var cases []kit.Case
	for _, cs := range list {
		cases = append(cases, v.caseNeeds(cs, day(cs), needs))
		if _, _, told := plannedLength(&cs.Plan); told {
			all.Told++
		}
	}
	margin := quantity.MustParse(planMargin)
	// Who is on the table comes before the next.
	kept := map[string]need{}
	for _, cs := range open {
		for item, n := range v.stillNeeds(cs, needs, now.Wall) {
			k := kept[item]
			kept[item] = need{low: k.low + n.low, high: k.high + n.high}
		}
	}
	lots := v.lotsOf(false)
	plan, err := kit.Plan(keepBack(lots, kept, func(n need) float64 { return n.high }), cases, today, margin)
	if err != nil {
		return err
	}
	best, err := kit.Plan(keepBack(v.lotsOf(true), kept, func(n need) float64 { return n.low }), cases, today, margin)
	if err != nil {
		return err
	}
	for i, p := range plan {
		what, item, _ := strings.Cut(p.Item, "/")
		o := SupplyOrder{What: what, Words: s.supply(term.StockWhat(what), item), Until: p.Until}
		enough, known := p.Enough, slices.ContainsFunc(lots, func(l kit.Lot) bool { return l.Item == p.Item })
		if enough == kit.No && best[i].AtBest == len(cases) {
			enough = kit.Unsure
		}
		o.Enough = s.Say("supply.enough-" + string(enough)) //word:prefix supply.enough-
		number := func(a quantity.Amount) float64 {
			x, err := a.Float64(p.OnHand.Unit)
			if err != nil {
				return 0
			}
			return x
		}
		o.Needs = s.about(number(p.Low), number(p.High), p.OnHand.Unit)
		if !known {
			o.Enough = s.Say("supply.not-counted")
		} else {
			o.Has = s.about(number(p.OnHand), number(best[i].OnHand), p.OnHand.Unit)
			if k := kept[p.Item]; k.high > 0 {
				o.Kept = s.Say("supply.kept", "amount", s.about(k.low, k.high, p.OnHand.Unit))
			}
			if p.Cases < len(cases) {
				next := list[p.Cases]
				when := s.Clock(next.Plan.Start)
				if d := day(next); d != today || when == "" {
					when = join(" ", d, when)
				}
				o.First = s.Say("supply.first", "n", p.Cases, "of", len(cases), "best", max(p.AtBest, best[i].AtBest), "for", next.For(s), "at", when)
			}
		}
		if x := number(p.Order); x > 0 {
			step := stepOf(x, p.Order.Unit)
			x = math.Ceil(x/step-1e-9) * step
			o.Amount = s.unitAmount(x, p.Order.Unit)
			if least := math.Ceil(number(p.Low) - number(best[i].OnHand)); least > 0 && least < x {
				o.Least = s.unitAmount(least, p.Order.Unit)
			}
		}
		for g := range all.Groups {
			for i := range all.Groups[g].Items {
				if it := &all.Groups[g].Items[i]; it.What == what && it.Item == item {
					it.Enough = o.Enough
				}
			}
		}
		all.Order = append(all.Order, o)
	}
	return nil
}

// caseNeeds gives what a planned case is likely to take, by the steps that are
// expected where somebody told them.
func (v *stockView) caseNeeds(cs *Case, day string, needs map[string]need) kit.Case {
	k := kit.Case{Day: day}
	from, to, told := plannedLength(&cs.Plan)
	add := func(item string, n need, u quantity.Unit) {
		low, high := n.low, n.high
		if told {
			low, high = n.over(from, to)
		}
		at := func(x float64) quantity.Amount {
			return quantity.MustParse(strconv.FormatFloat(x, 'f', 1, 64) + " " + u.String())
		}
		k.Needs = append(k.Needs, kit.Need{Item: item, Low: at(low), High: at(high)})
	}
	add(oxygenNeed, needs[oxygenNeed], quantity.L)
	if n, ok := v.agentOf(&cs.Facts, &cs.Plan, needs); ok {
		add(agentNeed+string(cs.Plan.Agent), n, quantity.ML)
	}
	for i, d := range cs.Plan.Drugs {
		if !slices.Contains(cs.Plan.Drugs[:i], d) {
			k.Needs = append(k.Needs, kit.Need{Item: string(term.StockWhatDrug) + "/" + d, Low: quantity.MustParse(leastPieces), High: quantity.MustParse(mostPieces)})
		}
	}
	// Of things that are used once those are planned that the clinic counts.
	counted := v.items(term.StockWhatDisposable)
	for _, d := range disposablesFor {
		if !slices.Contains(counted, string(d.item)) || d.techniques != nil && !slices.ContainsFunc(cs.Plan.Techniques, func(t term.Technique) bool { return slices.Contains(d.techniques, t) }) {
			continue
		}
		piece := func(x float64) quantity.Amount {
			return quantity.Amount{Value: quantity.DecimalFromInt(int64(x)), Unit: quantity.One}
		}
		k.Needs = append(k.Needs, kit.Need{Item: string(term.StockWhatDisposable) + "/" + string(d.item), Low: piece(d.low), High: piece(d.high)})
	}
	return k
}

// agentOf gives what a case takes of its agent: by the clinic's own cases, or by
// the house.
func (v *stockView) agentOf(f *timeline.Facts, p *timeline.Plan, needs map[string]need) (need, bool) {
	if p.Agent == "" || p.Agent == term.AgentNitrousOxide {
		return need{}, false
	}
	if n, ok := needs[agentNeed+string(p.Agent)]; ok && n.own {
		return n, true
	}
	return v.agentNeed(f, p)
}

// leastLeft is how long an anaesthetic that lasts is still reckoned with at the
// most, when it lasts longer than was thought (house choice).
const leastLeft = 15 * time.Minute

// stillNeeds gives what a case that runs is likely to take from now on: of oxygen
// and its agent by the time that is left of it, and of the drugs of its plan
// those that were not given yet. Nothing of one in which nobody writes any more.
func (v *stockView) stillNeeds(cs *Case, needs map[string]need, now time.Time) map[string]need {
	if _, over := cs.Over(); over || cs.Began.IsZero() || len(cs.Entries) == 0 || ago(now, cs.Entries[len(cs.Entries)-1].Now().At.Time) > quietTakes {
		return nil
	}
	low, high, told := plannedLength(&cs.Plan)
	if !told {
		low, high = shortCase, longCase
	}
	since := ago(now, cs.Began.Time)
	low, high = max(0, low-since), max(leastLeft, high-since)
	all := map[string]need{}
	add := func(item string, n need) {
		least, most := n.over(low, high)
		all[item] = need{low: least, high: most}
	}
	add(oxygenNeed, needs[oxygenNeed])
	plan := cs.Plan
	if cs.Delivery.Agent != "" {
		plan.Agent = cs.Delivery.Agent
	}
	if n, ok := v.agentOf(&cs.Facts, &plan, needs); ok {
		add(agentNeed+string(plan.Agent), n)
	}
	given := cs.took()
	for _, d := range cs.Plan.Drugs {
		if !slices.ContainsFunc(given.drugs, func(g drugUse) bool { return g.drug == d }) && !slices.ContainsFunc(given.runs, func(r infusing) bool { return r.p.Drug == d }) {
			all[string(term.StockWhatDrug)+"/"+d] = need{low: 0, high: mostPiecesN}
		}
	}
	return all
}

// keepBack gives lots without what is kept back, taken from those that run out
// first.
func keepBack(lots []kit.Lot, kept map[string]need, of func(need) float64) []kit.Lot {
	lots = slices.Clone(lots)
	slices.SortStableFunc(lots, func(a, b kit.Lot) int {
		if (a.Expires == "") != (b.Expires == "") {
			return cmp.Compare(boolInt(a.Expires == ""), boolInt(b.Expires == ""))
		}
		return cmp.Compare(a.Expires, b.Expires)
	})
	for item, n := range kept {
		rest := of(n)
		for i := range lots {
			l := &lots[i]
			x, err := l.Count.Float64(l.Count.Unit)
			if l.Item != item || err != nil || rest <= 0 {
				continue
			}
			taken := math.Min(x, rest)
			rest -= taken
			l.Count = quantity.MustParse(strconv.FormatFloat(math.Max(0, x-taken), 'f', 3, 64) + " " + l.Count.Unit.String())
		}
	}
	return lots
}

// asleepTechniques are those in which somebody is asleep.
var asleepTechniques = []term.Technique{term.TechniqueOpenDrop, term.TechniqueDrawOverMask, term.TechniqueDrawOverTube, term.TechniqueKetamine, term.TechniqueSedation}

// disposablesFor gives what an anaesthetic takes of things that are used once,
// from low to high: of every one, and of techniques (house choices, no source: a
// clinic that counts them sees how far that is from its own).
var disposablesFor = []struct {
	techniques []term.Technique // none: every one
	item       term.Disposable
	low, high  float64
}{
	{nil, term.DisposableCannula, 1, 2}, {nil, term.DisposableGivingSet, 1, 1}, {nil, term.DisposableFluid, 1, 3},
	{nil, term.DisposableSyringe, 2, 6}, {nil, term.DisposableNeedle, 2, 6}, {nil, term.DisposableGloves, 1, 4},
	{asleepTechniques, term.DisposableCatheter, 0, 1}, {asleepTechniques, term.DisposableAirway, 0, 1},
	{[]term.Technique{term.TechniqueOpenDrop}, term.DisposableGauze, 1, 4},
	{[]term.Technique{term.TechniqueDrawOverTube}, term.DisposableTube, 1, 2},
	{[]term.Technique{term.TechniqueSpinal}, term.DisposableSpinalNeedle, 1, 2},
}

func boolInt(b bool) int {
	if b {
		return 1
	}
	return 0
}

// SupplyChoices gives the things of a sort that can be counted: sizes of
// cylinders, agents, drugs by the colour of their labels, disposables.
func (c *Companion) SupplyChoices(ctx context.Context, what string) ([]ChoiceGroup, error) {
	s := Speaker{c.words}
	var one ChoiceGroup
	switch w := term.StockWhat(what); w {
	case term.StockWhatCylinder:
		for _, k := range kit.Cylinders {
			one.Items = append(one.Items, Choice{k.Code, s.supply(w, k.Code)})
		}
		one.Items = append(one.Items, Choice{"other", s.supply(w, "other")})
	case term.StockWhatConcentrator:
		one.Items = []Choice{{string(w), Code(s, term.StockWhatList, w)}}
	case term.StockWhatAgent:
		for _, a := range term.AgentList.Codes() {
			if a != term.AgentNitrousOxide {
				one.Items = append(one.Items, Choice{string(a), Code(s, term.AgentList, a)})
			}
		}
	case term.StockWhatDisposable:
		for _, d := range term.DisposableList.Codes() {
			one.Items = append(one.Items, Choice{string(d), Code(s, term.DisposableList, d)})
		}
	case term.StockWhatDrug:
		f, err := c.Rules(ctx, c.clock.Now().Wall)
		if err != nil {
			return nil, err
		}
		var all []ChoiceGroup
		for _, class := range term.DrugClassList.Codes() {
			g := ChoiceGroup{Words: Code(s, term.DrugClassList, class)}
			for _, d := range f.Drugs() {
				if d.Class == class && class != term.DrugClassInhaled {
					g.Items = append(g.Items, Choice{d.Code, s.Drug(d.Code)})
				}
			}
			if len(g.Items) > 0 {
				all = append(all, g)
			}
		}
		return all, nil
	default:
		return nil, ErrNotHere
	}
	return []ChoiceGroup{one}, nil
}

// ChoiceGroup is choices under a heading.
type ChoiceGroup struct {
	Words string
	Items []Choice
}

// CountForm is the page on which one lot is counted.
type CountForm struct {
	What, Item, Words, Batch string
	New                      bool
	Now                      string   // what is reckoned to be there
	Field, Unit              string   // the number that is asked for; its unit, where there is one
	Units                    []string // or the units to choose from
	Adds                     bool     // what comes adds to what is there
	Water, Each, Opens       bool
	OpenedOn                 []Choice // days by which it may have been opened
	OpenedWas                string
	Filled                   string // who filled it, as it was said; and whether it was smelt
	WaterWas, EachIs         string
	Expires                  bool
	ExpiresWas               string
	Today, Example           string
}

// CountForm gives the page for a lot by one of its entries, or for a new one.
func (c *Companion) CountForm(ctx context.Context, what, item, entry string) (CountForm, error) {
	w, s, now := term.StockWhat(what), Speaker{c.words}, c.clock.Now()
	choices, err := c.SupplyChoices(ctx, what)
	if err != nil {
		return CountForm{}, err
	}
	f := CountForm{What: what, Item: item, Words: s.supply(w, item), New: entry == "new", Today: now.Wall.Format(time.DateOnly), Example: now.Wall.AddDate(1, 0, 0).Format("2006-01")}
	is := timeline.Stock{}
	v, err := c.stock(ctx)
	if err != nil {
		return f, err
	}
	if f.New {
		if !slices.ContainsFunc(choices, func(g ChoiceGroup) bool {
			return slices.ContainsFunc(g.Items, func(x Choice) bool { return x.Code == item })
		}) && !slices.ContainsFunc(v.lots, func(l *lot) bool { return l.what == w && l.item == item }) {
			return f, ErrNotHere
		}
	} else {
		i := slices.IndexFunc(v.lots, func(l *lot) bool { return slices.Contains(l.entries, entry) && l.what == w && l.item == item })
		if i < 0 {
			return f, ErrNotHere
		}
		l := v.lots[i]
		is, f.Batch = l.is, l.batch
		if l.started && l.problem == nil {
			f.Now = s.Say("supply.reckoned", "amount", s.about(l.low, l.high, l.unit()))
		}
	}
	if !is.Water.IsZero() {
		f.WaterWas = s.Number(is.Water)
	}
	f.ExpiresWas = is.Expires
	switch w {
	case term.StockWhatCylinder:
		f.Field, f.Units, f.Water = "gauge", []string{"bar", "kPa", "[psi]"}, item == "other"
	case term.StockWhatConcentrator:
		f.Field, f.Unit = "rated", "L/min"
	case term.StockWhatAgent:
		f.Field, f.Unit, f.Adds, f.Opens, f.Expires = "volume", "mL", true, true, true
		for _, days := range []int{0, 1, 2, 7, 30, 91, 183} {
			words := s.Count("supply.days-ago", days)
			if days == 0 {
				words = s.Say("supply.opened-today")
			}
			f.OpenedOn = append(f.OpenedOn, Choice{now.Wall.AddDate(0, 0, -days).Format(time.DateOnly), words})
		}
		f.OpenedWas = is.Opened
		f.Filled = join(" · ", Code(s, term.FilledByList, is.FilledBy), s.pair("smelt", s.yesNo(is.Smelt)))
	case term.StockWhatDrug:
		f.Field, f.Adds, f.Expires, f.Each = "count", true, true, true
		each := is.Each
		if each.IsZero() {
			rules, err := c.Rules(ctx, now.Wall)
			if err != nil {
				return f, err
			}
			each = holds(rules.Formulary, item)
		}
		f.EachIs = s.Amount(each)
	case term.StockWhatDisposable:
		f.Field, f.Adds, f.Expires = "count", true, true
	}
	return f, nil
}
