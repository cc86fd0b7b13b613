package core

import (
	"io"
	"strconv"
	"time"

	"chinlift/core/kit"
	"chinlift/core/quantity"
	"chinlift/core/record"
	"chinlift/core/term"
	"chinlift/core/word"
)

// paperVersion numbers the paper form, and paperMade dates it: a form that was
// filled in says by which of them it is read. Both change with its layout.
const paperVersion = 1

var paperMade = time.Date(2026, 11, 25, 0, 0, 0, 0, time.UTC)

// paperKit is the equipment list whose stops the paper form has.
const paperKit = "open-drop"

// PaperForm writes the empty record as PDF, front and back of one sheet, to be
// printed beforehand and written on when the phone is dead. It is the same
// bytes on every day, and names nobody.
func (c *Companion) PaperForm(w io.Writer, size record.PaperSize) error {
	b, err := Paper(c.words)
	if err != nil {
		return err
	}
	return record.Form(w, b, record.FormPaper{Made: paperMade, Size: size})
}

// Paper gives what the paper form has on it, in the words of the screens:
// what can be ticked is what can be tapped, and where a number stands for a
// choice it is its place in the list.
//
// What it asks for follows the statement on documentation of anaesthesia care
// of the American Society of Anesthesiologists (2003, amended 2023) and the
// guideline on the anaesthesia record of the Australian and New Zealand
// College of Anaesthetists (PS06, 2006); of both, what concerns the time after
// the start is from memory. The items of waking are those of Aldrete, Journal
// of Clinical Anesthesia 1995;7:89.
func Paper(words *word.Book) (*record.Blank, error) {
	p := paper{Speaker{words}}
	stops, err := p.stops()
	if err != nil {
		return nil, err
	}
	return &record.Blank{
		Title:   p.Say("paper.title"),
		Version: p.Say("paper.version", "n", paperVersion),
		Page:    p.Say("record.page", "n", "{n}", "m", "{m}"),
		Front:   p.front(stops),
		Back:    p.back(),
	}, nil
}

type paper struct{ Speaker }

func (p paper) stops() ([]string, error) {
	lists, err := kit.Builtin()
	if err != nil {
		return nil, err
	}
	var names []string
	for _, l := range lists {
		for _, it := range l.Items {
			if l.Code == paperKit && it.Stop {
				names = append(names, it.Name.In(p.Tag()))
			}
		}
	}
	return names, nil
}

// every gives the words of all codes of a list.
func every[C ~string](p paper, l *term.List[C]) []string {
	var all []string
	for _, c := range l.Codes() {
		all = append(all, Code(p.Speaker, l, c))
	}
	return all
}

func (p paper) field(name string) string { return p.Say("field." + name) }

// to is a cell to write in.
func to(label string, share float64) record.Cell { return record.Cell{Label: label, Share: share} }

func (p paper) in(u quantity.Unit, label string, share float64) record.Cell {
	return record.Cell{Label: label, Share: share, Unit: p.UnitOf(u)}
}

func (p paper) yesNo() []string { return []string{p.Say("say.yes"), p.Say("say.no")} }

// whose is the head of both sides, so that a copy of one finds its way back.
func (p paper) whose() record.Line {
	return record.Line{Cells: []record.Cell{
		to(p.field("name"), 5.2), to(p.field("number"), 2.6), to(p.Say("paper.case"), 2), to(p.Say("paper.date"), 2.2),
		to(p.Say("paper.ward"), 2), to(p.Say("paper.sheet"), 1.5),
	}}
}

func (p paper) front(stops []string) []record.Part {
	intake := record.Line{Head: p.Say("paper.intake")}
	for _, c := range term.IntakeList.Codes() {
		intake.Cells = append(intake.Cells, to(Code(p.Speaker, term.IntakeList, c), 1))
	}
	phases := record.Line{Head: p.Say("paper.phases")}
	for _, w := range every(p, term.PhaseList) {
		phases.Cells = append(phases.Cells, to(w, 1))
	}
	ask := func(label string, choices []string) record.Question {
		return record.Question{Label: label, Choices: choices}
	}
	return []record.Part{
		p.whose(),
		record.Line{Cells: []record.Cell{
			to(p.field("operation"), 5), to(Code(p.Speaker, term.RoleList, term.RoleSurgeon), 3),
			to(Code(p.Speaker, term.RoleList, term.RoleProvider), 3), to(Code(p.Speaker, term.RoleList, term.RoleAssistant), 3),
		}},
		record.Line{Cells: []record.Cell{
			to(p.field("age"), 1.6), p.in(quantity.Kg, p.field("weight"), 1.8),
			p.in(quantity.GPerDL, p.field("haemoglobin"), 2.1),
			p.in(quantity.MmHg, p.Say("paper.rest", "what", p.Say("paper.pressure")), 2.9),
			p.in(quantity.PerMin, p.Say("paper.rest", "what", p.field("pulse")), 2),
			p.in(quantity.Percent, p.Say("paper.rest", "what", p.field("spo2")), 1.9),
		}},
		record.Ticks{Questions: []record.Question{
			ask(p.field("weight"), every(p, term.WeightHowList)), ask(p.Say("paper.how"), every(p, term.WeightByList)),
			ask(p.field("sex"), every(p, term.SexList)), ask(p.field("pregnant"), p.yesNo()),
			ask(p.field("side"), every(p, term.SideList)), ask(p.field("side_marked"), p.yesNo()),
			ask(p.field("urgency"), every(p, term.UrgencyList)),
			ask(p.field("asa"), append(every(p, term.ASAList), p.field("emergency"))),
			ask(p.field("consent"), every(p, term.ConsentByList)),
			ask(p.field("mallampati"), every(p, term.MallampatiList)), ask(p.field("mouth"), every(p, term.MouthOpeningList)),
			ask(p.field("neck"), every(p, term.NeckList)), ask(p.field("teeth"), every(p, term.TeethList)),
			ask(p.field("allergies"), every(p, term.AllergyList)),
			ask(p.field("techniques"), every(p, term.TechniqueList)), ask(p.field("position"), every(p, term.PositionList)),
		}},
		record.Line{Cells: []record.Cell{
			to(p.Say("paper.allergies"), 3), to(p.Say("paper.heart"), 3), to(p.Say("paper.lungs"), 3), to(p.Say("paper.urine"), 2),
		}},
		intake,
		record.Line{Head: p.Say("paper.premedication"), Cells: []record.Cell{
			to(p.field("at"), 2), to(p.field("drug"), 5), to(p.field("dose"), 2.2), to(p.Say("paper.unit"), 2.2), to(p.field("route"), 2.6), to(p.field("by"), 3),
		}},
		record.Ticks{Questions: []record.Question{ask(p.Say("paper.kit"), stops)}},
		phases,
		p.grid(),
		record.Glossary{{Label: p.field("agent"), Words: every(p, term.AgentList)}, {Label: p.Say("kind.in"), Words: every(p, term.FluidInList)}},
	}
}

func (p paper) grid() record.Grid {
	ml, measured := p.UnitOf(quantity.ML), every(p, term.MeasuredList)
	row := func(name string, u quantity.Unit) record.GridRow {
		return record.GridRow{Label: p.field(name), Unit: p.UnitOf(u)}
	}
	return record.Grid{
		Time: p.Say("paper.times"), Axis: p.Say("record.axis"),
		Systolic: p.field("systolic"), Diastolic: p.field("diastolic"), Pulse: p.field("pulse"),
		Keys: []record.Key{
			{Label: p.Say("kind.support"), Words: every(p, term.SupportList)},
			{Label: p.field("eyes"), Words: every(p, term.EyesList)},
			{Label: p.field("pupils"), Words: every(p, term.PupilsList)},
		},
		Rows: []record.GridRow{
			row("spo2", quantity.Percent),
			row("breaths", quantity.PerMin),
			{Label: p.Say("kind.support")},
			{Label: p.Say("paper.eyes-pupils")},
			row("temperature", quantity.Cel),
			{Label: p.field("agent"), Named: true, Choices: []string{p.UnitOf(quantity.DropsPerMin), p.UnitOf(quantity.Percent)}},
			row("oxygen", quantity.LPerMin),
			{Label: p.Say("kind.in"), Unit: ml, Named: true},
			{Label: Code(p.Speaker, term.FluidOutList, term.FluidOutBlood), Unit: ml, Choices: measured},
			{Label: Code(p.Speaker, term.FluidOutList, term.FluidOutUrine), Unit: ml, Choices: measured},
		},
	}
}

func (p paper) back() []record.Part {
	column := func(label string, share float64) record.Column { return record.Column{Label: label, Share: share} }
	ask := func(label string, choices []string) record.Question {
		return record.Question{Label: label, Choices: choices}
	}
	waking := record.Table{Title: p.Say("shell.waking"), Rows: 5, Columns: []record.Column{column(p.field("at"), 15)}}
	for _, name := range []string{"activity", "respiration", "circulation", "consciousness", "oxygen"} {
		c := record.Column{Label: p.field(name), Share: 25}
		for n := 2; n >= 0; n-- {
			//word:prefix waking.
			c.Keys = append(c.Keys, strconv.Itoa(n)+" "+p.Say("waking."+name+"."+strconv.Itoa(n)))
		}
		waking.Columns = append(waking.Columns, c)
	}
	waking.Columns = append(waking.Columns, column(join(" ", p.field("spo2"), p.UnitOf(quantity.Percent)), 11),
		column(p.Say("paper.pressure"), 16), column(p.field("pulse"), 11), column(p.Say("paper.pain"), 11))
	return []record.Part{
		p.whose(),
		record.Table{Title: p.Say("field.drugs") + ": " + p.Say("paper.units"), Rows: 7, Grows: true, Columns: []record.Column{
			column(p.field("at"), 15), column(p.field("drug"), 60), column(p.field("dose"), 24), column(p.Say("paper.unit"), 25),
			column(p.field("route"), 36), column(p.field("by"), 34),
		}},
		record.Glossary{{Label: p.field("route"), Words: every(p, term.RouteList)}},
		record.Ticks{Questions: []record.Question{
			ask(p.field("airway"), every(p, term.AirwayDeviceList)), ask(p.field("route"), every(p, term.AirwayRouteList)),
			ask(p.field("view"), every(p, term.ViewList)), ask(p.field("needed"), every(p, term.AirwayNeedList)),
			ask(p.field("block"), every(p, term.BlockKindList)), ask(p.field("site"), every(p, term.BlockSiteList)),
			ask(p.field("motor"), every(p, term.MotorList)),
		}},
		record.Line{Cells: []record.Cell{
			to(p.Say("paper.airway-time", "what", Code(p.Speaker, term.AirwayActList, term.AirwayActIn)), 2),
			to(p.Say("paper.airway", "what", p.field("size")), 2),
			to(p.Say("paper.airway", "what", p.field("attempts")), 2),
			to(p.Say("paper.airway-time", "what", Code(p.Speaker, term.AirwayActList, term.AirwayActOut)), 2),
			to(p.Say("paper.block", "what", p.field("at")), 2),
			to(p.Say("paper.block", "what", p.field("attempts")), 2),
			to(p.Say("paper.block", "what", p.field("height")), 2),
		}},
		record.Beside{Share: 0.55,
			Left: record.Table{Title: p.Say("paper.events"), Rows: 7, Columns: []record.Column{
				column(p.field("at"), 15), column(p.field("text"), 88)}},
			Right: record.Ticks{Columns: 2, Questions: []record.Question{ask(p.Say("paper.complications"), every(p, term.TroubleList))}},
		},
		record.Line{Head: Code(p.Speaker, term.RoleList, term.RoleNewborn), Cells: []record.Cell{
			to(p.field("at"), 2), {Label: p.field("sex"), Choices: every(p, term.SexList)}, p.in(quantity.G, p.field("weight"), 2),
			{Label: p.field("cried"), Choices: p.yesNo()},
			to(p.field("apgar_1"), 1.6), to(p.field("apgar_5"), 1.6), to(p.Say("paper.apgar-10"), 1.6),
		}},
		waking,
		record.Line{Cells: []record.Cell{
			to(p.Say("paper.handed-over"), 4), to(p.field("at"), 1.6),
			{Label: p.field("outcome"), Choices: every(p, term.OutcomeList)}, to(p.Say("paper.signed"), 3),
		}},
		record.Line{Head: p.Say("paper.typed"), Cells: []record.Cell{
			to(p.field("by"), 4), to(p.Say("paper.date"), 3), to(p.field("at"), 2), to(p.Say("paper.case"), 3),
		}},
		record.Note{Text: p.Say("paper.caution")},
	}
}
