package core

import (
	"slices"
	"strconv"
	"strings"
	"time"

	"chinlift/core/kit"
	"chinlift/core/quantity"
	"chinlift/core/term"
	"chinlift/core/timeline"
	"chinlift/core/word"
)

// Speaker puts what is stored into words, in one language.
type Speaker struct{ *word.Book }

// Amount writes a number with its unit, as it is safely written.
func (s Speaker) Amount(a quantity.Amount) string {
	if a.IsZero() {
		return ""
	}
	n, unit := s.Number(a), s.UnitOf(a.Unit)
	switch unit {
	case "":
		return n
	case "/min":
		return n + unit
	}
	return n + " " + unit
}

// UnitOf writes a unit as people write it; a word is of the language.
func (s Speaker) UnitOf(u quantity.Unit) string {
	if u.Spelled() {
		//word:prefix unit.
		return s.Say("unit." + unitKey.Replace(u.String()))
	}
	return u.Symbol()
}

// UnitWords writes the unit with this UCUM code as people write it.
func (c *Companion) UnitWords(code string) string {
	u, err := quantity.UnitOf(code)
	if err != nil {
		return code
	}
	return Speaker{c.words}.UnitOf(u)
}

// unitKey turns a UCUM code into the form that a key of the catalogue has.
var unitKey = strings.NewReplacer("/", "-per-", "[", "", "]", "", "{", "", "}", "")

// Number writes the number alone.
func (s Speaker) Number(a quantity.Amount) string {
	n, _ := a.Print(s.DecimalComma())
	return n
}

// Clock writes the time of day under which the moment was read.
func (s Speaker) Clock(m timeline.Moment) string {
	if m.IsZero() {
		return ""
	}
	return m.Format("15:04")
}

// Date writes day and time.
func (s Speaker) Date(m timeline.Moment) string {
	if m.IsZero() {
		return ""
	}
	return m.Format("2006-01-02 15:04")
}

// Span writes a length of time in minutes, or hours and minutes.
func (s Speaker) Span(d time.Duration) string {
	m := int(d / time.Minute)
	switch {
	case m < 60:
		return s.Say("say.min", "n", m)
	case m < 48*60:
		return s.Say("say.h-min", "h", m/60, "n", m%60)
	}
	return s.Say("say.d", "n", m/60/24)
}

// Ago writes how long ago something was.
func (s Speaker) Ago(now time.Time, m timeline.Moment) string {
	if m.IsZero() {
		return ""
	}
	d := ago(now, m.Time)
	if d < time.Minute {
		return s.Say("say.now")
	}
	return s.Say("say.ago", "span", s.Span(d))
}

// Age writes an age: an amount in years, months, weeks or days.
func (s Speaker) Age(a quantity.Amount) string {
	if a.IsZero() {
		return ""
	}
	switch a.Unit {
	case quantity.Year:
		return s.Say("say.years", "n", s.Number(a))
	case quantity.Month:
		return s.Say("say.months", "n", s.Number(a))
	}
	return s.Amount(a)
}

// Code gives the word for a code of a list of package term.
func Code[C ~string](s Speaker, l *term.List[C], c C) string {
	if c == "" {
		return ""
	}
	//word:prefix term.
	return s.Say(l.Key(c))
}

// Drug gives the generic name of a drug; a drug that the catalogue does not
// hold, one that a clinic added, is written as its code.
func (s Speaker) Drug(code string) string {
	//word:prefix drug.
	if key := "drug." + code; s.Has(key) {
		return s.Say(key)
	}
	return strings.ReplaceAll(code, "-", " ")
}

// KindName is what entries of a kind are called.
func (s Speaker) KindName(k timeline.Kind) string {
	//word:prefix kind.
	if key := "kind." + k.Name(); s.Has(key) {
		return s.Say(key)
	}
	return string(k)
}

// join puts the parts that say something in a row.
func join(sep string, parts ...string) string {
	var kept []string
	for _, p := range parts {
		if p != "" {
			kept = append(kept, p)
		}
	}
	return strings.Join(kept, sep)
}

// Measures writes a set of measures in the trade's order: pressure as a pair,
// then pulse, saturation, breathing and the rest.
func (s Speaker) Measures(m *timeline.Measures) string {
	pressure := ""
	switch {
	case !m.Systolic.IsZero() && !m.Diastolic.IsZero():
		pressure = s.Say("say.pressure", "systolic", s.Number(m.Systolic), "diastolic", s.Number(m.Diastolic))
	case !m.Systolic.IsZero():
		pressure = s.Say("say.systolic", "systolic", s.Number(m.Systolic))
	case !m.Diastolic.IsZero():
		pressure = s.Say("say.diastolic", "diastolic", s.Number(m.Diastolic))
	}
	one := func(key string, a quantity.Amount, text string) string {
		if a.IsZero() {
			return ""
		}
		return s.Say(key, "n", text)
	}
	return join(" · ", pressure,
		join(" ", one("say.pulse", m.Pulse, s.Number(m.Pulse)), Code(s, term.RhythmList, m.Rhythm)),
		one("say.spo2", m.SpO2, s.Number(m.SpO2)),
		one("say.breaths", m.Breaths, s.Number(m.Breaths)),
		one("say.etco2", m.EtCO2, s.Amount(m.EtCO2)),
		one("say.temperature", m.Temperature, s.Amount(m.Temperature)),
		one("say.glucose", m.Glucose, s.Amount(m.Glucose)))
}

// Short writes pressure, pulse, saturation and breathing in the fewest signs,
// for a key that has room for no more; without any of them, all that there is.
func (s Speaker) Short(m *timeline.Measures) string {
	one := func(key string, a quantity.Amount) string {
		if a.IsZero() {
			return ""
		}
		return s.Say(key, "n", s.Number(a))
	}
	pressure := s.Measures(&timeline.Measures{Systolic: m.Systolic, Diastolic: m.Diastolic})
	//word:prefix short.
	text := join(" ", pressure, one("short.pulse", m.Pulse), one("short.spo2", m.SpO2), one("short.breaths", m.Breaths))
	if text == "" {
		return s.Measures(m)
	}
	return text
}

// Signs writes what was seen, each sign with what it is a sign of.
func (s Speaker) Signs(p *timeline.Signs) string {
	return join(" · ",
		Code(s, term.BreathingList, p.Breathing), Code(s, term.EyesList, p.Eyes),
		s.pair("pupils", Code(s, term.PupilsList, p.Pupils)),
		s.pair("lid", Code(s, term.ReflexList, p.Lid)),
		s.pair("cornea", Code(s, term.ReflexList, p.Cornea)),
		s.pair("jaw", Code(s, term.JawList, p.Jaw)),
		s.pair("chest", Code(s, term.ChestList, p.Chest)),
		s.pair("secretion", Code(s, term.SecretionList, p.Secretion)),
		s.pair("movement", Code(s, term.MovementList, p.Movement)),
		s.pair("sweat", Code(s, term.SweatList, p.Sweat)),
		s.pair("tears", Code(s, term.TearsList, p.Tears)),
		s.pair("colour", Code(s, term.ColourList, p.Colour)))
}

// pair names a field before its value.
func (s Speaker) pair(field, value string) string {
	if value == "" {
		return ""
	}
	//word:prefix field.
	return s.Say("say.pair", "field", s.Say("field."+field), "value", value)
}

// Delivery writes a change of agent, oxygen or cover.
func (s Speaker) Delivery(a *timeline.AgentDelivery) string {
	amount := join(" ", s.Amount(a.Drops), s.Amount(a.Percent), Code(s, term.WetnessList, a.Wetness))
	if a.Off {
		amount = s.Say("say.off")
	}
	oxygen, cover, bottle := "", "", ""
	if !a.Oxygen.IsZero() {
		oxygen = s.Say("say.oxygen", "n", s.Amount(a.Oxygen))
	}
	if a.Cover != "" {
		cover = s.Say("say.cover", "state", Code(s, term.CoverList, a.Cover))
	}
	if !a.Bottle.IsZero() {
		bottle = s.Say("say.bottle", "n", s.Amount(a.Bottle))
	}
	return join(" · ", join(" ", Code(s, term.AgentList, a.Agent), amount), bottle, oxygen, cover)
}

// list writes codes in a row.
func list[C ~string](s Speaker, l *term.List[C], cs []C) string {
	var words []string
	for _, c := range cs {
		words = append(words, Code(s, l, c))
	}
	return strings.Join(words, ", ")
}

func (s Speaker) facts(f *timeline.Facts) string {
	weight := ""
	if !f.Weight.IsZero() {
		weight = s.Say("say.weight", "n", s.Amount(f.Weight), "how", Code(s, term.WeightHowList, f.WeightHow), "by", Code(s, term.WeightByList, f.WeightBy))
	}
	return join(" · ", s.Age(f.Age), Code(s, term.SexList, f.Sex), weight, s.pair("length", s.Amount(f.Length)),
		s.pair("asa", s.ASA(f)), s.pair("mallampati", Code(s, term.MallampatiList, f.Mallampati)),
		s.pair("mouth", Code(s, term.MouthOpeningList, f.Mouth)), s.pair("neck", Code(s, term.NeckList, f.Neck)),
		s.pair("teeth", Code(s, term.TeethList, f.Teeth)), s.pair("allergies", list(s, term.AllergyList, f.Allergies)),
		s.pair("side", Code(s, term.SideList, f.Side)), s.pair("side_marked", s.yesNo(f.SideMarked)),
		s.pair("consent", Code(s, term.ConsentByList, f.Consent)), s.pair("haemoglobin", s.Amount(f.Haemoglobin)),
		s.pair("pregnant", s.yesNo(f.Pregnant)), s.pair("with", list(s, term.ConditionList, f.With)),
		s.pair("without", list(s, term.ConditionList, f.Without)), s.history(f))
}

// caseNumber names a case by its number.
func (s Speaker) caseNumber(id string) string {
	if id == "" {
		return ""
	}
	return s.Say("case.number", "n", ShortCase(id))
}

// history writes what was told and found besides.
func (s Speaker) history(f *timeline.Facts) string {
	return join(" · ", s.pair("admission", Code(s, term.AdmissionList, f.Admission)), s.pair("place", Code(s, term.PlaceList, f.Place)),
		s.pair("anaesthetics_before", Code(s, term.EarlierList, f.Before)), s.pair("family", Code(s, term.EarlierList, f.Family)),
		s.pair("takes", list(s, term.TakesList, f.Takes)), s.pair("habits", list(s, term.HabitList, f.Habits)), s.pair("smoker", s.yesNo(f.Smoker)),
		s.pair("sick_before", s.yesNo(f.SickBefore)), s.pair("reflux", s.yesNo(f.Reflux)), s.pair("fitness", Code(s, term.FitnessList, f.Fitness)),
		s.pair("heart", Code(s, term.ExaminedList, f.Heart)), s.pair("lungs", Code(s, term.ExaminedList, f.Lungs)), s.pair("urine", list(s, term.UrineList, f.Urine)),
		s.pair("thyromental", s.Amount(f.Thyromental)), s.pair("nostril_left", Code(s, term.NostrilList, f.NostrilLeft)), s.pair("nostril_right", Code(s, term.NostrilList, f.NostrilRight)),
		s.pair("tests_seen", list(s, term.TestList, f.TestsSeen)), s.pair("marked_by", Code(s, term.RoleList, f.MarkedBy)), s.pair("risks_told", s.yesNo(f.RisksTold)),
		s.pair("assistant", s.yesNo(f.Assistant)), s.pair("warnings", list(s, term.WarningList, f.Warnings)), s.pair("premed_effect", Code(s, term.PremedEffectList, f.PremedEffect)),
		s.pair("premature", s.yesNo(f.Premature)), s.pair("same_as", s.caseNumber(f.SameAs)), s.pair("supervision", Code(s, term.SupervisionList, f.Supervision)),
		s.pair("weight_checked", s.Amount(f.WeightChecked)))
}

// plan writes what is planned.
func (s Speaker) plan(p *timeline.Plan) string {
	return join(" · ", list(s, term.TechniqueList, p.Techniques), Code(s, term.AgentList, p.Agent),
		Code(s, term.OperationList, p.Operation), Code(s, term.AirwayDeviceList, p.Airway), Code(s, term.PositionList, p.Position), s.Date(p.Start),
		s.pair("place", Code(s, term.PlaceList, p.Place)), s.stepTimes(p), s.pair("loss_allowed", s.Amount(p.LossAllowed)), s.pair("fluids", list(s, term.FluidInList, p.Fluids)),
		s.pair("recovery", Code(s, term.WatcherList, p.Recovery)), s.pair("opioids_after", s.yesNo(p.OpioidsAfter)))
}

// stepTimes writes when steps are expected.
func (s Speaker) stepTimes(p *timeline.Plan) string {
	var all []string
	for _, t := range p.Expected() {
		all = append(all, s.Say("say.step-time", "step", Code(s, term.StepList, t.Step), "after", s.Amount(t.After)))
	}
	return strings.Join(all, ", ")
}

// measuredBesides writes what monitors other than the usual ones say.
func (s Speaker) measuredBesides(v *timeline.Vitals) string {
	return join(" · ", s.pair("pressure_by", Code(s, term.PressureByList, v.PressureBy)), s.pair("ecg", Code(s, term.TraceList, v.Trace)),
		s.pair("fio2", s.Number(v.OxygenIn)), s.pair("agent_out", s.Number(v.AgentOut)), s.pair("train_of_four", s.score(v.TrainOfFour)))
}

// ASA writes the class with the E of an emergency.
func (s Speaker) ASA(f *timeline.Facts) string {
	class := Code(s, term.ASAList, f.ASA)
	if class != "" && f.Emergency {
		class += "E"
	}
	return class
}

func (s Speaker) yesNo(v string) string {
	switch v {
	case timeline.Yes:
		return s.Say("say.yes")
	case timeline.No:
		return s.Say("say.no")
	}
	return ""
}

func (s Speaker) score(n *int) string {
	if n == nil {
		return ""
	}
	return strconv.Itoa(*n)
}

// Entry writes what a version of an entry says, in one line.
func (s Speaker) Entry(v *timeline.Version) string {
	text := s.payload(v.Payload)
	private := v.Private()
	if v.Content.Sealed {
		return join(" · ", text, s.Say("seal.words"))
	}
	photo := ""
	if private[timeline.PrivatePhoto] != "" {
		photo = s.Say("say.photo")
	}
	return join(" · ", text, private[timeline.PrivateName], private[timeline.PrivateNumber], private[timeline.PrivateText], photo)
}

func (s Speaker) payload(p timeline.Payload) string {
	switch p := p.(type) {
	case *timeline.CaseOpened:
		return join(" · ", s.Say("kind.case-opened"), Code(s, term.UrgencyList, p.Urgency))
	case *timeline.Outcome:
		return s.Say("say.outcome", "outcome", Code(s, term.OutcomeList, p.Outcome))
	case *timeline.Facts:
		return s.facts(p)
	case *timeline.Intake:
		what := Code(s, term.IntakeList, p.What)
		if p.UnknownTime {
			return s.Say("say.intake-unknown", "what", what)
		}
		return s.Say("say.intake", "what", what)
	case *timeline.Baseline:
		return s.Say("say.baseline", "values", s.Measures(&p.Measures))
	case *timeline.Vitals:
		if !p.LookedSame {
			return join(" · ", s.Measures(&p.Measures), s.measuredBesides(p))
		}
		same, touched := p.Measures, timeline.Measures{Rhythm: p.Rhythm}
		if len(p.Same) > 0 {
			same = timeline.Measures{}
			for _, name := range timeline.MeasureNames {
				to := &touched
				if slices.Contains(p.Same, name) {
					to = &same
				}
				*to.Named(name) = *p.Named(name)
			}
		}
		return join(" · ", s.Measures(&touched), s.Say("say.looked-same", "values", s.Measures(&same)), s.measuredBesides(p))
	case *timeline.Plan:
		return s.Say("say.plan", "plan", s.plan(p))
	case *timeline.Phase:
		if p.Home == timeline.Yes {
			return join(" · ", Code(s, term.PhaseList, p.Phase), s.Say("field.home"))
		}
		return Code(s, term.PhaseList, p.Phase)
	case *timeline.Support:
		return join(" · ", s.Say("say.support", "how", Code(s, term.SupportList, p.Support)), Code(s, term.BreathingSystemList, p.System), s.Amount(p.Tidal), s.Amount(p.Rate))
	case *timeline.Drug:
		return join(" · ", join(" ", s.Drug(p.Drug), s.Amount(p.Dose), Code(s, term.RouteList, p.Route)), s.Amount(p.Strength), s.Amount(p.Volume), p.Batch)
	case *timeline.Infusion:
		return join(" ", s.Drug(p.Drug), Code(s, term.InfusionActList, p.Act), s.Amount(p.Rate), s.Amount(p.Strength), Code(s, term.RouteList, p.Route))
	case *timeline.AgentDelivery:
		return s.Delivery(p)
	case *timeline.Signs:
		return s.Signs(p)
	case *timeline.Block:
		attempts := ""
		if p.Attempts > 0 {
			attempts = strconv.Itoa(p.Attempts)
		}
		return join(" · ", join(" ", Code(s, term.BlockKindList, p.Block), Code(s, term.BlockSiteList, p.Site)),
			s.pair("attempts", attempts), s.pair("height", Code(s, term.BlockHeightList, p.Height)), s.pair("motor", Code(s, term.MotorList, p.Motor)),
			s.pair("needle", Code(s, term.GaugeList, p.Needle)), s.pair("catheter", s.yesNo(p.Catheter)), s.pair("found_by", Code(s, term.FoundByList, p.FoundBy)))
	case *timeline.Airway:
		attempts := ""
		if p.Attempts > 1 {
			attempts = strconv.Itoa(p.Attempts)
		}
		return join(" · ", join(" ", Code(s, term.AirwayDeviceList, p.Device), p.Size.String(), Code(s, term.AirwayActList, p.Act)),
			Code(s, term.AirwayRouteList, p.Route), list(s, term.AirwayNeedList, p.Needed), s.pair("attempts", attempts), s.pair("view", Code(s, term.ViewList, p.View)), s.pair("cuff", s.yesNo(p.Cuff)),
			s.pair("confirmed_by", list(s, term.ConfirmedByList, p.ConfirmedBy)))
	case *timeline.Position:
		eyes, padded := "", ""
		if p.EyesCovered {
			eyes = s.Say("field.eyes_covered")
		}
		if p.Padded {
			padded = s.Say("field.padded")
		}
		treated := ""
		if p.EyesTreated {
			treated = s.Say("field.eyes_treated")
		}
		return join(" · ", Code(s, term.PositionList, p.Position), eyes, treated, padded, list(s, term.LimbList, p.Limbs))
	case *timeline.In:
		return s.Say("say.in", "what", Code(s, term.FluidInList, p.What), "n", s.Amount(p.Volume))
	case *timeline.Out:
		return s.Say("say.out", "what", Code(s, term.FluidOutList, p.What), "n", s.Amount(p.Volume), "how", Code(s, term.MeasuredList, p.How))
	case *timeline.Step:
		return Code(s, term.StepList, p.Step)
	case *timeline.Birth:
		return join(" · ", s.Say("kind.birth"), Code(s, term.SexList, p.Sex), s.Amount(p.Weight),
			s.pair("apgar_1", s.score(p.Apgar1)), s.pair("apgar_5", s.score(p.Apgar5)), s.pair("cried", s.yesNo(p.Cried)))
	case *timeline.Trouble:
		return join(" · ", s.troubleName(p), Code(s, term.TroubleActList, p.Act), s.troubleStep(p))
	case *timeline.Mark:
		if p.Label == "" {
			return s.Say("say.mark")
		}
		return s.Say("say.mark-named", "label", Code(s, term.MarkLabelList, p.Label))
	case *timeline.KitItem:
		return join(" · ", s.KitItem(p), Code(s, term.KitStateList, p.State), Code(s, term.KitAnswerList, p.Answer))
	case *timeline.Stock:
		return s.stock(p)
	case *timeline.Unwatched:
		return s.Say("say.unwatched", "monitor", Code(s, term.MonitorList, p.Monitor), "because", Code(s, term.BecauseList, p.Because))
	case *timeline.Confirmed:
		if p.Withdrawn {
			return s.Say("say.confirmation-withdrawn", "drug", s.Drug(p.Drug), "use", p.Use)
		}
		return s.Say("say.confirmed", "drug", s.Drug(p.Drug), "use", p.Use)
	case *timeline.ClinicKey:
		return s.Say("kind.clinic-key")
	case *timeline.Claimed:
		return s.Say("kind.claimed")
	case *timeline.SetAgreed:
		if p.Withdrawn {
			return s.Say("say.set-withdrawn", "set", s.fastingSet(p.Set))
		}
		return s.Say("say.set-agreed", "set", s.fastingSet(p.Set))
	case *timeline.Pause:
		return join(" · ", s.pauseItem(p.Pause, p.Item), Code(s, term.PauseAnswerList, p.Answer))
	case *timeline.Stomach:
		what := Code(s, term.SlowStomachList, p.By)
		if p.UnknownTime {
			return s.Say("say.intake-unknown", "what", what)
		}
		return what
	case *timeline.Team:
		return Code(s, term.RoleList, p.Role)
	case *timeline.Consulted:
		return join(" ", Code(s, term.AdviserList, p.Adviser), Code(s, term.AdviceList, p.Advice))
	case *timeline.FollowUp:
		return join(" · ", s.Say("kind.follow-up"), s.question(p.Question), s.followed(p))
	case *timeline.Handover:
		return join(" · ", s.Say("kind.handover"), Code(s, term.WatcherList, p.To))
	case *timeline.Depth:
		return s.depthKept(p)
	case *timeline.Access:
		out, attempts := "", ""
		if p.Out {
			out = s.Say("field.out")
		}
		if p.Attempts > 0 {
			attempts = strconv.Itoa(p.Attempts)
		}
		return join(" · ", join(" ", s.Say("kind.access"), Code(s, term.AccessSiteList, p.Site), Code(s, term.GaugeList, p.Gauge), out), s.pair("attempts", attempts))
	case *timeline.AttachedTo:
		off := ""
		if p.Off {
			off = s.Say("say.off")
		}
		return join(" ", list(s, term.AttachedList, p.What), off)
	case *timeline.Monitors:
		return join(" · ", s.pair("monitors", list(s, term.MonitorList, p.On)), s.pair("alarms", s.yesNo(p.Alarms)))
	case *timeline.Performed:
		return join(" · ", s.Say("kind.performed"), Code(s, term.OperationList, p.Operation), list(s, term.TechniqueList, p.Techniques), s.pair("as_planned", s.yesNo(p.AsPlanned)))
	case *timeline.Watch:
		return s.Say("say.watch", "who", Code(s, term.WatcherList, p.Watcher))
	case *timeline.Owed:
		return s.Say("say.owed", "act", Code(s, term.OwedActList, p.Act), "for", Code(s, term.OwedList, p.For))
	case *timeline.Waking:
		total := ""
		if n, ok := p.Sum(); ok {
			total = s.Say("say.waking", "n", n)
		} else if p.Scored() {
			total = s.Say("say.waking-part")
		}
		return join(" · ", total, s.pair("activity", s.score(p.Activity)), s.pair("respiration", s.score(p.Respiration)),
			s.pair("circulation", s.score(p.Circulation)), s.pair("consciousness", s.score(p.Consciousness)), s.pair("oxygen", s.score(p.Oxygen)),
			s.pair("pain", s.score(p.Pain)), s.pair("nausea", s.score(p.Nausea)), s.pair("steady", s.yesNo(p.Steady)), s.pair("confused", s.yesNo(p.Confused)), s.pair("met", criteria(s.Tag(), p.Met)), s.pair("not_met", criteria(s.Tag(), p.NotMet)))
	case *timeline.IdentityDestroyed:
		text := s.Say("say.destroyed", "grounds", Code(s, term.GroundsList, p.Grounds))
		if p.Asked != "" {
			text += s.Say("say.destroyed-asked", "who", Code(s, term.AskedByList, p.Asked))
		}
		return text
	case *timeline.Unknown:
		return s.Say("say.unknown", "kind", string(p.As))
	}
	return s.KindName(p.Kind())
}

// KitItem gives the name of an item of an equipment list, from the list as it
// was when it was looked at; one that no list here holds is written as its
// code.
func (s Speaker) KitItem(p *timeline.KitItem) string {
	if l, ok := versions.Load(p.Version); ok {
		if it := l.(*kit.List).Known(p.Item); it != nil {
			return it.Name.In(s.Tag())
		}
	}
	if lists, err := kit.Builtin(); err == nil {
		for _, l := range lists {
			if it := l.Known(p.Item); it != nil && l.Code == p.List {
				return it.Name.In(s.Tag())
			}
		}
	}
	return strings.ReplaceAll(p.Item, "-", " ")
}

// State writes what is being given to breathe.
func (s Speaker) State(d Delivery) string {
	agent := ""
	if d.Agent != "" {
		agent = join(" ", Code(s, term.AgentList, d.Agent), s.Amount(d.Drops), s.Amount(d.Percent), Code(s, term.WetnessList, d.Wetness))
	} else if !d.Since.IsZero() {
		agent = s.Say("say.agent-off")
	}
	oxygen, cover := "", ""
	if !d.Oxygen.IsZero() {
		oxygen = s.Say("say.oxygen", "n", s.Amount(d.Oxygen))
	}
	if d.Cover != "" {
		cover = s.Say("say.cover", "state", Code(s, term.CoverList, d.Cover))
	}
	return join(" · ", agent, cover, oxygen)
}

// Balance writes the sums of what went in and came out, in mL.
func (s Speaker) Balance(cs *Case) string {
	if cs.In.IsZero() && cs.Lost.IsZero() {
		return ""
	}
	// A sum that nothing was added to is written as nothing, in mL.
	none := quantity.MustParse("0 mL")
	in, out := sum(cs.In, none), sum(cs.Lost, none)
	return s.Say("say.balance", "in", s.Amount(in), "lost", s.Amount(out))
}
