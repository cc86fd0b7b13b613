package core

import (
	"context"
	"io"
	"slices"
	"strconv"
	"strings"

	"chinlift/core/quantity"
	"chinlift/core/record"
	"chinlift/core/term"
	"chinlift/core/timeline"
)

// The handing-over of a patient, in the order in which it is spoken (that order
// is common practice, no source). All of it is what the record says; what
// nobody recorded is said as not recorded, never as not there.

// HandoverView is what is said when a patient is handed over.
type HandoverView struct {
	Head
	Parts  []HandoverPart
	Takers []Choice // who may take over
}

// HandoverPart is one thing that is told.
type HandoverPart struct {
	Code, Title string
	Lines       []Cited // with a source where a rule or a habit says it
	Known       bool    // something is recorded; the one line says so where not
}

// Handover gives the page for handing over.
func (c *Companion) Handover(ctx context.Context, id string) (HandoverView, error) {
	h, cs, err := c.HeadOf(ctx, id)
	if err != nil {
		return HandoverView{}, err
	}
	v := HandoverView{Head: h}
	for _, x := range c.Choices("watcher") {
		if x.Code != string(term.WatcherNobody) && x.Code != string(term.WatcherProvider) {
			v.Takers = append(v.Takers, x)
		}
	}
	given, classes, err := c.handedDrugs(ctx, cs)
	if err != nil {
		return v, err
	}
	s := Speaker{c.words}
	now := c.clock.Now()
	on, err := c.handedOn(ctx, cs)
	if err != nil {
		return v, err
	}
	names, err := c.handedNames(ctx, cs)
	if err != nil {
		return v, err
	}
	for _, p := range []struct {
		code  string
		lines []Cited
	}{
		{"who", s.handedWho(cs)},
		{"done", s.handedDone(cs)},
		{"course", s.handedCourse(cs)},
		{"airway", s.handedOf(cs, func(p timeline.Payload) bool { _, is := p.(*timeline.Airway); return is })},
		{"given", given},
		{"fluids", s.handedFluids(cs)},
		{"on", on},
		{"values", s.handedValues(cs, now)},
		{"watch", s.handedWatch(cs, classes)},
		{"orders", s.handedOrders(cs)},
		{"names", names},
	} {
		//word:prefix handover.part.
		part := HandoverPart{Code: p.code, Title: s.Say("handover.part." + p.code), Lines: p.lines, Known: len(p.lines) > 0}
		if !part.Known {
			part.Lines = []Cited{{Text: s.Say("handover.not-recorded")}}
		}
		v.Parts = append(v.Parts, part)
	}
	return v, nil
}

// said makes lines of the texts that say something.
func said(texts ...string) (all []Cited) {
	for _, t := range texts {
		if t != "" {
			all = append(all, Cited{Text: t})
		}
	}
	return all
}

// orUnknown gives the text, or that the field is not known.
func (s Speaker) orUnknown(field, text string) string {
	//word:prefix field.
	return s.Say("say.pair", "field", s.Say("field."+field), "value", cmpOr(text, s.Say("handover.unknown")))
}

func (s Speaker) handedWho(cs *Case) []Cited {
	f := &cs.Facts
	return said(join(" · ", cs.For(s), cs.Detail(s), Code(s, term.SexList, f.Sex)),
		s.orUnknown("allergies", cmpOr(cs.Allergic, list(s, term.AllergyList, f.Allergies))),
		s.orUnknown("asa", s.ASA(f)), s.pair("with", list(s, term.ConditionList, f.With)), s.pair("takes", list(s, term.TakesList, f.Takes)))
}

// handedDone says what was done and by which technique: as recorded, else as
// planned, said to be so; and which agents and blocks were given.
func (s Speaker) handedDone(cs *Case) []Cited {
	var all []Cited
	if e, p := last[*timeline.Performed](cs, nil); e != nil {
		all = said(s.Entry(e.Now()))
		if len(p.Techniques) == 0 {
			all = append(all, said(s.orUnknown("techniques", ""))...)
		}
	} else if plan := join(" · ", Code(s, term.OperationList, cs.Plan.Operation), cs.PlanText, list(s, term.TechniqueList, cs.Plan.Techniques)); plan != "" {
		all = said(s.Say("handover.planned", "plan", plan))
	}
	var agents []string
	for _, p := range timeline.Each[*timeline.AgentDelivery](cs.Entries, cs.ID) {
		if a := Code(s, term.AgentList, p.Agent); a != "" {
			term.Add(&agents, a)
		}
	}
	all = append(all, said(s.pair("agent", strings.Join(agents, ", ")))...)
	var blocks []term.BlockKind
	for e, p := range timeline.Each[*timeline.Block](cs.Entries, cs.ID) {
		// A later look at its height is no block: it stands with the values.
		if p.Site != "" || p.Needle != "" || p.Attempts > 0 || !slices.Contains(blocks, p.Block) {
			blocks = append(blocks, p.Block)
			all = append(all, said(s.at(e))...)
		}
	}
	return all
}

// at writes an entry with its time.
func (s Speaker) at(e *timeline.Entry) string { return s.Clock(e.Now().At) + " " + s.Entry(e.Now()) }

// handedOf lists the entries of one sort, in their order.
func (s Speaker) handedOf(cs *Case, is func(timeline.Payload) bool) (all []Cited) {
	for _, e := range cs.Entries {
		if e.In(cs.ID) && is(e.Now().Payload) {
			all = append(all, said(s.at(e))...)
		}
	}
	return all
}

// handedCourse says how it went: times, trouble, and reasons that are owed.
func (s Speaker) handedCourse(cs *Case) []Cited {
	var all []Cited
	for _, name := range term.PhaseList.Codes() {
		if m, ok := cs.Phases[name]; ok {
			all = append(all, said(s.Clock(m)+" "+Code(s, term.PhaseList, name))...)
		}
	}
	if len(all) == 0 && !cs.Began.IsZero() {
		all = said(s.Clock(cs.Began) + " " + Code(s, term.PhaseList, term.PhaseAnaesthesiaStart))
	}
	for _, r := range cs.runs {
		name := s.troubleName(&timeline.Trouble{Card: r.card, Trouble: r.trouble})
		until := s.Say("handover.not-over")
		if !r.over.IsZero() {
			until = s.Clock(r.over)
		}
		all = append(all, said(s.Say("handover.trouble", "what", name, "from", s.Clock(r.begun), "until", until, "steps", strconv.Itoa(len(r.steps))))...)
	}
	if len(cs.runs) == 0 {
		all = append(all, said(s.Say("handover.no-trouble"))...)
	}
	for _, e := range cs.Owing() {
		all = append(all, said(s.Clock(e.Now().At)+" "+s.debt(cs, e))...)
	}
	return all
}

// handedDrugs says of each drug what was given and when the next may follow by
// the rule of the last dose's use, and gives the classes of the drugs.
func (c *Companion) handedDrugs(ctx context.Context, cs *Case) ([]Cited, map[term.DrugClass]bool, error) {
	rules, confirmed, now, err := c.rulesNow(ctx)
	if err != nil {
		return nil, nil, err
	}
	s := Speaker{c.words}
	doses, notes := map[string][]string{}, map[string][]string{}
	latest := map[string]*timeline.Drug{}
	var order []string
	for e, p := range timeline.Each[*timeline.Drug](cs.Entries, cs.ID) {
		if latest[p.Drug] == nil {
			order = append(order, p.Drug)
		}
		latest[p.Drug] = p
		doses[p.Drug] = append(doses[p.Drug], join(" ", s.Clock(e.Now().At), s.Amount(p.Dose), Code(s, term.RouteList, p.Route)))
		note, err := c.stand(ctx, cs, e)
		if err != nil {
			return nil, nil, err
		}
		notes[p.Drug] = append(notes[p.Drug], note)
	}
	classes := map[term.DrugClass]bool{}
	var all []Cited
	for _, code := range order {
		line := Cited{Text: s.Say("handover.doses", "drug", s.Drug(code), "doses", s.notedAll(doses[code], notes[code]))}
		d, p := rules.Find(code), latest[code]
		if d != nil {
			classes[d.Class] = true
		}
		next := s.Say("handover.next-unknown")
		if d != nil && !d.Retired && p.Frozen != nil {
			if u := d.Use(p.Frozen.Use); u != nil {
				v := c.doseView(ctx, cs, rules, d, u, p.Route, confirmed, now)
				switch {
				case u.Purpose == term.PurposeInduction || u.Purpose == term.PurposeMaintenance || u.Purpose == term.PurposeRelaxation:
					next = s.Say("handover.for-the-anaesthetic")
				case v.Problem != "":
					next = s.Say("handover.no-next", "why", v.Problem)
				case len(v.Stops) > 0:
					next = s.Say("handover.no-next", "why", v.Stops[0].Text)
				case v.Next != "":
					next = v.Next
				default:
					next = s.Say("handover.interval-over")
				}
				x := d.Sources[u.For("interval")]
				guessed := ""
				if p.Frozen.Guessed {
					guessed = s.Say("handover.guessed-use")
				}
				line.Source, line.Mark = join(" · ", s.useWords(d, u), guessed, s.source(x), cmpOr(v.Confirmed, s.Say("dose.unconfirmed"))), string(x.Mark)
			}
		}
		line.Text += " · " + next
		all = append(all, line)
	}
	for e := range timeline.Each[*timeline.Infusion](cs.Entries, cs.ID) {
		note, err := c.stand(ctx, cs, e)
		if err != nil {
			return nil, nil, err
		}
		all = append(all, said(s.noted(s.at(e), note))...)
	}
	return all, classes, nil
}

// notedAll puts texts in a row, each with its note; one that all of them share
// is said once, behind them.
func (s Speaker) notedAll(texts, notes []string) string {
	if len(texts) > 1 && notes[0] != "" && !slices.ContainsFunc(notes, func(n string) bool { return n != notes[0] }) {
		return s.noted(strings.Join(texts, ", "), s.Say("stand.all", "note", notes[0]))
	}
	row := make([]string, len(texts))
	for i := range texts {
		row[i] = s.noted(texts[i], notes[i])
	}
	return strings.Join(row, ", ")
}

// handedFluids sums what went in and came out, each sort on its own.
func (s Speaker) handedFluids(cs *Case) []Cited {
	in, out := map[term.FluidIn]quantity.Amount{}, map[term.FluidOut]quantity.Amount{}
	guessed := map[term.FluidOut]bool{}
	for _, p := range timeline.Each[*timeline.In](cs.Entries, cs.ID) {
		in[p.What] = sum(in[p.What], p.Volume)
	}
	for _, p := range timeline.Each[*timeline.Out](cs.Entries, cs.ID) {
		out[p.What] = sum(out[p.What], p.Volume)
		guessed[p.What] = guessed[p.What] || p.How != term.MeasuredMeasured
	}
	var all []Cited
	for _, what := range term.FluidInList.Codes() {
		if a, ok := in[what]; ok {
			all = append(all, said(s.Say("say.in", "what", Code(s, term.FluidInList, what), "n", s.Amount(a)))...)
		}
	}
	for _, what := range term.FluidOutList.Codes() {
		if a, ok := out[what]; ok {
			how := ""
			if guessed[what] {
				how = s.Say("handover.guessed")
			}
			all = append(all, said(join(" · ", s.pair("what", Code(s, term.FluidOutList, what)+" "+s.Amount(a)), how))...)
		}
	}
	if len(in) == 0 && len(out) > 0 {
		all = append(said(s.Say("handover.nothing-in")), all...)
	}
	if _, lost := out[term.FluidOutBlood]; !lost && len(in) > 0 {
		all = append(all, said(s.Say("handover.no-loss"))...)
	}
	return all
}

// handedOn says what is in, on or running now.
func (c *Companion) handedOn(ctx context.Context, cs *Case) ([]Cited, error) {
	s := Speaker{c.words}
	device := map[term.AirwayDevice]*timeline.Entry{}
	way := map[term.AccessSite]*timeline.Entry{}
	runs := map[string]*timeline.Entry{}
	attached := map[term.Attached]bool{}
	catheter := map[term.BlockKind]*timeline.Entry{}
	packs := 0
	for _, e := range cs.Entries {
		if !e.In(cs.ID) {
			continue
		}
		switch p := e.Now().Payload.(type) {
		case *timeline.Airway:
			switch p.Act {
			case term.AirwayActIn:
				device[p.Device] = e
			case term.AirwayActOut:
				delete(device, p.Device)
			}
		case *timeline.Access:
			way[p.Site] = e
			if p.Out {
				delete(way, p.Site)
			}
		case *timeline.Infusion:
			switch {
			case p.Act == term.InfusionActStarted:
				runs[e.ID] = e
			case p.Act == term.InfusionActStopped:
				delete(runs, p.Run)
			default:
				runs[p.Run] = e
			}
		case *timeline.AttachedTo:
			for _, w := range p.What {
				attached[w] = !p.Off
			}
		case *timeline.Block:
			if p.Catheter == timeline.Yes {
				catheter[p.Block] = e
			}
		case *timeline.Step:
			switch p.Step {
			case term.StepThroatPackIn:
				packs++
			case term.StepThroatPackOut:
				packs--
			}
		}
	}
	var all []Cited
	if packs > 0 {
		all = said(s.Say("pause.pack-in"))
	}
	all = append(all, said(s.State(cs.Delivery))...)
	// In the order in which they were put in.
	for _, e := range cs.Entries {
		switch p := e.Now().Payload.(type) {
		case *timeline.Airway:
			if device[p.Device] == e {
				all = append(all, said(s.at(e))...)
			}
		case *timeline.Access:
			if way[p.Site] == e {
				all = append(all, said(s.at(e))...)
			}
		case *timeline.Infusion:
			if runs[e.ID] == e || runs[p.Run] == e {
				note, err := c.stand(ctx, cs, e)
				if err != nil {
					return nil, err
				}
				all = append(all, said(s.noted(s.at(e), note))...)
			}
		case *timeline.Block:
			if catheter[p.Block] == e {
				all = append(all, said(s.Say("handover.catheter", "block", Code(s, term.BlockKindList, p.Block)))...)
			}
		}
	}
	var on []string
	for _, w := range term.AttachedList.Codes() {
		if attached[w] {
			on = append(on, Code(s, term.AttachedList, w))
		}
	}
	return append(all, said(strings.Join(on, ", "))...), nil
}

// handedValues gives the last of each measure with how old it is, and the last
// looks at waking, pain, nausea and the block.
func (s Speaker) handedValues(cs *Case, now Reading) []Cited {
	var all []Cited
	m := cs.measures()
	for _, name := range timeline.MeasureNames {
		v, ok := m[name]
		if !ok {
			continue
		}
		text := s.pair(name, s.Amount(v.Value)) + " · " + s.Ago(now.Wall, v.At)
		if _, rest := v.Entry.Now().Payload.(*timeline.Baseline); rest {
			text += " · " + s.Say("handover.before")
		}
		all = append(all, said(text)...)
	}
	look := func(keep func(*timeline.Waking) bool, say func(*timeline.Waking) string) {
		if e, p := last(cs, keep); e != nil {
			all = append(all, said(say(p)+" · "+s.Ago(now.Wall, e.Now().At))...)
		}
	}
	look((*timeline.Waking).Scored, func(p *timeline.Waking) string {
		if n, ok := p.Sum(); ok {
			return s.Say("say.waking", "n", n)
		}
		return s.Say("say.waking-part")
	})
	look(func(p *timeline.Waking) bool { return p.Pain != nil }, func(p *timeline.Waking) string { return s.pair("pain", s.score(p.Pain)) })
	look(func(p *timeline.Waking) bool { return p.Nausea != nil }, func(p *timeline.Waking) string { return s.pair("nausea", s.score(p.Nausea)) })
	return append(all, said(s.pair("height", s.blockHeight(cs, now.Wall)), s.pair("motor", s.blockMotor(cs, now.Wall)))...)
}

// watchFor are the warnings that a trouble leaves behind. All of them, and
// those in handedWatch, are common practice, no source.
var watchFor = map[term.Trouble]string{
	term.TroubleAirwayObstruction: "airway", term.TroubleLaryngospasm: "laryngospasm", term.TroubleVomiting: "aspiration",
	term.TroubleHypoxia: "hypoxia", term.TroubleBronchospasm: "bronchospasm", term.TroubleHypotension: "pressure", term.TroubleHighSpinal: "high-spinal",
	term.TroubleAnaphylaxis: "anaphylaxis", term.TroubleLocalAnaestheticPoisoning: "local-poisoning", term.TroubleMassiveBleeding: "bleeding",
	term.TroubleEclampsia: "eclampsia", term.TroubleMalignantHyperthermia: "hyperthermia", term.TroubleHypoglycaemia: "glucose",
	term.TroubleConvulsion: "convulsion", term.TroubleWrongRhythm: "rhythm", term.TroubleArrest: "arrest", term.TroubleCannotIntubate: "airway",
	term.TroubleTooLight: "aware", term.TroubleApnoea: "apnoea",
}

// handedWatch says what to watch for after this agent, these drugs and blocks,
// and this trouble.
func (s Speaker) handedWatch(cs *Case, classes map[term.DrugClass]bool) []Cited {
	var keys []string
	add := func(key string) {
		if key != "" {
			term.Add(&keys, key)
		}
	}
	for _, p := range timeline.Each[*timeline.AgentDelivery](cs.Entries, cs.ID) {
		switch p.Agent {
		case "":
		case term.AgentEther:
			add("ether")
		case term.AgentHalothane:
			add("halothane")
		default:
			add("agent")
		}
	}
	for _, p := range timeline.Each[*timeline.Drug](cs.Entries, cs.ID) {
		if strings.HasPrefix(p.Drug, "ketamine") {
			add("ketamine")
		}
	}
	for _, x := range []struct {
		class term.DrugClass
		key   string
	}{{term.DrugClassOpioid, "opioid"}, {term.DrugClassOpioidAntagonist, "opioid-antagonist"}, {term.DrugClassBenzodiazepine, "benzodiazepine"}, {term.DrugClassRelaxant, "relaxant"}} {
		if classes[x.class] {
			add(x.key)
		}
	}
	for _, p := range timeline.Each[*timeline.Block](cs.Entries, cs.ID) {
		switch p.Block {
		case term.BlockKindSpinal, term.BlockKindEpidural, term.BlockKindCaudal:
			add("spinal")
		default:
			add("block")
		}
	}
	for _, r := range cs.runs {
		add(watchFor[r.trouble])
	}
	var all []Cited
	for _, key := range keys {
		//word:prefix handover.watch.
		all = append(all, Cited{Text: s.Say("handover.watch." + key), Source: Code(s, term.MarkList, term.MarkPractice), Mark: string(term.MarkPractice)})
	}
	return all
}

// handedOrders gives the orders, in the words in which they were written.
func (s Speaker) handedOrders(cs *Case) []Cited {
	var all []Cited
	for e := range timeline.Each[*timeline.Handover](cs.Entries, cs.ID) {
		if text := e.Now().Private()[timeline.PrivateText]; text != "" {
			all = append(all, said(s.Clock(e.Now().At)+" "+text)...)
		}
	}
	return all
}

// handedNames says who hands over, and who takes over.
func (c *Companion) handedNames(ctx context.Context, cs *Case) ([]Cited, error) {
	s := Speaker{c.words}
	from, err := c.AuthorName(ctx)
	if err != nil {
		return nil, err
	}
	to := ""
	if e, _ := last[*timeline.Handover](cs, nil); e != nil {
		from = cs.Name(e.Now().Content.Event.Author) // also where another reads it
	}
	for e, p := range timeline.Each[*timeline.Handover](cs.Entries, cs.ID) {
		// What holds orders alone names nobody.
		if x := join(", ", e.Now().Private()[timeline.PrivateName], Code(s, term.WatcherList, p.To)); x != "" {
			to = x
		}
	}
	return said(s.Say("handover.from", "name", cmpOr(from, s.Say("record.unnamed"))), s.Say("handover.to", "name", cmpOr(to, s.Say("handover.unknown")))), nil
}

// inLine are the parts whose lines stand beside each other on the paper, so that
// it stays one page.
var inLine = []string{"who", "done", "course", "airway", "fluids", "on", "values", "names"}

// HandoverPaper draws the page for handing over as PDF, with lines for both to
// sign on.
func (c *Companion) HandoverPaper(ctx context.Context, w io.Writer, id string, size record.PaperSize) error {
	v, err := c.Handover(ctx, id)
	if err != nil {
		return err
	}
	now, s := c.clock.Now(), Speaker{c.words}
	by, err := c.AuthorName(ctx)
	if err != nil {
		return err
	}
	book := s.book(s.Say("handover.title")+" · "+v.For, s.Say("handover.caution"), cmpOr(by, s.Say("record.unnamed")), now)
	book.OnePage = true
	for _, p := range v.Parts {
		section := record.BookSection{Heading: p.Title}
		for i, l := range p.Lines {
			n := len(section.Items) - 1
			switch {
			// What is short and has no source of its own goes on in the line.
			case i > 0 && l.Source == "" && p.Lines[i-1].Source == "" && slices.Contains(inLine, p.Code):
				section.Items[n].Text = join(" · ", section.Items[n].Text, l.Text)
				continue
			// What all lines have from the same stands once, under the last.
			case i > 0 && p.Code == "watch" && l.Source == p.Lines[i-1].Source:
				section.Items[n].Small = ""
			}
			// That nobody stands for the rule is told beside the dose.
			section.Items = append(section.Items, record.BookItem{Text: l.Text, Small: strings.TrimSuffix(l.Source, " · "+s.Say("dose.unconfirmed"))})
		}
		if p.Code == "names" {
			for _, label := range []string{s.Say("handover.gives"), s.Say("handover.takes")} {
				section.Items = append(section.Items, record.BookItem{Sign: &record.BookSign{Label: label}})
			}
		}
		book.Sections = append(book.Sections, section)
	}
	return record.WriteBook(w, &book, record.Paper{Size: size, Made: now.Wall})
}
