package depth

import (
	"slices"

	"chinlift/core/agent"
	"chinlift/core/quantity"
	"chinlift/core/term"
)

// Look is what was seen, heard and felt at one time; any part may be absent.
type Look struct {
	Breathing term.Breathing
	Eyes      term.Eyes
	Pupils    term.Pupils
	Lid       term.Reflex
	Cornea    term.Reflex
	Jaw       term.Jaw
	Chest     term.Chest
	Secretion term.Secretion
	Movement  term.Movement
	Sweat     term.Sweat
	Tears     term.Tears
	Colour    term.Colour

	// AirAtMouth answers AskBreathAtMouth: with the jaw lifted, does air move
	// with each effort?
	AirAtMouth Said
}

// code gives a sign's code, or "".
func (k *Look) code(s Sign) string {
	switch s {
	case SignBreathing:
		return string(k.Breathing)
	case SignEyes:
		return string(k.Eyes)
	case SignPupils:
		return string(k.Pupils)
	case SignLid:
		return string(k.Lid)
	case SignCornea:
		return string(k.Cornea)
	case SignJaw:
		return string(k.Jaw)
	case SignChest:
		return string(k.Chest)
	case SignSecretion:
		return string(k.Secretion)
	case SignMovement:
		return string(k.Movement)
	case SignSweat:
		return string(k.Sweat)
	case SignTears:
		return string(k.Tears)
	case SignColour:
		return string(k.Colour)
	}
	return ""
}

func known[C ~string](field Sign, l *term.List[C], c C) error {
	if c != "" && !l.Has(c) {
		return &agent.Error{Field: string(field), Code: agent.UnknownCode, Given: string(c)}
	}
	return nil
}

// Check gives an *agent.Error for the first sign that is of no list.
func (k *Look) Check() error {
	for _, err := range []error{
		known(SignBreathing, term.BreathingList, k.Breathing), known(SignEyes, term.EyesList, k.Eyes),
		known(SignPupils, term.PupilsList, k.Pupils), known(SignLid, term.ReflexList, k.Lid),
		known(SignCornea, term.ReflexList, k.Cornea), known(SignJaw, term.JawList, k.Jaw),
		known(SignChest, term.ChestList, k.Chest), known(SignSecretion, term.SecretionList, k.Secretion),
		known(SignMovement, term.MovementList, k.Movement), known(SignSweat, term.SweatList, k.Sweat),
		known(SignTears, term.TearsList, k.Tears), known(SignColour, term.ColourList, k.Colour),
	} {
		if err != nil {
			return err
		}
	}
	if k.AirAtMouth != "" && k.AirAtMouth != Yes && k.AirAtMouth != No {
		return &agent.Error{Field: "air_at_mouth", Code: agent.UnknownCode, Given: string(k.AirAtMouth)}
	}
	return nil
}

// Vitals is what was counted and measured at one time. 0 is not measured; a
// pulse or pressure that was looked for and not there is not for this package.
type Vitals struct {
	PulsePerMin, SystolicMmHg, SpO2Percent float64
}

// Drugs are what acts beside the agent.
type Drugs struct {
	Anticholinergic bool // atropine, hyoscine, glycopyrronium
	Opioid          bool
	Benzodiazepine  bool
	Relaxant        bool
	Ketamine        bool
	Intravenous     bool // thiopental, propofol, or any other anaesthetic into a vein
}

// Subject is who it is about. A change of it makes a new Run.
type Subject struct {
	Age    quantity.Amount // MAC goes by it
	Weight quantity.Amount
	Agents []term.Agent // inhaled, that act now
}

// Applies gives why signs of depth and the model do not hold here; nothing
// where they do. Drugs counts what still acts: whoever knows when it was given
// says when it is over. An age that is not known does not apply either.
func Applies(s Subject, d Drugs) []Reason {
	var why []Reason
	if years, err := agent.Take("age", s.Age, quantity.Year, 0, 120); err != nil {
		why = append(why, AgeUnknown)
	} else if years < 1 {
		why = append(why, UnderOneYear)
	}
	if d.Relaxant {
		why = append(why, Relaxant)
	}
	if d.Ketamine {
		why = append(why, Ketamine)
	}
	if len(s.Agents) > 1 || d.Intravenous {
		why = append(why, Mixed)
	}
	if len(s.Agents) == 0 {
		why = append(why, NoAgent)
	}
	if len(s.Agents) == 1 {
		switch a, err := agent.Of(s.Agents[0]); {
		case err != nil || !a.AwakePerMAC.Known() || !a.Solubility.Complete():
			why = append(why, NoModel)
		case a.Gas:
			why = append(why, GasAlone)
		}
	}
	return why
}

// Item is one sign and what it says.
type Item struct {
	Sign      Sign
	Code      string // of the sign's list; empty for pulse and pressure
	Stages    []Stage
	Lean      Lean
	Agreement Agreement
	Why       []Why
}

// Reading is what a look says. It is for the screen: signs beside a table, no
// more. Where Reasons stand it has nothing else but what is asked.
type Reading struct {
	Reasons   []Reason
	Low, High Stage // the span that the signs leave; empty where none says anything
	Lean      Lean  // of all
	Items     []Item
	Asks      []Ask    // in the order in which they are asked
	Dangers   []Reason // deep, obstructed or hypoxic signs in it
	Cautions  []agent.Caution
	Sources   []agent.Source
}

// How far a pulse or pressure has gone from where it was, for it to have risen
// or fallen. Source: prst.
const (
	roseBy = 1.15
	fellBy = 0.85
)

var prst = agent.Source{Author: "J. M. Evans", Title: "Pressure, rate, sweating, tears: a change under 15 % counts nothing", Table: "a fall by as much is a house choice", Mark: term.MarkMemory}

// Read sets a look beside the published table: the stages that each sign is
// usual at, whether it agrees with the others, and what to look at next. Before
// is what pulse and pressure were at rest or a while ago, now what they are;
// either may be empty. It weighs nothing by time and knows nothing of what was
// given: that is Run. The error is an *agent.Error for a sign of no list.
func Read(s Subject, d Drugs, support term.Support, k Look, before, now Vitals) (Reading, error) {
	if err := k.Check(); err != nil {
		return Reading{}, err
	}
	if support != "" && !term.SupportList.Has(support) {
		return Reading{}, &agent.Error{Field: "support", Code: agent.UnknownCode, Given: string(support)}
	}
	var r Reading
	r.Dangers = dangers(&k)
	r.ask(&k, before, now)
	if r.Reasons = Applies(s, d); len(r.Reasons) > 0 {
		return r, nil
	}
	a, err := agent.Of(s.Agents[0])
	if err != nil {
		return Reading{}, err
	}
	l := ladderOf(a)
	var answer agent.Answer
	answer.Beware(agent.Estimate, NotAMonitor)
	if l.ether {
		answer.Beware(EtherAlone)
	}
	if support == term.SupportAssisted || support == term.SupportControlled {
		answer.Beware(BreathHelped)
	}
	saying := 0
	for _, sign := range SignCodes {
		item, ok := l.item(sign, &k, d, support)
		if !ok {
			if item, ok = moved(sign, d, before, now); ok {
				answer.Cite(whoSigns, prst)
			}
		}
		if !ok {
			continue
		}
		if item.Agreement != SaysNothing {
			saying++
		}
		if sign == SignEyes && k.Eyes == term.EyesOffCentre {
			answer.Beware(NotInTable)
		}
		r.Items = append(r.Items, item)
	}
	answer.Cite(l.sources()...)
	r.agree(&l)
	low, high := l.span(r.Items, -1)
	if low >= 0 {
		r.Low, r.High = l.stages[low], l.stages[high]
	}
	r.Lean = leanOf(r.Items)
	if saying == 1 {
		answer.Beware(OneSign)
		r.Asks = append(r.Asks, AskOtherSign)
	}
	if slices.ContainsFunc(r.Items, func(i Item) bool { return i.Agreement == Conflicts }) {
		answer.Beware(SignsDisagree)
	}
	r.Cautions, r.Sources = answer.Cautions, answer.Sources
	return r, nil
}

// item gives what one sign says; false where it was not looked for.
func (l *ladder) item(sign Sign, k *Look, d Drugs, support term.Support) (Item, bool) {
	code := k.code(sign)
	if code == "" {
		return Item{}, false
	}
	item := Item{Sign: sign, Code: code}
	if why := silent(l, sign, k, d, support); len(why) > 0 {
		item.Agreement, item.Why = SaysNothing, why
		return item, true
	}
	r := l.rows[sign]
	i := r.index(code)
	for s, w := range r.usual[i] {
		if w == isUsual {
			item.Stages = append(item.Stages, l.stages[s])
		}
	}
	item.Lean = l.lean(r.usual[i])
	return item, true
}

// lean is which way a code leans: light where it is usual only where nobody is
// ready for the knife, deep where only beyond it.
func (l *ladder) lean(usual []float64) Lean {
	light, deep := len(l.bounds)-1, len(l.bounds) // the others: under enough, over it
	if l.ether {
		light, deep = 2, 5 // stages I and II; III-4 and IV
	}
	allLight, allDeep := true, true
	for s, w := range usual {
		if w == isUsual {
			allLight = allLight && s < light
			allDeep = allDeep && s >= deep
		}
	}
	switch {
	case allLight:
		return LeanLight
	case allDeep:
		return LeanDeep
	}
	return ""
}

// silent gives why a sign says nothing of depth here; nothing where it does.
func silent(l *ladder, sign Sign, k *Look, d Drugs, support term.Support) []Why {
	closed := k.Breathing == term.BreathingNoisy || k.Breathing == term.BreathingSilent
	apart := k.Breathing == term.BreathingSeeSaw || k.Chest == term.ChestOpposite
	helped := support == term.SupportAssisted || support == term.SupportControlled
	var why []Why
	switch sign {
	case SignSecretion, SignColour:
		why = append(why, WhyNotOfDepth)
		if sign == SignSecretion && d.Anticholinergic {
			why = append(why, WhyAnticholinergic)
		}
		return why
	case SignSweat:
		return []Why{WhyAskFirst}
	case SignPupils:
		switch {
		case k.Pupils == term.PupilsUneven:
			return []Why{WhyOneEye}
		case d.Anticholinergic && (k.Pupils == term.PupilsWide || k.Pupils == term.PupilsWideFixed):
			return []Why{WhyAnticholinergic}
		case d.Opioid && (k.Pupils == term.PupilsSmall || k.Pupils == term.PupilsMiddle):
			return []Why{WhyOpioid}
		}
	case SignTears:
		switch {
		case l.ether && k.Tears != term.TearsNone:
			return []Why{WhyBooksDiffer}
		case d.Anticholinergic:
			return []Why{WhyAnticholinergic}
		}
	case SignBreathing, SignChest:
		switch {
		case apart: // once it is answered which, dangers says so
			return []Why{WhyDeepOrClosed}
		case closed || support == term.SupportObstructed || support == term.SupportApnoea:
			return []Why{WhyClosed}
		case helped:
			return []Why{WhyNotOfDepth}
		}
	}
	if r, ok := l.rows[sign]; !ok || r.index(k.code(sign)) < 0 {
		return []Why{WhyNotThisAgent}
	}
	return nil
}

// moved gives pulse and pressure, where they went up or down.
func moved(sign Sign, d Drugs, before, now Vitals) (Item, bool) {
	was, is := before.PulsePerMin, now.PulsePerMin
	switch sign {
	case SignPulse:
	case SignPressure:
		was, is = before.SystolicMmHg, now.SystolicMmHg
	default:
		return Item{}, false
	}
	if was <= 0 || is <= 0 {
		return Item{}, false
	}
	item := Item{Sign: sign, Agreement: SaysNothing}
	switch {
	case is >= roseBy*was:
		item.Why = []Why{WhyAskFirst}
		if sign == SignPulse && d.Anticholinergic {
			item.Why = append(item.Why, WhyAnticholinergic)
		}
	case is <= fellBy*was:
		item.Lean = LeanDeep
		item.Why = []Why{WhyAskFirst}
		if sign == SignPulse && d.Opioid {
			item.Why = append(item.Why, WhyOpioid)
		}
	default:
		item.Why = []Why{WhyNotOfDepth}
	}
	return item, true
}

// ask puts the questions in their order.
func (r *Reading) ask(k *Look, before, now Vitals) {
	add := func(list ...Ask) {
		for _, a := range list {
			if !slices.Contains(r.Asks, a) {
				r.Asks = append(r.Asks, a)
			}
		}
	}
	apart := k.Breathing == term.BreathingSeeSaw || k.Chest == term.ChestOpposite
	if apart && k.AirAtMouth == "" {
		add(AskBreathAtMouth)
	}
	if apart && k.AirAtMouth == No || k.Breathing == term.BreathingNoisy || k.Breathing == term.BreathingSilent || k.Breathing == term.BreathingHeld {
		add(AskAirway)
	}
	if k.Colour == term.ColourBlue || k.Colour == term.ColourDusky {
		add(AskOxygen, AskAirway)
	}
	if k.Secretion == term.SecretionMuch {
		add(AskSuction)
	}
	up := func(was, is float64) bool { return was > 0 && is >= roseBy*was }
	down := func(was, is float64) bool { return was > 0 && is > 0 && is <= fellBy*was }
	sweats := k.Sweat == term.SweatDamp || k.Sweat == term.SweatBeads
	if up(before.PulsePerMin, now.PulsePerMin) || up(before.SystolicMmHg, now.SystolicMmHg) || sweats {
		add(AskVentilation)
		if sweats && k.Colour == term.ColourFlushed {
			add(AskCarbonDioxide)
		}
		add(AskBleeding, AskDrugs, AskLight)
	}
	if down(before.PulsePerMin, now.PulsePerMin) || down(before.SystolicMmHg, now.SystolicMmHg) || k.Colour == term.ColourPale {
		add(AskVentilation, AskBleeding, AskDrugs)
	}
	if k.Pupils == term.PupilsUneven {
		add(AskWhyUneven)
	}
}

// dangers gives what in a look withdraws an estimate. Neither premedication nor
// another agent makes a danger less of one.
func dangers(k *Look) []Reason {
	var why []Reason
	apart := k.Breathing == term.BreathingSeeSaw || k.Chest == term.ChestOpposite
	deep := k.Pupils == term.PupilsWideFixed || k.Chest == term.ChestStill ||
		k.Breathing == term.BreathingBellyOnly || k.Breathing == term.BreathingShallow
	closed := k.Breathing == term.BreathingNoisy || k.Breathing == term.BreathingSilent || k.Breathing == term.BreathingHeld
	switch {
	case apart && k.AirAtMouth == Yes:
		deep = true
	case apart && k.AirAtMouth == No:
		closed = true
	case apart:
		why = append(why, DeepOrClosed)
	}
	if deep {
		why = append(why, DeepSign)
	}
	if closed {
		why = append(why, ObstructedSign)
	}
	if k.Colour == term.ColourBlue || k.Colour == term.ColourDusky {
		why = append(why, HypoxicSign)
	}
	return why
}

// span gives the stages that the items leave, but for one: the fewest in a row
// that hold four fifths of the table's weight. -1 where nothing says anything.
// A single sign leaves every stage that it is possible at.
func (l *ladder) span(items []Item, but int) (low, high int) {
	n := len(l.stages)
	weight := make([]float64, n)
	for i := range weight {
		weight[i] = 1
	}
	said := 0
	single := make([]float64, n)
	for i, item := range items {
		if i == but || item.Agreement == SaysNothing {
			continue
		}
		said++
		r := l.rows[item.Sign]
		usual := r.usual[r.index(item.Code)]
		for s := range weight {
			weight[s] *= usual[s]
		}
		single = usual
	}
	switch said {
	case 0:
		return -1, -1
	case 1:
		low, high = n, -1
		for s, w := range single {
			if w >= isPossible {
				low, high = min(low, s), max(high, s)
			}
		}
		return low, high
	}
	total := 0.0
	for _, w := range weight {
		total += w
	}
	best := n + 1
	for from := range weight {
		sum := 0.0
		for to := from; to < n; to++ {
			sum += weight[to]
			if sum >= 0.8*total {
				if to-from < best {
					best, low, high = to-from, from, to
				}
				break
			}
		}
	}
	return low, high
}

// agree sets how each sign stands to all the others.
func (r *Reading) agree(l *ladder) {
	for i := range r.Items {
		item := &r.Items[i]
		if item.Agreement == SaysNothing {
			continue
		}
		low, high := l.span(r.Items, i)
		if low < 0 {
			item.Agreement = Alone
			continue
		}
		item.Agreement = Conflicts
		row := l.rows[item.Sign]
		for s := low; s <= high; s++ {
			if row.usual[row.index(item.Code)][s] >= isPossible {
				item.Agreement = Agrees
			}
		}
	}
}

func leanOf(items []Item) Lean {
	var all Lean
	for _, item := range items {
		switch {
		case item.Lean == "" || item.Lean == all:
		case all == "":
			all = item.Lean
		default:
			all = LeanBoth
		}
	}
	return all
}
