package core

import (
	"context"
	"maps"
	"slices"
	"strconv"
	"strings"
	"time"

	"chinlift/core/quantity"
	"chinlift/core/term"
	"chinlift/core/timeline"
	"chinlift/core/trouble"
	"chinlift/core/visit"
)

// The cards for emergencies as screens show them: what package trouble says,
// with the doses of the formulary for this patient, and with what was done.

// run is one answer to trouble: a card from its beginning to its end.
type run struct {
	card        string
	trouble     term.Trouble
	begun, over timeline.Moment // over is absent while it goes on
	helper      bool            // a helper records
	steps       []ran
}

// ran is a step that was done.
type ran struct {
	step, given string
	at          timeline.Moment
}

// runOn takes an event into the runs, which it does not write into. A step of
// what nobody began begins it.
func runOn(runs []run, p *timeline.Trouble, at timeline.Moment) []run {
	card := cmpOr(p.Card, string(p.Trouble))
	i := len(runs) - 1
	for ; i >= 0; i-- {
		if runs[i].card == card && runs[i].over.IsZero() {
			break
		}
	}
	if i < 0 {
		if p.Act == term.TroubleActOver {
			return runs
		}
		runs, i = append(runs, run{card: card, trouble: p.Trouble, begun: at}), len(runs)
	}
	runs = slices.Clone(runs)
	r := &runs[i]
	switch p.Act {
	case term.TroubleActStep:
		r.steps = append(slices.Clip(r.steps), ran{p.Step, p.Given, at})
	case term.TroubleActOver:
		r.over = at
	case term.TroubleActHelper, term.TroubleActProvider:
		r.helper = p.Act == term.TroubleActHelper
	}
	return runs
}

// running gives the run of a card that goes on, or nil.
func (cs *Case) running(card string) *run {
	for i := range slices.Backward(cs.runs) {
		if cs.runs[i].card == card && cs.runs[i].over.IsZero() {
			return &cs.runs[i]
		}
	}
	return nil
}

// done gives how long ago a step was done, each time. A step whose dose was
// struck out was not done.
func (cs *Case) done(r *run, step string, now time.Time) []time.Duration {
	var all []time.Duration
	for _, d := range r.steps {
		if d.step != step {
			continue
		}
		if d.given != "" {
			if e := cs.Story.Find(d.given); e != nil && !e.In(cs.ID) {
				continue
			}
		}
		all = append(all, ago(now, d.at.Time))
	}
	return all
}

// troubleDues gives what the cards that run say is due.
func (c *Companion) troubleDues(cs *Case, now Reading) []Due {
	s := Speaker{c.words}
	var all []Due
	for i := range cs.runs {
		r := &cs.runs[i]
		card := trouble.Find(r.card)
		if card == nil || !r.over.IsZero() {
			continue
		}
		for j := range card.Steps {
			step := &card.Steps[j]
			st := step.Stands(ago(now.Wall, r.begun.Time), cs.done(r, step.Code, now.Wall)...)
			if !st.Due {
				continue
			}
			d := s.dueIn(st.In, now)
			d.Key, d.Card, d.Step = "trouble", card.Code, step.Code
			d.What = s.Say("trouble.due", "card", card.Name.In(c.words.Tag()), "step", s.stepText(step, c.words.Tag(), true))
			all = append(all, d)
		}
	}
	slices.SortStableFunc(all, func(a, b Due) int { return int(a.At - b.At) })
	return all
}

// dueIn says when something is due, by the second where it is near.
func (s Speaker) dueIn(in time.Duration, now Reading) Due {
	d := Due{At: now.Wall.Add(in).UnixMilli(), Over: in <= 0}
	switch {
	case in >= time.Minute:
		d.Text = s.Say("due.in", "span", s.Span(in))
	case in > 0:
		d.Text = s.Say("trouble.in-seconds", "span", s.Amount(quantity.Amount{Value: quantity.DecimalFromInt(int64((in + time.Second - 1) / time.Second)), Unit: quantity.Second}))
	case in > -time.Minute:
		d.Text = s.Say("due.now")
	default:
		d.Text = s.Say("due.over", "span", s.Span(-in))
	}
	return d
}

// stepText gives what a step says, with its values; short, up to the first
// stop.
func (s Speaker) stepText(step *trouble.Step, tag string, short bool) string {
	return s.stepTextFor(nil, step, tag, short)
}

// stepTextFor is stepText for the patient of a case: what goes by the weight of
// a child is worked out beside it.
func (s Speaker) stepTextFor(cs *Case, step *trouble.Step, tag string, short bool) string {
	text := step.Text.In(tag)
	for name, a := range step.Values {
		text = strings.ReplaceAll(text, "{"+name+"}", s.perKg(cs, a))
	}
	if short {
		text, _, _ = strings.Cut(text, ". ")
		text, _, _ = strings.Cut(text, ": ")
		text = strings.TrimSuffix(text, ".")
	}
	return text
}

// perKgUnder is the age from which on what a card has for a child by weight is
// worked out no more: the doses of grown-ups begin there.
var perKgUnder = quantity.MustParse("12 a")

// perKg writes a value of a card; of one for each kilogram also what it comes to
// for a child whose weight is known, in whole mL or J and never more. Nil: for
// nobody.
func (s Speaker) perKg(cs *Case, a quantity.Amount) string {
	unit, ok := map[quantity.Unit]quantity.Unit{quantity.MLPerKg: quantity.ML, quantity.JoulePerKg: quantity.Joule}[a.Unit]
	if !ok || cs == nil || cs.Facts.Weight.IsZero() || cs.Facts.Age.IsZero() {
		return s.Amount(a)
	}
	if n, err := cs.Facts.Age.Cmp(perKgUnder); err != nil || n >= 0 {
		return s.Amount(a)
	}
	all, err := a.Mul(cs.Facts.Weight, unit)
	if err == nil {
		all, err = all.Down(quantity.Amount{Value: quantity.DecimalFromInt(1), Unit: unit})
	}
	if err != nil || all.Value.Sign() <= 0 {
		return s.Amount(a)
	}
	if doubt, _ := s.doubted(cs); doubt != nil {
		return s.Say("trouble.per-kg-doubt", "rule", s.Amount(a), "doubt", doubt.Short, "amount", s.Amount(all))
	}
	return s.Say("trouble.per-kg", "rule", s.Amount(a), "weight", s.Amount(cs.Facts.Weight), "amount", s.Amount(all))
}

// TroubleChoice is a card in the list.
type TroubleChoice struct {
	Card, Name, Look string
	Suits            bool   // made for this patient
	Running          string // since when, as a span; empty: it does not run
}

// TroubleGroup is a group of the list.
type TroubleGroup struct {
	Words string
	Cards []TroubleChoice
}

// OfferLine is one line that offers a card.
type OfferLine struct {
	Card, Name, Text, Source string
	At                       int64 // when it was seen, in milliseconds since 1970; 0: it does not sound
}

// TroubleList is the list of all cards.
type TroubleList struct {
	Head
	Running []TroubleChoice
	Groups  []TroubleGroup
	Undo    *Line
	Redo    *Line
}

// Troubles gives the list of all cards for a case: within a group those first
// that are made for this patient.
func (c *Companion) Troubles(ctx context.Context, id string) (TroubleList, error) {
	h, cs, err := c.HeadOf(ctx, id)
	if err != nil {
		return TroubleList{}, err
	}
	cards, err := trouble.Cards()
	if err != nil {
		return TroubleList{}, err
	}
	now, s, tag := c.clock.Now(), Speaker{c.words}, c.words.Tag()
	l := TroubleList{Head: h}
	l.Undo, l.Redo = c.undoNow(cs, now)
	for _, g := range trouble.Groups {
		group := TroubleGroup{Words: s.Say("trouble.group." + string(g))} //word:prefix trouble.group.
		for _, card := range cards {
			if card.Group != g {
				continue
			}
			k := TroubleChoice{Card: card.Code, Name: card.Name.In(tag), Look: card.Look.In(tag), Suits: card.Suits(cs.Facts.Age, cs.Facts.Pregnant == timeline.Yes)}
			if r := cs.running(card.Code); r != nil {
				k.Running = s.Span(ago(now.Wall, r.begun.Time))
				l.Running = append(l.Running, k)
			}
			group.Cards = append(group.Cards, k)
		}
		slices.SortStableFunc(group.Cards, func(a, b TroubleChoice) int {
			switch {
			case a.Suits == b.Suits:
				return 0
			case a.Suits:
				return -1
			}
			return 1
		})
		l.Groups = append(l.Groups, group)
	}
	return l, nil
}

// CardView is one card for one patient.
type CardView struct {
	Head
	Card, Name, Look, Caution string
	Unsuited                  bool   // made for others
	Better, BetterName        string // the card of the same trouble that is made for this patient; empty: none
	Apart                     bool   // for another patient than this case's, so that it has no doses
	Began                     string
	Seconds                   int // since it began; -1: it has not begun
	Span                      string
	Helper                    bool
	NoWeight                  bool // a dose goes by it, and nobody knows it
	Guesses                   []WeightGuess
	Steps                     []CardStep
	Left                      int // steps left out, because of what is there
	Sources                   []string
	Undo, Redo                *Line
}

// CardStep is one step of a card.
type CardStep struct {
	Case, For, Card, Code string
	Text                  string
	Helper                bool
	Count                 string // how often it was done, in words; empty: not yet
	Due                   *Due
	Keys                  []CardDose
	Notes                 []string // why a drug has no key
	To, ToName            string   // the card that goes on from here
}

// CardDose is a dose that one tap records with its step.
type CardDose struct {
	Name, Drug, Class, ClassWords, Route string
	Use                                  string // what for; only beside another key of the same drug and route
	Text, Sub                            string // the dose; the volume
	Set                                  []string
	Capped, HowTo, Waits, Unconfirmed    string
	Stops                                []string
	NotIf                                string // what would stop it and nobody asked for; once for all routes of a drug
}

// CardOf gives a card for a case. ErrNotHere where there is no such card.
func (c *Companion) CardOf(ctx context.Context, id, code string) (CardView, error) {
	h, cs, err := c.HeadOf(ctx, id)
	if err != nil {
		return CardView{}, err
	}
	card := trouble.Find(code)
	if card == nil {
		return CardView{}, ErrNotHere
	}
	now, s, tag := c.clock.Now(), Speaker{c.words}, c.words.Tag()
	f, err := c.Rules(ctx, now.Wall)
	if err != nil {
		return CardView{}, err
	}
	confirmed, err := c.confirmations(ctx)
	if err != nil {
		return CardView{}, err
	}
	things, err := c.things(ctx)
	if err != nil {
		return CardView{}, err
	}
	out, err := c.countedOut(ctx)
	if err != nil {
		return CardView{}, err
	}
	none, err := c.reckonedOut(ctx)
	if err != nil {
		return CardView{}, err
	}
	here := cs.here(things, out, f)
	v := CardView{Head: h, Card: code, Name: card.Name.In(tag), Look: card.Look.In(tag), Caution: card.Caution.In(tag), Seconds: -1,
		Unsuited: !card.Suits(cs.Facts.Age, cs.Facts.Pregnant == timeline.Yes)}
	v.Undo, v.Redo = c.undoNow(cs, now)
	v.Apart = card.Apart(cs.Facts.Age)
	if better := (&trouble.Step{To: string(card.Trouble)}).Onward(cs.Facts.Age, cs.Facts.Pregnant == timeline.Yes); v.Unsuited && better != nil && better.Code != code {
		v.Better, v.BetterName = better.Code, better.Name.In(tag)
	}
	r := cs.running(code)
	if r != nil {
		since := ago(now.Wall, r.begun.Time)
		v.Began, v.Seconds, v.Span, v.Helper = s.Clock(r.begun), int(since/time.Second), s.Span(since), r.helper
	} else {
		r = &run{}
	}
	steps := card.For(here)
	v.Left = len(card.Steps) - len(steps)
	for i := range steps {
		step := &steps[i]
		of := cs
		if v.Apart {
			of = nil
		}
		k := CardStep{Case: id, For: h.For, Card: code, Code: step.Code, Text: s.stepTextFor(of, step, tag, false), Helper: step.Helper}
		if to := step.Onward(cs.Facts.Age, cs.Facts.Pregnant == timeline.Yes); to != nil {
			k.To, k.ToName = to.Code, to.Name.In(tag)
		}
		done := cs.done(r, step.Code, now.Wall)
		st := step.Stands(ago(now.Wall, r.begun.Time), done...)
		if st.Count > 0 {
			last := s.Say("say.now")
			if st.Last >= time.Minute {
				last = s.Say("trouble.ago", "span", s.Span(st.Last))
			}
			k.Count = c.words.Count("trouble.done", st.Count, "ago", last)
			if st.Spent {
				k.Count = s.Say("trouble.spent", "n", st.Count, "ago", last)
			}
		}
		if st.Due && v.Seconds >= 0 {
			d := s.dueIn(st.In, now)
			k.Due = &d
		}
		c.cardDoses(ctx, cs, f, step, &k, &v, here, found{things, out, none}, confirmed, now)
		v.Steps = append(v.Steps, k)
	}
	if v.NoWeight {
		v.Guesses = c.WeightGuesses(cs)
	}
	v.Sources = s.cardSources(card, steps)
	return v, nil
}

// cardSources gives the sources of a card, each with the numbers of the steps
// that it stands behind, in the order in which these come; those of steps that
// are left out follow.
func (s Speaker) cardSources(card *trouble.Card, steps []trouble.Step) []string {
	behind := map[string][]string{}
	var names []string
	for i := range steps {
		name := steps[i].Source
		if behind[name] == nil {
			names = append(names, name)
		}
		behind[name] = append(behind[name], strconv.Itoa(i+1))
	}
	for _, name := range slices.Sorted(maps.Keys(card.Sources)) {
		if behind[name] == nil {
			names = append(names, name)
		}
	}
	var all []string
	for _, name := range names {
		text := s.source(card.Sources[name])
		if n := behind[name]; n != nil {
			text = s.Say("trouble.source", "steps", strings.Join(n, ", "), "source", text)
		}
		all = append(all, text)
	}
	return all
}

// found is what was found of things and drugs: things by the checks of today,
// drugs counted out, and drugs of which none is left by reckoning.
type found struct{ things, out, none map[string]bool }

// cardDoses puts the keys of a step's drugs: each route its own.
func (c *Companion) cardDoses(ctx context.Context, cs *Case, f *Rules, step *trouble.Step, k *CardStep, v *CardView, here trouble.Here, found found, confirmed map[ruleKey]Confirmation, now Reading) {
	s := Speaker{c.words}
	note := func(text string) {
		if text != "" && !slices.Contains(k.Notes, text) {
			k.Notes = append(k.Notes, text)
		}
	}
	if v.Apart && len(step.Drugs) > 0 {
		note(s.Say("trouble.apart"))
		return
	}
	var uncovered []string // no rule for this patient: told only where nothing else is left
	for _, d := range step.Drugs {
		drug := f.Find(d.Drug)
		if drug == nil || drug.Retired || drug.Use(d.Use) == nil {
			note(s.Say("trouble.not-here", "drug", s.Drug(d.Drug)))
			continue
		}
		if there, known := found.things[d.Kit]; d.Kit != "" && known && !there {
			// It may have been fetched meanwhile: the key stays, and says so.
			note(s.Say("trouble.not-checked", "drug", s.Drug(d.Drug)))
		}
		switch {
		case found.out[d.Drug]:
			note(s.Say("trouble.counted-out", "drug", s.Drug(d.Drug)))
		case found.none[d.Drug]:
			// No look into the box: the key and the step stay.
			note(s.Say("trouble.reckoned-out", "drug", s.Drug(d.Drug)))
		}
		for _, route := range d.Routes {
			dose := c.doseView(ctx, cs, f, drug, drug.Use(d.Use), route, confirmed, now)
			name := dose.Words + " · " + dose.RouteWords
			if dose.Problem != "" {
				if dose.Lacks == "weight" {
					v.NoWeight = true
					note(s.Say("trouble.needs-weight", "drug", dose.Words))
				} else {
					uncovered = append(uncovered, join(": ", name, dose.Problem))
				}
				continue
			}
			at := slices.IndexFunc(dose.Keys, func(k DoseKey) bool { return k.Suggested })
			if at < 0 {
				for _, x := range dose.Stops {
					note(join(": ", name, x.Text))
				}
				note(s.Say("trouble.none-left", "drug", name, "board", join(" · ", dose.Board...)))
				continue
			}
			key := dose.Keys[at]
			cd := CardDose{Name: step.Code + "-" + d.Drug + "-" + d.Use + "-" + string(route), Drug: dose.Words, Class: dose.Class, ClassWords: dose.ClassWords, Route: dose.RouteWords, Use: dose.UseWords,
				Text: join(" ", key.Doubt, key.Text), Sub: key.Sub, Set: append(slices.Clone(key.Set), "card", k.Card, "step", step.Code), HowTo: dose.HowTo}
			if dose.Full != "" && dose.Capped {
				cd.Capped = s.Say("trouble.capped", "full", dose.Full)
			}
			if dose.Waits {
				cd.Waits = dose.Next
			}
			if dose.Confirmed == "" {
				cd.Unconfirmed = s.Say("dose.unconfirmed-short")
			}
			for _, x := range dose.Stops {
				cd.Stops = append(cd.Stops, x.Text)
			}
			if len(dose.Unasked) > 0 {
				cd.NotIf = s.Say("trouble.not-if", "what", strings.Join(dose.Unasked, ", "))
			}
			if cd.Sub == key.Text {
				cd.Sub = "" // a dose that is a volume
			}
			k.Keys = append(k.Keys, cd)
		}
	}
	for i := range k.Keys {
		if !slices.ContainsFunc(k.Keys, func(o CardDose) bool {
			return o.Drug == k.Keys[i].Drug && o.Route == k.Keys[i].Route && o.Name != k.Keys[i].Name
		}) {
			k.Keys[i].Use = ""
		}
	}
	if len(k.Keys) == 0 {
		for _, x := range uncovered {
			note(x)
		}
	}
	// As long as nobody has used a vein, what needs none comes first.
	if !here[trouble.Vein] {
		slices.SortStableFunc(k.Keys, func(a, b CardDose) int { return byVein(a) - byVein(b) })
	}
	for i := range k.Keys {
		if slices.ContainsFunc(k.Keys[:i], func(o CardDose) bool { return o.Drug == k.Keys[i].Drug && o.NotIf == k.Keys[i].NotIf }) {
			k.Keys[i].NotIf = ""
		}
	}
}

func byVein(d CardDose) int {
	i := slices.Index(d.Set, "route")
	if i >= 0 && (d.Set[i+1] == string(term.RouteIv) || d.Set[i+1] == string(term.RouteIntraosseous)) {
		return 1
	}
	return 0
}

// things gives what the checks of today found, by the item's code: there, or
// not. What nobody looked at is not in it.
func (c *Companion) things(ctx context.Context) (map[string]bool, error) {
	lists, begun, err := c.listsNow(ctx, "")
	if err != nil {
		return nil, err
	}
	found := map[string]bool{}
	for _, l := range lists {
		k, _, err := c.kitState(ctx, l, begun)
		if err != nil {
			return nil, err
		}
		for _, it := range k.Items {
			if it.State == "" {
				continue
			}
			// Good in one list is good: the same thing stands in several.
			found[it.Code] = found[it.Code] || it.State == string(term.KitStateGood) || it.State == "again" || it.There
		}
	}
	return found, nil
}

// countedOut gives the drugs of which the last count of every batch found none,
// or whose batches are all gone. What cases took since is not reckoned: a card
// has to be there at once, and a reckoned nought is no look into the box.
func (c *Companion) countedOut(ctx context.Context) (map[string]bool, error) {
	entries, err := c.settingEntries(ctx, aboutStock)
	if err != nil {
		return nil, err
	}
	left := map[[2]string]bool{} // of a drug's batch
	for _, p := range timeline.Each[*timeline.Stock](entries, aboutStock) {
		if p.What != term.StockWhatDrug {
			continue
		}
		lot := [2]string{p.Item, p.Batch}
		switch {
		case p.Act == term.StockActCounted:
			left[lot] = p.Count.Value.Sign() > 0
		case p.Act == term.StockActReceived:
			left[lot] = true
		case p.Act == term.StockActGone && p.Count.IsZero():
			left[lot] = false
		}
	}
	out := map[string]bool{}
	for lot, some := range left {
		was, seen := out[lot[0]]
		out[lot[0]] = !some && (!seen || was)
	}
	return out, nil
}

// reckonedReads is how many cases a card reads at most for what they took of
// what was counted, besides those of which it is known: a card has to be there at
// once (house choice). The next look reads as many more, and the page of supplies
// reads all; until all since the last count are known, less is reckoned as taken
// than was, so that a card keeps silent and never says of something that is left
// that none is.
const reckonedReads = 100

// reckonedOut gives the drugs that were counted or came, and of which the cases
// since took all, by whole ampoules.
func (c *Companion) reckonedOut(ctx context.Context) (map[string]bool, error) {
	v, err := c.stockOf(ctx, term.StockWhatDrug, reckonedReads)
	if err != nil {
		return nil, err
	}
	left, none := map[string]float64{}, map[string]bool{}
	for _, l := range v.lots {
		if l.started {
			left[l.item] += max(0, l.low)
		}
	}
	for item, n := range left {
		none[item] = n <= 0
	}
	return none, nil
}

// here gives what is known of what the steps of a card hang on.
func (cs *Case) here(things, out map[string]bool, f *Rules) trouble.Here {
	h := trouble.Here{}
	// Any of the items that is there will do. That the first, the theatre's own,
	// is missing says that there is none; that a spare one is says nothing.
	either := func(fact trouble.Fact, items ...string) {
		for i, it := range items {
			if there, known := things[it]; known && (there || i == 0) {
				h[fact] = h[fact] || there
			}
		}
	}
	either(trouble.Bag, "self-inflating-bag", "bag-spare", "bag-there")
	either(trouble.Suction, "suction", "suction-there")
	either(trouble.Oxygen, "oxygen", "oxygen-there")
	if cs.latest.vein != nil {
		h[trouble.Vein] = true
	}
	dropped := !cs.Delivery.Drops.IsZero() || cs.Delivery.Wetness != ""
	if dropped || cs.Delivery.Agent != "" || len(cs.Plan.Techniques) > 0 {
		h[trouble.OpenDrop] = dropped || cs.Delivery.Percent.IsZero() && slices.Contains(cs.Plan.Techniques, term.TechniqueOpenDrop)
	}
	if passes := cs.airwayClear(); passes != nil {
		h[trouble.Tube] = *passes
	} else if cs.latest.airway != nil {
		h[trouble.Tube] = false
	}
	if !cs.Delivery.Since.IsZero() || len(cs.Plan.Techniques) > 0 && !slices.ContainsFunc(cs.Plan.Techniques, vapours) {
		h[trouble.Vapour] = cs.Delivery.Agent != ""
	}
	// Of whom nobody asks it, nobody needs a step for it: a boy has no womb.
	if cs.Facts.Pregnant != "" || !canBePregnant(&cs.Facts) {
		h[trouble.Pregnant] = cs.Facts.Pregnant == timeline.Yes
	}
	if cs.latest.spinal != nil || len(cs.Plan.Techniques) > 0 {
		h[trouble.Spinal] = cs.latest.spinal != nil || slices.Contains(cs.Plan.Techniques, term.TechniqueSpinal)
	}
	cards, err := trouble.Cards()
	if err != nil {
		return h
	}
	for _, card := range cards {
		for i := range card.Steps {
			for _, x := range slices.Concat(card.Steps[i].When, card.Steps[i].Unless) {
				if code, ok := strings.CutPrefix(string(x), "drug."); ok {
					d := f.Find(code)
					h[x] = d != nil && !d.Retired && !out[code]
				}
			}
		}
	}
	return h
}

func vapours(t term.Technique) bool {
	return t == term.TechniqueOpenDrop || t == term.TechniqueDrawOverMask || t == term.TechniqueDrawOverTube
}

// airwayClear says whether air is known to pass: through a tube, or a mask on
// the larynx. Nil: nobody knows.
func (cs *Case) airwayClear() *bool {
	var in *timeline.Entry
	for _, e := range slices.Backward(cs.Entries) {
		p, ok := e.Now().Payload.(*timeline.Airway)
		if !ok || !e.In(cs.ID) {
			continue
		}
		if p.Act == term.AirwayActOut {
			return nil
		}
		if p.Act == term.AirwayActIn {
			in = e
			break
		}
	}
	if in == nil {
		return nil
	}
	switch in.Now().Payload.(*timeline.Airway).Device {
	case term.AirwayDeviceTrachealTube, term.AirwayDeviceSupraglottic, term.AirwayDeviceTracheostomy:
		yes := true
		return &yes
	}
	return nil
}

// offers gives the cards that the last values and signs bring up. A card that
// runs, or that was left after the value was seen, is not offered.
func (c *Companion) offers(ctx context.Context, cs *Case, now Reading) ([]OfferLine, error) {
	if !cs.Unrecovered() {
		return nil, nil
	}
	l := &cs.latest
	limits, altitude, sound, err := c.offerSettings(ctx, now)
	if err != nil {
		return nil, err
	}
	minutes, err := limits.Fresh.Float64(quantity.Minute)
	if err != nil {
		return nil, err
	}
	offerFor := time.Duration(minutes * float64(time.Minute))
	fresh := func(e *timeline.Entry) bool { return e != nil && ago(now.Wall, e.Now().At.Time) <= offerFor }
	if !fresh(l.spo2) && !fresh(l.pressure) && !fresh(l.pulse) && !fresh(l.chest) {
		return nil, nil
	}
	seen := trouble.Seen{RestSpO2: cs.restSpO2, RestSystolic: cs.restSystolic, Altitude: altitude, AirwayClear: cs.airwayClear(),
		Age: cs.Facts.Age, Spinal: l.spinal != nil, Pregnant: cs.Facts.Pregnant == timeline.Yes}
	if fresh(l.support) && l.support.Now().Payload.(*timeline.Support).Support == term.SupportObstructed {
		no := false
		seen.AirwayClear = &no // whatever is in
	}
	if fresh(l.spo2) {
		seen.SpO2 = l.spo2.Now().Payload.(*timeline.Vitals).SpO2
	}
	if fresh(l.pressure) {
		seen.Systolic = l.pressure.Now().Payload.(*timeline.Vitals).Systolic
	}
	if fresh(l.pulse) {
		seen.Pulse = l.pulse.Now().Payload.(*timeline.Vitals).Pulse
	}
	if fresh(l.chest) {
		p := l.chest.Now().Payload.(*timeline.Signs)
		seen.Breathing, seen.Chest = p.Breathing, p.Chest
	}
	var age *visit.Limits
	if limits, err := visit.LimitsFor(patientOf(&cs.Facts)); err == nil {
		age = &limits
	}
	if age != nil {
		seen.SystolicLow, seen.SystolicSevere, seen.SystolicHigh = age.Hypotension.Value, age.Hypotension.Value, age.Systolic.To
		if !age.Hypotension.Low.IsZero() {
			seen.SystolicSevere = age.Hypotension.Low
		}
		seen.PulseLow, seen.PulseHigh = age.SlowPulse.Value, age.Pulse.To
	}
	s, tag := Speaker{c.words}, c.words.Tag()
	var all []OfferLine
	for _, o := range trouble.Offers(seen, limits) {
		e := l.chest
		switch o.Why {
		case trouble.LowSaturation, trouble.FallenSat:
			e = l.spo2
		case trouble.LowForAge, trouble.FallenPressure, trouble.FallenSpinal, trouble.HighForAge:
			e = l.pressure
		case trouble.SlowForAge, trouble.FastForAge:
			e = l.pulse
		}
		card := trouble.Find(o.Card)
		if card == nil || cs.answered(card, e.Now().At) {
			continue
		}
		line := OfferLine{Card: o.Card, Name: card.Name.In(tag),
			//word:prefix trouble.why.
			Text:   s.sayOf("trouble.why."+string(o.Why), "value", s.Amount(o.Value), "limit", s.Amount(o.Limit)),
			Source: s.source(o.Source)}
		if o.Severe && sound {
			line.At = e.Now().At.UnixMilli()
		}
		all = append(all, line)
	}
	return all, nil
}

// answered reports that a card runs, or that one for the same trouble was left
// after a time.
func (cs *Case) answered(card *trouble.Card, at timeline.Moment) bool {
	return slices.ContainsFunc(cs.runs, func(r run) bool {
		return r.trouble == card.Trouble && (r.over.IsZero() || !r.over.Before(at.Time))
	})
}

// offerSettings gives the thresholds that hold, the height of the place, and
// whether a severe offer sounds.
func (c *Companion) offerSettings(ctx context.Context, now Reading) (l trouble.Limits, altitude quantity.Amount, sound bool, err error) {
	l, sound = trouble.Defaults(), true
	for s, to := range map[term.Setting]*quantity.Amount{
		term.SettingOfferSpO2: &l.SpO2, term.SettingOfferSpO2Fall: &l.SpO2Fall, term.SettingOfferFall: &l.PressureFall,
		term.SettingOfferSpinal: &l.SpinalLeft, term.SettingOfferSpO2Severe: &l.SpO2Severe,
		term.SettingOfferPressureLow: &l.SystolicLow, term.SettingOfferPressureTop: &l.SystolicHigh,
		term.SettingOfferPulseLow: &l.PulseLow, term.SettingOfferPulseSevere: &l.PulseSevere, term.SettingOfferPulseTop: &l.PulseHigh,
		term.SettingOfferPressureSevere: &l.SystolicSevere, term.SettingOfferPulsePress: &l.PulsePress, term.SettingOfferChild: &l.Child, term.SettingOfferFresh: &l.Fresh,
	} {
		p, ok, err := c.setting(ctx, s, now.Wall)
		if err != nil {
			return l, altitude, sound, err
		}
		if ok {
			*to = p.Value
		}
	}
	off := func(s term.Setting) bool {
		p, ok, offErr := c.setting(ctx, s, now.Wall)
		if err == nil {
			err = offErr
		}
		return ok && p.Text == timeline.No
	}
	sound, l.NoSigns, l.NoHeight = !off(term.SettingOfferSound), off(term.SettingOfferSigns), off(term.SettingOfferHeight)
	if err != nil {
		return l, altitude, sound, err
	}
	altitude, _, err = c.height(ctx, now.Wall)
	return l, altitude, sound, err
}

// OfferSettings gives the thresholds of the offers as a settings page shows
// them.
func (c *Companion) OfferSettings(ctx context.Context) ([]OfferSetting, error) {
	l, _, sound, err := c.offerSettings(ctx, c.clock.Now())
	if err != nil {
		return nil, err
	}
	s, house := Speaker{c.words}, trouble.Defaults()
	value := func(name term.Setting, now, otherwise quantity.Amount, values ...string) OfferSetting {
		return OfferSetting{Name: string(name), Now: now.Value.String(), Unit: now.Unit.Symbol(), Values: values,
			Default: Cited{Text: s.Say("settings.offers-default", "value", s.Amount(otherwise)), Source: s.source(trouble.Sources[name])}}
	}
	yes := func(name term.Setting, on bool) OfferSetting {
		now := timeline.Yes
		if !on {
			now = timeline.No
		}
		return OfferSetting{Name: string(name), Now: now, Switch: true, Values: []string{timeline.Yes, timeline.No},
			Default: Cited{Text: s.Say("settings.offers-default", "value", s.Say("say.yes")), Source: s.source(trouble.Sources[name])}}
	}
	return []OfferSetting{
		value(term.SettingOfferSpO2, l.SpO2, house.SpO2, "90", "92", "94", "96"),
		yes(term.SettingOfferHeight, !l.NoHeight),
		value(term.SettingOfferSpO2Severe, l.SpO2Severe, house.SpO2Severe, "3", "4", "6", "8"),
		value(term.SettingOfferSpO2Fall, l.SpO2Fall, house.SpO2Fall, "3", "4", "5", "6"),
		value(term.SettingOfferFall, l.PressureFall, house.PressureFall, "20", "30", "40", "50"),
		value(term.SettingOfferSpinal, l.SpinalLeft, house.SpinalLeft, "70", "80", "90"),
		value(term.SettingOfferPressureLow, l.SystolicLow, house.SystolicLow, "80", "90", "100", "110"),
		value(term.SettingOfferPressureSevere, l.SystolicSevere, house.SystolicSevere, "80", "90", "95", "100"),
		value(term.SettingOfferPressureTop, l.SystolicHigh, house.SystolicHigh, "70", "80", "90", "100"),
		value(term.SettingOfferPulseLow, l.PulseLow, house.PulseLow, "80", "90", "100", "110"),
		value(term.SettingOfferPulseSevere, l.PulseSevere, house.PulseSevere, "60", "70", "80", "90"),
		value(term.SettingOfferPulsePress, l.PulsePress, house.PulsePress, "50", "60", "70", "80"),
		value(term.SettingOfferChild, l.Child, house.Child, "8", "12", "14", "16"),
		value(term.SettingOfferPulseTop, l.PulseHigh, house.PulseHigh, "90", "100", "110", "120"),
		value(term.SettingOfferFresh, l.Fresh, house.Fresh, "5", "10", "15", "20"),
		yes(term.SettingOfferSigns, !l.NoSigns),
		yes(term.SettingOfferSound, sound),
	}, nil
}

// OfferSetting is a threshold with the values that a page offers, each in its
// unit without it.
type OfferSetting struct {
	Name, Now, Unit string
	Switch          bool // yes or no
	Values          []string
	Default         Cited // what holds until the clinic sets its own, and where that comes from
}

// DoStep records what a key of a card stands for: a step, with or without a
// drug, or the beginning, the end, or who records. The first of these on a card
// that does not run begins it. Fields: card; step or card_act; and those of the
// drug or infusion that the step gives, with its kind.
func (c *Companion) DoStep(ctx context.Context, f Form) (Done, error) {
	if _, err := c.before(ctx, &f); err != nil {
		return Done{}, err
	}
	card := trouble.Find(f.one("card"))
	if card == nil {
		return Done{}, &timeline.FieldError{Kind: "trouble", Field: "card", Code: "not-in-list"}
	}
	act, step := term.TroubleAct(f.one("card_act")), f.one("step")
	if step != "" {
		act = term.TroubleActStep
		if card.Step(step) == nil {
			return Done{}, &timeline.FieldError{Kind: "trouble", Field: "step", Code: "not-in-list"}
		}
	}
	cs, err := c.Case(ctx, f.Case)
	if err != nil {
		return Done{}, err
	}
	now := c.clock.Now()
	at, err := f.when(now)
	if err != nil {
		return Done{}, err
	}
	event := func(id string, act term.TroubleAct, step, given string) Tap {
		p := &timeline.Trouble{Trouble: card.Trouble, Act: act, Step: step, Given: given}
		if card.Code != string(card.Trouble) {
			p.Card = card.Code
		}
		return Tap{ID: id, Scope: timeline.ScopeCase, About: f.Case, At: at, Payload: p}
	}
	if act == term.TroubleActBegun {
		return c.Record(ctx, event(f.ID, act, "", ""))
	}
	var taps []Tap
	begun := derived(f.ID, "begun")
	if act != term.TroubleActOver && (cs.running(card.Code) == nil || cs.Story.Find(begun) != nil) {
		taps = append(taps, event(begun, term.TroubleActBegun, "", ""))
	}
	kind := f.one("kind")
	if act != term.TroubleActStep || kind == "" {
		return c.Record(ctx, append(taps, event(f.ID, act, step, ""))...)
	}
	if kind != "drug" && kind != "infusion" {
		return Done{}, &timeline.FieldError{Kind: "trouble", Field: "kind", Code: "not-in-list"}
	}
	f.Kind = kind
	t, err := f.tap(now)
	if err != nil {
		return Done{}, err
	}
	c.doseMu.Lock()
	defer c.doseMu.Unlock()
	owed, err := c.freeze(ctx, &f, &t, nil, nil)
	if err != nil {
		return Done{}, err
	}
	taps = append(taps, event(derived(f.ID, "step"), act, step, f.ID), t)
	return c.Record(ctx, append(taps, owed...)...)
}

// troubleName gives the name of the card of an entry, or of its trouble.
func (s Speaker) troubleName(p *timeline.Trouble) string {
	if card := trouble.Find(p.Card); card != nil {
		return card.Name.In(s.Tag())
	}
	return Code(s, term.TroubleList, p.Trouble)
}

// troubleStep gives what the step of an entry says, in short; the code itself
// where no card knows it.
func (s Speaker) troubleStep(p *timeline.Trouble) string {
	if card := trouble.Find(cmpOr(p.Card, string(p.Trouble))); card != nil {
		if step := card.Step(p.Step); step != nil {
			return s.stepText(step, s.Tag(), true)
		}
	}
	return strings.ReplaceAll(p.Step, "-", " ")
}
