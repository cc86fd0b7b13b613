package plain

import (
	"fmt"
	"io"
	"iter"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"chinlift/core"
	"chinlift/core/timeline"
)

// Table is one CSV file: a head, and rows that are made as they are written,
// so that memory stays flat however many cases there are.
type Table struct {
	Name   string // "vitals": the file is vitals.csv
	Header []string
	rows   func(cases iter.Seq2[CaseStory, error], private bool) iter.Seq2[[]string, error]
}

// CaseStory is one folded case, with the people whom it names.
type CaseStory struct {
	ID      string
	Story   *timeline.Story
	Persons map[string]*timeline.Entry
	Stand   func(*timeline.Entry, *timeline.Version) (core.Stand, error) // how a dose stands to the dose rules
}

// WriteCSV writes a table by RFC 4180: comma, CRLF, a head row. A cell that a
// spreadsheet would take for a formula gets an apostrophe before it; see
// defuse.
func WriteCSV(w io.Writer, t Table, cases iter.Seq2[CaseStory, error], private bool) error {
	b := appendRow(nil, t.Header)
	for row, err := range t.rows(cases, private) {
		if err != nil {
			return err
		}
		if b = appendCells(b, row); len(b) >= csvBuffer {
			if _, err := w.Write(b); err != nil {
				return err
			}
			b = b[:0]
		}
	}
	_, err := w.Write(b)
	return err
}

// csvBuffer is how many bytes are written at a time.
const csvBuffer = 64 << 10

// appendCells is appendRow for what comes from the record.
func appendCells(b []byte, row []string) []byte {
	for i, cell := range row {
		row[i] = defuse(cell)
	}
	return appendRow(b, row)
}

// appendRow is not encoding/csv, whose writer changes line breaks inside a cell
// when it ends rows with CRLF, and loses a carriage return that stands alone.
func appendRow(b []byte, row []string) []byte {
	for i, cell := range row {
		if i > 0 {
			b = append(b, ',')
		}
		b = appendCell(b, cell)
	}
	return append(b, "\r\n"...)
}

// appendCell puts quotes where the sqlite3 program puts them, which is wherever
// a cell has more than plain ASCII, a space, a comma or either quote: so the
// same rows are the same bytes.
func appendCell(b []byte, cell string) []byte {
	plain, quotes := true, false
	for i := range len(cell) {
		switch c := cell[i]; {
		case c == '"':
			plain, quotes = false, true
		case c <= ' ' || c >= 0x7f || c == ',' || c == '\'':
			plain = false
		}
	}
	if plain {
		return append(b, cell...)
	}
	b = append(b, '"')
	if !quotes {
		return append(append(b, cell...), '"')
	}
	for i := range len(cell) {
		if cell[i] == '"' {
			b = append(b, '"')
		}
		b = append(b, cell[i])
	}
	return append(b, '"')
}

// formulaStarts are the characters at the beginning of a cell that make some
// spreadsheet take it for a formula (OWASP, CSV Injection; the line feed and
// the wide forms from memory), and the apostrophe, which undoes it.
const formulaStarts = "=+-@\t\r\n＝＋－＠'"

// negative is the only number that begins as a formula does.
var negative = regexp.MustCompile(`^-[0-9]+(\.[0-9]+)?$`)

// defuse puts an apostrophe before a text that begins as a formula does. A
// number stays a number. A text that begins with an apostrophe gets another
// one, so that taking away the first always gives the text back.
func defuse(cell string) string {
	if cell == "" || cell[0] >= '0' && cell[0] <= '~' && cell[0] != '=' && cell[0] != '@' {
		return cell // most of them
	}
	first, _ := utf8.DecodeRuneInString(cell)
	if !strings.ContainsRune(formulaStarts, first) || negative.MatchString(cell) {
		return cell
	}
	return "'" + cell
}

// Tables lists the tables.
func Tables() []Table {
	return []Table{
		{"vitals", append(slices.Clone(versionHeader), measureHeader()...), vitalsRows},
		{"drugs", append(slices.Clone(versionHeader), drugHeader...), drugRows},
		{eventsTable, eventHeader, eventRows},
		{"cases", caseHeader(), caseRows},
		{logbookTable, logbookHeader, logbookRows},
	}
}

// versionHeader begins every row that is one version of one entry.
var versionHeader = []string{"case", "entry", "version", "kind", "at", "entered", "author", "reason", "standing", "superseded_by"}

var drugHeader = []string{"what", "name", "amount", "amount_unit", "route", "strength", "strength_unit", "volume", "volume_unit",
	"act", "run", "percent", "percent_unit", "wetness", "oxygen", "oxygen_unit", "cover", "bottle", "bottle_unit", "how", "batch", "use", "rule", "confirmed", "not_judged", "judged_late"}

// The values of the column standing.
const (
	standingCurrent    = "current"
	standingSuperseded = "superseded" // a later version stands
	standingStruck     = "struck"     // struck out; it is the last version
	standingMoved      = "moved"      // belongs to another case now
	standingDisputed   = "disputed"   // a head that does not stand: two corrections conflict
	standingWaiting    = "waiting"    // a correction whose entry is not here
	standingAside      = "set-aside"  // claims a number or an id that another line claims
)

// standing says how a version stands in a case, and which line replaced it:
// the first that names it. The root is replaced by any correction at all; see
// timeline.Fold.
func standing(e *timeline.Entry, i int, caseID string) (state, by string) {
	v, later := &e.Versions[i], e.Versions[i+1:]
	j := slices.IndexFunc(later, func(n timeline.Version) bool { return slices.Contains(n.Line.Event.Replaces, v.Line.Event.ID) })
	if j < 0 && i == 0 && len(later) > 0 {
		j = 0
	}
	if j >= 0 {
		by = later[j].Line.Event.ID
	}
	switch now := e.Now(); {
	case by != "":
		return standingSuperseded, by
	case v != now:
		return standingDisputed, ""
	case now.Case != caseID:
		return standingMoved, ""
	case now.Struck:
		return standingStruck, ""
	}
	return standingCurrent, ""
}

// versionsOf walks the versions that carry content of the cases' entries, with
// the columns that begin a row. An entry stands in the table of every case
// that it ever belonged to.
func versionsOf(cases iter.Seq2[CaseStory, error], row func(c *CaseStory, e *timeline.Entry, v *timeline.Version) ([]string, error)) iter.Seq2[[]string, error] {
	return func(yield func([]string, error) bool) {
		for c, err := range cases {
			if err != nil {
				yield(nil, err)
				return
			}
			for _, e := range inEntryOrder(c.Story.About(c.ID)) {
				for i := range e.Versions {
					v := &e.Versions[i]
					rest, err := row(&c, e, v)
					if err != nil {
						yield(nil, err)
						return
					}
					if rest == nil {
						continue
					}
					state, by := standing(e, i, c.ID)
					head := []string{c.ID, e.ID, v.Line.Event.ID, string(v.Line.Event.Kind), stamp(v.At), stamp(v.Line.Event.Entered.Wall),
						v.Line.Event.Author, string(v.Line.Event.Reason), state, by}
					if !yield(append(head, rest...), nil) {
						return
					}
				}
			}
		}
	}
}

func inEntryOrder(es []*timeline.Entry) []*timeline.Entry {
	es = slices.Clone(es)
	slices.SortFunc(es, func(a, b *timeline.Entry) int {
		if a.Root().Event.Before(&b.Root().Event) {
			return -1
		}
		return 1
	})
	return es
}

// stamp is a time as RFC 3339, which spreadsheets and databases read; the
// zone's name is in the JSON lines.
func stamp(m timeline.Moment) string {
	if m.IsZero() {
		return ""
	}
	m.Zone = ""
	return m.String()
}

// pair gives value and unit of an amount, which is written "110 mm[Hg]".
func pair(amount fmt.Stringer) []string {
	value, unit, _ := strings.Cut(amount.String(), " ")
	return []string{value, unit}
}

func measureHeader() []string {
	var h []string
	for _, n := range timeline.MeasureNames {
		h = append(h, n, n+"_unit")
	}
	return append(h, "rhythm", "looked_same", "at_rest")
}

func vitalsRows(cases iter.Seq2[CaseStory, error], _ bool) iter.Seq2[[]string, error] {
	return versionsOf(cases, func(_ *CaseStory, _ *timeline.Entry, v *timeline.Version) ([]string, error) {
		var m *timeline.Measures
		same, rest := "", ""
		switch p := v.Payload.(type) {
		case *timeline.Vitals:
			m = &p.Measures
			if same = yes(p.LookedSame); len(p.Same) > 0 {
				same = strings.Join(p.Same, " ")
			}
		case *timeline.Baseline:
			m, rest = &p.Measures, timeline.Yes
		default:
			return nil, nil
		}
		var row []string
		for _, n := range timeline.MeasureNames {
			row = append(row, pair(*m.Named(n))...)
		}
		return append(row, string(m.Rhythm), same, rest), nil
	})
}

func yes(b bool) string {
	if b {
		return timeline.Yes
	}
	return ""
}

func drugRows(cases iter.Seq2[CaseStory, error], _ bool) iter.Seq2[[]string, error] {
	return versionsOf(cases, func(c *CaseStory, e *timeline.Entry, v *timeline.Version) ([]string, error) {
		row := map[string]string{}
		amount := func(name string, a fmt.Stringer) {
			p := pair(a)
			row[name], row[name+"_unit"] = p[0], p[1]
		}
		stand := func(rule *timeline.Suggested) error {
			st, err := c.Stand(e, v)
			if err != nil || !st.Dose {
				return err
			}
			if rule != nil {
				row["use"], row["rule"], row["confirmed"] = rule.Use, string(rule.Rule), timeline.No
				if st.Sure {
					row["confirmed"] = timeline.Yes
				}
			}
			row["not_judged"] = string(st.Why)
			switch {
			case st.Late == nil:
			case st.Late.Over:
				row["judged_late"] = "over"
			default:
				row["judged_late"] = "within"
			}
			return nil
		}
		switch p := v.Payload.(type) {
		case *timeline.Drug:
			row["what"], row["name"], row["route"], row["batch"] = "drug", p.Drug, string(p.Route), p.Batch
			amount("amount", p.Dose)
			amount("strength", p.Strength)
			amount("volume", p.Volume)
			if err := stand(p.Frozen); err != nil {
				return nil, err
			}
		case *timeline.Infusion:
			row["what"], row["name"], row["route"], row["act"], row["run"] = "infusion", p.Drug, string(p.Route), string(p.Act), p.Run
			amount("amount", p.Rate)
			amount("strength", p.Strength)
			if err := stand(p.Frozen); err != nil {
				return nil, err
			}
		case *timeline.AgentDelivery:
			row["what"], row["name"], row["wetness"], row["cover"] = "agent", string(p.Agent), string(p.Wetness), string(p.Cover)
			amount("amount", p.Drops)
			amount("percent", p.Percent)
			amount("oxygen", p.Oxygen)
			amount("bottle", p.Bottle)
			if p.Off {
				row["act"] = "off"
			}
		case *timeline.In:
			row["what"], row["name"] = "in", string(p.What)
			amount("amount", p.Volume)
		case *timeline.Out:
			row["what"], row["name"], row["how"] = "out", string(p.What), string(p.How)
			amount("amount", p.Volume)
		default:
			return nil, nil
		}
		cells := make([]string, len(drugHeader))
		for i, name := range drugHeader {
			cells[i] = row[name]
		}
		return cells, nil
	})
}

func caseHeader() []string {
	h := []string{"case", "patient", "opened", "urgency", "techniques", "agent", "operation", "asa", "emergency", "age", "age_unit", "sex", "weight", "weight_unit", "weight_how", "weight_by", "side"}
	for _, p := range core.PhaseNames {
		h = append(h, strings.ReplaceAll(p, "-", "_"))
	}
	return append(h, "outcome", "closed", "entries", "conflicts", "waiting", "set_aside", "name", "number", "operation_text")
}

// privateCells gives name, record number and the words for the operation, in
// the columns that end a case's row; empty unless they were asked for.
func privateCells(c CaseStory, cs *core.Case, private bool) []string {
	if !private {
		return []string{"", "", ""}
	}
	number := ""
	if e := c.Persons[cs.Patient]; e != nil {
		number = e.Now().Private()[timeline.PrivateNumber]
	}
	return []string{cs.Name(cs.Patient), number, cs.PlanText}
}

func caseRows(cases iter.Seq2[CaseStory, error], private bool) iter.Seq2[[]string, error] {
	return func(yield func([]string, error) bool) {
		for c, err := range cases {
			if err != nil {
				yield(nil, err)
				return
			}
			cs := core.CaseOf(c.ID, c.Story, c.Persons)
			f := &cs.Facts
			row := []string{c.ID, cs.Patient, stamp(cs.Opened), string(cs.Urgency), codes(cs.Plan.Techniques), string(cs.Plan.Agent), string(cs.Plan.Operation),
				string(f.ASA), yes(f.Emergency)}
			row = append(append(append(row, pair(f.Age)...), string(f.Sex)), pair(f.Weight)...)
			row = append(row, string(f.WeightHow), string(f.WeightBy), string(f.Side))
			began := map[string]timeline.Moment{}
			for p, at := range cs.Phases {
				began[string(p)] = at
			}
			for _, p := range core.PhaseNames {
				row = append(row, stamp(began[p]))
			}
			conflicts := 0
			for _, e := range cs.Entries {
				if e.Conflict() {
					conflicts++
				}
			}
			row = append(row, string(cs.Outcome), yes(cs.Closed), strconv.Itoa(len(cs.Entries)), strconv.Itoa(conflicts), strconv.Itoa(len(c.Story.Waiting)), strconv.Itoa(len(c.Story.Aside)))
			if !yield(append(row, privateCells(c, cs, private)...), nil) {
				return
			}
		}
	}
}
